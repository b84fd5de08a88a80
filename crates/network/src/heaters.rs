//! A first check of the heaters: does every heater get its current, and by the right way?
//!
//! Decided by solved current, not by connection: every string is solved with what it ends on. A heater is taken as the
//! resistance of its rating; a string that ends on a net of the machine is solved together with the units on that net.

use crate::equations::Network;
use crate::finding::{Amount, Finding};
use crate::judge::{Context, Levels, MemberResult, set_feeds};
use crate::plan::{MemberIndex, Plan};
use crate::rows::Values;
use crate::scene::{Scene, build};
use crate::solve::Solver;
use crate::surroundings::{Copies, LOADS_TOGETHER, Surroundings};
use crate::wiring::{ElementIndex, NodeIndex};
use design::model::{
    Design, HeaterString, NetId, NetKind, NodeKind, PartKind, SocketId, StringItem, Terminal,
};
use devices::types::{Electrode, Heater, Section};
use text::quantity::Unit;
use text::source::Span;

/// One heater as solved.
#[derive(Debug, Clone, PartialEq)]
pub struct HeaterReading {
    /// Which tube.
    pub socket: SocketId,
    /// Index into [`Design::strings`].
    pub string: usize,
    /// Volts of its first end (towards the string's beginning) against ground.
    pub first_volts: f64,
    /// Volts of its second end against ground.
    pub second_volts: f64,
    /// Current, A.
    pub amps: f64,
    /// Wired for its tapped voltage: both end pins stand at the first volts, the tap at the second.
    pub tapped: bool,
    /// Rated volts as wired.
    pub rated_volts: f64,
    /// Rated current as wired, A.
    pub rated_amps: f64,
    /// Where it is written.
    pub span: Span,
}

impl HeaterReading {
    /// Volts across it over its rating.
    #[must_use]
    pub fn share(&self) -> f64 {
        (self.first_volts - self.second_volts).abs() / self.rated_volts
    }
}

/// All strings.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct HeaterResult {
    /// Every heater in every string.
    pub readings: Vec<HeaterReading>,
    /// Current of each string, A, in the order of the design.
    pub string_amps: Vec<f64>,
    /// Findings on the ways of the strings, their volts, and volts between heater and cathode.
    pub findings: Vec<Finding>,
}

/// Heaters further from their rating than this are a fault, and than the second a caution.
/// 10 % limit: Radio Constructor, April 1962; 5 % aim: common practice, no source, with a little room for E24 droppers.
const LIMIT_SHARE: f64 = 0.10;
const AIM_SHARE: f64 = 0.055;

/// Solves every string and judges it.
#[must_use]
pub fn check(
    plan: &Plan,
    levels: &Levels,
    results: &[MemberResult],
    context: &Context,
) -> HeaterResult {
    let design = plan.design;
    let mut out = HeaterResult::default();
    for (index, string) in design.strings.iter().enumerate() {
        let solved = solve_string(plan, index, levels, context);
        let (readings, amps) = solved.unwrap_or_default();
        out.findings.extend(judge_string(plan, string, &readings));
        out.string_amps.push(amps);
        out.readings.extend(readings);
    }
    if !design.strings.is_empty() {
        out.findings.extend(unfed(design));
    }
    out.findings
        .extend(heater_cathode(plan, &out.readings, results));
    out
}

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

struct Placed {
    element: ElementIndex,
    first: NodeIndex,
    second: NodeIndex,
    socket: SocketId,
    rated: (f64, f64),
    tapped: bool,
    span: Span,
}

