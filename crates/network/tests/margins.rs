//! Worst cases of levels, thresholds and margins.

use crate::judging::{CONTEXT, LIMITS, sound};
use network::margins::{Margins, check};
use network::variation::SpreadAssumptions;

/// What the independent solver varied: nothing beyond what the types of the tests state.
const ONLY_STATED: SpreadAssumptions = SpreadAssumptions {
    tube_current: (0.75, 1.25),
    aged: 1.0,
    mu: (0.9, 1.1),
    cut_off_volts: 0.0,
    saturation_times: 1.0,
};

/// A chain of inverters, each with three loads.
fn chain(upper: &str, lower: &str, ohms: [&str; 3], law: &str) -> String {
    let [r1, r2, r3] = ohms;
    let mut text = format!(
        "valvewright format 1
rail upper {upper} 5%
rail lower {lower} 5%
type OWN triode, 2 sections, like 12AT7
    law tail: {law}
circuit inverter
    inputs a, output y
    y = not a
    diodes 1N4148: CR1 a to join
    resistors 5%: R1 {r1} join to g1, R2 {r2} g1 to lower, R3 {r3} upper to y
    tube V1 half OWN: plate y, grid g1, cathode ground
"
    );
    for stage in 1..=5 {
        let before = stage - 1;
        text += &format!("unit S{stage} inverter: a n{before}, y n{stage}\n");
        text += &format!("unit D{stage} inverter: a n{stage}, y open\n");
        text += &format!("unit E{stage} inverter: a n{stage}, y open\n");
    }
    text + "unit LAST inverter: a n5, y open
bench
    switches: n0 upper or ground through 1k
"
}

fn margins(text: &str, spread: &SpreadAssumptions) -> Margins {
    let design = sound(text).design.unwrap();
    let verdict = network::verdict::check(&design, &LIMITS, &CONTEXT);
    check(&verdict, spread, &CONTEXT)
}

#[test]
fn try_it() {
    for (name, text) in [
        (
            "A",
            chain(
                "120V",
                "-120V",
                ["560k", "1M5", "82k"],
                "perveance 5.384m, mu 83.16, exponent 1.097, knee 3, tail-fraction 93.23m, tail-mu 22.52, grid-perveance 1.483m, grid-exponent 1.314, grid-knee 9.901, partition-volts 2",
            ),
        ),
        (
            "B",
            chain(
                "36V",
                "-24V",
                ["680k", "1M2", "82k"],
                "perveance 8.171m, mu 33.16, exponent 1.371, knee 3, tail-fraction 57.93m, tail-mu 19.61, grid-perveance 2.251m, grid-exponent 1.314, grid-knee 9.901, partition-volts 2",
            ),
        ),
    ] {
        let start = std::time::Instant::now();
        let margins = margins(&text, &ONLY_STATED);
        println!(
            "{name} {:?} evaluated {} settled {} unknown {:?} notknown {:?}",
            start.elapsed(),
            margins.evaluated,
            margins.settled,
            margins.unknown,
            margins.not_known
        );
        for connection in &margins.connections {
            println!(
                "{} {:?} {:?}",
                connection.net, connection.driver, connection.load
            );
            for side in [&connection.down, &connection.up] {
                println!(
                    "   book {:.2} worst {:.2} corner {:?} level {:.2} threshold {:.2} {:?}",
                    side.book_volts,
                    side.volts,
                    margins.corners[side.corner].sides,
                    side.level,
                    side.threshold,
                    side.by_corner
                );
            }
        }
        let first = &margins.connections[0];
        println!("{:#?}", first.down.level_case);
        println!("{:#?}", first.down.threshold_case);
    }
}
