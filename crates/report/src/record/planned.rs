//! The records of proposed heater strings, of another type in a socket, and of feeders.

use super::record;
use super::results::{change_fields, finding_list};
use crate::planned::{Proposal, statements};
use crate::sentence;
use crate::tables::lead;
use design::model::Design;
use network::feeders::Feeder;
use network::finding::Finding;
use network::planning::{Link, Proposed, TOLERANCE, string_name};
use network::substitution::Swap;
use serde_json::{Value, json};
use text::source::SourceMap;

/// Proposed strings; the findings on heaters, and new ones, of a design with them, where there is one.
#[must_use]
pub fn group(proposal: &Proposal, findings: Option<(&[Finding], &SourceMap)>) -> Value {
    let grouping = &proposal.grouping;
    let strings = grouping.strings.iter().enumerate();
    let left_out = grouping.left_out.iter().map(|one| {
        json!({
            "tube": proposal.tubes[one.tube].mark,
            "type": proposal.types[one.tube],
            "wants_volts": one.wants_volts,
        })
    });
    let fields = json!({
        "supply": {
            "rail": proposal.from,
            "back_to": proposal.to,
            "volts": proposal.supply.volts,
            "tolerance": proposal.supply.tolerance,
        },
        "text": statements(proposal),
        "strings": strings.map(|(index, string)| string_record(proposal, index, string)).collect::<Vec<_>>(),
        "left_out": left_out.collect::<Vec<_>>(),
        "heater_unknown": proposal.unknown,
        "amps": grouping.amps(),
        "cold_amps": grouping.cold_amps(),
        "wasted_watts": grouping.wasted_watts(),
        "least_amps": grouping.heater_watts / proposal.supply.volts,
        "findings": findings.map(|(list, sources)| finding_list(list, sources)),
    });
    record("group", fields)
}

fn string_record(proposal: &Proposal, index: usize, string: &Proposed) -> Value {
    let (nominal, ends) = string.furthest();
    json!({
        "name": string_name(index),
        "board": proposal.groups.get(string.group),
        "amps": string.amps,
        "cold_amps": string.cold_amps,
        "wasted_watts": string.wasted_watts(),
        "furthest_share": nominal,
        "furthest_share_at_ends": ends,
        "severity": sentence::severity(string.severity()),
        "links": string.links.iter().map(|link| link_record(proposal, link)).collect::<Vec<_>>(),
    })
}

fn link_record(proposal: &Proposal, link: &Link) -> Value {
    let heaters = link.heaters.iter().map(|placed| {
        json!({
            "tube": proposal.tubes[placed.tube].mark,
            "type": proposal.types[placed.tube],
            "tapped": placed.tapped,
        })
    });
    let resistor = link.resistor.as_ref().map(|resistor| {
        json!({
            "mark": resistor.mark,
            "ohms": resistor.ohms,
            "tolerance": TOLERANCE,
            "watts": resistor.watts,
            "rated_watts": resistor.rated_watts,
        })
    });
    json!({
        "heaters": heaters.collect::<Vec<_>>(),
        "resistor": resistor,
        "rated_volts": (!link.heaters.is_empty()).then_some(link.rated_volts),
        "volts": link.volts[1],
        "supply_volts": [link.volts[0], link.volts[2]],
    })
}

/// Feeders of the boards.
pub(super) fn feeder_list(design: &Design, feeders: &[Feeder]) -> Vec<Value> {
    let one = |feeder: &Feeder| {
        json!({
            "board": design.boards[feeder.board].name,
            "string": feeder.string.map(|string| &design.strings[string].name),
            "amps": feeder.amps,
            "way_metres": feeder.way_mm.map(|way| 1e-3 * way),
            "width_metres": 1e-3 * feeder.width_mm,
            "lost_volts": feeder.lost_volts,
            "warmer_by_celsius": feeder.rise,
        })
    };
    feeders.iter().map(one).collect()
}

/// What another type in a socket does.
#[must_use]
pub fn swap(swap: &Swap, sources: &SourceMap) -> Value {
    let reasons = swap.reasons.iter().map(
        |reason| json!({ "severity": sentence::severity(reason.severity), "text": reason.text }),
    );
    let heaters = swap.heaters.iter().map(|heater| {
        json!({
            "tube": heater.mark,
            "before": { "type": heater.types.0, "volts": heater.volts.0, "rated_volts": heater.rated_volts.0 },
            "after": { "type": heater.types.1, "volts": heater.volts.1, "rated_volts": heater.rated_volts.1 },
        })
    });
    let pins = swap.pins.iter().map(|pin| {
        json!({
            "pin": pin.pin,
            "before": pin.old.map(lead),
            "after": pin.new.map(lead),
            "severity": sentence::severity(pin.severity),
        })
    });
    let place = swap.place.map(|place| {
        json!({
            "amps": place.amps,
            "hot_ohms_before": place.hot_ohms.0,
            "hot_ohms_after": place.hot_ohms.1,
            "volts_at_amps": place.volts_at_amps,
            "rated_volts": place.rated_volts,
        })
    });
    let fields = json!({
        "tube": swap.mark,
        "type_before": swap.types.0,
        "type_after": swap.types.1,
        "fits": sentence::fits(swap.fit),
        "reasons": reasons.collect::<Vec<_>>(),
        "place": place,
        "heaters": heaters.collect::<Vec<_>>(),
        "tries": swap.mends,
        "pins": pins.collect::<Vec<_>>(),
        "change": swap.change.as_ref().map(|change| change_fields(change, sources)),
    });
    record("swap", fields)
}
