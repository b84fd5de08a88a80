//! Schematics of many circuits: nothing overlaps, and the wires and names say what the circuit says.

use design::model::{
    Circuit, CircuitId, Interface, Node, NodeKind, Part, PartKind, RailId, TubePart,
};
use design::read::{Reading, read};
use devices::library::Library;
use devices::types::TubeType;
use network::judge::{Context, PartReading, RowResult};
use network::levels::alone;
use network::scene::Assumptions;
use network::solve::Settings;
use report::draw::{Area, Item, Picture, Point};
use report::schematic::{Change, Schematic, Traced, traced};
use std::collections::BTreeMap;
use std::sync::Arc;
use text::source::Sources;

const CONTEXT: Context = Context {
    settings: Settings::STANDARD,
    assumptions: Assumptions::STANDARD,
};

/// Widths of a printed page and of a phone, millimetres.
const WIDTHS: [f64; 2] = [170.0, 90.0];

/// Smallest type that is read without effort in print, millimetres (common practice, no source).
const SMALLEST_TYPE: f64 = 2.2;

// ---- What a drawing must keep ----

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

/// What overlaps, leaves the sheet or is too small.
fn layout_faults(drawing: &Traced, width: f64) -> Vec<String> {
    let picture: &Picture = &drawing.picture;
    let mut faults = picture.text_faults();
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

fn check(name: &str, subject: &Schematic) {
    for width in WIDTHS {
        let drawing = traced(subject, width);
        let mut faults = layout_faults(&drawing, width);
        faults.extend(untruths(&drawing, subject.circuit));
        assert_eq!(faults, Vec::<String>::new(), "{name} at {width}");
        let again = traced(subject, width);
        assert_eq!(drawing, again, "{name} differs when drawn again");
    }
}

// ---- Designs ----

struct Folder(std::path::PathBuf);

impl Sources for Folder {
    fn read(&self, name: &str) -> Result<String, String> {
        std::fs::read_to_string(self.0.join(name)).map_err(|error| error.to_string())
    }
}

fn app() -> std::path::PathBuf {
    std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../app")
}

/// Every circuit of a design alone, and every unit with places, in its first and last row.
fn check_design(name: &str, reading: &Reading) -> usize {
    let Some(design) = &reading.design else {
        return 0;
    };
    let alone = alone(design, &CONTEXT);
    for (index, circuit) in design.circuits.iter().enumerate() {
        let rows = &alone.results[index].rows;
        let change = (!circuit.parts.is_empty()).then(|| Change {
            part: circuit.parts.len() - 1,
            was: "680k",
            before: rows.last(),
        });
        let subject = Schematic {
            design,
            circuit,
            unit: None,
            sources: &reading.sources,
            state: rows.first(),
            change: None,
        };
        let name = format!("{name} {}", circuit.name);
        check(&name, &subject);
        let unit = design
            .units
            .iter()
            .find(|unit| unit.circuit == CircuitId(index));
        check(
            &name,
            &Schematic {
                unit,
                state: rows.last(),
                change,
                ..subject
            },
        );
    }
    design.circuits.len()
}

#[test]
fn demo_and_gallery_are_drawn_clean_and_true() {
    let demo = app().join("demo/tidewatch");
    let mut count = check_design(
        "demo",
        &read("machine.valve", &Folder(demo), Library::shipped()),
    );
    let gallery = app().join("gallery");
    let files = std::fs::read_dir(&gallery).expect("the gallery is there");
    for file in files.flatten() {
        let name = file.file_name().to_string_lossy().into_owned();
        let reading = read(&name, &Folder(gallery.clone()), Library::shipped());
        count += check_design(&name, &reading);
    }
    assert!(60 < count, "only {count} circuits seen");
}

// ---- Random circuits ----

struct Numbers(u64);

impl Numbers {
    fn below(&mut self, count: usize) -> usize {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 33) as usize) % count.max(1)
    }
}

const BASE: &str = "valvewright format 1
machine Base
rail upper 36V 5%
rail lower -24V 5%
circuit each_kind
    inputs a, output y
    resistors 5% 0.5W: R1 680k a to m, R2 82k upper to y, R3 1M2 m to lower
    trimmers 20%: R4 100k m to lower slider w at 40%
    capacitors 10% 100V: C1 15p a to m
    inductors: L1 2H 100ohm y to n
    diodes 1N4148: CR1 m to ground, VR1 BZX-5V1 ground to w
    neons NE-2: DS1 upper to n
    switches: S1 n to y open, S2 m to w closed
    sources: BT1 1.5V w to ground
    tube V1 half 6922: plate y, grid m, cathode ground
    tube V2 6AS6: plate n, grid m, screen s, suppressor a, cathode w
    tube V3 DM160: plate n, grid m, filament ground
    resistors: R9 10k s to upper
";

