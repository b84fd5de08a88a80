//! Places of boxes: layers from left to right, an order within each layer that crosses few lines, and heights.
//!
//! The usual way for drawings of this kind (K. Sugiyama, S. Tagawa, M. Toda, IEEE Transactions SMC-11, 1981, from memory):
//! lines that close a loop are set aside, layers are longest ways, orders come from the middles of neighbours.

use super::boxes::{Kind, Node};
use petgraph::algo::{greedy_feedback_arc_set, toposort};
use petgraph::graph::{DiGraph, NodeIndex};
use petgraph::visit::EdgeRef as _;
use std::collections::BTreeMap;

/// Grid of all heights, mm. Inputs stand on its lines, outputs half way between two, lines that pass a layer a quarter off:
/// so no line ever seems to run on into one that is not its own.
pub const GRID: f64 = 3.2;
/// Lines over more layers than this are not drawn all the way; their ends are named instead.
pub const LONGEST: usize = 3;
/// Grid lines of a box above its first input: its two lines of text.
const HEAD: usize = 2;
/// Rounds of ordering; more change nothing in drawings of this size.
const ROUNDS: usize = 8;

/// Something that takes up height in a layer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Slot {
    /// A box.
    Box(usize),
    /// The line of a net that passes.
    Pass(usize),
}

/// Where everything stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Placed {
    /// Slots of each layer from above, each with the grid line of its upper edge.
    pub layers: Vec<Vec<(Slot, usize)>>,
    /// Layer of each box.
    pub layer_of: Vec<usize>,
}

/// Height of a slot in grid lines.
pub fn height(nodes: &[Node], slot: Slot) -> usize {
    match slot {
        Slot::Pass(_) => 1,
        Slot::Box(index) => match nodes[index].kind {
            Kind::Enters | Kind::Leaves => 2,
            Kind::Unit | Kind::Closed => HEAD + 2 * rows(&nodes[index]),
        },
    }
}

fn rows(node: &Node) -> usize {
    node.inputs.len().max(node.outputs.len()).max(1)
}

/// Height of an input below the upper edge of its box, mm.
pub fn input_offset(node: &Node, input: usize) -> f64 {
    let lines = match node.kind {
        Kind::Enters | Kind::Leaves => 1,
        Kind::Unit | Kind::Closed => HEAD + 2 * input + 1 + rows(node) - node.inputs.len(),
    };
    lines as f64 * GRID
}

/// Height of an output below the upper edge of its box, mm.
pub fn output_offset(node: &Node, output: usize) -> f64 {
    let lines = match node.kind {
        Kind::Enters | Kind::Leaves => return 0.5 * GRID,
        Kind::Unit | Kind::Closed => HEAD + 2 * output + rows(node) - node.outputs.len(),
    };
    (lines as f64 + 0.5) * GRID
}

/// Whether the line from a box in one layer to a box in another is drawn: not too long, or back to the left.
pub fn is_drawn(from: usize, to: usize) -> bool {
    to <= from + LONGEST
}

/// Gives every box its layer and height.
pub fn place(nodes: &[Node]) -> Placed {
    let layer_of = layers(nodes);
    let mut slots = slots(nodes, &layer_of);
    let ties = ties(nodes, &layer_of);
    order(&mut slots, &ties);
    let tops = tops(nodes, &slots, &ties);
    let with_tops = |(layer, tops): (Vec<Slot>, Vec<usize>)| layer.into_iter().zip(tops).collect();
    Placed {
        layers: slots.into_iter().zip(tops).map(with_tops).collect(),
        layer_of,
    }
}

/// The layout for a drawing of the layers from `first` to before `end` alone: without the lines that would pass them on
/// their way from or to other layers, and where none of them has anything, no more than a little is left free.
pub fn closed_up(nodes: &[Node], placed: &Placed, first: usize, end: usize) -> Placed {
    /// Grid lines left free at most.
    const FREE: usize = 2;
    let mut closed = placed.clone();
    for (layer, slots) in closed.layers.iter_mut().enumerate() {
        slots.retain(|(slot, _)| match slot {
            Slot::Box(_) => true,
            Slot::Pass(net) => passes_here(nodes, placed, (first, end), layer, *net),
        });
    }
    let slots = closed.layers[first..end].iter().flatten();
    let mut spans: Vec<(usize, usize)> = slots
        .map(|&(slot, top)| (top, top + height(nodes, slot)))
        .collect();
    spans.sort_unstable();
    // From which grid line on everything moves up, and by how many lines in all.
    let mut moves = vec![(0, 0)];
    let mut reach = spans.first().map_or(0, |span| span.0);
    for (top, bottom) in spans {
        let free = top.saturating_sub(reach);
        if FREE < free {
            let before = moves.last().map_or(0, |last| last.1);
            moves.push((top, before + free - FREE));
        }
        reach = reach.max(bottom);
    }
    for (_, top) in closed.layers[first..end].iter_mut().flatten() {
        let last = moves.iter().rev().find(|(from, _)| from <= top);
        *top -= last.map_or(0, |last| last.1);
    }
    closed
}

