//! Parts with two ends, several in a line: `resistors 5%: R1 680k join to g1, R2 1M2 g1 to lower`.
//!
//! A phrase is the mark, the values, the two nets with `to` between them, and what else the kind of part needs. Values
//! in the head of the line hold for every part that states none of its own. Resistors may say how far they have risen with
//! age: `resistors 10% drift 20%: R1 680k join to g1`, and from the middle of whose band closer ones were picked out:
//! `resistors 5% hollow 2%: R2 1M2 g1 to lower`.

use crate::circuit::Builder;
use crate::model::{Part, PartKind};
use crate::problems::Problems;
use crate::values::{Kind, Values, check_letters};
use crate::words::{self, PERCENT, Words};
use devices::library::Library;
use text::source::Span;
use text::tree::{Phrase, Statement, Word};

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
        while head.peek().is_some() {
            understood &= defaults.add(self.kind, &mut head, self.problems);
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
                self.kind.facts().remedy(),
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
        values.own_units = 0;
        let to = words.rest().iter().position(|word| word.text == "to");
        let sound_mark = self.check_mark(mark);
        let Some(to) = to.filter(|to| *to > 0) else {
            let message = format!("`{}` does not say which nets it goes to", mark.text);
            self.problems.fault(
                "ends-missing",
                phrase.span,
                message,
                self.kind.facts().remedy(),
            );
            return None;
        };
        let mut sound = sound_mark;
        values.main_is_own = false;
        let from_the_nets_on = words.rest().len() - (to - 1);
        while from_the_nets_on < words.rest().len() {
            sound &= values.add(self.kind, &mut words, self.problems);
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
            self.problems
                .fault("mark-missing", mark.span, message, facts.remedy());
            return false;
        }
        if !words::check_name(mark, self.problems) {
            return false;
        }
        check_letters(mark, facts.letters, facts.words[0], self.problems);
        true
    }

    /// The part, and the place of its value. `None` when it is not complete, or when its values were not understood.
    fn make(
        &mut self,
        mark: &Word,
        values: &Values,
        ends: [usize; 2],
        words: &mut Words,
        sound: bool,
    ) -> Option<(PartKind, Span)> {
        match self.kind {
            Kind::Switch => return self.switch(ends, words),
            Kind::Diode | Kind::Neon => return self.typed(mark, values, ends),
            _ => {}
        }
        let slider = if self.kind == Kind::Trimmer {
            Some(self.slider(words)?)
        } else {
            None
        };
        if !sound {
            return None;
        }
        let (value, word) = values.main(self.kind, mark, self.problems)?;
        let tolerance = values.tolerance(self.kind, mark, self.problems);
        let (watts, volts) = (values.watts, values.volts);
        let part = match (self.kind, slider) {
            (Kind::Capacitor, _) => PartKind::Capacitor {
                farads: value,
                tolerance,
                volts,
                ends,
            },
            (Kind::Inductor, _) => {
                let ohms = values.winding_ohms(self.problems)?;
                PartKind::Inductor {
                    henries: value,
                    ohms,
                    ends,
                }
            }
            (Kind::Source, _) => PartKind::Source {
                volts: value,
                plus: ends[0],
                minus: ends[1],
            },
            (_, Some((slider, setting))) => PartKind::Trimmer {
                ohms: value,
                tolerance,
                watts,
                setting,
                ends,
                slider,
            },
            (_, None) => PartKind::Resistor {
                ohms: value,
                tolerance,
                drift: values.drift.unwrap_or(0.0),
                hollow: match values.hollow {
                    Some(_) => Some(values.hollow(mark, self.problems)?),
                    None => None,
                },
                watts,
                ends,
            },
        };
        Some((part, word.span))
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

    /// A part that is told by its type.
    fn typed(
        &mut self,
        mark: &Word,
        values: &Values,
        ends: [usize; 2],
    ) -> Option<(PartKind, Span)> {
        let Some(word) = values.type_name else {
            let message = format!("`{}` has no type", mark.text);
            let remedy = self.kind.facts().remedy();
            self.problems
                .fault("value-missing", mark.span, message, remedy);
            return None;
        };
        let library = self.library;
        let found = match self.kind {
            Kind::Neon => library.neon(&word.text).map(|device| PartKind::Neon {
                device: device.clone(),
                ends,
            }),
            _ => library.diode(&word.text).map(|device| PartKind::Diode {
                device: device.clone(),
                anode: ends[0],
                cathode: ends[1],
            }),
        };
        if found.is_none() {
            let (what, names): (_, Vec<&str>) = match self.kind {
                Kind::Neon => (
                    "neon lamp",
                    library
                        .neons
                        .iter()
                        .map(|known| known.name.as_str())
                        .collect(),
                ),
                _ => (
                    "diode type",
                    library
                        .diodes
                        .iter()
                        .map(|known| known.name.as_str())
                        .collect(),
                ),
            };
            let otherwise = "Write a `type` statement for it.";
            self.problems
                .unknown("unknown-type", word, what, names, otherwise);
        }
        Some((found?, word.span))
    }
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
