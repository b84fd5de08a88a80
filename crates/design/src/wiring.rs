//! The pin-to-pin wiring list of a board: every net with everything that is soldered to it.

use crate::model::{
    Branch, Design, Link, NetId, NetKind, NodeKind, Part, PartKind, SocketId, Terminal, UnitId,
};
use devices::types::{Electrode, Section};
use std::collections::BTreeMap;

/// Something that a wire goes to.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Point {
    /// Pin of a connector.
    Connector {
        /// Mark, `J1`.
        mark: String,
        /// Pin number.
        pin: u32,
    },
    /// Pin of a tube socket.
    Pin {
        /// Mark of the tube.
        socket: String,
        /// Pin number as on the base, seen from below; `None` for a lead whose number is not known.
        pin: Option<u8>,
        /// What the pin leads to: `plate A`.
        electrode: String,
    },
    /// Lead of a part.
    Lead {
        /// Unit.
        unit: String,
        /// Mark of the part in its circuit.
        part: String,
        /// Which lead: `anode`, `cathode`, `first`, `second`, `slider`.
        lead: &'static str,
    },
}

/// A net of a board with its points.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Wire {
    /// Name of the net: `differ`, `G1.join`, `string H1 joint 2`.
    pub net: String,
    /// In order: connectors, pins, leads.
    pub points: Vec<Point>,
}

/// What a net is to the wiring list.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Key {
    Net(NetId),
    Inner(UnitId, usize),
    Joint(usize, usize),
}

/// The wiring list of one board (index into [`Design::boards`]), or of the whole machine when `None`: supplies first,
/// then nets by name. Parts that carry no net of the board are left out.
#[must_use]
pub fn wiring_list(design: &Design, board: Option<usize>) -> Vec<Wire> {
    let units: Vec<UnitId> = match board {
        Some(board) => design.boards[board].units.clone(),
        None => (0..design.units.len()).map(UnitId).collect(),
    };
    let mut points: BTreeMap<Key, Vec<Point>> = BTreeMap::new();
    for &unit in &units {
        add_unit(design, unit, &mut points);
    }
    let sockets: Vec<SocketId> = units
        .iter()
        .flat_map(|unit| &design.units[unit.0].places)
        .map(|place| place.socket)
        .collect();
    for string in 0..design.strings.len() {
        add_string(design, string, &sockets, &mut points);
    }
    let connectors = match board {
        Some(board) => design.boards[board].connectors.as_slice(),
        None => &[],
    };
    for connector in connectors {
        for &(pin, net) in &connector.pins {
            points
                .entry(Key::Net(net))
                .or_default()
                .push(Point::Connector {
                    mark: connector.mark.clone(),
                    pin,
                });
        }
    }
    points
        .into_iter()
        .map(|(key, mut points)| {
            points.sort_by_cached_key(order);
            points.dedup();
            Wire {
                net: key_name(design, key),
                points,
            }
        })
        .collect()
}

/// Connectors, pins, leads, each with V2 before V10, and pins by their number.
fn order(point: &Point) -> (u8, Vec<(String, u64)>, u64, String) {
    match point {
        Point::Connector { mark, pin } => (0, counted_parts(mark), u64::from(*pin), String::new()),
        Point::Pin {
            socket,
            pin,
            electrode,
        } => (
            1,
            counted_parts(socket),
            pin.map_or(0, u64::from),
            electrode.clone(),
        ),
        Point::Lead { unit, part, lead } => (
            2,
            counted_parts(&format!("{unit} {part}")),
            0,
            (*lead).to_owned(),
        ),
    }
}

/// A name as letters with the number behind them: `minus.N10` is `minus.N` and 10.
fn counted_parts(name: &str) -> Vec<(String, u64)> {
    let mut parts: Vec<(String, u64)> = vec![(String::new(), 0)];
    let mut in_number = false;
    for letter in name.chars() {
        match letter.to_digit(10) {
            Some(digit) => {
                in_number = true;
                if let Some((_, number)) = parts.last_mut() {
                    *number = number.saturating_mul(10).saturating_add(u64::from(digit));
                }
            }
            None => {
                if in_number {
                    parts.push((String::new(), 0));
                    in_number = false;
                }
                if let Some((letters, _)) = parts.last_mut() {
                    letters.push(letter);
                }
            }
        }
    }
    parts
}

fn key_name(design: &Design, key: Key) -> String {
    match key {
        Key::Net(net) => design.nets[net.0].name.clone(),
        Key::Inner(unit, node) => format!(
            "{}.{}",
            design.units[unit.0].name,
            design.circuit_of(unit).nodes[node].name
        ),
        Key::Joint(string, joint) => {
            format!("string {} joint {joint}", design.strings[string].name)
        }
    }
}

