//! What was drawn for a yield, in words, and what is not in it.

use super::{listed, percent};
use crate::yields::Drawn;
use design::model::PartKind;
use network::margins::tallies::Outcomes;
use network::verdict::Verdict;
use std::collections::BTreeMap;
use text::quantity::counted;

/// Where no unit can be drawn.
const NOTHING_DRAWN: &str =
    "Nothing was drawn: no unit asked for drives anything that has a threshold in the worst case.";

/// What besides rails is the same in a whole machine: of what it has.
fn in_common(verdict: &Verdict) -> String {
    let plan = &verdict.plan;
    let mut parts = (0..plan.members.len()).flat_map(|member| &plan.circuit(member).parts);
    let diodes = parts.any(|part| matches!(part.kind, PartKind::Diode { .. }));
    match (diodes, plan.heated.is_empty()) {
        (true, true) => " The same for all is the temperature of its semiconductor diodes.",
        (true, false) => {
            " The same for all are the temperature of its semiconductor diodes and the volts of each rail of heaters."
        }
        (false, false) => " The same for all are the volts of each rail of heaters.",
        (false, true) => "",
    }
    .to_owned()
}

/// How shares are to be read, and what is not in them.
#[must_use]
pub fn about_yields(verdict: &Verdict, drawn: &Drawn) -> Vec<String> {
    if drawn.tallies.is_empty() {
        return vec![NOTHING_DRAWN.to_owned()];
    }
    let picked_out = if drawn.hollow == 0.0 {
        String::new()
    } else {
        format!(
            " No resistor stands in the inner {} of its band, but where the text says otherwise of it: closer ones were picked out.",
            percent(drawn.hollow)
        )
    };
    let common = in_common(verdict);
    let mut all = missing(drawn);
    all.extend([
        format!(
            "Drawn were {} of the machine, {} of {}, {}: every part anywhere in its band by itself, one place as likely as another, and each rail that feeds a circuit anywhere in its tolerance, one volt figure for the whole machine.{common}{picked_out}",
            counted(drawn.samples(), "sample"),
            counted(drawn.scrambles(), "scramble"),
            from_to(drawn),
            seeds(drawn),
        ),
        "Each sample is a whole machine: levels follow from unit to unit as the parts are drawn. A unit works in it where it keeps its states and every output, in every row of its inputs, lies beyond what its loads as drawn ask, and every lamp and load does what its sentence says. The machine works where every unit does.".to_owned(),
        format!("At least and at most is where the share lies with 95 % of confidence: by the scatter of the {}; where every sample works, or none does, by their number.", counted(drawn.scrambles(), "scramble")),
    ]);
    if drawn.anything_failed() {
        all.push("Of what failed each sample is counted once: not at rest where some row of the unit, or of the ring that it is in, has no solution that rests; else state lost where a stored state does not last; else level short where an output does not lie beyond what a load asks; else part wrong where a lamp or load does not do what its sentence says.".to_owned());
    }
    if !drawn.yields.left_out.is_empty() {
        let names = drawn.yields.left_out.iter();
        let names = names.map(|&member| verdict.plan.members[member].name.clone());
        all.push(format!(
            "Left out, because nothing they drive has a threshold and no sentence asks anything of their parts, or they did not come to rest by the book: {}.",
            listed(names.collect())
        ));
    }
    all.push("Not in it: parts that are off together, as those of one lot may be, but for tubes that are said to be alike, how a band is filled really, what resistors without a tolerance are off, noise and timing. Loads of one net that are alike in everything are drawn as one where they load it, each by itself where it is asked what it takes.".to_owned());
    all
}

/// `64`, or `16 to 64` where scrambles have unlike numbers of samples.
fn from_to(drawn: &Drawn) -> String {
    let samples = || drawn.machine.scrambles.iter().map(Outcomes::samples);
    match (samples().min(), samples().max()) {
        (Some(least), Some(most)) if least < most => format!("{least} to {most}"),
        (_, most) => most.map_or_else(|| "none".to_owned(), |most| most.to_string()),
    }
}

fn seeds(drawn: &Drawn) -> String {
    let all: Vec<String> = drawn.seeds.iter().map(u32::to_string).collect();
    match &all[..] {
        [one] => format!("seed {one}"),
        _ => format!("seeds {}", listed(all)),
    }
}

/// What is missing of shares that are not all there, or of a run that was interrupted.
fn missing(drawn: &Drawn) -> Vec<String> {
    let mut scrambles: BTreeMap<(u32, u32, u32), Vec<String>> = BTreeMap::new();
    for (seed, block) in &drawn.missing {
        let of = scrambles.entry((*seed, block.from, block.to));
        of.or_default().push(block.scramble.to_string());
    }
    if scrambles.is_empty() {
        return Vec::new();
    }
    let each = scrambles.into_iter().map(|((seed, from, to), scrambles)| {
        let scramble = if scrambles.len() == 1 {
            "scramble"
        } else {
            "scrambles"
        };
        format!(
            "seed {seed}, samples {from} to {to} of {scramble} {}",
            listed(scrambles)
        )
    });
    vec![format!(
        "Not complete. Missing: {}. What is there counts as it stands, with the interval that it gives; join the files of the other shares, or let the run go on.",
        each.collect::<Vec<_>>().join("; ")
    )]
}
