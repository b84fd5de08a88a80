//! Least squares with a nonlinear model, bounds on the parameters, and optional mildness towards outliers.
//!
//! D. W. Marquardt, "An algorithm for least-squares estimation of nonlinear parameters", SIAM J. Appl. Math. 11(2), 1963,
//! pages 431-441 (from memory): the normal equations are damped by a multiple of their own diagonal, the multiple raised
//! tenfold when a step fails and lowered tenfold when it succeeds. Bounds by projection: a parameter at a bound that the
//! slope pushes outwards is held there, any other step is cut off at the bound. Outliers by the loss of P. J. Huber,
//! "Robust estimation of a location parameter", Ann. Math. Stat. 35(1), 1964, pages 73-101 (from memory): quadratic within
//! a width, linear beyond, minimised with weights.

use crate::dense;

/// First multiple of the diagonal, from Marquardt's paper (from memory).
const FIRST_DAMPING: f64 = 1e-2;

/// Damping at which steps change nothing any more.
const LARGEST_DAMPING: f64 = 1e16;

/// Damping lowered further than this only adds failed steps when it is needed again.
const SMALLEST_DAMPING: f64 = 1e-12;

/// A step taken under more damping than this does not show how far the solution is.
const TELLING_DAMPING: f64 = 1e-2;

/// No parameter moves further in one step than this times itself, or times 1 when it is smaller: from far away the
/// tangent promises much and leads astray.
const LONGEST_STEP: f64 = 1.0;

/// Relative change of a cost that is lost in its rounding.
const ROUNDING: f64 = 16.0 * f64::EPSILON;

/// How to fit, and how much work is allowed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// Settled when the cosine of the angle between the residuals and the change any free parameter can make is at most
    /// this, or when an almost undamped step is at most this relative to each parameter, or absolutely when the parameter
    /// is below 1. Zero asks for all that the rounding of the cost allows, which also ends a fit.
    pub tolerance: f64,
    /// Bound on evaluations of the model.
    pub evaluations: usize,
    /// Residuals beyond this magnitude count linearly (Huber); None: all count as squares.
    pub huber_width: Option<f64>,
}

/// How a fit ended.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Outcome {
    /// A minimum, with no bound in the way.
    Settled,
    /// A minimum within the bounds, at which these parameters (indices) would leave if they could.
    AtBound(Vec<usize>),
    /// No step lowers the cost, though the slope is not nil: the model has a kink or noise here.
    Stalled,
    /// The evaluations ran out.
    RanOut,
    /// The start, or a residual at the start or beside an accepted point, is not a finite number.
    NotFinite,
}

/// Result of a fit: always the best point found.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// Within the bounds.
    pub parameters: Vec<f64>,
    /// Of the model, at `parameters`.
    pub residuals: Vec<f64>,
    /// Half the sum of squares, or with a Huber width w the sum of r²/2 within it and w (|r| - w/2) beyond.
    pub cost: f64,
    /// How it ended.
    pub outcome: Outcome,
    /// Evaluations of the model used.
    pub evaluations: usize,
    /// Standard deviation of each parameter from the (weighted) residuals and the slope at the end, zero for one that a
    /// bound holds. None when the residuals do not determine the parameters, when there are no more residuals than
    /// parameters, and when the fit has no slope to show: ran out or not finite.
    pub spread: Option<Vec<f64>>,
}

