//! Shapes as the operators of a PDF content stream (ISO 32000-1, 8 and 9), in millimetres with y downwards.

use super::finite;
use super::letters::{self, Face, Letters};
use crate::draw::width::text_width;
use crate::draw::{Anchor, Area, Fill, Item, Point, Step, Stroke, Text, point};
use pdf_writer::types::{LineJoinStyle, TextRenderingMode};
use pdf_writer::{Content, Name, Str};

/// Name of the plain font in a page's resources.
pub const REGULAR: &[u8] = b"F1";
/// Name of the bold font.
pub const BOLD: &[u8] = b"F2";
/// Name of the font of ohms and arrows.
pub const SYMBOL: &[u8] = b"F3";
/// Name of the picture that a page shows.
pub const PICTURE: &[u8] = b"P1";

/// Thickness of the white rim round a text, half of it outside the letters.
const RIM: f32 = 0.8;

/// Writes shapes one after the other.
pub struct Writer {
    /// What has been written.
    pub content: Content,
}

impl Default for Writer {
    fn default() -> Self {
        let mut content = Content::new();
        content.set_line_join(LineJoinStyle::RoundJoin);
        Self { content }
    }
}

impl Writer {
    /// The stream.
    pub fn finish(self) -> Vec<u8> {
        self.content.finish().to_vec()
    }

    /// Writes one shape.
    pub fn item(&mut self, item: &Item) {
        match item {
            Item::Line { from, to, stroke } => {
                self.shape(&course(&[*from, *to]), Some(*stroke), Fill::None);
            }
            Item::Polyline { points, stroke } if 1 < points.len() => {
                self.shape(&course(points), Some(*stroke), Fill::None);
            }
            Item::Polyline { .. } => {}
            Item::Rectangle { area, stroke, fill } => {
                self.shape(&rectangle(area), *stroke, *fill);
            }
            Item::Circle {
                centre,
                radius,
                stroke,
                fill,
            } => {
                let mut steps = arc(*centre, *radius, 0.0, 360.0);
                steps.push(Step::Close);
                self.shape(&steps, *stroke, *fill);
            }
            Item::Arc {
                centre,
                radius,
                start,
                sweep,
                stroke,
            } => {
                let steps = arc(*centre, *radius, *start, *sweep);
                self.shape(&steps, Some(*stroke), Fill::None);
            }
            Item::Text(text) => self.text(text),
            Item::Path {
                steps,
                stroke,
                fill,
            } => self.shape(steps, *stroke, *fill),
            Item::Group {
                offset,
                clip,
                items,
            } => {
                self.content.save_state();
                let (x, y) = (finite(offset.x), finite(offset.y));
                self.content.transform([1.0, 0.0, 0.0, 1.0, x, y]);
                if let Some(area) = clip {
                    self.clip(&rectangle(area));
                }
                for item in items {
                    self.item(item);
                }
                self.content.restore_state();
            }
        }
    }

    /// Nothing is drawn outside the area until the state is restored.
    pub fn clip_to(&mut self, area: &Area) {
        self.clip(&rectangle(area));
    }

    fn clip(&mut self, steps: &[Step]) {
        self.outline(steps);
        self.content.clip_nonzero().end_path();
    }

    /// Fills and strokes an outline. Pen and fill are set before it is written (ISO 32000-1, figure 9).
    fn shape(&mut self, steps: &[Step], stroke: Option<Stroke>, fill: Fill) {
        if !matches!(steps.first(), Some(Step::Move(_))) {
            return;
        }
        let grey = match fill {
            Fill::None => None,
            Fill::Paper => Some(1.0),
            Fill::Light => Some(0.91),
            Fill::Dark => Some(0.416),
            Fill::Ink => Some(0.0),
            Fill::Hatched => {
                self.hatch(steps);
                None
            }
        };
        if let Some(grey) = grey {
            self.content.set_fill_gray(grey);
        }
        if let Some(stroke) = stroke {
            self.pen(stroke);
        }
        if grey.is_none() && stroke.is_none() {
            return;
        }
        self.outline(steps);
        match (stroke.is_some(), grey.is_some()) {
            (true, true) => self.content.fill_nonzero_and_stroke(),
            (true, false) => self.content.stroke(),
            (false, _) => self.content.fill_nonzero(),
        };
    }

