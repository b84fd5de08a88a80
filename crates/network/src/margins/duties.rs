//! The worst case of what a circuit's sentences ask of its parts: a lamp lit or out, a current between two values or off.
//!
//! Each is looked for as a level is: in every row that asks it, with the unit's inputs at the worst levels that their nets have
//! at a corner of the rails, its own parts and its loads' anywhere in their bands. A largest current is looked for with each input
//! at the worst level or at the one furthest the other way, whichever makes it larger.

use super::corners::RailCorner;
use super::levels::{
    CornerLevels, Feeding, FreeFeed, LevelRow, Source, key, surroundings, translated, turn_levels,
    watches_of,
};
use super::stand::{Reading, Start};
use super::{Case, Moved, Search, moved};
use crate::connections::switched_levels;
use crate::duty::{Asked, asked, wanted};
use crate::judge::{Levels, MemberResult};
use crate::plan::{MemberIndex, NetIndex, Plan};
use crate::probe::Probe;
use crate::surroundings::Surroundings;
use crate::variation::Varied;
use numerics::corner::{Care, Largest};
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};
use trials::{Ready, Standing, Tried};

pub(super) mod trials;

/// What is left of one thing that a sentence asks of a part of a unit.
#[derive(Debug, Clone, PartialEq)]
pub struct DutyMargin {
    /// Whose part.
    pub member: MemberIndex,
    /// Which of its circuit's sentences.
    pub duty: usize,
    /// Which part.
    pub part: usize,
    /// What is asked; it says in which unit all that follows is.
    pub asked: Asked,
    /// To spare at book values; negative is short.
    pub book: f64,
    /// To spare in the worst case.
    pub spare: f64,
    /// Where the rails stand: an index into [`super::Margins::corners`].
    pub corner: usize,
    /// To spare at each corner.
    pub by_corner: Vec<f64>,
    /// What the part does there: its current, the dissipation of its plate, or the volts across the lamp.
    pub reading: f64,
    /// What that is held against there.
    pub limit: f64,
    /// Below this margin it is called thin.
    pub thin_below: f64,
    /// How it comes about; what each part takes is in the unit of what is asked.
    pub case: Case,
}

/// What a sentence asks of a part of which the worst case is not known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DutyNotKnown {
    /// Whose part.
    pub member: MemberIndex,
    /// Which of its circuit's sentences.
    pub duty: usize,
    /// What is asked.
    pub asked: Asked,
    /// The first corner of the rails at which it is not known: an index into [`super::Margins::corners`].
    pub corner: usize,
}

/// What was found of all sentences.
#[derive(Debug, Default)]
pub(super) struct Found {
    /// Smallest share of its limit to spare first.
    pub margins: Vec<DutyMargin>,
    pub not_known: Vec<DutyNotKnown>,
    /// Elements evaluated.
    pub evaluated: u64,
}

/// One thing that a sentence asks, and the rows that ask it.
#[derive(Debug, Clone)]
pub(super) struct Demand {
    /// Index into the circuit's duties.
    pub duty: usize,
    pub asked: Asked,
    pub rows: Vec<usize>,
}

/// A unit with sentences at one corner, and all that is solved with it.
struct Job<'a> {
    member: MemberIndex,
    corner: usize,
    around: Surroundings,
    unit: &'a Unit,
}

/// A unit with sentences about its parts.
pub(super) struct Unit {
    pub rows: Vec<LevelRow>,
    pub demands: Vec<Demand>,
}

/// The worst of one demand at a corner.
#[derive(Debug, Clone)]
struct Worst {
    row: usize,
    /// To spare, in the unit of what is asked.
    spare: f64,
    reading: f64,
    limit: f64,
    moved: Vec<Moved>,
    start: Start,
}

/// What a job found: of every demand the worst, if it is known.
struct Done {
    worst: Vec<Option<Worst>>,
    evaluated: u64,
}

