//! Margins in the worst case, as tables.

use super::{judged, number, numbers, phrase, text, up_or_down, words};
use crate::margins::{Standing, Whose, WorstCases, by_driver, by_side};
use crate::sentence;
use crate::table::Table;
use design::model::UnitId;
use network::margins::Margins;
use network::margins::cases::{
    Move, PartMoved, case_in_words, corner_in_words, part_name, parts_moved, rails_that_count,
    standing_of,
};
use network::verdict::Verdict;

/// The smallest margin of every driver asked for, the smallest first; of a unit both sides of all that it drives and is
/// driven by. Then how each comes about.
#[must_use]
pub fn margins(verdict: &Verdict, margins: &Margins, whose: Whose) -> [Table; 2] {
    let (standings, caption) = match whose {
        Whose::Unit(unit) => (
            by_side(verdict, &whose.connections(verdict, margins)),
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
        let load = sentence::pin_name(verdict, standing.connection.load);
        let load = match standing.alike {
            0 => load,
            alike => format!("{load}, and {alike} alike"),
        };
        vec![
            text(sentence::driver(verdict, standing.connection)),
            text(load),
            text(up_or_down(standing.up)),
        ]
    };
    let heads = || vec![words("driven by"), words("drives"), words("when")];
    let judged = standings.iter().map(|standing| {
        let side = standing.side();
        let net = &verdict.plan.nets[standing.connection.net].name;
        let mut cells = vec![text(net.clone())];
        cells.extend(ends(standing));
        cells.extend([
            number(side.level, 2),
            number(side.threshold, 2),
            number(side.volts, 2),
            number(side.book_volts, 2),
            judged(Some(side.volts), standing.thin_below(verdict)),
        ]);
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
    columns.extend([
        numbers("level", "V"),
        numbers("threshold", "V"),
        numbers("to spare", "V"),
        numbers("by the book", "V"),
        words("verdict"),
    ]);
    let mut case_columns = heads();
    case_columns.push(words("worst case"));
    [
        Table {
            caption,
            columns,
            rows: judged.collect(),
        },
        Table {
            caption: "How each comes about: the weightiest parts, how many more, and the rails"
                .to_owned(),
            columns: case_columns,
            rows: cases.collect(),
        },
    ]
}

/// What a side has to spare at every corner of the rails.
#[must_use]
pub fn corners(verdict: &Verdict, margins: &Margins, unit: UnitId) -> Table {
    let connections = Whose::Unit(unit).connections(verdict, margins);
    let least = |corner: usize, up: bool| {
        let sides = connections
            .iter()
            .map(|one| if up { &one.up } else { &one.down });
        sides.map(|side| side.by_corner[corner]).reduce(f64::min)
    };
    let thin = by_side(verdict, &connections)
        .iter()
        .map(|standing| standing.thin_below(verdict))
        .fold(0.0, f64::max);
    let rows = (0..margins.corners.len()).map(|corner| {
        let sides = [false, true].map(|up| least(corner, up));
        vec![
            phrase(corner_in_words(
                &verdict.plan,
                &margins.corners[corner],
                0..verdict.plan.design.rails.len(),
            )),
            number(sides[0], 2),
            number(sides[1], 2),
            judged(super::smaller(sides[0], sides[1]), thin),
        ]
    });
    Table {
        caption: "To spare at every corner of the rails, every part at its worst there".to_owned(),
        columns: vec![
            words("rails"),
            numbers("when down", "V"),
            numbers("when up", "V"),
            words("verdict"),
        ],
        rows: rows.collect(),
    }
}

/// What every part does to one margin, most for each per cent first, and what the rails do.
pub(crate) fn sensitivities(verdict: &Verdict, margins: &Margins, standing: &Standing) -> Table {
    let side = standing.side();
    let parts = parts_moved(side);
    let mut moves: Vec<(&PartMoved, &Move)> = parts
        .iter()
        .flat_map(|part| part.moves.iter().map(move |one| (part, one)))
        .collect();
    let by_cent = |one: &Move| one.volts_per_cent().unwrap_or(f64::NEG_INFINITY);
    moves.sort_by(|(_, left), (_, right)| by_cent(right).total_cmp(&by_cent(left)));
    let mut rows: Vec<_> = moves
        .into_iter()
        .map(|(part, one)| {
            let name = part_name(&verdict.plan, part);
            let name = match part.count {
                0 | 1 => name,
                count => format!("{name}, and {} alike", count - 1),
            };
            vec![
                text(name),
                phrase(standing_of(part, one)),
                number(one.volts_per_cent(), 3),
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
            text("rails"),
            phrase(corner_in_words(
                &verdict.plan,
                &margins.corners[side.corner],
                rails,
            )),
            number(None, 3),
            number(as_typed - side.volts, 2),
            number(as_typed, 2),
        ]);
    }
    Table {
        caption: format!(
            "What each part does to the margin of {} to {} when {}, most for each per cent first",
            sentence::driver(verdict, standing.connection),
            sentence::pin_name(verdict, standing.connection.load),
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

/// What was varied, between which ends, and by which source.
#[must_use]
pub fn varied(verdict: &Verdict, worst: &WorstCases) -> Table {
    let rows = sentence::varied(verdict, worst).into_iter().map(|band| {
        vec![
            phrase(band.what),
            text(band.of.join(", ")),
            phrase(band.band),
            phrase(band.source),
        ]
    });
    Table {
        caption: "What was varied".to_owned(),
        columns: vec![
            words("what"),
            words("of"),
            words("between"),
            words("source"),
        ],
        rows: rows.collect(),
    }
}
