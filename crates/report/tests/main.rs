//! What is drawn and written: pages, pictures, schematics.
#![allow(clippy::unwrap_used, reason = "a test fails where it unwraps")]

mod designs;
mod draw_layout;
mod drawings;
mod faces;
mod margins;
mod page_pictures;
mod pdf;
#[path = "../examples/pictures/samples.rs"]
mod samples;
mod schematic;
