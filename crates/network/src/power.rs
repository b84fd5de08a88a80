//! What the supplies must give, which fuse that asks for, and where the heat goes.

use crate::judge::MemberResult;
use crate::verdict::Verdict;
use design::model::{SocketId, Terminal, UnitId};

/// One rail with everything on it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RailPower {
    /// The sum over all units of the least that each takes in any row, A, with its bleeder and the heater strings that begin or end on it.
    pub least_amps: f64,
    /// The same with the most: an upper bound, the units need not be at their worst together.
    pub most_amps: f64,
    /// The most, with its strings just switched on cold (usual hot over cold resistance), A.
    pub cold_amps: f64,
    /// What it gives at the most, W; at its nominal volts.
    pub watts: f64,
    /// The fuse proposed, A; `None` where nothing flows or no usual one is large enough.
    pub fuse_amps: Option<f64>,
}

impl RailPower {
    /// A quick fuse would not stand the cold strings.
    #[must_use]
    pub fn wants_time_lag(&self) -> bool {
        self.fuse_amps.is_some_and(|fuse| fuse < self.cold_amps)
    }
}

/// What stands on one board, or on none.
#[derive(Debug, Clone, PartialEq)]
pub struct Heat {
    /// Index into the design's boards; `None` for what stands on none.
    pub board: Option<usize>,
    /// Sockets.
    pub tubes: usize,
    /// Heaters, W.
    pub heater_watts: f64,
    /// All other parts, every unit in the row in which it takes most, W.
    pub circuit_watts: f64,
}

impl Heat {
    /// Heaters and circuits together, W.
    #[must_use]
    pub fn watts(&self) -> f64 {
        self.heater_watts + self.circuit_watts
    }
}

/// The whole machine.
#[derive(Debug, Clone, PartialEq)]
pub struct Power {
    /// In the order of the design.
    pub rails: Vec<RailPower>,
    /// Boards in the order of the design, then what stands on none, if anything does.
    pub heat: Vec<Heat>,
    /// Resistors of the heater strings, W.
    pub string_resistor_watts: f64,
    /// Bleeders of the rails, W.
    pub bleeder_watts: f64,
}

impl Power {
    /// Everything that ends as heat in the room, W, losses of the supplies left out.
    #[must_use]
    pub fn watts(&self) -> f64 {
        self.heat.iter().map(Heat::watts).sum::<f64>()
            + self.string_resistor_watts
            + self.bleeder_watts
    }
}

/// Rated currents of miniature fuses, A: IEC 60127, series R10 (from memory).
const FUSES: [f64; 26] = [
    0.032, 0.040, 0.050, 0.063, 0.080, 0.100, 0.125, 0.160, 0.200, 0.250, 0.315, 0.400, 0.500,
    0.630, 0.800, 1.00, 1.25, 1.60, 2.00, 2.50, 3.15, 4.00, 5.00, 6.30, 8.00, 10.0,
];

/// A fuse carries at most two thirds of its rating for ever: chosen, so that neither ageing nor a warm case blows it.
const FUSE_FACTOR: f64 = 1.5;

fn fuse(amps: f64) -> Option<f64> {
    let wanted = FUSE_FACTOR * amps;
    FUSES
        .into_iter()
        .find(|fuse| 0.0 < wanted && wanted <= *fuse)
}

/// Adds it up.
#[must_use]
pub fn power(verdict: &Verdict) -> Power {
    Power {
        rails: rails(verdict),
        heat: heat(verdict),
        string_resistor_watts: string_resistor_watts(verdict),
        bleeder_watts: verdict
            .plan
            .design
            .rails
            .iter()
            .filter_map(|rail| Some(rail.volts * rail.volts / rail.bleeder_ohms?))
            .sum(),
    }
}

fn rails(verdict: &Verdict) -> Vec<RailPower> {
    let design = verdict.plan.design;
    // The most is what the verdict has found; the least is that, less what each unit takes less in another row.
    let of = |(rail, &most): (&design::model::Rail, &f64)| {
        let spare = |result: &MemberResult| {
            let rows = result.rows.iter().filter(|row| row.counts());
            let amps = rows.map(|row| row.rail_amps.get(&rail.net.0).copied().unwrap_or(0.0).abs());
            let (low, high) = amps.fold((f64::INFINITY, 0.0_f64), |(low, high), amps| {
                (low.min(amps), high.max(amps))
            });
            (high - low).max(0.0)
        };
        let results = verdict.place.results.iter();
        let strings = design.strings.iter().zip(&verdict.heaters.strings);
        let extra = strings.map(|(string, reading)| {
            let ends = [string.from, string.to];
            let on = ends.iter().filter(|end| **end == Terminal::Net(rail.net));
            let cold = reading
                .cold_amps
                .map_or(0.0, |amps| amps[1] - reading.amps.abs());
            on.count() as f64 * cold
        });
        RailPower {
            least_amps: most - results.map(spare).sum::<f64>(),
            most_amps: most,
            cold_amps: most + extra.sum::<f64>(),
            watts: most * rail.volts.abs(),
            fuse_amps: fuse(most),
        }
    };
    design
        .rails
        .iter()
        .zip(&verdict.rail_amps)
        .map(of)
        .collect()
}

fn heat(verdict: &Verdict) -> Vec<Heat> {
    let design = verdict.plan.design;
    let mut board_of_unit: Vec<Option<usize>> = vec![None; design.units.len()];
    for (board, carried) in design.boards.iter().enumerate() {
        for &UnitId(unit) in &carried.units {
            board_of_unit[unit] = Some(board);
        }
    }
    let mut all: Vec<Heat> = (0..design.boards.len())
        .map(Some)
        .chain([None])
        .map(|board| Heat {
            board,
            tubes: 0,
            heater_watts: 0.0,
            circuit_watts: 0.0,
        })
        .collect();
    let last = all.len() - 1;
    for (unit, result) in verdict
        .place
        .results
        .iter()
        .enumerate()
        .take(design.units.len())
    {
        let rows = result.rows.iter().filter(|row| row.counts());
        let watts = rows.map(|row| row.parts.iter().map(|part| part.watts).sum::<f64>());
        all[board_of_unit[unit].unwrap_or(last)].circuit_watts += watts.fold(0.0, f64::max);
    }
    for (index, socket) in design.sockets.iter().enumerate() {
        let unit = socket
            .halves
            .iter()
            .flatten()
            .next()
            .map(|(unit, _)| unit.0);
        let heat = &mut all[unit.and_then(|unit| board_of_unit[unit]).unwrap_or(last)];
        heat.tubes += 1;
        let readings = verdict.heaters.readings.iter();
        heat.heater_watts += readings
            .filter(|reading| reading.socket == SocketId(index))
            .map(|reading| reading.across() * reading.amps.abs())
            .sum::<f64>();
    }
    all.retain(|heat| heat.board.is_some() || 0 < heat.tubes || 0.0 < heat.circuit_watts);
    all
}

/// What the strings take beyond their heaters: in resistors, thermistors, ballast tubes, wire.
fn string_resistor_watts(verdict: &Verdict) -> f64 {
    let strings = verdict.heaters.strings.iter();
    let all: f64 = strings.map(|reading| (reading.across() * reading.amps).abs()).sum();
    let heaters = verdict.heaters.readings.iter();
    let heaters: f64 = heaters.map(|reading| (reading.across() * reading.amps).abs()).sum();
    (all - heaters).max(0.0)
}
