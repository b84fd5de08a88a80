//! A design with another type of tube in one socket, and in that alone.

use crate::model::{Circuit, CircuitId, Design, Jig, NodeKind, PartKind, SocketId, UnitId};
use crate::tube::needed;
use devices::types::TubeType;
use std::collections::BTreeMap;
use std::sync::Arc;

/// Why the circuits round a socket have no place for a type.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Misfit {
    /// The other half is used, and the type has one only.
    Halves,
    /// Its electrodes that want a net are others: those of the tube in place, and its own.
    Electrodes(Vec<&'static str>, Vec<&'static str>),
}

impl Design {
    /// The design with another type in one socket. A unit whose circuit stands elsewhere too gets a circuit of its own.
    ///
    /// # Errors
    /// When the circuits round the socket have no place for the type.
    pub fn with_type_in_socket(
        &self,
        socket: SocketId,
        device: &Arc<TubeType>,
    ) -> Result<Self, Misfit> {
        let place = &self.sockets[socket.0];
        let (has, wants) = (needed(&place.device), needed(device));
        if has != wants {
            return Err(Misfit::Electrodes(has, wants));
        }
        if device.sections == 1 && place.halves[1].is_some() {
            return Err(Misfit::Halves);
        }
        let mut design = self.clone();
        design.sockets[socket.0].device = device.clone();
        let mut tubes_of: BTreeMap<UnitId, Vec<usize>> = BTreeMap::new();
        for &(unit, tube) in place.halves.iter().flatten() {
            tubes_of.entry(unit).or_default().push(tube);
        }
        // Both halves may be units of one circuit with the same tube replaced.
        let mut made: BTreeMap<(CircuitId, Vec<usize>), CircuitId> = BTreeMap::new();
        for (&unit, tubes) in &tubes_of {
            let old = self.units[unit.0].circuit;
            let mut users = (0..self.units.len()).filter(|&user| self.units[user].circuit == old);
            let key = (old, tubes.clone());
            let alone = users.all(|user| tubes_of.get(&UnitId(user)) == Some(tubes));
            let new = *made.entry(key).or_insert_with(|| {
                if alone {
                    replace(&mut design.circuits[old.0], tubes, device);
                    return old;
                }
                let mut variant = self.circuits[old.0].clone();
                variant.name = format!("{} with {} in {}", variant.name, device.name, place.mark);
                replace(&mut variant, tubes, device);
                design.circuits.push(variant);
                let new = CircuitId(design.circuits.len() - 1);
                let jigs = self.jigs.iter().filter(|jig| jig.circuit == old);
                design.jigs.extend(jigs.map(|jig| Jig {
                    circuit: new,
                    ..jig.clone()
                }));
                new
            });
            design.units[unit.0].circuit = new;
        }
        Ok(design)
    }
}

impl Circuit {
    /// Whether a type has a place wherever this circuit has a tube: of the same kind, heated alike, with the same electrodes to
    /// be wired; one whose halves share a cathode only where cathodes stand on ground or on a rail. False for a circuit
    /// without a tube.
    #[must_use]
    pub fn has_place_for(&self, device: &TubeType) -> bool {
        let mut tubes = self.tubes().peekable();
        tubes.peek().is_some()
            && tubes.all(|(_, tube)| {
                let fixed = !matches!(
                    self.nodes[tube.cathode].kind,
                    NodeKind::Signal(_) | NodeKind::Inner
                );
                tube.device.kind == device.kind
                    && needed(&tube.device) == needed(device)
                    && (fixed || tube.device.common_cathode || !device.common_cathode)
            })
    }
}

/// Puts a type into some of a circuit's tube parts, by their index among them.
fn replace(circuit: &mut Circuit, tubes: &[usize], device: &Arc<TubeType>) {
    let parts = circuit
        .parts
        .iter_mut()
        .filter_map(|part| match &mut part.kind {
            PartKind::Tube(tube) => Some(tube),
            _ => None,
        });
    for (index, tube) in parts.enumerate() {
        if tubes.contains(&index) {
            tube.device = device.clone();
        }
    }
}
