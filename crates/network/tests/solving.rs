//! The ways to a solution, lamps that are lit or dark, sources that are eliminated, and what does not settle.

use devices::diode::SILICON_1N4148_A;
use devices::neon::{NeonParameters, NeonState};
use devices::triode::{EHX_1, KOREN_12AU7, TriodeLaw};
use network::equations::Network;
use network::solve::{OperatingPoint, Outcome, Settings, Solver, Way};
use network::wiring::{ElementKind, GROUND, NodeIndex, Wiring};

const LEAK: f64 = 1e-12;

/// Strikes at 80 V, holds 55 V (common practice, no source: 65 to 90 V and 50 to 60 V).
const NEON: NeonParameters = NeonParameters {
    strike_volts: 80.0,
    maintain_volts: 55.0,
    lit_ohms: 1e3,
    hold_amps: 50e-6,
    dark_siemens: 1e-9,
};

fn solve(wiring: &Wiring, settings: &Settings) -> OperatingPoint {
    let network = Network::new(wiring.clone(), LEAK).unwrap();
    Solver::new(&network).operating_point(&network, None, None, settings)
}

/// A lamp in series with a resistor on a supply: the node between them, and the lamp.
fn lamp(supply_volts: f64, ohms: f64) -> (Wiring, NodeIndex, usize) {
    let mut wiring = Wiring::default();
    let (supply, node) = (wiring.node("supply", 0.0), wiring.node("lamp", 8e-12));
    wiring.hold("supply", supply, supply_volts);
    wiring.resistor("R1", supply, node, ohms);
    let lamp = wiring.element(
        "DS1",
        ElementKind::Neon {
            ends: [node, GROUND],
            law: NEON,
        },
    );
    (wiring, node, lamp)
}

/// Hand calculation: lit, i = (120 - 55) / (200k + 1k) = 0.3234 mA and 55.32 V; at 70 V it never strikes.
#[test]
fn a_neon_lamp_is_lit_only_where_it_strikes() {
    let (wiring, node, element) = lamp(120.0, 200e3);
    let point = solve(&wiring, &Settings::STANDARD);
    assert_eq!(point.lamps[element], NeonState::LitForward);
    assert!(
        (point.volts[node] - (55.0 + 65.0 / 201e3 * 1e3)).abs() < 1e-3,
        "{}",
        point.volts[node]
    );
    let (wiring, node, element) = lamp(70.0, 200e3);
    let point = solve(&wiring, &Settings::STANDARD);
    assert_eq!(point.lamps[element], NeonState::Dark);
    assert!(
        (point.volts[node] - 70.0).abs() < 0.1,
        "only leakage flows: {}",
        point.volts[node]
    );
}

/// A lit lamp stays lit below its striking voltage: the state it starts in decides, as on the bench.
#[test]
fn a_lit_lamp_stays_lit_below_striking() {
    let (wiring, _, element) = lamp(75.0, 200e3);
    let network = Network::new(wiring, LEAK).unwrap();
    let mut lamps = vec![NeonState::Dark; network.wiring.elements.len()];
    lamps[element] = NeonState::LitForward;
    let point =
        Solver::new(&network).operating_point(&network, None, Some(&lamps), &Settings::STANDARD);
    assert!(point.outcome.settled());
    assert_eq!(point.lamps[element], NeonState::LitForward);
}

/// Through 5 megohm the lamp strikes but cannot be held: neither state lasts, and the lamp is named.
#[test]
fn a_lamp_that_can_be_neither_lit_nor_dark_is_named() {
    let (wiring, _, _) = lamp(120.0, 5e6);
    let point = solve(&wiring, &Settings::STANDARD);
    assert_eq!(point.outcome, Outcome::LampsFlicker(vec!["DS1".to_owned()]));
}

/// A common-cathode stage with a diode at its input: some rounds from zero to its point of rest.
fn stage() -> Wiring {
    let mut wiring = Wiring::default();
    let [upper, lower, input, joint, grid, plate] =
        ["upper", "lower", "input", "joint", "grid", "plate"].map(|name| wiring.node(name, 8e-12));
    for (name, node, volts) in [
        ("upper", upper, 250.0),
        ("lower", lower, -100.0),
        ("input", input, 200.0),
    ] {
        wiring.hold(name, node, volts);
    }
    wiring.element(
        "CR1",
        ElementKind::Diode {
            anode: input,
            cathode: joint,
            law: SILICON_1N4148_A,
        },
    );
    wiring.resistor("R1", joint, grid, 560e3);
    wiring.resistor("R2", grid, lower, 1.5e6);
    wiring.resistor("R3", upper, plate, 82e3);
    let law = TriodeLaw::Tail(EHX_1);
    wiring.triode("V1", [plate, grid, GROUND], law);
    wiring
}

