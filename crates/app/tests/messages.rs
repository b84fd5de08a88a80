//! What the program says, as a set: every message of the gallery and the finding behind it names its thing, gives its cause,
//! its numbers and a remedy, in whole sentences and in the words of the trade.

use crate::designs::{CONTEXT, Folder, LIMITS, SPREAD, SPREAD_SOURCES};
use design::read::read;
use devices::library::Library;
use network::finding::{CATALOGUE, Finding};
use network::verdict::check;
use report::margins::{Whose, WorstCases};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

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
    "worst-case-not-known",
    "worst-case-state-lost",
];

/// Words of the numerics and of programming, which no builder should have to read.
const JARGON: &[&str] = &[
    "Newton",
    "converge",
    "iteration",
    "Jacobian",
    "matrix",
    "eigenvalue",
    "null",
    "parse",
    "invalid",
    "syntax",
    "token",
    "identifier",
    "undefined",
    "node ",
];

/// What is wrong with the messages, all of it at once.
#[derive(Default)]
struct Faults(Vec<String>);

impl Faults {
    fn unless(&mut self, good: bool, place: &str, words: &str) {
        if !good {
            self.0.push(format!("{place}: {words}"));
        }
    }

    /// Whole sentences: a full stop or question mark at the end, one space between words, no jargon.
    fn sentence(&mut self, words: &str, place: &str) {
        let whole = words.ends_with(['.', '?']) && !words.ends_with("..");
        let spaced = !words.contains("  ") && words.trim() == words;
        let jargon = JARGON.iter().any(|word| words.contains(*word));
        self.unless(whole && spaced && !jargon, place, words);
    }

    fn finding(&mut self, finding: &Finding, file: &str, met: &mut BTreeSet<&'static str>) {
        let place = format!("{file}, {}", finding.name);
        met.insert(finding.name);
        self.unless(!finding.subject.is_empty(), &place, "names no thing");
        self.sentence(&finding.cause, &place);
        self.unless(!finding.tries.is_empty(), &place, "no remedy");
        for attempt in &finding.tries {
            self.sentence(attempt, &place);
        }
        let numbers = finding.has.iter().chain(&finding.needs);
        for amount in numbers.clone() {
            let named = amount.what.contains(char::is_alphabetic) && !amount.what.ends_with('.');
            self.unless(named, &place, &amount.what);
            let shown = amount.shown();
            self.unless(
                shown.contains(|letter: char| letter.is_ascii_digit()),
                &place,
                &shown,
            );
        }
        let numbered = numbers.count() == 2 || WITHOUT_NUMBERS.contains(&finding.name);
        self.unless(numbered, &place, "no numbers");
        for below in &finding.consequences {
            self.finding(below, file, met);
        }
    }

    fn none(self) {
        assert!(self.0.is_empty(), "{}", self.0.join("\n"));
    }
}

#[test]
fn every_message_of_the_gallery_has_cause_numbers_and_remedy() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("gallery");
    let (mut met, mut faults) = (BTreeSet::new(), Faults::default());
    let corners = folder.join("corners");
    let both = [&folder, &corners].map(|folder| std::fs::read_dir(folder).unwrap());
    let mut files: Vec<PathBuf> = both
        .into_iter()
        .flatten()
        .map(|entry| entry.unwrap().path())
        .filter(|file| file.is_file())
        .collect();
    files.sort();
    for file in files {
        let name = file.file_name().unwrap().to_str().unwrap();
        let own = file.parent().unwrap();
        let reading = read(name, &Folder(own.to_owned()), Library::shipped());
        for problem in &reading.diagnostics {
            let place = format!("{name}, {}", problem.name);
            faults.unless(!problem.remedies.is_empty(), &place, "no remedy");
            // A message quotes what it is about, and stands as a heading without a full stop.
            let heading = problem.message.contains('`') && !problem.message.ends_with('.');
            faults.unless(heading, &place, &problem.message);
            for remedy in &problem.remedies {
                faults.sentence(remedy, &place);
            }
        }
        if let Some(design) = &reading.design {
            let verdict = check(design, &LIMITS, &CONTEXT);
            let mut found = verdict.findings.clone();
            if own == corners {
                let margins = network::margins::check(&verdict, &SPREAD, &CONTEXT);
                let worst = WorstCases {
                    margins: &margins,
                    alone: &[],
                    mended: [&[], &[]],
                    sources: &SPREAD_SOURCES,
                };
                found.extend(worst.findings(&verdict, Whose::All));
            }
            for finding in &found {
                faults.finding(finding, name, &mut met);
            }
        }
    }
    // Each finding is met by a design of the gallery, or stands here with the test that meets it.
    let known: BTreeSet<&str> = CATALOGUE.iter().map(|entry| entry.name).collect();
    let elsewhere: BTreeSet<&str> = MET_ELSEWHERE.iter().copied().collect();
    let never = known
        .difference(&met)
        .filter(|name| !elsewhere.contains(*name));
    faults
        .0
        .extend(never.map(|name| format!("{name}: met by no test")));
    let twice = elsewhere.intersection(&met);
    faults
        .0
        .extend(twice.map(|name| format!("{name}: met in the gallery after all")));
    faults.none();
}

/// The first two take a machine too large for the gallery and are met in `network/tests/wild_designs.rs`. No circuit is
/// known to us that has the third: it guards against what a scan may find.
const MET_ELSEWHERE: &[&str] = &["not-judged", "loads-left-out", "extra-state"];

/// No name stands in two catalogues, and summaries and texts are sentences.
#[test]
fn no_name_has_two_meanings() {
    let (mut names, mut faults) = (BTreeSet::new(), Faults::default());
    let all = [
        CATALOGUE,
        text::catalogue::CATALOGUE,
        devices::catalogue::CATALOGUE,
        design::catalogue::CATALOGUE,
    ];
    for entry in all.into_iter().flatten() {
        faults.unless(names.insert(entry.name), entry.name, "two entries");
        faults.sentence(entry.summary, entry.name);
        faults.sentence(entry.text, entry.name);
    }
    faults.none();
}
