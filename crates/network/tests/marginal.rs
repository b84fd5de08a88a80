//! Marginal check: how far rails can be moved, in which order, and which tube is to blame, held against whole checks of the
//! machine with its rails typed there or one of its tubes made weaker.

use crate::judging::solved::AS_SOLVED;
use crate::judging::{CONTEXT, LIMITS, sound};
use crate::typed::latch_of_parts;
use network::finding::Finding;
use network::margins::marginal::{
    FURTHEST_SHARE, HEATERS_SHARE, MOST_PLACES, MarginalCheck, Place, Suspect, WEAKEST, Why,
    marginal_check, moved_rails, stands_at, suspects,
};
use network::variation::Quantity;
use network::verdict::{Verdict, check, part_faults};

/// Typed volts of the rails.
const TYPED: [f64; 2] = [24.0, -24.0];

/// A whole check and the search find levels and thresholds each in its own way; measured, they differ by 0.03 V here, V.
const NEAR: f64 = 0.05;
/// A whole check's thresholds are coarser by up to a tenth of a volt (docs/method.md, Margins): what that and the other make together, V.
const COARSE: f64 = 0.15;

/// Inverters in a row, each with a second load; the third stands with a type that has so much of the others' perveances.
/// The parameters are near those of a 12AU7, from memory.
fn machine([upper, lower]: [f64; 2], share: f64) -> String {
    let law = |share: f64| {
        format!(
            "perveance {}m, mu 26.67, exponent 1.386, knee 3, tail-fraction 167m, tail-mu 10.56, grid-perveance {}m, grid-exponent 1.314, grid-knee 9.9, partition-volts 2",
            1.313 * share,
            0.3617 * share
        )
    };
    let circuit = |name: &str, tube: &str| {
        format!(
            "circuit {name}
    input a, output y
    y = not a
    resistors 5%: R1 1M a to g1, R2 1M8 g1 to lower, R3 47k upper to y
    tube V1 half {tube}: plate y, grid g1, cathode ground
"
        )
    };
    format!(
        "valvewright format 1
rail upper {upper}V 5%
rail lower {lower}V 5%
type OWN triode, 2 sections, like 12AT7
    law tail: {}
type WEAK triode, 2 sections, like 12AT7
    law tail: {}
{}{}unit S1 inverter: a n0, y n1
unit S2 inverter: a n1, y n2
unit S3 weak: a n2, y n3
unit S4 inverter: a n3, y n4
unit D1 inverter: a n1, y open
unit D2 inverter: a n2, y open
unit D3 inverter: a n3, y open
bench
    switches: n0 upper or ground through 1k
    loads: n4 1M5 to ground
",
        law(1.0),
        law(share),
        circuit("inverter", "OWN"),
        circuit("weak", "WEAK")
    )
}

/// The marginal check with a meter that takes nothing, as a whole check has none.
pub fn checked(verdict: &Verdict) -> MarginalCheck {
    marginal_check(verdict, 1e12, &AS_SOLVED, &CONTEXT, &mut |_| ())
}

/// The smallest volts to spare of a whole check.
fn smallest(verdict: &Verdict) -> f64 {
    let connections = verdict.connections.iter();
    let spares = connections.flat_map(|one| [one.spare_down(), one.spare_up()]);
    spares.map(|spare| spare.unwrap()).reduce(f64::min).unwrap()
}

/// The same of a machine with its rails typed elsewhere.
fn smallest_at(rails: [f64; 2], share: f64) -> f64 {
    let design = sound(&machine(rails, share)).design.unwrap();
    smallest(&check(&design, &LIMITS, &CONTEXT))
}

