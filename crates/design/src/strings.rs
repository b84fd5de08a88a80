//! `string H1: from heat, V1, V2 beside V3, R90 820 5% 2W, back to ground`

use crate::flatten::Opened;
use crate::include::no_lines_below;
use crate::kinds::Kinds;
use crate::marks::{numbered_names, tube_mark};
use crate::model::{Branch, HeaterString, Link, SocketId, Terminal};
use crate::places;
use crate::placing::MOST_UNITS;
use crate::problems::Problems;
use crate::values::{self, Kind, Values};
use crate::words::{self, AMPERES, LENGTH, OHMS, SECONDS, Toleranced, VOLTS, Words};
use devices::copper;
use devices::thermistor::ThermistorLaw;
use std::collections::HashMap;
use text::diagnostic::Diagnostic;
use text::quantity::{self, Unit, show};
use text::source::Span;
use text::tree::{Phrase, Statement, Word};

const FORM: &str = "string H1: from heat, V1, V2 beside V3, R90 820 5% 2W, back to ground";

/// Wires of heater strings (common practice, no source).
const USUAL_METRES: (f64, f64) = (1e-3, 100.0);
const USUAL_WIDTH: (f64, f64) = (50e-6, 20e-3);
const USUAL_COPPER: (f64, f64) = (10e-6, 400e-6);

/// Thermistors and ballast tubes for heaters (common practice, no source).
const USUAL_AMPERES: (f64, f64) = (10e-3, 20.0);
const USUAL_VOLTS: (f64, f64) = (0.5, 300.0);
const USUAL_SECONDS: (f64, f64) = (1.0, 600.0);

/// In which time a thermistor cools by 63 %, s, where nothing is said: chosen; those for heaters take a minute or two.
const THERMISTOR_SECONDS: f64 = 60.0;

/// Reads heater strings, one after the other.
pub(crate) struct Strings<'a> {
    opened: &'a Opened,
    kinds: &'a Kinds,
    /// Unit index by name.
    units: HashMap<&'a str, usize>,
    names: HashMap<String, Span>,
    /// Where each tube was first put into a string.
    heated: HashMap<SocketId, Span>,
    /// Where each resistor, thermistor and ballast tube was first put into a string.
    marks: HashMap<String, Span>,
    /// The strings so far.
    pub(crate) list: Vec<HeaterString>,
}

impl<'a> Strings<'a> {
    /// None yet.
    pub(crate) fn new(opened: &'a Opened, kinds: &'a Kinds) -> Self {
        let units = opened
            .units
            .iter()
            .enumerate()
            .map(|(index, unit)| (unit.name.as_str(), index))
            .collect();
        Self {
            opened,
            kinds,
            units,
            names: HashMap::new(),
            heated: HashMap::new(),
            marks: HashMap::new(),
            list: Vec::new(),
        }
    }

    /// Reads a `string` statement.
    pub(crate) fn add(&mut self, statement: &Statement, problems: &mut Problems) {
        no_lines_below(statement, problems);
        let mut head = Words::of(&statement.head, FORM);
        head.next();
        let Some(name) = head.want("the name of the string", problems) else {
            return;
        };
        let said_before = problems.said();
        head.finish(problems);
        if statement.body.is_none() && problems.said() > said_before {
            return;
        }
        let named = words::check_name(name, problems);
        if let Some(first) = self.names.insert(name.text.clone(), name.span) {
            problems.taken(name, "a heater string", Some(first));
        }
        let phrases = statement.body.as_deref().unwrap_or_default();
        let mut from = None;
        let mut to = None;
        let mut links = Vec::new();
        for (index, phrase) in phrases.iter().enumerate() {
            let mut words = Words::phrase(phrase, FORM);
            if index == 0 && words.take("from").is_some() {
                from = self.end(&mut words, problems);
            } else if index + 1 == phrases.len() && words.take("back").is_some() {
                to = words
                    .want_text("to", problems)
                    .and_then(|_| self.end(&mut words, problems));
            } else {
                self.link(phrase, &mut words, &mut links, problems);
            }
            words.finish(problems);
        }
        check_ends(name, phrases, &links, problems);
        let (Some((from, from_span)), Some((to, to_span)), true) = (from, to, named) else {
            return;
        };
        self.list.push(HeaterString {
            name: name.text.clone(),
            from,
            from_span,
            links,
            to,
            to_span,
            span: statement.span,
        });
    }

