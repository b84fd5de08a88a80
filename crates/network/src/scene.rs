//! The wiring of some members of a plan, with a source on every net that is fed from outside them.

use crate::heaters::HeaterAssumptions;
use crate::plan::{MemberIndex, NetIndex, Plan};
use crate::surroundings::Copies;
use crate::wiring::{ElementIndex, ElementKind, GROUND, NodeIndex, Wiring};
use design::model::{Circuit, NetKind, NodeKind, PartKind, RailId, TubePart};
use devices::types::{Law, TubeKind, TubeType};
use std::collections::BTreeMap;

/// Assumptions about what no text states.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Assumptions {
    /// Stray capacitance of a net inside a circuit, F.
    pub inner_stray_farads: f64,
    /// Stray capacitance of a net between circuits, F.
    pub net_stray_farads: f64,
    /// Leak from every net to ground, S.
    pub leak_siemens: f64,
    /// Of heaters.
    pub heaters: HeaterAssumptions,
}

impl Assumptions {
    /// 8 pF for a socket pin and its stub, 30 pF for a net between circuits (common practice, no source: 5 to 10 pF per
    /// socket and stub, 50 to 100 pF per metre of open wiring); a leak of 1e-12 S only keeps open nets defined.
    pub const STANDARD: Assumptions = Assumptions {
        inner_stray_farads: 8e-12,
        net_stray_farads: 30e-12,
        leak_siemens: 1e-12,
        heaters: HeaterAssumptions::STANDARD,
    };
}

/// A source that feeds a net from outside the scene.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Feed {
    /// Its tie.
    pub tie: ElementIndex,
    /// Volts of the rails of a bench switch, down and up; `None` for a net whose level comes from elsewhere.
    pub switch: Option<(f64, f64)>,
}

/// A member in a scene.
#[derive(Debug, Clone, PartialEq)]
pub struct SceneMember {
    /// Which member of the plan.
    pub member: MemberIndex,
    /// How many that are alike it stands for.
    pub count: usize,
    /// Wiring node of each node of its circuit.
    pub nodes: Vec<NodeIndex>,
    /// Wiring elements of each part of its circuit (a trimmer has two; an open switch none; a tube's capacitances follow it).
    pub elements: Vec<Vec<ElementIndex>>,
}

/// A resistor of the bench in a scene.
#[derive(Debug, Clone, PartialEq)]
pub struct BenchResistor {
    /// On which net.
    pub net: NetIndex,
    /// Its number among those that hang on the net; `None` for the one in the way of the net's switch.
    pub number: Option<usize>,
    /// Relative tolerance.
    pub tolerance: f64,
    /// How far from its marking either way no such resistor stands, a share; `None` where nothing is said.
    pub hollow: Option<f64>,
    /// Its element.
    pub element: ElementIndex,
    /// How many that are alike it stands for.
    pub count: usize,
}

/// A wiring with the way back to the plan.
#[derive(Debug, Clone)]
pub struct Scene {
    /// The wiring.
    pub wiring: Wiring,
    /// Its members.
    pub members: Vec<SceneMember>,
    /// Node of each net that appears.
    pub nets: BTreeMap<NetIndex, NodeIndex>,
    /// The tie of each rail that appears, by net.
    pub rails: BTreeMap<NetIndex, ElementIndex>,
    /// Sources on nets that no member drives.
    pub feeds: BTreeMap<NetIndex, Feed>,
    /// Resistors of the bench.
    pub bench: Vec<BenchResistor>,
    /// How many like it each net stands for, where it is more than itself.
    counts: BTreeMap<NetIndex, usize>,
    /// Tubes without a law: the scene cannot be solved. Names of the types.
    pub without_law: Vec<String>,
}

