//! Margins in the worst case, as a record.

use super::record;
use super::results::finding_list;
use crate::margins::{Standing, Whose, WorstCases, is_used};
use crate::{sentence, tables};
use network::duty::Asked;
use network::margins::alone::AloneCase;
use network::margins::cases::{
    case_in_words, duty_in_words, free_in_words, lost_in_words, piece_name, rails_moved,
    state_in_words,
};
use network::margins::mending::{CLOSE, Mending, Remedy};
use network::margins::{
    Case, ConnectionMargin, DutyMargin, DutyNotKnown, FreeLevel, FreeOutput, Margins, Missing,
    Moved, NotKnown, SideMargin,
};
use network::plan::{MemberIndex, Plan};
use network::rows::Others;
use network::variation::{Piece, Quantity};
use network::verdict::Verdict;
use serde_json::{Value, json};
use text::quantity::Unit;
use text::source::SourceMap;

/// Margins in the worst case, the smallest first.
#[must_use]
pub fn margins(verdict: &Verdict, worst: &WorstCases, whose: Whose, sources: &SourceMap) -> Value {
    let margins = worst.margins;
    let plan = &verdict.plan;
    let connections = whose.connections(verdict, margins);
    let alone = worst.alone_in_order().into_iter();
    let bands = sentence::varied(verdict, worst, None).into_iter().map(band);
    let spread = &margins.spread;
    let duties = whose.duties(verdict, margins).into_iter();
    let duties_not_known = whose.duties_not_known(verdict, margins).into_iter();
    let free = whose.free(verdict, margins).into_iter();
    let mut fields = found(plan, margins, &connections);
    let further = json!({
        "mending": worst.mended.map(|mended| mended.iter().map(|one| mending(plan, one)).collect::<Vec<_>>()).concat(),
        "parts": duties.map(|one| duty(plan, margins, one)).collect::<Vec<_>>(),
        "parts_not_known": duties_not_known.map(|one| duty_not_known(plan, one)).collect::<Vec<_>>(),
        "outputs": free.map(|one| free_output(plan, margins, one)).collect::<Vec<_>>(),
        "alone": alone.map(alone_case).collect::<Vec<_>>(),
        "findings": finding_list(&worst.findings(verdict, whose), sources),
        "varied": bands.collect::<Vec<_>>(),
        "assumed": {
            "least_current_share": spread.tube_current.0,
            "most_current_share": spread.tube_current.1,
            "aged_current_share": spread.aged,
            "least_mu_share": spread.mu.0,
            "most_mu_share": spread.mu.1,
            "cut_off_volts": spread.cut_off_volts,
            "reverse_amps": spread.reverse_amps,
            "saturation_times": spread.saturation_times,
            "least_diode_kelvin": spread.diode_kelvin.0,
            "most_diode_kelvin": spread.diode_kelvin.1,
        },
        "said": sentence::about_margins(verdict, worst),
    });
    if let (Value::Object(fields), Value::Object(further)) = (&mut fields, further) {
        fields.extend(further);
    }
    record("margins", fields)
}

/// What was varied.
pub(super) fn band(band: sentence::Band) -> Value {
    json!({ "what": band.what, "of": band.of, "between": band.band, "source": band.source })
}

/// Margins with the corners at which they were sought, and what is not known.
fn found(plan: &Plan, margins: &Margins, connections: &[&ConnectionMargin]) -> Value {
    let rails = &plan.design.rails;
    let corners = margins.corners.iter().map(|corner| {
        let all = rails.iter().zip(&corner.volts).zip(&corner.sides);
        let all = all.map(
            |((rail, volts), side)| json!({ "rail": rail.name, "volts": volts, "side": side }),
        );
        Value::Array(all.collect())
    });
    let names = |members: &[MemberIndex]| -> Vec<&str> {
        let names = members
            .iter()
            .map(|&member| plan.members[member].name.as_str());
        names.collect()
    };
    let lost = margins.lost.iter().map(|state| {
        json!({
            "units": names(&state.members),
            "state": state_in_words(plan, &state.members, &state.values),
            "case": lost_in_words(plan, margins, state),
            "corner": state.corner,
        })
    });
    let connections = connections.iter();
    json!({
        "corners": corners.collect::<Vec<_>>(),
        "every_corner": margins.all_corners,
        "margins": connections.map(|one| connection(plan, margins, one)).collect::<Vec<_>>(),
        "not_known": margins.not_known.iter().map(|one| not_known(plan, one)).collect::<Vec<_>>(),
        "states_lost": lost.collect::<Vec<_>>(),
        "not_settled": names(&margins.unknown),
        "levels_settled": margins.settled,
        "elements_evaluated": margins.evaluated,
    })
}

