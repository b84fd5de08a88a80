//! A circuit alone in the worst case: driven by its like (or what its jig names) at the worst levels that this gives itself, with
//! none, one, two, ... loads, each of which drives nothing.

use super::{Margins, check_with};
use crate::judge::Context;
use crate::plan::{FanOut, NetIndex, Plan, driver_of};
use crate::variation::SpreadAssumptions;
use crate::verdict::{Verdict, alone};
use design::model::{CircuitId, JigDriver};
use std::collections::BTreeMap;

/// Loads tried at the most, as at book values.
pub use crate::fan::MOST;

/// So many loads.
#[derive(Debug, Clone, PartialEq)]
pub struct AloneRow {
    /// Loads on the first output.
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
    /// From no load on, to the first number that falls short or to what was asked.
    pub rows: Vec<AloneRow>,
    /// The margins of the small machine with the largest number of loads that was tried and does not fall short; of one load
    /// where none does.
    pub margins: Margins,
}

impl AloneMargins {
    /// The last number of the unbroken run with which nothing falls short, from none to all.
    #[must_use]
    pub fn last_that_works(&self) -> Option<usize> {
        let works = self.rows.iter().take_while(|row| 0.0 <= row.smallest());
        works.last().map(|row| row.count)
    }

    /// The smallest margin from no load to so many.
    #[must_use]
    pub fn smallest_up_to(&self, count: usize) -> Option<f64> {
        let rows = self.rows.iter().filter(|row| row.count <= count);
        rows.map(AloneRow::smallest).reduce(f64::min)
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
    let run = |count: usize| {
        let small = alone(verdict, circuit, FanOut::Exactly(count), context);
        let margins = check_with(&small, stands_as(&small.plan), spread, context);
        let signal = small.plan.circuit(0).interface.inputs;
        let net = *small.plan.members[0].nets.get(signal)?;
        let load = small.plan.loads[net].first().copied();
        Some((margins, net, load))
    };
    let (one, net, load) = run(1)?;
    let load = load?;
    let thresholds: Vec<(f64, f64)> = one
        .thresholds
        .iter()
        .map(|corner| corner.get(&load).copied())
        .collect::<Option<_>>()?;
    let (none, net_of_none, _) = run(0)?;
    let mut rows = vec![
        row(0, &none, net_of_none, &thresholds)?,
        row(1, &one, net, &thresholds)?,
    ];
    let mut margins = one;
    for count in 2..=most.min(MOST) {
        if rows[count - 1].smallest() < 0.0 {
            break;
        }
        let (more, net, _) = run(count)?;
        rows.push(row(count, &more, net, &thresholds)?);
        if 0.0 <= rows[count].smallest() {
            margins = more;
        }
    }
    Some(AloneMargins {
        circuit,
        rows,
        margins,
    })
}

fn row(
    count: usize,
    margins: &Margins,
    net: NetIndex,
    thresholds: &[(f64, f64)],
) -> Option<AloneRow> {
    let mut row = AloneRow {
        count,
        levels: (f64::NEG_INFINITY, f64::INFINITY),
        thresholds: (f64::INFINITY, f64::NEG_INFINITY),
        spare_down: f64::INFINITY,
        spare_up: f64::INFINITY,
    };
    for (levels, &(low, high)) in margins.levels.iter().zip(thresholds) {
        let level = levels.get(&net)?;
        row.levels = (row.levels.0.max(level.down), row.levels.1.min(level.up));
        row.thresholds = (row.thresholds.0.min(low), row.thresholds.1.max(high));
        row.spare_down = row.spare_down.min(low - level.down);
        row.spare_up = row.spare_up.min(level.up - high);
    }
    Some(row)
}

/// Nets that nothing drives stand as the output of a member whose circuit would drive them.
fn stands_as(plan: &Plan) -> BTreeMap<NetIndex, NetIndex> {
    let mut all = BTreeMap::new();
    for net in 0..plan.nets.len() {
        let open = plan.drivers[net].is_empty() && !plan.switches.contains_key(&net);
        let Some(&(member, signal)) = plan.loads[net].first().filter(|_| open) else {
            continue;
        };
        let circuit = plan.members[member].circuit;
        let Some(JigDriver::Circuit(driver)) = driver_of(plan.design, circuit, signal) else {
            continue;
        };
        let like = plan.members.iter().find(|member| member.circuit == driver);
        let output = plan.design.circuits[driver.0].interface.inputs;
        if let Some(like) = like {
            all.insert(net, like.nets[output]);
        }
    }
    all
}
