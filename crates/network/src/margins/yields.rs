//! How many of a hundred work: whole machines, every part and every rail drawn from its band, with the levels that follow.
//!
//! In each sample every unit has parts of its own, which are the same wherever it is solved: for its own outputs, as the load of
//! another, as what an input asks. Levels are solved from unit to unit until they stand still, the worst of all rows of a net's
//! driver; a connection works where the level lies on its own side of the middle between the book thresholds and the load's
//! slope there is below one. That is the same as lying beyond the load's threshold, for the parts drawn, wherever its slope rises
//! once. What a sentence asks of a part is read from the part.
//!
//! Samples are the points of a Sobol' sequence (I. M. Sobol', 1967; scrambled after A. B. Owen, "Randomly permuted (t,m,s)-nets
//! and (t,s)-sequences", 1995; both from memory) in sixteen independent scrambles, whose scatter gives the interval. A sample
//! depends on nothing but the seed, its scramble and its number.

use super::corners::rail_corners;
use super::levels::{all_rows, first_levels};
use super::stand::{Stand, settled};
use super::tallies::{Block, Outcome, Outcomes};
use super::{Margins, Search, book_results};
use crate::ensemble::{End, Ensemble, Sample, Solutions, Watch};
use crate::judge::{Context, Levels};
use crate::plan::{MemberIndex, NetIndex};
use crate::scene::build;
use crate::solve::OperatingPoint;
use crate::surroundings::Copies;
use crate::variation::{Factor, Piece, SpreadAssumptions, Varied};
use crate::verdict::Verdict;
use crate::wiring::{ElementIndex, NodeIndex};
use design::model::NetKind;
use parts::PartAsked;
use preparing::{Preparing, alike, in_order, known_of};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::sync::atomic::{AtomicBool, Ordering};

mod parts;
mod preparing;

/// Independent scrambles.
pub const SCRAMBLES: usize = 16;
/// Samples of one scramble at the most.
pub const MOST_SAMPLES: u32 = 1 << 16;
/// Dimensions of one sequence; further ones begin another with a seed of its own.
const DIMENSIONS: u32 = 256;

/// How parts stand in their bands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drawing {
    /// Begins every sequence.
    pub seed: u32,
    /// Share of the way from the book value to the end of the band in which no resistor stands of which the text does not say,
    /// because closer ones were picked out: 0 for an even band.
    pub hollow: f64,
}

/// Rounds of the levels: chosen; what follows from what comes before stands still after two.
const ROUNDS: usize = 8;
/// Levels that move less than this stand still, V: chosen, a hundredth of what gates usually have to spare.
const STILL_VOLTS: f64 = 1e-2;
/// Machines with every part at an end of its band that tell which rows of a unit can be its worst; one that in none of them comes
/// so near to the worst, V, is not drawn. Chosen.
const TRIED: u32 = 64;
const NEAR_VOLTS: f64 = 0.1;
/// Half of the step over which a slope is taken, V: as that of the thresholds.
const HALF_STEP_VOLTS: f64 = 5e-3;

/// A scene, and which of all that is drawn its parts are: in the order of its factors, none for what several tubes have in common.
#[derive(Debug)]
struct Placed {
    stand: Stand,
    drawn: Vec<Option<usize>>,
    /// The tie of each rail in the scene with its rail.
    rails: Vec<(ElementIndex, usize)>,
}

/// What drives nets, with all that is solved with it.
#[derive(Debug)]
struct Driving {
    place: usize,
    /// Units whose outputs are solved; none of a switch.
    members: Vec<MemberIndex>,
    rows: Vec<Row>,
}

impl Driving {
    fn standing<'a>(&'a self, row: &'a Row) -> Standing<'a> {
        Standing {
            place: self.place,
            rest: &row.rest,
            watches: &row.watches,
            feeds: &row.feeds,
        }
    }
}

