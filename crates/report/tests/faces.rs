//! A small machine through the whole engine, and what its terminal text, records and page say of it.

use crate::designs::{CONTEXT, LIMITS, SPREAD, SPREAD_SOURCES};
use design::model::{CircuitId, Design, PartKind, RailId, SocketId, UnitId};
use design::read::{Reading, read};
use devices::library::Library;
use network::finding::{Amount, Finding};
use network::margins::alone::alone_cases;
use network::margins::choosing::{Free, Wanted, choose, serving};
use network::margins::marginal::marginal_check;
use network::parts::{Buying, PartsList, ResistorRange, ResistorSize, Spares};
use network::verdict::{Verdict, check};
use report::Edition;
use report::choosing::{Choice, Serving};
use report::html::Besides;
use report::margins::{Whose, WorstCases};
use report::sentence;
use report::tables::CircuitLoads;
use report::terminal::{self, Terminal};
use report::words::Wording;
use text::quantity::Unit;
use text::source::{SourceMap, Sources};

const TERMINAL: Terminal = Terminal {
    width: 100,
    colour: false,
    plain: false,
    wording: Wording {
        valve: false,
        anode: false,
    },
};
const VALVE: Wording = Wording {
    valve: true,
    anode: true,
};

/// Two gates of tubes in a chain on rails `upper` and `lower`, with `text` after them.
fn machine(upper: &str, lower: &str, text: &str) -> String {
    format!(
        "valvewright format 1
machine Pair
rail upper {upper} 5%
rail lower {lower} 5%
rail heat 12.6V 5%
circuit inverter
    input a, output y
    y = not a
    resistors 5%: R1 680k a to g, R2 1M2 g to lower, R3 82k upper to y
    tube V1 half 6922: plate y, grid g, cathode ground
unit G1 inverter in V1A: a take, y middle
unit G2 inverter in V1B: a middle, y open
unit G3 inverter in V2A: a middle, y open
string H1: from heat, V1, V2, back to ground
bench
    switches: take upper or ground
{text}"
    )
}

struct One(String);

impl Sources for One {
    fn read(&self, name: &str) -> Result<String, String> {
        if name == "machine.valve" {
            Ok(self.0.clone())
        } else {
            Err("no such file".to_owned())
        }
    }
}

fn reading(text: String) -> Reading {
    let reading = read("machine.valve", &One(text), Library::shipped());
    let said = text::diagnostic::render(&reading.diagnostics, &reading.sources, false);
    assert!(reading.design.is_some(), "{said}");
    reading
}

/// Reads and checks a text and hands everything to `look`.
fn with(text: String, look: impl FnOnce(&Design, &Verdict, &SourceMap)) {
    let reading = reading(text);
    let design = reading.design.as_ref().expect("read");
    look(design, &check(design, &LIMITS, &CONTEXT), &reading.sources);
}

fn edition() -> Edition {
    Edition {
        version: "0".to_owned(),
        date: "today".to_owned(),
    }
}

/// All faces of a verdict, one after the other: none may panic whatever the design.
fn every_face(design: &Design, verdict: &Verdict, sources: &SourceMap) -> String {
    let circuit = CircuitId(0);
    let margins = network::margins::check(verdict, &SPREAD, &CONTEXT);
    let worst = WorstCases {
        margins: &margins,
        alone: &[],
        mended: [&[], &[]],
        sources: &SPREAD_SOURCES,
    };
    let marginal = marginal_check(verdict, 1e7, &SPREAD, &CONTEXT, &mut |_| ());
    let besides = Besides {
        worst: Some(worst),
        marginal: Some(&marginal),
        ..Besides::default()
    };
    let whose = [
        Whose::All,
        Whose::Circuit(circuit),
        Whose::Unit(UnitId(0)),
        Whose::Unit(UnitId(999)),
    ];
    let mut out = vec![
        terminal::verdict(verdict, sources, &TERMINAL),
        terminal::levels(verdict, UnitId(0), &TERMINAL),
        terminal::levels(verdict, UnitId(999), &TERMINAL),
        terminal::circuit_levels(verdict, circuit, None, &TERMINAL),
        terminal::connections(verdict, None, &TERMINAL),
        terminal::heaters(verdict, sources, &TERMINAL),
        terminal::rail_power(verdict, &TERMINAL),
        terminal::marginal(verdict, &marginal, sources, &TERMINAL),
        report::record::marginal(verdict, &marginal).to_string(),
        terminal::switch_on(verdict, sources, &TERMINAL),
        terminal::safety(design, 60.0, &TERMINAL),
        terminal::wiring(
            design,
            None,
            &design::wiring::wiring_list(design, None),
            &TERMINAL,
        ),
        report::html::design_page(verdict, besides, sources, &edition(), Wording::default()),
        report::record::verdict(verdict, sources).to_string(),
        report::record::levels(verdict, UnitId(0)).to_string(),
        report::record::levels(verdict, UnitId(999)).to_string(),
        report::record::circuit_levels(verdict, circuit).to_string(),
        report::record::connections(verdict, None).to_string(),
        report::record::heaters(verdict, sources).to_string(),
        report::record::rail_power(verdict).to_string(),
        report::record::switch_on(verdict, sources).to_string(),
        report::record::safety(design, 60.0).to_string(),
        terminal::readings(design, SocketId(999), &[], 1e7, &TERMINAL),
    ];
    for whose in whose {
        out.push(terminal::margins(
            verdict, &worst, whose, sources, &TERMINAL,
        ));
        out.push(report::record::margins(verdict, &worst, whose, sources).to_string());
    }
    if !design.circuits.is_empty() {
        let loads = CircuitLoads {
            circuit,
            fan_out: network::fan::fan_out(design, circuit, &verdict.alone, &CONTEXT),
            fan_in: network::fan::fan_in(design, circuit, &verdict.alone, &CONTEXT),
            delay: network::delay::delay(design, circuit, &verdict.alone, &CONTEXT),
        };
        out.push(terminal::loads(
            design,
            std::slice::from_ref(&loads),
            &TERMINAL,
        ));
        out.push(report::record::loads(design, &[loads]).to_string());
    }
    out.join("\n")
}

