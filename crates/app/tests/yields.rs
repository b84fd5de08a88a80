//! `yield`: runs that are kept, gone on with, split and joined count to the last sample what one run counts; what does not
//! belong together is refused by name.

use crate::program::{Run, run};
use serde_json::Value;
use std::fs;
use std::path::Path;

/// A gate whose plate resistor is small for a weak tube: some samples fail.
fn design() -> String {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("gallery/corners");
    folder
        .join("plate-resistor-small.valve")
        .display()
        .to_string()
}

fn asked(folder: &Path, words: &[&str]) -> Run {
    run(folder, &[&["yield", "--in", &design()], words].concat())
}

/// 64 samples of each scramble in one run; then 16 and on to 64 in the same file; then four shares, joined. The files have
/// other blocks, so the counts of the records are compared.
#[test]
fn kept_split_and_joined_runs_count_what_one_run_counts() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let whole = asked(folder, &["--samples", "2048", "--json"]);
    assert_eq!(whole.code, 1, "some fail: {}", whole.out);
    let first = asked(folder, &["--samples", "256", "--keep", "one", "--json"]);
    assert_ne!(first.out, whole.out);
    let further = asked(folder, &["--samples", "2048", "--keep", "one", "--json"]);
    assert_eq!(further.out, whole.out);
    let shares = ["1/3", "2/3", "3/3"];
    for (share, file) in shares.iter().zip(["a", "b", "c"]) {
        let part = asked(
            folder,
            &["--samples", "2048", "--share", share, "--keep", file],
        );
        assert!(part.code < 2, "{}", part.talk);
        assert!(part.out.contains("Not complete. Missing:"), "{}", part.out);
    }
    let joined = asked(
        folder,
        &["--json", "--keep", "all", "--join", "c", "a", "b"],
    );
    assert_eq!(joined.out, whole.out, "{}", joined.talk);
    let kept = asked(folder, &["--samples", "2048", "--keep", "all", "--json"]);
    assert_eq!(kept.out, whole.out);
}

/// What is there of three shares counts as it stands: the counts of the scrambles that are whole, an interval of their own, and what
/// is missing.
#[test]
fn shares_that_are_not_all_there_count_as_they_stand() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let ask = ["--samples", "1024"];
    let whole = record(&asked(folder, &[&ask[..], &["--json"]].concat()));
    for (share, file) in [("1/3", "a"), ("3/3", "c")] {
        asked(
            folder,
            &[&ask[..], &["--share", share, "--keep", file]].concat(),
        );
    }
    let some = record(&asked(folder, &["--json", "--join", "a", "c"]));
    // Of sixteen scrambles every third one from the second on is in the second share.
    let missing: Vec<u64> = some["missing"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| one["scramble"].as_u64().unwrap())
        .collect();
    assert_eq!(missing, [1, 4, 7, 10, 13]);
    assert_eq!(some["scrambles"], 11);
    assert_eq!(some["samples"], 11 * 64);
    let [whole, some] = [&whole, &some].map(|one| &one["whole_machine"]);
    let passed = |one: &Value| one["works"].as_array().unwrap().clone();
    let mut left = passed(whole);
    for scramble in [13, 10, 7, 4, 1] {
        left.remove(scramble);
    }
    assert_eq!(passed(some), left);
    let [least, most] = ["least_share", "most_share"].map(|end| some[end].as_f64().unwrap());
    let share = whole["share"].as_f64().unwrap();
    assert!(
        least < share && share < most && most - least < 0.2,
        "{some}"
    );
}

/// Runs of two seeds joined have the scrambles of both, and so an interval that is narrower than either; the file keeps both.
#[test]
fn runs_of_several_seeds_are_joined() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let run = |seed: &str, file: &str| {
        let words = [
            "--samples",
            "1024",
            "--seed",
            seed,
            "--keep",
            file,
            "--json",
        ];
        record(&asked(folder, &words))
    };
    let each = [run("1", "one"), run("2", "two")];
    let both = record(&asked(
        folder,
        &["--join", "one", "two", "--keep", "both", "--json"],
    ));
    assert_eq!(both["seeds"], serde_json::json!([1, 2]));
    assert_eq!(both["scrambles"], 32);
    assert_eq!(both["samples"], 2048);
    let share = |one: &Value| one["whole_machine"]["share"].as_f64().unwrap();
    let width = |one: &Value| {
        let one = &one["whole_machine"];
        one["most_share"].as_f64().unwrap() - one["least_share"].as_f64().unwrap()
    };
    let middle = f64::midpoint(share(&each[0]), share(&each[1]));
    assert!((share(&both) - middle).abs() < 1e-12);
    assert!(width(&both) < width(&each[0]).max(width(&each[1])));
    assert_eq!(run("2", "both"), both);
    // Seeds that would begin the scrambles of another are none.
    let far = asked(folder, &["--seed", "268435456"]);
    assert!(
        far.code == 2 && far.talk.contains("from 0 to 268435455"),
        "{}",
        far.talk
    );
}

