//! What falls short in the worst case, and what that case is.

use super::cases::{
    PartMoved, case_in_words, corner_in_words, lost_in_words, part_name, parts_moved,
    state_in_words,
};
use super::{Beyond, ConnectionMargin, LostState, Margins, Missing, NotKnown};
use crate::finding::{Amount, Finding};
use crate::plan::{MemberIndex, NetIndex, Plan};
use about_parts::{outputs_without_swing, short_parts};
use std::collections::BTreeMap;
use text::quantity::{Unit, show};

mod about_parts;

/// Every net that falls short, worst first, the same of further units of one circuit below the first; then states that are
/// lost and loads that no longer tell down from up; then lamps and loads that do not do what is asked of them, and outputs whose
/// states can no longer be told apart. Of the connections and members asked for only.
#[must_use]
pub fn findings(
    plan: &Plan,
    margins: &Margins,
    connections: &[&ConnectionMargin],
    asked: impl Fn(MemberIndex) -> bool,
) -> Vec<Finding> {
    let mut all: Vec<Finding> = Vec::new();
    let mut first_of: BTreeMap<(Option<usize>, bool), usize> = BTreeMap::new();
    let mut said_of: Vec<(usize, bool)> = Vec::new();
    for connection in connections {
        let (side, up) = connection.smallest();
        if 0.0 <= side.volts || said_of.contains(&(connection.net, up)) {
            continue;
        }
        said_of.push((connection.net, up));
        let finding = short(plan, margins, connection, up);
        let circuit = connection
            .driver
            .map(|(member, _)| plan.members[member].circuit.0);
        match first_of.get(&(circuit, up)) {
            Some(&first) => all[first].consequences.push(finding),
            None => {
                first_of.insert((circuit, up), all.len());
                all.push(finding);
            }
        }
    }
    let mut lost: BTreeMap<MemberIndex, usize> = BTreeMap::new();
    let states = margins.lost.iter();
    for state in states.filter(|state| state.members.iter().any(|member| asked(*member))) {
        lost.extend(state.members.iter().map(|member| (*member, all.len())));
        all.push(lost_state(plan, margins, state));
    }
    let mut not_known_of: BTreeMap<(usize, usize), usize> = BTreeMap::new();
    let not_known = margins.not_known.iter();
    for one in not_known.filter(|one| asked(one.load.0)) {
        let blamed = blamed_input(connections, one);
        let finding = not_known_finding(plan, margins, one, blamed);
        let parent = match (one.missing, one.driver, blamed) {
            (Missing::Level, Some((driver, _)), _) => lost.get(&driver).copied(),
            (Missing::Threshold | Missing::Beyond(_), _, Some((other, up))) => {
                let circuit = other
                    .driver
                    .map(|(member, _)| plan.members[member].circuit.0);
                first_of.get(&(circuit, up)).copied()
            }
            _ => None,
        };
        let like = (plan.members[one.load.0].circuit.0, one.load.1);
        match parent.or_else(|| not_known_of.get(&like).copied()) {
            Some(parent) => all[parent].consequences.push(finding),
            None => {
                not_known_of.insert(like, all.len());
                all.push(finding);
            }
        }
    }
    all.extend(short_parts(plan, margins, &asked));
    all.extend(outputs_without_swing(plan, margins, &asked));
    all
}

/// Another input of the load that falls short, and when: with that on the wrong side the output follows no other.
fn blamed_input<'a>(
    connections: &[&'a ConnectionMargin],
    one: &NotKnown,
) -> Option<(&'a ConnectionMargin, bool)> {
    let mut others = connections
        .iter()
        .filter(|other| other.load.0 == one.load.0 && other.net != one.net);
    others.find_map(|&other| {
        let (side, up) = other.smallest();
        (side.volts < 0.0).then_some((other, up))
    })
}

