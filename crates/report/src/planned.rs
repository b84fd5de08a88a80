//! A proposal for heater strings, as text that can go into a design.

use design::model::Design;
use network::planning::{Candidate, Grouping, Link, Placed, Supply, TOLERANCE, string_name};
use text::quantity::show_code;

/// A proposal with the names of everything in it.
#[derive(Debug, Clone)]
pub struct Proposal {
    /// The strings.
    pub grouping: Grouping,
    /// The tubes that they heat.
    pub tubes: Vec<Candidate>,
    /// Type of each tube.
    pub types: Vec<String>,
    /// Name of each group, if they are boards.
    pub groups: Vec<String>,
    /// What feeds them.
    pub supply: Supply,
    /// The rail that they come from.
    pub from: String,
    /// Where they go back to: ground, or the rail that a winding stands on.
    pub to: String,
    /// Tubes whose heater is not known.
    pub unknown: Vec<String>,
}

impl Proposal {
    /// Names of the boards of a design, as groups.
    #[must_use]
    pub fn boards(design: &Design) -> Vec<String> {
        design
            .boards
            .iter()
            .map(|board| board.name.clone())
            .collect()
    }
}

/// Widest line: chosen, as the formatter's.
const WIDTH: usize = 100;

/// The strings as statements of a design, one below the other.
#[must_use]
pub fn statements(proposal: &Proposal) -> String {
    let strings = proposal.grouping.strings.iter().enumerate();
    strings
        .map(|(index, string)| {
            let mut phrases = vec![format!(
                "string {}: from {}",
                string_name(index),
                proposal.from
            )];
            phrases.extend(links(&string.links, &proposal.tubes));
            phrases.push(format!("back to {}", proposal.to));
            broken(&phrases)
        })
        .collect()
}

/// Phrases with a comma between, a new line one level deeper where they would become too wide.
fn broken(phrases: &[String]) -> String {
    let mut lines = vec![String::new()];
    for (index, phrase) in phrases.iter().enumerate() {
        let comma = if index + 1 < phrases.len() { "," } else { "" };
        let line = lines.len() - 1;
        let width = lines[line].chars().count() + phrase.chars().count() + comma.len() + 1;
        if index == 0 {
            lines[line] = format!("{phrase}{comma}");
        } else if width <= WIDTH {
            lines[line] = format!("{} {phrase}{comma}", lines[line]);
        } else {
            lines.push(format!("    {phrase}{comma}"));
        }
    }
    lines.join("\n") + "\n"
}

/// The links as phrases; three and more single heaters whose marks count up are one run.
fn links(links: &[Link], tubes: &[Candidate]) -> Vec<String> {
    let mut phrases = Vec::new();
    let mut place = 0;
    while place < links.len() {
        let run = run(&links[place..], tubes);
        if 2 < run {
            let (first, last) = (&links[place], &links[place + run - 1]);
            let mark = |link: &Link| tubes[link.heaters[0].tube].mark.clone();
            let tapped = if first.heaters[0].tapped {
                " tapped"
            } else {
                ""
            };
            phrases.push(format!("{} to {}{tapped}", mark(first), mark(last)));
            place += run;
        } else {
            phrases.push(link(&links[place], tubes));
            place += 1;
        }
    }
    phrases
}

/// How many links from the first on are single heaters without a shunt, wired alike, with marks that count up.
fn run(links: &[Link], tubes: &[Candidate]) -> usize {
    let single = |link: &Link| match (&link.heaters[..], &link.resistor) {
        ([placed], None) => Some((number(&tubes[placed.tube].mark)?, placed.tapped)),
        _ => None,
    };
    let Some((first, tapped)) = links.first().and_then(single) else {
        return 0;
    };
    let counted = links.iter().zip(first..);
    counted
        .take_while(|(link, number)| single(link) == Some((*number, tapped)))
        .count()
}

/// The number of a mark such as `V7`.
fn number(mark: &str) -> Option<u32> {
    mark.strip_prefix('V')?.parse().ok()
}

/// `V2 beside R91 42 5% 1W`
fn link(link: &Link, tubes: &[Candidate]) -> String {
    let heater = |placed: &Placed| {
        let mark = &tubes[placed.tube].mark;
        let tapped = if placed.tapped { " tapped" } else { "" };
        format!("{mark}{tapped}")
    };
    let resistor = link.resistor.as_ref().map(|resistor| {
        format!(
            "{} {} {}% {}W",
            resistor.mark,
            show_code(resistor.ohms),
            show_code(100.0 * TOLERANCE),
            show_code(resistor.rated_watts)
        )
    });
    let branches: Vec<String> = link.heaters.iter().map(heater).chain(resistor).collect();
    branches.join(" beside ")
}

/// Runs of marks with their types, one to a line: `V1 to V8: 12AU7`.
#[must_use]
pub fn marks_of_types(proposal: &Proposal) -> Vec<String> {
    let mut lines = Vec::new();
    let mut first = 0;
    for index in 1..=proposal.types.len() {
        if proposal.types.get(index) != proposal.types.get(first) {
            let (from, to) = (&proposal.tubes[first].mark, &proposal.tubes[index - 1].mark);
            let marks = if from == to {
                from.clone()
            } else {
                format!("{from} to {to}")
            };
            lines.push(format!("{marks}: {}", proposal.types[first]));
            first = index;
        }
    }
    lines
}
