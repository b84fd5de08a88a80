//! The tables of a type sheet.

use super::{FitRow, fit_rows, low_volts};
use crate::sentence::shown;
use crate::table::{Align, Cell, Column, Mark as Judgement, Table};
use crate::tables::electrode;
use devices::library::{law_lines, source_title};
use devices::types::{Base, Mark, RatingSystem, Sourced, TubeKind, TubeType};
use std::collections::BTreeSet;
use text::quantity::Unit;

fn words(heading: &str) -> Column {
    Column {
        heading: heading.to_owned(),
        unit: String::new(),
        align: Align::Left,
    }
}

fn numbers(heading: &str, unit: &str) -> Column {
    Column {
        heading: heading.to_owned(),
        unit: unit.to_owned(),
        align: Align::Right,
    }
}

/// Our own words, which follow the reader's choice.
fn text(content: impl Into<String>) -> Cell {
    Cell::Mark(Judgement::None, content.into())
}

fn number(value: Option<f64>, digits: usize) -> Cell {
    Cell::Number {
        value: value.unwrap_or(f64::NAN),
        digits,
    }
}

/// How far a value can be trusted, with its document's key: `second-hand, S10`.
pub(crate) fn credit(mark: Mark, source: &str) -> String {
    let word = match mark {
        Mark::Seen => "seen",
        Mark::SeenSecond => "second-hand",
        Mark::MemoryHigh => "from memory",
        Mark::MemoryMedium => "from memory, not sure",
        Mark::Derived => "derived",
        Mark::Practice => "common practice, no source",
        Mark::Measured => "measured",
        Mark::Unmarked => "no source given",
    };
    if source.is_empty() {
        word.to_owned()
    } else {
        format!("{word}, {source}")
    }
}

/// The kind of a tube in words.
#[must_use]
pub(super) fn kind(tube: &TubeType) -> String {
    let kind = match tube.kind {
        TubeKind::Triode => "triode",
        TubeKind::IndicatorTriode => "indicator triode, directly heated",
        TubeKind::Tetrode => "tetrode",
        TubeKind::Pentode => "pentode",
        TubeKind::Diode => "diode",
    };
    let shared = if tube.common_cathode {
        ", one cathode for both"
    } else {
        ""
    };
    if tube.sections == 2 {
        format!("twin {kind}{shared}")
    } else {
        kind.to_owned()
    }
}

/// What is known of a type, each value with its source.
#[must_use]
pub fn data(tube: &TubeType) -> Table {
    let mut rows = vec![vec![text("kind"), text(kind(tube)), text("")]];
    if !tube.also.is_empty() {
        rows.push(vec![text("also"), text(tube.also.join(", ")), text("")]);
    }
    rows.extend(heater_rows(tube));
    rows.extend(spread_rows(tube));
    rows.extend(rating_rows(tube));
    for (section, capacitances) in tube.capacitances.iter().enumerate() {
        let half = if tube.capacitances.len() == 2 {
            ["A", "B"].get(section).map_or("", |half| *half)
        } else {
            ""
        };
        let all = [
            ("grid to plate", &capacitances.grid_plate),
            ("grid to cathode", &capacitances.grid_cathode),
            ("plate to cathode", &capacitances.plate_cathode),
        ];
        let known = all
            .into_iter()
            .filter_map(|(name, value)| Some((name, value.as_ref()?)));
        rows.extend(known.map(|(name, value)| {
            row(
                format!("capacitance {half} {name}").replace("  ", " "),
                value,
                Unit::Farad,
            )
        }));
    }
    Table {
        caption: format!("{}: data", tube.name),
        columns: vec![words("what"), words("value"), words("source")],
        rows,
    }
}

fn row(name: String, value: &Sourced<f64>, unit: Unit) -> Vec<Cell> {
    vec![
        text(name),
        text(shown(value.value, unit)),
        text(credit(value.mark, &value.source)),
    ]
}

fn heater_rows(tube: &TubeType) -> Vec<Vec<Cell>> {
    let Some(heater) = &tube.heater else {
        return vec![vec![text("heater"), text("not known here"), text("")]];
    };
    let name = if heater.direct { "filament" } else { "heater" };
    let mut rows = vec![
        row(format!("{name} volts"), &heater.volts, Unit::Volt),
        row(format!("{name} current"), &heater.amps, Unit::Ampere),
    ];
    let spread = heater.spread.as_ref();
    rows.extend(
        spread.map(|spread| row(format!("{name} current, either way"), spread, Unit::Percent)),
    );
    let warm_up = heater.warm_up.as_ref();
    rows.extend(warm_up.map(|seconds| row(format!("{name} warm-up"), seconds, Unit::Second)));
    if let Some((volts, amps)) = heater.tapped {
        let value = format!("{} {}", shown(volts, Unit::Volt), shown(amps, Unit::Ampere));
        rows.push(vec![
            text(format!("{name}, halves in parallel")),
            text(value),
            text(""),
        ]);
    }
    rows
}

