//! Tube sockets, and which unit takes which half of which tube.

use crate::marks::TubeMark;
use crate::model::{Circuit, Design, NetId, Place, Socket, SocketId, Terminal, Unit, UnitId};
use crate::problems::Problems;
use devices::types::{Section, TubeType};
use std::collections::HashMap;
use std::sync::Arc;
use text::diagnostic::Diagnostic;
use text::source::Span;

/// A half that is free next, when tubes are taken one after the other.
#[derive(Debug, Clone)]
pub(crate) struct Cursor {
    number: u32,
    section: Section,
    /// Type of the tube whose first half was taken last.
    begun: Option<Arc<TubeType>>,
}

impl Cursor {
    /// Begins at a tube, or at one half of it.
    pub(crate) fn new(mark: TubeMark) -> Self {
        Self {
            number: mark.number,
            section: mark.section.unwrap_or(Section::A),
            begun: None,
        }
    }
}

/// The next places for the tubes of a circuit: halves of one type share a tube, everything else begins a new one.
pub(crate) fn next_places(circuit: &Circuit, cursor: &mut Cursor) -> Vec<(u32, Section)> {
    circuit
        .tubes()
        .map(|(_, tube)| next_place(&tube.device, cursor))
        .collect()
}

fn next_place(device: &Arc<TubeType>, cursor: &mut Cursor) -> (u32, Section) {
    let shared = device.sections == 2
        && cursor
            .begun
            .as_ref()
            .is_none_or(|begun| begun.name == device.name);
    if cursor.section == Section::B && !shared {
        cursor.number = cursor.number.saturating_add(1);
        cursor.section = Section::A;
    }
    let place = (cursor.number, cursor.section);
    if device.sections == 2 && cursor.section == Section::A {
        cursor.section = Section::B;
        cursor.begun = Some(device.clone());
    } else {
        cursor.number = cursor.number.saturating_add(1);
        cursor.section = Section::A;
        cursor.begun = None;
    }
    place
}

/// The sockets so far.
#[derive(Debug, Default)]
pub(crate) struct Sockets {
    /// In the order in which they are first named.
    pub(crate) list: Vec<Socket>,
    by_number: HashMap<u32, SocketId>,
    /// Where each half was taken.
    taken: Vec<[Option<Span>; 2]>,
}

/// A tube part that wants a place.
pub(crate) struct Wish<'a> {
    /// Type of the tube.
    pub(crate) device: &'a Arc<TubeType>,
    /// Number of the tube, and the half.
    pub(crate) place: (u32, Section),
    /// The unit and the number of the tube part in its circuit.
    pub(crate) part: (UnitId, usize),
    /// Where the place is written.
    pub(crate) span: Span,
}

impl Sockets {
    /// The socket of a number.
    pub(crate) fn find(&self, number: u32) -> Option<SocketId> {
        self.by_number.get(&number).copied()
    }

    /// Gives a tube part its place; faults when another has it, or when another type stands in the socket.
    pub(crate) fn take(&mut self, wish: &Wish, problems: &mut Problems) -> Place {
        let (number, section) = wish.place;
        let id = self.find(number).unwrap_or_else(|| self.add(number, wish));
        let socket = &mut self.list[id.0];
        let half = section as usize;
        if socket.device.name != wish.device.name {
            let message = format!(
                "`{}` is a {} elsewhere and a {} here",
                socket.mark, socket.device.name, wish.device.name
            );
            let problem = Diagnostic::fault("two-types-in-one-socket", wish.span, message)
                .remedy("Choose another tube for one of them.");
            problems.push(problem.related(socket.span, format!("a {} here", socket.device.name)));
        } else if let Some(first) = self.taken[id.0][half] {
            let letter = match (wish.device.sections, section) {
                (1, _) => "",
                (_, Section::A) => "A",
                (_, Section::B) => "B",
            };
            let message = format!("`{}{letter}` is used by two units", socket.mark);
            let problem = Diagnostic::fault("half-used-twice", wish.span, message)
                .remedy("Choose another tube or half for one of them.");
            problems.push(problem.related(first, "first used here"));
        } else {
            socket.halves[half] = Some(wish.part);
            self.taken[id.0][half] = Some(wish.span);
        }
        Place {
            socket: id,
            section,
        }
    }

    fn add(&mut self, number: u32, wish: &Wish) -> SocketId {
        let id = SocketId(self.list.len());
        self.list.push(Socket {
            mark: format!("V{number}"),
            device: wish.device.clone(),
            halves: [None; 2],
            span: wish.span,
        });
        self.taken.push([None; 2]);
        self.by_number.insert(number, id);
        id
    }
}

/// Faults where the halves of a tube share one cathode and the circuit wants it at two different nets.
pub(crate) fn check_shared_cathodes(
    sockets: &Sockets,
    units: &[Unit],
    circuits: &[Circuit],
    problems: &mut Problems,
) {
    for (socket, taken) in sockets.list.iter().zip(&sockets.taken) {
        let ([Some(first), Some(second)], true) = (socket.halves, socket.device.common_cathode)
        else {
            continue;
        };
        if cathode(first, units, circuits) != cathode(second, units, circuits) {
            let name = |part: (UnitId, usize)| &units[part.0.0].name;
            let message = format!(
                "the halves of a {} share one cathode, and in `{}` that of `{}` and that of `{}` go to different nets",
                socket.device.name,
                socket.mark,
                name(first),
                name(second)
            );
            let span = taken[1].unwrap_or(socket.span);
            let problem = Diagnostic::fault("shared-cathode", span, message).remedy(
                "Use halves whose cathodes go to the same net, or a type with two cathodes.",
            );
            problems.push(problem.related(taken[0].unwrap_or(socket.span), "the other half"));
        }
    }
}

fn cathode(
    (unit, tube): (UnitId, usize),
    units: &[Unit],
    circuits: &[Circuit],
) -> Option<Terminal> {
    let placed = &units[unit.0];
    let circuit = &circuits[placed.circuit.0];
    let (_, part) = circuit.tubes().nth(tube)?;
    Some(terminal(unit, part.cathode, placed, circuit))
}

/// A node of a unit as a point of the machine.
pub(crate) fn terminal(id: UnitId, node: usize, unit: &Unit, circuit: &Circuit) -> Terminal {
    use crate::model::NodeKind;
    match circuit.nodes[node].kind {
        NodeKind::Signal(signal) => Terminal::Net(unit.nets[signal]),
        NodeKind::Ground => Terminal::Net(Design::GROUND),
        NodeKind::Rail(rail) => Terminal::Net(NetId(1 + rail.0)),
        NodeKind::Inner => Terminal::Inner(id, node),
    }
}
