//! Text made to do harm, and real files changed byte by byte: a reading ends in bounded words, each at its place.

use crate::machine::{Folder, SOUND, library};
use crate::wild::check_whole;
use design::read::{Reading, read};
use proptest::prelude::*;
use std::collections::{BTreeMap, HashMap};
use std::path::Path;
use std::sync::LazyLock;

/// Of one kind at most 50 problems are listed, and a line that counts the rest.
const MOST_OF_A_KIND: usize = 51;

/// Reads a text that may include itself under other names, and files of points.
fn read_any(text: &str) -> Reading {
    let names = ["machine.valve", "other.valve", "points.csv"];
    let files = names.map(|name| (name.to_owned(), text.to_owned()));
    read("machine.valve", &Folder(HashMap::from(files)), library())
}

#[track_caller]
fn check_bounded(text: &str) {
    let reading = read_any(text);
    check_whole(&reading);
    let mut kinds: BTreeMap<&str, usize> = BTreeMap::new();
    for problem in &reading.diagnostics {
        *kinds.entry(problem.name).or_default() += 1;
        assert!(problem.message.chars().count() <= 610, "{}", problem.name);
        for span in problem
            .span
            .iter()
            .chain(problem.related.iter().map(|related| &related.0))
        {
            let whole = &reading.sources.file(span.file).text;
            assert!(span.start <= span.end && span.end as usize <= whole.len());
            assert!(whole.is_char_boundary(span.start as usize), "{problem:?}");
            assert!(whole.is_char_boundary(span.end as usize), "{problem:?}");
        }
    }
    kinds.remove("more-problems");
    assert!(
        kinds.values().all(|count| *count <= MOST_OF_A_KIND),
        "{kinds:?}"
    );
}

/// Every design of the gallery and the demo, and the library's own files.
static REAL: LazyLock<Vec<String>> = LazyLock::new(|| {
    let crates = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let folders = [
        "app/gallery",
        "app/demo/tidewatch",
        "app/demo/tidewatch/circuits",
        "devices/data",
    ];
    let mut paths: Vec<_> = folders
        .iter()
        .flat_map(|folder| std::fs::read_dir(crates.join(folder)).expect("the folder is there"))
        .map(|entry| entry.expect("an entry of the folder").path())
        .filter(|path| {
            path.extension()
                .is_some_and(|ending| ending == "valve" || ending == "csv")
        })
        .collect();
    paths.sort();
    let texts: Vec<String> = paths
        .iter()
        .map(|path| std::fs::read_to_string(path).expect("a file of text"))
        .collect();
    assert!(40 < texts.len());
    texts
});

/// Words of the language, and numbers and signs that a reader may stumble over.
const PIECES: &[&str] = &[
    "units",
    "unit",
    "x",
    "1",
    "to",
    "1000000",
    "4294967296",
    "18446744073709551616",
    "-1",
    "0",
    "-0",
    "1e999",
    "-1e-999",
    "NaN",
    "inf",
    "4k7k",
    "4k7",
    "k",
    "٣",
    "१२",
    "1２",
    "⅓",
    "²",
    "µ",
    "Ω",
    "5%",
    "-5%",
    "1e5%",
    "R",
    "R1",
    "V1",
    "V0",
    "V1A",
    "V99999999999",
    "in",
    "from",
    "with",
    "each:",
    "all:",
    "open",
    "before",
    "after",
    "circuit",
    "block",
    "rail",
    "string",
    "board",
    "bench",
    "jig",
    "lot",
    "lot 6922:",
    "current",
    "halves",
    "alike",
    "aged",
    "drift",
    "hollow",
    "type",
    "like",
    "triode",
    "points from",
    "points.csv",
    "include",
    "machine.valve",
    "other.valve",
    "../x",
    "/etc/x",
    "valvewright format 1",
    "valvewright format 99999999999",
    "inputs",
    "output",
    "y",
    "a",
    "=",
    "not",
    "(",
    ")",
    "or",
    "xor",
    "when",
    "falls",
    "carries",
    "connector",
    "J1:",
    "tapped",
    "beside",
    "back",
    "slider",
    "at",
    "switches:",
    "loads:",
    "pull-ups:",
    "meter",
    "resistors:",
    "tube",
    "half",
    "6922",
    "plate",
    "grid",
    "cathode",
    "screen",
    "law",
    "koren:",
    "base",
    "limits:",
    "heater",
    "[",
    "]",
    "[seen",
    "#",
    ":",
    ",",
    "upper",
    "lower",
    "ground",
];

