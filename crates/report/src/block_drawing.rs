//! Who drives whom, as blocks from left to right with what is to spare at every arrow.

use crate::decimal;
use crate::draw::width::text_width;
use crate::draw::{
    Anchor, Area, Fill, Ink, Item, Pattern, Picture, Point, Step, Stroke, Text, Weight, point,
};
use crate::drawing::{Drawing, UPRIGHT_WIDTH};
use crate::words::Wording;
use network::connections::Connection;
use network::plan::MemberIndex;
use network::verdict::Verdict;

/// More units than this are left to the table: the picture would fill pages.
const MOST_UNITS: usize = 60;

/// The whole machine as a drawing of its own; `None` where it has too many units for a picture.
#[must_use]
pub fn drawing(verdict: &Verdict, wording: Wording) -> Option<Drawing> {
    Some(Drawing {
        title: "Who drives whom".to_owned(),
        legend: legend(verdict, wording)?,
        sheets: draw(verdict, UPRIGHT_WIDTH),
    })
}

/// How the drawing is to be read; `None` where there is none.
#[must_use]
pub fn legend(verdict: &Verdict, wording: Wording) -> Option<String> {
    let text = "Blocks are units, arrows go from output to input. Above an arrow the net, or its driver \
                where that stands elsewhere in the picture; below it volts to spare when down / when up. Open rings are switches of the bench; heavy dashes fall short.";
    (verdict.plan.members.len() <= MOST_UNITS).then(|| wording.apply(text))
}

/// Draws the units in strips of at most `width` millimetres.
#[must_use]
pub fn draw(verdict: &Verdict, width: f64) -> Vec<Picture> {
    Chain::new(verdict).draw(width)
}

/// Between columns, for the lines that run up and down.
const CHANNEL: f64 = 7.0;
/// Length of an arrow with its texts.
const ARROW: f64 = 19.0;
/// Width of a block.
const BOX: f64 = 16.0;
const COLUMN: f64 = CHANNEL + ARROW + BOX;
/// Height of an input with the texts above and below its arrow.
const INPUT: f64 = 6.8;
/// Least height of a block: its two lines.
const LEAST: f64 = 8.0;
/// Between blocks.
const GAP: f64 = 3.0;
/// Tallest column: a picture stays on one printed page.
const TALLEST: f64 = 200.0;
const NAME_TYPE: f64 = 2.6;
const NOTE_TYPE: f64 = 2.2;

/// What feeds an input.
struct Fed {
    driver: Option<MemberIndex>,
    switch: bool,
    net: String,
    spare: (Option<f64>, Option<f64>),
    judged: bool,
}

struct Gate {
    name: String,
    circuit: String,
    inputs: Vec<Fed>,
}

impl Gate {
    fn height(&self) -> f64 {
        (self.inputs.len() as f64 * INPUT).max(LEAST)
    }
}

struct Chain {
    blocks: Vec<Gate>,
    /// Units in columns, none taller than a page.
    columns: Vec<Vec<MemberIndex>>,
}

impl Chain {
    fn new(verdict: &Verdict) -> Chain {
        let plan = &verdict.plan;
        let blocks: Vec<Gate> = (0..plan.members.len())
            .map(|member| {
                let circuit = plan.circuit(member);
                let inputs = (0..circuit.interface.inputs)
                    .map(|signal| fed(verdict, member, signal))
                    .collect();
                Gate {
                    name: plan.members[member].name.clone(),
                    circuit: circuit.name.clone(),
                    inputs,
                }
            })
            .collect();
        let drivers: Vec<Vec<MemberIndex>> = blocks
            .iter()
            .map(|block| {
                block
                    .inputs
                    .iter()
                    .filter_map(|input| input.driver)
                    .collect()
            })
            .collect();
        let columns = columns(&drivers, &blocks);
        Chain { blocks, columns }
    }

    /// As many columns side by side as fit, the rest in further pictures.
    fn draw(&self, width: f64) -> Vec<Picture> {
        let side_by_side = ((width / COLUMN).floor() as usize).max(1);
        self.columns
            .chunks(side_by_side)
            .map(|columns| self.strip(columns))
            .collect()
    }

