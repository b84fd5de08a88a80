//! Counts of samples by block, so that a long run can be kept, gone on with, split and joined: a block counts the same
//! whenever and wherever it is drawn. Runs of several seeds are joined as well: every seed begins scrambles of its own, and each
//! scramble is an independent estimate of the same share.

use super::yields::SCRAMBLES;
use std::collections::BTreeMap;

/// Samples of one block at the most: chosen, a block of a large machine takes some seconds.
pub const BLOCK: u32 = 64;

/// Samples `from` to before `to` of one scramble.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Block {
    /// Which scramble.
    pub scramble: usize,
    /// First sample.
    pub from: u32,
    /// Behind the last.
    pub to: u32,
}

/// One of several equal shares of all blocks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Share {
    /// Which, from 0.
    pub index: usize,
    /// Of how many.
    pub of: usize,
}

impl Share {
    /// All blocks.
    pub const WHOLE: Self = Self { index: 0, of: 1 };
}

/// What comes of a unit, or of the whole machine, in a sample; of several the last one counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Outcome {
    /// It comes to rest, keeps its states, what it drives gets what it asks, and its parts do what sentences ask of them.
    Works,
    /// A part does not do what a sentence asks of it.
    PartWrong,
    /// A level does not lie beyond what a load asks.
    Short,
    /// A stored state is lost.
    StateLost,
    /// Something does not come to rest.
    NoRest,
}

/// How many samples came to each [`Outcome`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Outcomes {
    /// Work.
    pub works: u32,
    /// Have a level that is short.
    pub short: u32,
    /// Lose a stored state.
    pub state_lost: u32,
    /// Do not come to rest.
    pub no_rest: u32,
    /// Have a part that does not do what a sentence asks of it.
    pub part_wrong: u32,
}

impl Outcomes {
    /// How many there are.
    #[must_use]
    pub fn samples(&self) -> u32 {
        self.works + self.short + self.state_lost + self.no_rest + self.part_wrong
    }

    /// Counts one more.
    pub fn count(&mut self, outcome: Outcome) {
        *match outcome {
            Outcome::Works => &mut self.works,
            Outcome::Short => &mut self.short,
            Outcome::StateLost => &mut self.state_lost,
            Outcome::NoRest => &mut self.no_rest,
            Outcome::PartWrong => &mut self.part_wrong,
        } += 1;
    }
}

impl std::ops::AddAssign for Outcomes {
    fn add_assign(&mut self, other: Self) {
        self.works += other.works;
        self.short += other.short;
        self.state_lost += other.state_lost;
        self.no_rest += other.no_rest;
        self.part_wrong += other.part_wrong;
    }
}

/// What came of the samples of each unit, in the order of [`super::yields::Yields::units`], by block.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Counts {
    blocks: BTreeMap<Block, Vec<Outcomes>>,
}

impl Counts {
    /// Adds what a block gave.
    ///
    /// # Errors
    /// Gives the block that is there already and has samples in common with it.
    pub fn add(&mut self, block: Block, outcomes: Vec<Outcomes>) -> Result<(), Block> {
        let overlaps = |known: &&Block| {
            known.scramble == block.scramble && known.from < block.to && block.from < known.to
        };
        if let Some(known) = self.blocks.keys().find(overlaps) {
            return Err(*known);
        }
        self.blocks.insert(block, outcomes);
        Ok(())
    }

    /// Every block with what it gave, in order.
    pub fn blocks(&self) -> impl Iterator<Item = (&Block, &[Outcomes])> {
        let blocks = self.blocks.iter();
        blocks.map(|(block, outcomes)| (block, outcomes.as_slice()))
    }

    /// What is still to be drawn of the first `samples` of every scramble, those of all scrambles in turn. Which blocks are in
    /// a share does not depend on what is there already.
    #[must_use]
    pub fn missing(&self, samples: u32, share: Share) -> Vec<Block> {
        let mut missing = Vec::new();
        for round in 0..samples.div_ceil(BLOCK) {
            for scramble in 0..SCRAMBLES {
                let place = round as usize * SCRAMBLES + scramble;
                if place % share.of != share.index {
                    continue;
                }
                let end = samples.min((round + 1) * BLOCK);
                let mut from = round * BLOCK;
                for known in self.blocks.keys() {
                    if known.scramble != scramble || known.to <= from || end <= known.from {
                        continue;
                    }
                    if from < known.from {
                        missing.push(Block {
                            scramble,
                            from,
                            to: known.from,
                        });
                    }
                    from = known.to;
                }
                if from < end {
                    missing.push(Block {
                        scramble,
                        from,
                        to: end,
                    });
                }
            }
        }
        missing
    }