/// A check of the machine with the rail typed at the last volts that stand passes, at the first that fail something is short,
/// and what is least to spare there is what it says.
#[test]
fn rails_stand_as_far_as_whole_checks_pass() {
    let design = sound(&machine(TYPED, 1.0)).design.unwrap();
    let verdict = check(&design, &LIMITS, &CONTEXT);
    let moved = moved_rails(&verdict, &CONTEXT);
    assert_eq!(moved.len(), 4);
    let mut failed = 0;
    for one in &moved {
        let rail = one.rail.0;
        let furthest = TYPED[rail]
            * if one.larger {
                1.0 + FURTHEST_SHARE
            } else {
                1.0 - FURTHEST_SHARE
            };
        let at = |volts: f64| {
            let mut rails = TYPED;
            rails[rail] = volts;
            smallest_at(rails, 1.0)
        };
        let least = at(one.stands);
        assert!(-NEAR <= least, "{one:?}: {least}");
        assert!(
            (least - one.next[0].spare()).abs() < NEAR,
            "{least} for {:?}",
            one.next[0]
        );
        match one.fails {
            Some(volts) => {
                failed += 1;
                assert!(at(volts) < NEAR, "{one:?}");
                assert!((volts - one.stands).abs() <= 6e-4 * TYPED[rail].abs());
                let first = one.first.as_ref().unwrap();
                assert_eq!(first.near.as_ref(), one.next.first());
            }
            None => {
                assert!((one.stands - furthest).abs() < 1e-9 && one.first.is_none());
            }
        }
    }
    assert!(0 < failed, "{moved:?}");
}

/// A latch keeps its states as far as whole checks of it with its rails typed there find them lasting and nothing short, though its up
/// level then comes to lie below the middle between the levels as typed; and fails where such a check does. The first is of tubes that
/// stand at all volts, the other fails at some.
#[test]
fn a_latch_stands_as_far_as_whole_checks_pass() {
    let strong = |[upper, lower]: [f64; 2]| {
        format!(
            "valvewright format 1
rail upper {upper}V 0%
rail lower {lower}V 0%
circuit nor
    inputs a b, output y
    y = not (a or b)
    diodes 1N4148: CR1 a to join, CR2 b to join
    resistors 5%: R1 680k join to g1, R2 1M2 g1 to lower, R3 82k upper to y
    tube V1 half 6922: plate y, grid g1, cathode ground
unit Q nor: a reset, b qn, y q
unit N nor: a set, b q, y qn
bench
    switches: set upper or ground through 10k, reset upper or ground through 10k
"
        )
    };
    let weak = |rails: [f64; 2]| {
        let shares = [0, 1].map(|rail| rails[rail] / TYPED[rail]);
        latch_of_parts(&[[1.0; 5]; 2], [0.0; 2], shares, 0.0)
    };
    assert!(0 < stands_as_checked([36.0, -24.0], &strong));
    stands_as_checked(TYPED, &weak);
}

/// Compares all that the rails of a latch can be moved with whole checks; how many of the ways end with an up level below the middle
/// between the levels as typed.
fn stands_as_checked(typed: [f64; 2], latch: &dyn Fn([f64; 2]) -> String) -> usize {
    let design = sound(&latch(typed)).design.unwrap();
    let verdict = check(&design, &LIMITS, &CONTEXT);
    let moved = moved_rails(&verdict, &CONTEXT);
    assert_eq!(moved.len(), 4);
    let mut below = 0;
    for one in &moved {
        let least = |volts: f64| {
            let mut rails = typed;
            rails[one.rail.0] = volts;
            let design = sound(&latch(rails)).design.unwrap();
            let verdict = check(&design, &LIMITS, &CONTEXT);
            let connections = verdict.connections.iter();
            let spares = connections.flat_map(|one| [one.spare_down(), one.spare_up()]);
            let spares = spares.map(|spare| spare.unwrap_or(f64::NEG_INFINITY));
            if verdict.rings[0].loses_a_state() {
                f64::NEG_INFINITY
            } else {
                spares.reduce(f64::min).unwrap()
            }
        };
        assert!(-COARSE <= least(one.stands), "{one:?}");
        if let Some(fails) = one.fails {
            assert!(least(fails) < COARSE, "{one:?}");
            assert!((fails - one.stands).abs() <= 6e-4 * typed[one.rail.0].abs());
        }
        below += usize::from(one.next.iter().any(|near| {
            let book = verdict.place.levels.get(&near.net);
            near.up && book.is_some_and(|book| near.level < f64::midpoint(book.down, book.up))
        }));
    }
    below
}

