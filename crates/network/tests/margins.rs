//! Worst cases of levels, thresholds and margins: against networks solved independently, and against enumeration.

use crate::judging::{CONTEXT, LIMITS, sound};
use crate::random_circuits::Seeded;
use design::model::Design;
use network::ensemble::{Ensemble, Sample};
use network::equations::Network;
use network::judge::Level;
use network::margins::{ConnectionMargin, Margins, check};
use network::plan::{MemberIndex, Plan};
use network::scene::build;
use network::solve::{Settings, Solver};
use network::surroundings::Copies;
use network::variation::{Factor, SpreadAssumptions, apply, factors};
use network::verdict::Verdict;
use network::wiring::{ElementIndex, ElementKind, NodeIndex};
use numerics::lanes::select::Choice;

/// What the independent solver varied: perveance of plate and grid together ±25 %, mu and tail mu together ±10 %, each half by
/// itself, and nothing else of tubes and diodes.
const AS_SOLVED: SpreadAssumptions = SpreadAssumptions {
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
    for stage in 1..=4 {
        let before = stage - 1;
        text += &format!("unit S{stage} inverter: a n{before}, y n{stage}\n");
        text += &format!("unit D{stage} inverter: a n{stage}, y open\n");
        text += &format!("unit E{stage} inverter: a n{stage}, y open\n");
    }
    text + "unit LAST inverter: a n4, y open
bench
    switches: n0 upper or ground through 1k
"
}

fn judged<'a>(design: &'a Design, spread: &SpreadAssumptions) -> (Verdict<'a>, Margins) {
    let verdict = network::verdict::check(design, &LIMITS, &CONTEXT);
    let margins = check(&verdict, spread, &CONTEXT);
    (verdict, margins)
}

fn between<'a>(
    plan: &Plan,
    margins: &'a Margins,
    driver: &str,
    load: &str,
) -> &'a ConnectionMargin {
    let named = |member: MemberIndex, name: &str| plan.members[member].name == name;
    margins
        .connections
        .iter()
        .find(|connection| {
            let driven = connection
                .driver
                .is_some_and(|(member, _)| named(member, driver));
            driven && named(connection.load.0, load)
        })
        .unwrap()
}

/// Solved independently, our own (two recomputations agree "about"): gates of both schemes, three loads each, over all corners
/// of the parts with the loads' R1 and R2 at their ends and all corners of the rails. Levels and thresholds, V: 11.8, 32.0,
/// 56.0, 76.9 with margins 20.5 and 21.0 for ±120 V; 1.9, 8.4, 16.8, 24.5 with 6.5 and 7.9 for 36 V and -24 V. They are
/// printed with one decimal and differ between the recomputations, so 1 % of the swing is asked.
#[test]
fn both_schemes_have_the_worst_levels_and_margins_that_were_solved_independently() {
    let classic = chain(
        "120V",
        "-120V",
        ["560k", "1M5", "82k"],
        "perveance 5.384m, mu 83.16, exponent 1.097, knee 3, tail-fraction 93.23m, tail-mu 22.52, grid-perveance 1.483m, grid-exponent 1.314, grid-knee 9.901, partition-volts 2",
    );
    let low = chain(
        "36V",
        "-24V",
        ["680k", "1M2", "82k"],
        "perveance 8.171m, mu 33.16, exponent 1.371, knee 3, tail-fraction 57.93m, tail-mu 19.61, grid-perveance 2.251m, grid-exponent 1.314, grid-knee 9.901, partition-volts 2",
    );
    for (text, expected, swing) in [
        (classic, [11.8, 32.0, 56.0, 76.9, 20.5, 21.0], 65.0),
        (low, [1.9, 8.4, 16.8, 24.5, 6.5, 7.9], 22.6),
    ] {
        let design = sound(&text).design.unwrap();
        let (verdict, margins) = judged(&design, &AS_SOLVED);
        assert!(margins.settled && margins.unknown.is_empty() && margins.not_known.is_empty());
        let of = between(&verdict.plan, &margins, "S2", "S3");
        let found = [
            of.down.level,
            of.down.threshold,
            of.up.threshold,
            of.up.level,
            of.down.volts,
            of.up.volts,
        ];
        for (found, expected) in found.into_iter().zip(expected) {
            assert!(
                (found - expected).abs() < 0.01 * swing,
                "{found} for {expected}"
            );
        }
    }
}

