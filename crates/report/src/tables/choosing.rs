//! Values that spare the most, and which types serve, as tables.

use super::{judged, number, numbers, phrase, text, words};
use crate::choosing::{Choice, Serving, Spare};
use crate::sentence;
use crate::table::{Cell, Mark, Table};
use network::margins::choosing::Serves;
use text::quantity::Unit;

/// Values now and, where some were found, at best.
#[must_use]
pub fn chosen_values(choice: &Choice) -> Table {
    let ohms = |ohms: f64| text(sentence::shown(ohms, Unit::Ohm));
    let found = choice.chosen.best.is_some();
    let better = choice.chosen.better().is_some();
    let rows = choice.values().map(|(mark, now, best)| {
        let changes = better && best.is_some_and(|best| best != now);
        let mut cells = vec![text(mark), ohms(now)];
        if let Some(best) = best {
            cells.extend([ohms(best), phrase(if changes { "change" } else { "" })]);
        }
        cells
    });
    let mut columns = vec![words("part"), words("now")];
    if found {
        columns.extend([words("best"), words("to do")]);
    }
    Table {
        caption: format!("Values of {}", choice.circuit()),
        columns,
        rows: rows.collect(),
    }
}

/// The smallest margin with every tube, now and, where something was found, at best. Values that do not keep the limits do not
/// pass, whatever they spare.
#[must_use]
pub fn chosen_margins(choice: &Choice) -> Table {
    let found = choice.chosen.best.is_some();
    let volts = |spare: Option<Spare>| number(spare.map(|spare| spare.volts), 2);
    let verdict = |spare: Option<Spare>| {
        let thin_below = spare.map_or(0.0, |spare| spare.thin_below);
        judged(spare.map(|spare| spare.volts), thin_below)
    };
    let rows = choice.margins().map(|(tube, now, best)| {
        let verdict_now = if choice.chosen.now.within {
            verdict(now)
        } else {
            Cell::Mark(Mark::Fault, "beyond the limits".to_owned())
        };
        let mut cells = vec![text(tube), volts(now), verdict_now];
        if found {
            cells.extend([volts(best), verdict(best)]);
        }
        cells
    });
    let mut columns = vec![words("tube"), numbers("now", "V"), words("verdict")];
    if found {
        columns.extend([numbers("with the best", "V"), words("verdict")]);
    }
    Table {
        caption: format!(
            "To spare in the worst case, the smallest with loads from none to {}",
            choice.wanted.loads
        ),
        columns,
        rows: rows.collect(),
    }
}

/// What the circuit takes, now and, where something was found, at best.
#[must_use]
pub fn chosen_takes(choice: &Choice) -> Table {
    let found = choice.chosen.best.is_some();
    let rows = choice.takes().into_iter().map(|taking| {
        let shown = |value: Option<f64>| match value {
            Some(value) => text(sentence::shown(value, taking.unit)),
            None => phrase("not known"),
        };
        let mut cells = vec![phrase(&taking.what), shown(taking.now)];
        cells.extend(found.then(|| shown(taking.best)));
        cells
    });
    let mut columns = vec![words("what"), words("now")];
    columns.extend(found.then(|| words("with the best")));
    Table {
        caption: format!("What {} takes at book values", choice.circuit()),
        columns,
        rows: rows.collect(),
    }
}

/// Types in a circuit: those that serve, the most to spare first, then those that fall short and why.
#[must_use]
pub fn serves(serving: &Serving) -> Table {
    let rows = serving.in_order().map(|serves| {
        let levels = serves.levels.as_ref();
        let most = serves.most_loads.map_or(f64::NAN, |most| most as f64);
        vec![
            text(serves.tube.name.clone()),
            phrase(if serving.in_stock(serves) {
                "in stock"
            } else {
                ""
            }),
            number(serves.margin, 2),
            Cell::Number {
                value: most,
                digits: 0,
            },
            number(serves.heater_watts, 2),
            number(levels.map(|level| level.down), 2),
            number(levels.map(|level| level.up), 2),
            serving_verdict(serving, serves),
        ]
    });
    Table {
        caption: format!(
            "Types in the place of every tube of {}, with loads from none to {}, most to spare in the worst case first",
            serving.design.circuits[serving.circuit.0].name, serving.loads
        ),
        columns: vec![
            words("type"),
            words("you have"),
            numbers("to spare", "V"),
            numbers("most loads", ""),
            numbers("heater a half", "W"),
            numbers("down", "V"),
            numbers("up", "V"),
            words("verdict"),
        ],
        rows: rows.collect(),
    }
}

/// Whether a type serves, and how it does not.
fn serving_verdict(serving: &Serving, serves: &Serves) -> Cell {
    let why = serving.why_short(serves);
    match serving.spare(serves) {
        Some(spare) if why.is_empty() => judged(Some(spare.volts), spare.thin_below),
        _ => Cell::Mark(Mark::Fault, why),
    }
}
