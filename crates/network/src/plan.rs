//! Gate circuits and the nets between them: the machine itself, or a bench set-up for one circuit judged alone.
//!
//! Both are judged by the same code. A plan for a circuit alone is a small machine made up around it: something to
//! drive each input, something for each output to drive.

use crate::heaters::supplies::{rail_of, supply_of};
use crate::rows::stores;
use crate::surroundings::Copies;
use design::model::{
    Bench, BenchLoad, BenchSwitch, Branch, CircuitId, Design, JigDriver, JigResistor, NetId,
    NetKind, NodeKind, PartKind, RailId, SocketId, UnitId,
};
use std::collections::{BTreeMap, BTreeSet};

/// Index into [`Plan::nets`].
pub type NetIndex = usize;
/// Index into [`Plan::members`].
pub type MemberIndex = usize;

/// A net of a plan.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanNet {
    /// Name for messages.
    pub name: String,
    /// What it is.
    pub kind: NetKind,
    /// The net of the machine, where it is one.
    pub net: Option<NetId>,
}

/// A gate circuit in a plan.
#[derive(Debug, Clone, PartialEq)]
pub struct Member {
    /// Name for messages.
    pub name: String,
    /// Its circuit.
    pub circuit: CircuitId,
    /// The unit of the machine, where it is one.
    pub unit: Option<UnitId>,
    /// Net of each signal.
    pub nets: Vec<NetIndex>,
}

/// A switch of the bench that feeds a net.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanSwitch {
    /// Rail or ground when down.
    pub down: NetIndex,
    /// Rail or ground when up.
    pub up: NetIndex,
    /// Ohm in the way.
    pub through_ohms: f64,
    /// Its relative tolerance.
    pub tolerance: f64,
    /// How far from its marking either way no such resistor stands, a share; `None` where nothing is said.
    pub hollow: Option<f64>,
}

/// A resistor of the bench from a net to a rail or ground.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanLoad {
    /// Ohm.
    pub ohms: f64,
    /// Relative tolerance.
    pub tolerance: f64,
    /// How far from its marking either way no such resistor stands, a share; `None` where nothing is said.
    pub hollow: Option<f64>,
    /// Rail or ground.
    pub to: NetIndex,
}

/// Members and nets. The first nets are ground and the rails, as in [`Design::nets`].
#[derive(Debug, Clone)]
pub struct Plan<'a> {
    /// The design that the circuits belong to.
    pub design: &'a Design,
    /// Nets.
    pub nets: Vec<PlanNet>,
    /// Gate circuits.
    pub members: Vec<Member>,
    /// Switches that feed nets, by net.
    pub switches: BTreeMap<NetIndex, PlanSwitch>,
    /// Resistors on nets, by net.
    pub resistors: BTreeMap<NetIndex, Vec<PlanLoad>>,
    /// Members with an output on each net: member and signal.
    pub drivers: Vec<Vec<(MemberIndex, usize)>>,
    /// Members with an input on each net: member and signal.
    pub loads: Vec<Vec<(MemberIndex, usize)>>,
    /// For each circuit of the design whether it stores within itself.
    pub stores: Vec<bool>,
    /// Mean volts of filaments against ground where a heater string tells them, by member and by its number among the tubes
    /// of the member's circuit.
    pub filaments: BTreeMap<(MemberIndex, usize), f64>,
    /// Tubes that are cold and carry nothing, called the same way.
    pub cold: BTreeSet<(MemberIndex, usize)>,
    /// Volts by which every warm tube conducts later than usual, because its cathode is less hot; negative where it is hotter.
    pub less_heat_volts: f64,
    /// Sockets of twins of which it is known how far their halves differ, called the same way.
    pub twins: BTreeMap<(MemberIndex, usize), SocketId>,
    /// Tubes whose heater goes with the volts of a rail that has a tolerance, called the same way.
    pub heated: BTreeMap<(MemberIndex, usize), RailId>,
}

/// Two halves of one tube that stand in the same scene: of each the place of its member among the scene's, and its number
/// among the tubes of the member's circuit.
pub type Pair = [(usize, usize); 2];

/// What a circuit alone is given to drive.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FanOut {
    /// What its jig says of each output; one copy of itself where it says nothing.
    AsJig,
    /// So many first inputs of what its jig names (of copies of itself where there is none), and no resistors.
    Exactly(usize),
}

