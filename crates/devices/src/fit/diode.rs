//! Fitting the vacuum diode law.

use super::determine::{Determined, Expectation, FitOutcome, Unknown, determine};
use super::{PointResidual, Quantity, data, named_prior, validity};
use crate::types::{Point, Validity};
use crate::vacuum_diode::{TUBE_6AL5, VacuumDiodeParameters};

/// What vacuum diodes of a kind are like.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DiodePrior {
    /// Named beside every parameter that comes from it.
    pub name: &'static str,
    /// A/V^1.5.
    pub perveance: Expectation,
    /// V.
    pub offset_volts: Expectation,
    /// 1/V.
    pub knee: Expectation,
}

impl DiodePrior {
    /// Small oxide-cathode diodes: perveance so wide that any point overrules it; the knee follows from kT/e of a cathode
    /// at 1050 K (see [`TUBE_6AL5`]); the offset, contact potential and initial velocity together, is 0 because that knee
    /// already leaves tens of microamperes at 0 V.
    pub const SMALL: Self = Self {
        name: "small vacuum diode",
        perveance: Expectation::within_factor(2e-3, 20.0),
        offset_volts: Expectation::within(0.0, 0.2),
        knee: Expectation::held(TUBE_6AL5.knee),
    };
}

/// A fitted vacuum diode.
#[derive(Debug, Clone, PartialEq)]
pub struct DiodeFit {
    /// Parameters of the law.
    pub parameters: VacuumDiodeParameters,
    /// Every value of every point against the law.
    pub residuals: Vec<PointResidual>,
    /// Span of the points; `None` without points.
    pub validity: Option<Validity>,
    /// Parameters that the points do not determine, as `law` lines name them, with the name of the prior.
    pub from_prior: Vec<(String, String)>,
    /// How the fit ended.
    pub outcome: FitOutcome,
}

/// Points up to these plate volts tell of the offset, V: chosen, ten times the usual offset.
const LOW_VOLTS: f64 = 3.0;

/// Fits the vacuum diode law to the plate currents of points. Bounded work, never fails.
#[must_use]
pub fn fit_diode(points: &[Point], prior: &DiodePrior) -> DiodeFit {
    let data = data(points, &[Quantity::PlateCurrent]);
    let has_low = data
        .iter()
        .any(|datum| points[datum.point].plate_volts <= LOW_VOLTS);
    let offset = if has_low {
        prior.offset_volts
    } else {
        Expectation::held(prior.offset_volts.value)
    };
    let unknown = |name, expected, low, high| Unknown {
        name,
        expected,
        limits: (low, high),
    };
    let unknowns = [
        unknown("perveance", prior.perveance, 1e-9, 10.0),
        unknown("offset", offset, -2.0, 2.0),
        unknown("knee", prior.knee, 0.1, 100.0),
    ];
    let parameters = |values: &[f64]| VacuumDiodeParameters {
        perveance: values[0],
        offset_volts: values[1],
        knee: values[2],
    };
    let mut misfit = |values: &[f64], deviations: &mut [f64]| {
        let law = parameters(values);
        for (datum, deviation) in data.iter().zip(deviations) {
            *deviation = datum.misfit(law.at(points[datum.point].plate_volts).0);
        }
    };
    let Determined {
        values,
        from_prior,
        outcome,
    } = determine(&unknowns, data.len(), &mut misfit);
    let law = parameters(&values);
    let residuals = data
        .iter()
        .map(|datum| datum.residual(law.at(points[datum.point].plate_volts).0));
    DiodeFit {
        parameters: law,
        residuals: residuals.collect(),
        validity: validity(points),
        from_prior: named_prior(from_prior, prior.name),
        outcome,
    }
}
