//! One member solved in its surroundings, in every row.

use crate::equations::{Clash, Network};
use crate::plan::{MemberIndex, NetIndex, Plan};
use crate::rows::{Row, Values, WeakRows, row_count, rows};
use crate::scene::{Assumptions, Feed, Scene, SceneMember, build_bare};
use crate::solve::{Counters, OperatingPoint, Outcome, Settings, Solver};
use crate::stability::{Stability, poles_work, stability};
use crate::surroundings::Surroundings;
use crate::wiring::{ElementKind, GROUND};
use crate::work::{MOST_ELEMENT_ROWS, MOST_UNSETTLED};
use design::model::{Circuit, PartKind};
use std::collections::BTreeMap;

/// The worst solved volts of a net in each of its two values.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Level {
    /// Highest volts when down.
    pub down: f64,
    /// Lowest volts when up.
    pub up: f64,
}

impl Level {
    /// Between both, V.
    #[must_use]
    pub fn swing(self) -> f64 {
        (self.up - self.down).abs()
    }
}

/// Levels by net; what feeds a net from outside a scene stands at these.
pub type Levels = BTreeMap<NetIndex, Level>;

/// What is the same in every solution of a run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Context {
    /// Tolerances.
    pub settings: Settings,
    /// What no text states.
    pub assumptions: Assumptions,
}

/// A meter between a node of the subject's circuit and ground.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Meter {
    /// Node of the circuit.
    pub node: usize,
    /// Input resistance, ohm.
    pub ohms: f64,
}

/// Readings of one part in one row. Currents in A, volts in V, W.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PartReading {
    /// Volts from the first terminal to the second (anode to cathode; plate to cathode).
    pub volts: f64,
    /// Current into the first terminal (plate of a tube).
    pub amps: f64,
    /// Dissipation of the part (of the plate, for a tube).
    pub watts: f64,
    /// Grid to cathode volts (tubes).
    pub grid_volts: f64,
    /// Grid current (tubes).
    pub grid_amps: f64,
    /// Screen to cathode volts (tubes with a screen).
    pub screen_volts: f64,
    /// Screen current.
    pub screen_amps: f64,
    /// Current out of the cathode.
    pub cathode_amps: f64,
    /// All that the part turns into heat, of a tube at plate, grids and screen together, W; negative where a source gives.
    pub heat_watts: f64,
}

/// A row with its solution.
#[derive(Debug, Clone, PartialEq)]
pub struct RowResult {
    /// The row.
    pub row: Row,
    /// How the solution ended.
    pub outcome: Outcome,
    /// Stability, asked for only where the surroundings hold a loop.
    pub stability: Option<Stability>,
    /// The subject's outputs are on the side of their values; false where a loop went over into another state.
    pub kept: bool,
    /// Volts of the subject's nodes, in the order of its circuit.
    pub volts: Vec<f64>,
    /// Readings of the subject's parts, in the order of its circuit.
    pub parts: Vec<PartReading>,
    /// Current that the subject's parts draw from each rail (A, positive out of the rail), by net.
    pub rail_amps: BTreeMap<NetIndex, f64>,
    /// Volts of every net of the scene.
    pub nets: BTreeMap<NetIndex, f64>,
    /// Work done.
    pub work: Counters,
}

/// A member in its surroundings.
#[derive(Debug, Clone, PartialEq)]
pub struct MemberResult {
    /// Who was solved together.
    pub around: Surroundings,
    /// Rows.
    pub rows: Vec<RowResult>,
    /// Rows of the inputs that the drivers cannot produce.
    pub impossible: usize,
    /// Sources that contradict one another; then there are no rows.
    pub clash: Option<Clash>,
    /// Name of the element of the clash.
    pub clash_name: Option<String>,
    /// Types without a law; then there are no rows.
    pub without_law: Vec<String>,
    /// Nets and inner nodes that nothing holds: names.
    pub floating: Vec<String>,
    /// Beyond a bound of work; then there are no rows.
    pub refused: Option<Refused>,
    /// Elements evaluated for it.
    pub evaluated: u64,
}

