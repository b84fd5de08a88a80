//! Smooth functions shared by the laws, each returned with its slope, and the one rule that keeps every law finite.
//!
//! The rule: a power continues along its tangent above [`HUGE_VOLTS`], an exponential along its tangent above
//! [`LARGEST_EXPONENT`], and every terminal voltage passes through [`bounded`] first. So value and slope of a law are
//! continuous and finite for every finite voltage, and a search for an operating point may pass through any of them.

/// Above this base, V, a power continues along its tangent. Chosen far above any voltage a tube meets, so that it never
/// changes a result, and low enough that no slope overflows.
pub const HUGE_VOLTS: f64 = 1e6;

/// No law is asked beyond this voltage of either sign, V; beyond it the current stays what it is there. Chosen so that
/// currents (by now straight lines) and their sums keep far from the largest finite number.
pub const LARGEST_VOLTS: f64 = 1e100;

/// Above this argument an exponential continues along its tangent. Chosen because a junction of 1 pA saturation current
/// would by then carry 5e22 A.
pub const LARGEST_EXPONENT: f64 = 80.0;

/// The voltage a law is evaluated at: within plus and minus [`LARGEST_VOLTS`].
#[must_use]
pub fn bounded(volts: f64) -> f64 {
    volts.clamp(-LARGEST_VOLTS, LARGEST_VOLTS)
}

/// ln(1 + e^x) and its slope, for every x without overflow or loss of digits.
#[must_use]
pub fn softplus(x: f64) -> (f64, f64) {
    let decay = (-x.abs()).exp();
    let slope = if x >= 0.0 { 1.0 } else { decay } / (1.0 + decay);
    (x.max(0.0) + decay.ln_1p(), slope)
}

/// The smooth positive part of a voltage, S(u) = ln(1 + exp(knee u)) / knee, and its slope.
///
/// `knee` in 1/V, greater than 0: the larger, the closer to max(u, 0).
#[must_use]
pub fn positive_part(volts: f64, knee: f64) -> (f64, f64) {
    let (value, slope) = softplus(knee * volts);
    (value / knee, slope)
}

/// base^exponent and its slope; 0 with slope 0 for a base of 0 or less; along the tangent above [`HUGE_VOLTS`].
///
/// `exponent` greater than 1, or the slope jumps at 0.
#[must_use]
pub fn power(base: f64, exponent: f64) -> (f64, f64) {
    if base <= 0.0 {
        return (0.0, 0.0);
    }
    let within = base.min(HUGE_VOLTS);
    let value = within.powf(exponent);
    let slope = exponent * value / within;
    (value + slope * (base - within), slope)
}

/// S(u)^exponent and its slope by u, S as in [`positive_part`]. Far below 0 both go to exactly 0.
#[must_use]
pub fn positive_power(volts: f64, knee: f64, exponent: f64) -> (f64, f64) {
    let (base, base_slope) = positive_part(volts, knee);
    let (value, slope) = power(base, exponent);
    (value, slope * base_slope)
}

/// e^x - 1 and its slope, along the tangent above [`LARGEST_EXPONENT`].
#[must_use]
pub fn exponential_less_one(x: f64) -> (f64, f64) {
    let within = x.min(LARGEST_EXPONENT);
    let slope = within.exp();
    (within.exp_m1() + slope * (x - within), slope)
}

/// The share 1 - exp(-ratio) for a ratio of 0 or more, and its slope.
#[must_use]
pub fn saturating(ratio: f64) -> (f64, f64) {
    (-(-ratio).exp_m1(), (-ratio).exp())
}

/// The Wright omega function for a real argument: the z with z + ln z = y. Relative error below 1e-14.
///
/// Its slope is z / (1 + z). Started from the expansions about minus infinity, 1 and plus infinity, improved by the
/// fourth-order step of Fritsch, Shafer and Crowley (Algorithm 443, Communications of the ACM 16, 1973, 123-124).
#[must_use]
pub fn wright_omega(y: f64) -> f64 {
    // Below this e^y is the value to the last digit, since z = e^y (1 - e^y + ...).
    const ONLY_EXPONENTIAL: f64 = -37.0;
    if y < ONLY_EXPONENTIAL {
        return y.exp();
    }
    let mut z = if y < -1.0 {
        let small = y.exp();
        small / (1.0 + small)
    } else if y < 3.0 {
        let offset = y - 1.0;
        1.0 + offset * (0.5 + offset / 16.0)
    } else {
        y - y.ln() * (1.0 - 1.0 / y)
    };
    // Two steps reach rounding from the starts above; the tests compare the whole range.
    for _ in 0..2 {
        let residual = y - z - z.ln();
        let sum = 1.0 + z;
        let weight = 2.0 * sum * (sum + residual / 1.5);
        z *= 1.0 + residual / sum * (weight - residual) / (weight - 2.0 * residual);
    }
    z
}
