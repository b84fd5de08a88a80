//! Sentences that terminal and page share, in the project's own words (tube, plate); the caller turns them over to the
//! reader's. Names of units, nets and files are never changed.

use crate::decimal;
use crate::words::Wording;
use network::finding::{Amount, Finding};
use network::scan::Scan;
use network::verdict::{Extrapolation, Verdict};
use text::diagnostic::Severity;
use text::quantity::{Unit, counted, show};
use text::source::{SourceMap, Span};

/// The word for a severity.
#[must_use]
pub fn severity(severity: Severity) -> &'static str {
    match severity {
        Severity::Fault => "fault",
        Severity::Caution => "caution",
        Severity::Note => "note",
    }
}

/// `machine.valve:12:5`; empty for a place in no file of the map.
#[must_use]
pub fn place(sources: &SourceMap, span: Span) -> String {
    let known = sources.files().nth(span.file.0 as usize);
    match known {
        Some((_, file)) if file.text.is_char_boundary(span.start as usize) => {
            let (line, column) = sources.line_and_column(span);
            format!("{}:{line}:{column}", file.name)
        }
        _ => String::new(),
    }
}

/// Volts with one decimal, two below 10 V, and the unit.
#[must_use]
pub fn volts(value: f64) -> String {
    let decimals = if value.abs() < 9.995 { 2 } else { 1 };
    format!("{} V", decimal::fixed(value, decimals))
}

/// A value with three figures and its unit, with a true minus sign.
#[must_use]
pub fn shown(value: f64, unit: Unit) -> String {
    show(value, unit, 3).replacen('-', "\u{2212}", 1)
}

/// How the two numbers of a finding stand to each other.
enum Clash {
    /// A level that does not reach what is needed.
    Short,
    /// A value beyond its limit; signs do not matter.
    Over,
    /// Two values that contradict each other.
    Apart,
    /// A margin, and what is called thin.
    Thin,
}

fn clash(name: &str) -> Clash {
    match name {
        "sources-clash" | "wrong-function" | "state-lost" | "heater-volts" => Clash::Apart,
        "thin-margin" => Clash::Thin,
        "plate-volts"
        | "plate-watts"
        | "screen-rating"
        | "cathode-amps"
        | "negative-grid"
        | "grid-resistance"
        | "diode-reverse-volts"
        | "diode-current"
        | "resistor-watts"
        | "capacitor-volts"
        | "rail-overloaded"
        | "heater-cathode-volts" => Clash::Over,
        _ => Clash::Short,
    }
}

/// The two numbers of a finding in one sentence: what it has, what it needs, short by how much.
#[must_use]
pub fn numbers(finding: &Finding, wording: Wording) -> Option<String> {
    let (has, needs) = (finding.has.as_ref()?, finding.needs.as_ref()?);
    let amount = |amount: &Amount| {
        format!(
            "{} ({})",
            shown(amount.value, amount.unit),
            wording.apply(&amount.what)
        )
    };
    let apart = shown((has.value - needs.value).abs(), has.unit);
    Some(match clash(finding.name) {
        Clash::Short => format!(
            "Has {}, needs {}: short by {apart}.",
            amount(has),
            amount(needs)
        ),
        Clash::Over => {
            let over = shown((has.value.abs() - needs.value.abs()).abs(), has.unit);
            format!(
                "Has {}, may have {}: over by {over}.",
                amount(has),
                amount(needs)
            )
        }
        Clash::Apart => format!(
            "Has {} against {}: {apart} apart.",
            amount(has),
            amount(needs)
        ),
        Clash::Thin => {
            format!(
                "{} to spare; below {} it is called thin.",
                shown(has.value, has.unit),
                shown(needs.value, needs.unit)
            )
        }
    })
}

/// Findings of one severity, consequences not counted.
fn count(verdict: &Verdict, severity: Severity) -> usize {
    verdict
        .findings
        .iter()
        .filter(|finding| finding.severity == severity)
        .count()
}

/// What came out, in one or two sentences: never that anything is safe, never without the number of findings.
#[must_use]
pub fn outcome(verdict: &Verdict) -> String {
    let design = verdict.plan.design;
    if design.circuits.is_empty() && design.strings.is_empty() {
        return "Nothing to check yet: no circuit and no heater string is typed.".to_owned();
    }
    let (faults, cautions) = (
        count(verdict, Severity::Fault),
        count(verdict, Severity::Caution),
    );
    let mut parts = Vec::new();
    if 0 < faults {
        parts.push(counted(faults, "fault"));
    }
    if 0 < cautions {
        parts.push(counted(cautions, "caution"));
    }
    let found = if parts.is_empty() {
        "no findings".to_owned()
    } else {
        parts.join(", ")
    };
    let mut text = match (0 < faults, design.circuits.is_empty()) {
        (true, _) => format!("Does not pass: {found}."),
        (false, true) => format!("Heater strings pass, {found}."),
        (false, false) => format!("Levels pass, {found}."),
    };
    if !verdict.place.settled || !verdict.alone.settled {
        text.push_str(
            " The levels still moved when the last round ended: take them as near, not as final.",
        );
    }
    text
}

