//! One function per command; each reads, computes, and says.

mod asking;
mod checking;
mod choosing;
mod drawing;
mod editing;
mod explaining;
mod interrupt;
mod planning;
mod progress;
mod rails;
mod setting_up;
mod starting;
mod types;
mod yielding;

use crate::Ending;
use crate::cli::{Arguments, Command, Speech};
use crate::defaults::{CONTEXT, LIMITS, WIDTH};
use crate::files::Folder;
use design::model::Design;
use design::read::{Reading, read};
use devices::library::Library;
use network::verdict::{Verdict, check};
use report::html::Edition;
use report::pinout::Side;
use report::terminal::Terminal;
use report::words::Wording;
use std::path::Path;
use text::diagnostic::{Diagnostic, render};
use text::quantity::{self, Unit};
use text::source::SourceMap;

/// Does what was asked.
///
/// # Errors
/// When the command itself cannot be carried out: says why and what to do.
pub fn run(arguments: &Arguments) -> Result<Ending, String> {
    let speech = &arguments.speech;
    let Some(command) = &arguments.command else {
        return Ok(setting_up::welcome());
    };
    match command {
        Command::Demo { folder } => checking::demo(folder, speech),
        Command::Start { folder, circuits } => starting::start(folder.as_deref(), circuits, speech),
        Command::Check {
            design,
            on_save: false,
        } => checking::check(design.path(), speech),
        Command::Check {
            design,
            on_save: true,
        } => checking::check_on_save(design.path(), speech),
        Command::Report { design, to } => checking::report(design.path(), to.as_deref(), speech),
        Command::Draw {
            name,
            up,
            design,
            tube_side,
            to,
        } => {
            let side = if *tube_side { Side::Above } else { Side::Below };
            let (name, up) = (name.as_deref(), up.as_deref());
            drawing::draw(name, up, &design.path, side, to.as_deref(), speech)
        }
        Command::Levels { name, design } => asking::levels(name.as_deref(), &design.path, speech),
        Command::Drives { name, design } => asking::drives(name.as_deref(), &design.path, speech),
        Command::Margins { name, design } => asking::margins(name.as_deref(), &design.path, speech),
        Command::Yield(asked) => yielding::yields(asked, speech),
        Command::Marginal {
            rail,
            fails_at,
            to,
            design,
        } => match (rail, fails_at) {
            (Some(rail), Some(volts)) => rails::to_blame(rail, volts, &design.path, speech),
            _ => rails::marginal(&design.path, to.as_deref(), speech),
        },
        Command::Choose {
            circuit,
            parts,
            range,
            limits,
            loads,
            tubes,
            to,
            design,
        } => {
            let asked = choosing::Asked {
                circuit,
                parts,
                range,
                limits,
                loads: *loads,
                tubes,
                to: to.as_deref(),
            };
            choosing::choose(&asked, &design.path, speech)
        }
        Command::Serves {
            circuit,
            loads,
            design,
        } => choosing::serves(circuit, *loads, &design.path, speech),
        Command::Loads { name, design } => asking::loads(name.as_deref(), &design.path, speech),
        Command::States { design } => asking::states(design.path(), speech),
        Command::Heaters { design } => asking::heaters(design.path(), speech),
        Command::Group {
            tubes,
            supply,
            within,
            from,
            design,
        } => {
            let path = design.as_deref();
            if tubes.is_empty() {
                let path = path.unwrap_or(Path::new("."));
                return planning::group_design(from.as_deref(), path, speech);
            }
            let lot = planning::Lot {
                words: tubes,
                supply: supply.as_deref(),
                within: within.as_deref(),
            };
            planning::group_lot(&lot, path, speech)
        }
        Command::Power { design } => asking::power(design.path(), speech),
        Command::Parts { design, to } => asking::parts(design.path(), to.as_deref(), speech),
        Command::Safety { design, to } => asking::safety(design.path(), to.as_deref(), speech),
        Command::SwitchOn { design } => asking::switch_on(design.path(), speech),
        Command::Readings {
            tube,
            meter,
            design,
        } => asking::readings(tube, meter.as_deref(), &design.path, speech),
        Command::Wiring { board, design } => asking::wiring(board.as_deref(), &design.path, speech),
        Command::Try {
            part,
            value,
            to,
            design,
        } => editing::try_change(part, value, to.as_deref(), &design.path, speech),
        Command::Swap { tube, name, design } => planning::swap(tube, name, &design.path, speech),
        Command::Set {
            part,
            value,
            design,
        } => editing::set(part, value, &design.path, speech),
        Command::Format { files, look } => editing::format(files, *look, speech),
        Command::Tube { name, design, to } => {
            types::tube(name.as_deref(), design.as_deref(), to.as_deref(), speech)
        }
        Command::Fit { points, name } => types::fit(points, name, speech),
        Command::Explain { name } => explaining::explain(name.as_deref(), speech),
        Command::Setup { whom } => setting_up::setup(*whom, speech),
    }
}