/// A comment, another layout and a rating leave a run as it is; a tolerance does not.
#[test]
fn only_what_matters_makes_it_another_design() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let text = fs::read_to_string(design()).unwrap();
    let ask = |text: &str| {
        fs::write(folder.join("own.valve"), text).unwrap();
        let words = [
            "yield",
            "--in",
            "own.valve",
            "--samples",
            "16",
            "--keep",
            "kept",
        ];
        crate::program::run(folder, &words)
    };
    assert!(ask(&text).code < 2);
    let rated = text.replacen("0.25W", "0.5W", 1);
    assert_ne!(rated, text);
    for same in [
        format!("# slept over it\n{text}"),
        text.replace("    ", "        "),
        rated,
    ] {
        let said = ask(&same);
        assert!(said.code < 2, "{}", said.talk);
    }
    let wider = text.replacen("resistors 5%", "resistors 6%", 1);
    let said = ask(&wider);
    assert_eq!(said.code, 2);
    assert!(said.talk.contains("another design"), "{}", said.talk);
}

/// The name of a block stands for all its units, for `margins` as for `yield`.
#[test]
fn a_block_stands_for_its_units() {
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo/tidewatch");
    let folder = tempfile::tempdir().unwrap();
    for command in ["margins", "yield"] {
        let words = [command, "keep", "--json", "--in", demo.to_str().unwrap()];
        let record = record(&run(folder.path(), &words));
        let names: Vec<String> = if command == "yield" {
            let units = record["yields"].as_array().unwrap().iter();
            units.map(|one| one["units"].to_string()).collect()
        } else {
            let margins = record["margins"].as_array().unwrap().iter();
            margins
                .map(|one| one["driver"]["unit"].to_string())
                .collect()
        };
        assert!(3 < names.len(), "{record}");
        assert!(names.iter().all(|name| name.contains("keep.")), "{names:?}");
    }
}

/// A folder that is not there is not made, whichever command writes into it.
#[test]
fn folders_are_not_made() {
    let folder = tempfile::tempdir().unwrap();
    let design = design();
    for words in [
        &["yield", "--keep", "typo/kept", "--in", &design][..],
        &["yield", "G1", "--to", "typo/a.svg", "--in", &design],
        &["draw", "--to", "typo/a.svg", "--in", &design],
        &["report", "--to", "typo/a.html", "--in", &design],
        &["parts", "--to", "typo/a.csv", "--in", &design],
        &["safety", "--to", "typo/a.html", "--in", &design],
    ] {
        let said = run(folder.path(), words);
        assert_eq!(said.code, 2, "{words:?}: {}", said.out);
        assert!(
            said.talk.contains("there is no folder typo"),
            "{}",
            said.talk
        );
        assert!(!folder.path().join("typo").exists(), "{words:?}");
    }
}

fn record(run: &Run) -> Value {
    serde_json::from_str(&run.out).unwrap_or_else(|error| panic!("{error}: {}", run.talk))
}

/// Each clash is named: hollow bands, the design, the units, samples counted twice, a line cut short.
#[test]
fn what_does_not_belong_together_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let base = ["--samples", "16", "--keep", "kept"];
    assert!(asked(folder, &base).code < 2);
    let refused = |words: &[&str], reason: &str| {
        let said = asked(folder, words);
        assert_eq!(said.code, 2, "{words:?}: {}", said.out);
        assert!(said.talk.contains(reason), "{words:?}: {}", said.talk);
    };
    refused(
        &[&base[..], &["--hollow", "50%"]].concat(),
        "hollow by 0%, not 50%",
    );
    refused(&[&base[..], &["G1"]].concat(), "of other units");
    refused(&["--join", "kept", "kept"], "counted already");
    refused(&["--join", "nowhere"], "nowhere: no such file");
    let text = fs::read_to_string(folder.join("kept")).unwrap();
    fs::write(folder.join("short"), &text[..text.len() - 3]).unwrap();
    refused(&["--join", "short"], "short:22: it should read like");
    fs::write(folder.join("other"), text.replace("design ", "design 1")).unwrap();
    refused(&["--join", "other"], "other");
    let elsewhere = text.replacen("design ", "design 0", 1);
    let design_line = elsewhere.lines().nth(2).unwrap().to_owned();
    let changed = text.replace(text.lines().nth(2).unwrap(), &design_line[..23]);
    fs::write(folder.join("changed"), changed).unwrap();
    refused(&["--join", "changed"], "another design");
    let old = text.replacen("tallies 3", "tallies 2", 1);
    fs::write(folder.join("old"), old).unwrap();
    refused(&["--join", "old"], "old is of form 2 of kept counts");
    // What is no file of ours is not to be removed.
    fs::copy(design(), folder.join("design.valve")).unwrap();
    refused(
        &["--keep", "design.valve"],
        "design.valve holds no kept counts, whose first line begins with `valvewright tallies`: name another file",
    );
    // Of 1 sample of a scramble, 2 outcomes.
    let twice = text.replacen("1/0/0/0/0", "1/1/0/0/0", 1);
    assert_ne!(twice, text);
    fs::write(folder.join("twice"), twice).unwrap();
    refused(&["--join", "twice"], "counts like 60/2/1/1/0 of each unit");
}