/// Every step once; towards ground first, the smallest share first among new failures, and what fails nowhere last.
#[test]
fn steps_stand_in_the_order_of_the_bench() {
    let design = sound(&machine(TYPED, 1.0)).design.unwrap();
    let verdict = check(&design, &LIMITS, &CONTEXT);
    let found = checked(&verdict);
    assert!(found.stands);
    let mut sorted = found.order.clone();
    sorted.sort_unstable();
    assert_eq!(sorted, (0..found.moved.len()).collect::<Vec<_>>());
    let key = |place: &usize| {
        let moved = &found.moved[*place];
        (moved.fails.is_none(), moved.fails.is_some() && moved.larger)
    };
    assert!(found.order.is_sorted_by_key(key), "{found:?}");
}

/// What falls short first is an inverter's level: the tube is the load's only one, and the state has the net where it is said and
/// the driver's input in the other place.
#[test]
fn what_fails_first_names_the_tube_and_the_state() {
    let design = sound(&machine(TYPED, 1.0)).design.unwrap();
    let verdict = check(&design, &LIMITS, &CONTEXT);
    let plan = &verdict.plan;
    let mut found = 0;
    for first in moved_rails(&verdict, &CONTEXT)
        .iter()
        .filter_map(|one| one.first.as_ref())
    {
        assert_eq!(first.why, Why::Short);
        let near = first.near.as_ref().unwrap();
        let (member, part) = first.tube.unwrap();
        assert_eq!(member, near.load.0);
        assert_eq!(plan.circuit(member).parts[part].mark, "V1");
        assert_eq!(first.state[&near.net], near.up);
        if let Some((driver, _)) = near.driver {
            found += 1;
            assert_eq!(first.members, [driver]);
            assert_eq!(first.state[&plan.members[driver].nets[0]], !near.up);
        }
    }
    assert!(0 < found);
}

/// The machine with one resistor of the third stage at so many times its ohms.
fn with_resistor(mark: &str, share: f64) -> String {
    let (text, before) = (machine(TYPED, 1.0), "circuit weak");
    let (head, tail) = text.split_once(before).unwrap();
    let (written, ohms) = match mark {
        "R1" => ("R1 1M ", 1e6),
        "R2" => ("R2 1M8 ", 1.8e6),
        _ => ("R3 47k ", 47e3),
    };
    let new = format!("{mark} {:.0} ", ohms * share);
    format!("{head}{before}{}", tail.replacen(written, &new, 1))
}

/// A third stage with a resistor as far off as a suspect of a step says reads in a whole check, in the row of the step's state, what the
/// table says; and the switch alone brings a chain of inverters to any of its states.
#[test]
fn what_tells_suspects_apart_is_what_a_whole_check_reads() {
    let design = sound(&machine(TYPED, 1.0)).design.unwrap();
    let verdict = check(&design, &LIMITS, &CONTEXT);
    let plan = &verdict.plan;
    let third = plan.members.iter().position(|member| member.name == "S3");
    let third = third.unwrap();
    let nets = &plan.members[third].nets;
    let found = checked(&verdict);
    let mut compared = 0;
    for (moved, apart) in found.moved.iter().zip(&found.apart) {
        assert_eq!(moved.is_step(), apart.is_some());
        let Some(apart) = apart else { continue };
        assert!(apart.places.len() <= MOST_PLACES);
        let set_up = apart.set_up.as_ref().unwrap();
        assert_eq!(set_up.switches.len(), 1);
        assert!(set_up.stored.is_empty() && set_up.held.is_empty());
        for (row, (index, place)) in apart.rows.iter().flat_map(|row| {
            let places = apart.places.iter().enumerate();
            places.map(move |place| (row, place))
        }) {
            let suspect = &row.suspects[0];
            let node = match *place {
                Place::Inner(member, node) if member == third => node,
                Place::Net(net) if net == nets[1] => 1,
                _ => continue,
            };
            if suspect.quantity != Quantity::Ohms || suspect.member != third {
                continue;
            }
            compared += 1;
            let mark = &plan.circuit(third).parts[suspect.part].mark;
            let design = sound(&with_resistor(mark, suspect.value)).design.unwrap();
            let whole = check(&design, &LIMITS, &CONTEXT);
            let mut rows = whole.place.results[third].rows.iter();
            let up = set_up.values[&nets[0]];
            let read = rows.find(|read| read.row.inputs == [up]).unwrap().volts[node];
            assert!((read - row.volts[index]).abs() < NEAR, "{read}: {row:?}");
        }
    }
    assert!(0 < compared, "{:?}", found.apart);
}

