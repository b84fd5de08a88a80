//! Neon lamp: lit or dark is an enumerated state, kept only where it is consistent.

use crate::smooth;
use numerics::lanes::Lanes;

/// Parameters.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NeonParameters<L = f64> {
    /// A dark lamp strikes at or above this voltage of either sign, V.
    pub strike_volts: L,
    /// A lit lamp holds about this voltage, V.
    pub maintain_volts: L,
    /// Slope resistance when lit, ohm; greater than 0.
    pub lit_ohms: L,
    /// A lit lamp goes out below this current, A.
    pub hold_amps: L,
    /// Dark leakage, S.
    pub dark_siemens: L,
}

/// The state a lamp is taken to be in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NeonState {
    /// Leakage only.
    Dark,
    /// Current flows from the first terminal to the second.
    LitForward,
    /// Current flows from the second terminal to the first.
    LitBackward,
}

impl NeonParameters {
    /// So many of them side by side: `count` times the currents at the same volts.
    #[must_use]
    pub fn times(&self, count: f64) -> Self {
        Self {
            lit_ohms: self.lit_ohms / count,
            hold_amps: self.hold_amps * count,
            dark_siemens: self.dark_siemens * count,
            ..*self
        }
    }

    /// Current (A) from the first terminal to the second and its derivative (S), in the given state.
    ///
    /// A straight line in each state: dark i = v `dark_siemens`; lit v = ±`maintain_volts` + i `lit_ohms`. The line goes on
    /// where the state cannot last, so that a search may pass through; [`Self::consistent`] says whether it may stay.
    #[must_use]
    pub fn at(&self, state: NeonState, volts: f64) -> (f64, f64) {
        self.in_lanes(state, volts)
    }

    /// Whether the state can last at this voltage and current: dark below the striking voltage of either sign; lit while
    /// at least the holding current flows in the lamp's direction.
    ///
    /// Between the two limits both a dark and a lit state can last: which one holds depends on what was before.
    #[must_use]
    pub fn consistent(&self, state: NeonState, volts: f64) -> bool {
        let (amps, _) = self.at(state, volts);
        match state {
            NeonState::Dark => volts.abs() < self.strike_volts,
            NeonState::LitForward => amps > 0.0 && amps >= self.hold_amps,
            NeonState::LitBackward => amps < 0.0 && -amps >= self.hold_amps,
        }
    }
}

impl<L: Lanes> NeonParameters<L> {
    /// [`NeonParameters::at`] in any number of lanes, all in the same state.
    #[inline(always)]
    #[must_use]
    pub fn in_lanes(&self, state: NeonState, volts: L) -> (L, L) {
        let volts = smooth::bounded(volts);
        let siemens = match state {
            NeonState::Dark => self.dark_siemens,
            NeonState::LitForward | NeonState::LitBackward => L::splat(1.0) / self.lit_ohms,
        };
        let above = match state {
            NeonState::Dark => volts,
            NeonState::LitForward => volts - self.maintain_volts,
            NeonState::LitBackward => volts + self.maintain_volts,
        };
        (siemens * above, siemens)
    }

    /// Side by side, the parameters of each lane.
    #[inline(always)]
    #[must_use]
    pub fn side_by_side<'a>(each: impl Fn(usize) -> &'a NeonParameters) -> Self {
        let all = |field: fn(&NeonParameters) -> f64| L::from_lanes(|lane| field(each(lane)));
        Self {
            strike_volts: all(|law| law.strike_volts),
            maintain_volts: all(|law| law.maintain_volts),
            lit_ohms: all(|law| law.lit_ohms),
            hold_amps: all(|law| law.hold_amps),
            dark_siemens: all(|law| law.dark_siemens),
        }
    }
}
