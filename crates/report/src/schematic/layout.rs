//! Where parts go: every connected piece of the drawing is a tree of wires without a crossing, and where a net has more
//! than one piece each has its name. Pieces grow from a tube's electrodes (or, where no tube is left, from a net) and take
//! what hangs on them; what does not fit into the width begins a piece of its own.

use super::Schematic;
use super::ends::{self, Side, Standing};
use super::sketch::Sketch;
use super::spine::{Beside, Spine, join, middle};
use crate::draw::point;
use design::model::{NodeKind, PartKind, TubePart};
use std::rc::Rc;

/// Between neighbours.
pub(super) const GAP: f64 = 1.4;
/// Between lying parts, one above the other.
pub(super) const BETWEEN: f64 = 2.8;
/// What the wire of a tube's plate or cathode takes to its right.
pub(super) const TUBE_WIRE: f64 = 1.0;
/// Parts in one upright chain at most.
const TALLEST: usize = 4;

/// How far a piece may spread.
#[derive(Debug, Clone, Copy)]
pub(super) struct Spread {
    /// Parts lying one after the other.
    pub reach: usize,
    /// Parts standing on one node.
    pub standing: usize,
    /// Parts lying on one side of a node.
    pub lying: usize,
}

/// From generous to the least: names alone round a tube, which always fits.
pub(super) const SPREADS: [Spread; 7] = [
    Spread {
        reach: 5,
        standing: 8,
        lying: 9,
    },
    Spread {
        reach: 4,
        standing: 5,
        lying: 9,
    },
    Spread {
        reach: 3,
        standing: 3,
        lying: 9,
    },
    Spread {
        reach: 2,
        standing: 2,
        lying: 9,
    },
    Spread {
        reach: 1,
        standing: 1,
        lying: 9,
    },
    Spread {
        reach: 0,
        standing: 1,
        lying: 0,
    },
    Spread {
        reach: 0,
        standing: 0,
        lying: 0,
    },
];

/// An electrode of a tube part: plate 0, grid 1, screen 2, suppressor 3, cathode 4.
pub(super) type Electrode = (usize, usize);

/// Which parts and nets have found their place.
#[derive(Debug, Clone)]
pub(super) struct Layout<'a> {
    pub subject: &'a Schematic<'a>,
    /// For each net the parts with one end, and only one, on it.
    on_net: Rc<Vec<Vec<usize>>>,
    /// Parts that are drawn.
    pub drawn: Vec<bool>,
    /// The electrode that a part is kept for.
    pub kept: Vec<Option<Electrode>>,
    /// Nets that have a tube's electrode, or a piece of their own.
    pub home: Vec<bool>,
    pub spread: Spread,
}

/// What hangs on a node.
#[derive(Default)]
struct Arms {
    /// Parts going up: how many there are to the supply, the part, its other net.
    up: Vec<(usize, usize, usize)>,
    /// Parts going down, likewise.
    down: Vec<(usize, usize, usize)>,
    /// Parts to one other net together.
    beside: Vec<(usize, Vec<usize>)>,
}

/// Which way a part stands, and how many there are from it to the supply.
struct Heading {
    up: bool,
    parts: usize,
}

/// How a node is to grow.
pub(super) struct Growth<'b> {
    /// The net.
    pub node: usize,
    /// The electrode that it belongs to.
    pub electrode: Option<Electrode>,
    /// The parts that it is reached through.
    pub from: &'b [usize],
    /// How it is entered.
    pub entry: Entry,
    /// To which side.
    pub side: Side,
    /// Lying parts one after the other at most.
    pub reach: usize,
    /// Whether to write its name.
    pub named: bool,
}

/// How a node is entered.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Entry {
    /// Along its wire, which grows away from there.
    Along,
    /// From below, by something that reaches so far to the right.
    Below(f64),
    /// From above, by something that reaches so far to the right.
    Above(f64),
}

/// The two ends of a part that has two.
pub(super) fn two_ends(kind: &PartKind) -> Option<[usize; 2]> {
    match kind {
        PartKind::Resistor { ends, .. }
        | PartKind::Trimmer { ends, .. }
        | PartKind::Capacitor { ends, .. }
        | PartKind::Inductor { ends, .. }
        | PartKind::Neon { ends, .. }
        | PartKind::Switch { ends, .. } => Some(*ends),
        PartKind::Diode { anode, cathode, .. } => Some([*anode, *cathode]),
        PartKind::Source { plus, minus, .. } => Some([*plus, *minus]),
        PartKind::Tube(_) => None,
    }
}

