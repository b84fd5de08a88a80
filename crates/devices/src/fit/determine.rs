//! Which parameters the points determine, and the values of all.

use numerics::dense;
use numerics::least_squares::{self, Outcome, Settings};

/// How far a parameter may lie from what the prior expects.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Width {
    /// One standard deviation is this factor up or down; greater than 1.
    Factor(f64),
    /// One standard deviation is this much up or down; greater than 0.
    Amount(f64),
    /// The fit never moves it.
    Held,
}

/// What a prior expects of one parameter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Expectation {
    /// Most likely value.
    pub value: f64,
    /// How sure that is.
    pub width: Width,
}

impl Expectation {
    /// An expectation with a width by factor.
    #[must_use]
    pub const fn within_factor(value: f64, factor: f64) -> Self {
        Self {
            value,
            width: Width::Factor(factor),
        }
    }

    /// An expectation with a width by amount.
    #[must_use]
    pub const fn within(value: f64, amount: f64) -> Self {
        Self {
            value,
            width: Width::Amount(amount),
        }
    }

    /// A value that the fit does not move.
    #[must_use]
    pub const fn held(value: f64) -> Self {
        Self {
            value,
            width: Width::Held,
        }
    }

    /// The value at so many widths from the expectation.
    fn at(&self, widths: f64) -> f64 {
        match self.width {
            Width::Factor(factor) => self.value * factor.powf(widths),
            Width::Amount(amount) => self.value + amount * widths,
            Width::Held => self.value,
        }
    }

    /// How many widths a value lies from the expectation.
    fn widths_to(&self, value: f64) -> f64 {
        match self.width {
            Width::Factor(factor) => (value / self.value).ln() / factor.ln(),
            Width::Amount(amount) => (value - self.value) / amount,
            Width::Held => 0.0,
        }
    }
}

/// How a fit ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FitOutcome {
    /// Nothing better is near.
    Settled,
    /// The allowed work was spent first; the parameters are the best found.
    NotSettled,
    /// The points give no value to fit to; the parameters are the prior's.
    NothingToFit,
}

/// A parameter as the fit moves it, with its limits.
pub(crate) struct Unknown {
    pub(crate) name: &'static str,
    pub(crate) expected: Expectation,
    pub(crate) limits: (f64, f64),
}

/// Result of [`determine`].
pub(crate) struct Determined {
    /// Values in the order of the unknowns.
    pub(crate) values: Vec<f64>,
    /// Names of those that the points do not determine.
    pub(crate) from_prior: Vec<&'static str>,
    pub(crate) outcome: FitOutcome,
}

/// A parameter counts as determined by the points when they make it at least this much narrower than the prior does, no
/// unit: chosen, because at one half the points say more of it than the prior.
const NARROWED_TO: f64 = 0.5;

/// Deviations beyond this many errors count linearly: chosen, the usual width of Huber's loss (95 % efficiency for
/// normal errors is at 1.345).
const HUBER_WIDTH: f64 = 1.345;

/// Chosen so that a fit repeated on another machine agrees to the digits that are stored.
const SETTINGS: Settings = Settings {
    tolerance: 1e-8,
    evaluations: 6000,
    huber_width: Some(HUBER_WIDTH),
};

