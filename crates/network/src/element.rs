//! What one element does: currents and their derivatives by its terminal volts, for one network or for several that
//! differ in the values of their parts, side by side.

use crate::wiring::ElementKind;
use devices::diode::DiodeParameters;
use devices::neon::{NeonParameters, NeonState};
use devices::pentode::{PentodeCurrents, PentodeParameters, PentodeVolts};
use devices::triode::{TriodeCurrents, TriodeLaw};
use devices::vacuum_diode::VacuumDiodeParameters;
use numerics::lanes::Lanes;
use numerics::lanes::functions::ln;

/// The values of an element that carries current at rest, without its terminals.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Behaviour<L = f64> {
    /// A cold tube: nothing flows.
    Cold,
    /// Conductance, S.
    Resistor(L),
    /// Semiconductor diode.
    Diode(DiodeParameters<L>),
    /// Neon lamp.
    Neon(NeonParameters<L>),
    /// Vacuum diode.
    VacuumDiode(VacuumDiodeParameters<L>),
    /// Triode, and the volts of its cathode's mean potential over its pin.
    Triode(TriodeLaw<L>, L),
    /// Tetrode or pentode.
    Pentode(PentodeParameters<L>),
}

impl Behaviour {
    /// What an element does at rest; `None` for ties, which are eliminated, and capacitors, which are open.
    #[must_use]
    pub fn of(kind: &ElementKind) -> Option<Self> {
        Some(match *kind {
            ElementKind::Tie { .. } | ElementKind::Capacitor { .. } => return None,
            ElementKind::VacuumDiode { cold: true, .. }
            | ElementKind::Triode { cold: true, .. }
            | ElementKind::Pentode { cold: true, .. } => Self::Cold,
            ElementKind::Resistor { siemens, .. } => Self::Resistor(siemens),
            ElementKind::Diode { law, .. } => Self::Diode(law),
            ElementKind::Neon { law, .. } => Self::Neon(law),
            ElementKind::VacuumDiode { law, .. } => Self::VacuumDiode(law),
            ElementKind::Triode {
                law, cathode_shift, ..
            } => Self::Triode(law, cathode_shift),
            ElementKind::Pentode { law, .. } => Self::Pentode(law),
        })
    }

    /// What an evaluation at these terminal volts leaves behind for the next: a diode's junction volts, a tube's plate volts
    /// and drive.
    pub(crate) fn memory(&self, volts: &[f64; 5]) -> [f64; 2] {
        match self {
            Self::Triode(law, shift) => {
                let cathode = volts[2] + shift;
                let plate = volts[0] - cathode;
                [plate, volts[1] - cathode + plate / law.mu()]
            }
            Self::Pentode(law) => {
                let cathode = volts[4];
                let drive = volts[1] - cathode + (volts[2] - cathode) / law.mu_screen;
                [volts[0] - cathode, drive]
            }
            _ => [volts[0] - volts[1], 0.0],
        }
    }

    /// Writes these values to an element that does the same.
    pub(crate) fn write_to(&self, kind: &mut ElementKind) {
        match (*self, kind) {
            (Self::Resistor(new), ElementKind::Resistor { siemens, .. }) => *siemens = new,
            (Self::Diode(new), ElementKind::Diode { law, .. }) => *law = new,
            (Self::Neon(new), ElementKind::Neon { law, .. }) => *law = new,
            (Self::VacuumDiode(new), ElementKind::VacuumDiode { law, .. }) => *law = new,
            (
                Self::Triode(new, shift),
                ElementKind::Triode {
                    law, cathode_shift, ..
                },
            ) => (*law, *cathode_shift) = (new, shift),
            (Self::Pentode(new), ElementKind::Pentode { law, .. }) => *law = new,
            _ => {}
        }
    }
}

/// Takes currents (A) flowing from each of N terminals INTO an element, and their derivatives (A/V): `by[i][j]` is
/// d amps i / d volts j.
pub trait Stamp<L> {
    /// Takes those of one element.
    fn put<const N: usize>(&mut self, amps: [L; N], by: [[L; N]; N]);
}

/// The currents of one element by themselves, A.
#[derive(Debug, Clone, Copy, Default)]
pub struct TerminalAmps {
    /// Into the element, in the order of [`ElementKind::terminals`].
    pub amps: [f64; 5],
}

