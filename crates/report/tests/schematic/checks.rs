//! What a schematic must keep: nothing overlaps, everything is written, and wires and names say what the circuit says.

use design::model::{Circuit, NodeKind, PartKind};
use report::draw::{Area, Item, Pattern, Picture, Point, point};
use report::schematic::{Schematic, Traced, traced};
use report::sentence::volts;
use std::collections::BTreeMap;

/// Widths of a printed page and of a phone, millimetres.
const WIDTHS: [f64; 2] = [170.0, 90.0];

/// Smallest type that is read without effort in print, millimetres (common practice, no source).
const SMALLEST_TYPE: f64 = 2.2;

fn wire_area(wire: &[Point; 2]) -> Area {
    Area {
        x: wire[0].x.min(wire[1].x),
        y: wire[0].y.min(wire[1].y),
        width: (wire[0].x - wire[1].x).abs(),
        height: (wire[0].y - wire[1].y).abs(),
    }
}

/// Whether a wire (an area without width or height) has a point inside an area made smaller by a twentieth of a millimetre.
fn enters(wire: &[Point; 2], area: &Area) -> bool {
    let (wire, inner) = (wire_area(wire), area.grown(-0.05));
    wire.x < inner.right()
        && inner.x < wire.right().max(wire.x + 1e-9)
        && wire.y < inner.bottom()
        && inner.y < wire.bottom().max(wire.y + 1e-9)
}

fn on(at: Point, wire: &[Point; 2]) -> bool {
    wire_area(wire).grown(1e-3).contains(at)
}

/// Sets of things that belong together.
struct Sets(Vec<usize>);

impl Sets {
    fn new(count: usize) -> Self {
        Self((0..count).collect())
    }

    fn root(&self, mut of: usize) -> usize {
        while self.0[of] != of {
            of = self.0[of];
        }
        of
    }

    fn join(&mut self, a: usize, b: usize) {
        let (a, b) = (self.root(a), self.root(b));
        self.0[a] = b;
    }
}

/// Wires joined where an end of one touches another.
fn joined(drawing: &Traced) -> Sets {
    let wires = &drawing.wires;
    let mut sets = Sets::new(wires.len());
    for (idx, wire) in wires.iter().enumerate() {
        for (other_idx, other) in wires.iter().enumerate().skip(idx + 1) {
            let touch =
                wire.iter().any(|end| on(*end, other)) || other.iter().any(|end| on(*end, wire));
            if touch {
                sets.join(idx, other_idx);
            }
        }
    }
    sets
}

fn sizes(items: &[Item], found: &mut Vec<f64>) {
    for item in items {
        match item {
            Item::Text(text) => found.push(text.size),
            Item::Group { items, .. } => sizes(items, found),
            _ => {}
        }
    }
}

/// The edges of the frames round changed parts: the only dashed rectangles of a schematic.
fn frame_edges(items: &[Item]) -> Vec<[Point; 2]> {
    let frames = items.iter().filter_map(|item| match item {
        Item::Rectangle {
            area,
            stroke: Some(stroke),
            ..
        } if stroke.pattern == Pattern::Dashed => Some(area),
        _ => None,
    });
    let edges = frames.flat_map(|area| {
        let (left, right) = (area.x, area.right());
        let (top, bottom) = (area.y, area.bottom());
        [
            [point(left, top), point(right, top)],
            [point(left, bottom), point(right, bottom)],
            [point(left, top), point(left, bottom)],
            [point(right, top), point(right, bottom)],
        ]
    });
    edges.collect()
}

/// Where the frame of a changed part lies along a wire or on a text.
fn frame_faults(drawing: &Traced) -> Vec<String> {
    /// A wire nearer than this to an edge beside it seems to be one with it, millimetres.
    const BESIDE: f64 = 0.6;
    let mut faults = Vec::new();
    for edge in frame_edges(&drawing.picture.items) {
        let (is_level, room) = (edge[0].y == edge[1].y, wire_area(&edge).grown(BESIDE));
        for wire in &drawing.wires {
            if (wire[0].y == wire[1].y) == is_level && room.overlaps(&wire_area(wire)) {
                faults.push(format!("a frame lies along a wire: {edge:?} {wire:?}"));
            }
        }
        for (content, area) in drawing.picture.text_areas() {
            if enters(&edge, &area) {
                faults.push(format!("a frame crosses \"{content}\""));
            }
        }
    }
    faults
}

