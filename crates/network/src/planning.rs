//! Which heaters go into one string: a proposal, every string of it solved before it is proposed.
//!
//! Whatever a supply gives and no heater takes is wasted in shunts and droppers, and what the heaters take is fixed; so the
//! grouping that wastes least is the one that takes the fewest amperes. `filling` finds full strings first, `resistors`
//! chooses values that can be bought, and what is said of a string is what [`crate::heaters::chain`] finds of it as bought.

use crate::heaters::chain::Chain;
use crate::heaters::{FLUCTUATION_SHARE, HeaterAssumptions, LIMIT_SHARE, heater_branch};
use crate::parts::ResistorRange;
use text::diagnostic::Severity;

mod filling;
mod in_design;
mod resistors;

pub use in_design::{candidates, string_name, with_strings};
pub use resistors::TOLERANCE;
pub(crate) use resistors::{nearest_value, usual_rating};

/// Heaters stand within 5 % of their rating at the nominal supply (common practice, no source).
pub const AIM_SHARE: f64 = 0.05;
/// Rounding in a comparison with a limit that the numbers may just reach.
const ROUNDING: f64 = 1e-9;

/// A tube that wants heating.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate {
    /// Its mark, `V7`.
    pub mark: String,
    /// Rated volts and current, end to end; greater than 0.
    pub rated: (f64, f64),
    /// The same with both ends against the tap, if it has one.
    pub tapped: Option<(f64, f64)>,
    /// The filament is the cathode: it stands alone, with one end on ground.
    pub direct: bool,
    /// Share by which its current may be off, where known.
    pub spread: Option<f64>,
    /// Seconds in the test of controlled warm-up, where known.
    pub warm_up_seconds: Option<f64>,
    /// Tubes of one group, such as a board, share no string with those of another.
    pub group: usize,
}

/// What feeds the strings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Supply {
    /// Nominal volts, greater than 0.
    pub volts: f64,
    /// Relative tolerance.
    pub tolerance: f64,
}

/// A resistor that can be bought.
#[derive(Debug, Clone, PartialEq)]
pub struct Resistor {
    /// Its mark, `R91`.
    pub mark: String,
    /// Ohm, of the E24 series.
    pub ohms: f64,
    /// W that it takes at the nominal supply.
    pub watts: f64,
    /// W to buy it for.
    pub rated_watts: f64,
}

/// A heater in its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Placed {
    /// Index into the candidates.
    pub tube: usize,
    /// Wired for its tapped volts.
    pub tapped: bool,
}

/// One link of a string: heaters side by side with a shunt beside them where they take less than the string, or a dropping
/// resistor alone.
#[derive(Debug, Clone, PartialEq)]
pub struct Link {
    /// Heaters, all of the same volts; none in a dropper.
    pub heaters: Vec<Placed>,
    /// Shunt or dropper.
    pub resistor: Option<Resistor>,
    /// Rated volts of the heaters; 0 of a dropper.
    pub rated_volts: f64,
    /// Volts across it with the supply at its lowest, nominal and highest.
    pub volts: [f64; 3],
}

impl Link {
    /// How far its heaters stand from their rating: a share, with the sign of the nominal volts' and at the worse end of the
    /// supply. 0 for a dropper.
    #[must_use]
    pub fn off(&self) -> (f64, f64) {
        if self.heaters.is_empty() {
            return (0.0, 0.0);
        }
        let off = |volts: f64| volts / self.rated_volts - 1.0;
        let [low, nominal, high] = self.volts.map(off);
        let ends = if low.abs() < high.abs() { high } else { low };
        (nominal, ends)
    }
}

/// A string as proposed and solved.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposed {
    /// The group of its tubes.
    pub group: usize,
    /// From the supply to its return.
    pub links: Vec<Link>,
    /// Current at the nominal supply, A.
    pub amps: f64,
    /// Current when it is switched on cold, A: least, usual, most.
    pub cold_amps: [f64; 3],
}

impl Proposed {
    /// The furthest that any of its heaters stands from its rating at the nominal supply, and at the ends of its tolerance.
    #[must_use]
    pub fn furthest(&self) -> (f64, f64) {
        let all = self.links.iter().map(Link::off);
        all.fold((0.0, 0.0), |worst, off| {
            (worst.0.max(off.0.abs()), worst.1.max(off.1.abs()))
        })
    }

    /// A fault beyond 10 % at the ends of the supply, a caution beyond 5 % at nominal or 7 % at the ends; else a note.
    #[must_use]
    pub fn severity(&self) -> Severity {
        let (nominal, ends) = self.furthest();
        if LIMIT_SHARE + ROUNDING < nominal.max(ends) {
            Severity::Fault
        } else if AIM_SHARE + ROUNDING < nominal || FLUCTUATION_SHARE + ROUNDING < ends {
            Severity::Caution
        } else {
            Severity::Note
        }
    }

    /// W that its resistors take at the nominal supply.
    #[must_use]
    pub fn wasted_watts(&self) -> f64 {
        let resistors = self.links.iter().filter_map(|link| link.resistor.as_ref());
        resistors.map(|resistor| resistor.watts).sum()
    }
}

/// A tube that this supply cannot heat.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LeftOut {
    /// Index into the candidates.
    pub tube: usize,
    /// The lowest volts it can be wired for.
    pub wants_volts: f64,
}

