//! One drawing layer for every picture of the report: a [`Picture`] is a list of shapes in millimetres,
//! written as SVG by [`svg::to_svg`] and as PDF by [`pdf::to_pdf`].
//!
//! Knows nothing of the output format, so that another back end can draw the same shapes.
//! Everything is black on white and told apart by line pattern, weight and hatching;
//! colour is an extra that may be lost on paper.

pub mod pdf;
pub mod svg;
pub mod width;

use width::text_width;

/// A place on the sheet: millimetres, x to the right, y downwards, from the upper left corner of the picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Millimetres from the left edge.
    pub x: f64,
    /// Millimetres from the upper edge.
    pub y: f64,
}

/// Shorthand for a [`Point`] from its two coordinates in millimetres.
#[must_use]
pub const fn point(x: f64, y: f64) -> Point {
    Point { x, y }
}

/// An upright rectangle in millimetres; also the box a text takes up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Area {
    /// Left edge.
    pub x: f64,
    /// Upper edge.
    pub y: f64,
    /// To the right; not negative.
    pub width: f64,
    /// Downwards; not negative.
    pub height: f64,
}

impl Area {
    /// Right edge.
    #[must_use]
    pub fn right(&self) -> f64 {
        self.x + self.width
    }

    /// Lower edge.
    #[must_use]
    pub fn bottom(&self) -> f64 {
        self.y + self.height
    }

    /// Whether the two share more than an edge; rounding below a thousandth of a millimetre is no overlap.
    #[must_use]
    pub fn overlaps(&self, other: &Area) -> bool {
        const TOUCH: f64 = 1e-3;
        self.x + TOUCH < other.right()
            && other.x + TOUCH < self.right()
            && self.y + TOUCH < other.bottom()
            && other.y + TOUCH < self.bottom()
    }

    /// Whether `other` lies wholly inside, to a thousandth of a millimetre.
    #[must_use]
    pub fn holds(&self, other: &Area) -> bool {
        const TOUCH: f64 = 1e-3;
        self.x <= other.x + TOUCH
            && self.y <= other.y + TOUCH
            && other.right() <= self.right() + TOUCH
            && other.bottom() <= self.bottom() + TOUCH
    }

    /// Whether the point lies inside or on the edge.
    #[must_use]
    pub fn contains(&self, at: Point) -> bool {
        self.x <= at.x && at.x <= self.right() && self.y <= at.y && at.y <= self.bottom()
    }

    /// The same rectangle, larger by `margin` millimetres on every side.
    #[must_use]
    pub fn grown(&self, margin: f64) -> Area {
        Area {
            x: self.x - margin,
            y: self.y - margin,
            width: self.width + 2.0 * margin,
            height: self.height + 2.0 * margin,
        }
    }
}

/// How a line is broken up; the four are told apart without colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pattern {
    /// Unbroken.
    Solid,
    /// Dashes.
    Dashed,
    /// Dots.
    Dotted,
    /// Dash, dot, dash, dot.
    DashDotted,
}

/// How thick a line is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Weight {
    /// 0.13 mm: grids, leaders.
    Thin,
    /// 0.25 mm: axes, frames, ordinary curves.
    Normal,
    /// 0.5 mm: what the picture is about.
    Heavy,
}

impl Weight {
    /// Line thickness in millimetres (line widths of ISO 128: 0.13, 0.25, 0.5 mm, from memory).
    #[must_use]
    pub fn millimetres(self) -> f64 {
        match self {
            Weight::Thin => 0.13,
            Weight::Normal => 0.25,
            Weight::Heavy => 0.5,
        }
    }
}

/// What colour a line or a text has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ink {
    /// Black.
    Black,
    /// Grey, for what stays in the background.
    Grey,
    /// The one accent colour of the line's pattern: so dark that it prints as near black.
    Accent,
}

/// Everything about a line but its course.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stroke {
    /// How it is broken up.
    pub pattern: Pattern,
    /// How thick it is.
    pub weight: Weight,
    /// Its colour.
    pub ink: Ink,
}

