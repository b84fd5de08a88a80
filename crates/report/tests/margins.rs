//! Margins in the worst case: what is named, in which order, what stands alike, and what the words say of it.

use crate::designs::{CONTEXT, LIMITS, SPREAD, SPREAD_SOURCES};
use crate::page_pictures::pictures;
use design::model::{CircuitId, Design, Lot, UnitId};
use design::read::read;
use devices::library::Library;
use devices::spread::TubeSpread;
use devices::types::{Mark, Sourced};
use network::margins::alone::alone_cases;
use network::margins::check;
use network::margins::tallies::{BySeed, Counts, Share};
use network::margins::yields::{Drawing, Yields};
use network::verdict::Verdict;
use report::Edition;
use report::html::{Besides, design_page};
use report::margins::{Whose, WorstCases};
use report::terminal::{self, Terminal};
use report::words::Wording;
use report::yields::Drawn;
use serde_json::Value;
use text::source::{SourceMap, Sources};

const TERMINAL: Terminal = Terminal {
    width: 110,
    colour: false,
    plain: false,
    wording: Wording {
        valve: false,
        anode: false,
    },
};

/// A gate drives one that drives two alike, with a plate resistor and a rail for a lamp that has nothing to do with it.
fn chain(plate_resistor: &str) -> String {
    format!(
        "valvewright format 1
machine Chain
rail upper 24V 5%
rail lower -24V 5%
rail lamp 50V 5%
circuit inverter
    input a, output y
    y = not a
    resistors 5%: R1 1M a to g, R2 1M8 g to lower, R3 {plate_resistor} upper to y
    tube V1 half 12AU7: plate y, grid g, cathode ground
circuit shine
    input a, output y
    y = not a
    resistors 5%: R1 1M a to g, R2 1M8 g to lower, R3 150k lamp to y
    tube V1 half 12AU7: plate y, grid g, cathode ground
unit G1 inverter: a take, y first
unit G2 inverter: a first, y second
unit G3 inverter: a second, y open
unit G4 inverter: a second, y open
unit S1 shine: a take, y open
unit H1 inverter: a take, y fourth
unit H2 inverter: a fourth, y fifth
unit H3 inverter: a fifth, y open
unit H4 inverter: a fifth, y open
bench
    switches: take upper or ground through 10k
"
    )
}

struct One(String);

impl Sources for One {
    fn read(&self, _: &str) -> Result<String, String> {
        Ok(self.0.clone())
    }
}

/// Checks a text, perhaps with lots of the builder's, and hands its margins to `look`.
fn with(text: String, lots: Vec<Lot>, look: impl FnOnce(&Verdict, &WorstCases, &SourceMap)) {
    let mut reading = read("machine.valve", &One(text), Library::shipped());
    let design: &mut Design = reading.design.as_mut().unwrap();
    design.lots = lots;
    let design = reading.design.as_ref().unwrap();
    let verdict = network::verdict::check(design, &LIMITS, &CONTEXT);
    let margins = check(&verdict, &SPREAD, &CONTEXT);
    let circuits: Vec<CircuitId> = (0..design.circuits.len()).map(CircuitId).collect();
    let alone = alone_cases(&verdict, &circuits, &SPREAD, &CONTEXT);
    let worst = WorstCases {
        margins: &margins,
        alone: &alone,
        mended: [&[], &[]],
        sources: &SPREAD_SOURCES,
    };
    look(&verdict, &worst, &reading.sources);
}

