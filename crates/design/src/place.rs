//! Where a value is written, so that it can be changed without touching anything else.

use crate::model::Design;
use text::source::Span;

/// The place of the value word of a part of a circuit (`nor3.R3`), or of the volts of a rail (`upper`).
#[must_use]
pub fn find_value(design: &Design, name: &str) -> Option<Span> {
    match name.split_once('.') {
        None => design
            .rails
            .iter()
            .find(|rail| rail.name == name)
            .map(|rail| rail.volts_span),
        Some((circuit, mark)) => {
            let circuit = design.circuits.iter().find(|other| other.name == circuit)?;
            circuit
                .parts
                .iter()
                .find(|part| part.mark == mark)
                .map(|part| part.value_span)
        }
    }
}
