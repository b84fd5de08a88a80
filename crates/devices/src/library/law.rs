//! `law` lines: the parameters of a law, read and written.

use super::words::{Measure, Problems, Words, body, number_within};
use crate::pentode::PentodeParameters;
use crate::triode::{KorenParameters, TriodeLaw, TriodeParameters};
use crate::types::{Law, TubeKind};
use crate::vacuum_diode::VacuumDiodeParameters;
use text::source::Span;
use text::tree::{Phrase, Statement};

const FORM: &str = "law tail: perveance 1.6m, mu 27, exponent 1.3, knee 3";

/// One parameter of a law: its word, the value that stands for nothing said (`None`: has to be said), its limits, and
/// where it is.
struct Term<P> {
    word: &'static str,
    unsaid: Option<f64>,
    limits: Measure,
    place: fn(&mut P) -> &mut f64,
}

const fn term<P>(
    word: &'static str,
    unsaid: Option<f64>,
    low: f64,
    high: f64,
    place: fn(&mut P) -> &mut f64,
) -> Term<P> {
    Term {
        word,
        unsaid,
        limits: number_within(low, high),
        place,
    }
}

/// The tool's own triode law. What is not said is as in a law without tail, grid current and partition.
static TAIL: [Term<TriodeParameters>; 12] = [
    term("perveance", None, 1e-12, 100.0, |law| &mut law.perveance),
    term("mu", None, 0.1, 1e4, |law| &mut law.mu),
    term("exponent", None, 1.001, 5.0, |law| &mut law.exponent),
    term("knee", None, 1e-3, 1e4, |law| &mut law.knee),
    term("tail-fraction", Some(0.0), 0.0, 1.0, |law| {
        &mut law.tail_fraction
    }),
    term("tail-mu", Some(1.0), 0.1, 1e4, |law| &mut law.tail_mu),
    term("grid-perveance", Some(0.0), 0.0, 100.0, |law| {
        &mut law.grid_perveance
    }),
    term("grid-exponent", Some(1.5), 1.001, 5.0, |law| {
        &mut law.grid_exponent
    }),
    term("grid-knee", Some(10.0), 1e-3, 1e4, |law| &mut law.grid_knee),
    term("grid-floor", Some(0.0), 0.0, 1.0, |law| &mut law.grid_floor),
    term("partition-knee", Some(0.1), 1e-6, 1e3, |law| {
        &mut law.partition_knee
    }),
    term("partition-volts", Some(0.0), 0.0, 1e3, |law| {
        &mut law.partition_volts
    }),
];

static KOREN: [Term<KorenParameters>; 5] = [
    term("mu", None, 0.1, 1e4, |law| &mut law.mu),
    term("exponent", None, 1.001, 5.0, |law| &mut law.exponent),
    term("kg1", None, 1e-3, 1e9, |law| &mut law.kg1),
    term("kp", None, 1e-3, 1e9, |law| &mut law.kp),
    term("kvb", None, 1e-6, 1e9, |law| &mut law.kvb),
];

static PENTODE: [Term<PentodeParameters>; 16] = [
    term("perveance", None, 1e-12, 100.0, |law| &mut law.perveance),
    term("screen-mu", None, 0.1, 1e4, |law| &mut law.mu_screen),
    term("plate-mu", Some(f64::INFINITY), 0.1, 1e9, |law| {
        &mut law.mu_plate
    }),
    term("suppressor-mu", Some(f64::INFINITY), 0.1, 1e9, |law| {
        &mut law.mu_suppressor
    }),
    term("exponent", None, 1.001, 5.0, |law| &mut law.exponent),
    term("knee", None, 1e-3, 1e4, |law| &mut law.knee),
    term("grid-perveance", Some(0.0), 0.0, 100.0, |law| {
        &mut law.grid_perveance
    }),
    term("grid-exponent", Some(1.5), 1.001, 5.0, |law| {
        &mut law.grid_exponent
    }),
    term("grid-knee", Some(10.0), 1e-3, 1e4, |law| &mut law.grid_knee),
    term("plate-ratio", None, 1e-3, 1e6, |law| &mut law.plate_ratio),
    term("partition-volts", Some(1.0), 1e-6, 1e4, |law| {
        &mut law.partition_volts
    }),
    term("partition-screen", Some(0.2), 0.0, 1e3, |law| {
        &mut law.partition_screen
    }),
    term("partition-knee", Some(0.1), 1e-6, 1e3, |law| {
        &mut law.partition_knee
    }),
    term("suppressor-cut-off", Some(0.0), 0.0, 1e4, |law| {
        &mut law.suppressor_cut_off
    }),
    term("suppressor-exponent", Some(3.0), 1.001, 20.0, |law| {
        &mut law.suppressor_exponent
    }),
    term("suppressor-draw", Some(0.0), 0.0, 1e3, |law| {
        &mut law.suppressor_draw
    }),
];

