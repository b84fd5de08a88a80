//! A circuit alone in the worst case: driven by its like (or what its jig names) at the worst levels that this gives itself,
//! with any number of loads from none to so many, each of which drives nothing.

use super::corners::{RailCorner, rail_corners};
use super::duties::{DutyMargin, Found, in_order, turning_nets, units, worst_duties};
use super::free::free_outputs;
use super::levels::{
    CornerLevels, Starts, WorstLevel, any_harms, beginnings, turn_levels, worst_levels_from,
};
use super::thresholds::{CornerThresholds, Spare, worst_thresholds};
use super::{
    ConnectionMargin, DutyNotKnown, Margins, Missing, NotKnown, Search, lost_states, members, side,
    spare, volts_of,
};
use crate::connections::{AllThresholds, Thresholds};
use crate::judge::{Context, Level, Levels, MemberResult};
use crate::levels::{Alone, InPlace, alone_of, change, in_place};
use crate::plan::{FanOut, Member, MemberIndex, NetIndex, Plan, driver_of};
use crate::transfer::transfers;
use crate::variation::{SpreadAssumptions, Varied};
use crate::verdict::Verdict;
use crate::work::{Budget, MOST_EVALUATED};
use design::model::{CircuitId, Design, JigDriver};
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// Loads tried at the most, as at book values.
pub use crate::fan::MOST;

/// Rounds until the levels at the inputs are those at the outputs: chosen; two or three are usual.
const ROUNDS: usize = 8;
/// Levels that move less than this stand still, V: as those of a machine.
const STILL_VOLTS: f64 = 2e-3;

/// Any number of loads from none to `count`.
#[derive(Debug, Clone, PartialEq)]
pub struct AloneRow {
    /// The most loads on the first output.
    pub count: usize,
    /// Worst down and up level of the first output over the corners of the rails, V.
    pub levels: (f64, f64),
    /// Worst thresholds, low and high, of a load that drives nothing, V.
    pub thresholds: (f64, f64),
    /// To spare when down, V: the smallest over the corners.
    pub spare_down: f64,
    /// To spare when up, V.
    pub spare_up: f64,
    /// Levels of the first output at book values, the worse of none and all of its loads.
    pub book: Level,
}

impl AloneRow {
    /// The smaller of both.
    #[must_use]
    pub fn smallest(&self) -> f64 {
        self.spare_down.min(self.spare_up)
    }
}

/// A circuit alone.
#[derive(Debug, Clone, PartialEq)]
pub struct AloneMargins {
    /// Which.
    pub circuit: CircuitId,
    /// With up to so many loads, to the first number that falls short or to what was asked.
    pub rows: Vec<AloneRow>,
}

impl AloneMargins {
    /// The most loads with which nothing falls short, from none to all.
    #[must_use]
    pub fn last_that_works(&self) -> Option<usize> {
        let works = self.rows.iter().take_while(|row| 0.0 <= row.smallest());
        works.last().map(|row| row.count)
    }

    /// The row of so many loads.
    #[must_use]
    pub fn up_to(&self, count: usize) -> Option<&AloneRow> {
        self.rows.iter().find(|row| row.count == count)
    }
}

/// What a circuit alone stands on: what it, and what stands round it, does at book values.
#[derive(Debug, Clone)]
pub struct Ground<'a> {
    /// The design.
    pub design: &'a Design,
    /// Circuits alone, at least those that stand round the one that is asked for.
    pub alone: Arc<Alone>,
}

impl<'a> Ground<'a> {
    /// That of one circuit and of what stands round it.
    #[must_use]
    pub fn of(design: &'a Design, circuit: CircuitId, context: &Context) -> Self {
        let plan = Plan::alone(design, circuit, FanOut::Exactly(1));
        let mut around: Vec<CircuitId> = plan.members.iter().map(|member| member.circuit).collect();
        around.sort_unstable();
        around.dedup();
        let mut budget = Budget::new(MOST_EVALUATED);
        Self {
            design,
            alone: Arc::new(alone_of(design, &around, &mut budget, context)),
        }
    }

