//! Heater strings drawn in their order: supply, every heater with its volts and the share of its rating, resistors, the way
//! back, and the volts at every joint.

use crate::decimal;
use crate::draw::{Anchor, Area, Fill, Item, Picture, Point, Stroke, Text, point};
use crate::drawing::{Drawing, UPRIGHT_WIDTH};
use crate::sentence;
use crate::words::Wording;
use design::model::{self, Design, HeaterString, SocketId, Terminal};
use network::finding::Finding;
use network::heaters::HeaterReading;
use network::verdict::Verdict;
use text::quantity::Unit;

/// One heater string as a drawing of its own.
#[must_use]
pub fn drawing(verdict: &Verdict, string: usize, wording: Wording) -> Drawing {
    let name = &verdict.plan.design.strings[string].name;
    Drawing {
        title: format!("Heater string {name}"),
        legend: wording.apply(&format!("{} {LEGEND}", current(verdict, string))),
        sheets: vec![draw(verdict, string, UPRIGHT_WIDTH)],
        legend_above: 0,
    }
}

/// How drawings of strings are to be read.
pub const LEGEND: &str = "Above the joints volts to ground, in the boxes volts across and their share of the rating. Grey boxes are \
    what is no heater, heavy boxes heaters too far from their rating.";

/// The current of a string.
#[must_use]
pub fn current(verdict: &Verdict, string: usize) -> String {
    let reading = verdict.heaters.strings.get(string);
    let Some(amps) = reading.and_then(|reading| reading.amps) else {
        return "its current is not known.".to_owned();
    };
    let warm = sentence::shown(amps.abs(), Unit::Ampere);
    let rms = rms(verdict, string).map_or(String::new(), |rms| format!(" Its volts are {rms}."));
    match reading.and_then(|reading| reading.cold_amps) {
        Some([least, usual, most]) => format!(
            "{warm} with warm heaters; switched on cold usually {}, from {} to {}.{rms}",
            sentence::shown(usual, Unit::Ampere),
            sentence::shown(least, Unit::Ampere),
            sentence::shown(most, Unit::Ampere)
        ),
        None => {
            format!("{warm} with warm heaters; a cold string takes several times as much.{rms}")
        }
    }
}

/// What the volts of a string are if they alternate: "rms on 60 V".
fn rms(verdict: &Verdict, string: usize) -> Option<String> {
    let mut readings = verdict.heaters.readings.iter();
    let first = readings.find(|reading| reading.string == string)?;
    sentence::rms(first.alternates, first.stands_on_volts)
}

/// Draws a string (index into the design's strings) from left to right, in as many rows as `width` millimetres ask for.
#[must_use]
pub fn draw(verdict: &Verdict, string: usize, width: f64) -> Picture {
    let links = links(verdict, string);
    let design = verdict.plan.design;
    let ends = (
        terminal(design, design.strings[string].from),
        terminal(design, design.strings[string].to),
    );
    draw_links(&links, &ends, width)
}

/// One thing in a string, with the volts at its two ends where they are known.
struct Link {
    branches: Vec<Branch>,
    before: Option<f64>,
    after: Option<f64>,
}

/// A heater or a resistor; several side by side share their joints.
struct Branch {
    lines: Vec<String>,
    is_resistor: bool,
    is_off: bool,
}

fn links(verdict: &Verdict, index: usize) -> Vec<Link> {
    let string: &HeaterString = &verdict.plan.design.strings[index];
    let links = string.links.iter().enumerate();
    links
        .map(|(place, link)| drawn(verdict, index, place, link))
        .collect()
}

/// One part, or several side by side.
fn drawn(verdict: &Verdict, string: usize, place: usize, link: &model::Link) -> Link {
    let solved = verdict.heaters.strings.get(string);
    let joint = |place: usize| solved.and_then(|solved| solved.joint_volts.get(place).copied());
    let alternates = rms(verdict, string).is_some();
    let across = solved.and_then(|solved| solved.link_volts(place));
    let volts = across.map(|volts| said(volts.abs(), alternates));
    let reading = |socket: SocketId| {
        let mut all = verdict.heaters.readings.iter();
        all.find(|one| one.string == string && one.socket == socket)
    };
    let branch = |branch: &model::Branch| match branch {
        model::Branch::Heater { socket, .. } => heater(verdict, *socket, reading(*socket)),
        model::Branch::Resistor { mark, ohms, .. } => {
            other(mark, sentence::shown(*ohms, Unit::Ohm), &volts)
        }
        model::Branch::Thermistor {
            mark,
            law,
            hot_ohms,
            ..
        } => {
            let [cold, hot] =
                [law.cold_ohms, *hot_ohms].map(|ohms| sentence::shown(ohms, Unit::Ohm));
            other(mark, format!("{cold} to {hot}"), &volts)
        }
        model::Branch::Ballast { mark, amps, .. } => {
            let value = format!("holds {}", sentence::shown(*amps, Unit::Ampere));
            other(mark, value, &volts)
        }
        model::Branch::Conductor {
            on_board, metres, ..
        } => {
            let name = if *on_board { "copper" } else { "wire" };
            other(name, sentence::shown(*metres, Unit::Metre), &volts)
        }
    };
    Link {
        branches: link.branches.iter().map(branch).collect(),
        before: joint(place),
        after: joint(place + 1),
    }
}

