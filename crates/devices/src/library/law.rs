//! `law` lines: the parameters of a law, read and written.

use super::terms::{self, Term, Wording, needed, optional};
use super::words::{Problems, Words, body, number_within};
use crate::pentode::PentodeParameters;
use crate::triode::{KorenParameters, TriodeLaw, TriodeParameters};
use crate::types::{Law, TubeKind};
use crate::vacuum_diode::VacuumDiodeParameters;
use text::quantity::show_code;
use text::tree::{Phrase, Statement};

const FORM: &str = "law tail: perveance 1.6m, mu 27, exponent 1.3, knee 3";

/// The tool's own triode law. What is not said is as in a law without tail, grid current and partition.
static TAIL: [Term<TriodeParameters>; 12] = [
    needed("perveance", number_within(1e-12, 100.0), |law| {
        &mut law.perveance
    }),
    needed("mu", number_within(0.1, 1e4), |law| &mut law.mu),
    needed("exponent", number_within(1.001, 5.0), |law| {
        &mut law.exponent
    }),
    needed("knee", number_within(1e-3, 1e4), |law| &mut law.knee),
    optional("tail-fraction", number_within(0.0, 1.0), |law| {
        &mut law.tail_fraction
    }),
    optional("tail-mu", number_within(0.1, 1e4), |law| &mut law.tail_mu),
    optional("grid-perveance", number_within(0.0, 100.0), |law| {
        &mut law.grid_perveance
    }),
    optional("grid-exponent", number_within(1.001, 5.0), |law| {
        &mut law.grid_exponent
    }),
    optional("grid-knee", number_within(1e-3, 1e4), |law| {
        &mut law.grid_knee
    }),
    optional("grid-floor", number_within(0.0, 1.0), |law| {
        &mut law.grid_floor
    }),
    optional("partition-knee", number_within(1e-6, 1e3), |law| {
        &mut law.partition_knee
    }),
    optional("partition-volts", number_within(0.0, 1e3), |law| {
        &mut law.partition_volts
    }),
];

/// The tool's own triode law where nothing is said.
const UNSAID_TAIL: TriodeParameters = TriodeParameters {
    perveance: 0.0,
    mu: 1.0,
    exponent: 1.5,
    knee: 1.0,
    tail_fraction: 0.0,
    tail_mu: 1.0,
    grid_perveance: 0.0,
    grid_exponent: 1.5,
    grid_knee: 10.0,
    grid_floor: 0.0,
    partition_knee: 0.1,
    partition_volts: 0.0,
};

static KOREN: [Term<KorenParameters>; 5] = [
    needed("mu", number_within(0.1, 1e4), |law| &mut law.mu),
    needed("exponent", number_within(1.001, 5.0), |law| {
        &mut law.exponent
    }),
    needed("kg1", number_within(1e-3, 1e9), |law| &mut law.kg1),
    needed("kp", number_within(1e-3, 1e9), |law| &mut law.kp),
    needed("kvb", number_within(1e-6, 1e9), |law| &mut law.kvb),
];

/// Every parameter of this law is said.
const UNSAID_KOREN: KorenParameters = KorenParameters {
    mu: 1.0,
    exponent: 1.5,
    kg1: 1.0,
    kp: 1.0,
    kvb: 1.0,
    sections: 1.0,
    grid_floor: 0.0,
};

static PENTODE: [Term<PentodeParameters>; 16] = [
    needed("perveance", number_within(1e-12, 100.0), |law| {
        &mut law.perveance
    }),
    needed("screen-mu", number_within(0.1, 1e4), |law| {
        &mut law.mu_screen
    }),
    optional("plate-mu", number_within(0.1, 1e9), |law| &mut law.mu_plate),
    optional("suppressor-mu", number_within(0.1, 1e9), |law| {
        &mut law.mu_suppressor
    }),
    needed("exponent", number_within(1.001, 5.0), |law| {
        &mut law.exponent
    }),
    needed("knee", number_within(1e-3, 1e4), |law| &mut law.knee),
    optional("grid-perveance", number_within(0.0, 100.0), |law| {
        &mut law.grid_perveance
    }),
    optional("grid-exponent", number_within(1.001, 5.0), |law| {
        &mut law.grid_exponent
    }),
    optional("grid-knee", number_within(1e-3, 1e4), |law| {
        &mut law.grid_knee
    }),
    needed("plate-ratio", number_within(1e-3, 1e6), |law| {
        &mut law.plate_ratio
    }),
    optional("partition-volts", number_within(1e-6, 1e4), |law| {
        &mut law.partition_volts
    }),
    optional("partition-screen", number_within(0.0, 1e3), |law| {
        &mut law.partition_screen
    }),
    optional("partition-knee", number_within(1e-6, 1e3), |law| {
        &mut law.partition_knee
    }),
    optional("suppressor-cut-off", number_within(0.0, 1e4), |law| {
        &mut law.suppressor_cut_off
    }),
    optional("suppressor-exponent", number_within(1.001, 20.0), |law| {
        &mut law.suppressor_exponent
    }),
    optional("suppressor-draw", number_within(0.0, 1e3), |law| {
        &mut law.suppressor_draw
    }),
];