/// Finds the unknowns that make `misfit` least. `misfit` takes their values and fills `count` deviations in units of
/// their errors.
pub(crate) fn determine(
    unknowns: &[Unknown],
    count: usize,
    misfit: &mut dyn FnMut(&[f64], &mut [f64]),
) -> Determined {
    let moving: Vec<usize> = (0..unknowns.len())
        .filter(|&index| unknowns[index].expected.width != Width::Held)
        .collect();
    let values = |widths: &[f64]| {
        let mut values: Vec<f64> = unknowns
            .iter()
            .map(|unknown| unknown.expected.value)
            .collect();
        for (&index, &widths) in moving.iter().zip(widths) {
            let (low, high) = unknowns[index].limits;
            values[index] = unknowns[index].expected.at(widths).clamp(low, high);
        }
        values
    };
    let limit = |index: &usize, limit: f64| unknowns[*index].expected.widths_to(limit);
    let lower: Vec<f64> = moving
        .iter()
        .map(|index| limit(index, unknowns[*index].limits.0))
        .collect();
    let upper: Vec<f64> = moving
        .iter()
        .map(|index| limit(index, unknowns[*index].limits.1))
        .collect();

    let mut pulled = |widths: &[f64], residuals: &mut [f64]| {
        let (deviations, pulls) = residuals.split_at_mut(count);
        misfit(&values(widths), deviations);
        pulls.copy_from_slice(widths);
    };
    let start = vec![0.0; moving.len()];
    let total = count + moving.len();
    let first = least_squares::fit(&mut pulled, &start, &lower, &upper, total, &SETTINGS);
    let narrowed = narrowed(&mut pulled, &first.parameters, (count, total));

    let is_free: Vec<bool> = narrowed.iter().map(|&share| share <= NARROWED_TO).collect();
    let hold = |bounds: Vec<f64>| -> Vec<f64> {
        let held = bounds.into_iter().zip(&is_free).zip(&first.parameters);
        held.map(|((bound, &free), &at)| if free { bound } else { at })
            .collect()
    };
    let mut unpulled = |widths: &[f64], residuals: &mut [f64]| misfit(&values(widths), residuals);
    let last = least_squares::fit(
        &mut unpulled,
        &first.parameters,
        &hold(lower),
        &hold(upper),
        count,
        &SETTINGS,
    );

    let from_prior = (0..unknowns.len()).filter(|index| {
        let place = moving.iter().position(|moved| moved == index);
        place.is_none_or(|place| !is_free[place])
    });
    let has_ended = |outcome: &Outcome| !matches!(outcome, Outcome::RanOut | Outcome::NotFinite);
    let settled = has_ended(&first.outcome) && has_ended(&last.outcome);
    Determined {
        values: values(&last.parameters),
        from_prior: from_prior.map(|index| unknowns[index].name).collect(),
        outcome: match (count, settled) {
            (0, _) => FitOutcome::NothingToFit,
            (_, true) => FitOutcome::Settled,
            (_, false) => FitOutcome::NotSettled,
        },
    }
}

/// Standard deviation of each parameter given points and prior, in units of the prior's: with J the slope of the
/// deviations, the root of the diagonal of (J'J + 1)^-1 (linear least squares with a normal prior).
fn narrowed(
    pulled: &mut dyn FnMut(&[f64], &mut [f64]),
    at: &[f64],
    (count, total): (usize, usize),
) -> Vec<f64> {
    const STEP: f64 = 1e-4;
    let size = at.len();
    let mut beside = |index: usize, offset: f64| {
        let mut widths = at.to_vec();
        widths[index] += offset;
        let mut residuals = vec![0.0; total];
        pulled(&widths, &mut residuals);
        residuals.truncate(count);
        residuals
    };
    let slopes: Vec<Vec<f64>> = (0..size)
        .map(|index| {
            let (above, below) = (beside(index, STEP), beside(index, -STEP));
            above
                .iter()
                .zip(below)
                .map(|(above, below)| (above - below) / (2.0 * STEP))
                .collect()
        })
        .collect();
    let mut normal: Vec<f64> = slopes
        .iter()
        .flat_map(|row| slopes.iter().map(|column| dense::dot(row, column)))
        .collect();
    for index in 0..size {
        normal[index * size + index] += 1.0;
    }
    if dense::cholesky(size, &mut normal).is_none() {
        return vec![1.0; size];
    }
    let deviation = |index| {
        let mut unit = vec![0.0; size];
        unit[index] = 1.0;
        dense::solve_lower(size, &normal, &mut unit);
        dense::dot(&unit, &unit).sqrt()
    };
    (0..size).map(deviation).collect()
}
