//! Shunts and droppers of a string: values of the E24 series, chosen by solving the string with them.

use super::filling::lacking;
use super::{Candidate, Draft, Link, Proposed, Resistor, Supply, window};
use crate::heaters::HeaterAssumptions;
use crate::heaters::chain::{Branch, Chain, Kind};
use crate::parts::ResistorRange;
use crate::preferred::neighbours;
use std::ops::RangeFrom;

/// Tolerance of the resistors proposed: E24 is the series of 5 % (IEC 60063, from memory).
pub const TOLERANCE: f64 = 0.05;

/// Times that every value of a string is moved to a neighbour and back: chosen, one or two are enough.
const ROUNDS: usize = 4;

/// A dropper of one value may leave the heaters this far off, a share; else two in a row come nearer: chosen, half the aim.
const NEAR_ENOUGH: f64 = 0.025;

/// A string with its resistors, solved.
pub(super) struct Chosen {
    /// Ohm beside each link of the draft.
    shunts: Vec<Option<f64>>,
    /// Ohm before them.
    droppers: Vec<f64>,
    /// Volts of the droppers, then of the links, with the supply at its lowest, nominal and highest.
    volts: [Vec<f64>; 3],
    amps: f64,
    cold_amps: [f64; 3],
}

/// The nearest value of the series at or below, and at or above.
fn around(ohms: f64) -> impl Iterator<Item = f64> {
    // The neighbours leave out what is within a thousandth.
    let below = neighbours(ohms * 1.0015, false, 1);
    let above = neighbours(ohms * 0.9985, true, 1);
    below.into_iter().chain(above)
}

/// A value of the series and those next to it.
fn beside(value: f64) -> impl Iterator<Item = f64> {
    // Values of E24 are a twentieth to a tenth apart.
    around(value * 1.02).chain(around(value / 1.02))
}

/// The value of the series that is nearest by its ratio.
pub(crate) fn nearest_value(ohms: f64) -> f64 {
    let off = |value: &f64| (value / ohms).ln().abs();
    around(ohms)
        .min_by(|left, right| off(left).total_cmp(&off(right)))
        .unwrap_or(ohms)
}

/// The rating to buy, W, for a resistor of so many ohms and volts: the next usual one, above the usual ones the next hundred.
pub(crate) fn usual_rating(ohms: f64, volts: f64, resistors: &ResistorRange) -> f64 {
    let watts = volts.powi(2) / ohms;
    let usual = resistors.rating(watts, volts);
    usual.unwrap_or_else(|| 100.0 * (resistors.factor * watts / 100.0).ceil())
}

/// Chooses the resistors of a draft and solves it.
pub(super) fn choose(
    draft: &Draft,
    tubes: &[Candidate],
    supply: Supply,
    assumptions: &HeaterAssumptions,
) -> Chosen {
    let heaters = draft.chain(tubes, assumptions);
    let rated: Vec<f64> = draft.links.iter().map(|link| link.volts).collect();
    let sum: f64 = rated.iter().sum();
    let lacking = draft
        .links
        .iter()
        .map(|link| Some(link.volts / lacking(link, draft.amps)?));
    let mut shunts: Vec<Option<f64>> = lacking.map(|ohms| ohms.map(nearest_value)).collect();
    let dropped = (sum < window(supply).0).then(|| (supply.volts - sum) / draft.amps);
    let mut droppers: Vec<f64> = dropped.map(nearest_value).into_iter().collect();
    let worst = |shunts: &[Option<f64>], droppers: &[f64]| {
        let rest = wired(&heaters, shunts, droppers).at_rest(supply.volts);
        let heaters = rest.link_volts[droppers.len()..].iter().zip(&rated);
        heaters
            .map(|(volts, rated)| (volts / rated - 1.0).abs())
            .fold(0.0, f64::max)
    };
    let mut off = worst(&shunts, &droppers);
    for _ in 0..ROUNDS {
        let before = off;
        let values: Vec<f64> = distinct(&shunts);
        for value in values {
            for other in beside(value) {
                let moved: Vec<Option<f64>> = shunts
                    .iter()
                    .map(|shunt| shunt.map(|ohms| if ohms == value { other } else { ohms }))
                    .collect();
                let new = worst(&moved, &droppers);
                if new < off {
                    (off, shunts) = (new, moved);
                    break;
                }
            }
        }
        let others = droppers.iter().flat_map(|&value| beside(value));
        let moved = others
            .map(|value| (worst(&shunts, &[value]), value))
            .min_by(|left, right| left.0.total_cmp(&right.0));
        if let Some((new, value)) = moved.filter(|(new, _)| *new < off) {
            (off, droppers) = (new, vec![value]);
        }
        if before <= off {
            break;
        }
    }
    if let (Some(ohms), true) = (dropped, NEAR_ENOUGH < off) {
        let first = neighbours(ohms, false, 1);
        let both = first
            .first()
            .map(|&first| vec![first, nearest_value(ohms - first)]);
        if let Some(both) = both.filter(|both| worst(&shunts, both) < off) {
            droppers = both;
        }
    }
    solved(&heaters, shunts, droppers, supply, assumptions)
}

