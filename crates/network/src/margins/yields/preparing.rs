//! Scenes of a machine made ready to be drawn: in which order, which of what is drawn their parts are, and what nets must keep to.

use super::{Asking, Bound, Curve, Driving, Feed, Output, Placed, Row, tightest};
use crate::judge::Levels;
use crate::margins::corners::RailCorner;
use crate::margins::levels::{LevelRow, Source, held, middles, rests, surroundings, watches_of};
use crate::margins::stand::{Group, Stand};
use crate::margins::thresholds;
use crate::margins::{Margins, Search};
use crate::plan::{MemberIndex, NetIndex, Plan};
use crate::rows::Values;
use crate::surroundings::signature;
use crate::variation::{Factor, Piece, Quantity};
use crate::wiring::ElementIndex;
use design::model::NetKind;
use petgraph::algo::tarjan_scc;
use petgraph::graph::DiGraph;
use std::collections::BTreeMap;

/// Sources in an order in which each comes behind what drives it, as far as they form no ring.
pub(super) fn in_order(plan: &Plan, rows: &BTreeMap<Source, Vec<LevelRow>>) -> Vec<Source> {
    let mut graph = DiGraph::<Source, ()>::new();
    let nodes: Vec<_> = rows.keys().map(|&source| graph.add_node(source)).collect();
    let mut drives: BTreeMap<NetIndex, usize> = BTreeMap::new();
    for (place, rows) in rows.values().enumerate() {
        let outputs = rows.iter().flat_map(|row| &row.outputs);
        drives.extend(outputs.map(|&(net, _)| (net, place)));
    }
    for (place, rows) in rows.values().enumerate() {
        let outputs: Vec<NetIndex> = rows
            .iter()
            .flat_map(|row| &row.outputs)
            .map(|output| output.0)
            .collect();
        let drivers = outputs.iter().flat_map(|net| &plan.drivers[*net]);
        for &(driver, _) in drivers {
            let inputs = plan.circuit(driver).interface.inputs;
            for net in &plan.members[driver].nets[..inputs] {
                if let Some(&before) = drives.get(net).filter(|before| **before != place) {
                    graph.update_edge(nodes[before], nodes[place], ());
                }
            }
        }
    }
    // The library gives what is driven before what drives it.
    let mut order: Vec<Source> = tarjan_scc(&graph)
        .into_iter()
        .flatten()
        .map(|node| graph[node])
        .collect();
    order.reverse();
    order
}

/// Members that stand alike at book values, of some.
pub(super) fn alike(
    search: &Search,
    levels: &Levels,
    members: &[MemberIndex],
) -> Vec<Vec<MemberIndex>> {
    let plan = search.plan;
    let mut classes: BTreeMap<Vec<u64>, Vec<MemberIndex>> = BTreeMap::new();
    for &member in members {
        let around = surroundings(search, search.source_of(member)).gathered(plan, &[levels]);
        let (mut key, nets) = signature(plan, &around, &[levels]);
        // Of a ring, which of its members; and which thresholds stand behind the nets.
        key.push(
            around
                .members()
                .iter()
                .position(|other| *other == member)
                .unwrap_or(0) as u64,
        );
        for net in nets {
            let loads = plan.loads[net]
                .iter()
                .filter_map(|load| search.book.get(load));
            key.extend(
                loads.flat_map(|thresholds| [thresholds.low.to_bits(), thresholds.high.to_bits()]),
            );
        }
        classes.entry(key).or_default().push(member);
    }
    let mut classes: Vec<Vec<MemberIndex>> = classes.into_values().collect();
    classes.sort();
    classes
}

/// What of what is drawn: a part of a member, or a resistor of the bench by its net and its number among those that hang there,
/// counted from one; nought is the one in the way of the switch. Heaters by their rail.
pub(super) type Key = (Option<MemberIndex>, usize, usize, Quantity);

