//! Newton's method on a sparse system whose elements may hold back ("limit") the point at which they are evaluated.

use crate::lanes::Lanes;
use crate::lu::{Analysis, Factors, GROWTH_LIMIT, SideBySide};
use crate::sparse::Pattern;

/// A square nonlinear system f(x) = 0 with a fixed sparsity pattern, or several of them side by side.
pub trait Equations<L: Lanes = f64> {
    /// Evaluates at `x`, filling every field of `values`.
    fn evaluate(&mut self, x: &[L], values: &mut Values<L>);
}

/// One evaluation of a system.
#[derive(Debug, Clone, Default)]
pub struct Values<L = f64> {
    /// f(x).
    pub residual: Vec<L>,
    /// Sum of the magnitudes that were added up in each residual: what its rounding is relative to.
    pub scale: Vec<L>,
    /// Jacobian values in the order of the pattern.
    pub jacobian: Vec<L>,
    /// Above 0 when an element was evaluated elsewhere than at `x` (held back), its values then being the tangent there:
    /// a point so found is not a solution yet.
    pub held_back: L,
}

impl<L: Lanes> Values<L> {
    /// Room for an evaluation of a system with this pattern.
    #[must_use]
    pub fn new(pattern: &Pattern) -> Self {
        let zeros = |count| vec![L::splat(0.0); count];
        Self {
            residual: zeros(pattern.size),
            scale: zeros(pattern.size),
            jacobian: zeros(pattern.rows.len()),
            held_back: L::splat(0.0),
        }
    }
}

/// When a point counts as settled, and how much work is allowed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// Each |residual| must be at most this ...
    pub residual_absolute: f64,
    /// ... plus this times its scale.
    pub residual_relative: f64,
    /// Each |step| must be at most this ...
    pub step_absolute: f64,
    /// ... plus this times |x|.
    pub step_relative: f64,
    /// No unknown moves further than this in one step.
    pub largest_step: f64,
    /// Bound on iterations.
    pub iterations: usize,
}

/// How it ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// Residual small and step small, nothing held back.
    Settled,
    /// The iterations ran out.
    RanOut,
    /// The matrix has no inverse at this unknown.
    Singular(usize),
    /// A value is not a number.
    NotFinite,
}

/// Buffers for one system, made once for a pattern.
#[derive(Debug)]
pub struct Buffers {
    /// Last evaluation.
    pub values: Values,
    /// Factors of the last Jacobian.
    pub factors: Factors,
    step: Vec<f64>,
    /// Evaluations so far.
    pub evaluations: usize,
}

impl Buffers {
    /// Buffers for a pattern and its analysis.
    #[must_use]
    pub fn new(pattern: &Pattern, analysis: &Analysis) -> Self {
        Self {
            values: Values::new(pattern),
            factors: Factors::new(analysis),
            step: vec![0.0; pattern.size],
            evaluations: 0,
        }
    }
}

/// Newton's method from `x`, in place. Nothing is allocated.
///
/// Settled means that the residual at the returned point is small, that the step which led to it was small too, and
/// that no element was held back there. A zero step alone is not success. Work is bounded by `settings.iterations`
/// evaluations and factorisations.
#[inline(always)]
pub fn solve(
    equations: &mut impl Equations,
    analysis: &Analysis,
    pattern: &Pattern,
    x: &mut [f64],
    buffers: &mut Buffers,
    settings: &Settings,
) -> Outcome {
    let mut step_is_large = if x.is_empty() { 0.0 } else { 1.0 };
    for _ in 0..settings.iterations {
        equations.evaluate(x, &mut buffers.values);
        buffers.evaluations += 1;
        let values = &buffers.values;
        let excess = balance(values, settings);
        if excess.is_nan() {
            return Outcome::NotFinite;
        }
        if excess < f64::MIN_POSITIVE && step_is_large + values.held_back < 0.5 {
            return Outcome::Settled;
        }
        if let Err(singular) = buffers.factors.update(analysis, pattern, &values.jacobian) {
            return Outcome::Singular(singular.column);
        }
        buffers.step.copy_from_slice(&values.residual);
        buffers.factors.solve(&mut buffers.step);
        step_is_large = take_step(x, &buffers.step, 1.0, settings);
        if step_is_large.is_nan() {
            return Outcome::NotFinite;
        }
    }
    Outcome::RanOut
}

/// Buffers for several systems of one pattern side by side, made once.
#[derive(Debug)]
pub struct BuffersSideBySide<L> {
    values: Values<L>,
    factors: SideBySide<L>,
    step: Vec<L>,
}

