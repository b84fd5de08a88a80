//! What a machine has in common: the temperature of its semiconductor diodes, and the volts of its heaters. And grids that give a
//! current back.

use crate::judging::{CONTEXT, LIMITS, sound};
use crate::marginal::checked;
use crate::margins::judged;
use design::model::Design;
use devices::diode::BOOK_KELVIN;
use devices::library::Library;
use devices::types::Law;
use network::equations::Network;
use network::margins::cases::case_in_words;
use network::margins::yields::{Drawing, Yields};
use network::margins::{ConnectionMargin, Margins};
use network::plan::Plan;
use network::scene::{Assumptions, build};
use network::solve::{Settings, Solver};
use network::surroundings::Copies;
use network::variation::{Factor, Piece, Quantity, SpreadAssumptions, factors};
use network::wiring::{ElementKind, GROUND, Wiring};
use numerics::lanes::select::Choice;

/// Nothing moves but what the text says.
const NOTHING: SpreadAssumptions = SpreadAssumptions {
    tube_current: (1.0, 1.0),
    aged: 1.0,
    mu: (1.0, 1.0),
    cut_off_volts: 0.0,
    reverse_amps: 0.0,
    saturation_times: 1.0,
    diode_kelvin: (BOOK_KELVIN, BOOK_KELVIN),
};

/// 15 and 45 degrees Celsius.
const BAND: (f64, f64) = (288.15, 318.15);

fn between(diode_kelvin: (f64, f64)) -> SpreadAssumptions {
    SpreadAssumptions {
        diode_kelvin,
        ..NOTHING
    }
}

/// Inverters in a row of parts that stand by the book, their diodes of a leaky type of which nothing else is known; the heaters of
/// both bottles in a row.
fn machine(rails: &str, heaters: &str) -> String {
    format!(
        "valvewright format 1
{rails}rail lower -24V 0%
type LEAKY silicon diode
    law junction: saturation-current 2.52nA, ideality 1.752, series-resistance 0.568, leakage 10nA/V
circuit inverter
    input a, output y
    y = not a
    diodes LEAKY: CR1 a to join
    resistors 0%: R1 680k join to g, R2 1M2 g to lower, R3 82k upper to y
    tube V1 half 6DJ8: plate y, grid g, cathode ground
unit A inverter in V1A: a take, y one
unit B inverter in V1B: a one, y two
unit C inverter in V2A: a two, y three
unit D inverter in V2B: a three, y open
{heaters}
bench
    switches: take upper or ground through 1k
"
    )
}

fn plain() -> String {
    machine("rail upper 36V 0%\n", "")
}

fn design(text: &str) -> Design {
    sound(text).design.unwrap()
}

/// All that moves in the whole machine.
fn all_factors(design: &Design, spread: &SpreadAssumptions) -> Vec<Factor> {
    let plan = Plan::machine(design);
    let everybody: Vec<usize> = (0..plan.members.len()).collect();
    let scene = build(
        &plan,
        &Copies::each(&everybody),
        &[],
        &Assumptions::STANDARD,
    );
    factors(&plan, &scene, spread)
}

/// From A to B, which nothing but the switch and B's own load has a part in.
fn first(margins: &Margins) -> &ConnectionMargin {
    let mut all = margins.connections.iter();
    all.find(|one| one.driver.is_some_and(|(driver, _)| driver == 0))
        .unwrap()
}

/// Levels down and up of A, thresholds low and high of B.
fn volts(margins: &Margins) -> [f64; 4] {
    let one = first(margins);
    [
        one.down.level,
        one.up.level,
        one.down.threshold,
        one.up.threshold,
    ]
}

