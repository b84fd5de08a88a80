//! Fitting a law to points of a data sheet or of a measurement.
//!
//! A sheet gives a handful of figures, a law has a dozen parameters. So each parameter starts from a *prior*: what such
//! tubes are like, with a width. First all parameters are fitted together, pulled to the prior by its width. Then it is
//! asked of each parameter how much narrower the points made it; those that the points determine are fitted again without
//! any pull, the others stay where they are and are listed as coming from the prior.
//!
//! Errors are relative: tubes differ by a proportion, and a sheet prints two or three figures of every value, so 10 % of
//! a small current weighs as much as 10 % of a large one. A thousandth of the largest current is added to the error of each
//! current, the reading error of a chart or a meter, so that a cut-off point (10 µA) decides the cut-off and nothing
//! else. Large deviations count linearly (Huber 1964), so that one wrong point does not spoil the others.

mod determine;
mod diode;
mod pentode;
mod samples;
mod triode;
mod tube;

pub use determine::{Expectation, FitOutcome, Width};
pub use diode::{DiodeFit, DiodePrior, fit_diode};
pub use pentode::{PentodeFit, PentodePrior, fit_pentode};
pub use samples::{Extent, SampleFactor, SampleSpread};
pub use triode::{TriodeFit, TriodePrior, fit_triode, triode_samples};
pub use tube::{TubeFit, fit_tube};

use crate::types::{Point, Sourced, Validity};

/// Relative error of a value of a sheet or a bench, no unit: chosen, because sheets of different makers, and the figures
/// of one sheet among themselves, agree within about 5 %.
const RELATIVE_ERROR: f64 = 0.05;

/// Share of the largest current that is added to the error of a current, no unit: chosen, a third of a line's width on a
/// chart and the last digit of a 3½ digit meter.
const SHARE_OF_LARGEST: f64 = 1e-3;

/// Share of the largest current that a reading of exactly 0 may hide, no unit: chosen, a line's width on a chart.
const HIDDEN_SHARE: f64 = 1e-2;

/// Currents below this count as this where a logarithm is taken, A; chosen below anything measured.
const LEAST_AMPS: f64 = 1e-13;

/// The quantities a point may give.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Quantity {
    /// Plate current, A.
    PlateCurrent,
    /// Grid current, A.
    GridCurrent,
    /// Screen current, A.
    ScreenCurrent,
    /// Transconductance, S.
    Slope,
    /// Amplification factor.
    Mu,
    /// Plate resistance, ohm.
    PlateResistance,
}

impl Quantity {
    const ALL: [Self; 6] = [
        Self::PlateCurrent,
        Self::GridCurrent,
        Self::ScreenCurrent,
        Self::Slope,
        Self::Mu,
        Self::PlateResistance,
    ];

    /// What a point says of this quantity.
    #[must_use]
    pub fn of(self, point: &Point) -> Option<&Sourced<f64>> {
        match self {
            Self::PlateCurrent => point.plate_amps.as_ref(),
            Self::GridCurrent => point.grid_amps.as_ref(),
            Self::ScreenCurrent => point.screen_amps.as_ref(),
            Self::Slope => point.slope.as_ref(),
            Self::Mu => point.mu.as_ref(),
            Self::PlateResistance => point.plate_ohms.as_ref(),
        }
    }

    fn is_current(self) -> bool {
        matches!(
            self,
            Self::PlateCurrent | Self::GridCurrent | Self::ScreenCurrent
        )
    }
}

/// How far the fitted law is from one value of one point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PointResidual {
    /// Index of the point.
    pub point: usize,
    /// Which of its values.
    pub quantity: Quantity,
    /// As given, in coherent SI units.
    pub measured: f64,
    /// As the law gives it.
    pub fitted: f64,
    /// (fitted - measured) / measured; for a current given as 0, fitted over the largest such current of all points.
    pub relative: f64,
}

/// One value to be met.
#[derive(Debug, Clone, Copy)]
struct Datum {
    point: usize,
    quantity: Quantity,
    measured: f64,
    /// Standard deviation: of the logarithm, or for a measured 0 of the value itself.
    error: f64,
    /// Largest value of this quantity among the points.
    largest: f64,
}

impl Datum {
    /// Deviation in units of the error.
    fn misfit(&self, fitted: f64) -> f64 {
        if self.measured == 0.0 {
            return fitted / self.error;
        }
        let fitted = if self.quantity.is_current() {
            fitted.max(LEAST_AMPS)
        } else {
            fitted.max(f64::MIN_POSITIVE)
        };
        (fitted / self.measured).ln() / self.error
    }

    fn residual(&self, fitted: f64) -> PointResidual {
        let against = if self.measured == 0.0 {
            self.largest
        } else {
            self.measured
        };
        PointResidual {
            point: self.point,
            quantity: self.quantity,
            measured: self.measured,
            fitted,
            relative: (fitted - self.measured) / against,
        }
    }
}

/// The values to be met. Values that are not finite, negative, or 0 where only currents can be, are passed over.
fn data(points: &[Point], quantities: &[Quantity]) -> Vec<Datum> {
    let mut data = Vec::new();
    for quantity in Quantity::ALL
        .into_iter()
        .filter(|quantity| quantities.contains(quantity))
    {
        let value = |point: &Point| {
            quantity
                .of(point)
                .map(|sourced| sourced.value)
                .filter(|value| value.is_finite())
        };
        let largest = points.iter().filter_map(value).fold(0.0, f64::max);
        for (index, point) in points.iter().enumerate() {
            let volts = [
                Some(point.plate_volts),
                Some(point.grid_volts),
                point.screen_volts,
                point.suppressor_volts,
            ];
            let sound = volts.into_iter().flatten().all(f64::is_finite);
            let Some(measured) = value(point).filter(|_| sound && largest > 0.0) else {
                continue;
            };
            let error = match (quantity.is_current(), measured) {
                (true, 0.0) => HIDDEN_SHARE * largest,
                (true, amps) if amps > 0.0 => RELATIVE_ERROR + SHARE_OF_LARGEST * largest / amps,
                (false, value) if value > 0.0 => RELATIVE_ERROR,
                _ => continue,
            };
            data.push(Datum {
                point: index,
                quantity,
                measured,
                error,
                largest,
            });
        }
    }
    data
}

/// The span of the points; `None` without points.
pub(crate) fn validity(points: &[Point]) -> Option<Validity> {
    let span = |value: fn(&Point) -> f64| {
        let values = points.iter().map(value).filter(|value| value.is_finite());
        values.fold(None, |span: Option<(f64, f64)>, value| {
            Some(span.map_or((value, value), |(low, high)| {
                (low.min(value), high.max(value))
            }))
        })
    };
    Some(Validity {
        plate_volts: span(|point| point.plate_volts)?,
        grid_volts: span(|point| point.grid_volts)?,
    })
}

/// Geometric mean of positive values.
fn typical(values: impl Iterator<Item = f64>) -> Option<f64> {
    let logarithms: Vec<f64> = values
        .filter(|value| *value > 0.0 && value.is_finite())
        .map(f64::ln)
        .collect();
    (!logarithms.is_empty())
        .then(|| (logarithms.iter().sum::<f64>() / logarithms.len() as f64).exp())
}

/// Parameters the points did not determine, each with the name of the prior.
fn named_prior(from_prior: Vec<&'static str>, prior: &str) -> Vec<(String, String)> {
    from_prior
        .into_iter()
        .map(|parameter| (parameter.to_owned(), prior.to_owned()))
        .collect()
}
