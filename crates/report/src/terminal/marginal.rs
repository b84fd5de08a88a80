//! The marginal check on a terminal.

use super::Terminal;
use super::findings;
use super::results::{said, written};
use crate::marginal::steps;
use crate::{sentence, tables};
use design::model::RailId;
use network::finding::Finding;
use network::margins::marginal::{MarginalCheck, Suspect, faults_as_typed};
use network::verdict::Verdict;
use text::source::SourceMap;

/// How far each rail can be moved, then the sheet for the bench; of a machine that fails as typed what does.
#[must_use]
pub fn marginal(
    verdict: &Verdict,
    check: &MarginalCheck,
    sources: &SourceMap,
    terminal: &Terminal,
) -> String {
    if !check.stands {
        let faults: Vec<Finding> = faults_as_typed(verdict).into_iter().cloned().collect();
        let mut out = said(&sentence::fails_as_typed(verdict, check), terminal);
        if !faults.is_empty() {
            out.push('\n');
            out.push_str(&findings(&faults, sources, terminal));
        }
        return out;
    }
    if check.moved.is_empty() {
        return said(&[sentence::NOTHING_TO_MOVE.to_owned()], terminal);
    }
    let mut pieces = vec![
        written(vec![tables::moved_rails(verdict, check)], terminal),
        said(&sentence::before_the_rails_move(), terminal),
        written(vec![tables::bench_sheet(verdict, check)], terminal),
    ];
    for step in steps(verdict, check) {
        pieces.push(said(&step.before, terminal));
        pieces.push(written(vec![step.table], terminal));
        pieces.push(said(&step.after, terminal));
    }
    pieces.push(said(&sentence::about_marginal(verdict, check), terminal));
    pieces.retain(|piece| !piece.is_empty());
    pieces.join("\n")
}

/// What may be to blame for a failure at some volts of a rail.
#[must_use]
pub fn suspects(
    verdict: &Verdict,
    rail: RailId,
    volts: f64,
    suspects: &[Suspect],
    terminal: &Terminal,
) -> String {
    let mut out = written(vec![tables::suspects(verdict, suspects)], terminal);
    if !out.is_empty() {
        out.push('\n');
    }
    let rail = &verdict.plan.design.rails[rail.0];
    out + &said(&sentence::about_suspects(rail, volts, suspects), terminal)
}