/// What the worst case makes of a band of temperatures is the worse of what its ends make alone, level and threshold each by
/// itself; and a band that is typed is the same as one that is assumed. Every diode moves, and nothing is named that does not.
#[test]
fn the_worst_temperature_is_at_an_end_of_the_band() {
    let design = design(&plain());
    let (verdict, margins) = judged(&design, &between(BAND));
    let found = volts(&margins);
    let ends = [BAND.0, BAND.1].map(|kelvin| volts(&judged(&design, &between((kelvin, kelvin))).1));
    let book = volts(&judged(&design, &NOTHING).1);
    for (place, found) in found.into_iter().enumerate() {
        let [cold, hot] = ends.map(|end| end[place]);
        // Down levels and high thresholds are worst where they are highest.
        let worst = if [0, 3].contains(&place) {
            cold.max(hot)
        } else {
            cold.min(hot)
        };
        assert!((found - worst).abs() < 2e-3, "{place}: {found} {worst}");
        assert!((cold.min(hot)..=cold.max(hot)).contains(&book[place]));
    }
    // A diode drops some 2 mV less for each kelvin, and two of three of the volts before it reach the grid.
    let moved = (ends[0][2] - ends[1][2]).abs();
    assert!((0.03..0.3).contains(&moved), "{moved}");
    let words = case_in_words(&verdict.plan, &margins, &first(&margins).down);
    assert_eq!(words, "diodes at 45 °C; rails as typed");
    let typed = sound(&(plain() + "temperature 15C to 45C\n"))
        .design
        .unwrap();
    assert_eq!(volts(&judged(&typed, &NOTHING).1), found);
}

/// A machine has one temperature for all its diodes, and none where it has no semiconductor diode or where it stands at the
/// book's 300 K; where a band does not reach that, what it does is counted from its middle.
#[test]
fn all_semiconductor_diodes_have_one_temperature() {
    let is_shared = |factor: &&Factor| factor.piece == Piece::Diodes;
    let of = |text: &str, spread: &SpreadAssumptions| -> Vec<(f64, f64, f64, usize)> {
        let design = design(text);
        let all = all_factors(&design, spread);
        let shared = all.iter().filter(is_shared);
        shared
            .map(|one| {
                assert_eq!(one.quantity, Quantity::Temperature);
                (one.ends.0, one.ends.1, one.rest(), one.elements().len())
            })
            .collect()
    };
    assert_eq!(of(&plain(), &between(BAND)), [(288.15, 318.15, 300.0, 4)]);
    assert_eq!(of(&plain(), &NOTHING), []);
    let warm = plain() + "temperature 40C to 60C\n";
    let [(low, high, rest, _)] = of(&warm, &NOTHING)[..] else {
        panic!("one");
    };
    assert!((low - 313.15).abs() < 1e-9 && (high - 333.15).abs() < 1e-9);
    assert!((rest - 323.15).abs() < 1e-9);
    let without = plain()
        .replace("    diodes LEAKY: CR1 a to join\n", "")
        .replace("R1 680k join", "R1 680k a");
    assert_eq!(of(&without, &between(BAND)), []);
}

/// In every machine that is drawn all diodes have one temperature: where the level of one unit is as high as in no other machine,
/// so is that of the next, and so on in order.
#[test]
fn a_machine_that_is_drawn_has_one_temperature() {
    let design = design(&plain());
    let spread = between(BAND);
    let (verdict, margins) = judged(&design, &spread);
    let yields = Yields::new(&verdict, &margins, &spread, &CONTEXT);
    let drawing = Drawing {
        seed: 4,
        hollow: 0.0,
    };
    let places: Vec<usize> = (0..yields.units().count()).collect();
    let ranks: Vec<Vec<usize>> = places
        .iter()
        .map(|&place| {
            let outputs = yields.volts(place, &drawing, 4, &verdict, &margins);
            let up: Vec<f64> = outputs[0].up.iter().map(|(volts, _)| *volts).collect();
            let mut order: Vec<usize> = (0..up.len()).collect();
            order.sort_by(|left, right| up[*left].total_cmp(&up[*right]));
            let spread = up[order[up.len() - 1]] - up[order[0]];
            assert!(1e-3 < spread, "{spread}");
            order
        })
        .collect();
    assert!(2 <= ranks.len());
    assert!(ranks.iter().all(|order| *order == ranks[0]));
}

