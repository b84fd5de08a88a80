//! Going through the words of a statement one by one, and the names and values that they may be.

use crate::problems::Problems;
use text::quantity::{self, QuantityError, Unit};
use text::source::Span;
use text::tree::{Phrase, TokenKind, Word};

/// The words of one or more phrases, notes left out, read from left to right.
#[derive(Debug, Clone)]
pub(crate) struct Words<'a> {
    words: Vec<&'a Word>,
    next: usize,
    /// How such a phrase is written, for messages.
    form: &'static str,
}

impl<'a> Words<'a> {
    /// The words of several phrases, one after the other.
    pub(crate) fn of(phrases: &'a [Phrase], form: &'static str) -> Self {
        let words = phrases.iter().flat_map(|phrase| &phrase.words);
        Self {
            words: words.filter(|word| word.kind != TokenKind::Note).collect(),
            next: 0,
            form,
        }
    }

    /// The words of one phrase.
    pub(crate) fn phrase(phrase: &'a Phrase, form: &'static str) -> Self {
        Self::of(std::slice::from_ref(phrase), form)
    }

    /// The words still to come.
    pub(crate) fn rest(&self) -> &[&'a Word] {
        &self.words[self.next..]
    }

    /// The next word, left in place.
    pub(crate) fn peek(&self) -> Option<&'a Word> {
        self.words.get(self.next).copied()
    }

    /// The next word.
    pub(crate) fn next(&mut self) -> Option<&'a Word> {
        let word = self.peek()?;
        self.next += 1;
        Some(word)
    }

    /// Goes past the next word if it is this one, and gives it.
    pub(crate) fn take(&mut self, text: &str) -> Option<&'a Word> {
        self.peek()
            .filter(|word| word.text == text)
            .and_then(|_| self.next())
    }

    /// The next word, or a fault that says what is missing.
    pub(crate) fn want(&mut self, what: &str, problems: &mut Problems) -> Option<&'a Word> {
        let word = self.next();
        if word.is_none()
            && let Some(last) = self.words.last()
        {
            let message = format!("after `{}` {what} is missing", last.text);
            problems.fault("word-missing", last.span, message, self.remedy());
        }
        word
    }

    /// Goes past this word, or faults.
    pub(crate) fn want_text(&mut self, text: &str, problems: &mut Problems) -> Option<&'a Word> {
        let word = self.want(&format!("the word `{text}`"), problems)?;
        if word.text == text {
            return Some(word);
        }
        let message = format!(
            "here stands `{}` where the word `{text}` belongs",
            word.text
        );
        problems.fault("word-expected", word.span, message, self.remedy());
        None
    }

    /// The next word as a value with this meaning, or a fault.
    pub(crate) fn want_value(&mut self, measure: &Measure, problems: &mut Problems) -> Option<f64> {
        let word = self.want(measure.what, problems)?;
        value(word, measure, problems)
    }

    /// The tolerance that comes next of what `name` names, 0 when none does, with a caution.
    pub(crate) fn tolerance(
        &mut self,
        name: &Word,
        of: Toleranced,
        problems: &mut Problems,
    ) -> f64 {
        self.stated_tolerance(of, problems).unwrap_or_else(|| {
            tolerance_missing(name, problems);
            0.0
        })
    }

    /// The tolerance that comes next, where one does.
    pub(crate) fn stated_tolerance(
        &mut self,
        of: Toleranced,
        problems: &mut Problems,
    ) -> Option<f64> {
        let word = self.peek()?;
        let value = quantity::parse(&word.text).ok()?;
        if value.unit != Unit::Percent {
            return None;
        }
        self.next();
        Some(tolerance(value.value, word, of, problems))
    }

    /// Goes past all that is left, where a fault has been said of it.
    pub(crate) fn skip(&mut self) {
        self.next = self.words.len();
    }

    /// Faults when words are left over.
    pub(crate) fn finish(&self, problems: &mut Problems) {
        if let (Some(first), Some(last)) = (self.peek(), self.words.last()) {
            let message = format!("the statement is complete before `{}`", first.text);
            problems.fault(
                "words-left-over",
                first.span.to(last.span),
                message,
                self.remedy(),
            );
        }
    }

    fn remedy(&self) -> String {
        format!("The form is `{}`.", self.form)
    }
}

/// What a value means and how it is written.
#[derive(Debug)]
pub(crate) struct Measure {
    /// For messages: `a resistance`.
    pub(crate) what: &'static str,
    /// The unit.
    pub(crate) unit: Unit,
    /// May stand without its unit.
    pub(crate) bare: bool,
    /// How one is written.
    pub(crate) example: &'static str,
}

pub(crate) const OHMS: Measure = Measure {
    what: "a resistance",
    unit: Unit::Ohm,
    bare: true,
    example: "680k",
};
pub(crate) const FARADS: Measure = Measure {
    what: "a capacitance",
    unit: Unit::Farad,
    bare: true,
    example: "220u",
};
pub(crate) const VOLTS: Measure = Measure {
    what: "a voltage",
    unit: Unit::Volt,
    bare: false,
    example: "36V",
};
pub(crate) const AMPERES: Measure = Measure {
    what: "a current",
    unit: Unit::Ampere,
    bare: false,
    example: "600mA",
};
pub(crate) const PERCENT: Measure = Measure {
    what: "a percentage",
    unit: Unit::Percent,
    bare: false,
    example: "5%",
};
pub(crate) const SECONDS: Measure = Measure {
    what: "a time",
    unit: Unit::Second,
    bare: false,
    example: "60s",
};
pub(crate) const CELSIUS: Measure = Measure {
    what: "a temperature",
    unit: Unit::Celsius,
    bare: false,
    example: "45C",
};
pub(crate) const LENGTH: Measure = Measure {
    what: "a length",
    unit: Unit::Metre,
    bare: false,
    example: "160mm",
};

