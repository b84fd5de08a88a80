//! Heaters, power and what can hurt, asked of whole designs.

use crate::judging::{CONTEXT, LIMITS, sound};
use network::change::compare;
use network::finding::Finding;
use network::heaters::HeaterReading;
use network::power::{Fuse, power};
use network::safety::safety;
use network::verdict::{Verdict, check};

/// A gate for each of the tubes, on rails of the demonstration's volts; `types` and `strings` are put in.
fn machine(heat: &str, tubes: &[&str], types: &str, strings: &str) -> String {
    let units: String = tubes
        .iter()
        .enumerate()
        .map(|(index, tube)| {
            let number = index + 1;
            format!("unit G{number} inverter in V{number}A with {tube}: a n{index}, y n{number}\n")
        })
        .collect();
    let last = tubes.len();
    format!(
        "valvewright format 1
rail upper 36V 5%, capacitor 220u, bleeder 22k
rail lower -24V 5%
rail heat {heat}
{types}
circuit inverter
    inputs a, output y
    y = not a
    diodes 1N4148: CR1 a to join
    resistors 5%: R1 680k join to g1, R2 1M2 g1 to lower, R3 82k upper to y
    tube V1 half 6922: plate y, grid g1, cathode ground
{units}{strings}
bench
    switches: n0 upper or ground through 10k
    loads: n{last} 1M5 to ground
"
    )
}

fn across(reading: &HeaterReading) -> f64 {
    (reading.first_volts - reading.second_volts).abs()
}

fn near(value: f64, expected: f64, within: f64) {
    assert!(
        (value - expected).abs() <= within,
        "{value}, not {expected}"
    );
}

fn names(verdict: &Verdict) -> Vec<String> {
    let findings = verdict.findings.iter();
    findings
        .map(|finding| format!("{} {}", finding.name, finding.subject))
        .collect()
}

/// Heaters of 12.6 V that take 175 and 150 mA share 25.2 V as 11.0 to 14.2 V (worked out from I ~ V^0.6), which is named
/// with the tube that does not belong.
#[test]
fn an_unlike_pair_shares_as_the_running_law_says() {
    let text = machine(
        "25.2V 2%",
        &["HEAVY", "LIGHT", "LIGHT"],
        "type HEAVY triode, like 6922\n    heater 12.6V 175mA\ntype LIGHT triode, like 6922\n    heater 12.6V 150mA\n",
        "string H1: from heat, V1, V2, back to ground\nstring H2: from heat, V3, R9 84 1% 5W, back to ground\n",
    );
    let reading = sound(&text);
    let verdict = check(reading.design.as_ref().unwrap(), &LIMITS, &CONTEXT);
    let [heavy, light, alone] = &verdict.heaters.readings[..] else {
        panic!("three heaters");
    };
    near(across(heavy), 11.0, 0.05);
    near(across(light), 14.2, 0.05);
    near(across(alone), 12.6, 1e-9);
    near(heavy.amps, light.amps, 1e-9);
    // Of two that differ neither is the usual one; the lower current is taken for it.
    assert_eq!(names(&verdict), ["heater-unlike V1"]);
    let cold = verdict.heaters.strings[0].cold_amps.unwrap();
    let hot_ohms = 12.6 / 0.175 + 12.6 / 0.15;
    for (amps, ratio) in cold.into_iter().zip([3.0, 6.0, 10.0]) {
        near(amps, 25.2 * ratio / hot_ohms, 1e-9);
    }
}

