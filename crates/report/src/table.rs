//! Tables: one value, written for a terminal or as HTML.
//!
//! Numbers stand with their decimal points below one another, units are in the headings,
//! and nothing depends on colour.

mod terminal;

use crate::decimal;
use crate::draw::width::text_width;
use maud::{Markup, html};

/// How the cells of a column stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Align {
    /// At the left edge.
    Left,
    /// At the right edge, numbers at the decimal point.
    Right,
}

/// A column's head.
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    /// What stands in it.
    pub heading: String,
    /// Symbol of the unit of its numbers; may be empty.
    pub unit: String,
    /// How its cells stand.
    pub align: Align,
}

impl Column {
    /// Heading and unit in one line: `down, V`.
    fn title(&self) -> String {
        if self.unit.is_empty() {
            self.heading.clone()
        } else {
            format!("{}, {}", self.heading, self.unit)
        }
    }
}

/// A judgement, shown by sign and word.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mark {
    /// As it should be.
    Pass,
    /// Near a limit.
    Caution,
    /// Beyond a limit.
    Fault,
    /// Not judged.
    None,
}

impl Mark {
    /// The sign before the text; `plain` keeps to ASCII.
    fn sign(self, plain: bool) -> &'static str {
        match (self, plain) {
            (Mark::Pass, false) => "✓",
            (Mark::Pass, true) => "ok",
            (Mark::Caution, _) => "!",
            (Mark::Fault, false) => "✗",
            (Mark::Fault, true) => "XX",
            (Mark::None, _) => "",
        }
    }

    /// The word that stands for the sign where it is read out.
    fn word(self) -> &'static str {
        match self {
            Mark::Pass => "pass",
            Mark::Caution => "caution",
            Mark::Fault => "fault",
            Mark::None => "",
        }
    }
}

/// What stands in one place of a table.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// Words.
    Text(String),
    /// A number in the column's unit.
    Number {
        /// Not finite means not known.
        value: f64,
        /// Decimals after the point.
        digits: usize,
    },
    /// A judgement and its words; without words the mark's own word stands.
    Mark(Mark, String),
}

/// A table with a caption.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// What it shows.
    pub caption: String,
    /// Heads, from left to right.
    pub columns: Vec<Column>,
    /// Cells from left to right; missing ones are empty, surplus ones are left out.
    pub rows: Vec<Vec<Cell>>,
}

impl Table {
    /// Writes the table for a terminal `width` characters wide, `plain` in ASCII as far as its own signs go.
    ///
    /// Columns of words are broken into lines to fit; when that is not enough, every row becomes a block of its own,
    /// one cell to a line. Ends with a line end. Control characters in cells are left out.
    #[must_use]
    pub fn to_text(&self, width: usize, plain: bool) -> String {
        terminal::written(self, width, plain)
    }

    /// Writes the table as an HTML `<table>` with headings for rows and columns, and its caption above it: a caption inside
    /// would be left at the foot of a printed page when the rows begin on the next.
    #[must_use]
    pub fn to_markup(&self) -> Markup {
        let places: Vec<usize> = (0..self.columns.len())
            .map(|idx| self.decimals(idx))
            .collect();
        html! {
            p class="caption" { (self.caption) }
            table class=[self.is_wide().then_some("stacks")] aria-label=(self.caption) {
                thead { tr {
                    @for column in &self.columns {
                        th scope="col" class=[right(column)] {
                            (column.heading)
                            @if !column.unit.is_empty() { ", " span class="unit" { (column.unit) } }
                        }
                    }
                } }
                tbody {
                    @for row in &self.rows { tr {
                        @for (idx, column) in self.columns.iter().enumerate() {
                            @let content = html! { @if let Some(cell) = row.get(idx) { (cell_markup(cell, places[idx])) } };
                            @if idx == 0 {
                                th scope="row" class=[right(column)] data-label=(column.title()) { (content) }
                            } @else {
                                td class=[right(column)] data-label=(column.title()) { (content) }
                            }
                        }
                    } }
                }
            }
        }
    }

