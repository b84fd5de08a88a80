//! Laws of devices and the library of types, against published points and sheets.
#![allow(clippy::unwrap_used, reason = "a test fails where it unwraps")]

mod fit;
mod laws_diode;
mod laws_pentode;
mod laws_smooth;
mod laws_stages;
mod laws_triode;
mod library;
mod library_own;
mod parallel;
mod spread;
