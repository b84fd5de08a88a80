//! Values of a circuit that spare the most in the worst case, and which tubes serve in it.
//!
//! What is made as large as it can be is the smallest margin of the circuit alone, over both its sides, every corner of the
//! rails, any number of loads from none to so many, and every tube that is asked for.

use super::Missing;
use super::alone::{AloneRow, Ground, alone_case, alone_margins};
use super::cases::case_in_words;
use crate::delay::delay;
use crate::judge::{Context, Level};
use crate::levels::{in_place, output_levels};
use crate::plan::{FanOut, Plan};
use crate::transfer::transfers;
use crate::variation::SpreadAssumptions;
use crate::work::{Budget, MOST_EVALUATED};
use design::model::{CircuitId, Design, PartKind, RailId};
use devices::types::TubeType;
use rayon::prelude::*;
use std::cmp::Ordering;
use std::collections::BTreeMap;
use std::sync::Arc;

/// So many combinations are tried one and all: chosen, some tens of seconds.
pub const ENUMERATED_UP_TO: usize = 512;
/// Steps of the search at the most; each changes one or two values.
const STEPS: usize = 64;
/// Combinations strewn over the lists, and how many of the best are climbed from: chosen.
const STREWN: u32 = 48;
const CLIMBS: usize = 2;
/// Places in the list of values by which one is moved at once.
const STRIDES: [usize; 4] = [1, 2, 4, 8];
/// A margin within this share of the best is as good: the values need not be changed.
pub const AS_GOOD: f64 = 0.02;

/// A part whose value is free.
#[derive(Debug, Clone, PartialEq)]
pub struct Free {
    /// Part of the circuit: a resistor.
    pub part: usize,
    /// What it may be, ohm, in rising order.
    pub ohms: Vec<f64>,
}

/// What is asked.
#[derive(Debug, Clone)]
pub struct Wanted {
    /// The circuit.
    pub circuit: CircuitId,
    /// Parts whose values are free.
    pub free: Vec<Free>,
    /// Loads from none to so many.
    pub loads: usize,
    /// Types that must all serve in the place of every tube of the circuit; those of the text where there are none.
    pub tubes: Vec<Arc<TubeType>>,
    /// The most that a unit may draw from each rail at book values, A.
    pub most_amps: BTreeMap<RailId, f64>,
    /// The most watts of any resistor at book values.
    pub most_watts: Option<f64>,
    /// The longest rough delay, s.
    pub longest_delay: Option<f64>,
}

/// One combination of values.
#[derive(Debug, Clone, PartialEq)]
pub struct Combination {
    /// Ohm, in the order of [`Wanted::free`].
    pub ohms: Vec<f64>,
    /// Smallest margin by tube, V; `None` where the circuit then has none.
    pub by_tube: Vec<Option<f64>>,
    /// Levels of the output at book values by tube, the worse of none and all of its loads; `None` where there is no margin.
    pub levels: Vec<Option<Level>>,
    /// The smallest of all, V; `None` where a tube has none.
    pub margin: Option<f64>,
    /// It keeps the limits.
    pub within: bool,
}

impl Combination {
    /// What keeps the limits before what does not, then the larger margin; none at all is below every other.
    fn rank(&self) -> (bool, f64) {
        (self.within, self.margin.unwrap_or(f64::NEG_INFINITY))
    }

    /// It can be the best: it keeps the limits, and there is a margin to compare.
    fn counts(&self) -> bool {
        self.within && self.margin.is_some()
    }
}

/// Which of two ranks is better.
fn above(left: (bool, f64), right: (bool, f64)) -> Ordering {
    left.0.cmp(&right.0).then(left.1.total_cmp(&right.1))
}

/// What a circuit takes at book values: the most of all rows, and of all tubes that are asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct Takes {
    /// From each rail that it stands on, A.
    pub amps: BTreeMap<RailId, f64>,
    /// Of any of its resistors, W.
    pub watts: f64,
    /// The slower edge of its rough delay, s; `None` where it has none.
    pub delay: Option<f64>,
}

/// How the smallest margin of a combination comes about.
#[derive(Debug, Clone, PartialEq)]
pub struct WorstCase {
    /// With which tube: a place in [`Combination::by_tube`].
    pub tube: usize,
    /// It is the margin when up, else when down.
    pub up: bool,
    /// To spare, V; negative is short.
    pub volts: f64,
    /// The level there, V.
    pub level: f64,
    /// The threshold there, V.
    pub threshold: f64,
    /// The weightiest parts, how many more, and the rails.
    pub in_words: String,
}

