//! Switch-on: where everything stands with cold tubes and with each rail missing, which order of the rails keeps every
//! rating, and how the heaters may be brought up gently.
//!
//! What lasts as long as a rail is missing is computed, and not what passes in a moment.

use crate::cause::Raw;
use crate::finding::{Amount, Finding, capitalised};
use crate::judge::Context;
use crate::plan::Plan;
use crate::ratings::advice;
use crate::surroundings::Surroundings;
use crate::verdict::Verdict;
use crate::work::Budget;
use design::model::RailId;
use heated::{TubeSet, heated_by};
use overloads::{Stresses, stresses};
use standing::{Standing, stand};
use std::collections::{BTreeMap, BTreeSet};
use text::diagnostic::Severity;
use text::quantity::{Unit, show};

mod heated;
pub mod order;
mod overloads;
mod soft_start;
mod standing;

pub use heated::Tubes;
pub use order::Order;
pub use overloads::Overload;
pub use soft_start::{MOST_SHARE, Passing, SoftStart, Step, soft_starts};
pub use standing::Conditions;

/// From this many times a rating on, what a missing rail does is a fault and not a caution: chosen. A rating stands well
/// below what destroys at once, but half as much again leaves nothing of that.
const FAR_SHARE: f64 = 1.5;

/// Currents and watts that follow from the curve of a tube count from this much beyond the rating on: chosen, curves fitted
/// to a sheet are no better. Volts count from the rating on.
const CURVE_SHARE: f64 = 0.05;

/// Names of the findings made here.
pub const FINDINGS: [&str; 3] = ["cold-tubes", "rail-missing", "no-rail-order"];

/// One case.
#[derive(Debug, Clone, PartialEq)]
pub struct Case {
    /// What is missing, and whether all tubes are cold.
    pub conditions: Conditions,
    /// Which tubes are cold.
    pub tubes: Tubes,
    /// Highest plate volts against the cathode.
    pub plate_volts: Option<f64>,
    /// Lowest and highest grid volts against the cathode.
    pub grid_volts: Option<(f64, f64)>,
    /// What stands nearest to its rating, or furthest beyond.
    pub nearest: Option<Overload>,
    /// What exceeds a rating, and does not when all is well: worst first.
    pub overloads: Vec<Overload>,
    /// Every unit came to rest, and the volts between them stood still.
    pub known: bool,
}

/// Everything about switching on.
#[derive(Debug, Clone, PartialEq)]
pub struct SwitchOn {
    /// Cold tubes with all rails up; then each rail missing, with warm tubes (but for those that it heats; not where it
    /// heats all) and with cold ones.
    pub cases: Vec<Case>,
    /// The order of rails.
    pub order: Order,
    /// Proposals for the heaters.
    pub soft_starts: Vec<SoftStart>,
    /// Units left out because they have a fault of their own.
    pub left_out: usize,
}

impl SwitchOn {
    /// Of a machine in which nothing was looked at.
    #[must_use]
    pub(crate) fn none() -> Self {
        Self {
            cases: Vec::new(),
            order: Order::NotTried,
            soft_starts: Vec::new(),
            left_out: 0,
        }
    }

    /// What exceeds a rating while a rail is missing: one for each place, worst first.
    fn while_missing(&self, rail: RailId) -> Vec<&Overload> {
        let mut worst: BTreeMap<&overloads::Place, &Overload> = BTreeMap::new();
        let cases = self.cases.iter();
        for case in cases.filter(|case| case.conditions.missing == [rail]) {
            for overload in &case.overloads {
                let known = worst.entry(&overload.place).or_insert(overload);
                if known.share() < overload.share() {
                    *known = overload;
                }
            }
        }
        let mut all: Vec<&Overload> = worst.into_values().collect();
        all.sort_by(|left, right| right.share().total_cmp(&left.share()));
        all
    }
}

