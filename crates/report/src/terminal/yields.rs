//! How many of a hundred units work on a terminal.

use super::Terminal;
use super::results::{said, written};
use crate::yields::Drawn;
use crate::{sentence, tables};
use network::verdict::Verdict;

/// Every unit drawn, the worst first, and how it is to be read.
#[must_use]
pub fn yields(verdict: &Verdict, drawn: &Drawn, terminal: &Terminal) -> String {
    let mut out = written(vec![tables::yields(verdict, drawn)], terminal);
    if !out.is_empty() {
        out.push('\n');
    }
    out += &said(&sentence::about_yields(verdict, drawn), terminal);
    if !drawn.tallies.is_empty() {
        let varied = tables::varied(verdict, &drawn.worst_cases, Some(drawn.hollow));
        out += &format!("\n{}", written(vec![varied], terminal));
    }
    out
}
