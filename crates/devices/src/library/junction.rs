//! The `type` statement of a semiconductor diode or a neon lamp.

use super::head::Head;
use super::terms::{self, Term, Wording, needed, optional};
use super::words::{
    AMPERES, Credit, FARADS, Measure, OHMS, OHMS_OR_NONE, Problems, SLOPE, VOLTS, WATTS, Words,
    body, number_within,
};
use super::{remark, spread};
use crate::diode::{DiodeParameters, Material, THERMAL_VOLTS_300_K};
use crate::neon::NeonParameters;
use crate::spread::{DiodeSpread, NeonSpread};
use crate::types::{DiodeKind, DiodeType, Mark, NeonType, Sourced};
use text::source::Span;
use text::tree::Statement;

const DIODE_FORM: &str =
    "law junction: saturation-current 2.5nA, ideality 1.75, series-resistance 0.57";
const NEON_FORM: &str =
    "law neon: strike 80V, maintain 55V, lit-resistance 4k, hold 10uA, dark-resistance 1G";

static JUNCTION: [Term<DiodeParameters>; 8] = [
    needed("saturation-current", SATURATION_CURRENT, |law| {
        &mut law.saturation_current
    }),
    needed("ideality", number_within(0.5, 10.0), |law| {
        &mut law.ideality
    }),
    optional("series-resistance", OHMS_OR_NONE, |law| {
        &mut law.series_ohms
    }),
    optional("leakage", SLOPE, |law| &mut law.leakage_siemens),
    optional("zero-bias-capacitance", FARADS, |law| {
        &mut law.zero_bias_farads
    }),
    optional("junction-volts", VOLTS, |law| &mut law.junction_volts),
    optional("grading", number_within(0.1, 0.9), |law| &mut law.grading),
    optional::<DiodeParameters>("breakdown", VOLTS, |law| &mut law.breakdown_volts).and(&[
        (AMPERES, |law| &mut law.breakdown_amps),
        (OHMS, |law| &mut law.breakdown_ohms),
    ]),
];

/// Saturation currents go far below what a meter shows.
const SATURATION_CURRENT: Measure = AMPERES.from(1e-20);

/// A junction before its parameters are read: no series resistance, leakage, capacitance or breakdown.
const BLANK_JUNCTION: DiodeParameters = DiodeParameters {
    saturation_current: 0.0,
    ideality: 1.0,
    series_ohms: 0.0,
    thermal_volts: THERMAL_VOLTS_300_K,
    leakage_siemens: 0.0,
    breakdown_volts: f64::INFINITY,
    breakdown_amps: 0.0,
    breakdown_ohms: 0.0,
    zero_bias_farads: 0.0,
    junction_volts: 0.75,
    grading: 0.4,
    material: Material::Silicon,
};

/// Reads a diode; `None` when its law is not complete.
pub(super) fn diode(
    head: &Head,
    kind: DiodeKind,
    like: Option<&DiodeType>,
    statement: &Statement,
    problems: &mut Problems,
) -> Option<DiodeType> {
    let blank = DiodeType {
        name: String::new(),
        also: Vec::new(),
        kind,
        law: BLANK_JUNCTION,
        mark: Mark::Unmarked,
        source: String::new(),
        reverse_volts: None,
        forward_amps: None,
        watts: None,
        spread: DiodeSpread::default(),
        remarks: Vec::new(),
        span: None,
    };
    let mut diode = like.cloned().unwrap_or(blank);
    diode.name.clone_from(&head.name.text);
    diode.also.clone_from(&head.also);
    diode.kind = kind;
    diode.law.material = match kind {
        DiodeKind::Silicon | DiodeKind::Zener => Material::Silicon,
        DiodeKind::Germanium => Material::Germanium,
    };
    diode.span = Some(statement.span);
    let mut complete = like.is_some();
    let mut spread_said = None;
    for line in &statement.children {
        match line.kind() {
            "law" => complete = junction_law(line, &mut diode, like.is_some(), problems),
            "limits" => diode_limits(line, &mut diode, problems),
            "spread" => match spread_said.replace(line.span) {
                Some(first) => problems.twice("`spread`", line.span, first),
                None => spread::diode(line, &mut diode.spread, problems),
            },
            "remark" => diode.remarks.push(remark(line, problems)),
            _ => unknown_line(line, &["law", "limits", "spread", "remark"], problems),
        }
    }
    if !statement.children.iter().any(|line| line.kind() == "law") && like.is_none() {
        law_missing(statement.span, DIODE_FORM, problems);
    }
    complete.then_some(diode)
}

fn unknown_line(line: &Statement, known: &'static [&'static str], problems: &mut Problems) {
    if let Some(phrase) = line.head.first() {
        problems.unknown(
            "unknown-line",
            phrase.first(),
            "line of this type",
            known.iter().copied(),
        );
    }
}

fn law_missing(span: Span, form: &str, problems: &mut Problems) {
    let message = "the type has no law".to_owned();
    problems.fault(
        "parameter-missing",
        span,
        message,
        format!("Add a line such as `{form}`."),
    );
}

/// `law junction: ...`; whether the law is complete.
fn junction_law(
    line: &Statement,
    diode: &mut DiodeType,
    by_like: bool,
    problems: &mut Problems,
) -> bool {
    let Some(wording) = wording(line, ("junction", DIODE_FORM), by_like, problems) else {
        return false;
    };
    let law = terms::read(&JUNCTION, diode.law, &wording, problems);
    diode.law = law.unwrap_or(diode.law);
    Credit {
        mark: diode.mark,
        source: diode.source,
    } = Credit::of_line(line);
    law.is_some()
}

