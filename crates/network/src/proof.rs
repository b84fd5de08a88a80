//! A block's sentence against its units' sentences, as logic.
//!
//! Each gate's own sentence is proven at volts elsewhere; here the gates are taken at their word and the block as a
//! whole is compared with what it is said to do, in every row of its inputs and every state that agrees with its gates.
//! A value taken over at an edge is proven by letting the gates follow the edge, all together, step by step.

use crate::loops::{MOST_STATES, states};
use crate::plan::{MemberIndex, NetIndex, Plan};
use crate::rows::{Values, input_rows};
use design::model::{Block, Design, PlacedBlock, Says};
use std::collections::BTreeSet;
use text::source::Span;

/// How a block fails its sentence.
#[derive(Debug, Clone, PartialEq)]
pub enum Failure {
    /// In a row of its inputs an output is not what the sentence says.
    Otherwise {
        /// The sentence.
        span: Span,
        /// The row and the outputs, in words.
        row: String,
    },
    /// The sentence keeps a value, the units do not.
    StoresNothing {
        /// The sentence.
        span: Span,
    },
    /// Too many states to go through: not proven.
    TooLarge,
}

/// What came of one block.
#[derive(Debug, Clone, PartialEq)]
pub struct Proof {
    /// Index into [`design::model::Design::placed_blocks`]: the one that was gone through.
    pub placed: usize,
    /// Rows and states gone through.
    pub cases: usize,
    /// What is wrong.
    pub failures: Vec<Failure>,
}

/// Blocks with more units than this are not gone through state by state.
const LARGEST_BLOCK: usize = 24;

/// Proves every block of the design once, on a placed example.
#[must_use]
pub fn proofs(plan: &Plan) -> Vec<Proof> {
    let design = plan.design;
    (0..design.blocks.len())
        .filter_map(|block| example(design, block))
        .filter(|&placed| {
            !design.blocks[design.placed_blocks[placed].block.0]
                .says
                .is_empty()
        })
        .map(|placed| prove(plan, placed))
        .collect()
}

/// The first placed example of a block whose inputs are not its own outputs, or just the first.
fn example(design: &Design, block: usize) -> Option<usize> {
    let of_block = |index: &usize| design.placed_blocks[*index].block.0 == block;
    let mut placed = (0..design.placed_blocks.len()).filter(of_block);
    let first = placed.clone().next();
    placed
        .find(|&index| !fed_back(design, index).contains(&true))
        .or(first)
}

/// For each input of a placed block whether it is wired to one of the block's own outputs.
fn fed_back(design: &Design, index: usize) -> Vec<bool> {
    let placed = &design.placed_blocks[index];
    let (inputs, outputs) = placed
        .nets
        .split_at(design.blocks[placed.block.0].interface.inputs);
    inputs.iter().map(|net| outputs.contains(net)).collect()
}

struct Case<'a> {
    plan: &'a Plan<'a>,
    block: &'a Block,
    placed: &'a PlacedBlock,
    group: Vec<MemberIndex>,
    own: Vec<NetIndex>,
    /// Inputs that are the block's own outputs: they cannot be set.
    fed_back: Vec<bool>,
}

fn prove(plan: &Plan, index: usize) -> Proof {
    let placed = &plan.design.placed_blocks[index];
    let block = &plan.design.blocks[placed.block.0];
    let group: Vec<MemberIndex> = placed.units.iter().map(|unit| unit.0).collect();
    let mut proof = Proof {
        placed: index,
        cases: 0,
        failures: Vec::new(),
    };
    if LARGEST_BLOCK < group.len() {
        proof.failures.push(Failure::TooLarge);
        return proof;
    }
    let own: BTreeSet<NetIndex> = group
        .iter()
        .flat_map(|&member| &plan.members[member].nets[plan.circuit(member).interface.inputs..])
        .copied()
        .collect();
    let case = Case {
        plan,
        block,
        placed,
        group,
        own: own.into_iter().collect(),
        fed_back: fed_back(plan.design, index),
    };
    let mut seen: Vec<(Vec<bool>, Values)> = Vec::new();
    for inputs in input_rows(block.interface.inputs) {
        let Some(fed) = case.fed(&inputs) else {
            continue;
        };
        let left = MOST_STATES - proof.cases;
        let Some(states) = states(plan, &case.group, &fed, &case.own, left) else {
            proof.failures.push(Failure::TooLarge);
            return proof;
        };
        for state in states {
            proof.cases += 1;
            seen.push((inputs.clone(), state));
        }
    }
    for says in &block.says {
        proof.failures.extend(case.against(says, &seen));
    }
    proof
}

