//! Finding room for labels: each goes to the best free place near what it names.

use crate::draw::width::{text_width, wrapped};
use crate::draw::{Anchor, Area, DROP, Fill, Item, Point, RISE, Stroke, Text, point};

/// Line pitch as a share of the size of type.
pub(crate) const PITCH: f64 = 1.2;

/// A label: a few lines of text that stay together.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Label {
    pub(crate) lines: Vec<String>,
    pub(crate) size: f64,
    pub(crate) bold: bool,
}

impl Label {
    /// Breaks the text so that it is no wider than `limit` millimetres.
    pub(crate) fn new(content: &str, size: f64, limit: f64) -> Label {
        Label {
            lines: wrapped(content, size, false, limit),
            size,
            bold: false,
        }
    }

    pub(crate) fn in_bold(content: &str, size: f64, limit: f64) -> Label {
        Label {
            lines: wrapped(content, size, true, limit),
            size,
            bold: true,
        }
    }

    /// Breaks the text between words only, to `limit` where they allow it.
    pub(crate) fn whole_words(content: &str, size: f64, limit: f64) -> Label {
        let words = content
            .split_whitespace()
            .map(|word| text_width(word, size, false));
        Label::new(content, size, words.fold(limit, f64::max))
    }

    pub(crate) fn width(&self) -> f64 {
        let widths = self
            .lines
            .iter()
            .map(|line| text_width(line, self.size, self.bold));
        widths.fold(0.0, f64::max)
    }

    pub(crate) fn height(&self) -> f64 {
        let further_lines = self.lines.len().saturating_sub(1) as f64;
        (further_lines * PITCH + RISE + DROP) * self.size
    }

    /// The label's texts with its upper left corner at `corner`.
    pub(crate) fn items(&self, corner: Point) -> impl Iterator<Item = Item> {
        self.lines.iter().enumerate().map(move |(idx, line)| {
            let base = corner.y + (RISE + idx as f64 * PITCH) * self.size;
            let mut text = Text::new(point(corner.x, base), line.as_str(), self.size)
                .anchored(Anchor::Start)
                .with_rim();
            text.bold = self.bold;
            Item::Text(text)
        })
    }
}

/// What is taken already and what a label had better not cover.
#[derive(Debug, Clone)]
pub(crate) struct Places {
    /// Labels stay inside.
    pub(crate) sheet: Area,
    /// Boxes of texts: never covered.
    pub(crate) taken: Vec<Area>,
    /// Points along curves and on markers: covered only when nothing else is free.
    pub(crate) obstacles: Vec<Point>,
    /// Hatched regions: a label on one gets a white box below it.
    pub(crate) hatched: Vec<Area>,
}

impl Places {
    /// Takes the best of the corners (upper left ones, dearest first) and keeps it; `None` when none is free.
    pub(crate) fn take(&mut self, label: &Label, corners: &[Point]) -> Option<Area> {
        /// What one covered obstacle is worth, in places of the order of preference.
        const COVERED: f64 = 30.0;
        let mut best: Option<(f64, Area)> = None;
        for (rank, corner) in corners.iter().enumerate() {
            let area = Area {
                x: corner.x,
                y: corner.y,
                width: label.width(),
                height: label.height(),
            };
            // Texts closer than this would read as one.
            let near = area.grown(1.0);
            if !self.sheet.holds(&area) || self.taken.iter().any(|taken| taken.overlaps(&near)) {
                continue;
            }
            let edge = area.grown(0.4);
            let n_covered = self
                .obstacles
                .iter()
                .filter(|at| edge.contains(**at))
                .count();
            let price = rank as f64 + COVERED * n_covered as f64;
            if best.is_none_or(|(least, _)| price < least) {
                best = Some((price, area));
            }
        }
        let (_, area) = best?;
        self.taken.push(area);
        Some(area)
    }

    /// The texts of a label on the place it took, readable whatever lies below.
    pub(crate) fn written(&self, label: &Label, area: &Area) -> Vec<Item> {
        let backed = self.hatched.iter().any(|hatched| hatched.overlaps(area));
        let backing = Item::Rectangle {
            area: area.grown(0.5),
            stroke: None,
            fill: Fill::Paper,
        };
        let backing = backed.then_some(backing);
        backing
            .into_iter()
            .chain(label.items(point(area.x, area.y)))
            .collect()
    }
}