impl Stamp<f64> for TerminalAmps {
    #[inline(always)]
    fn put<const N: usize>(&mut self, amps: [f64; N], _: [[f64; N]; N]) {
        self.amps[..N].copy_from_slice(&amps);
    }
}

impl<L: Lanes> Behaviour<L> {
    /// Puts the currents and derivatives at the terminal volts into `stamp`.
    ///
    /// With `remembered`, what `memory` gave for the evaluation before, diodes and tubes are held back: no
    /// further from there than a tangent can be trusted. Above 0 is returned where they were.
    #[inline(always)]
    pub fn evaluate(
        &self,
        volts: &[L; 5],
        lamp: NeonState,
        remembered: Option<&mut [L; 2]>,
        stamp: &mut impl Stamp<L>,
    ) -> L {
        let mut held_back = L::splat(0.0);
        match self {
            Self::Cold => {}
            Self::Resistor(siemens) => two(*siemens * (volts[0] - volts[1]), *siemens, stamp),
            Self::Diode(law) => {
                let (amps, siemens, held) = diode(
                    law,
                    volts[0] - volts[1],
                    remembered.map(|[junction, _]| junction),
                );
                held_back = held;
                two(amps, siemens, stamp);
            }
            Self::Neon(law) => {
                let (amps, siemens) = law.in_lanes(lamp, volts[0] - volts[1]);
                two(amps, siemens, stamp);
            }
            Self::VacuumDiode(law) => {
                let (amps, siemens) = law.in_lanes(volts[0] - volts[1]);
                two(amps, siemens, stamp);
            }
            Self::Triode(law, cathode_shift) => {
                let cathode = volts[2] + *cathode_shift;
                let wanted = [volts[0] - cathode, volts[1] - cathode];
                let (currents, held) = triode(law, wanted, remembered);
                held_back = held;
                closed::<L, 2, 3>(
                    [currents.plate, currents.grid],
                    [
                        [currents.plate_by_plate, currents.plate_by_grid],
                        [currents.grid_by_plate, currents.grid_by_grid],
                    ],
                    stamp,
                );
            }
            Self::Pentode(law) => {
                let cathode = volts[4];
                let wanted = PentodeVolts {
                    plate: volts[0] - cathode,
                    grid: volts[1] - cathode,
                    screen: volts[2] - cathode,
                    suppressor: volts[3] - cathode,
                };
                let (currents, held) = pentode(law, wanted, remembered);
                held_back = held;
                closed::<L, 4, 5>(currents.amps, currents.by, stamp);
            }
        }
        held_back
    }

    /// Side by side, the values of each lane; the first decides what it is, and a lane that is something else keeps the
    /// first lane's values.
    #[inline(always)]
    #[must_use]
    pub fn side_by_side<'a>(each: impl Fn(usize) -> &'a Behaviour) -> Self {
        match each(0) {
            Behaviour::Cold => Self::Cold,
            Behaviour::Resistor(first) => Self::Resistor(L::from_lanes(|lane| match each(lane) {
                Behaviour::Resistor(siemens) => *siemens,
                _ => *first,
            })),
            Behaviour::Diode(first) => {
                Self::Diode(DiodeParameters::side_by_side(|lane| match each(lane) {
                    Behaviour::Diode(law) => law,
                    _ => first,
                }))
            }
            Behaviour::Neon(first) => {
                Self::Neon(NeonParameters::side_by_side(|lane| match each(lane) {
                    Behaviour::Neon(law) => law,
                    _ => first,
                }))
            }
            Behaviour::VacuumDiode(first) => {
                Self::VacuumDiode(VacuumDiodeParameters::side_by_side(|lane| {
                    match each(lane) {
                        Behaviour::VacuumDiode(law) => law,
                        _ => first,
                    }
                }))
            }
            Behaviour::Triode(first, first_shift) => Self::Triode(
                TriodeLaw::side_by_side(|lane| match each(lane) {
                    Behaviour::Triode(law, _) => law,
                    _ => first,
                }),
                L::from_lanes(|lane| match each(lane) {
                    Behaviour::Triode(_, shift) => *shift,
                    _ => *first_shift,
                }),
            ),
            Behaviour::Pentode(first) => {
                Self::Pentode(PentodeParameters::side_by_side(|lane| match each(lane) {
                    Behaviour::Pentode(law) => law,
                    _ => first,
                }))
            }
        }
    }
}

