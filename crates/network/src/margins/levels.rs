//! The worst levels of every net at one corner of the rails: every unit with its inputs at that end of their nets' levels there
//! which does more harm, its own parts and its loads' anywhere in their bands, in rounds until the levels stand still.

use super::corners::RailCorner;
use super::losing::strewn;
use super::stand::{Group, Reading, Stand, Start, read};
use super::thresholds::harming_inputs;
use super::{Case, Moved, Search, moved};
use crate::ensemble::Solutions;
use crate::judge::{Level, Levels, MemberResult};
use crate::plan::{MemberIndex, NetIndex, Plan};
use crate::rows::{Others, Values};
use crate::solve::OperatingPoint;
use crate::surroundings::{Surroundings, signature};
use numerics::corner::{Care, Largest};
use std::collections::{BTreeMap, BTreeSet};

mod feeding;
mod rounds;
mod rows;
mod states;

pub(super) use feeding::{
    FarFeed, Feeding, FreeFeed, far_feeds, harming_nets, put, standing, turn_all,
};
use rounds::{Found, stand_still};

pub(super) use rows::{all_rows, driven, held, rails_around, surroundings};
pub(super) use states::{Middles, middles, rests, watches_of};

/// Rounds of the levels: chosen; restoring gates stand still after three or four, outputs that load one another take longer.
const ROUNDS: usize = 40;
/// Levels that move less than this stand still, V: as those of the book values.
pub(super) const STILL_VOLTS: f64 = 2e-3;

/// One output (or one net that a switch feeds) in one of its values.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct WorstLevel {
    pub volts: f64,
    pub case: Case,
}

/// The worst levels of one corner.
#[derive(Debug, Clone, Default)]
pub(super) struct CornerLevels {
    /// Worst down and up level of every net that something drives: the highest and the lowest.
    pub levels: Levels,
    /// The levels furthest the other way, the lowest down and the highest up, of nets where these may do more harm.
    pub turned: Levels,
    /// How the worst come about: by net and value.
    pub cases: BTreeMap<(NetIndex, bool), WorstLevel>,
    /// The levels stood still.
    pub settled: bool,
    /// Members of which some row did not come to rest.
    pub unknown: Vec<MemberIndex>,
    /// Stored states that are lost.
    pub lost: Vec<Lost>,
}

impl CornerLevels {
    /// With levels that are given.
    pub(super) fn of(levels: Levels) -> Self {
        Self {
            levels,
            ..Self::default()
        }
    }

    /// As they hold what feeds units.
    pub(super) fn feeding(&self) -> Feeding<'_> {
        Feeding {
            worst: &self.levels,
            turned: &self.turned,
        }
    }
}

/// A stored state that does not last.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Lost {
    /// Who stores it.
    pub members: Vec<MemberIndex>,
    /// Values of what drives them and of what they drive.
    pub values: Values,
    /// What loses it; parts that it is lost without stand at their book values.
    pub case: Case,
}

/// What drives a net.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Source {
    Member(MemberIndex),
    /// Units that hold one another, as [`Search::rings`] has them.
    Ring(usize),
    Switch(NetIndex),
}

/// A source, whose worst levels are sought or (turned) those furthest the other way.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Aim {
    source: Source,
    turned: bool,
}

impl Aim {
    /// An output of this value is to be as low as it can be.
    fn lowest(self, up: bool) -> bool {
        up != self.turned
    }

    /// Volts are further out than others.
    fn further(self, up: bool, volts: f64, known: f64) -> bool {
        if self.lowest(up) {
            volts < known
        } else {
            known < volts
        }
    }

    /// The level found, V; `None` where a state is lost or nothing came to rest.
    fn volts(self, up: bool, found: &Largest) -> Option<f64> {
        let volts = if self.lowest(up) {
            -found.value
        } else {
            found.value
        };
        volts.is_finite().then_some(volts)
    }
}