/// With so much hung on a net that it is just up enough, heaters that are off one way make it fail within a tenth of their volts: it is said
/// from which share on, to a thousandth.
#[test]
fn heaters_fail_at_a_share_that_is_found() {
    let (mut stands, mut fails) = (1e6, 10e3);
    let design_at = |ohms: f64| {
        let loads = format!("loads: n2 {ohms:.0} to ground, n4 1M5 to ground");
        let text = machine(TYPED, 1.0).replace("loads: n4 1M5 to ground", &loads);
        sound(&text).design.unwrap()
    };
    for _ in 0..16 {
        let middle = f64::midpoint(stands, fails);
        let design = design_at(middle);
        if checked(&check(&design, &LIMITS, &CONTEXT)).stands {
            stands = middle;
        } else {
            fails = middle;
        }
    }
    let design = design_at(stands);
    let found = checked(&check(&design, &LIMITS, &CONTEXT));
    let failing = found
        .heaters
        .iter()
        .filter(|heated| heated.fails_at.is_some());
    for heated in &found.heaters {
        match heated.fails_at {
            Some(at) => {
                assert!(heated.first.is_some() && at.abs() <= HEATERS_SHARE);
                assert!((at - heated.share).abs() <= 1e-3 + 1e-12);
            }
            None => assert!((heated.share.abs() - HEATERS_SHARE).abs() < 1e-12),
        }
    }
    assert!(0 < failing.count(), "{stands}: {:?}", found.heaters);
}

/// A machine that is short as typed stands nowhere, and says so.
#[test]
fn what_is_short_as_typed_does_not_stand() {
    let design = sound(&machine([24.0, -3.0], 1.0)).design.unwrap();
    let verdict = check(&design, &LIMITS, &CONTEXT);
    if smallest(&verdict) < 0.0 {
        let found = checked(&verdict);
        assert!(!found.stands && found.moved.is_empty() && found.apart.is_empty());
        assert!(found.fails_as_typed.is_some());
    } else {
        panic!("the example passes");
    }
}

/// With the third stage's tube a little stronger than where it is to blame a whole check passes at those volts, with it a little
/// weaker something is short; with the rails as typed it passes with it as weak as that. Where no weak tube of that stage is
/// named, either none makes a check fail there, or one that does makes it fail as typed.
#[test]
fn a_suspect_is_as_weak_as_a_whole_check_needs() {
    let design = sound(&machine(TYPED, 1.0)).design.unwrap();
    let verdict = check(&design, &LIMITS, &CONTEXT);
    let moved = moved_rails(&verdict, &CONTEXT);
    let mut found = 0;
    for one in moved.iter().filter(|one| one.fails.is_some()) {
        let volts = f64::midpoint(TYPED[one.rail.0], one.stands);
        let mut rails = TYPED;
        rails[one.rail.0] = volts;
        assert!(stands_at(&verdict, one.rail, Some(volts), &CONTEXT));
        let all = suspects(&verdict, one.rail, volts, &AS_SOLVED, &CONTEXT);
        let times = |suspect: &Suspect| suspect.times_its_band.unwrap_or(f64::INFINITY);
        assert!(all.is_sorted_by_key(times));
        let named = |name: &str| {
            let mut own = all.iter();
            own.find(|suspect| {
                let weak = suspect.quantity == Quantity::Current && suspect.value < 1.0;
                weak && verdict.plan.members[suspect.member].name == name
            })
        };
        let Some(suspect) = named("S3") else {
            let weakest = 1.1 * WEAKEST;
            let stands = [rails, TYPED].map(|rails| 0.0 <= smallest_at(rails, weakest));
            assert!(stands[0] || !stands[1], "{one:?}");
            continue;
        };
        found += 1;
        let spares = [1.03, 0.97].map(|share| smallest_at(rails, share * suspect.value));
        assert!(0.0 <= spares[0] && spares[1] < 0.0, "{suspect:?}");
        assert!(0.0 <= smallest_at(TYPED, suspect.value), "{suspect:?}");
    }
    assert!(0 < found, "{moved:?}");
}

