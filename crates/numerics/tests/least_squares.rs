//! Fits against certified, closed-form and recorded results.

use numerics::least_squares::{Fit, Outcome, Settings, fit};

const SETTINGS: Settings = Settings {
    tolerance: 1e-9,
    evaluations: 2000,
    huber_width: None,
};

const FREE: f64 = f64::INFINITY;

/// Fits y = curve(x, parameters) without bounds.
fn fit_curve(
    curve: fn(f64, &[f64]) -> f64,
    data: &[(f64, f64)],
    start: &[f64],
    settings: &Settings,
) -> Fit {
    let mut model = |parameters: &[f64], residuals: &mut [f64]| {
        for (residual, &(x, y)) in residuals.iter_mut().zip(data) {
            *residual = curve(x, parameters) - y;
        }
    };
    let count = start.len();
    fit(
        &mut model,
        start,
        &vec![-FREE; count],
        &vec![FREE; count],
        data.len(),
        settings,
    )
}

#[track_caller]
fn check(found: &[f64], expected: &[f64], relative: f64) {
    assert_eq!(found.len(), expected.len());
    for (found_value, value) in found.iter().zip(expected) {
        let error = (found_value - value).abs();
        assert!(
            error <= relative * value.abs().max(1e-3),
            "found {found:?}, expected {expected:?}"
        );
    }
}

/// NIST Statistical Reference Datasets, nonlinear regression, Misra1a: (x, y), second-hand copy; the certified
/// residual sum of squares follows from these data and the certified parameters.
const MISRA_1A: [(f64, f64); 14] = [
    (77.6, 10.07),
    (114.9, 14.73),
    (141.1, 17.94),
    (190.8, 23.93),
    (239.9, 29.61),
    (289.0, 35.18),
    (332.8, 40.02),
    (378.4, 44.82),
    (434.8, 50.76),
    (477.3, 55.05),
    (536.8, 61.01),
    (593.1, 66.40),
    (689.1, 75.47),
    (760.0, 81.78),
];

/// The same of BoxBOD ("higher level of difficulty").
const BOX_BOD: [(f64, f64); 6] = [
    (1.0, 109.0),
    (2.0, 149.0),
    (3.0, 149.0),
    (5.0, 191.0),
    (7.0, 213.0),
    (10.0, 224.0),
];

/// The same of Rat43 ("higher level of difficulty").
const RATKOWSKY_3: [(f64, f64); 15] = [
    (1.0, 16.08),
    (2.0, 33.83),
    (3.0, 65.80),
    (4.0, 97.20),
    (5.0, 191.55),
    (6.0, 326.20),
    (7.0, 386.87),
    (8.0, 520.53),
    (9.0, 590.03),
    (10.0, 651.92),
    (11.0, 724.93),
    (12.0, 699.56),
    (13.0, 689.96),
    (14.0, 637.56),
    (15.0, 717.41),
];

#[test]
fn misra_1a_from_both_certified_starts() {
    // Parameters in units of 100 and 1e-4.
    let curve = |x: f64, b: &[f64]| 1e2 * b[0] * (1.0 - (-1e-4 * b[1] * x).exp());
    for start in [[5.0, 1.0], [2.5, 5.0]] {
        let fit = fit_curve(curve, &MISRA_1A, &start, &SETTINGS);
        assert_eq!(fit.outcome, Outcome::Settled);
        check(&fit.parameters, &[2.3894212918, 5.5015643181], 1e-7);
        check(
            &fit.spread.unwrap(),
            &[2.7070075241e-2, 7.2668688436e-2],
            1e-6,
        );
        check(&[2.0 * fit.cost], &[1.2455138894e-1], 1e-9);
    }
}

