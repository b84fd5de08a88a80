//! The kinds of part with two ends, and the values that are written with them: `680k 5% 0.5W`.

use crate::problems::Problems;
use crate::words::{self, PERCENT, Words};
use text::quantity::{self, Unit, show};
use text::tree::Word;

/// The kinds of part with two ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    Resistor,
    Trimmer,
    Capacitor,
    Inductor,
    Diode,
    Neon,
    Switch,
    Source,
}

/// What is to be known about a kind.
pub(crate) struct Facts {
    pub(crate) kind: Kind,
    /// The word that begins a line, for one part and for several.
    pub(crate) words: [&'static str; 2],
    /// Class letters of the marks: IEEE 315-1975, clause 22 (from memory). The first is named in messages.
    pub(crate) letters: &'static [&'static str],
    /// How a phrase is written.
    pub(crate) form: &'static str,
    /// Unit of the main value.
    pub(crate) unit: Unit,
    /// Smallest and largest main value found on benches (common practice, no source).
    pub(crate) usual: (f64, f64),
}

const FACTS: [Facts; 8] = [
    Facts {
        kind: Kind::Resistor,
        words: ["resistor", "resistors"],
        letters: &["R", "RT", "RV"],
        form: "resistors 5%: R1 680k join to g1",
        unit: Unit::Ohm,
        usual: (0.1, 1e10),
    },
    Facts {
        kind: Kind::Trimmer,
        words: ["trimmer", "trimmers"],
        letters: &["R"],
        form: "trimmers 20%: R9 100k upper to x slider w at 40%",
        unit: Unit::Ohm,
        usual: (1.0, 1e8),
    },
    Facts {
        kind: Kind::Capacitor,
        words: ["capacitor", "capacitors"],
        letters: &["C"],
        form: "capacitors 10% 100V: C1 15p join to g1",
        unit: Unit::Farad,
        usual: (1e-13, 0.1),
    },
    Facts {
        kind: Kind::Inductor,
        words: ["inductor", "inductors"],
        letters: &["L"],
        form: "inductors: L1 2H 100ohm a to b",
        unit: Unit::Henry,
        usual: (1e-8, 1e3),
    },
    Facts {
        kind: Kind::Diode,
        words: ["diode", "diodes"],
        letters: &["CR", "D", "VR"],
        form: "diodes 1N4148: CR1 a to join",
        unit: Unit::None,
        usual: (0.0, 0.0),
    },
    Facts {
        kind: Kind::Neon,
        words: ["neon", "neons"],
        letters: &["DS"],
        form: "neons NE-2: DS1 upper to n",
        unit: Unit::None,
        usual: (0.0, 0.0),
    },
    Facts {
        kind: Kind::Switch,
        words: ["switch", "switches"],
        letters: &["S"],
        form: "switches: S1 a to b open",
        unit: Unit::None,
        usual: (0.0, 0.0),
    },
    Facts {
        kind: Kind::Source,
        words: ["source", "sources"],
        letters: &["BT", "E", "G", "PS"],
        form: "sources: BT1 5V plus to minus",
        unit: Unit::Volt,
        usual: (0.0, 3000.0),
    },
];

impl Kind {
    /// The kind that a line's first word names.
    pub(crate) fn of(word: &str) -> Option<Kind> {
        FACTS
            .iter()
            .find(|facts| facts.words.contains(&word))
            .map(|facts| facts.kind)
    }

    /// What is to be known about it.
    pub(crate) fn facts(self) -> &'static Facts {
        &FACTS[self as usize]
    }

    /// Whether parts of this kind are told by a type, not by a value.
    pub(crate) fn has_type(self) -> bool {
        matches!(self, Kind::Diode | Kind::Neon)
    }
}