/// The pentode law where nothing is said: no grid current, plate and suppressor without influence on the cathode current.
const UNSAID_PENTODE: PentodeParameters = PentodeParameters {
    perveance: 0.0,
    mu_screen: 1.0,
    mu_plate: f64::INFINITY,
    mu_suppressor: f64::INFINITY,
    exponent: 1.5,
    knee: 1.0,
    grid_perveance: 0.0,
    grid_exponent: 1.5,
    grid_knee: 10.0,
    grid_floor: 0.0,
    plate_ratio: 1.0,
    partition_volts: 1.0,
    partition_screen: 0.2,
    partition_knee: 0.1,
    suppressor_cut_off: 0.0,
    suppressor_exponent: 3.0,
    suppressor_draw: 0.0,
};

static DIODE: [Term<VacuumDiodeParameters>; 3] = [
    needed("perveance", number_within(1e-12, 100.0), |law| {
        &mut law.perveance
    }),
    optional("offset", number_within(-100.0, 100.0), |law| {
        &mut law.offset_volts
    }),
    needed("knee", number_within(1e-3, 1e4), |law| &mut law.knee),
];

/// The vacuum diode law where nothing is said.
const UNSAID_DIODE: VacuumDiodeParameters = VacuumDiodeParameters {
    perveance: 0.0,
    offset_volts: 0.0,
    knee: 1.0,
};

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
    let wording = Wording {
        phrases,
        span: line.span,
        form: FORM,
        complete: false,
    };
    let law = match name.text.as_str() {
        "tail" => Law::Triode(TriodeLaw::Tail(with_tail(terms::read(
            &TAIL,
            UNSAID_TAIL,
            &wording,
            problems,
        )?))),
        "koren" => Law::Triode(TriodeLaw::Koren(terms::read(
            &KOREN,
            UNSAID_KOREN,
            &wording,
            problems,
        )?)),
        "pentode" => Law::Pentode(terms::read(&PENTODE, UNSAID_PENTODE, &wording, problems)?),
        "diode" => Law::Diode(terms::read(&DIODE, UNSAID_DIODE, &wording, problems)?),
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

/// The lines that state a law in a `type` statement, without indentation: `law ...`, then below it a `prior` line for each
/// prior. Six significant figures; the lines read back as the same law to that precision.
#[must_use]
pub fn law_lines(law: &Law, from_prior: &[(String, String)]) -> Vec<String> {
    let line = match *law {
        Law::Triode(TriodeLaw::Tail(law)) => written("tail", &TAIL, UNSAID_TAIL, law),
        Law::Triode(TriodeLaw::Koren(law)) => written("koren", &KOREN, UNSAID_KOREN, law),
        Law::Pentode(law) => written("pentode", &PENTODE, UNSAID_PENTODE, law),
        Law::Diode(law) => written("diode", &DIODE, UNSAID_DIODE, law),
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

/// The parameters that have to be said or differ from what stands for nothing said.
fn written<P>(name: &str, terms: &[Term<P>], mut unsaid: P, mut law: P) -> String {
    let said = terms.iter().filter_map(|term| {
        let value = *(term.place)(&mut law);
        (term.needed || value != *(term.place)(&mut unsaid))
            .then(|| format!("{} {}", term.word, show_code(value)))
    });
    format!("law {name}: {}", said.collect::<Vec<_>>().join(", "))
}
