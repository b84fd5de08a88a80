//! The `type` statement of a tube.

use super::head::Head;
use super::lines::{self, Needs};
use super::words::Problems;
use super::{law, points, remark, spread};
use crate::fit::{FitOutcome, SampleSpread, TubeFit, fit_tube, triode_samples, validity};
use crate::spread::TubeSpread;
use crate::triode::TriodeLaw;
use crate::types::{Law, Ratings, TubeKind, TubeType};
use text::source::Span;
use text::tree::Statement;

/// Lines a tube may have.
const LINES: [&str; 10] = [
    "base",
    "heater",
    "filament",
    "limits",
    "spread",
    "capacitance",
    "point",
    "points",
    "law",
    "remark",
];

/// Lines of which there is one.
const SINGLE_LINES: [&str; 5] = ["base", "heater", "limits", "spread", "law"];

/// Reads a tube. What is not said is taken from `like`.
pub(super) fn read(
    head: &Head,
    kind: TubeKind,
    like: Option<&TubeType>,
    statement: &Statement,
    csv: &dyn Fn(&str) -> Result<String, String>,
    problems: &mut Problems,
) -> TubeType {
    let mut tube = start(head, kind, like, statement);
    let direct_line = statement
        .children
        .iter()
        .any(|line| line.kind() == "filament");
    let is_direct = direct_line
        || tube.heater.as_ref().is_some_and(|heater| heater.direct)
        || kind == TubeKind::IndicatorTriode;
    let needs = Needs {
        kind,
        twin: tube.sections == 2,
        common_cathode: tube.common_cathode,
        direct: is_direct,
    };
    let mut own_points = Vec::new();
    let mut own_law = None;
    let mut said: Vec<(&str, Span)> = Vec::new();
    for line in &statement.children {
        let name = if line.kind() == "filament" {
            "heater"
        } else {
            line.kind()
        };
        let first = said.iter().find(|(other, _)| *other == name);
        if let Some((_, first)) = first.filter(|_| SINGLE_LINES.contains(&name)) {
            problems.twice(&format!("`{name}`"), line.span, *first);
            continue;
        }
        said.push((name, line.span));
        match line.kind() {
            "base" => tube.base = lines::base(line, &needs, problems).or(tube.base),
            "heater" | "filament" => tube.heater = lines::heater(line, problems).or(tube.heater),
            "limits" => lines::limits(line, &mut tube.ratings, problems),
            "spread" => {
                tube.spread = spread::tube(line, kind, needs.twin, &tube.spread, problems);
            }
            "capacitance" => lines::capacitance(line, needs.twin, &mut tube.capacitances, problems),
            "point" | "points" => points::read(line, kind, csv, &mut own_points, problems),
            "law" => own_law = law::read(line, kind, problems),
            "remark" => tube.remarks.push(remark(line, problems)),
            _ => {
                if let Some(phrase) = line.head.first() {
                    problems.unknown(
                        "unknown-line",
                        phrase.first(),
                        "line of a tube type",
                        LINES.into_iter(),
                    );
                }
            }
        }
    }
    let is_said = |word: &str| said.iter().any(|(name, _)| *name == word);
    if let Some(own) = own_law {
        tube.law = Some(own.law);
        tube.from_prior = own.from_prior;
    }
    if own_points.is_empty() {
        return tube;
    }
    tube.points = own_points;
    tube.validity = validity(&tube.points);
    let samples = match tube.law {
        _ if !is_said("law") => fitted(&mut tube, statement.span, problems),
        Some(Law::Triode(TriodeLaw::Tail(law))) => triode_samples(&law, &tube.points),
        _ => None,
    };
    if let (false, Some(samples)) = (is_said("spread"), samples) {
        tube.spread = TubeSpread::of_samples(&samples).over(&tube.spread);
    }
    tube
}

/// The type before its lines are read.
fn start(head: &Head, kind: TubeKind, like: Option<&TubeType>, statement: &Statement) -> TubeType {
    let blank = TubeType {
        name: String::new(),
        also: Vec::new(),
        kind,
        sections: 1,
        common_cathode: false,
        base: None,
        heater: None,
        ratings: Ratings::default(),
        capacitances: Vec::new(),
        points: Vec::new(),
        law: None,
        from_prior: Vec::new(),
        validity: None,
        spread: TubeSpread::default(),
        remarks: Vec::new(),
        span: None,
    };
    let mut tube = like.cloned().unwrap_or(blank);
    tube.name.clone_from(&head.name.text);
    tube.also.clone_from(&head.also);
    tube.span = Some(statement.span);
    tube.sections = head.sections.unwrap_or(tube.sections);
    tube.common_cathode |= head.common_cathode;
    tube
}

/// Fits the law to the points; how their samples differ, if they are of several.
fn fitted(tube: &mut TubeType, span: Span, problems: &mut Problems) -> Option<SampleSpread> {
    let TubeFit {
        law,
        from_prior,
        spread,
        outcome,
        ..
    } = fit_tube(tube.kind, &tube.points);
    tube.law = (outcome != FitOutcome::NothingToFit).then_some(law);
    tube.from_prior = from_prior;
    let (name, message) = match outcome {
        FitOutcome::Settled => return spread,
        FitOutcome::NotSettled => (
            "fit-not-settled",
            "the law was not brought closer to the points within the allowed work",
        ),
        FitOutcome::NothingToFit => (
            "nothing-to-fit",
            "the points give no current, slope or mu to fit the law to",
        ),
    };
    problems.caution(
        name,
        span,
        message.to_owned(),
        "Check the points against one another; add a point at the volts you use.",
    );
    spread
}
