//! Lamps and loads that do not do in the worst case what is asked of them, and outputs that no longer tell their states apart.

use super::{span, weighs_most};
use crate::duty::Asked;
use crate::finding::{Amount, Finding};
use crate::margins::cases::{corner_in_words, duty_in_words, duty_parts, swing_in_words};
use crate::margins::{DutyMargin, DutyNotKnown, FreeOutput, Margins};
use crate::plan::{MemberIndex, Plan};
use design::model::CircuitId;
use std::collections::BTreeMap;
use text::quantity::{Unit, show};

/// Findings in their order, the same of further units of one circuit below the first.
fn gathered<K: Ord>(all: impl Iterator<Item = (K, Finding)>) -> Vec<Finding> {
    let mut findings: Vec<Finding> = Vec::new();
    let mut first_of: BTreeMap<K, usize> = BTreeMap::new();
    for (like, finding) in all {
        match first_of.get(&like) {
            Some(&first) => findings[first].consequences.push(finding),
            None => {
                first_of.insert(like, findings.len());
                findings.push(finding);
            }
        }
    }
    findings
}

/// Of every sentence about a part, lit or on and out or off each for itself, the smallest margin that is short; then those that
/// are not known.
pub(super) fn short_parts(
    plan: &Plan,
    margins: &Margins,
    asked: &impl Fn(MemberIndex) -> bool,
) -> Vec<Finding> {
    let mut said: Vec<(MemberIndex, usize, bool)> = Vec::new();
    let short = margins.duties.iter().filter(|duty| duty.spare < 0.0);
    let new = short.filter(|duty| {
        let this = (duty.member, duty.duty, duty.asked.on());
        let new = asked(duty.member) && !said.contains(&this);
        said.push(this);
        new
    });
    let new = new.map(|duty| {
        let like = (
            plan.members[duty.member].circuit,
            duty.duty,
            duty.asked.on(),
        );
        (like, short_of(plan, margins, duty))
    });
    let mut all = gathered(new);
    let mut missing: Vec<(MemberIndex, usize)> = Vec::new();
    let not_known = margins.duties_not_known.iter().filter(|one| {
        let new = asked(one.member) && !missing.contains(&(one.member, one.duty));
        missing.push((one.member, one.duty));
        new
    });
    all.extend(gathered(not_known.map(|one| {
        let like: (CircuitId, usize) = (plan.members[one.member].circuit, one.duty);
        (like, not_known_of(plan, margins, one))
    })));
    all
}

/// `a up, b down`: the inputs of the case.
fn row_words(plan: &Plan, duty: &DutyMargin) -> String {
    let interface = &plan.circuit(duty.member).interface;
    let words = interface.signals.iter().zip(&duty.case.inputs);
    let words = words.map(|(name, &up)| format!("{name} {}", if up { "up" } else { "down" }));
    words.collect::<Vec<_>>().join(", ")
}

/// The name of a finding, what is wrong in words, what is read, what it is held against, and what to do.
struct Wrong {
    name: &'static str,
    cause: String,
    reading: String,
    limit: &'static str,
    remedy: &'static str,
}

const BRIGHTER: &str = "Give the plate more volts or the grid a higher up level: a higher rail, or smaller resistors before plate and grid.";
const DARKER: &str = "Take its grid further down: a smaller resistor to the negative rail, or a lower down level before it.";
const STRIKE: &str = "Put it on a higher rail, or pull its other end further down.";
const GO_OUT: &str =
    "Let less stand across it: a smaller resistor across the lamp, or a plate that rises further.";

fn wrong(plan: &Plan, duty: &DutyMargin) -> Wrong {
    let part = plan.name_of(
        duty.member,
        &plan.circuit(duty.member).parts[duty.part].mark,
    );
    let row = row_words(plan, duty);
    let shown = show(duty.reading, duty.asked.unit(), 3);
    let amps = format!("current of {part}");
    let plate = |what: &str| format!("{what} of the plate of {part}");
    let (name, cause, reading, limit, remedy) = match duty.asked {
        Asked::Least(_) => (
            "worst-case-current",
            format!("{shown} flow through {part} with {row}, less than it wants"),
            amps,
            "smallest wanted",
            "Use a smaller resistor in the loop, closer parts, or a higher supply.",
        ),
        Asked::Most(_) => (
            "worst-case-current",
            format!("{shown} flow through {part} with {row}, more than it wants"),
            amps,
            "largest wanted",
            "Use a larger resistor in the loop, or closer parts.",
        ),
        Asked::Off(_) => (
            "worst-case-current",
            format!("{shown} still flow through {part} with {row}, where it should be off"),
            amps,
            "off: a tenth of the smallest wanted",
            "Take the grid of the tube that switches it further down, or use a tube of higher mu.",
        ),
        Asked::Lit(_) => (
            "worst-case-lamp-dark",
            format!(
                "the plate of {part}, which should be lit with {row}, takes {shown}: too little to read as lit"
            ),
            plate("power"),
            "lit from",
            BRIGHTER,
        ),
        Asked::Out(_) => (
            "worst-case-lamp-lit",
            format!("the plate of {part}, which should be out with {row}, takes {shown}: it glows"),
            plate("current"),
            "out up to",
            DARKER,
        ),
        Asked::Strikes | Asked::Holds | Asked::StaysDark | Asked::GoesOut => {
            return wrong_neon(&part, &row, &shown, duty.asked);
        }
    };
    Wrong {
        name,
        cause,
        reading,
        limit,
        remedy,
    }
}

