//! Whole texts to their verdict.

use crate::judging::{CONTEXT, LIMITS, sound};
use design::model::CircuitId;
use devices::types::Section;
use network::delay::{delay, miller_farads};
use network::fan::{fan_in, fan_out};
use network::levels::alone;
use network::verdict::check;

/// Three inverters of a double triode on 24 V with a divider to -12 V. A build log (common practice, no source) gives
/// 0/24 V in and about 2/20 V out for such a gate and a second gate that never cuts off: that must be the finding, by
/// name, and nothing else may stand beside it as a cause.
const LOW_VOLTAGE_CHAIN: &str = "valvewright format 1

rail upper 24V 5%
rail lower -12V 5%

circuit inverter
    input a, output y
    y = not a
    resistors 5%: R1 1M a to g1, R2 2M2 g1 to lower, R3 47k upper to y
    tube V1 half 12AU7: plate y, grid g1, cathode ground

unit A inverter: a take, y one
unit B inverter: a one, y two
unit C inverter: a two, y three

bench
    switches: take upper or ground through 1k
    loads: three 1M to ground
";

#[test]
fn a_24_volt_gate_that_leaves_its_successor_conducting_is_named() {
    let reading = sound(LOW_VOLTAGE_CHAIN);
    let verdict = check(reading.design.as_ref().unwrap(), &LIMITS, &CONTEXT);
    let names: Vec<_> = verdict
        .findings
        .iter()
        .map(|finding| (finding.name, finding.subject.as_str()))
        .collect();
    assert_eq!(names, [("not-cut-off", "B")]);
    let (has, needs) = (
        verdict.findings[0].has.as_ref().unwrap(),
        verdict.findings[0].needs.as_ref().unwrap(),
    );
    assert!(
        needs.value < has.value && has.value < 0.0,
        "a grid that is negative, but not enough: {has:?} {needs:?}"
    );
    let level = verdict.place.levels[&reading
        .design
        .as_ref()
        .unwrap()
        .nets
        .iter()
        .position(|net| net.name == "one")
        .unwrap()];
    // Plausibility only: the log's 2 and 20 V are of another circuit of this kind.
    assert!(
        (1.0..6.0).contains(&level.down) && (18.0..24.0).contains(&level.up),
        "{level:?}"
    );
}

/// The gate of the low-voltage chain solved independently, our own (law parameters of that solution).
const CHAIN: &str = "valvewright format 1

rail upper 36V 5%
rail lower -24V 5%

type twin triode, 2 sections
    capacitance A [derived]: grid-plate 1.4p, grid-cathode 3.3p, plate-cathode 1.8p
    law tail: perveance 8.171m, mu 33.16, exponent 1.371, knee 3, tail-fraction 57.93m, tail-mu 19.61, grid-perveance 2.251m, grid-exponent 1.314, grid-knee 9.901, partition-volts 2

circuit inverter
    input a, output y
    y = not a
    diodes 1N4148: CR1 a to join
    resistors 5%: R1 680k join to g1, R2 1M2 g1 to lower, R3 82k upper to y
    tube V1 half twin: plate y, grid g1, cathode ground
";

/// Solved independently, our own: in a chain of four such inverters the edges pass 12.7 V with 7.29 us (rising) and
/// 5.42 us (falling) between stages. The rough delay has a driver whose own
/// source steps instead of a chain: 10 %.
#[test]
fn the_rough_delay_is_roughly_right() {
    let reading = sound(CHAIN);
    let design = reading.design.as_ref().unwrap();
    let delay = delay(design, CircuitId(0), &alone(design, &CONTEXT), &CONTEXT).unwrap();
    let (rising, falling) = (delay.rising.unwrap(), delay.falling.unwrap());
    assert!((rising / 7.294e-6 - 1.0).abs() < 0.1, "rising {rising}");
    assert!((falling / 5.416e-6 - 1.0).abs() < 0.1, "falling {falling}");
}