/// What was found.
#[derive(Debug, Clone, PartialEq)]
pub struct Chosen {
    /// The values of the text.
    pub now: Combination,
    /// What they take.
    pub now_takes: Takes,
    /// The best within the limits, the values of the text among them; `None` where nothing tried keeps the limits and has a
    /// margin.
    pub best: Option<Combination>,
    /// What the best take.
    pub best_takes: Option<Takes>,
    /// How the smallest margin of the best comes about.
    pub best_case: Option<WorstCase>,
    /// Of those tried and the values of the text, how many keep the limits.
    pub within: usize,
    /// Names of the tubes, in the order of [`Combination::by_tube`].
    pub tubes: Vec<String>,
    /// Combinations tried.
    pub tried: usize,
    /// All there are.
    pub every: bool,
}

impl Wanted {
    /// How many combinations there are; `None` where they are too many to count.
    #[must_use]
    pub fn combinations(&self) -> Option<usize> {
        let mut sizes = self.free.iter().map(|free| free.ohms.len());
        sizes.try_fold(1usize, |all, size| all.checked_mul(size))
    }

    /// How many there are where they are so few that every one is tried.
    #[must_use]
    pub fn enumerated(&self) -> Option<usize> {
        self.combinations().filter(|all| *all <= ENUMERATED_UP_TO)
    }
}

impl Chosen {
    /// The values of the text keep the limits and spare as much as the best, or almost.
    #[must_use]
    pub fn now_is_as_good(&self) -> bool {
        let best = self.best.as_ref().and_then(|best| best.margin);
        match (self.now.margin, best) {
            (Some(now), Some(best)) => self.now.within && best - now <= AS_GOOD * best.abs(),
            _ => false,
        }
    }

    /// The best values that are to stand in the text in place of those that do.
    #[must_use]
    pub fn better(&self) -> Option<&Combination> {
        self.best.as_ref().filter(|_| !self.now_is_as_good())
    }
}

struct Search<'a> {
    design: &'a Design,
    wanted: &'a Wanted,
    spread: &'a SpreadAssumptions,
    context: &'a Context,
}

/// Looks for the values that spare the most. `progress` is told how many combinations were tried, and stops the search by
/// answering false: what was found so far is kept.
pub fn choose(
    design: &Design,
    wanted: &Wanted,
    spread: &SpreadAssumptions,
    context: &Context,
    progress: &mut dyn FnMut(usize) -> bool,
) -> Chosen {
    let search = Search {
        design,
        wanted,
        spread,
        context,
    };
    let parts = &design.circuits[wanted.circuit.0].parts;
    let ohms_now = |free: &Free| match parts[free.part].kind {
        PartKind::Resistor { ohms, .. } => ohms,
        _ => f64::NAN,
    };
    let now_ohms: Vec<f64> = wanted.free.iter().map(ohms_now).collect();
    let now = search.combination(now_ohms.clone());
    let sizes: Vec<usize> = wanted.free.iter().map(|free| free.ohms.len()).collect();
    let mut tried: BTreeMap<Vec<usize>, Combination> = BTreeMap::new();
    if let Some(all) = wanted.enumerated() {
        let places: Vec<Vec<usize>> = (0..all).map(|number| place_of(number, &sizes)).collect();
        for some in places.chunks(CHUNK) {
            if !search.try_all(some, &mut tried, progress) {
                break;
            }
        }
    } else if sizes.iter().all(|size| 0 < *size) {
        let start = nearest(&wanted.free, &now_ohms);
        if search.climb(start, &mut tried, progress) {
            search.climb_from_afar(&sizes, &mut tried, progress);
        }
    }
    // The values of the text come last: of equal ones they are the best.
    let all = || tried.values().chain([&now]);
    let best = all()
        .filter(|combination| combination.counts())
        .max_by(|left, right| above(left.rank(), right.rank()))
        .cloned();
    Chosen {
        every: wanted.enumerated() == Some(tried.len()),
        tried: tried.len(),
        within: all().filter(|combination| combination.within).count(),
        tubes: search
            .tubes()
            .into_iter()
            .map(|tube| tube.map_or_else(String::new, |tube| tube.name.clone()))
            .collect(),
        now_takes: search.takes(&now.ohms),
        best_takes: best.as_ref().map(|best| search.takes(&best.ohms)),
        best_case: best.as_ref().and_then(|best| search.worst_case(best)),
        now,
        best,
    }
}

