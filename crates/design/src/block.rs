//! Blocks: their signals and sentences, the units inside, and how large each is when opened.

use crate::include::{keyword, no_colon};
use crate::interface::{self, Signals};
use crate::kinds::Kinds;
use crate::model::{Block, BlockId};
use crate::places::{self, Cursor};
use crate::placing::{self, MOST_UNITS, Places, Placing, What, Wire};
use crate::problems::Problems;
use crate::rails::Rails;
use std::collections::{HashMap, HashSet};
use text::diagnostic::Diagnostic;
use text::source::Span;
use text::tree::{Statement, Word};

/// Words that begin the lines of a block.
const LINES: &[&str] = &["inputs", "outputs", "unit", "units"];
/// Deepest nesting of blocks in blocks; chosen, because opening them is recursive and must be bounded.
const MOST_NESTED: u32 = 32;

/// What a block is made of.
#[derive(Debug, Default)]
pub(crate) struct Content {
    /// Units and blocks in it.
    pub(crate) placings: Vec<Placing>,
    /// Largest tube number used in it, counted from 1; 0 when it has no places.
    pub(crate) tubes: u32,
    /// Units in it when opened.
    units: u32,
    /// Nesting: 1 for a block of circuits only; 0 when it contains itself or too much.
    depth: u32,
}

impl Content {
    /// Whether it can be opened.
    pub(crate) fn can_open(&self) -> bool {
        self.depth > 0
    }
}

/// Reads the heading, signals and sentences of a block.
pub(crate) fn read_outside(
    name: &Word,
    statement: &Statement,
    rails: &Rails,
    problems: &mut Problems,
) -> (Block, Signals) {
    no_colon(statement, problems);
    let mut signals = Signals::default();
    let mut sentences = Vec::new();
    for line in &statement.children {
        match keyword(line) {
            _ if interface::is_sentence(line) => sentences.push(line),
            Some(word) if interface::names_signals(word) => signals.add(line, rails, problems),
            _ => {}
        }
    }
    let says = interface::sentences(&sentences, &signals, problems);
    let block = Block {
        name: name.text.clone(),
        interface: signals.interface(),
        says,
        span: statement.span,
    };
    (block, signals)
}

/// Reads the units of a block; every circuit and block must be known by now.
pub(crate) fn read_inside(
    statement: &Statement,
    signals: &Signals,
    kinds: &mut Kinds,
    problems: &mut Problems,
) -> Content {
    let mut content = Content::default();
    let mut complete = true;
    let mut names = HashMap::new();
    for line in &statement.children {
        match keyword(line) {
            Some("unit" | "units") => match placing::read(line, kinds, problems) {
                Some(placing) => {
                    complete &= placing.what.is_some() && placing.strays.is_empty();
                    add_placing(placing, &mut content.placings, &mut names, problems);
                }
                None => complete = false,
            },
            Some(word) if interface::names_signals(word) || interface::is_sentence(line) => {}
            _ => {
                crate::read::wrong_statement(line, "block", LINES, problems);
                complete = false;
            }
        }
    }
    if complete && !signals.doubtful {
        check_signals_used(&content.placings, signals, problems);
    }
    content
}

/// Adds a unit; faults when its name is taken.
pub(crate) fn add_placing(
    placing: Placing,
    list: &mut Vec<Placing>,
    names: &mut HashMap<String, Span>,
    problems: &mut Problems,
) {
    if let Some(first) = names.get(&placing.name) {
        let message = format!("the name `{}` is given to two units", placing.name);
        let problem = Diagnostic::fault("name-taken", placing.name_span, message)
            .remedy("Give one of them another name.");
        problems.push(problem.related(*first, "first given here"));
        return;
    }
    names.insert(placing.name.clone(), placing.name_span);
    list.push(placing);
}

fn check_signals_used(placings: &[Placing], signals: &Signals, problems: &mut Problems) {
    let mentioned: HashSet<&String> = placings
        .iter()
        .flat_map(|placing| placing.wires.iter().flatten())
        .filter_map(|wire| match wire {
            Wire::Net { name, .. } => Some(name),
            Wire::Numbered { .. } | Wire::Open { .. } => None,
        })
        .collect();
    for (name, span) in signals.in_order() {
        if !mentioned.contains(name) {
            let message = format!("`{name}` goes to no unit of the block");
            problems.caution("loose-end", *span, message, "Connect it, or leave it out.");
        }
    }
}

