//! Where each row rests by the book, and on which side of the middle a stored state must stay.

use super::{LevelRow, Source, driven};
use crate::ensemble::Watch;
use crate::judge::{Held, Levels};
use crate::margins::Search;
use crate::margins::corners::RailCorner;
use crate::margins::stand::Stand;
use crate::plan::{MemberIndex, NetIndex};
use crate::solve::OperatingPoint;
use std::collections::BTreeMap;

/// Rests of two states nearer to each other than this share of the swing by the book are one state: chosen, far above what volts
/// are solved to.
const LEAST_SWING: f64 = 0.01;

/// The rest of every row at book values, with its sources at the levels given; a stored state in the state that is meant.
pub(in crate::margins) fn rests(
    search: &Search,
    stand: &mut Stand,
    source: Source,
    rows: &[LevelRow],
    corner: &RailCorner,
    levels: &Levels,
) -> Vec<Option<OperatingPoint>> {
    let mut ring = match source {
        Source::Ring(_) => Held::new(&stand.scene, search.context),
        Source::Member(_) | Source::Switch(_) => None,
    };
    // A state is started with its nets where they stand by the book: the worst of its levels may lie on the other side.
    let mut started = levels.clone();
    for net in driven(search, source) {
        if let Some(level) = search.levels.get(&net) {
            started.insert(net, *level);
        }
    }
    let mut rests: Vec<Option<OperatingPoint>> = Vec::new();
    for row in rows {
        stand.feed(search.plan, corner, &row.values, levels);
        let start = match (&mut ring, source) {
            (Some(ring), _) => ring.start(&stand.scene, &row.values, &started, search.context),
            (None, Source::Member(member)) if search.stores(source) => {
                Some(stored_start(stand, member, &row.volts))
            }
            _ => {
                let before = rests.iter().rev().flatten().next();
                before.map(|point| point.volts.clone())
            }
        };
        let rest = stand.rest(start.as_deref());
        rests.push(rest);
    }
    rests
}

/// Volts to start a stored state from: those of the member's own nodes at book values.
fn stored_start(stand: &Stand, member: MemberIndex, volts: &[f64]) -> Vec<f64> {
    let mut start = vec![0.0; stand.network.wiring.nodes.len()];
    if let Some(placed) = stand.scene.member(member) {
        for (&node, &volts) in placed.nodes.iter().zip(volts) {
            start[node] = volts;
        }
    }
    start
}

/// Of every net that keeps a state the middle between its levels, V.
pub(in crate::margins) type Middles = BTreeMap<NetIndex, f64>;

/// Middles between the levels at these rails with parts by the book: between the least up and the most down of the rests of
/// all that holds a state. Where these do not part, a state is lost there with parts by the book; the middle between the book
/// levels, with the rails as typed, then shows which.
pub(in crate::margins) fn middles(
    stand: &Stand,
    rows: &[LevelRow],
    rests: &[Option<OperatingPoint>],
    book: &Levels,
) -> Middles {
    let mut least_up = Middles::new();
    let mut most_down = Middles::new();
    for (row, rest) in rows.iter().zip(rests) {
        let Some(rest) = rest.as_ref().filter(|_| row.holds) else {
            continue;
        };
        for &(net, up) in &row.outputs {
            let Some(&node) = stand.scene.nets.get(&net) else {
                continue;
            };
            let volts = rest.volts[node];
            if up {
                let least = least_up.entry(net).or_insert(volts);
                *least = least.min(volts);
            } else {
                let most = most_down.entry(net).or_insert(volts);
                *most = most.max(volts);
            }
        }
    }
    let nets = rows.iter().flat_map(|row| &row.outputs);
    nets.filter_map(|&(net, _)| {
        let level = book.get(&net)?;
        let parted = LEAST_SWING * (level.up - level.down);
        let middle = match (most_down.get(&net), least_up.get(&net)) {
            (Some(down), Some(up)) if parted < up - down => f64::midpoint(*down, *up),
            _ => f64::midpoint(level.down, level.up),
        };
        Some((net, middle))
    })
    .collect()
}

/// What stores must keep its outputs on their sides of the middles; nothing else has any.
pub(in crate::margins) fn watches_of(
    stand: &Stand,
    row: &LevelRow,
    middles: &Middles,
) -> Vec<Watch> {
    let outputs = row.outputs.iter().filter(|_| row.holds);
    outputs
        .filter_map(|&(net, above)| {
            Some(Watch {
                node: *stand.scene.nets.get(&net)?,
                divide: *middles.get(&net)?,
                above,
            })
        })
        .collect()
}
