//! How far a rail, or the heaters, can be moved: even steps until something fails, then closer in on where it does.

use super::standing::{Standing, standings, standings_of};
use super::{FURTHEST_SHARE, HEATERS_SHARE, Heated, Moved, Telling, as_typed, can_be_moved};
use crate::judge::Context;
use crate::margins::corners::RailCorner;
use crate::margins::thresholds::CornerThresholds;
use crate::variation::LATER_VOLTS;
use crate::verdict::Verdict;
use design::model::RailId;

/// Even steps between standing and the furthest, the first of which that fails is closed in on: chosen, each a tenth of the rail.
const STEPS: usize = 5;
/// Volts that stand and volts that fail lie no further apart than this share of the rail: chosen, as near as a meter sets it.
pub(super) const NEAREST_SHARE: f64 = 5e-4;
/// The same of the heaters, a share of their volts: chosen, what a meter for alternating volts tells.
pub(super) const NEAREST_HEATERS: f64 = 1e-3;
/// Rounds of closing in: halving alone needs eight.
const ROUNDS: usize = 16;
/// Rounds in which the straight line between both ends is trusted before every other one halves.
const STRAIGHT_ROUNDS: usize = 4;
/// The share of the nearest distance by which a straight line's crossing is passed, so that the next lies on its other side.
const PAST: f64 = 0.45;

/// Where something stands and where it fails, with what is to spare at each where that is known and says so.
#[derive(Debug, Clone, Copy)]
pub(super) struct Window {
    pub stands: f64,
    pub fails: f64,
    /// Positive at the one end, negative at the other.
    pub spare: [Option<f64>; 2],
}

impl Window {
    /// Where to look next, to come as near as `nearest`; `None` when that is reached.
    ///
    /// The straight line between both ends crosses zero somewhere; a little past it, towards the end that is further off, lies
    /// what most probably makes the window as small as it must be.
    pub(super) fn next(&self, round: usize, nearest: f64) -> Option<f64> {
        let width = self.fails - self.stands;
        if width.abs() <= nearest || ROUNDS <= round {
            return None;
        }
        let halved = f64::midpoint(self.stands, self.fails);
        let [Some(above), Some(below)] = self.spare else {
            return Some(halved);
        };
        if below == above || STRAIGHT_ROUNDS <= round && round % 2 == 1 {
            return Some(halved);
        }
        let share = above / (above - below);
        let past = PAST * nearest / width.abs();
        let share = if share < 0.5 {
            share + past
        } else {
            share - past
        };
        let ends = 0.5 * past;
        Some(self.stands + share.clamp(ends, 1.0 - ends) * width)
    }

    /// What was found at some place.
    pub(super) fn put(&mut self, at: f64, stands: bool, spare: Option<f64>) {
        if stands {
            self.stands = at;
            self.spare[0] = spare;
        } else {
            self.fails = at;
            self.spare[1] = spare;
        }
    }
}

/// A rail on its way.
struct Way {
    rail: RailId,
    larger: bool,
    window: Window,
    /// At the volts that stand; `None` as typed.
    stands: Option<Standing>,
    /// At the volts that fail; `None` where nothing does.
    fails: Option<Standing>,
}

