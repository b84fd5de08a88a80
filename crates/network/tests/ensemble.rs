//! Many samples of one network: the same numbers in any lanes and on any threads, and no state swapped in silence.

use devices::diode::SILICON_1N4148_A;
use devices::neon::NeonParameters;
use devices::triode::{KOREN_12AU7, RSD_1, TriodeLaw, TriodeParameters};
use network::ensemble::{End, Ensemble, Sample, Solutions, Watch};
use network::equations::Network;
use network::solve::{OperatingPoint, Settings, Solver, Way};
use network::wiring::{ElementIndex, ElementKind, GROUND, NodeIndex, Wiring};
use numerics::lanes::select::Choice;

/// The splitmix64 step (Steele, Lea and Flood, OOPSLA 2014): a number from -1 to 1 for each sample and part.
fn spread(sample: usize, part: usize) -> f64 {
    let mut bits = (sample as u64)
        .wrapping_mul(0x9e37_79b9_7f4a_7c15)
        .wrapping_add((part as u64).wrapping_mul(0xd1b5_4a32_d192_ed03));
    bits = (bits ^ (bits >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    bits = (bits ^ (bits >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    ((bits ^ (bits >> 31)) >> 11) as f64 / (1u64 << 52) as f64 - 1.0
}

/// Six diode gates in a row, each with every kind of term in its tube's law.
fn chain() -> Network {
    let mut wiring = Wiring::default();
    let [upper, lower, mut input] = ["upper", "lower", "a"].map(|name| wiring.node(name, 0.0));
    wiring.hold("upper", upper, 36.0);
    wiring.hold("lower", lower, -24.0);
    wiring.hold("a", input, 0.0);
    let law = TriodeLaw::Tail(TriodeParameters {
        perveance: 8e-3,
        mu: 33.0,
        tail_fraction: 0.03,
        tail_mu: 16.0,
        partition_volts: 1.5,
        ..RSD_1
    });
    for gate in 0..6 {
        let [joint, grid, plate] =
            ["joint", "grid", "plate"].map(|name| wiring.node(format!("{name} {gate}"), 5e-12));
        for anode in [input, GROUND] {
            wiring.element(
                "CR",
                ElementKind::Diode {
                    anode,
                    cathode: joint,
                    law: SILICON_1N4148_A,
                },
            );
        }
        wiring.resistor("R1", joint, grid, 680e3);
        wiring.resistor("R2", grid, lower, 1.2e6);
        wiring.resistor("R3", upper, plate, 82e3);
        wiring.triode("V", [plate, grid, GROUND], law);
        input = plate;
    }
    Network::new(wiring, 1e-12).unwrap()
}

/// Every value of every part somewhere in its band.
fn vary(number: usize, sample: &mut Sample, elements: usize) {
    for element in 0..elements {
        let share = spread(number, element);
        if let Some(siemens) = sample.siemens(element) {
            *siemens /= 1.0 + 0.1 * share;
        } else if let Some(TriodeLaw::Tail(law)) = sample.triode(element) {
            law.perveance *= 1.0 + 0.4 * share;
            law.grid_perveance *= 1.0 + 0.4 * share;
            law.mu *= 1.0 + 0.1 * spread(number, element + 1000);
        } else if let Some(law) = sample.diode(element) {
            law.saturation_current *= 1.0 + 0.5 * share;
        } else if element < 2 {
            *sample.tie_volts(element) *= 1.0 + 0.05 * share;
        }
    }
}

fn on_threads(threads: usize, does: impl FnOnce() -> Solutions + Send) -> Solutions {
    rayon::ThreadPoolBuilder::new()
        .num_threads(threads)
        .build()
        .unwrap()
        .install(does)
}

fn at_rest(network: &Network) -> OperatingPoint {
    let point = Solver::new(network).operating_point(network, None, None, &Settings::STANDARD);
    assert!(point.outcome.settled());
    point
}

/// One lane or eight, one thread or two, a group filled up or not: the same bits, from near and from far.
#[test]
fn numbers_depend_on_neither_lanes_nor_threads() {
    let network = chain();
    let elements = network.wiring.elements.len();
    let near = at_rest(&network);
    let mut far = near.clone();
    far.volts.fill(0.0);
    let varied = |number: usize, sample: &mut Sample| vary(number, sample, elements);
    for start in [&near, &far] {
        let ensemble = Ensemble::new(&network, start, &[], &Settings::STANDARD);
        let one = on_threads(1, || ensemble.solve(515, Choice::one(), &varied));
        assert!(one.ends.iter().all(|end| *end == End::Settled));
        for &lanes in Choice::all() {
            for threads in [1, 2] {
                let other = on_threads(threads, || ensemble.solve(515, lanes, &varied));
                assert_eq!(one, other, "{} lanes, {threads} threads", lanes.lanes());
            }
        }
        assert_eq!(
            one.sample(300),
            ensemble
                .solve(1, Choice::widest(), &|_, sample: &mut Sample| varied(
                    300, sample
                ))
                .sample(0)
        );
    }
}

/// A sample is the network with these values: built anew and solved by itself it has the same volts. Both stand still to
/// 1e-7 V and 1e-9 relative, and one more step of Newton's method squares that; 1e-9 of the volts leaves a wide margin.
#[test]
fn a_sample_is_the_network_with_its_values() {
    let network = chain();
    let elements = network.wiring.elements.len();
    let start = at_rest(&network);
    let ensemble = Ensemble::new(&network, &start, &[], &Settings::STANDARD);
    let solutions = ensemble.solve(16, Choice::widest(), &|number, sample: &mut Sample| {
        vary(number, sample, elements);
    });
    for number in 0..16 {
        let mut wiring = network.wiring.clone();
        for (index, element) in wiring.elements.iter_mut().enumerate() {
            let share = spread(number, index);
            match &mut element.kind {
                ElementKind::Resistor { siemens, .. } => *siemens /= 1.0 + 0.1 * share,
                ElementKind::Triode {
                    law: TriodeLaw::Tail(law),
                    ..
                } => {
                    law.perveance *= 1.0 + 0.4 * share;
                    law.grid_perveance *= 1.0 + 0.4 * share;
                    law.mu *= 1.0 + 0.1 * spread(number, index + 1000);
                }
                ElementKind::Diode { law, .. } => law.saturation_current *= 1.0 + 0.5 * share,
                ElementKind::Tie { volts, .. } if index < 2 => *volts *= 1.0 + 0.05 * share,
                _ => {}
            }
        }
        let alone = at_rest(&Network::new(wiring, 1e-12).unwrap());
        for (own, other) in solutions.sample(number).iter().zip(&alone.volts) {
            assert!(
                (own - other).abs() <= 1e-9 * other.abs().max(1.0),
                "{own} {other}"
            );
        }
    }
}

/// Two gates across one another.
fn latch() -> (Network, [NodeIndex; 2], [ElementIndex; 2]) {
    let mut wiring = Wiring::default();
    let [upper, lower, left, right] =
        ["upper", "lower", "left", "right"].map(|name| wiring.node(name, 8e-12));
    wiring.hold("upper", upper, 150.0);
    wiring.hold("lower", lower, -150.0);
    let tubes = [(left, right, "a"), (right, left, "b")].map(|(plate, other, name)| {
        let grid = wiring.node(format!("grid {name}"), 8e-12);
        wiring.resistor("R1", other, grid, 470e3);
        wiring.resistor("R2", grid, lower, 680e3);
        wiring.resistor("R3", upper, plate, 47e3);
        wiring.triode("V", [plate, grid, GROUND], TriodeLaw::Koren(KOREN_12AU7))
    });
    (Network::new(wiring, 1e-12).unwrap(), [left, right], tubes)
}

/// A flip-flop of two like gates keeps the state that it was put in while its tubes are alike (the Eccles-Jordan property,
/// from memory), and loses it when the tube that should conduct hardly can: its plate then leaves its side of the divide.
/// Every sample that did so is reported, in any lanes, and no other.
#[test]
fn a_state_is_kept_or_reported_lost() {
    let (network, [left, right], tubes) = latch();
    for (down, up, conducting) in [(left, right, tubes[0]), (right, left, tubes[1])] {
        let mut guess = vec![0.0; network.wiring.nodes.len()];
        (guess[down], guess[up]) = (40.0, 120.0);
        let grids = network.wiring.nodes.iter().enumerate();
        for (grid, node) in grids.filter(|(_, node)| node.name.starts_with("grid")) {
            let conducts = (node.name == "grid a") == (down == left);
            guess[grid] = if conducts { 0.0 } else { -40.0 };
        }
        let mut solver = Solver::new(&network);
        let state = solver.operating_point(&network, Some(&guess), None, &Settings::STANDARD);
        assert!(state.outcome.settled() && state.volts[down] + 30.0 < state.volts[up]);
        let watches = [(down, false), (up, true)].map(|(node, above)| Watch {
            node,
            divide: f64::midpoint(state.volts[down], state.volts[up]),
            above,
        });
        let ensemble = Ensemble::new(&network, &state, &watches, &Settings::STANDARD);
        // Emission (kG1 divides the current) from that of the book down to a hundredth of it.
        let weaken = |number: usize, sample: &mut Sample| {
            if let Some(TriodeLaw::Koren(law)) = sample.triode(conducting) {
                law.kg1 *= 1.0 + number as f64;
            }
        };
        let all: Vec<Solutions> = Choice::all()
            .iter()
            .map(|&lanes| ensemble.solve(100, lanes, &weaken))
            .collect();
        assert!(all.iter().all(|other| *other == all[0]));
        let ends = &all[0].ends;
        assert_eq!(ends[0], End::Settled);
        let first_lost = ends.iter().position(|end| *end == End::StateLost).unwrap();
        for (number, end) in ends.iter().enumerate() {
            let volts = all[0].sample(number);
            let kept = matches!(end, End::Settled | End::SettledAlone(_));
            assert_eq!(kept, number < first_lost, "{number}: {end:?}");
            let on_its_side = |watch: &Watch| (watch.divide < volts[watch.node]) == watch.above;
            assert_eq!(kept, watches.iter().all(on_its_side), "{number}: {volts:?}");
        }
    }
}

/// A lamp that strikes in some samples and not in others: those that leave the common state of the lamps are solved by
/// themselves and end lit.
#[test]
fn a_lamp_that_strikes_is_solved_by_itself() {
    let mut wiring = Wiring::default();
    let [supply, lamp] = ["supply", "lamp"].map(|name| wiring.node(name, 0.0));
    wiring.hold("supply", supply, 70.0);
    wiring.resistor("R1", supply, lamp, 150e3);
    let law = NeonParameters {
        strike_volts: 80.0,
        maintain_volts: 60.0,
        lit_ohms: 1e3,
        hold_amps: 1e-5,
        dark_siemens: 1e-10,
    };
    let ends = [lamp, GROUND];
    wiring.element("DS1", ElementKind::Neon { ends, law });
    let network = Network::new(wiring, 1e-12).unwrap();
    let start = at_rest(&network);
    let ensemble = Ensemble::new(&network, &start, &[], &Settings::STANDARD);
    let solutions = ensemble.solve(40, Choice::widest(), &|number, sample: &mut Sample| {
        *sample.tie_volts(0) = 60.0 + number as f64;
    });
    for (number, end) in solutions.ends.iter().enumerate() {
        let supply_volts = 60.0 + number as f64;
        let strikes = 80.0 <= supply_volts * (1.0 - 150e3 * 1e-10);
        let expected = if strikes {
            End::SettledAlone(Way::Straight)
        } else {
            End::Settled
        };
        assert_eq!(*end, expected, "{supply_volts} V");
        let lit_volts = 60.0 + (supply_volts - 60.0) * 1e3 / 151e3;
        let volts = solutions.sample(number)[lamp];
        // The leak of 1 pS moves the lamp by some 10 uV.
        let exact = if strikes { lit_volts } else { supply_volts };
        assert!((volts - exact).abs() < 2e-3, "{supply_volts} V: {volts} V");
    }
}
