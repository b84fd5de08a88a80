//! The shipped library: what it holds, that it is consistent, that every value says where it comes from.

use devices::diode::{SILICON_1N4148_A, SILICON_1N4148_B};
use devices::library::{Library, law_lines, source_title};
use devices::triode::{EHX_1, KOREN_12AU7, KOREN_12AX7, RSD_1, RSD_2, TriodeLaw};
use devices::types::*;

fn tube(name: &str) -> std::sync::Arc<TubeType> {
    Library::shipped()
        .tube(name)
        .unwrap_or_else(|| panic!("{name} is shipped"))
        .clone()
}

/// Types of tubes, without the published laws that stand beside some of them.
fn types() -> Vec<std::sync::Arc<TubeType>> {
    Library::shipped()
        .tubes
        .into_iter()
        .filter(|tube| !tube.name.contains('-'))
        .collect()
}

/// Every value of a tube that has a source.
fn sourced(tube: &TubeType) -> Vec<Sourced<f64>> {
    let ratings = &tube.ratings;
    let limits = [
        &ratings.plate_volts,
        &ratings.cold_plate_volts,
        &ratings.plate_watts,
        &ratings.both_plates_watts,
        &ratings.screen_volts,
        &ratings.screen_watts,
        &ratings.cathode_amps,
        &ratings.negative_grid_volts,
        &ratings.grid_ohms_fixed,
        &ratings.grid_ohms_self,
        &ratings.heater_positive_volts,
        &ratings.heater_negative_volts,
        &ratings.reverse_volts,
        &ratings.peak_amps,
    ];
    let mut all: Vec<Sourced<f64>> = limits.into_iter().flatten().cloned().collect();
    for own in &tube.capacitances {
        all.extend(
            [&own.grid_plate, &own.grid_cathode, &own.plate_cathode]
                .into_iter()
                .flatten()
                .cloned(),
        );
    }
    for point in &tube.points {
        let values = [
            &point.plate_amps,
            &point.grid_amps,
            &point.screen_amps,
            &point.slope,
            &point.mu,
            &point.plate_ohms,
        ];
        all.extend(values.into_iter().flatten().cloned());
    }
    if let Some(heater) = &tube.heater {
        all.extend([heater.volts.clone(), heater.amps.clone()]);
    }
    let spread = &tube.spread;
    let pairs = [&spread.current, &spread.mu].into_iter().flatten();
    all.extend(pairs.flat_map(ends));
    let shares = [
        &spread.cut_off,
        &spread.halves,
        &spread.aged,
        &spread.reverse,
    ];
    all.extend(shares.into_iter().flatten().cloned());
    all
}

/// Both values of a pair, each with the source of the pair.
fn ends(pair: &Sourced<(f64, f64)>) -> [Sourced<f64>; 2] {
    [pair.value.0, pair.value.1].map(|value| Sourced {
        value,
        mark: pair.mark,
        source: pair.source.clone(),
    })
}

fn check_credit(owner: &str, mark: Mark, source: &str) {
    assert_ne!(mark, Mark::Unmarked, "{owner}");
    let names_a_document = match mark {
        Mark::Seen | Mark::SeenSecond => true,
        // What was worked out may name what it was worked out from.
        Mark::Derived => !source.is_empty(),
        _ => false,
    };
    assert_eq!(
        !source.is_empty(),
        names_a_document,
        "{owner}: {mark:?} {source}"
    );
    assert!(
        !names_a_document || source_title(source).is_some(),
        "{owner}: {source}"
    );
}