/// What the machine is, in one sentence.
#[must_use]
pub fn machine(verdict: &Verdict) -> String {
    let design = verdict.plan.design;
    let rails: Vec<String> = design
        .rails
        .iter()
        .map(|rail| {
            format!(
                "{} {} ± {}",
                rail.name,
                shown(rail.volts, Unit::Volt),
                shown(rail.tolerance, Unit::Percent)
            )
        })
        .collect();
    let rails = if rails.is_empty() {
        "no rails".to_owned()
    } else {
        format!("rails {}", rails.join(", "))
    };
    format!(
        "{} of {}, {}, {}; {rails}.",
        counted(design.units.len(), "unit"),
        counted(design.circuits.len(), "circuit"),
        counted(design.sockets.len(), "tube"),
        counted(design.strings.len(), "heater string"),
    )
}

/// `Not checked: spread of parts and ageing, ...`; empty when nothing is left out.
#[must_use]
pub fn not_checked(verdict: &Verdict) -> String {
    if verdict.not_checked.is_empty() {
        return String::new();
    }
    format!("Not checked: {}.", verdict.not_checked.join(", "))
}

/// A note on a curve used outside its points: for information, not a finding.
#[must_use]
pub fn extrapolation(extrapolation: &Extrapolation) -> String {
    format!(
        "Curve of {} extrapolated below {} (lowest {} at {}).",
        extrapolation.device,
        shown(extrapolation.fitted_from, Unit::Volt),
        volts(extrapolation.plate_volts),
        extrapolation.place
    )
}

/// The largest volts between two rails (ground counts as one), all at the end of their tolerance that is furthest out.
pub(crate) struct RailSpan {
    pub(crate) high: String,
    pub(crate) low: String,
    pub(crate) volts: f64,
}

/// `None` without rails.
pub(crate) fn widest_span(verdict: &Verdict) -> Option<RailSpan> {
    let ground = || ("ground".to_owned(), 0.0, 0.0);
    let ends = verdict.plan.design.rails.iter().map(|rail| {
        let slack = rail.volts.abs() * rail.tolerance;
        (rail.name.clone(), rail.volts - slack, rail.volts + slack)
    });
    let ends: Vec<(String, f64, f64)> = std::iter::once(ground()).chain(ends).collect();
    let low = ends
        .iter()
        .min_by(|left, right| left.1.total_cmp(&right.1))?;
    let high = ends
        .iter()
        .max_by(|left, right| left.2.total_cmp(&right.2))?;
    let volts = high.2 - low.1;
    (0.0 < volts).then(|| RailSpan {
        high: high.0.clone(),
        low: low.0.clone(),
        volts,
    })
}

/// What can hurt, and the usual caution. Touch limit: 60 V DC in dry places after IEC 61140 and IEC 61010-1, as
/// summarised; what it means is for local codes to say. `None` without rails.
#[must_use]
pub fn caution(verdict: &Verdict) -> Option<String> {
    let span = widest_span(verdict)?;
    let limit = verdict.limits.touch_volts;
    let between = format!("{} and {}", span.high, span.low);
    let reach = shown(span.volts, Unit::Volt);
    Some(if limit < span.volts {
        format!(
            "Between the rails {between} stand up to {reach} at the ends of their tolerance, above the {} DC that \
             IEC 61140 and IEC 61010-1 (as summarised) take as the limit for touching in dry places. The plate of a cold or \
             cut-off tube stands at its rail, and capacitors keep their charge when the supply is off. Hot glass burns. \
             Local codes and licensed practice come first.",
            shown(limit, Unit::Volt)
        )
    } else {
        format!(
            "Between the rails {between} stand up to {reach} at the ends of their tolerance: measure before a hand goes in. \
             Hot glass burns. Local codes and licensed practice come first."
        )
    })
}
/// What a scan looked at and found.
#[must_use]
pub fn scanned(scan: &Scan) -> String {
    let rests = scan
        .solutions
        .iter()
        .filter(|solution| solution.stability.rests());
    format!(
        "Broken at {} and scanned from {} to {} ({} volts tried): {} where the currents balance, {} of them at rest.",
        scan.net,
        volts(scan.range.0),
        volts(scan.range.1),
        scan.tried,
        counted(scan.solutions.len(), "point"),
        rests.count(),
    )
}
