//! What stands against every rating in one case.

use super::heated::Tubes;
use super::standing::{Conditions, Posture, Standing};
use crate::heaters::HeaterReading;
use crate::heaters::supplies::{nominal, rail_of, stands_on, supply_of};
use crate::plan::MemberIndex;
use crate::rails::share_of_string;
use crate::ratings::stated;
use crate::verdict::Verdict;
use design::model::{CircuitId, Design, HeaterString, NetId, PartKind, RailId, UnitId};
use std::collections::BTreeMap;
use text::quantity::Unit;
use text::source::Span;

/// A rating and what stands against it.
#[derive(Debug, Clone, PartialEq)]
pub struct Overload {
    /// Name of the finding that the rating belongs to.
    pub name: &'static str,
    /// Unit and part, tube, or rail.
    pub subject: String,
    /// Where it is written.
    pub span: Span,
    /// What stands against the rating.
    pub what: String,
    /// How much of it, in `unit`.
    pub has: f64,
    /// The rating.
    pub limit: f64,
    /// What the rating is called.
    pub limit_name: String,
    /// Unit of both.
    pub unit: Unit,
    /// Which tubes were cold.
    pub tubes: Tubes,
    /// Further units in which the same part is overloaded.
    pub further: usize,
    /// The same for the same part of every unit of a circuit.
    pub(super) place: Place,
}

impl Overload {
    /// How many times the rating.
    #[must_use]
    pub fn share(&self) -> f64 {
        self.has / self.limit
    }
}

/// What overloads are one mistake: name of the rating, and the part of a circuit, the type of a tube, or the rail.
pub(super) type Place = (&'static str, String);

/// What was found in one case.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Stresses {
    /// The rating that is nearest to its limit, or the furthest beyond.
    pub nearest: Option<Overload>,
    /// Every rating that is exceeded, one for each place, worst first.
    pub overloads: Vec<Overload>,
    /// Highest plate volts against the cathode.
    pub plate_volts: Option<f64>,
    /// Lowest and highest grid volts against the cathode.
    pub grid_volts: Option<(f64, f64)>,
}

/// Gathers stresses.
#[derive(Default)]
struct Gathered {
    nearest: Option<Overload>,
    over: BTreeMap<Place, Overload>,
}

impl Gathered {
    /// Takes a stress; what it is called is only worked out where it matters.
    fn take(&mut self, has: f64, limit: f64, called: impl FnOnce() -> Overload) {
        let share = has / limit;
        let nearer = self
            .nearest
            .as_ref()
            .is_none_or(|known| known.share() < share);
        if !(nearer && 0.0 < share) && share <= 1.0 {
            return;
        }
        let overload = called();
        if 1.0 < share {
            match self.over.get_mut(&overload.place) {
                Some(known) => {
                    let further = known.further + usize::from(known.subject != overload.subject);
                    if known.share() < share {
                        *known = overload.clone();
                    }
                    known.further = further;
                }
                None => {
                    self.over.insert(overload.place.clone(), overload.clone());
                }
            }
        }
        if nearer {
            self.nearest = Some(overload);
        }
    }
}

/// What stands against every rating of every member that is not left out.
pub(super) fn stresses(
    verdict: &Verdict,
    conditions: &Conditions,
    standing: &Standing,
    left_out: &[bool],
) -> Stresses {
    let mut gathered = Gathered::default();
    let mut stresses = Stresses::default();
    for (member, left_out) in left_out.iter().enumerate() {
        if !left_out {
            of_parts(verdict, member, standing, &mut gathered);
            volts_of_tubes(verdict, member, standing.of(member), &mut stresses);
        }
    }
    both_plates(verdict, standing, left_out, &mut gathered);
    heaters(verdict, conditions, standing, left_out, &mut gathered);
    if !left_out.contains(&true) {
        rails(verdict, conditions, standing, &mut gathered);
    }
    stresses.nearest = gathered.nearest;
    stresses.overloads = gathered.over.into_values().collect();
    stresses
        .overloads
        .sort_by(|left, right| right.share().total_cmp(&left.share()));
    stresses
}