/// Combinations between two reports of progress.
const CHUNK: usize = 16;

/// The places in the lists that a number stands for.
fn place_of(mut number: usize, sizes: &[usize]) -> Vec<usize> {
    sizes
        .iter()
        .map(|size| {
            let place = number % size;
            number /= size;
            place
        })
        .collect()
}

/// The listed values nearest to those of the text, by ratio.
fn nearest(free: &[Free], ohms: &[f64]) -> Vec<usize> {
    free.iter()
        .zip(ohms)
        .map(|(free, ohms)| {
            let away = |candidate: &f64| (candidate / ohms).ln().abs();
            let places = free.ohms.iter().enumerate();
            places
                .min_by(|left, right| away(left.1).total_cmp(&away(right.1)))
                .map_or(0, |(place, _)| place)
        })
        .collect()
}

impl Search<'_> {
    /// The types asked for; `None` for those of the text.
    fn tubes(&self) -> Vec<Option<&Arc<TubeType>>> {
        if self.wanted.tubes.is_empty() {
            vec![None]
        } else {
            self.wanted.tubes.iter().map(Some).collect()
        }
    }

    fn combination(&self, ohms: Vec<f64>) -> Combination {
        let mut within = true;
        let rows: Vec<Option<AloneRow>> = self
            .tubes()
            .into_iter()
            .map(|tube| {
                let changed = self.design_with(&ohms, tube);
                let ground = Ground::of(&changed, self.wanted.circuit, self.context);
                within &= self.keeps_limits(&ground);
                let most = [self.wanted.loads.max(1)];
                let alone = alone_margins(
                    &ground,
                    self.wanted.circuit,
                    most,
                    self.spread,
                    self.context,
                )
                .ok()?;
                alone.rows.into_iter().next()
            })
            .collect();
        let by_tube: Vec<Option<f64>> = rows
            .iter()
            .map(|row| row.as_ref().map(AloneRow::smallest))
            .collect();
        let margins = by_tube.iter().copied();
        let margin = margins
            .reduce(|one, other| Some(one?.min(other?)))
            .flatten();
        Combination {
            ohms,
            by_tube,
            levels: rows.iter().map(|row| Some(row.as_ref()?.book)).collect(),
            margin,
            within,
        }
    }

    /// How the smallest margin of a combination comes about; `None` where it has none.
    fn worst_case(&self, combination: &Combination) -> Option<WorstCase> {
        let by_tube = combination.by_tube.iter().enumerate();
        let known = by_tube.filter_map(|(tube, volts)| Some((tube, (*volts)?)));
        let (tube, _) = known.min_by(|left, right| left.1.total_cmp(&right.1))?;
        let changed = self.design_with(&combination.ohms, self.tubes()[tube]);
        let circuit = self.wanted.circuit;
        let ground = Ground::of(&changed, circuit, self.context);
        let loads = self.wanted.loads.max(1);
        let fan_out = (FanOut::Exactly(loads), loads);
        let assumed = (self.spread, self.context);
        let case = alone_case(&ground, circuit, fan_out, 0.0, assumed)?;
        let (side, up) = case.margins.connections.first()?.smallest();
        Some(WorstCase {
            tube,
            up,
            volts: side.volts,
            level: side.level,
            threshold: side.threshold,
            in_words: case_in_words(&case.plan, &case.margins, side),
        })
    }

    /// The design with these values and tube.
    fn design_with(&self, new_ohms: &[f64], tube: Option<&Arc<TubeType>>) -> Design {
        let mut design = self.design.clone();
        let circuit = &mut design.circuits[self.wanted.circuit.0];
        for (free, &new) in self.wanted.free.iter().zip(new_ohms) {
            if let PartKind::Resistor { ohms, .. } = &mut circuit.parts[free.part].kind {
                *ohms = new;
            }
        }
        if let Some(tube) = tube {
            for part in &mut circuit.parts {
                if let PartKind::Tube(part) = &mut part.kind {
                    part.device = tube.clone();
                }
            }
        }
        design
    }

    /// Current, watts and delay at book values.
    fn keeps_limits(&self, ground: &Ground) -> bool {
        let wanted = self.wanted;
        let mut amps = wanted.most_amps.iter();
        amps.all(|(&rail, &most)| self.most_amps(ground, rail).is_none_or(|amps| amps <= most))
            && wanted
                .most_watts
                .is_none_or(|most| self.most_watts(ground) <= most)
            && wanted.longest_delay.is_none_or(|longest| {
                self.longest_delay(ground)
                    .is_some_and(|delay| delay <= longest)
            })
    }

    /// The most that a unit draws from a rail in any row, A; `None` where it does not stand on it.
    fn most_amps(&self, ground: &Ground, rail: RailId) -> Option<f64> {
        let net = ground.design.rails[rail.0].net.0;
        let rows = ground.alone.results[self.wanted.circuit.0].rows.iter();
        let amps = rows
            .filter(|row| row.counts())
            .filter_map(|row| row.rail_amps.get(&net));
        amps.map(|amps| amps.abs()).reduce(f64::max)
    }

    /// The most watts of any of its resistors in any row.
    fn most_watts(&self, ground: &Ground) -> f64 {
        let parts = &ground.design.circuits[self.wanted.circuit.0].parts;
        let rows = ground.alone.results[self.wanted.circuit.0].rows.iter();
        let readings = rows
            .filter(|row| row.counts())
            .flat_map(|row| parts.iter().zip(&row.parts));
        readings
            .filter(|(part, _)| matches!(part.kind, PartKind::Resistor { .. }))
            .map(|(_, reading)| reading.watts)
            .fold(0.0, f64::max)
    }

    /// The slower edge of the rough delay, s.
    fn longest_delay(&self, ground: &Ground) -> Option<f64> {
        let circuit = self.wanted.circuit;
        let delay = delay(ground.design, circuit, &ground.alone, self.context)?;
        Some(delay.rising?.max(delay.falling?))
    }

    /// What the circuit takes with these values, the most of all tubes.
    fn takes(&self, ohms: &[f64]) -> Takes {
        let each = self.tubes().into_iter().map(|tube| {
            let changed = self.design_with(ohms, tube);
            let ground = Ground::of(&changed, self.wanted.circuit, self.context);
            let rails = (0..changed.rails.len()).map(RailId);
            Takes {
                amps: rails
                    .filter_map(|rail| Some((rail, self.most_amps(&ground, rail)?)))
                    .collect(),
                watts: self.most_watts(&ground),
                delay: self.longest_delay(&ground),
            }
        });
        let most = each.reduce(|mut all, one| {
            for (rail, amps) in one.amps {
                let known = all.amps.entry(rail).or_insert(amps);
                *known = known.max(amps);
            }
            all.watts = all.watts.max(one.watts);
            all.delay = all.delay.zip(one.delay).map(|(all, one)| all.max(one));
            all
        });
        most.unwrap_or(Takes {
            amps: BTreeMap::new(),
            watts: 0.0,
            delay: None,
        })
    }

    /// Tries what was not tried yet; false when it is to stop.
    fn try_all(
        &self,
        places: &[Vec<usize>],
        tried: &mut BTreeMap<Vec<usize>, Combination>,
        progress: &mut dyn FnMut(usize) -> bool,
    ) -> bool {
        let new: Vec<&Vec<usize>> = places
            .iter()
            .filter(|places| !tried.contains_key(*places))
            .collect();
        let found: Vec<Combination> = new
            .par_iter()
            .map(|places| {
                let ohms = self.wanted.free.iter().zip(*places);
                self.combination(ohms.map(|(free, &place)| free.ohms[place]).collect())
            })
            .collect();
        let known: Vec<Vec<usize>> = new.into_iter().cloned().collect();
        tried.extend(known.into_iter().zip(found));
        progress(tried.len())
    }

    /// From the best of some combinations strewn over all lists, because a better one may lie beyond worse ones.
    fn climb_from_afar(
        &self,
        sizes: &[usize],
        tried: &mut BTreeMap<Vec<usize>, Combination>,
        progress: &mut dyn FnMut(usize) -> bool,
    ) {
        let strewn: Vec<Vec<usize>> = (0..STREWN)
            .map(|number| {
                let places = sizes.iter().enumerate().map(|(index, &size)| {
                    let share = f64::from(sobol_burley::sample(number, index as u32, 0));
                    ((share * size as f64) as usize).min(size - 1)
                });
                places.collect()
            })
            .collect();
        if !self.try_all(&strewn, tried, progress) {
            return;
        }
        let mut starts: Vec<&Vec<usize>> = strewn.iter().collect();
        let rank = |places: &&Vec<usize>| {
            let found = tried.get(*places);
            found.map_or((false, f64::NEG_INFINITY), Combination::rank)
        };
        starts.sort_by(|left, right| above(rank(right), rank(left)));
        let starts: Vec<Vec<usize>> = starts.into_iter().take(CLIMBS).cloned().collect();
        for start in starts {
            if !self.climb(start, tried, progress) {
                return;
            }
        }
    }

    /// One value, two, or all together at a time, as long as that spares more; false when it was stopped.
    fn climb(
        &self,
        start: Vec<usize>,
        tried: &mut BTreeMap<Vec<usize>, Combination>,
        progress: &mut dyn FnMut(usize) -> bool,
    ) -> bool {
        let mut at = start;
        if !self.try_all(std::slice::from_ref(&at), tried, progress) {
            return false;
        }
        for _ in 0..STEPS {
            let mut singles = self.moves(&at, &STRIDES, false);
            singles.extend(self.all_together(&at));
            if !self.try_all(&singles, tried, progress) {
                return false;
            }
            let mut next = self.better(&at, &singles, tried);
            if next.is_none() {
                let pairs = self.moves(&at, &STRIDES[..2], true);
                if !self.try_all(&pairs, tried, progress) {
                    return false;
                }
                next = self.better(&at, &pairs, tried);
            }
            match next {
                Some(next) => at = next,
                None => return true,
            }
        }
        true
    }

    /// All values larger or smaller together, which keeps what they divide.
    fn all_together(&self, at: &[usize]) -> Vec<Vec<usize>> {
        let by = |stride: isize| -> Option<Vec<usize>> {
            let places = at.iter().zip(&self.wanted.free);
            places
                .map(|(place, free)| {
                    let place = place.checked_add_signed(stride)?;
                    (place < free.ohms.len()).then_some(place)
                })
                .collect()
        };
        [-2, -1, 1, 2].into_iter().filter_map(by).collect()
    }

    /// Every place that is reached by moving one value, or two.
    fn moves(&self, at: &[usize], strides: &[usize], in_pairs: bool) -> Vec<Vec<usize>> {
        let single: Vec<(usize, isize)> = (0..at.len())
            .flat_map(|index| {
                strides.iter().flat_map(move |&stride| {
                    let stride = stride as isize;
                    [(index, stride), (index, -stride)]
                })
            })
            .collect();
        let moved = |moves: &[(usize, isize)]| {
            let mut places = at.to_vec();
            for &(index, by) in moves {
                let place = places[index].checked_add_signed(by)?;
                places[index] = (place < self.wanted.free[index].ohms.len()).then_some(place)?;
            }
            Some(places)
        };
        if !in_pairs {
            return single.iter().filter_map(|one| moved(&[*one])).collect();
        }
        let pairs = single.iter().enumerate().flat_map(|(number, one)| {
            let others = single[number + 1..].iter().filter(|other| other.0 != one.0);
            others.map(|other| [*one, *other])
        });
        pairs.filter_map(|pair| moved(&pair)).collect()
    }

    /// The best of some places that is better than `at`: what keeps the limits before what does not, then the larger margin.
    fn better(
        &self,
        at: &[usize],
        places: &[Vec<usize>],
        tried: &BTreeMap<Vec<usize>, Combination>,
    ) -> Option<Vec<usize>> {
        let rank = |places: &[usize]| tried.get(places).map(Combination::rank);
        let best = places
            .iter()
            .filter(|places| rank(places).is_some())
            .max_by(|left, right| match (rank(left), rank(right)) {
                (Some(left), Some(right)) => above(left, right),
                _ => Ordering::Equal,
            })?;
        let better = above(rank(best)?, rank(at)?).is_gt();
        better.then(|| best.clone())
    }
}

