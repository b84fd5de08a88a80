//! The command line: what can be asked, as data.

use clap::{Args, Parser, Subcommand};
use std::path::PathBuf;

/// Judges machines made of vacuum tubes before copper is cut, and says what the meter should read after.
#[derive(Debug, Parser)]
#[command(name = "valvewright", version, about, max_term_width = 100)]
pub struct Arguments {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
    /// How to say it.
    #[command(flatten)]
    pub speech: Speech,
}

/// How answers are worded and shown.
#[derive(Debug, Clone, Args)]
pub struct Speech {
    /// Answer as a JSON record (docs/records.md) instead of words.
    #[arg(long, global = true)]
    pub json: bool,
    /// Say valve for tube.
    #[arg(long, global = true)]
    pub valve: bool,
    /// Say anode for plate.
    #[arg(long, global = true)]
    pub anode: bool,
    /// No colour, plain characters only.
    #[arg(long, global = true)]
    pub plain: bool,
    /// Columns to use, at least 40 [default: 100].
    #[arg(long, global = true, value_name = "COLUMNS")]
    pub width: Option<usize>,
}

/// A design folder (with machine.valve) or a single .valve file.
#[derive(Debug, Clone, Args)]
pub struct Design {
    /// Design folder, or .valve file.
    #[arg(long = "in", value_name = "DESIGN", default_value = ".")]
    pub path: PathBuf,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Write the demo machine Tidewatch, check it, and write its report.
    Demo {
        /// Where to write it.
        #[arg(value_name = "FOLDER", default_value = crate::demo::FOLDER)]
        folder: PathBuf,
    },
    /// Begin a folder with ready circuits from the shelf; without a folder, list the shelf.
    Start {
        /// Folder to begin.
        folder: Option<PathBuf>,
        /// Circuits to begin with, such as nor2 follower; `all` for the whole shelf.
        #[arg(value_name = "CIRCUIT")]
        circuits: Vec<String>,
    },
    /// Judge a design: every level, load, rating, state and heater.
    Check {
        /// Design folder, or .valve file.
        #[arg(value_name = "DESIGN", default_value = ".")]
        path: PathBuf,
        /// Check again whenever a file of the design is saved.
        #[arg(long)]
        on_save: bool,
    },
    /// Write the report: one page with pictures, for screen and print.
    Report {
        /// Design folder, or .valve file.
        #[arg(value_name = "DESIGN", default_value = ".")]
        path: PathBuf,
        /// The page to write (default: report.html in the design's folder).
        #[arg(long, value_name = "FILE")]
        to: Option<PathBuf>,
    },
    /// Draw the machine, a block, a board, a circuit, a unit or a heater string into a file, as SVG or as PDF at exact scale.
    Draw {
        /// Board, heater string, block in its place, circuit or unit; who drives whom in the whole machine when left out.
        name: Option<String>,
        /// Of a circuit or unit: the inputs that are up, such as "a c", or none [default: the first row of levels].
        #[arg(long, value_name = "INPUTS")]
        up: Option<String>,
        #[command(flatten)]
        design: Design,
        /// A board as seen from the tube side; else from the soldering side.
        #[arg(long)]
        tube_side: bool,
        /// The file to write, ending in .svg or .pdf [default: NAME.svg in the current folder].
        #[arg(long, value_name = "FILE")]
        to: Option<PathBuf>,
    },
    /// Volts and currents of a unit or circuit in every row of its inputs.
    Levels {
        /// Unit or circuit; all circuits when left out.
        name: Option<String>,
        #[command(flatten)]
        design: Design,
    },
    /// Who drives whom, and with how much to spare.
    Drives {
        /// Only what this unit drives or is driven by.
        name: Option<String>,
        #[command(flatten)]
        design: Design,
    },
    /// How many gates a circuit drives and how many inputs it takes, with a rough delay.
    Loads {
        /// Circuit; all when left out.
        name: Option<String>,
        #[command(flatten)]
        design: Design,
    },
    /// What stores: every state of every ring of gates, and what scanning it found.
    States {
        #[command(flatten)]
        design: Design,
    },
    /// Heater strings: volts of every heater.
    Heaters {
        #[command(flatten)]
        design: Design,
    },
    /// What a meter should read on every pin of a socket.
    Readings {
        /// Tube, such as V3.
        tube: String,
        /// Input resistance of the meter, such as 10M or 20k.
        #[arg(long, value_name = "OHM", allow_hyphen_values = true)]
        meter: Option<String>,
        #[command(flatten)]
        design: Design,
    },
    /// The pin-to-pin wiring list of a board.
    Wiring {
        /// Board; the whole machine when left out.
        board: Option<String>,
        #[command(flatten)]
        design: Design,
    },
    /// What one change does: before and after, side by side. Nothing is written.
    Try {
        /// Part or rail, such as nor3.R3.
        part: String,
        /// New value, such as 100k.
        #[arg(allow_hyphen_values = true)]
        value: String,
        /// Draw the circuit with the part marked and volts before and after into a file ending in .svg or .pdf.
        #[arg(long, value_name = "FILE")]
        to: Option<PathBuf>,
        #[command(flatten)]
        design: Design,
    },
    /// Change one value in the text and leave every other byte alone.
    Set {
        /// Part or rail, such as nor3.R3.
        part: String,
        /// New value, such as 100k.
        #[arg(allow_hyphen_values = true)]
        value: String,
        #[command(flatten)]
        design: Design,
    },
    /// Lay out .valve files in the house style.
    Format {
        /// Files to lay out, or folders: every .valve file in them.
        #[arg(required = true, value_name = "FILE")]
        files: Vec<PathBuf>,
        /// Only say which files would change; exit code 1 if any.
        #[arg(long)]
        look: bool,
    },
    /// The sheet of a tube type: data with sources, pins, curves, what it does at low volts.
    Tube {
        /// Type, such as 6922; a list of all types when left out.
        name: Option<String>,
        /// Design whose own types count as well.
        #[arg(long = "in", value_name = "DESIGN")]
        design: Option<PathBuf>,
        /// Write the sheet as a page.
        #[arg(long, value_name = "FILE")]
        to: Option<PathBuf>,
    },
    /// Fit a triode to measured points (columns: docs/curves.md) and print the type statement.
    Fit {
        /// CSV file of points.
        points: PathBuf,
        /// Name of the type to print.
        #[arg(long = "as", value_name = "NAME", default_value = "measured")]
        name: String,
    },
    /// What a finding or a message means, and what usually mends it.
    Explain {
        /// Name, such as not-cut-off; a list of all when left out.
        name: Option<String>,
    },
}