fn add_unit(design: &Design, id: UnitId, points: &mut BTreeMap<Key, Vec<Point>>) {
    let unit = &design.units[id.0];
    let circuit = design.circuit_of(id);
    let key = |node: usize| match circuit.nodes[node].kind {
        NodeKind::Signal(signal) => Key::Net(unit.nets[signal]),
        NodeKind::Ground => Key::Net(Design::GROUND),
        NodeKind::Rail(rail) => Key::Net(design.rails[rail.0].net),
        NodeKind::Inner => Key::Inner(id, node),
    };
    let mut tube = 0;
    for part in &circuit.parts {
        if matches!(part.kind, PartKind::Tube(_)) {
            for (node, point) in tube_points(design, id, part, tube) {
                points.entry(key(node)).or_default().push(point);
            }
            tube += 1;
            continue;
        }
        for (node, lead) in leads(part) {
            let point = Point::Lead {
                unit: unit.name.clone(),
                part: part.mark.clone(),
                lead,
            };
            points.entry(key(node)).or_default().push(point);
        }
    }
}

/// Everything of a unit that is soldered to one node of its circuit: pins of sockets, then leads of parts.
#[must_use]
pub fn points_at(design: &Design, id: UnitId, node: usize) -> Vec<Point> {
    let parts = &design.circuit_of(id).parts;
    let tubes = parts
        .iter()
        .filter(|part| matches!(part.kind, PartKind::Tube(_)));
    let pins = tubes
        .enumerate()
        .flat_map(|(tube, part)| tube_points(design, id, part, tube));
    let of_parts = parts.iter().flat_map(|part| {
        let leads = leads(part).into_iter();
        leads.map(|(node, lead)| {
            let point = Point::Lead {
                unit: design.units[id.0].name.clone(),
                part: part.mark.clone(),
                lead,
            };
            (node, point)
        })
    });
    let all = pins.chain(of_parts).filter(|(at, _)| *at == node);
    all.map(|(_, point)| point).collect()
}

fn leads(part: &Part) -> Vec<(usize, &'static str)> {
    match &part.kind {
        PartKind::Resistor { ends, .. }
        | PartKind::Capacitor { ends, .. }
        | PartKind::Inductor { ends, .. }
        | PartKind::Neon { ends, .. }
        | PartKind::Switch { ends, .. } => vec![(ends[0], "first"), (ends[1], "second")],
        PartKind::Trimmer { ends, slider, .. } => {
            vec![(ends[0], "first"), (ends[1], "second"), (*slider, "slider")]
        }
        PartKind::Diode { anode, cathode, .. } => vec![(*anode, "anode"), (*cathode, "cathode")],
        PartKind::Source { plus, minus, .. } => vec![(*plus, "plus"), (*minus, "minus")],
        PartKind::Tube(_) => Vec::new(),
    }
}

/// Nodes of a tube part with the socket pins that they go to; without a place the tube's own mark stands for a socket.
fn tube_points(design: &Design, id: UnitId, part: &Part, tube: usize) -> Vec<(usize, Point)> {
    let PartKind::Tube(info) = &part.kind else {
        return Vec::new();
    };
    let unit = &design.units[id.0];
    let place = unit.places.get(tube);
    let socket = place.map_or_else(
        || format!("{}.{}", unit.name, part.mark),
        |place| design.sockets[place.socket.0].mark.clone(),
    );
    let section = place.map_or(Section::A, |place| place.section);
    let electrodes = [
        (Electrode::Plate, "plate", Some(info.plate)),
        (Electrode::Grid, "grid", info.grid),
        (Electrode::Screen, "screen", info.screen),
        (Electrode::Suppressor, "suppressor", info.suppressor),
        (Electrode::Cathode, "cathode", Some(info.cathode)),
    ];
    let device = place.map_or(&info.device, |place| &design.sockets[place.socket.0].device);
    let mut points = Vec::new();
    for (electrode, name, node) in electrodes {
        let Some(node) = node else { continue };
        let electrode_name = if device.sections == 2 {
            format!("{name} {section:?}")
        } else {
            name.to_owned()
        };
        let pins = pins_of(design, id, tube, electrode, section);
        if pins.is_empty() {
            points.push((
                node,
                Point::Pin {
                    socket: socket.clone(),
                    pin: None,
                    electrode: electrode_name,
                },
            ));
            continue;
        }
        for pin in pins {
            points.push((
                node,
                Point::Pin {
                    socket: socket.clone(),
                    pin: Some(pin),
                    electrode: electrode_name.clone(),
                },
            ));
        }
    }
    points
}

