//! Transfer curves: one input swept, the output read, thresholds where the slope is one.
//!
//! The member stands with its real loads; its other inputs stand at their solved levels, in every combination in which
//! the output depends on the swept input. Below the low threshold the output is restored as if the input were down,
//! above the high threshold as if it were up; between them the gate amplifies its input's error.

use crate::equations::Network;
use crate::judge::{Context, Levels, set_feeds};
use crate::plan::{MemberIndex, Plan};
use crate::rows::{Others, Values};
use crate::scene::{Scene, SceneMember, build};
use crate::solve::{OperatingPoint, Solver};
use crate::surroundings::{Copies, LOADS_TOGETHER};
use crate::wiring::ElementKind;
use crate::work::MOST_UNSETTLED;
use design::model::NodeKind;

/// Points of the first sweep, and of each refinement of a threshold; three refinements reach a tenth of a volt on 60 V.
const FIRST_POINTS: usize = 33;
const REFINEMENT_POINTS: usize = 9;
const REFINEMENTS: usize = 3;

/// One swept input.
#[derive(Debug, Clone, PartialEq)]
pub struct Transfer {
    /// The member.
    pub member: MemberIndex,
    /// The swept input (signal).
    pub input: usize,
    /// The output read (signal).
    pub output: usize,
    /// Values of the other nets.
    pub values: Values,
    /// Where the loads' free inputs stand.
    pub others: Others,
    /// (input volts, output volts), in order of the input.
    pub curve: Vec<(f64, f64)>,
    /// Largest |slope| met.
    pub largest_slope: f64,
    /// The output falls as the input rises.
    pub inverting: bool,
    /// Input volts where |slope| first reaches one, and where it last does; `None` for a circuit that never amplifies.
    pub thresholds: Option<(f64, f64)>,
    /// Input volts at which the output equals the input, for an inverting circuit.
    pub switching: Option<f64>,
}

/// Sweeps an input of a member in every combination in which each output depends on it.
#[must_use]
pub fn transfers(
    plan: &Plan,
    member: MemberIndex,
    input: usize,
    levels: &Levels,
    context: &Context,
) -> Vec<Transfer> {
    let circuit = plan.circuit(member);
    let inputs = circuit.interface.inputs;
    let members = with_loads(plan, member);
    let swept: Vec<usize> = plan.members[member].nets[..inputs]
        .iter()
        .copied()
        .filter(|&net| !plan.is_supply(net))
        .collect();
    let scene = build(plan, &Copies::each(&members), &swept, &context.assumptions);
    if !scene.without_law.is_empty() {
        return Vec::new();
    }
    let Ok(mut network) = Network::new(scene.wiring.clone(), context.assumptions.leak_siemens)
    else {
        return Vec::new();
    };
    let mut solver = Solver::new(&network);
    let mut transfers = Vec::new();
    let mut unsettled = 0;
    for output in inputs..circuit.interface.signals.len() {
        for swept in sensitising(plan, member, input, output) {
            for others in [Others::Down, Others::Up] {
                let mut values = swept.values.clone();
                for net in scene.feeds.keys() {
                    values.entry(*net).or_insert(others == Others::Up);
                }
                set_feeds(&mut network, &scene, &values, levels);
                let mut sweep = Sweep {
                    plan,
                    scene: &scene,
                    network: &mut network,
                    solver: &mut solver,
                    context,
                    member,
                    input,
                    output,
                    unsettled: &mut unsettled,
                };
                transfers.extend(sweep.run(values, others));
                if members.len() == 1 {
                    break;
                }
            }
        }
    }
    if unsettled == UNSETTLED_POINTS {
        return Vec::new();
    }
    transfers
}

/// Points of the sweeps of one input that may fail to settle before no curve is given: a few at the ends of the range do
/// no harm.
const UNSETTLED_POINTS: usize = 4 * MOST_UNSETTLED;

/// A combination of the other inputs with which an output's statement depends on the swept input.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Swept {
    /// Values of the other input nets.
    pub values: Values,
    /// All inputs with the swept one down.
    pub inputs: Vec<bool>,
    /// The output falls as the input rises.
    pub falls: bool,
}

