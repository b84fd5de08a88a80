//! Who drives whom, at what levels, and with how much to spare.

use crate::judge::{Context, Level, Levels, MemberResult};
use crate::levels::output_levels;
use crate::plan::{MemberIndex, NetIndex, Plan};
use crate::transfer::{Transfer, transfers};
use design::model::CircuitId;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Thresholds of one input of a member: down must lie below the first, up above the second.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Thresholds {
    /// Highest volts taken for down.
    pub low: f64,
    /// Lowest volts taken for up.
    pub high: f64,
    /// They belong to a gate further on: this circuit does not amplify and passes its level along.
    pub passed_on: bool,
}

/// A driver's output and one of its loads.
#[derive(Debug, Clone, PartialEq)]
pub struct Connection {
    /// The net.
    pub net: NetIndex,
    /// Member and signal that drive it; `None` for a switch of the bench.
    pub driver: Option<(MemberIndex, usize)>,
    /// Member and signal driven.
    pub load: (MemberIndex, usize),
    /// Worst levels of the driver.
    pub level: Level,
    /// Thresholds of the load; `None` where none is defined (a lamp stage, or followers in a ring).
    pub thresholds: Option<Thresholds>,
}

impl Connection {
    /// Volts to spare when down (negative: short).
    #[must_use]
    pub fn spare_down(&self) -> Option<f64> {
        self.thresholds
            .map(|thresholds| thresholds.low - self.level.down)
    }

    /// Volts to spare when up (negative: short).
    #[must_use]
    pub fn spare_up(&self) -> Option<f64> {
        self.thresholds
            .map(|thresholds| self.level.up - thresholds.high)
    }
}

/// Transfer curves of every input of every member, members alike solved once: `alike` has the first of each one's like.
/// None for a member of which no row settled.
#[must_use]
pub fn all_transfers(
    plan: &Plan,
    alike: &[MemberIndex],
    results: &[MemberResult],
    levels: &Levels,
    context: &Context,
) -> Vec<BTreeMap<usize, Vec<Transfer>>> {
    let mut work: Vec<(MemberIndex, usize)> = Vec::new();
    let settled = |member: &MemberIndex| results[*member].settles();
    let firsts = (0..alike.len()).filter(|&member| alike[member] == member);
    for first in firsts.filter(settled) {
        for input in 0..plan.circuit(first).interface.inputs {
            if !plan.is_supply(plan.members[first].nets[input]) {
                work.push((first, input));
            }
        }
    }
    let solved: Vec<Vec<Transfer>> = work
        .par_iter()
        .map(|&(member, input)| transfers(plan, member, input, levels, context))
        .collect();
    let by_first: BTreeMap<(MemberIndex, usize), Vec<Transfer>> =
        work.into_iter().zip(solved).collect();
    let mut all = vec![BTreeMap::new(); plan.members.len()];
    for (member, &first) in alike.iter().enumerate() {
        for input in 0..plan.circuit(member).interface.inputs {
            if let Some(curves) = by_first.get(&(first, input)) {
                let own = curves
                    .iter()
                    .map(|curve| Transfer {
                        member,
                        ..curve.clone()
                    })
                    .collect();
                all[member].insert(input, own);
            }
        }
    }
    all
}

/// Thresholds of every input of every member that has any.
pub type AllThresholds = BTreeMap<(MemberIndex, usize), Thresholds>;

/// Thresholds from transfer curves; a circuit that does not amplify takes over those of the gates it drives, through
/// its own curve. Where it drives no gate here (its net leaves the machine), those of what its jig drives (`alone`) count.
#[must_use]
pub fn thresholds(
    plan: &Plan,
    curves: &[BTreeMap<usize, Vec<Transfer>>],
    alone: &BTreeMap<CircuitId, Thresholds>,
) -> AllThresholds {
    let mut known = AllThresholds::new();
    for (member, inputs) in curves.iter().enumerate() {
        for (&input, transfers) in inputs {
            let own: Vec<(f64, f64)> = transfers
                .iter()
                .filter_map(|transfer| transfer.thresholds)
                .collect();
            if !own.is_empty() && own.len() == transfers.len() {
                let low = own.iter().map(|pair| pair.0).fold(f64::INFINITY, f64::min);
                let high = own
                    .iter()
                    .map(|pair| pair.1)
                    .fold(f64::NEG_INFINITY, f64::max);
                known.insert(
                    (member, input),
                    Thresholds {
                        low,
                        high,
                        passed_on: false,
                    },
                );
            }
        }
    }
    // A chain of followers is as long as it is: each round resolves one more link, rings of followers never do.
    for _ in 0..plan.members.len() {
        let before = known.len();
        for (member, inputs) in curves.iter().enumerate() {
            for (&input, transfers) in inputs {
                if !known.contains_key(&(member, input))
                    && let Some(passed) = passed_on(plan, member, transfers, &known, alone)
                {
                    known.insert((member, input), passed);
                }
            }
        }
        if known.len() == before {
            break;
        }
    }
    known
}