#[test]
fn a_sound_pair_passes_and_says_what_was_not_checked() {
    with(machine("36V", "-24V", ""), |design, verdict, sources| {
        let text = terminal::verdict(verdict, sources, &TERMINAL);
        assert!(
            text.starts_with("Pair. Levels pass, no findings.\n"),
            "{text}"
        );
        let last = text
            .rsplit("Checked: ")
            .next()
            .expect("a last part")
            .replace('\n', " ");
        assert!(
            last.contains("Not checked: spread of parts and ageing (`margins` checks it),"),
            "{text}"
        );
        assert!(
            last.contains("Curve of 6922 extrapolated below 90 V (lowest"),
            "{text}"
        );
        let page = report::html::design_page(
            verdict,
            Besides::default(),
            sources,
            &edition(),
            Wording::default(),
        );
        assert!(page.contains("No findings by the book.") && page.contains("circuit inverter"));
        every_face(design, verdict, sources);
    });
}

/// 60 V DC in dry places: IEC 61140 and IEC 61010-1, as summarised.
#[test]
fn rails_above_the_touch_limit_are_named_with_their_volts() {
    with(machine("36V", "-24V", ""), |_, verdict, sources| {
        let text = terminal::verdict(verdict, sources, &TERMINAL).replace('\n', " ");
        let text: Vec<&str> = text.split_whitespace().collect();
        let text = text.join(" ");
        // 36 V and -24 V, both 5 % further out: 37.8 + 25.2 = 63.
        assert!(
            text.contains("rails upper and lower stand up to 63 V"),
            "{text}"
        );
        assert!(
            text.contains("60 V DC that IEC 61140 and IEC 61010-1"),
            "{text}"
        );
        for part in [
            "stands at its rail",
            "Hot glass burns",
            "Local codes and licensed practice come first",
        ] {
            assert!(text.contains(part), "{part}: {text}");
        }
    });
    with(machine("24V", "-12V", ""), |_, verdict, sources| {
        let text = terminal::verdict(verdict, sources, &TERMINAL);
        assert!(text.contains("measure before a hand goes in"), "{text}");
        assert!(!text.contains("61140"), "{text}");
    });
}

#[test]
fn nothing_is_ever_called_safe_and_no_solver_speaks() {
    for text in [
        machine("36V", "-24V", ""),
        machine("36V", "-2V", ""),
        "valvewright format 1\n".to_owned(),
    ] {
        with(text, |design, verdict, sources| {
            let said = every_face(design, verdict, sources).to_lowercase();
            for word in [
                "safe ",
                "safe.",
                "is safe",
                "may be touched",
                "newton",
                "converge",
                "jacobian",
                "iteration",
                "tolerances of the solver",
            ] {
                assert!(!said.contains(word), "{word}");
            }
        });
    }
}