/// A proposal for a lot of tubes.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Grouping {
    /// Strings, by group; every tube that can be heated stands in exactly one.
    pub strings: Vec<Proposed>,
    /// Tubes whose volts the supply does not reach.
    pub left_out: Vec<LeftOut>,
    /// What the heaters alone take at their ratings, W: over the supply's volts no grouping takes less.
    pub heater_watts: f64,
}

impl Grouping {
    /// Current of all strings together, A, warm.
    #[must_use]
    pub fn amps(&self) -> f64 {
        self.strings.iter().map(|string| string.amps).sum()
    }

    /// Current of all strings switched on cold together, A: least, usual, most.
    #[must_use]
    pub fn cold_amps(&self) -> [f64; 3] {
        [0, 1, 2].map(|place| self.strings.iter().map(|one| one.cold_amps[place]).sum())
    }

    /// W in shunts and droppers.
    #[must_use]
    pub fn wasted_watts(&self) -> f64 {
        self.strings.iter().map(Proposed::wasted_watts).sum()
    }
}

/// The rated volts between which a row of heaters needs no dropper on a supply: within the aim at its nominal volts, and
/// within the limit at the ends of its tolerance as far as that goes.
fn window(supply: Supply) -> (f64, f64) {
    let (low, high) = (1.0 / (1.0 + AIM_SHARE), 1.0 / (1.0 - AIM_SHARE));
    let least = low.max((1.0 + supply.tolerance) / (1.0 + LIMIT_SHARE));
    let most = high.min((1.0 - supply.tolerance) / (1.0 - LIMIT_SHARE));
    // Where the tolerance alone passes the limit no row holds it, and the nominal volts decide.
    if most < least {
        (low * supply.volts, high * supply.volts)
    } else {
        (least * supply.volts, most * supply.volts)
    }
}

/// Groups tubes into strings on a supply, with resistors that can be bought. Always the same for the same tubes in the same
/// order.
#[must_use]
pub fn group(
    tubes: &[Candidate],
    supply: Supply,
    resistors: &ResistorRange,
    assumptions: &HeaterAssumptions,
) -> Grouping {
    let mut grouping = Grouping::default();
    let (_, most) = window(supply);
    let mut fitting = Vec::new();
    for (tube, candidate) in tubes.iter().enumerate() {
        let tapped = candidate.tapped.map_or(f64::INFINITY, |rated| rated.0);
        let wants_volts = candidate.rated.0.min(tapped);
        if most + ROUNDING < wants_volts {
            grouping.left_out.push(LeftOut { tube, wants_volts });
        } else {
            grouping.heater_watts += candidate.rated.0 * candidate.rated.1;
            fitting.push(tube);
        }
    }
    let mut drafts = filling::fill(tubes, &fitting, supply);
    drafts.sort_by_key(|draft| draft.group);
    let mut marks = FIRST_RESISTOR..;
    let mut known: Vec<(Likeness, resistors::Chosen)> = Vec::new();
    for draft in &drafts {
        // Strings of the same ratings are solved once.
        let likeness = draft.likeness(tubes);
        let place = known.iter().position(|(other, _)| *other == likeness);
        let place = place.unwrap_or_else(|| {
            known.push((
                likeness,
                resistors::choose(draft, tubes, supply, assumptions),
            ));
            known.len() - 1
        });
        let chosen = &known[place].1;
        grouping
            .strings
            .push(chosen.string(draft, &mut marks, resistors));
    }
    grouping
}

/// Resistors of a proposal are numbered from here: chosen, as the strings of the language page are.
const FIRST_RESISTOR: usize = 91;

/// A string before its resistors are chosen.
#[derive(Debug, Clone, PartialEq)]
struct Draft {
    group: usize,
    /// Current that its links are meant for, A.
    amps: f64,
    /// Heaters side by side, with their rated volts and the current of all of them, A.
    links: Vec<DraftLink>,
}

#[derive(Debug, Clone, PartialEq)]
struct DraftLink {
    heaters: Vec<Placed>,
    volts: f64,
    amps: f64,
}

/// What makes drafts alike: the string's current, then by link the ratings, spread and warm-up of every heater, bit for bit.
type Likeness = (u64, Vec<Vec<[u64; 4]>>);

/// Rated volts and current of a tube as it is wired.
fn rating(tube: &Candidate, tapped: bool) -> (f64, f64) {
    match tube.tapped {
        Some(rated) if tapped => rated,
        _ => tube.rated,
    }
}

impl Draft {
    fn likeness(&self, tubes: &[Candidate]) -> Likeness {
        let links = self.links.iter().map(|link| {
            let heaters = link.heaters.iter().map(|placed| {
                let tube = &tubes[placed.tube];
                let (volts, amps) = rating(tube, placed.tapped);
                let spread = tube.spread.map_or(u64::MAX, f64::to_bits);
                let warm_up = tube.warm_up_seconds.map_or(u64::MAX, f64::to_bits);
                [volts.to_bits(), amps.to_bits(), spread, warm_up]
            });
            heaters.collect()
        });
        (self.amps.to_bits(), links.collect())
    }

    /// Its heaters as they are solved, without resistors.
    fn chain(&self, tubes: &[Candidate], assumptions: &HeaterAssumptions) -> Chain {
        let links = self.links.iter().map(|link| {
            let heaters = link.heaters.iter().map(|placed| {
                let tube = &tubes[placed.tube];
                let rated = rating(tube, placed.tapped);
                heater_branch(rated, tube.spread, tube.warm_up_seconds, assumptions)
            });
            heaters.collect()
        });
        Chain {
            links: links.collect(),
        }
    }
}
