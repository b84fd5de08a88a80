//! What a sound design is read into.

use crate::machine::{SOUND, read_text, said};
use design::logic::Expression;
use design::model::{
    Branch, Circuit, Design, Edge, JigDriver, JigResistor, NetId, NetKind, NodeKind, PartKind,
    RailId, Terminal, UnitId, Wanted,
};
use design::place::find_value;
use devices::library::Library;
use devices::types::{Mark, Section};

fn sound() -> Design {
    let reading = read_text(SOUND);
    assert_eq!(
        said(&reading),
        [],
        "{}",
        text::diagnostic::render(&reading.diagnostics, &reading.sources, false)
    );
    reading.design.expect("nothing is at fault")
}

fn circuit<'d>(design: &'d Design, name: &str) -> &'d Circuit {
    design
        .circuits
        .iter()
        .find(|circuit| circuit.name == name)
        .expect("the circuit is in the text")
}

fn net(design: &Design, name: &str) -> NetId {
    NetId(
        design
            .nets
            .iter()
            .position(|net| net.name == name)
            .unwrap_or_else(|| panic!("no net {name}")),
    )
}

fn unit(design: &Design, name: &str) -> UnitId {
    UnitId(
        design
            .units
            .iter()
            .position(|unit| unit.name == name)
            .unwrap_or_else(|| panic!("no unit {name}")),
    )
}

/// The nets of a unit, by name.
fn nets_of<'d>(design: &'d Design, name: &str) -> Vec<&'d str> {
    design.units[unit(design, name).0]
        .nets
        .iter()
        .map(|net| design.nets[net.0].name.as_str())
        .collect()
}

/// The places of a unit: tube and half.
fn places_of(design: &Design, name: &str) -> Vec<(String, Section)> {
    let places = &design.units[unit(design, name).0].places;
    places
        .iter()
        .map(|place| (design.sockets[place.socket.0].mark.clone(), place.section))
        .collect()
}

#[test]
fn rails_keep_their_values_and_stand_first_among_the_nets() {
    let design = sound();
    assert_eq!(design.name, "Everything at once");
    let upper = &design.rails[0];
    assert_eq!(
        (upper.volts, upper.tolerance, upper.limit_amps, upper.net),
        (36.0, 0.05, Some(0.6), NetId(1))
    );
    assert_eq!(
        (design.rails[1].volts, design.rails[1].limit_amps),
        (-24.0, None)
    );
    assert_eq!(design.nets[0].kind, NetKind::Ground);
    for (index, rail) in design.rails.iter().enumerate() {
        assert_eq!(
            (design.nets[index + 1].kind, &design.nets[index + 1].name),
            (NetKind::Rail(RailId(index)), &rail.name)
        );
    }
    assert_eq!(
        design.nets[5].name, "take",
        "other nets follow in order of first mention"
    );
}

#[test]
fn nodes_of_a_circuit_stand_in_order_and_parts_find_them() {
    let design = sound();
    let nor2 = circuit(&design, "nor2");
    let kinds: Vec<(&str, NodeKind)> = nor2
        .nodes
        .iter()
        .map(|node| (node.name.as_str(), node.kind))
        .collect();
    use NodeKind::{Ground, Inner, Rail, Signal};
    let expected = [
        ("a", Signal(0)),
        ("b", Signal(1)),
        ("y", Signal(2)),
        ("lower", Rail(RailId(1))),
        ("upper", Rail(RailId(0))),
        ("ground", Ground),
        ("join", Inner),
        ("g1", Inner),
    ];
    assert_eq!(kinds, expected);
    let PartKind::Resistor {
        ohms,
        tolerance,
        drift,
        hollow,
        watts,
        ends,
    } = nor2.parts[4].kind
    else {
        panic!("R3 is a resistor")
    };
    assert_eq!(
        (nor2.parts[4].mark.as_str(), ohms, tolerance, drift, hollow),
        ("R3", 82e3, 0.01, 0.0, None)
    );
    assert_eq!((watts, ends), (Some(0.5), [4, 2]));
    let PartKind::Diode {
        ref device,
        anode,
        cathode,
    } = nor2.parts[0].kind
    else {
        panic!("CR1 is a diode")
    };
    assert_eq!((device.name.as_str(), anode, cathode), ("1N4148", 0, 6));
    let (_, tube) = nor2.tubes().next().expect("it has a tube");
    assert_eq!(
        (tube.plate, tube.grid, tube.cathode, tube.screen),
        (2, Some(7), 5, None)
    );
}

