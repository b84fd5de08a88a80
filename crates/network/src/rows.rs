//! Which values of its inputs (and of what it stores) a member can meet, and what its neighbours' inputs then are.
//!
//! A member is judged in every row of its inputs that its drivers can produce. Where several rows of a driver give the
//! wanted value, the one that gives the weakest level is taken. Inputs of its loads that nothing else fixes are tried
//! all down and all up: loads from none to all.

use crate::plan::{MemberIndex, NetIndex, Plan};
use crate::surroundings::Surroundings;
use design::model::{Circuit, CircuitId};
use std::collections::{BTreeMap, BTreeSet};

/// Values of the nets around a member in one row.
pub type Values = BTreeMap<NetIndex, bool>;

/// Where the inputs of loads stand that nothing else fixes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Others {
    /// All down.
    Down,
    /// All up.
    Up,
}

/// One row.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// The subject's inputs.
    pub inputs: Vec<bool>,
    /// The subject's outputs, as its statement has them; `None` where it says nothing.
    pub outputs: Vec<Option<bool>>,
    /// Values of all nets of the scene.
    pub values: Values,
    /// Where the loads' free inputs stand.
    pub others: Others,
}

/// Rows of each driver circuit, weakest level first, by the value of its first output.
pub type WeakRows = BTreeMap<CircuitId, [Vec<Vec<bool>>; 2]>;

/// More inputs than this are not tried in every combination: then all down, all up, each alone up, each alone down.
pub const ALL_ROWS_UP_TO: usize = 6;

/// Bound on the drivers' rows tried to make one row of the subject.
pub(crate) const TRIALS: usize = 4096;
/// The same for all rows of a subject together.
const ALL_TRIALS: usize = 16 * TRIALS;

/// Every row of the subject that its drivers can produce; with the number of rows that they cannot.
#[must_use]
pub fn rows(plan: &Plan, around: &Surroundings, weak: &WeakRows) -> (Vec<Row>, usize) {
    let circuit = plan.circuit(around.subject);
    let mut rows: Vec<Row> = Vec::new();
    let mut known: BTreeSet<Values> = BTreeSet::new();
    let mut impossible = 0;
    let mut all_trials = ALL_TRIALS;
    let neighbours = around.neighbours();
    for inputs in input_rows(circuit.interface.inputs) {
        let Some(values) = fix_inputs(plan, around.subject, &inputs) else {
            impossible += 1;
            continue;
        };
        let mut found = false;
        for outputs in output_rows(circuit, &inputs) {
            let mut values = values.clone();
            let nets = &plan.members[around.subject].nets[circuit.interface.inputs..];
            let agrees = nets
                .iter()
                .zip(&outputs)
                .all(|(&net, output)| output.is_none_or(|output| agree(&mut values, net, output)));
            if !agrees {
                continue;
            }
            let mut trials = TRIALS.min(all_trials);
            all_trials -= trials;
            let fixed = fix_drivers(plan, &neighbours, weak, &mut values, &mut trials);
            all_trials += trials;
            if !fixed {
                continue;
            }
            found = true;
            for others in [Others::Down, Others::Up] {
                let filled = fill_others(plan, around, values.clone(), others);
                if known.insert(filled.clone()) {
                    rows.push(Row {
                        inputs: inputs.clone(),
                        outputs: outputs.clone(),
                        values: filled,
                        others,
                    });
                }
            }
        }
        impossible += usize::from(!found);
    }
    (rows, impossible)
}

/// How many rows [`input_rows`] gives.
#[must_use]
pub fn row_count(inputs: usize) -> usize {
    if inputs <= ALL_ROWS_UP_TO {
        1 << inputs
    } else {
        2 + 2 * inputs
    }
}

