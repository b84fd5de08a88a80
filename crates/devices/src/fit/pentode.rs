//! Fitting the tetrode and pentode law.

use super::determine::{Determined, Expectation, FitOutcome, Unknown, determine};
use super::{PointResidual, Quantity, data, named_prior, typical, validity};
use crate::pentode::{PentodeParameters, PentodeVolts};
use crate::triode::RSD_1;
use crate::types::{Point, Validity};

/// What tetrodes and pentodes of a kind are like.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PentodePrior {
    /// Named beside every parameter that comes from it.
    pub name: &'static str,
    /// G, A/V^gamma.
    pub perveance: Expectation,
    /// mu2.
    pub mu_screen: Expectation,
    /// mup.
    pub mu_plate: Expectation,
    /// gamma.
    pub exponent: Expectation,
    /// C, 1/V.
    pub knee: Expectation,
    /// Gg as a share of G.
    pub grid_ratio: Expectation,
    /// D0.
    pub plate_ratio: Expectation,
    /// Vs, V.
    pub partition_volts: Expectation,
    /// k.
    pub partition_screen: Expectation,
    /// V3, V; used when a point has the suppressor away from the cathode.
    pub suppressor_cut_off: Expectation,
    /// kappa, used likewise.
    pub suppressor_exponent: Expectation,
}

impl PentodePrior {
    /// Small receiving pentodes, the values chosen for these reasons:
    ///
    /// - perveance, both amplification factors and the ratio of plate to screen current: the middle and range of common types;
    /// - `exponent` and `knee`, and the grid's law: as for small receiving triodes;
    /// - `partition_screen`, `partition_volts`: the plate knee at about a fifth of the screen volts (common practice, no
    ///   source);
    /// - `suppressor_cut_off` 15 V, `suppressor_exponent` 3: what the published points of one dual-control type give.
    pub const SMALL_RECEIVING: Self = Self {
        name: "small receiving pentode",
        perveance: Expectation::within_factor(2.5e-3, 3.0),
        mu_screen: Expectation::within_factor(30.0, 1.5),
        mu_plate: Expectation::within_factor(3000.0, 3.0),
        exponent: Expectation::within(1.4, 0.12),
        knee: Expectation::within_factor(3.0, 1.5),
        grid_ratio: Expectation::held(RSD_1.grid_perveance / RSD_1.perveance),
        plate_ratio: Expectation::within_factor(3.5, 1.7),
        partition_volts: Expectation::within_factor(1.0, 1.5),
        partition_screen: Expectation::within_factor(0.2, 1.5),
        suppressor_cut_off: Expectation::within_factor(15.0, 1.7),
        suppressor_exponent: Expectation::within_factor(3.0, 1.3),
    };
}

/// A fitted tetrode or pentode.
#[derive(Debug, Clone, PartialEq)]
pub struct PentodeFit {
    /// Parameters of the law.
    pub parameters: PentodeParameters,
    /// Every value of every point against the law.
    pub residuals: Vec<PointResidual>,
    /// Span of the points; `None` without points.
    pub validity: Option<Validity>,
    /// Parameters that the points do not determine, as `law` lines name them, with the name of the prior.
    pub from_prior: Vec<(String, String)>,
    /// How the fit ended.
    pub outcome: FitOutcome,
}

/// Names of the parameters that no point ever determines here.
const NEVER_DETERMINED: [&str; 3] = ["grid-exponent", "grid-knee", "partition-knee"];

/// Fits the pentode law to points; a point without screen volts is taken with the screen at its plate volts (triode
/// connection). `mu` of a point is that of grid against screen. Bounded work, never fails.
#[must_use]
pub fn fit_pentode(points: &[Point], prior: &PentodePrior) -> PentodeFit {
    let data = data(points, &Quantity::ALL);
    let dual_control = points
        .iter()
        .any(|point| point.suppressor_volts.is_some_and(|volts| volts != 0.0));
    let unknowns = unknowns(points, prior, dual_control);
    let mut misfit = |values: &[f64], deviations: &mut [f64]| {
        let parameters = parameters(values);
        for (datum, deviation) in data.iter().zip(deviations) {
            *deviation = datum.misfit(value(&parameters, &points[datum.point], datum.quantity));
        }
    };
    let Determined {
        values,
        mut from_prior,
        outcome,
    } = determine(&unknowns, data.len(), &mut misfit);
    let parameters = parameters(&values);
    if !dual_control {
        from_prior.retain(|name| !name.starts_with("suppressor"));
    }
    from_prior.extend(NEVER_DETERMINED);
    let residuals = data
        .iter()
        .map(|datum| datum.residual(value(&parameters, &points[datum.point], datum.quantity)));
    PentodeFit {
        parameters,
        residuals: residuals.collect(),
        validity: validity(points),
        from_prior: named_prior(from_prior, prior.name),
        outcome,
    }
}

