use devices::diode::SILICON_1N4148_A;
use devices::triode::{RSD_1, TriodeLaw, TriodeParameters};
use network::ensemble::{Ensemble, Sample};
use network::equations::Network;
use network::solve::{Settings, Solver};
use network::wiring::{ElementKind, GROUND, Wiring};
use numerics::lanes::select::Choice;

fn main() {
    let mut wiring = Wiring::default();
    let upper = wiring.node("upper", 0.0);
    let lower = wiring.node("lower", 0.0);
    let a = wiring.node("a", 0.0);
    wiring.hold("upper", upper, 36.0);
    wiring.hold("lower", lower, -24.0);
    wiring.hold("a", a, 0.0);
    let law = TriodeLaw::Tail(TriodeParameters {
        tail_fraction: std::env::var("TAIL").map_or(0.0, |v| v.parse().unwrap()),
        tail_mu: 15.0,
        perveance: 8e-3,
        mu: 33.0,
        partition_volts: std::env::var("PART").map_or(0.0, |v| v.parse().unwrap()),
        ..RSD_1
    });
    let mut outputs = vec![a, GROUND];
    for g in 0..10 {
        let join = wiring.node(format!("j{g}"), 5e-12);
        let grid = wiring.node(format!("g{g}"), 5e-12);
        let plate = wiring.node(format!("p{g}"), 5e-12);
        let ins = [
            outputs[outputs.len() - 1],
            outputs[outputs.len() - 2],
            GROUND,
        ];
        for (k, i) in ins.into_iter().enumerate() {
            // odd ones see only the previous
            let i = if k == 1 && g % 2 == 1 { GROUND } else { i };
            wiring.element(
                format!("CR{g}{k}"),
                ElementKind::Diode {
                    anode: i,
                    cathode: join,
                    law: SILICON_1N4148_A,
                },
            );
        }
        wiring.resistor("R1", join, grid, 680e3);
        wiring.resistor("R2", grid, lower, 1.2e6);
        wiring.resistor("R3", upper, plate, 82e3);
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
        outputs.push(plate);
    }
    let network = Network::new(wiring, 1e-12).unwrap();
    println!("unknowns {}", network.size());
    let mut solver = Solver::new(&network);
    let warm = solver.operating_point(&network, None, None, &Settings::STANDARD);
    println!("{:?} {:?}", warm.outcome, warm.work);
    let mut cold = warm.clone();
    cold.volts.fill(0.0);
    let kinds: Vec<ElementKind> = network
        .wiring
        .elements
        .iter()
        .map(|e| e.kind.clone())
        .collect();
    let vary = |n: usize, s: &mut Sample| {
        let mut seed = n as u64 * 0x9E37_79B9_7F4A_7C15 + 12345;
        let mut r = || {
            seed ^= seed << 13;
            seed ^= seed >> 7;
            seed ^= seed << 17;
            (seed >> 11) as f64 / (1u64 << 53) as f64 * 2.0 - 1.0
        };
        for (e, k) in kinds.iter().enumerate() {
            match k {
                ElementKind::Resistor { .. } => *s.siemens(e).unwrap() /= 1.0 + 0.05 * r(),
                ElementKind::Triode { .. } => {
                    if let Some(TriodeLaw::Tail(l)) = s.triode(e) {
                        let f = 1.0 + 0.2 * r();
                        l.perveance *= f;
                        l.grid_perveance *= f;
                        l.mu *= 1.0 + 0.05 * r();
                    }
                }
                ElementKind::Diode { .. } => {
                    s.diode(e).unwrap().saturation_current *= 1.0 + 0.5 * r()
                }
                ElementKind::Tie { .. } => *s.tie_volts(e) *= 1.0 + 0.02 * r(),
                _ => {}
            }
        }
    };
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(1)
        .build()
        .unwrap();
    let count = 8192;
    for (name, start) in [("warm", &warm), ("cold", &cold)] {
        let ensemble = Ensemble::new(&network, start, &[], &Settings::STANDARD);
        let mut base = None;
        for choice in Choice::all() {
            let mut best = f64::MAX;
            let mut s = None;
            for _ in 0..5 {
                let t = std::time::Instant::now();
                s = Some(pool.install(|| ensemble.solve(count, *choice, &vary)));
                best = best.min(t.elapsed().as_secs_f64());
            }
            let s = s.unwrap();
            let alone = s
                .ends
                .iter()
                .filter(|e| **e != network::ensemble::End::Settled)
                .count();
            let same = base
                .as_ref()
                .is_none_or(|b: &network::ensemble::Solutions| b.volts == s.volts);
            println!(
                "{name} {} lanes: {:.0}/s  evaluations {:.2} alone {alone} same {same}",
                choice.lanes(),
                count as f64 / best,
                s.evaluations as f64 / count as f64
            );
            base.get_or_insert(s);
        }
    }
}
