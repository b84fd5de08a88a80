//! How many of a hundred units work, and where the worst of them stands in the samples.

use super::{block_table, figure};
use crate::page::{Block, Section};
use crate::words::Wording;
use crate::yields::{Drawn, LEGEND, Spread};
use crate::{sentence, tables};
use network::verdict::Verdict;

pub(super) fn section(verdict: &Verdict, drawn: &Drawn, wording: Wording) -> Section {
    let mut blocks = Vec::new();
    let some = !drawn.tallies.is_empty();
    if some {
        blocks.push(block_table(tables::yields(verdict, drawn), wording));
    }
    let worst = drawn.worst(verdict, u32::MAX);
    if let Some(worst) = worst.filter(Spread::shows_something) {
        let name = &verdict.plan.members[worst.member].name;
        blocks.push(figure(
            wording.apply(&format!("The outputs of {name}, the worst. {LEGEND}")),
            "A stepped outline over the volts of an output, a dotted one of those that fail, and upright lines at the thresholds."
                .to_owned(),
            |width| worst.pictures(verdict, wording, width),
        ));
    }
    let said = sentence::about_yields(verdict, drawn);
    blocks.extend(
        said.iter()
            .map(|said| Block::Paragraph(wording.apply(said))),
    );
    if some {
        let varied = tables::varied(verdict, &drawn.worst_cases, Some(drawn.hollow));
        blocks.push(block_table(varied, wording));
    }
    Section {
        heading: "How many work".to_owned(),
        blocks,
    }
}