/// Finds the parameters that make the residuals least.
///
/// `model` takes parameters and fills the residuals (model minus measurement, in units of the measurement's
/// uncertainty where these differ), `residuals` of them. The derivatives are differences, so the caller scales parameters
/// to the order of 1. `start` is moved into the bounds; equal bounds fix a parameter. A residual that is not finite makes
/// a step fail, so a model may refuse parameters that way.
///
/// # Panics
///
/// When `start`, `lower` and `upper` differ in length.
pub fn fit(
    model: &mut dyn FnMut(&[f64], &mut [f64]),
    start: &[f64],
    lower: &[f64],
    upper: &[f64],
    residuals: usize,
    settings: &Settings,
) -> Fit {
    assert!(
        start.len() == lower.len() && start.len() == upper.len(),
        "one lower and one upper bound for each parameter"
    );
    let mut problem = Problem {
        model,
        lower,
        upper,
        residuals,
        settings,
        evaluations: 0,
    };
    let parameters = (0..start.len())
        .map(|at| problem.within(at, start[at]))
        .collect();
    let mut point = problem.evaluate(parameters);
    let is_finite = point.cost.is_finite() && start.iter().all(|value| value.is_finite());
    let (outcome, slope) = if is_finite {
        problem.descend(&mut point)
    } else {
        (Outcome::NotFinite, None)
    };
    let spread = slope.and_then(|slope| problem.spread(&point, &slope));
    Fit {
        parameters: point.parameters,
        residuals: point.residuals,
        cost: point.cost,
        outcome,
        evaluations: problem.evaluations,
        spread,
    }
}

struct Problem<'a> {
    model: &'a mut dyn FnMut(&[f64], &mut [f64]),
    lower: &'a [f64],
    upper: &'a [f64],
    residuals: usize,
    settings: &'a Settings,
    evaluations: usize,
}

struct Point {
    parameters: Vec<f64>,
    residuals: Vec<f64>,
    cost: f64,
}

/// The weighted normal equations at a point, for the parameters that are free to move.
struct Slope {
    free: Vec<usize>,
    /// Held by a bound although the slope pushes outwards.
    held: Vec<usize>,
    /// Of the cost, by free parameter.
    gradient: Vec<f64>,
    /// J' W J of the free parameters, row-major, scaled to a unit diagonal by `norms`.
    scaled: Vec<f64>,
    /// Root of the diagonal of J' W J; 1 for a parameter without influence, which no step then moves.
    norms: Vec<f64>,
    /// Residuals squared, weighted and summed.
    weighted_squares: f64,
}

