//! Text as the builder types it: sources, places in them, what there is to say about them,
//! the lossless reader of the design language, its formatter, and quantities as the trade writes them.
//!
//! Knows nothing of tubes or circuits: a file is read into [`tree::Tree`], headings with indented lines
//! below them; what the words mean is decided in the `design` and `devices` crates.

pub mod catalogue;
pub mod diagnostic;
pub mod edit;
pub mod format;
mod layout;
mod lex;
pub mod nearest;
pub mod quantity;
#[cfg(test)]
mod samples;
pub mod source;
pub mod tree;