/// Volts across a part.
fn said(volts: f64, alternates: bool) -> String {
    let rms = if alternates { " rms" } else { "" };
    format!("{}{rms}", sentence::volts(volts))
}

/// What is no heater: its name, its value, the volts across it where they are known.
fn other(name: &str, value: String, volts: &Option<String>) -> Branch {
    let mut lines = vec![name.to_owned(), value];
    lines.extend(volts.clone());
    Branch {
        lines,
        is_resistor: true,
        is_off: false,
    }
}

fn heater(verdict: &Verdict, socket: SocketId, reading: Option<&HeaterReading>) -> Branch {
    let place = &verdict.plan.design.sockets[socket.0];
    let mark = &place.mark;
    let device = &place.device.name;
    let Some(one) = reading else {
        return Branch {
            lines: vec![format!("{mark} {device}"), "not known".to_owned()],
            is_resistor: false,
            is_off: false,
        };
    };
    let tap = if one.tapped { " tapped" } else { "" };
    let volts = said(one.across(), one.alternates);
    let share = format!("{} %", decimal::fixed(100.0 * one.share(), 0));
    let mut lines = vec![format!("{mark} {device}{tap}")];
    if one.alternates {
        // Both are too wide for one line of the box.
        lines.extend([volts, share]);
    } else {
        lines.push(format!("{volts}, {share}"));
    }
    Branch {
        lines,
        is_resistor: false,
        is_off: is_off(&verdict.heaters.findings, mark),
    }
}

/// Findings on a heater that is off its rating.
const OFF: [&str; 3] = ["heater-volts", "heater-tap", "heater-unlike"];

