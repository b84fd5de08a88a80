//! Marginal check: how far each rail can be moved before the first connection fails, at the parts' book values; and, given the
//! rail at which a board fails, which part must be how far off that it does.
//!
//! The check moves one supply at a time on the bench: a machine with new parts bears what is computed here, and one that fails
//! earlier has a part that has drifted.

use super::corners::RailCorner;
use super::levels::{CornerLevels, LevelRow, Source, all_rows, levels_of, worst_levels};
use super::thresholds::{CornerThresholds, thresholds_of, worst_thresholds};
use super::{Search, book_results};
use crate::finding::Finding;
use crate::judge::{Context, Level};
use crate::plan::{MemberIndex, NetIndex, Plan};
use crate::rows::Others;
use crate::variation::{LATER_VOLTS, Quantity, SpreadAssumptions, Varied, part_ends};
use crate::verdict::{Verdict, ratings_exceeded};
use design::model::{PartKind, RailId};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// A rail is moved by up to this share of its volts: chosen; no supply of a bench is moved further for a check.
pub const FURTHEST_SHARE: f64 = 0.5;
/// Points of each pass between standing and falling, and passes: to half a thousandth of the rail.
const POINTS: usize = 10;
const PASSES: usize = 3;
/// The weakest tube looked for, a share of its book current.
pub const WEAKEST: f64 = 0.02;
/// Halvings of the share that is sought, and of the way to a rating: to a thousandth.
const HALVINGS: usize = 10;
/// Volts on the way at which ratings are looked at before the first passed is closed in on: chosen.
const RATING_STEPS: u32 = 3;

/// One side of a connection at some volts of the rails, every part at its book value.
#[derive(Debug, Clone, PartialEq)]
pub struct Near {
    /// The net.
    pub net: NetIndex,
    /// Member and signal that drive it; `None` for a switch.
    pub driver: Option<(MemberIndex, usize)>,
    /// Member and signal driven.
    pub load: (MemberIndex, usize),
    /// When up (else when down).
    pub up: bool,
    /// The driver's inputs then; of a switch its value.
    pub inputs: Vec<bool>,
    /// Where its loads' other inputs stand.
    pub others: Others,
    /// Volts of the net.
    pub level: f64,
    /// The threshold of the load, V.
    pub threshold: f64,
}

impl Near {
    /// Volts to spare; negative is short.
    #[must_use]
    pub fn spare(&self) -> f64 {
        if self.up {
            self.level - self.threshold
        } else {
            self.threshold - self.level
        }
    }
}

/// What fails.
#[derive(Debug, Clone, PartialEq)]
pub enum Why {
    /// A connection falls short.
    Short,
    /// A unit, or those of a ring, no longer keep a state that is stored.
    Loses(Vec<MemberIndex>),
    /// A gate no longer amplifies, or comes to no rest.
    NotKnown,
}

/// One rail moved one way.
#[derive(Debug, Clone, PartialEq)]
pub struct Moved {
    /// Which.
    pub rail: RailId,
    /// Moved away from ground (a higher magnitude) or towards it.
    pub larger: bool,
    /// Volts at which everything still stands.
    pub stands: f64,
    /// Volts at which something fails; `None` when nothing does down or up to [`FURTHEST_SHARE`], or before a rating is passed.
    pub fails: Option<f64>,
    /// What fails there.
    pub why: Option<Why>,
    /// The rating that would be passed beyond `stands`, before anything fails.
    pub stopped: Option<Stop>,
    /// Both sides of every connection that has a threshold, at the last volts that stand, least to spare first.
    pub next: Vec<Near>,
}

/// A rating that ends the moving of a rail.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stop {
    /// Whose rating: `S1.V1`, or a heater.
    pub subject: String,
    /// What would pass it: `plate volts`; the name of the finding where no number is compared.
    pub what: String,
    /// What it is called: `rating (DM160)`; empty where no number is compared.
    pub rating: String,
}

impl Moved {
    /// What fails first; `None` when nothing does.
    #[must_use]
    pub fn first(&self) -> Option<&Near> {
        self.fails.and(self.next.first())
    }