    /// Whether a phone's screen is too narrow for it, by the longest words of its columns of words and the longest numbers.
    fn is_wide(&self) -> bool {
        /// Size of type and gap between columns on the page, and what a phone of 390 points shows between the margins,
        /// millimetres.
        const TYPE: f64 = 3.53;
        const GAP: f64 = 3.0;
        const SCREEN: f64 = 93.0;
        /// Words are broken into lines no narrower than this.
        const WORDS: f64 = 22.0;
        let width = |text: &str| text_width(text, TYPE, false);
        let longest_word = |text: &str| text.split_whitespace().map(width).fold(0.0, f64::max);
        let columns = self.columns.iter().enumerate().map(|(idx, column)| {
            let cells = self.rows.iter().filter_map(|row| row.get(idx));
            let cells = cells.map(|cell| match cell {
                Cell::Text(words) | Cell::Mark(Mark::None, words) => {
                    longest_word(words).max(width(words).min(WORDS))
                }
                Cell::Mark(_, words) => width(words) + TYPE,
                Cell::Number { value, digits } => width(&decimal::fixed(*value, *digits)),
            });
            cells.fold(longest_word(&column.title()), f64::max) + GAP
        });
        SCREEN < columns.sum::<f64>() - GAP
    }

    /// The largest number of decimals in a column.
    fn decimals(&self, column_idx: usize) -> usize {
        let digits = self.rows.iter().map(|row| match row.get(column_idx) {
            Some(Cell::Number { digits, value }) if value.is_finite() => *digits,
            _ => 0,
        });
        digits.max().unwrap_or(0).min(12)
    }
}

fn right(column: &Column) -> Option<&'static str> {
    (column.align == Align::Right).then_some("right")
}

fn cell_markup(cell: &Cell, decimals: usize) -> Markup {
    match cell {
        Cell::Text(text) => html! { (text) },
        Cell::Number { value, digits } => {
            // Spaces as wide as the missing digits and point keep the points in line.
            let own = if value.is_finite() { *digits } else { 0 };
            let point = if own == 0 && decimals > 0 {
                "\u{2008}"
            } else {
                ""
            };
            let missing = "\u{2007}".repeat(decimals.saturating_sub(own));
            html! { (decimal::fixed(*value, *digits)) (point) (missing) }
        }
        // What is quite empty has no label on a narrow screen either.
        Cell::Mark(Mark::None, words) if words.is_empty() => html! {},
        Cell::Mark(mark, words) => html! {
            span class=(format!("mark {}", mark.word())) {
                @if *mark != Mark::None {
                    span class="sign" aria-hidden="true" { (mark.sign(false)) } " "
                    @if !words.is_empty() { span class="unseen" { (mark.word()) ": " } }
                }
                @if words.is_empty() { (mark.word()) } @else { (words) }
            }
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn html_is_escaped_and_headed() {
        let column = |heading: &str, align| Column {
            heading: heading.to_owned(),
            unit: "V".to_owned(),
            align,
        };
        let table = Table {
            caption: "a < b".to_owned(),
            columns: vec![column("net", Align::Left), column("down", Align::Right)],
            rows: vec![
                vec![
                    Cell::Text("<script>".to_owned()),
                    Cell::Number {
                        value: -5.0,
                        digits: 0,
                    },
                ],
                vec![
                    Cell::Mark(Mark::Fault, String::new()),
                    Cell::Number {
                        value: 0.25,
                        digits: 2,
                    },
                ],
                Vec::new(),
            ],
        };
        let html = table.to_markup().into_string();
        assert!(html.contains("<p class=\"caption\">a &lt; b</p>"), "{html}");
        assert!(
            html.contains("<th scope=\"row\" data-label=\"net, V\">&lt;script&gt;</th>"),
            "{html}"
        );
        assert!(html.contains(
            "<th scope=\"col\" class=\"right\">down, <span class=\"unit\">V</span></th>"
        ));
        // Point and two decimals are missing.
        assert!(
            html.contains("\u{2212}5\u{2008}\u{2007}\u{2007}<"),
            "{html}"
        );
        assert!(html.contains("✗</span> fault</span>"), "{html}");
        assert_eq!(html.matches("<td").count(), 3);
        assert!(!html.contains("stacks"), "two columns fit a phone");
    }

    #[test]
    fn a_table_wider_than_a_phone_says_at_every_cell_what_it_is() {
        let columns = [
            "net", "down", "at most", "to spare", "up", "at least", "verdict",
        ];
        let cell = || Cell::Number {
            value: -12.25,
            digits: 2,
        };
        let table = Table {
            caption: String::new(),
            columns: columns
                .iter()
                .map(|heading| Column {
                    heading: (*heading).to_owned(),
                    unit: "V".to_owned(),
                    align: Align::Right,
                })
                .collect(),
            rows: vec![columns.iter().map(|_| cell()).collect()],
        };
        let html = table.to_markup().into_string();
        assert!(html.contains("<table class=\"stacks\""), "{html}");
        for heading in &columns[1..] {
            let label = format!("data-label=\"{heading}, V\"");
            assert!(html.contains(&label), "{label}: {html}");
        }
    }
}
