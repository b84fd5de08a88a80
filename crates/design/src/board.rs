//! Boards: what they carry, their connectors, and whether every net that leaves one has a pin.

use crate::flatten::Opened;
use crate::include::{keyword, no_colon, no_lines_below};
use crate::marks::{numbered_names, whole_number};
use crate::model::{Bench, Board, Connector, NetId, NetKind, UnitId};
use crate::placing::MOST_UNITS;
use crate::problems::{Problems, listing};
use crate::words::{self, LENGTH, Words};
use std::collections::{BTreeMap, BTreeSet, HashMap};
use text::diagnostic::Diagnostic;
use text::source::Span;
use text::tree::{Phrase, Statement, Word};

const FORM: &str = "board subtractor 160mm by 100mm";
const CARRIES: &str = "carries G1 to G16, F1, borrow";
const CONNECTOR: &str = "connector J1: 1 upper, 2 lower, 3 ground, 4 take";
/// Smallest and largest edge in m (common practice, no source).
const USUAL_EDGE: (f64, f64) = (0.005, 1.0);

/// Reads boards, one after the other.
pub(crate) struct Boards<'a> {
    opened: &'a Opened,
    /// Units by name, in order of name, so that what lies inside `borrow` follows `borrow.`.
    units: BTreeMap<&'a str, UnitId>,
    names: HashMap<String, Span>,
    /// Connectors by board and mark.
    connector_marks: HashMap<(usize, String), Span>,
    /// Where each unit is carried: board and place in the text.
    carried: Vec<Option<(usize, Span)>>,
    /// Something that a board carries was not understood.
    doubtful: bool,
    /// The boards so far.
    pub(crate) list: Vec<Board>,
}

impl<'a> Boards<'a> {
    /// None yet.
    pub(crate) fn new(opened: &'a Opened) -> Self {
        let units = opened
            .units
            .iter()
            .enumerate()
            .map(|(index, unit)| (unit.name.as_str(), UnitId(index)))
            .collect();
        Self {
            opened,
            units,
            names: HashMap::new(),
            connector_marks: HashMap::new(),
            carried: vec![None; opened.units.len()],
            doubtful: false,
            list: Vec::new(),
        }
    }

    /// Reads a `board` statement and the lines below it.
    pub(crate) fn add(&mut self, statement: &Statement, problems: &mut Problems) {
        no_colon(statement, problems);
        let mut words = Words::of(&statement.head, FORM);
        words.next();
        let Some(name) = words.want("the name of the board", problems) else {
            self.doubtful = true;
            return;
        };
        words::check_name(name, problems);
        if let Some(first) = self.names.insert(name.text.clone(), name.span) {
            problems.taken(name, "a board", Some(first));
        }
        let size_mm = if words.peek().is_some() {
            size(&mut words, problems)
        } else {
            None
        };
        words.finish(problems);
        let board = Board {
            name: name.text.clone(),
            size_mm,
            units: Vec::new(),
            connectors: Vec::new(),
            span: statement.span,
        };
        self.list.push(board);
        for line in &statement.children {
            no_lines_below(line, problems);
            match keyword(line) {
                Some("carries") => self.carries(line, problems),
                Some("connector") => self.connector(line, problems),
                _ => {
                    crate::read::wrong_statement(
                        line,
                        "board",
                        &["carries", "connector"],
                        problems,
                    );
                    self.doubtful = true;
                }
            }
        }
        if let Some(board) = self.list.last_mut() {
            board.units.sort();
        }
    }

    /// `carries G1 to G16, F1, borrow`
    fn carries(&mut self, line: &Statement, problems: &mut Problems) {
        no_colon(line, problems);
        for (index, phrase) in line.head.iter().enumerate() {
            let mut words = Words::phrase(phrase, CARRIES);
            if index == 0 {
                words.next();
            }
            let Some(first) = words.want("a unit", problems) else {
                continue;
            };
            if words.take("to").is_some() {
                self.run(first, &mut words, problems);
            } else {
                let _ = self.carry(&first.text, first, problems);
            }
            words.finish(problems);
        }
    }

    /// `G1 to G16`
    fn run(&mut self, first: &Word, words: &mut Words, problems: &mut Problems) {
        let Some(last) = words.want("the last unit", problems) else {
            return;
        };
        let span = first.span.to(last.span);
        match numbered_names(&first.text, &last.text, MOST_UNITS) {
            Some(mut names) => {
                // The first name with a fault ends the run, so that the work is bounded by the number of units.
                let whole = Word {
                    text: String::new(),
                    kind: first.kind,
                    span,
                };
                let _ = names.try_for_each(|name| self.carry(&name, &whole, problems));
            }
            None => {
                let message = format!("`{}` to `{}` is no run of units", first.text, last.text);
                problems.fault(
                    "range-odd",
                    span,
                    message,
                    "Write it like `G1 to G16`, the smaller number first.",
                );
                self.doubtful = true;
            }
        }
    }

