//! The labels of a chart, each where it names something; those that find no room go into a key below the chart.

use super::frame::Frame;
use super::labels::{Label, Places, corners_around, leader, spread};
use super::{
    Along, Callout, Chart, END_LABEL, GAP, LINE_HEIGHT, Marker, Series, TYPE, draw_marker,
};
use crate::draw::{Area, Fill, Item, Point, Stroke, point};

/// A chart laid out but for its labels.
pub(super) struct Laid<'a> {
    pub(super) chart: &'a Chart,
    pub(super) frame: &'a Frame,
    /// The visible parts of each series.
    pub(super) runs: &'a [Vec<Vec<Point>>],
    /// The callouts in view.
    pub(super) callouts: &'a [(Point, &'a Callout)],
}

/// Draws all labels on top of `items`, the key below the chart; gives the height of the key.
pub(super) fn draw_labels(laid: &Laid<'_>, items: &mut Vec<Item>) -> f64 {
    let places = laid.places(items);
    let mut naming = Naming {
        laid,
        places,
        items,
        key: Vec::new(),
    };
    // The firmest places first.
    let mut at_the_edge = naming.name_right_ends();
    at_the_edge.extend(naming.name_upper_ends());
    naming.name_callouts();
    naming.name_courses(&at_the_edge);
    naming.name_lines();
    naming.name_bands();
    let key = naming.key;
    draw_key(&key, laid.chart.width, laid.chart.height, items)
}

impl Laid<'_> {
    /// The room labels have, and what they had better not cover: curves, markers, lines across and hatching.
    fn places(&self, items: &[Item]) -> Places {
        let (chart, frame) = (self.chart, self.frame);
        let mut places = free_places(frame, items);
        let marked = |series: &&Series| series.marker.is_some();
        let markers = chart
            .series
            .iter()
            .filter(marked)
            .flat_map(|series| &series.points);
        let markers = markers
            .filter_map(|pair| frame.inside(*pair))
            .map(|at| (at, 0.8));
        // Nothing but its own label comes near a callout's point.
        for (at, reach) in markers.chain(self.callouts.iter().map(|(at, _)| (*at, 1.6))) {
            for (row, column) in (0..9).map(|idx| (idx / 3 - 1, idx % 3 - 1)) {
                let (x, y) = (reach * f64::from(column), reach * f64::from(row));
                places.obstacles.push(point(at.x + x, at.y + y));
            }
        }
        for (series, runs) in chart.series.iter().zip(self.runs) {
            if series.stroke.is_some() {
                places
                    .obstacles
                    .extend(runs.iter().flat_map(|run| sampled(run)));
            }
        }
        for line in &chart.references {
            let ends = frame.line_ends(line.along, line.at);
            places
                .obstacles
                .extend(ends.iter().flat_map(|(from, to)| sampled(&[*from, *to])));
        }
        for band in chart.bands.iter().filter(|band| band.fill == Fill::Hatched) {
            places.hatched.extend(frame.band_area(band));
        }
        places
    }
}

/// Labels being placed one after another.
struct Naming<'a, 'b> {
    laid: &'b Laid<'a>,
    places: Places,
    items: &'b mut Vec<Item>,
    key: Vec<KeyEntry<'a>>,
}

impl Naming<'_, '_> {
    /// Puts a label on the best corner, with a leader if it is further than the reach from the points it names.
    /// `false` when there is no room. An empty label needs none.
    fn place(&mut self, label: &Label, corners: &[Point], named: &[Point], reach: f64) -> bool {
        if label.lines.iter().all(String::is_empty) {
            return true;
        }
        let Some(area) = self.places.take(label, corners) else {
            return false;
        };
        self.items.extend(leader(&area, named, reach));
        self.items.extend(self.places.written(label, &area));
        true
    }

    /// Widest label inside the plot.
    fn limit(&self) -> f64 {
        0.42 * self.laid.frame.plot.width
    }