/// A plate resistor of 82 kΩ for 20 mW bears 40.5 V (P = V²/R), and the conducting plate stands at about a volt: `upper` goes to
/// 41 to 42 V and no further, as the finding of a whole check there says. Nothing else is stopped.
#[test]
fn a_step_ends_where_a_rating_is_passed_first() {
    let text = |upper: f64| {
        format!(
            "valvewright format 1
rail upper {upper}V 5%
rail lower -24V 5%
circuit inverter
    input a, output y
    y = not a
    diodes 1N4148: CR1 a to join
    resistors 5%: R1 680k join to g, R2 1M2 g to lower
    resistors 5% 0.02W: R3 82k upper to y
    tube V1 half 6922: plate y, grid g, cathode ground
unit S1 inverter: a n0, y n1
unit S2 inverter: a n1, y n2
unit S3 inverter: a n2, y open
bench
    switches: n0 upper or ground through 1k
"
        )
    };
    let design = sound(&text(36.0)).design.unwrap();
    let verdict = check(&design, &LIMITS, &CONTEXT);
    let found = checked(&verdict);
    for one in &found.moved {
        let up = one.rail.0 == 0 && one.larger;
        assert_eq!(one.stopped.is_some(), up, "{one:?}");
        let Some(stop) = &one.stopped else { continue };
        assert!((41.0..42.0).contains(&one.stands), "{}", one.stands);
        assert_eq!(
            (stop.what.as_str(), stop.rating.as_str()),
            ("dissipation", "rated power")
        );
        assert!(stop.subject.ends_with(".R3") && one.fails.is_none());
        for (volts, passes) in [(one.stands, true), (one.stands + 0.02, false)] {
            let design = sound(&text(volts)).design.unwrap();
            let found = check(&design, &LIMITS, &CONTEXT).findings;
            let over = found.iter().any(|found| found.name == "resistor-watts");
            assert_eq!(over, !passes, "{volts}");
        }
    }
}

/// A neon lamp that a tube pulls down and an inductor in a plate lead, both with a sentence that says when; nothing that is driven has a
/// threshold.
fn lamp_and_load([lamps, upper, lower]: [f64; 3]) -> String {
    format!(
        "valvewright format 1
rail lamps {lamps}V 5%
rail upper {upper}V 5%
rail lower {lower}V 5%
circuit neon
    inputs a
    lit = a
    resistors 5% 1W: R1 470k a to g1, R2 820k g1 to lower, R3 100k lamps to k, R4 47k k to p
    neons NE-2: DS1 lamps to k2
    resistors 5% 1W: R5 100k k2 to p
    tube V1 half 12AU7: plate p, grid g1, cathode ground
circuit bell
    inputs a
    current L1 3mA to 12mA = a
    inductors: L1 4H 2k2ohm upper to p
    resistors 5% 1W: R1 330k a to g1, R2 1M g1 to lower
    tube V1 half 6922: plate p, grid g1, cathode ground
unit S1 neon: a n0
unit S2 bell: a n1
bench
    switches: n0 upper or ground through 10k, n1 upper or ground through 10k
"
    )
}

