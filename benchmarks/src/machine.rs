//! Machines of any size as text, and how they are judged.

use ::design::model::Design;
use devices::library::Library;
use network::judge::Context;
use network::margins;
use network::margins::yields::{Drawing, Yields};
use network::verdict::{Verdict, check};
use numerics::lanes::select::Choice;
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

/// A machine from its text.
///
/// # Panics
/// When the text does not make a design.
#[must_use]
pub fn design_of(text: &str) -> Design {
    let reading = design::read::read("machine.valve", &OneText(text), Library::shipped());
    let problems = reading.diagnostics;
    let design = reading.design;
    design.unwrap_or_else(|| panic!("the text makes a design: {problems:?}"))
}

/// Judges a machine from its text, and counts its findings.
///
/// # Panics
/// When the text does not make a design.
#[must_use]
pub fn judged(text: &str) -> usize {
    let design = design_of(text);
    check(&design, &defaults::LIMITS, &defaults::CONTEXT)
        .findings
        .len()
}

/// The program's context with other lanes.
#[must_use]
pub fn context_in(lanes: Choice) -> Context {
    let mut context = defaults::CONTEXT;
    context.settings.lanes = Some(lanes);
    context
}

/// The worst case of a machine that was judged; how many elements were evaluated.
#[must_use]
pub fn worst_case(verdict: &Verdict, context: &Context) -> usize {
    margins::check(verdict, &defaults::SPREAD, context).evaluated as usize
}

/// A machine ready to be drawn.
#[must_use]
pub fn ready(verdict: &Verdict, context: &Context) -> Yields {
    let worst = margins::check(verdict, &defaults::SPREAD, context);
    Yields::new(verdict, &worst, &defaults::SPREAD, context)
}

/// Draws as many machines; in how many everything works.
#[must_use]
pub fn drawn(yields: &Yields, machines: u32) -> usize {
    let drawing = Drawing {
        seed: 1,
        hollow: 0.0,
    };
    let counts = yields.draw(&drawing, 0, 0, machines);
    counts.last().map_or(0, |count| count.works as usize)
}
