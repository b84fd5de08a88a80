//! Text that nobody would write does no harm: nothing panics, nothing takes long.

use crate::machine::{BASE, Folder, SOUND, read_files, read_text};
use design::read::{Reading, read};
use devices::library::Library;
use proptest::prelude::*;
use std::time::{Duration, Instant};
use text::source::Sources;

/// A reading is whole: a design exists exactly where nothing is at fault, and every place lies in its file.
pub(crate) fn check_whole(reading: &Reading) {
    assert_eq!(reading.design.is_none(), reading.faults() > 0);
    for problem in &reading.diagnostics {
        assert!(
            !problem.message.is_empty() && !problem.remedies.is_empty(),
            "{problem:?}"
        );
        for span in problem
            .span
            .iter()
            .chain(problem.related.iter().map(|(span, _)| span))
        {
            let _ = reading.sources.slice(*span);
        }
    }
    if let Some(design) = &reading.design {
        check_indices(design);
    }
}

/// Every index in a design points at something.
fn check_indices(design: &design::model::Design) {
    for unit in &design.units {
        let circuit = &design.circuits[unit.circuit.0];
        assert_eq!(unit.nets.len(), circuit.interface.signals.len());
        assert!(unit.nets.iter().all(|net| net.0 < design.nets.len()));
        assert!(unit.places.is_empty() || unit.places.len() == circuit.tubes().count());
    }
    for (index, socket) in design.sockets.iter().enumerate() {
        for (unit, tube) in socket.halves.iter().flatten() {
            assert_eq!(design.units[unit.0].places[*tube].socket.0, index);
        }
    }
}

#[test]
fn a_file_cut_off_anywhere() {
    for end in (0..=SOUND.len()).filter(|end| SOUND.is_char_boundary(*end)) {
        check_whole(&read_text(&SOUND[..end]));
    }
}

/// One change to the words or lines of a text.
#[derive(Debug, Clone)]
enum Change {
    DropWord(usize),
    DoubleWord(usize),
    SwapWords(usize, usize),
    DropLine(usize),
    DoubleLine(usize),
    SwapLines(usize, usize),
    Indent(usize, usize),
}

fn change() -> impl Strategy<Value = Change> {
    let any = any::<usize>;
    prop_oneof![
        any().prop_map(Change::DropWord),
        any().prop_map(Change::DoubleWord),
        (any(), any()).prop_map(|(a, b)| Change::SwapWords(a, b)),
        any().prop_map(Change::DropLine),
        any().prop_map(Change::DoubleLine),
        (any(), any()).prop_map(|(a, b)| Change::SwapLines(a, b)),
        (any(), 0usize..9).prop_map(|(line, spaces)| Change::Indent(line, spaces)),
    ]
}