    fn strip(&self, columns: &[Vec<MemberIndex>]) -> Picture {
        let mut places: Vec<Option<(usize, Area)>> = vec![None; self.blocks.len()];
        let mut height: f64 = 0.0;
        for (column, members) in columns.iter().enumerate() {
            let mut y = 1.0;
            for &member in members {
                let tall = self.blocks[member].height();
                let x = column as f64 * COLUMN + CHANNEL + ARROW;
                places[member] = Some((
                    column,
                    Area {
                        x,
                        y,
                        width: BOX,
                        height: tall,
                    },
                ));
                y += tall + GAP;
            }
            height = height.max(y);
        }
        let mut items = Vec::new();
        for (column, members) in columns.iter().enumerate() {
            let arrows: Vec<f64> = members
                .iter()
                .filter_map(|&member| Some((member, places[member]?.1)))
                .flat_map(|(member, area)| {
                    (0..self.blocks[member].inputs.len())
                        .map(move |input| self.arrow_height(member, area, input))
                })
                .collect();
            for &member in members {
                let Some((_, area)) = places[member] else {
                    continue;
                };
                self.draw_block(member, area, &mut items);
                for (input, fed) in self.blocks[member].inputs.iter().enumerate() {
                    let before = fed
                        .driver
                        .and_then(|driver| Some((driver, places[driver]?)));
                    let beside = before.filter(|(_, place)| place.0 + 1 == column);
                    let from = beside.map(|(driver, (_, area))| {
                        (
                            point(area.right(), leaves_at(area, &arrows)),
                            track(columns, column, driver),
                        )
                    });
                    self.draw_arrow(
                        fed,
                        point(area.x, self.arrow_height(member, area, input)),
                        from,
                        &mut items,
                    );
                }
            }
        }
        Picture {
            width: columns.len() as f64 * COLUMN + 1.0,
            height: height.max(LEAST),
            items,
        }
    }

    /// Height on the sheet of the arrow into an input.
    fn arrow_height(&self, member: MemberIndex, area: Area, input: usize) -> f64 {
        let all = self.blocks[member].inputs.len() as f64 * INPUT;
        area.y + (area.height - all) / 2.0 + (input as f64 + 0.5) * INPUT
    }

    fn draw_block(&self, member: MemberIndex, area: Area, items: &mut Vec<Item>) {
        let block = &self.blocks[member];
        items.push(Item::Rectangle {
            area,
            stroke: Some(Stroke::PLAIN),
            fill: Fill::Paper,
        });
        let (x, y) = (area.x + area.width / 2.0, area.y + area.height / 2.0);
        let name = fitted(&block.name, NAME_TYPE, true, BOX - 1.0);
        items.push(Item::Text(
            Text::new(point(x, y - 0.4), name, NAME_TYPE)
                .in_bold()
                .anchored(Anchor::Middle),
        ));
        let circuit = fitted(&block.circuit, NOTE_TYPE, false, BOX - 1.0);
        items.push(Item::Text(
            Text::new(point(x, y + 2.4), circuit, NOTE_TYPE).anchored(Anchor::Middle),
        ));
    }

