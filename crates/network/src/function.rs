//! What a circuit does with clean levels at its inputs, against what its sentence says.
//!
//! Clean means ground for down, and for up the highest rail of the circuit and of what drives it: no gate stands in for another here, so that a circuit that
//! does the wrong thing is told apart from one that is driven badly.

use crate::equations::Network;
use crate::judge::{Context, Level, Levels, set_feeds};
use crate::plan::{FanOut, Plan};
use crate::rows::{Values, input_rows, output_rows, row_count, stores};
use crate::scene::build;
use crate::solve::Solver;
use crate::surroundings::Copies;
use crate::work::MOST_ELEMENT_ROWS;
use design::model::{Circuit, CircuitId, Design, NodeKind, PartKind};

/// Output volts of one row with clean inputs.
#[derive(Debug, Clone, PartialEq)]
pub struct CleanRow {
    /// Inputs.
    pub inputs: Vec<bool>,
    /// Outputs as the sentence has them.
    pub said: Vec<Option<bool>>,
    /// Output volts.
    pub volts: Vec<f64>,
}

/// How far the sentence and the volts agree.
#[derive(Debug, Clone, PartialEq)]
pub enum Function {
    /// Every row that should be up lies above every row that should be down.
    Agrees,
    /// The output (signal) whose rows do not part: the lowest that should be up and the highest that should be down.
    Differs {
        /// Signal.
        output: usize,
        /// Lowest volts of a row that should be up, with its inputs.
        up: (f64, Vec<bool>),
        /// Highest volts of a row that should be down, with its inputs.
        down: (f64, Vec<bool>),
    },
    /// Nothing is said, it stores, or it cannot be solved: not judged here.
    NotJudged,
}

/// A change of one part that would make the function right.
#[derive(Debug, Clone, PartialEq)]
pub struct Remedy {
    /// Index of the part.
    pub part: usize,
    /// In words: "CR1 is the wrong way round".
    pub cause: String,
    /// In words: "Turn CR1 round."
    pub action: String,
}

/// Rows with clean inputs; `None` when the circuit says nothing, stores, or cannot be solved.
#[must_use]
pub fn clean_rows(design: &Design, circuit: CircuitId, context: &Context) -> Option<Vec<CleanRow>> {
    let subject = &design.circuits[circuit.0];
    if subject.says.is_empty() || stores(subject) {
        return None;
    }
    let plan = Plan::alone(design, circuit, FanOut::AsJig);
    let mut members = vec![0];
    let inputs = subject.interface.inputs;
    members.extend((1..plan.members.len()).filter(|&member| {
        let load_inputs = plan.circuit(member).interface.inputs;
        plan.members[member].nets[..load_inputs]
            .iter()
            .any(|net| plan.members[0].nets[inputs..].contains(net))
    }));
    let scene = build(
        &plan,
        &Copies::each(&members),
        &plan.members[0].nets[..inputs],
        &context.assumptions,
    );
    if !scene.without_law.is_empty() {
        return None;
    }
    if MOST_ELEMENT_ROWS < scene.wiring.elements.len() * row_count(inputs) {
        return None;
    }
    let mut network = Network::new(scene.wiring.clone(), context.assumptions.leak_siemens).ok()?;
    let mut solver = Solver::new(&network);
    let clean = Level {
        down: 0.0,
        up: highest_rail(&plan),
    };
    let levels: Levels = scene.feeds.keys().map(|&net| (net, clean)).collect();
    let nodes = &scene.member(0)?.nodes;
    let mut rows = Vec::new();
    for row in input_rows(inputs) {
        let mut values: Values = plan.members[0]
            .nets
            .iter()
            .copied()
            .zip(row.iter().copied())
            .collect();
        for &net in scene.feeds.keys() {
            values.entry(net).or_insert(false);
        }
        set_feeds(&mut network, &scene, &values, &levels);
        let point = solver.operating_point(&network, None, None, &context.settings);
        if !point.outcome.settled() {
            return None;
        }
        let said = output_rows(subject, &row).into_iter().next()?;
        let volts = (inputs..subject.interface.signals.len())
            .map(|signal| point.volts[nodes[signal]])
            .collect();
        rows.push(CleanRow {
            inputs: row,
            said,
            volts,
        });
    }
    Some(rows)
}

/// Highest rail that member 0 or what drives its inputs is on, V; at least 1 V, so that up is never ground.
fn highest_rail(plan: &Plan) -> f64 {
    let inputs = &plan.members[0].nets[..plan.circuit(0).interface.inputs];
    let switches = plan
        .switches
        .iter()
        .filter(|(net, _)| inputs.contains(net))
        .map(|(_, switch)| plan.supply_volts(switch.up));
    let drivers = inputs.iter().flat_map(|&net| &plan.drivers[net]);
    let rails = drivers
        .map(|driver| driver.0)
        .chain([0])
        .flat_map(|member| &plan.circuit(member).nodes)
        .filter_map(|node| match node.kind {
            NodeKind::Rail(rail) => Some(plan.design.rails[rail.0].volts),
            _ => None,
        });
    switches.chain(rails).fold(1.0, f64::max)
}

