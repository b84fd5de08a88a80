//! The marginal check as a record.

use super::margins::pin;
use super::margins::quantity_and_field;
use super::record;
use crate::{sentence, tables};
use design::model::RailId;
use network::margins::marginal::{
    Apart, Failure, MarginalCheck, Near, Suspect, Why, faults_as_typed,
};
use network::plan::NetIndex;
use network::rows::Others;
use network::verdict::Verdict;
use serde_json::{Value, json};

/// How far each rail can be moved each way, in the order of the bench; of a machine that fails as typed what does.
#[must_use]
pub fn marginal(verdict: &Verdict, check: &MarginalCheck) -> Value {
    let steps = check.order.iter().enumerate();
    let mut said = Vec::new();
    if check.stands {
        said.extend(sentence::before_the_rails_move());
        said.extend(sentence::about_marginal(verdict, check));
    } else {
        said.extend(sentence::fails_as_typed(verdict, check));
    }
    let faults = faults_as_typed(verdict).into_iter();
    let fields = json!({
        "stands_as_typed": check.stands,
        "fails_as_typed": check.fails_as_typed.as_ref().map(|first| failure(verdict, first)),
        "faults_as_typed": faults.map(|fault| json!({ "name": fault.name, "subject": fault.subject })).collect::<Vec<_>>(),
        "steps": steps.map(|(index, &place)| step(verdict, check, index, place)).collect::<Vec<_>>(),
        "meter_ohms": check.meter_ohms,
        "heaters": check.heaters.iter().map(|heated| json!({
            "share": heated.share,
            "fails_at_share": heated.fails_at,
            "fails_first": heated.first.as_ref().map(|first| failure(verdict, first)),
            "read": heated.next.iter().take(tables::READ).map(|one| near(verdict, one)).collect::<Vec<_>>(),
        })).collect::<Vec<_>>(),
        "said": said,
    });
    record("marginal", fields)
}

fn step(verdict: &Verdict, check: &MarginalCheck, index: usize, place: usize) -> Value {
    let moved = &check.moved[place];
    let rail = &verdict.plan.design.rails[moved.rail.0];
    let apart = check.apart[place].as_ref();
    json!({
        "rail": rail.name,
        "away_from_ground": moved.larger,
        "typed_volts": rail.volts,
        "stands_to_volts": moved.stands,
        "fails_at_volts": moved.fails,
        "fails_first": moved.first.as_ref().map(|first| failure(verdict, first)),
        "stopped_by": moved.stopped.as_ref().map(|stop| json!({
            "subject": stop.subject,
            "what": stop.what,
            "rating": stop.rating,
        })),
        "moved_share": moved.stands / rail.volts - 1.0,
        "read": tables::to_read(moved).into_iter().map(|one| near(verdict, one)).collect::<Vec<_>>(),
        "told_apart": apart.map(|apart| told_apart(verdict, index + 1, &rail.name, apart)),
    })
}

/// What fails first, how, at which tube and in which state.
fn failure(verdict: &Verdict, first: &Failure) -> Value {
    let plan = &verdict.plan;
    let tube = first.tube.map(|(member, part)| {
        let (tube, device) = sentence::tube_of(verdict, member, part);
        json!({
            "unit": plan.members[member].name,
            "part": plan.circuit(member).parts[part].mark,
            "tube": Some(tube).filter(|tube| !tube.is_empty()),
            "type": device,
            "at": sentence::tube_that_gives_way(verdict, first),
        })
    });
    json!({
        "by": match first.why {
            Why::Short => "short",
            Why::Loses => "state lost",
            Why::NotKnown => "no threshold",
            Why::NotDone => "not done",
        },
        "units": first.members.iter().map(|&member| &plan.members[member].name).collect::<Vec<_>>(),
        "what": sentence::what_fails(verdict, first),
        "finding": first.not_done.as_ref().map(|finding| finding.name),
        "connection": first.near.as_ref().map(|one| near(verdict, one)),
        "tube": tube,
        "state": nets(verdict, first.state.iter().map(|(net, up)| (*net, *up))),
    })
}

/// Nets with where they stand.
fn nets(verdict: &Verdict, all: impl Iterator<Item = (NetIndex, bool)>) -> Value {
    let each = all.map(
        |(net, up)| json!({ "net": verdict.plan.nets[net].name, "when": tables::up_or_down(up) }),
    );
    each.collect()
}

/// What tells the suspects of a step apart.
fn told_apart(verdict: &Verdict, step: usize, rail: &str, apart: &Apart) -> Value {
    let all = |suspects: &[Suspect]| -> Vec<Value> {
        let each = suspects.iter();
        each.map(|one| suspect(verdict, one)).collect()
    };
    let places = apart.places.iter().zip(&apart.good);
    let mut said = vec![sentence::how_to_bring_about(verdict, step, apart)];
    said.extend(sentence::left_open(verdict, step, rail, apart));
    json!({
        "fails_at_volts": apart.fails_at,
        "set_up": apart.set_up.as_ref().map(|set_up| json!({
            "switches": nets(verdict, set_up.switches.iter().copied()),
            "held": nets(verdict, set_up.held.iter().copied()),
            "stored": nets(verdict, set_up.stored.iter().copied()),
        })),
        "places": places.map(|(place, good)| json!({
            "at": sentence::meter_at(verdict, *place),
            "good_volts": good,
        })).collect::<Vec<_>>(),
        "rows": apart.rows.iter().map(|row| json!({
            "suspects": all(&row.suspects),
            "volts": row.volts,
        })).collect::<Vec<_>>(),
        "not_told": all(&apart.untold),
        "further": apart.further,
        "said": said,
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
    let rail = &verdict.plan.design.rails[rail.0];
    let all = suspects.iter().map(|one| suspect(verdict, one));
    let fields = json!({
        "rail": rail.name,
        "fails_at_volts": volts,
        "suspects": all.collect::<Vec<_>>(),
        "said": sentence::about_suspects(rail, volts, suspects),
    });
    record("suspects", fields)
}

fn suspect(verdict: &Verdict, suspect: &Suspect) -> Value {
    let plan = &verdict.plan;
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
}