/// Corners round a point: right, left, above, below and the diagonals first, then wider rings, `n_rings` in all.
pub(crate) fn corners_around(at: Point, label: &Label, gap: f64, n_rings: u32) -> Vec<Point> {
    let (width, height) = (label.width(), label.height());
    let centred = point(at.x - width / 2.0, at.y - height / 2.0);
    let mut corners = Vec::new();
    for ring in 0..n_rings {
        let gap = gap + 3.0 * f64::from(ring);
        let (right, left) = (at.x + gap, at.x - gap - width);
        let (above, below) = (at.y - gap - height, at.y + gap);
        corners.extend([
            point(right, centred.y),
            point(right, above + 0.5 * gap),
            point(right, below - 0.5 * gap),
            point(left, centred.y),
            point(centred.x, above),
            point(centred.x, below),
            point(left, above + 0.5 * gap),
            point(left, below - 0.5 * gap),
        ]);
    }
    corners
}

/// A thin line from a label to the nearest point of what it names, when that is further than `reach` millimetres.
pub(crate) fn leader(area: &Area, named: &[Point], reach: f64) -> Option<Item> {
    let edge = |at: &Point| {
        point(
            at.x.clamp(area.x, area.right()),
            at.y.clamp(area.y, area.bottom()),
        )
    };
    let apart = |at: &Point| (edge(at).x - at.x).hypot(edge(at).y - at.y);
    let nearest = named
        .iter()
        .min_by(|one, other| apart(one).total_cmp(&apart(other)))?;
    let line = Item::Line {
        from: edge(nearest),
        to: *nearest,
        stroke: Stroke::FAINT,
    };
    (apart(nearest) > reach).then_some(line)
}

/// Moves wanted middles apart along one direction, as little as a simple sweep can, so that boxes of the given
/// heights do not overlap and stay between `low` and `high` (if together they fit).
/// `wanted` is in ascending order; each entry is middle and height.
pub(crate) fn spread(wanted: &[(f64, f64)], low: f64, high: f64) -> Vec<f64> {
    let mut middles: Vec<f64> = wanted.iter().map(|(middle, _)| *middle).collect();
    let mut edge = low;
    for (middle, (_, height)) in middles.iter_mut().zip(wanted) {
        *middle = middle.max(edge + height / 2.0);
        edge = *middle + height / 2.0;
    }
    let mut edge = high;
    for (middle, (_, height)) in middles.iter_mut().zip(wanted).rev() {
        *middle = middle.min(edge - height / 2.0);
        edge = *middle - height / 2.0;
    }
    middles
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spread_boxes_keep_their_order_and_stay_inside() {
        let wanted = [
            (1.0, 4.0),
            (2.0, 4.0),
            (30.0, 4.0),
            (39.5, 4.0),
            (39.8, 4.0),
        ];
        let middles = spread(&wanted, 0.0, 40.0);
        assert_eq!(middles, [2.0, 6.0, 30.0, 34.0, 38.0]);
    }

    #[test]
    fn labels_of_one_point_share_the_room_round_it_until_it_is_full() {
        let sheet = Area {
            x: 0.0,
            y: 0.0,
            width: 40.0,
            height: 30.0,
        };
        let mut places = Places {
            sheet,
            taken: Vec::new(),
            obstacles: Vec::new(),
            hatched: Vec::new(),
        };
        let label = Label::new("operating point", 3.0, 12.0);
        let corners = corners_around(point(20.0, 15.0), &label, 1.5, 9);
        let areas: Vec<Area> = std::iter::from_fn(|| places.take(&label, &corners)).collect();
        assert!(areas.len() >= 4, "{areas:?}");
        for (idx, area) in areas.iter().enumerate() {
            assert!(sheet.holds(area));
            assert!(areas[idx + 1..].iter().all(|other| !area.overlaps(other)));
        }
    }

    #[test]
    fn a_free_place_is_preferred_to_one_on_a_curve() {
        let sheet = Area {
            x: 0.0,
            y: 0.0,
            width: 60.0,
            height: 30.0,
        };
        let obstacles = (0..40)
            .map(|step| point(20.0 + f64::from(step), 15.0))
            .collect();
        let mut places = Places {
            sheet,
            taken: Vec::new(),
            obstacles,
            hatched: Vec::new(),
        };
        let label = Label::new("knee", 3.0, 12.0);
        let corners = corners_around(point(20.0, 15.0), &label, 1.5, 9);
        let area = places
            .take(&label, &corners)
            .expect("the sheet is nearly empty");
        assert!(
            area.bottom() < 15.0 || area.y > 15.0 || area.right() < 20.0,
            "{area:?}"
        );
    }
}
