//! The bench, which stands in for the world outside the machine, and jigs, which stand in for the neighbours of a circuit
//! judged alone. Both are written with the same sentences.

use crate::board::want_net;
use crate::flatten::Opened;
use crate::include::{keyword, no_colon, no_lines_below};
use crate::kinds::Kinds;
use crate::marks::{numbered_names, whole_number};
use crate::model::{Bench, BenchLoad, BenchSwitch, CircuitId, Jig, JigDriver, JigResistor, NetId};
use crate::placing::MOST_UNITS;
use crate::problems::Problems;
use crate::rails::Rails;
use crate::values::stated_hollow;
use crate::words::{self, OHMS, Toleranced, Words};
use std::collections::HashMap;
use text::diagnostic::Diagnostic;
use text::source::Span;
use text::tree::{Phrase, Statement, Word};

const SWITCHES: &str = "switches: take upper or ground through 10k 5%";
const LOADS: &str = "loads: differ 150k 5% to ground";
const METER: &str = "meter 10M";
const DRIVERS: &str = "drivers: a nor3";
const JIG_LOADS: &str = "loads: y 3 nor3, y 150k 5% to ground";

/// Most resistors on the bench; chosen far above any machine, because a line may name a run of nets.
const MOST_LOADS: usize = 100_000;

/// Reads the bench, which may be written in several stretches.
pub(crate) struct BenchReader<'a> {
    opened: &'a Opened,
    rails: &'a Rails,
    switched: HashMap<NetId, Span>,
    /// What was read so far.
    pub(crate) bench: Bench,
}

impl<'a> BenchReader<'a> {
    /// Nothing yet.
    pub(crate) fn new(opened: &'a Opened, rails: &'a Rails) -> Self {
        Self {
            opened,
            rails,
            switched: HashMap::new(),
            bench: Bench::default(),
        }
    }

    /// Reads a `bench` statement and the lines below it.
    pub(crate) fn add(&mut self, statement: &Statement, problems: &mut Problems) {
        let mut heading = Words::of(&statement.head, "bench");
        heading.next();
        heading.finish(problems);
        no_colon(statement, problems);
        for line in &statement.children {
            no_lines_below(line, problems);
            match (keyword(line), &line.body) {
                (Some("switches"), Some(body)) => {
                    body.iter().for_each(|phrase| self.switch(phrase, problems));
                }
                (Some("loads" | "pull-ups"), Some(body)) => {
                    body.iter().for_each(|phrase| self.load(phrase, problems));
                }
                (Some("meter"), None) => self.meter(line, problems),
                _ => {
                    let known = ["switches:", "loads:", "pull-ups:", "meter"];
                    crate::read::wrong_statement(line, "bench", &known, problems);
                }
            }
        }
    }

    /// The nets that a phrase begins with: one, or a run such as `gauge.1 to gauge.4` up to the first that does not exist.
    fn nets(&self, words: &mut Words, problems: &mut Problems) -> Vec<NetId> {
        let Some(first) = words.want("a net", problems) else {
            return Vec::new();
        };
        let run = match words.rest() {
            [to, last, ..] if to.text == "to" => {
                numbered_names(&first.text, &last.text, MOST_UNITS)
            }
            _ => None,
        };
        let Some(names) = run else {
            return Vec::from_iter(want_net(first, self.opened, problems));
        };
        words.next();
        words.next();
        let word = |text: String| Word {
            text,
            ..first.clone()
        };
        names
            .map_while(|name| want_net(&word(name), self.opened, problems))
            .collect()
    }

    fn switch(&mut self, phrase: &Phrase, problems: &mut Problems) {
        let mut words = Words::phrase(phrase, SWITCHES);
        let nets = self.nets(&mut words, problems);
        let Some(throw) = throw(&mut words, self.rails, problems) else {
            return;
        };
        for net in nets {
            if let Some(first) = self.switched.insert(net, phrase.span) {
                let message = format!("`{}` has two switches", self.opened.nets.list[net.0].name);
                let problem = Diagnostic::fault("two-drivers", phrase.span, message)
                    .remedy("Take one of them out.");
                problems.push(problem.related(first, "the other switch"));
                return;
            }
            self.bench.switches.push(BenchSwitch {
                net,
                down: throw.down,
                up: throw.up,
                through_ohms: throw.through_ohms,
                tolerance: throw.tolerance,
                hollow: throw.hollow,
                span: phrase.span,
            });
        }
    }

    fn load(&mut self, phrase: &Phrase, problems: &mut Problems) {
        let mut words = Words::phrase(phrase, LOADS);
        let nets = self.nets(&mut words, problems);
        let Some(Hung {
            ohms,
            tolerance,
            hollow,
            to,
        }) = resistor(&mut words, self.rails, problems)
        else {
            return;
        };
        if self.bench.loads.len() + nets.len() > MOST_LOADS {
            let message = format!("there are more than {MOST_LOADS} resistors on the bench");
            problems.fault("too-many-loads", phrase.span, message, "Write fewer.");
            return;
        }
        let load = |net| BenchLoad {
            net,
            ohms,
            tolerance,
            hollow,
            to,
            span: phrase.span,
        };
        self.bench.loads.extend(nets.into_iter().map(load));
    }

