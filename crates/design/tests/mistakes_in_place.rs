//! Mistakes in tubes, units, blocks, strings, boards and on the bench are named where they stand, and nothing else is said.

use crate::machine::check;

#[test]
fn tubes_in_circuits() {
    let tube = |line: &str| {
        check(&format!(
            "circuit c\n    inputs a, output y\n    {line}\n    resistors 5%: R88 1M a to y, R89 1M a to y"
        ))
    };
    for sound in [
        "tube V1 half 6922: plate y, grid a, cathode ground",
        "tube V1 half 6922, plate y, grid a, cathode ground",
        "tube V1 half 6922: anode y, grid a, cathode ground",
        "tube V1 6C4: plate y, grid a, cathode ground",
        "tube V1 6AK5: plate y, grid a, screen y, cathode ground",
        "tube V1 6AS6: plate y, grid a, screen y, suppressor a, cathode ground",
        "tube V1 half 6AL5: plate y, cathode a",
        "tube V1 DM160: plate y, grid a, filament ground",
    ] {
        tube(sound);
    }
    tube("tube V1 half 6923: plate y, grid a, cathode ground  #! unknown-type: 6923");
    tube("tube V1 6922: plate y, grid a, cathode ground  #! whole-of-twin: 6922");
    tube("tube V1 half 6C4: plate y, grid a, cathode ground  #! half-of-single: half 6C4");
    tube("tube V1 half 6922: plate y, grid a  #! electrode-missing: 6922");
    tube(
        "tube V1 half 6922: plate y, grid a, cathode ground, screen y  #! electrode-absent: screen",
    );
    tube("tube V1 half 6922: plate y, grid a, cathode ground, grid y  #! electrode-twice: grid");
    tube("tube V1 half 6922: plte y, grid a, cathode ground  #! unknown-electrode: plte");
    tube("tube V1 half 6922: plate y, grid a, cathode  #! word-missing: cathode");
    tube("tube V1 half 6922: plate y, grid a, cathode ground y  #! words-left-over: y");
    tube("tube V1 half 6922  #! electrode-missing: 6922");
    tube("tube V1 half  #! word-missing: half");
    tube("tube V1 DM160: plate y, grid a, cathode ground  #! electrode-absent: cathode");
    tube(
        "tube V1 6AK5: plate y, grid a, screen y, suppressor y, cathode ground  #! electrode-absent: suppressor",
    );
    tube("tube V1 6AS6: plate y, grid a, screen y, cathode ground  #! electrode-missing: 6AS6");
    tube("tube T1 half 6922: plate y, grid a, cathode ground  #! mark-letter: T1");
    tube("tube V1 half 6922: plate y, grid b, cathode ground  #! loose-end: b");
}

#[test]
fn a_slip_in_a_node_is_a_loose_end_with_the_name_that_was_meant() {
    let text = "circuit c\n    inputs a, output y\n    resistors 5%: R1 1M a to join, R2 1M joim to y, R3 1M join to y  #! loose-end: joim";
    check(text);
    let reading = crate::machine::read_text(text);
    let loose = reading
        .diagnostics
        .iter()
        .find(|problem| problem.name == "loose-end")
        .expect("one is found above");
    assert_eq!(loose.remedies, ["Is `join` meant?"]);
    let reading = crate::machine::read_text(&text.replace("joim", "g1").replace("join", "gl"));
    let loose = reading
        .diagnostics
        .iter()
        .find(|problem| problem.name == "loose-end")
        .expect("the same slip with names that look alike");
    assert_eq!(loose.remedies, ["Is `gl` meant?"]);
}

/// Checks units that are fed from the nets `s` and `t`.
#[track_caller]
fn units(lines: &str) {
    check(&format!(
        "{lines}\nunit S1 nor2: a s, b t, y open\nbench\n    switches: s upper or ground, t upper or ground"
    ));
}