/// Where the spread of a type comes from; samples on a bench are no document.
fn documents_of_spread(tube: &TubeType) -> impl Iterator<Item = &str> {
    let spread = &tube.spread;
    let ranges = [&spread.current, &spread.mu].into_iter().flatten();
    let singles = [
        &spread.cut_off,
        &spread.halves,
        &spread.alike,
        &spread.aged,
        &spread.reverse,
    ];
    let credits = ranges.map(|one| (one.mark, one.source.as_str())).chain(
        singles
            .into_iter()
            .flatten()
            .map(|one| (one.mark, one.source.as_str())),
    );
    credits
        .filter(|(mark, _)| *mark != Mark::Measured)
        .map(|(_, source)| source)
}

/// How far tubes of the type may be from the book, as far as it is known.
fn spread_rows(tube: &TubeType) -> Vec<Vec<Cell>> {
    let spread = &tube.spread;
    let ranges = [
        ("current, of the book's at the same volts", &spread.current),
        ("mu, of the book's", &spread.mu),
    ];
    let ranges = ranges.into_iter().filter_map(|(name, range)| {
        let range = range.as_ref()?;
        let (low, high) = range.value;
        let value = format!(
            "{} to {}",
            shown(low, Unit::Percent),
            shown(high, Unit::Percent)
        );
        let source = credit(range.mark, &range.source);
        Some(vec![text(name), text(value), text(source)])
    });
    let singles = [
        ("cut-off, either way", &spread.cut_off, Unit::Volt),
        (
            "halves differ in current, at most",
            &spread.halves,
            Unit::Percent,
        ),
        (
            "tubes of a lot differ in current, at most",
            &spread.alike,
            Unit::Percent,
        ),
        (
            "current left at the end of life, of the book's",
            &spread.aged,
            Unit::Percent,
        ),
        (
            "reverse grid current, at most",
            &spread.reverse,
            Unit::Ampere,
        ),
    ];
    let singles = singles
        .into_iter()
        .filter_map(|(name, value, unit)| Some(row(name.to_owned(), value.as_ref()?, unit)));
    ranges.chain(singles).collect()
}

fn rating_rows(tube: &TubeType) -> Vec<Vec<Cell>> {
    let ratings = &tube.ratings;
    let system = match ratings.system {
        Some(RatingSystem::DesignCentre) => "design-centre",
        Some(RatingSystem::DesignMaximum) => "design-maximum",
        Some(RatingSystem::AbsoluteMaximum) => "absolute maximum",
        Some(RatingSystem::NotStated) => "system not stated",
        None => "none known here",
    };
    let mut rows = vec![vec![text("limits"), text(system), text("")]];
    let all = [
        ("plate volts", &ratings.plate_volts, Unit::Volt),
        (
            "plate volts, cold or cut off",
            &ratings.cold_plate_volts,
            Unit::Volt,
        ),
        (
            if tube.sections == 2 {
                "plate dissipation, one half"
            } else {
                "plate dissipation"
            },
            &ratings.plate_watts,
            Unit::Watt,
        ),
        (
            "plate dissipation, both halves",
            &ratings.both_plates_watts,
            Unit::Watt,
        ),
        ("screen volts", &ratings.screen_volts, Unit::Volt),
        ("screen dissipation", &ratings.screen_watts, Unit::Watt),
        ("cathode current", &ratings.cathode_amps, Unit::Ampere),
        ("grid negative by", &ratings.negative_grid_volts, Unit::Volt),
        (
            "grid circuit, fixed bias",
            &ratings.grid_ohms_fixed,
            Unit::Ohm,
        ),
        (
            "grid circuit, cathode bias",
            &ratings.grid_ohms_self,
            Unit::Ohm,
        ),
        (
            "heater positive of cathode",
            &ratings.heater_positive_volts,
            Unit::Volt,
        ),
        (
            "heater negative of cathode",
            &ratings.heater_negative_volts,
            Unit::Volt,
        ),
        ("reverse plate volts", &ratings.reverse_volts, Unit::Volt),
        ("peak plate current", &ratings.peak_amps, Unit::Ampere),
    ];
    let known = all
        .into_iter()
        .filter_map(|(name, value, unit)| Some((name, value.as_ref()?, unit)));
    rows.extend(known.map(|(name, value, unit)| row(format!("{name}, at most"), value, unit)));
    rows
}