/// With too few rounds for the straight way the sources are stepped up, and lead to the same point.
#[test]
fn stepping_the_sources_leads_to_the_same_point() {
    let wiring = stage();
    let straight = solve(&wiring, &Settings::STANDARD);
    assert_eq!(straight.outcome, Outcome::Settled(Way::Straight));
    let rounds = (2..40).rev().find(|&rounds| {
        let few = Settings {
            rounds,
            ..Settings::STANDARD
        };
        solve(&wiring, &few).outcome != Outcome::Settled(Way::Straight)
    });
    let few = Settings {
        rounds: rounds.unwrap(),
        ..Settings::STANDARD
    };
    let stepped = solve(&wiring, &few);
    assert_eq!(stepped.outcome, Outcome::Settled(Way::SourcesStepped));
    for (left, right) in straight.volts.iter().zip(&stepped.volts) {
        assert!((left - right).abs() < 1e-5, "{left} and {right}");
    }
}

/// No rounds at all: the outcome names the nodes where the currents do not balance, worst first.
#[test]
fn what_does_not_settle_names_its_worst_nodes() {
    let hopeless = Settings {
        rounds: 1,
        steps: 1,
        ..Settings::STANDARD
    };
    let Outcome::NotSettled(worst) = solve(&stage(), &hopeless).outcome else {
        panic!("one round is never enough")
    };
    assert!(!worst.is_empty() && worst.len() <= 10);
    assert!(
        worst
            .windows(2)
            .all(|pair| pair[1].1.abs() <= pair[0].1.abs()),
        "{worst:?}"
    );
    assert!(
        ["joint", "grid", "plate"].contains(&worst[0].0.as_str()),
        "{worst:?}"
    );
}

/// A floating source between two resistors, by hand: 10 V over 1k + 4k is 2 mA round the loop.
#[test]
fn a_source_between_two_nodes_is_eliminated_and_its_current_known() {
    let mut wiring = Wiring::default();
    let (a, b) = (wiring.node("a", 0.0), wiring.node("b", 0.0));
    let source = wiring.element(
        "E1",
        ElementKind::Tie {
            plus: a,
            minus: b,
            volts: 10.0,
        },
    );
    wiring.resistor("R1", a, GROUND, 1e3);
    wiring.resistor("R2", GROUND, b, 4e3);
    let network = Network::new(wiring.clone(), LEAK).unwrap();
    assert_eq!(
        network.size(),
        1,
        "two nodes and one source leave one unknown"
    );
    let point = Solver::new(&network).operating_point(&network, None, None, &Settings::STANDARD);
    assert!(
        (point.volts[a] - 2.0).abs() < 1e-6 && (point.volts[b] + 8.0).abs() < 1e-6,
        "{:?}",
        point.volts
    );
    let amps = network.tie_amps(&point.volts, &point.lamps)[source].unwrap();
    assert!((amps - 2e-3).abs() < 1e-9, "{amps}");
}

/// A closed switch across a source: named with both voltages instead of a matrix without inverse.
#[test]
fn ties_that_contradict_one_another_are_named() {
    let mut wiring = Wiring::default();
    let a = wiring.node("a", 0.0);
    wiring.hold("rail", a, 36.0);
    let switch = wiring.element(
        "S1",
        ElementKind::Tie {
            plus: a,
            minus: GROUND,
            volts: 0.0,
        },
    );
    let clash = Network::new(wiring.clone(), LEAK).unwrap_err();
    assert_eq!(
        (clash.element, clash.wanted, clash.given),
        (switch, 0.0, 36.0)
    );
    // Two rails tied to the same volts agree: no clash.
    if let ElementKind::Tie { volts, .. } = &mut wiring.elements[switch].kind {
        *volts = 36.0;
    }
    assert!(Network::new(wiring, LEAK).is_ok());
}