/// One type in a circuit.
#[derive(Debug, Clone, PartialEq)]
pub struct Serves {
    /// The type.
    pub tube: Arc<TubeType>,
    /// Smallest margin with loads from none to so many, V; `None` where the circuit then has none.
    pub margin: Option<f64>,
    /// That margin is the one when up, else when down.
    pub up: bool,
    /// What it drives, one of its like or what its jig names, has thresholds at book values.
    pub amplifies: bool,
    /// What is missing where it has thresholds at book values and no margin.
    pub missing: Option<Missing>,
    /// The most loads with which nothing falls short.
    pub most_loads: Option<usize>,
    /// Watts of its heater for each half.
    pub heater_watts: Option<f64>,
    /// Highest down and lowest up level of the circuit at book values, V.
    pub levels: Option<Level>,
    /// Those with the loads of the smallest margin, the worse of none and all of them; `None` where there is no margin.
    pub margin_levels: Option<Level>,
}

/// Types tried between two reports of progress: chosen, a second or two.
const TYPES_AT_ONCE: usize = 4;

/// Each of some types in the place of every tube of a circuit, the largest margin first; of equal ones the one whose heater
/// takes less. `progress` is told how many were tried, and ends it by answering false: those tried so far are given.
#[must_use]
pub fn serving(
    design: &Design,
    circuit: CircuitId,
    tubes: &[Arc<TubeType>],
    loads: usize,
    (spread, context): (&SpreadAssumptions, &Context),
    progress: &mut dyn FnMut(usize) -> bool,
) -> Vec<Serves> {
    let wanted = Wanted {
        circuit,
        free: Vec::new(),
        loads,
        tubes: Vec::new(),
        most_amps: BTreeMap::new(),
        most_watts: None,
        longest_delay: None,
    };
    let search = Search {
        design,
        wanted: &wanted,
        spread,
        context,
    };
    let mut all: Vec<Serves> = Vec::new();
    for some in tubes.chunks(TYPES_AT_ONCE) {
        all.par_extend(some.par_iter().map(|tube| search.serves(tube)));
        if !progress(all.len()) {
            break;
        }
    }
    all.sort_by(|left, right| {
        let margin = |serves: &Serves| serves.margin.unwrap_or(f64::NEG_INFINITY);
        margin(right)
            .total_cmp(&margin(left))
            .then_with(|| {
                let watts = |serves: &Serves| serves.heater_watts.unwrap_or(f64::INFINITY);
                watts(left).total_cmp(&watts(right))
            })
            .then_with(|| left.tube.name.cmp(&right.tube.name))
    });
    all
}