#[test]
fn every_value_says_where_it_comes_from() {
    for tube in Library::shipped().tubes {
        let values = sourced(&tube);
        assert!(!values.is_empty(), "{}", tube.name);
        for value in values {
            check_credit(&tube.name, value.mark, &value.source);
        }
        if let Some(base) = &tube.base {
            check_credit(&tube.name, base.mark, &base.source);
        }
    }
    for diode in Library::shipped().diodes {
        check_credit(&diode.name, diode.mark, &diode.source);
        for limit in [&diode.reverse_volts, &diode.forward_amps, &diode.watts]
            .into_iter()
            .flatten()
        {
            check_credit(&diode.name, limit.mark, &limit.source);
        }
        let spread = &diode.spread;
        let leakage = spread.leakage.iter().flat_map(ends);
        for value in spread.saturation.iter().cloned().chain(leakage) {
            check_credit(&diode.name, value.mark, &value.source);
        }
    }
    for neon in Library::shipped().neons {
        check_credit(&neon.name, neon.mark, &neon.source);
    }
    assert_eq!(source_title("S999"), None);
}

#[test]
fn every_remark_ends_in_known_sources() {
    let tubes = Library::shipped().tubes;
    for remark in tubes.iter().flat_map(|tube| &tube.remarks) {
        for note in remark.split('[').skip(1) {
            let note = note.split(']').next().expect("notes are closed");
            let key = note.split_whitespace().last().expect("notes are not empty");
            let is_mark = Mark::WRITTEN.iter().any(|(word, _)| *word == key);
            assert!(is_mark || source_title(key).is_some(), "{remark}");
        }
    }
}

/// What was only known with low confidence is not there.
#[test]
fn doubtful_values_do_not_enter() {
    for text in [
        include_str!("../data/triodes.valve"),
        include_str!("../data/pentodes.valve"),
        include_str!("../data/diodes.valve"),
    ] {
        assert!(!text.contains("mem-L"));
    }
    assert_eq!(tube("5963").law, None);
    assert_eq!(tube("5687").ratings.cathode_amps, None);
    assert_eq!(tube("6021").ratings.plate_watts, None);
    assert_eq!(tube("5718").base, None);
}

#[test]
fn at_least_25_types_are_shipped_and_found_by_any_of_their_names() {
    assert!(types().len() >= 25, "{}", types().len());
    for (wanted, name) in [
        ("12au7", "12AU7"),
        ("ECC82", "12AU7"),
        ("ecc83", "12AX7"),
        ("ECC81", "12AT7"),
        ("E88CC", "6922"),
        ("ECC88", "6DJ8"),
        ("EF95", "6AK5"),
        ("5725", "6AS6"),
        ("6gm8", "ECC86"),
        ("6SN7GTA", "6SN7GTB"),
    ] {
        assert_eq!(tube(wanted).name, name);
    }
    let library = Library::shipped();
    assert!(library.tube("12AU8").is_none());
    assert!(
        library.diode("1n4148").is_some()
            && library.diode("BZX-5V1").is_some()
            && library.neon("ne-2").is_some()
    );
    let names = library
        .tubes
        .iter()
        .flat_map(|tube| std::iter::once(&tube.name).chain(&tube.also));
    let mut names: Vec<String> = names.map(|name| name.to_ascii_lowercase()).collect();
    names.sort();
    let count = names.len();
    names.dedup();
    assert_eq!(names.len(), count, "a name stands for two types");
}

/// Halves of a heater in parallel take the watts of the heater in series (Ohm's law).
#[test]
fn tapped_heaters_take_the_same_watts_either_way() {
    let mut tapped = 0;
    for tube in types() {
        let Some(heater) = &tube.heater else { continue };
        let Some((volts, amps)) = heater.tapped else {
            continue;
        };
        tapped += 1;
        assert_eq!(volts, heater.volts.value / 2.0, "{}", tube.name);
        assert!(
            (amps / heater.amps.value - 2.0).abs() < 1e-12,
            "{}",
            tube.name
        );
    }
    assert!(tapped >= 8);
}

