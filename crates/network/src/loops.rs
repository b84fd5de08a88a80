//! What stores: rings of gates that hold themselves and circuits that store within themselves, their states at volts, and what a scan of them finds.
//!
//! A ring is a set of units of one block (or of the machine outside any block) each of which feeds the others. For
//! every row of what feeds the ring, each state that agrees with the gates' sentences is solved from that state and must
//! be found again, at rest. In the row with most states the ring is broken at one net per loop and scanned for more.

use crate::equations::Network;
use crate::judge::{Context, Held, Levels, set_feeds};
use crate::plan::{MemberIndex, NetIndex, Plan};
use crate::rows::{Others, TRIALS, Values, WeakRows, fill_others, fix_drivers, input_rows};
use crate::scan::{Scan, scan};
use crate::scene::{Scene, build};
use crate::solve::{Outcome, Solver};
use crate::stability::{MOST_POLES, Stability, stability};
use crate::surroundings::{Surroundings, signature};
use crate::work::MOST_UNSETTLED;
use design::model::NodeKind;
use petgraph::algo::tarjan_scc;
use petgraph::graph::DiGraph;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Larger rings are not opened: their states are too many, and they run through blocks that are judged by themselves.
pub const LARGEST_RING: usize = 12;

/// A ring of gates.
#[derive(Debug, Clone, PartialEq)]
pub struct Ring {
    /// The units; one alone when its circuit stores within itself.
    pub members: Vec<MemberIndex>,
    /// The placed block that they belong to.
    pub block: Option<usize>,
    /// Rows of what feeds it.
    pub rows: Vec<RingRow>,
    /// One scan per net that was broken.
    pub scans: Vec<Scan>,
    /// Points of rest found by scanning whose logic is no state of the sentences: volts by net.
    pub extra: Vec<BTreeMap<NetIndex, f64>>,
    /// The ring as an example of its class: further rings solved alike.
    pub alike: Vec<Vec<MemberIndex>>,
}

impl Ring {
    /// The first state, in a row with several, that does not last.
    #[must_use]
    pub fn lost_state(&self) -> Option<&RingState> {
        let stored = self.rows.iter().filter(|row| 1 < row.states.len());
        stored
            .flat_map(|row| &row.states)
            .find(|state| state.is_lost())
    }

    /// Some stored state does not last.
    #[must_use]
    pub fn loses_a_state(&self) -> bool {
        self.lost_state().is_some()
    }
}

/// States of a ring for one row of what feeds it.
#[derive(Debug, Clone, PartialEq)]
pub struct RingRow {
    /// Values of the nets that feed the ring.
    pub inputs: Values,
    /// States that agree with the sentences.
    pub states: Vec<RingState>,
}

/// One state.
#[derive(Debug, Clone, PartialEq)]
pub struct RingState {
    /// Values of the ring's own nets.
    pub values: Values,
    /// How the solution ended.
    pub outcome: Outcome,
    /// Whether it rests.
    pub stability: Stability,
    /// Every net of the ring is where its value says.
    pub kept: bool,
    /// Volts of every net of the scene.
    pub volts: BTreeMap<NetIndex, f64>,
}

impl RingState {
    /// The state lasts.
    #[must_use]
    pub fn lasts(&self) -> bool {
        self.outcome.settled() && self.kept && self.stability.rests()
    }

    /// The state does not last; where nothing is known of its stability it counts as neither.
    #[must_use]
    pub fn is_lost(&self) -> bool {
        !(self.outcome.settled() && self.kept) || matches!(self.stability, Stability::Unstable(_))
    }
}

/// States of a ring in all rows together, and of a block in the proof of its sentence, that are gone through: chosen, far
/// beyond any latch or counter stage. With more it is too large to open.
pub(crate) const MOST_STATES: usize = 1024;
/// Bound on the values tried while states are sought.
const SEARCHED: usize = 16 * MOST_STATES;

/// Finds and solves every ring of a plan. The second value counts rings that are too large to open.
#[must_use]
pub fn rings(
    plan: &Plan,
    levels: &Levels,
    weak: &WeakRows,
    context: &Context,
) -> (Vec<Ring>, usize) {
    let groups = groups(plan);
    let mut too_large = groups
        .iter()
        .filter(|group| LARGEST_RING < group.len())
        .count();
    let mut classes: BTreeMap<Vec<u64>, Vec<Vec<MemberIndex>>> = BTreeMap::new();
    for group in groups
        .into_iter()
        .filter(|group| group.len() <= LARGEST_RING)
    {
        let around = Surroundings::of_group(plan, &group).gathered(plan, &[levels]);
        let (key, _) = signature(plan, &around, &[levels]);
        classes.entry(key).or_default().push(group);
    }
    let mut classes: Vec<Vec<Vec<MemberIndex>>> = classes.into_values().collect();
    classes.sort();
    let opened: Vec<Opened> = classes
        .par_iter()
        .map(|class| solve_ring(plan, &class[0], levels, weak, context))
        .collect();
    let mut rings = Vec::new();
    for (opened, class) in opened.into_iter().zip(classes) {
        match opened {
            Opened::Ring(ring) => rings.push(Ring {
                alike: class[1..].to_vec(),
                ..*ring
            }),
            Opened::TooLarge => too_large += class.len(),
            Opened::NotSolvable => {}
        }
    }
    (rings, too_large)
}