    fn machine(&self, circuit: CircuitId, loads: FanOut, context: &Context) -> Machine<'a> {
        let plan = Plan::alone(self.design, circuit, loads);
        let mut budget = Budget::new(MOST_EVALUATED);
        let place = in_place(&plan, &self.alone, &mut budget, context);
        Machine {
            like: driven_by_its_like(&plan),
            plan,
            place,
            starts: Starts::new(),
        }
    }
}

/// The circuit with its driver and so many loads.
struct Machine<'a> {
    plan: Plan<'a>,
    /// At book values.
    place: InPlace,
    /// Nets that stand as the circuit's own output does.
    like: Vec<NetIndex>,
    starts: Starts,
}

impl Machine<'_> {
    /// Every net that its like drives at the levels `own`, by corner.
    fn given(&self, own: &[Own]) -> Vec<CornerLevels> {
        let all = |level: Level| -> Levels { self.like.iter().map(|net| (*net, level)).collect() };
        own.iter()
            .map(|own| CornerLevels {
                turned: all(own.turned),
                ..CornerLevels::of(all(own.worst))
            })
            .collect()
    }

    fn search<'a>(
        &'a self,
        book: &'a AllThresholds,
        given: &'a [CornerLevels],
        growing: &Growing<'a>,
    ) -> Search<'a> {
        Search {
            plan: &self.plan,
            levels: &self.place.levels,
            book,
            asked: BTreeMap::new(),
            rings: Arc::from([]),
            given,
            varied: growing.varied,
            both_ends: true,
            context: growing.context,
        }
    }

    /// Worst levels of the first output at each corner.
    fn levels_at(
        &mut self,
        own: &[Own],
        growing: &Growing,
        evaluated: &mut u64,
    ) -> Vec<CornerLevels> {
        let given = self.given(own);
        let book = AllThresholds::new();
        let mut starts = std::mem::take(&mut self.starts);
        let results: Vec<&MemberResult> = self.place.results.iter().collect();
        let search = self.search(&book, &given, growing);
        let corners = &growing.corners;
        let (mut levels, work) = worst_levels_from(&search, &results, corners, &mut starts);
        *evaluated += work;
        if let Some(output) = growing.turns {
            let nets = BTreeSet::from([output]);
            *evaluated += turn_levels(&search, &results, corners, &mut levels, &nets);
        }
        self.starts = starts;
        levels
    }

    /// What its like drives may do more harm at the level furthest the other way.
    fn turns(&self, growing: &Growing) -> bool {
        let book: AllThresholds = growing.driving.iter().map(|one| one.load).collect();
        let results: Vec<&MemberResult> = self.place.results.iter().collect();
        let search = self.search(&book, &[], growing);
        any_harms(&search, &results, &growing.corners[0], &self.like)
    }

    /// The first load, and its thresholds at book values; `None` where nothing is driven that has any.
    fn load(&self, context: &Context) -> Option<((MemberIndex, usize), Thresholds)> {
        let output = output_net(&self.plan)?;
        let load = *self.plan.loads[output].first()?;
        let curves = transfers(&self.plan, load.0, load.1, &self.place.levels, context);
        let pairs: Option<Vec<(f64, f64)>> = curves.iter().map(|curve| curve.thresholds).collect();
        let pairs = pairs?;
        let thresholds = Thresholds {
            low: pairs.iter().map(|pair| pair.0).reduce(f64::min)?,
            high: pairs.iter().map(|pair| pair.1).reduce(f64::max)?,
            passed_on: false,
        };
        Some((load, thresholds))
    }

    /// Worst thresholds of the first load at each corner where it has any.
    fn thresholds_at(
        &self,
        own: &[Own],
        growing: &Growing,
        evaluated: &mut u64,
    ) -> Vec<CornerThresholds> {
        let book: AllThresholds = growing.driving.iter().map(|one| one.load).collect();
        let given = self.given(own);
        let corners = &growing.corners;
        let search = self.search(&book, &given, growing);
        let levels = beginnings(&search, corners);
        let (thresholds, work) = worst_thresholds(&search, &book, corners, &levels);
        *evaluated += work;
        thresholds
    }

    /// What the circuit's sentences ask of its parts, with levels that stand still.
    fn duties(
        &self,
        own: &[Own],
        levels: &[CornerLevels],
        growing: &Growing,
        thin_share: f64,
    ) -> Found {
        let given = self.given(own);
        let book = AllThresholds::new();
        let search = self.search(&book, &given, growing);
        let results: Vec<&MemberResult> = self.place.results.iter().collect();
        let mut units = units(&search, &results);
        units.retain(|member, _| *member == 0);
        let corners = &growing.corners;
        let mut levels = levels.to_vec();
        let nets = turning_nets(search.plan, &units);
        let turned = turn_levels(&search, &results, corners, &mut levels, &nets);
        let mut found = worst_duties(&search, &results, &units, corners, &levels, thin_share);
        found.evaluated += turned;
        found
    }
}