/// One row, ready to be drawn in.
#[derive(Debug)]
struct Row {
    rest: OperatingPoint,
    watches: Vec<Watch>,
    feeds: Vec<(ElementIndex, Feed)>,
    outputs: Vec<Output>,
    /// One of several states that must last.
    holds: bool,
}

#[derive(Debug, Clone, Copy)]
struct Output {
    net: NetIndex,
    node: NodeIndex,
    up: bool,
}

/// What a source of a scene stands at.
#[derive(Debug, Clone, Copy)]
enum Feed {
    /// The level of a net.
    Level(NetIndex, bool),
    /// A rail, or ground.
    Supply(NetIndex),
}

/// An input that has thresholds of its own.
#[derive(Debug)]
struct Asking {
    place: usize,
    net: NetIndex,
    tie: ElementIndex,
    /// Between its thresholds at book values, V.
    middle: f64,
    /// What it takes for down and for up whatever is drawn, V: its worst thresholds.
    surely: (f64, f64),
    curves: Vec<Curve>,
}

/// One output against that input with the others held.
#[derive(Debug)]
struct Curve {
    node: NodeIndex,
    feeds: Vec<(ElementIndex, Feed)>,
    /// With the input down, and up.
    rests: [OperatingPoint; 2],
}

/// What a net must keep to.
#[derive(Debug, Clone, Copy)]
enum Bound {
    /// The slope of the input with this number stays below one.
    Slope(usize),
    /// What a member without thresholds of its own makes of it keeps to what is asked of this net.
    Passed(NetIndex),
    /// It leaves the machine: below the first when down, above the second when up, V.
    Asked(f64, f64),
}

/// The worst volts of an output in every sample in which its unit came to rest and kept its states, and whether it did in that
/// sample what is asked of it.
#[derive(Debug, Clone, PartialEq)]
pub struct OutputVolts {
    /// The net.
    pub net: NetIndex,
    /// Highest volts when down, V, and whether that works.
    pub down: Vec<(f64, bool)>,
    /// Lowest volts when up, V, and whether that works.
    pub up: Vec<(f64, bool)>,
    /// Lowest low threshold of what it drives, V: at book values and in the worst case.
    pub low: (f64, f64),
    /// Highest high threshold, the same.
    pub high: (f64, f64),
}

/// The units of a machine, ready to be drawn.
#[derive(Debug)]
pub struct Yields {
    /// Units that stand alike; the first of each is counted.
    classes: Vec<Vec<MemberIndex>>,
    places: Vec<Placed>,
    /// In the order in which levels follow from one another.
    driving: Vec<Driving>,
    asking: Vec<Asking>,
    bounds: BTreeMap<NetIndex, Vec<Bound>>,
    /// What sentences ask of parts.
    parts: Vec<PartAsked>,
    /// Nets that each member drives, by member.
    outputs: Vec<Vec<NetIndex>>,
    book: Levels,
    /// Nets that a switch leads straight to a rail: rail when down and up.
    switched: Vec<(NetIndex, NetIndex, NetIndex)>,
    supplies: Vec<Option<usize>>,
    /// Rails that move, and their tolerances.
    moving: Vec<(usize, f64)>,
    rail_volts: Vec<f64>,
    /// Everything of the machine that is drawn, behind the rails.
    factors: Vec<Factor>,
    /// Units that have no threshold behind them and no sentence about a part, or did not come to rest at book values.
    pub left_out: Vec<MemberIndex>,
}

