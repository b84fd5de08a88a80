//! What is left of every connection's volts in the worst case: every part anywhere in its band, every rail at an end of its
//! tolerance, loads from none to all.
//!
//! At each corner of the rails the worst level of every output is found with its inputs at that end of the levels that they have
//! there which does more harm, and the worst threshold of every input; the margin is the smallest difference over the
//! corners. Rails are the same for driver and load, everything else moves by itself.

use crate::connections::{AllThresholds, Thresholds};
use crate::judge::{Context, Levels, MemberResult};
use crate::loops::Ring;
use crate::plan::{MemberIndex, NetIndex, Plan};
use crate::rows::{Others, Values};
use crate::variation::{Factor, Piece, Quantity, SpreadAssumptions, Varied};
use crate::verdict::Verdict;
use corners::rail_corners;
use design::model::CircuitId;
use duties::{turning_nets, units, worst_duties};
use free::free_outputs;
use levels::{CornerLevels, Source, turn_levels, worst_levels};
use losing::lose_in_rings;
use numerics::corner::Largest;
use std::collections::BTreeMap;
use std::sync::Arc;
use thresholds::{CornerThresholds, Spare, WorstThresholds, worst_thresholds};

pub mod alone;
pub mod cases;
pub mod choosing;
mod corners;
mod duties;
pub mod findings;
mod free;
mod levels;
mod losing;
pub mod marginal;
pub mod mending;
mod stand;
pub mod tallies;
mod thresholds;
pub mod yields;

pub use corners::RailCorner;
pub use duties::{DutyMargin, DutyNotKnown};
pub use free::{FreeLevel, FreeOutput};

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
    /// Where its effect is counted from: its book value, or the middle of a band that does not reach that.
    pub rest: f64,
    /// The end of its band on that side.
    pub end: f64,
    /// Of a current where that of the tube's other half stands, if the two are held together; a share.
    pub other_half: Option<f64>,
    /// Volts by which the case is worse than with this part there; of what a sentence asks of a part in the unit of that.
    pub volts: f64,
}

impl Moved {
    /// Volts for each per cent by which the part is off; `None` for what is not a share of a book value.
    #[must_use]
    pub fn volts_per_cent(&self) -> Option<f64> {
        for_each_percent(self.quantity, self.value - self.rest, self.volts)
    }
}

/// Volts for each per cent of the book value by which a quantity moved; `None` for what is not a share.
fn for_each_percent(quantity: Quantity, by: f64, volts: f64) -> Option<f64> {
    let share = matches!(quantity, Quantity::Ohms | Quantity::Current | Quantity::Mu);
    let percent = 100.0 * by.abs();
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
    /// To spare with every part at its book value and the rails as typed, V; negative is short.
    pub book_volts: f64,
    /// To spare in the worst case, V.
    pub volts: f64,
    /// Where the rails stand: an index into [`Margins::corners`].
    pub corner: usize,
    /// To spare at each corner; no number where the threshold lies further out than was looked, as does the level.
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
    /// Below this margin, V, it is called thin.
    pub thin_below: f64,
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

/// A stored state that does not last.
#[derive(Debug, Clone, PartialEq)]
pub struct LostState {
    /// Who stores it: a unit, or those of a ring.
    pub members: Vec<MemberIndex>,
    /// Where the rails stand: an index into [`Margins::corners`].
    pub corner: usize,
    /// Values of what drives them and of what they drive.
    pub values: Values,
    /// What loses it; parts that it is lost without stand at their book values.
    pub case: Case,
}

/// What of a worst case is not known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Missing {
    /// The level of the net: what drives it loses a stored state, or comes to no rest in some row.
    Level,
    /// The threshold of the load: its output no longer depends on this input, or it no longer amplifies, or comes to no rest.
    Threshold,
    /// Where the threshold of the load lies: further out than the input volts that are looked at.
    Beyond(Beyond),
}

