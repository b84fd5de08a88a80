//! Designs of the gallery as the program judges them.

use network::judge::Context;
use network::scene::Assumptions;
use network::solve::Settings;
use network::variation::SpreadAssumptions;
use network::verdict::Limits;
use std::path::PathBuf;
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
/// As the program assumes them.
pub const SPREAD: SpreadAssumptions = SpreadAssumptions {
    tube_current: (0.78, 1.44),
    aged: 0.5,
    mu: (0.83, 1.17),
    cut_off_volts: 0.1,
    saturation_times: 3.0,
};

/// A folder on disk.
pub struct Folder(pub PathBuf);

impl Sources for Folder {
    fn read(&self, name: &str) -> Result<String, String> {
        std::fs::read_to_string(self.0.join(name)).map_err(|error| error.to_string())
    }
}
