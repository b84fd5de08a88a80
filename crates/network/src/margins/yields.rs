//! How many of a hundred units work: every part and every rail drawn from its band, the unit's inputs at the worst levels that
//! their nets may have at the rails drawn, its outputs against the worst thresholds that their loads may have there.
//!
//! Samples are the points of a Sobol' sequence (I. M. Sobol', 1967; scrambled after A. B. Owen, "Randomly permuted (t,m,s)-nets
//! and (t,s)-sequences", 1995; both from memory) in sixteen independent scrambles, whose scatter gives the interval. A sample
//! depends on nothing but the seed, its scramble and its number.

use super::levels::{LevelRow, Source, all_rows, held, stored_start, surroundings, watches_of};
use super::stand::{Group, Stand};
use super::tallies::Block;
use super::{Margins, Search, book_results};
use crate::ensemble::{End, Ensemble, Sample, Solutions, Watch};
use crate::judge::{Context, fed_volts};
use crate::plan::{MemberIndex, NetIndex, Plan};
use crate::solve::OperatingPoint;
use crate::surroundings::{Surroundings, signature};
use crate::variation::{SpreadAssumptions, Varied, apply};
use crate::verdict::Verdict;
use crate::wiring::{ElementIndex, NodeIndex};
use design::model::NetKind;
use numerics::lanes::select::Choice;
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::sync::atomic::{AtomicBool, Ordering};

/// Independent scrambles.
pub const SCRAMBLES: usize = 16;
/// Samples of one scramble at the most.
pub const MOST_SAMPLES: u32 = 1 << 16;
/// Dimensions of one sequence; further ones begin another with a seed of its own.
const DIMENSIONS: u32 = 256;
/// Two-sided 95 % quantile of Student's distribution for fifteen degrees of freedom (tables of the distribution; W. S. Gosset,
/// "The probable error of a mean", 1908).
const STUDENT_15: f64 = 2.131;
/// No more than this share fails, when none of N samples did, to the power 1/N: 95 % of such counts (binomial).
const NONE_FAILED: f64 = 0.05;

/// How parts stand in their bands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drawing {
    /// Begins every sequence.
    pub seed: u32,
    /// Share of the way from the book value to the end of the band in which no resistor stands, because closer ones were picked
    /// out: 0 for an even band.
    pub hollow: f64,
}

/// Samples that pass, by scramble.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tally {
    /// Passed in each scramble.
    pub passed: [u32; SCRAMBLES],
    /// Samples in each scramble.
    pub samples: u32,
}

impl Tally {
    /// Nothing drawn yet.
    #[must_use]
    pub fn none() -> Self {
        Self {
            passed: [0; SCRAMBLES],
            samples: 0,
        }
    }

    /// Share that passes.
    #[must_use]
    pub fn share(&self) -> f64 {
        let passed: u32 = self.passed.iter().sum();
        f64::from(passed) / (f64::from(self.samples) * SCRAMBLES as f64)
    }

    /// Where the share may lie, with 95 % of confidence: from the scatter of the scrambles; where all pass or none does, from
    /// the number of samples.
    #[must_use]
    pub fn interval(&self) -> (f64, f64) {
        let samples = f64::from(self.samples);
        let all = samples * SCRAMBLES as f64;
        let share = self.share();
        let shares = self.passed.map(|passed| f64::from(passed) / samples);
        let square = shares.map(|own| (own - share).powi(2)).iter().sum::<f64>();
        let error = (square / (SCRAMBLES as f64 * (SCRAMBLES as f64 - 1.0))).sqrt();
        let half = STUDENT_15 * error;
        let (mut low, mut high) = ((share - half).max(0.0), (share + half).min(1.0));
        if share == 1.0 {
            low = NONE_FAILED.powf(1.0 / all);
        } else if share == 0.0 {
            high = 1.0 - NONE_FAILED.powf(1.0 / all);
        }
        (low, high)
    }
}

