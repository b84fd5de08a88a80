//! Parts with two ends, several in a line: `resistors 5%: R1 680k join to g1, R2 1M2 g1 to lower`.
//!
//! A phrase is the mark, the values, the two nets with `to` between them, and what else the kind of part needs. Values
//! in the head of the line hold for every part that states none of its own.

use crate::circuit::Builder;
use crate::model::{Part, PartKind};
use crate::problems::Problems;
use crate::words::{self, PERCENT, Words};
use devices::library::Library;
use text::quantity::{self, Unit};
use text::source::Span;
use text::tree::{Phrase, Statement, Word};

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
struct Facts {
    kind: Kind,
    /// The word that begins a line, for one part and for several.
    words: [&'static str; 2],
    /// Class letters of the marks: IEEE 315-1975, clause 22 (from memory). The first is named in messages.
    letters: &'static [&'static str],
    /// How a phrase is written.
    form: &'static str,
    /// Unit of the main value.
    unit: Unit,
    /// Smallest and largest main value found on benches (common practice, no source).
    usual: (f64, f64),
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

    fn facts(self) -> &'static Facts {
        &FACTS[self as usize]
    }

    /// Whether parts of this kind are told by a type, not by a value.
    fn has_type(self) -> bool {
        matches!(self, Kind::Diode | Kind::Neon)
    }
}

/// The values of a phrase or of the head of a line, each with its word.
#[derive(Debug, Clone, Copy, Default)]
struct Values<'a> {
    main: Option<(f64, &'a Word)>,
    type_name: Option<&'a Word>,
    tolerance: Option<f64>,
    watts: Option<f64>,
    volts: Option<f64>,
    winding: Option<(f64, &'a Word)>,
}

/// Reads a line of parts. False when something in it was not understood.
pub(crate) fn read(
    kind: Kind,
    line: &Statement,
    library: &Library,
    builder: &mut Builder,
    problems: &mut Problems,
) -> bool {
    let mut reader = Reader {
        kind,
        library,
        builder,
        problems,
    };
    match &line.body {
        Some(body) => reader.several(line, body),
        None => reader.singly(line),
    }
}

struct Reader<'r, 'b, 'l> {
    kind: Kind,
    library: &'l Library,
    builder: &'r mut Builder<'b>,
    problems: &'r mut Problems,
}

