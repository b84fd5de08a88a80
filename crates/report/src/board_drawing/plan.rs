//! The board from above or below: outline, sockets and connectors in their places.

use super::socket::units;
use super::sockets;
use crate::draw::width::{fitted, text_width};
use crate::draw::{
    Anchor, Area, Fill, Ink, Item, Pattern, Picture, Point, Stroke, Text, Weight, point,
};
use crate::pinout::{Side, at, direction, pin_circle};
use design::model::{Board, SocketId};
use network::safety::spans;
use network::verdict::Verdict;

/// Least room for a socket with its texts, mm: an octal base with its numbers, and three lines below.
const CELL: (f64, f64) = (29.0, 36.0);
/// Room for a column of connector pins with the names of their nets.
const CONNECTOR: f64 = 26.0;
/// From pin to pin of a connector: terminals of 5.08 mm (usual, no source).
const PITCH: f64 = 5.08;
/// Free along the edges of the board.
const EDGE: f64 = 3.0;
const TYPE: f64 = 2.1;

/// Where everything stands on a board, seen from the tube side.
struct Layout {
    size: (f64, f64),
    /// The size is the one in the text.
    as_typed: bool,
    /// Columns of connector pins.
    connectors: Vec<Vec<Row>>,
    sockets: Vec<(SocketId, Point)>,
}

/// A line of a connector column: its mark, or a pin with its net.
enum Row {
    Mark(String),
    Pin(u32, String),
}

fn layout(verdict: &Verdict, board: usize) -> Layout {
    let info = &verdict.plan.design.boards[board];
    let sockets = sockets(verdict, board);
    let rows = rows(verdict, info);
    let typed = info
        .size_mm
        .and_then(|size| placed(size, &rows, sockets.len()).map(|places| (size, places)));
    let as_typed = typed.is_some();
    let (size, places) = typed.unwrap_or_else(|| own_size(&rows, sockets.len()));
    let tall = column_length(size.1);
    let mut connectors: Vec<Vec<Row>> = Vec::new();
    for (idx, row) in rows.into_iter().enumerate() {
        if idx % tall == 0 {
            connectors.push(Vec::new());
        }
        if let Some(column) = connectors.last_mut() {
            column.push(row);
        }
    }
    Layout {
        size,
        as_typed,
        connectors,
        sockets: sockets.into_iter().zip(places).collect(),
    }
}

fn rows(verdict: &Verdict, board: &Board) -> Vec<Row> {
    let nets = &verdict.plan.design.nets;
    let each = board.connectors.iter();
    each.flat_map(|connector| {
        let pins = connector.pins.iter();
        let pins = pins.map(|&(number, net)| Row::Pin(number, nets[net.0].name.clone()));
        std::iter::once(Row::Mark(connector.mark.clone())).chain(pins)
    })
    .collect()
}

/// Rows of a connector column on a board of this height.
fn column_length(height: f64) -> usize {
    (((height - 2.0 * EDGE) / PITCH).floor() as usize).max(1)
}

/// Middles of the sockets in rows from the upper left, beside the connectors; `None` where the board is too small.
fn placed(size: (f64, f64), rows: &[Row], sockets: usize) -> Option<Vec<Point>> {
    let left = EDGE + rows.len().div_ceil(column_length(size.1)) as f64 * CONNECTOR;
    let room = (size.0 - EDGE - left, size.1 - 2.0 * EDGE);
    // The rows whose cells come nearest to the shape that a socket with its texts has.
    let shape = |down: usize| {
        let across = sockets.div_ceil(down).max(1);
        let cell = (room.0 / across as f64, room.1 / down as f64);
        let fits = CELL.0 <= cell.0 && CELL.1 <= cell.1;
        let off = (cell.0 / cell.1 * CELL.1 / CELL.0).ln().abs();
        fits.then_some((off, down, across))
    };
    let (_, down, across) = (1..=sockets.max(1))
        .filter_map(shape)
        .min_by(|one, other| one.0.total_cmp(&other.0))?;
    let cell = (room.0 / across as f64, room.1 / down as f64);
    let middle = |idx: usize| {
        point(
            left + (idx % across) as f64 * cell.0 + cell.0 / 2.0,
            // The texts below a socket weigh as much as a line and a half above it.
            EDGE + (idx / across) as f64 * cell.1 + cell.1 / 2.0 - 5.0,
        )
    };
    Some((0..sockets).map(middle).collect())
}