    fn outline(&mut self, steps: &[Step]) {
        let pair = |at: &Point| (finite(at.x), finite(at.y));
        for step in steps {
            match step {
                Step::Move(to) => {
                    let (x, y) = pair(to);
                    self.content.move_to(x, y)
                }
                Step::Line(to) => {
                    let (x, y) = pair(to);
                    self.content.line_to(x, y)
                }
                Step::Curve(first, second, to) => {
                    let ((x1, y1), (x2, y2), (x, y)) = (pair(first), pair(second), pair(to));
                    self.content.cubic_to(x1, y1, x2, y2, x, y)
                }
                Step::Close => self.content.close_path(),
            };
        }
    }

    fn pen(&mut self, stroke: Stroke) {
        let [red, green, blue] = stroke.colour().map(|part| f32::from(part) / 255.0);
        self.content.set_stroke_rgb(red, green, blue);
        self.content
            .set_line_width(finite(stroke.weight.millimetres()));
        let dashes = stroke.dashes().iter().map(|&length| finite(length));
        self.content.set_dash_pattern(dashes, 0.0);
    }

    /// Slanted lines inside an outline, the same as in an SVG. Drawn one by one: readers do not agree on where a pattern inside
    /// a picture inside a page takes its scale from.
    fn hatch(&mut self, steps: &[Step]) {
        /// Between lines, across them.
        const APART: f64 = 1.2;
        /// No sheet needs more.
        const MOST_LINES: f64 = 2000.0;
        let Some((low, high)) = bounds(steps) else {
            return;
        };
        let pitch = APART * std::f64::consts::SQRT_2;
        let first = ((low.x + low.y) / pitch).floor();
        let lines = ((high.x + high.y) / pitch - first).clamp(0.0, MOST_LINES);
        self.content.save_state();
        self.clip(steps);
        self.content.set_stroke_gray(0.0).set_line_width(0.2);
        self.content.set_dash_pattern([], 0.0);
        for number in 0..=lines.ceil() as usize {
            // Along a line the sum of x and y is the same.
            let sum = (first + number as f64) * pitch;
            self.content
                .move_to(finite(sum - low.y), finite(low.y))
                .line_to(finite(sum - high.y), finite(high.y));
        }
        self.content.stroke();
        self.content.restore_state();
    }

    /// Set to the width that the layout counted with; letters are turned back upright.
    fn text(&mut self, text: &Text) {
        let width = text_width(&text.content, text.size, text.bold);
        if width.is_nan() || width <= 0.0 {
            return;
        }
        let back = match text.anchor {
            Anchor::Start => 0.0,
            Anchor::Middle => width / 2.0,
            Anchor::End => width,
        };
        let (sin, cos) = text.rotation.to_radians().sin_cos();
        let from = point(text.at.x - back * cos, text.at.y - back * sin);
        let letters = letters::set(&text.content, text.bold);
        let content = &mut self.content;
        content.save_state();
        content.begin_text();
        content.set_horizontal_scaling(finite(100.0 * letters.stretch));
        let matrix = [cos, sin, sin, -cos, from.x, from.y].map(finite);
        if text.rimmed {
            content.set_stroke_gray(1.0).set_line_width(RIM);
            content.set_dash_pattern([], 0.0);
            content.set_text_rendering_mode(TextRenderingMode::Stroke);
            show(content, matrix, &letters, text);
            content.set_text_rendering_mode(TextRenderingMode::Fill);
        }
        content.set_fill_gray(0.0);
        show(content, matrix, &letters, text);
        content.end_text();
        content.restore_state();
    }
}

/// Shows a text run by run; each begins where the one before ended.
fn show(content: &mut Content, matrix: [f32; 6], letters: &Letters, text: &Text) {
    content.set_text_matrix(matrix);
    for (face, bytes) in &letters.runs {
        let font = match face {
            Face::Symbol => SYMBOL,
            Face::Latin if text.bold => BOLD,
            Face::Latin => REGULAR,
        };
        content.set_font(Name(font), finite(text.size));
        content.show(Str(bytes));
    }
}