/// A threshold that lies further out than the input volts that are looked at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Beyond {
    /// It is that for up, else that for down.
    pub up: bool,
    /// Where the search ended, V: it lies above that, or below where it is that for down.
    pub volts: f64,
    /// Worst level of the driver, V.
    pub level: f64,
}

impl Beyond {
    /// To spare if the threshold were where the search ended, V: there is less.
    #[must_use]
    pub fn spares_less_than(&self) -> f64 {
        if self.up {
            self.level - self.volts
        } else {
            self.volts - self.level
        }
    }

    /// The level does not even come as far as that: it falls short, and only by how much is not known.
    #[must_use]
    pub fn falls_short(&self) -> bool {
        self.spares_less_than() < 0.0
    }
}

/// A connection that has a threshold at book values and of which the worst case is not known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NotKnown {
    /// The net.
    pub net: NetIndex,
    /// Member and signal that drive it; `None` for a switch of the bench.
    pub driver: Option<(MemberIndex, usize)>,
    /// Member and signal driven.
    pub load: (MemberIndex, usize),
    /// What is missing.
    pub missing: Missing,
    /// The first corner of the rails at which it is: an index into [`Margins::corners`].
    pub corner: usize,
}

impl NotKnown {
    fn of(
        (net, driver, load): (NetIndex, Option<(MemberIndex, usize)>, (MemberIndex, usize)),
        levels: &[CornerLevels],
        thresholds: &[CornerThresholds],
    ) -> Self {
        let level = levels.iter().position(|corner| {
            [false, true]
                .iter()
                .any(|&up| !corner.cases.contains_key(&(net, up)))
        });
        let threshold = thresholds
            .iter()
            .position(|corner| !corner.contains_key(&load));
        let beyond = furthest_beyond(net, load, levels, thresholds);
        let short = beyond.filter(|(_, beyond)| beyond.falls_short());
        let (missing, corner) = match (short, level, threshold, beyond) {
            (Some((corner, beyond)), ..) | (None, None, None, Some((corner, beyond))) => {
                (Missing::Beyond(beyond), corner)
            }
            (None, Some(corner), ..) => (Missing::Level, corner),
            (None, None, threshold, _) => (Missing::Threshold, threshold.unwrap_or(0)),
        };
        Self {
            net,
            driver,
            load,
            missing,
            corner,
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
    /// The levels furthest the other way, the lowest down and the highest up, of the nets where these may do more harm, at each corner.
    pub turned: Vec<Levels>,
    /// Worst thresholds, low and high, of every input that has any, at each corner; infinite where one lies further out than was
    /// looked.
    pub thresholds: Vec<BTreeMap<(MemberIndex, usize), (f64, f64)>>,
    /// Every connection that has a threshold, smallest margin first.
    pub connections: Vec<ConnectionMargin>,
    /// Connections that have a threshold at book values and of which the worst case is not known.
    pub not_known: Vec<NotKnown>,
    /// What sentences ask of parts, smallest share of its limit to spare first.
    pub duties: Vec<DutyMargin>,
    /// What of that is not known.
    pub duties_not_known: Vec<DutyNotKnown>,
    /// Outputs that drive nothing with a threshold, the smallest swing first.
    pub free: Vec<FreeOutput>,
    /// Stored states that are lost in the worst case, one of each that stores.
    pub lost: Vec<LostState>,
    /// Members of which some row did not come to rest.
    pub unknown: Vec<MemberIndex>,
    /// The levels stood still at every corner.
    pub settled: bool,
    /// Elements evaluated.
    pub evaluated: u64,
    /// What was assumed.
    pub spread: SpreadAssumptions,
}

impl Margins {
    /// A stored state of a member, or of the ring that it is in, is lost.
    #[must_use]
    pub fn loses(&self, member: MemberIndex) -> bool {
        self.lost
            .iter()
            .any(|state| state.members.contains(&member))
    }
}

/// What every search has in common.
#[derive(Clone)]
struct Search<'a> {
    plan: &'a Plan<'a>,
    /// Levels and thresholds at book values.
    levels: &'a Levels,
    book: &'a AllThresholds,
    /// What the nets of circuits ask that leave the machine.
    asked: BTreeMap<CircuitId, Thresholds>,
    /// Units that hold one another.
    rings: Arc<[RingOf]>,
    /// Levels of nets that are given and not solved, at each corner; none where everything is solved.
    given: &'a [CornerLevels],
    varied: Varied<'a>,
    /// What feeds a unit may stand furthest the other way too, where that does more harm; else at its worst alone.
    both_ends: bool,
    context: &'a Context,
}

/// Units that hold one another, with the states that last at book values.
#[derive(Debug, Clone)]
struct RingOf {
    members: Vec<MemberIndex>,
    /// Values of what feeds them and of what they drive, and whether it is one of several states that go with the same feeds.
    states: Vec<(Values, bool)>,
}

impl RingOf {
    /// A ring of several units and those like it; none where a state does not last at book values.
    fn all(plan: &Plan, ring: &Ring) -> Vec<Self> {
        if ring.members.len() < 2 || ring.loses_a_state() {
            return Vec::new();
        }
        let first = &ring.members;
        std::iter::once(first)
            .chain(&ring.alike)
            .map(|members| {
                let nets = |member: &MemberIndex| plan.members[*member].nets.iter().copied();
                let there: BTreeMap<NetIndex, NetIndex> = first
                    .iter()
                    .flat_map(nets)
                    .zip(members.iter().flat_map(nets))
                    .collect();
                let states = ring.rows.iter().flat_map(|row| {
                    row.states.iter().map(|state| {
                        let values = row.inputs.iter().chain(&state.values);
                        let there = values.filter_map(|(net, &up)| Some((*there.get(net)?, up)));
                        (there.collect(), 1 < row.states.len())
                    })
                });
                Self {
                    members: members.clone(),
                    states: states.collect(),
                }
            })
            .collect()
    }
}

impl<'a> Search<'a> {
    /// What drives the outputs of a member: itself, or the ring that it is in.
    fn source_of(&self, member: MemberIndex) -> Source {
        let ring = self
            .rings
            .iter()
            .position(|ring| ring.members.contains(&member));
        ring.map_or(Source::Member(member), Source::Ring)
    }

