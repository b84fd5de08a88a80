//! Pieces of a drawing under construction: shapes with a record of what they stand for, and the room they take.

use super::frame::Changed;
use crate::draw::width::{text_width, wrapped};
use crate::draw::{Anchor, Area, DROP, Item, Point, RISE, Step, Stroke, Text, point};

/// Size of type of everything but pin numbers, millimetres.
pub(super) const TYPE: f64 = 2.4;
/// From base line to base line, millimetres.
pub(super) const LINE: f64 = 2.9;
/// Widest line of a text, millimetres; longer names are broken.
const WIDEST: f64 = 22.0;

/// A terminal of a part as drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Terminal {
    /// Index of the part in its circuit.
    pub part: usize,
    /// Which terminal: first and second end, slider; plate, grid, screen, suppressor, cathode.
    pub electrode: usize,
    /// Where it is.
    pub at: Point,
}

/// A name of a net written at the end or on the course of a wire; it stands for ground and rails as well.
#[derive(Debug, Clone, PartialEq)]
pub struct Name {
    /// The net as named in the circuit.
    pub net: String,
    /// A place on the wire that it names.
    pub at: Point,
}

/// Part of a drawing in its own coordinates.
#[derive(Debug, Clone)]
pub(super) struct Sketch {
    pub items: Vec<Item>,
    pub wires: Vec<[Point; 2]>,
    pub names: Vec<Name>,
    pub terminals: Vec<Terminal>,
    pub symbols: Vec<Area>,
    pub changed: Vec<Changed>,
    pub left: f64,
    pub top: f64,
    pub right: f64,
    pub bottom: f64,
}

impl Sketch {
    /// Nothing, at the origin.
    pub fn new() -> Self {
        Self {
            items: Vec::new(),
            wires: Vec::new(),
            names: Vec::new(),
            terminals: Vec::new(),
            symbols: Vec::new(),
            changed: Vec::new(),
            left: 0.0,
            top: 0.0,
            right: 0.0,
            bottom: 0.0,
        }
    }

    /// Keeps this area for itself.
    pub fn take(&mut self, area: Area) {
        self.left = self.left.min(area.x);
        self.top = self.top.min(area.y);
        self.right = self.right.max(area.right());
        self.bottom = self.bottom.max(area.bottom());
    }

    /// A wire along an axis; one without length is left out.
    pub fn wire(&mut self, from: Point, to: Point) {
        if (from.x - to.x).abs() + (from.y - to.y).abs() < 1e-6 {
            return;
        }
        self.take(spanned(from, to));
        self.wires.push([from, to]);
    }

    /// The body of a part, which nothing else may touch.
    pub fn symbol(&mut self, area: Area) {
        self.take(area);
        self.symbols.push(area);
    }

    /// A line of text.
    pub fn text(&mut self, text: Text) {
        self.take(text.area());
        self.items.push(Item::Text(text));
    }

    /// A terminal of a part.
    pub fn terminal(&mut self, part: usize, electrode: usize, at: Point) {
        self.terminals.push(Terminal {
            part,
            electrode,
            at,
        });
    }

    /// Says that the wire at a place is this net.
    pub fn name(&mut self, net: &str, at: Point) {
        let net = net.to_owned();
        self.names.push(Name { net, at });
    }

    /// Adds another sketch, moved.
    pub fn add(&mut self, other: Sketch, by: Point) {
        self.take(Area {
            x: other.left + by.x,
            y: other.top + by.y,
            width: other.right - other.left,
            height: other.bottom - other.top,
        });
        let to = |at: Point| point(at.x + by.x, at.y + by.y);
        self.items
            .extend(other.items.into_iter().map(|item| moved(item, by)));
        self.wires
            .extend(other.wires.into_iter().map(|[a, b]| [to(a), to(b)]));
        self.names.extend(other.names.into_iter().map(|name| Name {
            at: to(name.at),
            ..name
        }));
        self.terminals
            .extend(other.terminals.into_iter().map(|terminal| Terminal {
                at: to(terminal.at),
                ..terminal
            }));
        self.changed
            .extend(other.changed.iter().map(|changed| changed.moved(by)));
        self.symbols
            .extend(other.symbols.into_iter().map(|area| Area {
                x: area.x + by.x,
                y: area.y + by.y,
                ..area
            }));
    }
}

/// The upright rectangle between two corners.
pub(super) fn spanned(a: Point, b: Point) -> Area {
    Area {
        x: a.x.min(b.x),
        y: a.y.min(b.y),
        width: (a.x - b.x).abs(),
        height: (a.y - b.y).abs(),
    }
}

