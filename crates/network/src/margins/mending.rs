//! What closer resistors would mend of a worst case, solved anew: the book's levels stay, the worst case is searched again.

use super::alone::{AloneCase, alone_cases};
use super::cases::parts_moved;
use super::{ConnectionMargin, check_connections};
use crate::judge::Context;
use crate::plan::Plan;
use crate::variation::{Piece, SpreadAssumptions};
use crate::verdict::{self, Verdict};
use design::model::{CircuitId, Design, PartKind};
use rayon::prelude::*;

/// The tolerance tried: that of metal film resistors, which hardly drift (common practice, no source).
pub const CLOSE: f64 = 0.01;
/// The weightiest resistors that are tried each by itself: chosen.
const TRIED: usize = 2;

/// Some resistors of [`CLOSE`] tolerance that do not drift, in every unit of their circuits.
#[derive(Debug, Clone, PartialEq)]
pub struct Mending {
    /// The circuit and the resistor in it; of several the tolerance of every resistor of their circuits.
    pub resistors: Vec<(CircuitId, usize)>,
    /// To spare of the same connection then, the smaller side, V; `None` where that is no longer known.
    pub volts: Option<f64>,
}

/// What closer resistors would mend of a connection of the machine: the weightiest of its worst case one by one, then all of the
/// circuits at its ends. Nothing where it is neither short nor thin, or where no resistor is wider.
#[must_use]
pub fn of_units(
    verdict: &Verdict,
    connection: &ConnectionMargin,
    spread: &SpreadAssumptions,
    context: &Context,
) -> Vec<Mending> {
    tried(&verdict.plan, connection, |design| {
        let verdict = verdict::check(design, &verdict.limits, context);
        let (margins, _) = check_connections(&verdict, spread, context);
        spared(&margins.connections, connection)
    })
}

/// The same of a circuit alone.
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
    tried(&case.plan, connection, |design| {
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

fn tried(
    plan: &Plan,
    connection: &ConnectionMargin,
    spares: impl Fn(&Design) -> Option<f64> + Sync,
) -> Vec<Mending> {
    let design = plan.design;
    let (side, _) = connection.smallest();
    if connection.thin_below <= side.volts {
        return Vec::new();
    }
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
    sets.into_par_iter()
        .map(|resistors| Mending {
            volts: spares(&closer(design, &resistors)),
            resistors,
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