#[test]
fn every_kind_of_part_keeps_its_values() {
    let design = sound();
    let gate = circuit(&design, "gate");
    let node = |name: &str| {
        gate.nodes
            .iter()
            .position(|node| node.name == name)
            .expect("the node is in the text")
    };
    let part = |mark: &str| {
        &gate
            .parts
            .iter()
            .find(|part| part.mark == mark)
            .expect("the part is in the text")
            .kind
    };
    let ends = [node("a"), node("g1")];
    assert_eq!(
        *part("C1"),
        PartKind::Capacitor {
            farads: 15e-12,
            tolerance: 0.1,
            volts: Some(100.0),
            ends
        }
    );
    let trimmer = PartKind::Trimmer {
        ohms: 1e5,
        tolerance: 0.2,
        watts: None,
        setting: 0.4,
        ends: [node("g3"), node("lower")],
        slider: node("lower"),
    };
    assert_eq!(*part("R5"), trimmer);
    assert_eq!(
        *part("L1"),
        PartKind::Inductor {
            henries: 2.0,
            ohms: 100.0,
            ends: [node("b"), node("ground")]
        }
    );
    let PartKind::Tube(tube) = part("V1") else {
        panic!("V1 is a tube")
    };
    assert_eq!(
        (tube.screen, tube.suppressor),
        (Some(node("s")), Some(node("g3")))
    );
    let lamp = circuit(&design, "lamp");
    let switch = lamp
        .parts
        .iter()
        .find(|part| part.mark == "S1")
        .expect("the part is in the text");
    assert!(matches!(
        switch.kind,
        PartKind::Switch { closed: false, .. }
    ));
}

#[test]
fn sentences_bind_not_before_and_before_xor_before_or() {
    let text = "valvewright format 1\ncircuit c\n    inputs a b c, output y\n    y = not a and b xor c or a when b falls\n    resistors 5%: R1 1M a to y, R2 1M b to y, R3 1M c to y";
    let design = read_text(text).design.expect("nothing is at fault");
    let says = &design.circuits[0].says[0];
    let signal = |index| Box::new(Expression::Signal(index));
    let and = Expression::And(Box::new(Expression::Not(signal(0))), signal(1));
    let value = Expression::Or(
        Box::new(Expression::Xor(Box::new(and), signal(2))),
        signal(0),
    );
    assert_eq!(
        (&says.value, says.edge),
        (
            &value,
            Some(Edge {
                signal: 1,
                rises: false
            })
        )
    );
}

#[test]
fn a_circuit_says_when_its_lamp_is_lit_and_what_current_its_load_wants() {
    let text = "valvewright format 1\ncircuit c\n    inputs a b\n    current L1 18mA to 22mA = a and b\n    lit = not a\n    neons NE-2: DS1 a to n\n    inductors: L1 4H 220ohm n to b";
    let design = read_text(text).design.expect("nothing is at fault");
    let circuit = &design.circuits[0];
    let duties: Vec<(&str, Wanted)> = circuit
        .duties
        .iter()
        .map(|duty| (circuit.parts[duty.part].mark.as_str(), duty.wanted))
        .collect();
    let current = Wanted::Amps {
        least: 0.018,
        most: 0.022,
    };
    assert_eq!(duties, [("L1", current), ("DS1", Wanted::Lit)]);
    let signal = |index| Box::new(Expression::Signal(index));
    assert_eq!(
        circuit.duties[0].value,
        Expression::And(signal(0), signal(1))
    );
    assert_eq!(circuit.duties[1].value, Expression::Not(signal(0)));
}