/// The nets of a tube's electrodes.
pub(super) fn electrodes(tube: &TubePart) -> [Option<usize>; 5] {
    [
        Some(tube.plate),
        tube.grid,
        tube.screen,
        tube.suppressor,
        Some(tube.cathode),
    ]
}

impl<'a> Layout<'a> {
    /// Nothing drawn; parts that hang on electrodes are kept for them.
    pub fn new(subject: &'a Schematic<'a>) -> Self {
        let circuit = subject.circuit;
        let mut on_net = vec![Vec::new(); circuit.nodes.len()];
        for (part, info) in circuit.parts.iter().enumerate() {
            for node in two_ends(&info.kind)
                .into_iter()
                .filter(|[a, b]| a != b)
                .flatten()
            {
                on_net[node].push(part);
            }
        }
        let mut layout = Self {
            subject,
            on_net: Rc::new(on_net),
            drawn: vec![false; circuit.parts.len()],
            kept: vec![None; circuit.parts.len()],
            home: (0..circuit.nodes.len())
                .map(|node| ends::is_supply(subject, node))
                .collect(),
            spread: SPREADS[0],
        };
        for (_, tube) in circuit.tubes() {
            for node in electrodes(tube).into_iter().flatten() {
                layout.home[node] = true;
            }
        }
        // The load of a plate and what stands under a cathode belong to them before a grid may take them.
        for electrode in [0, 4, 2] {
            layout.keep(electrode, true);
        }
        for electrode in [1, 3] {
            layout.keep(electrode, false);
        }
        layout
    }

    fn keep(&mut self, electrode: usize, upright: bool) {
        for (part, tube) in self.subject.circuit.tubes() {
            let Some(node) = electrodes(tube)[electrode].filter(|node| !self.supply(*node)) else {
                continue;
            };
            for other in self.hanging(node, None) {
                let stands = || self.heading(node, other, true).is_some();
                if self.kept[other].is_none() && (!upright || stands()) {
                    self.kept[other] = Some((part, electrode));
                }
            }
        }
    }

    fn supply(&self, node: usize) -> bool {
        ends::is_supply(self.subject, node)
    }

    /// The other end of a part.
    fn far(&self, part: usize, node: usize) -> usize {
        let ends = two_ends(&self.subject.circuit.parts[part].kind);
        ends.map_or(node, |[a, b]| if a == node { b } else { a })
    }

    /// Parts not yet drawn with one end, and only one, on a net, and not kept for another electrode.
    pub fn hanging(&self, node: usize, place: Option<Electrode>) -> Vec<usize> {
        let free = |part: &&usize| {
            !self.drawn[**part] && (self.kept[**part].is_none() || self.kept[**part] == place)
        };
        self.on_net[node].iter().filter(free).copied().collect()
    }

    /// Whether a part on a net stands upright: straight to a supply, or through points inside. On such a point nothing
    /// else may hang than what goes to supplies; on the way from a plate, screen or cathode (`loose`) it is enough that
    /// something does, if no signal and no other electrode is near.
    fn heading(&self, node: usize, part: usize, loose: bool) -> Option<Heading> {
        let mut seen = vec![part];
        let mut far = self.far(part, node);
        for parts in 1..=TALLEST {
            if self.supply(far) {
                let up = ends::is_above(self.subject, far);
                return Some(Heading { up, parts });
            }
            if !self.inside(far) {
                return None;
            }
            let mut others = self.hanging(far, None);
            others.retain(|other| !seen.contains(other));
            let beyond: Vec<usize> = others.iter().map(|other| self.far(*other, far)).collect();
            let supplies = beyond.iter().filter(|end| self.supply(**end));
            let up = supplies
                .clone()
                .any(|end| ends::is_above(self.subject, *end));
            let count = supplies.count();
            let quiet = || {
                beyond
                    .iter()
                    .all(|end| *end == node || self.supply(*end) || self.inside(*end))
            };
            if 0 < count && (count == beyond.len() || (loose && quiet())) {
                let parts = parts + 1;
                return Some(Heading { up, parts });
            }
            let [next] = others[..] else {
                return None;
            };
            seen.push(next);
            far = beyond[0];
        }
        None
    }