    /// Labels the courses that end at the right edge, in their order from the top down; gives their indices.
    /// When there are more than the height holds, none.
    fn name_right_ends(&mut self) -> Vec<usize> {
        let frame = self.laid.frame;
        let limit = END_LABEL.min(0.3 * self.laid.chart.width);
        let mut ends: Vec<(usize, Point, Label)> = Vec::new();
        for (idx, (series, runs)) in self
            .laid
            .chart
            .series
            .iter()
            .zip(self.laid.runs)
            .enumerate()
        {
            let Some(end) = runs.last().and_then(|run| run.last()) else {
                continue;
            };
            let share = (end.x - frame.plot.x) / frame.plot.width;
            let label = Label::new(&series.label, TYPE, limit);
            let fits = label.width() <= frame.end_label_width();
            if series.ends_right(share) && fits && !series.label.is_empty() {
                ends.push((idx, *end, label));
            }
        }
        ends.sort_by(|one, other| one.1.y.total_cmp(&other.1.y));
        let wanted: Vec<(f64, f64)> = ends
            .iter()
            .map(|(_, end, label)| (end.y, label.height() + 0.4))
            .collect();
        let (top, foot) = (frame.plot.y - TYPE, frame.plot.bottom() + TYPE / 2.0);
        if wanted.iter().map(|(_, height)| height).sum::<f64>() > foot - top {
            return Vec::new();
        }
        for ((_, end, label), middle) in ends.iter().zip(spread(&wanted, top, foot)) {
            let (x, height) = (frame.plot.right() + GAP, label.height());
            let area = Area {
                x,
                y: middle - height / 2.0,
                width: label.width(),
                height,
            };
            self.items.extend(leader(&area, &[*end], 1.6 * GAP));
            self.items.extend(self.places.written(label, &area));
            self.places.taken.push(area);
        }
        ends.into_iter().map(|(idx, ..)| idx).collect()
    }

    /// Labels the courses that leave through the upper edge, in their order from left to right in the line above the plot;
    /// gives their indices. When there are more than the width holds, none.
    fn name_upper_ends(&mut self) -> Vec<usize> {
        /// Between two labels that stand in one line.
        const APART: f64 = 1.6;
        let plot = self.laid.frame.plot;
        let mut ends: Vec<(usize, Point, Label)> = Vec::new();
        let courses = self.laid.chart.series.iter().zip(self.laid.runs);
        for (idx, (series, runs)) in courses.enumerate() {
            let Some(end) = runs.last().and_then(|run| run.last()) else {
                continue;
            };
            let label = Label::new(&series.label, TYPE, f64::INFINITY);
            let leaves_above = series.stroke.is_some() && (end.y - plot.y).abs() < 1e-3;
            let named_right = series.ends_right((end.x - plot.x) / plot.width);
            if leaves_above && !named_right && !series.label.is_empty() {
                ends.push((idx, *end, label));
            }
        }
        ends.sort_by(|one, other| one.1.x.total_cmp(&other.1.x));
        let wanted: Vec<(f64, f64)> = ends
            .iter()
            .map(|(_, end, label)| (end.x, label.width() + APART))
            .collect();
        let (left, right) = (plot.x - APART / 2.0, plot.right() + APART / 2.0);
        if wanted.iter().map(|(_, width)| width).sum::<f64>() > right - left {
            return Vec::new();
        }
        let mut named = Vec::new();
        for ((idx, end, label), middle) in ends.iter().zip(spread(&wanted, left, right)) {
            let area = Area {
                x: middle - label.width() / 2.0,
                y: plot.y - GAP - label.height(),
                width: label.width(),
                height: label.height(),
            };
            if self.places.taken.iter().any(|taken| taken.overlaps(&area)) {
                continue;
            }
            self.items.extend(leader(&area, &[*end], 1.3 * GAP));
            self.items.extend(self.places.written(label, &area));
            self.places.taken.push(area);
            named.push(*idx);
        }
        named
    }

