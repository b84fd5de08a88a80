//! The highest current of every rail over the states that the machine's logic permits.
//!
//! What can be set are the nets that nothing drives, the outputs of units that store within themselves, and one net for
//! each loop; every other net follows from the units' sentences. Each unit then takes what it was solved to take in the
//! row that lies nearest the state: its own inputs and outputs as they are, the nets of its neighbours as far as a solved
//! row has them so. Small machines are gone through state by state, larger ones by climbing from many starts: what can be
//! set is turned over, one by one, and what gives more current is kept.

use crate::judge::{MemberResult, RowResult};
use crate::plan::{MemberIndex, NetIndex, Plan};
use crate::rows::output_rows;
use std::collections::BTreeMap;
use walk::{Lot, Walk};

mod walk;

/// With so many nets to set, or fewer, every state is tried (4096 of them): chosen, a moment's work.
const ENUMERATED: usize = 12;
/// Starts of a climb: all down, all up, the rest by lot. Chosen: on machines small enough to try every state it misses none.
const STARTS: usize = 64;
/// Units looked at in all climbs together: chosen, so that the work is bounded by a count.
const MOST_LOOKS: u64 = 1_500_000;
/// Currents nearer than this are the same, A.
const SAME_AMPS: f64 = 1e-12;

/// One state of the machine with what its units draw from a rail.
#[derive(Debug, Clone, PartialEq)]
pub struct RailState {
    /// What all units together make the rail give, A; negative where they feed it backwards.
    pub amps: f64,
    /// Which of [`RailStates::settable`] are up; all others are down.
    pub up: Vec<NetIndex>,
    /// Units that were solved with some neighbour's net in another value than it has here.
    pub nearby: usize,
    /// Units of which no row with these inputs was solved: counted with their least.
    pub without_row: usize,
}

/// The extremes of one rail; `None` where no state was found.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RailExtremes {
    /// The state in which it gives most.
    pub most: Option<RailState>,
    /// The state in which it is fed backwards most, looked for where units could do so at all.
    pub least: Option<RailState>,
}

/// Every rail in the states that the logic permits.
#[derive(Debug, Clone, PartialEq)]
pub struct RailStates {
    /// What can be set: nets that nothing drives first, then one or more for each thing that stores.
    pub settable: Vec<NetIndex>,
    /// How many of them nothing drives.
    pub inputs: usize,
    /// How many states there are, where every one was tried.
    pub every_state: Option<usize>,
    /// In the order of the design.
    pub rails: Vec<RailExtremes>,
}

/// What a rail is asked for: its index, and 1 for the most that it gives or -1 for the most that it takes.
type Wanted = (usize, f64);

/// How hard the states are looked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Effort {
    /// Every state of a small machine, a climb in a larger one.
    BySize,
    /// A climb in any case.
    Climb,
}

/// Looks for the extremes of every rail.
#[must_use]
pub fn rail_states(plan: &Plan, results: &[MemberResult], effort: Effort) -> RailStates {
    let machine = Machine::new(plan, results);
    let wanted = machine.wanted();
    let all = effort == Effort::BySize && machine.settable.len() <= ENUMERATED;
    let (found, every_state) = if all {
        let (found, count) = machine.every_state(&wanted);
        (found, Some(count))
    } else {
        let looks = MOST_LOOKS / wanted.len().max(1) as u64;
        let climbed = wanted.iter().map(|&one| machine.climbed(one, looks));
        (climbed.collect(), None)
    };
    let mut rails = vec![RailExtremes::default(); plan.design.rails.len()];
    for ((rail, sign), values) in wanted.into_iter().zip(found) {
        let state = values.map(|values| machine.state(&values, rail, plan, results));
        if 0.0 < sign {
            rails[rail].most = state;
        } else {
            rails[rail].least = state;
        }
    }
    RailStates {
        settable: machine.settable,
        inputs: machine.inputs,
        every_state,
        rails,
    }
}

/// What a row makes each rail give, A: out of a positive rail, into a negative one.
#[must_use]
pub fn given(plan: &Plan, row: &RowResult) -> Vec<f64> {
    let rails = plan.design.rails.iter();
    rails
        .map(|rail| {
            let amps = row.rail_amps.get(&rail.net.0).copied().unwrap_or(0.0);
            amps * rail.volts.signum()
        })
        .collect()
}

