//! Sentences of what a part of a circuit is there for: `lit DS1 = a`, `current L1 18mA to 22mA = a`.

use crate::include::{keyword, no_colon, no_lines_below};
use crate::model::{Duty, Interface, Part, PartKind, Wanted};
use crate::problems::{Problems, listing};
use crate::sentence;
use crate::words::{AMPERES, Words, above_zero};
use devices::types::TubeKind;
use text::diagnostic::Diagnostic;
use text::source::Span;
use text::tree::{Statement, Word};

const LIT_FORM: &str = "lit DS1 = a";
const CURRENT_FORM: &str = "current L1 18mA to 22mA = a";

/// Whether a line says what a part is there for. `current = a` is no such line: an output may be called `current`.
pub(crate) fn is_duty(line: &Statement) -> bool {
    let second = line
        .head
        .first()
        .and_then(|phrase| phrase.words.get(1))
        .map_or("", |word| word.text.as_str());
    match keyword(line) {
        Some("lit") => true,
        Some("current") => second != "=",
        _ => false,
    }
}

/// What the sentences may speak of.
pub(crate) struct Subject<'a> {
    /// Signals of the circuit.
    pub(crate) interface: &'a Interface,
    /// Its parts.
    pub(crate) parts: &'a [Part],
    /// A line of signals had a fault.
    pub(crate) signals_doubtful: bool,
    /// A line of parts had a fault.
    pub(crate) parts_doubtful: bool,
}

/// Reads the sentences about parts; each part has at most one.
pub(crate) fn read(lines: &[&Statement], subject: &Subject, problems: &mut Problems) -> Vec<Duty> {
    let mut duties: Vec<Duty> = Vec::new();
    for line in lines {
        no_lines_below(line, problems);
        no_colon(line, problems);
        let Some(duty) = subject.sentence(line, problems) else {
            continue;
        };
        match duties.iter().find(|said| said.part == duty.part) {
            Some(first) => {
                let mark = &subject.parts[duty.part].mark;
                let message = format!("what `{mark}` is there for is said twice");
                problems.push(
                    Diagnostic::fault("said-twice", duty.span, message)
                        .remedy("Keep one of the sentences.")
                        .related(first.span, "first said here"),
                );
            }
            None => duties.push(duty),
        }
    }
    duties
}

impl Subject<'_> {
    fn sentence(&self, line: &Statement, problems: &mut Problems) -> Option<Duty> {
        let lit = keyword(line) == Some("lit");
        let form = if lit { LIT_FORM } else { CURRENT_FORM };
        let mut words = Words::of(&line.head, form);
        if !sentence::short_enough(&words, line.span, problems) {
            return None;
        }
        let first = words.next()?;
        let (part, wanted) = if lit {
            (self.lamp(first, &mut words, problems), Wanted::Lit)
        } else {
            let mark = words.want("the mark of a part", problems)?;
            let part = self.part(mark, problems);
            (part, range(&mut words, problems)?)
        };
        words.want_text("=", problems)?;
        let value = sentence::condition(words, self.interface, self.signals_doubtful, problems)?;
        Some(Duty {
            part: part?,
            wanted,
            value,
            span: line.span,
        })
    }

    /// The lamp that is named, or the only one.
    fn lamp(&self, first: &Word, words: &mut Words, problems: &mut Problems) -> Option<usize> {
        let named = words.peek().filter(|word| word.text != "=");
        if let Some(mark) = named {
            words.next();
            let part = self.part(mark, problems)?;
            if !lights(&self.parts[part]) {
                let message = format!("`{}` is no lamp: it does not light", mark.text);
                problems.fault("not-a-lamp", mark.span, message, self.lamps_known());
                return None;
            }
            return Some(part);
        }
        let mut lamps = (0..self.parts.len()).filter(|&part| lights(&self.parts[part]));
        match (lamps.next(), lamps.next()) {
            (Some(only), None) => Some(only),
            (None, _) if self.parts_doubtful => None,
            (None, _) => {
                let message = "the circuit has no lamp that could be lit";
                problems.fault("not-a-lamp", first.span, message, self.lamps_known());
                None
            }
            (Some(_), Some(_)) => {
                let message = "the circuit has several lamps, and this does not say which is lit";
                problems.fault("which-lamp", first.span, message, self.lamps_known());
                None
            }
        }
    }

    fn lamps_known(&self) -> String {
        let lamps: Vec<&str> = self
            .parts
            .iter()
            .filter(|part| lights(part))
            .map(|part| part.mark.as_str())
            .collect();
        if lamps.is_empty() {
            "A neon lamp or an indicator triode lights; add one, or leave the sentence out."
                .to_owned()
        } else {
            format!(
                "Lamps of this circuit: {}. The form is `{LIT_FORM}`.",
                listing(&lamps)
            )
        }
    }

    fn part(&self, mark: &Word, problems: &mut Problems) -> Option<usize> {
        let part = self.parts.iter().position(|part| part.mark == mark.text);
        if part.is_none() && !self.parts_doubtful {
            problems.unknown(
                "unknown-part",
                mark,
                "part of this circuit",
                self.parts.iter().map(|part| part.mark.as_str()),
                "Name a part of the circuit by its mark.",
            );
        }
        part
    }
}

fn lights(part: &Part) -> bool {
    match &part.kind {
        PartKind::Neon { .. } => true,
        PartKind::Tube(tube) => tube.device.kind == TubeKind::IndicatorTriode,
        _ => false,
    }
}

/// `18mA to 22mA`.
fn range(words: &mut Words, problems: &mut Problems) -> Option<Wanted> {
    let first = words.peek()?.span;
    let least = words.want_value(&AMPERES, problems)?;
    words.want_text("to", problems)?;
    let last = words.peek().map_or(first, |word| word.span);
    let most = words.want_value(&AMPERES, problems)?;
    let span: Span = first.to(last);
    if !above_zero(least, span, "the smallest current", problems) {
        return None;
    }
    if most < least {
        let message = "the second current is smaller than the first";
        let remedy = format!("Write the smaller one first; the form is `{CURRENT_FORM}`.");
        problems.fault("range-backward", span, message, remedy);
        return None;
    }
    Some(Wanted::Amps { least, most })
}
