//! Questions about a design: levels, drives, loads, heaters, readings, wiring.

use super::{edition, ending, judged, listing, read_design, remark, say, usable};
use crate::Ending;
use crate::cli::Speech;
use crate::defaults::{BUYING, CONTEXT, LIMITS, METER_OHMS, SPREAD, SPREAD_SOURCES};
use crate::files::{Folder, write};
use design::model::{CircuitId, Design, PlacedBlock, SocketId, UnitId};
use network::finding::Finding;
use network::margins::Margins;
use network::margins::alone::{AloneCase, alone_cases};
use network::margins::mending::{self, Mending};
use network::parts::PartsList;
use network::verdict::Verdict;
use report::margins::{Whose, WorstCases};
use report::tables::CircuitLoads;
use std::path::Path;
use text::diagnostic::Severity;
use text::quantity::{self, Unit};

/// Reads a design and answers from it.
pub(super) fn answer(
    path: &Path,
    speech: &Speech,
    ask: impl FnOnce(&Design, &text::source::SourceMap) -> Result<Ending, String>,
) -> Result<Ending, String> {
    let reading = read_design(path)?;
    match usable(&reading, speech) {
        Ok(design) => ask(design, &reading.sources),
        Err(ending) => Ok(ending),
    }
}

/// A design that stands where a name belongs is told to have an option of its own, if no other is there.
pub(super) fn design_is_there(name: Option<&str>, path: &Path) -> Result<(), String> {
    Folder::at(path)
        .map(|_| ())
        .map_err(|problem| match name.filter(|name| is_design(name)) {
            Some(design) => format!("{problem}; for a design write `--in {design}`"),
            None => problem,
        })
}

/// A design stands under this name.
fn is_design(name: &str) -> bool {
    let file = Path::new(name);
    let like_one = file.extension().is_some_and(|ending| ending == "valve") || file.is_dir();
    like_one && Folder::at(file).is_ok()
}

/// The index of a name, or a message with the nearest one. Letter case is overlooked where nothing else has the name.
pub(super) fn find<'a>(
    what: &str,
    wanted: &str,
    names: impl Iterator<Item = &'a str> + Clone,
) -> Result<usize, String> {
    let exact = names.clone().position(|name| name == wanted);
    let alike = || {
        let same = |name: &str| name.eq_ignore_ascii_case(wanted);
        names.clone().position(same)
    };
    exact
        .or_else(alike)
        .ok_or_else(|| missing(what, wanted, names.clone()))
}

/// Says that there is no such name, and which may be meant; or that it is a design, and how one is named.
fn missing<'a>(what: &str, wanted: &str, names: impl Iterator<Item = &'a str> + Clone) -> String {
    if is_design(wanted) {
        return format!(
            "there is no {what} {wanted}; it is a design, so write `--in {wanted}`, with or without a name before it"
        );
    }
    let inside = |name: &&str| {
        let last = name.rsplit_once('.').map(|(_, last)| last);
        last.is_some_and(|last| last.eq_ignore_ascii_case(wanted))
    };
    let hint = names
        .clone()
        .find(inside)
        .or_else(|| text::nearest::nearest(wanted, names.clone()));
    if let Some(hint) = hint {
        return format!("there is no {what} {wanted}; did you mean {hint}?");
    }
    let some: Vec<&str> = names.clone().take(LISTED_NAMES).collect();
    let there = match some[..] {
        [] => "is none at all".to_owned(),
        [only] => format!("is only {only}"),
        _ => format!("are {}", some.join(", ")),
    };
    let more = match names.count() - some.len() {
        0 => String::new(),
        more => format!(" and {more} more"),
    };
    format!("there is no {what} {wanted}; there {there}{more}")
}

/// As many names as help and still fit on a line or two.
const LISTED_NAMES: usize = 12;

fn unit_names(design: &Design) -> impl Iterator<Item = &str> + Clone {
    design.units.iter().map(|unit| unit.name.as_str())
}

