//! One input of a unit swept with everything else held: where its threshold lies, which settings of the parts put it furthest
//! out, and what each of them does to it.

use crate::ensemble::Solutions;
use crate::margins::levels::{FreeFeed, standing, turn_all};
use crate::margins::stand::{FEED_ROUNDS, Point, Stand, Start, read, settled};
use crate::margins::{Moved, moved_with};
use crate::probe::Probe;
use crate::solve::OperatingPoint;
use crate::wiring::{ElementIndex, NodeIndex};
use numerics::corner::{Care, Largest, Response, largest};

/// Points of a sweep: as close as for the book values.
const SWEEP_POINTS: usize = 49;
/// Points of each refinement, and how many: to a tenth of a volt on 200 V, and between two slopes in a straight line.
const REFINEMENT_POINTS: usize = 9;
const REFINEMENTS: usize = 4;
/// Where a threshold is known with like settings it is sought in steps of this share of the range, then in shorter ones, so many
/// times: what a straight line misses is then far less than a millivolt.
const NEAR: f64 = 1.0 / 24.0;
const NEARER: f64 = 1.0 / 8.0;
const NEAR_ROUNDS: usize = 3;
/// Where nothing is searched the first step is this share of that: chosen, what is steep in a restoring gate is wider.
const CLOSELY: f64 = 0.25;
/// Half of the step over which a slope is taken, V: chosen, far above what volts are solved to and far below a knee.
const HALF_STEP_VOLTS: f64 = 5e-3;
/// Slopes and volts that change less do not count.
const TOLERANCE: f64 = 1e-6;
/// A part whose effect in a straight line is less than this share of all effects together is left at that: chosen.
const COUNTS: f64 = 1e-3;
/// Rounds in which thresholds with one part back are sought, half of the step over which they are, V, and the furthest that a round
/// goes, a share of the range: chosen.
const BACK_ROUNDS: usize = 4;
const BACK_STEP_VOLTS: f64 = 0.02;
const FURTHEST_BACK: f64 = 0.02;
/// A threshold that moves less is found, V.
const STILL_VOLTS: f64 = 1e-3;
/// Rounds of settings and threshold in turns: chosen, two or three are usual.
const ROUNDS: usize = 8;

/// Where the search for a threshold begins.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Near {
    pub start: Start,
    /// A threshold that is near; `None` where nothing is known.
    pub volts: Option<f64>,
}

impl Near {
    /// With every part at one setting.
    pub(super) fn all_at(setting: f64, count: usize) -> Self {
        Self {
            start: Start::all_at(setting, count),
            volts: None,
        }
    }
}

/// What an input asks: that the slope stays below one, or that the output keeps away from the thresholds further on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Ask {
    Slope,
    Output {
        low: f64,
        high: f64,
        /// Which of the two, low and high, lie further out than was looked.
        beyond: [bool; 2],
    },
}

impl Ask {
    /// A threshold at these volts is only where the search ended, and lies further out: the range ends there, or what is asked of the
    /// output lies further out itself. The output falls, or rises, as the input rises.
    pub(super) fn is_beyond(self, side: Side, falls: bool, range: (f64, f64), volts: f64) -> bool {
        let asked = match self {
            Self::Output { beyond, .. } => beyond[usize::from(!rises_towards_bad(side, falls))],
            Self::Slope => false,
        };
        let at_end = match side {
            Side::Low => volts <= range.0,
            Side::High => range.1 <= volts,
        };
        asked || at_end
    }
}

/// An output below its low threshold must not rise, one above its high threshold must not fall.
fn rises_towards_bad(side: Side, falls: bool) -> bool {
    (side == Side::Low) != falls
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Side {
    Low,
    High,
}

impl Side {
    pub(super) const BOTH: [Self; 2] = [Self::Low, Self::High];

    /// By how much one threshold is less far out than another, V.
    pub(super) fn behind(self, volts: f64, other: f64) -> f64 {
        match self {
            Self::Low => volts - other,
            Self::High => other - volts,
        }
    }
}

/// A threshold with one part back at its book value.
struct Back {
    place: usize,
    settings: Vec<f64>,
    volts: f64,
    found: bool,
}

fn with(settings: &[f64], place: usize, setting: f64) -> Vec<f64> {
    let mut settings = settings.to_vec();
    settings[place] = setting;
    settings
}

/// One input swept with everything else held.
pub(super) struct Sweep<'a> {
    pub stand: &'a mut Stand,
    pub tie: ElementIndex,
    pub node: NodeIndex,
    pub rest: &'a mut OperatingPoint,
    pub range: (f64, f64),
    pub falls: bool,
    pub ask: Ask,
    pub side: Side,
}