/// Judges every case; `raw` is what was found before. Units that have a fault of their own already are left out.
pub(crate) fn check(
    verdict: &Verdict,
    raw: &[Raw],
    budget: &mut Budget,
    context: &Context,
) -> (SwitchOn, Vec<Finding>) {
    let soft_starts = soft_starts(&verdict.plan, &context.assumptions.heaters);
    let mut switch_on = SwitchOn {
        soft_starts,
        ..SwitchOn::none()
    };
    if verdict.plan.members.is_empty() {
        return (switch_on, Vec::new());
    }
    let mut judge = Judge::new(verdict, raw, budget, context);
    switch_on.left_out = judge.left_out.iter().filter(|left_out| **left_out).count();
    let rails: Vec<RailId> = (0..verdict.plan.design.rails.len()).map(RailId).collect();
    switch_on.cases.push(judge.case(Conditions {
        missing: Vec::new(),
        cold: true,
    }));
    for rail in &rails {
        for cold in [false, true] {
            let conditions = judge.conditions(&[*rail], cold);
            if conditions.cold == cold {
                switch_on.cases.push(judge.case(conditions));
            }
        }
    }
    let design = verdict.plan.design;
    let carries = |rail: &RailId| {
        design
            .rails
            .iter()
            .any(|other| other.stands_on == Some(*rail))
    };
    let breaks = |rail: &RailId| !switch_on.while_missing(*rail).is_empty();
    let forced = rails.iter().any(breaks);
    let mut ordered: Vec<RailId> = rails
        .iter()
        .copied()
        .filter(|rail| judge.feeds[rail.0] || carries(rail) || breaks(rail))
        .collect();
    // Preferred: bias first, the highest plates last (common practice, no source).
    ordered.sort_by(|left, right| {
        let volts = |rail: &RailId| design.rails[rail.0].volts;
        volts(left).total_cmp(&volts(right))
    });
    let fine = |missing: &[RailId]| {
        let kept = |cold: bool| {
            let conditions = judge.conditions(missing, cold);
            let mut cases = switch_on.cases.iter();
            match cases.find(|case| case.conditions == conditions) {
                Some(case) => case.overloads.is_empty(),
                None => judge.case(conditions).overloads.is_empty(),
            }
        };
        [false, true].into_iter().all(kept)
    };
    let order = order::find(&ordered, forced, fine);
    switch_on.order = order;
    let findings = findings(verdict, &switch_on);
    (switch_on, findings)
}

/// What the cases have in common.
struct Judge<'a> {
    verdict: &'a Verdict<'a>,
    budget: &'a mut Budget,
    context: &'a Context,
    /// The surroundings of every member.
    arounds: Vec<Surroundings>,
    /// Members that can be solved.
    usable: Vec<bool>,
    /// Members that are not judged.
    left_out: Vec<bool>,
    /// For each rail whether anything but heaters hangs on it.
    feeds: Vec<bool>,
    /// For each rail the tubes that are cold without it.
    heats: Vec<TubeSet>,
    /// All tubes.
    tubes: TubeSet,
    /// What was said already: name and subject.
    said: BTreeSet<(&'static str, String)>,
    /// Places that exceed a rating with warm tubes and all rails at the top of their tolerance, and with cold ones.
    usual: BTreeSet<overloads::Place>,
    cold: BTreeSet<overloads::Place>,
    standings: BTreeMap<Conditions, Standing>,
}

impl<'a> Judge<'a> {
    fn new(
        verdict: &'a Verdict<'a>,
        raw: &[Raw],
        budget: &'a mut Budget,
        context: &'a Context,
    ) -> Self {
        let results = verdict.place.results.iter();
        let usable: Vec<bool> = results
            .map(|result| result.refused.is_none() && result.settles())
            .collect();
        let mut left_out: Vec<bool> = usable.iter().map(|usable| !usable).collect();
        for item in raw {
            if item.finding.severity == Severity::Fault {
                for &member in item.members.iter().chain(&item.into) {
                    left_out[member] = true;
                }
            }
        }
        let said = raw
            .iter()
            .map(|item| (item.finding.name, item.finding.subject.clone()))
            .collect();
        let mut judge = Self {
            verdict,
            budget,
            context,
            arounds: Surroundings::of_each(&verdict.plan),
            usable,
            left_out,
            feeds: verdict.plan.feeding_rails(),
            heats: heated_by(verdict.plan.design),
            tubes: tubes(&verdict.plan),
            said,
            usual: BTreeSet::new(),
            cold: BTreeSet::new(),
            standings: BTreeMap::new(),
        };
        for cold in [false, true] {
            let conditions = Conditions {
                missing: Vec::new(),
                cold,
            };
            let (stresses, _) = judge.stresses(&conditions);
            let places = stresses.overloads.into_iter().map(|over| over.place);
            if cold {
                judge.cold = places.collect();
            } else {
                judge.usual = places.collect();
            }
        }
        judge
    }

    /// These rails missing, and the tubes cold, which they also are where the rails heat all of them.
    fn conditions(&self, missing: &[RailId], cold: bool) -> Conditions {
        let unheated = self.unheated(missing);
        let all = !unheated.is_empty() && self.tubes.is_subset(&unheated);
        Conditions {
            missing: missing.to_vec(),
            cold: cold || all,
        }
    }