fn key_of(plan: &Plan, factor: &Factor) -> Key {
    let net = |signal: usize| plan.members[factor.member].nets[signal];
    match factor.piece {
        Piece::Part(part) => (Some(factor.member), part, 0, factor.quantity),
        Piece::Switch { signal } => (None, net(signal), 0, factor.quantity),
        Piece::Load { signal, number } => (None, net(signal), number + 1, factor.quantity),
        Piece::Diodes => (None, 0, 0, factor.quantity),
        Piece::Heaters(rail) => (None, rail.0, 0, factor.quantity),
    }
}

pub(super) fn known_of(plan: &Plan, factors: &[Factor]) -> BTreeMap<Key, usize> {
    let own = factors
        .iter()
        .enumerate()
        .filter(|(_, factor)| !factor.is_common());
    own.map(|(place, factor)| (key_of(plan, factor), place))
        .collect()
}

/// What is known while scenes are made ready.
pub(super) struct Preparing<'a> {
    pub search: &'a Search<'a>,
    pub corner: &'a RailCorner,
    pub levels: Levels,
    pub places: Vec<Placed>,
    pub of_source: BTreeMap<Source, usize>,
    /// Everything that is drawn, by what it is.
    pub known: BTreeMap<Key, usize>,
    /// Members that did not come to rest at book values.
    pub unknown: Vec<MemberIndex>,
    pub margins: &'a Margins,
}