impl Yields {
    /// Prepares every unit.
    #[must_use]
    pub fn new(
        verdict: &Verdict,
        margins: &Margins,
        spread: &SpreadAssumptions,
        context: &Context,
    ) -> Self {
        let plan = &verdict.plan;
        let search = Search::new(verdict, &[], Varied::All(spread), context);
        let rows = all_rows(&search, &book_results(verdict));
        let (corners, _) = rail_corners(plan);
        let design = plan.design;
        let moving: Vec<(usize, f64)> = (0..design.rails.len())
            .filter(|&rail| corners.iter().any(|corner| corner.sides[rail] != 0))
            .map(|rail| (rail, design.rails[rail].tolerance))
            .collect();
        let supply = |net: usize| match plan.nets[net].kind {
            NetKind::Rail(rail) => Some(rail.0),
            NetKind::Ground | NetKind::Signal => None,
        };
        let everybody: Vec<MemberIndex> = (0..plan.members.len()).collect();
        let machine = build(plan, &Copies::each(&everybody), &[], &context.assumptions);
        let factors = search.varied.factors(plan, &machine);
        let mut preparing = Preparing {
            search: &search,
            corner: &corners[0],
            levels: first_levels(plan, search.levels, &corners[0]),
            places: Vec::new(),
            of_source: BTreeMap::new(),
            known: known_of(plan, &factors),
            unknown: Vec::new(),
            margins,
        };
        let mut driving = Vec::new();
        for source in in_order(plan, &rows) {
            driving.extend(preparing.driving(source, &rows[&source]));
        }
        let (asking, bounds) = preparing.bounds();
        let parts = preparing.parts(&book_results(verdict));
        let outputs: Vec<Vec<NetIndex>> = (0..plan.members.len())
            .map(|member| {
                let inputs = plan.circuit(member).interface.inputs;
                plan.members[member].nets[inputs..].to_vec()
            })
            .collect();
        let solved: Vec<MemberIndex> = driving.iter().flat_map(|one| one.members.clone()).collect();
        let (counted, left_out): (Vec<_>, Vec<_>) = (0..plan.members.len()).partition(|member| {
            let bound = outputs[*member].iter().any(|net| bounds.contains_key(net));
            let asked = parts.iter().any(|part| part.member == *member);
            (bound && solved.contains(member) || asked) && !preparing.unknown.contains(member)
        });
        let mut yields = Self {
            classes: alike(&search, &preparing.levels, &counted),
            places: preparing.places,
            driving,
            asking,
            bounds,
            parts,
            outputs,
            switched: plan
                .switches
                .iter()
                .filter(|(net, _)| plan.drivers[**net].is_empty())
                .map(|(&net, switch)| (net, switch.down, switch.up))
                .collect(),
            supplies: (0..plan.nets.len()).map(supply).collect(),
            moving,
            rail_volts: design.rails.iter().map(|rail| rail.volts).collect(),
            factors,
            book: preparing.levels,
            left_out,
        };
        yields.leave_out_rows();
        yields
    }

    /// Leaves out the rows that are never the worst.
    fn leave_out_rows(&mut self) {
        let corners: Vec<Vec<f64>> = (0..TRIED)
            .map(|number| {
                (0..self.moving.len() + self.factors.len())
                    .map(|dimension| setting(0, number, dimension).signum())
                    .collect()
            })
            .collect();
        let machines = self.unsolved(&corners, 0.0);
        let kept: Vec<Vec<bool>> = self
            .driving
            .par_iter()
            .map(|driving| self.can_be_worst(driving, &machines))
            .collect();
        for (driving, kept) in self.driving.iter_mut().zip(kept) {
            let mut kept = kept.into_iter();
            driving.rows.retain(|_| kept.next().unwrap_or(true));
        }
    }

