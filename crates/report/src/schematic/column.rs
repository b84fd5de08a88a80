//! Pieces of the drawing: one column for each tube, and one for each net on which parts are left.

use super::Schematic;
use super::ends::{self, Side};
use super::frame::Changed;
use super::layout::{
    Electrode, Entry, GAP, Growth, Layout, SPREADS, TUBE_WIRE, electrodes, two_ends,
};
use super::sketch::{Sketch, block_height, broken, write};
use super::{tube, writing};
use crate::draw::{Anchor, Area, RISE, Text, point};
use design::model::{NodeKind, TubePart};

/// Lead between an envelope and what hangs on it; longer where the number of its pin stands beside.
const TUBE_LEAD: f64 = 1.8;
const PIN_LEAD: f64 = 3.0;
/// Size of type of pin numbers, millimetres.
const PIN_TYPE: f64 = 2.2;

/// All pieces, none wider than `width` where that can be.
pub(super) fn pieces(subject: &Schematic, width: f64) -> Vec<Sketch> {
    let mut layout = Layout::new(subject);
    let mut pieces = Vec::new();
    for (part, tube) in subject.circuit.tubes() {
        pieces.push(fitted(&mut layout, width, |layout| {
            layout.column(part, tube)
        }));
    }
    // What an electrode has not taken is free.
    layout.kept.fill(None);
    // Each round draws one part at least.
    while let Some(node) = layout.next_root() {
        pieces.push(fitted(&mut layout, width, |layout| layout.root(node)));
    }
    for part in 0..subject.circuit.parts.len() {
        if !layout.drawn[part] {
            pieces.extend(layout.lone(part));
        }
    }
    pieces
}

/// The most generous spread that fits.
fn fitted<'a>(
    layout: &mut Layout<'a>,
    width: f64,
    build: impl Fn(&mut Layout<'a>) -> Sketch,
) -> Sketch {
    let mut trial = layout.clone();
    let mut sketch = Sketch::new();
    for spread in SPREADS {
        trial = layout.clone();
        trial.spread = spread;
        sketch = build(&mut trial);
        if sketch.right - sketch.left <= width {
            break;
        }
    }
    *layout = trial;
    sketch
}