/// The same of a neon lamp.
fn wrong_neon(part: &str, row: &str, shown: &str, asked: Asked) -> Wrong {
    let dark = format!("volts across the dark {part}");
    let held = format!("volts across {part} at its holding current");
    let (name, cause, reading, limit, remedy) = match asked {
        Asked::Strikes => (
            "worst-case-lamp-dark",
            format!(
                "{part}, which should be lit with {row}, has {shown} when dark: it does not strike"
            ),
            dark,
            "strikes from at the latest",
            STRIKE,
        ),
        Asked::Holds => (
            "worst-case-lamp-dark",
            format!(
                "{part}, which should be lit with {row}, has {shown} left at its holding current: once lit it goes out"
            ),
            held,
            "holds from at the latest",
            "Use a smaller resistor before it, or a higher rail.",
        ),
        Asked::StaysDark => (
            "worst-case-lamp-lit",
            format!("{part}, which should be out with {row}, has {shown} when dark: it strikes"),
            dark,
            "may strike from",
            GO_OUT,
        ),
        _ => (
            "worst-case-lamp-lit",
            format!(
                "{part}, which should be out with {row}, has {shown} left at its holding current: once lit it stays lit"
            ),
            held,
            "may hold from",
            GO_OUT,
        ),
    };
    Wrong {
        name,
        cause,
        reading,
        limit,
        remedy,
    }
}

fn short_of(plan: &Plan, margins: &Margins, duty: &DutyMargin) -> Finding {
    let wrong = wrong(plan, duty);
    let circuit = plan.circuit(duty.member);
    let part = &circuit.parts[duty.part];
    let unit = duty.asked.unit();
    let cause = format!(
        "In the worst case {}; at book values {} are to spare. The case: {}.",
        wrong.cause,
        show(duty.book, unit, 3),
        duty_in_words(plan, margins, duty),
    );
    let subject = plan.name_of(duty.member, &part.mark);
    let mut finding = Finding::fault(wrong.name, part.span, subject, cause).numbers(
        Amount::new(wrong.reading, duty.reading, unit),
        Amount::new(wrong.limit, duty.limit, unit),
    );
    if let Some(first) = duty_parts(duty).first() {
        finding = finding.attempt(weighs_most(plan, first, duty.spare, unit));
    }
    finding.attempt(wrong.remedy)
}

fn not_known_of(plan: &Plan, margins: &Margins, one: &DutyNotKnown) -> Finding {
    let circuit = plan.circuit(one.member);
    let part = &circuit.parts[circuit.duties[one.duty].part];
    let name = &plan.members[one.member].name;
    let subject = plan.name_of(one.member, &part.mark);
    let corner = &margins.corners[one.corner];
    let rails = corner_in_words(plan, corner, 0..corner.volts.len());
    let (cause, remedy) = if margins.loses(one.member) {
        (
            format!(
                "{name} loses a stored state with {rails}, so what {subject} then does is not known."
            ),
            format!("Mend {name} first; then ask again."),
        )
    } else {
        (
            format!(
                "Some row of {name} comes to no rest with {rails} and its parts where they do most harm, so what {subject} then does is not known."
            ),
            format!(
                "Look at `valvewright levels {name}`: a row that has no rest there may hunt on the bench as well."
            ),
        )
    };
    Finding::caution("worst-case-not-known", part.span, subject, cause).attempt(remedy)
}

/// Outputs that nothing asks a level of and that stand no higher when up than when down.
pub(super) fn outputs_without_swing(
    plan: &Plan,
    margins: &Margins,
    asked: &impl Fn(MemberIndex) -> bool,
) -> Vec<Finding> {
    let none = margins.free.iter().filter(|output| output.swing <= 0.0);
    let none = none.filter(|output| asked(output.driver.0));
    gathered(none.map(|output| {
        let (member, signal) = output.driver;
        let like = (plan.members[member].circuit, signal);
        (like, no_swing(plan, margins, output))
    }))
}

fn no_swing(plan: &Plan, margins: &Margins, output: &FreeOutput) -> Finding {
    let (member, signal) = output.driver;
    let name = &plan.members[member].name;
    let pin = plan.name_of(member, &plan.circuit(member).interface.signals[signal]);
    let volts = |volts: f64| show(volts, Unit::Volt, 3);
    let (down, up) = (
        output.down.by_corner[output.corner],
        output.up.by_corner[output.corner],
    );
    let cause = format!(
        "In the worst case {pin} may stand at {} when down and at {} when up, so no threshold behind it tells the two apart with every part that may stand there; at book values {} lie between. The case: {}.",
        volts(down),
        volts(up),
        volts(output.book_swing),
        swing_in_words(plan, margins, output),
    );
    Finding::fault("worst-case-no-swing", span(plan, member), name.clone(), cause)
        .numbers(
            Amount::new(format!("highest volts of {pin} when down"), down, Unit::Volt),
            Amount::new(format!("lowest volts of {pin} when up"), up, Unit::Volt),
        )
        .attempt("Look at what comes in first: give what drives it more to spare, closer parts or fewer followers in a row, or let a gate restore the level last.")
        .attempt("If nothing outside takes this output, leave it open: then only what hangs on it is to be believed.")
}
