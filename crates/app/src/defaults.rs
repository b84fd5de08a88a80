//! Every default of the program, in one place.

use devices::diode::ZERO_CELSIUS_KELVIN;
use network::judge::Context;
use network::parts::{Buying, ResistorRange, ResistorSize, Spares};
use network::scene::Assumptions;
use network::solve::Settings;
use network::variation::SpreadAssumptions;
use network::verdict::Limits;
use report::margins::SpreadSources;

/// Tolerances and assumptions of every solution.
pub const CONTEXT: Context = Context {
    settings: Settings::STANDARD,
    assumptions: Assumptions::STANDARD,
};

/// What counts as good enough.
///
/// Residual current: 1 % of what the tube carries when conducting (chosen: a hundredth of a gate's current moves its
/// up level by a hundredth of its swing). Thin: a twentieth of the swing (chosen). Touch: 60 V DC.
pub const LIMITS: Limits = Limits {
    residual_share: 0.01,
    thin_share: 0.05,
    touch_volts: 60.0,
};

/// How far parts may be off of which neither the design nor the library says anything; why is said in [`SPREAD_SOURCES`].
pub const SPREAD: SpreadAssumptions = SpreadAssumptions {
    tube_current: (0.78, 1.44),
    aged: 0.5,
    mu: (0.83, 1.17),
    cut_off_volts: 0.1,
    reverse_amps: 0.2e-6,
    saturation_times: 3.0,
    diode_kelvin: (
        ZERO_CELSIUS_KELVIN + ROOM_CELSIUS.0,
        ZERO_CELSIUS_KELVIN + ROOM_CELSIUS.1 + CABINET_KELVIN,
    ),
};

/// Coldest and hottest room that a machine stands in, degrees Celsius: chosen.
const ROOM_CELSIUS: (f64, f64) = (15.0, 35.0);

/// How much warmer its cabinet may be than the room, K: a rule for the cabinets of a production machine (Computer Structures,
/// chapter 9, p. 181, as summarised).
const CABINET_KELVIN: f64 = 10.0;

/// Where these come from, as it is shown. S5 is a document of the library; the design rule is that of 50 to 200 % of the book's
/// current from end to end of life in the Final Progress Report on the Physical Realization of an Electronic Computing
/// Instrument. Three times the saturation current are 50 mV of a 1N4148 of ideality 1.752 (28 mV of an ideal junction at 300 K);
/// two published sets of its parameters lie 60 mV apart. Of the reverse grid current practice says 0.2 to 1 uA without a source,
/// so the one figure that has one is taken.
pub const SPREAD_SOURCES: SpreadSources = SpreadSources {
    tube_current: "7 to 13 mA of 9 mA, present-day limits of a 6SN7 (S5), taken for all types",
    aged: "design rule of a computer, Institute for Advanced Study, January 1954",
    mu: "16.5 of 20, limit of a 6SN7 (S5); the other side assumed alike, taken for all types",
    cut_off: "chosen: contact potential differs from tube to tube; heater volts are apart",
    reverse: "0.2 µA, present-day limit of a 6SN7 (S5), taken for all types",
    saturation: "chosen: 50 mV of a 1N4148, of which two published sets of parameters lie 60 mV apart; temperature is apart",
    diode_kelvin: "a room of 15 to 35 °C (chosen) and 10 K more in the cabinet (Computer Structures, as summarised)",
    heater_volts: "a tenth less cuts off 0.1 V later (common practice, no source)",
};

/// What is asked of the parts in the list of parts.
///
/// A capacitor gets a quarter more volts than stand across it, in the next usual size; a tenth more tubes and a twentieth
/// more of all else, two at least (common practice, no source).
pub const BUYING: Buying = Buying {
    resistors: RESISTORS,
    capacitor_factor: 1.25,
    capacitor_volts: &[
        16.0, 25.0, 35.0, 50.0, 63.0, 100.0, 160.0, 200.0, 250.0, 350.0, 400.0, 450.0, 500.0,
        630.0, 1000.0,
    ],
    tubes: Spares {
        share: 0.1,
        least: 2,
    },
    others: Spares {
        share: 0.05,
        least: 2,
    },
};

/// Resistors that are bought, for the list of parts and for heater strings: twice the watts that they take, in the next
/// usual size (common practice, no source). Volts of the sizes: of film resistors, from memory; those of 2 W and more chosen
/// as those of 1 W.
pub const RESISTORS: ResistorRange = ResistorRange {
    factor: 2.0,
    sizes: &[
        size(0.125, 150.0),
        size(0.25, 250.0),
        size(0.5, 350.0),
        size(1.0, 500.0),
        size(2.0, 500.0),
        size(3.0, 500.0),
        size(5.0, 500.0),
        size(7.0, 500.0),
        size(10.0, 500.0),
        size(15.0, 500.0),
        size(25.0, 500.0),
        size(50.0, 500.0),
        size(100.0, 500.0),
    ],
};

const fn size(watts: f64, volts: f64) -> ResistorSize {
    ResistorSize { watts, volts }
}

/// Input resistance of a meter when the bench states none: the usual electronic meter's (common practice, no source).
pub const METER_OHMS: f64 = 10e6;

/// Tolerance of a heater supply that is not stated, a share: 5 %, as of a rail of the demo (chosen).
pub const SUPPLY_TOLERANCE: f64 = 0.05;

/// Samples of a yield when no number is asked for: chosen, none of 1024 failed says that at least 99.7 of 100 work.
pub const SAMPLES: u32 = 1024;

/// Begins every sequence of samples where no seed is given.
pub const SEED: u32 = 1;

/// Share of the middle of its band in which no resistor stands where none is given: bands are even.
pub const HOLLOW: f64 = 0.0;

/// The file of a design folder that is read first.
pub const FIRST_FILE: &str = "machine.valve";

/// Larger files are not designs, bytes.
pub const LARGEST_FILE: u64 = 16 * 1024 * 1024;

/// Columns of a terminal that does not say.
pub const WIDTH: usize = 100;
