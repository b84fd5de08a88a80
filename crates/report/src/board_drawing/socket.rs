//! One socket with everything that stands on its pins.

use crate::decimal;
use crate::draw::width::fitted;
use crate::draw::{Anchor, Fill, Item, Picture, Point, Stroke, Text, point};
use crate::pinout::{Side, at, direction};
use crate::sentence;
use crate::tables;
use crate::words::Wording;
use design::model::{NodeKind, SocketId};
use devices::types::{Base, Electrode, Pin, Section};
use network::bench::{NO_NUMBER, heater_pin_volts, node_of};
use network::verdict::Verdict;

/// Width of the picture of one socket, mm: two stand side by side on a page.
pub const SOCKET_WIDTH: f64 = 85.0;
const HEIGHT: f64 = 52.0;
const TYPE: f64 = 2.3;
const LINE: f64 = 3.0;
/// The pins' circle: enlarged, so that numbers stand inside the pins.
const RADIUS: f64 = 9.0;
const PIN: f64 = 1.9;
const MIDDLE: Point = point(SOCKET_WIDTH / 2.0, 34.0);
/// From the middle to where the labels begin.
const REACH: f64 = 15.5;
/// From label to label.
const STEP: f64 = 7.4;

/// What is written at a pin.
struct Label {
    pin: Pin,
    what: String,
    volts: String,
}

/// Draws a socket from one side, with electrode, net and volts at each pin.
#[must_use]
pub fn socket(verdict: &Verdict, id: SocketId, side: Side, wording: Wording) -> Picture {
    let device = &verdict.plan.design.sockets[id.0].device;
    let mut items = heading(verdict, id);
    let labels = |pins: &[Pin]| -> Vec<Label> {
        let each = pins.iter();
        each.map(|pin| label(verdict, id, pin, wording)).collect()
    };
    match &device.base {
        Some(base) => items.extend(with_base(base, &labels(&base.pins), side)),
        None => items.extend(without_base(&labels(&leads(verdict, id)))),
    }
    Picture {
        width: SOCKET_WIDTH,
        height: HEIGHT,
        items,
    }
}

/// Sockets side by side on sheets of at most a page's height.
pub(super) fn sheets(pictures: &[Picture], width: f64) -> Vec<Picture> {
    /// Rows that the window of an upright A4 sheet holds; the first leaves room for the legend.
    const ROWS: usize = 5;
    let columns = ((width / SOCKET_WIDTH) as usize).max(1);
    let (first, rest) = pictures.split_at(pictures.len().min(columns * (ROWS - 1)));
    std::iter::once(first)
        .chain(rest.chunks(columns * ROWS))
        .map(|page| {
            let place = |(idx, picture): (usize, &Picture)| Item::Group {
                offset: point(
                    (idx % columns) as f64 * width / columns as f64,
                    (idx / columns) as f64 * HEIGHT,
                ),
                clip: None,
                items: picture.items.clone(),
            };
            Picture {
                width,
                height: page.len().div_ceil(columns) as f64 * HEIGHT,
                items: page.iter().enumerate().map(place).collect(),
            }
        })
        .collect()
}

/// The tube's mark and type, and which units stand in it.
fn heading(verdict: &Verdict, id: SocketId) -> Vec<Item> {
    let socket = &verdict.plan.design.sockets[id.0];
    let mark = Text::new(point(1.0, 4.0), &socket.mark, 3.4).in_bold();
    let kind = point(mark.area().right() + 2.0, 4.0);
    let room = SOCKET_WIDTH - 1.0;
    let units = fitted(&units(verdict, id).join("   "), TYPE, false, room);
    vec![
        Item::Line {
            from: point(0.0, 0.3),
            to: point(SOCKET_WIDTH - 2.0, 0.3),
            stroke: Stroke::PLAIN,
        },
        Item::Text(mark),
        Item::Text(Text::new(kind, &socket.device.name, TYPE)),
        Item::Text(Text::new(point(1.0, 7.6), units, TYPE)),
    ]
}

