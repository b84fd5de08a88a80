//! Designs as text for the tests, and what the reading of them gives.

use design::read::{Reading, read};
use devices::library::Library;
use std::collections::HashMap;
use std::sync::LazyLock;
use text::source::Sources;

/// The shipped types, made once: some of them are fitted when they are read.
pub fn library() -> Library {
    static SHIPPED: LazyLock<Library> = LazyLock::new(Library::shipped);
    SHIPPED.clone()
}

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
    read("machine.valve", &Folder(folder), library())
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

/// Rails, circuits and a block that most tests share.
pub const BASE: &str = include_str!("base.valve");

/// Reads `text` as a file that includes [`BASE`], and checks that exactly the expected is said of it. What is expected
/// stands in the text, in a comment that ends the line: `#! name: text underlined; name: text underlined`.
#[track_caller]
pub fn check(text: &str) {
    let text = format!("valvewright format 1\ninclude base.valve\n{text}");
    let reading = read_files(&[("machine.valve", &text), ("base.valve", BASE)]);
    let found = findings(&reading);
    let mut expected = expectations(&text);
    let mut sorted = found.clone();
    expected.sort();
    sorted.sort();
    let drawn = text::diagnostic::render(&reading.diagnostics, &reading.sources, false);
    assert_eq!(
        sorted, expected,
        "found (left) is not what the comments say (right)\n{drawn}"
    );
    assert_eq!(
        reading.design.is_none(),
        reading.faults() > 0,
        "a design exists where nothing is at fault"
    );
}

/// Line, name and underlined text of every diagnostic.
fn findings(reading: &Reading) -> Vec<(usize, String, String)> {
    let line = |problem: &text::diagnostic::Diagnostic| {
        problem
            .span
            .map_or(0, |span| reading.sources.line_and_column(span).0)
    };
    let names = reading.diagnostics.iter().zip(said(reading));
    names
        .map(|(problem, (name, under))| (line(problem), name.to_owned(), under))
        .collect()
}

fn expectations(text: &str) -> Vec<(usize, String, String)> {
    let mut expected = Vec::new();
    for (index, line) in text.lines().enumerate() {
        let Some((_, comment)) = line.split_once("#!") else {
            continue;
        };
        for one in comment.split(';') {
            let (name, under) = one.split_once(':').expect("an expectation is `name: text`");
            expected.push((index + 1, name.trim().to_owned(), under.trim().to_owned()));
        }
    }
    expected
}
