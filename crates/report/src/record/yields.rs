//! How many of a hundred units work, as a record.

use super::record;
use crate::sentence;
use crate::yields::Drawn;
use network::margins::yields::SCRAMBLES;
use network::plan::MemberIndex;
use network::verdict::Verdict;
use serde_json::{Value, json};

/// Every unit drawn, the worst first.
#[must_use]
pub fn yields(verdict: &Verdict, drawn: &Drawn) -> Value {
    let plan = &verdict.plan;
    let names = |members: &[MemberIndex]| -> Vec<&str> {
        let names = members.iter().map(|&one| plan.members[one].name.as_str());
        names.collect()
    };
    let units = drawn.ranked().into_iter().map(|place| {
        let tally = &drawn.tallies[place];
        let (low, high) = tally.interval();
        json!({
            "units": names(drawn.members(place)),
            "share": tally.share(),
            "least_share": low,
            "most_share": high,
            "passed": tally.passed,
        })
    });
    let fields = json!({
        "samples": drawn.samples(),
        "scrambles": SCRAMBLES,
        "seed": drawn.drawing.seed,
        "hollow_share": drawn.drawing.hollow,
        "yields": units.collect::<Vec<_>>(),
        "left_out": names(&drawn.yields.left_out),
        "said": sentence::about_yields(verdict, drawn),
    });
    record("yields", fields)
}