/// What is not known of a connection, why, and what to do about it.
fn not_known_finding(
    plan: &Plan,
    margins: &Margins,
    one: &NotKnown,
    blamed: Option<(&ConnectionMargin, bool)>,
) -> Finding {
    let (load, input) = one.load;
    let name = &plan.members[load].name;
    let net = &plan.nets[one.net].name;
    let pin = plan.name_of(load, &plan.circuit(load).interface.signals[input]);
    let corner = &margins.corners[one.corner];
    let rails = corner_in_words(plan, corner, 0..corner.volts.len());
    let caution = |cause: String| {
        Finding::caution(
            "worst-case-not-known",
            span(plan, load),
            name.clone(),
            cause,
        )
    };
    let look = if corner.sides.iter().all(|side| *side == 0) {
        "Look"
    } else {
        "Type these rails into a copy of the design and look"
    };
    let there = format!("what {net} has to spare at {pin} is not known");
    match (one.missing, one.driver, blamed) {
        (Missing::Beyond(beyond), ..) => {
            let finding = if beyond.falls_short() {
                short_beyond(plan, one, &beyond, &rails)
            } else {
                let side = if beyond.up { "above" } else { "below" };
                caution(format!(
                    "With {rails} and its parts where they do most harm {name} wants more than is looked at: its threshold at {pin} when {} lies {side} {}, and so far from the supplies as typed none is looked for. So {there}.",
                    when(beyond.up),
                    show(beyond.volts, Unit::Volt, 3),
                ))
                .attempt("Type these rails into a copy of the design and look there: thresholds are looked for about the supplies as typed.")
            };
            match blamed {
                Some((other, up)) => {
                    let other = &plan.nets[other.net].name;
                    finding.attempt(format!("{other}, another of its inputs, is short when {}: with that on the wrong side its output follows no other. Mend {other} first; then ask again.", when(up)))
                }
                None => finding.attempt(format!("{look} at its transfer curve on the page of `report`, and at its other inputs: with one of them on the wrong side its output follows no other.")),
            }
        }
        (Missing::Level, Some((driver, _)), _) if margins.loses(driver) => {
            let driver = &plan.members[driver].name;
            caution(format!(
                "{driver} loses a stored state with {rails}, so {net} has no worst level, and {there}."
            ))
            .attempt(format!("Mend {driver} first; then ask again."))
        }
        (Missing::Level, driver, _) => {
            let driver = driver.map_or("the switch", |(driver, _)| &plan.members[driver].name);
            caution(format!(
                "Some row of {driver} comes to no rest with {rails} and its parts where they do most harm, so {there}."
            ))
            .attempt(format!(
                "{look} at `valvewright levels {driver}`: a row that has no rest there may hunt on the bench as well."
            ))
        }
        (Missing::Threshold, _, Some((other, up))) => {
            let value = when(up);
            let other = &plan.nets[other.net].name;
            caution(format!(
                "With {rails} {name} no longer follows {pin}: {other}, another of its inputs, is short when {value} and holds the output. So {there}."
            ))
            .attempt(format!("Mend {other} first; then ask again."))
        }
        (Missing::Threshold, ..) if plan.stores(load) => caution(format!(
            "{name} stores within itself: with {rails} no curve of it answers to {pin}, most likely because it rests in the state that {pin} leaves as it is. The volts that bring it over were not found there, so {there}."
        ))
        .attempt("Write it as a block of gates, each a unit of its own: then every level and threshold in it is known.")
        .attempt(format!(
            "Or measure: with {rails}, bring it into the state that {pin} ends, move {net} slowly until it goes over, and keep these volts well inside the levels of {net}. The usual cautions of a live chassis hold."
        )),
        (Missing::Threshold, ..) => caution(format!(
            "With {rails} and its parts where they do most harm {name} no longer amplifies from {pin} to its output, or comes to no rest, so {there}."
        ))
        .attempt(format!("{look} at its transfer curve on the page of `report`: a tube of more current left at the end of its life, or a larger plate resistor, amplifies more.")),
    }
}

/// What falls short by an amount that is not known: no input volts that were looked at would do.
fn short_beyond(plan: &Plan, one: &NotKnown, beyond: &Beyond, rails: &str) -> Finding {
    let (load, input) = one.load;
    let load_name = &plan.members[load].name;
    let pin = plan.name_of(load, &plan.circuit(load).interface.signals[input]);
    let net = &plan.nets[one.net].name;
    let (subject, place, _) = maker(plan, one.net, one.driver, load);
    let cause = format!(
        "In the worst case {net} stands at {} when {when}, and none of the input volts that were looked at would do for {load_name}: with {rails} and its parts where they do most harm not even {} at {pin}, a quarter of the supplies' span beyond them, brings its output to where an input that is {when} is to leave it. {net} is short there, by how much is not known.",
        show(beyond.level, Unit::Volt, 3),
        show(beyond.volts, Unit::Volt, 3),
        when = when(beyond.up),
    );
    Finding::fault(short_name(beyond.up), place, subject, cause)
}

