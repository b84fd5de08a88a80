//! Triode laws: plate and grid current from plate and grid volts against the cathode.

use crate::at::At;
use crate::diode::{Diode, DiodeParameters, SILICON_1N4148_A, THERMAL_VOLTS_300_K};
use crate::smooth::{self, Knee, PositivePower};
use numerics::lanes::Lanes;
use numerics::lanes::select::{Task, fused};

/// The tool's own law: the DAFx-11 law (Dempwolf and Zoelzer, "A physically-motivated triode model for circuit
/// simulations", DAFx-11, Paris 2011) with a tail term and a partition of the current at low plate volts.
///
/// ```text
/// Ik = G * ( (1-ft) * S(Vp/mu + Vg)^gamma + ft * S(Vp/mut + Vg)^gamma ),   S(u) = ln(1 + exp(C u)) / C
/// Ig = Gg * ( ln(1 + exp(Cg Vg)) / Cg )^xi + Ig0
/// w  = Vw * ln(1 + exp(Vp/Vw))
/// Ip = (1 - exp(-w/Vs)) * (Ik - (Ig - Ig0))        with partition (Vs > 0)
/// Ip = Ik - Ig                                     without (Vs = 0)
/// ```
///
/// With `tail_fraction` 0 and `partition_volts` 0 it is the DAFx-11 law to the last digit, floor of the grid current
/// included. With partition the floor counts into the grid current only, so that the plate of a cut-off tube carries
/// exactly nothing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TriodeParameters<L = f64> {
    /// G, A/V^gamma.
    pub perveance: L,
    /// mu, no unit.
    pub mu: L,
    /// gamma, no unit; greater than 1.
    pub exponent: L,
    /// C, 1/V.
    pub knee: L,
    /// ft, 0 to 1.
    pub tail_fraction: L,
    /// mut, no unit.
    pub tail_mu: L,
    /// Gg, A/V^xi.
    pub grid_perveance: L,
    /// xi, no unit; greater than 1.
    pub grid_exponent: L,
    /// Cg, 1/V.
    pub grid_knee: L,
    /// Ig0, A.
    pub grid_floor: L,
    /// Vw, V; greater than 0 (not used without partition).
    pub partition_knee: L,
    /// Vs, V; 0 means no partition.
    pub partition_volts: L,
}

/// Koren 1996 (Glass Audio vol. 8 no. 5), with its factor of two.
///
/// ```text
/// E1 = (Vp/kP) * ln(1 + exp(kP * (1/mu + Vg / sqrt(kVB + Vp^2))))
/// Ip = 2 * E1^x / kG1  for E1 > 0, else 0
/// Ig : ideal junction (Is 1 nA, n 1) in series with 2 kohm + 1 ohm from grid to cathode
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KorenParameters<L = f64> {
    /// mu, no unit.
    pub mu: L,
    /// x, no unit; greater than 1.
    pub exponent: L,
    /// kG1.
    pub kg1: L,
    /// kP.
    pub kp: L,
    /// kVB, V^2; greater than 0, or the plate current jumps at 0 V when the grid is positive.
    pub kvb: L,
    /// How many sections side by side; 1 for one section. It is ours: the law has a grid current that is the same in all
    /// tubes, and no parameter for it.
    pub sections: L,
    /// Ig0, A, added to the grid current; 0 in the article. It is ours: below 0 a reverse grid current.
    pub grid_floor: L,
}

/// Which law a triode section follows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TriodeLaw<L = f64> {
    /// The tool's own.
    Tail(TriodeParameters<L>),
    /// Koren 1996.
    Koren(KorenParameters<L>),
}

/// 12AX7, measured tube RSD-1: Dempwolf and Zoelzer, DAFx-11, Paris 2011, Table 1; nine second-hand copies, all
/// equal.
pub const RSD_1: TriodeParameters = TriodeParameters {
    perveance: 2.242e-3,
    mu: 103.2,
    exponent: 1.26,
    knee: 3.40,
    tail_fraction: 0.0,
    tail_mu: 103.2,
    grid_perveance: 6.177e-4,
    grid_exponent: 1.314,
    grid_knee: 9.901,
    grid_floor: 8.025e-8,
    partition_knee: 0.1,
    partition_volts: 0.0,
};