/// A cell that loses its bit somewhere in its bands: in some samples the bit is gone, in more a level is short, and each is counted
/// as what it is, of the unit as of the machine.
#[test]
fn states_that_are_lost_are_told_from_levels_that_are_short() {
    let folder = tempfile::tempdir().unwrap();
    let cell =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("gallery/corners/cell-loses-its-bit.valve");
    let cell = cell.display().to_string();
    let words = ["yield", "--samples", "4096", "--json", "--in", &cell];
    let record = record(&run(folder.path(), &words));
    let unit = &record["yields"][0];
    assert_eq!(unit["units"][0], "C1");
    let sum = |field: &str| -> u64 {
        let counts = unit[field].as_array().unwrap().iter();
        counts.map(|count| count.as_u64().unwrap()).sum()
    };
    assert!(0 < sum("level_short") && 0 < sum("state_lost"), "{unit}");
    let failed = sum("level_short") + sum("state_lost") + sum("not_at_rest");
    assert_eq!(sum("works") + failed, 4096);
    // What else stands there never fails.
    let machine = &record["whole_machine"];
    for field in [
        "works",
        "level_short",
        "state_lost",
        "not_at_rest",
        "part_wrong",
    ] {
        assert_eq!(unit[field], machine[field]);
    }
    let words = ["yield", "--samples", "4096", "--in", &cell];
    let shown = run(folder.path(), &words).out;
    let row = shown.lines().find(|line| line.starts_with("C1")).unwrap();
    // Ways in which nothing failed have no column.
    let counts = format!("{}  {:>10}", sum("level_short"), sum("state_lost"));
    assert!(row.ends_with(&counts), "{counts}: {shown}");
}

/// Numbers that make no sense are told so with what to type.
#[test]
fn numbers_that_make_no_sense_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    for (words, reason) in [
        (["--samples", "0"], "0 is no number of samples"),
        (["--samples", "99999999"], "from 1 to 1048576"),
        (["--seed", "-1"], "-1 is no seed"),
        (["--hollow", "100%"], "100% is no share"),
        (["--hollow", "-5%"], "-5% is no share"),
        (["--hollow", "0.5"], "type it like 50%"),
        (["--to", "G1.svg"], "name it"),
    ] {
        let said = asked(folder.path(), &words);
        assert_eq!(said.code, 2, "{words:?}: {}", said.out);
        assert!(said.talk.contains(reason), "{words:?}: {}", said.talk);
    }
    let share = asked(folder.path(), &["--keep", "x", "--share", "5/4"]);
    assert!(share.code == 2 && share.talk.contains("5/4 is no share"));
    let nobody = asked(folder.path(), &["G77"]);
    assert!(nobody.code == 2 && nobody.talk.contains("no circuit or unit G77"));
}

