//! How far parts may be from the book: factors, each of which moves between two ends.
//!
//! A setting of 0 is the book value, −1 and 1 are the ends; of a band that the book value lies outside of, as that of a lot of
//! worn tubes, 0 is the middle. In a tube the current of plate and grid together, mu (with that
//! of the tail) and the grid volts of cut-off move, each half by itself; in a resistor its ohms, in a diode its saturation
//! current and its leakage, in a lamp its volts. Every part of every unit moves by itself, loads and the bench's resistors
//! included, but for the currents of tubes that are known to be alike (`together`). All semiconductor diodes have one
//! temperature, and all heaters on one rail go with its volts.

use crate::ensemble::Sample;
use crate::plan::{MemberIndex, Plan};
use crate::scene::Scene;
use crate::wiring::ElementIndex;
use design::model::{Design, PartKind, RailId};
use devices::diode::BOOK_KELVIN;
use devices::triode::TriodeLaw;
use devices::types::{DiodeType, NeonType, TubeKind, TubeType};
use std::collections::BTreeMap;
use together::{Common, Currents};

mod together;

/// Step of a setting over which slopes are taken: chosen, so small that a curve is straight, so large that rounding is nothing.
const STEP: f64 = 1e-4;
/// Volts by which a tube conducts later for each share of its heater's volts that is missing (0.1 V for 10 %: common practice, no
/// source). Emission that runs out is not in it.
pub(crate) const LATER_VOLTS: f64 = 1.0;

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
    /// Largest reverse grid current, A.
    pub reverse_amps: f64,
    /// How many times the saturation current of a diode may be off either way.
    pub saturation_times: f64,
    /// Lowest and highest temperature of all semiconductor diodes of a machine, K.
    pub diode_kelvin: (f64, f64),
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
    /// Striking volts of a lamp, V added.
    Strike,
    /// Volts that a lit lamp holds, V added.
    Maintain,
    /// Temperature of the semiconductor diodes, K.
    Temperature,
    /// Volts of heaters, the share that they are above their book value.
    HeaterVolts,
}

/// What of a member a factor is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Piece {
    /// A part of its circuit.
    Part(usize),
    /// The bench's resistor in the way of the switch on the net of a signal.
    Switch {
        /// Index of the signal.
        signal: usize,
    },
    /// A resistor of the bench that hangs on the net of a signal.
    Load {
        /// Index of the signal.
        signal: usize,
        /// Its number among those on the net.
        number: usize,
    },
    /// All semiconductor diodes together; of no member, which is then 0.
    Diodes,
    /// All heaters on a rail together; likewise.
    Heaters(RailId),
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
                let factor = placed.map(|placed| {
                    let elements = placed.elements[part].clone();
                    let piece = Piece::Part(part);
                    Factor::by_itself(
                        member,
                        piece,
                        quantity,
                        (value, value),
                        elements,
                        placed.count,
                    )
                });
                factor.into_iter().collect()
            }
        }
    }
}

/// A setting, and what it moves.
#[derive(Debug, Clone, PartialEq)]
pub struct Factor {
    /// Whose part.
    pub member: MemberIndex,
    /// Which of its parts, or which resistor of the bench.
    pub piece: Piece,
    /// What of it.
    pub quantity: Quantity,
    /// Its value at settings −1 and 1, in the unit of the quantity; of a current that is held together with others where all
    /// their settings are there.
    pub ends: (f64, f64),
    elements: Vec<ElementIndex>,
    /// How far from its book value no such resistor stands, a share; `None` where nothing is said of it.
    hollow: Option<f64>,
    /// How many parts that are alike the elements stand for.
    count: usize,
    /// Share of the band through which its own setting moves it.
    own: f64,
    /// Settings that move it through the rest of the band, and others with it.
    common: Vec<Common>,
    /// It is itself such a setting, and what it moves is moved by the factors of its tubes.
    is_common: bool,
    /// Place of the factor of the other half's current, where the two are held together.
    other_half: Option<usize>,
}

impl Quantity {
    /// Its value at book values.
    #[must_use]
    pub fn book(self) -> f64 {
        match self {
            Self::Ohms | Self::Current | Self::Mu | Self::Saturation => 1.0,
            Self::Temperature => BOOK_KELVIN,
            Self::CutOff
            | Self::Reverse
            | Self::Leakage
            | Self::Strike
            | Self::Maintain
            | Self::HeaterVolts => 0.0,
        }
    }
}

