//! The guide does what it says: its files are written, its commands are run in order in one folder, every exit code is the
//! one stated, every line of output quoted stands in the real output, and every picture shown is what the command wrote,
//! byte for byte. The worked example of the method page likewise.
//!
//! In `docs/guide.md`, the line above a ```` ```valve ```` or ```` ```csv ```` block says what becomes of it: a file name in
//! backquotes alone writes the file, `Add to` appends, `In ..., instead of ...:` replaces one line. Commands stand in
//! ```` ```sh ```` blocks, with `# exit 1` behind those that do not end with 0; the ```` ```text ```` block that follows quotes
//! the output of the last command before it, in order, where `…` stands for lines left out.

use crate::program::run;
use serde_json::Value;
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

const GUIDE: &str = include_str!("../../../docs/guide.md");
const METHOD: &str = include_str!("../../../docs/method.md");

/// Set to anything, the pictures are written anew.
const REWRITE: &str = "VALVEWRIGHT_WRITE_PICTURES";

/// A fenced block: its kind, the last line of text above it, and its lines.
struct Block {
    kind: String,
    above: String,
    text: String,
}

fn blocks(page: &str) -> Vec<Block> {
    let mut found: Vec<Block> = Vec::new();
    let (mut inside, mut above) = (false, String::new());
    for line in page.lines() {
        match (inside, line.strip_prefix("```")) {
            (false, Some(kind)) => {
                let (kind, text) = (kind.to_owned(), String::new());
                found.push(Block {
                    kind,
                    above: std::mem::take(&mut above),
                    text,
                });
                inside = true;
            }
            (true, Some(_)) => inside = false,
            (true, None) => found.last_mut().unwrap().text += &format!("{line}\n"),
            (false, None) if !line.trim().is_empty() => line.clone_into(&mut above),
            (false, None) => {}
        }
    }
    assert!(!inside, "a block is not closed");
    found
}

/// Does with a file what the line above its block says.
fn write(folder: &Path, block: &Block) {
    let named: Vec<&str> = block.above.split('`').skip(1).step_by(2).collect();
    let file = folder.join(
        named
            .first()
            .unwrap_or_else(|| panic!("no file named above: {}", block.text)),
    );
    if block.above.starts_with('`') {
        assert!(!file.exists(), "{} is written twice", block.above);
        fs::write(file, &block.text).unwrap();
        return;
    }
    let old = fs::read_to_string(&file).unwrap();
    if block.above.starts_with("Add to") {
        fs::write(file, old + &block.text).unwrap();
    } else {
        let replaced = format!("{}\n", named[1]);
        assert_eq!(old.matches(&replaced).count(), 1, "{replaced}");
        fs::write(file, old.replace(&replaced, &block.text)).unwrap();
    }
}

/// Checks that the lines quoted stand in the output in this order; the lines between must be marked as left out.
fn compare(quoted: &str, output: &str, command: &str) {
    let mut real = output
        .lines()
        .map(str::trim_end)
        .filter(|line| !line.is_empty())
        .peekable();
    let mut skipping = false;
    for line in quoted
        .lines()
        .map(str::trim_end)
        .filter(|line| !line.is_empty())
    {
        if line == "…" {
            skipping = true;
            continue;
        }
        let next = if skipping {
            real.find(|real| *real == line)
        } else {
            real.next()
        };
        assert_eq!(next, Some(line), "after `{command}`:\n{output}");
        skipping = false;
    }
    assert!(
        skipping || real.peek().is_none(),
        "`{command}` says more: {:?}",
        real.next()
    );
}

/// Compares the pictures that the page shows with what its commands have written into `folder`, and with those kept.
fn compare_pictures(page: &str, folder: &Path) {
    let kept = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/pictures");
    let after_link = page.split("](pictures/").skip(1);
    let shown: BTreeSet<&str> = after_link
        .map(|rest| rest.split(')').next().unwrap())
        .collect();
    assert!(5 < shown.len(), "{shown:?}");
    for name in &shown {
        let written = fs::read_to_string(folder.join(name));
        let written = written.unwrap_or_else(|_| panic!("no command of the guide writes {name}"));
        if std::env::var_os(REWRITE).is_some() {
            fs::create_dir_all(&kept).unwrap();
            fs::write(kept.join(name), &written).unwrap();
        }
        assert!(
            fs::read_to_string(kept.join(name)).is_ok_and(|kept| kept == written),
            "docs/pictures/{name} is not what the guide's command writes; \
             `{REWRITE}=1 cargo test --release -p valvewright --test main guide::` writes it anew, then look at it"
        );
    }
    for entry in fs::read_dir(kept).unwrap() {
        let name = entry.unwrap().file_name();
        assert!(
            shown.contains(name.to_str().unwrap()),
            "{name:?} is not shown"
        );
    }
}