/// A source with all that is solved with it.
struct Job<'a> {
    aim: Aim,
    corner: usize,
    around: Surroundings,
    held: Vec<NetIndex>,
    rows: &'a [LevelRow],
    starts: Option<Vec<Start>>,
}

/// A row in which some outputs have a value.
pub(super) struct LevelRow {
    pub inputs: Vec<bool>,
    pub others: Others,
    pub values: Values,
    /// Nets that are driven, with their values in this row.
    pub outputs: Vec<(NetIndex, bool)>,
    /// It is one of several states that go with the same inputs.
    pub holds: bool,
    /// Volts of the member's nodes at book values, where a stored state is started from; of a ring it is started with its nets
    /// held at their levels.
    pub volts: Vec<f64>,
}

impl LevelRow {
    /// A net's value as a number; 2 where it has none.
    pub(super) fn value(&self, net: NetIndex) -> u64 {
        self.values.get(&net).map_or(2, |up| u64::from(*up))
    }
}

/// How a job looks for its worst settings, the least closely first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Looking {
    /// They stay where they are.
    NotAtAll,
    /// Only where the slopes lead.
    AlongSlopes,
    /// The same, and the worst is confirmed by trying part by part.
    Closely,
}

/// The worst row of an output so far.
struct Worst {
    value: f64,
    /// The most that trying parts one by one has added to what the slopes led to.
    gain: f64,
}

/// What a job found: for each row and output the largest value with its settings.
struct Done {
    found: Vec<Vec<Option<Largest>>>,
    moved: Vec<Vec<Vec<Moved>>>,
    /// And with what feeds it where it does most harm.
    fed: Vec<Vec<Vec<FreeFeed>>>,
    evaluated: u64,
}

/// The worst levels at every corner. `results` are those of the book values.
pub(super) fn worst_levels(
    search: &Search,
    results: &[&MemberResult],
    corners: &[RailCorner],
) -> (Vec<CornerLevels>, u64) {
    worst_levels_from(search, results, corners, &mut Starts::new())
}

/// The same beginning at settings that were the worst before, which are replaced by those found.
pub(super) fn worst_levels_from(
    search: &Search,
    results: &[&MemberResult],
    corners: &[RailCorner],
    starts: &mut Starts,
) -> (Vec<CornerLevels>, u64) {
    let rows = all_rows(search, results);
    let mut all = beginnings(search, corners);
    let harming = harming(search, &rows, &corners[0], &all[0].levels);
    let mut aims = self::aims(&rows, false);
    aims.extend(aims_at(search, &rows, &mut all, &harming));
    // With the rails at their book values first: the other corners begin their search at what is found there.
    // Where nothing moves there is no search that could begin elsewhere.
    let mut evaluated = 0;
    if starts.is_empty() && search.varied.moves() {
        evaluated += stand_still(search, &rows, &aims, &corners[..1], &mut all[..1], starts);
        let (typed, others) = all.split_at_mut(1);
        for corner in others {
            for aim in &aims {
                for net in driven(search, aim.source) {
                    begin_at(&typed[0], corner, net);
                }
            }
        }
    }
    evaluated += stand_still(search, &rows, &aims, corners, &mut all, starts);
    (all, evaluated)
}

/// Levels of the book at the rails of every corner, and those that are given.
pub(super) fn beginnings(search: &Search, corners: &[RailCorner]) -> Vec<CornerLevels> {
    let corners = corners.iter().enumerate();
    corners
        .map(|(number, corner)| {
            let mut all = CornerLevels::of(first_levels(search.plan, search.levels, corner));
            if let Some(given) = search.given.get(number) {
                all.levels.extend(&given.levels);
                all.turned.extend(&given.turned);
            }
            all
        })
        .collect()
}