#[test]
fn rounding_ends_a_fit_that_asks_for_everything() {
    let curve = |x: f64, b: &[f64]| 1e2 * b[0] * (1.0 - (-1e-4 * b[1] * x).exp());
    let settings = Settings {
        tolerance: 0.0,
        ..SETTINGS
    };
    let fit = fit_curve(curve, &MISRA_1A, &[2.5, 5.0], &settings);
    assert_eq!(fit.outcome, Outcome::Settled);
    assert!(fit.evaluations < 100, "{}", fit.evaluations);
    check(&fit.parameters, &[2.3894212918, 5.5015643181], 1e-9);
}

#[test]
fn box_bod_from_both_certified_starts() {
    let curve = |x: f64, b: &[f64]| 1e2 * b[0] * (1.0 - (-b[1] * x).exp());
    for start in [[0.01, 1.0], [1.0, 0.75]] {
        let fit = fit_curve(curve, &BOX_BOD, &start, &SETTINGS);
        assert_eq!(fit.outcome, Outcome::Settled);
        check(&fit.parameters, &[2.1380940889, 5.4723748542e-1], 1e-7);
        check(
            &fit.spread.unwrap(),
            &[1.2354515176e-1, 1.0455993237e-1],
            1e-6,
        );
        check(&[2.0 * fit.cost], &[1.1680088766e3], 1e-9);
    }
}

#[test]
fn ratkowsky_3_from_both_certified_starts() {
    let curve = |x: f64, b: &[f64]| 1e2 * b[0] / (1.0 + (b[1] - b[2] * x).exp()).powf(1.0 / b[3]);
    for start in [[1.0, 10.0, 1.0, 1.0], [7.0, 5.0, 0.75, 1.3]] {
        let fit = fit_curve(curve, &RATKOWSKY_3, &start, &SETTINGS);
        assert_eq!(fit.outcome, Outcome::Settled);
        check(
            &fit.parameters,
            &[6.9964151270, 5.2771253025, 7.5962938329e-1, 1.2792483859],
            1e-6,
        );
        check(
            &fit.spread.unwrap(),
            &[
                1.6302297817e-1,
                2.0828735829,
                1.9566123451e-1,
                6.8761936385e-1,
            ],
            1e-5,
        );
        check(&[2.0 * fit.cost], &[8.7864049080e3], 1e-9);
    }
}

/// H. H. Rosenbrock, The Computer Journal 3(3), 1960, pages 175-184 (from memory): the curved valley, as two residuals.
fn rosenbrock(parameters: &[f64], residuals: &mut [f64]) {
    residuals[0] = 10.0 * (parameters[1] - parameters[0] * parameters[0]);
    residuals[1] = 1.0 - parameters[0];
}

#[test]
fn the_curved_valley_ends_at_one_and_one() {
    let fit = fit(
        &mut rosenbrock,
        &[-1.2, 1.0],
        &[-FREE; 2],
        &[FREE; 2],
        2,
        &SETTINGS,
    );
    assert_eq!(fit.outcome, Outcome::Settled);
    check(&fit.parameters, &[1.0, 1.0], 1e-9);
    assert!(fit.cost < 1e-20, "{}", fit.cost);
    assert!(fit.evaluations < 200, "{}", fit.evaluations);
    assert_eq!(
        fit.spread, None,
        "two residuals leave nothing to judge two parameters by"
    );
}

