//! Who drives whom, drawn.

use super::figure;
use crate::block_drawing;
use crate::page::{Block, Section};
use crate::words::Wording;
use network::verdict::Verdict;

pub(super) fn section(verdict: &Verdict, wording: Wording) -> Section {
    let heading = "Who drives whom".to_owned();
    let Some(legend) = block_drawing::legend(verdict, wording) else {
        let text = format!(
            "{} units are too many for a picture; the table of the section before lists every connection.",
            verdict.plan.members.len()
        );
        return Section {
            heading,
            blocks: vec![Block::Paragraph(text)],
        };
    };
    let description = "Units from left to right in the order in which they drive one another; the table lists the same connections.";
    let blocks = vec![figure(legend, wording.apply(description), |width| {
        block_drawing::draw(verdict, width)
    })];
    Section { heading, blocks }
}
