//! What is known of a type of tube, diode or lamp, each value with its source.

use crate::diode::DiodeParameters;
use crate::neon::NeonParameters;
use crate::pentode::PentodeParameters;
use crate::spread::{DiodeSpread, NeonSpread, TubeSpread};
use crate::triode::TriodeLaw;
use crate::vacuum_diode::VacuumDiodeParameters;
use text::source::Span;

/// How far a value can be trusted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Mark {
    /// Stood in the named document when it was read.
    Seen,
    /// Seen in a second-hand copy of the named document.
    SeenSecond,
    /// From memory, a standard tube-manual figure.
    MemoryHigh,
    /// From memory, medium confidence.
    MemoryMedium,
    /// Computed from the values beside it.
    Derived,
    /// Common practice, no source.
    Practice,
    /// The user's own measurement.
    Measured,
    /// Written by the user without a source.
    Unmarked,
}

impl Mark {
    /// The marks that are written out, with their words in a note such as `[seen S10]`.
    pub const WRITTEN: [(&str, Self); 7] = [
        ("seen", Self::Seen),
        ("seen-2", Self::SeenSecond),
        ("mem-H", Self::MemoryHigh),
        ("mem-M", Self::MemoryMedium),
        ("derived", Self::Derived),
        ("practice", Self::Practice),
        ("measured", Self::Measured),
    ];
}

/// A value with its source.
#[derive(Debug, Clone, PartialEq)]
pub struct Sourced<T> {
    /// The value, in coherent SI units.
    pub value: T,
    /// How far it can be trusted.
    pub mark: Mark,
    /// Document, in short ("S10"); may be empty. `library::source_title` expands the library's keys.
    pub source: String,
}

/// What kind of tube.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TubeKind {
    /// One grid, heater apart from the cathode.
    Triode,
    /// One grid, directly heated, glows where it conducts.
    IndicatorTriode,
    /// Control grid and screen.
    Tetrode,
    /// Control grid, screen, suppressor (whether on a pin or tied inside).
    Pentode,
    /// Plate and cathode.
    Diode,
}

/// One of the two halves of a twin; a single tube has only `A`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Section {
    /// First.
    A,
    /// Second.
    B,
}

/// What a pin leads to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Electrode {
    /// Plate (anode).
    Plate,
    /// Control grid, g1.
    Grid,
    /// Screen, g2.
    Screen,
    /// Suppressor, g3.
    Suppressor,
    /// Cathode.
    Cathode,
    /// One end of the heater or filament.
    Heater,
    /// Middle of the heater.
    HeaterTap,
    /// Internal shield.
    Shield,
    /// No connection, or free.
    Free,
}

impl Electrode {
    /// Every electrode with its word.
    pub const ALL: [(&str, Self); 9] = [
        ("plate", Self::Plate),
        ("grid", Self::Grid),
        ("screen", Self::Screen),
        ("suppressor", Self::Suppressor),
        ("cathode", Self::Cathode),
        ("heater", Self::Heater),
        ("heater-tap", Self::HeaterTap),
        ("shield", Self::Shield),
        ("free", Self::Free),
    ];
}

/// One pin of a base.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pin {
    /// Number as on the base drawing, seen from below.
    pub number: u8,
    /// What it leads to.
    pub electrode: Electrode,
    /// Of which half; `None` for what both share.
    pub section: Option<Section>,
}

/// Base and pinout.
#[derive(Debug, Clone, PartialEq)]
pub struct Base {
    /// Base designation, such as `9A`.
    pub name: String,
    /// Pins in order of number; an octal base leaves out pins it does not have.
    pub pins: Vec<Pin>,
    /// Source of the pinout.
    pub mark: Mark,
    /// Document key.
    pub source: String,
}

/// Heater or filament.
#[derive(Debug, Clone, PartialEq)]
pub struct Heater {
    /// Rated volts across the two end pins.
    pub volts: Sourced<f64>,
    /// Rated current at these volts.
    pub amps: Sourced<f64>,
    /// With the halves in parallel (both end pins against the tap): volts and current. `None` when there is no tap.
    pub tapped: Option<(f64, f64)>,
    /// The filament is the cathode.
    pub direct: bool,
    /// How far the current of one may be from the rated, as a share of it either way; `None` when not known.
    pub spread: Option<Sourced<f64>>,
    /// Seconds in the test of controlled warm-up, see [`crate::heater`]; `None` when not known.
    pub warm_up: Option<Sourced<f64>>,
}

/// The rating system that the limits use.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RatingSystem {
    /// Bogey tube, nominal supply.
    DesignCentre,
    /// Any tube within its limits, nominal supply.
    DesignMaximum,
    /// Never to be exceeded by any tube at any supply.
    AbsoluteMaximum,
    /// The sheet does not say, or it is not known here.
    NotStated,
}

/// Limits; `None` means not known: not checked, and said so.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Ratings {
    /// Which system; `None` when nothing is stated at all.
    pub system: Option<RatingSystem>,
    /// Largest plate volts, conducting.
    pub plate_volts: Option<Sourced<f64>>,
    /// Largest plate volts when cold or cut off.
    pub cold_plate_volts: Option<Sourced<f64>>,
    /// Plate dissipation of one section, W.
    pub plate_watts: Option<Sourced<f64>>,
    /// Plate dissipation of both sections together, W.
    pub both_plates_watts: Option<Sourced<f64>>,
    /// Screen volts.
    pub screen_volts: Option<Sourced<f64>>,
    /// Screen dissipation, W.
    pub screen_watts: Option<Sourced<f64>>,
    /// Cathode current of one section, A.
    pub cathode_amps: Option<Sourced<f64>>,
    /// Most negative grid, as a positive number of volts.
    pub negative_grid_volts: Option<Sourced<f64>>,
    /// Largest grid-circuit resistance with fixed bias, ohm.
    pub grid_ohms_fixed: Option<Sourced<f64>>,
    /// Largest grid-circuit resistance with cathode bias, ohm.
    pub grid_ohms_self: Option<Sourced<f64>>,
    /// Largest volts with the heater positive of the cathode.
    pub heater_positive_volts: Option<Sourced<f64>>,
    /// Largest volts with the heater negative of the cathode.
    pub heater_negative_volts: Option<Sourced<f64>>,
    /// Reverse plate volts of a diode.
    pub reverse_volts: Option<Sourced<f64>>,
    /// Peak plate current of a diode, A.
    pub peak_amps: Option<Sourced<f64>>,
}

