//! A circuit alone in the worst case: driven by its like (or what its jig names) at the worst levels that this gives itself,
//! with any number of loads from none to so many, each of which drives nothing.

use super::Search;
use super::corners::{RailCorner, rail_corners};
use super::levels::{CornerLevels, Starts, first_levels, worst_levels_from};
use super::thresholds::worst_thresholds;
use crate::connections::{AllThresholds, Thresholds};
use crate::judge::{Context, Level, Levels, MemberResult};
use crate::levels::{Alone, InPlace, alone_of, change, in_place};
use crate::plan::{FanOut, NetIndex, Plan, driver_of};
use crate::transfer::transfers;
use crate::variation::{SpreadAssumptions, Varied};
use crate::work::{Budget, MOST_EVALUATED};
use design::model::{CircuitId, Design, JigDriver};
use std::collections::BTreeMap;

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
    /// With up to so many loads, to the first number that falls short or to what was asked.
    pub rows: Vec<AloneRow>,
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

/// What a circuit alone stands on: what it, and what stands round it, does at book values.
#[derive(Debug, Clone)]
pub struct Ground<'a> {
    /// The design.
    pub design: &'a Design,
    /// Circuits alone, at least those that stand round the one that is asked for.
    pub alone: Alone,
}

impl<'a> Ground<'a> {
    /// That of one circuit and of what stands round it.
    #[must_use]
    pub fn of(design: &'a Design, circuit: CircuitId, context: &Context) -> Self {
        let plan = Plan::alone(design, circuit, FanOut::Exactly(1));
        let mut around: Vec<CircuitId> = plan.members.iter().map(|member| member.circuit).collect();
        around.sort_unstable();
        around.dedup();
        let mut budget = Budget::new(MOST_EVALUATED);
        Self {
            design,
            alone: alone_of(design, &around, &mut budget, context),
        }
    }

    fn machine(&self, circuit: CircuitId, loads: usize, context: &Context) -> Machine<'a> {
        let plan = Plan::alone(self.design, circuit, FanOut::Exactly(loads));
        let mut budget = Budget::new(MOST_EVALUATED);
        let place = in_place(&plan, &self.alone, &mut budget, context);
        Machine {
            like: driven_by_its_like(&plan),
            plan,
            place,
            starts: Starts::new(),
        }
    }
}

/// The circuit with its driver and so many loads.
struct Machine<'a> {
    plan: Plan<'a>,
    /// At book values.
    place: InPlace,
    /// Nets that stand as the circuit's own output does.
    like: Vec<NetIndex>,
    starts: Starts,
}

impl Machine<'_> {
    /// Every net that its like drives at the levels `own`, by corner.
    fn given(&self, own: &[Level]) -> Vec<Levels> {
        own.iter()
            .map(|level| self.like.iter().map(|net| (*net, *level)).collect())
            .collect()
    }

    fn search<'a>(
        &'a self,
        book: &'a AllThresholds,
        given: &'a [Levels],
        spread: &'a SpreadAssumptions,
        context: &'a Context,
    ) -> Search<'a> {
        Search {
            plan: &self.plan,
            levels: &self.place.levels,
            book,
            asked: BTreeMap::new(),
            rings: Vec::new(),
            given,
            varied: Varied::All(spread),
            context,
        }
    }

    /// Worst levels of the first output at each corner.
    fn levels_at(
        &mut self,
        own: &[Level],
        corners: &[RailCorner],
        spread: &SpreadAssumptions,
        context: &Context,
    ) -> Option<Vec<Level>> {
        let output = output_net(&self.plan)?;
        let given = self.given(own);
        let book = AllThresholds::new();
        let mut starts = std::mem::take(&mut self.starts);
        let results: Vec<&MemberResult> = self.place.results.iter().collect();
        let search = self.search(&book, &given, spread, context);
        let (levels, _) = worst_levels_from(&search, &results, corners, &mut starts);
        self.starts = starts;
        levels
            .iter()
            .map(|corner| corner.levels.get(&output).copied())
            .collect()
    }

    /// Worst thresholds of the first load at each corner; `None` where it does not amplify, because nothing stands behind it.
    fn thresholds_at(
        &self,
        own: &[Level],
        corners: &[RailCorner],
        spread: &SpreadAssumptions,
        context: &Context,
    ) -> Option<Vec<(f64, f64)>> {
        let output = output_net(&self.plan)?;
        let load = *self.plan.loads[output].first()?;
        let curves = transfers(&self.plan, load.0, load.1, &self.place.levels, context);
        let amplifies = !curves.is_empty() && curves.iter().all(|curve| curve.thresholds.is_some());
        let book = Thresholds {
            low: 0.0,
            high: 0.0,
            passed_on: !amplifies,
        };
        let book = AllThresholds::from([(load, book)]);
        let given = self.given(own);
        let search = self.search(&book, &given, spread, context);
        let levels: Vec<CornerLevels> = corners
            .iter()
            .zip(&given)
            .map(|(corner, given)| {
                let mut levels = first_levels(&self.plan, search.levels, corner);
                levels.extend(given);
                CornerLevels {
                    levels,
                    ..CornerLevels::default()
                }
            })
            .collect();
        let (thresholds, _) = worst_thresholds(&search, &book, corners, &levels);
        thresholds
            .iter()
            .map(|corner| corner.get(&load).map(|worst| (worst.low, worst.high)))
            .collect()
    }
}

/// A circuit with loads from none to each of some numbers, in rising order, up to the first that falls short; `None` where it has
/// no margins: nothing in it or behind it sets a threshold.
#[must_use]
pub fn alone_margins(
    ground: &Ground,
    circuit: CircuitId,
    counts: impl IntoIterator<Item = usize>,
    spread: &SpreadAssumptions,
    context: &Context,
) -> Option<AloneMargins> {
    let mut none = ground.machine(circuit, 0, context);
    let one = ground.machine(circuit, 1, context);
    let (corners, _) = rail_corners(&one.plan);
    let output = output_net(&one.plan)?;
    let mut own = vec![*one.place.levels.get(&output)?; corners.len()];
    let mut thresholds: Option<Vec<(f64, f64)>> = None;
    let mut rows: Vec<AloneRow> = Vec::new();
    for count in counts.into_iter().take_while(|count| *count <= MOST) {
        let mut all = ground.machine(circuit, count, context);
        for _ in 0..ROUNDS {
            let unloaded = none.levels_at(&own, &corners, spread, context)?;
            let loaded = all.levels_at(&own, &corners, spread, context)?;
            let both = unloaded.iter().zip(&loaded);
            let found: Vec<Level> = both
                .map(|(unloaded, loaded)| Level {
                    down: unloaded.down.max(loaded.down),
                    up: unloaded.up.min(loaded.up),
                })
                .collect();
            let moves = found.iter().zip(&own);
            let moved = moves
                .map(|(found, own)| change(*found, *own))
                .fold(0.0, f64::max);
            own = found;
            if moved < STILL_VOLTS {
                break;
            }
        }
        // A load's other inputs stand at the levels found; they move its thresholds by little, so those of the first will do.
        if thresholds.is_none() {
            thresholds = Some(one.thresholds_at(&own, &corners, spread, context)?);
        }
        rows.push(row(count, &own, thresholds.as_deref()?));
        if rows.last().is_some_and(|row| row.smallest() < 0.0) {
            break;
        }
    }
    Some(AloneMargins { circuit, rows })
}

/// The net of the first output of member 0.
fn output_net(plan: &Plan) -> Option<NetIndex> {
    let signal = plan.circuit(0).interface.inputs;
    plan.members[0].nets.get(signal).copied()
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
