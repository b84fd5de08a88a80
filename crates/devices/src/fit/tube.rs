//! Fitting whichever law a kind of tube has.

use super::{
    DiodePrior, FitOutcome, PentodePrior, PointResidual, SampleSpread, TriodePrior, fit_diode,
    fit_pentode, fit_triode,
};
use crate::triode::TriodeLaw;
use crate::types::{Law, Point, TubeKind, Validity};

/// A fitted tube of any kind.
#[derive(Debug, Clone, PartialEq)]
pub struct TubeFit {
    /// The law with its parameters.
    pub law: Law,
    /// Every value of every point against the law.
    pub residuals: Vec<PointResidual>,
    /// Span of the points; `None` without points.
    pub validity: Option<Validity>,
    /// Parameters that the points do not determine, as `law` lines name them, with the name of the prior.
    pub from_prior: Vec<(String, String)>,
    /// How the samples differ, when the points are of two or more; triodes only.
    pub spread: Option<SampleSpread>,
    /// How the fit ended.
    pub outcome: FitOutcome,
}

/// Fits the law of this kind of tube to points, with the prior for small receiving tubes of the kind. Bounded work, never
/// fails.
#[must_use]
pub fn fit_tube(kind: TubeKind, points: &[Point]) -> TubeFit {
    match kind {
        TubeKind::Triode | TubeKind::IndicatorTriode => {
            let fit = fit_triode(points, &TriodePrior::SMALL_RECEIVING);
            TubeFit {
                law: Law::Triode(TriodeLaw::Tail(fit.parameters)),
                residuals: fit.residuals,
                validity: fit.validity,
                from_prior: fit.from_prior,
                spread: fit.spread,
                outcome: fit.outcome,
            }
        }
        TubeKind::Tetrode | TubeKind::Pentode => {
            let fit = fit_pentode(points, &PentodePrior::SMALL_RECEIVING);
            TubeFit {
                law: Law::Pentode(fit.parameters),
                residuals: fit.residuals,
                validity: fit.validity,
                from_prior: fit.from_prior,
                spread: None,
                outcome: fit.outcome,
            }
        }
        TubeKind::Diode => {
            let fit = fit_diode(points, &DiodePrior::SMALL);
            TubeFit {
                law: Law::Diode(fit.parameters),
                residuals: fit.residuals,
                validity: fit.validity,
                from_prior: fit.from_prior,
                spread: None,
                outcome: fit.outcome,
            }
        }
    }
}