fn grammar() -> impl Strategy<Value = String> {
    let gap = prop_oneof![
        8 => Just(" "), 2 => Just(", "), 2 => Just(": "), 4 => Just("\n"), 3 => Just("\n    "), 1 => Just("\n        "),
        1 => Just(",\n"), 1 => Just("\r\n"),
    ];
    let piece = (prop::sample::select(PIECES), gap);
    prop::collection::vec(piece, 0..80).prop_map(|pieces| {
        let text = pieces.iter().map(|(word, gap)| format!("{word}{gap}"));
        text.collect()
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_real_file_with_bytes_changed(which in any::<prop::sample::Index>(), changes in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>(), 0usize..3), 1..12)) {
        let mut bytes = which.get(&REAL).clone().into_bytes();
        for (at, byte, way) in changes {
            let at = at.index(bytes.len());
            match way {
                0 => bytes[at] = byte,
                1 => bytes.insert(at, byte),
                _ => drop(bytes.remove(at)),
            }
        }
        check_bounded(&String::from_utf8_lossy(&bytes));
    }

    #[test]
    fn pieces_of_two_real_files(first in any::<prop::sample::Index>(), second in any::<prop::sample::Index>(), cut in any::<prop::sample::Index>()) {
        let (first, second) = (first.get(&REAL), second.get(&REAL));
        let ends: Vec<usize> = first.char_indices().map(|(at, _)| at).collect();
        check_bounded(&format!("{}{second}", &first[..ends[cut.index(ends.len())]]));
    }

    #[test]
    fn words_numbers_and_signs_in_any_order(text in grammar()) {
        check_bounded(&text);
        check_bounded(&format!("{SOUND}\n{text}"));
    }

    #[test]
    fn bytes_of_any_kind(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        check_bounded(&String::from_utf8_lossy(&bytes));
    }
}

/// One line, and one nesting, of a quarter of a million of the same.
#[test]
fn very_long_lines_and_very_deep_nesting() {
    const MANY: usize = 250_000;
    for piece in [
        "(",
        "not ",
        "[",
        "a, ",
        "a: ",
        "1",
        "k",
        ".",
        "x.",
        "\u{301}",
        "units x 1 to 9 ",
        "include ",
    ] {
        check_bounded(&format!(
            "circuit c\n    inputs a, output y\n    y = {}\n",
            piece.repeat(MANY)
        ));
        check_bounded(&piece.repeat(MANY));
    }
    let deep: String = (0..2_000)
        .map(|depth| format!("{}block b{depth}\n", " ".repeat(depth)))
        .collect();
    check_bounded(&deep);
}

/// Numbers that are none, or are beyond any part, in every place of a line that takes one.
#[test]
fn numbers_beyond_sense_in_every_place() {
    let odd = [
        "1e999",
        "-1e999",
        "0",
        "-0",
        "NaN",
        "inf",
        "4k7k",
        "٣k",
        "1e308V",
        "1e-320",
        "99999999999999999999",
        "-5%",
        "1e9%",
    ];
    for number in odd {
        for line in [
            "rail r {}",
            "rail r 36V {}",
            "rail r 36V 5%, limit {}",
            "units g {} to 3, inv, from V1",
            "units g 1 to {}, inv",
            "unit G1 inv in V{}: a upper, y open",
            "string H: from heat, V1 to V{}, back to ground",
            "board b {} by 10mm",
            "bench\n    switches: n upper or ground through {}",
            "bench\n    switches: n upper or ground through 10k {}",
            "bench\n    loads: n 10k {} to ground",
            "bench\n    meter {}",
            "jig inv\n    loads: y {} inv",
            "jig inv\n    loads: y {} to ground",
            "type T triode\n    point: plate {}, grid 0V, current 1mA",
            "type T triode\n    heater 6.3V {}",
            "circuit c\n    inputs a, output y\n    resistors {}: R1 {} a to y",
            "circuit c\n    inputs a, output y\n    resistors 5% drift {}: R1 1M drift {} a to y",
            "circuit c\n    inputs a, output y\n    resistors 5% hollow {}: R1 1M {} hollow {} a to y",
            "lot 6922: current {} to 110%, mu 90% to {}, halves {}, alike {}, cut-off {}, aged to {}, reverse {}",
            "type T triode\n    spread current {} to {}, halves {}, alike {}",
            "type T silicon diode, like 1N4148\n    spread saturation {} times, leakage {} at {}",
            "circuit c\n    inputs a, output y\n    trimmers: R1 1k a to y slider a at {}",
            "valvewright format {}",
        ] {
            check_bounded(&format!(
                "{}\n{}\n",
                crate::machine::BASE,
                line.replace("{}", number)
            ));
        }
    }
}
