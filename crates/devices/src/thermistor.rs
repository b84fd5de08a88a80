//! A thermistor in a heater string: cold it holds the current back, and its own heat takes its resistance away.
//!
//! ```text
//! R(T)   = Rcold exp(B (1/T - 1/T0)),  T0 = 298.15 K
//! at rest     I^2 R(T) = D (T - T0)
//! warming up  D t dT/dt = I^2 R(T) - D (T - T0)
//! ```

/// B, K: 5.5 kilohm cold and 40 ohm at 250 degrees Celsius (a hobby note on thermistors) make ln(137.5) / (1/298.15 - 1/523.15).
const B_KELVIN: f64 = 3413.0;

/// The room, K: 25 degrees Celsius, at which cold resistances are stated (common practice, no source).
const ROOM_KELVIN: f64 = 298.15;

/// No thermistor gets hotter than this, K: chosen, beyond any that is sold.
const HOTTEST_KELVIN: f64 = 900.0;

/// The law of one thermistor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ThermistorLaw {
    /// Resistance at 25 degrees Celsius, ohm.
    pub cold_ohms: f64,
    /// What it gives off for each kelvin above the room, W/K.
    pub watts_per_kelvin: f64,
    /// In which time it cools by 63 % of the way to the room, s.
    pub seconds: f64,
}

impl ThermistorLaw {
    /// From its resistance cold, and the one that it comes to with a current through it; `None` unless that is less, and a
    /// temperature below 900 K makes it.
    #[must_use]
    pub fn of(cold_ohms: f64, hot_ohms: f64, amps: f64, seconds: f64) -> Option<Self> {
        let inverse = (hot_ohms / cold_ohms).ln() / B_KELVIN + 1.0 / ROOM_KELVIN;
        let kelvin = 1.0 / inverse;
        let possible =
            hot_ohms < cold_ohms && 1.0 / HOTTEST_KELVIN < inverse && ROOM_KELVIN < kelvin;
        possible.then(|| Self {
            cold_ohms,
            watts_per_kelvin: amps * amps * hot_ohms / (kelvin - ROOM_KELVIN),
            seconds,
        })
    }

    /// Resistance so many kelvin above the room, ohm.
    #[must_use]
    pub fn ohms(&self, above_room: f64) -> f64 {
        let kelvin = ROOM_KELVIN + above_room.clamp(0.0, HOTTEST_KELVIN - ROOM_KELVIN);
        self.cold_ohms * (B_KELVIN * (1.0 / kelvin - 1.0 / ROOM_KELVIN)).exp()
    }

    /// Resistance that it comes to with this current through it for long, ohm.
    ///
    /// What it takes falls with the temperature and what it gives off rises, so there is one temperature, found by halving.
    #[must_use]
    pub fn ohms_with(&self, amps: f64) -> f64 {
        let (mut low, mut high) = (0.0, HOTTEST_KELVIN - ROOM_KELVIN);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if self.kelvin_per_second(middle, amps * amps * self.ohms(middle)) > 0.0 {
                low = middle;
            } else {
                high = middle;
            }
        }
        self.ohms(low)
    }

    /// How fast it gets hotter when it takes `watts`, K/s.
    #[must_use]
    pub fn kelvin_per_second(&self, above_room: f64, watts: f64) -> f64 {
        (watts / self.watts_per_kelvin - above_room) / self.seconds
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 5.5 kilohm cold, 40 ohm at 250 degrees (a hobby note on thermistors).
    #[test]
    fn cold_and_hot_as_published() {
        let law = ThermistorLaw::of(5500.0, 40.0, 0.15, 60.0).unwrap();
        assert!((law.ohms(0.0) - 5500.0).abs() < 1e-9);
        assert!((law.ohms(225.0) / 40.0 - 1.0).abs() < 1e-3);
        assert!((law.ohms_with(0.15) / 40.0 - 1.0).abs() < 1e-9);
        // 0.15 A in 40 ohm are 0.9 W, given off at 225 K above the room.
        assert!((law.watts_per_kelvin * 225.0 - 0.9).abs() < 1e-3);
        assert!((law.ohms_with(0.0) - 5500.0).abs() < 1e-6);
    }

    #[test]
    fn more_current_is_less_resistance_and_no_current_cools_it() {
        let law = ThermistorLaw::of(220.0, 8.0, 0.3, 60.0).unwrap();
        let ohms: Vec<f64> = (0..50)
            .map(|step| law.ohms_with(0.02 * f64::from(step)))
            .collect();
        assert!(ohms.windows(2).all(|pair| pair[1] < pair[0]));
        assert!(law.kelvin_per_second(100.0, 0.0) < 0.0);
        // Cooling by itself: 63 % of the way in its time (the definition).
        let mut above = 100.0;
        for _ in 0..6000 {
            above += 0.01 * law.kelvin_per_second(above, 0.0);
        }
        assert!((above - 100.0 * (-1.0_f64).exp()).abs() < 0.01);
    }

    #[test]
    fn no_law_is_made_of_what_cannot_be() {
        assert_eq!(ThermistorLaw::of(10.0, 10.0, 0.3, 60.0), None);
        assert_eq!(ThermistorLaw::of(10.0, 20.0, 0.3, 60.0), None);
        assert_eq!(ThermistorLaw::of(1e6, 1.0, 0.3, 60.0), None);
    }
}
