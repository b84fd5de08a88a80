//! Symbols of parts with two ends and of supplies, after IEEE 315 (the zigzag resistor) with the marks of the same
//! standard; shapes from general knowledge of IEEE 315 and IEC 60617, proportions our own.

use super::sketch::{LINE_STROKE, Sketch, spanned};
use crate::draw::{Area, Fill, Item, Point, Step, point};
use design::model::PartKind;
use devices::types::DiodeKind;

/// How a two-ended symbol lies: from its origin along the sheet, its first end at the near or at the far side.
#[derive(Debug, Clone, Copy)]
pub(super) struct Lie {
    /// Along x (else along y).
    pub level: bool,
    /// The first end is on the right or below.
    pub reversed: bool,
    /// Where the body begins.
    pub origin: Point,
    /// Length of the body.
    pub length: f64,
}

impl Lie {
    /// A place by its distance along the symbol from the first end, and across it (to the right of a vertical one,
    /// downwards of a level one).
    fn at(&self, along: f64, across: f64) -> Point {
        let along = if self.reversed {
            self.length - along
        } else {
            along
        };
        if self.level {
            point(self.origin.x + along, self.origin.y + across)
        } else {
            point(self.origin.x + across, self.origin.y + along)
        }
    }

    fn line(&self, sketch: &mut Sketch, course: &[(f64, f64)]) {
        sketch.items.push(Item::Polyline {
            points: course
                .iter()
                .map(|(along, across)| self.at(*along, *across))
                .collect(),
            stroke: LINE_STROKE,
        });
    }

    fn filled(&self, sketch: &mut Sketch, course: &[(f64, f64)], fill: Fill) {
        let mut steps: Vec<Step> = Vec::new();
        for (along, across) in course {
            let at = self.at(*along, *across);
            steps.push(if steps.is_empty() {
                Step::Move(at)
            } else {
                Step::Line(at)
            });
        }
        steps.push(Step::Close);
        sketch.items.push(Item::Path {
            steps,
            stroke: Some(LINE_STROKE),
            fill,
        });
    }

    fn circle(&self, sketch: &mut Sketch, along: f64, radius: f64, fill: Fill) {
        sketch.items.push(Item::Circle {
            centre: self.at(along, 0.0),
            radius,
            stroke: Some(LINE_STROKE),
            fill,
        });
    }
}

/// Length of the body and half its width, millimetres.
pub(super) fn size(kind: &PartKind) -> (f64, f64) {
    match kind {
        PartKind::Resistor { .. } | PartKind::Trimmer { .. } => (6.6, 1.3),
        PartKind::Capacitor { .. } => (1.3, 2.3),
        PartKind::Inductor { .. } => (6.8, 1.5),
        PartKind::Diode { device, .. } if device.kind == DiodeKind::Zener => (3.5, 1.7),
        PartKind::Diode { .. } => (2.8, 1.7),
        PartKind::Neon { .. } => (5.2, 2.6),
        PartKind::Switch { .. } => (6.2, 2.2),
        PartKind::Source { .. } => (5.0, 2.3),
        PartKind::Tube(_) => (0.0, 0.0),
    }
}

/// The body of a two-ended part; its ends lie at the ends of the body.
pub(super) fn body(sketch: &mut Sketch, kind: &PartKind, lie: Lie) {
    match kind {
        PartKind::Resistor { .. } | PartKind::Trimmer { .. } => resistor(sketch, lie),
        PartKind::Capacitor { .. } => {
            for along in [0.0, 1.3] {
                lie.line(sketch, &[(along, -2.3), (along, 2.3)]);
            }
        }
        PartKind::Inductor { .. } => inductor(sketch, lie),
        PartKind::Diode { device, .. } => diode(sketch, lie, device.kind == DiodeKind::Zener),
        PartKind::Neon { .. } => neon(sketch, lie),
        PartKind::Switch { closed, .. } => switch(sketch, lie, *closed),
        PartKind::Source { .. } => source(sketch, lie),
        PartKind::Tube(_) => {}
    }
    let (length, half) = size(kind);
    sketch.symbol(spanned(lie.at(0.0, -half), lie.at(length, half)));
}

/// Three full waves of the zigzag (IEEE 315, item 2.1, from memory).
fn resistor(sketch: &mut Sketch, lie: Lie) {
    let mut course = vec![(0.0, 0.0)];
    for peak in 0..6 {
        let side = if peak % 2 == 0 { -1.3 } else { 1.3 };
        course.push((0.55 + 1.1 * f64::from(peak), side));
    }
    course.push((6.6, 0.0));
    lie.line(sketch, &course);
}

fn inductor(sketch: &mut Sketch, lie: Lie) {
    const TURN: f64 = 1.7;
    let mut steps = vec![Step::Move(lie.at(0.0, 0.0))];
    for turn in 0..4 {
        let from = f64::from(turn) * TURN;
        steps.push(Step::Curve(
            lie.at(from, -2.0),
            lie.at(from + TURN, -2.0),
            lie.at(from + TURN, 0.0),
        ));
    }
    sketch.items.push(Item::Path {
        steps,
        stroke: Some(LINE_STROKE),
        fill: Fill::None,
    });
}

