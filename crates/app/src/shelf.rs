//! The shelf: ready circuits carried in the program, and the folder that is started with some of them.
//!
//! A piece is one `.valve` file. What the program says of it stands in the file itself: its first comment is what it does,
//! and a comment with fixed wording is its range of use. Tests compute the circuit at the ends of that range.

use design::model::{Design, Interface, JigDriver, NetId};
use design::read::read;
use devices::library::Library;
use std::collections::BTreeMap;
use std::fmt::Write as _;
use text::source::Sources;

/// A piece of the shelf.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Piece {
    /// Name, also of its circuit or block.
    pub name: &'static str,
    /// Text of its file.
    pub text: &'static str,
}

macro_rules! pieces {
    ($($name:literal),* $(,)?) => {
        &[$(Piece { name: $name, text: include_str!(concat!("../shelf/", $name, ".valve")) }),*]
    };
}

/// Everything on the shelf, simple things first.
pub const SHELF: &[Piece] = pieces![
    "inverter",
    "nor2",
    "nor3",
    "nor4",
    "latch",
    "flipflop",
    "follower",
    "summing",
    "diode-and",
    "from-5v",
    "to-5v",
    "lamp-indicator",
    "lamp-neon",
    "keyer-20ma",
    "keyer-60ma",
];

/// The rails of the shelf: name, values, and what they are for. The limits are where a small bench supply stands (chosen).
const RAILS: &[(&str, &str, &str)] = &[
    ("upper", "36V 5%, limit 50mA", "plates of the gates"),
    ("lower", "-24V 5%, limit 20mA", "takes grids below cut-off"),
    ("logic", "5V 5%, limit 100mA", "of the 5 V rig"),
    (
        "lamp",
        "50V 5%, limit 10mA",
        "indicator triodes; they may see 55 V",
    ),
    ("neon", "120V 5%, limit 10mA", "neon lamps; can kill"),
    ("loop", "120V 5%, limit 100mA", "teleprinter loop; can kill"),
];

/// The file that holds the rails of a started folder; every piece includes it.
const RAILS_FILE: &str = "rails.valve";

/// Where a piece may be used, as its file says.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Range {
    /// Rails that it needs, each of which may be off.
    pub rails: Vec<String>,
    /// By how much they may be off, all at once and in any direction, %.
    pub within_percent: u32,
    /// By how much it no longer passes without a finding, where that is known, %.
    pub not_within_percent: Option<u32>,
    /// How many inputs it drives; `None` for what drives no gates.
    pub drives: Option<u32>,
    /// With how many it no longer passes without a finding, where that is known.
    pub not_driving: Option<u32>,
    /// Tube types that serve.
    pub tubes: Vec<String>,
}

/// What comes before the range in a file.
const RANGE_MARK: &str = "# Range of use: ";

impl Piece {
    /// The piece of this name.
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        SHELF.iter().copied().find(|piece| piece.name == name)
    }

    /// What it does, one sentence: the first comment of its file.
    #[must_use]
    pub fn does(&self) -> &'static str {
        self.comment("# ")
    }

    /// The rest of the first line that begins with `mark`.
    fn comment(&self, mark: &str) -> &'static str {
        let mut lines = self.text.lines();
        lines.find_map(|line| line.strip_prefix(mark)).unwrap_or("")
    }

    /// Its range of use.
    #[must_use]
    pub fn range(&self) -> Range {
        let mut range = Range::default();
        for clause in self.comment(RANGE_MARK).trim_end_matches('.').split("; ") {
            let names = |list: &str| list.split(", ").map(str::to_owned).collect();
            let mut numbers = clause
                .split(|letter: char| !letter.is_ascii_digit())
                .filter_map(|word| word.parse().ok());
            if let Some(tubes) = clause.strip_prefix("tubes ") {
                range.tubes = names(tubes);
            } else if clause.starts_with("drives ") {
                range.drives = numbers.next();
                range.not_driving = numbers.next();
            } else if let Some((rails, _)) = clause.split_once(" within ") {
                range.rails = names(rails);
                range.within_percent = numbers.next().unwrap_or(0);
                range.not_within_percent = numbers.next();
            }
        }
        range
    }

    /// The pieces that its file includes.
    fn needs(&self) -> impl Iterator<Item = Self> {
        let included = self
            .text
            .lines()
            .filter_map(|line| line.strip_prefix("include "));
        included.filter_map(|file| Self::named(file.trim_end_matches(".valve")))
    }

    /// Whether it is a block of several circuits.
    #[must_use]
    pub fn is_block(&self) -> bool {
        self.text.lines().any(|line| line.starts_with("block "))
    }

    fn file(&self) -> String {
        format!("{}.valve", self.name)
    }
}

/// The files of a folder with some pieces: their names and texts, the first being the machine itself.
///
/// # Errors
/// When a piece cannot be read: the program is built wrongly.
pub fn folder(
    machine: &str,
    chosen: &[Piece],
    first: &str,
) -> Result<Vec<(String, String)>, String> {
    let mut pieces: Vec<Piece> = Vec::new();
    for piece in SHELF {
        let needed = chosen
            .iter()
            .any(|one| one == piece || one.needs().any(|need| need == *piece));
        if needed {
            pieces.push(*piece);
        }
    }
    let mut files = BTreeMap::from([(RAILS_FILE.to_owned(), rails_text(&pieces))]);
    files.extend(
        pieces
            .iter()
            .map(|piece| (piece.file(), piece.text.to_owned())),
    );
    let mut trials = Vec::new();
    for (index, &piece) in chosen.iter().enumerate() {
        let reading = read(&piece.file(), &InMemory(&files), Library::shipped());
        let design = reading
            .design
            .ok_or_else(|| format!("the shelf's {} cannot be read", piece.name))?;
        trials.push(
            Trial::of(piece, index + 1, &design)
                .ok_or_else(|| format!("the shelf has no circuit {}", piece.name))?,
        );
    }
    let text = machine_text(machine, chosen, &trials);
    let machine = std::iter::once((first.to_owned(), text));
    Ok(machine.chain(files).collect())
}

