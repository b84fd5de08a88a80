//! What falls short in the worst case, and what that case is.

use super::{Case, ConnectionMargin, Margins, Moved};
use crate::finding::{Amount, Finding};
use crate::plan::Plan;
use crate::variation::Quantity;
use crate::verdict::Verdict;
use std::collections::BTreeMap;
use text::quantity::{Unit, counted, show};

/// Parts named in one case: chosen, what follows weighs little.
const NAMED: usize = 3;

/// A part of a worst case in words: `G1.R2 5 % high`, `G1.V1 at 50 % of its book current`.
#[must_use]
pub fn said(plan: &Plan, moved: &Moved) -> String {
    let member = &plan.members[moved.member];
    let mark = &plan.circuit(moved.member).parts[moved.part].mark;
    let part = format!("{}.{mark}", member.name);
    let percent = format!("{:.3}", 100.0 * (moved.value - 1.0).abs());
    let percent = percent.trim_end_matches('0').trim_end_matches('.');
    let high = 1.0 < moved.value;
    let high_or_low = if high { "high" } else { "low" };
    match moved.quantity {
        Quantity::Ohms => format!("{part} {percent} % {high_or_low}"),
        Quantity::Current => format!("{part} at {:.0} % of its book current", 100.0 * moved.value),
        Quantity::Mu => format!("mu of {part} {percent} % {high_or_low}"),
        Quantity::CutOff => {
            let side = if 0.0 < moved.value {
                "further down"
            } else {
                "further up"
            };
            format!(
                "cut-off of {part} {} {side}",
                show(moved.value.abs(), Unit::Volt, 2)
            )
        }
        Quantity::Reverse => format!(
            "{} of reverse grid current in {part}",
            show(moved.value, Unit::Ampere, 2)
        ),
        Quantity::Saturation if high => format!(
            "{part} with {:.1} times its saturation current",
            moved.value
        ),
        Quantity::Saturation => format!(
            "{part} with 1/{:.1} of its saturation current",
            1.0 / moved.value
        ),
        Quantity::Leakage => format!("{part} leaking as much as its sheet allows"),
    }
}

/// The parts of a side that weigh most, those of level and threshold together.
#[must_use]
pub fn weightiest(level: &Case, threshold: &Case) -> Vec<Moved> {
    let mut all: Vec<Moved> = Vec::new();
    for moved in level.moved.iter().chain(&threshold.moved) {
        let same = |other: &&mut Moved| {
            (other.member, other.part, other.quantity, other.value)
                == (moved.member, moved.part, moved.quantity, moved.value)
        };
        match all.iter_mut().find(same) {
            Some(known) => known.volts += moved.volts,
            None => all.push(moved.clone()),
        }
    }
    all.sort_by(|left, right| right.volts.total_cmp(&left.volts));
    all
}

/// The case of a side in words: `G1.R2 5 % high, G1.V1 at 50 % of its book current and 7 further parts; upper low`.
#[must_use]
pub fn case_said(
    plan: &Plan,
    margins: &Margins,
    connection: &ConnectionMargin,
    up: bool,
) -> String {
    let side = if up { &connection.up } else { &connection.down };
    let all = weightiest(&side.level_case, &side.threshold_case);
    let named: Vec<String> = all
        .iter()
        .take(NAMED)
        .map(|moved| said(plan, moved))
        .collect();
    let further = all.len().saturating_sub(NAMED);
    let mut words = named.join(", ");
    if 0 < further {
        words += &format!(" and {}", counted(further, "further part"));
    }
    let rails = plan
        .design
        .rails
        .iter()
        .zip(&margins.corners[side.corner].sides);
    let rails: Vec<String> = rails
        .filter(|(_, side)| **side != 0)
        .map(|(rail, side)| {
            let side = if 0 < *side { "high" } else { "low" };
            format!("{} {side}", rail.name)
        })
        .collect();
    if !rails.is_empty() {
        words += &format!("; rails {}", rails.join(", "));
    }
    words
}

/// Every net that falls short, worst first, the same of further units of one circuit below the first; then states that are
/// lost and loads that no longer tell down from up.
#[must_use]
pub fn findings(verdict: &Verdict, margins: &Margins) -> Vec<Finding> {
    let plan = &verdict.plan;
    let mut all: Vec<Finding> = Vec::new();
    let mut first_of: BTreeMap<(Option<usize>, bool), usize> = BTreeMap::new();
    let mut said_of: Vec<(usize, bool)> = Vec::new();
    for connection in &margins.connections {
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
    for &member in &margins.lost {
        let name = &plan.members[member].name;
        let cause =
            format!("{name} loses a stored state somewhere in the bands of its parts and rails.");
        all.push(
            Finding::fault("worst-case-state-lost", span(plan, member), name.clone(), cause)
                .attempt("Use closer parts, or values with more to spare: raise what the conducting side gives, or lower what holds the other off."),
        );
    }
    for &(net, (load, input)) in &margins.not_known {
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
        case_said(plan, margins, connection, up),
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
    let all = weightiest(&side.level_case, &side.threshold_case);
    if let Some(first) = all.first() {
        let part = format!(
            "{}.{}",
            plan.members[first.member].name,
            plan.circuit(first.member).parts[first.part].mark
        );
        let enough = 0.0 <= side.volts + first.volts;
        finding = finding.attempt(format!(
            "{part} weighs most: at its book value {} more would be to spare, {}.",
            show(first.volts, Unit::Volt, 2),
            if enough {
                "enough here"
            } else {
                "not enough alone"
            }
        ));
    }
    finding.attempt("`margins` with the unit's name ranks every part; other values may spare more than closer parts.")
}
