//! Levels, loads, heaters, readings, wiring and changes on a terminal.

use super::Terminal;
use super::findings::findings;
use super::paragraph::paragraph;
use crate::sentence;
use crate::table::Table;
use crate::tables::{self, CircuitLoads, worded};
use design::model::{CircuitId, Design, SocketId, UnitId};
use design::wiring::Wire;
use network::bench::PinReading;
use network::change::Change;
use network::feeders::feeders;
use network::judge::MemberResult;
use network::levels::output_levels;
use network::parts::PartsList;
use network::plan::{FanOut, Plan};
use network::power::power;
use network::verdict::Verdict;
use text::quantity::{Unit, counted};
use text::source::SourceMap;

/// Tables in the reader's words, a blank line between; tables without rows are left out.
pub(super) fn written(all: Vec<Table>, terminal: &Terminal) -> String {
    let texts: Vec<String> = all
        .into_iter()
        .filter(|table| !table.rows.is_empty())
        .map(|table| worded(table, terminal.wording).to_text(terminal.width, terminal.plain))
        .collect();
    texts.join("\n")
}

/// What stands in the way of solving a unit or circuit, in sentences; empty when nothing does.
fn obstacles(result: &MemberResult) -> Vec<String> {
    let mut all = Vec::new();
    if !result.without_law.is_empty() {
        all.push(format!(
            "Nothing can be computed: no curve for {}.",
            result.without_law.join(", ")
        ));
    }
    if let Some(name) = &result.clash_name {
        all.push(format!(
            "Nothing can be computed: {name} contradicts the sources around it."
        ));
    }
    if !result.floating.is_empty() {
        all.push(format!(
            "Held by leakage only: {}.",
            result.floating.join(", ")
        ));
    }
    if 0 < result.impossible {
        all.push(format!(
            "{} of its inputs cannot be produced by what drives it.",
            counted(result.impossible, "row")
        ));
    }
    all
}

pub(super) fn said(sentences: &[String], terminal: &Terminal) -> String {
    sentences
        .iter()
        .map(|text| paragraph(&terminal.wording.apply(text), 0, terminal.width))
        .collect()
}

/// A unit where it stands: volts and currents in every row, levels against the gates it drives.
#[must_use]
pub fn levels(verdict: &Verdict, unit: UnitId, terminal: &Terminal) -> String {
    let (Some(result), Some(member)) = (
        verdict.place.results.get(unit.0),
        verdict.plan.members.get(unit.0),
    ) else {
        return "No such unit.\n".to_owned();
    };
    let circuit = verdict.plan.circuit(unit.0);
    let caption = format!(
        "{} ({}) where it stands, with its drivers and real loads",
        member.name, circuit.name
    );
    let mut all = vec![tables::node_volts(circuit, result, &caption)];
    all.push(tables::duties(circuit, result));
    all.extend(tables::tube_currents(circuit, result));
    all.push(tables::output_margins(verdict, unit.0));
    let mut own = tables::connections(verdict, Some(unit.0));
    own.caption = format!("What drives {0} and what {0} drives", member.name);
    all.push(own);
    said(&obstacles(result), terminal) + &written(all, terminal)
}

/// A circuit alone, as its jig says or driven and loaded by copies of itself: rows, thresholds, and fan-out when given.
#[must_use]
pub fn circuit_levels(
    verdict: &Verdict,
    circuit: CircuitId,
    loads: Option<&CircuitLoads>,
    terminal: &Terminal,
) -> String {
    let design = verdict.plan.design;
    let (Some(result), Some(alone)) = (
        verdict.alone.results.get(circuit.0),
        verdict.circuits.get(circuit.0),
    ) else {
        return "No such circuit.\n".to_owned();
    };
    let plan = Plan::alone(design, circuit, FanOut::AsJig);
    let own = &design.circuits[circuit.0];
    let jig = if design.jigs.iter().any(|jig| jig.circuit == circuit) {
        "in its jig"
    } else {
        "driven and loaded by its like"
    };
    let mut all = vec![tables::node_volts(
        own,
        result,
        &format!("Circuit {} alone, {jig}", own.name),
    )];
    all.push(tables::duties(own, result));
    all.extend(tables::tube_currents(own, result));
    all.push(tables::output_levels(own, &output_levels(&plan, 0, result)));
    all.push(tables::thresholds(&plan, &alone.transfers));
    if let Some(loads) = loads {
        all.extend(fans(design, loads));
    }
    said(&obstacles(result), terminal) + &written(all, terminal)
}

