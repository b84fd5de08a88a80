//! Findings on levels: tubes that are not cut off, levels beyond a threshold, loads that pull a level down.

use crate::cause::Raw;
use crate::connections::Connection;
use crate::finding::{Amount, Finding};
use crate::judge::{Context, MemberResult, PartReading, judge_in, output_tube};
use crate::levels::output_levels;
use crate::plan::{MemberIndex, Plan};
use crate::preferred::neighbours;
use crate::transfer::tube_amps_with_inputs_at;
use crate::verdict::Verdict;
use design::model::{Circuit, NodeKind, PartKind};
use devices::types::Law;
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

/// Findings on every connection.
#[must_use]
pub(crate) fn findings(verdict: &Verdict, context: &Context) -> Vec<Raw> {
    let still_on: Vec<StillOn> = (0..verdict.plan.members.len())
        .filter_map(|member| still_on(verdict, member, context))
        .collect();
    let mut raw: Vec<Raw> = still_on
        .iter()
        .filter(|on| on.blame.is_none())
        .map(|on| not_cut_off(verdict, on, context))
        .collect();
    for connection in &verdict.connections {
        raw.extend(connection_findings(verdict, connection, &still_on, context));
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

/// The worst residual current of a member where it stands, with what it would be with ground at its inputs.
fn still_on(verdict: &Verdict, member: MemberIndex, context: &Context) -> Option<StillOn> {
    let plan = &verdict.plan;
    let circuit = plan.circuit(member);
    let Residual {
        part,
        reading,
        allowed_amps,
    } = residual(
        circuit,
        verdict.result(member),
        verdict.limits.residual_share,
    )?;
    let at_ground =
        tube_amps_with_inputs_at(plan, member, part, 0.0, &verdict.place.levels, context);
    let needed_grid_volts = match &circuit.parts[part].kind {
        PartKind::Tube(tube) => match tube.device.law {
            Some(Law::Triode(law)) => law.cut_off(reading.volts.max(1.0), allowed_amps),
            _ => None,
        },
        _ => None,
    };
    let driver = highest_driver(verdict, member);
    let id = plan.members[member].circuit;
    let other_kind = driver.is_some_and(|driver| plan.members[driver].circuit != id);
    let fine_alone = residual(
        circuit,
        &verdict.alone.results[id.0],
        verdict.limits.residual_share,
    )
    .is_none();
    let own_divider = at_ground.is_none_or(|amps| allowed_amps < amps);
    Some(StillOn {
        member,
        part,
        reading,
        needed_grid_volts,
        allowed_amps,
        own_divider,
        blame: if other_kind && fine_alone && !own_divider {
            driver
        } else {
            None
        },
    })
}

/// The driver that brings the highest down level to a member.
fn highest_driver(verdict: &Verdict, member: MemberIndex) -> Option<MemberIndex> {
    let connections = verdict
        .connections
        .iter()
        .filter(|connection| connection.load.0 == member);
    let highest = connections.max_by(|left, right| left.level.down.total_cmp(&right.level.down))?;
    highest.driver.map(|driver| driver.0)
}

fn not_cut_off(verdict: &Verdict, on: &StillOn, context: &Context) -> Raw {
    let plan = &verdict.plan;
    let circuit = plan.circuit(on.member);
    let name = &plan.members[on.member].name;
    let mark = &circuit.parts[on.part].mark;
    let amps = show(on.reading.amps, Unit::Ampere, 3);
    let grid = show(on.reading.grid_volts, Unit::Volt, 3);
    let cause = match highest_driver(verdict, on.member).filter(|_| !on.own_divider) {
        Some(driver) => format!(
            "{} comes down to {}, which leaves the grid of {name}.{mark} at {grid}: it still carries {amps}. The down level is too high for the bias divider.",
            plan.members[driver].name,
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
    if let Some((part, ohms)) = smaller_bias_resistor(verdict, on, context) {
        finding = finding.attempt(format!(
            "{} at {} cuts it off; check the gate again with it.",
            circuit.parts[part].mark,
            show_code(ohms)
        ));
    }
    finding = finding.attempt("A more negative rail, a larger resistor between the inputs and the grid, or a larger plate resistor in the gate before it.");
    // With ground at its inputs it would be cut off: then whatever feeds the driver may be the cause.
    let maker = highest_driver(verdict, on.member).filter(|_| !on.own_divider);
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
            let mut changed = design.clone();
            if let PartKind::Resistor { ohms, .. } = &mut changed.circuits[id.0].parts[part].kind {
                *ohms = smaller;
            }
            let plan = Plan {
                design: &changed,
                ..verdict.plan.clone()
            };
            let amps = tube_amps_with_inputs_at(
                &plan,
                on.member,
                on.part,
                input_down_volts(verdict, on.member),
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

fn connection_findings(
    verdict: &Verdict,
    connection: &Connection,
    still_on: &[StillOn],
    context: &Context,
) -> Vec<Raw> {
    let (Some(thresholds), Some(spare_down), Some(spare_up)) = (
        connection.thresholds,
        connection.spare_down(),
        connection.spare_up(),
    ) else {
        return Vec::new();
    };
    let on = still_on.iter().find(|on| on.member == connection.load.0);
    let blamed =
        on.filter(|on| on.blame.is_some() && on.blame == connection.driver.map(|driver| driver.0));
    let said_already = on.is_some_and(|on| on.blame.is_none());
    let mut raw = Vec::new();
    if blamed.is_some() || (spare_down < 0.0 && !said_already) {
        raw.push(down_too_high(verdict, connection, thresholds.low, blamed));
    }
    if spare_up < 0.0 {
        raw.push(up_too_low(verdict, connection, thresholds.high, context));
    }
    let swing = connection.level.up - connection.level.down;
    let spare = spare_down.min(spare_up);
    if raw.is_empty() && (0.0..verdict.limits.thin_share * swing).contains(&spare) {
        raw.push(thin(
            verdict,
            connection,
            spare_down <= spare_up,
            spare,
            swing,
        ));
    }
    raw
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
    let mut cause = format!("{driver} comes down to {} only", show(down, Unit::Volt, 3));
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

fn up_too_low(verdict: &Verdict, connection: &Connection, high: f64, context: &Context) -> Raw {
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
    let loads = verdict.plan.loads[connection.net].len()
        + verdict
            .plan
            .resistors
            .iter()
            .filter(|load| load.net == connection.net)
            .count();
    let unloaded =
        unloaded_up(verdict, connection, context).filter(|&volts| high <= volts && 0 < loads);
    if unloaded.is_some()
        && let Some(load) = dragging_load(verdict, connection, high, context)
    {
        return dragged(verdict, connection, load, numbers);
    }
    let span = driver_span(verdict, connection);
    let finding = match unloaded {
        Some(volts) => {
            let cause = format!(
                "{driver} reaches {} unloaded, but {} on it take it down to {}; {load} needs {}.",
                show(volts, Unit::Volt, 3),
                counted(loads, "load"),
                show(up, Unit::Volt, 3),
                show(high, Unit::Volt, 3)
            );
            let finding = Finding::fault("overloaded", span, driver, cause);
            match most_loads(verdict, connection, high, context) {
                Some(most) => finding.attempt(format!(
                    "Drive at most {most} of these gates from it, the rest through a follower."
                )),
                None => finding.attempt("Take the load off, or drive it through a follower."),
            }
        }
        None => {
            let cause = format!(
                "{driver} comes up to {} only; {load} takes its input for up only above {}.",
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
    let (member, signal) = connection.driver?;
    let plan = &verdict.plan;
    plan.loads[connection.net]
        .iter()
        .map(|load| load.0)
        .find(|&load| {
            let outputs = &plan.members[load].nets[plan.circuit(load).interface.inputs..];
            let mut freed = plan.clone();
            freed
                .resistors
                .retain(|resistor| !outputs.contains(&resistor.net));
            if freed.resistors.len() == plan.resistors.len() {
                return false;
            }
            let around = verdict.around(member);
            let levels = &verdict.place.levels;
            let result = judge_in(&freed, around, None, levels, &verdict.alone.weak, context);
            let levels = output_levels(&freed, member, &result);
            levels
                .into_iter()
                .any(|level| level.0 == signal && high <= level.1.up)
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
        "{name} is loaded so heavily that it draws grid current and takes the net before it, {}, down with it.",
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

/// Lowest up level of the driver with only the first `loads` of its loads; resistors of the bench stay.
fn up_with(
    verdict: &Verdict,
    connection: &Connection,
    loads: usize,
    context: &Context,
) -> Option<f64> {
    let (member, signal) = connection.driver?;
    let mut around = verdict.around(member);
    let on_net: Vec<MemberIndex> = verdict.plan.loads[connection.net]
        .iter()
        .map(|load| load.0)
        .collect();
    around.loads.retain(|load| {
        on_net
            .iter()
            .position(|other| other == load)
            .is_none_or(|index| index < loads)
    });
    let result = judge_in(
        &verdict.plan,
        around,
        None,
        &verdict.place.levels,
        &verdict.alone.weak,
        context,
    );
    output_levels(&verdict.plan, member, &result)
        .into_iter()
        .find(|level| level.0 == signal)
        .map(|level| level.1.up)
}

fn unloaded_up(verdict: &Verdict, connection: &Connection, context: &Context) -> Option<f64> {
    let (member, _) = connection.driver?;
    let mut bare = verdict.plan.clone();
    bare.resistors
        .retain(|resistor| resistor.net != connection.net);
    let mut around = verdict.around(member);
    let on_net: Vec<MemberIndex> = bare.loads[connection.net]
        .iter()
        .map(|load| load.0)
        .collect();
    around.loads.retain(|load| !on_net.contains(load));
    let result: MemberResult = judge_in(
        &bare,
        around,
        None,
        &verdict.place.levels,
        &verdict.alone.weak,
        context,
    );
    let signal = connection.driver?.1;
    output_levels(&bare, member, &result)
        .into_iter()
        .find(|level| level.0 == signal)
        .map(|level| level.1.up)
}

/// The largest number of its loads with which the level would do.
fn most_loads(
    verdict: &Verdict,
    connection: &Connection,
    high: f64,
    context: &Context,
) -> Option<usize> {
    let all = verdict.plan.loads[connection.net].len();
    (1..all)
        .rev()
        .find(|&loads| up_with(verdict, connection, loads, context).is_some_and(|up| high <= up))
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
        "{driver} has {} to spare when {word} at {load}, of a swing of {}.",
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
                "{name} passes its level along, and nothing that it drives amplifies: no threshold is defined."
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
