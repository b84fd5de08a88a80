//! Proposed strings, and the copper that heaters ask of the boards.

use super::{number, numbers, phrase, text, words};
use crate::planned::Proposal;
use crate::table::{Cell, Mark, Table};
use design::model::Design;
use network::feeders::Feeder;
use network::planning::{Proposed, string_name};
use text::diagnostic::Severity;

/// Every proposed string with its current and the furthest that its heaters stand from their rating.
#[must_use]
pub fn proposed_strings(proposal: &Proposal) -> Table {
    let row = |(index, string): (usize, &Proposed)| {
        let (nominal, ends) = string.furthest();
        vec![
            text(string_name(index)),
            text(
                proposal
                    .groups
                    .get(string.group)
                    .cloned()
                    .unwrap_or_default(),
            ),
            number(1e3 * string.amps, 1),
            number(1e3 * string.cold_amps[1], 0),
            number(string.wasted_watts(), 2),
            number(100.0 * nominal, 1),
            number(100.0 * ends, 1),
            judged(string.severity()),
        ]
    };
    Table {
        caption: "Proposed strings, and the furthest that a heater of each stands from its rating"
            .to_owned(),
        columns: vec![
            words("string"),
            words("board"),
            numbers("warm", "mA"),
            numbers("cold usually", "mA"),
            numbers("in resistors", "W"),
            numbers("at most off", "%"),
            numbers("with the supply's tolerance", "%"),
            words("verdict"),
        ],
        rows: proposal
            .grouping
            .strings
            .iter()
            .enumerate()
            .map(row)
            .collect(),
    }
}

fn judged(severity: Severity) -> Cell {
    match severity {
        Severity::Fault => Cell::Mark(Mark::Fault, "beyond 10 %".to_owned()),
        Severity::Caution => Cell::Mark(Mark::Caution, "beyond 5 % or 7 %".to_owned()),
        Severity::Note => Cell::Mark(Mark::Pass, "passes".to_owned()),
    }
}

/// Every heater of a proposal with its volts.
#[must_use]
pub fn proposed_heaters(proposal: &Proposal) -> Table {
    let mut rows = Vec::new();
    for (index, string) in proposal.grouping.strings.iter().enumerate() {
        for link in &string.links {
            for placed in &link.heaters {
                let percent = |end: usize| number(100.0 * link.volts[end] / link.rated_volts, 1);
                let wiring = match (proposal.tubes[placed.tube].tapped, placed.tapped) {
                    (None, _) => "",
                    (Some(_), true) => "ends against tap",
                    (Some(_), false) => "end to end",
                };
                rows.push(vec![
                    text(proposal.tubes[placed.tube].mark.clone()),
                    text(string_name(index)),
                    text(proposal.types[placed.tube].clone()),
                    phrase(wiring),
                    number(link.volts[1], 2),
                    percent(1),
                    percent(0),
                    percent(2),
                ]);
            }
        }
    }
    Table {
        caption: "Heaters in the proposed strings, as solved".to_owned(),
        columns: vec![
            words("tube"),
            words("string"),
            words("type"),
            words("wired"),
            numbers("across", "V"),
            numbers("of rating", "%"),
            numbers("supply low", "%"),
            numbers("supply high", "%"),
        ],
        rows,
    }
}

/// The resistors of a proposal.
#[must_use]
pub fn proposed_resistors(proposal: &Proposal) -> Table {
    let mut rows = Vec::new();
    for (index, string) in proposal.grouping.strings.iter().enumerate() {
        for link in &string.links {
            let Some(resistor) = &link.resistor else {
                continue;
            };
            let marks: Vec<&str> = link
                .heaters
                .iter()
                .map(|placed| proposal.tubes[placed.tube].mark.as_str())
                .collect();
            rows.push(vec![
                text(resistor.mark.clone()),
                text(string_name(index)),
                if marks.is_empty() {
                    phrase("in the string")
                } else {
                    phrase(format!("beside {}", marks.join(", ")))
                },
                number(resistor.ohms, 1),
                number(resistor.watts, 2),
                number(resistor.rated_watts, 3),
            ]);
        }
    }
    Table {
        caption: "Resistors of the proposed strings: E24 values, bought for twice what they take"
            .to_owned(),
        columns: vec![
            words("resistor"),
            words("string"),
            words("place"),
            numbers("value", "Ω"),
            numbers("takes", "W"),
            numbers("buy", "W"),
        ],
        rows,
    }
}

/// The width of copper that the heaters ask of every board.
#[must_use]
pub fn feeders(design: &Design, feeders: &[Feeder]) -> Table {
    let row = |feeder: &Feeder| {
        vec![
            text(design.boards[feeder.board].name.clone()),
            match feeder.string {
                Some(string) => text(design.strings[string].name.clone()),
                None => phrase("all together"),
            },
            number(feeder.amps, 2),
            number(feeder.way_mm, 0),
            number(feeder.width_mm, 1),
            number(feeder.lost_volts, 2),
            number(feeder.rise, 0),
        ]
    };
    Table {
        caption: "Heater feeders of the boards, one side of copper 35 µm thick".to_owned(),
        columns: vec![
            words("board"),
            words("string"),
            numbers("current", "A"),
            numbers("out and back", "mm"),
            numbers("width", "mm"),
            numbers("lost", "V"),
            numbers("warmer by", "°C"),
        ],
        rows: feeders.iter().map(row).collect(),
    }
}
