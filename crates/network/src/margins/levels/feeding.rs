//! What feeds a group from outside: each net at its worst level, or at the level furthest the other way where that does more
//! harm; and of which nets that level may do so at all.

use super::{LevelRow, STILL_VOLTS, Source, held, key, rests, side, surroundings};
use crate::judge::Levels;
use crate::margins::Search;
use crate::margins::corners::RailCorner;
use crate::margins::stand::{Group, Reading, Stand};
use crate::plan::NetIndex;
use crate::rows::Values;
use crate::scene::Scene;
use crate::wiring::ElementIndex;
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

/// Levels that hold what feeds units.
#[derive(Debug, Clone, Copy)]
pub(in crate::margins) struct Feeding<'a> {
    /// The highest down and the lowest up of every net.
    pub worst: &'a Levels,
    /// The lowest down and the highest up, of the nets of which they are known.
    pub turned: &'a Levels,
}

impl<'a> Feeding<'a> {
    /// Both, as what stands alike is told by them.
    pub(in crate::margins) fn both(self) -> [&'a Levels; 2] {
        [self.worst, self.turned]
    }

    /// The feeds of a scene that may stand at either of two levels when the nets have these values.
    pub(in crate::margins) fn free_feeds(self, scene: &Scene, values: &Values) -> Vec<FreeFeed> {
        let feeds = scene.feeds.iter();
        feeds
            .filter(|(_, feed)| feed.switch.is_none())
            .filter_map(|(net, feed)| {
                let up = values.get(net).copied().unwrap_or(false);
                let volts = |levels: &Levels| Some(*side(&mut levels.get(net)?.clone(), up));
                let ends = [volts(self.worst)?, volts(self.turned)?];
                (ends[0] != ends[1]).then_some(FreeFeed {
                    tie: feed.tie,
                    ends,
                    at: 0,
                })
            })
            .collect()
    }
}

/// A feed with volts at which it is tried.
#[derive(Debug, Clone, Copy)]
pub(in crate::margins) struct FarFeed {
    pub net: NetIndex,
    pub tie: ElementIndex,
    pub volts: f64,
}

/// A feed that may stand at either of two levels.
#[derive(Debug, Clone, Copy)]
pub(in crate::margins) struct FreeFeed {
    pub tie: ElementIndex,
    /// The worst, and the one furthest the other way, V.
    ends: [f64; 2],
    /// At which of them it stands.
    at: usize,
}

impl FreeFeed {
    pub(in crate::margins) fn volts(&self) -> f64 {
        self.ends[self.at]
    }

    pub(in crate::margins) fn other_volts(&self) -> f64 {
        self.ends[1 - self.at]
    }

    pub(in crate::margins) fn turn(&mut self) {
        self.at = 1 - self.at;
    }
}

/// Puts those at the level furthest the other way that are known to have stood there, all others at the worst.
pub(in crate::margins) fn put(feeds: &mut [FreeFeed], known: &[(ElementIndex, bool)]) {
    for feed in feeds {
        feed.at = usize::from(known.contains(&(feed.tie, true)));
    }
}

/// The tie of each, and whether it stands at the level furthest the other way.
pub(in crate::margins) fn standing(feeds: &[FreeFeed]) -> Vec<(ElementIndex, bool)> {
    feeds.iter().map(|feed| (feed.tie, feed.at == 1)).collect()
}

/// Turns every feed that by itself makes a value larger; where all of them together do less than the best alone, only that.
/// `values` are the value as the feeds stand, then with each turned alone; `together` gives it with feeds as they then stand.
/// The value reached; `None` where none does.
pub(in crate::margins) fn turn_all(
    feeds: &mut [FreeFeed],
    values: &[f64],
    tolerance: f64,
    together: impl FnOnce(&[FreeFeed]) -> f64,
) -> Option<f64> {
    let (here, alone) = values.split_first()?;
    let helping: Vec<usize> = (0..feeds.len())
        .filter(|&feed| here + tolerance < alone[feed])
        .collect();
    let best = *helping
        .iter()
        .max_by(|&&left, &&right| alone[left].total_cmp(&alone[right]))?;
    for &feed in &helping {
        feeds[feed].turn();
    }
    if helping.len() == 1 {
        return Some(alone[best]);
    }
    let all = together(feeds);
    if alone[best] <= all {
        return Some(all);
    }
    for &feed in helping.iter().filter(|feed| **feed != best) {
        feeds[feed].turn();
    }
    Some(alone[best])
}