    /// Whether there is something to look for on the bench: it fails, or would if no rating stood in the way.
    #[must_use]
    pub fn is_step(&self) -> bool {
        (self.fails.is_some() || self.stopped.is_some()) && !self.next.is_empty()
    }
}

/// Every rail moved each way.
#[derive(Debug, Clone, PartialEq)]
pub struct MarginalCheck {
    /// With the rails as typed and every part at its book value nothing fails.
    pub stands: bool,
    /// Every rail that feeds circuits towards ground and away from it; empty where nothing driven has a threshold.
    pub moved: Vec<Moved>,
    /// In which order to do so on the bench: indices into `moved`.
    pub order: Vec<usize>,
    /// The heaters of all tubes by [`HEATERS_SHARE`] down, and up; empty where nothing driven has a threshold.
    pub heaters: Vec<Heated>,
}

/// By how much heaters are taken down and up, a share of their volts (a marginal check of the 1950s, and the most that leaves
/// oxide cathodes unharmed: common practice, no source).
pub const HEATERS_SHARE: f64 = 0.1;

/// The heaters of all tubes off their volts.
#[derive(Debug, Clone, PartialEq)]
pub struct Heated {
    /// By how much, a share of their volts; negative is down.
    pub share: f64,
    /// Nothing fails.
    pub stands: bool,
    /// Both sides of every connection that has a threshold, least to spare first.
    pub next: Vec<Near>,
}

/// Moves every rail that feeds circuits both ways, one at a time, and puts that in an order for the bench.
#[must_use]
pub fn marginal_check(verdict: &Verdict, context: &Context) -> MarginalCheck {
    let mut moved = moved_rails(verdict, context);
    stop_at_ratings(verdict, &mut moved, context);
    let order = bench_order(verdict, &moved);
    MarginalCheck {
        stands: stands_at(verdict, RailId(0), None, context),
        heaters: if moved.is_empty() {
            Vec::new()
        } else {
            vec![
                heated(verdict, -HEATERS_SHARE, context),
                heated(verdict, HEATERS_SHARE, context),
            ]
        },
        moved,
        order,
    }
}

/// The machine with the rails as typed and every heater off its volts by a share.
fn heated(verdict: &Verdict, share: f64, context: &Context) -> Heated {
    let plan = verdict.plan.clone().with_less_heat(-LATER_VOLTS * share);
    let standing = standings_of(verdict, &plan, &[as_typed(verdict)], context).pop();
    Heated {
        share,
        stands: standing.as_ref().is_some_and(|standing| !standing.fails()),
        next: standing.map_or_else(Vec::new, |standing| nearest(verdict, &standing)),
    }
}

/// Whether nothing fails with every part at its book value and one rail at some volts, or all as typed.
#[must_use]
pub fn stands_at(verdict: &Verdict, rail: RailId, volts: Option<f64>, context: &Context) -> bool {
    let mut corner = as_typed(verdict);
    if let (Some(volts), Some(place)) = (volts, corner.volts.get_mut(rail.0)) {
        *place = volts;
    }
    let standing = standings(verdict, &[corner], context).pop();
    standing.is_some_and(|standing| !standing.fails())
}

/// Whether a rail feeds circuits and can be moved.
#[must_use]
pub fn can_be_moved(verdict: &Verdict, rail: RailId) -> bool {
    let plan = &verdict.plan;
    plan.feeding_rails()[rail.0] && plan.design.rails[rail.0].volts != 0.0
}

/// Towards ground before away from it, which strains parts least; the smallest share of the volts first; and after what has a new
/// connection that fails first whatever only repeats one. What nothing fails in comes last.
fn bench_order(verdict: &Verdict, moved: &[Moved]) -> Vec<usize> {
    let rails = &verdict.plan.design.rails;
    let share = |index: usize| (moved[index].stands / rails[moved[index].rail.0].volts - 1.0).abs();
    let mut order = Vec::new();
    let mut repeats = Vec::new();
    let mut seen: Vec<(NetIndex, bool)> = Vec::new();
    for larger in [false, true] {
        let mut own: Vec<usize> = (0..moved.len())
            .filter(|&index| moved[index].larger == larger && moved[index].is_step())
            .collect();
        own.sort_by(|left, right| share(*left).total_cmp(&share(*right)));
        for index in own {
            let first = moved[index].next.first();
            let first = first.map(|first| (first.net, first.up));
            match first.filter(|first| !seen.contains(first)) {
                Some(first) => {
                    seen.push(first);
                    order.push(index);
                }
                None => repeats.push(index),
            }
        }
        order.append(&mut repeats);
    }
    order.extend((0..moved.len()).filter(|&index| !moved[index].is_step()));
    order
}

