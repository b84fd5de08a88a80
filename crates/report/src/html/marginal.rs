//! The marginal check: a sheet for the bench.

use super::{Edition, block_table};
use crate::marginal::steps;
use crate::page::{Block, Page, Section};
use crate::words::Wording;
use crate::{sentence, tables};
use network::margins::marginal::MarginalCheck;
use network::verdict::Verdict;

/// The marginal check alone, to be printed and taken to the bench.
#[must_use]
pub fn marginal_page(
    verdict: &Verdict,
    check: &MarginalCheck,
    edition: &Edition,
    wording: Wording,
) -> String {
    let name = &verdict.plan.design.name;
    let page = Page {
        one_sheet: false,
        title: match name.as_str() {
            "" => "Marginal check".to_owned(),
            name => format!("{name}: marginal check"),
        },
        lead: String::new(),
        sections: vec![section(verdict, check, wording)],
        edition: vec![edition.line()],
    };
    page.to_html()
}

/// The marginal check; of a machine that fails as typed what does.
pub(super) fn section(verdict: &Verdict, check: &MarginalCheck, wording: Wording) -> Section {
    let paragraphs = |said: Vec<String>| {
        let worded = said.into_iter().map(|said| wording.apply(&said));
        worded.map(Block::Paragraph).collect::<Vec<_>>()
    };
    let heading = "Marginal check".to_owned();
    if !check.stands {
        let blocks = paragraphs(sentence::fails_as_typed(verdict, check));
        return Section { heading, blocks };
    }
    let mut blocks = vec![
        block_table(tables::moved_rails(verdict, check), wording),
        Block::Subheading("Sheet for the bench".to_owned()),
    ];
    let before = sentence::before_the_rails_move().into_iter();
    blocks.extend(before.map(|said| Block::Caution(wording.apply(&said))));
    blocks.push(block_table(tables::bench_sheet(verdict, check), wording));
    for step in steps(verdict, check) {
        blocks.extend(paragraphs(step.before));
        if !step.table.rows.is_empty() {
            blocks.push(block_table(step.table, wording));
        }
        blocks.extend(paragraphs(step.after));
    }
    blocks.extend(paragraphs(sentence::about_marginal(verdict, check)));
    Section { heading, blocks }
}
