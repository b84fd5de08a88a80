//! How far parts may be from the book: factors, each of which moves by itself between two ends.
//!
//! A setting of 0 is the book value, −1 and 1 are the ends; of a band that the book value lies outside of, as that of a lot of
//! worn tubes, 0 is the middle. In a tube the current of plate and grid together, mu (with that
//! of the tail) and the grid volts of cut-off move, each half by itself; in a resistor its ohms, in a diode its saturation
//! current and its leakage. Every part of every unit moves by itself, loads included.

use crate::ensemble::Sample;
use crate::plan::{MemberIndex, Plan};
use crate::scene::Scene;
use crate::wiring::ElementIndex;
use design::model::{Design, PartKind};
use devices::triode::TriodeLaw;
use devices::types::{DiodeType, TubeType};

/// Step of a setting over which slopes are taken: chosen, so small that a curve is straight, so large that rounding is nothing.
const STEP: f64 = 1e-4;

/// What is assumed of parts of which no text says how far they may be off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpreadAssumptions {
    /// Lowest and highest current of a new tube, as shares of the book's at the same volts.
    pub tube_current: (f64, f64),
    /// Share of the book's current that is left at the end of a tube's life.
    pub aged: f64,
    /// Lowest and highest mu, as shares.
    pub mu: (f64, f64),
    /// How far the grid volts of cut-off may be off beyond that, V either way.
    pub cut_off_volts: f64,
    /// How many times the saturation current of a diode may be off either way.
    pub saturation_times: f64,
}

/// What moves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Quantity {
    /// Resistance, a share of the book value.
    Ohms,
    /// Current of plate, screen and grid together, a share.
    Current,
    /// Amplification factors together, a share.
    Mu,
    /// Grid volts of cut-off, V added: positive conducts more.
    CutOff,
    /// Reverse grid current, A.
    Reverse,
    /// Saturation current of a diode, times the book value.
    Saturation,
    /// Leakage of a diode, S added.
    Leakage,
}

/// What of a scene is off its book value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Varied<'a> {
    /// Nothing.
    Nothing,
    /// Everything, each part by itself anywhere in its band.
    All(&'a SpreadAssumptions),
    /// One quantity of one part, at one value.
    One {
        /// Whose part.
        member: MemberIndex,
        /// Part of its circuit.
        part: usize,
        /// What of it.
        quantity: Quantity,
        /// Its value, in the unit of the quantity.
        value: f64,
    },
}

impl Varied<'_> {
    /// Something moves in a band, so that a worst case is to be searched.
    #[must_use]
    pub fn moves(&self) -> bool {
        matches!(self, Self::All(_))
    }

    /// The factors in a scene; of one value both ends are that value.
    #[must_use]
    pub fn factors(&self, plan: &Plan, scene: &Scene) -> Vec<Factor> {
        match *self {
            Self::Nothing => Vec::new(),
            Self::All(assumptions) => factors(plan, scene, assumptions),
            Self::One {
                member,
                part,
                quantity,
                value,
            } => {
                let placed = scene.members.iter().find(|placed| placed.member == member);
                let factor = placed.map(|placed| Factor {
                    member,
                    part,
                    quantity,
                    ends: (value, value),
                    elements: placed.elements[part].clone(),
                    count: placed.count,
                });
                factor.into_iter().collect()
            }
        }
    }
}

/// Something that moves by itself.
#[derive(Debug, Clone, PartialEq)]
pub struct Factor {
    /// Whose part.
    pub member: MemberIndex,
    /// Part of its circuit.
    pub part: usize,
    /// What of it.
    pub quantity: Quantity,
    /// Its value at settings −1 and 1, in the unit of the quantity.
    pub ends: (f64, f64),
    elements: Vec<ElementIndex>,
    /// How many parts that are alike the elements stand for.
    count: usize,
}

impl Quantity {
    /// Its value at book values.
    #[must_use]
    pub fn book(self) -> f64 {
        match self {
            Self::Ohms | Self::Current | Self::Mu | Self::Saturation => 1.0,
            Self::CutOff | Self::Reverse | Self::Leakage => 0.0,
        }
    }
}

impl Factor {
    /// How many parts that are alike move together in it.
    #[must_use]
    pub fn count(&self) -> usize {
        self.count
    }

    /// Its value at a setting of 0: at the book's, or in the middle of a band that does not reach that.
    #[must_use]
    pub fn rest(&self) -> f64 {
        let book = self.quantity.book();
        let (low, high) = self.ends;
        if (low..=high).contains(&book) {
            book
        } else {
            f64::midpoint(low, high)
        }
    }

