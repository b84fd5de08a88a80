//! Smooth functions shared by the laws, each returned with its slope, and the one rule that keeps every law finite.
//!
//! The rule: a power continues along its tangent above [`HUGE_VOLTS`], an exponential along its tangent above
//! [`LARGEST_EXPONENT`], and every terminal voltage passes through [`bounded`] first. So value and slope of a law are
//! continuous and finite for every finite voltage, and a search for an operating point may pass through any of them.
//!
//! All of them are written over [`Lanes`], and inlined into the laws: see [`numerics::lanes`].

use numerics::lanes::Lanes;
use numerics::lanes::functions::{exp, exp_and_less_one, ln, ln_one_plus, polynomial};

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
#[inline(always)]
#[must_use]
pub fn bounded<L: Lanes>(volts: L) -> L {
    volts
        .larger(L::splat(-LARGEST_VOLTS))
        .smaller(L::splat(LARGEST_VOLTS))
}

/// ln(1 + e^x) and its slope, for every x without overflow or loss of digits.
#[inline(always)]
#[must_use]
pub fn softplus<L: Lanes>(x: L) -> (L, L) {
    let zero = L::splat(0.0);
    let decay = exp(-x.abs());
    let (small, inverse) = ln_one_plus(decay);
    let slope = x.where_less(zero, decay * inverse, inverse);
    (x.larger(zero) + small, slope)
}

/// How sharply a smooth function bends, with its inverse worked out once.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Knee<L> {
    /// 1/V; greater than 0.
    per_volt: L,
    /// V.
    width: L,
}

impl<L: Lanes> Knee<L> {
    /// A knee in 1/V, greater than 0: the larger, the sharper.
    #[inline(always)]
    #[must_use]
    pub fn per_volt(per_volt: L) -> Self {
        Self {
            per_volt,
            width: L::splat(1.0) / per_volt,
        }
    }

    /// A knee this many volts wide, greater than 0.
    #[inline(always)]
    #[must_use]
    pub fn of_width(width: L) -> Self {
        Self {
            per_volt: L::splat(1.0) / width,
            width,
        }
    }

    /// The smooth positive part of a voltage, S(u) = ln(1 + exp(knee u)) / knee, and its slope: the larger the knee, the
    /// closer to max(u, 0).
    #[inline(always)]
    #[must_use]
    pub fn positive_part(&self, volts: L) -> (L, L) {
        let (value, slope) = softplus(self.per_volt * volts);
        (value * self.width, slope)
    }
}

/// base^exponent and its slope; 0 with slope 0 for a base of 0 or less; along the tangent above [`HUGE_VOLTS`].
///
/// `exponent` greater than 1, or the slope jumps at 0.
#[inline(always)]
#[must_use]
pub fn power<L: Lanes>(base: L, exponent: L) -> (L, L) {
    let zero = L::splat(0.0);
    let within = base
        .larger(L::splat(f64::MIN_POSITIVE))
        .smaller(L::splat(HUGE_VOLTS));
    // The slope comes first: the value is one product further, and no quotient is needed.
    let rate = exp((exponent - L::splat(1.0)) * ln(within));
    let slope = exponent * rate;
    let along = slope.mul_add(base - within, rate * within);
    (
        zero.where_less(base, along, zero),
        zero.where_less(base, slope, zero),
    )
}

/// S(u)^exponent, S as in [`Knee::positive_part`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PositivePower<L> {
    /// Where S bends.
    knee: Knee<L>,
    /// No unit; greater than 1.
    exponent: L,
}

impl<L: Lanes> PositivePower<L> {
    /// With a knee in 1/V, greater than 0.
    #[inline(always)]
    #[must_use]
    pub fn new(knee: L, exponent: L) -> Self {
        Self {
            knee: Knee::per_volt(knee),
            exponent,
        }
    }