/// Units that stand alike, and what their samples are drawn from.
#[derive(Debug)]
struct Class {
    members: Vec<MemberIndex>,
    stand: Stand,
    rows: Vec<Row>,
    /// The tie of each rail in the scene with its rail.
    rails: Vec<(ElementIndex, usize)>,
}

/// One row, ready to be drawn in.
#[derive(Debug)]
struct Row {
    rest: OperatingPoint,
    watches: Vec<Watch>,
    /// Sources with their volts at every corner.
    feeds: Vec<(ElementIndex, Vec<f64>)>,
    outputs: Vec<Output>,
}

/// An output of a row.
#[derive(Debug)]
struct Output {
    net: NetIndex,
    node: NodeIndex,
    up: bool,
    /// What its volts must not pass, at every corner.
    bound: Vec<f64>,
}

/// The worst volts of an output in every sample that came to rest, and what its loads ask.
#[derive(Debug, Clone, PartialEq)]
pub struct OutputVolts {
    /// The net.
    pub net: NetIndex,
    /// Highest volts when down, V.
    pub down: Vec<f64>,
    /// Lowest volts when up, V.
    pub up: Vec<f64>,
    /// Where the low threshold lies over the corners of the rails: lowest, highest, V.
    pub low: (f64, f64),
    /// The same of the high threshold.
    pub high: (f64, f64),
}

/// The units of a machine, ready to be drawn.
#[derive(Debug)]
pub struct Yields {
    classes: Vec<Class>,
    /// Rails that move, and their tolerances, in the order of the corners' bits.
    moving: Vec<(usize, f64)>,
    rail_volts: Vec<f64>,
    /// Units that have no threshold behind them, or did not come to rest at book values.
    pub left_out: Vec<MemberIndex>,
}

impl Yields {
    /// Prepares every unit; `None` where not every corner of the rails is known.
    #[must_use]
    pub fn new(
        verdict: &Verdict,
        margins: &Margins,
        spread: &SpreadAssumptions,
        context: &Context,
    ) -> Option<Self> {
        if !margins.all_corners {
            return None;
        }
        let plan = &verdict.plan;
        let search = Search::new(verdict, &[], Varied::All(spread), context);
        let all = all_rows(&search, &book_results(verdict));
        let design = plan.design;
        let moving: Vec<(usize, f64)> = (0..design.rails.len())
            .filter(|&rail| margins.corners.iter().any(|corner| corner.sides[rail] != 0))
            .map(|rail| (rail, design.rails[rail].tolerance))
            .collect();
        let mut groups: BTreeMap<Vec<u64>, Vec<(MemberIndex, Surroundings)>> = BTreeMap::new();
        let mut left_out = Vec::new();
        for member in 0..plan.members.len() {
            let source = Source::Member(member);
            let around = surroundings(plan, source).gathered(plan, &margins.levels[0]);
            let Some(rows) = all.get(&source) else {
                left_out.push(member);
                continue;
            };
            let mut key = Vec::new();
            for levels in &margins.levels {
                let (words, nets) = signature(plan, &around, levels);
                key.extend(words);
                for row in rows {
                    key.push(rows.len() as u64);
                    key.extend(nets.iter().map(|net| row.value(*net)));
                }
            }
            let bounds = bounds(plan, margins, member);
            if bounds.is_empty() {
                left_out.push(member);
                continue;
            }
            for bound in bounds.values().flatten() {
                key.extend([bound.0.to_bits(), bound.1.to_bits()]);
            }
            groups.entry(key).or_default().push((member, around));
        }
        let classes: Vec<Option<Class>> = groups
            .par_iter()
            .map(|(_, group)| {
                let (member, around) = &group[0];
                let rows = &all[&Source::Member(*member)];
                let members = group.iter().map(|(member, _)| *member).collect();
                class(&search, margins, members, around, rows)
            })
            .collect();
        for (class, group) in classes.iter().zip(groups.values()) {
            if class.is_none() {
                left_out.extend(group.iter().map(|(member, _)| *member));
            }
        }
        Some(Self {
            classes: classes.into_iter().flatten().collect(),
            moving,
            rail_volts: design.rails.iter().map(|rail| rail.volts).collect(),
            left_out,
        })
    }

