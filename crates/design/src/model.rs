//! The design as the rest of the program sees it: names resolved, blocks opened, every unit and net known.

use crate::logic::Expression;
use devices::spread::{DiodeSpread, NeonSpread, TubeSpread};
use devices::thermistor::ThermistorLaw;
use devices::types::{DiodeType, NeonType, Section, TubeType};
use std::sync::Arc;
use text::source::Span;

/// Index into [`Design::nets`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct NetId(pub usize);
/// Index into [`Design::circuits`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct CircuitId(pub usize);
/// Index into [`Design::units`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct UnitId(pub usize);
/// Index into [`Design::rails`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct RailId(pub usize);
/// Index into [`Design::sockets`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct SocketId(pub usize);
/// Index into [`Design::blocks`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct BlockId(pub usize);

/// A whole machine, or the part of one that the user has typed so far.
#[derive(Debug, Clone, PartialEq)]
pub struct Design {
    /// Name of the machine; the folder's name when the text gives none.
    pub name: String,
    /// Rails, in the order of the text.
    pub rails: Vec<Rail>,
    /// Gate circuits.
    pub circuits: Vec<Circuit>,
    /// Blocks: units wired together and used again.
    pub blocks: Vec<Block>,
    /// Nets of the machine. The first is ground; the next are the rails in their order.
    pub nets: Vec<Net>,
    /// Every gate circuit in its place, blocks and arrays opened.
    pub units: Vec<Unit>,
    /// Every block in its place (also blocks inside blocks).
    pub placed_blocks: Vec<PlacedBlock>,
    /// Tube sockets.
    pub sockets: Vec<Socket>,
    /// Heater strings.
    pub strings: Vec<HeaterString>,
    /// Boards.
    pub boards: Vec<Board>,
    /// What stands in for the world outside the machine.
    pub bench: Bench,
    /// What stands in for the neighbours of a circuit judged alone, at most one per circuit.
    pub jigs: Vec<Jig>,
    /// The builder's own lots of tubes, at most one per type.
    pub lots: Vec<Lot>,
    /// Those of semiconductor diodes.
    pub diode_lots: Vec<Lot<DiodeSpread>>,
    /// Those of neon lamps.
    pub neon_lots: Vec<Lot<NeonSpread>>,
    /// Lowest and highest temperature of its semiconductor diodes, K; `None` where the text does not say.
    pub diode_kelvin: Option<(f64, f64)>,
}

/// A supply rail; ideal within its tolerance.
#[derive(Debug, Clone, PartialEq)]
pub struct Rail {
    /// Name.
    pub name: String,
    /// Nominal volts against ground.
    pub volts: f64,
    /// Relative tolerance (0.05 for 5 %).
    pub tolerance: f64,
    /// Whether it alternates: the volts are then rms, and nothing but heaters may hang on it.
    pub alternates: bool,
    /// The rail of direct volts that an alternating one stands on; ground where none is said.
    pub stands_on: Option<RailId>,
    /// Largest current it can give (or take), A.
    pub limit_amps: Option<f64>,
    /// Capacitors from it to ground, F all together.
    pub capacitor_farads: Option<f64>,
    /// Resistor that empties them, ohm.
    pub bleeder_ohms: Option<f64>,
    /// Its net.
    pub net: NetId,
    /// Where it is written.
    pub span: Span,
    /// The volts as written.
    pub volts_span: Span,
}

/// Signals of a circuit or block.
#[derive(Debug, Clone, PartialEq)]
pub struct Interface {
    /// Names: inputs first, then outputs.
    pub signals: Vec<String>,
    /// How many of them are inputs.
    pub inputs: usize,
}

impl Interface {
    /// Names of the outputs.
    #[must_use]
    pub fn outputs(&self) -> &[String] {
        &self.signals[self.inputs..]
    }
}

/// One sentence of what a circuit or block does: the output signal and its value.
#[derive(Debug, Clone, PartialEq)]
pub struct Says {
    /// Index of the output in [`Interface::signals`].
    pub output: usize,
    /// Its value; an output named here on the right is its own stored value.
    pub value: Expression,
    /// `when clock falls` / `when clock rises`: the value is taken over at that edge and stored until the next.
    pub edge: Option<Edge>,
    /// Where it is written.
    pub span: Span,
}

/// A change of a signal.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Edge {
    /// Index of the signal.
    pub signal: usize,
    /// True for down to up.
    pub rises: bool,
}

