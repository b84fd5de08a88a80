//! Values that spare the most, and which types serve, in words.

use super::{percent, shown, volts};
use crate::choosing::{Choice, Serving};
use crate::tables::up_or_down;
use design::model::RailId;
use network::margins::choosing::AS_GOOD;
use text::quantity::{Unit, counted};

/// What came out, how far was looked, and what is not in it.
#[must_use]
pub fn about_choice(choice: &Choice) -> Vec<String> {
    let chosen = choice.chosen;
    let mut all = Vec::new();
    let limits = limits(choice);
    if let Some(best) = &chosen.best {
        let short = best.margin.is_some_and(|margin| margin < 0.0);
        if short && chosen.now_is_as_good() {
            all.push("None of those tried spares more than what is typed now, or not by much, and that falls short: give it other ends for the values, other rails, fewer loads or another tube.".to_owned());
        } else if chosen.now_is_as_good() {
            all.push(format!(
                "What is typed now is within {} of the best: there is nothing to change.",
                percent(AS_GOOD)
            ));
        } else if short {
            all.push("Even the best of those tried falls short: give it other rails, fewer loads or another tube.".to_owned());
        }
    } else if chosen.within == 0 {
        all.push(format!(
            "None of those tried keeps the limits ({limits}): allow more, or let more parts be free."
        ));
    } else {
        all.push(format!("Nothing can be compared: with none of the values that keep the limits, those typed now among them, does every type asked for have a threshold in the worst case. Give other ends for the values, {}other rails or another tube.", fewer(choice.wanted.loads)));
    }
    if chosen.better().is_some() {
        let ends = choice.at_an_end();
        let ends: Vec<String> = ends
            .into_iter()
            .map(|(mark, best, smallest)| {
                let which = if smallest { "smallest" } else { "largest" };
                format!(
                    "{} is the {which} value allowed for {mark}",
                    shown(best, Unit::Ohm)
                )
            })
            .collect();
        if !ends.is_empty() {
            all.push(format!(
                "{}: one beyond may spare more. Other ends are typed like `R1=330k..1M`.",
                ends.join(", ")
            ));
        }
    }
    all.extend(best_case(choice));
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

/// How the smallest margin of the best values comes about, with that margin.
pub(crate) fn best_case(choice: &Choice) -> Option<String> {
    let case = choice.chosen.best_case.as_ref()?;
    let tube = match choice.chosen.tubes.len() {
        1 => String::new(),
        _ => format!(" with {}", choice.tube(case.tube)),
    };
    let margin = if case.volts < 0.0 {
        format!("short by {}", volts(-case.volts))
    } else {
        format!("{} to spare", volts(case.volts))
    };
    Some(format!(
        "Worst case of the best values{tube}, {margin} when {}: {}.",
        up_or_down(case.up),
        case.in_words
    ))
}

/// What is advised of loads where fewer can be asked for.
fn fewer(loads: usize) -> &'static str {
    if 1 < loads {
        "fewer loads (`--loads`), "
    } else {
        ""
    }
}

fn tried(choice: &Choice) -> String {
    let chosen = choice.chosen;
    let of = choice
        .wanted
        .combinations()
        .map_or_else(String::new, |all| format!(" of {all}"));
    if chosen.every && chosen.tried == 1 {
        "There was one combination to try.".to_owned()
    } else if chosen.every {
        format!(
            "Every one of {} was tried.",
            counted(chosen.tried, "combination")
        )
    } else if choice.stopped {
        format!(
            "You stopped it: {}{of} were tried, and the best of those is shown. It is not complete; a better one may be among the rest.",
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

/// How the types are to be read.
#[must_use]
pub fn about_serving(serving: &Serving) -> Vec<String> {
    let mut all = Vec::new();
    if serving.all.is_empty() {
        all.push("No type with a curve has these electrodes and this heating.".to_owned());
        return all;
    }
    if serving.all.len() < serving.types {
        all.push(format!(
            "You stopped it: {} of {} were tried. It is not complete; a better one may be among the rest.",
            serving.all.len(),
            counted(serving.types, "type")
        ));
    }
    if !serving.any() {
        let fewer = if 1 < serving.loads {
            format!(
                " With fewer loads than {} (`--loads`) one may serve.",
                serving.loads
            )
        } else {
            String::new()
        };
        all.push(format!(
            "None serves here with the values typed: `valvewright choose` looks for others.{fewer}"
        ));
    }
    let thin = percent(serving.limits.thin_share);
    all.push(format!("To spare is the smallest margin of the circuit alone in the worst case, with this type in every tube of it and in what drives and loads it, thin where it is less than {thin} of the swing; the series of loads ends at the first that falls short. Down and up are its levels at book values. What has no threshold in the worst case amplifies at book values, but not with every part anywhere in its band; what does not amplify has none at book values either."));
    if serving.some_beyond() {
        all.push("What is short by more than is known has its threshold further out than the input volts that are looked at, a quarter of the supplies' span beyond them.".to_owned());
    }
    all.push("Tried was every type with a curve, of the library and of your own, of the same kind and heating and with the same electrodes. In stock is what stands in a socket of the design or has a lot. Sockets and heaters are not looked at here: `valvewright swap` says whether one fits a socket. A type whose curve was not measured at such low volts is a guess; `valvewright tube` says where its points end.".to_owned());
    all
}