/// Which bound of work stood in the way.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Refused {
    /// The member with its neighbours: elements and rows.
    Scene(usize, usize),
    /// Everything that the check had solved before it.
    Check,
}

impl MemberResult {
    /// Nothing solved yet.
    fn empty(around: Surroundings) -> Self {
        Self {
            around,
            rows: Vec::new(),
            impossible: 0,
            clash: None,
            clash_name: None,
            without_law: Vec::new(),
            floating: Vec::new(),
            refused: None,
            evaluated: 0,
        }
    }

    /// Whether any row settled.
    #[must_use]
    pub fn settles(&self) -> bool {
        self.rows.iter().any(|row| row.outcome.settled())
    }

    /// A member that the check has no work left for.
    pub(crate) fn beyond_check(plan: &Plan, member: MemberIndex) -> Self {
        Self {
            refused: Some(Refused::Check),
            ..Self::empty(Surroundings::of(plan, member))
        }
    }
}

/// Solves a member in every row that its drivers can produce.
#[must_use]
pub fn judge(
    plan: &Plan,
    subject: MemberIndex,
    levels: &Levels,
    weak: &WeakRows,
    context: &Context,
) -> MemberResult {
    judge_in(
        plan,
        Surroundings::of(plan, subject),
        None,
        levels,
        weak,
        context,
    )
}

/// Solves a member in surroundings of the caller's choice: with fewer loads, say, or with a meter on one of its nodes.
#[must_use]
pub fn judge_in(
    plan: &Plan,
    around: Surroundings,
    meter: Option<Meter>,
    levels: &Levels,
    weak: &WeakRows,
    context: &Context,
) -> MemberResult {
    let around = around.gathered(plan, &[levels]);
    let subject = around.subject;
    let swept: &[NetIndex] = if around.cut {
        &plan.members[subject].nets[..plan.circuit(subject).interface.inputs]
    } else {
        &[]
    };
    let mut scene = build_bare(
        plan,
        &around.copies(),
        swept,
        &around.bare,
        &context.assumptions,
    );
    if let (Some(meter), Some(member)) = (meter, scene.member(subject)) {
        let node = member.nodes[meter.node];
        scene.wiring.resistor("meter", node, GROUND, meter.ohms);
    }
    let mut result = MemberResult {
        without_law: scene.without_law.clone(),
        ..MemberResult::empty(around)
    };
    if !result.without_law.is_empty() {
        return result;
    }
    let elements = scene.wiring.elements.len();
    let least = row_count(plan.circuit(subject).interface.inputs);
    if MOST_ELEMENT_ROWS < elements * least {
        result.refused = Some(Refused::Scene(elements, least));
        return result;
    }
    let (rows, impossible) = rows(plan, &result.around, weak);
    result.impossible = impossible;
    if MOST_ELEMENT_ROWS < elements * rows.len() {
        result.refused = Some(Refused::Scene(elements, rows.len()));
        return result;
    }
    let mut network = match Network::new(scene.wiring.clone(), context.assumptions.leak_siemens) {
        Ok(network) => network,
        Err(clash) => {
            result.clash_name = Some(scene.wiring.elements[clash.element].name.clone());
            result.clash = Some(clash);
            return result;
        }
    };
    result.floating = floating(&scene, subject);
    let mut solver = Solver::new(&network);
    let mut held = result
        .around
        .looped
        .then(|| Held::new(&scene, context))
        .flatten();
    let mut near: Option<OperatingPoint> = None;
    let mut unsettled = 0;
    for row in rows {
        if unsettled == MOST_UNSETTLED {
            break;
        }
        set_feeds(&mut network, &scene, &row.values, levels);
        let start = match &mut held {
            Some(held) => held.start(&scene, &row.values, levels, context),
            None => near.as_ref().map(|point| point.volts.clone()),
        };
        let point = solver.operating_point(&network, start.as_deref(), None, &context.settings);
        let stability = result
            .around
            .looped
            .then(|| stability(&network, &mut solver, &point));
        if stability.is_some() {
            result.evaluated += poles_work(network.size());
        }
        let mut row = row_result(plan, subject, &network, &scene, row, &point, stability);
        row.kept = !result.around.looped || row_kept(plan, subject, &row, levels);
        result.evaluated += (elements * point.work.evaluations) as u64;
        result.rows.push(row);
        unsettled += usize::from(!point.outcome.settled());
        near = point.outcome.settled().then_some(point);
    }
    let started = held.map_or(0, |held| held.evaluations);
    result.evaluated += (elements * started) as u64;
    result
}

