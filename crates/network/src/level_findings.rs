//! Findings on levels: tubes that are not cut off, levels beyond a threshold, loads that pull a level down.

use crate::cause::Raw;
use crate::connections::Connection;
use crate::finding::{Amount, Finding, opening};
use crate::judge::{Context, MemberResult, PartReading, judge_in, output_tube};
use crate::levels::output_levels;
use crate::plan::{MemberIndex, NetIndex, Plan};
use crate::preferred::neighbours;
use crate::surroundings::LOADS_TOGETHER;
use crate::transfer::tube_amps_with_inputs_at;
use crate::verdict::Verdict;
use design::model::{Circuit, NodeKind, PartKind};
use devices::types::Law;
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};
use text::quantity::{Unit, counted, show, show_code};

/// A tube that should be off and is not.
struct StillOn {
    member: MemberIndex,
    part: usize,
    reading: PartReading,
    needed_grid_volts: Option<f64>,
    allowed_amps: f64,
    /// It conducts even with the inputs at ground.
    own_divider: bool,
    /// A driver of another kind that is to blame: the circuit is cut off when gates of its own kind drive it.
    blame: Option<MemberIndex>,
}

/// What the findings on levels are made from, worked out once for members and nets that are alike.
struct Search<'a> {
    verdict: &'a Verdict<'a>,
    context: &'a Context,
    /// The driver that brings the highest down level to each member.
    highest_driver: Vec<Option<MemberIndex>>,
    /// A tube of each member that should be off and is not.
    still_on: Vec<Option<StillOn>>,
    /// Bias resistors that would do, by the first of the members that are alike.
    bias: BTreeMap<MemberIndex, Option<(usize, f64)>>,
    /// Why an up level is too low, by net and threshold.
    low: BTreeMap<(NetIndex, u64), Low>,
}

/// Why an up level is too low.
#[derive(Debug, Clone, Copy)]
enum Low {
    /// This load is itself so loaded that it drags the level down.
    Dragged(MemberIndex),
    /// Unloaded it would reach these volts; the largest number of loads with which it would do.
    Overloaded(f64, Option<usize>),
    /// It does not do without loads either.
    Weak,
}

/// Findings on every connection.
#[must_use]
pub(crate) fn findings(verdict: &Verdict, context: &Context) -> Vec<Raw> {
    let highest_driver = highest_drivers(verdict);
    let still_on = all_still_on(verdict, &highest_driver, context);
    let mut search = Search {
        verdict,
        context,
        highest_driver,
        still_on,
        bias: BTreeMap::new(),
        low: BTreeMap::new(),
    };
    let mut raw: Vec<Raw> = Vec::new();
    for member in 0..verdict.plan.members.len() {
        if search.still_on[member]
            .as_ref()
            .is_some_and(|on| on.blame.is_none())
        {
            raw.push(search.not_cut_off(member));
        }
    }
    for connection in &verdict.connections {
        raw.extend(search.connection_findings(connection));
    }
    raw.extend(unrestored(verdict));
    raw
}

/// A tube that never carries more is not switched at all, and has nothing to be cut off from, A.
const LEAST_CONDUCTING_AMPS: f64 = 1e-6;

/// A tube that carries too much in a row in which it should be off.
struct Residual {
    part: usize,
    reading: PartReading,
    allowed_amps: f64,
}

/// Whether a gate's output tube carries more than the residual share when it should be off, in its worst row.
fn residual(circuit: &Circuit, result: &MemberResult, share: f64) -> Option<Residual> {
    let inputs = circuit.interface.inputs;
    (inputs..circuit.interface.signals.len()).find_map(|signal| {
        let part = output_tube(circuit, signal)?;
        let rows_when = |up: bool| {
            result
                .rows
                .iter()
                .filter(move |row| row.counts() && row.row.outputs[signal - inputs] == Some(up))
        };
        let conducting = rows_when(false)
            .map(|row| row.parts[part].amps)
            .fold(0.0, f64::max);
        let worst = rows_when(true)
            .max_by(|left, right| left.parts[part].amps.total_cmp(&right.parts[part].amps))?;
        let (reading, allowed_amps) = (worst.parts[part], share * conducting);
        (LEAST_CONDUCTING_AMPS < conducting && allowed_amps < reading.amps).then_some(Residual {
            part,
            reading,
            allowed_amps,
        })
    })
}

