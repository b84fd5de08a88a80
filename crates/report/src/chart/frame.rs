//! The frame of a chart: where the axes lie, how values become places on the sheet, and what of the data is in view.

use super::axis::{Room, Ruler, drawable};
use super::labels::{Label, PITCH};
use super::{Along, Band, Chart, END_LABEL, GAP, Series, TYPE};
use crate::draw::width::text_width;
use crate::draw::{
    Anchor, Area, Fill, Ink, Item, Pattern, Point, RISE, Stroke, Text, Weight, point,
};

/// From the plot down to the texts of the x axis: clear of the lowest text of the y axis.
const X_GAP: f64 = 1.8;

/// Where the axes lie and how values become places.
pub(super) struct Frame {
    pub(super) sheet: Area,
    pub(super) plot: Area,
    x: Ruler,
    y: Ruler,
}

impl Frame {
    /// Settles the axes and the margins round the plot.
    pub(super) fn new(chart: &Chart) -> Frame {
        let line = PITCH * TYPE;
        // Room for the title of the y axis and for labels of curves that leave through the upper edge.
        let top = 2.2 * line;
        let bottom = 2.2 * line + X_GAP;
        let plot_height = (chart.height - top - bottom).max(5.0);
        let room = Room {
            length: plot_height,
            size: TYPE,
            side_by_side: false,
        };
        let y = Ruler::new(&chart.y, chart.values(Along::Y), room);
        let tick_widths = y
            .ticks
            .iter()
            .map(|tick| text_width(&tick.text, TYPE, false));
        let left = tick_widths.fold(0.0, f64::max) + 2.0 * GAP;
        let guess = Room {
            length: chart.width - left,
            size: TYPE,
            side_by_side: true,
        };
        let x = Ruler::new(&chart.x, chart.values(Along::X), guess);
        let right = right_margin(chart, &x);
        let plot_width = (chart.width - left - right).max(5.0);
        let room = Room {
            length: plot_width,
            ..guess
        };
        let x = Ruler::new(&chart.x, chart.values(Along::X), room);
        Frame {
            sheet: Area {
                x: 0.0,
                y: 0.0,
                width: chart.width,
                height: chart.height,
            },
            plot: Area {
                x: left,
                y: top,
                width: plot_width,
                height: plot_height,
            },
            x,
            y,
        }
    }

    /// Widest label right of the plot.
    pub(super) fn end_label_width(&self) -> f64 {
        (self.sheet.right() - self.plot.right() - GAP).max(0.0)
    }

    /// On the sheet, perhaps outside the plot; `None` for values that cannot be drawn.
    fn place(&self, (x, y): (f64, f64)) -> Option<Point> {
        /// Further out nothing is seen, and lines keep their course well enough.
        const FAR: f64 = 1e6;
        if !drawable(x, self.x.scale) || !drawable(y, self.y.scale) {
            return None;
        }
        Some(point(
            self.plot.x + self.x.share(x).clamp(-FAR, FAR) * self.plot.width,
            self.plot.bottom() - self.y.share(y).clamp(-FAR, FAR) * self.plot.height,
        ))
    }

    /// On the sheet and inside the plot.
    pub(super) fn inside(&self, pair: (f64, f64)) -> Option<Point> {
        self.place(pair)
            .filter(|at| self.plot.grown(1e-6).contains(*at))
    }

    /// The parts of a course inside the plot. A run of one point comes from a point without neighbours.
    pub(super) fn visible_runs(&self, points: &[(f64, f64)]) -> Vec<Vec<Point>> {
        let plot = self.plot.grown(1e-6);
        let mut runs: Vec<Vec<Point>> = Vec::new();
        let mut before: Option<Point> = None;
        for pair in points {
            let at = self.place(*pair);
            if let Some(at) = at {
                let piece = match before {
                    Some(from) => clipped(from, at, &plot),
                    None => plot.contains(at).then_some((at, at)),
                };
                if let Some((from, to)) = piece {
                    match runs.last_mut() {
                        Some(run) if before.is_some() && run.last() == Some(&from) => run.push(to),
                        _ if from == to => runs.push(vec![to]),
                        _ => runs.push(vec![from, to]),
                    }
                }
            }
            before = at;
        }
        runs
    }