fn block_of(plan: &Plan, member: MemberIndex) -> Option<usize> {
    plan.members[member]
        .unit
        .and_then(|unit| plan.design.units[unit.0].within)
}

/// Sets of members that feed one another, within one block.
fn groups(plan: &Plan) -> Vec<Vec<MemberIndex>> {
    let mut graph = DiGraph::<(), ()>::new();
    let nodes: Vec<_> = plan.members.iter().map(|_| graph.add_node(())).collect();
    for (drivers, loads) in plan.drivers.iter().zip(&plan.loads) {
        for &(driver, _) in drivers {
            for &(load, _) in loads {
                if block_of(plan, driver) == block_of(plan, load) {
                    graph.add_edge(nodes[driver], nodes[load], ());
                }
            }
        }
    }
    // What takes a value over at an edge has states inside that its sentence does not name.
    let holds = |&member: &MemberIndex| {
        plan.stores(member)
            && plan
                .circuit(member)
                .says
                .iter()
                .all(|says| says.edge.is_none())
    };
    for member in (0..plan.members.len()).filter(holds) {
        graph.add_edge(nodes[member], nodes[member], ());
    }
    let mut groups: Vec<Vec<MemberIndex>> = tarjan_scc(&graph)
        .into_iter()
        .filter(|group| 1 < group.len() || graph.contains_edge(group[0], group[0]))
        .map(|group| {
            let mut members: Vec<MemberIndex> =
                group.into_iter().map(|node| node.index()).collect();
            members.sort_unstable();
            members
        })
        .collect();
    groups.sort();
    groups
}

/// What came of opening a ring.
enum Opened {
    Ring(Box<Ring>),
    /// More states or more poles than are gone through.
    TooLarge,
    /// A type without a curve, or sources that clash: said elsewhere.
    NotSolvable,
}

/// The states of a ring in each row of what feeds it; `None` when they are too many.
fn ring_states(
    plan: &Plan,
    group: &[MemberIndex],
    outer: &[NetIndex],
    own: &[NetIndex],
) -> Option<Vec<(Values, Vec<Values>)>> {
    let mut rows = Vec::new();
    let mut left = MOST_STATES;
    for bits in input_rows(outer.len()) {
        let inputs: Values = outer.iter().copied().zip(bits).collect();
        let states = states(plan, group, &inputs, own, left)?;
        left -= states.len();
        rows.push((inputs, states));
    }
    Some(rows)
}

fn solve_ring(
    plan: &Plan,
    group: &[MemberIndex],
    levels: &Levels,
    weak: &WeakRows,
    context: &Context,
) -> Opened {
    let (outer, own) = ring_nets(plan, group);
    let Some(rows) = ring_states(plan, group, &outer, &own) else {
        return Opened::TooLarge;
    };
    let around = Surroundings::of_group(plan, group).gathered(plan, &[levels]);
    let scene = build(plan, &around.copies(), &[], &context.assumptions);
    let network = Network::new(scene.wiring.clone(), context.assumptions.leak_siemens);
    let (Ok(mut network), Some(mut held)) = (network, Held::new(&scene, context)) else {
        return Opened::NotSolvable;
    };
    if !scene.without_law.is_empty() {
        return Opened::NotSolvable;
    }
    if MOST_POLES < network.size() {
        return Opened::TooLarge;
    }
    let mut solver = Solver::new(&network);
    let mut ring = Ring {
        members: group.to_vec(),
        block: block_of(plan, group[0]),
        rows: Vec::new(),
        scans: Vec::new(),
        extra: Vec::new(),
        alike: Vec::new(),
    };
    let mut best: Option<(usize, usize, Values)> = None;
    let mut unsettled = 0;
    for (inputs, states) in rows {
        let mut row = RingRow {
            inputs: inputs.clone(),
            states: Vec::new(),
        };
        for values in states {
            if unsettled == MOST_UNSETTLED {
                break;
            }
            let mut all: Values = inputs
                .iter()
                .chain(&values)
                .map(|(&net, &value)| (net, value))
                .collect();
            let mut trials = TRIALS;
            if !fix_drivers(plan, &around.neighbours(), weak, &mut all, &mut trials) {
                continue;
            }
            let all = fill_others(plan, &around, all, Others::Down);
            let start = held.start(&scene, &all, levels, context);
            set_feeds(&mut network, &scene, &all, levels);
            let point = solver.operating_point(&network, start.as_deref(), None, &context.settings);
            let volts: BTreeMap<NetIndex, f64> = scene
                .nets
                .iter()
                .map(|(&net, &node)| (net, point.volts[node]))
                .collect();
            let kept = values
                .iter()
                .all(|(net, &value)| is_up(volts[net], *net, levels).is_none_or(|up| up == value));
            unsettled += usize::from(!point.outcome.settled());
            let stability = stability(&network, &mut solver, &point);
            row.states.push(RingState {
                values: values.clone(),
                outcome: point.outcome,
                stability,
                kept,
                volts,
            });
            if best.as_ref().is_none_or(|best| best.0 < row.states.len()) {
                best = Some((row.states.len(), ring.rows.len(), all));
            }
        }
        ring.rows.push(row);
    }
    if let Some((1.., row, values)) = best {
        set_feeds(&mut network, &scene, &values, levels);
        scan_ring(plan, &mut ring, row, &network, &scene, levels, context);
    }
    Opened::Ring(Box::new(ring))
}