/// Heaters that go with a rail of 10 %: the worst level and threshold are those of the marginal check with all heaters a tenth
/// down or up, whose shift is the same; and the rail is named.
#[test]
fn heaters_go_with_their_rail() {
    let heaters = "rail heat 12.6V 10%\nstring H: from heat, V1, V2, back to ground";
    let text = machine("rail upper 36V 0%\n", heaters);
    let design = design(&text);
    let (verdict, margins) = judged(&design, &NOTHING);
    let check = checked(&verdict);
    let net = first(&margins).net;
    for up in [false, true] {
        let near = |share: usize| {
            let mut all = check.heaters[share].next.iter();
            all.find(|near| near.net == net && near.up == up).unwrap()
        };
        let side = if up {
            &first(&margins).up
        } else {
            &first(&margins).down
        };
        let worst = |values: [f64; 2], highest: bool| {
            if highest {
                values[0].max(values[1])
            } else {
                values[0].min(values[1])
            }
        };
        let level = worst([near(0).level, near(1).level], !up);
        assert!((side.level - level).abs() < 2e-3, "{} {level}", side.level);
        let threshold = worst([near(0).threshold, near(1).threshold], up);
        let found = side.threshold;
        assert!((found - threshold).abs() < 0.02, "{found} {threshold}");
    }
    let words = case_in_words(&verdict.plan, &margins, &first(&margins).down);
    assert_eq!(
        words,
        "heater rail heat 10 % high for the threshold, 10 % low for the level; rails as typed"
    );
    let heated = |text: &str| -> Vec<(Piece, usize)> {
        let design = sound(text).design.unwrap();
        let all = all_factors(&design, &NOTHING);
        let common = all
            .iter()
            .filter(|one| one.quantity == Quantity::HeaterVolts);
        common
            .map(|one| (one.piece, one.elements().len()))
            .collect()
    };
    assert_eq!(heated(&text).len(), 1);
    assert_eq!(heated(&text)[0].1, 4);
    // Two rails move by themselves; one without a tolerance, and heaters behind a ballast tube, do not.
    let two = "rail heat 6.3V 10%\nrail other 6.3V 5%\nstring H: from heat, V1, back to ground\nstring I: from other, V2, back to ground";
    let two = heated(&machine("rail upper 36V 0%\n", two));
    assert_eq!([two[0].1, two[1].1, two.len()], [2, 2, 2]);
    assert_eq!(heated(&text.replace("12.6V 10%", "12.6V 0%")), []);
    let ballast = heaters
        .replace("12.6V", "22.6V")
        .replace("V1, V2", "RT1 ballast 365mA from 5V to 15V 4%, V1, V2");
    assert_eq!(heated(&machine("rail upper 36V 0%\n", &ballast)), []);
}

/// Heaters on a rail that circuits stand on too stand where the corner of the rails puts it: at each end the level is that of a
/// machine whose rail is typed there, with the heaters of its marginal check as much up or down.
#[test]
fn heaters_on_a_rail_of_the_circuits_stand_where_its_corner_is() {
    let string = "string H: from upper, R90 61 0%, V1, V2, back to ground";
    let moved = design(&machine("rail upper 36V 10%\n", string));
    let (_, margins) = judged(&moved, &NOTHING);
    let net = first(&margins).net;
    for (heaters, share) in [(0, 0.9), (1, 1.1)] {
        let corner = margins
            .corners
            .iter()
            .position(|corner| (corner.volts[0] / 36.0 - share).abs() < 1e-9)
            .unwrap();
        let typed = design(&machine(
            &format!("rail upper {:.1}V 0%\n", 36.0 * share),
            "",
        ));
        let verdict = network::verdict::check(&typed, &LIMITS, &CONTEXT);
        let check = checked(&verdict);
        for up in [false, true] {
            let mut all = check.heaters[heaters].next.iter();
            let near = all.find(|near| near.net == net && near.up == up).unwrap();
            let level = margins.levels[corner][&net];
            let found = if up { level.up } else { level.down };
            assert!((found - near.level).abs() < 5e-3, "{found} {}", near.level);
        }
    }
}

/// Of a type of which nothing is known a grid may give back what is assumed, and nothing where the lot says `reverse 0A`; of one
/// that says it itself that counts (6SN7GT: 0.2 uA, S5 of the library).
#[test]
fn reverse_grid_current_is_assumed_where_nothing_is_known() {
    let spread = SpreadAssumptions {
        reverse_amps: 0.5e-6,
        ..NOTHING
    };
    let reverse = |text: &str| -> Vec<(f64, f64)> {
        let all = all_factors(&design(text), &spread);
        let of = all.iter().filter(|one| one.quantity == Quantity::Reverse);
        of.map(|one| one.ends).collect()
    };
    assert_eq!(reverse(&plain()), [(0.0, 0.5e-6); 4]);
    assert_eq!(reverse(&(plain() + "lot 6DJ8: reverse 0A\n")), []);
    let octal = plain().replace("6DJ8", "6SN7GT");
    assert_eq!(reverse(&octal), [(0.0, 0.2e-6); 4]);
    // With it an input that is down lets B's grid stand higher, by so much in 680k beside 1.2M, and its threshold is lower by
    // what is before the divider for that: 0.5 uA in 680k.
    let design = design(&plain());
    let [_, _, none, _] = volts(&judged(&design, &NOTHING).1);
    let [_, _, some, _] = volts(&judged(&design, &spread).1);
    assert!((none - some - 0.34).abs() < 0.02, "{none} {some}");
}

