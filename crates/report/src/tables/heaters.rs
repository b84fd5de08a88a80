//! Heater strings.

use super::{number, numbers, text, words};
use crate::table::{Cell, Mark, Table};
use design::model::SocketId;
use network::heaters::Reach;
use network::heaters::cathode::apart;
use network::verdict::Verdict;

/// Every heater with its volts, and how far it is from the cathodes of its tube.
#[must_use]
pub fn heaters(verdict: &Verdict) -> Table {
    let design = verdict.plan.design;
    let rows = verdict.heaters.readings.iter().map(|reading| {
        let socket = &design.sockets[reading.socket.0];
        let apart = apart(&verdict.plan, reading, &verdict.place.results);
        vec![
            text(socket.mark.clone()),
            text(design.strings[reading.string].name.clone()),
            text(socket.device.name.clone()),
            number(reading.first_volts, 2),
            number(reading.second_volts, 2),
            number(reading.across(), 2),
            number(100.0 * reading.share(), 1),
            number(1e3 * reading.amps.abs(), 1),
            number(apart.map(|pair| pair.0), 1),
            number(apart.map(|pair| pair.1), 1),
            judged(verdict, reading.socket),
        ]
    });
    Table {
        caption: "Heaters in the order of their strings, and the most that they stand above and below their cathodes".to_owned(),
        columns: vec![
            words("tube"),
            words("string"),
            words("type"),
            numbers("from", "V"),
            numbers("to", "V"),
            numbers("across", "V"),
            numbers("of rating", "%"),
            numbers("current", "mA"),
            numbers("above cathode", "V"),
            numbers("below cathode", "V"),
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

/// Every string with its current, warm and when it is switched on cold.
#[must_use]
pub fn strings(verdict: &Verdict) -> Table {
    let strings = verdict.plan.design.strings.iter();
    let rows = strings
        .zip(&verdict.heaters.strings)
        .map(|(string, reading)| {
            let cold = |place: usize| reading.cold_amps.map(|amps| 1e3 * amps[place]);
            vec![
                text(string.name.clone()),
                number(reading.amps.map(|amps| 1e3 * amps.abs()), 1),
                number(cold(0), 0),
                number(cold(1), 0),
                number(cold(2), 0),
            ]
        });
    Table {
        caption: "Heater strings: current when warm, and when switched on cold".to_owned(),
        columns: vec![
            words("string"),
            numbers("warm", "mA"),
            numbers("cold at least", "mA"),
            numbers("cold usually", "mA"),
            numbers("cold at most", "mA"),
        ],
        rows: rows.collect(),
    }
}

/// What every heater may meet, in percent of its rated volts.
#[must_use]
pub fn heater_reach(verdict: &Verdict) -> Table {
    let design = verdict.plan.design;
    let rows = verdict.heaters.readings.iter().map(|reading| {
        let percent = |volts: fn(&Reach) -> Option<f64>| {
            let volts = reading.reach.as_ref().and_then(volts);
            number(volts.map(|volts| 100.0 * volts / reading.rated_volts), 1)
        };
        vec![
            text(design.sockets[reading.socket.0].mark.clone()),
            text(design.strings[reading.string].name.clone()),
            percent(|reach| Some(reach.supply.0)),
            percent(|reach| Some(reach.supply.1)),
            percent(|reach| Some(reach.spread.0)),
            percent(|reach| Some(reach.spread.1)),
            percent(|reach| Some(reach.passing?.0)),
            percent(|reach| reach.passing_at_worst),
        ]
    });
    Table {
        caption: "What every heater may meet, in percent of its rated volts".to_owned(),
        columns: vec![
            words("tube"),
            words("string"),
            numbers("supply low", "%"),
            numbers("supply high", "%"),
            numbers("least with spread", "%"),
            numbers("most with spread", "%"),
            numbers("warming up", "%"),
            numbers("if quick", "%"),
        ],
        rows: rows.collect(),
    }
}
