//! Margins in the worst case on a terminal.

use super::Terminal;
use super::findings::findings;
use super::results::{said, written};
use crate::margins::{Standing, Whose, WorstCases};
use crate::{sentence, tables};
use network::verdict::Verdict;
use text::source::SourceMap;

/// Margins in the worst case: of every driver and every circuit alone; of the drivers of one circuit and of that circuit alone in
/// detail; of one unit in detail, with every corner of the rails and what each part does.
#[must_use]
pub fn margins(
    verdict: &Verdict,
    worst: &WorstCases,
    whose: Whose,
    sources: &SourceMap,
    terminal: &Terminal,
) -> String {
    let margins = worst.margins;
    let plan = &verdict.plan;
    let thin_share = verdict.limits.thin_share;
    let mut found = sentence::not_settled(plan, margins);
    let mut tables = Vec::new();
    let connections = whose.connections(verdict, margins);
    let (smallest, detail) = worst.smallest(verdict, whose);
    if let Some(smallest) = smallest {
        let standing = Standing::smallest(smallest);
        tables.extend(tables::margins(verdict, margins, whose));
        if let Whose::Unit(_) = whose {
            tables.push(tables::corners(plan, margins, &connections));
        }
        tables.push(tables::sensitivities(plan, margins, &standing));
        let subject = sentence::side_name(plan, &standing);
        found.push(sentence::what_mends(plan, thin_share, &standing, &subject));
        found.extend(sentence::solved_anew(plan, worst.mended[0], &standing));
    }
    let alone = worst.alone_in_order();
    if !worst.driving_alone().is_empty() {
        let detailed = matches!(whose, Whose::Circuit(_)) || smallest.is_none();
        tables.extend(tables::alone(worst, detailed));
    }
    for case in &alone {
        found.extend(sentence::not_settled_alone(case));
    }
    if let Some(case) = detail
        && let Some(smallest) = case.margins.connections.first()
    {
        let standing = Standing::smallest(smallest);
        tables.push(tables::corners(&case.plan, &case.margins, &[smallest]));
        tables.push(tables::sensitivities(&case.plan, &case.margins, &standing));
        let subject = format!("{} alone", case.plan.members[0].name);
        found.push(sentence::what_mends(
            &case.plan, thin_share, &standing, &subject,
        ));
        found.extend(sentence::solved_anew(plan, worst.mended[1], &standing));
    }
    let of_parts = tables::worst_duties(verdict, margins, whose);
    let free = tables::free_outputs(verdict, margins, whose);
    let others = of_parts.is_some() || free.is_some();
    tables.extend(of_parts.into_iter().chain(free).flatten());
    let of_alone = [tables::duties_alone(worst), tables::free_alone(worst)];
    tables.extend(of_alone.into_iter().flatten().flatten());
    if connections.is_empty() && alone.is_empty() && !others {
        found.push(sentence::NO_MARGIN.to_owned());
    } else if matches!(whose, Whose::Circuit(_)) && alone.is_empty() {
        found.push(sentence::NO_MARGIN_ALONE.to_owned());
    }
    let mut out = written(tables, terminal);
    if !out.is_empty() {
        out.push('\n');
    }
    let short = worst.findings(verdict, whose);
    if !short.is_empty() {
        out.push_str(&findings(&short, sources, terminal));
        out.push('\n');
    }
    format!(
        "{out}{}\n{}\n{}",
        said(&found, terminal),
        written(vec![tables::varied(verdict, worst, None)], terminal),
        said(&sentence::about_margins(verdict, worst), terminal)
    )
}
