//! Semiconductor diodes: silicon, germanium with its leakage, zener.

use crate::at::At;
use crate::smooth;
use numerics::lanes::Lanes;
use numerics::lanes::functions::{exp_and_less_one, ln};
use numerics::lanes::select::{Task, fused};

/// v = n Vt ln(1 + i/Is) + i Rs, plus leakage and breakdown in the reverse direction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DiodeParameters<L = f64> {
    /// Is, A.
    pub saturation_current: L,
    /// n, no unit.
    pub ideality: L,
    /// Rs, ohm; may be 0.
    pub series_ohms: L,
    /// Vt, V (0.025852 at 300 K).
    pub thermal_volts: L,
    /// Leakage conductance across the terminals, S (germanium; 0 for silicon).
    pub leakage_siemens: L,
    /// Reverse breakdown: at this reverse voltage the current `breakdown_amps` flows; infinite for none.
    pub breakdown_volts: L,
    /// Current at `breakdown_volts`, A.
    pub breakdown_amps: L,
    /// Slope resistance in breakdown, ohm.
    pub breakdown_ohms: L,
    /// Cj0, F: depletion capacitance Cj0 (1 - v/Vj)^-M up to v = Vj/2, then the tangent line.
    pub zero_bias_farads: L,
    /// Vj, V.
    pub junction_volts: L,
    /// M, no unit.
    pub grading: L,
    /// What it is made of, which tells how its currents follow its temperature.
    pub material: Material,
}

/// kT/e at 300 K, V, from the SI values of k and e.
pub const THERMAL_VOLTS_300_K: f64 = 0.025_852;

/// Temperature of the junctions that the parameters are of, K.
pub const BOOK_KELVIN: f64 = 300.0;

/// 0 degrees Celsius, K.
pub const ZERO_CELSIUS_KELVIN: f64 = 273.15;

/// What a junction is made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Material {
    /// Silicon; zeners too.
    Silicon,
    /// Germanium.
    Germanium,
}

impl Material {
    /// Eg/e, V: the energy gap near 300 K in electron volts (textbook values, from memory).
    fn gap_volts(self) -> f64 {
        match self {
            Self::Silicon => 1.11,
            Self::Germanium => 0.67,
        }
    }

    /// Ea/e, V: what the reverse current has to climb. In silicon it is generated in the depletion layer, half of the gap; in
    /// germanium it comes from outside that, the whole gap (textbook values, from memory). By that it doubles every 9.7 K in
    /// silicon and every 8 to 9 K in germanium near room temperature; from memory it does every 10 K, and every 8 to 10 K.
    fn leakage_gap_volts(self) -> f64 {
        match self {
            Self::Silicon => self.gap_volts() / 2.0,
            Self::Germanium => self.gap_volts(),
        }
    }
}

/// 1N4148, set A: technical notes quoting the listings of Koren's 1996 article (Glass Audio vol. 8 no. 5), second-hand
/// copy. Junction volts: 0.75 V, from memory (the notes give none).
pub const SILICON_1N4148_A: DiodeParameters = DiodeParameters {
    saturation_current: 2.52e-9,
    ideality: 1.752,
    series_ohms: 0.568,
    thermal_volts: THERMAL_VOLTS_300_K,
    leakage_siemens: 0.0,
    breakdown_volts: f64::INFINITY,
    breakdown_amps: 0.0,
    breakdown_ohms: 0.0,
    zero_bias_farads: 4e-12,
    junction_volts: 0.75,
    grading: 0.4,
    material: Material::Silicon,
};

/// 1N4148, set B: technical notes on junction-law sets, second-hand copy, with 75 V breakdown. The current at
/// 75 V is the sheet's largest reverse current there (PanJit 1N4148, rev 0.2, April 2010: 5 uA); the slope of 100 ohm is
/// chosen, no source; junction volts 0.75 V from memory.
pub const SILICON_1N4148_B: DiodeParameters = DiodeParameters {
    saturation_current: 222e-12,
    ideality: 1.65,
    series_ohms: 0.0686,
    breakdown_volts: 75.0,
    breakdown_amps: 5e-6,
    breakdown_ohms: 100.0,
    grading: 0.333,
    ..SILICON_1N4148_A
};