/// Of what a source drives: the nets whose level furthest the other way may do more harm than their worst, to its worst levels
/// and to its own levels furthest the other way.
#[derive(Debug, Clone, Default)]
struct Harming {
    worst: BTreeSet<NetIndex>,
    turned: BTreeSet<NetIndex>,
}

/// The nets of which the levels furthest the other way may do more harm than the worst: to the worst level of any output, to what
/// `others` name, or to such a level of one of these. With all parts by the book, or all at the same end of their bands, a net is brought from its level to the last rail on
/// that side; what then does not move does not move for less either.
pub(in crate::margins) fn harming_nets(
    search: &Search,
    rows: &BTreeMap<Source, Vec<LevelRow>>,
    corner: &RailCorner,
    book: &Levels,
    others: BTreeSet<NetIndex>,
) -> BTreeSet<NetIndex> {
    let mut groups: BTreeMap<Vec<u64>, Vec<(Source, Vec<NetIndex>)>> = BTreeMap::new();
    for (&source, rows) in rows {
        let around = surroundings(search, source).gathered(search.plan, &[book]);
        let (key, nets) = key(search.plan, source, &around, rows, corner, &[book]);
        groups.entry(key).or_default().push((source, nets));
    }
    let groups: Vec<Vec<(Source, Vec<NetIndex>)>> = groups.into_values().collect();
    let found: Vec<Harming> = groups
        .par_iter()
        .map(|group| harming(search, group[0].0, &rows[&group[0].0], corner, book))
        .collect();
    let mut of_source: BTreeMap<Source, Harming> = BTreeMap::new();
    for (group, found) in groups.iter().zip(found) {
        let first = &group[0].1;
        for (source, nets) in group {
            let there = |set: &BTreeSet<NetIndex>| {
                let places = set
                    .iter()
                    .filter_map(|net| first.iter().position(|known| known == net));
                places.map(|place| nets[place]).collect()
            };
            let harming = Harming {
                worst: there(&found.worst),
                turned: there(&found.turned),
            };
            of_source.insert(*source, harming);
        }
    }
    let worst = of_source.values().flat_map(|harming| &harming.worst);
    let mut left: Vec<NetIndex> = worst.copied().chain(others).collect();
    let mut all = BTreeSet::new();
    while let Some(net) = left.pop() {
        if all.insert(net)
            && let Some(harming) = of_source.get(&search.source_driving(net))
        {
            left.extend(&harming.turned);
        }
    }
    all
}

/// Of one source.
fn harming(
    search: &Search,
    source: Source,
    rows: &[LevelRow],
    corner: &RailCorner,
    book: &Levels,
) -> Harming {
    let mut found = Harming::default();
    let around = surroundings(search, source).gathered(search.plan, &[book]);
    let group = Group {
        members: &around.copies(),
        held: &held(search, source, &around),
    };
    let Some(mut stand) = Stand::new(search.plan, &group, corner, search.varied, search.context)
    else {
        return found;
    };
    let rests = rests(search, &mut stand, source, rows, corner, book);
    for (row, rest) in rows.iter().zip(rests) {
        let Some(mut rest) = rest else { continue };
        stand.feed(search.plan, corner, &row.values, book);
        let far = far_feeds(&stand.scene, corner, &row.values);
        for &(net, up) in &row.outputs {
            let Some(&node) = stand.scene.nets.get(&net) else {
                continue;
            };
            let reading = Reading::of_node(node, up);
            for (fed, moved) in stand.moved_by(reading, &mut rest, &far, None) {
                // What comes to no rest may do anything.
                if moved.is_nan() || STILL_VOLTS < moved {
                    found.worst.insert(fed);
                }
                if moved.is_nan() || moved < -STILL_VOLTS {
                    found.turned.insert(fed);
                }
            }
        }
    }
    found
}

/// Every feed that no switch gives, with the volts of the last rail on the side of its value away from the other value.
pub(in crate::margins) fn far_feeds(
    scene: &Scene,
    corner: &RailCorner,
    values: &Values,
) -> Vec<FarFeed> {
    let lowest = corner.volts.iter().copied().fold(0.0, f64::min);
    let highest = corner.volts.iter().copied().fold(0.0, f64::max);
    let feeds = scene.feeds.iter().filter(|(_, feed)| feed.switch.is_none());
    feeds
        .map(|(&net, feed)| {
            let up = values.get(&net).copied().unwrap_or(false);
            FarFeed {
                net,
                tie: feed.tie,
                volts: if up { highest } else { lowest },
            }
        })
        .collect()
}