impl Sweep<'_> {
    /// What a search finds with each of some feeds at that of its levels where it puts the threshold further out.
    pub(super) fn fed(
        &mut self,
        near: Near,
        feeds: &mut [FreeFeed],
        search: &mut dyn FnMut(&mut Self, Near) -> Option<Near>,
    ) -> Option<Near> {
        let mut near = search(self, near)?;
        for _ in 0..FEED_ROUNDS {
            if feeds.is_empty() || !self.harm(&near, feeds) {
                break;
            }
            near = search(self, near)?;
        }
        near.start.fed = standing(feeds);
        Some(near)
    }

    /// Puts each feed at the other one of its levels where that alone makes the excess at a threshold larger; whether any was.
    fn harm(&mut self, near: &Near, feeds: &mut [FreeFeed]) -> bool {
        let Some(volts) = near.volts else {
            return false;
        };
        let settings = &near.start.settings;
        let others = feeds
            .iter()
            .map(|feed| Some((feed.tie, feed.other_volts())));
        let mut points = Vec::new();
        for other in std::iter::once(None).chain(others) {
            let here = self.points(settings, volts).into_iter();
            points.extend(here.map(|point| Point {
                sources: [point.sources[0], other],
                ..point
            }));
        }
        let solutions = self.stand.solve(self.rest, &[], &points);
        let excesses = self.read(&solutions);
        let turned = turn_all(feeds, &excesses, TOLERANCE, |feeds| {
            self.stand.hold(feeds);
            self.excesses(&[(settings, volts)])[0]
        });
        self.stand.hold(feeds);
        turned.is_some()
    }

    /// The threshold at the settings of a start.
    fn there(&mut self, mut near: Near) -> Option<Near> {
        near.volts = Some(match near.volts {
            Some(volts) => self.threshold_near(&near.start.settings, volts)?,
            None => self.threshold(&near.start.settings)?,
        });
        Some(near)
    }

    /// The same where little has moved: looked for in short steps at first, so that what is steep is not stepped over.
    pub(super) fn there_closely(&mut self, mut near: Near) -> Option<Near> {
        let closely = |sweep: &mut Self, volts: f64| {
            sweep.closed_in(&near.start.settings, volts, CLOSELY * NEAR)
        };
        match near.volts.and_then(|volts| closely(self, volts)) {
            Some(volts) => {
                near.volts = Some(volts);
                Some(near)
            }
            None => self.there(near),
        }
    }

    /// The worst threshold as far as slopes lead: at the threshold so far the settings are sought that do there what a threshold
    /// means most of all, and with these settings the threshold anew, until it stands still.
    pub(super) fn led(&mut self, near: Near) -> Option<Near> {
        let mut near = self.there(near)?;
        for _ in 0..ROUNDS {
            match self.moved_on(&near) {
                Some((moved, by)) => {
                    near = moved;
                    if by < STILL_VOLTS {
                        break;
                    }
                }
                None => break,
            }
        }
        Some(near)
    }

    /// The same with every part tried by itself; and the whole range is looked at once more for a threshold further out.
    pub(super) fn confirmed(&mut self, mut near: Near) -> Option<Near> {
        for _ in 0..ROUNDS {
            let care = near.start.care();
            let volts = near.volts?;
            let found = self.largest(volts, &near.start, care);
            if found.settings == near.start.settings {
                near.start = Start::from(&found);
                break;
            }
            let moved = Near {
                start: Start::from(&found),
                volts: Some(self.threshold_near(&found.settings, volts)?),
            };
            let moved = self.led(moved)?;
            if self.further(volts, moved.volts?) < STILL_VOLTS {
                break;
            }
            near = moved;
        }
        let over_all = self.threshold(&near.start.settings)?;
        if STILL_VOLTS < self.further(near.volts?, over_all) {
            near.volts = Some(over_all);
            return self.led(near);
        }
        Some(near)
    }

    /// Settings that are worse at a threshold, with the threshold there and by how much it is further out; `None` where there are
    /// none.
    fn moved_on(&mut self, near: &Near) -> Option<(Near, f64)> {
        let volts = near.volts?;
        let found = self.largest(volts, &near.start, Care::Slopes);
        if found.settings == near.start.settings {
            return None;
        }
        let moved = self.threshold_near(&found.settings, volts)?;
        let by = self.further(volts, moved);
        (-STILL_VOLTS < by).then(|| {
            let near = Near {
                start: Start::from(&found),
                volts: Some(moved),
            };
            (near, by)
        })
    }

    /// By how much one threshold is further out than another, V.
    fn further(&self, volts: f64, other: f64) -> f64 {
        self.side.behind(volts, other)
    }

    /// What each part does to the threshold: where it would lie with that part alone back at its book value.
    ///
    /// All are sought together, by Newton's method from where the slopes say; where that does not lead to one the straight line
    /// stands.
    pub(super) fn moved(&mut self, near: &Near) -> Vec<Moved> {
        let settings = &near.start.settings;
        let Some(volts) = near.volts else {
            return Vec::new();
        };
        let straight = self.straight_effects(settings, volts);
        let all: f64 = straight.iter().map(|effect| effect.abs()).sum();
        let outwards = match self.side {
            Side::Low => -1.0,
            Side::High => 1.0,
        };
        let mut back: Vec<Back> = straight
            .iter()
            .enumerate()
            .filter(|(place, effect)| settings[*place] != 0.0 && COUNTS * all < effect.abs())
            .map(|(place, effect)| Back {
                place,
                settings: with(settings, place, 0.0),
                volts: volts - outwards * effect,
                found: false,
            })
            .collect();
        let furthest = FURTHEST_BACK * (self.range.1 - self.range.0);
        for _ in 0..BACK_ROUNDS {
            let at: Vec<(&[f64], f64)> = back
                .iter()
                .flat_map(|one| {
                    [-BACK_STEP_VOLTS, BACK_STEP_VOLTS]
                        .map(|step| (one.settings.as_slice(), one.volts + step))
                })
                .collect();
            let excesses = self.excesses(&at);
            for (one, pair) in back.iter_mut().zip(excesses.chunks(2)) {
                let slope = (pair[1] - pair[0]) / (2.0 * BACK_STEP_VOLTS);
                let step = f64::midpoint(pair[0], pair[1]) / slope;
                one.found = step.abs() < STILL_VOLTS;
                if step.is_finite() {
                    one.volts -= step.clamp(-furthest, furthest);
                }
            }
        }
        let mut effects = straight;
        for one in back.into_iter().filter(|one| one.found) {
            effects[one.place] = outwards * (volts - one.volts);
        }
        moved_with(&self.stand.factors, settings, &effects)
    }

    /// The same in a straight line: the slope of the excess by each setting times that, over what a volt at the input does to it.
    fn straight_effects(&mut self, settings: &[f64], volts: f64) -> Vec<f64> {
        let steps =
            [volts - HALF_STEP_VOLTS, volts + HALF_STEP_VOLTS].map(|volts| (settings, volts));
        let excesses = self.excesses(&steps);
        let by_volt = (excesses[1] - excesses[0]).abs() / (2.0 * HALF_STEP_VOLTS);
        let mut excess = Excess {
            sweep: self,
            volts,
            last: None,
        };
        let slopes = excess.slopes(settings);
        let slopes = slopes.unwrap_or_else(|| vec![0.0; settings.len()]);
        let pairs = slopes.iter().zip(settings);
        pairs
            .map(|(slope, setting)| slope * setting / by_volt)
            .collect()
    }

    fn largest(&mut self, volts: f64, start: &Start, care: Care) -> Largest {
        let response = Excess {
            sweep: self,
            volts,
            last: None,
        };
        start.lasting(largest(&start.settings, TOLERANCE, care, response))
    }

    /// By how much what an input asks is passed at some settings and input volts: the slope over one, or the output over what is
    /// asked further on, towards what is wrong.
    fn excesses(&mut self, at: &[(&[f64], f64)]) -> Vec<f64> {
        let solutions = self.solve(at);
        self.read(&solutions)
    }

    /// The rests that tell the excess at some settings and input volts: of a slope two for each.
    fn solve(&mut self, at: &[(&[f64], f64)]) -> Solutions {
        let points: Vec<Point> = at
            .iter()
            .flat_map(|&(settings, volts)| self.points(settings, volts))
            .collect();
        self.stand.solve(self.rest, &[], &points)
    }

    /// The points that tell the excess at some settings and input volts.
    fn points<'s>(&self, settings: &'s [f64], volts: f64) -> Vec<Point<'s>> {
        let steps: &[f64] = match self.ask {
            Ask::Slope => &[-HALF_STEP_VOLTS, HALF_STEP_VOLTS],
            Ask::Output { .. } => &[0.0],
        };
        let point = |step: &f64| self.point(settings, volts + step);
        steps.iter().map(point).collect()
    }

    /// The excesses that rests tell.
    fn read(&self, solutions: &Solutions) -> Vec<f64> {
        let out = read(solutions, self.node);
        match self.ask {
            Ask::Slope => out
                .chunks(2)
                .map(|pair| (pair[1] - pair[0]).abs() / (2.0 * HALF_STEP_VOLTS) - 1.0)
                .collect(),
            Ask::Output { .. } => {
                let wanted = self.wanted();
                out.into_iter()
                    .map(|out| self.direction() * (out - wanted))
                    .collect()
            }
        }
    }

    /// 1 where an output is too far when it is higher, −1 where it is when lower.
    fn direction(&self) -> f64 {
        if self.rises_towards_bad() { 1.0 } else { -1.0 }
    }

    fn rises_towards_bad(&self) -> bool {
        rises_towards_bad(self.side, self.falls)
    }

    /// What an output must keep away from.
    fn wanted(&self) -> f64 {
        match self.ask {
            Ask::Output { low, .. } if self.rises_towards_bad() => low,
            Ask::Output { high, .. } => high,
            Ask::Slope => 1.0,
        }
    }

    fn point<'s>(&self, settings: &'s [f64], volts: f64) -> Point<'s> {
        Point {
            settings,
            sources: [Some((self.tie, volts)), None],
        }
    }

    /// Where the slope first (or last) reaches one, or the output what is asked further on.
    fn threshold(&mut self, settings: &[f64]) -> Option<f64> {
        let range = self.range;
        let window = self.curve(settings, range, SWEEP_POINTS);
        self.narrowed(settings, window)
    }

    /// The same near where it was with like settings; over the whole range where it is not there.
    ///
    /// Four places a step apart, of which two neighbours have it between them; then four in a shorter step around the place to
    /// which a straight line between these leads.
    fn threshold_near(&mut self, settings: &[f64], near: f64) -> Option<f64> {
        match self.closed_in(settings, near, NEAR) {
            Some(volts) => Some(volts),
            None => self.threshold(settings),
        }
    }

    /// The same; `None` where it is not there. The first step is this share of the range, at whose end one further out is left.
    fn closed_in(&mut self, settings: &[f64], near: f64, step: f64) -> Option<f64> {
        let (low, high) = self.range;
        let mut step = step * (high - low);
        let mut volts = near;
        for _ in 0..NEAR_ROUNDS {
            volts = self.crossing(settings, volts, step)?;
            step *= NEARER;
        }
        Some(volts.clamp(low, high))
    }

    /// Where the excess passes from none to some, among four places around `near`, outermost first.
    fn crossing(&mut self, settings: &[f64], near: f64, step: f64) -> Option<f64> {
        let inwards = match self.side {
            Side::Low => step,
            Side::High => -step,
        };
        let places = [-1.5, -0.5, 0.5, 1.5].map(|share| near + share * inwards);
        let excesses = self.excesses(&places.map(|volts| (settings, volts)));
        let between = (0..places.len() - 1).find(|&outer| 0.0 <= excesses[outer + 1])?;
        let (outer, inner) = (excesses[between], excesses[between + 1]);
        (outer < 0.0).then(|| {
            let share = outer / (outer - inner);
            places[between] + share * (places[between + 1] - places[between])
        })
    }

    fn narrowed(&mut self, settings: &[f64], mut window: Vec<(f64, f64)>) -> Option<f64> {
        let mut found = self.found(&window)?;
        for _ in 0..REFINEMENTS {
            let Found::Between(interval, _) = found else {
                break;
            };
            let from = interval.saturating_sub(1);
            let to = (interval + 2).min(window.len() - 1);
            let around = (window[from].0, window[to].0);
            window = self.curve(settings, around, REFINEMENT_POINTS);
            let Some(finer) = self.found(&window) else {
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
        let inner = (0..points - 1).map(|index| low + step * index as f64);
        let at: Vec<f64> = inner.chain([high]).collect();
        let sources: Vec<Point> = at
            .iter()
            .map(|&volts| self.point(settings, volts))
            .collect();
        let out = self
            .stand
            .numbers(Probe::Volts(self.node), self.rest, &[], &sources);
        at.into_iter()
            .zip(out)
            .filter(|(_, out)| out.is_finite())
            .collect()
    }

    fn found(&self, curve: &[(f64, f64)]) -> Option<Found> {
        let (first, last) = (curve.first()?.0, curve.last()?.0);
        // Which ends of the range a curve comes to: further out nothing is looked at.
        let from_end = first <= self.range.0;
        let to_end = self.range.1 <= last;
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
                let count = intervals.end;
                let (interval, end) = match self.side {
                    Side::Low => (intervals.find(steep), first),
                    Side::High => (intervals.rev().find(steep), last),
                };
                let interval = interval?;
                let (volts, inside) = slope(interval);
                let (before, ends) = match self.side {
                    Side::Low => (interval.checked_sub(1), from_end),
                    Side::High => (Some(interval + 1).filter(|next| *next < count), to_end),
                };
                let crossing = match before.map(slope) {
                    Some((other, outside)) => {
                        volts + (other - volts) * (inside - 1.0) / (inside - outside)
                    }
                    // It is steep from the end on.
                    None if ends => end,
                    None => volts,
                };
                Some(Found::Between(interval, crossing))
            }
            Ask::Output { .. } => {
                let wanted = self.wanted();
                let crossing = intervals.find_map(|interval| {
                    let (left, right) = (curve[interval], curve[interval + 1]);
                    let (before, after) = (left.1 - wanted, right.1 - wanted);
                    (before * after <= 0.0 && before != after).then(|| {
                        let share = before / (before - after);
                        Found::Between(interval, left.0 + share * (right.0 - left.0))
                    })
                });
                crossing.or_else(|| {
                    // The output never comes as far as what is asked, or is beyond it from the beginning: the threshold lies
                    // beyond one end of the range. Of a curve that does not come there nothing is known.
                    let lowest = curve[0].1.min(curve[curve.len() - 1].1);
                    let above = wanted < lowest;
                    let end = if above == self.falls { last } else { first };
                    (from_end && to_end).then_some(Found::AtEnd(end))
                })
            }
        }
    }
}

