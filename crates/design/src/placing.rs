//! `unit G14 nor3 in V7A: a take, b borrow, c clear, y differ`, and arrays of like units.

use crate::include::{keyword, no_colon, no_lines_below};
use crate::kinds::{Kinds, Shape};
use crate::marks::{TubeMark, tube_mark, whole_number};
use crate::model::{BlockId, Circuit, CircuitId, Interface, TubePart};
use crate::problems::{Problems, listing};
use crate::tube;
use crate::words::{self, Words};
use text::diagnostic::Diagnostic;
use text::source::Span;
use text::tree::{Phrase, Statement, Word};

const UNIT: &str = "unit G14 nor3 in V7A: a take, b borrow, c clear, y differ";
const UNITS: &str = "units last 1 to 4, latch, from V11";
/// Most units of a machine, counted when blocks and arrays are opened; chosen far above any machine built at home.
pub(crate) const MOST_UNITS: u32 = 10_000;

/// What a signal is joined to.
#[derive(Debug, Clone)]
pub(crate) enum Wire {
    /// A net.
    Net { name: String, span: Span },
    /// The net with the number of the unit, or of the one below or above it.
    Numbered { name: String, step: i64, span: Span },
    /// Nothing: meant to drive nothing.
    Open { span: Span },
}

/// Which tubes are taken.
#[derive(Debug, Clone)]
pub(crate) enum Places {
    /// The text gives none.
    None,
    /// `in V7A V7B`: one for each tube of the circuit.
    In(Vec<(TubeMark, Span)>),
    /// `from V11`: the next ones in order.
    From(TubeMark, Span),
}

/// What is placed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum What {
    /// A circuit.
    Circuit(CircuitId),
    /// A block.
    Block(BlockId),
}

/// A `unit` or `units` statement.
#[derive(Debug, Clone)]
pub(crate) struct Placing {
    /// Name.
    pub(crate) name: String,
    /// Where the name is written.
    pub(crate) name_span: Span,
    /// First and last number of an array.
    pub(crate) numbers: Option<(u32, u32)>,
    /// What stands there; `None` when it is not known.
    pub(crate) what: Option<What>,
    /// Its tubes.
    pub(crate) places: Places,
    /// What each signal is joined to, in the order of the interface.
    pub(crate) wires: Vec<Option<Wire>>,
    /// Nets named in phrases with a fault: what is on them is not known in full.
    pub(crate) strays: Vec<Wire>,
    /// The statement.
    pub(crate) span: Span,
}

impl Placing {
    /// How many stand there.
    pub(crate) fn count(&self) -> u32 {
        self.numbers.map_or(1, |(first, last)| last - first + 1)
    }
}

/// Reads a `unit` or `units` statement; `None` when it does not even give a name.
pub(crate) fn read(
    statement: &Statement,
    kinds: &mut Kinds,
    problems: &mut Problems,
) -> Option<Placing> {
    let said_at_first = problems.said();
    let array = keyword(statement) == Some("units");
    let heading = heading(statement, array, kinds, problems)?;
    let shape = heading.shape.as_ref();
    let said_of_heading = problems.said() - said_at_first;
    let mut list = List {
        shape,
        wires: vec![None; shape.map_or(0, |shape| shape.interface.signals.len())],
        strays: Vec::new(),
        problems,
    };
    let said_before = list.problems.said();
    if array {
        list.array(statement);
    } else {
        no_lines_below(statement, list.problems);
        list.phrases(statement.body.as_deref().unwrap_or_default(), false);
    }
    // Without its colon the list would be taken for a part of the heading, and every signal would be missed.
    let colon_missing = !array && statement.body.is_none() && said_of_heading > 0;
    if list.problems.said() == said_before && !colon_missing {
        list.check_complete(heading.name);
    }
    let (wires, strays) = (list.wires, list.strays);
    heading.named.then(|| Placing {
        name: heading.name.text.clone(),
        name_span: heading.name.span,
        numbers: heading.numbers,
        what: heading.what,
        places: heading.places,
        wires,
        strays,
        span: statement.span,
    })
}

