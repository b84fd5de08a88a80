//! Try, set and format.

use super::drawing::{form_of, write_drawing};
use super::{ending, judged, listing, read_design, remark, say, show_problems, tell, usable};
use crate::Ending;
use crate::cli::Speech;
use crate::files::{Folder, read_text, write};
use design::model::{CircuitId, Design};
use design::place::find_value;
use design::read::{Reading, read};
use devices::library::Library;
use report::circuit_drawing::changed as changed_drawing;
use serde_json::json;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use text::diagnostic::{Severity, render};
use text::source::{SourceMap, Sources, Span};

/// A design as read, with one file replaced in memory.
struct Changed {
    files: BTreeMap<String, String>,
    folder: Folder,
}

impl Sources for Changed {
    fn read(&self, name: &str) -> Result<String, String> {
        self.files
            .get(name)
            .map_or_else(|| self.folder.read(name), |text| Ok(text.clone()))
    }
}

/// Where a value stands, or a message that names what there is.
fn place_of(design: &Design, part: &str) -> Result<Span, String> {
    find_value(design, part).ok_or_else(|| {
        if let Some((unit, mark)) = part.rsplit_once('.')
            && let Some(unit) = design.units.iter().find(|other| other.name == unit)
        {
            let circuit = &design.circuits[unit.circuit.0].name;
            return format!(
                "{} is a {circuit}, and every {circuit} has the same values; try {circuit}.{mark}",
                unit.name
            );
        }
        let names = value_names(design);
        match text::nearest::nearest(part, names.iter().map(String::as_str)) {
            Some(hint) => format!("there is no value {part}; did you mean {hint}?"),
            None => format!(
                "there is no value {part}; name a rail, or a circuit and a part, such as {}",
                names.last().map_or("nor3.R1", String::as_str)
            ),
        }
    })
}

/// Rails, and the parts of circuits.
fn value_names(design: &Design) -> Vec<String> {
    let rails = design.rails.iter().map(|rail| rail.name.clone());
    let parts = design.circuits.iter().flat_map(|circuit| {
        let name = &circuit.name;
        circuit
            .parts
            .iter()
            .map(move |part| format!("{name}.{}", part.mark))
    });
    rails.chain(parts).collect()
}

/// The design with a value replaced, in memory; its problems are shown.
fn changed(
    reading: &Reading,
    design: &Design,
    part: &str,
    value: &str,
    path: &Path,
) -> Result<(Reading, Span, String), String> {
    if value.trim().is_empty()
        || value
            .chars()
            .any(|character| character.is_whitespace() || ",:#()[]=".contains(character))
    {
        return Err(format!(
            "`{value}` is not one word that could stand as a value"
        ));
    }
    let span = place_of(design, part)?;
    let file = reading.sources.file(span.file);
    let new_text = text::edit::replace(&file.text, span, value);
    let folder = Folder::at(path)?;
    let first = folder.first.clone();
    let files = BTreeMap::from([(file.name.clone(), new_text.clone())]);
    let new = read(&first, &Changed { files, folder }, Library::shipped());
    if new.design.is_none() {
        return Err(format!(
            "with {part} at {value} the text cannot be used:\n{}",
            render(&new.diagnostics, &new.sources, false)
        ));
    }
    Ok((new, span, new_text))
}

/// Before and after one change; the text stays as it is. Drawn into a file if one is given.
pub fn try_change(
    part: &str,
    value: &str,
    to: Option<&Path>,
    path: &Path,
    speech: &Speech,
) -> Result<Ending, String> {
    let form = to.map(form_of).transpose()?;
    let reading = read_design(path)?;
    let design = match usable(&reading, speech) {
        Ok(design) => design,
        Err(ending) => return Ok(ending),
    };
    let (new, span, _) = changed(&reading, design, part, value, path)?;
    let Some(new_design) = &new.design else {
        return Ok(Ending::Unusable);
    };
    let place = form.map(|_| circuit_part(new_design, part)).transpose()?;
    let (before, after) = (judged(design), judged(new_design));
    let change = network::change::compare(&before, &after);
    let title = format!("{part}: {} → {value}", reading.sources.slice(span));
    say(
        speech,
        |terminal| report::terminal::change(&change, &title, &new.sources, terminal),
        || report::record::change(&change, &title, &new.sources),
    );
    if let (Some(file), Some(form), Some(place)) = (to, form, place) {
        let was = reading.sources.slice(span);
        let wording = speech.wording();
        let drawing = changed_drawing(&before, &after, place, was, &new.sources, wording);
        write_drawing(&drawing, form, file)?;
    }
    Ok(ending(&after))
}

