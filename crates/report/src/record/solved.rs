//! Records of single units and circuits: volts and currents in every row.

use super::record;
use super::results::{connection_list, stability, values};
use design::model::{Circuit, CircuitId, PartKind, UnitId};
use network::judge::{MemberResult, PartReading, RowResult};
use network::levels::output_levels;
use network::plan::{FanOut, Plan};
use network::rows::Others;
use network::solve::Outcome;
use network::transfer::Transfer;
use network::verdict::Verdict;
use serde_json::{Map, Value, json};

/// A unit where it stands; `null` fields when there is no such unit.
#[must_use]
pub fn levels(verdict: &Verdict, unit: UnitId) -> Value {
    let (Some(result), Some(member)) = (
        verdict.place.results.get(unit.0),
        verdict.plan.members.get(unit.0),
    ) else {
        return record("levels", json!({ "unit": null }));
    };
    let circuit = verdict.plan.circuit(unit.0);
    let curves = verdict
        .curves
        .get(unit.0)
        .into_iter()
        .flat_map(|inputs| inputs.values().flatten());
    let fields = json!({
        "unit": member.name,
        "circuit": circuit.name,
        "solved": solved(&verdict.plan, unit.0, circuit, result),
        "transfer_curves": curves.map(|curve| transfer(&verdict.plan, curve)).collect::<Vec<_>>(),
        "connections": connection_list(verdict, Some(unit.0)),
    });
    record("levels", fields)
}

/// A circuit alone, as its jig says or driven and loaded by copies of itself.
#[must_use]
pub fn circuit_levels(verdict: &Verdict, circuit: CircuitId) -> Value {
    let design = verdict.plan.design;
    let (Some(result), Some(alone)) = (
        verdict.alone.results.get(circuit.0),
        verdict.circuits.get(circuit.0),
    ) else {
        return record("circuit_levels", json!({ "circuit": null }));
    };
    let plan = Plan::alone(design, circuit, FanOut::AsJig);
    let own = &design.circuits[circuit.0];
    let fields = json!({
        "circuit": own.name,
        "solved": solved(&plan, 0, own, result),
        "transfer_curves": alone.transfers.iter().map(|curve| transfer(&plan, curve)).collect::<Vec<_>>(),
    });
    record("circuit_levels", fields)
}

fn solved(plan: &Plan, member: usize, circuit: &Circuit, result: &MemberResult) -> Value {
    let outputs = output_levels(plan, member, result);
    let outputs = outputs.iter().map(|(signal, level)| {
        json!({ "output": circuit.interface.signals[*signal], "down_volts": level.down, "up_volts": level.up })
    });
    json!({
        "inputs": circuit.interface.signals[..circuit.interface.inputs],
        "outputs": circuit.interface.outputs(),
        "rows": result.rows.iter().map(|one| row(plan, circuit, one)).collect::<Vec<_>>(),
        "levels": outputs.collect::<Vec<_>>(),
        "rows_that_cannot_be": result.impossible,
        "without_curve": result.without_law,
        "contradicted_by": result.clash_name,
        "held_by_leakage_only": result.floating,
    })
}

fn row(plan: &Plan, circuit: &Circuit, row: &RowResult) -> Value {
    let settled = row.outcome.settled();
    let nodes: Map<String, Value> = circuit
        .nodes
        .iter()
        .zip(&row.volts)
        .map(|(node, volts)| {
            (
                node.name.clone(),
                if settled { json!(volts) } else { Value::Null },
            )
        })
        .collect();
    let parts = circuit.parts.iter().zip(&row.parts).filter(|_| settled);
    let parts: Map<String, Value> = parts
        .map(|(part, reading)| (part.mark.clone(), part_reading(&part.kind, reading)))
        .collect();
    let rails: Map<String, Value> = row
        .rail_amps
        .iter()
        .map(|(&net, amps)| (plan.nets[net].name.clone(), json!(amps)))
        .collect();
    let remark = match &row.outcome {
        Outcome::Settled(_) => Value::Null,
        Outcome::NotSettled(nodes) => {
            json!({ "no_steady_volts_at": nodes.iter().map(|node| &node.0).collect::<Vec<_>>() })
        }
        Outcome::LampsFlicker(lamps) => json!({ "flicker": lamps }),
    };
    json!({
        "inputs": row.row.inputs,
        "outputs": row.row.outputs,
        "loads_other_inputs_up": row.row.others == Others::Up,
        "nets": values(plan, &row.row.values),
        "settled": settled,
        "remark": remark,
        "rests": row.stability.and_then(stability),
        "volts": nodes,
        "parts": parts,
        "rail_amps": rails,
    })
}

fn part_reading(kind: &PartKind, reading: &PartReading) -> Value {
    let mut fields =
        json!({ "volts": reading.volts, "amps": reading.amps, "watts": reading.watts });
    if let (PartKind::Tube(tube), Value::Object(map)) = (kind, &mut fields) {
        map.insert("cathode_amps".to_owned(), json!(reading.cathode_amps));
        if tube.grid.is_some() {
            map.insert("grid_volts".to_owned(), json!(reading.grid_volts));
            map.insert("grid_amps".to_owned(), json!(reading.grid_amps));
        }
        if tube.screen.is_some() {
            map.insert("screen_volts".to_owned(), json!(reading.screen_volts));
            map.insert("screen_amps".to_owned(), json!(reading.screen_amps));
        }
    }
    fields
}

fn transfer(plan: &Plan, curve: &Transfer) -> Value {
    let signals = &plan.circuit(curve.member).interface.signals;
    json!({
        "input": signals[curve.input],
        "output": signals[curve.output],
        "nets": values(plan, &curve.values),
        "loads_other_inputs_up": curve.others == Others::Up,
        "points_volts": curve.curve,
        "inverting": curve.inverting,
        "down_below_volts": curve.thresholds.map(|pair| pair.0),
        "up_above_volts": curve.thresholds.map(|pair| pair.1),
        "output_equals_input_volts": curve.switching,
        "steepest_slope": curve.largest_slope,
    })
}