fn passed_on(
    plan: &Plan,
    member: MemberIndex,
    transfers: &[Transfer],
    known: &AllThresholds,
    alone: &BTreeMap<CircuitId, Thresholds>,
) -> Option<Thresholds> {
    if plan.stores(member) {
        // What leaves it is a state of its own, not its input passed along.
        return None;
    }
    let mut passed: Option<Thresholds> = None;
    for transfer in transfers {
        let loads = &plan.loads[plan.members[member].nets[transfer.output]];
        let mut needs: Vec<&Thresholds> = loads.iter().filter_map(|load| known.get(load)).collect();
        if loads
            .iter()
            .all(|load| plan.circuit(load.0).says.is_empty())
        {
            needs.extend(alone.get(&plan.members[member].circuit));
        }
        if needs.is_empty() {
            continue;
        }
        let low = needs
            .iter()
            .map(|need| need.low)
            .fold(f64::INFINITY, f64::min);
        let high = needs
            .iter()
            .map(|need| need.high)
            .fold(f64::NEG_INFINITY, f64::max);
        let (low, high) = if transfer.inverting {
            (high, low)
        } else {
            (low, high)
        };
        let through = Thresholds {
            low: input_where(transfer, low)?,
            high: input_where(transfer, high)?,
            passed_on: true,
        };
        passed = Some(match passed {
            None => through,
            Some(known) => Thresholds {
                low: known.low.min(through.low),
                high: known.high.max(through.high),
                passed_on: true,
            },
        });
    }
    passed
}

/// The input volts at which a curve's output passes `wanted`; the end of the curve when it never does.
fn input_where(transfer: &Transfer, wanted: f64) -> Option<f64> {
    let curve = &transfer.curve;
    let crossing = curve.windows(2).find_map(|pair| {
        let (left, right) = (pair[0].1 - wanted, pair[1].1 - wanted);
        (left * right <= 0.0 && left != right)
            .then(|| pair[0].0 + (pair[1].0 - pair[0].0) * left / (left - right))
    });
    let rising = !transfer.inverting;
    crossing.or_else(|| {
        let (first, last) = (curve.first()?, curve.last()?);
        let above = wanted < first.1.min(last.1);
        // The output never gets down to (or up to) what is wanted.
        Some(if above == rising { first.0 } else { last.0 })
    })
}

/// Every driver with every load.
#[must_use]
pub fn connections(
    plan: &Plan,
    results: &[MemberResult],
    levels: &Levels,
    thresholds: &AllThresholds,
) -> Vec<Connection> {
    let switched = switched_levels(plan, results.iter());
    let mut connections = Vec::new();
    for net in 0..plan.nets.len() {
        if plan.is_supply(net) {
            continue;
        }
        let mut drivers: Vec<(Option<(MemberIndex, usize)>, Level)> = plan.drivers[net]
            .iter()
            .filter_map(|&(member, signal)| {
                let level = output_levels(plan, member, &results[member])
                    .into_iter()
                    .find(|level| level.0 == signal)?
                    .1;
                Some((Some((member, signal)), level))
            })
            .collect();
        if plan.drivers[net].is_empty()
            && plan.switches.contains_key(&net)
            && let Some(level) = switched.get(&net).or_else(|| levels.get(&net)).copied()
        {
            drivers.push((None, level));
        }
        for (driver, level) in drivers {
            for &load in &plan.loads[net] {
                let thresholds = thresholds.get(&load).copied();
                connections.push(Connection {
                    net,
                    driver,
                    load,
                    level,
                    thresholds,
                });
            }
        }
    }
    connections
}

/// Worst volts of each net that a switch of the bench feeds, over all rows in which it was solved both ways.
pub(crate) fn switched_levels<'a>(
    plan: &Plan,
    results: impl Iterator<Item = &'a MemberResult>,
) -> Levels {
    let mut known = Levels::new();
    let rows = results.flat_map(|result| &result.rows);
    for row in rows.filter(|row| row.counts()) {
        let switched = row
            .nets
            .iter()
            .filter(|(net, _)| plan.switches.contains_key(net));
        for (net, &volts) in switched {
            let Some(&up) = row.row.values.get(net) else {
                continue;
            };
            let level = known.entry(*net).or_insert(Level {
                down: f64::NEG_INFINITY,
                up: f64::INFINITY,
            });
            if up {
                level.up = level.up.min(volts)
            } else {
                level.down = level.down.max(volts)
            }
        }
    }
    known.retain(|_, level| level.down.is_finite() && level.up.is_finite());
    known
}

/// What the loads of a circuit alone (member 0 of its plan) ask of its output: the tightest of their thresholds.
#[must_use]
pub fn asked_of_output(plan: &Plan, levels: &Levels, context: &Context) -> Option<Thresholds> {
    let outputs = &plan.members[0].nets[plan.circuit(0).interface.inputs..];
    let load = outputs.iter().find_map(|&net| plan.loads[net].first())?;
    let pairs: Vec<(f64, f64)> = transfers(plan, load.0, load.1, levels, context)
        .iter()
        .filter_map(|curve| curve.thresholds)
        .collect();
    let low = pairs.iter().map(|pair| pair.0).reduce(f64::min)?;
    let high = pairs.iter().map(|pair| pair.1).reduce(f64::max)?;
    Some(Thresholds {
        low,
        high,
        passed_on: true,
    })
}
