//! Try, set and format.

use super::{ending, judged, read_design, say, usable};
use crate::Ending;
use crate::cli::Speech;
use crate::files::{Folder, read_text, write};
use design::model::Design;
use design::place::find_value;
use design::read::{Reading, read};
use devices::library::Library;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use text::diagnostic::render;
use text::source::{FileId, SourceMap, Sources, Span};

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
        let mut names: Vec<String> = design.rails.iter().map(|rail| rail.name.clone()).collect();
        for circuit in &design.circuits {
            names.extend(
                circuit
                    .parts
                    .iter()
                    .map(|part| format!("{}.{}", circuit.name, part.mark)),
            );
        }
        let hint = text::nearest::nearest(part, names.iter().map(String::as_str));
        match hint {
            Some(hint) => format!("there is no value {part}; did you mean {hint}?"),
            None => format!(
                "there is no value {part}; name a circuit and a part, such as {}",
                names.last().map_or("nor3.R1", String::as_str)
            ),
        }
    })
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
            "{value} is not one word that could stand as a value"
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

/// Before and after one change; nothing is written.
pub fn try_change(part: &str, value: &str, path: &Path, speech: &Speech) -> Result<Ending, String> {
    let reading = read_design(path)?;
    let design = match usable(&reading, speech) {
        Ok(design) => design,
        Err(ending) => return Ok(ending),
    };
    let (new, span, _) = changed(&reading, design, part, value, path)?;
    let Some(new_design) = &new.design else {
        return Ok(Ending::Unusable);
    };
    let (before, after) = (judged(design), judged(new_design));
    let change = network::change::compare(&before, &after);
    let title = format!("{part}: {} → {value}", reading.sources.slice(span));
    say(
        speech,
        |terminal| report::terminal::change(&change, &title, &new.sources, terminal),
        || report::record::change(&change, &title, &new.sources),
    );
    Ok(ending(&after))
}

/// Writes one value; every other byte stays.
pub fn set(part: &str, value: &str, path: &Path, speech: &Speech) -> Result<Ending, String> {
    let reading = read_design(path)?;
    let design = match usable(&reading, speech) {
        Ok(design) => design,
        Err(ending) => return Ok(ending),
    };
    let (new, span, new_text) = changed(&reading, design, part, value, path)?;
    let (line, _) = reading.sources.line_and_column(span);
    let file = Folder::at(path)?
        .root
        .join(file_name(&reading.sources, span.file));
    write(&file, &new_text)?;
    eprintln!(
        "{}:{line}: {part} was {}, is {value}.",
        file.display(),
        reading.sources.slice(span)
    );
    if !new.diagnostics.is_empty() {
        eprintln!("{}", render(&new.diagnostics, &new.sources, false));
    }
    let _ = speech;
    Ok(Ending::Well)
}

fn file_name(sources: &SourceMap, file: FileId) -> &str {
    &sources.file(file).name
}

/// Lays files out; with `look` only says which would change.
pub fn format(files: &[PathBuf], look: bool) -> Result<Ending, String> {
    let mut different = 0;
    for file in files {
        let old = read_text(file).map_err(|problem| format!("{}: {problem}", file.display()))?;
        let mut sources = SourceMap::default();
        let id = sources.add(file.display().to_string(), old.clone());
        let (tree, diagnostics) = text::tree::read(id, &old);
        if !diagnostics.is_empty() {
            eprintln!("{}", render(&diagnostics, &sources, false));
        }
        let new = text::format::format(&tree, &old);
        if new != old {
            different += 1;
            if look {
                println!("{}", file.display());
            } else {
                write(file, &new)?;
                eprintln!("{} laid out.", file.display());
            }
        }
    }
    Ok(if look && 0 < different {
        Ending::Fault
    } else {
        Ending::Well
    })
}
