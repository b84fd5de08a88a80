//! What a string hangs between, and which of the two stands on the other.

use design::model::{Design, HeaterString, NetId, NetKind, RailId, Terminal};

/// The rail that a net is.
pub(crate) fn rail_of(design: &Design, net: NetId) -> Option<RailId> {
    match design.nets[net.0].kind {
        NetKind::Rail(rail) => Some(rail),
        NetKind::Ground | NetKind::Signal => None,
    }
}

/// Nominal volts of a rail or ground; of a winding its own, above what it stands on.
pub(crate) fn nominal(design: &Design, net: NetId) -> f64 {
    rail_of(design, net).map_or(0.0, |rail| design.rails[rail.0].volts)
}

fn alternates(design: &Design, net: NetId) -> bool {
    rail_of(design, net).is_some_and(|rail| design.rails[rail.0].alternates)
}

/// The net of a terminal if it is a rail or ground.
pub(crate) fn supply(design: &Design, terminal: Terminal) -> Option<NetId> {
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
pub(crate) fn supply_of(design: &Design, string: &HeaterString) -> Option<[NetId; 2]> {
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
pub(crate) fn stands_on(design: &Design, [near, far]: [NetId; 2]) -> bool {
    near == Design::GROUND
        || alternates(design, far)
        || 0.0 < nominal(design, near) * nominal(design, far)
}

/// What decides where a string stands against the cathodes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Footing {
    /// The rail that its supply stands on, or where that is ground the supply itself.
    Rail(RailId),
    /// Itself: it ends elsewhere.
    Own(usize),
}

/// The footing of a string, by its index.
pub(super) fn footing(design: &Design, string: usize) -> Footing {
    let rails = supply_of(design, &design.strings[string])
        .into_iter()
        .flatten();
    let first = rails.filter_map(|net| rail_of(design, net)).next();
    first.map_or(Footing::Own(string), Footing::Rail)
}
