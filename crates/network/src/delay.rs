//! A rough delay per gate: the time from its input's edge to its output's, driven and loaded as when judged alone.
//!
//! Rough, and to be called so: book values, assumed strays, one input, implicit Euler with halved steps and
//! extrapolation. It says which gate is slow and by about how much, not how fast the machine will run.

use crate::equations::Network;
use crate::judge::{Context, set_feeds};
use crate::levels::{Alone, boundary_levels};
use crate::plan::{FanOut, Plan};
use crate::rows::{Values, input_rows};
use crate::scene::{Scene, build};
use crate::solve::{Settings, Solver};
use crate::surroundings::Copies;
use crate::transfer::transfers;
use crate::wiring::NodeIndex;
use design::model::{CircuitId, Design};

/// Delays of one circuit, s.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Delay {
    /// From the input's edge to the rising edge of the output.
    pub rising: Option<f64>,
    /// From the input's edge to the falling edge of the output.
    pub falling: Option<f64>,
    /// Volts at which both edges are timed: where output equals input, or the middle of the swing where they never do.
    pub timed_at: f64,
}

/// Volts that one halved step may differ from the whole one, V: chosen; edges move by some per cent of themselves at most.
const STEP_ERROR_VOLTS: f64 = 0.2;
/// Steps allowed for one edge, and the longest time followed, s: a gate that takes longer is not rough but stuck.
const STEPS: usize = 600;
const LONGEST: f64 = 10e-3;
const FIRST_STEP: f64 = 2e-8;

/// Times the first output of a circuit against its first input; `None` when its first input does not move its output or
/// nothing is known to drive it.
#[must_use]
pub fn delay(
    design: &Design,
    circuit: CircuitId,
    alone: &Alone,
    context: &Context,
) -> Option<Delay> {
    let plan = Plan::alone(design, circuit, FanOut::AsJig);
    let subject = plan.circuit(0);
    let says = subject
        .says
        .iter()
        .find(|says| says.output == subject.interface.inputs && says.edge.is_none())?;
    let inputs = subject.interface.inputs;
    let row = input_rows(inputs).into_iter().find(|row| {
        let value = |first: bool| {
            let mut signals = row.clone();
            signals.resize(subject.interface.signals.len(), false);
            signals[0] = first;
            says.value.value(&signals)
        };
        !row.is_empty() && !row[0] && value(false) != value(true)
    })?;
    let driver = plan.drivers[plan.members[0].nets[0]].first().copied();
    let levels = boundary_levels(&plan, &alone.levels);
    let members: Vec<usize> = (0..plan.members.len()).collect();
    let scene = build(&plan, &Copies::each(&members), &[], &context.assumptions);
    if !scene.without_law.is_empty() {
        return None;
    }
    let (input_net, output_net) = (plan.members[0].nets[0], plan.members[0].nets[inputs]);
    let level = levels.get(&output_net)?;
    let middle = (level.down + level.up) / 2.0;
    let timed_at = transfers(&plan, 0, 0, &levels, context)
        .iter()
        .find_map(|curve| curve.switching)
        .unwrap_or(middle);
    let mut edges = Edges {
        scene: &scene,
        levels: &levels,
        context,
        input: scene.nets[&input_net],
        output: scene.nets[&output_net],
        timed_at,
    };
    let values_with = |input_up: bool| stimulus(&plan, driver, &row, input_up);
    let (down, up) = (values_with(false)?, values_with(true)?);
    let (first, second) = (edges.time(&down, &up), edges.time(&up, &down));
    let output_rises_first = first.is_some_and(|edge| edge.1) || second.is_some_and(|edge| !edge.1);
    let (rising, falling) = if output_rises_first {
        (first, second)
    } else {
        (second, first)
    };
    Some(Delay {
        rising: rising.map(|edge| edge.0),
        falling: falling.map(|edge| edge.0),
        timed_at,
    })
}