/// The rails as typed.
fn as_typed(verdict: &Verdict) -> RailCorner {
    let rails = &verdict.plan.design.rails;
    RailCorner {
        volts: rails.iter().map(|rail| rail.volts).collect(),
        sides: vec![0; rails.len()],
    }
}

/// The margins of the connections at one state of the rails.
struct Standing {
    levels: CornerLevels,
    /// Smallest first.
    spares: Vec<Spare>,
    known: bool,
}

#[derive(Debug, Clone, Copy)]
struct Spare {
    connection: usize,
    up: bool,
    volts: f64,
    level: f64,
    threshold: f64,
}

impl Standing {
    /// What fails, where something does.
    fn why(&self) -> Why {
        match self.levels.lost.first() {
            Some(lost) => Why::Loses(lost.members.clone()),
            None if self.known => Why::Short,
            None => Why::NotKnown,
        }
    }

    fn fails(&self) -> bool {
        !self.known || self.spares.first().is_none_or(|spare| spare.volts < 0.0)
    }
}

/// Moves every rail that feeds circuits both ways, one at a time.
#[must_use]
pub fn moved_rails(verdict: &Verdict, context: &Context) -> Vec<Moved> {
    let plan = &verdict.plan;
    let design = plan.design;
    let nominal: Vec<f64> = design.rails.iter().map(|rail| rail.volts).collect();
    let cases: Vec<(RailId, bool)> = (0..design.rails.len())
        .map(RailId)
        .filter(|rail| can_be_moved(verdict, *rail))
        .flat_map(|rail| [(rail, false), (rail, true)])
        .collect();
    if verdict
        .connections
        .iter()
        .all(|connection| connection.thresholds.is_none())
    {
        return Vec::new();
    }
    let at = |rail: RailId, volts: f64| {
        let mut corner = as_typed(verdict);
        corner.volts[rail.0] = volts;
        corner
    };
    // Every case has a window in which the first volts stand and the last do not, or do not matter.
    let mut windows: Vec<(f64, f64)> = cases
        .iter()
        .map(|&(rail, larger)| {
            let book = nominal[rail.0];
            let share = if larger {
                1.0 + FURTHEST_SHARE
            } else {
                1.0 - FURTHEST_SHARE
            };
            (book, share * book)
        })
        .collect();
    let mut open = vec![false; cases.len()];
    let mut why: Vec<Option<Why>> = vec![None; cases.len()];
    let mut last: Vec<Option<Standing>> = cases.iter().map(|_| None).collect();
    for pass in 0..PASSES {
        if open.iter().all(|open| *open) {
            break;
        }
        let corners: Vec<RailCorner> = cases
            .iter()
            .zip(&windows)
            .zip(&open)
            .filter(|(_, open)| !**open)
            .flat_map(|((&(rail, _), &(from, to)), _)| {
                (1..=POINTS)
                    .map(move |step| (rail, from + (to - from) * step as f64 / POINTS as f64))
            })
            .map(|(rail, volts)| at(rail, volts))
            .collect();
        let standings = standings(verdict, &corners, context);
        let mut standings = standings.into_iter();
        for index in 0..cases.len() {
            if open[index] {
                continue;
            }
            let own: Vec<Standing> = standings.by_ref().take(POINTS).collect();
            let (from, to) = windows[index];
            let volts = |step: usize| from + (to - from) * step as f64 / POINTS as f64;
            let first = own.iter().position(Standing::fails);
            if let Some(first) = first {
                why[index] = Some(own[first].why());
            }
            let stands = first.unwrap_or(POINTS);
            open[index] = first.is_none() && pass == 0;
            windows[index] = (volts(stands), volts((stands + 1).min(POINTS)));
            if 0 < stands {
                last[index] = own.into_iter().nth(stands - 1);
            }
        }
    }
    let book = standings(verdict, &[at(RailId(0), nominal[0])], context).pop();
    cases
        .iter()
        .enumerate()
        .map(|(index, &(rail, larger))| {
            let standing = last[index].as_ref().or(book.as_ref());
            Moved {
                why: why[index].take(),
                ..moved(verdict, rail, larger, windows[index], open[index], standing)
            }
        })
        .collect()
}

