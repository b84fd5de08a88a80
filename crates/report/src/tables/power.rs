//! Rails, and where the heat goes.

use super::{number, numbers, phrase, text, words};
use crate::decimal;
use crate::table::{Cell, Mark, Table};
use design::model::Design;
use network::power::{Fuse, Heat, Power, RailPower};

/// Every rail by state: all off, the worst that the logic permits, all on.
#[must_use]
pub fn rails(design: &Design, power: &Power) -> Table {
    let rows = design.rails.iter().zip(&power.rails).map(|(rail, power)| {
        vec![
            text(rail.name.clone()),
            number(rail.volts, 1),
            number(100.0 * rail.tolerance, 1),
            number(power.least_amps.map(|amps| 1e3 * amps), 2),
            number(power.worst_amps().map(|amps| 1e3 * amps), 2),
            number(1e3 * power.most_amps, 2),
            number(1e3 * power.cold_amps, 0),
            number(rail.limit_amps.map(|limit| 1e3 * limit), 0),
            number(power.watts, 2),
            phrase(fuse(power)),
            judged(power, rail.limit_amps),
        ]
    });
    Table {
        caption:
            "Rails by state: every unit at its least, the worst state found, every unit at its most"
                .to_owned(),
        columns: vec![
            words("rail"),
            numbers("nominal", "V"),
            numbers("within ±", "%"),
            numbers("all off", "mA"),
            numbers("worst found", "mA"),
            numbers("all on", "mA"),
            numbers("strings cold", "mA"),
            numbers("limit", "mA"),
            numbers("at most", "W"),
            words("fuse"),
            words("verdict"),
        ],
        rows: rows.collect(),
    }
}

/// In a few words, because the column is narrow; the sentences below say more.
fn fuse(power: &RailPower) -> String {
    let lag = if power.wants_time_lag() {
        ", time-lag"
    } else {
        ""
    };
    match power.fuse {
        Fuse::Rated(amps) if amps < 1.0 => format!("{} mA{lag}", decimal::fixed(1e3 * amps, 0)),
        Fuse::Rated(amps) => format!("{} A{lag}", decimal::fixed(amps, 2)),
        Fuse::AboveLimit(_) => "none".to_owned(),
        Fuse::AboveSeries => "above the usual".to_owned(),
        Fuse::NotNeeded => "not needed".to_owned(),
    }
}

/// A rail against its limit: what surely happens, what may happen, what is not known, and what passes.
fn judged(power: &RailPower, limit: Option<f64>) -> Cell {
    let states = [&power.worst, &power.backwards].into_iter().flatten();
    let found = states.map(|state| state.amps.abs()).fold(0.0, f64::max);
    let (mark, words) = match limit {
        Some(limit) if limit < found => (Mark::Fault, "over its limit".to_owned()),
        _ if 0 < power.missing => (Mark::Caution, format!("{} on it not known", power.missing)),
        Some(limit) if limit < power.largest_amps() => {
            (Mark::Caution, "all on over its limit".to_owned())
        }
        Some(limit) if limit < power.cold_amps => {
            (Mark::Caution, "warm within, cold over".to_owned())
        }
        Some(_) => (Mark::Pass, "within its limit".to_owned()),
        None => (Mark::None, "no limit typed".to_owned()),
    };
    Cell::Mark(mark, words)
}

/// What every tube turns into heat, the hottest plates for their rating first.
#[must_use]
pub fn tubes(design: &Design, power: &Power) -> Table {
    let mut tubes: Vec<&network::power::TubeHeat> = power.tubes.iter().collect();
    let share = |tube: &network::power::TubeHeat| tube.plate_share.unwrap_or(-1.0);
    tubes.sort_by(|left, right| share(right).total_cmp(&share(left)));
    let rows = tubes.into_iter().map(|tube| {
        let socket = &design.sockets[tube.socket.0];
        vec![
            text(socket.mark.clone()),
            text(socket.device.name.clone()),
            number(tube.plate_watts, 3),
            number(tube.plate_share.map(|share| 100.0 * share), 1),
            number(tube.grid_watts, 3),
            number(tube.heater_watts, 2),
            number(tube.watts(), 2),
        ]
    });
    Table {
        caption: "Watts of every tube, each half at its worst".to_owned(),
        columns: vec![
            words("tube"),
            words("type"),
            numbers("plates", "W"),
            numbers("of their rating", "%"),
            numbers("grids", "W"),
            numbers("heater", "W"),
            numbers("bulb", "W"),
        ],
        rows: rows.collect(),
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
    let sum = |of: fn(&Heat) -> f64| power.heat.iter().map(of).sum::<f64>();
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
