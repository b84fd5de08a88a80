//! The marginal check as a record.

use super::margins::pin;
use super::margins::quantity_and_field;
use super::record;
use crate::{sentence, tables};
use design::model::RailId;
use network::margins::marginal::{MarginalCheck, Moved, Near, Suspect, Why};
use network::rows::Others;
use network::verdict::Verdict;
use serde_json::{Value, json};

/// How far each rail can be moved each way, in the order of the bench.
#[must_use]
pub fn marginal(verdict: &Verdict, check: &MarginalCheck) -> Value {
    let steps = check.order.iter().map(|&place| &check.moved[place]);
    let mut said = sentence::before_the_rails_move();
    said.extend(sentence::about_marginal(verdict, check));
    let fields = json!({
        "stands_as_typed": check.stands,
        "steps": steps.map(|moved| step(verdict, moved)).collect::<Vec<_>>(),
        "heaters": check.heaters.iter().map(|heated| json!({
            "share": heated.share,
            "stands": heated.stands,
            "read": heated.next.iter().take(tables::READ).map(|one| near(verdict, one)).collect::<Vec<_>>(),
        })).collect::<Vec<_>>(),
        "said": said,
    });
    record("marginal", fields)
}

fn step(verdict: &Verdict, moved: &Moved) -> Value {
    let rail = &verdict.plan.design.rails[moved.rail.0];
    json!({
        "rail": rail.name,
        "away_from_ground": moved.larger,
        "typed_volts": rail.volts,
        "stands_to_volts": moved.stands,
        "fails_at_volts": moved.fails,
        "fails_by": moved.why.as_ref().map(|why| match why {
            Why::Short => json!("short"),
            Why::Loses(members) => json!({ "state_lost_by": members.iter().map(|&member| &verdict.plan.members[member].name).collect::<Vec<_>>() }),
            Why::NotKnown => json!("no threshold"),
        }),
        "stopped_by": moved.stopped.as_ref().map(|stop| json!({
            "subject": stop.subject,
            "what": stop.what,
            "rating": stop.rating,
        })),
        "moved_share": moved.stands / rail.volts - 1.0,
        "read": tables::to_read(moved).into_iter().map(|one| near(verdict, one)).collect::<Vec<_>>(),
    })
}

fn near(verdict: &Verdict, near: &Near) -> Value {
    json!({
        "net": verdict.plan.nets[near.net].name,
        "driver": near.driver.map(|driver| pin(&verdict.plan, driver)),
        "load": pin(&verdict.plan, near.load),
        "when": tables::up_or_down(near.up),
        "inputs": near.inputs,
        "loads_other_inputs_up": near.others == Others::Up,
        "level_volts": near.level,
        "threshold_volts": near.threshold,
        "spare_volts": near.spare(),
    })
}

/// What may be to blame for a failure at some volts of a rail.
#[must_use]
pub fn suspects(verdict: &Verdict, rail: RailId, volts: f64, suspects: &[Suspect]) -> Value {
    let plan = &verdict.plan;
    let rail = &plan.design.rails[rail.0];
    let all = suspects.iter().map(|suspect| {
        let (tube, device) = sentence::tube_of(verdict, suspect.member, suspect.part);
        let (quantity, field) = quantity_and_field(suspect.quantity);
        json!({
            "unit": plan.members[suspect.member].name,
            "part": plan.circuit(suspect.member).parts[suspect.part].mark,
            "tube": Some(tube).filter(|tube| !tube.is_empty()),
            "type": Some(device).filter(|device| !device.is_empty()),
            "quantity": quantity,
            "stands": { field: suspect.value },
            "times_its_band": suspect.times_its_band,
            "tells": suspect.tells.as_ref().map(|tells| json!({
                "net": plan.nets[tells.net].name,
                "when": tables::up_or_down(tells.up),
                "volts": tells.volts,
                "book_volts": tells.book_volts,
            })),
            "net": plan.nets[suspect.net].name,
            "when": tables::up_or_down(suspect.up),
        })
    });
    let fields = json!({
        "rail": rail.name,
        "fails_at_volts": volts,
        "suspects": all.collect::<Vec<_>>(),
        "said": sentence::about_suspects(rail, volts, suspects),
    });
    record("suspects", fields)
}
