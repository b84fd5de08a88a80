//! Tubes that are known to be alike, and the bench's resistors: against enumeration, and by hand.

use crate::judging::solved::{AS_SOLVED, law};
use crate::judging::{CONTEXT, LIMITS, sound};
use crate::random_circuits::Seeded;
use design::model::{Design, PartKind};
use devices::triode::TriodeLaw;
use network::ensemble::{Ensemble, Sample};
use network::equations::Network;
use network::judge::Level;
use network::margins::cases::{part_name, parts_moved};
use network::margins::{Margins, check};
use network::plan::{MemberIndex, Plan};
use network::scene::{Scene, build};
use network::solve::{Settings, Solver};
use network::surroundings::Copies;
use network::variation::{Factor, Quantity, apply, factors};
use network::wiring::ElementIndex;
use numerics::lanes::select::Choice;

/// Long-tailed pairs and what follows; `known` is what is known of the tubes beyond their law.
fn text(known: &str, rest: &str) -> String {
    format!(
        "valvewright format 1
rail upper 150V 0%
rail lower -100V 0%
rail over 1.5V 0%
rail under -1.5V 0%
type OWN triode, 2 sections, like 12AT7
    law tail: {}
    {known}
circuit pair
    inputs a, output y
    y = a
    resistors 5%: R1 22k upper to y
    resistors 0%: R2 33k k to lower
    tube V1 half OWN: plate upper, grid a, cathode k
    tube V2 half OWN: plate y, grid ground, cathode k
circuit side
    inputs a, output y
    y = not a
    resistors 0%: R1 47k upper to y, R2 1M a to g, R3 2M2 g to lower
    tube V1 half OWN: plate y, grid g, cathode ground
{rest}",
        law("12AT7")
    )
}

/// Both halves of a pair in one tube.
const ONE_PAIR: &str = "unit A pair in V1A V1B: a take, y open
bench
    switches: take over or under
";

fn margins(design: &Design) -> (network::verdict::Verdict<'_>, Margins) {
    let verdict = network::verdict::check(design, &LIMITS, &CONTEXT);
    let margins = check(&verdict, &AS_SOLVED, &CONTEXT);
    assert!(margins.unknown.is_empty() && margins.settled);
    (verdict, margins)
}

fn net(plan: &Plan, name: &str) -> usize {
    plan.nets.iter().position(|net| net.name == name).unwrap()
}

/// The net of the first output of a unit.
fn output(plan: &Plan, unit: &str) -> usize {
    let member = plan
        .members
        .iter()
        .position(|one| one.name == unit)
        .unwrap();
    plan.members[member].nets[plan.circuit(member).interface.inputs]
}

/// Worst levels of a unit's output with the rails as typed.
fn reported(text: &str, unit: &str) -> Level {
    let design = sound(text).design.unwrap();
    let (verdict, margins) = margins(&design);
    margins.levels[0][&output(&verdict.plan, unit)]
}

/// Members of a machine with their inputs held at given volts, and what moves in them.
struct Held {
    network: Network,
    factors: Vec<Factor>,
    tubes: Vec<ElementIndex>,
    output: usize,
}

impl Held {
    /// `inputs`: nets and volts.
    fn new(text: &str, members: &[MemberIndex], inputs: &[(&str, f64)], unit: &str) -> Self {
        let design = sound(text).design.unwrap();
        let plan = Plan::machine(&design);
        let held: Vec<usize> = inputs.iter().map(|(name, _)| net(&plan, name)).collect();
        let scene = build(&plan, &Copies::each(members), &held, &CONTEXT.assumptions);
        let mut network =
            Network::new(scene.wiring.clone(), CONTEXT.assumptions.leak_siemens).unwrap();
        for (net, (_, volts)) in held.iter().zip(inputs) {
            network.set_tie(scene.feeds[net].tie, *volts);
        }
        Self {
            network,
            factors: factors(&plan, &scene, &AS_SOLVED),
            tubes: tubes(&plan, &scene),
            output: scene.nets[&output(&plan, unit)],
        }
    }