/// `A: minus.N1 (nor2)`; the half is left out for a tube that is not a twin.
pub(super) fn units(verdict: &Verdict, id: SocketId) -> Vec<String> {
    let design = verdict.plan.design;
    let socket = &design.sockets[id.0];
    let halves = [Section::A, Section::B].into_iter().zip(socket.halves);
    halves
        .filter(|(section, _)| *section == Section::A || socket.device.sections == 2)
        .map(|(section, half)| {
            let what = half.map_or("unused".to_owned(), |(unit, _)| {
                let circuit = &design.circuit_of(unit).name;
                format!("{} ({circuit})", design.units[unit.0].name)
            });
            if socket.device.sections == 2 {
                format!("{section:?}: {what}")
            } else {
                what
            }
        })
        .collect()
}

fn with_base(base: &Base, labels: &[Label], side: Side) -> Vec<Item> {
    let mut items = vec![Item::Circle {
        centre: MIDDLE,
        radius: RADIUS,
        stroke: Some(Stroke::PLAIN),
        fill: Fill::None,
    }];
    let placed: Vec<(f64, &Label)> = labels
        .iter()
        .map(|label| (direction(base, label.pin.number, side), label))
        .collect();
    for &(degrees, label) in &placed {
        items.extend(pin(at(MIDDLE, RADIUS, degrees), &label.pin));
    }
    // From the lowest upwards, on each side; the pin opposite the gap stands above all.
    let across = |degrees: f64| degrees.to_radians().sin();
    let is_top = |degrees: f64| across(degrees).abs() < 0.1 && degrees.to_radians().cos() < 0.0;
    for direction in [-1.0, 1.0] {
        let mut column: Vec<(f64, &Label)> = placed
            .iter()
            .copied()
            .filter(|&(degrees, _)| !is_top(degrees) && 0.0 < -direction * across(degrees))
            .collect();
        column.sort_by(|one, other| {
            let height = |degrees: f64| degrees.to_radians().cos();
            height(one.0).total_cmp(&height(other.0))
        });
        let first = MIDDLE.y - STEP * (column.len().max(1) - 1) as f64 / 2.0;
        for (row, (degrees, label)) in column.into_iter().enumerate() {
            let y = first + row as f64 * STEP;
            let edge = point(MIDDLE.x + direction * REACH, y);
            let from = at(MIDDLE, RADIUS + PIN, degrees);
            items.push(Item::Polyline {
                points: vec![from, point(edge.x - direction * 2.0, y), edge],
                stroke: Stroke::FAINT,
            });
            items.extend(beside(label, edge, direction));
        }
    }
    for (_, label) in placed.iter().filter(|(degrees, _)| is_top(*degrees)) {
        items.extend(above(label));
    }
    let middle = |text: &str, y: f64| {
        Item::Text(Text::new(point(MIDDLE.x, y), text, TYPE).anchored(Anchor::Middle))
    };
    let view = match side {
        Side::Below => "from below",
        Side::Above => "from above",
    };
    items.push(middle(view, MIDDLE.y + 0.8));
    items
}

fn pin(centre: Point, pin: &Pin) -> [Item; 2] {
    let number = Text::new(
        point(centre.x, centre.y + 0.8),
        pin.number.to_string(),
        TYPE,
    );
    [
        Item::Circle {
            centre,
            radius: PIN,
            stroke: Some(Stroke::PLAIN),
            fill: Fill::Paper,
        },
        Item::Text(number.in_bold().anchored(Anchor::Middle)),
    ]
}

/// Two lines right or left of the socket.
fn beside(label: &Label, edge: Point, direction: f64) -> [Item; 2] {
    let anchor = if direction < 0.0 {
        Anchor::End
    } else {
        Anchor::Start
    };
    let room = SOCKET_WIDTH / 2.0 - REACH - 1.5;
    let x = edge.x + direction * 0.8;
    let line = |text: &str, y: f64| {
        Text::new(point(x, y), fitted(text, TYPE, false, room), TYPE).anchored(anchor)
    };
    [
        Item::Text(line(&label.what, edge.y - 0.6)),
        Item::Text(line(&label.volts, edge.y - 0.6 + LINE)),
    ]
}

/// Two lines above the socket.
fn above(label: &Label) -> [Item; 3] {
    let room = 0.7 * SOCKET_WIDTH;
    let bottom = MIDDLE.y - STEP * 1.5 - 4.6;
    let line = |text: &str, y: f64| {
        let text = fitted(text, TYPE, false, room);
        Text::new(point(MIDDLE.x, y), text, TYPE).anchored(Anchor::Middle)
    };
    [
        Item::Line {
            from: point(MIDDLE.x, MIDDLE.y - RADIUS - PIN),
            to: point(MIDDLE.x, bottom + 0.9),
            stroke: Stroke::FAINT,
        },
        Item::Text(line(&label.what, bottom - LINE)),
        Item::Text(line(&label.volts, bottom)),
    ]
}