/// Whether the line of a net passes a layer on its way between two boxes of the layers from `first` to before `end`.
fn passes_here(
    nodes: &[Node],
    placed: &Placed,
    (first, end): (usize, usize),
    layer: usize,
    net: usize,
) -> bool {
    let here = |node: usize| (first..end).contains(&placed.layer_of[node]);
    nodes.iter().enumerate().any(|(to, node)| {
        let own = node.inputs.iter().filter(|input| input.net == net);
        let mut drivers = own.filter_map(|input| input.drivers.first());
        drivers.any(|&(driver, _)| {
            let ends = (placed.layer_of[driver], placed.layer_of[to]);
            here(driver) && here(to) && ends.0 < layer && layer < ends.1
        })
    })
}

/// The longest way from the left to each box, lines that close a loop left out.
fn layers(nodes: &[Node]) -> Vec<usize> {
    let mut graph: DiGraph<(), (), usize> = DiGraph::default();
    for _ in nodes {
        graph.add_node(());
    }
    for (to, node) in nodes.iter().enumerate() {
        for &(from, _) in node.inputs.iter().flat_map(|input| &input.drivers) {
            graph.update_edge(NodeIndex::new(from), NodeIndex::new(to), ());
        }
    }
    let back: Vec<_> = greedy_feedback_arc_set(&graph)
        .map(|edge| edge.id())
        .collect();
    graph.retain_edges(|_, edge| !back.contains(&edge));
    // Without the lines that close loops there is always an order.
    let sorted = toposort(&graph, None).unwrap_or_default();
    let mut layers = vec![0; nodes.len()];
    for &index in &sorted {
        let node = index.index();
        let least = usize::from(nodes[node].kind != Kind::Enters);
        let before = graph.neighbors_directed(index, petgraph::Incoming);
        layers[node] = before
            .map(|driver| layers[driver.index()] + 1)
            .fold(least, usize::max);
    }
    pull_right(nodes, &graph, &sorted, &mut layers);
    place_outside(nodes, &mut layers);
    let left = layers.iter().copied().min().unwrap_or(0);
    layers.into_iter().map(|layer| layer - left).collect()
}

/// What only nets from outside drive stands next to what it drives.
fn pull_right(
    nodes: &[Node],
    graph: &DiGraph<(), (), usize>,
    sorted: &[NodeIndex<usize>],
    layers: &mut [usize],
) {
    for &index in sorted.iter().rev() {
        let node = index.index();
        let mut before = graph.neighbors_directed(index, petgraph::Incoming);
        let is_inner = |kind: Kind| matches!(kind, Kind::Unit | Kind::Closed);
        if is_inner(nodes[node].kind) && before.all(|one| nodes[one.index()].kind == Kind::Enters) {
            let after = graph.neighbors_directed(index, petgraph::Outgoing);
            let nearest = after
                .filter(|one| is_inner(nodes[one.index()].kind))
                .map(|one| layers[one.index()])
                .min();
            layers[node] = nearest.map_or(layers[node], |nearest| layers[node].max(nearest - 1));
        }
    }
}

/// Nets that leave stand on the right; nets that enter on the left, or next to their first load where that is far.
fn place_outside(nodes: &[Node], layers: &mut [usize]) {
    let inner = |node: &usize| nodes[*node].kind != Kind::Leaves;
    let right = (0..nodes.len())
        .filter(inner)
        .map(|node| layers[node] + 1)
        .max();
    for (layer, node) in layers.iter_mut().zip(nodes) {
        if node.kind == Kind::Leaves {
            *layer = right.unwrap_or(0);
        }
    }
    for net in 0..nodes.len() {
        if nodes[net].kind == Kind::Enters {
            let loads = nodes.iter().zip(&*layers).filter(|(node, _)| {
                let mut drivers = node.inputs.iter().flat_map(|input| &input.drivers);
                drivers.any(|driver| driver.0 == net)
            });
            let first = loads.map(|load| *load.1).min().unwrap_or(0);
            layers[net] = if is_drawn(0, first) { 0 } else { first - 1 };
        }
    }
}

