//! The parts list of the demo machine, against its text counted another way.

use crate::program::run;
use serde_json::Value;
use std::collections::BTreeMap;

const GATES: &str = include_str!("../demo/tidewatch/circuits/gates.valve");
const BLOCKS: &str = include_str!("../demo/tidewatch/circuits/blocks.valve");
const MACHINE: &str = include_str!("../demo/tidewatch/machine.valve");

/// The text without its notes, line by line.
fn lines(text: &str) -> impl Iterator<Item = &str> {
    text.lines()
        .map(|line| line.split('#').next().unwrap().trim())
}

/// How often a mark such as R1 or CR2 begins a part of a circuit, by circuit.
fn marks(letters: &str) -> BTreeMap<String, usize> {
    let mut counts = BTreeMap::new();
    let mut circuit = String::new();
    for line in lines(GATES) {
        if let Some(name) = line.strip_prefix("circuit ") {
            circuit = name.to_owned();
        }
        let list = ["diodes", "resistors"]
            .iter()
            .any(|list| line.starts_with(list));
        if list || line.starts_with("tube") {
            let words = line.split([' ', ':', ',']);
            let is_mark = |word: &&str| {
                let digits = word.strip_prefix(letters);
                digits.is_some_and(|rest| {
                    !rest.is_empty() && rest.chars().all(|one| one.is_ascii_digit())
                })
            };
            *counts.entry(circuit.clone()).or_insert(0) += words.filter(is_mark).count();
        }
    }
    counts
}

/// How many units of a circuit stand in the machine: those of every block, each placed once, and those outside.
fn units(circuit: &str) -> usize {
    let all = lines(BLOCKS).chain(lines(MACHINE));
    all.filter(|line| line.starts_with("unit ") && line.split(' ').nth(2) == Some(circuit))
        .count()
}

fn in_machine(letters: &str) -> usize {
    let marks = marks(letters);
    marks
        .iter()
        .map(|(circuit, count)| count * units(circuit))
        .sum()
}

fn list() -> (Value, tempfile::TempDir) {
    let folder = tempfile::tempdir().unwrap();
    run(folder.path(), &["demo"]);
    let json = run(folder.path(), &["parts", "--in", "tidewatch", "--json"]);
    assert_eq!(json.code, 0, "{}", json.talk);
    (serde_json::from_str(&json.out).unwrap(), folder)
}

fn sum(list: &Value, kind: &str, field: &str) -> usize {
    let lines = list["parts"].as_array().unwrap().iter();
    let of_kind = lines.filter(|line| line["kind"] == kind);
    of_kind
        .map(|line| line[field].as_u64().unwrap() as usize)
        .sum()
}

#[test]
fn the_demo_has_as_many_parts_as_its_text() {
    let (list, folder) = list();
    // Outside the circuits stand R90 and R91 of the strings, three bleeders, four capacitors of rails, two connectors.
    let bleeders = MACHINE.matches("bleeder ").count();
    let capacitors = MACHINE.matches("capacitor ").count();
    assert_eq!((bleeders, capacitors), (3, 4));
    assert_eq!(
        sum(&list, "resistor", "needed"),
        in_machine("R") + 2 + bleeders
    );
    assert_eq!(sum(&list, "diode", "needed"), in_machine("CR"));
    assert_eq!(sum(&list, "capacitor", "needed"), capacitors);
    assert_eq!(sum(&list, "connector", "needed"), 2);
    // Two gates to a bottle, and the indicator tube.
    let halves: usize = ["inverter", "nor2", "nor3", "follower"]
        .map(units)
        .iter()
        .sum();
    assert_eq!(
        sum(&list, "tube", "needed"),
        halves.div_ceil(2) + units("lamp")
    );
    // A tenth more of ten, and of one, is less than two: two spares of each type of tube.
    assert_eq!(sum(&list, "tube", "spares"), 4);
    assert_eq!(
        sum(&list, "resistor", "order"),
        sum(&list, "resistor", "needed") + sum(&list, "resistor", "spares")
    );

    let csv = run(
        folder.path(),
        &["parts", "--in", "tidewatch", "--to", "parts.csv"],
    );
    assert_eq!(csv.code, 0, "{}", csv.talk);
    let csv = std::fs::read_to_string(folder.path().join("parts.csv")).unwrap();
    let records: Vec<&str> = csv
        .split("\r\n")
        .filter(|record| !record.is_empty())
        .collect();
    assert_eq!(records.len(), 1 + list["parts"].as_array().unwrap().len());
}