/// Solves one string with what it ends on; `None` when it cannot be solved (contradicting sources are found elsewhere).
fn solve_string(
    plan: &Plan,
    index: usize,
    levels: &Levels,
    context: &Context,
) -> Option<(Vec<HeaterReading>, f64)> {
    let string = &plan.design.strings[index];
    let members = touched(plan, string);
    let mut scene = build(plan, &Copies::each(&members), &[], &context.assumptions);
    let start = terminal_node(plan, &mut scene, string.from)?;
    let end = terminal_node(plan, &mut scene, string.to)?;
    let placed = place_items(plan.design, string, &mut scene, start, end, context);
    let mut network = Network::new(scene.wiring.clone(), context.assumptions.leak_siemens).ok()?;
    set_feeds(
        &mut network,
        &scene,
        &resting_values(plan, &members),
        levels,
    );
    let point = Solver::new(&network).operating_point(&network, None, None, &context.settings);
    if !point.outcome.settled() {
        return None;
    }
    let readings: Vec<HeaterReading> = placed
        .iter()
        .map(|heater| HeaterReading {
            socket: heater.socket,
            string: index,
            first_volts: point.volts[heater.first],
            second_volts: point.volts[heater.second],
            amps: network
                .element_amps(heater.element, &point.volts, &point.lamps)
                .amps[0],
            tapped: heater.tapped,
            rated_volts: heater.rated.0,
            rated_amps: heater.rated.1,
            span: heater.span,
        })
        .collect();
    let string_amps = network
        .wiring
        .elements
        .iter()
        .enumerate()
        .filter(|(_, element)| {
            element.name.starts_with(STRING_PREFIX)
                && element.kind.terminals().as_slice().contains(&start)
        })
        .map(|(element, _)| {
            network
                .element_amps(element, &point.volts, &point.lamps)
                .amps[0]
        })
        .sum();
    Some((readings, string_amps))
}

const STRING_PREFIX: &str = "string ";

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

fn place_items(
    design: &Design,
    string: &HeaterString,
    scene: &mut Scene,
    start: NodeIndex,
    end: NodeIndex,
    context: &Context,
) -> Vec<Placed> {
    let mut placed = Vec::new();
    let mut at = start;
    for (index, item) in string.items.iter().enumerate() {
        let next = if index + 1 == string.items.len() {
            end
        } else {
            scene.wiring.node(
                format!("{STRING_PREFIX}{} joint {}", string.name, index + 1),
                context.assumptions.inner_stray_farads,
            )
        };
        let mut heater = |socket: SocketId, tapped: bool, span: Span, scene: &mut Scene| {
            let Some(rated) = rating(design, socket, tapped) else {
                return;
            };
            let name = format!(
                "{STRING_PREFIX}{} {}",
                string.name, design.sockets[socket.0].mark
            );
            let element = scene.wiring.resistor(name, at, next, rated.0 / rated.1);
            placed.push(Placed {
                element,
                first: at,
                second: next,
                socket,
                rated,
                tapped,
                span,
            });
        };
        match item {
            StringItem::Heater {
                socket,
                tapped,
                span,
            } => heater(*socket, *tapped, *span, scene),
            StringItem::Parallel { heaters, span } => {
                for &(socket, tapped) in heaters {
                    heater(socket, tapped, *span, scene);
                }
            }
            StringItem::Resistor { mark, ohms, .. } => {
                scene.wiring.resistor(
                    format!("{STRING_PREFIX}{} {mark}", string.name),
                    at,
                    next,
                    *ohms,
                );
            }
        }
        at = next;
    }
    placed
}

/// Rated volts and current of a heater as it is wired.
#[must_use]
pub fn rating(design: &Design, socket: SocketId, tapped: bool) -> Option<(f64, f64)> {
    let heater: &Heater = design.sockets[socket.0].device.heater.as_ref()?;
    if tapped {
        heater.tapped
    } else {
        Some((heater.volts.value, heater.amps.value))
    }
}