/// What every number of loads has in common.
struct Growing<'a> {
    corners: Vec<RailCorner>,
    all_corners: bool,
    /// What is driven, if that has a threshold.
    driving: Option<Driving>,
    /// The first output, where its level furthest the other way may do more harm at the inputs of its like.
    turns: Option<NetIndex>,
    varied: Varied<'a>,
    context: &'a Context,
}

/// The first output and what hangs on it.
#[derive(Clone, Copy)]
struct Driving {
    output: NetIndex,
    /// The first load, and its thresholds at book values.
    load: ((MemberIndex, usize), Thresholds),
}

/// Levels that a circuit gives itself.
#[derive(Clone, Copy)]
struct Own {
    /// The highest down and the lowest up.
    worst: Level,
    /// The lowest down and the highest up; the worst where these do no harm.
    turned: Level,
}

/// The circuit with no load and with one, and the levels that it gives itself so far.
struct Ends<'a> {
    none: Machine<'a>,
    one: Machine<'a>,
    own: Vec<Own>,
    evaluated: u64,
}

/// Worst levels at each corner.
struct Around {
    /// Without a load, and with all.
    each: [Vec<CornerLevels>; 2],
    /// Of the circuit's outputs whichever of both is worse.
    worse: Vec<CornerLevels>,
}

