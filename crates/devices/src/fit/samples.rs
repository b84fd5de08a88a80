//! How the samples of one type differ.

use super::Datum;
use super::determine::{Expectation, Unknown, determine};
use crate::types::Point;

/// Factors of one sample on the parameters that were fitted to all samples.
#[derive(Debug, Clone, PartialEq)]
pub struct SampleFactor {
    /// As written with the points.
    pub name: String,
    /// On the perveance of cathode and grid.
    pub perveance: f64,
    /// On the amplification factors.
    pub mu: f64,
}

/// Smallest, mean and largest factor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Extent {
    /// Smallest.
    pub least: f64,
    /// Arithmetic mean.
    pub mean: f64,
    /// Largest.
    pub largest: f64,
}

/// How several samples differ.
#[derive(Debug, Clone, PartialEq)]
pub struct SampleSpread {
    /// Each sample, two or more, in order of first appearance.
    pub samples: Vec<SampleFactor>,
    /// Of the factors on perveance.
    pub perveance: Extent,
    /// Of the factors on mu.
    pub mu: Extent,
}

/// Widths of the two factors of a sample: chosen, the range that published limits of receiving tubes allow (current half
/// to double, mu within a sixth).
const PERVEANCE_FACTOR: Expectation = Expectation::within_factor(1.0, 1.6);
const MU_FACTOR: Expectation = Expectation::within_factor(1.0, 1.15);

/// Fills the deviations of the given data, with these factors on perveance and mu.
pub(super) type Misfit<'a> = dyn FnMut(f64, f64, &[Datum], &mut [f64]) + 'a;

/// Fits two factors to each sample; `None` for fewer than two samples.
pub(super) fn sample_spread(
    points: &[Point],
    data: &[Datum],
    misfit: &mut Misfit,
) -> Option<SampleSpread> {
    let mut names: Vec<&str> = Vec::new();
    for name in data
        .iter()
        .filter_map(|datum| points[datum.point].sample.as_deref())
    {
        if !names.contains(&name) {
            names.push(name);
        }
    }
    if names.len() < 2 {
        return None;
    }
    let unknown = |name, expected| Unknown {
        name,
        expected,
        limits: (0.05, 20.0),
    };
    let samples: Vec<SampleFactor> = names
        .into_iter()
        .map(|name| {
            let own = data
                .iter()
                .filter(|datum| points[datum.point].sample.as_deref() == Some(name));
            let own: Vec<Datum> = own.copied().collect();
            let unknowns = [
                unknown("perveance", PERVEANCE_FACTOR),
                unknown("mu", MU_FACTOR),
            ];
            let mut misfit = |values: &[f64], deviations: &mut [f64]| {
                misfit(values[0], values[1], &own, deviations)
            };
            let determined = determine(&unknowns, own.len(), &mut misfit);
            SampleFactor {
                name: name.to_owned(),
                perveance: determined.values[0],
                mu: determined.values[1],
            }
        })
        .collect();
    let (perveance, mu) = (
        extent(&samples, |sample| sample.perveance),
        extent(&samples, |sample| sample.mu),
    );
    Some(SampleSpread {
        samples,
        perveance,
        mu,
    })
}

fn extent(samples: &[SampleFactor], factor: fn(&SampleFactor) -> f64) -> Extent {
    let factors = || samples.iter().map(factor);
    Extent {
        least: factors().fold(f64::INFINITY, f64::min),
        mean: factors().sum::<f64>() / samples.len() as f64,
        largest: factors().fold(0.0, f64::max),
    }
}
