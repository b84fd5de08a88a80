//! The marginal check as tables: what every rail does, the sheet for the bench, and who is to blame.

use super::{number, numbers, phrase, text, up_or_down, words};
use crate::sentence;
use crate::table::{Cell, Table};
use network::margins::cases::stands;
use network::margins::marginal::{Apart, MarginalCheck, Moved, Near, Place, Suspect};
use network::verdict::Verdict;

/// Nets with the least to spare that a record names of a step: chosen.
pub(crate) const READ: usize = 3;

/// How far each rail can be moved each way, with the tube that gives way first and in which state.
#[must_use]
pub fn moved_rails(verdict: &Verdict, check: &MarginalCheck) -> Table {
    let rows = check.order.iter().enumerate().map(|(index, &place)| {
        let moved = &check.moved[place];
        let rail = &verdict.plan.design.rails[moved.rail.0];
        let way = if moved.larger {
            "away from ground"
        } else {
            "towards ground"
        };
        let first = moved.first.as_ref();
        let tube = first.and_then(|first| sentence::tube_that_gives_way(verdict, first));
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
            phrase(match (first, &moved.stopped) {
                (Some(first), _) => sentence::what_fails(verdict, first),
                (None, Some(stop)) => sentence::stopped_by(stop),
                (None, None) => "nothing".to_owned(),
            }),
            phrase(tube.unwrap_or_default()),
            text(first.map_or_else(String::new, |first| {
                sentence::state(&verdict.plan, first.state.iter())
            })),
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
            words("tube"),
            words("in state"),
        ],
        rows: rows.collect(),
    }
}

/// The nets with least to spare at the last volts that stand, no net twice; none of a step that ends at a lamp or load.
pub(crate) fn to_read(moved: &Moved) -> Vec<&Near> {
    let mut nets: Vec<&Near> = Vec::new();
    let first = moved.first.as_ref();
    let at_a_part = first.is_some_and(|first| first.not_done.is_some());
    for near in moved.next.iter().filter(|_| moved.is_step() && !at_a_part) {
        if nets.iter().all(|other| other.net != near.net) {
            nets.push(near);
        }
        if nets.len() == READ {
            break;
        }
    }
    nets
}

/// The sheet for the bench: of every step the volts to set, and what to read there first.
#[must_use]
pub fn bench_sheet(verdict: &Verdict, check: &MarginalCheck) -> Table {
    let rows = check
        .order
        .iter()
        .enumerate()
        .filter_map(|(index, &place)| {
            let moved = &check.moved[place];
            let first = moved.failure(&verdict.plan)?;
            let rail = &verdict.plan.design.rails[moved.rail.0].name;
            let near = first.near.as_ref();
            let volts = |volts: Option<f64>| {
                volts.map_or_else(|| text(String::new()), |volts| number(volts, 2))
            };
            let point = near.map(|near| sentence::meter_at(verdict, Place::Net(near.net)));
            let lamp = first.not_done.as_ref();
            let point = point.or_else(|| lamp.map(|finding| finding.subject.clone()));
            let must = match (near, lamp) {
                (Some(near), _) if near.up => "above".to_owned(),
                (Some(_), _) => "below".to_owned(),
                (None, lamp) => lamp.map(sentence::must_do).unwrap_or_default(),
            };
            Some(vec![
                text((index + 1).to_string()),
                phrase(format!("{rail} {}", sentence::exact_volts(moved.stands))),
                text(sentence::state(&verdict.plan, first.state.iter())),
                phrase(point.unwrap_or_default()),
                volts(near.map(|near| near.level)),
                phrase(must),
                volts(near.map(|near| near.threshold)),
            ])
        });
    Table {
        caption: "Sheet for the bench: set one rail, the others as typed; what a good machine reads there".to_owned(),
        columns: vec![
            words("step"),
            words("set"),
            words("in state"),
            words("read at"),
            numbers("reads", "V"),
            words("must be"),
            numbers("threshold", "V"),
        ],
        rows: rows.collect(),
    }
}

/// What tells the suspects of a step apart: what each place reads, for a good machine and for whatever is to blame.
#[must_use]
pub fn told_apart(verdict: &Verdict, step: usize, rail: &str, apart: &Apart) -> Table {
    let readings = |name: String, volts: &[f64]| {
        let volts = volts.iter().map(|volts| number(*volts, 2));
        std::iter::once(phrase(name)).chain(volts).collect()
    };
    let mut rows: Vec<Vec<Cell>> =
        vec![readings("nothing: a good machine".to_owned(), &apart.good)];
    rows.extend(apart.rows.iter().map(|row| {
        readings(
            sentence::suspects_in_words(verdict, &row.suspects),
            &row.volts,
        )
    }));
    let mut columns = vec![words("if to blame is")];
    columns.extend(
        apart
            .places
            .iter()
            .map(|place| numbers(sentence::meter_at(verdict, *place), "V")),
    );
    Table {
        caption: format!(
            "Step {step}, where the machine first fails with {rail} near {}: what is read with the rails as typed",
            sentence::exact_volts(apart.fails_at)
        ),
        columns,
        rows: if apart.places.is_empty() {
            Vec::new()
        } else {
            rows
        },
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