/// Works out depth, units and tubes of every block, the inner ones first, and faults at blocks that contain themselves.
pub(crate) fn measure(contents: &mut [Content], kinds: &Kinds, problems: &mut Problems) {
    let mut outer_of: Vec<Vec<usize>> = vec![Vec::new(); contents.len()];
    let mut unmeasured: Vec<usize> = vec![0; contents.len()];
    for (outer, content) in contents.iter().enumerate() {
        for inner in inner_blocks(content) {
            outer_of[inner].push(outer);
            unmeasured[outer] += 1;
        }
    }
    let mut ready: Vec<usize> = (0..contents.len())
        .filter(|&block| unmeasured[block] == 0)
        .collect();
    while let Some(block) = ready.pop() {
        measure_one(block, contents, kinds);
        for &outer in &outer_of[block] {
            unmeasured[outer] -= 1;
            if unmeasured[outer] == 0 {
                ready.push(outer);
            }
        }
    }
    for (block, content) in contents
        .iter_mut()
        .enumerate()
        .filter(|(_, content)| content.depth > MOST_NESTED)
    {
        let message = format!("blocks stand in blocks more than {MOST_NESTED} deep");
        problems.fault(
            "blocks-too-deep",
            kinds.blocks[block].span,
            message,
            "Make the nesting flatter.",
        );
        content.depth = 0;
    }
    if let Some(circle) = circle(&unmeasured, contents) {
        let names: Vec<&str> = circle
            .iter()
            .map(|&index| kinds.blocks[index].name.as_str())
            .collect();
        let message = format!("a block contains itself: {}", names.join(" contains "));
        problems.fault(
            "block-contains-itself",
            kinds.blocks[circle[0]].span,
            message,
            "Take one of these units out.",
        );
    }
}

/// The blocks placed in a block, once for every placing.
fn inner_blocks(content: &Content) -> impl Iterator<Item = usize> {
    content
        .placings
        .iter()
        .filter_map(|placing| match placing.what {
            Some(What::Block(BlockId(inner))) => Some(inner),
            _ => None,
        })
}

/// Measures a block in which every block is measured.
fn measure_one(block: usize, contents: &mut [Content], kinds: &Kinds) {
    let content = &contents[block];
    let depth = 1 + inner_blocks(content)
        .map(|inner| contents[inner].depth)
        .max()
        .unwrap_or(0);
    let units = units_in(&content.placings, contents);
    let tubes = content
        .placings
        .iter()
        .map(|placing| last_tube(placing, contents, kinds))
        .max()
        .unwrap_or(0);
    contents[block] = Content {
        depth,
        units,
        tubes,
        placings: std::mem::take(&mut contents[block].placings),
    };
}

/// How many units and blocks stand there when all are opened; counts no further than a little above the most allowed.
pub(crate) fn units_in(placings: &[Placing], contents: &[Content]) -> u32 {
    let one = |placing: &Placing| match placing.what {
        Some(What::Block(block)) => placing.count().saturating_mul(1 + contents[block.0].units),
        _ => placing.count(),
    };
    placings
        .iter()
        .map(one)
        .fold(0u32, u32::saturating_add)
        .min(MOST_UNITS + 1)
}

/// The largest tube number that a unit of a block takes.
fn last_tube(placing: &Placing, contents: &[Content], kinds: &Kinds) -> u32 {
    match (&placing.places, placing.what) {
        (Places::In(list), Some(What::Circuit(_))) => {
            list.iter().map(|(mark, _)| mark.number).max().unwrap_or(0)
        }
        (Places::From(mark, _), Some(What::Circuit(circuit))) => {
            let mut cursor = Cursor::new(*mark);
            let circuit = &kinds.circuits[circuit.0];
            let numbers =
                (0..placing.count()).flat_map(|_| places::next_places(circuit, &mut cursor));
            numbers.map(|(number, _)| number).max().unwrap_or(0)
        }
        (Places::From(mark, _), Some(What::Block(block))) => (mark.number - 1)
            .saturating_add(placing.count().saturating_mul(contents[block.0].tubes)),
        _ => 0,
    }
}

/// A circle among the blocks that could not be measured, its first block named again at the end.
fn circle(unmeasured: &[usize], contents: &[Content]) -> Option<Vec<usize>> {
    let mut path = vec![unmeasured.iter().position(|&inner| inner > 0)?];
    let mut place_in_path = HashMap::from([(path[0], 0)]);
    loop {
        let here = *path.last()?;
        let next = inner_blocks(&contents[here]).find(|&inner| unmeasured[inner] > 0)?;
        path.push(next);
        if let Some(first) = place_in_path.insert(next, path.len() - 1) {
            path.drain(..first);
            return Some(path);
        }
    }
}
