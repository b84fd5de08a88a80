//! What is timed by `cargo bench --manifest-path benchmarks/Cargo.toml`, and against what; see docs/performance.md.
//!
//! A benchmark is no test: nothing here depends on a clock to pass, and nothing else of the project depends on it.

pub mod by_library;
pub mod cell;
pub mod machine;
pub mod ratios;
pub mod thread_time;
