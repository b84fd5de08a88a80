//! What the supplies must give in which state, which fuse that asks for, and where the heat goes.

use crate::judge::{MemberResult, PartReading, RowResult};
use crate::rail_states::{Effort, RailState, RailStates, rail_states};
use crate::rails::share_of_string;
use crate::verdict::Verdict;
use design::model::{PartKind, SocketId, UnitId};

/// One rail with everything on it. Currents are positive as the supply gives them, see [`crate::rails`].
#[derive(Debug, Clone, PartialEq)]
pub struct RailPower {
    /// All off: the sum over all units of the least that each takes in any row, A, with its bleeder and the heater strings
    /// that begin or end on it; `None` when something on it is not known.
    pub least_amps: Option<f64>,
    /// All on: the same with the most, an upper bound, the units need not be at their worst together.
    pub most_amps: f64,
    /// The state found in which it gives most, with bleeder and strings.
    pub worst: Option<RailState>,
    /// The state found in which it is fed backwards most, where there is one; its amps are negative.
    pub backwards: Option<RailState>,
    /// The most, with its strings just switched on cold (usual hot over cold resistance), A.
    pub cold_amps: f64,
    /// What it gives at the most, W; at its nominal volts.
    pub watts: f64,
    /// The fuse proposed.
    pub fuse: Fuse,
    /// Units and strings on it whose current is not known, and which are in none of the sums.
    pub missing: usize,
}

/// What is proposed for a rail; it is chosen for the most, and protects the wiring.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fuse {
    /// Nothing flows.
    NotNeeded,
    /// Rated current, A.
    Rated(f64),
    /// The fuse that would carry the most, A, is rated above the rail's limit: the supply cannot blow it.
    AboveLimit(f64),
    /// No usual one is large enough.
    AboveSeries,
}

impl Fuse {
    /// Its rated current, A, if one fits.
    #[must_use]
    pub fn amps(self) -> Option<f64> {
        match self {
            Self::Rated(amps) => Some(amps),
            Self::NotNeeded | Self::AboveLimit(_) | Self::AboveSeries => None,
        }
    }

    /// Rated current of the one that would fit and is rated above the limit, A.
    #[must_use]
    pub fn above_limit_amps(self) -> Option<f64> {
        match self {
            Self::AboveLimit(amps) => Some(amps),
            Self::NotNeeded | Self::Rated(_) | Self::AboveSeries => None,
        }
    }
}

impl RailPower {
    /// A quick fuse would not stand the cold strings.
    #[must_use]
    pub fn wants_time_lag(&self) -> bool {
        self.fuse.amps().is_some_and(|fuse| fuse < self.cold_amps)
    }

    /// The fuse blows for certain only above the rail's limit, so that a supply which holds its current there may leave it
    /// whole.
    #[must_use]
    pub fn may_not_blow(&self, limit_amps: Option<f64>) -> bool {
        let fuse = self.fuse.amps();
        fuse.zip(limit_amps)
            .is_some_and(|(fuse, limit)| limit < FUSE_BLOWS * fuse)
    }

    /// The current of the worst state found, A; of a rail on which nothing changes, the one that it has in every state.
    #[must_use]
    pub fn worst_amps(&self) -> Option<f64> {
        let worst = self.worst.as_ref().map(|state| state.amps);
        let steady = self.least_amps == Some(self.most_amps);
        worst.or(steady.then_some(self.most_amps))
    }

    /// The largest current either way that any bound allows, A.
    #[must_use]
    pub fn largest_amps(&self) -> f64 {
        self.most_amps.max(-self.least_amps.unwrap_or(0.0))
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

/// One tube, each of its halves in the row in which it takes most, W.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TubeHeat {
    /// Which tube.
    pub socket: SocketId,
    /// Plates; `None` when one of its halves is not solved.
    pub plate_watts: Option<f64>,
    /// Screens and grids; as the plates.
    pub grid_watts: Option<f64>,
    /// Heater; `None` when not known.
    pub heater_watts: Option<f64>,
    /// The highest share of a rating of its plates, one or both; `None` where none is known.
    pub plate_share: Option<f64>,
}

impl TubeHeat {
    /// What the bulb gives off, W; `None` when a part of it is not known.
    #[must_use]
    pub fn watts(&self) -> Option<f64> {
        Some(self.plate_watts? + self.grid_watts? + self.heater_watts?)
    }
}

/// The whole machine.
#[derive(Debug, Clone, PartialEq)]
pub struct Power {
    /// In the order of the design.
    pub rails: Vec<RailPower>,
    /// What the states of the rails are states of.
    pub states: RailStates,
    /// In the order of the design's sockets.
    pub tubes: Vec<TubeHeat>,
    /// Boards in the order of the design, then what stands on none, if anything does.
    pub heat: Vec<Heat>,
    /// Resistors of the heater strings, W.
    pub string_resistor_watts: f64,
    /// Bleeders of the rails, W.
    pub bleeder_watts: f64,
    /// Units and heaters of which the heat is not known, and which are in none of the sums.
    pub missing: usize,
}

/// Heat that a cubic metre of air takes up for each kelvin, J/(m3 K): density times specific heat, from memory.
const AIR_JOULES: f64 = 1.2e3;
/// How much warmer the air may leave the cabinet, K: a rule for the cabinets of a production machine (Computer Structures,
/// chapter 9, p. 181, as summarised).
pub const AIR_RISE_KELVIN: f64 = 10.0;

impl Power {
    /// Everything that ends as heat in the room, W, losses of the supplies left out.
    #[must_use]
    pub fn watts(&self) -> f64 {
        self.heat.iter().map(Heat::watts).sum::<f64>()
            + self.string_resistor_watts
            + self.bleeder_watts
    }