/// The pins of a base, numbered clockwise as seen from below.
#[must_use]
pub fn pins(base: &Base) -> Table {
    let rows = base
        .pins
        .iter()
        .map(|pin| vec![text(pin.number.to_string()), text(electrode(pin))]);
    Table {
        caption: format!("Base {} ({})", base.name, credit(base.mark, &base.source)),
        columns: vec![words("pin"), words("electrode")],
        rows: rows.collect(),
    }
}

/// Data-sheet and measured points.
#[must_use]
pub fn points(tube: &TubeType) -> Table {
    let has_screen = tube.points.iter().any(|point| point.screen_volts.is_some());
    let mut columns = vec![numbers("plate", "V"), numbers("grid", "V")];
    columns.extend(has_screen.then(|| numbers("screen", "V")));
    columns.push(words("values with sources"));
    let rows = tube.points.iter().map(|point| {
        let all = [
            ("plate", &point.plate_amps, Unit::Ampere),
            ("grid", &point.grid_amps, Unit::Ampere),
            ("screen", &point.screen_amps, Unit::Ampere),
            ("slope", &point.slope, Unit::AmperePerVolt),
            ("mu", &point.mu, Unit::None),
            ("plate resistance", &point.plate_ohms, Unit::Ohm),
        ];
        let known = all
            .into_iter()
            .filter_map(|(name, value, unit)| Some((name, value.as_ref()?, unit)));
        let values: Vec<String> = known
            .map(|(name, value, unit)| {
                format!(
                    "{name} {} ({})",
                    shown(value.value, unit),
                    credit(value.mark, &value.source)
                )
            })
            .collect();
        let mut cells = vec![
            number(Some(point.plate_volts), 1),
            number(Some(point.grid_volts), 2),
        ];
        cells.extend(has_screen.then(|| number(point.screen_volts, 1)));
        let sample = point
            .sample
            .as_ref()
            .map_or(String::new(), |sample| format!("; sample {sample}"));
        cells.push(text(values.join(", ") + &sample));
        cells
    });
    Table {
        caption: "Points".to_owned(),
        columns,
        rows: rows.collect(),
    }
}

/// What the type does at low plate volts.
#[must_use]
pub fn low_volts_table(tube: &TubeType) -> Table {
    let low = low_volts(tube);
    let has_screen = low.iter().any(|one| one.screen_amps.is_some());
    let mut columns = vec![
        numbers("plate", "V"),
        numbers(
            if low.iter().any(|one| one.grid_amps.is_some()) {
                "current at 0 V grid"
            } else {
                "current"
            },
            "mA",
        ),
    ];
    columns.extend(has_screen.then(|| numbers("screen current", "mA")));
    let has_grid = low.iter().any(|one| one.grid_amps.is_some());
    let of_grid = [
        numbers("current at +0.5 V", "mA"),
        numbers("grid current at 0 V", "µA"),
        numbers("grid current at +0.5 V", "µA"),
        numbers("cut-off, grid at", "V"),
        numbers("with", "µA"),
    ];
    columns.extend(of_grid.into_iter().filter(|_| has_grid));
    columns.push(numbers("plate resistance at 0 V", "kΩ"));
    columns.extend(has_grid.then(|| numbers("mu at 0 V", "")));
    columns.extend([words("extrapolated"), words("limits")]);
    let rows = low.iter().map(|one| {
        let mut cells = vec![
            number(Some(one.plate_volts), 0),
            number(Some(1e3 * one.amps), 3),
        ];
        cells.extend(has_screen.then(|| number(one.screen_amps.map(|amps| 1e3 * amps), 3)));
        let of_grid = [
            number(one.amps_positive.map(|amps| 1e3 * amps), 3),
            number(one.grid_amps.map(|amps| 1e6 * amps), 2),
            number(one.grid_amps_positive.map(|amps| 1e6 * amps), 0),
            number(one.cut_off.map(|cut_off| cut_off.0), 2),
            number(one.cut_off.map(|cut_off| 1e6 * cut_off.1), 1),
        ];
        cells.extend(of_grid.into_iter().filter(|_| has_grid));
        cells.push(number(one.plate_ohms.map(|ohms| 1e-3 * ohms), 2));
        cells.extend(has_grid.then(|| number(one.mu, 1)));
        cells.push(text(if one.extrapolated { "yes" } else { "no" }));
        cells.push(if one.beyond_limits {
            Cell::Mark(Judgement::Caution, "beyond".to_owned())
        } else {
            text("")
        });
        cells
    });
    let screen = if has_screen {
        ", screen at the plate's volts"
    } else {
        ""
    };
    let cut_off = if has_grid {
        ". Cut-off: 1 % of the current at 0 V grid, or 10 µA where that is more"
    } else {
        ""
    };
    Table {
        caption: format!("At low plate volts{screen}{cut_off}"),
        columns,
        rows: rows.collect(),
    }
}

