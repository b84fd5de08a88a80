//! The marginal check: how far each rail can be moved, and which tube is to blame.

use super::asking::{answer, find};
use super::progress::Stages;
use super::{edition, judged, remark, say};
use crate::Ending;
use crate::cli::Speech;
use crate::defaults::{CONTEXT, METER_OHMS, SPREAD};
use crate::files::write;
use design::model::{Design, Rail, RailId};
use network::margins::marginal::{
    FURTHEST_SHARE, MarginalCheck, can_be_moved, marginal_check, moved_rails as moved_by_levels,
    stands_at, suspects,
};
use network::verdict::Verdict;
use std::path::Path;
use text::quantity::{self, Unit};

/// How far each rail can be moved each way before something fails, or the sheet for the bench as a page.
pub fn marginal(path: &Path, to: Option<&Path>, speech: &Speech) -> Result<Ending, String> {
    if let Some(file) = to.filter(|file| file.extension().is_none_or(|ending| ending != "html")) {
        return Err(format!(
            "{}: the sheet is written as .html; let the name of the file end in that, such as --to sheet.html",
            file.display()
        ));
    }
    answer(path, speech, |design, sources| {
        let verdict = judged(design);
        let check = moved_rails(&verdict);
        if let Some(file) = to.filter(|_| check.stands && !check.moved.is_empty()) {
            let page = report::html::marginal_page(&verdict, &check, &edition(), speech.wording());
            write(file, &page)?;
            remark(&format!(
                "The sheet for the bench stands in {}; print it.",
                file.display()
            ));
            if !speech.json {
                return Ok(Ending::Well);
            }
        }
        say(
            speech,
            |terminal| report::terminal::marginal(&verdict, &check, sources, terminal),
            || report::record::marginal(&verdict, &check),
        );
        Ok(if check.stands {
            Ending::Well
        } else {
            Ending::Fault
        })
    })
}

/// The marginal check at the program's defaults, with what it is at told now and then.
pub fn moved_rails(verdict: &Verdict) -> MarginalCheck {
    let meter_ohms = verdict.plan.design.bench.meter_ohms.unwrap_or(METER_OHMS);
    let mut stages = Stages::new("marginal check");
    let check = marginal_check(verdict, meter_ohms, &SPREAD, &CONTEXT, &mut |stage| {
        stages.tell(stage);
    });
    stages.end();
    check
}

/// What is to blame, alone, for a failure at some volts of a rail.
pub fn to_blame(
    rail: &str,
    fails_at: &str,
    path: &Path,
    speech: &Speech,
) -> Result<Ending, String> {
    answer(path, speech, |design, _| {
        let (rail, volts) = rail_and_volts(design, rail, fails_at)?;
        let verdict = judged(design);
        if !can_be_moved(&verdict, rail) {
            let name = &design.rails[rail.0].name;
            return Err(format!("{name} feeds no circuit; name a rail that does"));
        }
        if !stands_at(&verdict, rail, None, &CONTEXT) {
            return Err("with the rails as typed and parts by the book something fails already: `valvewright check` says what; mend that first".to_owned());
        }
        if !stands_at(&verdict, rail, Some(volts), &CONTEXT) {
            return Err(too_far(&verdict, rail, volts));
        }
        let found = suspects(&verdict, rail, volts, &SPREAD, &CONTEXT);
        say(
            speech,
            |terminal| report::terminal::suspects(&verdict, rail, volts, &found, terminal),
            || report::record::suspects(&verdict, rail, volts, &found),
        );
        Ok(Ending::Well)
    })
}

/// A rail and the volts at which a machine fails, or everything that is wrong with them.
fn rail_and_volts(design: &Design, rail: &str, fails_at: &str) -> Result<(RailId, f64), String> {
    let names = design.rails.iter().map(|rail| rail.name.as_str());
    let found = find("rail", rail, names).map(RailId);
    let volts = super::measure(fails_at, Unit::Volt)
        .ok_or_else(|| format!("{fails_at} is not volts of a rail; type them like 27V or -20V"));
    match (found, volts) {
        (Ok(id), Ok(volts)) => {
            within_reach(&design.rails[id.0], volts)?;
            Ok((id, volts))
        }
        (found, volts) => {
            let problems = [found.err(), volts.err()];
            Err(problems
                .into_iter()
                .flatten()
                .collect::<Vec<_>>()
                .join("\n"))
        }
    }
}

/// Refuses volts of the wrong sign and such as no rail is moved to.
fn within_reach(rail: &Rail, volts: f64) -> Result<(), String> {
    let (name, typed) = (&rail.name, quantity::show(rail.volts, Unit::Volt, 4));
    let asked = quantity::show(volts, Unit::Volt, 4);
    if volts * rail.volts <= 0.0 {
        return Err(format!(
            "{name} is {typed} and never {asked}: type the volts with the sign of the rail"
        ));
    }
    let share = (volts / rail.volts - 1.0).abs();
    if share < 1e-6 {
        return Err(format!(
            "{name} is typed {asked}: a machine that fails there has something to mend; type the volts to which the rail was moved when it failed"
        ));
    }
    if FURTHEST_SHARE < share {
        let ends = [1.0 - FURTHEST_SHARE, 1.0 + FURTHEST_SHARE]
            .map(|share| quantity::show(share * rail.volts, Unit::Volt, 4));
        return Err(format!(
            "{name} is {typed}, and {asked} is more than {:.0} % off: name volts between {} and {}",
            100.0 * FURTHEST_SHARE,
            ends[0],
            ends[1]
        ));
    }
    Ok(())
}

/// Says that parts by the book fail there as well, and how far they stand.
fn too_far(verdict: &Verdict, rail: RailId, volts: f64) -> String {
    let moved = moved_by_levels(verdict, &CONTEXT);
    let typed = &verdict.plan.design.rails[rail.0];
    let larger = typed.volts.abs() < volts.abs();
    let reach = moved
        .iter()
        .find(|moved| moved.rail == rail && moved.larger == larger)
        .map_or_else(String::new, |moved| {
            format!(
                " (they stand to {})",
                quantity::show(moved.stands, Unit::Volt, 4)
            )
        });
    format!(
        "with {} at {} parts by the book fail as well{reach}, so no tube need be weak: name volts nearer to the {} typed",
        typed.name,
        quantity::show(volts, Unit::Volt, 4),
        quantity::show(typed.volts, Unit::Volt, 4)
    )
}
