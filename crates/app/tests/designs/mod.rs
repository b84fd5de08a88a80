//! Designs of the gallery as the program judges them.

use std::path::PathBuf;
use text::source::Sources;

#[allow(dead_code, reason = "tests need few of the program's defaults")]
#[path = "../../src/defaults.rs"]
mod defaults;

pub use defaults::{CONTEXT, LIMITS, SPREAD, SPREAD_SOURCES};

/// A folder on disk.
pub struct Folder(pub PathBuf);

impl Sources for Folder {
    fn read(&self, name: &str) -> Result<String, String> {
        std::fs::read_to_string(self.0.join(name)).map_err(|error| error.to_string())
    }
}
