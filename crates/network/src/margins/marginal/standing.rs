//! The machine with its rails somewhere and every part at its book value: what every connection has to spare, and what fails.

use super::{Failure, Near, Why};
use crate::duty::wanted;
use crate::finding::Finding;
use crate::judge::Context;
use crate::margins::corners::RailCorner;
use crate::margins::levels::{CornerLevels, worst_levels};
use crate::margins::thresholds::{
    CornerThresholds, Spare as ThresholdSpare, worst_thresholds_near,
};
use crate::margins::{Search, book_results};
use crate::plan::{MemberIndex, Plan};
use crate::rows::Values;
use crate::variation::Varied;
use crate::verdict::Verdict;
use design::model::PartKind;

/// The margins of the connections at one state of the rails.
pub(super) struct Standing {
    pub levels: CornerLevels,
    pub thresholds: CornerThresholds,
    /// Smallest first.
    spares: Vec<Spare>,
    /// Connections that have a threshold as typed, and here have none or no level.
    unknown: Vec<usize>,
}

#[derive(Debug, Clone, Copy)]
struct Spare {
    connection: usize,
    up: bool,
    volts: f64,
    level: f64,
    threshold: f64,
}

impl Standing {
    /// The smallest volts to spare, infinite where nothing driven has a threshold; `None` where something fails in another way than by
    /// falling short.
    pub(super) fn smallest(&self) -> Option<f64> {
        let known = self.levels.settled
            && self.levels.unknown.is_empty()
            && self.levels.lost.is_empty()
            && self.unknown.is_empty();
        let first = self.spares.first();
        known.then(|| first.map_or(f64::INFINITY, |spare| spare.volts))
    }

    pub(super) fn fails(&self) -> bool {
        self.smallest().is_none_or(|volts| volts < 0.0)
    }

    /// Both sides of every connection, least to spare first.
    pub(super) fn nearest(&self, verdict: &Verdict) -> Vec<Near> {
        let near = |spare: &Spare| {
            let connection = &verdict.connections[spare.connection];
            let case = &self.levels.cases.get(&(connection.net, spare.up))?.case;
            Some(Near {
                net: connection.net,
                driver: connection.driver,
                load: connection.load,
                up: spare.up,
                inputs: case.inputs.clone(),
                others: case.others,
                level: spare.level,
                threshold: spare.threshold,
            })
        };
        self.spares.iter().filter_map(near).collect()
    }

    /// What fails here, where something does; `before` has both sides of every connection at volts that still stand, or here.
    pub(super) fn failure(&self, verdict: &Verdict, before: &[Near]) -> Failure {
        let plan = &verdict.plan;
        if let Some(lost) = self.levels.lost.first() {
            return Failure::losing(plan, &lost.members, &lost.values, before);
        }
        let input = self.unknown.first();
        let input = input.map(|&connection| verdict.connections[connection].load);
        if let Some((member, signal)) = input {
            return Failure::not_known(plan, member, Some(signal));
        }
        if let Some(&member) = self.levels.unknown.first() {
            return Failure::not_known(plan, member, None);
        }
        before.first().map_or(
            Failure {
                why: Why::NotKnown,
                near: None,
                not_done: None,
                members: Vec::new(),
                tube: None,
                state: Values::new(),
            },
            |near| Failure::short(plan, near),
        )
    }
}

impl Failure {
    /// A connection falls short: the tube that is given too little is that behind the load's input.
    pub(super) fn short(plan: &Plan, near: &Near) -> Self {
        let mut state = Values::from([(near.net, near.up)]);
        if let Some((driver, _)) = near.driver {
            let nets = plan.members[driver].nets.iter().copied();
            state.extend(nets.zip(near.inputs.iter().copied()));
        }
        state.retain(|net, _| !plan.is_supply(*net));
        Self {
            why: Why::Short,
            tube: tube_behind(plan, near.load),
            members: near.driver.map(|pin| pin.0).into_iter().collect(),
            near: Some(near.clone()),
            not_done: None,
            state,
        }
    }

    /// A state is lost: what gives way first is the connection among those that store it that has the least to spare in it.
    fn losing(plan: &Plan, members: &[MemberIndex], values: &Values, before: &[Near]) -> Self {
        let within = |near: &&Near| {
            members.contains(&near.load.0) && values.get(&near.net) == Some(&near.up)
        };
        let near = before.iter().find(within).cloned();
        let mut nets: Vec<usize> = Vec::new();
        for &member in members {
            nets.extend(plan.members[member].nets.iter().copied());
        }
        let own = values.iter().filter(|(net, _)| nets.contains(net));
        Self {
            why: Why::Loses,
            tube: near.as_ref().and_then(|near| tube_behind(plan, near.load)),
            members: members.to_vec(),
            near,
            not_done: None,
            state: own
                .filter(|(net, _)| !plan.is_supply(**net))
                .map(|(net, up)| (*net, *up))
                .collect(),
        }
    }