fn of_parts(verdict: &Verdict, member: MemberIndex, standing: &Standing, gathered: &mut Gathered) {
    let plan = &verdict.plan;
    let circuit = plan.circuit(member);
    for (index, part) in circuit.parts.iter().enumerate() {
        let tube = circuit.tubes().position(|(place, _)| place == index);
        let cold = tube.is_some_and(|tube| standing.cold.contains(&(member, tube)));
        for rating in stated::of_part(part, cold) {
            let readings = standing
                .of(member)
                .iter()
                .map(|posture| (rating.reading)(&posture.parts[index]));
            let has = readings.fold(0.0, f64::max);
            gathered.take(has, rating.limit, || Overload {
                name: rating.name,
                subject: format!("{}.{}", plan.members[member].name, part.mark),
                span: part.span,
                what: rating.what.to_owned(),
                has,
                limit: rating.limit,
                limit_name: rating.limit_name.clone(),
                unit: rating.unit,
                tubes: standing.tubes,
                further: 0,
                place: (
                    rating.name,
                    format!("{}.{} {}", circuit.name, part.mark, rating.what),
                ),
            });
        }
    }
}

/// Adds what the plates and grids of a member stand at.
fn volts_of_tubes(
    verdict: &Verdict,
    member: MemberIndex,
    postures: &[Posture],
    stresses: &mut Stresses,
) {
    for (part, tube) in verdict.plan.circuit(member).tubes() {
        for reading in postures.iter().map(|posture| posture.parts[part]) {
            let highest = stresses.plate_volts.unwrap_or(f64::NEG_INFINITY);
            stresses.plate_volts = Some(highest.max(reading.volts));
            if tube.grid.is_some() {
                let volts = reading.grid_volts;
                let (low, high) = stresses.grid_volts.unwrap_or((volts, volts));
                stresses.grid_volts = Some((low.min(volts), high.max(volts)));
            }
        }
    }
}

/// The member and part of each half of a tube that is used and not left out.
fn halves<'a>(
    verdict: &'a Verdict,
    halves: &'a [Option<(UnitId, usize)>; 2],
    left_out: &'a [bool],
) -> impl Iterator<Item = (MemberIndex, CircuitId, usize)> + 'a {
    let design = verdict.plan.design;
    halves.iter().flatten().filter_map(move |&(unit, tube)| {
        let (part, _) = design.circuit_of(unit).tubes().nth(tube)?;
        (!left_out[unit.0]).then_some((unit.0, design.units[unit.0].circuit, part))
    })
}

fn both_plates(verdict: &Verdict, standing: &Standing, left_out: &[bool], gathered: &mut Gathered) {
    for socket in &verdict.plan.design.sockets {
        let Some(limit) = &socket.device.ratings.both_plates_watts else {
            continue;
        };
        let watts = halves(verdict, &socket.halves, left_out).map(|(member, _, part)| {
            let postures = standing.of(member).iter();
            postures
                .map(|posture| posture.parts[part].watts)
                .fold(0.0, f64::max)
        });
        let has: f64 = watts.sum();
        gathered.take(has, limit.value, || Overload {
            name: "plate-watts",
            subject: socket.mark.clone(),
            span: socket.span,
            what: "dissipation of both plates".to_owned(),
            has,
            limit: limit.value,
            limit_name: format!("rating of both plates together ({})", socket.device.name),
            unit: Unit::Watt,
            tubes: standing.tubes,
            further: 0,
            place: ("plate-watts", socket.device.name.clone()),
        });
    }
}