    /// Units that stand alike, in the order of the tallies.
    pub fn units(&self) -> impl Iterator<Item = &[MemberIndex]> {
        self.classes.iter().map(|class| class.members.as_slice())
    }

    /// Leaves only what is asked for, with the units that stand alike.
    pub fn only(&mut self, asked: impl Fn(MemberIndex) -> bool) {
        let any = |class: &Class| class.members.iter().any(|member| asked(*member));
        self.classes.retain(any);
        self.left_out.retain(|member| asked(*member));
    }

    /// Draws blocks side by side, for each the number that passes of each of [`Yields::units`]; those not yet begun when `stop`
    /// is set are `None`.
    #[must_use]
    pub fn draw_blocks(
        &self,
        drawing: &Drawing,
        blocks: &[Block],
        stop: &AtomicBool,
    ) -> Vec<Option<Vec<u32>>> {
        let one = |block: &Block| {
            let go = !stop.load(Ordering::Relaxed);
            go.then(|| self.draw(drawing, block.scramble, block.from, block.to))
        };
        blocks.par_iter().map(one).collect()
    }

    /// Draws samples `from` to before `to` of one scramble; the number that passes for each of [`Yields::units`].
    #[must_use]
    pub fn draw(&self, drawing: &Drawing, scramble: usize, from: u32, to: u32) -> Vec<u32> {
        self.classes
            .par_iter()
            .map(|class| self.passed(class, drawing, scramble, from, to))
            .collect()
    }

    /// The worst volts of every output that has a threshold, of the units at a place of [`Yields::units`], in the first
    /// `samples` of every scramble.
    #[must_use]
    pub fn volts(&self, units: usize, drawing: &Drawing, samples: u32) -> Vec<OutputVolts> {
        let class = &self.classes[units];
        let scrambles: Vec<Vec<OutputVolts>> = (0..SCRAMBLES)
            .into_par_iter()
            .map(|scramble| self.volts_of(class, drawing, scramble, samples))
            .collect();
        let together = scrambles.into_iter().reduce(|mut all, further| {
            for (all, further) in all.iter_mut().zip(further) {
                all.down.extend(further.down);
                all.up.extend(further.up);
            }
            all
        });
        together.unwrap_or_default()
    }

    fn volts_of(
        &self,
        class: &Class,
        drawing: &Drawing,
        scramble: usize,
        samples: u32,
    ) -> Vec<OutputVolts> {
        let settings = self.settings(class, drawing, scramble, 0, samples);
        let range = |bound: &[f64]| {
            let lowest = bound.iter().copied().fold(f64::INFINITY, f64::min);
            let highest = bound.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            (lowest, highest)
        };
        let mut by_net: BTreeMap<NetIndex, OutputVolts> = BTreeMap::new();
        for row in &class.rows {
            let solutions = self.solve(class, row, &settings);
            for output in &row.outputs {
                let all = by_net.entry(output.net).or_insert_with(|| OutputVolts {
                    net: output.net,
                    down: vec![f64::NEG_INFINITY; settings.len()],
                    up: vec![f64::INFINITY; settings.len()],
                    low: (f64::NAN, f64::NAN),
                    high: (f64::NAN, f64::NAN),
                });
                let bound = if output.up {
                    &mut all.high
                } else {
                    &mut all.low
                };
                *bound = range(&output.bound);
                for number in 0..settings.len() {
                    let volts = if settled(&solutions, number) {
                        solutions.sample(number)[output.node]
                    } else {
                        f64::NAN
                    };
                    // A row that did not come to rest leaves nothing to say of its sample.
                    let (worst, worse) = if output.up {
                        let worst = &mut all.up[number];
                        let worse = volts < *worst;
                        (worst, worse)
                    } else {
                        let worst = &mut all.down[number];
                        let worse = *worst < volts;
                        (worst, worse)
                    };
                    if worse || volts.is_nan() {
                        *worst = volts;
                    }
                }
            }
        }
        let mut outputs: Vec<OutputVolts> = by_net.into_values().collect();
        for output in &mut outputs {
            output.down.retain(|volts| volts.is_finite());
            output.up.retain(|volts| volts.is_finite());
        }
        outputs
    }

