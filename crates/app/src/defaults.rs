//! Every default of the program, in one place.

use network::judge::Context;
use network::scene::Assumptions;
use network::solve::Settings;
use network::verdict::Limits;

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

/// Input resistance of a meter when the bench states none: the usual electronic meter's (common practice, no source).
pub const METER_OHMS: f64 = 10e6;

/// Tolerance of a heater supply that is not stated, a share: 5 %, as of a rail of the demo (chosen).
pub const SUPPLY_TOLERANCE: f64 = 0.05;

/// The file of a design folder that is read first.
pub const FIRST_FILE: &str = "machine.valve";

/// Larger files are not designs, bytes.
pub const LARGEST_FILE: u64 = 16 * 1024 * 1024;

/// Columns of a terminal that does not say.
pub const WIDTH: usize = 100;
