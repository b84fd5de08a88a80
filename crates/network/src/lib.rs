//! From a design to its volts: equations, operating points, levels, loads, ratings, heaters, and the verdict.
//!
//! One flow: [`wiring`] (nodes and elements with names) → [`equations`] (ideal sources eliminated, pattern analysed) →
//! [`solve`] (operating points) → [`stability`] and [`scan`] (every solution of a bistable).

mod adjoint;
mod basic;
pub mod bench;
mod cause;
pub mod change;
pub mod connections;
pub mod delay;
pub mod duty;
pub mod element;
pub mod ensemble;
pub mod equations;
pub mod fan;
pub mod feeders;
pub mod finding;
pub mod function;
pub mod heaters;
pub mod judge;
mod level_findings;
pub mod levels;
pub mod loops;
pub mod margins;
pub mod parts;
pub mod plan;
pub mod planning;
pub mod power;
pub mod preferred;
mod probe;
pub mod proof;
pub mod rail_states;
pub mod rails;
pub mod ratings;
pub mod rows;
pub mod safety;
pub mod scan;
pub mod scene;
pub mod solve;
pub mod stability;
mod storing;
pub mod substitution;
pub mod surroundings;
pub mod switch_on;
pub mod transfer;
pub mod variation;
pub mod verdict;
pub mod wiring;
pub mod work;
