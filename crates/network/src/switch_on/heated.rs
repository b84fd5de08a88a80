//! Which rails a heater string needs, and which tubes are cold without them.

use crate::heaters::supplies::{rail_of, stands_on, supply, supply_of};
use crate::plan::MemberIndex;
use design::model::{Design, HeaterString, RailId};
use std::collections::BTreeSet;

/// Tubes by member and by their number among the tubes of its circuit.
pub(super) type TubeSet = BTreeSet<(MemberIndex, usize)>;

/// Whether the tubes carry anything.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tubes {
    /// All may.
    Warm,
    /// Those whose heaters need a missing rail carry nothing.
    PartlyCold,
    /// None does.
    Cold,
}

/// The rails without which nothing flows in a string. Of one that ends on a net of the machine, those at its ends.
fn needed(design: &Design, string: &HeaterString) -> Vec<RailId> {
    let nets = match supply_of(design, string) {
        Some([near, far]) if stands_on(design, [near, far]) => vec![far],
        Some(both) => both.into(),
        None => [string.from, string.to]
            .into_iter()
            .filter_map(|terminal| supply(design, terminal))
            .collect(),
    };
    let rails = nets.into_iter().filter_map(|net| rail_of(design, net));
    rails.collect()
}

/// For each rail the tubes that are cold without it.
pub(super) fn heated_by(design: &Design) -> Vec<TubeSet> {
    let mut heated = vec![TubeSet::new(); design.rails.len()];
    for string in &design.strings {
        for rail in needed(design, string) {
            for (socket, ..) in string.heaters() {
                let halves = design.sockets[socket.0].halves.iter().flatten();
                heated[rail.0].extend(halves.map(|&(unit, tube)| (unit.0, tube)));
            }
        }
    }
    heated
}
