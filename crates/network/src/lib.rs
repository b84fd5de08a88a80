//! From a design to its volts: equations, operating points, levels, loads, ratings, heaters, and the verdict.
//!
//! One flow: [`wiring`] (nodes and elements with names) → [`equations`] (ideal sources eliminated, pattern analysed) →
//! [`solve`] (operating points) → [`stability`] and [`scan`] (every solution of a bistable).

pub mod element;
pub mod equations;
pub mod finding;
pub mod heaters;
pub mod judge;
pub mod levels;
pub mod plan;
pub mod ratings;
pub mod rows;
pub mod scan;
pub mod scene;
pub mod solve;
pub mod stability;
pub mod transfer;
pub mod wiring;
