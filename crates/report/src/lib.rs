//! Drawing and wording of results: pictures, charts, tables and pages. Computes nothing of physics.
//!
//! One result, three faces: [`terminal`] writes it for a terminal and `record` as JSON and `html` as a page, from the
//! same values and with the same sentences and tables.

pub mod chart;
pub mod decimal;
pub mod draw;
pub mod page;
pub mod record;
pub mod sentence;
pub mod table;
pub mod tables;
pub mod terminal;
pub mod words;