fn judge_string(plan: &Plan, string: &HeaterString, readings: &[HeaterReading]) -> Vec<Finding> {
    let subject = format!("string {}", string.name);
    for (terminal, span, last) in [
        (string.from, string.from_span, false),
        (string.to, string.to_span, true),
    ] {
        if let Some(finding) = wrong_way(plan, string, readings, &subject, terminal, span, last) {
            return vec![finding];
        }
    }
    let rated: f64 = readings.iter().map(|reading| reading.rated_volts).sum();
    if readings.iter().all(|reading| reading.share() < 0.01) && 0.0 < rated {
        return vec![
            Finding::fault(
                "heater-way-missing",
                string.span,
                subject,
                "Both ends of the string stand at the same volts: no current flows.",
            )
            .attempt("Take one end to the heater rail and the other to its return."),
        ];
    }
    // One mistake in a string moves every heater in it: the one furthest off stands for all.
    let mut off: Vec<(f64, Finding)> = readings
        .iter()
        .filter_map(|reading| {
            Some((
                (reading.share() - 1.0).abs(),
                off_rating(plan.design, reading)?,
            ))
        })
        .collect();
    off.sort_by(|left, right| right.0.total_cmp(&left.0));
    let mut off = off.into_iter().map(|(_, finding)| finding);
    let first = off.next().map(|first| Finding {
        consequences: off.collect(),
        ..first
    });
    first.into_iter().collect()
}