/// Ends the moving of every rail where it would pass a rating that is kept with the rails as typed; what is to be read is then
/// read there.
fn stop_at_ratings(verdict: &Verdict, moved: &mut [Moved], context: &Context) {
    let typed: Vec<(&'static str, String)> = ratings_exceeded(verdict.plan.design, context)
        .into_iter()
        .map(|finding| (finding.name, finding.subject))
        .collect();
    // The first rating passed that is kept as typed, with one rail at some volts as the meter says.
    let passed = |rail: RailId, volts: f64| {
        let mut design = verdict.plan.design.clone();
        design.rails[rail.0].volts = volts;
        design.rails[rail.0].tolerance = 0.0;
        let new = |finding: &Finding| {
            let of = |(name, subject): &(&'static str, String)| {
                (*name, subject) == (finding.name, &finding.subject)
            };
            !typed.iter().any(of)
        };
        ratings_exceeded(&design, context).into_iter().find(new)
    };
    let stops: Vec<Option<(f64, Finding)>> = moved
        .par_iter()
        .map(|one| {
            let from = verdict.plan.design.rails[one.rail.0].volts;
            let share = |part: f64| from + (one.stands - from) * part;
            let steps = 1..=RATING_STEPS;
            let mut parts = steps.map(|step| f64::from(step) / f64::from(RATING_STEPS));
            let (part, mut found) =
                parts.find_map(|part| Some((part, passed(one.rail, share(part))?)))?;
            let (mut keeps, mut passes) = (part - 1.0 / f64::from(RATING_STEPS), part);
            for _ in 0..HALVINGS {
                let middle = f64::midpoint(keeps, passes);
                match passed(one.rail, share(middle)) {
                    Some(first) => (passes, found) = (middle, first),
                    None => keeps = middle,
                }
            }
            Some((share(keeps), found))
        })
        .collect();
    for (one, stop) in moved.iter_mut().zip(stops) {
        let Some((volts, finding)) = stop else {
            continue;
        };
        let mut corner = as_typed(verdict);
        corner.volts[one.rail.0] = volts;
        let standing = standings(verdict, &[corner], context).pop();
        one.next = match (one.fails, standing) {
            (Some(_), Some(standing)) => nearest(verdict, &standing),
            _ => Vec::new(),
        };
        one.stands = volts;
        one.fails = None;
        one.why = None;
        one.stopped = Some(Stop {
            what: finding
                .has
                .map_or_else(|| finding.name.to_owned(), |has| has.what),
            rating: finding.needs.map_or_else(String::new, |needs| needs.what),
            subject: finding.subject,
        });
    }
}

/// Both sides of every connection at some state of the rails, least to spare first.
fn nearest(verdict: &Verdict, standing: &Standing) -> Vec<Near> {
    let near = |spare: &Spare| {
        let connection = &verdict.connections[spare.connection];
        let case = &standing.levels.cases.get(&(connection.net, spare.up))?.case;
        Some(Near {
            net: connection.net,
            driver: connection.driver,
            load: connection.load,
            up: spare.up,
            inputs: case.inputs.clone(),
            others: case.others,
            level: spare.level,
            threshold: spare.threshold,
        })
    };
    standing.spares.iter().filter_map(near).collect()
}

fn moved(
    verdict: &Verdict,
    rail: RailId,
    larger: bool,
    (stands, fails): (f64, f64),
    open: bool,
    standing: Option<&Standing>,
) -> Moved {
    let next = standing.map_or_else(Vec::new, |standing| nearest(verdict, standing));
    Moved {
        rail,
        larger,
        stands,
        fails: (!open).then_some(fails),
        why: None,
        stopped: None,
        next,
    }
}

/// The connections at some states of the rails, every part at its book value.
fn standings(verdict: &Verdict, corners: &[RailCorner], context: &Context) -> Vec<Standing> {
    standings_of(verdict, &verdict.plan, corners, context)
}

/// The same with another plan of the same members and nets.
fn standings_of<'a>(
    verdict: &'a Verdict<'a>,
    plan: &'a Plan<'a>,
    corners: &[RailCorner],
    context: &'a Context,
) -> Vec<Standing> {
    let search = Search {
        plan,
        ..Search::new(verdict, &[], Varied::Nothing, context)
    };
    let results = book_results(verdict);
    let (levels, _) = worst_levels(&search, &results, corners);
    let (thresholds, _) = worst_thresholds(&search, &verdict.thresholds, corners, &levels);
    levels
        .into_iter()
        .zip(thresholds)
        .map(|(levels, thresholds)| {
            let mut known = levels.settled && levels.unknown.is_empty() && levels.lost.is_empty();
            let mut spares = Vec::new();
            for (connection, of) in verdict.connections.iter().enumerate() {
                if of.thresholds.is_none() {
                    continue;
                }
                let (Some(level), Some(threshold)) =
                    (levels.levels.get(&of.net), thresholds.get(&of.load))
                else {
                    known = false;
                    continue;
                };
                for (up, level, threshold) in [
                    (false, level.down, threshold.low),
                    (true, level.up, threshold.high),
                ] {
                    spares.push(Spare {
                        connection,
                        up,
                        volts: if up {
                            level - threshold
                        } else {
                            threshold - level
                        },
                        level,
                        threshold,
                    });
                }
            }
            spares.sort_by(|left, right| {
                left.volts
                    .total_cmp(&right.volts)
                    .then(left.connection.cmp(&right.connection))
            });
            Standing {
                levels,
                spares,
                known,
            }
        })
        .collect()
}

