//! Worst cases and machines drawn, against machines typed part by part and judged like any design.

use crate::judging::solved::AS_SOLVED;
use crate::judging::{CONTEXT, LIMITS, sound};
use crate::margins::judged;
use crate::random_circuits::Seeded;
use network::margins::yields::{Drawing, SCRAMBLES, Yields};
use network::margins::{LostState, Margins};
use network::plan::MemberIndex;
use network::variation::{Piece, Quantity, SpreadAssumptions};
use network::verdict::Verdict;

/// Three inverters in a row, each of parts of its own: R1 to R3 as shares of their values, current and mu of the tube as shares of
/// the book's; and the rails as shares. The tube is the 6922 of the independent solver (see `judging::solved`: from memory).
fn of_parts(units: &[[f64; 5]], rails: [f64; 2]) -> String {
    let [perveance, mu, grid] = [8.171, 33.16, 2.251];
    let mut text = format!(
        "valvewright format 1\nrail upper {:.6}V 5%\nrail lower {:.6}V 5%\n",
        36.0 * rails[0],
        -24.0 * rails[1]
    );
    for (place, [r1, r2, r3, current, of_mu]) in units.iter().enumerate() {
        text += &format!(
            "type T{place} triode, 2 sections, like 12AT7
    law tail: perveance {:.6}m, mu {:.6}, exponent 1.371, knee 3, tail-fraction 57.93m, tail-mu {:.6}, grid-perveance {:.6}m, grid-exponent 1.314, grid-knee 9.901, partition-volts 2
circuit inverter{place}
    inputs a, output y
    y = not a
    resistors 10%: R1 {:.3} a to g1, R2 {:.3} g1 to lower, R3 {:.3} upper to y
    tube V1 half T{place}: plate y, grid g1, cathode ground
unit S{place} inverter{place}: a n{place}, y {}
",
            perveance * current,
            mu * of_mu,
            19.61 * of_mu,
            grid * current,
            680e3 * r1,
            1.2e6 * r2,
            15e3 * r3,
            if place + 1 == units.len() { "open".to_owned() } else { format!("n{}", place + 1) },
        );
    }
    text + "bench\n    switches: n0 upper or ground through 1k\n"
}

/// Machines typed part by part with values drawn evenly from the same bands, and judged by their levels and thresholds like any
/// design, work as often as those drawn side by side, of which no threshold is ever sought: within four standard deviations of
/// so many (binomial), for each unit and for the whole machine.
#[test]
fn as_many_work_as_of_machines_typed_part_by_part() {
    const TYPED: usize = 400;
    let book = of_parts(&[[1.0; 5]; 3], [1.0; 2]);
    let design = sound(&book).design.unwrap();
    let (verdict, margins) = judged(&design, &AS_SOLVED);
    let yields = Yields::new(&verdict, &margins, &AS_SOLVED, &CONTEXT);
    let drawing = Drawing {
        seed: 5,
        hollow: 0.0,
    };
    let mut shares = [0.0; 3];
    for scramble in 0..SCRAMBLES {
        let counts = yields.draw(&drawing, scramble, 0, 64);
        for (share, count) in shares.iter_mut().zip(counts) {
            *share += f64::from(count.works) / (64.0 * SCRAMBLES as f64);
        }
    }
    let mut seeded = Seeded(77);
    let mut worked = [0.0; 3];
    for _ in 0..TYPED {
        let units: Vec<[f64; 5]> = (0..3)
            .map(|_| {
                [(0.9, 1.1), (0.9, 1.1), (0.9, 1.1), (0.75, 1.25), (0.9, 1.1)]
                    .map(|(low, high)| seeded.between(low, high))
            })
            .collect();
        let rails = [0.95, 0.95].map(|low| seeded.between(low, 1.05));
        let design = sound(&of_parts(&units, rails)).design.unwrap();
        let verdict = network::verdict::check(&design, &LIMITS, &CONTEXT);
        let works = |driver: MemberIndex| {
            verdict.connections.iter().all(|connection| {
                connection.driver.is_none_or(|(by, _)| by != driver)
                    || [connection.spare_down(), connection.spare_up()]
                        .iter()
                        .all(|spare| spare.is_none_or(|spare| 0.0 <= spare))
            })
        };
        let units = [works(0), works(1)];
        let switch = verdict.connections.iter().all(|connection| {
            connection.driver.is_some()
                || [connection.spare_down(), connection.spare_up()]
                    .iter()
                    .all(|spare| spare.is_none_or(|spare| 0.0 <= spare))
        });
        for (worked, works) in
            worked
                .iter_mut()
                .zip([units[0], units[1], switch && units[0] && units[1]])
        {
            *worked += f64::from(u8::from(works)) / TYPED as f64;
        }
    }
    let members: Vec<MemberIndex> = yields.units().map(|units| units[0]).collect();
    assert_eq!(members, [0, 1]);
    for (share, worked) in shares.into_iter().zip(worked) {
        let error = (worked * (1.0 - worked) / TYPED as f64 + 1e-4).sqrt();
        assert!(0.1 < share && share < 0.95, "{share} tells little");
        assert!(
            (share - worked).abs() < 4.0 * error,
            "{share} drawn, {worked} typed"
        );
    }
}

