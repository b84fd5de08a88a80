//! The worst thresholds of every input at one corner of the rails: the unit's own parts and its loads' anywhere in their
//! bands, its other inputs at that end of their levels there which does more harm.

use super::corners::RailCorner;
use super::levels::{
    CornerLevels, STILL_VOLTS, Source, far_feeds, held, rails_around, surroundings, translated,
};
use super::stand::{Group, Reading, Stand};
use super::{Case, Search};
use crate::connections::AllThresholds;
use crate::judge::{Level, Levels};
use crate::plan::{MemberIndex, NetIndex, Plan};
use crate::rows::{Others, Values};
use crate::surroundings::{Surroundings, signature};
use crate::transfer::{range_of, sensitising};
use crate::wiring::NodeIndex;
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};
use sweep::{Ask, Near, Side, Sweep};

mod sweep;

/// By this share of the span of the supplies a sweep goes beyond them on either side, so that it is known by how much a
/// threshold that lies there is missed.
const BEYOND: f64 = 0.25;

/// One input.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct WorstThresholds {
    pub low: f64,
    pub high: f64,
    /// Which of the two, low and high, lie further out than was looked; their volts are then where that ended.
    pub beyond: [bool; 2],
    pub low_case: Case,
    pub high_case: Case,
    /// Every curve's two thresholds: where other corners begin.
    starts: Vec<[Near; 2]>,
}

impl WorstThresholds {
    /// What a level leaves on one side.
    pub(super) fn spare(&self, level: Level, up: bool) -> Spare {
        let volts = if up {
            level.up - self.high
        } else {
            self.low - level.down
        };
        if self.beyond[usize::from(up)] {
            Spare::LessThan(volts)
        } else {
            Spare::Known(volts)
        }
    }

    /// Where the curves begin when one part alone is put to a value.
    fn starts_of_one(&self) -> Vec<[Near; 2]> {
        let near = |near: &Near| Near {
            volts: near.volts,
            ..Near::all_at(1.0, 1)
        };
        let curves = self.starts.iter();
        curves.map(|sides| sides.each_ref().map(near)).collect()
    }
}

/// What is to spare, V.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Spare {
    Known(f64),
    /// The threshold lies further out than was looked.
    LessThan(f64),
}

impl Spare {
    /// As a number, V, where it is one.
    pub(super) fn known(self) -> Option<f64> {
        match self {
            Self::Known(volts) => Some(volts),
            Self::LessThan(_) => None,
        }
    }
}

pub(super) type CornerThresholds = BTreeMap<(MemberIndex, usize), WorstThresholds>;

struct Job {
    corner: usize,
    member: MemberIndex,
    input: usize,
    around: Surroundings,
    ask: Ask,
    starts: Vec<[Near; 2]>,
}

/// The worst thresholds at every corner. `book` tells which inputs have any, and which pass on those of the gates further on;
/// `asked` are those of nets that leave the machine.
pub(super) fn worst_thresholds(
    search: &Search,
    book: &AllThresholds,
    corners: &[RailCorner],
    levels: &[CornerLevels],
) -> (Vec<CornerThresholds>, u64) {
    worst_thresholds_near(search, book, corners, levels, &[])
}

/// The same looked for near thresholds that are known elsewhere, of each corner its own; where none are known near those of the first
/// corner.
pub(super) fn worst_thresholds_near(
    search: &Search,
    book: &AllThresholds,
    corners: &[RailCorner],
    levels: &[CornerLevels],
    near: &[&CornerThresholds],
) -> (Vec<CornerThresholds>, u64) {
    let mut all: Vec<CornerThresholds> = vec![CornerThresholds::new(); corners.len()];
    let mut evaluated = 0;
    let (passing, own): (Vec<_>, Vec<_>) = book
        .iter()
        .map(|(&input, thresholds)| (input, thresholds.passed_on))
        .partition(|(_, passed_on)| *passed_on);
    for range in [0..1, 1..corners.len()] {
        let work = range
            .flat_map(|corner| {
                own.iter()
                    .map(move |&((member, input), _)| (corner, member, input, Ask::Slope))
            })
            .collect();
        evaluated += solve_all(search, corners, levels, work, near, &mut all);
    }
    // Each round resolves one more follower of a chain.
    let mut left: Vec<(MemberIndex, usize)> = passing.into_iter().map(|(input, _)| input).collect();
    while !left.is_empty() {
        let mut work = Vec::new();
        left.retain(|&(member, input)| {
            let mut asks = Vec::new();
            for (corner, known) in all.iter().enumerate() {
                if let Some(ask) = asked_further_on(search, member, known) {
                    asks.push((corner, member, input, ask));
                }
            }
            let known = asks.len() == corners.len();
            if known {
                work.extend(asks);
            }
            !known
        });
        if work.is_empty() {
            break;
        }
        evaluated += solve_all(search, corners, levels, work, near, &mut all);
    }
    (all, evaluated)
}

