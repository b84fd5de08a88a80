//! Corners of the rails: each rail at the bottom or at the top of its tolerance.

use crate::plan::{NetIndex, Plan};
use design::model::Design;

/// With more rails than this that have a tolerance and feed circuits, not every corner is tried: all low, all high, and each
/// alone low and alone high. Chosen: 32 corners.
const ALL_CORNERS_UP_TO: usize = 5;

/// Where every rail stands.
#[derive(Debug, Clone, PartialEq)]
pub struct RailCorner {
    /// Volts of every rail, in the order of the design.
    pub volts: Vec<f64>,
    /// −1 for a rail at the bottom of its tolerance, 1 at the top, 0 at its book value.
    pub sides: Vec<i8>,
}

impl RailCorner {
    fn new(design: &Design, sides: Vec<i8>) -> Self {
        let rails = design.rails.iter().zip(&sides);
        let volts = rails
            .map(|(rail, &side)| rail.volts * (1.0 + f64::from(side) * rail.tolerance))
            .collect();
        Self { volts, sides }
    }

    /// Volts of a supply net.
    pub(super) fn supply_volts(&self, plan: &Plan, net: NetIndex) -> f64 {
        plan.supply_volts_with(net, |rail| self.volts[rail.0])
    }
}

/// The corners, the book values first; and whether they are all.
pub(super) fn rail_corners(plan: &Plan) -> (Vec<RailCorner>, bool) {
    let design = plan.design;
    let feeds = plan.feeding_rails();
    let moving: Vec<usize> = (0..design.rails.len())
        .filter(|&rail| 0.0 < design.rails[rail].tolerance && feeds[rail])
        .collect();
    let book = vec![0i8; design.rails.len()];
    let with = |moved: &[(usize, i8)]| {
        let mut sides = book.clone();
        for &(rail, side) in moved {
            sides[rail] = side;
        }
        sides
    };
    let mut corners = vec![book.clone()];
    let all = moving.len() <= ALL_CORNERS_UP_TO;
    if moving.is_empty() {
    } else if all {
        for bits in 0..1usize << moving.len() {
            let side = |place: usize| if bits >> place & 1 == 1 { 1 } else { -1 };
            let moved: Vec<(usize, i8)> = moving
                .iter()
                .enumerate()
                .map(|(place, &rail)| (rail, side(place)))
                .collect();
            corners.push(with(&moved));
        }
    } else {
        for side in [-1, 1] {
            let together: Vec<(usize, i8)> = moving.iter().map(|&rail| (rail, side)).collect();
            corners.push(with(&together));
            for &rail in &moving {
                let mut others: Vec<(usize, i8)> = together.clone();
                others.retain(|(other, _)| *other != rail);
                others.push((rail, -side));
                corners.push(with(&others));
            }
        }
    }
    let corners = corners
        .into_iter()
        .map(|sides| RailCorner::new(design, sides))
        .collect();
    (corners, all)
}
