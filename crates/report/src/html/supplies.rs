//! Heater strings, heaters and rails.

use super::{block_table, figure};
use crate::page::{Block, Section};
use crate::string_drawing;
use crate::tables;
use crate::words::Wording;
use network::verdict::Verdict;

pub(super) fn section(verdict: &Verdict, wording: Wording) -> Section {
    let design = verdict.plan.design;
    let mut blocks = Vec::new();
    for (index, string) in design.strings.iter().enumerate() {
        let mut caption = format!(
            "String {}: {}",
            string.name,
            string_drawing::current(verdict, index)
        );
        if index == 0 {
            caption = format!("{caption} {}", string_drawing::LEGEND);
        }
        let description = format!(
            "Heaters of string {} in order with the volts at every joint.",
            string.name
        );
        blocks.push(figure(
            wording.apply(&caption),
            wording.apply(&description),
            |width| vec![string_drawing::draw(verdict, index, width)],
        ));
    }
    if !verdict.heaters.readings.is_empty() {
        blocks.push(block_table(tables::heaters(verdict), wording));
    }
    if !design.rails.is_empty() {
        blocks.push(block_table(tables::rails(verdict), wording));
    }
    if design.strings.is_empty() {
        blocks.push(Block::Paragraph("No heater string is typed.".to_owned()));
    }
    Section {
        heading: "Heaters and rails".to_owned(),
        blocks,
    }
}