/// What a part of a circuit is there for: a lamp that shows a value, a coil that a value sends current through.
#[derive(Debug, Clone, PartialEq)]
pub struct Duty {
    /// Index into [`Circuit::parts`].
    pub part: usize,
    /// What is wanted of it.
    pub wanted: Wanted,
    /// When it is wanted; otherwise the lamp is out, the current off.
    pub value: Expression,
    /// Where it is written.
    pub span: Span,
}

/// What is wanted of a part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Wanted {
    /// A neon lamp or an indicator triode is lit.
    Lit,
    /// The current through it, whichever way, lies between these, A.
    Amps {
        /// Smallest; greater than 0.
        least: f64,
        /// Largest.
        most: f64,
    },
}

/// A gate circuit.
#[derive(Debug, Clone, PartialEq)]
pub struct Circuit {
    /// Name.
    pub name: String,
    /// Inputs and outputs. Node `i` of [`Circuit::nodes`] is signal `i` for every signal.
    pub interface: Interface,
    /// What it is said to do; empty for a circuit that says nothing.
    pub says: Vec<Says>,
    /// What its lamps and loads are there for.
    pub duties: Vec<Duty>,
    /// Its nodes: signals first, then rails and ground as used, then inner nets.
    pub nodes: Vec<Node>,
    /// Parts.
    pub parts: Vec<Part>,
    /// Where it is written (the heading).
    pub span: Span,
}

/// A node of a circuit.
#[derive(Debug, Clone, PartialEq)]
pub struct Node {
    /// Name as typed.
    pub name: String,
    /// What it is.
    pub kind: NodeKind,
    /// Where it is first named.
    pub span: Span,
}

/// What a node of a circuit is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NodeKind {
    /// An input or output, joined to a net of the machine where the unit stands.
    Signal(usize),
    /// Ground.
    Ground,
    /// A rail.
    Rail(RailId),
    /// Known only inside.
    Inner,
}

/// A part of a circuit.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// Mark after IEEE 315: `R1`, `V1`, `CR2`.
    pub mark: String,
    /// What it is, with its nodes as indices into [`Circuit::nodes`].
    pub kind: PartKind,
    /// Where it is written (its phrase).
    pub span: Span,
    /// Where its value or type is written.
    pub value_span: Span,
}

/// What a part is. Nodes are indices into [`Circuit::nodes`].
#[derive(Debug, Clone, PartialEq)]
pub enum PartKind {
    /// Resistor.
    Resistor {
        /// Ohm.
        ohms: f64,
        /// Relative tolerance.
        tolerance: f64,
        /// How far it may have risen with age above what it is marked, as a share of that (carbon composition); 0 when
        /// not stated.
        drift: f64,
        /// How far from its marking either way no such resistor stands, because closer ones were picked out of the lot, a
        /// share less than the tolerance; 0 where the band is even, `None` when not stated.
        hollow: Option<f64>,
        /// Rated W; `None` when not stated.
        watts: Option<f64>,
        /// Ends.
        ends: [usize; 2],
    },
    /// Trimmer: a resistor with a sliding contact.
    Trimmer {
        /// Ohm, end to end.
        ohms: f64,
        /// Relative tolerance.
        tolerance: f64,
        /// Rated W.
        watts: Option<f64>,
        /// Share of the track between the first end and the slider, 0 to 1.
        setting: f64,
        /// Ends.
        ends: [usize; 2],
        /// Sliding contact.
        slider: usize,
    },
    /// Capacitor.
    Capacitor {
        /// Farad.
        farads: f64,
        /// Relative tolerance.
        tolerance: f64,
        /// Rated volts.
        volts: Option<f64>,
        /// Ends.
        ends: [usize; 2],
    },
    /// Inductor; its winding resistance is part of it.
    Inductor {
        /// Henry.
        henries: f64,
        /// Winding resistance, ohm (0 when not stated).
        ohms: f64,
        /// Ends.
        ends: [usize; 2],
    },
    /// Semiconductor diode.
    Diode {
        /// Type.
        device: Arc<DiodeType>,
        /// Anode.
        anode: usize,
        /// Cathode.
        cathode: usize,
    },
    /// Neon lamp.
    Neon {
        /// Type.
        device: Arc<NeonType>,
        /// Ends.
        ends: [usize; 2],
    },
    /// Switch, as it stands.
    Switch {
        /// Closed.
        closed: bool,
        /// Ends.
        ends: [usize; 2],
    },
    /// Ideal source.
    Source {
        /// Volts of plus over minus.
        volts: f64,
        /// Plus.
        plus: usize,
        /// Minus.
        minus: usize,
    },
    /// A tube, or one half of a twin.
    Tube(TubePart),
}