fn fans(design: &Design, loads: &CircuitLoads) -> [Table; 2] {
    let name = design
        .circuits
        .get(loads.circuit.0)
        .map_or("", |circuit| circuit.name.as_str());
    [
        tables::fan(&loads.fan_out, "loads", &format!("Fan-out of {name}")),
        tables::fan(&loads.fan_in, "inputs", &format!("Fan-in of {name}")),
    ]
}

/// Who drives whom; only what a unit drives or is driven by when one is named.
#[must_use]
pub fn connections(verdict: &Verdict, unit: Option<UnitId>, terminal: &Terminal) -> String {
    let table = tables::connections(verdict, unit.map(|unit| unit.0));
    if table.rows.is_empty() {
        return "Nothing drives anything here.\n".to_owned();
    }
    written(vec![table], terminal)
}

/// What stores: every ring in every state of its sentences, and what scanning found.
#[must_use]
pub fn states(verdict: &Verdict, terminal: &Terminal) -> String {
    if verdict.rings.is_empty() {
        return "Nothing here stores: no unit feeds itself through others of its block.\n"
            .to_owned();
    }
    let table = tables::states(&verdict.plan, &verdict.rings);
    let scans = verdict.rings.iter().flat_map(|ring| &ring.scans);
    let sentences: Vec<String> = scans.map(sentence::scanned).collect();
    format!(
        "{}\n{}",
        written(vec![table], terminal),
        said(&sentences, terminal)
    )
}

/// Heater strings, volts of every heater, and the rails with what they must carry.
#[must_use]
pub fn heaters(verdict: &Verdict, sources: &SourceMap, terminal: &Terminal) -> String {
    let design = verdict.plan.design;
    if design.strings.is_empty() {
        return "No heater string is typed.\n".to_owned();
    }
    let tables = vec![
        tables::strings(verdict),
        tables::heaters(verdict),
        tables::heater_reach(verdict),
        tables::feeders(design, &feeders(verdict)),
        tables::rails(design, &power(verdict)),
    ];
    let mut out = written(tables, terminal);
    out.push('\n');
    out.push_str(&said(&sentence::about_heaters(verdict), terminal));
    if !verdict.heaters.findings.is_empty() {
        out.push('\n');
        out.push_str(&findings(&verdict.heaters.findings, sources, terminal));
    }
    out
}

/// What every rail must give, and where the heat goes.
#[must_use]
pub fn rail_power(verdict: &Verdict, terminal: &Terminal) -> String {
    let design = verdict.plan.design;
    let power = power(verdict);
    let tables = vec![
        tables::rails(design, &power),
        tables::tubes(design, &power),
        tables::heat(design, &power),
    ];
    format!(
        "{}\n{}",
        written(tables, terminal),
        said(&sentence::about_power(verdict, &power), terminal)
    )
}

/// What to buy.
#[must_use]
pub fn parts(list: &PartsList, terminal: &Terminal) -> String {
    if list.lines.is_empty() {
        return "Nothing to buy: no unit, string or rail asks for a part.\n".to_owned();
    }
    format!(
        "{}\n{}",
        written(vec![tables::parts(list)], terminal),
        said(&sentence::about_parts(list), terminal)
    )
}