/// One quantity of a part that makes a machine fail at some volts of a rail, which still stands on the way there.
#[derive(Debug, Clone, PartialEq)]
pub struct Suspect {
    /// Whose.
    pub member: MemberIndex,
    /// Part of its circuit.
    pub part: usize,
    /// What of it.
    pub quantity: Quantity,
    /// Where it stands when it alone is to blame, in the unit of the quantity.
    pub value: f64,
    /// How many times as far off as the end of its band on that side; `None` where it has no band there.
    pub times_its_band: Option<f64>,
    /// What fails.
    pub net: NetIndex,
    /// When up.
    pub up: bool,
    /// The reading with the rails as typed that it changes most; `None` where it changes none.
    pub tells: Option<Tells>,
}

/// A level that tells.
#[derive(Debug, Clone, PartialEq)]
pub struct Tells {
    /// Of which net.
    pub net: NetIndex,
    /// When up.
    pub up: bool,
    /// What it then reads, V.
    pub volts: f64,
    /// What it reads by the book, V.
    pub book_volts: f64,
}

/// Changes of a reading of less than this tell nothing, V: chosen, a few times what a bench meter's own load does to it.
const TELLS: f64 = 0.05;
/// The machine must stand this far on the way to the volts at which it fails.
const ON_THE_WAY: f64 = 0.9;
/// How far what may be wrong is looked for, beyond any tolerance: a tube of twice its current, a grid that conducts a volt early or
/// late, a resistor that has risen to twice its ohms or fallen to half, a grid that gives 5 uA. Chosen.
const FURTHEST: [(Quantity, f64); 7] = [
    (Quantity::Current, WEAKEST),
    (Quantity::Current, 2.0),
    (Quantity::CutOff, 1.0),
    (Quantity::CutOff, -1.0),
    (Quantity::Reverse, 5e-6),
    (Quantity::Ohms, 2.0),
    (Quantity::Ohms, 0.5),
];

