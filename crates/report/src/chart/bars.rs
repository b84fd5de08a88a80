//! Level bars: a value each, as a share of its limit or of what else is whole for it.

use super::axis::{Axis, Room, Ruler, Scale, drawable, prefix_for};
use super::labels::{Label, PITCH};
use super::{GAP, LINE_HEIGHT, TYPE};
use crate::decimal;
use crate::draw::width::text_width;
use crate::draw::{Anchor, Area, Fill, Item, Picture, RISE, Stroke, Text, point};

/// A bar beyond this share of its whole is cut off there, %: the figures beside it say the rest, and one that is far over its
/// limit leaves room for the others. Chosen.
const MOST_SHARE: f64 = 150.0;

/// What a bar's length is measured by.
#[derive(Debug, Clone, PartialEq)]
pub enum Whole {
    /// What the value must not exceed.
    Limit(f64),
    /// Another value and its name: what it may exceed.
    Other(f64, String),
}

impl Whole {
    fn value(&self) -> f64 {
        match self {
            Self::Limit(value) | Self::Other(value, _) => *value,
        }
    }

    /// Its value, if it can be a whole.
    fn usable(&self) -> Option<f64> {
        Some(self.value()).filter(|value| drawable(*value, Scale::Linear) && 0.0 < *value)
    }
}

/// One value.
#[derive(Debug, Clone, PartialEq)]
pub struct Bar {
    /// What it is of.
    pub name: String,
    /// How much.
    pub value: f64,
    /// What its full length stands for, in the same unit.
    pub whole: Whole,
}

impl Bar {
    /// Its length, %; not finite where nothing can be drawn.
    fn share(&self) -> f64 {
        match self.whole.usable() {
            Some(_) if !drawable(self.value, Scale::Linear) => f64::NAN,
            Some(whole) => 100.0 * self.value / whole,
            None => f64::NAN,
        }
    }
}

/// Draws one bar to a line, each by its own whole, limits as heavy strokes at 100 %, what exceeds them hatched, the figures
/// in `unit` beside. `label` says what the shares are of; `width` in millimetres.
#[must_use]
pub fn bars(label: &str, unit: &str, bars: &[Bar], width: f64) -> Picture {
    let most = bars.iter().map(Bar::share).fold(100.0, f64::max);
    let axis = Axis::linear(label, "%").between(0.0, most.min(MOST_SHARE));
    let names: Vec<Label> = bars
        .iter()
        .map(|bar| Label::new(&bar.name, TYPE, 0.3 * width))
        .collect();
    let figures: Vec<Label> = bars
        .iter()
        .map(|bar| Label::new(&figures(bar, unit), TYPE, 0.32 * width))
        .collect();
    let widest = |labels: &[Label]| labels.iter().map(Label::width).fold(0.0, f64::max);
    let room = Room {
        length: width / 2.0,
        size: TYPE,
        side_by_side: true,
    };
    let guess = Ruler::new(&axis, std::iter::empty(), room);
    let tick_widths = guess
        .ticks
        .iter()
        .map(|tick| text_width(&tick.text, TYPE, false));
    let half_tick = tick_widths.fold(0.0, f64::max) / 2.0 + GAP;
    let left = half_tick.max(widest(&names) + 2.0 * GAP);
    let right = half_tick.max(widest(&figures) + 2.0 * GAP);
    let length = (width - left - right).max(5.0);
    let ruler = Ruler::new(&axis, std::iter::empty(), Room { length, ..room });
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
    let Some(whole) = bar.whole.usable() else {
        return written(bar.value);
    };
    match &bar.whole {
        Whole::Limit(_) if whole < bar.value => {
            format!(
                "{}, {} over {}",
                written(bar.value),
                written(bar.value - whole),
                written(whole)
            )
        }
        Whole::Limit(_) => format!("{} of {}", written(bar.value), written(whole)),
        Whole::Other(_, name) => {
            format!("{} of {} ({name})", written(bar.value), written(whole))
        }
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
    let share = bar.share();
    let has_limit = matches!(bar.whole, Whole::Limit(_)) && bar.whole.usable().is_some();
    if drawable(share, Scale::Linear) {
        let within = if has_limit { share.min(100.0) } else { share };
        piece(0.0, within, Fill::Light);
        if within < share {
            piece(within, share, Fill::Hatched);
        }
    }
    if has_limit {
        let x = across(100.0);
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
        let bar = |value, whole| Bar {
            name: String::new(),
            value,
            whole,
        };
        let limit = Whole::Limit(1.5);
        assert_eq!(figures(&bar(0.45, limit.clone()), "W"), "450 mW of 1.50 W");
        assert_eq!(
            figures(&bar(1.8, limit.clone()), "W"),
            "1.80 W, 300 mW over 1.50 W"
        );
        let fuse = Whole::Other(0.032, "fuse".to_owned());
        assert_eq!(figures(&bar(0.012, fuse), "A"), "12.0 mA of 32.0 mA (fuse)");
        assert_eq!(figures(&bar(12.0, Whole::Limit(0.0)), "%"), "12.0 %");
        assert_eq!(figures(&bar(f64::NAN, limit), "W"), "not known");
    }
}
