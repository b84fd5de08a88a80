//! What happens at switch-on.

use super::block_table;
use crate::page::{Block, Section};
use crate::words::Wording;
use crate::{sentence, tables};
use network::verdict::Verdict;

pub(super) fn section(verdict: &Verdict, wording: Wording) -> Section {
    let mut blocks: Vec<Block> = tables::switch_on(verdict)
        .into_iter()
        .map(|table| block_table(table, wording))
        .collect();
    let sentences = sentence::about_switch_on(verdict);
    blocks.extend(
        sentences
            .into_iter()
            .map(|said| Block::Paragraph(wording.apply(&said))),
    );
    Section {
        heading: "Switching on".to_owned(),
        blocks,
    }
}