/// R90 takes what two heaters of 12.6 V leave of 25.2 V, 3.8 W as the text says, in a resistor of 10 W; the bleeder of the upper
/// rail stands at 37.8 V.
#[test]
fn headroom_is_the_rating_over_the_worst() {
    let (list, _folder) = list();
    let lines = list["parts"].as_array().unwrap();
    let at = |place: &str, kind: &str| {
        let here = |line: &&Value| {
            let places = line["places"].as_array().unwrap();
            line["kind"] == kind && places.iter().any(|one| one["place"] == place)
        };
        lines.iter().find(here).unwrap().clone()
    };
    let near = |value: &Value, expected: f64| {
        let value = value.as_f64().unwrap();
        assert!(
            (value / expected - 1.0).abs() < 0.02,
            "{value}, not {expected}"
        );
    };
    let dropper = at("R90 of string H3", "resistor");
    near(&dropper["worst_watts"], 3.8);
    near(&dropper["headroom"], 10.0 / 3.8);
    assert_eq!(dropper["stated"], true);
    let bleeder = at("rail upper", "resistor");
    near(&bleeder["worst_watts"], 37.8 * 37.8 / 22e3);
    // Twice 65 mW is just above an eighth of a watt.
    assert_eq!(bleeder["rated_watts"], 0.25);
    assert_eq!(bleeder["stated"], false);
    let capacitor = at("rail upper", "capacitor");
    // 1.25 times 37.8 V is 47 V.
    assert_eq!(capacitor["rated_volts"], 50.0);
}

/// A dropper of 1 W that takes more (what two heaters of 6.3 V leave of 25.2 V at 0.3 A, 3.8 W) is too small, and the next usual
/// size of twice that is to buy; thermistor and ballast tube say what they are chosen by, and large capacitors their microfarads.
#[test]
fn a_stated_rating_below_the_worst_is_not_what_to_buy() {
    let folder = tempfile::tempdir().unwrap();
    run(folder.path(), &["demo"]);
    let file = folder.path().join("tidewatch/machine.valve");
    let text = MACHINE
        .replace("R90 43 5% 10W", "R90 43 5% 1W")
        .replace(
            "H1: from heat, V1 to V4",
            "H1: from heat, RT1 thermistor 220 to 1 at 300mA 20%, V1 to V4",
        )
        .replace(
            "H2: from heat, V5 to V8",
            "H2: from heat, RT2 ballast 300mA from 5V to 15V 4%, V5 to V8",
        );
    std::fs::write(file, text).unwrap();
    let json = run(folder.path(), &["parts", "--in", "tidewatch", "--json"]);
    let list: Value = serde_json::from_str(&json.out).unwrap();
    let all = list["parts"].as_array().unwrap();
    let line = |test: &dyn Fn(&Value) -> bool| all.iter().find(|line| test(line)).unwrap();
    let dropper = line(&|line| line["too_small"] == 1.0);
    assert_eq!(
        (&dropper["rated_watts"], &dropper["stated"]),
        (&10.0.into(), &false.into())
    );
    let thermistor = line(&|line| line["kind"] == "thermistor");
    assert_eq!(
        (&thermistor["hot_ohms"], &thermistor["hot_amps"]),
        (&1.0.into(), &0.3.into())
    );
    let ballast = line(&|line| line["kind"] == "ballast tube");
    assert_eq!(
        (&ballast["from_volts"], &ballast["to_volts"]),
        (&5.0.into(), &15.0.into())
    );
    let words = run(
        folder.path(),
        &["parts", "--in", "tidewatch", "--width", "200"],
    );
    for said in ["1 W too small", "1 Ω at 300 mA", "5 V to 15 V", "4700 µF"] {
        assert!(words.out.contains(said), "{said}: {}", words.out);
    }
}