/// Leads without numbers, as a list.
fn without_base(labels: &[Label]) -> Vec<Item> {
    let note = "The numbers of its leads are not known here:";
    let mut items = vec![Item::Text(Text::new(point(1.0, 13.0), note, TYPE))];
    for (row, label) in labels.iter().enumerate() {
        let y = 17.5 + row as f64 * (LINE + 0.8);
        let text = format!("{}   {}", label.what, label.volts);
        let text = fitted(&text, TYPE, false, SOCKET_WIDTH - 6.0);
        items.push(Item::Text(Text::new(point(4.0, y), text, TYPE)));
    }
    items
}

/// The electrodes that the circuit uses, of a tube whose base is not known.
fn leads(verdict: &Verdict, id: SocketId) -> Vec<Pin> {
    let design = verdict.plan.design;
    let device = &design.sockets[id.0].device;
    let halves: &[Option<Section>] = if device.sections == 2 {
        &[Some(Section::A), Some(Section::B)]
    } else {
        &[None]
    };
    let wired = |pin: &Pin| node_of(design, id, pin.electrode, pin.section).is_some();
    let all = halves.iter().flat_map(|&section| {
        Electrode::ALL.iter().map(move |&(_, electrode)| Pin {
            number: NO_NUMBER,
            electrode,
            section,
        })
    });
    all.filter(wired).collect()
}

fn label(verdict: &Verdict, id: SocketId, pin: &Pin, wording: Wording) -> Label {
    let design = verdict.plan.design;
    let electrode = wording.apply(&tables::electrode(pin));
    let (what, volts) = match pin.electrode {
        Electrode::Heater | Electrode::HeaterTap => {
            let volts = heater_pin_volts(verdict, id, pin);
            let volts = volts.map_or("in no string".to_owned(), |end| {
                let volts = format!("{} V", decimal::fixed(end.volts, 1));
                match sentence::rms(end.alternates, end.stands_on_volts) {
                    Some(rms) => format!("{volts} {rms}"),
                    None => volts,
                }
            });
            (electrode, volts)
        }
        Electrode::Free => ("no connection".to_owned(), String::new()),
        Electrode::Shield => (electrode, "no net in the text".to_owned()),
        other => match node_of(design, id, other, pin.section) {
            Some((unit, node)) => {
                let name = node_name(verdict, unit.0, node);
                let volts = expected(verdict, unit.0, node);
                (format!("{electrode}: {name}"), volts)
            }
            None => (electrode, "half not used".to_owned()),
        },
    };
    Label {
        pin: pin.clone(),
        what,
        volts,
    }
}

/// Net of the machine, or the point inside the unit.
fn node_name(verdict: &Verdict, member: usize, node: usize) -> String {
    let design = verdict.plan.design;
    let unit = &design.units[member];
    let info = &design.circuits[unit.circuit.0].nodes[node];
    match info.kind {
        NodeKind::Signal(signal) => design.nets[unit.nets[signal].0].name.clone(),
        NodeKind::Ground | NodeKind::Rail(_) => info.name.clone(),
        NodeKind::Inner => format!("{}.{}", unit.name, info.name),
    }
}

/// Lowest and highest volts of a unit's node over its rows, or the one value that it has in all.
fn expected(verdict: &Verdict, member: usize, node: usize) -> String {
    let rows = verdict.result(member).rows.iter();
    let settled = rows.filter(|row| row.outcome.settled());
    let volts: Vec<f64> = settled
        .filter_map(|row| row.volts.get(node).copied())
        .collect();
    let low = volts.iter().copied().reduce(f64::min);
    let Some((low, high)) = low.zip(volts.iter().copied().reduce(f64::max)) else {
        return "not computed".to_owned();
    };
    let (low, high) = (decimal::fixed(low, 1), decimal::fixed(high, 1));
    if low == high {
        format!("{low} V")
    } else {
        format!("{low} / {high} V")
    }
}