    /// Puts a unit, or everything inside a block or array, on the board; `None` at the first fault.
    fn carry(&mut self, name: &str, word: &Word, problems: &mut Problems) -> Option<()> {
        let mut units: Vec<UnitId> = self.units.get(name).copied().into_iter().collect();
        let inside = format!("{name}.");
        let within = self
            .units
            .range(inside.as_str()..)
            .take_while(|(other, _)| other.starts_with(&inside));
        units.extend(within.map(|(_, id)| *id));
        if units.is_empty() {
            self.doubtful = true;
            let missing = Word {
                text: name.to_owned(),
                ..word.clone()
            };
            let known = self
                .opened
                .units
                .iter()
                .map(|unit| unit.name.split('.').next().unwrap_or_default());
            problems.unknown(
                "unit-not-in-machine",
                &missing,
                "unit",
                known,
                "A board carries units, blocks and arrays that stand in the machine.",
            );
        }
        let found = (!units.is_empty()).then_some(());
        units
            .into_iter()
            .try_for_each(|unit| self.put(unit, word.span, problems))
            .and(found)
    }

    fn put(&mut self, unit: UnitId, span: Span, problems: &mut Problems) -> Option<()> {
        let here = self.list.len() - 1;
        if let Some((board, first)) = self.carried[unit.0] {
            let name = &self.opened.units[unit.0].name;
            let message = if board == here {
                format!("`{name}` is named twice on one board")
            } else {
                format!(
                    "`{name}` stands on two boards, `{}` and `{}`",
                    self.list[board].name, self.list[here].name
                )
            };
            let problem =
                Diagnostic::fault("unit-carried-twice", span, message).remedy("Name it once.");
            problems.push(problem.related(first, "first named here"));
            return None;
        }
        self.carried[unit.0] = Some((here, span));
        self.list[here].units.push(unit);
        Some(())
    }

    /// `connector J1: 1 upper, 2 lower, 3 ground, 4 take`
    fn connector(&mut self, line: &Statement, problems: &mut Problems) {
        let mut head = Words::of(&line.head, CONNECTOR);
        head.next();
        let Some(mark) = head.want("the mark of the connector", problems) else {
            return;
        };
        head.finish(problems);
        crate::values::check_letters(mark, &["J", "P"], "connector", problems);
        let board = self.list.len() - 1;
        let key = (board, mark.text.clone());
        if let Some(first) = self.connector_marks.insert(key, mark.span) {
            problems.taken(mark, "a connector of this board", Some(first));
        }
        let mut pins = Vec::new();
        let mut places = HashMap::new();
        for phrase in line.body.iter().flatten() {
            if let Some((pin, net, span)) = self.pin(phrase, problems) {
                if let Some(first) = places.insert(pin, span) {
                    let message = format!("pin {pin} of `{}` is given two nets", mark.text);
                    let problem = Diagnostic::fault("pin-twice", span, message)
                        .remedy("Give one of them another pin.");
                    problems.push(problem.related(first, "first given here"));
                    continue;
                }
                pins.push((pin, net));
            }
        }
        self.list[board].connectors.push(Connector {
            mark: mark.text.clone(),
            pins,
            span: line.span,
        });
    }

    fn pin(&mut self, phrase: &Phrase, problems: &mut Problems) -> Option<(u32, NetId, Span)> {
        let mut words = Words::phrase(phrase, CONNECTOR);
        let number = words.next()?;
        let pin = whole_number(&number.text).filter(|pin| *pin > 0);
        if pin.is_none() {
            let message = format!("`{}` is no pin", number.text);
            problems.fault(
                "not-a-number",
                number.span,
                message,
                format!("The form is `{CONNECTOR}`."),
            );
        }
        let word = words.want("the net on this pin", problems)?;
        let net = want_net(word, self.opened, problems);
        words.finish(problems);
        self.doubtful |= pin.is_none() || net.is_none();
        Some((pin?, net?, phrase.span))
    }

    /// What is to be said of all boards together.
    pub(crate) fn check(&self, bench: &Bench, problems: &mut Problems) {
        if self.list.is_empty() || self.doubtful {
            return;
        }
        self.check_all_carried(problems);
        self.check_tubes(problems);
        self.check_leaving_nets(bench, problems);
    }

