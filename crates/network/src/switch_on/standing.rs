//! Where everything stands while some rails are missing, with the tubes warm or still cold.

use super::heated::{TubeSet, Tubes};
use crate::equations::Network;
use crate::judge::{Context, Level, Levels, PartReading, fed_volts, rail_amps, read_parts};
use crate::levels::{Placed, change, classes};
use crate::plan::{MemberIndex, NetIndex, Plan};
use crate::scene::{Scene, build};
use crate::solve::{OperatingPoint, Solver};
use crate::stability::{Stability, poles_work, stability};
use crate::surroundings::Surroundings;
use crate::wiring::GROUND;
use crate::work::Budget;
use design::model::RailId;
use std::collections::BTreeMap;

/// Rounds of the volts between units: chosen; most machines stand still after four or five.
const ROUNDS: usize = 16;
/// Volts that move less than this stand still, V: chosen. Where diodes of two cold plates share a current the bounds creep
/// together by less for many rounds, and no rating turns on it.
const STILL_VOLTS: f64 = 0.2;

/// Which rails are missing, and whether any tube is warm yet.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Conditions {
    /// In order of the design; each stands at 0 V.
    pub missing: Vec<RailId>,
    /// All tubes are cold; else those are whose heaters need a missing rail.
    pub cold: bool,
}

impl Conditions {
    /// Volts of a rail: at the top of its tolerance, or 0 where it is missing.
    fn rail_volts(&self, plan: &Plan, rail: RailId) -> f64 {
        if self.missing.contains(&rail) {
            return 0.0;
        }
        let rail = &plan.design.rails[rail.0];
        rail.volts * (1.0 + rail.tolerance)
    }

    fn supply_volts(&self, plan: &Plan, net: NetIndex) -> f64 {
        plan.supply_volts_with(net, |rail| self.rail_volts(plan, rail))
    }
}

/// One member with everything that feeds its group low, or high.
#[derive(Debug, Clone)]
pub(super) struct Posture {
    /// Volts of the nodes of its circuit.
    pub volts: Vec<f64>,
    /// Readings of its parts.
    pub parts: Vec<PartReading>,
    /// What it draws from each rail, A, by net.
    pub rail_amps: BTreeMap<NetIndex, f64>,
}

/// Every member under the same conditions.
#[derive(Debug, Clone)]
pub(super) struct Standing {
    /// For each member which of `solved` it is like; `None` for what is left out.
    like: Vec<Option<usize>>,
    /// The postures of each class of members; none where nothing came to rest.
    solved: Vec<Vec<Posture>>,
    /// The volts stood still, and every member came to rest.
    pub known: bool,
    /// Tubes that carry nothing.
    pub cold: TubeSet,
    /// What these are of all.
    pub tubes: Tubes,
}

impl Standing {
    /// The postures of a member; none where it is left out or did not come to rest.
    pub(super) fn of(&self, member: MemberIndex) -> &[Posture] {
        match self.like.get(member) {
            Some(Some(class)) => &self.solved[*class],
            _ => &[],
        }
    }
}

/// Goes round until no volts move: what feeds a group from further away stands at the lowest or highest volts that its net
/// had in the round before, beginning at `start`. `arounds` are the surroundings of every member of a plan in which those tubes
/// are cold that are so under these conditions; members that are not `usable` are left out.
pub(super) fn stand(
    plan: &Plan,
    arounds: &[Surroundings],
    conditions: &Conditions,
    usable: &[bool],
    start: &Levels,
    budget: &mut Budget,
    context: &Context,
) -> Standing {
    let mut levels = start.clone();
    let mut standing = Standing {
        like: Vec::new(),
        solved: Vec::new(),
        known: false,
        cold: plan.cold.clone(),
        tubes: if conditions.cold {
            Tubes::Cold
        } else if plan.cold.is_empty() {
            Tubes::Warm
        } else {
            Tubes::PartlyCold
        },
    };
    for _ in 0..ROUNDS {
        let classes: Vec<Vec<Placed>> = classes(plan, arounds, &levels)
            .into_iter()
            .filter(|class| usable[class[0].around.subject])
            .collect();
        let solved = budget.over(&classes, |class| {
            postures(plan, &class[0].around, conditions, &levels, context)
        });
        let all_reached = solved.iter().all(Option::is_some);
        standing.like = vec![None; plan.members.len()];
        for (index, class) in classes.iter().enumerate() {
            for placed in class {
                let member = placed.around.subject;
                standing.like[member] = Some(index).filter(|_| usable[member]);
            }
        }
        standing.solved = solved.into_iter().map(Option::unwrap_or_default).collect();
        let moved = spread(plan, &standing, &mut levels);
        let all_rest = standing.solved.iter().all(|postures| !postures.is_empty());
        standing.known = all_reached && all_rest && moved < STILL_VOLTS;
        if moved < STILL_VOLTS || !all_reached {
            break;
        }
    }
    standing
}

/// Puts every driven net at the lowest and highest volts found; returns how far any moved.
fn spread(plan: &Plan, standing: &Standing, levels: &mut Levels) -> f64 {
    let mut moved: f64 = 0.0;
    for member in 0..plan.members.len() {
        let postures = standing.of(member);
        let inputs = plan.circuit(member).interface.inputs;
        for (signal, &net) in plan.members[member].nets.iter().enumerate().skip(inputs) {
            if plan.is_supply(net) || postures.is_empty() {
                continue;
            }
            let volts = postures.iter().map(|posture| posture.volts[signal]);
            let (down, up) = volts
                .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), volts| {
                    (low.min(volts), high.max(volts))
                });
            let level = Level {
                down: rounded(down),
                up: rounded(up),
            };
            let known = levels.insert(net, level);
            moved = moved.max(known.map_or(f64::INFINITY, |known| change(known, level)));
        }
    }
    moved
}