/// Drops of `breakdown_amps` in `breakdown_ohms` per knee voltage of the breakdown: at the breakdown voltage the slope is
/// then within 1 % of its final value (1 - e^-5). Chosen for that.
const KNEES_PER_BREAKDOWN_DROP: f64 = 5.0;

/// Narrowest knee of the breakdown, V, chosen well below any voltage of interest and wide enough to be resolved.
const NARROWEST_KNEE_VOLTS: f64 = 1e-3;

/// Least slope resistance in breakdown, ohm; a smaller one in the parameters counts as this much.
const LEAST_BREAKDOWN_OHMS: f64 = 1e-3;

impl DiodeParameters {
    /// So many of them side by side: `count` times the currents and charges at the same volts.
    #[must_use]
    pub fn times(&self, count: f64) -> Self {
        Self {
            saturation_current: self.saturation_current * count,
            series_ohms: self.series_ohms / count,
            leakage_siemens: self.leakage_siemens * count,
            breakdown_amps: self.breakdown_amps * count,
            breakdown_ohms: self.breakdown_ohms / count,
            zero_bias_farads: self.zero_bias_farads * count,
            ..*self
        }
    }

    /// The same diode with its junction at another temperature, K; these parameters are those at [`BOOK_KELVIN`], T0.
    ///
    /// ```text
    /// Vt = Vt0 T/T0
    /// Is = Is0 ((T/T0)^3 exp(Eg/Vt0 (1 - T0/T)))^(1/n)
    /// G  = G0 exp(Ea/Vt0 (1 - T0/T))
    /// ```
    ///
    /// Is by the square of the intrinsic density under the emission factor n (textbook formula, from memory). What a
    /// germanium diode leaks in excess towards its breakdown follows G; the breakdown of silicon stays where it is.
    #[must_use]
    pub fn at_kelvin(&self, kelvin: f64) -> Self {
        let hotter = kelvin / BOOK_KELVIN;
        let climb = (1.0 - 1.0 / hotter) / THERMAL_VOLTS_300_K;
        let saturation = hotter.powi(3) * (self.material.gap_volts() * climb).exp();
        let leakage = (self.material.leakage_gap_volts() * climb).exp();
        let breakdown = match self.material {
            Material::Silicon => 1.0,
            Material::Germanium => leakage,
        };
        Self {
            saturation_current: self.saturation_current * saturation.powf(1.0 / self.ideality),
            thermal_volts: self.thermal_volts * hotter,
            leakage_siemens: self.leakage_siemens * leakage,
            breakdown_amps: self.breakdown_amps * breakdown,
            breakdown_ohms: self.breakdown_ohms / breakdown,
            ..*self
        }
    }

    /// Current from anode to cathode (A) and its exact derivative (S) at a terminal voltage (V).
    ///
    /// ```text
    /// i  = ij + G v - ib
    /// ij : v = n Vt ln(1 + ij/Is) + ij Rs      (solved by the Wright omega function)
    /// ib = (k/Rz) ln(1 + exp((-v - Vz + k0)/k)),  k = Iz Rz / 5,  k0 such that ib = Iz at v = -Vz
    /// ```
    ///
    /// Finite for every finite voltage; increasing in v.
    #[must_use]
    pub fn at(&self, volts: f64) -> (f64, f64) {
        fused(At(self, volts))
    }

    /// Capacitance across the terminals, F: Cj0 (1 - v/Vj)^-M up to v = Vj/2, then the tangent line.
    #[must_use]
    pub fn farads(&self, volts: f64) -> f64 {
        let volts = smooth::bounded(volts);
        let bend = self.junction_volts / 2.0;
        let depleted =
            |at: f64| self.zero_bias_farads * (1.0 - at / self.junction_volts).powf(-self.grading);
        if volts <= bend {
            return depleted(volts);
        }
        let slope = depleted(bend) * self.grading / (self.junction_volts - bend);
        depleted(bend) + slope * (volts - bend)
    }
}