/// Two gates that hold one another, each of parts of its own: R1 to R3, current and mu of the tube as shares of the book's; and the
/// rails as shares, `upper` with a tolerance. What leaks through the diode of a gate's first input is typed as a resistor, siemens. The tube is the 12AU7 of the independent solver (see `judging::solved`: from memory).
pub fn latch_of_parts(
    units: &[[f64; 5]; 2],
    leaks: [f64; 2],
    rails: [f64; 2],
    tolerance: f64,
) -> String {
    let mut text = format!(
        "valvewright format 1\nrail upper {:.6}V {:.0}%\nrail lower {:.6}V 5%\n",
        24.0 * rails[0],
        100.0 * tolerance,
        -24.0 * rails[1]
    );
    for (place, [r1, r2, r3, current, of_mu]) in units.iter().enumerate() {
        text += &format!(
            "type T{place} triode, 2 sections, like 12AU7
    law tail: perveance {:.6}m, mu {:.6}, exponent 1.386, knee 3, tail-fraction 167.1m, tail-mu {:.6}, grid-perveance {:.6}m, grid-exponent 1.314, grid-knee 9.901, partition-volts 2
circuit nor{place}
    inputs a b, output y
    y = not (a or b)
    diodes 1N4148: CR1 a to join, CR2 b to join
    resistors 5%: R1 {:.3} join to g1, R2 {:.3} g1 to lower, R3 {:.3} upper to y{}
    tube V1 half T{place}: plate y, grid g1, cathode ground
",
            1.313 * current,
            26.67 * of_mu,
            10.56 * of_mu,
            0.3617 * current,
            1e6 * r1,
            1.8e6 * r2,
            62e3 * r3,
            if 0.0 < leaks[place] {
                format!(", R4 {:.0} a to join", 1.0 / leaks[place])
            } else {
                String::new()
            },
        );
    }
    text + "unit Q nor0: a reset, b qn, y q\nunit N nor1: a set, b q, y qn
bench
    switches: set upper or ground through 10k, reset upper or ground through 10k
    loads: q 1M to ground, qn 1M to ground
"
}

/// A latch whose halves may be unlike loses a state where one tube is weak and the other half asks little; no half alone says so,
/// because as long as one is quite cut off nothing of it matters to the other. What is named for it is typed as a design, part
/// by part: its check finds the state lost; and found again where the first of the parts named is put back.
#[test]
fn a_latch_loses_a_state_with_the_parts_that_are_named_and_keeps_it_with_one_fewer() {
    let spread = SpreadAssumptions {
        tube_current: (0.5, 1.44),
        mu: (0.83, 1.17),
        ..AS_SOLVED
    };
    let book = latch_of_parts(&[[1.0; 5]; 2], [0.0; 2], [1.0; 2], 0.05);
    let design = sound(&book).design.unwrap();
    let (verdict, margins) = judged(&design, &spread);
    assert!(!verdict.rings[0].loses_a_state());
    assert_eq!(margins.lost.len(), 1);
    let lost = &margins.lost[0];
    assert_eq!(lost.members, [0, 1]);
    let typed = |left_out: Option<usize>| typed_loses(&verdict, &margins, lost, left_out);
    assert!(typed(None), "{:?}", lost.case);
    let count = lost.case.moved.len();
    assert!((2..8).contains(&count), "{:?}", lost.case);
    for number in 0..count {
        if lost.case.moved[number].quantity != Quantity::Leakage {
            assert!(!typed(Some(number)), "{:?}", lost.case.moved[number]);
        }
    }
}