/// Builds the wiring of `members`. Every signal net that none of them drives, and of `swept` every one, gets a feed.
///
/// A member that stands for several carries their currents together, and so does what hangs on the nets that it is the first
/// to mention.
#[must_use]
pub fn build(
    plan: &Plan,
    members: &[Copies],
    swept: &[NetIndex],
    assumptions: &Assumptions,
) -> Scene {
    build_bare(plan, members, swept, &[], assumptions)
}

/// The same without the bench's resistors on the nets `bare`.
#[must_use]
pub fn build_bare(
    plan: &Plan,
    members: &[Copies],
    swept: &[NetIndex],
    bare: &[NetIndex],
    assumptions: &Assumptions,
) -> Scene {
    let mut scene = Scene {
        wiring: Wiring::default(),
        members: Vec::new(),
        nets: BTreeMap::new(),
        rails: BTreeMap::new(),
        feeds: BTreeMap::new(),
        bench: Vec::new(),
        counts: BTreeMap::new(),
        without_law: Vec::new(),
    };
    for &copies in members {
        scene.add_member(plan, copies, swept, assumptions);
    }
    scene.add_loads(plan, bare, assumptions);
    scene.add_feeds(plan, swept);
    scene
}

impl Scene {
    /// The scene's entry for a member.
    #[must_use]
    pub fn member(&self, member: MemberIndex) -> Option<&SceneMember> {
        self.members
            .iter()
            .find(|candidate| candidate.member == member)
    }

    /// Makes every tube cold.
    pub(crate) fn chill(&mut self) {
        for element in &mut self.wiring.elements {
            if let ElementKind::Triode { cold, .. }
            | ElementKind::Pentode { cold, .. }
            | ElementKind::VacuumDiode { cold, .. } = &mut element.kind
            {
                *cold = true;
            }
        }
    }

    /// Puts every rail at the volts that `volts` gives for it.
    pub(crate) fn set_rails(&mut self, plan: &Plan, volts: impl Fn(RailId) -> f64) {
        for (&net, &tie) in &self.rails {
            if let NetKind::Rail(rail) = plan.nets[net].kind
                && let ElementKind::Tie { volts: held, .. } = &mut self.wiring.elements[tie].kind
            {
                *held = volts(rail);
            }
        }
    }

    /// The node of a net, which if it is new stands for `count` of them.
    fn net_node(
        &mut self,
        plan: &Plan,
        net: NetIndex,
        count: usize,
        assumptions: &Assumptions,
    ) -> NodeIndex {
        if let Some(&node) = self.nets.get(&net) {
            return node;
        }
        let node = match plan.nets[net].kind {
            NetKind::Ground => GROUND,
            NetKind::Rail(rail) => {
                let node = self.wiring.node(plan.nets[net].name.clone(), 0.0);
                let tie = self.wiring.hold(
                    plan.nets[net].name.clone(),
                    node,
                    plan.design.rails[rail.0].volts,
                );
                self.rails.insert(net, tie);
                node
            }
            NetKind::Signal => {
                if count != 1 {
                    self.counts.insert(net, count);
                }
                let stray_farads = assumptions.net_stray_farads * count as f64;
                self.wiring.node(plan.nets[net].name.clone(), stray_farads)
            }
        };
        self.nets.insert(net, node);
        node
    }

