//! What the program says, as a set: every message of the gallery and the finding behind it names its thing, gives its cause,
//! its numbers and a remedy, in whole sentences and in the words of the trade.
#![allow(clippy::unwrap_used, reason = "a test fails where it unwraps")]

use design::read::read;
use devices::library::Library;
use network::finding::{CATALOGUE, Finding};
use network::judge::Context;
use network::scene::Assumptions;
use network::solve::Settings;
use network::verdict::{Limits, check};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use text::source::Sources;

const CONTEXT: Context = Context {
    settings: Settings::STANDARD,
    assumptions: Assumptions::STANDARD,
};
const LIMITS: Limits = Limits {
    residual_share: 0.01,
    thin_share: 0.05,
    touch_volts: 60.0,
};

/// Findings about what is there or not, or which way something goes: no two numbers clash in them.
const WITHOUT_NUMBERS: &[&str] = &[
    "block-does-otherwise",
    "does-not-settle",
    "extra-state",
    "floating-net",
    "heater-unfed",
    "heater-way-missing",
    "no-curve",
    "no-restoring",
    "stores-nothing",
];

/// Words of the numerics and of programming, which no builder should have to read.
const JARGON: &[&str] = &[
    "Newton",
    "converge",
    "iteration",
    "Jacobian",
    "matrix",
    "residual",
    "eigenvalue",
    "tolerance of",
    "null",
    "None",
    "parse",
    "invalid",
    "syntax",
    "token",
    "identifier",
    "undefined",
    "node ",
];

struct Folder(PathBuf);

impl Sources for Folder {
    fn read(&self, name: &str) -> Result<String, String> {
        std::fs::read_to_string(self.0.join(name)).map_err(|error| error.to_string())
    }
}

/// Whole sentences: a capital or a name at the start, a full stop at the end, one space between words, no jargon.
#[track_caller]
fn check_sentence(words: &str, place: &str) {
    assert!(words.ends_with('.'), "{place}: no full stop: {words}");
    assert!(
        !words.contains("  ") && words.trim() == words,
        "{place}: {words}"
    );
    assert!(!words.ends_with(".."), "{place}: {words}");
    let jargon = JARGON.iter().find(|word| words.contains(**word));
    assert!(jargon.is_none(), "{place}: {jargon:?} in: {words}");
}

fn check_finding(finding: &Finding, file: &str, met: &mut BTreeSet<&'static str>) {
    let place = format!("{file}, {}", finding.name);
    met.insert(finding.name);
    assert!(!finding.subject.is_empty(), "{place}");
    check_sentence(&finding.cause, &place);
    assert!(!finding.tries.is_empty(), "{place}: no remedy");
    for attempt in &finding.tries {
        check_sentence(attempt, &place);
        assert!(
            attempt.starts_with(|first: char| first.is_uppercase() || first.is_ascii_digit()),
            "{place}: {attempt}"
        );
    }
    let numbers = finding.has.iter().chain(&finding.needs);
    for amount in numbers.clone() {
        assert!(
            amount.what.contains(|letter: char| letter.is_alphabetic())
                && !amount.what.ends_with('.'),
            "{place}: {}",
            amount.what
        );
        assert!(
            amount
                .shown()
                .starts_with(|first: char| first.is_ascii_digit() || first == '-'),
            "{place}"
        );
    }
    assert!(
        numbers.count() == 2 || WITHOUT_NUMBERS.contains(&finding.name),
        "{place}: no numbers"
    );
    for below in &finding.consequences {
        check_finding(below, file, met);
    }
}

#[test]
fn every_message_of_the_gallery_has_cause_numbers_and_remedy() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("gallery");
    let mut met = BTreeSet::new();
    let mut files: Vec<PathBuf> = std::fs::read_dir(&folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    files.sort();
    for file in files {
        let name = file.file_name().unwrap().to_str().unwrap();
        let reading = read(name, &Folder(folder.clone()), Library::shipped());
        for problem in &reading.diagnostics {
            let place = format!("{name}, {}", problem.name);
            assert!(!problem.remedies.is_empty(), "{place}: no remedy");
            // The text quotes what it is about, a name or a value, in the words of its author.
            assert!(
                problem.message.contains('`'),
                "{place}: names nothing: {}",
                problem.message
            );
            assert!(
                !problem.message.ends_with('.'),
                "{place}: {}",
                problem.message
            );
            for remedy in &problem.remedies {
                check_sentence(remedy, &place);
            }
        }
        if let Some(design) = &reading.design {
            for finding in &check(design, &LIMITS, &CONTEXT).findings {
                check_finding(finding, name, &mut met);
            }
        }
    }
    assert!(30 <= met.len(), "the gallery meets only {met:?}");
    // Each is met by a design of the gallery, or here is where it is met instead.
    let elsewhere = MET_ELSEWHERE.iter().copied();
    let known: BTreeSet<&str> = CATALOGUE.iter().map(|entry| entry.name).collect();
    let told: BTreeSet<&str> = met.iter().copied().chain(elsewhere).collect();
    let never: Vec<_> = known.difference(&told).collect();
    assert!(never.is_empty(), "met by no test: {never:?}");
    let both: Vec<_> = MET_ELSEWHERE
        .iter()
        .filter(|name| met.contains(*name))
        .collect();
    assert!(both.is_empty(), "met in the gallery after all: {both:?}");
}

/// Findings that take a machine too large, or too odd, for the gallery.
const MET_ELSEWHERE: &[&str] = &["not-judged", "loads-left-out"];

/// No finding is called by a name that the text's messages use for something else, and summaries are sentences.
#[test]
fn no_name_has_two_meanings() {
    let mut names = BTreeSet::new();
    let all = [
        CATALOGUE,
        text::catalogue::CATALOGUE,
        devices::catalogue::CATALOGUE,
        design::catalogue::CATALOGUE,
    ];
    for entry in all.into_iter().flatten() {
        assert!(names.insert(entry.name), "{} has two entries", entry.name);
        check_sentence(entry.summary, entry.name);
        check_sentence(entry.text, entry.name);
    }
}
