//! Levels of every net: each circuit alone, then every unit where it stands, until the levels stand still.
//!
//! A scene reaches one gate deep. What feeds it from further away stands at the worst level solved for that net in the
//! round before (the highest down level, the lowest up level), not at a nominal one; rounds go on until no level moves.

use crate::judge::{Context, Level, Levels, MemberResult, judge, judge_in};
use crate::plan::{FanOut, MemberIndex, NetIndex, Plan, driver_of};
use crate::rows::WeakRows;
use crate::surroundings::{Surroundings, signature};
use crate::work::{Budget, MOST_EVALUATED};
use design::model::{CircuitId, Design, JigDriver, NetKind};
use std::collections::BTreeMap;

/// Rounds of the levels: chosen; restoring gates stand still after two or three.
const ROUNDS: usize = 8;
/// Levels that move less than this stand still, V.
const STILL_VOLTS: f64 = 2e-3;

/// Levels of a circuit judged alone: by output signal.
pub type CircuitLevels = BTreeMap<CircuitId, BTreeMap<usize, Level>>;

/// Every circuit alone.
#[derive(Debug, Clone)]
pub struct Alone {
    /// Worst levels of every output.
    pub levels: CircuitLevels,
    /// Rows that give the weakest levels.
    pub weak: WeakRows,
    /// The last round's results, in the order of [`Design::circuits`].
    pub results: Vec<MemberResult>,
    /// The levels stood still.
    pub settled: bool,
}

/// Judges every circuit alone: driven and loaded as its jig says, or by copies of itself.
#[must_use]
pub fn alone(design: &Design, context: &Context) -> Alone {
    alone_within(design, &mut Budget::new(MOST_EVALUATED), context)
}

/// The same within a budget that is shared with what comes after.
pub(crate) fn alone_within(design: &Design, budget: &mut Budget, context: &Context) -> Alone {
    let circuits: Vec<CircuitId> = (0..design.circuits.len()).map(CircuitId).collect();
    alone_of(design, &circuits, budget, context)
}

/// The same of some circuits; the others are left as if the budget had not reached them.
pub(crate) fn alone_of(
    design: &Design,
    circuits: &[CircuitId],
    budget: &mut Budget,
    context: &Context,
) -> Alone {
    let plans: Vec<Plan> = (0..design.circuits.len())
        .map(|circuit| Plan::alone(design, CircuitId(circuit), FanOut::AsJig))
        .collect();
    let mut alone = Alone {
        levels: first_guess(design),
        weak: WeakRows::new(),
        results: Vec::new(),
        settled: false,
    };
    for _ in 0..ROUNDS {
        let (levels, weak) = (&alone.levels, &alone.weak);
        let wanted: Vec<&Plan> = circuits.iter().map(|circuit| &plans[circuit.0]).collect();
        let solved = budget.over(&wanted, |plan| {
            let result = judge(plan, 0, &boundary_levels(plan, levels), weak, context);
            let evaluated = result.evaluated;
            (result, evaluated)
        });
        let all_reached = solved.iter().all(Option::is_some);
        let mut judged: Vec<Option<MemberResult>> = vec![None; plans.len()];
        for (circuit, result) in circuits.iter().zip(solved) {
            judged[circuit.0] = result;
        }
        let mut before = std::mem::take(&mut alone.results).into_iter();
        let judged: Vec<MemberResult> = judged
            .into_iter()
            .zip(&plans)
            .map(|(result, plan)| {
                let before = before.next();
                let kept = result.or(before);
                kept.unwrap_or_else(|| MemberResult::beyond_check(plan, 0))
            })
            .collect();
        let mut moved: f64 = 0.0;
        for (index, result) in judged.iter().enumerate() {
            let id = CircuitId(index);
            for (signal, level) in output_levels(&plans[index], 0, result) {
                let known = alone.levels.entry(id).or_default().insert(signal, level);
                moved = moved.max(known.map_or(f64::INFINITY, |known| change(known, level)));
            }
            alone.weak.insert(id, weak_rows(&plans[index], result));
        }
        alone.results = judged;
        alone.settled = all_reached && moved < STILL_VOLTS;
        if alone.settled || !all_reached {
            break;
        }
    }
    alone
}

/// The most that either of two levels moved, V.
pub(crate) fn change(left: Level, right: Level) -> f64 {
    (left.down - right.down)
        .abs()
        .max((left.up - right.up).abs())
}