    /// Which rows of what drives nets come near to the worst of them in some machine, or hold a state.
    fn can_be_worst(&self, driving: &Driving, machines: &Machines) -> Vec<bool> {
        let solved: Vec<Vec<BTreeMap<(NetIndex, bool), f64>>> = driving
            .rows
            .iter()
            .map(|row| {
                let solutions = self.solve(machines, driving.standing(row), None, &machines.each());
                (0..machines.count)
                    .map(|number| {
                        let volts = settled(&solutions, number);
                        let outputs = row.outputs.iter();
                        outputs
                            .map(|output| {
                                let volts = volts.map_or(f64::INFINITY, |volts| volts[output.node]);
                                let bad = if output.up { -volts } else { volts };
                                ((output.net, output.up), bad)
                            })
                            .collect()
                    })
                    .collect()
            })
            .collect();
        let near = |row: usize, number: usize| {
            solved[row][number].iter().any(|(output, bad)| {
                let others = solved.iter().filter_map(|row| row[number].get(output));
                let worst = others.copied().fold(f64::NEG_INFINITY, f64::max);
                worst - NEAR_VOLTS <= *bad || bad.is_infinite()
            })
        };
        let rows = driving.rows.iter().enumerate();
        rows.map(|(row, of)| of.holds || (0..machines.count).any(|number| near(row, number)))
            .collect()
    }

    /// Units that stand alike, in the order of the tallies; the first of each is counted.
    pub fn units(&self) -> impl Iterator<Item = &[MemberIndex]> {
        self.classes.iter().map(Vec::as_slice)
    }

    /// Leaves only what is asked for, with the units that stand alike.
    pub fn only(&mut self, asked: impl Fn(MemberIndex) -> bool) {
        let any = |class: &Vec<MemberIndex>| class.iter().any(|member| asked(*member));
        self.classes.retain(any);
        self.left_out.retain(|member| asked(*member));
    }

    /// Draws blocks side by side, for each what [`Yields::draw`] gives; those not yet begun when `stop` is set are `None`.
    #[must_use]
    pub fn draw_blocks(
        &self,
        drawing: &Drawing,
        blocks: &[Block],
        stop: &AtomicBool,
    ) -> Vec<Option<Vec<Outcomes>>> {
        let one = |block: &Block| {
            let go = !stop.load(Ordering::Relaxed);
            go.then(|| self.draw(drawing, block.scramble, block.from, block.to))
        };
        blocks.par_iter().map(one).collect()
    }

    /// Draws samples `from` to before `to` of one scramble: what comes of each of [`Yields::units`], and behind these of the
    /// whole machine.
    #[must_use]
    pub fn draw(&self, drawing: &Drawing, scramble: usize, from: u32, to: u32) -> Vec<Outcomes> {
        let machines = self.machines(drawing, scramble, from, to);
        let count = |of: &dyn Fn(usize) -> Outcome| {
            let mut outcomes = Outcomes::default();
            (0..machines.count).for_each(|number| outcomes.count(of(number)));
            outcomes
        };
        let mut counts: Vec<Outcomes> = self
            .classes
            .iter()
            .map(|class| count(&|number| self.outcome(&machines, class[0], number)))
            .collect();
        counts.push(count(&|number| {
            let at_rest = machines.at_rest.iter().map(|one| one[number]);
            let kept = self.bounds.keys().map(|net| machines.kept(*net, number));
            let parts = machines.wrong.keys();
            let parts = parts.map(|member| machines.parts(*member, number));
            worst(at_rest.chain(kept).chain(parts))
        }));
        counts
    }

    /// The worst volts of every output of the units at a place of [`Yields::units`], in the first `samples` of every scramble.
    #[must_use]
    pub fn volts(
        &self,
        units: usize,
        drawing: &Drawing,
        samples: u32,
        verdict: &Verdict,
        margins: &Margins,
    ) -> Vec<OutputVolts> {
        let member = self.classes[units][0];
        let scrambles: Vec<Machines> = (0..SCRAMBLES)
            .into_par_iter()
            .map(|scramble| self.machines(drawing, scramble, 0, samples))
            .collect();
        let nets = self.outputs[member]
            .iter()
            .filter(|net| self.bounds.contains_key(net));
        nets.map(|&net| {
            let side = |up: bool| {
                scrambles
                    .iter()
                    .flat_map(|machines| {
                        let kept = &machines.kept[&net][usize::from(up)];
                        let volts = &machines.levels[&net][usize::from(up)];
                        let at_rest = (0..machines.count).filter(|&number| {
                            self.at_rest(machines, member, number) == Outcome::Works
                        });
                        at_rest.map(|number| (volts[number], kept[number]))
                    })
                    .collect()
            };
            let loads = || verdict.plan.loads[net].iter();
            let book = loads().filter_map(|load| verdict.thresholds.get(load));
            let book = book.map(|thresholds| (thresholds.low, thresholds.high));
            let worst = margins
                .thresholds
                .iter()
                .flat_map(|corner| loads().filter_map(|load| corner.get(load).copied()));
            let (book, worst) = (tightest(book), tightest(worst));
            OutputVolts {
                net,
                down: side(false),
                up: side(true),
                low: (book.0, worst.0),
                high: (book.1, worst.1),
            }
        })
        .collect()
    }

