//! The drawing's geometry, traced: lines join what they should and nothing else, boxes and texts stay apart.

use super::boxes::{Grade, Input, Kind, Node, Output};
use super::layers::{Slot, place};
use super::sheet::draw;
use crate::draw::{Area, Fill, Item, Picture, Point, Step, point};

/// Boxes whose inputs are driven by the boxes named; negative numbers are nets from outside.
fn nodes(drivers: &[Vec<i32>], outside: usize) -> Vec<Node> {
    let count = drivers.len();
    let net = |driver: i32| match usize::try_from(driver) {
        Ok(index) => index,
        Err(_) => count + driver.unsigned_abs() as usize - 1,
    };
    let inner = drivers.iter().enumerate().map(|(index, inputs)| Node {
        name: format!("G{index}"),
        what: "nor2".to_owned(),
        kind: if index % 5 == 0 {
            Kind::Closed
        } else {
            Kind::Unit
        },
        inputs: inputs
            .iter()
            .map(|&driver| Input {
                signal: "a".to_owned(),
                net: net(driver),
                net_name: format!("net.{}", net(driver)),
                spare: Some((Some(9.9), Some(21.0))),
                grade: [Grade::Plain, Grade::Thin, Grade::Short][net(driver) % 3],
                drivers: vec![(net(driver), 0)],
            })
            .collect(),
        outputs: vec![Output {
            signal: "y".to_owned(),
            net: index,
        }],
    });
    let outer = (0..outside).map(|index| Node {
        name: format!("in{index}"),
        what: String::new(),
        kind: Kind::Enters,
        inputs: Vec::new(),
        outputs: vec![Output {
            signal: String::new(),
            net: count + index,
        }],
    });
    inner.chain(outer).collect()
}

/// A machine without pattern: `count` boxes of up to three inputs, most from boxes before, some from boxes behind.
fn tangled(count: usize, seed: u64) -> Vec<Node> {
    // A linear congruential generator, constants from memory.
    let mut state = seed;
    let mut next = |below: usize| {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as usize % below.max(1)
    };
    let mut drivers = Vec::new();
    for index in 0..count {
        let inputs = 1 + next(3);
        let one = |next: &mut dyn FnMut(usize) -> usize| match next(10) {
            0 => -1 - next(4) as i32,
            1 => next(count) as i32,
            _ if index == 0 => -1,
            _ => (index - 1 - next(index.min(9))) as i32,
        };
        drivers.push((0..inputs).map(|_| one(&mut next)).collect());
    }
    nodes(&drivers, 4)
}

/// Lines, boxes and arrows' tips of a picture, in its own millimetres.
#[derive(Default)]
struct Drawn {
    lines: Vec<(Point, Point)>,
    boxes: Vec<Area>,
    tips: Vec<Point>,
}

fn taken_apart(items: &[Item], offset: Point, into: &mut Drawn) {
    let moved = |at: Point| point(at.x + offset.x, at.y + offset.y);
    for item in items {
        match item {
            Item::Line { from, to, .. } => into.lines.push((moved(*from), moved(*to))),
            Item::Rectangle {
                area,
                fill: Fill::Paper,
                ..
            } => into.boxes.push(Area {
                x: area.x + offset.x,
                y: area.y + offset.y,
                ..*area
            }),
            Item::Path { steps, .. } => {
                if let Some(Step::Move(tip)) = steps.first() {
                    into.tips.push(moved(*tip));
                }
            }
            Item::Group {
                offset: inner,
                items,
                ..
            } => {
                taken_apart(items, point(offset.x + inner.x, offset.y + inner.y), into);
            }
            _ => {}
        }
    }
}

fn drawn(picture: &Picture) -> Drawn {
    let mut all = Drawn::default();
    taken_apart(&picture.items, point(0.0, 0.0), &mut all);
    all
}

/// For each line the number of the net it is part of: lines are one net where the end of one lies on the other. Lines that
/// only cross are not.
fn nets(lines: &[(Point, Point)]) -> Vec<usize> {
    const NEAR: f64 = 0.05;
    let on = |at: Point, line: &(Point, Point)| {
        let between = |value: f64, one: f64, other: f64| {
            one.min(other) - NEAR <= value && value <= one.max(other) + NEAR
        };
        between(at.x, line.0.x, line.1.x) && between(at.y, line.0.y, line.1.y)
    };
    let mut net: Vec<usize> = (0..lines.len()).collect();
    for one in 0..lines.len() {
        for other in 0..lines.len() {
            if on(lines[one].0, &lines[other]) || on(lines[one].1, &lines[other]) {
                let (from, to) = (net[one], net[other]);
                for number in &mut net {
                    if *number == from {
                        *number = to;
                    }
                }
            }
        }
    }
    net
}

fn net_at(at: Point, drawn: &Drawn, nets: &[usize]) -> Option<usize> {
    let near = |line: &(Point, Point)| {
        [line.0, line.1]
            .iter()
            .any(|end| (end.x - at.x).abs() < 1.1 && (end.y - at.y).abs() < 0.01)
    };
    drawn.lines.iter().position(near).map(|line| nets[line])
}