impl Factor {
    fn by_itself(
        member: MemberIndex,
        piece: Piece,
        quantity: Quantity,
        ends: (f64, f64),
        elements: Vec<ElementIndex>,
        count: usize,
    ) -> Self {
        Self {
            member,
            piece,
            quantity,
            ends,
            elements,
            hollow: None,
            count,
            own: 1.0,
            common: Vec::new(),
            is_common: false,
            other_half: None,
        }
    }

    /// How many parts that are alike move together in it.
    #[must_use]
    pub fn count(&self) -> usize {
        self.count
    }

    /// Its value where its setting is 0: at the book's, or in the middle of a band that does not reach that.
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

    /// Every element that a change of its setting changes.
    #[must_use]
    pub fn elements(&self) -> &[ElementIndex] {
        &self.elements
    }

    /// It moves nothing by itself: a setting that several tubes have in common.
    #[must_use]
    pub fn is_common(&self) -> bool {
        self.is_common
    }

    /// How far the whole band takes it from its book value at a setting from −1 to 1: in a straight line to either end.
    fn reach(&self, setting: f64) -> f64 {
        let end = if setting < 0.0 {
            self.ends.0
        } else {
            self.ends.1
        };
        setting.abs() * (end - self.rest())
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

    /// The setting of its own at which it has a value, where none that it has in common with others moves it.
    #[must_use]
    pub fn setting_of(&self, value: f64) -> f64 {
        let rest = self.rest();
        let share = |end: f64| match self.quantity {
            Quantity::Saturation => value.ln() / end.ln(),
            _ => (value - rest) / (self.own * (end - rest)),
        };
        let below = self.reaches(true) && 0.0 < share(self.ends.0);
        if value == rest || self.own == 0.0 {
            0.0
        } else if below {
            -share(self.ends.0).min(1.0)
        } else {
            share(self.ends.1).min(1.0)
        }
    }

    /// Its value, as the factor at a place among all settings of a scene, in the unit of the quantity; a saturation current
    /// moves in equal ratios, all else in a straight line from where it stands at 0 to either end.
    #[must_use]
    pub fn value(&self, place: usize, settings: &[f64]) -> f64 {
        let setting = settings[place];
        if self.quantity == Quantity::Saturation {
            let end = if setting < 0.0 {
                self.ends.0
            } else {
                self.ends.1
            };
            return end.powf(setting.abs());
        }
        let mut value = self.rest() + self.own * self.reach(setting);
        for common in &self.common {
            value += common.share * self.reach(settings[common.place]);
        }
        value
    }

    /// It stands off its book value, or its setting does.
    #[must_use]
    pub fn is_off(&self, place: usize, settings: &[f64]) -> bool {
        let held = !self.common.is_empty();
        !self.is_common
            && (settings[place] != 0.0 || held && self.value(place, settings) != self.rest())
    }

    /// Its value, where it is to be put at any.
    fn off_the_book(&self, place: usize, settings: &[f64]) -> Option<f64> {
        let beside = !self.is_common && self.rest() != self.quantity.book();
        (beside || self.is_off(place, settings)).then(|| self.value(place, settings))
    }

    /// The end of the band on the side on which it stands.
    #[must_use]
    pub fn end(&self, place: usize, settings: &[f64]) -> f64 {
        let low = if self.common.is_empty() {
            settings[place] < 0.0
        } else {
            self.value(place, settings) < self.rest()
        };
        if low { self.ends.0 } else { self.ends.1 }
    }

    /// What its standing where it does effects, from what each setting alone does: slope times setting, V. Of a current that is
    /// held together with others the slope by its own setting tells that by the current.
    #[must_use]
    pub fn effect(&self, place: usize, settings: &[f64], effects: &[f64]) -> f64 {
        if self.common.is_empty() {
            return effects[place];
        }
        let moved = self.own * self.reach(settings[place]);
        if moved == 0.0 {
            return 0.0;
        }
        let off = self.value(place, settings) - self.rest();
        effects[place] / moved * off
    }

    /// Where the current of the tube's other half stands, where the two are held together; a share.
    #[must_use]
    pub fn other_half(&self, factors: &[Self], settings: &[f64]) -> Option<f64> {
        let other = self.other_half?;
        Some(factors[other].value(other, settings))
    }

    /// A setting drawn evenly, moved out of the middle of a resistor's band as far as that is empty: as is said of it, else by
    /// a share of the band.
    #[must_use]
    pub fn hollowed(&self, setting: f64, otherwise: f64) -> f64 {
        if self.quantity != Quantity::Ohms {
            return setting;
        }
        let hollow = match self.hollow {
            None => otherwise,
            Some(near) if 0.0 < near => near / self.reach(setting.signum()).abs(),
            Some(_) => 0.0,
        };
        setting.signum() * (hollow + (1.0 - hollow) * setting.abs())
    }

    /// Heaters on a rail that circuits stand on too have no setting of their own: they go with its volts, which are given.
    pub(crate) fn follow(&mut self, plan: &Plan, rail_volts: &[f64]) {
        if let Piece::Heaters(rail) = self.piece
            && plan.feeding_rails()[rail.0]
        {
            let share = rail_volts[rail.0] / plan.design.rails[rail.0].volts - 1.0;
            self.ends = (share, share);
        }
    }

    /// Puts a sample's elements at a value, from book values; what is of all diodes comes after what is of each.
    pub(crate) fn put(&self, value: f64, sample: &mut Sample) {
        for &element in &self.elements {
            self.put_on(element, value, sample);
        }
    }

    fn put_on(&self, element: ElementIndex, value: f64, sample: &mut Sample) {
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
            Quantity::HeaterVolts => {
                if let Some(shift) = sample.cathode_shift(element) {
                    *shift -= LATER_VOLTS * value;
                }
            }
            Quantity::Reverse => {
                if let Some(floor) = sample.grid_floor(element) {
                    *floor -= value * self.count as f64;
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
            Quantity::Temperature => {
                if let Some(law) = sample.diode(element) {
                    *law = law.at_kelvin(value);
                }
            }
            Quantity::Strike => {
                if let Some(law) = sample.neon(element) {
                    law.strike_volts += value;
                }
            }
            Quantity::Maintain => {
                if let Some(law) = sample.neon(element) {
                    law.maintain_volts += value;
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
    for place in 0..factors.len() {
        apply_one(factors, settings, place, sample);
    }
}

/// Puts one factor of a sample, given by its place, where its setting and those that it has in common with others put it.
fn apply_one(factors: &[Factor], settings: &[f64], place: usize, sample: &mut Sample) {
    if let Some(value) = factors[place].off_the_book(place, settings) {
        factors[place].put(value, sample);
    }
}

/// Puts one element of a sample of book values where those of the factors, in this order, that change it put it.
pub(crate) fn apply_on(
    factors: &[Factor],
    settings: &[f64],
    places: &[usize],
    element: ElementIndex,
    sample: &mut Sample,
) {
    for &place in places {
        if let Some(value) = factors[place].off_the_book(place, settings) {
            factors[place].put_on(element, value, sample);
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

/// Lowest and highest temperature of all semiconductor diodes of a machine, K.
#[must_use]
pub fn diode_kelvin(design: &Design, assumptions: &SpreadAssumptions) -> (f64, f64) {
    design.diode_kelvin.unwrap_or(assumptions.diode_kelvin)
}

/// Everything that moves in a scene: in the order of its members and their parts, then the bench's resistors, then the heaters of
/// each rail and all diodes together, then what several tubes have in common.
#[must_use]
pub fn factors(plan: &Plan, scene: &Scene, assumptions: &SpreadAssumptions) -> Vec<Factor> {
    let mut factors = Vec::new();
    let mut currents = Currents::default();
    let mut heated: BTreeMap<RailId, Vec<ElementIndex>> = BTreeMap::new();
    let mut diodes: Vec<ElementIndex> = Vec::new();
    for (place, member) in scene.members.iter().enumerate() {
        let circuit = plan.circuit(member.member);
        let mut tubes = 0;
        for (part, elements) in member.elements.iter().enumerate() {
            let kind = &circuit.parts[part].kind;
            match kind {
                PartKind::Tube(tube) => {
                    currents.next((place, tubes), &tube.device, factors.len());
                    if let Some(rail) = plan.heated.get(&(member.member, tubes)) {
                        heated.entry(*rail).or_default().extend(elements.first());
                    }
                    tubes += 1;
                }
                PartKind::Diode { .. } => diodes.extend(elements),
                _ => {}
            }
            let all = bands(plan.design, kind, assumptions);
            for (quantity, ends) in all {
                let book = quantity.book();
                if ends != (book, book) {
                    let piece = Piece::Part(part);
                    let mut factor = Factor::by_itself(
                        member.member,
                        piece,
                        quantity,
                        ends,
                        elements.clone(),
                        member.count,
                    );
                    factor.hollow = hollow(kind);
                    factors.push(factor);
                }
            }
        }
    }
    factors.extend(bench(plan, scene));
    for (rail, elements) in heated {
        let tolerance = plan.design.rails[rail.0].tolerance;
        let (piece, ends) = (Piece::Heaters(rail), (-tolerance, tolerance));
        let quantity = Quantity::HeaterVolts;
        factors.push(Factor::by_itself(0, piece, quantity, ends, elements, 1));
    }
    let ends = diode_kelvin(plan.design, assumptions);
    if !diodes.is_empty() && ends != (BOOK_KELVIN, BOOK_KELVIN) {
        let quantity = Quantity::Temperature;
        factors.push(Factor::by_itself(
            0,
            Piece::Diodes,
            quantity,
            ends,
            diodes,
            1,
        ));
    }
    currents.hold(plan, scene, &mut factors);
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

/// The bench's resistors that have a tolerance, each by the first member that names its net.
fn bench(plan: &Plan, scene: &Scene) -> impl Iterator<Item = Factor> {
    let resistors = scene
        .bench
        .iter()
        .filter(|resistor| 0.0 < resistor.tolerance);
    resistors.filter_map(|resistor| {
        let (member, signal) = scene.members.iter().find_map(|placed| {
            let nets = &plan.members[placed.member].nets;
            let signal = nets.iter().position(|net| *net == resistor.net)?;
            Some((placed.member, signal))
        })?;
        let piece = resistor
            .number
            .map_or(Piece::Switch { signal }, |number| Piece::Load {
                signal,
                number,
            });
        let ends = (1.0 - resistor.tolerance, 1.0 + resistor.tolerance);
        let elements = vec![resistor.element];
        let mut factor = Factor::by_itself(
            member,
            piece,
            Quantity::Ohms,
            ends,
            elements,
            resistor.count,
        );
        factor.hollow = resistor.hollow;
        Some(factor)
    })
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
        PartKind::Diode { device, .. } => diode(design, device, assumptions),
        PartKind::Neon { device, .. } => lamp(design, device),
        PartKind::Tube(part) => tube(design, &part.device, assumptions),
        _ => Vec::new(),
    }
}

/// How far from its book value no such resistor stands, a share.
fn hollow(kind: &PartKind) -> Option<f64> {
    match kind {
        PartKind::Resistor { hollow, .. } => *hollow,
        _ => None,
    }
}

fn diode(design: &Design, device: &DiodeType, assumptions: &SpreadAssumptions) -> Vec<Ends> {
    let spread = design.diode_spread(device);
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

/// How far the volts of a lamp may be from its law's; nothing where that is not known.
fn lamp(design: &Design, device: &NeonType) -> Vec<Ends> {
    let (law, spread) = (&device.law, design.neon_spread(device));
    let all = [
        (Quantity::Strike, law.strike_volts, &spread.strike),
        (Quantity::Maintain, law.maintain_volts, &spread.maintain),
    ];
    all.into_iter()
        .filter_map(|(quantity, book, volts)| {
            let (low, high) = volts.as_ref()?.value;
            Some((quantity, (low - book, high - book)))
        })
        .collect()
}

fn tube(design: &Design, device: &TubeType, assumptions: &SpreadAssumptions) -> Vec<Ends> {
    let spread = design.tube_spread(device);
    let current = (Quantity::Current, current_ends(design, device, assumptions));
    if device.kind == TubeKind::Diode {
        return vec![current];
    }
    let mu = spread.mu.map_or(assumptions.mu, |mu| mu.value);
    let cut_off = spread
        .cut_off
        .map_or(assumptions.cut_off_volts, |volts| volts.value);
    let reverse = spread
        .reverse
        .map_or(assumptions.reverse_amps, |amps| amps.value);
    vec![
        current,
        (Quantity::Mu, mu),
        (Quantity::CutOff, (-cut_off, cut_off)),
        (Quantity::Reverse, (0.0, reverse)),
    ]
}
