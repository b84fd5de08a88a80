//! Designs that nobody would draw do no harm: nothing panics, the work is bounded, and what is said is well formed.
//!
//! Sound and mistaken machines are changed word by word, and whatever still reads as a design is judged.

use crate::judging::register::register;
use crate::judging::{CONTEXT, LIMITS, sound};
use design::model::Design;
use design::read::{Reading, read};
use devices::library::Library;
use network::finding::{Finding, entry};
use network::verdict::{Verdict, check};
use network::work::MOST_EVALUATED;
use rayon::ThreadPoolBuilder;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use text::source::{SourceMap, Sources};

/// Changed machines that are tried, beginning with these seeds.
const TRIALS: u64 = 600;
/// Every how many of them is judged once more on one thread.
const AGAIN_EVERY: u64 = 5;
/// Elements evaluated for the levels of one machine of some dozens of units: chosen, ten times what the worst takes (rails
/// of 100 kV that never settle).
const MOST_WORK: u64 = MOST_EVALUATED / 10;

/// A folder held in memory, the file `machine.valve` first.
#[derive(Debug, Clone)]
struct Folder(BTreeMap<String, String>);

impl Sources for Folder {
    fn read(&self, name: &str) -> Result<String, String> {
        self.0
            .get(name)
            .cloned()
            .ok_or_else(|| "not there".to_owned())
    }
}

fn application() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../app")
}