/// A solved row of a unit.
struct Variant {
    /// Index into [`MemberResult::rows`].
    row: usize,
    /// The unit's outputs.
    outputs: Vec<(NetIndex, bool)>,
    /// Nets of its neighbours that tell it from other rows with the same inputs.
    around: Vec<(NetIndex, bool)>,
    /// By rail.
    given: Vec<f64>,
}

struct Unit {
    circuit: usize,
    inputs: Vec<NetIndex>,
    outputs: Vec<NetIndex>,
    /// By inputs, see [`key`].
    variants: BTreeMap<u64, Vec<Variant>>,
    /// The least of each rail over all rows.
    least: Vec<f64>,
}

/// Rows of outputs that a circuit's sentence allows, by its inputs (see [`key`]).
type Permitted = BTreeMap<u64, Vec<Vec<Option<bool>>>>;

struct Machine {
    units: Vec<Unit>,
    /// Values of the nets that are supplies, and otherwise `None`.
    fixed: Vec<Option<bool>>,
    drivers: Vec<Vec<MemberIndex>>,
    loads: Vec<Vec<MemberIndex>>,
    /// Units whose currents depend on a net.
    watchers: Vec<Vec<MemberIndex>>,
    settable: Vec<NetIndex>,
    inputs: usize,
    /// By circuit.
    permitted: Vec<Permitted>,
    /// The least and the most of each rail if every unit could choose its row.
    bounds: Vec<(f64, f64)>,
}

/// Inputs as the bits of a number; more than 64 are beyond any row that is solved, and share one.
fn key(inputs: impl Iterator<Item = bool>) -> u64 {
    inputs
        .take(64)
        .enumerate()
        .fold(0, |bits, (place, up)| bits | (u64::from(up) << place))
}

impl Machine {
    fn new(plan: &Plan, results: &[MemberResult]) -> Self {
        let supply = |net| plan.is_supply(net).then(|| 0.0 < plan.supply_volts(net));
        let fixed: Vec<Option<bool>> = (0..plan.nets.len()).map(supply).collect();
        let units: Vec<Unit> = (0..plan.members.len())
            .map(|member| Unit::new(plan, member, &results[member]))
            .collect();
        let pins = |pins: &[Vec<(MemberIndex, usize)>]| -> Vec<Vec<MemberIndex>> {
            let of_net = pins.iter().map(|pins| {
                let mut members: Vec<MemberIndex> = pins.iter().map(|pin| pin.0).collect();
                members.dedup();
                members
            });
            of_net.collect()
        };
        let mut watchers = vec![Vec::new(); plan.nets.len()];
        for (index, unit) in units.iter().enumerate() {
            let variants = unit.variants.values().flatten();
            let around = variants.flat_map(|variant| variant.around.iter().map(|pair| pair.0));
            let mut nets: Vec<NetIndex> = around
                .chain(unit.inputs.iter().copied())
                .chain(unit.outputs.iter().copied())
                .collect();
            nets.sort_unstable();
            nets.dedup();
            for net in nets {
                watchers[net].push(index);
            }
        }
        let (settable, inputs) = settable(plan);
        let bounds = (0..plan.design.rails.len()).map(|rail| {
            let each = units.iter().map(|unit| {
                let given = unit.variants.values().flatten().map(|one| one.given[rail]);
                let most = given.fold(f64::NEG_INFINITY, f64::max);
                (unit.least[rail], if most.is_finite() { most } else { 0.0 })
            });
            each.fold((0.0, 0.0), |sum, one| (sum.0 + one.0, sum.1 + one.1))
        });
        Self {
            bounds: bounds.collect(),
            permitted: permitted(plan),
            fixed,
            drivers: pins(&plan.drivers),
            loads: pins(&plan.loads),
            watchers,
            settable,
            inputs,
            units,
        }
    }

