//! Which rails a heater string needs, and which tubes are cold without them.

use crate::plan::MemberIndex;
use design::model::{Design, HeaterString, NetId, NetKind, RailId, Terminal};
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

/// The rail that a net is.
pub(super) fn rail_of(design: &Design, net: NetId) -> Option<RailId> {
    match design.nets[net.0].kind {
        NetKind::Rail(rail) => Some(rail),
        NetKind::Ground | NetKind::Signal => None,
    }
}

/// Nominal volts of a rail or ground; of a winding its own, above what it stands on.
pub(super) fn nominal(design: &Design, net: NetId) -> f64 {
    rail_of(design, net).map_or(0.0, |rail| design.rails[rail.0].volts)
}

fn alternates(design: &Design, net: NetId) -> bool {
    rail_of(design, net).is_some_and(|rail| design.rails[rail.0].alternates)
}

/// The net of a terminal if it is a rail or ground.
fn supply(design: &Design, terminal: Terminal) -> Option<NetId> {
    match terminal {
        Terminal::Net(net) => {
            let signal = matches!(design.nets[net.0].kind, NetKind::Signal);
            (!signal).then_some(net)
        }
        Terminal::Inner(..) => None,
    }
}

/// The two rails or ground that a string hangs between, the one that the other stands on or that is nearer to ground first;
/// `None` for one that ends elsewhere.
pub(super) fn supply_of(design: &Design, string: &HeaterString) -> Option<[NetId; 2]> {
    let (from, to) = (supply(design, string.from)?, supply(design, string.to)?);
    let far = |net: NetId| (alternates(design, net), nominal(design, net).abs());
    Some(if far(from) < far(to) {
        [from, to]
    } else {
        [to, from]
    })
}

/// Whether the far one of two supplies keeps its own volts when the near one is missing: it is a winding, which stands on
/// the near one or on ground, or a supply of the same sign, which is taken to stand on it.
pub(super) fn stands_on(design: &Design, [near, far]: [NetId; 2]) -> bool {
    near == Design::GROUND
        || alternates(design, far)
        || 0.0 < nominal(design, near) * nominal(design, far)
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