    /// Whether a unit, or the ring that it is in, comes to rest and keeps its states.
    fn at_rest(&self, machines: &Machines, member: MemberIndex, number: usize) -> Outcome {
        let own = self.driving.iter().zip(&machines.at_rest);
        let own = own.filter(|(driving, _)| driving.members.contains(&member));
        worst(own.map(|(_, at_rest)| at_rest[number]))
    }

    /// What comes of a unit: whether it comes to rest, keeps its state, all that it drives gets what it asks, and its parts do what
    /// sentences ask of them.
    fn outcome(&self, machines: &Machines, member: MemberIndex, number: usize) -> Outcome {
        let nets = self.outputs[member]
            .iter()
            .filter(|net| self.bounds.contains_key(net));
        let kept = nets.map(|net| machines.kept(*net, number));
        let at_rest = self.at_rest(machines, member, number);
        worst(kept.chain([at_rest, machines.parts(member, number)]))
    }

    /// Draws and solves machines.
    fn machines(&self, drawing: &Drawing, scramble: usize, from: u32, to: u32) -> Machines {
        let seed = drawing
            .seed
            .wrapping_mul(SCRAMBLES as u32)
            .wrapping_add(scramble as u32);
        let settings: Vec<Vec<f64>> = (from..to)
            .map(|number| {
                (0..self.moving.len() + self.factors.len())
                    .map(|dimension| setting(seed, number, dimension))
                    .collect()
            })
            .collect();
        let mut machines = self.unsolved(&settings, drawing.hollow);
        self.stand_still(&mut machines);
        self.judge(&mut machines);
        machines
    }

    /// Machines with their parts and rails where settings put them, and levels of the book.
    fn unsolved(&self, settings: &[Vec<f64>], hollow: f64) -> Machines {
        let count = settings.len();
        // Where every part of the machine stands in every sample.
        let values: Vec<Vec<f64>> = settings
            .iter()
            .map(|settings| {
                let own = self.factors.iter().zip(&settings[self.moving.len()..]);
                let own: Vec<f64> = own
                    .map(|(factor, setting)| factor.hollowed(*setting, hollow))
                    .collect();
                let factors = self.factors.iter().enumerate();
                factors
                    .map(|(place, factor)| match self.moving_with(factor) {
                        Some(rail) => self.moving[rail].1 * settings[rail],
                        None => factor.value(place, &own),
                    })
                    .collect()
            })
            .collect();
        let own = |place: &Placed| -> Vec<Vec<Option<f64>>> {
            values
                .iter()
                .map(|values| {
                    let drawn = place.drawn.iter();
                    drawn
                        .map(|drawn| drawn.map(|drawn| values[drawn]))
                        .collect()
                })
                .collect()
        };
        let mut machines = Machines {
            count,
            rails: self.rails(settings),
            own: self.places.iter().map(own).collect(),
            levels: self
                .book
                .iter()
                .map(|(&net, level)| (net, [vec![level.down; count], vec![level.up; count]]))
                .collect(),
            at_rest: vec![vec![Outcome::Works; count]; self.driving.len()],
            kept: BTreeMap::new(),
            wrong: BTreeMap::new(),
        };
        for &(net, down, up) in &self.switched {
            let at = |supply: NetIndex| -> Vec<f64> {
                (0..count)
                    .map(|number| self.supply_volts(&machines, supply, number))
                    .collect()
            };
            let volts = [at(down), at(up)];
            machines.levels.insert(net, volts);
        }
        machines
    }