impl Case<'_> {
    /// The block's inputs on its nets; `None` when one net would need both values.
    fn fed(&self, inputs: &[bool]) -> Option<Values> {
        let mut values = Values::new();
        for (&value, net) in inputs.iter().zip(&self.placed.nets) {
            let agrees = if self.plan.is_supply(net.0) {
                (0.0 < self.plan.supply_volts(net.0)) == value
            } else {
                *values.entry(net.0).or_insert(value) == value
            };
            if !agrees {
                return None;
            }
        }
        Some(values)
    }

    /// Values of the block's signals in a state.
    fn signals(&self, inputs: &[bool], state: &Values) -> Vec<bool> {
        let outputs = self.placed.nets[self.block.interface.inputs..].iter();
        inputs
            .iter()
            .copied()
            .chain(outputs.map(|net| state.get(&net.0).copied().unwrap_or(false)))
            .collect()
    }

    fn against(&self, says: &Says, seen: &[(Vec<bool>, Values)]) -> Option<Failure> {
        if let Some(edge) = says.edge {
            return self.against_edge(says, edge.signal, edge.rises, seen);
        }
        for (inputs, state) in seen {
            let signals = self.signals(inputs, state);
            if says.value.value(&signals) != signals[says.output] {
                return Some(Failure::Otherwise {
                    span: says.span,
                    row: self.row(&signals),
                });
            }
        }
        if self.fed_back.contains(&true) {
            // Which rows keep a value depends on the value itself: only the outputs are compared.
            return None;
        }
        let keeps = |inputs: &[bool]| {
            // A sentence that mentions its own output keeps it where both values agree with it.
            [false, true].into_iter().all(|kept| {
                let mut signals = inputs.to_vec();
                signals.resize(self.block.interface.signals.len(), false);
                signals[says.output] = kept;
                says.value.value(&signals) == kept
            })
        };
        let stored_rows: Vec<&Vec<bool>> = seen
            .iter()
            .map(|(inputs, _)| inputs)
            .filter(|inputs| keeps(inputs))
            .collect();
        let both = |inputs: &Vec<bool>| self.both_values(says.output, inputs, seen);
        stored_rows
            .iter()
            .any(|inputs| !both(inputs))
            .then_some(Failure::StoresNothing { span: says.span })
    }

    /// The same but for inputs that cannot be set.
    fn same_set(&self, left: &[bool], right: &[bool]) -> bool {
        left.iter()
            .zip(right)
            .zip(&self.fed_back)
            .all(|((left, right), fed_back)| *fed_back || left == right)
    }

    fn both_values(&self, output: usize, inputs: &[bool], seen: &[(Vec<bool>, Values)]) -> bool {
        let mut values = seen
            .iter()
            .filter(|(row, _)| self.same_set(row, inputs))
            .map(|(row, state)| self.signals(row, state)[output]);
        values.clone().any(|value| value) && values.any(|value| !value)
    }

    /// Every settled state with the clock before the edge: after it the output is the sentence's value; after the
    /// opposite edge, and after any other input changes, the output is what it was.
    fn against_edge(
        &self,
        says: &Says,
        clock: usize,
        rises: bool,
        seen: &[(Vec<bool>, Values)],
    ) -> Option<Failure> {
        if !seen
            .iter()
            .any(|(inputs, _)| self.both_values(says.output, inputs, seen))
        {
            return Some(Failure::StoresNothing { span: says.span });
        }
        for (inputs, state) in seen {
            let before = self.signals(inputs, state);
            for changed in (0..inputs.len()).filter(|&input| !self.fed_back[input]) {
                let mut after_inputs = inputs.clone();
                after_inputs[changed] = !after_inputs[changed];
                let Some(after) = self.follow(&after_inputs, state) else {
                    return Some(Failure::Otherwise {
                        span: says.span,
                        row: format!("{} (never comes to rest)", self.row(&before)),
                    });
                };
                let takes_over = changed == clock && after_inputs[clock] == rises;
                let wanted = if takes_over {
                    says.value.value(&before)
                } else {
                    before[says.output]
                };
                let signals = self.signals(&after_inputs, &after);
                if signals[says.output] != wanted {
                    let row = format!("{}, then {}", self.row(&before), self.row(&signals));
                    return Some(Failure::Otherwise {
                        span: says.span,
                        row,
                    });
                }
            }
        }
        None
    }

    /// Lets all gates follow new inputs from a state, all together, until nothing changes.
    fn follow(&self, inputs: &[bool], state: &Values) -> Option<Values> {
        let mut values = self.fed(inputs)?;
        values.extend(state.iter().map(|(&net, &value)| (net, value)));
        for _ in 0..4 * self.group.len() + 4 {
            let mut next = values.clone();
            for &member in &self.group {
                let circuit = self.plan.circuit(member);
                let nets = &self.plan.members[member].nets;
                let signals: Vec<bool> = nets
                    .iter()
                    .map(|net| {
                        values
                            .get(net)
                            .copied()
                            .unwrap_or_else(|| 0.0 < self.plan.supply_volts(*net))
                    })
                    .collect();
                for says in circuit.says.iter().filter(|says| says.edge.is_none()) {
                    next.insert(nets[says.output], says.value.value(&signals));
                }
            }
            if next == values {
                values.retain(|net, _| self.own.contains(net));
                return Some(values);
            }
            values = next;
        }
        None
    }

    /// A row in words: `d up, clock down: q down`.
    fn row(&self, signals: &[bool]) -> String {
        let word = |signal: usize| {
            format!(
                "{} {}",
                self.block.interface.signals[signal],
                if signals[signal] { "up" } else { "down" }
            )
        };
        let inputs: Vec<String> = (0..self.block.interface.inputs).map(word).collect();
        let outputs: Vec<String> = (self.block.interface.inputs..signals.len())
            .map(word)
            .collect();
        format!("{}: {}", inputs.join(", "), outputs.join(", "))
    }
}