    /// The ends of a line across the plot at a value in view: the lower or left end first.
    pub(super) fn line_ends(&self, along: Along, at: f64) -> Option<(Point, Point)> {
        let plot = &self.plot;
        match along {
            Along::X if drawable(at, self.x.scale) => {
                let x = plot.x + self.x.share(at) * plot.width;
                Some((point(x, plot.bottom()), point(x, plot.y)))
            }
            Along::Y if drawable(at, self.y.scale) => {
                let y = plot.bottom() - self.y.share(at) * plot.height;
                Some((point(plot.x, y), point(plot.right(), y)))
            }
            _ => None,
        }
        .filter(|(from, to)| plot.grown(1e-6).contains(*from) && plot.grown(1e-6).contains(*to))
    }

    /// The visible part of a band; `None` if there is none.
    pub(super) fn band_area(&self, band: &Band) -> Option<Area> {
        let ruler = match band.along {
            Along::X => &self.x,
            Along::Y => &self.y,
        };
        let share = |value: f64| {
            if drawable(value, ruler.scale) {
                ruler.share(value).clamp(0.0, 1.0)
            } else {
                0.0
            }
        };
        if band.from.is_nan() || band.to.is_nan() || band.from >= band.to {
            return None;
        }
        let from = share(band.from);
        let to = if band.to == f64::INFINITY {
            1.0
        } else {
            share(band.to)
        };
        let plot = &self.plot;
        let area = match band.along {
            Along::X => Area {
                x: plot.x + from * plot.width,
                width: (to - from) * plot.width,
                ..*plot
            },
            Along::Y => Area {
                y: plot.bottom() - to * plot.height,
                height: (to - from) * plot.height,
                ..*plot
            },
        };
        (area.width > 0.0 && area.height > 0.0).then_some(area)
    }

    /// The fine grid and the lines of the ticks.
    pub(super) fn draw_grid(&self, items: &mut Vec<Item>) {
        let faint = |along, value: f64, pattern| {
            let stroke = Stroke::new(pattern, Weight::Thin, Ink::Grey);
            self.line_ends(along, value)
                .map(|(from, to)| Item::Line { from, to, stroke })
        };
        for (along, ruler) in [(Along::X, &self.x), (Along::Y, &self.y)] {
            items.extend(
                ruler
                    .minor
                    .iter()
                    .filter_map(|v| faint(along, *v, Pattern::Dotted)),
            );
            items.extend(
                ruler
                    .ticks
                    .iter()
                    .filter_map(|t| faint(along, t.value, Pattern::Solid)),
            );
        }
    }

    /// The frame, a heavier line at zero, tick texts and titles.
    pub(super) fn draw_scales(&self, items: &mut Vec<Item>) {
        let plot = self.plot;
        items.push(Item::Rectangle {
            area: plot,
            stroke: Some(Stroke::PLAIN),
            fill: Fill::None,
        });
        for (along, ruler) in [(Along::X, &self.x), (Along::Y, &self.y)] {
            let crosses_zero = ruler.low < 0.0 && 0.0 < ruler.high;
            let zero = self.line_ends(along, 0.0).filter(|_| crosses_zero);
            items.extend(zero.map(|(from, to)| Item::Line {
                from,
                to,
                stroke: Stroke::PLAIN,
            }));
        }
        let base = plot.bottom() + X_GAP + RISE * TYPE;
        for tick in &self.x.ticks {
            if let Some((at, _)) = self.line_ends(Along::X, tick.value) {
                items.push(Item::Text(
                    Text::new(point(at.x, base), &tick.text, TYPE).anchored(Anchor::Middle),
                ));
            }
        }
        for tick in &self.y.ticks {
            if let Some((at, _)) = self.line_ends(Along::Y, tick.value) {
                let place = point(plot.x - GAP, at.y + RISE / 2.0 * TYPE);
                items.push(Item::Text(
                    Text::new(place, &tick.text, TYPE).anchored(Anchor::End),
                ));
            }
        }
        let below = point(plot.right(), base + 1.15 * PITCH * TYPE);
        items.push(Item::Text(
            Text::new(below, &self.x.title, TYPE).anchored(Anchor::End),
        ));
        let above = point(GAP / 2.0, RISE * TYPE + GAP / 2.0);
        items.push(Item::Text(Text::new(above, &self.y.title, TYPE)));
    }

    /// What an empty chart says.
    pub(super) fn nothing_to_draw(&self) -> Item {
        let plot = &self.plot;
        let middle = point(plot.x + plot.width / 2.0, plot.y + plot.height / 2.0);
        Item::Text(
            Text::new(middle, "nothing to draw", TYPE)
                .anchored(Anchor::Middle)
                .with_rim(),
        )
    }
}

