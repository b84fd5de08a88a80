//! What happens at switch-on, in words.

use crate::decimal;
use design::model::NetKind;
use network::switch_on::{MOST_SHARE, Order, SoftStart};
use network::verdict::Verdict;

/// The supply of a soft start: `heat` against ground, `raised` of a winding wherever it stands, `heat to lift` between two
/// rails of direct volts.
pub(crate) fn supply(verdict: &Verdict, soft: &SoftStart) -> String {
    let design = verdict.plan.design;
    let [near, far] = soft.between.map(|net| &design.nets[net.0]);
    let winding = design
        .rails
        .iter()
        .find(|rail| rail.alternates && soft.between.contains(&rail.net));
    if let Some(winding) = winding {
        return winding.name.clone();
    }
    match near.kind {
        NetKind::Ground => far.name.clone(),
        NetKind::Rail(_) | NetKind::Signal => format!("{} to {}", far.name, near.name),
    }
}

/// In which order to switch on, and what to mind.
#[must_use]
pub fn about_switch_on(verdict: &Verdict) -> Vec<String> {
    let design = verdict.plan.design;
    let switch_on = &verdict.switch_on;
    let mut all = Vec::new();
    if !switch_on.cases.is_empty() {
        all.push(match &switch_on.order {
            Order::Found { rails, forced } => {
                let names: Vec<&str> = rails
                    .iter()
                    .map(|rail| design.rails[rail.0].name.as_str())
                    .collect();
                let why = if *forced {
                    "another order may break a rating, and so does a rail that fails later: interlock them"
                } else {
                    "no single missing rail breaks a rating; bias first and the highest plates last is common practice (no source)"
                };
                format!("Order of the rails: heaters, then {}; {why}.", names.join(", "))
            }
            Order::Nowhere => "No order of the rails keeps every rating; see the finding.".to_owned(),
            Order::NotTried => "More orders of the rails than were tried: which one keeps every rating is not known.".to_owned(),
        });
        all.push("A missing rail is taken to stand at 0 V (an unpowered supply's capacitor and bleeder hold it there; chosen), the others at the top of their tolerance. What passes in less than a second while a rail rises is not computed.".to_owned());
    }
    if switch_on
        .soft_starts
        .iter()
        .any(|soft| !soft.steps.is_empty())
    {
        all.push(format!(
            "The resistors hold the heaters to {} % of their running current, also with the coldest of them. They get hot: mount them in the open and away from wires. When the relay that shorts them fails, the heaters stay too cool and tubes read weak; a lamp across the contact shows it.",
            decimal::fixed(100.0 * MOST_SHARE, 0)
        ));
    }
    let held = switch_on.soft_starts.iter();
    for soft in held.filter(|soft| !soft.with_thermistors.is_empty()) {
        let names = soft
            .with_thermistors
            .iter()
            .map(|string| design.strings[*string].name.as_str());
        let names = names.collect::<Vec<_>>().join(", ");
        let supply = supply(verdict, soft);
        all.push(if soft.strings.is_empty() {
            format!("No resistor is proposed before {supply}: the thermistors in {names} hold the current back.")
        } else {
            format!("Not counted before {supply}: {names}, held back by a thermistor; take its lead straight to the supply, past the resistors.")
        });
    }
    all.push("Bulbs and heater resistors burn; rails and their capacitors can kill, also while tubes are cold and nothing seems to run. Measure with one hand; local codes and licensed practice come first.".to_owned());
    all
}