/// What stands before the connections.
struct Heading<'a> {
    name: &'a Word,
    /// The name can be used.
    named: bool,
    numbers: Option<(u32, u32)>,
    shape: Option<Shape>,
    what: Option<What>,
    places: Places,
}

/// `unit F1 follower in V8A with 12AT7`, `units last 1 to 4, latch, from V11`
fn heading<'a>(
    statement: &'a Statement,
    array: bool,
    kinds: &mut Kinds,
    problems: &mut Problems,
) -> Option<Heading<'a>> {
    let mut words = Words::of(&statement.head, if array { UNITS } else { UNIT });
    words.next();
    let name = words.want("a name", problems)?;
    let named = words::check_name(name, problems);
    let numbers = if array {
        numbers(&mut words, problems)
    } else {
        None
    };
    let mut heading = Heading {
        name,
        named,
        numbers,
        shape: None,
        what: None,
        places: Places::None,
    };
    if array && numbers.is_none() {
        return Some(heading);
    }
    let word = words.want("the name of a circuit or block", problems);
    heading.shape = word.and_then(|word| kinds.want(word, problems));
    heading.what = heading.shape.as_ref().map(|shape| shape.what);
    options(
        &mut words,
        &mut heading.what,
        &mut heading.places,
        kinds,
        problems,
    );
    if let Some(what) = heading.what {
        check_places(&heading, what, kinds, problems);
    }
    Some(heading)
}

/// `1 to 4`
fn numbers(words: &mut Words, problems: &mut Problems) -> Option<(u32, u32)> {
    let first = words.want("the first number", problems)?;
    words.want_text("to", problems)?;
    let last = words.want("the last number", problems)?;
    let mut number = |word: &Word| {
        let number = whole_number(&word.text);
        if number.is_none() {
            let message = format!("`{}` stands where a whole number belongs", word.text);
            problems.fault(
                "not-a-number",
                word.span,
                message,
                format!("The form is `{UNITS}`."),
            );
        }
        number
    };
    let (from, to) = (number(first)?, number(last)?);
    if to < from {
        let message = format!("the numbers run backward from {from} to {to}");
        problems.fault(
            "range-backward",
            first.span.to(last.span),
            message,
            "Write the smaller number first.",
        );
        return None;
    }
    if to - from >= MOST_UNITS {
        let message = format!("an array of more than {MOST_UNITS} units is beyond this program");
        problems.fault(
            "too-many-units",
            first.span.to(last.span),
            message,
            "Write fewer.",
        );
        return None;
    }
    Some((from, to))
}

/// `in V7A`, `from V11`, `with 12AT7`, in any order.
fn options(
    words: &mut Words,
    what: &mut Option<What>,
    places: &mut Places,
    kinds: &mut Kinds,
    problems: &mut Problems,
) {
    loop {
        if words.take("in").is_some() {
            let Some(first) = words.want("a tube such as `V7A`", problems) else {
                return;
            };
            let mut marks = vec![first];
            while let Some(word) = words.peek().filter(|word| word.text.starts_with('V')) {
                words.next();
                marks.push(word);
            }
            let read = |word: &&Word| want_mark(word, problems).map(|mark| (mark, word.span));
            let list: Vec<_> = marks.iter().filter_map(read).collect();
            if list.len() < marks.len() {
                continue;
            }
            *places = Places::In(list);
        } else if words.take("from").is_some() {
            let Some(word) = words.want("a tube such as `V11`", problems) else {
                return;
            };
            if let Some(mark) = want_mark(word, problems) {
                *places = Places::From(mark, word.span);
            }
        } else if words.take("with").is_some() {
            let Some(word) = words.want("a tube type", problems) else {
                return;
            };
            if let Some(found) = *what {
                *what = with(found, word, kinds, problems);
            }
        } else {
            words.finish(problems);
            return;
        }
    }
}

