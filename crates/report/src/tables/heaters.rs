//! Heater strings and rail currents.

use super::{number, numbers, text, words};
use crate::table::{Cell, Mark, Table};
use design::model::SocketId;
use devices::types::{Electrode, Section};
use network::bench::node_of;
use network::heaters::HeaterReading;
use network::verdict::Verdict;

/// Every heater with its volts, and how far it is from the cathodes of its tube.
#[must_use]
pub fn heaters(verdict: &Verdict) -> Table {
    let design = verdict.plan.design;
    let rows = verdict.heaters.readings.iter().map(|reading| {
        let socket = &design.sockets[reading.socket.0];
        let apart = heater_to_cathode(verdict, reading);
        vec![
            text(design.strings[reading.string].name.clone()),
            text(socket.mark.clone()),
            text(socket.device.name.clone()),
            number(reading.first_volts, 2),
            number(reading.second_volts, 2),
            number((reading.first_volts - reading.second_volts).abs(), 2),
            number(100.0 * reading.share(), 1),
            number(1e3 * reading.amps.abs(), 1),
            number(apart.map(|pair| pair.0), 1),
            number(apart.map(|pair| pair.1), 1),
            judged(verdict, reading.socket),
        ]
    });
    Table {
        caption: "Heaters in the order of their strings".to_owned(),
        columns: vec![
            words("string"),
            words("tube"),
            words("type"),
            numbers("from", "V"),
            numbers("to", "V"),
            numbers("across", "V"),
            numbers("of rating", "%"),
            numbers("current", "mA"),
            numbers("heater above cathode at most", "V"),
            numbers("below at most", "V"),
            words("verdict"),
        ],
        rows: rows.collect(),
    }
}

/// Whether a finding on heaters names this tube or a string that it is in.
fn judged(verdict: &Verdict, socket: SocketId) -> Cell {
    let design = verdict.plan.design;
    let mark = &design.sockets[socket.0].mark;
    let strings = verdict
        .heaters
        .readings
        .iter()
        .filter(|reading| reading.socket == socket);
    let names: Vec<String> = strings
        .map(|reading| format!("string {}", design.strings[reading.string].name))
        .collect();
    let worst = verdict
        .heaters
        .findings
        .iter()
        .flat_map(|finding| finding.consequences.iter().chain([finding]))
        .filter(|finding| finding.subject == *mark || names.contains(&finding.subject))
        .map(|finding| finding.severity)
        .max();
    match worst {
        Some(text::diagnostic::Severity::Fault) => {
            Cell::Mark(Mark::Fault, "see findings".to_owned())
        }
        Some(text::diagnostic::Severity::Caution) => {
            Cell::Mark(Mark::Caution, "see findings".to_owned())
        }
        _ => Cell::Mark(Mark::Pass, "passes".to_owned()),
    }
}

/// The most that a heater's ends stand above and below the cathodes of its tube in any row, V, 0 for never; `None` for a filament and
/// where no unit uses the tube.
#[must_use]
pub fn heater_to_cathode(verdict: &Verdict, reading: &HeaterReading) -> Option<(f64, f64)> {
    let design = verdict.plan.design;
    let device = &design.sockets[reading.socket.0].device;
    if device.heater.as_ref().is_none_or(|heater| heater.direct) {
        return None;
    }
    let mut range: Option<(f64, f64)> = None;
    for section in [Section::A, Section::B] {
        let Some((unit, node)) = node_of(design, reading.socket, Electrode::Cathode, section)
        else {
            continue;
        };
        let rows = verdict.place.results[unit.0]
            .rows
            .iter()
            .filter(|row| row.outcome.settled());
        for volts in rows.map(|row| row.volts[node]) {
            range = Some(range.map_or((volts, volts), |(low, high)| {
                (low.min(volts), high.max(volts))
            }));
        }
    }
    let (low, high) = range?;
    let ends = (
        reading.first_volts.min(reading.second_volts),
        reading.first_volts.max(reading.second_volts),
    );
    Some(((ends.1 - low).max(0.0), (high - ends.0).max(0.0)))
}

/// Every rail with the most it must give.
#[must_use]
pub fn rails(verdict: &Verdict) -> Table {
    let rows = verdict
        .plan
        .design
        .rails
        .iter()
        .zip(&verdict.rail_amps)
        .map(|(rail, &amps)| {
            let judged = match rail.limit_amps {
                Some(limit) if limit < amps => Cell::Mark(Mark::Fault, "over its limit".to_owned()),
                Some(_) => Cell::Mark(Mark::Pass, "passes".to_owned()),
                None => Cell::Mark(Mark::None, "no limit typed".to_owned()),
            };
            vec![
                text(rail.name.clone()),
                number(rail.volts, 1),
                number(100.0 * rail.tolerance, 1),
                number(1e3 * amps, 2),
                number(rail.limit_amps.map(|limit| 1e3 * limit), 0),
                judged,
            ]
        });
    Table {
        caption: "Rails, every unit at its worst together".to_owned(),
        columns: vec![
            words("rail"),
            numbers("nominal", "V"),
            numbers("within ±", "%"),
            numbers("current", "mA"),
            numbers("limit", "mA"),
            words("verdict"),
        ],
        rows: rows.collect(),
    }
}