#[test]
fn a_finding_has_its_place_both_numbers_and_something_to_try() {
    // A weak negative rail leaves the tubes conducting when their inputs are down.
    with(machine("36V", "-2V", ""), |design, verdict, sources| {
        assert!(!verdict.passes());
        let text = terminal::verdict(verdict, sources, &TERMINAL);
        assert!(text.contains("Pair. Does not pass: "), "{text}");
        for part in [
            "fault  ",
            "  machine.valve:",
            "    Has ",
            ": short by ",
            "    Try: ",
        ] {
            assert!(text.contains(part), "{part}: {text}");
        }
        let record = report::record::verdict(verdict, sources);
        let first = &record["findings"][0];
        assert_eq!(first["severity"], "fault");
        assert_eq!(first["place"]["file"], "machine.valve");
        assert!(first["has"]["what"].is_string() && first["tries"].is_array());
        every_face(design, verdict, sources);
    });
}

#[test]
fn at_most_six_consequences_are_shown_and_the_rest_is_counted() {
    let mut finding = network::finding::Finding::fault("not-cut-off", span(), "G1", "Because.");
    finding.consequences = vec![finding.clone(); 9];
    let text = terminal::findings(&[finding], &SourceMap::default(), &TERMINAL);
    assert_eq!(text.matches("and so: ").count(), 6);
    assert!(text.contains("and 3 more that follow from it"), "{text}");
    // A place in no file of the map is left out.
    assert!(text.starts_with("fault  G1  not-cut-off\n"), "{text}");
}

fn span() -> text::source::Span {
    text::source::Span {
        file: text::source::FileId(3),
        start: 5,
        end: 6,
    }
}

#[test]
fn empty_designs_and_missing_curves_say_so() {
    with(
        "valvewright format 1\n".to_owned(),
        |design, verdict, sources| {
            let text = every_face(design, verdict, sources);
            assert!(text.contains("Nothing to check yet"), "{text}");
        },
    );
    let bare = "valvewright format 1
rail upper 36V
circuit odd
    input a, output y
    y = not a
    resistors 5%: R1 82k upper to y
    tube V1 half 5963: plate y, grid a, cathode ground
unit G1 odd: a p, y q
bench
    switches: p upper or ground
";
    with(bare.to_owned(), |design, verdict, sources| {
        let text = every_face(design, verdict, sources);
        assert!(text.contains("no curve for 5963"), "{text}");
    });
}

#[test]
fn the_readers_words_reach_every_face_but_not_the_excerpts() {
    with(machine("36V", "-24V", ""), |_, verdict, sources| {
        let terminal = Terminal {
            wording: VALVE,
            ..TERMINAL
        };
        let text = terminal::verdict(verdict, sources, &terminal)
            + &terminal::levels(verdict, UnitId(0), &terminal);
        for word in ["tube", "plate", "Tube", "Plate"] {
            assert!(!text.contains(word), "{word}: {text}");
        }
        assert!(
            text.contains("Valve V1, 6922") && text.contains("anode current"),
            "{text}"
        );
        let page =
            report::html::design_page(verdict, Besides::default(), sources, &edition(), VALVE);
        assert!(
            page.contains("tube V1 half 6922: plate y"),
            "the excerpt stays as typed"
        );
        // Outside the excerpt no plate is left.
        let start = page.find("<pre").expect("an excerpt");
        let end = page.find("</pre>").expect("an excerpt");
        let (before, after) = (
            &page[page.find("<body").expect("a body")..start],
            &page[end..],
        );
        assert!(!before.contains("plate") && !after.contains("plate"));
    });
}

/// The parts list with rules of its own.
fn parts_list(verdict: &Verdict) -> PartsList {
    let spares = Spares {
        share: 0.1,
        least: 1,
    };
    let buying = Buying {
        resistors: ResistorRange {
            factor: 2.0,
            sizes: &[ResistorSize {
                watts: 0.25,
                volts: 250.0,
            }],
        },
        capacitor_factor: 1.25,
        capacitor_volts: &[63.0],
        tubes: spares,
        others: spares,
    };
    network::parts::parts(verdict, &buying, &CONTEXT)
}

