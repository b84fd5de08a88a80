//! The base of a tube from both sides: pins on a circle, numbered clockwise as seen from below.

use crate::draw::width::{text_width, wrapped};
use crate::draw::{Anchor, Area, Fill, Item, Picture, Point, Stroke, Text, point};
use crate::tables::electrode;
use crate::words::Wording;
use devices::types::Base;

/// From which side the base is seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// From below: the pins, and the solder lugs of a socket.
    Below,
    /// From above: through the glass.
    Above,
}

/// Places on the circle, and where pin 1 stands: the gap between the last pin and the first lies at the bottom.
///
/// Miniature bases leave one place out (7 pins on 8 places, 9 pins on 10), octal and loctal bases have a key between pin 8
/// and pin 1 and no place left out (usual constructions, from memory).
fn places(base: &Base) -> (usize, f64) {
    let last = base.pins.iter().map(|pin| pin.number).max().unwrap_or(0);
    match last {
        8 => (8, 0.5),
        last => (usize::from(last) + 1, 1.0),
    }
}

/// Direction of a pin from the middle, degrees clockwise on the sheet from straight down.
pub(crate) fn direction(base: &Base, number: u8, side: Side) -> f64 {
    let (count, first) = places(base);
    let turned = (f64::from(number) - 1.0 + first) * 360.0 / count as f64;
    match side {
        Side::Below => turned,
        Side::Above => -turned,
    }
}

/// Diameter of the circle that the pins stand on, mm: miniature bases of 7 pins 9.53 and of 9 pins 11.9, octal and loctal
/// bases 17.45 (from memory).
pub(crate) fn pin_circle(base: &Base) -> f64 {
    match base.pins.iter().map(|pin| pin.number).max().unwrap_or(0) {
        0..=7 => 9.53,
        8 => 17.45,
        _ => 11.9,
    }
}

/// A point at a distance from the middle; degrees clockwise on the sheet from straight down.
pub(crate) fn at(middle: Point, radius: f64, degrees: f64) -> Point {
    let (sin, cos) = degrees.to_radians().sin_cos();
    point(middle.x - radius * sin, middle.y + radius * cos)
}

const RADIUS: f64 = 14.0;
const PIN: f64 = 2.3;
const TYPE: f64 = 2.8;
const MIDDLE_HEIGHT: f64 = 25.0;

/// Draws the base from one side, `width` millimetres wide.
#[must_use]
pub fn draw(base: &Base, side: Side, width: f64, wording: Wording) -> Picture {
    let middle = point(width / 2.0, MIDDLE_HEIGHT);
    let mut items = outline(places(base).0, middle);
    for pin in &base.pins {
        let degrees = direction(base, pin.number, side);
        let centre = at(middle, RADIUS, degrees);
        items.push(Item::Circle {
            centre,
            radius: PIN,
            stroke: Some(Stroke::PLAIN),
            fill: Fill::Paper,
        });
        let number = Text::new(
            point(centre.x, centre.y + 1.0),
            pin.number.to_string(),
            TYPE,
        )
        .in_bold()
        .anchored(Anchor::Middle);
        items.push(Item::Text(number));
        items.extend(label(
            &wording.apply(&electrode(pin)),
            middle,
            degrees,
            width,
        ));
    }
    let (view, sides) = match side {
        Side::Below => ("from below", "soldering side"),
        Side::Above => ("from above", "tube side"),
    };
    let title =
        |text: &str, y: f64| Text::new(point(middle.x, y), text, TYPE).anchored(Anchor::Middle);
    items.push(Item::Text(title(view, middle.y - 1.5).in_bold()));
    items.push(Item::Text(title(&wording.apply(sides), middle.y + 2.2)));
    Picture {
        width,
        height: 2.0 * MIDDLE_HEIGHT,
        items,
    }
}

