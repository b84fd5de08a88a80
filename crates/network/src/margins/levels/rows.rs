//! The rows in which a source is solved for its worst levels, and what stands around it then.

use super::{LevelRow, Source};
use crate::judge::MemberResult;
use crate::margins::Search;
use crate::plan::{MemberIndex, NetIndex, Plan};
use crate::rows::{Others, Values, fill_others};
use crate::surroundings::Surroundings;
use design::model::NodeKind;
use std::collections::BTreeMap;

/// The rows of every source: those of the members from what was solved at book values, those of rings from their states there,
/// those of a switch made up. What a ring drives is not what its members drive.
pub(in crate::margins) fn all_rows(
    search: &Search,
    results: &[&MemberResult],
) -> BTreeMap<Source, Vec<LevelRow>> {
    let plan = search.plan;
    let given = |net: NetIndex| {
        let first = search.given.first();
        first.is_some_and(|given| given.levels.contains_key(&net))
    };
    let mut all = BTreeMap::new();
    let in_rings: Vec<MemberIndex> = search
        .rings
        .iter()
        .flat_map(|ring| ring.members.clone())
        .collect();
    for (member, result) in results.iter().enumerate() {
        if in_rings.contains(&member) {
            continue;
        }
        let inputs = plan.circuit(member).interface.inputs;
        let nets = &plan.members[member].nets[inputs..];
        let mut rows: Vec<LevelRow> = Vec::new();
        for solved in result.rows.iter().filter(|row| row.counts()) {
            let said = nets.iter().zip(&solved.row.outputs);
            let outputs: Vec<(NetIndex, bool)> = said
                .filter_map(|(&net, value)| Some((net, (*value)?)))
                .filter(|&(net, _)| !plan.is_supply(net) && !given(net))
                .collect();
            if !outputs.is_empty() {
                rows.push(LevelRow {
                    inputs: solved.row.inputs.clone(),
                    others: solved.row.others,
                    values: solved.row.values.clone(),
                    outputs,
                    holds: plan.stores(member),
                    volts: solved.volts.clone(),
                });
            }
        }
        if !rows.is_empty() {
            all.insert(Source::Member(member), rows);
        }
    }
    for (number, ring) in search.rings.iter().enumerate() {
        let source = Source::Ring(number);
        let own = driven(search, source);
        let mut rows = Vec::new();
        for (state, holds) in &ring.states {
            for (others, values) in with_others(search, source, state) {
                rows.push(LevelRow {
                    inputs: Vec::new(),
                    others,
                    outputs: own
                        .iter()
                        .filter_map(|net| Some((*net, *values.get(net)?)))
                        .collect(),
                    values,
                    holds: *holds,
                    volts: Vec::new(),
                });
            }
        }
        all.insert(source, rows);
    }
    for &net in plan.switches.keys() {
        if !plan.drivers[net].is_empty() || plan.loads[net].is_empty() || given(net) {
            continue;
        }
        let source = Source::Switch(net);
        let mut rows = Vec::new();
        for up in [false, true] {
            for (others, values) in with_others(search, source, &Values::from([(net, up)])) {
                rows.push(LevelRow {
                    inputs: vec![up],
                    others,
                    values,
                    outputs: vec![(net, up)],
                    holds: false,
                    volts: Vec::new(),
                });
            }
        }
        all.insert(source, rows);
    }
    all
}

/// Values of all nets around a source where the other inputs of its loads are all down, and all up.
fn with_others(search: &Search, source: Source, values: &Values) -> Vec<(Others, Values)> {
    let around = surroundings(search, source);
    let filled = |others| {
        (
            others,
            fill_others(search.plan, &around, values.clone(), others),
        )
    };
    let mut all = vec![filled(Others::Down), filled(Others::Up)];
    all.dedup_by(|left, right| left.1 == right.1);
    all
}

/// Nets that a source drives.
pub(in crate::margins) fn driven(search: &Search, source: Source) -> Vec<NetIndex> {
    let plan = search.plan;
    let outputs = |member: MemberIndex| {
        let inputs = plan.circuit(member).interface.inputs;
        plan.members[member].nets[inputs..]
            .iter()
            .copied()
            .filter(|&net| !plan.is_supply(net))
    };
    match source {
        Source::Member(member) => outputs(member).collect(),
        Source::Ring(ring) => search.rings[ring]
            .members
            .iter()
            .flat_map(|&member| outputs(member))
            .collect(),
        Source::Switch(net) => vec![net],
    }
}

/// A source with its loads.
pub(in crate::margins) fn surroundings(search: &Search, source: Source) -> Surroundings {
    let nets = driven(search, source);
    match source {
        Source::Member(member) => Surroundings::cut_open(search.plan, member),
        Source::Ring(ring) => {
            Surroundings::driving(search.plan, &nets, &search.rings[ring].members)
        }
        Source::Switch(_) => Surroundings::driving(search.plan, &nets, &[]),
    }
}

/// Every input of the group but those on what the source drives, or what has no tube behind it.
pub(in crate::margins) fn held(
    search: &Search,
    source: Source,
    around: &Surroundings,
) -> Vec<NetIndex> {
    let plan = search.plan;
    let members = around.members();
    let mut driven = driven(search, source);
    for &member in members.iter().filter(|member| plan.is_passive(**member)) {
        driven.extend(self::driven(search, Source::Member(member)));
    }
    let mut held: Vec<NetIndex> = members
        .into_iter()
        .flat_map(|member| {
            let inputs = plan.circuit(member).interface.inputs;
            plan.members[member].nets[..inputs].iter().copied()
        })
        .filter(|net| !plan.is_supply(*net) && !driven.contains(net))
        .collect();
    held.sort_unstable();
    held.dedup();
    held
}

/// Rails that anything in the group hangs on.
pub(in crate::margins) fn rails_around(plan: &Plan, around: &Surroundings) -> Vec<usize> {
    let mut rails: Vec<usize> = Vec::new();
    let mut supply = |net: NetIndex| {
        let found = plan.design.rails.iter().position(|rail| rail.net.0 == net);
        rails.extend(found);
    };
    for member in around.members() {
        for node in &plan.circuit(member).nodes {
            if let NodeKind::Rail(rail) = node.kind {
                supply(plan.design.rails[rail.0].net.0);
            }
        }
        for &net in &plan.members[member].nets {
            supply(net);
            for resistor in plan.resistors.get(&net).into_iter().flatten() {
                supply(resistor.to);
            }
            if let Some(switch) = plan.switches.get(&net) {
                supply(switch.down);
                supply(switch.up);
            }
        }
    }
    rails.sort_unstable();
    rails.dedup();
    rails
}