#[test]
fn connections_of_units() {
    units("unit G1 inv: a s, y open");
    units("unit G1 inv: a open, y open");
    units("unit G1 invv: a s, y open  #! unknown-circuit: invv");
    units("unit G1 inv: a s, z open, y open  #! unknown-signal: z");
    units("unit G1 inv: a s, a t, y open  #! signal-twice: a");
    units("unit G1 inv: a s  #! signal-unconnected: G1");
    units("unit G1 inv  #! signal-unconnected: G1");
    units("unit G1 inv: a s, y  #! word-missing: y");
    units("unit G1 inv: a s t, y open  #! words-left-over: t");
    units("unit G1 inv: a grid, y open  #! reserved-word: grid");
    units("unit G1 inv: a s before, y open  #! misplaced-step: a s before");
    units("unit G1 inv: a s, y open\n    b t  #! misplaced-statement: b t");
    units("unit G1 inv: a s, y open\nunit G1 inv: a t, y open  #! name-taken: G1");
    units("unit G1 inv in V1A a s, y open  #! words-left-over: a s, y open");
    units("unit plate inv: a s, y open  #! reserved-word: plate");
    units("unit G.1 inv: a s, y open  #! bad-name: G.1");
    units("unit G1 inv by V1A: a s, y open  #! words-left-over: by V1A");
}

#[test]
fn what_drives_a_net() {
    units("unit G1 inv: a ss, y open  #! input-undriven: ss");
    units(
        "unit G1 inv: a s, y m\nunit G2 inv: a mm, y open  #! input-undriven: mm\nunit G3 inv: a m, y open",
    );
    units("unit G1 inv: a s, y m  #! drives-nothing: m");
    units(
        "unit G1 inv: a s, y m\nunit G2 inv: a s, y m  #! two-drivers: m\nunit G3 inv: a m, y open",
    );
    units("unit G1 inv: a s, y upper  #! two-drivers: upper");
    units("unit G1 inv: a s, y ground  #! two-drivers: ground");
    units("unit G1 inv: a upper, y open\nunit G2 inv: a ground, y open");
    units("unit G1 inv: a m, y m");
    units(
        "unit G1 inv: a s, y m\nbench\n    switches: m upper or ground  #! two-drivers: m upper or ground",
    );
    units("unit G1 inv: a s, y m\nbench\n    loads: m 150k to ground");
    units("unit G1 inv: a m, y open\nbench\n    pull-ups: m 150k to upper");
    units("unit G1 invv: a s, y m  #! unknown-circuit: invv\nunit G2 inv: a m, y open");
    units("unit G1 inv: a s, why m  #! unknown-signal: why\nunit G2 inv: a m, y open");
}

#[test]
fn the_name_that_was_meant_is_hinted_at() {
    for (text, name, remedy) in [
        (
            "circuit c\n    input a\n    resistors 5%: R1 1M a to uper",
            "loose-end",
            "Is `upper` meant?",
        ),
        (
            "unit G1 inv: a uper, y open",
            "input-undriven",
            "Is `upper` meant?",
        ),
        (
            "unit G1 inv: a taek, y open\nunit G2 inv: a take, y open\nbench\n    switches: take upper or ground",
            "input-undriven",
            "Is `take` meant?",
        ),
        (
            "unit G1 imv: a upper, y open",
            "unknown-circuit",
            "The nearest name is `inv`.",
        ),
        (
            "uint G1 inv: a upper, y open",
            "statement-unknown",
            "Is `unit` meant?",
        ),
    ] {
        let reading = crate::machine::read_text(&format!("{}\n{text}", crate::machine::BASE));
        let said: Vec<_> = reading
            .diagnostics
            .iter()
            .map(|problem| (problem.name, problem.remedies[0].as_str()))
            .collect();
        assert_eq!(said, [(name, remedy)], "{text}");
    }
}

/// A rail is no part: what is said of its tolerance speaks of the supply.
#[test]
fn a_tolerance_that_is_too_wide_is_told_of_what_it_is_stated() {
    for (text, thing, other) in [
        ("rail wide 36V 99%", "supply", "part"),
        (
            "circuit c\n    input a\n    resistors 60%: R1 1M a to ground",
            "part",
            "supply",
        ),
    ] {
        let reading = crate::machine::read_text(&format!("{}\n{text}", crate::machine::BASE));
        let problems = reading.diagnostics.iter();
        let odd: Vec<_> = problems
            .filter(|problem| problem.name == "tolerance-odd")
            .collect();
        assert_eq!(odd.len(), 1, "{text}");
        let said = format!("{} {}", odd[0].message, odd[0].remedies[0]);
        assert!(said.contains(thing) && !said.contains(other), "{said}");
    }
}