impl Problem<'_> {
    /// A value moved into the bounds of a parameter; the upper one wins where they contradict each other.
    fn within(&self, parameter: usize, value: f64) -> f64 {
        value.max(self.lower[parameter]).min(self.upper[parameter])
    }

    fn evaluate(&mut self, parameters: Vec<f64>) -> Point {
        self.evaluations += 1;
        let mut residuals = vec![0.0; self.residuals];
        (self.model)(&parameters, &mut residuals);
        let cost = residuals.iter().map(|&residual| self.loss(residual)).sum();
        Point {
            parameters,
            residuals,
            cost,
        }
    }

    fn loss(&self, residual: f64) -> f64 {
        match self.settings.huber_width {
            Some(width) if width < residual.abs() => width * (residual.abs() - 0.5 * width),
            _ => 0.5 * residual * residual,
        }
    }

    /// The weight w for which w r²/2 has the slope of the loss.
    fn weight(&self, residual: f64) -> f64 {
        match self.settings.huber_width {
            Some(width) if width < residual.abs() => width / residual.abs(),
            _ => 1.0,
        }
    }

    /// Improves the point until nothing more is to be gained or the work is spent; the slope belongs to the last point.
    fn descend(&mut self, point: &mut Point) -> (Outcome, Option<Slope>) {
        let mut damping = FIRST_DAMPING;
        let mut is_last = false;
        loop {
            if self.settings.evaluations < self.evaluations + 2 * point.parameters.len() + 1 {
                return (Outcome::RanOut, None);
            }
            let Some(slope) = self.slope(point) else {
                return (Outcome::NotFinite, None);
            };
            if is_last || slope.is_level(self.settings.tolerance) {
                return (slope.minimum(), Some(slope));
            }
            match self.step(point, &slope, &mut damping) {
                Step::Taken { is_last: last } => is_last = last,
                Step::Stalled => return (Outcome::Stalled, Some(slope)),
                Step::RanOut => return (Outcome::RanOut, None),
            }
        }
    }

    /// Raises the damping until a step lowers the cost, and takes it.
    fn step(&mut self, point: &mut Point, slope: &Slope, damping: &mut f64) -> Step {
        while *damping <= LARGEST_DAMPING {
            if self.settings.evaluations <= self.evaluations {
                return Step::RanOut;
            }
            if let Some(step) = slope.damped_step(*damping) {
                let parameters = self.moved(point, slope, &step);
                if parameters == point.parameters {
                    return Step::Stalled;
                }
                let trial = self.evaluate(parameters);
                let is_telling = *damping <= TELLING_DAMPING;
                // Once the rounding of the cost hides the gain that the tangent promises, the tangent knows better.
                let is_hidden =
                    is_telling && -dense::dot(&slope.gradient, &step) <= ROUNDING * point.cost;
                let tolerated = if is_hidden {
                    ROUNDING * point.cost
                } else {
                    0.0
                };
                if trial.cost < point.cost + tolerated {
                    let is_small = is_telling && self.is_small_step(point, &trial);
                    *point = trial;
                    *damping = (*damping * 0.1).max(SMALLEST_DAMPING);
                    return Step::Taken {
                        is_last: is_hidden || is_small,
                    };
                }
            }
            *damping *= 10.0;
        }
        Step::Stalled
    }

    /// The parameters after a step, each cut off at [`LONGEST_STEP`] and at its bounds.
    fn moved(&self, point: &Point, slope: &Slope, step: &[f64]) -> Vec<f64> {
        let mut parameters = point.parameters.clone();
        for (&at, step) in slope.free.iter().zip(step) {
            let longest = LONGEST_STEP * parameters[at].abs().max(1.0);
            parameters[at] = self.within(at, parameters[at] + step.clamp(-longest, longest));
        }
        parameters
    }

    fn is_small_step(&self, from: &Point, to: &Point) -> bool {
        let mut pairs = from.parameters.iter().zip(&to.parameters);
        pairs.all(|(from, to)| (to - from).abs() <= self.settings.tolerance * from.abs().max(1.0))
    }

    /// The normal equations; None when a residual beside the point is not finite.
    fn slope(&mut self, point: &Point) -> Option<Slope> {
        let mut slope = Slope {
            free: Vec::new(),
            held: Vec::new(),
            gradient: Vec::new(),
            scaled: Vec::new(),
            norms: Vec::new(),
            weighted_squares: 0.0,
        };
        let weights: Vec<f64> = point
            .residuals
            .iter()
            .map(|&residual| self.weight(residual))
            .collect();
        let weighted: Vec<f64> = point
            .residuals
            .iter()
            .zip(&weights)
            .map(|(residual, weight)| residual * weight)
            .collect();
        slope.weighted_squares = dense::dot(&weighted, &point.residuals);
        let mut columns: Vec<Vec<f64>> = Vec::new();
        for at in 0..point.parameters.len() {
            let Some(mut column) = self.derivative(point, at) else {
                continue;
            };
            let gradient = dense::dot(&column, &weighted);
            for (derivative, weight) in column.iter_mut().zip(&weights) {
                *derivative *= weight.sqrt();
            }
            let norm = dense::dot(&column, &column).sqrt();
            if !norm.is_finite() || !gradient.is_finite() {
                return None;
            }
            let value = point.parameters[at];
            if (value <= self.lower[at] && 0.0 < gradient)
                || (self.upper[at] <= value && gradient < 0.0)
            {
                slope.held.push(at);
            } else {
                slope.free.push(at);
                slope.gradient.push(gradient);
                slope.norms.push(if norm == 0.0 { 1.0 } else { norm });
                columns.push(column);
            }
        }
        for (row, norm) in columns.iter().zip(&slope.norms) {
            let columns = columns.iter().zip(&slope.norms);
            slope
                .scaled
                .extend(columns.map(|(column, other)| dense::dot(row, column) / (norm * other)));
        }
        Some(slope)
    }

    /// Derivative of the residuals by one parameter, from the point and two more: one on either side, or both on the side
    /// with room. None for a parameter that is fixed.
    fn derivative(&mut self, point: &Point, parameter: usize) -> Option<Vec<f64>> {
        let value = point.parameters[parameter];
        let (room_below, room_above) =
            (value - self.lower[parameter], self.upper[parameter] - value);
        let wanted = f64::EPSILON.cbrt() * value.abs().max(1.0);
        let [near, far] = if wanted <= room_below && wanted <= room_above {
            [wanted, -wanted]
        } else if room_below <= room_above {
            [wanted.min(0.5 * room_above), (2.0 * wanted).min(room_above)]
        } else {
            [
                -wanted.min(0.5 * room_below),
                -(2.0 * wanted).min(room_below),
            ]
        };
        let beside = |offset: f64| {
            let mut parameters = point.parameters.clone();
            parameters[parameter] = self.within(parameter, value + offset);
            (parameters[parameter] - value, parameters)
        };
        let ((near, near_parameters), (far, far_parameters)) = (beside(near), beside(far));
        if near == 0.0 || far == near {
            return None;
        }
        let near_point = self.evaluate(near_parameters);
        let far_point = self.evaluate(far_parameters);
        // Slope at 0 of the parabola through 0, near and far.
        let (near_share, far_share) = (far / (near * (far - near)), -near / (far * (far - near)));
        let beside = near_point.residuals.iter().zip(&far_point.residuals);
        let derivative = point
            .residuals
            .iter()
            .zip(beside)
            .map(|(here, (near, far))| near_share * (near - here) + far_share * (far - here));
        Some(derivative.collect())
    }

    /// Standard deviations, see [`Fit::spread`].
    fn spread(&self, point: &Point, slope: &Slope) -> Option<Vec<f64>> {
        let count = slope.free.len();
        let surplus = self
            .residuals
            .checked_sub(count)
            .filter(|&surplus| surplus > 0)?;
        let variance = slope.weighted_squares / surplus as f64;
        let mut factor = slope.scaled.clone();
        dense::cholesky(count, &mut factor)?;
        let mut spread = vec![0.0; point.parameters.len()];
        for (index, &at) in slope.free.iter().enumerate() {
            // One diagonal element of the inverse: the square of a row of the inverse factor.
            let mut unit = vec![0.0; count];
            unit[index] = 1.0;
            dense::solve_lower(count, &factor, &mut unit);
            spread[at] = (variance * dense::dot(&unit, &unit)).sqrt() / slope.norms[index];
        }
        Some(spread)
    }
}