    /// What drives a net.
    fn source_driving(&self, net: NetIndex) -> Source {
        match self.plan.drivers[net].first() {
            Some(&(member, _)) => self.source_of(member),
            None => Source::Switch(net),
        }
    }

    /// A source keeps a state.
    fn stores(&self, source: Source) -> bool {
        match source {
            Source::Member(member) => self.plan.stores(member),
            Source::Ring(_) => true,
            Source::Switch(_) => false,
        }
    }

    fn new(
        verdict: &'a Verdict<'a>,
        given: &'a [CornerLevels],
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
            rings: verdict
                .rings
                .iter()
                .flat_map(|ring| RingOf::all(&verdict.plan, ring))
                .collect(),
            given,
            varied,
            both_ends: true,
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

/// The worst case of every connection of a machine that was judged at book values, of what is asked of its parts, and of outputs
/// that nothing asks a level of.
#[must_use]
pub fn check(verdict: &Verdict, spread: &SpreadAssumptions, context: &Context) -> Margins {
    let search = Search::new(verdict, &[], Varied::All(spread), context);
    let (mut margins, mut levels) = check_connections(verdict, spread, context);
    let results = book_results(verdict);
    let corners = &margins.corners;
    let thin_share = verdict.limits.thin_share;
    let units = units(&search, &results);
    let turning = turning_nets(search.plan, &units);
    margins.evaluated += turn_levels(&search, &results, corners, &mut levels, &turning);
    let found = worst_duties(&search, &results, &units, corners, &levels, thin_share);
    margins.unknown = members(levels.iter().flat_map(|corner| &corner.unknown));
    margins.settled = levels.iter().all(|corner| corner.settled);
    margins.duties = found.margins;
    margins.duties_not_known = found.not_known;
    margins.evaluated += found.evaluated;
    let plan = &verdict.plan;
    let asks = |load: &(MemberIndex, usize)| verdict.thresholds.contains_key(load);
    let free = |net: &NetIndex| !plan.is_supply(*net) && !plan.loads[*net].iter().any(asks);
    let nets = (0..plan.nets.len()).filter(free);
    margins.free = free_outputs(plan, &verdict.place.levels, nets, &levels);
    margins
}

/// The same of connections alone, with the levels.
fn check_connections(
    verdict: &Verdict,
    spread: &SpreadAssumptions,
    context: &Context,
) -> (Margins, Vec<CornerLevels>) {
    let plan = &verdict.plan;
    let search = Search::new(verdict, &[], Varied::All(spread), context);
    let results = book_results(verdict);
    let (corners, all_corners) = rail_corners(plan);
    let (mut levels, for_levels) = worst_levels(&search, &results, &corners);
    let (thresholds, for_thresholds) =
        worst_thresholds(&search, &verdict.thresholds, &corners, &levels);
    lose_in_rings(&search, &results, &corners, &mut levels, &thresholds);
    let book = Book::of(&search, &verdict.thresholds, &results, &corners[..1]);
    let mut margins = Margins {
        corners,
        all_corners,
        levels: levels.iter().map(|corner| corner.levels.clone()).collect(),
        turned: levels.iter().map(|corner| corner.turned.clone()).collect(),
        thresholds: thresholds.iter().map(volts_of).collect(),
        connections: Vec::new(),
        not_known: Vec::new(),
        duties: Vec::new(),
        duties_not_known: Vec::new(),
        free: Vec::new(),
        lost: lost_states(&levels),
        unknown: members(levels.iter().flat_map(|corner| &corner.unknown)),
        settled: levels.iter().all(|corner| corner.settled),
        evaluated: for_levels + for_thresholds + book.evaluated,
        spread: *spread,
    };
    for connection in &verdict.connections {
        let (Some(down), Some(up)) = (connection.spare_down(), connection.spare_up()) else {
            continue;
        };
        let side = |up_side, judged_volts| {
            let spare = book.spare(connection.net, connection.load, up_side);
            side(
                connection.net,
                connection.load,
                up_side,
                spare.unwrap_or(judged_volts),
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
                thin_below: verdict.limits.thin_below(connection.level),
            }),
            _ => margins.not_known.push(NotKnown::of(
                (connection.net, connection.driver, connection.load),
                &levels,
                &thresholds,
            )),
        }
    }
    margins.connections.sort_by(|left, right| {
        let volts = |connection: &ConnectionMargin| connection.smallest().0.volts;
        volts(left)
            .total_cmp(&volts(right))
            .then((left.net, left.load).cmp(&(right.net, right.load)))
    });
    (margins, levels)
}

/// Levels and thresholds with every part at its book value and the rails as typed, solved in the way of the worst case, so that
/// the two can be compared: other inputs stand at the levels that they have there.
struct Book {
    levels: Vec<CornerLevels>,
    thresholds: Vec<CornerThresholds>,
    evaluated: u64,
}

impl Book {
    /// `typed` are the rails as typed.
    fn of(
        search: &Search,
        asked: &AllThresholds,
        results: &[&MemberResult],
        typed: &[RailCorner],
    ) -> Self {
        let search = Search {
            varied: Varied::Nothing,
            ..search.clone()
        };
        let (levels, for_levels) = worst_levels(&search, results, typed);
        let (thresholds, for_thresholds) = worst_thresholds(&search, asked, typed, &levels);
        Self {
            levels,
            thresholds,
            evaluated: for_levels + for_thresholds,
        }
    }