/// A unit that drives nothing with a threshold is not drawn: that is all that is said, without an empty table, the report leaves the
/// section out, and no picture of nothing is written, nor one of a lamp stage, which has no levels that anything asks for.
#[test]
fn where_nothing_is_drawn_there_is_no_table_and_no_picture() {
    let folder = tempfile::tempdir().unwrap();
    let gallery = Path::new(env!("CARGO_MANIFEST_DIR")).join("gallery");
    let chain = gallery.join("sound-inverters.valve");
    let last = ["yield", "G3", "--in", chain.to_str().unwrap()];
    let none = run(folder.path(), &last);
    assert_eq!(none.code, 0, "{}", none.talk);
    assert!(none.out.starts_with("Nothing was drawn"), "{}", none.out);
    assert!(!none.out.contains('─'), "no table: {}", none.out);
    let json = record(&run(folder.path(), &[&last[..], &["--json"]].concat()));
    assert_eq!(json["yields"], Value::Array(Vec::new()));
    let lamp = gallery.join("sound-lamp-stage.valve");
    let lamp = lamp.to_str().unwrap();
    let unit = record(&run(folder.path(), &["yield", "--json", "--in", lamp]));
    let unit = unit["yields"][0]["units"][0].as_str().unwrap().to_owned();
    for words in [
        [&last[..], &["--to", "none.svg"]].concat(),
        vec!["yield", &unit, "--to", "none.svg", "--in", lamp],
    ] {
        let picture = run(folder.path(), &words);
        assert_eq!(picture.code, 2, "{words:?}: {}", picture.out);
        let said = "none.svg was not written: no output was drawn that drives something";
        assert!(picture.talk.contains(said), "{}", picture.talk);
        assert!(!folder.path().join("none.svg").exists(), "{words:?}");
    }
    let text = fs::read_to_string(&chain).unwrap();
    let alone = text
        .replace("unit G1 inverter in V1A: a x, y m\n", "")
        .replace("unit G2 inverter in V1B: a m, y n\n", "")
        .replace("a n, y out", "a x, y out")
        .replace("V1 beside V2", "V2");
    for (name, text, drawn) in [("alone", &alone, false), ("chain", &text, true)] {
        fs::write(folder.path().join(format!("{name}.valve")), text).unwrap();
        let page = format!("{name}.html");
        run(
            folder.path(),
            &["report", &format!("{name}.valve"), "--to", &page],
        );
        let page = fs::read_to_string(folder.path().join(page)).unwrap();
        assert_eq!(page.contains("How many work"), drawn, "{name}");
    }
}

/// An interrupt of a run that would take minutes ends it with 130, says how far it came, and what was drawn is in the file and is gone
/// on with. It is sent when the file is there, so after the first blocks and long before the last.
#[cfg(unix)]
#[test]
fn an_interrupted_run_ends_with_130_and_keeps_what_is_done() {
    use std::io::Read as _;
    use std::process::{Command, Stdio};
    use std::time::{Duration, Instant};
    let folder = tempfile::tempdir().unwrap();
    let kept = folder.path().join("kept");
    let most = (16 * (1 << 16)).to_string();
    let mut child = Command::new(env!("CARGO_BIN_EXE_valvewright"))
        .args([
            "yield",
            "--in",
            &design(),
            "--keep",
            "kept",
            "--samples",
            &most,
        ])
        .current_dir(folder.path())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let begun = Instant::now();
    while !kept.exists() {
        assert!(child.try_wait().unwrap().is_none(), "it has ended");
        if Duration::from_secs(120) < begun.elapsed() {
            child.kill().unwrap();
            panic!("nothing is kept");
        }
        std::thread::sleep(Duration::from_millis(10));
    }
    let interrupt = Command::new("kill")
        .args(["-INT", &child.id().to_string()])
        .status()
        .unwrap();
    assert!(interrupt.success());
    let (mut out, mut talk) = (String::new(), String::new());
    let mut told = child.stderr.take().unwrap();
    let hear = std::thread::spawn(move || told.read_to_string(&mut talk).map(|_| talk));
    let mut said = child.stdout.take().unwrap();
    said.read_to_string(&mut out).unwrap();
    let talk = hear.join().unwrap().unwrap();
    assert_eq!(child.wait().unwrap().code(), Some(130), "{talk}");
    assert!(talk.contains("Interrupted: "), "{talk}");
    assert!(
        talk.contains("The same command goes on from here."),
        "{talk}"
    );
    // By chance all scrambles have come equally far; else what is missing is said. It is never all that was asked for.
    let whole = out.contains("samples of the machine, in 16 scrambles");
    assert!(out.contains("Not complete. Missing:") || whole, "{out}");
    assert!(!out.contains(&format!("{most} samples")), "{out}");
    let lines = fs::read_to_string(&kept).unwrap();
    let blocks = lines.lines().filter(|line| line.starts_with("scramble"));
    assert!(0 < blocks.count(), "{lines}");
    let joined = asked(folder.path(), &["--join", "kept"]);
    assert!(joined.code < 2, "{}", joined.talk);
}

/// What is asked for is rounded up and said; a unit's levels are drawn.
#[test]
fn samples_are_rounded_up_and_levels_drawn() {
    let folder = tempfile::tempdir().unwrap();
    let said = asked(folder.path(), &["G2", "--samples", "100", "--to", "G2.svg"]);
    assert!(
        said.talk.contains("100 samples are rounded up to 128"),
        "{}",
        said.talk
    );
    let drawn = fs::read_to_string(folder.path().join("G2.svg")).unwrap();
    assert!(drawn.contains("threshold at worst"), "{drawn}");
}
