//! What the semiconductor diodes of the machine stand at: `temperature 15C to 45C`.

use crate::include::{no_colon, no_lines_below};
use crate::kinds::Kinds;
use crate::model::PartKind;
use crate::problems::Problems;
use crate::words::{CELSIUS, Words};
use devices::diode::ZERO_CELSIUS_KELVIN;
use text::diagnostic::Diagnostic;
use text::source::Span;
use text::tree::Statement;

const FORM: &str = "temperature 15C to 45C";
/// Beyond these no diode of a machine is used, degrees Celsius: chosen; sheets of silicon end at 150 C and more, germanium far below.
const LIMITS: (f64, f64) = (-40.0, 150.0);

/// The temperature so far, with the place where it is given.
#[derive(Debug, Default)]
pub(crate) struct Temperature {
    /// Lowest and highest, K.
    pub(crate) kelvin: Option<(f64, f64)>,
    given: Option<Span>,
}

impl Temperature {
    /// Reads a `temperature` statement.
    pub(crate) fn add(&mut self, statement: &Statement, problems: &mut Problems) {
        no_lines_below(statement, problems);
        no_colon(statement, problems);
        if let Some(first) = self.given {
            let problem = Diagnostic::fault(
                "said-twice",
                statement.span,
                "the temperature of the diodes is given twice",
            )
            .remedy("Keep one of them: all diodes of a machine share one temperature.");
            problems.push(problem.related(first, "first given here"));
            return;
        }
        self.given = Some(statement.span);
        let mut words = Words::of(&statement.head, FORM);
        words.next();
        let first = words.peek();
        let low = words.want_value(&CELSIUS, problems);
        if low.is_none() || words.want_text("to", problems).is_none() {
            return;
        }
        let last = words.peek();
        let high = words.want_value(&CELSIUS, problems);
        words.finish(problems);
        let (Some(low), Some(high), Some(first), Some(last)) = (low, high, first, last) else {
            return;
        };
        let span = first.span.to(last.span);
        let outside = [(low, first), (high, last)]
            .into_iter()
            .find(|(value, _)| !(LIMITS.0..=LIMITS.1).contains(value));
        if let Some((_, word)) = outside {
            let message = format!("`{}` is not from -40C to 150C", word.text);
            let remedy = "Write the degrees Celsius at the diodes: the room, and what the cabinet is warmer.";
            problems.fault("temperature-odd", word.span, message, remedy);
        } else if high < low {
            let message = format!("`{}` is above `{}`", first.text, last.text);
            let remedy =
                "Write the lowest temperature first; for one that does not move write it twice.";
            problems.fault("temperature-odd", span, message, remedy);
        } else {
            self.kelvin = Some((low + ZERO_CELSIUS_KELVIN, high + ZERO_CELSIUS_KELVIN));
        }
    }

    /// Cautions where the design has no semiconductor diode.
    pub(crate) fn check_used(&self, kinds: &Kinds, problems: &mut Problems) {
        let Some(given) = self.given else { return };
        let mut parts = kinds.circuits.iter().flat_map(|circuit| &circuit.parts);
        if !parts.any(|part| matches!(part.kind, PartKind::Diode { .. })) {
            let message = "no circuit of the design has a semiconductor diode, and nothing else follows a temperature";
            problems.caution("temperature-unused", given, message, "Leave it out.");
        }
    }
}
