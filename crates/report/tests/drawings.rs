//! Drawings of whole designs, the demo machine, the gallery and a large one: nothing overlaps or is cut, everything of the
//! design is there, the same design gives the same drawing.

use crate::designs::{CONTEXT, Folder, LIMITS};
use design::model::{Design, SocketId};
use design::read::{Reading, read};
use design::wiring::{Point, wiring_list};
use devices::library::Library;
use network::bench::socket_readings;
use network::verdict::{Verdict, check};
use report::block_drawing::{self, Level};
use report::draw::Picture;
use report::drawing::Drawing;
use report::pinout::Side;
use report::table::Cell;
use report::words::Wording;
use report::{board_drawing, string_drawing, tables};
use text::source::Sources;

/// One text.
struct One(String);

impl Sources for One {
    fn read(&self, _: &str) -> Result<String, String> {
        Ok(self.0.clone())
    }
}

fn demo() -> Reading {
    read(
        "machine.valve",
        &Folder::of_the_program("demo/tidewatch"),
        Library::shipped(),
    )
}

/// Sixty inverters, each driven by another, on two boards.
fn large() -> Reading {
    let mut text = "valvewright format 1
machine Large
rail upper 36V 5%
rail lower -24V 5%
circuit inverter
    input a, output y
    y = not a
    resistors 5%: R1 680k a to g, R2 1M2 g to lower, R3 82k upper to y
    tube V1 half 6922: plate y, grid g, cathode ground
"
    .to_owned();
    for unit in 1..=60_usize {
        let driver = match unit {
            1 => "take".to_owned(),
            _ => format!("n{}", unit - 1 - (unit * 7) % unit.min(4)),
        };
        let (tube, half) = (unit.div_ceil(2), if unit % 2 == 1 { "A" } else { "B" });
        text.push_str(&format!(
            "unit G{unit} inverter in V{tube}{half}: a {driver}, y n{unit}\n"
        ));
    }
    text.push_str("board one 160mm by 100mm\n    carries G1 to G30\n    connector J1: 1 upper, 2 lower, 3 ground, 4 take, 5 n27, 6 n28, 7 n29, 8 n30\n");
    text.push_str("board two\n    carries G31 to G60\n    connector J1: 1 upper, 2 lower, 3 ground, 4 n27, 5 n28, 6 n29, 7 n30\n");
    text.push_str("bench\n    switches: take upper or ground\n");
    read("machine.valve", &One(text), Library::shipped())
}

fn designs() -> Vec<(String, Reading)> {
    let folder = Folder::of_the_program("gallery");
    let mut names: Vec<String> = std::fs::read_dir(&folder.0)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    let gallery = names.into_iter().map(|name| {
        let reading = read(&name, &folder, Library::shipped());
        (name, reading)
    });
    [("demo".to_owned(), demo()), ("large".to_owned(), large())]
        .into_iter()
        .chain(gallery)
        .filter(|(_, reading)| reading.design.is_some())
        .collect()
}

fn judged(design: &Design) -> Verdict<'_> {
    check(design, &LIMITS, &CONTEXT)
}

fn tidy(what: &str, picture: &Picture) {
    assert_eq!(picture.text_faults(), Vec::<String>::new(), "{what}");
}

fn says(drawing: &Drawing, what: &str) -> bool {
    let mut texts = drawing.sheets.iter().flat_map(Picture::text_areas);
    texts.any(|(text, _)| text == what)
}

#[test]
fn every_drawing_of_every_design_is_tidy_and_comes_twice() {
    for (name, reading) in designs() {
        let verdict = judged(reading.design.as_ref().unwrap());
        let design = verdict.plan.design;
        let all = || {
            let wording = Wording::default();
            let levels = std::iter::once(Level::Machine)
                .chain((0..design.placed_blocks.len()).map(Level::Block));
            let levels: Vec<Drawing> = levels
                .filter_map(|level| block_drawing::drawing(&verdict, level, wording))
                .collect();
            let strings = (0..design.strings.len())
                .map(|string| string_drawing::drawing(&verdict, string, wording));
            let boards = (0..design.boards.len()).flat_map(|board| {
                [Side::Below, Side::Above]
                    .map(|side| board_drawing::drawing(&verdict, board, side, wording))
            });
            levels
                .into_iter()
                .chain(strings)
                .chain(boards)
                .collect::<Vec<_>>()
        };
        let drawings = all();
        assert!(!drawings.is_empty() || design.units.is_empty(), "{name}");
        for drawing in &drawings {
            for picture in drawing.headed() {
                tidy(&format!("{name}: {}", drawing.title), &picture);
            }
        }
        assert_eq!(drawings, all(), "{name}");
        for board in 0..design.boards.len() {
            for width in [170.0, 90.0] {
                let map = board_drawing::plan(&verdict, board, Side::Below, Some(width));
                assert!(map.width <= width);
                tidy(&name, &map);
            }
        }
        for width in [170.0, 90.0] {
            for picture in block_drawing::draw(&verdict, Level::Machine, Some(width)).unwrap() {
                assert!(picture.width <= width, "{name}");
                tidy(&name, &picture);
            }
        }
    }
}