#[test]
fn a_bound_in_the_valley_stops_there() {
    // With x at most a < 1 the minimum is x = a, y = a², where only (1 - a)² / 2 is left.
    let bounded = fit(
        &mut rosenbrock,
        &[-1.2, 1.0],
        &[-FREE; 2],
        &[0.5, FREE],
        2,
        &SETTINGS,
    );
    assert_eq!(bounded.outcome, Outcome::AtBound(vec![0]));
    check(&bounded.parameters, &[0.5, 0.25], 1e-8);
    check(&[bounded.cost], &[0.125], 1e-12);
    // One free parameter, two residuals (0, 0.5): variance 0.25, slope 10.
    check(&bounded.spread.unwrap(), &[0.0, 0.05], 1e-6);

    // A bound that is passed on the way but not in the end does not hold: start outside, and with y bounded below.
    let passed = fit(
        &mut rosenbrock,
        &[9.0, -9.0],
        &[-2.0, 0.0],
        &[2.0, 3.0],
        2,
        &SETTINGS,
    );
    assert_eq!(passed.outcome, Outcome::Settled);
    check(&passed.parameters, &[1.0, 1.0], 1e-8);

    // Equal bounds fix a parameter, which is no bound in the way. Least over y: y = x².
    let fixed = fit(
        &mut rosenbrock,
        &[0.0, 0.0],
        &[0.3, -FREE],
        &[0.3, FREE],
        2,
        &SETTINGS,
    );
    assert_eq!(fixed.outcome, Outcome::Settled);
    check(&fixed.parameters, &[0.3, 0.09], 1e-8);
}

#[test]
fn bounds_as_scipy_has_it() {
    let mut model = |b: &[f64], residuals: &mut [f64]| {
        for (residual, &(x, y)) in residuals.iter_mut().zip(&RATKOWSKY_3) {
            *residual = 1e2 * b[0] / (1.0 + (b[1] - b[2] * x).exp()).powf(1.0 / b[3]) - y;
        }
    };
    let fit = fit(
        &mut model,
        &[5.0, 3.0, 0.5, 1.0],
        &[0.0; 4],
        &[6.8, 10.0, 2.0, 2.0],
        15,
        &SETTINGS,
    );
    // Computed with SciPy 1.17.1, scipy.optimize.least_squares, method "trf", tolerances 1e-15.
    assert_eq!(fit.outcome, Outcome::AtBound(vec![0]));
    check(
        &fit.parameters,
        &[
            6.8,
            6.590146752818137,
            0.9019029055151786,
            1.687982569347019,
        ],
        1e-6,
    );
    check(&[fit.cost], &[5104.861959791262], 1e-9);
}

/// A line with one reading far out.
const LINE: [(f64, f64); 8] = [
    (0.0, 1.02),
    (1.0, 2.97),
    (2.0, 5.05),
    (3.0, 6.99),
    (4.0, 29.0),
    (5.0, 11.03),
    (6.0, 12.96),
    (7.0, 15.01),
];

#[test]
fn an_outlier_as_scipy_has_it() {
    let line = |x: f64, b: &[f64]| b[0] + b[1] * x;
    let settings = Settings {
        huber_width: Some(0.1),
        ..SETTINGS
    };
    let robust = fit_curve(line, &LINE, &[0.0, 0.0], &settings);
    // Computed with SciPy 1.17.1, scipy.optimize.least_squares, loss "huber", f_scale 0.1, tolerances 1e-15.
    assert_eq!(robust.outcome, Outcome::Settled);
    check(
        &robust.parameters,
        &[1.02068493150523, 1.9993835616441817],
        1e-6,
    );
    check(&[robust.cost], &[1.9970349315068494], 1e-8);
    // Computed with NumPy 2.4.6 from the weighted normal equations at that point.
    check(
        &robust.spread.unwrap(),
        &[0.37676801494115775, 0.08952147270467015],
        1e-6,
    );
    // The plain line, in closed form: slope Sxy / Sxx, through the means.
    let plain = fit_curve(line, &LINE, &[0.0, 0.0], &SETTINGS);
    let mean = LINE.iter().map(|reading| reading.1).sum::<f64>() / 8.0;
    let slope = LINE
        .iter()
        .map(|&(x, y)| (x - 3.5) * (y - mean))
        .sum::<f64>()
        / 42.0;
    check(&plain.parameters, &[mean - 3.5 * slope, slope], 1e-8);
    assert!((robust.parameters[0] - 1.0).abs() < 0.1 && (plain.parameters[0] - 1.0).abs() > 1.0);
}