/// Nets that feed a ring from outside, and its own.
fn ring_nets(plan: &Plan, group: &[MemberIndex]) -> (Vec<NetIndex>, Vec<NetIndex>) {
    let mut own = Vec::new();
    let mut outer = Vec::new();
    for &member in group {
        let inputs = plan.circuit(member).interface.inputs;
        own.extend(&plan.members[member].nets[inputs..]);
        outer.extend(
            plan.members[member].nets[..inputs]
                .iter()
                .filter(|&&net| !plan.is_supply(net)),
        );
    }
    own.sort_unstable();
    own.dedup();
    outer.sort_unstable();
    outer.dedup();
    outer.retain(|net| !own.contains(net));
    (outer, own)
}

/// Every set of values of a ring's own nets that agrees with all its gates' sentences; `None` when there are more than
/// `most`, or too many values to try.
pub(crate) fn states(
    plan: &Plan,
    group: &[MemberIndex],
    inputs: &Values,
    own: &[NetIndex],
    most: usize,
) -> Option<Vec<Values>> {
    let mut search = Search {
        plan,
        group,
        own,
        found: Vec::new(),
        most,
        left: SEARCHED,
    };
    search.go_on(&mut inputs.clone())?;
    for values in &mut search.found {
        values.retain(|net, _| own.contains(net));
    }
    Some(search.found)
}

/// The search for the states of a ring.
struct Search<'a> {
    plan: &'a Plan<'a>,
    group: &'a [MemberIndex],
    own: &'a [NetIndex],
    found: Vec<Values>,
    most: usize,
    /// Values that may still be tried.
    left: usize,
}

impl Search<'_> {
    /// Sets the next free net both ways, unless a sentence already fixes or contradicts it; `None` when a bound is
    /// reached. Depth: the number of own nets.
    fn go_on(&mut self, values: &mut Values) -> Option<()> {
        self.left = self.left.checked_sub(1)?;
        let mut set: Vec<NetIndex> = Vec::new();
        let agrees = self.follow(values, &mut set);
        let free = self.own.iter().find(|net| !values.contains_key(net));
        match free {
            _ if !agrees => {}
            None => {
                self.found.push(values.clone());
                if self.most < self.found.len() {
                    return None;
                }
            }
            Some(&net) => {
                for value in [false, true] {
                    values.insert(net, value);
                    self.go_on(values)?;
                }
                values.remove(&net);
            }
        }
        for net in set {
            values.remove(&net);
        }
        Some(())
    }

    /// Sets every output that a sentence fixes, and lists what it set; false when two facts contradict one another.
    fn follow(&self, values: &mut Values, set: &mut Vec<NetIndex>) -> bool {
        loop {
            let before = set.len();
            for &member in self.group {
                for (net, value) in fixed_outputs(self.plan, member, values) {
                    match values.get(&net) {
                        Some(&known) if known != value => return false,
                        Some(_) => {}
                        None => {
                            values.insert(net, value);
                            set.push(net);
                        }
                    }
                }
            }
            if set.len() == before {
                return true;
            }
        }
    }
}

