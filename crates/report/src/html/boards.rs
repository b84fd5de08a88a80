//! Boards: a map of each, and every socket with what stands on its pins.

use super::figure;
use crate::board_drawing::{legend, plan, socket, sockets};
use crate::page::{Block, Figure, Section};
use crate::pinout::Side;
use crate::words::Wording;
use network::verdict::Verdict;

pub(super) fn section(verdict: &Verdict, wording: Wording) -> Section {
    let design = verdict.plan.design;
    let mut blocks = Vec::new();
    for (index, board) in design.boards.iter().enumerate() {
        blocks.push(Block::Subheading(format!("Board {}", board.name)));
        let caption = format!(
            "Map of board {}; valvewright draw {0} --to {0}.pdf draws it at full size.",
            board.name
        );
        let description = "The board's outline with its sockets and connectors.".to_owned();
        blocks.push(figure(caption, description, |width| {
            vec![plan(verdict, index, Side::Below, Some(width))]
        }));
        let draw = |id| socket(verdict, id, Side::Below, wording);
        blocks.push(Block::Figure(Figure {
            caption: legend(verdict, index, Side::Below, wording),
            description: "Every socket from below with electrode, net and volts of each pin."
                .to_owned(),
            wide: sockets(verdict, index).into_iter().map(draw).collect(),
            narrow: Vec::new(),
        }));
    }
    Section {
        heading: "Boards".to_owned(),
        blocks,
    }
}