impl<'a> Ends<'a> {
    fn of<'b>(
        ground: &Ground<'a>,
        circuit: CircuitId,
        spread: &'b SpreadAssumptions,
        context: &'b Context,
    ) -> (Self, Growing<'b>) {
        let none = ground.machine(circuit, FanOut::Exactly(0), context);
        let one = ground.machine(circuit, FanOut::Exactly(1), context);
        let (corners, all_corners) = rail_corners(&one.plan);
        let output = output_net(&one.plan);
        let level = output.and_then(|output| one.place.levels.get(&output));
        let own = level.map_or_else(Vec::new, |&level| {
            let own = Own {
                worst: level,
                turned: level,
            };
            vec![own; corners.len()]
        });
        let driving = output.filter(|_| level.is_some()).and_then(|output| {
            Some(Driving {
                output,
                load: one.load(context)?,
            })
        });
        let mut growing = Growing {
            corners,
            all_corners,
            driving,
            turns: None,
            varied: Varied::All(spread),
            context,
        };
        growing.turns = output.filter(|_| one.turns(&growing));
        let ends = Self {
            none,
            one,
            own,
            evaluated: 0,
        };
        (ends, growing)
    }

    /// The worst levels with any number of loads from none to all of a machine, at the levels that the circuit then gives itself;
    /// as far as the search came where one of them is not known.
    fn levels(&mut self, all: &mut Machine, growing: &Growing) -> Around {
        let outputs = outputs(&all.plan);
        let mut rounds = 0;
        loop {
            rounds += 1;
            let unloaded = self.none.levels_at(&self.own, growing, &mut self.evaluated);
            let loaded = all.levels_at(&self.own, growing, &mut self.evaluated);
            let both = unloaded.iter().cloned().zip(&loaded);
            let mut worse: Vec<CornerLevels> = both
                .map(|(unloaded, loaded)| worse(&outputs, unloaded, loaded))
                .collect();
            let new: Option<Vec<Own>> = outputs.first().and_then(|&output| {
                let levels = worse.iter().map(|corner| {
                    let worst = known_level(output, corner)?;
                    let turned = corner.turned.get(&output).copied();
                    Some(Own {
                        worst,
                        turned: turned.unwrap_or(worst),
                    })
                });
                levels.collect()
            });
            let moved = new.as_ref().map_or(0.0, |new| {
                let moves = new.iter().zip(&self.own);
                moves
                    .map(|(new, own)| {
                        change(new.worst, own.worst).max(change(new.turned, own.turned))
                    })
                    .fold(0.0, f64::max)
            });
            let still = moved < STILL_VOLTS;
            for corner in &mut worse {
                corner.settled &= still;
            }
            if let Some(new) = new {
                self.own = new;
            }
            if still || rounds == ROUNDS {
                return Around {
                    each: [unloaded, loaded],
                    worse,
                };
            }
        }
    }

    /// Levels of the output at book values, the worse of none and all of the loads of a machine.
    fn book_level(&self, all: &Machine, output: NetIndex) -> Level {
        let [none, all] = [&self.none, all].map(|machine| machine.place.levels[&output]);
        Level {
            down: none.down.max(all.down),
            up: none.up.min(all.up),
        }
    }

    fn thresholds(&mut self, growing: &Growing) -> Vec<CornerThresholds> {
        self.one
            .thresholds_at(&self.own, growing, &mut self.evaluated)
    }

    /// To spare down and up with nothing moved and the rails as typed, solved in the way of the worst case, before that is; `None`
    /// where it does not stand still or is not known.
    fn book_spares(&mut self, all: &mut Machine, growing: &Growing) -> Option<[f64; 2]> {
        let driving = growing.driving?;
        let typed = Growing {
            corners: growing.corners[..1].to_vec(),
            varied: Varied::Nothing,
            ..*growing
        };
        let own = self.own.clone();
        self.own.truncate(1);
        let levels = self.levels(all, &typed).worse;
        let thresholds = self.thresholds(&typed);
        self.own = own;
        for starts in [&mut self.none.starts, &mut all.starts] {
            starts.clear();
        }
        let ([levels], [thresholds]) = (levels.as_slice(), thresholds.as_slice()) else {
            return None;
        };
        known_level(driving.output, levels).filter(|_| levels.settled)?;
        let spare = |up| spare(driving.output, driving.load.0, up, levels, thresholds)?.known();
        Some([spare(false)?, spare(true)?])
    }

    /// What sentences ask of the circuit's parts with any number of loads from none to all of a machine.
    fn duties(
        &mut self,
        all: &Machine,
        around: &Around,
        growing: &Growing,
        thin_share: f64,
    ) -> Found {
        let [unloaded, loaded] = &around.each;
        let mut found = all.duties(&self.own, loaded, growing, thin_share);
        if output_net(&all.plan).is_some() {
            let none = &self.none;
            let without = none.duties(&self.own, unloaded, growing, thin_share);
            found = lesser(found, without);
        }
        self.evaluated += found.evaluated;
        found
    }
}

/// Of what is asked with all loads and without: whichever leaves less at each corner, and not known where one of them is not.
fn lesser(loaded: Found, unloaded: Found) -> Found {
    let same = |left: &DutyMargin, right: &DutyMargin| {
        (left.duty, left.asked) == (right.duty, right.asked)
    };
    let both = loaded.margins.into_iter().filter_map(|with| {
        let mut others = unloaded.margins.iter();
        let without = others.find(|other| same(other, &with))?.clone();
        let least = |left: &f64, right: &f64| left.min(*right);
        let corners = with.by_corner.iter().zip(&without.by_corner);
        let by_corner = corners.map(|(left, right)| least(left, right)).collect();
        let book = with.book.min(without.book);
        let worst = if without.spare < with.spare {
            without
        } else {
            with
        };
        Some(DutyMargin {
            book,
            by_corner,
            ..worst
        })
    });
    let mut margins: Vec<DutyMargin> = both.collect();
    in_order(&mut margins);
    let mut not_known = loaded.not_known;
    for one in unloaded.not_known {
        let known = |other: &DutyNotKnown| (other.duty, other.asked) == (one.duty, one.asked);
        if !not_known.iter().any(known) {
            not_known.push(one);
        }
    }
    Found {
        margins,
        not_known,
        evaluated: loaded.evaluated + unloaded.evaluated,
    }
}