/// mu = gm rp, the identity of the triode's three constants, within the rounding of makers' tables.
#[test]
fn the_three_constants_of_every_point_agree_within_3_percent() {
    let mut full = 0;
    for tube in types()
        .into_iter()
        .filter(|tube| tube.kind == TubeKind::Triode)
    {
        for point in &tube.points {
            let (Some(slope), Some(mu), Some(ohms)) = (&point.slope, &point.mu, &point.plate_ohms)
            else {
                continue;
            };
            full += 1;
            let ratio = slope.value * ohms.value / mu.value;
            assert!(
                (ratio - 1.0).abs() <= 0.03,
                "{} at {} V: {ratio}",
                tube.name,
                point.plate_volts
            );
        }
    }
    assert!(full >= 25, "{full}");
}

/// Makers' operating points (class A, one section): volts, mA, mA/V, mu. The documents stand beside each value in the
/// library; second-hand copies of RCA, GE, Sylvania and Philips sheets and of pages quoting sheets, the rest from
/// memory.
#[test]
fn operating_points_are_those_of_the_sheets() {
    let rows = [
        ("12AU7", 100.0, 0.0, 11.8, 3.1, 19.5),
        ("12AU7", 250.0, -8.5, 10.5, 2.2, 17.0),
        ("12AT7", 100.0, -1.0, 3.7, 4.0, 60.0),
        ("12AT7", 250.0, -2.0, 10.0, 5.5, 60.0),
        ("12AX7", 100.0, -1.0, 0.5, 1.25, 100.0),
        ("12AX7", 250.0, -2.0, 1.2, 1.6, 100.0),
        ("6SN7GT", 90.0, 0.0, 10.0, 3.0, 20.0),
        ("12SN7GT", 250.0, -8.0, 9.0, 2.6, 20.0),
        ("6J5", 250.0, -8.0, 9.0, 2.6, 20.0),
        ("6C4", 250.0, -8.5, 10.5, 2.2, 17.0),
        ("6SL7GT", 250.0, -2.0, 2.3, 1.6, 70.0),
        // Rk 50 ohm, common to both halves.
        ("6J6", 100.0, -0.85, 8.5, 5.3, 38.0),
        ("12BH7A", 250.0, -10.5, 11.5, 3.1, 16.5),
        ("5687", 120.0, -2.0, 36.0, 11.5, 18.0),
        ("5687", 180.0, -7.0, 23.0, 8.5, 17.0),
        ("5687", 250.0, -12.5, 12.0, 5.4, 16.0),
        ("6922", 90.0, -1.3, 15.0, 12.5, 33.0),
        ("6DJ8", 90.0, -1.3, 15.0, 12.5, 33.0),
        // Rk 220 ohm.
        ("5965", 150.0, -1.804, 8.2, 6.5, 47.0),
        ("12AY7", 250.0, -4.0, 3.0, 1.75, 44.0),
        ("6N7", 250.0, -6.0, 6.0, 3.1, 35.0),
    ];
    for (name, plate_volts, grid_volts, milliamps, slope, mu) in rows {
        let tube = tube(name);
        let at = |point: &&Point| {
            point.plate_volts == plate_volts && (point.grid_volts - grid_volts).abs() < 1e-9
        };
        let point = tube
            .points
            .iter()
            .find(at)
            .unwrap_or_else(|| panic!("{name} at {plate_volts} V"));
        let value = |sourced: &Option<Sourced<f64>>| {
            sourced.as_ref().map_or(f64::NAN, |sourced| sourced.value)
        };
        for (found, sheet) in [
            (value(&point.plate_amps), milliamps * 1e-3),
            (value(&point.slope), slope * 1e-3),
            (value(&point.mu), mu),
        ] {
            assert!(
                (found - sheet).abs() < 1e-12 * sheet,
                "{name}: {found} {sheet}"
            );
        }
    }
}

