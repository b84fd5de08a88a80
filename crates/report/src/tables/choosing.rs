//! Values that spare the most, and which types serve, as tables.

use super::{judged, number, numbers, phrase, text, words};
use crate::choosing::{Choice, Serving};
use crate::sentence;
use crate::table::{Cell, Table};
use text::quantity::Unit;

/// Values now and at best.
#[must_use]
pub fn chosen_values(choice: &Choice) -> Table {
    let ohms = |ohms: f64| text(sentence::shown(ohms, Unit::Ohm));
    let better = choice.chosen.better().is_some();
    let rows = choice.values().map(|(mark, now, best)| {
        let changes = better && best.is_some_and(|best| best != now);
        vec![
            text(mark),
            ohms(now),
            best.map_or_else(|| phrase("none found"), ohms),
            phrase(if changes { "change" } else { "" }),
        ]
    });
    Table {
        caption: format!("Values of {}", choice.circuit()),
        columns: vec![words("part"), words("now"), words("best"), words("to do")],
        rows: rows.collect(),
    }
}

/// The smallest margin with every tube, now and at best.
#[must_use]
pub fn chosen_margins(choice: &Choice) -> Table {
    let rows = choice.margins().map(|(tube, now, best)| {
        vec![
            text(tube),
            number(now, 2),
            judged(now, 0.0),
            number(best, 2),
            judged(best, 0.0),
        ]
    });
    Table {
        caption: format!(
            "To spare in the worst case, the smallest with loads from none to {}",
            choice.wanted.loads
        ),
        columns: vec![
            words("tube"),
            numbers("now", "V"),
            words("verdict"),
            numbers("with the best", "V"),
            words("verdict"),
        ],
        rows: rows.collect(),
    }
}

/// What the circuit takes, now and at best.
#[must_use]
pub fn chosen_takes(choice: &Choice) -> Table {
    let rows = choice.takes().into_iter().map(|taking| {
        let shown = |value: Option<f64>, there: bool| match value {
            Some(value) => text(sentence::shown(value, taking.unit)),
            None if there => phrase("not known"),
            None => phrase(""),
        };
        let best = choice.chosen.best.is_some();
        vec![
            phrase(&taking.what),
            shown(taking.now, true),
            shown(taking.best, best),
        ]
    });
    Table {
        caption: format!("What {} takes at book values", choice.circuit()),
        columns: vec![words("what"), words("now"), words("with the best")],
        rows: rows.collect(),
    }
}

/// Types in a circuit: those that serve, the most to spare first, then those that fall short and why.
#[must_use]
pub fn serves(serving: &Serving) -> Table {
    let rows = serving.in_order().map(|serves| {
        let (down, up) = serves
            .levels
            .map_or((None, None), |(down, up)| (Some(down), Some(up)));
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
            number(down, 2),
            number(up, 2),
            phrase(serving.why_short(serves)),
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
            words("short"),
        ],
        rows: rows.collect(),
    }
}