    /// The most of every rail on which units do different things in different rows; the least where it could be negative.
    fn wanted(&self) -> Vec<Wanted> {
        let bounds = self.bounds.iter().enumerate();
        bounds
            .flat_map(|(rail, &(least, most))| {
                let most = (least < most || most != 0.0).then_some((rail, 1.0));
                let least = (least < 0.0).then_some((rail, -1.0));
                most.into_iter().chain(least)
            })
            .collect()
    }

    /// The best state for each wish, and how many states there are.
    fn every_state(&self, wanted: &[Wanted]) -> (Vec<Option<Vec<bool>>>, usize) {
        let mut best: Vec<Option<(f64, Vec<bool>)>> = vec![None; wanted.len()];
        let mut count = 0;
        let mut walk = Walk::new(self);
        for bits in 0..1u64 << self.settable.len() {
            if !walk.is_state(bits) {
                continue;
            }
            count += 1;
            for (best, &(rail, sign)) in best.iter_mut().zip(wanted) {
                let amps = sign * walk.total(rail);
                if best.as_ref().is_none_or(|best| best.0 + SAME_AMPS < amps) {
                    *best = Some((amps, walk.values.clone()));
                }
            }
        }
        let values = best.into_iter().map(|best| best.map(|best| best.1));
        (values.collect(), count)
    }

    /// The best state that climbing finds.
    fn climbed(&self, (rail, sign): Wanted, looks: u64) -> Option<Vec<bool>> {
        let mut best: Option<(f64, Vec<bool>)> = None;
        let mut walk = Walk::new(self);
        let mut lot = Lot(1);
        for start in 0..STARTS {
            if looks <= walk.looks {
                break;
            }
            if !walk.begin(start, &mut lot) {
                continue;
            }
            walk.climb(rail, sign, looks);
            let amps = sign * walk.total(rail);
            if best.as_ref().is_none_or(|best| best.0 + SAME_AMPS < amps) {
                best = Some((amps, walk.values.clone()));
            }
        }
        best.map(|best| best.1)
    }

    fn state(
        &self,
        values: &[bool],
        rail: usize,
        plan: &Plan,
        results: &[MemberResult],
    ) -> RailState {
        let mut state = RailState {
            amps: 0.0,
            up: Vec::new(),
            nearby: 0,
            without_row: 0,
        };
        for (unit, result) in self.units.iter().zip(results) {
            let Some(variant) = unit.variant(values) else {
                state.amps += unit.least[rail];
                state.without_row += usize::from(!unit.variants.is_empty());
                continue;
            };
            state.amps += variant.given[rail];
            let row = &result.rows[variant.row].row;
            let mut signals = row.values.iter().filter(|(net, _)| !plan.is_supply(**net));
            state.nearby += usize::from(!signals.all(|(&net, &up)| values[net] == up));
        }
        let up = self.settable.iter().copied().filter(|&net| values[net]);
        state.up = up.collect();
        state
    }
}

impl Unit {
    fn new(plan: &Plan, member: MemberIndex, result: &MemberResult) -> Self {
        let circuit = plan.circuit(member);
        let (inputs, outputs) = plan.members[member].nets.split_at(circuit.interface.inputs);
        let rows = result.rows.iter().enumerate();
        let mut variants: BTreeMap<u64, Vec<Variant>> = BTreeMap::new();
        for (index, row) in rows.filter(|(_, row)| row.counts()) {
            let said = outputs.iter().zip(&row.row.outputs);
            let variant = Variant {
                row: index,
                outputs: said.filter_map(|(&net, up)| Some((net, (*up)?))).collect(),
                around: row.row.values.iter().map(|(&net, &up)| (net, up)).collect(),
                given: given(plan, row),
            };
            let inputs = key(row.row.inputs.iter().copied());
            variants.entry(inputs).or_default().push(variant);
        }
        for alike in variants.values_mut() {
            keep_what_differs(alike);
        }
        let least = (0..plan.design.rails.len()).map(|rail| {
            let given = variants.values().flatten().map(|one| one.given[rail]);
            let least = given.fold(f64::INFINITY, f64::min);
            if least.is_finite() { least } else { 0.0 }
        });
        Self {
            least: least.collect(),
            circuit: plan.members[member].circuit.0,
            inputs: inputs.to_vec(),
            outputs: outputs.to_vec(),
            variants,
        }
    }