/// A string that ends on a net of the machine instead of a supply.
fn wrong_way(
    plan: &Plan,
    string: &HeaterString,
    readings: &[HeaterReading],
    subject: &str,
    terminal: Terminal,
    span: Span,
    last: bool,
) -> Option<Finding> {
    let (net_name, on_cathode) = match terminal {
        Terminal::Net(net) if plan.is_supply(net.0) => return None,
        Terminal::Net(net) => (plan.nets[net.0].name.clone(), cathodes_on(plan, net)),
        Terminal::Inner(unit, node) => {
            let circuit = plan.design.circuit_of(unit);
            let cathode = circuit.tubes().any(|(_, tube)| tube.cathode == node);
            let unit_name = &plan.design.units[unit.0].name;
            (
                format!("{unit_name}.{}", circuit.nodes[node].name),
                cathode.then(|| unit_name.clone()),
            )
        }
    };
    let pin = end_pin(plan.design, string, last);
    let reading = readings
        .iter()
        .min_by(|left, right| left.share().total_cmp(&right.share()));
    let amps = reading.map_or(0.0, |reading| reading.amps.abs());
    let rated = reading.map_or(0.0, |reading| reading.rated_amps);
    let (name, way) = match &on_cathode {
        Some(unit) => (
            "heater-way-through-cathode",
            format!("the net {net_name}, which the cathode of {unit} is on"),
        ),
        None => (
            "heater-way-through-signal",
            format!("the signal net {net_name}"),
        ),
    };
    let cause = format!(
        "{pin} goes to {way}, not to a supply: the heaters get {} of their {}.",
        text::quantity::show(amps, Unit::Ampere, 3),
        text::quantity::show(rated, Unit::Ampere, 3)
    );
    Some(
        Finding::fault(name, span, subject, cause)
            .numbers(
                Amount::new("heater current", amps, Unit::Ampere),
                Amount::new("rated heater current", rated, Unit::Ampere),
            )
            .attempt(format!("Take {pin} to the heater supply's return.")),
    )
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
    let items: Box<dyn Iterator<Item = &StringItem>> = if last {
        Box::new(string.items.iter().rev())
    } else {
        Box::new(string.items.iter())
    };
    let socket = items.into_iter().find_map(|item| match item {
        StringItem::Heater { socket, .. } => Some(*socket),
        StringItem::Parallel { heaters, .. } => heaters.first().map(|heater| heater.0),
        StringItem::Resistor { .. } => None,
    });
    let Some(socket) = socket else {
        return format!("the end of string {}", string.name);
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

fn off_rating(design: &Design, reading: &HeaterReading) -> Option<Finding> {
    let off = reading.share() - 1.0;
    if off.abs() <= AIM_SHARE {
        return None;
    }
    let mark = &design.sockets[reading.socket.0].mark;
    let volts = (reading.first_volts - reading.second_volts).abs();
    let cause = format!(
        "The heater of {mark} stands at {:+.1} % of its rating: {}.",
        100.0 * off,
        if off < 0.0 {
            "emission falls and the tube reads weak"
        } else {
            "its life shortens quickly"
        }
    );
    let make = if LIMIT_SHARE < off.abs() {
        Finding::fault
    } else {
        Finding::caution
    };
    Some(
        make("heater-volts", reading.span, mark.clone(), cause)
            .numbers(Amount::new("heater volts", volts, Unit::Volt), Amount::new("rated heater volts", reading.rated_volts, Unit::Volt))
            .attempt("Put tubes of one heater current in a string, and as many as their volts add up to the supply; shunt or drop the rest."),
    )
}

fn unfed(design: &Design) -> Vec<Finding> {
    let fed: Vec<SocketId> = design
        .strings
        .iter()
        .flat_map(|string| &string.items)
        .flat_map(|item| match item {
            StringItem::Heater { socket, .. } => vec![*socket],
            StringItem::Parallel { heaters, .. } => heaters.iter().map(|heater| heater.0).collect(),
            StringItem::Resistor { .. } => Vec::new(),
        })
        .collect();
    (0..design.sockets.len())
        .map(SocketId)
        .filter(|socket| !fed.contains(socket) && design.sockets[socket.0].device.heater.is_some())
        .map(|socket| {
            let socket = &design.sockets[socket.0];
            Finding::fault(
                "heater-unfed",
                socket.span,
                socket.mark.clone(),
                format!("{} is in no heater string: it stays cold.", socket.mark),
            )
            .attempt("Add it to a string, or type a string for it.")
        })
        .collect()
}

/// Volts between each heater and the cathodes of its tube in every row, against the limit of that sign.
fn heater_cathode(
    plan: &Plan,
    readings: &[HeaterReading],
    results: &[MemberResult],
) -> Vec<Finding> {
    let mut findings = Vec::new();
    for reading in readings {
        let socket = &plan.design.sockets[reading.socket.0];
        if socket
            .device
            .heater
            .as_ref()
            .is_some_and(|heater| heater.direct)
        {
            continue;
        }
        let Some((low, high)) = cathode_range(plan, reading.socket, results) else {
            continue;
        };
        let (heater_low, heater_high) = (
            reading.first_volts.min(reading.second_volts),
            reading.first_volts.max(reading.second_volts),
        );
        let ratings = &socket.device.ratings;
        let sides = [
            (
                "positive",
                heater_high - low,
                &ratings.heater_positive_volts,
            ),
            (
                "negative",
                high - heater_low,
                &ratings.heater_negative_volts,
            ),
        ];
        for (sign, volts, limit) in sides {
            let Some(limit) = limit else { continue };
            if limit.value < volts {
                let cause = format!(
                    "The heater of {} gets {} {sign} of its cathode; its place in the string and the cathode's swing decide.",
                    socket.mark,
                    text::quantity::show(volts, Unit::Volt, 3)
                );
                findings.push(
                    Finding::fault("heater-cathode-volts", reading.span, socket.mark.clone(), cause)
                        .numbers(
                            Amount::new(format!("heater {sign} of cathode"), volts, Unit::Volt),
                            Amount::new(format!("limit, heater {sign}"), limit.value, Unit::Volt),
                        )
                        .attempt("Stand the heater supply near the cathodes' mean volts, or move the tube along the string, or use a type with a higher limit."),
                );
            }
        }
    }
    findings
}

/// Lowest and highest cathode volts of a tube's halves over all rows.
fn cathode_range(plan: &Plan, socket: SocketId, results: &[MemberResult]) -> Option<(f64, f64)> {
    let mut range: Option<(f64, f64)> = None;
    for half in [Section::A, Section::B] {
        let Some((unit, tube)) = plan.design.sockets[socket.0].halves[half as usize] else {
            continue;
        };
        let circuit = plan.design.circuit_of(unit);
        let Some((part, _)) = circuit.tubes().nth(tube) else {
            continue;
        };
        let PartKind::Tube(tube) = &circuit.parts[part].kind else {
            continue;
        };
        for row in results[unit.0].rows.iter().filter(|row| row.counts()) {
            let volts = row.volts[tube.cathode];
            range = Some(range.map_or((volts, volts), |(low, high)| {
                (low.min(volts), high.max(volts))
            }));
        }
    }
    range
}
