//! What one element does: currents and their derivatives by its terminal volts, for one network or for several that
//! differ in the values of their parts, side by side.

use crate::wiring::ElementKind;
use devices::diode::{Diode, DiodeParameters};
use devices::neon::{NeonParameters, NeonState};
use devices::pentode::{PentodeCurrents, PentodeParameters, PentodeVolts};
use devices::triode::{Triode, TriodeCurrents, TriodeLaw};
use devices::vacuum_diode::VacuumDiodeParameters;
use numerics::lanes::Lanes;
use numerics::lanes::functions::ln;

/// The values of an element that carries current at rest, without its terminals.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PartValues<L = f64> {
    /// A cold tube: nothing flows.
    Cold,
    /// Conductance, S.
    Resistor(L),
    /// Semiconductor diode.
    Diode(DiodeParameters<L>),
    /// Neon lamp.
    Neon(NeonParameters<L>),
    /// Triode, and the volts of its cathode over its pin as the law counts it.
    Triode(TriodeLaw<L>, L),
    /// Vacuum diode, with the same.
    VacuumDiode(VacuumDiodeParameters<L>, L),
    /// Tetrode or pentode, with the same.
    Pentode(PentodeParameters<L>, L),
}

impl PartValues {
    /// The values of an element; `None` for ties, which are eliminated, and capacitors, which are open.
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
            ElementKind::VacuumDiode {
                law, cathode_shift, ..
            } => Self::VacuumDiode(law, cathode_shift),
            ElementKind::Triode {
                law, cathode_shift, ..
            } => Self::Triode(law, cathode_shift),
            ElementKind::Pentode {
                law, cathode_shift, ..
            } => Self::Pentode(law, cathode_shift),
        })
    }

    /// Writes these values to an element that does the same.
    pub(crate) fn write_to(&self, kind: &mut ElementKind) {
        match (*self, kind) {
            (Self::Resistor(new), ElementKind::Resistor { siemens, .. }) => *siemens = new,
            (Self::Diode(new), ElementKind::Diode { law, .. }) => *law = new,
            (Self::Neon(new), ElementKind::Neon { law, .. }) => *law = new,
            (
                Self::VacuumDiode(new, shift),
                ElementKind::VacuumDiode {
                    law, cathode_shift, ..
                },
            ) => (*law, *cathode_shift) = (new, shift),
            (
                Self::Triode(new, shift),
                ElementKind::Triode {
                    law, cathode_shift, ..
                },
            ) => (*law, *cathode_shift) = (new, shift),
            (
                Self::Pentode(new, shift),
                ElementKind::Pentode {
                    law, cathode_shift, ..
                },
            ) => (*law, *cathode_shift) = (new, shift),
            _ => {}
        }
    }
}

impl<L: Lanes> PartValues<L> {
    /// Side by side, the values of each lane; the first decides what it is, and a lane that is something else keeps the
    /// first lane's values.
    ///
    /// It only copies, so it need not be compiled for the chosen instructions, and the compiler is spared it there.
    #[must_use]
    pub fn side_by_side<'a>(each: impl Fn(usize) -> &'a PartValues) -> Self {
        match each(0) {
            PartValues::Cold => Self::Cold,
            PartValues::Resistor(first) => Self::Resistor(L::from_lanes(|lane| match each(lane) {
                PartValues::Resistor(siemens) => *siemens,
                _ => *first,
            })),
            PartValues::Diode(first) => {
                Self::Diode(DiodeParameters::side_by_side(|lane| match each(lane) {
                    PartValues::Diode(law) => law,
                    _ => first,
                }))
            }
            PartValues::Neon(first) => {
                Self::Neon(NeonParameters::side_by_side(|lane| match each(lane) {
                    PartValues::Neon(law) => law,
                    _ => first,
                }))
            }
            PartValues::VacuumDiode(first, first_shift) => Self::VacuumDiode(
                VacuumDiodeParameters::side_by_side(|lane| match each(lane) {
                    PartValues::VacuumDiode(law, _) => law,
                    _ => first,
                }),
                L::from_lanes(|lane| match each(lane) {
                    PartValues::VacuumDiode(_, shift) => *shift,
                    _ => *first_shift,
                }),
            ),
            PartValues::Triode(first, first_shift) => Self::Triode(
                TriodeLaw::side_by_side(|lane| match each(lane) {
                    PartValues::Triode(law, _) => law,
                    _ => first,
                }),
                L::from_lanes(|lane| match each(lane) {
                    PartValues::Triode(_, shift) => *shift,
                    _ => *first_shift,
                }),
            ),
            PartValues::Pentode(first, first_shift) => Self::Pentode(
                PentodeParameters::side_by_side(|lane| match each(lane) {
                    PartValues::Pentode(law, _) => law,
                    _ => first,
                }),
                L::from_lanes(|lane| match each(lane) {
                    PartValues::Pentode(_, shift) => *shift,
                    _ => *first_shift,
                }),
            ),
        }
    }
}

