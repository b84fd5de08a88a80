//! Words, values and notes of a phrase.

use crate::types::{Mark, Sourced};
use text::diagnostic::Diagnostic;
use text::nearest::nearest;
use text::quantity::{self, QuantityError, Unit};
use text::source::Span;
use text::tree::{Phrase, Statement, TokenKind, Word};

/// What a value means, how it is written, and between which values it makes sense.
pub(super) struct Measure {
    /// For messages: `a voltage`.
    pub(super) what: &'static str,
    unit: Unit,
    /// May stand without its unit.
    bare: bool,
    example: &'static str,
    /// Smallest and largest; chosen far outside anything on a bench.
    range: (f64, f64),
}

const fn measure(
    what: &'static str,
    unit: Unit,
    example: &'static str,
    range: (f64, f64),
) -> Measure {
    Measure {
        what,
        unit,
        bare: matches!(unit, Unit::None | Unit::Ohm | Unit::Farad),
        example,
        range,
    }
}

impl Measure {
    /// The same with another smallest value.
    pub(super) const fn from(mut self, smallest: f64) -> Self {
        self.range.0 = smallest;
        self
    }
}

pub(super) const VOLTS: Measure = measure("a voltage", Unit::Volt, "300V", (1e-3, 1e5));
pub(super) const SIGNED_VOLTS: Measure = measure("a voltage", Unit::Volt, "-8.5V", (-1e5, 1e5));
pub(super) const AMPERES: Measure = measure("a current", Unit::Ampere, "10mA", (1e-12, 1e3));
pub(super) const AMPERES_OR_NONE: Measure = measure("a current", Unit::Ampere, "10mA", (0.0, 1e3));
pub(super) const WATTS: Measure = measure("a power", Unit::Watt, "2.5W", (1e-6, 1e5));
pub(super) const OHMS: Measure = measure("a resistance", Unit::Ohm, "470k", (1e-3, 1e12));
pub(super) const OHMS_OR_NONE: Measure = measure("a resistance", Unit::Ohm, "0.57", (0.0, 1e12));
pub(super) const FARADS: Measure = measure("a capacitance", Unit::Farad, "1.5p", (1e-16, 1e-3));
pub(super) const SLOPE: Measure = measure("a slope", Unit::AmperePerVolt, "2.2mA/V", (1e-12, 1e3));
pub(super) const SECONDS: Measure = measure("a time", Unit::Second, "11s", (3.0, 300.0));
pub(super) const SPREAD: Measure = measure("a spread", Unit::Percent, "8.3%", (0.0, 0.5));
/// Whose limits the reader of each word knows.
pub(super) const SHARE: Measure = measure("a share", Unit::Percent, "85%", (-1e6, 1e6));
pub(super) const SIGNED_AMPERES: Measure = measure("a current", Unit::Ampere, "200nA", (-1e3, 1e3));
pub(super) const FACTOR: Measure = measure("a plain number", Unit::None, "3", (-1e9, 1e9));
pub(super) const NUMBER: Measure = measure("a plain number", Unit::None, "17", (1e-12, 1e9));

/// A plain number within these limits.
pub(super) const fn number_within(low: f64, high: f64) -> Measure {
    measure("a plain number", Unit::None, "1.4", (low, high))
}

/// Everything there is to say about a statement.
#[derive(Default)]
pub(super) struct Problems {
    pub(super) all: Vec<Diagnostic>,
}

impl Problems {
    pub(super) fn fault(
        &mut self,
        name: &'static str,
        span: Span,
        message: String,
        remedy: impl Into<String>,
    ) {
        self.all
            .push(Diagnostic::fault(name, span, message).remedy(remedy));
    }

    pub(super) fn caution(
        &mut self,
        name: &'static str,
        span: Span,
        message: String,
        remedy: impl Into<String>,
    ) {
        self.all
            .push(Diagnostic::caution(name, span, message).remedy(remedy));
    }

    /// A word that is none of the known ones.
    pub(super) fn unknown<'a>(
        &mut self,
        name: &'static str,
        word: &Word,
        what: &str,
        known: impl Iterator<Item = &'a str> + Clone,
    ) {
        let message = format!("`{}` is no {what}", word.text);
        let remedy = match nearest(&word.text, known.clone()) {
            Some(near) => format!("Is `{near}` meant?"),
            None => format!(
                "One of these belongs here: {}.",
                known.collect::<Vec<_>>().join(", ")
            ),
        };
        self.fault(name, word.span, message, remedy);
    }

    /// Something said a second time.
    pub(super) fn twice(&mut self, what: &str, second: Span, first: Span) {
        let message = format!("{what} is said twice; the first counts");
        let problem = Diagnostic::fault("said-twice", second, message).remedy("Keep one of them.");
        self.all.push(problem.related(first, "first said here"));
    }
}

/// The words of a phrase from left to right, and its note.
#[derive(Clone)]
pub(super) struct Words<'a> {
    words: Vec<&'a Word>,
    next: usize,
    note: Option<&'a Word>,
    /// How such a phrase is written, for messages.
    form: &'static str,
    pub(super) span: Span,
}

impl<'a> Words<'a> {
    pub(super) fn new(phrase: &'a Phrase, form: &'static str) -> Self {
        Self {
            words: phrase
                .words
                .iter()
                .filter(|word| word.kind != TokenKind::Note)
                .collect(),
            next: 0,
            note: phrase.note(),
            form,
            span: phrase.span,
        }
    }