fn rails_text(pieces: &[Piece]) -> String {
    let mut text = "valvewright format 1\n\n# The supplies: volts against ground, and what they hold over the day. Write in what yours are.\n\n".to_owned();
    let used: Vec<String> = pieces
        .iter()
        .flat_map(|piece| piece.range().rails)
        .collect();
    let lines: Vec<(String, &str)> = RAILS
        .iter()
        .filter(|(name, ..)| used.iter().any(|rail| rail == name))
        .map(|(name, values, purpose)| (format!("rail {name} {values}"), *purpose))
        .collect();
    let width = lines.iter().map(|(line, _)| line.len()).max().unwrap_or(0);
    for (line, purpose) in lines {
        let _ = writeln!(text, "{line:width$}  # {purpose}");
    }
    text
}

struct InMemory<'a>(&'a BTreeMap<String, String>);

impl Sources for InMemory<'_> {
    fn read(&self, name: &str) -> Result<String, String> {
        self.0
            .get(name)
            .cloned()
            .ok_or_else(|| "no such file".to_owned())
    }
}

/// One piece on the bench: its unit, a switch on each input, a resistor on each output.
struct Trial {
    unit: String,
    switches: Vec<String>,
    loads: Vec<String>,
}

impl Trial {
    /// Feeds and loads are those of the piece's jig where it names rails and resistors, else those of a gate.
    fn of(piece: Piece, number: usize, design: &Design) -> Option<Self> {
        let circuit = design
            .circuits
            .iter()
            .position(|circuit| circuit.name == piece.name);
        let interface = match circuit {
            Some(index) => &design.circuits[index].interface,
            None => {
                &design
                    .blocks
                    .iter()
                    .find(|block| block.name == piece.name)?
                    .interface
            }
        };
        let jig = design
            .jigs
            .iter()
            .find(|jig| Some(jig.circuit.0) == circuit);
        let net_name = |net: NetId| design.nets[net.0].name.as_str();
        let resistor = |ohms: f64, tolerance: f64| match tolerance {
            0.0 => text::quantity::show_code(ohms),
            _ => format!(
                "{} {}%",
                text::quantity::show_code(ohms),
                (1e4 * tolerance).round() / 1e2
            ),
        };
        let feed = |input: usize| {
            let driver = jig.and_then(|jig| jig.drivers.iter().find(|driver| driver.0 == input));
            match driver {
                Some((
                    _,
                    JigDriver::Switch {
                        down,
                        up,
                        through_ohms,
                        tolerance,
                        ..
                    },
                )) => {
                    let ohms = resistor(*through_ohms, *tolerance);
                    format!("{} or {} through {ohms}", net_name(*up), net_name(*down))
                }
                _ => "upper or ground through 10k".to_owned(),
            }
        };
        let load = |output: usize| {
            let resistors = jig.map_or(&[][..], |jig| &jig.resistors);
            match resistors.iter().find(|load| load.signal == output) {
                Some(load) => {
                    let ohms = resistor(load.ohms, load.tolerance);
                    format!("{ohms} to {}", net_name(load.to))
                }
                None => "1M to ground".to_owned(),
            }
        };
        let Interface { signals, inputs } = interface;
        let nets: Vec<String> = signals
            .iter()
            .map(|signal| format!("{signal}{number}"))
            .collect();
        let pairs: Vec<String> = signals
            .iter()
            .zip(&nets)
            .map(|(signal, net)| format!("{signal} {net}"))
            .collect();
        Some(Self {
            unit: format!("unit T{number} {}: {}", piece.name, pairs.join(", ")),
            switches: (0..*inputs)
                .map(|input| format!("{} {}", nets[input], feed(input)))
                .collect(),
            loads: (*inputs..nets.len())
                .map(|output| format!("{} {}", nets[output], load(output)))
                .collect(),
        })
    }
}

fn machine_text(machine: &str, chosen: &[Piece], trials: &[Trial]) -> String {
    let mut text = format!(
        "valvewright format 1\nmachine {machine}\n\n# Begun from the shelf. Each file says above its circuit what it is for and within what range.\n\n"
    );
    for piece in chosen {
        let _ = writeln!(text, "include {}", piece.file());
    }
    text += "\n# ---- One of each, to try ----\n# Put your own units here, and join them by giving their signals the same net. A net that another unit drives, or that\n# is gone, needs no switch any more: take it out below.\n\n";
    for trial in trials {
        let _ = writeln!(text, "{}", trial.unit);
    }
    text += "\n# ---- On the bench ----\n# Switches and resistors stand in for what is not there yet.\n\nbench\n";
    for trial in trials {
        for (word, phrases) in [("switches", &trial.switches), ("loads", &trial.loads)] {
            for pair in phrases.chunks(2) {
                let _ = writeln!(text, "    {word}: {}", pair.join(", "));
            }
        }
    }
    text += "    meter 10M\n";
    text
}
