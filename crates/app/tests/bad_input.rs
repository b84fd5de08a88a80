//! Text that is no design: each ends with exit code 2 within bounded time, with a message that names the file and the
//! reason, and without the signs of a crash (watched by `program::run`).

use crate::program::run;
use std::fs;

/// A sound design of one gate.
const GATE: &str = "\
valvewright format 1
rail upper 36V 5%
rail lower -24V 5%
circuit inverter
    inputs a, output y
    y = not a
    resistors 5%: R1 680k a to g1, R2 1M2 g1 to lower, R3 82k upper to y
    tube V1 half 6922: plate y, grid g1, cathode ground
";

/// Most that a listing of problems may take: nobody reads more.
const LONGEST_TALK: usize = 40_000;

/// Checks a file with these bytes and asks for exit code 2, its name, and the reason.
fn refused(bytes: &[u8], reason: &str) {
    let folder = tempfile::tempdir().unwrap();
    fs::create_dir(folder.path().join("folder")).unwrap();
    fs::write(folder.path().join("mine.valve"), bytes).unwrap();
    let check = run(folder.path(), &["check", "mine.valve"]);
    let start: String = check.talk.chars().take(2000).collect();
    assert_eq!(check.code, 2, "{reason}: {start}");
    assert!(start.contains("mine.valve"), "{reason}: {start}");
    assert!(start.contains(reason), "{reason} is not in: {start}");
    assert!(check.out.is_empty(), "{reason}: {}", check.out);
    assert!(
        check.talk.len() < LONGEST_TALK,
        "{reason}: {} bytes",
        check.talk.len()
    );
}

/// Pseudo-random bytes by the generator of Park and Miller (Communications of the ACM 31, 1988).
fn noise(length: usize) -> impl Iterator<Item = u8> {
    let mut state: u64 = 1;
    (0..length).map(move |_| {
        state = state * 16807 % 2_147_483_647;
        (state >> 8) as u8
    })
}

/// Cut off at any byte, the text is read as far as it goes; it is never taken for whole when a line is incomplete.
#[test]
fn truncated_text() {
    assert_eq!(GATE.find("36V"), Some(32), "the places below count on it");
    refused(&GATE.as_bytes()[..5], "statement-unknown");
    refused(&GATE.as_bytes()[..31], "word-missing");
    let after = |word: &str| GATE.find(word).unwrap() + word.len();
    refused(&GATE.as_bytes()[..after("R2 1M2 g1 to")], "word-missing");
    refused(&GATE.as_bytes()[..after("R2 1M2 ")], "ends-missing");
    refused(&GATE.as_bytes()[..after("plate y, grid")], "word-missing");
    refused(&GATE.as_bytes()[..after("half 69")], "69");
}

#[test]
fn truncated_anywhere_it_ends_well() {
    let folder = tempfile::tempdir().unwrap();
    for length in (0..GATE.len()).step_by(7) {
        fs::write(folder.path().join("mine.valve"), &GATE.as_bytes()[..length]).unwrap();
        run(folder.path(), &["check", "mine.valve"]);
    }
}

#[test]
fn binary_file() {
    let bytes: Vec<u8> = noise(20_000).chain([0]).collect();
    refused(&bytes, "binary");
}

#[test]
fn text_that_is_not_utf_8() {
    refused(&[GATE.as_bytes(), b"# caf\xe9\n"].concat(), "not UTF-8");
}

/// Ten megabytes of lines that are each right, of lines that are not, and of units beyond what a machine can hold.
#[test]
fn ten_megabytes() {
    const LENGTH: usize = 10_000_000;
    let rails = "rail upper 36V 5%\n".repeat(LENGTH / 18);
    refused(rails.as_bytes(), "name-taken");
    let letters = b"abc ,:#()=\n\t\"%&!";
    let garbage: Vec<u8> = noise(LENGTH)
        .map(|byte| letters[usize::from(byte) % letters.len()])
        .collect();
    refused(&garbage, "statement-unknown");
    let mut units = GATE.to_owned();
    for number in 0..LENGTH / 40 {
        units += &format!("unit U{number} inverter: a n{number}, y n{}\n", number + 1);
    }
    refused(units.as_bytes(), "too-many-units");
}

#[test]
fn larger_than_any_design() {
    refused(&b"# x\n".repeat(17 * 1024 * 1024 / 4), "larger than 16 MB");
}

#[test]
fn includes_that_cannot_be_followed() {
    refused(
        b"valvewright format 1\ninclude mine.valve\n",
        "include-circle",
    );
    refused(
        b"valvewright format 1\ninclude nowhere.valve\n",
        "no such file",
    );
    refused(
        b"valvewright format 1\ninclude folder\n",
        "it is not a file",
    );
    let folder = tempfile::tempdir().unwrap();
    fs::write(
        folder.path().join("one.valve"),
        "valvewright format 1\ninclude two.valve\n",
    )
    .unwrap();
    fs::write(folder.path().join("two.valve"), "include one.valve\n").unwrap();
    let check = run(folder.path(), &["check", "one.valve"]);
    assert_eq!(check.code, 2);
    assert!(
        check
            .talk
            .contains("one.valve includes two.valve includes one.valve"),
        "{}",
        check.talk
    );
}

