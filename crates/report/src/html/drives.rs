//! Who drives whom, drawn.

use super::figure;
use crate::block_drawing::{self, Level};
use crate::page::{Block, Section};
use crate::words::Wording;
use network::verdict::Verdict;

pub(super) fn section(verdict: &Verdict, wording: Wording) -> Section {
    let description = "Boxes from left to right in the order in which they drive one another; tables further down list the connections.";
    let levels = std::iter::once(Level::Machine)
        .chain((0..verdict.plan.design.placed_blocks.len()).map(Level::Block));
    let mut blocks = Vec::new();
    for level in levels {
        if !block_drawing::can_draw(verdict, level) {
            continue;
        }
        let caption = match level {
            Level::Machine => block_drawing::legend(wording),
            Level::Block(index) => {
                let design = verdict.plan.design;
                let placed = &design.placed_blocks[index];
                format!(
                    "Inside {} ({}).",
                    placed.name, design.blocks[placed.block.0].name
                )
            }
        };
        blocks.push(figure(caption, wording.apply(description), |width| {
            block_drawing::draw(verdict, level, Some(width)).unwrap_or_default()
        }));
    }
    if blocks.is_empty() {
        let text = format!(
            "{} units are too many for a picture; the table of connections lists who drives whom.",
            verdict.plan.members.len()
        );
        blocks.push(Block::Paragraph(text));
    }
    Section {
        heading: "Who drives whom".to_owned(),
        blocks,
    }
}