fn apply(text: &str, change: &Change) -> String {
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    let mut words: Vec<String> = text
        .split_inclusive([' ', '\n', ',', ':'])
        .map(str::to_owned)
        .collect();
    if lines.is_empty() || words.is_empty() {
        return text.to_owned();
    }
    let (line_count, word_count) = (lines.len(), words.len());
    match *change {
        Change::DropWord(at) => drop(words.remove(at % word_count)),
        Change::DoubleWord(at) => words.insert(at % word_count, words[at % word_count].clone()),
        Change::SwapWords(a, b) => words.swap(a % word_count, b % word_count),
        Change::DropLine(at) => drop(lines.remove(at % line_count)),
        Change::DoubleLine(at) => lines.insert(at % line_count, lines[at % line_count].clone()),
        Change::SwapLines(a, b) => lines.swap(a % line_count, b % line_count),
        Change::Indent(at, spaces) => {
            lines[at % line_count] = format!(
                "{}{}",
                " ".repeat(spaces),
                lines[at % line_count].trim_start()
            )
        }
    }
    match change {
        Change::DropWord(_) | Change::DoubleWord(_) | Change::SwapWords(..) => words.concat(),
        _ => lines.join("\n"),
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1500, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_sound_design_with_words_and_lines_lost_doubled_and_swapped(changes in prop::collection::vec(change(), 1..6)) {
        let text = changes.iter().fold(SOUND.to_owned(), |text, change| apply(&text, change));
        check_whole(&read_text(&text));
    }

    #[test]
    fn a_sound_design_with_characters_replaced(changes in prop::collection::vec((any::<usize>(), any::<char>()), 1..6)) {
        let mut characters: Vec<char> = SOUND.chars().collect();
        for (at, new) in changes {
            let count = characters.len();
            characters[at % count] = new;
        }
        check_whole(&read_text(&characters.into_iter().collect::<String>()));
    }

    #[test]
    fn words_of_the_language_in_any_order(picks in prop::collection::vec((any::<usize>(), 0usize..6), 0..120)) {
        let words: Vec<&str> = SOUND.split_whitespace().collect();
        let gaps = [" ", " ", ", ", ": ", "\n", "\n    "];
        let text: String = picks.iter().map(|(word, gap)| format!("{}{}", words[word % words.len()], gaps[*gap])).collect();
        check_whole(&read_text(&text));
    }
}

/// Longest time for ten megabytes, in a debug build on a shared machine; a search that grows with the square of the
/// text would take hours.
const LONGEST: Duration = Duration::from_secs(60);

#[track_caller]
fn check_large(line: impl Fn(usize) -> String) {
    const SIZE: usize = 10_000_000;
    let mut text = format!("{BASE}\n");
    for index in 0.. {
        text += &line(index);
        if text.len() > SIZE {
            break;
        }
    }
    let begun = Instant::now();
    check_whole(&read_text(&text));
    assert!(begun.elapsed() < LONGEST, "took {:?}", begun.elapsed());
}

#[test]
fn ten_megabytes_of_one_mistake() {
    check_large(|_| "nonsense on a line ".to_owned());
    check_large(|index| format!("nonsense{index} on a line\n"));
    check_large(|index| format!("unit G{index} nor{index}: a x{index}, y z{index}\n"));
}

#[test]
fn ten_megabytes_of_one_thing() {
    check_large(|index| format!("rail r{index} 36V 5%\n"));
    check_large(|index| format!("unit G{index} inv: a x{index}, y x{}\n", index + 1));
    check_large(|index| {
        format!("circuit c{index}\n    inputs a, output y\n    resistors 5%: R1 1M a to y\n")
    });
    check_large(|index| {
        format!(
            "block b{index}\n    inputs d, output q\n    unit A b{}: d d, q q\n",
            index + 1
        )
    });
    check_large(|index| {
        if index == 0 {
            "circuit c\n    inputs".to_owned()
        } else {
            format!(" a{index}")
        }
    });
    check_large(|index| {
        if index == 0 {
            "circuit c\n".to_owned()
        } else {
            format!("    resistors 5%: R{index} 1M a{index} to a{}\n", index + 1)
        }
    });
    check_large(|index| {
        if index == 0 {
            "circuit c\n    inputs a, output y\n    y = a".to_owned()
        } else {
            " or ( not a".to_owned()
        }
    });
    check_large(|index| {
        if index == 0 {
            "unit G1 inv in V1A: a upper, y open\nboard b\n".to_owned()
        } else {
            "    carries G1 to G9999\n".to_owned()
        }
    });
    check_large(|index| {
        if index == 0 {
            "unit G1 inv in V1A: a upper, y open\nstring H: from heat".to_owned()
        } else {
            format!(", V{index}")
        }
    });
    check_large(|index| {
        if index == 0 {
            "unit G1 inv in V1A: a upper, y n\nbench\n".to_owned()
        } else {
            "    switches: n upper or ground\n    loads: n 1k to ground\n".to_owned()
        }
    });
}

/// A machine of four hundred tubes: stages of four latches of two tubes each, and gates between them.
fn large_machine() -> String {
    let latch = &SOUND[SOUND.find("block latch").expect("it is there")
        ..SOUND.find("block pair").expect("it is there")];
    let mut text = format!("{BASE}\n{latch}\n");
    for stage in 0..40 {
        let (tube, gate) = (stage * 10 + 1, stage * 10 + 9);
        text += &format!(
            "units row{stage} 1 to 4, latch, from V{tube}\n    each: d n{stage}, q n{}\n    all: write shift\n    qn open\n",
            stage + 1
        );
        text += &format!(
            "units mix{stage} 1 to 4, nor2, from V{gate}\n    each: a n{stage}, b n{}\n    y open\n",
            stage + 1
        );
        text += &format!(
            "string H{stage}: from heat, V{tube} to V{}, back to ground\n",
            tube + 9
        );
        text += &format!(
            "board b{stage}\n    carries row{stage}, mix{stage}\n    connector J1: 1 shift"
        );
        (1..=4).for_each(|bit| {
            text += &format!(
                ", {} n{stage}.{bit}, {} n{}.{bit}",
                bit + 1,
                bit + 5,
                stage + 1
            )
        });
        text += "\n";
    }
    text + "bench\n    switches: n0.1 to n0.4 upper or ground through 10k, shift upper or ground\n    loads: n40.1 to n40.4 150k to ground\n"
}

#[test]
fn a_machine_of_four_hundred_tubes_is_read_at_once() {
    let text = large_machine();
    let begun = Instant::now();
    let reading = read_text(&text);
    let took = begun.elapsed();
    assert_eq!(crate::machine::said(&reading), []);
    assert_eq!(
        reading
            .design
            .map(|design| (design.units.len(), design.sockets.len())),
        Some((800, 400))
    );
    assert!(
        took < Duration::from_secs(1),
        "took {took:?}, and is to take less than 50 ms in a release build"
    );
}

/// A folder in which every file includes the next.
struct Endless;

impl Sources for Endless {
    fn read(&self, name: &str) -> Result<String, String> {
        let number: usize = name.parse().map_err(|_| "no such file".to_owned())?;
        Ok(format!("valvewright format 1\ninclude {}", number + 1))
    }
}

#[test]
fn includes_without_end() {
    let reading = read("0", &Endless, Library::default());
    let names: Vec<&str> = reading
        .diagnostics
        .iter()
        .map(|problem| problem.name)
        .collect();
    assert_eq!(names, ["too-many-files"]);
}

#[test]
fn a_first_file_that_cannot_be_read() {
    let reading = read_files(&[]);
    assert_eq!(reading.faults(), 1);
    assert_eq!(
        (reading.diagnostics[0].name, reading.diagnostics[0].span),
        ("file-unreadable", None)
    );
    let other = read(
        "missing/machine.valve",
        &Folder([].into()),
        Library::default(),
    );
    assert!(
        other.diagnostics[0]
            .message
            .contains("missing/machine.valve")
    );
}
