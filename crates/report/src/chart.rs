//! Charts: curves, points and limits over two axes, labelled where they stand.
//!
//! [`Chart::draw`] lays out what it is given and computes nothing but places on the sheet.
//! The picture of levels is in [`levels`], bars against limits in [`bars`], how often values occur in [`histogram`].

pub mod axis;
pub mod bars;
mod frame;
pub mod histogram;
pub(crate) mod labels;
pub mod levels;
mod naming;

use crate::draw::{Area, DROP, Fill, Item, Picture, Point, RISE, Stroke, point};
use axis::drawable;
pub use axis::{Axis, Scale};
use frame::Frame;
use naming::{Laid, draw_labels};

/// Size of type in charts, millimetres (about 8 points).
pub(crate) const TYPE: f64 = 2.8;
/// Distance between a text and what it belongs to, millimetres.
pub(crate) const GAP: f64 = 1.2;

/// Widest label at the end of a curve, in millimetres; longer ones are broken into lines.
const END_LABEL: f64 = 28.0;
/// Depth of one line of labels below its upper edge, millimetres.
pub(crate) const LINE_HEIGHT: f64 = (RISE + DROP) * TYPE;

/// How single points are marked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Marker {
    /// Filled circle.
    Dot,
    /// Slanted cross.
    Cross,
    /// Open circle.
    Ring,
    /// Open square.
    Square,
}

/// Points that belong together.
#[derive(Debug, Clone, PartialEq)]
pub struct Series {
    /// Written at its visible end; empty for none.
    pub label: String,
    /// In the units of the axes. A point with a value that cannot be drawn interrupts the line.
    pub points: Vec<(f64, f64)>,
    /// The line through the points in their order, if there is one.
    pub stroke: Option<Stroke>,
    /// The mark on each point, if there is one.
    pub marker: Option<Marker>,
}

impl Series {
    /// Whether its label goes right of the plot, from how far right it ends as a share of the width;
    /// points without a line may end earlier, as near them there is often no room.
    fn ends_right(&self, share: f64) -> bool {
        share > if self.stroke.is_some() { 0.97 } else { 0.9 }
    }
}

/// Which axis a band or a reference line refers to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Along {
    /// Values of the x axis: an upright line or band.
    X,
    /// Values of the y axis: a level line or band.
    Y,
}

/// A shaded region between two values.
#[derive(Debug, Clone, PartialEq)]
pub struct Band {
    /// Which axis the values are of.
    pub along: Along,
    /// Lower edge; minus infinity reaches to the edge of the chart.
    pub from: f64,
    /// Upper edge; infinity reaches to the edge of the chart.
    pub to: f64,
    /// What the region means.
    pub label: String,
    /// How it is shaded.
    pub fill: Fill,
}

/// A line across the whole chart at one value.
#[derive(Debug, Clone, PartialEq)]
pub struct Reference {
    /// Which axis the value is of.
    pub along: Along,
    /// In the unit of that axis.
    pub at: f64,
    /// Written beside it.
    pub label: String,
    /// How it is drawn.
    pub stroke: Stroke,
}

/// A single point with a text.
#[derive(Debug, Clone, PartialEq)]
pub struct Callout {
    /// In the units of the axes.
    pub at: (f64, f64),
    /// Written near it, with a thin line to it when it does not fit beside it.
    pub label: String,
    /// How it is marked.
    pub marker: Marker,
}

/// A chart, in the order it is drawn: bands, grid, reference lines, series, callouts, labels.
#[derive(Debug, Clone, PartialEq)]
pub struct Chart {
    /// Millimetres.
    pub width: f64,
    /// Millimetres; labels that find no room in the chart add lines below it.
    pub height: f64,
    /// The axis to the right.
    pub x: Axis,
    /// The axis upwards.
    pub y: Axis,
    /// Regions.
    pub bands: Vec<Band>,
    /// Lines across.
    pub references: Vec<Reference>,
    /// Curves and clouds of points.
    pub series: Vec<Series>,
    /// Single points.
    pub callouts: Vec<Callout>,
}

impl Chart {
    /// An empty chart of a size in millimetres.
    #[must_use]
    pub fn new(width: f64, height: f64, x: Axis, y: Axis) -> Chart {
        Chart {
            width,
            height,
            x,
            y,
            bands: Vec::new(),
            references: Vec::new(),
            series: Vec::new(),
            callouts: Vec::new(),
        }
    }

