//! Worst cases of what sentences ask of parts, and of outputs that nothing asks a level of: against designs typed with every part
//! and rail at one of its ends and judged by the book, and by hand.

use crate::judging::solved::AS_SOLVED;
use crate::judging::{CONTEXT, LIMITS, sound};
use crate::margins::judged;
use design::model::CircuitId;
use network::duty::Asked;
use network::margins::alone::alone_cases;
use network::margins::cases::duty_in_words;
use network::margins::yields::{Drawing, Yields};
use network::margins::{DutyMargin, Margins};
use network::variation::SpreadAssumptions;
use network::verdict::{Verdict, check};

/// Every way to take one of two values for each of some quantities.
fn all_ends(ends: &[(f64, f64)]) -> Vec<Vec<f64>> {
    (0..1usize << ends.len())
        .map(|bits| {
            let one = |(place, end): (usize, &(f64, f64))| {
                if bits >> place & 1 == 1 { end.1 } else { end.0 }
            };
            ends.iter().enumerate().map(one).collect()
        })
        .collect()
}

/// Between the book value and both ends of a band of so much either way.
fn either_way(share: f64) -> (f64, f64) {
    (1.0 - share, 1.0 + share)
}

fn duty(margins: &Margins, asks: fn(Asked) -> bool) -> &DutyMargin {
    let mut duties = margins.duties.iter();
    duties.find(|duty| asks(duty.asked)).unwrap()
}

fn no_finding(verdict: &Verdict, name: &str) -> bool {
    verdict.findings.iter().all(|finding| finding.name != name)
}

/// A relay in the plate of a tube (the 6922 of the independent solver, see `judging::solved`), driven by a switch; every value a
/// share of the book's: upper and lower rail, R1, R2, current and mu. Values invented for the test.
fn relay(shares: &[f64]) -> String {
    let [upper, lower, r1, r2, current, mu] = shares[..] else {
        panic!("six shares");
    };
    format!(
        "valvewright format 1
rail upper {:.9}V 5%
rail lower {:.9}V 5%
type OWN triode, 2 sections, like 12AT7
    law tail: perveance {:.9}m, mu {:.9}, exponent 1.371, knee 3, tail-fraction 57.93m, tail-mu {:.9}, grid-perveance {:.9}m, grid-exponent 1.314, grid-knee 9.901, partition-volts 2
circuit bell
    inputs a
    current L1 15mA to 25mA = a
    inductors: L1 4H 2200ohm upper to p
    resistors 5%: R1 {:.6} a to g1, R2 {:.6} g1 to lower
    tube V1 half OWN: plate p, grid g1, cathode ground
unit B1 bell: a x
bench
    switches: x upper or ground through 1k
",
        100.0 * upper,
        -60.0 * lower,
        8.171 * current,
        33.16 * mu,
        19.61 * mu,
        2.251 * current,
        330e3 * r1,
        470e3 * r2,
    )
}

/// Sixty-four designs, with rails and parts at their ends, solved each by itself: the smallest and the largest current that is
/// wanted and the largest that is to be off are those reported, to 0.1 %.
#[test]
fn the_worst_currents_of_a_relay_are_those_of_all_designs_with_parts_at_their_ends() {
    let design = sound(&relay(&[1.0; 6])).design.unwrap();
    let (_, margins) = judged(&design, &AS_SOLVED);
    assert!(margins.duties_not_known.is_empty());
    let ends = [0.05, 0.05, 0.05, 0.05, 0.25, 0.1].map(either_way);
    let (mut least, mut most, mut off) = (f64::INFINITY, 0.0_f64, 0.0_f64);
    for shares in all_ends(&ends) {
        let design = sound(&relay(&shares)).design.unwrap();
        let verdict = check(&design, &LIMITS, &CONTEXT);
        for row in &verdict.place.results[0].rows {
            let amps = row.parts[0].amps;
            if row.row.inputs[0] {
                least = least.min(amps);
                most = most.max(amps);
            } else {
                off = off.max(amps);
            }
        }
    }
    for (asks, solved) in [
        (
            (|asked| matches!(asked, Asked::Least(_))) as fn(Asked) -> bool,
            least,
        ),
        (|asked| matches!(asked, Asked::Most(_)), most),
        (|asked| matches!(asked, Asked::Off(_)), off),
    ] {
        let found = duty(&margins, asks);
        assert!(
            (found.reading - solved).abs() <= 1e-3 * solved.abs() + 1e-12,
            "{:?}: {} for {solved}",
            found.asked,
            found.reading
        );
        let above = found.asked.above();
        let spare = if above {
            solved - found.limit
        } else {
            found.limit - solved
        };
        assert!((found.spare - spare).abs() <= 1e-3 * found.limit);
        assert!(found.spare < found.book);
    }
}

