//! The marginal check as its user asks for it, and everything that can be wrong with the question.

use crate::program::run;
use serde_json::Value;
use std::fs;
use tempfile::TempDir;

/// Three gates in a row and what a question may clash with: a rail that feeds no circuit, a circuit without a tube, and a lot
/// of a type that stands nowhere.
const RIG: &str = "\
valvewright format 1
rail upper 24V 5%
rail lower -24V 5%
rail heat 25.2V 2%
lot 6922: current 90% to 110%
circuit inverter
    inputs a, output y
    y = not a
    resistors 5%: R1 1M a to g1, R2 1M8 g1 to lower, R3 47k upper to y
    tube V1 half 12AU7: plate y, grid g1, cathode ground
circuit divider
    inputs a, output y
    resistors 5%: R1 10k a to y, R2 1M y to ground
unit G1 inverter in V1A: a n0, y n1
unit G2 inverter in V1B: a n1, y n2
unit G3 inverter in V2A: a n2, y n3
bench
    switches: n0 upper or ground through 10k
    loads: n3 1M5 to ground
";

/// The rig in a folder of its own.
pub fn saved() -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("rig.valve"), RIG).unwrap();
    folder
}

/// What the program answers about the rig.
pub fn record(folder: &TempDir, words: &[&str]) -> Value {
    let words = [words, &["--json", "--in", "rig.valve"]].concat();
    let answer = run(folder.path(), &words);
    serde_json::from_str(&answer.out).unwrap_or_else(|error| panic!("{error}: {}", answer.talk))
}

#[test]
fn every_rail_is_moved_both_ways_with_a_sheet_and_its_cautions() {
    let folder = saved();
    let answer = run(folder.path(), &["marginal", "--in", "rig.valve"]);
    assert_eq!(answer.code, 0, "{}", answer.talk);
    for said in [
        "How far each rail can be moved alone",
        "Sheet for the bench",
        "One hand",
        "licensed practice",
        "bleeders",
        "emission that runs out is not computed",
    ] {
        let flowing: Vec<&str> = answer.out.split_whitespace().collect();
        assert!(flowing.join(" ").contains(said), "{said}: {}", answer.out);
    }
    let record = record(&folder, &["marginal"]);
    let steps = record["steps"].as_array().unwrap();
    // Two rails feed circuits; the one for heaters does not.
    assert_eq!(steps.len(), 4);
    for step in steps {
        let [typed, stands] =
            ["typed_volts", "stands_to_volts"].map(|name| step[name].as_f64().unwrap());
        let larger = step["away_from_ground"].as_bool().unwrap();
        assert_eq!(typed.abs() < stands.abs(), larger, "{step}");
        for net in step["read"].as_array().unwrap() {
            assert!(0.0 <= net["spare_volts"].as_f64().unwrap(), "{step}");
        }
    }
}

/// The meter goes to pins of sockets, and a chain of inverters is brought to its state by its switch.
#[test]
fn the_sheet_names_pins_and_switches() {
    let folder = saved();
    let answer = run(folder.path(), &["marginal", "--in", "rig.valve"]);
    let flowing: Vec<&str> = answer.out.split_whitespace().collect();
    let flowing = flowing.join(" ");
    for said in ["V1 pin", "set the switches n0", "nothing: a good machine"] {
        assert!(flowing.contains(said), "{said}: {}", answer.out);
    }
    let record = record(&folder, &["marginal"]);
    let step = &record["steps"][0];
    assert!(step["fails_first"]["tube"]["tube"].is_string(), "{step}");
    let apart = &step["told_apart"];
    let places = apart["places"].as_array().unwrap();
    assert!(!places.is_empty() && places.len() <= 4, "{apart}");
    for row in apart["rows"].as_array().unwrap() {
        assert_eq!(row["volts"].as_array().unwrap().len(), places.len());
    }
}

/// A machine that fails as typed has no sheet, says what fails, and ends with a fault.
#[test]
fn what_fails_as_typed_has_no_sheet() {
    let folder = saved();
    let path = folder.path().join("rig.valve");
    let text = fs::read_to_string(&path).unwrap();
    fs::write(&path, text.replace("rail lower -24V", "rail lower -3V")).unwrap();
    let answer = run(folder.path(), &["marginal", "--in", "rig.valve"]);
    assert_eq!(answer.code, 1, "{}", answer.out);
    assert!(
        !answer.out.contains("Sheet for the bench"),
        "{}",
        answer.out
    );
    assert!(answer.out.contains("fails with its rails as typed"));
    let record = record(&folder, &["marginal"]);
    assert_eq!(record["stands_as_typed"], false);
    assert_eq!(record["steps"].as_array().unwrap().len(), 0);
    assert!(
        !record["faults_as_typed"].as_array().unwrap().is_empty(),
        "{record}"
    );
}

