//! Worst cases of levels, thresholds and margins: against networks solved independently, and against enumeration.

use crate::judging::solved::{AS_SOLVED, law};
use crate::judging::{CONTEXT, LIMITS, sound};
use crate::random_circuits::Seeded;
use design::model::{CircuitId, Design};
use network::ensemble::{Ensemble, Sample};
use network::equations::Network;
use network::fan::FanRow;
use network::judge::Level;
use network::margins::alone::{AloneMargins, AloneRow, Ground, alone_cases, alone_margins};
use network::margins::cases::case_in_words;
use network::margins::choosing::{Free, Wanted, choose};
use network::margins::marginal::moved_rails;
use network::margins::mending::{self, Remedy};
use network::margins::tallies::{Block, Counts, Outcomes, Share, Tally};
use network::margins::yields::{Drawing, SCRAMBLES, Yields};
use network::margins::{ConnectionMargin, Margins, check};
use network::plan::{MemberIndex, Plan};
use network::scene::build;
use network::solve::{Settings, Solver};
use network::surroundings::Copies;
use network::variation::{Factor, Piece, Quantity, SpreadAssumptions, apply, factors};
use network::verdict::Verdict;
use network::wiring::{ElementIndex, ElementKind, NodeIndex};
use numerics::lanes::select::Choice;
use std::collections::BTreeMap;
use std::sync::atomic::AtomicBool;

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