/// Cold tubes, every rail missing, the order of the rails, and how the heaters may be brought up.
#[must_use]
pub fn switch_on(verdict: &Verdict, sources: &SourceMap, terminal: &Terminal) -> String {
    let mut out = written(tables::switch_on(verdict), terminal);
    out.push('\n');
    out.push_str(&said(&sentence::about_switch_on(verdict), terminal));
    let found = verdict.switch_on_findings();
    if !found.is_empty() {
        out.push('\n');
        out.push_str(&findings(&found, sources, terminal));
    }
    out
}

/// What can hurt: volts between rails, what they store, what to do before a hand goes in.
#[must_use]
pub fn safety(design: &Design, touch_volts: f64, terminal: &Terminal) -> String {
    let safety = network::safety::safety(design, touch_volts);
    let tables = vec![
        tables::spans(&safety),
        tables::stores(design, &safety, touch_volts),
    ];
    let mut sentences = sentence::before_a_hand_goes_in(design, &safety, touch_volts);
    sentences.push(sentence::MEASURES.to_owned());
    format!(
        "{}\n{}",
        written(tables, terminal),
        said(&sentences, terminal)
    )
}

/// What a meter reads on every pin of a socket.
#[must_use]
pub fn readings(
    design: &Design,
    socket: SocketId,
    pins: &[PinReading],
    meter_ohms: f64,
    terminal: &Terminal,
) -> String {
    if socket.0 >= design.sockets.len() {
        return "No such tube.\n".to_owned();
    }
    let meter = format!(
        "Meter of {} to ground. The stage is live while it is measured: one hand, insulated probe. \
         Local codes and licensed practice come first.",
        sentence::shown(meter_ohms, Unit::Ohm)
    );
    written(vec![tables::readings(design, socket, pins)], terminal) + &said(&[meter], terminal)
}

/// The pin-to-pin wiring list of a board (index into the design's boards), or of the whole machine.
#[must_use]
pub fn wiring(
    design: &Design,
    board: Option<usize>,
    wires: &[Wire],
    terminal: &Terminal,
) -> String {
    if wires.is_empty() {
        return "Nothing is wired here.\n".to_owned();
    }
    let whose = board
        .and_then(|board| design.boards.get(board))
        .map_or_else(
            || "the whole machine".to_owned(),
            |board| format!("board {}", board.name),
        );
    written(
        vec![tables::wiring(
            wires,
            &format!("Wiring of {whose}, pins numbered as seen from below"),
        )],
        terminal,
    )
}

/// Fan-out, fan-in and rough delay of circuits.
#[must_use]
pub fn loads(design: &Design, circuits: &[CircuitLoads], terminal: &Terminal) -> String {
    if circuits.is_empty() {
        return "No circuit to load.\n".to_owned();
    }
    let mut all = vec![tables::loads(design, circuits)];
    if let [only] = circuits {
        all.extend(fans(design, only));
    }
    written(all, terminal)
}

/// What one change does: `what` names it, "nor3.R3 from 82k to 100k".
#[must_use]
pub fn change(change: &Change, what: &str, sources: &SourceMap, terminal: &Terminal) -> String {
    let mut out = format!("{what}\n");
    let nets = written(vec![tables::changes(change)], terminal);
    out.push_str(if nets.is_empty() {
        "No level moves by more than a meter shows.\n"
    } else {
        &nets
    });
    for (heading, list) in [("Gone:", &change.gone), ("New:", &change.new)] {
        if !list.is_empty() {
            out.push_str(&format!(
                "\n{heading}\n{}",
                findings(list, sources, terminal)
            ));
        }
    }
    out.push_str(&format!(
        "\nFindings: {} before, {} after.\n",
        change.counts.0, change.counts.1
    ));
    out
}

/// What a finding's name means.
#[must_use]
pub fn explain(name: &str, summary: &str, text: &str, terminal: &Terminal) -> String {
    let say = |text: &str| terminal.wording.apply(text);
    format!(
        "{}\n{}{}",
        terminal.painted(name, "1"),
        paragraph(&say(summary), 0, terminal.width),
        paragraph(&say(text), 4, terminal.width)
    )
}