/// Every machine of the gallery, and the demo with the files that it includes.
fn machines() -> Vec<Folder> {
    let mut paths: Vec<PathBuf> = std::fs::read_dir(application().join("gallery"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| {
            path.extension()
                .is_some_and(|extension| extension == "valve")
        })
        .collect();
    paths.sort();
    let alone = |path: &PathBuf| {
        let text = std::fs::read_to_string(path).unwrap();
        Folder(BTreeMap::from([("machine.valve".to_owned(), text)]))
    };
    let mut machines: Vec<Folder> = paths.iter().map(alone).collect();
    assert!(!machines.is_empty());
    let demo = application().join("demo/tidewatch");
    let names = [
        "machine.valve",
        "circuits/gates.valve",
        "circuits/blocks.valve",
    ];
    let files = names.map(|name| {
        (
            name.to_owned(),
            std::fs::read_to_string(demo.join(name)).unwrap(),
        )
    });
    machines.push(Folder(files.into()));
    machines
}

/// Pseudo-random numbers, the same in every run: the mixing function of G. Steele, D. Lea and C. Flood, "Fast splittable
/// pseudorandom number generators", OOPSLA 2014 (constants from memory).
struct Dice(u64);

impl Dice {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    fn below(&mut self, count: usize) -> usize {
        (self.next() % count.max(1) as u64) as usize
    }

    fn pick<T: Clone>(&mut self, from: &[T]) -> T {
        from[self.below(from.len())].clone()
    }
}

const TUBES: &[&str] = &[
    "half 12AX7",
    "half 12AU7",
    "half 6922",
    "half 6J6",
    "half 5687",
    "half 12AX7-KOREN",
    "half 6AL5",
    "half 6N7",
    "half 12U7",
    "6AK5",
    "6AS6",
    "EF804S",
    "12K5",
    "DM160",
    "6C4",
    "5718",
    "half 6021",
    "half ECC86",
    "half 6SN7GT",
];
const DIODES: &[&str] = &["1N4148", "1N34A", "BZX-3V3", "BZX-12V", "BZX-47V"];
const RAIL_VOLTS: &[&str] = &[
    "0V", "1u", "-36V", "36V", "12V", "1000V", "100kV", "-5kV", "250V", "3V",
];
const SENTENCES: &[&str] = &[
    "y = a",
    "y = not a",
    "y = up",
    "y = down",
    "y = y",
    "y = not y",
    "y = a or y",
    "y = not (a or b)",
    "y = a and b",
    "y = a xor b",
    "y = (a or y) and not b",
    "y = a when b falls",
];
const PARTS: &[&str] = &[
    "    neons NE-2: DS9 y to ground",
    "    neons NE-2: DS9 upper to y",
    "    switches: S9 y to upper closed",
    "    switches: S9 g1 to ground closed",
    "    switches: S9 y to g1 open",
    "    sources: BT9 9V y to ground",
    "    sources: BT9 1.5V a to g1",
    "    inductors: L9 2H y to upper",
    "    inductors: L9 2H 500ohm upper to y",
    "    diodes BZX-5V1: VR9 ground to y",
    "    diodes 1N34A: CR9 g1 to ground, CR10 y to upper",
    "    capacitors 100V: C9 100p y to g1",
    "    trimmers: R99 100k y to ground slider g1 at 0%",
    "    resistors: R98 1M y to a",
    "    resistors: R98 10k y to g1, R97 1k g1 to n, R96 1k n to upper",
];

/// One change of one file.
fn changed(text: &str, dice: &mut Dice) -> String {
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    let which = |dice: &mut Dice, lines: &[String], wanted: &dyn Fn(&str) -> bool| {
        let fitting: Vec<usize> = (0..lines.len())
            .filter(|&line| wanted(&lines[line]))
            .collect();
        (!fitting.is_empty()).then(|| dice.pick(&fitting))
    };
    match dice.below(11) {
        0 | 1 => {
            if let Some(line) = which(dice, &lines, &|line| {
                line.contains("resistors") || line.contains("loads:")
            }) {
                lines[line] = scaled(&lines[line], dice);
            }
        }
        2 => {
            if let Some(line) = which(dice, &lines, &|line| line.starts_with("rail ")) {
                let mut words: Vec<&str> = lines[line].split(' ').collect();
                words[2] = dice.pick(RAIL_VOLTS);
                lines[line] = words.join(" ");
            }
        }
        3 => {
            if let Some(line) = which(dice, &lines, &|line| line.trim_start().starts_with("tube "))
            {
                let start = lines[line].find(" V1 ").map_or(0, |at| at + 4);
                let end = lines[line].find(':').unwrap_or(lines[line].len());
                if start < end {
                    lines[line].replace_range(start..end, dice.pick(TUBES));
                    if dice.below(2) == 0 {
                        lines[line] += ", screen upper";
                    }
                }
            }
        }
        4 => {
            if let Some(line) = which(dice, &lines, &|line| {
                line.trim_start().starts_with("diodes ")
            }) {
                let end = lines[line].find(':').unwrap_or(lines[line].len());
                lines[line].replace_range(4..end, &format!("diodes {}", dice.pick(DIODES)));
            }
        }
        5 => {
            if let Some(line) = which(dice, &lines, &|line| line.starts_with("    y = ")) {
                lines[line] = format!("    {}", dice.pick(SENTENCES));
            }
        }
        6 => {
            if let Some(line) = which(dice, &lines, &|line| {
                line.starts_with("    ") && line.contains(':')
            }) {
                drop_phrase(&mut lines[line], dice);
            }
        }
        7 => {
            if let Some(line) = which(dice, &lines, &|line| line.trim_start().starts_with("tube "))
            {
                lines.insert(line, dice.pick(PARTS).to_owned());
            }
        }
        8 => {
            let line = dice.below(lines.len());
            lines.remove(line);
        }
        9 => exchange(
            &mut lines,
            dice,
            &["ground", "upper", "lower", "y", "a", "g1", "join", "heat"],
        ),
        _ => rewire(&mut lines, dice),
    }
    lines.join("\n") + "\n"
}

/// One value of a line a million times smaller to a million times larger.
fn scaled(line: &str, dice: &mut Dice) -> String {
    let mut words: Vec<String> = line.split(' ').map(str::to_owned).collect();
    let values: Vec<usize> = (0..words.len())
        .filter(|&word| {
            words[word].starts_with(|first: char| first.is_ascii_digit())
                && words[word].ends_with(['k', 'M', '0', '1', '2', '5', '7', '8'])
        })
        .collect();
    if !values.is_empty() {
        let word = dice.pick(&values);
        words[word] = (dice.pick(&[
            "1", "10", "1k", "10k", "100k", "1M", "10M", "100M", "1G", "47k", "0.1",
        ]))
        .to_owned();
    }
    words.join(" ")
}

fn drop_phrase(line: &mut String, dice: &mut Dice) {
    let Some((head, rest)) = line.split_once(": ") else {
        return;
    };
    let mut phrases: Vec<&str> = rest.split(", ").collect();
    phrases.remove(dice.below(phrases.len()));
    *line = format!("{head}: {}", phrases.join(", "));
}

/// One word of a line by another of the list.
fn exchange(lines: &mut [String], dice: &mut Dice, among: &[&str]) {
    let line = dice.below(lines.len());
    let mut words: Vec<String> = lines[line].split(' ').map(str::to_owned).collect();
    let places: Vec<usize> = (0..words.len())
        .filter(|&word| among.contains(&words[word].trim_end_matches(',')))
        .collect();
    if places.is_empty() {
        return;
    }
    let place = dice.pick(&places);
    let comma = if words[place].ends_with(',') { "," } else { "" };
    words[place] = format!("{}{comma}", dice.pick(among));
    lines[line] = words.join(" ");
}

/// One net of a unit by a net of another unit, a rail or ground: rings, shorts, inputs on one net.
fn rewire(lines: &mut [String], dice: &mut Dice) {
    let units: Vec<usize> = (0..lines.len())
        .filter(|&line| lines[line].trim_start().starts_with("unit "))
        .collect();
    let mut nets: Vec<String> = vec!["ground".to_owned(), "upper".to_owned(), "lower".to_owned()];
    for &line in &units {
        let phrases = lines[line]
            .split_once(": ")
            .map_or("", |parts| parts.1)
            .split(", ");
        nets.extend(
            phrases
                .filter_map(|phrase| phrase.split(' ').nth(1))
                .map(str::to_owned),
        );
    }
    if units.is_empty() {
        return;
    }
    let line = dice.pick(&units);
    let Some((head, rest)) = lines[line]
        .split_once(": ")
        .map(|(head, rest)| (head.to_owned(), rest.to_owned()))
    else {
        return;
    };
    let mut phrases: Vec<String> = rest.split(", ").map(str::to_owned).collect();
    let phrase = dice.below(phrases.len());
    if let Some(signal) = phrases[phrase].split(' ').next().map(str::to_owned) {
        phrases[phrase] = format!("{signal} {}", dice.pick(&nets));
    }
    lines[line] = format!("{head}: {}", phrases.join(", "));
}

fn wild(machines: &[Folder], seed: u64) -> Folder {
    let mut dice = Dice(seed);
    let mut folder = dice.pick(machines);
    for _ in 0..1 + dice.below(4) {
        let names: Vec<String> = folder.0.keys().cloned().collect();
        let name = dice.pick(&names);
        let text = changed(&folder.0[&name], &mut dice);
        folder.0.insert(name, text);
    }
    folder
}

fn all_findings<'a>(findings: &'a [Finding], into: &mut Vec<&'a Finding>) {
    for finding in findings {
        into.push(finding);
        all_findings(&finding.consequences, into);
    }
}

