//! Texts judged in tests.

pub mod register;
pub mod solved;

use design::read::{Reading, read};
use devices::library::Library;
use network::judge::Context;
use network::scene::Assumptions;
use network::solve::Settings;
use network::verdict::Limits;
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

struct One<'a>(&'a str);

impl Sources for One<'_> {
    fn read(&self, _: &str) -> Result<String, String> {
        Ok(self.0.to_owned())
    }
}

/// Reads a text that must be free of problems.
pub fn sound(text: &str) -> Reading {
    let reading = read("machine.valve", &One(text), Library::shipped());
    assert!(
        reading.diagnostics.is_empty(),
        "{}",
        text::diagnostic::render(&reading.diagnostics, &reading.sources, false)
    );
    reading
}