/// Every such combination.
pub(crate) fn sensitising(
    plan: &Plan,
    member: MemberIndex,
    input: usize,
    output: usize,
) -> Vec<Swept> {
    let circuit = plan.circuit(member);
    let Some(says) = circuit.says.iter().find(|says| says.output == output) else {
        return Vec::new();
    };
    let nets = &plan.members[member].nets;
    let mut found: Vec<Swept> = Vec::new();
    for inputs in crate::rows::input_rows(circuit.interface.inputs) {
        let consistent = inputs.iter().enumerate().all(|(other, &value)| {
            if plan.is_supply(nets[other]) {
                (0.0 < plan.supply_volts(nets[other])) == value
            } else {
                nets[other] == nets[input]
                    || (0..other)
                        .all(|before| nets[before] != nets[other] || inputs[before] == value)
            }
        });
        if inputs[input] || !consistent {
            continue;
        }
        let mut signals = inputs.clone();
        signals.resize(circuit.interface.signals.len(), false);
        let low = says.value.value(&signals);
        for (other, net) in nets[..circuit.interface.inputs].iter().enumerate() {
            signals[other] |= *net == nets[input];
        }
        if says.value.value(&signals) != low {
            let others = nets[..circuit.interface.inputs]
                .iter()
                .zip(&inputs)
                .filter(|(net, _)| **net != nets[input] && !plan.is_supply(**net));
            let values: Values = others.map(|(&net, &value)| (net, value)).collect();
            if found.iter().all(|known| known.values != values) {
                found.push(Swept {
                    values,
                    inputs,
                    falls: low,
                });
            }
        }
    }
    found
}

struct Sweep<'a> {
    plan: &'a Plan<'a>,
    scene: &'a Scene,
    network: &'a mut Network,
    solver: &'a mut Solver,
    context: &'a Context,
    member: MemberIndex,
    input: usize,
    output: usize,
    /// Points that did not settle, of all sweeps of the input.
    unsettled: &'a mut usize,
}

impl Sweep<'_> {
    fn run(&mut self, values: Values, others: Others) -> Option<Transfer> {
        let (low, high) = range_of(self.plan, self.member, self.input);
        let curve = self.curve(low, high, FIRST_POINTS, None);
        let curve_points: Vec<(f64, f64)> = curve
            .iter()
            .map(|(volts, output, _)| (*volts, *output))
            .collect();
        let (first, last) = (curve_points.first()?, curve_points.last()?);
        let inverting = last.1 < first.1;
        let mut transfer = Transfer {
            member: self.member,
            input: self.input,
            output: self.output,
            values,
            others,
            largest_slope: 0.0,
            inverting,
            thresholds: None,
            switching: None,
            curve: Vec::new(),
        };
        let (mut points, slope) = self.refine(&curve, &mut transfer);
        transfer.largest_slope = slope;
        points.extend(curve_points);
        points.sort_by(|left, right| left.0.total_cmp(&right.0));
        points.dedup_by(|left, right| left.0 == right.0);
        transfer.switching = inverting.then(|| switching(&points)).flatten();
        transfer.curve = points;
        Some(transfer)
    }

    /// Solved points at even steps: input, output, and the point to start neighbours from.
    fn curve(
        &mut self,
        low: f64,
        high: f64,
        points: usize,
        near: Option<&OperatingPoint>,
    ) -> Vec<(f64, f64, OperatingPoint)> {
        let feed = self.scene.feeds[&self.plan.members[self.member].nets[self.input]];
        let node = self
            .scene
            .member(self.member)
            .expect("the member is in its scene")
            .nodes[self.output];
        let mut near = near.cloned();
        let mut curve = Vec::new();
        for index in 0..points {
            if *self.unsettled == UNSETTLED_POINTS {
                break;
            }
            let volts = low + (high - low) * index as f64 / (points - 1) as f64;
            self.network.set_tie(feed.tie, volts);
            let start = near
                .as_ref()
                .map(|point: &OperatingPoint| point.volts.as_slice());
            let point =
                self.solver
                    .operating_point(self.network, start, None, &self.context.settings);
            if point.outcome.settled() {
                curve.push((volts, point.volts[node], point.clone()));
                near = Some(point);
            } else {
                *self.unsettled += 1;
            }
        }
        curve
    }

    /// Narrows down where |slope| first and last reaches one; returns the points it solved and the largest slope met.
    fn refine(
        &mut self,
        curve: &[(f64, f64, OperatingPoint)],
        transfer: &mut Transfer,
    ) -> (Vec<(f64, f64)>, f64) {
        let mut points = Vec::new();
        let mut largest = steepest(curve);
        let mut found = [None; 2];
        for (side, threshold) in found.iter_mut().enumerate() {
            let mut window = curve.to_vec();
            for _ in 0..REFINEMENTS {
                let Some(interval) = one_crossing(&window, side == 1) else {
                    break;
                };
                let from = interval.saturating_sub(1);
                let to = (interval + 2).min(window.len() - 1);
                let (low, high) = (window[from].0, window[to].0);
                let near = window[from].2.clone();
                window = self.curve(low, high, REFINEMENT_POINTS, Some(&near));
                largest = largest.max(steepest(&window));
                points.extend(window.iter().map(|(volts, output, _)| (*volts, *output)));
            }
            *threshold = one_crossing(&window, side == 1).map(|interval| {
                let edge = if side == 1 { interval + 1 } else { interval };
                window[edge].0
            });
        }
        if let [Some(low), Some(high)] = found {
            transfer.thresholds = Some((low, high));
        }
        (points, largest)
    }
}