/// The worst residual current of every member where it stands, with what it would be with ground at its inputs.
fn all_still_on(
    verdict: &Verdict,
    highest_driver: &[Option<MemberIndex>],
    context: &Context,
) -> Vec<Option<StillOn>> {
    let plan = &verdict.plan;
    let share = verdict.limits.residual_share;
    let residuals: Vec<Option<Residual>> = (0..plan.members.len())
        .map(|member| residual(plan.circuit(member), verdict.result(member), share))
        .collect();
    // Ground at the inputs: solved once for members that are alike.
    let mut examples: BTreeMap<MemberIndex, (MemberIndex, usize)> = BTreeMap::new();
    for (member, residual) in residuals.iter().enumerate() {
        if let Some(residual) = residual {
            let example = (member, residual.part);
            examples.entry(verdict.alike[member]).or_insert(example);
        }
    }
    let levels = &verdict.place.levels;
    let at_ground: BTreeMap<MemberIndex, Option<f64>> = examples
        .into_par_iter()
        .map(|(first, tube)| {
            let amps = tube_amps_with_inputs_at(plan, tube, 0.0, None, levels, context);
            (first, amps)
        })
        .collect();
    let fine_alone: Vec<bool> = plan
        .design
        .circuits
        .iter()
        .zip(&verdict.alone.results)
        .map(|(circuit, result)| residual(circuit, result, share).is_none())
        .collect();
    let members = residuals.into_iter().enumerate();
    members
        .map(|(member, residual)| {
            let residual = residual?;
            let circuit = plan.members[member].circuit;
            let amps = at_ground.get(&verdict.alike[member]).copied().flatten();
            let own_divider = amps.is_none_or(|amps| residual.allowed_amps < amps);
            let other_kind =
                |driver: &MemberIndex| plan.members[*driver].circuit != circuit && !own_divider;
            Some(StillOn {
                member,
                needed_grid_volts: needed_grid_volts(plan.circuit(member), &residual),
                part: residual.part,
                reading: residual.reading,
                allowed_amps: residual.allowed_amps,
                own_divider,
                blame: highest_driver[member]
                    .filter(other_kind)
                    .filter(|_| fine_alone[circuit.0]),
            })
        })
        .collect()
}

/// Grid volts that leave what is allowed, by the tube's law.
fn needed_grid_volts(circuit: &Circuit, residual: &Residual) -> Option<f64> {
    let PartKind::Tube(tube) = &circuit.parts[residual.part].kind else {
        return None;
    };
    match tube.device.law {
        Some(Law::Triode(law)) => {
            law.cut_off(residual.reading.volts.max(1.0), residual.allowed_amps)
        }
        _ => None,
    }
}

/// The driver that brings the highest down level to each member.
fn highest_drivers(verdict: &Verdict) -> Vec<Option<MemberIndex>> {
    let mut highest: Vec<Option<&Connection>> = vec![None; verdict.plan.members.len()];
    for connection in &verdict.connections {
        let known = &mut highest[connection.load.0];
        if known.is_none_or(|known| known.level.down <= connection.level.down) {
            *known = Some(connection);
        }
    }
    highest
        .into_iter()
        .map(|connection| connection?.driver.map(|driver| driver.0))
        .collect()
}

