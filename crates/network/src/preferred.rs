//! Preferred values: series of IEC 60063 (E24 from memory; 27, 30, 33, 36, 39, 43, 47 and 82 are historical and not the
//! rounded geometric ones).

const E24: [u32; 24] = [
    10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91,
];

/// A series of preferred values, as many of them in a decade as its name says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Series {
    /// Every fourth of E24, of 20 %.
    E6,
    /// Every second of E24, of 10 %.
    E12,
    /// Of 5 %.
    E24,
    /// Three figures, of 2 %.
    E48,
    /// Three figures, of 1 %.
    E96,
}

impl Series {
    /// All, the coarsest first.
    pub const ALL: [Self; 5] = [Self::E6, Self::E12, Self::E24, Self::E48, Self::E96];

    /// As it is written: `E24`.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::E6 => "E6",
            Self::E12 => "E12",
            Self::E24 => "E24",
            Self::E48 => "E48",
            Self::E96 => "E96",
        }
    }

    /// The values of a decade with three figures, from 100 on.
    fn figures(self) -> Vec<u32> {
        let every = |step| E24.iter().step_by(step).map(|figures| 10 * figures);
        // IEC 60063 rounds the i-th of n to three figures of 10^(i / n) from E48 on.
        let rounded = |count: u32| {
            let figures = move |index| 100.0 * 10f64.powf(f64::from(index) / f64::from(count));
            (0..count).map(move |index| figures(index).round() as u32)
        };
        match self {
            Self::E6 => every(4).collect(),
            Self::E12 => every(2).collect(),
            Self::E24 => every(1).collect(),
            Self::E48 => rounded(48).collect(),
            Self::E96 => rounded(96).collect(),
        }
    }

    /// Its values from one to another, both among them, in rising order; none where the ends are not positive or the first is
    /// larger than the second.
    #[must_use]
    pub fn between(self, from: f64, to: f64) -> Vec<f64> {
        let sound = 0.0 < from && from <= to && to.is_finite();
        if !sound {
            return Vec::new();
        }
        // Three figures of a value in this decade stand for it times a hundred.
        let decade = |value: f64| value.log10().floor() as i32 - 2;
        let figures = self.figures();
        // One decade more to either side, should a logarithm of a power of ten be rounded past it.
        (decade(from) - 1..=decade(to) + 1)
            .flat_map(|power| figures.iter().map(move |&figures| scaled(figures, power)))
            .filter(|value| (from * (1.0 - NEAR)..=to * (1.0 + NEAR)).contains(value))
            .collect()
    }
}

/// A value within this share of an end of a range lies in it: rounding alone.
const NEAR: f64 = 1e-9;

/// Digits times a power of ten, as near as a number can be to its decimals: 68 tenths are 6.8 and not 6.800000000000001. No
/// number holds a power of ten below 1 exactly, so it is divided by one above.
fn scaled(digits: u32, power: i32) -> f64 {
    let digits = f64::from(digits);
    if power < 0 {
        digits / 10f64.powi(-power)
    } else {
        digits * 10f64.powi(power)
    }
}

/// `count` E24 values above (or below) `value`, nearest first.
#[must_use]
pub fn neighbours(value: f64, upwards: bool, count: usize) -> Vec<f64> {
    if !value.is_finite() || value <= 0.0 {
        return Vec::new();
    }
    let decade = value.log10().floor() as i32;
    // Two decades to either side hold far more values than anyone asks for.
    let mut all: Vec<f64> = (-3..=3)
        .flat_map(|step| {
            E24.iter()
                .map(move |&digits| scaled(digits, decade - 1 + step))
        })
        .filter(|&candidate| {
            if upwards {
                value * 1.001 < candidate
            } else {
                candidate < value * 0.999
            }
        })
        .collect();
    all.sort_by(f64::total_cmp);
    if !upwards {
        all.reverse();
    }
    all.truncate(count);
    all
}
