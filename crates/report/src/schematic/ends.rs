//! Where a drawn wire ends: at a rail, at ground, at the name of a net; and parts with two ends, standing or lying.

use super::Schematic;
use super::frame::{self, Changed};
use super::sketch::{Line, Sketch, Way, block_height, block_width, broken, spanned, write};
use super::symbols::{self, Lie};
use super::writing;
use crate::draw::{Anchor, Area, point};
use design::model::{NodeKind, PartKind};

/// To which side a piece of the drawing grows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Side {
    Left,
    Right,
}

impl Side {
    /// -1 or 1.
    pub fn sign(self) -> f64 {
        match self {
            Side::Left => -1.0,
            Side::Right => 1.0,
        }
    }
}

/// Shortest wire at either end of a body.
const LEAD: f64 = 1.4;
/// Wire between a node and the name beside it.
const STUB: f64 = 2.5;
/// Between a wire and the text at its end.
const TEXT_GAP: f64 = 0.8;

/// Ground, or a rail.
pub(super) fn is_supply(subject: &Schematic, node: usize) -> bool {
    matches!(
        subject.circuit.nodes[node].kind,
        NodeKind::Ground | NodeKind::Rail(_)
    )
}

/// A rail above ground: drawn on top.
pub(super) fn is_above(subject: &Schematic, node: usize) -> bool {
    match subject.circuit.nodes[node].kind {
        NodeKind::Rail(rail) => 0.0 < subject.design.rails[rail.0].volts,
        _ => false,
    }
}

/// A wire that goes up to a bar (a rail) or a name.
pub(super) fn above(subject: &Schematic, node: usize) -> Sketch {
    let mut sketch = Sketch::new();
    let supply = is_supply(subject, node);
    let end = point(0.0, -STUB);
    sketch.wire(point(0.0, 0.0), end);
    sketch.name(&subject.circuit.nodes[node].name, end);
    if supply {
        symbols::bar(&mut sketch, end);
    }
    let lines = broken(&writing::net(subject, node));
    let top = end.y - TEXT_GAP - block_height(&lines);
    write(&mut sketch, &lines, point(0.0, top), Anchor::Middle);
    sketch
}

/// A wire that goes down to ground, a bar (a rail) or a name.
pub(super) fn below(subject: &Schematic, node: usize) -> Sketch {
    let mut sketch = Sketch::new();
    let end = point(0.0, STUB);
    sketch.wire(point(0.0, 0.0), end);
    sketch.name(&subject.circuit.nodes[node].name, end);
    if subject.circuit.nodes[node].kind == NodeKind::Ground {
        symbols::ground(&mut sketch, end);
        return sketch;
    }
    if is_supply(subject, node) {
        symbols::bar(&mut sketch, end);
    }
    let lines = broken(&writing::net(subject, node));
    write(
        &mut sketch,
        &lines,
        point(0.0, end.y + TEXT_GAP),
        Anchor::Middle,
    );
    sketch
}

/// A wire that goes to a side and ends there: at a name, with a circle where a signal enters or leaves; a supply turns
/// up or down to its symbol.
pub(super) fn beside(subject: &Schematic, node: usize, side: Side) -> Sketch {
    let sign = side.sign();
    let mut sketch = Sketch::new();
    let origin = point(0.0, 0.0);
    if is_supply(subject, node) {
        let corner = point(sign * 3.0, 0.0);
        sketch.wire(origin, corner);
        let end = if is_above(subject, node) {
            above(subject, node)
        } else {
            below(subject, node)
        };
        sketch.add(end, corner);
        return sketch;
    }
    let end = point(sign * STUB, 0.0);
    sketch.wire(origin, end);
    sketch.name(&subject.circuit.nodes[node].name, end);
    let mut text = end.x + sign * TEXT_GAP;
    if enters_or_leaves(subject, node, side) {
        symbols::port(&mut sketch, end);
        text += sign * 0.6;
    }
    let lines = broken(&writing::net(subject, node));
    let anchor = if side == Side::Left {
        Anchor::End
    } else {
        Anchor::Start
    };
    let top = -block_height(&lines) / 2.0;
    write(&mut sketch, &lines, point(text, top), anchor);
    sketch
}