/// Boxes and passing lines of every layer.
fn slots(nodes: &[Node], layer_of: &[usize]) -> Vec<Vec<Slot>> {
    let count = layer_of.iter().map(|layer| layer + 1).max().unwrap_or(0);
    let mut slots = vec![Vec::new(); count];
    for (node, &layer) in layer_of.iter().enumerate() {
        slots[layer].push(Slot::Box(node));
    }
    for (net, (from, to)) in reaches(nodes, layer_of) {
        for layer in &mut slots[from + 1..to.max(from + 1)] {
            layer.push(Slot::Pass(net));
        }
    }
    slots
}

/// From which layer to which the line of each net goes forwards.
fn reaches(nodes: &[Node], layer_of: &[usize]) -> BTreeMap<usize, (usize, usize)> {
    let mut reaches: BTreeMap<usize, (usize, usize)> = BTreeMap::new();
    for (to, node) in nodes.iter().enumerate() {
        for input in &node.inputs {
            // Of several drivers, which is a fault of the text, the first is drawn.
            let Some(&(driver, _)) = input.drivers.first() else {
                continue;
            };
            let (from, to) = (layer_of[driver], layer_of[to]);
            if from < to && is_drawn(from, to) {
                let reach = reaches.entry(input.net).or_insert((from, to));
                reach.1 = reach.1.max(to);
            }
        }
    }
    reaches
}

/// Two slots of neighbouring layers that a line joins, with the heights below their upper edges where it meets them.
struct Tie {
    layer: usize,
    from: (Slot, f64),
    to: (Slot, f64),
}

/// Height of a passing line below the upper edge of its slot.
pub const PASS: f64 = 0.25 * GRID;

fn ties(nodes: &[Node], layer_of: &[usize]) -> Vec<Tie> {
    let mut ties = Vec::new();
    for (net, (from, to)) in reaches(nodes, layer_of) {
        for layer in from + 1..to.max(from + 2) - 1 {
            let pass = (Slot::Pass(net), PASS);
            ties.push(Tie {
                layer,
                from: pass,
                to: pass,
            });
        }
        if from + 1 < to
            && let Some((node, output)) = driver(nodes, net)
        {
            ties.push(Tie {
                layer: from,
                from: (Slot::Box(node), output_offset(&nodes[node], output)),
                to: (Slot::Pass(net), PASS),
            });
        }
    }
    for (to, node) in nodes.iter().enumerate() {
        for (index, input) in node.inputs.iter().enumerate() {
            let Some(&(driver, output)) = input.drivers.first() else {
                continue;
            };
            let (before, after) = (layer_of[driver], layer_of[to]);
            if before < after && is_drawn(before, after) {
                let from = if before + 1 == after {
                    (Slot::Box(driver), output_offset(&nodes[driver], output))
                } else {
                    (Slot::Pass(input.net), PASS)
                };
                ties.push(Tie {
                    layer: after - 1,
                    from,
                    to: (Slot::Box(to), input_offset(node, index)),
                });
            }
        }
    }
    ties
}

fn driver(nodes: &[Node], net: usize) -> Option<(usize, usize)> {
    let mut inputs = nodes.iter().flat_map(|node| &node.inputs);
    inputs
        .find(|input| input.net == net)?
        .drivers
        .first()
        .copied()
}

