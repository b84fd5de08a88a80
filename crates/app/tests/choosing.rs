//! Values that spare the most and types that serve, as their user asks for them, and everything that can be wrong with the
//! question.

use crate::marginal::{record, saved};
use crate::program::run;
use serde_json::Value;
use std::fs;
use std::path::Path;

/// Every value of the range is tried, and the commands proposed make the best values those of the text: asked again, there is
/// nothing left to change.
#[test]
fn the_best_values_are_as_good_as_can_be_once_they_are_typed() {
    let folder = saved();
    let ask = [
        "choose", "inverter", "R2", "--series", "E6", "--from", "470k", "--up-to", "4M7",
        "--loads", "1",
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
    // Of this gate even the best falls short, so nothing to change is not nothing to do.
    assert!(
        text.contains("spares more than what is typed now"),
        "{text}"
    );
    assert!(!text.contains("nothing to change"), "{text}");
}

/// A limit that nothing keeps leaves no values, and says so.
#[test]
fn limits_are_kept_or_said_to_be_out_of_reach() {
    let folder = saved();
    let ask = [
        "choose", "inverter", "R3", "--series", "E6", "--from", "47k", "--up-to", "150k",
        "--loads", "1",
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
        "--up-to",
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
        "--from is above --up-to",
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
                "choose", "inverter", "R1", "--series", "E6", "--from", "48k", "--up-to", "49k",
            ],
            "no value of E6 for R1 lies between",
        ),
        (
            vec!["choose", "inverter", "R1", "--most", "upper"],
            "--most upper --in: a rail and its amperes belong here",
        ),
        (
            vec!["choose", "inverter", "R1=330k"],
            "R1=330k names no ends: type it like R1=330k..1M",
        ),
        (
            vec!["choose", "inverter", "R1=1M..330k"],
            "the first end is above the second",
        ),
        (
            vec!["choose", "inverter", "R1", "--to", "1M"],
            "for the largest value type --up-to 1M",
        ),
        (
            vec!["choose", "inverter", "R1", "--to", "nowhere/a.svg"],
            "there is no folder nowhere",
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

/// The demo, in which several types have no threshold in the worst case.
fn demo() -> String {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo/tidewatch");
    folder.display().to_string()
}

fn asked_of_demo(words: &[&str]) -> Value {
    let demo = demo();
    let words = [words, &["--json", "--in", &demo]].concat();
    let folder = tempfile::tempdir().unwrap();
    let answer = run(folder.path(), &words);
    serde_json::from_str(&answer.out).unwrap_or_else(|error| panic!("{error}: {}", answer.talk))
}

/// The values typed are compared with what was tried also where they lie outside of it: with a hundred-thousandth of the resistor
/// to the grid nothing is better, and nothing is to be changed.
#[test]
fn the_values_typed_are_among_those_compared() {
    let folder = saved();
    let ask = [
        "choose",
        "inverter",
        "R1=5..6",
        "R2=1M5..2M2",
        "--loads",
        "1",
        "--tubes",
        "6922, 12AT7",
    ];
    let record = record(&folder, &ask);
    assert_eq!(record["found"], true);
    assert_eq!(record["now_is_as_good"], true, "{record}");
    assert_eq!(record["to_type"].as_array().unwrap().len(), 0);
    for one in record["tubes"].as_array().unwrap() {
        assert_eq!(one["best_spare_volts"], one["now_spare_volts"]);
    }
    assert_eq!(record["best_takes"], record["now_takes"]);
    let text = run(folder.path(), &[&ask[..], &["--in", "rig.valve"]].concat()).out;
    assert!(!text.contains("change\n"), "{text}");
    assert!(text.contains("within 2 % of the best"), "{text}");
}

/// Where nothing has a margin, nothing is best and nothing as good as it: a circuit without an output, and one with a tube that has
/// no threshold in the worst case, each told by what it is.
#[test]
fn nothing_that_is_judged_is_said_to_be_nothing() {
    let ask = ["choose", "nor3", "R3=75k..82k", "--tubes", "6922,12AU7"];
    let record = asked_of_demo(&ask);
    assert_eq!(record["found"], false, "{record}");
    assert_eq!(record["now_is_as_good"], false);
    assert!(record["values"][0]["best_ohms"].is_null());
    assert!(record["best_takes"].is_null());
    let first = record["said"][0].as_str().unwrap();
    assert!(first.contains("Nothing can be compared"), "{record}");
    assert!(first.contains("fewer loads (`--loads`)"), "{record}");
    let folder = tempfile::tempdir().unwrap();
    for words in [vec!["choose", "lamp", "R3"], vec!["serves", "lamp"]] {
        let answer = run(folder.path(), &[&words[..], &["--in", &demo()]].concat());
        assert_eq!(answer.code, 2, "{words:?}: {}", answer.out);
        assert!(answer.out.is_empty(), "{}", answer.out);
        assert!(
            answer.talk.contains("lamp has no output"),
            "{}",
            answer.talk
        );
    }
}

/// A follower between inverters of 36 V, which spares little in the worst case.
const CHAIN: &str = "\
valvewright format 1
machine Chain
rail upper 36V 5%
rail lower -24V 5%
circuit inverter
    inputs a, output y
    y = not a
    resistors 5%: R1 680k a to g1, R2 1M2 g1 to lower, R3 82k upper to y
    tube V1 half 6922: plate y, grid g1, cathode ground
circuit follower
    inputs a, output y
    y = a
    tube V1 half 6922: plate upper, grid a, cathode y
    resistors 5%: R1 150k y to ground
jig follower
    drivers: a inverter
    loads: y inverter
unit I1 inverter in V1A: a inp, y n1
unit I2 inverter in V1B: a n1, y n2
unit F1 follower in V2A: a n2, y out
unit I3 inverter in V2B: a out, y last
bench
    switches: inp upper or ground through 10k
    loads: last 1M to ground
";

/// What is thin in `margins` is thin here, a best value at the end of its list is said to be there, and a type named twice is one.
#[test]
fn words_are_those_of_the_margins() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("chain.valve"), CHAIN).unwrap();
    let ask = [
        "choose",
        "follower",
        "R1=15k..330k",
        "--series",
        "E6",
        "--loads",
        "1",
        "--in",
        "chain.valve",
    ];
    let text = run(folder.path(), &ask).out;
    let margins = run(
        folder.path(),
        &["margins", "follower", "--in", "chain.valve"],
    )
    .out;
    assert!(
        margins.contains("! thin") && text.contains("! thin"),
        "{margins}{text}"
    );
    assert!(
        text.contains("is the smallest value allowed for R1"),
        "{text}"
    );
    let twice = [&ask[..], &["--tubes", "6922,6922"]].concat();
    let text = run(folder.path(), &twice).out;
    assert_eq!(text.matches("\n6922 ").count(), 1, "{text}");
    let beyond = [&ask[..], &["--most", "upper", "1uA"]].concat();
    let text = run(folder.path(), &beyond).out;
    assert!(text.contains("beyond the limits"), "{text}");
    assert!(
        !text.contains("passes") && !text.contains("with the best"),
        "{text}"
    );
}

