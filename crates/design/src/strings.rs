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
use crate::words::{self, Words};
use std::collections::HashMap;
use text::diagnostic::Diagnostic;
use text::source::Span;
use text::tree::{Phrase, Statement, Word};

const FORM: &str = "string H1: from heat, V1, V2 beside V3, R90 820 5% 2W, back to ground";

/// Reads heater strings, one after the other.
pub(crate) struct Strings<'a> {
    opened: &'a Opened,
    kinds: &'a Kinds,
    /// Unit index by name.
    units: HashMap<&'a str, usize>,
    names: HashMap<String, Span>,
    /// Where each tube was first put into a string.
    heated: HashMap<SocketId, Span>,
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
        let mut branches = Vec::from_iter(self.branch(first, words, problems));
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
            return resistor(first, words, problems);
        }
        let tapped = words.take("tapped");
        let (socket, tapped) = self.heater(first, tapped, problems)?;
        Some(Branch::Heater { socket, tapped })
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
    while let Some(word) = words.peek().filter(|word| word.text != "beside") {
        words.next();
        sound &= values.add(Kind::Resistor, word, problems);
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
