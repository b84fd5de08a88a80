//! Tetrode and pentode law.

use crate::at::At;
use crate::smooth::{self, Knee, PositivePower};
use crate::triode::RSD_1;
use numerics::lanes::Lanes;
use numerics::lanes::select::{Task, fused};

/// Parameters; the law is stated on [`PentodeParameters::at`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PentodeParameters<L = f64> {
    /// G, A/V^gamma, of the cathode current.
    pub perveance: L,
    /// mu2, amplification factor control grid to screen, no unit.
    pub mu_screen: L,
    /// mup, control grid to plate, no unit; infinite for no influence of the plate on the cathode current.
    pub mu_plate: L,
    /// mu3, control grid to suppressor, no unit; infinite for no influence.
    pub mu_suppressor: L,
    /// gamma, no unit; greater than 1.
    pub exponent: L,
    /// C, 1/V, softness of the cut-off by control grid and suppressor.
    pub knee: L,
    /// Gg, A/V^xi, of the control-grid current.
    pub grid_perveance: L,
    /// xi, no unit; greater than 1.
    pub grid_exponent: L,
    /// Cg, 1/V, softness of the start of current in control grid and suppressor.
    pub grid_knee: L,
    /// Ig0, A: added to the control-grid current alone; below 0 a reverse grid current.
    pub grid_floor: L,
    /// D0, plate current divided by screen current at high plate volts and 0 V at the suppressor.
    pub plate_ratio: L,
    /// Vs, V; greater than 0: plate volts over which the plate takes its share when the screen is at 0 V.
    pub partition_volts: L,
    /// k, no unit: by how much this voltage grows per volt at the screen.
    pub partition_screen: L,
    /// Vw, V; greater than 0: softness of the start of plate current at 0 V.
    pub partition_knee: L,
    /// V3, V, positive: suppressor volts below 0 that cut the plate off; 0 for a tetrode or a suppressor tied inside.
    pub suppressor_cut_off: L,
    /// kappa, no unit; greater than 1: power with which the division follows the suppressor.
    pub suppressor_exponent: L,
    /// d3, 1/V^1.5: share of a positive suppressor; 0 for none.
    pub suppressor_draw: L,
}

/// Power with which a positive suppressor draws: the three-halves law (Child 1911, Langmuir 1913).
const SUPPRESSOR_DRAW_EXPONENT: f64 = 1.5;

/// Volts over which the screen starts to draw, V: chosen, small against any screen supply; without it a starved screen
/// would be pulled below its cathode.
const SCREEN_START_VOLTS: f64 = 1.0;

/// EF804S.
///
/// From the row "250 V, screen 140 V, Rk 500 ohm: Ia 3.2 mA, Ig2 0.6 mA, gm 2.0 mA/V, mu g1-g2 38, rp 2 Mohm" of
/// Telefunken's sheet 331-332 (second-hand copy): `perveance` from the sum of the currents, `exponent` from gm,
/// `mu_screen` as printed, `mu_plate` from rp, `plate_ratio` from the two currents.
/// Prior "DAFx-11 RSD-1" (Dempwolf and Zoelzer 2011, Table 1): `knee`, `grid_knee`, `grid_exponent`, and `grid_perveance`
/// in its ratio to `perveance`. Prior "plate knee at a fifth of the screen volts" (common practice, no source):
/// `partition_screen`, `partition_volts`, `partition_knee`. No row tells of the suppressor: taken as tied to the cathode.
pub const EF804S: PentodeParameters = PentodeParameters {
    perveance: 1.965_470e-3,
    mu_screen: 38.0,
    mu_plate: 4024.43,
    mu_suppressor: f64::INFINITY,
    exponent: 1.125_325,
    knee: RSD_1.knee,
    grid_perveance: RSD_1.grid_perveance / RSD_1.perveance * 1.965_470e-3,
    grid_exponent: RSD_1.grid_exponent,
    grid_knee: RSD_1.grid_knee,
    grid_floor: 0.0,
    plate_ratio: 5.334_25,
    partition_volts: 1.0,
    partition_screen: 0.2,
    partition_knee: 0.1,
    suppressor_cut_off: 0.0,
    suppressor_exponent: 3.0,
    suppressor_draw: 0.0,
};

/// Volts against the cathode.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PentodeVolts<L = f64> {
    /// Plate.
    pub plate: L,
    /// Control grid.
    pub grid: L,
    /// Screen.
    pub screen: L,
    /// Suppressor.
    pub suppressor: L,
}

/// Currents INTO plate, grid, screen and suppressor (A), in this order, and their derivatives (A/V) by plate, grid,
/// screen and suppressor volts: `by[i][j]` is d current i / d volts j.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PentodeCurrents<L = f64> {
    /// Plate, grid, screen, suppressor.
    pub amps: [L; 4],
    /// Derivatives.
    pub by: [[L; 4]; 4],
}