/// Capacitances of one section, F.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Capacitances {
    /// Grid to plate.
    pub grid_plate: Option<Sourced<f64>>,
    /// Grid to cathode (and heater).
    pub grid_cathode: Option<Sourced<f64>>,
    /// Plate to cathode (and heater).
    pub plate_cathode: Option<Sourced<f64>>,
}

/// A point of a data sheet or of a measurement. Volts against the cathode.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Point {
    /// Plate volts.
    pub plate_volts: f64,
    /// Grid volts.
    pub grid_volts: f64,
    /// Screen volts.
    pub screen_volts: Option<f64>,
    /// Suppressor volts.
    pub suppressor_volts: Option<f64>,
    /// Plate current, A.
    pub plate_amps: Option<Sourced<f64>>,
    /// Grid current, A.
    pub grid_amps: Option<Sourced<f64>>,
    /// Screen current, A.
    pub screen_amps: Option<Sourced<f64>>,
    /// Transconductance, S.
    pub slope: Option<Sourced<f64>>,
    /// Amplification factor; of a tetrode or pentode that of grid against screen.
    pub mu: Option<Sourced<f64>>,
    /// Plate resistance, ohm.
    pub plate_ohms: Option<Sourced<f64>>,
    /// Which sample, for measured points of several tubes.
    pub sample: Option<String>,
    /// Where it is written.
    pub span: Option<Span>,
}

/// The law of one section with its parameters.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Law {
    /// Triode or indicator triode.
    Triode(TriodeLaw),
    /// Tetrode or pentode.
    Pentode(PentodeParameters),
    /// Vacuum diode.
    Diode(VacuumDiodeParameters),
}

/// Where the parameters hold: the span of the points they were fitted to. Outside it a result carries a note.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Validity {
    /// Smallest and largest plate volts among the points.
    pub plate_volts: (f64, f64),
    /// Smallest and largest grid volts among the points.
    pub grid_volts: (f64, f64),
}

/// A type of tube.
#[derive(Debug, Clone, PartialEq)]
pub struct TubeType {
    /// Name as typed in a design.
    pub name: String,
    /// Other names of the same type.
    pub also: Vec<String>,
    /// What kind.
    pub kind: TubeKind,
    /// 1 or 2.
    pub sections: usize,
    /// The halves share one cathode.
    pub common_cathode: bool,
    /// Base; `None` for flying leads whose order is not known here.
    pub base: Option<Base>,
    /// Heater; `None` when not known.
    pub heater: Option<Heater>,
    /// Limits.
    pub ratings: Ratings,
    /// Capacitances of each section (one or two entries).
    pub capacitances: Vec<Capacitances>,
    /// Data-sheet or measured points.
    pub points: Vec<Point>,
    /// Law and parameters; `None` when no point is known to fit to (the tool then cannot compute with this type).
    pub law: Option<Law>,
    /// Parameters that no point determines, with the named prior they come from.
    pub from_prior: Vec<(String, String)>,
    /// Range of the points.
    pub validity: Option<Validity>,
    /// How far tubes of the type may be from the book.
    pub spread: TubeSpread,
    /// Remarks with sources that fit nowhere else.
    pub remarks: Vec<String>,
    /// Where it is written.
    pub span: Option<Span>,
}

/// A type of semiconductor diode.
#[derive(Debug, Clone, PartialEq)]
pub struct DiodeType {
    /// Name.
    pub name: String,
    /// Other names of the same type.
    pub also: Vec<String>,
    /// What kind, for symbols and words.
    pub kind: DiodeKind,
    /// Law.
    pub law: DiodeParameters,
    /// Source of the law's parameters.
    pub mark: Mark,
    /// Document key.
    pub source: String,
    /// Largest reverse volts.
    pub reverse_volts: Option<Sourced<f64>>,
    /// Largest mean forward current, A.
    pub forward_amps: Option<Sourced<f64>>,
    /// Largest dissipation, W.
    pub watts: Option<Sourced<f64>>,
    /// How far diodes of the type may be from the book.
    pub spread: DiodeSpread,
    /// Remarks with sources that fit nowhere else.
    pub remarks: Vec<String>,
    /// Where it is written.
    pub span: Option<Span>,
}

/// Kinds of semiconductor diode.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DiodeKind {
    /// Silicon.
    Silicon,
    /// Germanium.
    Germanium,
    /// Zener.
    Zener,
}

/// A type of neon lamp.
#[derive(Debug, Clone, PartialEq)]
pub struct NeonType {
    /// Name.
    pub name: String,
    /// Other names of the same type.
    pub also: Vec<String>,
    /// Law.
    pub law: NeonParameters,
    /// How far lamps of the type may be from the law.
    pub spread: NeonSpread,
    /// Source.
    pub mark: Mark,
    /// Document key.
    pub source: String,
    /// Remarks with sources that fit nowhere else.
    pub remarks: Vec<String>,
    /// Where it is written.
    pub span: Option<Span>,
}