impl<'a> Plan<'a> {
    /// The machine itself.
    #[must_use]
    pub fn machine(design: &'a Design) -> Self {
        let nets = design
            .nets
            .iter()
            .enumerate()
            .map(|(index, net)| PlanNet {
                name: net.name.clone(),
                kind: net.kind,
                net: Some(NetId(index)),
            })
            .collect();
        let members = design
            .units
            .iter()
            .enumerate()
            .map(|(index, unit)| Member {
                name: unit.name.clone(),
                circuit: unit.circuit,
                unit: Some(UnitId(index)),
                nets: unit.nets.iter().map(|net| net.0).collect(),
            })
            .collect();
        let Bench {
            switches, loads, ..
        } = &design.bench;
        let switches = switches
            .iter()
            .map(
                |BenchSwitch {
                     net,
                     down,
                     up,
                     through_ohms,
                     tolerance,
                     hollow,
                     ..
                 }| {
                    let (down, up) = (down.0, up.0);
                    let (through_ohms, tolerance) = (*through_ohms, *tolerance);
                    (
                        net.0,
                        PlanSwitch {
                            down,
                            up,
                            through_ohms,
                            tolerance,
                            hollow: *hollow,
                        },
                    )
                },
            )
            .collect();
        let mut resistors: BTreeMap<NetIndex, Vec<PlanLoad>> = BTreeMap::new();
        for BenchLoad {
            net,
            ohms,
            tolerance,
            hollow,
            to,
            ..
        } in loads
        {
            let load = PlanLoad {
                ohms: *ohms,
                tolerance: *tolerance,
                hollow: *hollow,
                to: to.0,
            };
            resistors.entry(net.0).or_default().push(load);
        }
        Self {
            design,
            nets,
            members,
            switches,
            resistors,
            drivers: Vec::new(),
            loads: Vec::new(),
            stores: Vec::new(),
            filaments: BTreeMap::new(),
            cold: BTreeSet::new(),
            less_heat_volts: 0.0,
            twins: twins(design),
            heated: heated(design),
        }
        .joined()
    }

    /// The same with all its cathodes less hot.
    #[must_use]
    pub fn with_less_heat(self, less_heat_volts: f64) -> Self {
        Self {
            less_heat_volts,
            ..self
        }
    }

    /// The same with the filaments of its tubes where their strings put them.
    #[must_use]
    pub fn with_filaments(self, filaments: BTreeMap<(MemberIndex, usize), f64>) -> Self {
        Self { filaments, ..self }
    }

    /// The same with these of its tubes cold.
    #[must_use]
    pub fn with_cold(self, cold: BTreeSet<(MemberIndex, usize)>) -> Self {
        Self { cold, ..self }
    }

    /// A circuit alone (member 0) with a driver on each input and loads on its outputs.
    #[must_use]
    pub fn alone(design: &'a Design, circuit: CircuitId, fan_out: FanOut) -> Self {
        let mut plan = Self {
            design,
            nets: design
                .nets
                .iter()
                .take(1 + design.rails.len())
                .enumerate()
                .map(|(index, net)| PlanNet {
                    name: net.name.clone(),
                    kind: net.kind,
                    net: Some(NetId(index)),
                })
                .collect(),
            members: Vec::new(),
            switches: BTreeMap::new(),
            resistors: BTreeMap::new(),
            drivers: Vec::new(),
            loads: Vec::new(),
            stores: Vec::new(),
            filaments: BTreeMap::new(),
            cold: BTreeSet::new(),
            less_heat_volts: 0.0,
            twins: BTreeMap::new(),
            heated: BTreeMap::new(),
        };
        let subject = &design.circuits[circuit.0];
        let nets = subject
            .interface
            .signals
            .iter()
            .map(|signal| plan.add_net(signal.clone()))
            .collect();
        plan.members.push(Member {
            name: subject.name.clone(),
            circuit,
            unit: None,
            nets,
        });
        for input in 0..subject.interface.inputs {
            plan.add_driver(circuit, input);
        }
        plan.add_loads(circuit, fan_out);
        plan.joined()
    }

