//! The worst thresholds of every input at one corner of the rails: the unit's own parts and its loads' anywhere in their
//! bands, its other inputs at their worst levels there.

use super::corners::RailCorner;
use super::levels::{CornerLevels, Source, held, rails_around, surroundings, translated};
use super::stand::{Group, Point, Stand, Start};
use super::{Case, Moved, Search, moved_with};
use crate::connections::AllThresholds;
use crate::plan::MemberIndex;
use crate::rows::{Others, Values};
use crate::solve::OperatingPoint;
use crate::surroundings::{Surroundings, signature};
use crate::transfer::{range_of, sensitising};
use crate::wiring::{ElementIndex, NodeIndex};
use numerics::corner::largest;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// By this share of the span of the supplies a sweep goes beyond them on either side, so that it is known by how much a
/// threshold that lies there is missed.
const BEYOND: f64 = 0.25;
/// Points of a sweep: as close as for the book values.
const SWEEP_POINTS: usize = 49;
/// Points of each refinement, and how many: to a tenth of a volt on 200 V, and between two slopes in a straight line.
const REFINEMENT_POINTS: usize = 9;
const REFINEMENTS: usize = 4;
/// Where a threshold is known with like settings it is sought within this share of the range either way, by so many points and
/// refinements: to the same interval.
const NEAR: f64 = 1.0 / 16.0;
const NEAR_POINTS: usize = 13;
const NEAR_REFINEMENTS: usize = 3;
/// Half of the step over which a slope is taken, V: chosen, far above what volts are solved to and far below a knee.
const HALF_STEP_VOLTS: f64 = 5e-3;
/// Slopes and volts that change less do not count.
const TOLERANCE: f64 = 1e-6;
/// A threshold that moves less is found, V.
const STILL_VOLTS: f64 = 1e-3;
/// Rounds of settings and threshold in turns: chosen, two or three are usual.
const ROUNDS: usize = 8;

/// One input.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct WorstThresholds {
    pub low: f64,
    pub high: f64,
    pub low_case: Case,
    pub high_case: Case,
    /// Every curve's two thresholds in turn: where other corners begin.
    starts: Vec<Near>,
}

/// Where the search for a threshold begins.
#[derive(Debug, Clone, PartialEq)]
struct Near {
    start: Start,
    /// A threshold that is near; `None` where nothing is known.
    volts: Option<f64>,
}

impl Near {
    /// At book values.
    fn book(count: usize) -> Self {
        Self {
            start: Start::book(count),
            volts: None,
        }
    }
}

pub(super) type CornerThresholds = BTreeMap<(MemberIndex, usize), WorstThresholds>;

/// What an input asks: that the slope stays below one, or that the output keeps away from the thresholds further on.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Ask {
    Slope,
    Output { low: f64, high: f64 },
}

struct Job {
    corner: usize,
    member: MemberIndex,
    input: usize,
    around: Surroundings,
    ask: Ask,
    starts: Vec<Near>,
}

/// The worst thresholds at every corner. `book` tells which inputs have any, and which pass on those of the gates further on;
/// `asked` are those of nets that leave the machine.
pub(super) fn worst_thresholds(
    search: &Search,
    book: &AllThresholds,
    corners: &[RailCorner],
    levels: &[CornerLevels],
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
        evaluated += solve_all(search, corners, levels, work, &mut all);
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
        evaluated += solve_all(search, corners, levels, work, &mut all);
    }
    (all, evaluated)
}