/// The worst case of every sentence of some units, with levels that stand still at every corner. Less to spare than `thin_share` of
/// its limit is called thin.
pub(super) fn worst_duties(
    search: &Search,
    results: &[&MemberResult],
    units: &BTreeMap<MemberIndex, Unit>,
    corners: &[RailCorner],
    levels: &[CornerLevels],
    thin_share: f64,
) -> Found {
    let levels: Vec<Feeding> = levels.iter().map(CornerLevels::feeding).collect();
    let mut found = Found::default();
    // What is worst with the rails as typed is where the other corners begin.
    let (first, evaluated) = solved(search, units, 0..1, corners, &levels, &BTreeMap::new());
    found.evaluated += evaluated;
    let (others, evaluated) = solved(search, units, 1..corners.len(), corners, &levels, &first);
    found.evaluated += evaluated;
    let (book, evaluated) = by_the_book(search, results, units, &corners[0]);
    found.evaluated += evaluated;
    for (&member, unit) in units {
        for (number, demand) in unit.demands.iter().enumerate() {
            let at = |corner: usize| {
                let all = if corner == 0 { &first } else { &others };
                all[&(corner, member)][number].as_ref()
            };
            let book = book.get(&member).and_then(|book| book[number]);
            match margin(search.plan, member, unit, demand, corners.len(), at, book) {
                Ok(margin) => found.margins.push(DutyMargin {
                    thin_below: thin_share * margin.limit.abs(),
                    ..margin
                }),
                Err(corner) => found.not_known.push(DutyNotKnown {
                    member,
                    duty: demand.duty,
                    asked: demand.asked,
                    corner,
                }),
            }
        }
    }
    in_order(&mut found.margins);
    found
}

/// Puts the smallest share of its limit to spare first.
pub(super) fn in_order(margins: &mut [DutyMargin]) {
    margins.sort_by(|left, right| {
        let place = |one: &DutyMargin| (one.member, one.duty);
        let share = |one: &DutyMargin| one.spare / one.limit.abs();
        share(left)
            .total_cmp(&share(right))
            .then(place(left).cmp(&place(right)))
    });
}

/// The smallest over the corners; else the first corner at which it is not known.
fn margin<'a>(
    plan: &Plan,
    member: MemberIndex,
    unit: &Unit,
    demand: &Demand,
    corners: usize,
    at: impl Fn(usize) -> Option<&'a Worst>,
    book: Option<f64>,
) -> Result<DutyMargin, usize> {
    let all: Vec<Option<&Worst>> = (0..corners).map(at).collect();
    if let Some(corner) = all.iter().position(Option::is_none) {
        return Err(corner);
    }
    let all: Vec<&Worst> = all.into_iter().flatten().collect();
    let by_corner: Vec<f64> = all.iter().map(|worst| worst.spare).collect();
    let corner = (0..corners)
        .min_by(|&left, &right| by_corner[left].total_cmp(&by_corner[right]))
        .ok_or(0_usize)?;
    let worst = all[corner];
    let row = &unit.rows[worst.row];
    Ok(DutyMargin {
        member,
        duty: demand.duty,
        part: plan.circuit(member).duties[demand.duty].part,
        asked: demand.asked,
        book: book.unwrap_or(f64::NAN),
        spare: worst.spare,
        corner,
        by_corner,
        reading: worst.reading,
        limit: worst.limit,
        thin_below: 0.0,
        case: Case {
            inputs: row.inputs.clone(),
            others: row.others,
            moved: worst.moved.clone(),
        },
    })
}

/// Every unit that has a sentence about a part, with the rows that were solved of it by the book.
pub(super) fn units(search: &Search, results: &[&MemberResult]) -> BTreeMap<MemberIndex, Unit> {
    let plan = search.plan;
    let mut units = BTreeMap::new();
    for (member, result) in results.iter().enumerate() {
        let circuit = plan.circuit(member);
        let solved: Vec<_> = result.rows.iter().filter(|row| row.counts()).collect();
        let mut demands = Vec::new();
        for (number, duty) in circuit.duties.iter().enumerate() {
            for on in [true, false] {
                let rows: Vec<usize> = (0..solved.len())
                    .filter(|&row| wanted(duty, solved[row]) == Some(on))
                    .collect();
                let asked = asked(circuit, duty, on).into_iter();
                demands.extend(asked.filter(|_| !rows.is_empty()).map(|asked| Demand {
                    duty: number,
                    asked,
                    rows: rows.clone(),
                }));
            }
        }
        if demands.is_empty() {
            continue;
        }
        let nets = &plan.members[member].nets[circuit.interface.inputs..];
        let rows = solved.into_iter().map(|solved| {
            let said = nets.iter().zip(&solved.row.outputs);
            let said = said.filter_map(|(&net, value)| Some((net, (*value)?)));
            LevelRow {
                inputs: solved.row.inputs.clone(),
                others: solved.row.others,
                values: solved.row.values.clone(),
                outputs: said.filter(|(net, _)| !plan.is_supply(*net)).collect(),
                holds: plan.stores(member),
                volts: solved.volts.clone(),
            }
        });
        let rows = rows.collect();
        units.insert(member, Unit { rows, demands });
    }
    units
}