/// Bases of the trade by number of pins (standard base designations, from memory); octal bases leave pins out.
#[test]
fn pins_cover_the_base() {
    let pins = [
        ("9A", 9),
        ("9AJ", 9),
        ("9H", 9),
        ("8BD", 8),
        ("8B", 8),
        ("8DG", 8),
        ("7BF", 7),
        ("6BG", 7),
        ("6BT", 7),
        ("7BD", 7),
        ("7CM", 7),
        ("6Q", 6),
    ];
    let mut based = 0;
    for tube in types() {
        let Some(base) = &tube.base else { continue };
        based += 1;
        let (_, count) = pins
            .iter()
            .find(|(name, _)| *name == base.name)
            .unwrap_or_else(|| panic!("{} {}", tube.name, base.name));
        assert_eq!(base.pins.len(), *count, "{}", tube.name);
        assert!(
            base.pins
                .windows(2)
                .all(|pair| pair[0].number < pair[1].number),
            "{}",
            tube.name
        );
        let lead = |electrode, section| {
            base.pins
                .iter()
                .any(|pin| pin.electrode == electrode && pin.section == section)
        };
        let halves: &[Option<Section>] = if tube.sections == 2 {
            &[Some(Section::A), Some(Section::B)]
        } else {
            &[None]
        };
        for &half in halves {
            assert!(lead(Electrode::Plate, half), "{}", tube.name);
            assert!(
                tube.kind == TubeKind::Diode || lead(Electrode::Grid, half),
                "{}",
                tube.name
            );
            assert!(
                lead(Electrode::Cathode, half.filter(|_| !tube.common_cathode)),
                "{}",
                tube.name
            );
        }
        let tapped = tube
            .heater
            .as_ref()
            .is_some_and(|heater| heater.tapped.is_some());
        assert_eq!(lead(Electrode::HeaterTap, None), tapped, "{}", tube.name);
    }
    assert!(based >= 22, "{based}");
}

/// 9A of the 12AU7: Brimar report VAD/513.4, August 1950; 8BD of the 6SN7: a present-day maker's sheet.
#[test]
fn pinouts_are_those_of_the_sheets() {
    let lead = |name: &str, number: u8| {
        let tube = tube(name);
        let base = tube.base.as_ref().expect("it has a base");
        let pin = base
            .pins
            .iter()
            .find(|pin| pin.number == number)
            .expect("it has this pin");
        (pin.electrode, pin.section)
    };
    assert_eq!(lead("12AU7", 1), (Electrode::Plate, Some(Section::B)));
    assert_eq!(lead("12AU7", 7), (Electrode::Grid, Some(Section::A)));
    assert_eq!(lead("12AU7", 9), (Electrode::HeaterTap, None));
    assert_eq!(lead("6SN7GT", 1), (Electrode::Grid, Some(Section::B)));
    assert_eq!(lead("12SN7GT", 5), (Electrode::Plate, Some(Section::A)));
    assert_eq!(lead("6J6", 7), (Electrode::Cathode, None));
    assert_eq!(lead("6922", 9), (Electrode::Shield, None));
}

#[test]
fn types_like_others_keep_what_is_not_said_of_them() {
    let (plain, heavy, series) = (tube("6SN7GT"), tube("6SN7GTB"), tube("12SN7GT"));
    let heater = series.heater.as_ref().expect("it has a heater");
    assert_eq!((heater.volts.value, heater.amps.value), (12.6, 0.3));
    assert_eq!(series.law, plain.law);
    assert_eq!(series.points, plain.points);
    assert_eq!(series.base, plain.base);
    let limit = |tube: &TubeType| tube.ratings.plate_volts.as_ref().map(|volts| volts.value);
    assert_eq!((limit(&plain), limit(&heavy)), (Some(300.0), Some(450.0)));
    assert_eq!(heavy.ratings.cathode_amps, plain.ratings.cathode_amps);
}

