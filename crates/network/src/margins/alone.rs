//! A circuit alone in the worst case: driven by its like (or what its jig names) at the worst levels that this gives itself,
//! with any number of loads from none to so many, each of which drives nothing.

use super::corners::{RailCorner, rail_corners};
use super::levels::worst_levels;
use super::{Margins, Search, book_results, check};
use crate::judge::{Context, Level, Levels};
use crate::plan::{FanOut, NetIndex, Plan, driver_of};
use crate::variation::{SpreadAssumptions, Varied};
use crate::verdict::{Verdict, alone};
use design::model::{CircuitId, JigDriver};

/// Loads tried at the most, as at book values.
pub use crate::fan::MOST;

/// Rounds until the levels at the inputs are those at the outputs: chosen; two or three are usual.
const ROUNDS: usize = 8;
/// Levels that move less than this stand still, V: as those of a machine.
const STILL_VOLTS: f64 = 2e-3;

/// Any number of loads from none to `count`.
#[derive(Debug, Clone, PartialEq)]
pub struct AloneRow {
    /// The most loads on the first output.
    pub count: usize,
    /// Worst down and up level of the first output over the corners of the rails, V.
    pub levels: (f64, f64),
    /// Worst thresholds, low and high, of a load that drives nothing, V.
    pub thresholds: (f64, f64),
    /// To spare when down, V: the smallest over the corners.
    pub spare_down: f64,
    /// To spare when up, V.
    pub spare_up: f64,
}

impl AloneRow {
    /// The smaller of both.
    #[must_use]
    pub fn smallest(&self) -> f64 {
        self.spare_down.min(self.spare_up)
    }
}

/// A circuit alone.
#[derive(Debug, Clone, PartialEq)]
pub struct AloneMargins {
    /// Which.
    pub circuit: CircuitId,
    /// With up to one load, up to two, ...: to the first number that falls short or to what was asked.
    pub rows: Vec<AloneRow>,
    /// The margins of the small machine with one load.
    pub with_one: Margins,
}

impl AloneMargins {
    /// The most loads with which nothing falls short, from none to all.
    #[must_use]
    pub fn last_that_works(&self) -> Option<usize> {
        let works = self.rows.iter().take_while(|row| 0.0 <= row.smallest());
        works.last().map(|row| row.count)
    }

    /// The row of so many loads.
    #[must_use]
    pub fn up_to(&self, count: usize) -> Option<&AloneRow> {
        self.rows.iter().find(|row| row.count == count)
    }
}

/// A circuit with up to `most` loads; `None` where it has no margins: nothing in it or behind it sets a threshold.
#[must_use]
pub fn alone_margins(
    verdict: &Verdict,
    circuit: CircuitId,
    most: usize,
    spread: &SpreadAssumptions,
    context: &Context,
) -> Option<AloneMargins> {
    let machine = |count: usize| alone(verdict, circuit, FanOut::Exactly(count), context);
    let one = machine(1);
    let (corners, _) = rail_corners(&one.plan);
    let with_one = check(&one, spread, context);
    let output = output_net(&one.plan)?;
    let load = *one.plan.loads[output].first()?;
    let thresholds: Vec<(f64, f64)> = with_one
        .thresholds
        .iter()
        .map(|corner| corner.get(&load).copied())
        .collect::<Option<_>>()?;
    let mut own: Vec<Level> = with_one
        .levels
        .iter()
        .map(|levels| levels.get(&output).copied())
        .collect::<Option<_>>()?;
    let none = machine(0);
    let mut rows: Vec<AloneRow> = Vec::new();
    for count in 1..=most.min(MOST) {
        let all = if count == 1 { &one } else { &machine(count) };
        for _ in 0..ROUNDS {
            let unloaded = levels_at(&none, &own, &corners, spread, context)?;
            let loaded = levels_at(all, &own, &corners, spread, context)?;
            let both = unloaded.iter().zip(&loaded);
            let found: Vec<Level> = both
                .map(|(unloaded, loaded)| Level {
                    down: unloaded.down.max(loaded.down),
                    up: unloaded.up.min(loaded.up),
                })
                .collect();
            let moves = found.iter().zip(&own);
            let moved = moves
                .map(|(found, own)| crate::levels::change(*found, *own))
                .fold(0.0, f64::max);
            own = found;
            if moved < STILL_VOLTS {
                break;
            }
        }
        rows.push(row(count, &own, &thresholds));
        if rows.last().is_some_and(|row| row.smallest() < 0.0) {
            break;
        }
    }
    Some(AloneMargins {
        circuit,
        rows,
        with_one,
    })
}

/// The net of the first output of member 0.
fn output_net(plan: &Plan) -> Option<NetIndex> {
    let signal = plan.circuit(0).interface.inputs;
    plan.members[0].nets.get(signal).copied()
}

/// Worst levels of the first output at each corner, with every net that its like drives at the levels `own`.
fn levels_at(
    small: &Verdict,
    own: &[Level],
    corners: &[RailCorner],
    spread: &SpreadAssumptions,
    context: &Context,
) -> Option<Vec<Level>> {
    let output = output_net(&small.plan)?;
    let like = driven_by_its_like(&small.plan);
    let given: Vec<Levels> = own
        .iter()
        .map(|level| like.iter().map(|net| (*net, *level)).collect())
        .collect();
    let search = Search::new(small, &given, Varied::All(spread), context);
    let (levels, _) = worst_levels(&search, &book_results(small), corners);
    levels
        .iter()
        .map(|corner| corner.levels.get(&output).copied())
        .collect()
}

/// Nets, besides the outputs of member 0, that a circuit of its kind drives or would drive.
fn driven_by_its_like(plan: &Plan) -> Vec<NetIndex> {
    let subject = plan.members[0].circuit;
    let like = |net: &NetIndex| {
        if plan.is_supply(*net) || plan.switches.contains_key(net) {
            return false;
        }
        match (plan.drivers[*net].first(), plan.loads[*net].first()) {
            (Some(&(driver, _)), _) => driver != 0 && plan.members[driver].circuit == subject,
            (None, Some(&(load, signal))) => {
                let circuit = plan.members[load].circuit;
                driver_of(plan.design, circuit, signal) == Some(JigDriver::Circuit(subject))
            }
            (None, None) => false,
        }
    };
    (0..plan.nets.len()).filter(like).collect()
}

fn row(count: usize, levels: &[Level], thresholds: &[(f64, f64)]) -> AloneRow {
    let mut row = AloneRow {
        count,
        levels: (f64::NEG_INFINITY, f64::INFINITY),
        thresholds: (f64::INFINITY, f64::NEG_INFINITY),
        spare_down: f64::INFINITY,
        spare_up: f64::INFINITY,
    };
    for (level, &(low, high)) in levels.iter().zip(thresholds) {
        row.levels = (row.levels.0.max(level.down), row.levels.1.min(level.up));
        row.thresholds = (row.thresholds.0.min(low), row.thresholds.1.max(high));
        row.spare_down = row.spare_down.min(low - level.down);
        row.spare_up = row.spare_up.min(level.up - high);
    }
    row
}
