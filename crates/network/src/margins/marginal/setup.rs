//! How the machine is brought to where some nets stand as is wanted: by its switches, and by what it must have stored.

use crate::plan::{MemberIndex, NetIndex, Plan};
use crate::rows::{Values, input_rows, output_rows};
use std::collections::BTreeMap;

/// Rows of units tried on the way back to the switches: chosen, so that the work is bounded by a count.
const TRIALS: usize = 20_000;
/// The same for one net that is not wanted.
const TRIALS_FOR_ONE: usize = 200;
/// Nets tried for the one that fixes the most others: chosen, more than a unit and its loop have.
const TRIED: usize = 64;

/// A state of the machine by the sentences of its units, as far as the nets that are wanted depend on it.
#[derive(Debug, Clone, PartialEq)]
pub struct SetUp {
    /// Nets with a switch of the bench, and where it must stand.
    pub switches: Vec<(NetIndex, bool)>,
    /// Nets that nothing drives, and where they must be held.
    pub held: Vec<(NetIndex, bool)>,
    /// Nets that do not follow from these: what must be stored; all others follow.
    pub stored: Vec<(NetIndex, bool)>,
    /// Every net that is known then.
    pub values: Values,
}

/// A state in which some nets stand as is wanted; `None` where the sentences allow none, or none was found.
pub(super) fn set_up(plan: &Plan, wanted: &Values) -> Option<SetUp> {
    let mut way = Way {
        plan,
        values: wanted.clone(),
        trials: TRIALS,
    };
    let drivers = wanted.keys().flat_map(|net| drivers(plan, *net));
    let pending = drivers.collect();
    if !way.leads_back(pending) {
        return None;
    }
    let values = way.values;
    let of = |wanted: &dyn Fn(NetIndex) -> bool| -> Vec<(NetIndex, bool)> {
        let own = values.iter().filter(|(net, _)| wanted(**net));
        own.map(|(net, up)| (*net, *up)).collect()
    };
    let free = |net: NetIndex| plan.drivers[net].is_empty() && !plan.is_supply(net);
    let switches = of(&|net| free(net) && plan.switches.contains_key(&net));
    let held = of(&|net| free(net) && !plan.switches.contains_key(&net));
    let stored = stored(plan, &values, wanted, switches.iter().chain(&held));
    Some(SetUp {
        switches,
        held,
        stored,
        values,
    })
}

/// The same state with every other net of the machine as well: down where the sentences allow it.
pub(super) fn completed(plan: &Plan, values: &Values) -> Values {
    let mut way = Way {
        plan,
        values: values.clone(),
        trials: 0,
    };
    for net in (0..plan.nets.len()).filter(|net| !plan.is_supply(*net)) {
        for up in [false, true] {
            if way.values.contains_key(&net) {
                continue;
            }
            way.trials = TRIALS_FOR_ONE;
            way.values.insert(net, up);
            if !way.leads_back(drivers(plan, net).collect()) {
                way.values.remove(&net);
            }
        }
    }
    way.values
}

fn drivers(plan: &Plan, net: NetIndex) -> impl Iterator<Item = MemberIndex> {
    plan.drivers[net].iter().map(|driver| driver.0)
}

/// From nets that are wanted back to what can be set: of every driver a row of inputs is chosen that gives its outputs.
struct Way<'a> {
    plan: &'a Plan<'a>,
    values: Values,
    trials: usize,
}

