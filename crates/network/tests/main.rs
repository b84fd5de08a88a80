//! Networks solved, gates judged: against networks solved independently, by counted work, and with wild input.
#![allow(clippy::unwrap_used, reason = "a test fails where it unwraps")]

mod alike;
mod beyond;
mod bleeders;
mod choosing;
mod duties;
mod ensemble;
mod gathering;
mod judging;
mod marginal;
mod margins;
mod planning;
mod rail_states;
mod random_circuits;
mod reference;
mod solving;
mod strings;
mod supplies;
mod switching_on;
mod tallies;
mod trials;
mod typed;
mod verdicts;
mod warmth;
mod wild_designs;
mod worst_parts;
mod yields;