impl Stroke {
    /// Solid, thin, grey: grids and leaders.
    pub const FAINT: Stroke = Stroke::new(Pattern::Solid, Weight::Thin, Ink::Grey);
    /// Solid, normal, black: axes and frames.
    pub const PLAIN: Stroke = Stroke::new(Pattern::Solid, Weight::Normal, Ink::Black);
    /// Solid, heavy, black: the main thing.
    pub const HEAVY: Stroke = Stroke::new(Pattern::Solid, Weight::Heavy, Ink::Black);

    /// A stroke of the given kind.
    #[must_use]
    pub const fn new(pattern: Pattern, weight: Weight, ink: Ink) -> Stroke {
        Stroke {
            pattern,
            weight,
            ink,
        }
    }

    /// A stroke for the `idx`th of several curves in one picture: the first eight are told apart without colour.
    #[must_use]
    pub fn numbered(idx: usize) -> Stroke {
        const PATTERNS: [Pattern; 4] = [
            Pattern::Solid,
            Pattern::Dashed,
            Pattern::DashDotted,
            Pattern::Dotted,
        ];
        let weight = if (idx / 4).is_multiple_of(2) {
            Weight::Heavy
        } else {
            Weight::Normal
        };
        Stroke::new(PATTERNS[idx % 4], weight, Ink::Accent)
    }

    /// Lengths of dash and gap in turn, in millimetres; empty for a solid line.
    #[must_use]
    pub fn dashes(&self) -> &'static [f64] {
        match self.pattern {
            Pattern::Solid => &[],
            Pattern::Dashed => &[2.0, 1.0],
            Pattern::Dotted => &[0.5, 0.8],
            Pattern::DashDotted => &[3.0, 0.8, 0.6, 0.8],
        }
    }

    /// Colour as red, green, blue. The accents are one per pattern, each with a relative luminance below 0.1,
    /// so that they stay dark in grey print.
    #[must_use]
    pub fn colour(&self) -> [u8; 3] {
        match (self.ink, self.pattern) {
            (Ink::Black, _) => [0, 0, 0],
            (Ink::Grey, _) => GREY,
            (Ink::Accent, Pattern::Solid) => [10, 60, 130],
            (Ink::Accent, Pattern::Dashed) => [140, 25, 20],
            (Ink::Accent, Pattern::Dotted) => [10, 85, 45],
            (Ink::Accent, Pattern::DashDotted) => [95, 30, 110],
        }
    }
}

/// The grey of [`Ink::Grey`].
pub const GREY: [u8; 3] = [150, 150, 150];

/// What is inside an outline.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fill {
    /// Nothing: what lies below shows.
    None,
    /// White: what lies below is covered.
    Paper,
    /// Light grey.
    Light,
    /// Dark grey.
    Dark,
    /// Slanted black lines, what lies below shows between them.
    Hatched,
    /// Black.
    Ink,
}

/// Where a text stands relative to its point, along the writing direction.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    /// The point is the text's beginning.
    Start,
    /// The point is the text's middle.
    Middle,
    /// The point is the text's end.
    End,
}

/// One line of text.
#[derive(Debug, Clone, PartialEq)]
pub struct Text {
    /// On the base line, at the place [`Text::anchor`] says.
    pub at: Point,
    /// What is written; control characters are left out.
    pub content: String,
    /// Size of type in millimetres (1 mm is 2.83 points).
    pub size: f64,
    /// Bold or not.
    pub bold: bool,
    /// Which part of the text stands at the point.
    pub anchor: Anchor,
    /// Degrees clockwise about the point; -90 reads upwards.
    pub rotation: f64,
    /// A white rim that keeps the text readable across lines.
    pub rimmed: bool,
}

/// Height of capitals and digits above the base line, as a share of the size of type
/// (Helvetica: 0.718, Adobe font metrics, from memory).
pub const RISE: f64 = 0.72;
/// Depth of `g` and the comma below the base line, as a share of the size of type
/// (Helvetica: 0.207, Adobe font metrics, from memory).
pub const DROP: f64 = 0.21;

impl Text {
    /// A plain level text, beginning at the point.
    #[must_use]
    pub fn new(at: Point, content: impl Into<String>, size: f64) -> Text {
        Text {
            at,
            content: content.into(),
            size,
            bold: false,
            anchor: Anchor::Start,
            rotation: 0.0,
            rimmed: false,
        }
    }

    /// The same text with another part of it at the point.
    #[must_use]
    pub fn anchored(mut self, anchor: Anchor) -> Text {
        self.anchor = anchor;
        self
    }

