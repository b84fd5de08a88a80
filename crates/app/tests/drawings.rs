//! `draw`: what stands in the file, its name, and names that cannot be drawn.
#![allow(clippy::unwrap_used, reason = "a test fails where it unwraps")]

mod program;

use program::run;
use std::fs;
use tempfile::TempDir;

/// A folder with the demo machine in `tidewatch`.
fn with_demo() -> TempDir {
    let folder = TempDir::new().unwrap();
    let answer = run(folder.path(), &["demo", "tidewatch"]);
    assert_eq!(answer.code, 0, "{}", answer.talk);
    folder
}

#[test]
fn a_drawing_is_named_after_what_it_shows_and_its_ending_decides_the_form() {
    let folder = with_demo();
    for (words, file, begins) in [
        ("draw --in tidewatch", "Tidewatch.svg", "<svg"),
        ("draw H1 --in tidewatch", "H1.svg", "<svg"),
        (
            "draw h3 --in tidewatch --to a/H3.PDF",
            "a/H3.PDF",
            "%PDF-1.7",
        ),
    ] {
        let words: Vec<&str> = words.split(' ').collect();
        let answer = run(folder.path(), &words);
        assert_eq!(answer.code, 0, "{words:?}: {}", answer.talk);
        assert!(answer.talk.contains(file) && answer.out.is_empty());
        let bytes = fs::read(folder.path().join(file)).unwrap();
        assert!(bytes.starts_with(begins.as_bytes()), "{words:?}");
        run(folder.path(), &words);
        assert_eq!(bytes, fs::read(folder.path().join(file)).unwrap());
    }
}

#[test]
fn what_cannot_be_drawn_is_said_and_nothing_is_written() {
    let folder = with_demo();
    for (words, said) in [
        ("draw H33 --in tidewatch", "did you mean H3?"),
        ("draw H1 --in tidewatch --to H1.png", "as .svg or .pdf"),
        ("draw H1 --in tidewatch --to H1", "as .svg or .pdf"),
        ("draw --in nowhere", "there is no file or folder nowhere"),
    ] {
        let words: Vec<&str> = words.split(' ').collect();
        let answer = run(folder.path(), &words);
        assert_eq!(answer.code, 2, "{words:?}");
        assert!(answer.talk.contains(said), "{words:?}: {}", answer.talk);
    }
    let names = fs::read_dir(folder.path()).unwrap().count();
    assert_eq!(names, 1, "only the demo's folder");
}
