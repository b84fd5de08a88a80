//! How many of a hundred units work, as a record.

use super::margins::band;
use super::record;
use crate::sentence;
use crate::tables::up_or_down;
use crate::yields::Drawn;
use network::margins::tallies::{Outcomes, Tally};
use network::plan::MemberIndex;
use network::verdict::Verdict;
use serde_json::{Value, json};

/// Of each scramble.
fn each(tally: &Tally, count: &dyn Fn(&Outcomes) -> u32) -> Vec<u32> {
    tally.scrambles.iter().map(count).collect()
}

/// Samples of each scramble that stand in the histograms at the most: chosen, a thousand in all make smooth ones, and they are
/// solved anew for it.
const IN_HISTOGRAMS: u32 = 64;

/// Where the outputs of the worst unit stand.
fn histograms(verdict: &Verdict, drawn: &Drawn) -> Vec<Value> {
    let plan = &verdict.plan;
    let Some(spread) = drawn.worst(verdict, IN_HISTOGRAMS) else {
        return Vec::new();
    };
    let sides = spread.sides().map(|side| {
        let bins = side.bins();
        let (counts, failed): (Vec<u32>, Vec<u32>) = bins.counts.iter().copied().unzip();
        let limit = |volts: f64| Some(volts).filter(|volts| volts.is_finite());
        json!({
            "unit": plan.members[spread.member].name,
            "net": plan.nets[side.net].name,
            "when": up_or_down(side.up),
            "edges_volts": bins.edges,
            "counts": counts,
            "failed": failed,
            "threshold_volts": limit(side.limit.book),
            "worst_threshold_volts": limit(side.limit.worst),
        })
    });
    sides.collect()
}

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
            "drawn": each(tally, &Outcomes::samples),
            "works": each(tally, &|one| one.works),
            "level_short": each(tally, &|one| one.short),
            "state_lost": each(tally, &|one| one.state_lost),
            "not_at_rest": each(tally, &|one| one.no_rest),
            "part_wrong": each(tally, &|one| one.part_wrong),
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
    let bands = sentence::varied(verdict, &drawn.worst_cases, Some(drawn.hollow)).into_iter();
    let varied = bands.map(band);
    let fields = json!({
        "samples": drawn.samples(),
        "scrambles": drawn.scrambles(),
        "seeds": drawn.seeds,
        "hollow_share": drawn.hollow,
        "missing": missing.collect::<Vec<_>>(),
        "whole_machine": counted(&drawn.machine),
        "yields": units.collect::<Vec<_>>(),
        "histograms": histograms(verdict, drawn),
        "varied": varied.collect::<Vec<_>>(),
        "left_out": names(&drawn.yields.left_out),
        "said": sentence::about_yields(verdict, drawn),
    });
    record("yields", fields)
}