/// A random machine of three gates in a row: what is judged stands between a driver and a load.
fn random_machine(seeded: &mut Seeded) -> String {
    const TUBES: [&str; 6] = ["12AT7", "6922", "5965", "6J6", "12AU7", "6SN7GT"];
    let upper = seeded.between(30.0, 200.0);
    let lower = seeded.between(20.0, 150.0);
    let tube = TUBES[seeded.below(TUBES.len())];
    let mut text = format!(
        "valvewright format 1\nrail upper {upper:.1}V 5%\nrail lower -{lower:.1}V 5%\ncircuit gate\n"
    );
    let inputs = 1 + seeded.below(2);
    let names = ["a", "b"];
    text += &format!("    inputs {}, output y\n", names[..inputs].join(" "));
    text += &format!("    y = not ({})\n", names[..inputs].join(" or "));
    let [plate, into, bias] = [(20e3, 200e3), (200e3, 1e6), (400e3, 3e6)]
        .map(|(low, high)| format!("{:.0}", seeded.between(low, high)));
    let tolerance = [1, 5, 10][seeded.below(3)];
    if seeded.below(3) == 0 {
        let summed: Vec<String> = (0..inputs)
            .map(|input| format!("R{} {into} {} to g1", 3 + input, names[input]))
            .collect();
        text += &format!(
            "    resistors {tolerance}%: R1 {bias} g1 to lower, R2 {plate} upper to y, {}\n",
            summed.join(", ")
        );
    } else {
        let diodes: Vec<String> = (0..inputs)
            .map(|input| format!("CR{} {} to join", 1 + input, names[input]))
            .collect();
        text += &format!(
            "    diodes 1N4148: {}\n    resistors {tolerance}%: R1 {bias} g1 to lower, R2 {plate} upper to y, R3 {into} join to g1\n",
            diodes.join(", ")
        );
    }
    text += &format!("    tube V1 half {tube}: plate y, grid g1, cathode ground\n");
    let other = |net: &str| {
        if inputs == 2 {
            format!(", b {net}")
        } else {
            String::new()
        }
    };
    text += &format!("unit FIRST gate: a in1{}, y one\n", other("in2"));
    text += &format!("unit SUBJECT gate: a one{}, y two\n", other("in3"));
    text += &format!("unit LAST gate: a two{}, y open\n", other("in4"));
    text += "bench\n    switches: in1 upper or ground through 10k";
    for net in (2..=4).filter(|_| inputs == 2) {
        text += &format!(", in{net} upper or ground through 10k");
    }
    text + "\n"
}

/// Every corner of up to so many factors is tried.
const ENUMERATED: usize = 12;

/// Settings of every corner, and some inside.
fn enumerated(seeded: &mut Seeded, count: usize) -> Vec<Vec<f64>> {
    let corners = (0..1usize << count).map(|bits| {
        let side = |place: usize| if bits >> place & 1 == 1 { 1.0 } else { -1.0 };
        (0..count).map(side).collect()
    });
    let mut all: Vec<Vec<f64>> = corners.collect();
    for _ in 0..64 {
        all.push((0..count).map(|_| 2.0 * seeded.share() - 1.0).collect());
    }
    all
}

/// A member with its loads at one corner, every input held by a source.
struct Held<'a> {
    plan: &'a Plan<'a>,
    margins: &'a Margins,
    corner: usize,
    member: MemberIndex,
    network: Network,
    feeds: Vec<(usize, ElementIndex)>,
    factors: Vec<Factor>,
    node: NodeIndex,
}

impl<'a> Held<'a> {
    fn new(
        plan: &'a Plan<'a>,
        margins: &'a Margins,
        corner: usize,
        members: &[MemberIndex],
    ) -> Self {
        let member = members[0];
        let inputs = plan.circuit(member).interface.inputs;
        let output = plan.members[member].nets[inputs];
        let held: Vec<usize> = members
            .iter()
            .flat_map(|&other| {
                let inputs = plan.circuit(other).interface.inputs;
                plan.members[other].nets[..inputs].to_vec()
            })
            .filter(|net| *net != output)
            .collect();
        let mut scene = build(plan, &Copies::each(members), &held, &CONTEXT.assumptions);
        for (net, tie) in &scene.rails {
            let rails = &plan.design.rails;
            let rail = rails.iter().position(|rail| rail.net.0 == *net).unwrap();
            if let ElementKind::Tie { volts, .. } = &mut scene.wiring.elements[*tie].kind {
                *volts = margins.corners[corner].volts[rail];
            }
        }
        Self {
            plan,
            margins,
            corner,
            member,
            factors: factors(plan, &scene, &AS_SOLVED),
            node: scene.nets[&output],
            feeds: scene
                .feeds
                .iter()
                .map(|(net, feed)| (*net, feed.tie))
                .collect(),
            network: Network::new(scene.wiring, CONTEXT.assumptions.leak_siemens).unwrap(),
        }
    }

    /// Volts of the output for each of some settings and volts of the first input, the member's other inputs at the levels of
    /// `row`, those of its loads all down or all up.
    fn output(&mut self, row: usize, loads_up: bool, points: &[(&[f64], Option<f64>)]) -> Vec<f64> {
        let inputs = self.plan.circuit(self.member).interface.inputs;
        let own = &self.plan.members[self.member].nets[..inputs];
        let mut first = None;
        for &(net, tie) in &self.feeds {
            let place = own.iter().position(|own| *own == net);
            let up = place.map_or(loads_up, |place| row >> place & 1 == 1);
            let known = self.margins.levels[self.corner][&net];
            self.network
                .set_tie(tie, if up { known.up } else { known.down });
            if place == Some(0) {
                first = Some(tie);
            }
        }
        let settings = Settings::STANDARD;
        let rest = Solver::new(&self.network).operating_point(&self.network, None, None, &settings);
        assert!(rest.outcome.settled());
        let ensemble = Ensemble::new(&self.network, &rest, &[], &settings);
        let vary = |number: usize, sample: &mut Sample| {
            apply(&self.factors, points[number].0, sample);
            if let (Some(tie), Some(volts)) = (first, points[number].1) {
                *sample.tie_volts(tie) = volts;
            }
        };
        let solutions = ensemble.solve(points.len(), Choice::widest(), &vary);
        let volts = (0..points.len()).map(|number| solutions.sample(number)[self.node]);
        volts.collect()
    }