fn mending(plan: &Plan, one: &Mending) -> Value {
    let mut fields = match &one.remedy {
        Remedy::Closer(resistors) => {
            let resistors = resistors.iter().map(|&(circuit, part)| {
                let circuit = &plan.design.circuits[circuit.0];
                json!({ "circuit": circuit.name, "part": circuit.parts[part].mark })
            });
            json!({ "resistors": resistors.collect::<Vec<_>>(), "tolerance": CLOSE })
        }
        Remedy::Trimmer(unit) => json!({ "trimmer_in": plan.members[*unit].name }),
    };
    fields["spare_volts"] = json!(one.volts);
    fields
}

fn not_known(plan: &Plan, one: &NotKnown) -> Value {
    let beyond = match &one.missing {
        Missing::Beyond(beyond) => Some(beyond),
        Missing::Level | Missing::Threshold => None,
    };
    json!({
        "net": plan.nets[one.net].name,
        "driver": one.driver.map(|driver| pin(plan, driver)),
        "load": pin(plan, one.load),
        "missing": match one.missing {
            Missing::Level => "level",
            Missing::Threshold => "threshold",
            Missing::Beyond(_) => "beyond",
        },
        "beyond": beyond.map(|beyond| json!({
            "when": tables::up_or_down(beyond.up),
            "looked_to_volts": beyond.volts,
            "level_volts": beyond.level,
            "short": beyond.falls_short(),
        })),
        "corner": one.corner,
    })
}

fn alone_case(case: &AloneCase) -> Value {
    let connections: Vec<&ConnectionMargin> = case.margins.connections.iter().collect();
    let mut fields = found(&case.plan, &case.margins, &connections);
    let (plan, margins) = (&case.plan, &case.margins);
    let duties = margins.duties.iter();
    let duties_not_known = margins.duties_not_known.iter();
    let free = margins.free.iter();
    fields["parts"] = duties.map(|one| duty(plan, margins, one)).collect();
    fields["parts_not_known"] = duties_not_known
        .map(|one| duty_not_known(plan, one))
        .collect();
    fields["outputs"] = free.map(|one| free_output(plan, margins, one)).collect();
    fields["circuit"] = json!(case.plan.members[0].name);
    fields["most_loads"] = json!(case.loads);
    fields["used"] = json!(is_used(case.plan.design, case));
    fields
}

pub(super) fn pin(plan: &Plan, (member, signal): (MemberIndex, usize)) -> Value {
    let signals = &plan.circuit(member).interface.signals;
    json!({ "unit": plan.members[member].name, "signal": signals[signal] })
}

fn connection(plan: &Plan, margins: &Margins, connection: &ConnectionMargin) -> Value {
    let standing = Standing::smallest(connection);
    json!({
        "net": plan.nets[connection.net].name,
        "driver": connection.driver.map(|driver| pin(plan, driver)),
        "load": pin(plan, connection.load),
        "when": tables::up_or_down(standing.up),
        "spare_volts": standing.side().volts,
        "thin_below_volts": connection.thin_below,
        "down": side(plan, margins, &connection.down),
        "up": side(plan, margins, &connection.up),
    })
}

fn side(plan: &Plan, margins: &Margins, side: &SideMargin) -> Value {
    json!({
        "book_volts": side.book_volts,
        "worst_volts": side.volts,
        "corner": side.corner,
        "by_corner_volts": side.by_corner,
        "level_volts": side.level,
        "threshold_volts": side.threshold,
        "level_case": case(plan, &side.level_case),
        "threshold_case": case(plan, &side.threshold_case),
        "rails": rails_moved(plan, margins, side).iter().map(|moved| json!({
            "rail": plan.design.rails[moved.rail].name,
            "volts": moved.stands,
            "effect_volts": moved.volts,
            "volts_per_percent": moved.volts_per_cent,
        })).collect::<Vec<_>>(),
        "in_words": case_in_words(plan, margins, side),
    })
}

