//! Findings on what stores: states that do not last, states too many, blocks that do otherwise than they say.

use crate::cause::Raw;
use crate::finding::{Amount, Finding};
use crate::loops::{Ring, RingState};
use crate::proof::{Failure, Proof};
use crate::verdict::Verdict;
use text::quantity::{Unit, show};

/// Findings on every ring and block.
#[must_use]
pub(crate) fn findings(verdict: &Verdict) -> Vec<Raw> {
    let mut raw: Vec<Raw> = verdict
        .rings
        .iter()
        .flat_map(|ring| ring_findings(verdict, ring))
        .collect();
    raw.extend(
        verdict
            .proofs
            .iter()
            .filter_map(|proof| proof_finding(verdict, proof)),
    );
    raw
}

/// What a block fails in; a block that does not store what it should fails its other sentences because of that.
fn proof_finding(verdict: &Verdict, proof: &Proof) -> Option<Raw> {
    let placed = &verdict.plan.design.placed_blocks[proof.placed];
    let subject = format!("block {}", verdict.plan.design.blocks[placed.block.0].name);
    let mut findings: Vec<Finding> = proof
        .failures
        .iter()
        .filter_map(|failure| failure_finding(failure, &subject))
        .collect();
    findings.sort_by_key(|finding| finding.name != "stores-nothing");
    let mut findings = findings.into_iter();
    let first = findings.next()?;
    let finding = Finding {
        consequences: findings.collect(),
        ..first
    };
    Some(Raw {
        finding,
        members: placed.units.iter().map(|unit| unit.0).collect(),
        into: None,
        rank: 0,
    })
}

fn failure_finding(failure: &Failure, subject: &str) -> Option<Finding> {
    match failure {
        Failure::Otherwise { span, row } => Some(
            Finding::fault(
                "block-does-otherwise",
                *span,
                subject,
                format!("With every gate doing what its own sentence says, the block gives {row}."),
            )
            .attempt("Compare the nets of its units with the sentence, or correct the sentence."),
        ),
        Failure::StoresNothing { span } => Some(
            Finding::fault(
                "stores-nothing",
                *span,
                subject,
                "The sentence keeps a value, but as the units are wired there is only one state to come to rest in.",
            )
            .attempt("Look for a cross connection that is missing or goes to the wrong net."),
        ),
        Failure::TooLarge => None,
    }
}

fn ring_findings(verdict: &Verdict, ring: &Ring) -> Vec<Raw> {
    let plan = &verdict.plan;
    let mut raw = Vec::new();
    let name = ring_name(verdict, ring);
    let span = ring
        .members
        .iter()
        .filter_map(|&member| plan.members[member].unit)
        .map(|unit| plan.design.units[unit.0].span)
        .next();
    let Some(span) = span else { return raw };
    let members: Vec<usize> = ring
        .members
        .iter()
        .chain(ring.alike.iter().flatten())
        .copied()
        .collect();
    if let Some(state) = ring.lost_state() {
        let finding = Finding::fault("state-lost", span, name.clone(), lost_cause(verdict, state))
            .attempt("Load the ring less, take its outputs through followers, or give the weaker half a larger plate resistor.");
        raw.push(Raw {
            finding: with_numbers(verdict, finding, state),
            members: members.clone(),
            into: None,
            rank: 4,
        });
    } else if let Some(extra) = ring.extra.first() {
        let volts: Vec<String> = extra
            .iter()
            .map(|(&net, &volts)| format!("{} {}", plan.nets[net].name, show(volts, Unit::Volt, 3)))
            .collect();
        let cause = format!("Scanned, it also rests at {}.", volts.join(", "));
        let finding = Finding::fault("extra-state", span, name, cause)
            .attempt("Give every net of the ring a path that pulls it one way.");
        raw.push(Raw {
            finding,
            members,
            into: None,
            rank: 4,
        });
    }
    raw
}

fn ring_name(verdict: &Verdict, ring: &Ring) -> String {
    let plan = &verdict.plan;
    match ring.block {
        Some(block) => plan.design.placed_blocks[block].name.clone(),
        None => ring
            .members
            .iter()
            .map(|&member| plan.members[member].name.as_str())
            .collect::<Vec<_>>()
            .join(" and "),
    }
}

fn lost_cause(verdict: &Verdict, state: &RingState) -> String {
    let plan = &verdict.plan;
    let words: Vec<String> = state
        .values
        .iter()
        .map(|(&net, &up)| format!("{} {}", plan.nets[net].name, if up { "up" } else { "down" }))
        .collect();
    let way = if !state.outcome.settled() {
        "comes to no rest"
    } else if state.kept {
        "is balanced on a point that no circuit stays in"
    } else {
        "goes over into the other"
    };
    format!("The state {} {way}.", words.join(", "))
}

/// The net that is furthest from where it should be, with its level.
fn with_numbers(verdict: &Verdict, finding: Finding, state: &RingState) -> Finding {
    let worst = state
        .values
        .iter()
        .filter_map(|(&net, &up)| {
            let level = verdict.place.levels.get(&net)?;
            let wanted = if up { level.up } else { level.down };
            let has = *state.volts.get(&net)?;
            Some((net, has, wanted))
        })
        .max_by(|left, right| {
            (left.1 - left.2)
                .abs()
                .total_cmp(&(right.1 - right.2).abs())
        });
    match worst {
        Some((net, has, wanted)) => {
            let name = &verdict.plan.nets[net].name;
            finding.numbers(
                Amount::new(format!("{name} as solved"), has, Unit::Volt),
                Amount::new(format!("{name} in this state"), wanted, Unit::Volt),
            )
        }
        None => finding,
    }
}
