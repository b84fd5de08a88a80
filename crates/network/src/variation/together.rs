//! Tubes whose currents are known to differ by no more than so much: the halves of one tube, and the tubes of a lot.
//!
//! Of some currents that lie in one band and differ by no more than a width there is always an interval of that width, within
//! the band, that holds them all. So the band is divided: a setting that all have in common moves the interval through what the
//! width leaves of the band, and a setting of its own moves each current through the width. Both parts of the band are divided
//! by the book value as the band is, so that a setting of 0 stays the book value. Every set of currents that keeps to the width
//! is met and no other, and those that no others lie around are met with every setting at an end.

use super::{Factor, Quantity};
use crate::plan::Plan;
use crate::scene::Scene;
use crate::surroundings::Copies;
use devices::types::TubeType;
use std::collections::BTreeMap;

/// A setting in common with others.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Common {
    /// Place of its factor.
    pub place: usize,
    /// Share of the band through which it moves.
    pub share: f64,
}

/// Where the factors of the tubes of a scene begin.
#[derive(Default)]
pub(super) struct Currents<'a> {
    /// By the place of the member in the scene and the tube's number in its circuit.
    tubes: BTreeMap<(usize, usize), (usize, &'a TubeType)>,
}

/// What is held together of the tubes of one type.
struct Kind {
    /// Places of the factors of their currents.
    places: Vec<usize>,
    /// Width of their band.
    band: f64,
    /// By how much two halves of one tube may differ; the band where that is not known.
    halves: f64,
    /// By how much any two tubes may differ; likewise.
    alike: f64,
}

impl<'a> Currents<'a> {
    /// Notes that the factors of a tube begin at a place.
    pub(super) fn next(&mut self, tube: (usize, usize), device: &'a TubeType, place: usize) {
        self.tubes.insert(tube, (place, device));
    }

    /// Lets the currents of tubes that are known to be alike move together, by settings put behind all others.
    pub(super) fn hold(&self, plan: &Plan, scene: &Scene, factors: &mut Vec<Factor>) {
        let current = |tube: &(usize, usize)| {
            let (place, _) = *self.tubes.get(tube)?;
            let factor = factors.get(place)?;
            (factor.quantity == Quantity::Current).then_some(place)
        };
        let members: Vec<Copies> = scene
            .members
            .iter()
            .map(|placed| Copies {
                member: placed.member,
                count: placed.count,
            })
            .collect();
        let pairs = plan.pairs(&members).into_iter();
        let pairs: Vec<[usize; 2]> = pairs
            .filter_map(|[one, other]| Some([current(&one)?, current(&other)?]))
            .collect();
        let mut kinds: BTreeMap<&str, Kind> = BTreeMap::new();
        for (tube, (_, device)) in &self.tubes {
            let Some(place) = current(tube) else {
                continue;
            };
            let kind = kinds.entry(&device.name).or_insert_with(|| {
                let (low, high) = factors[place].ends;
                let spread = plan.design.tube_spread(device);
                let within =
                    |share: Option<f64>, most: f64| share.map_or(most, |own| own.min(most));
                let alike = within(spread.alike.map(|share| share.value), high - low);
                Kind {
                    places: Vec::new(),
                    band: high - low,
                    halves: within(spread.halves.map(|share| share.value), alike),
                    alike,
                }
            });
            kind.places.push(place);
        }
        for kind in kinds.values() {
            let own = |pair: &&[usize; 2]| kind.places.contains(&pair[0]);
            let pairs: Vec<[usize; 2]> = pairs.iter().filter(own).copied().collect();
            kind.hold(&pairs, factors);
        }
    }
}

impl Kind {
    fn hold(&self, pairs: &[[usize; 2]], factors: &mut Vec<Factor>) {
        let held_pairs = if self.halves < self.alike { pairs } else { &[] };
        let tubes = self.places.len() - held_pairs.len();
        let mut width = self.band;
        if self.alike < self.band && 1 < tubes {
            width = self.alike;
            together(&self.places, self.band, (self.band, width), factors);
        }
        if self.halves < width {
            for pair in held_pairs {
                together(pair, self.band, (width, self.halves), factors);
                for (place, other) in [(pair[0], pair[1]), (pair[1], pair[0])] {
                    factors[place].other_half = Some(other);
                }
            }
        }
    }
}

/// Gives the currents at some places one more setting in common, which leaves of a width the second for what they do apart.
fn together(places: &[usize], band: f64, (width, left): (f64, f64), factors: &mut Vec<Factor>) {
    let common = Common {
        place: factors.len(),
        share: (width - left) / band,
    };
    let mut elements = Vec::new();
    for &place in places {
        let factor = &mut factors[place];
        factor.common.push(common);
        factor.own = left / band;
        elements.extend_from_slice(&factor.elements);
    }
    let first = &factors[places[0]];
    factors.push(Factor {
        member: first.member,
        piece: first.piece,
        quantity: first.quantity,
        ends: first.ends,
        elements,
        hollow: None,
        count: 1,
        own: 0.0,
        common: Vec::new(),
        is_common: true,
        other_half: None,
    });
}
