//! Which tube of a circuit stands behind one of its inputs.

use design::model::{Circuit, NodeKind, PartKind};
use std::collections::VecDeque;

/// The part that is the first tube reached from an input's node by parts with two ends, at its grid before its cathode; `None` where
/// rails or nothing come before one.
pub(super) fn tube_behind(circuit: &Circuit, input: usize) -> Option<usize> {
    let mut known = vec![false; circuit.nodes.len()];
    let mut queue = VecDeque::from([input]);
    known[input] = true;
    while let Some(node) = queue.pop_front() {
        let grid = circuit.tubes().find(|(_, tube)| tube.grid == Some(node));
        let found = grid.or_else(|| circuit.tubes().find(|(_, tube)| tube.cathode == node));
        if let Some((part, _)) = found {
            return Some(part);
        }
        for ends in circuit.parts.iter().filter_map(|part| ends(&part.kind)) {
            for (from, to) in [(ends[0], ends[1]), (ends[1], ends[0])] {
                let supply = matches!(circuit.nodes[to].kind, NodeKind::Ground | NodeKind::Rail(_));
                if from == node && !supply && !std::mem::replace(&mut known[to], true) {
                    queue.push_back(to);
                }
            }
        }
    }
    None
}

/// The ends of a part that passes direct current from one to the other.
fn ends(kind: &PartKind) -> Option<[usize; 2]> {
    match kind {
        PartKind::Resistor { ends, .. }
        | PartKind::Trimmer { ends, .. }
        | PartKind::Inductor { ends, .. }
        | PartKind::Neon { ends, .. } => Some(*ends),
        PartKind::Switch { ends, closed } => closed.then_some(*ends),
        PartKind::Diode { anode, cathode, .. } => Some([*anode, *cathode]),
        PartKind::Source { plus, minus, .. } => Some([*plus, *minus]),
        PartKind::Capacitor { .. } | PartKind::Tube(_) => None,
    }
}