fn circuit_names(design: &Design) -> impl Iterator<Item = &str> + Clone {
    design.circuits.iter().map(|circuit| circuit.name.as_str())
}

/// What a name means that a unit, a circuit or a block in its place may have.
pub(super) enum Named {
    Unit(UnitId),
    Circuit(CircuitId),
    /// Index of the placed block.
    Block(usize),
}

/// A unit by its name, or else a circuit, or a block in its place.
pub(super) fn named(design: &Design, name: &str) -> Result<Named, String> {
    if let Some(unit) = unit_names(design).position(|unit| unit.eq_ignore_ascii_case(name)) {
        return Ok(Named::Unit(UnitId(unit)));
    }
    let mut placed = design.placed_blocks.iter();
    let block = placed.position(|placed| placed.name.eq_ignore_ascii_case(name));
    let circuit = circuit_names(design).any(|circuit| circuit.eq_ignore_ascii_case(name));
    if let Some(block) = block.filter(|_| !circuit) {
        return Ok(Named::Block(block));
    }
    let blocks = design.placed_blocks.iter();
    let blocks = blocks.map(|placed| placed.name.as_str());
    let what = if design.placed_blocks.is_empty() {
        "circuit or unit"
    } else {
        "circuit, unit or block"
    };
    let all = circuit_names(design).chain(blocks);
    let all: Vec<&str> = all.chain(unit_names(design)).collect();
    // Units and blocks are none by now: only a circuit can be found.
    find(what, name, all.iter().copied())
        .map(|index| Named::Circuit(CircuitId(index)))
        .map_err(|problem| units_of_block(design, name).unwrap_or(problem))
}

/// Levels of a unit where it stands, of a circuit alone, or of all circuits.
pub fn levels(name: Option<&str>, path: &Path, speech: &Speech) -> Result<Ending, String> {
    design_is_there(name, path)?;
    answer(path, speech, |design, _| {
        let verdict = judged(design);
        let Some(name) = name else {
            let all = || (0..design.circuits.len()).map(CircuitId);
            say(
                speech,
                |terminal| {
                    let texts: Vec<String> = all()
                        .map(|circuit| {
                            report::terminal::circuit_levels(&verdict, circuit, None, terminal)
                        })
                        .collect();
                    texts.join("\n")
                },
                || {
                    let records =
                        all().map(|circuit| report::record::circuit_levels(&verdict, circuit));
                    listing("circuits", records.collect())
                },
            );
            return Ok(ending(&verdict));
        };
        let circuit = match named(design, name)? {
            Named::Circuit(circuit) => circuit,
            Named::Block(block) => return Err(units_of(design, &design.placed_blocks[block])),
            Named::Unit(unit) => {
                say(
                    speech,
                    |terminal| report::terminal::levels(&verdict, unit, terminal),
                    || report::record::levels(&verdict, unit),
                );
                return Ok(ending(&verdict));
            }
        };
        let loads = circuit_loads(design, &verdict, circuit);
        say(
            speech,
            |terminal| report::terminal::circuit_levels(&verdict, circuit, Some(&loads), terminal),
            || report::record::circuit_levels(&verdict, circuit),
        );
        Ok(ending(&verdict))
    })
}

/// Says that the name is a block's, and names its units.
fn units_of_block(design: &Design, name: &str) -> Option<String> {
    let placed = design.placed_blocks.iter().find(|placed| {
        placed.name.eq_ignore_ascii_case(name) || design.blocks[placed.block.0].name == name
    })?;
    Some(units_of(design, placed))
}

fn units_of(design: &Design, placed: &PlacedBlock) -> String {
    let units = placed.units.iter();
    let names: Vec<&str> = units
        .map(|unit| design.units[unit.0].name.as_str())
        .collect();
    format!(
        "{} is a block; name one of its units: {}",
        placed.name,
        names.join(", ")
    )
}

