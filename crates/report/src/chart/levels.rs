//! The picture of levels: for every net where its down and its up level lie, and how much is to spare against
//! the thresholds of the gates it drives.

use super::axis::{Axis, Room, Ruler, Scale, drawable};
use super::labels::{Label, PITCH, spread};
use super::{GAP, TYPE};
use crate::decimal;
use crate::draw::width::text_width;
use crate::draw::{
    Anchor, Area, Fill, Ink, Item, Pattern, Picture, RISE, Stroke, Text, Weight, point,
};

/// One net.
#[derive(Debug, Clone, PartialEq)]
pub struct LevelColumn {
    /// Of the net, or of the gate whose output it is.
    pub name: String,
    /// Lowest and highest volts of its down level.
    pub down: (f64, f64),
    /// Lowest and highest volts of its up level.
    pub up: (f64, f64),
    /// Volts the down level has to stay below, from the gates driven.
    pub must_be_below: Option<f64>,
    /// Volts the up level has to stay above, from the gates driven.
    pub must_be_above: Option<f64>,
}

impl LevelColumn {
    fn values(&self) -> impl Iterator<Item = f64> {
        let limits = self.must_be_below.into_iter().chain(self.must_be_above);
        [self.down.0, self.down.1, self.up.0, self.up.1]
            .into_iter()
            .chain(limits)
    }
}

/// Height of the volt scale in millimetres.
const SCALE_HEIGHT: f64 = 62.0;
/// Width of the bars in millimetres.
const BAR: f64 = 4.0;
/// From the left edge of a column to its bar.
const BAR_OFFSET: f64 = 1.5;
/// From the left edge of a column to its texts: bar, margin mark, leader.
const TEXT_OFFSET: f64 = BAR_OFFSET + BAR + 5.2;
/// Size of type of the texts beside the bars, millimetres.
const NOTE_TYPE: f64 = 2.6;
/// Clear space between the texts of a column and the next one.
const COLUMN_GAP: f64 = 2.5;

/// Draws the columns side by side over one volt scale, as many as fit into `width` millimetres to a picture;
/// all pictures have the same scale. Down levels are dark, up levels light, thresholds dashed;
/// a shortfall is hatched. Values that are not finite are left out.
#[must_use]
pub fn levels(columns: &[LevelColumn], width: f64) -> Vec<Picture> {
    let room = Room {
        length: SCALE_HEIGHT,
        size: TYPE,
        side_by_side: false,
    };
    let axis = Axis::linear("", "volts");
    let ruler = Ruler::new(&axis, columns.iter().flat_map(LevelColumn::values), room);
    let decimals = if ruler.high - ruler.low < 4.0 { 2 } else { 1 };
    let notes: Vec<Vec<Note>> = columns
        .iter()
        .map(|column| notes(column, decimals))
        .collect();
    let text_widths = notes.iter().flatten().map(|note| note.label.width());
    let column_width = TEXT_OFFSET + text_widths.fold(14.0, f64::max) + COLUMN_GAP;
    let tick_widths = ruler
        .ticks
        .iter()
        .map(|tick| text_width(&tick.text, TYPE, false));
    let left = tick_widths.fold(text_width("volts", TYPE, false), f64::max) + 2.0 * GAP;
    let n_per_row = ((width - left) / column_width).floor().max(1.0) as usize;
    let row = Row {
        ruler: &ruler,
        left,
        column_width,
    };
    columns
        .chunks(n_per_row)
        .zip(notes.chunks(n_per_row))
        .map(|(columns, notes)| row.draw(columns, notes))
        .collect()
}

/// A text beside a column, at the height of what it names.
struct Note {
    volts: f64,
    label: Label,
}

/// What is written beside a column, from the top down.
fn notes(column: &LevelColumn, decimals: usize) -> Vec<Note> {
    let volts = |value: f64| decimal::fixed(value, decimals);
    let plain = |volts: f64, text: String| Note {
        volts,
        label: Label::new(&text, NOTE_TYPE, 60.0),
    };
    let range = |word: &str, (low, high): (f64, f64)| {
        let (low_text, high_text) = (volts(low), volts(high));
        let text = if low_text == high_text {
            low_text
        } else {
            format!("{low_text} to {high_text}")
        };
        plain((low + high) / 2.0, format!("{word} {text}"))
    };
    let mut notes = vec![range("up", column.up), range("down", column.down)];
    if let Some(limit) = column.must_be_above {
        notes.push(plain(limit, format!("at least {}", volts(limit))));
        notes.push(margin(column.up.0, limit, column.up.0 - limit));
    }
    if let Some(limit) = column.must_be_below {
        notes.push(plain(limit, format!("at most {}", volts(limit))));
        notes.push(margin(column.down.1, limit, limit - column.down.1));
    }
    notes.retain(|note| drawable(note.volts, Scale::Linear));
    notes.sort_by(|one, other| other.volts.total_cmp(&one.volts));
    notes
}