/// The relay behind a gate: shares of the gate's R3, of the relay's R1 and R2, of current and mu. The bench's resistor loads the
/// gate, so that its up level goes with R3. Values invented for the test.
fn driven_relay(shares: &[f64]) -> String {
    let [r3, r1, r2, current, mu] = shares[..] else {
        panic!("five shares");
    };
    let text = relay(&[1.0, 1.0, 1.0, 1.0, current, mu]);
    let (before, _) = text.split_once("unit B1").unwrap();
    let before = before
        .replace("V 5%", "V 0.0001%")
        .replace("resistors 5%", "resistors 0.1%");
    let ohms = |text: &str, share: f64, book: f64| format!("{text} {:.6}", share * book);
    let before = before
        .replace("R1 330000.000000", &ohms("R1", r1, 330e3))
        .replace("R2 470000.000000", &ohms("R2", r2, 204e3));
    format!(
        "{before}circuit gate
    inputs a, output y
    y = not a
    resistors 1%: R1 680k a to g1, R2 1M2 g1 to lower
    resistors 20%: {} upper to y
    tube V1 half 6922: plate y, grid g1, cathode ground
unit G1 gate: a x, y n
unit B1 bell: a n
bench
    switches: x upper or ground through 1k
    loads: n 100k to ground
",
        ohms("R3", r3, 10e3)
    )
}

/// Thirty-two designs: the largest current flows with the highest up level that the gate gives, the smallest with the lowest. The
/// relay's own input resistors stand once for the level and once for the relay in what is reported, so it may be that much further
/// out.
#[test]
fn a_largest_current_is_that_of_the_highest_up_level_and_a_smallest_that_of_the_lowest() {
    let design = sound(&driven_relay(&[1.0; 5])).design.unwrap();
    let (verdict, margins) = judged(&design, &AS_SOLVED);
    let bell = |verdict: &Verdict| {
        let mut members = verdict.plan.members.iter();
        members.position(|member| member.name == "B1").unwrap()
    };
    let ends = [0.2, 0.001, 0.001, 0.25, 0.1].map(either_way);
    let (mut least, mut most, mut most_of_low) = (f64::INFINITY, 0.0_f64, 0.0_f64);
    for shares in all_ends(&ends) {
        let design = sound(&driven_relay(&shares)).design.unwrap();
        let verdict = check(&design, &LIMITS, &CONTEXT);
        for row in &verdict.place.results[bell(&verdict)].rows {
            if row.row.inputs[0] {
                let amps = row.parts[0].amps;
                least = least.min(amps);
                most = most.max(amps);
                if 1.0 < shares[0] {
                    most_of_low = most_of_low.max(amps);
                }
            }
        }
    }
    let found = duty(&margins, |asked| matches!(asked, Asked::Most(_)));
    let further = found.reading / most - 1.0;
    assert!(
        (-1e-4..1e-3).contains(&further),
        "{} for {most}",
        found.reading
    );
    assert!(1.02 * most_of_low < most, "{most_of_low} for {most}");
    assert!(found.spare <= found.book);
    let found = duty(&margins, |asked| matches!(asked, Asked::Least(_)));
    // Near cut-off a little of the grid is much of the current.
    let further = 1.0 - found.reading / least;
    assert!(
        (-1e-4..1e-2).contains(&further),
        "{} for {least}",
        found.reading
    );
    // Alone the relay stands behind the same gate, but without the bench's resistor: with all of the upper rail more may flow.
    let alone = alone_cases(&verdict, &[CircuitId(0)], &AS_SOLVED, &CONTEXT);
    let alone = duty(&alone[0].margins, |asked| matches!(asked, Asked::Most(_)));
    assert!(most < alone.reading, "{} for {most}", alone.reading);
}