#[test]
fn an_array_joins_numbered_nets_and_takes_the_next_tubes() {
    let design = sound();
    assert_eq!(
        nets_of(&design, "last.2.A"),
        ["stage.1", "shift", "last.2.n1"]
    );
    assert_eq!(
        nets_of(&design, "last.2.D"),
        ["stage.2", "last.2.n1", "last.2.qn"]
    );
    assert!(design.nets[net(&design, "last.2.qn").0].open);
    assert_eq!(
        places_of(&design, "last.1.A"),
        [("V11".to_owned(), Section::A)]
    );
    assert_eq!(
        places_of(&design, "last.4.D"),
        [("V18".to_owned(), Section::B)]
    );
    assert_eq!(
        places_of(&design, "tail.1"),
        [("V31".to_owned(), Section::A)]
    );
    assert_eq!(
        places_of(&design, "tail.2"),
        [("V31".to_owned(), Section::B)]
    );
    assert_eq!(nets_of(&design, "tail.2"), ["stage.2", "kept", "echo.2"]);
}

#[test]
fn blocks_in_blocks_are_opened_with_their_places() {
    let design = sound();
    assert_eq!(
        nets_of(&design, "keep.second.A"),
        ["keep.m", "keep.mn", "keep.second.n1"]
    );
    assert_eq!(
        nets_of(&design, "keep.second.D"),
        ["kept", "keep.second.n1", "keep.qn"]
    );
    assert_eq!(
        places_of(&design, "keep.second.D"),
        [("V24".to_owned(), Section::B)]
    );
    let names: Vec<&str> = design
        .placed_blocks
        .iter()
        .map(|block| block.name.as_str())
        .collect();
    assert_eq!(
        names,
        [
            "last.1",
            "last.2",
            "last.3",
            "last.4",
            "keep",
            "keep.first",
            "keep.second"
        ]
    );
    let keep = &design.placed_blocks[4];
    assert_eq!(keep.units.len(), 8);
    assert!(
        keep.units
            .iter()
            .all(|unit| design.units[unit.0].name.starts_with("keep."))
    );
    let inner = &design.units[unit(&design, "keep.first.B").0];
    assert_eq!(
        inner
            .within
            .map(|within| design.placed_blocks[within].name.as_str()),
        Some("keep.first")
    );
}

#[test]
fn another_type_makes_a_circuit_of_its_own() {
    let design = sound();
    let follower = &design.units[unit(&design, "F1").0];
    let variant = &design.circuits[follower.circuit.0];
    assert_eq!(variant.name, "follower with 12AT7");
    let (_, tube) = variant.tubes().next().expect("it has a tube");
    assert_eq!(tube.device.name, "12AT7");
    assert_eq!(
        follower.circuit,
        design.units[unit(&design, "F2").0].circuit,
        "made once"
    );
    assert!(
        design
            .jigs
            .iter()
            .any(|jig| jig.circuit == follower.circuit),
        "it has the jig of the circuit it was made from"
    );
}

#[test]
fn sockets_know_which_unit_uses_each_half() {
    let design = sound();
    let socket = design
        .sockets
        .iter()
        .find(|socket| socket.mark == "V2")
        .expect("V2 is in the text");
    assert_eq!(socket.device.name, "12AT7");
    assert_eq!(
        socket.halves,
        [
            Some((unit(&design, "F1"), 0)),
            Some((unit(&design, "F2"), 0))
        ]
    );
    let single = design
        .sockets
        .iter()
        .find(|socket| socket.mark == "V3")
        .expect("V3 is in the text");
    assert_eq!(single.halves, [Some((unit(&design, "P1"), 0)), None]);
}

#[test]
fn strings_keep_their_order() {
    let design = sound();
    let heat = Terminal::Net(net(&design, "heat"));
    assert_eq!(
        (design.strings[0].from, design.strings[0].to),
        (heat, Terminal::Net(Design::GROUND))
    );
    let marks: Vec<String> = design.strings[0]
        .links
        .iter()
        .map(|link| {
            let branches = link.branches.iter().map(|branch| match branch {
                Branch::Heater {
                    socket,
                    tapped: false,
                } => design.sockets[socket.0].mark.clone(),
                Branch::Heater { .. } => "tapped".to_owned(),
                Branch::Resistor {
                    mark,
                    ohms,
                    tolerance,
                    watts,
                } => format!("{mark} {ohms} {tolerance} {watts:?}"),
                other => format!("{other:?}"),
            });
            branches.collect()
        })
        .collect();
    assert_eq!(marks, ["V1", "V2", "V3V4", "R90 820 0.05 Some(2.0)"]);
    assert_eq!(design.strings[1].links.len(), 8);
    assert_eq!(design.strings[2].to, Terminal::Net(net(&design, "F2.y")));
}

