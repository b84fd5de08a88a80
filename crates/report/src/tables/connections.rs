//! Who drives whom, how many gates an output drives, and what a change does.

use super::{judged, number, numbers, smaller, text, words};
use crate::table::{Cell, Table};
use design::model::{CircuitId, Design};
use network::change::Change;
use network::connections::Connection;
use network::delay::Delay;
use network::fan::Fan;
use network::plan::Plan;
use network::verdict::Verdict;

/// Below this margin (V) a connection is called thin.
#[must_use]
pub fn thin_below(verdict: &Verdict, connection: &Connection) -> f64 {
    verdict.limits.thin_below(connection.level)
}

/// What drives a connection: unit and output, or a switch of the bench.
fn driver_name(plan: &Plan, connection: &Connection) -> String {
    connection
        .driver
        .map_or_else(|| "switch".to_owned(), |pin| pin_name(plan, pin))
}

/// `G14.y`
fn pin_name(plan: &Plan, (member, signal): (usize, usize)) -> String {
    format!(
        "{}.{}",
        plan.members[member].name,
        plan.circuit(member).interface.signals[signal]
    )
}

/// Drivers and loads with levels, thresholds and margins, least to spare first; those of one member only when it is named.
#[must_use]
pub fn connections(verdict: &Verdict, member: Option<usize>) -> Table {
    let plan = &verdict.plan;
    let touches = |connection: &&Connection| {
        member.is_none_or(|member| {
            connection.load.0 == member
                || connection.driver.is_some_and(|driver| driver.0 == member)
        })
    };
    let mut chosen: Vec<&Connection> = verdict.connections.iter().filter(touches).collect();
    let least = |connection: &Connection| {
        smaller(connection.spare_down(), connection.spare_up()).unwrap_or(f64::INFINITY)
    };
    chosen.sort_by(|left, right| least(left).total_cmp(&least(right)));
    let rows = chosen.into_iter().map(|connection| {
        let (down, up) = (connection.spare_down(), connection.spare_up());
        vec![
            text(plan.nets[connection.net].name.clone()),
            text(driver_name(plan, connection)),
            text(pin_name(plan, connection.load)),
            number(connection.level.down, 2),
            number(connection.thresholds.map(|thresholds| thresholds.low), 2),
            number(down, 2),
            number(connection.level.up, 2),
            number(connection.thresholds.map(|thresholds| thresholds.high), 2),
            number(up, 2),
            judged(smaller(down, up), thin_below(verdict, connection)),
        ]
    });
    Table {
        caption: "Who drives whom, worst rows by the book, least to spare first".to_owned(),
        columns: margin_columns(vec![words("net"), words("driven by"), words("drives")]),
        rows: rows.collect(),
    }
}

fn margin_columns(mut columns: Vec<crate::table::Column>) -> Vec<crate::table::Column> {
    columns.extend([
        numbers("down", "V"),
        numbers("needs below", "V"),
        numbers("to spare", "V"),
        numbers("up", "V"),
        numbers("needs above", "V"),
        numbers("to spare", "V"),
        words("verdict"),
    ]);
    columns
}

/// The tightest connection of every output of a member: net, levels, what its loads ask for, to spare.
#[must_use]
pub fn output_margins(verdict: &Verdict, member: usize) -> Table {
    let plan = &verdict.plan;
    let inputs = plan.circuit(member).interface.inputs;
    let rows = (inputs..plan.circuit(member).interface.signals.len()).filter_map(|signal| {
        let net = plan.members[member].nets[signal];
        let level = verdict.place.levels.get(&net)?;
        let own = || {
            verdict
                .connections
                .iter()
                .filter(move |connection| connection.driver == Some((member, signal)))
        };
        let low = own()
            .filter_map(|one| one.thresholds)
            .map(|thresholds| thresholds.low)
            .reduce(f64::min);
        let high = own()
            .filter_map(|one| one.thresholds)
            .map(|thresholds| thresholds.high)
            .reduce(f64::max);
        let (down, up) = (
            low.map(|low| low - level.down),
            high.map(|high| level.up - high),
        );
        let thin = verdict.limits.thin_below(*level);
        Some(vec![
            text(plan.nets[net].name.clone()),
            number(level.down, 2),
            number(low, 2),
            number(down, 2),
            number(level.up, 2),
            number(high, 2),
            number(up, 2),
            judged(smaller(down, up), thin),
        ])
    });
    Table {
        caption: "Levels of its outputs against the gates it drives".to_owned(),
        columns: margin_columns(vec![words("net")]),
        rows: rows.collect(),
    }
}

