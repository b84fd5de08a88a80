//! Fitting the triode law.

use super::determine::{Determined, Expectation, FitOutcome, Unknown, determine};
use super::samples::{SampleSpread, sample_spread};
use super::{Datum, PointResidual, Quantity, data, named_prior, typical, validity};
use crate::triode::{RSD_1, TriodeLaw, TriodeParameters};
use crate::types::{Point, Validity};

/// What triodes of a kind are like.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TriodePrior {
    /// Named beside every parameter that comes from it.
    pub name: &'static str,
    /// G, A/V^gamma.
    pub perveance: Expectation,
    /// mu.
    pub mu: Expectation,
    /// gamma.
    pub exponent: Expectation,
    /// C, 1/V.
    pub knee: Expectation,
    /// ft.
    pub tail_fraction: Expectation,
    /// mut as a share of mu.
    pub tail_mu_ratio: Expectation,
    /// Gg as a share of G, V^(gamma - xi).
    pub grid_ratio: Expectation,
    /// xi.
    pub grid_exponent: Expectation,
    /// Cg, 1/V.
    pub grid_knee: Expectation,
    /// Vw, V.
    pub partition_knee: Expectation,
    /// Vs, V.
    pub partition_volts: Expectation,
}

impl TriodePrior {
    /// Small receiving triodes, the values chosen for these reasons:
    ///
    /// - `perveance` 2.5 mA/V^gamma within a factor 3, `mu` 25 within a factor 2: the middle and the range of common types;
    /// - `exponent` 1.4: between the three-halves law (Child 1911, Langmuir 1913) and the 1.26 to 1.35 of Dempwolf and
    ///   Zoelzer, DAFx-11, Paris 2011, Table 1;
    /// - `knee` 3: their 3.2 to 4.6 belong to one type, and types with wider grids cut off more softly;
    /// - `tail_fraction` 0.05, `tail_mu_ratio` 0.5: about what fits with a cut-off point give;
    /// - the grid's law: their set RSD-1, its perveance in proportion to the cathode's;
    /// - `partition_knee` 0.1 V, `partition_volts` 2 V: so that the plate takes nearly all from a few volts up, as a plate
    ///   much nearer than the cathode is to the grid must (no source).
    pub const SMALL_RECEIVING: Self = Self {
        name: "small receiving triode",
        perveance: Expectation::within_factor(2.5e-3, 3.0),
        mu: Expectation::within_factor(25.0, 2.0),
        exponent: Expectation::within(1.4, 0.12),
        knee: Expectation::within_factor(3.0, 1.5),
        tail_fraction: Expectation::within(0.05, 0.05),
        tail_mu_ratio: Expectation::within(0.5, 0.15),
        grid_ratio: Expectation::within_factor(RSD_1.grid_perveance / RSD_1.perveance, 2.0),
        grid_exponent: Expectation::within(RSD_1.grid_exponent, 0.1),
        grid_knee: Expectation::within_factor(RSD_1.grid_knee, 1.5),
        partition_knee: Expectation::held(0.1),
        partition_volts: Expectation::within_factor(2.0, 2.0),
    };
}

/// A fitted triode.
#[derive(Debug, Clone, PartialEq)]
pub struct TriodeFit {
    /// Parameters of the tool's own law.
    pub parameters: TriodeParameters,
    /// Every value of every point against the law.
    pub residuals: Vec<PointResidual>,
    /// Span of the points; `None` without points.
    pub validity: Option<Validity>,
    /// Parameters that the points do not determine, as `law` lines name them, with the name of the prior.
    pub from_prior: Vec<(String, String)>,
    /// How the samples differ, when the points are of two or more.
    pub spread: Option<SampleSpread>,
    /// How the fit ended.
    pub outcome: FitOutcome,
}

const QUANTITIES: [Quantity; 5] = [
    Quantity::PlateCurrent,
    Quantity::GridCurrent,
    Quantity::Slope,
    Quantity::Mu,
    Quantity::PlateResistance,
];

/// Fits the tool's own triode law to points; see the module on how. Bounded work, never fails: without a usable value the
/// parameters are the prior's.
///
/// With points of several samples the shape is fitted to all of them together; then each sample gets a factor on its
/// perveance (cathode and grid) and one on its amplification factors.
#[must_use]
pub fn fit_triode(points: &[Point], prior: &TriodePrior) -> TriodeFit {
    let data = told(points);
    let unknowns = unknowns(points, &data, prior);
    let mut misfit = |values: &[f64], deviations: &mut [f64]| {
        misfits(&parameters(values), points, &data, deviations)
    };
    let Determined {
        values,
        from_prior,
        outcome,
    } = determine(&unknowns, data.len(), &mut misfit);
    let parameters = parameters(&values);
    let residuals = data
        .iter()
        .map(|datum| datum.residual(value(&parameters, &points[datum.point], datum.quantity)));
    TriodeFit {
        parameters,
        residuals: residuals.collect(),
        validity: validity(points),
        from_prior: named_prior(from_prior, prior.name),
        spread: samples_against(&parameters, points, &data),
        outcome,
    }
}

/// How the samples among the points differ from this law: a factor on perveance and one on the amplification factors for
/// each. `None` for fewer than two samples.
#[must_use]
pub fn triode_samples(parameters: &TriodeParameters, points: &[Point]) -> Option<SampleSpread> {
    samples_against(parameters, points, &told(points))
}

/// What the points say.
fn told(points: &[Point]) -> Vec<Datum> {
    let mut data = data(points, &QUANTITIES);
    // Plate resistance says nothing new where slope and mu are given.
    let is_told = |point: &Point| point.slope.is_some() && point.mu.is_some();
    data.retain(|datum| {
        datum.quantity != Quantity::PlateResistance || !is_told(&points[datum.point])
    });
    data
}