fn course(points: &[Point]) -> Vec<Step> {
    let steps = points.iter().enumerate();
    steps
        .map(|(idx, &at)| {
            if idx == 0 {
                Step::Move(at)
            } else {
                Step::Line(at)
            }
        })
        .collect()
}

fn rectangle(area: &Area) -> Vec<Step> {
    let (right, bottom) = (area.x + area.width.max(0.0), area.y + area.height.max(0.0));
    let mut steps = course(&[
        point(area.x, area.y),
        point(right, area.y),
        point(right, bottom),
        point(area.x, bottom),
    ]);
    steps.push(Step::Close);
    steps
}

/// Part of a circle as cubic curves of at most a quarter turn each. The control points of a turn by `t` lie 4/3·tan(t/4)
/// radii along the tangents (derived: the curve's middle then lies on the circle), which is true to the circle within
/// 0.03 % of the radius.
fn arc(centre: Point, radius: f64, start: f64, sweep: f64) -> Vec<Step> {
    let sweep = if sweep.is_finite() {
        sweep.clamp(-360.0, 360.0)
    } else {
        0.0
    };
    let pieces = (sweep.abs() / 90.0).ceil().max(1.0);
    let turn = (sweep / pieces).to_radians();
    let reach = 4.0 / 3.0 * (turn / 4.0).tan() * radius;
    // A point of the circle, and the same moved along the tangent.
    let on = |angle: f64, along: f64| {
        let (sin, cos) = angle.sin_cos();
        point(
            centre.x + radius * cos - along * sin,
            centre.y + radius * sin + along * cos,
        )
    };
    let mut angle = start.to_radians();
    let mut steps = vec![Step::Move(on(angle, 0.0))];
    for _ in 0..pieces as usize {
        let next = angle + turn;
        steps.push(Step::Curve(
            on(angle, reach),
            on(next, -reach),
            on(next, 0.0),
        ));
        angle = next;
    }
    steps
}

/// Least and greatest x and y of an outline's points, control points too; `None` where a number is none.
fn bounds(steps: &[Step]) -> Option<(Point, Point)> {
    let points = steps.iter().flat_map(|step| match step {
        Step::Move(to) | Step::Line(to) => vec![*to],
        Step::Curve(first, second, to) => vec![*first, *second, *to],
        Step::Close => Vec::new(),
    });
    let all: Vec<Point> = points.collect();
    let finite = all.iter().all(|at| at.x.is_finite() && at.y.is_finite());
    let pick = |choose: fn(f64, f64) -> f64| {
        all.iter()
            .copied()
            .reduce(|one, other| point(choose(one.x, other.x), choose(one.y, other.y)))
    };
    pick(f64::min).zip(pick(f64::max)).filter(|_| finite)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A circle of radius r is met within 0.03 % by quarter turns (a well-known bound, from memory).
    #[test]
    fn arcs_stay_on_their_circle() {
        let steps = arc(point(3.0, 4.0), 10.0, 20.0, -250.0);
        let mut from = point(0.0, 0.0);
        for step in steps {
            match step {
                Step::Move(to) => from = to,
                Step::Curve(first, second, to) => {
                    for share in [0.0, 0.25, 0.5, 0.75, 1.0_f64] {
                        let rest = 1.0 - share;
                        let weights = [
                            rest.powi(3),
                            3.0 * rest * rest * share,
                            3.0 * rest * share * share,
                            share.powi(3),
                        ];
                        let ends = [from, first, second, to];
                        let at = weights
                            .iter()
                            .zip(ends)
                            .fold((0.0, 0.0), |sum, (weight, at)| {
                                (sum.0 + weight * at.x, sum.1 + weight * at.y)
                            });
                        let radius = (at.0 - 3.0).hypot(at.1 - 4.0);
                        assert!((radius - 10.0).abs() < 0.003, "{radius}");
                    }
                    from = to;
                }
                _ => panic!("an arc is made of curves"),
            }
        }
        let end = (20.0_f64 - 250.0).to_radians();
        assert!((from.x - 3.0 - 10.0 * end.cos()).abs() < 1e-9);
        assert!((from.y - 4.0 - 10.0 * end.sin()).abs() < 1e-9);
    }
}
