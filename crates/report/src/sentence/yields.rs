//! What was drawn for a yield, in words, and what is not in it.

use super::{listed, percent};
use crate::yields::Drawn;
use network::margins::yields::SCRAMBLES;
use network::verdict::Verdict;
use text::quantity::counted;

/// Where no unit can be drawn.
const NOTHING_DRAWN: &str =
    "Nothing was drawn: no unit asked for drives anything that has a threshold in the worst case.";

/// How shares are to be read, and what is not in them.
#[must_use]
pub fn about_yields(verdict: &Verdict, drawn: &Drawn) -> Vec<String> {
    if drawn.tallies.is_empty() {
        return vec![NOTHING_DRAWN.to_owned()];
    }
    let drawing = &drawn.drawing;
    let picked_out = if drawing.hollow == 0.0 {
        String::new()
    } else {
        format!(
            " No resistor stands in the inner {} of its band: closer ones were picked out.",
            percent(drawing.hollow)
        )
    };
    let mut all = vec![
        format!(
            "Drawn were {} of the machine, {SCRAMBLES} scrambles of {}, seed {}: every part anywhere in its band by itself, one place as likely as another, and each rail that feeds a circuit anywhere in its tolerance, one volt figure for the whole machine.{picked_out}",
            counted(drawn.samples(), "sample"),
            drawn.samples() / SCRAMBLES,
            drawing.seed,
        ),
        "Each sample is a whole machine: levels follow from unit to unit as the parts are drawn. A unit works in it where it keeps its states and every output, in every row of its inputs, lies beyond what its loads as drawn ask. The machine works where every unit does.".to_owned(),
        format!("At least and at most is where the share lies with 95 % of confidence: by the scatter of the {SCRAMBLES} scrambles; where every sample works, or none does, by their number."),
    ];
    if !drawn.yields.left_out.is_empty() {
        let names = drawn.yields.left_out.iter();
        let names = names.map(|&member| verdict.plan.members[member].name.clone());
        all.push(format!(
            "Left out, because nothing they drive has a threshold or they did not come to rest by the book: {}.",
            listed(names.collect())
        ));
    }
    all.push("Not in it: parts that are off together, as those of one lot may be, how a band is filled really, what the bench's resistors are off, noise and timing. Loads of one net that are alike in everything are drawn as one where they load it, each by itself where it is asked what it takes.".to_owned());
    all
}
