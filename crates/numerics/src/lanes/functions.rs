//! Exponential and logarithm, the same source for one lane and for many.
//!
//! Argument reduction and series as in J.-M. Muller, "Elementary Functions", 3rd ed., Birkhaeuser 2016, chapters 3 and 5
//! (from memory). The tests hold both to 4e-16 relative against the platform's library.

use super::Lanes;
use std::f64::consts::{LN_2, LOG2_E};

/// Below this e^x is 0 here: the last numbers before underflow are not resolved. Largest x for [`exp`] is
/// [`LARGEST_EXPONENT`].
pub const LEAST_EXPONENT: f64 = -708.0;

/// Above this argument e^x stays what it is there, 8e307.
pub const LARGEST_EXPONENT: f64 = 709.0;

/// ln 2 less its nearest number.
const LN_2_REST: f64 = 2.319_046_813_846_299_6e-17;

/// Adding this rounds to a whole number: 1.5 * 2^52.
const ROUNDING: f64 = 6_755_399_441_055_744.0;

/// 1/2!, 1/3! ... 1/13!: with |r| at most ln(2)/2 the next term is below 1e-17 of the result.
const INVERSE_FACTORIALS: [f64; 12] = [
    1.0 / 2.0,
    1.0 / 6.0,
    1.0 / 24.0,
    1.0 / 120.0,
    1.0 / 720.0,
    1.0 / 5_040.0,
    1.0 / 40_320.0,
    1.0 / 362_880.0,
    1.0 / 3_628_800.0,
    1.0 / 39_916_800.0,
    1.0 / 479_001_600.0,
    1.0 / 6_227_020_800.0,
];

/// 2/3, 2/5 ... 2/21, of 2 artanh(s) = 2 s + s (2/3 s^2 + 2/5 s^4 + ...); with |s| at most 0.172 the next is below 1e-17.
const ODD_FRACTIONS: [f64; 10] = [
    2.0 / 3.0,
    2.0 / 5.0,
    2.0 / 7.0,
    2.0 / 9.0,
    2.0 / 11.0,
    2.0 / 13.0,
    2.0 / 15.0,
    2.0 / 17.0,
    2.0 / 19.0,
    2.0 / 21.0,
];

/// The polynomial with these coefficients, constant term first. Even and odd powers apart, so that a processor has two
/// chains to work on.
#[inline(always)]
#[must_use]
pub fn polynomial<L: Lanes, const N: usize>(coefficients: &[f64; N], x: L) -> L {
    let square = x * x;
    let mut even = L::splat(coefficients[N - 2 + N % 2]);
    let mut odd = L::splat(coefficients[N - 1 - N % 2]);
    let mut index = N - 2 + N % 2;
    while 2 <= index {
        index -= 2;
        even = even.mul_add(square, L::splat(coefficients[index]));
    }
    let mut index = N - 1 - N % 2;
    while 3 <= index {
        index -= 2;
        odd = odd.mul_add(square, L::splat(coefficients[index]));
    }
    odd.mul_add(x, even)
}

/// (s, p) with e^x = s (1 + p), s a power of two and p the small rest.
#[inline(always)]
fn reduced<L: Lanes>(x: L) -> (L, L) {
    let x = x
        .larger(L::splat(LEAST_EXPONENT))
        .smaller(L::splat(LARGEST_EXPONENT));
    let sum = x.mul_add(L::splat(LOG2_E), L::splat(ROUNDING));
    let whole = sum - L::splat(ROUNDING);
    let rest = whole.mul_add(L::splat(-LN_2), x);
    let rest = whole.mul_add(L::splat(-LN_2_REST), rest);
    let series = polynomial(&INVERSE_FACTORIALS, rest);
    (sum.power_of_two(), (rest * rest).mul_add(series, rest))
}

/// e^x; 0 below [`LEAST_EXPONENT`], constant above [`LARGEST_EXPONENT`].
#[inline(always)]
#[must_use]
pub fn exp<L: Lanes>(x: L) -> L {
    let (scale, rest) = reduced(x);
    x.where_less(
        L::splat(LEAST_EXPONENT),
        L::splat(0.0),
        rest.mul_add(scale, scale),
    )
}

/// (e^x, e^x - 1), the second exact to the last digits near 0 too.
#[inline(always)]
#[must_use]
pub fn exp_and_less_one<L: Lanes>(x: L) -> (L, L) {
    let (scale, rest) = reduced(x);
    let below =
        |small: f64, value: L| x.where_less(L::splat(LEAST_EXPONENT), L::splat(small), value);
    (
        below(0.0, rest.mul_add(scale, scale)),
        below(-1.0, rest.mul_add(scale, scale - L::splat(1.0))),
    )
}

/// Natural logarithm of a positive number of full precision (2.3e-308 and above); anything else gives some finite number.
#[inline(always)]
#[must_use]
pub fn ln<L: Lanes>(x: L) -> L {
    let (exponent, mantissa) = x.split();
    let above = mantissa - L::splat(1.0);
    let s = above / (above + L::splat(2.0));
    let square = s * s;
    let series = square * polynomial(&ODD_FRACTIONS, square);
    let half_square = L::splat(0.5) * above * above;
    // ln(1 + f) = f - (f^2/2 - s (f^2/2 + series)) keeps the digits that 2 s + s series would round away.
    let correction = s.mul_add(half_square + series, exponent * L::splat(LN_2_REST));
    exponent.mul_add(L::splat(LN_2), above - (half_square - correction))
}

