//! What stands in a string besides its heaters, and what it does to them.

use super::{
    AIM_SHARE, ALIKE_SHARE, HeaterReading, LIMIT_SHARE, StringReading, beyond, severity,
    supply_name, usual, wanted,
};
use crate::finding::{Amount, Finding};
use crate::plan::Plan;
use design::model::{Branch, Design, HeaterString, Link, SocketId};
use devices::copper;
use text::quantity::{Unit, show};

/// Below this share of its rated volts a heater behind a thermistor is called cold: chosen.
const COLD_SHARE: f64 = 0.5;

/// A thermistor that does not get hot, so that a heater stays below half its rated volts: at rest, when the string has been
/// followed as long as any is, or with the supply at its low end.
pub(super) fn cold_thermistor(
    plan: &Plan,
    string: &HeaterString,
    reading: &StringReading,
    readings: &[HeaterReading],
) -> Option<Finding> {
    let (mark, law) = string
        .links
        .iter()
        .flat_map(|link| &link.branches)
        .find_map(|branch| match branch {
            Branch::Thermistor { mark, law, .. } => Some((mark, law)),
            _ => None,
        })?;
    let lowest = |volts: &dyn Fn(&HeaterReading) -> Option<f64>| {
        let all = readings
            .iter()
            .filter_map(|reading| Some((volts(reading)?.abs(), reading.rated_volts)));
        all.filter(|(volts, rated)| *volts < COLD_SHARE * rated)
            .min_by(|left, right| (left.0 / left.1).total_cmp(&(right.0 / right.1)))
    };
    let warm = reading.warm_up.as_ref();
    let end = warm.and_then(|warm| warm.seconds.last().copied());
    let in_the_end = |reading: &HeaterReading| warm?.link_volts[reading.link].last().copied();
    let at_low = |reading: &HeaterReading| Some(reading.reach?.supply.0);
    let (found, when) = if let Some(found) = lowest(&|reading| Some(reading.across())) {
        (found, "However long it is on".to_owned())
    } else if let (Some(found), Some(seconds)) = (lowest(&in_the_end), end) {
        (found, format!("After {seconds:.0} s"))
    } else {
        let low = format!(
            "With {} at the low end of its tolerance",
            supply_name(plan, string)
        );
        (lowest(&at_low)?, low)
    };
    let (volts, rated) = found;
    let cause = format!(
        "{mark} stays cold and holds the current back. {when} a heater of string {} stands at {:.1} % of its rating.",
        string.name,
        100.0 * volts / rated,
    );
    Some(
        Finding::fault("thermistor-cold", string.span, format!("string {}", string.name), cause)
            .numbers(
                Amount::new("heater volts then", volts, Unit::Volt),
                Amount::new("rated heater volts", rated, Unit::Volt),
            )
            .attempt(format!(
                "Choose a thermistor with less resistance cold than the {} of {mark}, for the current of this string, or put more of the supply's volts across it.",
                show(law.cold_ohms, Unit::Ohm, 3)
            )),
    )
}

/// What a part of a string is called, unless it is a heater.
pub(super) fn part_name(branch: &Branch) -> Option<&str> {
    match branch {
        Branch::Heater { .. } => None,
        Branch::Resistor { mark, .. }
        | Branch::Thermistor { mark, .. }
        | Branch::Ballast { mark, .. } => Some(mark),
        Branch::Conductor { on_board: true, .. } => Some("The copper"),
        Branch::Conductor { .. } => Some("The wire"),
    }
}

/// A ballast tube that holds another current than the heaters of its string want.
pub(super) fn other_ballast(
    design: &Design,
    string: &HeaterString,
    worst: &HeaterReading,
) -> Option<(Option<SocketId>, Finding)> {
    let usual = usual(&wanted(design, string))?;
    let (span, mark, amps) = string
        .links
        .iter()
        .find_map(|link| match &link.branches[..] {
            [Branch::Ballast { mark, amps, .. }] => Some((link.span, mark, *amps)),
            _ => None,
        })?;
    if (amps / usual - 1.0).abs() <= ALIKE_SHARE {
        return None;
    }
    let (holds, wants) = (show(amps, Unit::Ampere, 3), show(usual, Unit::Ampere, 3));
    let cause = format!(
        "The ballast tube {mark} holds {holds}, and the heaters of string {} want {wants}: they stand {} their rating.",
        string.name,
        beyond(worst.share() - 1.0),
    );
    let finding = Finding::new(
        "ballast-current",
        severity(LIMIT_SHARE < (worst.share() - 1.0).abs()),
        span,
        format!("string {}", string.name),
        cause,
    )
    .numbers(
        Amount::new(format!("current that {mark} holds"), amps, Unit::Ampere),
        Amount::new("current that the heaters want", usual, Unit::Ampere),
    )
    .attempt(format!("Choose a ballast tube for {wants}."));
    Some((None, finding))
}

