//! Tables on a terminal: columns while they fit, blocks of lines when they do not.

use super::{Align, Cell, Table};
use crate::decimal;
use unicode_width::UnicodeWidthStr;

/// Between columns.
const GAP: usize = 2;
/// A column of words is made no narrower than the first of these, in characters, and than the second where that does not do.
const NARROWEST: [usize; 2] = [14, 10];

pub(super) fn written(table: &Table, width: usize, plain: bool) -> String {
    let cells = Cells::new(table, plain);
    let fitted = NARROWEST
        .iter()
        .find_map(|&narrowest| cells.fitted_widths(width, narrowest));
    match fitted {
        Some(widths) => cells.in_columns(&widths, width),
        None => cells.in_blocks(width),
    }
}

/// All cells as text, numbers already padded to a common decimal point.
struct Cells {
    caption: String,
    titles: Vec<String>,
    aligns: Vec<Align>,
    /// Whether a column holds words, which may be broken into lines.
    wordy: Vec<bool>,
    rows: Vec<Vec<String>>,
    rule: char,
}

impl Cells {
    fn new(table: &Table, plain: bool) -> Cells {
        let spell = |text: &str| spelled(text, plain);
        let decimals: Vec<usize> = (0..table.columns.len())
            .map(|idx| table.decimals(idx))
            .collect();
        let wordy = (0..table.columns.len()).map(|idx| {
            table
                .rows
                .iter()
                .filter_map(|row| row.get(idx))
                .any(|cell| !matches!(cell, Cell::Number { .. }))
        });
        let row = |row: &Vec<Cell>| {
            let cell = |idx: usize| {
                row.get(idx)
                    .map(|cell| cell_text(cell, decimals[idx], plain))
            };
            (0..table.columns.len())
                .map(|idx| cell(idx).unwrap_or_default())
                .collect()
        };
        Cells {
            caption: spell(&table.caption),
            titles: table
                .columns
                .iter()
                .map(|column| spell(&column.title()))
                .collect(),
            aligns: table.columns.iter().map(|column| column.align).collect(),
            wordy: wordy.collect(),
            rows: table.rows.iter().map(row).collect(),
            rule: if plain { '-' } else { '─' },
        }
    }

    /// Column widths that fit into `width` together: headings are broken into lines, and columns of words narrowed, as far
    /// as they may be.
    fn fitted_widths(&self, width: usize, narrowest: usize) -> Option<Vec<usize>> {
        let contents: Vec<usize> = (0..self.titles.len())
            .map(|idx| {
                self.rows
                    .iter()
                    .map(|row| row[idx].width())
                    .max()
                    .unwrap_or(0)
            })
            .collect();
        let mut widths: Vec<usize> = contents
            .iter()
            .zip(&self.titles)
            .map(|(content, title)| title.width().max(*content))
            .collect();
        let gaps = GAP * widths.len().saturating_sub(1);
        // Every round narrows one column by one character, so the rounds are bounded by the excess.
        let mut excess = (widths.iter().sum::<usize>() + gaps).saturating_sub(width);
        while excess > 0 {
            let least = |idx: usize| {
                let content = if self.wordy[idx] {
                    contents[idx].min(narrowest)
                } else {
                    contents[idx]
                };
                content.max(longest_word(&self.titles[idx]))
            };
            let (idx, _) = widths
                .iter()
                .enumerate()
                .filter(|(idx, width)| **width > least(*idx))
                .max_by_key(|(_, width)| **width)?;
            widths[idx] -= 1;
            excess -= 1;
        }
        Some(widths)
    }

    fn in_columns(&self, widths: &[usize], width: usize) -> String {
        let mut out = String::new();
        self.push_caption(width, &mut out);
        self.push_row(&self.titles, widths, &mut out);
        let rules: Vec<String> = widths
            .iter()
            .map(|width| std::iter::repeat_n(self.rule, *width).collect())
            .collect();
        self.push_row(&rules, widths, &mut out);
        for row in &self.rows {
            self.push_row(row, widths, &mut out);
        }
        out
    }

    fn push_row(&self, cells: &[String], widths: &[usize], out: &mut String) {
        let broken: Vec<Vec<String>> = cells
            .iter()
            .zip(widths)
            .map(|(cell, width)| broken(cell, *width))
            .collect();
        let n_lines = broken.iter().map(Vec::len).max().unwrap_or(0);
        for line_idx in 0..n_lines {
            let mut line = String::new();
            for (idx, (lines, width)) in broken.iter().zip(widths).enumerate() {
                let text = lines.get(line_idx).map_or("", String::as_str);
                let space = " ".repeat(width.saturating_sub(text.width()));
                match self.aligns[idx] {
                    Align::Left => line.extend([text, &space]),
                    Align::Right => line.extend([&space, text]),
                }
                line.push_str(&" ".repeat(GAP));
            }
            out.push_str(line.trim_end());
            out.push('\n');
        }
    }