impl<L: Lanes> BuffersSideBySide<L> {
    /// Buffers for a pattern and the pivots of `chosen`.
    #[must_use]
    pub fn new(pattern: &Pattern, chosen: &Factors) -> Self {
        Self {
            values: Values::new(pattern),
            factors: SideBySide::new(chosen),
            step: vec![L::splat(0.0); pattern.size],
        }
    }
}

/// How each of several systems ended.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SideBySideOutcome<L> {
    /// 1 where it settled, in the sense of [`solve`]; 0 where the iterations ran out, a value was not a number, or the
    /// pivots did not serve.
    pub settled: L,
    /// Evaluations until then.
    pub evaluations: L,
    /// The sign of the determinant at the point before last, times that of the order of pivots; 1 or -1.
    pub sign: L,
}

/// Newton's method on several systems side by side from `x`, in place. Nothing is allocated.
///
/// Each stops for itself, and its `x` stays from then on, so that no system's numbers depend on its neighbours. The
/// pivots are those of `chosen` throughout; a system whose matrix grows beyond [`GROWTH_LIMIT`] with them is given up.
#[inline(always)]
pub fn solve_side_by_side<L: Lanes>(
    equations: &mut impl Equations<L>,
    chosen: &Factors,
    pattern: &Pattern,
    x: &mut [L],
    buffers: &mut BuffersSideBySide<L>,
    settings: &Settings,
) -> SideBySideOutcome<L> {
    let (zero, half, one) = (L::splat(0.0), L::splat(0.5), L::splat(1.0));
    let mut outcome = SideBySideOutcome {
        settled: zero,
        evaluations: zero,
        sign: one,
    };
    let mut at_work = one;
    let mut step_is_large = if x.is_empty() { zero } else { one };
    for _ in 0..settings.iterations {
        equations.evaluate(x, &mut buffers.values);
        outcome.evaluations = outcome.evaluations + at_work;
        let moving = step_is_large + buffers.values.held_back;
        // Written so that what is not a number settles nothing.
        let settles = balance(&buffers.values, settings).where_less(
            L::splat(f64::MIN_POSITIVE),
            moving.where_less(half, at_work, zero),
            zero,
        );
        outcome.settled = outcome.settled + settles;
        at_work = at_work - settles;
        if !half.any_less(at_work) {
            break;
        }
        let growth = buffers
            .factors
            .refactor(chosen, pattern, &buffers.values.jacobian);
        at_work = growth.where_less(L::splat(GROWTH_LIMIT), at_work, zero);
        buffers.step.copy_from_slice(&buffers.values.residual);
        buffers.factors.solve(chosen, &mut buffers.step);
        step_is_large = take_step(x, &buffers.step, at_work, settings);
        // Not a number: given up.
        at_work = step_is_large.where_less(L::splat(2.0), at_work, zero);
        outcome.sign = half.where_less(at_work, buffers.factors.sign(), outcome.sign);
    }
    outcome
}

/// The largest excess of a residual over what is allowed: 0 or less when all balance, not a number when one is not.
#[inline(always)]
fn balance<L: Lanes>(values: &Values<L>, settings: &Settings) -> L {
    let absolute = L::splat(-settings.residual_absolute);
    let relative = L::splat(-settings.residual_relative);
    let mut worst = absolute;
    let mut spoilt = L::splat(0.0);
    for (&residual, scale) in values.residual.iter().zip(&values.scale) {
        spoilt = residual.mul_add(L::splat(0.0), spoilt);
        worst = (residual.abs() + scale.mul_add(relative, absolute)).larger(worst);
    }
    worst + spoilt
}

/// Takes the step, bounded, where `at_work` is 1. Returns 1 where an unknown moved further than counts as standing still,
/// 0 where none did, and what is not a number where an unknown is none.
#[inline(always)]
fn take_step<L: Lanes>(x: &mut [L], steps: &[L], at_work: L, settings: &Settings) -> L {
    let (zero, one) = (L::splat(0.0), L::splat(1.0));
    let limit = L::splat(settings.largest_step);
    let absolute = L::splat(settings.step_absolute);
    let relative = L::splat(settings.step_relative);
    let mut large = zero;
    let mut spoilt = zero;
    for (unknown, &step) in x.iter_mut().zip(steps) {
        let bounded = limit.where_less(step, limit, step);
        let bounded = bounded.where_less(-limit, -limit, bounded);
        let allowed = unknown.abs().mul_add(relative, absolute);
        large = allowed.where_less(bounded.abs(), one, large);
        spoilt = bounded.mul_add(zero, spoilt);
        let moved = *unknown - bounded;
        *unknown = L::splat(0.5).where_less(at_work, moved, *unknown);
    }
    large + spoilt
}