/// The nets that feed units with a largest current: an input may do more harm at the level furthest the other way.
pub(super) fn turning_nets(plan: &Plan, units: &BTreeMap<MemberIndex, Unit>) -> BTreeSet<NetIndex> {
    let asks = |unit: &Unit| unit.demands.iter().any(Demand::turns);
    let fed = units.iter().filter(|(_, unit)| asks(unit));
    fed.flat_map(|(&member, _)| plan.inputs_of(member))
        .collect()
}

impl Demand {
    /// An input may do more harm where its net stands furthest the other way.
    fn turns(&self) -> bool {
        matches!(self.asked, Asked::Most(_))
    }
}

type Solved = BTreeMap<(usize, MemberIndex), Vec<Option<Worst>>>;

/// Every unit at some corners, those that are alike once, and the elements evaluated.
fn solved(
    search: &Search,
    units: &BTreeMap<MemberIndex, Unit>,
    at: std::ops::Range<usize>,
    corners: &[RailCorner],
    levels: &[Feeding],
    before: &Solved,
) -> (Solved, u64) {
    let plan = search.plan;
    let mut groups: BTreeMap<Vec<u64>, Vec<Job>> = BTreeMap::new();
    for corner in at {
        for (&member, unit) in units {
            let (source, levels) = (Source::Member(member), levels[corner].both());
            let around = surroundings(search, source).gathered(plan, &levels);
            let (key, _) = key(plan, source, &around, &unit.rows, &corners[corner], &levels);
            groups.entry(key).or_default().push(Job {
                member,
                corner,
                around,
                unit,
            });
        }
    }
    let groups: Vec<Vec<Job>> = groups.into_values().collect();
    let done: Vec<Option<Done>> = groups
        .par_iter()
        .map(|group| {
            let job = &group[0];
            let starts = before.get(&(0, job.member));
            solve(
                search,
                job,
                &corners[job.corner],
                levels[job.corner],
                starts,
            )
        })
        .collect();
    let evaluated = done.iter().flatten().map(|done| done.evaluated).sum();
    let mut all = Solved::new();
    for (group, done) in groups.iter().zip(done) {
        for job in group {
            let worst = match &done {
                Some(done) => done.worst.clone(),
                None => vec![None; job.unit.demands.len()],
            };
            let there = worst.into_iter().map(|worst| {
                worst.map(|worst| Worst {
                    moved: translated(&worst.moved, &group[0].around, &job.around),
                    ..worst
                })
            });
            all.insert((job.corner, job.member), there.collect());
        }
    }
    (all, evaluated)
}

/// `None` where the group cannot be solved at all.
fn solve(
    search: &Search,
    job: &Job,
    corner: &RailCorner,
    levels: Feeding,
    starts: Option<&Vec<Option<Worst>>>,
) -> Option<Done> {
    let mut standing = Standing::new(search, job.member, &job.around);
    let mut worst = Vec::new();
    for (number, demand) in job.unit.demands.iter().enumerate() {
        let start = starts.and_then(|starts| starts.get(number)?.as_ref());
        let stand = standing.of(&job.unit.rows, demand, corner, levels.worst)?;
        worst.push(stand.worst(search, job, demand, corner, levels, start));
    }
    Some(Done {
        worst,
        evaluated: standing.evaluated(),
    })
}