/// An item moved.
fn moved(item: Item, by: Point) -> Item {
    let to = |at: Point| point(at.x + by.x, at.y + by.y);
    match item {
        Item::Line {
            from,
            to: end,
            stroke,
        } => Item::Line {
            from: to(from),
            to: to(end),
            stroke,
        },
        Item::Polyline { points, stroke } => Item::Polyline {
            points: points.into_iter().map(to).collect(),
            stroke,
        },
        Item::Rectangle { area, stroke, fill } => Item::Rectangle {
            area: Area {
                x: area.x + by.x,
                y: area.y + by.y,
                ..area
            },
            stroke,
            fill,
        },
        Item::Circle {
            centre,
            radius,
            stroke,
            fill,
        } => Item::Circle {
            centre: to(centre),
            radius,
            stroke,
            fill,
        },
        Item::Arc {
            centre,
            radius,
            start,
            sweep,
            stroke,
        } => Item::Arc {
            centre: to(centre),
            radius,
            start,
            sweep,
            stroke,
        },
        Item::Text(text) => Item::Text(Text {
            at: to(text.at),
            ..text
        }),
        Item::Path {
            steps,
            stroke,
            fill,
        } => Item::Path {
            steps: steps.into_iter().map(|step| moved_step(step, to)).collect(),
            stroke,
            fill,
        },
        Item::Group {
            offset,
            clip,
            items,
        } => Item::Group {
            offset: to(offset),
            clip,
            items,
        },
    }
}

fn moved_step(step: Step, to: impl Fn(Point) -> Point) -> Step {
    match step {
        Step::Move(at) => Step::Move(to(at)),
        Step::Line(at) => Step::Line(to(at)),
        Step::Curve(a, b, end) => Step::Curve(to(a), to(b), to(end)),
        Step::Close => Step::Close,
    }
}

/// Which way a small arrow points: beside a current, along the wire.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Way {
    Left,
    Right,
    Up,
    Down,
}

/// A line of a text block.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Line {
    pub content: String,
    pub bold: bool,
    /// An arrow before the text.
    pub arrow: Option<Way>,
}

impl Line {
    pub fn plain(content: impl Into<String>) -> Self {
        Self {
            content: content.into(),
            bold: false,
            arrow: None,
        }
    }

    pub fn bold(content: impl Into<String>) -> Self {
        Self {
            bold: true,
            ..Self::plain(content)
        }
    }

    fn arrow_width(&self) -> f64 {
        if self.arrow.is_some() {
            ARROW + 0.6
        } else {
            0.0
        }
    }

    fn width(&self) -> f64 {
        text_width(&self.content, TYPE, self.bold) + self.arrow_width()
    }
}

/// Room of an arrow, millimetres.
const ARROW: f64 = 1.7;

/// Lines no wider than [`WIDEST`], each a part of the one it comes from.
pub(super) fn broken(lines: &[Line]) -> Vec<Line> {
    let parts = lines.iter().flat_map(|line| {
        let pieces = wrapped(&line.content, TYPE, line.bold, WIDEST - line.arrow_width());
        pieces.into_iter().enumerate().map(|(idx, content)| Line {
            content,
            bold: line.bold,
            arrow: line.arrow.filter(|_| idx == 0),
        })
    });
    parts.filter(|line| !line.content.is_empty()).collect()
}

/// Width of the widest line.
pub(super) fn block_width(lines: &[Line]) -> f64 {
    lines.iter().map(Line::width).fold(0.0, f64::max)
}

/// Height of a block of lines from the top of its capitals to the bottom of its descenders.
pub(super) fn block_height(lines: &[Line]) -> f64 {
    match lines.len() {
        0 => 0.0,
        count => (count - 1) as f64 * LINE + (RISE + DROP) * TYPE,
    }
}

/// Lines of text below one another; `at` is the top of the block at the side that `anchor` says.
pub(super) fn write(sketch: &mut Sketch, lines: &[Line], at: Point, anchor: Anchor) {
    for (idx, line) in lines.iter().enumerate() {
        let base = at.y + RISE * TYPE + idx as f64 * LINE;
        let left = match anchor {
            Anchor::Start => at.x,
            Anchor::Middle => at.x - line.width() / 2.0,
            Anchor::End => at.x - line.width(),
        };
        if let Some(way) = line.arrow {
            arrow(
                sketch,
                point(left + ARROW / 2.0, base - RISE * TYPE / 2.0),
                way,
            );
        }
        let place = point(left + line.arrow_width(), base);
        let text = Text::new(place, line.content.clone(), TYPE);
        sketch.text(if line.bold { text.in_bold() } else { text });
    }
}

/// A small filled triangle round a centre.
fn arrow(sketch: &mut Sketch, centre: Point, way: Way) {
    let (dx, dy) = match way {
        Way::Left => (-1.0, 0.0),
        Way::Right => (1.0, 0.0),
        Way::Up => (0.0, -1.0),
        Way::Down => (0.0, 1.0),
    };
    let (long, wide) = (ARROW / 2.0, ARROW / 3.0);
    let at = |along: f64, across: f64| {
        point(
            centre.x + along * dx - across * dy,
            centre.y + along * dy + across * dx,
        )
    };
    sketch.items.push(Item::Path {
        steps: vec![
            Step::Move(at(long, 0.0)),
            Step::Line(at(-long, wide)),
            Step::Line(at(-long, -wide)),
            Step::Close,
        ],
        stroke: None,
        fill: crate::draw::Fill::Ink,
    });
    sketch.take(Area {
        x: centre.x - long,
        y: centre.y - long,
        width: 2.0 * long,
        height: 2.0 * long,
    });
}

/// The stroke of symbols and wires.
pub(super) const LINE_STROKE: Stroke = Stroke::PLAIN;
