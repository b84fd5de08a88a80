//! Results as tables, the same for terminal and page. Headings and captions are in the project's words; [`worded`] turns
//! them over to the reader's. Names stay as typed.

mod choosing;
mod connections;
mod heaters;
mod levels;
mod marginal;
mod margins;
mod parts;
mod planned;
mod power;
mod safety;
mod swapped;
mod switch_on;
mod wiring;
mod worst_parts;
mod yields;

pub use choosing::{chosen_margins, chosen_takes, chosen_values, serves};
pub use connections::{CircuitLoads, changes, connections, fan, loads, output_margins, thin_below};
pub use heaters::{heater_reach, heaters, strings};
pub use levels::{
    duties, inputs_up, node_volts, output_levels, shows, states, thresholds, tube_currents,
};
pub(crate) use marginal::{READ, to_read};
pub use marginal::{bench_sheet, moved_rails, suspects, told_apart};
pub(crate) use margins::sensitivities;
pub use margins::{alone, corners, margins, varied};
pub use parts::parts;
pub use planned::{feeders, proposed_heaters, proposed_resistors, proposed_strings};
pub use power::{heat, rails, tubes};
pub use safety::{spans, stores};
pub use swapped::{swapped_heaters, swapped_pins};
pub use switch_on::switch_on;
pub use wiring::{electrode, lead, point, readings, wiring};
pub(crate) use worst_parts::must;
pub use worst_parts::{duties_alone, free_alone, free_outputs, worst_duties};
pub use yields::yields;

use crate::table::{Align, Cell, Column, Mark, Table};
use crate::words::Wording;

/// The table with caption, headings and judgements in the reader's words.
#[must_use]
pub fn worded(mut table: Table, wording: Wording) -> Table {
    table.caption = wording.apply(&table.caption);
    for column in &mut table.columns {
        column.heading = wording.apply(&column.heading);
    }
    for cell in table.rows.iter_mut().flatten() {
        if let Cell::Mark(_, words) = cell {
            *words = wording.apply(words);
        }
    }
    table
}

/// A column of words.
fn words(heading: impl Into<String>) -> Column {
    Column {
        heading: heading.into(),
        unit: String::new(),
        align: Align::Left,
    }
}

/// A column of numbers.
fn numbers(heading: impl Into<String>, unit: &str) -> Column {
    Column {
        heading: heading.into(),
        unit: unit.to_owned(),
        align: Align::Right,
    }
}

fn text(content: impl Into<String>) -> Cell {
    Cell::Text(content.into())
}

/// Our own words in a cell, which follow the reader's choice; names are [`text`].
fn phrase(content: impl Into<String>) -> Cell {
    Cell::Mark(Mark::None, content.into())
}

/// A number with fixed decimals; not known without a value.
fn number(value: impl Into<Option<f64>>, digits: usize) -> Cell {
    Cell::Number {
        value: value.into().unwrap_or(f64::NAN),
        digits,
    }
}

/// `up` or `down`.
pub(crate) fn up_or_down(up: bool) -> &'static str {
    if up { "up" } else { "down" }
}

/// A margin judged: short, thin, or enough.
fn judged(spare: Option<f64>, thin_below: f64) -> Cell {
    match spare {
        Some(spare) if spare < 0.0 => Cell::Mark(Mark::Fault, "short".to_owned()),
        Some(spare) if spare < thin_below => Cell::Mark(Mark::Caution, "thin".to_owned()),
        Some(_) => Cell::Mark(Mark::Pass, "passes".to_owned()),
        None => Cell::Mark(Mark::None, "not judged".to_owned()),
    }
}

/// The smaller of two margins, of which one or both may not be known.
fn smaller(left: Option<f64>, right: Option<f64>) -> Option<f64> {
    match (left, right) {
        (Some(left), Some(right)) => Some(left.min(right)),
        (left, right) => left.or(right),
    }
}