    /// What is missing for every scramble to have as many samples as the one that has most, without a gap.
    #[must_use]
    pub fn lacking(&self) -> Vec<Block> {
        let most = self.blocks.keys().map(|block| block.to).max();
        self.missing(most.unwrap_or(0), Share::WHOLE)
    }

    /// What came of as many units in every scramble that was begun, over the samples that it has from its first on without a
    /// gap; blocks beyond a gap are left out.
    #[must_use]
    pub fn tallies(&self, units: usize) -> Vec<Tally> {
        let mut tallies = vec![Tally::default(); units];
        for scramble in 0..SCRAMBLES {
            let mut reached = 0;
            let mut sums = vec![Outcomes::default(); units];
            let own = self
                .blocks()
                .filter(|(block, _)| block.scramble == scramble);
            for (block, counted) in own {
                if block.from != reached {
                    break;
                }
                reached = block.to;
                for (sum, counted) in sums.iter_mut().zip(counted) {
                    *sum += *counted;
                }
            }
            if 0 < reached {
                for (tally, sum) in tallies.iter_mut().zip(sums) {
                    tally.scrambles.push(sum);
                }
            }
        }
        tallies
    }
}

/// Counts by seed.
pub type BySeed = BTreeMap<u32, Counts>;

/// Tallies of as many units over the scrambles of all seeds.
#[must_use]
pub fn joined(counts: &BySeed, units: usize) -> Vec<Tally> {
    let mut all = vec![Tally::default(); units];
    for counts in counts.values() {
        for (all, one) in all.iter_mut().zip(counts.tallies(units)) {
            all.scrambles.extend(one.scrambles);
        }
    }
    all
}

/// What came of a unit's samples, by scramble.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Tally {
    /// Of each scramble.
    pub scrambles: Vec<Outcomes>,
}

/// Two-sided 95 % quantile of Student's distribution for 1 to 15 degrees of freedom (tables of the distribution; W. S. Gosset,
/// "The probable error of a mean", 1908), and that of the normal one, which it comes down to.
const STUDENT: [f64; 15] = [
    12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228, 2.201, 2.179, 2.160,
    2.145, 2.131,
];
const NORMAL: f64 = 1.960;
/// No more than this share fails, when none of N samples did, to the power 1/N: 95 % of such counts (binomial).
const NONE_FAILED: f64 = 0.05;

/// The quantile for so many degrees of freedom, at least 1: from the table, beyond it by the first two terms of its expansion
/// about the normal one (R. A. Fisher, E. A. Cornish; from memory), good to a thousandth there.
fn student(freedom: usize) -> f64 {
    let z = NORMAL;
    let further = || {
        let freedom = freedom as f64;
        let first = (z.powi(3) + z) / 4.0;
        let second = (5.0 * z.powi(5) + 16.0 * z.powi(3) + 3.0 * z) / 96.0;
        z + first / freedom + second / freedom.powi(2)
    };
    STUDENT.get(freedom - 1).copied().unwrap_or_else(further)
}

impl Tally {
    /// What came of all samples.
    #[must_use]
    pub fn all(&self) -> Outcomes {
        let mut all = Outcomes::default();
        for scramble in &self.scrambles {
            all += *scramble;
        }
        all
    }

    /// Share that works.
    #[must_use]
    pub fn share(&self) -> f64 {
        let all = self.all();
        f64::from(all.works) / f64::from(all.samples())
    }

    /// Where the share may lie, with 95 % of confidence: from the scatter of the scrambles, each weighed by its samples; where all
    /// work or none does, from the number of samples. One scramble alone has no scatter, so any share may be.
    #[must_use]
    pub fn interval(&self) -> (f64, f64) {
        let all = f64::from(self.all().samples());
        let share = self.share();
        if share == 1.0 {
            return (NONE_FAILED.powf(1.0 / all), 1.0);
        }
        if share == 0.0 {
            return (0.0, 1.0 - NONE_FAILED.powf(1.0 / all));
        }
        let scrambles = self.scrambles.len();
        if scrambles < 2 {
            return (0.0, 1.0);
        }
        let square: f64 = self
            .scrambles
            .iter()
            .map(|one| {
                let samples = f64::from(one.samples());
                (samples / all * (f64::from(one.works) / samples - share)).powi(2)
            })
            .sum();
        let freedom = scrambles - 1;
        let error = (square * scrambles as f64 / freedom as f64).sqrt();
        let half = student(freedom) * error;
        ((share - half).max(0.0), (share + half).min(1.0))
    }
}