struct Base(&'static str);

impl Sources for Base {
    fn read(&self, _: &str) -> Result<String, String> {
        Ok(self.0.to_owned())
    }
}

/// A circuit of `count` parts on `n_nodes` nets with kinds and ends by chance; also senseless ones.
fn random_circuit(
    numbers: &mut Numbers,
    samples: &[Part],
    tubes: &[Arc<TubeType>],
    count: usize,
    n_inner: usize,
) -> Circuit {
    let zero = samples[0].span;
    let n_signals = 1 + numbers.below(5);
    let inputs = numbers.below(n_signals + 1);
    let signals: Vec<String> = (0..n_signals).map(|idx| format!("s{idx}")).collect();
    let node = |name: String, kind| Node {
        name,
        kind,
        span: zero,
    };
    let mut nodes: Vec<Node> = (0..n_signals)
        .map(|idx| node(format!("s{idx}"), NodeKind::Signal(idx)))
        .collect();
    nodes.push(node("ground".to_owned(), NodeKind::Ground));
    nodes.push(node("upper".to_owned(), NodeKind::Rail(RailId(0))));
    nodes.push(node("lower".to_owned(), NodeKind::Rail(RailId(1))));
    for idx in 0..n_inner {
        let long = if numbers.below(12) == 0 {
            "ofTheVeryLongNamedNetOfAMachine"
        } else {
            ""
        };
        nodes.push(node(format!("n{idx}{long}"), NodeKind::Inner));
    }
    let mut parts = Vec::new();
    for idx in 0..count {
        let mut part = samples[numbers.below(samples.len())].clone();
        part.mark = format!("P{idx}");
        let mut any = || numbers.below(nodes.len());
        match &mut part.kind {
            PartKind::Trimmer { ends, slider, .. } => {
                *ends = [any(), any()];
                *slider = any();
            }
            PartKind::Resistor { ends, .. }
            | PartKind::Capacitor { ends, .. }
            | PartKind::Inductor { ends, .. }
            | PartKind::Neon { ends, .. }
            | PartKind::Switch { ends, .. } => *ends = [any(), any()],
            PartKind::Diode { anode, cathode, .. } => (*anode, *cathode) = (any(), any()),
            PartKind::Source { plus, minus, .. } => (*plus, *minus) = (any(), any()),
            PartKind::Tube(tube) => {
                let device = tubes[any() % tubes.len()].clone();
                *tube = random_tube(device, &mut any);
            }
        }
        parts.push(part);
    }
    Circuit {
        name: "random".to_owned(),
        interface: Interface { signals, inputs },
        says: Vec::new(),
        duties: Vec::new(),
        nodes,
        parts,
        span: zero,
    }
}

fn random_tube(device: Arc<TubeType>, any: &mut dyn FnMut() -> usize) -> TubePart {
    use devices::types::TubeKind;
    let grids = match device.kind {
        TubeKind::Diode => 0,
        TubeKind::Triode | TubeKind::IndicatorTriode => 1,
        TubeKind::Tetrode => 2,
        TubeKind::Pentode => 2 + any() % 2,
    };
    let mut grid = |at: usize| (at < grids).then(&mut *any);
    let (first, screen, suppressor) = (grid(0), grid(1), grid(2));
    TubePart {
        device,
        plate: any(),
        grid: first,
        screen,
        suppressor,
        cathode: any(),
    }
}

/// A row with volts and currents by chance.
fn random_state(numbers: &mut Numbers, like: &RowResult, circuit: &Circuit) -> RowResult {
    let mut value =
        || (numbers.below(20_000) as f64 - 10_000.0) * [1e-12, 1e-3, 0.01, 1.0][numbers.below(4)];
    let volts = circuit.nodes.iter().map(|_| value()).collect();
    let parts = circuit
        .parts
        .iter()
        .map(|_| PartReading {
            amps: value() * 1e-3,
            grid_amps: value() * 1e-5,
            screen_amps: value() * 1e-4,
            ..PartReading::default()
        })
        .collect();
    RowResult {
        volts,
        parts,
        ..like.clone()
    }
}

#[test]
fn random_circuits_are_drawn_clean_and_true() {
    let reading = read("machine.valve", &Base(BASE), Library::shipped());
    let said = text::diagnostic::render(&reading.diagnostics, &reading.sources, false);
    let design = reading.design.as_ref().expect(&said);
    let library = Library::shipped();
    let tubes: Vec<Arc<TubeType>> = library.tubes.to_vec();
    let like = alone(design, &CONTEXT).results[0].rows[0].clone();
    let samples = &design.circuits[0].parts;
    let mut numbers = Numbers(2024);
    for round in 0..300 {
        let count = match round % 6 {
            0 => 1 + numbers.below(4),
            5 => 60 + numbers.below(60),
            _ => 3 + numbers.below(25),
        };
        let n_inner = 1 + numbers.below(count);
        let circuit = random_circuit(&mut numbers, samples, &tubes, count, n_inner);
        let state = random_state(&mut numbers, &like, &circuit);
        let before = random_state(&mut numbers, &like, &circuit);
        let change = (round % 3 == 0).then(|| Change {
            part: numbers.below(count),
            was: "4k7",
            before: Some(&before),
        });
        let subject = Schematic {
            design,
            circuit: &circuit,
            unit: None,
            sources: &reading.sources,
            state: (round % 7 != 0).then_some(&state),
            change,
        };
        check(&format!("round {round}"), &subject);
    }
}