    /// `meter 10M`
    fn meter(&mut self, line: &Statement, problems: &mut Problems) {
        let mut words = Words::of(&line.head, METER);
        words.next();
        let Some(word) = words.peek() else {
            words.want("the input resistance of the meter", problems);
            return;
        };
        let ohms = words.want_value(&OHMS, problems);
        words.finish(problems);
        if self.bench.meter_ohms.is_some() {
            let message = "the bench has two meters";
            problems.fault("said-twice", line.span, message, "Keep one of them.");
        }
        let sound =
            |ohms: &f64| words::above_zero(*ohms, word.span, "the input resistance", problems);
        self.bench.meter_ohms = ohms.filter(sound);
    }
}

/// What a switch gives, and the resistance in the way.
struct Throw {
    up: NetId,
    down: NetId,
    through_ohms: f64,
    tolerance: f64,
    hollow: Option<f64>,
}

/// `upper or ground through 10k 5%`, `upper or ground through 10k 5% hollow 2%`
fn throw(words: &mut Words, rails: &Rails, problems: &mut Problems) -> Option<Throw> {
    let up = rails.want_net(words, problems);
    words.want_text("or", problems)?;
    let down = rails.want_net(words, problems);
    let (mut through_ohms, mut tolerance, mut hollow) = (0.0, 0.0, None);
    if words.take("through").is_some() {
        let word = words.peek();
        through_ohms = words.want_value(&OHMS, problems)?;
        tolerance = words
            .stated_tolerance(Toleranced::Part, problems)
            .unwrap_or(0.0);
        hollow = word.and_then(|word| stated_hollow(words, &word.text, tolerance, problems));
        if let Some(word) = word.filter(|_| through_ohms < 0.0) {
            words::above_zero(
                through_ohms,
                word.span,
                "the resistance in the way",
                problems,
            );
            return None;
        }
    }
    words.finish(problems);
    Some(Throw {
        up: up?,
        down: down?,
        through_ohms,
        tolerance,
        hollow,
    })
}

/// A resistor that hangs on a net.
struct Hung {
    ohms: f64,
    tolerance: f64,
    hollow: Option<f64>,
    to: NetId,
}

/// `150k 5% to ground`, `150k 5% hollow 2% to ground`
fn resistor(words: &mut Words, rails: &Rails, problems: &mut Problems) -> Option<Hung> {
    let word = words.peek();
    let ohms = words.want_value(&OHMS, problems)?;
    let sound =
        word.is_some_and(|word| words::above_zero(ohms, word.span, "the resistance", problems));
    let tolerance = words
        .stated_tolerance(Toleranced::Part, problems)
        .unwrap_or(0.0);
    let hollow = word.and_then(|word| stated_hollow(words, &word.text, tolerance, problems));
    words.want_text("to", problems)?;
    let to = rails.want_net(words, problems)?;
    words.finish(problems);
    sound.then_some(Hung {
        ohms,
        tolerance,
        hollow,
        to,
    })
}

/// Reads jigs, one after the other.
#[derive(Default)]
pub(crate) struct Jigs {
    places: HashMap<CircuitId, Span>,
    /// The jigs so far.
    pub(crate) list: Vec<Jig>,
}

impl Jigs {
    /// Reads a `jig` statement and the lines below it.
    pub(crate) fn add(
        &mut self,
        statement: &Statement,
        kinds: &Kinds,
        rails: &Rails,
        problems: &mut Problems,
    ) {
        no_colon(statement, problems);
        let mut words = Words::of(&statement.head, "jig nor3");
        words.next();
        let Some(name) = words.want("the name of a circuit", problems) else {
            return;
        };
        words.finish(problems);
        let Some(circuit) = kinds.want_circuit(name, problems) else {
            return;
        };
        if let Some(first) = self.places.insert(circuit, name.span) {
            problems.taken(name, "a jig", Some(first));
        }
        let jig = Jig {
            circuit,
            drivers: Vec::new(),
            loads: Vec::new(),
            resistors: Vec::new(),
            span: statement.span,
        };
        let mut reader = JigReader {
            jig,
            kinds,
            rails,
            problems,
        };
        statement.children.iter().for_each(|line| reader.line(line));
        self.list.push(reader.jig);
    }

    /// Gives each circuit with another tube type the jig of the circuit it was made from.
    pub(crate) fn extend_to_variants(&mut self, kinds: &Kinds) {
        for (of, variant) in kinds.variants() {
            let copy = self
                .list
                .iter()
                .find(|jig| jig.circuit == of)
                .map(|jig| Jig {
                    circuit: variant,
                    ..jig.clone()
                });
            self.list.extend(copy);
        }
    }
}

