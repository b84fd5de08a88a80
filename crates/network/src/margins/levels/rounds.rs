//! Rounds of the levels until they stand still. Of what stands alike one is solved, and nothing is solved again, or looked at
//! again, whose feeds did not move.

use super::{
    Aim, CornerLevels, Done, Job, LevelRow, Levels, Looking, ROUNDS, STILL_VOLTS, Starts, driven,
    held, key, side, solve, surroundings, take,
};
use crate::judge::Level;
use crate::margins::Search;
use crate::margins::corners::RailCorner;
use crate::margins::levels::Source;
use crate::plan::NetIndex;
use crate::surroundings::Surroundings;
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

/// What is sought of one source at one corner.
struct Place<'a> {
    corner: usize,
    aim: Aim,
    rows: &'a [LevelRow],
    around: Surroundings,
    /// All nets around.
    nets: BTreeSet<NetIndex>,
    /// Among those that stand alike.
    group: usize,
}

/// Places that stand alike, once they are solved: how closely they were looked at, and what was found, with the surroundings of the
/// place that was solved.
type Group = Option<(Looking, Surroundings, Option<Done>)>;

/// Goes round until the levels of all corners that are sought stand still; returns the elements evaluated.
pub(super) fn stand_still(
    search: &Search,
    rows: &BTreeMap<Source, Vec<LevelRow>>,
    aims: &[Aim],
    corners: &[RailCorner],
    all: &mut [CornerLevels],
    starts: &mut Starts,
) -> u64 {
    let mut evaluated = 0;
    // Where the slopes lead until the levels stand still; then all that is worst is confirmed, and so on until that changes
    // nothing.
    let mut looking = if search.varied.moves() {
        Looking::AlongSlopes
    } else {
        Looking::NotAtAll
    };
    let mut places: Vec<Place> = Vec::new();
    let mut groups: Vec<Group> = Vec::new();
    let mut known: BTreeMap<Vec<u64>, usize> = BTreeMap::new();
    let mut changed: Vec<BTreeSet<NetIndex>> = Vec::new();
    for round in 0..ROUNDS {
        // The last round confirms in any case: only then is it known what each part does.
        if round + 1 == ROUNDS && looking == Looking::AlongSlopes {
            looking = Looking::Closely;
        }
        if places.is_empty() {
            let at = (0..all.len()).flat_map(|corner| aims.iter().map(move |&aim| (corner, aim)));
            let at: Vec<(usize, Aim)> = at.collect();
            let found: Vec<(Place, Vec<u64>)> = at
                .into_par_iter()
                .map(|(corner, aim)| {
                    Place::of(search, aim, &rows[&aim.source], corner, corners, all)
                })
                .collect();
            for (mut place, key) in found {
                place.group = group_of(&mut known, &mut groups, key);
                places.push(place);
            }
        } else {
            let moved: Vec<(usize, (Place, Vec<u64>))> = places
                .par_iter()
                .enumerate()
                .filter(|(_, place)| !place.nets.is_disjoint(&changed[place.corner]))
                .map(|(number, place)| {
                    let Place {
                        aim, rows, corner, ..
                    } = *place;
                    (number, Place::of(search, aim, rows, corner, corners, all))
                })
                .collect();
            for (number, (mut place, key)) in moved {
                place.group = group_of(&mut known, &mut groups, key);
                places[number] = place;
            }
        }
        let mut first: BTreeMap<usize, usize> = BTreeMap::new();
        for (number, place) in places.iter().enumerate() {
            let looked = groups[place.group].as_ref().map(|(looked, _, _)| *looked);
            if looked < Some(looking) {
                first.entry(place.group).or_insert(number);
            }
        }
        let done: Vec<(usize, usize, Option<Done>)> = first
            .into_par_iter()
            .map(|(group, number)| {
                let place = &places[number];
                let feeding = all[place.corner].feeding();
                let job = place.job(search, starts);
                let done = solve(search, &job, &corners[place.corner], feeding, looking, None);
                (group, number, done)
            })
            .collect();
        let mut new: BTreeSet<usize> = BTreeSet::new();
        for (group, number, done) in done {
            evaluated += done.as_ref().map_or(0, |done| done.evaluated);
            new.insert(group);
            groups[group] = Some((looking, places[number].around.clone(), done));
        }
        // Where the next search begins, and the levels.
        let mut found: Vec<[Found; 2]> = vec![[Found::new(), Found::new()]; all.len()];
        for place in &places {
            let Some((_, _, Some(done))) = &groups[place.group] else {
                continue;
            };
            if new.contains(&place.group) {
                starts.insert((place.corner, place.aim), done.starts());
            }
            let found = &mut found[place.corner][usize::from(place.aim.turned)];
            done.furthest(place.aim, place.rows, found);
        }
        let mut moved: f64 = 0.0;
        changed = vec![BTreeSet::new(); all.len()];
        for ((corner, found), changed) in all.iter_mut().zip(found).zip(&mut changed) {
            // What moved by less than a quarter of what stands still stays, so that what hangs on it need not be solved again.
            let least = STILL_VOLTS / 4.0;
            let [worst, turned] = found;
            let worst = put_levels(&mut corner.levels, &worst, least, changed);
            let turned = put_levels(&mut corner.turned, &turned, least, changed);
            corner.settled = worst.max(turned) < STILL_VOLTS;
            moved = moved.max(worst).max(turned);
        }
        looking = match (moved < STILL_VOLTS, looking) {
            (true, Looking::Closely | Looking::NotAtAll) => break,
            (false, Looking::NotAtAll) => Looking::NotAtAll,
            (true, _) => Looking::Closely,
            (false, _) => Looking::AlongSlopes,
        };
    }
    if aims.iter().any(|aim| !aim.turned) {
        for corner in all.iter_mut() {
            corner.cases.clear();
            corner.unknown.clear();
            corner.lost.clear();
        }
    }
    for place in &places {
        if let Some((_, around, done)) = &groups[place.group] {
            let job = place.job(search, starts);
            take(search, &job, around, done.as_ref(), &mut all[place.corner]);
        }
    }
    for corner in all {
        let worst = corner.cases.iter();
        let worst: Found = worst.map(|(&at, worst)| (at, worst.volts)).collect();
        put_levels(&mut corner.levels, &worst, 0.0, &mut BTreeSet::new());
    }
    evaluated
}