/// What the strings take from their supply is what their heaters and resistors give off (energy is kept).
#[test]
fn the_heat_of_strings_is_what_the_supply_gives() {
    let text = machine(
        "25.2V 2%",
        &["6922", "6922", "6922", "LIGHT", "DM"],
        "type LIGHT triode, like 6922\n    heater 6.3V 250mA\ntype DM triode, like 6922\n    heater 6.3V 100mA\n",
        "string H1: from heat, V1 to V3, V4 beside R91 127 1% 1W, back to ground\nstring H2: from heat, R92 189 1% 5W, V5, back to ground\n",
    );
    let reading = sound(&text);
    let design = reading.design.as_ref().unwrap();
    let verdict = check(design, &LIMITS, &CONTEXT);
    assert_eq!(names(&verdict), Vec::<String>::new());
    let power = power(&verdict);
    let heaters: f64 = power.heat.iter().map(|heat| heat.heater_watts).sum();
    let strings: f64 = verdict
        .heaters
        .strings
        .iter()
        .map(|string| 25.2 * string.amps.unwrap())
        .sum();
    near(heaters + power.string_resistor_watts, strings, 1e-9);
    // R92 carries 100 mA, R91 stands at 6.3 V (Ohm).
    near(
        power.string_resistor_watts,
        0.1 * 0.1 * 189.0 + 6.3 * 6.3 / 127.0,
        0.01,
    );
    near(strings, 25.2 * 0.4, 0.02);
    let heat = &power.rails[2];
    near(heat.most_amps, 0.4, 1e-3);
    // The next of IEC 60127 above one and a half times 400 mA; cold strings take more, so it must be slow.
    assert_eq!(heat.fuse, Fuse::Rated(0.63));
    assert!(heat.wants_time_lag());
    let upper = &power.rails[0];
    assert!(upper.least_amps.unwrap() < upper.most_amps);
    near(power.bleeder_watts, 36.0 * 36.0 / 22e3, 1e-12);
    assert!(36.0 / 22e3 < upper.least_amps.unwrap());
}

/// A string that ends on a gate's grid gets what the grid draws, 60 mA of the 300 that it wants by the law of the tube: the
/// heaters get lukewarm and no more, and nearly all of the volts are at the grid.
#[test]
fn a_string_that_ends_on_a_grid_gets_lukewarm() {
    let text = machine(
        "12.6V 2%",
        &["6922", "6922"],
        "",
        "string H1: from heat, V1, V2, back to G1.g1\n",
    );
    let reading = sound(&text);
    let verdict = check(reading.design.as_ref().unwrap(), &LIMITS, &CONTEXT);
    for reading in &verdict.heaters.readings {
        assert!(across(reading) < 0.1 * reading.rated_volts && reading.reach.is_none());
        let share = across(reading) / reading.amps.abs() / (6.3 / 0.3);
        assert!((1.0 / 6.0..0.4).contains(&share), "{share}");
        near(reading.amps, verdict.heaters.strings[0].amps.unwrap(), 1e-6);
    }
    assert!(names(&verdict).contains(&"heater-way-through-signal string H1".to_owned()));
}

/// 36 V and -24 V within 5 % are 63 V apart at most, above 60 V; a winding of 25.2 V rms within 2 % peaks at 36.4 V.
#[test]
fn spans_are_taken_at_the_ends_of_tolerances_and_at_peaks() {
    let text = machine(
        "25.2V 2% ac",
        &["6922", "6922", "6922", "6922", "6922"],
        "",
        "string H1: from heat, V1 to V4, back to ground\nstring H2: from upper, R9 180 1% 50W, V5, back to lower\n",
    );
    let reading = sound(&text);
    let design = reading.design.as_ref().unwrap();
    let safety = safety(design, 60.0);
    let span = |one: &str, other: &str| {
        let names = [one, other];
        let mut spans = safety.spans.iter();
        spans
            .find(|span| {
                span.between
                    .iter()
                    .all(|name| names.contains(&name.as_str()))
            })
            .unwrap()
    };
    near(span("upper", "lower").volts, 63.0, 1e-9);
    assert!(span("upper", "lower").is_above());
    let peak = 25.2 * 1.02 * std::f64::consts::SQRT_2;
    near(span("heat", "ground").volts, peak, 1e-9);
    assert!(!span("heat", "ground").is_above());
    near(span("heat", "upper").volts, 37.8 + peak, 1e-9);
    assert_eq!(safety.spans[0].between, ["upper", "heat"]);
    assert_eq!(safety.raised, ["H2"]);
    let stores: Vec<Option<f64>> = safety
        .stores
        .iter()
        .map(|rail| rail.store.map(|store| store.joules()))
        .collect();
    let [Some(upper), None] = stores[..] else {
        panic!("{stores:?}");
    };
    near(upper, 0.5 * 220e-6 * 37.8 * 37.8, 1e-12);
}