    fn add_member(
        &mut self,
        plan: &Plan,
        Copies { member, count }: Copies,
        swept: &[NetIndex],
        assumptions: &Assumptions,
    ) {
        let circuit = plan.circuit(member);
        let name = &plan.members[member].name;
        let nodes: Vec<NodeIndex> = circuit
            .nodes
            .iter()
            .map(|node| match node.kind {
                NodeKind::Signal(signal) => {
                    let net = plan.members[member].nets[signal];
                    self.net_node(plan, net, count, assumptions)
                }
                NodeKind::Ground => GROUND,
                NodeKind::Rail(rail) => {
                    let net = plan.design.rails[rail.0].net.0;
                    self.net_node(plan, net, 1, assumptions)
                }
                NodeKind::Inner => self.wiring.node(
                    format!("{name}.{}", node.name),
                    assumptions.inner_stray_farads * count as f64,
                ),
            })
            .collect();
        let mut nodes = nodes;
        self.cut_swept_outputs(plan, member, swept, &mut nodes, assumptions);
        let first = self.wiring.elements.len();
        let mut tube = 0;
        let elements = circuit
            .parts
            .iter()
            .map(|part| {
                let filament = plan.filaments.get(&(member, tube)).copied();
                let cathode_shift = match &part.kind {
                    PartKind::Tube(part) => {
                        plan.less_heat_volts + cathode_shift(plan, circuit, part, filament)
                    }
                    _ => 0.0,
                };
                let cold = plan.cold.contains(&(member, tube));
                let elements = add_part(
                    &mut self.wiring,
                    &format!("{name}.{}", part.mark),
                    &part.kind,
                    &nodes,
                    TubeState {
                        number: tube,
                        cathode_shift,
                        cold,
                    },
                );
                if let PartKind::Tube(part) = &part.kind {
                    tube += 1;
                    if part.device.law.is_none() {
                        self.without_law.push(part.device.name.clone());
                    }
                }
                elements
            })
            .collect();
        if count != 1 {
            for element in &mut self.wiring.elements[first..] {
                element.kind = element.kind.times(count as f64);
            }
        }
        self.members.push(SceneMember {
            member,
            count,
            nodes,
            elements,
        });
    }

    /// A swept net is held by a source; a member that would drive it is left with a node of its own instead, so that
    /// the source does not fight it.
    fn cut_swept_outputs(
        &mut self,
        plan: &Plan,
        member: MemberIndex,
        swept: &[NetIndex],
        nodes: &mut [NodeIndex],
        assumptions: &Assumptions,
    ) {
        let circuit = plan.circuit(member);
        // The first nodes of a circuit are its signals.
        let signals = plan.members[member]
            .nets
            .iter()
            .zip(nodes)
            .skip(circuit.interface.inputs);
        for ((net, node), signal) in signals.zip(circuit.interface.outputs()) {
            if swept.contains(net) {
                let name = format!("{}.{signal} cut free", plan.members[member].name);
                *node = self.wiring.node(name, assumptions.net_stray_farads);
            }
        }
    }

    fn add_loads(&mut self, plan: &Plan, bare: &[NetIndex], assumptions: &Assumptions) {
        for net in self.nets.keys().copied().collect::<Vec<_>>() {
            if plan.is_supply(net) || bare.contains(&net) {
                continue;
            }
            for (number, resistor) in plan.resistors.get(&net).into_iter().flatten().enumerate() {
                let (node, to) = (
                    self.nets[&net],
                    self.net_node(plan, resistor.to, 1, assumptions),
                );
                let count = self.count(net);
                let element = self.wiring.resistor(
                    format!("bench load on {}", plan.nets[net].name),
                    node,
                    to,
                    resistor.ohms / count as f64,
                );
                self.bench.push(BenchResistor {
                    net,
                    number: Some(number),
                    tolerance: resistor.tolerance,
                    hollow: resistor.hollow,
                    element,
                    count,
                });
            }
        }
    }

    /// How many nets a net stands for.
    fn count(&self, net: NetIndex) -> usize {
        self.counts.get(&net).copied().unwrap_or(1)
    }

    fn add_feeds(&mut self, plan: &Plan, swept: &[NetIndex]) {
        for net in self.nets.keys().copied().collect::<Vec<_>>() {
            if plan.is_supply(net) {
                continue;
            }
            let driven = plan.drivers[net]
                .iter()
                .any(|&(driver, _)| self.member(driver).is_some());
            if driven && !swept.contains(&net) {
                continue;
            }
            let feed = self.add_feed(plan, net, swept.contains(&net));
            self.feeds.insert(net, feed);
        }
    }