/// (ln(1 + u), 1 / (1 + u)) for u from 0 to 1, exact to the last digits near 0 too.
#[inline(always)]
#[must_use]
pub fn ln_one_plus<L: Lanes>(u: L) -> (L, L) {
    let sum = L::splat(1.0) + u;
    let inverse = L::splat(1.0) / sum;
    let lost = u - (sum - L::splat(1.0));
    (lost.mul_add(inverse, ln(sum)), inverse)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lanes::select::{Choice, Work};

    /// Promised on top of this file; the platform's own functions are good to about 1e-16.
    const PROMISED: f64 = 4e-16;

    fn misses(own: f64, platform: f64) -> f64 {
        if own == platform {
            0.0
        } else {
            ((own - platform) / platform).abs()
        }
    }

    fn points(low: f64, high: f64) -> impl Iterator<Item = f64> {
        (0..=200_000).map(move |index| low + (high - low) * f64::from(index) / 200_000.0)
    }

    #[test]
    fn exponential_against_the_platform() {
        for x in points(-707.9, 708.9).chain(points(-1.0, 1.0)) {
            assert!(misses(exp(x), x.exp()) < PROMISED, "{x}");
            let (_, less_one) = exp_and_less_one(x);
            assert!(misses(less_one, x.exp_m1()) < PROMISED, "{x}: {less_one}");
        }
        for tiny in [1e-300, -1e-300, 1e-17, -1e-9] {
            assert_eq!(exp_and_less_one(tiny).1, tiny.exp_m1());
        }
        assert_eq!(exp(-709.0), 0.0);
        assert_eq!(exp_and_less_one(-1e300), (0.0, -1.0));
        assert_eq!(exp(1e300), exp(709.0));
    }

    #[test]
    fn logarithm_against_the_platform() {
        for x in points(1e-3, 3.0)
            .chain(points(0.7, 1.5))
            .chain(points(-700.0, 700.0).map(f64::exp))
        {
            assert!(misses(ln(x), x.ln()) < PROMISED, "{x}");
        }
        for u in points(0.0, 1.0).chain(points(-700.0, 0.0).map(f64::exp)) {
            let (value, inverse) = ln_one_plus(u);
            assert!(misses(value, u.ln_1p()) < PROMISED, "{u}");
            assert_eq!(inverse, 1.0 / (1.0 + u));
        }
    }

    /// Numbers of every size and sign, with what has neither.
    const VALUES: [f64; 16] = [
        -800.0,
        -37.2,
        -1e-9,
        0.0,
        -0.0,
        1e-3,
        0.7,
        1.0,
        1.5,
        55.5,
        1e9,
        -708.5,
        f64::MIN_POSITIVE,
        f64::MAX,
        f64::INFINITY,
        f64::NAN,
    ];

    /// Everything that lanes can do, of each of [`VALUES`] and the one before it.
    struct Everything;

    impl Work for Everything {
        type Output = Vec<Vec<u64>>;

        #[inline(always)]
        fn run<L: Lanes>(self) -> Self::Output {
            let mut all = vec![Vec::new(); VALUES.len()];
            for first in (0..VALUES.len()).step_by(L::COUNT) {
                let x = L::from_lanes(|lane| VALUES[first + lane]);
                let y = L::from_lanes(|lane| VALUES[(first + lane + 1) % VALUES.len()]);
                let (exponent, mantissa) = x.abs().split();
                let (exponential, less_one) = exp_and_less_one(x);
                let results = [
                    x + y,
                    x - y,
                    x * y,
                    x / y,
                    -x,
                    x.abs(),
                    x.abs().sqrt(),
                    x.mul_add(y, x),
                    x.larger(y),
                    x.smaller(y),
                    x.where_less(y, L::splat(1.0), L::splat(2.0)),
                    exponent,
                    mantissa,
                    exp(x),
                    exponential,
                    less_one,
                    ln(x.abs()),
                    ln_one_plus(x).0,
                ];
                for lane in 0..L::COUNT {
                    let numbers = results.map(|result| result.lane(lane));
                    // Which bits a result has that is not a number, nobody promises.
                    all[first + lane] = numbers
                        .map(|number| if number.is_nan() { 0 } else { number.to_bits() })
                        .to_vec();
                }
            }
            all
        }
    }

    /// Four and eight lanes are four and eight times one lane, to the last bit.
    #[test]
    fn lanes_are_the_same_numbers() {
        let plain = Everything.run::<f64>();
        for lanes in Choice::all() {
            assert_eq!(lanes.run(Everything), plain, "{} lanes", lanes.lanes());
        }
    }

    struct Below(f64);

    impl Work for Below {
        type Output = bool;

        #[inline(always)]
        fn run<L: Lanes>(self) -> bool {
            let mut x = L::splat(1.0);
            x.set_lane(L::COUNT - 1, self.0);
            x.any_less(L::splat(1.0))
        }
    }

    #[test]
    fn one_lane_below_is_seen() {
        for lanes in Choice::all() {
            assert!(lanes.run(Below(0.5)));
            assert!(!lanes.run(Below(1.0)));
            assert!(!lanes.run(Below(f64::NAN)));
        }
    }
}
