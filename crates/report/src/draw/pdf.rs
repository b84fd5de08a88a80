//! Pictures as PDF 1.7 on A4 sheets, every millimetre a millimetre on paper.
//!
//! A picture that is larger than a sheet is spread over several that overlap; ticks in their margins fall on each other
//! when the sheets are laid together. A bar of 100 mm at the foot of each shows whether the printer has kept the scale.
//! The same pictures give the same bytes: nothing is taken from the clock.

mod content;
mod letters;

use super::{Anchor, Area, Item, Picture, Point, Stroke, Text, point};
use content::{BOLD, PICTURE, REGULAR, SYMBOL, Writer};
use pdf_writer::writers::Resources;
use pdf_writer::{Name, Pdf, Rect, Ref, TextStr};

/// Points in a millimetre: 72 to the inch of 25.4 mm (ISO 32000-1, 8.3.2.3).
pub const POINTS_PER_MILLIMETRE: f64 = 72.0 / 25.4;

/// Short and long side of A4 in millimetres (ISO 216).
const A4: (f64, f64) = (210.0, 297.0);
/// Left free round the sheet: most home printers reach so far (chosen).
const MARGIN: f64 = 10.0;
/// Left free below for the measuring bar.
const FOOT: f64 = 22.0;
/// Shared by neighbouring sheets.
const OVERLAP: f64 = 10.0;
/// A picture of more sheets than this would be no plan to lay together: it gets one page of its own size.
const MOST_SHEETS: usize = 64;

/// Writes pictures one after the other, each beginning on a sheet of its own. `title` goes into the foot and the
/// document's information.
#[must_use]
pub fn to_pdf(pictures: &[Picture], title: &str) -> Vec<u8> {
    let sheets: Vec<Sheet> = pictures
        .iter()
        .enumerate()
        .flat_map(|(idx, picture)| spread(idx, picture))
        .collect();
    let mut document = Document::new(pictures.len());
    for (idx, picture) in pictures.iter().enumerate() {
        document.form(idx, picture);
    }
    for (idx, sheet) in sheets.iter().enumerate() {
        document.sheet(sheet, title, idx + 1, sheets.len());
    }
    document.finish(title)
}

/// One page: a part of a picture, or a whole one.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Sheet {
    /// Which picture.
    picture: usize,
    /// Width and height of the page, mm.
    size: (f64, f64),
    /// Room for the picture on the page, mm.
    window: Area,
    /// Which part of the picture stands at the window's upper left corner, mm.
    corner: Point,
    /// Column and row of this sheet, from 0.
    tile: (usize, usize),
    /// Columns and rows of sheets that the picture takes.
    tiles: (usize, usize),
    /// Whether it is an A4 sheet with a foot.
    with_foot: bool,
}

/// Sheets along one side.
fn count(length: f64, room: f64) -> usize {
    if !length.is_finite() || length <= room {
        return 1;
    }
    ((length - OVERLAP) / (room - OVERLAP)).ceil() as usize
}

/// The sheets of a picture: upright or lying, whichever takes fewer.
fn spread(idx: usize, picture: &Picture) -> Vec<Sheet> {
    let plan = |size: (f64, f64)| {
        let room = (size.0 - 2.0 * MARGIN, size.1 - MARGIN - FOOT);
        let tiles = (count(picture.width, room.0), count(picture.height, room.1));
        (size, room, tiles)
    };
    let (upright, lying) = (plan(A4), plan((A4.1, A4.0)));
    let sheets = |(_, _, tiles): &(_, _, (usize, usize))| tiles.0.saturating_mul(tiles.1);
    let (size, room, tiles) = if sheets(&lying) < sheets(&upright) {
        lying
    } else {
        upright
    };
    if MOST_SHEETS < tiles.0.saturating_mul(tiles.1) {
        return vec![whole(idx, picture)];
    }
    let window = Area {
        x: MARGIN,
        y: MARGIN,
        width: room.0,
        height: room.1,
    };
    let each = (0..tiles.1).flat_map(|row| (0..tiles.0).map(move |column| (column, row)));
    each.map(|tile| Sheet {
        picture: idx,
        size,
        window,
        corner: point(
            tile.0 as f64 * (room.0 - OVERLAP),
            tile.1 as f64 * (room.1 - OVERLAP),
        ),
        tile,
        tiles,
        with_foot: true,
    })
    .collect()
}

