//! Designs as text for the tests, and what the reading of them gives.

use design::read::{Reading, read};
use devices::library::Library;
use std::collections::HashMap;
use text::source::Sources;

/// Files held in memory.
pub struct Folder(pub HashMap<String, String>);

impl Sources for Folder {
    fn read(&self, name: &str) -> Result<String, String> {
        self.0
            .get(name)
            .cloned()
            .ok_or_else(|| "no such file".to_owned())
    }
}

/// Reads files held in memory, the first of which is `machine.valve`.
pub fn read_files(files: &[(&str, &str)]) -> Reading {
    let folder = files
        .iter()
        .map(|(name, text)| ((*name).to_owned(), (*text).to_owned()))
        .collect();
    read("machine.valve", &Folder(folder), Library::shipped())
}

/// Reads one text.
pub fn read_text(text: &str) -> Reading {
    read_files(&[("machine.valve", text)])
}

/// What is said of a text: the name of each diagnostic and the text under it.
pub fn said(reading: &Reading) -> Vec<(&'static str, String)> {
    let said = |problem: &text::diagnostic::Diagnostic| {
        let under = problem
            .span
            .map_or(String::new(), |span| reading.sources.slice(span).to_owned());
        (problem.name, under)
    };
    reading.diagnostics.iter().map(said).collect()
}

/// A sound design with every construct of the language in it.
pub const SOUND: &str = include_str!("sound.valve");
