//! Thresholds that lie further out than the input volts that are looked at: no number is made of them, and what falls short stays a
//! fault.

use crate::judging::{CONTEXT, sound};
use crate::margins::judged;
use design::model::CircuitId;
use network::finding::Finding;
use network::margins::alone::{Ground, alone_cases, alone_margins};
use network::margins::findings::findings;
use network::margins::{Beyond, ConnectionMargin, Margins, Missing};
use network::plan::Plan;
use network::variation::SpreadAssumptions;

/// What is assumed of tubes of which nothing is known (docs/method.md, Assumptions); no design here has a diode.
const SPREAD: SpreadAssumptions = SpreadAssumptions {
    tube_current: (0.78, 1.44),
    aged: 0.5,
    mu: (0.83, 1.17),
    cut_off_volts: 0.1,
    reverse_amps: 0.2e-6,
    saturation_times: 1.0,
    diode_kelvin: (300.0, 300.0),
};

/// A gate behind a divider by which it is not quite driven.
fn behind_a_divider(rails: &str, gate: &str, divider: &str) -> String {
    format!(
        "valvewright format 1
{rails}
circuit inverter
    inputs a, output y
    y = not a
    resistors 1%: {gate}
circuit pass
    inputs a, output y
    y = a
    resistors {divider}
unit P pass: a inp, y mid
unit I inverter in V1A: a mid, y out
bench
    switches: inp upper or ground
    loads: out 10M to ground
"
    )
}

/// A gate of 36 V and the resistors of its divider.
fn low_voltage(upper: &str, divider: &str) -> String {
    let gate = "R1 680k a to g1, R2 1M2 g1 to lower, R3 82k upper to y
    tube V1 half 6922: plate y, grid g1, cathode ground";
    let rails = format!("rail upper {upper}\nrail lower -24V 5%");
    behind_a_divider(&rails, gate, divider)
}

fn said(plan: &Plan, margins: &Margins) -> Vec<Finding> {
    let connections: Vec<&ConnectionMargin> = margins.connections.iter().collect();
    findings(plan, margins, &connections, |_| true)
}

fn beyond(missing: Missing) -> Beyond {
    match missing {
        Missing::Beyond(beyond) => beyond,
        other => panic!("{other:?}"),
    }
}

/// By the book 36 V through the halves of the divider are enough. With 130 k above and 70 k below not even 45 V are (a quarter of
/// the 36 V that the switch gives beyond them): 45 V times 70/200 is 15.8 V, of which a load of 1.88 M to -25.2 V leaves 14.8 V,
/// and the gate may want 15.3 V (its own row). So the switch is short for certain, and no number says by how much.
#[test]
fn what_no_input_volts_would_do_for_is_short_and_no_number() {
    let text = low_voltage("36V 5%", "30%: R1 100k a to y, R2 100k y to ground");
    let design = sound(&text).design.unwrap();
    let (verdict, margins) = judged(&design, &SPREAD);
    let gate = &margins.connections[..];
    assert_eq!(gate.len(), 1, "{gate:?}");
    assert!((gate[0].up.threshold - 15.3).abs() < 0.05, "{gate:?}");
    let one = margins.not_known[0];
    let beyond = beyond(one.missing);
    assert!(beyond.up && beyond.falls_short(), "{beyond:?}");
    assert_eq!((beyond.volts, one.driver), (45.0, None));
    assert!((beyond.level - 34.2).abs() < 1e-6, "{beyond:?}");
    let (low, high) = margins.thresholds[one.corner][&one.load];
    assert!(low.is_finite() && high == f64::INFINITY, "{low} {high}");
    let said = said(&verdict.plan, &margins);
    let of_switch = said.iter().find(|one| one.subject == "net inp").unwrap();
    assert_eq!(of_switch.name, "worst-case-up");
    for part in ["45 V at P.a", "by how much is not known"] {
        assert!(of_switch.cause.contains(part), "{}", of_switch.cause);
    }
}

/// The cathode stands on a divider of the rail, so what the gate wants goes with the rail: with 150 V it is more than the 125 V
/// that are looked at, and the switch gives 150 V. It may do or not: not known, a caution. At 50 V it does.
#[test]
fn what_may_be_enough_where_nothing_is_looked_at_is_not_known() {
    let gate = "R1 1M a to g1, R3 220k upper to y, R4 10k upper to k, R5 4k7 k to ground
    tube V1 half 6922: plate y, grid g1, cathode k";
    let divider = "1%: R1 100k a to y, R2 68k y to ground";
    let text = behind_a_divider("rail upper 100V 50%", gate, divider);
    let design = sound(&text).design.unwrap();
    let (verdict, margins) = judged(&design, &SPREAD);
    let one = margins.not_known[0];
    let beyond = beyond(one.missing);
    assert!(beyond.up && !beyond.falls_short(), "{beyond:?}");
    assert_eq!((beyond.volts, beyond.level), (125.0, 150.0));
    let said = said(&verdict.plan, &margins);
    let names: Vec<_> = said.iter().map(|one| one.name).collect();
    assert_eq!(names, ["worst-case-not-known"]);
    assert!(
        said[0].cause.contains("lies above 125 V"),
        "{}",
        said[0].cause
    );
}

/// With a rail of 50 % the threshold lies further out than is looked at where the rail stands high, and the level with it; where it
/// stands low the switch is short, by a number.
#[test]
fn what_is_short_at_another_corner_has_its_number() {
    let text = low_voltage("36V 50%", "28%: R1 100k a to y, R2 100k y to ground");
    let design = sound(&text).design.unwrap();
    let (_, margins) = judged(&design, &SPREAD);
    assert!(margins.not_known.is_empty(), "{:?}", margins.not_known);
    let switch = margins.connections.iter().find(|one| one.driver.is_none());
    let up = &switch.unwrap().up;
    assert!((up.level - 18.0).abs() < 1e-6, "{up:?}");
    assert!(
        up.volts < 0.0 && up.volts == up.level - up.threshold,
        "{up:?}"
    );
    let unknown = up.by_corner.iter().filter(|volts| volts.is_nan());
    assert_eq!(unknown.count(), 1, "{up:?}");
}

/// A NOR alone that gives itself 37.8 V for down: its other input holds the output, and what this one would have to be for down lies
/// below the 34 V under ground that are looked at (a quarter of 36 V and 20 V below -20 V).
#[test]
fn a_chain_that_falls_apart_is_short_and_no_number() {
    let text = "valvewright format 1
rail upper 36V 5%
rail lower -20V 5%
circuit nor2
    inputs a b, output y
    y = not (a or b)
    resistors 5%: R1 680k a to g1, R4 680k b to g1, R2 680k g1 to lower, R3 82k upper to y
    tube V1 half 12AU7: plate y, grid g1, cathode ground
";
    let design = sound(text).design.unwrap();
    let circuit = CircuitId(0);
    let (verdict, _) = judged(&design, &SPREAD);
    let case = &alone_cases(&verdict, &[circuit], &SPREAD, &CONTEXT)[0];
    assert!(case.margins.connections.is_empty(), "{:?}", case.margins);
    let found = beyond(case.margins.not_known[0].missing);
    assert!(!found.up && found.falls_short(), "{found:?}");
    assert_eq!(found.volts, -34.0);
    assert_eq!(said(&case.plan, &case.margins)[0].name, "worst-case-down");
    let ground = Ground::of(&design, circuit, &CONTEXT);
    let none = alone_margins(&ground, circuit, [1], &SPREAD, &CONTEXT).unwrap_err();
    assert_eq!(beyond(none.unwrap()).volts, -34.0);
}