    fn add_net(&mut self, name: String) -> NetIndex {
        self.nets.push(PlanNet {
            name,
            kind: NetKind::Signal,
            net: None,
        });
        self.nets.len() - 1
    }

    fn add_driver(&mut self, circuit: CircuitId, input: usize) {
        let net = self.members[0].nets[input];
        match driver_of(self.design, circuit, input) {
            Some(JigDriver::Circuit(driver)) => {
                let name = format!("driver of {}", self.nets[net].name);
                let first_output = self.design.circuits[driver.0].interface.inputs;
                self.add_neighbour(name, driver, first_output, net);
            }
            Some(JigDriver::Switch {
                down,
                up,
                through_ohms,
                tolerance,
                hollow,
            }) => {
                let switch = PlanSwitch {
                    down: down.0,
                    up: up.0,
                    through_ohms,
                    tolerance,
                    hollow,
                };
                self.switches.insert(net, switch);
            }
            None => {}
        }
    }

    fn add_loads(&mut self, circuit: CircuitId, fan_out: FanOut) {
        let interface = &self.design.circuits[circuit.0].interface;
        let jig = self.design.jigs.iter().find(|jig| jig.circuit == circuit);
        for signal in interface.inputs..interface.signals.len() {
            let net = self.members[0].nets[signal];
            let named: Vec<(CircuitId, usize)> = jig
                .map(|jig| {
                    jig.loads
                        .iter()
                        .filter(|load| load.0 == signal)
                        .map(|load| (load.1, load.2))
                        .collect()
                })
                .unwrap_or_default();
            // A jig that puts just resistors on an output says that no gate hangs there.
            let resistors_only = fan_out == FanOut::AsJig
                && jig.is_some_and(|jig| jig.resistors.iter().any(|load| load.signal == signal));
            let named = if named.is_empty() && !resistors_only {
                default_loads(self.design, circuit, signal, jig.is_some())
            } else {
                named
            };
            let named = match fan_out {
                FanOut::AsJig => named,
                FanOut::Exactly(count) => named
                    .first()
                    .map(|load| (load.0, count))
                    .into_iter()
                    .collect(),
            };
            let mut number = 0;
            for (load, count) in named {
                for _ in 0..count {
                    number += 1;
                    self.add_neighbour(
                        format!("load {number} of {}", self.nets[net].name),
                        load,
                        0,
                        net,
                    );
                }
            }
            let resistors = jig.map(|jig| jig.resistors.as_slice()).unwrap_or_default();
            if fan_out == FanOut::AsJig {
                for &JigResistor {
                    ohms,
                    tolerance,
                    hollow,
                    to,
                    ..
                } in resistors.iter().filter(|load| load.signal == signal)
                {
                    let load = PlanLoad {
                        ohms,
                        tolerance,
                        hollow,
                        to: to.0,
                    };
                    self.resistors.entry(net).or_default().push(load);
                }
            }
        }
    }

    /// A neighbour whose `signal` is on `net` and whose other signals are on nets of their own.
    fn add_neighbour(&mut self, name: String, circuit: CircuitId, signal: usize, net: NetIndex) {
        let signals = self.design.circuits[circuit.0].interface.signals.clone();
        let nets = signals
            .into_iter()
            .enumerate()
            .map(|(index, own)| {
                if index == signal {
                    net
                } else {
                    self.add_net(format!("{own} of {name}"))
                }
            })
            .collect();
        self.members.push(Member {
            name,
            circuit,
            unit: None,
            nets,
        });
    }

    /// Fills the lists of drivers, loads and circuits that store.
    fn joined(mut self) -> Self {
        self.stores = self.design.circuits.iter().map(stores).collect();
        self.drivers = vec![Vec::new(); self.nets.len()];
        self.loads = vec![Vec::new(); self.nets.len()];
        for (index, member) in self.members.iter().enumerate() {
            let inputs = self.design.circuits[member.circuit.0].interface.inputs;
            for (signal, &net) in member.nets.iter().enumerate() {
                let list = if signal < inputs {
                    &mut self.loads
                } else {
                    &mut self.drivers
                };
                list[net].push((index, signal));
            }
        }
        self
    }