    fn add_feed(&mut self, plan: &Plan, net: NetIndex, swept: bool) -> Feed {
        let node = self.nets[&net];
        let name = plan.nets[net].name.clone();
        let switch = plan.switches.get(&net).filter(|_| !swept);
        let Some(switch) = switch else {
            return Feed {
                tie: self.wiring.hold(name, node, 0.0),
                switch: None,
            };
        };
        let volts = Some((plan.supply_volts(switch.down), plan.supply_volts(switch.up)));
        if switch.through_ohms <= 0.0 {
            return Feed {
                tie: self.wiring.hold(name, node, 0.0),
                switch: volts,
            };
        }
        let contact = self.wiring.node(format!("switch of {name}"), 0.0);
        let count = self.count(net);
        let element = self.wiring.resistor(
            format!("resistor of the switch of {name}"),
            contact,
            node,
            switch.through_ohms / count as f64,
        );
        self.bench.push(BenchResistor {
            net,
            number: None,
            tolerance: switch.tolerance,
            hollow: switch.hollow,
            element,
            count,
        });
        Feed {
            tie: self.wiring.hold(name, contact, 0.0),
            switch: volts,
        }
    }
}

/// How far the cathode of a tube stands above the node that its circuit calls so, as the law counts it, V; 0 where it is
/// heated indirectly.
///
/// The law of an indicator sees the mean of its filament. The sheets of all other filaments count volts from the negative
/// end, so their laws see the mean less half the filament volts. Where a string tells the mean and the node is a supply
/// both follow from that; else the negative end is taken to be the node.
fn cathode_shift(plan: &Plan, circuit: &Circuit, part: &TubePart, filament: Option<f64>) -> f64 {
    let usual = shift_of_type(&part.device);
    let foot = match circuit.nodes[part.cathode].kind {
        NodeKind::Ground => Some(0.0),
        NodeKind::Rail(rail) => Some(plan.design.rails[rail.0].volts),
        NodeKind::Signal(_) | NodeKind::Inner => None,
    };
    let direct = part.device.heater.as_ref().filter(|heater| heater.direct);
    match (direct, filament.zip(foot)) {
        (Some(heater), Some((mean, foot))) => usual + (mean - foot - heater.volts.value / 2.0),
        _ => usual,
    }
}

/// How far the cathode of a type stands above the negative end of its filament, as the law counts it, V: half the filament
/// volts of an indicator, 0 of all others.
#[must_use]
pub fn shift_of_type(device: &TubeType) -> f64 {
    let filament = device.heater.as_ref().filter(|heater| heater.direct);
    filament
        .filter(|_| device.kind == TubeKind::IndicatorTriode)
        .map_or(0.0, |heater| heater.volts.value / 2.0)
}

/// What a tube is in its place.
#[derive(Clone, Copy)]
struct TubeState {
    /// Among the tube parts of its circuit, for halves that differ.
    number: usize,
    /// How far its cathode is shifted, V.
    cathode_shift: f64,
    /// It carries nothing.
    cold: bool,
}

