//! Neon lamp: lit or dark is an enumerated state, kept only where it is consistent.

use crate::smooth;

/// Parameters.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NeonParameters {
    /// A dark lamp strikes at or above this voltage of either sign, V.
    pub strike_volts: f64,
    /// A lit lamp holds about this voltage, V.
    pub maintain_volts: f64,
    /// Slope resistance when lit, ohm; greater than 0.
    pub lit_ohms: f64,
    /// A lit lamp goes out below this current, A.
    pub hold_amps: f64,
    /// Dark leakage, S.
    pub dark_siemens: f64,
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
    /// Current (A) from the first terminal to the second and its derivative (S), in the given state.
    ///
    /// A straight line in each state: dark i = v `dark_siemens`; lit v = ±`maintain_volts` + i `lit_ohms`. The line goes on
    /// where the state cannot last, so that a search may pass through; [`Self::consistent`] says whether it may stay.
    #[must_use]
    pub fn at(&self, state: NeonState, volts: f64) -> (f64, f64) {
        let volts = smooth::bounded(volts);
        match state {
            NeonState::Dark => (self.dark_siemens * volts, self.dark_siemens),
            NeonState::LitForward => (
                (volts - self.maintain_volts) / self.lit_ohms,
                1.0 / self.lit_ohms,
            ),
            NeonState::LitBackward => (
                (volts + self.maintain_volts) / self.lit_ohms,
                1.0 / self.lit_ohms,
            ),
        }
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