/// 12AX7, measured tube RSD-2: Dempwolf and Zoelzer, DAFx-11, Paris 2011, Table 1; two second-hand copies, equal.
pub const RSD_2: TriodeParameters = TriodeParameters {
    perveance: 2.173e-3,
    mu: 100.2,
    exponent: 1.28,
    knee: 3.19,
    tail_mu: 100.2,
    grid_perveance: 5.911e-4,
    grid_exponent: 1.358,
    grid_knee: 11.76,
    grid_floor: 4.527e-8,
    ..RSD_1
};

/// 12AX7, measured tube EHX-1: Dempwolf and Zoelzer, DAFx-11, Paris 2011, Table 1; three second-hand copies. One
/// of them has mu 83.9, another xi 1.456; each value here stands in the two that agree.
pub const EHX_1: TriodeParameters = TriodeParameters {
    perveance: 1.371e-3,
    mu: 86.9,
    exponent: 1.349,
    knee: 4.56,
    tail_mu: 86.9,
    grid_perveance: 3.263e-4,
    grid_exponent: 1.156,
    grid_knee: 11.99,
    grid_floor: 3.917e-8,
    ..RSD_1
};

/// 12AX7: Koren 1996, second-hand copy.
pub const KOREN_12AX7: KorenParameters = KorenParameters {
    mu: 100.0,
    exponent: 1.4,
    kg1: 1060.0,
    kp: 600.0,
    kvb: 300.0,
    sections: 1.0,
    grid_floor: 0.0,
};

/// 12AU7: attributed to Koren 1996, second-hand copy.
pub const KOREN_12AU7: KorenParameters = KorenParameters {
    mu: 21.5,
    exponent: 1.3,
    kg1: 1180.0,
    kp: 84.0,
    kvb: 300.0,
    sections: 1.0,
    grid_floor: 0.0,
};

/// 12AT7: attributed to Koren 1996, second-hand copy, not checked against the article.
pub const KOREN_12AT7: KorenParameters = KorenParameters {
    mu: 60.0,
    exponent: 1.35,
    kg1: 460.0,
    kp: 300.0,
    kvb: 300.0,
    sections: 1.0,
    grid_floor: 0.0,
};

/// 6DJ8: attributed to Koren 1996, second-hand copy.
pub const KOREN_6DJ8: KorenParameters = KorenParameters {
    mu: 28.0,
    exponent: 1.3,
    kg1: 330.0,
    kp: 320.0,
    kvb: 300.0,
    sections: 1.0,
    grid_floor: 0.0,
};

/// Grid to cathode in Koren's article: ideal junction of 1 nA behind 2 kohm and 1 ohm.
const KOREN_GRID: DiodeParameters = DiodeParameters {
    saturation_current: 1e-9,
    ideality: 1.0,
    series_ohms: 2001.0,
    thermal_volts: THERMAL_VOLTS_300_K,
    zero_bias_farads: 0.0,
    ..SILICON_1N4148_A
};

/// Currents INTO plate and grid in A, with derivatives in A/V; the cathode pin carries their sum outwards.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct TriodeCurrents<L = f64> {
    /// Into the plate.
    pub plate: L,
    /// Into the grid.
    pub grid: L,
    /// d plate / d Vp.
    pub plate_by_plate: L,
    /// d plate / d Vg: the transconductance gm, S.
    pub plate_by_grid: L,
    /// d grid / d Vp.
    pub grid_by_plate: L,
    /// d grid / d Vg.
    pub grid_by_grid: L,
}

impl TriodeCurrents {
    /// Plate resistance rp, ohm; `None` where the plate current does not rise with the plate volts (a cut-off tube).
    #[must_use]
    pub fn plate_ohms(&self) -> Option<f64> {
        let ohms = 1.0 / self.plate_by_plate;
        (self.plate_by_plate > 0.0 && ohms.is_finite()).then_some(ohms)
    }

    /// Amplification factor mu = gm rp; `None` where there is no plate resistance.
    #[must_use]
    pub fn amplification(&self) -> Option<f64> {
        self.plate_ohms().map(|ohms| ohms * self.plate_by_grid)
    }
}

impl TriodeLaw {
    /// So many of them side by side: `count` times the currents at the same volts.
    #[must_use]
    pub fn times(&self, count: f64) -> Self {
        match self {
            Self::Tail(law) => Self::Tail(TriodeParameters {
                perveance: law.perveance * count,
                grid_perveance: law.grid_perveance * count,
                grid_floor: law.grid_floor * count,
                ..*law
            }),
            Self::Koren(law) => Self::Koren(KorenParameters {
                sections: law.sections * count,
                grid_floor: law.grid_floor * count,
                ..*law
            }),
        }
    }

