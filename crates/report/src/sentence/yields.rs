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
            "Drawn were {} of each unit, {SCRAMBLES} scrambles of {}, seed {}: every part anywhere in its band by itself, one place as likely as another, and each rail that feeds a circuit anywhere in its tolerance, one volt figure for the whole machine.{picked_out}",
            counted(drawn.samples(), "sample"),
            drawn.samples() / SCRAMBLES,
            drawing.seed,
        ),
        "A unit works in a sample where its outputs pass in every row of its inputs. Its inputs are at the worst levels, and what it drives asks the worst thresholds, that these may have with the rails as drawn. In that sense the share is a lower bound: neighbours are seldom all at their worst.".to_owned(),
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
    all.push("Not in it: parts that are off together, as those of one lot may be, but for tubes that are said to be alike, how a band is filled really, what resistors without a tolerance are off, noise and timing. The share of whole machines is no product of these: their units have the same rails.".to_owned());
    all
}