impl Reader<'_, '_, '_> {
    /// `resistors 5%: R1 680k join to g1, R2 1M2 g1 to lower`
    fn several(&mut self, line: &Statement, body: &[Phrase]) -> bool {
        let form = self.kind.facts().form;
        let mut head = Words::of(&line.head, form);
        let mut defaults = Values::default();
        let mut understood = true;
        let keyword = head.next();
        while let Some(word) = head.next() {
            understood &= self.add_value(&mut defaults, word);
        }
        for phrase in body {
            understood &= self
                .part(phrase, Words::phrase(phrase, form), defaults)
                .is_some();
        }
        if let (true, Some(word)) = (body.is_empty(), keyword) {
            let message = format!("no part follows after `{}:`", word.text);
            self.problems.fault(
                "word-missing",
                word.span,
                message,
                format!("The form is `{form}`."),
            );
        }
        understood
    }

    /// `resistor R1 680k 5% join to g1`, without a colon.
    fn singly(&mut self, line: &Statement) -> bool {
        let mut understood = true;
        for (index, phrase) in line.head.iter().enumerate() {
            let mut words = Words::phrase(phrase, self.kind.facts().form);
            if index == 0 {
                words.next();
            }
            understood &= self.part(phrase, words, Values::default()).is_some();
        }
        understood
    }

    fn part<'a>(
        &mut self,
        phrase: &Phrase,
        mut words: Words<'a>,
        mut values: Values<'a>,
    ) -> Option<()> {
        let mark = words.want("the mark of the part", self.problems)?;
        let to = words.rest().iter().position(|word| word.text == "to");
        let sound_mark = self.check_mark(mark);
        let Some(to) = to.filter(|to| *to > 0) else {
            let message = format!("`{}` does not say which nets it goes to", mark.text);
            self.problems.fault(
                "ends-missing",
                phrase.span,
                message,
                format!("The form is `{}`.", self.kind.facts().form),
            );
            return None;
        };
        let mut sound = sound_mark;
        for _ in 1..to {
            sound &= words
                .next()
                .is_some_and(|word| self.add_value(&mut values, word));
        }
        let ends = self.builder.want_ends(&mut words, self.problems)?;
        let (kind, value_span) = self.make(mark, &values, ends, &mut words, sound)?;
        words.finish(self.problems);
        let span = Span {
            start: mark.span.start,
            ..phrase.span
        };
        self.builder.part(
            mark,
            Part {
                mark: mark.text.clone(),
                kind,
                span,
                value_span,
            },
            self.problems,
        );
        Some(())
    }

    /// Faults when the mark is no mark; cautions when its letters belong to another kind of part.
    fn check_mark(&mut self, mark: &Word) -> bool {
        let facts = self.kind.facts();
        if mark.text.starts_with(|c: char| c.is_ascii_digit()) {
            let message = format!("`{}` stands where the mark of a part belongs", mark.text);
            self.problems.fault(
                "mark-missing",
                mark.span,
                message,
                format!("The form is `{}`.", facts.form),
            );
            return false;
        }
        if !words::check_name(mark, self.problems) {
            return false;
        }
        check_letters(mark, facts.letters, facts.words[0], self.problems);
        true
    }

    fn add_value<'a>(&mut self, values: &mut Values<'a>, word: &'a Word) -> bool {
        let facts = self.kind.facts();
        if self.kind.has_type() {
            values.type_name = Some(word);
            return true;
        }
        let quantity = match quantity::parse(&word.text) {
            Ok(quantity) => quantity,
            Err(error) => {
                words::bad_value(word, &error, "a value", facts.form, self.problems);
                return false;
            }
        };
        let resistive = matches!(self.kind, Kind::Resistor | Kind::Trimmer);
        match quantity.unit {
            Unit::Percent if facts.has_tolerance() => {
                values.tolerance = Some(words::tolerance(quantity.value, word, self.problems))
            }
            Unit::Watt if resistive => {
                values.watts = self.positive(quantity.value, word, "the rated power")
            }
            Unit::Volt if self.kind == Kind::Capacitor => {
                values.volts = self.positive(quantity.value, word, "the rated voltage")
            }
            Unit::Ohm if self.kind == Kind::Inductor => {
                values.winding = Some((quantity.value, word))
            }
            unit if unit == facts.unit || (unit == Unit::None && facts.unit != Unit::None) => {
                values.main = Some((quantity.value, word))
            }
            _ => {
                let message = format!("`{}` is no value of a {}", word.text, facts.words[0]);
                self.problems.fault(
                    "wrong-unit",
                    word.span,
                    message,
                    format!("The form is `{}`.", facts.form),
                );
                return false;
            }
        }
        true
    }

    fn positive(&mut self, value: f64, word: &Word, what: &str) -> Option<f64> {
        words::above_zero(value, word.span, what, self.problems).then_some(value)
    }

    /// The part, and the place of its value. `None` when it is not complete.
    fn make(
        &mut self,
        mark: &Word,
        values: &Values,
        ends: [usize; 2],
        words: &mut Words,
        sound: bool,
    ) -> Option<(PartKind, Span)> {
        match self.kind {
            Kind::Switch => self.switch(ends, words),
            Kind::Trimmer => {
                let (slider, setting) = self.slider(words)?;
                let (ohms, word) = self.main(mark, values, sound)?;
                let tolerance = self.tolerance(mark, values);
                Some((
                    PartKind::Trimmer {
                        ohms,
                        tolerance,
                        watts: values.watts,
                        setting,
                        ends,
                        slider,
                    },
                    word.span,
                ))
            }
            Kind::Resistor => {
                let (ohms, word) = self.main(mark, values, sound)?;
                let tolerance = self.tolerance(mark, values);
                Some((
                    PartKind::Resistor {
                        ohms,
                        tolerance,
                        watts: values.watts,
                        ends,
                    },
                    word.span,
                ))
            }
            Kind::Capacitor => {
                let (farads, word) = self.main(mark, values, sound)?;
                let tolerance = self.tolerance(mark, values);
                Some((
                    PartKind::Capacitor {
                        farads,
                        tolerance,
                        volts: values.volts,
                        ends,
                    },
                    word.span,
                ))
            }
            Kind::Inductor => {
                let (henries, word) = self.main(mark, values, sound)?;
                let ohms = self.winding(values)?;
                Some((
                    PartKind::Inductor {
                        henries,
                        ohms,
                        ends,
                    },
                    word.span,
                ))
            }
            Kind::Source => {
                let (volts, word) = self.main(mark, values, sound)?;
                Some((
                    PartKind::Source {
                        volts,
                        plus: ends[0],
                        minus: ends[1],
                    },
                    word.span,
                ))
            }
            Kind::Diode | Kind::Neon => self.typed(mark, values, ends),
        }
    }

    /// The winding resistance, 0 when not stated.
    fn winding(&mut self, values: &Values) -> Option<f64> {
        let Some((ohms, word)) = values.winding else {
            return Some(0.0);
        };
        if ohms < 0.0 {
            self.positive(ohms, word, "the winding resistance")?;
        }
        Some(ohms)
    }

    /// The main value, checked.
    fn main<'a>(
        &mut self,
        mark: &Word,
        values: &Values<'a>,
        sound: bool,
    ) -> Option<(f64, &'a Word)> {
        let facts = self.kind.facts();
        let Some((value, word)) = values.main else {
            if sound {
                let message = format!("`{}` has no value", mark.text);
                self.problems.fault(
                    "value-missing",
                    mark.span,
                    message,
                    format!("The form is `{}`.", facts.form),
                );
            }
            return None;
        };
        if self.kind != Kind::Source {
            self.positive(value, word, &format!("the value of `{}`", mark.text))?;
        }
        words::usual(
            value.abs(),
            facts.usual,
            word,
            facts.words[0],
            self.problems,
        );
        sound.then_some((value, word))
    }

    fn tolerance(&mut self, mark: &Word, values: &Values) -> f64 {
        if values.tolerance.is_none() {
            words::tolerance_missing(mark, self.problems);
        }
        values.tolerance.unwrap_or(0.0)
    }

    /// `slider w at 40%`
    fn slider(&mut self, words: &mut Words) -> Option<(usize, f64)> {
        words.want_text("slider", self.problems)?;
        let node = words.want("the net of the slider", self.problems)?;
        let slider = self.builder.node(node, self.problems);
        words.want_text("at", self.problems)?;
        let word = words.want("the setting", self.problems)?;
        let setting = words::value(word, &PERCENT, self.problems)?;
        if !(0.0..=1.0).contains(&setting) {
            let message = format!("a slider does not stand at `{}` of its track", word.text);
            self.problems.fault(
                "setting-odd",
                word.span,
                message,
                "Write a percentage from `0%` (at the first end) to `100%`.",
            );
            return None;
        }
        Some((slider?, setting))
    }

    fn switch(&mut self, ends: [usize; 2], words: &mut Words) -> Option<(PartKind, Span)> {
        let word = words.want("`open` or `closed`", self.problems)?;
        if word.text != "open" && word.text != "closed" {
            let message = format!("`{}` stands where `open` or `closed` belongs", word.text);
            self.problems.fault(
                "word-expected",
                word.span,
                message,
                "The form is `switches: S1 a to b open`.",
            );
            return None;
        }
        Some((
            PartKind::Switch {
                closed: word.text == "closed",
                ends,
            },
            word.span,
        ))
    }

    fn typed(
        &mut self,
        mark: &Word,
        values: &Values,
        ends: [usize; 2],
    ) -> Option<(PartKind, Span)> {
        let facts = self.kind.facts();
        let Some(word) = values.type_name else {
            let message = format!("`{}` has no type", mark.text);
            self.problems.fault(
                "value-missing",
                mark.span,
                message,
                format!("The form is `{}`.", facts.form),
            );
            return None;
        };
        let library = self.library;
        if self.kind == Kind::Neon {
            if let Some(device) = library.neon(&word.text) {
                return Some((
                    PartKind::Neon {
                        device: device.clone(),
                        ends,
                    },
                    word.span,
                ));
            }
            let names = library.neons.iter().map(|known| known.name.as_str());
            self.problems.unknown(
                "unknown-type",
                word,
                "neon lamp",
                names,
                "Write a `type` statement for it.",
            );
            return None;
        }
        if let Some(device) = library.diode(&word.text) {
            return Some((
                PartKind::Diode {
                    device: device.clone(),
                    anode: ends[0],
                    cathode: ends[1],
                },
                word.span,
            ));
        }
        let names = library.diodes.iter().map(|known| known.name.as_str());
        self.problems.unknown(
            "unknown-type",
            word,
            "diode type",
            names,
            "Write a `type` statement for it.",
        );
        None
    }
}

impl Facts {
    fn has_tolerance(&self) -> bool {
        matches!(self.kind, Kind::Resistor | Kind::Trimmer | Kind::Capacitor)
    }
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

/// Puts new node numbers in place of the old.
pub(crate) fn renumber(part: &mut PartKind, new_index: &[usize]) {
    let set = |node: &mut usize| *node = new_index[*node];
    match part {
        PartKind::Resistor { ends, .. }
        | PartKind::Capacitor { ends, .. }
        | PartKind::Inductor { ends, .. }
        | PartKind::Neon { ends, .. }
        | PartKind::Switch { ends, .. } => ends.iter_mut().for_each(set),
        PartKind::Trimmer { ends, slider, .. } => ends.iter_mut().chain([slider]).for_each(set),
        PartKind::Diode { anode, cathode, .. } => [anode, cathode].into_iter().for_each(set),
        PartKind::Source { plus, minus, .. } => [plus, minus].into_iter().for_each(set),
        PartKind::Tube(tube) => {
            let others = [&mut tube.grid, &mut tube.screen, &mut tube.suppressor]
                .into_iter()
                .flatten();
            [&mut tube.plate, &mut tube.cathode]
                .into_iter()
                .chain(others)
                .for_each(set);
        }
    }
}