/// `maker`: the driver whose down level is to blame, where ground at the inputs would cut the tube off; then whatever
/// feeds that driver may be the cause.
fn not_cut_off(
    verdict: &Verdict,
    on: &StillOn,
    maker: Option<MemberIndex>,
    bias: Option<(usize, f64)>,
) -> Raw {
    let plan = &verdict.plan;
    let circuit = plan.circuit(on.member);
    let name = &plan.members[on.member].name;
    let mark = &circuit.parts[on.part].mark;
    let amps = show(on.reading.amps, Unit::Ampere, 3);
    let grid = show(on.reading.grid_volts, Unit::Volt, 3);
    let cause = match maker {
        Some(driver) => format!(
            "{} comes down to {}, which leaves the grid of {name}.{mark} at {grid}: it still carries {amps}. The down level is too high for the bias divider.",
            opening(&plan.members[driver].name),
            show(input_down_volts(verdict, on.member), Unit::Volt, 3)
        ),
        None => format!(
            "With its inputs down the grid of {name}.{mark} stands at {grid} and it still carries {amps}; even inputs at ground would not cut it off. The bias divider does not take the grid down far enough."
        ),
    };
    let mut finding = Finding::fault(
        "not-cut-off",
        circuit.parts[on.part].span,
        name.clone(),
        cause,
    );
    let left = show(on.allowed_amps, Unit::Ampere, 3);
    finding = match on.needed_grid_volts {
        Some(needed) => finding.numbers(
            Amount::new(
                format!("grid of {name}.{mark} with its inputs down"),
                on.reading.grid_volts,
                Unit::Volt,
            ),
            Amount::new(
                format!("grid that leaves {left} of plate current"),
                needed,
                Unit::Volt,
            ),
        ),
        None => finding.numbers(
            Amount::new(
                format!("plate current of {name}.{mark} with its inputs down"),
                on.reading.amps,
                Unit::Ampere,
            ),
            Amount::new("residual current allowed", on.allowed_amps, Unit::Ampere),
        ),
    };
    if let Some((part, ohms)) = bias {
        finding = finding.attempt(format!(
            "{} at {} cuts it off; check the gate again with it.",
            circuit.parts[part].mark,
            show_code(ohms)
        ));
    }
    finding = finding.attempt("A more negative rail, a larger resistor between the inputs and the grid, or a larger plate resistor in the gate before it.");
    Raw {
        finding,
        members: vec![maker.unwrap_or(on.member)],
        into: Some(on.member),
        rank: 1,
    }
}

/// The resistor from the grid to a negative rail at the largest smaller E24 value that cuts the tube off.
fn smaller_bias_resistor(
    verdict: &Verdict,
    on: &StillOn,
    context: &Context,
) -> Option<(usize, f64)> {
    let design = verdict.plan.design;
    let id = verdict.plan.members[on.member].circuit;
    let circuit = &design.circuits[id.0];
    let PartKind::Tube(tube) = &circuit.parts[on.part].kind else {
        return None;
    };
    let grid = tube.grid?;
    let negative = |node: usize| matches!(circuit.nodes[node].kind, NodeKind::Rail(rail) if design.rails[rail.0].volts < 0.0);
    let (part, ohms) =
        circuit
            .parts
            .iter()
            .enumerate()
            .find_map(|(index, part)| match part.kind {
                PartKind::Resistor { ohms, ends, .. }
                    if ends.contains(&grid) && ends.iter().any(|&end| negative(end)) =>
                {
                    Some((index, ohms))
                }
                _ => None,
            })?;
    neighbours(ohms, false, TRIED_VALUES)
        .into_iter()
        .find_map(|smaller| {
            let amps = tube_amps_with_inputs_at(
                &verdict.plan,
                (on.member, on.part),
                input_down_volts(verdict, on.member),
                Some((part, smaller)),
                &verdict.place.levels,
                context,
            )?;
            (amps <= on.allowed_amps).then_some((part, smaller))
        })
}

/// E24 values tried before giving up: most of a decade.
const TRIED_VALUES: usize = 20;

/// Highest down level among a member's inputs.
fn input_down_volts(verdict: &Verdict, member: MemberIndex) -> f64 {
    let inputs = verdict.plan.circuit(member).interface.inputs;
    let nets = &verdict.plan.members[member].nets[..inputs];
    nets.iter()
        .filter_map(|net| verdict.place.levels.get(net))
        .map(|level| level.down)
        .fold(0.0, f64::max)
}