    /// Currents and exact derivatives at plate and grid volts against the cathode; finite for all finite volts.
    #[must_use]
    pub fn at(&self, plate_volts: f64, grid_volts: f64) -> TriodeCurrents {
        fused(At(self, [plate_volts, grid_volts]))
    }

    /// Grid volts at which the plate current is `plate_amps` at these plate volts, to 1e-12 V.
    ///
    /// `None` when no grid voltage between [`LOWEST_GRID_VOLTS`] and [`HIGHEST_GRID_VOLTS`] gives that current, or the
    /// current asked for is not a finite one greater than 0. Where the plate current has a maximum in the grid volts (the grid taking
    /// over), the answer lies below it. Work: at most 100 evaluations.
    #[must_use]
    pub fn cut_off(&self, plate_volts: f64, plate_amps: f64) -> Option<f64> {
        const ENOUGH_HALVINGS: usize = 64;
        let excess = |grid_volts: f64| self.at(plate_volts, grid_volts).plate - plate_amps;
        if !plate_volts.is_finite() || !plate_amps.is_finite() || plate_amps <= 0.0 {
            return None;
        }
        let mut high = 0.0;
        while excess(high) < 0.0 {
            high += 1.0;
            if high > HIGHEST_GRID_VOLTS {
                return None;
            }
        }
        let mut step = 1.0;
        let mut low = high - step;
        while excess(low) > 0.0 {
            if low < LOWEST_GRID_VOLTS {
                return None;
            }
            step *= 2.0;
            low -= step;
        }
        for _ in 0..ENOUGH_HALVINGS {
            let middle = f64::midpoint(low, high);
            if high - low < 1e-12 {
                break;
            }
            if excess(middle) > 0.0 {
                high = middle;
            } else {
                low = middle;
            }
        }
        Some(f64::midpoint(low, high))
    }
}

impl Task for At<'_, TriodeLaw, [f64; 2]> {
    type Output = TriodeCurrents;

    #[inline(always)]
    fn run(self) -> TriodeCurrents {
        Triode::new(self.0).at(self.1)
    }
}

/// Most negative grid that [`TriodeLaw::cut_off`] looks at, V; chosen beyond the cut-off of any receiving tube.
pub const LOWEST_GRID_VOLTS: f64 = -10_000.0;

/// Most positive grid that [`TriodeLaw::cut_off`] looks at, V; chosen beyond any grid that still is a control grid.
pub const HIGHEST_GRID_VOLTS: f64 = 20.0;

impl<L: Lanes> TriodeLaw<L> {
    /// Side by side, the law of each lane; the first decides which law it is, and a lane with the other one keeps the
    /// first lane's parameters.
    #[inline(always)]
    #[must_use]
    pub fn side_by_side<'a>(each: impl Fn(usize) -> &'a TriodeLaw) -> Self {
        match each(0) {
            TriodeLaw::Tail(first) => {
                Self::Tail(TriodeParameters::side_by_side(|lane| match each(lane) {
                    TriodeLaw::Tail(law) => law,
                    TriodeLaw::Koren(_) => first,
                }))
            }
            TriodeLaw::Koren(first) => {
                Self::Koren(KorenParameters::side_by_side(|lane| match each(lane) {
                    TriodeLaw::Koren(law) => law,
                    TriodeLaw::Tail(_) => first,
                }))
            }
        }
    }
}

/// A triode ready to be evaluated: its law, with everything that follows from the parameters alone worked out once.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Triode<L = f64> {
    /// The tool's own.
    Tail(TailTriode<L>),
    /// Koren 1996.
    Koren(KorenParameters<L>),
}

impl<L: Lanes> Triode<L> {
    /// Works out the constants of a law. Whether there is a tail, and whether a partition, must be the same in all lanes.
    #[inline(always)]
    #[must_use]
    pub fn new(law: &TriodeLaw<L>) -> Self {
        match law {
            TriodeLaw::Tail(parameters) => Self::Tail(TailTriode::new(parameters)),
            TriodeLaw::Koren(parameters) => Self::Koren(*parameters),
        }
    }