    /// The steepest slope at some volts of the first input, all other inputs down, over some settings.
    fn steepest(&mut self, volts: f64, settings: &[Vec<f64>]) -> f64 {
        let step = 5e-3;
        let points: Vec<(&[f64], Option<f64>)> = settings
            .iter()
            .flat_map(|settings| {
                [volts - step, volts + step].map(|volts| (settings.as_slice(), Some(volts)))
            })
            .collect();
        let out = self.output(0, false, &points);
        let slopes = out
            .chunks(2)
            .map(|pair| (pair[1] - pair[0]).abs() / (2.0 * step));
        slopes.fold(0.0, f64::max)
    }
}

/// Random machines that work at book values and in which SUBJECT with its load has few enough factors, each with one corner of
/// the rails.
fn audited(count: usize, audit: impl Fn(&mut Seeded, &str, &Verdict, &Margins, usize)) {
    let mut seeded = Seeded(1954);
    let mut done = 0;
    while done < count {
        let text = random_machine(&mut seeded);
        let design = sound(&text).design.unwrap();
        let (verdict, margins) = judged(&design, &AS_SOLVED);
        let works = margins
            .connections
            .iter()
            .all(|connection| 0.0 < connection.down.book_volts && 0.0 < connection.up.book_volts);
        if works && Held::new(&verdict.plan, &margins, 0, &[1, 2]).factors.len() <= ENUMERATED {
            let corner = seeded.below(margins.corners.len());
            audit(&mut seeded, &text, &verdict, &margins, corner);
            done += 1;
        }
    }
}

/// Two hundred random gates with up to twelve varying parts: at a corner of the rails every corner of the parts and 64 points
/// inside are solved with the gate's inputs at the same levels. Nothing is worse than what was reported, and what was reported
/// is met: to 1e-4 V, a hundred times what two solutions of one network may differ by.
#[test]
fn no_setting_of_two_hundred_random_gates_is_worse_than_the_level_reported() {
    audited(200, |seeded, text, verdict, margins, corner| {
        let plan = &verdict.plan;
        let mut held = Held::new(plan, margins, corner, &[1, 2]);
        let settings = enumerated(seeded, held.factors.len());
        let points: Vec<(&[f64], Option<f64>)> = settings
            .iter()
            .map(|settings| (settings.as_slice(), None))
            .collect();
        let inputs = plan.circuit(1).interface.inputs;
        let mut brute = Level {
            down: f64::NEG_INFINITY,
            up: f64::INFINITY,
        };
        for row in 0..1usize << inputs {
            for loads_up in [false, true] {
                for volts in held.output(row, loads_up, &points) {
                    if row == 0 {
                        brute.up = brute.up.min(volts);
                    } else {
                        brute.down = brute.down.max(volts);
                    }
                }
            }
        }
        let reported = margins.levels[corner][&plan.members[1].nets[inputs]];
        let near =
            (reported.down - brute.down).abs() < 1e-4 && (reported.up - brute.up).abs() < 1e-4;
        assert!(
            near,
            "{reported:?} was reported and {brute:?} met at {corner} of\n{text}"
        );
    });
}

/// The same gates: at input volts outside the thresholds reported, by a thousandth of the highest rail and more, no corner of
/// the parts and none of 64 points inside has a slope of one, and as far inside some has.
#[test]
fn no_setting_of_two_hundred_random_gates_amplifies_outside_the_thresholds_reported() {
    audited(200, |seeded, text, verdict, margins, corner| {
        let Some(&(low, high)) = margins.thresholds[corner].get(&(2, 0)) else {
            return;
        };
        let mut held = Held::new(&verdict.plan, margins, corner, &[2]);
        let settings = enumerated(seeded, held.factors.len());
        let step = 1e-3
            * margins.corners[corner]
                .volts
                .iter()
                .copied()
                .fold(0.0, f64::max);
        // Beyond the supplies nothing can stand.
        let rails = &margins.corners[corner].volts;
        if low < rails[1] || rails[0] < high {
            return;
        }
        for away in [1.0, 4.0, 16.0, 64.0] {
            for (volts, side) in [(low - away * step, "low"), (high + away * step, "high")] {
                let steepest = held.steepest(volts, &settings);
                assert!(
                    steepest < 1.0,
                    "{steepest} at {volts}, {away} steps beyond the {side} threshold of {low} and {high} at {corner} of\n{text}"
                );
            }
        }
        for volts in [low + step, high - step] {
            let steepest = held.steepest(volts, &settings);
            assert!(
                1.0 < steepest,
                "{steepest} at {volts}, {low} to {high}, {corner} of\n{text}"
            );
        }
    });
}