/// Solved independently, our own: with spread and rails at their worst a gate of this shape carries six others, and
/// eight inputs and more leave its down level where it was. At book values it must carry no fewer, and not any number.
#[test]
fn fan_out_ends_somewhere_beyond_the_worst_case_and_fan_in_does_not_at_eight() {
    let reading = sound(CHAIN);
    let design = reading.design.as_ref().unwrap();
    let alone = alone(design, &CONTEXT);
    let out = fan_out(design, CircuitId(0), &alone, &CONTEXT);
    let last = out.last_that_works().unwrap();
    assert!(
        (6..network::fan::MOST).contains(&last),
        "{last}: {:?}",
        out.rows
    );
    assert!(
        out.rows.windows(2).all(|pair| pair[1].up < pair[0].up),
        "every load takes the up level down"
    );
    let inputs = fan_in(design, CircuitId(0), &alone, &CONTEXT);
    assert!(8 <= inputs.last_that_works().unwrap(), "{:?}", inputs.rows);
}

/// Solved independently, our own: with 0, 1 and 3 loads the gate's levels are 1.2 V and 36, 32, 26.5 V (two figures),
/// and output equals input at 12.7 V.
#[test]
fn levels_of_the_low_voltage_gate() {
    let reading = sound(CHAIN);
    let design = reading.design.as_ref().unwrap();
    let alone = alone(design, &CONTEXT);
    let out = fan_out(design, CircuitId(0), &alone, &CONTEXT);
    for (loads, up) in [(0, 36.0), (1, 32.2), (3, 26.5)] {
        assert!(
            (out.rows[loads].up - up).abs() < 0.1,
            "{loads} loads: {:?}",
            out.rows[loads]
        );
        // The driver of the reference is another loaded gate: its up level moves the down level by some tenths.
        assert!(
            (out.rows[loads].down - 1.25).abs() < 0.2,
            "{loads} loads: {:?}",
            out.rows[loads]
        );
    }
    let verdict = check(design, &LIMITS, &CONTEXT);
    let switching = verdict.circuits[0].transfers[0].switching.unwrap();
    assert!((switching - 12.7).abs() < 0.1, "{switching}");
}

/// Miller capacitance of a 12AX7 stage with gain 54.5: 1.6 pF + 1.7 pF x 55.5 = 96 pF (data from memory).
#[test]
fn miller_capacitance() {
    assert!((miller_farads(1.6e-12, 1.7e-12, 54.5) - 96e-12).abs() < 0.5e-12);
}

/// A latch drawn as one circuit of two tubes: its sentence keeps a value, so each of its states is solved from itself.
const TOGGLE: &str = "valvewright format 1

rail upper 36V 5%
rail lower -24V 5%

circuit inverter
    inputs a, output y
    y = not a
    diodes 1N4148: CR1 a to join
    resistors 5%: R1 680k join to g1, R2 1M2 g1 to lower, R3 82k upper to y
    tube V1 half 6922: plate y, grid g1, cathode ground

circuit toggle
    inputs set reset, outputs q qn
    q = (set or q) and not reset
    qn = not (set or q)
    diodes 1N4148: CR1 reset to j1, CR2 qn to j1, CR3 set to j2, CR4 q to j2
    resistors 5%: R1 680k j1 to g1, R2 1M2 g1 to lower, R3 82k upper to q
    resistors 5%: R4 680k j2 to g2, R5 1M2 g2 to lower, R6 82k upper to qn
    tube V1 half 6922: plate q, grid g1, cathode ground
    tube V2 half 6922: plate qn, grid g2, cathode ground

unit T1 toggle: set s, reset r, q q, qn qn
unit G1 inverter: a q, y one
unit G2 inverter: a qn, y two

bench
    switches: s upper or ground through 10k, r upper or ground through 10k
    loads: one 1M to ground, two 1M to ground
";

/// By hand: up, each output feeds the other half and one inverter, each 680k to about 0.31 V:
/// (36 680 + 2 0.31 82) / (680 + 2 82) = 29.07 V. Between the two states lies one that no circuit rests in.
#[test]
fn a_circuit_that_stores_within_itself_is_solved_in_each_state() {
    let reading = sound(TOGGLE);
    let verdict = check(reading.design.as_ref().unwrap(), &LIMITS, &CONTEXT);
    assert!(verdict.findings.is_empty(), "{:?}", verdict.findings);
    let up = |name: &str| {
        let net = verdict.plan.nets.iter().position(|net| net.name == name);
        verdict.place.levels[&net.unwrap()].up
    };
    for name in ["q", "qn"] {
        assert!((up(name) - 29.07).abs() < 0.03, "{name}: {}", up(name));
    }
    let [ring] = verdict.rings.as_slice() else {
        panic!("one ring: {:?}", verdict.rings)
    };
    let states: Vec<usize> = ring.rows.iter().map(|row| row.states.len()).collect();
    assert_eq!(
        states,
        [2, 1, 1, 1],
        "two states only while both inputs are down"
    );
    let rests: Vec<bool> = ring.scans[0]
        .solutions
        .iter()
        .map(|solution| solution.stability.rests())
        .collect();
    assert_eq!(rests, [true, false, true]);
    let said = verdict.not_checked.iter();
    assert!(
        said.clone()
            .any(|what| what.contains("stores within itself")),
        "{:?}",
        verdict.not_checked
    );
}