/// What the case says: by far the most comes from a tube that has lost a quarter of its current.
#[test]
fn the_case_of_a_current_names_the_parts_that_bring_it_about() {
    let design = sound(&relay(&[1.0; 6])).design.unwrap();
    let (verdict, margins) = judged(&design, &AS_SOLVED);
    let least = duty(&margins, |asked| matches!(asked, Asked::Least(_)));
    let words = duty_in_words(&verdict.plan, &margins, least);
    assert!(
        words.starts_with("B1.V1 at 75 % of its book current") && words.contains("upper 95 V"),
        "{words}"
    );
}

/// An indicator tube by the points of the DM160 (0.585 mA at 50 V and 0 V, out at -3 V: from memory) whose law is that of the
/// independent solver; shares as for the relay. Values invented for the test.
fn indicator(shares: &[f64]) -> String {
    let [lamp, lower, r1, r2, r3, current, mu] = shares[..] else {
        panic!("seven shares");
    };
    format!(
        "valvewright format 1
rail lamp {:.9}V 5%
rail lower {:.9}V 5%
type OWN indicator triode, like DM160
    point plate 50V grid 0V: current 0.585mA
    point plate 50V grid -3V: current 10uA
    law tail: perveance {:.9}u, mu {:.9}, exponent 1.409, knee 3, tail-fraction 38.08m, tail-mu {:.9}, grid-perveance {:.9}u, grid-exponent 1.314, grid-knee 9.901, partition-volts 2
circuit shows
    inputs a
    lit = a
    resistors 5%: R1 {:.6} a to g1, R2 {:.6} g1 to lower, R3 {:.6} lamp to p
    tube V1 OWN: plate p, grid g1, filament ground
unit L1 shows: a x
bench
    switches: x lamp or ground through 1k
",
        50.0 * lamp,
        -24.0 * lower,
        141.8 * current,
        19.36 * mu,
        14.36 * mu,
        39.07 * current,
        470e3 * r1,
        2.7e6 * r2,
        4.7e3 * r3,
    )
}

/// A hundred and twenty-eight designs: the least power of the plate when lit and its largest current when out.
#[test]
fn the_worst_of_an_indicator_tube_is_that_of_all_designs_with_parts_at_their_ends() {
    let design = sound(&indicator(&[1.0; 7])).design.unwrap();
    let (_, margins) = judged(&design, &AS_SOLVED);
    let ends = [0.05, 0.05, 0.05, 0.05, 0.05, 0.25, 0.1].map(either_way);
    let (mut lit, mut out) = (f64::INFINITY, 0.0_f64);
    for shares in all_ends(&ends) {
        let design = sound(&indicator(&shares)).design.unwrap();
        let verdict = check(&design, &LIMITS, &CONTEXT);
        let tube = design.circuits[0].parts.len() - 1;
        for row in &verdict.place.results[0].rows {
            if row.row.inputs[0] {
                lit = lit.min(row.parts[tube].watts);
            } else {
                out = out.max(row.parts[tube].amps);
            }
        }
    }
    let found = duty(&margins, |asked| matches!(asked, Asked::Lit(_)));
    assert!(
        (found.reading - lit).abs() < 1e-3 * lit,
        "{} {lit}",
        found.reading
    );
    let found = duty(&margins, |asked| matches!(asked, Asked::Out(_)));
    assert!(
        (found.reading - out).abs() < 1e-3 * out,
        "{} {out}",
        found.reading
    );
}

/// A neon lamp (strike and maintaining volts of its type: common practice, no source) between a divider and ground, fed from a
/// high rail or from a middle one. Other values invented for the test.
fn neon(high: f64, middle: f64, [r1, r2]: [f64; 2], [strike, maintain]: [f64; 2]) -> String {
    format!(
        "valvewright format 1
rail high {high:.9}V 5%
rail middle {middle:.9}V 5%
type OWN neon lamp, like NE-2
    law neon: strike {strike:.9}V, maintain {maintain:.9}V, lit-resistance 4k, hold 20uA, dark-resistance 1G
    spread strike 65V to 90V, maintain 50V to 60V
circuit shows
    inputs a
    lit = a
    resistors 5%: R1 {r1:.6} a to n, R2 {r2:.6} n to ground
    neons OWN: DS1 n to ground
unit L1 shows: a x
bench
    switches: x high or middle
"
    )
}