/// Every unit stands as a box on its level, every net that drives something stands at what it drives, blocks are closed.
#[test]
fn the_block_drawings_hold_every_unit_and_every_net_of_the_demo() {
    let reading = demo();
    let verdict = judged(reading.design.as_ref().unwrap());
    let design = verdict.plan.design;
    let draw = |level| block_drawing::drawing(&verdict, level, Wording::default()).unwrap();
    for (index, unit) in design.units.iter().enumerate() {
        let level = unit.within.map_or(Level::Machine, Level::Block);
        let drawing = draw(level);
        assert!(says(&drawing, &unit.name), "{}", unit.name);
        assert_eq!(
            says(&draw(Level::Machine), &unit.name),
            unit.within.is_none()
        );
        let inputs = design
            .circuit_of(design::model::UnitId(index))
            .interface
            .inputs;
        for net in &unit.nets[..inputs] {
            let name = &design.nets[net.0].name;
            let driver = design.drivers()[net.0]
                .first()
                .map(|pin| &design.units[pin.0.0].name);
            let from = driver.map_or(String::new(), |driver| format!("from {driver}"));
            assert!(says(&drawing, name) || says(&drawing, &from), "{name}");
        }
    }
    let machine = draw(Level::Machine);
    for block in ["minus", "keep"] {
        assert!(says(&machine, block), "{block}");
    }
    // The worst of all connections into the block `keep` over `owed`, as the verdict has them.
    let owed = design
        .nets
        .iter()
        .position(|net| net.name == "owed")
        .unwrap();
    let own = verdict.connections.iter().filter(|one| one.net == owed);
    let down = own
        .filter_map(|one| one.spare_down())
        .fold(f64::INFINITY, f64::min);
    let margin = machine.sheets[0]
        .text_areas()
        .into_iter()
        .any(|(text, _)| text.starts_with(&format!("{down:.1} / ")));
    assert!(margin, "{down}");
}

/// The board drawing and the wiring list are made independently of each other: every socket pin of the list stands in the
/// drawing with its electrode and its net.
#[test]
fn the_board_drawing_agrees_with_the_wiring_list() {
    let reading = demo();
    let verdict = judged(reading.design.as_ref().unwrap());
    let drawing = board_drawing::drawing(&verdict, 0, Side::Below, Wording::default());
    let mut pins = 0;
    for wire in wiring_list(verdict.plan.design, Some(0)) {
        for point in &wire.points {
            match point {
                Point::Pin { electrode, pin, .. } if !electrode.starts_with("heater") => {
                    pins += usize::from(pin.is_some());
                    let label = format!("{electrode}: {}", wire.net);
                    let listed = drawing.sheets.iter().flat_map(Picture::text_areas);
                    let mut listed = listed.map(|text| text.0.to_owned());
                    assert!(listed.any(|text| text.starts_with(&label)), "{label}");
                }
                Point::Connector { .. } => assert!(says(&drawing, &wire.net), "{}", wire.net),
                _ => {}
            }
        }
    }
    assert!(50 < pins, "{pins}");
    let (width, height) = (drawing.sheets[0].width, drawing.sheets[0].height);
    // The outline of 233 mm by 160 mm with its pen.
    assert_eq!((width, height), (234.0, 161.0));
}

#[test]
fn the_other_side_is_the_mirror_image() {
    let reading = demo();
    let verdict = judged(reading.design.as_ref().unwrap());
    let place = |side: Side, mark: &str| {
        let plan = board_drawing::plan(&verdict, 0, side, None);
        let areas = plan.text_areas();
        let found = areas.iter().find(|(text, _)| *text == mark).unwrap().1;
        (found.x + found.width / 2.0, found.y)
    };
    for mark in ["V1", "V5", "V11"] {
        let (below, above) = (place(Side::Below, mark), place(Side::Above, mark));
        assert!(
            (below.0 + above.0 - 234.0).abs() < 1e-9 && below.1 == above.1,
            "{mark}"
        );
    }
    assert!(place(Side::Above, "V1").0 < place(Side::Above, "V2").0);
}

#[test]
fn what_the_text_does_not_say_is_called_proposed() {
    let reading = large();
    let verdict = judged(reading.design.as_ref().unwrap());
    let legend = |board| board_drawing::legend(&verdict, board, Side::Below, Wording::default());
    assert!(legend(1).contains("gives the board no size") && legend(1).contains("proposed"));
    assert!(
        legend(0).contains("have no room on 160 mm by 100 mm"),
        "{}",
        legend(0)
    );
}

/// Volts of a winding are called rms where a string is drawn, at the pins of a socket and in what a meter reads, and on a
/// raised one also what they stand on.
#[test]
fn alternating_volts_are_called_rms() {
    for (file, rms) in [
        ("sound-heaters-alternating.valve", "rms"),
        ("winding-raised-too-high.valve", "rms on 100 V"),
    ] {
        let reading = read(file, &Folder::of_the_program("gallery"), Library::shipped());
        let design = reading.design.as_ref().unwrap();
        let verdict = check(design, &LIMITS, &CONTEXT);
        let drawing = string_drawing::drawing(&verdict, 0, Wording::default());
        assert!(drawing.legend.contains(&format!("Its volts are {rms}.")));
        let texts = drawing.sheets[0].text_areas();
        assert!(
            texts.iter().any(|(text, _)| *text == "6.30 V rms"),
            "{texts:?}"
        );
        let socket = board_drawing::socket(&verdict, SocketId(0), Side::Below, Wording::default());
        let mut texts = socket.text_areas().into_iter();
        let at_pin = format!("{} V {rms}", if rms == "rms" { "12.6" } else { "6.3" });
        assert!(texts.any(|(text, _)| text == at_pin));
        let pins = socket_readings(&verdict, SocketId(0), 10e6, &CONTEXT);
        let table = tables::readings(design, SocketId(0), &pins);
        let wanted = Cell::Text(format!("heater string, {rms}"));
        assert!(table.rows.iter().flatten().any(|cell| *cell == wanted));
    }
}
