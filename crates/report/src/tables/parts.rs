//! The parts list.

use super::{number, numbers, phrase, text, words};
use crate::sentence;
use crate::table::{Cell, Mark, Table};
use network::parts::{Line, PartsList};

/// Places that help and still fit in a column.
const LISTED_PLACES: usize = 3;

/// What to buy, how many, and the headroom of each.
#[must_use]
pub fn parts(list: &PartsList) -> Table {
    let rows = list.lines.iter().map(|line| {
        vec![
            phrase(sentence::part_kind(line.kind)),
            text(sentence::part_value(line)),
            phrase(sentence::part_rating(line)),
            text(
                line.worst
                    .map_or_else(String::new, |worst| sentence::part_amount(line.kind, worst)),
            ),
            headroom(line),
            number(line.needed as f64, 0),
            number(line.spares as f64, 0),
            number(line.order() as f64, 0),
            text(places(line)),
        ]
    });
    Table {
        caption: "What to buy".to_owned(),
        columns: vec![
            words("part"),
            words("value"),
            words("rating to buy"),
            words("at worst"),
            words("headroom"),
            numbers("needed", ""),
            numbers("spare", ""),
            numbers("order", ""),
            words("where"),
        ],
        rows: rows.collect(),
    }
}

fn headroom(line: &Line) -> Cell {
    if let Some(too_small) = sentence::part_too_small(line) {
        return Cell::Mark(Mark::Fault, too_small);
    }
    let times = line.headroom().map(sentence::times);
    match (times, line.little) {
        (Some(times), true) => Cell::Mark(Mark::Caution, format!("{times}, little")),
        (Some(times), false) => Cell::Mark(Mark::None, times),
        (None, _) if sentence::part_units(line.kind).1.is_empty() => text(""),
        (None, _) if line.worst.is_none() => phrase("not known"),
        (None, _) if line.rating.is_none() => {
            Cell::Mark(Mark::Caution, "beyond the usual sizes".to_owned())
        }
        (None, _) => text(""),
    }
}

fn places(line: &Line) -> String {
    let listed = line.places.iter().take(LISTED_PLACES);
    let mut listed: Vec<String> = listed
        .map(|(place, count)| match count {
            1 => place.clone(),
            count => format!("{place} ×{count}"),
        })
        .collect();
    let more = line.places.len() - listed.len();
    if 0 < more {
        listed.push(format!("{more} more"));
    }
    listed.join(", ")
}