/// The tightest thresholds among the loads of a follower; where its net leaves the machine those that its circuit asks alone.
/// `None` where one is not known yet.
fn asked_further_on(search: &Search, member: MemberIndex, known: &CornerThresholds) -> Option<Ask> {
    let plan = search.plan;
    let inputs = plan.circuit(member).interface.inputs;
    let mut needs: Vec<(f64, f64)> = Vec::new();
    let mut beyond = [false; 2];
    for &net in &plan.members[member].nets[inputs..] {
        for load in &plan.loads[net] {
            if search.book.contains_key(load) {
                let need = known.get(load)?;
                needs.push((need.low, need.high));
                beyond = [0, 1].map(|side| beyond[side] || need.beyond[side]);
            }
        }
    }
    if needs.is_empty() {
        let asked = search.asked.get(&plan.members[member].circuit)?;
        needs.push((asked.low, asked.high));
    }
    Some(Ask::Output {
        low: needs
            .iter()
            .map(|need| need.0)
            .fold(f64::INFINITY, f64::min),
        high: needs
            .iter()
            .map(|need| need.1)
            .fold(f64::NEG_INFINITY, f64::max),
        beyond,
    })
}

fn solve_all(
    search: &Search,
    corners: &[RailCorner],
    levels: &[CornerLevels],
    work: Vec<(usize, MemberIndex, usize, Ask)>,
    near: &[&CornerThresholds],
    all: &mut [CornerThresholds],
) -> u64 {
    let plan = search.plan;
    let mut groups: BTreeMap<Vec<u64>, Vec<Job>> = BTreeMap::new();
    for (corner, member, input, ask) in work {
        let levels = levels[corner].feeding().both();
        let around = surroundings(search, Source::Member(member)).gathered(plan, &levels);
        let (mut key, _) = signature(plan, &around, &levels);
        key.push(input as u64);
        if let Ask::Output { low, high, beyond } = ask {
            key.extend([low.to_bits(), high.to_bits()]);
            key.extend(beyond.map(u64::from));
        }
        let rails = rails_around(plan, &around);
        key.extend(
            rails
                .into_iter()
                .map(|rail| corners[corner].volts[rail].to_bits()),
        );
        let (low, high) = range_of(plan, member, input);
        key.extend([low.to_bits(), high.to_bits()]);
        let input_here = (member, input);
        let elsewhere = near.get(corner).and_then(|near| near.get(&input_here));
        let known = elsewhere.or_else(|| all[0].get(&input_here));
        groups.entry(key).or_default().push(Job {
            starts: known.map_or_else(Vec::new, |known| known.starts.clone()),
            corner,
            member,
            input,
            around,
            ask,
        });
    }
    let groups: Vec<Vec<Job>> = groups.into_values().collect();
    let solved: Vec<(Option<WorstThresholds>, u64)> = groups
        .par_iter()
        .map(|group| {
            let job = &group[0];
            solve(search, job, &corners[job.corner], &levels[job.corner])
        })
        .collect();
    let mut evaluated = 0;
    for (group, (solved, work)) in groups.iter().zip(solved) {
        evaluated += work;
        let Some(solved) = solved else { continue };
        for job in group {
            let of = |case: &Case| Case {
                moved: translated(&case.moved, &group[0].around, &job.around),
                ..case.clone()
            };
            let worst = WorstThresholds {
                low_case: of(&solved.low_case),
                high_case: of(&solved.high_case),
                ..solved.clone()
            };
            all[job.corner].insert((job.member, job.input), worst);
        }
    }
    evaluated
}

