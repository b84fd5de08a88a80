//! Which part alone, how far off, would make a machine fail at some volts of a rail.

use super::as_typed;
use super::moving::Window;
use crate::judge::{Context, Level};
use crate::margins::corners::RailCorner;
use crate::margins::levels::{
    CornerLevels, LevelRow, Source, all_rows, book_rests, driven, key, levels_of, surroundings,
    worst_levels,
};
use crate::margins::thresholds::{CornerThresholds, thresholds_of, worst_thresholds};
use crate::margins::{Search, book_results};
use crate::plan::{MemberIndex, NetIndex, Plan};
use crate::solve::OperatingPoint;
use crate::surroundings::signature;
use crate::variation::{Quantity, SpreadAssumptions, Varied, part_ends};
use crate::verdict::Verdict;
use design::model::{PartKind, RailId};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// The weakest tube looked for, a share of its book current.
pub const WEAKEST: f64 = 0.02;

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
/// The value sought is narrowed down to this share of the way to the furthest that is looked for: chosen.
const NEAREST_VALUE: f64 = 1e-3;
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
    let mut grounds = Ground::at(verdict, &corners, context);
    let classes = classes(verdict, &grounds);
    let firsts: Vec<MemberIndex> = classes.iter().map(|members| members[0]).collect();
    for ground in &mut grounds {
        ground.prepare(&firsts);
    }
    let [there, on_the_way, as_typed] = &grounds[..] else {
        return Vec::new();
    };
    let mut cases: Vec<(usize, usize, Quantity, f64)> = Vec::new();
    for (class, members) in classes.iter().enumerate() {
        for (part, of) in plan.circuit(members[0]).parts.iter().enumerate() {
            let own = FURTHEST.iter().filter(|(quantity, _)| match of.kind {
                PartKind::Tube(_) => *quantity != Quantity::Ohms,
                PartKind::Resistor { .. } => *quantity == Quantity::Ohms,
                _ => false,
            });
            cases.extend(own.map(|&(quantity, furthest)| (class, part, quantity, furthest)));
        }
    }
    let by_the_book: Vec<Option<f64>> = classes
        .par_iter()
        .map(|members| Some(there.smallest(members[0], Varied::Nothing)?.0))
        .collect();
    let found: Vec<(usize, Suspect)> = cases
        .par_iter()
        .filter_map(|&(class, part, quantity, furthest)| {
            let member = classes[class][0];
            let one = |value: f64| Varied::One {
                member,
                part,
                quantity,
                value,
            };
            let book = (quantity.book(), by_the_book[class]?);
            let (value, net, up) = there.least(member, book, furthest, &one)?;
            let stands = |ground: &Ground| {
                let smallest = ground.smallest(member, one(value));
                smallest.is_some_and(|(volts, ..)| 0.0 <= volts)
            };
            (stands(on_the_way) && stands(as_typed)).then(|| {
                let suspect = Suspect {
                    member,
                    part,
                    quantity,
                    value,
                    times_its_band: times_its_band(plan, member, part, quantity, value, spread),
                    net,
                    up,
                    tells: as_typed.tells(member, one(value)),
                };
                (class, suspect)
            })
        })
        .collect();
    let search = &there.search;
    let mut all: Vec<Suspect> = found
        .iter()
        .flat_map(|(class, suspect)| {
            let members = classes[*class].iter();
            members.map(|&member| suspect.of(search, member))
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

impl Suspect {
    /// The same part of another member of which everything around is the same.
    fn of(&self, search: &Search, member: MemberIndex) -> Self {
        let nets = |member: MemberIndex| &search.plan.members[member].nets;
        let driven = |member| driven(search, search.source_of(member));
        let there = |from: &[NetIndex], to: &[NetIndex], net: NetIndex| {
            let place = from.iter().position(|known| *known == net);
            place.map_or(net, |place| to[place])
        };
        Self {
            member,
            net: there(nets(self.member), nets(member), self.net),
            tells: self.tells.as_ref().map(|tells| Tells {
                net: there(&driven(self.member), &driven(member), tells.net),
                ..tells.clone()
            }),
            ..self.clone()
        }
    }
}

/// Members of which all is alike that [`Ground::smallest`] and [`Ground::tells`] look at.
fn classes(verdict: &Verdict, grounds: &[Ground]) -> Vec<Vec<MemberIndex>> {
    let mut classes: BTreeMap<Vec<u64>, Vec<MemberIndex>> = BTreeMap::new();
    for member in 0..verdict.plan.members.len() {
        let keys = grounds.iter().flat_map(|ground| ground.key(member));
        classes.entry(keys.collect()).or_default().push(member);
    }
    classes.into_values().collect()
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
    search: Search<'a>,
    corner: RailCorner,
    rows: BTreeMap<Source, Vec<LevelRow>>,
    levels: CornerLevels,
    thresholds: CornerThresholds,
    /// The rests of all rows of the sources that are asked for.
    rests: BTreeMap<Source, Vec<Option<OperatingPoint>>>,
}

impl<'a> Ground<'a> {
    /// The machine at some states of the rails.
    fn at(verdict: &'a Verdict<'a>, corners: &[RailCorner], context: &'a Context) -> Vec<Self> {
        let search = Search {
            both_ends: false,
            ..Search::new(verdict, &[], Varied::Nothing, context)
        };
        let results = book_results(verdict);
        let (levels, _) = worst_levels(&search, &results, corners);
        let (thresholds, _) = worst_thresholds(&search, &verdict.thresholds, corners, &levels);
        let found = levels.into_iter().zip(thresholds).zip(corners);
        found
            .map(|((levels, thresholds), corner)| Self {
                verdict,
                search: search.clone(),
                corner: corner.clone(),
                rows: all_rows(&search, &results),
                levels,
                thresholds,
                rests: BTreeMap::new(),
            })
            .collect()
    }
}

impl Ground<'_> {
    /// The same with something off its book value.
    fn with<'s>(&'s self, varied: Varied<'s>) -> Search<'s> {
        Search {
            varied,
            ..self.search.clone()
        }
    }

    /// The source of a member's outputs, then those of its inputs.
    fn sources(&self, member: MemberIndex) -> Vec<Source> {
        let plan = &self.verdict.plan;
        let mut sources = vec![self.search.source_of(member)];
        let inputs = plan.circuit(member).interface.inputs;
        for &net in &plan.members[member].nets[..inputs] {
            let drivers = plan.drivers[net].iter();
            let found = drivers.map(|driver| self.search.source_of(driver.0));
            for source in found {
                if !sources.contains(&source) {
                    sources.push(source);
                }
            }
        }
        sources
    }

    /// Solves the rests that questions about these members begin at.
    fn prepare(&mut self, members: &[MemberIndex]) {
        let sources = members.iter().flat_map(|&member| self.sources(member));
        let mut sources: Vec<Source> = sources.collect();
        sources.sort_unstable();
        sources.dedup();
        let levels = &self.levels.levels;
        let rests = sources.into_par_iter().filter_map(|source| {
            let rows = self.rows.get(&source)?;
            let rests = book_rests(&self.search, source, rows, &self.corner, levels);
            Some((source, rests))
        });
        self.rests = rests.collect::<Vec<_>>().into_iter().collect();
    }

    /// Levels of what a source drives; `None` where they are not known.
    fn levels_of(
        &self,
        search: &Search,
        source: Source,
        rows: &[LevelRow],
    ) -> Option<Vec<(NetIndex, bool, f64)>> {
        let book = self.rests.get(&source)?;
        levels_of(
            search,
            source,
            rows,
            &self.corner,
            self.levels.feeding(),
            book,
        )
    }

    /// All that what is asked of a member depends on.
    fn key(&self, member: MemberIndex) -> Vec<u64> {
        let plan = &self.verdict.plan;
        let search = &self.search;
        let levels = self.levels.feeding().both();
        let own = surroundings(search, Source::Member(member));
        let (mut all, nets) = signature(plan, &own, &levels);
        for source in self.sources(member) {
            let around = surroundings(search, source);
            if let Some(rows) = self.rows.get(&source) {
                all.extend(key(plan, source, &around, rows, &self.corner, &levels).0);
            }
            let place = around.members().iter().position(|other| *other == member);
            all.push(place.map_or(0, |place| place as u64 + 1));
            // Where the nets of the member lie among those of the source.
            let driven = driven(search, source);
            all.extend(plan.members[member].nets.iter().map(|net| {
                let place = driven.iter().position(|other| other == net);
                place.map_or(0, |place| place as u64 + 1)
            }));
        }
        for connection in &self.verdict.connections {
            let drives = connection.driver.is_some_and(|driver| driver.0 == member);
            if !drives && connection.load.0 != member {
                continue;
            }
            let place = nets.iter().position(|net| *net == connection.net);
            all.push(place.map_or(0, |place| place as u64 + 1));
            let level = self.levels.levels.get(&connection.net);
            let level = level.map_or([0, 0], |level| [level.down, level.up].map(f64::to_bits));
            let threshold = self.thresholds.get(&connection.load);
            let threshold =
                threshold.map_or([0, 0], |worst| [worst.low, worst.high].map(f64::to_bits));
            all.extend(level.into_iter().chain(threshold));
        }
        all
    }

    /// The smallest margin among the connections to and from a member of which something is varied: V, net, up.
    fn smallest(&self, member: MemberIndex, varied: Varied) -> Option<(f64, NetIndex, bool)> {
        let verdict = self.verdict;
        let plan = &verdict.plan;
        let search = self.with(varied);
        let mut levels = self.levels.levels.clone();
        let inputs = plan.circuit(member).interface.inputs;
        for source in self.sources(member) {
            let Some(rows) = self.rows.get(&source) else {
                continue;
            };
            let found = self.levels_of(&search, source, rows)?;
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
    /// even with the furthest. `book` is the value by the book with the volts that it leaves to spare.
    fn least<'v>(
        &self,
        member: MemberIndex,
        (book, by_the_book): (f64, f64),
        furthest: f64,
        one: &dyn Fn(f64) -> Varied<'v>,
    ) -> Option<(f64, NetIndex, bool)> {
        // A part so far off that its gate no longer amplifies, or comes to no rest, fails.
        let far = self.smallest(member, one(furthest));
        if by_the_book < 0.0 || far.is_some_and(|(far, ..)| 0.0 <= far) {
            return None;
        }
        let mut found = far.map(|(_, net, up)| (net, up));
        let known = |smallest: Option<(f64, NetIndex, bool)>| {
            let volts = smallest.map(|(volts, ..)| volts);
            volts.filter(|volts| volts.is_finite())
        };
        let mut window = Window {
            stands: book,
            fails: furthest,
            spare: [Some(by_the_book), known(far)],
        };
        let nearest = NEAREST_VALUE * (furthest - book).abs();
        let mut round = 0;
        while let Some(value) = window.next(round, nearest) {
            round += 1;
            let smallest = self.smallest(member, one(value));
            let stands = smallest.is_some_and(|(volts, ..)| 0.0 <= volts);
            window.put(value, stands, known(smallest));
            if !stands {
                found = smallest.map(|(_, net, up)| (net, up)).or(found);
            }
        }
        let (net, up) = found?;
        Some((f64::midpoint(window.stands, window.fails), net, up))
    }

    /// The level of what a member drives, or what drives it, that moves most.
    fn tells(&self, member: MemberIndex, varied: Varied) -> Option<Tells> {
        let search = self.with(varied);
        let source = search.source_of(member);
        let rows = self.rows.get(&source)?;
        let found = self.levels_of(&search, source, rows)?;
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