    /// Its value at a setting from −1 to 1: in a straight line from where it stands at 0 to either end, a saturation current in
    /// equal ratios.
    #[must_use]
    pub fn value(&self, setting: f64) -> f64 {
        let end = if setting < 0.0 {
            self.ends.0
        } else {
            self.ends.1
        };
        let rest = self.rest();
        match self.quantity {
            Quantity::Saturation => end.powf(setting.abs()),
            _ => rest + setting.abs() * (end - rest),
        }
    }

    /// Elements that it changes.
    #[must_use]
    pub fn elements(&self) -> &[ElementIndex] {
        &self.elements
    }

    /// Whether settings below 0 (or above) are anything but what 0 is.
    #[must_use]
    pub fn reaches(&self, below: bool) -> bool {
        let end = if below { self.ends.0 } else { self.ends.1 };
        end != self.rest()
    }

    /// A small step from a setting: from one of 0 to where it reaches, from others towards 0.
    #[must_use]
    pub fn step(&self, setting: f64) -> f64 {
        let up = if setting == 0.0 {
            self.reaches(false)
        } else {
            setting < 0.0
        };
        if up { STEP } else { -STEP }
    }

    /// The setting at which it has a value.
    #[must_use]
    pub fn setting_of(&self, value: f64) -> f64 {
        let rest = self.rest();
        let share = |end: f64| match self.quantity {
            Quantity::Saturation => value.ln() / end.ln(),
            _ => (value - rest) / (end - rest),
        };
        let below = self.reaches(true) && 0.0 < share(self.ends.0);
        if value == rest {
            0.0
        } else if below {
            -share(self.ends.0).min(1.0)
        } else {
            share(self.ends.1).min(1.0)
        }
    }

    /// A setting drawn evenly, moved out of the middle of a resistor's band as far as that is empty.
    #[must_use]
    pub fn hollowed(&self, setting: f64, hollow: f64) -> f64 {
        match self.quantity {
            Quantity::Ohms => setting.signum() * (hollow + (1.0 - hollow) * setting.abs()),
            _ => setting,
        }
    }

    /// Puts a sample's elements at a setting, from book values.
    pub(crate) fn apply(&self, setting: f64, sample: &mut Sample) {
        let value = self.value(setting);
        for &element in &self.elements {
            match self.quantity {
                Quantity::Ohms => {
                    if let Some(siemens) = sample.siemens(element) {
                        *siemens /= value;
                    }
                }
                Quantity::Current => scale_current(sample, element, value),
                Quantity::Mu => scale_mu(sample, element, value),
                // The law sees plate and grid against the cathode: a cathode that stands lower by a little conducts as with
                // a grid that stands higher, and a plate that does so too is moved by a mu-th of it.
                Quantity::CutOff => {
                    if let Some(shift) = sample.cathode_shift(element) {
                        *shift -= value;
                    }
                }
                Quantity::Reverse => {
                    if let Some(TriodeLaw::Tail(law)) = sample.triode(element) {
                        law.grid_floor -= value * self.count as f64;
                    }
                }
                Quantity::Saturation => {
                    if let Some(law) = sample.diode(element) {
                        law.saturation_current *= value;
                    }
                }
                Quantity::Leakage => {
                    if let Some(law) = sample.diode(element) {
                        law.leakage_siemens += value * self.count as f64;
                    }
                }
            }
        }
    }
}

fn scale_current(sample: &mut Sample, element: ElementIndex, share: f64) {
    if let Some(law) = sample.triode(element) {
        match law {
            TriodeLaw::Tail(law) => {
                law.perveance *= share;
                law.grid_perveance *= share;
            }
            TriodeLaw::Koren(law) => law.kg1 /= share,
        }
    } else if let Some(law) = sample.pentode(element) {
        law.perveance *= share;
        law.grid_perveance *= share;
    } else if let Some(law) = sample.vacuum_diode(element) {
        law.perveance *= share;
    }
}

fn scale_mu(sample: &mut Sample, element: ElementIndex, share: f64) {
    if let Some(law) = sample.triode(element) {
        match law {
            TriodeLaw::Tail(law) => {
                law.mu *= share;
                law.tail_mu *= share;
            }
            TriodeLaw::Koren(law) => law.mu *= share,
        }
    } else if let Some(law) = sample.pentode(element) {
        law.mu_screen *= share;
        law.mu_plate *= share;
        law.mu_suppressor *= share;
    }
}

