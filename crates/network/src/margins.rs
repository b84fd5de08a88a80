//! What is left of every connection's volts in the worst case: every part anywhere in its band, every rail at an end of its
//! tolerance, loads from none to all.
//!
//! At each corner of the rails the worst level of every output is found with its inputs at the worst levels that they have
//! there, and the worst threshold of every input; the margin is the smallest difference over the corners. Rails are the same
//! for driver and load, everything else moves by itself.

use crate::connections::{AllThresholds, Thresholds};
use crate::judge::{Context, Levels, MemberResult};
use crate::plan::{MemberIndex, NetIndex, Plan};
use crate::rows::Others;
use crate::variation::{Factor, Piece, Quantity, SpreadAssumptions, Varied};
use crate::verdict::Verdict;
use corners::rail_corners;
use design::model::CircuitId;
use levels::{CornerLevels, worst_levels};
use numerics::corner::Largest;
use std::collections::BTreeMap;
use thresholds::{CornerThresholds, worst_thresholds};

pub mod alone;
pub mod cases;
pub mod choosing;
mod corners;
pub mod findings;
mod levels;
pub mod marginal;
mod stand;
pub mod tallies;
mod thresholds;
pub mod yields;

pub use corners::RailCorner;

/// A part that is not at its book value in the worst case.
#[derive(Debug, Clone, PartialEq)]
pub struct Moved {
    /// Whose.
    pub member: MemberIndex,
    /// Which of its parts, or which resistor of the bench.
    pub piece: Piece,
    /// How many members that are alike it stands for, each of which has its part there.
    pub count: usize,
    /// What of it.
    pub quantity: Quantity,
    /// Its value in the worst case, in the unit of the quantity.
    pub value: f64,
    /// The end of its band on that side.
    pub end: f64,
    /// Of a current where that of the tube's other half stands, if the two are held together; a share.
    pub other_half: Option<f64>,
    /// Volts by which the case is worse than with this part at its book value.
    pub volts: f64,
}

impl Moved {
    /// Volts for each per cent by which the part is off; `None` for what is not a share of a book value.
    #[must_use]
    pub fn volts_per_cent(&self) -> Option<f64> {
        for_each_percent(self.quantity, self.value, self.volts)
    }
}

/// Volts for each per cent by which a quantity is off its book value; `None` for what is not a share.
fn for_each_percent(quantity: Quantity, value: f64, volts: f64) -> Option<f64> {
    let share = matches!(quantity, Quantity::Ohms | Quantity::Current | Quantity::Mu);
    let percent = 100.0 * (value - quantity.book()).abs();
    (share && 0.0 < percent).then(|| volts / percent)
}

/// How a worst level or threshold comes about.
#[derive(Debug, Clone, PartialEq)]
pub struct Case {
    /// The unit's inputs (of a switch its value; at a threshold with the swept input down).
    pub inputs: Vec<bool>,
    /// Where the loads' other inputs stand.
    pub others: Others,
    /// Parts off their book values, the weightiest first.
    pub moved: Vec<Moved>,
}

/// One side of a connection: when down, or when up.
#[derive(Debug, Clone, PartialEq)]
pub struct SideMargin {
    /// To spare at book values, V; negative is short.
    pub book_volts: f64,
    /// To spare in the worst case, V.
    pub volts: f64,
    /// Where the rails stand: an index into [`Margins::corners`].
    pub corner: usize,
    /// To spare at each corner.
    pub by_corner: Vec<f64>,
    /// Worst level of the driver there, V.
    pub level: f64,
    /// Worst threshold of the load there, V.
    pub threshold: f64,
    /// How the level comes about.
    pub level_case: Case,
    /// How the threshold comes about.
    pub threshold_case: Case,
}

