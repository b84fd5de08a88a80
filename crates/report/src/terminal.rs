//! Results as text for a terminal. Each function takes a result, the sources where places are shown, and the terminal;
//! what it gives ends with a line end.

mod choosing;
mod findings;
mod marginal;
mod margins;
mod paragraph;
mod planned;
mod results;
mod sheet;
mod yields;

pub use choosing::{chosen, serves};
pub(crate) use findings::MOST_CONSEQUENCES;
pub use findings::{findings, verdict};
pub use marginal::{marginal, suspects};
pub use margins::margins;
pub use planned::{group, swap};
pub use results::{
    change, circuit_levels, connections, explain, heaters, levels, loads, parts, rail_power,
    readings, safety, states, switch_on, wiring,
};
pub use sheet::type_sheet;
pub use yields::yields;

use crate::words::Wording;

/// What the text is written for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Terminal {
    /// Columns.
    pub width: usize,
    /// Colour may be used; nothing depends on it.
    pub colour: bool,
    /// Tables in plain ASCII.
    pub plain: bool,
    /// The reader's words.
    pub wording: Wording,
}

impl Terminal {
    /// The text in bold, and in the colour of its severity, where colour may be used. Sequences of ECMA-48.
    fn painted(&self, text: &str, code: &str) -> String {
        if self.colour {
            format!("\u{1b}[{code}m{text}\u{1b}[0m")
        } else {
            text.to_owned()
        }
    }
}
