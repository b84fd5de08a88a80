//! What stands on a level as boxes with inputs and outputs, and what joins them.

use super::Level;
use crate::tables::thin_below;
use design::model::{Design, NetId, NetKind, UnitId};
use network::connections::Connection;
use network::verdict::Verdict;
use std::collections::{BTreeMap, BTreeSet};

/// What a box stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A unit.
    Unit,
    /// A block or a board with units inside.
    Closed,
    /// A net that comes from outside.
    Enters,
    /// A net that goes outside.
    Leaves,
}

/// A box.
#[derive(Debug, Clone, PartialEq)]
pub struct Node {
    /// Its name.
    pub name: String,
    /// What it is: its circuit or block.
    pub what: String,
    /// What it stands for.
    pub kind: Kind,
    /// In the order of its signals.
    pub inputs: Vec<Input>,
    /// In the order of its signals.
    pub outputs: Vec<Output>,
}

/// How much is to spare.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Grade {
    /// Enough, or not known.
    Plain,
    /// Below what counts as thin.
    Thin,
    /// Less than nothing.
    Short,
}

/// Volts to spare when down and when up, where they are known.
pub type Spare = (Option<f64>, Option<f64>);

/// An input of a box.
#[derive(Debug, Clone, PartialEq)]
pub struct Input {
    /// Its signal.
    pub signal: String,
    /// Index of its net.
    pub net: usize,
    /// Name of its net.
    pub net_name: String,
    /// Volts to spare when down and when up, worst over what is behind it; `None` where nothing is judged.
    pub spare: Option<Spare>,
    /// How much that is.
    pub grade: Grade,
    /// Boxes that drive the net, with the index of the output.
    pub drivers: Vec<(usize, usize)>,
}

/// An output of a box.
#[derive(Debug, Clone, PartialEq)]
pub struct Output {
    /// Its signal.
    pub signal: String,
    /// Index of its net.
    pub net: usize,
}

/// Units that are drawn as one box.
struct Group {
    name: String,
    what: String,
    kind: Kind,
    units: BTreeSet<usize>,
    /// Signals with their nets; the second says which are inputs.
    signals: Vec<(String, usize)>,
    inputs: usize,
}

/// The boxes of a level; `None` where there are more than `most`.
pub fn at(verdict: &Verdict, level: Level, most: usize) -> Option<Vec<Node>> {
    let design = verdict.plan.design;
    let mut groups = groups(design, level);
    if most < groups.len() && level == Level::Machine {
        groups = boards(design);
    }
    if most < groups.len() {
        return None;
    }
    let leaving = leaving(verdict, level, &groups);
    Some(nodes(verdict, &groups, &leaving))
}

/// Units and blocks directly on a level.
fn groups(design: &Design, level: Level) -> Vec<Group> {
    let around = match level {
        Level::Machine => None,
        Level::Block(index) => Some(index),
    };
    let blocks = (0..design.placed_blocks.len())
        .filter(|&index| parent(design, index) == around)
        .map(|index| block(design, index));
    let units = (0..design.units.len())
        .filter(|&index| design.units[index].within == around)
        .map(|index| unit(design, index));
    let mut all: Vec<Group> = blocks.chain(units).collect();
    // In the order of the text, as far as units have one.
    all.sort_by_key(|group| group.units.first().copied());
    all
}

/// The smallest placed block that holds another.
fn parent(design: &Design, index: usize) -> Option<usize> {
    let name = &design.placed_blocks[index].name;
    let holds = |other: &usize| {
        let rest = name.strip_prefix(&design.placed_blocks[*other].name);
        *other != index && rest.is_some_and(|rest| rest.starts_with('.'))
    };
    (0..design.placed_blocks.len())
        .filter(holds)
        .max_by_key(|&other| design.placed_blocks[other].name.len())
}

fn block(design: &Design, index: usize) -> Group {
    let placed = &design.placed_blocks[index];
    let block = &design.blocks[placed.block.0];
    let count = text::quantity::counted(placed.units.len(), "unit");
    Group {
        name: placed.name.clone(),
        what: format!("{}, {count}", block.name),
        kind: Kind::Closed,
        units: placed.units.iter().map(|unit| unit.0).collect(),
        signals: signals(&block.interface.signals, &placed.nets),
        inputs: block.interface.inputs,
    }
}

