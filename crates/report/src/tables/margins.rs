//! Margins in the worst case, as tables.

use super::{judged, number, numbers, phrase, text, up_or_down, words};
use crate::margins::{
    Standing, Whose, WorstCases, by_driver, by_side, findings_alone, short_beyond, taken,
};
use crate::sentence;
use crate::table::{Cell, Column, Table};
use network::margins::alone::AloneCase;
use network::margins::cases::{
    case_in_words, corner_in_words, rails_that_count, rails_that_matter,
};
use network::margins::{ConnectionMargin, Margins};
use network::plan::Plan;
use network::verdict::Verdict;

const HOW: &str = "How it comes about: the weightiest parts, how many more, and the rails";
pub(super) const HOW_EACH: &str =
    "How each comes about: the weightiest parts, how many more, and the rails";

/// The smallest margin of every driver asked for, the smallest first; of a unit both sides of all that it drives and is
/// driven by. Then how each comes about.
#[must_use]
pub fn margins(verdict: &Verdict, margins: &Margins, whose: Whose) -> [Table; 2] {
    let (standings, caption) = match whose {
        Whose::Unit(unit) => (
            by_side(&verdict.plan, &whose.connections(verdict, margins)),
            format!(
                "Margins in the worst case of what {} drives and is driven by",
                verdict.plan.members[unit.0].name
            ),
        ),
        Whose::All | Whose::Circuit(_) | Whose::Block(_) => (
            by_driver(verdict, margins, whose),
            "Margins in the worst case, of every driver the smallest, least to spare first"
                .to_owned(),
        ),
    };
    let ends = |standing: &Standing| {
        let load = sentence::pin_name(&verdict.plan, standing.connection.load);
        let load = match standing.alike {
            0 => load,
            alike => format!("{load}, and {alike} alike"),
        };
        vec![
            text(sentence::driver(&verdict.plan, standing.connection)),
            text(load),
            text(up_or_down(standing.up)),
        ]
    };
    let heads = || vec![words("driven by"), words("drives"), words("when")];
    let judged = standings.iter().map(|standing| {
        let net = &verdict.plan.nets[standing.connection.net].name;
        let mut cells = vec![text(net.clone())];
        cells.extend(ends(standing));
        cells.extend(volts_of(standing));
        cells
    });
    let cases = standings.iter().map(|standing| {
        let mut cells = ends(standing);
        let case = case_in_words(&verdict.plan, margins, standing.side());
        cells.push(phrase(case));
        cells
    });
    let mut columns = vec![words("net")];
    columns.extend(heads());
    columns.extend(volts_columns());
    let mut case_columns = heads();
    case_columns.push(words("worst case"));
    [
        Table {
            caption,
            columns,
            rows: judged.collect(),
        },
        Table {
            caption: HOW_EACH.to_owned(),
            columns: case_columns,
            rows: cases.collect(),
        },
    ]
}

fn volts_columns() -> [Column; 5] {
    [
        numbers("level", "V"),
        numbers("threshold", "V"),
        numbers("to spare", "V"),
        numbers("by the book", "V"),
        words("verdict"),
    ]
}

fn volts_of(standing: &Standing) -> [Cell; 5] {
    let side = standing.side();
    [
        number(side.level, 2),
        number(side.threshold, 2),
        number(side.volts, 2),
        number(side.book_volts, 2),
        judged(Some(side.volts), standing.connection.thin_below),
    ]
}

/// Both sides of a circuit alone, the smaller first, or that one only.
fn sides_alone<'a>(case: &'a AloneCase, both: bool) -> Vec<Standing<'a>> {
    let connections: Vec<&ConnectionMargin> = case.margins.connections.iter().collect();
    let mut sides = by_side(&case.plan, &connections);
    sides.truncate(if both { 2 } else { 1 });
    sides
}

/// Circuits alone that drive something with a threshold, the smaller side of each or (`both_sides`) both, and how each comes about.
#[must_use]
pub fn alone(worst: &WorstCases, both_sides: bool) -> [Table; 2] {
    let cases = worst.driving_alone();
    let name = |case: &AloneCase| text(case.plan.members[0].name.clone());
    let judged = cases.iter().flat_map(|case| {
        let loads = || phrase(sentence::loads_alone(case));
        let mut rows: Vec<Vec<Cell>> = Vec::new();
        for standing in sides_alone(case, both_sides) {
            let mut cells = vec![name(case), loads(), text(up_or_down(standing.up))];
            cells.extend(volts_of(&standing));
            rows.push(cells);
        }
        if rows.is_empty() {
            let beyond = short_beyond(&case.margins).next().map(|(_, beyond)| beyond);
            let when = beyond.map_or("", |beyond| up_or_down(beyond.up));
            let mut cells = vec![name(case), loads(), text(when)];
            cells.push(number(beyond.map(|beyond| beyond.level), 2));
            cells.extend([None; 3].map(|volts| number(volts, 2)));
            cells.push(match beyond {
                Some(_) => judged(Some(f64::NEG_INFINITY), 0.0),
                None => phrase("not known"),
            });
            rows.push(cells);
        }
        rows
    });
    let how = cases.iter().flat_map(|case| {
        let sides = sides_alone(case, both_sides).into_iter();
        let rows = sides.map(|standing| {
            let words = case_in_words(&case.plan, &case.margins, standing.side());
            vec![name(case), text(up_or_down(standing.up)), phrase(words)]
        });
        let mut rows: Vec<Vec<Cell>> = rows.collect();
        if rows.is_empty() {
            let beyond = short_beyond(&case.margins).next();
            let when = beyond.map_or("", |(_, beyond)| up_or_down(beyond.up));
            let why = findings_alone(case)
                .into_iter()
                .map(|finding| finding.cause);
            rows.extend(why.map(|why| vec![name(case), text(when), phrase(why)]));
        }
        rows
    });
    let mut columns = vec![words("circuit"), words("drives"), words("when")];
    columns.extend(volts_columns());
    let (one, caption) = match &cases[..] {
        [case] => (
            true,
            format!("{} alone in the worst case", case.plan.members[0].name),
        ),
        _ => (
            false,
            "Circuits alone in the worst case, least to spare first".to_owned(),
        ),
    };
    [
        Table {
            caption,
            columns,
            rows: judged.collect(),
        },
        Table {
            caption: if one { HOW } else { HOW_EACH }.to_owned(),
            columns: vec![words("circuit"), words("when"), words("worst case")],
            rows: how.collect(),
        },
    ]
}