/// The circle with its gap or key at the bottom.
fn outline(count: usize, middle: Point) -> Vec<Item> {
    const HALF_GAP: f64 = 12.0;
    let has_key = count == 8;
    let (half_gap, word) = if has_key {
        (0.0, "key")
    } else {
        (HALF_GAP, "gap")
    };
    let bottom = at(middle, RADIUS, 0.0);
    let mut items = vec![Item::Arc {
        centre: middle,
        radius: RADIUS,
        start: 90.0 + half_gap,
        sweep: 359.9 - 2.0 * half_gap,
        stroke: Stroke::PLAIN,
    }];
    if has_key {
        let key = Area {
            x: bottom.x - 1.3,
            y: bottom.y - 2.6,
            width: 2.6,
            height: 2.6,
        };
        items.push(Item::Rectangle {
            area: key,
            stroke: Some(Stroke::PLAIN),
            fill: Fill::Ink,
        });
    }
    items.push(Item::Text(
        Text::new(point(bottom.x, bottom.y - 4.0), word, 2.4).anchored(Anchor::Middle),
    ));
    items
}

/// The electrode's name outside the pin, broken where the sheet ends.
fn label(name: &str, middle: Point, degrees: f64, width: f64) -> Vec<Item> {
    let edge = at(middle, RADIUS + PIN + 1.2, degrees);
    let across = degrees.to_radians().sin();
    const UPRIGHT: f64 = 0.35;
    let (anchor, room) = if across.abs() < UPRIGHT {
        (Anchor::Middle, 2.0 * edge.x.min(width - edge.x))
    } else if 0.0 < across {
        (Anchor::End, edge.x)
    } else {
        (Anchor::Start, width - edge.x)
    };
    let line_height = 1.15 * TYPE;
    let lines = if text_width(name, TYPE, false) <= room {
        vec![name.to_owned()]
    } else {
        wrapped(name, TYPE, false, room)
    };
    let height = lines.len() as f64 * line_height;
    // From fully above the point at the top of the circle to fully below it at the bottom.
    let down = degrees.to_radians().cos();
    let top = edge.y + height * (down - 1.0) / 2.0;
    lines
        .into_iter()
        .zip(1..)
        .map(|(line, count)| {
            Item::Text(
                Text::new(
                    point(edge.x, top + f64::from(count) * line_height - 0.3 * TYPE),
                    line,
                    TYPE,
                )
                .anchored(anchor),
            )
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use devices::types::{Electrode, Mark, Pin};

    fn base(numbers: &[u8]) -> Base {
        let pin = |&number: &u8| Pin {
            number,
            electrode: Electrode::HeaterTap,
            section: None,
        };
        Base {
            name: String::new(),
            pins: numbers.iter().map(pin).collect(),
            mark: Mark::Unmarked,
            source: String::new(),
        }
    }

    /// Base drawings show pins clockwise from below, pin 1 left of the gap or key at the bottom (common practice of tube
    /// manuals, from memory).
    #[test]
    fn pin_one_is_left_of_the_gap_from_below_and_right_of_it_from_above() {
        for pins in [&[1, 2, 3, 4, 5, 6, 7][..], &[1, 2, 3, 5, 7, 8], &[1, 9]] {
            let base = base(pins);
            let middle = point(0.0, 0.0);
            let first = |side| at(middle, 1.0, direction(&base, 1, side));
            let last = |side| at(middle, 1.0, direction(&base, pins[pins.len() - 1], side));
            assert!(first(Side::Below).x < 0.0 && 0.0 < first(Side::Below).y);
            assert!(0.0 < last(Side::Below).x && 0.0 < last(Side::Below).y);
            assert!(0.0 < first(Side::Above).x && last(Side::Above).x < 0.0);
        }
        // Noval: 36 degrees from pin to pin, 72 across the gap.
        let noval = base(&[1, 9]);
        assert!(
            (direction(&noval, 9, Side::Below) - direction(&noval, 1, Side::Below) - 288.0).abs()
                < 1e-9
        );
    }

    #[test]
    fn names_stay_on_the_sheet_and_apart() {
        for pins in [
            &[1, 2, 3, 4, 5, 6, 7, 8, 9][..],
            &[1, 2, 3, 4, 5, 6, 7, 8],
            &[1, 2, 3, 4, 5, 6, 7],
            &[],
        ] {
            for side in [Side::Below, Side::Above] {
                let picture = draw(&base(pins), side, 78.0, Wording::default());
                assert_eq!(
                    picture.text_faults(),
                    Vec::<String>::new(),
                    "{pins:?} {side:?}"
                );
            }
        }
    }
}