fn unit(design: &Design, index: usize) -> Group {
    let unit = &design.units[index];
    let circuit = design.circuit_of(UnitId(index));
    Group {
        name: unit.name.clone(),
        what: circuit.name.clone(),
        kind: Kind::Unit,
        units: BTreeSet::from([index]),
        signals: signals(&circuit.interface.signals, &unit.nets),
        inputs: circuit.interface.inputs,
    }
}

fn signals(names: &[String], nets: &[NetId]) -> Vec<(String, usize)> {
    let nets = nets.iter().map(|net| net.0);
    names.iter().cloned().zip(nets).collect()
}

/// Boards closed, with the nets that cross their edges; units on no board stand alone.
fn boards(design: &Design) -> Vec<Group> {
    let (drivers, loads) = (design.drivers(), design.loads());
    let mut all: Vec<Group> = Vec::new();
    for board in &design.boards {
        let units: BTreeSet<usize> = board.units.iter().map(|unit| unit.0).collect();
        let inside = |pins: &[(UnitId, usize)]| pins.iter().any(|pin| units.contains(&pin.0.0));
        let outside = |pins: &[(UnitId, usize)]| pins.iter().any(|pin| !units.contains(&pin.0.0));
        let on_pin: BTreeSet<usize> = board
            .connectors
            .iter()
            .flat_map(|connector| connector.pins.iter().map(|pin| pin.1.0))
            .collect();
        let signal = |net: &usize| design.nets[*net].kind == NetKind::Signal;
        let named = |net: usize| (design.nets[net].name.clone(), net);
        let enters = (0..design.nets.len())
            .filter(signal)
            .filter(|&net| inside(&loads[net]) && !inside(&drivers[net]));
        let leaves = (0..design.nets.len()).filter(signal).filter(|&net| {
            inside(&drivers[net]) && (outside(&loads[net]) || on_pin.contains(&net))
        });
        let mut signals: Vec<(String, usize)> = enters.map(named).collect();
        let inputs = signals.len();
        signals.extend(leaves.map(named));
        all.push(Group {
            name: board.name.clone(),
            what: text::quantity::counted(units.len(), "unit"),
            kind: Kind::Closed,
            units,
            signals,
            inputs,
        });
    }
    let carried: BTreeSet<usize> = all.iter().flat_map(|group| group.units.clone()).collect();
    all.extend(
        (0..design.units.len())
            .filter(|unit| !carried.contains(unit))
            .map(|index| unit(design, index)),
    );
    all
}

/// Nets driven on the level that something outside takes: outputs of the block; of the machine what a connector or the
/// bench takes, and what nothing takes though it is not marked open.
fn leaving(verdict: &Verdict, level: Level, groups: &[Group]) -> Vec<usize> {
    let design = verdict.plan.design;
    let outputs = groups
        .iter()
        .flat_map(|group| &group.signals[group.inputs..]);
    let driven: BTreeSet<usize> = outputs.map(|signal| signal.1).collect();
    let taken: BTreeSet<usize> = match level {
        Level::Block(index) => {
            let placed = &design.placed_blocks[index];
            let inputs = design.blocks[placed.block.0].interface.inputs;
            placed.nets[inputs..].iter().map(|net| net.0).collect()
        }
        Level::Machine => {
            let inputs = groups
                .iter()
                .flat_map(|group| &group.signals[..group.inputs]);
            let used: BTreeSet<usize> = inputs.map(|signal| signal.1).collect();
            let pins = design.boards.iter().flat_map(|board| &board.connectors);
            let pins = pins.flat_map(|connector| connector.pins.iter().map(|pin| pin.1.0));
            let bench = design.bench.loads.iter().map(|load| load.net.0);
            let unused = driven
                .iter()
                .copied()
                .filter(|net| !used.contains(net) && !design.nets[*net].open);
            let outside: BTreeSet<usize> = pins.chain(bench).chain(unused).collect();
            // A connector between two boards of the machine leads nowhere outside.
            let between = |net: &usize| {
                let boards = design.boards.iter().filter(|board| {
                    let connectors = board.connectors.iter();
                    connectors
                        .flat_map(|one| &one.pins)
                        .any(|pin| pin.1.0 == *net)
                });
                1 < boards.count() && used.contains(net)
            };
            outside.into_iter().filter(|net| !between(net)).collect()
        }
    };
    driven.intersection(&taken).copied().collect()
}

