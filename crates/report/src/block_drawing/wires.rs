//! Lines between neighbouring layers: in every channel one upright track a net, and below everything the ways back.

use super::boxes::Node;
use super::layers::{GRID, PASS, Placed, Slot, input_offset, is_drawn, output_offset};
use std::collections::BTreeMap;

/// A net in the channel before a layer.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Run {
    /// Heights at which it comes in from the left: an output or a passing line.
    pub left: Vec<f64>,
    /// Heights at which it goes on to the right, each with whether an input of a box ends it.
    pub right: Vec<(f64, bool)>,
    /// Height of its way back below everything, where it takes that.
    pub back: Option<f64>,
    /// Which upright track it takes, from the left; none for a straight line.
    pub track: Option<usize>,
}

impl Run {
    /// All heights at which something leaves its track.
    pub fn heights(&self) -> Vec<f64> {
        let right = self.right.iter().map(|end| end.0);
        self.left
            .iter()
            .copied()
            .chain(right)
            .chain(self.back)
            .collect()
    }

    fn span(&self) -> (f64, f64) {
        let heights = self.heights();
        let low = heights.iter().copied().fold(f64::INFINITY, f64::min);
        (
            low,
            heights.iter().copied().fold(f64::NEG_INFINITY, f64::max),
        )
    }
}

/// A way back: its net, its height, and between which channels it runs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Back {
    /// Index of the net.
    pub net: usize,
    /// Millimetres from the top.
    pub y: f64,
    /// The channel it comes down in.
    pub from: usize,
    /// The leftmost channel in which it goes up.
    pub to: usize,
}

/// Every line of some neighbouring layers.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Wires {
    /// For the channel before each layer and the one behind the last: nets in their order.
    pub channels: Vec<BTreeMap<usize, Run>>,
    /// Ways back.
    pub backs: Vec<Back>,
    /// Height of each passing line, by layer and net.
    pub passes: BTreeMap<(usize, usize), f64>,
    /// Inputs (box, input) whose line is drawn from the driver.
    pub joined: Vec<(usize, usize)>,
    /// Height of everything, mm.
    pub height: f64,
}

/// Between ways back, mm.
const APART: f64 = 2.4;

/// The lines among the layers `first..end`.
pub fn wires(nodes: &[Node], placed: &Placed, first: usize, end: usize, heights: f64) -> Wires {
    let mut wires = Wires {
        channels: vec![BTreeMap::new(); end - first + 1],
        passes: passes(placed, first, end),
        height: heights,
        ..Wires::default()
    };
    let top = tops(nodes.len(), placed);
    let here = |layer: usize| (first..end).contains(&layer);
    let mut backs: BTreeMap<usize, (usize, usize)> = BTreeMap::new();
    for (to, node) in nodes.iter().enumerate() {
        for (index, input) in node.inputs.iter().enumerate() {
            let Some(&(driver, output)) = input.drivers.first() else {
                continue;
            };
            let (before, after) = (placed.layer_of[driver], placed.layer_of[to]);
            if !here(before) || !here(after) || !is_drawn(before, after) {
                continue;
            }
            wires.joined.push((to, index));
            let out = top[driver] + output_offset(&nodes[driver], output);
            let end_at = top[to] + input_offset(node, index);
            if after <= before {
                let way = backs.entry(input.net).or_insert((before + 1, after));
                way.1 = way.1.min(after);
            }
            wires.join(input.net, (before, out), (after, end_at), first);
        }
    }
    wires.lay_backs(&backs, first);
    for channel in &mut wires.channels {
        lay_tracks(channel);
    }
    wires
}

fn tops(count: usize, placed: &Placed) -> Vec<f64> {
    let mut tops = vec![0.0; count];
    for &(slot, top) in placed.layers.iter().flatten() {
        if let Slot::Box(index) = slot {
            tops[index] = top as f64 * GRID;
        }
    }
    tops
}