#[test]
fn a_string_has_thermistors_ballast_tubes_and_lengths_of_conductor() {
    let parts = "RT1 thermistor 220 to 8 at 300mA 20%, RT2 ballast 300mA from 5V to 15V 4%, wire 1200mm by 0.8mm, copper 160mm by 2mm, copper 16cm by 2mm 70um, back to ground";
    let text = SOUND.replacen("back to ground", parts, 1);
    let design = read_text(&text).design.expect("nothing is at fault");
    let links = &design.strings[0].links;
    let [.., thermistor, ballast, wire, copper, thick] = &links[..] else {
        panic!("five parts follow the heaters");
    };
    let [
        Branch::Thermistor {
            mark,
            law,
            hot_ohms,
            amps,
            tolerance,
        },
    ] = &thermistor.branches[..]
    else {
        panic!("a thermistor");
    };
    assert_eq!(
        (mark.as_str(), law.cold_ohms, *hot_ohms),
        ("RT1", 220.0, 8.0)
    );
    assert_eq!((*amps, *tolerance, law.seconds), (0.3, 0.2, 60.0));
    let held = Branch::Ballast {
        mark: "RT2".to_owned(),
        amps: 0.3,
        volts: (5.0, 15.0),
        tolerance: 0.04,
    };
    assert_eq!(ballast.branches, [held]);
    let sections = [wire, copper, thick].map(|link| match link.branches[..] {
        [
            Branch::Conductor {
                on_board,
                metres,
                square_metres,
            },
        ] => (on_board, metres, square_metres),
        _ => panic!("a conductor"),
    });
    let near =
        |value: f64, expected: f64| assert!((value / expected - 1.0).abs() < 1e-9, "{value}");
    assert_eq!(
        sections.map(|one| (one.0, one.1)),
        [(false, 1.2), (true, 0.16), (true, 0.16)]
    );
    // A round wire of 0.8 mm has 0.503 mm2; copper 2 mm wide has 0.07 mm2 in 35 um, twice that in 70 um.
    near(sections[0].2, 0.5026548245743669e-6);
    near(sections[1].2, 0.07e-6);
    near(sections[2].2, 0.14e-6);
    // The wiring list goes through wire as if it were none.
    assert!(design.strings[0].heaters().count() >= 4);
}

#[test]
fn a_winding_stands_on_a_rail() {
    let text = format!("{SOUND}\nrail lift 60V 5%\nrail winding 12.6V 5% ac, on lift\n");
    let design = read_text(&text).design.expect("nothing is at fault");
    let lift = design.rails.iter().position(|rail| rail.name == "lift");
    let winding = design.rails.last().expect("it is in the text");
    assert!(winding.alternates);
    assert_eq!(winding.stands_on.map(|rail| rail.0), lift);
}

#[test]
fn a_string_may_end_at_a_node_inside_a_unit() {
    let text = SOUND.replace("back to F2.y", "back to G1.join");
    let design = read_text(&text).design.expect("nothing is at fault");
    let join = circuit(&design, "nor2")
        .nodes
        .iter()
        .position(|node| node.name == "join")
        .expect("the node is in the text");
    assert_eq!(
        design.strings[2].to,
        Terminal::Inner(unit(&design, "G1"), join)
    );
    let text = SOUND.replace("back to F2.y", "back to G1.lower");
    let design = read_text(&text).design.expect("nothing is at fault");
    assert_eq!(
        design.strings[2].to,
        Terminal::Net(net(&design, "lower")),
        "a rail inside a unit is the rail"
    );
}

#[test]
fn boards_carry_units_blocks_and_arrays() {
    let design = sound();
    let sizes: Vec<usize> = design
        .boards
        .iter()
        .map(|board| board.units.len())
        .collect();
    assert_eq!(sizes, [6, 4 * 4 + 8 + 2]);
    let (width, height) = design.boards[0].size_mm.expect("a size is given");
    assert!((width - 160.0).abs() < 1e-9 && (height - 100.0).abs() < 1e-9);
    assert_eq!(
        design.boards[0].connectors[1].pins,
        [(1, net(&design, "clear")), (2, net(&design, "out"))]
    );
}