impl Way<'_> {
    /// Whether rows can be chosen for all that is pending. Depth: the number of units.
    fn leads_back(&mut self, mut pending: Vec<MemberIndex>) -> bool {
        let plan = self.plan;
        while let Some(member) = pending.pop() {
            let circuit = plan.circuit(member);
            let nets = &plan.members[member].nets;
            let inputs = &nets[..circuit.interface.inputs];
            let known: Vec<Option<bool>> = inputs.iter().map(|net| self.value(*net)).collect();
            if known.iter().all(Option::is_some) {
                let row: Vec<bool> = known.into_iter().flatten().collect();
                if !self.gives(member, &row) {
                    return false;
                }
                continue;
            }
            for row in input_rows(inputs.len()) {
                let agrees =
                    |(known, up): (&Option<bool>, &bool)| known.is_none_or(|known| known == *up);
                if !known.iter().zip(&row).all(agrees) || !self.gives(member, &row) {
                    continue;
                }
                if self.trials == 0 {
                    return false;
                }
                self.trials -= 1;
                let new: Vec<(NetIndex, bool)> = inputs
                    .iter()
                    .zip(&row)
                    .filter(|(net, _)| self.value(**net).is_none())
                    .map(|(net, up)| (*net, *up))
                    .collect();
                let before = self.values.clone();
                self.values.extend(new.iter().copied());
                let mut next = pending.clone();
                // A net that stands twice among the inputs must be the same both times.
                let same = inputs
                    .iter()
                    .zip(&row)
                    .all(|(net, up)| self.value(*net) == Some(*up));
                next.extend(new.iter().flat_map(|(net, _)| drivers(plan, *net)));
                if same && self.leads_back(next) {
                    return true;
                }
                self.values = before;
            }
            return false;
        }
        true
    }

    fn value(&self, net: NetIndex) -> Option<bool> {
        if self.plan.is_supply(net) {
            return Some(0.0 < self.plan.supply_volts(net));
        }
        self.values.get(&net).copied()
    }

    /// Whether a row of a unit's inputs allows its outputs as they are.
    fn gives(&self, member: MemberIndex, inputs: &[bool]) -> bool {
        let outputs = &self.plan.members[member].nets[inputs.len()..];
        let wanted: Vec<Option<bool>> = outputs.iter().map(|net| self.value(*net)).collect();
        output_rows(self.plan.circuit(member), inputs)
            .iter()
            .any(|row| {
                let mut pairs = row.iter().zip(&wanted);
                pairs.all(|pair| !matches!(pair, (Some(given), Some(wanted)) if given != wanted))
            })
    }
}

/// What does not follow from what is set: one net after the other, each time the one from which most others follow.
fn stored<'s>(
    plan: &Plan,
    values: &Values,
    wanted: &Values,
    set: impl Iterator<Item = &'s (NetIndex, bool)>,
) -> Vec<(NetIndex, bool)> {
    let around: Vec<MemberIndex> = {
        let mut all: Vec<MemberIndex> = values.keys().flat_map(|net| drivers(plan, *net)).collect();
        all.sort_unstable();
        all.dedup();
        all
    };
    let mut known: Values = set.copied().collect();
    follow(plan, &around, values, &mut known);
    let mut stored = Vec::new();
    while wanted.keys().any(|net| !known.contains_key(net)) {
        let open = values.iter().filter(|(net, _)| !known.contains_key(*net));
        let tried = open.take(TRIED).map(|(&net, &up)| {
            let mut then = known.clone();
            then.insert(net, up);
            follow(plan, &around, values, &mut then);
            (net, up, then)
        });
        // Of those from which as many follow the first.
        let Some((net, up, then)) = tried.reduce(|best, one| {
            if best.2.len() < one.2.len() {
                one
            } else {
                best
            }
        }) else {
            break;
        };
        known = then;
        stored.push((net, up));
    }
    stored
}

/// Adds what follows from the sentences, of values that are known to be as they are in `values`.
fn follow(plan: &Plan, around: &[MemberIndex], values: &Values, known: &mut Values) {
    let value = |net: NetIndex, known: &Values| {
        if plan.is_supply(net) {
            Some(0.0 < plan.supply_volts(net))
        } else {
            known.get(&net).copied()
        }
    };
    let mut outputs: BTreeMap<NetIndex, bool> = BTreeMap::new();
    loop {
        for &member in around {
            let circuit = plan.circuit(member);
            let nets = &plan.members[member].nets;
            let signals: Vec<Option<bool>> = nets.iter().map(|net| value(*net, known)).collect();
            for says in circuit.says.iter().filter(|says| says.edge.is_none()) {
                let net = nets[says.output];
                if !known.contains_key(&net)
                    && says.value.value_if_known(&signals).is_some()
                    && let Some(&up) = values.get(&net)
                {
                    outputs.insert(net, up);
                }
            }
        }
        if outputs.is_empty() {
            return;
        }
        known.append(&mut outputs);
    }
}
