//! The marginal check as tables: what every rail does, the sheet for the bench, and who is to blame.

use super::{inputs_up, number, numbers, phrase, text, up_or_down, words};
use crate::sentence;
use crate::table::{Cell, Table};
use network::margins::cases::stands;
use network::margins::marginal::{MarginalCheck, Moved, Near, Suspect, Why};
use network::verdict::Verdict;

/// Nets to read where a machine fails too early: chosen, as many as one looks at before thinking anew.
pub(crate) const READ: usize = 3;

/// How far each rail can be moved each way.
#[must_use]
pub fn moved_rails(verdict: &Verdict, check: &MarginalCheck) -> Table {
    let rows = check.order.iter().enumerate().map(|(index, &place)| {
        let moved = &check.moved[place];
        let rail = &verdict.plan.design.rails[moved.rail.0];
        let way = if moved.larger {
            "from ground"
        } else {
            "towards ground"
        };
        let first = moved.first();
        let name = |near: &Near| verdict.plan.nets[near.net].name.clone();
        vec![
            Cell::Number {
                value: (index + 1) as f64,
                digits: 0,
            },
            text(rail.name.clone()),
            phrase(way),
            number(rail.volts, 2),
            number(moved.stands, 2),
            number(100.0 * (moved.stands / rail.volts - 1.0).abs(), 1),
            match (&moved.why, first, &moved.stopped) {
                (Some(Why::Loses(members)), ..) => phrase(sentence::lose_a_state(verdict, members)),
                (Some(Why::NotKnown), ..) => {
                    phrase("a gate no longer amplifies or comes to no rest")
                }
                (_, Some(near), _) => text(name(near)),
                (_, None, Some(stop)) => phrase(sentence::stopped_by(stop)),
                (_, None, None) => phrase("nothing"),
            },
            phrase(match (&moved.why, first) {
                (Some(Why::Short), Some(near)) => up_or_down(near.up),
                _ => "",
            }),
        ]
    });
    Table {
        caption: "How far each rail can be moved alone, every part at its book value".to_owned(),
        columns: vec![
            numbers("step", ""),
            words("rail"),
            words("moved"),
            numbers("as typed", "V"),
            numbers("stands to", "V"),
            numbers("by", "%"),
            words("fails first"),
            words("when"),
        ],
        rows: rows.collect(),
    }
}

/// The nets with least to spare at the last volts that stand, no net twice.
pub(crate) fn to_read(moved: &Moved) -> Vec<&Near> {
    let mut nets: Vec<&Near> = Vec::new();
    for near in moved.next.iter().filter(|_| moved.is_step()) {
        if nets.iter().all(|other| other.net != near.net) {
            nets.push(near);
        }
        if nets.len() == READ {
            break;
        }
    }
    nets
}

/// The inputs of the driver that are up for a side of a connection: `a c`, `none`; empty for a switch.
pub(crate) fn set_up(verdict: &Verdict, near: &Near) -> String {
    match near.driver {
        Some((member, _)) => inputs_up(verdict.plan.circuit(member), &near.inputs),
        None => String::new(),
    }
}

/// The sheet for the bench: of every step the volts to set, and what to read there.
#[must_use]
pub fn bench_sheet(verdict: &Verdict, check: &MarginalCheck) -> Table {
    let rows = check.order.iter().enumerate().flat_map(|(index, &place)| {
        let moved = &check.moved[place];
        let rail = &verdict.plan.design.rails[moved.rail.0].name;
        let set = format!("{rail} {}", sentence::exact_volts(moved.stands));
        let nets = to_read(moved).into_iter().enumerate();
        nets.map(move |(order, near)| {
            let step = match order {
                0 => (index + 1).to_string(),
                _ => String::new(),
            };
            let driver = sentence::driven_by(&verdict.plan, near.driver);
            vec![
                text(step),
                phrase(if order == 0 {
                    set.clone()
                } else {
                    String::new()
                }),
                text(verdict.plan.nets[near.net].name.clone()),
                text(driver),
                text(sentence::pin_name(&verdict.plan, near.load)),
                text(set_up(verdict, near)),
                phrase(up_or_down(near.up)),
                number(near.level, 2),
                phrase(if near.up { "above" } else { "below" }),
                number(near.threshold, 2),
            ]
        })
    });
    Table {
        caption: "Sheet for the bench: set one rail, the others as typed; what a good machine reads there, first, second, third"
            .to_owned(),
        columns: vec![
            words("step"),
            words("set"),
            words("read net"),
            words("driven by"),
            words("drives"),
            words("inputs up"),
            words("is"),
            numbers("reads", "V"),
            words("must be"),
            numbers("threshold", "V"),
        ],
        rows: rows.collect(),
    }
}

/// What may be to blame alone, what is least off for its band first.
#[must_use]
pub fn suspects(verdict: &Verdict, suspects: &[Suspect]) -> Table {
    let rows = suspects.iter().map(|suspect| {
        let plan = &verdict.plan;
        let circuit = plan.circuit(suspect.member);
        let (tube, _) = sentence::tube_of(verdict, suspect.member, suspect.part);
        let tells = suspect.tells.as_ref();
        vec![
            text(plan.members[suspect.member].name.clone()),
            text(circuit.parts[suspect.part].mark.clone()),
            text(tube),
            phrase(stands(suspect.quantity, suspect.value, false, None)),
            suspect
                .times_its_band
                .map_or_else(|| text(String::new()), |times| number(times, 2)),
            text(format!(
                "{} {}",
                plan.nets[suspect.net].name,
                up_or_down(suspect.up)
            )),
            text(tells.map_or_else(String::new, |tells| {
                format!("{} {}", plan.nets[tells.net].name, up_or_down(tells.up))
            })),
            tells.map_or_else(|| text(String::new()), |tells| number(tells.volts, 2)),
            tells.map_or_else(|| text(String::new()), |tells| number(tells.book_volts, 2)),
        ]
    });
    Table {
        caption: "What may be to blame, alone: what is least off for its band first".to_owned(),
        columns: vec![
            words("unit"),
            words("part"),
            words("tube"),
            words("would be"),
            numbers("times its band", ""),
            words("then fails"),
            words("tells, as typed"),
            numbers("it reads", "V"),
            numbers("good reads", "V"),
        ],
        rows: rows.collect(),
    }
}