/// What stands before the colon holds for every resistor that states no drift of its own.
#[test]
fn resistors_drift_as_their_line_or_they_themselves_say() {
    let design = sound();
    let drifts = circuit(&design, "gate")
        .parts
        .iter()
        .filter_map(|part| match part.kind {
            PartKind::Resistor {
                tolerance, drift, ..
            } => Some((part.mark.as_str(), tolerance, drift)),
            _ => None,
        });
    let expected = [
        ("R1", 0.1, 0.2),
        ("R2", 0.1, 0.2),
        ("R3", 0.05, 0.0),
        ("R4", 0.1, 0.2),
    ];
    assert!(drifts.eq(expected));
    let single = read_text(
        "valvewright format 1\nrail upper 36V 5%\ncircuit c\n    output y\n    resistor R1 100k 10% drift 40% 1W upper to y\n",
    );
    let design = single.design.expect("nothing is at fault");
    let PartKind::Resistor { drift, watts, .. } = design.circuits[0].parts[0].kind else {
        panic!("R1 is a resistor")
    };
    assert_eq!((drift, watts), (0.4, Some(1.0)));
}

/// A hollow before the colon holds for every resistor of the line that says nothing of its own; none is not the same as an even
/// band, for which nothing else is to be taken.
#[test]
fn bands_are_hollow_as_their_line_or_they_themselves_say() {
    let reading = read_text(
        "valvewright format 1\nrail upper 36V 5%\ncircuit c\n    output y\n    resistors 5% hollow 2%: R1 100k upper to y, R2 100k hollow 1% upper to y, R3 100k hollow 0% upper to y\n    resistor R4 100k 5% upper to y\n",
    );
    let design = reading.design.expect("nothing is at fault");
    let hollows = design.circuits[0].parts.iter().map(|part| match part.kind {
        PartKind::Resistor { hollow, .. } => hollow,
        _ => panic!("all are resistors"),
    });
    assert!(hollows.eq([Some(0.02), Some(0.01), Some(0.0), None]));
}

/// A lot replaces the type's spread field by field, and bears the name of the type itself.
#[test]
fn lots_stand_over_their_types() {
    let design = sound();
    let names: Vec<&str> = design.lots.iter().map(|lot| lot.device.as_str()).collect();
    assert_eq!(names, ["6922", "12AT7"]);
    let library = Library::shipped();
    let spread = |name: &str| {
        let device = library.tube(name).expect("it is shipped");
        design.tube_spread(device)
    };
    let current = spread("E88CC").current.expect("the lot says it");
    assert_eq!(
        (current.value, current.mark, current.source.as_str()),
        ((0.85, 1.12), Mark::Measured, "in May")
    );
    assert_eq!(spread("6922").reverse.map(|amps| amps.value), Some(100e-9));
    assert_eq!(spread("12AT7").mu, None);
    // No lot: the type's own.
    let device = library.tube("6SN7GT").expect("it is shipped");
    assert_eq!(spread("6SN7GT"), device.spread);
    // A lot that no tube is of is kept, for such tubes tried in a socket.
    let text = format!("{SOUND}\nlot 6SN7GT: halves 5%\n");
    let design = read_text(&text).design.expect("nothing is at fault");
    let own = design.tube_spread(device);
    assert_eq!(own.halves.map(|share| share.value), Some(0.05));
    assert_eq!(own.current, device.spread.current);
    // Of a lot that is alike within less than the type's halves, the type's stay said.
    let text = format!("{SOUND}\nlot 6SN7GT: alike 15%\n");
    let design = read_text(&text).design.expect("nothing is at fault");
    let own = design.tube_spread(device);
    let shares = [own.alike, own.halves].map(|share| share.map(|share| share.value));
    assert_eq!(shares, [Some(0.15), Some(0.3)]);
}