/// A unit by its name; where a circuit has the name, its first unit may be meant.
fn find_unit(design: &Design, name: &str) -> Result<UnitId, String> {
    let circuit = circuit_names(design).position(|circuit| circuit == name);
    let example =
        circuit.and_then(|index| design.units.iter().find(|unit| unit.circuit.0 == index));
    find("unit", name, unit_names(design))
        .map(UnitId)
        .map_err(|problem| match example {
            Some(unit) => format!("{name} is a circuit; name a unit, such as {}", unit.name),
            None => units_of_block(design, name).unwrap_or(problem),
        })
}

/// Who drives whom.
pub fn drives(name: Option<&str>, path: &Path, speech: &Speech) -> Result<Ending, String> {
    design_is_there(name, path)?;
    answer(path, speech, |design, _| {
        let unit = name.map(|name| find_unit(design, name)).transpose()?;
        let verdict = judged(design);
        say(
            speech,
            |terminal| report::terminal::connections(&verdict, unit, terminal),
            || report::record::connections(&verdict, unit),
        );
        Ok(ending(&verdict))
    })
}

/// Margins in the worst case.
pub fn margins(name: Option<&str>, path: &Path, speech: &Speech) -> Result<Ending, String> {
    design_is_there(name, path)?;
    answer(path, speech, |design, sources| {
        let named = name.map(|name| named(design, name)).transpose()?;
        let whose = named.map_or(Whose::All, |named| match named {
            Named::Unit(unit) => Whose::Unit(unit),
            Named::Circuit(circuit) => Whose::Circuit(circuit),
            Named::Block(block) => Whose::Block(block),
        });
        let verdict = judged(design);
        let margins = margins_of(&verdict);
        let alone = match whose {
            Whose::All => alone_of(&verdict),
            Whose::Circuit(circuit) => alone_cases(&verdict, &[circuit], &SPREAD, &CONTEXT),
            Whose::Unit(_) | Whose::Block(_) => Vec::new(),
        };
        let worst = worst_cases(&margins, &alone);
        let (units, circuits) = mended(&verdict, &worst, whose);
        let worst = WorstCases {
            mended: [&units, &circuits],
            ..worst
        };
        say(
            speech,
            |terminal| report::terminal::margins(&verdict, &worst, whose, sources, terminal),
            || report::record::margins(&verdict, &worst, whose, sources),
        );
        Ok(if 0 < faults(&verdict, &worst, whose) {
            Ending::Fault
        } else {
            Ending::Well
        })
    })
}

/// How many faults the worst case has.
pub fn faults(verdict: &Verdict, worst: &WorstCases, whose: Whose) -> usize {
    let found = worst.findings(verdict, whose).into_iter();
    found.filter(|one| one.severity == Severity::Fault).count()
}

/// Margins in the worst case at the program's defaults.
pub fn margins_of(verdict: &Verdict) -> Margins {
    network::margins::check(verdict, &SPREAD, &CONTEXT)
}

/// What closer resistors would mend of the smallest margins that are asked for, of the units and of circuits alone.
pub fn mended(verdict: &Verdict, worst: &WorstCases, whose: Whose) -> (Vec<Mending>, Vec<Mending>) {
    let (unit, circuit) = worst.smallest(verdict, whose);
    (
        unit.map_or_else(Vec::new, |connection| {
            mending::of_units(verdict, connection, &SPREAD, &CONTEXT)
        }),
        circuit.map_or_else(Vec::new, |case| {
            mending::of_alone(verdict, case, &SPREAD, &CONTEXT)
        }),
    )
}

/// Every circuit alone in the worst case at the program's defaults.
pub fn alone_of<'a>(verdict: &Verdict<'a>) -> Vec<AloneCase<'a>> {
    let all: Vec<CircuitId> = (0..verdict.plan.design.circuits.len())
        .map(CircuitId)
        .collect();
    alone_cases(verdict, &all, &SPREAD, &CONTEXT)
}