/// The nets of which the levels furthest the other way may do more harm than the worst, to a level or to a threshold.
fn harming(
    search: &Search,
    rows: &BTreeMap<Source, Vec<LevelRow>>,
    corner: &RailCorner,
    book: &Levels,
) -> BTreeSet<NetIndex> {
    if !search.both_ends {
        return BTreeSet::new();
    }
    let asked = harming_inputs(search, corner, book);
    harming_nets(search, rows, corner, book, asked)
}

/// One of some nets is among these.
pub(super) fn any_harms(
    search: &Search,
    results: &[&MemberResult],
    corner: &RailCorner,
    nets: &[NetIndex],
) -> bool {
    let rows = all_rows(search, results);
    let book = first_levels(search.plan, search.levels, corner);
    let harming = harming(search, &rows, corner, &book);
    nets.iter().any(|net| harming.contains(net))
}

/// Lets the levels of a net that is driven begin at another corner where they stand at one.
fn begin_at(known: &CornerLevels, corner: &mut CornerLevels, net: NetIndex) {
    for (known, levels) in [
        (&known.levels, &mut corner.levels),
        (&known.turned, &mut corner.turned),
    ] {
        if let (Some(known), Some(level)) = (known.get(&net), levels.get_mut(&net)) {
            *level = *known;
        }
    }
}

/// Adds to the worst levels those furthest the other way of some nets and of all that feeds them.
pub(super) fn turn_levels(
    search: &Search,
    results: &[&MemberResult],
    corners: &[RailCorner],
    levels: &mut [CornerLevels],
    nets: &BTreeSet<NetIndex>,
) -> u64 {
    let rows = all_rows(search, results);
    let nets: BTreeSet<NetIndex> = sources_before(search, nets)
        .into_iter()
        .flat_map(|source| driven(search, source))
        .filter(|net| !levels[0].turned.contains_key(net))
        .collect();
    let aims = aims_at(search, &rows, levels, &nets);
    let mut starts = Starts::new();
    let settled: Vec<bool> = levels.iter().map(|corner| corner.settled).collect();
    let first = stand_still(
        search,
        &rows,
        &aims,
        &corners[..1],
        &mut levels[..1],
        &mut starts,
    );
    let others = stand_still(search, &rows, &aims, corners, levels, &mut starts);
    for (corner, before) in levels.iter_mut().zip(settled) {
        corner.settled &= before;
    }
    first + others
}

/// Every source that has rows.
fn aims(rows: &BTreeMap<Source, Vec<LevelRow>>, turned: bool) -> Vec<Aim> {
    let sources = rows.keys();
    sources.map(|&source| Aim { source, turned }).collect()
}

/// What drives some nets, so that the levels of these furthest the other way are found; they begin at the worst.
fn aims_at(
    search: &Search,
    rows: &BTreeMap<Source, Vec<LevelRow>>,
    all: &mut [CornerLevels],
    nets: &BTreeSet<NetIndex>,
) -> Vec<Aim> {
    let sources: BTreeSet<Source> = nets.iter().map(|net| search.source_driving(*net)).collect();
    let mut aims = self::aims(rows, true);
    aims.retain(|aim| sources.contains(&aim.source));
    for corner in all {
        for net in aims.iter().flat_map(|aim| driven(search, aim.source)) {
            if let Some(level) = corner.levels.get(&net) {
                corner.turned.entry(net).or_insert(*level);
            }
        }
    }
    aims
}

/// Everything that drives some nets, and what drives that.
fn sources_before(search: &Search, nets: &BTreeSet<NetIndex>) -> BTreeSet<Source> {
    let plan = search.plan;
    let mut found = BTreeSet::new();
    let mut left: Vec<NetIndex> = nets.iter().copied().collect();
    while let Some(net) = left.pop() {
        let source = search.source_driving(net);
        if !found.insert(source) {
            continue;
        }
        let members = match source {
            Source::Member(member) => vec![member],
            Source::Ring(ring) => search.rings[ring].members.clone(),
            Source::Switch(_) => Vec::new(),
        };
        left.extend(members.iter().flat_map(|&member| plan.inputs_of(member)));
    }
    found
}