fn samples_against(
    parameters: &TriodeParameters,
    points: &[Point],
    data: &[Datum],
) -> Option<SampleSpread> {
    sample_spread(points, data, &mut |perveance, mu, data, deviations| {
        misfits(
            &scaled(*parameters, perveance, mu),
            points,
            data,
            deviations,
        );
    })
}

fn scaled(parameters: TriodeParameters, perveance: f64, mu: f64) -> TriodeParameters {
    TriodeParameters {
        perveance: parameters.perveance * perveance,
        grid_perveance: parameters.grid_perveance * perveance,
        mu: parameters.mu * mu,
        tail_mu: parameters.tail_mu * mu,
        ..parameters
    }
}

fn misfits(
    parameters: &TriodeParameters,
    points: &[Point],
    data: &[Datum],
    deviations: &mut [f64],
) {
    for (datum, deviation) in data.iter().zip(deviations) {
        *deviation = datum.misfit(value(parameters, &points[datum.point], datum.quantity));
    }
}

/// What the law gives for one value of a point.
fn value(parameters: &TriodeParameters, point: &Point, quantity: Quantity) -> f64 {
    let currents = TriodeLaw::Tail(*parameters).at(point.plate_volts, point.grid_volts);
    match quantity {
        Quantity::PlateCurrent => currents.plate,
        Quantity::GridCurrent => currents.grid,
        Quantity::ScreenCurrent => 0.0,
        Quantity::Slope => currents.plate_by_grid,
        Quantity::Mu => currents.amplification().unwrap_or(0.0),
        Quantity::PlateResistance => currents.plate_ohms().unwrap_or(f64::MAX),
    }
}

/// How far mu of the law may lie from mu of the points, factor: chosen, because the tail, which lowers the latter, takes
/// up to a fifth.
const MU_FROM_POINTS: f64 = 1.3;

/// A current of at most this share of the largest tells of the tail, no unit: chosen, because above it the tail is hidden
/// by the body of the characteristic and would only take up what the law misses there.
const TAIL_SHARE: f64 = 0.05;

/// Only a plate below this many partition volts tells of the partition: with the prior's two volts it takes 78 % of the
/// current at three, and further up nearly all whatever the partition is, so that a fit would only bend it to what the law
/// misses there.
const PARTITION_REACH: f64 = 3.0 / 2.0;

/// The parameters as the fit moves them. The amplification factor starts from what the points say of it; the grid's law
/// moves only when there are grid currents, the tail only when there is a point near cut-off, the partition only when there is
/// a point at a plate of some 3 V or less.
fn unknowns(points: &[Point], data: &[Datum], prior: &TriodePrior) -> [Unknown; 11] {
    let stated = points.iter().filter_map(|point| {
        let product = || Some(point.slope.as_ref()?.value * point.plate_ohms.as_ref()?.value);
        point.mu.as_ref().map(|mu| mu.value).or_else(product)
    });
    let mu = typical(stated).map_or(prior.mu, |mu| {
        Expectation::within_factor(mu, MU_FROM_POINTS)
    });
    let tells_of_tail = |datum: &Datum| {
        datum.quantity == Quantity::PlateCurrent && datum.measured <= TAIL_SHARE * datum.largest
    };
    let has_tail = data.iter().any(tells_of_tail);
    let partition_reach = PARTITION_REACH * prior.partition_volts.value;
    let has_low_plate = data
        .iter()
        .any(|datum| points[datum.point].plate_volts <= partition_reach);
    let has_grid = data
        .iter()
        .any(|datum| datum.quantity == Quantity::GridCurrent);
    let when = |told: bool, expected: Expectation| {
        if told {
            expected
        } else {
            Expectation::held(expected.value)
        }
    };
    let unknown = |name, expected, low, high| Unknown {
        name,
        expected,
        limits: (low, high),
    };
    // Limits keep the law within what any receiving triode does and its exponents above 1.
    [
        unknown("perveance", prior.perveance, 1e-9, 10.0),
        unknown("mu", mu, 1.0, 1000.0),
        unknown("exponent", prior.exponent, 1.05, 2.5),
        unknown("knee", prior.knee, 0.1, 100.0),
        unknown("tail-fraction", prior.tail_fraction, 0.0, 0.5),
        unknown("tail-mu", when(has_tail, prior.tail_mu_ratio), 0.1, 1.0),
        unknown(
            "grid-perveance",
            when(has_grid, prior.grid_ratio),
            1e-4,
            10.0,
        ),
        unknown(
            "grid-exponent",
            when(has_grid, prior.grid_exponent),
            1.05,
            2.5,
        ),
        unknown("grid-knee", when(has_grid, prior.grid_knee), 1.0, 100.0),
        unknown("partition-knee", prior.partition_knee, 0.01, 1.0),
        unknown(
            "partition-volts",
            when(has_low_plate, prior.partition_volts),
            0.05,
            50.0,
        ),
    ]
}

/// The law of the unknowns' values, in the order of [`unknowns`].
fn parameters(values: &[f64]) -> TriodeParameters {
    TriodeParameters {
        perveance: values[0],
        mu: values[1],
        exponent: values[2],
        knee: values[3],
        tail_fraction: values[4],
        tail_mu: values[1] * values[5],
        grid_perveance: values[0] * values[6],
        grid_exponent: values[7],
        grid_knee: values[8],
        grid_floor: 0.0,
        partition_knee: values[9],
        partition_volts: values[10],
    }
}