fn solve(
    search: &Search,
    job: &Job,
    corner: &RailCorner,
    levels: &CornerLevels,
) -> (Option<WorstThresholds>, u64) {
    let plan = search.plan;
    let held = held(search, Source::Member(job.member), &job.around);
    let group = Group {
        members: &job.around.copies(),
        held: &held,
    };
    let Some(mut stand) = Stand::new(plan, &group, corner, search.varied, search.context) else {
        return (None, 0);
    };
    let net = plan.members[job.member].nets[job.input];
    let Some(tie) = stand.scene.feeds.get(&net).map(|feed| feed.tie) else {
        return (None, 0);
    };
    let (lowest, highest) = range_of(plan, job.member, job.input);
    let beyond = BEYOND * (highest - lowest);
    let range = (lowest - beyond, highest + beyond);
    let searching = search.varied.moves();
    // What is at one value stands at its end.
    let unmoved = if searching { 0.0 } else { 1.0 };
    let count = stand.factors.len();
    let curves = curves(
        plan,
        &stand,
        (job.member, job.input),
        job.around.loads.is_empty(),
    );
    let mut sweep = |curve: &Curve,
                     side: Side,
                     work: &mut dyn FnMut(&mut Sweep, Near) -> Option<Near>,
                     near: Near| {
        stand.feed(plan, corner, &curve.values, &levels.levels);
        let mut feeds = levels.feeding().free_feeds(&stand.scene, &curve.values);
        feeds.retain(|feed| feed.tie != tie);
        stand.put_feeds(&mut feeds, &near.start);
        let mut rest = stand.rest(None)?;
        let mut sweep = Sweep {
            stand: &mut stand,
            tie,
            node: curve.node,
            rest: &mut rest,
            range,
            falls: curve.falls,
            ask: job.ask,
            side,
        };
        sweep.fed(near, &mut feeds, work)
    };
    // Every curve as far as the slopes lead.
    let mut found: Vec<[Option<Near>; 2]> = Vec::new();
    for (number, curve) in curves.iter().enumerate() {
        let of_side = |side: Side| {
            let known = job.starts.get(number).map(|starts| &starts[side as usize]);
            let before = found.last().and_then(|last| last[side as usize].as_ref());
            let start = known
                .or(before)
                .filter(|near| near.start.settings.len() == count)
                .cloned()
                .unwrap_or_else(|| Near::all_at(unmoved, count));
            let mut work = |sweep: &mut Sweep, near: Near| {
                if searching {
                    sweep.led(near)
                } else {
                    sweep.there_closely(near)
                }
            };
            sweep(curve, side, &mut work, start)
        };
        found.push(Side::BOTH.map(of_side));
    }
    let mut worst: [Option<(f64, Case)>; 2] = [None, None];
    let mut beyond = [false; 2];
    let all_known = found.iter().flatten().all(Option::is_some);
    for side in Side::BOTH.into_iter().filter(|_| all_known) {
        let volts = |near: &Option<Near>| {
            near.as_ref()
                .and_then(|near| near.volts)
                .unwrap_or(f64::NAN)
        };
        let behind = |left: f64, right: f64| side.behind(left, right);
        let mut order: Vec<usize> = (0..curves.len()).collect();
        order.sort_by(|&left, &right| {
            let volts = |number: usize| volts(&found[number][side as usize]);
            behind(volts(left), volts(right))
                .total_cmp(&0.0)
                .then(left.cmp(&right))
        });
        // The worst is confirmed, and every other that might be worse for what that has found.
        let mut gain: f64 = 0.0;
        for number in order {
            let near = &found[number][side as usize];
            let so_far = worst[side as usize].as_ref().map(|(volts, _)| *volts);
            let led = volts(near);
            if so_far.is_some_and(|so_far| 0.0 <= behind(led, so_far) - 2.0 * gain) {
                continue;
            }
            let Some(near) = near.clone() else { continue };
            let curve = &curves[number];
            let mut moved = Vec::new();
            let confirmed = if searching {
                let mut work = |sweep: &mut Sweep, near: Near| {
                    let near = sweep.confirmed(near)?;
                    moved = sweep.moved(&near);
                    Some(near)
                };
                sweep(curve, side, &mut work, near)
            } else {
                Some(near)
            };
            let at = volts(&confirmed);
            gain = gain.max(behind(led, at));
            if so_far.is_none_or(|so_far| behind(at, so_far) < 0.0) {
                let case = Case {
                    inputs: curve.inputs.clone(),
                    others: curve.others,
                    moved,
                };
                worst[side as usize] = Some((at, case));
            }
            if confirmed.is_some() {
                found[number][side as usize] = confirmed;
            }
        }
        beyond[side as usize] = curves.iter().zip(&found).any(|(curve, sides)| {
            let at = volts(&sides[side as usize]);
            job.ask.is_beyond(side, curve.falls, range, at)
        });
    }
    let [low, high] = worst;
    let worst = low
        .zip(high)
        .map(|((low, low_case), (high, high_case))| WorstThresholds {
            low,
            high,
            beyond,
            low_case,
            high_case,
            starts: found
                .into_iter()
                .map(|sides| sides.map(|near| near.unwrap_or_else(|| Near::all_at(unmoved, count))))
                .collect(),
        });
    (worst, stand.evaluated)
}

/// Every curve of an input: of each output, with the other inputs so that it depends on this one, and with the loads' other inputs
/// down and up where it is not `alone`.
pub(super) fn curves(
    plan: &Plan,
    stand: &Stand,
    (member, input): (MemberIndex, usize),
    alone: bool,
) -> Vec<Curve> {
    let interface = &plan.circuit(member).interface;
    let mut curves: Vec<Curve> = Vec::new();
    for output in interface.inputs..interface.signals.len() {
        let Some(node) = stand.node(member, output) else {
            continue;
        };
        for swept in sensitising(plan, member, input, output) {
            for others in [Others::Down, Others::Up] {
                let mut values: Values = swept.values.clone();
                for net in stand.scene.feeds.keys() {
                    values.entry(*net).or_insert(others == Others::Up);
                }
                curves.push(Curve {
                    node,
                    others,
                    values,
                    inputs: swept.inputs.clone(),
                    falls: swept.falls,
                });
                if alone {
                    break;
                }
            }
        }
    }
    curves
}