const NEON: ([f64; 2], [f64; 2]) = ([220e3, 4.7e6], [80.0, 55.0]);

/// By hand: a divider with the dark lamp's 1 G across it, and one that is loaded with the holding current where the lamp holds.
#[test]
fn a_neon_lamp_strikes_holds_and_goes_out_by_the_volts_found_by_hand() {
    let design = sound(&neon(110.0, 55.0, NEON.0, NEON.1)).design.unwrap();
    let (_, margins) = judged(&design, &AS_SOLVED);
    let [r1, r2] = NEON.0;
    let dark = |rail: f64, r1: f64, r2: f64| rail / r1 / (1.0 / r1 + 1.0 / r2 + 1e-9);
    // The volts that are left when the lamp passes as much as a resistance in which just 20 uA flow at what it holds by the book;
    // with its maintaining volts it moves in one with them.
    let resistance = (55.0 + 20e-6 * 4e3) / 20e-6;
    let held = |rail: f64, r1: f64, r2: f64, moved: f64| {
        (rail / r1 + moved / resistance) / (1.0 / r1 + 1.0 / r2 + 1.0 / resistance)
    };
    let near = |found: &DutyMargin, spare: f64| {
        assert!(
            (found.spare - spare).abs() < 1e-3,
            "{:?}: {} for {spare}",
            found.asked,
            found.spare
        );
    };
    let strikes = duty(&margins, |asked| asked == Asked::Strikes);
    near(strikes, dark(104.5, 1.05 * r1, 0.95 * r2) - 90.0);
    assert!((strikes.limit - 90.0).abs() < 1e-6);
    let holds = duty(&margins, |asked| asked == Asked::Holds);
    near(holds, held(104.5, 1.05 * r1, 0.95 * r2, 5.0) - 60.08);
    let dark_one = duty(&margins, |asked| asked == Asked::StaysDark);
    near(dark_one, 65.0 - dark(57.75, 0.95 * r1, 1.05 * r2));
    let goes_out = duty(&margins, |asked| asked == Asked::GoesOut);
    near(goes_out, 50.08 - held(57.75, 0.95 * r1, 1.05 * r2, -5.0));
    assert!((goes_out.limit - 50.08).abs() < 1e-6);
}

/// Where the margins say that a lamp just strikes, or just goes out, in the worst case, the design with rails, parts and lamp
/// there is judged so by the book, from dark and from lit; a hundredth of a volt further it is not.
#[test]
fn at_the_limit_of_a_neon_lamp_the_book_agrees_with_the_worst_case() {
    let worst = |high: f64, middle: f64| {
        let design = sound(&neon(high, middle, NEON.0, NEON.1)).design.unwrap();
        let (_, margins) = judged(&design, &AS_SOLVED);
        let strikes = duty(&margins, |asked| asked == Asked::Strikes).spare;
        let out = duty(&margins, |asked| asked == Asked::GoesOut).spare;
        (strikes, out)
    };
    // Both are straight lines by the volts of the rail.
    let zero =
        |one: (f64, f64), other: (f64, f64)| one.0 - one.1 * (other.0 - one.0) / (other.1 - one.1);
    let (first, second) = (worst(100.0, 50.0), worst(120.0, 60.0));
    let strikes_from = zero((100.0, first.0), (120.0, second.0));
    let goes_out_from = zero((50.0, first.1), (60.0, second.1));
    let [r1, r2] = NEON.0;
    for (further, passes) in [(0.01, true), (-0.01, false)] {
        let high = 0.95 * (strikes_from + further);
        let text = neon(high, 40.0, [1.05 * r1, 0.95 * r2], [90.0, 60.0]);
        let design = sound(&text).design.unwrap();
        let verdict = check(&design, &LIMITS, &CONTEXT);
        assert_eq!(no_finding(&verdict, "lamp-stays-dark"), passes);
        let middle = 1.05 * (goes_out_from - further);
        let text = neon(115.0, middle, [0.95 * r1, 1.05 * r2], [65.0, 50.0]);
        let design = sound(&text).design.unwrap();
        let verdict = check(&design, &LIMITS, &CONTEXT);
        assert_eq!(no_finding(&verdict, "lamp-stays-lit"), passes, "{middle}");
    }
}

