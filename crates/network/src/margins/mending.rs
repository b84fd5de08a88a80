//! What closer resistors, or a trimmer, would mend of a worst case, solved anew: the book's levels stay, the worst case is
//! searched again.

use super::alone::{AloneCase, alone_cases};
use super::cases::parts_moved;
use super::{ConnectionMargin, check_connections};
use crate::judge::Context;
use crate::plan::{MemberIndex, Plan};
use crate::variation::{Piece, SpreadAssumptions};
use crate::verdict::{self, Verdict};
use design::model::{CircuitId, Design, PartKind};
use devices::spread::TubeSpread;
use devices::types::{Mark, Sourced, TubeType};
use rayon::prelude::*;
use std::sync::Arc;

/// The tolerance tried: that of metal film resistors, which hardly drift (common practice, no source).
pub const CLOSE: f64 = 0.01;
/// The weightiest resistors that are tried each by itself: chosen.
const TRIED: usize = 2;

/// What is done to mend.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Remedy {
    /// Resistors of [`CLOSE`] tolerance that do not drift, each by its circuit and its place there, in every unit of the circuit; of
    /// several every one of their circuits.
    Closer(Vec<(CircuitId, usize)>),
    /// A trimmer in one unit, turned in the machine until the unit's thresholds are where the book has them.
    Trimmer(MemberIndex),
}

/// A remedy, and what it would leave.
#[derive(Debug, Clone, PartialEq)]
pub struct Mending {
    /// What is done.
    pub remedy: Remedy,
    /// To spare of the same connection then, the smaller side, V; `None` where that is no longer known.
    pub volts: Option<f64>,
}

/// What would mend a connection of the machine: closer resistors, the weightiest of its worst case one by one, then all of the
/// circuits at its ends; and a trimmer in the unit that it drives. Nothing where it is neither short nor thin.
#[must_use]
pub fn of_units(
    verdict: &Verdict,
    connection: &ConnectionMargin,
    spread: &SpreadAssumptions,
    context: &Context,
) -> Vec<Mending> {
    let mut remedies = closer_ones(&verdict.plan, connection);
    if is_wanting(connection) {
        remedies.push(Remedy::Trimmer(connection.load.0));
    }
    tried(&verdict.plan, remedies, |design| {
        let verdict = verdict::check(design, &verdict.limits, context);
        let (margins, _) = check_connections(&verdict, spread, context);
        spared(&margins.connections, connection)
    })
}

/// What closer resistors would mend of a circuit alone. A trimmer is not tried there, because its like would have one too.
#[must_use]
pub fn of_alone(
    verdict: &Verdict,
    case: &AloneCase,
    spread: &SpreadAssumptions,
    context: &Context,
) -> Vec<Mending> {
    let Some(connection) = case.margins.connections.first() else {
        return Vec::new();
    };
    tried(&case.plan, closer_ones(&case.plan, connection), |design| {
        let verdict = verdict::check(design, &verdict.limits, context);
        let cases = alone_cases(&verdict, &[case.circuit], spread, context);
        spared(&cases.first()?.margins.connections, connection)
    })
}

fn spared(all: &[ConnectionMargin], asked: &ConnectionMargin) -> Option<f64> {
    let mut all = all.iter();
    let same = all.find(|other| (other.net, other.load) == (asked.net, asked.load))?;
    Some(same.smallest().0.volts)
}

/// A connection that is short or thin.
fn is_wanting(connection: &ConnectionMargin) -> bool {
    connection.smallest().0.volts < connection.thin_below
}

fn closer_ones(plan: &Plan, connection: &ConnectionMargin) -> Vec<Remedy> {
    if !is_wanting(connection) {
        return Vec::new();
    }
    let design = plan.design;
    let (side, _) = connection.smallest();
    let mut weighty: Vec<(CircuitId, usize)> = Vec::new();
    for part in parts_moved(side) {
        let Piece::Part(number) = part.piece else {
            continue;
        };
        let place = (plan.members[part.member].circuit, number);
        if is_wide(design, place) && !weighty.contains(&place) {
            weighty.push(place);
        }
    }
    let mut ends = vec![plan.members[connection.load.0].circuit];
    ends.extend(
        connection
            .driver
            .map(|(member, _)| plan.members[member].circuit),
    );
    ends.sort_unstable();
    ends.dedup();
    let all: Vec<(CircuitId, usize)> = ends
        .into_iter()
        .flat_map(|circuit| {
            let parts = 0..design.circuits[circuit.0].parts.len();
            parts.map(move |part| (circuit, part))
        })
        .filter(|place| is_wide(design, *place))
        .collect();
    let mut sets: Vec<Vec<(CircuitId, usize)>> = weighty
        .into_iter()
        .take(TRIED)
        .map(|place| vec![place])
        .collect();
    if 1 < all.len() {
        sets.push(all);
    }
    sets.into_iter().map(Remedy::Closer).collect()
}

fn tried(
    plan: &Plan,
    remedies: Vec<Remedy>,
    spares: impl Fn(&Design) -> Option<f64> + Sync,
) -> Vec<Mending> {
    let design = plan.design;
    let with = |remedy: &Remedy| match remedy {
        Remedy::Closer(resistors) => closer(design, resistors),
        Remedy::Trimmer(unit) => trimmed(design, *unit),
    };
    let remedies = remedies.into_par_iter();
    remedies
        .map(|remedy| Mending {
            volts: spares(&with(&remedy)),
            remedy,
        })
        .collect()
}

/// Whether a part is a resistor that could be closer.
fn is_wide(design: &Design, (circuit, part): (CircuitId, usize)) -> bool {
    match design.circuits[circuit.0].parts[part].kind {
        PartKind::Resistor {
            tolerance, drift, ..
        } => CLOSE < tolerance || 0.0 < drift,
        _ => false,
    }
}

/// The design with these resistors close.
fn closer(design: &Design, resistors: &[(CircuitId, usize)]) -> Design {
    let mut design = design.clone();
    for &(circuit, part) in resistors {
        if let PartKind::Resistor {
            tolerance, drift, ..
        } = &mut design.circuits[circuit.0].parts[part].kind
        {
            *tolerance = tolerance.min(CLOSE);
            *drift = 0.0;
        }
    }
    design
}

/// The design with a unit that was trimmed. What stays as it was when the trimmer was turned is taken out: what its resistors are
/// off, and mu and cut-off of its tubes. What moves later stays: drift of resistors, current of tubes, rails and heaters.
fn trimmed(design: &Design, unit: MemberIndex) -> Design {
    fn exact<T>(value: T) -> Option<Sourced<T>> {
        let (mark, source) = (Mark::Derived, "trimmed".to_owned());
        Some(Sourced {
            value,
            mark,
            source,
        })
    }
    let mut design = design.clone();
    let mut circuit = design.circuits[design.units[unit].circuit.0].clone();
    for part in &mut circuit.parts {
        match &mut part.kind {
            PartKind::Resistor { tolerance, .. } | PartKind::Trimmer { tolerance, .. } => {
                *tolerance = 0.0;
            }
            PartKind::Tube(tube) => {
                let device = TubeType::clone(&tube.device);
                tube.device = Arc::new(TubeType {
                    spread: TubeSpread {
                        mu: exact((1.0, 1.0)),
                        cut_off: exact(0.0),
                        ..design.tube_spread(&device)
                    },
                    // A lot is found by the name of its type, and this one has its own spread.
                    name: format!("{}, trimmed", device.name),
                    ..device
                });
            }
            _ => {}
        }
    }
    design.units[unit].circuit = CircuitId(design.circuits.len());
    design.circuits.push(circuit);
    design
}