    /// Places of the settings that are not of currents.
    fn others(&self) -> Vec<usize> {
        (0..self.factors.len())
            .filter(|&place| self.factors[place].quantity != Quantity::Current)
            .collect()
    }

    /// Lowest and highest volts of the output over all corners of what is no current, the currents at each of some sets of shares.
    fn enumerated(&self, currents: &[Vec<f64>]) -> (f64, f64) {
        let others = self.others();
        let mut points: Vec<(Vec<f64>, &[f64])> = Vec::new();
        for currents in currents {
            for bits in 0..1usize << others.len() {
                let mut settings = vec![0.0; self.factors.len()];
                for (bit, &place) in others.iter().enumerate() {
                    settings[place] = if bits >> bit & 1 == 1 { 1.0 } else { -1.0 };
                }
                points.push((settings, currents));
            }
        }
        let settings = Settings::STANDARD;
        let rest = Solver::new(&self.network).operating_point(&self.network, None, None, &settings);
        assert!(rest.outcome.settled());
        let ensemble = Ensemble::new(&self.network, &rest, &[], &settings);
        let vary = |number: usize, sample: &mut Sample| {
            let (settings, currents) = &points[number];
            apply(&self.factors, settings, sample);
            for (&tube, share) in self.tubes.iter().zip(*currents) {
                let Some(TriodeLaw::Tail(law)) = sample.triode(tube) else {
                    panic!("a triode of another law")
                };
                law.perveance *= share;
                law.grid_perveance *= share;
            }
        };
        let solutions = ensemble.solve(points.len(), Choice::widest(), &vary);
        let volts = (0..points.len()).map(|number| solutions.sample(number)[self.output]);
        volts.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), volts| {
            (low.min(volts), high.max(volts))
        })
    }
}

/// Elements of the tubes of a scene, in order.
fn tubes(plan: &Plan, scene: &Scene) -> Vec<ElementIndex> {
    let mut tubes = Vec::new();
    for placed in &scene.members {
        for (part, elements) in plan
            .circuit(placed.member)
            .parts
            .iter()
            .zip(&placed.elements)
        {
            if let PartKind::Tube(_) = part.kind {
                tubes.push(elements[0]);
            }
        }
    }
    tubes
}

/// Lowest and highest current of [`AS_SOLVED`].
const BAND: (f64, f64) = AS_SOLVED.tube_current;

/// Places of an interval in the band: its ends, and so many steps between them.
const STEPS: usize = 64;

/// Currents in the band of which any two differ by no more than a width: each at an end of an interval of that width, the
/// interval from the bottom of the band to its top. Those at its first and last place are the corners of what there can be.
fn alike(count: usize, width: f64) -> Vec<Vec<f64>> {
    let mut all = Vec::new();
    for step in 0..=STEPS {
        let low = BAND.0 + (BAND.1 - width - BAND.0) * step as f64 / STEPS as f64;
        for bits in 0..1usize << count {
            let share = |place: usize| low + if bits >> place & 1 == 1 { width } else { 0.0 };
            all.push((0..count).map(share).collect());
        }
    }
    all
}

/// What was reported of a unit's output is the worst of what is enumerated. The down level lies at a corner and is met to 1e-4 V, a
/// hundred times what two solutions of one network may differ by. The up level of a pair is worst with currents between the
/// ends; search and enumeration go there by steps of a 64th, so the two are asked to agree to 5e-4 V.
fn is_the_worst(text: &str, members: &[MemberIndex], currents: &[Vec<f64>]) {
    let level = reported(text, "A");
    let worst = |volts: f64| Held::new(text, members, &[("take", volts)], "A").enumerated(currents);
    let (down, up) = (worst(-1.5).1, worst(1.5).0);
    assert!(
        (level.down - down).abs() < 1e-4 && (level.up - up).abs() < 5e-4,
        "{level:?} was reported, {down} and {up} are met"
    );
}

