//! The program and all it says, run as its user runs it or judged through its libraries.
#![allow(clippy::unwrap_used, reason = "a test fails where it unwraps")]

mod bad_input;
mod choosing;
mod commands;
mod corners;
mod designs;
mod drawings;
mod gallery;
mod guide;
mod lots;
mod marginal;
mod messages;
mod parts;
mod planning;
mod program;
mod shelf;
mod welcome;
mod work;
mod yields;
