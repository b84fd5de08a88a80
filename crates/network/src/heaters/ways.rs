//! Strings that end on a net of the machine instead of a supply: solved together with the units on that net.

use super::chain::Kind;
use super::{HeaterReading, Wired};
use crate::equations::Network;
use crate::finding::{Amount, Finding, opening};
use crate::judge::{Context, Levels, set_feeds};
use crate::plan::{MemberIndex, Plan};
use crate::rows::Values;
use crate::scene::{Scene, build};
use crate::solve::Solver;
use crate::surroundings::{Copies, LOADS_TOGETHER, Surroundings};
use crate::wiring::{ElementIndex, ElementKind, NodeIndex};
use design::model::{
    Branch, Circuit, Design, HeaterString, NetId, NetKind, NodeKind, PartKind, Terminal,
};
use devices::types::Electrode;
use text::quantity::Unit;
use text::source::Span;

/// The members whose nets a string touches, with what drives and loads them.
fn touched(plan: &Plan, string: &HeaterString) -> Vec<MemberIndex> {
    let mut members = Vec::new();
    for terminal in [string.from, string.to] {
        let own: Vec<MemberIndex> = match terminal {
            Terminal::Net(net) if plan.is_supply(net.0) => Vec::new(),
            Terminal::Net(net) => plan.drivers[net.0]
                .iter()
                .chain(plan.loads[net.0].iter().take(LOADS_TOGETHER))
                .map(|pin| pin.0)
                .collect(),
            Terminal::Inner(unit, _) => vec![unit.0],
        };
        for member in own {
            members.extend(Surroundings::of(plan, member).members());
        }
    }
    members.sort_unstable();
    members.dedup();
    members
}

/// Rounds in which the resistances of the heaters follow their volts; every round leaves at most 0.4 of the error, so this
/// is good to a part in a hundred million.
const ROUNDS: usize = 20;

/// The volts of every joint of a string that does not hang between two supplies, and its current, A; `None` when it cannot
/// be solved (contradicting sources are found elsewhere).
pub(super) fn solve(
    plan: &Plan,
    wired: &Wired,
    levels: &Levels,
    context: &Context,
) -> Option<(Vec<f64>, f64)> {
    let string = wired.string;
    let members = touched(plan, string);
    let mut scene = build(plan, &Copies::each(&members), &[], &context.assumptions);
    let start = terminal_node(plan, &mut scene, string.from)?;
    let end = terminal_node(plan, &mut scene, string.to)?;
    let (joints, elements) = place(wired, &mut scene, start, end, context);
    let values = resting_values(plan, &members);
    let (mut solved, mut near) = (None, None);
    for _ in 0..ROUNDS {
        let leak = context.assumptions.leak_siemens;
        let mut network = Network::new(scene.wiring.clone(), leak).ok()?;
        set_feeds(&mut network, &scene, &values, levels);
        let mut solver = Solver::new(&network);
        let start: Option<&[f64]> = near.as_deref();
        let point = solver.operating_point(&network, start, None, &context.settings);
        if !point.outcome.settled() {
            return None;
        }
        let volts: Vec<f64> = joints.iter().map(|&joint| point.volts[joint]).collect();
        let of_first = elements.iter().filter(|element| element.link == 0);
        let amps = of_first
            .map(|one| {
                network
                    .element_amps(one.element, &point.volts, &point.lamps)
                    .amps[0]
            })
            .sum();
        for one in &elements {
            if let Kind::Heater { law, .. } = wired.chain.links[one.link][one.branch].kind {
                let ohms = law.ohms(volts[one.link] - volts[one.link + 1]);
                if let ElementKind::Resistor { siemens, .. } =
                    &mut scene.wiring.elements[one.element].kind
                {
                    *siemens = 1.0 / ohms;
                }
            }
        }
        solved = Some((volts, amps));
        near = Some(point.volts);
    }
    solved
}

struct Placed {
    element: ElementIndex,
    link: usize,
    branch: usize,
}

