//! Four and eight numbers in one register of the processor.
//!
//! Nobody outside [`super`] can name these types, so a value of one exists only where [`super::detect`] found the
//! instructions: that is what every `unsafe` here rests on.

use super::Task;
use crate::lanes::{BIAS, BIASED_WHOLE, Lanes, MANTISSA_BITS, SQRT_HALF, WHOLE};
use std::ops::{Add, Div, Mul, Neg, Sub};

/// Instructions for four lanes (AVX2 and FMA3).
mod four {
    use super::{MANTISSA_BITS, Task};
    pub use std::arch::x86_64::{
        __m256d as Register, _mm256_add_epi64 as add_whole, _mm256_add_pd as add,
        _mm256_andnot_pd as without, _mm256_castpd_si256 as bits, _mm256_castsi256_pd as number,
        _mm256_div_pd as divide, _mm256_fmadd_pd as mul_add, _mm256_max_pd as larger,
        _mm256_min_pd as smaller, _mm256_mul_pd as multiply, _mm256_or_si256 as either,
        _mm256_set1_epi64x as splat_whole, _mm256_set1_pd as splat, _mm256_sqrt_pd as sqrt,
        _mm256_sub_epi64 as subtract_whole, _mm256_sub_pd as subtract, _mm256_xor_pd as unlike,
    };
    use std::arch::x86_64::{
        __m256i, _CMP_LT_OQ, _mm256_blendv_pd, _mm256_cmp_pd, _mm256_movemask_pd,
        _mm256_slli_epi64, _mm256_srli_epi64,
    };

    /// The last bits of a number in place of its exponent.
    #[inline]
    #[target_feature(enable = "fma,avx2")]
    pub fn up(bits: __m256i) -> __m256i {
        _mm256_slli_epi64::<{ MANTISSA_BITS as i32 }>(bits)
    }

    /// The exponent of a number in place of its last bits.
    #[inline]
    #[target_feature(enable = "fma,avx2")]
    pub fn down(bits: __m256i) -> __m256i {
        _mm256_srli_epi64::<{ MANTISSA_BITS as i32 }>(bits)
    }

    #[inline(never)]
    #[target_feature(enable = "fma,avx2")]
    pub fn apart<T: Task>(task: T) -> T::Output {
        task.run()
    }

    #[inline]
    #[target_feature(enable = "fma,avx2")]
    pub fn where_less(at: Register, limit: Register, then: Register, other: Register) -> Register {
        _mm256_blendv_pd(other, then, _mm256_cmp_pd::<_CMP_LT_OQ>(at, limit))
    }

    #[inline]
    #[target_feature(enable = "fma,avx2")]
    pub fn any_less(at: Register, limit: Register) -> bool {
        _mm256_movemask_pd(_mm256_cmp_pd::<_CMP_LT_OQ>(at, limit)) != 0
    }
}

/// Instructions for eight lanes (AVX-512 F and DQ).
mod eight {
    use super::{MANTISSA_BITS, Task};
    pub use std::arch::x86_64::{
        __m512d as Register, _mm512_add_epi64 as add_whole, _mm512_add_pd as add,
        _mm512_andnot_pd as without, _mm512_castpd_si512 as bits, _mm512_castsi512_pd as number,
        _mm512_div_pd as divide, _mm512_fmadd_pd as mul_add, _mm512_max_pd as larger,
        _mm512_min_pd as smaller, _mm512_mul_pd as multiply, _mm512_or_si512 as either,
        _mm512_set1_epi64 as splat_whole, _mm512_set1_pd as splat, _mm512_sqrt_pd as sqrt,
        _mm512_sub_epi64 as subtract_whole, _mm512_sub_pd as subtract, _mm512_xor_pd as unlike,
    };
    use std::arch::x86_64::{
        __m512i, _CMP_LT_OQ, _mm512_cmp_pd_mask, _mm512_mask_blend_pd, _mm512_slli_epi64,
        _mm512_srli_epi64,
    };

    /// The last bits of a number in place of its exponent.
    #[inline]
    #[target_feature(enable = "avx512f,avx512dq")]
    pub fn up(bits: __m512i) -> __m512i {
        _mm512_slli_epi64::<MANTISSA_BITS>(bits)
    }

    /// The exponent of a number in place of its last bits.
    #[inline]
    #[target_feature(enable = "avx512f,avx512dq")]
    pub fn down(bits: __m512i) -> __m512i {
        _mm512_srli_epi64::<MANTISSA_BITS>(bits)
    }

    #[inline(never)]
    #[target_feature(enable = "fma,avx2,avx512f,avx512dq")]
    pub fn apart<T: Task>(task: T) -> T::Output {
        task.run()
    }

    #[inline]
    #[target_feature(enable = "avx512f,avx512dq")]
    pub fn where_less(at: Register, limit: Register, then: Register, other: Register) -> Register {
        _mm512_mask_blend_pd(_mm512_cmp_pd_mask::<_CMP_LT_OQ>(at, limit), other, then)
    }

    #[inline]
    #[target_feature(enable = "avx512f,avx512dq")]
    pub fn any_less(at: Register, limit: Register) -> bool {
        _mm512_cmp_pd_mask::<_CMP_LT_OQ>(at, limit) != 0
    }
}

