//! Drawing and wording of results: pictures, charts, tables and pages. Computes nothing of physics.

pub mod chart;
pub mod decimal;
pub mod draw;
pub mod page;
pub mod table;
