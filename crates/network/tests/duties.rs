//! Lamps and loads against the sentences that say what they are there for.

use crate::judging::{CONTEXT, LIMITS, sound};
use devices::library::Library;
use network::duty::glow;
use network::verdict::check;

/// Names and subjects of all findings, consequences too.
fn found(text: &str) -> Vec<(&'static str, String)> {
    let reading = sound(text);
    let verdict = check(reading.design.as_ref().unwrap(), &LIMITS, &CONTEXT);
    let causes = verdict.findings.iter();
    causes
        .flat_map(|cause| std::iter::once(cause).chain(&cause.consequences))
        .map(|finding| (finding.name, finding.subject.clone()))
        .collect()
}

/// The DM160 shows 0.585 mA at 50 V and 0 V, and its light goes out at -3 V (both from memory), entered as 10 uA.
#[test]
fn an_indicator_triode_is_lit_from_half_the_power_of_its_sheet_and_out_where_the_sheet_says() {
    let library = Library::shipped();
    let glow = glow(library.tube("DM160").unwrap()).unwrap();
    assert!((glow.lit_watts - 0.5 * 50.0 * 0.585e-3).abs() < 1e-9);
    assert!((glow.out_amps - 10e-6).abs() < 1e-12);
}

/// A neon lamp (strikes at 80 V, maintains at 55 V: common practice) between a rail and a switch to ground, without a tube.
fn lamp(rail: &str, sentence: &str) -> String {
    format!(
        "valvewright format 1
rail high {rail} 5%
circuit lamp
    inputs a
    {sentence}
    resistors 5%: R1 220k a to n, R2 10M a to ground
    neons NE-2: DS1 n to ground
unit L lamp: a x
bench
    switches: x high or ground through 1k
"
    )
}

#[test]
fn a_neon_lamp_must_strike_from_dark() {
    assert_eq!(found(&lamp("90V", "lit = a")), []);
    let stays = |name| vec![(name, "L.DS1".to_owned())];
    // 70 V keep it lit but do not strike it.
    assert_eq!(found(&lamp("70V", "lit = a")), stays("lamp-stays-dark"));
    assert_eq!(found(&lamp("90V", "lit = up")), stays("lamp-stays-dark"));
    assert_eq!(found(&lamp("90V", "lit = down")), stays("lamp-stays-lit"));
    // Without a sentence nothing is judged.
    assert_eq!(found(&lamp("70V", "")), []);
}

/// 90 V over 220k and a lamp that holds 55 V and 4k: 35 V / 224k is 156 uA by hand.
#[test]
fn a_current_is_held_against_what_is_wanted() {
    let wrong = |name| vec![(name, "L.R1".to_owned())];
    assert_eq!(found(&lamp("90V", "current R1 150uA to 160uA = a")), []);
    assert_eq!(
        found(&lamp("90V", "current R1 160uA to 170uA = a")),
        wrong("current-too-small")
    );
    assert_eq!(
        found(&lamp("90V", "current R1 100uA to 150uA = a")),
        wrong("current-too-large")
    );
    assert_eq!(
        found(&lamp("90V", "current R1 150uA to 160uA = down")),
        wrong("current-stays-on")
    );
}

/// A circuit that no unit uses is judged in its jig, and what stands on the right may be an output.
#[test]
fn a_lamp_beside_a_gate_of_its_own_follows_the_output() {
    let gate = |sentence: &str| {
        format!(
            "valvewright format 1
rail upper 120V 5%
rail lower -120V 5%
circuit gate
    inputs a, output y
    y = not a
    {sentence}
    diodes 1N4148: CR1 a to join
    resistors 5%: R1 560k join to g1, R2 1M5 g1 to lower, R3 82k upper to y, R4 220k upper to n
    neons NE-2: DS1 n to y
    tube V1 half 12AT7: plate y, grid g1, cathode ground
"
        )
    };
    assert_eq!(found(&gate("lit = not y")), []);
    let names: Vec<&str> = found(&gate("lit = y"))
        .into_iter()
        .map(|found| found.0)
        .collect();
    assert_eq!(names, ["lamp-stays-dark", "lamp-stays-lit"]);
}

/// The mistake is one: what the lamp does hangs below the level that it follows from.
#[test]
fn a_lamp_that_is_wrong_because_of_a_level_before_it_hangs_below_that_level() {
    let text = "valvewright format 1
rail upper 36V 5%
rail lower -24V 5%
rail neon 120V 5%
circuit inverter
    inputs a, output y
    y = not a
    diodes 1N4148: CR1 a to join
    resistors 5%: R1 680k join to g1, R2 1M2 g1 to lower, R3 82k upper to y
    tube V1 half 6922: plate y, grid g1, cathode ground
circuit lamp
    inputs a
    lit = a
    diodes 1N4148: CR1 a to join
    resistors 5%: R1 680k join to g1, R2 1M2 g1 to lower, R3 220k neon to n, R4 1M neon to p
    neons NE-2: DS1 n to p
    tube V1 half 6922: plate p, grid g1, cathode ground
unit G1 inverter: a x, y m
unit G2 inverter: a m, y open
unit L lamp: a m
bench
    switches: x upper or ground through 10k
    loads: m 10k to ground
";
    let reading = sound(text);
    let verdict = check(reading.design.as_ref().unwrap(), &LIMITS, &CONTEXT);
    let [cause] = verdict.findings.as_slice() else {
        panic!("one cause: {:?}", verdict.findings);
    };
    let below: Vec<_> = cause
        .consequences
        .iter()
        .map(|finding| (finding.name, finding.subject.as_str()))
        .collect();
    assert!(
        cause.subject == "G1" && below.contains(&("lamp-stays-dark", "L.DS1")),
        "{}: {below:?}",
        cause.name
    );
}