/// The circuit and the part of it that a name such as `nor3.R3` is about.
fn circuit_part(design: &Design, name: &str) -> Result<(CircuitId, usize), String> {
    let found = name.split_once('.').and_then(|(circuit, mark)| {
        let index = design
            .circuits
            .iter()
            .position(|other| other.name == circuit)?;
        let parts = &design.circuits[index].parts;
        let part = parts.iter().position(|part| part.mark == mark)?;
        Some((CircuitId(index), part))
    });
    found.ok_or_else(|| format!("{name} is a rail and stands in no one circuit; leave out --to"))
}

/// Writes one value; every other byte stays.
pub fn set(part: &str, value: &str, path: &Path, speech: &Speech) -> Result<Ending, String> {
    let reading = read_design(path)?;
    let design = match usable(&reading, speech) {
        Ok(design) => design,
        Err(ending) => return Ok(ending),
    };
    let (new, span, new_text) = changed(&reading, design, part, value, path)?;
    let (line, column) = reading.sources.line_and_column(span);
    let name = &reading.sources.file(span.file).name;
    let file = Folder::at(path)?.root.join(name);
    write(&file, &new_text)?;
    let was = reading.sources.slice(span);
    remark(&format!(
        "{}:{line}: {part} was {was}, is {value}.",
        file.display()
    ));
    show_problems(&new.diagnostics, &new.sources);
    if speech.json {
        let record = json!({
            "format": report::record::FORMAT, "record": "set",
            "part": part, "was": was, "is": value, "place": { "file": name, "line": line, "column": column },
        });
        tell(&format!("{record:#}\n"));
    }
    Ok(Ending::Well)
}

/// Lays files out; with `look` only says which would change. A file with a fault is left as it is.
pub fn format(given: &[PathBuf], look: bool, speech: &Speech) -> Result<Ending, String> {
    let mut different = Vec::new();
    let mut faulty = false;
    for file in &designs_in(given)? {
        let shown = file.display().to_string();
        let old = read_text(file).map_err(|problem| format!("{shown}: {problem}"))?;
        let mut sources = SourceMap::default();
        let id = sources.add(shown.clone(), old.clone());
        let (tree, problems) = text::tree::read(id, &old);
        show_problems(&problems, &sources);
        if problems
            .iter()
            .any(|problem| problem.severity == Severity::Fault)
        {
            remark(&format!("{shown} is left as it is; mend the text first."));
            faulty = true;
            continue;
        }
        let new = text::format::format(&tree, &old);
        if new != old {
            if !look {
                write(file, &new)?;
                remark(&format!("{shown} laid out."));
            }
            different.push(shown);
        }
    }
    let changes = !different.is_empty();
    if speech.json {
        tell(&format!("{:#}\n", listing("laid_out", json!(different))));
    } else if look {
        tell(
            &different
                .iter()
                .map(|name| format!("{name}\n"))
                .collect::<String>(),
        );
    }
    Ok(match (faulty, look && changes) {
        (true, _) => Ending::Unusable,
        (false, true) => Ending::Fault,
        (false, false) => Ending::Well,
    })
}

/// Files as given, and every `.valve` file of the folders given and the folders in them.
fn designs_in(given: &[PathBuf]) -> Result<Vec<PathBuf>, String> {
    let mut found = Vec::new();
    let mut folders = Vec::new();
    for path in given {
        if path.is_dir() {
            folders.push((path.clone(), 0))
        } else {
            found.push(path.clone())
        }
    }
    while let Some((folder, depth)) = folders.pop() {
        let entries = std::fs::read_dir(&folder)
            .map_err(|error| format!("{} cannot be looked into: {error}", folder.display()))?;
        for path in entries.flatten().map(|entry| entry.path()) {
            if path.is_dir() && depth < DEEPEST_FOLDER && !path.is_symlink() {
                folders.push((path, depth + 1));
            } else if path.extension().is_some_and(|kind| kind == "valve") {
                found.push(path);
            }
        }
    }
    found.sort();
    Ok(found)
}

/// Folders below the one given that are looked into; chosen, designs are not deeper.
const DEEPEST_FOLDER: usize = 8;
