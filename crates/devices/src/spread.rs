//! How far the parts of one type may be from the book.
//!
//! Tubes of one type differ by a proportion, so currents and amplification factors are shares of the book value; what
//! contact potentials do is a shift in volts. Nothing here is a distribution: lots are tight with a few far out, so the ends
//! are what a design has to stand.

use crate::fit::{Extent, SampleSpread};
use crate::types::{Mark, Sourced};

/// How far tubes of one type may be from the book; `None` where nothing is known.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TubeSpread {
    /// Lowest and highest plate current at the same volts, as shares of the book current: the perveance of plate and grid
    /// together. The first is above 0 and at most 1, the second at least 1.
    pub current: Option<Sourced<(f64, f64)>>,
    /// Lowest and highest amplification factor, that of the tail too, as shares of the book's; within the same limits.
    pub mu: Option<Sourced<(f64, f64)>>,
    /// How far the grid volts of cut-off may be off either way beyond what mu explains (contact potential), V; not below 0.
    pub cut_off: Option<Sourced<f64>>,
    /// How far the currents of the two halves of one tube may differ at the most, as a share of the book current; above 0, at
    /// most 1.
    pub halves: Option<Sourced<f64>>,
    /// How far the currents of any two tubes of the lot, as they stand in the machine, may differ at the most, as a share of
    /// the book current; above 0, at most 1.
    pub alike: Option<Sourced<f64>>,
    /// Share of the book current that is left at the end of life; above 0, at most 1.
    pub aged: Option<Sourced<f64>>,
    /// Largest reverse grid current, out of the grid into the circuit, A; not below 0.
    pub reverse: Option<Sourced<f64>>,
}

/// Fewest samples that are taken for a lot; chosen, because of two tubes one is the lowest and one the highest whatever the
/// lot is like.
const FEWEST_SAMPLES: usize = 3;

impl TubeSpread {
    /// What measured samples of a type show: the lowest and the highest factor on current and on mu, against the curve that
    /// was drawn through all of them. Nothing of fewer than three samples.
    #[must_use]
    pub fn of_samples(samples: &SampleSpread) -> Self {
        let count = samples.samples.len();
        if count < FEWEST_SAMPLES {
            return Self::default();
        }
        // The curve itself is a tube that the lot may have.
        let range = |extent: Extent| Sourced {
            value: (extent.least.min(1.0), extent.largest.max(1.0)),
            mark: Mark::Measured,
            source: format!("{count} samples"),
        };
        Self {
            current: Some(range(samples.perveance)),
            mu: Some(range(samples.mu)),
            ..Self::default()
        }
    }

    /// Field by field this one where it is known, and else the other.
    #[must_use]
    pub fn over(&self, other: &Self) -> Self {
        Self {
            current: known(&self.current, &other.current),
            mu: known(&self.mu, &other.mu),
            cut_off: known(&self.cut_off, &other.cut_off),
            halves: known(&self.halves, &other.halves),
            alike: known(&self.alike, &other.alike),
            aged: known(&self.aged, &other.aged),
            reverse: known(&self.reverse, &other.reverse),
        }
    }
}

fn known<T: Clone>(own: &Option<T>, other: &Option<T>) -> Option<T> {
    own.as_ref().or(other.as_ref()).cloned()
}

/// How far semiconductor diodes of one type may be from the book; `None` where nothing is known.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct DiodeSpread {
    /// How many times larger or smaller the saturation current may be; at least 1.
    pub saturation: Option<Sourced<f64>>,
    /// Largest reverse current, A, at these reverse volts; both above 0.
    pub leakage: Option<Sourced<(f64, f64)>>,
}

impl DiodeSpread {
    /// Field by field this one where it is known, and else the other.
    #[must_use]
    pub fn over(&self, other: &Self) -> Self {
        Self {
            saturation: known(&self.saturation, &other.saturation),
            leakage: known(&self.leakage, &other.leakage),
        }
    }
}

/// How far neon lamps of one type may be from the book; `None` where nothing is known.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct NeonSpread {
    /// Lowest and highest striking volts; of a type the law's lie between.
    pub strike: Option<Sourced<(f64, f64)>>,
    /// Lowest and highest volts that a lit lamp holds; of a type the law's lie between, and the lowest striking volts above.
    pub maintain: Option<Sourced<(f64, f64)>>,
}

impl NeonSpread {
    /// Field by field this one where it is known, and else the other.
    #[must_use]
    pub fn over(&self, other: &Self) -> Self {
        Self {
            strike: known(&self.strike, &other.strike),
            maintain: known(&self.maintain, &other.maintain),
        }
    }
}