    /// Of heaters on a rail that is drawn itself its place among those.
    fn moving_with(&self, factor: &Factor) -> Option<usize> {
        let Piece::Heaters(own) = factor.piece else {
            return None;
        };
        self.moving.iter().position(|(rail, _)| *rail == own.0)
    }

    /// Volts of every rail in every sample.
    fn rails(&self, settings: &[Vec<f64>]) -> Vec<Vec<f64>> {
        let at = |rail: usize, settings: &Vec<f64>| {
            let moved = self.moving.iter().position(|(moving, _)| *moving == rail);
            let share = moved.map_or(0.0, |place| self.moving[place].1 * settings[place]);
            self.rail_volts[rail] * (1.0 + share)
        };
        (0..self.rail_volts.len())
            .map(|rail| settings.iter().map(|settings| at(rail, settings)).collect())
            .collect()
    }

    fn supply_volts(&self, machines: &Machines, net: NetIndex, number: usize) -> f64 {
        self.supplies[net].map_or(0.0, |rail| machines.rails[rail][number])
    }

    /// Solves what drives nets, one after the other, until their levels stand still in every sample.
    fn stand_still(&self, machines: &mut Machines) {
        let mut stale = vec![true; self.driving.len()];
        for _ in 0..ROUNDS {
            if stale.iter().all(|stale| !stale) {
                break;
            }
            for number in 0..self.driving.len() {
                if !std::mem::take(&mut stale[number]) {
                    continue;
                }
                let moved = self.drive(number, machines);
                for (other, stale) in self.driving.iter().zip(&mut stale) {
                    let feeds = other.rows.iter().flat_map(|row| &row.feeds);
                    *stale |= feeds.into_iter().any(
                        |(_, feed)| matches!(feed, Feed::Level(net, _) if moved.contains(net)),
                    );
                }
            }
        }
    }

    /// Levels of what one source drives; the nets that moved.
    fn drive(&self, number: usize, machines: &mut Machines) -> Vec<NetIndex> {
        let driving = &self.driving[number];
        let mut at_rest = vec![Outcome::Works; machines.count];
        let mut found: BTreeMap<(NetIndex, bool), Vec<f64>> = BTreeMap::new();
        for row in &driving.rows {
            let scene = driving.standing(row);
            let solutions = self.solve(machines, scene, None, &machines.each());
            for sample in 0..machines.count {
                let Some(volts) = settled(&solutions, sample) else {
                    let failed = if solutions.ends[sample] == End::StateLost {
                        Outcome::StateLost
                    } else {
                        Outcome::NoRest
                    };
                    at_rest[sample] = at_rest[sample].max(failed);
                    continue;
                };
                for output in &row.outputs {
                    let worst = found
                        .entry((output.net, output.up))
                        .or_insert_with(|| vec![f64::NAN; machines.count]);
                    // Whatever is compared with what is not a number yet becomes the other.
                    worst[sample] = if output.up {
                        worst[sample].min(volts[output.node])
                    } else {
                        worst[sample].max(volts[output.node])
                    };
                }
            }
        }
        machines.at_rest[number] = at_rest;
        let mut moved = Vec::new();
        for ((net, up), found) in found {
            let levels = machines
                .levels
                .entry(net)
                .or_insert_with(|| [vec![0.0; machines.count], vec![0.0; machines.count]]);
            let mut furthest: f64 = 0.0;
            for (level, volts) in levels[usize::from(up)].iter_mut().zip(found) {
                if volts.is_finite() {
                    furthest = furthest.max((*level - volts).abs());
                    *level = volts;
                }
            }
            if STILL_VOLTS < furthest {
                moved.push(net);
            }
        }
        moved
    }

