//! The steps of a marginal check as every face shows them: how to bring a state about, what to read, what that leaves open.

use crate::table::Table;
use crate::{sentence, tables};
use network::margins::marginal::MarginalCheck;
use network::verdict::Verdict;

/// One step of the sheet for the bench.
pub(crate) struct Step {
    /// How its state is brought about.
    pub before: Vec<String>,
    /// What to read; without a row where nothing tells.
    pub table: Table,
    /// What that leaves open.
    pub after: Vec<String>,
}

/// Every step at which something fails, in the order of the bench.
pub(crate) fn steps(verdict: &Verdict, check: &MarginalCheck) -> Vec<Step> {
    let order = check.order.iter().enumerate();
    order
        .filter_map(|(index, &place)| {
            let apart = check.apart[place].as_ref()?;
            let rail = &verdict.plan.design.rails[check.moved[place].rail.0].name;
            let before = (!apart.places.is_empty())
                .then(|| sentence::how_to_bring_about(verdict, index + 1, apart));
            Some(Step {
                before: before.into_iter().collect(),
                table: tables::told_apart(verdict, index + 1, rail, apart),
                after: sentence::left_open(verdict, index + 1, rail, apart),
            })
        })
        .collect()
}