/// A page of the picture's own size.
fn whole(idx: usize, picture: &Picture) -> Sheet {
    Sheet {
        picture: idx,
        size: (picture.width, picture.height),
        window: Area {
            x: 0.0,
            y: 0.0,
            width: picture.width,
            height: picture.height,
        },
        corner: point(0.0, 0.0),
        tile: (0, 0),
        tiles: (1, 1),
        with_foot: false,
    }
}

/// What stands round the picture on a sheet: marks to lay sheets together, the measuring bar, which sheet it is.
fn frame(sheet: &Sheet, title: &str, number: usize, of: usize) -> Vec<Item> {
    let mut items = marks(sheet);
    if sheet.with_foot {
        items.extend(foot(sheet, title, number, of));
    }
    items
}

/// Ticks in the margins at both edges of every overlap with a neighbouring sheet.
fn marks(sheet: &Sheet) -> Vec<Item> {
    const LENGTH: f64 = 4.0;
    let window = &sheet.window;
    let edges = |low: f64, high: f64, tile: usize, tiles: usize| {
        let mut edges = Vec::new();
        if 0 < tile {
            edges.extend([low, low + OVERLAP]);
        }
        if tile + 1 < tiles {
            edges.extend([high - OVERLAP, high]);
        }
        edges
    };
    let tick = |from: Point, to: Point| Item::Line {
        from,
        to,
        stroke: Stroke::PLAIN,
    };
    let across = edges(window.x, window.right(), sheet.tile.0, sheet.tiles.0);
    let down = edges(window.y, window.bottom(), sheet.tile.1, sheet.tiles.1);
    let upright = across.into_iter().flat_map(|x| {
        let (top, bottom) = (window.y - 1.0, window.bottom() + 1.0);
        [
            tick(point(x, top - LENGTH), point(x, top)),
            tick(point(x, bottom), point(x, bottom + LENGTH)),
        ]
    });
    let level = down.into_iter().flat_map(|y| {
        let (left, right) = (window.x - 1.0, window.right() + 1.0);
        [
            tick(point(left - LENGTH, y), point(left, y)),
            tick(point(right, y), point(right + LENGTH, y)),
        ]
    });
    upright.chain(level).collect()
}

/// The bar of 100 mm, and what the sheet is.
fn foot(sheet: &Sheet, title: &str, number: usize, of: usize) -> Vec<Item> {
    const BAR: f64 = 100.0;
    const TYPE: f64 = 2.6;
    let (left, y) = (sheet.window.x, sheet.size.1 - MARGIN - 1.5);
    let line = |from: Point, to: Point| Item::Line {
        from,
        to,
        stroke: Stroke::PLAIN,
    };
    let mut items = vec![line(point(left, y), point(left + BAR, y))];
    for tenth in 0..=10 {
        let (x, length) = (
            left + BAR * f64::from(tenth) / 10.0,
            if tenth % 5 == 0 { 3.0 } else { 1.5 },
        );
        items.push(line(point(x, y), point(x, y - length)));
    }
    let below = "This bar is 100 mm when printed at full size.";
    items.push(Item::Text(Text::new(point(left, y + 3.6), below, TYPE)));
    let mut place = if of == 1 {
        title.to_owned()
    } else {
        format!("{title}, sheet {number} of {of}")
    };
    if sheet.tiles != (1, 1) {
        let (column, row) = (sheet.tile.0 + 1, sheet.tile.1 + 1);
        place.push_str(&format!(
            ": column {column}, row {row}; lay the ticks on each other"
        ));
    }
    let room = sheet.window.width - BAR - 8.0;
    let lines = super::width::wrapped(&place, TYPE, false, room);
    // Three lines fit between the marks and the sheet's edge.
    for (idx, text) in lines.into_iter().take(3).enumerate() {
        let at = point(sheet.window.right(), y - 2.0 + 3.4 * idx as f64);
        items.push(Item::Text(Text::new(at, text, TYPE).anchored(Anchor::End)));
    }
    items
}