#[test]
fn every_record_names_its_format_and_every_kind_is_documented() {
    let documented = include_str!("../../../docs/records.md");
    with(machine("36V", "-24V", ""), |design, verdict, sources| {
        let socket = SocketId(0);
        let pins = network::bench::socket_readings(verdict, socket, 1e7, &CONTEXT);
        let change = network::change::compare(verdict, verdict);
        let tube = Library::shipped().tube("6922").expect("shipped").clone();
        let spread = Library::shipped().tube("6SN7GT").expect("shipped").clone();
        let marginal = marginal_check(verdict, 1e7, &SPREAD, &CONTEXT, &mut |_| ());
        let suspects =
            network::margins::marginal::suspects(verdict, RailId(0), 30.0, &SPREAD, &CONTEXT);
        let wanted = first_resistor(design);
        let chosen = choose(design, &wanted, &SPREAD, &CONTEXT, &mut |_| true);
        let all = serving(
            design,
            CircuitId(0),
            std::slice::from_ref(&tube),
            1,
            (&SPREAD, &CONTEXT),
            &mut |_| true,
        );
        let records = [
            report::record::verdict(verdict, sources),
            report::record::findings(&verdict.findings, sources),
            report::record::levels(verdict, UnitId(0)),
            report::record::circuit_levels(verdict, CircuitId(0)),
            report::record::connections(verdict, Some(UnitId(0))),
            report::record::heaters(verdict, sources),
            report::record::rail_power(verdict),
            report::record::parts(&parts_list(verdict)),
            report::record::switch_on(verdict, sources),
            report::record::safety(design, 60.0),
            report::record::margins(
                verdict,
                &WorstCases {
                    margins: &network::margins::check(verdict, &SPREAD, &CONTEXT),
                    alone: &alone_cases(verdict, &[CircuitId(0)], &SPREAD, &CONTEXT),
                    mended: [&[], &[]],
                    sources: &SPREAD_SOURCES,
                },
                Whose::All,
                sources,
            ),
            report::record::marginal(verdict, &marginal),
            report::record::suspects(verdict, RailId(0), 30.0, &suspects),
            report::record::chosen(&Choice {
                design,
                wanted: &wanted,
                chosen: &chosen,
                stopped: false,
                limits: LIMITS,
                path: ".",
            }),
            report::record::serves(&Serving {
                design,
                circuit: CircuitId(0),
                loads: 1,
                all: &all,
                types: all.len(),
                limits: LIMITS,
            }),
            report::record::readings(design, socket, &pins, 1e7),
            report::record::wiring(design, None, &design::wiring::wiring_list(design, None)),
            report::record::loads(design, &[]),
            report::record::change(&change, "nothing", sources),
            report::record::type_sheet(&tube),
            report::record::type_sheet(&spread),
            report::record::explain("a", "b", "c"),
        ];
        for record in &records {
            assert_eq!(record["format"], 1);
            let kind = record["record"].as_str().expect("a kind");
            assert!(
                documented.contains(&format!("## `{kind}`")),
                "{kind} is not in docs/records.md"
            );
            fields_are_documented(record, documented);
        }
    });
}

/// The first resistor of the first circuit free, within a limit of every kind.
fn first_resistor(design: &Design) -> Wanted {
    let mut parts = design.circuits[0].parts.iter();
    let part = parts.position(|part| matches!(part.kind, PartKind::Resistor { .. }));
    Wanted {
        circuit: CircuitId(0),
        free: vec![Free {
            part: part.expect("a resistor"),
            ohms: vec![680e3, 820e3],
        }],
        loads: 1,
        tubes: Vec::new(),
        most_amps: [(RailId(0), 1e-3)].into(),
        most_watts: Some(1.0),
        longest_delay: Some(1.0),
    }
}

/// Every field name of a record stands in the documentation; names of nets, parts and parameters are the user's.
fn fields_are_documented(value: &serde_json::Value, documented: &str) {
    const OF_THE_USER: [&str; 7] = [
        "volts",
        "parts",
        "rail_amps",
        "nets",
        "values",
        "fed_with",
        "from_prior",
    ];
    match value {
        serde_json::Value::Object(map) => {
            for (name, value) in map {
                assert!(
                    documented.contains(&format!("`{name}`")),
                    "`{name}` is not in docs/records.md"
                );
                let by_name = OF_THE_USER.contains(&name.as_str()) && value.is_object();
                if by_name {
                    value
                        .as_object()
                        .into_iter()
                        .flat_map(|map| map.values())
                        .for_each(|value| fields_are_documented(value, documented));
                } else {
                    fields_are_documented(value, documented);
                }
            }
        }
        serde_json::Value::Array(all) => all
            .iter()
            .for_each(|value| fields_are_documented(value, documented)),
        _ => {}
    }
}