/// Puts the parts of a string into a scene; returns the nodes of its joints, ends included, and where each part is.
fn place(
    wired: &Wired,
    scene: &mut Scene,
    start: NodeIndex,
    end: NodeIndex,
    context: &Context,
) -> (Vec<NodeIndex>, Vec<Placed>) {
    let name = &wired.string.name;
    let (mut joints, mut placed) = (vec![start], Vec::new());
    for (link, branches) in wired.chain.links.iter().enumerate() {
        let at = joints[link];
        let next = if link + 1 == wired.chain.links.len() {
            end
        } else {
            scene.wiring.node(
                format!("string {name} joint {}", link + 1),
                context.assumptions.inner_stray_farads,
            )
        };
        for (branch, part) in branches.iter().enumerate() {
            let element =
                scene
                    .wiring
                    .resistor(format!("string {name}"), at, next, part.hot_ohms());
            placed.push(Placed {
                element,
                link,
                branch,
            });
        }
        joints.push(next);
    }
    (joints, placed)
}

/// Inputs down, outputs as they then are: one state in which the way home is tried.
fn resting_values(plan: &Plan, members: &[MemberIndex]) -> Values {
    let mut values = Values::new();
    for &member in members {
        for &net in &plan.members[member].nets {
            values.insert(net, false);
        }
    }
    values
}

fn terminal_node(plan: &Plan, scene: &mut Scene, terminal: Terminal) -> Option<NodeIndex> {
    match terminal {
        Terminal::Inner(unit, node) => scene.member(unit.0).map(|member| member.nodes[node]),
        Terminal::Net(net) => {
            if let Some(&node) = scene.nets.get(&net.0) {
                return Some(node);
            }
            let node = match plan.nets[net.0].kind {
                NetKind::Ground => crate::wiring::GROUND,
                NetKind::Rail(rail) => {
                    let node = scene.wiring.node(plan.nets[net.0].name.clone(), 0.0);
                    scene.wiring.hold(
                        plan.nets[net.0].name.clone(),
                        node,
                        plan.design.rails[rail.0].volts,
                    );
                    node
                }
                NetKind::Signal => scene.wiring.node(plan.nets[net.0].name.clone(), 0.0),
            };
            scene.nets.insert(net.0, node);
            Some(node)
        }
    }
}

/// A string that ends on a net of the machine instead of a supply.
pub(super) fn wrong_way(
    plan: &Plan,
    string: &HeaterString,
    readings: &[HeaterReading],
    subject: &str,
    terminal: Terminal,
    span: Span,
    last: bool,
) -> Option<Finding> {
    let (net_name, end) = match terminal {
        Terminal::Net(net) if plan.is_supply(net.0) => return None,
        Terminal::Net(net) => {
            let cathode = cathodes_on(plan, net);
            let end = cathode.map_or(End::Signal, End::Cathode);
            (plan.nets[net.0].name.clone(), end)
        }
        Terminal::Inner(unit, node) => {
            let circuit = plan.design.circuit_of(unit);
            let unit_name = &plan.design.units[unit.0].name;
            let net_name = format!("{unit_name}.{}", circuit.nodes[node].name);
            (net_name, End::inside(circuit, unit_name, node))
        }
    };
    let pin = end_pin(plan.design, string, last);
    let reading = readings
        .iter()
        .min_by(|left, right| left.share().total_cmp(&right.share()));
    let amps = reading.map_or(0.0, |reading| reading.amps.abs());
    let rated = reading.map_or(0.0, |reading| reading.rated_amps);
    let (name, way) = match &end {
        End::Cathode(unit) => (
            "heater-way-through-cathode",
            format!("the net {net_name}, which the cathode of {unit} is on"),
        ),
        End::Resistor { mark, ohms } => (
            "heater-way-through-resistor",
            format!(
                "the net {net_name}, and from there only through {mark}, {} for something else",
                text::quantity::show(*ohms, Unit::Ohm, 3)
            ),
        ),
        End::Signal => (
            "heater-way-through-signal",
            format!("the signal net {net_name}"),
        ),
    };
    let cause = format!(
        "{} goes to {way}, not to a supply: the heaters get {} of their {}.",
        opening(&pin),
        text::quantity::show(amps, Unit::Ampere, 3),
        text::quantity::show(rated, Unit::Ampere, 3)
    );
    Some(
        Finding::fault(name, span, subject, cause)
            .numbers(
                Amount::new("heater current", amps, Unit::Ampere),
                Amount::new("rated heater current", rated, Unit::Ampere),
            )
            .attempt(format!(
                "Take {pin} to the heater supply's {}, and write that after `{}`.",
                if last { "return" } else { "rail" },
                if last { "back to" } else { "from" }
            )),
    )
}

