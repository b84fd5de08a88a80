//! How many of a hundred units work, as a table.

use super::{number, numbers, text, words};
use crate::table::{Cell, Mark, Table};
use crate::yields::Drawn;
use network::margins::tallies::Tally;
use network::verdict::Verdict;
use text::quantity::counted;

/// Every unit drawn, the worst first, those that stand alike in one line; of those that failed, how.
#[must_use]
pub fn yields(verdict: &Verdict, drawn: &Drawn) -> Table {
    // Where all work there is nothing to tell apart.
    let some_failed = drawn.anything_failed();
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
        if some_failed {
            let failed = [all.short, all.state_lost, all.no_rest, all.part_wrong];
            cells.extend(failed.map(|count| number(f64::from(count), 0)));
        }
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
    if some_failed {
        let failed = ["level short", "state lost", "not at rest", "part wrong"];
        columns.extend(failed.map(|how| numbers(how, "")));
    }
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