    fn name_callouts(&mut self) {
        for (at, callout) in self.laid.callouts {
            let label = Label::new(&callout.label, TYPE, self.limit());
            let corners = corners_around(*at, &label, 1.7, 9);
            if !self.place(&label, &corners, &[*at], 2.6) {
                let marker = Some(callout.marker);
                self.key.push(KeyEntry {
                    marker,
                    ..KeyEntry::new(&callout.label)
                });
            }
            // Another label next to it would seem to be its own.
            let mark = Area {
                x: at.x,
                y: at.y,
                width: 0.0,
                height: 0.0,
            };
            self.places.taken.push(mark.grown(0.8));
        }
    }

    fn name_courses(&mut self, named_already: &[usize]) {
        for (idx, (series, runs)) in self
            .laid
            .chart
            .series
            .iter()
            .zip(self.laid.runs)
            .enumerate()
        {
            let Some(run) = runs.last().filter(|_| !named_already.contains(&idx)) else {
                continue;
            };
            let label = Label::new(&series.label, TYPE, END_LABEL);
            let (corners, named) = corners_for_course(run, &label, series.stroke.is_some());
            if !self.place(&label, &corners, &named, 2.0) {
                let (stroke, marker) = (series.stroke, series.marker);
                self.key.push(KeyEntry {
                    stroke,
                    marker,
                    ..KeyEntry::new(&series.label)
                });
            }
        }
    }

    fn name_lines(&mut self) {
        for line in &self.laid.chart.references {
            let Some(ends) = self.laid.frame.line_ends(line.along, line.at) else {
                continue;
            };
            let label = Label::new(&line.label, TYPE, self.limit());
            let corners = corners_beside(ends, line.along, &label);
            if !self.place(&label, &corners, &[], 0.0) {
                let stroke = Some(line.stroke);
                self.key.push(KeyEntry {
                    stroke,
                    ..KeyEntry::new(&line.label)
                });
            }
        }
    }

    fn name_bands(&mut self) {
        for band in &self.laid.chart.bands {
            let Some(area) = self.laid.frame.band_area(band) else {
                continue;
            };
            let limit = self.limit().min(area.width - 2.0 * GAP);
            let label = Label::whole_words(&band.label, TYPE, limit);
            if !self.place(&label, &corners_within(&area, &label), &[], 0.0) {
                self.key.push(KeyEntry {
                    fill: band.fill,
                    ..KeyEntry::new(&band.label)
                });
            }
        }
    }
}

/// Where the label of a course may stand, and the points it then names:
/// near the end or, for a line, near a place further back.
fn corners_for_course(run: &[Point], label: &Label, is_line: bool) -> (Vec<Point>, Vec<Point>) {
    let Some(end) = run.last() else {
        return (Vec::new(), Vec::new());
    };
    let mut corners = corners_around(*end, label, GAP, 1);
    let samples = if is_line { sampled(run) } else { vec![*end] };
    if is_line {
        for share in [0.85, 0.7, 0.5, 0.3] {
            let idx = (share * (samples.len() - 1) as f64) as usize;
            corners.extend(corners_around(samples[idx], label, GAP, 2));
        }
    }
    corners.extend(corners_around(*end, label, GAP + 3.0, 8));
    (corners, samples)
}

/// The room labels have: the plot, the margins above and right of it, but none of the texts that are there already.
fn free_places(frame: &Frame, items: &[Item]) -> Places {
    let texts = items.iter().filter_map(|item| match item {
        Item::Text(text) => Some(text.area()),
        _ => None,
    });
    let plot = frame.plot;
    let sheet = Area {
        x: plot.x,
        y: 0.0,
        width: frame.sheet.right() - plot.x,
        height: plot.bottom() + TYPE / 2.0,
    };
    // Labels cross the frame only where they must.
    let upper = [point(plot.x, plot.y), point(plot.right(), plot.y)];
    let lower = [
        point(plot.x, plot.bottom()),
        point(plot.right(), plot.bottom()),
    ];
    let mut obstacles = sampled(&[upper[0], upper[1], lower[1], lower[0]]);
    obstacles.extend(sampled(&[lower[0], upper[0]]));
    Places {
        sheet,
        taken: texts.collect(),
        obstacles,
        hatched: Vec::new(),
    }
}