/// Two heaters of 6.3 V and 0.3 A leave 12.6 V of 25.2 V, 42 ohm, 43 of E24; three of them on 12.6 V want 6.3 V more than there
/// is; behind 10 ohm the resistor that is there is to be changed.
#[test]
fn what_brings_heaters_to_their_rating_is_computed() {
    let tries = |heat: &str, string: &str| {
        let tubes = ["6922", "6922", "6922", "6922", "6922"];
        let text = machine(heat, &tubes, "", string);
        let reading = sound(&text);
        let verdict = check(reading.design.as_ref().unwrap(), &LIMITS, &CONTEXT);
        verdict.heaters.findings[0].tries[0].clone()
    };
    let said = |heat, string, expected| {
        let tries = tries(heat, string);
        assert!(tries.contains(expected), "{tries}");
    };
    let dropped = "string H1: from heat, V1, V2, back to ground\n";
    said(
        "25.2V 0%",
        dropped,
        "Put a resistor of 43 Ω in the string; it takes 3.78 W",
    );
    let changed = "string H1: from heat, R1 10 5%, V1, V2, back to ground\n";
    said("25.2V 0%", changed, "Make R1 43 Ω");
    let fewer = "string H1: from heat, V1, V2, V3, back to ground\n";
    said(
        "12.6V 0%",
        fewer,
        "The heaters want 18.9 V and the string gets 12.6 V",
    );
}

/// Two rails that are dead each by itself may stand above the limit together, and stay so until both have fallen: 50 V
/// through 47 kilohm and 100 uF with -24 V through 22 kilohm and 220 uF, 77.7 V at the ends of 5 %, are 60 V apart where
/// 52.5 e^(-t/4.7) + 25.2 e^(-t/4.84) says so. Of two rails of one sign the slow one is left standing when the other is down.
#[test]
fn pairs_of_rails_fall_together() {
    let text = "valvewright format 1
rail lower -24V 5%, capacitor 220u, bleeder 22k
rail lamp 50V 5%, capacitor 100u, bleeder 47k
rail slow 90V 0%, capacitor 50u, bleeder 100k
rail quick 100V 0%, capacitor 1u, bleeder 1k
rail bare 10V 5%, capacitor 1u
";
    let reading = sound(text);
    let spans = safety(reading.design.as_ref().unwrap(), 60.0).spans;
    let seconds = |one: &str, other: &str| {
        let between = |span: &&network::safety::Span| {
            [one, other]
                .iter()
                .all(|name| span.between.iter().any(|side| side == name))
        };
        spans.iter().find(between).unwrap().seconds
    };
    let pair = seconds("lamp", "lower").unwrap();
    near(
        52.5 * (-pair / 4.7).exp() + 25.2 * (-pair / 4.84).exp(),
        60.0,
        1e-9,
    );
    near(seconds("slow", "quick").unwrap(), 5.0 * 1.5f64.ln(), 1e-6);
    near(seconds("slow", "ground").unwrap(), 5.0 * 1.5f64.ln(), 1e-9);
    near(seconds("lamp", "ground").unwrap(), 0.0, 1e-12);
    assert_eq!(seconds("bare", "ground"), None);
}