fn want_mark(word: &Word, problems: &mut Problems) -> Option<TubeMark> {
    let mark = tube_mark(&word.text);
    if mark.is_none() {
        let message = format!("`{}` is no tube", word.text);
        problems.fault(
            "not-a-tube",
            word.span,
            message,
            "A tube is written `V7`, a half of one `V7A` or `V7B`.",
        );
    }
    mark
}

fn with(what: What, word: &Word, kinds: &mut Kinds, problems: &mut Problems) -> Option<What> {
    let What::Circuit(circuit) = what else {
        let message = "another tube type can be put into a circuit, not into a block";
        problems.fault(
            "type-does-not-fit",
            word.span,
            message,
            "Write `with` at the units inside the block.",
        );
        return Some(what);
    };
    let device = tube::find_type(word, &kinds.library, problems)?;
    kinds
        .variant(circuit, &device, word, problems)
        .map(What::Circuit)
}

/// Checks the number and the halves of the places against the tubes of the circuit.
fn check_places(heading: &Heading, what: What, kinds: &Kinds, problems: &mut Problems) {
    let Places::In(list) = &heading.places else {
        return;
    };
    let Some(span) = list.iter().map(|(_, span)| *span).reduce(Span::to) else {
        return;
    };
    let name = &heading.name.text;
    let What::Circuit(circuit) = what else {
        let message = format!("`{name}` is a block, whose tubes follow one another");
        let remedy = "Write `from` and its first tube, such as `from V11`.";
        problems.fault("places-of-block", span, message, remedy);
        return;
    };
    if kinds.tubes_doubtful(circuit) {
        return;
    }
    let circuit = &kinds.circuits[circuit.0];
    let count = heading
        .numbers
        .map_or(1, |(first, last)| (last - first + 1) as usize);
    let needed = circuit.tubes().count() * count;
    if list.len() == needed {
        check_halves(list, circuit, problems);
        return;
    }
    let message = format!(
        "`{name}` has {needed} tubes or halves to place, and {} places are given",
        list.len()
    );
    let remedy = "Give one place for each tube of the circuit, in its order.";
    problems.fault("wrong-number-of-places", span, message, remedy);
}

/// Faults where a half is given a whole tube, or a whole tube a half.
fn check_halves(list: &[(TubeMark, Span)], circuit: &Circuit, problems: &mut Problems) {
    let tubes: Vec<&TubePart> = circuit.tubes().map(|(_, tube)| tube).collect();
    for ((mark, span), tube) in list.iter().zip(tubes.into_iter().cycle()) {
        let (wrong, remedy) = match (tube.device.sections, mark.section) {
            (2, None) => (
                "names a whole tube, and the circuit needs one half",
                "Add `A` or `B`.",
            ),
            (1, Some(_)) => (
                "names one half, and the circuit needs a whole tube",
                "Leave the letter of the half out.",
            ),
            _ => continue,
        };
        let message = format!("`V{}` {wrong} of a {}", mark.number, tube.device.name);
        problems.fault("place-of-half", *span, message, remedy);
    }
}

/// The connections of a unit while they are being read.
struct List<'s, 'p> {
    shape: Option<&'s Shape>,
    wires: Vec<Option<Wire>>,
    strays: Vec<Wire>,
    problems: &'p mut Problems,
}

impl List<'_, '_> {
    /// The lines below `units`.
    fn array(&mut self, statement: &Statement) {
        no_colon(statement, self.problems);
        for line in &statement.children {
            no_lines_below(line, self.problems);
            match (keyword(line), &line.body) {
                (Some("each"), Some(body)) => self.phrases(body, true),
                (Some("all"), Some(body)) => self.phrases(body, false),
                (Some(_), None)
                    if line.head.iter().all(|phrase| {
                        phrase.words.last().is_some_and(|word| word.text == "open")
                    }) =>
                {
                    self.phrases(&line.head, false);
                }
                _ => {
                    let message = "here only `each:`, `all:` and outputs that stay open belong";
                    let remedy = "Write `each: q last` for numbered nets, `all: load shift` for one net, `qn open` for an output without one.";
                    self.problems
                        .fault("misplaced-statement", line.span, message, remedy);
                    self.strays.extend(
                        line.body
                            .iter()
                            .flatten()
                            .flat_map(|phrase| phrase.words.iter().skip(1))
                            .map(net),
                    );
                }
            }
        }
    }

