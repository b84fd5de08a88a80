//! Values that spare the most, and which types serve, in words.

use super::{percent, shown};
use crate::choosing::{Choice, Serving};
use design::model::RailId;
use network::margins::choosing::{AS_GOOD, Serves};
use text::quantity::{Unit, counted};

/// What came out, how far was looked, and what is not in it.
#[must_use]
pub fn about_choice(choice: &Choice) -> Vec<String> {
    let chosen = choice.chosen;
    let mut all = Vec::new();
    let limits = limits(choice);
    match &chosen.best {
        None if limits.is_empty() => all.push("Nothing was tried.".to_owned()),
        None => all.push(format!(
            "None of those tried keeps the limits ({limits}): allow more, or let more parts be free."
        )),
        Some(_) if chosen.now_is_as_good() => all.push(format!(
            "What is typed now is within {} of the best: there is nothing to change.",
            percent(AS_GOOD)
        )),
        Some(best) if best.margin < 0.0 => all.push(
            "Even the best of those tried falls short: give it other rails, fewer loads or another tube.".to_owned(),
        ),
        Some(_) => {}
    }
    if !limits.is_empty() {
        let now = if chosen.now.within {
            "keep"
        } else {
            "do not keep"
        };
        all.push(format!(
            "Limits, at book values: {limits}. The values typed now {now} them."
        ));
    }
    all.push(tried(choice));
    all.push("What is made as large as it can be is the smallest margin of the circuit alone, driven and loaded by its like or by what its jig names: every part anywhere in its band, every rail at an end of its tolerance, any number of loads from none to those asked for. A machine that loads it otherwise has other margins: check it with the new values.".to_owned());
    all
}

fn tried(choice: &Choice) -> String {
    let chosen = choice.chosen;
    let of = choice
        .wanted
        .combinations()
        .map_or_else(String::new, |all| format!(" of {all}"));
    let stopped = if choice.stopped {
        " You stopped it: this is the best of those."
    } else {
        ""
    };
    if chosen.every {
        format!(
            "Every one of {} was tried.",
            counted(chosen.tried, "combination")
        )
    } else if choice.stopped {
        format!(
            "{}{of} were tried.{stopped}",
            counted(chosen.tried, "combination")
        )
    } else {
        format!(
            "{}{of} were tried: from the values now, one or two changed at a time, as long as that spared more. A better one further away may have been missed.",
            counted(chosen.tried, "combination")
        )
    }
}

/// The limits that were asked for: `upper 2 mA, 250 mW in any resistor`; empty where there are none.
fn limits(choice: &Choice) -> String {
    let wanted = choice.wanted;
    let rails = wanted.most_amps.iter().map(|(RailId(rail), amps)| {
        format!(
            "{} {}",
            choice.design.rails[*rail].name,
            shown(*amps, Unit::Ampere)
        )
    });
    let watts = wanted
        .most_watts
        .map(|watts| format!("{} in any resistor", shown(watts, Unit::Watt)));
    let delay = wanted
        .longest_delay
        .map(|delay| format!("rough delay {}", shown(delay, Unit::Second)));
    rails
        .chain(watts)
        .chain(delay)
        .collect::<Vec<_>>()
        .join(", ")
}

/// Why a type does not serve; empty for one that does.
pub(crate) fn why_short(serves: &Serves) -> String {
    match serves.margin {
        None => "does not amplify".to_owned(),
        Some(margin) if margin < 0.0 => {
            let why = if serves.up {
                "up too low"
            } else {
                "down too high"
            };
            format!("{why} by {}", super::volts(-margin))
        }
        Some(_) => String::new(),
    }
}

/// How the types are to be read.
#[must_use]
pub fn about_serving(serving: &Serving) -> Vec<String> {
    let mut all = Vec::new();
    if serving.all.is_empty() {
        all.push("No type with a curve has these electrodes and this heating.".to_owned());
        return all;
    }
    if !serving.any() {
        all.push(
            "None serves here with the values typed: `valvewright choose` looks for others."
                .to_owned(),
        );
    }
    all.push("To spare is the smallest margin of the circuit alone in the worst case, with this type in every tube of it and in what drives and loads it; the series of loads ends at the first that falls short. Down and up are its levels at book values. What does not amplify has no threshold, in the worst case or at all.".to_owned());
    all.push("Tried was every type with a curve, of the library and of your own, of the same kind and heating and with the same electrodes. In stock is what stands in a socket of the design or has a lot. Sockets and heaters are not looked at here: `valvewright swap` says whether one fits a socket. A type whose curve was not measured at such low volts is a guess; `valvewright tube` says where its points end.".to_owned());
    all
}