    pub(super) fn peek(&self) -> Option<&'a Word> {
        self.words.get(self.next).copied()
    }

    pub(super) fn next(&mut self) -> Option<&'a Word> {
        let word = self.peek()?;
        self.next += 1;
        Some(word)
    }

    /// Goes past the next word if it is this one.
    pub(super) fn take(&mut self, text: &str) -> bool {
        let is_it = self.peek().is_some_and(|word| word.text == text);
        self.next += usize::from(is_it);
        is_it
    }

    /// The next word, or a fault that says what is missing.
    pub(super) fn want(&mut self, what: &str, problems: &mut Problems) -> Option<&'a Word> {
        let word = self.next();
        if word.is_none() {
            let after = self
                .words
                .last()
                .map_or_else(String::new, |last| format!("after `{}` ", last.text));
            problems.fault(
                "word-missing",
                self.span,
                format!("{after}{what} is missing"),
                self.remedy(),
            );
        }
        word
    }

    /// The next word as a value, or a fault.
    pub(super) fn value(&mut self, measure: &Measure, problems: &mut Problems) -> Option<f64> {
        let word = self.want(measure.what, problems)?;
        value(word, measure, problems)
    }

    /// The next word as a value with the note of this phrase, or else with the note of the line.
    pub(super) fn sourced(
        &mut self,
        measure: &Measure,
        line: &Credit,
        problems: &mut Problems,
    ) -> Option<Sourced<f64>> {
        let value = self.value(measure, problems)?;
        Some(self.credit(line).source(value))
    }

    /// The note of this phrase, or else that of the line.
    pub(super) fn credit(&self, line: &Credit) -> Credit {
        self.note.map_or_else(|| line.clone(), Credit::read)
    }

    /// Faults when words are left over.
    pub(super) fn finish(&self, problems: &mut Problems) {
        if let (Some(first), Some(last)) = (self.peek(), self.words.last()) {
            let message = format!("the phrase is complete before `{}`", first.text);
            problems.fault(
                "words-left-over",
                first.span.to(last.span),
                message,
                self.remedy(),
            );
        }
    }

    pub(super) fn remedy(&self) -> String {
        format!("The form is `{}`.", self.form)
    }
}

/// Phrases after the colon, or a fault that it is missing.
pub(super) fn body<'a>(
    line: &'a Statement,
    form: &'static str,
    problems: &mut Problems,
) -> &'a [Phrase] {
    line.body.as_deref().unwrap_or_else(|| {
        let message = format!("after `{}` a colon is missing", line.kind());
        problems.fault(
            "colon-missing",
            line.span,
            message,
            format!("The form is `{form}`."),
        );
        &[]
    })
}

/// Where values come from: the note `[seen S10]`.
#[derive(Clone)]
pub(super) struct Credit {
    pub(super) mark: Mark,
    pub(super) source: String,
}

impl Credit {
    /// Nothing is said.
    pub(super) const NONE: Self = Self {
        mark: Mark::Unmarked,
        source: String::new(),
    };

    /// The first word of a note is a mark or belongs to the source.
    fn read(note: &Word) -> Self {
        let (first, rest) = note
            .text
            .split_once(char::is_whitespace)
            .unwrap_or((&note.text, ""));
        let marked = Mark::WRITTEN
            .iter()
            .find(|(word, _)| *word == first.trim_end_matches(','));
        match marked {
            Some(&(_, mark)) => Self {
                mark,
                source: rest.trim().to_owned(),
            },
            None => Self {
                mark: Mark::Unmarked,
                source: note.text.trim().to_owned(),
            },
        }
    }

    /// The note of a line that holds for all its values.
    pub(super) fn of_line(line: &Statement) -> Self {
        line.head
            .iter()
            .find_map(Phrase::note)
            .map_or(Self::NONE, Self::read)
    }

    pub(super) fn source<T>(self, value: T) -> Sourced<T> {
        Sourced {
            value,
            mark: self.mark,
            source: self.source,
        }
    }
}

/// The word as a value in the coherent SI unit, or a fault.
fn value(word: &Word, measure: &Measure, problems: &mut Problems) -> Option<f64> {
    let Measure { what, example, .. } = measure;
    let remedy = format!("It is written like `{example}`.");
    let quantity = match quantity::parse(&word.text) {
        Ok(quantity) => quantity,
        Err(error) => {
            let (name, message) = match error {
                QuantityError::NotANumber => (
                    "not-a-value",
                    format!("`{}` stands where {what} belongs", word.text),
                ),
                QuantityError::UnknownUnit(unit) => (
                    "unknown-unit",
                    format!(
                        "`{unit}` in `{}` is no unit and no prefix of one",
                        word.text
                    ),
                ),
                QuantityError::OutOfRange => (
                    "value-odd",
                    format!("`{}` is beyond anything on a bench", word.text),
                ),
            };
            problems.fault(name, word.span, message, remedy);
            return None;
        }
    };
    let is_bare = quantity.unit == Unit::None && (measure.bare || quantity.value == 0.0);
    if quantity.unit != measure.unit && !is_bare {
        problems.fault(
            "wrong-unit",
            word.span,
            format!("`{}` is not {what}", word.text),
            remedy,
        );
        return None;
    }
    let (low, high) = measure.range;
    if quantity.value <= 0.0 && low > 0.0 {
        let message = format!(
            "`{}` is zero or negative where {what} above zero belongs",
            word.text
        );
        problems.fault(
            "value-not-positive",
            word.span,
            message,
            "Write a value above zero; a limit is written without its sign.",
        );
        return None;
    }
    if !(low..=high).contains(&quantity.value) {
        let message = format!("`{}` is far outside what makes sense here", word.text);
        problems.fault(
            "value-odd",
            word.span,
            message,
            "Look at the prefix: `m` is a thousandth, `M` a million.",
        );
        return None;
    }
    Some(quantity.value)
}