impl Search<'_> {
    /// One type in the place of every tube.
    fn serves(&self, tube: &Arc<TubeType>) -> Serves {
        let (circuit, context) = (self.wanted.circuit, self.context);
        let changed = self.design_with(&[], Some(tube));
        let ground = Ground::of(&changed, circuit, context);
        let loads = 1..=self.wanted.loads.max(1);
        let alone = alone_margins(&ground, circuit, loads, self.spread, context);
        let plan = Plan::alone(&changed, circuit, FanOut::AsJig);
        let levels = output_levels(&plan, 0, &ground.alone.results[circuit.0]);
        let heater = tube.heater.as_ref();
        let missing = alone.as_ref().err().copied().flatten();
        let alone = alone.ok();
        let tightest = alone.as_ref().and_then(|alone| {
            let rows = alone.rows.iter();
            rows.min_by(|left, right| left.smallest().total_cmp(&right.smallest()))
        });
        Serves {
            tube: tube.clone(),
            margin: tightest.map(AloneRow::smallest),
            up: tightest.is_some_and(|row| row.spare_up < row.spare_down),
            amplifies: tightest.is_some() || amplifies(&ground, circuit, context),
            missing,
            most_loads: alone
                .as_ref()
                .and_then(super::alone::AloneMargins::last_that_works),
            heater_watts: heater
                .map(|heater| heater.volts.value * heater.amps.value / tube.sections as f64),
            levels: levels.first().map(|(_, level)| *level),
            margin_levels: tightest.map(|row| row.book),
        }
    }
}

/// Whether the first load of a circuit alone has thresholds at book values.
fn amplifies(ground: &Ground, circuit: CircuitId, context: &Context) -> bool {
    let plan = Plan::alone(ground.design, circuit, FanOut::Exactly(1));
    let output = plan.circuit(0).interface.inputs;
    let net = plan.members[0].nets.get(output);
    let Some(&load) = net.and_then(|net| plan.loads[*net].first()) else {
        return false;
    };
    let mut budget = Budget::new(MOST_EVALUATED);
    let place = in_place(&plan, &ground.alone, &mut budget, context);
    let curves = transfers(&plan, load.0, load.1, &place.levels, context);
    !curves.is_empty() && curves.iter().all(|curve| curve.thresholds.is_some())
}
