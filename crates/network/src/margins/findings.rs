//! What falls short in the worst case, and what that case is.

use super::cases::{case_in_words, lost_in_words, part_name, parts_moved, state_in_words};
use super::{ConnectionMargin, LostState, Margins};
use crate::finding::{Amount, Finding};
use crate::plan::{MemberIndex, Plan};
use crate::verdict::Verdict;
use std::collections::BTreeMap;
use text::quantity::{Unit, show};

/// Every net that falls short, worst first, the same of further units of one circuit below the first; then states that are
/// lost and loads that no longer tell down from up. Of the connections and members asked for only.
#[must_use]
pub fn findings(
    verdict: &Verdict,
    margins: &Margins,
    connections: &[&ConnectionMargin],
    asked: impl Fn(MemberIndex) -> bool,
) -> Vec<Finding> {
    let plan = &verdict.plan;
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
    let lost = margins.lost.iter();
    for state in lost.filter(|state| state.members.iter().any(|member| asked(*member))) {
        all.push(lost_state(plan, margins, state));
    }
    let not_known = margins.not_known.iter();
    for &(net, (load, input)) in not_known.filter(|(_, load)| asked(load.0)) {
        let name = &plan.members[load].name;
        let signal = &plan.circuit(load).interface.signals[input];
        let cause = format!(
            "With the rails at some corner {name} gives no threshold at {signal} (net {}): it no longer amplifies there, or its worst case is not known.",
            plan.nets[net].name
        );
        all.push(
            Finding::caution("worst-case-not-known", span(plan, load), name.clone(), cause)
                .attempt("Look at its transfer curve with the rail low; a tube of more current, or a larger plate resistor, amplifies more."),
        );
    }
    all
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
    let subject = names.join(" and ");
    let (loses, member) = match state.members[..] {
        [alone] => ("loses", alone),
        _ => ("lose", state.members[0]),
    };
    let cause = format!(
        "In the worst case {subject} {loses} the state with {}. It takes: {}.",
        state_in_words(plan, state),
        lost_in_words(plan, margins, state),
    );
    Finding::fault("worst-case-state-lost", span(plan, member), subject, cause)
        .attempt("Use closer parts, or values with more to spare: raise what the conducting side gives, or lower what holds the other off.")
}

fn short(plan: &Plan, margins: &Margins, connection: &ConnectionMargin, up: bool) -> Finding {
    let side = if up { &connection.up } else { &connection.down };
    let net = &plan.nets[connection.net].name;
    let load = &plan.members[connection.load.0].name;
    let (subject, place, driver) = match connection.driver {
        Some((member, _)) => {
            let name = plan.members[member].name.clone();
            (name.clone(), span(plan, member), name)
        }
        None => (
            format!("net {net}"),
            span(plan, connection.load.0),
            "the switch".to_owned(),
        ),
    };
    let value = if up { "up" } else { "down" };
    let cause = format!(
        "In the worst case {net} stands at {} when {value}, and {load} may want {}; at book values {} are to spare. The case: {}.",
        show(side.level, Unit::Volt, 3),
        show(side.threshold, Unit::Volt, 3),
        show(side.book_volts, Unit::Volt, 3),
        case_in_words(plan, margins, side),
    );
    let name = if up {
        "worst-case-up"
    } else {
        "worst-case-down"
    };
    let has = format!("{value} level of {driver} on {net} at worst");
    let needs = format!("threshold of {load} at worst");
    let mut finding = Finding::fault(name, place, subject, cause).numbers(
        Amount::new(has, side.level, Unit::Volt),
        Amount::new(needs, side.threshold, Unit::Volt),
    );
    if let Some(first) = parts_moved(side).first() {
        let enough = 0.0 <= side.volts + first.volts();
        finding = finding.attempt(format!(
            "{} weighs most: at the rate at which it takes there, about {} less would be lost with it at its book value, {}. Type it and solve again.",
            part_name(plan, first),
            show(first.volts(), Unit::Volt, 2),
            if enough {
                "enough here"
            } else {
                "not enough alone"
            }
        ));
    }
    finding.attempt("`margins` with the unit's name ranks every part; other values may spare more than closer parts.")
}