/// A quantity with its derivatives by plate, grid, screen and suppressor volts.
#[derive(Clone, Copy)]
struct Graded<L> {
    value: L,
    by: [L; 4],
}

impl PentodeParameters {
    /// So many of them side by side: `count` times the currents at the same volts.
    #[must_use]
    pub fn times(&self, count: f64) -> Self {
        Self {
            perveance: self.perveance * count,
            grid_perveance: self.grid_perveance * count,
            grid_floor: self.grid_floor * count,
            ..*self
        }
    }

    /// Currents and exact derivatives; finite for all finite volts.
    ///
    /// ```text
    /// Ik  = G S(Vg1 + Vg2/mu2 + Vp/mup + Vg3/mu3; C)^gamma,      S(u; C) = ln(1 + exp(C u)) / C
    /// Ig1 = Gg S(Vg1; Cg)^xi + Ig0
    /// D   = D0 (1 - exp(-S(Vp; 1/Vw) / (Vs + k S(Vg2; 1/Vw)))) (S(Vg3 + V3; C) / S(V3; C))^kappa
    /// D3  = d3 S(Vg3; Cg)^1.5
    /// Ip  = (Ik - Ig1 + Ig0) D / (1 + D + D3)
    /// Ig2 = (Ik - Ig1 + Ig0) (1 - exp(-S(Vg2; 1/Vw) / 1 V)) / (1 + D + D3)
    /// Ig3 = (Ik - Ig1 + Ig0) D3 / (1 + D + D3)
    /// ```
    ///
    /// From a few volts at the screen upwards the four currents add up to the cathode current Ik and Ig0; a screen at 0 V or below
    /// draws nothing, and its share stays in the space charge. What the control grid leaves divides between plate and screen
    /// in the ratio D: none to the plate at negative plate volts, a constant ratio at plate volts high against the
    /// screen, turned from plate to screen by a negative suppressor. That total and division separate in this way, the
    /// total set by control grid and screen, the division by plate and screen volts, is the finding of Darr and Manber,
    /// "Space current division in small pentodes", MIT B.S. thesis 1948 (summary). Ik is the three-halves law in the
    /// equivalent grid voltage with a free exponent and the soft cut-off of Dempwolf and Zoelzer, DAFx-11, 2011; the form
    /// of the division is the project's own. Secondary emission (the dip of a tetrode's plate current below its screen
    /// volts) is not described.
    #[must_use]
    pub fn at(&self, volts: PentodeVolts) -> PentodeCurrents {
        fused(At(self, volts))
    }
}

impl Task for At<'_, PentodeParameters, PentodeVolts> {
    type Output = PentodeCurrents;

    #[inline(always)]
    fn run(self) -> PentodeCurrents {
        self.0.in_lanes(self.1)
    }
}

impl<L: Lanes> PentodeParameters<L> {
    /// [`PentodeParameters::at`] in any number of lanes. Whether the suppressor has a cut-off must be the same in all of
    /// them.
    #[inline(always)]
    #[must_use]
    pub fn in_lanes(&self, volts: PentodeVolts<L>) -> PentodeCurrents<L> {
        let zero = L::splat(0.0);
        let volts = PentodeVolts {
            plate: smooth::bounded(volts.plate),
            grid: smooth::bounded(volts.grid),
            screen: smooth::bounded(volts.screen),
            suppressor: smooth::bounded(volts.suppressor),
        };
        let (drawn, drawn_slope) =
            PositivePower::new(self.grid_knee, self.grid_exponent).at(volts.grid);
        let (drawn, drawn_slope) = (
            self.grid_perveance * drawn,
            self.grid_perveance * drawn_slope,
        );
        let mut rest = self.cathode(volts);
        rest.value = rest.value - drawn;
        rest.by[1] = rest.by[1] - drawn_slope;

        let plate = self.plate_to_screen(volts);
        let pull = PositivePower::new(self.grid_knee, L::splat(SUPPRESSOR_DRAW_EXPONENT));
        let (pull, pull_slope) = pull.at(volts.suppressor);
        let suppressor = Graded {
            value: self.suppressor_draw * pull,
            by: [zero, zero, zero, self.suppressor_draw * pull_slope],
        };
        let (above, above_slope) = Knee::of_width(self.partition_knee).positive_part(volts.screen);
        let start = L::splat(SCREEN_START_VOLTS);
        let (reached, reached_slope) = smooth::saturating(above / start);
        let screen = Graded {
            value: reached,
            by: [zero, zero, reached_slope * above_slope / start, zero],
        };

        let mut currents = PentodeCurrents::default();
        currents.amps[1] = drawn + self.grid_floor;
        currents.by[1][1] = drawn_slope;
        for (electrode, weight) in [(0, plate), (2, screen), (3, suppressor)] {
            let part = share(&rest, &weight, &plate, &suppressor);
            currents.amps[electrode] = part.value;
            currents.by[electrode] = part.by;
        }
        currents
    }

