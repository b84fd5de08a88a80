//! How many of a hundred units work, as a record.

use super::record;
use crate::sentence;
use crate::yields::Drawn;
use network::margins::tallies::Tally;
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
    let counted = |tally: &Tally| {
        let (low, high) = tally.interval();
        json!({
            "share": tally.share(),
            "least_share": low,
            "most_share": high,
            "passed": tally.passed,
            "drawn": tally.samples,
        })
    };
    let units = drawn.ranked().into_iter().map(|place| {
        let mut fields = counted(&drawn.tallies[place]);
        fields["units"] = json!(names(drawn.members(place)));
        fields
    });
    let missing = drawn.missing.iter().map(|(seed, block)| {
        json!({ "seed": seed, "scramble": block.scramble, "from": block.from, "to": block.to })
    });
    let fields = json!({
        "samples": drawn.samples(),
        "scrambles": drawn.scrambles(),
        "seeds": drawn.seeds,
        "hollow_share": drawn.hollow,
        "missing": missing.collect::<Vec<_>>(),
        "whole_machine": counted(&drawn.machine),
        "yields": units.collect::<Vec<_>>(),
        "left_out": names(&drawn.yields.left_out),
        "said": sentence::about_yields(verdict, drawn),
    });
    record("yields", fields)
}