/// Outputs of a member whose sentence has a value whatever the unknown nets are.
fn fixed_outputs(plan: &Plan, member: MemberIndex, values: &Values) -> Vec<(NetIndex, bool)> {
    let circuit = plan.circuit(member);
    let nets = &plan.members[member].nets;
    let signals: Vec<Option<bool>> = nets
        .iter()
        .map(|&net| {
            if plan.is_supply(net) {
                Some(0.0 < plan.supply_volts(net))
            } else {
                values.get(&net).copied()
            }
        })
        .collect();
    circuit
        .says
        .iter()
        .filter(|says| says.edge.is_none())
        .filter_map(|says| {
            says.value
                .value_if_known(&signals)
                .map(|value| (nets[says.output], value))
        })
        .collect()
}

/// Whether a net's volts are nearer its up than its down level; `None` when its levels are not known.
fn is_up(volts: f64, net: NetIndex, levels: &Levels) -> Option<bool> {
    levels
        .get(&net)
        .map(|level| (level.down + level.up) / 2.0 < volts)
}

/// Scans the ring in one row, whose feeds the network already has.
fn scan_ring(
    plan: &Plan,
    ring: &mut Ring,
    row: usize,
    network: &Network,
    scene: &Scene,
    levels: &Levels,
    context: &Context,
) {
    let (_, own) = ring_nets(plan, &ring.members);
    let states: Vec<Values> = ring.rows[row]
        .states
        .iter()
        .map(|state| state.values.clone())
        .collect();
    for net in broken_nets(plan, &ring.members, &own) {
        let Ok(scan) = scan(
            &network.wiring,
            context.assumptions.leak_siemens,
            scene.nets[&net],
            scan_range(plan, ring),
            &context.settings,
        ) else {
            continue;
        };
        for solution in scan
            .solutions
            .iter()
            .filter(|solution| solution.stability.rests())
        {
            let volts: BTreeMap<NetIndex, f64> = own
                .iter()
                .map(|&net| (net, solution.point.volts[scene.nets[&net]]))
                .collect();
            let matches = |state: &Values| {
                own.iter().all(|net| {
                    is_up(volts[net], *net, levels).is_none_or(|up| state.get(net) == Some(&up))
                })
            };
            // What feeds the ring may be a latch of its own, and have gone over: then this is another row.
            let same_row = ring.rows[row].inputs.iter().all(|(net, &value)| {
                is_up(solution.point.volts[scene.nets[net]], *net, levels)
                    .is_none_or(|up| up == value)
            });
            if same_row && !states.iter().any(matches) && !ring.extra.contains(&volts) {
                ring.extra.push(volts);
            }
        }
        ring.scans.push(scan);
    }
}

/// One net per loop: nets are broken, the one that most gates of the ring wait for first, until no loop is left.
fn broken_nets(plan: &Plan, group: &[MemberIndex], own: &[NetIndex]) -> Vec<NetIndex> {
    let mut broken: Vec<NetIndex> = Vec::new();
    while let Some(net) = own
        .iter()
        .copied()
        .filter(|net| !broken.contains(net) && in_loop(plan, group, *net, &broken))
        .max_by_key(|&net| {
            (
                plan.loads[net]
                    .iter()
                    .filter(|load| group.contains(&load.0))
                    .count(),
                std::cmp::Reverse(net),
            )
        })
    {
        broken.push(net);
    }
    broken
}

/// Whether a net feeds itself through the group without passing a broken net, or inside a circuit that stores and of which
/// no output is broken yet.
fn in_loop(plan: &Plan, group: &[MemberIndex], start: NetIndex, broken: &[NetIndex]) -> bool {
    let stores = |&(member, _): &(MemberIndex, usize)| {
        let inputs = plan.circuit(member).interface.inputs;
        let outputs = &plan.members[member].nets[inputs..];
        group.contains(&member)
            && plan.stores(member)
            && !outputs.iter().any(|net| broken.contains(net))
    };
    if plan.drivers[start].iter().any(stores) {
        return true;
    }
    let mut seen = vec![start];
    let mut next = vec![start];
    while let Some(net) = next.pop() {
        for &(load, _) in plan.loads[net]
            .iter()
            .filter(|load| group.contains(&load.0))
        {
            let inputs = plan.circuit(load).interface.inputs;
            for &output in &plan.members[load].nets[inputs..] {
                if output == start {
                    return true;
                }
                if !broken.contains(&output) && !seen.contains(&output) {
                    seen.push(output);
                    next.push(output);
                }
            }
        }
    }
    false
}

/// From the lowest to the highest rail of the ring's circuits, ground included.
fn scan_range(plan: &Plan, ring: &Ring) -> (f64, f64) {
    let rails = ring
        .members
        .iter()
        .flat_map(|&member| &plan.circuit(member).nodes)
        .filter_map(|node| match node.kind {
            NodeKind::Rail(rail) => Some(plan.design.rails[rail.0].volts),
            _ => None,
        });
    rails.fold((0.0, 1.0), |(low, high): (f64, f64), volts| {
        (low.min(volts), high.max(volts))
    })
}
