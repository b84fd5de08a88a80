//! Currents of one element and their derivatives by its terminal volts.

use crate::wiring::ElementKind;
use devices::diode::DiodeParameters;
use devices::neon::NeonState;
use devices::pentode::PentodeVolts;

/// Currents (A) flowing from each terminal INTO the element, and their derivatives (A/V) by each terminal's volts.
#[derive(Debug, Clone, Copy, Default)]
pub struct Local {
    /// In the order of [`ElementKind::terminals`].
    pub amps: [f64; 5],
    /// `by[i][j]` is d amps i / d volts j.
    pub by: [[f64; 5]; 5],
}

impl Local {
    /// A two-terminal element with current `amps` from the first to the second.
    fn two(amps: f64, siemens: f64) -> Self {
        let mut local = Self::default();
        local.amps[0] = amps;
        local.amps[1] = -amps;
        local.by[0][0] = siemens;
        local.by[0][1] = -siemens;
        local.by[1][0] = -siemens;
        local.by[1][1] = siemens;
        local
    }

    /// Fills the last row (the cathode pin) so that currents and derivatives of all `count` terminals sum to zero,
    /// and the last column so that only differences of volts matter.
    fn close(mut self, count: usize) -> Self {
        let last = count - 1;
        for row in 0..last {
            self.by[row][last] = -(0..last).map(|column| self.by[row][column]).sum::<f64>();
        }
        self.amps[last] = -(0..last).map(|row| self.amps[row]).sum::<f64>();
        for column in 0..count {
            self.by[last][column] = -(0..last).map(|row| self.by[row][column]).sum::<f64>();
        }
        self
    }
}

/// Currents and derivatives at the terminal volts, with the junction volts of a diode limited by `junction`, the volts
/// remembered from the evaluation before. The flag says that they were.
///
/// A cold tube gives zero. Ties and capacitors carry nothing here: ties are eliminated, capacitors open at rest.
#[must_use]
pub fn evaluate(
    kind: &ElementKind,
    volts: &[f64; 5],
    lamp: NeonState,
    junction: Option<&mut f64>,
) -> (Local, bool) {
    match kind {
        ElementKind::Resistor { siemens, .. } => {
            (Local::two(siemens * (volts[0] - volts[1]), *siemens), false)
        }
        ElementKind::Capacitor { .. } | ElementKind::Tie { .. } => (Local::default(), false),
        ElementKind::Diode { law, .. } => diode(law, volts[0] - volts[1], junction),
        ElementKind::Neon { law, .. } => {
            let (amps, siemens) = law.at(lamp, volts[0] - volts[1]);
            (Local::two(amps, siemens), false)
        }
        ElementKind::VacuumDiode { law, cold, .. } => {
            let (amps, siemens) = if *cold {
                (0.0, 0.0)
            } else {
                law.at(volts[0] - volts[1])
            };
            (Local::two(amps, siemens), false)
        }
        ElementKind::Triode { cold: true, .. } | ElementKind::Pentode { cold: true, .. } => {
            (Local::default(), false)
        }
        ElementKind::Triode {
            law, cathode_shift, ..
        } => {
            let cathode = volts[2] + cathode_shift;
            let currents = law.at(volts[0] - cathode, volts[1] - cathode);
            let mut local = Local::default();
            local.amps[..2].copy_from_slice(&[currents.plate, currents.grid]);
            local.by[0][..2].copy_from_slice(&[currents.plate_by_plate, currents.plate_by_grid]);
            local.by[1][..2].copy_from_slice(&[currents.grid_by_plate, currents.grid_by_grid]);
            (local.close(3), false)
        }
        ElementKind::Pentode { law, .. } => {
            let cathode = volts[4];
            let currents = law.at(PentodeVolts {
                plate: volts[0] - cathode,
                grid: volts[1] - cathode,
                screen: volts[2] - cathode,
                suppressor: volts[3] - cathode,
            });
            let mut local = Local::default();
            local.amps[..4].copy_from_slice(&currents.amps);
            for row in 0..4 {
                local.by[row][..4].copy_from_slice(&currents.by[row]);
            }
            (local.close(5), false)
        }
    }
}

fn diode(law: &DiodeParameters, volts: f64, junction: Option<&mut f64>) -> (Local, bool) {
    let Some(remembered) = junction else {
        let (amps, siemens) = law.at(volts);
        return (Local::two(amps, siemens), false);
    };
    let limited = limit_junction(law, volts, *remembered);
    let (amps, siemens) = law.at(limited);
    if limited != volts {
        let (amps_there, siemens_there) = law.at(volts);
        let tangent = amps + siemens * (volts - limited);
        if (tangent - amps_there).abs() <= TRUSTED_SHARE * amps_there.abs() {
            *remembered = volts;
            return (Local::two(amps_there, siemens_there), false);
        }
    }
    *remembered = limited;
    (
        Local::two(amps + siemens * (volts - limited), siemens),
        limited != volts,
    )
}

/// Where the tangent at the junction that was held back meets the law itself this nearly, the series resistance rules and
/// not the exponential, and holding back further would only creep: chosen, so near that the way to the solution is the same.
const TRUSTED_SHARE: f64 = 1e-3;

/// Holds back a junction that wants to move further up its exponential than Newton's tangent can be trusted:
/// a step upwards is taken in the logarithm of the current. Below the bend, and for small steps, nothing is changed.
/// A zener's breakdown is the mirror image about its breakdown volts.
fn limit_junction(law: &DiodeParameters, wanted: f64, remembered: f64) -> f64 {
    let scale = law.ideality * law.thermal_volts;
    // The bend: where the exponential's curvature is greatest; beyond it a tangent overshoots.
    let bend = scale * (scale / (law.saturation_current * std::f64::consts::SQRT_2)).ln();
    if law.breakdown_volts.is_finite() && wanted < -law.breakdown_volts / 2.0 {
        let mirrored = limit_upwards(
            scale,
            scale,
            -wanted - law.breakdown_volts,
            -remembered - law.breakdown_volts,
        );
        return -mirrored - law.breakdown_volts;
    }
    limit_upwards(scale, bend, wanted, remembered)
}

fn limit_upwards(scale: f64, bend: f64, wanted: f64, remembered: f64) -> f64 {
    if wanted <= bend || (wanted - remembered).abs() <= 2.0 * scale {
        return wanted;
    }
    if remembered <= 0.0 {
        return bend.max(scale * (wanted / scale).ln());
    }
    let growth = 1.0 + (wanted - remembered) / scale;
    if growth > 0.0 {
        remembered + scale * growth.ln()
    } else {
        bend
    }
}
