//! What the rails must give.
//!
//! Currents are counted as a supply gives them: positive out of a positive rail and into a negative one, negative where
//! what hangs on the rail feeds it backwards.

use crate::finding::{Amount, Finding};
use crate::heaters::HeaterResult;
use crate::judge::MemberResult;
use crate::plan::{MemberIndex, Plan};
use crate::rail_states::{Effort, RailStates, given, rail_states};
use crate::verdict::Verdict;
use design::model::{Design, HeaterString, NodeKind, Rail, RailId, Terminal};
use text::quantity::{Unit, show};

/// Bounds on the current of one rail.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct RailAmps {
    /// Its bleeder and the heater strings on it, warm, A.
    pub steady: f64,
    /// That, and of every unit the least in any row.
    pub least: f64,
    /// The same with the most: an upper bound, the units need not be at their worst together.
    pub most: f64,
    /// Units and strings on it whose current is not known, and which are not in the sums.
    pub missing: usize,
}

impl RailAmps {
    /// The largest current either way, A.
    #[must_use]
    pub fn largest(&self) -> f64 {
        self.most.max(-self.least)
    }
}

/// How often a string takes its current from a rail as the rail gives it: 1, -1 where it feeds the rail, else 0. What goes
/// round in a winding does not go through the rail that it stands on.
#[must_use]
pub fn share_of_string(design: &Design, rail: &Rail, string: &HeaterString) -> f64 {
    let stands_here = |other: &Rail| {
        let foot = other.stands_on.map(|RailId(foot)| design.rails[foot].net);
        foot == Some(rail.net) && [string.from, string.to].contains(&Terminal::Net(other.net))
    };
    if design.rails.iter().any(stands_here) {
        return 0.0;
    }
    let on = |end: Terminal| f64::from(u8::from(end == Terminal::Net(rail.net)));
    (on(string.from) - on(string.to)) * rail.volts.signum()
}

/// Bounds on every rail, in the order of the design: every unit in its own row, with bleeders and heater strings.
#[must_use]
pub fn amps(plan: &Plan, results: &[MemberResult], heaters: &HeaterResult) -> Vec<RailAmps> {
    let design = plan.design;
    let bounds: Vec<Option<Vec<(f64, f64)>>> = results
        .iter()
        .map(|result| bounds_of_unit(plan, result))
        .collect();
    let of_rail = |(index, rail): (usize, &Rail)| {
        let mut sum = RailAmps {
            steady: rail
                .bleeder_ohms
                .map_or(0.0, |ohms| rail.volts.abs() / ohms),
            ..RailAmps::default()
        };
        for (string, reading) in design.strings.iter().zip(&heaters.strings) {
            let share = share_of_string(design, rail, string);
            match reading.amps {
                Some(amps) => sum.steady += share * amps,
                None => sum.missing += usize::from(share != 0.0),
            }
        }
        (sum.least, sum.most) = (sum.steady, sum.steady);
        for (member, bounds) in bounds.iter().enumerate() {
            match bounds {
                Some(bounds) => {
                    sum.least += bounds[index].0;
                    sum.most += bounds[index].1;
                }
                None => sum.missing += usize::from(is_on(plan, member, RailId(index))),
            }
        }
        sum
    };
    design.rails.iter().enumerate().map(of_rail).collect()
}

/// The least and the most of each rail over the unit's rows; `None` when no row is solved.
fn bounds_of_unit(plan: &Plan, result: &MemberResult) -> Option<Vec<(f64, f64)>> {
    let rows = result.rows.iter().filter(|row| row.counts());
    rows.map(|row| {
        given(plan, row)
            .into_iter()
            .map(|amps| (amps, amps))
            .collect()
    })
    .reduce(|bounds: Vec<(f64, f64)>, row: Vec<(f64, f64)>| {
        let pairs = bounds.into_iter().zip(row);
        pairs
            .map(|(all, one)| (all.0.min(one.0), all.1.max(one.1)))
            .collect()
    })
}

fn is_on(plan: &Plan, member: MemberIndex, rail: RailId) -> bool {
    let mut nodes = plan.circuit(member).nodes.iter();
    nodes.any(|node| node.kind == NodeKind::Rail(rail))
}

/// Rails whose limit is exceeded in a state that the logic permits, or may be.
#[must_use]
pub fn findings(verdict: &Verdict) -> Vec<Finding> {
    let rails = || verdict.plan.design.rails.iter().zip(&verdict.rail_amps);
    let over = |(rail, amps): &(&Rail, &RailAmps)| {
        rail.limit_amps.is_some_and(|limit| limit < amps.largest())
    };
    if !rails().any(|pair| over(&pair)) {
        return Vec::new();
    }
    let states = rail_states(&verdict.plan, &verdict.place.results, Effort::BySize);
    let all = rails().enumerate();
    all.filter(|(_, pair)| over(pair))
        .filter_map(|(index, (rail, amps))| overloaded(&states, index, rail, amps))
        .collect()
}

/// A fault where a state was found that exceeds the limit; a caution where none was found and not every one was tried.
fn overloaded(
    states: &RailStates,
    index: usize,
    rail: &Rail,
    bounds: &RailAmps,
) -> Option<Finding> {
    let limit = rail.limit_amps?;
    let extremes = &states.rails[index];
    let of_states = [&extremes.most, &extremes.least].into_iter().flatten();
    let found = of_states.map(|state| (bounds.steady + state.amps).abs());
    let found = found.fold(bounds.steady.abs(), f64::max);
    let fault = limit < found;
    if !fault && states.every_state.is_some() && bounds.missing == 0 {
        return None;
    }
    let amps = if fault { found } else { bounds.largest() };
    let (shown, limit_shown) = (show(amps, Unit::Ampere, 3), show(limit, Unit::Ampere, 3));
    let cause = if fault {
        format!(
            "In a state that the logic permits the rail {} must carry {shown}, and its limit is {limit_shown}.",
            rail.name
        )
    } else {
        format!(
            "With every unit at its worst together the rail {} would carry {shown}, and its limit is {limit_shown}; of the states that were tried none takes more than {}.",
            rail.name,
            show(found, Unit::Ampere, 3)
        )
    };
    let subject = format!("rail {}", rail.name);
    let make = if fault {
        Finding::fault
    } else {
        Finding::caution
    };
    Some(
        make("rail-overloaded", rail.span, subject, cause)
            .numbers(
                Amount::new("current of the rail", amps, Unit::Ampere),
                Amount::new("its limit", limit, Unit::Ampere),
            )
            .attempt("Use a larger supply, or share the units and strings out over two."),
    )
}