/// Two halves of one tube in [lo, hi] that differ by no more than d stand in a hexagon with the corners (lo, lo), (lo, lo + d),
/// (lo + d, lo), (hi, hi), (hi, hi − d), (hi − d, hi). All of them, and points within, are solved with all corners of the rest:
/// what was reported is the worst of them.
#[test]
fn halves_of_a_tube_come_to_the_worst_corner_of_their_hexagon() {
    for width in [0.02, 0.1, 0.3] {
        let known = format!("spread halves {}%", 100.0 * width);
        let (low, high) = BAND;
        let hexagon = [
            [low, low],
            [low, low + width],
            [low + width, low],
            [high, high],
            [high, high - width],
            [high - width, high],
        ];
        let mut currents = alike(2, width);
        currents.extend(hexagon.map(Vec::from));
        is_the_worst(&text(&known, ONE_PAIR), &[0], &currents);
    }
}

/// A pair with a gate behind it, in three tubes of one lot; the two halves of the pair stand in one of them or in two.
fn with_a_load(halves_together: bool) -> String {
    let places = if halves_together {
        "V1A V1B"
    } else {
        "V1A V2A"
    };
    format!(
        "unit A pair in {places}: a take, y mid
unit B side in V3A: a mid, y open
bench
    switches: take over or under
"
    )
}

/// Three tubes of a lot, of the pair and of its load, at every corner of what the lot allows.
#[test]
fn tubes_of_a_lot_come_to_the_worst_corner_of_what_they_may_be() {
    for width in [0.05, 0.2] {
        let lot = format!("lot OWN: alike {}%\n", 100.0 * width);
        let text = text("", &(with_a_load(false) + &lot));
        is_the_worst(&text, &[0, 1], &alike(3, width));
    }
}

/// With both: the halves of the pair within the lot, the load's tube with them.
#[test]
fn halves_within_a_lot_come_to_the_worst_corner_of_both() {
    let (halves, width) = (0.05, 0.2);
    let lot = "lot OWN: alike 20%, halves 5%\n";
    let text = text("", &(with_a_load(true) + lot));
    let mut currents = Vec::new();
    for all in alike(3, width) {
        // The pair at either end of the lot's interval, or one half there and the other as near as it must be.
        let inwards = |share: f64, other: f64| share + (other - share).clamp(-halves, halves);
        currents.push(vec![all[0], inwards(all[0], all[1]), all[2]]);
        currents.push(vec![inwards(all[1], all[0]), all[1], all[2]]);
        currents.push(vec![all[0], all[0], all[2]]);
    }
    is_the_worst(&text, &[0, 1], &currents);
}

/// As tubes become more and more alike the worst case becomes that of one share for all of them: to a thousandth of the level, as
/// 0.1 % of the current is left to them.
#[test]
fn tubes_that_are_nearly_alike_move_together() {
    let lot = "lot OWN: alike 0.1%\n";
    let text = text("", &(with_a_load(false) + lot));
    let level = reported(&text, "A");
    let together: Vec<Vec<f64>> = alike(1, 0.0)
        .into_iter()
        .map(|share| vec![share[0]; 3])
        .collect();
    let worst =
        |volts: f64| Held::new(&text, &[0, 1], &[("take", volts)], "A").enumerated(&together);
    let (down, up) = (worst(-1.5).1, worst(1.5).0);
    let near = 1e-3 * down;
    assert!(
        down < level.down + 1e-4 && level.down < down + near,
        "{level:?} {down}"
    );
    assert!(
        level.up < up + 5e-4 && up - near < level.up,
        "{level:?} {up}"
    );
}

/// The closer the halves of a long-tailed pair, the more is left: of the level that its mismatch moves, and of the connection
/// behind it. Halves that may differ by more than the whole band stand as if nothing were known.
#[test]
fn a_pair_of_closer_halves_is_never_worse_and_in_the_end_better() {
    let widths = [
        "",
        "spread halves 50%",
        "spread halves 20%",
        "spread halves 5%",
    ];
    let found = widths.map(|known| {
        let text = text(known, &with_a_load(true));
        let design = sound(&text).design.unwrap();
        let (verdict, margins) = margins(&design);
        let level = margins.levels[0][&output(&verdict.plan, "A")];
        let threshold = margins.thresholds[0].get(&(0, 0)).copied().unwrap();
        (level.down, threshold.1 - threshold.0)
    });
    let [apart, band, close, closer] = found;
    assert!((apart.0 - band.0).abs() < 1e-9 && (apart.1 - band.1).abs() < 1e-9);
    assert!(
        close.0 < band.0 - 0.1 && closer.0 < close.0 - 0.1,
        "{found:?}"
    );
    assert!(
        close.1 < band.1 - 0.01 && closer.1 < close.1 - 0.01,
        "{found:?}"
    );
}

