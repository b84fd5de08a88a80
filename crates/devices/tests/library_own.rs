//! The user's own types: what is read, and what is said of mistakes.

use devices::library::Library;
use devices::types::*;
use proptest::prelude::*;
use text::diagnostic::{Diagnostic, Severity};
use text::source::FileId;

const CURVES: &str = "plate_volts,grid_volts,plate_milliamps\n12,0,0.4\n24,0,1.3\n40,0,3\n24,-1,0.5\n40,-1,1.6\n40,-3,0.05\n";

fn csv(name: &str) -> Result<String, String> {
    match name {
        "good.csv" => Ok(CURVES.to_owned()),
        "bad.csv" => Ok("plate_volts,grid_volts,plate_milliamps\n12,0,x\n24,0,1.3\n".to_owned()),
        _ => Err("no such file".to_owned()),
    }
}

/// Adds every type of a text to the shipped library.
fn read(text: &str) -> (Library, Vec<Diagnostic>) {
    let (tree, mut problems) = text::tree::read(FileId(7), text);
    let mut library = Library::shipped();
    for statement in &tree.statements {
        problems.extend(library.add(statement, &csv));
    }
    (library, problems)
}

/// The name of each problem, the text under it, and its first remedy, in order.
fn check(text: &str, expected: &[(&str, &str, &str)]) {
    let (_, problems) = read(text);
    let found: Vec<(&str, &str, &str)> = problems
        .iter()
        .map(|problem| {
            let span = problem.span.expect("the text is there");
            (
                problem.name,
                &text[span.start as usize..span.end as usize],
                problem.remedies[0].as_str(),
            )
        })
        .collect();
    assert_eq!(found.len(), expected.len(), "{text}\n{found:#?}");
    for ((name, place, remedy), (wanted, wanted_place, hint)) in found.iter().zip(expected) {
        assert_eq!((name, place), (wanted, wanted_place), "{text}");
        assert!(remedy.contains(hint), "{text}\n{remedy}");
    }
}

const WHOLE: &str = "\
type V50 triode, 2 sections, also V51 V52
    base 9A [Philips 1962]: 1 plate B, 2 grid B, 3 cathode B, 4 heater, 5 heater, 6 plate A, 7 grid A, 8 cathode A, 9 heater-tap
    heater 12.6V 150mA [seen Philips 1962], tapped 6.3V 300mA
    limits design-maximum [measured]: plate 330V, plate-power 2.5W [seen S1], grid-resistance 470k fixed, grid-resistance 1M cathode-bias,
        heater-positive 100V, heater-negative 200V
    capacitance: grid-plate 1.5p, grid-cathode 1.6pF
    capacitance B: plate-cathode 0.35p
    point plate 24V grid 0V: current 1.3mA, slope 1mA/V, sample one
    remark: bought at a fair, two of ten were weak [measured]
";

#[test]
fn a_whole_type_is_read_with_its_sources() {
    let (library, problems) = read(WHOLE);
    assert_eq!(problems, []);
    let tube = library.tube("v51").expect("by its other name");
    assert_eq!(
        (tube.name.as_str(), tube.sections, tube.kind),
        ("V50", 2, TubeKind::Triode)
    );
    let base = tube.base.as_ref().expect("it has a base");
    assert_eq!(
        (base.pins.len(), base.mark, base.source.as_str()),
        (9, Mark::Unmarked, "Philips 1962")
    );
    let heater = tube.heater.as_ref().expect("it has a heater");
    assert_eq!(
        (
            heater.volts.mark,
            heater.volts.source.as_str(),
            heater.tapped
        ),
        (Mark::Seen, "Philips 1962", Some((6.3, 0.3)))
    );
    let ratings = &tube.ratings;
    assert_eq!(ratings.system, Some(RatingSystem::DesignMaximum));
    assert_eq!(
        ratings
            .plate_volts
            .as_ref()
            .map(|volts| (volts.value, volts.mark)),
        Some((330.0, Mark::Measured))
    );
    assert_eq!(
        ratings.plate_watts.as_ref().map(|watts| watts.mark),
        Some(Mark::Seen)
    );
    assert_eq!(
        ratings.grid_ohms_fixed.as_ref().map(|ohms| ohms.value),
        Some(470e3)
    );
    assert_eq!(
        ratings.grid_ohms_self.as_ref().map(|ohms| ohms.value),
        Some(1e6)
    );
    assert_eq!(tube.capacitances.len(), 2);
    assert_eq!(tube.capacitances[0].plate_cathode, None);
    assert_eq!(
        tube.capacitances[1]
            .plate_cathode
            .as_ref()
            .map(|farads| farads.value),
        Some(0.35e-12)
    );
    assert_eq!(tube.points[0].sample.as_deref(), Some("one"));
    assert!(tube.law.is_some() && !tube.from_prior.is_empty());
    assert_eq!(
        tube.remarks,
        ["bought at a fair, two of ten were weak [measured]"]
    );
    assert_eq!(tube.span.map(|span| span.file), Some(FileId(7)));
}