#[test]
fn parameters_the_residuals_do_not_tell_apart_have_no_spread() {
    let sum_only = |x: f64, b: &[f64]| (b[0] + b[1]) * x;
    let fit = fit_curve(sum_only, &LINE, &[1.0, 0.0], &SETTINGS);
    assert_eq!((fit.outcome, fit.spread), (Outcome::Settled, None));
    let idle = |x: f64, b: &[f64]| b[0] * x;
    let fit = fit_curve(idle, &LINE, &[1.0, 4.0], &SETTINGS);
    assert_eq!(
        (fit.outcome, fit.spread, fit.parameters[1]),
        (Outcome::Settled, None, 4.0)
    );
}

#[test]
fn a_kink_is_not_taken_for_a_minimum_of_a_smooth_model() {
    // |x| + x/2 + 1 is least at 0, where no tangent is level.
    let mut model = |b: &[f64], residuals: &mut [f64]| residuals[0] = b[0].abs() + 0.5 * b[0] + 1.0;
    let fit = fit(&mut model, &[2.0], &[-FREE], &[FREE], 1, &SETTINGS);
    assert_eq!(fit.outcome, Outcome::Stalled);
    assert!(fit.parameters[0].abs() < 1e-4, "{:?}", fit.parameters);
}

#[test]
fn work_is_bounded_and_the_best_point_returned() {
    let start_cost = 0.5 * (4.4_f64.powi(2) + 2.2_f64.powi(2));
    for evaluations in 0..30 {
        let settings = Settings {
            evaluations,
            ..SETTINGS
        };
        let mut calls = 0;
        let mut model = |parameters: &[f64], residuals: &mut [f64]| {
            calls += 1;
            rosenbrock(parameters, residuals);
        };
        let fit = fit(
            &mut model,
            &[-1.2, 1.0],
            &[-FREE; 2],
            &[FREE; 2],
            2,
            &settings,
        );
        assert_eq!(fit.outcome, Outcome::RanOut);
        assert_eq!(fit.evaluations, calls);
        assert!(calls <= evaluations.max(1), "{calls} of {evaluations}");
        assert!(fit.cost <= start_cost * (1.0 + 1e-12));
    }
}

#[test]
fn what_is_not_finite_ends_the_fit_or_fails_the_step() {
    let mut broken = |_: &[f64], residuals: &mut [f64]| residuals.fill(f64::NAN);
    assert_eq!(
        fit(&mut broken, &[1.0], &[-FREE], &[FREE], 2, &SETTINGS).outcome,
        Outcome::NotFinite
    );
    let mut cliff = |b: &[f64], residuals: &mut [f64]| {
        residuals[0] = if b[0] <= 1.0 { 1.0 } else { f64::INFINITY }
    };
    assert_eq!(
        fit(&mut cliff, &[1.0], &[-FREE], &[FREE], 1, &SETTINGS).outcome,
        Outcome::NotFinite
    );
    assert_eq!(
        fit(
            &mut rosenbrock,
            &[f64::NAN, 0.0],
            &[0.0; 2],
            &[1.0; 2],
            2,
            &SETTINGS
        )
        .outcome,
        Outcome::NotFinite
    );
    // Refused beyond 3: the logarithm still finds its way to e from the far side of a full step.
    let mut refusing = |b: &[f64], residuals: &mut [f64]| {
        residuals[0] = if 0.0 < b[0] && b[0] < 3.0 {
            b[0].ln() - 1.0
        } else {
            f64::NAN
        };
    };
    let refused = fit(&mut refusing, &[0.01], &[-FREE], &[FREE], 1, &SETTINGS);
    check(&refused.parameters, &[std::f64::consts::E], 1e-8);
    // Nothing to fit, nothing to fit to.
    assert_eq!(
        fit(&mut |_, _| {}, &[], &[], &[], 0, &SETTINGS).outcome,
        Outcome::Settled
    );
    assert_eq!(
        fit(&mut |_, _| {}, &[1.0], &[0.0], &[2.0], 0, &SETTINGS).outcome,
        Outcome::Settled
    );
}