/// Both with the sources of these defaults.
pub fn worst_cases<'a>(margins: &'a Margins, alone: &'a [AloneCase<'a>]) -> WorstCases<'a> {
    WorstCases {
        margins,
        alone,
        mended: [&[], &[]],
        sources: &SPREAD_SOURCES,
    }
}

fn circuit_loads(design: &Design, verdict: &Verdict, circuit: CircuitId) -> CircuitLoads {
    CircuitLoads {
        circuit,
        fan_out: network::fan::fan_out(design, circuit, &verdict.alone, &CONTEXT),
        fan_in: network::fan::fan_in(design, circuit, &verdict.alone, &CONTEXT),
        delay: network::delay::delay(design, circuit, &verdict.alone, &CONTEXT),
    }
}

/// What every circuit can carry.
pub fn all_loads(verdict: &Verdict) -> Vec<CircuitLoads> {
    let design = verdict.plan.design;
    (0..design.circuits.len())
        .map(|circuit| circuit_loads(design, verdict, CircuitId(circuit)))
        .collect()
}

/// Fan-out, fan-in and a rough delay.
pub fn loads(name: Option<&str>, path: &Path, speech: &Speech) -> Result<Ending, String> {
    design_is_there(name, path)?;
    answer(path, speech, |design, _| {
        let only = name
            .map(|name| find("circuit", name, circuit_names(design)))
            .transpose()?;
        let verdict = judged(design);
        let circuits: Vec<CircuitLoads> = (0..design.circuits.len())
            .filter(|circuit| only.is_none_or(|only| only == *circuit))
            .map(|circuit| circuit_loads(design, &verdict, CircuitId(circuit)))
            .collect();
        say(
            speech,
            |terminal| report::terminal::loads(design, &circuits, terminal),
            || report::record::loads(design, &circuits),
        );
        Ok(ending(&verdict))
    })
}

/// What stores.
pub fn states(path: &Path, speech: &Speech) -> Result<Ending, String> {
    answer(path, speech, |design, _| {
        let verdict = judged(design);
        say(
            speech,
            |terminal| report::terminal::states(&verdict, terminal),
            || report::record::states(&verdict),
        );
        let lost = verdict
            .rings
            .iter()
            .any(|ring| ring.loses_a_state() || !ring.extra.is_empty());
        Ok(if lost { Ending::Fault } else { Ending::Well })
    })
}

/// Heater strings.
pub fn heaters(path: &Path, speech: &Speech) -> Result<Ending, String> {
    answer(path, speech, |design, sources| {
        let verdict = judged(design);
        say(
            speech,
            |terminal| report::terminal::heaters(&verdict, sources, terminal),
            || report::record::heaters(&verdict, sources),
        );
        let fault = |finding: &Finding| finding.severity == Severity::Fault;
        Ok(if !verdict.heaters.findings.iter().any(fault) {
            Ending::Well
        } else {
            Ending::Fault
        })
    })
}

/// Rails and heat.
pub fn power(path: &Path, speech: &Speech) -> Result<Ending, String> {
    answer(path, speech, |design, _| {
        let verdict = judged(design);
        say(
            speech,
            |terminal| report::terminal::rail_power(&verdict, terminal),
            || report::record::rail_power(&verdict),
        );
        Ok(Ending::Well)
    })
}

/// What to buy.
pub fn parts(path: &Path, to: Option<&Path>, speech: &Speech) -> Result<Ending, String> {
    if let Some(file) = to.filter(|file| file.extension().is_none_or(|ending| ending != "csv")) {
        return Err(format!(
            "{}: the list is written as .csv; let the name of the file end in that, such as --to parts.csv",
            file.display()
        ));
    }
    answer(path, speech, |design, _| {
        let list = parts_list(&judged(design));
        if let Some(file) = to {
            write(file, report::csv::parts(&list))?;
            remark(&format!("The parts list stands in {}.", file.display()));
            if !speech.json {
                return Ok(Ending::Well);
            }
        }
        say(
            speech,
            |terminal| report::terminal::parts(&list, terminal),
            || report::record::parts(&list),
        );
        Ok(Ending::Well)
    })
}

