//! Every name that a diagnostic is given in the sources is explained, and every explanation has a use.
//!
//! One test for each crate that gives names, over the text of its own sources: the names that stand first in a call which
//! makes a diagnostic, and those that a tuple carries to such a call. Names in the crate's tests do not count.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use text::diagnostic::Entry;

/// What stands before a name where a diagnostic gets it, blanks left out.
const BEFORE_A_NAME: [&str; 9] = [
    ".fault(",
    ".caution(",
    ".unknown(",
    ".unreadable(",
    "::fault(",
    "::caution(",
    "Diagnostic::new(",
    "{(",
    "=>(",
];

#[test]
fn every_name_of_text_is_explained() {
    check("text", text::catalogue::CATALOGUE, &[]);
}

#[test]
fn every_name_of_devices_is_explained() {
    check("devices", devices::catalogue::CATALOGUE, &[]);
}

#[test]
fn every_name_of_design_is_explained() {
    check(
        "design",
        design::catalogue::CATALOGUE,
        devices::catalogue::CATALOGUE,
    );
}

#[test]
fn no_two_entries_say_the_same() {
    let mut names = BTreeSet::new();
    let mut summaries = BTreeSet::new();
    let all = [
        text::catalogue::CATALOGUE,
        devices::catalogue::CATALOGUE,
        design::catalogue::CATALOGUE,
    ];
    for entry in all.into_iter().flatten() {
        assert!(names.insert(entry.name), "{} is there twice", entry.name);
        assert!(
            summaries.insert(entry.summary),
            "two names are summed up as: {}",
            entry.summary
        );
        assert!(
            entry.summary.len() > 15
                && entry.summary.ends_with('.')
                && !entry.summary.contains('\n'),
            "{}: a summary is one line and a sentence",
            entry.name
        );
        let sentences = entry.text.matches(". ").count() + 1;
        assert!(
            (2..=5).contains(&sentences) && entry.text.ends_with('.'),
            "{}: {sentences} sentences",
            entry.name
        );
    }
}

#[test]
fn names_are_told_apart_from_other_words() {
    let source = "problems\n    .fault(\n        \"a-b\", span);\nlet c = (\"c-d\", 1); // .fault(\"e-f\"\nX => (\n\"g-h\",";
    assert_eq!(names_in(source), ["a-b", "g-h"].map(str::to_owned).into());
    let tests = "#[cfg(test)]\nmod tests { f.fault(\"a-b\") }";
    assert!(names_in(tests).is_empty());
}

/// Compares the names in a crate's sources with its catalogue; names in `shared` are explained there.
fn check(name: &str, catalogue: &[Entry], shared: &[Entry]) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("..")
        .join(name)
        .join("src");
    let mut given = BTreeSet::new();
    for file in sources(&folder) {
        given.append(&mut names_in(
            &std::fs::read_to_string(&file).expect("a source file can be read"),
        ));
    }
    assert!(5 < given.len(), "the sources of {name} were not found");
    for shared in shared {
        given.remove(shared.name);
    }
    let explained: BTreeSet<String> = catalogue
        .iter()
        .map(|entry| entry.name.to_owned())
        .collect();
    let silent: Vec<_> = given.difference(&explained).collect();
    let unused: Vec<_> = explained.difference(&given).collect();
    assert!(
        silent.is_empty() && unused.is_empty(),
        "{name}: without an entry {silent:?}, entries without a use {unused:?}"
    );
}

/// Every source file below a folder but the catalogue itself.
fn sources(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for item in std::fs::read_dir(folder).expect("the folder of sources is there") {
        let path = item.expect("the folder of sources can be read").path();
        if path.is_dir() {
            found.append(&mut sources(&path));
        } else if path.extension().is_some_and(|ending| ending == "rs")
            && !path.ends_with("catalogue.rs")
        {
            found.push(path);
        }
    }
    found
}

/// The names given to diagnostics in a source text, its tests left out.
fn names_in(source: &str) -> BTreeSet<String> {
    let code: String = source
        .split("#[cfg(test)]\nmod tests")
        .next()
        .unwrap_or_default()
        .lines()
        .map(|line| line.split(" //").next().unwrap_or_default())
        .filter(|line| !line.trim_start().starts_with("//"))
        .flat_map(|line| line.chars().filter(|character| !character.is_whitespace()))
        .collect();
    let pieces: Vec<&str> = code.split('"').collect();
    pieces
        .windows(2)
        .filter(|pair| {
            BEFORE_A_NAME.iter().any(|before| pair[0].ends_with(before)) && is_name(pair[1])
        })
        .map(|pair| pair[1].to_owned())
        .collect()
}

/// Lower-case words joined by hyphens, two or more.
fn is_name(text: &str) -> bool {
    let words: Vec<&str> = text.split('-').collect();
    1 < words.len()
        && words
            .iter()
            .all(|word| !word.is_empty() && word.chars().all(|letter| letter.is_ascii_lowercase()))
}