/// What a string that ends on no supply ends on.
enum End {
    /// A cathode, of this unit.
    Cathode(String),
    /// No tube at all, but a resistor that leads to a supply.
    Resistor { mark: String, ohms: f64 },
    /// Anything else.
    Signal,
}

impl End {
    fn inside(circuit: &Circuit, unit_name: &str, node: usize) -> Self {
        let mut tubes = circuit.tubes().map(|(_, tube)| tube);
        if tubes.any(|tube| tube.cathode == node) {
            return Self::Cathode(unit_name.to_owned());
        }
        let electrodes = circuit
            .tubes()
            .flat_map(|(_, tube)| [Some(tube.plate), tube.grid, tube.screen, tube.suppressor]);
        if electrodes.flatten().any(|electrode| electrode == node) {
            return Self::Signal;
        }
        let home = circuit.parts.iter().filter_map(|part| {
            let PartKind::Resistor { ohms, ends, .. } = part.kind else {
                return None;
            };
            let other = match ends {
                [one, other] if one == node => other,
                [other, one] if one == node => other,
                _ => return None,
            };
            let supply = matches!(
                circuit.nodes[other].kind,
                NodeKind::Ground | NodeKind::Rail(_)
            );
            supply.then(|| (format!("{unit_name}.{}", part.mark), ohms))
        });
        match home.min_by(|one, other| one.1.total_cmp(&other.1)) {
            Some((mark, ohms)) => Self::Resistor { mark, ohms },
            None => Self::Signal,
        }
    }
}

/// The unit whose cathode is on a net, if any.
fn cathodes_on(plan: &Plan, net: NetId) -> Option<String> {
    plan.members.iter().enumerate().find_map(|(index, member)| {
        let circuit = plan.circuit(index);
        let on_net = |node: usize| matches!(circuit.nodes[node].kind, NodeKind::Signal(signal) if member.nets[signal] == net.0);
        circuit.tubes().any(|(_, tube)| on_net(tube.cathode)).then(|| member.name.clone())
    })
}

/// The heater pin at an end of a string: "pin 5 of V2".
fn end_pin(design: &Design, string: &HeaterString, last: bool) -> String {
    let link = if last {
        string.links.last()
    } else {
        string.links.first()
    };
    let socket = match link.and_then(|link| link.branches.first()) {
        Some(Branch::Heater { socket, .. }) => socket,
        Some(
            Branch::Resistor { mark, .. }
            | Branch::Thermistor { mark, .. }
            | Branch::Ballast { mark, .. },
        ) => return format!("{mark} of string {}", string.name),
        Some(Branch::Conductor { .. }) | None => {
            return format!("the end of string {}", string.name);
        }
    };
    let socket = &design.sockets[socket.0];
    let pins: Vec<u8> = socket
        .device
        .base
        .iter()
        .flat_map(|base| &base.pins)
        .filter(|pin| pin.electrode == Electrode::Heater)
        .map(|pin| pin.number)
        .collect();
    let pin = if last { pins.last() } else { pins.first() };
    match pin {
        Some(pin) => format!("heater pin {pin} of {}", socket.mark),
        None => format!("a heater lead of {}", socket.mark),
    }
}