#[test]
fn places() {
    units("unit G1 inv in V1A: a s, y open\nunit G2 inv in V1B: a s, y open");
    units(
        "unit G1 both in V1A V1B: a s, y open\nunit G2 both from V2: a s, y open\nunit G3 single in V3: a s, y open",
    );
    units(
        "unit G1 inv in V1A: a s, y open\nunit G2 inv in V1A: a s, y open  #! half-used-twice: V1A",
    );
    units(
        "unit G1 single in V1: a s, y open\nunit G2 single in V1: a s, y open  #! half-used-twice: V1",
    );
    units("unit G1 inv in V1: a s, y open  #! place-of-half: V1");
    units("unit G1 single in V1B: a s, y open  #! place-of-half: V1B");
    units("unit G1 inv in V1A V1B: a s, y open  #! wrong-number-of-places: V1A V1B");
    units("unit G1 both in V1A: a s, y open  #! wrong-number-of-places: V1A");
    units("unit G1 inv in: a s, y open  #! word-missing: in");
    units("unit G1 inv in 7A with 12AT7: a s, y open  #! not-a-tube: 7A");
    units("unit G1 inv from there: a s, y open  #! not-a-tube: there");
    units(
        "unit G1 inv in V1A: a s, y open\nunit G2 single in V1: a s, y open  #! two-types-in-one-socket: V1",
    );
    units(
        "unit G1 inv in V1A: a s, y open\nunit G2 inv in V1B with 12AT7: a s, y open  #! two-types-in-one-socket: V1B",
    );
    units(
        "unit G1 inv in V1A with 12AT7: a s, y open\nunit G2 follower in V1B with 12AT7: a s, y open",
    );
    units("unit G1 inv with 6C4: a s, y open  #! type-does-not-fit: 6C4");
    units("unit G1 inv with 12AT8: a s, y open  #! unknown-type: 12AT8");
    units("unit G1 twice with 12AT7: d s, q open  #! type-does-not-fit: 12AT7");
    units("unit G1 twice in V1A: d s, q open  #! places-of-block: V1A");
    units("unit G1 twice from V1A: d s, q open  #! place-of-half: V1A");
    units("unit G1 inv in V1A with 6J6: a s, y open\nunit G2 inv in V1B with 6J6: a s, y open");
    units(
        "unit G1 inv in V1A with 6J6: a s, y open\nunit G2 follower in V1B with 6J6: a s, y open  #! shared-cathode: V1B",
    );
}

#[test]
fn blocks() {
    units(
        "block b\n    inputs d e, output q  #! loose-end: e\n    unit A inv: a d, y q\nunit B1 b: d s, e t, q open",
    );
    units(
        "block b\n    inputs d, output q\n    unit A inv: a d, y m  #! drives-nothing: m\n    unit B inv: a d, y q\nunit B1 b: d s, q open\nunit B2 b: d s, q open",
    );
    units(
        "block b\n    inputs d, output q\n    unit A inv: a d, y q, z q  #! unknown-signal: z\nunit B1 b: d s, q open",
    );
    units(
        "block b\n    inputs d, output q\n    unit A inv: a d, y q\n    unit A inv: a d, y open  #! name-taken: A\nunit B1 b: d s, q open",
    );
    units(
        "block b\n    inputs d, output q\n    unit A inv: a d, y q\nunit B1 b: d s, r open  #! unknown-signal: r",
    );
}

#[test]
fn blocks_that_contain_themselves() {
    units(
        "block b  #! block-contains-itself: block b\n    inputs d, output q\n    unit A b: d d, q q\nunit B1 b: d s, q open",
    );
    units(
        "block b  #! block-contains-itself: block b\n    inputs d, output q\n    unit A c: d d, q q\nblock c\n    inputs d, output q\n    unit A b: d d, q q",
    );
    units(
        "block b\n    inputs d, output q\n    unit A c: d d, q q\nblock c\n    inputs d, output q\n    unit A inv: a d, y q\nunit B1 b: d s, q open",
    );
    let mut deep = String::from("block b0\n    inputs d, output q\n    unit A inv: a d, y q\n");
    for level in 1..40 {
        let expected = if level > 31 {
            format!("  #! blocks-too-deep: block b{level}")
        } else {
            String::new()
        };
        deep += &format!(
            "block b{level}{expected}\n    inputs d, output q\n    unit A b{}: d d, q q\n",
            level - 1
        );
    }
    units(&deep);
}

