//! A circuit: its signals, its sentences, its parts, and the nodes between them.

use crate::duty;
use crate::include::{keyword, no_colon};
use crate::interface::{self, Signals};
use crate::model::{Circuit, Node, NodeKind, Part};
use crate::parts;
use crate::problems::Problems;
use crate::rails::Rails;
use crate::tube;
use crate::values;
use crate::words::{self, Words};
use devices::library::Library;
use std::collections::HashMap;
use text::diagnostic::Diagnostic;
use text::source::Span;
use text::tree::{Statement, Word};

/// Words that begin the lines of a circuit.
pub(crate) const LINES: &[&str] = &[
    "inputs",
    "outputs",
    "resistors",
    "trimmers",
    "capacitors",
    "inductors",
    "diodes",
    "neons",
    "switches",
    "sources",
    "tube",
    "lit",
    "current",
];

/// A circuit as read.
#[derive(Debug)]
pub(crate) struct ReadCircuit {
    /// As far as it was understood.
    pub(crate) circuit: Circuit,
    /// Its signals have a fault.
    pub(crate) signals_doubtful: bool,
    /// A tube of it has a fault: it may have more tubes than were understood.
    pub(crate) tubes_doubtful: bool,
}

/// What a line of a circuit is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Line {
    /// What a part is there for.
    Duty,
    /// What an output is.
    Sentence,
    /// Names of signals.
    Signals,
    /// Parts, or a line that belongs nowhere.
    Parts,
}

fn sort(line: &Statement) -> Line {
    if duty::is_duty(line) {
        Line::Duty
    } else if interface::is_sentence(line) {
        Line::Sentence
    } else if keyword(line).is_some_and(interface::names_signals) {
        Line::Signals
    } else {
        Line::Parts
    }
}

/// Reads what stands below `circuit NAME`.
pub(crate) fn read(
    name: &Word,
    statement: &Statement,
    rails: &Rails,
    library: &Library,
    problems: &mut Problems,
) -> ReadCircuit {
    no_colon(statement, problems);
    let mut signals = Signals::default();
    let lines =
        |wanted: fn(&Statement) -> bool| statement.children.iter().filter(move |line| wanted(line));
    for line in lines(|line| sort(line) == Line::Signals) {
        signals.add(line, rails, problems);
    }
    let sentences: Vec<&Statement> = lines(|line| sort(line) == Line::Sentence).collect();
    let says = interface::sentences(&sentences, &signals, problems);
    let mut builder = Builder::new(&signals, rails);
    for line in lines(|line| sort(line) == Line::Parts) {
        builder.line(line, library, problems);
    }
    builder.check_ends(problems);
    let (tubes_doubtful, parts_doubtful) = (builder.tubes_doubtful, builder.doubtful);
    let (nodes, parts) = builder.finish();
    let interface = signals.interface();
    let subject = duty::Subject {
        interface: &interface,
        parts: &parts,
        signals_doubtful: signals.doubtful,
        parts_doubtful,
    };
    let duties: Vec<&Statement> = lines(|line| sort(line) == Line::Duty).collect();
    let duties = duty::read(&duties, &subject, problems);
    let circuit = Circuit {
        name: name.text.clone(),
        interface,
        says,
        duties,
        nodes,
        parts,
        span: statement.span,
    };
    ReadCircuit {
        circuit,
        signals_doubtful: signals.doubtful,
        tubes_doubtful,
    }
}

/// The nodes and parts of a circuit while it is being read.
pub(crate) struct Builder<'r> {
    rails: &'r Rails,
    nodes: Vec<Node>,
    by_name: HashMap<String, usize>,
    /// How many part terminals use each node.
    uses: Vec<usize>,
    parts: Vec<Part>,
    marks: HashMap<String, Span>,
    /// A line could not be understood in full, so a node may have more terminals than were counted.
    doubtful: bool,
    tubes_doubtful: bool,
}

impl<'r> Builder<'r> {
    fn new(signals: &Signals, rails: &'r Rails) -> Self {
        let node = |(index, (name, span)): (usize, &(String, Span))| Node {
            name: name.clone(),
            kind: NodeKind::Signal(index),
            span: *span,
        };
        let nodes: Vec<Node> = signals.in_order().enumerate().map(node).collect();
        Self {
            rails,
            by_name: nodes
                .iter()
                .enumerate()
                .map(|(index, node)| (node.name.clone(), index))
                .collect(),
            uses: vec![0; nodes.len()],
            nodes,
            parts: Vec::new(),
            marks: HashMap::new(),
            doubtful: signals.doubtful,
            tubes_doubtful: false,
        }
    }

