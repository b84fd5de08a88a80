//! How many of a hundred units work on a terminal.

use super::Terminal;
use super::results::{said, written};
use crate::yields::Drawn;
use crate::{sentence, tables};
use network::verdict::Verdict;

/// Every unit drawn, the worst first, and how it is to be read.
#[must_use]
pub fn yields(verdict: &Verdict, drawn: &Drawn, terminal: &Terminal) -> String {
    let about = said(&sentence::about_yields(verdict, drawn), terminal);
    if drawn.tallies.is_empty() {
        return about;
    }
    let counted = written(vec![tables::yields(verdict, drawn)], terminal);
    let varied = tables::varied(verdict, &drawn.worst_cases, Some(drawn.hollow));
    format!("{counted}\n{about}\n{}", written(vec![varied], terminal))
}
