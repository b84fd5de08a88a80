//! Outputs that drive nothing with a threshold: their worst levels, and what lies between them.

use super::Case;
use super::levels::CornerLevels;
use crate::judge::{Level, Levels};
use crate::plan::{MemberIndex, NetIndex, Plan};

/// One of the two levels of an output of which nothing asks a level.
#[derive(Debug, Clone, PartialEq)]
pub struct FreeLevel {
    /// The worst over all corners, V: the highest when down, the lowest when up.
    pub volts: f64,
    /// Where the rails stand: an index into [`super::Margins::corners`].
    pub corner: usize,
    /// The worst at each corner.
    pub by_corner: Vec<f64>,
    /// How it comes about.
    pub case: Case,
}

/// An output that drives nothing with a threshold.
#[derive(Debug, Clone, PartialEq)]
pub struct FreeOutput {
    /// The net.
    pub net: NetIndex,
    /// Member and signal that drive it.
    pub driver: (MemberIndex, usize),
    /// When down.
    pub down: FreeLevel,
    /// When up.
    pub up: FreeLevel,
    /// What is left between both at the corner that leaves least, V; nothing or less is no difference any more.
    pub swing: f64,
    /// That corner.
    pub corner: usize,
    /// How both levels come about there, down and up.
    pub cases: [Case; 2],
    /// Between both by the book, V.
    pub book_swing: f64,
}

/// Worst levels of some nets of which nothing asks a level, the smallest swing first. `book` are the levels at book values.
pub(super) fn free_outputs(
    plan: &Plan,
    book: &Levels,
    nets: impl Iterator<Item = NetIndex>,
    levels: &[CornerLevels],
) -> Vec<FreeOutput> {
    let mut all: Vec<FreeOutput> = nets
        .filter_map(|net| free_output(plan, *book.get(&net)?, net, levels))
        .collect();
    all.sort_by(|left, right| {
        let swings = left.swing.total_cmp(&right.swing);
        swings.then(left.net.cmp(&right.net))
    });
    all
}

/// `None` where nothing drives it, or a level is not known.
fn free_output(
    plan: &Plan,
    book: Level,
    net: NetIndex,
    levels: &[CornerLevels],
) -> Option<FreeOutput> {
    let &driver = plan.drivers[net].first()?;
    let side = |up: bool| {
        let cases = levels.iter().map(|corner| corner.cases.get(&(net, up)));
        let cases: Vec<_> = cases.collect::<Option<_>>()?;
        let by_corner: Vec<f64> = cases.iter().map(|worst| worst.volts).collect();
        let corner = (0..cases.len()).max_by(|&left, &right| {
            let order = by_corner[left].total_cmp(&by_corner[right]);
            if up { order.reverse() } else { order }
        })?;
        Some(FreeLevel {
            volts: by_corner[corner],
            corner,
            case: cases[corner].case.clone(),
            by_corner,
        })
    };
    let (down, up) = (side(false)?, side(true)?);
    let swings: Vec<f64> = up
        .by_corner
        .iter()
        .zip(&down.by_corner)
        .map(|(up, down)| up - down)
        .collect();
    let corner =
        (0..swings.len()).min_by(|&left, &right| swings[left].total_cmp(&swings[right]))?;
    Some(FreeOutput {
        net,
        driver,
        down,
        up,
        swing: swings[corner],
        corner,
        cases: [false, true].map(|up| levels[corner].cases[&(net, up)].case.clone()),
        book_swing: book.up - book.down,
    })
}
