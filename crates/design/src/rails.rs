//! `rail upper 36V 5%, limit 600mA, capacitor 220u, bleeder 100k`, `rail heat 25.2V 5% ac`

use crate::include::{no_colon, no_lines_below};
use crate::kinds::Kinds;
use crate::model::{Design, HeaterString, NetId, NodeKind, Rail, RailId, Terminal, Unit};
use crate::problems::Problems;
use crate::words::{self, AMPERES, FARADS, OHMS, Toleranced, VOLTS, Words};
use std::collections::HashMap;
use text::diagnostic::Diagnostic;
use text::source::Span;
use text::tree::{Statement, Word};

const FORM: &str = "rail upper 36V 5%, limit 600mA, capacitor 220u, bleeder 100k` or `rail heat 12.6V 5% ac, on lift";
/// Supplies of small tubes; outside these volts a slip is likelier (common practice, no source).
const USUAL_VOLTS: (f64, f64) = (0.5, 3000.0);

/// Limits, capacitors and bleeders of such supplies (common practice, no source).
const USUAL_AMPERES: (f64, f64) = (100e-6, 200.0);
const USUAL_FARADS: (f64, f64) = (1e-9, 0.5);
const USUAL_OHMS: (f64, f64) = (10.0, 10e6);

/// The rails and their names.
#[derive(Debug, Default)]
pub(crate) struct Rails {
    /// In the order of the text.
    pub(crate) list: Vec<Rail>,
    by_name: HashMap<String, RailId>,
}

impl Rails {
    /// The rail of a name.
    pub(crate) fn find(&self, name: &str) -> Option<RailId> {
        self.by_name.get(name).copied()
    }

    /// The net of a rail or of ground.
    pub(crate) fn net(&self, name: &str) -> Option<NetId> {
        if name == "ground" {
            return Some(crate::model::Design::GROUND);
        }
        self.find(name).map(|rail| self.list[rail.0].net)
    }

    /// The net of the rail or ground that the next word names; faults when it names none.
    pub(crate) fn want_net(&self, words: &mut Words, problems: &mut Problems) -> Option<NetId> {
        let word = words.want("a rail or `ground`", problems)?;
        let net = self.net(&word.text);
        if let Some(rail) = self.find(&word.text).map(|rail| &self.list[rail.0])
            && rail.alternates
        {
            alternates(rail, word.span, problems);
        }
        if net.is_none() {
            let names = self
                .list
                .iter()
                .map(|rail| rail.name.as_str())
                .chain(["ground"]);
            problems.unknown(
                "unknown-rail",
                word,
                "rail",
                names,
                "Write `ground` or the name of a rail of the machine.",
            );
        }
        net
    }

    /// Faults where anything but a heater string to ground hangs on a rail that alternates, once for each circuit, unit and
    /// string: the volts of two windings in a row depend on their phase, and a winding on a rail of direct volts on both.
    pub(crate) fn check_alternating(
        &self,
        kinds: &Kinds,
        units: &[Unit],
        strings: &[HeaterString],
        problems: &mut Problems,
    ) {
        let alternating = |rail: RailId| {
            let rail = &self.list[rail.0];
            rail.alternates.then_some(rail)
        };
        for circuit in &kinds.circuits {
            for node in &circuit.nodes {
                if let NodeKind::Rail(rail) = node.kind
                    && let Some(rail) = alternating(rail)
                {
                    alternates(rail, node.span, problems);
                }
            }
        }
        for unit in units {
            let mut rails = (0..self.list.len()).map(RailId).filter_map(alternating);
            if let Some(rail) = rails.find(|rail| unit.nets.contains(&rail.net)) {
                alternates(rail, unit.span, problems);
            }
        }
        for string in strings {
            let ends = [(string.from, string.to_span), (string.to, string.from_span)];
            let on = ends.iter().find_map(|(end, other)| {
                let mut rails = (0..self.list.len()).map(RailId).filter_map(alternating);
                Some((rails.find(|rail| *end == Terminal::Net(rail.net))?, *other))
            });
            let Some((rail, span)) = on else { continue };
            let (foot, name) = match rail.stands_on {
                Some(foot) => (self.list[foot.0].net, &self.list[foot.0].name[..]),
                None => (Design::GROUND, "ground"),
            };
            if ends.iter().all(|(end, _)| *end != Terminal::Net(foot)) {
                let message = format!(
                    "a string on `{}`, which alternates and stands on {name}, must have its other end on {name}",
                    rail.name
                );
                let remedy = format!("Take this end to {name}.");
                misused(rail, span, message, &remedy, problems);
            }
        }
    }

    /// Where a rail of this name is written.
    pub(crate) fn place(&self, name: &str) -> Option<Span> {
        self.find(name).map(|rail| self.list[rail.0].span)
    }