/// Both worst levels of a net; `None` where one is not known.
fn known_level(net: NetIndex, corner: &CornerLevels) -> Option<Level> {
    Some(Level {
        down: corner.cases.get(&(net, false))?.volts,
        up: corner.cases.get(&(net, true))?.volts,
    })
}

/// Of one corner without loads and with all: of every output whichever is worse, each side for itself, and not known where one of
/// them is not. Member 0, and whatever drives it, is the same in both.
fn worse(outputs: &[NetIndex], mut unloaded: CornerLevels, loaded: &CornerLevels) -> CornerLevels {
    for &output in outputs {
        for up in [false, true] {
            let key = (output, up);
            let weaker = |left: &WorstLevel, right: &WorstLevel| {
                if up {
                    right.volts < left.volts
                } else {
                    left.volts < right.volts
                }
            };
            match (unloaded.cases.get(&key), loaded.cases.get(&key)) {
                (Some(known), Some(other)) if weaker(known, other) => {
                    unloaded.cases.insert(key, other.clone());
                }
                (Some(_), None) => {
                    unloaded.cases.remove(&key);
                }
                _ => {}
            }
        }
        if let Some(level) = known_level(output, &unloaded) {
            unloaded.levels.insert(output, level);
        }
        if let (Some(level), Some(other)) =
            (unloaded.turned.get_mut(&output), loaded.turned.get(&output))
        {
            *level = Level {
                down: level.down.min(other.down),
                up: level.up.max(other.up),
            };
        }
    }
    unloaded.settled &= loaded.settled;
    unloaded.unknown.extend(&loaded.unknown);
    unloaded.lost.extend(loaded.lost.iter().cloned());
    unloaded
}

/// A circuit with loads from none to each of some numbers, in rising order, up to the first that falls short.
///
/// # Errors
///
/// It has no margins: what is missing in the worst case, or nothing where nothing in it or behind it sets a threshold.
pub fn alone_margins(
    ground: &Ground,
    circuit: CircuitId,
    counts: impl IntoIterator<Item = usize>,
    spread: &SpreadAssumptions,
    context: &Context,
) -> Result<AloneMargins, Option<Missing>> {
    let (mut ends, growing) = Ends::of(ground, circuit, spread, context);
    let driving = growing.driving.ok_or(None)?;
    let mut thresholds: Option<Vec<CornerThresholds>> = None;
    let mut rows: Vec<AloneRow> = Vec::new();
    for count in counts.into_iter().take_while(|count| *count <= MOST) {
        let mut all = ground.machine(circuit, FanOut::Exactly(count), context);
        let levels = ends.levels(&mut all, &growing).worse;
        // A load's other inputs stand at the levels found; they move its thresholds by little, so those of the first will do.
        let thresholds = thresholds.get_or_insert_with(|| ends.thresholds(&growing));
        let book = ends.book_level(&all, driving.output);
        let row = row((count, book), &driving, &levels, thresholds).ok_or_else(|| {
            let connection = (driving.output, None, driving.load.0);
            NotKnown::of(connection, &levels, thresholds).missing
        })?;
        rows.push(row);
        if rows.last().is_some_and(|row| row.smallest() < 0.0) {
            break;
        }
    }
    Ok(AloneMargins { circuit, rows })
}

/// The worst case of a circuit alone with any number of loads from none to so many, and how it comes about.
#[derive(Debug)]
pub struct AloneCase<'a> {
    /// Which.
    pub circuit: CircuitId,
    /// The most gates on the first output.
    pub loads: usize,
    /// What stands there: the circuit (member 0), what drives it, and its loads.
    pub plan: Plan<'a>,
    /// Of its first output and the first load, of what is asked of the circuit's parts, and of outputs that nothing asks a level
    /// of. No connection where its worst case is not known, or where nothing sets a threshold.
    pub margins: Margins,
}