    /// Solves samples of a scene, each perhaps with one source at volts of its own.
    fn solve(
        &self,
        machines: &Machines,
        scene: Standing,
        swept: Option<ElementIndex>,
        points: &[(usize, Option<f64>)],
    ) -> Solutions {
        let placed = &self.places[scene.place];
        let stand = &placed.stand;
        let settings = &stand.context.settings;
        let ensemble = Ensemble::new(&stand.network, scene.rest, scene.watches, settings);
        let vary = |number: usize, sample: &mut Sample| {
            let (drawn, volts) = points[number];
            let own = stand.factors.iter().zip(&machines.own[scene.place][drawn]);
            for (factor, value) in own {
                if let Some(value) = value {
                    factor.put(*value, sample);
                }
            }
            for &(tie, rail) in &placed.rails {
                *sample.tie_volts(tie) = machines.rails[rail][drawn];
            }
            for &(tie, feed) in scene.feeds {
                *sample.tie_volts(tie) = match feed {
                    Feed::Level(net, up) => machines
                        .levels
                        .get(&net)
                        .map_or(0.0, |levels| levels[usize::from(up)][drawn]),
                    Feed::Supply(net) => self.supply_volts(machines, net, drawn),
                };
            }
            if let (Some(tie), Some(volts)) = (swept, volts) {
                *sample.tie_volts(tie) = volts;
            }
        };
        ensemble.solve(points.len(), settings.lanes(), &vary)
    }

    /// In which samples every net keeps to what is asked of it, when down and when up.
    fn judge(&self, machines: &mut Machines) {
        let slopes: Vec<[Vec<bool>; 2]> = self
            .asking
            .iter()
            .map(|asking| self.asked(asking, machines))
            .collect();
        for &net in self.bounds.keys() {
            let kept = [false, true].map(|up| {
                (0..machines.count)
                    .map(|number| self.keeps(machines, &slopes, net, up, number, PASSED_ON))
                    .collect()
            });
            machines.kept.insert(net, kept);
        }
        machines.wrong = self.parts_wrong(machines);
    }

    fn keeps(
        &self,
        machines: &Machines,
        slopes: &[[Vec<bool>; 2]],
        net: NetIndex,
        up: bool,
        number: usize,
        depth: usize,
    ) -> bool {
        let bounds = self.bounds.get(&net).into_iter().flatten();
        bounds.into_iter().all(|bound| match *bound {
            Bound::Slope(input) => slopes[input][usize::from(up)][number],
            Bound::Passed(on) => {
                depth == 0 || self.keeps(machines, slopes, on, up, number, depth - 1)
            }
            Bound::Asked(low, high) => machines.levels.get(&net).is_some_and(|levels| {
                let volts = levels[usize::from(up)][number];
                if up { high <= volts } else { volts <= low }
            }),
        })
    }

    /// In which samples an input stands where its slope is below one, on the side where it belongs: when down, and when up.
    fn asked(&self, asking: &Asking, machines: &Machines) -> [Vec<bool>; 2] {
        let Some(levels) = machines.levels.get(&asking.net) else {
            return [vec![false; machines.count], vec![false; machines.count]];
        };
        [false, true].map(|up| {
            let levels = &levels[usize::from(up)];
            let mut kept: Vec<bool> = levels
                .iter()
                .map(|level| (asking.middle < *level) == up)
                .collect();
            // What lies beyond the worst threshold need not be solved.
            let open: Vec<usize> = (0..machines.count)
                .filter(|&sample| {
                    let (low, high) = asking.surely;
                    let surely = if up {
                        high <= levels[sample]
                    } else {
                        levels[sample] <= low
                    };
                    kept[sample] && !surely
                })
                .collect();
            if open.is_empty() {
                return kept;
            }
            let steps = [-HALF_STEP_VOLTS, HALF_STEP_VOLTS];
            let points: Vec<(usize, Option<f64>)> = open
                .iter()
                .flat_map(|&sample| steps.map(|step| (sample, Some(levels[sample] + step))))
                .collect();
            for curve in &asking.curves {
                let scene = Standing {
                    place: asking.place,
                    rest: &curve.rests[usize::from(up)],
                    watches: &[],
                    feeds: &curve.feeds,
                };
                let solutions = self.solve(machines, scene, Some(asking.tie), &points);
                for (place, &sample) in open.iter().enumerate() {
                    let out =
                        |step: usize| Some(settled(&solutions, 2 * place + step)?[curve.node]);
                    let slope = out(0)
                        .zip(out(1))
                        .map(|(before, after)| (after - before).abs() / (2.0 * HALF_STEP_VOLTS));
                    kept[sample] &= slope.is_some_and(|slope| slope < 1.0);
                }
            }
            kept
        })
    }
}