    /// A net, or an inner node of a unit written `G3.k`.
    fn end(&self, words: &mut Words, problems: &mut Problems) -> Option<(Terminal, Span)> {
        let word = words.want("a rail, a net or `ground`", problems)?;
        let terminal = self
            .opened
            .nets
            .find(&word.text)
            .map(Terminal::Net)
            .or_else(|| self.inner_node(&word.text));
        if terminal.is_none() {
            let names = self.opened.nets.list.iter().map(|net| net.name.as_str());
            problems.unknown(
                "unknown-net",
                word,
                "rail or net",
                names,
                "Name a rail, a net, or a node inside a unit such as `G3.k`.",
            );
        }
        Some((terminal?, word.span))
    }

    fn inner_node(&self, name: &str) -> Option<Terminal> {
        let (unit_name, node_name) = name.rsplit_once('.')?;
        let index = *self.units.get(unit_name)?;
        let unit = &self.opened.units[index];
        let circuit = &self.kinds.circuits[unit.circuit.0];
        let node = circuit
            .nodes
            .iter()
            .position(|node| node.name == node_name)?;
        Some(places::terminal(
            crate::model::UnitId(index),
            node,
            unit,
            circuit,
        ))
    }

    /// `V3`, `V3 tapped`, `V1 to V4`, `V5 beside V6`, `R90 820 5% 2W`, `V7 beside R91 42 5% 2W`
    fn link(
        &mut self,
        phrase: &Phrase,
        words: &mut Words,
        links: &mut Vec<Link>,
        problems: &mut Problems,
    ) {
        let Some(first) = words.next() else { return };
        if words.take("to").is_some() {
            self.run(first, phrase, words, links, problems);
            return;
        }
        let mut branches = Vec::from_iter(match lone(first, words, problems) {
            Some(branch) => branch.filter(|_| self.is_new(first, problems)),
            None => self.branch(first, words, problems),
        });
        while words.take("beside").is_some() {
            if let Some(word) = words.want("another tube or resistor", problems) {
                branches.extend(self.branch(word, words, problems));
            }
        }
        if !branches.is_empty() {
            let span = phrase.span;
            links.push(Link { branches, span });
        }
    }

    /// `V3`, `V3 tapped`, `R90 820 5% 2W`
    fn branch(
        &mut self,
        first: &Word,
        words: &mut Words,
        problems: &mut Problems,
    ) -> Option<Branch> {
        if first.text.starts_with('R') {
            return resistor(first, words, problems).filter(|_| self.is_new(first, problems));
        }
        let tapped = words.take("tapped");
        let (socket, tapped) = self.heater(first, tapped, problems)?;
        Some(Branch::Heater { socket, tapped })
    }

    /// Whether no other part of a string has this mark, with a fault where one has; wire and copper have none.
    fn is_new(&mut self, mark: &Word, problems: &mut Problems) -> bool {
        if !mark.text.starts_with('R') {
            return true;
        }
        let first = self.marks.insert(mark.text.clone(), mark.span);
        if first.is_some() {
            problems.taken(mark, "a part of a heater string", first);
        }
        first.is_none()
    }

    /// `V1 to V4`: one after the other; `tapped` at the end is said of all.
    fn run(
        &mut self,
        first: &Word,
        phrase: &Phrase,
        words: &mut Words,
        links: &mut Vec<Link>,
        problems: &mut Problems,
    ) {
        let Some(last) = words.want("the last tube", problems) else {
            return;
        };
        let Some(names) = numbered_names(&first.text, &last.text, MOST_UNITS) else {
            let message = format!("`{}` to `{}` is no run of tubes", first.text, last.text);
            problems.fault(
                "range-odd",
                phrase.span,
                message,
                "Write it like `V1 to V4`, the smaller number first.",
            );
            return;
        };
        let tapped = words.take("tapped");
        for name in names {
            let word = Word {
                text: name,
                kind: first.kind,
                span: phrase.span,
            };
            // The first tube with a fault ends the run, so that the work is bounded by the number of tubes.
            let Some((socket, tapped)) = self.heater(&word, tapped, problems) else {
                return;
            };
            links.push(Link {
                branches: vec![Branch::Heater { socket, tapped }],
                span: phrase.span,
            });
        }
    }

    /// The tube in its socket, and whether it is wired for its tapped voltage.
    fn heater(
        &mut self,
        word: &Word,
        tapped: Option<&Word>,
        problems: &mut Problems,
    ) -> Option<(SocketId, bool)> {
        let id = self.socket(word, problems)?;
        let device = &self.opened.sockets.list[id.0].device;
        match (&device.heater, tapped) {
            (Some(heater), Some(tapped)) if heater.tapped.is_none() => {
                let message = format!("the heater of a {} has no tap on a pin", device.name);
                problems.fault("no-tap", tapped.span, message, "Leave `tapped` out.");
            }
            (None, _) => {
                let message = format!(
                    "the heater of a {} is not known, so this string cannot be worked out",
                    device.name
                );
                problems.caution(
                    "heater-unknown",
                    word.span,
                    message,
                    "Give its volts and current in a `type` statement.",
                );
            }
            _ => {}
        }
        Some((id, tapped.is_some()))
    }

