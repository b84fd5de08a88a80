//! Margins in the worst case on a terminal.

use super::Terminal;
use super::results::{said, written};
use crate::margins::{Standing, Whose};
use crate::{sentence, tables};
use network::margins::Margins;
use network::verdict::Verdict;

/// Margins in the worst case: of every driver, or of those of a circuit; of one unit in detail, with every corner of the
/// rails and what each part does.
#[must_use]
pub fn margins(verdict: &Verdict, margins: &Margins, whose: Whose, terminal: &Terminal) -> String {
    let Some(&worst) = whose.connections(verdict, margins).first() else {
        let mut all = vec![
            "Nothing here is driven that has a threshold in the worst case: no margin to show."
                .to_owned(),
        ];
        all.extend(sentence::about_margins(verdict, margins));
        return said(&all, terminal);
    };
    let mut tables = tables::margins(verdict, margins, whose).to_vec();
    if let Whose::Unit(unit) = whose {
        tables.push(tables::corners(verdict, margins, unit));
    }
    let standing = Standing::smallest(worst);
    tables.push(tables::sensitivities(verdict, margins, &standing));
    let mends = sentence::what_mends(verdict, &standing);
    format!(
        "{}\n{}\n{}\n{}",
        written(tables, terminal),
        said(&[mends], terminal),
        written(vec![tables::varied(verdict, margins)], terminal),
        said(&sentence::about_margins(verdict, margins), terminal)
    )
}
