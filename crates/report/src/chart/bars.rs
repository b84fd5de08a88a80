//! Level bars: a value each, as a share of its limit or of what else is whole for it.

use super::axis::{Axis, Room, Ruler, Scale, drawable, prefix_for};
use super::labels::{Label, PITCH};
use super::{GAP, LINE_HEIGHT, TYPE};
use crate::decimal;
use crate::draw::width::text_width;
use crate::draw::{
    Anchor, Area, Fill, Ink, Item, Pattern, Picture, RISE, Stroke, Text, Weight, point,
};

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

/// A value against nothing but the axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Amount {
    /// What it is of.
    pub name: String,
    /// How much, in the unit of the axis.
    pub value: f64,
    /// What is written beside it.
    pub beside: String,
}

/// What is left of a value, against nothing and against a mark of its own.
#[derive(Debug, Clone, PartialEq)]
pub struct Remainder {
    /// What it is of.
    pub name: String,
    /// At first, in the unit of the axis; not finite where that is not known.
    pub at_first: f64,
    /// What is left of it; negative is missing.
    pub left: f64,
    /// Less than this is little.
    pub little: f64,
}

/// Draws one bar to a line, each by its own whole, limits as heavy strokes at 100 %, what exceeds them hatched, the figures
/// in `unit` beside. `label` says what the shares are of; `width` in millimetres.
#[must_use]
pub fn bars(label: &str, unit: &str, bars: &[Bar], width: f64) -> Picture {
    let most = bars.iter().map(Bar::share).fold(100.0, f64::max);
    let axis = Axis::linear(label, "%").between(0.0, most.min(MOST_SHARE));
    let lines: Vec<Line> = bars
        .iter()
        .map(|bar| Line {
            name: &bar.name,
            figures: figures(bar, unit),
        })
        .collect();
    in_lines(&axis, &lines, width, |index, line| {
        draw_bar(&bars[index], line)
    })
}

/// Draws values as bars from zero, one to a line, on one axis with its unit. `width` in millimetres.
#[must_use]
pub fn amounts(axis: &Axis, all: &[Amount], width: f64) -> Picture {
    let lines: Vec<Line> = all
        .iter()
        .map(|one| Line {
            name: &one.name,
            figures: one.beside.clone(),
        })
        .collect();
    let values = || all.iter().map(|one| one.value);
    let (low, high) = (values().fold(0.0, f64::min), values().fold(0.0, f64::max));
    in_lines(
        &axis.clone().between(low, high),
        &lines,
        width,
        |index, line| vec![line.piece(0.0, all[index].value, Fill::Light)],
    )
}

/// Draws what is left as bars from zero, hatched where it is missing, with a line to a ring at what it was at first, and a
/// dotted stroke where little begins; the figures are what is left and, in brackets, what it was. `width` in millimetres.
#[must_use]
pub fn remainders(axis: &Axis, all: &[Remainder], width: f64) -> Picture {
    let lines: Vec<Line> = all
        .iter()
        .map(|one| Line {
            name: &one.name,
            figures: format!(
                "{} ({})",
                written(one.left, &axis.unit),
                if drawable(one.at_first, Scale::Linear) {
                    written(one.at_first, &axis.unit)
                } else {
                    "not known".to_owned()
                }
            ),
        })
        .collect();
    // The rings want room beside names and figures; an axis to the next round number would leave bars little of a phone.
    let values = || {
        all.iter()
            .flat_map(|one| [one.at_first, one.left, one.little])
    };
    let (low, high) = (values().fold(0.0, f64::min), values().fold(0.0, f64::max));
    let room = 0.05 * (high - low);
    let low = if low < 0.0 { low - room } else { low };
    let axis = axis.clone().between(low, high + room);
    in_lines(&axis, &lines, width, |index, line| {
        draw_remainder(&all[index], line)
    })
}

/// What stands in a line beside its bar.
struct Line<'a> {
    name: &'a str,
    figures: String,
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
pub(crate) fn written(value: f64, unit: &str) -> String {
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

fn draw_bar(bar: &Bar, line: &Track) -> Vec<Item> {
    let mut items = Vec::new();
    let share = bar.share();
    let has_limit = matches!(bar.whole, Whole::Limit(_)) && bar.whole.usable().is_some();
    if drawable(share, Scale::Linear) {
        let within = if has_limit { share.min(100.0) } else { share };
        items.push(line.piece(0.0, within, Fill::Light));
        if within < share {
            items.push(line.piece(within, share, Fill::Hatched));
        }
    }
    if has_limit {
        items.push(line.stroke(100.0, Stroke::HEAVY));
    }
    items
}

fn draw_remainder(one: &Remainder, line: &Track) -> Vec<Item> {
    const LITTLE: Stroke = Stroke::new(Pattern::Dotted, Weight::Heavy, Ink::Black);
    const RING: f64 = 0.9;
    let (y, thick) = line.bar();
    let middle = y + thick / 2.0;
    let from = line.across(one.left.max(0.0));
    let to = drawable(one.at_first, Scale::Linear).then(|| line.across(one.at_first));
    let fill = if one.left < 0.0 {
        Fill::Hatched
    } else {
        Fill::Light
    };
    let lost = to.filter(|to| from < *to).map(|to| Item::Line {
        from: point(from, middle),
        to: point(to, middle),
        stroke: Stroke::PLAIN,
    });
    let drawn = [
        line.piece(0.0, one.left, fill),
        line.stroke(one.little, LITTLE),
        line.stroke(0.0, Stroke::HEAVY),
    ];
    let ring = to.map(|to| Item::Circle {
        centre: point(to, middle),
        radius: RING,
        stroke: Some(Stroke::PLAIN),
        fill: Fill::Paper,
    });
    lost.into_iter().chain(drawn).chain(ring).collect()
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
