//! From text to a checked design.

use crate::bench::{BenchReader, Jigs};
use crate::block::{self, Content};
use crate::board::Boards;
use crate::circuit;
use crate::drive;
use crate::flatten::{self, Opened};
use crate::include::{self, Files, keyword, no_colon, no_lines_below};
use crate::interface::Signals;
use crate::kinds::Kinds;
use crate::lots::Lots;
use crate::model::Design;
use crate::places;
use crate::placing::{self, MOST_UNITS, Placing};
use crate::problems::Problems;
use crate::rails::Rails;
use crate::strings::Strings;
use crate::temperature::Temperature;
use crate::words::{self, Words};
use devices::library::Library;
use std::collections::HashMap;
use text::diagnostic::{Diagnostic, Severity};
use text::source::{FileId, SourceMap, Sources, Span};
use text::tree::{Statement, Word};

/// What reading gives: everything understood, and everything there is to say.
#[derive(Debug, Clone)]
pub struct Reading {
    /// The files read.
    pub sources: SourceMap,
    /// The design; `None` when a fault stands in the way.
    pub design: Option<Design>,
    /// Shipped and own types.
    pub library: Library,
    /// Every problem, in order of place.
    pub diagnostics: Vec<Diagnostic>,
}

impl Reading {
    /// How many faults are listed; each stands in the way of a design.
    #[must_use]
    pub fn faults(&self) -> usize {
        self.diagnostics
            .iter()
            .filter(|problem| problem.severity == Severity::Fault)
            .count()
    }
}

/// Words that begin a statement at the margin.
const STATEMENTS: &[&str] = &[
    "valvewright",
    "machine",
    "include",
    "rail",
    "type",
    "circuit",
    "block",
    "unit",
    "units",
    "string",
    "board",
    "bench",
    "jig",
    "lot",
    "temperature",
];

/// Reads the design whose first file is `start` (such as `machine.valve`), and every file it includes.
#[must_use]
pub fn read(start: &str, files: &dyn Sources, library: Library) -> Reading {
    let mut problems = Problems::default();
    let Files {
        sources,
        statements,
    } = include::open(start, files, &mut problems);
    let csv = |name: &str| files.read(&include::resolve(start, name));
    let mut reader = Reader {
        headings: Headings::default(),
        rails: Rails::default(),
        kinds: Kinds::new(library),
        problems,
    };
    reader.sort(&statements);
    reader.types(&csv);
    let design = reader.design(start);
    let diagnostics = reader.problems.finish();
    Reading {
        sources,
        design,
        library: reader.kinds.library,
        diagnostics,
    }
}

/// A statement that begins no line here, with the nearest that does.
pub(crate) fn wrong_statement(
    line: &Statement,
    heading: &str,
    known: &[&str],
    problems: &mut Problems,
) {
    let Some(word) = line.head.first().and_then(|phrase| phrase.words.first()) else {
        return;
    };
    let (name, message) = what_is_wrong(&word.text, heading, known);
    let below = if line.children.is_empty() {
        ""
    } else {
        "; the lines below it are not read"
    };
    let plain = known.iter().map(|word| word.trim_end_matches(':'));
    let remedy = match problems.nearest(&word.text, plain) {
        Some(near) if near == word.text => {
            "Look at the colon, and at what stands after it.".to_owned()
        }
        Some(near) => format!("Is `{near}` meant?"),
        None => format!("Here belong `{}`.", known.join("`, `")),
    };
    problems.fault(name, word.span, format!("{message}{below}"), remedy);
}

/// The name of the fault and what is said of a line that does not belong where it stands.
fn what_is_wrong(word: &str, heading: &str, known: &[&str]) -> (&'static str, String) {
    let place = if heading.is_empty() {
        "at the margin".to_owned()
    } else {
        format!("below `{heading}`")
    };
    if known.contains(&format!("{word}:").as_str()) {
        (
            "statement-incomplete",
            format!("`{word}` has nothing after a colon"),
        )
    } else if known.contains(&word) {
        ("statement-incomplete", format!("`{word}` takes no colon"))
    } else if STATEMENTS.contains(&word) || circuit::LINES.contains(&word) {
        (
            "misplaced-statement",
            format!("`{word}` does not belong {place}"),
        )
    } else {
        (
            "statement-unknown",
            format!("no statement {place} begins with `{word}`"),
        )
    }
}