/// Volts between every heater and the cathodes of its tube.
fn heaters(
    verdict: &Verdict,
    conditions: &Conditions,
    standing: &Standing,
    left_out: &[bool],
    gathered: &mut Gathered,
) {
    let design = verdict.plan.design;
    for reading in &verdict.heaters.readings {
        let socket = &design.sockets[reading.socket.0];
        let indirect = socket
            .device
            .heater
            .as_ref()
            .is_some_and(|heater| !heater.direct);
        let string = &design.strings[reading.string];
        let Some(ends) = heater_ends(design, string, reading, conditions).filter(|_| indirect)
        else {
            continue;
        };
        for (member, circuit, part) in halves(verdict, &socket.halves, left_out) {
            let PartKind::Tube(tube) = &design.circuits[circuit.0].parts[part].kind else {
                continue;
            };
            let postures = standing.of(member).iter();
            let cathodes = postures.map(|posture| posture.volts[tube.cathode]);
            let (low, high) = cathodes
                .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), volts| {
                    (low.min(volts), high.max(volts))
                });
            let ratings = &socket.device.ratings;
            let sides = [
                ("positive", ends.1 - low, &ratings.heater_positive_volts),
                ("negative", high - ends.0, &ratings.heater_negative_volts),
            ];
            for (sign, has, limit) in sides {
                let Some(limit) = limit.as_ref().filter(|_| has.is_finite()) else {
                    continue;
                };
                gathered.take(has, limit.value, || Overload {
                    name: "heater-cathode-volts",
                    subject: socket.mark.clone(),
                    span: reading.span,
                    what: format!("heater {sign} of cathode"),
                    has,
                    limit: limit.value,
                    limit_name: format!("limit with heater {sign} ({})", socket.device.name),
                    unit: Unit::Volt,
                    tubes: standing.tubes,
                    further: 0,
                    place: (
                        "heater-cathode-volts",
                        format!("{} {sign}", design.circuits[circuit.0].name),
                    ),
                });
            }
        }
    }
}

/// Lowest and highest volts of a heater's ends. A heater supply that is missing lets the whole string stand at its other
/// end; one that stands on another rail keeps its own volts when that one is missing. With cold tubes the heaters may be
/// switched on already or not.
fn heater_ends(
    design: &Design,
    string: &HeaterString,
    reading: &HeaterReading,
    conditions: &Conditions,
) -> Option<(f64, f64)> {
    let [near, far] = supply_of(design, string)?;
    let missing =
        |net: NetId| rail_of(design, net).is_some_and(|rail| conditions.missing.contains(&rail));
    let base = nominal(design, near);
    let mut ends: Vec<(f64, f64)> = Vec::new();
    let standing = if missing(near) { 0.0 } else { base };
    match (missing(near), missing(far)) {
        (_, true) => ends.push((standing, standing)),
        (false, false) => ends.push(reading.end_volts()),
        (true, false) if stands_on(design, [near, far]) => {
            let (low, high) = reading.end_volts();
            ends.push((low - base, high - base));
        }
        (true, false) => {
            let top = nominal(design, far);
            ends.push((top, top));
        }
    }
    if conditions.cold {
        ends.push((standing, standing));
    }
    ends.into_iter()
        .reduce(|(low, high), (other_low, other_high)| (low.min(other_low), high.max(other_high)))
}

/// What every rail that stands must give, every unit at its worst together.
fn rails(verdict: &Verdict, conditions: &Conditions, standing: &Standing, gathered: &mut Gathered) {
    let design = verdict.plan.design;
    for (index, rail) in design.rails.iter().enumerate() {
        let Some(limit) = rail
            .limit_amps
            .filter(|_| !conditions.missing.contains(&RailId(index)))
        else {
            continue;
        };
        let worst = |member: MemberIndex| {
            let postures = standing.of(member).iter();
            postures
                .map(|posture| {
                    posture
                        .rail_amps
                        .get(&rail.net.0)
                        .copied()
                        .unwrap_or(0.0)
                        .abs()
                })
                .fold(0.0, f64::max)
        };
        let units: f64 = (0..verdict.plan.members.len()).map(worst).sum();
        let bleeder = rail
            .bleeder_ohms
            .map_or(0.0, |ohms| rail.volts.abs() / ohms);
        let strings = design.strings.iter().zip(&verdict.heaters.strings);
        let strings: f64 = strings
            .filter(|(string, _)| share_of_string(design, rail, string) != 0.0)
            .filter_map(|(_, reading)| Some(reading.amps?.abs()))
            .sum();
        let has = units + bleeder + strings;
        gathered.take(has, limit, || Overload {
            name: "rail-overloaded",
            subject: format!("rail {}", rail.name),
            span: rail.span,
            what: "current of the rail".to_owned(),
            has,
            limit,
            limit_name: "its limit".to_owned(),
            unit: Unit::Ampere,
            tubes: standing.tubes,
            further: 0,
            place: ("rail-overloaded", rail.name.clone()),
        });
    }
}
