//! Values that spare the most and types that serve, as their user asks for them, and everything that can be wrong with the
//! question.

use crate::marginal::{record, saved};
use crate::program::run;
use serde_json::Value;

/// Every value of the range is tried, and the commands proposed make the best values those of the text: asked again, there is
/// nothing left to change.
#[test]
fn the_best_values_are_as_good_as_can_be_once_they_are_typed() {
    let folder = saved();
    let ask = [
        "choose", "inverter", "R2", "--series", "E6", "--from", "470k", "--to", "4M7", "--loads",
        "1",
    ];
    let before = record(&folder, &ask);
    assert_eq!(before["tried"], 7);
    assert_eq!(before["every_combination"], true);
    let tube = &before["tubes"][0];
    assert!(
        tube["now_spare_volts"].as_f64() <= tube["best_spare_volts"].as_f64(),
        "{before}"
    );
    for line in before["to_type"].as_array().unwrap() {
        let words: Vec<&str> = line.as_str().unwrap().split(' ').skip(1).collect();
        assert_eq!(run(folder.path(), &words).code, 0, "{line}");
    }
    let after = record(&folder, &ask);
    assert_eq!(after["now_is_as_good"], true);
    assert_eq!(after["to_type"].as_array().unwrap().len(), 0);
    let text = run(folder.path(), &[&ask[..], &["--in", "rig.valve"]].concat()).out;
    assert!(text.contains("within 2 % of the best"), "{text}");
}

/// A limit that nothing keeps leaves no values, and says so.
#[test]
fn limits_are_kept_or_said_to_be_out_of_reach() {
    let folder = saved();
    let ask = [
        "choose", "inverter", "R3", "--series", "E6", "--from", "47k", "--to", "150k", "--loads",
        "1",
    ];
    let kept = record(&folder, &[&ask[..], &["--most", "upper", "300uA"]].concat());
    // 24 V through 68k are 353 uA, through 100k 240 uA: 100k and 150k are left.
    assert_eq!(kept["now_within_limits"], false);
    assert!(
        100e3 <= kept["values"][0]["best_ohms"].as_f64().unwrap(),
        "{kept}"
    );
    let none = [&ask[..], &["--most", "upper", "1uA", "--in", "rig.valve"]].concat();
    let answer = run(folder.path(), &none);
    assert_eq!(answer.code, 1);
    assert!(
        answer.out.contains("keeps the limits (upper 1 µA)"),
        "{}",
        answer.out
    );
}

#[test]
fn everything_wrong_with_the_question_is_said_at_once() {
    let folder = saved();
    let words = [
        "choose",
        "inverter",
        "R9",
        "V1",
        "R1",
        "R1",
        "--series",
        "E7",
        "--from",
        "1M",
        "--to",
        "10k",
        "--loads",
        "0",
        "--tubes",
        "6AK5,6999",
        "--most",
        "uper",
        "-2mA",
        "--watts",
        "-1",
        "--delay",
        "10V",
        "--in",
        "rig.valve",
    ];
    let answer = run(folder.path(), &words);
    assert_eq!(answer.code, 2);
    for said in [
        "R9",
        "V1 is no resistor",
        "R1 is named twice",
        "E7 is no series",
        "--from is above --to",
        "0 loads are not tried",
        "6AK5 has no place in inverter",
        "6999",
        "there is no rail uper; did you mean upper?",
        "-2mA is nothing for --most",
        "-1 is nothing for --watts",
        "10V is nothing for --delay",
    ] {
        assert!(answer.talk.contains(said), "{said}: {}", answer.talk);
    }
    for (words, said) in [
        (
            vec![
                "choose", "inverter", "R1", "--series", "E6", "--from", "48k", "--to", "49k",
            ],
            "no value of E6 for R1 lies between",
        ),
        (vec!["choose", "invertor", "R1"], "did you mean inverter?"),
        (
            vec!["serves", "invertor", "--loads", "0"],
            "0 loads are not tried",
        ),
        (vec!["serves", "divider"], "divider has no tube"),
    ] {
        let answer = run(
            folder.path(),
            &[&words[..], &["--in", "rig.valve"]].concat(),
        );
        assert_eq!(answer.code, 2, "{words:?}: {}", answer.out);
        assert!(answer.talk.contains(said), "{said}: {}", answer.talk);
    }
}

/// Those that serve stand before those that do not, each by what it spares; what stands in a socket is in stock, and no
/// pentode or filament is among them.
#[test]
fn types_that_serve_stand_first_and_those_in_sockets_are_in_stock() {
    let folder = saved();
    let record = record(&folder, &["serves", "inverter", "--loads", "1"]);
    let types = record["types"].as_array().unwrap();
    assert!(5 < types.len());
    let margin = |one: &Value| one["spare_volts"].as_f64().unwrap_or(f64::NEG_INFINITY);
    assert!(types.is_sorted_by(|left, right| margin(right) <= margin(left)));
    for one in types {
        assert_eq!(
            one["in_stock"],
            one["type"] == "6922" || one["type"] == "12AU7",
            "{one}"
        );
        assert_eq!(one["short"].is_null(), 0.0 <= margin(one), "{one}");
        assert!(one["type"] != "6AK5" && one["type"] != "DM160");
    }
    let text = run(
        folder.path(),
        &["serves", "inverter", "--loads", "1", "--in", "rig.valve"],
    );
    assert!(text.out.contains("in stock"), "{}", text.out);
}