    fn check_all_carried(&self, problems: &mut Problems) {
        let loose = self
            .opened
            .units
            .iter()
            .zip(&self.carried)
            .filter(|(_, carried)| carried.is_none());
        let loose: Vec<_> = loose.map(|(unit, _)| unit).collect();
        if let Some(first) = loose.first() {
            let names: Vec<&str> = loose.iter().map(|unit| unit.name.as_str()).collect();
            let (verb, it) = if names.len() == 1 {
                ("stands", "it")
            } else {
                ("stand", "them")
            };
            let message = format!("{} {verb} on no board", listing(&names));
            problems.caution(
                "unit-on-no-board",
                first.span,
                message,
                format!("Name {it} after `carries`."),
            );
        }
    }

    fn check_tubes(&self, problems: &mut Problems) {
        for socket in &self.opened.sockets.list {
            let [Some((first, _)), Some((second, _))] = socket.halves else {
                continue;
            };
            let (Some((one, first_span)), Some((other, span))) =
                (self.carried[first.0], self.carried[second.0])
            else {
                continue;
            };
            if one != other {
                let message = format!(
                    "the halves of `{}` stand on two boards, that of `{}` on `{}` and that of `{}` on `{}`",
                    socket.mark,
                    self.opened.units[first.0].name,
                    self.list[one].name,
                    self.opened.units[second.0].name,
                    self.list[other].name
                );
                let problem = Diagnostic::fault("tube-on-two-boards", span, message)
                    .remedy("Move one of the units, or give it another tube.");
                problems.push(problem.related(first_span, "the other half"));
            }
        }
    }

    /// Faults where a net is used on a board and elsewhere, and no pin leads it off the board.
    fn check_leaving_nets(&self, bench: &Bench, problems: &mut Problems) {
        let off_board = self.list.len();
        let mut users: Vec<BTreeSet<usize>> = vec![BTreeSet::new(); self.opened.nets.list.len()];
        for (unit, carried) in self.opened.units.iter().zip(&self.carried) {
            for net in &unit.nets {
                users[net.0].insert(carried.map_or(off_board, |(board, _)| board));
            }
        }
        for net in bench
            .switches
            .iter()
            .map(|switch| switch.net)
            .chain(bench.loads.iter().map(|load| load.net))
        {
            users[net.0].insert(off_board);
        }
        let mut missing: Vec<Vec<&str>> = vec![Vec::new(); self.list.len()];
        let pins: Vec<BTreeSet<NetId>> = self.list.iter().map(pins_of).collect();
        for (id, (net, users)) in self.opened.nets.list.iter().zip(&users).enumerate() {
            if net.kind == NetKind::Signal && users.len() > 1 {
                for &board in users.iter().filter(|board| **board != off_board) {
                    if !pins[board].contains(&NetId(id)) {
                        missing[board].push(&net.name);
                    }
                }
            }
        }
        for (board, missing) in self.list.iter().zip(&missing) {
            let Some(first) = missing.first() else {
                continue;
            };
            let (verb, they) = if missing.len() == 1 {
                ("leaves", "it")
            } else {
                ("leave", "each")
            };
            let message = format!(
                "{} {verb} the board `{}`, and no connector of it has a pin for {they}",
                listing(missing),
                board.name
            );
            let remedy = format!("Add a pin such as `1 {first}` to a connector of the board.");
            problems.fault("net-leaves-board", board.span, message, remedy);
        }
    }
}

/// The nets on the connectors of a board.
fn pins_of(board: &Board) -> BTreeSet<NetId> {
    board
        .connectors
        .iter()
        .flat_map(|connector| &connector.pins)
        .map(|(_, net)| *net)
        .collect()
}

/// `160mm by 100mm`, in mm.
fn size(words: &mut Words, problems: &mut Problems) -> Option<(f64, f64)> {
    let mut edge = |words: &mut Words| {
        let word = words.peek()?;
        let metres = words.want_value(&LENGTH, problems)?;
        let sound = words::above_zero(metres, word.span, "the edge of the board", problems);
        words::usual(metres, USUAL_EDGE, word, "edge of a board", problems);
        sound.then_some(metres * 1000.0)
    };
    let width = edge(words);
    words.take("by");
    let height = edge(words);
    Some((width?, height?))
}

/// The net that a word names; faults when nothing in the machine is on a net of this name.
pub(crate) fn want_net(word: &Word, opened: &Opened, problems: &mut Problems) -> Option<NetId> {
    let net = opened.nets.find(&word.text);
    if net.is_none() {
        let names = opened.nets.list.iter().map(|net| net.name.as_str());
        problems.unknown(
            "unknown-net",
            word,
            "net",
            names,
            "No unit of the machine is on a net of this name.",
        );
    }
    net
}