/// The different values among shunts, in order.
fn distinct(shunts: &[Option<f64>]) -> Vec<f64> {
    let mut values: Vec<f64> = shunts.iter().flatten().copied().collect();
    values.sort_by(f64::total_cmp);
    values.dedup();
    values
}

/// Heaters with their resistors: droppers first, so that the heaters stand near the return.
fn wired(heaters: &Chain, shunts: &[Option<f64>], droppers: &[f64]) -> Chain {
    let resistor = |&ohms: &f64| Branch {
        kind: Kind::Resistor(ohms),
        spread: TOLERANCE,
    };
    let mut links: Vec<Vec<Branch>> = droppers.iter().map(|ohms| vec![resistor(ohms)]).collect();
    for (link, shunt) in heaters.links.iter().zip(shunts) {
        links.push(
            link.iter()
                .copied()
                .chain(shunt.as_ref().map(resistor))
                .collect(),
        );
    }
    Chain { links }
}

fn solved(
    heaters: &Chain,
    shunts: Vec<Option<f64>>,
    droppers: Vec<f64>,
    supply: Supply,
    assumptions: &HeaterAssumptions,
) -> Chosen {
    let chain = wired(heaters, &shunts, &droppers);
    let Supply { volts, tolerance } = supply;
    let nominal = chain.at_rest(volts);
    Chosen {
        shunts,
        droppers,
        amps: nominal.amps,
        cold_amps: assumptions
            .hot_over_cold
            .map(|ratio| chain.cold_amps(volts, ratio)),
        volts: [
            chain.at_rest(volts * (1.0 - tolerance)).link_volts,
            nominal.link_volts,
            chain.at_rest(volts * (1.0 + tolerance)).link_volts,
        ],
    }
}

impl Chosen {
    /// The string of a draft that is like the one that this was chosen for; its resistors take their numbers from `marks`.
    pub(super) fn string(
        &self,
        draft: &Draft,
        marks: &mut RangeFrom<usize>,
        resistors: &ResistorRange,
    ) -> Proposed {
        let mut resistor = |place: usize, ohms: f64| {
            let volts = self.volts[1][place];
            Resistor {
                mark: format!("R{}", marks.next().unwrap_or_default()),
                ohms,
                watts: volts.powi(2) / ohms,
                rated_watts: usual_rating(ohms, volts, resistors),
            }
        };
        let volts = |place: usize| [0, 1, 2].map(|end: usize| self.volts[end][place]);
        let mut links = Vec::new();
        for (place, &ohms) in self.droppers.iter().enumerate() {
            links.push(Link {
                heaters: Vec::new(),
                resistor: Some(resistor(place, ohms)),
                rated_volts: 0.0,
                volts: volts(place),
            });
        }
        for (link, shunt) in draft.links.iter().zip(&self.shunts) {
            let place = links.len();
            links.push(Link {
                heaters: link.heaters.clone(),
                resistor: shunt.map(|ohms| resistor(place, ohms)),
                rated_volts: link.volts,
                volts: volts(place),
            });
        }
        Proposed {
            group: draft.group,
            links,
            amps: self.amps,
            cold_amps: self.cold_amps,
        }
    }
}