/// The nets whose level furthest the other way may do more harm to a threshold than their worst: with all parts by the book, or all at
/// the same end of their bands, and the input at its thresholds of the book, such a net moves an output when it is brought to the last rail on that side.
pub(super) fn harming_inputs(
    search: &Search,
    corner: &RailCorner,
    book: &Levels,
) -> BTreeSet<NetIndex> {
    let plan = search.plan;
    type InputWithNets = ((MemberIndex, usize), Vec<NetIndex>);
    let mut groups: BTreeMap<Vec<u64>, Vec<InputWithNets>> = BTreeMap::new();
    for (&(member, input), thresholds) in search.book {
        let around = surroundings(search, Source::Member(member)).gathered(plan, &[book]);
        let (mut key, nets) = signature(plan, &around, &[book]);
        key.push(input as u64);
        key.extend([thresholds.low, thresholds.high].map(f64::to_bits));
        groups.entry(key).or_default().push(((member, input), nets));
    }
    let groups: Vec<Vec<InputWithNets>> = groups.into_values().collect();
    let found: Vec<BTreeSet<NetIndex>> = groups
        .par_iter()
        .map(|group| harming_input(search, group[0].0, corner, book))
        .collect();
    let mut all = BTreeSet::new();
    for (group, found) in groups.iter().zip(found) {
        let first = &group[0].1;
        let places: Vec<usize> = found
            .iter()
            .filter_map(|net| first.iter().position(|known| known == net))
            .collect();
        for (_, nets) in group {
            all.extend(places.iter().map(|&place| nets[place]));
        }
    }
    all
}

/// Of one input.
fn harming_input(
    search: &Search,
    (member, input): (MemberIndex, usize),
    corner: &RailCorner,
    book: &Levels,
) -> BTreeSet<NetIndex> {
    let plan = search.plan;
    let mut found = BTreeSet::new();
    let source = Source::Member(member);
    let around = surroundings(search, source).gathered(plan, &[book]);
    let group = Group {
        members: &around.copies(),
        held: &held(search, source, &around),
    };
    let net = plan.members[member].nets[input];
    let stand = Stand::new(plan, &group, corner, search.varied, search.context);
    let Some((mut stand, thresholds)) = stand.zip(search.book.get(&(member, input))) else {
        return found;
    };
    let Some(tie) = stand.scene.feeds.get(&net).map(|feed| feed.tie) else {
        return found;
    };
    let middle = f64::midpoint(thresholds.low, thresholds.high);
    for curve in curves(plan, &stand, (member, input), around.loads.is_empty()) {
        stand.feed(plan, corner, &curve.values, book);
        let Some(mut rest) = stand.rest(None) else {
            continue;
        };
        let mut far = far_feeds(&stand.scene, corner, &curve.values);
        far.retain(|far| far.net != net);
        let reading = Reading::of_node(curve.node, false);
        for volts in [thresholds.low, middle, thresholds.high] {
            let input = Some((tie, volts));
            let moved = stand.moved_by(reading, &mut rest, &far, input).into_iter();
            // What comes to no rest may do anything.
            let moved = moved.filter(|(_, moved)| moved.is_nan() || STILL_VOLTS < moved.abs());
            found.extend(moved.map(|(fed, _)| fed));
        }
    }
    found
}

/// An output of the unit against one of its inputs, all else held.
pub(super) struct Curve {
    pub node: NodeIndex,
    inputs: Vec<bool>,
    others: Others,
    /// Of every net that feeds it but of the input itself.
    pub values: Values,
    falls: bool,
}

/// Thresholds of one input with one part at a value, without a search, at given levels; `book` are those of all inputs with every
/// part by the book: near its own they are looked for, and a follower asks for those of the gates that it drives.
pub(super) fn thresholds_of(
    search: &Search,
    (member, input): (MemberIndex, usize),
    corner: &RailCorner,
    levels: &CornerLevels,
    book: &CornerThresholds,
) -> Option<(f64, f64)> {
    let passed_on = search.book.get(&(member, input))?.passed_on;
    let ask = if passed_on {
        asked_further_on(search, member, book)?
    } else {
        Ask::Slope
    };
    let job = Job {
        corner: 0,
        member,
        input,
        around: surroundings(search, Source::Member(member)),
        ask,
        starts: book
            .get(&(member, input))
            .map_or_else(Vec::new, WorstThresholds::starts_of_one),
    };
    let (worst, _) = solve(search, &job, corner, levels);
    worst.map(|worst| (worst.low, worst.high))
}