/// A tube or half of one in a circuit.
#[derive(Debug, Clone, PartialEq)]
pub struct TubePart {
    /// Type.
    pub device: Arc<TubeType>,
    /// Plate.
    pub plate: usize,
    /// Control grid (none in a diode).
    pub grid: Option<usize>,
    /// Screen.
    pub screen: Option<usize>,
    /// Suppressor; `None` when tied to the cathode inside the tube.
    pub suppressor: Option<usize>,
    /// Cathode; for a directly heated filament its negative end.
    pub cathode: usize,
}

/// Units wired together under a name.
#[derive(Debug, Clone, PartialEq)]
pub struct Block {
    /// Name.
    pub name: String,
    /// Inputs and outputs.
    pub interface: Interface,
    /// What it is said to do.
    pub says: Vec<Says>,
    /// Where it is written.
    pub span: Span,
}

/// A net of the machine.
#[derive(Debug, Clone, PartialEq)]
pub struct Net {
    /// Name, such as `differ`, `gauge.2`, `borrow.n1` (inside a placed block).
    pub name: String,
    /// What it is.
    pub kind: NetKind,
    /// Where it is first named.
    pub span: Span,
    /// Marked `open`: meant to drive nothing.
    pub open: bool,
}

/// What a net is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NetKind {
    /// Ground.
    Ground,
    /// A rail.
    Rail(RailId),
    /// Anything else.
    Signal,
}

/// A gate circuit in its place.
#[derive(Debug, Clone, PartialEq)]
pub struct Unit {
    /// Name: `G14`, `last.2.hold`.
    pub name: String,
    /// Which circuit.
    pub circuit: CircuitId,
    /// Net of each signal of the circuit's interface, in its order.
    pub nets: Vec<NetId>,
    /// Place of each tube part, in the order of the circuit's parts that are tubes; empty when the text gives no places.
    pub places: Vec<Place>,
    /// The placed block it belongs to.
    pub within: Option<usize>,
    /// Where it is written.
    pub span: Span,
}

/// Socket and half.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Place {
    /// Socket.
    pub socket: SocketId,
    /// Half.
    pub section: Section,
}

/// A block in its place.
#[derive(Debug, Clone, PartialEq)]
pub struct PlacedBlock {
    /// Name: `borrow`, `last.2`.
    pub name: String,
    /// Which block.
    pub block: BlockId,
    /// Net of each signal of its interface.
    pub nets: Vec<NetId>,
    /// All units in it, also of blocks inside it.
    pub units: Vec<UnitId>,
    /// Where it is written.
    pub span: Span,
}

/// A tube socket with the tube in it.
#[derive(Debug, Clone, PartialEq)]
pub struct Socket {
    /// Mark of the tube, `V7`.
    pub mark: String,
    /// Type of the tube.
    pub device: Arc<TubeType>,
    /// Which tube part of which unit uses each half: (unit, index among the tube parts of its circuit).
    pub halves: [Option<(UnitId, usize)>; 2],
    /// Where it is first named.
    pub span: Span,
}

/// Heaters in physical order between two nets.
#[derive(Debug, Clone, PartialEq)]
pub struct HeaterString {
    /// Name.
    pub name: String,
    /// Where it begins: usually a rail.
    pub from: Terminal,
    /// Where the beginning is written.
    pub from_span: Span,
    /// What follows, in order.
    pub links: Vec<Link>,
    /// Where it ends: ground or the supply's other side, if all is well.
    pub to: Terminal,
    /// Where the end is written.
    pub to_span: Span,
    /// Where it is written.
    pub span: Span,
}

impl HeaterString {
    /// Its heaters in order, each with whether it is wired for its tapped volts, and where it is written.
    pub fn heaters(&self) -> impl Iterator<Item = (SocketId, bool, Span)> + '_ {
        self.links.iter().flat_map(|link| {
            link.branches.iter().filter_map(|branch| match branch {
                Branch::Heater { socket, tapped } => Some((*socket, *tapped, link.span)),
                _ => None,
            })
        })
    }
}

/// A point of the machine that a wire can go to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Terminal {
    /// A net.
    Net(NetId),
    /// An inner node of a unit (index into its circuit's nodes), typed `G3.k`.
    Inner(UnitId, usize),
}

/// What stands between two joints of a heater string: one part, or several side by side.
#[derive(Debug, Clone, PartialEq)]
pub struct Link {
    /// At least one.
    pub branches: Vec<Branch>,
    /// Where it is written.
    pub span: Span,
}