/// The loads that the first output of a circuit is meant to drive, and how many: what its jig hangs there (without a jig one of its
/// like, as for [`crate::levels::alone`]), or as many as one of its units drives, whichever is more.
fn loads_meant(verdict: &Verdict, circuit: CircuitId) -> (FanOut, usize) {
    let plan = &verdict.plan;
    let of_unit = |member: &Member| {
        let net = member.nets[plan.design.circuits[circuit.0].interface.inputs..].first()?;
        Some(plan.loads[*net].len())
    };
    let units = plan.members.iter();
    let of_units = units
        .filter(|member| member.circuit == circuit)
        .filter_map(of_unit)
        .fold(0, usize::max)
        .min(MOST);
    let alone = Plan::alone(plan.design, circuit, FanOut::AsJig);
    let of_jig = output_net(&alone).map_or(0, |net| alone.loads[net].len());
    if of_jig < of_units {
        (FanOut::Exactly(of_units), of_units)
    } else {
        (FanOut::AsJig, of_jig)
    }
}

/// The worst case of every circuit alone that is asked for, in the order of the design. Left out are circuits behind which nothing
/// sets a threshold, that have no sentence about a part, and of no output of which a level is known.
#[must_use]
pub fn alone_cases<'a>(
    verdict: &Verdict<'a>,
    circuits: &[CircuitId],
    spread: &SpreadAssumptions,
    context: &Context,
) -> Vec<AloneCase<'a>> {
    let ground = Ground {
        design: verdict.plan.design,
        alone: Arc::clone(&verdict.alone),
    };
    let cases: Vec<Option<AloneCase>> = circuits
        .par_iter()
        .map(|&circuit| {
            let loads = loads_meant(verdict, circuit);
            alone_case(
                &ground,
                circuit,
                loads,
                verdict.limits.thin_share,
                (spread, context),
            )
        })
        .collect();
    cases.into_iter().flatten().collect()
}

/// The worst case of one circuit with any number of loads from none to so many; `None` where there is nothing to say of it. Less to spare
/// than `thin_share` of the swing, or of what is asked of a part, is called thin.
pub(super) fn alone_case<'a>(
    ground: &Ground<'a>,
    circuit: CircuitId,
    (fan_out, loads): (FanOut, usize),
    thin_share: f64,
    (spread, context): (&SpreadAssumptions, &Context),
) -> Option<AloneCase<'a>> {
    let (mut ends, mut growing) = Ends::of(ground, circuit, spread, context);
    // A jig that hangs no gate on the output asks for no level.
    growing.driving = growing.driving.filter(|_| 0 < loads);
    let mut all = ground.machine(circuit, fan_out, context);
    let spares = ends.book_spares(&mut all, &growing);
    let around = ends.levels(&mut all, &growing);
    let duties = ends.duties(&all, &around, &growing, thin_share);
    let levels = around.worse;
    let outputs = outputs(&all.plan);
    let book: Levels = outputs
        .iter()
        .map(|&output| (output, ends.book_level(&all, output)))
        .collect();
    let first = outputs.first().copied();
    let asked = growing.driving.map(|driving| driving.output);
    // Thresholds are looked for behind the first output only.
    let free = outputs.into_iter().filter(|output| {
        Some(*output) != asked && (Some(*output) == first || all.plan.loads[*output].is_empty())
    });
    let mut margins = Margins {
        corners: growing.corners.clone(),
        all_corners: growing.all_corners,
        levels: levels.iter().map(|corner| corner.levels.clone()).collect(),
        turned: levels.iter().map(|corner| corner.turned.clone()).collect(),
        thresholds: Vec::new(),
        connections: Vec::new(),
        not_known: Vec::new(),
        duties: duties.margins,
        duties_not_known: duties.not_known,
        free: free_outputs(&all.plan, &book, free, &levels),
        lost: lost_states(&levels),
        unknown: members(levels.iter().flat_map(|corner| &corner.unknown)),
        settled: levels.iter().all(|corner| corner.settled),
        evaluated: 0,
        spread: *spread,
    };
    if let Some(driving) = growing.driving {
        let (output, (load, thresholds)) = (driving.output, driving.load);
        let level = book[&output];
        let driver = Some((0, all.plan.circuit(0).interface.inputs));
        let worst = ends.thresholds(&growing);
        let side = |up, book_volts| side(output, load, up, book_volts, &levels, &worst);
        let judged = [thresholds.low - level.down, level.up - thresholds.high];
        let [down, up] = spares.unwrap_or(judged);
        let sides = side(false, down).zip(side(true, up));
        match sides {
            Some((down, up)) => margins.connections.push(ConnectionMargin {
                net: output,
                driver,
                load,
                down,
                up,
                thin_below: thin_share * level.swing(),
            }),
            None => margins
                .not_known
                .push(NotKnown::of((output, driver, load), &levels, &worst)),
        }
        margins.thresholds = worst.iter().map(volts_of).collect();
    }
    margins.evaluated = ends.evaluated;
    let says_nothing = margins.connections.is_empty()
        && margins.not_known.is_empty()
        && margins.duties.is_empty()
        && margins.duties_not_known.is_empty()
        && margins.free.is_empty()
        && margins.lost.is_empty();
    (!says_nothing).then_some(AloneCase {
        circuit,
        loads,
        plan: all.plan,
        margins,
    })
}

