//! `point` lines and curve files.

use super::words::{
    AMPERES_OR_NONE, Credit, Measure, NUMBER, OHMS, Problems, SIGNED_VOLTS, SLOPE, VOLTS, Words,
    body,
};
use crate::curve_csv;
use crate::types::{Point, Sourced, TubeKind};
use text::diagnostic::Diagnostic;
use text::source::Span;
use text::tree::Statement;

const FORM: &str = "point plate 100V grid 0V: current 11.8mA, slope 3.1mA/V, mu 19.5";

/// A value of a point: its word, what it means, where it is kept.
type Value = (
    &'static str,
    &'static Measure,
    fn(&mut Point) -> &mut Option<Sourced<f64>>,
);

static TRIODE_VALUES: [Value; 5] = [
    ("current", &AMPERES_OR_NONE, |point| &mut point.plate_amps),
    ("grid-current", &AMPERES_OR_NONE, |point| {
        &mut point.grid_amps
    }),
    ("slope", &SLOPE, |point| &mut point.slope),
    ("mu", &NUMBER, |point| &mut point.mu),
    ("plate-resistance", &OHMS, |point| &mut point.plate_ohms),
];
static PENTODE_VALUES: [Value; 6] = [
    ("current", &AMPERES_OR_NONE, |point| &mut point.plate_amps),
    ("grid-current", &AMPERES_OR_NONE, |point| {
        &mut point.grid_amps
    }),
    ("screen-current", &AMPERES_OR_NONE, |point| {
        &mut point.screen_amps
    }),
    ("slope", &SLOPE, |point| &mut point.slope),
    ("screen-mu", &NUMBER, |point| &mut point.mu),
    ("plate-resistance", &OHMS, |point| &mut point.plate_ohms),
];
static DIODE_VALUES: [Value; 1] = [("current", &AMPERES_OR_NONE, |point| &mut point.plate_amps)];

/// How the bias of a point is given.
#[derive(Default)]
struct Conditions {
    plate: Option<f64>,
    grid: Option<f64>,
    screen: Option<f64>,
    suppressor: Option<f64>,
    /// Resistance in the cathode's lead, and how many halves share it.
    cathode_ohms: Option<(f64, f64)>,
}

/// Reads `point plate 100V grid 0V: current 11.8mA, slope 3.1mA/V`, or `points from 12au7.csv` with `csv` giving the text
/// of the file.
pub(super) fn read(
    line: &Statement,
    kind: TubeKind,
    csv: &dyn Fn(&str) -> Result<String, String>,
    points: &mut Vec<Point>,
    problems: &mut Problems,
) {
    if line.kind() == "points" {
        from_file(line, csv, points, problems);
        return;
    }
    let Some(conditions) = conditions(line, kind, problems) else {
        return;
    };
    let known: &[Value] = match kind {
        TubeKind::Triode | TubeKind::IndicatorTriode => &TRIODE_VALUES,
        TubeKind::Tetrode | TubeKind::Pentode => &PENTODE_VALUES,
        TubeKind::Diode => &DIODE_VALUES,
    };
    let mut point = Point {
        span: Some(line.span),
        ..Point::default()
    };
    let credit = Credit::of_line(line);
    for phrase in body(line, FORM, problems) {
        let mut words = Words::new(phrase, FORM);
        let Some(word) = words.want("the name of a value", problems) else {
            continue;
        };
        if word.text == "sample" {
            point.sample = words
                .want("the name of a sample", problems)
                .map(|word| word.text.clone());
            words.finish(problems);
            continue;
        }
        let Some((_, measure, place)) = known.iter().find(|(name, ..)| *name == word.text) else {
            problems.unknown(
                "unknown-value",
                word,
                "value of a point",
                known.iter().map(|(name, ..)| *name).chain(["sample"]),
            );
            continue;
        };
        if place(&mut point).is_some() {
            problems.twice(&format!("`{}`", word.text), word.span, line.span);
            continue;
        }
        *place(&mut point) = words.sourced(measure, &credit, problems);
        words.finish(problems);
    }
    check_product(&point, kind, line.span, problems);
    if bias(&mut point, &conditions, line.span, problems) {
        points.push(point);
    }
}