impl Task for At<'_, DiodeParameters, f64> {
    type Output = (f64, f64);

    #[inline(always)]
    fn run(self) -> (f64, f64) {
        Diode::new(self.0).at(self.1)
    }
}

impl<L: Lanes> DiodeParameters<L> {
    /// Side by side, the parameters of each lane.
    #[inline(always)]
    #[must_use]
    pub fn side_by_side<'a>(each: impl Fn(usize) -> &'a DiodeParameters) -> Self {
        let all = |field: fn(&DiodeParameters) -> f64| L::from_lanes(|lane| field(each(lane)));
        Self {
            saturation_current: all(|law| law.saturation_current),
            ideality: all(|law| law.ideality),
            series_ohms: all(|law| law.series_ohms),
            thermal_volts: all(|law| law.thermal_volts),
            leakage_siemens: all(|law| law.leakage_siemens),
            breakdown_volts: all(|law| law.breakdown_volts),
            breakdown_amps: all(|law| law.breakdown_amps),
            breakdown_ohms: all(|law| law.breakdown_ohms),
            zero_bias_farads: all(|law| law.zero_bias_farads),
            junction_volts: all(|law| law.junction_volts),
            grading: all(|law| law.grading),
            material: each(0).material,
        }
    }
}

/// A diode ready to be evaluated: its law, with everything that follows from the parameters alone worked out once.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Diode<L = f64> {
    /// a = n Vt, V.
    scale: L,
    inverse_scale: L,
    saturation_current: L,
    series: Option<Series<L>>,
    leakage_siemens: L,
    breakdown: Option<Breakdown<L>>,
    bend: L,
}

/// What the series resistance makes of the junction.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Series<L> {
    ohms: L,
    inverse_ohms: L,
    /// Is Rs/a + ln(Is Rs/a).
    start: L,
    /// a/Rs, A.
    amps: L,
}

/// The reverse breakdown, by the reverse voltage u = -v - Vz.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Breakdown<L> {
    volts: L,
    ohms: L,
    inverse_ohms: L,
    inverse_knee: L,
    /// k/Rz, A.
    amps: L,
    /// k0/k.
    start: L,
}

impl<L: Lanes> Diode<L> {
    /// Works out the constants of a law. Whether there is a series resistance, and whether a breakdown, must be the same in
    /// all lanes.
    #[inline(always)]
    #[must_use]
    pub fn new(law: &DiodeParameters<L>) -> Self {
        let scale = law.ideality * law.thermal_volts;
        let inverse_scale = L::splat(1.0) / scale;
        let amps = law.saturation_current;
        let mut diode = Self {
            scale,
            inverse_scale,
            saturation_current: amps,
            series: None,
            leakage_siemens: law.leakage_siemens,
            breakdown: None,
            bend: scale * ln(scale / (amps * L::splat(std::f64::consts::SQRT_2))),
        };
        if law.series_ohms.lane(0) != 0.0 {
            diode.series = Some(Series::new(law, scale, inverse_scale));
        }
        if !law.breakdown_volts.lane(0).is_infinite() {
            diode.breakdown = Some(Breakdown::new(law));
        }
        diode
    }

    /// Current and exact derivative at a terminal voltage, as [`DiodeParameters::at`].
    #[inline(always)]
    #[must_use]
    pub fn at(&self, volts: L) -> (L, L) {
        let volts = smooth::bounded(volts);
        let (amps, siemens) = self.junction(volts);
        let (amps, siemens) = (
            self.leakage_siemens.mul_add(volts, amps),
            siemens + self.leakage_siemens,
        );
        let Some(breakdown) = &self.breakdown else {
            return (amps, siemens);
        };
        let (reverse, reverse_slope) = breakdown.at(volts);
        (amps - reverse, siemens + reverse_slope)
    }

