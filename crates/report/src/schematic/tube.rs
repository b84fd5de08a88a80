//! Symbols of tubes: envelope, plate on top, grids as broken lines, cathode below, after IEEE 315 and IEC 60617 (general
//! knowledge; proportions our own). Heaters stand in their strings and are left out; a filament that is its own cathode
//! is drawn as one.

use super::sketch::{LINE_STROKE, Sketch, spanned};
use crate::draw::{Fill, Ink, Item, Pattern, Point, Step, Stroke, Weight, point};
use design::model::TubePart;
use devices::types::TubeKind;

/// Where the leads of a tube leave its envelope, from its centre.
#[derive(Debug, Clone, Copy)]
pub(super) struct Shape {
    /// Of the envelope, millimetres.
    pub radius: f64,
    /// Height of the control grid, which leaves on the left.
    pub grid: f64,
    /// Height of the screen, which leaves on the right.
    pub screen: f64,
    /// Height of the suppressor, which leaves on the left.
    pub suppressor: f64,
    plate: f64,
    cathode: f64,
}

/// The shape for a tube with these electrodes.
pub(super) fn shape(tube: &TubePart) -> Shape {
    if has_suppressor(tube) {
        return Shape {
            radius: 7.5,
            grid: 2.0,
            screen: -0.3,
            suppressor: -2.6,
            plate: -4.8,
            cathode: 4.4,
        };
    }
    Shape {
        radius: 6.5,
        grid: if tube.screen.is_some() { 1.0 } else { 0.0 },
        screen: -1.2,
        suppressor: -2.2,
        plate: -3.4,
        cathode: 3.2,
    }
}

fn has_suppressor(tube: &TubePart) -> bool {
    tube.suppressor.is_some() || tube.device.kind == TubeKind::Pentode
}

/// Half the length of electrodes.
const HALF: f64 = 3.0;

/// The symbol round its centre.
pub(super) fn symbol(sketch: &mut Sketch, tube: &TubePart) {
    let shape = shape(tube);
    let radius = shape.radius;
    envelope(sketch, radius, 1 < tube.device.sections);
    line(sketch, &[(0.0, -radius), (0.0, shape.plate)]);
    line(sketch, &[(-HALF, shape.plate), (HALF, shape.plate)]);
    if tube.grid.is_some() {
        line(sketch, &[(-radius, shape.grid), (-HALF, shape.grid)]);
        broken(sketch, shape.grid);
    }
    if tube.screen.is_some() {
        line(sketch, &[(HALF, shape.screen), (radius, shape.screen)]);
        broken(sketch, shape.screen);
    }
    if has_suppressor(tube) {
        broken(sketch, shape.suppressor);
        if tube.suppressor.is_some() {
            line(
                sketch,
                &[(-radius, shape.suppressor), (-HALF, shape.suppressor)],
            );
        } else {
            let out = HALF + 1.4;
            let tie = [
                (HALF, shape.suppressor),
                (out, shape.suppressor),
                (out, shape.cathode),
                (HALF - 0.4, shape.cathode),
            ];
            line(sketch, &tie);
        }
    }
    let direct = tube
        .device
        .heater
        .as_ref()
        .is_some_and(|heater| heater.direct);
    if direct || tube.device.kind == TubeKind::IndicatorTriode {
        filament(sketch, shape);
    } else {
        let (y, half) = (shape.cathode, HALF - 0.4);
        line(
            sketch,
            &[(-half, y + 0.8), (-half, y), (half, y), (half, y + 0.8)],
        );
        line(sketch, &[(0.0, y), (0.0, radius)]);
    }
    if tube.device.kind == TubeKind::IndicatorTriode {
        glow(sketch, radius);
    }
    sketch.symbol(spanned(point(-radius, -radius), point(radius, radius)));
}

fn line(sketch: &mut Sketch, course: &[(f64, f64)]) {
    sketch.items.push(Item::Polyline {
        points: course.iter().map(|(x, y)| point(*x, *y)).collect(),
        stroke: LINE_STROKE,
    });
}

/// A whole circle; of a twin's half the side towards the other half is dashed.
fn envelope(sketch: &mut Sketch, radius: f64, half: bool) {
    let centre = point(0.0, 0.0);
    if !half {
        sketch.items.push(Item::Circle {
            centre,
            radius,
            stroke: Some(LINE_STROKE),
            fill: Fill::None,
        });
        return;
    }
    let dashed = Stroke::new(Pattern::Dashed, Weight::Normal, Ink::Black);
    for (start, sweep, stroke) in [(45.0, 270.0, LINE_STROKE), (-42.0, 84.0, dashed)] {
        sketch.items.push(Item::Arc {
            centre,
            radius,
            start,
            sweep,
            stroke,
        });
    }
}

/// A grid: four dashes.
fn broken(sketch: &mut Sketch, y: f64) {
    const DASH: f64 = 1.05;
    const STEP: f64 = (2.0 * HALF - DASH) / 3.0;
    for idx in 0..4 {
        let x = -HALF + STEP * f64::from(idx);
        line(sketch, &[(x, y), (x + DASH, y)]);
    }
}

/// A filament: the end that the circuit uses leaves below, the other ends in a circle and belongs to its heater string.
fn filament(sketch: &mut Sketch, shape: Shape) {
    let (top, foot, across) = (shape.cathode - 0.8, shape.cathode + 1.0, 1.4);
    let course = [
        (0.0, shape.radius),
        (0.0, foot),
        (across, top),
        (2.0 * across, foot),
    ];
    line(sketch, &course);
    sketch.items.push(Item::Circle {
        centre: point(2.0 * across, foot + 0.4),
        radius: 0.45,
        stroke: Some(LINE_STROKE),
        fill: Fill::Paper,
    });
}

/// Two arrows of light leaving at the upper right.
fn glow(sketch: &mut Sketch, radius: f64) {
    let at = |out: f64, side: f64| -> Point {
        let reach = radius * std::f64::consts::FRAC_1_SQRT_2 + out;
        point(reach + side, -reach + side)
    };
    for side in [-0.75, 0.75] {
        let (tail, tip) = (at(0.1, side), at(1.1, side));
        sketch.items.push(Item::Line {
            from: tail,
            to: tip,
            stroke: LINE_STROKE,
        });
        sketch.items.push(Item::Path {
            steps: vec![
                Step::Move(point(tip.x + 0.3, tip.y - 0.3)),
                Step::Line(point(tip.x - 0.75, tip.y + 0.05)),
                Step::Line(point(tip.x - 0.05, tip.y + 0.75)),
                Step::Close,
            ],
            stroke: None,
            fill: Fill::Ink,
        });
    }
}