/// Adds the elements of one part.
fn add_part(
    wiring: &mut Wiring,
    name: &str,
    kind: &PartKind,
    nodes: &[NodeIndex],
    tube: TubeState,
) -> Vec<ElementIndex> {
    match kind {
        PartKind::Resistor { ohms, ends, .. } => {
            vec![wiring.resistor(name, nodes[ends[0]], nodes[ends[1]], *ohms)]
        }
        PartKind::Trimmer {
            ohms,
            setting,
            ends,
            slider,
            ..
        } => {
            // A slider at the very end still touches the last turn: a thousandth of the track keeps the matrix regular.
            let share = setting.clamp(1e-3, 1.0 - 1e-3);
            vec![
                wiring.resistor(name, nodes[ends[0]], nodes[*slider], ohms * share),
                wiring.resistor(name, nodes[*slider], nodes[ends[1]], ohms * (1.0 - share)),
            ]
        }
        PartKind::Capacitor { farads, ends, .. } => {
            let ends = [nodes[ends[0]], nodes[ends[1]]];
            vec![wiring.element(
                name,
                ElementKind::Capacitor {
                    ends,
                    farads: *farads,
                },
            )]
        }
        PartKind::Inductor { ohms, ends, .. } if *ohms > 0.0 => {
            vec![wiring.resistor(name, nodes[ends[0]], nodes[ends[1]], *ohms)]
        }
        PartKind::Inductor { ends, .. } | PartKind::Switch { closed: true, ends } => {
            vec![tie(wiring, name, nodes[ends[0]], nodes[ends[1]], 0.0)]
        }
        PartKind::Switch { closed: false, .. } => Vec::new(),
        PartKind::Source { volts, plus, minus } => {
            vec![tie(wiring, name, nodes[*plus], nodes[*minus], *volts)]
        }
        PartKind::Diode {
            device,
            anode,
            cathode,
        } => {
            vec![wiring.element(
                name,
                ElementKind::Diode {
                    anode: nodes[*anode],
                    cathode: nodes[*cathode],
                    law: device.law,
                },
            )]
        }
        PartKind::Neon { device, ends } => {
            let ends = [nodes[ends[0]], nodes[ends[1]]];
            vec![wiring.element(
                name,
                ElementKind::Neon {
                    ends,
                    law: device.law,
                },
            )]
        }
        PartKind::Tube(part) => add_tube(wiring, name, part, nodes, tube),
    }
}

fn tie(
    wiring: &mut Wiring,
    name: &str,
    plus: NodeIndex,
    minus: NodeIndex,
    volts: f64,
) -> ElementIndex {
    wiring.element(name, ElementKind::Tie { plus, minus, volts })
}

fn add_tube(
    wiring: &mut Wiring,
    name: &str,
    part: &TubePart,
    nodes: &[NodeIndex],
    TubeState {
        number,
        cathode_shift,
        cold,
    }: TubeState,
) -> Vec<ElementIndex> {
    let device = &part.device;
    let (plate, cathode) = (nodes[part.plate], nodes[part.cathode]);
    let grid = part.grid.map(|grid| nodes[grid]);
    let mut elements = Vec::new();
    let kind = match (device.law, grid) {
        (Some(Law::Triode(law)), Some(grid)) => Some(ElementKind::Triode {
            plate,
            grid,
            cathode,
            cathode_shift,
            law,
            cold,
        }),
        (Some(Law::Pentode(law)), Some(grid)) => {
            let screen = part.screen.map_or(plate, |screen| nodes[screen]);
            let suppressor = part
                .suppressor
                .map_or(cathode, |suppressor| nodes[suppressor]);
            Some(ElementKind::Pentode {
                plate,
                grid,
                screen,
                suppressor,
                cathode,
                cathode_shift,
                law,
                cold,
            })
        }
        (Some(Law::Diode(law)), _) => Some(ElementKind::VacuumDiode {
            plate,
            cathode,
            cathode_shift,
            law,
            cold,
        }),
        _ => None,
    };
    elements.extend(kind.map(|kind| wiring.element(name, kind)));
    let section = device
        .capacitances
        .get(number % 2)
        .or(device.capacitances.first());
    if let (Some(section), Some(grid)) = (section, grid) {
        let capacitances = [
            ([grid, plate], &section.grid_plate),
            ([grid, cathode], &section.grid_cathode),
            ([plate, cathode], &section.plate_cathode),
        ];
        for (ends, farads) in capacitances {
            if let Some(farads) = farads {
                wiring.element(
                    name,
                    ElementKind::Capacitor {
                        ends,
                        farads: farads.value,
                    },
                );
            }
        }
    }
    elements
}

/// Which tube element stands for a tube part, if it has a law.
#[must_use]
pub fn tube_element(member: &SceneMember, circuit: &Circuit, part: usize) -> Option<ElementIndex> {
    match circuit.parts[part].kind {
        PartKind::Tube(_) => member.elements[part].first().copied(),
        _ => None,
    }
}