/// The tightest thresholds among the loads of a follower; where its net leaves the machine those that its circuit asks alone.
/// `None` where one is not known yet.
fn asked_further_on(search: &Search, member: MemberIndex, known: &CornerThresholds) -> Option<Ask> {
    let plan = search.plan;
    let inputs = plan.circuit(member).interface.inputs;
    let mut needs: Vec<(f64, f64)> = Vec::new();
    for &net in &plan.members[member].nets[inputs..] {
        for load in &plan.loads[net] {
            if search.book.contains_key(load) {
                let need = known.get(load)?;
                needs.push((need.low, need.high));
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
    })
}

fn solve_all(
    search: &Search,
    corners: &[RailCorner],
    levels: &[CornerLevels],
    work: Vec<(usize, MemberIndex, usize, Ask)>,
    all: &mut [CornerThresholds],
) -> u64 {
    let plan = search.plan;
    let mut groups: BTreeMap<Vec<u64>, Vec<Job>> = BTreeMap::new();
    for (corner, member, input, ask) in work {
        let levels = &levels[corner].levels;
        let around = surroundings(plan, Source::Member(member)).gathered(plan, levels);
        let (mut key, _) = signature(plan, &around, levels);
        key.push(input as u64);
        if let Ask::Output { low, high } = ask {
            key.extend([low.to_bits(), high.to_bits()]);
        }
        let rails = rails_around(plan, &around);
        key.extend(
            rails
                .into_iter()
                .map(|rail| corners[corner].volts[rail].to_bits()),
        );
        let (low, high) = range_of(plan, member, input);
        key.extend([low.to_bits(), high.to_bits()]);
        let known = all[0].get(&(member, input));
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
    let held = held(plan, Source::Member(job.member), &job.around);
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
    let mut low: Option<(f64, Case)> = None;
    let mut high: Option<(f64, Case)> = None;
    let inputs = plan.circuit(job.member).interface.inputs;
    let (lowest, highest) = range_of(plan, job.member, job.input);
    let beyond = BEYOND * (highest - lowest);
    let range = (lowest - beyond, highest + beyond);
    let mut all_known = true;
    let mut starts: Vec<Near> = Vec::new();
    let mut last: [Option<Near>; 2] = [None, None];
    let count = stand.factors.len();
    for output in inputs..plan.circuit(job.member).interface.signals.len() {
        let Some(node) = stand.node(job.member, output) else {
            continue;
        };
        for swept in sensitising(plan, job.member, job.input, output) {
            for others in [Others::Down, Others::Up] {
                let mut values: Values = swept.values.clone();
                for net in stand.scene.feeds.keys() {
                    values.entry(*net).or_insert(others == Others::Up);
                }
                stand.feed(plan, corner, &values, &levels.levels);
                let Some(mut rest) = stand.rest(None) else {
                    all_known = false;
                    continue;
                };
                let mut sweep = Sweep {
                    stand: &mut stand,
                    tie,
                    node,
                    rest: &mut rest,
                    range,
                    falls: swept.falls,
                    ask: job.ask,
                    searching: search.varied.moves(),
                };
                for side in [Side::Low, Side::High] {
                    let known = job.starts.get(starts.len());
                    let start = known
                        .or(last[side as usize].as_ref())
                        .filter(|near| near.start.settings.len() == count)
                        .cloned()
                        .unwrap_or_else(|| Near::book(count));
                    let Some((volts, parts, start)) = sweep.worst(side, start) else {
                        all_known = false;
                        starts.push(Near::book(count));
                        continue;
                    };
                    let found = Near {
                        start,
                        volts: Some(volts),
                    };
                    last[side as usize] = Some(found.clone());
                    starts.push(found);
                    let case = Case {
                        inputs: swept.inputs.clone(),
                        others,
                        moved: parts,
                    };
                    let known = match side {
                        Side::Low => &mut low,
                        Side::High => &mut high,
                    };
                    let worse = known.as_ref().is_none_or(|known| match side {
                        Side::Low => volts < known.0,
                        Side::High => known.0 < volts,
                    });
                    if worse {
                        *known = Some((volts, case));
                    }
                }
                if job.around.loads.is_empty() {
                    break;
                }
            }
        }
    }
    let found = low.zip(high).filter(|_| all_known);
    let worst = found.map(|((low, low_case), (high, high_case))| WorstThresholds {
        low,
        high,
        low_case,
        high_case,
        starts,
    });
    (worst, stand.evaluated)
}

/// Thresholds of one input, without a search, at given levels; `further_on` are those of the gates that a follower drives.
pub(super) fn thresholds_of(
    search: &Search,
    (member, input): (MemberIndex, usize),
    corner: &RailCorner,
    levels: &CornerLevels,
    further_on: &CornerThresholds,
) -> Option<(f64, f64)> {
    let passed_on = search.book.get(&(member, input))?.passed_on;
    let ask = if passed_on {
        asked_further_on(search, member, further_on)?
    } else {
        Ask::Slope
    };
    let job = Job {
        corner: 0,
        member,
        input,
        around: surroundings(search.plan, Source::Member(member)),
        ask,
        starts: vec![
            Near {
                start: Start {
                    settings: vec![1.0],
                    effects: vec![0.0],
                },
                volts: None
            };
            MOST_CURVES
        ],
    };
    let (worst, _) = solve(search, &job, corner, levels);
    worst.map(|worst| (worst.low, worst.high))
}

/// Thresholds of one input's curves at the most, for their starts: two of every combination of six inputs, loads down and up.
const MOST_CURVES: usize = 4 << 6;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Side {
    Low,
    High,
}

/// One input swept with everything else held.
struct Sweep<'a> {
    stand: &'a mut Stand,
    tie: ElementIndex,
    node: NodeIndex,
    rest: &'a mut OperatingPoint,
    range: (f64, f64),
    falls: bool,
    ask: Ask,
    /// Something moves, so that the worst is to be searched.
    searching: bool,
}

impl Sweep<'_> {
    /// The worst threshold: at the threshold so far the settings are sought that do there what a threshold means most of all,
    /// and with these settings the threshold anew, until it stands still.
    fn worst(&mut self, side: Side, near: Near) -> Option<(f64, Vec<Moved>, Start)> {
        let mut start = near.start;
        let mut volts = match near.volts {
            Some(near) => self.threshold_near(&start.settings, side, near)?,
            None => self.threshold(&start.settings, side)?,
        };
        if !self.searching {
            return Some((volts, Vec::new(), start));
        }
        for _ in 0..ROUNDS {
            let found = largest(&start.settings, TOLERANCE, start.care(), |points| {
                self.badness(volts, points, side)
            });
            if found.settings == start.settings {
                start.effects = found.effects;
                break;
            }
            let Some(moved) = self.threshold_near(&found.settings, side, volts) else {
                break;
            };
            let further = match side {
                Side::Low => volts - moved,
                Side::High => moved - volts,
            };
            if further < -STILL_VOLTS {
                break;
            }
            start = Start::from(&found);
            volts = moved;
            if further < STILL_VOLTS {
                break;
            }
        }
        // What a part does to the slope or the output, over what a volt at the input does to it.
        let steps = [volts - HALF_STEP_VOLTS, volts + HALF_STEP_VOLTS];
        let [before, after] =
            steps.map(|at| self.badness(at, std::slice::from_ref(&start.settings), side)[0]);
        let by_volt = (after - before).abs() / (2.0 * HALF_STEP_VOLTS);
        let effects: Vec<f64> = start
            .effects
            .iter()
            .map(|effect| effect / by_volt)
            .collect();
        let moved = moved_with(&self.stand.factors, &start.settings, &effects);
        Some((volts, moved, start))
    }

    /// What must be largest at the threshold for it to be the worst: the slope, or how far the output has come.
    fn badness(&mut self, volts: f64, settings: &[Vec<f64>], side: Side) -> Vec<f64> {
        match self.ask {
            Ask::Slope => self.slopes(
                &settings
                    .iter()
                    .map(|settings| (settings.as_slice(), volts))
                    .collect::<Vec<_>>(),
            ),
            Ask::Output { .. } => {
                let points: Vec<Point> = settings
                    .iter()
                    .map(|settings| self.point(settings, volts))
                    .collect();
                let out = self.stand.volts(self.node, self.rest, &[], &points);
                let rising = self.rises_towards_bad(side);
                out.into_iter()
                    .map(|out| if rising { out } else { -out })
                    .collect()
            }
        }
    }

    /// An output below its low threshold must not rise, one above its high threshold must not fall.
    fn rises_towards_bad(&self, side: Side) -> bool {
        (side == Side::Low) != self.falls
    }

    fn point<'s>(&self, settings: &'s [f64], volts: f64) -> Point<'s> {
        Point {
            settings,
            source: Some((self.tie, volts)),
        }
    }

    /// Magnitude of the slope at some settings and input volts.
    fn slopes(&mut self, at: &[(&[f64], f64)]) -> Vec<f64> {
        let points: Vec<Point> = at
            .iter()
            .flat_map(|&(settings, volts)| {
                [volts - HALF_STEP_VOLTS, volts + HALF_STEP_VOLTS]
                    .map(|volts| self.point(settings, volts))
            })
            .collect();
        let out = self.stand.volts(self.node, self.rest, &[], &points);
        out.chunks(2)
            .map(|pair| (pair[1] - pair[0]).abs() / (2.0 * HALF_STEP_VOLTS))
            .collect()
    }

    /// Where the slope first (or last) reaches one, or the output what is asked further on.
    fn threshold(&mut self, settings: &[f64], side: Side) -> Option<f64> {
        let range = self.range;
        let window = self.curve(settings, range, SWEEP_POINTS);
        self.narrowed(settings, side, window, REFINEMENTS)
    }

    /// The same near where it was with like settings; over the whole range where it is not there.
    fn threshold_near(&mut self, settings: &[f64], side: Side, near: f64) -> Option<f64> {
        let half = NEAR * (self.range.1 - self.range.0);
        let window = self.curve(settings, (near - half, near + half), NEAR_POINTS);
        let within = match self.found(&window, side) {
            Some(Found::Between(interval, _)) => 0 < interval && interval + 2 < window.len(),
            Some(Found::AtEnd(_)) | None => false,
        };
        if within {
            self.narrowed(settings, side, window, NEAR_REFINEMENTS)
        } else {
            self.threshold(settings, side)
        }
    }

    fn narrowed(
        &mut self,
        settings: &[f64],
        side: Side,
        mut window: Vec<(f64, f64)>,
        refinements: usize,
    ) -> Option<f64> {
        let mut found = self.found(&window, side)?;
        for _ in 0..refinements {
            let Found::Between(interval, _) = found else {
                break;
            };
            let from = interval.saturating_sub(1);
            let to = (interval + 2).min(window.len() - 1);
            let around = (window[from].0, window[to].0);
            window = self.curve(settings, around, REFINEMENT_POINTS);
            let Some(finer) = self.found(&window, side) else {
                break;
            };
            found = finer;
        }
        Some(match found {
            Found::Between(_, volts) | Found::AtEnd(volts) => volts,
        })
    }

    /// Input and output volts at even steps; points that do not come to rest are left out.
    fn curve(
        &mut self,
        settings: &[f64],
        (low, high): (f64, f64),
        points: usize,
    ) -> Vec<(f64, f64)> {
        let step = (high - low) / (points - 1) as f64;
        let at: Vec<f64> = (0..points).map(|index| low + step * index as f64).collect();
        let sources: Vec<Point> = at
            .iter()
            .map(|&volts| self.point(settings, volts))
            .collect();
        let out = self.stand.volts(self.node, self.rest, &[], &sources);
        at.into_iter()
            .zip(out)
            .filter(|(_, out)| out.is_finite())
            .collect()
    }

    fn found(&self, curve: &[(f64, f64)], side: Side) -> Option<Found> {
        let mut intervals = 0..curve.len().saturating_sub(1);
        match self.ask {
            Ask::Slope => {
                // The mean slope of an interval is that at its middle: between two middles it is taken as a straight line.
                let slope = |interval: usize| {
                    let (left, right) = (curve[interval], curve[interval + 1]);
                    let middle = f64::midpoint(left.0, right.0);
                    (middle, ((right.1 - left.1) / (right.0 - left.0)).abs())
                };
                let steep = |&interval: &usize| 1.0 <= slope(interval).1;
                let last = intervals.end;
                let interval = match side {
                    Side::Low => intervals.find(steep),
                    Side::High => intervals.rev().find(steep),
                }?;
                let (volts, inside) = slope(interval);
                let before = match side {
                    Side::Low => interval.checked_sub(1),
                    Side::High => Some(interval + 1).filter(|next| *next < last),
                };
                let crossing = before.map(slope).map_or(volts, |(other, outside)| {
                    volts + (other - volts) * (inside - 1.0) / (inside - outside)
                });
                Some(Found::Between(interval, crossing))
            }
            Ask::Output { low, high } => {
                let wanted = if self.rises_towards_bad(side) {
                    low
                } else {
                    high
                };
                let crossing = intervals.find_map(|interval| {
                    let (left, right) = (curve[interval], curve[interval + 1]);
                    let (before, after) = (left.1 - wanted, right.1 - wanted);
                    (before * after <= 0.0 && before != after).then(|| {
                        let share = before / (before - after);
                        Found::Between(interval, left.0 + share * (right.0 - left.0))
                    })
                });
                crossing.or_else(|| {
                    // The output never comes as far as what is asked, or is beyond it from the beginning.
                    let (first, last) = (curve.first()?, curve.last()?);
                    let above = wanted < first.1.min(last.1);
                    Some(Found::AtEnd(if above == self.falls {
                        last.0
                    } else {
                        first.0
                    }))
                })
            }
        }
    }
}

/// Where a threshold lies on a curve.
#[derive(Debug, Clone, Copy)]
enum Found {
    /// In this interval, at these input volts.
    Between(usize, f64),
    /// The curve ends before it comes there.
    AtEnd(f64),
}
