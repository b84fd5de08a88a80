//! Margins in the worst case on a terminal.

use super::Terminal;
use super::findings::findings;
use super::results::{said, written};
use crate::margins::{Standing, Whose, WorstCases};
use crate::{sentence, tables};
use network::verdict::Verdict;
use text::source::SourceMap;

/// Margins in the worst case: of every driver, or of those of a circuit; of one unit in detail, with every corner of the
/// rails and what each part does.
#[must_use]
pub fn margins(
    verdict: &Verdict,
    worst: &WorstCases,
    whose: Whose,
    sources: &SourceMap,
    terminal: &Terminal,
) -> String {
    let margins = worst.margins;
    let mut found = sentence::not_settled(verdict, margins);
    let mut tables = Vec::new();
    if let Some(&smallest) = whose.connections(verdict, margins).first() {
        let standing = Standing::smallest(smallest);
        tables.extend(tables::margins(verdict, margins, whose));
        if let Whose::Unit(unit) = whose {
            tables.push(tables::corners(verdict, margins, unit));
        }
        tables.push(tables::sensitivities(verdict, margins, &standing));
        found.push(sentence::what_mends(verdict, &standing));
    } else {
        found.push(sentence::NO_MARGIN.to_owned());
    }
    let mut out = written(tables, terminal);
    if !out.is_empty() {
        out.push('\n');
    }
    let short = whose.findings(verdict, margins);
    if !short.is_empty() {
        out.push_str(&findings(&short, sources, terminal));
        out.push('\n');
    }
    format!(
        "{out}{}\n{}\n{}",
        said(&found, terminal),
        written(vec![tables::varied(verdict, worst)], terminal),
        said(&sentence::about_margins(margins), terminal)
    )
}
