//! What can be placed: circuits and blocks by name, and circuits with another tube type in their places.

use crate::circuit::ReadCircuit;
use crate::interface::Signals;
use crate::model::{Block, BlockId, Circuit, CircuitId, Interface};
use crate::placing::What;
use crate::problems::Problems;
use crate::tube;
use devices::library::Library;
use devices::types::TubeType;
use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;
use text::source::Span;
use text::tree::Word;

/// Circuits and blocks.
#[derive(Debug)]
pub(crate) struct Kinds {
    /// Circuits; those with another tube type stand after those of the text.
    pub(crate) circuits: Vec<Circuit>,
    /// Blocks.
    pub(crate) blocks: Vec<Block>,
    /// Types.
    pub(crate) library: Library,
    circuits_doubtful: Vec<Doubts>,
    blocks_doubtful: Vec<bool>,
    by_name: HashMap<String, What>,
    variants: BTreeMap<(CircuitId, String), CircuitId>,
}

/// What is not sure about a circuit, because something in it was not understood.
#[derive(Debug, Clone, Copy)]
struct Doubts {
    signals: bool,
    tubes: bool,
}

/// What can be seen of a circuit or block from outside.
#[derive(Debug, Clone)]
pub(crate) struct Shape {
    /// Its name.
    pub(crate) name: String,
    /// Which it is.
    pub(crate) what: What,
    /// Its signals.
    pub(crate) interface: Interface,
    /// Its signals have a fault.
    pub(crate) doubtful: bool,
}

impl Kinds {
    /// None yet.
    pub(crate) fn new(library: Library) -> Self {
        Self {
            circuits: Vec::new(),
            blocks: Vec::new(),
            library,
            circuits_doubtful: Vec::new(),
            blocks_doubtful: Vec::new(),
            by_name: HashMap::new(),
            variants: BTreeMap::new(),
        }
    }

    /// Where a name was given, if it was.
    pub(crate) fn place(&self, name: &str) -> Option<Span> {
        self.by_name.get(name).map(|what| match what {
            What::Circuit(circuit) => self.circuits[circuit.0].span,
            What::Block(block) => self.blocks[block.0].span,
        })
    }

    /// Adds a circuit; its name must be free.
    pub(crate) fn add_circuit(&mut self, read: ReadCircuit) {
        self.by_name.insert(
            read.circuit.name.clone(),
            What::Circuit(CircuitId(self.circuits.len())),
        );
        self.circuits_doubtful.push(Doubts {
            signals: read.signals_doubtful,
            tubes: read.tubes_doubtful,
        });
        self.circuits.push(read.circuit);
    }

    /// Adds a block; its name must be free.
    pub(crate) fn add_block(&mut self, block: Block, signals: &Signals) -> BlockId {
        let id = BlockId(self.blocks.len());
        self.by_name.insert(block.name.clone(), What::Block(id));
        self.blocks_doubtful.push(signals.doubtful);
        self.blocks.push(block);
        id
    }

    /// Whether the circuit may have more tubes than were understood.
    pub(crate) fn tubes_doubtful(&self, circuit: CircuitId) -> bool {
        self.circuits_doubtful[circuit.0].tubes
    }

    /// The circuit of a name; faults when there is none.
    pub(crate) fn want_circuit(&self, word: &Word, problems: &mut Problems) -> Option<CircuitId> {
        if let Some(What::Circuit(circuit)) = self.by_name.get(&word.text) {
            return Some(*circuit);
        }
        let names = self.circuits.iter().map(|circuit| circuit.name.as_str());
        problems.unknown(
            "unknown-circuit",
            word,
            "circuit",
            names,
            "Write a `circuit` of this name.",
        );
        None
    }

    /// The circuit or block of a name; faults when there is none.
    pub(crate) fn want(&self, word: &Word, problems: &mut Problems) -> Option<Shape> {
        let Some(&what) = self.by_name.get(&word.text) else {
            let circuits = self.circuits.iter().map(|circuit| circuit.name.as_str());
            let names = circuits.chain(self.blocks.iter().map(|block| block.name.as_str()));
            problems.unknown(
                "unknown-circuit",
                word,
                "circuit or block",
                names,
                "Write a `circuit` or `block` of this name.",
            );
            return None;
        };
        let (interface, doubtful) = match what {
            What::Circuit(id) => (
                &self.circuits[id.0].interface,
                self.circuits_doubtful[id.0].signals,
            ),
            What::Block(id) => (&self.blocks[id.0].interface, self.blocks_doubtful[id.0]),
        };
        Some(Shape {
            name: word.text.clone(),
            what,
            interface: interface.clone(),
            doubtful,
        })
    }

    /// The circuit with another tube type in its places, made once; faults when the type does not fit.
    pub(crate) fn variant(
        &mut self,
        of: CircuitId,
        device: &Arc<TubeType>,
        word: &Word,
        problems: &mut Problems,
    ) -> Option<CircuitId> {
        let key = (of, device.name.clone());
        if let Some(known) = self.variants.get(&key) {
            return Some(*known);
        }
        let variant = tube::with_type(&self.circuits[of.0], device, word, problems)?;
        let id = CircuitId(self.circuits.len());
        self.circuits.push(variant);
        self.circuits_doubtful.push(self.circuits_doubtful[of.0]);
        self.variants.insert(key, id);
        Some(id)
    }

    /// Circuits with another tube type, each with the circuit it was made from.
    pub(crate) fn variants(&self) -> Vec<(CircuitId, CircuitId)> {
        let mut list: Vec<_> = self
            .variants
            .iter()
            .map(|((of, _), variant)| (*of, *variant))
            .collect();
        list.sort();
        list
    }
}
