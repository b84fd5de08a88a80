//! Values that spare the most: the best of all that was tried, within its limits, also where the search is stopped.

use crate::judging::{CONTEXT, sound};
use design::model::{CircuitId, Design, PartKind, RailId};
use network::margins::choosing::{Chosen, Free, Wanted, choose};
use network::preferred::Series;
use network::variation::SpreadAssumptions;

/// As the program assumes it.
const SPREAD: SpreadAssumptions = SpreadAssumptions {
    tube_current: (0.78, 1.44),
    aged: 0.5,
    mu: (0.83, 1.17),
    cut_off_volts: 0.1,
    reverse_amps: 0.2e-6,
    saturation_times: 3.0,
    diode_kelvin: (288.15, 318.15),
};

fn gate() -> Design {
    let text = "valvewright format 1
rail upper 36V 5%
rail lower -24V 5%
circuit inverter
    input a, output y
    y = not a
    resistors 5%: R1 680k a to g1, R2 1M2 g1 to lower, R3 82k upper to y
    tube V1 half 6922: plate y, grid g1, cathode ground
";
    sound(text).design.unwrap()
}

fn wanted(design: &Design, marks: &[(&str, &[f64])], most: f64) -> Wanted {
    let parts = &design.circuits[0].parts;
    let free = marks.iter().map(|(mark, ohms)| Free {
        part: parts.iter().position(|part| part.mark == *mark).unwrap(),
        ohms: ohms.to_vec(),
    });
    Wanted {
        circuit: CircuitId(0),
        free: free.collect(),
        loads: 1,
        tubes: Vec::new(),
        most_amps: [(RailId(0), most)].into(),
        most_watts: None,
        longest_delay: None,
    }
}

fn chosen(design: &Design, wanted: &Wanted) -> Chosen {
    choose(design, wanted, &SPREAD, &CONTEXT, &mut |_| true)
}

/// The margin reported of each value is that of a text with the value typed, and the best is the largest of those that keep
/// the limit: 36 V through 68k are 0.53 mA, which is too much, through 82k 0.44 mA, which is not.
#[test]
fn the_best_is_the_largest_of_all_within_the_limits() {
    let design = gate();
    let ohms = [47e3, 68e3, 82e3, 100e3, 150e3];
    let found = chosen(&design, &wanted(&design, &[("R3", &ohms)], 0.45e-3));
    assert!(found.every && found.tried == ohms.len());
    let typed = ohms.map(|new| {
        let mut design = gate();
        for part in &mut design.circuits[0].parts {
            if let (PartKind::Resistor { ohms, .. }, "R3") = (&mut part.kind, part.mark.as_str()) {
                *ohms = new;
            }
        }
        chosen(&design, &wanted(&design, &[("R3", &[new])], 0.45e-3)).now
    });
    assert_eq!(
        typed.each_ref().map(|one| one.within),
        [false, false, true, true, true]
    );
    let largest = typed
        .iter()
        .filter(|one| one.within)
        .filter_map(|one| one.margin)
        .reduce(f64::max);
    let best = found.best.unwrap();
    assert!(
        (best.margin.unwrap() - largest.unwrap()).abs() < 1e-9,
        "{best:?}: {typed:?}"
    );
    // Its worst case is that of the same margin, and names what a builder would look for: a weak tube, and the rails.
    let case = found.best_case.unwrap();
    assert!((case.volts - best.margin.unwrap()).abs() < 1e-9, "{case:?}");
    let spare = if case.up {
        case.level - case.threshold
    } else {
        case.threshold - case.level
    };
    assert!((spare - case.volts).abs() < 1e-9, "{case:?}");
    for part in ["of its mu", "upper ", "lower "] {
        assert!(case.in_words.contains(part), "{case:?}");
    }
}

/// Stopped after the first report it keeps what it has; let go on it ends with no less.
#[test]
fn a_search_that_is_stopped_keeps_the_best_so_far() {
    let design = gate();
    let ohms = Series::E24.between(100e3, 10e6);
    let [r2, r3] = [ohms.clone(), Series::E24.between(27e3, 330e3)];
    let wanted = wanted(&design, &[("R2", &r2), ("R3", &r3)], 1.0);
    assert_eq!(wanted.combinations(), Some(r2.len() * r3.len()));
    let mut told = Vec::new();
    let stopped = choose(&design, &wanted, &SPREAD, &CONTEXT, &mut |tried| {
        told.push(tried);
        tried < 10
    });
    assert_eq!(told.last(), Some(&stopped.tried));
    assert!(!stopped.every && stopped.tried < 40);
    let all = told.len();
    assert!(1 < all, "{told:?}");
    let best = stopped.best.unwrap();
    assert!(best.within && stopped.now.margin <= best.margin);
}

/// The values typed are the best where all others keep the limit and spare less; where they break it they are compared and not the
/// best; where nothing keeps it nothing is. What is said of current is Ohm's law: 36 V through 82k, less what the tube keeps.
#[test]
fn the_values_typed_are_among_those_that_can_be_best() {
    let design = gate();
    let found = chosen(&design, &wanted(&design, &[("R1", &[5.1, 5.6])], 1.0));
    assert!(found.now_is_as_good() && found.better().is_none());
    assert_eq!(found.best.as_ref(), Some(&found.now));
    let amps = found.now_takes.amps[&RailId(0)];
    assert!(0.8 * 36.0 / 82e3 < amps && amps < 36.0 / 82e3, "{amps} A");
    assert!(found.now_takes.watts < 36.0 * amps && 0.0 < found.now_takes.delay.unwrap());
    let ask = |most| chosen(&design, &wanted(&design, &[("R3", &[150e3])], most));
    let broken = ask(0.3e-3);
    assert!(!broken.now.within && !broken.now_is_as_good());
    assert_eq!((broken.best.unwrap().ohms, broken.within), (vec![150e3], 1));
    let nothing = ask(1e-6);
    assert!(nothing.best.is_none() && nothing.within == 0 && nothing.best_takes.is_none());
}
