//! The gallery: small designs with one planted mistake each. The mistake is named as the only cause, and sound designs
//! are met with silence.
//!
//! A design says in its head what is expected: `# expects: NAME at SUBJECT` (a second line where the text and the solved
//! circuit both name the one mistake), or `# expects: nothing`; `# below: NAME at SUBJECT` is a consequence that must hang
//! below the cause. Values are invented for the gallery; where one comes from a published source the design says so.

use crate::designs::{CONTEXT, Folder, LIMITS};
use design::read::read;
use devices::library::Library;
use network::finding::Finding;
use network::verdict::check;
use std::path::{Path, PathBuf};

/// What stands as a cause (problems with the text, findings), and what hangs below, each by name and subject.
fn said(file: &Path) -> (Vec<String>, Vec<String>) {
    let folder = Folder(file.parent().unwrap().to_owned());
    let reading = read(
        file.file_name().unwrap().to_str().unwrap(),
        &folder,
        Library::shipped(),
    );
    let place =
        |span: Option<text::source::Span>| span.map_or("", |span| reading.sources.slice(span));
    let mut causes: Vec<String> = reading
        .diagnostics
        .iter()
        .map(|diagnostic| format!("{} at {}", diagnostic.name, place(diagnostic.span)))
        .collect();
    let mut below = Vec::new();
    if let Some(design) = &reading.design {
        for finding in check(design, &LIMITS, &CONTEXT).findings {
            causes.push(format!("{} at {}", finding.name, finding.subject));
            for said in std::iter::once(&finding).chain(&finding.consequences) {
                assert!(begins_well(said), "{}", said.cause);
            }
            let consequences = finding.consequences.iter();
            below.extend(consequences.map(|below| format!("{} at {}", below.name, below.subject)));
        }
    }
    (causes, below)
}

/// A cause begins with a capital, or with a name as the text has it.
fn begins_well(finding: &Finding) -> bool {
    let named = !finding.subject.contains(' ') && finding.cause.starts_with(&finding.subject);
    named || !finding.cause.starts_with(char::is_lowercase)
}

pub fn marked(text: &str, mark: &str) -> Vec<String> {
    text.lines()
        .filter_map(|line| line.strip_prefix(mark))
        .map(|line| line.trim().to_owned())
        .collect()
}

#[test]
fn every_planted_mistake_is_named_and_nothing_else() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("gallery");
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    files.sort();
    let mut kinds = std::collections::BTreeSet::new();
    let mut wrong = Vec::new();
    for file in files
        .iter()
        .filter(|file| file.extension().is_some_and(|kind| kind == "valve"))
    {
        let name = file.file_stem().unwrap().to_str().unwrap();
        let text = std::fs::read_to_string(file).unwrap();
        let mut expected = marked(&text, "# expects: ");
        if expected.is_empty() {
            wrong.push(format!("{name}: does not say what is expected"));
        }
        expected.retain(|cause| cause != "nothing");
        let (causes, below) = said(file);
        if causes != expected {
            wrong.push(format!("{name}: expected {expected:?}, found {causes:?}"));
        }
        for consequence in marked(&text, "# below: ") {
            if !below.contains(&consequence) {
                wrong.push(format!(
                    "{name}: {consequence} does not hang below its cause, only {below:?}"
                ));
            }
        }
        kinds.extend(
            expected
                .first()
                .map(|cause| cause.split(" at ").next().unwrap().to_owned()),
        );
    }
    assert!(
        wrong.is_empty(),
        "{} differ:\n{}",
        wrong.len(),
        wrong.join("\n")
    );
    assert!(
        18 <= kinds.len(),
        "only {} kinds of mistake: {kinds:?}",
        kinds.len()
    );
}