impl Search<'_> {
    fn not_cut_off(&mut self, member: MemberIndex) -> Raw {
        let (verdict, context) = (self.verdict, self.context);
        let on = self.still_on[member]
            .as_ref()
            .expect("asked only for members with a tube still on");
        let first = verdict.alike[member];
        let bias = self
            .bias
            .entry(first)
            .or_insert_with(|| smaller_bias_resistor(verdict, on, context));
        let maker = self.highest_driver[member].filter(|_| !on.own_divider);
        not_cut_off(verdict, on, maker, *bias)
    }

    fn connection_findings(&mut self, connection: &Connection) -> Vec<Raw> {
        let verdict = self.verdict;
        let (Some(thresholds), Some(spare_down), Some(spare_up)) = (
            connection.thresholds,
            connection.spare_down(),
            connection.spare_up(),
        ) else {
            return Vec::new();
        };
        let on = self.still_on[connection.load.0].as_ref();
        let driver = connection.driver.map(|driver| driver.0);
        let blamed = on.filter(|on| on.blame.is_some() && on.blame == driver);
        let said_already = on.is_some_and(|on| on.blame.is_none());
        let mut raw = Vec::new();
        if blamed.is_some() || (spare_down < 0.0 && !said_already) {
            raw.push(down_too_high(verdict, connection, thresholds.low, blamed));
        }
        if spare_up < 0.0 {
            let context = self.context;
            let key = (connection.net, thresholds.high.to_bits());
            let low = self
                .low
                .entry(key)
                .or_insert_with(|| why_low(verdict, connection, thresholds.high, context));
            raw.push(up_too_low(verdict, connection, thresholds.high, *low));
        }
        let swing = connection.level.up - connection.level.down;
        let spare = spare_down.min(spare_up);
        if raw.is_empty() && (0.0..verdict.limits.thin_below(connection.level)).contains(&spare) {
            let when_down = spare_down <= spare_up;
            raw.push(thin(verdict, connection, when_down, spare, swing));
        }
        raw
    }
}

fn driver_name(verdict: &Verdict, connection: &Connection) -> String {
    match connection.driver {
        Some((member, _)) => verdict.plan.members[member].name.clone(),
        None => format!("the switch of {}", verdict.plan.nets[connection.net].name),
    }
}

/// Where a level is made: the driver's circuit if there is one, else the load's.
fn driver_span(verdict: &Verdict, connection: &Connection) -> text::source::Span {
    let member = connection
        .driver
        .map_or(connection.load.0, |driver| driver.0);
    match verdict.plan.members[member].unit {
        Some(unit) => verdict.plan.design.units[unit.0].span,
        None => verdict.plan.circuit(member).span,
    }
}

fn level_raw(connection: &Connection, finding: Finding) -> Raw {
    let members = connection
        .driver
        .map(|driver| driver.0)
        .into_iter()
        .collect();
    let passed_on = connection
        .thresholds
        .is_some_and(|thresholds| thresholds.passed_on);
    Raw {
        finding,
        members,
        into: Some(connection.load.0),
        rank: if passed_on { 2 } else { 1 },
    }
}

fn load_name(verdict: &Verdict, connection: &Connection) -> String {
    let (member, signal) = connection.load;
    format!(
        "{}.{}",
        verdict.plan.members[member].name,
        verdict.plan.circuit(member).interface.signals[signal]
    )
}

fn down_too_high(
    verdict: &Verdict,
    connection: &Connection,
    low: f64,
    blamed: Option<&StillOn>,
) -> Raw {
    let (driver, load) = (
        driver_name(verdict, connection),
        load_name(verdict, connection),
    );
    let down = connection.level.down;
    let mut cause = format!(
        "{} comes down to {} only",
        opening(&driver),
        show(down, Unit::Volt, 3)
    );
    cause += &match blamed {
        Some(on) => {
            let mark = &verdict.plan.circuit(on.member).parts[on.part].mark;
            format!(
                ", which leaves {} in {}.{mark}, a tube that it should cut off.",
                show(on.reading.amps, Unit::Ampere, 3),
                verdict.plan.members[on.member].name
            )
        }
        None => format!(
            ", and {load} takes its input for down only below {}.",
            show(low, Unit::Volt, 3)
        ),
    };
    let finding = Finding::fault("down-level-too-high", driver_span(verdict, connection), driver.clone(), cause)
        .numbers(Amount::new(format!("{} when down", verdict.plan.nets[connection.net].name), down, Unit::Volt), Amount::new(format!("highest down level that {load} takes"), low, Unit::Volt))
        .attempt(format!("A larger plate resistor in {driver}, more drive to its grid, or a divider in the load that reaches further down."));
    level_raw(connection, finding)
}