/// What may be to blame, alone, that a machine fails just at these volts of a rail and stands on the way there from the typed ones:
/// of every tube and resistor of every unit how far it must be off. What is least off for its band comes first, what has no band
/// last.
#[must_use]
pub fn suspects(
    verdict: &Verdict,
    rail: RailId,
    volts: f64,
    spread: &SpreadAssumptions,
    context: &Context,
) -> Vec<Suspect> {
    let plan = &verdict.plan;
    let typed = plan.design.rails[rail.0].volts;
    let corners = [volts, typed + ON_THE_WAY * (volts - typed), typed].map(|volts| {
        let mut corner = as_typed(verdict);
        corner.volts[rail.0] = volts;
        corner
    });
    let grounds = Ground::at(verdict, &corners, context);
    let [there, on_the_way, as_typed] = &grounds[..] else {
        return Vec::new();
    };
    let mut cases: Vec<(MemberIndex, usize, Quantity, f64)> = Vec::new();
    for member in 0..plan.members.len() {
        for (part, of) in plan.circuit(member).parts.iter().enumerate() {
            let own = FURTHEST.iter().filter(|(quantity, _)| match of.kind {
                PartKind::Tube(_) => *quantity != Quantity::Ohms,
                PartKind::Resistor { .. } => *quantity == Quantity::Ohms,
                _ => false,
            });
            cases.extend(own.map(|&(quantity, furthest)| (member, part, quantity, furthest)));
        }
    }
    let mut all: Vec<Suspect> = cases
        .par_iter()
        .filter_map(|&(member, part, quantity, furthest)| {
            let one = |value: f64| Varied::One {
                member,
                part,
                quantity,
                value,
            };
            let (value, net, up) = there.least(member, quantity.book(), furthest, &one)?;
            let stands = |ground: &Ground| {
                let smallest = ground.smallest(member, one(value));
                smallest.is_some_and(|(volts, ..)| 0.0 <= volts)
            };
            (stands(on_the_way) && stands(as_typed)).then(|| Suspect {
                member,
                part,
                quantity,
                value,
                times_its_band: times_its_band(plan, member, part, quantity, value, spread),
                net,
                up,
                tells: as_typed.tells(member, one(value)),
            })
        })
        .collect();
    all.sort_by(|left, right| {
        let times = |suspect: &Suspect| suspect.times_its_band.unwrap_or(f64::INFINITY);
        times(left)
            .total_cmp(&times(right))
            .then((left.member, left.part).cmp(&(right.member, right.part)))
    });
    all
}

fn times_its_band(
    plan: &Plan,
    member: MemberIndex,
    part: usize,
    quantity: Quantity,
    value: f64,
    spread: &SpreadAssumptions,
) -> Option<f64> {
    let ends = part_ends(plan, member, part, quantity, spread)?;
    let book = quantity.book();
    let end = if value < book { ends.0 } else { ends.1 };
    (end != book).then(|| (value - book) / (end - book))
}

/// What is known of the machine with book parts at the rails in question.
struct Ground<'a> {
    verdict: &'a Verdict<'a>,
    context: &'a Context,
    corner: RailCorner,
    rows: BTreeMap<Source, Vec<LevelRow>>,
    levels: CornerLevels,
    thresholds: CornerThresholds,
}

impl<'a> Ground<'a> {
    /// The machine at some states of the rails.
    fn at(verdict: &'a Verdict<'a>, corners: &[RailCorner], context: &'a Context) -> Vec<Self> {
        let search = Search::new(verdict, &[], Varied::Nothing, context);
        let results = book_results(verdict);
        let (levels, _) = worst_levels(&search, &results, corners);
        let (thresholds, _) = worst_thresholds(&search, &verdict.thresholds, corners, &levels);
        let found = levels.into_iter().zip(thresholds).zip(corners);
        found
            .map(|((levels, thresholds), corner)| Self {
                verdict,
                context,
                corner: corner.clone(),
                rows: all_rows(&search, &results),
                levels,
                thresholds,
            })
            .collect()
    }
}