/// What an element that carries current at rest does: its values with everything that follows from them alone worked out
/// once, for one network or for several side by side.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Behaviour<L = f64> {
    /// A cold tube: nothing flows.
    Cold,
    /// Conductance, S.
    Resistor(L),
    /// Semiconductor diode.
    Diode(Diode<L>),
    /// Neon lamp.
    Neon(NeonParameters<L>),
    /// Triode, and the volts of its cathode over its pin as the law counts it.
    Triode(Triode<L>, L),
    /// Vacuum diode, with the same.
    VacuumDiode(VacuumDiodeParameters<L>, L),
    /// Tetrode or pentode, with the same.
    Pentode(PentodeParameters<L>, L),
}

impl Behaviour {
    /// What an evaluation at these terminal volts leaves behind for the next: a diode's junction volts, a tube's plate volts
    /// and drive.
    pub(crate) fn memory(&self, volts: &[f64; 5]) -> [f64; 2] {
        match self {
            Self::Triode(triode, shift) => {
                let cathode = volts[2] + shift;
                let plate = volts[0] - cathode;
                [plate, volts[1] - cathode + plate * triode.inverse_mu()]
            }
            Self::Pentode(law, shift) => {
                let cathode = volts[4] + shift;
                let drive = volts[1] - cathode + (volts[2] - cathode) / law.mu_screen;
                [volts[0] - cathode, drive]
            }
            _ => [volts[0] - volts[1], 0.0],
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

/// The same with their slopes, A/V: `by[i][j]` is d amps i / d volts j.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct TerminalSlopes {
    pub amps: [f64; 5],
    pub by: [[f64; 5]; 5],
}

impl Stamp<f64> for TerminalSlopes {
    #[inline(always)]
    fn put<const N: usize>(&mut self, amps: [f64; N], by: [[f64; N]; N]) {
        self.amps[..N].copy_from_slice(&amps);
        for (own, by) in self.by.iter_mut().zip(by) {
            own[..N].copy_from_slice(&by);
        }
    }
}

impl<L: Lanes> Behaviour<L> {
    /// What an element with these values does.
    #[inline(always)]
    #[must_use]
    pub fn new(values: &PartValues<L>) -> Self {
        match values {
            PartValues::Cold => Self::Cold,
            PartValues::Resistor(siemens) => Self::Resistor(*siemens),
            PartValues::Diode(law) => Self::Diode(Diode::new(law)),
            PartValues::Neon(law) => Self::Neon(*law),
            PartValues::VacuumDiode(law, shift) => Self::VacuumDiode(*law, *shift),
            PartValues::Triode(law, shift) => Self::Triode(Triode::new(law), *shift),
            PartValues::Pentode(law, shift) => Self::Pentode(*law, *shift),
        }
    }

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
            Self::VacuumDiode(law, cathode_shift) => {
                let (amps, siemens) = law.in_lanes(volts[0] - (volts[1] + *cathode_shift));
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
            Self::Pentode(law, cathode_shift) => {
                let cathode = volts[4] + *cathode_shift;
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
    triode: &Triode<L>,
    [plate, grid]: [L; 2],
    remembered: Option<&mut [L; 2]>,
) -> (TriodeCurrents<L>, L) {
    let Some(remembered) = remembered else {
        return (triode.at([plate, grid]), L::splat(0.0));
    };
    let inverse_mu = triode.inverse_mu();
    let allowed = hold_back(remembered, plate, |plate| plate.mul_add(inverse_mu, grid));
    let at = [allowed[0], allowed[1] - allowed[0] * inverse_mu];
    let mut currents = triode.at(at);
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
fn diode<L: Lanes>(diode: &Diode<L>, volts: L, junction: Option<&mut L>) -> (L, L, L) {
    let zero = L::splat(0.0);
    let Some(remembered) = junction else {
        let (amps, siemens) = diode.at(volts);
        return (amps, siemens, zero);
    };
    let limited = limit_junction(diode, volts, *remembered);
    let (amps, siemens) = diode.at(limited);
    let away = volts - limited;
    *remembered = limited;
    if !zero.any_less(away.abs()) {
        return (amps, siemens, zero);
    }
    let one = L::splat(1.0);
    let tangent = siemens.mul_add(away, amps);
    let held = zero.where_less(away.abs(), one, zero);
    let resistive =
        L::splat(LEAST_RESISTIVE_SHARE).where_less(diode.resistive_share(siemens), held, zero);
    if !zero.any_less(resistive) {
        return (tangent, siemens, held);
    }
    let (amps_there, siemens_there) = diode.at(volts);
    let misses = (tangent - amps_there).abs() - L::splat(TRUSTED_SHARE) * amps_there.abs();
    // 1 where the law itself is taken: the resistances rule, and the tangent meets the law.
    let trusted = zero.where_less(misses, zero, resistive);
    let kept = |there: L, tangent: L| zero.where_less(trusted, there, tangent);
    *remembered = kept(volts, limited);
    (
        kept(amps_there, tangent),
        kept(siemens_there, siemens),
        held - trusted,
    )
}

/// Where the tangent at the junction that was held back meets the law itself this nearly, the series resistance rules and
/// not the exponential, and holding back further would only creep: chosen, so near that the way to the solution is the same.
const TRUSTED_SHARE: f64 = 1e-3;

/// Below this share the exponential bends so much over any distance that is held back (0.9 n Vt and more) that the tangent
/// cannot meet the law so nearly: by the second derivative, 0.4 z / (1 + z)^3 of it with z below 1, 5 % and more.
const LEAST_RESISTIVE_SHARE: f64 = 0.5;

/// Holds back a junction that wants to move further up its exponential than Newton's tangent can be trusted:
/// a step upwards is taken in the logarithm of the current. Below the bend, and for small steps, nothing is changed.
/// A zener's breakdown is the mirror image about its breakdown volts.
#[inline(always)]
fn limit_junction<L: Lanes>(diode: &Diode<L>, wanted: L, remembered: L) -> L {
    let scale = diode.scale();
    let upwards = |bend: L, wanted: L, remembered: L| {
        limit_upwards([scale, diode.inverse_scale()], bend, wanted, remembered)
    };
    let forward = upwards(diode.bend(), wanted, remembered);
    let Some(breakdown) = diode.breakdown_volts() else {
        return forward;
    };
    let mirrored = upwards(scale, -wanted - breakdown, -remembered - breakdown);
    wanted.where_less(L::splat(-0.5) * breakdown, -mirrored - breakdown, forward)
}

#[inline(always)]
fn limit_upwards<L: Lanes>([scale, inverse]: [L; 2], bend: L, wanted: L, remembered: L) -> L {
    let (zero, one) = (L::splat(0.0), L::splat(1.0));
    let move_by = wanted - remembered;
    let too_far = bend.where_less(wanted, move_by.abs() - L::splat(2.0) * scale, zero);
    if !zero.any_less(too_far) {
        return wanted;
    }
    // From below 0 V the step in the logarithm starts at the current of one scale.
    let from_rest = zero.where_less(remembered, zero, one);
    let growth = zero.where_less(from_rest, wanted * inverse, move_by.mul_add(inverse, one));
    let rise = scale * ln(growth.larger(L::splat(f64::MIN_POSITIVE)));
    let climbed = zero.where_less(growth, remembered + rise, bend);
    let limited = zero.where_less(from_rest, rise.larger(bend), climbed);
    zero.where_less(too_far, limited, wanted)
}