#[test]
fn arrays() {
    units(
        "units g 1 to 3, inv, from V1\n    each: a stage before, y stage\n    all: \nbench\n    switches: stage.0 upper or ground\n    loads: stage.3 1M to ground",
    );
    units("units g 1 to 2, twice from V1\n    all: d s\n    q open");
    units("units g 1 to 2, inv, in V1A V1B\n    all: a s\n    y open");
    units("units g 1 to 2, inv, in V1A  #! wrong-number-of-places: V1A\n    all: a s\n    y open");
    units(
        "units g 1 to 2, inv\n    each: a n after, y n\nbench\n    switches: n.3 upper or ground\n    loads: n.1 1M to ground",
    );
    units(
        "units g 0 to 2, inv\n    each: a n before, y n  #! no-number-before: n\nbench\n    loads: n.2 1M to ground",
    );
    units("units g 2 to 1, inv  #! range-backward: 2 to 1\n    all: a s\n    y open");
    units("units g 1 to x, inv  #! not-a-number: x\n    all: a s\n    y open");
    units("units g 1 to 99999, inv  #! too-many-units: 1 to 99999\n    all: a s\n    y open");
    units("units g, inv  #! word-missing: inv\n    all: a s\n    y open");
    units("units g 1 to 2, inv  #! signal-unconnected: g\n    all: a s");
    units("units g 1 to 2, inv\n    all: a s\n    y n  #! misplaced-statement: y n");
    units("units g 1 to 2, inv: a s  #! words-left-over: a s");
    units(
        "units g 1 to 2, twice\n    all: d s\n    q open\nunits h 1 to 2, twice, from V1A  #! place-of-half: V1A\n    all: d s\n    q open",
    );
    units(
        "block b\n    inputs d, output q\n    unit A inv: a d, y q\nunit B1 b from V3: d s, q open  #! nothing-to-place: V3",
    );
    check(
        "units g 1 to 6000, inv  #! too-many-units: units g 1 to 6000, inv\n    all: a ground\n    y open\nunits h 1 to 6000, inv\n    all: a ground\n    y open",
    );
}

#[test]
fn doublings_without_end_are_counted_not_opened() {
    let mut text = String::from(
        "block b0\n    inputs d, output q\n    unit A inv: a d, y q\n    unit B inv: a d, y open\n",
    );
    for level in 1..31 {
        text += &format!(
            "block b{level}\n    inputs d, output q\n    unit A b{0}: d d, q q\n    unit B b{0}: d d, q open\n",
            level - 1
        );
    }
    check(&format!(
        "{text}unit M b30: d ground, q open  #! too-many-units: unit M b30: d ground, q open"
    ));
}

/// Four halves in two tubes, and a pentode-like single tube, for strings and boards.
const STANDING: &str = "unit G1 inv in V1A: a s, y m\nunit G2 inv in V1B: a m, y n\nunit G3 inv in V2A with 12AT7: a n, y o\nunit G4 single in V3: a o, y p\nunit G5 follower in V2B with 12AT7: a p, y open\nbench\n    switches: s upper or ground";

#[track_caller]
fn standing(lines: &str) {
    check(&format!("{STANDING}\n{lines}"));
}

#[test]
fn heater_strings() {
    standing("string H1: from heat, V1, V2 tapped beside V3, R90 820 5% 2W, back to ground");
    standing("string H1: from heat, V1 to V3, back to G5.y");
    standing(
        "string H1: from heat, V1, back to G3.join\nstring H2: from m, V2, back to G3.V1  #! unknown-net: G3.V1",
    );
    standing("string H1: from hat, V1, back to ground  #! unknown-net: hat");
    standing("string H1: from heat, V9, back to ground  #! unknown-tube: V9");
    standing("string H1: from heat, V1A, back to ground  #! unknown-tube: V1A");
    standing("string H1: from heat, V1, V2, V1, back to ground  #! heater-twice: V1");
    standing(
        "string H1: from heat, V1, back to ground\nstring H2: from heat, V1, back to ground  #! heater-twice: V1",
    );
    standing(
        "string H1: from heat, V1, back to ground\nstring H1: from heat, V2, back to ground  #! name-taken: H1",
    );
    standing("string H1: from heat, V1 tapped, back to ground  #! no-tap: tapped");
    standing("string H1: V1, back to ground  #! string-incomplete: H1");
    standing("string H1: from heat, V1  #! string-incomplete: H1");
    standing("string H1: from heat, back to ground  #! string-incomplete: H1");
    standing(
        "string H1 from heat, V1, back to ground  #! words-left-over: from heat, V1, back to ground",
    );
    standing("string H1  #! string-incomplete: H1");
    standing("string H1: from heat, V1 beside, back to ground  #! word-missing: beside");
    standing("string H1: from heat, V1 V2, back to ground  #! words-left-over: V2");
    standing("string H1: from heat, V3 to V1, back to ground  #! range-odd: V3 to V1");
    standing("string H1: from heat, V1, R90 5% 2W, back to ground  #! value-missing: R90");
    standing("string H1: from heat, V1, R90 0 5% 2W, back to ground  #! value-not-positive: 0");
    standing("string H1: from heat, V1, R90 820V, back to ground  #! wrong-unit: 820V");
    standing("string H1: from heat, V1, R90 820, back to ground  #! tolerance-missing: R90");
}