/// Values of every fed net such that the subject's first input is up or down and its other inputs stand as `row` says.
fn stimulus(
    plan: &Plan,
    driver: Option<(usize, usize)>,
    row: &[bool],
    input_up: bool,
) -> Option<Values> {
    let mut values = Values::new();
    for (signal, &value) in row.iter().enumerate() {
        let net = plan.members[0].nets[signal];
        let wanted = if signal == 0 { input_up } else { value };
        let own_driver = if signal == 0 {
            driver
        } else {
            plan.drivers[net].first().copied()
        };
        match own_driver {
            None => {
                values.insert(net, wanted);
            }
            Some((member, output)) => {
                let circuit = plan.circuit(member);
                let says = circuit.says.iter().find(|says| says.output == output)?;
                let rows = input_rows(circuit.interface.inputs);
                let gives = rows.into_iter().find(|inputs| {
                    let mut signals = inputs.clone();
                    signals.resize(circuit.interface.signals.len(), false);
                    says.value.value(&signals) == wanted
                })?;
                values.extend(plan.members[member].nets.iter().copied().zip(gives));
            }
        }
    }
    Some(values)
}

struct Edges<'a> {
    scene: &'a Scene,
    levels: &'a crate::judge::Levels,
    context: &'a Context,
    input: NodeIndex,
    output: NodeIndex,
    timed_at: f64,
}

impl Edges<'_> {
    /// Time between the input's and the output's crossing after the feeds change over, and whether the output rises.
    fn time(&mut self, before: &Values, after: &Values) -> Option<(f64, bool)> {
        let mut network = Network::new(
            self.scene.wiring.clone(),
            self.context.assumptions.leak_siemens,
        )
        .ok()?;
        let mut solver = Solver::new(&network);
        set_feeds(&mut network, self.scene, before, self.levels);
        let rest = solver.operating_point(&network, None, None, &self.context.settings);
        if !rest.outcome.settled() {
            return None;
        }
        set_feeds(&mut network, self.scene, after, self.levels);
        let mut volts = rest.volts;
        // A fed input jumps with its source: its edge is at zero.
        let mut input_at = network.unknown_of(self.input).is_none().then_some(0.0);
        let rises = volts[self.output] < self.timed_at;
        let (mut now, mut step) = (0.0, FIRST_STEP);
        for _ in 0..STEPS {
            let Some((next, error)) =
                halved_step(&network, &mut solver, &volts, step, &self.context.settings)
            else {
                step /= 4.0;
                continue;
            };
            if STEP_ERROR_VOLTS < error && FIRST_STEP / 100.0 < step {
                step /= 2.0;
                continue;
            }
            let crossing = |node: NodeIndex| {
                crossed(volts[node], next[node], self.timed_at).map(|share| now + share * step)
            };
            input_at = input_at.or_else(|| crossing(self.input));
            if let (Some(start), Some(end)) = (input_at, crossing(self.output)) {
                return Some((end - start, rises));
            }
            now += step;
            volts = next;
            if error < STEP_ERROR_VOLTS / 4.0 {
                step *= 1.5;
            }
            if LONGEST < now {
                return None;
            }
        }
        None
    }
}

/// Two half steps against one whole step: the extrapolated volts and the largest difference.
fn halved_step(
    network: &Network,
    solver: &mut Solver,
    from: &[f64],
    seconds: f64,
    settings: &Settings,
) -> Option<(Vec<f64>, f64)> {
    let whole = solver.step(network, from, seconds, settings)?;
    let half = solver.step(network, from, seconds / 2.0, settings)?;
    let halves = solver.step(network, &half, seconds / 2.0, settings)?;
    let error = whole
        .iter()
        .zip(&halves)
        .map(|(whole, halves)| (whole - halves).abs())
        .fold(0.0, f64::max);
    Some((
        halves
            .iter()
            .zip(&whole)
            .map(|(halves, whole)| 2.0 * halves - whole)
            .collect(),
        error,
    ))
}

/// Share of a step at which a value passes `level`.
fn crossed(before: f64, after: f64, level: f64) -> Option<f64> {
    ((before < level) != (after < level)).then(|| (level - before) / (after - before))
}

/// Input capacitance of an amplifying stage (Miller): C = Cgk + Cgp (1 + A), F; from the law of the trade
/// (Miller, "Dependence of the input impedance of a three-electrode vacuum tube upon the load in the plate circuit",
/// Bureau of Standards Scientific Papers 15, 1920; from memory).
#[must_use]
pub fn miller_farads(grid_cathode_farads: f64, grid_plate_farads: f64, gain: f64) -> f64 {
    grid_cathode_farads + grid_plate_farads * (1.0 + gain)
}