/// The values of a phrase or of the head of a line, each with its word.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Values<'a> {
    pub(crate) main: Option<(f64, &'a Word)>,
    pub(crate) type_name: Option<&'a Word>,
    pub(crate) tolerance: Option<f64>,
    pub(crate) drift: Option<f64>,
    pub(crate) hollow: Option<(f64, &'a Word)>,
    pub(crate) watts: Option<f64>,
    pub(crate) volts: Option<f64>,
    pub(crate) winding: Option<(f64, &'a Word)>,
    /// The main value is of the phrase (or head) being read, and no default from the head.
    pub(crate) main_is_own: bool,
    /// The units of the further values of the phrase (or head) being read, a bit for each.
    pub(crate) own_units: u32,
}

impl Facts {
    /// Whether the sentence of such a part states a tolerance.
    fn has_tolerance(&self) -> bool {
        matches!(self.kind, Kind::Resistor | Kind::Trimmer | Kind::Capacitor)
    }

    /// How a line of such parts is written, as a remedy.
    pub(crate) fn remedy(&self) -> String {
        format!("The form is `{}`.", self.form)
    }
}

impl<'a> Values<'a> {
    /// Takes the next word as one of the values, or two as the drift or the hollow part; false, with a fault, when it is none of this kind of
    /// part.
    pub(crate) fn add(
        &mut self,
        kind: Kind,
        words: &mut Words<'a>,
        problems: &mut Problems,
    ) -> bool {
        let facts = kind.facts();
        let Some(word) = words.next() else {
            return false;
        };
        if kind == Kind::Resistor && word.text == "drift" {
            self.drift = drift(word, words, problems);
            return self.drift.is_some();
        }
        if kind == Kind::Resistor && word.text == "hollow" {
            self.hollow = hollow(word, words, problems);
            return self.hollow.is_some();
        }
        if kind.has_type() {
            if self.is_again(Unit::None, facts, word, problems) {
                return false;
            }
            self.type_name = Some(word);
            return true;
        }
        let quantity = match quantity::parse(&word.text) {
            Ok(quantity) => quantity,
            Err(error) => {
                words::bad_value(word, &error, "a value", facts.form, problems);
                return false;
            }
        };
        let value = quantity.value;
        if quantity.unit != facts.unit
            && quantity.unit != Unit::None
            && self.is_again(quantity.unit, facts, word, problems)
        {
            return false;
        }
        let resistive = matches!(kind, Kind::Resistor | Kind::Trimmer);
        match quantity.unit {
            Unit::Percent if facts.has_tolerance() => {
                self.tolerance = Some(words::tolerance(
                    value,
                    word,
                    words::Toleranced::Part,
                    problems,
                ));
            }
            Unit::Watt if resistive => {
                self.watts = positive(value, word, "the rated power", problems);
            }
            Unit::Volt if kind == Kind::Capacitor => {
                self.volts = positive(value, word, "the rated voltage", problems);
            }
            Unit::Ohm if kind == Kind::Inductor => self.winding = Some((value, word)),
            unit if unit == facts.unit || (unit == Unit::None && facts.unit != Unit::None) => {
                if let Some((_, first)) = self.main.filter(|_| self.main_is_own) {
                    let message = format!(
                        "`{}` and `{}` are both values of one {}",
                        first.text, word.text, facts.words[0]
                    );
                    let mut remedy = facts.remedy();
                    if kind == Kind::Inductor {
                        remedy = format!(
                            "Write `{}ohm` for the resistance of the winding. {remedy}",
                            word.text
                        );
                    }
                    problems.fault("said-twice", word.span, message, remedy);
                    return false;
                }
                self.main = Some((value, word));
                self.main_is_own = true;
            }
            _ => {
                let message = format!("`{}` is no value of a {}", word.text, facts.words[0]);
                problems.fault("wrong-unit", word.span, message, facts.remedy());
                return false;
            }
        }
        true
    }

    /// Whether a value of this unit was stated before in the same phrase (or head), with a fault.
    fn is_again(
        &mut self,
        unit: Unit,
        facts: &Facts,
        word: &Word,
        problems: &mut Problems,
    ) -> bool {
        let bit = 1 << unit as u32;
        let again = self.own_units & bit != 0;
        self.own_units |= bit;
        if again {
            let message = format!(
                "`{}` says a second time what was said of the {}",
                word.text, facts.words[0]
            );
            problems.fault("said-twice", word.span, message, "Keep one of them.");
        }
        again
    }

    /// The main value, checked; faults when there is none.
    pub(crate) fn main(
        &self,
        kind: Kind,
        mark: &Word,
        problems: &mut Problems,
    ) -> Option<(f64, &'a Word)> {
        let facts = kind.facts();
        let Some((value, word)) = self.main else {
            let message = format!("`{}` has no value", mark.text);
            problems.fault("value-missing", mark.span, message, facts.remedy());
            return None;
        };
        if kind != Kind::Source {
            positive(
                value,
                word,
                &format!("the value of `{}`", mark.text),
                problems,
            )?;
        }
        words::usual(value.abs(), facts.usual, word, facts.words[0], problems);
        Some((value, word))
    }

    /// The tolerance; cautions when a part that should state one does not.
    pub(crate) fn tolerance(&self, kind: Kind, mark: &Word, problems: &mut Problems) -> f64 {
        if self.tolerance.is_none() && kind.facts().has_tolerance() {
            words::tolerance_missing(mark, problems);
        }
        self.tolerance.unwrap_or(0.0)
    }

    /// How far from its marking either way no resistor stands; faults where that leaves nothing of its tolerance.
    pub(crate) fn hollow(&self, mark: &Word, problems: &mut Problems) -> Option<f64> {
        let tolerance = self.tolerance.unwrap_or(0.0);
        within(&mark.text, self.hollow?, tolerance, problems)
    }

    /// The resistance of a winding, 0 when not stated; `None`, with a fault, when negative.
    pub(crate) fn winding_ohms(&self, problems: &mut Problems) -> Option<f64> {
        match self.winding {
            Some((ohms, word)) if ohms < 0.0 => {
                positive(ohms, word, "the winding resistance", problems)
            }
            Some((ohms, _)) => Some(ohms),
            None => Some(0.0),
        }
    }
}

/// Largest drift that is taken, as a share of the marked value; chosen, because one that has doubled is replaced and not
/// designed for.
const LARGEST_DRIFT: f64 = 1.0;

/// `drift 20%`: how far a resistor may have risen with age.
fn drift(keyword: &Word, words: &mut Words, problems: &mut Problems) -> Option<f64> {
    let (share, word) = percentage(keyword, words, problems)?;
    if !(0.0..=LARGEST_DRIFT).contains(&share) {
        let message = format!("a drift of `{}` is not between 0 and 100 %", word.text);
        let remedy = "Write how far it may have risen above its marking, like `drift 20%`; replace a resistor that has doubled.";
        problems.fault("drift-odd", word.span, message, remedy);
        return None;
    }
    Some(share)
}

/// What to do about a hollow part that makes no sense.
const HOLLOW_REMEDY: &str = "Write the tolerance of those that were picked out, less than the own one: `5% hollow 2%`; of a resistor whose band is even `hollow 0%`.";

/// The hollow part, where it leaves something of the tolerance of what `name` is.
fn within(
    name: &str,
    (share, word): (f64, &Word),
    tolerance: f64,
    problems: &mut Problems,
) -> Option<f64> {
    if share == 0.0 || share < tolerance {
        return Some(share);
    }
    let message = format!(
        "`{name}` is hollow by {}, and its tolerance is {}: no resistor would be left",
        word.text,
        show(tolerance, Unit::Percent, 3)
    );
    problems.fault("hollow-odd", word.span, message, HOLLOW_REMEDY);
    None
}

/// The hollow part that comes next of a resistor of so many ohms, where one does.
pub(crate) fn stated_hollow(
    words: &mut Words,
    ohms: &str,
    tolerance: f64,
    problems: &mut Problems,
) -> Option<f64> {
    let keyword = words.take("hollow")?;
    within(ohms, hollow(keyword, words, problems)?, tolerance, problems)
}

/// `hollow 2%`: how far from its marking either way no resistor stands, because closer ones were picked out.
fn hollow<'a>(
    keyword: &Word,
    words: &mut Words<'a>,
    problems: &mut Problems,
) -> Option<(f64, &'a Word)> {
    let (share, word) = percentage(keyword, words, problems)?;
    if share < 0.0 {
        let message = format!("a band cannot be hollow by `{}`", word.text);
        problems.fault("hollow-odd", word.span, message, HOLLOW_REMEDY);
        return None;
    }
    Some((share, word))
}

/// The percentage behind a keyword, a share. What is none is left for what comes next.
fn percentage<'a>(
    keyword: &Word,
    words: &mut Words<'a>,
    problems: &mut Problems,
) -> Option<(f64, &'a Word)> {
    let found = words.peek().filter(|word| {
        quantity::parse(&word.text).is_ok_and(|quantity| quantity.unit == Unit::Percent)
    });
    let Some(word) = found else {
        let message = format!("after `{}` a percentage is missing", keyword.text);
        let remedy = format!("It is written like `{} 2%`.", keyword.text);
        problems.fault("word-missing", keyword.span, message, remedy);
        return None;
    };
    words.next();
    Some((words::value(word, &PERCENT, problems)?, word))
}

fn positive(value: f64, word: &Word, what: &str, problems: &mut Problems) -> Option<f64> {
    words::above_zero(value, word.span, what, problems).then_some(value)
}

/// Cautions when the letters of a mark belong to another kind of part, or no number follows them.
pub(crate) fn check_letters(mark: &Word, letters: &[&str], what: &str, problems: &mut Problems) {
    let stem = mark.text.trim_end_matches(|c: char| c.is_ascii_digit());
    if letters.contains(&stem) && stem.len() < mark.text.len() {
        return;
    }
    let message = format!(
        "`{}` is not how a {what} is marked: after IEEE 315 it is {} and a number",
        mark.text, letters[0]
    );
    problems.caution(
        "mark-letter",
        mark.span,
        message,
        format!("Call it `{}1` or the like.", letters[0]),
    );
}