/// Checks the words before the colon.
fn wording<'a>(
    line: &'a Statement,
    (name, form): (&'static str, &'static str),
    complete: bool,
    problems: &mut Problems,
) -> Option<Wording<'a>> {
    let mut head = Words::new(line.head.first()?, form);
    head.next();
    let word = head.want("the name of a law", problems)?;
    if word.text != name {
        problems.unknown("unknown-law", word, "law of this kind", [name].into_iter());
        return None;
    }
    head.finish(problems);
    Some(Wording {
        phrases: body(line, form, problems),
        span: line.span,
        form,
        complete,
    })
}

/// `limits: reverse 75V, forward-current 150mA, power 500mW`
fn diode_limits(line: &Statement, diode: &mut DiodeType, problems: &mut Problems) {
    const FORM: &str = "limits: reverse 75V, forward-current 150mA, power 500mW";
    let credit = Credit::of_line(line);
    for phrase in body(line, FORM, problems) {
        let mut words = Words::new(phrase, FORM);
        let Some(word) = words.want("the name of a limit", problems) else {
            continue;
        };
        let (measure, place): (&Measure, &mut Option<Sourced<f64>>) = match word.text.as_str() {
            "reverse" => (&VOLTS, &mut diode.reverse_volts),
            "forward-current" => (&AMPERES, &mut diode.forward_amps),
            "power" => (&WATTS, &mut diode.watts),
            _ => {
                problems.unknown(
                    "unknown-limit",
                    word,
                    "limit of a diode",
                    ["reverse", "forward-current", "power"].into_iter(),
                );
                continue;
            }
        };
        *place = words.sourced(measure, &credit, problems);
        words.finish(problems);
    }
}

/// A lamp as it is written: with resistances.
struct Lamp {
    strike_volts: f64,
    maintain_volts: f64,
    lit_ohms: f64,
    hold_amps: f64,
    dark_ohms: f64,
}

static NEON: [Term<Lamp>; 5] = [
    needed("strike", VOLTS, |lamp| &mut lamp.strike_volts),
    needed("maintain", VOLTS, |lamp| &mut lamp.maintain_volts),
    needed("lit-resistance", OHMS, |lamp| &mut lamp.lit_ohms),
    needed("hold", AMPERES, |lamp| &mut lamp.hold_amps),
    needed("dark-resistance", OHMS, |lamp| &mut lamp.dark_ohms),
];

/// Reads a neon lamp; `None` when its law is not complete.
pub(super) fn neon(
    head: &Head,
    like: Option<&NeonType>,
    statement: &Statement,
    problems: &mut Problems,
) -> Option<NeonType> {
    let law = like.map_or(
        NeonParameters {
            strike_volts: 0.0,
            maintain_volts: 0.0,
            lit_ohms: 1.0,
            hold_amps: 0.0,
            dark_siemens: 1.0,
        },
        |like| like.law,
    );
    let mut neon = NeonType {
        name: head.name.text.clone(),
        also: head.also.clone(),
        law,
        spread: like.map_or_else(NeonSpread::default, |like| like.spread.clone()),
        mark: like.map_or(Mark::Unmarked, |like| like.mark),
        source: like.map_or_else(String::new, |like| like.source.clone()),
        remarks: like.map_or_else(Vec::new, |like| like.remarks.clone()),
        span: Some(statement.span),
    };
    let mut complete = like.is_some();
    let mut spread_said: Option<&Statement> = None;
    for line in &statement.children {
        match line.kind() {
            "law" => complete = neon_law(line, &mut neon, like.is_some(), problems),
            "spread" => match spread_said {
                Some(first) => problems.twice("`spread`", line.span, first.span),
                None => spread_said = Some(line),
            },
            "remark" => neon.remarks.push(remark(line, problems)),
            _ => unknown_line(line, &["law", "spread", "remark"], problems),
        }
    }
    let law_said = statement.children.iter().any(|line| line.kind() == "law");
    if law_said {
        // The volts of another lamp say nothing of this one's.
        neon.spread = NeonSpread::default();
    } else if like.is_none() {
        law_missing(statement.span, NEON_FORM, problems);
    }
    if let Some(line) = spread_said.filter(|_| complete) {
        spread::neon(line, &neon.law, &mut neon.spread, problems);
    }
    complete.then_some(neon)
}

/// `law neon: ...`; whether the law is complete.
fn neon_law(line: &Statement, neon: &mut NeonType, by_like: bool, problems: &mut Problems) -> bool {
    let known = Lamp {
        strike_volts: neon.law.strike_volts,
        maintain_volts: neon.law.maintain_volts,
        lit_ohms: neon.law.lit_ohms,
        hold_amps: neon.law.hold_amps,
        dark_ohms: 1.0 / neon.law.dark_siemens,
    };
    let Some(wording) = wording(line, ("neon", NEON_FORM), by_like, problems) else {
        return false;
    };
    let Some(lamp) = terms::read(&NEON, known, &wording, problems) else {
        return false;
    };
    if lamp.strike_volts <= lamp.maintain_volts {
        let message = format!(
            "the lamp strikes at {} V, not above the {} V it maintains",
            lamp.strike_volts, lamp.maintain_volts
        );
        problems.fault(
            "strike-too-low",
            line.span,
            message,
            "Write a striking voltage above the maintaining voltage.",
        );
        return false;
    }
    neon.law = NeonParameters {
        strike_volts: lamp.strike_volts,
        maintain_volts: lamp.maintain_volts,
        lit_ohms: lamp.lit_ohms,
        hold_amps: lamp.hold_amps,
        dark_siemens: 1.0 / lamp.dark_ohms,
    };
    Credit {
        mark: neon.mark,
        source: neon.source,
    } = Credit::of_line(line);
    true
}
