//! Volts between heater and cathode, against the limit of their sign.

use super::HeaterReading;
use super::supplies::{Footing, footing};
use crate::finding::{Amount, Finding};
use crate::judge::MemberResult;
use crate::plan::Plan;
use design::model::{PartKind, SocketId};
use devices::types::Section;
use text::diagnostic::Severity;
use text::quantity::{Unit, show};

/// A heater positive of its cathode is the worse way round (failures come preferentially so: a handbook on valves in
/// computers); from this share of the limit on it is named. Chosen.
const NEAR_SHARE: f64 = 0.8;

/// The most that the ends of a heater stand above and below the cathodes of its tube in any row, V, peaks where the supply
/// alternates; 0 for never. `None` for a filament and where no unit uses the tube.
#[must_use]
pub fn apart(plan: &Plan, reading: &HeaterReading, results: &[MemberResult]) -> Option<(f64, f64)> {
    let device = &plan.design.sockets[reading.socket.0].device;
    if device.heater.as_ref().is_none_or(|heater| heater.direct) {
        return None;
    }
    let (low, high) = cathode_range(plan, reading.socket, results)?;
    let ends = reading.end_volts();
    Some(((ends.1 - low).max(0.0), (high - ends.0).max(0.0)))
}

/// Heaters too far from their cathodes. Where the same supply takes several too far the same way, it is one mistake: they
/// stand below the worst.
pub(super) fn findings(
    plan: &Plan,
    readings: &[HeaterReading],
    results: &[MemberResult],
) -> Vec<Finding> {
    let mut mistakes: Vec<(Footing, Vec<Far>)> = Vec::new();
    for reading in readings {
        let far = too_far(plan, reading, results);
        let Some(first) = far.first() else {
            continue;
        };
        let footing = footing(plan.design, reading.string);
        let known = mistakes.iter_mut().find(|(known, heaters)| {
            *known == footing && heaters.first().is_some_and(|far| far.sign == first.sign)
        });
        match known {
            Some((_, heaters)) if first.is_beyond(&heaters[0]) => {
                heaters.splice(0..0, far);
            }
            Some((_, heaters)) => heaters.extend(far),
            None => mistakes.push((footing, far)),
        }
    }
    let one = |(_, heaters): (Footing, Vec<Far>)| {
        let mut all = heaters.iter().map(|far| finding(plan, far));
        let first = all.next()?;
        Some(Finding {
            consequences: all.collect(),
            ..first
        })
    };
    mistakes.into_iter().filter_map(one).collect()
}

/// A heater too far from its cathodes one way.
struct Far<'a> {
    reading: &'a HeaterReading,
    /// Of the heater against the cathode.
    sign: &'static str,
    volts: f64,
    limit: f64,
}

impl Far<'_> {
    fn share(&self) -> f64 {
        self.volts / self.limit
    }

    /// Heaters that are alike stay in their order: rounding must not shuffle them.
    fn is_beyond(&self, other: &Self) -> bool {
        other.share() + 1e-9 < self.share()
    }
}

/// The ways in which a heater is too far from its cathodes, worst first; peaks of both signs are one cause.
fn too_far<'a>(plan: &Plan, reading: &'a HeaterReading, results: &[MemberResult]) -> Vec<Far<'a>> {
    let Some((above, below)) = apart(plan, reading, results) else {
        return Vec::new();
    };
    let ratings = &plan.design.sockets[reading.socket.0].device.ratings;
    let sides = [
        ("positive", above, &ratings.heater_positive_volts),
        ("negative", below, &ratings.heater_negative_volts),
    ];
    let mut far: Vec<Far> = sides
        .into_iter()
        .filter_map(|(sign, volts, limit)| {
            let limit = limit.as_ref()?.value;
            Some(Far {
                reading,
                sign,
                volts,
                limit,
            })
        })
        .filter(|far| {
            far.limit < far.volts || far.sign == "positive" && NEAR_SHARE * far.limit < far.volts
        })
        .collect();
    far.sort_by(|left, right| right.share().total_cmp(&left.share()));
    far
}

fn finding(plan: &Plan, far: &Far) -> Finding {
    let &Far {
        reading,
        sign,
        volts,
        limit,
    } = far;
    let mark = &plan.design.sockets[reading.socket.0].mark;
    let peaks = if reading.alternates {
        " at the peaks"
    } else {
        ""
    };
    let shown = show(volts, Unit::Volt, 3);
    let (name, severity, cause) = if limit < volts {
        let cause = format!(
            "The heater of {mark} gets {shown} {sign} of its cathode{peaks}; its place in the string and the cathode's swing decide."
        );
        ("heater-cathode-volts", Severity::Fault, cause)
    } else {
        let cause = format!(
            "The heater of {mark} gets {shown} positive of its cathode{peaks}, close to its limit, and this is the way round in which the insulation fails first."
        );
        ("heater-positive", Severity::Caution, cause)
    };
    Finding::new(name, severity, reading.span, mark.clone(), cause)
        .numbers(
            Amount::new(format!("heater {sign} of cathode"), volts, Unit::Volt),
            Amount::new(format!("limit, heater {sign}"), limit, Unit::Volt),
        )
        .attempt("Stand the heater supply near the cathodes' mean volts, or move the tube along the string, or use a type with a higher limit.")
}

/// Lowest and highest cathode volts of a tube's halves over all rows.
fn cathode_range(plan: &Plan, socket: SocketId, results: &[MemberResult]) -> Option<(f64, f64)> {
    let mut range: Option<(f64, f64)> = None;
    for half in [Section::A, Section::B] {
        let Some((unit, tube)) = plan.design.sockets[socket.0].halves[half as usize] else {
            continue;
        };
        let circuit = plan.design.circuit_of(unit);
        let Some((part, _)) = circuit.tubes().nth(tube) else {
            continue;
        };
        let PartKind::Tube(tube) = &circuit.parts[part].kind else {
            continue;
        };
        for row in results[unit.0].rows.iter().filter(|row| row.counts()) {
            let volts = row.volts[tube.cathode];
            range = Some(range.map_or((volts, volts), |(low, high)| {
                (low.min(volts), high.max(volts))
            }));
        }
    }
    range
}
