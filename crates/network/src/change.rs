//! What one change does: levels, margins and findings before and after, side by side.

use crate::finding::Finding;
use crate::judge::Level;
use crate::verdict::Verdict;
use std::collections::{BTreeMap, BTreeSet};

/// One net before and after.
#[derive(Debug, Clone, PartialEq)]
pub struct ChangedNet {
    /// Name of the net.
    pub net: String,
    /// Highest down level, V: before, after.
    pub down: (f64, f64),
    /// Lowest up level, V: before, after.
    pub up: (f64, f64),
    /// Smallest margin over its loads when down, V: before, after.
    pub spare_down: (Option<f64>, Option<f64>),
    /// Smallest margin over its loads when up, V: before, after.
    pub spare_up: (Option<f64>, Option<f64>),
}

/// Everything that is not the same.
#[derive(Debug, Clone, PartialEq)]
pub struct Change {
    /// Nets with a level that moved by more than [`NOTICED_VOLTS`], largest movement first.
    pub nets: Vec<ChangedNet>,
    /// Findings that are gone.
    pub gone: Vec<Finding>,
    /// Findings that are new.
    pub new: Vec<Finding>,
    /// Findings before and after.
    pub counts: (usize, usize),
}

/// Levels that move less are called unchanged, V: what a bench meter shows.
pub const NOTICED_VOLTS: f64 = 0.01;

/// Compares two verdicts on designs that differ in values, not in names.
#[must_use]
pub fn compare(before: &Verdict, after: &Verdict) -> Change {
    let mut nets = Vec::new();
    let after_levels = levels(after);
    for (name, (level, spares)) in levels(before) {
        let Some((new_level, new_spares)) = after_levels.get(&name).copied() else {
            continue;
        };
        let moved = (level.down - new_level.down)
            .abs()
            .max((level.up - new_level.up).abs());
        let spare_moved = [(spares.0, new_spares.0), (spares.1, new_spares.1)]
            .into_iter()
            .filter_map(|(old, new)| Some((old? - new?).abs()))
            .fold(0.0, f64::max);
        if moved.max(spare_moved) <= NOTICED_VOLTS {
            continue;
        }
        let changed = ChangedNet {
            net: name,
            down: (level.down, new_level.down),
            up: (level.up, new_level.up),
            spare_down: (spares.0, new_spares.0),
            spare_up: (spares.1, new_spares.1),
        };
        nets.push((moved.max(spare_moved), changed));
    }
    nets.sort_by(|left, right| right.0.total_cmp(&left.0));
    Change {
        nets: nets.into_iter().map(|net| net.1).collect(),
        gone: missing(&before.findings, &after.findings),
        new: missing(&after.findings, &before.findings),
        counts: (before.findings.len(), after.findings.len()),
    }
}

/// The causes of `from` that `to` has neither as a cause nor below one, and where it has the cause, the same mistake made
/// elsewhere that it has not.
fn missing(from: &[Finding], to: &[Finding]) -> Vec<Finding> {
    let mut known: BTreeSet<(&str, &str)> = BTreeSet::new();
    for cause in to {
        for finding in std::iter::once(cause).chain(&cause.consequences) {
            known.insert((finding.name, &finding.subject));
        }
    }
    let is_known = |finding: &Finding| known.contains(&(finding.name, finding.subject.as_str()));
    let of_cause = |cause: &Finding| {
        if !is_known(cause) {
            return vec![cause.clone()];
        }
        let below = cause.consequences.iter();
        below
            .filter(|below| below.name == cause.name && !is_known(below))
            .cloned()
            .collect()
    };
    from.iter().flat_map(of_cause).collect()
}

/// Levels of every driven net with the smallest margins over its loads, and of the outputs of circuits that stand nowhere,
/// by name.
fn levels(verdict: &Verdict) -> BTreeMap<String, (Level, Spares)> {
    let design = verdict.plan.design;
    let mut all = BTreeMap::new();
    for (&net, &level) in &verdict.place.levels {
        let connected = verdict
            .connections
            .iter()
            .find(|connection| connection.net == net);
        // A net that a switch feeds is known by its connections only.
        let level = connected.map_or(level, |connection| connection.level);
        if connected.is_some() || !verdict.plan.drivers[net].is_empty() {
            all.insert(
                verdict.plan.nets[net].name.clone(),
                (level, spares(verdict, net)),
            );
        }
    }
    for (circuit, outputs) in &verdict.alone.levels {
        if design.units.iter().any(|unit| unit.circuit == *circuit) {
            continue;
        }
        let circuit = &design.circuits[circuit.0];
        for (&signal, &level) in outputs {
            let name = format!(
                "{}.{} alone",
                circuit.name, circuit.interface.signals[signal]
            );
            all.insert(name, (level, (None, None)));
        }
    }
    all
}

/// Smallest margins when down and when up.
type Spares = (Option<f64>, Option<f64>);

/// Smallest margins over the loads of a net.
fn spares(verdict: &Verdict, net: usize) -> Spares {
    let loads = || {
        verdict
            .connections
            .iter()
            .filter(move |connection| connection.net == net)
    };
    let down = loads()
        .filter_map(crate::connections::Connection::spare_down)
        .reduce(f64::min);
    let up = loads()
        .filter_map(crate::connections::Connection::spare_up)
        .reduce(f64::min);
    (down, up)
}