/// A relay stands alone as its unit does, because the switch of that drives it.
#[test]
fn a_relay_alone_has_the_worst_currents_of_its_unit() {
    let design = sound(&relay(&[1.0; 6])).design.unwrap();
    let (verdict, margins) = judged(&design, &AS_SOLVED);
    let alone = alone_cases(&verdict, &[CircuitId(0)], &AS_SOLVED, &CONTEXT);
    let [case] = &alone[..] else {
        panic!("one circuit");
    };
    assert!(case.margins.connections.is_empty() && case.margins.not_known.is_empty());
    assert_eq!(case.margins.duties.len(), 3);
    for (alone, unit) in case.margins.duties.iter().zip(&margins.duties) {
        assert_eq!((alone.asked, alone.member), (unit.asked, 0));
        let near = |left: f64, right: f64| (left - right).abs() <= 1e-6 * unit.limit;
        assert!(near(alone.spare, unit.spare) && near(alone.book, unit.book));
    }
}

/// A circuit alone stands at the end of a long chain of its like: the currents of its plate resistor are those of units far down
/// a chain, of the last without a load and of those before with one, whichever leaves less.
#[test]
fn a_gate_alone_has_the_worst_currents_of_the_end_of_a_chain() {
    let mut text = "valvewright format 1
rail upper 36V 5%
rail lower -24V 5%
circuit inverter
    inputs a, output y
    y = not a
    current R3 300uA to 500uA = a
    resistors 5%: R1 680k a to g1, R2 1M2 g1 to lower, R3 82k upper to y
    tube V1 half 6922: plate y, grid g1, cathode ground
"
    .to_owned();
    for stage in 1..=9 {
        text += &format!("unit G{stage} inverter: a n{}, y n{stage}\n", stage - 1);
    }
    text += "unit LAST inverter: a n9, y open
bench
    switches: n0 upper or ground through 1k
";
    let design = sound(&text).design.unwrap();
    let (verdict, margins) = judged(&design, &AS_SOLVED);
    let alone = alone_cases(&verdict, &[CircuitId(0)], &AS_SOLVED, &CONTEXT);
    let [case] = &alone[..] else {
        panic!("one circuit");
    };
    assert_eq!((case.loads, case.margins.connections.len()), (1, 1));
    assert_eq!(case.margins.duties.len(), 3);
    for alone in &case.margins.duties {
        let at_the_end = margins.duties.iter().filter(|duty| {
            let name = verdict.plan.members[duty.member].name.as_str();
            ["G9", "LAST"].contains(&name) && duty.asked == alone.asked
        });
        let least = at_the_end
            .map(|duty| duty.spare)
            .fold(f64::INFINITY, f64::min);
        assert!(
            (alone.spare - least).abs() < 1e-3 * alone.limit,
            "{:?}: {} for {least}",
            alone.asked,
            alone.spare
        );
    }
}

/// A follower whose jig hangs a resistor on it and no gate: nothing asks a level of it, and its worst levels are shown.
#[test]
fn an_output_that_no_gate_hangs_on_has_its_worst_levels_alone() {
    let text = "valvewright format 1
rail upper 36V 5%
circuit follower
    inputs a, output y
    y = a
    resistors 5%: R1 150k y to ground
    tube V1 half 6922: plate upper, grid a, cathode y
jig follower
    loads: y 150k to ground
unit F1 follower: a x, y open
bench
    switches: x upper or ground through 1k
";
    let design = sound(text).design.unwrap();
    let verdict = check(&design, &LIMITS, &CONTEXT);
    let alone = alone_cases(&verdict, &[CircuitId(0)], &AS_SOLVED, &CONTEXT);
    let [case] = &alone[..] else {
        panic!("one circuit");
    };
    assert_eq!((case.loads, case.margins.connections.len()), (0, 0));
    let [output] = &case.margins.free[..] else {
        panic!("one output");
    };
    assert!(output.swing < output.book_swing && 0.0 < output.swing);
    let levels = [output.down.volts, output.up.volts];
    assert!(
        levels[0] < levels[1] && levels[1] < 34.2 + 10.0,
        "{levels:?}"
    );
}

