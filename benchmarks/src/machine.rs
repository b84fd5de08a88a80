//! Machines of any size as text, and how they are judged.

use devices::library::Library;
use network::verdict::check;
use text::source::Sources;

/// The program's own tolerances and assumptions.
#[path = "../../crates/app/src/defaults.rs"]
pub mod defaults;

/// The register that is judged in tests too.
#[path = "../../crates/network/tests/judging/register.rs"]
pub mod register;

pub use register::register;

/// A machine that is one text.
struct OneText<'a>(&'a str);

impl Sources for OneText<'_> {
    fn read(&self, _: &str) -> Result<String, String> {
        Ok(self.0.to_owned())
    }
}

/// Judges a machine from its text, and counts its findings.
///
/// # Panics
/// When the text does not make a design.
#[must_use]
pub fn judged(text: &str) -> usize {
    let reading = design::read::read("machine.valve", &OneText(text), Library::shipped());
    let design = reading
        .design
        .unwrap_or_else(|| panic!("the text makes a design: {:?}", reading.diagnostics));
    check(&design, &defaults::LIMITS, &defaults::CONTEXT)
        .findings
        .len()
}
