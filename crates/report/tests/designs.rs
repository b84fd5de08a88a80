//! Designs on disk, and how they are judged.

use devices::diode::BOOK_KELVIN;
use network::judge::Context;
use network::scene::Assumptions;
use network::solve::Settings;
use network::variation::SpreadAssumptions;
use network::verdict::Limits;
use report::margins::SpreadSources;
use std::path::{Path, PathBuf};
use text::source::Sources;

pub const CONTEXT: Context = Context {
    settings: Settings::STANDARD,
    assumptions: Assumptions::STANDARD,
};
pub const LIMITS: Limits = Limits {
    residual_share: 0.01,
    thin_share: 0.05,
    touch_volts: 60.0,
};

/// A tube may have half or half as much again of its current; all else moves by little.
pub const SPREAD: SpreadAssumptions = SpreadAssumptions {
    tube_current: (0.75, 1.5),
    aged: 0.5,
    mu: (0.9, 1.1),
    cut_off_volts: 0.1,
    reverse_amps: 0.0,
    saturation_times: 2.0,
    diode_kelvin: (BOOK_KELVIN, BOOK_KELVIN),
};

pub const SPREAD_SOURCES: SpreadSources = SpreadSources {
    tube_current: "made up",
    aged: "made up for age",
    mu: "made up for mu",
    cut_off: "made up for cut-off",
    reverse: "made up for grids",
    saturation: "made up for diodes",
    diode_kelvin: "made up for their temperature",
    heater_volts: "made up for heaters",
};

/// A folder on disk.
pub struct Folder(pub PathBuf);

impl Folder {
    /// A folder that the program carries: `demo/tidewatch`, `gallery`, `shelf`.
    pub fn of_the_program(name: &str) -> Folder {
        let app = Path::new(env!("CARGO_MANIFEST_DIR")).join("../app");
        Folder(app.join(name))
    }
}

impl Sources for Folder {
    fn read(&self, name: &str) -> Result<String, String> {
        std::fs::read_to_string(self.0.join(name)).map_err(|error| error.to_string())
    }
}