/// Two pairs that differ in nothing but their sockets: the one with both halves in one tube has the better level, whichever
/// stands first.
#[test]
fn units_that_differ_in_their_sockets_alone_are_solved_apart() {
    for [first, second] in [["V1A V1B", "V2A V3A"], ["V2A V3A", "V1A V1B"]] {
        let rest = format!(
            "unit A pair in {first}: a take, y open
unit B pair in {second}: a other, y open
bench
    switches: take over or under, other over or under
"
        );
        let text = text("spread halves 5%", &rest);
        let (a, b) = (reported(&text, "A").down, reported(&text, "B").down);
        let (one_tube, two) = if first == "V1A V1B" { (a, b) } else { (b, a) };
        assert!(one_tube < two - 0.1, "{one_tube} {two}");
    }
}

/// Whatever settings are drawn, the currents keep to what is known of them, and with the settings at their ends they come to
/// the ends: of the band, of the lot and of the halves.
#[test]
fn samples_keep_to_the_bounds_of_halves_and_lots() {
    let lot = "lot OWN: alike 20%, halves 5%\n";
    let text = text("", &(with_a_load(true) + lot));
    let held = Held::new(&text, &[0, 1], &[("take", 0.0)], "A");
    let currents: Vec<usize> = (0..held.factors.len())
        .filter(|&place| {
            let factor = &held.factors[place];
            factor.quantity == Quantity::Current && !factor.is_common()
        })
        .collect();
    assert_eq!(currents.len(), 3);
    let mut seeded = Seeded(1951);
    let (mut furthest, mut lowest, mut highest) = ([0.0f64; 2], f64::INFINITY, 0.0f64);
    for number in 0..4096 {
        let settings: Vec<f64> = (0..held.factors.len())
            .map(|_| match number % 2 {
                0 => 2.0 * seeded.share() - 1.0,
                _ => [-1.0, 1.0][seeded.below(2)],
            })
            .collect();
        let shares: Vec<f64> = currents
            .iter()
            .map(|&place| held.factors[place].value(place, &settings))
            .collect();
        let apart = |one: usize, other: usize| (shares[one] - shares[other]).abs();
        furthest[0] = furthest[0].max(apart(0, 1));
        furthest[1] = furthest[1].max(apart(0, 2)).max(apart(1, 2));
        lowest = shares.iter().copied().fold(lowest, f64::min);
        highest = shares.iter().copied().fold(highest, f64::max);
    }
    for (found, bound) in [
        (furthest[0], 0.05),
        (furthest[1], 0.2),
        (lowest, BAND.0),
        (highest, BAND.1),
    ] {
        assert!((found - bound).abs() < 1e-12, "{found} for {bound}");
    }
    let book = vec![0.0; held.factors.len()];
    for &place in &currents {
        assert_eq!(held.factors[place].value(place, &book), 1.0);
    }
}

/// A factor whose value a setting changes works on elements that this setting names, and on no others.
#[test]
fn a_setting_names_every_element_that_it_changes() {
    let lot = "lot OWN: alike 20%, halves 5%\n";
    let text = text("", &(with_a_load(true) + lot));
    let held = Held::new(&text, &[0, 1], &[("take", 0.0)], "A");
    let mut seeded = Seeded(1946);
    let count = held.factors.len();
    let settings: Vec<f64> = (0..count).map(|_| 2.0 * seeded.share() - 1.0).collect();
    for changed in 0..count {
        let mut other = settings.clone();
        other[changed] = -settings[changed];
        for (place, factor) in held.factors.iter().enumerate() {
            let named = |element| held.factors[changed].elements().contains(element);
            if factor.value(place, &settings) != factor.value(place, &other) {
                assert!(
                    factor.elements().iter().all(named),
                    "{changed} changes {place}"
                );
            }
        }
    }
}

