//! The command line: what can be asked, as data.

use clap::{Args, Parser, Subcommand, ValueEnum};
use std::path::{Path, PathBuf};

/// What a newcomer types first.
pub const FIRST_MINUTES: &str = "\
The first five minutes:
  valvewright start myrig nor2                    begin a folder with a ready gate, a NOR of two
  valvewright check myrig                         judge it
  valvewright draw nor2 --in myrig --to nor2.svg  draw it with its volts";

/// Judges machines made of vacuum tubes before copper is cut, and says what the meter should read after.
#[derive(Debug, Parser)]
#[command(name = "valvewright", version, about, max_term_width = 100, after_help = FIRST_MINUTES)]
pub struct Arguments {
    /// What to do; a welcome when left out.
    #[command(subcommand)]
    pub command: Option<Command>,
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

/// A design where nothing else is named: bare, or behind `--in` as with the other commands.
#[derive(Debug, Clone, Args)]
pub struct OnlyDesign {
    /// Design folder, or .valve file [default: .].
    #[arg(value_name = "DESIGN")]
    bare: Option<PathBuf>,
    /// The same, as other commands have it.
    #[arg(long = "in", value_name = "DESIGN", conflicts_with = "bare")]
    inside: Option<PathBuf>,
}

impl OnlyDesign {
    /// Its folder or file.
    #[must_use]
    pub fn path(&self) -> &Path {
        let given = self.bare.as_deref().or(self.inside.as_deref());
        given.unwrap_or(Path::new("."))
    }
}

/// Where `choose` takes values from.
#[derive(Debug, Clone, Args)]
pub struct Range {
    /// Series of values: E6, E12, E24, E48 or E96 (IEC 60063).
    #[arg(long, value_name = "SERIES", default_value = "E24")]
    pub series: String,
    /// Smallest value of those that have no ends of their own [default: a tenth of what is typed].
    #[arg(long, value_name = "OHM", allow_hyphen_values = true)]
    pub from: Option<String>,
    /// Largest value of those that have no ends of their own [default: ten times what is typed].
    #[arg(long, value_name = "OHM", allow_hyphen_values = true)]
    pub up_to: Option<String>,
}

/// What the values chosen must keep, at book values.
#[derive(Debug, Clone, Args)]
pub struct Limits {
    /// The most that one unit may take from a rail, such as upper 2mA; may be given for several.
    #[arg(long, value_names = ["RAIL", "AMPERES"], num_args = 2, allow_hyphen_values = true)]
    pub most: Vec<String>,
    /// The most watts of any resistor, such as 0.25.
    #[arg(long, value_name = "WATTS", allow_hyphen_values = true)]
    pub watts: Option<String>,
    /// The longest rough delay, such as 10us.
    #[arg(long, value_name = "SECONDS", allow_hyphen_values = true)]
    pub delay: Option<String>,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Begin a folder with ready circuits from the shelf; without a folder, list the shelf.
    #[command(after_help = "\
Examples:
  valvewright start                             list the shelf
  valvewright start counter flipflop follower   begin the folder counter")]
    Start {
        /// Folder to begin.
        folder: Option<PathBuf>,
        /// Circuits to begin with, such as nor2 follower; `all` for the whole shelf.
        #[arg(value_name = "CIRCUIT")]
        circuits: Vec<String>,
    },
    /// Write the demo machine Tidewatch, check it, and write its report.
    #[command(after_help = "Example:\n  valvewright demo")]
    Demo {
        /// Where to write it.
        #[arg(value_name = "FOLDER", default_value = crate::demo::FOLDER)]
        folder: PathBuf,
    },
    /// Judge a design: every level, load, rating, state and heater.
    #[command(after_help = "Example, after `valvewright demo`:\n  valvewright check tidewatch")]
    Check {
        #[command(flatten)]
        design: OnlyDesign,
        /// Check again whenever a file of the design is saved.
        #[arg(long)]
        on_save: bool,
    },
    /// Volts and currents of a unit or circuit in every row of its inputs.
    #[command(after_help = "\
Examples, after `valvewright demo`:
  valvewright levels nor3 --in tidewatch     a circuit by itself
  valvewright levels keep.D3 --in tidewatch  a unit in its place")]
    Levels {
        /// Unit or circuit; all circuits when left out.
        name: Option<String>,
        #[command(flatten)]
        design: Design,
    },
    /// Who drives whom, and with how much to spare.
    #[command(
        after_help = "Example, after `valvewright demo`:\n  valvewright drives --in tidewatch"
    )]
    Drives {
        /// Only what this unit drives or is driven by.
        name: Option<String>,
        #[command(flatten)]
        design: Design,
    },
    /// What is left to spare in the worst case: parts anywhere in their tolerance, tubes new or old, rails at their ends.
    #[command(after_help = "\
