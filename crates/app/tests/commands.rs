//! Every command as a user types it: what it prints, what it writes, and how it ends.
//!
//! Expected numbers are either in the test's own input (rails and their tolerances) or name their source beside them.

use crate::program::run;
use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

fn folder() -> TempDir {
    tempfile::tempdir().unwrap()
}

fn gallery(name: &str) -> String {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("gallery");
    folder.join(name).display().to_string()
}

/// A folder with the demo machine in `tidewatch`.
fn with_demo() -> TempDir {
    let folder = folder();
    for (name, text) in [
        (
            "machine.valve",
            include_str!("../demo/tidewatch/machine.valve"),
        ),
        (
            "circuits/gates.valve",
            include_str!("../demo/tidewatch/circuits/gates.valve"),
        ),
        (
            "circuits/blocks.valve",
            include_str!("../demo/tidewatch/circuits/blocks.valve"),
        ),
    ] {
        let file = folder.path().join("tidewatch").join(name);
        fs::create_dir_all(file.parent().unwrap()).unwrap();
        fs::write(file, text).unwrap();
    }
    folder
}

/// Every file below a folder with its bytes.
fn contents(folder: &Path) -> Vec<(PathBuf, Vec<u8>)> {
    let mut found = Vec::new();
    let mut folders = vec![folder.to_owned()];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else {
                found.push((path.clone(), fs::read(path).unwrap()));
            }
        }
    }
    found.sort();
    found
}