    /// A gate no longer amplifies from one of its inputs, or comes to no rest.
    fn not_known(plan: &Plan, member: MemberIndex, input: Option<usize>) -> Self {
        let tubes = || plan.circuit(member).tubes().next();
        Self {
            why: Why::NotKnown,
            tube: input
                .and_then(|input| tube_behind(plan, (member, input)))
                .or_else(|| tubes().map(|(part, _)| (member, part))),
            members: vec![member],
            near: None,
            not_done: None,
            state: Values::new(),
        }
    }

    /// A part does not do what a sentence asks of it: in the state in which it is asked, where there is only one. A lamp that is a tube is
    /// the tube that gives way.
    pub(super) fn not_done(verdict: &Verdict, member: MemberIndex, finding: Finding) -> Self {
        let plan = &verdict.plan;
        let (circuit, of) = (plan.circuit(member), &plan.members[member]);
        let on = !matches!(finding.name, "lamp-stays-lit" | "current-stays-on");
        let name = |part: usize| format!("{}.{}", of.name, circuit.parts[part].mark);
        let mut duties = circuit.duties.iter();
        let duty = duties.find(|duty| name(duty.part) == finding.subject);
        let part = duty.map(|duty| duty.part);
        let tube = part.filter(|&part| matches!(circuit.parts[part].kind, PartKind::Tube(_)));
        let asking = duty.into_iter().flat_map(|duty| {
            let rows = verdict.result(member).rows.iter();
            rows.filter(move |row| row.counts() && wanted(duty, row) == Some(on))
        });
        let mut states: Vec<&[bool]> = asking.map(|row| row.row.inputs.as_slice()).collect();
        states.dedup();
        let mut state = Values::new();
        if let [inputs] = states[..] {
            state.extend(of.nets.iter().copied().zip(inputs.iter().copied()));
            state.retain(|net, _| !plan.is_supply(*net));
        }
        Self {
            why: Why::NotDone,
            near: None,
            not_done: Some(finding),
            members: vec![member],
            tube: tube.map(|part| (member, part)),
            state,
        }
    }
}

/// The tube of a member that the fewest parts part from one of its inputs.
fn tube_behind(plan: &Plan, (member, input): (MemberIndex, usize)) -> Option<(MemberIndex, usize)> {
    let part = super::tubes::tube_behind(plan.circuit(member), input)?;
    Some((member, part))
}

/// The connections at some states of the rails; thresholds are looked for near those that are known elsewhere, of each its own.
pub(super) fn standings(
    verdict: &Verdict,
    corners: &[RailCorner],
    near: &[&CornerThresholds],
    context: &Context,
) -> Vec<Standing> {
    standings_of(verdict, &verdict.plan, corners, near, context)
}

/// The same with another plan of the same members and nets.
pub(super) fn standings_of<'a>(
    verdict: &'a Verdict<'a>,
    plan: &'a Plan<'a>,
    corners: &[RailCorner],
    near: &[&CornerThresholds],
    context: &'a Context,
) -> Vec<Standing> {
    let search = Search {
        plan,
        both_ends: false,
        ..Search::new(verdict, &[], Varied::Nothing, context)
    };
    let (levels, _) = worst_levels(&search, &book_results(verdict), corners);
    let (thresholds, _) =
        worst_thresholds_near(&search, &verdict.thresholds, corners, &levels, near);
    let found = levels.into_iter().zip(thresholds);
    found
        .map(|(levels, thresholds)| standing(verdict, levels, thresholds))
        .collect()
}

fn standing(verdict: &Verdict, levels: CornerLevels, thresholds: CornerThresholds) -> Standing {
    let mut unknown = Vec::new();
    let mut spares = Vec::new();
    for (connection, of) in verdict.connections.iter().enumerate() {
        if of.thresholds.is_none() {
            continue;
        }
        let (Some(level), Some(threshold)) = (levels.levels.get(&of.net), thresholds.get(&of.load))
        else {
            unknown.push(connection);
            continue;
        };
        let mut side = |up: bool, level: f64, threshold: f64| {
            spares.push(Spare {
                connection,
                up,
                volts: if up {
                    level - threshold
                } else {
                    threshold - level
                },
                level,
                threshold,
            });
        };
        side(false, level.down, threshold.low);
        side(true, level.up, threshold.high);
        // One that lies further out than was looked leaves less than that: what is short is, and else nothing is known.
        let sides = [false, true].map(|up| threshold.spare(*level, up));
        if sides
            .iter()
            .any(|spare| matches!(spare, ThresholdSpare::LessThan(volts) if 0.0 <= *volts))
        {
            unknown.push(connection);
        }
    }
    spares.sort_by(|left, right| {
        left.volts
            .total_cmp(&right.volts)
            .then(left.connection.cmp(&right.connection))
    });
    Standing {
        levels,
        thresholds,
        spares,
        unknown,
    }
}