/// A scene in one row.
#[derive(Clone, Copy)]
struct Standing<'a> {
    place: usize,
    rest: &'a OperatingPoint,
    watches: &'a [Watch],
    feeds: &'a [(ElementIndex, Feed)],
}

/// Members without thresholds of their own in a row, at the most: chosen; followers of followers of followers.
const PASSED_ON: usize = 8;

/// The lowest low and the highest high of thresholds.
fn tightest(all: impl Iterator<Item = (f64, f64)>) -> (f64, f64) {
    all.fold((f64::INFINITY, f64::NEG_INFINITY), |tightest, one| {
        (tightest.0.min(one.0), tightest.1.max(one.1))
    })
}

/// Machines drawn side by side.
struct Machines {
    count: usize,
    /// Volts of every rail in every sample.
    rails: Vec<Vec<f64>>,
    /// Values of the parts of every scene in every sample.
    own: Vec<Vec<Vec<Option<f64>>>>,
    /// Volts of every net when down and when up, in every sample.
    levels: BTreeMap<NetIndex, [Vec<f64>; 2]>,
    /// By what drives: whether it comes to rest and keeps its states, in every sample.
    at_rest: Vec<Vec<Outcome>>,
    /// By net: samples in which it keeps to what is asked of it when down, when up.
    kept: BTreeMap<NetIndex, [Vec<bool>; 2]>,
    /// By unit that has a sentence about a part: samples in which a part does not do what is asked of it.
    wrong: BTreeMap<MemberIndex, Vec<bool>>,
}

impl Machines {
    /// Every sample as it is drawn.
    fn each(&self) -> Vec<(usize, Option<f64>)> {
        (0..self.count).map(|number| (number, None)).collect()
    }

    /// Whether the parts of a unit do what sentences ask of them.
    fn parts(&self, member: MemberIndex, number: usize) -> Outcome {
        let wrong = self.wrong.get(&member);
        if wrong.is_some_and(|wrong| wrong[number]) {
            Outcome::PartWrong
        } else {
            Outcome::Works
        }
    }

    /// Whether a net keeps to all that is asked of it.
    fn kept(&self, net: NetIndex, number: usize) -> Outcome {
        let kept = self.kept.get(&net);
        if kept.is_none_or(|kept| kept[0][number] && kept[1][number]) {
            Outcome::Works
        } else {
            Outcome::Short
        }
    }
}

/// The one of several that counts.
fn worst(outcomes: impl Iterator<Item = Outcome>) -> Outcome {
    outcomes.fold(Outcome::Works, Outcome::max)
}

/// A coordinate of a sample, from −1 to 1.
fn setting(seed: u32, number: u32, dimension: usize) -> f64 {
    let dimension = dimension as u32;
    let further = dimension / DIMENSIONS;
    let seed = seed ^ further.wrapping_mul(0x9e37_79b9);
    2.0 * f64::from(sobol_burley::sample(number, dimension % DIMENSIONS, seed)) - 1.0
}