impl RowResult {
    /// A solution of the row that was meant, and not one that a circuit leaves at the slightest push.
    #[must_use]
    pub fn counts(&self) -> bool {
        let leaves = matches!(self.stability, Some(Stability::Unstable(_)));
        self.outcome.settled() && self.kept && !leaves
    }
}

/// Whether every output of the subject is nearer the level of its value than that of the other.
fn row_kept(plan: &Plan, subject: MemberIndex, row: &RowResult, levels: &Levels) -> bool {
    let inputs = plan.circuit(subject).interface.inputs;
    let outputs = plan.members[subject].nets[inputs..]
        .iter()
        .zip(&row.row.outputs)
        .enumerate();
    outputs
        .into_iter()
        .all(|(output, (net, value))| match (value, levels.get(net)) {
            (Some(up), Some(level)) => {
                ((level.down + level.up) / 2.0 < row.volts[inputs + output]) == *up
            }
            _ => true,
        })
}

/// Puts every feed at the volts of its value: a switch at its rail, any other net at its worst solved level.
pub fn set_feeds(network: &mut Network, scene: &Scene, values: &Values, levels: &Levels) {
    for (net, feed) in &scene.feeds {
        let up = values.get(net).copied().unwrap_or(false);
        network.set_tie(feed.tie, feed_volts(*net, feed, up, levels));
    }
}

/// Volts of a feed where the rails stand as `supply` says, by net: a switch at the rail that it then leads to, any other net at
/// its level, 0 where that is not known.
pub(crate) fn fed_volts(
    plan: &Plan,
    net: NetIndex,
    feed: &Feed,
    up: bool,
    levels: &Levels,
    supply: impl Fn(NetIndex) -> f64,
) -> f64 {
    let switch = plan.switches.get(&net).filter(|_| feed.switch.is_some());
    match (switch, levels.get(&net)) {
        (Some(switch), _) => supply(if up { switch.up } else { switch.down }),
        (None, Some(level)) => {
            if up {
                level.up
            } else {
                level.down
            }
        }
        (None, None) => 0.0,
    }
}

fn feed_volts(net: NetIndex, feed: &Feed, up: bool, levels: &Levels) -> f64 {
    let (down_volts, up_volts) = match (feed.switch, levels.get(&net)) {
        (Some(volts), _) => volts,
        (None, Some(level)) => (level.down, level.up),
        (None, None) => (0.0, 0.0),
    };
    if up { up_volts } else { down_volts }
}

/// The scene with every net held at its value's level: what a start in a stated logic state is solved from, so that a
/// loop comes up in the state that is meant and not by luck of the starting point.
pub(crate) struct Held {
    network: Network,
    solver: Solver,
    ties: Vec<(NetIndex, usize)>,
    near: Option<Vec<f64>>,
    /// Evaluations so far.
    evaluations: usize,
}

impl Held {
    pub(crate) fn new(scene: &Scene, context: &Context) -> Option<Self> {
        let mut wiring = scene.wiring.clone();
        let free = scene.nets.iter().filter(|(net, node)| {
            **node != GROUND && !scene.feeds.contains_key(net) && !scene.rails.contains_key(net)
        });
        let ties = free
            .map(|(&net, &node)| (net, wiring.hold("held", node, 0.0)))
            .collect();
        let network = Network::new(wiring, context.assumptions.leak_siemens).ok()?;
        Some(Self {
            solver: Solver::new(&network),
            network,
            ties,
            near: None,
            evaluations: 0,
        })
    }