/// The parts list at the program's defaults.
pub fn parts_list(verdict: &Verdict) -> PartsList {
    network::parts::parts(verdict, &BUYING, &CONTEXT)
}

/// Cold tubes, each rail missing, the order of the rails, a soft start.
pub fn switch_on(path: &Path, speech: &Speech) -> Result<Ending, String> {
    answer(path, speech, |design, sources| {
        let verdict = judged(design);
        say(
            speech,
            |terminal| report::terminal::switch_on(&verdict, sources, terminal),
            || report::record::switch_on(&verdict, sources),
        );
        let found = verdict.switch_on_findings();
        let fault = |finding: &Finding| finding.severity == Severity::Fault;
        Ok(if found.iter().any(fault) {
            Ending::Fault
        } else {
            Ending::Well
        })
    })
}

/// What can hurt, or a sheet of it.
pub fn safety(path: &Path, to: Option<&Path>, speech: &Speech) -> Result<Ending, String> {
    answer(path, speech, |design, _| {
        let touch_volts = LIMITS.touch_volts;
        if let Some(file) = to {
            let (edition, wording) = (edition(), speech.wording());
            let page = report::html::safety_page(design, touch_volts, &edition, wording);
            write(file, &page)?;
            remark(&format!(
                "The safety sheet stands in {}; print it, and hang it beside the machine.",
                file.display()
            ));
            if !speech.json {
                return Ok(Ending::Well);
            }
        }
        say(
            speech,
            |terminal| report::terminal::safety(design, touch_volts, terminal),
            || report::record::safety(design, touch_volts),
        );
        Ok(Ending::Well)
    })
}

/// What a meter reads on every pin of a socket.
pub fn readings(
    tube: &str,
    meter: Option<&str>,
    path: &Path,
    speech: &Speech,
) -> Result<Ending, String> {
    let given = meter.map(meter_ohms).transpose()?;
    answer(path, speech, |design, _| {
        let socket = SocketId(find(
            "tube",
            tube,
            design.sockets.iter().map(|socket| socket.mark.as_str()),
        )?);
        let ohms = given.or(design.bench.meter_ohms).unwrap_or(METER_OHMS);
        let verdict = judged(design);
        let pins = network::bench::socket_readings(&verdict, socket, ohms, &CONTEXT);
        say(
            speech,
            |terminal| report::terminal::readings(design, socket, &pins, ohms, terminal),
            || report::record::readings(design, socket, &pins, ohms),
        );
        Ok(Ending::Well)
    })
}

fn meter_ohms(word: &str) -> Result<f64, String> {
    match quantity::parse(word) {
        Ok(quantity) if matches!(quantity.unit, Unit::None | Unit::Ohm) && 0.0 < quantity.value => {
            Ok(quantity.value)
        }
        _ => Err(format!(
            "{word} is not the input resistance of a meter; type it like 10M or 20k"
        )),
    }
}

/// The wiring list of a board, or of the whole machine.
pub fn wiring(board: Option<&str>, path: &Path, speech: &Speech) -> Result<Ending, String> {
    answer(path, speech, |design, _| {
        let board = board
            .map(|name| {
                find(
                    "board",
                    name,
                    design.boards.iter().map(|board| board.name.as_str()),
                )
            })
            .transpose()?;
        let wires = design::wiring::wiring_list(design, board);
        say(
            speech,
            |terminal| report::terminal::wiring(design, board, &wires, terminal),
            || report::record::wiring(design, board, &wires),
        );
        Ok(Ending::Well)
    })
}