/// What the law gives for one value of a point.
fn value(parameters: &PentodeParameters, point: &Point, quantity: Quantity) -> f64 {
    let currents = parameters.at(PentodeVolts {
        plate: point.plate_volts,
        grid: point.grid_volts,
        screen: point.screen_volts.unwrap_or(point.plate_volts),
        suppressor: point.suppressor_volts.unwrap_or(0.0),
    });
    let [by_plate, by_grid, by_screen, _] = currents.by[0];
    let [plate, grid, screen, _] = currents.amps;
    match quantity {
        Quantity::PlateCurrent => plate,
        Quantity::GridCurrent => grid,
        Quantity::ScreenCurrent => screen,
        Quantity::Slope => by_grid,
        Quantity::Mu => by_grid / by_screen.max(f64::MIN_POSITIVE),
        Quantity::PlateResistance => 1.0 / by_plate.max(f64::MIN_POSITIVE),
    }
}

/// The parameters as the fit moves them; two of them start from what the points say.
fn unknowns(points: &[Point], prior: &PentodePrior, dual_control: bool) -> [Unknown; 11] {
    let stated = |expected: Expectation, values: Option<f64>| Expectation {
        value: values.unwrap_or(expected.value),
        ..expected
    };
    let mu_screen = typical(
        points
            .iter()
            .filter_map(|point| Some(point.mu.as_ref()?.value)),
    );
    let plate_ratio = typical(points.iter().filter_map(|point| {
        let in_open_suppressor = point.suppressor_volts.unwrap_or(0.0) == 0.0;
        let ratio = point.plate_amps.as_ref()?.value / point.screen_amps.as_ref()?.value;
        in_open_suppressor.then_some(ratio)
    }));
    let (cut_off, exponent) = if dual_control {
        (prior.suppressor_cut_off, prior.suppressor_exponent)
    } else {
        (
            Expectation::held(0.0),
            Expectation::held(prior.suppressor_exponent.value),
        )
    };
    let unknown = |name, expected, low, high| Unknown {
        name,
        expected,
        limits: (low, high),
    };
    [
        unknown("perveance", prior.perveance, 1e-9, 10.0),
        unknown("screen-mu", stated(prior.mu_screen, mu_screen), 1.0, 1000.0),
        unknown("plate-mu", prior.mu_plate, 10.0, 1e6),
        unknown("exponent", prior.exponent, 1.05, 2.5),
        unknown("knee", prior.knee, 0.1, 100.0),
        unknown("grid-perveance", prior.grid_ratio, 1e-4, 10.0),
        unknown(
            "plate-ratio",
            stated(prior.plate_ratio, plate_ratio),
            0.05,
            1000.0,
        ),
        unknown("partition-volts", prior.partition_volts, 0.05, 100.0),
        unknown("partition-screen", prior.partition_screen, 0.005, 2.0),
        unknown("suppressor-cut-off", cut_off, 0.5, 500.0),
        unknown("suppressor-exponent", exponent, 1.05, 10.0),
    ]
}

/// The law of the unknowns' values, in the order of [`unknowns`].
fn parameters(values: &[f64]) -> PentodeParameters {
    PentodeParameters {
        perveance: values[0],
        mu_screen: values[1],
        mu_plate: values[2],
        mu_suppressor: f64::INFINITY,
        exponent: values[3],
        knee: values[4],
        grid_perveance: values[0] * values[5],
        grid_exponent: RSD_1.grid_exponent,
        grid_knee: RSD_1.grid_knee,
        grid_floor: 0.0,
        plate_ratio: values[6],
        partition_volts: values[7],
        partition_screen: values[8],
        partition_knee: 0.1,
        suppressor_cut_off: values[9],
        suppressor_exponent: values[10],
        suppressor_draw: 0.0,
    }
}