Examples, after `valvewright demo`:
  valvewright margins --in tidewatch             every unit and circuit alone, the worst first
  valvewright margins minus.N1 --in tidewatch    one unit: each corner, and what each part does
  valvewright margins nor3 --in tidewatch        one circuit: its units, and alone in detail")]
    Margins {
        /// Unit, or block for all its units, or circuit for all its units and for itself alone; all of them when left out.
        name: Option<String>,
        #[command(flatten)]
        design: Design,
    },
    /// How many of a hundred units work with parts and rails drawn from their bands.
    #[command(after_help = "\
Examples, after `valvewright demo`:
  valvewright yield minus.N1 --in tidewatch
  valvewright yield --samples 4096 --keep tallies.txt --in tidewatch   a longer run, to be gone on with")]
    Yield(Yield),
    /// Marginal check: how far each rail can be moved before something fails, and a sheet for the bench.
    #[command(after_help = "\
Examples, after `valvewright demo`:
  valvewright marginal --in tidewatch                              each rail, and what to read
  valvewright marginal --to sheet.html --in tidewatch              the sheet alone, to print
  valvewright marginal --rail upper --fails-at 34V --in tidewatch  which tube may be weak")]
    Marginal {
        /// Rail at which the machine on the bench fails too early.
        #[arg(long, value_name = "RAIL", requires = "fails_at")]
        rail: Option<String>,
        /// Volts of that rail at which it fails, such as 27V.
        #[arg(
            long,
            value_name = "VOLTS",
            requires = "rail",
            allow_hyphen_values = true
        )]
        fails_at: Option<String>,
        /// Write the sheet for the bench as a page, into a file ending in .html.
        #[arg(long, value_name = "FILE", conflicts_with = "rail")]
        to: Option<PathBuf>,
        #[command(flatten)]
        design: Design,
    },
    /// Resistor values of a circuit that spare the most in the worst case. Nothing is written.
    #[command(after_help = "\
Examples, after `valvewright demo`:
  valvewright choose nor3 R3=47k..220k --series E12 --to nor3.svg --in tidewatch
  valvewright choose nor3 R3 --from 75k --up-to 120k --tubes 6922,12AT7 --most upper 1mA --in tidewatch")]
    Choose {
        /// Circuit.
        circuit: String,
        /// Resistors whose values are free, such as R1 R2; with ends of its own, R1=330k..1M.
        #[arg(required = true, value_name = "RESISTOR")]
        parts: Vec<String>,
        #[command(flatten)]
        range: Range,
        #[command(flatten)]
        limits: Limits,
        /// Loads from none to so many.
        #[arg(long, value_name = "COUNT", default_value_t = 3)]
        loads: usize,
        /// Types that must all serve, such as 6922,12AT7 [default: those typed].
        #[arg(long, value_name = "TYPES", value_delimiter = ',')]
        tubes: Vec<String>,
        /// Draw what is to spare, before and after, into a file ending in .svg or .pdf.
        #[arg(long, value_name = "FILE")]
        to: Option<PathBuf>,
        #[command(flatten)]
        design: Design,
    },
    /// Which tube types serve in a circuit, the most to spare first.
    #[command(
        after_help = "Example, after `valvewright demo`:\n  valvewright serves nor3 --in tidewatch"
    )]
    Serves {
        /// Circuit.
        circuit: String,
        /// Loads from none to so many.
        #[arg(long, value_name = "COUNT", default_value_t = 3)]
        loads: usize,
        #[command(flatten)]
        design: Design,
    },
    /// How many gates a circuit drives and how many inputs it takes, with a rough delay.
    #[command(
        after_help = "Example, after `valvewright demo`:\n  valvewright loads nor3 --in tidewatch"
    )]
    Loads {
        /// Circuit; all when left out.
        name: Option<String>,
        #[command(flatten)]
        design: Design,
    },
    /// What stores: every state of every ring of gates, and what scanning it found.
    #[command(
        after_help = "Example, after `valvewright demo`:\n  valvewright states --in tidewatch"
    )]
    States {
        #[command(flatten)]
        design: OnlyDesign,
    },
    /// Heater strings: volts of every heater.
    #[command(
        after_help = "Example, after `valvewright demo`:\n  valvewright heaters --in tidewatch"
    )]
    Heaters {
        #[command(flatten)]
        design: OnlyDesign,
    },
    /// Group tubes into heater strings that balance, with shunts and droppers; without tubes, those of a design.
    #[command(after_help = "\