    /// The same text in bold.
    #[must_use]
    pub fn in_bold(mut self) -> Text {
        self.bold = true;
        self
    }

    /// The same text with a white rim.
    #[must_use]
    pub fn with_rim(mut self) -> Text {
        self.rimmed = true;
        self
    }

    /// The same text turned about its point, degrees clockwise.
    #[must_use]
    pub fn turned(mut self, rotation: f64) -> Text {
        self.rotation = rotation;
        self
    }

    /// The upright box round the (turned) text, from the estimate of [`width::text_width`].
    #[must_use]
    pub fn area(&self) -> Area {
        let width = text_width(&self.content, self.size, self.bold);
        let left = match self.anchor {
            Anchor::Start => 0.0,
            Anchor::Middle => -width / 2.0,
            Anchor::End => -width,
        };
        let (top, bottom) = (-RISE * self.size, DROP * self.size);
        let (sin, cos) = self.rotation.to_radians().sin_cos();
        let corners = [
            (left, top),
            (left + width, top),
            (left, bottom),
            (left + width, bottom),
        ];
        let turned = corners.map(|(x, y)| (x * cos - y * sin, x * sin + y * cos));
        let low = turned
            .iter()
            .fold((f64::INFINITY, f64::INFINITY), |low, corner| {
                (low.0.min(corner.0), low.1.min(corner.1))
            });
        let high = turned
            .iter()
            .fold((f64::NEG_INFINITY, f64::NEG_INFINITY), |high, corner| {
                (high.0.max(corner.0), high.1.max(corner.1))
            });
        Area {
            x: self.at.x + low.0,
            y: self.at.y + low.1,
            width: high.0 - low.0,
            height: high.1 - low.1,
        }
    }
}

/// One step of an outline.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Step {
    /// Begin a new outline here.
    Move(Point),
    /// Straight to here.
    Line(Point),
    /// Along a cubic curve: two control points, then the end.
    Curve(Point, Point, Point),
    /// Straight back to where the outline began.
    Close,
}

/// A shape. The set is closed: every back end draws all of them.
#[derive(Debug, Clone, PartialEq)]
pub enum Item {
    /// A straight line.
    Line {
        /// One end.
        from: Point,
        /// The other end.
        to: Point,
        /// How it is drawn.
        stroke: Stroke,
    },
    /// Straight lines from point to point, not closed.
    Polyline {
        /// At least two, else nothing is drawn.
        points: Vec<Point>,
        /// How it is drawn.
        stroke: Stroke,
    },
    /// An upright rectangle.
    Rectangle {
        /// Where it lies.
        area: Area,
        /// Its outline, if it has one.
        stroke: Option<Stroke>,
        /// Its inside.
        fill: Fill,
    },
    /// A whole circle.
    Circle {
        /// Its centre.
        centre: Point,
        /// Millimetres.
        radius: f64,
        /// Its outline, if it has one.
        stroke: Option<Stroke>,
        /// Its inside.
        fill: Fill,
    },
    /// Part of a circle's outline.
    Arc {
        /// The circle's centre.
        centre: Point,
        /// Millimetres.
        radius: f64,
        /// Where it begins: degrees clockwise from the direction of x.
        start: f64,
        /// How far it goes: degrees clockwise, less than a full turn.
        sweep: f64,
        /// How it is drawn.
        stroke: Stroke,
    },
    /// One line of text.
    Text(Text),
    /// Any outline.
    Path {
        /// Begins with [`Step::Move`].
        steps: Vec<Step>,
        /// Its outline, if it has one.
        stroke: Option<Stroke>,
        /// Its inside.
        fill: Fill,
    },
    /// Shapes that belong together, moved by `offset`.
    Group {
        /// Added to every point of the items.
        offset: Point,
        /// Nothing is drawn outside this rectangle (before the offset is added).
        clip: Option<Area>,
        /// Drawn in order, later ones on top.
        items: Vec<Item>,
    },
}

/// A drawing of a fixed size.
#[derive(Debug, Clone, PartialEq)]
pub struct Picture {
    /// Millimetres.
    pub width: f64,
    /// Millimetres.
    pub height: f64,
    /// Drawn in order, later ones on top.
    pub items: Vec<Item>,
}

