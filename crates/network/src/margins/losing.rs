//! Stored states that slopes do not lead to the loss of: as long as a tube is quite cut off, its parts do nothing to what it holds.

use super::corners::RailCorner;
use super::levels::{
    CornerLevels, LevelRow, Lost, Source, all_rows, driven, held, middles, rests, surroundings,
    watches_of,
};
use super::stand::{Group, Reading, Stand};
use super::thresholds::CornerThresholds;
use super::{Case, Moved, Search, moved_with};
use crate::judge::MemberResult;
use crate::plan::NetIndex;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Corners that are tried of the bands of what stores: chosen, eight groups of eight.
const STREWN: u32 = 64;
/// Dimensions of one sequence.
const DIMENSIONS: usize = 256;

/// Corners of a box, strewn evenly.
pub(super) fn strewn(dimensions: usize) -> Vec<Vec<f64>> {
    let side = |number: u32, dimension: usize| {
        let (place, seed) = (dimension % DIMENSIONS, dimension / DIMENSIONS);
        let share = sobol_burley::sample(number, place as u32, seed as u32);
        if share < 0.5 { -1.0 } else { 1.0 }
    };
    (0..STREWN)
        .map(|number| {
            (0..dimensions)
                .map(|dimension| side(number, dimension))
                .collect()
        })
        .collect()
}

/// States of rings that are lost where the worst level of one unit and the worst threshold of the next come together: each is
/// looked for by itself, and as long as a tube is quite cut off its parts do nothing to the level before it.
pub(super) fn lose_in_rings(
    search: &Search,
    results: &[&MemberResult],
    corners: &[RailCorner],
    levels: &mut [CornerLevels],
    thresholds: &[CornerThresholds],
) {
    let rows = all_rows(search, results);
    for (corner, (levels, thresholds)) in levels.iter_mut().zip(thresholds).enumerate() {
        let lost: Vec<Lost> = (0..search.rings.len())
            .into_par_iter()
            .filter_map(|ring| {
                lose_in_ring(
                    search,
                    ring,
                    &rows[&Source::Ring(ring)],
                    &corners[corner],
                    levels,
                    thresholds,
                )
            })
            .collect();
        for lost in lost {
            if levels
                .lost
                .iter()
                .all(|known| known.members != lost.members)
            {
                levels.lost.push(lost);
            }
        }
    }
}

fn lose_in_ring(
    search: &Search,
    ring: usize,
    rows: &[LevelRow],
    corner: &RailCorner,
    levels: &CornerLevels,
    thresholds: &CornerThresholds,
) -> Option<Lost> {
    let plan = search.plan;
    let members = &search.rings[ring].members;
    // By net and value what makes the level and the threshold behind it meet, where they do.
    let mut meeting: BTreeMap<(NetIndex, bool), Vec<&Moved>> = BTreeMap::new();
    for net in driven(search, Source::Ring(ring)) {
        let inside = plan.loads[net]
            .iter()
            .filter(|load| members.contains(&load.0));
        for (load, up) in inside.flat_map(|load| [(load, false), (load, true)]) {
            let (Some(level), Some(threshold)) =
                (levels.cases.get(&(net, up)), thresholds.get(load))
            else {
                continue;
            };
            let (short, case) = if up {
                (level.volts < threshold.high, &threshold.high_case)
            } else {
                (threshold.low < level.volts, &threshold.low_case)
            };
            if short {
                let both = level.case.moved.iter().chain(&case.moved);
                meeting.entry((net, up)).or_default().extend(both);
            }
        }
    }
    if meeting.is_empty() {
        return None;
    }
    let source = Source::Ring(ring);
    let around = surroundings(search, source);
    let held = held(search, source, &around);
    let group = Group {
        members: &around.copies(),
        held: &held,
    };
    let mut stand = Stand::new(plan, &group, corner, search.varied, search.context)?;
    let rests = rests(search, &mut stand, source, rows, corner, &levels.levels);
    let middles = middles(&stand, rows, &rests, search.levels);
    for (row, rest) in rows.iter().zip(rests) {
        let Some(mut rest) = rest else { continue };
        stand.feed(plan, corner, &row.values, &levels.levels);
        let own: Vec<&Vec<&Moved>> = row
            .outputs
            .iter()
            .filter_map(|output| meeting.get(output))
            .collect();
        let mut tried: Vec<Vec<f64>> = own.iter().map(|moved| stand.settings_of(moved)).collect();
        tried.push(stand.settings_of(&own.into_iter().flatten().copied().collect::<Vec<_>>()));
        let watches = watches_of(&stand, row, &middles);
        let Some(watch) = watches.first() else {
            continue;
        };
        let reading = Reading::of_node(watch.node, false);
        if let Some(lost) = stand.lost_among(&tried, reading, &mut rest, &watches) {
            let settings = stand.needed(reading, &mut rest, &watches, lost);
            let effects = vec![0.0; settings.len()];
            return Some(Lost {
                members: members.clone(),
                values: row.values.clone(),
                case: Case {
                    inputs: row.inputs.clone(),
                    others: row.others,
                    moved: moved_with(&stand.factors, &settings, &effects),
                },
            });
        }
    }
    None
}