/// A lot of diodes counts in place of what their type says and what is assumed; a lot of lamps too, whose volts may all lie beside
/// the law's (80 V in the middle of 65 to 90: common practice, no source) and are then counted from their middle.
#[test]
fn lots_of_diodes_and_lamps_count() {
    let ends = |text: &str, quantity: Quantity| -> Vec<(f64, f64, f64)> {
        let spread = SpreadAssumptions {
            saturation_times: 3.0,
            ..NOTHING
        };
        let all = all_factors(&design(text), &spread);
        let of = all.iter().filter(|one| one.quantity == quantity);
        of.map(|one| (one.ends.0, one.ends.1, one.rest())).collect()
    };
    let silicon = plain().replace("LEAKY: CR1", "1N4148: CR1");
    assert_eq!(
        ends(&silicon, Quantity::Saturation),
        [(1.0 / 3.0, 3.0, 1.0); 4]
    );
    // 5 uA at 75 V (S49 of the library).
    let leakage = ends(&silicon, Quantity::Leakage);
    assert!((leakage[0].1 / (5e-6 / 75.0) - 1.0).abs() < 1e-12);
    let lot = silicon + "lot 1N4148: saturation 1.5 times, leakage 25nA at 20V\n";
    assert_eq!(ends(&lot, Quantity::Saturation), [(1.0 / 1.5, 1.5, 1.0); 4]);
    let leakage = ends(&lot, Quantity::Leakage);
    assert!((leakage[0].1 / (25e-9 / 20.0) - 1.0).abs() < 1e-12);
    let lamp = "circuit glow
    input a, output y
    y = not a
    resistors 0%: R1 680k a to g, R2 1M2 g to lower, R3 82k upper to y, R4 100k y to n
    neons NE-2: DS1 n to lower
    tube V1 half 6DJ8: plate y, grid g, cathode ground
unit G glow in V3A: a take, y open
bench
";
    let lit = plain().replace("bench\n", lamp);
    assert_eq!(ends(&lit, Quantity::Strike), [(-15.0, 10.0, 0.0)]);
    let lot = lit + "lot NE-2: strike 66V to 70V\n";
    assert_eq!(ends(&lot, Quantity::Strike), [(-14.0, -10.0, -12.0)]);
    assert_eq!(ends(&lot, Quantity::Maintain), [(-5.0, 5.0, 0.0)]);
}

/// A grid that hangs on nothing and gives 0.2 uA back stands where it conducts as much, within a volt of its cathode: triodes of
/// both laws, and a pentode.
#[test]
fn an_open_grid_stays_with_its_cathode() {
    let library = Library::shipped();
    for name in ["6922", "12AU7-KOREN", "6AK5"] {
        let mut wiring = Wiring::default();
        let [supply, plate, grid] =
            ["supply", "plate", "grid"].map(|name| wiring.node(name, 8e-12));
        wiring.hold("supply", supply, 100.0);
        wiring.resistor("R1", supply, plate, 22e3);
        let kind = match library.tube(name).unwrap().law.unwrap() {
            Law::Triode(law) => ElementKind::Triode {
                plate,
                grid,
                cathode: GROUND,
                cathode_shift: 0.0,
                law,
                cold: false,
            },
            Law::Pentode(law) => ElementKind::Pentode {
                plate,
                grid,
                screen: supply,
                suppressor: GROUND,
                cathode: GROUND,
                cathode_shift: 0.0,
                law,
                cold: false,
            },
            Law::Diode(_) => panic!("it has a grid"),
        };
        let tube = wiring.element("V1", kind);
        let network = Network::new(wiring, 1e-12).unwrap();
        let point =
            Solver::new(&network).operating_point(&network, None, None, &Settings::STANDARD);
        assert!(point.outcome.settled(), "{name}");
        let ensemble = network::ensemble::Ensemble::new(&network, &point, &[], &Settings::STANDARD);
        let solved = ensemble.solve(1, Choice::widest(), &|_, sample| {
            *sample.grid_floor(tube).unwrap() -= 0.2e-6;
        });
        let volts = solved.sample(0)[grid];
        assert!((-1.0..0.5).contains(&volts), "{name}: {volts}");
    }
}