/// The words before the colon; `None` when the point cannot be placed.
fn conditions(line: &Statement, kind: TubeKind, problems: &mut Problems) -> Option<Conditions> {
    let known: &[&str] = match kind {
        TubeKind::Triode | TubeKind::IndicatorTriode => &[
            "plate",
            "grid",
            "cathode-resistor",
            "shared-cathode-resistor",
        ],
        TubeKind::Tetrode | TubeKind::Pentode => &[
            "plate",
            "grid",
            "screen",
            "suppressor",
            "cathode-resistor",
            "shared-cathode-resistor",
        ],
        TubeKind::Diode => &["plate"],
    };
    let mut found = Conditions::default();
    for (index, phrase) in line.head.iter().enumerate() {
        let mut words = Words::new(phrase, FORM);
        if index == 0 {
            words.next();
        }
        while let Some(word) = words.next() {
            let measure = match word.text.as_str() {
                "cathode-resistor" | "shared-cathode-resistor" => &OHMS,
                "screen" => &VOLTS,
                _ => &SIGNED_VOLTS,
            };
            if !known.contains(&word.text.as_str()) {
                problems.unknown(
                    "unknown-electrode",
                    word,
                    "electrode of this kind of tube",
                    known.iter().copied(),
                );
                return None;
            }
            let value = Some(words.value(measure, problems)?);
            match word.text.as_str() {
                "plate" => found.plate = value,
                "grid" => found.grid = value,
                "screen" => found.screen = value,
                "suppressor" => found.suppressor = value,
                "cathode-resistor" => found.cathode_ohms = value.map(|ohms| (ohms, 1.0)),
                _ => found.cathode_ohms = value.map(|ohms| (ohms, 2.0)),
            }
        }
    }
    let needs_screen =
        matches!(kind, TubeKind::Tetrode | TubeKind::Pentode) && found.screen.is_none();
    let needs_grid =
        kind != TubeKind::Diode && found.grid.is_none() && found.cathode_ohms.is_none();
    for (missing, word) in [
        (found.plate.is_none(), "plate"),
        (needs_grid, "grid"),
        (needs_screen, "screen"),
    ] {
        if missing {
            let message = format!("the point does not say its {word} volts");
            problems.fault(
                "word-missing",
                line.span,
                message,
                format!("Write them before the colon, as in `{FORM}`."),
            );
            return None;
        }
    }
    Some(found)
}

/// Puts the volts into the point. With a cathode resistor the grid stands below the cathode by the drop of the currents.
fn bias(point: &mut Point, conditions: &Conditions, span: Span, problems: &mut Problems) -> bool {
    point.plate_volts = conditions.plate.unwrap_or(0.0);
    point.grid_volts = conditions.grid.unwrap_or(0.0);
    point.screen_volts = conditions.screen;
    point.suppressor_volts = conditions.suppressor;
    let Some((ohms, halves)) = conditions.cathode_ohms else {
        return true;
    };
    let Some(plate_amps) = &point.plate_amps else {
        let message =
            "with a cathode resistor the grid volts follow from the current, which is not given"
                .to_owned();
        problems.fault(
            "word-missing",
            span,
            message,
            "Add `current`, or write the grid volts.",
        );
        return false;
    };
    if conditions.grid.is_some() {
        let message = "the point gives both grid volts and a cathode resistor".to_owned();
        problems.fault("said-twice", span, message, "Keep the one the sheet gives.");
    } else {
        let amps = plate_amps.value + point.screen_amps.as_ref().map_or(0.0, |amps| amps.value);
        point.grid_volts = -ohms * halves * amps;
    }
    true
}

/// Largest relative difference between mu and slope times plate resistance that passes without a word; chosen, because
/// published points of sound sheets agree within it.
const PRODUCT_TOLERANCE: f64 = 0.03;

/// Cautions when mu is not slope times plate resistance.
fn check_product(point: &Point, kind: TubeKind, span: Span, problems: &mut Problems) {
    let is_triode = matches!(kind, TubeKind::Triode | TubeKind::IndicatorTriode);
    let (Some(slope), Some(mu), Some(ohms), true) =
        (&point.slope, &point.mu, &point.plate_ohms, is_triode)
    else {
        return;
    };
    let product = slope.value * ohms.value;
    if (product / mu.value - 1.0).abs() > PRODUCT_TOLERANCE {
        let message = format!(
            "mu is {} but slope times plate resistance is {product:.1}",
            mu.value
        );
        problems.caution(
            "mu-mismatch",
            span,
            message,
            "Look at the sheet again: the three must agree within 3 %.",
        );
    }
}

fn from_file(
    line: &Statement,
    csv: &dyn Fn(&str) -> Result<String, String>,
    points: &mut Vec<Point>,
    problems: &mut Problems,
) {
    let Some(phrase) = line.head.first() else {
        return;
    };
    let mut words = Words::new(phrase, "points from 12au7.csv");
    words.next();
    if !words.take("from") {
        problems.fault(
            "word-expected",
            words.span,
            "after `points` the word `from` belongs".to_owned(),
            words.remedy(),
        );
        return;
    }
    let Some(name) = words.want("the name of a file", problems) else {
        return;
    };
    words.finish(problems);
    let text = match csv(&name.text) {
        Ok(text) => text,
        Err(why) => {
            let message = format!("the curve file `{}` cannot be read: {why}", name.text);
            problems.fault(
                "curve-file-missing",
                name.span,
                message,
                "Check its name; it is sought from the folder of the design.",
            );
            return;
        }
    };
    let (measured, complaints) = curve_csv::read(&text);
    for complaint in complaints {
        let message = format!(
            "{} line {}: {}",
            name.text, complaint.line, complaint.message
        );
        problems.all.push(
            Diagnostic::fault("curve-file-line", name.span, message).remedy(complaint.remedy),
        );
    }
    points.extend(measured.into_iter().map(|point| Point {
        span: Some(name.span),
        ..point
    }));
}
