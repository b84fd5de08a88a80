//! The picture: boxes in their layers, lines in their channels, names and volts at the inputs.

use super::boxes::{Grade, Input, Kind, Node};
use super::layers::{GRID, Placed, Slot, closed_up, height, input_offset, output_offset};
use super::wires::{Run, Wires, tracks, wires};
use crate::decimal;
use crate::draw::width::{fitted, text_width};
use crate::draw::{
    Anchor, Area, Fill, Ink, Item, Pattern, Picture, Point, Step, Stroke, Text, Weight, point,
};

/// Width of a box.
const BOX: f64 = 23.0;
/// Length of the end of a line at an input, with its texts.
const STUB: f64 = 19.0;
/// Between upright tracks.
const TRACK: f64 = 1.6;
/// Free beside the tracks.
const LEAD: f64 = 1.6;
/// Free above and below.
const MARGIN: f64 = 1.0;
const NAME_TYPE: f64 = 2.6;
const NOTE_TYPE: f64 = 2.2;
const SIGNAL_TYPE: f64 = 2.0;

/// Draws boxes in one piece, or in strips of at most `width` millimetres that each hold at least a layer.
pub fn draw(nodes: &[Node], placed: &Placed, width: Option<f64>) -> Vec<Picture> {
    let mut pictures = Vec::new();
    let mut first = 0;
    while first < placed.layers.len() {
        let mut strip = Strip::new(nodes, placed, first, first + 1);
        for end in first + 2..=placed.layers.len() {
            let longer = Strip::new(nodes, placed, first, end);
            if width.is_some_and(|width| width < longer.width()) {
                break;
            }
            strip = longer;
        }
        pictures.push(strip.picture());
        first = strip.end;
    }
    pictures
}

/// Some neighbouring layers.
struct Strip<'a> {
    nodes: &'a [Node],
    placed: Placed,
    wires: Wires,
    first: usize,
    end: usize,
    /// Left edges of the channels before each layer and of the one behind the last.
    channels: Vec<f64>,
    /// Left and right edge of each layer.
    columns: Vec<(f64, f64)>,
    /// Upper edge of the highest thing.
    top: f64,
}