struct JigReader<'a> {
    jig: Jig,
    kinds: &'a Kinds,
    rails: &'a Rails,
    problems: &'a mut Problems,
}

impl JigReader<'_> {
    fn line(&mut self, line: &Statement) {
        no_lines_below(line, self.problems);
        let read: fn(&mut Self, &Phrase) -> Option<()> = match keyword(line) {
            Some("drivers") if line.body.is_some() => Self::driver,
            Some("switches") if line.body.is_some() => Self::switch,
            Some("loads" | "pull-ups") if line.body.is_some() => Self::load,
            _ => {
                crate::read::wrong_statement(
                    line,
                    "jig",
                    &["drivers:", "switches:", "loads:", "pull-ups:"],
                    self.problems,
                );
                return;
            }
        };
        for phrase in line.body.iter().flatten() {
            read(self, phrase);
        }
    }

    /// The input or output that a phrase begins with.
    fn signal(&mut self, words: &mut Words, input: bool) -> Option<usize> {
        let what = if input { "input" } else { "output" };
        let word = words.want(&format!("an {what}"), self.problems)?;
        let circuit = &self.kinds.circuits[self.jig.circuit.0];
        let interface = &circuit.interface;
        let found = interface
            .signals
            .iter()
            .position(|signal| *signal == word.text)
            .filter(|index| (*index < interface.inputs) == input);
        if found.is_none() {
            let range = if input {
                0..interface.inputs
            } else {
                interface.inputs..interface.signals.len()
            };
            let names = interface.signals[range].iter().map(String::as_str);
            let what = format!("{what} of `{}`", circuit.name);
            self.problems.unknown(
                "unknown-signal",
                word,
                &what,
                names,
                "Look at the `inputs` line of the circuit.",
            );
        }
        found
    }

    /// `a nor3`
    fn driver(&mut self, phrase: &Phrase) -> Option<()> {
        let mut words = Words::phrase(phrase, DRIVERS);
        let signal = self.signal(&mut words, true);
        let word = words.want("a circuit", self.problems)?;
        let circuit = self.kinds.want_circuit(word, self.problems)?;
        words.finish(self.problems);
        if self.kinds.circuits[circuit.0]
            .interface
            .outputs()
            .is_empty()
        {
            let message = format!("`{}` has no output to drive with", word.text);
            self.problems.fault(
                "no-output",
                word.span,
                message,
                "Name a circuit that has one.",
            );
        }
        self.drive(signal?, JigDriver::Circuit(circuit), phrase)
    }

    /// `a upper or ground through 10k`
    fn switch(&mut self, phrase: &Phrase) -> Option<()> {
        let mut words = Words::phrase(phrase, SWITCHES);
        let signal = self.signal(&mut words, true);
        let Throw {
            up,
            down,
            through_ohms,
            tolerance,
            hollow,
        } = throw(&mut words, self.rails, self.problems)?;
        self.drive(
            signal?,
            JigDriver::Switch {
                down,
                up,
                through_ohms,
                tolerance,
                hollow,
            },
            phrase,
        )
    }

    fn drive(&mut self, signal: usize, driver: JigDriver, phrase: &Phrase) -> Option<()> {
        if self.jig.drivers.iter().any(|(other, _)| *other == signal) {
            let name = &self.kinds.circuits[self.jig.circuit.0].interface.signals[signal];
            let message = format!("`{name}` is driven by two things in this jig");
            self.problems
                .fault("two-drivers", phrase.span, message, "Take one of them out.");
            return None;
        }
        self.jig.drivers.push((signal, driver));
        Some(())
    }

    /// `y nor3`, `y 3 nor3`, `y 150k to ground`, `y 150k 5% to ground`
    fn load(&mut self, phrase: &Phrase) -> Option<()> {
        let mut words = Words::phrase(phrase, JIG_LOADS);
        let signal = self.signal(&mut words, false);
        if words.rest().iter().skip(1).any(|word| word.text == "to") {
            let Hung {
                ohms,
                tolerance,
                hollow,
                to,
            } = resistor(&mut words, self.rails, self.problems)?;
            self.jig.resistors.push(JigResistor {
                signal: signal?,
                ohms,
                tolerance,
                hollow,
                to,
            });
            return Some(());
        }
        let count = match words.rest() {
            [number, _, ..] => Some(*number),
            _ => None,
        };
        let mut inputs = 1;
        if let Some(word) = count {
            words.next();
            inputs = whole_number(&word.text)
                .filter(|count| (1..=MOST_UNITS).contains(count))
                .or_else(|| {
                    let message = format!("`{}` is no number of inputs", word.text);
                    self.problems.fault(
                        "not-a-number",
                        word.span,
                        message,
                        format!("The form is `{JIG_LOADS}`."),
                    );
                    None
                })?;
        }
        let word = words.want("a circuit", self.problems)?;
        let circuit = self.kinds.want_circuit(word, self.problems)?;
        words.finish(self.problems);
        self.jig.loads.push((signal?, circuit, inputs as usize));
        Some(())
    }
}