    /// One block a row: the first cell as its heading, then a line for each further cell.
    fn in_blocks(&self, width: usize) -> String {
        let mut out = String::new();
        self.push_caption(width, &mut out);
        let longest = self
            .titles
            .iter()
            .skip(1)
            .map(|title| title.width())
            .max()
            .unwrap_or(0);
        let indent = (longest + 2 + GAP).min(width / 2);
        for row in &self.rows {
            let heading = row.first().map_or("", String::as_str);
            for line in broken(heading.trim(), width) {
                out.push_str(&line);
                out.push('\n');
            }
            for (title, cell) in self.titles.iter().zip(row).skip(1) {
                let lines = broken(cell.trim(), width.saturating_sub(indent));
                let title = format!("  {title}");
                let fits = title.width() < indent;
                if !fits {
                    out.push_str(&title);
                    out.push('\n');
                }
                for (line_idx, line) in lines.iter().enumerate() {
                    let before = if line_idx == 0 && fits {
                        title.as_str()
                    } else {
                        ""
                    };
                    let space = " ".repeat(indent.saturating_sub(before.width()));
                    let line = format!("{before}{space}{line}");
                    out.push_str(line.trim_end());
                    out.push('\n');
                }
            }
        }
        out
    }

    fn push_caption(&self, width: usize, out: &mut String) {
        if self.caption.is_empty() {
            return;
        }
        for line in broken(&self.caption, width) {
            out.push_str(&line);
            out.push('\n');
        }
    }
}

fn cell_text(cell: &Cell, decimals: usize, plain: bool) -> String {
    match cell {
        Cell::Text(text) => spelled(text, plain),
        Cell::Number { value, digits } => {
            let own = if value.is_finite() { *digits } else { 0 };
            let point = usize::from(own == 0 && decimals > 0);
            let missing = " ".repeat(decimals.saturating_sub(own) + point);
            spelled(&decimal::fixed(*value, *digits), plain) + &missing
        }
        Cell::Mark(mark, words) => {
            let words = if words.is_empty() { mark.word() } else { words };
            spelled(format!("{} {words}", mark.sign(plain)).trim_start(), plain)
        }
    }
}

/// Without control characters, which could drive the terminal; `plain` also spells our own signs in ASCII.
fn spelled(text: &str, plain: bool) -> String {
    let mut out = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '\t' | '\n' | '\r' => out.push(' '),
            _ if letter.is_control() => {}
            '\u{2212}' | '–' if plain => out.push('-'),
            '±' if plain => out.push_str("+-"),
            'µ' | 'μ' if plain => out.push('u'),
            'Ω' if plain => out.push_str("ohm"),
            _ => out.push(letter),
        }
    }
    out
}

fn longest_word(text: &str) -> usize {
    text.split(' ')
        .map(UnicodeWidthStr::width)
        .max()
        .unwrap_or(0)
}

/// Lines of at most `width` characters; a text that fits is kept with all its spaces.
fn broken(text: &str, width: usize) -> Vec<String> {
    if text.width() <= width {
        return vec![text.to_owned()];
    }
    crate::draw::width::broken(text, |line| line.width() <= width)
}

#[cfg(test)]
mod tests {
    use super::super::{Column, Mark};
    use super::*;

    fn sample() -> Table {
        let column = |heading: &str, unit: &str, align| Column {
            heading: heading.to_owned(),
            unit: unit.to_owned(),
            align,
        };
        let number = |value, digits| Cell::Number { value, digits };
        let words = |text: &str| Cell::Text(text.to_owned());
        Table {
            caption: "Levels".to_owned(),
            columns: vec![
                column("net", "", Align::Left),
                column("down", "V", Align::Right),
                column("verdict", "", Align::Left),
            ],
            rows: vec![
                vec![
                    words("differ"),
                    number(-9.6, 1),
                    Cell::Mark(Mark::Pass, String::new()),
                ],
                vec![
                    words("borrow"),
                    number(-12.0, 0),
                    Cell::Mark(Mark::Fault, "V4 half 2 still draws current".to_owned()),
                ],
                vec![words("take\u{1b}[2J"), number(f64::NAN, 1)],
            ],
        }
    }

    fn check(width: usize, plain: bool, expected: &str) {
        let text = sample().to_text(width, plain);
        assert_eq!(text, expected, "\n{text}");
    }

    #[test]
    fn wide_enough_for_columns() {
        check(
            80,
            false,
            "\
Levels
net      down, V  verdict
───────  ───────  ───────────────────────────────
differ      −9.6  ✓ pass
borrow     −12    ✗ V4 half 2 still draws current
take[2J      –
",
        );
    }

    #[test]
    fn words_are_broken_to_fit() {
        check(
            40,
            true,
            "\
Levels
net      down, V  verdict
-------  -------  ----------------------
differ      -9.6  ok pass
borrow     -12    XX V4 half 2 still
                  draws current
take[2J      -
",
        );
    }

    #[test]
    fn too_narrow_for_columns_gives_blocks() {
        check(
            24,
            true,
            "\
Levels
differ
  down, V  -9.6
  verdict  ok pass
borrow
  down, V  -12
  verdict  XX V4 half 2
           still draws
           current
take[2J
  down, V  -
  verdict
",
        );
    }

    #[test]
    fn no_line_is_wider_than_asked_and_no_width_is_too_small_to_end() {
        for width in 0..120 {
            for plain in [false, true] {
                let text = sample().to_text(width, plain);
                let widest = text.lines().map(UnicodeWidthStr::width).max().unwrap_or(0);
                assert!(width < 18 || widest <= width, "{width}:\n{text}");
            }
        }
    }

    #[test]
    fn an_empty_table_is_its_caption() {
        let table = Table {
            caption: "None".to_owned(),
            columns: Vec::new(),
            rows: vec![Vec::new()],
        };
        assert_eq!(table.to_text(80, true).trim_end(), "None");
        assert_eq!(table.to_text(0, true).replace('\n', ""), "None");
    }
}