/// Compares a circuit's volts with its sentence.
#[must_use]
pub fn function(design: &Design, circuit: CircuitId, context: &Context) -> Function {
    let Some(rows) = clean_rows(design, circuit, context) else {
        return Function::NotJudged;
    };
    let inputs = design.circuits[circuit.0].interface.inputs;
    for output in 0..rows.first().map_or(0, |row| row.volts.len()) {
        let extreme = |wanted: bool, better: fn(f64, f64) -> bool| {
            rows.iter()
                .filter(|row| row.said[output] == Some(wanted))
                .fold(None, |best: Option<(f64, Vec<bool>)>, row| match best {
                    Some(best) if !better(row.volts[output], best.0) => Some(best),
                    _ => Some((row.volts[output], row.inputs.clone())),
                })
        };
        let (Some(up), Some(down)) = (
            extreme(true, |new, best| new < best),
            extreme(false, |new, best| best < new),
        ) else {
            continue;
        };
        if up.0 <= down.0 + LEAST_SWING_VOLTS {
            return Function::Differs {
                output: inputs + output,
                up,
                down,
            };
        }
    }
    Function::Agrees
}

/// Rows nearer than this are not told apart, V: chosen, a tenth of the smallest swing that any gate here can use.
const LEAST_SWING_VOLTS: f64 = 0.5;

/// Single changes that would make the function right: a diode turned round, one end of a resistor to another rail,
/// a value ten times larger or smaller, plate and grid exchanged. Tried one at a time; at most `most` are returned, and
/// of a circuit with very many parts not all are tried.
#[must_use]
pub fn remedies(
    design: &Design,
    circuit: CircuitId,
    context: &Context,
    most: usize,
) -> Vec<Remedy> {
    let mut found = Vec::new();
    let mut tried = design.clone();
    let changes = single_changes(&design.circuits[circuit.0]);
    for (part, changed, cause, action) in changes.into_iter().take(MOST_CHANGES) {
        if found.len() == most {
            break;
        }
        let kind = &mut tried.circuits[circuit.0].parts[part].kind;
        let own = std::mem::replace(kind, changed);
        let agrees = function(&tried, circuit, context) == Function::Agrees;
        tried.circuits[circuit.0].parts[part].kind = own;
        if agrees {
            found.push(Remedy {
                part,
                cause,
                action,
            });
        }
    }
    found
}

/// Changes tried: chosen, all of a circuit of some forty parts.
const MOST_CHANGES: usize = 200;

fn single_changes(circuit: &Circuit) -> Vec<(usize, PartKind, String, String)> {
    let mut changes = Vec::new();
    for (index, part) in circuit.parts.iter().enumerate() {
        let mark = &part.mark;
        match &part.kind {
            PartKind::Diode {
                device,
                anode,
                cathode,
            } => {
                let turned = PartKind::Diode {
                    device: device.clone(),
                    anode: *cathode,
                    cathode: *anode,
                };
                changes.push((
                    index,
                    turned,
                    format!("{mark} is the wrong way round"),
                    format!("Turn {mark} round."),
                ));
            }
            PartKind::Tube(tube) => {
                if let Some(grid) = tube.grid {
                    let mut swapped = tube.clone();
                    swapped.grid = Some(tube.plate);
                    swapped.plate = grid;
                    let cause = format!("plate and grid of {mark} are exchanged");
                    changes.push((
                        index,
                        PartKind::Tube(swapped),
                        cause,
                        format!("Exchange plate and grid of {mark}."),
                    ));
                }
            }
            PartKind::Resistor { ends, .. } => {
                changes.extend(resistor_changes(circuit, index, *ends))
            }
            _ => {}
        }
    }
    changes
}

fn resistor_changes(
    circuit: &Circuit,
    index: usize,
    ends: [usize; 2],
) -> Vec<(usize, PartKind, String, String)> {
    let part = &circuit.parts[index];
    let mark = &part.mark;
    let with = |new_ends: Option<[usize; 2]>, factor: f64| {
        let mut kind = part.kind.clone();
        if let PartKind::Resistor { ohms, ends, .. } = &mut kind {
            *ohms *= factor;
            *ends = new_ends.unwrap_or(*ends);
        }
        kind
    };
    let mut changes = Vec::new();
    for end in 0..2 {
        if matches!(
            circuit.nodes[ends[end]].kind,
            NodeKind::Signal(_) | NodeKind::Inner
        ) {
            continue;
        }
        for (node, info) in circuit.nodes.iter().enumerate() {
            if node != ends[end] && matches!(info.kind, NodeKind::Rail(_) | NodeKind::Ground) {
                let mut moved = ends;
                moved[end] = node;
                let was = &circuit.nodes[ends[end]].name;
                let cause = format!("{mark} goes to {was} instead of {}", info.name);
                changes.push((
                    index,
                    with(Some(moved), 1.0),
                    cause,
                    format!("Take {mark} from {was} to {}.", info.name),
                ));
            }
        }
    }
    for (factor, word) in [(0.1, "large"), (10.0, "small")] {
        let changed = with(None, factor);
        let PartKind::Resistor { ohms, .. } = changed else {
            continue;
        };
        let cause = format!("{mark} is ten times too {word}");
        changes.push((
            index,
            changed,
            cause,
            format!("Try {mark} at {}.", text::quantity::show_code(ohms)),
        ));
    }
    changes
}
