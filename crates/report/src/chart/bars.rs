//! Level bars: a value each, against its limit.

use super::axis::{Axis, Room, Ruler, Scale, drawable, prefix_for};
use super::labels::{Label, PITCH};
use super::{GAP, LINE_HEIGHT, TYPE};
use crate::decimal;
use crate::draw::width::text_width;
use crate::draw::{Anchor, Area, Fill, Item, Picture, RISE, Stroke, Text, point};

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

/// Draws one bar to a line over a common linear axis that begins at zero, the limits as heavy strokes,
/// what exceeds them hatched, the figures beside. `width` in millimetres.
#[must_use]
pub fn bars(axis: &Axis, bars: &[Bar], width: f64) -> Picture {
    let axis = Axis {
        scale: Scale::Linear,
        ..axis.clone()
    };
    let names: Vec<Label> = bars
        .iter()
        .map(|bar| Label::new(&bar.name, TYPE, 0.3 * width))
        .collect();
    let figures: Vec<Label> = bars
        .iter()
        .map(|bar| Label::new(&figures(bar, &axis.unit), TYPE, 0.32 * width))
        .collect();
    let widest = |labels: &[Label]| labels.iter().map(Label::width).fold(0.0, f64::max);
    let values = || {
        bars.iter()
            .flat_map(|bar| [Some(bar.value), bar.limit])
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
    for (((bar, name), figure), height) in bars.iter().zip(&names).zip(&figures).zip(&heights) {
        let middle = y + height / 2.0;
        items.extend(name.items(point(0.3, middle - name.height() / 2.0)));
        items.extend(figure.items(point(plot.right() + GAP, middle - figure.height() / 2.0)));
        draw_bar(
            bar,
            &ruler,
            &Area {
                y,
                height: *height,
                ..plot
            },
            &mut items,
        );
        y += height;
    }
    let height = plot.bottom() + GAP + PITCH * TYPE + LINE_HEIGHT + 1.0;
    Picture {
        width,
        height,
        items,
    }
}

/// The value in words: `0.45 W of 1.5 W`.
fn figures(bar: &Bar, unit: &str) -> String {
    if !drawable(bar.value, Scale::Linear) {
        return "not known".to_owned();
    }
    let written = |value: f64| {
        let (factor, unit) = prefix_for(value.abs(), unit);
        let number = decimal::significant(value / factor, 3);
        if unit.is_empty() {
            number
        } else {
            format!("{number} {unit}")
        }
    };
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

fn draw_bar(bar: &Bar, ruler: &Ruler, line: &Area, items: &mut Vec<Item>) {
    let thick = 3.2_f64.min(line.height - 0.8);
    let y = line.y + (line.height - thick) / 2.0;
    let across = |value: f64| line.x + ruler.share(value).clamp(0.0, 1.0) * line.width;
    let mut piece = |from: f64, to: f64, fill| {
        let (from, to) = (across(from), across(to));
        let area = Area {
            x: from.min(to),
            y,
            width: (to - from).abs(),
            height: thick,
        };
        items.push(Item::Rectangle {
            area,
            stroke: Some(Stroke::PLAIN),
            fill,
        });
    };
    let limit = bar.limit.filter(|limit| drawable(*limit, Scale::Linear));
    if drawable(bar.value, Scale::Linear) {
        let within = limit.map_or(bar.value, |limit| bar.value.min(limit));
        piece(0.0, within, Fill::Light);
        if within < bar.value {
            piece(within, bar.value, Fill::Hatched);
        }
    }
    if let Some(limit) = limit {
        let x = across(limit);
        let (from, to) = (point(x, y - 0.7), point(x, y + thick + 0.7));
        items.push(Item::Line {
            from,
            to,
            stroke: Stroke::HEAVY,
        });
    }
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