/// What overlaps, leaves the sheet or is too small.
fn layout_faults(drawing: &Traced, width: f64) -> Vec<String> {
    let picture: &Picture = &drawing.picture;
    let mut faults = picture.text_faults();
    faults.extend(frame_faults(drawing));
    let texts = picture.text_areas();
    for (idx, symbol) in drawing.symbols.iter().enumerate() {
        for (content, area) in &texts {
            if area.overlaps(symbol) {
                faults.push(format!("\"{content}\" overlaps a symbol"));
            }
        }
        for other in &drawing.symbols[idx + 1..] {
            if symbol.overlaps(other) {
                faults.push(format!("symbols overlap at {symbol:?} {other:?}"));
            }
        }
        for wire in drawing.wires.iter().filter(|wire| enters(wire, symbol)) {
            faults.push(format!("a wire crosses a symbol: {wire:?} {symbol:?}"));
        }
    }
    for wire in &drawing.wires {
        for (content, area) in &texts {
            if enters(wire, area) {
                faults.push(format!("a wire crosses \"{content}\""));
            }
        }
    }
    let sets = joined(drawing);
    for (idx, wire) in drawing.wires.iter().enumerate() {
        for (other_idx, other) in drawing.wires.iter().enumerate().skip(idx + 1) {
            if sets.root(idx) != sets.root(other_idx)
                && wire_area(wire)
                    .grown(1e-3)
                    .overlaps(&wire_area(other).grown(1e-3))
            {
                faults.push(format!("wires cross: {wire:?} {other:?}"));
            }
        }
    }
    if width + 1e-6 < picture.width {
        faults.push(format!("{} wide, may be {width}", picture.width));
    }
    let mut type_sizes = Vec::new();
    sizes(&picture.items, &mut type_sizes);
    if type_sizes.iter().any(|size| *size < SMALLEST_TYPE) {
        faults.push("type too small".to_owned());
    }
    faults
}

/// The nets of a part's terminals, in the order of the drawing's record.
fn nets_of(kind: &PartKind) -> Vec<(usize, usize)> {
    let pairs = |ends: [usize; 2]| vec![(0, ends[0]), (1, ends[1])];
    match kind {
        PartKind::Trimmer { ends, slider, .. } => vec![(0, ends[0]), (1, ends[1]), (2, *slider)],
        PartKind::Resistor { ends, .. }
        | PartKind::Capacitor { ends, .. }
        | PartKind::Inductor { ends, .. }
        | PartKind::Neon { ends, .. }
        | PartKind::Switch { ends, .. } => pairs(*ends),
        PartKind::Diode { anode, cathode, .. } => pairs([*anode, *cathode]),
        PartKind::Source { plus, minus, .. } => pairs([*plus, *minus]),
        PartKind::Tube(tube) => [
            Some(tube.plate),
            tube.grid,
            tube.screen,
            tube.suppressor,
            Some(tube.cathode),
        ]
        .into_iter()
        .enumerate()
        .filter_map(|(electrode, node)| Some((electrode, node?)))
        .collect(),
    }
}