    /// Settings of samples `from` to before `to`: those of the rails that move, and those of the factors.
    fn settings(
        &self,
        class: &Class,
        drawing: &Drawing,
        scramble: usize,
        from: u32,
        to: u32,
    ) -> Vec<Settings> {
        let seed = drawing
            .seed
            .wrapping_mul(SCRAMBLES as u32)
            .wrapping_add(scramble as u32);
        (from..to)
            .map(|number| {
                let rails =
                    (0..self.moving.len()).map(|dimension| setting(seed, number, dimension));
                let factors = class.stand.factors.iter().enumerate();
                let own = factors.map(|(index, factor)| {
                    let even = setting(seed, number, self.moving.len() + index);
                    factor.hollowed(even, drawing.hollow)
                });
                Settings {
                    rails: rails.collect(),
                    own: own.collect(),
                }
            })
            .collect()
    }

    /// One row with every sample's settings.
    fn solve(&self, class: &Class, row: &Row, settings: &[Settings]) -> Solutions {
        let ensemble = Ensemble::new(
            &class.stand.network,
            &row.rest,
            &row.watches,
            &class.stand.context.settings,
        );
        let vary = |number: usize, sample: &mut Sample| {
            let Settings { rails, own } = &settings[number];
            apply(&class.stand.factors, own, sample);
            for &(tie, rail) in &class.rails {
                let moved = self.moving.iter().position(|(moving, _)| *moving == rail);
                let share = moved.map_or(0.0, |place| self.moving[place].1 * rails[place]);
                *sample.tie_volts(tie) = self.rail_volts[rail] * (1.0 + share);
            }
            for (tie, at_corners) in &row.feeds {
                *sample.tie_volts(*tie) = between_corners(at_corners, rails);
            }
        };
        ensemble.solve(settings.len(), Choice::widest(), &vary)
    }

    fn passed(&self, class: &Class, drawing: &Drawing, scramble: usize, from: u32, to: u32) -> u32 {
        let settings = self.settings(class, drawing, scramble, from, to);
        let mut passes = vec![true; settings.len()];
        for row in &class.rows {
            let solutions = self.solve(class, row, &settings);
            for (number, pass) in passes.iter_mut().enumerate() {
                let volts = solutions.sample(number);
                *pass &= settled(&solutions, number)
                    && row.outputs.iter().all(|output| {
                        let bound = between_corners(&output.bound, &settings[number].rails);
                        if output.up {
                            bound <= volts[output.node]
                        } else {
                            volts[output.node] <= bound
                        }
                    });
            }
        }
        passes.into_iter().map(u32::from).sum()
    }
}

/// Where rails and parts of one sample stand, from −1 to 1.
struct Settings {
    rails: Vec<f64>,
    own: Vec<f64>,
}

fn settled(solutions: &Solutions, number: usize) -> bool {
    matches!(solutions.ends[number], End::Settled | End::SettledAlone(_))
}

/// A coordinate of a sample, from −1 to 1.
fn setting(seed: u32, number: u32, dimension: usize) -> f64 {
    let dimension = dimension as u32;
    let further = dimension / DIMENSIONS;
    let seed = seed ^ further.wrapping_mul(0x9e37_79b9);
    2.0 * f64::from(sobol_burley::sample(number, dimension % DIMENSIONS, seed)) - 1.0
}

/// Between the corners of the rails in straight lines; `at_corners` begins with the book values, which are not used, and goes on
/// with the corners in the order of their bits.
fn between_corners(at_corners: &[f64], rails: &[f64]) -> f64 {
    if rails.is_empty() {
        return at_corners[0];
    }
    let weight = |bits: usize| -> f64 {
        let sides = rails.iter().enumerate();
        sides
            .map(|(place, setting)| {
                let side = if bits >> place & 1 == 1 { 1.0 } else { -1.0 };
                0.5 * (1.0 + side * setting)
            })
            .product()
    };
    let corners = at_corners[1..].iter().enumerate();
    corners.map(|(bits, volts)| weight(bits) * volts).sum()
}