/// What hangs on a connection's net: gates and resistors of the bench.
fn loads_on(plan: &Plan, net: NetIndex) -> usize {
    plan.loads[net].len() + plan.resistors.get(&net).map_or(0, Vec::len)
}

fn why_low(verdict: &Verdict, connection: &Connection, high: f64, context: &Context) -> Low {
    let bare = vec![connection.net];
    let unloaded = up_with(verdict, connection, 0, bare, context)
        .filter(|&volts| high <= volts && 0 < loads_on(&verdict.plan, connection.net));
    let Some(volts) = unloaded else {
        return Low::Weak;
    };
    match dragging_load(verdict, connection, high, context) {
        Some(load) => Low::Dragged(load),
        None => Low::Overloaded(volts, most_loads(verdict, connection, high, context)),
    }
}

fn up_too_low(verdict: &Verdict, connection: &Connection, high: f64, low: Low) -> Raw {
    let (driver, load) = (
        driver_name(verdict, connection),
        load_name(verdict, connection),
    );
    let up = connection.level.up;
    let net = &verdict.plan.nets[connection.net].name;
    let numbers = (
        Amount::new(format!("{net} when up"), up, Unit::Volt),
        Amount::new(
            format!("lowest up level that {load} takes"),
            high,
            Unit::Volt,
        ),
    );
    let span = driver_span(verdict, connection);
    let finding = match low {
        Low::Dragged(load) => return dragged(verdict, connection, load, numbers),
        Low::Overloaded(volts, most) => {
            let cause = format!(
                "{} reaches {} unloaded, but {} on it take it down to {}; {load} needs {}.",
                opening(&driver),
                show(volts, Unit::Volt, 3),
                counted(loads_on(&verdict.plan, connection.net), "load"),
                show(up, Unit::Volt, 3),
                show(high, Unit::Volt, 3)
            );
            let finding = Finding::fault("overloaded", span, driver, cause);
            match most {
                Some(most) => finding.attempt(format!(
                    "Drive at most {most} of these gates from it, the rest through a follower."
                )),
                None => finding.attempt("Take the load off, or drive it through a follower."),
            }
        }
        Low::Weak => {
            let cause = format!(
                "{} comes up to {} only; {load} takes its input for up only above {}.",
                opening(&driver),
                show(up, Unit::Volt, 3),
                show(high, Unit::Volt, 3)
            );
            Finding::fault("up-level-too-low", span, driver, cause)
                .attempt("A smaller plate resistor, a higher rail, or fewer followers in the way.")
        }
    };
    level_raw(connection, finding.numbers(numbers.0, numbers.1))
}

/// The load that is itself so loaded that it drags the level down: without what hangs on its outputs the level would do.
fn dragging_load(
    verdict: &Verdict,
    connection: &Connection,
    high: f64,
    context: &Context,
) -> Option<MemberIndex> {
    let plan = &verdict.plan;
    let loads = plan.loads[connection.net].iter().take(LOADS_TOGETHER);
    loads.map(|load| load.0).find(|&load| {
        let outputs = &plan.members[load].nets[plan.circuit(load).interface.inputs..];
        let loaded = outputs.iter().any(|net| plan.resistors.contains_key(net));
        let freed = || up_with(verdict, connection, usize::MAX, outputs.to_vec(), context);
        loaded && freed().is_some_and(|up| high <= up)
    })
}

fn dragged(
    verdict: &Verdict,
    connection: &Connection,
    load: MemberIndex,
    numbers: (Amount, Amount),
) -> Raw {
    let plan = &verdict.plan;
    let name = plan.members[load].name.clone();
    let span = plan.members[load]
        .unit
        .map_or(plan.circuit(load).span, |unit| {
            plan.design.units[unit.0].span
        });
    let cause = format!(
        "{} is loaded so heavily that it draws grid current and takes the net before it, {}, down with it.",
        opening(&name),
        plan.nets[connection.net].name
    );
    let finding = Finding::fault("overloaded", span, name.clone(), cause)
        .numbers(numbers.0, numbers.1)
        .attempt(format!(
            "Take the load off {name}, or give it a larger resistance."
        ));
    Raw {
        finding,
        members: vec![load],
        into: Some(connection.load.0),
        rank: 1,
    }
}