/// Corners along both sides of a line across the chart, its far end first.
fn corners_beside((from, to): (Point, Point), along: Along, label: &Label) -> Vec<Point> {
    const GAP: f64 = 0.8;
    let (width, height) = (label.width(), label.height());
    let mut corners = Vec::new();
    for step in 0..=10 {
        let share = f64::from(step) / 10.0;
        match along {
            Along::Y => {
                let x = to.x - GAP - width - share * (to.x - from.x - width - 2.0 * GAP);
                corners.extend([point(x, to.y - GAP - height), point(x, to.y + GAP)]);
            }
            Along::X => {
                let y = to.y + GAP + share * (from.y - to.y - height - 2.0 * GAP);
                corners.extend([point(to.x + GAP, y), point(to.x - GAP - width, y)]);
            }
        }
    }
    corners
}

/// Corners that keep a label inside a band, the upper left first.
fn corners_within(area: &Area, label: &Label) -> Vec<Point> {
    let slack_x = area.width - label.width() - 2.0 * GAP;
    let slack_y = area.height - label.height() - GAP;
    if slack_x < -2.0 * GAP || slack_y < -GAP {
        return Vec::new();
    }
    let (slack_x, slack_y) = (slack_x.max(0.0), slack_y.max(0.0));
    let shares = || (0..=8).map(|step| f64::from(step) / 8.0);
    shares()
        .flat_map(|down| shares().map(move |right| (right, down)))
        .map(|(right, down)| {
            point(
                area.x + GAP + right * slack_x,
                area.y + GAP / 2.0 + down * slack_y,
            )
        })
        .collect()
}

/// Points along a course, a millimetre apart or closer.
fn sampled(run: &[Point]) -> Vec<Point> {
    let mut samples: Vec<Point> = run.first().copied().into_iter().collect();
    for pair in run.windows(2) {
        let (from, to) = (pair[0], pair[1]);
        let n_steps = (to.x - from.x)
            .hypot(to.y - from.y)
            .ceil()
            .clamp(1.0, 1000.0);
        samples.extend((1..=n_steps as usize).map(|step| {
            let share = step as f64 / n_steps;
            point(
                from.x + share * (to.x - from.x),
                from.y + share * (to.y - from.y),
            )
        }));
    }
    samples
}

/// A label that found no room in the chart.
struct KeyEntry<'a> {
    label: &'a str,
    stroke: Option<Stroke>,
    marker: Option<Marker>,
    fill: Fill,
}

impl<'a> KeyEntry<'a> {
    fn new(label: &'a str) -> KeyEntry<'a> {
        KeyEntry {
            label,
            stroke: None,
            marker: None,
            fill: Fill::None,
        }
    }
}

/// Writes the key below `top`, as many entries to a line as fit; gives its height.
fn draw_key(key: &[KeyEntry<'_>], width: f64, top: f64, items: &mut Vec<Item>) -> f64 {
    const SAMPLE: f64 = 9.0;
    let (mut x, mut y) = (1.0, top);
    let mut deepest = top;
    for entry in key {
        let label = Label::new(entry.label, TYPE, width - SAMPLE - 3.0);
        let needed = SAMPLE + label.width() + 4.0;
        if x > 1.0 && x + needed > width + 3.0 {
            (x, y) = (1.0, deepest);
        }
        let middle = point(x + SAMPLE / 2.0 - 1.0, y + 0.6 * TYPE);
        if entry.fill != Fill::None {
            let area = Area {
                x,
                y,
                width: SAMPLE - 2.0,
                height: LINE_HEIGHT,
            };
            let stroke = Some(Stroke::FAINT);
            items.push(Item::Rectangle {
                area,
                stroke,
                fill: entry.fill,
            });
        }
        if let Some(stroke) = entry.stroke {
            let from = point(x, middle.y);
            items.push(Item::Line {
                from,
                to: point(x + SAMPLE - 2.0, middle.y),
                stroke,
            });
        }
        if let Some(marker) = entry.marker {
            draw_marker(middle, marker, items);
        }
        items.extend(label.items(point(x + SAMPLE, y)));
        deepest = deepest.max(y + label.height() + 1.0);
        x += needed;
    }
    deepest - top
}
