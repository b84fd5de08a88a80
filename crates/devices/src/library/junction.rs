//! The `type` statement of a semiconductor diode or a neon lamp.

use super::head::Head;
use super::remark;
use super::words::{
    AMPERES, Credit, FARADS, Measure, OHMS, OHMS_OR_NONE, Problems, SLOPE, VOLTS, WATTS, Words,
    body, number_within,
};
use crate::diode::{DiodeParameters, THERMAL_VOLTS_300_K};
use crate::neon::NeonParameters;
use crate::types::{DiodeKind, DiodeType, Mark, NeonType, Sourced};
use text::source::Span;
use text::tree::Statement;

const DIODE_FORM: &str =
    "law junction: saturation-current 2.5nA, ideality 1.75, series-resistance 0.57";
const NEON_FORM: &str =
    "law neon: strike 80V, maintain 55V, lit-resistance 4k, hold 10uA, dark-resistance 1G";

/// A parameter: its word, what it means, whether it has to be said, where it is.
type Parameter<P> = (&'static str, Measure, bool, fn(&mut P) -> &mut f64);

static JUNCTION: [Parameter<DiodeParameters>; 7] = [
    ("saturation-current", AMPERES_BELOW_PICO, true, |law| {
        &mut law.saturation_current
    }),
    ("ideality", number_within(0.5, 10.0), true, |law| {
        &mut law.ideality
    }),
    ("series-resistance", OHMS_OR_NONE, false, |law| {
        &mut law.series_ohms
    }),
    ("leakage", SLOPE, false, |law| &mut law.leakage_siemens),
    ("zero-bias-capacitance", FARADS, false, |law| {
        &mut law.zero_bias_farads
    }),
    ("junction-volts", VOLTS, false, |law| {
        &mut law.junction_volts
    }),
    ("grading", number_within(0.1, 0.9), false, |law| {
        &mut law.grading
    }),
];

/// Saturation currents go far below what a meter shows.
const AMPERES_BELOW_PICO: Measure = AMPERES.from(1e-20);

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
        remarks: Vec::new(),
        span: None,
    };
    let mut diode = like.cloned().unwrap_or(blank);
    diode.name.clone_from(&head.name.text);
    diode.also.clone_from(&head.also);
    diode.kind = kind;
    diode.span = Some(statement.span);
    let mut complete = like.is_some();
    for line in &statement.children {
        match line.kind() {
            "law" => complete = junction_law(line, &mut diode, like.is_some(), problems),
            "limits" => diode_limits(line, &mut diode, problems),
            "remark" => diode.remarks.push(remark(line, problems)),
            _ => unknown_line(line, &["law", "limits", "remark"], problems),
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
    let credit = Credit::of_line(line);
    let breakdown = |words: &mut Words, law: &mut DiodeParameters, problems: &mut Problems| {
        law.breakdown_volts = words.value(&VOLTS, problems)?;
        law.breakdown_amps = words.value(&AMPERES, problems)?;
        law.breakdown_ohms = words.value(&OHMS, problems)?;
        Some(())
    };
    let complete = parameters(
        line,
        ("junction", DIODE_FORM),
        &JUNCTION,
        &mut diode.law,
        by_like,
        Some(("breakdown", &breakdown)),
        problems,
    );
    diode.mark = credit.mark;
    diode.source = credit.source;
    complete
}

/// A parameter that takes several values.
type Several<'a, P> = (
    &'static str,
    &'a dyn Fn(&mut Words, &mut P, &mut Problems) -> Option<()>,
);