/// The word as a value with this meaning, in the coherent SI unit.
pub(crate) fn value(word: &Word, measure: &Measure, problems: &mut Problems) -> Option<f64> {
    let quantity = quantity::parse(&word.text)
        .map_err(|error| bad_value(word, &error, measure.what, measure.example, problems))
        .ok()?;
    if quantity.unit == measure.unit || (measure.bare && quantity.unit == Unit::None) {
        return Some(quantity.value);
    }
    let message = format!("`{}` is not {}", word.text, measure.what);
    problems.fault(
        "wrong-unit",
        word.span,
        message,
        format!("It is written like `{}`.", measure.example),
    );
    None
}

/// Says why a word is no value.
pub(crate) fn bad_value(
    word: &Word,
    error: &QuantityError,
    what: &str,
    example: &str,
    problems: &mut Problems,
) {
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
    problems.fault(
        name,
        word.span,
        message,
        format!("It is written like `{example}`."),
    );
}

/// Faults unless the value is larger than zero.
pub(crate) fn above_zero(value: f64, span: Span, what: &str, problems: &mut Problems) -> bool {
    if value <= 0.0 {
        let message = format!("{what} is zero or negative");
        problems.fault(
            "value-not-positive",
            span,
            message,
            "Write a value above zero.",
        );
    }
    value > 0.0
}

/// Cautions when a value lies outside what is found on benches.
pub(crate) fn usual(
    value: f64,
    usual: (f64, f64),
    word: &Word,
    what: &str,
    problems: &mut Problems,
) {
    if value < usual.0 || value > usual.1 {
        let message = format!("`{}` is far from any usual {what}", word.text);
        problems.caution(
            "value-odd",
            word.span,
            message,
            "Look at the prefix: `m` is a thousandth, `M` a million.",
        );
    }
}

/// What a tolerance is stated of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Toleranced {
    Part,
    Rail,
}

/// A relative tolerance within reason: faults at 100 % and more, cautions above 50 %.
pub(crate) fn tolerance(value: f64, word: &Word, of: Toleranced, problems: &mut Problems) -> f64 {
    if !(0.0..1.0).contains(&value) {
        let message = format!(
            "a tolerance of `{}` is not from 0 to below 100 %",
            word.text
        );
        problems.fault(
            "tolerance-odd",
            word.span,
            message,
            "Write what the part or the supply is sold with; it is written like `5%`.",
        );
        return 0.0;
    }
    if value > 0.5 {
        let (wider, remedy) = match of {
            Toleranced::Part => (
                "any part is sold with",
                "Look at the figures, usually one too many; the widest resistors are sold with 20 %. Leave it if the part is really so far off.",
            ),
            Toleranced::Rail => (
                "that of any supply in use",
                "Look at the figures, usually one too many: the volts of this rail would stand anywhere from less than half of what is typed to more than half as much again. Leave it if the supply is really so far off.",
            ),
        };
        let message = format!("a tolerance of `{}` is wider than {wider}", word.text);
        problems.caution("tolerance-odd", word.span, message, remedy);
    }
    value
}

/// Says that a tolerance is missing.
pub(crate) fn tolerance_missing(word: &Word, problems: &mut Problems) {
    let message = format!(
        "`{}` states no tolerance, so it is taken as exact and the worst case is too kind",
        word.text
    );
    problems.caution(
        "tolerance-missing",
        word.span,
        message,
        "Add one after the value, such as `5%`.",
    );
}

/// Words with a meaning of their own, which name nothing: the electrodes, and the small words of the sentences.
pub(crate) const RESERVED: &[&str] = &[
    "plate",
    "anode",
    "grid",
    "screen",
    "suppressor",
    "cathode",
    "filament",
    "heater",
    "ground",
    "to",
    "open",
    "closed",
    "up",
    "down",
    "not",
    "and",
    "or",
    "xor",
    "when",
    "falls",
    "rises",
    "in",
    "from",
    "with",
    "half",
    "before",
    "after",
    "each",
    "all",
    "slider",
    "at",
    "through",
    "tapped",
    "beside",
    "back",
    "by",
    "lit",
];

/// Whether the word can name something; faults when it cannot.
pub(crate) fn check_name(word: &Word, problems: &mut Problems) -> bool {
    check_dotted_name(word, problems)
        && {
            let dotted = word.text.contains('.');
            if dotted {
                let message = format!(
                    "the name `{}` has a dot in it; dots join the name of a thing and of what is inside it",
                    word.text
                );
                problems.fault("bad-name", word.span, message, "Leave the dot out.");
            }
            !dotted
        }
}

/// Whether the word can name a net, in which dots may stand (`gauge.2`); faults when it cannot.
pub(crate) fn check_dotted_name(word: &Word, problems: &mut Problems) -> bool {
    if RESERVED.contains(&word.text.as_str()) {
        let message = format!(
            "`{}` has a meaning of its own and names nothing else",
            word.text
        );
        problems.fault("reserved-word", word.span, message, "Choose another name.");
        return false;
    }
    let sound = word.kind == TokenKind::Word
        && word.text.starts_with(|c: char| c.is_alphabetic())
        && word.text.split('.').all(|part| !part.is_empty());
    if !sound {
        let message = format!("`{}` is no name", word.text);
        problems.fault(
            "bad-name",
            word.span,
            message,
            "A name begins with a letter.",
        );
    }
    sound
}

/// Whether the word can stand for a net: a name, or `ground`.
pub(crate) fn check_net(word: &Word, problems: &mut Problems) -> bool {
    word.text == "ground" || check_dotted_name(word, problems)
}
