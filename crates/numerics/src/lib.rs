//! Numerical kernels: sparse and small dense systems, Newton's method, eigenvalues, least squares, largest values over a box.
//!
//! Invariants: no physics, no names, no units. Every function is pure over slices: nothing here reads a file, a clock or
//! an environment, draws random numbers, prints, or keeps anything between calls but the buffers it was given. All work
//! is bounded, and no values a caller can pass (zeros, infinities, not a number) make a kernel panic or hang; only slices
//! of the wrong length do panic. What repeats in a loop (refactor, solve) allocates nothing.

pub mod corner;
pub mod dense;
pub mod eigen;
pub mod lanes;
pub mod least_squares;
pub mod lu;
pub mod newton;
pub mod sparse;