/// Behind the resistance, on the bench and in a jig; without one a resistor is exact.
#[test]
fn the_benchs_resistors_have_tolerances() {
    let text = SOUND
        .replace(
            "take upper or ground through 10k",
            "take upper or ground through 10k 5%",
        )
        .replace("out 150k to ground", "out 150k 2% to ground")
        .replace("y 150k to ground", "y 150k 1% to ground");
    let design = read_text(&text).design.expect("nothing is at fault");
    let bench = &design.bench;
    assert_eq!(
        (bench.switches[0].tolerance, bench.switches[1].tolerance),
        (0.05, 0.0)
    );
    assert_eq!(
        (bench.loads[0].tolerance, bench.loads[1].tolerance),
        (0.02, 0.0)
    );
    assert_eq!(design.jigs[0].resistors[0].tolerance, 0.01);
}

/// Behind the tolerance, on the bench and in a jig, as in a circuit; an even band is not the same as none said.
#[test]
fn the_benchs_resistors_may_be_hollow() {
    let text = SOUND
        .replace(
            "take upper or ground through 10k",
            "take upper or ground through 10k 5% hollow 2%",
        )
        .replace("out 150k to ground", "out 150k 2% hollow 0% to ground")
        .replace("y 150k to ground", "y 150k 10% hollow 5% to ground");
    let design = read_text(&text).design.expect("nothing is at fault");
    let bench = &design.bench;
    assert_eq!(
        (bench.switches[0].tolerance, bench.switches[0].hollow),
        (0.05, Some(0.02))
    );
    assert_eq!(bench.switches[1].hollow, None);
    assert_eq!(
        (bench.loads[0].hollow, bench.loads[1].hollow),
        (Some(0.0), None)
    );
    let resistor = design.jigs[0].resistors[0];
    assert_eq!((resistor.tolerance, resistor.hollow), (0.1, Some(0.05)));
}

#[test]
fn bench_and_jigs_keep_up_before_down() {
    let design = sound();
    let take = &design.bench.switches[0];
    assert_eq!(
        (take.net, take.up, take.down, take.through_ohms),
        (net(&design, "take"), NetId(1), Design::GROUND, 1e4)
    );
    assert_eq!(design.bench.switches[1].through_ohms, 0.0);
    assert_eq!(
        (design.bench.loads.len(), design.bench.meter_ohms),
        (2, Some(1e7))
    );
    let follower = &design.jigs[0];
    assert!(
        matches!(follower.drivers[..], [(0, JigDriver::Circuit(circuit))] if design.circuits[circuit.0].name == "nor2")
    );
    assert_eq!(
        (follower.loads[0].2, follower.resistors[0]),
        (
            3,
            JigResistor {
                signal: 1,
                ohms: 150e3,
                tolerance: 0.0,
                hollow: None,
                to: Design::GROUND
            }
        )
    );
    assert!(matches!(
        design.jigs[1].drivers[..],
        [(
            0,
            JigDriver::Switch {
                up: NetId(1),
                down: NetId(0),
                ..
            }
        )]
    ));
}

#[test]
fn the_place_of_a_value_covers_exactly_its_word() {
    let reading = read_text(SOUND);
    let design = reading.design.as_ref().expect("nothing is at fault");
    for (name, word) in [
        ("nor2.R3", "82k"),
        ("nor2.CR2", "1N4148"),
        ("nor2.V1", "6922"),
        ("follower.R1", "150k"),
        ("gate.L1", "2H"),
        ("gate.R5", "100k"),
        ("lamp.S1", "open"),
        ("upper", "36V"),
        ("lower", "-24V"),
    ] {
        let span = find_value(design, name).unwrap_or_else(|| panic!("no place for {name}"));
        assert_eq!(reading.sources.slice(span), word, "{name}");
    }
    for name in ["nor2.R9", "nor9.R1", "uper", "", ".", "nor2."] {
        assert_eq!(find_value(design, name), None, "{name}");
    }
}

#[test]
fn a_machine_without_a_name_is_named_after_its_folder() {
    use crate::machine::Folder;
    let name = |start: &str| {
        let folder = Folder([(start.to_owned(), "valvewright format 1".to_owned())].into());
        design::read::read(start, &folder, devices::library::Library::default())
            .design
            .expect("nothing is at fault")
            .name
    };
    assert_eq!(name("tidewatch/machine.valve"), "tidewatch");
    assert_eq!(name("machine.valve"), "machine");
}
