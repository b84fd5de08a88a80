//! Newton's method on a sparse system whose elements may hold back ("limit") the point at which they are evaluated.

use crate::lu::{Analysis, Factors};
use crate::sparse::Pattern;

/// A square nonlinear system f(x) = 0 with a fixed sparsity pattern.
pub trait Equations {
    /// Evaluates at `x`, filling every field of `values`. Returns true when an element was evaluated elsewhere than at
    /// `x` (held back), its values then being the tangent there: a point so found is not a solution yet.
    fn evaluate(&mut self, x: &[f64], values: &mut Values) -> bool;
}

/// One evaluation of a system.
#[derive(Debug, Clone, Default)]
pub struct Values {
    /// f(x).
    pub residual: Vec<f64>,
    /// Sum of the magnitudes that were added up in each residual: what its rounding is relative to.
    pub scale: Vec<f64>,
    /// Jacobian values in the order of the pattern.
    pub jacobian: Vec<f64>,
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

/// Buffers, made once for a pattern.
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
        let size = pattern.size;
        Self {
            values: Values {
                residual: vec![0.0; size],
                scale: vec![0.0; size],
                jacobian: vec![0.0; pattern.rows.len()],
            },
            factors: Factors::new(analysis),
            step: vec![0.0; size],
            evaluations: 0,
        }
    }
}

/// Newton's method from `x`, in place. Nothing is allocated.
///
/// Settled means that the residual at the returned point is small, that the step which led to it was small too, and
/// that no element was held back there. A zero step alone is not success. Work is bounded by `settings.iterations`
/// evaluations and factorisations.
pub fn solve(
    equations: &mut impl Equations,
    analysis: &Analysis,
    pattern: &Pattern,
    x: &mut [f64],
    buffers: &mut Buffers,
    settings: &Settings,
) -> Outcome {
    let mut step_is_small = x.is_empty();
    for _ in 0..settings.iterations {
        let held_back = equations.evaluate(x, &mut buffers.values);
        buffers.evaluations += 1;
        let values = &buffers.values;
        if values.residual.iter().any(|value| !value.is_finite()) {
            return Outcome::NotFinite;
        }
        let balanced = values
            .residual
            .iter()
            .zip(&values.scale)
            .all(|(residual, scale)| {
                residual.abs() <= settings.residual_absolute + settings.residual_relative * scale
            });
        if balanced && step_is_small && !held_back {
            return Outcome::Settled;
        }
        if let Err(singular) = buffers.factors.update(analysis, pattern, &values.jacobian) {
            return Outcome::Singular(singular.column);
        }
        buffers.step.copy_from_slice(&values.residual);
        buffers.factors.solve(&mut buffers.step);
        step_is_small = true;
        for (unknown, step) in x.iter_mut().zip(&buffers.step) {
            let bounded = step.clamp(-settings.largest_step, settings.largest_step);
            if settings.step_absolute + settings.step_relative * unknown.abs() < bounded.abs() {
                step_is_small = false;
            }
            *unknown -= bounded;
            if !unknown.is_finite() {
                return Outcome::NotFinite;
            }
        }
    }
    Outcome::RanOut
}
