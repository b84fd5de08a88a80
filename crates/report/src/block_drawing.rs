//! Who drives whom: units and blocks as boxes from left to right, nets as lines between them, and at every input the volts to
//! spare. Blocks stand closed in the machine and are opened in a drawing of their own.

mod boxes;
mod layers;
mod sheet;
#[cfg(test)]
mod tests;
mod wires;

use crate::draw::Picture;
use crate::drawing::Drawing;
use crate::words::Wording;
use network::verdict::Verdict;

/// Which part of the machine is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Level {
    /// Everything, blocks closed; boards closed where even these are too many.
    Machine,
    /// What stands in a placed block (index into the design's), the blocks inside it closed.
    Block(usize),
}

/// More boxes than this fill a wall; chosen.
const MOST_BOXES: usize = 60;

/// A level as a drawing of its own, in one piece; `None` where it has too many boxes.
#[must_use]
pub fn drawing(verdict: &Verdict, level: Level, wording: Wording) -> Option<Drawing> {
    let title = match level {
        Level::Machine => "Who drives whom".to_owned(),
        Level::Block(index) => {
            let design = verdict.plan.design;
            let placed = &design.placed_blocks[index];
            let block = &design.blocks[placed.block.0].name;
            format!("Block {} ({block}): who drives whom", placed.name)
        }
    };
    Some(Drawing {
        title,
        legend: legend(wording),
        sheets: draw(verdict, level, None)?,
        legend_above: 0,
    })
}

/// How the drawing is to be read.
#[must_use]
pub fn legend(wording: Wording) -> String {
    wording.apply(
        "Boxes are units, heavy ones blocks or boards; inputs left, outputs right. Above every input its net, below it the volts to \
         spare in the worst row by the book, when down / when up. Dashes and the word thin: little to spare. Heavy dots and dashes and the word short: less \
         than nothing. A small ring begins a line that is not drawn all the way; the name at it is that of the net, or after \"from\" \
         that of the driver. Lines back to the left run below everything.",
    )
}

/// Draws a level in one piece, or in strips of at most `width` millimetres; `None` where it has too many boxes.
#[must_use]
pub fn draw(verdict: &Verdict, level: Level, width: Option<f64>) -> Option<Vec<Picture>> {
    let boxes = boxes::at(verdict, level, MOST_BOXES)?;
    let placed = layers::place(&boxes);
    Some(sheet::draw(&boxes, &placed, width))
}

/// Whether a level can be drawn.
#[must_use]
pub fn can_draw(verdict: &Verdict, level: Level) -> bool {
    boxes::at(verdict, level, MOST_BOXES).is_some()
}