impl Tried<'_> {
    /// The worst of the rows that ask: all as far as the slopes lead, then the worst confirmed part by part, and with it every other
    /// that might be worse for what that has found.
    fn worst(
        self,
        search: &Search,
        job: &Job,
        demand: &Demand,
        corner: &RailCorner,
        levels: Feeding,
        start: Option<&Worst>,
    ) -> Option<Worst> {
        let reading = self.measure.reading();
        let count = self.ready.stand.factors.len();
        let known = start
            .map(|worst| &worst.start)
            .filter(|start| start.settings.len() == count);
        let begin = known.cloned().unwrap_or_else(|| Start::book(count));
        let mut fed: BTreeMap<usize, Vec<FreeFeed>> = BTreeMap::new();
        let mut look = |row: usize, start: &Start, care: Care| -> Option<Largest> {
            let of_row = &job.unit.rows[row];
            let watches = watches_of(&self.ready.stand, of_row, &self.ready.middles);
            let Ready { stand, rests, .. } = &mut *self.ready;
            stand.feed(search.plan, corner, &of_row.values, levels.worst);
            let feeds = fed.entry(row);
            let feeds = feeds.or_insert_with(|| levels.free_feeds(&stand.scene, &of_row.values));
            let rest = rests[row].as_mut()?;
            let largest = stand.furthest_fed(reading, rest, &watches, (start, care), feeds);
            largest.value.is_finite().then_some(largest)
        };
        let mut found: Vec<(usize, Largest)> = Vec::new();
        for &row in &demand.rows {
            found.push((row, look(row, &begin, Care::Slopes)?));
        }
        found.sort_by(|left, right| right.1.value.total_cmp(&left.1.value));
        let mut worst: Option<(usize, Largest)> = None;
        let mut gain: f64 = 0.0;
        for (row, slopes) in found {
            if let Some((_, worst)) = &worst
                && slopes.value + 2.0 * gain <= worst.value
            {
                continue;
            }
            let care = known.map_or(Care::Thorough, Start::care);
            let largest = look(row, &Start::from(&slopes), care)?;
            gain = gain.max(largest.value - slopes.value);
            if worst
                .as_ref()
                .is_none_or(|(_, worst)| worst.value < largest.value)
            {
                worst = Some((row, largest));
            }
        }
        let (row, largest) = worst?;
        self.said(row, largest, reading)
    }

    /// What was found, in the unit of what is asked.
    fn said(self, row: usize, mut largest: Largest, reading: Reading) -> Option<Worst> {
        let stand = &self.ready.stand;
        let start = Start::from(&largest);
        let number = reading.number_of(largest.value);
        let values = stand.values_at(self.element, &largest.settings)?;
        let Probe::Part(_, asked) = self.measure.probe else {
            return None;
        };
        let limit = asked.limit(&values);
        for effect in &mut largest.effects {
            *effect *= reading.unit;
        }
        Some(Worst {
            row,
            spare: self.measure.spare(number),
            reading: match limit {
                Some(limit) => number + limit,
                None => self.measure.upright(number),
            },
            limit: limit.unwrap_or(self.measure.limit),
            moved: moved(&stand.factors, &largest),
            start,
        })
    }
}

/// What is to spare by the book of every demand, least over its rows: with book levels and the rails as typed.
fn by_the_book(
    search: &Search,
    results: &[&MemberResult],
    units: &BTreeMap<MemberIndex, Unit>,
    corner: &RailCorner,
) -> (BTreeMap<MemberIndex, Vec<Option<f64>>>, u64) {
    let plan = search.plan;
    let mut book = [CornerLevels::of(book_levels(search, results))];
    let by_the_book = Search {
        varied: Varied::Nothing,
        ..search.clone()
    };
    let corners = std::slice::from_ref(corner);
    let nets = turning_nets(plan, units);
    let turned = turn_levels(&by_the_book, results, corners, &mut book, &nets);
    let (feeding, levels) = (book[0].feeding(), &book[0].levels);
    let all: Vec<(MemberIndex, Vec<Option<f64>>, u64)> = units
        .par_iter()
        .map(|(&member, unit)| {
            let around = surroundings(search, Source::Member(member));
            let around = around.gathered(plan, &feeding.both());
            let mut standing = Standing::new(search, member, &around);
            let mut spare = Vec::new();
            for demand in &unit.demands {
                let least = standing
                    .of(&unit.rows, demand, corner, levels)
                    .and_then(|tried| tried.by_the_book(plan, (unit, demand), corner, feeding));
                spare.push(least);
            }
            (member, spare, standing.evaluated())
        })
        .collect();
    let evaluated = turned + all.iter().map(|one| one.2).sum::<u64>();
    let spare = all.into_iter().map(|(member, spare, _)| (member, spare));
    (spare.collect(), evaluated)
}

/// Levels at book values; what a switch feeds stands at what was solved of it, as in connections.
fn book_levels(search: &Search, results: &[&MemberResult]) -> Levels {
    let mut levels = search.levels.clone();
    levels.extend(switched_levels(search.plan, results.iter().copied()));
    levels
}

impl Tried<'_> {
    fn by_the_book(
        self,
        plan: &Plan,
        (unit, demand): (&Unit, &Demand),
        corner: &RailCorner,
        levels: Feeding,
    ) -> Option<f64> {
        let reading = self.measure.reading();
        let Ready {
            stand,
            rests,
            middles,
        } = self.ready;
        let settings = vec![0.0; stand.factors.len()];
        let mut least: Option<f64> = None;
        for &number in &demand.rows {
            let row = &unit.rows[number];
            let watches = watches_of(stand, row, middles);
            stand.feed(plan, corner, &row.values, levels.worst);
            let mut feeds = levels.free_feeds(&stand.scene, &row.values);
            let rest = rests[number].as_mut()?;
            let (_, value) = stand.harm(reading, rest, &watches, &settings, &mut feeds);
            let spare = self.measure.spare(reading.number_of(value));
            least = Some(least.map_or(spare, |least| least.min(spare)));
        }
        least
    }
}