/// A present-day maker's limits of the 6SN7 (S5): 7 to 13 mA of 9, halves within 30 %, at most 0.2 uA of reverse grid current.
#[test]
fn a_sheet_shows_how_far_tubes_may_be_from_the_book() {
    let library = Library::shipped();
    let tube = library.tube("6SN7GT").expect("it is shipped");
    let text = terminal::type_sheet(tube, &TERMINAL);
    for (name, value, source) in [
        (
            "current, of the book's at the same volts",
            "78 % to 144 %",
            "derived, S5",
        ),
        ("mu, of the book's", "83 % to 100 %", "derived, S5"),
        ("halves differ in current, at most", "30 %", "seen, S5"),
        ("reverse grid current, at most", "200 nA", "seen, S5"),
    ] {
        let line = text.lines().find(|line| line.contains(name));
        let line = line.unwrap_or_else(|| panic!("{name} is not in\n{text}"));
        assert!(line.contains(value) && line.contains(source), "{line}");
    }
    assert!(!text.contains("end of life"));
    let spread = &report::record::type_sheet(tube)["spread"];
    assert_eq!(spread["current"]["lowest_share"], 0.78);
    assert_eq!(spread["current"]["highest_share"], 1.44);
    assert_eq!(spread["reverse_grid_current"]["amps"], 200e-9);
    assert_eq!(spread["halves"]["source"], "S5");
    assert!(spread["aged"].is_null());
    let unknown = library.tube("6DJ8").expect("it is shipped");
    assert!(report::record::type_sheet(unknown)["spread"]["current"].is_null());
}

#[test]
fn every_shipped_type_has_a_sheet_on_every_face() {
    for tube in &Library::shipped().tubes {
        let text = terminal::type_sheet(tube, &TERMINAL);
        assert!(
            text.starts_with(&format!("{}: data\n", tube.name)),
            "{text}"
        );
        let page = report::html::type_sheet_page(tube, &edition(), VALVE);
        assert!(page.contains("Hot glass burns"), "{}", tube.name);
        assert!(
            !page.contains("plate volts, at most") && !page.contains("plate A"),
            "{}",
            tube.name
        );
        assert_eq!(
            page.contains("nothing can be computed"),
            tube.law.is_none(),
            "{}",
            tube.name
        );
        assert_eq!(report::record::type_sheet(tube)["type"], tube.name.as_str());
        assert_eq!(
            text.contains("nothing can be computed"),
            tube.law.is_none(),
            "{}",
            tube.name
        );
    }
}

#[test]
fn lines_fit_the_terminal_where_words_can_be_broken() {
    with(machine("36V", "-2V", ""), |_, verdict, sources| {
        for width in [60, 80, 120] {
            let terminal = Terminal { width, ..TERMINAL };
            let text = terminal::verdict(verdict, sources, &terminal)
                + &terminal::connections(verdict, None, &terminal);
            let longest = text
                .lines()
                .map(|line| line.chars().count())
                .max()
                .expect("lines");
            assert!(longest <= width, "{longest} of {width}: {text}");
        }
    });
}

#[test]
fn colour_marks_severity_and_changes_no_letter() {
    with(machine("36V", "-2V", ""), |_, verdict, sources| {
        let plain = terminal::verdict(verdict, sources, &TERMINAL);
        let coloured = terminal::verdict(
            verdict,
            sources,
            &Terminal {
                colour: true,
                plain: false,
                ..TERMINAL
            },
        );
        assert!(coloured.contains("\u{1b}[1;31mfault"), "{coloured}");
        let mut bare = coloured;
        for code in ["\u{1b}[0m", "\u{1b}[1m", "\u{1b}[1;31m", "\u{1b}[1;33m"] {
            bare = bare.replace(code, "");
        }
        assert_eq!(bare, plain);
    });
}

/// Beside whole volts a level of microvolts is 0.00 V and no sign stands before it; where both are small it keeps its figures, and
/// amperes keep theirs.
#[test]
fn a_level_of_nothing_is_no_microvolts() {
    let said = |has: f64, needs: f64, unit: Unit| {
        let finding = Finding {
            has: Some(Amount::new("level", has, unit)),
            needs: Some(Amount::new("threshold", needs, unit)),
            ..Finding::fault("down-level-too-high", span(), "G1", "It is.")
        };
        sentence::numbers(&finding, Wording::default()).unwrap()
    };
    for volts in [4e-5, -4e-5, 0.0, 4.9e-3] {
        let said = said(volts, -3.0, Unit::Volt);
        assert!(said.starts_with("Has 0.00 V (level), needs −3 V"), "{said}");
    }
    let beyond = said(6e-3, -3.0, Unit::Volt);
    assert!(beyond.starts_with("Has 6 mV (level)"), "{beyond}");
    let both = said(4e-5, 0.5, Unit::Volt);
    assert!(both.starts_with("Has 40 µV (level)"), "{both}");
    let amps = said(4e-5, 2.0, Unit::Ampere);
    assert!(amps.starts_with("Has 40 µA (level)"), "{amps}");
}
