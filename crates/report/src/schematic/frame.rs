//! The dashed frame round a part whose value was changed, drawn last: it lies along no wire and crosses no text.

use super::sketch::spanned;
use crate::draw::{Area, Fill, Item, Pattern, Picture, Point, Stroke, point};

/// A part that was changed.
#[derive(Debug, Clone, Copy)]
pub(super) struct Changed {
    /// Its symbol with all that is written on it.
    pub whole: Area,
    /// The symbol alone, for the frame where what is written stands too close to something else.
    pub symbol: Area,
}

impl Changed {
    /// Moved by a vector.
    pub fn moved(&self, by: Point) -> Changed {
        let to = |area: Area| Area {
            x: area.x + by.x,
            y: area.y + by.y,
            ..area
        };
        Changed {
            whole: to(self.whole),
            symbol: to(self.symbol),
        }
    }
}

/// From the frame to what it frames, millimetres, where there is room for it.
pub(super) const GAP: f64 = 0.9;

/// The widest frame that lies clear.
pub(super) fn frame(changed: &Changed, wires: &[[Point; 2]], picture: &Picture) -> Item {
    let narrowest = changed.symbol.grown(0.35);
    let areas = [GAP, 0.6, 0.35].map(|gap| changed.whole.grown(gap));
    let texts: Vec<Area> = picture.text_areas().iter().map(|(_, area)| *area).collect();
    let clear = |area: &&Area| is_clear(area, wires, &texts);
    Item::Rectangle {
        area: *areas.iter().find(clear).unwrap_or(&narrowest),
        stroke: Some(Stroke {
            pattern: Pattern::Dashed,
            ..Stroke::HEAVY
        }),
        fill: Fill::None,
    }
}

fn is_clear(frame: &Area, wires: &[[Point; 2]], texts: &[Area]) -> bool {
    /// A wire nearer than this to an edge beside it would seem to be one with it, millimetres.
    const BESIDE: f64 = 0.6;
    let corners = [
        point(frame.x, frame.y),
        point(frame.right(), frame.y),
        point(frame.right(), frame.bottom()),
        point(frame.x, frame.bottom()),
    ];
    (0..4).all(|idx| {
        let (from, to) = (corners[idx], corners[(idx + 1) % 4]);
        let edge = spanned(from, to);
        let is_level = idx % 2 == 0;
        let along = |wire: &&[Point; 2]| (wire[0].y == wire[1].y) == is_level;
        let beside = |wire: &[Point; 2]| edge.grown(BESIDE).overlaps(&spanned(wire[0], wire[1]));
        // An area without height overlaps nothing by itself.
        let crossed = |text: &Area| text.overlaps(&edge.grown(1e-3));
        !wires.iter().filter(along).any(beside) && !texts.iter().any(crossed)
    })
}
