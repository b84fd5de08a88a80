//! Several numbers at once: one formula written over [`Lanes`] is compiled for one number and for eight side by side.
//!
//! A lane never looks at another one, and every operation is the same IEEE 754 operation in all of them, products and
//! sums fused everywhere ([`Lanes::mul_add`]). So a result does not depend on how many lanes it was computed in, to the
//! last digit. [`select`] chooses at run time how many lanes this machine is good at.

pub mod functions;
pub mod select;

use select::Task;
use std::fmt::Debug;
use std::ops::{Add, Div, Mul, Neg, Sub};

/// A number, or several side by side.
///
/// Every method but [`Lanes::apart`] must be inlined into what [`select`] runs, or it is compiled without the instructions
/// chosen there: correct still, but slow.
pub trait Lanes:
    Copy
    + Debug
    + Default
    + PartialEq
    + Send
    + Sync
    + Add<Output = Self>
    + Sub<Output = Self>
    + Mul<Output = Self>
    + Div<Output = Self>
    + Neg<Output = Self>
{
    /// How many.
    const COUNT: usize;

    /// The same number in every lane.
    fn splat(value: f64) -> Self;

    /// The number of one lane, 0 to [`Lanes::COUNT`] less one.
    fn lane(self, lane: usize) -> f64;

    /// Changes the number of one lane.
    fn set_lane(&mut self, lane: usize, value: f64);

    /// self `factor` + `addend`, rounded once.
    fn mul_add(self, factor: Self, addend: Self) -> Self;

    /// Magnitude.
    fn abs(self) -> Self;

    /// Square root.
    fn sqrt(self) -> Self;

    /// In each lane `then` where self is below `limit`, else (and where either is not a number) `otherwise`.
    fn where_less(self, limit: Self, then: Self, otherwise: Self) -> Self;

    /// Whether self is below `limit` in any lane.
    fn any_less(self, limit: Self) -> bool;

    /// 2^k from 1.5 * 2^52 + k, the sum in which a number was rounded to the whole k; -1022 to 1023.
    fn power_of_two(self) -> Self;

    /// (e, m) with self = m 2^e and m from sqrt(1/2) to sqrt(2); for positive numbers of full precision.
    fn split(self) -> (Self, Self);

    /// Does a task, compiled for the instructions of these lanes, as a function of its own: what is long and called from
    /// several places is then compiled once for all of them.
    fn apart<T: Task>(task: T) -> T::Output;

    /// The larger of two; `other` where either is not a number.
    #[inline(always)]
    fn larger(self, other: Self) -> Self {
        other.where_less(self, self, other)
    }

    /// The smaller of two; `other` where either is not a number.
    #[inline(always)]
    fn smaller(self, other: Self) -> Self {
        self.where_less(other, self, other)
    }

    /// One number for each lane.
    #[inline(always)]
    fn from_lanes(mut each: impl FnMut(usize) -> f64) -> Self {
        let mut lanes = Self::default();
        for lane in 0..Self::COUNT {
            lanes.set_lane(lane, each(lane));
        }
        lanes
    }
}

const MANTISSA_BITS: u32 = 52;
const BIAS: u64 = 1023;
/// sqrt(1/2), below which a mantissa is counted to the exponent below.
const SQRT_HALF: u64 = std::f64::consts::FRAC_1_SQRT_2.to_bits();
/// 2^52: a whole number below it, put into its last bits, is that number on top.
const WHOLE: f64 = 4_503_599_627_370_496.0;
/// What such a number is with the bias of an exponent in its last bits.
const BIASED_WHOLE: f64 = WHOLE + BIAS as f64;

#[inline(always)]
fn power_of_two(sum: f64) -> f64 {
    f64::from_bits((sum.to_bits() << MANTISSA_BITS).wrapping_add(BIAS << MANTISSA_BITS))
}

#[inline(always)]
fn split(value: f64) -> (f64, f64) {
    let bits = value.to_bits();
    let biased = bits
        .wrapping_sub(SQRT_HALF)
        .wrapping_add(BIAS << MANTISSA_BITS)
        >> MANTISSA_BITS;
    let exponent = f64::from_bits(WHOLE.to_bits() | biased) - BIASED_WHOLE;
    let mantissa = bits
        .wrapping_sub(biased << MANTISSA_BITS)
        .wrapping_add(BIAS << MANTISSA_BITS);
    (exponent, f64::from_bits(mantissa))
}

impl Lanes for f64 {
    const COUNT: usize = 1;

    #[inline(always)]
    fn splat(value: f64) -> Self {
        value
    }

    #[inline(always)]
    fn lane(self, _: usize) -> f64 {
        self
    }

    #[inline(always)]
    fn set_lane(&mut self, _: usize, value: f64) {
        *self = value;
    }

    #[inline(always)]
    fn mul_add(self, factor: Self, addend: Self) -> Self {
        self.mul_add(factor, addend)
    }

    #[inline(always)]
    fn abs(self) -> Self {
        self.abs()
    }

    #[inline(always)]
    fn sqrt(self) -> Self {
        self.sqrt()
    }

    #[inline(always)]
    fn where_less(self, limit: Self, then: Self, otherwise: Self) -> Self {
        if self < limit { then } else { otherwise }
    }

    #[inline(always)]
    fn any_less(self, limit: Self) -> bool {
        self < limit
    }

    #[inline(always)]
    fn power_of_two(self) -> Self {
        power_of_two(self)
    }

    #[inline(always)]
    fn split(self) -> (Self, Self) {
        split(self)
    }

    #[inline(never)]
    fn apart<T: Task>(task: T) -> T::Output {
        select::fused(task)
    }
}
