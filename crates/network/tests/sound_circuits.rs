//! Circuits made up at random from sound gates: all of them settle, and at every node the currents balance.
#![allow(clippy::unwrap_used, reason = "a test fails where it unwraps")]

use devices::diode::SILICON_1N4148_A;
use devices::triode::{EHX_1, KOREN_12AU7, TriodeLaw};
use network::equations::Network;
use network::scan::scan;
use network::solve::{Settings, Solver};
use network::wiring::{ElementKind, GROUND, NodeIndex, Wiring};

/// Numerical Recipes' quick 64-bit multiply-and-xorshift would do as well; this is the splitmix64 step
/// (Steele, Lea and Flood, OOPSLA 2014): a seed gives the same circuits on every machine.
struct Seeded(u64);

impl Seeded {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut bits = self.0;
        bits = (bits ^ (bits >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        bits = (bits ^ (bits >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        bits ^ (bits >> 31)
    }

    fn share(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low * (high / low).powf(self.share())
    }

    fn below(&mut self, count: usize) -> usize {
        (self.next() % count as u64) as usize
    }
}

struct Rails {
    upper: NodeIndex,
    lower: NodeIndex,
}

/// One diode gate: inputs through diodes to a joint, a divider to the lower rail, plate resistor to the upper one; now
/// and then a cathode follower after it or a cathode resistor. Values over two decades around those of working gates.
fn gate(
    wiring: &mut Wiring,
    seeded: &mut Seeded,
    rails: &Rails,
    inputs: &[NodeIndex],
) -> NodeIndex {
    let number = wiring.nodes.len();
    let [joint, grid, plate] =
        ["joint", "grid", "plate"].map(|name| wiring.node(format!("{name} {number}"), 8e-12));
    for &input in inputs {
        wiring.element(
            "CR",
            ElementKind::Diode {
                anode: input,
                cathode: joint,
                law: SILICON_1N4148_A,
            },
        );
    }
    let (r1, r2, load) = (
        seeded.between(1e5, 1e6),
        seeded.between(3e5, 3e6),
        seeded.between(1e4, 2e5),
    );
    wiring.resistor("R1", joint, grid, r1);
    wiring.resistor("R2", grid, rails.lower, r2);
    wiring.resistor("R3", rails.upper, plate, load);
    let law = if seeded.below(2) == 0 {
        TriodeLaw::Tail(EHX_1)
    } else {
        TriodeLaw::Koren(KOREN_12AU7)
    };
    let cathode = if seeded.below(6) == 0 {
        let cathode = wiring.node(format!("cathode {number}"), 8e-12);
        let ohms = seeded.between(100.0, 1e4);
        wiring.resistor("R4", cathode, GROUND, ohms);
        cathode
    } else {
        GROUND
    };
    wiring.element(
        "V",
        ElementKind::Triode {
            plate,
            grid,
            cathode,
            cathode_shift: 0.0,
            law,
            cold: false,
        },
    );
    if seeded.below(4) != 0 {
        return plate;
    }
    let out = wiring.node(format!("follower {number}"), 30e-12);
    let ohms = seeded.between(2e4, 3e5);
    wiring.resistor("R5", out, GROUND, ohms);
    wiring.element(
        "V",
        ElementKind::Triode {
            plate: rails.upper,
            grid: plate,
            cathode: out,
            cathode_shift: 0.0,
            law,
            cold: false,
        },
    );
    out
}

fn circuit(seeded: &mut Seeded) -> Wiring {
    let mut wiring = Wiring::default();
    let [upper, lower] = ["upper", "lower"].map(|name| wiring.node(name, 0.0));
    let (upper_volts, lower_volts) = (seeded.between(24.0, 300.0), -seeded.between(12.0, 150.0));
    wiring.hold("upper", upper, upper_volts);
    wiring.hold("lower", lower, lower_volts);
    let rails = Rails { upper, lower };
    let mut nets: Vec<NodeIndex> = (0..2)
        .map(|index| {
            let net = wiring.node(format!("input {index}"), 0.0);
            wiring.hold("input", net, upper_volts * (seeded.next() % 2) as f64);
            net
        })
        .collect();
    for _ in 0..1 + seeded.below(8) {
        let inputs: Vec<NodeIndex> = (0..1 + seeded.below(3))
            .map(|_| nets[seeded.below(nets.len())])
            .collect();
        let out = gate(&mut wiring, seeded, &rails, &inputs);
        nets.push(out);
    }
    wiring
}

/// 2 000 seeded circuits of one to eight gates: all settle, and at every node the currents, summed here from each
/// element on its own, balance to 1e-12 A plus 1e-9 of the largest branch current (Kirchhoff).
#[test]
fn two_thousand_sound_circuits_settle_and_balance() {
    let mut seeded = Seeded(1953);
    let leak = 1e-12;
    for number in 0..2000 {
        let wiring = circuit(&mut seeded);
        let network = Network::new(wiring.clone(), leak).unwrap();
        let point =
            Solver::new(&network).operating_point(&network, None, None, &Settings::STANDARD);
        assert!(
            point.outcome.settled(),
            "circuit {number}: {:?}",
            point.outcome
        );
        let mut sums: Vec<f64> = point.volts.iter().map(|volts| leak * volts).collect();
        let mut largest: f64 = 0.0;
        for (index, element) in wiring.elements.iter().enumerate() {
            let local = network.element_amps(index, &point.volts, &point.lamps);
            for (&node, amps) in element.kind.terminals().as_slice().iter().zip(local.amps) {
                sums[node] += amps;
                largest = largest.max(amps.abs());
            }
        }
        for (node, sum) in sums.iter().enumerate() {
            let free = network.unknown_of(node).is_some();
            assert!(
                !free || sum.abs() <= 1e-12 + 1e-9 * largest,
                "circuit {number}, {}: {sum} A left over",
                wiring.nodes[node].name
            );
        }
    }
}

/// Two identical gates cross-coupled: a symmetric point exists and is unstable, two mirror images of one another are
/// stable (the Eccles-Jordan property, from memory).
#[test]
fn identical_halves_have_a_balanced_point_that_no_circuit_stays_in() {
    let mut wiring = Wiring::default();
    let [upper, lower, left, right] =
        ["upper", "lower", "left", "right"].map(|name| wiring.node(name, 8e-12));
    wiring.hold("upper", upper, 150.0);
    wiring.hold("lower", lower, -150.0);
    for (plate, other, name) in [(left, right, "a"), (right, left, "b")] {
        let grid = wiring.node(format!("grid {name}"), 8e-12);
        wiring.resistor("R1", other, grid, 470e3);
        wiring.resistor("R2", grid, lower, 680e3);
        wiring.resistor("R3", upper, plate, 47e3);
        let law = TriodeLaw::Koren(KOREN_12AU7);
        wiring.element(
            "V",
            ElementKind::Triode {
                plate,
                grid,
                cathode: GROUND,
                cathode_shift: 0.0,
                law,
                cold: false,
            },
        );
    }
    let scan = scan(&wiring, 1e-12, left, (-150.0, 150.0), &Settings::STANDARD).unwrap();
    let rests: Vec<bool> = scan
        .solutions
        .iter()
        .map(|solution| solution.stability.rests())
        .collect();
    assert_eq!(rests, [true, false, true]);
    let volts = |solution: usize| {
        (
            scan.solutions[solution].point.volts[left],
            scan.solutions[solution].point.volts[right],
        )
    };
    // Mirror images and symmetry to the tolerance of the solution, far below any level.
    assert!((volts(0).0 - volts(2).1).abs() < 1e-5 && (volts(0).1 - volts(2).0).abs() < 1e-5);
    assert!((volts(1).0 - volts(1).1).abs() < 1e-5);
}