/// Heights of passing lines. Two nets must not seem one: a line that comes straight from the layer before keeps its height,
/// any other stands off from those that the layer before has at the same height.
fn passes(placed: &Placed, first: usize, end: usize) -> BTreeMap<(usize, usize), f64> {
    let mut passes: BTreeMap<(usize, usize), f64> = BTreeMap::new();
    for layer in first..end {
        for &(slot, top) in &placed.layers[layer] {
            let Slot::Pass(net) = slot else { continue };
            let near = top as f64 * GRID + PASS;
            let far = near + 0.5 * GRID;
            let before = |y: f64| -> Vec<usize> {
                let lines = passes.iter().filter(|line| line.0.0 + 1 == layer);
                let same = lines.filter(|line| (*line.1 - y).abs() < 0.1);
                same.map(|line| line.0.1).collect()
            };
            let taken = |y: f64| before(y).iter().any(|other| *other != net);
            let straight = before(far).contains(&net);
            let y = if straight || (taken(near) && !taken(far)) {
                far
            } else {
                near
            };
            passes.insert((layer, net), y);
        }
    }
    passes
}

impl Wires {
    /// Puts the line of one connection into the channels that it goes through.
    fn join(&mut self, net: usize, from: (usize, f64), to: (usize, f64), first: usize) {
        let ((before, out), (after, end)) = (from, to);
        self.enter(before + 1 - first, net, out);
        if after <= before {
            self.leave(after - first, net, (end, true));
            return;
        }
        for layer in before + 1..after {
            let Some(&y) = self.passes.get(&(layer, net)) else {
                continue;
            };
            self.leave(layer - first, net, (y, false));
            self.enter(layer + 1 - first, net, y);
        }
        self.leave(after - first, net, (end, true));
    }

    fn enter(&mut self, channel: usize, net: usize, y: f64) {
        let run = self.channels[channel].entry(net).or_default();
        if !run.left.contains(&y) {
            run.left.push(y);
        }
    }

    fn leave(&mut self, channel: usize, net: usize, end: (f64, bool)) {
        let run = self.channels[channel].entry(net).or_default();
        if !run.right.contains(&end) {
            run.right.push(end);
        }
    }

    /// Lays every way back below everything, the short ones uppermost.
    fn lay_backs(&mut self, backs: &BTreeMap<usize, (usize, usize)>, first: usize) {
        let mut ways: Vec<(usize, (usize, usize))> =
            backs.iter().map(|(net, way)| (*net, *way)).collect();
        ways.sort_by_key(|(net, (from, to))| (from - to, *net));
        for (net, (from, to)) in ways {
            self.height += APART;
            let y = self.height;
            // To the left of its driver a net has no other lines than these.
            for channel in &mut self.channels[to - first..=from - first] {
                if let Some(run) = channel.get_mut(&net) {
                    run.back = Some(y);
                }
            }
            self.backs.push(Back { net, y, from, to });
        }
        if !self.backs.is_empty() {
            self.height += APART;
        }
    }
}

/// Gives every net of a channel that is not straight a track, as few as will do.
fn lay_tracks(channel: &mut BTreeMap<usize, Run>) {
    /// Between two lines on one track, mm.
    const CLEAR: f64 = 1.0;
    let mut spans: Vec<(f64, f64, usize)> = channel
        .iter()
        .map(|(net, run)| (run.span().0, run.span().1, *net))
        .filter(|span| span.0 < span.1)
        .collect();
    spans.sort_by(|one, other| one.0.total_cmp(&other.0).then(one.2.cmp(&other.2)));
    let mut ends: Vec<f64> = Vec::new();
    for (low, high, net) in spans {
        let free = ends.iter().position(|end| end + CLEAR < low);
        let track = free.unwrap_or(ends.len());
        if track == ends.len() {
            ends.push(high);
        } else {
            ends[track] = high;
        }
        if let Some(run) = channel.get_mut(&net) {
            run.track = Some(track);
        }
    }
}

/// Upright tracks of a channel.
pub fn tracks(channel: &BTreeMap<usize, Run>) -> usize {
    let used = channel.values().filter_map(|run| run.track);
    used.map(|track| track + 1).max().unwrap_or(0)
}
