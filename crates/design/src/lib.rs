//! The checked, immutable model of a whole machine, and the reading of it from text.
//!
//! One flow: files ([`text::source::Sources`]) → trees → [`read::read`] → [`model::Design`].
//! If a `Design` exists it is complete and consistent; it holds no numeric results.

mod bench;
mod block;
mod board;
pub mod catalogue;
mod circuit;
mod drive;
mod duty;
mod flatten;
mod include;
mod interface;
mod kinds;
pub mod logic;
mod lots;
mod marks;
pub mod model;
mod parts;
pub mod place;
mod places;
mod placing;
mod problems;
mod rails;
pub mod read;
mod sentence;
mod strings;
pub mod substitute;
mod temperature;
mod tube;
mod values;
pub mod wiring;
mod words;