    pub(crate) fn start(
        &mut self,
        scene: &Scene,
        values: &Values,
        levels: &Levels,
        context: &Context,
    ) -> Option<Vec<f64>> {
        set_feeds(&mut self.network, scene, values, levels);
        for &(net, tie) in &self.ties {
            if let (Some(&up), Some(level)) = (values.get(&net), levels.get(&net)) {
                self.network
                    .set_tie(tie, if up { level.up } else { level.down });
            }
        }
        let point = self.solver.operating_point(
            &self.network,
            self.near.as_deref(),
            None,
            &context.settings,
        );
        self.evaluations += point.work.evaluations;
        if point.outcome.settled() {
            self.near = Some(point.volts.clone());
        }
        Some(point.volts)
    }
}

fn row_result(
    plan: &Plan,
    subject: MemberIndex,
    network: &Network,
    scene: &Scene,
    row: Row,
    point: &OperatingPoint,
    stability: Option<Stability>,
) -> RowResult {
    let member = scene
        .member(subject)
        .expect("the subject is in its own scene");
    RowResult {
        row,
        outcome: point.outcome.clone(),
        stability,
        kept: true,
        volts: member.nodes.iter().map(|&node| point.volts[node]).collect(),
        parts: read_parts(plan, subject, network, point, member),
        rail_amps: rail_amps(network, scene, member, point),
        nets: scene
            .nets
            .iter()
            .map(|(&net, &node)| (net, point.volts[node]))
            .collect(),
        work: point.work,
    }
}

/// Readings of every part of a member.
pub(crate) fn read_parts(
    plan: &Plan,
    subject: MemberIndex,
    network: &Network,
    point: &OperatingPoint,
    member: &SceneMember,
) -> Vec<PartReading> {
    let parts = plan.circuit(subject).parts.iter().enumerate();
    parts
        .map(|(part, info)| read_part(network, point, member, part, &info.kind))
        .collect()
}

/// Current (A) that the parts of a member draw from each rail, positive out of the rail.
pub(crate) fn rail_amps(
    network: &Network,
    scene: &Scene,
    member: &SceneMember,
    point: &OperatingPoint,
) -> BTreeMap<NetIndex, f64> {
    let mut rail_amps = BTreeMap::new();
    for (&net, &tie) in &scene.rails {
        let ElementKind::Tie {
            plus: rail_node, ..
        } = scene.wiring.elements[tie].kind
        else {
            continue;
        };
        let amps: f64 = member
            .elements
            .iter()
            .flatten()
            .map(|&element| {
                let local = network.element_amps(element, &point.volts, &point.lamps);
                let terminals = network.wiring.elements[element].kind.terminals();
                let mine = terminals
                    .as_slice()
                    .iter()
                    .zip(local.amps)
                    .filter(|(node, _)| **node == rail_node);
                mine.map(|(_, amps)| amps).sum::<f64>()
            })
            .sum();
        rail_amps.insert(net, amps);
    }
    rail_amps
}

fn read_part(
    network: &Network,
    point: &OperatingPoint,
    member: &SceneMember,
    part: usize,
    kind: &PartKind,
) -> PartReading {
    let Some(&first) = member.elements[part].first() else {
        return PartReading::default();
    };
    if let PartKind::Tube(tube) = kind {
        return read_tube(network, point, first, tube.device.law.is_some());
    }
    let mut reading = PartReading::default();
    for &element in &member.elements[part] {
        let terminals = network.wiring.elements[element].kind.terminals();
        let [a, b] = [terminals.as_slice()[0], terminals.as_slice()[1]];
        let amps = network
            .element_amps(element, &point.volts, &point.lamps)
            .amps[0];
        let volts = point.volts[a] - point.volts[b];
        reading.volts += volts;
        reading.amps = amps;
        reading.watts += volts * amps;
    }
    reading.heat_watts = reading.watts;
    reading
}