fn check_well_formed(verdict: &Verdict, sources: &SourceMap) {
    let mut findings = Vec::new();
    all_findings(&verdict.findings, &mut findings);
    for finding in findings {
        assert!(entry(finding.name).is_some(), "{}", finding.name);
        for words in [&finding.cause, &finding.subject] {
            let broken = ["NaN", "inf", "  ", "()"]
                .into_iter()
                .find(|odd| words.contains(odd));
            assert!(!words.trim().is_empty() && broken.is_none(), "{finding:?}");
        }
        assert!(finding.cause.ends_with('.'), "{}", finding.cause);
        for amount in finding.has.iter().chain(&finding.needs) {
            assert!(
                amount.value.is_finite() && !amount.what.is_empty(),
                "{finding:?}"
            );
        }
        let _ = sources.slice(finding.span);
    }
    let numbers = verdict
        .place
        .levels
        .values()
        .flat_map(|level| [level.down, level.up])
        .chain(
            verdict
                .rail_amps
                .iter()
                .flat_map(|rail| [rail.least, rail.most]),
        )
        .chain(
            verdict
                .heaters
                .strings
                .iter()
                .filter_map(|string| string.amps),
        )
        .chain(
            verdict
                .thresholds
                .values()
                .flat_map(|pair| [pair.low, pair.high]),
        );
    for number in numbers {
        assert!(number.is_finite());
    }
}