/// Settings that were the worst so far, by corner and what was sought: of every row and output in turn.
pub(super) type Starts = BTreeMap<(usize, Aim), Vec<Start>>;

/// The one of a net's levels.
fn side(level: &mut Level, up: bool) -> &mut f64 {
    if up { &mut level.up } else { &mut level.down }
}

/// Book levels, with those of switches at the corner's rails.
pub(super) fn first_levels(plan: &Plan, book: &Levels, corner: &RailCorner) -> Levels {
    let mut levels = book.clone();
    for (&net, switch) in &plan.switches {
        if plan.drivers[net].is_empty() {
            let level = Level {
                down: corner.supply_volts(plan, switch.down),
                up: corner.supply_volts(plan, switch.up),
            };
            levels.insert(net, level);
        }
    }
    levels
}

/// All that the solution of a source depends on, and its nets in order of first mention.
pub(super) fn key(
    plan: &Plan,
    source: Source,
    around: &Surroundings,
    rows: &[LevelRow],
    corner: &RailCorner,
    levels: &[&Levels],
) -> (Vec<u64>, Vec<NetIndex>) {
    let (mut key, nets) = signature(plan, around, levels);
    key.push(match source {
        Source::Member(_) => 0,
        Source::Ring(_) => 1,
        Source::Switch(_) => 2,
    });
    for row in rows {
        let of_row = row.outputs.iter().map(|(net, up)| {
            let place = nets.iter().position(|known| known == net);
            2 * place.map_or(0, |place| place as u64 + 1) + u64::from(*up)
        });
        key.push(rows.len() as u64);
        key.push(row.outputs.len() as u64);
        key.extend(of_row);
        key.extend(nets.iter().map(|net| row.value(*net)));
    }
    let rails = rails_around(plan, around).into_iter();
    key.extend(rails.map(|rail| corner.volts[rail].to_bits()));
    (key, nets)
}

