//! Margins in the worst case, as a record.

use super::record;
use super::results::finding_list;
use crate::margins::{Standing, Whose, WorstCases};
use crate::{sentence, tables};
use network::margins::cases::{case_in_words, piece_name};
use network::margins::{Case, ConnectionMargin, Margins, Moved, SideMargin};
use network::plan::MemberIndex;
use network::rows::Others;
use network::variation::{Piece, Quantity};
use network::verdict::Verdict;
use serde_json::{Value, json};
use text::source::SourceMap;

/// Margins in the worst case, the smallest first.
#[must_use]
pub fn margins(verdict: &Verdict, worst: &WorstCases, whose: Whose, sources: &SourceMap) -> Value {
    let margins = worst.margins;
    let plan = &verdict.plan;
    let rails = &plan.design.rails;
    let corners = margins.corners.iter().map(|corner| {
        let all = rails.iter().zip(&corner.volts).zip(&corner.sides);
        let all = all.map(
            |((rail, volts), side)| json!({ "rail": rail.name, "volts": volts, "side": side }),
        );
        Value::Array(all.collect())
    });
    let connections = whose.connections(verdict, margins);
    let names = |members: &[MemberIndex]| -> Vec<&str> {
        let names = members
            .iter()
            .map(|&member| plan.members[member].name.as_str());
        names.collect()
    };
    let not_known = margins
        .not_known
        .iter()
        .map(|&(net, load)| json!({ "net": plan.nets[net].name, "load": pin(verdict, load) }));
    let bands = sentence::varied(verdict, worst).into_iter().map(|band| {
        json!({ "what": band.what, "of": band.of, "between": band.band, "source": band.source })
    });
    let spread = &margins.spread;
    let fields = json!({
        "corners": corners.collect::<Vec<_>>(),
        "every_corner": margins.all_corners,
        "margins": connections.iter().map(|one| connection(verdict, margins, one)).collect::<Vec<_>>(),
        "findings": finding_list(&whose.findings(verdict, margins), sources),
        "not_known": not_known.collect::<Vec<_>>(),
        "states_lost": names(&margins.lost),
        "not_settled": names(&margins.unknown),
        "levels_settled": margins.settled,
        "elements_evaluated": margins.evaluated,
        "varied": bands.collect::<Vec<_>>(),
        "assumed": {
            "least_current_share": spread.tube_current.0,
            "most_current_share": spread.tube_current.1,
            "aged_current_share": spread.aged,
            "least_mu_share": spread.mu.0,
            "most_mu_share": spread.mu.1,
            "cut_off_volts": spread.cut_off_volts,
            "saturation_times": spread.saturation_times,
        },
        "said": sentence::about_margins(margins),
    });
    record("margins", fields)
}

pub(super) fn pin(verdict: &Verdict, (member, signal): (MemberIndex, usize)) -> Value {
    let plan = &verdict.plan;
    let signals = &plan.circuit(member).interface.signals;
    json!({ "unit": plan.members[member].name, "signal": signals[signal] })
}

fn connection(verdict: &Verdict, margins: &Margins, connection: &ConnectionMargin) -> Value {
    let standing = Standing::smallest(connection);
    json!({
        "net": verdict.plan.nets[connection.net].name,
        "driver": connection.driver.map(|driver| pin(verdict, driver)),
        "load": pin(verdict, connection.load),
        "when": tables::up_or_down(standing.up),
        "spare_volts": standing.side().volts,
        "thin_below_volts": standing.thin_below(verdict),
        "down": side(verdict, margins, &connection.down),
        "up": side(verdict, margins, &connection.up),
    })
}

fn side(verdict: &Verdict, margins: &Margins, side: &SideMargin) -> Value {
    json!({
        "book_volts": side.book_volts,
        "worst_volts": side.volts,
        "corner": side.corner,
        "by_corner_volts": side.by_corner,
        "level_volts": side.level,
        "threshold_volts": side.threshold,
        "level_case": case(verdict, &side.level_case),
        "threshold_case": case(verdict, &side.threshold_case),
        "in_words": case_in_words(&verdict.plan, margins, side),
    })
}

fn case(verdict: &Verdict, case: &Case) -> Value {
    json!({
        "inputs": case.inputs,
        "loads_other_inputs_up": case.others == Others::Up,
        "moved": case.moved.iter().map(|one| moved(verdict, one)).collect::<Vec<_>>(),
    })
}

/// The value stands in a field named after its unit.
fn moved(verdict: &Verdict, moved: &Moved) -> Value {
    let plan = &verdict.plan;
    let (quantity, field) = match moved.quantity {
        Quantity::Ohms => ("resistance", "share"),
        Quantity::Current => ("current", "share"),
        Quantity::Mu => ("mu", "share"),
        Quantity::CutOff => ("cut-off", "volts"),
        Quantity::Reverse => ("reverse grid current", "amps"),
        Quantity::Saturation => ("saturation current", "share"),
        Quantity::Leakage => ("leakage", "siemens"),
        Quantity::Strike => ("striking volts", "volts"),
        Quantity::Maintain => ("volts when lit", "volts"),
    };
    let (unit, part) = match moved.piece {
        Piece::Part(part) => (
            Some(&plan.members[moved.member].name),
            plan.circuit(moved.member).parts[part].mark.clone(),
        ),
        bench => (None, piece_name(plan, moved.member, bench)),
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