/// Elements evaluated in the last round of the levels.
fn evaluated(verdict: &Verdict) -> u64 {
    let results = verdict.place.results.iter().chain(&verdict.alone.results);
    results.map(|result| result.evaluated).sum()
}

/// What must come out alike.
fn judged(design: &Design) -> String {
    let verdict = check(design, &LIMITS, &CONTEXT);
    format!(
        "{:?} {:?} {:?} {:?} {:?}",
        verdict.findings,
        verdict.place.levels,
        verdict.thresholds,
        verdict.rail_amps,
        verdict.connections
    )
}

fn on_threads(count: usize, work: impl FnOnce() -> String + Send) -> String {
    ThreadPoolBuilder::new()
        .num_threads(count)
        .build()
        .unwrap()
        .install(work)
}

fn reading(folder: &Folder) -> Reading {
    read("machine.valve", folder, Library::shipped())
}

#[test]
fn changed_machines_are_judged_without_harm() {
    let machines = machines();
    let mut judged_machines = 0;
    for seed in 0..TRIALS {
        let folder = wild(&machines, seed);
        let reading = reading(&folder);
        let Some(design) = &reading.design else {
            continue;
        };
        judged_machines += 1;
        let verdict = check(design, &LIMITS, &CONTEXT);
        let work = evaluated(&verdict);
        assert!(work < MOST_WORK, "seed {seed} evaluates {work} elements");
        check_well_formed(&verdict, &reading.sources);
        if seed % AGAIN_EVERY == 0 {
            let one = on_threads(1, || judged(design));
            assert_eq!(one, on_threads(2, || judged(design)), "seed {seed}");
        }
    }
    assert!(
        TRIALS < 4 * judged_machines,
        "only {judged_machines} of {TRIALS} read as designs"
    );
}

/// A design may stop anywhere: with nothing in it, with rails only, with circuits that nothing stands in place of.
#[test]
fn a_design_without_units_is_judged() {
    let circuit = "rail upper 36V 5%
rail lower -24V 5%
circuit inverter
    inputs a, output y
    y = not a
    resistors 5%: R1 680k a to g1, R2 1M2 g1 to lower, R3 82k upper to y
    tube V1 half 6922: plate y, grid g1, cathode ground
";
    for rest in ["", "rail upper 36V 5%\n", circuit] {
        let reading = sound(&format!("valvewright format 1\n{rest}"));
        let verdict = check(reading.design.as_ref().unwrap(), &LIMITS, &CONTEXT);
        check_well_formed(&verdict, &reading.sources);
        assert!(verdict.passes(), "{:?}", verdict.findings);
    }
}

const GATES: &str = "valvewright format 1
rail upper 36V 5%
rail lower -24V 5%
circuit inverter
    inputs a, output y
    y = not a
    resistors 5% 0.5W: R1 680k a to g1, R2 1M2 g1 to lower, R3 82k upper to y
    tube V1 half 6922: plate y, grid g1, cathode ground
circuit dull
    inputs a, output y
    y = not a
    resistors 5% 0.5W: R1 680k a to g1, R2 12M g1 to lower, R3 82k upper to y
    tube V1 half 6922: plate y, grid g1, cathode ground
circuit mute
    inputs a b, output y
    resistors 5% 0.5W: R1 680k a to g1, R2 1M2 g1 to b, R3 82k upper to y
    tube V1 half 6922: plate y, grid g1, cathode ground
";
const SWITCH: &str = "bench\n    switches: take upper or ground through 10k\n";

