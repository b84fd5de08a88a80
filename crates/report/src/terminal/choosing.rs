//! Values that spare the most, and which types serve, on a terminal.

use super::Terminal;
use super::results::{said, written};
use crate::choosing::{Choice, Serving};
use crate::{sentence, tables};

/// Values now and at best, what that spares, and what to type.
#[must_use]
pub fn chosen(choice: &Choice, terminal: &Terminal) -> String {
    let tables = vec![
        tables::chosen_values(choice),
        tables::chosen_margins(choice),
        tables::chosen_takes(choice),
    ];
    let mut out = format!(
        "{}\n{}",
        written(tables, terminal),
        said(&sentence::about_choice(choice), terminal)
    );
    let to_type = choice.lines_to_type();
    if !to_type.is_empty() {
        out.push_str("\nTo take the best values:\n");
        for line in to_type {
            out.push_str(&format!("  {line}\n"));
        }
    }
    out
}

/// Which types serve in a circuit.
#[must_use]
pub fn serves(serving: &Serving, terminal: &Terminal) -> String {
    let mut out = written(vec![tables::serves(serving)], terminal);
    if !out.is_empty() {
        out.push('\n');
    }
    out + &said(&sentence::about_serving(serving), terminal)
}
