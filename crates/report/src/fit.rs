//! A fit against its points, for terminal and record.

use crate::decimal::{fixed, significant};
use crate::table::{Align, Cell, Column, Table};
use crate::tables::worded;
use crate::terminal::Terminal;
use devices::fit::{FitOutcome, PointResidual, Quantity, TriodeFit};
use devices::library::law_lines;
use devices::triode::TriodeLaw;
use devices::types::{Law, Point};
use serde_json::{Value, json};

/// A triode's fit: the type statement to paste into a design, every value of every point against the law, and what the
/// points do not determine.
#[must_use]
pub fn words(
    name: &str,
    file: &str,
    points: &[Point],
    fit: &TriodeFit,
    terminal: &Terminal,
) -> String {
    let law = Law::Triode(TriodeLaw::Tail(fit.parameters));
    let mut out = format!("type {name} triode\n    points from {file}\n");
    for line in law_lines(&law, &fit.from_prior) {
        out.push_str("    ");
        out.push_str(&line);
        out.push('\n');
    }
    out.push_str("    # add base, heater, limits and capacitance from the sheet\n\n");
    out.push_str(
        &worded(residuals(points, fit), terminal.wording).to_text(terminal.width, terminal.plain),
    );
    out.push('\n');
    for sentence in remarks(fit) {
        out.push_str(&terminal.wording.apply(&sentence));
        out.push('\n');
    }
    out
}

/// What to know about a fit, in sentences.
fn remarks(fit: &TriodeFit) -> Vec<String> {
    let mut all = Vec::new();
    match fit.outcome {
        FitOutcome::Settled => {}
        FitOutcome::NotSettled => all.push("The work allowed was spent before the fit stood still: these are the best values found.".to_owned()),
        FitOutcome::NothingToFit => all.push("The points give no value to fit to.".to_owned()),
    }
    if let Some(validity) = &fit.validity {
        all.push(format!(
            "Holds for plates from {} V to {} V and grids from {} V to {} V; beyond that it is extrapolated.",
            significant(validity.plate_volts.0, 3),
            significant(validity.plate_volts.1, 3),
            significant(validity.grid_volts.0, 3),
            significant(validity.grid_volts.1, 3)
        ));
    }
    if !fit.from_prior.is_empty() {
        let names: Vec<&str> = fit
            .from_prior
            .iter()
            .map(|entry| entry.0.as_str())
            .collect();
        let prior = &fit.from_prior[0].1;
        all.push(format!(
            "Not determined by these points, taken from the prior {prior}: {}.",
            names.join(", ")
        ));
    }
    if let Some(spread) = &fit.spread {
        all.push(format!(
            "{} samples: current from {} to {} of the mean law (mean {}), mu from {} to {}.",
            spread.samples.len(),
            fixed(spread.perveance.least, 2),
            fixed(spread.perveance.largest, 2),
            fixed(spread.perveance.mean, 2),
            fixed(spread.mu.least, 2),
            fixed(spread.mu.largest, 2)
        ));
    }
    all
}

/// Unit shown and factor from the SI unit.
fn shown_in(quantity: Quantity) -> (&'static str, &'static str, f64) {
    match quantity {
        Quantity::PlateCurrent => ("plate current", "mA", 1e3),
        Quantity::GridCurrent => ("grid current", "µA", 1e6),
        Quantity::ScreenCurrent => ("screen current", "mA", 1e3),
        Quantity::Slope => ("slope", "mA/V", 1e3),
        Quantity::Mu => ("mu", "", 1.0),
        Quantity::PlateResistance => ("plate resistance", "kΩ", 1e-3),
    }
}

/// Every value of every point against the law.
#[must_use]
pub fn residuals(points: &[Point], fit: &TriodeFit) -> Table {
    let column = |heading: &str, unit: &str, align: Align| Column {
        heading: heading.to_owned(),
        unit: unit.to_owned(),
        align,
    };
    let row = |residual: &PointResidual| {
        let point = &points[residual.point];
        let (name, unit, factor) = shown_in(residual.quantity);
        vec![
            Cell::Number {
                value: point.plate_volts,
                digits: 1,
            },
            Cell::Number {
                value: point.grid_volts,
                digits: 2,
            },
            Cell::Text(if unit.is_empty() {
                name.to_owned()
            } else {
                format!("{name}, {unit}")
            }),
            Cell::Number {
                value: residual.measured * factor,
                digits: 3,
            },
            Cell::Number {
                value: residual.fitted * factor,
                digits: 3,
            },
            Cell::Number {
                value: residual.relative * 100.0,
                digits: 1,
            },
        ]
    };
    Table {
        caption: "The law against its points".to_owned(),
        columns: vec![
            column("plate", "V", Align::Right),
            column("grid", "V", Align::Right),
            column("quantity", "", Align::Left),
            column("point", "", Align::Right),
            column("law", "", Align::Right),
            column("off by", "%", Align::Right),
        ],
        rows: fit.residuals.iter().map(row).collect(),
    }
}

/// The same as a record.
#[must_use]
pub fn record(name: &str, points: &[Point], fit: &TriodeFit) -> Value {
    let law = Law::Triode(TriodeLaw::Tail(fit.parameters));
    json!({
        "format": 1,
        "record": "fit",
        "type": name,
        "lines": law_lines(&law, &fit.from_prior),
        "residuals": fit.residuals.iter().map(|residual| json!({
            "plate_volts": points[residual.point].plate_volts,
            "grid_volts": points[residual.point].grid_volts,
            "quantity": shown_in(residual.quantity).0,
            "point": residual.measured,
            "law": residual.fitted,
            "relative": residual.relative,
        })).collect::<Vec<_>>(),
        "from_prior": fit.from_prior.iter().map(|entry| json!({ "parameter": entry.0, "prior": entry.1 })).collect::<Vec<_>>(),
        "samples": fit.spread.as_ref().map(|spread| spread.samples.iter().map(|sample| json!({
            "name": sample.name,
            "current_factor": sample.perveance,
            "mu_factor": sample.mu,
        })).collect::<Vec<_>>()),
        "settled": fit.outcome == FitOutcome::Settled,
    })
}