static DIODE: [Term<VacuumDiodeParameters>; 3] = [
    term("perveance", None, 1e-12, 100.0, |law| &mut law.perveance),
    term("offset", Some(0.0), -100.0, 100.0, |law| {
        &mut law.offset_volts
    }),
    term("knee", None, 1e-3, 1e4, |law| &mut law.knee),
];

/// Laws by word.
const LAWS: [&str; 4] = ["tail", "koren", "pentode", "diode"];

/// A law as read, with the parameters said to come from a prior.
pub(super) struct ReadLaw {
    pub(super) law: Law,
    pub(super) from_prior: Vec<(String, String)>,
}

/// Reads `law tail: perveance 1.6m, ...` with the `prior` lines below it; `None` when it is not complete.
pub(super) fn read(line: &Statement, kind: TubeKind, problems: &mut Problems) -> Option<ReadLaw> {
    let mut head = Words::new(line.head.first()?, FORM);
    head.next();
    let name = head.want("the name of a law", problems)?;
    head.finish(problems);
    let phrases = body(line, FORM, problems);
    let from_prior = line
        .children
        .iter()
        .flat_map(|child| priors(child, problems))
        .collect();
    let fits = match kind {
        TubeKind::Triode | TubeKind::IndicatorTriode => &LAWS[..2],
        TubeKind::Tetrode | TubeKind::Pentode => &LAWS[2..3],
        TubeKind::Diode => &LAWS[3..],
    };
    if LAWS.contains(&name.text.as_str()) && !fits.contains(&name.text.as_str()) {
        let message = format!("the law `{}` is for another kind of tube", name.text);
        problems.fault(
            "unfit-law",
            name.span,
            message,
            format!("Here belongs `{}`.", fits.join("` or `")),
        );
        return None;
    }
    let law = match name.text.as_str() {
        "tail" => Law::Triode(TriodeLaw::Tail(with_tail(terms(
            &TAIL, BLANK_TAIL, phrases, line.span, problems,
        )?))),
        "koren" => Law::Triode(TriodeLaw::Koren(terms(
            &KOREN,
            BLANK_KOREN,
            phrases,
            line.span,
            problems,
        )?)),
        "pentode" => Law::Pentode(terms(
            &PENTODE,
            BLANK_PENTODE,
            phrases,
            line.span,
            problems,
        )?),
        "diode" => Law::Diode(terms(&DIODE, BLANK_DIODE, phrases, line.span, problems)?),
        _ => {
            problems.unknown("unknown-law", name, "law", fits.iter().copied());
            return None;
        }
    };
    Some(ReadLaw { law, from_prior })
}

/// A law without tail has the same amplification factor everywhere.
fn with_tail(law: TriodeParameters) -> TriodeParameters {
    let tail_mu = if law.tail_fraction == 0.0 {
        law.mu
    } else {
        law.tail_mu
    };
    TriodeParameters { tail_mu, ..law }
}