/// A two-terminal element with current `amps` from the first to the second.
#[inline(always)]
fn two<L: Lanes>(amps: L, siemens: L, stamp: &mut impl Stamp<L>) {
    stamp.put([amps, -amps], [[siemens, -siemens], [-siemens, siemens]]);
}

/// Adds the last terminal (the cathode pin) so that currents and derivatives of all OUT terminals sum to zero and only
/// differences of volts matter.
#[inline(always)]
fn closed<L: Lanes, const IN: usize, const OUT: usize>(
    amps: [L; IN],
    by: [[L; IN]; IN],
    stamp: &mut impl Stamp<L>,
) {
    let zero = L::splat(0.0);
    let mut all_amps = [zero; OUT];
    let mut all_by = [[zero; OUT]; OUT];
    for row in 0..IN {
        all_amps[row] = amps[row];
        all_amps[IN] = all_amps[IN] - amps[row];
        for column in 0..IN {
            let slope = by[row][column];
            all_by[row][column] = slope;
            all_by[row][IN] = all_by[row][IN] - slope;
            all_by[IN][column] = all_by[IN][column] - slope;
            all_by[IN][IN] = all_by[IN][IN] + slope;
        }
    }
    stamp.put(all_amps, all_by);
}

/// Currents at plate and grid volts against the cathode, and above 0 where the tube was held back.
#[inline(always)]
fn triode<L: Lanes>(
    law: &TriodeLaw<L>,
    [plate, grid]: [L; 2],
    remembered: Option<&mut [L; 2]>,
) -> (TriodeCurrents<L>, L) {
    let Some(remembered) = remembered else {
        return (law.in_lanes([plate, grid]), L::splat(0.0));
    };
    let mu = law.mu();
    let allowed = hold_back(remembered, plate, |plate| grid + plate / mu);
    let at = [allowed[0], allowed[1] - allowed[0] / mu];
    let mut currents = law.in_lanes(at);
    let (away, held) = distance([plate, grid], at);
    currents.plate = currents.plate_by_plate.mul_add(
        away[0],
        currents.plate_by_grid.mul_add(away[1], currents.plate),
    );
    currents.grid = currents.grid_by_plate.mul_add(
        away[0],
        currents.grid_by_grid.mul_add(away[1], currents.grid),
    );
    (currents, held)
}

/// The same for a tetrode or pentode.
#[inline(always)]
fn pentode<L: Lanes>(
    law: &PentodeParameters<L>,
    volts: PentodeVolts<L>,
    remembered: Option<&mut [L; 2]>,
) -> (PentodeCurrents<L>, L) {
    let Some(remembered) = remembered else {
        return (law.in_lanes(volts), L::splat(0.0));
    };
    let lift = volts.screen / law.mu_screen;
    let allowed = hold_back(remembered, volts.plate, |_| volts.grid + lift);
    let at = [allowed[0], allowed[1] - lift];
    let mut currents = law.in_lanes(PentodeVolts {
        plate: at[0],
        grid: at[1],
        ..volts
    });
    let (away, held) = distance([volts.plate, volts.grid], at);
    for (amps, by) in currents.amps.iter_mut().zip(&currents.by) {
        *amps = by[0].mul_add(away[0], by[1].mul_add(away[1], *amps));
    }
    (currents, held)
}

/// By how much plate and grid are away from where a tube was evaluated, 0 where that is rounding, and 1 where it is not.
#[inline(always)]
fn distance<L: Lanes>(wanted: [L; 2], at: [L; 2]) -> ([L; 2], L) {
    let (zero, one) = (L::splat(0.0), L::splat(1.0));
    let away = [wanted[0] - at[0], wanted[1] - at[1]];
    let held = L::splat(ROUNDING_VOLTS).where_less(away[0].abs() + away[1].abs(), one, zero);
    (away.map(|away| zero.where_less(held, away, zero)), held)
}

/// Volts that a tube may seem held back by when it was not: grid volts are taken apart and put together again.
const ROUNDING_VOLTS: f64 = 1e-9;