fn group_of(
    known: &mut BTreeMap<Vec<u64>, usize>,
    groups: &mut Vec<Group>,
    key: Vec<u64>,
) -> usize {
    *known.entry(key).or_insert_with(|| {
        groups.push(None);
        groups.len() - 1
    })
}

impl<'a> Place<'a> {
    /// With the levels as they are, and all that its solution depends on.
    fn of(
        search: &Search,
        aim: Aim,
        rows: &'a [LevelRow],
        corner: usize,
        corners: &[RailCorner],
        all: &[CornerLevels],
    ) -> (Self, Vec<u64>) {
        let (plan, source) = (search.plan, aim.source);
        let levels = all[corner].feeding().both();
        let around = surroundings(search, source).gathered(plan, &levels);
        // What it drives itself does not feed it.
        let own = driven(search, source);
        let feeding = levels.map(|levels| -> Levels {
            let around = around.members();
            let nets = around.iter().flat_map(|&member| &plan.members[member].nets);
            nets.filter(|net| !own.contains(net))
                .filter_map(|net| Some((*net, *levels.get(net)?)))
                .collect()
        });
        let both = [&feeding[0], &feeding[1]];
        let (mut key, nets) = key(plan, source, &around, rows, &corners[corner], &both);
        key.push(u64::from(aim.turned));
        let nets = nets.into_iter().filter(|net| !own.contains(net)).collect();
        let place = Self {
            corner,
            aim,
            rows,
            around,
            nets,
            group: 0,
        };
        (place, key)
    }

    fn job(&self, search: &Search, starts: &Starts) -> Job<'a> {
        Job {
            aim: self.aim,
            corner: self.corner,
            held: held(search, self.aim.source, &self.around),
            around: self.around.clone(),
            rows: self.rows,
            starts: starts
                .get(&(self.corner, self.aim))
                .or_else(|| starts.get(&(0, self.aim)))
                .cloned(),
        }
    }
}

/// Levels found, by net and value, V.
pub(super) type Found = BTreeMap<(NetIndex, bool), f64>;

/// Puts levels found in place that moved by more than `least`, V, and notes their nets; returns how far any did that was known.
fn put_levels(
    levels: &mut Levels,
    found: &Found,
    least: f64,
    changed: &mut BTreeSet<NetIndex>,
) -> f64 {
    let mut moved: f64 = 0.0;
    for (&(net, up), &found) in found {
        let known = levels.contains_key(&net);
        let level = levels.entry(net).or_insert(Level { down: 0.0, up: 0.0 });
        let volts = side(level, up);
        let by = (*volts - found).abs();
        if least < by || !known {
            *volts = found;
            changed.insert(net);
        }
        if known {
            moved = moved.max(by);
        }
    }
    moved
}