/// Words as they stand when line ends and runs of blanks count as one blank.
fn flowing(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn demo_writes_its_folder_and_report_and_passes() {
    let folder = folder();
    let demo = run(folder.path(), &["demo"]);
    assert_eq!(demo.code, 0, "{}", demo.out);
    for name in [
        "machine.valve",
        "circuits/gates.valve",
        "circuits/blocks.valve",
        "points.csv",
        "report.html",
    ] {
        assert!(
            folder.path().join("tidewatch").join(name).is_file(),
            "{name}"
        );
    }
    assert!(demo.talk.contains("tidewatch/report.html"), "{}", demo.talk);
    let page = fs::read_to_string(folder.path().join("tidewatch/report.html")).unwrap();
    assert!(page.contains("<svg") && page.contains("</html>"));
    assert!(
        !page.contains("http://") || !page.contains("src=\"http"),
        "the page needs nothing else"
    );
}

/// Every verdict says what was not looked at, names the touch limit where it is passed, and promises nothing.
#[test]
fn a_verdict_promises_nothing() {
    let folder = with_demo();
    let check = run(folder.path(), &["check", "tidewatch"]);
    assert_eq!(check.code, 0);
    let said = flowing(&check.out);
    assert!(said.contains("Levels pass, no findings."), "{said}");
    for unchecked in ["Not checked:", "ageing", "timing", "spacing", "safety"] {
        assert!(said.contains(unchecked), "{unchecked} in {said}");
    }
    // The rails as typed: 53 V and 2 % above, 24 V and 5 % below: 54.1 V + 25.2 V = 79.3 V.
    assert!(said.contains("79.3 V") && said.contains("60 V"), "{said}");
    assert!(said.contains("Local codes and licensed practice"), "{said}");
    let word = |text: &str| {
        text.to_lowercase()
            .split(|letter: char| !letter.is_alphabetic())
            .any(|word| word == "safe")
    };
    assert!(!word(&check.out) && !word(&check.talk), "{said}");
}

#[test]
fn demo_keeps_what_its_reader_changed() {
    let folder = with_demo();
    let file = folder.path().join("tidewatch/machine.valve");
    let mine = fs::read_to_string(&file)
        .unwrap()
        .replace("machine Tidewatch", "machine Ebbwatch");
    fs::write(&file, &mine).unwrap();
    let demo = run(folder.path(), &["demo"]);
    assert!(
        demo.talk.contains("kept as you changed it"),
        "{}",
        demo.talk
    );
    assert_eq!(fs::read_to_string(&file).unwrap(), mine);
    assert!(demo.out.starts_with("Ebbwatch."), "{}", demo.out);
}

#[test]
fn a_fault_ends_with_1_and_stands_with_its_place() {
    let check = run(
        folder().path(),
        &["check", &gallery("divider-to-minus-12.valve")],
    );
    assert_eq!(check.code, 1);
    assert!(check.out.contains("not-cut-off"), "{}", check.out);
    assert!(
        check.out.contains("divider-to-minus-12.valve:"),
        "{}",
        check.out
    );
    // A caution alone is no fault.
    assert_eq!(
        run(folder().path(), &["check", &gallery("thin-margin.valve")]).code,
        0
    );
    assert_eq!(
        run(
            folder().path(),
            &["heaters", "--in", &gallery("heater-forgotten.valve")]
        )
        .code,
        1
    );
}

/// A gate that passes by the book and is short in the worst case ends with 1; who is asked for is a unit, or all units of a
/// circuit, and a name that is neither is told so.
#[test]
fn margins_end_with_1_where_one_that_was_asked_for_is_short() {
    let thin = gallery("thin-margin.valve");
    let of = |name: &[&str], design: &str| {
        let words = [&["margins"], name, &["--in", design]].concat();
        run(folder().path(), &words)
    };
    let all = of(&[], &thin);
    assert_eq!(all.code, 1, "{}", all.out);
    assert!(all.out.contains("short"), "{}", all.out);
    // Its bench's switch gives full levels to the first gate: what drives that gate is not short, what it drives is.
    assert_eq!(of(&["G1"], &thin).code, 1);
    let sound = gallery("sound-inverters.valve");
    let unit = of(&["g1"], &sound);
    assert_eq!(unit.code, 0, "{}", unit.out);
    assert!(
        unit.out.contains("of what G1 drives") && unit.out.contains("every corner"),
        "{}",
        unit.out
    );
    let circuit = of(&["inverter"], &sound);
    assert_eq!(circuit.code, 0, "{}", circuit.talk);
    assert!(circuit.out.contains("G1.y"), "{}", circuit.out);
    let nobody = of(&["G77"], &sound);
    assert_eq!(nobody.code, 2);
    assert!(
        nobody.talk.contains("no circuit or unit G77"),
        "{}",
        nobody.talk
    );
}

/// The report has the faults of the worst case on its page, so it ends as `margins` does; of a circuit that is short alone and that
/// units use, which is no fault, it does not.
#[test]
fn a_report_ends_as_the_margins_on_its_page_do() {
    let folder = folder();
    for (name, code) in [("thin-margin", 1), ("sound-inverters", 0)] {
        let (design, page) = (gallery(&format!("{name}.valve")), format!("{name}.html"));
        let report = run(folder.path(), &["report", &design, "--to", &page]);
        assert_eq!(report.code, code, "{name}: {}", report.talk);
        let margins = run(folder.path(), &["margins", "--in", &design]);
        assert_eq!(margins.code, code, "{name}: {}", margins.out);
        assert_eq!(run(folder.path(), &["check", &design]).code, 0, "{name}");
        let says = report.talk.contains("in the worst case");
        assert_eq!(says, code == 1, "{name}: {}", report.talk);
    }
}

/// The report says at the head how many nets are thin, as many as the margins have: of a net what spares least counts.
#[test]
fn a_report_counts_what_is_thin() {
    let folder = folder();
    let sound = fs::read_to_string(gallery("sound-inverters.valve")).unwrap();
    for (resistors, words) in [
        (("680k join", "82k upper"), None),
        (("620k join", "47k upper"), Some("1 net is thin")),
        (("560k join", "47k upper"), Some("2 nets are thin")),
    ] {
        let text = sound
            .replace("680k join", resistors.0)
            .replace("82k upper", resistors.1);
        fs::write(folder.path().join("gates.valve"), text).unwrap();
        let margins = run(folder.path(), &["margins", "--json", "--in", "gates.valve"]);
        let margins: Value = serde_json::from_str(&margins.out).unwrap();
        let thin = |one: &&Value| {
            let spare = one["spare_volts"].as_f64().unwrap();
            (0.0..one["thin_below_volts"].as_f64().unwrap()).contains(&spare)
        };
        let connections = margins["margins"].as_array().unwrap().iter();
        let counted = connections.filter(thin).count();
        let report = run(folder.path(), &["report", "gates.valve", "--to", "a.html"]);
        assert_eq!(report.code, 0, "thin is no fault: {}", report.talk);
        let page = fs::read_to_string(folder.path().join("a.html")).unwrap();
        match words {
            Some(words) => {
                assert!(page.contains(words), "{words}");
                assert!(words.starts_with(&counted.to_string()), "{margins}");
            }
            None => assert!(counted == 0 && !page.contains("is thin:")),
        }
    }
}

/// Two designs in one folder have a report each; that of the folder's first file is the folder's.
#[test]
fn designs_in_one_folder_have_reports_of_their_own() {
    let folder = folder();
    for name in ["machine.valve", "chain.valve", "second.valve"] {
        let text = fs::read_to_string(gallery("sound-inverters.valve")).unwrap();
        fs::write(folder.path().join(name), text).unwrap();
    }
    for (design, page) in [
        (".", "report.html"),
        ("machine.valve", "report.html"),
        ("chain.valve", "chain-report.html"),
        ("second.valve", "second-report.html"),
    ] {
        let before = contents(folder.path());
        let report = run(folder.path(), &["report", design]);
        assert!(report.talk.contains(page), "{design}: {}", report.talk);
        let kept = |(file, text): &(PathBuf, Vec<u8>)| {
            file.ends_with(page) || fs::read(file).unwrap() == *text
        };
        assert!(before.iter().all(kept), "{design}");
        assert!(folder.path().join(page).is_file(), "{design}");
    }
}

/// A design where a name belongs is no name: with another design in the folder as well, it is said how to type it.
#[test]
fn a_design_for_a_name_is_told_how_to_be_typed() {
    let folder = with_demo();
    let text = fs::read_to_string(gallery("sound-inverters.valve")).unwrap();
    for name in ["machine.valve", "chain.valve"] {
        fs::write(folder.path().join(name), &text).unwrap();
    }
    for command in [
        "margins chain.valve",
        "levels chain.valve",
        "drives chain.valve",
        "yield chain.valve",
        "loads chain.valve",
        "draw chain.valve",
        "wiring chain.valve",
        "margins tidewatch",
    ] {
        let words: Vec<&str> = command.split(' ').collect();
        let answer = run(folder.path(), &words);
        assert_eq!(answer.code, 2, "{command}: {}", answer.out);
        let said = format!("it is a design, so write `--in {}`", words[1]);
        assert!(answer.talk.contains(&said), "{command}: {}", answer.talk);
    }
    let there = run(folder.path(), &["margins", "G1", "--in", "chain.valve"]);
    assert_eq!(there.code, 0, "{}", there.talk);
}

/// A name that is nowhere near any is answered with those that are there, blocks in their places among them.
#[test]
fn blocks_are_among_the_names_that_may_be_asked_for() {
    let folder = with_demo();
    for command in ["margins", "levels", "yield"] {
        let answer = run(folder.path(), &[command, "zzzzzzzz", "--in", "tidewatch"]);
        assert_eq!(answer.code, 2);
        let names = answer.talk.split("there are ").nth(1).unwrap_or_default();
        let named = |name: &str| names.split([',', ' ']).any(|word| word == name);
        assert!(
            named("minus") && named("nor3"),
            "{command}: {}",
            answer.talk
        );
    }
}

/// The word is explained where it stands, and not where nothing is: of rows that stand alike, of a lot whose tubes are said to be.
#[test]
fn what_is_alike_is_explained_where_it_is_said() {
    let folder = folder();
    let design = fs::read_to_string(gallery("sound-inverters.valve")).unwrap();
    let further = "unit G4 inverter in V2B: a n, y last\n\nstring H1";
    let two = design
        .replace("string H1", further)
        .replace("out 1M5 to ground", "out 1M5 to ground, last 1M5 to ground");
    let lot = "lot 6922: current 85% to 112%, alike 20%, aged to 60%\n";
    let sorted = format!("{design}{lot}");
    for (text, rows, tubes) in [
        (&design, false, false),
        (&two, true, false),
        (&sorted, false, true),
    ] {
        fs::write(folder.path().join("pair.valve"), text).unwrap();
        let margins = run(folder.path(), &["margins", "--in", "pair.valve"]);
        let said = flowing(&margins.out);
        assert_eq!(said.contains("1 alike"), rows, "{said}");
        let explained = said.contains("Where one stands for others that are alike");
        assert_eq!(explained, rows, "{said}");
        let explained = said.contains("Tubes of a lot with `alike`");
        assert_eq!(explained, tubes, "{said}");
    }
}

/// The record of every command is one JSON object of format 1.
#[test]
fn every_record_is_one_object_of_format_1() {
    let folder = with_demo();
    let points = folder.path().join("points.csv");
    fs::write(&points, ehx_1_points()).unwrap();
    fs::write(
        folder.path().join("bad.valve"),
        "valvewright format 1\nrial upper 24V\n",
    )
    .unwrap();
    fs::copy(
        gallery("sound-inverters.valve"),
        folder.path().join("pair.valve"),
    )
    .unwrap();
    let commands: &[(&str, &str)] = &[
        ("verdict", "demo tidewatch"),
        ("verdict", "check tidewatch"),
        ("verdict", "report tidewatch"),
        ("circuits", "levels --in tidewatch"),
        ("circuit_levels", "levels nor3 --in tidewatch"),
        ("levels", "levels minus.N1 --in tidewatch"),
        ("connections", "drives --in tidewatch"),
        ("connections", "drives F1 --in tidewatch"),
        ("loads", "loads lamp --in tidewatch"),
        ("states", "states --in tidewatch"),
        ("heaters", "heaters --in tidewatch"),
        ("power", "power --in tidewatch"),
        ("parts", "parts --in tidewatch"),
        ("margins", "margins --in pair.valve"),
        ("yields", "yield --samples 16 --in pair.valve"),
        ("readings", "readings V3 --in tidewatch"),
        ("wiring", "wiring --in tidewatch"),
        ("wiring", "wiring subtractor --in tidewatch"),
        ("drawing", "draw H1 --in tidewatch"),
        ("change", "try nor2.R3 100k --in tidewatch"),
        ("set", "set nor2.R3 82k --in tidewatch"),
        ("laid_out", "format --look tidewatch"),
        ("tubes", "tube"),
        ("type_sheet", "tube 6922"),
        ("fit", "fit points.csv"),
        ("explanations", "explain"),
        ("explain", "explain not-cut-off"),
        ("setup", "setup manual"),
        ("problems", "check bad.valve"),
    ];
    for (kind, command) in commands {
        let mut words: Vec<&str> = command.split(' ').collect();
        words.push("--json");
        let answer = run(folder.path(), &words);
        let record: Value = serde_json::from_str(&answer.out)
            .unwrap_or_else(|error| panic!("{command}: {error}\n{}", answer.out));
        assert_eq!(record["format"], 1, "{command}");
        assert_eq!(record["record"], *kind, "{command}");
    }
}

#[test]
fn set_changes_one_value_and_no_other_byte() {
    let folder = with_demo();
    let before = contents(folder.path());
    let set = run(
        folder.path(),
        &["set", "nor2.R3", "100k", "--in", "tidewatch"],
    );
    assert_eq!(set.code, 0, "{}", set.talk);
    assert!(
        set.talk.contains("nor2.R3 was 82k, is 100k"),
        "{}",
        set.talk
    );
    let after = contents(folder.path());
    assert_eq!(before.len(), after.len(), "no file more, none less");
    let changed: Vec<_> = before
        .iter()
        .zip(&after)
        .filter(|(old, new)| old != new)
        .collect();
    let [((path, old), (_, new))] = changed[..] else {
        panic!("{} files changed", changed.len())
    };
    assert!(path.ends_with("circuits/gates.valve"));
    // Only the word in the line of nor2, the second of three that say the same, is another.
    let (old, new) = (String::from_utf8_lossy(old), String::from_utf8_lossy(new));
    let at = old.match_indices("R3 82k").nth(1).unwrap().0;
    assert_eq!(new, format!("{}R3 100k{}", &old[..at], &old[at + 6..]));
    // And back: the folder is what it was, to the byte.
    run(
        folder.path(),
        &["set", "nor2.R3", "82k", "--in", "tidewatch"],
    );
    assert_eq!(contents(folder.path()), before);
}

/// A rail below ground begins with a minus sign, which is no option of the command line.
#[test]
fn a_negative_value_can_be_set() {
    let folder = with_demo();
    let set = run(
        folder.path(),
        &["set", "lower", "-20V", "--in", "tidewatch"],
    );
    assert!(set.talk.contains("lower was -24V, is -20V"), "{}", set.talk);
}

#[test]
fn a_value_that_cannot_stand_is_not_set() {
    let folder = with_demo();
    let before = contents(folder.path());
    for (part, value, said) in [
        ("nor2.R3", "wide", "not-a-value"),
        ("nor2.R3", "1e400", "1e400"),
        ("nor2.R3", "1k to x", "one word"),
        ("nor2.R9", "1k", "did you mean nor2.R"),
        ("minus.N1.R3", "1k", "nor2.R3"),
        ("uper", "30V", "did you mean upper"),
    ] {
        let set = run(folder.path(), &["set", part, value, "--in", "tidewatch"]);
        assert_eq!(set.code, 2, "{part} {value}");
        assert!(set.talk.contains(said), "{part} {value}: {}", set.talk);
    }
    assert_eq!(contents(folder.path()), before);
}

#[test]
fn try_shows_both_sides_and_writes_nothing() {
    let folder = with_demo();
    let before = contents(folder.path());
    let tried = run(
        folder.path(),
        &["try", "nor2.R3", "100k", "--in", "tidewatch"],
    );
    assert_eq!(tried.code, 0, "{}", tried.talk);
    assert!(
        tried.out.contains("82k → 100k") && tried.out.contains("after"),
        "{}",
        tried.out
    );
    assert_eq!(contents(folder.path()), before);
}

#[test]
fn format_looks_then_lays_out_and_leaves_faulty_text_alone() {
    let folder = folder();
    let file = folder.path().join("gate.valve");
    let untidy = "valvewright format 1\nrail   upper   36V 5%\n";
    fs::write(&file, untidy).unwrap();
    let look = run(folder.path(), &["format", "--look", "gate.valve"]);
    assert_eq!((look.code, look.out.trim()), (1, "gate.valve"));
    assert_eq!(
        fs::read_to_string(&file).unwrap(),
        untidy,
        "looking changes nothing"
    );
    assert_eq!(run(folder.path(), &["format", "."]).code, 0);
    assert_ne!(fs::read_to_string(&file).unwrap(), untidy);
    assert_eq!(
        run(folder.path(), &["format", "--look", "."]).code,
        0,
        "laid out once is laid out"
    );

    let faulty = "rail   upper: 36V: 5%\n";
    fs::write(&file, faulty).unwrap();
    assert_eq!(run(folder.path(), &["format", "gate.valve"]).code, 2);
    assert_eq!(fs::read_to_string(&file).unwrap(), faulty);
}

/// Every name of every catalogue can be explained, and the list holds them all.
#[test]
fn explain_knows_every_finding() {
    let folder = folder();
    let list = run(folder.path(), &["explain"]).out;
    let listed: Vec<&str> = list
        .lines()
        .filter_map(|line| line.split_whitespace().next())
        .collect();
    let all = network::finding::CATALOGUE
        .iter()
        .chain(design::catalogue::CATALOGUE)
        .chain(devices::catalogue::CATALOGUE)
        .chain(text::catalogue::CATALOGUE);
    for entry in all {
        assert!(listed.contains(&entry.name), "{} is not listed", entry.name);
        let told = run(folder.path(), &["explain", entry.name]);
        assert_eq!(told.code, 0, "{}", entry.name);
        assert!(
            flowing(&told.out).contains(&flowing(entry.summary)),
            "{}",
            told.out
        );
    }
    let slip = run(folder.path(), &["explain", "not-cutoff"]);
    assert_eq!(slip.code, 2);
    assert!(
        slip.talk.contains("did you mean not-cut-off?"),
        "{}",
        slip.talk
    );
}

#[test]
fn a_tube_sheet_names_the_sources_of_its_values() {
    let sheet = run(folder().path(), &["tube", "6922"]).out;
    assert!(sheet.contains("source"), "{sheet}");
    // Every source that a value names (S and a number) is written out below.
    let named = sheet
        .split(|letter: char| !letter.is_alphanumeric())
        .filter(|word| {
            word.strip_prefix('S').is_some_and(|number| {
                !number.is_empty() && number.chars().all(|digit| digit.is_ascii_digit())
            })
        });
    let mut sources = 0;
    for source in named {
        sources += 1;
        assert!(
            sheet
                .lines()
                .any(|line| line.starts_with(&format!("{source}: "))),
            "{source} is not written out"
        );
    }
    assert!(0 < sources, "{sheet}");
    assert!(sheet.contains("can kill"), "{sheet}");
}

/// Points of the DAFx-11 law for the tube EHX-1 (Dempwolf and Zoelzer, DAFx-11, Paris 2011, Table 1), rounded like a meter.
fn ehx_1_points() -> String {
    let law = devices::triode::TriodeLaw::Tail(devices::triode::EHX_1);
    let mut text = String::from("plate_volts, grid_volts, plate_milliamps, grid_microamps\n");
    for plate in [50.0, 100.0, 150.0, 200.0, 250.0, 300.0] {
        for grid in [0.2, 0.0, -0.5, -1.0, -1.5, -2.0, -2.5, -3.0] {
            let currents = law.at(plate, grid);
            text += &format!(
                "{plate}, {grid}, {:.4}, {:.2}\n",
                currents.plate * 1e3,
                currents.grid * 1e6
            );
        }
    }
    text
}

/// Fitting points of a published law gives back its amplification factor and exponent.
#[test]
fn fit_finds_the_law_that_made_the_points() {
    let folder = folder();
    fs::write(folder.path().join("points.csv"), ehx_1_points()).unwrap();
    let words = run(folder.path(), &["fit", "points.csv", "--as", "MYTUBE"]);
    assert_eq!(words.code, 0, "{}", words.talk);
    assert!(
        words.out.contains("type MYTUBE triode") && words.out.contains("law tail: perveance"),
        "{}",
        words.out
    );
    let value = |name: &str| -> f64 {
        let after = words
            .out
            .split(&format!(" {name} "))
            .nth(1)
            .unwrap_or_else(|| panic!("no {name}"));
        after
            .split([',', '\n'])
            .next()
            .unwrap()
            .trim()
            .parse()
            .unwrap()
    };
    // mu 86.9, exponent 1.349: DAFx-11 Table 1, EHX-1.
    assert!(
        (value("mu") / 86.9 - 1.0).abs() < 0.03,
        "mu {}",
        value("mu")
    );
    assert!(
        (value("exponent") / 1.349 - 1.0).abs() < 0.03,
        "exponent {}",
        value("exponent")
    );
}

#[test]
fn fit_names_the_line_that_cannot_be_read() {
    let folder = folder();
    fs::write(
        folder.path().join("points.csv"),
        "plate_volts, grid_volts, plate_milliamps\n12, 0, 1.1\n24, zero, 2\n",
    )
    .unwrap();
    let fit = run(folder.path(), &["fit", "points.csv"]);
    assert_eq!(fit.code, 2);
    assert!(fit.talk.contains("points.csv:3: "), "{}", fit.talk);
    fs::write(folder.path().join("empty.csv"), "").unwrap();
    let fit = run(folder.path(), &["fit", "empty.csv"]);
    assert_eq!(fit.code, 2);
    assert!(fit.talk.contains("empty.csv:1: "), "{}", fit.talk);
}

/// A meter of 20 kΩ drags a node of some tens of kilohms down further than one of 10 MΩ: the up level of a plate behind
/// 82 kΩ falls to a fifth of it, 20k / (20k + 82k) by Ohm's law.
#[test]
fn readings_know_the_meter() {
    let folder = with_demo();
    let reads = |meter: &str| -> Vec<f64> {
        let answer = run(
            folder.path(),
            &[
                "readings",
                "V3",
                "--in",
                "tidewatch",
                "--meter",
                meter,
                "--json",
            ],
        );
        let record: Value = serde_json::from_str(&answer.out).unwrap();
        let plate = record["pins"]
            .as_array()
            .unwrap()
            .iter()
            .find(|pin| pin["pin"] == 1)
            .unwrap()
            .clone();
        let row = plate["on"]["rows"][0].clone();
        ["volts", "meter_volts"]
            .iter()
            .map(|name| row[*name].as_f64().unwrap())
            .collect()
    };
    let (good, poor) = (reads("10M"), reads("20k"));
    assert!(
        (good[0] - poor[0]).abs() < 1e-6,
        "without a meter there is no meter"
    );
    assert!((good[1] / good[0] - 1.0).abs() < 0.01, "{good:?}");
    let divided = 36.0 * 20.0 / (20.0 + 82.0);
    assert!(
        (poor[1] / divided - 1.0).abs() < 0.05,
        "{poor:?} against {divided}"
    );
}

#[test]
fn wording_is_the_readers_and_records_stay() {
    let folder = with_demo();
    let ours = run(folder.path(), &["levels", "inverter", "--in", "tidewatch"]).out;
    let theirs = run(
        folder.path(),
        &[
            "levels",
            "inverter",
            "--in",
            "tidewatch",
            "--valve",
            "--anode",
        ],
    )
    .out;
    assert!(ours.contains("Tube V1") && ours.contains("plate"), "{ours}");
    assert!(
        theirs.contains("Valve V1") && theirs.contains("anode"),
        "{theirs}"
    );
    assert!(
        !theirs.to_lowercase().contains("tube") && !theirs.contains("plate"),
        "{theirs}"
    );
    let record = |words: &[&str]| run(folder.path(), words).out;
    assert_eq!(
        record(&["readings", "V3", "--in", "tidewatch", "--json"]),
        record(&[
            "readings",
            "V3",
            "--in",
            "tidewatch",
            "--json",
            "--valve",
            "--anode"
        ])
    );
}

/// Running text keeps to the columns asked for, down to 40.
#[test]
fn a_verdict_keeps_to_its_columns() {
    let folder = with_demo();
    for width in ["0", "40", "60", "200"] {
        let check = run(folder.path(), &["check", "tidewatch", "--width", width]);
        let columns = width.parse::<usize>().unwrap().max(40);
        for line in check.out.lines() {
            assert!(line.chars().count() <= columns, "{width}: {line}");
        }
    }
}

#[test]
fn a_wrong_name_gets_the_nearest_one() {
    let folder = with_demo();
    for (command, said) in [
        ("levels nor4 --in tidewatch", "did you mean nor2?"),
        ("levels n1 --in tidewatch", "did you mean minus.N1?"),
        (
            "drives nor2 --in tidewatch",
            "nor2 is a circuit; name a unit, such as minus.N1",
        ),
        ("wiring foo --in tidewatch", "there is only subtractor"),
        ("readings V99 --in tidewatch", "did you mean V9?"),
        (
            "readings V1 --meter -5 --in tidewatch",
            "type it like 10M or 20k",
        ),
        ("tube 6929", "did you mean 6922?"),
        ("tube 1N4148", "1N4148 is no tube"),
        ("check nowhere", "there is no file or folder nowhere"),
        ("check .", "holds no machine.valve"),
        ("margins tidewatch", "for a design write `--in tidewatch`"),
        ("yield tidewatch", "for a design write `--in tidewatch`"),
        ("report tidewatch --to tidewatch", "it is a folder"),
        ("format nowhere", "nowhere: no such file"),
    ] {
        let words: Vec<&str> = command.split(' ').collect();
        let answer = run(folder.path(), &words);
        assert_eq!(answer.code, 2, "{command}");
        assert!(answer.talk.contains(said), "{command}: {}", answer.talk);
        assert!(answer.out.is_empty(), "{command}: {}", answer.out);
    }
}

/// Waits for a line that contains the words, for as long as a slow machine may need.
fn heard(lines: &std::sync::mpsc::Receiver<String>, words: &str) -> String {
    loop {
        let line = lines
            .recv_timeout(std::time::Duration::from_secs(20))
            .unwrap_or_else(|_| panic!("never says {words}"));
        if line.contains(words) {
            return line;
        }
    }
}

/// Saved while it is watched, a design is judged again; also when the file is gone for a moment, as editors do it.
#[test]
fn a_saved_design_is_judged_again() {
    use std::io::BufRead as _;
    let folder = with_demo();
    let file = folder.path().join("tidewatch/machine.valve");
    let mut child = std::process::Command::new(env!("CARGO_BIN_EXE_valvewright"))
        .args(["check", "tidewatch", "--on-save"])
        .current_dir(folder.path())
        .stdout(std::process::Stdio::piped())
        .stderr(std::process::Stdio::null())
        .spawn()
        .unwrap();
    let out = std::io::BufReader::new(child.stdout.take().unwrap());
    let (said, lines) = std::sync::mpsc::channel();
    std::thread::spawn(move || {
        out.lines()
            .map_while(Result::ok)
            .try_for_each(|line| said.send(line))
    });
    heard(&lines, "Tidewatch. Levels pass");
    heard(&lines, "Levels pass");
    let text = fs::read_to_string(&file).unwrap();
    fs::write(&file, text.replace("machine Tidewatch", "machine Ebbwatch")).unwrap();
    heard(&lines, "Ebbwatch. Levels pass");
    fs::remove_file(&file).unwrap();
    std::thread::sleep(std::time::Duration::from_millis(700));
    fs::write(
        &file,
        text.replace("machine Tidewatch", "machine Floodwatch"),
    )
    .unwrap();
    heard(&lines, "Floodwatch. Levels pass");
    child.kill().unwrap();
    child.wait().unwrap();
}

/// A protected file is not replaced, although its folder would allow it.
#[test]
fn a_protected_file_stays() {
    let folder = with_demo();
    let file = folder.path().join("tidewatch/machine.valve");
    let mut permissions = fs::metadata(&file).unwrap().permissions();
    permissions.set_readonly(true);
    fs::set_permissions(&file, permissions).unwrap();
    let before = contents(folder.path());
    let set = run(folder.path(), &["set", "upper", "30V", "--in", "tidewatch"]);
    assert_eq!(set.code, 2);
    assert!(
        set.talk
            .contains("machine.valve cannot be written: it is protected"),
        "{}",
        set.talk
    );
    assert_eq!(contents(folder.path()), before);
}