/// Points against the law.
#[must_use]
pub fn fit_table(tube: &TubeType) -> Table {
    let rows = fit_rows(tube).into_iter().map(|row: FitRow| {
        let (unit, scale) = row.unit;
        vec![
            text(format!(
                "{} V, {} V",
                plain(row.plate_volts),
                plain(row.grid_volts)
            )),
            text(row.sample.clone().map_or_else(
                || row.quantity.to_owned(),
                |sample| format!("{}, sample {sample}", row.quantity),
            )),
            text(unit),
            number(Some(scale * row.given), 3),
            number(Some(scale * row.law), 3),
            number(row.relative().map(|relative| 100.0 * relative), 1),
        ]
    });
    Table {
        caption: "Points against the law".to_owned(),
        columns: vec![
            words("plate, grid"),
            words("quantity"),
            words("unit"),
            numbers("given", ""),
            numbers("law", ""),
            numbers("off by", "%"),
        ],
        rows: rows.collect(),
    }
}

fn plain(volts: f64) -> String {
    crate::decimal::significant(volts, 4)
        .trim_end_matches('0')
        .trim_end_matches('.')
        .to_owned()
}

/// The law as a `type` statement has it, with the parameters that come from a prior named; empty without a law.
#[must_use]
pub fn parameters(tube: &TubeType) -> String {
    tube.law.as_ref().map_or_else(String::new, |law| {
        law_lines(law, &tube.from_prior).join("\n")
    })
}

/// Titles of the documents that the sheet's marks name, `S10: title`.
#[must_use]
pub fn sources(tube: &TubeType) -> Vec<String> {
    let mut keys: BTreeSet<&str> = BTreeSet::new();
    let ratings = &tube.ratings;
    let single = [
        &ratings.plate_volts,
        &ratings.cold_plate_volts,
        &ratings.plate_watts,
        &ratings.both_plates_watts,
        &ratings.screen_volts,
        &ratings.screen_watts,
        &ratings.cathode_amps,
        &ratings.negative_grid_volts,
        &ratings.grid_ohms_fixed,
        &ratings.grid_ohms_self,
        &ratings.heater_positive_volts,
        &ratings.heater_negative_volts,
        &ratings.reverse_volts,
        &ratings.peak_amps,
    ];
    let of_points = tube.points.iter().flat_map(|point| {
        [
            &point.plate_amps,
            &point.grid_amps,
            &point.screen_amps,
            &point.slope,
            &point.mu,
            &point.plate_ohms,
        ]
    });
    let of_capacitances = tube
        .capacitances
        .iter()
        .flat_map(|one| [&one.grid_plate, &one.grid_cathode, &one.plate_cathode]);
    let of_heater = tube
        .heater
        .iter()
        .flat_map(|heater| [&heater.volts, &heater.amps]);
    keys.extend(
        single
            .into_iter()
            .chain(of_points)
            .chain(of_capacitances)
            .flatten()
            .chain(of_heater)
            .map(|one| one.source.as_str()),
    );
    keys.extend(tube.base.iter().map(|base| base.source.as_str()));
    keys.extend(documents_of_spread(tube));
    // Remarks name their documents in brackets, as typed.
    let remarks = tube.remarks.join(" ");
    keys.extend(
        remarks
            .split(|letter: char| !letter.is_alphanumeric())
            .filter(|word| source_title(word).is_some()),
    );
    keys.into_iter()
        .filter(|key| !key.is_empty())
        .map(|key| {
            source_title(key).map_or_else(|| key.to_owned(), |title| format!("{key}: {title}"))
        })
        .collect()
}
