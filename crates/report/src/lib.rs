//! Drawing and wording of results: pictures, charts, tables and pages. Computes nothing of physics.
//!
//! One result, three faces: [`terminal`] writes it for a terminal, [`record`] as JSON and [`html`] as a page, from the
//! same values and with the same sentences and tables.

pub mod block_drawing;
pub mod board_drawing;
pub mod chart;
pub mod choosing;
pub mod circuit_drawing;
pub mod csv;
pub mod decimal;
pub mod draw;
pub mod drawing;
pub mod fit;
pub mod html;
pub(crate) mod marginal;
pub mod margins;
pub mod page;
pub mod pinout;
pub mod planned;
pub mod record;
pub mod schematic;
pub mod sentence;
pub mod sheet;
pub mod string_drawing;
pub mod table;
pub mod tables;
pub mod terminal;
pub mod words;
pub mod yields;

pub use html::Edition;
