//! The safety sheet: one page for the wall beside the machine.

use super::{Edition, block_table};
use crate::page::{Block, Page, Section};
use crate::sentence;
use crate::table::Table;
use crate::tables::{self, worded};
use crate::words::Wording;
use design::model::Design;
use network::safety::safety;

/// What can hurt at a machine, on one sheet.
#[must_use]
pub fn safety_page(
    design: &Design,
    touch_volts: f64,
    edition: &Edition,
    wording: Wording,
) -> String {
    let safety = safety(design, touch_volts);
    let to_do = sentence::before_a_hand_goes_in(design, &safety, touch_volts);
    let page = Page {
        one_sheet: true,
        title: format!("{}: before a hand goes in", design.name),
        lead: String::new(),
        sections: vec![
            Section {
                heading: "What to do".to_owned(),
                blocks: vec![
                    Block::List(to_do.iter().map(|said| wording.apply(said)).collect()),
                    Block::Caution(sentence::MEASURES.to_owned()),
                ],
            },
            Section {
                heading: "What stands where".to_owned(),
                blocks: vec![
                    spans_block(worded(tables::spans(&safety), wording)),
                    block_table(tables::stores(design, &safety, touch_volts), wording),
                ],
            },
        ],
        edition: vec![
            edition.line(),
            "Worked out from the text of the design; a supply built otherwise is otherwise."
                .to_owned(),
        ],
    };
    page.to_html()
}

/// With more pairs of rails than this they stand in columns side by side, so that the sheet stays one: chosen.
const PAIRS_IN_ONE_COLUMN: usize = 8;

fn spans_block(spans: Table) -> Block {
    if spans.rows.len() <= PAIRS_IN_ONE_COLUMN {
        Block::Table(spans)
    } else {
        Block::TableInColumns(spans)
    }
}