/// From the lowest to the highest supply that the circuit or a driver of the input knows.
pub(crate) fn range_of(plan: &Plan, member: MemberIndex, input: usize) -> (f64, f64) {
    let net = plan.members[member].nets[input];
    let drivers = plan.drivers[net].iter().map(|driver| driver.0);
    let circuits = drivers.chain([member]).map(|member| plan.circuit(member));
    let volts = circuits
        .flat_map(|circuit| &circuit.nodes)
        .filter_map(|node| match node.kind {
            NodeKind::Rail(rail) => Some(plan.design.rails[rail.0].volts),
            _ => None,
        });
    let switches = plan
        .switches
        .get(&net)
        .into_iter()
        .flat_map(|switch| [plan.supply_volts(switch.down), plan.supply_volts(switch.up)]);
    volts
        .chain(switches)
        .fold((0.0, 1.0), |(low, high): (f64, f64), volts| {
            (low.min(volts), high.max(volts))
        })
}

fn slope(curve: &[(f64, f64, OperatingPoint)], interval: usize) -> f64 {
    ((curve[interval + 1].1 - curve[interval].1) / (curve[interval + 1].0 - curve[interval].0))
        .abs()
}

fn steepest(curve: &[(f64, f64, OperatingPoint)]) -> f64 {
    (0..curve.len().saturating_sub(1))
        .map(|interval| slope(curve, interval))
        .fold(0.0, f64::max)
}

/// The first (or last) interval whose mean slope is at least one in magnitude.
fn one_crossing(curve: &[(f64, f64, OperatingPoint)], from_the_end: bool) -> Option<usize> {
    let mut intervals = 0..curve.len().saturating_sub(1);
    if from_the_end {
        intervals
            .rev()
            .find(|&interval| 1.0 <= slope(curve, interval))
    } else {
        intervals.find(|&interval| 1.0 <= slope(curve, interval))
    }
}

/// Where output equals input, between the two points around it.
fn switching(points: &[(f64, f64)]) -> Option<f64> {
    points.windows(2).find_map(|pair| {
        let (left, right) = (pair[0].1 - pair[0].0, pair[1].1 - pair[1].0);
        (left >= 0.0 && right <= 0.0 && left != right)
            .then(|| pair[0].0 + (pair[1].0 - pair[0].0) * left / (left - right))
    })
}

/// Current (A) of a tube part of a member with all its inputs held at `volts`, its loads' other inputs down, and with
/// another value in one resistor of its circuit (part and ohm) where `exchanged` says so; `None` when it cannot be solved.
#[must_use]
pub fn tube_amps_with_inputs_at(
    plan: &Plan,
    (member, part): (MemberIndex, usize),
    volts: f64,
    exchanged: Option<(usize, f64)>,
    levels: &Levels,
    context: &Context,
) -> Option<f64> {
    let inputs = plan.circuit(member).interface.inputs;
    let members = with_loads(plan, member);
    let swept = &plan.members[member].nets[..inputs];
    let mut scene = build(plan, &Copies::each(&members), swept, &context.assumptions);
    let element = *scene.member(member)?.elements[part].first()?;
    if let Some((resistor, ohms)) = exchanged {
        let circuit = plan.members[member].circuit;
        let alike = |other: &&SceneMember| plan.members[other.member].circuit == circuit;
        for other in scene.members.iter().filter(alike) {
            for &element in &other.elements[resistor] {
                let kind = &mut scene.wiring.elements[element].kind;
                if let ElementKind::Resistor { siemens, .. } = kind {
                    *siemens = 1.0 / ohms;
                }
            }
        }
    }
    let mut network = Network::new(scene.wiring.clone(), context.assumptions.leak_siemens).ok()?;
    set_feeds(&mut network, &scene, &Values::new(), levels);
    for net in swept {
        if let Some(feed) = scene.feeds.get(net) {
            network.set_tie(feed.tie, volts);
        }
    }
    let point = Solver::new(&network).operating_point(&network, None, None, &context.settings);
    point.outcome.settled().then(|| {
        network
            .element_amps(element, &point.volts, &point.lamps)
            .amps[0]
    })
}

/// A member and the members with an input on one of its outputs.
fn with_loads(plan: &Plan, member: MemberIndex) -> Vec<MemberIndex> {
    let outputs = &plan.members[member].nets[plan.circuit(member).interface.inputs..];
    let mut members = vec![member];
    for &net in outputs {
        let loads = plan.loads[net].iter().take(LOADS_TOGETHER);
        members.extend(loads.map(|load| load.0).filter(|&load| load != member));
    }
    members.sort_unstable();
    members.dedup();
    members
}
