//! The sheet of a tube type on a terminal.

use super::Terminal;
use super::paragraph::{hanging, paragraph};
use crate::sheet;
use crate::table::Table;
use crate::tables::worded;
use devices::types::TubeType;

/// Data with sources, pins, what the type does at low plate volts, and its points against its law.
#[must_use]
pub fn type_sheet(tube: &TubeType, terminal: &Terminal) -> String {
    let say = |text: &str| paragraph(&terminal.wording.apply(text), 0, terminal.width);
    let write = |table: Table| {
        if table.rows.is_empty() {
            return String::new();
        }
        worded(table, terminal.wording).to_text(terminal.width, terminal.plain) + "\n"
    };
    let mut out = write(sheet::data(tube));
    if let Some(base) = &tube.base {
        out.push_str(&write(sheet::pins(base)));
    }
    out.push_str(&write(sheet::points(tube)));
    if tube.law.is_none() {
        out.push_str(&say(
            "No curve is known for this type: nothing can be computed with it.",
        ));
    } else {
        out.push_str(&write(sheet::low_volts_table(tube)));
        out.push_str(&say(&sheet::extrapolation(tube)));
    }
    out.push_str("\nTo measure on the bench, to be sure:\n");
    for text in sheet::to_measure(tube) {
        out.push_str(&hanging(
            "- ",
            &terminal.wording.apply(&text),
            2,
            terminal.width,
        ));
    }
    out.push('\n');
    if tube.law.is_some() {
        out.push_str(&write(sheet::fit_table(tube)));
        out.push_str(&format!("{}\n\n", sheet::parameters(tube)));
    }
    for remark in &tube.remarks {
        out.push_str(&hanging(
            "Remark: ",
            &terminal.wording.apply(remark),
            0,
            terminal.width,
        ));
    }
    for source in sheet::sources(tube) {
        out.push_str(&paragraph(&source, 0, terminal.width));
    }
    out.push_str(&hanging(
        "Caution: ",
        &terminal.wording.apply(sheet::CAUTION),
        0,
        terminal.width,
    ));
    out
}
