//! Every example of the language page is read: the sound ones, taken together, say nothing, and each of the others says
//! exactly what the page says of it.

use crate::machine::{Folder, library, said};
use design::read::{Reading, read};
use text::diagnostic::render;

const PAGE: &str = include_str!("../../../docs/language.md");

/// A fenced block of the page.
struct Example {
    /// `valve` or `valve-fault`.
    kind: String,
    /// Line of the page where it begins, from 1.
    line: usize,
    /// The last line with words on it above.
    above: String,
    text: String,
}

fn examples() -> Vec<Example> {
    let mut examples: Vec<Example> = Vec::new();
    let mut open = false;
    let mut above = String::new();
    for (line, words) in (1..).zip(PAGE.lines()) {
        match words.strip_prefix("```") {
            Some(_) if open => open = false,
            Some(kind) => {
                open = true;
                examples.push(Example {
                    kind: kind.to_owned(),
                    line,
                    above: above.clone(),
                    text: String::new(),
                });
            }
            None if open => {
                let example = examples.last_mut().expect("one is open");
                example.text += words;
                example.text += "\n";
            }
            None if !words.is_empty() => words.clone_into(&mut above),
            None => {}
        }
    }
    examples
}

/// The sound examples that are wanted, in their order, and perhaps one more.
fn read_page(wanted: fn(&Example) -> bool, more: &str) -> Reading {
    let sound = examples()
        .into_iter()
        .filter(|example| example.kind == "valve" && wanted(example));
    let mut text: String = sound.map(|example| example.text).collect();
    text += more;
    let gates = (
        "circuits/gates.valve".to_owned(),
        "valvewright format 1\n".to_owned(),
    );
    let folder = Folder([gates, ("machine.valve".to_owned(), text)].into());
    read("machine.valve", &folder, library())
}

/// Whether an example is about other things than boards, which would have to carry every unit that is added.
fn without_boards(example: &Example) -> bool {
    !example.text.starts_with("board ")
}

#[test]
fn the_sound_examples_are_one_design_without_a_complaint() {
    let reading = read_page(|_| true, "");
    assert_eq!(
        said(&reading),
        [],
        "{}",
        render(&reading.diagnostics, &reading.sources, false)
    );
    let design = reading.design.expect("nothing is at fault");
    assert_eq!(
        (
            design.name.as_str(),
            design.boards.len(),
            design.strings.len()
        ),
        ("Tidewatch", 2, 5)
    );
}

#[test]
fn every_other_example_gives_what_the_page_says() {
    let mut count = 0;
    for example in examples()
        .iter()
        .filter(|example| example.kind == "valve-fault")
    {
        let reading = read_page(without_boards, &example.text);
        let names: Vec<&str> = reading
            .diagnostics
            .iter()
            .map(|problem| problem.name)
            .collect();
        let drawn = render(&reading.diagnostics, &reading.sources, false);
        assert_eq!(
            names,
            [example.above.trim_matches('`')],
            "line {} of the page\n{drawn}",
            example.line
        );
        count += 1;
    }
    assert!(count >= 10, "only {count} examples of faults were found");
}

#[test]
fn the_page_has_no_example_that_is_not_read() {
    let unknown: Vec<usize> = examples()
        .iter()
        .filter(|example| !matches!(example.kind.as_str(), "valve" | "valve-fault"))
        .map(|example| example.line)
        .collect();
    assert_eq!(unknown, []);
}

#[test]
fn the_page_names_every_reserved_word() {
    let line = PAGE
        .lines()
        .find(|line| line.starts_with("`plate anode"))
        .expect("the page lists them");
    for word in line.trim_matches(['`', '.']).split(' ') {
        let reading = read_page(without_boards, &format!("rail {word} 36V 5%\n"));
        let names: Vec<&str> = reading
            .diagnostics
            .iter()
            .map(|problem| problem.name)
            .collect();
        assert_eq!(names, ["reserved-word"], "{word}");
    }
}