/// Where nothing moves the worst case is the book's.
#[test]
fn with_parts_and_rails_exact_nothing_is_lost_against_the_book() {
    const EXACT: SpreadAssumptions = SpreadAssumptions {
        tube_current: (1.0, 1.0),
        mu: (1.0, 1.0),
        ..AS_SOLVED
    };
    let text = relay(&[1.0; 6]).replace(" 5%", " 0.000001%");
    let design = sound(&text).design.unwrap();
    let (_, margins) = judged(&design, &EXACT);
    assert_eq!(margins.duties.len(), 3);
    for duty in &margins.duties {
        assert!(
            (duty.spare - duty.book).abs() < 1e-6 * duty.limit,
            "{duty:?}"
        );
    }
}

/// The worst levels of an output are shown although nothing asks for them, and what is left between them is at one corner.
#[test]
fn an_output_that_nothing_asks_a_level_of_has_its_worst_levels() {
    let text = "valvewright format 1
rail upper 36V 5%
rail lower -24V 5%
circuit inverter
    inputs a, output y
    y = not a
    resistors 5%: R1 680k a to g1, R2 1M2 g1 to lower, R3 82k upper to y
    tube V1 half 6922: plate y, grid g1, cathode ground
unit G1 inverter: a x, y m
unit G2 inverter: a m, y open
bench
    switches: x upper or ground through 1k
";
    let design = sound(text).design.unwrap();
    let (verdict, margins) = judged(&design, &AS_SOLVED);
    assert_eq!(margins.free.len(), 1);
    let output = &margins.free[0];
    assert_eq!(verdict.plan.members[output.driver.0].name, "G2");
    let book = verdict.place.levels[&output.net];
    assert!(book.down < output.down.volts && output.up.volts < book.up);
    // Without a load its tube is cut off when up, and it stands at its rail: 34.2 V less what the cut-off tube takes.
    assert!(
        (34.0..34.2).contains(&output.up.volts),
        "{}",
        output.up.volts
    );
    for corner in 0..margins.corners.len() {
        let level = margins.levels[corner][&output.net];
        assert_eq!(level.down, output.down.by_corner[corner]);
        assert!(output.swing <= level.up - level.down);
    }
}

/// In machines drawn a relay works as often as in machines typed part by part with values drawn from the same bands.
#[test]
fn a_unit_works_in_a_sample_where_its_parts_do_what_is_asked_of_them() {
    let text = relay(&[1.0; 6]).replace("15mA to 25mA", "19mA to 40mA");
    let design = sound(&text).design.unwrap();
    let (verdict, margins) = judged(&design, &AS_SOLVED);
    let yields = Yields::new(&verdict, &margins, &AS_SOLVED, &CONTEXT);
    assert!(yields.left_out.is_empty());
    let drawing = Drawing {
        seed: 3,
        hollow: 0.0,
    };
    let counts = yields.draw(&drawing, 0, 0, 512);
    assert_eq!(counts[0], counts[1]);
    assert_eq!(counts[0].works + counts[0].part_wrong, 512);
    let mut seeded = crate::random_circuits::Seeded(11);
    const TYPED: usize = 400;
    let ends = [0.05, 0.05, 0.05, 0.05, 0.25, 0.1].map(either_way);
    let mut worked = 0;
    for _ in 0..TYPED {
        let shares = ends.map(|(low, high)| seeded.between(low, high));
        let text = relay(&shares).replace("15mA to 25mA", "19mA to 40mA");
        let design = sound(&text).design.unwrap();
        let verdict = check(&design, &LIMITS, &CONTEXT);
        worked += usize::from(no_finding(&verdict, "current-too-small"));
    }
    let (drawn, typed) = (
        f64::from(counts[0].works) / 512.0,
        worked as f64 / TYPED as f64,
    );
    assert!((0.1..0.9).contains(&typed), "{typed}");
    // Four standard deviations of so many (binomial).
    let deviation = (typed * (1.0 - typed) / TYPED as f64).sqrt();
    assert!(
        (drawn - typed).abs() < 4.0 * deviation,
        "{drawn} for {typed}"
    );
}
