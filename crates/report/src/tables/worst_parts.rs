//! What sentences ask of parts in the worst case, and outputs that nothing asks a level of, as tables.

use super::{judged, number, numbers, phrase, text, up_or_down, words};
use crate::margins::{Whose, WorstCases, duties_alike, free_alike};
use crate::sentence;
use crate::table::{Align, Cell, Column, Table};
use network::duty::Asked;
use network::margins::cases::{duty_in_words, free_in_words};
use network::margins::{DutyMargin, FreeOutput, Margins};
use network::plan::Plan;
use network::verdict::Verdict;
use text::quantity::show;

/// What a part must do.
pub(crate) fn must(asked: Asked) -> &'static str {
    match asked {
        Asked::Least(_) => "carry no less",
        Asked::Most(_) => "carry no more",
        Asked::Off(_) => "be off",
        Asked::Lit(_) => "be lit",
        Asked::Out(_) => "be out",
        Asked::Strikes => "strike",
        Asked::Holds => "stay lit",
        Asked::StaysDark => "stay dark",
        Asked::GoesOut => "go out",
    }
}

/// The mark of a part with its unit's name, and how many more stand so.
fn part_of(plan: &Plan, duty: &DutyMargin, alike: usize) -> Cell {
    let mark = &plan.circuit(duty.member).parts[duty.part].mark;
    let name = plan.name_of(duty.member, mark);
    text(match alike {
        0 => name,
        alike => format!("{name}, and {alike} alike"),
    })
}

/// What every lamp and load must do that is asked for, smallest share of its limit to spare first, and how each comes about;
/// nothing where no sentence speaks of one.
#[must_use]
pub fn worst_duties(verdict: &Verdict, margins: &Margins, whose: Whose) -> Option<[Table; 2]> {
    let all = duties_alike(verdict, margins, whose).into_iter();
    let all = all.map(|(duty, alike)| (&verdict.plan, margins, duty, alike));
    duty_tables(
        &all.collect::<Vec<_>>(),
        "Lamps and loads in the worst case, least to spare first",
    )
}

/// The same of the parts of circuits alone.
#[must_use]
pub fn duties_alone(worst: &WorstCases) -> Option<[Table; 2]> {
    let all = worst.duties_alone().into_iter();
    let all = all.map(|(case, duty)| (&case.plan, &case.margins, duty, 0));
    duty_tables(
        &all.collect::<Vec<_>>(),
        "Lamps and loads of circuits alone in the worst case, least to spare first",
    )
}

/// A plan, its margins, one of what is asked of its parts, and how many more stand so.
type DutyRow<'a> = (&'a Plan<'a>, &'a Margins, &'a DutyMargin, usize);

fn duty_tables(all: &[DutyRow], caption: &str) -> Option<[Table; 2]> {
    if all.is_empty() {
        return None;
    }
    let quantity = |heading: &str| Column {
        heading: heading.to_owned(),
        unit: String::new(),
        align: Align::Right,
    };
    let rows = all.iter().map(|&(plan, _, duty, alike)| {
        let shown = |value: f64| text(show(value, duty.asked.unit(), 3));
        vec![
            part_of(plan, duty, alike),
            phrase(must(duty.asked)),
            shown(duty.reading),
            shown(duty.limit),
            shown(duty.spare),
            shown(duty.book),
            judged(Some(duty.spare), duty.thin_below),
        ]
    });
    let cases = all.iter().map(|&(plan, margins, duty, alike)| {
        vec![
            part_of(plan, duty, alike),
            phrase(must(duty.asked)),
            phrase(duty_in_words(plan, margins, duty)),
        ]
    });
    Some([
        Table {
            caption: caption.to_owned(),
            columns: vec![
                words("part"),
                words("must"),
                quantity("has"),
                quantity("limit"),
                quantity("to spare"),
                quantity("by the book"),
                words("verdict"),
            ],
            rows: rows.collect(),
        },
        Table {
            caption: super::margins::HOW_EACH.to_owned(),
            columns: vec![words("part"), words("must"), words("worst case")],
            rows: cases.collect(),
        },
    ])
}

fn driven_by(plan: &Plan, output: &FreeOutput, alike: usize) -> Cell {
    let pin = sentence::pin_name(plan, output.driver);
    text(match alike {
        0 => pin,
        alike => format!("{pin}, and {alike} alike"),
    })
}

/// The worst levels of every output asked for that nothing asks a level of, and how each comes about; nothing where there is none.
#[must_use]
pub fn free_outputs(verdict: &Verdict, margins: &Margins, whose: Whose) -> Option<[Table; 2]> {
    let all = free_alike(verdict, margins, whose).into_iter();
    let all = all.map(|standing| (&verdict.plan, margins, standing.output, standing.alike));
    free_tables(
        &all.collect::<Vec<_>>(),
        "Outputs in the worst case, nothing asks for a level here, the smallest swing first",
    )
}

/// The same of circuits alone.
#[must_use]
pub fn free_alone(worst: &WorstCases) -> Option<[Table; 2]> {
    let all = worst.free_alone().into_iter();
    let all = all.map(|(case, output)| (&case.plan, &case.margins, output, 0));
    free_tables(
        &all.collect::<Vec<_>>(),
        "Outputs of circuits alone in the worst case, nothing asks for a level here, the smallest swing first",
    )
}

/// A plan, its margins, one of its outputs, and how many more stand so.
type FreeRow<'a> = (&'a Plan<'a>, &'a Margins, &'a FreeOutput, usize);

fn free_tables(all: &[FreeRow], caption: &str) -> Option<[Table; 2]> {
    if all.is_empty() {
        return None;
    }
    let rows = all.iter().map(|&(plan, _, output, alike)| {
        vec![
            text(plan.nets[output.net].name.clone()),
            driven_by(plan, output, alike),
            number(output.down.volts, 2),
            number(output.up.volts, 2),
            number(output.swing, 2),
            number(output.book_swing, 2),
            if output.swing <= 0.0 {
                judged(Some(-1.0), 0.0)
            } else {
                phrase("no level is asked")
            },
        ]
    });
    let cases = all.iter().flat_map(|&(plan, margins, output, alike)| {
        let sides = [(false, &output.down), (true, &output.up)];
        sides.map(|(up, level)| {
            vec![
                driven_by(plan, output, alike),
                text(up_or_down(up)),
                phrase(free_in_words(plan, margins, level)),
            ]
        })
    });
    Some([
        Table {
            caption: caption.to_owned(),
            columns: vec![
                words("net"),
                words("driven by"),
                numbers("down at most", "V"),
                numbers("up at least", "V"),
                numbers("left between", "V"),
                numbers("by the book", "V"),
                words("verdict"),
            ],
            rows: rows.collect(),
        },
        Table {
            caption: super::margins::HOW_EACH.to_owned(),
            columns: vec![words("driven by"), words("when"), words("worst case")],
            rows: cases.collect(),
        },
    ])
}