    /// The last part of an upright chain goes on in its direction when it ends at a net with a place of its own.
    fn onward(&self, growth: &Growth, far: usize) -> Option<Heading> {
        let up = match growth.entry {
            Entry::Below(_) => true,
            Entry::Above(_) => false,
            Entry::Along => return None,
        };
        let goes = growth.electrode.is_none() && self.home[far];
        goes.then_some(Heading { up, parts: 1 })
    }

    /// A point inside the circuit that has no place yet.
    fn inside(&self, node: usize) -> bool {
        !self.home[node] && self.subject.circuit.nodes[node].kind == NodeKind::Inner
    }

    /// Takes what hangs on a node, as much as the spread allows.
    fn arms(&mut self, growth: &Growth, wanted: &dyn Fn(usize) -> bool) -> Arms {
        let Growth { node, reach, .. } = *growth;
        let mut arms = Arms::default();
        let loose = growth
            .electrode
            .is_some_and(|(_, electrode)| [0, 2, 4].contains(&electrode));
        let mut lying = 0;
        let hanging = self.hanging(node, growth.electrode);
        let alone = hanging.len() == 1;
        for part in hanging {
            let far = self.far(part, node);
            if !wanted(far) {
                continue;
            }
            let heading = self.heading(node, part, loose);
            match heading.or_else(|| self.onward(growth, far).filter(|_| alone)) {
                Some(heading) => {
                    let list = if heading.up {
                        &mut arms.up
                    } else {
                        &mut arms.down
                    };
                    if list.len() < self.spread.standing {
                        list.push((heading.parts, part, far));
                        self.drawn[part] = true;
                    }
                }
                None if 0 < reach && lying < self.spread.lying => {
                    lying += 1;
                    self.drawn[part] = true;
                    match arms.beside.iter_mut().find(|group| group.0 == far) {
                        Some(group) => group.1.push(part),
                        None => arms.beside.push((far, vec![part])),
                    }
                }
                None => {}
            }
        }
        // The shortest way to a supply goes straight on.
        arms.up.sort();
        arms.down.sort();
        arms
    }

    /// A node with everything that hangs on it, entered at the origin and growing to one side.
    pub fn node(&mut self, growth: &Growth) -> Sketch {
        self.node_with(growth, &|_| true)
    }

    /// As [`Layout::node`], with only the parts whose other end is wanted.
    pub fn node_with(&mut self, growth: &Growth, wanted: &dyn Fn(usize) -> bool) -> Sketch {
        let Growth {
            node, side, entry, ..
        } = *growth;
        self.home[node] = true;
        let before = self.drawn.clone();
        let arms = self.arms(growth, wanted);
        let elsewhere = self.elsewhere(growth, &before);
        let mut spine = Spine::new(side, entry, ends::clear(self.subject, node));
        let mut ups: Vec<Sketch> = arms
            .up
            .iter()
            .map(|(_, part, far)| self.chain(*part, node, *far, true))
            .collect();
        let mut downs: Vec<Sketch> = arms
            .down
            .iter()
            .map(|(_, part, far)| self.chain(*part, node, *far, false))
            .collect();
        match entry {
            Entry::Below(_) if !ups.is_empty() => spine.through(ups.remove(0), true),
            Entry::Above(_) if !downs.is_empty() => spine.through(downs.remove(0), false),
            Entry::Along | Entry::Below(_) | Entry::Above(_) => {}
        }
        let mut beside: Vec<Beside> = Vec::new();
        for (far, parts) in arms.beside {
            beside.push(self.group(node, far, &parts, side, growth.reach - 1));
        }
        let simple = ups.is_empty() && downs.is_empty();
        let bare = beside.is_empty() && (simple || (elsewhere && entry == Entry::Along));
        if self.port(node, side) || (growth.named && bare) {
            let end = ends::beside(self.subject, node, side);
            beside.insert(
                0,
                Beside {
                    sketch: end,
                    ports: vec![0.0],
                },
            );
        } else if growth.named {
            spine.name(self.subject, node, side);
        }
        for up in ups {
            spine.stand(up, true);
        }
        for down in downs {
            spine.stand(down, false);
        }
        spine.finish(beside)
    }