/// `None` where the group cannot be solved at all. `book` are the rests of its rows where they are known.
fn solve(
    search: &Search,
    job: &Job,
    corner: &RailCorner,
    feeding: Feeding,
    looking: Looking,
    book: Option<Vec<Option<OperatingPoint>>>,
) -> Option<Done> {
    let (plan, aim, levels) = (search.plan, job.aim, feeding.worst);
    let group = Group {
        members: &job.around.copies(),
        held: &job.held,
    };
    let mut stand = Stand::new(plan, &group, corner, search.varied, search.context)?;
    let count = stand.factors.len();
    let mut rests =
        book.unwrap_or_else(|| rests(search, &mut stand, aim.source, job.rows, corner, levels));
    let middles = middles(&stand, job.rows, &rests, search.levels);
    let known = |number: usize, output: usize| {
        let starts = job.starts.as_ref()?;
        let known = starts.get(place(job.rows, number) + output)?;
        (known.settings.len() == count).then_some(known)
    };
    // What was the worst before; else what is the worst of the same output in a row before.
    let start = |number: usize, output: usize, found: &[Vec<Option<Largest>>]| {
        let this = job.rows[number].outputs[output];
        let before = || {
            let rows = job.rows[..number].iter().zip(found);
            rows.flat_map(|(row, found)| row.outputs.iter().zip(found))
                .filter(|(other, _)| **other == this)
                .filter_map(|(_, found)| found.as_ref().filter(|found| found.value.is_finite()))
                .max_by(|left, right| left.value.total_cmp(&right.value))
                .map(Start::from)
        };
        known(number, output)
            .cloned()
            .or_else(before)
            .unwrap_or_else(|| Start::book(count))
    };
    let mut done = Done {
        found: vec![Vec::new(); job.rows.len()],
        moved: vec![Vec::new(); job.rows.len()],
        fed: Vec::new(),
        evaluated: 0,
    };
    // Every row as far as the slopes lead.
    let mut readings: Vec<Vec<Option<Reading>>> = Vec::new();
    for (number, row) in job.rows.iter().enumerate() {
        stand.feed(plan, corner, &row.values, levels);
        let feeds = feeding.free_feeds(&stand.scene, &row.values);
        let (mut of_row, mut feeds_of_row) = (Vec::new(), Vec::new());
        // Where nothing is searched and nothing that feeds it is free, all outputs are read from one solution.
        let mut one: Option<Solutions> = None;
        for (output, &(net, up)) in row.outputs.iter().enumerate() {
            let node = stand.scene.nets.get(&net).copied();
            let mut feeds = feeds.clone();
            let found = node.zip(rests[number].as_mut()).map(|(node, rest)| {
                let reading = Reading::of_node(node, aim.lowest(up));
                let watches = watches_of(&stand, row, &middles);
                let start = start(number, output, &done.found);
                let searching = looking != Looking::NotAtAll;
                if searching && start.knows(&feeds) {
                    // Where feeds do most harm is looked at again when the levels stand still.
                    stand.put_feeds(&mut feeds, &start);
                    stand.furthest(reading, rest, &watches, &start, Care::Slopes)
                } else if searching {
                    let slopes = (&start, Care::Slopes);
                    stand.furthest_fed(reading, rest, &watches, slopes, &mut feeds)
                } else if !feeds.is_empty() {
                    let there = stand.harm(reading, rest, &watches, &start.settings, &mut feeds);
                    start.at(there.1)
                } else {
                    let one =
                        one.get_or_insert_with(|| stand.there(rest, &watches, &start.settings));
                    start.at(reading.signed(read(one, node)[0]))
                }
            });
            of_row.push(node.map(|node| Reading::of_node(node, aim.lowest(up))));
            done.found[number].push(found);
            feeds_of_row.push(feeds);
        }
        readings.push(of_row);
        done.fed.push(feeds_of_row);
    }
    if looking == Looking::Closely {
        // The worst row of each output is confirmed by trying its parts one by one, and so is every other that might be worse
        // for what that has found; of what stores every row, as each is a state that must last.
        let mut order: Vec<(usize, usize)> = (0..job.rows.len())
            .flat_map(|number| {
                (0..job.rows[number].outputs.len()).map(move |output| (number, output))
            })
            .collect();
        let value = |found: &Option<Largest>| {
            found
                .as_ref()
                .map_or(f64::NEG_INFINITY, |found| found.value)
        };
        order.sort_by(|left, right| {
            let value = |at: &(usize, usize)| value(&done.found[at.0][at.1]);
            value(right).total_cmp(&value(left)).then(left.cmp(right))
        });
        let mut worst: BTreeMap<(NetIndex, bool), Worst> = BTreeMap::new();
        for (number, output) in order {
            let row = &job.rows[number];
            let this = row.outputs[output];
            let (Some(reading), Some(rest), Some(found)) = (
                readings[number][output],
                &mut rests[number],
                &done.found[number][output],
            ) else {
                continue;
            };
            let behind = |worst: &Worst| found.value + 2.0 * worst.gain <= worst.value;
            if !row.holds && worst.get(&this).is_some_and(behind) {
                continue;
            }
            let watches = watches_of(&stand, row, &middles);
            // What is furthest the other way acts on little, so elsewhere it is led by slopes from where it was confirmed.
            let care = match known(number, output) {
                Some(_) if aim.turned && job.corner != 0 => Care::Slopes,
                known => known.map_or(Care::Thorough, Start::care),
            };
            stand.feed(plan, corner, &row.values, levels);
            let feeds = &mut done.fed[number][output];
            let begin = Start::fed(found, feeds);
            let mut largest = stand.furthest_fed(reading, rest, &watches, (&begin, care), feeds);
            if row.holds && largest.value.is_finite() && !aim.turned {
                // What holds a state may fail far from where slopes lead: as long as the other side is quite cut off, none of its
                // parts does anything to the output.
                if let Some(lost) = stand.lost_among(&strewn(count), reading, rest, &watches) {
                    largest.settings = lost;
                    largest.value = f64::INFINITY;
                }
            }
            if largest.value == f64::INFINITY {
                largest.settings = stand.needed(reading, rest, &watches, largest.settings);
            }
            let gain = (largest.value - found.value).max(0.0);
            let worst = worst.entry(this).or_insert(Worst {
                value: f64::NEG_INFINITY,
                gain: 0.0,
            });
            worst.value = worst.value.max(largest.value);
            worst.gain = worst.gain.max(gain);
            done.found[number][output] = Some(largest);
        }
    }
    for (moved_of, found) in done.moved.iter_mut().zip(&done.found) {
        let each = found.iter();
        *moved_of = each
            .map(|found| {
                found
                    .as_ref()
                    .map_or_else(Vec::new, |largest| moved(&stand.factors, largest))
            })
            .collect();
    }
    done.evaluated = stand.evaluated;
    Some(done)
}