/// Dempwolf and Zoelzer, DAFx-11, 2011, Table 1, and Koren 1996, both in second-hand copy.
#[test]
fn published_laws_are_selectable_to_the_last_digit() {
    for (name, law) in [
        ("12AX7-RSD-1", RSD_1),
        ("12AX7-RSD-2", RSD_2),
        ("12AX7-EHX-1", EHX_1),
    ] {
        assert_eq!(
            tube(name).law,
            Some(Law::Triode(TriodeLaw::Tail(law))),
            "{name}"
        );
        assert!(tube(name).from_prior.is_empty());
    }
    for (name, law) in [("12AX7-KOREN", KOREN_12AX7), ("12AU7-KOREN", KOREN_12AU7)] {
        assert_eq!(
            tube(name).law,
            Some(Law::Triode(TriodeLaw::Koren(law))),
            "{name}"
        );
    }
}

/// PanJit 1N4148 rev. 0.2 and copied parameter sets; 1N34A from memory: at most 30 uA at -10 V and 500 uA at -50 V, at
/// least 5 mA at 1 V, 0.2 to 0.3 V at 1 mA.
#[test]
fn diodes_conduct_and_leak_as_their_sheets_say() {
    let library = Library::shipped();
    let law = |name: &str| library.diode(name).unwrap_or_else(|| panic!("{name}")).law;
    assert_eq!(law("1N4148"), SILICON_1N4148_A);
    assert_eq!(law("1N4148-B"), SILICON_1N4148_B);
    let germanium = law("1N34A");
    for (volts, microamps) in [(-10.0, -30.0), (-50.0, -500.0)] {
        let found = germanium.at(volts).0 * 1e6;
        assert!((found / microamps - 1.0).abs() < 0.02, "{volts} V: {found}");
    }
    assert!(germanium.at(1.0).0 >= 5e-3);
    assert!(germanium.at(0.3).0 >= 0.95e-3 && germanium.at(0.2).0 < 1e-3);
    for diode in library
        .diodes
        .iter()
        .filter(|diode| diode.kind == DiodeKind::Zener)
    {
        let found = diode.law.at(-diode.law.breakdown_volts).0;
        assert!(
            (found + diode.law.breakdown_amps).abs() < 0.01 * diode.law.breakdown_amps,
            "{}: {found}",
            diode.name
        );
    }
}

/// 65 to 90 V to strike, 50 to 60 V to maintain (common practice, no source).
#[test]
fn the_neon_lamp_lies_within_what_is_usual() {
    let neon = Library::shipped().neon("NE-2").expect("it is shipped").law;
    assert!(
        (65.0..=90.0).contains(&neon.strike_volts) && (50.0..=60.0).contains(&neon.maintain_volts)
    );
}

#[test]
fn law_lines_read_back_as_the_same_law() {
    for tube in types().into_iter().filter(|tube| tube.law.is_some()) {
        let law = tube.law.expect("only types with a law");
        let kind = match tube.kind {
            TubeKind::Triode => "triode",
            TubeKind::IndicatorTriode => "indicator triode",
            TubeKind::Tetrode => "tetrode",
            TubeKind::Pentode => "pentode",
            TubeKind::Diode => "vacuum diode",
        };
        let lines = law_lines(&law, &tube.from_prior).join("\n    ");
        let (tree, _) = text::tree::read(
            text::source::FileId(0),
            &format!("type copy {kind}\n    {lines}\n"),
        );
        let mut library = Library::default();
        let problems = library.add(&tree.statements[0], &|_| Err(String::new()));
        assert_eq!(problems, [], "{lines}");
        let copy = library.tube("copy").expect("it was added");
        assert_eq!(
            (copy.law, &copy.from_prior),
            (tube.law, &tube.from_prior),
            "{lines}"
        );
    }
}

#[test]
fn shipped_types_stand_in_no_file_of_the_users() {
    let library = Library::shipped();
    assert!(library.tubes.iter().all(|tube| tube.span.is_none() && tube.points.iter().all(|point| point.span.is_none())));
    assert!(
        library.diodes.iter().all(|diode| diode.span.is_none())
            && library.neons.iter().all(|neon| neon.span.is_none())
    );
}