/// The excess at one threshold as a search sees it.
struct Excess<'s, 'a> {
    sweep: &'s mut Sweep<'a>,
    volts: f64,
    /// What was asked last, with its rests.
    last: Option<(Vec<Vec<f64>>, Solutions)>,
}

impl Response for Excess<'_, '_> {
    fn values(&mut self, settings: &[Vec<f64>]) -> Vec<f64> {
        let at: Vec<(&[f64], f64)> = settings
            .iter()
            .map(|settings| (settings.as_slice(), self.volts))
            .collect();
        let solutions = self.sweep.solve(&at);
        let excesses = self.sweep.read(&solutions);
        self.last = Some((settings.to_vec(), solutions));
        excesses
    }

    fn slopes(&mut self, at: &[f64]) -> Option<Vec<f64>> {
        let known = |last: &(Vec<Vec<f64>>, Solutions)| last.0.iter().position(|known| known == at);
        if self.last.as_ref().and_then(known).is_none() {
            self.values(&[at.to_vec()]);
        }
        let (asked, solutions) = self.last.as_ref()?;
        let number = asked.iter().position(|known| known == at)?;
        let points = self.sweep.points(at, self.volts);
        let first = number * points.len();
        let mut rises = Vec::new();
        for (place, point) in points.iter().enumerate() {
            let rest = settled(solutions, first + place)?;
            let lamps = &self.sweep.rest.lamps;
            rises.push(self.sweep.stand.rises(
                Probe::Volts(self.sweep.node),
                point,
                rest,
                lamps,
            )?);
        }
        let out = |place: usize| solutions.sample(first + place)[self.sweep.node];
        let slopes = match self.sweep.ask {
            Ask::Slope => {
                let share = (out(1) - out(0)).signum() / (2.0 * HALF_STEP_VOLTS);
                let pairs = rises[0].iter().zip(&rises[1]);
                pairs
                    .map(|(before, after)| share * (after - before))
                    .collect()
            }
            Ask::Output { .. } => {
                let direction = self.sweep.direction();
                rises[0].iter().map(|rise| direction * rise).collect()
            }
        };
        Some(self.sweep.stand.leading(at, slopes))
    }
}

/// Where a threshold lies on a curve.
#[derive(Debug, Clone, Copy)]
enum Found {
    /// In this interval, at these input volts.
    Between(usize, f64),
    /// The range ends, at these input volts, before the curve comes there.
    AtEnd(f64),
}