/// A board that holds everything, about three wide to two high.
fn own_size(rows: &[Row], sockets: usize) -> ((f64, f64), Vec<Point>) {
    let down = ((sockets as f64 / 1.6).sqrt().ceil() as usize).max(1);
    let across = sockets.div_ceil(down).max(1);
    let height = down as f64 * CELL.1 + 2.0 * EDGE;
    let columns = rows.len().div_ceil(column_length(height));
    let width = columns as f64 * CONNECTOR + across as f64 * CELL.0 + 2.0 * EDGE;
    // Rounded up to whole centimetres.
    let round = |length: f64| 10.0 * (length / 10.0).ceil();
    let size = (round(width), round(height));
    (size, placed(size, rows, sockets).unwrap_or_default())
}

/// What of the plan stands in the text and what is only proposed.
pub(super) fn proposals(verdict: &Verdict, board: usize) -> String {
    let layout = layout(verdict, board);
    let shown = format!("{:.0} mm by {:.0} mm", layout.size.0, layout.size.1);
    let size = match (layout.as_typed, verdict.plan.design.boards[board].size_mm) {
        (true, _) => format!("The board is {shown}, as typed. "),
        (false, None) => format!("The text gives the board no size: {shown} are proposed. "),
        (false, Some((width, height))) => format!(
            "The sockets and connectors have no room on {width:.0} mm by {height:.0} mm with the distances used here; {shown} are drawn. "
        ),
    };
    format!(
        "{size}The text says nothing of places: sockets and connectors stand where they are proposed."
    )
}

/// Draws a board from one side: at full size with pins and nets, or no wider than `width` with marks only.
#[must_use]
pub fn plan(verdict: &Verdict, board: usize, side: Side, width: Option<f64>) -> Picture {
    let layout = layout(verdict, board);
    let scale = width.map_or(1.0, |width| ((width - 1.0) / layout.size.0).min(1.0));
    let sheet = Sheet {
        side,
        width: layout.size.0,
        scale,
        is_whole: width.is_none(),
    };
    let outline = Area {
        x: 0.5,
        y: 0.5,
        width: layout.size.0 * scale,
        height: layout.size.1 * scale,
    };
    let mut items = vec![Item::Rectangle {
        area: outline,
        stroke: Some(Stroke::HEAVY),
        fill: Fill::None,
    }];
    for (idx, column) in layout.connectors.iter().enumerate() {
        items.extend(sheet.connector(column, idx));
    }
    for (id, middle) in &layout.sockets {
        items.extend(sheet.socket(verdict, *id, *middle));
    }
    if sheet.is_whole {
        let at = point(outline.x + 2.0, outline.bottom() - 1.2);
        let note = fitted(&note(verdict, side), TYPE, true, outline.width - 4.0);
        items.push(Item::Text(Text::new(at, note, TYPE).in_bold()));
    }
    Picture {
        width: outline.width + 1.0,
        height: outline.height + 1.0,
        items,
    }
}

/// What must be read on the plan itself: which side it shows, that the places are proposed, and what can hurt.
fn note(verdict: &Verdict, side: Side) -> String {
    let view = match side {
        Side::Below => "Soldering side",
        Side::Above => "Tube side",
    };
    let mut note = format!("{view}; places are proposed.");
    let spans = spans(verdict.plan.design, verdict.limits.touch_volts);
    if let Some(span) = spans.iter().find(|span| span.is_above()) {
        let between = span.between.join(" and ");
        note = format!(
            "Caution: up to {:.0} V between {between}. {note}",
            span.volts
        );
    }
    note
}

