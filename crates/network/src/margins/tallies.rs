//! Counts of samples by block, so that a long run can be kept, gone on with, split and joined: a block counts the same
//! whenever and wherever it is drawn.

use super::yields::{SCRAMBLES, Tally};
use std::collections::{BTreeMap, BTreeSet};

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

/// How many samples pass of each unit, in the order of [`super::yields::Yields::units`], by block.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Counts {
    blocks: BTreeMap<Block, Vec<u32>>,
}

impl Counts {
    /// Adds what a block gave.
    ///
    /// # Errors
    /// Gives the block that is there already and has samples in common with it.
    pub fn add(&mut self, block: Block, passed: Vec<u32>) -> Result<(), Block> {
        let overlaps = |known: &&Block| {
            known.scramble == block.scramble && known.from < block.to && block.from < known.to
        };
        if let Some(known) = self.blocks.keys().find(overlaps) {
            return Err(*known);
        }
        self.blocks.insert(block, passed);
        Ok(())
    }

    /// Every block with what it gave, in order.
    pub fn blocks(&self) -> impl Iterator<Item = (&Block, &[u32])> {
        let blocks = self.blocks.iter();
        blocks.map(|(block, passed)| (block, passed.as_slice()))
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

    /// Tallies of as many units over the samples that every scramble has from its first on without a gap; blocks beyond are
    /// left out.
    #[must_use]
    pub fn tallies(&self, units: usize) -> Vec<Tally> {
        let samples = self.samples();
        let mut tallies = vec![Tally::none(); units];
        for tally in &mut tallies {
            tally.samples = samples;
        }
        let counted = self.blocks.iter().filter(|(block, _)| block.to <= samples);
        for (block, passed) in counted {
            for (tally, passed) in tallies.iter_mut().zip(passed) {
                tally.passed[block.scramble] += passed;
            }
        }
        tallies
    }

    /// Samples that every scramble has from its first on without a gap.
    #[must_use]
    pub fn samples(&self) -> u32 {
        let ends = (0..SCRAMBLES).map(|scramble| {
            let mut ends = BTreeSet::from([0]);
            let mut reached = 0;
            let own = self.blocks.keys().filter(|one| one.scramble == scramble);
            for block in own {
                if block.from != reached {
                    break;
                }
                reached = block.to;
                ends.insert(reached);
            }
            ends
        });
        let common = ends.reduce(|one, other| &one & &other);
        common.and_then(|ends| ends.last().copied()).unwrap_or(0)
    }
}