    /// The arrow into a block's edge, with the line from where its driver's output leaves and the track it takes, when the
    /// driver stands in the column before.
    fn draw_arrow(&self, fed: &Fed, to: Point, from: Option<(Point, f64)>, items: &mut Vec<Item>) {
        let (x, y) = (to.x, to.y);
        let short = [fed.spare.0, fed.spare.1]
            .into_iter()
            .flatten()
            .any(|spare| spare < 0.0);
        let stroke = if short {
            Stroke::new(Pattern::Dashed, Weight::Heavy, Ink::Black)
        } else {
            Stroke::PLAIN
        };
        let tail = x - ARROW;
        if let Some((out, track)) = from {
            let points = vec![out, point(track, out.y), point(track, y), point(tail, y)];
            items.push(Item::Polyline { points, stroke });
        }
        items.push(Item::Line {
            from: point(tail, y),
            to: point(x - 1.0, y),
            stroke,
        });
        items.push(head(x, y));
        if fed.switch {
            items.push(Item::Circle {
                centre: point(tail, y),
                radius: 0.7,
                stroke: Some(Stroke::PLAIN),
                fill: Fill::Paper,
            });
        }
        let room = ARROW - 3.0;
        let elsewhere = fed
            .driver
            .filter(|_| from.is_none())
            .map(|driver| self.blocks[driver].name.as_str());
        let above = elsewhere.map_or_else(|| fed.net.clone(), |driver| format!("from {driver}"));
        let at = point(tail + 1.2, y - 0.8);
        items.push(Item::Text(
            Text::new(at, fitted(&above, NOTE_TYPE, false, room), NOTE_TYPE).with_rim(),
        ));
        let below = Text::new(point(tail + 1.2, y + 2.3), spare_text(fed), NOTE_TYPE).with_rim();
        items.push(Item::Text(if short { below.in_bold() } else { below }));
    }
}

/// Where the output of a block leaves it: near its middle, but level with no arrow of the next column, so that lines do not
/// seem to run on into arrows that are not theirs.
fn leaves_at(area: Area, arrows: &[f64]) -> f64 {
    const APART: f64 = 0.8;
    const OFFSETS: [f64; 7] = [0.0, 1.0, -1.0, 2.0, -2.0, 3.0, -3.0];
    let middle = area.y + area.height / 2.0;
    let clear = |height: &f64| arrows.iter().all(|arrow| APART <= (arrow - height).abs());
    OFFSETS
        .into_iter()
        .map(|offset| middle + offset)
        .find(clear)
        .unwrap_or(middle)
}

fn head(x: f64, y: f64) -> Item {
    let steps = vec![
        Step::Move(point(x, y)),
        Step::Line(point(x - 1.8, y - 0.7)),
        Step::Line(point(x - 1.8, y + 0.7)),
        Step::Close,
    ];
    Item::Path {
        steps,
        stroke: None,
        fill: Fill::Ink,
    }
}

/// `8.9 / 18 V`
fn spare_text(fed: &Fed) -> String {
    if !fed.judged {
        return String::new();
    }
    let one = |spare: Option<f64>| {
        spare.map_or("?".to_owned(), |spare| {
            decimal::fixed(spare, if spare.abs() < 9.95 { 1 } else { 0 })
        })
    };
    match fed.spare {
        (None, None) => "not judged".to_owned(),
        (down, up) => format!("{} / {} V", one(down), one(up)),
    }
}

/// The text, or its end after an ellipsis: the end of a name tells most.
fn fitted(text: &str, size: f64, bold: bool, room: f64) -> String {
    if text_width(text, size, bold) <= room {
        return text.to_owned();
    }
    let mut rest = text.chars();
    while rest.next().is_some() {
        let shortened = format!("…{}", rest.as_str());
        if text_width(&shortened, size, bold) <= room {
            return shortened;
        }
    }
    String::new()
}

/// Where the lines of a driver run up and down in the channel before a column.
fn track(columns: &[Vec<MemberIndex>], column: usize, driver: MemberIndex) -> f64 {
    let before = &columns[column - 1];
    let place = before
        .iter()
        .position(|&member| member == driver)
        .unwrap_or(0);
    column as f64 * COLUMN + CHANNEL * (place as f64 + 1.0) / (before.len() as f64 + 1.0)
}

/// What feeds an input: the connection with least to spare, or a supply.
fn fed(verdict: &Verdict, member: MemberIndex, signal: usize) -> Fed {
    let plan = &verdict.plan;
    let least = |connection: &&Connection| {
        let spares = [connection.spare_down(), connection.spare_up()];
        spares.into_iter().flatten().fold(f64::INFINITY, f64::min)
    };
    let own = verdict
        .connections
        .iter()
        .filter(|connection| connection.load == (member, signal));
    let worst = own.min_by(|left, right| least(left).total_cmp(&least(right)));
    Fed {
        driver: worst
            .and_then(|connection| connection.driver)
            .map(|driver| driver.0),
        switch: worst.is_some_and(|connection| connection.driver.is_none()),
        net: plan.nets[plan.members[member].nets[signal]].name.clone(),
        spare: worst.map_or((None, None), |connection| {
            (connection.spare_down(), connection.spare_up())
        }),
        judged: worst.is_some(),
    }
}