/// Before anything is solved: down at ground, up at the highest rail of the circuit.
fn first_guess(design: &Design) -> CircuitLevels {
    let guess = |circuit: &design::model::Circuit| {
        let rails = circuit.nodes.iter().filter_map(|node| match node.kind {
            design::model::NodeKind::Rail(rail) => Some(design.rails[rail.0].volts),
            _ => None,
        });
        let level = Level {
            down: 0.0,
            up: rails.fold(0.0, f64::max),
        };
        (circuit.interface.inputs..circuit.interface.signals.len())
            .map(|signal| (signal, level))
            .collect()
    };
    design
        .circuits
        .iter()
        .enumerate()
        .map(|(index, circuit)| (CircuitId(index), guess(circuit)))
        .collect()
}

/// Levels of the nets of a plan that nothing in it drives: those of what would drive them.
#[must_use]
pub fn boundary_levels(plan: &Plan, known: &CircuitLevels) -> Levels {
    let mut levels = Levels::new();
    for net in 0..plan.nets.len() {
        if plan.is_supply(net) {
            continue;
        }
        let driver = plan.drivers[net]
            .first()
            .map(|&(member, signal)| (plan.members[member].circuit, signal));
        let level = match (driver, plan.loads[net].first()) {
            (Some((circuit, signal)), _) => known
                .get(&circuit)
                .and_then(|levels| levels.get(&signal))
                .copied(),
            (None, Some(&(member, signal))) => {
                input_level(plan.design, plan.members[member].circuit, signal, known)
            }
            (None, None) => None,
        };
        levels.insert(net, level.unwrap_or_else(|| rails_level(plan.design)));
    }
    levels
}

/// The level that an input of a circuit meets when the circuit is judged alone.
fn input_level(
    design: &Design,
    circuit: CircuitId,
    input: usize,
    known: &CircuitLevels,
) -> Option<Level> {
    match driver_of(design, circuit, input)? {
        JigDriver::Circuit(driver) => known.get(&driver)?.values().next().copied(),
        JigDriver::Switch { down, up, .. } => Some(Level {
            down: net_volts(design, down.0),
            up: net_volts(design, up.0),
        }),
    }
}

fn net_volts(design: &Design, net: usize) -> f64 {
    match design.nets[net].kind {
        NetKind::Rail(rail) => design.rails[rail.0].volts,
        _ => 0.0,
    }
}

/// Where nothing is known to drive a net: ground, and the highest rail.
fn rails_level(design: &Design) -> Level {
    Level {
        down: 0.0,
        up: design
            .rails
            .iter()
            .map(|rail| rail.volts)
            .fold(0.0, f64::max),
    }
}

/// The worst level of each output of a member over its settled rows.
#[must_use]
pub fn output_levels(
    plan: &Plan,
    member: MemberIndex,
    result: &MemberResult,
) -> Vec<(usize, Level)> {
    let circuit = plan.circuit(member);
    let inputs = circuit.interface.inputs;
    (inputs..circuit.interface.signals.len())
        .filter_map(|signal| {
            let volts_when = |wanted: bool| {
                result
                    .rows
                    .iter()
                    .filter(move |row| {
                        row.counts() && row.row.outputs[signal - inputs] == Some(wanted)
                    })
                    .map(move |row| row.volts[signal])
            };
            let down = volts_when(false).reduce(f64::max)?;
            let up = volts_when(true).reduce(f64::min)?;
            Some((signal, Level { down, up }))
        })
        .collect()
}

/// Input rows by the value of the first output, weakest first: highest down level, lowest up level.
fn weak_rows(plan: &Plan, result: &MemberResult) -> [Vec<Vec<bool>>; 2] {
    let inputs = plan.circuit(0).interface.inputs;
    [false, true].map(|wanted| {
        let mut rows: Vec<(f64, &Vec<bool>)> = result
            .rows
            .iter()
            .filter(|row| row.counts() && row.row.outputs.first() == Some(&Some(wanted)))
            .map(|row| {
                (
                    if wanted {
                        row.volts[inputs]
                    } else {
                        -row.volts[inputs]
                    },
                    &row.row.inputs,
                )
            })
            .collect();
        rows.sort_by(|left, right| left.0.total_cmp(&right.0).then_with(|| left.1.cmp(right.1)));
        let mut unique: Vec<Vec<bool>> = Vec::new();
        for (_, row) in rows {
            if !unique.contains(row) {
                unique.push(row.clone());
            }
        }
        unique
    })
}

/// Every unit where it stands.
#[derive(Debug, Clone)]
pub struct InPlace {
    /// Worst levels of every driven net.
    pub levels: Levels,
    /// Results in the order of [`Plan::members`].
    pub results: Vec<MemberResult>,
    /// The levels stood still.
    pub settled: bool,
    /// Scenes solved, after equal ones were solved once.
    pub scenes: usize,
}

