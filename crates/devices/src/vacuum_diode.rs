//! Vacuum diode: I = P S(V + offset)^1.5 with a smooth S.

use crate::at::At;
use crate::smooth::{self, PositivePower};
use numerics::lanes::Lanes;
use numerics::lanes::select::{Task, fused};

/// Parameters of one diode section.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct VacuumDiodeParameters<L = f64> {
    /// A/V^1.5.
    pub perveance: L,
    /// Contact potential and initial velocity together, V.
    pub offset_volts: L,
    /// 1/V: S(u) = ln(1 + exp(knee u)) / knee.
    pub knee: L,
}

/// The three-halves power law (Child 1911, Langmuir 1913).
const EXPONENT: f64 = 1.5;

/// 6AL5, one section: 60 mA at 10 V drop (standard tube-manual figure, from memory) gives the perveance; the knee is such
/// that the retarding region falls as exp(V / 0.0905 V), kT/e of a cathode at 1050 K (derived), which leaves some tens of
/// microamperes at 0 V, as these tubes have (from memory), without a further offset.
pub const TUBE_6AL5: VacuumDiodeParameters = VacuumDiodeParameters {
    perveance: 1.897e-3,
    offset_volts: 0.0,
    knee: 1.0 / (EXPONENT * 0.0905),
};

impl VacuumDiodeParameters {
    /// So many of them side by side: `count` times the currents at the same volts.
    #[must_use]
    pub fn times(&self, count: f64) -> Self {
        Self {
            perveance: self.perveance * count,
            ..*self
        }
    }

    /// Current from plate to cathode (A) and derivative (S) at plate volts against the cathode; finite for every finite
    /// voltage, nothing flows backwards.
    #[must_use]
    pub fn at(&self, volts: f64) -> (f64, f64) {
        fused(At(self, volts))
    }
}

impl Task for At<'_, VacuumDiodeParameters, f64> {
    type Output = (f64, f64);

    #[inline(always)]
    fn run(self) -> (f64, f64) {
        self.0.in_lanes(self.1)
    }
}

impl<L: Lanes> VacuumDiodeParameters<L> {
    /// [`VacuumDiodeParameters::at`] in any number of lanes.
    #[inline(always)]
    #[must_use]
    pub fn in_lanes(&self, volts: L) -> (L, L) {
        let power = PositivePower::new(self.knee, L::splat(EXPONENT));
        let (value, slope) = power.at(smooth::bounded(volts) + self.offset_volts);
        (self.perveance * value, self.perveance * slope)
    }

    /// Side by side, the parameters of each lane.
    #[inline(always)]
    #[must_use]
    pub fn side_by_side<'a>(each: impl Fn(usize) -> &'a VacuumDiodeParameters) -> Self {
        let all =
            |field: fn(&VacuumDiodeParameters) -> f64| L::from_lanes(|lane| field(each(lane)));
        Self {
            perveance: all(|law| law.perveance),
            offset_volts: all(|law| law.offset_volts),
            knee: all(|law| law.knee),
        }
    }
}
