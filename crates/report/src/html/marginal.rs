//! The marginal check: a sheet for the bench.

use super::block_table;
use crate::page::{Block, Section};
use crate::words::Wording;
use crate::{sentence, tables};
use network::margins::marginal::MarginalCheck;
use network::verdict::Verdict;

pub(super) fn section(verdict: &Verdict, check: &MarginalCheck, wording: Wording) -> Section {
    let worded = |said: Vec<String>| -> Vec<String> {
        said.iter().map(|said| wording.apply(said)).collect()
    };
    let mut blocks = vec![
        block_table(tables::moved_rails(verdict, check), wording),
        Block::Subheading("Sheet for the bench".to_owned()),
    ];
    let before = worded(sentence::before_the_rails_move());
    blocks.extend(before.into_iter().map(Block::Caution));
    blocks.push(block_table(tables::bench_sheet(verdict, check), wording));
    let about = worded(sentence::about_marginal(verdict, check));
    blocks.extend(about.into_iter().map(Block::Paragraph));
    Section {
        heading: "Marginal check".to_owned(),
        blocks,
    }
}
