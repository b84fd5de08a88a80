//! `draw`: what stands in the file, its name, and names that cannot be drawn.

use crate::program::run;
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
    fs::create_dir(folder.path().join("a")).unwrap();
    for (words, file, begins) in [
        ("draw --in tidewatch", "Tidewatch.svg", "<svg"),
        ("draw H1 --in tidewatch", "H1.svg", "<svg"),
        ("draw keep --in tidewatch", "keep.svg", "<svg"),
        (
            "draw subtractor --tube-side --in tidewatch --to top.pdf",
            "top.pdf",
            "%PDF-1.7",
        ),
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
fn circuits_and_units_are_drawn_with_the_volts_of_a_row() {
    let folder = with_demo();
    let drawn = |words: &[&str]| {
        let words = [words, &["--in", "tidewatch", "--to", "a.svg"]].concat();
        let answer = run(folder.path(), &words);
        assert_eq!(answer.code, 0, "{words:?}: {}", answer.talk);
        fs::read_to_string(folder.path().join("a.svg")).unwrap()
    };
    let first = drawn(&["draw", "nor3"]);
    for text in ["Inputs up: none", ">680k<", ">1N4148<", ">upper<", ">V1<"] {
        assert!(first.contains(text), "{text}");
    }
    assert_eq!(first, drawn(&["draw", "nor3", "--up", "none"]));
    let other = drawn(&["draw", "nor3", "--up", "c, a"]);
    assert!(other.contains("Inputs up: a c") && other.contains(">grid "));
    let unit = drawn(&["draw", "keep.D3", "--up", "none"]);
    // The demo puts it into the first half of V8; the grid of that half is pin 7 (base of the 6922, as `tube` shows it).
    for text in [">V8A<", ">7<", ">keep.m2<", ">step<"] {
        assert!(unit.contains(text), "{text}");
    }
    let change = drawn(&["try", "nor3.R3", "100k"]);
    for text in ["R3 changed", ">was 82k<", ">now 100k<"] {
        assert!(change.contains(text), "{text}");
    }
    assert!(
        change.matches(">was ").count() > 1,
        "volts before and after"
    );
}

/// A board may carry the name of the block that stands on it.
#[test]
fn a_name_of_two_things_is_told_apart_by_its_kind() {
    let folder = with_demo();
    let machine = folder.path().join("tidewatch/machine.valve");
    let text = fs::read_to_string(&machine).unwrap();
    fs::write(&machine, text.replace("board subtractor", "board minus")).unwrap();
    let draw = |name: &str| {
        let words = ["draw", name, "--in", "tidewatch", "--to", "a.svg"];
        let answer = run(folder.path(), &words);
        let drawing = fs::read_to_string(folder.path().join("a.svg")).unwrap();
        (drawing, answer.talk)
    };
    let (board, talk) = draw("minus");
    assert!(board.contains("Board minus from the soldering side"));
    assert!(talk.contains("minus is a board and a block; type \"block minus\""));
    let (block, talk) = draw("block minus");
    assert!(block.contains("Block minus (subtract)") && !talk.contains("for the other"));
}

#[test]
fn what_cannot_be_drawn_is_said_and_nothing_is_written() {
    let folder = with_demo();
    for (words, said) in [
        ("draw H33 --in tidewatch", "did you mean H3?"),
        ("draw H1 --in tidewatch --to H1.png", "as .svg or .pdf"),
        ("draw H1 --in tidewatch --to H1", "as .svg or .pdf"),
        ("draw nor4 --in tidewatch", "did you mean nor2?"),
        ("draw nor3 --up q --in tidewatch", "no input q"),
        ("draw nor3 --up a --in tidewatch --to x.gif", "as .svg or"),
        ("draw H1 --up a --in tidewatch", "for a circuit or unit"),
        (
            "draw keep.D3 --up a,b,c --in tidewatch",
            "the rows are: none; a;",
        ),
        ("try upper 40V --in tidewatch --to a.svg", "leave out --to"),
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
