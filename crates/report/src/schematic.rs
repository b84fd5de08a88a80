//! The schematic of a circuit, drawn from its text, with the volts and currents of one state.
//!
//! One column for each tube: rail on top, plate load, tube, cathode circuit, ground or the lower rail. What feeds a grid
//! stands on its left, outputs leave on the right. A net that appears at several places has its name at each, in place
//! of long wires; so every connected piece is a tree and no wire crosses another.
//!
//! Symbols follow IEEE 315 (zigzag resistors, part marks) and IEC 60617, from general knowledge of both.

mod column;
mod ends;
mod frame;
mod layout;
mod sketch;
mod spine;
mod symbols;
mod tube;
mod writing;

use crate::draw::{Area, Fill, Item, Picture, Point, point};
use design::model::{Circuit, Design, Unit};
use network::judge::RowResult;
use sketch::{LINE_STROKE, Sketch};
pub use sketch::{Name, Terminal};
use text::source::SourceMap;

/// What is drawn.
#[derive(Debug, Clone, Copy)]
pub struct Schematic<'a> {
    /// The design that the circuit belongs to.
    pub design: &'a Design,
    /// The circuit.
    pub circuit: &'a Circuit,
    /// The unit it stands for, with sockets, pins and the machine's nets; `None` for the circuit alone.
    pub unit: Option<&'a Unit>,
    /// The text, for values as they are written.
    pub sources: &'a SourceMap,
    /// The state whose volts and currents are written on it; row of a result on this circuit.
    pub state: Option<&'a RowResult>,
    /// A part whose value was changed.
    pub change: Option<Change<'a>>,
}

/// A change of one part's value, to be marked.
#[derive(Debug, Clone, Copy)]
pub struct Change<'a> {
    /// Index of the part in its circuit.
    pub part: usize,
    /// Its value before, as it was written.
    pub was: &'a str,
    /// The same row of inputs before the change.
    pub before: Option<&'a RowResult>,
}

/// A picture with what its shapes stand for: from wires and names alone the circuit's nets can be read back.
#[derive(Debug, Clone, PartialEq)]
pub struct Traced {
    /// The picture.
    pub picture: Picture,
    /// Straight wires, all along an axis; two that touch at an end of one are joined.
    pub wires: Vec<[Point; 2]>,
    /// Names of nets on wires; ground and rails among them. Wires of the same name are joined.
    pub names: Vec<Name>,
    /// Terminals of parts, on the ends of wires.
    pub terminals: Vec<Terminal>,
    /// Bodies of parts; wires end at their edges.
    pub symbols: Vec<Area>,
}

/// Margin round the drawing, millimetres.
const MARGIN: f64 = 1.0;
/// Between pieces of the drawing, millimetres.
const APART: f64 = 6.0;

/// The schematic as a picture at most `width` millimetres wide (90 at least, else single parts may not fit).
#[must_use]
pub fn picture(subject: &Schematic, width: f64) -> Picture {
    traced(subject, width).picture
}

/// The schematic with a record of what its shapes stand for.
#[must_use]
pub fn traced(subject: &Schematic, width: f64) -> Traced {
    let room = width - 2.0 * MARGIN;
    let all = strips(column::pieces(subject, room), room);
    let mut sheet = Sketch::new();
    sheet.add(all, point(MARGIN, MARGIN));
    finish(sheet)
}

/// Pieces from left to right, in as many strips as the width asks for; the origins of a strip's pieces, where tubes have
/// their centre, lie at one height.
fn strips(pieces: Vec<Sketch>, width: f64) -> Sketch {
    let mut sheet = Sketch::new();
    let mut strip: Vec<Sketch> = Vec::new();
    let mut taken = 0.0;
    let mut y = 0.0;
    for piece in pieces {
        let own = piece.right - piece.left;
        if !strip.is_empty() && width < taken + APART + own {
            y = lay(&mut sheet, std::mem::take(&mut strip), y) + APART;
            taken = 0.0;
        }
        taken += own + if strip.is_empty() { 0.0 } else { APART };
        strip.push(piece);
    }
    lay(&mut sheet, strip, y);
    sheet
}

/// Lays one strip out below `y`; returns where it ends.
fn lay(sheet: &mut Sketch, strip: Vec<Sketch>, y: f64) -> f64 {
    let top = strip.iter().map(|piece| piece.top).fold(0.0, f64::min);
    let bottom = strip.iter().map(|piece| piece.bottom).fold(0.0, f64::max);
    let mut x = 0.0;
    for piece in strip {
        let (left, right) = (piece.left, piece.right);
        sheet.add(piece, point(x - left, y - top));
        x += right - left + APART;
    }
    y + bottom - top
}

/// Wires below symbols, dots where three or more meet.
fn finish(sheet: Sketch) -> Traced {
    let mut items: Vec<Item> = sheet
        .wires
        .iter()
        .map(|&[from, to]| Item::Line {
            from,
            to,
            stroke: LINE_STROKE,
        })
        .collect();
    items.extend(dots(&sheet));
    let (width, height) = (sheet.right + MARGIN, sheet.bottom + MARGIN);
    items.extend(sheet.items);
    let mut picture = Picture {
        width,
        height,
        items,
    };
    for changed in &sheet.changed {
        let frame = frame::frame(changed, &sheet.wires, &picture);
        picture.items.push(frame);
    }
    Traced {
        picture,
        wires: sheet.wires,
        names: sheet.names,
        terminals: sheet.terminals,
        symbols: sheet.symbols,
    }
}

/// A dot wherever three or more wire ends meet.
fn dots(sheet: &Sketch) -> Vec<Item> {
    // Thousandths of a millimetre, so that places can be compared.
    let key = |at: Point| ((at.x * 1e3).round() as i64, (at.y * 1e3).round() as i64);
    let mut ends: std::collections::BTreeMap<(i64, i64), (usize, Point)> =
        std::collections::BTreeMap::new();
    for at in sheet.wires.iter().flatten() {
        ends.entry(key(*at)).or_insert((0, *at)).0 += 1;
    }
    ends.into_values()
        .filter(|(count, _)| 3 <= *count)
        .map(|(_, centre)| Item::Circle {
            centre,
            radius: 0.55,
            stroke: None,
            fill: Fill::Ink,
        })
        .collect()
}