/// The sheet alone is written as a page, with its cautions, and nothing else is.
#[test]
fn the_sheet_is_written_as_a_page() {
    let folder = saved();
    let words = ["marginal", "--in", "rig.valve", "--to", "sheet.html"];
    assert_eq!(run(folder.path(), &words).code, 0);
    let page = fs::read_to_string(folder.path().join("sheet.html")).unwrap();
    assert!(page.contains("One hand") && page.contains("nothing: a good machine"));
    let words = ["marginal", "--in", "rig.valve", "--to", "sheet.csv"];
    let answer = run(folder.path(), &words);
    assert_eq!(answer.code, 2);
    assert!(answer.talk.contains(".html"), "{}", answer.talk);
}

/// The volts of the first step less a third of the way name suspects; volts beyond it are refused with how far it stands.
#[test]
fn volts_of_a_failure_name_suspects_or_are_refused() {
    let folder = saved();
    let marginal = record(&folder, &["marginal"]);
    let step = &marginal["steps"][0];
    let rail = step["rail"].as_str().unwrap();
    let [typed, stands] =
        ["typed_volts", "stands_to_volts"].map(|name| step[name].as_f64().unwrap());
    let between = format!("{:.2}V", stands + (typed - stands) / 3.0);
    let ask = ["marginal", "--rail", rail, "--fails-at", &between];
    let found = record(&folder, &ask);
    let all = found["suspects"].as_array().unwrap();
    assert!(!all.is_empty(), "{found}");
    for suspect in all {
        if suspect["quantity"] == "resistance" {
            let share = suspect["stands"]["share"].as_f64().unwrap();
            assert!((0.5..2.0).contains(&share), "{suspect}");
            assert_eq!(suspect["tube"], Value::Null);
        } else {
            assert_eq!(suspect["type"], "12AU7");
            assert!(suspect["tube"].as_str().unwrap().starts_with('V'));
        }
    }
    let beyond = format!("{:.2}V", stands - (typed - stands) / 3.0);
    let answer = run(
        folder.path(),
        &[
            "marginal",
            "--rail",
            rail,
            "--fails-at",
            &beyond,
            "--in",
            "rig.valve",
        ],
    );
    assert_eq!(answer.code, 2, "{}", answer.out);
    assert!(
        answer
            .talk
            .contains("parts by the book fail as well (they stand to"),
        "{}",
        answer.talk
    );
}

#[test]
fn a_question_that_clashes_is_refused_with_both_facts() {
    let folder = saved();
    for (rail, volts, said) in [
        ("uper", "27V", "there is no rail uper; did you mean upper?"),
        ("uper", "much", "much is not volts of a rail"),
        ("upper", "3 k", "3 k is not volts of a rail"),
        ("upper", "-27V", "upper is 24 V and never −27 V"),
        ("lower", "20V", "lower is −24 V and never 20 V"),
        ("upper", "0V", "upper is 24 V and never 0 V"),
        (
            "upper",
            "10V",
            "more than 50 % off: name volts between 12 V and 36 V",
        ),
        ("heat", "24V", "heat feeds no circuit"),
    ] {
        let words = [
            "marginal",
            "--rail",
            rail,
            "--fails-at",
            volts,
            "--in",
            "rig.valve",
        ];
        let answer = run(folder.path(), &words);
        assert_eq!(answer.code, 2, "{words:?}: {}", answer.out);
        assert!(answer.talk.contains(said), "{said}: {}", answer.talk);
    }
    let both = run(
        folder.path(),
        &[
            "marginal",
            "--rail",
            "uper",
            "--fails-at",
            "much",
            "--in",
            "rig.valve",
        ],
    );
    assert!(both.talk.contains("uper") && both.talk.contains("much"));
    assert_eq!(
        run(
            folder.path(),
            &["marginal", "--rail", "upper", "--in", "rig.valve"]
        )
        .code,
        2
    );
}
