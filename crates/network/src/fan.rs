//! How many gates an output drives, and how many inputs a gate takes, up to the last that works.

use crate::judge::{Context, judge};
use crate::levels::{Alone, boundary_levels, output_levels};
use crate::plan::{FanOut, Plan};
use crate::transfer::transfers;
use design::model::{CircuitId, Design, Node, NodeKind, Part, PartKind};

/// One count with its levels and margins.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FanRow {
    /// Loads, or inputs.
    pub count: usize,
    /// Highest down level of the output, V.
    pub down: f64,
    /// Lowest up level, V.
    pub up: f64,
    /// Volts to spare when down at the loads' threshold (negative: short).
    pub spare_down: f64,
    /// Volts to spare when up.
    pub spare_up: f64,
}

impl FanRow {
    /// Both margins are positive.
    #[must_use]
    pub fn works(&self) -> bool {
        0.0 < self.spare_down && 0.0 < self.spare_up
    }
}

/// A series of counts, ending with the first that does not work or with [`MOST`].
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Fan {
    /// Rows in order of count.
    pub rows: Vec<FanRow>,
}

impl Fan {
    /// The last count of the unbroken run that works; `None` when even the first does not.
    #[must_use]
    pub fn last_that_works(&self) -> Option<usize> {
        self.rows
            .iter()
            .take_while(|row| row.works())
            .last()
            .map(|row| row.count)
    }

    /// The series ended at the bound and not at a failure.
    #[must_use]
    pub fn open_ended(&self) -> bool {
        self.rows.last().is_some_and(FanRow::works)
    }
}

/// Counts tried at the most: beyond this a line is driven by something else than one gate.
pub const MOST: usize = 24;

/// Fan-out of a circuit's first output into first inputs of what its jig names (copies of itself where it names none).
#[must_use]
pub fn fan_out(design: &Design, circuit: CircuitId, alone: &Alone, context: &Context) -> Fan {
    let mut fan = Fan::default();
    for count in 0..=MOST {
        let plan = Plan::alone(design, circuit, FanOut::Exactly(count));
        let Some(row) = fan_row(&plan, count, alone, context) else {
            // A circuit without thresholds of its own is judged by those of its first load.
            if count == 0 {
                continue;
            }
            break;
        };
        fan.rows.push(row);
        if !row.works() {
            break;
        }
    }
    fan
}

/// Fan-in: the parts on the first input once more for every further input, all further inputs down, so that what they
/// leak and load is met at its worst. Empty for a circuit whose first input goes to nothing that could be put in again
/// (straight to a grid).
#[must_use]
pub fn fan_in(design: &Design, circuit: CircuitId, alone: &Alone, context: &Context) -> Fan {
    let own = design.circuits[circuit.0].interface.inputs;
    let mut fan = Fan::default();
    let copied = |part: &Part| with_end_moved(part, 0, 0).is_some();
    if own == 0 || !design.circuits[circuit.0].parts.iter().any(copied) {
        return fan;
    }
    for count in own..=MOST {
        let mut wider = design.clone();
        for _ in own..count {
            add_input(&mut wider, circuit);
        }
        let plan = Plan::alone(&wider, circuit, FanOut::AsJig);
        let Some(row) = fan_row(&plan, count, alone, context) else {
            break;
        };
        fan.rows.push(row);
        if !row.works() {
            break;
        }
    }
    fan
}

/// Levels and margins of member 0 of a plan; the thresholds are those of its load, or its own where it has none.
fn fan_row(plan: &Plan, count: usize, alone: &Alone, context: &Context) -> Option<FanRow> {
    let levels = boundary_levels(plan, &alone.levels);
    let result = judge(plan, 0, &levels, &alone.weak, context);
    let (signal, level) = output_levels(plan, 0, &result).into_iter().next()?;
    let load = plan.loads[plan.members[0].nets[signal]]
        .first()
        .map_or((0, 0), |&load| load);
    let thresholds: Vec<(f64, f64)> = transfers(plan, load.0, load.1, &levels, context)
        .iter()
        .filter_map(|curve| curve.thresholds)
        .collect();
    let low = thresholds.iter().map(|pair| pair.0).reduce(f64::min)?;
    let high = thresholds.iter().map(|pair| pair.1).reduce(f64::max)?;
    Some(FanRow {
        count,
        down: level.down,
        up: level.up,
        spare_down: low - level.down,
        spare_up: level.up - high,
    })
}

/// One more input: an inner net held at ground through nothing but the copied parts, so it stands for an input that is down.
fn add_input(design: &mut Design, circuit: CircuitId) {
    let circuit = &mut design.circuits[circuit.0];
    let ground = match circuit
        .nodes
        .iter()
        .position(|node| node.kind == NodeKind::Ground)
    {
        Some(ground) => ground,
        None => {
            circuit.nodes.push(Node {
                name: "ground".to_owned(),
                kind: NodeKind::Ground,
                span: circuit.span,
            });
            circuit.nodes.len() - 1
        }
    };
    let copied: Vec<Part> = circuit
        .parts
        .iter()
        .filter_map(|part| with_end_moved(part, 0, ground))
        .collect();
    circuit.parts.extend(copied);
}

/// A copy of a two-ended part with the end that is on `from` on `to`; `None` when it is not on `from`.
fn with_end_moved(part: &Part, from: usize, to: usize) -> Option<Part> {
    let mut copy = part.clone();
    let ends: [&mut usize; 2] = match &mut copy.kind {
        PartKind::Diode { anode, cathode, .. } => [anode, cathode],
        PartKind::Resistor { ends: [a, b], .. } => [a, b],
        _ => return None,
    };
    let mut moved = false;
    for end in ends {
        if *end == from {
            *end = to;
            moved = true;
        }
    }
    moved.then_some(copy)
}