/// Whether the volts of a tube's heater are a finding, on their own or as a consequence of another's.
fn is_off(findings: &[Finding], mark: &str) -> bool {
    findings.iter().any(|finding| {
        (OFF.contains(&finding.name) && finding.subject == mark)
            || is_off(&finding.consequences, mark)
    })
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
const LINK: f64 = 30.0;
const BOX: f64 = 21.0;
const LINE: f64 = 3.6;
const TYPE: f64 = 2.6;
/// Between heaters side by side.
const BESIDE: f64 = 2.0;

impl Branch {
    fn height(&self) -> f64 {
        self.lines.len() as f64 * LINE + 2.5
    }
}

impl Link {
    fn height(&self) -> f64 {
        let boxes: f64 = self.branches.iter().map(Branch::height).sum();
        boxes + BESIDE * (self.branches.len().max(1) - 1) as f64
    }

    /// How far above its joints the uppermost of several branches is wired.
    fn rise(&self) -> f64 {
        match &self.branches[..] {
            [first, _, ..] => (self.height() - first.height()) / 2.0,
            _ => 0.0,
        }
    }
}

/// The string from left to right, in as many rows as it needs.
fn draw_links(links: &[Link], ends: &(String, String), width: f64) -> Picture {
    let per_row = (((width - LINK / 2.0) / LINK).floor() as usize).max(1);
    let to_joint = (LINK - BOX) / 2.0;
    let mut items = Vec::new();
    let mut top = 7.0;
    for (row, links_of_row) in links.chunks(per_row).enumerate() {
        let height = links_of_row.iter().map(Link::height).fold(0.0, f64::max);
        let y = top + height / 2.0;
        for (column, link) in links_of_row.iter().enumerate() {
            let place = row * per_row + column;
            let x = column as f64 * LINK;
            items.push(wire(point(x, y), point(x + to_joint, y)));
            items.extend(branches(link, point(x + to_joint, y)));
            // Branches on either side of a joint begin above it, and their common wire would strike through its volts.
            let earlier = column.checked_sub(1).map(|column| &links_of_row[column]);
            let above = earlier.map_or(0.0, Link::rise).max(link.rise());
            items.extend(joint(link.before, point(x + to_joint, y), above));
            if place == 0 {
                let above = point(0.0, y - height / 2.0 - 1.5);
                let from = Text::new(above, ends.0.clone(), TYPE).in_bold();
                items.push(Item::Text(from));
            }
            if place + 1 == links.len() {
                let end = x + LINK + to_joint;
                items.extend(joint(link.after, point(end, y), link.rise()));
                let to = Text::new(
                    point(end + 4.0, y + height / 2.0 + 3.2),
                    ends.1.clone(),
                    TYPE,
                );
                items.push(Item::Text(to.in_bold().anchored(Anchor::End)));
            }
        }
        top += height + 9.0;
    }
    let columns = links.len().min(per_row) as f64;
    Picture {
        width: columns * LINK + LINK / 2.0,
        height: (top - 5.0).max(0.0),
        items,
    }
}

fn wire(from: Point, to: Point) -> Item {
    Item::Line {
        from,
        to,
        stroke: Stroke::PLAIN,
    }
}

/// What stands between the joint `from` and the next, one below the other where there are several.
fn branches(link: &Link, from: Point) -> Vec<Item> {
    let side = (LINK - BOX) / 2.0;
    let to = from.x + LINK;
    let mut top = from.y - link.height() / 2.0;
    let mut heights = Vec::new();
    let mut items = Vec::new();
    for branch in &link.branches {
        let area = Area {
            x: from.x + side,
            y: top,
            width: BOX,
            height: branch.height(),
        };
        let y = area.y + area.height / 2.0;
        // Where there are several, their common wires stand half way between joint and boxes.
        let out = if link.branches.len() == 1 {
            0.0
        } else {
            side / 2.0
        };
        items.push(wire(point(from.x + out, y), point(area.x, y)));
        items.push(wire(point(area.right(), y), point(to - out, y)));
        items.extend(boxed(branch, area));
        heights.push(y);
        top = area.bottom() + BESIDE;
    }
    if let [first, .., last] = heights[..] {
        for (x, joint) in [(from.x + side / 2.0, from.x), (to - side / 2.0, to)] {
            items.push(wire(point(x, first), point(x, last)));
            items.push(wire(point(joint, from.y), point(x, from.y)));
        }
    }
    items
}

/// A heater or a resistor.
fn boxed(branch: &Branch, area: Area) -> Vec<Item> {
    let mut items = vec![Item::Rectangle {
        area,
        stroke: Some(if branch.is_off {
            Stroke::HEAVY
        } else {
            Stroke::PLAIN
        }),
        fill: if branch.is_resistor {
            Fill::Light
        } else {
            Fill::Paper
        },
    }];
    let middle = area.y + area.height / 2.0 + 0.9;
    let first = middle - (branch.lines.len() as f64 - 1.0) * LINE / 2.0;
    items.extend(branch.lines.iter().enumerate().map(|(line, content)| {
        let at = point(area.x + area.width / 2.0, first + line as f64 * LINE);
        let text = Text::new(at, content.clone(), TYPE).anchored(Anchor::Middle);
        Item::Text(if line == 0 || branch.is_off {
            text.in_bold()
        } else {
            text
        })
    }));
    items
}

/// A joint with its volts above it, and above the wires that rise `rise` millimetres from it.
fn joint(volts: Option<f64>, at: Point, rise: f64) -> [Item; 2] {
    let text = decimal::fixed(volts.unwrap_or(f64::NAN), 1);
    let dot = Item::Circle {
        centre: at,
        radius: 0.6,
        stroke: None,
        fill: Fill::Ink,
    };
    let above = point(at.x, at.y - rise - 1.6);
    [
        dot,
        Item::Text(Text::new(above, text, TYPE).anchored(Anchor::Middle)),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Whether a wire goes through an area; wires run along the sheet or down it.
    fn strikes(item: &Item, area: &Area) -> bool {
        let Item::Line { from, to, .. } = item else {
            return false;
        };
        let wire = Area {
            x: from.x.min(to.x),
            y: from.y.min(to.y),
            width: (from.x - to.x).abs(),
            height: (from.y - to.y).abs(),
        };
        wire.overlaps(area)
    }

    #[test]
    fn texts_of_a_string_stay_apart_on_page_and_phone() {
        let branch = |mark: &str, is_resistor| Branch {
            lines: ["12.60 V rms", "12.60 V, 100 %"]
                .map(str::to_owned)
                .into_iter()
                .chain([mark.to_owned()])
                .collect(),
            is_resistor,
            is_off: is_resistor,
        };
        let link = |branches| Link {
            branches,
            before: Some(-125.2),
            after: None,
        };
        let mut links: Vec<Link> = (0..9)
            .map(|_| link(vec![branch("V112 tapped", false)]))
            .collect();
        links.push(link(vec![
            branch("V3", false),
            branch("V4", false),
            branch("V5", false),
        ]));
        links.push(link(vec![branch("R91", true)]));
        let ends = ("heat".to_owned(), "ground".to_owned());
        for width in [190.0, 170.0, 90.0, 10.0] {
            let picture = draw_links(&links, &ends, width);
            assert_eq!(picture.text_faults(), Vec::<String>::new(), "{width}");
            for (content, area) in picture.text_areas() {
                for item in &picture.items {
                    assert!(!strikes(item, &area), "{width}: {item:?} through {content}");
                }
            }
            assert!(picture.width <= width.max(1.5 * LINK), "{width}");
        }
        assert!(draw_links(&[], &ends, 90.0).items.is_empty());
    }
}
