//! The resistance of copper.

/// Resistivity at 20 degrees Celsius, ohm metre: annealed copper, 1/58 ohm mm2/m (IEC 60028).
pub const OHM_METRES: f64 = 1e-6 / 58.0;

/// Thickness of the copper of a board where nothing else is said, m: one ounce to the square foot (common practice, no source).
pub const SHEET_METRES: f64 = 35e-6;

/// Resistance of a conductor of so much section at 20 degrees Celsius, ohm.
#[must_use]
pub fn ohms(metres: f64, square_metres: f64) -> f64 {
    OHM_METRES * metres / square_metres
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Copper of 35 um, milliohm in 100 mm: the table that follows from 1.724e-8 ohm m (published resistivity of copper).
    #[test]
    fn tracks_of_35_micrometres() {
        for (width, milliohms) in [
            (0.3, 164.0),
            (0.5, 98.5),
            (1.0, 49.3),
            (2.0, 24.6),
            (5.0, 9.9),
        ] {
            let found = 1e3 * ohms(0.1, 35e-6 * 1e-3 * width);
            assert!((found / milliohms - 1.0).abs() < 0.006, "{width}: {found}");
        }
    }
}