/// A driver's output and one of its loads.
#[derive(Debug, Clone, PartialEq)]
pub struct ConnectionMargin {
    /// The net.
    pub net: NetIndex,
    /// Member and signal that drive it; `None` for a switch of the bench.
    pub driver: Option<(MemberIndex, usize)>,
    /// Member and signal driven.
    pub load: (MemberIndex, usize),
    /// When down.
    pub down: SideMargin,
    /// When up.
    pub up: SideMargin,
}

impl ConnectionMargin {
    /// The smaller of its two sides, and whether it is the up side.
    #[must_use]
    pub fn smallest(&self) -> (&SideMargin, bool) {
        if self.up.volts < self.down.volts {
            (&self.up, true)
        } else {
            (&self.down, false)
        }
    }
}

/// The margins of a machine.
#[derive(Debug, Clone, PartialEq)]
pub struct Margins {
    /// Where the rails may stand; the first at their book values.
    pub corners: Vec<RailCorner>,
    /// Every corner of the rails was tried.
    pub all_corners: bool,
    /// Worst levels of every net at each corner.
    pub levels: Vec<Levels>,
    /// Worst thresholds, low and high, of every input that has any, at each corner.
    pub thresholds: Vec<BTreeMap<(MemberIndex, usize), (f64, f64)>>,
    /// Every connection that has a threshold, smallest margin first.
    pub connections: Vec<ConnectionMargin>,
    /// Connections that have a threshold at book values and none in the worst case: the load no longer amplifies, or what it
    /// does is not known.
    pub not_known: Vec<(NetIndex, (MemberIndex, usize))>,
    /// Members that store and lose a state in the worst case.
    pub lost: Vec<MemberIndex>,
    /// Members of which some row did not come to rest.
    pub unknown: Vec<MemberIndex>,
    /// The levels stood still at every corner.
    pub settled: bool,
    /// Elements evaluated.
    pub evaluated: u64,
    /// What was assumed.
    pub spread: SpreadAssumptions,
}

/// What every search has in common.
struct Search<'a> {
    plan: &'a Plan<'a>,
    /// Levels and thresholds at book values.
    levels: &'a Levels,
    book: &'a AllThresholds,
    /// What the nets of circuits ask that leave the machine.
    asked: BTreeMap<CircuitId, Thresholds>,
    /// Levels of nets that are given and not solved, at each corner; none where everything is solved.
    given: &'a [Levels],
    varied: Varied<'a>,
    context: &'a Context,
}

impl<'a> Search<'a> {
    fn new(
        verdict: &'a Verdict<'a>,
        given: &'a [Levels],
        varied: Varied<'a>,
        context: &'a Context,
    ) -> Self {
        let circuits = verdict.circuits.iter().enumerate();
        Self {
            plan: &verdict.plan,
            levels: &verdict.place.levels,
            book: &verdict.thresholds,
            asked: circuits
                .filter_map(|(index, circuit)| Some((CircuitId(index), circuit.asked?)))
                .collect(),
            given,
            varied,
            context,
        }
    }
}

/// What was solved of every member at book values.
fn book_results<'a>(verdict: &'a Verdict) -> Vec<&'a MemberResult> {
    (0..verdict.plan.members.len())
        .map(|member| verdict.result(member))
        .collect()
}