    /// The nets at the inputs of a member, but for supplies.
    #[must_use]
    pub fn inputs_of(&self, member: MemberIndex) -> Vec<NetIndex> {
        let inputs = self.circuit(member).interface.inputs;
        let nets = self.members[member].nets[..inputs].iter().copied();
        nets.filter(|net| !self.is_supply(*net)).collect()
    }

    /// The halves of one tube that stand together in a scene of these members, where it is known how far they differ. A member
    /// that stands for several has no half of its own.
    #[must_use]
    pub fn pairs(&self, members: &[Copies]) -> Vec<Pair> {
        let mut first: BTreeMap<SocketId, (usize, usize)> = BTreeMap::new();
        let mut pairs = Vec::new();
        if self.twins.is_empty() {
            return pairs;
        }
        for (place, copies) in members.iter().enumerate() {
            if copies.count != 1 {
                continue;
            }
            let own = self.twins.range((copies.member, 0)..(copies.member + 1, 0));
            for (&(_, tube), &socket) in own {
                if let Some(other) = first.insert(socket, (place, tube)) {
                    pairs.push([other, (place, tube)]);
                }
            }
        }
        pairs
    }

    /// The circuit of a member.
    #[must_use]
    pub fn circuit(&self, member: MemberIndex) -> &'a design::model::Circuit {
        &self.design.circuits[self.members[member].circuit.0]
    }

    /// What a part or a signal of a member is called: `G1.R2`; of what stands round a circuit alone `R2 of load 1 of y`.
    #[must_use]
    pub fn name_of(&self, member: MemberIndex, own: &str) -> String {
        let name = &self.members[member].name;
        if self.members[member].unit.is_none() && member != 0 {
            format!("{own} of {name}")
        } else {
            format!("{name}.{own}")
        }
    }

    /// Whether a member stores within itself.
    #[must_use]
    pub fn stores(&self, member: MemberIndex) -> bool {
        self.stores[self.members[member].circuit.0]
    }

    /// Whether a member has no tube, so that what hangs on its outputs loads what drives it.
    #[must_use]
    pub fn is_passive(&self, member: MemberIndex) -> bool {
        let parts = &self.circuit(member).parts;
        !parts
            .iter()
            .any(|part| matches!(part.kind, PartKind::Tube(_)))
    }

    /// Whether a net is a rail or ground.
    #[must_use]
    pub fn is_supply(&self, net: NetIndex) -> bool {
        !matches!(self.nets[net].kind, NetKind::Signal)
    }

    /// Nominal volts of a rail or ground net.
    #[must_use]
    pub fn supply_volts(&self, net: NetIndex) -> f64 {
        self.supply_volts_with(net, |rail| self.design.rails[rail.0].volts)
    }

    /// Volts of a rail or ground net where the rails stand as `volts` says.
    #[must_use]
    pub fn supply_volts_with(&self, net: NetIndex, volts: impl Fn(RailId) -> f64) -> f64 {
        match self.nets[net].kind {
            NetKind::Rail(rail) => volts(rail),
            NetKind::Ground | NetKind::Signal => 0.0,
        }
    }

    /// For each rail whether anything but heaters hangs on it: a part or a signal of a unit, a switch or a resistor of the bench.
    #[must_use]
    pub fn feeding_rails(&self) -> Vec<bool> {
        let design = self.design;
        let mut feeds = vec![false; design.rails.len()];
        let units = self.members.iter().map(|member| member.circuit);
        for circuit in units.collect::<BTreeSet<_>>() {
            for node in &design.circuits[circuit.0].nodes {
                if let NodeKind::Rail(rail) = node.kind {
                    feeds[rail.0] = true;
                }
            }
        }
        let switches = self.switches.values();
        let ends = switches.flat_map(|switch| [switch.down, switch.up]);
        let loads = self.resistors.values().flatten().map(|load| load.to);
        let signals = self
            .members
            .iter()
            .flat_map(|member| member.nets.iter().copied());
        let nets: BTreeSet<NetIndex> = ends.chain(loads).chain(signals).collect();
        for (rail, feeds) in design.rails.iter().zip(&mut feeds) {
            *feeds |= nets.contains(&rail.net.0);
        }
        feeds
    }
}