/// The statements of a design, sorted by kind.
#[derive(Default)]
struct Headings<'s> {
    machine: Option<(String, Span)>,
    types: Vec<&'s Statement>,
    circuits: Vec<&'s Statement>,
    blocks: Vec<&'s Statement>,
    units: Vec<&'s Statement>,
    strings: Vec<&'s Statement>,
    boards: Vec<&'s Statement>,
    benches: Vec<&'s Statement>,
    jigs: Vec<&'s Statement>,
    lots: Vec<&'s Statement>,
    temperatures: Vec<&'s Statement>,
}

struct Reader<'s> {
    headings: Headings<'s>,
    rails: Rails,
    kinds: Kinds,
    problems: Problems,
}

impl<'s> Reader<'s> {
    /// Sorts the statements; rails, which need nothing else, are read at once.
    fn sort(&mut self, statements: &'s [Statement]) {
        for statement in statements {
            let list = match keyword(statement) {
                Some("rail") => {
                    self.rails.add(statement, &mut self.problems);
                    continue;
                }
                Some("machine") => {
                    self.machine(statement);
                    continue;
                }
                Some("type") => &mut self.headings.types,
                Some("circuit") => &mut self.headings.circuits,
                Some("block") => &mut self.headings.blocks,
                Some("unit" | "units") => &mut self.headings.units,
                Some("string") => &mut self.headings.strings,
                Some("board") => &mut self.headings.boards,
                Some("bench") => &mut self.headings.benches,
                Some("jig") => &mut self.headings.jigs,
                Some("lot") => &mut self.headings.lots,
                Some("temperature") => &mut self.headings.temperatures,
                _ => {
                    wrong_statement(statement, "", STATEMENTS, &mut self.problems);
                    continue;
                }
            };
            list.push(statement);
        }
    }

    /// `machine Tidewatch`
    fn machine(&mut self, statement: &Statement) {
        no_lines_below(statement, &mut self.problems);
        no_colon(statement, &mut self.problems);
        let mut words = Words::of(&statement.head, "machine Tidewatch");
        words.next();
        let Some(first) = words.want("the name of the machine", &mut self.problems) else {
            return;
        };
        let rest = words.rest().iter().map(|word| word.text.as_str());
        let name = std::iter::once(first.text.as_str())
            .chain(rest)
            .collect::<Vec<_>>()
            .join(" ");
        if let Some((_, span)) = self.headings.machine.replace((name, first.span)) {
            let problem =
                Diagnostic::fault("said-twice", first.span, "the machine is given two names");
            self.problems.push(
                problem
                    .remedy("Keep one of them.")
                    .related(span, "first named here"),
            );
        }
    }

    /// Hands the `type` statements to the library.
    fn types(&mut self, csv: &dyn Fn(&str) -> Result<String, String>) {
        let mut places: HashMap<String, Span> = HashMap::new();
        for statement in std::mem::take(&mut self.headings.types) {
            let name = statement
                .head
                .first()
                .and_then(|phrase| phrase.words.get(1));
            if let Some(name) = name
                && let Some(first) = places.insert(name.text.to_lowercase(), name.span)
            {
                self.problems.taken(name, "a type", Some(first));
            }
            for complaint in self.kinds.library.add(statement, csv) {
                self.problems.push(complaint);
            }
        }
    }

    /// Reads everything else, in the order in which one thing needs another.
    fn design(&mut self, start: &str) -> Option<Design> {
        self.circuits();
        let contents = self.blocks();
        let placings = self.placings();
        let units = block::units_in(&placings, &contents);
        if units > MOST_UNITS {
            let span = placings.first()?.span;
            let message = format!(
                "the machine has more than {MOST_UNITS} units when its blocks and arrays are opened, so they are not looked at"
            );
            self.problems
                .fault("too-many-units", span, message, "Write fewer.");
            return None;
        }
        let origin = Span {
            file: FileId(0),
            start: 0,
            end: 0,
        };
        let opened = flatten::open(
            &placings,
            &contents,
            &self.kinds,
            &self.rails,
            origin,
            &mut self.problems,
        );
        places::check_shared_cathodes(
            &opened.sockets,
            &opened.units,
            &self.kinds.circuits,
            &mut self.problems,
        );
        self.finish(opened, start)
    }