/// A latch of the parts that are named for a state that is lost, but for one, with its rails where they are named: whether its check
/// finds a state lost.
fn typed_loses(
    verdict: &Verdict,
    margins: &Margins,
    lost: &LostState,
    left_out: Option<usize>,
) -> bool {
    let (units, leaks) = named(verdict, lost, left_out);
    let design = sound(&latch_of_parts(
        &units,
        leaks,
        rails_of(verdict, margins, lost),
        0.0,
    ));
    let design = design.design.unwrap();
    let verdict = network::verdict::check(&design, &LIMITS, &CONTEXT);
    verdict.rings[0].loses_a_state()
}

/// The parts that are named for a state that is lost, but for one: R1 to R3, current and mu of both gates, and what leaks in each.
fn named(
    verdict: &Verdict,
    lost: &LostState,
    left_out: Option<usize>,
) -> ([[f64; 5]; 2], [f64; 2]) {
    let mut units = [[1.0; 5]; 2];
    let mut leaks = [0.0; 2];
    for (number, moved) in lost.case.moved.iter().enumerate() {
        if left_out == Some(number) {
            continue;
        }
        let Piece::Part(part) = moved.piece else {
            panic!("the bench has no tolerance: {moved:?}");
        };
        let mark = &verdict.plan.circuit(moved.member).parts[part].mark;
        let place = match moved.quantity {
            Quantity::Ohms => ["R1", "R2", "R3"].iter().position(|known| known == mark),
            Quantity::Current => Some(3),
            Quantity::Mu => Some(4),
            Quantity::Leakage if mark == "CR1" => {
                leaks[moved.member] = moved.value;
                None
            }
            _ => None,
        };
        if let Some(place) = place {
            units[moved.member][place] = moved.value;
        }
    }
    (units, leaks)
}

/// Where the rails stand when a state is lost, as shares.
fn rails_of(verdict: &Verdict, margins: &Margins, lost: &LostState) -> [f64; 2] {
    let volts = &margins.corners[lost.corner].volts;
    [0, 1].map(|rail| volts[rail] / verdict.plan.design.rails[rail].volts)
}

/// With a rail that may be 30 to 48 % off the levels of a latch move so far that an up level at one end lies below the middle of
/// those with the rails as typed. A state is said to be lost only where the machine typed so loses it, or has a level on the wrong
/// side of the middle between the levels of a latch of book parts typed there.
#[test]
fn a_latch_at_wide_rails_loses_what_a_machine_typed_there_loses() {
    /// The middle is found with the nets around at their worst, V.
    const NEAR: f64 = 0.1;
    let spread = SpreadAssumptions {
        tube_current: (0.8, 1.2),
        ..AS_SOLVED
    };
    for tolerance in [0.3, 0.4, 0.48] {
        let book = latch_of_parts(&[[1.0; 5]; 2], [0.0; 2], [1.0; 2], tolerance);
        let design = sound(&book).design.unwrap();
        let (verdict, margins) = judged(&design, &spread);
        for lost in &margins.lost {
            let (units, leaks) = named(&verdict, lost, None);
            let rails = rails_of(&verdict, &margins, lost);
            let typed = |units: &[[f64; 5]; 2], leaks: [f64; 2]| {
                let design = sound(&latch_of_parts(units, leaks, rails, 0.0));
                let design = design.design.unwrap();
                let verdict = network::verdict::check(&design, &LIMITS, &CONTEXT);
                let levels = verdict.place.levels.clone();
                (verdict.rings[0].loses_a_state(), levels)
            };
            let (loses, there) = typed(&units, leaks);
            let (_, book) = typed(&[[1.0; 5]; 2], [0.0; 2]);
            let beyond = lost.members.iter().any(|&member| {
                let net = verdict.plan.members[member].nets[2];
                let middle = f64::midpoint(book[&net].down, book[&net].up);
                middle - NEAR < there[&net].down || there[&net].up < middle + NEAR
            });
            assert!(loses || beyond, "{tolerance}: {lost:?} {there:?}");
        }
    }
}