    /// Draws the chart. Values that are not finite, or not positive on a logarithmic axis, are left out;
    /// a chart without anything to draw says so.
    #[must_use]
    pub fn draw(&self) -> Picture {
        let frame = Frame::new(self);
        let runs: Vec<Vec<Vec<Point>>> = self
            .series
            .iter()
            .map(|series| frame.visible_runs(&series.points))
            .collect();
        let mut items = Vec::new();
        self.draw_bands(&frame, &mut items);
        frame.draw_grid(&mut items);
        self.draw_references(&frame, &mut items);
        for (series, runs) in self.series.iter().zip(&runs) {
            draw_series(&frame, series, runs, &mut items);
        }
        let callouts: Vec<(Point, &Callout)> = self
            .callouts
            .iter()
            .filter_map(|callout| Some((frame.inside(callout.at)?, callout)))
            .collect();
        for (at, callout) in &callouts {
            draw_marker(*at, callout.marker, &mut items);
        }
        frame.draw_scales(&mut items);
        if callouts.is_empty() && runs.iter().all(Vec::is_empty) && self.has_no_limits() {
            items.push(frame.nothing_to_draw());
        }
        let laid = Laid {
            chart: self,
            frame: &frame,
            runs: &runs,
            callouts: &callouts,
        };
        let height = self.height + draw_labels(&laid, &mut items);
        Picture {
            width: self.width,
            height,
            items,
        }
    }

    fn has_no_limits(&self) -> bool {
        self.bands.is_empty() && self.references.is_empty()
    }

    /// Every value that has to be in view along one axis.
    fn values(&self, along: Along) -> impl Iterator<Item = f64> {
        let of = move |pair: (f64, f64)| match along {
            Along::X => pair.0,
            Along::Y => pair.1,
        };
        let whole = move |pair: &(f64, f64)| {
            drawable(pair.0, self.x.scale) && drawable(pair.1, self.y.scale)
        };
        let points = self
            .series
            .iter()
            .flat_map(|series| series.points.iter().copied());
        let callouts = self.callouts.iter().map(|callout| callout.at);
        let references = self
            .references
            .iter()
            .filter(move |line| line.along == along);
        let bands = self.bands.iter().filter(move |band| band.along == along);
        points
            .chain(callouts)
            .filter(whole)
            .map(of)
            .chain(references.map(|line| line.at))
            .chain(bands.flat_map(|band| [band.from, band.to]))
    }

    fn draw_bands(&self, frame: &Frame, items: &mut Vec<Item>) {
        for band in &self.bands {
            if let Some(area) = frame.band_area(band) {
                items.push(Item::Rectangle {
                    area,
                    stroke: None,
                    fill: band.fill,
                });
            }
        }
    }

    fn draw_references(&self, frame: &Frame, items: &mut Vec<Item>) {
        for line in &self.references {
            if let Some((from, to)) = frame.line_ends(line.along, line.at) {
                items.push(Item::Line {
                    from,
                    to,
                    stroke: line.stroke,
                });
            }
        }
    }
}

fn draw_series(frame: &Frame, series: &Series, runs: &[Vec<Point>], items: &mut Vec<Item>) {
    if let Some(stroke) = series.stroke {
        for run in runs {
            items.push(Item::Polyline {
                points: run.clone(),
                stroke,
            });
        }
    }
    if let Some(marker) = series.marker {
        for at in series.points.iter().filter_map(|pair| frame.inside(*pair)) {
            draw_marker(at, marker, items);
        }
    }
}

fn draw_marker(at: Point, marker: Marker, items: &mut Vec<Item>) {
    const RADIUS: f64 = 0.8;
    let stroke = Stroke::PLAIN;
    let square = Area {
        x: at.x - RADIUS,
        y: at.y - RADIUS,
        width: 2.0 * RADIUS,
        height: 2.0 * RADIUS,
    };
    let circle = |fill| Item::Circle {
        centre: at,
        radius: RADIUS,
        stroke: Some(stroke),
        fill,
    };
    match marker {
        Marker::Dot => items.push(circle(Fill::Ink)),
        Marker::Ring => items.push(circle(Fill::Paper)),
        Marker::Square => {
            items.push(Item::Rectangle {
                area: square,
                stroke: Some(stroke),
                fill: Fill::Paper,
            });
        }
        Marker::Cross => {
            let (left, right) = (square.x, square.right());
            let diagonals = [(square.y, square.bottom()), (square.bottom(), square.y)];
            items.extend(diagonals.map(|(from, to)| Item::Line {
                from: point(left, from),
                to: point(right, to),
                stroke,
            }));
        }
    }
}