fn nodes(verdict: &Verdict, groups: &[Group], leaving: &[usize]) -> Vec<Node> {
    let nets = &verdict.plan.nets;
    let mut drivers: BTreeMap<usize, Vec<(usize, usize)>> = BTreeMap::new();
    for (index, group) in groups.iter().enumerate() {
        for (output, signal) in group.signals[group.inputs..].iter().enumerate() {
            drivers.entry(signal.1).or_default().push((index, output));
        }
    }
    // What comes from outside stands after the groups.
    let entering: BTreeSet<usize> = groups
        .iter()
        .flat_map(|group| &group.signals[..group.inputs])
        .map(|signal| signal.1)
        .filter(|net| nets[*net].kind == NetKind::Signal && !drivers.contains_key(net))
        .collect();
    for (offset, &net) in entering.iter().enumerate() {
        drivers.insert(net, vec![(groups.len() + offset, 0)]);
    }
    let input = |signal: &(String, usize), units: Option<&BTreeSet<usize>>| {
        let (spare, grade) = units.map_or((None, Grade::Plain), |units| {
            margin(verdict, signal.1, units)
        });
        Input {
            signal: signal.0.clone(),
            net: signal.1,
            net_name: nets[signal.1].name.clone(),
            spare,
            grade,
            drivers: drivers.get(&signal.1).cloned().unwrap_or_default(),
        }
    };
    let inner = groups.iter().map(|group| Node {
        name: group.name.clone(),
        what: group.what.clone(),
        kind: group.kind,
        inputs: group.signals[..group.inputs]
            .iter()
            .map(|signal| input(signal, Some(&group.units)))
            .collect(),
        outputs: group.signals[group.inputs..]
            .iter()
            .map(|signal| Output {
                signal: signal.0.clone(),
                net: signal.1,
            })
            .collect(),
    });
    let outer = |net: usize, kind: Kind| Node {
        name: nets[net].name.clone(),
        what: String::new(),
        kind,
        inputs: Vec::new(),
        outputs: Vec::new(),
    };
    let enters = entering.iter().map(|&net| Node {
        outputs: vec![Output {
            signal: String::new(),
            net,
        }],
        ..outer(net, Kind::Enters)
    });
    let leaves = leaving.iter().map(|&net| Node {
        inputs: vec![input(&(String::new(), net), None)],
        ..outer(net, Kind::Leaves)
    });
    inner.chain(enters).chain(leaves).collect()
}

/// The worst of a net's connections into these units.
fn margin(verdict: &Verdict, net: usize, units: &BTreeSet<usize>) -> (Option<Spare>, Grade) {
    let own: Vec<&Connection> = verdict
        .connections
        .iter()
        .filter(|one| one.net == net && units.contains(&one.load.0))
        .collect();
    let least = |each: fn(&Connection) -> Option<f64>| {
        own.iter().filter_map(|one| each(one)).reduce(f64::min)
    };
    let spare = (least(Connection::spare_down), least(Connection::spare_up));
    let grade = own.iter().map(|one| {
        let sides = [one.spare_down(), one.spare_up()].into_iter().flatten();
        match sides.reduce(f64::min) {
            Some(volts) if volts < 0.0 => Grade::Short,
            Some(volts) if volts < thin_below(verdict, one) => Grade::Thin,
            _ => Grade::Plain,
        }
    });
    let worst = grade.fold(Grade::Plain, |worst, grade| match (worst, grade) {
        (Grade::Short, _) | (_, Grade::Short) => Grade::Short,
        (Grade::Thin, _) | (_, Grade::Thin) => Grade::Thin,
        _ => Grade::Plain,
    });
    ((!own.is_empty()).then_some(spare), worst)
}