/// Puts every factor of a sample at its setting.
pub fn apply(factors: &[Factor], settings: &[f64], sample: &mut Sample) {
    for (factor, &setting) in factors.iter().zip(settings) {
        if setting != 0.0 || factor.rest() != factor.quantity.book() {
            factor.apply(setting, sample);
        }
    }
}

/// Lowest and highest current of a type over its life, as shares of the book's: no less than the lowest of a new one or what
/// is left at the end, whichever is lower.
#[must_use]
pub fn current_ends(
    design: &Design,
    device: &TubeType,
    assumptions: &SpreadAssumptions,
) -> (f64, f64) {
    let spread = design.tube_spread(device);
    let new = spread
        .current
        .map_or(assumptions.tube_current, |current| current.value);
    let aged = spread.aged.map_or(assumptions.aged, |aged| aged.value);
    (new.0.min(aged), new.1)
}

/// Everything that moves in a scene, in the order of its members and their parts.
#[must_use]
pub fn factors(plan: &Plan, scene: &Scene, assumptions: &SpreadAssumptions) -> Vec<Factor> {
    let mut factors = Vec::new();
    for member in &scene.members {
        let circuit = plan.circuit(member.member);
        for (part, elements) in member.elements.iter().enumerate() {
            let all = bands(plan.design, &circuit.parts[part].kind, assumptions);
            for (quantity, ends) in all {
                let book = quantity.book();
                if ends != (book, book) {
                    factors.push(Factor {
                        member: member.member,
                        part,
                        quantity,
                        ends,
                        elements: elements.clone(),
                        count: member.count,
                    });
                }
            }
        }
    }
    factors
}

/// Between which ends one quantity of a part of a member stands; `None` where it does not move.
#[must_use]
pub fn part_ends(
    plan: &Plan,
    member: MemberIndex,
    part: usize,
    quantity: Quantity,
    assumptions: &SpreadAssumptions,
) -> Option<(f64, f64)> {
    let kind = &plan.circuit(member).parts[part].kind;
    let mut all = bands(plan.design, kind, assumptions).into_iter();
    all.find(|(own, _)| *own == quantity).map(|(_, ends)| ends)
}

type Ends = (Quantity, (f64, f64));

/// Every quantity of a part with the ends of its band.
fn bands(design: &Design, kind: &PartKind, assumptions: &SpreadAssumptions) -> Vec<Ends> {
    match kind {
        PartKind::Resistor {
            tolerance, drift, ..
        } => vec![(Quantity::Ohms, (1.0 - tolerance, 1.0 + tolerance + drift))],
        PartKind::Trimmer { tolerance, .. } => {
            vec![(Quantity::Ohms, (1.0 - tolerance, 1.0 + tolerance))]
        }
        PartKind::Diode { device, .. } => diode(device, assumptions),
        PartKind::Tube(part) => tube(design, &part.device, assumptions),
        _ => Vec::new(),
    }
}

fn diode(device: &DiodeType, assumptions: &SpreadAssumptions) -> Vec<Ends> {
    let spread = &device.spread;
    let times = spread
        .saturation
        .as_ref()
        .map_or(assumptions.saturation_times, |times| times.value);
    let mut all = vec![(Quantity::Saturation, (1.0 / times, times))];
    // A sheet gives the largest current at some volts; taken as a resistance it is less at fewer volts, as it is in the part.
    if let Some(leakage) = &spread.leakage {
        let (amps, volts) = leakage.value;
        let further = amps / volts - device.law.leakage_siemens;
        all.push((Quantity::Leakage, (0.0, further.max(0.0))));
    }
    all
}

fn tube(design: &Design, device: &TubeType, assumptions: &SpreadAssumptions) -> Vec<Ends> {
    let spread = design.tube_spread(device);
    let mu = spread.mu.map_or(assumptions.mu, |mu| mu.value);
    let cut_off = spread
        .cut_off
        .map_or(assumptions.cut_off_volts, |volts| volts.value);
    let reverse = spread.reverse.map_or(0.0, |amps| amps.value);
    vec![
        (Quantity::Current, current_ends(design, device, assumptions)),
        (Quantity::Mu, mu),
        (Quantity::CutOff, (-cut_off, cut_off)),
        (Quantity::Reverse, (0.0, reverse)),
    ]
}