#[test]
fn boards() {
    standing("board b 160mm by 100mm\n    carries G1 to G5\n    connector J1: 1 s, 2 upper");
    standing(
        "board b\n    carries G1 to G2, G3\n    connector J1: 1 s, 2 o\nboard c\n    carries G4\n    connector P1: 1 o, 2 p\nboard d\n    carries G5  #! tube-on-two-boards: G5\n    connector J1: 1 p\n    carries G5  #! unit-carried-twice: G5",
    );
    standing("board b\n    carries G1 to G9  #! unit-not-in-machine: G1 to G9");
    standing("board b\n    carries G5 to G1  #! range-odd: G5 to G1");
    standing("board b\n    carries G1, H1  #! unit-not-in-machine: H1");
    standing("board b  #! net-leaves-board: board b\n    carries G1 to G5");
    standing(
        "board b\n    carries G1 to G3, G5\n    connector J1: 1 s, 2 o, 3 p\nboard c\n    carries G4\n    connector J1: 1 o, 2 p",
    );
    let left_out = STANDING.replace(
        "y open\nbench",
        "y open  #! unit-on-no-board: unit G5 follower in V2B with 12AT7: a p, y open\nbench",
    );
    check(&format!(
        "{left_out}\nboard b\n    carries G1 to G4\n    connector J1: 1 s, 2 p"
    ));
    standing("board b\n    carries G1 to G5\n    connector J1: 1 s, 1 m  #! pin-twice: 1 m");
    standing("board b\n    carries G1 to G5\n    connector J1: 1 s, 2 t  #! unknown-net: t");
    standing("board b\n    carries G1 to G5\n    connector J1: one s  #! not-a-number: one");
    standing("board b\n    carries G1 to G5\n    connector X1: 1 s  #! mark-letter: X1");
    standing(
        "board b\n    carries G1 to G5\n    connector J1: 1 s\n    connector J1: 1 m  #! name-taken: J1",
    );
    standing("board b\n    carries G1 to G5\n    connector J1: 1 s\nboard b  #! name-taken: b");
    standing(
        "board b 0mm by 100mm  #! value-not-positive: 0mm; value-odd: 0mm\n    carries G1 to G5\n    connector J1: 1 s",
    );
    standing(
        "board b 160 by 100mm  #! wrong-unit: 160\n    carries G1 to G5\n    connector J1: 1 s",
    );
}

#[test]
fn bench_and_jigs() {
    standing("bench\n    switches: t upper or ground  #! unknown-net: t");
    standing("bench\n    switches: s upper or ground  #! two-drivers: s upper or ground");
    standing("bench\n    loads: o 150k to groud  #! unknown-rail: groud");
    standing("bench\n    loads: o 150k  #! word-missing: 150k");
    standing("bench\n    loads: o 0 to ground  #! value-not-positive: 0");
    standing("bench\n    meter  #! word-missing: meter");
    standing("bench\n    meter 10V  #! wrong-unit: 10V");
    standing("bench here  #! words-left-over: here");
    standing("jig inv\n    drivers: a nor2\n    loads: y 3 inv, y nor2, y 150k to ground");
    standing("jig inv\n    switches: a upper or ground through 10k\n    pull-ups: y 150k to upper");
    standing("jig invv  #! unknown-circuit: invv");
    standing("jig inv\njig inv  #! name-taken: inv");
    standing("jig inv\n    drivers: y nor2  #! unknown-signal: y");
    standing("jig inv\n    drivers: a nor2, a inv  #! two-drivers: a inv");
    standing("jig inv\n    drivers: a twice  #! unknown-circuit: twice");
    standing("jig inv\n    loads: a 3 inv  #! unknown-signal: a");
    standing("jig inv\n    loads: y three inv  #! not-a-number: three");
    standing("jig inv\n    switches: a upper or ground through -1k  #! value-not-positive: -1k");
    standing(
        "circuit sink\n    input a\n    resistors 5%: R1 1M a to ground\njig inv\n    drivers: a sink  #! no-output: sink",
    );
}