    /// To spare on one side of a connection, V; `None` where that does not stand still or is not known.
    fn spare(&self, net: NetIndex, load: (MemberIndex, usize), up: bool) -> Option<f64> {
        let [levels] = self.levels.as_slice() else {
            return None;
        };
        levels.cases.get(&(net, up)).filter(|_| levels.settled)?;
        spare(net, load, up, levels, self.thresholds.first()?)?.known()
    }
}

/// Of each that stores the state that the fewest parts lose, in the first corner of the rails where so few do.
fn lost_states(levels: &[CornerLevels]) -> Vec<LostState> {
    let mut all: BTreeMap<Vec<MemberIndex>, LostState> = BTreeMap::new();
    for (corner, levels) in levels.iter().enumerate() {
        for lost in &levels.lost {
            let fewer = |known: &LostState| lost.case.moved.len() < known.case.moved.len();
            if all.get(&lost.members).is_none_or(fewer) {
                let state = LostState {
                    members: lost.members.clone(),
                    corner,
                    values: lost.values.clone(),
                    case: lost.case.clone(),
                };
                all.insert(lost.members.clone(), state);
            }
        }
    }
    all.into_values().collect()
}

/// Worst thresholds without how they come about.
fn volts_of(thresholds: &CornerThresholds) -> BTreeMap<(MemberIndex, usize), (f64, f64)> {
    let volts = |worst: &WorstThresholds| {
        let [low, high] = worst.beyond;
        (
            if low { f64::NEG_INFINITY } else { worst.low },
            if high { f64::INFINITY } else { worst.high },
        )
    };
    let thresholds = thresholds.iter();
    thresholds
        .map(|(&input, worst)| (input, volts(worst)))
        .collect()
}

/// Of the thresholds of a load that lie further out than was looked the one that leaves least, with the corner of the rails.
fn furthest_beyond(
    net: NetIndex,
    load: (MemberIndex, usize),
    levels: &[CornerLevels],
    thresholds: &[CornerThresholds],
) -> Option<(usize, Beyond)> {
    let corners = levels.iter().zip(thresholds).enumerate();
    let all = corners.flat_map(|(corner, (levels, thresholds))| {
        let sides = [false, true].into_iter();
        sides.filter_map(move |up| {
            let worst = thresholds.get(&load)?;
            let beyond = Beyond {
                up,
                volts: if up { worst.high } else { worst.low },
                level: levels.cases.get(&(net, up))?.volts,
            };
            worst.beyond[usize::from(up)].then_some((corner, beyond))
        })
    });
    all.min_by(|left, right| {
        let least = |one: &(usize, Beyond)| one.1.spares_less_than();
        least(left).total_cmp(&least(right))
    })
}

fn members<'a>(all: impl Iterator<Item = &'a MemberIndex>) -> Vec<MemberIndex> {
    let mut members: Vec<MemberIndex> = all.copied().collect();
    members.sort_unstable();
    members.dedup();
    members
}

/// What is to spare on one side of a connection at one corner; `None` where its level or threshold is not known.
fn spare(
    net: NetIndex,
    load: (MemberIndex, usize),
    up: bool,
    levels: &CornerLevels,
    thresholds: &CornerThresholds,
) -> Option<Spare> {
    let level = levels.levels.get(&net)?;
    Some(thresholds.get(&load)?.spare(*level, up))
}

/// The smallest difference over the corners; `None` where a level or a threshold is not known at one. Where a threshold lies further
/// out than was looked, and the level with it, the side is known as long as it is short elsewhere.
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
        by_corner.push(match spare(net, load, up, levels, thresholds)? {
            Spare::Known(volts) => volts,
            Spare::LessThan(volts) if volts < 0.0 => return None,
            Spare::LessThan(_) => f64::NAN,
        });
    }
    // What is no number comes last.
    let corner = (0..by_corner.len())
        .min_by(|&left, &right| by_corner[left].total_cmp(&by_corner[right]))?;
    let unknown = by_corner.iter().any(|volts| volts.is_nan());
    let short = by_corner[corner] < 0.0;
    if unknown && !short {
        return None;
    }
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
            rest: factor.rest(),
            end: factor.end(place, settings),
            other_half: factor.other_half(factors, settings),
            volts: factor.effect(place, settings, effects),
        })
        .collect();
    moved.sort_by(|left, right| right.volts.total_cmp(&left.volts));
    moved
}
