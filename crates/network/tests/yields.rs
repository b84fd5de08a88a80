//! Spread of whole networks: how far resistors may be off before a machine fails, and what share of machines works.

use crate::judging::solved::{AS_SOLVED, law};
use crate::judging::{CONTEXT, sound};
use crate::random_circuits::Seeded;
use design::model::NetKind;
use devices::triode::TriodeLaw;
use network::ensemble::{End, Ensemble, Sample, Watch};
use network::equations::Network;
use network::plan::Plan;
use network::scan::scan;
use network::scene::build;
use network::solve::{OperatingPoint, Settings, Solver};
use network::surroundings::Copies;
use network::variation::{Factor, Quantity, SpreadAssumptions, apply, factors};
use network::wiring::{ElementIndex, ElementKind, NodeIndex, Wiring};
use numerics::corner::{Care, largest};
use numerics::lanes::select::Choice;
use std::collections::BTreeMap;

const SETTINGS: Settings = Settings::STANDARD;

/// All units of a machine as one network.
struct Whole {
    network: Network,
    factors: Vec<Factor>,
    nodes: BTreeMap<String, NodeIndex>,
    /// Tie, volts and tolerance of each rail.
    rails: Vec<(ElementIndex, f64, f64)>,
    /// Tie of each switch with its volts down and up.
    switches: BTreeMap<String, (ElementIndex, f64, f64)>,
}

impl Whole {
    fn new(text: &str, spread: &SpreadAssumptions) -> Self {
        let design = sound(text).design.unwrap();
        let plan = Plan::machine(&design);
        let members: Vec<usize> = (0..plan.members.len()).collect();
        let scene = build(&plan, &Copies::each(&members), &[], &CONTEXT.assumptions);
        let mut factors = factors(&plan, &scene, spread);
        // The diodes of the independent solver had none.
        factors.retain(|factor| factor.quantity != Quantity::Leakage);
        let name = |net: usize| plan.nets[net].name.clone();
        let rails = scene.rails.iter().filter_map(|(net, tie)| {
            let NetKind::Rail(rail) = plan.nets[*net].kind else {
                return None;
            };
            let rail = &design.rails[rail.0];
            Some((*tie, rail.volts, rail.tolerance))
        });
        let switches = scene.feeds.iter().map(|(net, feed)| {
            let (down, up) = feed.switch.unwrap();
            (name(*net), (feed.tie, down, up))
        });
        let nodes = scene.wiring.nodes.iter().enumerate();
        Self {
            factors,
            rails: rails.collect(),
            switches: switches.collect(),
            nodes: nodes.map(|(node, own)| (own.name.clone(), node)).collect(),
            network: Network::new(scene.wiring, CONTEXT.assumptions.leak_siemens).unwrap(),
        }
    }

    fn set(&mut self, switch: &str, up: bool) {
        let (tie, down_volts, up_volts) = self.switches[switch];
        self.network
            .set_tie(tie, if up { up_volts } else { down_volts });
    }

    fn with_tolerance(&mut self, tolerance: f64) {
        for factor in &mut self.factors {
            if factor.quantity == Quantity::Ohms {
                factor.ends = (1.0 - tolerance, 1.0 + tolerance);
            }
        }
    }
}