/// Wire and copper that take what the heaters lack: without them the one that is furthest off would stand at its rating.
pub(super) fn conductors(
    string: &HeaterString,
    reading: &StringReading,
    worst: &HeaterReading,
) -> Option<(Option<SocketId>, Finding)> {
    let links = string.links.iter().enumerate();
    let lost = links.filter_map(|(index, link)| match link.branches[..] {
        [Branch::Conductor { .. }] => Some((link, reading.link_volts(index)?.abs())),
        _ => None,
    });
    let lost: Vec<(&Link, f64)> = lost.collect();
    let volts: f64 = lost.iter().map(|(_, volts)| volts).sum();
    let left = reading.across().abs() - volts;
    let without = worst.share() * reading.across().abs() / left;
    if volts <= 0.0 || AIM_SHARE < (without - 1.0).abs() {
        return None;
    }
    let (longest, _) = lost.iter().max_by(|one, other| one.1.total_cmp(&other.1))?;
    let cause = format!(
        "Its wires and copper take {} of the {} that the string gets, so its heaters stand {} their rating.",
        show(volts, Unit::Volt, 3),
        show(reading.across().abs(), Unit::Volt, 3),
        beyond(worst.share() - 1.0),
    );
    let finding = Finding::new(
        "heater-wire",
        severity(LIMIT_SHARE < (worst.share() - 1.0).abs()),
        longest.span,
        format!("string {}", string.name),
        cause,
    )
    .numbers(
        Amount::new("volts that its wires take", volts, Unit::Volt),
        Amount::new("where heaters stay within 5.5 %", AIM_SHARE * reading.across().abs(), Unit::Volt),
    )
    .attempt("Use thicker wire or wider copper, or go a shorter way: a tenth of a volt to the furthest tube is enough to lose.");
    Some((None, finding))
}

/// Resistors of a string that take more than their rating, with the supply at its nominal volts.
pub(super) fn resistors(string: &HeaterString, reading: &StringReading) -> Vec<Finding> {
    let mut findings = Vec::new();
    for (index, link) in string.links.iter().enumerate() {
        for branch in &link.branches {
            let Branch::Resistor {
                mark,
                ohms,
                watts: Some(rated),
                ..
            } = branch
            else {
                continue;
            };
            let volts = reading.link_volts(index).unwrap_or(0.0);
            let watts = volts * volts / ohms;
            if watts <= *rated {
                continue;
            }
            let cause = format!(
                "{mark} of string {} takes more than its rated power.",
                string.name
            );
            findings.push(
                Finding::fault(
                    "resistor-watts",
                    link.span,
                    format!("string {}", string.name),
                    cause,
                )
                .numbers(
                    Amount::new("dissipation", watts, Unit::Watt),
                    Amount::new("rated power", *rated, Unit::Watt),
                )
                .attempt("Use a larger one, rated for twice what it takes."),
            );
        }
    }
    findings
}

/// Ballast tubes that get other volts than those between which they hold.
pub(super) fn ballasts(string: &HeaterString, reading: &StringReading) -> Vec<Finding> {
    let links = string.links.iter().enumerate();
    let all = links.filter_map(|(index, link)| {
        let [Branch::Ballast { mark, volts, .. }] = &link.branches[..] else {
            return None;
        };
        let across = reading.link_volts(index)?.abs();
        let (limit, what, side) = if across < volts.0 {
            (volts.0, "lowest volts that it holds at", "below")
        } else if volts.1 < across {
            (volts.1, "highest volts that it holds at", "above")
        } else {
            return None;
        };
        let cause = format!(
            "The ballast tube {mark} gets volts {side} those between which it holds the current of string {}: it lets the supply through.",
            string.name
        );
        let finding = Finding::caution(
            "ballast-range",
            link.span,
            format!("string {}", string.name),
            cause,
        )
        .numbers(
            Amount::new("volts across it", across, Unit::Volt),
            Amount::new(what, limit, Unit::Volt),
        )
        .attempt("Choose a ballast tube whose volts, with those of the heaters, make up the supply, or put a resistor in the string.");
        Some(finding)
    });
    all.collect()
}

/// The resistance of a link without heaters, ohm; 0 for a thermistor and a ballast tube, which find their own.
pub(super) fn in_series_ohms(link: &Link) -> f64 {
    let siemens: f64 = link
        .branches
        .iter()
        .filter_map(own_ohms)
        .map(|ohms| 1.0 / ohms)
        .sum();
    if siemens > 0.0 { 1.0 / siemens } else { 0.0 }
}

pub(super) fn own_ohms(branch: &Branch) -> Option<f64> {
    match branch {
        Branch::Resistor { ohms, .. } => Some(*ohms),
        Branch::Conductor {
            metres,
            square_metres,
            ..
        } => Some(copper::ohms(*metres, *square_metres)),
        _ => None,
    }
}