/// Orders every layer by the middles of its neighbours, from the left and from the right in turn.
fn order(slots: &mut [Vec<Slot>], ties: &[Tie]) {
    let position = |layer: &[Slot], slot: Slot| layer.iter().position(|other| *other == slot);
    let sort = |layer: &mut Vec<Slot>, pulls: &BTreeMap<Slot, Vec<f64>>| {
        let mean = |(index, slot): (usize, &Slot)| {
            let own = pulls.get(slot);
            own.map_or(index as f64, |all| {
                all.iter().sum::<f64>() / all.len() as f64
            })
        };
        let mut keyed: Vec<(f64, Slot)> = layer
            .iter()
            .enumerate()
            .map(mean)
            .zip(layer.iter().copied())
            .collect();
        keyed.sort_by(|one, other| one.0.total_cmp(&other.0));
        *layer = keyed.into_iter().map(|pair| pair.1).collect();
    };
    // A port further down pulls a little further down.
    const PORT: f64 = 0.02;
    for round in 0..ROUNDS {
        for step in 0..slots.len().saturating_sub(1) {
            let rightwards = round % 2 == 0;
            let layer = if rightwards {
                step
            } else {
                slots.len() - 2 - step
            };
            let (still, moved) = if rightwards {
                (layer, layer + 1)
            } else {
                (layer + 1, layer)
            };
            let mut pulls: BTreeMap<Slot, Vec<f64>> = BTreeMap::new();
            for tie in ties.iter().filter(|tie| tie.layer == layer) {
                let (near, far) = if rightwards {
                    (tie.from, tie.to)
                } else {
                    (tie.to, tie.from)
                };
                if let Some(place) = position(&slots[still], near.0) {
                    pulls
                        .entry(far.0)
                        .or_default()
                        .push(place as f64 + PORT * near.1);
                }
            }
            sort(&mut slots[moved], &pulls);
        }
    }
}

/// Grid lines of the upper edges: every slot as near as its neighbours in the order let it come to where its lines run straight.
fn tops(nodes: &[Node], slots: &[Vec<Slot>], ties: &[Tie]) -> Vec<Vec<usize>> {
    let mut tops: Vec<Vec<f64>> = slots
        .iter()
        .map(|layer| settled(nodes, layer, &vec![0.0; layer.len()]))
        .collect();
    for rightwards in [true, false, true, false, true] {
        for step in 0..slots.len().saturating_sub(1) {
            let layer = if rightwards {
                step
            } else {
                slots.len() - 2 - step
            };
            let (still, moved) = if rightwards {
                (layer, layer + 1)
            } else {
                (layer + 1, layer)
            };
            let mut wanted: Vec<Vec<f64>> = vec![Vec::new(); slots[moved].len()];
            for tie in ties.iter().filter(|tie| tie.layer == layer) {
                let (near, far) = if rightwards {
                    (tie.from, tie.to)
                } else {
                    (tie.to, tie.from)
                };
                let places = (
                    slots[still].iter().position(|slot| *slot == near.0),
                    slots[moved].iter().position(|slot| *slot == far.0),
                );
                if let (Some(near_place), Some(far_place)) = places {
                    let line = tops[still][near_place] + (near.1 - far.1) / GRID;
                    wanted[far_place].push(line);
                }
            }
            let wanted: Vec<f64> = wanted
                .iter()
                .zip(&tops[moved])
                .map(|(all, &now)| {
                    if all.is_empty() {
                        now
                    } else {
                        all.iter().sum::<f64>() / all.len() as f64
                    }
                })
                .collect();
            tops[moved] = settled(nodes, &slots[moved], &wanted);
        }
    }
    let least = tops
        .iter()
        .flatten()
        .copied()
        .reduce(f64::min)
        .unwrap_or(0.0);
    let line = |top: f64| (top - least).round() as usize;
    tops.into_iter()
        .map(|layer| layer.into_iter().map(line).collect())
        .collect()
}

/// Whole grid lines near the wanted ones, in the same order and without overlap: half way between what comes out when all give
/// way downwards and when all give way upwards.
fn settled(nodes: &[Node], layer: &[Slot], wanted: &[f64]) -> Vec<f64> {
    let room = |slot: Slot| {
        // A free line below every box; passing lines need none.
        let free = usize::from(matches!(slot, Slot::Box(_)));
        (height(nodes, slot) + free) as f64
    };
    let down_from = |wanted: &[f64]| {
        let mut next = f64::NEG_INFINITY;
        let tops = wanted.iter().zip(layer).map(|(&top, &slot)| {
            let top = top.max(next);
            next = top + room(slot);
            top
        });
        tops.collect::<Vec<f64>>()
    };
    let down = down_from(wanted);
    let mut next = f64::INFINITY;
    let mut up: Vec<f64> = wanted
        .iter()
        .zip(layer)
        .rev()
        .map(|(&top, &slot)| {
            next = top.min(next - room(slot));
            next
        })
        .collect();
    up.reverse();
    let middle: Vec<f64> = down
        .iter()
        .zip(&up)
        .map(|(one, other)| ((one + other) / 2.0).round())
        .collect();
    down_from(&middle)
}