/// A diode whose series resistance takes nearly all the volts, and a zener far beyond its knee, are found at once and not
/// crept up on. By hand: the zener (12 V at 5 mA, 10 ohm) on 112 V through 90 ohm carries about (112 - 12) / 100 = 1 A, so
/// it stands at about 22 V; its exact volts solve (112 - v) / 90 = (0.01/10) ln(1 + exp((v - 12 + k0) / 0.01)) with
/// k0 = 0.01 ln(e^5 - 1), which far beyond the knee is v = 12 - 0.05 + 10 i: v = (11.95 + 112 / 9) / (1 + 1 / 9).
#[test]
fn a_zener_far_beyond_its_knee_is_found_in_a_few_rounds() {
    let law = devices::diode::DiodeParameters {
        breakdown_volts: 12.0,
        breakdown_amps: 5e-3,
        breakdown_ohms: 10.0,
        ..SILICON_1N4148_A
    };
    let mut wiring = Wiring::default();
    let (supply, cathode) = (wiring.node("supply", 0.0), wiring.node("zener", 8e-12));
    wiring.hold("supply", supply, 112.0);
    wiring.resistor("R1", supply, cathode, 90.0);
    wiring.element(
        "VR1",
        ElementKind::Diode {
            anode: GROUND,
            cathode,
            law,
        },
    );
    let point = solve(&wiring, &Settings::STANDARD);
    assert_eq!(point.outcome, Outcome::Settled(Way::Straight));
    assert!(point.work.evaluations < 40, "{:?}", point.work);
    let expected = (11.95 + 112.0 / 9.0) / (1.0 + 1.0 / 9.0);
    assert!(
        (point.volts[cathode] - expected).abs() < 1e-3,
        "{} is not {expected}",
        point.volts[cathode]
    );
}

/// By hand: at 100 kV through 1 megohm a diode carries 0.1 A. The last place of 100 kV is 1.5e-11 V, which at its slope of
/// some siemens is more than the balance asked for: that must not keep it from settling. A rail that high is reached in
/// rounds of a tenth of it.
#[test]
fn a_diode_at_kilovolts_settles() {
    let mut wiring = Wiring::default();
    let [supply, anode, cathode] =
        ["supply", "anode", "cathode"].map(|name| wiring.node(name, 8e-12));
    wiring.hold("supply", supply, 100e3);
    wiring.resistor("R1", supply, anode, 10e3);
    wiring.element(
        "CR1",
        ElementKind::Diode {
            anode,
            cathode,
            law: SILICON_1N4148_A,
        },
    );
    wiring.resistor("R2", cathode, GROUND, 990e3);
    let point = solve(&wiring, &Settings::STANDARD);
    assert!(point.outcome.settled(), "{:?}", point.outcome);
    let drop = point.volts[anode] - point.volts[cathode];
    // 1.752 kT/e ln(0.1 A / 2.52 nA) + 0.1 A times 0.568 ohm.
    let expected = 1.752 * 0.025_852 * (0.1f64 / 2.52e-9).ln() + 0.0568;
    assert!((drop - expected).abs() < 2e-3, "{drop} is not {expected}");
    assert!((point.volts[cathode] - 99e3).abs() < 2.0);
}

/// Following time, the last resort, leads to the point that the straight way finds, from zero volts and from far beyond
/// the rails.
#[test]
fn pseudo_time_leads_to_the_same_point() {
    let mut wiring = Wiring::default();
    let [upper, grid, plate] = ["upper", "grid", "plate"].map(|name| wiring.node(name, 8e-12));
    wiring.hold("upper", upper, 150.0);
    wiring.resistor("R1", plate, grid, 470e3);
    wiring.resistor("R2", grid, GROUND, 33e3);
    wiring.resistor("R3", upper, plate, 47e3);
    let law = TriodeLaw::Koren(KOREN_12AU7);
    wiring.triode("V1", [plate, grid, GROUND], law);
    let network = Network::new(wiring, LEAK).unwrap();
    let mut solver = Solver::new(&network);
    let straight = solver.operating_point(&network, None, None, &Settings::STANDARD);
    for volts in [0.0, 900.0] {
        let start = vec![volts; network.wiring.nodes.len()];
        let followed =
            solver.settled_in_time(&network, &start, &straight.lamps, &Settings::STANDARD);
        assert!(followed.outcome.settled(), "from {volts} V");
        for (left, right) in straight.volts.iter().zip(&followed.volts) {
            assert!((left - right).abs() < 1e-5, "{left} and {right}");
        }
    }
}