/// Plate volts and drive (the grid volts that would draw the same current without a plate) at which a tube is evaluated.
///
/// From one round to the next the drive may rise to three times what it was and two volts, and plate volts may fall by
/// half and half a volt: beyond that a tangent promises currents that the tube never draws, and the rounds of a chain of
/// gates go in circles. Chosen: of the 10 000 random sound circuits of the tests 95 % settled straight without holding
/// back, and all but 14 do with it. `drive` gives the drive at a plate voltage; `remembered` is plate and drive of the round before.
#[inline(always)]
fn hold_back<L: Lanes>(remembered: &mut [L; 2], plate: L, drive: impl FnOnce(L) -> L) -> [L; 2] {
    let zero = L::splat(0.0);
    let [plate_before, drive_before] = *remembered;
    let lowest = plate_before.mul_add(L::splat(0.5), L::splat(-0.5));
    let lowest = zero.where_less(plate_before, lowest, plate);
    let plate = plate.larger(lowest);
    let highest = drive_before
        .larger(zero)
        .mul_add(L::splat(3.0), L::splat(2.0));
    *remembered = [plate, drive(plate).smaller(highest)];
    *remembered
}

/// Current, slope, and above 0 where the junction was held back.
#[inline(always)]
fn diode<L: Lanes>(law: &DiodeParameters<L>, volts: L, junction: Option<&mut L>) -> (L, L, L) {
    let zero = L::splat(0.0);
    let Some(remembered) = junction else {
        let (amps, siemens) = law.in_lanes(volts);
        return (amps, siemens, zero);
    };
    let limited = limit_junction(law, volts, *remembered);
    let (amps, siemens) = law.in_lanes(limited);
    let distance = (volts - limited).abs();
    *remembered = limited;
    if !zero.any_less(distance) {
        return (amps, siemens, zero);
    }
    let (amps_there, siemens_there) = law.in_lanes(volts);
    let tangent = siemens.mul_add(volts - limited, amps);
    let misses = (tangent - amps_there).abs() - L::splat(TRUSTED_SHARE) * amps_there.abs();
    // 1 where the tangent is kept: held back, and not near enough to the law to be trusted.
    let held = zero.where_less(distance, zero.where_less(misses, L::splat(1.0), zero), zero);
    let kept = |there: L, tangent: L| zero.where_less(held, tangent, there);
    *remembered = kept(volts, limited);
    (
        kept(amps_there, tangent),
        kept(siemens_there, siemens),
        held,
    )
}

/// Where the tangent at the junction that was held back meets the law itself this nearly, the series resistance rules and
/// not the exponential, and holding back further would only creep: chosen, so near that the way to the solution is the same.
const TRUSTED_SHARE: f64 = 1e-3;

/// Holds back a junction that wants to move further up its exponential than Newton's tangent can be trusted:
/// a step upwards is taken in the logarithm of the current. Below the bend, and for small steps, nothing is changed.
/// A zener's breakdown is the mirror image about its breakdown volts.
#[inline(always)]
fn limit_junction<L: Lanes>(law: &DiodeParameters<L>, wanted: L, remembered: L) -> L {
    let scale = law.ideality * law.thermal_volts;
    // The bend: where the exponential's curvature is greatest; beyond it a tangent overshoots.
    let bend = scale * ln(scale / (law.saturation_current * L::splat(std::f64::consts::SQRT_2)));
    let forward = limit_upwards(scale, bend, wanted, remembered);
    if law.breakdown_volts.lane(0).is_infinite() {
        return forward;
    }
    let breakdown = law.breakdown_volts;
    let mirrored = limit_upwards(scale, scale, -wanted - breakdown, -remembered - breakdown);
    wanted.where_less(L::splat(-0.5) * breakdown, -mirrored - breakdown, forward)
}

#[inline(always)]
fn limit_upwards<L: Lanes>(scale: L, bend: L, wanted: L, remembered: L) -> L {
    let (zero, one) = (L::splat(0.0), L::splat(1.0));
    let move_by = wanted - remembered;
    let too_far = bend.where_less(wanted, move_by.abs() - L::splat(2.0) * scale, zero);
    if !zero.any_less(too_far) {
        return wanted;
    }
    // From below 0 V the step in the logarithm starts at the current of one scale.
    let from_rest = zero.where_less(remembered, zero, one);
    let growth = zero.where_less(from_rest, wanted / scale, one + move_by / scale);
    let rise = scale * ln(growth.larger(L::splat(f64::MIN_POSITIVE)));
    let climbed = zero.where_less(growth, remembered + rise, bend);
    let limited = zero.where_less(from_rest, rise.larger(bend), climbed);
    zero.where_less(too_far, limited, wanted)
}