/// Judges every member of the machine's plan. A member that the budget does not reach keeps its result of the round
/// before; the levels then do not stand still.
#[must_use]
pub fn in_place(plan: &Plan, alone: &Alone, budget: &mut Budget, context: &Context) -> InPlace {
    let mut levels = boundary_levels(plan, &alone.levels);
    let mut place = InPlace {
        levels: Levels::new(),
        results: Vec::new(),
        settled: false,
        scenes: 0,
    };
    let arounds = Surroundings::of_each(plan);
    for _ in 0..ROUNDS {
        let classes = classes(plan, &arounds, &levels);
        let judged = budget.over(&classes, |class| {
            let around = class[0].around.clone();
            let result = judge_in(plan, around, None, &levels, &alone.weak, context);
            let evaluated = result.evaluated;
            (result, evaluated)
        });
        place.scenes = judged.iter().flatten().count();
        let all_reached = place.scenes == classes.len();
        let before = std::mem::take(&mut place.results);
        let mut results: Vec<Option<MemberResult>> = before.into_iter().map(Some).collect();
        results.resize(plan.members.len(), None);
        for (class, result) in classes.iter().zip(&judged) {
            for placed in class {
                let member = placed.around.subject;
                let kept = &mut results[member];
                match result {
                    Some(result) => *kept = Some(translated(plan, result, &class[0], placed)),
                    None => {
                        kept.get_or_insert_with(|| MemberResult::beyond_check(plan, member));
                    }
                }
            }
        }
        place.results = results
            .into_iter()
            .map(|result| result.expect("every member is in a class"))
            .collect();
        let mut moved: f64 = 0.0;
        for (member, result) in place.results.iter().enumerate() {
            for (signal, level) in output_levels(plan, member, result) {
                let known = levels.insert(plan.members[member].nets[signal], level);
                moved = moved.max(known.map_or(f64::INFINITY, |known| change(known, level)));
            }
        }
        place.settled = all_reached && moved < STILL_VOLTS;
        if place.settled || !all_reached {
            break;
        }
    }
    place.levels = levels;
    place
}

/// A member with its surroundings and the nets of its scene in order of first mention.
pub(crate) struct Placed {
    pub(crate) around: Surroundings,
    nets: Vec<NetIndex>,
}

/// Members whose scenes are alike in structure and in every level that feeds them: solved once. `arounds` are those of
/// every member.
pub(crate) fn classes(plan: &Plan, arounds: &[Surroundings], levels: &Levels) -> Vec<Vec<Placed>> {
    let mut classes: BTreeMap<Vec<u64>, Vec<Placed>> = BTreeMap::new();
    for around in arounds {
        let around = around.clone().gathered(plan, &[levels]);
        let (signature, nets) = signature(plan, &around, &[levels]);
        let placed = Placed { around, nets };
        classes.entry(signature).or_default().push(placed);
    }
    let mut classes: Vec<Vec<Placed>> = classes.into_values().collect();
    classes.sort_by_key(|class| class[0].around.subject);
    classes
}

/// For each member the first of those whose scenes are alike.
#[must_use]
pub fn alike(plan: &Plan, levels: &Levels) -> Vec<MemberIndex> {
    let mut alike = vec![0; plan.members.len()];
    for class in classes(plan, &Surroundings::of_each(plan), levels) {
        for placed in &class {
            alike[placed.around.subject] = class[0].around.subject;
        }
    }
    alike
}

/// The result of a class's first member with another member's nets in it.
fn translated(plan: &Plan, result: &MemberResult, from: &Placed, to: &Placed) -> MemberResult {
    if from.around.subject == to.around.subject {
        return result.clone();
    }
    let pairs = from.nets.iter().copied().zip(to.nets.iter().copied());
    let map: BTreeMap<NetIndex, NetIndex> = pairs.collect();
    let net = |net: &NetIndex| map.get(net).copied().unwrap_or(*net);
    let mut result = result.clone();
    let old_name = plan.members[result.around.subject].name.clone();
    result.around = to.around.clone();
    for row in &mut result.rows {
        row.row.values = row
            .row
            .values
            .iter()
            .map(|(key, value)| (net(key), *value))
            .collect();
        row.nets = row
            .nets
            .iter()
            .map(|(key, volts)| (net(key), *volts))
            .collect();
        row.rail_amps = row
            .rail_amps
            .iter()
            .map(|(key, amps)| (net(key), *amps))
            .collect();
    }
    let new_name = &plan.members[to.around.subject].name;
    for name in &mut result.floating {
        *name = name.replacen(&old_name, new_name, 1);
    }
    result
}