/// Inputs enter on the left, outputs leave on the right.
fn enters_or_leaves(subject: &Schematic, node: usize, side: Side) -> bool {
    let inputs = subject.circuit.interface.inputs;
    match subject.circuit.nodes[node].kind {
        NodeKind::Signal(signal) => (signal < inputs) == (side == Side::Left),
        _ => false,
    }
}

/// What an upright node keeps free above and below itself for its name.
pub(super) fn clear(subject: &Schematic, node: usize) -> f64 {
    block_height(&broken(&writing::net(subject, node))) / 2.0 + 0.6
}

/// Name and volts of a node, written along its wire, which begins at the origin: above it or under it.
pub(super) fn along(subject: &Schematic, node: usize, side: Side, under: bool) -> Sketch {
    let mut sketch = Sketch::new();
    let lines = broken(&writing::net(subject, node));
    let anchor = if side == Side::Left {
        Anchor::End
    } else {
        Anchor::Start
    };
    let top = if under {
        TEXT_GAP
    } else {
        -TEXT_GAP - block_height(&lines)
    };
    write(&mut sketch, &lines, point(0.0, top), anchor);
    sketch.name(&subject.circuit.nodes[node].name, point(0.0, 0.0));
    sketch
}

/// A part standing upright from the origin downwards to `length`, its first end on top unless `reversed`; the writing on
/// its right.
pub(super) struct Standing {
    pub sketch: Sketch,
    pub length: f64,
}

pub(super) fn standing(subject: &Schematic, part: usize, reversed: bool) -> Standing {
    let kind = &subject.circuit.parts[part].kind;
    let (body, half) = symbols::size(kind);
    let (forward, backward) = if reversed {
        (Way::Up, Way::Down)
    } else {
        (Way::Down, Way::Up)
    };
    let mut lines = writing::mark_and_value(subject, part);
    lines.extend(writing::current(subject, part, forward, backward));
    let lines = broken(&lines);
    let slider = slider_lines(subject, kind);
    let slider_height = block_height(&slider);
    // The writing of a trimmer stands above the name of its slider.
    let text_height = block_height(&lines)
        + if slider.is_empty() {
            0.0
        } else {
            slider_height + TEXT_GAP
        };
    let beyond = room_beside(subject, part);
    let mut length = (body + 2.0 * LEAD.max(beyond)).max(text_height + 2.0 * beyond);
    let mut from = (length - body) / 2.0;
    let mut top = (length - text_height) / 2.0;
    if !slider.is_empty() {
        top = beyond;
        from = top + text_height - slider_height / 2.0 - body / 2.0;
        length = length.max(from + body + LEAD);
    }
    let mut sketch = Sketch::new();
    let lie = Lie {
        level: false,
        reversed,
        origin: point(0.0, from),
        length: body,
    };
    symbols::body(&mut sketch, kind, lie);
    sketch.wire(point(0.0, 0.0), point(0.0, from));
    sketch.wire(point(0.0, from + body), point(0.0, length));
    let (first, second) = if reversed {
        (from + body, from)
    } else {
        (from, from + body)
    };
    sketch.terminal(part, 0, point(0.0, first));
    sketch.terminal(part, 1, point(0.0, second));
    let left = half + 1.0;
    write(&mut sketch, &lines, point(left, top), Anchor::Start);
    if let PartKind::Trimmer { slider: node, .. } = kind {
        let tail = point(half + 3.0, from + body / 2.0);
        symbols::slider(&mut sketch, point(half - 0.6, tail.y), tail);
        sketch.terminal(part, 2, tail);
        sketch.name(&subject.circuit.nodes[*node].name, tail);
        let place = point(tail.x + TEXT_GAP, tail.y - slider_height / 2.0);
        write(&mut sketch, &slider, place, Anchor::Start);
    }
    mark_change(
        subject,
        part,
        &mut sketch,
        Changed {
            whole: Area {
                x: -half,
                y: from.min(top),
                width: half + left + block_width(&lines),
                height: body.max(block_height(&lines)),
            },
            symbol: spanned(point(-half, from), point(half, from + body)),
        },
    );
    Standing { sketch, length }
}