/// The note between a level and its limit.
fn margin(level: f64, limit: f64, to_spare: f64) -> Note {
    let decimals = if to_spare.abs() < 1.0 { 2 } else { 1 };
    let amount = decimal::fixed(to_spare.abs(), decimals);
    let word = if to_spare < 0.0 { "short" } else { "to spare" };
    let label = Label::in_bold(&format!("{amount} V {word}"), NOTE_TYPE, 60.0);
    Note {
        volts: (level + limit) / 2.0,
        label,
    }
}

struct Row<'a> {
    ruler: &'a Ruler,
    left: f64,
    column_width: f64,
}

impl Row<'_> {
    fn draw(&self, columns: &[LevelColumn], notes: &[Vec<Note>]) -> Picture {
        let names: Vec<Label> = columns
            .iter()
            .map(|column| Label::in_bold(&column.name, TYPE, self.column_width - COLUMN_GAP))
            .collect();
        let name_height = names.iter().map(Label::height).fold(0.0, f64::max);
        let scale = Area {
            x: self.left,
            y: name_height + PITCH * TYPE,
            width: self.column_width * columns.len() as f64,
            height: SCALE_HEIGHT,
        };
        let mut items = Vec::new();
        self.draw_scale(&scale, columns.len(), &mut items);
        for (idx, ((column, name), notes)) in columns.iter().zip(&names).zip(notes).enumerate() {
            let x = scale.x + self.column_width * idx as f64;
            // Names stand on the scale, whatever their number of lines.
            items.extend(name.items(point(x + BAR_OFFSET, name_height - name.height())));
            self.draw_column(column, x, &scale, &mut items);
            self.draw_notes(notes, x, &scale, &mut items);
        }
        Picture {
            width: scale.right(),
            height: scale.bottom() + TYPE,
            items,
        }
    }

    fn height_of(&self, volts: f64, scale: &Area) -> f64 {
        scale.bottom() - self.ruler.share(volts) * scale.height
    }

    /// The volt scale; its lines run behind the bars and leave the texts free.
    fn draw_scale(&self, scale: &Area, n_columns: usize, items: &mut Vec<Item>) {
        for tick in &self.ruler.ticks {
            let y = self.height_of(tick.value, scale);
            let stroke = if tick.value == 0.0 {
                Stroke::PLAIN
            } else {
                Stroke::FAINT
            };
            for idx in 0..n_columns {
                let x = scale.x + self.column_width * idx as f64;
                let to = point(x + BAR_OFFSET + BAR + 1.8, y);
                items.push(Item::Line {
                    from: point(x, y),
                    to,
                    stroke,
                });
            }
            let place = point(scale.x - GAP, y + RISE / 2.0 * TYPE);
            items.push(Item::Text(
                Text::new(place, &tick.text, TYPE).anchored(Anchor::End),
            ));
        }
        let corner = point(scale.x, scale.y);
        let foot = point(scale.x, scale.bottom());
        items.push(Item::Line {
            from: corner,
            to: foot,
            stroke: Stroke::PLAIN,
        });
        let title = point(scale.x - GAP, scale.y - 0.9 * TYPE);
        items.push(Item::Text(
            Text::new(title, "volts", TYPE).anchored(Anchor::End),
        ));
    }

    fn draw_column(&self, column: &LevelColumn, x: f64, scale: &Area, items: &mut Vec<Item>) {
        let bar = x + BAR_OFFSET;
        let middle = bar + BAR / 2.0;
        let known = |volts: f64| drawable(volts, Scale::Linear);
        if known(column.down.1) && known(column.up.0) {
            let from = point(middle, self.height_of(column.down.1, scale));
            let to = point(middle, self.height_of(column.up.0, scale));
            items.push(Item::Line {
                from,
                to,
                stroke: Stroke::PLAIN,
            });
        }
        for ((low, high), fill) in [(column.down, Fill::Dark), (column.up, Fill::Light)] {
            if known(low) && known(high) {
                let area = self.span(bar, BAR, (low, high), scale);
                items.push(Item::Rectangle {
                    area,
                    stroke: Some(Stroke::PLAIN),
                    fill,
                });
            }
        }
        let limits = [
            (column.must_be_below, column.down.1, 1.0),
            (column.must_be_above, column.up.0, -1.0),
        ];
        for (limit, level, sign) in limits {
            let Some(limit) = limit.filter(|limit| known(*limit)) else {
                continue;
            };
            let y = self.height_of(limit, scale);
            let stroke = Stroke::new(Pattern::Dashed, Weight::Heavy, Ink::Accent);
            let (from, to) = (point(bar - 1.0, y), point(bar + BAR + 1.8, y));
            items.push(Item::Line { from, to, stroke });
            if known(level) {
                let is_short = sign * (limit - level) < 0.0;
                self.draw_margin(bar + BAR, (level, limit), is_short, scale, items);
            }
        }
    }

    /// The mark right of the bar between a level and its limit: a line between two ends, or hatching.
    fn draw_margin(
        &self,
        x: f64,
        ends: (f64, f64),
        is_short: bool,
        scale: &Area,
        items: &mut Vec<Item>,
    ) {
        if is_short {
            let area = self.span(x - BAR, BAR + 1.8, ends, scale);
            items.push(Item::Rectangle {
                area,
                stroke: None,
                fill: Fill::Paper,
            });
            items.push(Item::Rectangle {
                area,
                stroke: Some(Stroke::PLAIN),
                fill: Fill::Hatched,
            });
            return;
        }
        let area = self.span(x, 1.8, ends, scale);
        let middle = x + 1.2;
        let (top, foot) = (point(middle, area.y), point(middle, area.bottom()));
        items.push(Item::Line {
            from: top,
            to: foot,
            stroke: Stroke::PLAIN,
        });
        for y in [area.y, area.bottom()] {
            let (from, to) = (point(middle - 0.6, y), point(middle + 0.6, y));
            items.push(Item::Line {
                from,
                to,
                stroke: Stroke::PLAIN,
            });
        }
    }

    /// The box from one level to another, at least a hair high.
    fn span(&self, x: f64, width: f64, ends: (f64, f64), scale: &Area) -> Area {
        let (one, other) = (self.height_of(ends.0, scale), self.height_of(ends.1, scale));
        Area {
            x,
            y: one.min(other),
            width,
            height: (one - other).abs().max(0.2),
        }
    }

    fn draw_notes(&self, notes: &[Note], x: f64, scale: &Area, items: &mut Vec<Item>) {
        let wanted: Vec<(f64, f64)> = notes
            .iter()
            .map(|note| (self.height_of(note.volts, scale), note.label.height() + 0.5))
            .collect();
        let middles = spread(&wanted, scale.y - TYPE / 2.0, scale.bottom() + TYPE / 2.0);
        let left = x + TEXT_OFFSET;
        for ((note, (own, height)), middle) in notes.iter().zip(&wanted).zip(&middles) {
            let (from, to) = (point(left - 3.2, *own), point(left - 0.6, *middle));
            items.push(Item::Line {
                from,
                to,
                stroke: Stroke::FAINT,
            });
            items.extend(note.label.items(point(left, middle - height / 2.0 + 0.25)));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn column(down: (f64, f64), up: (f64, f64)) -> LevelColumn {
        LevelColumn {
            name: "y".to_owned(),
            down,
            up,
            must_be_below: Some(-5.0),
            must_be_above: Some(0.0),
        }
    }

    fn texts(columns: &[LevelColumn]) -> Vec<String> {
        let pictures = levels(columns, 170.0);
        pictures
            .iter()
            .flat_map(|picture| picture.text_areas())
            .map(|(text, _)| text.to_owned())
            .collect()
    }

    #[test]
    fn margins_are_worded_from_the_near_ends_of_the_ranges() {
        let texts = texts(&[
            column((-12.0, -10.0), (1.5, 3.0)),
            column((-4.5, -3.8), (-0.25, 3.0)),
        ]);
        for expected in [
            "5.0 V to spare",
            "1.5 V to spare",
            "1.2 V short",
            "0.25 V short",
        ] {
            assert!(
                texts.iter().any(|text| text == expected),
                "{expected}: {texts:?}"
            );
        }
    }

    #[test]
    fn unknown_levels_are_left_out() {
        let texts = texts(&[column((f64::NAN, f64::NAN), (1.5, 3.0))]);
        assert!(
            texts.iter().any(|text| text == "1.5 V to spare"),
            "{texts:?}"
        );
        assert!(
            !texts.iter().any(|text| text.starts_with("down")),
            "{texts:?}"
        );
    }

    #[test]
    fn columns_wrap_into_rows_of_the_page_width() {
        let columns = vec![column((-12.0, -10.0), (1.5, 3.0)); 11];
        let pictures = levels(&columns, 170.0);
        assert!(pictures.len() > 1);
        assert!(pictures.iter().all(|picture| picture.width <= 170.0));
        assert!(levels(&[], 170.0).is_empty());
        // Too narrow for even one: one to a row, never none.
        assert_eq!(levels(&columns, 1.0).len(), 11);
    }
}