fn flowing(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn unit(verdict: &Verdict, name: &str) -> UnitId {
    let mut units = verdict.plan.design.units.iter();
    UnitId(units.position(|unit| unit.name == name).unwrap())
}

/// The rows of the first table of a terminal's text.
fn first_rows(text: &str) -> Vec<&str> {
    let rows = text
        .lines()
        .skip_while(|line| !line.starts_with('─'))
        .skip(1);
    rows.take_while(|line| !line.is_empty()).collect()
}

/// With 47 kΩ a tube of half its current no longer pulls its plate low enough; what brings that about is named in words.
#[test]
fn the_smallest_stands_first_and_its_worst_case_is_named() {
    with(chain("47k"), Vec::new(), |verdict, worst, sources| {
        let text = terminal::margins(verdict, worst, Whose::All, sources, &TERMINAL);
        let rows = first_rows(&text);
        assert!(
            rows[0].starts_with("second") && rows[0].contains("short"),
            "{text}"
        );
        let said = flowing(&text);
        assert!(said.contains("G2.V1 at 50 % of its book current"), "{text}");
        // All that is said to be off of a part that is named: a low mu raises what it takes to pull the plate down.
        assert!(
            said.contains("of its mu, cut off 100 mV") || said.contains("of its mu, with 200 nA"),
            "{text}"
        );
        // 24 V and 5 % more, 24 V and 5 % less: a strong plate supply and a weak bias make a high down level.
        assert!(said.contains("upper 25.2 V, lower −22.8 V"), "{text}");
        assert!(said.contains("when down is short by"), "{text}");
        let found = worst.findings(verdict, Whose::All);
        assert_eq!(
            (found[0].name, found[0].subject.as_str()),
            ("worst-case-down", "G2")
        );
        assert!(said.contains("fault G2 worst-case-down"), "{text}");
    });
}

/// G2 and H2 have the same circuit, the same loads and the same before them; G2's own two loads are alike as well.
#[test]
fn what_stands_alike_is_one_line() {
    with(chain("47k"), Vec::new(), |verdict, worst, sources| {
        let text = terminal::margins(verdict, worst, Whose::All, sources, &TERMINAL);
        let lines = first_rows(&text);
        let rows: Vec<_> = lines.iter().filter(|row| row.contains("G2.y")).collect();
        assert_eq!(rows.len(), 1, "{text}");
        assert!(!lines.iter().any(|row| row.contains("H2.y")), "{text}");
        assert!(text.contains("G3.a, and 1 alike"), "{text}");
        let own = Whose::Unit(unit(verdict, "G2"));
        let text = terminal::margins(verdict, worst, own, sources, &TERMINAL);
        // Down and up to the loads, and down and up of what drives it.
        let lines = first_rows(&text);
        let net = |name: &str| lines.iter().filter(|row| row.starts_with(name)).count();
        assert_eq!((net("second"), net("first")), (2, 2), "{text}");
    });
}

/// The rail of the lamp moves nothing of a gate on other rails: it has corners, and is named in none, nor in a worst case of these;
/// what is alike without it is one line, and that it does nothing is said.
#[test]
fn a_rail_that_does_nothing_is_not_named() {
    with(chain("47k"), Vec::new(), |verdict, worst, sources| {
        let text = terminal::margins(
            verdict,
            worst,
            Whose::Unit(unit(verdict, "G2")),
            sources,
            &TERMINAL,
        );
        assert!(text.contains("lamp changes nothing here"), "{text}");
        let corners = text.split("To spare at every corner").nth(1).unwrap();
        // As typed, and each end of upper with each of lower.
        assert_eq!(first_rows(corners).len(), 5, "{text}");
        assert!(!first_rows(corners).concat().contains("lamp"), "{text}");
        let cases = text.split("How each comes about").nth(1).unwrap();
        let cases = cases.split("To spare at every corner").next().unwrap();
        assert!(!cases.contains("lamp"), "{cases}");
    });
}

/// What each setting and each rail takes is drawn in the order of volts for each per cent, the number beside it as it stands in
/// the record, what is no share of a book value in a picture of its own; nothing overlaps, in print or on a phone.
#[test]
fn what_is_taken_is_drawn_by_volts_for_each_per_cent() {
    with(chain("47k"), Vec::new(), |verdict, worst, sources| {
        let record = report::record::margins(verdict, worst, Whose::All, sources);
        let first = &record["margins"][0];
        let side = &first[first["when"].as_str().unwrap()];
        // With rails of 5 % either way, ten per cent lie between their ends.
        let corners = record["corners"].as_array().unwrap();
        let by_corner = side["by_corner_volts"].as_array().unwrap();
        let here = corners[side["corner"].as_u64().unwrap() as usize]
            .as_array()
            .unwrap();
        for moved in side["rails"].as_array().unwrap() {
            let turned = corners.iter().position(|corner| {
                let both = corner.as_array().unwrap().iter().zip(here);
                both.into_iter().all(|(there, here)| {
                    let sides = [there, here].map(|one| one["side"].as_i64().unwrap());
                    sides[0]
                        == if here["rail"] == moved["rail"] {
                            -sides[1]
                        } else {
                            sides[1]
                        }
                })
            });
            let there = by_corner[turned.unwrap()].as_f64().unwrap();
            let between = there - side["worst_volts"].as_f64().unwrap();
            let per_cent = moved["volts_per_percent"].as_f64().unwrap();
            assert!((10.0 * per_cent - between).abs() < 1e-9, "{moved}");
        }
        assert_eq!(
            side["rails"].as_array().unwrap().len(),
            2,
            "upper and lower"
        );
        let besides = Besides {
            worst: Some(*worst),
            ..Besides::default()
        };
        let page = design_page(
            verdict,
            besides,
            sources,
            &Edition::default(),
            Wording::default(),
        );
        let section = page.split("</span> Margins</h2>").nth(1).unwrap();
        let section = section.split("</section>").next().unwrap();
        for picture in pictures(section) {
            assert_eq!(picture.faults(), Vec::<String>::new());
        }
        let drawn: Vec<&str> = section.split("<svg ").skip(1).collect();
        let drawn = |label: &str| {
            let mut found = drawn.iter().filter(|one| one.contains(label));
            let svg = found.next().unwrap().split("</svg>").next().unwrap();
            let texts = svg
                .split("</text>")
                .filter_map(|piece| piece.rsplit('>').next());
            texts.map(str::to_owned).collect::<Vec<String>>()
        };
        let shares = drawn("takes for each per cent, mV");
        let volts: Vec<f64> = shares
            .iter()
            .filter_map(|text| text.split_once(" mV per %")?.0.parse().ok())
            .collect();
        assert!(
            5 < volts.len() && volts.is_sorted_by(|left, right| left >= right),
            "{shares:?}"
        );
        assert!(
            shares.iter().any(|text| text == "rail upper at 25.2 V"),
            "{shares:?}"
        );
        assert!(
            shares.iter().any(|text| text == "rail lower at −22.8 V"),
            "{shares:?}"
        );
        let others = drawn("takes in all, mV");
        assert!(
            others.iter().any(|text| text.contains("cut off")),
            "{others:?}"
        );
        assert!(
            others.iter().all(|text| !text.contains("per %")),
            "{others:?}"
        );
    });
}

/// What a part takes and what is left without that add up to the margin, in the table as in the record.
#[test]
fn what_is_left_is_the_margin_and_what_the_part_takes() {
    with(chain("47k"), Vec::new(), |verdict, worst, sources| {
        let record = report::record::margins(verdict, worst, Whose::All, sources);
        let first = &record["margins"][0];
        let least = first["spare_volts"].as_f64().unwrap();
        assert!(least < 0.0);
        let side = &first[first["when"].as_str().unwrap()];
        assert_eq!(side["worst_volts"].as_f64(), Some(least));
        let corners = side["by_corner_volts"].as_array().unwrap();
        let volts = corners.iter().map(|volts| volts.as_f64().unwrap());
        assert_eq!(volts.reduce(f64::min), Some(least));
        let text = terminal::margins(verdict, worst, Whose::All, sources, &TERMINAL);
        let table = text.split("What each part does").nth(1).unwrap();
        let mut seen = 0;
        for row in first_rows(table) {
            let numbers: Vec<f64> = row
                .replace('−', "-")
                .split("  ")
                .filter_map(|cell| cell.trim().parse().ok())
                .collect();
            if let [.., takes, left] = numbers[..] {
                // Both stand with two decimals.
                assert!((least + takes - left).abs() < 0.011, "{row}");
                seen += 1;
            }
        }
        assert!(5 < seen, "{text}");
    });
}

/// 150 kΩ in the plate leaves enough for a tube of half its current: then nothing need be chosen.
#[test]
fn a_gate_that_stands_it_wants_no_trimmer() {
    with(chain("150k"), Vec::new(), |verdict, worst, sources| {
        let text = flowing(&terminal::margins(
            verdict,
            worst,
            Whose::All,
            sources,
            &TERMINAL,
        ));
        let of_units = text.split("Circuits alone").next().unwrap();
        assert!(!of_units.contains("short"), "{text}");
        // Said of one connection: what stands above may be of another.
        assert!(text.contains(" when up passes with every part anywhere in its band: no trimmer and no chosen part is needed for it."), "{text}");
        assert!(worst.findings(verdict, Whose::All).is_empty());
    });
}

/// Every quantity stands with its band and where that comes from: the text, the builder's lot, or what is assumed.
#[test]
fn what_was_varied_stands_with_its_source() {
    let sourced = |value| Sourced {
        value,
        mark: Mark::Measured,
        source: "my bench".to_owned(),
    };
    let lot = |span| Lot {
        device: "12AU7".to_owned(),
        spread: TubeSpread {
            current: Some(sourced((0.9, 1.1))),
            ..TubeSpread::default()
        },
        span,
    };
    with(chain("47k"), Vec::new(), |verdict, worst, sources| {
        let record = report::record::margins(verdict, worst, Whose::All, sources);
        let find = |what: &str| -> Value {
            let mut all = record["varied"].as_array().unwrap().iter();
            all.find(|one| one["what"] == what).unwrap().clone()
        };
        // As typed: 5 %.
        assert_eq!(find("ohms")["between"], "95 to 105 %");
        assert_eq!(find("ohms")["of"][0], "resistors of 5 %");
        // As assumed in these tests: from half to half as much again.
        assert_eq!(find("plate current")["between"], "50 to 150 %");
        assert_eq!(find("mu")["between"], "90 to 110 %");
        assert_eq!(find("mu")["source"], "made up for mu");
        // Nothing is assumed of grids and temperatures in these tests, and no heater has a rail; of what is typed the table has a
        // line, and the parts that move name it.
        assert_eq!(find("reverse grid current")["between"], "none");
        assert_eq!(find("reverse grid current")["source"], "made up for grids");
        for what in ["temperature", "heater volts"] {
            let all = record["varied"].as_array().unwrap();
            assert!(all.iter().all(|one| one["what"] != what), "{what}");
        }
        let with_diodes = "diodes 1N4148: CR1 a to join\n    resistors 5%: R1 1M join to g";
        let warm = chain("47k").replace("resistors 5%: R1 1M a to g", with_diodes);
        let warm = warm + "temperature 30C to 60C\n";
        with(warm, Vec::new(), |verdict, worst, sources| {
            let record = report::record::margins(verdict, worst, Whose::All, sources);
            let mut all = record["varied"].as_array().unwrap().iter();
            let line = all.find(|one| one["what"] == "temperature").unwrap();
            assert_eq!(line["of"][0], "all semiconductor diodes together");
            assert_eq!(line["between"], "30 °C to 60 °C");
            assert_eq!(line["source"], "as typed");
            let moved = record["margins"][0]["down"]["threshold_case"]["moved"].clone();
            let mut moved = moved.as_array().unwrap().iter();
            let diodes = moved.find(|one| one["part"] == "diodes").unwrap();
            assert_eq!(diodes["quantity"], "temperature");
            assert!((diodes["end"]["kelvin"].as_f64().unwrap() - 333.15).abs() < 1e-9);
            assert!(diodes["unit"].is_null());
        });
        let span = verdict.plan.design.circuits[0].span;
        with(chain("47k"), vec![lot(span)], |verdict, worst, sources| {
            let record = report::record::margins(verdict, worst, Whose::All, sources).to_string();
            assert!(record.contains("50 to 110 %"), "{record}");
            assert!(
                record.contains("new 90 to 110 %: measured, my bench"),
                "{record}"
            );
        });
    });
}

/// The unit that fails most stands first and is drawn, down and up, and nothing overlaps, in print or on a phone. The gate
/// with 47 kΩ falls short in the worst case, but not so often that no sample works.
#[test]
fn the_page_draws_where_the_worst_unit_stands() {
    with(chain("47k"), Vec::new(), |verdict, worst, sources| {
        let yields = Yields::new(verdict, worst.margins, &SPREAD, &CONTEXT);
        let drawing = Drawing {
            seed: 1,
            hollow: 0.0,
        };
        let mut counts = Counts::default();
        for block in counts.missing(64, Share::WHOLE) {
            let outcomes = yields.draw(&drawing, block.scramble, block.from, block.to);
            counts.add(block, outcomes).unwrap();
        }
        let counts = BySeed::from([(drawing.seed, counts)]);
        let drawn = Drawn::new(&yields, drawing.hollow, &counts, *worst);
        let besides = Besides {
            drawn: Some(&drawn),
            ..Besides::default()
        };
        let edition = Edition::default();
        let page = design_page(verdict, besides, sources, &edition, Wording::default());
        let section = page.split("</span> How many work</h2>").nth(1).unwrap();
        let section = section.split("</section>").next().unwrap();
        assert!(section.contains("threshold at worst"), "{section}");
        let pictures = pictures(section);
        assert_eq!(pictures.len(), 4, "down and up, for print and for a phone");
        for picture in pictures {
            assert_eq!(picture.faults(), Vec::<String>::new());
        }
        let text = terminal::yields(verdict, &drawn, &TERMINAL);
        assert!(text.contains("1024 samples of the machine"), "{text}");
        // Each sample that failed is told how, and what was drawn stands below.
        assert!(text.contains("level short"), "{text}");
        assert!(text.contains("95 to 105 %"), "{text}");
        let record = report::record::yields(verdict, &drawn);
        let worst = &record["yields"][0];
        let sum = |field: &str| -> u64 {
            let counts = worst[field].as_array().unwrap().iter();
            counts.map(|count| count.as_u64().unwrap()).sum()
        };
        let failed = ["level_short", "state_lost", "not_at_rest"].map(sum);
        assert_eq!(sum("drawn"), sum("works") + failed.iter().sum::<u64>());
        assert!(0 < failed[0] && failed[1] == 0, "{worst}");
        let histograms = record["histograms"].as_array().unwrap();
        assert_eq!(histograms.len(), 2, "down and up");
        let mut short = 0;
        for histogram in histograms {
            let numbers = |field: &str| -> Vec<f64> {
                let numbers = histogram[field].as_array().unwrap().iter();
                numbers.map(|number| number.as_f64().unwrap()).collect()
            };
            let (edges, counts) = (numbers("edges_volts"), numbers("counts"));
            assert_eq!(edges.len(), counts.len() + 1);
            assert!(edges.is_sorted());
            assert_eq!(counts.iter().sum::<f64>() as u64, 1024 - failed[2]);
            short += numbers("failed").iter().sum::<f64>() as u64;
        }
        assert!(
            failed[0] <= short && short <= 2 * failed[0],
            "{histograms:?}"
        );
        assert!(!first_rows(&text).is_empty(), "{text}");
    });
}

/// The page has the section with three pictures (what is to spare, what takes of it for each per cent and else), each for print and for a phone, in which nothing overlaps.
#[test]
fn the_page_draws_margins_and_what_takes_them() {
    with(chain("47k"), Vec::new(), |verdict, worst, sources| {
        let besides = Besides {
            worst: Some(*worst),
            ..Besides::default()
        };
        let page = design_page(
            verdict,
            besides,
            sources,
            &Edition::default(),
            Wording::default(),
        );
        let section = page.split("</span> Margins</h2>").nth(1).unwrap();
        let section = section.split("</section>").next().unwrap();
        let drawn = pictures(section);
        assert_eq!(drawn.len(), 6);
        for picture in drawn {
            assert_eq!(picture.faults(), Vec::<String>::new());
        }
    });
}

/// The rails and the gate of [`chain`] by themselves: no unit, no bench.
fn gate_by_itself(plate_resistor: &str) -> String {
    let text = chain(plate_resistor);
    let end = text.find("circuit shine").unwrap();
    text[..end].to_owned()
}

/// The first thing that a builder types is one gate: its worst case is answered, with both sides, every corner and every part.
#[test]
fn a_gate_by_itself_has_its_worst_case() {
    with(
        gate_by_itself("100k"),
        Vec::new(),
        |verdict, worst, sources| {
            let text = terminal::margins(verdict, worst, Whose::All, sources, &TERMINAL);
            assert!(
                text.starts_with("inverter alone in the worst case\n"),
                "{text}"
            );
            assert_eq!(first_rows(&text).len(), 2, "down and up: {text}");
            let said = flowing(&text);
            for part in [
                "none to 1 inverter",
                "inverter.V1 at 50 % of its book current",
                "V1 of load 1 of y with 90 % of its mu",
                "To spare at every corner of the rails",
                "What each part does to the margin of inverter.y to a of load 1 of y",
                "inverter alone passes with every part anywhere in its band",
                "a long chain of its like",
                "all 4 corners",
            ] {
                assert!(said.contains(part), "{part} is missing in {text}");
            }
            assert!(!said.contains("no margin to show"), "{text}");
        },
    );
}

/// No unit uses the circuit, so alone is all there is, and short is a fault; in [`chain`] its units are judged where they stand.
#[test]
fn short_alone_is_a_fault_where_no_unit_uses_the_circuit() {
    with(gate_by_itself("47k"), Vec::new(), |verdict, worst, _| {
        let found = worst.findings(verdict, Whose::All);
        assert_eq!(
            (found[0].name, found[0].subject.as_str()),
            ("worst-case-down", "inverter")
        );
    });
    with(chain("47k"), Vec::new(), |verdict, worst, sources| {
        let inverter = &worst.alone[0];
        assert!(inverter.margins.connections[0].smallest().0.volts < 0.0);
        let found = worst.findings(verdict, Whose::All);
        assert!(found.iter().all(|found| found.subject != "inverter"));
        let text = terminal::margins(verdict, worst, Whose::All, sources, &TERMINAL);
        assert!(text.contains("Circuits alone in the worst case"), "{text}");
        let record = report::record::margins(verdict, worst, Whose::All, sources);
        let alone = &record["alone"][0];
        assert_eq!(alone["circuit"], "inverter");
        assert_eq!(alone["used"], true);
        // Its units G2 and H2 drive two each.
        assert_eq!(alone["most_loads"], 2);
        assert_eq!(alone["margins"][0]["load"]["unit"], "load 1 of y");
    });
}

/// A lamp stage alone, which drives nothing: its lamp is shown by every face, and is at fault as no unit uses it.
#[test]
fn the_lamp_of_a_circuit_alone_is_shown_and_at_fault_where_no_unit_uses_it() {
    let by_itself = "valvewright format 1
rail high 110V 5%
rail middle 40V 5%
type OWN neon lamp, like NE-2
    law neon: strike 80V, maintain 55V, lit-resistance 4k, hold 20uA, dark-resistance 1G
    spread strike 65V to 120V, maintain 50V to 60V
circuit shows
    inputs a
    lit = a
    resistors 5%: R1 220k a to n, R2 4M7 n to middle
    neons OWN: DS1 n to ground
";
    let used = format!("{by_itself}unit L1 shows: a x\nbench\n    switches: x high or middle\n");
    for (text, is_used) in [(by_itself.to_owned(), false), (used, true)] {
        with(text, Vec::new(), |verdict, worst, sources| {
            let found = worst.findings(verdict, Whose::All);
            let mut of_alone = found.iter().filter(|one| one.subject == "shows.DS1");
            assert_eq!(
                of_alone.any(|one| one.name == "worst-case-lamp-dark"),
                !is_used,
                "{found:?}"
            );
            let whose = Whose::Circuit(CircuitId(0));
            let text = terminal::margins(verdict, worst, whose, sources, &TERMINAL);
            for part in [
                "Lamps and loads of circuits alone in the worst case",
                "shows.DS1",
                "strike",
            ] {
                assert!(text.contains(part), "{part} is missing in {text}");
            }
            assert!(!text.contains("no margin"), "{text}");
            let record = report::record::margins(verdict, worst, whose, sources);
            let alone = &record["alone"][0];
            assert_eq!(
                (&alone["used"], &alone["most_loads"]),
                (&is_used.into(), &0.into())
            );
            assert_eq!(alone["parts"][0]["unit"], "shows");
            assert_eq!(alone["parts"][0]["part"], "DS1");
            assert!(alone["parts"][0]["spare"].as_f64().unwrap() < 0.0);
        });
    }
}

/// Two halves that hold one another in one circuit: what is not known is said, and what to do about it.
#[test]
fn what_is_not_known_of_a_circuit_that_stores_can_be_acted_upon() {
    let cell = "valvewright format 1
rail upper 36V 5%
rail lower -24V 5%
circuit cell
    inputs set reset, outputs q qn
    q = (set or q) and not reset
    qn = not (set or q)
    diodes 1N4148: CR1 reset to j1, CR2 qn to j1, CR3 set to j2, CR4 q to j2
    resistors 5%: R1 680k j1 to g1, R2 1M2 g1 to lower, R3 82k upper to q
    resistors 5%: R4 680k j2 to g2, R5 1M2 g2 to lower, R6 82k upper to qn
    tube V1 half 6922: plate q, grid g1, cathode ground
    tube V2 half 6922: plate qn, grid g2, cathode ground
unit C1 cell: set set, reset reset, q q, qn qn
bench
    switches: set upper or ground through 10k, reset upper or ground through 10k
";
    with(cell.to_owned(), Vec::new(), |verdict, worst, sources| {
        let found = worst.findings(verdict, Whose::All);
        let names: Vec<_> = found.iter().map(|found| found.name).collect();
        assert!(names.contains(&"worst-case-not-known"), "{names:?}");
        let text = terminal::margins(verdict, worst, Whose::All, sources, &TERMINAL);
        let said = flowing(&text);
        for part in [
            "C1 stores within itself",
            "what set has to spare at C1.set is not known",
            "Write it as a block of gates",
        ] {
            assert!(said.contains(part), "{part} is missing in {text}");
        }
        let record = report::record::margins(verdict, worst, Whose::All, sources);
        let one = &record["not_known"][0];
        assert_eq!(
            (&one["net"], &one["missing"]),
            (&"set".into(), &"threshold".into())
        );
    });
}

/// The page of a gate by itself has a section on its worst case.
#[test]
fn the_page_of_a_gate_by_itself_has_its_worst_case() {
    with(
        gate_by_itself("100k"),
        Vec::new(),
        |verdict, worst, sources| {
            let besides = Besides {
                worst: Some(*worst),
                ..Besides::default()
            };
            let (edition, wording) = (Edition::default(), Wording::default());
            let page = design_page(verdict, besides, sources, &edition, wording);
            assert!(page.contains("inverter alone in the worst case"), "{page}");
            assert!(page.contains("inverter alone passes"), "{page}");
        },
    );
}