/// The nets of the outputs of member 0.
fn outputs(plan: &Plan) -> Vec<NetIndex> {
    let inputs = plan.circuit(0).interface.inputs;
    plan.members[0].nets[inputs..].to_vec()
}

/// The net of the first output of member 0.
fn output_net(plan: &Plan) -> Option<NetIndex> {
    outputs(plan).first().copied()
}

/// Nets, besides the outputs of member 0, that a circuit of its kind drives or would drive.
fn driven_by_its_like(plan: &Plan) -> Vec<NetIndex> {
    let subject = plan.members[0].circuit;
    let like = |net: &NetIndex| {
        if plan.is_supply(*net) || plan.switches.contains_key(net) {
            return false;
        }
        match (plan.drivers[*net].first(), plan.loads[*net].first()) {
            (Some(&(driver, _)), _) => driver != 0 && plan.members[driver].circuit == subject,
            (None, Some(&(load, signal))) => {
                let circuit = plan.members[load].circuit;
                driver_of(plan.design, circuit, signal) == Some(JigDriver::Circuit(subject))
            }
            (None, None) => false,
        }
    };
    (0..plan.nets.len()).filter(like).collect()
}

/// `None` where a level or a threshold is not known at some corner.
fn row(
    (count, book): (usize, Level),
    driving: &Driving,
    levels: &[CornerLevels],
    thresholds: &[CornerThresholds],
) -> Option<AloneRow> {
    let mut row = AloneRow {
        count,
        levels: (f64::NEG_INFINITY, f64::INFINITY),
        thresholds: (f64::INFINITY, f64::NEG_INFINITY),
        spare_down: f64::INFINITY,
        spare_up: f64::INFINITY,
        book,
    };
    let mut known = true;
    for (levels, thresholds) in levels.iter().zip(thresholds) {
        let level = known_level(driving.output, levels)?;
        let worst = thresholds.get(&driving.load.0)?;
        let (low, high) = (worst.low, worst.high);
        row.levels = (row.levels.0.max(level.down), row.levels.1.min(level.up));
        row.thresholds = (row.thresholds.0.min(low), row.thresholds.1.max(high));
        for (up, spare) in [(false, &mut row.spare_down), (true, &mut row.spare_up)] {
            match worst.spare(level, up) {
                Spare::Known(volts) => *spare = spare.min(volts),
                Spare::LessThan(volts) if volts < 0.0 => return None,
                Spare::LessThan(_) => known = false,
            }
        }
    }
    // What is short where it is known falls short whatever is left elsewhere.
    (known || row.smallest() < 0.0).then_some(row)
}