    /// The socket of a tube that stands in no other place of a string.
    fn socket(&mut self, word: &Word, problems: &mut Problems) -> Option<SocketId> {
        let found = tube_mark(&word.text)
            .filter(|mark| mark.section.is_none())
            .and_then(|mark| self.opened.sockets.find(mark.number));
        let Some(id) = found else {
            let names = self
                .opened
                .sockets
                .list
                .iter()
                .map(|socket| socket.mark.as_str());
            problems.unknown("unknown-tube", word, "tube", names, "A string heats tubes that a unit stands in, written `V7`, and dropping resistors, written `R90 820 5% 2W`.");
            return None;
        };
        if let Some(first) = self.heated.insert(id, word.span) {
            let message = format!(
                "the heater of `{}` stands in two places",
                self.opened.sockets.list[id.0].mark
            );
            let problem = Diagnostic::fault("heater-twice", word.span, message)
                .remedy("Take it out of one of them.");
            problems.push(problem.related(first, "first heated here"));
            return None;
        }
        Some(id)
    }
}

/// Faults when the string does not say where it begins and ends, or has nothing in it.
fn check_ends(name: &Word, phrases: &[Phrase], links: &[Link], problems: &mut Problems) {
    let begins = |phrase: Option<&Phrase>, word: &str| {
        phrase.is_some_and(|phrase| phrase.words.first().is_some_and(|first| first.text == word))
    };
    let (from, back) = (
        begins(phrases.first(), "from"),
        begins(phrases.last(), "back"),
    );
    let missing = match (from, back) {
        (true, true) if links.is_empty() && phrases.len() == 2 => "what it heats",
        (true, true) => return,
        (false, true) => "where it comes from",
        (true, false) => "where it goes back to",
        (false, false) => "where it comes from and goes back to",
    };
    let message = format!("the string `{}` does not say {missing}", name.text);
    problems.fault(
        "string-incomplete",
        name.span,
        message,
        format!("The form is `{FORM}`."),
    );
}

/// `R90 820 5% 2W`
fn resistor(mark: &Word, words: &mut Words, problems: &mut Problems) -> Option<Branch> {
    values::check_letters(mark, Kind::Resistor.facts().letters, "resistor", problems);
    let mut values = Values::default();
    let mut sound = true;
    while words.peek().is_some_and(|word| word.text != "beside") {
        sound &= values.add(Kind::Resistor, words, problems);
    }
    if values.drift.is_some() {
        let message = format!("`{}` of a heater string is given a drift", mark.text);
        let remedy = "Leave it out: dropping resistors are wire-wound and do not rise as carbon composition does.";
        problems.fault("string-part-odd", mark.span, message, remedy);
    }
    if values.hollow.is_some() {
        let message = format!("`{}` of a heater string is given a hollow band", mark.text);
        let remedy =
            "Leave it out: of a string the ends of the tolerance are taken, and nothing is drawn.";
        problems.fault("string-part-odd", mark.span, message, remedy);
    }
    if !sound {
        return None;
    }
    let (ohms, _) = values.main(Kind::Resistor, mark, problems)?;
    Some(Branch::Resistor {
        mark: mark.text.clone(),
        ohms,
        tolerance: values.tolerance(Kind::Resistor, mark, problems),
        watts: values.watts,
    })
}

/// A part that stands alone in its place: `wire 1200mm by 0.8mm`, `copper 160mm by 2mm`, `RT1 thermistor 220 to 8 at 300mA`,
/// `RT2 ballast 300mA from 5V to 15V`. The outer `None` when it is no such part, the inner one when it has a fault.
fn lone(first: &Word, words: &mut Words, problems: &mut Problems) -> Option<Option<Branch>> {
    let branch = if ["wire", "copper"].contains(&first.text.as_str()) {
        conductor(first, words, problems)
    } else if words.take("thermistor").is_some() {
        values::check_letters(first, &["RT"], "thermistor", problems);
        thermistor(first, words, problems)
    } else if words.take("ballast").is_some() {
        values::check_letters(first, &["RT"], "ballast tube", problems);
        ballast(first, words, problems)
    } else {
        return None;
    };
    if let Some(beside) = words.take("beside") {
        let message = format!("`{}` stands alone in its place of the string", first.text);
        problems.fault(
            "string-part-odd",
            beside.span,
            message,
            "Put a comma before what comes next; only heaters and resistors stand beside one another.",
        );
        words.skip();
    } else if branch.is_none() {
        words.skip();
    }
    Some(branch)
}