/// 300 V on 47 uF want 5 s / (47 uF ln 5) = 66.1 kilohm, next below 62 kilohm; 40 V and -40 V on 100 uF are dead each, and
/// together want 5 s / (100 uF ln(80/60)) = 173.8 kilohm each, next below 160 kilohm. A rail a hair above 60 V wants no more
/// than a megohm, and nothing where a bleeder stands that is quick enough.
#[test]
fn bleeders_are_proposed_where_they_are_wanted() {
    let wanted = |text: &str| {
        let reading = sound(&format!("valvewright format 1\n{text}"));
        let stores = safety(reading.design.as_ref().unwrap(), 60.0).stores;
        stores
            .iter()
            .map(|rail| rail.wanted_ohms)
            .collect::<Vec<_>>()
    };
    let value = |ohms: f64, found: Option<f64>| near(found.unwrap(), ohms, 1e-6);
    value(62e3, wanted("rail upper 300V 0%, capacitor 47u\n")[0]);
    let pair = wanted("rail upper 40V 0%, capacitor 100u\nrail lower -40V 0%, capacitor 100u\n");
    value(160e3, pair[0]);
    value(160e3, pair[1]);
    value(1e6, wanted("rail upper 60.01V 0%, capacitor 47u\n")[0]);
    for nothing in [
        "rail upper 40V 0%, capacitor 100u\n",
        "rail upper 60.01V 0%, capacitor 47u, bleeder 1k\n",
        "rail upper 300V 0%, capacitor 47u, bleeder 62k\n",
        "rail upper 40V 0%, capacitor 100u, bleeder 160k\nrail lower -40V 0%, capacitor 100u, bleeder 160k\n",
        "rail upper 300V 0%\n",
    ] {
        assert!(wanted(nothing).iter().all(Option::is_none), "{nothing}");
    }
}

/// A winding of 12.6 V rms that stands on 60 V swings its heaters between 42 and 78 V (the root of two times 12.6 V either
/// way), so they are that far above cathodes on ground; from the winding to ground there are 81 V at the tops.
#[test]
fn heaters_on_a_raised_winding_swing_round_its_foot() {
    let text = machine(
        "60V 5%\nrail winding 12.6V 0% ac, on heat",
        &["6922", "6922"],
        "",
        "string H1: from winding, V1, V2, back to heat\n",
    );
    let reading = sound(&text);
    let design = reading.design.as_ref().unwrap();
    let verdict = check(design, &LIMITS, &CONTEXT);
    let peak = std::f64::consts::SQRT_2 * 12.6;
    let first = &verdict.heaters.readings[0];
    near(first.end_volts().0, 60.0 - peak, 1e-9);
    near(first.end_volts().1, 60.0 + peak, 1e-9);
    near(across(first), 6.3, 1e-9);
    let apart = network::heaters::cathode::apart(&verdict.plan, first, &verdict.place.results);
    near(apart.unwrap().0, 60.0 + peak, 1e-6);
    let spans = safety(design, 60.0).spans;
    let span = spans
        .iter()
        .find(|span| span.between == ["winding", "ground"])
        .unwrap();
    near(span.volts, 63.0 + peak, 1e-9);
    // The direct rail beneath carries nothing of the heaters' current.
    near(power(&verdict).rails[2].most_amps, 0.0, 1e-9);
}

/// Two heaters of one supply that take both ends beyond 40 V from cathodes on ground are one mistake, and what moves to below
/// a cause or from there is neither new nor gone.
#[test]
fn heaters_that_one_supply_takes_too_far_are_one_mistake() {
    let text = |tubes: &[&str]| {
        machine(
            "53.1V 5%\nrail lift 46.8V 5%",
            tubes,
            "type TENDER triode, 2 sections, like 6922\n    limits: heater-cathode 40V\n",
            "string H1: from heat, V1, back to lift\nstring H2: from heat, V2, back to lift\n",
        )
    };
    let readings = [["TENDER", "TENDER"], ["TENDER", "6922"], ["6922", "TENDER"]]
        .map(|tubes| sound(&text(&tubes)));
    let [both, first, second] =
        [0, 1, 2].map(|index| check(readings[index].design.as_ref().unwrap(), &LIMITS, &CONTEXT));
    let [finding] = &both.findings[..] else {
        panic!("{:?}", both.findings);
    };
    assert_eq!(
        (finding.name, finding.subject.as_str()),
        ("heater-cathode-volts", "V1")
    );
    let below = &finding.consequences[0];
    assert_eq!(
        (below.name, below.subject.as_str()),
        ("heater-cathode-volts", "V2")
    );
    let subjects = |findings: &[Finding]| -> Vec<String> {
        let subjects = findings.iter().map(|finding| finding.subject.clone());
        subjects.collect()
    };
    for (after, gone) in [(&first, "V2"), (&second, "V1")] {
        let change = compare(&both, after);
        assert_eq!(subjects(&change.gone), [gone]);
        assert!(change.new.is_empty());
        assert_eq!(subjects(&compare(after, &both).new), [gone]);
    }
}