#[test]
fn measured_curves_are_fitted() {
    let (library, problems) = read("type B1 triode, like 12AU7\n    points from good.csv\n");
    assert_eq!(problems, []);
    let tube = library.tube("B1").expect("it was added");
    let model = library.tube("12AU7").expect("it is shipped");
    assert_eq!(tube.points.len(), 6);
    assert_ne!(tube.law, model.law);
    assert_eq!(
        tube.validity.map(|validity| validity.plate_volts),
        Some((12.0, 40.0))
    );
    assert_eq!(tube.ratings, model.ratings);
    let Some(Law::Triode(law)) = tube.law else {
        panic!("a triode")
    };
    let found = law.at(24.0, 0.0).plate;
    assert!((found / 1.3e-3 - 1.0).abs() < 0.1, "{found}");
}

#[test]
fn a_type_of_the_same_name_takes_the_place_of_the_other() {
    let (library, problems) = read("type 12au7 triode, like 12AU7\n    limits: plate 100V\n");
    assert_eq!(problems, []);
    assert_eq!(library.tubes.len(), Library::shipped().tubes.len());
    let limit = library
        .tube("12AU7")
        .and_then(|tube| tube.ratings.plate_volts.as_ref())
        .map(|volts| volts.value);
    assert_eq!(limit, Some(100.0));
}

#[test]
fn a_cathode_resistor_gives_the_bias() {
    let (library, problems) = read(
        "type P1 triode\n    point plate 100V shared-cathode-resistor 50: current 8.5mA\n\
         type P2 pentode\n    point plate 120V screen 120V cathode-resistor 180: current 7.5mA, screen-current 2.5mA\n",
    );
    assert_eq!(problems, []);
    let bias = |name: &str| library.tube(name).expect("it was added").points[0].grid_volts;
    assert!((bias("P1") + 0.85).abs() < 1e-12 && (bias("P2") + 1.8).abs() < 1e-12);
}

#[test]
fn first_lines_are_checked() {
    check("type\n", &[("word-missing", "type", "type 12AU7 triode")]);
    check("type X\n", &[("kind-missing", "X", "type X triode")]);
    check("type X triod\n", &[("unknown-kind", "triod", "`triode`")]);
    check(
        "type X diode\n",
        &[("unknown-kind", "diode", "silicon diode, germanium diode")],
    );
    check(
        "type X triode, like 12AU\n",
        &[("unknown-type", "12AU", "`12AU7`")],
    );
    check(
        "type X pentode, like 12AU7\n",
        &[("kind-clash", "pentode", "Leave the kind out")],
    );
    check(
        "type X triode, 3 sections\n",
        &[("unknown-phrase", "3 sections", "2 sections")],
    );
    check(
        "type X triode: 2 sections\n",
        &[(
            "words-left-over",
            "type X triode: 2 sections",
            "lines below",
        )],
    );
}