    fn phrases(&mut self, phrases: &[Phrase], numbered: bool) {
        for phrase in phrases {
            self.phrase(phrase, numbered);
        }
    }

    /// `a take`, `d stage before`, `qn open`
    fn phrase(&mut self, phrase: &Phrase, numbered: bool) {
        let mut words = Words::phrase(
            phrase,
            if numbered {
                "each: d stage before, q stage"
            } else {
                UNIT
            },
        );
        let Some(signal) = words.next() else { return };
        let Some(word) = words.want("the net it goes to", self.problems) else {
            return;
        };
        let step = if words.take("before").is_some() {
            -1
        } else {
            i64::from(words.take("after").is_some())
        };
        if step != 0 && !numbered {
            let message = "only the units of an array stand before and after one another";
            self.problems.fault(
                "misplaced-step",
                phrase.span,
                message,
                "Write it after `each:`.",
            );
        }
        words.finish(self.problems);
        let wire = if word.text == "open" {
            Wire::Open { span: word.span }
        } else if !words::check_net(word, self.problems) {
            return;
        } else if numbered {
            Wire::Numbered {
                name: word.text.clone(),
                step,
                span: word.span,
            }
        } else {
            net(word)
        };
        self.join(signal, wire);
    }

    fn join(&mut self, signal: &Word, wire: Wire) {
        let Some(shape) = self.shape else {
            self.strays.push(wire);
            return;
        };
        let Some(index) = shape
            .interface
            .signals
            .iter()
            .position(|known| *known == signal.text)
        else {
            if !shape.doubtful {
                let names = shape.interface.signals.iter().map(String::as_str);
                let what = format!("input or output of `{}`", shape.name);
                let signals = format!("It has {}.", listing(&shape.interface.signals));
                self.problems
                    .unknown("unknown-signal", signal, &what, names, &signals);
            }
            self.strays.push(wire);
            return;
        };
        if let Some(first) = &self.wires[index] {
            let message = format!("`{}` is joined to two nets", signal.text);
            let problem =
                Diagnostic::fault("signal-twice", signal.span, message).remedy("Keep one of them.");
            self.problems
                .push(problem.related(first.span(), "first joined here"));
            self.strays.push(wire);
            return;
        }
        self.wires[index] = Some(wire);
    }

    /// Faults when a signal was not joined to anything.
    fn check_complete(&mut self, name: &Word) {
        let Some(shape) = self.shape.filter(|shape| !shape.doubtful) else {
            return;
        };
        let Interface { signals, .. } = &shape.interface;
        let missing: Vec<&String> = signals
            .iter()
            .zip(&self.wires)
            .filter(|(_, wire)| wire.is_none())
            .map(|(name, _)| name)
            .collect();
        let Some(first) = missing.first() else { return };
        let message = format!(
            "`{}` says nothing of {} of `{}`",
            name.text,
            listing(&missing),
            shape.name
        );
        let remedy = format!("Add `{first} NET`, or `{first} open` if it is to stay unconnected.");
        self.problems
            .fault("signal-unconnected", name.span, message, remedy);
    }
}

fn net(word: &Word) -> Wire {
    Wire::Net {
        name: word.text.clone(),
        span: word.span,
    }
}

impl Wire {
    /// Where the net is named.
    pub(crate) fn span(&self) -> Span {
        match self {
            Wire::Net { span, .. } | Wire::Numbered { span, .. } | Wire::Open { span } => *span,
        }
    }
}