enum Step {
    Taken { is_last: bool },
    Stalled,
    RanOut,
}

impl Slope {
    /// The outcome when this slope belongs to a minimum.
    fn minimum(&self) -> Outcome {
        if self.held.is_empty() {
            Outcome::Settled
        } else {
            Outcome::AtBound(self.held.clone())
        }
    }

    /// Whether no free parameter can lower the cost any more, see [`Settings::tolerance`].
    fn is_level(&self, tolerance: f64) -> bool {
        let length = self.weighted_squares.sqrt();
        self.gradient
            .iter()
            .zip(&self.norms)
            .all(|(gradient, norm)| gradient.abs() <= tolerance * norm * length)
    }

    /// The step of the free parameters under some damping; None when the damping does not make the equations solvable.
    fn damped_step(&self, damping: f64) -> Option<Vec<f64>> {
        let count = self.free.len();
        let mut factor = self.scaled.clone();
        for at in 0..count {
            factor[at * count + at] += damping;
        }
        dense::cholesky(count, &mut factor)?;
        let scaled = self.gradient.iter().zip(&self.norms);
        let mut step: Vec<f64> = scaled.map(|(gradient, norm)| -gradient / norm).collect();
        dense::solve_lower(count, &factor, &mut step);
        dense::solve_lower_transposed(count, &factor, &mut step);
        for (step, norm) in step.iter_mut().zip(&self.norms) {
            *step /= norm;
        }
        Some(step)
    }
}