/// A value above zero and not far from what is usual.
fn positive(
    words: &mut Words,
    measure: &words::Measure,
    usual: (f64, f64),
    what: &str,
    problems: &mut Problems,
) -> Option<f64> {
    let word = words.peek();
    let value = words.want_value(measure, problems)?;
    let word = word?;
    words::usual(value.abs(), usual, word, what, problems);
    words::above_zero(value, word.span, &format!("the {what}"), problems).then_some(value)
}

/// `wire 1200mm by 0.8mm`: length by diameter; `copper 160mm by 2mm 70um`: length by width, and thickness.
fn conductor(first: &Word, words: &mut Words, problems: &mut Problems) -> Option<Branch> {
    let on_board = first.text == "copper";
    let metres = positive(words, &LENGTH, USUAL_METRES, "length", problems)?;
    words.want_text("by", problems)?;
    let what = if on_board { "width" } else { "diameter" };
    let across = positive(words, &LENGTH, USUAL_WIDTH, what, problems)?;
    let square_metres = if on_board {
        let thickness = words.peek().filter(|word| {
            quantity::parse(&word.text).is_ok_and(|value| value.unit == Unit::Metre)
        });
        let thickness = match thickness {
            Some(_) => positive(
                words,
                &LENGTH,
                USUAL_COPPER,
                "thickness of copper",
                problems,
            )?,
            None => copper::SHEET_METRES,
        };
        thickness * across
    } else {
        std::f64::consts::FRAC_PI_4 * across * across
    };
    Some(Branch::Conductor {
        on_board,
        metres,
        square_metres,
    })
}

/// `RT1 thermistor 220 to 8 at 300mA 20% 60s`
fn thermistor(mark: &Word, words: &mut Words, problems: &mut Problems) -> Option<Branch> {
    let usual = Kind::Resistor.facts().usual;
    let cold_ohms = positive(words, &OHMS, usual, "cold resistance", problems)?;
    words.want_text("to", problems)?;
    let hot_ohms = positive(words, &OHMS, usual, "hot resistance", problems)?;
    words.want_text("at", problems)?;
    let amps = positive(words, &AMPERES, USUAL_AMPERES, "current", problems)?;
    let tolerance = words.tolerance(mark, Toleranced::Part, problems);
    let seconds = match words.peek() {
        Some(word) if word.text != "beside" => {
            positive(words, &SECONDS, USUAL_SECONDS, "cooling time", problems)?
        }
        _ => THERMISTOR_SECONDS,
    };
    let Some(law) = ThermistorLaw::of(cold_ohms, hot_ohms, amps, seconds) else {
        let message = format!(
            "`{}` cannot come from {} cold to {} hot",
            mark.text,
            show(cold_ohms, Unit::Ohm, 3),
            show(hot_ohms, Unit::Ohm, 3)
        );
        problems.fault(
            "string-part-odd",
            mark.span,
            message,
            "A thermistor for heaters has less resistance hot than cold, and not less than a thousandth of it; write the larger value first.",
        );
        return None;
    };
    Some(Branch::Thermistor {
        mark: mark.text.clone(),
        law,
        hot_ohms,
        amps,
        tolerance,
    })
}

/// `RT2 ballast 300mA from 5V to 15V 5%`
fn ballast(mark: &Word, words: &mut Words, problems: &mut Problems) -> Option<Branch> {
    let amps = positive(words, &AMPERES, USUAL_AMPERES, "current", problems)?;
    words.want_text("from", problems)?;
    let from = positive(words, &VOLTS, USUAL_VOLTS, "lowest volts", problems)?;
    words.want_text("to", problems)?;
    let to = positive(words, &VOLTS, USUAL_VOLTS, "highest volts", problems)?;
    let tolerance = words.tolerance(mark, Toleranced::Part, problems);
    if to <= from {
        let message = format!(
            "`{}` holds from {} to {}, which is no range",
            mark.text,
            show(from, Unit::Volt, 3),
            show(to, Unit::Volt, 3)
        );
        let remedy = "Write the lower volts first.";
        problems.fault("string-part-odd", mark.span, message, remedy);
        return None;
    }
    Some(Branch::Ballast {
        mark: mark.text.clone(),
        amps,
        volts: (from, to),
        tolerance,
    })
}