    /// The name after the first word of a heading, if it is free and nothing follows it.
    fn heading_name(&mut self, statement: &'s Statement, form: &'static str) -> Option<&'s Word> {
        let mut words = Words::of(&statement.head, form);
        words.next();
        let name = words.want("a name", &mut self.problems)?;
        words.finish(&mut self.problems);
        words::check_name(name, &mut self.problems);
        Some(name)
    }

    fn circuits(&mut self) {
        for statement in std::mem::take(&mut self.headings.circuits) {
            let Some(name) = self.heading_name(statement, "circuit nor3") else {
                continue;
            };
            let read = circuit::read(
                name,
                statement,
                &self.rails,
                &self.kinds.library,
                &mut self.problems,
            );
            match self.kinds.place(&name.text) {
                Some(first) => self.problems.taken(name, "a circuit", Some(first)),
                None => self.kinds.add_circuit(read),
            }
        }
    }

    /// Reads the blocks, first what can be seen of them from outside, so that they may contain one another in any order.
    fn blocks(&mut self) -> Vec<Content> {
        let mut insides: Vec<(&Statement, Signals)> = Vec::new();
        for statement in std::mem::take(&mut self.headings.blocks) {
            let Some(name) = self.heading_name(statement, "block latch") else {
                continue;
            };
            let (read, signals) =
                block::read_outside(name, statement, &self.rails, &mut self.problems);
            match self.kinds.place(&name.text) {
                Some(first) => self.problems.taken(name, "a circuit or block", Some(first)),
                None => {
                    self.kinds.add_block(read, &signals);
                    insides.push((statement, signals));
                }
            }
        }
        let mut contents = Vec::with_capacity(insides.len());
        for (statement, signals) in &insides {
            contents.push(block::read_inside(
                statement,
                signals,
                &mut self.kinds,
                &mut self.problems,
            ));
        }
        block::measure(&mut contents, &self.kinds, &mut self.problems);
        contents
    }

    fn placings(&mut self) -> Vec<Placing> {
        let mut placings = Vec::new();
        let mut names = HashMap::new();
        for statement in std::mem::take(&mut self.headings.units) {
            if let Some(placing) = placing::read(statement, &mut self.kinds, &mut self.problems) {
                block::add_placing(placing, &mut placings, &mut names, &mut self.problems);
            }
        }
        placings
    }

    /// Reads what stands on the opened machine, and checks the whole.
    fn finish(&mut self, opened: Opened, start: &str) -> Option<Design> {
        let (rails, kinds, problems) = (&self.rails, &self.kinds, &mut self.problems);
        let mut strings = Strings::new(&opened, kinds);
        self.headings
            .strings
            .iter()
            .for_each(|statement| strings.add(statement, problems));
        let mut boards = Boards::new(&opened);
        self.headings
            .boards
            .iter()
            .for_each(|statement| boards.add(statement, problems));
        let mut bench = BenchReader::new(&opened, rails);
        self.headings
            .benches
            .iter()
            .for_each(|statement| bench.add(statement, problems));
        let bench = bench.bench;
        let mut jigs = Jigs::default();
        self.headings
            .jigs
            .iter()
            .for_each(|statement| jigs.add(statement, kinds, rails, problems));
        jigs.extend_to_variants(kinds);
        let mut lots = Lots::default();
        self.headings
            .lots
            .iter()
            .for_each(|statement| lots.add(statement, kinds, problems));
        let mut temperature = Temperature::default();
        self.headings
            .temperatures
            .iter()
            .for_each(|statement| temperature.add(statement, problems));
        if !problems.file_missing {
            temperature.check_used(kinds, problems);
            lots.check_used(kinds, &opened.sockets.list, problems);
            boards.check(&bench, problems);
            drive::check(&opened, kinds, &boards, &bench, problems);
            rails.check_alternating(kinds, &opened.units, &strings.list, problems);
        }
        let (strings, boards) = (strings.list, boards.list);
        if problems.faulty() {
            return None;
        }
        Some(Design {
            name: self
                .headings
                .machine
                .as_ref()
                .map_or_else(|| folder_name(start), |(name, _)| name.clone()),
            rails: self.rails.list.clone(),
            circuits: self.kinds.circuits.clone(),
            blocks: self.kinds.blocks.clone(),
            nets: opened.nets.list,
            units: opened.units,
            placed_blocks: opened.placed_blocks,
            sockets: opened.sockets.list,
            strings,
            boards,
            bench,
            jigs: jigs.list,
            lots: lots.list,
            diode_lots: lots.diodes,
            neon_lots: lots.lamps,
            diode_kelvin: temperature.kelvin,
        })
    }
}

/// The folder that the first file lies in; the file's own name without its ending when no folder is named.
fn folder_name(start: &str) -> String {
    let mut parts = start.rsplit('/');
    let file = parts.next().unwrap_or_default();
    match parts.next() {
        Some(folder) if !folder.is_empty() && folder != "." && folder != ".." => folder.to_owned(),
        _ => file.strip_suffix(".valve").unwrap_or(file).to_owned(),
    }
}