/// The worst case of every connection of a machine that was judged at book values.
#[must_use]
pub fn check(verdict: &Verdict, spread: &SpreadAssumptions, context: &Context) -> Margins {
    let plan = &verdict.plan;
    let search = Search::new(verdict, &[], Varied::All(spread), context);
    let results = book_results(verdict);
    let (corners, all_corners) = rail_corners(plan);
    let (levels, for_levels) = worst_levels(&search, &results, &corners);
    let (thresholds, for_thresholds) =
        worst_thresholds(&search, &verdict.thresholds, &corners, &levels);
    let volts = |thresholds: &CornerThresholds| {
        let volts = thresholds.iter();
        volts
            .map(|(&input, worst)| (input, (worst.low, worst.high)))
            .collect()
    };
    let mut margins = Margins {
        corners,
        all_corners,
        levels: levels.iter().map(|corner| corner.levels.clone()).collect(),
        thresholds: thresholds.iter().map(volts).collect(),
        connections: Vec::new(),
        not_known: Vec::new(),
        lost: members(levels.iter().flat_map(|corner| &corner.lost)),
        unknown: members(levels.iter().flat_map(|corner| &corner.unknown)),
        settled: levels.iter().all(|corner| corner.settled),
        evaluated: for_levels + for_thresholds,
        spread: *spread,
    };
    for connection in &verdict.connections {
        let (Some(down), Some(up)) = (connection.spare_down(), connection.spare_up()) else {
            continue;
        };
        let side = |up_side, book_volts| {
            side(
                connection.net,
                connection.load,
                up_side,
                book_volts,
                &levels,
                &thresholds,
            )
        };
        match (side(false, down), side(true, up)) {
            (Some(down), Some(up)) => margins.connections.push(ConnectionMargin {
                net: connection.net,
                driver: connection.driver,
                load: connection.load,
                down,
                up,
            }),
            _ => margins.not_known.push((connection.net, connection.load)),
        }
    }
    margins.connections.sort_by(|left, right| {
        let volts = |connection: &ConnectionMargin| connection.smallest().0.volts;
        volts(left)
            .total_cmp(&volts(right))
            .then((left.net, left.load).cmp(&(right.net, right.load)))
    });
    margins
}

fn members<'a>(all: impl Iterator<Item = &'a MemberIndex>) -> Vec<MemberIndex> {
    let mut members: Vec<MemberIndex> = all.copied().collect();
    members.sort_unstable();
    members.dedup();
    members
}

/// The smallest difference over the corners.
fn side(
    net: NetIndex,
    load: (MemberIndex, usize),
    up: bool,
    book_volts: f64,
    levels: &[CornerLevels],
    thresholds: &[CornerThresholds],
) -> Option<SideMargin> {
    let mut by_corner = Vec::new();
    for (levels, thresholds) in levels.iter().zip(thresholds) {
        let level = levels.levels.get(&net)?;
        let threshold = thresholds.get(&load)?;
        by_corner.push(if up {
            level.up - threshold.high
        } else {
            threshold.low - level.down
        });
    }
    let corner = (0..by_corner.len())
        .min_by(|&left, &right| by_corner[left].total_cmp(&by_corner[right]))?;
    let level = levels[corner].cases.get(&(net, up))?;
    let threshold = &thresholds[corner][&load];
    let (volts, case) = if up {
        (threshold.high, &threshold.high_case)
    } else {
        (threshold.low, &threshold.low_case)
    };
    Some(SideMargin {
        book_volts,
        volts: by_corner[corner],
        corner,
        by_corner,
        level: level.volts,
        threshold: volts,
        level_case: level.case.clone(),
        threshold_case: case.clone(),
    })
}

/// The parts that are not at their book values, the weightiest first.
fn moved(factors: &[Factor], largest: &Largest) -> Vec<Moved> {
    moved_with(factors, &largest.settings, &largest.effects)
}

/// The same with effects of the caller's.
fn moved_with(factors: &[Factor], settings: &[f64], effects: &[f64]) -> Vec<Moved> {
    let off = factors.iter().enumerate();
    let off = off.filter(|(place, factor)| factor.is_off(*place, settings));
    let mut moved: Vec<Moved> = off
        .map(|(place, factor)| Moved {
            member: factor.member,
            piece: factor.piece,
            count: factor.count(),
            quantity: factor.quantity,
            value: factor.value(place, settings),
            end: factor.end(place, settings),
            other_half: factor.other_half(factors, settings),
            volts: factor.effect(place, settings, effects),
        })
        .collect();
    moved.sort_by(|left, right| right.volts.total_cmp(&left.volts));
    moved
}