/// One part of a heater string.
#[derive(Debug, Clone, PartialEq)]
pub enum Branch {
    /// The heater of a tube, end pin to end pin.
    Heater {
        /// Which tube.
        socket: SocketId,
        /// Wired for its tapped (lower) voltage: both end pins together against the tap.
        tapped: bool,
    },
    /// A dropping resistor, or beside a heater a shunt.
    Resistor {
        /// Mark.
        mark: String,
        /// Ohm.
        ohms: f64,
        /// Relative tolerance.
        tolerance: f64,
        /// Rated W.
        watts: Option<f64>,
    },
    /// A thermistor, which holds the current back while it is cold; stands alone in its place.
    Thermistor {
        /// Mark.
        mark: String,
        /// What it does.
        law: ThermistorLaw,
        /// The resistance that it was said to come to, ohm, with the current below.
        hot_ohms: f64,
        /// A.
        amps: f64,
        /// Relative tolerance of its resistance.
        tolerance: f64,
    },
    /// A ballast tube, which holds the current; stands alone in its place.
    Ballast {
        /// Mark.
        mark: String,
        /// The current that it holds, A.
        amps: f64,
        /// Volts across it between which it holds.
        volts: (f64, f64),
        /// Relative tolerance of the current.
        tolerance: f64,
    },
    /// A length of wire or of copper on a board; stands alone in its place.
    Conductor {
        /// Copper of a board, not a round wire.
        on_board: bool,
        /// Length, m.
        metres: f64,
        /// Section, m2.
        square_metres: f64,
    },
}

/// A board.
#[derive(Debug, Clone, PartialEq)]
pub struct Board {
    /// Name.
    pub name: String,
    /// Width and height in mm.
    pub size_mm: Option<(f64, f64)>,
    /// Units it carries.
    pub units: Vec<UnitId>,
    /// Connectors.
    pub connectors: Vec<Connector>,
    /// Where it is written.
    pub span: Span,
}

/// A connector of a board.
#[derive(Debug, Clone, PartialEq)]
pub struct Connector {
    /// Mark, `J1`.
    pub mark: String,
    /// Pin number and net.
    pub pins: Vec<(u32, NetId)>,
    /// Where it is written.
    pub span: Span,
}

/// What stands in for the world outside the machine.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Bench {
    /// Nets fed from switches.
    pub switches: Vec<BenchSwitch>,
    /// Resistors hung on nets: loads and pull-ups.
    pub loads: Vec<BenchLoad>,
    /// Input resistance of the meter, ohm.
    pub meter_ohms: Option<f64>,
}

/// A two-way switch that feeds a net.
#[derive(Debug, Clone, PartialEq)]
pub struct BenchSwitch {
    /// The net.
    pub net: NetId,
    /// The rail or ground it gives when down.
    pub down: NetId,
    /// The rail or ground it gives when up.
    pub up: NetId,
    /// Resistance in the way, ohm (0 allowed).
    pub through_ohms: f64,
    /// Its relative tolerance; 0 when not stated.
    pub tolerance: f64,
    /// How far from its marking either way no such resistor stands, as in [`PartKind::Resistor`].
    pub hollow: Option<f64>,
    /// Where it is written.
    pub span: Span,
}

/// A resistor from a net to a rail or ground.
#[derive(Debug, Clone, PartialEq)]
pub struct BenchLoad {
    /// The net.
    pub net: NetId,
    /// Ohm.
    pub ohms: f64,
    /// Relative tolerance; 0 when not stated.
    pub tolerance: f64,
    /// How far from its marking either way no such resistor stands, as in [`PartKind::Resistor`].
    pub hollow: Option<f64>,
    /// Rail or ground.
    pub to: NetId,
    /// Where it is written.
    pub span: Span,
}

/// What stands in for the neighbours of a circuit judged alone.
#[derive(Debug, Clone, PartialEq)]
pub struct Jig {
    /// The circuit.
    pub circuit: CircuitId,
    /// Which circuit drives each input (`None`: a copy of the circuit itself if it inverts, else swept only).
    pub drivers: Vec<(usize, JigDriver)>,
    /// What each output drives: signal index, circuit, how many inputs of such circuits.
    pub loads: Vec<(usize, CircuitId, usize)>,
    /// Resistors on outputs.
    pub resistors: Vec<JigResistor>,
    /// Where it is written.
    pub span: Span,
}