fn slider_lines(subject: &Schematic, kind: &PartKind) -> Vec<Line> {
    match kind {
        PartKind::Trimmer { slider, .. } => broken(&writing::net(subject, *slider)),
        _ => Vec::new(),
    }
}

/// How long a lying part is at least.
pub(super) fn lying_length(subject: &Schematic, part: usize) -> f64 {
    let kind = &subject.circuit.parts[part].kind;
    let (over, under) = lying_lines(subject, part, false);
    let mut text = block_width(&over).max(block_width(&under)) + 1.8;
    if is_changed(subject, part) {
        text += 2.0 * FRAME_ROOM;
    }
    (symbols::size(kind).0 + 2.0 * LEAD)
        .max(text)
        .max(block_width(&slider_lines(subject, kind)) + 1.8)
}

fn lying_lines(subject: &Schematic, part: usize, reversed: bool) -> (Vec<Line>, Vec<Line>) {
    let (forward, backward) = if reversed {
        (Way::Left, Way::Right)
    } else {
        (Way::Right, Way::Left)
    };
    let over = broken(&writing::mark_and_value(subject, part));
    let under: Vec<Line> = writing::current(subject, part, forward, backward)
        .into_iter()
        .collect();
    (over, under)
}

/// A part lying from the origin to the right to `length`, its first end on the left unless `reversed`; mark and value
/// above it, current below.
pub(super) fn lying(subject: &Schematic, part: usize, reversed: bool, length: f64) -> Sketch {
    let kind = &subject.circuit.parts[part].kind;
    let (body, half) = symbols::size(kind);
    let (mut over, mut under) = lying_lines(subject, part, reversed);
    let mut sketch = Sketch::new();
    let from = (length - body) / 2.0;
    let lie = Lie {
        level: true,
        reversed,
        origin: point(from, 0.0),
        length: body,
    };
    symbols::body(&mut sketch, kind, lie);
    sketch.wire(point(0.0, 0.0), point(from, 0.0));
    sketch.wire(point(from + body, 0.0), point(length, 0.0));
    let (first, second) = if reversed {
        (from + body, from)
    } else {
        (from, from + body)
    };
    sketch.terminal(part, 0, point(first, 0.0));
    sketch.terminal(part, 1, point(second, 0.0));
    let middle = length / 2.0;
    if let PartKind::Trimmer { slider: node, .. } = kind {
        over.append(&mut under);
        let tail = point(middle, half + 3.0);
        symbols::slider(&mut sketch, point(middle, half - 0.6), tail);
        sketch.terminal(part, 2, tail);
        sketch.name(&subject.circuit.nodes[*node].name, tail);
        let lines = slider_lines(subject, kind);
        write(
            &mut sketch,
            &lines,
            point(middle, tail.y + TEXT_GAP),
            Anchor::Middle,
        );
    }
    let top = -half - 0.7 - block_height(&over);
    write(&mut sketch, &over, point(middle, top), Anchor::Middle);
    write(
        &mut sketch,
        &under,
        point(middle, half + 0.7),
        Anchor::Middle,
    );
    let width = block_width(&over).max(block_width(&under)).max(body);
    let bottom = half + 0.7 + block_height(&under);
    mark_change(
        subject,
        part,
        &mut sketch,
        Changed {
            whole: Area {
                x: middle - width / 2.0,
                y: top,
                width,
                height: bottom - top,
            },
            symbol: spanned(point(from, -half), point(from + body, half)),
        },
    );
    sketch
}

/// From what is framed to the next wire, so that the frame lies on none, millimetres.
const FRAME_ROOM: f64 = frame::GAP + 1.6;

fn is_changed(subject: &Schematic, part: usize) -> bool {
    let change = subject.change.as_ref();
    change.is_some_and(|change| change.part == part)
}

/// From what is written on a part to the next wire, millimetres.
pub(super) fn room_beside(subject: &Schematic, part: usize) -> f64 {
    if is_changed(subject, part) {
        FRAME_ROOM
    } else {
        0.8
    }
}

/// Notes a part that was changed, for the frame round it.
pub(super) fn mark_change(subject: &Schematic, part: usize, sketch: &mut Sketch, changed: Changed) {
    if is_changed(subject, part) {
        sketch.take(changed.whole.grown(frame::GAP + 0.3));
        sketch.changed.push(changed);
    }
}