    /// Current and slope of the junction with its series resistance.
    ///
    /// With a = n Vt: i = (a/Rs) omega((v + Is Rs)/a + ln(Is Rs/a)) - Is (Corless and others, "On the Lambert W function",
    /// Advances in Computational Mathematics 5, 1996; omega(y) = W(e^y)).
    #[inline(always)]
    fn junction(&self, volts: L) -> (L, L) {
        let x = volts * self.inverse_scale;
        let amps = self.saturation_current;
        let Some(series) = &self.series else {
            let (value, slope) = smooth::exponential_less_one(x);
            return (amps * value, amps * slope * self.inverse_scale);
        };
        let omega = smooth::wright_omega(x + series.start);
        (
            series.amps * omega - amps,
            omega / (L::splat(1.0) + omega) * series.inverse_ohms,
        )
    }

    /// n Vt, V: the volts in which the current of the junction grows by e.
    #[inline(always)]
    #[must_use]
    pub fn scale(&self) -> L {
        self.scale
    }

    /// 1/(n Vt), 1/V.
    #[inline(always)]
    #[must_use]
    pub fn inverse_scale(&self) -> L {
        self.inverse_scale
    }

    /// The bend, V: where the exponential's curvature is greatest; beyond it a tangent overshoots.
    #[inline(always)]
    #[must_use]
    pub fn bend(&self) -> L {
        self.bend
    }

    /// Vz, V; `None` without breakdown.
    #[inline(always)]
    #[must_use]
    pub fn breakdown_volts(&self) -> Option<L> {
        self.breakdown.map(|breakdown| breakdown.volts)
    }

    /// The part of a slope that its resistances would let through alone: near 0 the exponential rules, near 1 they do.
    #[inline(always)]
    #[must_use]
    pub fn resistive_share(&self, siemens: L) -> L {
        let series = self.series.map_or(L::splat(0.0), |series| series.ohms);
        let ohms = match &self.breakdown {
            Some(breakdown) => series.larger(breakdown.ohms),
            None => series,
        };
        siemens * ohms
    }
}

impl<L: Lanes> Series<L> {
    #[inline(always)]
    fn new(law: &DiodeParameters<L>, scale: L, inverse_scale: L) -> Self {
        let drop = law.saturation_current * law.series_ohms * inverse_scale;
        let inverse_ohms = L::splat(1.0) / law.series_ohms;
        Self {
            ohms: law.series_ohms,
            inverse_ohms,
            start: drop + ln(drop),
            amps: scale * inverse_ohms,
        }
    }
}

impl<L: Lanes> Breakdown<L> {
    #[inline(always)]
    fn new(law: &DiodeParameters<L>) -> Self {
        let one = L::splat(1.0);
        let ohms = law.breakdown_ohms.larger(L::splat(LEAST_BREAKDOWN_OHMS));
        let drop = law.breakdown_amps * ohms;
        let knee =
            (drop / L::splat(KNEES_PER_BREAKDOWN_DROP)).larger(L::splat(NARROWEST_KNEE_VOLTS));
        // Inverse of ln(1 + e^x) at drop/knee, so that the law passes through its point.
        let ratio = drop / knee;
        let (_, less_one) = exp_and_less_one(-ratio);
        Self {
            volts: law.breakdown_volts,
            ohms,
            inverse_ohms: one / ohms,
            inverse_knee: one / knee,
            amps: knee / ohms,
            start: ratio + ln(-less_one),
        }
    }

    /// Reverse current (positive) and its slope against the reverse voltage.
    #[inline(always)]
    fn at(&self, volts: L) -> (L, L) {
        let reverse = -volts - self.volts;
        let (value, slope) = smooth::softplus(reverse.mul_add(self.inverse_knee, self.start));
        (self.amps * value, slope * self.inverse_ohms)
    }
}
