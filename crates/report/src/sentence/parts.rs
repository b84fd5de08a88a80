//! The parts list in words.

use super::shown;
use crate::decimal;
use network::parts::{Further, Kind, Line, PartsList, Spares};
use text::quantity::Unit;

/// The word for a kind of part.
#[must_use]
pub fn part_kind(kind: Kind) -> &'static str {
    match kind {
        Kind::Tube => "tube",
        Kind::Socket => "socket",
        Kind::Resistor => "resistor",
        Kind::Trimmer => "trimmer",
        Kind::Thermistor => "thermistor",
        Kind::Ballast => "ballast tube",
        Kind::Capacitor => "capacitor",
        Kind::Inductor => "inductor",
        Kind::Diode => "diode",
        Kind::Lamp => "neon lamp",
        Kind::Switch => "switch",
        Kind::Connector => "connector",
    }
}

/// The units of a part's value and of its rating, as they are written in a table of values; empty where it has none.
#[must_use]
pub fn part_units(kind: Kind) -> (&'static str, &'static str) {
    match kind {
        Kind::Resistor | Kind::Trimmer => ("ohm", "watt"),
        Kind::Capacitor => ("farad", "volt"),
        Kind::Thermistor => ("ohm", ""),
        Kind::Ballast => ("ampere", ""),
        Kind::Inductor => ("henry", ""),
        _ => ("", ""),
    }
}

/// What a part is chosen by besides its value: "21 Ω at 300 mA", "5 V to 15 V".
#[must_use]
pub fn part_further(further: Further) -> String {
    match further {
        Further::Hot { ohms, amps } => {
            format!(
                "{} at {}",
                shown(ohms, Unit::Ohm),
                shown(amps, Unit::Ampere)
            )
        }
        Further::Holds {
            from_volts,
            to_volts,
        } => {
            format!(
                "{} to {}",
                shown(from_volts, Unit::Volt),
                shown(to_volts, Unit::Volt)
            )
        }
    }
}

/// What a part's rating limits, with its unit.
#[must_use]
pub fn part_amount(kind: Kind, value: f64) -> String {
    let unit = match kind {
        Kind::Capacitor => Unit::Volt,
        _ => Unit::Watt,
    };
    shown(value, unit)
}

/// Value and tolerance, type or base.
#[must_use]
pub fn part_value(line: &Line) -> String {
    let unit = match line.kind {
        Kind::Capacitor => Unit::Farad,
        Kind::Inductor => Unit::Henry,
        Kind::Ballast => Unit::Ampere,
        _ => Unit::Ohm,
    };
    let value = match line.value {
        Some(value) => shown(value, unit),
        None => line.name.clone(),
    };
    match line.tolerance {
        Some(tolerance) => format!("{value} ± {}", shown(tolerance, Unit::Percent)),
        None => value,
    }
}

/// The rating to buy, and whether it is the text's, or what else the part is chosen by or larger.
#[must_use]
pub fn part_rating(line: &Line) -> String {
    let rating = line.rating.map(|rating| part_amount(line.kind, rating));
    match rating {
        Some(rating) if line.stated => format!("{rating}, stated"),
        Some(rating) => rating,
        None => line.further.map_or_else(String::new, part_further),
    }
}

/// That the rating which the text states is too small.
#[must_use]
pub fn part_too_small(line: &Line) -> Option<String> {
    let stated = part_amount(line.kind, line.too_small?);
    Some(format!("{stated} too small"))
}

/// "2.4 times"; far more than anyone asks for is not told apart.
#[must_use]
pub fn times(headroom: f64) -> String {
    if headroom < 1e3 {
        format!("{} times", decimal::significant(headroom, 2))
    } else {
        "over 1000 times".to_owned()
    }
}

/// By what rules the list was made, and what it leaves out.
#[must_use]
pub fn about_parts(list: &PartsList) -> Vec<String> {
    let buying = &list.buying;
    let sizes = buying.resistors.sizes.iter();
    let sizes: Vec<String> = sizes
        .map(|size| {
            format!(
                "{} at {}",
                shown(size.watts, Unit::Watt),
                shown(size.volts, Unit::Volt)
            )
        })
        .collect();
    let spares = |spares: &Spares| {
        format!(
            "{} and at least {}",
            shown(spares.share, Unit::Percent),
            spares.least
        )
    };
    vec![
        format!(
            "The rating to buy is the text's where it states one, else for a resistor the next usual size with {} times the watts that it takes at worst and the volts across it (largest volts: {}), for a capacitor the next usual working volts at {} times the most across it, cold tubes and rails at their highest counted.",
            decimal::significant(buying.resistors.factor, 2),
            sizes.join(", "),
            decimal::significant(buying.capacitor_factor, 3),
        ),
        "Little headroom means less than that factor; it is no fault. Where the stated rating is too small the usual one stands to buy, and `check` names the part.".to_owned(),
        format!(
            "Spares: of each type of tube {}, of all else {} (common practice, no source).",
            spares(&buying.tubes),
            spares(&buying.others)
        ),
        "In the list is what the text asks for: units in their places, heater strings, capacitors and bleeders of rails, connectors. Boards, wire, fuses, supplies and what the bench stands for are not.".to_owned(),
    ]
}
