//! Designs of the gallery as the program judges them.

use network::judge::Context;
use network::scene::Assumptions;
use network::solve::Settings;
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

/// A folder on disk.
pub struct Folder(pub PathBuf);

impl Sources for Folder {
    fn read(&self, name: &str) -> Result<String, String> {
        std::fs::read_to_string(self.0.join(name)).map_err(|error| error.to_string())
    }
}