fn read_tube(
    network: &Network,
    point: &OperatingPoint,
    element: usize,
    has_law: bool,
) -> PartReading {
    if !has_law {
        return PartReading::default();
    }
    let kind = &network.wiring.elements[element].kind;
    let amps = network
        .element_amps(element, &point.volts, &point.lamps)
        .amps;
    let volts = |node: usize| point.volts[node];
    let terminals = kind.terminals();
    let each = terminals.as_slice().iter().zip(amps);
    // The currents into a part add up to nothing, so it does not matter against what the volts are counted.
    let heat_watts = each.map(|(&node, amps)| volts(node) * amps).sum();
    let reading = match *kind {
        ElementKind::Triode {
            plate,
            grid,
            cathode,
            ..
        } => PartReading {
            volts: volts(plate) - volts(cathode),
            amps: amps[0],
            watts: (volts(plate) - volts(cathode)) * amps[0],
            grid_volts: volts(grid) - volts(cathode),
            grid_amps: amps[1],
            cathode_amps: -amps[2],
            ..PartReading::default()
        },
        ElementKind::Pentode {
            plate,
            grid,
            screen,
            cathode,
            ..
        } => PartReading {
            volts: volts(plate) - volts(cathode),
            amps: amps[0],
            watts: (volts(plate) - volts(cathode)) * amps[0],
            grid_volts: volts(grid) - volts(cathode),
            grid_amps: amps[1],
            screen_volts: volts(screen) - volts(cathode),
            screen_amps: amps[2],
            cathode_amps: -amps[4],
            ..PartReading::default()
        },
        ElementKind::VacuumDiode { plate, cathode, .. } => PartReading {
            volts: volts(plate) - volts(cathode),
            amps: amps[0],
            watts: (volts(plate) - volts(cathode)) * amps[0],
            cathode_amps: amps[0],
            ..PartReading::default()
        },
        _ => PartReading::default(),
    };
    PartReading {
        heat_watts,
        ..reading
    }
}

/// Nodes of the subject that no resistor, diode, lamp, tie or plate-to-cathode way joins to a supply or a feed:
/// nothing holds them, their volts come from leakage alone.
fn floating(scene: &Scene, subject: MemberIndex) -> Vec<String> {
    let mut reached = vec![false; scene.wiring.nodes.len()];
    reached[GROUND] = true;
    let ways: Vec<(usize, usize)> = scene
        .wiring
        .elements
        .iter()
        .flat_map(|element| conductive_ways(&element.kind))
        .collect();
    loop {
        let mut grown = false;
        for &(a, b) in &ways {
            if reached[a] != reached[b] {
                reached[a] = true;
                reached[b] = true;
                grown = true;
            }
        }
        if !grown {
            break;
        }
    }
    let Some(member) = scene.member(subject) else {
        return Vec::new();
    };
    let mut names: Vec<String> = member
        .nodes
        .iter()
        .filter(|&&node| !reached[node])
        .map(|&node| scene.wiring.nodes[node].name.clone())
        .collect();
    names.sort();
    names.dedup();
    names
}

fn conductive_ways(kind: &ElementKind) -> Vec<(usize, usize)> {
    match *kind {
        ElementKind::Capacitor { .. } => Vec::new(),
        ElementKind::Resistor { ends: [a, b], .. } | ElementKind::Neon { ends: [a, b], .. } => {
            vec![(a, b)]
        }
        ElementKind::Tie { plus, minus, .. } => vec![(plus, minus)],
        ElementKind::Diode { anode, cathode, .. } => vec![(anode, cathode)],
        ElementKind::VacuumDiode { plate, cathode, .. }
        | ElementKind::Triode { plate, cathode, .. } => vec![(plate, cathode)],
        ElementKind::Pentode {
            plate,
            screen,
            cathode,
            ..
        } => vec![(plate, cathode), (screen, cathode)],
    }
}

/// The node of a circuit's output and the tube part whose plate is on it, if there is one (a gate, not a follower).
#[must_use]
pub fn output_tube(circuit: &Circuit, signal: usize) -> Option<usize> {
    circuit
        .tubes()
        .find(|(_, tube)| tube.plate == signal && tube.cathode != signal)
        .map(|(part, _)| part)
}