#[test]
fn lines_are_checked() {
    check(
        "type X triode\n    heatr 6.3V 300mA\n",
        &[("unknown-line", "heatr", "`heater`")],
    );
    check(
        "type X triode\n    heater 6.3V 1A\n    heater 5V 1A\n",
        &[("said-twice", "heater 5V 1A", "Keep one")],
    );
    check(
        "type X triode\n    heater 0V 300mA\n",
        &[("value-not-positive", "0V", "above zero")],
    );
    check(
        "type X triode\n    heater 6.3V\n",
        &[("word-missing", "heater 6.3V", "heater 12.6V")],
    );
    check(
        "type X triode\n    heater 12.6V 150mA, tapped 6.3V 150mA\n",
        &[("heater-mismatch", "tapped 6.3V 150mA", "must agree")],
    );
    check(
        "type X triode\n    limits plate 300V\n",
        &[
            ("unknown-system", "plate", "design-centre"),
            ("words-left-over", "300V", "limits design-centre"),
            ("colon-missing", "limits plate 300V", "limits design-centre"),
        ],
    );
    check(
        "type X triode\n    limits: plat 300V\n",
        &[("unknown-limit", "plat", "`plate`")],
    );
    check(
        "type X triode\n    limits: plate -300V\n",
        &[("value-not-positive", "-300V", "without its sign")],
    );
    check(
        "type X triode\n    limits: plate 300W\n",
        &[("wrong-unit", "300W", "300V")],
    );
    check(
        "type X triode\n    limits: plate 300Q\n",
        &[("unknown-unit", "300Q", "300V")],
    );
    check(
        "type X triode\n    limits: plate high\n",
        &[("not-a-value", "high", "300V")],
    );
    check(
        "type X triode\n    limits: plate 300kkV\n",
        &[("unknown-unit", "300kkV", "300V")],
    );
    check(
        "type X triode\n    limits: plate 3MV\n",
        &[("value-odd", "3MV", "prefix")],
    );
    check(
        "type X triode\n    limits: grid-resistance 1M\n",
        &[("word-missing", "grid-resistance 1M", "fixed")],
    );
    check(
        "type X triode\n    limits: plate 3V, plate 4V\n",
        &[("said-twice", "plate 4V", "Keep one")],
    );
    check(
        "type X triode\n    capacitance A: grid-plate 1p\n",
        &[("half-odd", "capacitance A: grid-plate 1p", "Leave")],
    );
    check(
        "type X triode\n    capacitance: grid-plat 1p\n",
        &[("unknown-value", "grid-plat", "`grid-plate`")],
    );
}

#[test]
fn bases_are_checked() {
    let base = |pins: &str| format!("type X triode\n    base 7Z: {pins}\n");
    check(&base("1 plate, 2 grid, 3 heater, 4 heater, 5 cathode"), &[]);
    check(
        &base("1 plate, 3 grid, 2 cathode, 4 heater, 5 heater"),
        &[("pin-order", "2 cathode", "order")],
    );
    check(
        &base("1 plate, 2 grid, 2 cathode, 3 heater, 4 heater, 5 cathode"),
        &[("said-twice", "2 cathode", "Keep one")],
    );
    check(
        &base("1 plate, 2 gird, 3 heater, 4 heater, 5 cathode"),
        &[
            ("unknown-electrode", "gird", "`grid`"),
            (
                "pin-missing",
                "base 7Z: 1 plate, 2 gird, 3 heater, 4 heater, 5 cathode",
                "every pin",
            ),
        ],
    );
    check(
        &base("1 plate, 2 grid, 3 heater, 4 cathode"),
        &[(
            "pin-missing",
            "base 7Z: 1 plate, 2 grid, 3 heater, 4 cathode",
            "every pin",
        )],
    );
    check(
        &base("1 plate A, 2 grid, 3 heater, 4 heater, 5 cathode"),
        &[("half-odd", "1 plate A", "Leave")],
    );
    check(
        &base("0 plate, 1 plate, 2 grid, 3 heater, 4 heater, 5 cathode"),
        &[("not-a-pin", "0", "form")],
    );
    check(
        "type X triode, 2 sections, common cathode\n    base 7Z: 1 plate A, 2 plate B, 3 grid A, 4 grid, 5 heater, 6 heater, 7 cathode\n",
        &[
            ("half-missing", "4 grid", "4 grid A"),
            (
                "pin-missing",
                "base 7Z: 1 plate A, 2 plate B, 3 grid A, 4 grid, 5 heater, 6 heater, 7 cathode",
                "every pin",
            ),
        ],
    );
}