/// A sentence with an edge names no state inside: such a circuit is solved in both values of its output, nothing is said
/// of states, and that is said.
#[test]
fn a_circuit_with_an_edge_is_named_as_not_checked() {
    let text = TOGGLE
        .replace("q = (set or q) and not reset", "q = set when reset falls")
        .replace("qn = not (set or q)", "qn = (not set) when reset falls");
    let reading = sound(&text);
    let verdict = check(reading.design.as_ref().unwrap(), &LIMITS, &CONTEXT);
    assert!(verdict.findings.is_empty(), "{:?}", verdict.findings);
    assert!(verdict.rings.is_empty());
    let mut said = verdict.not_checked.iter();
    assert!(
        said.any(|what| what.contains("at an edge")),
        "{:?}",
        verdict.not_checked
    );
}

/// The same with one cross connection gone to the wrong input, and with a plate resistor that cannot feed the other half.
#[test]
fn a_circuit_that_loses_its_own_state_is_named() {
    for (from, to) in [
        ("CR4 q to j2", "CR4 set to j2"),
        ("R6 82k upper", "R6 8M2 upper"),
    ] {
        let reading = sound(&TOGGLE.replace(from, to));
        let verdict = check(reading.design.as_ref().unwrap(), &LIMITS, &CONTEXT);
        let mut names = verdict.findings.iter().flat_map(|finding| {
            let below = finding.consequences.iter().map(|below| below.name);
            below.chain([finding.name])
        });
        assert!(
            names.any(|name| name == "state-lost"),
            "{to}: {:?}",
            verdict.findings
        );
    }
}

/// A 12.6 V heater across 12.6 V: its ends read 12.6 and 0 V and its tap, half way, 6.3 V; wired for 6.3 V both ends read
/// the supply and the tap its return (by hand; base 9A, pins 4 and 5 ends, 9 tap).
#[test]
fn a_heater_tap_reads_half_way_or_the_other_side() {
    for (supply, wired, expected) in [
        ("12.6V", "V1", [12.6, 0.0, 6.3]),
        ("6.3V", "V1 tapped", [6.3, 6.3, 0.0]),
    ] {
        let text = format!(
            "{LOW_VOLTAGE_CHAIN}
rail heat {supply} 5%

unit E inverter in V1A: a take, y open
unit F inverter in V1B: a take, y open
string H1: from heat, {wired}, back to ground
"
        );
        let reading = sound(&text);
        let verdict = check(reading.design.as_ref().unwrap(), &LIMITS, &CONTEXT);
        let pins =
            network::bench::socket_readings(&verdict, design::model::SocketId(0), 10e6, &CONTEXT);
        let volts = |number: u8| match pins.iter().find(|pin| pin.pin.number == number).unwrap().on
        {
            network::bench::OnPin::Heater(Some(end)) => end.volts,
            ref other => panic!("pin {number}: {other:?}"),
        };
        for (pin, expected) in [4, 5, 9].into_iter().zip(expected) {
            assert!(
                (volts(pin) - expected).abs() < 1e-6,
                "{wired}, pin {pin}: {}",
                volts(pin)
            );
        }
    }
}

/// Of a twin with one half in use the other's plate, grid and cathode are wired to nothing (base 9A: pins 6, 7 and 8).
#[test]
fn an_unused_half_has_no_readings() {
    let reading = sound(&format!(
        "{LOW_VOLTAGE_CHAIN}\nunit E inverter in V1B: a take, y open\n"
    ));
    let verdict = check(reading.design.as_ref().unwrap(), &LIMITS, &CONTEXT);
    let pins =
        network::bench::socket_readings(&verdict, design::model::SocketId(0), 10e6, &CONTEXT);
    for pin in &pins {
        let spare = pin.on == network::bench::OnPin::Spare;
        assert_eq!(spare, pin.pin.section == Some(Section::A), "{pin:?}");
    }
}