impl Layout<'_> {
    /// What hangs on an electrode, to a side of the tube.
    fn at_side(&mut self, node: usize, electrode: Electrode, side: Side) -> Sketch {
        if ends::is_supply(self.subject, node) {
            return ends::beside(self.subject, node, side);
        }
        let reach = self.spread.reach;
        self.electrode_node(node, electrode, Entry::Along, side, reach)
    }

    fn electrode_node(
        &mut self,
        node: usize,
        electrode: Electrode,
        entry: Entry,
        side: Side,
        reach: usize,
    ) -> Sketch {
        self.node(&Growth {
            node,
            electrode: Some(electrode),
            from: &[],
            entry,
            side,
            reach,
            named: true,
        })
    }

    /// A tube with what stands on its plate and under its cathode, and what feeds its grids on the left.
    fn column(&mut self, part: usize, info: &TubePart) -> Sketch {
        let shape = tube::shape(info);
        let radius = shape.radius;
        let mut sketch = Sketch::new();
        tube::symbol(&mut sketch, info);
        let outside = radius + self.tube_lead();
        let nets = electrodes(info);
        let places = [
            point(0.0, -radius),
            point(-radius, shape.grid),
            point(radius, shape.screen),
            point(-radius, shape.suppressor),
            point(0.0, radius),
        ];
        for (electrode, at) in places.into_iter().enumerate() {
            if nets[electrode].is_some() {
                sketch.terminal(part, electrode, at);
                self.pin(&mut sketch, part, electrode, at);
            }
        }
        self.left_side(&mut sketch, part, info, shape);
        let screen = info
            .screen
            .map(|node| self.at_side(node, (part, 2), Side::Right));
        let near = |tree: &Sketch| {
            -outside <= shape.screen + tree.top && shape.screen + tree.bottom <= outside
        };
        let below_screen = match &screen {
            Some(tree) if near(tree) => Some(shape.screen + tree.bottom),
            Some(_) => Some(shape.screen),
            None => None,
        };
        let text_bottom = self.tube_text(&mut sketch, part, info, shape, below_screen);
        let upper = self.upper(info.plate, (part, 0));
        let lift = -outside - upper.bottom.max(0.0);
        sketch.wire(places[0], point(0.0, lift));
        sketch.add(upper, point(0.0, lift));
        let lower = self.lower(info.cathode, (part, 4));
        let clear = if lower.right <= radius {
            outside
        } else {
            outside.max(text_bottom + 1.0)
        };
        let drop = clear - lower.top.min(0.0);
        sketch.wire(places[4], point(0.0, drop));
        sketch.add(lower, point(0.0, drop));
        if let Some(tree) = screen {
            let x = if near(&tree) {
                outside
            } else {
                outside.max(sketch.right + GAP)
            };
            let x = x + (-tree.left).max(0.0);
            sketch.wire(places[2], point(x, shape.screen));
            sketch.add(tree, point(x, shape.screen));
        }
        sketch
    }

    fn tube_lead(&self) -> f64 {
        let numbered = self
            .subject
            .unit
            .is_some_and(|unit| !unit.places.is_empty());
        if numbered { PIN_LEAD } else { TUBE_LEAD }
    }

    /// What stands on a plate.
    fn upper(&mut self, plate: usize, electrode: Electrode) -> Sketch {
        if ends::is_supply(self.subject, plate) {
            return ends::above(self.subject, plate);
        }
        let reach = self.spread.reach;
        self.electrode_node(
            plate,
            electrode,
            Entry::Below(TUBE_WIRE),
            Side::Right,
            reach,
        )
    }

    /// What hangs under a cathode.
    fn lower(&mut self, cathode: usize, electrode: Electrode) -> Sketch {
        if ends::is_supply(self.subject, cathode) {
            return ends::below(self.subject, cathode);
        }
        let reach = self.spread.reach;
        self.electrode_node(
            cathode,
            electrode,
            Entry::Above(TUBE_WIRE),
            Side::Right,
            reach,
        )
    }

    /// Control grid and suppressor, one above the other.
    fn left_side(&mut self, sketch: &mut Sketch, part: usize, info: &TubePart, shape: tube::Shape) {
        let lane = -shape.radius - self.tube_lead();
        let grid = info
            .grid
            .map(|node| self.at_side(node, (part, 1), Side::Left));
        let other = info
            .suppressor
            .map(|node| self.at_side(node, (part, 3), Side::Left));
        let split = (shape.grid + shape.suppressor) / 2.0;
        let both = grid.is_some() && other.is_some();
        if let Some(tree) = grid {
            let least = split + GAP / 2.0 - tree.top;
            let y = if both {
                shape.grid.max(least)
            } else {
                shape.grid
            };
            lead(sketch, -shape.radius, shape.grid, lane, y);
            sketch.add(tree, point(lane, y));
        }
        if let Some(tree) = other {
            let most = split - GAP / 2.0 - tree.bottom;
            let y = if both {
                shape.suppressor.min(most)
            } else {
                shape.suppressor
            };
            lead(sketch, -shape.radius, shape.suppressor, lane, y);
            sketch.add(tree, point(lane, y));
        }
    }

    /// Mark, type and currents on the right of the envelope, below what a screen has there; returns how far down they go.
    fn tube_text(
        &self,
        sketch: &mut Sketch,
        part: usize,
        info: &TubePart,
        shape: tube::Shape,
        below: Option<f64>,
    ) -> f64 {
        let lines = broken(&writing::tube(self.subject, part, info));
        let height = block_height(&lines);
        let top = below.map_or(-height / 2.0, |below| {
            below + ends::room_beside(self.subject, part)
        });
        let at = point(shape.radius + 1.2, top);
        write(sketch, &lines, at, Anchor::Start);
        let width = super::sketch::block_width(&lines);
        let written = Area {
            x: at.x,
            y: at.y,
            width,
            height,
        };
        let changed = Changed {
            whole: written,
            symbol: written,
        };
        ends::mark_change(self.subject, part, sketch, changed);
        top + height
    }

    /// The number of a pin beside its lead.
    fn pin(&self, sketch: &mut Sketch, part: usize, electrode: usize, at: crate::draw::Point) {
        use devices::types::Electrode as Pin;
        let pins = [
            Pin::Plate,
            Pin::Grid,
            Pin::Screen,
            Pin::Suppressor,
            Pin::Cathode,
        ];
        let Some(number) = writing::pin(self.subject, part, pins[electrode]) else {
            return;
        };
        let (place, anchor) = match electrode {
            0 => (point(0.6, at.y - 0.6), Anchor::Start),
            4 => (point(0.6, at.y + 0.6 + RISE * PIN_TYPE), Anchor::Start),
            2 => (point(at.x + 0.6, at.y - 0.5), Anchor::Start),
            _ => (point(at.x - 0.6, at.y - 0.5), Anchor::End),
        };
        sketch.text(Text::new(place, number, PIN_TYPE).anchored(anchor));
    }

    /// The net to begin the next piece at: an output before others, then the one with the most parts, of like ones an
    /// input.
    fn next_root(&self) -> Option<usize> {
        let circuit = self.subject.circuit;
        let nodes = (0..circuit.nodes.len()).filter(|node| !ends::is_supply(self.subject, *node));
        let with_parts = nodes.filter_map(|node| {
            let count = self.hanging(node, None).len();
            let (output, input) = (self.port(node, Side::Right), self.port(node, Side::Left));
            let rank = (output, count, input);
            (0 < count).then_some((rank, std::cmp::Reverse(node)))
        });
        with_parts.max().map(|(_, node)| node.0)
    }

    /// A piece round a net: what an input feeds on its right, what feeds another net on its left.
    fn root(&mut self, node: usize) -> Sketch {
        if self.spread.standing == 0
            && let Some(&part) = self.hanging(node, None).first()
        {
            return self.lone(part).unwrap_or_else(Sketch::new);
        }
        let reach = self.spread.reach.max(1);
        self.spread.lying = self.spread.lying.max(1);
        let growth = |side: Side, named: bool| Growth {
            node,
            electrode: None,
            from: &[],
            entry: Entry::Along,
            side,
            reach,
            named,
        };
        let (left, right) = if self.port(node, Side::Right) {
            let left = self.node(&growth(Side::Left, false));
            (left, ends::beside(self.subject, node, Side::Right))
        } else if self.port(node, Side::Left) {
            let right = self.node(&growth(Side::Right, false));
            (ends::beside(self.subject, node, Side::Left), right)
        } else {
            let outputs: Vec<bool> = (0..self.home.len())
                .map(|other| self.port(other, Side::Right))
                .collect();
            let left = self.node_with(&growth(Side::Left, false), &|far| !outputs[far]);
            (
                left,
                self.node_with(&growth(Side::Right, true), &|far| outputs[far]),
            )
        };
        let mut sketch = left;
        sketch.add(right, point(0.0, 0.0));
        sketch
    }

    /// A part by itself, with a name or a supply at each end.
    fn lone(&mut self, part: usize) -> Option<Sketch> {
        let [first, second] = two_ends(&self.subject.circuit.parts[part].kind)?;
        self.drawn[part] = true;
        let mut sketch = Sketch::new();
        if ends::is_supply(self.subject, first) && ends::is_supply(self.subject, second) {
            let reversed = self.height(first) < self.height(second);
            let (top, bottom) = if reversed {
                (second, first)
            } else {
                (first, second)
            };
            let body = ends::standing(self.subject, part, reversed);
            sketch.add(body.sketch, point(0.0, 0.0));
            sketch.add(ends::above(self.subject, top), point(0.0, 0.0));
            sketch.add(ends::below(self.subject, bottom), point(0.0, body.length));
        } else {
            let length = ends::lying_length(self.subject, part);
            let body = ends::lying(self.subject, part, false, length);
            sketch.add(body, point(0.0, 0.0));
            sketch.add(
                ends::beside(self.subject, first, Side::Left),
                point(0.0, 0.0),
            );
            sketch.add(
                ends::beside(self.subject, second, Side::Right),
                point(length, 0.0),
            );
        }
        Some(sketch)
    }

    /// Nominal volts of a supply.
    fn height(&self, node: usize) -> f64 {
        match self.subject.circuit.nodes[node].kind {
            NodeKind::Rail(rail) => self.subject.design.rails[rail.0].volts,
            _ => 0.0,
        }
    }
}

/// From an electrode to the height of what feeds it.
fn lead(sketch: &mut Sketch, x: f64, y: f64, lane: f64, to: f64) {
    sketch.wire(point(x, y), point(lane, y));
    sketch.wire(point(lane, y), point(lane, to));
}