impl Speech {
    /// How to set out text on the terminal.
    fn terminal(&self) -> Terminal {
        let width = self
            .width
            .or_else(|| std::env::var("COLUMNS").ok()?.parse().ok())
            .unwrap_or(WIDTH);
        Terminal {
            width: width.max(40),
            colour: false,
            plain: self.plain,
            wording: self.wording(),
        }
    }

    fn wording(&self) -> Wording {
        Wording {
            valve: self.valve,
            anode: self.anode,
        }
    }
}

/// Reads a design and shows every problem with its text.
fn read_design(path: &Path) -> Result<Reading, String> {
    let folder = Folder::at(path)?;
    let reading = read(&folder.first, &folder, Library::shipped());
    show_problems(&reading.diagnostics, &reading.sources);
    Ok(reading)
}

/// Problems with the text, as talk.
fn show_problems(problems: &[Diagnostic], sources: &SourceMap) {
    if !problems.is_empty() {
        remark(render(problems, sources, false).trim_end());
    }
}

/// A design that can be used, or how the command ends without one.
fn usable<'a>(reading: &'a Reading, speech: &Speech) -> Result<&'a Design, Ending> {
    match &reading.design {
        Some(design) => Ok(design),
        None => {
            if speech.json {
                tell(&format!(
                    "{:#}\n",
                    report::record::diagnostics(&reading.diagnostics, &reading.sources)
                ));
            }
            let faults = reading.faults();
            let word = if faults == 1 { "fault" } else { "faults" };
            remark(&format!(
                "{faults} {word} in the text; mend the text first."
            ));
            Err(Ending::Unusable)
        }
    }
}

/// A quantity in a unit; volts, ohms, amperes and such may stand without theirs, a percentage not.
fn measure(word: &str, unit: Unit) -> Option<f64> {
    let quantity = quantity::parse(word).ok()?;
    let bare = quantity.unit == Unit::None && unit != Unit::Percent;
    (bare || quantity.unit == unit).then_some(quantity.value)
}

fn judged(design: &Design) -> Verdict<'_> {
    check(design, &LIMITS, &CONTEXT)
}

fn ending(verdict: &Verdict) -> Ending {
    if verdict.passes() {
        Ending::Well
    } else {
        Ending::Fault
    }
}

/// What the report says of itself.
fn edition() -> Edition {
    Edition {
        version: env!("CARGO_PKG_VERSION").to_owned(),
        date: today(),
    }
}

/// Today's date (UTC) as year-month-day, from the days since 1970 (civil calendar).
fn today() -> String {
    let seconds = std::time::SystemTime::now()
        .duration_since(std::time::UNIX_EPOCH)
        .map_or(0, |past| past.as_secs());
    let mut days = seconds / 86_400;
    let mut year = 1970;
    let leap = |year: u64| {
        year.is_multiple_of(4) && (!year.is_multiple_of(100) || year.is_multiple_of(400))
    };
    while days >= 365 + u64::from(leap(year)) {
        days -= 365 + u64::from(leap(year));
        year += 1;
    }
    let lengths = [
        31,
        28 + u64::from(leap(year)),
        31,
        30,
        31,
        30,
        31,
        31,
        30,
        31,
        30,
        31,
    ];
    let mut month = 1;
    for length in lengths {
        if days < length {
            break;
        }
        days -= length;
        month += 1;
    }
    format!("{year}-{month:02}-{:02}", days + 1)
}

/// Words to the terminal, or a record.
fn say(
    speech: &Speech,
    words: impl FnOnce(&Terminal) -> String,
    record: impl FnOnce() -> serde_json::Value,
) {
    if speech.json {
        tell(&format!("{:#}\n", record()));
    } else {
        tell(&words(&speech.terminal()));
    }
}

/// Writes to standard output. A reader that has gone away (a pager that was left, `head`) is no failure.
fn tell(text: &str) {
    use std::io::Write as _;
    let mut out = std::io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() != std::io::ErrorKind::BrokenPipe => {
            remark(&format!(
                "valvewright: the answer cannot be written: {error}"
            ));
        }
        _ => {}
    }
}

/// A line of talk to standard error; where nobody can hear it, it is lost.
pub fn remark(text: &str) {
    use std::io::Write as _;
    let _ = writeln!(std::io::stderr(), "{text}");
}

/// A record of several things of one kind: `format`, `record`, and the list under its own name.
fn listing(kind: &str, list: serde_json::Value) -> serde_json::Value {
    serde_json::json!({ "format": report::record::FORMAT, "record": kind, kind: list })
}
