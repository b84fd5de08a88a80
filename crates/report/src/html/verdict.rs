//! The first section: what came out, what was found, what was and was not checked.

use crate::margins::WorstCases;
use crate::page::{Block, Section};
use crate::sentence;
use crate::terminal::MOST_CONSEQUENCES;
use crate::words::Wording;
use network::finding::Finding;
use network::verdict::Verdict;
use text::source::SourceMap;

pub(super) fn section(
    verdict: &Verdict,
    worst: Option<&WorstCases>,
    sources: &SourceMap,
    wording: Wording,
) -> Section {
    let say = |text: &str| wording.apply(text);
    let mut last = vec![
        sentence::outcome(verdict),
        say(&match worst {
            Some(_) => sentence::not_checked_with_worst_case(verdict),
            None => sentence::not_checked(verdict),
        }),
    ];
    last.extend(verdict.extrapolations.iter().map(sentence::extrapolation));
    let mut blocks = vec![Block::Paragraph(last.join(" "))];
    if let Some(worst) = worst {
        let outcome = sentence::worst_outcome(verdict, worst.margins);
        blocks.push(Block::Paragraph(say(&outcome)));
    }
    if let Some(caution) = sentence::caution(verdict) {
        blocks.push(Block::Caution(say(&caution)));
    }
    blocks.push(Block::Subheading("Findings by the book".to_owned()));
    if verdict.findings.is_empty() {
        blocks.push(Block::Paragraph("No findings by the book.".to_owned()));
    }
    for finding in &verdict.findings {
        blocks.extend(finding_blocks(finding, sources, wording));
    }
    let mut checked: Vec<String> = verdict.checked.iter().map(|text| say(text)).collect();
    checked.extend(worst.map(|_| {
        "Spread of parts and ageing: every part anywhere in its band, every rail at an end of its tolerance (Margins).".to_owned()
    }));
    if !checked.is_empty() {
        blocks.push(Block::Subheading("What was checked".to_owned()));
        blocks.push(Block::List(checked));
    }
    Section {
        heading: "Verdict".to_owned(),
        blocks,
    }
}

/// A finding with its numbers, its cause, what to try, and what follows from it.
pub(super) fn finding_blocks(
    finding: &Finding,
    sources: &SourceMap,
    wording: Wording,
) -> Vec<Block> {
    let severity = sentence::severity(finding.severity);
    let mut text = wording.apply(&finding.cause);
    if let Some(numbers) = sentence::numbers(finding, wording) {
        text.push(' ');
        text.push_str(&numbers);
    }
    let place = sentence::place(sources, finding.span);
    let name = if place.is_empty() {
        finding.name.to_owned()
    } else {
        format!("{}, {place}", finding.name)
    };
    let mut blocks = vec![
        Block::Subheading(format!("{severity}: {} ({name})", finding.subject)),
        Block::Paragraph(text),
    ];
    let mut items: Vec<String> = finding
        .tries
        .iter()
        .map(|text| format!("Try: {}", wording.apply(text)))
        .collect();
    items.extend(
        finding
            .consequences
            .iter()
            .take(MOST_CONSEQUENCES)
            .map(|consequence| {
                format!(
                    "And so: {}, {}: {}",
                    consequence.subject,
                    consequence.name,
                    wording.apply(&consequence.cause)
                )
            }),
    );
    let unseen = finding.consequences.len().saturating_sub(MOST_CONSEQUENCES);
    if 0 < unseen {
        items.push(format!("And {unseen} more that follow from it."));
    }
    if !items.is_empty() {
        blocks.push(Block::List(items));
    }
    blocks
}