/// Units in columns: each right of what drives it, loops cut where they close, columns broken where they grow too tall.
fn columns(drivers: &[Vec<MemberIndex>], blocks: &[Gate]) -> Vec<Vec<MemberIndex>> {
    let depths = depths(drivers);
    let deepest = depths.iter().copied().max().unwrap_or(0);
    let mut columns: Vec<Vec<MemberIndex>> = Vec::new();
    let mut order = vec![0.0; drivers.len()];
    for depth in 0..=deepest {
        let mut layer: Vec<MemberIndex> = (0..drivers.len())
            .filter(|&member| depths[member] == depth)
            .collect();
        // Near the middle of what drives it, a unit's lines are short and cross least.
        let middle = |member: MemberIndex| {
            let own: Vec<f64> = drivers[member]
                .iter()
                .filter(|&&driver| depths[driver] < depth)
                .map(|&driver| order[driver])
                .collect();
            if own.is_empty() {
                f64::INFINITY
            } else {
                own.iter().sum::<f64>() / own.len() as f64
            }
        };
        let middles: Vec<f64> = (0..drivers.len()).map(middle).collect();
        layer.sort_by(|&left, &right| {
            middles[left]
                .total_cmp(&middles[right])
                .then(left.cmp(&right))
        });
        for (place, &member) in layer.iter().enumerate() {
            order[member] = place as f64 / layer.len() as f64;
        }
        let mut tall = f64::INFINITY;
        for member in layer {
            let own = blocks[member].height() + GAP;
            if TALLEST < tall + own {
                columns.push(Vec::new());
                tall = 0.0;
            }
            tall += own;
            if let Some(column) = columns.last_mut() {
                column.push(member);
            }
        }
    }
    columns
}

/// Longest way from a unit that nothing drives, links that close a loop left out.
fn depths(drivers: &[Vec<MemberIndex>]) -> Vec<usize> {
    #[derive(Clone, Copy, PartialEq)]
    enum Visit {
        New,
        Open,
        Done(usize),
    }
    fn depth(
        member: MemberIndex,
        drivers: &[Vec<MemberIndex>],
        visits: &mut [Visit],
    ) -> Option<usize> {
        match visits[member] {
            Visit::Done(known) => return Some(known),
            // A unit that is being visited drives itself through others: here the loop is cut.
            Visit::Open => return None,
            Visit::New => {}
        }
        visits[member] = Visit::Open;
        let own = drivers[member]
            .iter()
            .filter_map(|&driver| depth(driver, drivers, visits))
            .map(|depth| depth + 1)
            .max()
            .unwrap_or(0);
        visits[member] = Visit::Done(own);
        Some(own)
    }
    let mut visits = vec![Visit::New; drivers.len()];
    // At most MOST_UNITS deep.
    (0..drivers.len())
        .map(|member| depth(member, drivers, &mut visits).unwrap_or(0))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_stand_right_of_their_drivers_and_loops_are_cut() {
        // 0 drives 1, 1 drives 2; 3 and 4 drive each other, 4 is driven by 2 as well.
        assert_eq!(
            depths(&[vec![], vec![0], vec![1], vec![4], vec![3, 2]]),
            [0, 1, 2, 4, 3]
        );
        assert_eq!(depths(&[vec![0]]), [0]);
        assert_eq!(depths(&[]), Vec::<usize>::new());
    }

    #[test]
    fn long_names_keep_their_end() {
        assert_eq!(fitted("G1", 2.6, true, 15.0), "G1");
        let short = fitted("borrow.second.hold", 2.6, true, 15.0);
        assert!(short.starts_with('…') && short.ends_with("hold"), "{short}");
        assert!(text_width(&short, 2.6, true) <= 15.0);
        assert_eq!(fitted("abc", 2.6, true, 0.0), "");
    }
}
