//! How many of a hundred units work, as every face shows it: units that stand alike as one, the worst first.

use crate::chart::Axis;
use crate::chart::histogram::{Bins, Limit, histogram};
use crate::draw::Picture;
use crate::drawing::Drawing as Sheets;
use crate::drawing::{self, stacked};
use crate::margins::WorstCases;
use crate::words::Wording;
use network::margins::tallies::{Block, BySeed, Outcomes, Tally, joined};
use network::margins::yields::{Drawing, OutputVolts, Yields};
use network::plan::{MemberIndex, NetIndex};
use network::verdict::Verdict;

/// What was drawn and counted.
#[derive(Debug)]
pub struct Drawn<'a> {
    pub(crate) yields: &'a Yields,
    /// Share of the middle of its band in which no resistor stands of which the text does not say.
    pub(crate) hollow: f64,
    /// Seeds of what was counted.
    pub(crate) seeds: Vec<u32>,
    /// What is missing for every scramble to have as many samples as any, with its seed.
    pub(crate) missing: Vec<(u32, Block)>,
    /// In the order of [`Yields::units`].
    pub(crate) tallies: Vec<Tally>,
    /// Of the whole machine.
    pub(crate) machine: Tally,
    pub(crate) worst_cases: WorstCases<'a>,
    /// The smallest margin of the first of each, V; infinite where it has none.
    margins: Vec<f64>,
}

impl<'a> Drawn<'a> {
    /// What was counted of units whose worst cases are known.
    #[must_use]
    pub fn new(
        yields: &'a Yields,
        hollow: f64,
        counts: &BySeed,
        worst_cases: WorstCases<'a>,
    ) -> Self {
        let smallest = |members: &[MemberIndex]| {
            let own = worst_cases.margins.connections.iter().filter(|one| {
                let driver = one.driver.map(|driver| driver.0);
                driver.is_some_and(|driver| members.contains(&driver))
            });
            own.map(|one| one.smallest().0.volts)
                .fold(f64::INFINITY, f64::min)
        };
        let mut tallies = joined(counts, yields.units().count() + 1);
        let machine = tallies.pop().unwrap_or_default();
        let missing = counts.iter().flat_map(|(&seed, counts)| {
            let lacking = counts.lacking().into_iter();
            lacking.map(move |block| (seed, block))
        });
        Self {
            yields,
            hollow,
            seeds: counts.keys().copied().collect(),
            missing: missing.collect(),
            worst_cases,
            tallies,
            machine,
            margins: yields.units().map(smallest).collect(),
        }
    }

    /// Samples of the machine.
    pub(crate) fn samples(&self) -> usize {
        self.machine.all().samples() as usize
    }

    /// Scrambles of all seeds.
    pub(crate) fn scrambles(&self) -> usize {
        self.machine.scrambles.len()
    }

    /// Some sample failed.
    #[must_use]
    pub fn some_failed(&self) -> bool {
        self.tallies.iter().any(|tally| tally.share() < 1.0)
    }

    /// Something of a sample failed, a unit that was asked for or another.
    pub(crate) fn anything_failed(&self) -> bool {
        self.some_failed() || self.machine.share() < 1.0
    }

    /// Places of the units, the worst first: the smallest share, then the smallest margin in the worst case.
    pub(crate) fn ranked(&self) -> Vec<usize> {
        let mut places: Vec<usize> = (0..self.tallies.len()).collect();
        places.sort_by(|&left, &right| {
            let share = |place: usize| self.tallies[place].share();
            share(left)
                .total_cmp(&share(right))
                .then(self.margins[left].total_cmp(&self.margins[right]))
                .then(self.first(left).cmp(&self.first(right)))
        });
        places
    }

    pub(crate) fn members(&self, place: usize) -> &'a [MemberIndex] {
        self.yields.units().nth(place).unwrap_or_default()
    }

    fn first(&self, place: usize) -> Option<MemberIndex> {
        self.members(place).first().copied()
    }

    /// Volts of the worst unit's outputs in the samples of the first seed, of each scramble `most` of them at the most; `None`
    /// where there is no unit.
    #[must_use]
    pub fn worst(&self, verdict: &Verdict, most: u32) -> Option<Spread> {
        let place = *self.ranked().first()?;
        let scrambles = self.tallies[place].scrambles.iter();
        let samples = scrambles.map(Outcomes::samples).max()?.min(most);
        let drawing = Drawing {
            seed: *self.seeds.first()?,
            hollow: self.hollow,
        };
        Some(Spread {
            member: self.first(place)?,
            outputs: self
                .yields
                .volts(place, &drawing, samples, verdict, self.worst_cases.margins),
        })
    }
}

/// Where the outputs of a unit stand in the samples.
#[derive(Debug, Clone, PartialEq)]
pub struct Spread {
    pub(crate) member: MemberIndex,
    outputs: Vec<OutputVolts>,
}

/// How histograms are to be read.
pub(crate) const LEGEND: &str = "The outline is how many of a hundred samples stand at these volts, the worst of all rows of each sample; the dotted one how many of a hundred stand there and fail, for the threshold of what they drive is drawn too. Upright lines: the tightest threshold of what it drives, in the worst case and by the book.";

/// One output on one side.
pub(crate) struct Side<'a> {
    pub(crate) net: NetIndex,
    pub(crate) up: bool,
    /// Volts in every sample, V, and whether that works.
    volts: &'a [(f64, bool)],
    pub(crate) limit: Limit,
}

impl Side<'_> {
    pub(crate) fn bins(&self) -> Bins {
        Bins::of(self.volts)
    }
}

impl Spread {
    /// Every output when down and when up, of which there are samples.
    pub(crate) fn sides(&self) -> impl Iterator<Item = Side<'_>> {
        let both = self.outputs.iter().flat_map(|output| {
            let side = |up, volts, (book, worst)| Side {
                net: output.net,
                up,
                volts,
                limit: Limit { book, worst },
            };
            [
                side(false, output.down.as_slice(), output.low),
                side(true, output.up.as_slice(), output.high),
            ]
        });
        both.filter(|side| !side.volts.is_empty())
    }

    /// Some output has levels that were drawn: a unit that is counted by its lamps and loads alone has none.
    #[must_use]
    pub fn shows_something(&self) -> bool {
        self.sides().next().is_some()
    }

    /// A histogram of every output when down and when up.
    pub(crate) fn pictures(&self, verdict: &Verdict, wording: Wording, width: f64) -> Vec<Picture> {
        let picture = |side: Side| {
            let net = &verdict.plan.nets[side.net].name;
            let when = crate::tables::up_or_down(side.up);
            let axis = Axis::linear(&wording.apply(&format!("{net} when {when}")), "V");
            histogram(axis, &side.bins(), side.limit, width)
        };
        self.sides().map(picture).collect()
    }

    /// As a drawing of its own.
    #[must_use]
    pub fn drawing(&self, verdict: &Verdict, wording: Wording) -> Sheets {
        let name = &verdict.plan.members[self.member].name;
        Sheets {
            title: format!("Levels of {name} as its parts and rails are drawn"),
            legend: wording.apply(LEGEND),
            sheets: vec![stacked(&self.pictures(
                verdict,
                wording,
                drawing::UPRIGHT_WIDTH,
            ))],
            legend_above: 0,
        }
    }
}
