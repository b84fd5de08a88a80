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
        let amps = verdict.heaters.string_amps.get(index).copied().unwrap_or(f64::NAN);
        let links = links(verdict, index);
        let caption = format!(
            "String {}: {}. Volts to ground at the joints, with warm heaters; a cold string takes several times this current.",
            string.name,
            sentence::shown(amps.abs(), Unit::Ampere)
        );
        let description = format!("Heaters of string {} in order with the volts at every joint.", string.name);
        let ends = (terminal(design, string.from), terminal(design, string.to));
        blocks.push(figure(wording.apply(&caption), wording.apply(&description), |width| vec![draw(&links, &ends, width)]));
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
    Section { heading: "Heaters and rails".to_owned(), blocks }
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
    let reading = |socket: SocketId| verdict.heaters.readings.iter().find(|one| one.string == index && one.socket == socket);
    let line = |socket: SocketId| {
        let mark = &design.sockets[socket.0].mark;
        reading(socket).map_or_else(|| mark.clone(), |one| format!("{mark} {}", sentence::volts((one.first_volts - one.second_volts).abs())))
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
            StringItem::Parallel { heaters, .. } => link(&heaters.iter().map(|heater| heater.0).collect::<Vec<_>>()),
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
            links[place].before = if place == 0 { supply_volts(design, string.from) } else { links[place - 1].after };
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
        Terminal::Inner(unit, node) => format!("{}.{}", design.units[unit.0].name, design.circuit_of(unit).nodes[node].name),
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
    let tallest = links.iter().map(|link| link.lines.len()).max().unwrap_or(1).max(1) as f64;
    let box_height = tallest * LINE + 2.5;
    let row_height = box_height + 11.0;
    let mut items = Vec::new();
    let rows = links.len().div_ceil(per_row).max(1);
    for (place, link) in links.iter().enumerate() {
        let (row, column) = (place / per_row, place % per_row);
        let x = column as f64 * LINK;
        let y = row as f64 * row_height + 7.0 + box_height / 2.0;
        let area = Area { x: x + LINK - BOX, y: y - box_height / 2.0, width: BOX, height: box_height };
        items.push(Item::Line { from: point(x, y), to: point(area.x, y), stroke: Stroke::PLAIN });
        items.push(Item::Circle { centre: point(x + (LINK - BOX) / 2.0, y), radius: 0.6, stroke: None, fill: Fill::Ink });
        items.push(joint(link.before, x + (LINK - BOX) / 2.0, y));
        if place == 0 {
            items.push(Item::Text(Text::new(point(0.0, y - box_height / 2.0 - 3.6), ends.0.clone(), TYPE).in_bold()));
        }
        let fill = if link.is_resistor { Fill::Light } else { Fill::Paper };
        items.push(Item::Rectangle { area, stroke: Some(Stroke::PLAIN), fill });
        for (line, text) in link.lines.iter().enumerate() {
            let top = y - (link.lines.len() as f64 - 1.0) * LINE / 2.0 + 0.9;
            let at = point(area.x + BOX / 2.0, top + line as f64 * LINE);
            items.push(Item::Text(Text::new(at, text.clone(), TYPE).anchored(Anchor::Middle)));
        }
        if place + 1 == links.len() {
            let end = area.right() + (LINK - BOX) / 2.0;
            items.push(Item::Line { from: point(area.right(), y), to: point(end, y), stroke: Stroke::PLAIN });
            items.push(Item::Circle { centre: point(end, y), radius: 0.6, stroke: None, fill: Fill::Ink });
            items.push(joint(link.after, end, y));
            let at = point(end + 4.0, y + box_height / 2.0 + 3.2);
            items.push(Item::Text(Text::new(at, ends.1.clone(), TYPE).in_bold().anchored(Anchor::End)));
        }
    }
    let columns = links.len().min(per_row) as f64;
    Picture { width: (columns * LINK + LINK / 2.0).min(width.max(LINK)), height: rows as f64 * row_height, items }
}

/// Volts above a joint.
fn joint(volts: Option<f64>, x: f64, y: f64) -> Item {
    let text = decimal::fixed(volts.unwrap_or(f64::NAN), 1);
    Item::Text(Text::new(point(x, y - 1.6), text, TYPE).anchored(Anchor::Middle))
}