/// The largest value up to which something holds, to 1e-6 of `high`; `None` where it does not hold at nothing.
fn last_that_holds(high: f64, mut holds: impl FnMut(f64) -> bool) -> Option<f64> {
    if !holds(0.0) {
        return None;
    }
    let (mut low, mut high) = (0.0, high);
    for _ in 0..20 {
        let middle = f64::midpoint(low, high);
        if holds(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(low)
}

/// A grid on three equal resistors from plates and one to a bias rail. A ratio of plate to bias resistor is set by the ohms of
/// the latter.
struct Summing {
    whole: Whole,
    grid: NodeIndex,
    bias_resistor: ElementIndex,
}

impl Summing {
    fn new() -> Self {
        let whole = Whole::new(
            "valvewright format 1
rail high 120V 5%
rail low 50V 5%
rail bias -120V 5%
circuit sum
    inputs a b c, output g
    resistors 5%: R1 100k a to g, R2 100k b to g, R3 100k c to g, R4 100k g to bias
unit S sum: a one, b two, c three, g open
bench
    switches: one high or low, two high or low, three high or low
",
            &AS_SOLVED,
        );
        let wiring = &whole.network.wiring;
        let bias_resistor = wiring
            .elements
            .iter()
            .position(|element| element.name == "S.R4");
        let bias_resistor = bias_resistor.unwrap();
        let ElementKind::Resistor {
            ends: [grid, _], ..
        } = wiring.elements[bias_resistor].kind
        else {
            panic!("R4 is a resistor");
        };
        Self {
            whole,
            grid,
            bias_resistor,
        }
    }

    /// The most (`sign` 1) or the least (-1) volts of the grid over all settings of the resistors and of the volts of every
    /// plate and of the rail, each by itself.
    fn worst(&mut self, lows: usize, ratio: f64, tolerance: f64, volts: f64, sign: f64) -> f64 {
        self.whole.with_tolerance(tolerance);
        let inputs: Vec<(ElementIndex, f64)> = ["one", "two", "three"]
            .iter()
            .enumerate()
            .map(|(place, name)| {
                let (tie, down, up) = self.whole.switches[*name];
                (tie, if place < lows { down } else { up })
            })
            .collect();
        let bias = self.whole.rails.iter().find(|rail| rail.1 < 0.0).unwrap();
        let moving: Vec<(ElementIndex, f64)> =
            inputs.into_iter().chain([(bias.0, bias.1)]).collect();
        for &(tie, volts) in &moving {
            self.whole.network.set_tie(tie, volts);
        }
        let network = &self.whole.network;
        let rest = Solver::new(network).operating_point(network, None, None, &SETTINGS);
        let ensemble = Ensemble::new(network, &rest, &[], &SETTINGS);
        let parts = self.whole.factors.len();
        let found = largest(
            &vec![0.0; parts + moving.len()],
            1e-9,
            Care::Thorough,
            |points| {
                let vary = |number: usize, sample: &mut Sample| {
                    let (own, supplies) = points[number].split_at(parts);
                    apply(&self.whole.factors, own, sample);
                    *sample.siemens(self.bias_resistor).unwrap() *= ratio;
                    for (&(tie, nominal), setting) in moving.iter().zip(supplies) {
                        *sample.tie_volts(tie) = nominal * (1.0 + volts * setting);
                    }
                };
                let solutions = ensemble.solve(points.len(), Choice::widest(), &vary);
                (0..points.len())
                    .map(|number| sign * solutions.sample(number)[self.grid])
                    .collect()
            },
        );
        assert!(found.confirmed);
        sign * found.value
    }

    /// Smallest and largest ratio with which the gate is off with so many plates low and on with one fewer.
    fn window(&mut self, lows: usize, tolerance: f64, volts: f64) -> (f64, f64) {
        let mut edge = |lows: usize, sign: f64, needed: f64| {
            let (mut low, mut high) = (0.5, 6.0);
            for _ in 0..24 {
                let ratio = f64::midpoint(low, high);
                if self.worst(lows, ratio, tolerance, volts, sign) < needed {
                    high = ratio;
                } else {
                    low = ratio;
                }
            }
            f64::midpoint(low, high)
        };
        (edge(lows, 1.0, OFF_VOLTS), edge(lows - 1, -1.0, ON_VOLTS))
    }
}

/// Grid volts that cut the tube off, and that make it conduct: a report on a computing machine of 1940.
const OFF_VOLTS: f64 = -5.0;
const ON_VOLTS: f64 = 0.0;

/// The largest tolerance by hand, negative for none. With r the nominal ratio and k = (1 + t)/(1 - t) the gate is still on at
/// rk = (its plates, all low in their bands) / (the bias, high in its) and still off at r/k = (its plates, high, and what is
/// needed below ground at each) / (the bias, low, less that).
fn by_hand(lows: f64, volts: f64) -> f64 {
    let plates = |lows: f64| 3.0 * 120.0 - lows * 70.0;
    let on = plates(lows - 1.0) * (1.0 - volts) / (120.0 * (1.0 + volts));
    let off =
        (plates(lows) * (1.0 + volts) - 3.0 * OFF_VOLTS) / (120.0 * (1.0 - volts) + OFF_VOLTS);
    let k = (on / off).sqrt();
    (k - 1.0) / (k + 1.0)
}

/// A summing gate of 1940: plates at 120 V or 50 V, bias from -120 V, the grid's own current ignored; levels and what the grid
/// needs are the report's, ratios and tolerances were calculated from them, our own. A gate that goes off with one plate low
/// takes ratios from 2.653 to 3.000, with two 2.044 to 2.416, with three 1.435 to 1.833. Its resistors may be off by 3.08, 4.19
/// and 6.12 %; with all volts anywhere within 5 % by none, none and 1.17 % (one in the last figure is left to rounding). History
/// agrees: 10 % failed and 1 % worked (a paper on a reconstruction, second-hand).
#[test]
fn a_summing_gate_of_1940_bears_the_tolerances_calculated_for_it() {
    let mut summing = Summing::new();
    for (lows, (low, high), alone, with_volts) in [
        (1, (2.653, 3.000), 3.08, None),
        (2, (2.044, 2.416), 4.19, None),
        (3, (1.435, 1.833), 6.12, Some(1.17)),
    ] {
        let window = summing.window(lows, 0.0, 0.0);
        assert!(
            (window.0 - low).abs() < 1e-3 && (window.1 - high).abs() < 1e-3,
            "{lows} low: {window:?}"
        );
        for (volts, printed) in [(0.0, Some(alone)), (0.05, with_volts)] {
            let found = last_that_holds(0.2, |tolerance| {
                let (low, high) = summing.window(lows, tolerance, volts);
                low <= high
            });
            let by_hand = by_hand(lows as f64, volts);
            match (found, printed) {
                (Some(found), Some(printed)) => assert!(
                    (found - by_hand).abs() < 1e-6 && (100.0 * found - printed).abs() < 0.01,
                    "{lows} low: {found} found, {by_hand} by hand"
                ),
                (found, printed) => {
                    assert!(found.is_none() && printed.is_none() && by_hand < 0.0);
                }
            }
        }
    }
}

/// A toggle of 1954: plate to grid 21.4k, grid to -300 V 74k, plate to +150 V 10.7k. The values are derived, not read: they
/// follow from the report's volts (plates at 35 and 100 V, grids at 0.5 and -40 V, 0.6 mA into the grid that is on) when its
/// resistors return to the machine's -300 V.
const TOGGLE: &str = "valvewright format 1
rail upper 150V 5%
rail lower -300V 5%
";
const TOGGLE_SIDES: &str = "circuit side
    inputs a, output y
    y = not a
    resistors 10%: R1 21.4k a to g1, R2 74k g1 to lower, R3 10.7k upper to y
    tube V1 half OWN: plate y, grid g1, cathode ground
unit LEFT side: a right, y left
unit RIGHT side: a left, y right
";

/// A toggle with its sides in one of their two states.
struct Toggle {
    whole: Whole,
    on: &'static str,
    off: &'static str,
}

impl Toggle {
    fn new([on, off]: [&'static str; 2]) -> Self {
        // The report's design rule, which the library's type knows: 50 to 200 % of the current; nothing of mu.
        let spread = SpreadAssumptions {
            mu: (1.0, 1.0),
            ..AS_SOLVED
        };
        let own = format!(
            "type OWN triode, 2 sections, like 6J6\n    law tail: {}\n",
            law("6J6")
        );
        let whole = Whole::new(&format!("{TOGGLE}{own}{TOGGLE_SIDES}"), &spread);
        let currents = whole
            .factors
            .iter()
            .filter(|factor| factor.quantity == Quantity::Current);
        assert!(currents.map(|factor| factor.ends).eq([(0.5, 2.0); 2]));
        assert_eq!(whole.factors.len(), 8);
        Self { whole, on, off }
    }

    fn node(&self, side: &str, grid: bool) -> NodeIndex {
        let name = if grid {
            format!("{}.g1", side.to_uppercase())
        } else {
            side.to_owned()
        };
        self.whole.nodes[&name]
    }

    fn at_rest(&self) -> OperatingPoint {
        let network = &self.whole.network;
        let mut start = vec![0.0; network.wiring.nodes.len()];
        for (side, plate, grid) in [(self.on, 35.0, 0.5), (self.off, 100.0, -40.0)] {
            start[self.node(side, false)] = plate;
            start[self.node(side, true)] = grid;
        }
        Solver::new(network).operating_point(network, Some(&start), None, &SETTINGS)
    }

    /// Which settings keep the state: the plate that is down less the other, infinite where the state is lost.
    fn kept(&self, settings: &[Vec<f64>]) -> Vec<f64> {
        let rest = self.at_rest();
        // Cut-off at the 100 V of the plate that is up: 100 V over a mu of 35.
        let watches = [(self.on, true), (self.off, false)].map(|(side, above)| Watch {
            node: self.node(side, true),
            divide: -3.0,
            above,
        });
        let ensemble = Ensemble::new(&self.whole.network, &rest, &watches, &SETTINGS);
        let vary = |number: usize, sample: &mut Sample| {
            apply(&self.whole.factors, &settings[number], sample);
        };
        let solutions = ensemble.solve(settings.len(), Choice::widest(), &vary);
        let volts = |number: usize, side: &str| solutions.sample(number)[self.node(side, false)];
        (0..settings.len())
            .map(|number| match solutions.ends[number] {
                End::Settled | End::SettledAlone(_) => {
                    volts(number, self.on) - volts(number, self.off)
                }
                End::StateLost => f64::INFINITY,
                End::NotSettled => panic!("{:?} does not settle", settings[number]),
            })
            .collect()
    }

    fn is_ohms(&self, index: usize) -> bool {
        self.whole.factors[index].quantity == Quantity::Ohms
    }
}

impl Toggle {
    /// The wiring with every part at its setting.
    fn wiring(&self, settings: &[f64]) -> Wiring {
        let mut wiring = self.whole.network.wiring.clone();
        for (factor, &setting) in self.whole.factors.iter().zip(settings) {
            let (unit, part) = (
                ["LEFT", "RIGHT"][factor.member],
                ["R1", "R2", "R3", "V1"][factor.part],
            );
            let name = format!("{unit}.{part}");
            let element = wiring
                .elements
                .iter_mut()
                .find(|element| element.name == name);
            let value = factor.value(setting);
            match &mut element.unwrap().kind {
                ElementKind::Resistor { siemens, .. } => *siemens /= value,
                ElementKind::Triode {
                    law: TriodeLaw::Tail(law),
                    ..
                } => {
                    law.perveance *= value;
                    law.grid_perveance *= value;
                }
                other => panic!("{other:?} does not move"),
            }
        }
        wiring
    }

    /// How many states the toggle has with its parts so.
    fn states(&self, settings: &[f64]) -> usize {
        let leak = CONTEXT.assumptions.leak_siemens;
        let net = self.node(self.on, false);
        let scan = scan(&self.wiring(settings), leak, net, (-5.0, 155.0), &SETTINGS).unwrap();
        let rests = scan
            .solutions
            .iter()
            .filter(|solution| solution.stability.rests());
        rests.count()
    }
}

/// Every corner of so many settings.
fn corners(count: usize) -> Vec<Vec<f64>> {
    let side = |bits: usize, place: usize| if bits >> place & 1 == 1 { 1.0 } else { -1.0 };
    (0..1usize << count)
        .map(|bits| (0..count).map(|place| side(bits, place)).collect())
        .collect()
}

/// The toggle of 1954 was to bear resistors 10 % off with the current of either half anywhere from 50 to 200 % (Final Progress
/// Report on the Physical Realization of an Electronic Computing Instrument, Institute for Advanced Study, January 1954,
/// pp. 42-46). With the values derived above it cannot at the worst of everything together: with the resistors 10 % off against
/// it the divider from +150 V through both resistors of the cut-off side leaves the other grid at -5.9 V, beyond the cut-off of
/// -2.8 V, whatever the tubes; from 7.1 % on it no longer reaches 0 V. What is found is 6.86 %. What does hold at 10 %: every
/// resistor by itself with both tubes anywhere (up to 14.1 %), all of them drifted the same way, and 99.2 % of even draws.
#[test]
fn a_toggle_of_1954_keeps_both_states_over_its_tubes_and_derived_resistors() {
    let all = corners(8);
    for sides in [["left", "right"], ["right", "left"]] {
        let mut toggle = Toggle::new(sides);
        let (on, off) = (
            toggle.node(toggle.on, false),
            toggle.node(toggle.off, false),
        );
        let rest = toggle.at_rest();
        // The tube of the independent solver is fitted to points from memory, not to the maker's curves of the report.
        assert!((rest.volts[on] - 35.0).abs() < 5.0 && (rest.volts[off] - 100.0).abs() < 1.0);

        let ohms: Vec<usize> = (0..8).filter(|&index| toggle.is_ohms(index)).collect();
        let mut lasts = |settings: &[Vec<f64>]| {
            last_that_holds(1.0, |tolerance| {
                toggle.whole.with_tolerance(tolerance);
                toggle.kept(settings).into_iter().all(f64::is_finite)
            })
            .unwrap()
        };
        let enumerated = lasts(&all);
        let drifted: Vec<Vec<f64>> = all
            .iter()
            .filter(|corner| ohms.iter().all(|&index| corner[index] == corner[ohms[0]]))
            .cloned()
            .collect();
        assert!(0.10 < lasts(&drifted));
        let singly: Vec<Vec<f64>> = ohms
            .iter()
            .flat_map(|moving| {
                all.iter().map(|corner| {
                    let stays = |index: usize| ohms.contains(&index) && index != *moving;
                    (0..8)
                        .map(|index| if stays(index) { 0.0 } else { corner[index] })
                        .collect()
                })
            })
            .collect();
        let singly = lasts(&singly);
        assert!((singly - 0.141).abs() < 1e-3, "{singly}");

        let together = last_that_holds(1.0, |tolerance| {
            toggle.whole.with_tolerance(tolerance);
            let found = largest(&[0.0; 8], 1e-6, Care::Thorough, |points| {
                toggle.kept(points)
            });
            found.value < 0.0
        })
        .unwrap();
        assert!((together - 0.0686).abs() < 5e-5, "{together}");
        assert_eq!(together, enumerated);

        // Scanned, the toggle has two states up to there and one beyond.
        toggle.whole.with_tolerance(0.99 * together);
        assert!(all.iter().all(|corner| toggle.states(corner) == 2));
        toggle.whole.with_tolerance(1.01 * together);
        assert!(all.iter().any(|corner| toggle.states(corner) == 1));

        let mut seeded = Seeded(1954);
        let drawn = drawn(&mut seeded, 20_000, 8);
        toggle.whole.with_tolerance(0.10);
        let kept = toggle
            .kept(&drawn)
            .into_iter()
            .filter(|value| value.is_finite());
        // Three binomial errors are 0.19 %.
        assert!((kept.count() as f64 / 20_000.0 - 0.992).abs() < 0.0019);
    }
}

/// Settings drawn evenly.
fn drawn(seeded: &mut Seeded, count: usize, dimensions: usize) -> Vec<Vec<f64>> {
    let mut one = || {
        (0..dimensions)
            .map(|_| 2.0 * seeded.share() - 1.0)
            .collect()
    };
    (0..count).map(|_| one()).collect()
}

/// Values of the independent solver's two kinds of gates.
struct Scheme {
    name: &'static str,
    rails: (f64, f64),
    tube: &'static str,
    /// R1, R2 and the plate resistor.
    ohms: [f64; 3],
    /// What a sample's low must stay below and its high above, V.
    limits: (f64, f64),
}

/// "Classic voltages".
const CLASSIC: Scheme = Scheme {
    name: "classic",
    rails: (120.0, -120.0),
    tube: "12AT7",
    ohms: [560e3, 1.5e6, 82e3],
    limits: (28.7, 52.5),
};
/// "Low voltage".
const LOW: Scheme = Scheme {
    name: "low",
    rails: (36.0, -24.0),
    tube: "6922",
    ohms: [680e3, 1.2e6, 82e3],
    limits: (7.1, 15.8),
};

/// What was varied in the yields: besides, the saturation current of a diode three times either way.
const DRAWN_FROM: SpreadAssumptions = SpreadAssumptions {
    saturation_times: 3.0,
    ..AS_SOLVED
};

/// A diode gate with inputs `a b ...`.
fn gate(name: &str, inputs: usize, [r1, r2, plate]: [f64; 3], tube: &str) -> String {
    let names = &["a", "b", "c", "d"][..inputs];
    let diodes: Vec<String> = (1..)
        .zip(names)
        .map(|(number, input)| format!("CR{number} {input} to join"))
        .collect();
    format!(
        "circuit {name}
    inputs {}, output y
    y = not ({})
    diodes 1N4148: {}
    resistors 5%: R1 {r1} join to g1, R2 {r2} g1 to lower, R3 {plate} upper to y
    tube V1 {tube}
",
        names.join(" "),
        names.join(" or "),
        diodes.join(", ")
    )
}

/// The circuits: gates, a follower, and a gate of an indicator triode, which has 3.3 times the plate resistor; half the volts of
/// its filament are the +0.5 V at which its mean stood.
fn circuits(scheme: &Scheme) -> String {
    let half = "half OWN: plate y, grid g1, cathode ground";
    let [r1, r2, plate] = scheme.ohms;
    let (upper, lower) = scheme.rails;
    let mut text = format!(
        "valvewright format 1
rail upper {upper}V 5%
rail lower {lower}V 5%
type OWN triode, 2 sections, like 12AT7
    law tail: {}
type GLOW indicator triode, like DM160
    law tail: {}
circuit follower
    inputs a, output y
    y = a
    resistors 5%: R1 150k y to ground
    tube V1 half OWN: plate upper, grid a, cathode y
",
        law(scheme.tube),
        law("indicator")
    );
    for inputs in 1..=4 {
        text += &gate(&format!("nor{inputs}"), inputs, scheme.ohms, half);
    }
    text + &gate(
        "glow",
        2,
        [r1, r2, 3.3 * plate],
        "GLOW: plate y, grid g1, filament ground",
    )
}

/// Inverters as loads.
fn loads(net: &str, count: usize) -> String {
    (1..=count)
        .map(|number| format!("unit L{net}{number} nor1: a {net}, y open\n"))
        .collect()
}

/// A latch with a gate on either side of it, a follower on a net of it with three gates, and an inverter before each of its two
/// inputs: a network of "one latch, two input inverters, follower" as the independent solver's references have it.
fn latch(other_side: &str, followed: &str) -> String {
    format!(
        "unit D nor1: a data, y d
unit G nor1: a enable, y closed1
unit A nor2: a d, b closed1, y n1
unit B nor2: a n1, b closed1, y n2
unit Q nor2: a n1, b qn, y q
unit N {other_side}: a n2, b q, y qn
unit F follower: a {followed}, y out
{}bench
    switches: data upper or ground through 10k, enable upper or ground through 10k
",
        loads("out", 3)
    )
}

/// What samples of a machine came to, in sets of as many as were published.
struct Drawn {
    passed: Vec<usize>,
    highest_low: Vec<f64>,
    lowest_high: Vec<f64>,
}

/// Samples of each table row, and sets of so many drawn here.
const SAMPLES: usize = 2000;
const SETS: usize = 4;

impl Drawn {
    /// Draws from a machine that goes through some steps, each with its switches; `stored` tells the nets that must keep their
    /// side, `named` the output, and whether it is up.
    fn new(
        scheme: &Scheme,
        machine: &str,
        spread: &SpreadAssumptions,
        named: &str,
        steps: &[&[(&str, bool)]],
        stored: &[&str],
    ) -> Self {
        let mut whole = Whole::new(&format!("{}{machine}", circuits(scheme)), spread);
        let node = whole.nodes[named];
        let divide = f64::midpoint(scheme.limits.0, scheme.limits.1);
        let mut seeded = Seeded(1940);
        let dimensions = whole.factors.len() + whole.rails.len();
        let drawn = drawn(&mut seeded, SETS * SAMPLES, dimensions);
        let mut passes = vec![true; drawn.len()];
        let mut all = Self {
            passed: Vec::new(),
            highest_low: vec![f64::NEG_INFINITY; SETS],
            lowest_high: vec![f64::INFINITY; SETS],
        };
        let mut before: Option<OperatingPoint> = None;
        for switches in steps {
            for &(switch, up) in *switches {
                whole.set(switch, up);
            }
            let mut solver = Solver::new(&whole.network);
            let rest = match &before {
                None => solver.operating_point(&whole.network, None, None, &SETTINGS),
                Some(point) => {
                    solver.settled_in_time(&whole.network, &point.volts, &point.lamps, &SETTINGS)
                }
            };
            assert!(rest.outcome.settled());
            let up = divide < rest.volts[node];
            let sides: Vec<f64> = stored
                .iter()
                .map(|net| rest.volts[whole.nodes[*net]])
                .collect();
            let middle = sides.iter().sum::<f64>() / sides.len() as f64;
            let watches: Vec<Watch> = stored
                .iter()
                .map(|net| Watch {
                    node: whole.nodes[*net],
                    divide: middle,
                    above: middle < rest.volts[whole.nodes[*net]],
                })
                .collect();
            let ensemble = Ensemble::new(&whole.network, &rest, &watches, &SETTINGS);
            let vary = |number: usize, sample: &mut Sample| {
                let (own, rails) = drawn[number].split_at(whole.factors.len());
                apply(&whole.factors, own, sample);
                for (&(tie, volts, tolerance), setting) in whole.rails.iter().zip(rails) {
                    let moved = volts * (1.0 + tolerance * setting);
                    *sample.tie_volts(tie) = moved;
                    if 0.0 < volts {
                        for &(switch, _) in switches.iter().filter(|(_, up)| *up) {
                            *sample.tie_volts(whole.switches[switch].0) = moved;
                        }
                    }
                }
            };
            let solutions = ensemble.solve(drawn.len(), Choice::widest(), &vary);
            for (number, pass) in passes.iter_mut().enumerate() {
                if !matches!(solutions.ends[number], End::Settled | End::SettledAlone(_)) {
                    *pass = false;
                    continue;
                }
                let volts = solutions.sample(number)[node];
                let set = number / SAMPLES;
                if up {
                    *pass &= scheme.limits.1 < volts;
                    all.lowest_high[set] = all.lowest_high[set].min(volts);
                } else {
                    *pass &= volts < scheme.limits.0;
                    all.highest_low[set] = all.highest_low[set].max(volts);
                }
            }
            before = Some(rest);
        }
        let sets = passes.chunks(SAMPLES);
        all.passed = sets
            .map(|set| set.iter().filter(|pass| **pass).count())
            .collect();
        all
    }
}

impl Drawn {
    /// The share that passes must be the printed one, in %, within its rounding and two binomial errors of both.
    fn shares(&self, printed: f64, row: &str) {
        let drawn = (SETS * SAMPLES) as f64;
        let found = self.passed.iter().sum::<usize>() as f64 / drawn;
        let share = printed / 100.0;
        let error = (share * (1.0 - share) * (1.0 / SAMPLES as f64 + 1.0 / drawn)).sqrt();
        assert!(
            (found - share).abs() < 0.005 + 2.0 * error,
            "{row}: {found} for {share}"
        );
    }
}

/// The largest or least volts of so many samples, as printed with an error of rounding: they scatter from set to set, and the
/// printed ones are from one more set.
fn scatters(sets: &[f64], printed: (f64, f64), row: &str) {
    let count = sets.len() as f64;
    let mean = sets.iter().sum::<f64>() / count;
    let square = sets.iter().map(|own| (own - mean).powi(2)).sum::<f64>() / (count - 1.0);
    let error = (square * (1.0 + 1.0 / count)).sqrt();
    let (volts, rounding) = printed;
    assert!(
        (mean - volts).abs() < rounding + 3.0 * error,
        "{row}: {sets:?} for {volts}"
    );
}

/// Data written, the latch closed, the data changed while it is closed. The last two of eight steps are the first two again.
const STEPS: [&[(&str, bool)]; 6] = [
    &[("data", true), ("enable", true)],
    &[("data", true), ("enable", false)],
    &[("data", false), ("enable", false)],
    &[("data", false), ("enable", true)],
    &[("data", false), ("enable", false)],
    &[("data", true), ("enable", false)],
];

/// An extreme that was printed for a row, V with half its last figure.
enum Printed {
    Nothing,
    Low(f64, f64),
    High(f64, f64),
}

/// Solved independently, our own: 2000 even samples of everything in a latch with its neighbours (resistors 5 %, perveance
/// 25 %, mu 10 %, both rails 5 %, diodes three times either way), each solved whole in every step of writing and holding; one
/// passes when the named output is below 28.7 or above 52.5 V in the classic scheme and 7.1 or 15.8 V in the low one.
///
/// How those networks were wired is not said for every row. Where it is not: the follower carries three gates in every row (with
/// none, 56 instead of 70 % of the inverted ones pass), and stands on q unless it is said to be inverted. "Drives 1 gate
/// directly" prints the margin of the indicator's own side; "drives 2 gates directly" can only have named q, which passes as
/// often as printed: on the indicator's side 2 % would (classic) and 88 % (low). So its 2.6 V are q's margin when low.
#[test]
fn as_many_latches_work_as_were_found_by_solving_independently() {
    use Printed::{High, Low, Nothing};
    let wide = SpreadAssumptions {
        tube_current: (0.6, 1.4),
        ..DRAWN_FROM
    };
    let gates =
        |net: &str, count: usize, other_side: &str| loads(net, count) + &latch(other_side, "q");
    let rows = [
        (
            "q",
            latch("nor2", "q"),
            "q",
            &DRAWN_FROM,
            [(100.0, Nothing), (100.0, Nothing)],
        ),
        (
            "follower with 3 gates",
            latch("nor2", "q"),
            "out",
            &DRAWN_FROM,
            [(100.0, Low(14.1, 0.05)), (100.0, Low(3.7, 0.05))],
        ),
        (
            "q with 2 gates",
            gates("q", 2, "nor2"),
            "q",
            &DRAWN_FROM,
            [(100.0, Nothing), (100.0, Nothing)],
        ),
        (
            "perveance 40 %",
            latch("nor2", "q"),
            "out",
            &wide,
            [(100.0, Nothing), (100.0, Nothing)],
        ),
        (
            "indicator, follower on q",
            latch("glow", "q"),
            "out",
            &DRAWN_FROM,
            [(100.0, Low(16.5, 0.05)), (100.0, Low(3.9, 0.05))],
        ),
        (
            "indicator, follower on qn",
            latch("glow", "qn"),
            "out",
            &DRAWN_FROM,
            [(100.0, High(76.0, 0.5)), (70.0, Low(8.2, 0.05))],
        ),
        (
            "indicator side drives 1 gate",
            gates("qn", 1, "glow"),
            "qn",
            &DRAWN_FROM,
            [
                (100.0, High(52.5 + 3.8, 0.05)),
                (100.0, High(15.8 + 2.8, 0.05)),
            ],
        ),
        (
            "indicator side drives 2 gates",
            gates("qn", 2, "glow"),
            "q",
            &DRAWN_FROM,
            [(95.0, Nothing), (100.0, Low(7.1 - 2.6, 0.05))],
        ),
    ];
    for (row, machine, named, spread, printed) in rows {
        for (scheme, (share, extreme)) in [CLASSIC, LOW].iter().zip(printed) {
            let row = format!("{row}, {}", scheme.name);
            let drawn = Drawn::new(scheme, &machine, spread, named, &STEPS, &["q", "qn"]);
            drawn.shares(share, &row);
            match extreme {
                Nothing => {}
                Low(volts, rounding) => scatters(&drawn.highest_low, (volts, rounding), &row),
                High(volts, rounding) => scatters(&drawn.lowest_high, (volts, rounding), &row),
            }
        }
    }
}

/// Solved independently, our own: gates of one, three and four inputs with three to six loads, all samples pass; the highest
/// low of a gate was 7.8 V in the classic scheme and 1.6 V in the low one. More loads pull a low further down, so those are of
/// three.
#[test]
fn gates_all_work_as_was_found_by_solving_independently() {
    for (scheme, low) in [(CLASSIC, 7.8), (LOW, 1.6)] {
        for inputs in [1, 3, 4] {
            let names = &["a", "b", "c", "d"][..inputs];
            let each = |phrase: &dyn Fn(&str) -> String, between: &str| {
                let phrases: Vec<String> = names.iter().map(|name| phrase(name)).collect();
                phrases.join(between)
            };
            let drivers = each(
                &|name| format!("unit D{name} nor1: a s{name}, y {name}\n"),
                "",
            );
            let subject = each(&|name| format!("{name} {name}"), ", ");
            let switches = each(&|name| format!("s{name} upper or ground through 10k"), ", ");
            let switched: Vec<String> = names.iter().map(|name| format!("s{name}")).collect();
            // A switch that is down has its input up: none up, one, all.
            let rows = [0, 1, inputs].map(|ups| -> Vec<(&str, bool)> {
                let switches = switched.iter().enumerate();
                switches
                    .map(|(place, name)| (name.as_str(), ups <= place))
                    .collect()
            });
            let steps: Vec<&[(&str, bool)]> = rows.iter().map(Vec::as_slice).collect();
            for count in 3..=6 {
                let machine = format!(
                    "{drivers}unit SUBJECT nor{inputs}: {subject}, y out\n{}bench\n    switches: {switches}\n",
                    loads("out", count)
                );
                let drawn = Drawn::new(&scheme, &machine, &DRAWN_FROM, "out", &steps, &[]);
                let row = format!("{inputs} inputs, {count} loads, {}", scheme.name);
                drawn.shares(100.0, &row);
                if count == 3 {
                    scatters(&drawn.highest_low, (low, 0.05), &row);
                }
            }
        }
    }
}
