//! Level bars: a value each, against its limit.

use super::axis::{Axis, Room, Ruler, Scale, drawable, prefix_for};
use super::labels::{Label, PITCH};
use super::{GAP, LINE_HEIGHT, TYPE};
use crate::decimal;
use crate::draw::width::text_width;
use crate::draw::{
    Anchor, Area, Fill, Ink, Item, Pattern, Picture, RISE, Stroke, Text, Weight, point,
};

/// One value.
#[derive(Debug, Clone, PartialEq)]
pub struct Bar {
    /// What it is of.
    pub name: String,
    /// In the unit of the axis.
    pub value: f64,
    /// What it must not exceed, in the same unit.
    pub limit: Option<f64>,
}

/// What is left of a value, against nothing and against a mark of its own.
#[derive(Debug, Clone, PartialEq)]
pub struct Remainder {
    /// What it is of.
    pub name: String,
    /// At first, in the unit of the axis.
    pub at_first: f64,
    /// What is left of it; negative is missing.
    pub left: f64,
    /// Less than this is little.
    pub little: f64,
}

/// Draws one bar to a line over a common linear axis that begins at zero, the limits as heavy strokes,
/// what exceeds them hatched, the figures beside. `width` in millimetres.
#[must_use]
pub fn bars(axis: &Axis, bars: &[Bar], width: f64) -> Picture {
    let lines: Vec<Line> = bars
        .iter()
        .map(|bar| Line {
            name: &bar.name,
            figures: figures(bar, &axis.unit),
            values: [Some(bar.value), bar.limit, None],
        })
        .collect();
    in_lines(axis, &lines, width, |index, line| {
        draw_bar(&bars[index], line)
    })
}

/// Draws what is left as bars from zero, hatched where it is missing, with a thin line to a ring at what it was at first, and
/// a dashed stroke where little begins. `width` in millimetres.
#[must_use]
pub fn remainders(axis: &Axis, all: &[Remainder], width: f64) -> Picture {
    let lines: Vec<Line> = all
        .iter()
        .map(|one| Line {
            name: &one.name,
            figures: format!(
                "{} of {}",
                written(one.left, &axis.unit),
                written(one.at_first, &axis.unit)
            ),
            // The ring wants room beside the figures.
            values: [Some(1.05 * one.at_first), Some(one.left), Some(one.little)],
        })
        .collect();
    in_lines(axis, &lines, width, |index, line| {
        draw_remainder(&all[index], line)
    })
}

/// What stands in a line beside its bar, and the values that the axis has to reach.
struct Line<'a> {
    name: &'a str,
    figures: String,
    values: [Option<f64>; 3],
}

/// The room of one bar, with the axis.
struct Track<'a> {
    ruler: &'a Ruler,
    area: Area,
}

impl Track<'_> {
    fn across(&self, value: f64) -> f64 {
        self.area.x + self.ruler.share(value).clamp(0.0, 1.0) * self.area.width
    }

    /// Upper edge and thickness of the bar.
    fn bar(&self) -> (f64, f64) {
        let thick = 3.2_f64.min(self.area.height - 0.8);
        (self.area.y + (self.area.height - thick) / 2.0, thick)
    }

    fn piece(&self, from: f64, to: f64, fill: Fill) -> Item {
        let (from, to) = (self.across(from), self.across(to));
        let (y, height) = self.bar();
        Item::Rectangle {
            area: Area {
                x: from.min(to),
                y,
                width: (to - from).abs(),
                height,
            },
            stroke: Some(Stroke::PLAIN),
            fill,
        }
    }

    /// A stroke across the bar and a little beyond.
    fn stroke(&self, value: f64, stroke: Stroke) -> Item {
        let x = self.across(value);
        let (y, thick) = self.bar();
        Item::Line {
            from: point(x, y - 0.7),
            to: point(x, y + thick + 0.7),
            stroke,
        }
    }
}

/// Lines over a common linear axis that shows zero: names to the left, figures to the right, what `draw` draws between.
fn in_lines(
    axis: &Axis,
    lines: &[Line],
    width: f64,
    draw: impl Fn(usize, &Track) -> Vec<Item>,
) -> Picture {
    let axis = Axis {
        scale: Scale::Linear,
        ..axis.clone()
    };
    let names: Vec<Label> = lines
        .iter()
        .map(|line| Label::new(line.name, TYPE, 0.3 * width))
        .collect();
    let figures: Vec<Label> = lines
        .iter()
        .map(|line| Label::new(&line.figures, TYPE, 0.32 * width))
        .collect();
    let widest = |labels: &[Label]| labels.iter().map(Label::width).fold(0.0, f64::max);
    let values = || {
        lines
            .iter()
            .flat_map(|line| line.values)
            .flatten()
            .chain([0.0])
    };
    let room = Room {
        length: width / 2.0,
        size: TYPE,
        side_by_side: true,
    };
    let guess = Ruler::new(&axis, values(), room);
    let tick_widths = guess
        .ticks
        .iter()
        .map(|tick| text_width(&tick.text, TYPE, false));
    let half_tick = tick_widths.fold(0.0, f64::max) / 2.0 + GAP;
    let left = half_tick.max(widest(&names) + 2.0 * GAP);
    let right = half_tick.max(widest(&figures) + 2.0 * GAP);
    let length = (width - left - right).max(5.0);
    let ruler = Ruler::new(&axis, values(), Room { length, ..room });
    let heights: Vec<f64> = names
        .iter()
        .zip(&figures)
        .map(|(name, figure)| name.height().max(figure.height()) + 2.2)
        .collect();
    let plot = Area {
        x: left,
        y: 0.5,
        width: length,
        height: heights.iter().sum::<f64>().max(1.0),
    };
    let mut items = Vec::new();
    draw_scale(&ruler, &plot, &mut items);
    let mut y = plot.y;
    for (index, ((name, figure), height)) in names.iter().zip(&figures).zip(&heights).enumerate() {
        let middle = y + height / 2.0;
        items.extend(name.items(point(0.3, middle - name.height() / 2.0)));
        items.extend(figure.items(point(plot.right() + GAP, middle - figure.height() / 2.0)));
        let area = Area {
            y,
            height: *height,
            ..plot
        };
        let track = Track {
            ruler: &ruler,
            area,
        };
        items.extend(draw(index, &track));
        y += height;
    }
    let height = plot.bottom() + GAP + PITCH * TYPE + LINE_HEIGHT + 1.0;
    Picture {
        width,
        height,
        items,
    }
}

