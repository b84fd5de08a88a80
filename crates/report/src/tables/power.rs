//! Rails, and where the heat goes.

use super::{number, numbers, phrase, text, words};
use crate::decimal;
use crate::table::{Cell, Mark, Table};
use design::model::Design;
use network::power::{Power, RailPower};

/// Every rail with the least and the most it must give.
#[must_use]
pub fn rails(design: &Design, power: &Power) -> Table {
    let rows = design.rails.iter().zip(&power.rails).map(|(rail, power)| {
        let judged = match rail.limit_amps {
            Some(limit) if limit < power.most_amps => {
                Cell::Mark(Mark::Fault, "over its limit".to_owned())
            }
            Some(_) => Cell::Mark(Mark::Pass, "passes".to_owned()),
            None => Cell::Mark(Mark::None, "no limit typed".to_owned()),
        };
        vec![
            text(rail.name.clone()),
            number(rail.volts, 1),
            number(100.0 * rail.tolerance, 1),
            number(1e3 * power.least_amps, 2),
            number(1e3 * power.most_amps, 2),
            number(1e3 * power.cold_amps, 0),
            number(rail.limit_amps.map(|limit| 1e3 * limit), 0),
            number(power.watts, 2),
            phrase(fuse(power)),
            judged,
        ]
    });
    Table {
        caption: "Rails: the least and the most that all units and strings take together"
            .to_owned(),
        columns: vec![
            words("rail"),
            numbers("nominal", "V"),
            numbers("within ±", "%"),
            numbers("least", "mA"),
            numbers("most", "mA"),
            numbers("strings cold", "mA"),
            numbers("limit", "mA"),
            numbers("at most", "W"),
            words("fuse"),
            words("verdict"),
        ],
        rows: rows.collect(),
    }
}

fn fuse(power: &RailPower) -> String {
    let lag = if power.wants_time_lag() {
        ", time-lag"
    } else {
        ""
    };
    match power.fuse_amps {
        Some(amps) if amps < 1.0 => format!("{} mA{lag}", decimal::fixed(1e3 * amps, 0)),
        Some(amps) => format!("{} A{lag}", decimal::fixed(amps, 2)),
        None if 0.0 < power.most_amps => "above the usual".to_owned(),
        None => "none".to_owned(),
    }
}

/// Watts of every board and of the whole machine.
#[must_use]
pub fn heat(design: &Design, power: &Power) -> Table {
    let mut rows: Vec<Vec<Cell>> = power
        .heat
        .iter()
        .map(|heat| {
            vec![
                match heat.board {
                    Some(board) => text(design.boards[board].name.clone()),
                    None => phrase("on no board"),
                },
                number(heat.tubes as f64, 0),
                number(heat.heater_watts, 2),
                number(heat.circuit_watts, 2),
                number(heat.watts(), 2),
            ]
        })
        .collect();
    let sum = |of: fn(&network::power::Heat) -> f64| power.heat.iter().map(of).sum::<f64>();
    rows.push(vec![
        phrase("resistors of strings"),
        phrase(""),
        number(power.string_resistor_watts, 2),
        phrase(""),
        number(power.string_resistor_watts, 2),
    ]);
    rows.push(vec![
        phrase("bleeders"),
        phrase(""),
        phrase(""),
        number(power.bleeder_watts, 2),
        number(power.bleeder_watts, 2),
    ]);
    rows.push(vec![
        phrase("the machine"),
        number(sum(|heat| heat.tubes as f64), 0),
        number(
            sum(|heat| heat.heater_watts) + power.string_resistor_watts,
            2,
        ),
        number(sum(|heat| heat.circuit_watts) + power.bleeder_watts, 2),
        number(power.watts(), 2),
    ]);
    Table {
        caption: "Where the heat goes, every unit at its worst".to_owned(),
        columns: vec![
            words("board"),
            numbers("tubes", ""),
            numbers("heaters", "W"),
            numbers("circuits", "W"),
            numbers("together", "W"),
        ],
        rows,
    }
}
