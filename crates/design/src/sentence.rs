//! Sentences of what a circuit does: `y = not (a or b or c)`, `q = d when clock falls`.
//!
//! `not` binds tightest, then `and`, then `xor`, then `or`.

use crate::logic::Expression;
use crate::model::{Edge, Interface, Says};
use crate::problems::Problems;
use crate::words::Words;
use text::source::Span;
use text::tree::{Statement, Word};

/// Most words of a sentence; chosen, because an expression is worked out recursively and must not grow without bound.
const MOST_WORDS: usize = 400;
const FORM: &str = "y = not (a or b or c)";

/// Reads one sentence; `None` when it has a fault.
pub(crate) fn read(
    line: &Statement,
    interface: &Interface,
    doubtful: bool,
    problems: &mut Problems,
) -> Option<Says> {
    let mut words = Words::of(&line.head, FORM);
    if !short_enough(&words, line.span, problems) {
        return None;
    }
    let name = words.next()?;
    let mut parser = Parser {
        words,
        interface,
        doubtful,
        problems,
    };
    let output = parser.signal(name);
    if let Some(index) = output.filter(|index| *index < interface.inputs) {
        let message = format!(
            "`{}` is an input, and a sentence says what an output is",
            interface.signals[index]
        );
        parser.problems.fault(
            "sentence-of-input",
            name.span,
            message,
            "Begin the sentence with an output.",
        );
    }
    parser.words.want_text("=", parser.problems)?;
    let value = parser.or()?;
    let edge = parser.edge()?;
    parser.words.finish(parser.problems);
    let sound = parser.words.peek().is_none();
    let output = output.filter(|index| sound && *index >= interface.inputs)?;
    Some(Says {
        output,
        value,
        edge,
        span: line.span,
    })
}

/// Faults when a sentence has more words than can be worked out.
pub(crate) fn short_enough(words: &Words, span: Span, problems: &mut Problems) -> bool {
    let short = words.rest().len() <= MOST_WORDS;
    if !short {
        let message = format!("the sentence has more than {MOST_WORDS} words");
        problems.fault(
            "sentence-too-long",
            span,
            message,
            "Make a block of several circuits of it.",
        );
    }
    short
}

/// Reads the rest of a sentence as a condition of the signals; `None` when it has a fault.
pub(crate) fn condition(
    words: Words,
    interface: &Interface,
    doubtful: bool,
    problems: &mut Problems,
) -> Option<Expression> {
    let mut parser = Parser {
        words,
        interface,
        doubtful,
        problems,
    };
    let value = parser.or()?;
    parser.words.finish(parser.problems);
    parser.words.peek().is_none().then_some(value)
}

struct Parser<'a, 'p> {
    words: Words<'a>,
    interface: &'p Interface,
    doubtful: bool,
    problems: &'p mut Problems,
}

impl Parser<'_, '_> {
    fn or(&mut self) -> Option<Expression> {
        self.row("or", Self::xor, Expression::Or)
    }

    fn xor(&mut self) -> Option<Expression> {
        self.row("xor", Self::and, Expression::Xor)
    }

    fn and(&mut self) -> Option<Expression> {
        self.row("and", Self::not, Expression::And)
    }

    /// Terms joined by one word, from left to right.
    fn row(
        &mut self,
        joined_by: &str,
        term: fn(&mut Self) -> Option<Expression>,
        join: fn(Box<Expression>, Box<Expression>) -> Expression,
    ) -> Option<Expression> {
        let mut value = term(self)?;
        while self.words.take(joined_by).is_some() {
            value = join(Box::new(value), Box::new(term(self)?));
        }
        Some(value)
    }

    fn not(&mut self) -> Option<Expression> {
        if self.words.take("not").is_some() {
            return Some(Expression::Not(Box::new(self.not()?)));
        }
        let word = self.words.want("a signal", self.problems)?;
        match word.text.as_str() {
            "up" => Some(Expression::Constant(true)),
            "down" => Some(Expression::Constant(false)),
            "(" => {
                let value = self.or()?;
                self.words.want_text(")", self.problems)?;
                Some(value)
            }
            _ => self.signal(word).map(Expression::Signal),
        }
    }

    fn signal(&mut self, word: &Word) -> Option<usize> {
        let index = self
            .interface
            .signals
            .iter()
            .position(|signal| *signal == word.text);
        if index.is_none() && !self.doubtful {
            let names = self.interface.signals.iter().map(String::as_str);
            self.problems.unknown(
                "unknown-signal",
                word,
                "input or output here",
                names,
                "Name an input or output of the circuit.",
            );
        }
        index
    }

    /// `when clock falls`, if it stands here; `None` when it has a fault.
    fn edge(&mut self) -> Option<Option<Edge>> {
        if self.words.take("when").is_none() {
            return Some(None);
        }
        let word = self.words.want("a signal", self.problems)?;
        let signal = self.signal(word);
        let change = self.words.want("`falls` or `rises`", self.problems)?;
        if change.text != "falls" && change.text != "rises" {
            let message = format!("`{}` stands where `falls` or `rises` belongs", change.text);
            self.problems.fault(
                "word-expected",
                change.span,
                message,
                "The form is `q = d when clock falls`.",
            );
            return None;
        }
        Some(Some(Edge {
            signal: signal?,
            rises: change.text == "rises",
        }))
    }
}
