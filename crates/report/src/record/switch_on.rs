//! What happens at switch-on, as a record.

use super::record;
use super::results::{amount, finding_list};
use crate::sentence;
use design::model::RailId;
use network::finding::Amount;
use network::switch_on::{Order, Overload, SoftStart, Tubes};
use network::verdict::Verdict;
use serde_json::{Value, json};
use text::source::SourceMap;

/// What happens at switch-on.
#[must_use]
pub fn switch_on(verdict: &Verdict, sources: &SourceMap) -> Value {
    let design = verdict.plan.design;
    let rails = |rails: &[RailId]| -> Vec<&str> {
        let names = rails.iter().map(|rail| design.rails[rail.0].name.as_str());
        names.collect()
    };
    let switch_on = &verdict.switch_on;
    let cases: Vec<Value> = switch_on
        .cases
        .iter()
        .map(|case| {
            json!({
                "missing": rails(&case.conditions.missing),
                "cold": case.tubes == Tubes::Cold,
                "partly_cold": case.tubes == Tubes::PartlyCold,
                "highest_plate_volts": case.plate_volts,
                "lowest_grid_volts": case.grid_volts.map(|grids| grids.0),
                "highest_grid_volts": case.grid_volts.map(|grids| grids.1),
                "nearest": case.nearest.as_ref().map(overload),
                "overloads": case.overloads.iter().map(overload).collect::<Vec<_>>(),
                "known": case.known,
            })
        })
        .collect();
    let (order, forced) = match &switch_on.order {
        Order::Found {
            rails: found,
            forced,
        } => (Some(rails(found)), Some(*forced)),
        Order::Nowhere => (Some(Vec::new()), Some(true)),
        Order::NotTried => (None, None),
    };
    let fields = json!({
        "cases": cases,
        "order": order,
        "order_forced": forced,
        "units_left_out": switch_on.left_out,
        "soft_starts": switch_on.soft_starts.iter().map(|soft| soft_start(verdict, soft)).collect::<Vec<_>>(),
        "findings": finding_list(&verdict.switch_on_findings(), sources),
        "to_do": sentence::about_switch_on(verdict),
    });
    record("switch_on", fields)
}

fn overload(overload: &Overload) -> Value {
    json!({
        "subject": overload.subject,
        "has": amount(&Amount::new(overload.what.clone(), overload.has, overload.unit)),
        "limit": amount(&Amount::new(overload.limit_name.clone(), overload.limit, overload.unit)),
        "further_units": overload.further,
    })
}

fn soft_start(verdict: &Verdict, soft: &SoftStart) -> Value {
    let design = verdict.plan.design;
    let name = |string: usize| design.strings[string].name.as_str();
    let known = !soft.passing.is_empty();
    json!({
        "supply": sentence::supply(verdict, soft),
        "strings": soft.strings.iter().map(|string| name(*string)).collect::<Vec<_>>(),
        "with_thermistors": soft.with_thermistors.iter().map(|string| name(*string)).collect::<Vec<_>>(),
        "running_amps": soft.running_amps,
        "cold_amps": soft.cold_amps,
        "resistors": soft.steps.iter().map(|step| json!({
            "ohms": step.ohms,
            "watts": step.watts,
            "amps_at_first": step.amps,
            "share_of_volts": step.share,
            "shorted_after_seconds": Some(step.seconds).filter(|_| known),
        })).collect::<Vec<_>>(),
        "amps_when_shorted": soft.last_amps,
        "passing": soft.passing.iter().map(|passing| json!({
            "string": name(passing.string),
            "volts": passing.volts,
            "share": passing.share,
            "seconds": passing.seconds,
        })).collect::<Vec<_>>(),
    })
}