impl Picture {
    /// Every text of the picture with the box it takes up, in the picture's own millimetres:
    /// layouts are tested with it for overlap and for text that leaves the sheet.
    #[must_use]
    pub fn text_areas(&self) -> Vec<(&str, Area)> {
        let mut found = Vec::new();
        collect_text(&self.items, point(0.0, 0.0), &mut found);
        found
    }

    /// Pairs of texts whose boxes overlap and texts that leave the picture; empty for a good layout.
    #[must_use]
    pub fn text_faults(&self) -> Vec<String> {
        let texts = self.text_areas();
        let sheet = Area {
            x: 0.0,
            y: 0.0,
            width: self.width,
            height: self.height,
        };
        let mut faults = Vec::new();
        for (idx, (content, area)) in texts.iter().enumerate() {
            if !sheet.holds(area) {
                faults.push(format!("\"{content}\" leaves the sheet"));
            }
            for (other, other_area) in &texts[idx + 1..] {
                if area.overlaps(other_area) {
                    faults.push(format!("\"{content}\" overlaps \"{other}\""));
                }
            }
        }
        faults
    }
}

/// Recursion is as deep as groups are nested, which only this crate's own layouts do.
fn collect_text<'a>(items: &'a [Item], offset: Point, found: &mut Vec<(&'a str, Area)>) {
    for item in items {
        match item {
            Item::Text(text) => {
                let area = text.area();
                found.push((
                    text.content.as_str(),
                    Area {
                        x: area.x + offset.x,
                        y: area.y + offset.y,
                        ..area
                    },
                ));
            }
            Item::Group {
                offset: inner,
                items,
                ..
            } => {
                collect_text(items, point(offset.x + inner.x, offset.y + inner.y), found);
            }
            _ => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_text_turned_upwards_takes_its_width_as_height() {
        let level = Text::new(point(10.0, 50.0), "plate volts", 3.0);
        let upright = level.clone().turned(-90.0);
        let (level, upright) = (level.area(), upright.area());
        assert!((level.width - upright.height).abs() < 1e-9);
        assert!((upright.bottom() - 50.0).abs() < 1e-9);
        assert!((upright.x - (10.0 - RISE * 3.0)).abs() < 1e-9);
    }

    #[test]
    fn texts_inside_moved_groups_are_found_where_they_are_drawn() {
        let text = Item::Text(Text::new(point(1.0, 5.0), "grid", 3.0));
        let group = Item::Group {
            offset: point(20.0, 0.0),
            clip: None,
            items: vec![text.clone()],
        };
        let picture = Picture {
            width: 40.0,
            height: 10.0,
            items: vec![text, group],
        };
        let areas = picture.text_areas();
        assert!((areas[1].1.x - areas[0].1.x - 20.0).abs() < 1e-12);
        assert_eq!(picture.text_faults(), Vec::<String>::new());
    }

    #[test]
    fn overlap_and_leaving_the_sheet_are_reported() {
        let items = vec![
            Item::Text(Text::new(point(1.0, 5.0), "grid", 3.0)),
            Item::Text(Text::new(point(3.0, 5.5), "plate", 3.0)),
        ];
        let picture = Picture {
            width: 6.0,
            height: 10.0,
            items,
        };
        assert_eq!(
            picture.text_faults(),
            ["\"grid\" overlaps \"plate\"", "\"plate\" leaves the sheet"]
        );
    }

    #[test]
    fn accent_colours_stay_dark_in_grey_print() {
        // Relative luminance of sRGB, IEC 61966-2-1 (from memory).
        let linear = |channel: u8| {
            let value = f64::from(channel) / 255.0;
            if value <= 0.040_45 {
                value / 12.92
            } else {
                ((value + 0.055) / 1.055).powf(2.4)
            }
        };
        for pattern in [
            Pattern::Solid,
            Pattern::Dashed,
            Pattern::Dotted,
            Pattern::DashDotted,
        ] {
            let [red, green, blue] = Stroke::new(pattern, Weight::Normal, Ink::Accent).colour();
            let luminance = 0.2126 * linear(red) + 0.7152 * linear(green) + 0.0722 * linear(blue);
            assert!(luminance < 0.1, "{pattern:?}: {luminance}");
        }
    }
}