/// `450 mW`
fn written(value: f64, unit: &str) -> String {
    let (factor, unit) = prefix_for(value.abs(), unit);
    let number = decimal::significant(value / factor, 3);
    if unit.is_empty() {
        number
    } else {
        format!("{number} {unit}")
    }
}

/// The value in words: `0.45 W of 1.5 W`.
fn figures(bar: &Bar, unit: &str) -> String {
    if !drawable(bar.value, Scale::Linear) {
        return "not known".to_owned();
    }
    let written = |value: f64| written(value, unit);
    match bar.limit.filter(|limit| drawable(*limit, Scale::Linear)) {
        None => written(bar.value),
        Some(limit) if bar.value > limit => {
            format!(
                "{}, {} over {}",
                written(bar.value),
                written(bar.value - limit),
                written(limit)
            )
        }
        Some(limit) => format!("{} of {}", written(bar.value), written(limit)),
    }
}

fn draw_scale(ruler: &Ruler, plot: &Area, items: &mut Vec<Item>) {
    let base = plot.bottom() + GAP + RISE * TYPE;
    for tick in &ruler.ticks {
        let x = plot.x + ruler.share(tick.value) * plot.width;
        let stroke = if tick.value == 0.0 {
            Stroke::PLAIN
        } else {
            Stroke::FAINT
        };
        let (from, to) = (point(x, plot.y), point(x, plot.bottom()));
        items.push(Item::Line { from, to, stroke });
        let place = point(x, base);
        items.push(Item::Text(
            Text::new(place, &tick.text, TYPE).anchored(Anchor::Middle),
        ));
    }
    let title = point(plot.right(), base + PITCH * TYPE);
    items.push(Item::Text(
        Text::new(title, &ruler.title, TYPE).anchored(Anchor::End),
    ));
}

fn draw_bar(bar: &Bar, line: &Track) -> Vec<Item> {
    let mut items = Vec::new();
    let limit = bar.limit.filter(|limit| drawable(*limit, Scale::Linear));
    if drawable(bar.value, Scale::Linear) {
        let within = limit.map_or(bar.value, |limit| bar.value.min(limit));
        items.push(line.piece(0.0, within, Fill::Light));
        if within < bar.value {
            items.push(line.piece(within, bar.value, Fill::Hatched));
        }
    }
    items.extend(limit.map(|limit| line.stroke(limit, Stroke::HEAVY)));
    items
}

fn draw_remainder(one: &Remainder, line: &Track) -> Vec<Item> {
    const LITTLE: Stroke = Stroke::new(Pattern::Dotted, Weight::Heavy, Ink::Black);
    const RING: f64 = 0.9;
    let (y, thick) = line.bar();
    let middle = y + thick / 2.0;
    let (from, to) = (line.across(one.left), line.across(one.at_first));
    let fill = if one.left < 0.0 {
        Fill::Hatched
    } else {
        Fill::Light
    };
    vec![
        Item::Line {
            from: point(from, middle),
            to: point(to, middle),
            stroke: Stroke::PLAIN,
        },
        line.piece(0.0, one.left, fill),
        line.stroke(one.little, LITTLE),
        line.stroke(0.0, Stroke::HEAVY),
        Item::Circle {
            centre: point(to, middle),
            radius: RING,
            stroke: Some(Stroke::PLAIN),
            fill: Fill::Paper,
        },
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_say_how_much_of_the_limit_is_used() {
        let bar = |value, limit| Bar {
            name: String::new(),
            value,
            limit,
        };
        assert_eq!(figures(&bar(0.45, Some(1.5)), "W"), "450 mW of 1.50 W");
        assert_eq!(
            figures(&bar(1.8, Some(1.5)), "W"),
            "1.80 W, 300 mW over 1.50 W"
        );
        assert_eq!(figures(&bar(12.0, None), "%"), "12.0 %");
        assert_eq!(figures(&bar(f64::NAN, Some(1.0)), "W"), "not known");
    }
}
