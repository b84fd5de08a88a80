//! The signals of a circuit or block, and the sentences that say what it does.

use crate::model::{Interface, Says};
use crate::problems::Problems;
use crate::rails::Rails;
use crate::sentence;
use crate::words::{self, Words};
use text::source::Span;
use text::tree::{Statement, TokenKind, Word};

/// Most inputs and outputs of a circuit or block; chosen, because they are searched one by one.
const MOST_SIGNALS: usize = 500;

/// Signals with the places where they are named.
#[derive(Debug, Clone, Default)]
pub(crate) struct Signals {
    inputs: Vec<(String, Span)>,
    outputs: Vec<(String, Span)>,
    /// A line of signals had a fault: other complaints about signals may be its consequence.
    pub(crate) doubtful: bool,
}

/// Whether a line names signals.
pub(crate) fn names_signals(keyword: &str) -> bool {
    matches!(keyword, "input" | "inputs" | "output" | "outputs")
}

/// Whether a line is a sentence of what the circuit does: `y = not a`.
pub(crate) fn is_sentence(statement: &Statement) -> bool {
    let mut words = statement
        .head
        .iter()
        .flat_map(|phrase| &phrase.words)
        .skip(1);
    words
        .next()
        .is_some_and(|word| word.kind == TokenKind::Symbol && word.text == "=")
}

impl Signals {
    /// Reads `inputs a b c, output y`.
    pub(crate) fn add(&mut self, statement: &Statement, rails: &Rails, problems: &mut Problems) {
        crate::include::no_lines_below(statement, problems);
        crate::include::no_colon(statement, problems);
        for phrase in &statement.head {
            let mut words = Words::phrase(phrase, "inputs a b c, output y");
            let Some(kind) = words.next() else { continue };
            if !names_signals(&kind.text) {
                let message = format!("`{}` stands where `inputs` or `outputs` belongs", kind.text);
                problems.fault(
                    "word-expected",
                    kind.span,
                    message,
                    "Part the names of the signals by spaces only.",
                );
                self.doubtful = true;
                continue;
            }
            if words.peek().is_none() {
                words.want("the name of a signal", problems);
                self.doubtful = true;
            }
            while let Some(name) = words.next() {
                self.name(name, kind.text.starts_with("input"), rails, problems);
            }
        }
    }

    fn name(&mut self, word: &Word, input: bool, rails: &Rails, problems: &mut Problems) {
        if self.inputs.len() + self.outputs.len() == MOST_SIGNALS {
            let message = format!("there are more than {MOST_SIGNALS} inputs and outputs");
            problems.fault(
                "too-many-signals",
                word.span,
                message,
                "Make several circuits or blocks of it.",
            );
            self.doubtful = true;
            return;
        }
        let first = self.place(&word.text).or_else(|| rails.place(&word.text));
        if first.is_some() {
            problems.taken(word, "a signal or rail", first);
            self.doubtful = true;
        } else if words::check_name(word, problems) {
            let list = if input {
                &mut self.inputs
            } else {
                &mut self.outputs
            };
            list.push((word.text.clone(), word.span));
        } else {
            self.doubtful = true;
        }
    }

    fn place(&self, name: &str) -> Option<Span> {
        self.in_order()
            .find(|(known, _)| known == name)
            .map(|(_, span)| *span)
    }

    /// Inputs, then outputs, with the places where they are named.
    pub(crate) fn in_order(&self) -> impl Iterator<Item = &(String, Span)> {
        self.inputs.iter().chain(&self.outputs)
    }

    /// The signals as the model has them.
    pub(crate) fn interface(&self) -> Interface {
        Interface {
            signals: self.in_order().map(|(name, _)| name.clone()).collect(),
            inputs: self.inputs.len(),
        }
    }
}

/// Reads the sentences of a circuit or block, and checks that each output has at most one, and all or none have.
pub(crate) fn sentences(
    lines: &[&Statement],
    signals: &Signals,
    problems: &mut Problems,
) -> Vec<Says> {
    let interface = signals.interface();
    let mut says: Vec<Says> = Vec::new();
    for line in lines {
        crate::include::no_lines_below(line, problems);
        crate::include::no_colon(line, problems);
        let Some(sentence) = sentence::read(line, &interface, signals.doubtful, problems) else {
            continue;
        };
        if let Some(first) = says.iter().find(|said| said.output == sentence.output) {
            let message = format!(
                "what `{}` is, is said twice",
                interface.signals[sentence.output]
            );
            problems.push(
                text::diagnostic::Diagnostic::fault("said-twice", sentence.span, message)
                    .remedy("Keep one of the sentences.")
                    .related(first.span, "first said here"),
            );
            continue;
        }
        says.push(sentence);
    }
    if !lines.is_empty() && !says.is_empty() {
        silent_outputs(&says, signals, problems);
    }
    says
}

fn silent_outputs(says: &[Says], signals: &Signals, problems: &mut Problems) {
    for (index, (name, span)) in signals.in_order().enumerate().skip(signals.inputs.len()) {
        if !says.iter().any(|said| said.output == index) {
            let message =
                format!("no sentence says what `{name}` is, though other outputs have one");
            problems.caution(
                "output-says-nothing",
                *span,
                message,
                format!("Add a sentence such as `{name} = ...`."),
            );
        }
    }
}
