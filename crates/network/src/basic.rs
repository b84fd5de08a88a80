//! Findings that come before any level: no curve, contradicting sources, floating nodes, no rest, the wrong function.

use crate::cause::Raw;
use crate::finding::{Amount, Finding, opening};
use crate::function::{Function, remedies};
use crate::judge::{Context, MemberResult, Refused};
use crate::solve::Outcome;
use crate::surroundings::LOADS_TOGETHER;
use crate::verdict::Verdict;
use crate::work::MOST_ELEMENT_ROWS;
use design::model::{Circuit, CircuitId, Node, PartKind};
use std::collections::BTreeSet;
use text::quantity::{Unit, show};
use text::source::Span;

/// Remedies offered for a wrong function: as many as a person will try.
const REMEDIES: usize = 3;

/// Findings by circuit: from its units where it has any, else from the circuit alone.
#[must_use]
pub(crate) fn findings(verdict: &Verdict, context: &Context) -> Vec<Raw> {
    let design = verdict.plan.design;
    let mut raw = Vec::new();
    for (index, circuit) in design.circuits.iter().enumerate() {
        let id = CircuitId(index);
        let members: Vec<usize> = (0..verdict.plan.members.len())
            .filter(|&member| verdict.plan.members[member].circuit == id)
            .collect();
        let mut results: Vec<&MemberResult> = members
            .iter()
            .map(|&member| &verdict.place.results[member])
            .collect();
        if results.is_empty() {
            results.push(&verdict.alone.results[index]);
        }
        let mut names: Vec<&str> = members
            .iter()
            .map(|&member| verdict.plan.members[member].name.as_str())
            .collect();
        names.push(&circuit.name);
        let mut found = no_curve(circuit, &results);
        found.extend(clash(circuit, &names, &results));
        let floating = floating(circuit, &results);
        let floats = !floating.is_empty();
        found.extend(floating);
        found.extend(no_rest(circuit, &results));
        found.extend(refused(circuit, &results));
        if !floats {
            found.extend(wrong_function(verdict, id, circuit, context));
        }
        raw.extend(found.into_iter().map(|finding| Raw {
            finding,
            members: members.clone(),
            into: None,
            rank: 0,
        }));
    }
    raw.extend(loads_left_out(verdict));
    raw
}

/// A circuit of which some unit is beyond a bound of work.
fn refused(circuit: &Circuit, results: &[&MemberResult]) -> Option<Finding> {
    let bound = results.iter().find_map(|result| result.refused)?;
    let (cause, has, most) = match bound {
        Refused::Scene(elements, rows) => (
            format!(
                "With its neighbours it has {elements} parts in {rows} rows of inputs, more than this program solves together."
            ),
            Amount::new("parts times rows", (elements * rows) as f64, Unit::None),
            MOST_ELEMENT_ROWS as f64,
        ),
        Refused::Check => {
            let left = results.iter().filter(|result| result.refused.is_some());
            (
                "What was solved before it used up all the work that one check may do.".to_owned(),
                Amount::new("units not judged", left.count() as f64, Unit::None),
                0.0,
            )
        }
    };
    let subject = format!("circuit {}", circuit.name);
    Some(
        Finding::fault("not-judged", circuit.span, subject, cause)
            .numbers(has, Amount::new("at most", most, Unit::None))
            .attempt("Judge it in a smaller machine, or divide it into smaller circuits.")
            .attempt("Mend what does not settle first: it takes most of the work."),
    )
}

/// Nets with more loads than are solved together.
fn loads_left_out<'a>(verdict: &'a Verdict<'a>) -> impl Iterator<Item = Raw> + 'a {
    let plan = &verdict.plan;
    let long = move |net: &usize| !plan.is_supply(*net) && LOADS_TOGETHER < plan.loads[*net].len();
    (0..plan.nets.len()).filter(long).map(move |net| {
        let name = &plan.nets[net].name;
        let loads = plan.loads[net].len();
        let member = plan.drivers[net]
            .first()
            .map_or(plan.loads[net][0].0, |driver| driver.0);
        let span = plan.members[member]
            .unit
            .map_or(plan.circuit(member).span, |unit| {
                plan.design.units[unit.0].span
            });
        let cause = format!(
            "{name} drives {loads} inputs, and was solved with {LOADS_TOGETHER} of them: with all of them its levels are worse than stated."
        );
        let finding = Finding::caution("loads-left-out", span, format!("net {name}"), cause)
            .numbers(
                Amount::new(format!("inputs on {name}"), loads as f64, Unit::None),
                Amount::new("solved together at most", LOADS_TOGETHER as f64, Unit::None),
            )
            .attempt("Divide the net: a follower or a gate for each part of the machine.");
        Raw::alone(finding)
    })
}

fn no_curve(circuit: &Circuit, results: &[&MemberResult]) -> Vec<Finding> {
    if results.iter().all(|result| result.without_law.is_empty()) {
        return Vec::new();
    }
    circuit
        .parts
        .iter()
        .filter_map(|part| match &part.kind {
            PartKind::Tube(tube) if tube.device.law.is_none() => {
                let cause = format!("No points are known for {}, so nothing can be computed with it.", tube.device.name);
                Some(
                    Finding::fault("no-curve", part.value_span, format!("circuit {}", circuit.name), cause)
                        .attempt("Measure it (or find its sheet) and type the points into a type statement, or use another type."),
                )
            }
            _ => None,
        })
        .collect()
}

