//! The shelf of ready circuits, and a folder begun with some of them.

use super::{listing, remark, say, tell};
use crate::Ending;
use crate::cli::Speech;
use crate::defaults::FIRST_FILE;
use crate::files::write_new;
use crate::shelf::{self, Piece, SHELF};
use serde_json::{Value, json};
use std::path::Path;

/// Chooses everything.
const ALL: &str = "all";

/// Lists the shelf, or starts a folder with the chosen pieces.
pub fn start(folder: Option<&Path>, names: &[String], speech: &Speech) -> Result<Ending, String> {
    let Some(folder) = folder else {
        say(
            speech,
            |_| list(),
            || listing("shelf", SHELF.iter().map(record).collect()),
        );
        return Ok(Ending::Well);
    };
    let chosen = choose(folder, names)?;
    let files = shelf::folder(&machine_name(folder), &chosen, FIRST_FILE)?;
    let paths: Vec<_> = files.iter().map(|(name, _)| folder.join(name)).collect();
    if let Some(there) = paths.iter().find(|path| path.symlink_metadata().is_ok()) {
        return Err(format!(
            "{} is there already, and nothing is written over: name a new folder",
            there.display()
        ));
    }
    for (path, (_, text)) in paths.iter().zip(&files) {
        write_new(path, text)?;
    }
    if speech.json {
        let names: Vec<&str> = files.iter().map(|(name, _)| name.as_str()).collect();
        let record = json!({
            "format": report::record::FORMAT,
            "record": "started",
            "folder": folder.display().to_string(),
            "files": names,
        });
        tell(&format!("{record:#}\n"));
    }
    remark(&next(folder, &files, &chosen));
    Ok(Ending::Well)
}

fn choose(folder: &Path, names: &[String]) -> Result<Vec<Piece>, String> {
    if names.is_empty() {
        let meant = folder
            .to_str()
            .and_then(Piece::named)
            .map(|piece| piece.name);
        return Err(match meant {
            Some(name) => format!(
                "{name} is a circuit of the shelf; name the folder before it: `valvewright start my-machine {name}`"
            ),
            None => format!(
                "name the circuits to start with, such as `valvewright start {} nor2 follower`, or `{ALL}`; `valvewright start` lists the shelf",
                folder.display()
            ),
        });
    }
    let mut wanted = Vec::new();
    for name in names.iter().filter(|name| *name != ALL) {
        wanted.push(Piece::named(name).ok_or_else(|| unknown(name))?);
    }
    let all = names.iter().any(|name| name == ALL);
    // In the order of the shelf, each once.
    Ok(SHELF
        .iter()
        .copied()
        .filter(|piece| all || wanted.contains(piece))
        .collect())
}

fn unknown(name: &str) -> String {
    match text::nearest::nearest(name, SHELF.iter().map(|piece| piece.name)) {
        Some(hint) => format!("the shelf has no circuit {name}; did you mean {hint}?"),
        None => format!("the shelf has no circuit {name}; `valvewright start` lists the shelf"),
    }
}

/// The folder's name as far as it can stand behind `machine`.
fn machine_name(folder: &Path) -> String {
    let name = folder
        .file_name()
        .and_then(|name| name.to_str())
        .unwrap_or("");
    let letters: String = name
        .chars()
        .map(|letter| {
            if letter.is_alphanumeric() || letter == '-' {
                letter
            } else {
                ' '
            }
        })
        .collect();
    let name = letters.split_whitespace().collect::<Vec<_>>().join(" ");
    if name.starts_with(char::is_alphabetic) {
        name
    } else {
        format!("Machine {name}").trim_end().to_owned()
    }
}

/// Each piece with what it does, the tubes that serve, and its rails.
fn list() -> String {
    let entry = |piece: &Piece| {
        let range = piece.range();
        format!(
            "{:16}{}\n{:16}tubes {}; rails {}\n",
            piece.name,
            piece.does(),
            "",
            range.tubes.join(", "),
            range.rails.join(", ")
        )
    };
    let entries: String = SHELF.iter().map(entry).collect();
    format!(
        "{entries}\n`valvewright start my-machine nor2 follower` begins a folder with two of them, `{ALL}` in place of the names with all.\n"
    )
}

fn record(piece: &Piece) -> Value {
    let range = piece.range();
    json!({
        "name": piece.name,
        "does": piece.does(),
        "tubes": range.tubes,
        "rails": range.rails,
        "within": share(range.within_percent),
        "not_within": range.not_within_percent.map(share),
        "drives": range.drives,
        "not_driving": range.not_driving,
    })
}

fn share(percent: u32) -> f64 {
    f64::from(percent) / 100.0
}

/// What was written and what to do now.
fn next(folder: &Path, files: &[(String, String)], chosen: &[Piece]) -> String {
    let shown = folder.display();
    let names: Vec<&str> = files.iter().map(|(name, _)| name.as_str()).collect();
    // Volts are asked for by circuit, states of blocks all together.
    let look = match chosen.iter().position(|piece| !piece.is_block()) {
        Some(index) => format!("levels T{} --in {shown}", index + 1),
        None => format!("states --in {shown}"),
    };
    let width = look.len().max(format!("report {shown}").len());
    let line = |command: &str, what: &str| format!("  valvewright {command:width$}  {what}\n");
    let commands = [
        line(
            &format!("check {shown}"),
            "judge it; it passes as it stands",
        ),
        line(&look, "see its volts"),
        line(&format!("report {shown}"), "write the page with pictures"),
    ];
    format!(
        "{shown} is begun with {}.\n\
         Now:\n{}\
         Then write the volts of your supplies into {shown}/rails.valve and your own units into {shown}/{FIRST_FILE}.\n\
         When you know the sockets, write them behind the circuit (`in V1A`) and string the heaters.",
        names.join(", "),
        commands.concat()
    )
}
