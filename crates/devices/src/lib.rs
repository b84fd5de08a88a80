//! Device equations with exact derivatives, the library of types with the source of every value,
//! and fitting of the equations to points.
//!
//! A law is a pure function from terminal volts and parameters to currents and derivatives, continuous with its first
//! derivative and finite for every finite input. It knows no names and no nets.

mod at;
pub mod ballast;
pub mod catalogue;
pub mod copper;
pub mod curve_csv;
pub mod diode;
pub mod fit;
pub mod heater;
pub mod library;
pub mod neon;
pub mod pentode;
pub mod smooth;
pub mod spread;
pub mod thermistor;
pub mod triode;
pub mod types;
pub mod vacuum_diode;
