//! Tube sheets, and fitting to measured points.

use super::{edition, listing, read_design, remark, say};
use crate::Ending;
use crate::cli::Speech;
use crate::files::{read_text, write};
use devices::curve_csv;
use devices::fit::{TriodePrior, fit_triode};
use devices::library::Library;
use devices::types::TubeType;
use report::table::{Align, Cell, Column, Table};
use std::path::Path;

/// The sheet of one type, or the list of all.
pub fn tube(
    name: Option<&str>,
    design: Option<&Path>,
    to: Option<&Path>,
    speech: &Speech,
) -> Result<Ending, String> {
    let library = match design {
        Some(path) => read_design(path)?.library,
        None => Library::shipped(),
    };
    let Some(name) = name else {
        let table = list(&library);
        say(
            speech,
            |terminal| {
                report::tables::worded(table, terminal.wording)
                    .to_text(terminal.width, speech.plain)
            },
            || {
                listing(
                    "tubes",
                    library
                        .tubes
                        .iter()
                        .map(|tube| tube.name.as_str())
                        .collect(),
                )
            },
        );
        return Ok(Ending::Well);
    };
    let tube = library.tube(name).ok_or_else(|| no_sheet(name, &library))?;
    if let Some(file) = to {
        write(
            file,
            report::html::type_sheet_page(tube, &edition(), speech.wording()),
        )?;
        remark(&format!("The sheet stands in {}.", file.display()));
        return Ok(Ending::Well);
    }
    say(
        speech,
        |terminal| report::terminal::type_sheet(tube, terminal),
        || report::record::type_sheet(tube),
    );
    Ok(Ending::Well)
}

/// Says why a name has no sheet.
pub(super) fn no_sheet(name: &str, library: &Library) -> String {
    if library.diode(name).is_some() || library.neon(name).is_some() {
        return format!("{name} is no tube; the library knows it, but only tubes have sheets");
    }
    let tubes = library.tubes.iter();
    let names = tubes.flat_map(|tube| std::iter::once(&tube.name).chain(&tube.also));
    match text::nearest::nearest(name, names.map(String::as_str)) {
        Some(hint) => format!("there is no tube type {name} in the library; did you mean {hint}?"),
        None => format!(
            "there is no tube type {name} in the library; `valvewright tube` lists all, and your own goes into a type statement"
        ),
    }
}

/// All tube types with what tells them apart.
fn list(library: &Library) -> Table {
    let column = |heading: &str, unit: &str, align: Align| Column {
        heading: heading.to_owned(),
        unit: unit.to_owned(),
        align,
    };
    let row = |tube: &TubeType| {
        let heater = tube.heater.as_ref();
        vec![
            Cell::Text(tube.name.clone()),
            Cell::Text(
                format!("{:?}", tube.kind)
                    .to_lowercase()
                    .replace("indicatortriode", "indicator triode"),
            ),
            Cell::Text(if tube.sections == 2 {
                "two".to_owned()
            } else {
                "one".to_owned()
            }),
            heater.map_or(Cell::Text("not known".to_owned()), |heater| Cell::Number {
                value: heater.volts.value,
                digits: 1,
            }),
            heater.map_or(Cell::Text("not known".to_owned()), |heater| Cell::Number {
                value: heater.amps.value * 1e3,
                digits: 0,
            }),
            Cell::Text(if tube.law.is_some() {
                "yes".to_owned()
            } else {
                "no: measure it".to_owned()
            }),
            Cell::Text(tube.also.join(" ")),
        ]
    };
    Table {
        caption: "Tube types of the library".to_owned(),
        columns: vec![
            column("type", "", Align::Left),
            column("kind", "", Align::Left),
            column("sections", "", Align::Left),
            column("heater", "V", Align::Right),
            column("heater", "mA", Align::Right),
            column("curve", "", Align::Left),
            column("also", "", Align::Left),
        ],
        rows: library.tubes.iter().map(|tube| row(tube)).collect(),
    }
}

/// Fits a triode to a CSV file of points.
pub fn fit(points: &Path, name: &str, speech: &Speech) -> Result<Ending, String> {
    let text = read_text(points).map_err(|problem| format!("{}: {problem}", points.display()))?;
    let (read, problems) = curve_csv::read(&text);
    for problem in &problems {
        remark(&format!(
            "{}:{}: {}. {}",
            points.display(),
            problem.line,
            problem.message,
            problem.remedy
        ));
    }
    if !problems.is_empty() || read.is_empty() {
        return Ok(Ending::Unusable);
    }
    let fit = fit_triode(&read, &TriodePrior::SMALL_RECEIVING);
    let file = points
        .file_name()
        .and_then(|name| name.to_str())
        .unwrap_or("points.csv");
    say(
        speech,
        |terminal| report::fit::words(name, file, &read, &fit, terminal),
        || report::fit::record(name, &read, &fit),
    );
    Ok(Ending::Well)
}
