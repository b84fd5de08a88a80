//! Preferred values: the E24 series of IEC 60063 (values from memory; 27, 30, 33, 36, 39, 43, 47 and 82 are historical
//! and not the rounded geometric ones).

const E24: [u32; 24] = [
    10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91,
];

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