/// A design judged, and its worst case.
pub fn judged<'a>(design: &'a Design, spread: &SpreadAssumptions) -> (Verdict<'a>, Margins) {
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
    let classic = chain("120V", "-120V", ["560k", "1M5", "82k"], &law("12AT7"));
    let low = chain("36V", "-24V", ["680k", "1M2", "82k"], &law("6922"));
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

/// Gates that add their inputs through resistors, everything exact: what is to spare by the book is what the worst case leaves, in
/// the machine and alone. Solved apart, with the law and the junction written down anew and by halving alone: of `A.y` to `B.a`,
/// `k` at ground and at 36 V, 6.799 V when down (the threshold 11.714 V, the level 4.915 V) and 11.759 V when up; as much when down
/// of `k` to `B.b`, since only the sum of both counts. With the other input at the down level of a gate of its kind, where a switch
/// to ground stands, 1.88 V would be left of the first.
#[test]
fn an_adding_gate_has_by_the_book_what_its_worst_case_leaves_where_nothing_moves() {
    let text = "valvewright format 1
rail upper 36V 0%
rail lower -20V 0%
circuit nor2
    inputs a b, output y
    y = not (a or b)
    resistors 0%: R1 680k a to g1, R4 680k b to g1, R2 680k g1 to lower, R3 82k upper to y
    tube V1 half 12AU7-KOREN: plate y, grid g1, cathode ground
unit A nor2: a i, b j, y p
unit B nor2: a p, b k, y q
bench
    switches: i upper or ground, j upper or ground, k upper or ground
    loads: q 1M to ground
lot 12AU7-KOREN: current 100% to 100%, mu 100% to 100%, cut-off 0V, aged to 100%, reverse 0A
";
    let design = sound(text).design.unwrap();
    let (verdict, margins) = judged(&design, &AS_SOLVED);
    let of = between(&verdict.plan, &margins, "A", "B");
    assert!((of.down.book_volts - 6.799).abs() < 2e-3, "{:?}", of.down);
    assert!((of.up.book_volts - 11.759).abs() < 2e-3, "{:?}", of.up);
    let other = margins.connections.iter();
    let mut other = other.filter(|other| other.driver.is_none() && other.load.0 == of.load.0);
    assert!((other.next().unwrap().down.book_volts - 6.799).abs() < 2e-3);
    let alone = alone_cases(&verdict, &[CircuitId(0)], &AS_SOLVED, &CONTEXT);
    let all = margins.connections.iter();
    for connection in all.chain(&alone[0].margins.connections) {
        for side in [&connection.down, &connection.up] {
            // Two solutions of one network.
            assert!((side.volts - side.book_volts).abs() < 1e-3, "{side:?}");
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

/// Every corner of up to so many factors is tried; of twelve, four times as many, in fewer machines.
const OFTEN: usize = 10;
const SELDOM: usize = 12;

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

    /// Nets that feed it from outside and have a level furthest the other way.
    fn free(&self) -> Vec<usize> {
        let turned = &self.margins.turned[self.corner];
        let nets = self.feeds.iter().map(|(net, _)| *net);
        nets.filter(|net| turned.contains_key(net)).collect()
    }

    /// Volts of the output for each of some settings and volts of the first input, the member's other inputs at the levels of
    /// `row`, those of its loads all down or all up; each net of [`Held::free`] at the end that a bit of `ends` says.
    fn output(
        &mut self,
        row: usize,
        loads_up: bool,
        ends: usize,
        points: &[(&[f64], Option<f64>)],
    ) -> Vec<f64> {
        let free = self.free();
        let inputs = self.plan.circuit(self.member).interface.inputs;
        let own = &self.plan.members[self.member].nets[..inputs];
        let mut first = None;
        for &(net, tie) in &self.feeds {
            let place = own.iter().position(|own| *own == net);
            let up = place.map_or(loads_up, |place| row >> place & 1 == 1);
            let end = free.iter().position(|free| *free == net);
            let known = if end.is_some_and(|end| ends >> end & 1 == 1) {
                self.margins.turned[self.corner][&net]
            } else {
                self.margins.levels[self.corner][&net]
            };
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
        let count = self.free().len();
        let mut steepest = |ends: usize| {
            let out = self.output(0, false, ends, &points);
            let slopes = out
                .chunks(2)
                .map(|pair| (pair[1] - pair[0]).abs() / (2.0 * step));
            slopes.fold(0.0, f64::max)
        };
        (0..1usize << count).map(&mut steepest).fold(0.0, f64::max)
    }
}

/// Random machines that work at book values and in which SUBJECT with its load has at most so many factors, each audited at one
/// corner of the rails.
fn audited(count: usize, most: usize) {
    let mut seeded = Seeded(1954);
    let mut done = 0;
    while done < count {
        let text = random_machine(&mut seeded);
        let design = sound(&text).design.unwrap();
        let verdict = network::verdict::check(&design, &LIMITS, &CONTEXT);
        let spare = |spare: Option<f64>| spare.is_some_and(|volts| 0.0 < volts);
        let works = verdict
            .connections
            .iter()
            .all(|connection| spare(connection.spare_down()) && spare(connection.spare_up()));
        let scene = build(
            &verdict.plan,
            &Copies::each(&[1, 2]),
            &[],
            &CONTEXT.assumptions,
        );
        if !works || most < factors(&verdict.plan, &scene, &AS_SOLVED).len() {
            continue;
        }
        let margins = check(&verdict, &AS_SOLVED, &CONTEXT);
        let corner = seeded.below(margins.corners.len());
        audit_level(&mut seeded, &text, &verdict, &margins, corner);
        audit_thresholds(&mut seeded, &text, &verdict, &margins, corner);
        done += 1;
    }
}

/// Two hundred random gates, most with up to ten varying parts and some with up to twelve: at a corner of the rails every corner of
/// the parts and 64 points inside are solved, with every net that feeds them at its worst level and, where that was taken to do
/// more harm, furthest the other way. Nothing is worse than what was reported.
#[test]
fn no_setting_of_two_hundred_random_gates_is_worse_than_was_reported() {
    audited(185, OFTEN);
    audited(15, SELDOM);
}

/// The gate's inputs stand at the same levels. What was reported is met, to 1e-4 V: a hundred times what two solutions of one
/// network may differ by.
fn audit_level(
    seeded: &mut Seeded,
    text: &str,
    verdict: &Verdict,
    margins: &Margins,
    corner: usize,
) {
    let plan = &verdict.plan;
    let mut held = Held::new(plan, margins, corner, &[1, 2]);
    let settings = enumerated(seeded, held.factors.len());
    let points: Vec<(&[f64], Option<f64>)> = settings
        .iter()
        .map(|settings| (settings.as_slice(), None))
        .collect();
    let inputs = plan.circuit(1).interface.inputs;
    let free = held.free().len();
    let mut brute = Level {
        down: f64::NEG_INFINITY,
        up: f64::INFINITY,
    };
    for row in 0..1usize << inputs {
        for (loads_up, ends) in [false, true]
            .into_iter()
            .flat_map(|up| (0..1usize << free).map(move |ends| (up, ends)))
        {
            for volts in held.output(row, loads_up, ends, &points) {
                if row == 0 {
                    brute.up = brute.up.min(volts);
                } else {
                    brute.down = brute.down.max(volts);
                }
            }
        }
    }
    let reported = margins.levels[corner][&plan.members[1].nets[inputs]];
    let near = (reported.down - brute.down).abs() < 1e-4 && (reported.up - brute.up).abs() < 1e-4;
    assert!(
        near,
        "{reported:?} was reported and {brute:?} met at {corner} of\n{text}"
    );
}

/// At input volts outside the thresholds reported, by a thousandth of the highest rail and more, no corner of the parts and none of
/// 64 points inside has a slope of one; sixteen times as far inside some has.
fn audit_thresholds(
    seeded: &mut Seeded,
    text: &str,
    verdict: &Verdict,
    margins: &Margins,
    corner: usize,
) {
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
    // The search looks inside the bands too (of mu, say: more of it amplifies more, but lower down), where enumerated corners do
    // not, so it may lie a little further out.
    for volts in [low + 16.0 * step, high - 16.0 * step] {
        let steepest = held.steepest(volts, &settings);
        assert!(
            1.0 < steepest,
            "{steepest} at {volts}, {low} to {high}, {corner} of\n{text}"
        );
    }
}

/// A gate of each scheme alone, with none to three loads, its smallest margin by tube. Solved independently, our own: the order of
/// the tubes, best first. That table's own volts belong to another definition of the thresholds (their printed levels are open);
/// under "loads from none to all" the next test settles them.
#[test]
fn tubes_stand_in_the_order_that_was_solved_independently() {
    let classic = ["12AT7", "6J6", "5965", "5718", "6SN7GT", "5963", "12AU7"];
    let larger = ["6J6", "5965", "12AT7", "5718", "6SN7GT", "5963", "12AU7"];
    let low = ["12AT7", "6922", "5965", "6J6", "5963"];
    let gates: [(&str, &str, [&str; 3], &[&str]); 3] = [
        ("120V", "-120V", ["560k", "1M5", "82k"], &classic),
        ("150V", "-150V", ["680k", "1M5", "82k"], &larger),
        ("36V", "-24V", ["680k", "1M2", "82k"], &low),
    ];
    for (upper, lower, ohms, order) in gates {
        let margins: Vec<f64> = order
            .iter()
            .map(|tube| {
                alone(upper, lower, ohms, tube)
                    .up_to(3)
                    .map_or(-1e3, AloneRow::smallest)
            })
            .collect();
        assert!(
            margins.is_sorted_by(|left, right| left >= right),
            "{order:?} {margins:?} at {upper}"
        );
    }
}

fn alone(upper: &str, lower: &str, ohms: [&str; 3], tube: &str) -> AloneMargins {
    let design = sound(&chain(upper, lower, ohms, &law(tube)))
        .design
        .unwrap();
    alone_margins(
        &Ground::of(&design, CircuitId(0), &CONTEXT),
        CircuitId(0),
        1..=8,
        &AS_SOLVED,
        &CONTEXT,
    )
    .unwrap()
}

/// The worst case that is named of a circuit alone is the one whose margin `choose` and `serves` go by, and its parts and rails
/// stand in it: without a unit, with as many loads as its jig hangs there.
#[test]
fn the_case_named_of_a_circuit_alone_is_the_one_that_was_found() {
    let text = "valvewright format 1
rail upper 36V 5%
rail lower -24V 5%
circuit inverter
    input a, output y
    y = not a
    diodes 1N4148: CR1 a to join
    resistors 5%: R1 680k join to g, R2 1M2 g to lower, R3 82k upper to y
    tube V1 half 6922: plate y, grid g, cathode ground
jig inverter
    loads: y 3 inverter
lot 6922: current 75% to 125%, aged to 75%
";
    let design = sound(text).design.unwrap();
    let verdict = network::verdict::check(&design, &LIMITS, &CONTEXT);
    let found = alone_cases(&verdict, &[CircuitId(0)], &AS_SOLVED, &CONTEXT);
    let case = &found[0];
    assert_eq!(case.loads, 3);
    let ground = Ground::of(&design, CircuitId(0), &CONTEXT);
    let rows = alone_margins(&ground, CircuitId(0), [3], &AS_SOLVED, &CONTEXT).unwrap();
    let row = rows.up_to(3).unwrap();
    let connection = &case.margins.connections[0];
    for (named, known) in [
        (connection.down.volts, row.spare_down),
        (connection.up.volts, row.spare_up),
    ] {
        assert!((named - known).abs() < 1e-3, "{named} {known}");
    }
    // A level that is high comes of a weak tube or a small plate resistor, a threshold that is low of a small divider.
    let words = case_in_words(&case.plan, &case.margins, &connection.down);
    assert!(words.contains("R1 of load 1 of y low"), "{words}");
    assert!(
        words.contains("R1 of load 1 of y") && words.contains("low"),
        "{words}"
    );
    assert!(words.contains("upper 37.8 V, lower −22.8 V"), "{words}");
    // By the book as many volts are to spare as `loads` prints for none or three, whichever is less.
    let fan = network::fan::fan_out(&design, CircuitId(0), &verdict.alone, &CONTEXT);
    let book = [0, 3].map(|count| fan.rows[count]);
    let least = |spare: fn(&FanRow) -> f64| book.iter().map(spare).fold(f64::INFINITY, f64::min);
    for (named, known) in [
        (connection.down.book_volts, least(|row| row.spare_down)),
        (connection.up.book_volts, least(|row| row.spare_up)),
    ] {
        // Thresholds of the book are known to a tenth of a volt.
        assert!((named - known).abs() < 0.15, "{named} {known}");
    }
}

/// The same machine with one unit of a circuit of its own, whose resistors are exact, and a tube of which only the current moves.
fn typed_trimmed(text: &str, line: &str, unit: &str) -> Vec<ConnectionMargin> {
    let circuit = &text[text.find("circuit inverter").unwrap()..text.find("unit ").unwrap()];
    let own = circuit
        .replace("circuit inverter", "circuit trimmed")
        .replace(line, &line.replace("5%", "0%"))
        .replace("OWN", "KEPT");
    let types = &text[text.find("type OWN").unwrap()..text.find("circuit inverter").unwrap()];
    let kept = types.replace("type OWN", "type KEPT")
        + "    spread current 75% to 125% [measured], mu 100% to 100% [measured], cut-off 0V [measured], aged to 75% [measured]\n";
    let text = text
        .replace(
            &format!("unit {unit} inverter"),
            &format!("unit {unit} trimmed"),
        )
        .replacen(
            "circuit inverter",
            &format!("{kept}{own}circuit inverter"),
            1,
        );
    let design = sound(&text).design.unwrap();
    judged(&design, &AS_SOLVED).1.connections
}

/// What closer resistors or a trimmer would leave is what is left when they are typed: of one resistor, of all, of a unit.
#[test]
fn closer_resistors_leave_what_they_leave_when_typed() {
    let ohms = ["680k", "1M2", "47k"];
    let text = chain("36V", "-24V", ohms, &law("6922"));
    let line = "resistors 5%: R1 680k join to g1, R2 1M2 g1 to lower, R3 47k upper to y";
    assert!(text.contains(line));
    let typed = |line_typed: &str| {
        let design = sound(&text.replace(line, line_typed)).design.unwrap();
        judged(&design, &AS_SOLVED).1.connections
    };
    let design = sound(&text).design.unwrap();
    let (verdict, mut margins) = judged(&design, &AS_SOLVED);
    // Called thin whatever it spares, so that it is tried.
    let smallest = &mut margins.connections[0];
    smallest.thin_below = 1e3;
    let smallest = smallest.clone();
    let same = |all: Vec<ConnectionMargin>| {
        let mut all = all.into_iter();
        let same = all.find(|one| (one.net, one.load) == (smallest.net, smallest.load));
        same.unwrap().smallest().0.volts
    };
    let found = mending::of_units(&verdict, &smallest, &AS_SOLVED, &CONTEXT);
    assert_eq!(found.len(), 4, "two one by one, all, a trimmer: {found:?}");
    for one in &found {
        let volts = one.volts.unwrap();
        assert!(smallest.smallest().0.volts < volts, "{one:?}");
        let split = |marks: &[usize]| {
            let close = |part: usize| if marks.contains(&part) { "1%" } else { "5%" };
            format!(
                "resistors {}: R1 680k join to g1
    resistors {}: R2 1M2 g1 to lower
    resistors {}: R3 47k upper to y",
                close(1),
                close(2),
                close(3)
            )
        };
        let by_hand = match &one.remedy {
            Remedy::Closer(resistors) => {
                let marks: Vec<usize> = resistors.iter().map(|place| place.1).collect();
                same(typed(&split(&marks)))
            }
            Remedy::Trimmer(unit) => {
                let name = &verdict.plan.members[*unit].name;
                same(typed_trimmed(&text, line, name))
            }
        };
        assert!((volts - by_hand).abs() < 5e-3, "{volts} {by_hand}");
    }
    // Where enough is left nothing is tried.
    let enough = ConnectionMargin {
        thin_below: -1e3,
        ..smallest.clone()
    };
    assert!(mending::of_units(&verdict, &enough, &AS_SOLVED, &CONTEXT).is_empty());
}

/// The rows that the independent solver left open, settled here: worst levels and thresholds over all corners of the gate's five
/// values, of its loads' dividers (the loads' tubes and plates move a level by less than is asked) and of both rails, loads from
/// none to three. The program's search must come to what enumeration finds, to a thousandth of the upper rail.
#[test]
fn open_rows_of_both_schemes_are_settled_by_enumeration() {
    for (upper, lower, ohms, tube, last) in [
        ("120V", "-120V", ["560k", "1M5", "82k"], "12AT7", 6),
        ("36V", "-24V", ["680k", "1M2", "82k"], "6922", 7),
    ] {
        let design = sound(&chain(upper, lower, ohms, &law(tube)))
            .design
            .unwrap();
        let (verdict, margins) = judged(&design, &AS_SOLVED);
        let near = 1e-3 * design.rails[0].volts;
        let plan = &verdict.plan;
        let named = |name: &str| {
            plan.members
                .iter()
                .position(|member| member.name == name)
                .unwrap()
        };
        let group = ["S2", "S3", "D2", "E2"].map(named);
        let (mut levels, mut thresholds) = (
            (f64::NEG_INFINITY, f64::INFINITY),
            (f64::INFINITY, f64::NEG_INFINITY),
        );
        for corner in 0..margins.corners.len() {
            for loads in [0, 3] {
                let mut held = Held::new(plan, &margins, corner, &group[..=loads]);
                let divider = |factor: &Factor| {
                    factor.quantity == Quantity::Ohms && factor.piece != Piece::Part(3)
                };
                let moving: Vec<usize> = (0..held.factors.len())
                    .filter(|&index| {
                        let factor = &held.factors[index];
                        factor.member == group[0] || divider(factor)
                    })
                    .collect();
                let settings: Vec<Vec<f64>> = (0..1usize << moving.len())
                    .map(|bits| {
                        let mut settings = vec![0.0; held.factors.len()];
                        for (place, &index) in moving.iter().enumerate() {
                            settings[index] = if bits >> place & 1 == 1 { 1.0 } else { -1.0 };
                        }
                        settings
                    })
                    .collect();
                let points: Vec<(&[f64], Option<f64>)> = settings
                    .iter()
                    .map(|settings| (settings.as_slice(), None))
                    .collect();
                let highest = held
                    .output(1, false, 0, &points)
                    .into_iter()
                    .fold(f64::NEG_INFINITY, f64::max);
                let lowest = held
                    .output(0, false, 0, &points)
                    .into_iter()
                    .fold(f64::INFINITY, f64::min);
                if loads == 3 {
                    let reported = margins.levels[corner][&plan.members[group[0]].nets[1]];
                    assert!(
                        (reported.down - highest).abs() < near
                            && (reported.up - lowest).abs() < near
                    );
                } else {
                    let (low, high) = margins.thresholds[corner][&(named("D2"), 0)];
                    for (volts, inside) in [
                        (low - near, false),
                        (low + near, true),
                        (high - near, true),
                        (high + near, false),
                    ] {
                        assert_eq!(1.0 < held.steepest(volts, &settings), inside);
                    }
                    thresholds = (low.min(thresholds.0), high.max(thresholds.1));
                }
                levels = (highest.max(levels.0), lowest.min(levels.1));
            }
        }
        let alone = alone(upper, lower, ohms, tube);
        assert_eq!(alone.last_that_works(), Some(last));
        let row = alone.up_to(3).unwrap();
        let found = (row.levels.0, row.levels.1, row.thresholds);
        for (found, enumerated) in [
            (found.0, levels.0),
            (found.1, levels.1),
            (found.2.0, thresholds.0),
            (found.2.1, thresholds.1),
        ] {
            assert!(
                (found - enumerated).abs() < 5.0 * near,
                "{found} found, {enumerated} enumerated"
            );
        }
    }
}

/// A unit whose worst case has volts to spare works in every machine, whatever is drawn: what is drawn lies in the bands that the
/// worst case went through.
#[test]
fn yields_agree_with_worst_cases() {
    let mut seeded = Seeded(1948);
    let mut sound_units = 0;
    while sound_units < 40 {
        let design = sound(&random_machine(&mut seeded)).design.unwrap();
        let (verdict, margins) = judged(&design, &AS_SOLVED);
        let works = margins
            .connections
            .iter()
            .all(|connection| 0.0 < connection.down.book_volts && 0.0 < connection.up.book_volts);
        if !works || !margins.settled || !margins.not_known.is_empty() {
            continue;
        }
        let yields = Yields::new(&verdict, &margins, &AS_SOLVED, &CONTEXT);
        let drawing = Drawing {
            seed: 7,
            hollow: 0.0,
        };
        let mut tallies = vec![Tally::default(); yields.units().count()];
        for scramble in 0..SCRAMBLES {
            let drawn = yields.draw(&drawing, scramble, 0, 64);
            for (tally, outcomes) in tallies.iter_mut().zip(drawn) {
                tally.scrambles.push(outcomes);
            }
        }
        for (units, tally) in yields.units().zip(&tallies) {
            let drives = |connection: &&ConnectionMargin| {
                connection
                    .driver
                    .is_some_and(|(driver, _)| units.contains(&driver))
            };
            let worst = margins.connections.iter().find(drives).unwrap();
            let (side, _) = worst.smallest();
            let (low, high) = tally.interval();
            assert!(low <= tally.share() && tally.share() <= high && low < high);
            if 0.0 <= side.volts {
                assert_eq!(tally.share(), 1.0, "{} to spare", side.volts);
                sound_units += 1;
            }
        }
    }
}

/// One thread or two, in blocks or in one run: the counts are the same to the last sample. What is drawn of an output's volts
/// agrees with them: a unit works in a sample where each of its outputs does, down and up.
#[test]
fn samples_count_the_same_on_one_thread_and_on_two() {
    let text = chain("36V", "-24V", ["680k", "1M2", "22k"], &law("6922"));
    let design = sound(&text).design.unwrap();
    let (verdict, margins) = judged(&design, &AS_SOLVED);
    let yields = Yields::new(&verdict, &margins, &AS_SOLVED, &CONTEXT);
    let drawing = Drawing {
        seed: 3,
        hollow: 0.5,
    };
    let blocks = Counts::default().missing(128, Share::WHOLE);
    assert_eq!(blocks.len(), 2 * SCRAMBLES);
    let drawn = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads);
        let draw = || yields.draw_blocks(&drawing, &blocks, &AtomicBool::new(false));
        pool.build().unwrap().install(draw)
    };
    let outcomes = drawn(1);
    assert_eq!(outcomes, drawn(2));
    let mut counts = Counts::default();
    for (block, outcomes) in blocks.iter().zip(outcomes) {
        counts.add(*block, outcomes.unwrap()).unwrap();
    }
    assert!(counts.missing(128, Share::WHOLE).is_empty());
    let units = yields.units().count();
    for (place, tally) in counts.tallies(units).iter().enumerate() {
        let whole = (0..SCRAMBLES).map(|scramble| yields.draw(&drawing, scramble, 0, 128)[place]);
        assert_eq!(tally.scrambles, whole.collect::<Vec<Outcomes>>());
        for output in yields.volts(place, &drawing, 128, &verdict, &margins) {
            let works = output
                .down
                .iter()
                .zip(&output.up)
                .filter(|(down, up)| down.1 && up.1);
            assert_eq!(tally.all().works as usize, works.count());
        }
    }
}

/// Shares have every block once between them, whatever is there already; what overlaps is not added.
#[test]
fn shares_have_every_block_once() {
    let whole = Counts::default().missing(256, Share::WHOLE);
    let shares = (0..3).map(|index| Counts::default().missing(256, Share { index, of: 3 }));
    let mut together: Vec<Block> = shares.flatten().collect();
    together.sort_unstable();
    let mut sorted = whole.clone();
    sorted.sort_unstable();
    assert_eq!(together, sorted);
    let mut counts = Counts::default();
    let first = Block {
        scramble: 2,
        from: 16,
        to: 48,
    };
    counts.add(first, vec![Outcomes::default()]).unwrap();
    let overlapping = Block { from: 0, ..first };
    assert_eq!(
        counts.add(overlapping, vec![Outcomes::default()]),
        Err(first)
    );
    let around: Vec<(u32, u32)> = counts
        .missing(64, Share::WHOLE)
        .iter()
        .filter(|block| block.scramble == 2)
        .map(|block| (block.from, block.to))
        .collect();
    assert_eq!(around, [(0, 16), (48, 64)]);
    let tally = &counts.tallies(1)[0];
    assert!(
        tally.scrambles.is_empty(),
        "no scramble has its first sample"
    );
}

/// Where closer resistors were picked out none stands that near: at any place of what is drawn each lies between the hollow and
/// its end, evenly there; one with drift on its upper side as far as that goes, one that says it is even anywhere, and one of
/// which the text says nothing as is asked for. What is left of the bands is wider, so of a gate that is short in the worst case
/// other machines work than with even bands, and the worst case is the same.
#[test]
fn no_resistor_is_drawn_from_the_hollow_of_its_band() {
    // So wide that some of a thousand gates fail.
    let even = chain("36V", "-24V", ["680k", "1M2", "22k"], &law("6922"));
    let even = even.replace("resistors 5%", "resistors 20%");
    let hollow = even.replace("resistors 20%", "resistors 20% hollow 16%");
    assert_ne!(even, hollow);
    let mixed = hollow
        .replace("R2 1M2", "R2 1M2 drift 10%")
        .replace("R3 22k", "R3 22k hollow 0%");
    let design = sound(&mixed).design.unwrap();
    let plan = Plan::machine(&design);
    let members: Vec<usize> = (0..plan.members.len()).collect();
    let scene = build(&plan, &Copies::each(&members), &[], &CONTEXT.assumptions);
    let factors = factors(&plan, &scene, &AS_SOLVED);
    let ohms = |mark: &str, asked: f64| -> Vec<f64> {
        let of = |factor: &Factor| match factor.piece {
            Piece::Part(part) => plan.circuit(factor.member).parts[part].mark == mark,
            _ => false,
        };
        let factor = factors.iter().position(of).unwrap();
        let mut settings = vec![0.0; factors.len()];
        (-50..=50)
            .map(|place| {
                settings[factor] = factors[factor].hollowed(f64::from(place) / 50.0, asked);
                factors[factor].value(factor, &settings)
            })
            .collect()
    };
    for (mark, reaches, near) in [
        ("R1", (0.8, 1.2), 0.16),
        ("R2", (0.8, 1.3), 0.16),
        ("R3", (0.8, 1.2), 0.0),
    ] {
        // What is asked for holds for those alone of which the text says nothing.
        let drawn = ohms(mark, 0.9);
        let furthest = drawn.iter().map(|share| (share - 1.0).abs());
        assert!(furthest.clone().all(|off| near - 1e-12 <= off), "{drawn:?}");
        let least = furthest.fold(f64::INFINITY, f64::min);
        assert!((least - near).abs() < 1e-12, "{drawn:?}");
        assert!((drawn[0] - reaches.0).abs() < 1e-12 && (drawn[100] - reaches.1).abs() < 1e-12);
        let steps: Vec<f64> = drawn[51..].windows(2).map(|two| two[1] - two[0]).collect();
        let each = (reaches.1 - 1.0 - near) / 50.0;
        assert!(steps.iter().all(|step| (step - each).abs() < 1e-12));
    }
    let counted = |text: &str, asked: f64| {
        let design = sound(text).design.unwrap();
        let (verdict, margins) = judged(&design, &AS_SOLVED);
        let yields = Yields::new(&verdict, &margins, &AS_SOLVED, &CONTEXT);
        let drawing = Drawing {
            seed: 1,
            hollow: asked,
        };
        let drawn: Vec<Vec<Outcomes>> = (0..SCRAMBLES)
            .map(|scramble| yields.draw(&drawing, scramble, 0, 64))
            .collect();
        let spare = margins.connections[0].smallest().0.volts;
        (drawn, spare)
    };
    let (of_even, spare) = counted(&even, 0.0);
    let (of_hollow, spare_hollow) = counted(&hollow, 0.0);
    assert_ne!(of_even, of_hollow);
    assert!(spare < 0.0, "the gate is short: {spare}");
    assert_eq!(spare, spare_hollow);
    // Hollow by 16 of 20 % is hollow by 80 % of the band; the bench's resistor is exact here.
    assert_eq!(counted(&even, 0.8).0, of_hollow);
    assert_eq!(counted(&hollow, 0.3).0, of_hollow);
}

/// The bench's resistors keep out of what was picked out of their lot too: the one of a switch, and those that hang on a net. One of
/// which nothing is said is as hollow as is asked for.
#[test]
fn no_resistor_of_the_bench_is_drawn_from_the_hollow_of_its_band() {
    let even = chain("36V", "-24V", ["680k", "1M2", "82k"], &law("6922"));
    let text = even.replace("through 1k", "through 10k 20% hollow 16%")
        + "    loads: n1 1M 10% hollow 4% to ground, n1 2M 10% to ground, n2 2M 10% hollow 0% to ground\n";
    let design = sound(&text).design.unwrap();
    let plan = Plan::machine(&design);
    let members: Vec<usize> = (0..plan.members.len()).collect();
    let nets = |name: &str| plan.nets.iter().position(|net| net.name == name).unwrap();
    let scene = build(&plan, &Copies::each(&members), &[], &CONTEXT.assumptions);
    let factors = factors(&plan, &scene, &AS_SOLVED);
    let on = |factor: &Factor, signal: usize| plan.members[factor.member].nets[signal];
    // Net, number among those on it (none of a switch), the end of its band, how near one may stand where 50 % are asked for.
    for (net, number, reach, near) in [
        ("n0", None, 0.2, 0.16),
        ("n1", Some(0), 0.1, 0.04),
        ("n1", Some(1), 0.1, 0.05),
        ("n2", Some(0), 0.1, 0.0),
    ] {
        let of = |factor: &Factor| match factor.piece {
            Piece::Switch { signal } => on(factor, signal) == nets(net) && number.is_none(),
            Piece::Load {
                signal,
                number: own,
            } => on(factor, signal) == nets(net) && number == Some(own),
            _ => false,
        };
        let place = factors.iter().position(of).unwrap();
        let at = |setting: f64| {
            let mut settings = vec![0.0; factors.len()];
            settings[place] = factors[place].hollowed(setting, 0.5);
            factors[place].value(place, &settings) - 1.0
        };
        for side in [-1.0, 1.0] {
            assert!((at(side) - side * reach).abs() < 1e-12, "{net} {number:?}");
            let middle = f64::midpoint(near, reach);
            assert!((at(side * 0.5) - side * middle).abs() < 1e-12);
            assert!((at(side * 1e-9) - side * near).abs() < 1e-9);
        }
    }
}

/// The low-voltage gate has volts to spare; moved one at a time its rails bear what the moved machine's own check bears: at the
/// volts where everything still stands that check has volts to spare at every connection, and a twentieth further it has not.
#[test]
fn a_rail_is_moved_as_far_as_the_check_of_the_moved_machine_stands() {
    let ohms = ["680k", "1M2", "82k"];
    let design = sound(&chain("36V", "-24V", ohms, &law("6922")))
        .design
        .unwrap();
    let verdict = network::verdict::check(&design, &LIMITS, &CONTEXT);
    let moved = moved_rails(&verdict, &CONTEXT);
    let upper = moved
        .iter()
        .find(|moved| moved.rail.0 == 0 && !moved.larger)
        .unwrap();
    let spares = |volts: f64| {
        let text = chain(&format!("{volts:.3}V"), "-24V", ohms, &law("6922"));
        let design = sound(&text).design.unwrap();
        let verdict = network::verdict::check(&design, &LIMITS, &CONTEXT);
        let spare = verdict
            .connections
            .iter()
            .flat_map(|connection| [connection.spare_down(), connection.spare_up()]);
        spare
            .map(|spare| spare.unwrap_or(-1.0))
            .fold(f64::INFINITY, f64::min)
    };
    // The check knows a threshold to a tenth of a volt, so a little more is asked than nothing.
    assert!(
        -0.2 < spares(upper.stands),
        "{} at {}",
        spares(upper.stands),
        upper.stands
    );
    assert!(spares(0.95 * upper.fails.unwrap()) < 0.0);
}

/// On a grid of 9 x 9 x 9 values, more than are tried one and all, the search comes to within 2 % of what trying all of the
/// 7 x 7 x 7 in the middle finds, or beyond.
#[test]
fn a_search_of_values_ends_where_trying_them_all_does() {
    let ohms = ["680k", "1M2", "82k"];
    let design = sound(&chain("36V", "-24V", ohms, &law("6922")))
        .design
        .unwrap();
    let e12 = [1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2];
    let around = |middle: f64, width: usize| -> Vec<f64> {
        let all: Vec<f64> = (3..8)
            .flat_map(|power| e12.map(|digits| digits * 10f64.powi(power)))
            .collect();
        let place = all
            .iter()
            .position(|ohms| (ohms / middle - 1.0).abs() < 0.01)
            .unwrap();
        all[place - width..=place + width].to_vec()
    };
    let wanted = |widths: [usize; 3]| Wanted {
        circuit: CircuitId(0),
        free: vec![
            Free {
                part: 1,
                ohms: around(680e3, widths[0]),
            },
            Free {
                part: 2,
                ohms: around(1.2e6, widths[1]),
            },
            Free {
                part: 3,
                ohms: around(82e3, widths[2]),
            },
        ],
        loads: 3,
        tubes: Vec::new(),
        most_amps: BTreeMap::new(),
        most_watts: None,
        longest_delay: None,
    };
    let climbed = choose(
        &design,
        &wanted([4, 4, 4]),
        &AS_SOLVED,
        &CONTEXT,
        &mut |_| true,
    );
    let every = choose(
        &design,
        &wanted([3, 3, 3]),
        &AS_SOLVED,
        &CONTEXT,
        &mut |_| true,
    );
    assert!(every.every && !climbed.every && every.tried == 343 && climbed.tried < 343);
    let (climbed, every) = (climbed.best.unwrap(), every.best.unwrap());
    assert!(
        every.margin.unwrap() <= climbed.margin.unwrap() + 1e-3,
        "{climbed:?} {every:?}"
    );
}
