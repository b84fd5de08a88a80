//! Which lanes this machine has, found out at run time: the one place of the project that vouches for instructions.
#![allow(
    unsafe_code,
    reason = "calling a function compiled for instructions that the processor was just found to have"
)]

use super::Lanes;
#[cfg(target_arch = "x86_64")]
use registers::{Eight, Four};
use std::sync::LazyLock;

#[cfg(target_arch = "x86_64")]
mod registers;

/// Something that can be computed in any number of lanes.
///
/// `run` and everything below it must be `#[inline(always)]` or called through [`Lanes::apart`], so that it is compiled for
/// the chosen instructions.
pub trait Work {
    /// What comes out.
    type Output;

    /// Does it in lanes of this kind.
    fn run<L: Lanes>(self) -> Self::Output;
}

/// Something to be done in lanes that are settled already.
///
/// `run` and everything below it must be `#[inline(always)]` or called through [`Lanes::apart`], so that it is compiled for
/// the instructions of whoever calls it. A function handed over would not do: the piece of code that calls it through
/// `FnOnce` is compiled by itself and without these instructions.
pub trait Task {
    /// What comes out.
    type Output;

    /// Does it.
    fn run(self) -> Self::Output;
}

/// Lanes that this machine can do; there is no other way to get one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Choice(Kind);

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    /// One lane with whatever every machine has; fused products may be slow.
    Plain,
    /// One lane with the fused product (FMA3).
    One,
    /// Four lanes (AVX2 and FMA3).
    Four,
    /// Eight lanes (AVX-512 F and DQ).
    Eight,
}

static CHOICES: LazyLock<Vec<Choice>> = LazyLock::new(detect);

#[cfg(target_arch = "x86_64")]
fn detect() -> Vec<Choice> {
    let mut choices = Vec::new();
    let fused = is_x86_feature_detected!("fma") && is_x86_feature_detected!("avx2");
    choices.push(Choice(if fused { Kind::One } else { Kind::Plain }));
    if fused {
        choices.push(Choice(Kind::Four));
    }
    if fused && is_x86_feature_detected!("avx512f") && is_x86_feature_detected!("avx512dq") {
        choices.push(Choice(Kind::Eight));
    }
    choices
}

#[cfg(not(target_arch = "x86_64"))]
fn detect() -> Vec<Choice> {
    vec![Choice(Kind::Plain)]
}

impl Choice {
    /// Everything this machine can do: one lane first, the widest last.
    #[must_use]
    pub fn all() -> &'static [Choice] {
        &CHOICES
    }

    /// One lane.
    #[must_use]
    pub fn one() -> Choice {
        CHOICES[0]
    }

    /// As many lanes as this machine has.
    #[must_use]
    pub fn widest() -> Choice {
        CHOICES[CHOICES.len() - 1]
    }

    /// How many lanes.
    #[must_use]
    pub fn lanes(self) -> usize {
        match self.0 {
            Kind::Plain | Kind::One => 1,
            Kind::Four => 4,
            Kind::Eight => 8,
        }
    }

    /// Does the work in these lanes.
    #[inline]
    pub fn run<W: Work>(self, work: W) -> W::Output {
        match self.0 {
            Kind::Plain => work.run::<f64>(),
            // SAFETY: `detect` alone makes these kinds, after it found the processor to have the instructions.
            #[cfg(target_arch = "x86_64")]
            Kind::One => unsafe { one(work) },
            // SAFETY: as above.
            #[cfg(target_arch = "x86_64")]
            Kind::Four => unsafe { four(work) },
            // SAFETY: as above.
            #[cfg(target_arch = "x86_64")]
            Kind::Eight => unsafe { eight(work) },
            #[cfg(not(target_arch = "x86_64"))]
            _ => work.run::<f64>(),
        }
    }
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "fma,avx2")]
fn one<W: Work>(work: W) -> W::Output {
    work.run::<f64>()
}

/// Does a task for one lane with the best instructions for it: the same numbers as without, sooner.
#[inline]
pub fn fused<T: Task>(task: T) -> T::Output {
    match Choice::one().0 {
        // SAFETY: `detect` alone makes this kind, after it found the processor to have the instructions.
        #[cfg(target_arch = "x86_64")]
        Kind::One => unsafe { with_fused_products(task) },
        _ => task.run(),
    }
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "fma,avx2")]
fn with_fused_products<T: Task>(task: T) -> T::Output {
    task.run()
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "fma,avx2")]
fn four<W: Work>(work: W) -> W::Output {
    work.run::<Four>()
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "fma,avx2,avx512f,avx512dq")]
fn eight<W: Work>(work: W) -> W::Output {
    work.run::<Eight>()
}