/// Parameters by their words; `None`, with faults, when one is missing or not understood.
fn terms<P>(
    terms: &[Term<P>],
    mut law: P,
    phrases: &[Phrase],
    span: Span,
    problems: &mut Problems,
) -> Option<P> {
    let mut said: Vec<Option<Span>> = vec![None; terms.len()];
    let mut sound = true;
    for term in terms {
        *(term.place)(&mut law) = term.unsaid.unwrap_or(0.0);
    }
    for phrase in phrases {
        let mut words = Words::new(phrase, FORM);
        let Some(word) = words.want("the name of a parameter", problems) else {
            continue;
        };
        let Some(index) = terms.iter().position(|term| term.word == word.text) else {
            problems.unknown(
                "unknown-parameter",
                word,
                "parameter of this law",
                terms.iter().map(|term| term.word),
            );
            sound = false;
            continue;
        };
        if let Some(first) = said[index] {
            problems.twice(&format!("`{}`", word.text), word.span, first);
            continue;
        }
        said[index] = Some(word.span);
        match words.value(&terms[index].limits, problems) {
            Some(value) => *(terms[index].place)(&mut law) = value,
            None => sound = false,
        }
        words.finish(problems);
    }
    let missing = terms
        .iter()
        .zip(&said)
        .filter(|(term, said)| term.unsaid.is_none() && said.is_none());
    let missing: Vec<&str> = missing.map(|(term, _)| term.word).collect();
    if !missing.is_empty() {
        let message = format!("the law is not complete: {} missing", missing.join(", "));
        problems.fault(
            "parameter-missing",
            span,
            message,
            "Add what is missing, or leave the law out to have the points fitted.",
        );
        sound = false;
    }
    sound.then_some(law)
}

/// `prior small receiving triode: exponent, knee`
fn priors(line: &Statement, problems: &mut Problems) -> Vec<(String, String)> {
    const FORM: &str = "prior small receiving triode: exponent, knee";
    if line.kind() != "prior" {
        if let Some(phrase) = line.head.first() {
            problems.unknown(
                "unknown-line",
                phrase.first(),
                "line below a law",
                ["prior"].into_iter(),
            );
        }
        return Vec::new();
    }
    let name: Vec<&str> = line.head.iter().flat_map(Phrase::texts).skip(1).collect();
    let name = name.join(" ");
    let phrases = body(line, FORM, problems);
    phrases
        .iter()
        .map(|phrase| (phrase.texts().join(" "), name.clone()))
        .collect()
}

const BLANK_TAIL: TriodeParameters = TriodeParameters {
    perveance: 0.0,
    mu: 1.0,
    exponent: 1.5,
    knee: 1.0,
    tail_fraction: 0.0,
    tail_mu: 1.0,
    grid_perveance: 0.0,
    grid_exponent: 1.5,
    grid_knee: 1.0,
    grid_floor: 0.0,
    partition_knee: 0.1,
    partition_volts: 0.0,
};
const BLANK_KOREN: KorenParameters = KorenParameters {
    mu: 1.0,
    exponent: 1.5,
    kg1: 1.0,
    kp: 1.0,
    kvb: 1.0,
};
const BLANK_PENTODE: PentodeParameters = crate::pentode::EF804S;
const BLANK_DIODE: VacuumDiodeParameters = crate::vacuum_diode::TUBE_6AL5;

/// The lines that state a law in a `type` statement, without indentation: `law ...`, then below it a `prior` line for each
/// prior. Six significant figures; the lines read back as the same law to that precision.
#[must_use]
pub fn law_lines(law: &Law, from_prior: &[(String, String)]) -> Vec<String> {
    let line = match *law {
        Law::Triode(TriodeLaw::Tail(law)) => written("tail", &TAIL, law),
        Law::Triode(TriodeLaw::Koren(law)) => written("koren", &KOREN, law),
        Law::Pentode(law) => written("pentode", &PENTODE, law),
        Law::Diode(law) => written("diode", &DIODE, law),
    };
    let mut lines = vec![line];
    let mut priors: Vec<&str> = from_prior.iter().map(|(_, prior)| prior.as_str()).collect();
    priors.dedup();
    for prior in priors {
        let parameters = from_prior
            .iter()
            .filter(|(_, name)| name == prior)
            .map(|(parameter, _)| parameter.as_str());
        lines.push(format!(
            "    prior {prior}: {}",
            parameters.collect::<Vec<_>>().join(", ")
        ));
    }
    lines
}

fn written<P>(name: &str, terms: &[Term<P>], mut law: P) -> String {
    let said = terms.iter().filter_map(|term| {
        let value = *(term.place)(&mut law);
        (term.unsaid != Some(value))
            .then(|| format!("{} {}", term.word, text::quantity::show_code(value)))
    });
    format!("law {name}: {}", said.collect::<Vec<_>>().join(", "))
}