/// Where the outputs of a row begin among those of all rows.
fn place(rows: &[LevelRow], number: usize) -> usize {
    rows[..number].iter().map(|row| row.outputs.len()).sum()
}

impl Done {
    /// Where the next search of every row and output begins.
    fn starts(&self) -> Vec<Start> {
        let all = self.found.iter().flatten().zip(self.fed.iter().flatten());
        all.map(|(found, fed)| match found {
            Some(found) => Start::fed(found, fed),
            None => Start::book(0),
        })
        .collect()
    }

    /// The level furthest out of every output in each of its values, where that is known, added to what was found elsewhere.
    fn furthest(&self, aim: Aim, rows: &[LevelRow], all: &mut Found) {
        for (row, found) in rows.iter().zip(&self.found) {
            for (&(net, up), found) in row.outputs.iter().zip(found) {
                let Some(volts) = found.as_ref().and_then(|found| aim.volts(up, found)) else {
                    continue;
                };
                let known = all.entry((net, up)).or_insert(volts);
                if aim.further(up, volts, *known) {
                    *known = volts;
                }
            }
        }
    }
}

/// Puts what was found of a group at surroundings where another of it stands, with how it comes about.
fn take(
    search: &Search,
    job: &Job,
    first: &Surroundings,
    done: Option<&Done>,
    corner: &mut CornerLevels,
) {
    let (subject, aim) = (job.around.subject, job.aim);
    let Some(done) = done else {
        corner.unknown.push(subject);
        return;
    };
    for ((row, found), moved) in job.rows.iter().zip(&done.found).zip(&done.moved) {
        let mut lost: Option<&Vec<Moved>> = None;
        for ((&(net, up), found), moved) in row.outputs.iter().zip(found).zip(moved) {
            let value = found.as_ref().map_or(f64::NAN, |found| found.value);
            if value == f64::INFINITY {
                if lost.is_none_or(|known| moved.len() < known.len()) {
                    lost = Some(moved);
                }
                continue;
            }
            let Some(volts) = found.as_ref().and_then(|found| aim.volts(up, found)) else {
                corner.unknown.push(subject);
                continue;
            };
            let known = corner.cases.get(&(net, up));
            if !aim.turned && known.is_none_or(|known| aim.further(up, volts, known.volts)) {
                let case = Case {
                    inputs: inputs_of(search.plan, aim.source, net, row),
                    others: row.others,
                    moved: translated(moved, first, &job.around),
                };
                corner.cases.insert((net, up), WorstLevel { volts, case });
            }
        }
        if let Some(moved) = lost.filter(|_| !aim.turned) {
            corner.lost.push(Lost {
                members: storing(&job.around),
                values: row.values.clone(),
                case: Case {
                    inputs: row.inputs.clone(),
                    others: row.others,
                    moved: translated(moved, first, &job.around),
                },
            });
        }
    }
}