/// Reads the parameters of a law; whether it is complete.
fn parameters<P>(
    line: &Statement,
    (name, form): (&'static str, &'static str),
    known: &'static [Parameter<P>],
    law: &mut P,
    by_like: bool,
    several: Option<Several<P>>,
    problems: &mut Problems,
) -> bool {
    let Some(first) = line.head.first() else {
        return false;
    };
    let mut head = Words::new(first, form);
    head.next();
    match head.want("the name of a law", problems) {
        Some(word) if word.text == name => head.finish(problems),
        Some(word) => problems.unknown("unknown-law", word, "law of this kind", [name].into_iter()),
        None => {}
    }
    let mut said: Vec<(&str, Span)> = Vec::new();
    let mut sound = true;
    let names = known
        .iter()
        .map(|(name, ..)| *name)
        .chain(several.map(|(name, _)| name));
    for phrase in body(line, form, problems) {
        let mut words = Words::new(phrase, form);
        let Some(word) = words.want("the name of a parameter", problems) else {
            continue;
        };
        if let Some((_, first)) = said.iter().find(|(other, _)| *other == word.text) {
            problems.twice(&format!("`{}`", word.text), word.span, *first);
            continue;
        }
        said.push((&word.text, word.span));
        let understood = if let Some((_, measure, _, place)) =
            known.iter().find(|(name, ..)| *name == word.text)
        {
            words
                .value(measure, problems)
                .map(|value| *place(law) = value)
        } else if let Some((_, read)) = several.filter(|(name, _)| *name == word.text) {
            read(&mut words, law, problems)
        } else {
            problems.unknown(
                "unknown-parameter",
                word,
                "parameter of this law",
                names.clone(),
            );
            None
        };
        sound &= understood.is_some();
        if understood.is_some() {
            words.finish(problems);
        }
    }
    let needed = known.iter().filter(|(name, _, needed, _)| {
        *needed && !by_like && !said.iter().any(|(said, _)| said == name)
    });
    let missing: Vec<&str> = needed.map(|(name, ..)| *name).collect();
    if !missing.is_empty() {
        let message = format!("the law is not complete: {} missing", missing.join(", "));
        problems.fault(
            "parameter-missing",
            line.span,
            message,
            format!("The form is `{form}`."),
        );
    }
    sound && missing.is_empty()
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

static NEON: [Parameter<Lamp>; 5] = [
    ("strike", VOLTS, true, |lamp| &mut lamp.strike_volts),
    ("maintain", VOLTS, true, |lamp| &mut lamp.maintain_volts),
    ("lit-resistance", OHMS, true, |lamp| &mut lamp.lit_ohms),
    ("hold", AMPERES, true, |lamp| &mut lamp.hold_amps),
    ("dark-resistance", OHMS, true, |lamp| &mut lamp.dark_ohms),
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
        mark: like.map_or(Mark::Unmarked, |like| like.mark),
        source: like.map_or_else(String::new, |like| like.source.clone()),
        remarks: like.map_or_else(Vec::new, |like| like.remarks.clone()),
        span: Some(statement.span),
    };
    let mut complete = like.is_some();
    for line in &statement.children {
        match line.kind() {
            "law" => complete = neon_law(line, &mut neon, like.is_some(), problems),
            "remark" => neon.remarks.push(remark(line, problems)),
            _ => unknown_line(line, &["law", "remark"], problems),
        }
    }
    if !statement.children.iter().any(|line| line.kind() == "law") && like.is_none() {
        law_missing(statement.span, NEON_FORM, problems);
    }
    complete.then_some(neon)
}

fn neon_law(line: &Statement, neon: &mut NeonType, by_like: bool, problems: &mut Problems) -> bool {
    let credit = Credit::of_line(line);
    let mut lamp = Lamp {
        strike_volts: neon.law.strike_volts,
        maintain_volts: neon.law.maintain_volts,
        lit_ohms: neon.law.lit_ohms,
        hold_amps: neon.law.hold_amps,
        dark_ohms: 1.0 / neon.law.dark_siemens,
    };
    let complete = parameters(
        line,
        ("neon", NEON_FORM),
        &NEON,
        &mut lamp,
        by_like,
        None,
        problems,
    );
    if complete && lamp.strike_volts <= lamp.maintain_volts {
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
    neon.mark = credit.mark;
    neon.source = credit.source;
    complete
}