/// A case says of a half where the other stands, each as a share of its book current, and no further from it than they may be.
#[test]
fn a_case_names_both_halves() {
    let text = text("spread halves 10%", &with_a_load(true));
    let design = sound(&text).design.unwrap();
    let (_, margins) = margins(&design);
    let behind_the_pair = margins
        .connections
        .iter()
        .find(|connection| connection.driver == Some((0, 1)))
        .unwrap();
    let moved = &behind_the_pair.down.level_case.moved;
    let halves: Vec<(f64, f64)> = moved
        .iter()
        .filter(|moved| moved.member == 0 && moved.quantity == Quantity::Current)
        .map(|moved| (moved.value, moved.other_half.unwrap()))
        .collect();
    let [one, other] = halves[..] else {
        panic!("{moved:?}")
    };
    assert_eq!(one, (other.1, other.0));
    assert!((one.0 - one.1).abs() < 0.1 + 1e-12, "{one:?}");
    assert!(moved.iter().all(|moved| moved.volts.is_finite()));
}

/// A switch to ground or to the lower rail through 1 k 10 %, with 47 k 5 % from the net to another rail, on a grid that takes no
/// current: the levels are those of two resistors, (U1/R1 + U2/R2) / (1/R1 + 1/R2), with each at the end that hurts.
#[test]
fn the_benchs_resistors_move_a_level_as_two_resistors_do() {
    let rest = "unit B side_by_grid in V3A: a take, y open
bench
    switches: take ground or deep through 1k 10%
    loads: take 47k 5% to lower
";
    let text = format!(
        "{}
rail deep -20V 0%
circuit side_by_grid
    inputs a, output y
    y = not a
    resistors 0%: R1 47k upper to y
    tube V1 half OWN: plate y, grid a, cathode ground
{rest}",
        text("", "")
    );
    let design = sound(&text).design.unwrap();
    let (verdict, margins) = margins(&design);
    let level = margins.levels[0][&net(&verdict.plan, "take")];
    let volts = |switch: f64, r1: f64, r2: f64| (switch / r1 - 100.0 / r2) / (1.0 / r1 + 1.0 / r2);
    let up = volts(0.0, 1100.0, 0.95 * 47e3);
    let down = volts(-20.0, 900.0, 1.05 * 47e3);
    assert!((level.up - up).abs() < 1e-3, "{} for {up}", level.up);
    assert!(
        (level.down - down).abs() < 1e-3,
        "{} for {down}",
        level.down
    );
    let connection = &margins.connections[0];
    assert_eq!(connection.driver, None);
    let names: Vec<String> = parts_moved(&connection.up)
        .iter()
        .map(|part| part_name(&verdict.plan, part))
        .collect();
    for name in [
        "the bench's resistor of the switch of take",
        "the bench's load on take",
    ] {
        assert!(names.iter().any(|known| known == name), "{names:?}");
    }
}

/// A lamp from the plate to ground is lit when the plate is up and holds it: 150 V through R1 and the lamp's volts through its
/// 4 k meet at (150/R1 + Vm/4k) / (1/R1 + 1/4k), lowest with the least that a lit lamp holds and R1 high.
#[test]
fn a_lit_lamp_moves_a_level_by_the_volts_it_holds() {
    let rest = "circuit clamped
    inputs a, output y
    y = not a
    resistors 5%: R1 100k upper to y
    neons NE-2: DS1 y to ground
    tube V1 half OWN: plate y, grid a, cathode ground
unit B clamped in V3A: a take, y open
bench
    switches: take ground or deep
";
    let text = text("", &format!("rail deep -20V 0%\n{rest}"));
    let level = reported(&text, "B");
    let (r1, lit) = (105e3, 4e3);
    let up = (150.0 / r1 + 50.0 / lit) / (1.0 / r1 + 1.0 / lit);
    assert!((level.up - up).abs() < 1e-2, "{} for {up}", level.up);
}