    /// The air that carries it off at [`AIR_RISE_KELVIN`], cubic metres a second: Q = P / (rho c dT).
    #[must_use]
    pub fn air_flow(&self) -> f64 {
        self.watts() / (AIR_JOULES * AIR_RISE_KELVIN)
    }
}

/// Rated currents of miniature fuses, A: IEC 60127, series R10 (from memory).
const FUSES: [f64; 26] = [
    0.032, 0.040, 0.050, 0.063, 0.080, 0.100, 0.125, 0.160, 0.200, 0.250, 0.315, 0.400, 0.500,
    0.630, 0.800, 1.00, 1.25, 1.60, 2.00, 2.50, 3.15, 4.00, 5.00, 6.30, 8.00, 10.0,
];

/// A fuse carries at most two thirds of its rating for ever: chosen, so that neither ageing nor a warm case blows it.
const FUSE_FACTOR: f64 = 1.5;

/// Times its rated current at which a fuse blows for certain: IEC 60127-2, quick types within half an hour (from memory).
pub const FUSE_BLOWS: f64 = 2.1;

fn fuse(amps: f64, limit: Option<f64>) -> Fuse {
    let wanted = FUSE_FACTOR * amps;
    if wanted <= 0.0 {
        return Fuse::NotNeeded;
    }
    match FUSES.into_iter().find(|fuse| wanted <= *fuse) {
        None => Fuse::AboveSeries,
        Some(fuse) if limit.is_some_and(|limit| limit < fuse) => Fuse::AboveLimit(fuse),
        Some(fuse) => Fuse::Rated(fuse),
    }
}

/// Adds it up.
#[must_use]
pub fn power(verdict: &Verdict) -> Power {
    let states = rail_states(&verdict.plan, &verdict.place.results, Effort::BySize);
    let tubes = tubes(verdict);
    Power {
        rails: rails(verdict, &states),
        states,
        heat: heat(verdict, &tubes),
        missing: missing(verdict, &tubes),
        tubes,
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

fn rails(verdict: &Verdict, states: &RailStates) -> Vec<RailPower> {
    let design = verdict.plan.design;
    let bounds = design.rails.iter().zip(&verdict.rail_amps);
    bounds
        .zip(&states.rails)
        .map(|((rail, bounds), extremes)| {
            let with_steady = |state: &Option<RailState>| {
                let state = state.clone()?;
                let amps = state.amps + bounds.steady;
                Some(RailState { amps, ..state })
            };
            let extra = design.strings.iter().zip(&verdict.heaters.strings);
            let extra = extra.filter_map(|(string, reading)| {
                let (cold, warm) = reading.cold_amps.zip(reading.amps)?;
                Some(
                    (share_of_string(design, rail, string)
                        * warm.signum()
                        * (cold[1] - warm.abs()))
                    .max(0.0),
                )
            });
            let most = bounds.most;
            let mut power = RailPower {
                least_amps: (bounds.missing == 0).then_some(bounds.least),
                most_amps: most,
                worst: with_steady(&extremes.most),
                backwards: with_steady(&extremes.least).filter(|state| state.amps < 0.0),
                cold_amps: most + extra.sum::<f64>(),
                watts: most * rail.volts.abs(),
                fuse: Fuse::NotNeeded,
                missing: bounds.missing,
            };
            power.fuse = fuse(power.largest_amps(), rail.limit_amps);
            power
        })
        .collect()
}

/// The reading of a part in the counted row in which `watts` of it is largest.
fn at_most(
    result: &MemberResult,
    part: usize,
    watts: impl Fn(&PartReading) -> f64,
) -> Option<PartReading> {
    let rows = result.rows.iter().filter(|row| row.counts());
    rows.map(|row| row.parts[part])
        .max_by(|left, right| watts(left).total_cmp(&watts(right)))
}

fn tubes(verdict: &Verdict) -> Vec<TubeHeat> {
    let design = verdict.plan.design;
    let of_socket = |(index, socket): (usize, &design::model::Socket)| {
        let halves = socket.halves.iter().flatten().map(|&(unit, tube)| {
            let (part, _) = design.circuit_of(unit).tubes().nth(tube)?;
            at_most(&verdict.place.results[unit.0], part, |one| one.heat_watts)
        });
        let halves: Option<Vec<PartReading>> = halves.collect();
        let sum = |watts: fn(&PartReading) -> f64| {
            let halves = halves.as_ref()?;
            Some(halves.iter().map(watts).sum::<f64>())
        };
        let plate_watts = sum(|half| half.watts);
        let ratings = &socket.device.ratings;
        let one = ratings.plate_watts.as_ref().map(|rating| rating.value);
        let both = ratings
            .both_plates_watts
            .as_ref()
            .map(|rating| rating.value);
        let each = halves.iter().flatten();
        let shares = each
            .filter_map(|half| Some(half.watts / one?))
            .chain(plate_watts.zip(both).map(|(watts, both)| watts / both));
        let mut readings = verdict.heaters.readings.iter();
        let heater = readings.find(|reading| reading.socket == SocketId(index));
        TubeHeat {
            socket: SocketId(index),
            plate_watts,
            grid_watts: sum(|half| half.heat_watts - half.watts),
            heater_watts: heater.map(|reading| reading.across() * reading.amps.abs()),
            plate_share: shares.reduce(f64::max),
        }
    };
    design.sockets.iter().enumerate().map(of_socket).collect()
}

fn heat(verdict: &Verdict, tubes: &[TubeHeat]) -> Vec<Heat> {
    let design = verdict.plan.design;
    let board_of_unit = design.boards_of_units();
    let boards = (0..design.boards.len()).map(Some).chain([None]);
    let mut all: Vec<Heat> = boards
        .map(|board| Heat {
            board,
            tubes: 0,
            heater_watts: 0.0,
            circuit_watts: 0.0,
        })
        .collect();
    let last = all.len() - 1;
    for (unit, result) in verdict.place.results.iter().enumerate() {
        let parts = &design.circuit_of(UnitId(unit)).parts;
        let rows = result.rows.iter().filter(|row| row.counts());
        let watts = rows.map(|row| {
            let readings = parts.iter().zip(&row.parts);
            let warm = readings.filter(|(part, _)| !matches!(part.kind, PartKind::Source { .. }));
            warm.map(|(_, reading)| reading.heat_watts).sum::<f64>()
        });
        all[board_of_unit[unit].unwrap_or(last)].circuit_watts += watts.fold(0.0, f64::max);
    }
    for (socket, tube) in design.sockets.iter().zip(tubes) {
        let mut halves = socket.halves.iter().flatten();
        let unit = halves.next().map(|(unit, _)| unit.0);
        let heat = &mut all[unit.and_then(|unit| board_of_unit[unit]).unwrap_or(last)];
        heat.tubes += 1;
        heat.heater_watts += tube.heater_watts.unwrap_or(0.0);
    }
    all.retain(|heat| heat.board.is_some() || 0 < heat.tubes || 0.0 < heat.circuit_watts);
    all
}

/// Units without a solved row, and tubes whose heater is not known.
fn missing(verdict: &Verdict, tubes: &[TubeHeat]) -> usize {
    let unsolved = |result: &&MemberResult| !result.rows.iter().any(RowResult::counts);
    let units = verdict.place.results.iter().filter(unsolved).count();
    let cold = tubes.iter().filter(|tube| tube.heater_watts.is_none());
    units + cold.count()
}

/// What the strings take beyond their heaters: in resistors, thermistors, ballast tubes, wire.
fn string_resistor_watts(verdict: &Verdict) -> f64 {
    let strings = verdict.heaters.strings.iter();
    let all = strings.filter_map(|reading| Some((reading.across() * reading.amps?).abs()));
    let heaters = verdict.heaters.readings.iter();
    let heaters = heaters.map(|reading| (reading.across() * reading.amps).abs());
    (all.sum::<f64>() - heaters.sum::<f64>()).max(0.0)
}