impl Ground<'_> {
    /// The smallest margin among the connections to and from a member of which something is varied: V, net, up.
    fn smallest(&self, member: MemberIndex, varied: Varied) -> Option<(f64, NetIndex, bool)> {
        let verdict = self.verdict;
        let plan = &verdict.plan;
        let search = Search::new(verdict, &[], varied, self.context);
        let mut levels = self.levels.levels.clone();
        let mut sources = vec![search.source_of(member)];
        let inputs = plan.circuit(member).interface.inputs;
        for &net in &plan.members[member].nets[..inputs] {
            let drivers = plan.drivers[net].iter();
            sources.extend(drivers.map(|driver| search.source_of(driver.0)));
        }
        sources.sort_unstable();
        sources.dedup();
        for source in sources {
            let Some(rows) = self.rows.get(&source) else {
                continue;
            };
            let found = levels_of(&search, source, rows, &self.corner, &self.levels.levels)?;
            for (net, up, volts) in found {
                let level = levels.entry(net).or_insert(Level { down: 0.0, up: 0.0 });
                if up {
                    level.up = volts;
                } else {
                    level.down = volts;
                }
            }
        }
        let mut own: BTreeMap<usize, (f64, f64)> = BTreeMap::new();
        for input in 0..inputs {
            if verdict.thresholds.contains_key(&(member, input)) {
                let found = thresholds_of(
                    &search,
                    (member, input),
                    &self.corner,
                    &self.levels,
                    &self.thresholds,
                )?;
                own.insert(input, found);
            }
        }
        let mut smallest: Option<(f64, NetIndex, bool)> = None;
        for connection in &verdict.connections {
            let drives = connection
                .driver
                .is_some_and(|(driver, _)| driver == member);
            if !drives && connection.load.0 != member {
                continue;
            }
            let book = || {
                self.thresholds
                    .get(&connection.load)
                    .map(|worst| (worst.low, worst.high))
            };
            let own = own
                .get(&connection.load.1)
                .copied()
                .filter(|_| connection.load.0 == member);
            let (Some((low, high)), Some(level)) = (own.or_else(book), levels.get(&connection.net))
            else {
                continue;
            };
            for (up, volts) in [(false, low - level.down), (true, level.up - high)] {
                if smallest.is_none_or(|known| volts < known.0) {
                    smallest = Some((volts, connection.net, up));
                }
            }
        }
        smallest
    }

    /// The value nearest to the book's with which the machine fails, and what fails then; `None` where it fails by the book, or not
    /// even with the furthest.
    fn least<'v>(
        &self,
        member: MemberIndex,
        book: f64,
        furthest: f64,
        one: &dyn Fn(f64) -> Varied<'v>,
    ) -> Option<(f64, NetIndex, bool)> {
        let (by_the_book, ..) = self.smallest(member, one(book))?;
        // A part so far off that its gate no longer amplifies, or comes to no rest, fails.
        let far = self.smallest(member, one(furthest));
        if by_the_book < 0.0 || far.is_some_and(|(far, ..)| 0.0 <= far) {
            return None;
        }
        let (mut stands, mut fails) = (book, furthest);
        let mut found = far.map(|(_, net, up)| (net, up));
        for _ in 0..HALVINGS {
            let value = f64::midpoint(stands, fails);
            match self.smallest(member, one(value)) {
                Some((volts, ..)) if 0.0 <= volts => stands = value,
                failed => {
                    fails = value;
                    found = failed.map(|(_, net, up)| (net, up)).or(found);
                }
            }
        }
        let (net, up) = found?;
        Some((f64::midpoint(stands, fails), net, up))
    }

    /// The level of what a member drives, or what drives it, that moves most.
    fn tells(&self, member: MemberIndex, varied: Varied) -> Option<Tells> {
        let search = Search::new(self.verdict, &[], varied, self.context);
        let source = search.source_of(member);
        let rows = self.rows.get(&source)?;
        let found = levels_of(&search, source, rows, &self.corner, &self.levels.levels)?;
        found
            .into_iter()
            .filter_map(|(net, up, volts)| {
                let book = self.levels.levels.get(&net)?;
                let book_volts = if up { book.up } else { book.down };
                let moved = (volts - book_volts).abs();
                (volts.is_finite() && TELLS <= moved).then_some(Tells {
                    net,
                    up,
                    volts,
                    book_volts,
                })
            })
            .max_by(|left, right| {
                let moved = |tells: &Tells| (tells.volts - tells.book_volts).abs();
                moved(left).total_cmp(&moved(right))
            })
    }
}