/// Room right of the plot: half the last tick text, and the labels of curves that end at the right edge.
fn right_margin(chart: &Chart, x: &Ruler) -> f64 {
    let last_tick = x
        .ticks
        .last()
        .map_or(0.0, |tick| text_width(&tick.text, TYPE, false) / 2.0);
    let ends_right = |series: &&Series| {
        let last = series
            .points
            .iter()
            .rev()
            .find(|pair| drawable(pair.0, x.scale));
        last.is_some_and(|(last, _)| series.ends_right(x.share(*last)))
    };
    let labels = chart.series.iter().filter(ends_right).map(|series| {
        let label = Label::new(&series.label, TYPE, END_LABEL.min(0.3 * chart.width));
        label.width() + GAP + 0.5
    });
    labels.fold(last_tick + 0.3, f64::max)
}

/// The part of a straight line inside a rectangle (Liang and Barsky's parametric clipping).
fn clipped(from: Point, to: Point, area: &Area) -> Option<(Point, Point)> {
    let (dx, dy) = (to.x - from.x, to.y - from.y);
    let (mut first, mut last) = (0.0_f64, 1.0_f64);
    let edges = [
        (-dx, from.x - area.x),
        (dx, area.right() - from.x),
        (-dy, from.y - area.y),
        (dy, area.bottom() - from.y),
    ];
    for (pace, distance) in edges {
        if pace == 0.0 {
            if distance < 0.0 {
                return None;
            }
        } else if pace < 0.0 {
            first = first.max(distance / pace);
        } else {
            last = last.min(distance / pace);
        }
    }
    if first > last {
        return None;
    }
    // The ends themselves are kept exactly, so that runs join.
    let along = |share: f64| match share {
        0.0 => from,
        1.0 => to,
        _ => point(from.x + share * dx, from.y + share * dy),
    };
    Some((along(first), along(last)))
}

#[cfg(test)]
mod tests {
    use super::super::Axis;
    use super::*;

    const AREA: Area = Area {
        x: 0.0,
        y: 0.0,
        width: 10.0,
        height: 10.0,
    };

    #[test]
    fn lines_are_cut_at_the_edge() {
        let through = clipped(point(-5.0, 5.0), point(15.0, 5.0), &AREA);
        assert_eq!(through, Some((point(0.0, 5.0), point(10.0, 5.0))));
        assert_eq!(clipped(point(-5.0, 5.0), point(5.0, 20.0), &AREA), None);
        assert_eq!(clipped(point(12.0, 1.0), point(12.0, 9.0), &AREA), None);
        let inside = (point(1.0, 1.0), point(2.0, 3.0));
        assert_eq!(clipped(inside.0, inside.1, &AREA), Some(inside));
    }

    #[test]
    fn a_gap_in_the_data_interrupts_the_line() {
        let axis = || Axis::linear("", "").between(0.0, 10.0);
        let chart = Chart::new(100.0, 60.0, axis(), axis());
        let points = [
            (1.0, 1.0),
            (2.0, 2.0),
            (3.0, f64::NAN),
            (4.0, 4.0),
            (5.0, 5.0),
            (20.0, 5.0),
            (6.0, 3.0),
        ];
        let runs = Frame::new(&chart).visible_runs(&points);
        // (20, 5) is outside: the line goes out to the edge and comes back elsewhere.
        assert_eq!(runs.iter().map(Vec::len).collect::<Vec<_>>(), [2, 3, 2]);
    }

    #[test]
    fn band_edges_at_infinity_reach_the_edge_of_the_chart() {
        let axis = || Axis::linear("", "").between(0.0, 10.0);
        let frame = Frame::new(&Chart::new(100.0, 60.0, axis(), axis()));
        let band = |from, to| Band {
            along: Along::Y,
            from,
            to,
            label: String::new(),
            fill: Fill::Light,
        };
        let lower = frame
            .band_area(&band(f64::NEG_INFINITY, 5.0))
            .expect("it is in view");
        assert!((lower.height - frame.plot.height / 2.0).abs() < 1e-9);
        assert!((lower.bottom() - frame.plot.bottom()).abs() < 1e-9);
        let upper = frame
            .band_area(&band(5.0, f64::INFINITY))
            .expect("it is in view");
        assert!((upper.y - frame.plot.y).abs() < 1e-9);
        assert_eq!(frame.band_area(&band(7.0, 5.0)), None);
        assert_eq!(frame.band_area(&band(f64::NAN, 5.0)), None);
    }
}