#[test]
fn the_guide_does_what_it_says() {
    let folder = tempfile::tempdir().unwrap();
    let (mut output, mut last, mut commands, mut quotes) = (String::new(), String::new(), 0, 0);
    for block in blocks(GUIDE) {
        match block.kind.as_str() {
            "valve" | "csv" => write(folder.path(), &block),
            "sh" => {
                output.clear();
                for line in block
                    .text
                    .lines()
                    .filter(|line| line.starts_with("valvewright "))
                {
                    let (command, comment) = line.split_once('#').unwrap_or((line, ""));
                    let expected = comment
                        .trim()
                        .strip_prefix("exit ")
                        .map_or(0, |code| code.parse().unwrap());
                    let words: Vec<&str> = command.split_whitespace().skip(1).collect();
                    let answer = run(folder.path(), &words);
                    assert_eq!(
                        answer.code, expected,
                        "`{line}`: {}{}",
                        answer.out, answer.talk
                    );
                    // A quotation shows the last command of its block.
                    output = answer.out;
                    line.clone_into(&mut last);
                    commands += 1;
                }
            }
            "text" => {
                compare(&block.text, &output, &last);
                quotes += 1;
            }
            kind => panic!("a block of kind `{kind}`"),
        }
    }
    assert!(
        15 < commands && 12 < quotes,
        "{commands} commands, {quotes} quotations"
    );
    compare_pictures(GUIDE, folder.path());
}

/// The numbers of the line of the method page that begins with a phrase, signs included.
fn stated(phrase: &str) -> Vec<f64> {
    let line = METHOD
        .lines()
        .find(|line| line.starts_with(phrase))
        .unwrap_or_else(|| panic!("no line begins with {phrase}"));
    line[phrase.len()..]
        .replace('\u{2212}', "-")
        .split(|letter: char| !"-.0123456789".contains(letter))
        .filter_map(|word| word.trim_end_matches('.').parse().ok())
        .collect()
}

/// As near as the last digit of the page shows.
fn near(what: &str, program: &Value, page: f64, digit: f64) {
    let program = program.as_f64().unwrap();
    assert!(
        (program - page).abs() <= 0.501 * digit,
        "{what}: program {program}, page {page}"
    );
}

/// The worked example "One gate by hand" of the method page: what it says that the program prints is what it prints.
#[test]
fn the_worked_example_of_the_method_agrees() {
    let (_, example) = METHOD.split_once("## One gate by hand").unwrap();
    let folder = tempfile::tempdir().unwrap();
    fs::write(
        folder.path().join("machine.valve"),
        &blocks(example)[0].text,
    )
    .unwrap();
    let record = |words: &[&str]| -> Value {
        serde_json::from_str(&run(folder.path(), &[words, &["--json"]].concat()).out).unwrap()
    };

    let page = stated("`valvewright drives` prints for the net `one`:");
    let [down, up, low, high, spare_down, spare_up] = page[..] else {
        panic!("{page:?}")
    };
    let drives = record(&["drives"]);
    let connections = drives["connections"].as_array().unwrap();
    let one: Vec<&Value> = connections
        .iter()
        .filter(|each| each["net"] == "one")
        .collect();
    assert_eq!(one.len(), 3, "B, C and D");
    for each in one {
        near("down level", &each["down_volts"], down, 1e-3);
        near("up level", &each["up_volts"], up, 1e-2);
        near("low threshold", &each["needs_below_volts"], low, 1e-2);
        near("high threshold", &each["needs_above_volts"], high, 1e-2);
        near(
            "spare when down",
            &each["spare_down_volts"],
            spare_down,
            1e-2,
        );
        near("spare when up", &each["spare_up_volts"], spare_up, 1e-2);
    }

    let row = |unit: &str, up: bool| -> Value {
        let levels = record(&["levels", unit]);
        let rows = levels["solved"]["rows"].as_array().unwrap();
        rows.iter()
            .find(|row| row["inputs"][0] == up)
            .unwrap()
            .clone()
    };
    let tube = |row: &Value| -> Value {
        let parts = row["parts"].as_object().unwrap();
        parts
            .iter()
            .find(|(name, _)| name.ends_with("V1"))
            .unwrap()
            .1
            .clone()
    };
    let grid = stated("`valvewright levels B` prints");
    near(
        "grid of B",
        &tube(&row("B", false))["grid_volts"],
        grid[0],
        1e-2,
    );
    let plate = stated("`valvewright levels A` prints");
    let amps = tube(&row("A", true))["amps"].as_f64().unwrap();
    near(
        "plate current of A, mA",
        &Value::from(amps * 1e3),
        plate[0],
        1e-4,
    );

    let loads = record(&["loads", "inverter"]);
    let fan = loads["circuits"][0]["fan_out"]["rows"].as_array().unwrap();
    for count in [0, 1, 3] {
        let [_, printed] = stated(&format!("| {count} |"))[..] else {
            panic!("row {count}")
        };
        near("loaded up level", &fan[count]["up_volts"], printed, 1e-2);
    }
    let last = stated("With n = ");
    assert_eq!(
        loads["circuits"][0]["fan_out"]["last_that_works"].as_f64(),
        Some(last[0])
    );
}
