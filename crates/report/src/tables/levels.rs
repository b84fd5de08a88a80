//! Volts and currents of one circuit in every row of its inputs.

use super::{number, numbers, text, up_or_down, words};
use crate::table::{Cell, Mark, Table};
use design::model::{Circuit, NodeKind, Wanted};
use network::duty;
use network::judge::{Level, MemberResult, RowResult};
use network::loops::Ring;
use network::plan::Plan;
use network::rows::Others;
use network::solve::Outcome;
use network::stability::Stability;
use network::transfer::Transfer;

/// Which of some inputs are up: `none`, `a b`, `all`.
#[must_use]
pub fn inputs_up(circuit: &Circuit, inputs: &[bool]) -> String {
    let names: Vec<&str> = circuit
        .interface
        .signals
        .iter()
        .zip(inputs)
        .filter(|(_, up)| **up)
        .map(|(name, _)| name.as_str())
        .collect();
    if names.is_empty() {
        "none".to_owned()
    } else {
        names.join(" ")
    }
}

/// Whether a node's volts are worth a column: not ground, not a rail.
#[must_use]
pub fn shows(kind: NodeKind) -> bool {
    matches!(kind, NodeKind::Signal(_) | NodeKind::Inner)
}

/// The outputs of a row as the circuit's sentence has them: `y up`, empty where it says nothing.
fn should(circuit: &Circuit, row: &RowResult) -> String {
    let said = circuit.interface.outputs().iter().zip(&row.row.outputs);
    let words: Vec<String> = said
        .filter_map(|(name, value)| value.map(|up| format!("{name} {}", up_or_down(up))))
        .collect();
    words.join(", ")
}

/// Heading of where the inputs of the loads stand that nothing else fixes.
const OTHERS: &str = "loads' other inputs";

fn others_word(others: Others) -> &'static str {
    up_or_down(others == Others::Up)
}

/// The first cells of a row: inputs, and where the loads' other inputs stand when that differs between rows.
fn row_cells(circuit: &Circuit, row: &RowResult, with_others: bool) -> Vec<Cell> {
    let mut cells = vec![text(inputs_up(circuit, &row.row.inputs))];
    cells.extend(with_others.then(|| text(others_word(row.row.others))));
    cells
}

fn row_columns(with_others: bool) -> Vec<crate::table::Column> {
    let mut columns = vec![words("inputs up")];
    columns.extend(with_others.then(|| words(OTHERS)));
    columns
}

fn others_differ(result: &MemberResult) -> bool {
    result.rows.iter().any(|row| row.row.others == Others::Up)
}

/// Volts of every node of the circuit that is no rail, in every row; a row without a solution says so.
#[must_use]
pub fn node_volts(circuit: &Circuit, result: &MemberResult, caption: &str) -> Table {
    let nodes: Vec<usize> = (0..circuit.nodes.len())
        .filter(|&node| shows(circuit.nodes[node].kind))
        .collect();
    let with_others = others_differ(result);
    let mut columns = row_columns(with_others);
    columns.push(words("should be"));
    columns.extend(
        nodes
            .iter()
            .map(|&node| numbers(circuit.nodes[node].name.clone(), "V")),
    );
    let any_lost = result.rows.iter().any(|row| !row.outcome.settled());
    if any_lost {
        columns.push(words("remark"));
    }
    let rows = result.rows.iter().map(|row| {
        let mut cells = row_cells(circuit, row, with_others);
        cells.push(text(should(circuit, row)));
        let settled = row.outcome.settled();
        let volts = nodes
            .iter()
            .map(|&node| row.volts.get(node).copied().filter(|_| settled));
        cells.extend(volts.map(|volts| number(volts, 2)));
        cells.push(text(remark(&row.outcome)));
        cells
    });
    Table {
        caption: caption.to_owned(),
        columns,
        rows: rows.collect(),
    }
}

fn remark(outcome: &Outcome) -> String {
    match outcome {
        Outcome::Settled(_) => String::new(),
        Outcome::NotSettled(_) => "no steady volts found".to_owned(),
        Outcome::LampsFlicker(lamps) => format!("no rest, flickers: {}", lamps.join(", ")),
    }
}

/// What each lamp or load that a sentence speaks of should be and is, in every row that says so.
#[must_use]
pub fn duties(circuit: &Circuit, result: &MemberResult) -> Table {
    let with_others = others_differ(result);
    let mut columns = row_columns(with_others);
    columns.extend([
        words("part"),
        words("should be"),
        numbers("current", "mA"),
        words("is"),
    ]);
    let mut rows = Vec::new();
    for duty in &circuit.duties {
        let word = |on: bool| match (duty.wanted, on) {
            (Wanted::Lit, true) => "lit",
            (Wanted::Lit, false) => "out",
            (Wanted::Amps { .. }, true) => "on",
            (Wanted::Amps { .. }, false) => "off",
        };
        for row in result.rows.iter().filter(|row| row.outcome.settled()) {
            let Some(wanted) = duty::wanted(duty, row) else {
                continue;
            };
            let done = duty::does(circuit, duty, row);
            let mark = if done == Some(wanted) {
                Mark::Pass
            } else {
                Mark::Fault
            };
            let mut cells = row_cells(circuit, row, with_others);
            cells.extend([
                text(circuit.parts[duty.part].mark.clone()),
                text(word(wanted)),
                number(1e3 * row.parts[duty.part].amps, 3),
                Cell::Mark(mark, done.map_or("between", word).to_owned()),
            ]);
            rows.push(cells);
        }
    }
    Table {
        caption: "Lamps and loads".to_owned(),
        columns,
        rows,
    }
}