/// What is asked of a part, its unit in the name of no field: it stands beside.
fn duty(plan: &Plan, margins: &Margins, duty: &DutyMargin) -> Value {
    json!({
        "unit": plan.members[duty.member].name,
        "part": plan.circuit(duty.member).parts[duty.part].mark,
        "must": tables::must(duty.asked),
        "quantity": unit_of(duty.asked),
        "spare": duty.spare,
        "book_spare": Some(duty.book).filter(|spare| spare.is_finite()),
        "thin_below": duty.thin_below,
        "reading": duty.reading,
        "limit": duty.limit,
        "corner": duty.corner,
        "by_corner": duty.by_corner,
        "case": case(plan, &duty.case),
        "in_words": duty_in_words(plan, margins, duty),
    })
}

fn unit_of(asked: Asked) -> &'static str {
    match asked.unit() {
        Unit::Ampere => "amps",
        Unit::Watt => "watts",
        _ => "volts",
    }
}

fn duty_not_known(plan: &Plan, one: &DutyNotKnown) -> Value {
    let circuit = plan.circuit(one.member);
    json!({
        "unit": plan.members[one.member].name,
        "part": circuit.parts[circuit.duties[one.duty].part].mark,
        "must": tables::must(one.asked),
        "corner": one.corner,
    })
}

fn free_output(plan: &Plan, margins: &Margins, output: &FreeOutput) -> Value {
    let side = |level: &FreeLevel| {
        json!({
            "level_volts": level.volts,
            "corner": level.corner,
            "by_corner_volts": level.by_corner,
            "level_case": case(plan, &level.case),
            "in_words": free_in_words(plan, margins, level),
        })
    };
    json!({
        "net": plan.nets[output.net].name,
        "driver": pin(plan, output.driver),
        "swing_volts": output.swing,
        "corner": output.corner,
        "book_swing_volts": output.book_swing,
        "down": side(&output.down),
        "up": side(&output.up),
    })
}

fn case(plan: &Plan, case: &Case) -> Value {
    json!({
        "inputs": case.inputs,
        "loads_other_inputs_up": case.others == Others::Up,
        "moved": case.moved.iter().map(|one| moved(plan, one)).collect::<Vec<_>>(),
    })
}

/// The name of a quantity, and that of the field in which its value stands, after its unit.
pub(super) fn quantity_and_field(quantity: Quantity) -> (&'static str, &'static str) {
    match quantity {
        Quantity::Ohms => ("resistance", "share"),
        Quantity::Current => ("current", "share"),
        Quantity::Mu => ("mu", "share"),
        Quantity::CutOff => ("cut-off", "volts"),
        Quantity::Reverse => ("reverse grid current", "amps"),
        Quantity::Saturation => ("saturation current", "share"),
        Quantity::Leakage => ("leakage", "siemens"),
        Quantity::Strike => ("striking volts", "volts"),
        Quantity::Maintain => ("volts when lit", "volts"),
        Quantity::Temperature => ("temperature", "kelvin"),
        Quantity::HeaterVolts => ("heater volts", "share_above"),
    }
}

fn moved(plan: &Plan, moved: &Moved) -> Value {
    let (quantity, field) = quantity_and_field(moved.quantity);
    let (unit, part) = match moved.piece {
        Piece::Part(part) => (
            Some(&plan.members[moved.member].name),
            plan.circuit(moved.member).parts[part].mark.clone(),
        ),
        other => (None, piece_name(plan, moved.member, other)),
    };
    json!({
        "unit": unit,
        "part": part,
        "units_alike": moved.count,
        "quantity": quantity,
        "stands": { field: moved.value },
        "end": { field: moved.end },
        "other_half": moved.other_half.map(|share| json!({ "share": share })),
        "effect_volts": Some(moved.volts).filter(|volts| volts.is_finite()),
        "volts_per_percent": moved.volts_per_cent().filter(|volts| volts.is_finite()),
    })
}