    /// Ik.
    #[inline(always)]
    fn cathode(&self, volts: PentodeVolts<L>) -> Graded<L> {
        let drive = volts.grid
            + volts.screen / self.mu_screen
            + volts.plate / self.mu_plate
            + volts.suppressor / self.mu_suppressor;
        let (value, slope) = PositivePower::new(self.knee, self.exponent).at(drive);
        let slope = self.perveance * slope;
        Graded {
            value: self.perveance * value,
            by: [
                slope / self.mu_plate,
                slope,
                slope / self.mu_screen,
                slope / self.mu_suppressor,
            ],
        }
    }

    /// D, the ratio of plate to screen current.
    #[inline(always)]
    fn plate_to_screen(&self, volts: PentodeVolts<L>) -> Graded<L> {
        let knee = Knee::of_width(self.partition_knee);
        let (above, above_slope) = knee.positive_part(volts.plate);
        let (screen, screen_slope) = knee.positive_part(volts.screen);
        let width = self.partition_screen.mul_add(screen, self.partition_volts);
        let ratio = above / width;
        let (taken, taken_slope) = smooth::saturating(ratio);
        let (passed, passed_slope) = self.passed_by_suppressor(volts.suppressor);
        let scale = self.plate_ratio * passed;
        Graded {
            value: scale * taken,
            by: [
                scale * taken_slope * above_slope / width,
                L::splat(0.0),
                -(scale * taken_slope * ratio * self.partition_screen * screen_slope / width),
                self.plate_ratio * taken * passed_slope,
            ],
        }
    }

    /// The suppressor's factor in D, 1 at 0 V, and its slope.
    #[inline(always)]
    fn passed_by_suppressor(&self, suppressor_volts: L) -> (L, L) {
        if self.suppressor_cut_off.lane(0) <= 0.0 {
            return (L::splat(1.0), L::splat(0.0));
        }
        let power = PositivePower::new(self.knee, self.suppressor_exponent);
        let opened = |volts: L| power.at(volts + self.suppressor_cut_off);
        let (value, slope) = opened(suppressor_volts);
        let (at_zero, _) = opened(L::splat(0.0));
        (value / at_zero, slope / at_zero)
    }

    /// Side by side, the parameters of each lane.
    #[inline(always)]
    #[must_use]
    pub fn side_by_side<'a>(each: impl Fn(usize) -> &'a PentodeParameters) -> Self {
        let all = |field: fn(&PentodeParameters) -> f64| L::from_lanes(|lane| field(each(lane)));
        Self {
            perveance: all(|law| law.perveance),
            mu_screen: all(|law| law.mu_screen),
            mu_plate: all(|law| law.mu_plate),
            mu_suppressor: all(|law| law.mu_suppressor),
            exponent: all(|law| law.exponent),
            knee: all(|law| law.knee),
            grid_perveance: all(|law| law.grid_perveance),
            grid_exponent: all(|law| law.grid_exponent),
            grid_knee: all(|law| law.grid_knee),
            grid_floor: all(|law| law.grid_floor),
            plate_ratio: all(|law| law.plate_ratio),
            partition_volts: all(|law| law.partition_volts),
            partition_screen: all(|law| law.partition_screen),
            partition_knee: all(|law| law.partition_knee),
            suppressor_cut_off: all(|law| law.suppressor_cut_off),
            suppressor_exponent: all(|law| law.suppressor_exponent),
            suppressor_draw: all(|law| law.suppressor_draw),
        }
    }
}

/// `rest` times `weight` over the sum of all weights, 1 + plate + suppressor.
#[inline(always)]
fn share<L: Lanes>(
    rest: &Graded<L>,
    weight: &Graded<L>,
    plate: &Graded<L>,
    suppressor: &Graded<L>,
) -> Graded<L> {
    let sum = L::splat(1.0) + plate.value + suppressor.value;
    let share = weight.value / sum;
    let mut by = [L::splat(0.0); 4];
    for (electrode, slope) in by.iter_mut().enumerate() {
        let share_slope =
            (weight.by[electrode] - share * (plate.by[electrode] + suppressor.by[electrode])) / sum;
        *slope = rest.by[electrode].mul_add(share, rest.value * share_slope);
    }
    Graded {
        value: rest.value * share,
        by,
    }
}
