//! The checked, immutable model of a whole machine, and the reading of it from text.
//!
//! One flow: files ([`text::source::Sources`]) → trees → [`read::read`] → [`model::Design`].
//! If a `Design` exists it is complete and consistent; it holds no numeric results.

pub mod logic;
pub mod model;
pub mod read;