impl Preparing<'_> {
    /// The scene of a source; `None` where it cannot be solved at all.
    fn place(&mut self, source: Source) -> Option<usize> {
        if let Some(&known) = self.of_source.get(&source) {
            return Some(known);
        }
        let search = self.search;
        let plan = search.plan;
        let around = surroundings(search, source).gathered(plan, &[&self.levels]);
        let held = held(search, source, &around);
        let group = Group {
            members: &around.copies(),
            held: &held,
        };
        let stand = Stand::new(plan, &group, self.corner, search.varied, search.context)?;
        let place = self.put(stand);
        self.of_source.insert(source, place);
        Some(place)
    }

    /// Keeps a scene, with what of what is drawn its parts are; its place.
    pub(super) fn put(&mut self, stand: Stand) -> usize {
        let plan = self.search.plan;
        let factors = stand.factors.iter();
        let drawn = factors
            .map(|factor| {
                let key = key_of(plan, factor);
                self.known
                    .get(&key)
                    .copied()
                    .filter(|_| !factor.is_common())
            })
            .collect();
        let rails = stand
            .scene
            .rails
            .iter()
            .filter_map(|(net, tie)| match plan.nets[*net].kind {
                NetKind::Rail(rail) => Some((*tie, rail.0)),
                NetKind::Ground | NetKind::Signal => None,
            })
            .collect();
        self.places.push(Placed {
            stand,
            drawn,
            rails,
        });
        self.places.len() - 1
    }

    pub(super) fn driving(&mut self, source: Source, rows: &[LevelRow]) -> Option<Driving> {
        let members = match source {
            Source::Member(member) => vec![member],
            Source::Ring(ring) => self.search.rings[ring].members.clone(),
            Source::Switch(_) => Vec::new(),
        };
        let Some(place) = self.place(source) else {
            self.unknown.extend(members);
            return None;
        };
        let search = self.search;
        let stand = &mut self.places[place].stand;
        let rests = rests(search, stand, source, rows, self.corner, &self.levels);
        if rests.iter().any(Option::is_none) {
            self.unknown.extend(&members);
        }
        let middles = middles(stand, rows, &rests, search.levels);
        let ready = rows.iter().zip(rests).filter_map(|(row, rest)| {
            let outputs = row.outputs.iter().filter_map(|&(net, up)| {
                let node = *stand.scene.nets.get(&net)?;
                Some(Output { net, node, up })
            });
            Some(Row {
                rest: rest?,
                watches: watches_of(stand, row, &middles),
                feeds: feeds(search.plan, stand, &row.values),
                outputs: outputs.collect(),
                holds: row.holds,
            })
        });
        Some(Driving {
            place,
            members,
            rows: ready.collect(),
        })
    }

    /// What every net must keep to, and the inputs that ask it.
    pub(super) fn bounds(&mut self) -> (Vec<Asking>, BTreeMap<NetIndex, Vec<Bound>>) {
        let search = self.search;
        let plan = search.plan;
        let mut asking: Vec<Asking> = Vec::new();
        let mut bounds: BTreeMap<NetIndex, Vec<Bound>> = BTreeMap::new();
        for (&(member, input), thresholds) in search.book {
            let net = plan.members[member].nets[input];
            if plan.is_supply(net) {
                continue;
            }
            if !thresholds.passed_on {
                if let Some(one) = self.asking(
                    member,
                    input,
                    f64::midpoint(thresholds.low, thresholds.high),
                ) {
                    bounds
                        .entry(net)
                        .or_default()
                        .push(Bound::Slope(asking.len()));
                    asking.push(one);
                }
                continue;
            }
            let inputs = plan.circuit(member).interface.inputs;
            for &on in &plan.members[member].nets[inputs..] {
                bounds.entry(net).or_default().push(Bound::Passed(on));
                let leaves = plan.loads[on]
                    .iter()
                    .all(|load| !search.book.contains_key(load));
                let asked = search.asked.get(&plan.members[member].circuit);
                if let (true, Some(asked)) = (leaves, asked) {
                    bounds
                        .entry(on)
                        .or_default()
                        .push(Bound::Asked(asked.low, asked.high));
                }
            }
        }
        (asking, bounds)
    }

    fn asking(&mut self, member: MemberIndex, input: usize, middle: f64) -> Option<Asking> {
        let source = Source::Member(member);
        let place = self.place(source)?;
        let plan = self.search.plan;
        let net = plan.members[member].nets[input];
        let alone = surroundings(self.search, source).loads.is_empty();
        let stand = &mut self.places[place].stand;
        let tie = stand.scene.feeds.get(&net)?.tie;
        let mut curves = Vec::new();
        for curve in thresholds::curves(plan, stand, (member, input), alone) {
            let mut values = curve.values;
            let mut rest = |up: bool| {
                values.insert(net, up);
                stand.feed(plan, self.corner, &values, &self.levels);
                stand.rest(None)
            };
            let (Some(down), Some(up)) = (rest(false), rest(true)) else {
                continue;
            };
            curves.push(Curve {
                node: curve.node,
                feeds: feeds(plan, stand, &values),
                rests: [down, up],
            });
        }
        let corners = self.margins.thresholds.iter();
        let surely: Option<Vec<(f64, f64)>> = corners
            .map(|corner| corner.get(&(member, input)).copied())
            .collect();
        // Where the rails were not all tried, or a threshold is not known, nothing is sure.
        let surely = surely.filter(|_| self.margins.all_corners);
        Some(Asking {
            place,
            net,
            tie,
            middle,
            surely: surely.map_or((f64::NEG_INFINITY, f64::INFINITY), |all| {
                tightest(all.into_iter())
            }),
            curves,
        })
    }
}

/// What every source of a scene stands at.
pub(super) fn feeds(plan: &Plan, stand: &Stand, values: &Values) -> Vec<(ElementIndex, Feed)> {
    let feeds = stand.scene.feeds.iter();
    feeds
        .map(|(&net, feed)| {
            let up = values.get(&net).copied().unwrap_or(false);
            let switch = plan.switches.get(&net).filter(|_| feed.switch.is_some());
            let stands_at = match switch {
                Some(switch) => Feed::Supply(if up { switch.up } else { switch.down }),
                None => Feed::Level(net, up),
            };
            (feed.tie, stands_at)
        })
        .collect()
}
