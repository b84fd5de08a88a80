//! Proposed heater strings, and another type in a socket, on a terminal.

use super::Terminal;
use super::findings::findings;
use super::results::{change, said, written};
use crate::planned::{Proposal, marks_of_types, statements};
use crate::{sentence, tables};
use network::finding::Finding;
use network::substitution::Swap;
use text::source::SourceMap;

/// The strings as they can be pasted into a design, then their volts and resistors. `found` are those on heaters or new in a
/// check of the design with these strings and its sources, where there is a design.
#[must_use]
pub fn group(
    proposal: &Proposal,
    found: Option<(&[Finding], &SourceMap)>,
    terminal: &Terminal,
) -> String {
    let mut out = String::new();
    if found.is_none() {
        for line in marks_of_types(proposal) {
            out.push_str(&format!("# {line}\n"));
        }
    }
    out.push_str(&statements(proposal));
    if !proposal.grouping.strings.is_empty() {
        out.push('\n');
        let tables = vec![
            tables::proposed_strings(proposal),
            tables::proposed_heaters(proposal),
            tables::proposed_resistors(proposal),
        ];
        out.push_str(&written(tables, terminal));
        out.push('\n');
    }
    out.push_str(&said(&sentence::about_proposal(proposal), terminal));
    match found {
        Some(([], _)) => out.push_str(&said(
            &["A check of the design with these strings finds nothing on heaters, and nothing new.".to_owned()],
            terminal,
        )),
        Some((list, sources)) => {
            out.push_str("\nWith these strings a check finds on heaters, or newly:\n");
            out.push_str(&findings(list, sources, terminal));
        }
        None => {}
    }
    out
}

/// What another type in a socket does: the verdict first, why, what would mend it, then the numbers.
#[must_use]
pub fn swap(swap: &Swap, sources: &SourceMap, terminal: &Terminal) -> String {
    let mut out = format!("{}\n", sentence::swap_verdict(swap));
    let reasons: Vec<String> = swap
        .reasons
        .iter()
        .map(|reason| format!("{}: {}", sentence::severity(reason.severity), reason.text))
        .collect();
    out.push_str(&said(&reasons, terminal));
    let mends: Vec<String> = swap
        .mends
        .iter()
        .map(|mend| format!("Try: {mend}"))
        .collect();
    out.push_str(&said(&mends, terminal));
    let tables = vec![tables::swapped_heaters(swap), tables::swapped_pins(swap)];
    let tables = written(tables, terminal);
    if !tables.is_empty() {
        out.push_str(&format!("\n{tables}"));
    }
    if let Some(changed) = &swap.change {
        out.push('\n');
        out.push_str(&change(changed, "Levels and findings:", sources, terminal));
    }
    out
}