/// To a millivolt, so that units which differ by less are solved once.
fn rounded(volts: f64) -> f64 {
    1e-3 * (1e3 * volts).round()
}

/// A member with its drivers and loads, fed low and fed high; in a loop of warm tubes each from both sides of its outputs.
/// Returns the elements evaluated as well.
fn postures(
    plan: &Plan,
    around: &Surroundings,
    conditions: &Conditions,
    levels: &Levels,
    context: &Context,
) -> (Vec<Posture>, u64) {
    let mut scene = build(plan, &around.copies(), &[], &context.assumptions);
    scene.set_rails(plan, |rail| conditions.rail_volts(plan, rail));
    let leak = context.assumptions.leak_siemens;
    let Ok(mut network) = Network::new(scene.wiring.clone(), leak) else {
        return (Vec::new(), 0);
    };
    let mut solver = Solver::new(&network);
    let warm = |&member: &MemberIndex| {
        let mut tubes = 0..plan.circuit(member).tubes().count();
        tubes.any(|tube| !plan.cold.contains(&(member, tube)))
    };
    let looped = around.looped && around.members().iter().any(warm);
    let mut pushed = looped
        .then(|| Pushed::new(plan, &scene, around.subject, context))
        .flatten();
    let (mut found, mut evaluations, mut poles) = (Vec::new(), 0, 0);
    for fed_up in [false, true] {
        let fed = |network: &mut Network| feed(network, plan, &scene, conditions, levels, fed_up);
        fed(&mut network);
        let starts = match &mut pushed {
            Some(pushed) => pushed.starts(levels, fed, context),
            None => vec![None],
        };
        for start in starts {
            let point = solver.operating_point(&network, start.as_deref(), None, &context.settings);
            evaluations += point.work.evaluations;
            if !point.outcome.settled() {
                continue;
            }
            if looped {
                poles += poles_work(network.size());
                let stays = stability(&network, &mut solver, &point);
                if matches!(stays, Stability::Unstable(_)) {
                    continue;
                }
            }
            found.extend(posture(plan, around.subject, &network, &scene, &point));
        }
    }
    evaluations += pushed.map_or(0, |pushed| pushed.evaluations);
    let evaluated = (scene.wiring.elements.len() * evaluations) as u64;
    (found, evaluated + poles)
}

fn posture(
    plan: &Plan,
    subject: MemberIndex,
    network: &Network,
    scene: &Scene,
    point: &OperatingPoint,
) -> Option<Posture> {
    let member = scene.member(subject)?;
    Some(Posture {
        volts: member.nodes.iter().map(|&node| point.volts[node]).collect(),
        parts: read_parts(plan, subject, network, point, member),
        rail_amps: rail_amps(network, scene, member, point),
    })
}

/// Puts every feed at the low or the high of its net; a switch at the rail that it then leads to.
fn feed(
    network: &mut Network,
    plan: &Plan,
    scene: &Scene,
    conditions: &Conditions,
    levels: &Levels,
    up: bool,
) {
    for (net, feed) in &scene.feeds {
        let supply = |net| conditions.supply_volts(plan, net);
        network.set_tie(feed.tie, fed_volts(plan, *net, feed, up, levels, supply));
    }
}

/// The scene with the subject's outputs held: what a loop is started from, once on each side, so that it comes to rest in
/// each of its states and not between them.
struct Pushed {
    network: Network,
    solver: Solver,
    ties: Vec<(NetIndex, usize)>,
    evaluations: usize,
}

impl Pushed {
    fn new(plan: &Plan, scene: &Scene, subject: MemberIndex, context: &Context) -> Option<Self> {
        let mut wiring = scene.wiring.clone();
        let inputs = plan.circuit(subject).interface.inputs;
        let outputs = plan.members[subject].nets.iter().skip(inputs);
        let mut ties = Vec::new();
        for net in outputs {
            let node = scene.nets.get(net).copied().unwrap_or(GROUND);
            let free = node != GROUND && !scene.feeds.contains_key(net) && !plan.is_supply(*net);
            if free && ties.iter().all(|(held, _)| held != net) {
                ties.push((*net, wiring.hold("held", node, 0.0)));
            }
        }
        let network = Network::new(wiring, context.assumptions.leak_siemens).ok()?;
        Some(Self {
            solver: Solver::new(&network),
            network,
            ties,
            evaluations: 0,
        })
    }

    /// Volts to start from, outputs low and outputs high.
    fn starts(
        &mut self,
        levels: &Levels,
        fed: impl Fn(&mut Network),
        context: &Context,
    ) -> Vec<Option<Vec<f64>>> {
        fed(&mut self.network);
        let start = |up: bool| {
            for (net, tie) in &self.ties {
                let level = levels.get(net);
                let volts = level.map_or(0.0, |level| if up { level.up } else { level.down });
                self.network.set_tie(*tie, volts);
            }
            let settings = &context.settings;
            let point = self
                .solver
                .operating_point(&self.network, None, None, settings);
            self.evaluations += point.work.evaluations;
            Some(point.volts)
        };
        [false, true].map(start).into()
    }
}