/// A type that spares less than 5 % of its swing (docs/method.md, Which type serves) is marked as thin, one that spares more passes;
/// here 6J6 and 6922.
#[test]
fn a_type_that_is_thin_is_said_to_be() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("chain.valve"), CHAIN).unwrap();
    let ask = ["serves", "inverter", "--loads", "1", "--in", "chain.valve"];
    let text = run(folder.path(), &ask).out;
    let record = run(folder.path(), &[&ask[..], &["--json"]].concat()).out;
    let record: Value = serde_json::from_str(&record).unwrap();
    for (name, verdict) in [("6J6", "! thin"), ("6922", "✓ passes")] {
        let mut lines = text.lines();
        let line = lines.find(|line| line.split(' ').next() == Some(name));
        assert!(line.unwrap().ends_with(verdict), "{text}");
        let mut types = record["types"].as_array().unwrap().iter();
        let one = types.find(|one| one["type"] == name).unwrap();
        let volts = |field: &str| one[field].as_f64().unwrap();
        let thin_below = volts("thin_below_volts");
        let swing = volts("up_volts") - volts("down_volts");
        assert!((thin_below - 0.05 * swing).abs() < 0.01, "{one}");
        let is_thin = volts("spare_volts") < thin_below;
        assert_eq!(is_thin, verdict == "! thin", "{one}");
        assert!(one["short"].is_null(), "{one}");
    }
}