    /// Currents and exact derivatives at plate and grid volts against the cathode, as [`TriodeLaw::at`].
    #[inline(always)]
    #[must_use]
    pub fn at(&self, [plate_volts, grid_volts]: [L; 2]) -> TriodeCurrents<L> {
        let (plate_volts, grid_volts) = (smooth::bounded(plate_volts), smooth::bounded(grid_volts));
        match self {
            Self::Tail(triode) => triode.currents(plate_volts, grid_volts),
            Self::Koren(parameters) => parameters.currents(plate_volts, grid_volts),
        }
    }

    /// 1/mu: the volts at the grid that do as much as one volt at the plate.
    #[inline(always)]
    #[must_use]
    pub fn inverse_mu(&self) -> L {
        match self {
            Self::Tail(triode) => triode.body.inverse_mu,
            Self::Koren(parameters) => L::splat(1.0) / parameters.mu,
        }
    }
}

/// [`TriodeParameters`], worked out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TailTriode<L> {
    body: Term<L>,
    tail: Option<Term<L>>,
    grid: PositivePower<L>,
    grid_perveance: L,
    grid_floor: L,
    partition: Option<Partition<L>>,
}

/// One term of Ik: scale * S(Vp/mu + Vg)^gamma.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Term<L> {
    scale: L,
    inverse_mu: L,
    power: PositivePower<L>,
}

impl<L: Lanes> Term<L> {
    #[inline(always)]
    fn new(law: &TriodeParameters<L>, fraction: L, mu: L) -> Self {
        Self {
            scale: law.perveance * fraction,
            inverse_mu: L::splat(1.0) / mu,
            power: PositivePower::new(law.knee, law.exponent),
        }
    }

    /// The term and its derivatives by plate and grid volts.
    #[inline(always)]
    fn at(&self, plate_volts: L, grid_volts: L) -> (L, L, L) {
        let (value, slope) = self
            .power
            .at(plate_volts.mul_add(self.inverse_mu, grid_volts));
        let by_grid = self.scale * slope;
        (self.scale * value, by_grid * self.inverse_mu, by_grid)
    }
}

/// The share of the current that reaches the plate, 1 - exp(-w/Vs).
#[derive(Debug, Clone, Copy, PartialEq)]
struct Partition<L> {
    knee: Knee<L>,
    inverse_volts: L,
}

impl<L: Lanes> TailTriode<L> {
    #[inline(always)]
    fn new(law: &TriodeParameters<L>) -> Self {
        let mut triode = Self {
            body: Term::new(law, L::splat(1.0) - law.tail_fraction, law.mu),
            tail: None,
            grid: PositivePower::new(law.grid_knee, law.grid_exponent),
            grid_perveance: law.grid_perveance,
            grid_floor: law.grid_floor,
            partition: None,
        };
        if law.tail_fraction.lane(0) != 0.0 {
            triode.tail = Some(Term::new(law, law.tail_fraction, law.tail_mu));
        }
        if 0.0 < law.partition_volts.lane(0) {
            triode.partition = Some(Partition {
                knee: Knee::of_width(law.partition_knee),
                inverse_volts: L::splat(1.0) / law.partition_volts,
            });
        }
        triode
    }

    /// The law at voltages that are bounded already.
    #[inline(always)]
    fn currents(&self, plate_volts: L, grid_volts: L) -> TriodeCurrents<L> {
        let (mut cathode, mut by_plate, mut by_grid) = self.body.at(plate_volts, grid_volts);
        if let Some(tail) = &self.tail {
            let tail = tail.at(plate_volts, grid_volts);
            cathode = cathode + tail.0;
            by_plate = by_plate + tail.1;
            by_grid = by_grid + tail.2;
        }
        let (drawn, drawn_slope) = self.grid.at(grid_volts);
        let (drawn, drawn_slope) = (
            self.grid_perveance * drawn,
            self.grid_perveance * drawn_slope,
        );
        let grid = drawn + self.grid_floor;
        let mut currents = TriodeCurrents {
            plate: cathode - grid,
            grid,
            plate_by_plate: by_plate,
            plate_by_grid: by_grid - drawn_slope,
            grid_by_plate: L::splat(0.0),
            grid_by_grid: drawn_slope,
        };
        if let Some(partition) = &self.partition {
            let (above, above_slope) = partition.knee.positive_part(plate_volts);
            let (share, share_slope) = smooth::saturating(above * partition.inverse_volts);
            let available = cathode - drawn;
            let share_by_plate = share_slope * above_slope * partition.inverse_volts;
            currents.plate = share * available;
            currents.plate_by_plate = share.mul_add(by_plate, share_by_plate * available);
            currents.plate_by_grid = currents.plate_by_grid * share;
        }
        currents
    }
}