impl<'a> Strip<'a> {
    fn new(nodes: &'a [Node], whole: &Placed, first: usize, end: usize) -> Strip<'a> {
        let placed = closed_up(nodes, whole, first, end);
        let slots = || placed.layers[first..end].iter().flatten();
        let bottom = slots()
            .map(|&(slot, top)| (top + height(nodes, slot)) as f64 * GRID)
            .fold(0.0, f64::max);
        let top = slots()
            .map(|&(_, top)| top as f64 * GRID)
            .fold(f64::INFINITY, f64::min);
        let wires = wires(nodes, &placed, first, end, bottom);
        let top = if top.is_finite() { top } else { 0.0 };
        let mut strip = Strip {
            nodes,
            placed,
            wires,
            first,
            end,
            channels: Vec::new(),
            columns: Vec::new(),
            top,
        };
        let mut x = MARGIN;
        for layer in first..end {
            strip.channels.push(x);
            let lines = tracks(&strip.wires.channels[layer - first]);
            if 0 < lines {
                x += 2.0 * LEAD + lines as f64 * TRACK;
            }
            if strip.has_inputs(layer) {
                x += STUB;
            }
            let column = (x, x + strip.column_width(layer));
            strip.columns.push(column);
            x = column.1;
        }
        strip.channels.push(x);
        strip
    }

    fn boxes(&self, layer: usize) -> impl Iterator<Item = (usize, f64)> {
        let slots = self.placed.layers[layer].iter();
        slots.filter_map(|&(slot, top)| match slot {
            Slot::Box(index) => Some((index, top as f64 * GRID)),
            Slot::Pass(_) => None,
        })
    }

    fn has_inputs(&self, layer: usize) -> bool {
        self.boxes(layer)
            .any(|(index, _)| !self.nodes[index].inputs.is_empty())
    }

    fn column_width(&self, layer: usize) -> f64 {
        let each = self.boxes(layer).map(|(index, _)| {
            let node = &self.nodes[index];
            match node.kind {
                Kind::Unit | Kind::Closed => BOX,
                Kind::Enters | Kind::Leaves => {
                    (text_width(&node.name, NOTE_TYPE, true) + 3.0).min(BOX)
                }
            }
        });
        each.fold(0.0, f64::max)
    }

    fn width(&self) -> f64 {
        let behind = tracks(&self.wires.channels[self.end - self.first]);
        let room = if behind == 0 {
            0.0
        } else {
            2.0 * LEAD + behind as f64 * TRACK
        };
        self.channels[self.end - self.first] + room + MARGIN
    }

    fn picture(&self) -> Picture {
        let mut items = Vec::new();
        for (channel, runs) in self.wires.channels.iter().enumerate() {
            for run in runs.values() {
                self.run(channel, run, &mut items);
            }
        }
        self.backs(&mut items);
        for layer in self.first..self.end {
            self.passes(layer, &mut items);
            for (index, top) in self.boxes(layer) {
                self.node(layer, index, top, &mut items);
            }
        }
        Picture {
            width: self.width(),
            height: self.wires.height - self.top + 2.0 * MARGIN,
            items: vec![Item::Group {
                offset: point(0.0, MARGIN - self.top),
                clip: None,
                items,
            }],
        }
    }

    /// Where lines come into a channel, where the upright track is, and where lines leave it.
    fn edges(&self, channel: usize, run: &Run) -> (f64, f64, f64) {
        let left = self.channels[channel];
        let right = self.columns.get(channel).map_or(left, |column| column.0);
        let track = run
            .track
            .map_or(left, |track| left + LEAD + (track as f64 + 0.5) * TRACK);
        (left, track, right)
    }

    fn run(&self, channel: usize, run: &Run, items: &mut Vec<Item>) {
        let (left, track, right) = self.edges(channel, run);
        for &y in &run.left {
            items.push(line(point(left, y), point(track, y)));
        }
        for &(y, is_input) in &run.right {
            let end = if is_input { right - STUB } else { right };
            items.push(line(point(track, y), point(end, y)));
        }
        if run.track.is_none() {
            return;
        }
        let mut heights = run.heights();
        heights.sort_by(f64::total_cmp);
        if let [low, .., high] = heights[..] {
            items.push(line(point(track, low), point(track, high)));
            heights.retain(|&y| low < y && y < high);
        }
        items.extend(heights.into_iter().map(|y| Item::Circle {
            centre: point(track, y),
            radius: 0.55,
            stroke: None,
            fill: Fill::Ink,
        }));
    }

    fn backs(&self, items: &mut Vec<Item>) {
        for back in &self.wires.backs {
            let at = |channel: usize| {
                let channel = channel - self.first;
                let run = self.wires.channels[channel].get(&back.net);
                run.map(|run| self.edges(channel, run).1)
            };
            let tracks: Vec<f64> = (back.to..=back.from).filter_map(at).collect();
            let [left, .., right] = tracks[..] else {
                continue;
            };
            items.push(line(point(left, back.y), point(right, back.y)));
            for &x in &tracks[1..tracks.len() - 1] {
                items.push(Item::Circle {
                    centre: point(x, back.y),
                    radius: 0.55,
                    stroke: None,
                    fill: Fill::Ink,
                });
            }
            let middle = f64::midpoint(left, right);
            items.push(head(point(middle, back.y), -1.0));
        }
    }

    /// Lines that go through a layer.
    fn passes(&self, layer: usize, items: &mut Vec<Item>) {
        let (left, right) = self.columns[layer - self.first];
        let passing = self.wires.channels[layer - self.first].values();
        let heights = passing.flat_map(|run| &run.right).filter(|end| !end.1);
        items.extend(heights.map(|&(y, _)| line(point(left, y), point(right, y))));
    }

    fn node(&self, layer: usize, index: usize, top: f64, items: &mut Vec<Item>) {
        let node = &self.nodes[index];
        let (left, right) = self.columns[layer - self.first];
        match node.kind {
            // Where its line is not drawn it stands at the other end.
            Kind::Enters if !self.is_used(index) => {}
            Kind::Enters => {
                let y = top + output_offset(node, 0);
                items.push(ring(point(right - 0.8, y)));
                let name = fitted(&node.name, NOTE_TYPE, true, right - left - 2.4);
                let name = Text::new(point(right - 2.2, y + 0.8), name, NOTE_TYPE);
                items.push(Item::Text(name.in_bold().anchored(Anchor::End)));
            }
            Kind::Leaves => {
                let name = fitted(&node.name, NOTE_TYPE, true, right - left - 1.0);
                let at = point(left + 0.8, top + input_offset(node, 0) + 0.8);
                items.push(Item::Text(Text::new(at, name, NOTE_TYPE).in_bold()));
            }
            Kind::Unit | Kind::Closed => self.boxed(node, point(left, top), items),
        }
        for (place, input) in node.inputs.iter().enumerate() {
            let y = top + input_offset(node, place);
            let is_joined = self.wires.joined.contains(&(index, place));
            self.stub(node, input, point(left, y), is_joined, items);
        }
    }

    /// Whether a line is drawn from a box.
    fn is_used(&self, index: usize) -> bool {
        self.wires.joined.iter().any(|&(to, input)| {
            let drivers = &self.nodes[to].inputs[input].drivers;
            drivers.first().is_some_and(|driver| driver.0 == index)
        })
    }

    fn boxed(&self, node: &Node, corner: Point, items: &mut Vec<Item>) {
        let area = Area {
            x: corner.x,
            y: corner.y,
            width: BOX,
            height: height_of(node),
        };
        let stroke = if node.kind == Kind::Closed {
            Stroke::HEAVY
        } else {
            Stroke::PLAIN
        };
        items.push(Item::Rectangle {
            area,
            stroke: Some(stroke),
            fill: Fill::Paper,
        });
        let middle = area.x + BOX / 2.0;
        let centred = |text: &str, y: f64, size: f64, bold: bool| {
            let content = fitted(text, size, bold, BOX - 1.6);
            let text = Text::new(point(middle, y), content, size).anchored(Anchor::Middle);
            Item::Text(if bold { text.in_bold() } else { text })
        };
        items.push(centred(&node.name, area.y + 3.2, NAME_TYPE, true));
        items.push(centred(&node.what, area.y + 6.2, NOTE_TYPE, false));
        let room = BOX / 2.0 - 1.5;
        for (place, input) in node.inputs.iter().enumerate() {
            let y = area.y + input_offset(node, place) + 0.7;
            let signal = fitted(&input.signal, SIGNAL_TYPE, false, room);
            let text = Text::new(point(area.x + 1.0, y), signal, SIGNAL_TYPE);
            items.push(Item::Text(text));
        }
        for (place, output) in node.outputs.iter().enumerate() {
            let y = area.y + output_offset(node, place) + 0.7;
            let signal = fitted(&output.signal, SIGNAL_TYPE, false, room);
            let text = Text::new(point(area.right() - 1.0, y), signal, SIGNAL_TYPE);
            items.push(Item::Text(text.anchored(Anchor::End)));
        }
    }

    /// The end of a line at an input, with the name of what comes and the volts to spare.
    fn stub(&self, node: &Node, input: &Input, end: Point, is_joined: bool, items: &mut Vec<Item>) {
        let tail = point(end.x - STUB, end.y);
        let stroke = match input.grade {
            Grade::Plain => Stroke::PLAIN,
            Grade::Thin => Stroke::new(Pattern::Dashed, Weight::Normal, Ink::Black),
            Grade::Short => Stroke::new(Pattern::DashDotted, Weight::Heavy, Ink::Black),
        };
        items.push(Item::Line {
            from: tail,
            to: point(end.x - 1.0, end.y),
            stroke,
        });
        items.push(head(end, 1.0));
        let driver = input.drivers.first().map(|driver| &self.nodes[driver.0]);
        if !is_joined && driver.is_some() {
            items.push(ring(point(tail.x + 0.7, tail.y)));
        }
        let inner = driver.filter(|driver| driver.kind != Kind::Enters);
        let start = tail.x + if is_joined { 0.8 } else { 1.8 };
        let room = end.x - 1.2 - start;
        let write = |text: &str, y: f64, bold: bool| {
            let content = fitted(text, NOTE_TYPE, bold, room);
            let text = Text::new(point(start, y), content, NOTE_TYPE);
            Item::Text(if bold { text.in_bold() } else { text })
        };
        // Of a name that is too long the end is kept, but never less than the word before it.
        let said = match inner {
            Some(driver) if !is_joined => ("from ", driver.name.as_str()),
            _ if node.kind == Kind::Leaves => ("", ""),
            _ => ("", input.net_name.as_str()),
        };
        if !said.1.is_empty() {
            let left = room - text_width(said.0, NOTE_TYPE, false);
            let name = fitted(said.1, NOTE_TYPE, false, left);
            items.push(write(&format!("{}{name}", said.0), end.y - 0.7, false));
        }
        if let Some(spare) = spare_text(input) {
            items.push(write(&spare, end.y + 2.3, input.grade != Grade::Plain));
        }
    }
}

fn height_of(node: &Node) -> f64 {
    height(std::slice::from_ref(node), Slot::Box(0)) as f64 * GRID
}

/// `8.9 / 18 V`, with a word where that is little or less than nothing.
fn spare_text(input: &Input) -> Option<String> {
    let (down, up) = input.spare?;
    if down.is_none() && up.is_none() {
        return Some("not judged".to_owned());
    }
    let one = |spare: Option<f64>| {
        spare.map_or("?".to_owned(), |spare| {
            decimal::fixed(spare, if spare.abs() < 9.95 { 1 } else { 0 })
        })
    };
    let word = match input.grade {
        Grade::Plain => "",
        Grade::Thin => " thin",
        Grade::Short => " short",
    };
    Some(format!("{} / {} V{word}", one(down), one(up)))
}

fn line(from: Point, to: Point) -> Item {
    Item::Line {
        from,
        to,
        stroke: Stroke::PLAIN,
    }
}

fn ring(centre: Point) -> Item {
    Item::Circle {
        centre,
        radius: 0.7,
        stroke: Some(Stroke::PLAIN),
        fill: Fill::Paper,
    }
}

/// An arrow's head with its tip at a point; `direction` is 1 to the right, -1 to the left.
fn head(tip: Point, direction: f64) -> Item {
    let back = tip.x - 1.8 * direction;
    Item::Path {
        steps: vec![
            Step::Move(tip),
            Step::Line(point(back, tip.y - 0.7)),
            Step::Line(point(back, tip.y + 0.7)),
            Step::Close,
        ],
        stroke: None,
        fill: Fill::Ink,
    }
}