fn named(text: &str) -> (Vec<&'static str>, Vec<String>, u64) {
    let folder = Folder(BTreeMap::from([(
        "machine.valve".to_owned(),
        text.to_owned(),
    )]));
    let reading = reading(&folder);
    let faults = text::diagnostic::render(&reading.diagnostics, &reading.sources, false);
    let verdict = check(reading.design.as_ref().expect(&faults), &LIMITS, &CONTEXT);
    check_well_formed(&verdict, &reading.sources);
    let names = verdict.findings.iter().map(|finding| finding.name);
    (
        names.collect(),
        verdict.not_checked.clone(),
        evaluated(&verdict),
    )
}

/// A thousand failing gates in a row: one finding with the others below it, and work that grows no faster than the
/// machine (four times as many gates, at most five times the work; equal ones are solved once).
#[test]
fn a_long_row_of_failing_gates_is_one_finding() {
    let row = |count: usize| {
        format!(
            "{GATES}unit G0 dull: a take, y n.0\nunits g 1 to {count}, dull\n    each: a n before, y n\n{SWITCH}"
        )
    };
    let (names, _, small) = named(&row(250));
    assert_eq!(names[0], "not-cut-off");
    let (names, _, large) = named(&row(1000));
    assert_eq!(
        names.iter().filter(|name| **name == "not-cut-off").count(),
        1
    );
    assert!(large <= 5 * small, "{small} and {large}");
}

/// A net with more loads than any plate drives is solved with some of them, and says so.
#[test]
fn a_net_with_a_thousand_loads_is_named() {
    let text = format!(
        "{GATES}unit D inverter: a take, y many\nunits g 1 to 1000, inverter\n    all: a many\n    y open\n{SWITCH}"
    );
    let (names, _, work) = named(&text);
    assert!(names.contains(&"loads-left-out"), "{names:?}");
    assert!(names.contains(&"overloaded"), "{names:?}");
    assert!(work < MOST_WORK, "{work}");
}

/// A line that holds half of the latches of a register: each gate on it is solved with the others on it, but those that are
/// alike are solved as one. So the work for a gate at most doubles from a register to one four times as long; without it,
/// twice the register had been five times the work.
#[test]
fn a_net_that_drives_half_of_the_machine_takes_work_in_proportion() {
    let (names, _, small) = named(&register(24));
    assert!(names.is_empty(), "{names:?}");
    let (names, _, large) = named(&register(96));
    assert!(names.is_empty(), "{names:?}");
    assert!(large <= 8 * small, "{small} and {large}");
}

/// A ring of gates that say nothing has as many states as there are numbers of that many bits: it is not opened, and
/// stands under what was not checked.
#[test]
fn a_ring_with_too_many_states_is_not_opened() {
    let units: String = (0..11)
        .map(|unit| {
            format!(
                "unit G{unit} mute: a n{}, b lower, y n{unit}\n",
                (unit + 10) % 11
            )
        })
        .collect();
    let (_, not_checked, _) = named(&format!("{GATES}{units}"));
    assert!(
        not_checked.iter().any(|line| line.starts_with("1 ring ")),
        "{not_checked:?}"
    );
}

/// A circuit whose rows times parts are beyond the bound is named and not solved.
#[test]
fn a_circuit_beyond_the_bound_is_named() {
    let inputs: Vec<String> = (0..100).map(|input| format!("i{input}")).collect();
    let resistors: String = inputs
        .iter()
        .enumerate()
        .map(|(part, input)| format!("    resistor R{} 1M 5% {input} to g1\n", part + 9))
        .collect();
    let text = format!(
        "{GATES}circuit wide\n    inputs {}, output y\n    y = not ({})\n{resistors}    resistor R1 82k 5% upper to y\n    tube V1 half 6922: plate y, grid g1, cathode ground\n",
        inputs.join(" "),
        inputs.join(" or ")
    );
    let (names, _, _) = named(&text);
    assert!(names.contains(&"not-judged"), "{names:?}");
}
