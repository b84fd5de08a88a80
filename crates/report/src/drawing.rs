//! Drawings that stand on their own, outside a page: one or more sheets with a heading, written to a file.

use crate::draw::width::wrapped;
use crate::draw::{Item, Picture, Text, pdf, point, svg};

/// What is drawn of one thing: a string, a board, the machine.
#[derive(Debug, Clone, PartialEq)]
pub struct Drawing {
    /// What it is of.
    pub title: String,
    /// How it is to be read; stands below the title, and is what is read out in place of the drawing.
    pub legend: String,
    /// In order; each is a picture of its own size.
    pub sheets: Vec<Picture>,
    /// Above which of the sheets the legend stands; the title stands above the first.
    pub legend_above: usize,
}

/// Room for a picture on an upright A4 sheet of [`pdf::to_pdf`], mm.
pub const UPRIGHT_WIDTH: f64 = 190.0;

const TITLE_TYPE: f64 = 4.2;
const LEGEND_TYPE: f64 = 2.6;
const LEGEND_LINE: f64 = 3.6;
/// Narrowest heading: a small picture does not squeeze it.
const LEAST_WIDTH: f64 = 100.0;
/// Between sheets that stand below one another.
const BETWEEN: f64 = 6.0;
/// Round a drawing in a file of its own, whatever it is put into; a PDF has the margins of its sheets.
const MARGIN: f64 = 3.0;

impl Drawing {
    /// All sheets below one another as one SVG file.
    #[must_use]
    pub fn to_svg(&self) -> String {
        svg::to_svg(
            &framed(stacked(&self.headed())),
            "drawing",
            &self.title,
            &self.legend,
        )
    }

    /// Every sheet at exact scale as a PDF file.
    #[must_use]
    pub fn to_pdf(&self) -> Vec<u8> {
        pdf::to_pdf(&self.headed(), &self.title)
    }

    /// The sheets, with title and legend above those that carry them; an empty one where there is none.
    #[must_use]
    pub fn headed(&self) -> Vec<Picture> {
        let empty = Picture {
            width: 0.0,
            height: 0.0,
            items: Vec::new(),
        };
        let sheets = match &self.sheets[..] {
            [] => std::slice::from_ref(&empty),
            sheets => sheets,
        };
        let carries = self.legend_above.min(sheets.len() - 1);
        let each = sheets.iter().enumerate();
        each.map(|(idx, sheet)| self.with_heading(sheet, idx == 0, idx == carries))
            .collect()
    }

    fn with_heading(&self, sheet: &Picture, title: bool, legend: bool) -> Picture {
        let mut y = 0.0;
        let mut items = Vec::new();
        let width = if title || legend {
            sheet.width.max(LEAST_WIDTH)
        } else {
            sheet.width
        };
        if title {
            for line in wrapped(&self.title, TITLE_TYPE, true, width) {
                y += TITLE_TYPE;
                let text = Text::new(point(0.0, y), line, TITLE_TYPE);
                items.push(Item::Text(text.in_bold()));
                y += 0.4 * TITLE_TYPE;
            }
        }
        if legend {
            // Longer lines are hard to read, and do not fit on a sheet.
            let room = width.min(UPRIGHT_WIDTH);
            for line in wrapped(&self.legend, LEGEND_TYPE, false, room) {
                y += LEGEND_LINE;
                items.push(Item::Text(Text::new(point(0.0, y), line, LEGEND_TYPE)));
            }
            y += LEGEND_LINE;
        }
        items.push(Item::Group {
            offset: point(0.0, y),
            clip: None,
            items: sheet.items.clone(),
        });
        Picture {
            width,
            height: y + sheet.height,
            items,
        }
    }
}

/// Pictures below one another as one.
pub(crate) fn stacked(sheets: &[Picture]) -> Picture {
    let mut y = 0.0;
    let mut items = Vec::new();
    for sheet in sheets {
        items.push(Item::Group {
            offset: point(0.0, y),
            clip: None,
            items: sheet.items.clone(),
        });
        y += sheet.height + BETWEEN;
    }
    Picture {
        width: sheets.iter().map(|sheet| sheet.width).fold(0.0, f64::max),
        height: (y - BETWEEN).max(0.0),
        items,
    }
}

/// A picture with a margin all round.
fn framed(picture: Picture) -> Picture {
    Picture {
        width: picture.width + 2.0 * MARGIN,
        height: picture.height + 2.0 * MARGIN,
        items: vec![Item::Group {
            offset: point(MARGIN, MARGIN),
            clip: None,
            items: picture.items,
        }],
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::draw::Area;

    fn drawing(sheets: usize) -> Drawing {
        let sheet = Picture {
            width: 60.0,
            height: 20.0,
            items: vec![Item::Text(Text::new(point(1.0, 5.0), "grid", 3.0))],
        };
        Drawing {
            title: "Heater string H1 of a machine with a rather long name".to_owned(),
            legend: "Volts to ground at the joints. ".repeat(5),
            sheets: vec![sheet; sheets],
            legend_above: 1,
        }
    }

    #[test]
    fn nothing_comes_nearer_to_the_edge_than_the_margin() {
        let whole = framed(stacked(&drawing(2).headed()));
        let inner = Area {
            x: 0.0,
            y: 0.0,
            width: whole.width,
            height: whole.height,
        }
        .grown(0.5 - MARGIN);
        for (content, area) in whole.text_areas() {
            assert!(inner.holds(&area), "{content}: {area:?} in {inner:?}");
        }
    }

    #[test]
    fn heading_and_sheets_stay_apart() {
        for sheets in 0..3 {
            let whole = stacked(&drawing(sheets).headed());
            assert_eq!(whole.text_faults(), Vec::<String>::new());
            let drawn = whole
                .text_areas()
                .into_iter()
                .filter(|text| text.0 == "grid");
            assert_eq!(drawn.count(), sheets);
        }
    }
}