/// Currents and dissipation of every tube of the circuit, one table a tube.
#[must_use]
pub fn tube_currents(circuit: &Circuit, result: &MemberResult) -> Vec<Table> {
    let with_others = others_differ(result);
    circuit
        .tubes()
        .map(|(part, tube)| {
            let has_screen = tube.screen.is_some();
            let mut columns = row_columns(with_others);
            columns.extend([
                numbers("plate to cathode", "V"),
                numbers("plate current", "mA"),
            ]);
            columns.extend([
                numbers("grid to cathode", "V"),
                numbers("grid current", "µA"),
            ]);
            if has_screen {
                columns.extend([
                    numbers("screen to cathode", "V"),
                    numbers("screen current", "mA"),
                ]);
            }
            columns.push(numbers("plate dissipation", "mW"));
            let rows = result
                .rows
                .iter()
                .filter(|row| row.outcome.settled())
                .filter_map(|row| {
                    let reading = row.parts.get(part)?;
                    let mut cells = row_cells(circuit, row, with_others);
                    cells.extend([number(reading.volts, 2), number(1e3 * reading.amps, 4)]);
                    cells.extend([
                        number(reading.grid_volts, 2),
                        number(1e6 * reading.grid_amps, 2),
                    ]);
                    if has_screen {
                        cells.extend([
                            number(reading.screen_volts, 2),
                            number(1e3 * reading.screen_amps, 4),
                        ]);
                    }
                    cells.push(number(1e3 * reading.watts, 1));
                    Some(cells)
                });
            Table {
                caption: format!("Tube {}, {}", circuit.parts[part].mark, tube.device.name),
                columns,
                rows: rows.collect(),
            }
        })
        .collect()
}

/// Worst down and up level of each output.
#[must_use]
pub fn output_levels(circuit: &Circuit, levels: &[(usize, Level)]) -> Table {
    let rows = levels.iter().map(|(signal, level)| {
        vec![
            text(circuit.interface.signals[*signal].clone()),
            number(level.down, 2),
            number(level.up, 2),
        ]
    });
    Table {
        caption: "Levels of the outputs, worst row".to_owned(),
        columns: vec![
            words("output"),
            numbers("highest down", "V"),
            numbers("lowest up", "V"),
        ],
        rows: rows.collect(),
    }
}

/// Thresholds of the inputs, from the transfer curves.
#[must_use]
pub fn thresholds(plan: &Plan, transfers: &[Transfer]) -> Table {
    let rows = transfers.iter().map(|transfer| {
        let circuit = plan.circuit(transfer.member);
        let nets = &plan.members[transfer.member].nets[..circuit.interface.inputs];
        let mut others: Vec<bool> = nets
            .iter()
            .map(|net| transfer.values.get(net).copied().unwrap_or(false))
            .collect();
        others[transfer.input] = false;
        vec![
            text(format!(
                "{} to {}",
                circuit.interface.signals[transfer.input],
                circuit.interface.signals[transfer.output]
            )),
            text(inputs_up(circuit, &others)),
            text(others_word(transfer.others)),
            number(transfer.thresholds.map(|pair| pair.0), 2),
            number(transfer.thresholds.map(|pair| pair.1), 2),
            number(transfer.switching, 2),
            number(transfer.largest_slope, 1),
        ]
    });
    Table {
        caption: "Thresholds of the inputs: where the transfer curve has slope one".to_owned(),
        columns: vec![
            words("from input to output"),
            words("other inputs up"),
            words(OTHERS),
            numbers("down below", "V"),
            numbers("up above", "V"),
            numbers("output equals input at", "V"),
            numbers("steepest slope", ""),
        ],
        rows: rows.collect(),
    }
}

/// Stored states of the rings: each state's nets with their volts, and whether it lasts.
#[must_use]
pub fn states(plan: &Plan, rings: &[Ring]) -> Table {
    let mut rows = Vec::new();
    for ring in rings {
        let units: Vec<&str> = ring
            .members
            .iter()
            .map(|&member| plan.members[member].name.as_str())
            .collect();
        let alike = if ring.alike.is_empty() {
            String::new()
        } else {
            format!(" and {} alike", ring.alike.len())
        };
        for row in &ring.rows {
            let fed: Vec<String> = named(plan, row.inputs.iter());
            for state in &row.states {
                let held: Vec<String> = state
                    .values
                    .iter()
                    .map(|(&net, &up)| {
                        let volts = state.volts.get(&net).map_or(String::new(), |&volts| {
                            format!(" {}", crate::sentence::volts(volts))
                        });
                        format!("{} {}{volts}", plan.nets[net].name, up_or_down(up))
                    })
                    .collect();
                let lasts = match (state.outcome.settled(), state.kept, state.stability) {
                    (true, true, Stability::Stable(_)) => {
                        Cell::Mark(crate::table::Mark::Pass, "lasts".to_owned())
                    }
                    (true, true, Stability::NotKnown) => {
                        Cell::Mark(crate::table::Mark::None, "not judged".to_owned())
                    }
                    _ => Cell::Mark(crate::table::Mark::Fault, "lost".to_owned()),
                };
                rows.push(vec![
                    text(format!("{}{alike}", units.join(" "))),
                    text(fed.join(", ")),
                    text(held.join(", ")),
                    lasts,
                ]);
            }
        }
    }
    Table {
        caption: "Stored states, each solved from itself".to_owned(),
        columns: vec![
            words("ring"),
            words("fed with"),
            words("state"),
            words("verdict"),
        ],
        rows,
    }
}

fn named<'a>(plan: &Plan, values: impl Iterator<Item = (&'a usize, &'a bool)>) -> Vec<String> {
    values
        .map(|(&net, &up)| format!("{} {}", plan.nets[net].name, up_or_down(up)))
        .collect()
}