/// How places on the board become places on the sheet.
struct Sheet {
    side: Side,
    width: f64,
    scale: f64,
    /// At full size, with pins and nets.
    is_whole: bool,
}

impl Sheet {
    /// From the board, seen from the tube side; the soldering side is its mirror image.
    fn on_sheet(&self, on_board: Point) -> Point {
        let x = match self.side {
            Side::Above => on_board.x,
            Side::Below => self.width - on_board.x,
        };
        point(0.5 + x * self.scale, 0.5 + on_board.y * self.scale)
    }

    fn connector(&self, rows: &[Row], column: usize) -> Vec<Item> {
        let x = EDGE + column as f64 * CONNECTOR + 2.5;
        let mut items = Vec::new();
        for (idx, row) in rows.iter().enumerate() {
            let centre = self.on_sheet(point(x, EDGE + (idx as f64 + 0.5) * PITCH));
            // Names stand on the side towards the sockets.
            let (anchor, inwards) = match self.side {
                Side::Above => (Anchor::Start, 1.0),
                Side::Below => (Anchor::End, -1.0),
            };
            let beside = |text: &str, out: f64, room: f64| {
                let text = fitted(text, TYPE, false, room);
                Text::new(point(centre.x + inwards * out, centre.y + 0.8), text, TYPE)
                    .anchored(anchor)
            };
            match row {
                Row::Mark(mark) => items.push(Item::Text(beside(mark, -1.5, 10.0).in_bold())),
                Row::Pin(number, net) => {
                    items.push(self.pad(centre, 0.8));
                    if self.is_whole {
                        let number = number.to_string();
                        let room = CONNECTOR - 7.5 - text_width(&number, TYPE, false);
                        items.push(Item::Text(beside(&number, 1.8, 6.0)));
                        let out = 3.2 + text_width(&number, TYPE, false);
                        items.push(Item::Text(beside(net, out, room)));
                    }
                }
            }
        }
        items
    }

    fn pad(&self, centre: Point, radius: f64) -> Item {
        Item::Circle {
            centre,
            radius: radius * self.scale,
            stroke: Some(Stroke::PLAIN),
            fill: Fill::Paper,
        }
    }

    fn socket(&self, verdict: &Verdict, id: SocketId, middle: Point) -> Vec<Item> {
        let socket = &verdict.plan.design.sockets[id.0];
        let centre = self.on_sheet(middle);
        let base = socket.device.base.as_ref();
        let radius = base.map_or(4.0, |base| pin_circle(base) / 2.0);
        let stroke = match base {
            Some(_) => Stroke::PLAIN,
            None => Stroke::new(Pattern::Dashed, Weight::Normal, Ink::Black),
        };
        let mut items = vec![Item::Circle {
            centre,
            radius: (radius * self.scale).max(3.2),
            stroke: Some(stroke),
            fill: Fill::None,
        }];
        let text = |content: &str, y: f64, room: f64, size: f64| {
            let content = fitted(content, size, false, room);
            Text::new(point(centre.x, y), content, size).anchored(Anchor::Middle)
        };
        let mark = text(
            &socket.mark,
            centre.y + 0.9,
            8.0,
            if self.is_whole { 2.6 } else { TYPE },
        );
        items.push(Item::Text(mark.in_bold()));
        if !self.is_whole {
            return items;
        }
        for pin in base.into_iter().flat_map(|base| &base.pins) {
            let degrees = base.map_or(0.0, |base| direction(base, pin.number, self.side));
            items.push(self.pad(at(centre, radius, degrees), 0.6));
            let number = at(centre, radius + 2.2, degrees);
            let number = Text::new(point(number.x, number.y + 0.7), pin.number.to_string(), 1.9);
            items.push(Item::Text(number.anchored(Anchor::Middle)));
        }
        let mut y = centre.y + radius + 6.2;
        for line in std::iter::once(socket.device.name.clone()).chain(units(verdict, id)) {
            items.push(Item::Text(text(&line, y, CELL.0 - 1.0, TYPE)));
            y += 2.8;
        }
        items
    }
}
