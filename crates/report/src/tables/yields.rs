//! How many of a hundred units work, as a table.

use super::{number, numbers, text, words};
use crate::table::{Cell, Mark, Table};
use crate::yields::Drawn;
use network::margins::tallies::{Outcomes, Tally};
use network::verdict::Verdict;
use text::quantity::counted;

/// How many of some samples came to one outcome.
type CountOf = fn(&Outcomes) -> u32;

/// How samples can fail, with how many did.
const WAYS_TO_FAIL: [(&str, CountOf); 4] = [
    ("level short", |all| all.short),
    ("state lost", |all| all.state_lost),
    ("not at rest", |all| all.no_rest),
    ("part wrong", |all| all.part_wrong),
];

/// Every unit drawn, the worst first, those that stand alike in one line; how they failed, where some did.
#[must_use]
pub fn yields(verdict: &Verdict, drawn: &Drawn) -> Table {
    let failed_so = |count: CountOf| {
        let mut all = drawn.tallies.iter().chain([&drawn.machine]);
        all.any(|tally| 0 < count(&tally.all()))
    };
    let ways: Vec<_> = WAYS_TO_FAIL
        .into_iter()
        .filter(|(_, count)| failed_so(*count))
        .collect();
    let line = |name: String, circuit: String, tally: &Tally| {
        let all = tally.all();
        let outcome = match all.samples() - all.works {
            0 => Cell::Mark(Mark::Pass, "all work".to_owned()),
            failed => Cell::Mark(Mark::Fault, format!("{failed} failed")),
        };
        let (low, high) = tally.interval();
        let mut cells = vec![
            text(name),
            text(circuit),
            number(100.0 * tally.share(), 1),
            number(100.0 * low, 1),
            number(100.0 * high, 1),
            outcome,
        ];
        let counts = ways.iter().map(|(_, count)| f64::from(count(&all)));
        cells.extend(counts.map(|count| number(count, 0)));
        cells
    };
    let machine = line(
        "the whole machine".to_owned(),
        String::new(),
        &drawn.machine,
    );
    let rows = drawn.ranked().into_iter().filter_map(|place| {
        let members = drawn.members(place);
        let first = *members.first()?;
        let name = &verdict.plan.members[first].name;
        let name = match members.len() - 1 {
            0 => name.clone(),
            alike => format!("{name}, and {alike} alike"),
        };
        let circuit = verdict.plan.circuit(first).name.clone();
        Some(line(name, circuit, &drawn.tallies[place]))
    });
    let rows = std::iter::once(machine).chain(rows);
    let mut columns = vec![
        words("unit"),
        words("circuit"),
        numbers("of 100 work", ""),
        numbers("at least", ""),
        numbers("at most", ""),
        words("drawn"),
    ];
    columns.extend(ways.iter().map(|(way, _)| numbers(*way, "")));
    Table {
        caption: format!(
            "How many of 100 work, fewest first: {} of the machine, in {}",
            counted(drawn.samples(), "sample"),
            counted(drawn.scrambles(), "scramble")
        ),
        columns,
        rows: rows.collect(),
    }
}
