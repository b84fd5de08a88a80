//! Schematics of many circuits: nothing overlaps, and the wires and names say what the circuit says.

mod checks;

use crate::designs::{CONTEXT, Folder};
use checks::check;
use design::model::{
    Circuit, CircuitId, Interface, Node, NodeKind, Part, PartKind, RailId, TubePart,
};
use design::read::{Reading, read};
use devices::library::Library;
use devices::types::TubeType;
use network::judge::{PartReading, RowResult};
use network::levels::alone;
use report::draw::{Item, Picture, Step};
use report::schematic::{Change, Schematic, traced};
use std::sync::Arc;
use text::source::Sources;

// ---- Designs ----

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
    let demo = Folder::of_the_program("demo/tidewatch");
    let mut count = check_design("demo", &read("machine.valve", &demo, Library::shipped()));
    let gallery = Folder::of_the_program("gallery");
    let files = std::fs::read_dir(&gallery.0).expect("the gallery is there");
    for file in files.flatten() {
        let name = file.file_name().to_string_lossy().into_owned();
        let reading = read(&name, &gallery, Library::shipped());
        count += check_design(&name, &reading);
    }
    assert!(60 < count, "only {count} circuits seen");
}

/// The shelf with rails as `start` writes them.
struct Shelf(Folder);

impl Sources for Shelf {
    fn read(&self, name: &str) -> Result<String, String> {
        const RAILS: [&str; 7] = [
            "valvewright format 1",
            "rail upper 36V 5%",
            "rail lower -24V 5%",
            "rail logic 5V 5%",
            "rail lamp 50V 5%",
            "rail neon 120V 5%",
            "rail loop 120V 5%",
        ];
        if name == "rails.valve" {
            return Ok(RAILS.join("\n"));
        }
        self.0.read(name)
    }
}

#[test]
fn the_shelf_is_drawn_clean_and_true() {
    let shelf = Shelf(Folder::of_the_program("shelf"));
    let files = std::fs::read_dir(&shelf.0.0).expect("the shelf is there");
    let mut count = 0;
    for file in files.flatten() {
        let name = file.file_name().to_string_lossy().into_owned();
        let reading = read(&name, &shelf, Library::shipped());
        count += check_design(&name, &reading);
    }
    assert!(14 < count, "only {count} circuits seen");
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

/// Where the arrows of a picture point, millimetres from their base to their tip.
fn arrows(picture: &Picture) -> Vec<(f64, f64)> {
    let arrow = |item: &Item| match item {
        Item::Path {
            steps,
            stroke: None,
            ..
        } => match steps[..] {
            [Step::Move(tip), Step::Line(a), Step::Line(b), Step::Close] => {
                Some((tip.x - (a.x + b.x) / 2.0, tip.y - (a.y + b.y) / 2.0))
            }
            _ => None,
        },
        _ => None,
    };
    picture.items.iter().filter_map(arrow).collect()
}

#[test]
fn arrows_point_the_way_the_current_goes() {
    let reading = read("machine.valve", &Base(BASE), Library::shipped());
    let design = reading.design.as_ref().expect("it reads");
    let like = alone(design, &CONTEXT).results[0].rows[0].clone();
    let whole = &design.circuits[0];
    let node = |name: &str| {
        let found = whole.nodes.iter().position(|node| node.name == name);
        found.expect("the base has it")
    };
    // Current flows from the rail above down to y, and from a to y from left to right, whichever end is written first.
    for (from, to, down) in [("upper", "y", true), ("a", "y", false)] {
        for turned in [false, true] {
            let mut part = whole.parts[0].clone();
            let ends = if turned {
                [node(to), node(from)]
            } else {
                [node(from), node(to)]
            };
            if let PartKind::Resistor { ends: both, .. } = &mut part.kind {
                *both = ends;
            }
            let circuit = Circuit {
                parts: vec![part],
                ..whole.clone()
            };
            let reading_of = PartReading {
                amps: if turned { -1e-3 } else { 1e-3 },
                ..PartReading::default()
            };
            let state = RowResult {
                parts: vec![reading_of],
                ..like.clone()
            };
            let subject = Schematic {
                design,
                circuit: &circuit,
                unit: None,
                sources: &reading.sources,
                state: Some(&state),
                change: None,
            };
            let [(right, below)] = arrows(&traced(&subject, 170.0).picture)[..] else {
                panic!("one arrow");
            };
            let (along, across) = if down { (below, right) } else { (right, below) };
            assert!(
                0.5 < along && across.abs() < 1e-9,
                "{from} to {to}, turned {turned}"
            );
        }
    }
}