/// All rows of `count` inputs, or a telling choice of them.
#[must_use]
pub fn input_rows(count: usize) -> Vec<Vec<bool>> {
    if count <= ALL_ROWS_UP_TO {
        return (0..1usize << count)
            .map(|bits| (0..count).map(|input| bits >> input & 1 == 1).collect())
            .collect();
    }
    let mut rows = vec![vec![false; count], vec![true; count]];
    for input in 0..count {
        rows.push((0..count).map(|other| other == input).collect());
        rows.push((0..count).map(|other| other != input).collect());
    }
    rows
}

/// The outputs that agree with the circuit's statement at these inputs: one row for a gate, several where it stores.
#[must_use]
pub fn output_rows(circuit: &Circuit, inputs: &[bool]) -> Vec<Vec<Option<bool>>> {
    let outputs = circuit.interface.signals.len() - circuit.interface.inputs;
    let said: Vec<usize> = (0..outputs)
        .filter(|output| {
            circuit
                .says
                .iter()
                .any(|says| says.output == circuit.interface.inputs + output)
        })
        .collect();
    if ALL_ROWS_UP_TO < said.len() {
        return Vec::new();
    }
    let mut rows = Vec::new();
    for bits in 0..1usize << said.len() {
        let mut signals = inputs.to_vec();
        signals.resize(circuit.interface.signals.len(), false);
        for (index, output) in said.iter().enumerate() {
            signals[circuit.interface.inputs + output] = bits >> index & 1 == 1;
        }
        let holds = |says: &design::model::Says| {
            says.edge.is_some() || says.value.value(&signals) == signals[says.output]
        };
        if circuit.says.iter().all(holds) {
            let value = |output: usize| {
                said.contains(&output)
                    .then(|| signals[circuit.interface.inputs + output])
            };
            rows.push((0..outputs).map(value).collect());
        }
    }
    rows
}

/// Whether a circuit stores within itself: its sentence takes a value over at an edge, or leaves more than one row of
/// outputs at some row of its inputs.
#[must_use]
pub fn stores(circuit: &Circuit) -> bool {
    circuit.says.iter().any(|says| says.edge.is_some())
        || input_rows(circuit.interface.inputs)
            .iter()
            .any(|row| 1 < output_rows(circuit, row).len())
}

/// The value of one output at a row of inputs, if the statement fixes it.
fn output_value(circuit: &Circuit, signal: usize, inputs: &[bool]) -> Option<bool> {
    let says = circuit
        .says
        .iter()
        .find(|says| says.output == signal && says.edge.is_none())?;
    let mut signals: Vec<Option<bool>> = inputs.iter().copied().map(Some).collect();
    signals.resize(circuit.interface.signals.len(), None);
    says.value.value_if_known(&signals)
}

fn agree(values: &mut Values, net: NetIndex, value: bool) -> bool {
    *values.entry(net).or_insert(value) == value
}

/// Puts the inputs of a member on its nets; `None` when a supply or a net met twice says otherwise.
fn fix_inputs(plan: &Plan, member: MemberIndex, inputs: &[bool]) -> Option<Values> {
    let mut values = Values::new();
    fix_row(plan, member, inputs, &mut values).then_some(values)
}

/// An input on ground or a negative rail is down, on a positive rail up.
fn fix_row(plan: &Plan, member: MemberIndex, inputs: &[bool], values: &mut Values) -> bool {
    inputs
        .iter()
        .zip(&plan.members[member].nets)
        .all(|(&value, &net)| {
            if plan.is_supply(net) {
                (0.0 < plan.supply_volts(net)) == value
            } else {
                agree(values, net, value)
            }
        })
}