/// A resistor of a jig from an output to a rail or ground.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct JigResistor {
    /// Index of the signal.
    pub signal: usize,
    /// Ohm.
    pub ohms: f64,
    /// Relative tolerance; 0 when not stated.
    pub tolerance: f64,
    /// How far from its marking either way no such resistor stands, as in [`PartKind::Resistor`].
    pub hollow: Option<f64>,
    /// Rail or ground.
    pub to: NetId,
}

/// The builder's own lot of parts of one type, as measured: of tubes, diodes or lamps.
#[derive(Debug, Clone, PartialEq)]
pub struct Lot<S = TubeSpread> {
    /// Name of the type, as the type itself writes it.
    pub device: String,
    /// How far its parts are from the book; what is not known of them is as the type has it.
    pub spread: S,
    /// Where it is written.
    pub span: Span,
}

/// What drives an input in a jig.
#[derive(Debug, Clone, PartialEq)]
pub enum JigDriver {
    /// The first output of a circuit.
    Circuit(CircuitId),
    /// A switch.
    Switch {
        /// Rail or ground when down.
        down: NetId,
        /// Rail or ground when up.
        up: NetId,
        /// Ohm in the way.
        through_ohms: f64,
        /// Its relative tolerance; 0 when not stated.
        tolerance: f64,
        /// How far from its marking either way no such resistor stands, as in [`PartKind::Resistor`].
        hollow: Option<f64>,
    },
}

impl Design {
    /// Ground.
    pub const GROUND: NetId = NetId(0);

    /// The circuit of a unit.
    #[must_use]
    pub fn circuit_of(&self, unit: UnitId) -> &Circuit {
        &self.circuits[self.units[unit.0].circuit.0]
    }

    /// How far tubes of a type may be from the book: as the builder's lot has it, and where that says nothing as the type.
    #[must_use]
    pub fn tube_spread(&self, device: &TubeType) -> TubeSpread {
        let lot = self.lots.iter().find(|lot| lot.device == device.name);
        lot.map_or_else(
            || device.spread.clone(),
            |lot| lot.spread.over(&device.spread),
        )
    }

    /// The same of semiconductor diodes.
    #[must_use]
    pub fn diode_spread(&self, device: &DiodeType) -> DiodeSpread {
        let lot = self.diode_lots.iter().find(|lot| lot.device == device.name);
        lot.map_or_else(
            || device.spread.clone(),
            |lot| lot.spread.over(&device.spread),
        )
    }

    /// The same of neon lamps.
    #[must_use]
    pub fn neon_spread(&self, device: &NeonType) -> NeonSpread {
        let lot = self.neon_lots.iter().find(|lot| lot.device == device.name);
        lot.map_or_else(
            || device.spread.clone(),
            |lot| lot.spread.over(&device.spread),
        )
    }

    /// The board that carries each unit, as an index into the boards.
    #[must_use]
    pub fn boards_of_units(&self) -> Vec<Option<usize>> {
        let mut boards = vec![None; self.units.len()];
        for (board, carried) in self.boards.iter().enumerate() {
            for unit in &carried.units {
                boards[unit.0] = Some(board);
            }
        }
        boards
    }

    /// Units with an output on each net, indexed by net.
    #[must_use]
    pub fn drivers(&self) -> Vec<Vec<(UnitId, usize)>> {
        self.pins(|circuit, signal| signal >= circuit.interface.inputs)
    }

    /// Units with an input on each net, indexed by net: unit and signal index.
    #[must_use]
    pub fn loads(&self) -> Vec<Vec<(UnitId, usize)>> {
        self.pins(|circuit, signal| signal < circuit.interface.inputs)
    }

    fn pins(&self, wanted: impl Fn(&Circuit, usize) -> bool) -> Vec<Vec<(UnitId, usize)>> {
        let mut pins = vec![Vec::new(); self.nets.len()];
        for (index, unit) in self.units.iter().enumerate() {
            for (signal, net) in unit.nets.iter().enumerate() {
                if wanted(&self.circuits[unit.circuit.0], signal) {
                    pins[net.0].push((UnitId(index), signal));
                }
            }
        }
        pins
    }
}

impl Circuit {
    /// Its tube parts, in order, with their index among all parts.
    pub fn tubes(&self) -> impl Iterator<Item = (usize, &TubePart)> {
        self.parts
            .iter()
            .enumerate()
            .filter_map(|(index, part)| match &part.kind {
                PartKind::Tube(tube) => Some((index, tube)),
                _ => None,
            })
    }
}