#[test]
fn absurd_numbers() {
    for value in ["1e400", "1e-400", "1e300M", "1e-300"] {
        refused(GATE.replace("82k", value).as_bytes(), value);
    }
    for value in ["-0", "0", "-5"] {
        refused(GATE.replace("82k", value).as_bytes(), "value-not-positive");
    }
    for value in ["NaN", "inf", "0x10"] {
        refused(GATE.replace("82k", value).as_bytes(), value);
    }
    refused(GATE.replace("36V", "1e400V").as_bytes(), "1e400V");
}

/// A resistor of a hundred teraohms can be typed: it is asked about, and the gate behind it fails.
#[test]
fn a_value_that_nobody_sells_is_asked_about() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(
        folder.path().join("mine.valve"),
        GATE.replace("82k", "99999999M"),
    )
    .unwrap();
    let check = run(folder.path(), &["check", "mine.valve"]);
    assert_eq!(check.code, 1, "{}", check.talk);
    assert!(
        check.talk.contains("value-odd") && check.talk.contains("99999999M"),
        "{}",
        check.talk
    );
}

#[test]
fn words_that_mean_nothing() {
    refused(
        format!("{GATE}frobnicate the gate\n").as_bytes(),
        "frobnicate",
    );
    refused(GATE.replace("grid g1", "gird g1").as_bytes(), "gird");
    refused(GATE.replace("6922", "6929").as_bytes(), "6922");
    refused(&b",".repeat(1_000_000), "no-heading");
}

#[test]
fn an_empty_file_is_nothing_to_check() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("mine.valve"), "").unwrap();
    let check = run(folder.path(), &["check", "mine.valve"]);
    assert!(check.out.contains("Nothing to check yet"), "{}", check.out);
}

#[test]
fn deep_nesting() {
    let deep: String = (0..3000)
        .map(|depth| " ".repeat(depth) + "circuit c\n")
        .collect();
    refused(
        format!("valvewright format 1\n{deep}").as_bytes(),
        "misplaced-statement",
    );
    let brackets = format!("{}a{}", "(".repeat(100_000), ")".repeat(100_000));
    refused(
        GATE.replace("not a", &brackets).as_bytes(),
        "sentence-too-long",
    );
    refused(
        GATE.replace("not a", &("not ".repeat(100_001) + "a"))
            .as_bytes(),
        "sentence-too-long",
    );
}

#[test]
fn arrays_beyond_any_machine() {
    let array =
        |last: &str| format!("{GATE}units g 1 to {last}, inverter\n    each: a n before, y n\n");
    refused(array("1000000000").as_bytes(), "too-many-units");
    refused(
        array("99999999999999999999999999").as_bytes(),
        "not-a-number",
    );
}

/// Values on the command line that are none, or beyond sense: refused with a reason or taken, never a crash.
#[test]
fn values_on_the_command_line() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("machine.valve"), format!("{GATE}unit G1 inverter in V1A: a take, y open\nstring H: from heat, V1, back to ground\nrail heat 6.3V 5%\nbench\n    switches: take upper or ground\n")).unwrap();
    let before = fs::read(folder.path().join("machine.valve")).unwrap();
    for value in [
        "",
        "-",
        "-0",
        "0",
        "1e999",
        "-1e999",
        "NaN",
        "inf",
        "4k7k",
        "٣k",
        "\u{301}",
        "k",
        "1e-999",
        "99999999999999999999999",
        "10V",
        "10M\n",
        "--",
        "100 k",
        "100k,",
        "100k # x",
        "5%",
    ] {
        for arguments in [
            ["readings", "V1", "--meter", value].as_slice(),
            &["try", "inverter.R3", value],
            &["set", "inverter.R3", value],
            &["set", "upper", value],
            &["--width", value, "tube", "6922"],
        ] {
            let run = run(folder.path(), arguments);
            assert!(
                run.code == 0 || !run.talk.is_empty() || !run.out.is_empty(),
                "{arguments:?}"
            );
        }
        fs::write(folder.path().join("machine.valve"), &before).unwrap();
    }
    for width in ["18446744073709551615", "1000000000", "40", "1"] {
        let sheet = run(folder.path(), &["--width", width, "tube", "6922"]);
        assert_eq!(sheet.code, 0, "{width}: {}", sheet.talk);
        assert!(
            sheet.out.len() < 1_000_000,
            "{width}: {} bytes",
            sheet.out.len()
        );
    }
}