/// For each output net of a member the tightest thresholds of its loads at every corner.
fn bounds(
    plan: &Plan,
    margins: &Margins,
    member: MemberIndex,
) -> BTreeMap<NetIndex, Vec<(f64, f64)>> {
    let inputs = plan.circuit(member).interface.inputs;
    let mut bounds = BTreeMap::new();
    for &net in &plan.members[member].nets[inputs..] {
        let at = |corner: &BTreeMap<(MemberIndex, usize), (f64, f64)>| {
            let loads = plan.loads[net].iter().filter_map(|load| corner.get(load));
            loads
                .copied()
                .reduce(|one, other| (one.0.min(other.0), one.1.max(other.1)))
        };
        let at_corners: Option<Vec<(f64, f64)>> = margins.thresholds.iter().map(at).collect();
        if let Some(at_corners) = at_corners {
            bounds.insert(net, at_corners);
        }
    }
    bounds
}

fn class(
    search: &Search,
    margins: &Margins,
    members: Vec<MemberIndex>,
    around: &Surroundings,
    rows: &[LevelRow],
) -> Option<Class> {
    let plan = search.plan;
    let member = around.subject;
    let held = held(plan, Source::Member(member), around);
    let group = Group {
        members: &around.copies(),
        held: &held,
    };
    let mut stand = Stand::new(
        plan,
        &group,
        &margins.corners[0],
        search.varied,
        search.context,
    )?;
    let bounds = bounds(plan, margins, member);
    let mut prepared: Vec<Row> = Vec::new();
    let mut near: Option<OperatingPoint> = None;
    for row in rows {
        stand.feed(plan, &margins.corners[0], &row.values, &margins.levels[0]);
        let stored = plan.stores(member);
        let start = if stored {
            Some(stored_start(&stand, member, &row.volts))
        } else {
            near.as_ref().map(|point| point.volts.clone())
        };
        let rest = stand.rest(start.as_deref())?;
        near = Some(rest.clone());
        let outputs: Vec<Output> = row
            .outputs
            .iter()
            .filter_map(|&(net, signal, up)| {
                let node = stand.node(member, signal?)?;
                let at_corners = bounds.get(&net)?.iter();
                let bound = at_corners.map(|(low, high)| if up { *high } else { *low });
                Some(Output {
                    net,
                    node,
                    up,
                    bound: bound.collect(),
                })
            })
            .collect();
        if outputs.is_empty() {
            continue;
        }
        prepared.push(Row {
            rest,
            watches: if stored {
                watches_of(&stand, member, row, search.levels)
            } else {
                Vec::new()
            },
            feeds: feeds(plan, &stand, margins, row),
            outputs,
        });
    }
    let rails = stand
        .scene
        .rails
        .iter()
        .filter_map(|(net, tie)| match plan.nets[*net].kind {
            NetKind::Rail(rail) => Some((*tie, rail.0)),
            _ => None,
        })
        .collect();
    Some(Class {
        members,
        stand,
        rows: prepared,
        rails,
    })
}

/// Every source with its volts at every corner.
fn feeds(
    plan: &Plan,
    stand: &Stand,
    margins: &Margins,
    row: &LevelRow,
) -> Vec<(ElementIndex, Vec<f64>)> {
    let feeds = stand.scene.feeds.iter();
    feeds
        .map(|(net, feed)| {
            let up = row.values.get(net).copied().unwrap_or(false);
            let corners = margins.corners.iter().zip(&margins.levels);
            let at_corners = corners.map(|(corner, levels)| {
                let supply = |net| corner.supply_volts(plan, net);
                fed_volts(plan, *net, feed, up, levels, supply)
            });
            (feed.tie, at_corners.collect())
        })
        .collect()
}