fn when(up: bool) -> &'static str {
    if up { "up" } else { "down" }
}

fn short_name(up: bool) -> &'static str {
    if up {
        "worst-case-up"
    } else {
        "worst-case-down"
    }
}

/// What makes the level of a net: as the subject of a finding, where it stands in the text, and by name.
fn maker(
    plan: &Plan,
    net: NetIndex,
    driver: Option<(MemberIndex, usize)>,
    load: MemberIndex,
) -> (String, text::source::Span, String) {
    match driver {
        Some((member, _)) => {
            let name = plan.members[member].name.clone();
            (name.clone(), span(plan, member), name)
        }
        None => (
            format!("net {}", plan.nets[net].name),
            span(plan, load),
            "the switch".to_owned(),
        ),
    }
}

fn span(plan: &Plan, member: usize) -> text::source::Span {
    let member = &plan.members[member];
    match member.unit {
        Some(unit) => plan.design.units[unit.0].span,
        None => plan.design.circuits[member.circuit.0].span,
    }
}

fn lost_state(plan: &Plan, margins: &Margins, state: &LostState) -> Finding {
    let names: Vec<&str> = state
        .members
        .iter()
        .map(|&member| plan.members[member].name.as_str())
        .collect();
    let subject = match &names[..] {
        [several @ .., last] if !several.is_empty() => {
            format!("{} and {last}", several.join(", "))
        }
        _ => names.concat(),
    };
    let (loses, member) = match state.members[..] {
        [alone] => ("loses", alone),
        _ => ("lose", state.members[0]),
    };
    let cause = format!(
        "In the worst case {subject} {loses} the state with {}. It takes: {}.",
        state_in_words(plan, &state.members, &state.values),
        lost_in_words(plan, margins, state),
    );
    Finding::fault("worst-case-state-lost", span(plan, member), subject, cause)
        .attempt("Use closer parts, or values with more to spare: raise what the conducting side gives, or lower what holds the other off.")
}

fn short(plan: &Plan, margins: &Margins, connection: &ConnectionMargin, up: bool) -> Finding {
    let side = if up { &connection.up } else { &connection.down };
    let net = &plan.nets[connection.net].name;
    let load = &plan.members[connection.load.0].name;
    let (subject, place, driver) =
        maker(plan, connection.net, connection.driver, connection.load.0);
    let value = when(up);
    let cause = format!(
        "In the worst case {net} stands at {} when {value}, and {load} may want {}; at book values {} are to spare. The case: {}.",
        show(side.level, Unit::Volt, 3),
        show(side.threshold, Unit::Volt, 3),
        show(side.book_volts, Unit::Volt, 3),
        case_in_words(plan, margins, side),
    );
    let has = format!("{value} level of {driver} on {net} at worst");
    let needs = format!("threshold of {load} at worst");
    let mut finding = Finding::fault(short_name(up), place, subject, cause).numbers(
        Amount::new(has, side.level, Unit::Volt),
        Amount::new(needs, side.threshold, Unit::Volt),
    );
    if let Some(first) = parts_moved(side).first() {
        finding = finding.attempt(weighs_most(plan, first, side.volts, Unit::Volt));
    }
    let whose = match connection.driver {
        Some((member, _)) if plan.members[member].unit.is_none() => "circuit",
        _ => "unit",
    };
    finding.attempt(format!("`margins` with the {whose}'s name ranks every part; other values may spare more than closer parts."))
}

/// What the weightiest part takes, and whether that is what lacks.
fn weighs_most(plan: &Plan, first: &PartMoved, spare: f64, unit: Unit) -> String {
    let enough = 0.0 <= spare + first.volts();
    format!(
        "{} weighs most: with it at its book value about {} less would be lost, {}. Type it and solve again.",
        part_name(plan, first),
        show(first.volts(), unit, 2),
        if enough {
            "enough here"
        } else {
            "not enough alone"
        }
    )
}