/// The triangle points from anode to cathode; the bar of a zener diode has its ends bent.
fn diode(sketch: &mut Sketch, lie: Lie, zener: bool) {
    lie.filled(sketch, &[(0.0, -1.5), (0.0, 1.5), (2.8, 0.0)], Fill::Ink);
    if zener {
        lie.line(sketch, &[(2.1, -1.7), (2.8, -1.7), (2.8, 1.7), (3.5, 1.7)]);
        lie.line(sketch, &[(2.8, 0.0), (3.5, 0.0)]);
    } else {
        lie.line(sketch, &[(2.8, -1.7), (2.8, 1.7)]);
    }
}

/// Two electrodes in a bulb with the dot of a gas filling.
fn neon(sketch: &mut Sketch, lie: Lie) {
    lie.circle(sketch, 2.6, 2.6, Fill::Paper);
    lie.line(sketch, &[(0.0, 0.0), (1.8, 0.0)]);
    lie.line(sketch, &[(3.4, 0.0), (5.2, 0.0)]);
    for along in [1.8, 3.4] {
        lie.line(sketch, &[(along, -1.3), (along, 1.3)]);
    }
    sketch.items.push(Item::Circle {
        centre: lie.at(3.4, 1.75),
        radius: 0.3,
        stroke: None,
        fill: Fill::Ink,
    });
}

fn switch(sketch: &mut Sketch, lie: Lie, closed: bool) {
    let far = if closed { (5.1, -0.5) } else { (5.1, -2.0) };
    lie.line(sketch, &[(0.9, -0.4), far]);
    for along in [0.5, 5.7] {
        lie.circle(sketch, along, 0.5, Fill::Paper);
    }
}

/// Two cells; the long plates are plus, and a plus sign says so.
fn source(sketch: &mut Sketch, lie: Lie) {
    lie.line(sketch, &[(0.0, 0.0), (2.3, 0.0)]);
    for (along, half) in [(2.3, 2.3), (3.2, 1.1), (4.1, 2.3), (5.0, 1.1)] {
        lie.line(sketch, &[(along, -half), (along, half)]);
    }
    lie.line(sketch, &[(0.5, -1.4), (1.7, -1.4)]);
    lie.line(sketch, &[(1.1, -2.0), (1.1, -0.8)]);
}

/// The arrow of a sliding contact, its point on the body of a resistor.
pub(super) fn slider(sketch: &mut Sketch, tip: Point, tail: Point) {
    sketch.items.push(Item::Line {
        from: tail,
        to: tip,
        stroke: LINE_STROKE,
    });
    let (dx, dy) = ((tail.x - tip.x).signum(), (tail.y - tip.y).signum());
    let level = (tail.x - tip.x).abs() > (tail.y - tip.y).abs();
    let wing = |side: f64| {
        if level {
            point(tip.x + 1.2 * dx, tip.y + 0.55 * side)
        } else {
            point(tip.x + 0.55 * side, tip.y + 1.2 * dy)
        }
    };
    sketch.items.push(Item::Path {
        steps: vec![
            Step::Move(tip),
            Step::Line(wing(1.0)),
            Step::Line(wing(-1.0)),
            Step::Close,
        ],
        stroke: None,
        fill: Fill::Ink,
    });
    sketch.take(spanned(tip, tail));
}

/// Ground below a place: three bars, each shorter than the one above.
pub(super) fn ground(sketch: &mut Sketch, at: Point) {
    for (idx, half) in [2.2, 1.4, 0.6].into_iter().enumerate() {
        let y = at.y + 0.8 * idx as f64;
        sketch.items.push(Item::Line {
            from: point(at.x - half, y),
            to: point(at.x + half, y),
            stroke: LINE_STROKE,
        });
    }
    sketch.symbol(Area {
        x: at.x - 2.2,
        y: at.y,
        width: 4.4,
        height: 1.6,
    });
}

/// A bar across the end of a wire: a rail.
pub(super) fn bar(sketch: &mut Sketch, at: Point) {
    sketch.items.push(Item::Line {
        from: point(at.x - 2.2, at.y),
        to: point(at.x + 2.2, at.y),
        stroke: crate::draw::Stroke::HEAVY,
    });
    sketch.take(spanned(
        point(at.x - 2.2, at.y - 0.25),
        point(at.x + 2.2, at.y + 0.25),
    ));
}

/// A small open circle: where a signal enters or leaves the circuit.
pub(super) fn port(sketch: &mut Sketch, at: Point) {
    sketch.items.push(Item::Circle {
        centre: at,
        radius: 0.6,
        stroke: Some(LINE_STROKE),
        fill: Fill::Paper,
    });
    sketch.take(spanned(
        point(at.x - 0.6, at.y - 0.6),
        point(at.x + 0.6, at.y + 0.6),
    ));
}