/// Who stores in surroundings: the subject with the rest of its ring.
fn storing(around: &Surroundings) -> Vec<MemberIndex> {
    let ring = around.companions.iter().copied();
    std::iter::once(around.subject).chain(ring).collect()
}

/// Values of the inputs of what drives a net.
fn inputs_of(plan: &Plan, source: Source, net: NetIndex, row: &LevelRow) -> Vec<bool> {
    match (source, plan.drivers[net].first()) {
        (Source::Ring(_), Some(&(driver, _))) => {
            let inputs = plan.circuit(driver).interface.inputs;
            let nets = plan.members[driver].nets[..inputs].iter();
            nets.map(|net| {
                let supply = || 0.0 < plan.supply_volts(*net);
                row.values.get(net).copied().unwrap_or_else(supply)
            })
            .collect()
        }
        _ => row.inputs.clone(),
    }
}

/// The same parts of the members that stand in another place of the group.
pub(super) fn translated(moved: &[Moved], from: &Surroundings, to: &Surroundings) -> Vec<Moved> {
    let (from, to) = (from.members(), to.members());
    moved
        .iter()
        .map(|moved| {
            let place = from.iter().position(|member| *member == moved.member);
            Moved {
                member: place.map_or(moved.member, |place| to[place]),
                ..moved.clone()
            }
        })
        .collect()
}

/// The rest of every row of a source at book values, with every level given; none where the group cannot be solved.
pub(super) fn book_rests(
    search: &Search,
    source: Source,
    rows: &[LevelRow],
    corner: &RailCorner,
    levels: &Levels,
) -> Vec<Option<OperatingPoint>> {
    let around = surroundings(search, source);
    let group = Group {
        members: &around.copies(),
        held: &held(search, source, &around),
    };
    let stand = Stand::new(search.plan, &group, corner, search.varied, search.context);
    stand.map_or_else(Vec::new, |mut stand| {
        rests(search, &mut stand, source, rows, corner, levels)
    })
}

/// Levels of what one source drives, without a search, with every other level given: net, up, volts. `None` where it is not
/// known. `book` are its rests at book values ([`book_rests`]), from which those are sought.
pub(super) fn levels_of(
    search: &Search,
    source: Source,
    rows: &[LevelRow],
    corner: &RailCorner,
    feeding: Feeding,
    book: &[Option<OperatingPoint>],
) -> Option<Vec<(NetIndex, bool, f64)>> {
    let around = surroundings(search, source);
    let outputs = rows.iter().map(|row| row.outputs.len()).sum();
    let job = Job {
        aim: Aim {
            source,
            turned: false,
        },
        corner: 0,
        held: held(search, source, &around),
        around,
        rows,
        starts: Some(vec![
            Start {
                settings: vec![1.0],
                effects: vec![0.0],
                confirmed: true,
                fed: Vec::new(),
            };
            outputs
        ]),
    };
    let book = Some(book.to_vec());
    let done = solve(search, &job, corner, feeding, Looking::NotAtAll, book)?;
    let mut all: Vec<(NetIndex, bool, f64)> = Vec::new();
    for (row, found) in rows.iter().zip(&done.found) {
        for (&(net, up), found) in row.outputs.iter().zip(found) {
            let value = found.as_ref()?.value;
            if value.is_nan() {
                return None;
            }
            // A lost state is infinitely far off, either way.
            let volts = if up { -value } else { value };
            match all.iter_mut().find(|known| (known.0, known.1) == (net, up)) {
                Some(known) if up => known.2 = known.2.min(volts),
                Some(known) => known.2 = known.2.max(volts),
                None => all.push((net, up, volts)),
            }
        }
    }
    Some(all)
}