/// Chooses a row for each neighbour whose output already has a value so that it gives that value, weakest first.
///
/// When it fails, `values` is as it was. Depth: the number of drivers.
pub(crate) fn fix_drivers(
    plan: &Plan,
    drivers: &[MemberIndex],
    weak: &WeakRows,
    values: &mut Values,
    trials: &mut usize,
) -> bool {
    let Some((&driver, rest)) = drivers.split_first() else {
        return true;
    };
    let circuit = plan.circuit(driver);
    let outputs = circuit.interface.inputs;
    let wanted: Vec<(usize, bool)> = (outputs..circuit.interface.signals.len())
        .filter_map(|signal| {
            values
                .get(&plan.members[driver].nets[signal])
                .map(|&value| (signal, value))
        })
        .collect();
    if wanted.is_empty() {
        // A load whose output nothing here depends on.
        return fix_drivers(plan, rest, weak, values, trials);
    }
    let weak_first = match (weak.get(&plan.members[driver].circuit), wanted.first()) {
        (Some(weak), Some(&(_, value))) => weak[usize::from(value)].as_slice(),
        _ => &[],
    };
    let mut attempt = |inputs: &[bool], values: &mut Values| {
        if *trials == 0 {
            return false;
        }
        *trials -= 1;
        let gives = if plan.stores(driver) {
            stored_row(circuit, inputs, &wanted).is_some()
        } else {
            wanted.iter().all(|&(signal, value)| {
                output_value(circuit, signal, inputs).is_none_or(|given| given == value)
            })
        };
        if !gives {
            return false;
        }
        let nets = &plan.members[driver].nets[..inputs.len()];
        let unset: Vec<NetIndex> = nets
            .iter()
            .copied()
            .filter(|net| !values.contains_key(net))
            .collect();
        if fix_row(plan, driver, inputs, values) && fix_drivers(plan, rest, weak, values, trials) {
            return true;
        }
        for net in unset {
            values.remove(&net);
        }
        false
    };
    weak_first.iter().any(|inputs| attempt(inputs, values))
        || input_rows(circuit.interface.inputs)
            .iter()
            .any(|inputs| !weak_first.contains(inputs) && attempt(inputs, values))
}

/// Outputs of a circuit that stores, in a state that its sentence allows and that has the `known` signals as they are.
pub(crate) fn stored_row(
    circuit: &Circuit,
    inputs: &[bool],
    known: &[(usize, bool)],
) -> Option<Vec<Option<bool>>> {
    output_rows(circuit, inputs).into_iter().find(|outputs| {
        known
            .iter()
            .all(|&(signal, value)| outputs[signal - inputs.len()].is_none_or(|out| out == value))
    })
}

/// Every net of the scene that has no value yet: outputs follow their statements, the rest stands as `others` says.
pub(crate) fn fill_others(
    plan: &Plan,
    around: &Surroundings,
    mut values: Values,
    others: Others,
) -> Values {
    let members = around.members();
    for &member in &members {
        let inputs = plan.circuit(member).interface.inputs;
        for &net in &plan.members[member].nets[..inputs] {
            if !plan.is_supply(net)
                && !plan.drivers[net]
                    .iter()
                    .any(|(driver, _)| members.contains(driver))
            {
                values.entry(net).or_insert(others == Others::Up);
            }
        }
    }
    for &member in &members {
        let circuit = plan.circuit(member);
        let inputs: Vec<bool> = plan.members[member].nets[..circuit.interface.inputs]
            .iter()
            .map(|net| {
                values
                    .get(net)
                    .copied()
                    .unwrap_or_else(|| 0.0 < plan.supply_volts(*net))
            })
            .collect();
        let nets = &plan.members[member].nets;
        let outputs = circuit.interface.inputs..circuit.interface.signals.len();
        let known: Vec<(usize, bool)> = outputs
            .clone()
            .filter_map(|signal| Some((signal, *values.get(&nets[signal])?)))
            .collect();
        let stored = plan
            .stores(member)
            .then(|| stored_row(circuit, &inputs, &known))
            .flatten();
        for signal in outputs {
            let value = match &stored {
                Some(stored) => stored[signal - inputs.len()],
                None => output_value(circuit, signal, &inputs),
            };
            if let Some(value) = value {
                values.entry(nets[signal]).or_insert(value);
            }
        }
    }
    values
}