/// A NOR of 12AU7 that gives itself 37.8 V for down (as in the worst case of the circuit alone): no number says by how much it is
/// short, and it stands behind those that have one.
#[test]
fn a_type_that_is_short_by_more_than_is_known_has_no_number() {
    let folder = tempfile::tempdir().unwrap();
    let text = "valvewright format 1
rail upper 36V 5%
rail lower -20V 5%
circuit nor2
    inputs a b, output y
    y = not (a or b)
    resistors 5%: R1 680k a to g1, R4 680k b to g1, R2 680k g1 to lower, R3 82k upper to y
    tube V1 half 12AU7: plate y, grid g1, cathode ground
";
    fs::write(folder.path().join("nor.valve"), text).unwrap();
    let ask = [
        "serves",
        "nor2",
        "--loads",
        "1",
        "--in",
        "nor.valve",
        "--json",
    ];
    let record: Value = serde_json::from_str(&run(folder.path(), &ask).out).unwrap();
    let types = record["types"].as_array().unwrap();
    let known = |one: &Value| !one["spare_volts"].is_null();
    let place = |name: &str| types.iter().position(|one| one["type"] == name).unwrap();
    let one = &types[place("12AU7")];
    assert_eq!(one["short"], "down too high by more than is known");
    assert!(!known(one) && one["when"].is_null() && one["most_loads"].is_null());
    let last_known = types.iter().rposition(known);
    assert!(
        last_known.is_none_or(|last| last < place("12AU7")),
        "{record}"
    );
    let margins = run(folder.path(), &["margins", "--in", "nor.valve"]).out;
    let mut rows = margins.lines().filter(|line| line.starts_with("nor2  "));
    let row = rows.next().unwrap();
    assert!(
        row.ends_with("✗ short") && row.contains("37.80"),
        "{margins}"
    );
}

/// A type with a swing of 28 V at book values amplifies, and is told to have no threshold in the worst case; one with none does not.
#[test]
fn a_type_without_a_threshold_in_the_worst_case_still_amplifies() {
    let serves = asked_of_demo(&["serves", "nor3"]);
    let mut seen = [0, 0];
    for one in serves["types"].as_array().unwrap() {
        if !one["spare_volts"].is_null() {
            assert_eq!(one["amplifies_by_the_book"], true);
            continue;
        }
        let swing = one["up_volts"].as_f64().unwrap() - one["down_volts"].as_f64().unwrap();
        let amplifies = one["amplifies_by_the_book"] == true;
        let short = one["short"].as_str().unwrap();
        let expected = if amplifies {
            "no threshold in the worst case"
        } else {
            "does not amplify"
        };
        assert_eq!(short, expected);
        assert!(amplifies == (10.0 < swing), "{one}");
        seen[usize::from(amplifies)] += 1;
    }
    assert!(seen.iter().all(|seen| 0 < *seen), "{serves}");
}

/// Before and after are drawn, with the values in words; each resistor has ends of its own.
#[test]
fn before_and_after_are_drawn() {
    let folder = saved();
    let ask = [
        "choose",
        "inverter",
        "R3=68k..100k",
        "--series",
        "E6",
        "--loads",
        "1",
        "--to",
        "rig.svg",
        "--in",
        "rig.valve",
    ];
    let answer = run(folder.path(), &ask);
    assert!(
        answer
            .talk
            .contains("Drawn into rig.svg: Values of inverter, before and after."),
        "{}",
        answer.talk
    );
    assert!(
        answer.out.contains("Every one of 2 combinations"),
        "{}",
        answer.out
    );
    assert!(
        answer.out.contains("Worst case of the best values, ") && answer.out.contains("; upper "),
        "{}",
        answer.out
    );
    assert!(
        answer.out.contains("in its warmest resistor"),
        "{}",
        answer.out
    );
    let drawn = fs::read_to_string(folder.path().join("rig.svg")).unwrap();
    for said in [
        "R3 47k to",
        "to spare in the worst case",
        "from upper",
        "(now)",
        "Worst case of the best",
    ] {
        assert!(drawn.contains(said), "{said}: {drawn}");
    }
}