impl<L: Lanes> TriodeParameters<L> {
    /// Side by side, the parameters of each lane.
    #[inline(always)]
    #[must_use]
    pub fn side_by_side<'a>(each: impl Fn(usize) -> &'a TriodeParameters) -> Self {
        let all = |field: fn(&TriodeParameters) -> f64| L::from_lanes(|lane| field(each(lane)));
        Self {
            perveance: all(|law| law.perveance),
            mu: all(|law| law.mu),
            exponent: all(|law| law.exponent),
            knee: all(|law| law.knee),
            tail_fraction: all(|law| law.tail_fraction),
            tail_mu: all(|law| law.tail_mu),
            grid_perveance: all(|law| law.grid_perveance),
            grid_exponent: all(|law| law.grid_exponent),
            grid_knee: all(|law| law.grid_knee),
            grid_floor: all(|law| law.grid_floor),
            partition_knee: all(|law| law.partition_knee),
            partition_volts: all(|law| law.partition_volts),
        }
    }
}

/// Plate volts below which Koren's law counts as 0, V; chosen so small that the current there is below 1e-100 A and so
/// large that nothing underflows to 0/0.
const LEAST_KOREN_VOLTS: f64 = 1e-100;

impl<L: Lanes> KorenParameters<L> {
    /// The law at voltages that are bounded already.
    #[inline(always)]
    fn currents(&self, plate_volts: L, grid_volts: L) -> TriodeCurrents<L> {
        let junction = Diode::new(&DiodeParameters::side_by_side(|_| &KOREN_GRID));
        let (grid, grid_by_grid) = junction.at(grid_volts);
        let (grid, grid_by_grid) = (
            self.sections * grid + self.grid_floor,
            self.sections * grid_by_grid,
        );
        let (plate, plate_by_plate, plate_by_grid) = self.plate(plate_volts, grid_volts);
        TriodeCurrents {
            plate,
            grid,
            plate_by_plate,
            plate_by_grid,
            grid_by_plate: L::splat(0.0),
            grid_by_grid,
        }
    }

    /// Plate current and its derivatives by plate and grid volts.
    ///
    /// Written in the effective voltage a = Vp/mu + Vg t with t = Vp / sqrt(kVB + Vp^2): E1 is the smooth positive part
    /// of a with the knee kP/Vp, which keeps every step finite down to the smallest plate volts.
    #[inline(always)]
    fn plate(&self, plate_volts: L, grid_volts: L) -> (L, L, L) {
        let (zero, least) = (L::splat(0.0), L::splat(LEAST_KOREN_VOLTS));
        let above = plate_volts.larger(least);
        let reach = self.reach(above);
        let effective = (above / self.mu) + grid_volts * reach;
        let (drive, slope) = Knee::per_volt(self.kp / above).positive_part(effective);
        let reach_square = reach * reach;
        let by_plate =
            (drive - slope * effective * reach_square) / above + slope * reach_square / self.mu;
        let (value, value_slope) = smooth::power(drive, self.exponent);
        let scale = L::splat(2.0) * self.sections / self.kg1;
        let only_above = |value: L| plate_volts.where_less(least, zero, value);
        (
            only_above(scale * value),
            only_above(scale * value_slope * by_plate),
            only_above(scale * value_slope * slope * reach),
        )
    }

    /// t = Vp / sqrt(kVB + Vp^2), divided through by the larger of the two so that no square overflows.
    #[inline(always)]
    fn reach(&self, plate_volts: L) -> L {
        let root = self.kvb.sqrt();
        let largest = root.larger(plate_volts);
        let (near, far) = (plate_volts / largest, root / largest);
        near / near.mul_add(near, far * far).sqrt()
    }

    /// Side by side, the parameters of each lane.
    #[inline(always)]
    #[must_use]
    pub fn side_by_side<'a>(each: impl Fn(usize) -> &'a KorenParameters) -> Self {
        let all = |field: fn(&KorenParameters) -> f64| L::from_lanes(|lane| field(each(lane)));
        Self {
            mu: all(|law| law.mu),
            exponent: all(|law| law.exponent),
            kg1: all(|law| law.kg1),
            sections: all(|law| law.sections),
            grid_floor: all(|law| law.grid_floor),
            kp: all(|law| law.kp),
            kvb: all(|law| law.kvb),
        }
    }
}