Examples, the last after `valvewright demo`:
  valvewright group 12AU7 x 8, 6922 x 4 --supply 25.2V
  valvewright group --in tidewatch --from heat")]
    Group {
        /// Types and counts, such as 12AU7 x 8, 6922 x 4; all tubes of the design when left out.
        #[arg(
            value_name = "TUBES",
            conflicts_with = "from",
            allow_negative_numbers = true
        )]
        tubes: Vec<String>,
        /// Volts of the supply for tubes that are named, such as 25.2V.
        #[arg(
            long,
            value_name = "VOLTS",
            requires = "tubes",
            num_args = 0..=1,
            default_missing_value = "",
            allow_hyphen_values = true
        )]
        supply: Option<String>,
        /// Tolerance of that supply [default: 5%].
        #[arg(
            long,
            value_name = "PERCENT",
            requires = "tubes",
            num_args = 0..=1,
            default_missing_value = "",
            allow_hyphen_values = true
        )]
        within: Option<String>,
        /// Rail of the design that heats [default: the one that its strings begin on].
        #[arg(long, value_name = "RAIL")]
        from: Option<String>,
        /// Design folder, or .valve file; for tubes that are named, one whose own types count as well.
        #[arg(long = "in", value_name = "DESIGN")]
        design: Option<PathBuf>,
    },
    /// What every rail must give in which state, which fuse that asks for, and where the heat goes.
    #[command(
        after_help = "Example, after `valvewright demo`:\n  valvewright power --in tidewatch"
    )]
    Power {
        #[command(flatten)]
        design: OnlyDesign,
    },
    /// What to buy: every part with its worst, the rating to buy, how many are needed and how many to order.
    #[command(after_help = "\
Examples, after `valvewright demo`:
  valvewright parts --in tidewatch
  valvewright parts --in tidewatch --to parts.csv   a table for a spreadsheet")]
    Parts {
        #[command(flatten)]
        design: OnlyDesign,
        /// Write it as comma-separated values (RFC 4180) into a file ending in .csv.
        #[arg(long, value_name = "FILE")]
        to: Option<PathBuf>,
    },
    /// What can hurt: volts between the rails, what they store, what to do before a hand goes in.
    #[command(after_help = "\
Examples, after `valvewright demo`:
  valvewright safety --in tidewatch
  valvewright safety --in tidewatch --to safety.html   one sheet for the wall")]
    Safety {
        #[command(flatten)]
        design: OnlyDesign,
        /// Write it as a page of one sheet.
        #[arg(long, value_name = "FILE")]
        to: Option<PathBuf>,
    },
    /// Switching on: cold tubes, each rail missing, the order of the rails, a soft start for the heaters.
    #[command(
        after_help = "Example, after `valvewright demo`:\n  valvewright switch-on --in tidewatch"
    )]
    SwitchOn {
        #[command(flatten)]
        design: OnlyDesign,
    },
    /// What one change does: before and after, side by side. Nothing is written.
    #[command(after_help = "\
Examples, after `valvewright demo`:
  valvewright try nor3.R3 100k --in tidewatch
  valvewright try upper 40V --in tidewatch")]
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
    /// What another type in one socket does: its heater, its pins, its levels. Nothing is written.
    #[command(
        after_help = "Example, after `valvewright demo`:\n  valvewright swap V3 E88CC --in tidewatch"
    )]
    Swap {
        /// Tube, such as V3.
        tube: String,
        /// Type to try in its place, such as E88CC.
        #[arg(value_name = "TYPE")]
        name: String,
        #[command(flatten)]
        design: Design,
    },
    /// Change one value in the text and leave every other byte alone.
    #[command(
        after_help = "Example, after `valvewright start myrig nor2`:\n  valvewright set nor2.R3 91k --in myrig"
    )]
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
    #[command(after_help = "Example, after `valvewright demo`:\n  valvewright format tidewatch")]
    Format {
        /// Files to lay out, or folders: every .valve file in them.
        #[arg(required = true, value_name = "FILE")]
        files: Vec<PathBuf>,
        /// Only say which files would change; exit code 1 if any.
        #[arg(long)]
        look: bool,
    },
    /// The sheet of a tube type: data with sources, pins, curves, what it does at low volts.
    #[command(after_help = "\
Examples:
  valvewright tube        list the types
  valvewright tube 6922   the sheet of one")]
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
    #[command(
        after_help = "Example, after `valvewright demo`:\n  valvewright fit tidewatch/points.csv --as MYTUBE"
    )]
    Fit {
        /// CSV file of points.
        points: PathBuf,
        /// Name of the type to print.
        #[arg(long = "as", value_name = "NAME", default_value = "measured")]
        name: String,
    },
    /// Draw the machine, a block, a board, a circuit, a unit or a heater string into a file, as SVG or as PDF at exact scale.
    #[command(after_help = "\
