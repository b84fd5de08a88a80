//! The wire of a node under construction: what stands on it, hangs from it and lies at its end, each in its own room.

use super::Schematic;
use super::ends::{self, Side};
use super::layout::{BETWEEN, Entry, GAP, TUBE_WIRE};
use super::sketch::Sketch;
use crate::draw::point;

/// What stands on a wire moves on by so much at most to be in line with what hangs under it.
const JOG: f64 = 4.0;

/// An upright wire at `x` that joins several heights.
pub(super) fn join(sketch: &mut Sketch, x: f64, heights: &[f64], also: f64) {
    let mut sorted: Vec<f64> = heights.iter().copied().chain([also]).collect();
    sorted.sort_by(f64::total_cmp);
    for pair in sorted.windows(2) {
        sketch.wire(point(x, pair[0]), point(x, pair[1]));
    }
}

/// Half way between the first and the last height, or a height that is near.
pub(super) fn middle(heights: &[f64]) -> f64 {
    let half = (heights[0] + heights[heights.len() - 1]) / 2.0;
    let near = heights
        .iter()
        .copied()
        .find(|height| (height - half).abs() < JOG);
    near.unwrap_or(half)
}

/// Something at the side of a node, with the heights at which it is joined, all at x = 0.
pub(super) struct Beside {
    pub sketch: Sketch,
    pub ports: Vec<f64>,
}

/// The wire of a node under construction: it begins at the origin and grows to one side.
pub(super) struct Spine {
    sketch: Sketch,
    sign: f64,
    /// How far the room above and below is taken.
    above: f64,
    below: f64,
    /// Places along the wire where something is joined.
    joints: Vec<f64>,
    /// Those of them where a part stands.
    stood: Vec<f64>,
    entry: Entry,
    /// What an upright node keeps free above and below itself for its name.
    clear: f64,
}

impl Spine {
    pub fn new(side: Side, entry: Entry, clear: f64) -> Self {
        let (above, below) = match entry {
            Entry::Along => (0.0, 0.0),
            Entry::Below(right) => (0.0, right),
            Entry::Above(right) => (right, 0.0),
        };
        Self {
            sketch: Sketch::new(),
            sign: side.sign(),
            above,
            below,
            joints: vec![0.0],
            stood: Vec::new(),
            entry,
            clear,
        }
    }

    /// How far a sketch reaches away from the beginning and back towards it.
    fn reach(&self, sketch: &Sketch) -> (f64, f64) {
        if 0.0 < self.sign {
            (sketch.right, -sketch.left)
        } else {
            (-sketch.left, sketch.right)
        }
    }

    /// Something straight above or below the entry.
    pub fn through(&mut self, other: Sketch, up: bool) {
        let (far, _) = self.reach(&other);
        self.place(other, 0.0, up);
        let edge = if up { &mut self.above } else { &mut self.below };
        *edge = edge.max(far);
    }

    /// Something standing on the wire or hanging from it, beyond what is there.
    pub fn stand(&mut self, other: Sketch, up: bool) {
        let (far, near) = self.reach(&other);
        let edge = if up { self.above } else { self.below };
        let least = edge + GAP + near;
        let beside = self
            .stood
            .iter()
            .copied()
            .find(|x| (least..=least + JOG).contains(x));
        let at = beside.unwrap_or(least);
        self.place(other, at, up);
        self.joints.push(at);
        self.stood.push(at);
        let edge = if up { &mut self.above } else { &mut self.below };
        *edge = at + far;
    }

    fn place(&mut self, other: Sketch, at: f64, up: bool) {
        let clear = if self.entry == Entry::Along {
            0.0
        } else {
            self.clear
        };
        let y = if up {
            -clear - other.bottom.max(0.0)
        } else {
            clear - other.top.min(0.0)
        };
        let x = self.sign * at;
        self.sketch.wire(point(x, 0.0), point(x, y));
        self.sketch.add(other, point(x, y));
    }

    /// The net's name along the wire: above it, or between a tube and the wire where the tube is near.
    pub fn name(&mut self, subject: &Schematic, node: usize, side: Side) {
        let near = |right: f64| right <= TUBE_WIRE;
        let under = matches!(self.entry, Entry::Below(right) if near(right));
        let name = ends::along(subject, node, side, under);
        let (far, _) = self.reach(&name);
        let edge = if under {
            &mut self.below
        } else {
            &mut self.above
        };
        let at = *edge + GAP;
        *edge = at + far;
        self.sketch.add(name, point(self.sign * at, 0.0));
        self.joints.push(at + far);
    }

    /// Puts what lies at the side at the end of the wire.
    pub fn finish(mut self, beside: Vec<Beside>) -> Sketch {
        let simple = beside.len() == 1 && beside[0].ports.len() == 1;
        let mut end = self.joints.iter().copied().fold(0.0, f64::max);
        if !beside.is_empty() {
            let mut stack = Sketch::new();
            let mut ports = Vec::new();
            let mut edge = 0.0;
            let mut back: f64 = 0.0;
            for (idx, one) in beside.into_iter().enumerate() {
                let y = if idx == 0 {
                    0.0
                } else {
                    edge + BETWEEN - one.sketch.top
                };
                edge = y + one.sketch.bottom;
                back = back.max(self.reach(&one.sketch).1);
                ports.extend(one.ports.iter().map(|port| y + port));
                stack.add(one.sketch, point(0.0, y));
            }
            let middle = middle(&ports);
            // A name alone fits into the height that is kept free for it.
            let low = -self.clear <= stack.top - middle && stack.bottom - middle <= self.clear;
            let crowd = if self.entry != Entry::Along && simple && low && end <= 0.0 {
                0.0
            } else {
                self.above.max(self.below)
            };
            let gap = if simple && crowd <= 0.0 { 0.0 } else { GAP };
            end = end.max(crowd + gap + back);
            let x = self.sign * end;
            join(&mut stack, 0.0, &ports, middle);
            self.sketch.add(stack, point(x, -middle));
        }
        self.joints.push(end);
        self.joints.sort_by(f64::total_cmp);
        self.joints.dedup();
        for idx in 1..self.joints.len() {
            let (from, to) = (self.joints[idx - 1], self.joints[idx]);
            self.sketch
                .wire(point(self.sign * from, 0.0), point(self.sign * to, 0.0));
        }
        self.sketch
    }
}