/// What is to spare at every corner of the rails, the least of some connections.
#[must_use]
pub fn corners(plan: &Plan, margins: &Margins, connections: &[&ConnectionMargin]) -> Table {
    let least = |corner: usize, up: bool| {
        let sides = connections
            .iter()
            .map(|one| if up { &one.up } else { &one.down });
        sides.map(|side| side.by_corner[corner]).reduce(f64::min)
    };
    let thin = connections
        .iter()
        .map(|connection| connection.thin_below)
        .fold(0.0, f64::max);
    let matter = rails_that_matter(margins, connections);
    // Corners that differ in no rail that matters are one.
    let mut corners: Vec<(String, [Option<f64>; 2])> = Vec::new();
    for (place, corner) in margins.corners.iter().enumerate() {
        let name = corner_in_words(plan, corner, matter.iter().copied());
        let sides = [false, true].map(|up| least(place, up));
        match corners.iter_mut().find(|(other, _)| *other == name) {
            Some((_, known)) => {
                *known = [0, 1].map(|side| super::smaller(known[side], sides[side]));
            }
            None => corners.push((name, sides)),
        }
    }
    let rows = corners.into_iter().map(|(name, sides)| {
        vec![
            phrase(name),
            number(sides[0], 2),
            number(sides[1], 2),
            judged(super::smaller(sides[0], sides[1]), thin),
        ]
    });
    let moving = (0..plan.design.rails.len())
        .filter(|&rail| margins.corners.iter().any(|corner| corner.sides[rail] != 0));
    let idle: Vec<String> = moving
        .filter(|rail| !matter.contains(rail))
        .map(|rail| plan.design.rails[rail].name.clone())
        .collect();
    let idle = match &idle[..] {
        [] => String::new(),
        [one] => format!("; {one} changes nothing here"),
        _ => format!("; {} change nothing here", sentence::listed(idle)),
    };
    Table {
        caption: format!(
            "To spare at every corner of the rails, every part at its worst there{idle}"
        ),
        columns: vec![
            words("rails"),
            numbers("when down", "V"),
            numbers("when up", "V"),
            words("verdict"),
        ],
        rows: rows.collect(),
    }
}

/// What every part and every rail does to one margin, most for each per cent first, and what the rails do together.
pub(crate) fn sensitivities(plan: &Plan, margins: &Margins, standing: &Standing) -> Table {
    let side = standing.side();
    let mut rows: Vec<_> = taken(plan, margins, standing)
        .into_iter()
        .map(|one| {
            vec![
                text(one.part),
                phrase(one.stands),
                number(one.per_cent, 3),
                number(one.volts, 2),
                number(side.volts + one.volts, 2),
            ]
        })
        .collect();
    // The first corner has the rails as typed.
    let as_typed = side.by_corner[0];
    if side.corner != 0 {
        let rails = rails_that_count(margins, side).into_iter();
        rows.push(vec![
            text("all rails"),
            phrase(corner_in_words(plan, &margins.corners[side.corner], rails)),
            number(None, 3),
            number(as_typed - side.volts, 2),
            number(as_typed, 2),
        ]);
    }
    Table {
        caption: format!(
            "What each part does to the margin of {} to {} when {}, most for each per cent first",
            sentence::driver(plan, standing.connection),
            sentence::pin_name(plan, standing.connection.load),
            up_or_down(standing.up)
        ),
        columns: vec![
            words("part"),
            words("stands"),
            numbers("takes for each %", "V"),
            numbers("in all, about", "V"),
            numbers("left, about", "V"),
        ],
        rows,
    }
}

/// What was varied, between which ends, and by which source; where it was `drawn`, with what of a resistor's band is hollow if
/// the text does not say.
#[must_use]
pub fn varied(verdict: &Verdict, worst: &WorstCases, drawn: Option<f64>) -> Table {
    let rows = sentence::varied(verdict, worst, drawn)
        .into_iter()
        .map(|band| {
            vec![
                phrase(band.what),
                text(band.of.join(", ")),
                phrase(band.band),
                phrase(band.source),
            ]
        });
    Table {
        caption: match drawn {
            None => "What was varied",
            Some(_) => "What was drawn: each evenly between its ends",
        }
        .to_owned(),
        columns: vec![
            words("what"),
            words("of"),
            words("between"),
            words("source"),
        ],
        rows: rows.collect(),
    }
}