Examples, after `valvewright demo`:
  valvewright draw nor3 --up \"a c\" --in tidewatch --to nor3.svg
  valvewright draw subtractor --in tidewatch --to board.pdf")]
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
    /// Write the report: one page with pictures, for screen and print.
    #[command(after_help = "Example, after `valvewright demo`:\n  valvewright report tidewatch")]
    Report {
        #[command(flatten)]
        design: OnlyDesign,
        /// The page to write [default: report.html in the design's folder; of a file chain.valve, chain-report.html].
        #[arg(long, value_name = "FILE")]
        to: Option<PathBuf>,
    },
    /// The pin-to-pin wiring list of a board.
    #[command(
        after_help = "Example, after `valvewright demo`:\n  valvewright wiring subtractor --in tidewatch"
    )]
    Wiring {
        /// Board; the whole machine when left out.
        board: Option<String>,
        #[command(flatten)]
        design: Design,
    },
    /// What a meter should read on every pin of a socket.
    #[command(
        after_help = "Example, after `valvewright demo`:\n  valvewright readings V3 --in tidewatch"
    )]
    Readings {
        /// Tube, such as V3.
        tube: String,
        /// Input resistance of the meter, such as 10M or 20k.
        #[arg(long, value_name = "OHM", allow_hyphen_values = true)]
        meter: Option<String>,
        #[command(flatten)]
        design: Design,
    },
    /// What a finding or a message means, and what usually mends it.
    #[command(after_help = "\
Examples:
  valvewright explain               list all names
  valvewright explain not-cut-off")]
    Explain {
        /// Name, such as not-cut-off; a list of all when left out.
        name: Option<String>,
    },
    /// Print completions for a shell, or the manual page, to be sent to a file.
    #[command(after_help = "\
Examples:
  valvewright setup bash     for a file in ~/.local/share/bash-completion/completions
  valvewright setup manual   for the file ~/.local/share/man/man1/valvewright.1")]
    Setup {
        /// A shell, or manual.
        #[arg(value_name = "FOR")]
        whom: Whom,
    },
}

/// What `yield` takes.
#[derive(Debug, Args)]
pub struct Yield {
    /// Unit, or circuit or block for all its units; every unit when left out.
    pub name: Option<String>,
    #[command(flatten)]
    pub design: Design,
    /// Samples of each unit, rounded up to 16 powers of two [default: 1024].
    #[arg(long, value_name = "NUMBER", allow_hyphen_values = true)]
    pub samples: Option<String>,
    /// Begins another sequence of samples [default: 1].
    #[arg(long, value_name = "NUMBER", allow_hyphen_values = true)]
    pub seed: Option<String>,
    /// Share of its band in the middle of which no resistor stands, because closer ones were picked out: with 40% none of 5 % is
    /// within 2 % of its value. Where the text says it of a resistor that counts [default: 0%].
    #[arg(long, value_name = "PERCENT", allow_hyphen_values = true)]
    pub hollow: Option<String>,
    /// Keep the counts in a file, and go on from it where it is there.
    #[arg(long, value_name = "FILE")]
    pub keep: Option<PathBuf>,
    /// Draw only a share of the samples, such as 2/4, to be joined with the others.
    #[arg(long, value_name = "SHARE", requires = "keep")]
    pub share: Option<String>,
    /// Join what was kept in files, and draw nothing.
    #[arg(long, value_name = "FILE", num_args = 1.., conflicts_with_all = ["share", "samples"])]
    pub join: Vec<PathBuf>,
    /// Draw where the outputs of a unit stand in the samples into a file ending in .svg or .pdf.
    #[arg(long, value_name = "FILE")]
    pub to: Option<PathBuf>,
}

/// For whom `setup` prints.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Whom {
    /// Completions for bash.
    Bash,
    /// Completions for elvish.
    Elvish,
    /// Completions for fish.
    Fish,
    /// Completions for PowerShell.
    Powershell,
    /// Completions for zsh.
    Zsh,
    /// The manual page, in the form that `man` reads.
    Manual,
}

/// The examples at the end of a command's help text, each as it is typed: what stands behind two blanks says what it does.
#[must_use]
pub fn examples(command: &clap::Command) -> Vec<String> {
    let help = command.get_after_help().map(ToString::to_string);
    let lines = help.iter().flat_map(|help| help.lines());
    lines
        .filter_map(|line| line.strip_prefix("  "))
        .filter_map(|line| line.split("  ").next())
        .map(str::to_owned)
        .collect()
}