    /// Tubes that are cold without these rails.
    fn unheated(&self, missing: &[RailId]) -> TubeSet {
        let tubes = missing.iter().flat_map(|rail| &self.heats[rail.0]);
        tubes.copied().collect()
    }

    /// What stands against every rating, and what it was found from. Circuits that a missing rail does not reach stand as
    /// they do with it.
    fn stresses(&mut self, conditions: &Conditions) -> (Stresses, &Standing) {
        let feeding = conditions.missing.iter().copied();
        let heats = |rail: RailId| !conditions.cold && !self.heats[rail.0].is_empty();
        let reached = Conditions {
            missing: feeding
                .filter(|&rail| self.feeds[rail.0] || heats(rail))
                .collect(),
            cold: conditions.cold,
        };
        let cold = if conditions.cold {
            self.tubes.clone()
        } else {
            self.unheated(&conditions.missing)
        };
        let plan = &self.verdict.plan;
        let standing = self.standings.entry(reached).or_insert_with_key(|reached| {
            let start = &self.verdict.place.levels;
            stand(
                &plan.clone().with_cold(cold),
                &self.arounds,
                reached,
                &self.usable,
                start,
                self.budget,
                self.context,
            )
        });
        let stresses = stresses(self.verdict, conditions, standing, &self.left_out);
        (stresses, standing)
    }

    fn case(&mut self, conditions: Conditions) -> Case {
        let (stresses, standing) = self.stresses(&conditions);
        let (tubes, known) = (standing.tubes, standing.known);
        let mut overloads = stresses.overloads;
        overloads.retain(|overload| {
            let is_cold = tubes != Tubes::Warm && self.cold.contains(&overload.place);
            let alone = is_cold && !conditions.missing.is_empty();
            let said = (overload.name, overload.subject.clone());
            let slack = match overload.unit {
                Unit::Volt => 0.0,
                _ => CURVE_SHARE,
            };
            let beyond = 1.0 + slack < overload.share();
            beyond && !alone && !self.usual.contains(&overload.place) && !self.said.contains(&said)
        });
        Case {
            conditions,
            tubes,
            plate_volts: stresses.plate_volts,
            grid_volts: stresses.grid_volts,
            nearest: stresses.nearest,
            overloads,
            known,
        }
    }
}

/// Every tube of the machine.
fn tubes(plan: &Plan) -> TubeSet {
    let members = 0..plan.members.len();
    let tubes = members.flat_map(|member| {
        let count = plan.circuit(member).tubes().count();
        (0..count).map(move |tube| (member, tube))
    });
    tubes.collect()
}

fn findings(verdict: &Verdict, switch_on: &SwitchOn) -> Vec<Finding> {
    let rails = (0..verdict.plan.design.rails.len()).map(RailId);
    let missing: Vec<Finding> = rails
        .filter_map(|rail| missing(verdict, switch_on, rail))
        .collect();
    let mut all: Vec<Finding> = cold_tubes(switch_on).into_iter().collect();
    if switch_on.order == Order::Nowhere {
        all.extend(no_order(verdict, missing));
    } else {
        all.extend(missing);
    }
    all
}

/// The worst of overloads, with the others below it.
fn gathered(
    name: &'static str,
    overloads: &[&Overload],
    severity: impl Fn(&Overload) -> Severity,
    when: &str,
) -> Option<Finding> {
    let (worst, others) = overloads.split_first()?;
    let of = |overload: &Overload, name: &'static str| {
        Finding::new(
            name,
            severity(overload),
            overload.span,
            overload.subject.clone(),
            said(overload, when),
        )
        .numbers(
            Amount::new(
                format!("{} of {}", overload.what, overload.subject),
                overload.has,
                overload.unit,
            ),
            Amount::new(overload.limit_name.clone(), overload.limit, overload.unit),
        )
    };
    Some(Finding {
        consequences: others
            .iter()
            .map(|overload| of(overload, overload.name).attempt(advice(overload.name)))
            .collect(),
        ..of(worst, name)
    })
}