/// The box at a place in the drawing's order: boxes are drawn layer by layer.
fn corner_of(nodes: &[Node], all: &Drawn, index: usize) -> Area {
    let placed = place(nodes);
    let order = placed
        .layers
        .iter()
        .flatten()
        .filter_map(|(slot, _)| match slot {
            Slot::Box(node) if nodes[*node].kind != Kind::Enters => Some(*node),
            _ => None,
        });
    all.boxes[order.into_iter().position(|node| node == index).unwrap()]
}

/// Every input's line comes from its driver or begins with a ring, and no two drivers' lines touch.
fn check(nodes: &[Node]) -> usize {
    let picture = &draw(nodes, &place(nodes), None)[0];
    let all = drawn(picture);
    let nets = nets(&all.lines);
    let mut joined = 0;
    let mut of_driver: Vec<Option<usize>> = vec![None; nodes.len()];
    for (index, node) in nodes
        .iter()
        .enumerate()
        .filter(|(_, node)| !node.inputs.is_empty())
    {
        let area = corner_of(nodes, &all, index);
        for (place, input) in node.inputs.iter().enumerate() {
            let at = point(area.x, area.y + super::layers::input_offset(node, place));
            let end = net_at(at, &all, &nets).expect("a line ends at every input");
            let driver = input.drivers[0].0;
            if nodes[driver].kind == Kind::Enters {
                continue;
            }
            let from = corner_of(nodes, &all, driver);
            let out = point(
                from.right(),
                from.y + super::layers::output_offset(&nodes[driver], 0),
            );
            let begin = all.lines.iter().position(|line| {
                (line.0.x - out.x).abs() < 0.01 && (line.0.y - out.y).abs() < 0.01
            });
            let begin = begin.map(|line| nets[line]);
            if begin == Some(end) {
                joined += 1;
                of_driver[driver] = begin;
                continue;
            }
            let said = format!("from {}", nodes[driver].name);
            let named = picture.text_areas().into_iter().any(|(text, text_area)| {
                text == said
                    && (text_area.bottom() - at.y).abs() < 2.0
                    && (text_area.right() - at.x).abs() < 20.0
            });
            assert!(named, "{} input {place} hangs in the air", node.name);
        }
    }
    let mut used: Vec<usize> = of_driver.into_iter().flatten().collect();
    let count = used.len();
    used.sort_unstable();
    used.dedup();
    assert_eq!(used.len(), count, "two nets touch");
    joined
}

/// Nothing overlaps and nothing leaves the sheet.
fn tidy(picture: &Picture) {
    assert_eq!(picture.text_faults(), Vec::<String>::new());
    let all = drawn(picture);
    let sheet = Area {
        x: 0.0,
        y: 0.0,
        width: picture.width,
        height: picture.height,
    };
    for (index, area) in all.boxes.iter().enumerate() {
        assert!(sheet.holds(area));
        assert!(
            all.boxes[index + 1..]
                .iter()
                .all(|other| !area.overlaps(other))
        );
        for (text, text_area) in picture.text_areas() {
            assert!(
                !area.overlaps(&text_area) || area.holds(&text_area),
                "{text} lies across a box"
            );
        }
        for line in &all.lines {
            let line = Area {
                x: line.0.x.min(line.1.x),
                y: line.0.y.min(line.1.y),
                width: (line.0.x - line.1.x).abs(),
                height: (line.0.y - line.1.y).abs(),
            };
            assert!(
                !area.grown(-0.1).overlaps(&line.grown(0.01)),
                "a line runs through a box"
            );
        }
    }
}

#[test]
fn every_line_leads_from_its_driver_and_touches_no_other() {
    assert_eq!(check(&nodes(&[vec![-1], vec![0], vec![0, 1]], 1)), 3);
    // A latch, and a box that drives itself.
    assert_eq!(check(&nodes(&[vec![-1, 1], vec![-2, 0], vec![2]], 2)), 3);
    let mut joined = 0;
    for (count, seed) in [(5, 1), (12, 2), (20, 3), (40, 4), (60, 5), (60, 6)] {
        joined += check(&tangled(count, seed));
    }
    for seed in 10..50 {
        joined += check(&tangled(30, seed));
    }
    assert!(1000 < joined, "{joined}");
}

#[test]
fn boxes_texts_and_lines_stay_apart_on_every_sheet() {
    for (count, seed) in [(1, 9), (5, 1), (20, 3), (60, 5), (60, 7)] {
        let nodes = tangled(count, seed);
        let placed = place(&nodes);
        for width in [None, Some(170.0), Some(90.0)] {
            let pictures = draw(&nodes, &placed, width);
            assert_eq!(pictures, draw(&nodes, &place(&nodes), width));
            for picture in &pictures {
                tidy(picture);
                // An arrow's head at every input, and on every way back.
                assert!(width.is_none_or(|width| picture.width <= width));
            }
            let tips: usize = pictures
                .iter()
                .map(|picture| drawn(picture).tips.len())
                .sum();
            let inputs: usize = nodes.iter().map(|node| node.inputs.len()).sum();
            assert!(inputs <= tips);
        }
    }
}

#[test]
fn a_level_without_boxes_is_an_empty_drawing() {
    assert!(draw(&[], &place(&[]), None).is_empty());
}