fn pins_of(
    design: &Design,
    id: UnitId,
    tube: usize,
    electrode: Electrode,
    section: Section,
) -> Vec<u8> {
    let Some(place) = design.units[id.0].places.get(tube) else {
        return Vec::new();
    };
    let Some(base) = &design.sockets[place.socket.0].device.base else {
        return Vec::new();
    };
    base.pins
        .iter()
        .filter(|pin| pin.electrode == electrode && pin.section.is_none_or(|own| own == section))
        .map(|pin| pin.number)
        .collect()
}

/// Heater pins of one string, in order; joints between them are nets of their own. Only sockets of the board appear.
fn add_string(
    design: &Design,
    index: usize,
    sockets: &[SocketId],
    points: &mut BTreeMap<Key, Vec<Point>>,
) {
    let string = &design.strings[index];
    let terminal = |terminal: Terminal| match terminal {
        Terminal::Net(net) => Key::Net(net),
        Terminal::Inner(unit, node) => Key::Inner(unit, node),
    };
    let mut at = terminal(string.from);
    // A length of wire is what this list is made of.
    let is_wire = |link: &Link| matches!(link.branches[..], [Branch::Conductor { .. }]);
    let links: Vec<&Link> = string.links.iter().filter(|link| !is_wire(link)).collect();
    for (number, link) in links.iter().enumerate() {
        let next = if number + 1 == links.len() {
            terminal(string.to)
        } else {
            Key::Joint(index, number + 1)
        };
        for branch in &link.branches {
            let (first, second) = match branch {
                Branch::Heater { socket, tapped } if sockets.contains(socket) => {
                    heater_pins(design, *socket, *tapped)
                }
                Branch::Heater { .. } | Branch::Conductor { .. } => continue,
                Branch::Resistor { mark, .. }
                | Branch::Thermistor { mark, .. }
                | Branch::Ballast { mark, .. } => {
                    let lead = |lead| Point::Lead {
                        unit: format!("string {}", string.name),
                        part: mark.clone(),
                        lead,
                    };
                    (vec![lead("first")], vec![lead("second")])
                }
            };
            points.entry(at).or_default().extend(first);
            points.entry(next).or_default().extend(second);
        }
        at = next;
    }
}

/// Points of a heater's two sides: end and end, or both ends and the tap.
fn heater_pins(design: &Design, socket: SocketId, tapped: bool) -> (Vec<Point>, Vec<Point>) {
    let socket = &design.sockets[socket.0];
    let point = |pin: Option<u8>, name: &str| Point::Pin {
        socket: socket.mark.clone(),
        pin,
        electrode: name.to_owned(),
    };
    let Some(base) = &socket.device.base else {
        return (vec![point(None, "heater")], vec![point(None, "heater")]);
    };
    let numbers = |electrode: Electrode| {
        base.pins
            .iter()
            .filter(move |pin| pin.electrode == electrode)
            .map(|pin| Some(pin.number))
    };
    let ends: Vec<Option<u8>> = numbers(Electrode::Heater).collect();
    if tapped {
        let both = ends.iter().map(|&pin| point(pin, "heater")).collect();
        return (
            both,
            numbers(Electrode::HeaterTap)
                .map(|pin| point(pin, "heater tap"))
                .collect(),
        );
    }
    let side = |pin: Option<&Option<u8>>| vec![point(pin.copied().flatten(), "heater")];
    (side(ends.first()), side(ends.last()))
}

/// Whether a wire is a supply's.
#[must_use]
pub fn is_supply(design: &Design, wire: &Wire) -> bool {
    design
        .nets
        .iter()
        .any(|net| net.name == wire.net && !matches!(net.kind, NetKind::Signal))
}

#[cfg(test)]
mod tests {
    use super::{Point, order};

    /// On a list that is worked through with an iron in hand V2 stands before V10, and connectors before tubes.
    #[test]
    fn points_stand_in_the_order_of_their_numbers() {
        let pin = |socket: &str, pin| Point::Pin {
            socket: socket.to_owned(),
            pin: Some(pin),
            electrode: "plate".to_owned(),
        };
        let lead = |unit: &str| Point::Lead {
            unit: unit.to_owned(),
            part: "R1".to_owned(),
            lead: "first",
        };
        let sorted = vec![
            Point::Connector {
                mark: "J1".to_owned(),
                pin: 3,
            },
            pin("V2", 9),
            pin("V10", 1),
            pin("V10", 6),
            lead("minus.N2"),
            lead("minus.N10"),
        ];
        let mut mixed: Vec<Point> = sorted.iter().rev().cloned().collect();
        mixed.sort_by_cached_key(order);
        assert_eq!(mixed, sorted);
    }
}