#[test]
fn points_are_checked() {
    check(
        "type X triode\n    point plate 100V grid 0V: curent 1mA\n",
        &[
            ("unknown-value", "curent", "`current`"),
            ("nothing-to-fit", "type X triode", "Check the points"),
        ],
    );
    check(
        "type X triode\n    point plate 100V grd 0V: current 1mA\n",
        &[("unknown-electrode", "grd", "`grid`")],
    );
    check(
        "type X triode\n    point plate 100V: current 1mA\n",
        &[(
            "word-missing",
            "point plate 100V: current 1mA",
            "before the colon",
        )],
    );
    check(
        "type X pentode\n    point plate 100V grid 0V: current 1mA\n",
        &[(
            "word-missing",
            "point plate 100V grid 0V: current 1mA",
            "before the colon",
        )],
    );
    check(
        "type X triode\n    point plate 100V cathode-resistor 100: slope 1mA/V\n",
        &[(
            "word-missing",
            "point plate 100V cathode-resistor 100: slope 1mA/V",
            "current",
        )],
    );
    check(
        "type X triode\n    point plate 100V grid 0V: current 1mA, slope 2mA/V, mu 20, plate-resistance 5k\n",
        &[(
            "mu-mismatch",
            "point plate 100V grid 0V: current 1mA, slope 2mA/V, mu 20, plate-resistance 5k",
            "3 %",
        )],
    );
    check(
        "type X triode\n    points from none.csv\n",
        &[("curve-file-missing", "none.csv", "folder")],
    );
    check(
        "type X triode\n    points from bad.csv\n",
        &[("curve-file-line", "bad.csv", "decimal point")],
    );
}

#[test]
fn laws_are_checked() {
    check(
        "type X triode\n    law tial: mu 20\n",
        &[("unknown-law", "tial", "`tail`")],
    );
    check(
        "type X triode\n    law pentode: mu 20\n",
        &[("unfit-law", "pentode", "tail")],
    );
    check(
        "type X triode\n    law tail: perveance 1m, mu 20, exponent 1.4\n",
        &[(
            "parameter-missing",
            "law tail: perveance 1m, mu 20, exponent 1.4",
            "law tail:",
        )],
    );
    check(
        "type X triode\n    law tail: perveance 1m, mu 20, exponent 0.4, knee 3\n",
        &[("value-odd", "0.4", "prefix")],
    );
    check(
        "type X triode\n    law tail: perveance 1m, mu 20, exponent 1.4, kne 3, knee 3\n",
        &[("unknown-parameter", "kne", "`knee`")],
    );
    check(
        "type D silicon diode\n    limits: reverse 75V\n",
        &[("parameter-missing", "type D silicon diode", "law junction")],
    );
    check(
        "type D silicon diode\n    law junction: saturation-current 1nA\n",
        &[(
            "parameter-missing",
            "law junction: saturation-current 1nA",
            "form",
        )],
    );
    check(
        "type L neon lamp, like NE-2\n    law neon: strike 40V\n",
        &[("strike-too-low", "law neon: strike 40V", "above")],
    );
}

#[test]
fn a_statement_with_mistakes_is_still_read_as_far_as_it_is_understood() {
    let (library, problems) = read(
        "type X triode\n    heatr 6.3V 1A\n    limits: plate 300V, plat 1V\n    point plate 100V grid 0V: current 5mA\n",
    );
    assert_eq!(problems.len(), 2);
    assert!(
        problems
            .iter()
            .all(|problem| problem.severity == Severity::Fault)
    );
    let tube = library.tube("X").expect("it was added");
    assert_eq!(
        tube.ratings.plate_volts.as_ref().map(|volts| volts.value),
        Some(300.0)
    );
    assert!(tube.law.is_some());
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, ..ProptestConfig::default() })]

    /// Words of the language in any order below a good first line.
    #[test]
    fn any_statement_is_read_without_panic(
        kind in proptest::sample::select(vec!["triode, 2 sections", "pentode", "vacuum diode", "zener diode", "neon lamp", "", ", like NE-2", "silicon diode, like 1N4148"]),
        words in proptest::collection::vec(
            proptest::sample::select(vec![
                "type", "X", "triode", "pentode", "zener", "diode", "neon", "lamp", "like", "12AU7", "base", "9A", "1", "plate", "B", "heater",
                "6.3V", "0V", "-1V", "300mA", "limits", "point", "points", "from", "good.csv", "law", "tail", "koren", "junction", "mu", "20",
                "prior", "grid", "capacitance", "remark", ",", ":", "\n   ", "\n   ", "\n       ", "[seen S1]", "[]", "breakdown", "sample",
                "spread", "current", "50%", "to", "200%", "cut-off", "halves", "alike", "aged", "reverse", "saturation", "times", "leakage", "at",
            ]),
            0..60,
        )
    ) {
        let (_, problems) = read(&format!("type X {kind}\n    {}", words.join(" ")));
        prop_assert!(problems.iter().all(|problem| !problem.remedies.is_empty()));
    }
}