/// Lowest up level of the driver with only the first `loads` of its loads, and without the bench's resistors on the nets
/// `bare`.
fn up_with(
    verdict: &Verdict,
    connection: &Connection,
    loads: usize,
    bare: Vec<NetIndex>,
    context: &Context,
) -> Option<f64> {
    let (member, signal) = connection.driver?;
    let plan = &verdict.plan;
    let mut around = verdict.around(member);
    let dropped: BTreeSet<MemberIndex> = plan.loads[connection.net]
        .iter()
        .skip(loads)
        .map(|load| load.0)
        .collect();
    around.loads.retain(|load| !dropped.contains(&load.member));
    around.bare = bare;
    let levels = &verdict.place.levels;
    let result = judge_in(plan, around, None, levels, &verdict.alone.weak, context);
    output_levels(plan, member, &result)
        .into_iter()
        .find(|level| level.0 == signal)
        .map(|level| level.1.up)
}

/// The largest number of its loads with which the level would do; each load takes it down further.
fn most_loads(
    verdict: &Verdict,
    connection: &Connection,
    high: f64,
    context: &Context,
) -> Option<usize> {
    let (mut does, mut fails) = (0, verdict.plan.loads[connection.net].len());
    while does + 1 < fails {
        let loads = does.midpoint(fails);
        let up = up_with(verdict, connection, loads, Vec::new(), context);
        if up.is_some_and(|up| high <= up) {
            does = loads
        } else {
            fails = loads
        }
    }
    (0 < does).then_some(does)
}

fn thin(
    verdict: &Verdict,
    connection: &Connection,
    when_down: bool,
    spare: f64,
    swing: f64,
) -> Raw {
    let (driver, load) = (
        driver_name(verdict, connection),
        load_name(verdict, connection),
    );
    let word = if when_down { "down" } else { "up" };
    let cause = format!(
        "{} has {} to spare when {word} at {load}, of a swing of {}.",
        opening(&driver),
        show(spare, Unit::Volt, 3),
        show(swing, Unit::Volt, 3)
    );
    let finding = Finding::caution(
        "thin-margin",
        driver_span(verdict, connection),
        driver,
        cause,
    )
    .numbers(
        Amount::new("to spare", spare, Unit::Volt),
        Amount::new(
            "called thin below",
            verdict.limits.thin_share * swing,
            Unit::Volt,
        ),
    )
    .attempt("Drive fewer gates, or shift the divider so that both sides have the same to spare.");
    level_raw(connection, finding)
}

/// Members that pass levels along without any amplifying gate behind them to set a threshold.
fn unrestored(verdict: &Verdict) -> Vec<Raw> {
    let plan = &verdict.plan;
    let mut raw = Vec::new();
    for (member, inputs) in verdict.curves.iter().enumerate() {
        let circuit: &Circuit = plan.circuit(member);
        let outputs = &plan.members[member].nets[circuit.interface.inputs..];
        let passes = !plan.stores(member);
        let drives = outputs.iter().any(|&net| {
            plan.loads[net]
                .iter()
                .any(|load| !plan.circuit(load.0).says.is_empty())
        });
        let silent = inputs.iter().any(|(&input, curves)| {
            !curves.is_empty() && !verdict.thresholds.contains_key(&(member, input))
        });
        if passes && drives && silent {
            let name = plan.members[member].name.clone();
            let span = plan.members[member]
                .unit
                .map_or(circuit.span, |unit| plan.design.units[unit.0].span);
            let cause = format!(
                "{} passes its level along, and nothing that it drives amplifies: no threshold is defined.",
                opening(&name)
            );
            let finding = Finding::fault("no-restoring", span, name, cause)
                .attempt("Put an amplifying gate into the chain.");
            raw.push(Raw {
                finding,
                members: vec![member],
                into: None,
                rank: 1,
            });
        }
    }
    raw
}