/// Sockets of tubes whose halves differ by no more than is known, by unit and number among the tubes of its circuit.
fn twins(design: &Design) -> BTreeMap<(MemberIndex, usize), SocketId> {
    let mut twins = BTreeMap::new();
    for (index, socket) in design.sockets.iter().enumerate() {
        if design.tube_spread(&socket.device).halves.is_some() {
            for (unit, tube) in socket.halves.iter().flatten() {
                twins.insert((unit.0, *tube), SocketId(index));
            }
        }
    }
    twins
}

/// Tubes in strings between two supplies of which the one that keeps their volts has a tolerance. A ballast tube keeps the
/// current, so behind one the rail does not tell.
fn heated(design: &Design) -> BTreeMap<(MemberIndex, usize), RailId> {
    let mut heated = BTreeMap::new();
    for string in &design.strings {
        let mut branches = string.links.iter().flat_map(|link| &link.branches);
        if branches.any(|branch| matches!(branch, Branch::Ballast { .. })) {
            continue;
        }
        let rail = supply_of(design, string).and_then(|[_, far]| rail_of(design, far));
        let Some(rail) = rail.filter(|rail| 0.0 < design.rails[rail.0].tolerance) else {
            continue;
        };
        for (socket, ..) in string.heaters() {
            let halves = design.sockets[socket.0].halves.iter().flatten();
            heated.extend(halves.map(|(unit, tube)| ((unit.0, *tube), rail)));
        }
    }
    heated
}

/// What drives an input of a circuit judged alone: its jig's word; else the circuit that drives this input where the
/// circuit first stands in the machine; else a copy of itself, if its output depends on its inputs the other way
/// round (it then restores levels); else nothing is known.
#[must_use]
pub fn driver_of(design: &Design, circuit: CircuitId, input: usize) -> Option<JigDriver> {
    let jig = design.jigs.iter().find(|jig| jig.circuit == circuit);
    if let Some((_, driver)) =
        jig.and_then(|jig| jig.drivers.iter().find(|driver| driver.0 == input))
    {
        return Some(driver.clone());
    }
    let inverts = inverts(design, circuit);
    if inverts {
        return Some(JigDriver::Circuit(circuit));
    }
    let net = design
        .units
        .iter()
        .find(|unit| unit.circuit == circuit)?
        .nets[input];
    let driver = design.units.iter().find(|unit| {
        let inputs = design.circuits[unit.circuit.0].interface.inputs;
        unit.circuit != circuit && unit.nets[inputs..].contains(&net)
    });
    match driver {
        Some(unit) => Some(JigDriver::Circuit(unit.circuit)),
        None => design
            .bench
            .switches
            .iter()
            .find(|switch| switch.net == net)
            .map(|switch| JigDriver::Switch {
                down: switch.down,
                up: switch.up,
                through_ohms: switch.through_ohms,
                tolerance: switch.tolerance,
                hollow: switch.hollow,
            }),
    }
}

/// Loads of a circuit without a jig: one copy of itself if it inverts, else what it drives where it first stands.
fn default_loads(
    design: &Design,
    circuit: CircuitId,
    signal: usize,
    has_jig: bool,
) -> Vec<(CircuitId, usize)> {
    if inverts(design, circuit) {
        return vec![(circuit, 1)];
    }
    if has_jig {
        return Vec::new();
    }
    let Some(unit) = design.units.iter().find(|unit| unit.circuit == circuit) else {
        return Vec::new();
    };
    let net = unit.nets[signal];
    let load = design.units.iter().find(|load| {
        let inputs = design.circuits[load.circuit.0].interface.inputs;
        load.circuit != circuit && load.nets[..inputs].contains(&net)
    });
    load.map(|load| (load.circuit, 1)).into_iter().collect()
}

/// Whether the first output falls when some input rises, by the circuit's own statement.
fn inverts(design: &Design, circuit: CircuitId) -> bool {
    let circuit = &design.circuits[circuit.0];
    let Some(says) = circuit
        .says
        .iter()
        .find(|says| says.output == circuit.interface.inputs)
    else {
        return false;
    };
    let down = vec![false; circuit.interface.signals.len()];
    let up: Vec<bool> = (0..down.len())
        .map(|signal| signal < circuit.interface.inputs)
        .collect();
    0 < circuit.interface.inputs && says.value.value(&down) && !says.value.value(&up)
}