/// A step ends where a lamp or load no longer does what its sentence asks: a check of the machine with the rail typed at the last volts
/// that stand finds nothing of it, one at the first that fail finds what is said.
#[test]
fn a_step_ends_where_a_lamp_or_load_does_otherwise() {
    const AS_TYPED: [f64; 3] = [100.0, 60.0, -24.0];
    let faults = |rails: [f64; 3]| {
        let design = sound(&lamp_and_load(rails)).design.unwrap();
        check(&design, &LIMITS, &CONTEXT).findings
    };
    let asked = |name: &str| name.starts_with("lamp-stays") || name.starts_with("current-");
    assert!(!faults(AS_TYPED).iter().any(|found| asked(found.name)));
    let design = sound(&lamp_and_load(AS_TYPED)).design.unwrap();
    let verdict = check(&design, &LIMITS, &CONTEXT);
    let found = checked(&verdict);
    assert!(found.stands);
    let mut names = Vec::new();
    for (one, apart) in found.moved.iter().zip(&found.apart) {
        let at = |volts: f64| {
            let mut rails = AS_TYPED;
            rails[one.rail.0] = volts;
            faults(rails)
        };
        let stands = at(one.stands);
        assert!(!stands.iter().any(|found| asked(found.name)), "{one:?}");
        let Some(first) = &one.first else { continue };
        assert_eq!(first.why, Why::NotDone);
        assert!(one.is_step() && apart.is_none());
        let finding = first.not_done.as_ref().unwrap();
        let fails = at(one.fails.unwrap());
        let same =
            |other: &&Finding| (other.name, &other.subject) == (finding.name, &finding.subject);
        assert!(fails.iter().any(|other| same(&other)), "{one:?}: {fails:?}");
        assert_eq!(first.state.len(), 1);
        names.push((one.rail.0, one.larger, finding.name));
    }
    assert!(names.contains(&(0, false, "lamp-stays-dark")), "{names:?}");
    assert!(names.contains(&(1, true, "current-too-large")), "{names:?}");
}

/// With the upper rail so low that a load just gets its current, heaters that are down by some hundredths leave it too little: a judgement
/// of the machine with every tube conducting so much later finds that at the share that is said and not at the last that stands.
#[test]
fn heaters_stop_where_a_load_gets_too_little() {
    let design_at = |upper: f64| {
        let design = sound(&lamp_and_load([100.0, upper, -24.0])).design;
        design.unwrap()
    };
    let small = |upper: f64, less_heat_volts: f64| {
        let faults = part_faults(&design_at(upper), less_heat_volts, &CONTEXT);
        faults
            .iter()
            .any(|fault| fault.finding.name == "current-too-small")
    };
    let (mut stands, mut fails) = (60.0, 10.0);
    assert!(!small(stands, 0.0) && small(fails, 0.0));
    while 1e-3 < stands - fails {
        let middle = f64::midpoint(stands, fails);
        *(if small(middle, 0.0) {
            &mut fails
        } else {
            &mut stands
        }) = middle;
    }
    let upper = stands + 0.02;
    let design = design_at(upper);
    let found = checked(&check(&design, &LIMITS, &CONTEXT));
    let [down, up] = found.heaters.as_slice() else {
        panic!("{:?}", found.heaters)
    };
    assert_eq!((up.fails_at, up.share), (None, HEATERS_SHARE));
    let first = down.first.as_ref().unwrap();
    let finding = first.not_done.as_ref().unwrap();
    assert_eq!(
        (first.why, finding.name),
        (Why::NotDone, "current-too-small")
    );
    let fails_at = down.fails_at.unwrap();
    assert!(-HEATERS_SHARE <= fails_at && fails_at < down.share && down.share <= 0.0);
    assert!(down.share - fails_at <= 1e-3 + 1e-12);
    // A tenth of the heaters' volts is 0.1 V (common practice, no source).
    assert!(!small(upper, -down.share) && small(upper, -fails_at));
}
