//! The gallery of corners: designs that pass `check` with nothing said and fall short only in the worst case. Each says in its
//! head what is wrong, which finding comes first (`# expects: NAME at SUBJECT`), which part weighs most in the case (`# case:`, where it has one),
//! and, where the rails are what is wrong, where they stand (`# rails:`). Values are invented.

use crate::designs::{CONTEXT, Folder, LIMITS};
use crate::gallery::marked;
use crate::program::run;
use design::read::read;
use devices::library::Library;
use serde_json::Value;
use std::path::{Path, PathBuf};

fn files() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("gallery/corners");
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    files.sort();
    files
}

/// The demo passes at every corner, by as much as its text and the guide say.
#[test]
fn tidewatch_passes_in_the_worst_case_by_what_it_says() {
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo/tidewatch");
    let said = run(&demo, &["margins", "--json"]);
    let record: Value = serde_json::from_str(&said.out).unwrap();
    assert_eq!(
        (said.code, &record["findings"]),
        (0, &serde_json::json!([]))
    );
    let spare = record["margins"][0]["spare_volts"].as_f64().unwrap();
    let words = format!("{spare:.1} V");
    let text = std::fs::read_to_string(demo.join("circuits/gates.valve")).unwrap();
    assert!(text.contains(&format!("{words} are to spare")), "{words}");
    let guide = include_str!("../../../docs/guide.md");
    assert!(
        guide.contains(&format!("In the worst case it has {words} to spare")),
        "{words}"
    );
}

#[test]
fn what_passes_by_the_book_falls_short_for_the_reason_named() {
    let mut wrong = Vec::new();
    let files = files();
    assert!(12 <= files.len());
    for file in &files {
        let name = file.file_stem().unwrap().to_str().unwrap();
        let text = std::fs::read_to_string(file).unwrap();
        assert!(
            text.starts_with("# wrong: "),
            "{name} does not say what is wrong"
        );
        let folder = Folder(file.parent().unwrap().to_owned());
        let reading = read(&format!("{name}.valve"), &folder, Library::shipped());
        let design = reading.design.as_ref().unwrap();
        let by_the_book = network::verdict::check(design, &LIMITS, &CONTEXT).findings;
        let short = run(
            file.parent().unwrap(),
            &["margins", "--json", "--in", file.to_str().unwrap()],
        );
        let record: Value = serde_json::from_str(&short.out).unwrap();
        let first = &record["findings"][0];
        let (found, subject) = (&first["name"], &first["subject"]);
        let cause = first["cause"].as_str().unwrap_or_default();
        let expected = marked(&text, "# expects: ");
        let case = marked(&text, "# case: ");
        let rails = marked(&text, "# rails: ");
        // A state that is lost has no case.
        let is_case = case
            .iter()
            .all(|case| cause.contains(&format!("The case: {case}")))
            && rails.iter().all(|rails| cause.contains(rails.as_str()));
        let is_found = format!(
            "{} at {}",
            found.as_str().unwrap_or_default(),
            subject.as_str().unwrap_or_default()
        ) == expected[0];
        if !by_the_book.is_empty()
            || !reading.diagnostics.is_empty()
            || short.code != 1
            || !is_found
            || !is_case
        {
            wrong.push(format!("{name}: {found} at {subject}: {cause}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