/// One series of counts: `counted` says of what, "loads" or "inputs".
#[must_use]
pub fn fan(fan: &Fan, counted: &str, caption: &str) -> Table {
    let rows = fan.rows.iter().map(|row| {
        vec![
            text(row.count.to_string()),
            number(row.down, 2),
            number(row.spare_down, 2),
            number(row.up, 2),
            number(row.spare_up, 2),
            judged(Some(row.spare_down.min(row.spare_up)), 0.0),
        ]
    });
    Table {
        caption: caption.to_owned(),
        columns: vec![
            words(counted),
            numbers("down", "V"),
            numbers("to spare", "V"),
            numbers("up", "V"),
            numbers("to spare", "V"),
            words("verdict"),
        ],
        rows: rows.collect(),
    }
}

/// Fan-out, fan-in and rough delay of one circuit.
#[derive(Debug, Clone, PartialEq)]
pub struct CircuitLoads {
    /// The circuit.
    pub circuit: CircuitId,
    /// How many gates it drives.
    pub fan_out: Fan,
    /// How many inputs it takes.
    pub fan_in: Fan,
    /// Rough delay, where there is one.
    pub delay: Option<Delay>,
}

/// Fan-out, fan-in and rough delay of several circuits, a line each.
#[must_use]
pub fn loads(design: &Design, circuits: &[CircuitLoads]) -> Table {
    let rows = circuits.iter().map(|loads| {
        let micro = |seconds: Option<f64>| number(seconds.map(|seconds| 1e6 * seconds), 1);
        vec![
            text(design.circuits[loads.circuit.0].name.clone()),
            text(most(&loads.fan_out)),
            text(most(&loads.fan_in)),
            micro(loads.delay.and_then(|delay| delay.rising)),
            micro(loads.delay.and_then(|delay| delay.falling)),
            number(loads.delay.map(|delay| delay.timed_at), 1),
        ]
    });
    Table {
        caption: "Most loads and inputs that work, and a rough delay (book values, assumed strays)"
            .to_owned(),
        columns: vec![
            words("circuit"),
            words("drives up to"),
            words("takes up to"),
            numbers("rise, rough", "µs"),
            numbers("fall, rough", "µs"),
            numbers("timed at", "V"),
        ],
        rows: rows.collect(),
    }
}

/// The last count that works, in words.
fn most(fan: &Fan) -> String {
    match (fan.last_that_works(), fan.open_ended()) {
        (Some(count), true) => format!("{count} or more (not tried further)"),
        (Some(count), false) => count.to_string(),
        (None, _) if fan.rows.is_empty() => "not known".to_owned(),
        (None, _) => "none works".to_owned(),
    }
}

/// Levels and margins before and after a change.
#[must_use]
pub fn changes(change: &Change) -> Table {
    let rows = change.nets.iter().map(|net| {
        let pair = |pair: (f64, f64)| [number(pair.0, 2), number(pair.1, 2)];
        let options = |pair: (Option<f64>, Option<f64>)| [number(pair.0, 2), number(pair.1, 2)];
        let mut cells: Vec<Cell> = vec![text(net.net.clone())];
        cells.extend(pair(net.down));
        cells.extend(options(net.spare_down));
        cells.extend(pair(net.up));
        cells.extend(options(net.spare_up));
        cells
    });
    let mut columns = vec![words("net")];
    for heading in ["down", "to spare down", "up", "to spare up"] {
        columns.extend([
            numbers(format!("{heading} before"), "V"),
            numbers("after", "V"),
        ]);
    }
    Table {
        caption: "What moves, most first".to_owned(),
        columns,
        rows: rows.collect(),
    }
}