    /// Value and slope by u. Far below 0 both go to exactly 0.
    #[inline(always)]
    #[must_use]
    pub fn at(&self, volts: L) -> (L, L) {
        let (base, base_slope) = self.knee.positive_part(volts);
        let (value, slope) = power(base, self.exponent);
        (value, slope * base_slope)
    }
}

/// e^x - 1 and its slope, along the tangent above [`LARGEST_EXPONENT`].
#[inline(always)]
#[must_use]
pub fn exponential_less_one<L: Lanes>(x: L) -> (L, L) {
    let within = x.smaller(L::splat(LARGEST_EXPONENT));
    let (slope, value) = exp_and_less_one(within);
    (slope.mul_add(x - within, value), slope)
}

/// The share 1 - exp(-ratio) for a ratio of 0 or more, and its slope.
#[inline(always)]
#[must_use]
pub fn saturating<L: Lanes>(ratio: L) -> (L, L) {
    let (slope, less_one) = exp_and_less_one(-ratio);
    (-less_one, slope)
}

/// (-n)^(n-1)/n! for n from 1 to 14, the series of W(s)/s (Corless and others, "On the Lambert W function", Advances in
/// Computational Mathematics 5, 1996, equation 3.1).
const OMEGA_SERIES: [f64; 14] = [
    1.0,
    -1.0,
    3.0 / 2.0,
    -8.0 / 3.0,
    125.0 / 24.0,
    -54.0 / 5.0,
    16_807.0 / 720.0,
    -16_384.0 / 315.0,
    531_441.0 / 4_480.0,
    -156_250.0 / 567.0,
    2_357_947_691.0 / 3_628_800.0,
    -2_985_984.0 / 1_925.0,
    1_792_160_394_037.0 / 479_001_600.0,
    -7_909_306_972.0 / 868_725.0,
];

/// Up to here the next term of the series is below 1e-17 of the sum: 2e4 s^14.
const OMEGA_SERIES_END: f64 = 0.029;

/// The Wright omega function for a real argument: the z with z + ln z = y. Relative error below 1e-14.
///
/// Its slope is z / (1 + z). A junction whose series resistance drops less than some hundredth of its thermal volts, so
/// nearly every one at rest, needs the series in e^y and nothing else.
#[inline(always)]
#[must_use]
pub fn wright_omega<L: Lanes>(y: L) -> L {
    let end = L::splat(OMEGA_SERIES_END);
    let small = exp(y.smaller(L::splat(0.0)));
    let series = small * polynomial(&OMEGA_SERIES, small);
    if !end.any_less(small) {
        return series;
    }
    end.where_less(small, omega_by_steps(y, small), series)
}

/// The Wright omega function beyond its series; `small` is e^y, or 1 for y above 0.
///
/// Started from the expansions about minus infinity, 1 and plus infinity, improved by the fourth-order step of Fritsch,
/// Shafer and Crowley (Algorithm 443, Communications of the ACM 16, 1973, 123-124).
#[inline(always)]
fn omega_by_steps<L: Lanes>(y: L, small: L) -> L {
    let one = L::splat(1.0);
    let offset = y - one;
    let middle = offset.mul_add(offset.mul_add(L::splat(1.0 / 16.0), L::splat(0.5)), one);
    let above = y.larger(one);
    let large = y - ln(above) * (one - one / above);
    let start = y.where_less(L::splat(3.0), middle, large);
    let start = y.where_less(-one, small / (one + small), start);
    // A start that is not 0, for the logarithm.
    let mut z = start.larger(L::splat(f64::MIN_POSITIVE));
    // Two steps reach rounding from the starts above; the tests compare the whole range.
    for _ in 0..2 {
        let residual = y - z - ln(z);
        let sum = one + z;
        let weight = L::splat(2.0) * sum * residual.mul_add(L::splat(1.0 / 1.5), sum);
        let step = residual * (weight - residual) / (sum * (weight - L::splat(2.0) * residual));
        z = z.mul_add(step, z);
    }
    z
}