/// Volts of the plate of the first of four tubes with filaments of 1 V, with 10 k to `upper` and the input down at `down`;
/// `tube` says where 100 k from the input lead to, and how the tube is wired.
fn plate_of_filament(tube: &str, upper: f64, down: &str, string: &str) -> f64 {
    let text = format!(
        "valvewright format 1
rail upper {upper}V 5%
rail lower -3V 5%
rail heat 4V 1%
type BATTERY-TRIODE triode, like 6C4
    filament 1V 30mA
type BATTERY-PENTODE pentode, like 6AK5
    filament 1V 30mA
type BATTERY-DIODE vacuum diode
    filament 1V 30mA
    law diode: perveance 1m, knee 5
circuit lamp
    inputs a
    resistors 5%: R2 10k upper to p, R1 100k a to {tube}
units L 1 to 4, lamp, from V1
    all: a x
{string}
bench
    switches: x upper or {down}
"
    );
    let reading = sound(&text);
    let design = reading.design.as_ref().unwrap();
    let verdict = check(design, &LIMITS, &CONTEXT);
    let mut nodes = design.circuits[0].nodes.iter();
    let plate = nodes.position(|node| node.name == "p").unwrap();
    let rows = &verdict.place.results[0].rows;
    let down = rows.iter().find(|row| row.row.inputs == [false]).unwrap();
    down.volts[plate]
}

const AT_THE_TOP: &str = "string H1: from heat, V1 to V4, back to ground";
const AT_THE_BOTTOM: &str = "string H1: from heat, V2 to V4, V1, back to ground";

/// A filament part way up a string stands above ground, and that is bias: an indicator at the top of a string of four 1 V
/// filaments carries what one at the bottom carries with its grid and its plate rail 3 V lower (only differences count), and
/// so does every other tube that is heated directly.
#[test]
fn filaments_along_a_string_shift_their_bias() {
    for tube in [
        "g\n    tube V1 DM160: plate p, grid g, filament ground",
        "g\n    tube V1 BATTERY-TRIODE: plate p, grid g, filament ground",
        "g, R3 10k upper to s\n    tube V1 BATTERY-PENTODE: plate p, grid g, screen s, filament ground",
        "p\n    tube V1 BATTERY-DIODE: plate p, filament ground",
    ] {
        let amps = |upper: f64, down: &str, string: &str| {
            (upper - plate_of_filament(tube, upper, down, string)) / 10e3
        };
        let top = amps(45.0, "ground", AT_THE_TOP);
        let bottom = amps(45.0, "ground", AT_THE_BOTTOM);
        let shifted = amps(42.0, "lower", AT_THE_BOTTOM);
        // Not counted is the leak of 1e-12 S from every net.
        near(top / shifted, 1.0, 1e-5);
        assert!(top < 0.95 * bottom, "{tube}: {top} {bottom}");
    }
}

/// Sheets count the volts of a directly heated triode from the negative end of its filament, which at the bottom of a string
/// is ground: with 0 V at its grid it stands where its curve meets the load line, the same as where no string tells anything.
#[test]
fn the_curves_of_a_filament_count_from_its_negative_end() {
    let tube = "p\n    tube V1 BATTERY-TRIODE: plate p, grid ground, filament ground";
    let library = devices::library::Library::shipped();
    let Some(devices::types::Law::Triode(law)) = library.tube("6C4").unwrap().law else {
        panic!("a triode");
    };
    for string in [AT_THE_BOTTOM, ""] {
        let plate = plate_of_filament(tube, 45.0, "ground", string);
        let amps = (45.0 - plate) / 10e3 - plate / 100e3;
        near(amps, law.at(plate, 0.0).plate, 1e-9);
    }
}
