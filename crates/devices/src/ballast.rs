//! A ballast tube in a heater string: an iron wire in hydrogen that holds its current while its volts change.
//!
//! Between the volts that are stated for it the current grows as a small power of them; below and above it grows as in a
//! heater, and it cannot be less than the wire's cold resistance allows.

/// How the current follows the volts where it is held: chosen, 5 % more over a range of one to three.
const HELD_POWER: f64 = 0.045;

/// How it follows them elsewhere: as in a heater, see [`crate::heater`].
const FREE_POWER: f64 = 0.6;

/// Seconds in which the wire follows: chosen; thin wire in gas is much quicker than a heater.
pub const FOLLOWS_SECONDS: f64 = 1.0;

/// The law of one ballast tube at rest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BallastLaw {
    /// The current that it holds, in the geometric middle of its volts, A.
    pub amps: f64,
    /// Volts from which on it holds.
    pub from_volts: f64,
    /// Volts up to which it holds.
    pub to_volts: f64,
    /// Resistance with no current, over the one at `from_volts`.
    pub cold_share: f64,
}

impl BallastLaw {
    /// Resistance at rest at these volts of either sign, ohm; grows with them.
    #[must_use]
    pub fn ohms(&self, volts: f64) -> f64 {
        let volts = volts.abs();
        let held = |volts: f64| self.amps * (volts / self.middle_volts()).powf(HELD_POWER);
        let free = |volts: f64, edge: f64| held(edge) * (volts / edge).powf(FREE_POWER);
        let amps = if volts < self.from_volts {
            free(volts, self.from_volts)
        } else if volts <= self.to_volts {
            held(volts)
        } else {
            free(volts, self.to_volts)
        };
        let cold = self.cold_ohms();
        if amps > 0.0 {
            (volts / amps).max(cold)
        } else {
            cold
        }
    }

    /// Resistance in the middle of its volts, ohm.
    #[must_use]
    pub fn hot_ohms(&self) -> f64 {
        self.middle_volts() / self.amps
    }

    /// Resistance with no current, ohm.
    #[must_use]
    pub fn cold_ohms(&self) -> f64 {
        self.cold_share * self.from_volts / self.amps
    }

    fn middle_volts(&self) -> f64 {
        (self.from_volts * self.to_volts).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LAW: BallastLaw = BallastLaw {
        amps: 0.3,
        from_volts: 5.0,
        to_volts: 15.0,
        cold_share: 1.0 / 6.0,
    };

    #[test]
    fn the_current_is_held_between_its_volts_and_runs_away_outside() {
        let amps = |volts: f64| volts / LAW.ohms(volts);
        for volts in [5.0, 8.0, 12.0, 15.0] {
            assert!((amps(volts) / 0.3 - 1.0).abs() < 0.026, "{volts}");
        }
        assert!((amps(15.0) / amps(5.0) - 1.05).abs() < 0.005);
        assert!(amps(2.5) < 0.7 * 0.3 && 1.4 * 0.3 < amps(30.0));
        assert_eq!(LAW.ohms(-8.0), LAW.ohms(8.0));
        assert!((LAW.ohms(0.0) - LAW.cold_ohms()).abs() < 1e-12);
    }

    #[test]
    fn more_volts_are_never_less_resistance() {
        let ohms: Vec<f64> = (0..400)
            .map(|step| LAW.ohms(0.1 * f64::from(step)))
            .collect();
        assert!(ohms.windows(2).all(|pair| pair[0] <= pair[1] + 1e-12));
    }
}