    /// The solved row nearest a state: inputs and outputs as they are, then as many of the neighbours' nets as can be.
    fn variant(&self, values: &[bool]) -> Option<&Variant> {
        let inputs = key(self.inputs.iter().map(|&net| values[net]));
        let as_it_is = |pair: &&(NetIndex, bool)| values[pair.0] == pair.1;
        let mut best: Option<(usize, &Variant)> = None;
        for variant in self.variants.get(&inputs)? {
            if !variant.outputs.iter().all(|pair| as_it_is(&pair)) {
                continue;
            }
            let agrees = variant.around.iter().filter(as_it_is).count();
            if best.is_none_or(|best| best.0 < agrees) {
                best = Some((agrees, variant));
            }
        }
        best.map(|best| best.1)
    }
}

/// Leaves of the neighbours' nets only those in which rows with the same inputs differ.
fn keep_what_differs(variants: &mut [Variant]) {
    let mut known: BTreeMap<NetIndex, (bool, bool)> = BTreeMap::new();
    for &(net, up) in variants.iter().flat_map(|variant| &variant.around) {
        let seen = known.entry(net).or_insert((false, false));
        seen.0 |= !up;
        seen.1 |= up;
    }
    for variant in variants {
        variant.around.retain(|(net, _)| known[net] == (true, true));
    }
}

/// Outputs that each circuit's sentence allows, for inputs of at most so many that all rows are few.
fn permitted(plan: &Plan) -> Vec<Permitted> {
    let circuits = plan.design.circuits.iter();
    circuits
        .map(|circuit| {
            let count = circuit.interface.inputs;
            if ENUMERATED < count {
                return BTreeMap::new();
            }
            let rows = (0..1u64 << count).map(|bits| {
                let inputs: Vec<bool> = (0..count).map(|input| bits >> input & 1 == 1).collect();
                (bits, output_rows(circuit, &inputs))
            });
            rows.collect()
        })
        .collect()
}

/// Nets that fix all others, and how many of them nothing drives. A net is free when no sentence says what it is; the
/// outputs of what stores are set; and where then a loop is left, the net that most units wait for.
fn settable(plan: &Plan) -> (Vec<NetIndex>, usize) {
    let says = |&(member, signal): &(MemberIndex, usize)| {
        let circuit = plan.circuit(member);
        let said = circuit.says.iter().any(|says| says.output == signal);
        said && circuit.interface.inputs <= ENUMERATED
    };
    let signals = || (0..plan.nets.len()).filter(|&net| !plan.is_supply(net));
    let mut settable: Vec<NetIndex> = signals()
        .filter(|&net| !plan.loads[net].is_empty() && !plan.drivers[net].iter().any(says))
        .collect();
    let inputs = settable.len();
    let stores = |driver: &(MemberIndex, usize)| says(driver) && plan.stores(driver.0);
    settable.extend(signals().filter(|&net| plan.drivers[net].iter().any(stores)));
    let mut known: Vec<bool> = (0..plan.nets.len())
        .map(|net| plan.is_supply(net))
        .collect();
    for &net in &settable {
        known[net] = true;
    }
    let mut waiting: Vec<MemberIndex> = (0..plan.members.len()).collect();
    loop {
        let before = waiting.len();
        waiting.retain(|&member| {
            let inputs = plan.circuit(member).interface.inputs;
            let (inputs, outputs) = plan.members[member].nets.split_at(inputs);
            let follows = inputs.iter().all(|&net| known[net]);
            if follows {
                outputs.iter().for_each(|&net| known[net] = true);
            }
            !follows
        });
        if waiting.is_empty() {
            return (settable, inputs);
        }
        if waiting.len() == before {
            let mut waits = vec![0_usize; plan.nets.len()];
            for &member in &waiting {
                let inputs = plan.circuit(member).interface.inputs;
                for &net in &plan.members[member].nets[..inputs] {
                    waits[net] += usize::from(!known[net]);
                }
            }
            let most = (0..waits.len()).max_by_key(|&net| (waits[net], std::cmp::Reverse(net)));
            let cut = most.expect("a unit that waits has an input");
            known[cut] = true;
            settable.push(cut);
        }
    }
}
