//! Parts that end the moving of a rail before levels do: at a rating, or where one no longer does what a sentence asks of it.

use super::moving::{NEAREST_HEATERS, NEAREST_SHARE, Window, heated_at, less_heat_volts};
use super::standing::{Standing, standings};
use super::{Failure, Heated, Moved, Stop, Telling, as_typed};
use crate::judge::Context;
use crate::verdict::{PartFault, Verdict, part_faults};
use design::model::RailId;
use rayon::prelude::*;

/// Volts on the way at which parts are looked at before the first fault is closed in on: chosen.
const STEPS: u32 = 3;

/// Ends the moving of every rail where it would pass a rating that is kept with the rails as typed, or where a part no longer does
/// what a sentence asks that it does as typed; what is to be read is then read there.
pub(super) fn stop_at_parts(
    verdict: &Verdict,
    book: &Standing,
    moved: &mut [Moved],
    telling: Telling,
    context: &Context,
) {
    let typed = Typed::of(verdict, context);
    // The first fault that there is none of as typed, with one rail at some volts as the meter says.
    let passed = |rail: RailId, volts: f64| {
        let mut design = verdict.plan.design.clone();
        design.rails[rail.0].volts = volts;
        design.rails[rail.0].tolerance = 0.0;
        let mut faults = part_faults(&design, 0.0, context).into_iter();
        faults.find(|fault| typed.lacks(fault))
    };
    let stops: Vec<Option<(Window, PartFault)>> = moved
        .par_iter()
        .map(|one| {
            let from = verdict.plan.design.rails[one.rail.0].volts;
            let nearest = NEAREST_SHARE * from.abs();
            first_passed((from, one.stands), nearest, &|volts| {
                passed(one.rail, volts)
            })
        })
        .collect();
    telling("ratings");
    for (one, stop) in moved.iter_mut().zip(stops) {
        let Some((window, PartFault { finding, asked_of })) = stop else {
            continue;
        };
        let mut corner = as_typed(verdict);
        corner.volts[one.rail.0] = window.stands;
        let standing = standings(verdict, &[corner], &[&book.thresholds], context).pop();
        one.next = match standing {
            Some(standing) if one.fails.is_some() || asked_of.is_some() => {
                standing.nearest(verdict)
            }
            _ => Vec::new(),
        };
        one.stands = window.stands;
        if let Some(member) = asked_of {
            one.fails = Some(window.fails);
            one.first = Some(Failure::not_done(verdict, member, finding));
            continue;
        }
        one.fails = None;
        one.first = None;
        one.stopped = Some(Stop {
            what: finding
                .has
                .map_or_else(|| finding.name.to_owned(), |has| has.what),
            rating: finding.needs.map_or_else(String::new, |needs| needs.what),
            subject: finding.subject,
        });
    }
}

/// Faults that there are as typed.
struct Typed(Vec<(&'static str, String)>);

impl Typed {
    fn of(verdict: &Verdict, context: &Context) -> Self {
        let faults = part_faults(verdict.plan.design, 0.0, context).into_iter();
        let named = faults.map(|fault| (fault.finding.name, fault.finding.subject));
        Self(named.collect())
    }

    fn lacks(&self, fault: &PartFault) -> bool {
        let finding = &fault.finding;
        let same = |(name, subject): &(&'static str, String)| {
            (*name, subject) == (finding.name, &finding.subject)
        };
        !self.0.iter().any(same)
    }
}

/// Ends what was done to the heaters where a lamp or load no longer does what a sentence asks that it does as typed.
pub(super) fn stop_heaters_at_parts(
    verdict: &Verdict,
    book: &Standing,
    heated: &mut [Heated],
    context: &Context,
) {
    let typed = Typed::of(verdict, context);
    heated.par_iter_mut().for_each(|one| {
        let passed = |share: f64| {
            let less = less_heat_volts(share);
            let mut faults = part_faults(verdict.plan.design, less, context).into_iter();
            faults.find(|fault| fault.asked_of.is_some() && typed.lacks(fault))
        };
        let Some((window, fault)) = first_passed((0.0, one.share), NEAREST_HEATERS, &passed) else {
            return;
        };
        let Some(member) = fault.asked_of else { return };
        one.share = window.stands;
        one.fails_at = Some(window.fails);
        one.first = Some(Failure::not_done(verdict, member, fault.finding));
        one.next = heated_at(verdict, book, window.stands, context).nearest(verdict);
    });
}

/// Where on the way no part is at fault yet and where one is, `nearest` to each other, and that fault; `None` where none is.
fn first_passed(
    (from, to): (f64, f64),
    nearest: f64,
    passed: &dyn Fn(f64) -> Option<PartFault>,
) -> Option<(Window, PartFault)> {
    let volts = |step: u32| from + (to - from) * f64::from(step) / f64::from(STEPS);
    let (step, mut found) = (1..=STEPS).find_map(|step| Some((step, passed(volts(step))?)))?;
    let mut window = Window {
        stands: volts(step - 1),
        fails: volts(step),
        spare: [None, spare(&found)],
    };
    // By how much a rating is passed is known only where it is: two such places are a straight line to where it is not.
    let mut before: Option<(f64, PartFault)> = None;
    let mut round = 0;
    while let Some(next) = window.next(round, nearest) {
        round += 1;
        match passed(next) {
            Some(now) => {
                before = Some((window.fails, std::mem::replace(&mut found, now)));
                window.put(next, false, spare(&found));
            }
            None => window.put(next, true, None),
        }
        window.spare[0] = before.as_ref().and_then(|(volts, other)| {
            let what = |fault: &PartFault| (fault.finding.name, fault.finding.subject.clone());
            let same = what(other) == what(&found);
            let (other, here) = (spare(other)?, spare(&found)?);
            let slope = (other - here) / (volts - window.fails);
            let there = here + slope * (window.stands - window.fails);
            (same && 0.0 < there).then_some(there)
        });
    }
    Some((window, found))
}

/// By how much a rating is kept, a share of it; negative where it is passed. `None` where no number is compared, or one that must not
/// be less.
fn spare(fault: &PartFault) -> Option<f64> {
    let finding = &fault.finding;
    let (has, needs) = (finding.has.as_ref()?, finding.needs.as_ref()?);
    let spare = 1.0 - (has.value / needs.value).abs();
    (spare < 0.0).then_some(spare)
}