macro_rules! in_register {
    ($(#[$about:meta])* $name:ident, $count:literal, $with:ident) => {
        $(#[$about])*
        #[derive(Debug, Clone, Copy)]
        #[repr(transparent)]
        pub struct $name($with::Register);

        impl $name {
            #[inline(always)]
            fn numbers(self) -> [f64; $count] {
                // SAFETY: the register holds just these numbers, and any bits are a number.
                unsafe { std::mem::transmute::<$with::Register, [f64; $count]>(self.0) }
            }

            #[inline(always)]
            fn of(numbers: [f64; $count]) -> Self {
                // SAFETY: as above.
                Self(unsafe { std::mem::transmute::<[f64; $count], $with::Register>(numbers) })
            }
        }

        impl Default for $name {
            #[inline(always)]
            fn default() -> Self {
                Self::of([0.0; $count])
            }
        }

        impl PartialEq for $name {
            fn eq(&self, other: &Self) -> bool {
                self.numbers() == other.numbers()
            }
        }

        in_register!(operator $name, $with, Add, add, add);
        in_register!(operator $name, $with, Sub, sub, subtract);
        in_register!(operator $name, $with, Mul, mul, multiply);
        in_register!(operator $name, $with, Div, div, divide);

        impl Neg for $name {
            type Output = Self;

            #[inline(always)]
            fn neg(self) -> Self {
                // SAFETY: the module's.
                Self(unsafe { $with::unlike(self.0, $with::splat(-0.0)) })
            }
        }

        // SAFETY of all that is unsafe below: the module's.
        impl Lanes for $name {
            const COUNT: usize = $count;

            #[inline(always)]
            fn splat(value: f64) -> Self {
                Self(unsafe { $with::splat(value) })
            }

            #[inline(always)]
            fn lane(self, lane: usize) -> f64 {
                self.numbers()[lane]
            }

            #[inline(always)]
            fn set_lane(&mut self, lane: usize, value: f64) {
                let mut numbers = self.numbers();
                numbers[lane] = value;
                *self = Self::of(numbers);
            }

            #[inline(always)]
            fn from_lanes(each: impl FnMut(usize) -> f64) -> Self {
                Self::of(std::array::from_fn(each))
            }

            #[inline(always)]
            fn mul_add(self, factor: Self, addend: Self) -> Self {
                Self(unsafe { $with::mul_add(self.0, factor.0, addend.0) })
            }

            #[inline(always)]
            fn abs(self) -> Self {
                Self(unsafe { $with::without($with::splat(-0.0), self.0) })
            }

            #[inline(always)]
            fn sqrt(self) -> Self {
                Self(unsafe { $with::sqrt(self.0) })
            }

            #[inline(always)]
            fn where_less(self, limit: Self, then: Self, otherwise: Self) -> Self {
                Self(unsafe { $with::where_less(self.0, limit.0, then.0, otherwise.0) })
            }

            #[inline(always)]
            fn any_less(self, limit: Self) -> bool {
                unsafe { $with::any_less(self.0, limit.0) }
            }

            #[inline(always)]
            fn apart<T: Task>(task: T) -> T::Output {
                unsafe { $with::apart(task) }
            }

            #[inline(always)]
            fn larger(self, other: Self) -> Self {
                Self(unsafe { $with::larger(self.0, other.0) })
            }

            #[inline(always)]
            fn smaller(self, other: Self) -> Self {
                Self(unsafe { $with::smaller(self.0, other.0) })
            }

            #[inline(always)]
            fn power_of_two(self) -> Self {
                Self(unsafe {
                    let exponent = $with::up($with::bits(self.0));
                    let bias = $with::splat_whole((BIAS << MANTISSA_BITS).cast_signed());
                    $with::number($with::add_whole(exponent, bias))
                })
            }

            #[inline(always)]
            fn split(self) -> (Self, Self) {
                unsafe {
                    let bits = $with::bits(self.0);
                    let bias = $with::splat_whole((BIAS << MANTISSA_BITS).cast_signed());
                    let least = $with::splat_whole(SQRT_HALF.cast_signed());
                    let above = $with::add_whole($with::subtract_whole(bits, least), bias);
                    let biased = $with::down(above);
                    let whole = $with::splat_whole(WHOLE.to_bits().cast_signed());
                    let exponent = $with::subtract(
                        $with::number($with::either(biased, whole)),
                        $with::splat(BIASED_WHOLE),
                    );
                    let power = $with::up(biased);
                    let mantissa = $with::add_whole($with::subtract_whole(bits, power), bias);
                    (Self(exponent), Self($with::number(mantissa)))
                }
            }
        }
    };
    (operator $name:ident, $with:ident, $trait:ident, $method:ident, $does:ident) => {
        impl $trait for $name {
            type Output = Self;

            #[inline(always)]
            fn $method(self, other: Self) -> Self {
                // SAFETY: the module's.
                Self(unsafe { $with::$does(self.0, other.0) })
            }
        }
    };
}

in_register!(
    /// Four numbers side by side.
    Four, 4, four
);
in_register!(
    /// Eight numbers side by side.
    Eight, 8, eight
);