/// "With the rail lower missing and the tubes warm plate dissipation of G1.V1 is 2 W, more than its rating of 1 W."
fn said(overload: &Overload, when: &str) -> String {
    let tubes = match overload.tubes {
        Tubes::Warm => "the tubes warm",
        Tubes::PartlyCold => "the tubes that it heats cold",
        Tubes::Cold => "the tubes cold",
    };
    let further = match overload.further {
        0 => String::new(),
        1 => "; in 1 further unit the same".to_owned(),
        further => format!("; in {further} further units the same"),
    };
    let (of, is) = match overload.name {
        "rail-overloaded" => (format!("the current of the {}", overload.subject), "is"),
        "heater-cathode-volts" => (
            format!("the volts from heater to cathode of {}", overload.subject),
            "are",
        ),
        _ => {
            let plural = overload.what.ends_with("volts");
            let is = if plural { "are" } else { "is" };
            (format!("{} of {}", overload.what, overload.subject), is)
        }
    };
    let sentence = format!(
        "{of} {is} {}{when} and {tubes}, more than the {} of {}{further}.",
        show(overload.has, overload.unit, 3),
        overload.limit_name.trim_start_matches("its "),
        show(overload.limit, overload.unit, 3),
    );
    capitalised(&sentence)
}

/// Every switch-on passes through cold tubes, so what they do is a fault.
fn cold_tubes(switch_on: &SwitchOn) -> Option<Finding> {
    let case = switch_on
        .cases
        .iter()
        .find(|case| case.conditions.missing.is_empty())?;
    let overloads: Vec<&Overload> = case.overloads.iter().collect();
    let when = " with every rail up";
    let finding = gathered("cold-tubes", &overloads, |_| Severity::Fault, when)?;
    Some(finding.attempt(
        "Bring the rails up only when the tubes are warm, or use parts that stand it; where a follower is pulled down, a diode to ground at its cathode holds it.",
    ))
}

/// What one rail's absence does.
fn missing(verdict: &Verdict, switch_on: &SwitchOn, rail: RailId) -> Option<Finding> {
    let design = verdict.plan.design;
    let named = |rail: RailId| design.rails[rail.0].name.as_str();
    let severity = |overload: &Overload| {
        if FAR_SHARE <= overload.share() {
            Severity::Fault
        } else {
            Severity::Caution
        }
    };
    let when = format!(" with the rail {} missing", named(rail));
    let overloads = switch_on.while_missing(rail);
    let found = gathered("rail-missing", &overloads, severity, &when)?;
    let found = Finding {
        subject: format!("rail {}", named(rail)),
        span: design.rails[rail.0].span,
        ..found
    };
    let Order::Found { rails, .. } = &switch_on.order else {
        return Some(found.attempt(
            "No order of the rails was found that mends it: use a part with a higher rating, or supplies that come up and fail together.",
        ));
    };
    let after: Vec<&str> = rails
        .iter()
        .skip_while(|other| **other != rail)
        .skip(1)
        .map(|rail| named(*rail))
        .collect();
    let all: Vec<&str> = rails.iter().map(|rail| named(*rail)).collect();
    Some(found.attempt(format!(
        "Interlock them: a relay that {} holds in switches {} on and falls off when {} fails; order of the rails: {}.",
        named(rail),
        after.join(" and "),
        named(rail),
        all.join(", ")
    )))
}

/// No order keeps every rating: one finding, with what each missing rail does below it.
fn no_order(verdict: &Verdict, missing: Vec<Finding>) -> Option<Finding> {
    let rails: Vec<&str> = missing
        .iter()
        .map(|finding| finding.subject.trim_start_matches("rail "))
        .collect();
    let severity = missing.iter().map(|finding| finding.severity).max()?;
    let worst = missing
        .iter()
        .max_by(|left, right| share(left).total_cmp(&share(right)))?;
    let cause = format!(
        "Whichever of the rails {} comes last, a rating is exceeded until it is there.",
        rails.join(", ")
    );
    let together = format!(
        "Bring {} up together: one relay with a contact in each, which falls off when any of them fails; or use parts that stand it.",
        rails.join(" and ")
    );
    let span = verdict
        .plan
        .design
        .rails
        .iter()
        .find(|rail| rails.first() == Some(&rail.name.as_str()))?
        .span;
    let mut found = Finding::new(
        "no-rail-order",
        severity,
        span,
        format!("rails {}", rails.join(", ")),
        cause,
    )
    .attempt(together);
    (found.has, found.needs) = (worst.has.clone(), worst.needs.clone());
    found.consequences = missing;
    Some(found)
}

fn share(finding: &Finding) -> f64 {
    match (&finding.has, &finding.needs) {
        (Some(has), Some(needs)) => has.value / needs.value,
        _ => 0.0,
    }
}