/// Moves every rail that feeds circuits both ways, one at a time, from the rails as typed where `book` stands.
pub(super) fn moved_rails(
    verdict: &Verdict,
    book: &Standing,
    telling: Telling,
    context: &Context,
) -> Vec<Moved> {
    let rails = &verdict.plan.design.rails;
    let cases: Vec<(RailId, bool)> = (0..rails.len())
        .map(RailId)
        .filter(|rail| can_be_moved(verdict, *rail))
        .flat_map(|rail| [(rail, false), (rail, true)])
        .collect();
    let volts = |(rail, larger): (RailId, bool), step: usize| {
        let way = FURTHEST_SHARE * step as f64 / STEPS as f64;
        rails[rail.0].volts * if larger { 1.0 + way } else { 1.0 - way }
    };
    let mut ways: Vec<Way> = cases
        .iter()
        .map(|&(rail, larger)| Way {
            rail,
            larger,
            window: Window {
                stands: rails[rail.0].volts,
                fails: volts((rail, larger), STEPS),
                spare: [book.smallest(), None],
            },
            stands: None,
            fails: None,
        })
        .collect();
    for step in 1..=STEPS {
        let next = ways.iter().enumerate();
        let next: Vec<(usize, f64)> = next
            .filter(|(_, way)| way.fails.is_none())
            .map(|(index, way)| (index, volts((way.rail, way.larger), step)))
            .collect();
        go_on(verdict, book, &mut ways, &next, context);
    }
    telling("rails moved");
    for round in 0..ROUNDS {
        let next: Vec<(usize, f64)> = ways
            .iter()
            .enumerate()
            .filter(|(_, way)| way.fails.is_some())
            .filter_map(|(index, way)| {
                let nearest = NEAREST_SHARE * rails[way.rail.0].volts.abs();
                Some((index, way.window.next(round, nearest)?))
            })
            .collect();
        if next.is_empty() {
            break;
        }
        go_on(verdict, book, &mut ways, &next, context);
        telling("where they fail");
    }
    let moved = ways.into_iter().map(|way| {
        let next = way.stands.as_ref().unwrap_or(book).nearest(verdict);
        Moved {
            rail: way.rail,
            larger: way.larger,
            stands: way.window.stands,
            fails: way.fails.is_some().then_some(way.window.fails),
            first: way.fails.map(|fails| fails.failure(verdict, &next)),
            stopped: None,
            next,
        }
    });
    moved.collect()
}

/// Takes some of the ways to further volts, each from where it stands.
fn go_on(
    verdict: &Verdict,
    book: &Standing,
    ways: &mut [Way],
    next: &[(usize, f64)],
    context: &Context,
) {
    if next.is_empty() {
        return;
    }
    let corner = |&(index, volts): &(usize, f64)| {
        let mut corner = as_typed(verdict);
        corner.volts[ways[index].rail.0] = volts;
        corner
    };
    let corners: Vec<RailCorner> = next.iter().map(corner).collect();
    let from = next.iter().map(|(index, _)| &ways[*index].stands);
    let near: Vec<&CornerThresholds> = from
        .map(|stands| &stands.as_ref().unwrap_or(book).thresholds)
        .collect();
    let found = standings(verdict, &corners, &near, context);
    for (&(index, volts), standing) in next.iter().zip(found) {
        let way = &mut ways[index];
        let stands = !standing.fails();
        way.window.put(volts, stands, standing.smallest());
        if stands {
            way.stands = Some(standing);
        } else {
            way.fails = Some(standing);
        }
    }
}

/// How much later every tube conducts with its heater off its volts by a share of them, negative when down, V.
pub(super) fn less_heat_volts(share: f64) -> f64 {
    -LATER_VOLTS * share
}

/// The machine with the rails as typed and every heater off its volts by a share of them, negative when down.
pub(super) fn heated_at(
    verdict: &Verdict,
    book: &Standing,
    share: f64,
    context: &Context,
) -> Standing {
    let plan = verdict.plan.clone();
    let plan = plan.with_less_heat(less_heat_volts(share));
    let corners = [as_typed(verdict)];
    let mut found = standings_of(verdict, &plan, &corners, &[&book.thresholds], context);
    found.pop().expect("one for one state of the rails")
}

/// The machine with the rails as typed and every heater off its volts by as much as is done, one way; closer in where it fails.
pub(super) fn heated(verdict: &Verdict, book: &Standing, down: bool, context: &Context) -> Heated {
    let sign = if down { -1.0 } else { 1.0 };
    let at = |share: f64| heated_at(verdict, book, sign * share, context);
    let furthest = at(HEATERS_SHARE);
    let mut window = Window {
        stands: 0.0,
        fails: HEATERS_SHARE,
        spare: [book.smallest(), furthest.smallest()],
    };
    if !furthest.fails() {
        return Heated {
            share: sign * HEATERS_SHARE,
            fails_at: None,
            first: None,
            next: furthest.nearest(verdict),
        };
    }
    let (mut last, mut first) = (None, furthest);
    for round in 0..ROUNDS {
        let Some(share) = window.next(round, NEAREST_HEATERS) else {
            break;
        };
        let standing = at(share);
        let stands = !standing.fails();
        window.put(share, stands, standing.smallest());
        if stands {
            last = Some(standing);
        } else {
            first = standing;
        }
    }
    let next = last.as_ref().unwrap_or(book).nearest(verdict);
    Heated {
        share: sign * window.stands,
        fails_at: Some(sign * window.fails),
        first: Some(first.failure(verdict, &next)),
        next,
    }
}
