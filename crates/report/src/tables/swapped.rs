//! Another type in a socket: heaters before and after, and pins that differ.

use super::{lead, number, numbers, phrase, text, words};
use crate::table::{Cell, Mark, Table};
use network::substitution::{HeaterChange, PinChange, Swap};
use text::diagnostic::Severity;

/// The heaters of the string before and after.
#[must_use]
pub fn swapped_heaters(swap: &Swap) -> Table {
    let row = |heater: &HeaterChange| {
        let share = |volts: f64, rated: f64| number(100.0 * volts / rated, 1);
        vec![
            text(heater.mark.clone()),
            text(heater.types.1.clone()),
            number(heater.volts.0, 2),
            share(heater.volts.0, heater.rated_volts.0),
            number(heater.volts.1, 2),
            share(heater.volts.1, heater.rated_volts.1),
        ]
    };
    Table {
        caption: format!("Heaters of the string of {}, before and after", swap.mark),
        columns: vec![
            words("tube"),
            words("type after"),
            numbers("before", "V"),
            numbers("of rating", "%"),
            numbers("after", "V"),
            numbers("of rating", "%"),
        ],
        rows: swap.heaters.iter().map(row).collect(),
    }
}

/// The pins that lead elsewhere.
#[must_use]
pub fn swapped_pins(swap: &Swap) -> Table {
    let row = |pin: &PinChange| {
        vec![
            number(f64::from(pin.pin), 0),
            phrase(pin.old.map_or_else(|| "none".to_owned(), lead)),
            phrase(pin.new.map_or_else(|| "none".to_owned(), lead)),
            match pin.severity {
                Severity::Fault => Cell::Mark(Mark::Fault, "leads elsewhere".to_owned()),
                Severity::Caution => Cell::Mark(Mark::Caution, "look at the wiring".to_owned()),
                Severity::Note => Cell::Mark(Mark::Pass, "does not matter".to_owned()),
            },
        ]
    };
    Table {
        caption: format!(
            "Pins that differ, numbered as seen from below: {} in place, {} tried",
            swap.types.0, swap.types.1
        ),
        columns: vec![
            numbers("pin", ""),
            words(swap.types.0.clone()),
            words(swap.types.1.clone()),
            words("verdict"),
        ],
        rows: swap.pins.iter().map(row).collect(),
    }
}
