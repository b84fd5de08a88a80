//! Levels of every driven net against what the gates on it ask for.

use super::{block_table, figure};
use crate::chart::levels::{LevelColumn, levels};
use crate::page::{Block, Section};
use crate::tables;
use crate::words::Wording;
use network::connections::Connection;
use network::plan::NetIndex;
use network::verdict::Verdict;
use std::collections::BTreeMap;

/// Nets drawn at most, those with least to spare; all are in the table.
const MOST_NETS: usize = 48;

pub(super) fn section(verdict: &Verdict, wording: Wording) -> Section {
    let mut nets = driven(verdict);
    nets.sort_by(|left, right| left.0.total_cmp(&right.0));
    let unseen = nets.len().saturating_sub(MOST_NETS);
    let columns: Vec<LevelColumn> = nets.into_iter().take(MOST_NETS).map(|net| net.1).collect();
    let mut blocks = Vec::new();
    if 0 < unseen {
        blocks.push(Block::Paragraph(format!(
            "Drawn are the {MOST_NETS} nets with least to spare; {unseen} more are in the table."
        )));
    }
    let caption = "Levels of the nets, least to spare first: down levels dark, up levels light, dashed what the gates driven ask for. Levels outside the dashed lines pass.";
    blocks.push(figure(
        caption.to_owned(),
        "A volt scale with a column for every net.".to_owned(),
        |width| levels(&columns, width),
    ));
    blocks.push(block_table(tables::connections(verdict, None), wording));
    Section {
        heading: "Levels of the chain".to_owned(),
        blocks,
    }
}

/// Every driven net with its smallest margin (infinite where nothing is judged) and its column.
fn driven(verdict: &Verdict) -> Vec<(f64, LevelColumn)> {
    let mut by_net: BTreeMap<NetIndex, Vec<&Connection>> = BTreeMap::new();
    for connection in &verdict.connections {
        by_net.entry(connection.net).or_default().push(connection);
    }
    by_net
        .into_iter()
        .map(|(net, connections)| {
            let thresholds = || {
                connections
                    .iter()
                    .filter_map(|connection| connection.thresholds)
            };
            let spares = connections
                .iter()
                .flat_map(|connection| [connection.spare_down(), connection.spare_up()]);
            let least = spares.flatten().fold(f64::INFINITY, f64::min);
            let (down, up) = ranges(verdict, connections[0]);
            let column = LevelColumn {
                name: verdict.plan.nets[net].name.clone(),
                down,
                up,
                must_be_below: thresholds().map(|pair| pair.low).reduce(f64::min),
                must_be_above: thresholds().map(|pair| pair.high).reduce(f64::max),
            };
            (least, column)
        })
        .collect()
}

/// Lowest and highest volts over all rows of the driver, down and up; the worst level alone where a switch drives.
fn ranges(verdict: &Verdict, connection: &Connection) -> ((f64, f64), (f64, f64)) {
    let level = connection.level;
    let (mut down, mut up) = ((level.down, level.down), (level.up, level.up));
    if let Some((member, signal)) = connection.driver {
        let inputs = verdict.plan.circuit(member).interface.inputs;
        for row in verdict.place.results[member]
            .rows
            .iter()
            .filter(|row| row.outcome.settled())
        {
            let volts = row.volts[signal];
            match row.row.outputs.get(signal - inputs).copied().flatten() {
                Some(true) => up = (up.0.min(volts), up.1.max(volts)),
                Some(false) => down = (down.0.min(volts), down.1.max(volts)),
                None => {}
            }
        }
    }
    (down, up)
}
