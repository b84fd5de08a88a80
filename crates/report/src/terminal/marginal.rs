//! The marginal check on a terminal.

use super::Terminal;
use super::results::{said, written};
use crate::{sentence, tables};
use design::model::RailId;
use network::margins::marginal::{MarginalCheck, Suspect};
use network::verdict::Verdict;

/// How far each rail can be moved, then the sheet for the bench.
#[must_use]
pub fn marginal(verdict: &Verdict, check: &MarginalCheck, terminal: &Terminal) -> String {
    if check.moved.is_empty() {
        return said(&[sentence::NOTHING_TO_MOVE.to_owned()], terminal);
    }
    let mut pieces = vec![
        written(vec![tables::moved_rails(verdict, check)], terminal),
        said(&sentence::before_the_rails_move(), terminal),
        written(vec![tables::bench_sheet(verdict, check)], terminal),
        said(&sentence::about_marginal(verdict, check), terminal),
    ];
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