/// Where the drawing's wires and names say something else than the circuit.
fn untruths(drawing: &Traced, circuit: &Circuit) -> Vec<String> {
    let mut faults = Vec::new();
    let mut sets = joined(drawing);
    let mut wire_at: BTreeMap<(i64, i64), usize> = BTreeMap::new();
    let key = |at: Point| ((at.x * 1e2).round() as i64, (at.y * 1e2).round() as i64);
    for (idx, wire) in drawing.wires.iter().enumerate() {
        for end in wire {
            wire_at.insert(key(*end), idx);
        }
    }
    let find = |at: Point| drawing.wires.iter().position(|wire| on(at, wire));
    let mut named: BTreeMap<&str, usize> = BTreeMap::new();
    let mut bare: BTreeMap<&str, Vec<Point>> = BTreeMap::new();
    for name in &drawing.names {
        match find(name.at) {
            Some(wire) => match named.get(name.net.as_str()) {
                Some(&other) => sets.join(wire, other),
                None => {
                    named.insert(&name.net, wire);
                }
            },
            None => bare.entry(&name.net).or_default().push(name.at),
        }
    }
    let mut seen: BTreeMap<(usize, usize), usize> = BTreeMap::new();
    let mut net_of_set: BTreeMap<usize, &str> = BTreeMap::new();
    let mut set_of_net: BTreeMap<&str, usize> = BTreeMap::new();
    for (part, info) in circuit.parts.iter().enumerate() {
        for (electrode, node) in nets_of(&info.kind) {
            let places: Vec<Point> = drawing
                .terminals
                .iter()
                .filter(|terminal| terminal.part == part && terminal.electrode == electrode)
                .map(|terminal| terminal.at)
                .collect();
            *seen.entry((part, electrode)).or_default() += places.len();
            let [at] = places[..] else {
                faults.push(format!(
                    "{} {electrode} drawn {} times",
                    info.mark,
                    places.len()
                ));
                continue;
            };
            let net = circuit.nodes[node].name.as_str();
            let Some(wire) = find(at) else {
                // A slider's name may stand at its arrow.
                let near = |place: &Point| (place.x - at.x).abs() + (place.y - at.y).abs() < 1e-6;
                let said = bare.get(net).is_some_and(|places| places.iter().any(near));
                if !said {
                    faults.push(format!("{} {electrode} hangs in the air", info.mark));
                }
                continue;
            };
            let set = sets.root(wire);
            if *net_of_set.entry(set).or_insert(net) != net {
                faults.push(format!(
                    "{} {electrode}: {net} is drawn joined to {}",
                    info.mark, net_of_set[&set]
                ));
            }
            if *set_of_net.entry(net).or_insert(set) != set {
                faults.push(format!("{} {electrode}: {net} is drawn apart", info.mark));
            }
        }
    }
    if seen.values().sum::<usize>() != drawing.terminals.len() {
        faults.push("terminals of no part".to_owned());
    }
    faults
}

/// Marks, names and volts that a reader looks for and does not find: every part's mark once, every net's name and volts.
fn unwritten(drawing: &Traced, subject: &Schematic) -> Vec<String> {
    let texts: Vec<&str> = drawing
        .picture
        .text_areas()
        .into_iter()
        .map(|text| text.0)
        .collect();
    // Long names are broken into lines.
    let all = texts.concat();
    let mut faults = Vec::new();
    for (part, info) in subject.circuit.parts.iter().enumerate() {
        let alone = subject.unit.is_none_or(|unit| unit.places.is_empty());
        let is_tube = matches!(info.kind, PartKind::Tube(_));
        let count = texts.iter().filter(|text| **text == info.mark).count();
        if (alone || !is_tube) && count != 1 {
            faults.push(format!("{} written {count} times", info.mark));
        }
        for (_, node) in nets_of(&subject.circuit.parts[part].kind) {
            let net = &subject.circuit.nodes[node];
            let supply = matches!(net.kind, NodeKind::Ground | NodeKind::Rail(_));
            let volts = subject
                .state
                .filter(|_| !supply)
                .map(|state| volts(state.volts[node]));
            if net.kind != NodeKind::Ground && !all.contains(&net.name) {
                faults.push(format!("{} is not named", net.name));
            }
            if volts
                .as_ref()
                .is_some_and(|volts| !all.contains(volts.as_str()))
            {
                faults.push(format!("{} has no volts", net.name));
            }
        }
    }
    faults
}

/// All of these, at both widths, and the same again when drawn again.
pub fn check(name: &str, subject: &Schematic) {
    for width in WIDTHS {
        let drawing = traced(subject, width);
        let mut faults = layout_faults(&drawing, width);
        faults.extend(untruths(&drawing, subject.circuit));
        faults.extend(unwritten(&drawing, subject));
        assert_eq!(faults, Vec::<String>::new(), "{name} at {width}");
        let again = traced(subject, width);
        assert_eq!(drawing, again, "{name} differs when drawn again");
    }
}
