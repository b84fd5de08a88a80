//! Switch-on: what every case does, and how the heaters may be brought up.

use super::{number, numbers, phrase, text, words};
use crate::sentence::{shown, supply};
use crate::table::{Cell, Mark, Table};
use ::text::quantity::Unit;
use network::switch_on::{Case, Conditions, Overload, SwitchOn, Tubes};
use network::verdict::Verdict;

/// Every table on switching on that has something in it.
#[must_use]
pub fn switch_on(verdict: &Verdict) -> Vec<Table> {
    let all = [
        cases(verdict),
        soft_starts(verdict, &verdict.switch_on),
        strings(verdict),
    ];
    all.into_iter()
        .filter(|table| !table.rows.is_empty())
        .collect()
}

/// Every case with what stands nearest to its rating.
fn cases(verdict: &Verdict) -> Table {
    let rows = verdict.switch_on.cases.iter().map(|case| {
        let grids = case.grid_volts;
        vec![
            phrase(missing(verdict, &case.conditions)),
            phrase(match case.tubes {
                Tubes::Warm => "warm",
                Tubes::PartlyCold => "those that it heats cold",
                Tubes::Cold => "cold",
            }),
            number(case.plate_volts, 1),
            number(grids.map(|grids| grids.0), 2),
            number(grids.map(|grids| grids.1), 2),
            phrase(case.nearest.as_ref().map_or_else(String::new, nearest)),
            number(
                case.nearest.as_ref().map(|nearest| 100.0 * nearest.share()),
                0,
            ),
            judged(case),
        ]
    });
    Table {
        caption: "Switch-on: where plates and grids stand, and what comes nearest to its rating"
            .to_owned(),
        columns: vec![
            words("rail missing"),
            words("tubes"),
            numbers("plates to", "V"),
            numbers("grids from", "V"),
            numbers("to", "V"),
            words("nearest to its rating"),
            numbers("of it", "%"),
            words("verdict"),
        ],
        rows: rows.collect(),
    }
}

fn missing(verdict: &Verdict, conditions: &Conditions) -> String {
    let rails = &verdict.plan.design.rails;
    let names: Vec<&str> = conditions
        .missing
        .iter()
        .map(|rail| rails[rail.0].name.as_str())
        .collect();
    if names.is_empty() {
        "none".to_owned()
    } else {
        names.join(", ")
    }
}

fn nearest(overload: &Overload) -> String {
    format!(
        "{}: {} {} of {}",
        overload.subject,
        overload.what,
        shown(overload.has, overload.unit),
        shown(overload.limit, overload.unit)
    )
}

fn judged(case: &Case) -> Cell {
    if !case.overloads.is_empty() {
        let mark = if case.conditions.missing.is_empty() {
            Mark::Fault
        } else {
            Mark::Caution
        };
        return Cell::Mark(mark, "over a rating".to_owned());
    }
    if !case.known {
        return Cell::Mark(Mark::None, "not all known".to_owned());
    }
    match &case.nearest {
        Some(nearest) if 1.0 < nearest.share() => Cell::Mark(Mark::None, "not counted".to_owned()),
        _ => Cell::Mark(Mark::Pass, "passes".to_owned()),
    }
}

/// The resistors proposed before the heaters, in the order in which they are shorted.
fn soft_starts(verdict: &Verdict, switch_on: &SwitchOn) -> Table {
    let mut rows = Vec::new();
    for soft in &switch_on.soft_starts {
        if soft.steps.is_empty() && !soft.strings.is_empty() {
            rows.push(vec![
                phrase(supply(verdict, soft)),
                number(soft.running_amps, 3),
                number(soft.cold_amps, 3),
                phrase("none wanted"),
            ]);
        }
        for (index, step) in soft.steps.iter().enumerate() {
            let next = soft
                .steps
                .get(index + 1)
                .map_or(soft.last_amps, |next| next.amps);
            let known = !soft.passing.is_empty();
            rows.push(vec![
                phrase(supply(verdict, soft)),
                number(soft.running_amps, 3),
                number(soft.cold_amps, 3),
                phrase(shown(step.ohms, Unit::Ohm)),
                number(step.watts, 1),
                number(step.amps, 3),
                number(100.0 * step.share, 0),
                number(Some(step.seconds).filter(|_| known), 0),
                number(next, 3),
            ]);
        }
    }
    Table {
        caption: "Soft start, proposed: resistors before the strings of a supply that have no thermistor, one after the other shorted".to_owned(),
        columns: vec![
            words("supply"),
            numbers("running", "A"),
            numbers("cold without", "A"),
            words("resistor"),
            numbers("takes up to", "W"),
            numbers("begins with", "A"),
            numbers("strings get", "%"),
            numbers("short after", "s"),
            numbers("then", "A"),
        ],
        rows,
    }
}

/// What every string goes through behind the resistors.
fn strings(verdict: &Verdict) -> Table {
    let design = verdict.plan.design;
    let all = verdict
        .switch_on
        .soft_starts
        .iter()
        .flat_map(|soft| &soft.passing);
    let rows = all.map(|passing| {
        let mut readings = verdict.heaters.readings.iter();
        let tube = readings
            .find(|reading| reading.string == passing.string && reading.link == passing.link)
            .map_or(String::new(), |reading| {
                design.sockets[reading.socket.0].mark.clone()
            });
        vec![
            text(design.strings[passing.string].name.clone()),
            text(tube),
            number(passing.volts, 2),
            number(100.0 * passing.share, 1),
            number(passing.seconds, 0),
        ]
    });
    Table {
        caption: "What the strings go through with it: the heater that passes its rating most"
            .to_owned(),
        columns: vec![
            words("string"),
            words("tube"),
            numbers("highest", "V"),
            numbers("of rating", "%"),
            numbers("after", "s"),
        ],
        rows: rows.collect(),
    }
}