    /// Reads a `rail` statement.
    pub(crate) fn add(&mut self, statement: &Statement, problems: &mut Problems) {
        no_lines_below(statement, problems);
        no_colon(statement, problems);
        let mut words = Words::of(&statement.head, FORM);
        words.next();
        let Some(name) = words.want("the name of the rail", problems) else {
            return;
        };
        if !words::check_name(name, problems) {
            return;
        }
        if let Some(first) = self.place(&name.text) {
            problems.taken(name, "a rail", Some(first));
            return;
        }
        let rail = self.values(name, statement.span, &mut words, problems);
        words.finish(problems);
        self.by_name
            .insert(name.text.clone(), RailId(self.list.len()));
        self.list.push(rail);
    }

    /// `on lift`: the rail that an alternating one stands on.
    fn foot(&self, rail: &mut Rail, on: &Word, words: &mut Words, problems: &mut Problems) {
        let Some(word) = words.want("the rail that it stands on", problems) else {
            return;
        };
        let Some(foot) = self.find(&word.text) else {
            let names = self.list.iter().map(|rail| rail.name.as_str());
            let remedy = "Name a rail of direct volts that is written before this one.";
            problems.unknown("unknown-rail", word, "rail", names, remedy);
            return;
        };
        let foot_rail = &self.list[foot.0];
        if !rail.alternates || foot_rail.alternates {
            let message = if rail.alternates {
                format!(
                    "`{}` alternates itself, so nothing can stand on it",
                    word.text
                )
            } else {
                format!(
                    "`{}` does not alternate, so it stands on no other rail",
                    rail.name
                )
            };
            let remedy = "Only an alternating rail stands on one of direct volts; write `ac` before `on`, or for direct volts those against ground.";
            problems.fault("rail-alternates", on.span.to(word.span), message, remedy);
            return;
        }
        rail.stands_on = Some(foot);
    }

    fn values(&self, name: &Word, span: Span, words: &mut Words, problems: &mut Problems) -> Rail {
        let mut rail = Rail {
            name: name.text.clone(),
            volts: 0.0,
            tolerance: 0.0,
            alternates: false,
            stands_on: None,
            limit_amps: None,
            capacitor_farads: None,
            bleeder_ohms: None,
            net: NetId(1 + self.list.len()),
            span,
            volts_span: name.span,
        };
        let Some(volts) = words.want("the voltage of the rail", problems) else {
            return rail;
        };
        rail.volts_span = volts.span;
        if let Some(value) = words::value(volts, &VOLTS, problems) {
            rail.volts = value;
            words::usual(value.abs(), USUAL_VOLTS, volts, "rail voltage", problems);
        }
        rail.alternates = words.take("ac").is_some();
        rail.tolerance = words.tolerance(name, Toleranced::Rail, problems);
        loop {
            if words.take("ac").is_some() {
                rail.alternates = true;
                continue;
            }
            if let Some(on) = words.take("on") {
                if rail.stands_on.is_some() {
                    said_twice(name, on, "the rail that it stands on", problems);
                }
                self.foot(&mut rail, on, words, problems);
                continue;
            }
            let next = words.peek();
            let (value, measure, what, usual) = if words.take("limit").is_some() {
                (&mut rail.limit_amps, &AMPERES, "the limit", USUAL_AMPERES)
            } else if words.take("capacitor").is_some() {
                let what = "the capacitor";
                (&mut rail.capacitor_farads, &FARADS, what, USUAL_FARADS)
            } else if words.take("bleeder").is_some() {
                (&mut rail.bleeder_ohms, &OHMS, "the bleeder", USUAL_OHMS)
            } else {
                return rail;
            };
            if let Some(word) = next.filter(|_| value.is_some()) {
                said_twice(name, word, what, problems);
            }
            let Some(word) = words.peek() else {
                words.want(measure.what, problems);
                return rail;
            };
            let read = words.want_value(measure, problems);
            *value = read.filter(|read| words::above_zero(*read, word.span, what, problems));
            if let Some(value) = *value {
                words::usual(
                    value,
                    usual,
                    word,
                    what.trim_start_matches("the "),
                    problems,
                );
            }
        }
    }
}

fn said_twice(name: &Word, word: &Word, what: &str, problems: &mut Problems) {
    let message = format!("{what} of the rail `{}` is said twice", name.text);
    let remedy = "Keep one of them; of two capacitors side by side write the sum, of two bleeders what they make together.";
    problems.fault("said-twice", word.span, message, remedy);
}

fn alternates(rail: &Rail, span: Span, problems: &mut Problems) {
    let message = format!(
        "the rail `{}` alternates, and only heaters may hang on it",
        rail.name
    );
    let remedy = "Take it to a rail of direct volts.";
    misused(rail, span, message, remedy, problems);
}

fn misused(rail: &Rail, span: Span, message: String, remedy: &str, problems: &mut Problems) {
    problems.push(
        Diagnostic::fault("rail-alternates", span, message)
            .remedy(remedy)
            .related(rail.span, "said to alternate here"),
    );
}
