//! Heater strings drawn in their order with the volts at every joint, and the rails.

use super::{block_table, figure};
use crate::decimal;
use crate::draw::{Anchor, Area, Fill, Item, Picture, Stroke, Text, point};
use crate::page::{Block, Section};
use crate::sentence;
use crate::tables;
use crate::words::Wording;
use design::model::{Design, HeaterString, SocketId, StringItem, Terminal};
use network::heaters::HeaterReading;
use network::verdict::Verdict;
use text::quantity::Unit;

pub(super) fn section(verdict: &Verdict, wording: Wording) -> Section {
    let design = verdict.plan.design;
    let mut blocks = Vec::new();
    for (index, string) in design.strings.iter().enumerate() {
        let amps = verdict
            .heaters
            .string_amps
            .get(index)
            .copied()
            .unwrap_or(f64::NAN);
        let links = links(verdict, index);
        let caption = format!(
            "String {}: {}. Volts to ground at the joints, with warm heaters; a cold string takes several times this current.",
            string.name,
            sentence::shown(amps.abs(), Unit::Ampere)
        );
        let description = format!(
            "Heaters of string {} in order with the volts at every joint.",
            string.name
        );
        let ends = (terminal(design, string.from), terminal(design, string.to));
        blocks.push(figure(
            wording.apply(&caption),
            wording.apply(&description),
            |width| vec![draw(&links, &ends, width)],
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

/// One thing in a string, with the volts at its two ends where they are known.
struct Link {
    lines: Vec<String>,
    is_resistor: bool,
    before: Option<f64>,
    after: Option<f64>,
}

fn links(verdict: &Verdict, index: usize) -> Vec<Link> {
    let design = verdict.plan.design;
    let string: &HeaterString = &design.strings[index];
    let reading = |socket: SocketId| {
        verdict
            .heaters
            .readings
            .iter()
            .find(|one| one.string == index && one.socket == socket)
    };
    let line = |socket: SocketId| {
        let mark = &design.sockets[socket.0].mark;
        reading(socket).map_or_else(
            || mark.clone(),
            |one| {
                format!(
                    "{mark} {}",
                    sentence::volts((one.first_volts - one.second_volts).abs())
                )
            },
        )
    };
    let link = |sockets: &[SocketId]| {
        let first: Option<&HeaterReading> = sockets.first().and_then(|&socket| reading(socket));
        Link {
            lines: sockets.iter().map(|&socket| line(socket)).collect(),
            is_resistor: false,
            before: first.map(|one| one.first_volts),
            after: first.map(|one| one.second_volts),
        }
    };
    let mut links: Vec<Link> = string
        .items
        .iter()
        .map(|item| match item {
            StringItem::Heater { socket, .. } => link(&[*socket]),
            StringItem::Parallel { heaters, .. } => {
                link(&heaters.iter().map(|heater| heater.0).collect::<Vec<_>>())
            }
            StringItem::Resistor { mark, ohms, .. } => Link {
                lines: vec![mark.clone(), sentence::shown(*ohms, Unit::Ohm)],
                is_resistor: true,
                before: None,
                after: None,
            },
        })
        .collect();
    // A resistor shares its joints with its neighbours.
    for place in 0..links.len() {
        if links[place].before.is_none() {
            links[place].before = if place == 0 {
                supply_volts(design, string.from)
            } else {
                links[place - 1].after
            };
        }
        if links[place].after.is_none() {
            links[place].after = match links.get(place + 1) {
                Some(next) => next.before,
                None => supply_volts(design, string.to),
            };
        }
    }
    links
}

fn supply_volts(design: &Design, terminal: Terminal) -> Option<f64> {
    match terminal {
        Terminal::Net(net) => match design.nets[net.0].kind {
            design::model::NetKind::Ground => Some(0.0),
            design::model::NetKind::Rail(rail) => Some(design.rails[rail.0].volts),
            design::model::NetKind::Signal => None,
        },
        Terminal::Inner(..) => None,
    }
}

fn terminal(design: &Design, terminal: Terminal) -> String {
    match terminal {
        Terminal::Net(net) => design.nets[net.0].name.clone(),
        Terminal::Inner(unit, node) => format!(
            "{}.{}",
            design.units[unit.0].name,
            design.circuit_of(unit).nodes[node].name
        ),
    }
}

/// Width of a link with the joint before it.
const LINK: f64 = 26.0;
const BOX: f64 = 17.0;
const LINE: f64 = 3.6;
const TYPE: f64 = 2.6;

/// The string from left to right, in as many rows as it needs.
fn draw(links: &[Link], ends: &(String, String), width: f64) -> Picture {
    let per_row = (((width - LINK / 2.0) / LINK).floor() as usize).max(1);
    let most_lines = links
        .iter()
        .map(|link| link.lines.len())
        .fold(1, usize::max);
    let box_height = most_lines as f64 * LINE + 2.5;
    let row_height = box_height + 11.0;
    let to_joint = (LINK - BOX) / 2.0;
    let mut items = Vec::new();
    for (place, link) in links.iter().enumerate() {
        let x = (place % per_row) as f64 * LINK;
        let top = (place / per_row) as f64 * row_height + 7.0;
        let y = top + box_height / 2.0;
        let area = Area {
            x: x + LINK - BOX,
            y: top,
            width: BOX,
            height: box_height,
        };
        items.push(wire(x, area.x, y));
        items.extend(joint(link.before, x + to_joint, y));
        items.extend(boxed(link, area));
        if place == 0 {
            let from = Text::new(point(0.0, top - 3.6), ends.0.clone(), TYPE).in_bold();
            items.push(Item::Text(from));
        }
        if place + 1 == links.len() {
            let end = area.right() + to_joint;
            items.push(wire(area.right(), end, y));
            items.extend(joint(link.after, end, y));
            let to = Text::new(point(end + 4.0, area.bottom() + 3.2), ends.1.clone(), TYPE);
            items.push(Item::Text(to.in_bold().anchored(Anchor::End)));
        }
    }
    let columns = links.len().min(per_row) as f64;
    let rows = links.len().div_ceil(per_row).max(1);
    Picture {
        width: columns * LINK + LINK / 2.0,
        height: rows as f64 * row_height,
        items,
    }
}

fn wire(from: f64, to: f64, y: f64) -> Item {
    Item::Line {
        from: point(from, y),
        to: point(to, y),
        stroke: Stroke::PLAIN,
    }
}

/// A heater, several side by side, or a resistor.
fn boxed(link: &Link, area: Area) -> Vec<Item> {
    let fill = if link.is_resistor {
        Fill::Light
    } else {
        Fill::Paper
    };
    let mut items = vec![Item::Rectangle {
        area,
        stroke: Some(Stroke::PLAIN),
        fill,
    }];
    let middle = area.y + area.height / 2.0 + 0.9;
    let first = middle - (link.lines.len() as f64 - 1.0) * LINE / 2.0;
    items.extend(link.lines.iter().enumerate().map(|(line, text)| {
        let at = point(area.x + area.width / 2.0, first + line as f64 * LINE);
        Item::Text(Text::new(at, text.clone(), TYPE).anchored(Anchor::Middle))
    }));
    items
}

/// A joint with its volts above.
fn joint(volts: Option<f64>, x: f64, y: f64) -> [Item; 2] {
    let text = decimal::fixed(volts.unwrap_or(f64::NAN), 1);
    let dot = Item::Circle {
        centre: point(x, y),
        radius: 0.6,
        stroke: None,
        fill: Fill::Ink,
    };
    [
        dot,
        Item::Text(Text::new(point(x, y - 1.6), text, TYPE).anchored(Anchor::Middle)),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_of_a_string_stay_apart_on_page_and_phone() {
        let link = |lines: &[&str], is_resistor| Link {
            lines: lines.iter().map(|line| (*line).to_owned()).collect(),
            is_resistor,
            before: Some(25.2),
            after: None,
        };
        let mut links: Vec<Link> = (0..9).map(|_| link(&["V12 6.30 V"], false)).collect();
        links.push(link(&["V3 6.30 V", "V4 6.30 V", "V5 6.30 V"], false));
        links.push(link(&["R91", "820 Ω"], true));
        let ends = ("heat".to_owned(), "ground".to_owned());
        for width in [170.0, 90.0, 10.0] {
            let picture = draw(&links, &ends, width);
            assert_eq!(picture.text_faults(), Vec::<String>::new(), "{width}");
        }
        assert!(draw(&[], &ends, 90.0).items.is_empty());
    }
}