    /// Whether a net has a terminal that is not part of a node's piece.
    fn elsewhere(&self, growth: &Growth, before: &[bool]) -> bool {
        let node = growth.node;
        self.subject
            .circuit
            .parts
            .iter()
            .enumerate()
            .any(|(part, info)| match &info.kind {
                PartKind::Tube(tube) => (0..).zip(electrodes(tube)).any(|(electrode, net)| {
                    net == Some(node) && growth.electrode != Some((part, electrode))
                }),
                PartKind::Trimmer { slider, .. } if *slider == node => true,
                kind => {
                    let here = self.drawn[part] && (!before[part] || growth.from.contains(&part));
                    two_ends(kind).is_some_and(|ends| ends.contains(&node)) && !here
                }
            })
    }

    /// Whether the signal enters or leaves at this side.
    pub fn port(&self, node: usize, side: Side) -> bool {
        let circuit = self.subject.circuit;
        match circuit.nodes[node].kind {
            NodeKind::Signal(signal) => (signal < circuit.interface.inputs) == (side == Side::Left),
            _ => false,
        }
    }

    /// A part standing on a node with what lies beyond it; its port is the origin.
    fn chain(&mut self, part: usize, node: usize, far: usize, up: bool) -> Sketch {
        let ends = two_ends(&self.subject.circuit.parts[part].kind).unwrap_or([node, far]);
        let first_on_top = (ends[0] == far) == up;
        let Standing {
            sketch: body,
            length,
        } = ends::standing(self.subject, part, !first_on_top);
        let mut sketch = Sketch::new();
        let right = body.right;
        let far_end = if up { -length } else { length };
        sketch.add(body, point(0.0, far_end.min(0.0)));
        let open = !self.home[far];
        let beyond = match (open, up) {
            (true, _) => self.node(&Growth {
                node: far,
                electrode: None,
                from: &[part],
                entry: if up {
                    Entry::Below(right)
                } else {
                    Entry::Above(right)
                },
                side: Side::Right,
                reach: 0,
                named: true,
            }),
            (false, true) => ends::above(self.subject, far),
            (false, false) => ends::below(self.subject, far),
        };
        let room = if open {
            ends::clear(self.subject, far)
        } else {
            0.0
        };
        let at = point(0.0, far_end + if up { -room } else { room });
        sketch.wire(point(0.0, far_end), at);
        sketch.add(beyond, at);
        sketch
    }

    /// Parts lying side by side between a node and another net, with what lies beyond; ports at x = 0.
    fn group(
        &mut self,
        node: usize,
        far: usize,
        parts: &[usize],
        side: Side,
        reach: usize,
    ) -> Beside {
        let sign = side.sign();
        let length = parts
            .iter()
            .map(|part| ends::lying_length(self.subject, *part))
            .fold(0.0, f64::max);
        let foreign = match self.subject.circuit.nodes[far].kind {
            NodeKind::Signal(signal) => {
                (signal < self.subject.circuit.interface.inputs) != (side == Side::Left)
            }
            _ => false,
        };
        let beyond = if self.home[far] || foreign {
            ends::beside(self.subject, far, side)
        } else {
            self.node(&Growth {
                node: far,
                electrode: None,
                from: parts,
                entry: Entry::Along,
                side,
                reach,
                named: true,
            })
        };
        let mut bodies: Vec<Sketch> = Vec::new();
        for &part in parts {
            let ends = two_ends(&self.subject.circuit.parts[part].kind).unwrap_or([node, far]);
            let first_on_left = (ends[0] == far) == (side == Side::Left);
            bodies.push(ends::lying(self.subject, part, !first_on_left, length));
        }
        let mut sketch = Sketch::new();
        let left = if side == Side::Left { -length } else { 0.0 };
        let mut ports = Vec::new();
        let mut edge = f64::NAN;
        for body in bodies {
            let y = if ports.is_empty() {
                0.0
            } else {
                edge + BETWEEN - body.top
            };
            edge = y + body.bottom;
            ports.push(y);
            sketch.add(body, point(left, y));
        }
        let middle = middle(&ports);
        let mut x = sign * length;
        if 1 < ports.len() {
            x += sign * GAP;
            for &y in &ports {
                sketch.wire(point(sign * length, y), point(x, y));
            }
            join(&mut sketch, x, &ports, middle);
        }
        sketch.add(beyond, point(x, middle));
        Beside { sketch, ports }
    }
}