    fn line(&mut self, line: &Statement, library: &Library, problems: &mut Problems) {
        crate::include::no_lines_below(line, problems);
        let Some(word) = keyword(line) else { return };
        let understood = match (values::Kind::of(word), word) {
            (Some(kind), _) => parts::read(kind, line, library, self, problems),
            (None, "tube") => {
                let understood = tube::read(line, library, self, problems);
                self.tubes_doubtful |= !understood;
                understood
            }
            _ => {
                crate::read::wrong_statement(line, "circuit", LINES, problems);
                false
            }
        };
        self.doubtful |= !understood;
    }

    /// The node that a word names, counted as one more terminal on it; faults when it can name none.
    pub(crate) fn node(&mut self, word: &Word, problems: &mut Problems) -> Option<usize> {
        let index = match self.by_name.get(&word.text) {
            Some(index) => *index,
            None => {
                let kind = match self.rails.find(&word.text) {
                    _ if word.text == "ground" => NodeKind::Ground,
                    Some(rail) => NodeKind::Rail(rail),
                    None if words::check_name(word, problems) => NodeKind::Inner,
                    None => return None,
                };
                self.nodes.push(Node {
                    name: word.text.clone(),
                    kind,
                    span: word.span,
                });
                self.uses.push(0);
                self.by_name.insert(word.text.clone(), self.nodes.len() - 1);
                self.nodes.len() - 1
            }
        };
        self.uses[index] += 1;
        Some(index)
    }

    /// Adds a part; faults when its mark is taken.
    pub(crate) fn part(&mut self, mark: &Word, part: Part, problems: &mut Problems) {
        match self.marks.get(&part.mark) {
            Some(first) => problems.taken(mark, "a part of this circuit", Some(*first)),
            None => {
                self.marks.insert(part.mark.clone(), mark.span);
                self.parts.push(part);
            }
        }
    }

    /// The next two nodes of a phrase, written `a to b`.
    pub(crate) fn want_ends(
        &mut self,
        words: &mut Words,
        problems: &mut Problems,
    ) -> Option<[usize; 2]> {
        let first = words.want("a net", problems)?;
        words.want_text("to", problems)?;
        let second = words.want("a net", problems)?;
        let ends = [self.node(first, problems), self.node(second, problems)];
        if first.text == second.text {
            let message = format!("both ends go to `{}`, so the part does nothing", first.text);
            problems.caution(
                "ends-together",
                first.span.to(second.span),
                message,
                "Look at the names of the two nets.",
            );
        }
        Some([ends[0]?, ends[1]?])
    }

    /// Cautions about nodes that lead nowhere.
    fn check_ends(&self, problems: &mut Problems) {
        if self.doubtful {
            return;
        }
        for (index, node) in self.nodes.iter().enumerate() {
            let (least, what) = match node.kind {
                NodeKind::Signal(_) => (1, "no part of the circuit"),
                NodeKind::Inner => (2, "one part only"),
                NodeKind::Ground | NodeKind::Rail(_) => continue,
            };
            if self.uses[index] >= least {
                continue;
            }
            let others = self
                .nodes
                .iter()
                .enumerate()
                .filter(|(other, _)| *other != index)
                .map(|(_, node)| node.name.as_str())
                .chain(self.rails.list.iter().map(|rail| rail.name.as_str()))
                .chain(["ground"]);
            let message = format!("`{}` goes to {what}", node.name);
            let problem = Diagnostic::caution("loose-end", node.span, message);
            problems.push(match problems.nearest(&node.name, others) {
                Some(near) => problem.remedy(format!("Is `{near}` meant?")),
                None => problem.remedy("Connect it, or leave it out."),
            });
        }
    }

    /// Nodes in the order of the model (signals, rails and ground, inner nodes), and the parts on them.
    fn finish(self) -> (Vec<Node>, Vec<Part>) {
        let rank = |node: &Node| match node.kind {
            NodeKind::Signal(_) => 0,
            NodeKind::Ground | NodeKind::Rail(_) => 1,
            NodeKind::Inner => 2,
        };
        let mut order: Vec<usize> = (0..self.nodes.len()).collect();
        order.sort_by_key(|&index| rank(&self.nodes[index]));
        let mut new_index = vec![0; order.len()];
        for (new, &old) in order.iter().enumerate() {
            new_index[old] = new;
        }
        let nodes = order
            .iter()
            .map(|&index| self.nodes[index].clone())
            .collect();
        let mut parts = self.parts;
        for part in &mut parts {
            parts::renumber(&mut part.kind, &new_index);
        }
        (nodes, parts)
    }
}