/// Only where the element is the unit's own: neighbours that are solved with it see the same clash.
fn clash(circuit: &Circuit, names: &[&str], results: &[&MemberResult]) -> Option<Finding> {
    let (clash, name) = results
        .iter()
        .filter_map(|result| Some((result.clash.as_ref()?, result.clash_name.as_ref()?)))
        .find(|(_, name)| {
            name.rsplit_once('.')
                .is_some_and(|(unit, _)| names.contains(&unit))
        })?;
    let span = part_span(circuit, name).unwrap_or(circuit.span);
    let cause = format!(
        "{} wants {} where other sources or closed switches already give {}.",
        opening(name),
        show(clash.wanted, Unit::Volt, 3),
        show(clash.given, Unit::Volt, 3)
    );
    Some(
        Finding::fault(
            "sources-clash",
            span,
            format!("circuit {}", circuit.name),
            cause,
        )
        .numbers(
            Amount::new(name.clone(), clash.wanted, Unit::Volt),
            Amount::new("given by the others", clash.given, Unit::Volt),
        )
        .attempt("Take one of them out, or put a resistor between them."),
    )
}

/// The part that an element's name (`unit.R1`) belongs to.
fn part_span(circuit: &Circuit, element: &str) -> Option<Span> {
    let mark = element.rsplit('.').next()?;
    circuit
        .parts
        .iter()
        .find(|part| part.mark == mark)
        .map(|part| part.span)
}

fn floating(circuit: &Circuit, results: &[&MemberResult]) -> Vec<Finding> {
    let names: BTreeSet<&str> = results
        .iter()
        .flat_map(|result| &result.floating)
        .filter_map(|name| name.rsplit('.').next())
        .collect();
    let node = |name: &str| circuit.nodes.iter().find(|node: &&Node| node.name == name);
    names
        .into_iter()
        .filter_map(node)
        .map(|node| {
            let cause = format!(
                "Nothing in {} leads {} to a rail or to ground: it is held by leakage alone.",
                circuit.name, node.name
            );
            Finding::fault(
                "floating-net",
                node.span,
                format!("circuit {}", circuit.name),
                cause,
            )
            .attempt(format!(
                "Give {} a resistor to a rail or to ground, or correct a misspelt name.",
                node.name
            ))
        })
        .collect()
}

fn no_rest(circuit: &Circuit, results: &[&MemberResult]) -> Option<Finding> {
    let outcome = results
        .iter()
        .flat_map(|result| &result.rows)
        .map(|row| &row.outcome)
        .find(|outcome| !outcome.settled())?;
    let cause = match outcome {
        Outcome::LampsFlicker(lamps) => format!(
            "{} can stay neither lit nor dark: it flickers.",
            lamps.join(", ")
        ),
        Outcome::NotSettled(worst) => {
            let listed: Vec<String> = worst
                .iter()
                .take(3)
                .map(|(name, amps)| {
                    format!("{name} (out by {})", show(amps.abs(), Unit::Ampere, 2))
                })
                .collect();
            format!(
                "No point of rest was found; the currents balance worst at {}.",
                listed.join(", ")
            )
        }
        Outcome::Settled(_) => return None,
    };
    Some(
        Finding::fault(
            "does-not-settle",
            circuit.span,
            format!("circuit {}", circuit.name),
            cause,
        )
        .attempt("Look at the values and connections around the points named."),
    )
}

fn wrong_function(
    verdict: &Verdict,
    id: CircuitId,
    circuit: &Circuit,
    context: &Context,
) -> Option<Finding> {
    let Function::Differs { output, up, down } = &verdict.circuits[id.0].function else {
        return None;
    };
    let name = &circuit.interface.signals[*output];
    let span = circuit
        .says
        .iter()
        .find(|says| says.output == *output)
        .map_or(circuit.span, |says| says.span);
    let remedies = remedies(verdict.plan.design, id, context, REMEDIES);
    let mut cause = format!(
        "With clean inputs {name} is {} where the sentence has it up ({}), and {} where it has it down ({}).",
        show(up.0, Unit::Volt, 3),
        row_words(circuit, &up.1),
        show(down.0, Unit::Volt, 3),
        row_words(circuit, &down.1)
    );
    let mut place = span;
    if let Some(first) = remedies.first() {
        cause = format!("{cause} One change would make it right: {}.", first.cause);
        place = circuit.parts[first.part].span;
    }
    let mut finding = Finding::fault(
        "wrong-function",
        place,
        format!("circuit {}", circuit.name),
        cause,
    )
    .numbers(
        Amount::new(format!("{name} when it should be up"), up.0, Unit::Volt),
        Amount::new(format!("{name} when it should be down"), down.0, Unit::Volt),
    );
    for remedy in &remedies {
        finding = finding.attempt(remedy.action.clone());
    }
    if remedies.is_empty() {
        finding = finding.attempt("No single change of a part makes it right: compare the sentence with what the circuit is meant to do.");
    }
    Some(finding)
}

fn row_words(circuit: &Circuit, inputs: &[bool]) -> String {
    let words: Vec<String> = circuit
        .interface
        .signals
        .iter()
        .zip(inputs)
        .map(|(name, &up)| format!("{name} {}", if up { "up" } else { "down" }))
        .collect();
    words.join(", ")
}