/// Object numbers: catalogue, page tree, three fonts, information, then a form for each picture, then two for each page.
const CATALOGUE: Ref = Ref::new(1);
const PAGES: Ref = Ref::new(2);
const REGULAR_FONT: Ref = Ref::new(3);
const BOLD_FONT: Ref = Ref::new(4);
const SYMBOL_FONT: Ref = Ref::new(5);
const INFORMATION: Ref = Ref::new(6);
const FIRST_FORM: i32 = 7;

struct Document {
    pdf: Pdf,
    pages: Vec<Ref>,
    next: Ref,
}

impl Document {
    fn new(pictures: usize) -> Document {
        Document {
            pdf: Pdf::new(),
            pages: Vec::new(),
            next: Ref::new(FIRST_FORM + pictures as i32),
        }
    }

    /// A picture in its own millimetres, y downwards; drawn once, used by all its sheets.
    fn form(&mut self, idx: usize, picture: &Picture) {
        let mut writer = Writer::default();
        for item in &picture.items {
            writer.item(item);
        }
        let content = writer.finish();
        let mut form = self.pdf.form_xobject(form_of(idx), &content);
        form.bbox(Rect::new(
            0.0,
            0.0,
            finite(picture.width),
            finite(picture.height),
        ));
        resources(&mut form.resources(), None);
    }

    fn sheet(&mut self, sheet: &Sheet, title: &str, number: usize, of: usize) {
        let (page, stream) = (self.next.bump(), self.next.bump());
        self.pages.push(page);
        let size = (points(sheet.size.0), points(sheet.size.1));
        let content = sheet_content(sheet, &frame(sheet, title, number, of), size.1);
        self.pdf.stream(stream, &content);
        let mut entry = self.pdf.page(page);
        entry
            .parent(PAGES)
            .media_box(Rect::new(0.0, 0.0, size.0, size.1))
            .contents(stream);
        resources(&mut entry.resources(), Some(sheet.picture));
    }

    fn finish(mut self, title: &str) -> Vec<u8> {
        let count = self.pages.len() as i32;
        self.pdf.catalog(CATALOGUE).pages(PAGES);
        self.pdf.pages(PAGES).kids(self.pages).count(count);
        for (id, name) in [
            (REGULAR_FONT, &b"Helvetica"[..]),
            (BOLD_FONT, b"Helvetica-Bold"),
        ] {
            let mut font = self.pdf.type1_font(id);
            font.base_font(Name(name))
                .encoding_predefined(Name(b"WinAnsiEncoding"));
        }
        // Its code is its own and not to be named.
        self.pdf.type1_font(SYMBOL_FONT).base_font(Name(b"Symbol"));
        self.pdf.document_info(INFORMATION).title(TextStr(title));
        self.pdf.finish()
    }
}

fn form_of(picture: usize) -> Ref {
    Ref::new(FIRST_FORM + picture as i32)
}

/// The page in millimetres from its upper left corner, the picture clipped to its window.
fn sheet_content(sheet: &Sheet, frame: &[Item], height: f32) -> Vec<u8> {
    let scale = POINTS_PER_MILLIMETRE as f32;
    let mut writer = Writer::default();
    writer
        .content
        .transform([scale, 0.0, 0.0, -scale, 0.0, height]);
    let window = &sheet.window;
    writer.content.save_state();
    writer.clip_to(window);
    let (x, y) = (window.x - sheet.corner.x, window.y - sheet.corner.y);
    writer
        .content
        .transform([1.0, 0.0, 0.0, 1.0, finite(x), finite(y)]);
    writer.content.x_object(Name(PICTURE));
    writer.content.restore_state();
    for item in frame {
        writer.item(item);
    }
    writer.finish()
}

/// Fonts, and the picture where a page shows one.
fn resources(resources: &mut Resources<'_>, picture: Option<usize>) {
    resources
        .fonts()
        .pair(Name(REGULAR), REGULAR_FONT)
        .pair(Name(BOLD), BOLD_FONT)
        .pair(Name(SYMBOL), SYMBOL_FONT);
    if let Some(picture) = picture {
        resources.x_objects().pair(Name(PICTURE), form_of(picture));
    }
}

/// Millimetres to points.
fn points(millimetres: f64) -> f32 {
    finite(millimetres * POINTS_PER_MILLIMETRE)
}

/// The number as PDF has it, 0 where it is none.
fn finite(value: f64) -> f32 {
    let value = value as f32;
    if value.is_finite() { value } else { 0.0 }
}
