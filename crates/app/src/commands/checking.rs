//! Demo, check and report.

use super::asking::{all_loads, alone_of, faults, margins_of, mended, parts_list, worst_cases};
use super::rails::moved_rails;
use super::yielding::of_machine;
use super::{edition, ending, judged, read_design, remark, say, show_problems, usable};
use crate::cli::Speech;
use crate::defaults::{CONTEXT, FIRST_FILE, HOLLOW, SPREAD};
use crate::files::{Folder, folder_is_there, make_folder_of, write};
use crate::{Ending, demo};
use design::read::{Reading, read};
use devices::library::Library;
use network::margins::yields::Yields;
use network::verdict::Verdict;
use report::html::Besides;
use report::margins::{Whose, WorstCases};
use report::yields::Drawn;
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};
use text::source::Sources;

/// Writes the demo folder, checks it, and writes its report.
pub fn demo(folder: &Path, speech: &Speech) -> Result<Ending, String> {
    for (name, text) in demo::FILES {
        let file = folder.join(name);
        if file.exists() && std::fs::read_to_string(&file).ok().as_deref() != Some(text) {
            remark(&format!("{} is kept as you changed it.", file.display()));
            continue;
        }
        make_folder_of(&file)?;
        write(&file, text)?;
    }
    remark(&format!("The demo machine stands in {}.", folder.display()));
    let reading = read_design(folder)?;
    let design = match usable(&reading, speech) {
        Ok(design) => design,
        Err(ending) => return Ok(ending),
    };
    let verdict = judged(design);
    show(&verdict, &reading, speech);
    write_page(&verdict, &reading, &folder.join(PAGE), speech)
}

/// Judges a design once.
pub fn check(path: &Path, speech: &Speech) -> Result<Ending, String> {
    judge(&read_design(path)?, speech)
}

/// Judges what was read, and says so.
fn judge(reading: &Reading, speech: &Speech) -> Result<Ending, String> {
    let design = match usable(reading, speech) {
        Ok(design) => design,
        Err(ending) => return Ok(ending),
    };
    let verdict = judged(design);
    show(&verdict, reading, speech);
    Ok(ending(&verdict))
}

fn show(verdict: &Verdict, reading: &Reading, speech: &Speech) {
    say(
        speech,
        |terminal| report::terminal::verdict(verdict, &reading.sources, terminal),
        || report::record::verdict(verdict, &reading.sources),
    );
}

/// Judges a design, and again whenever one of its files is saved, until interrupted.
pub fn check_on_save(path: &Path, speech: &Speech) -> Result<Ending, String> {
    let folder = Folder::at(path)?;
    loop {
        let noting = Noting {
            folder: &folder,
            asked: RefCell::default(),
        };
        let reading = read(&folder.first, &noting, Library::shipped());
        show_problems(&reading.diagnostics, &reading.sources);
        judge(&reading, speech)?;
        remark("Waiting for the next save (interrupt to stop).");
        while !noting.changed() {
            std::thread::sleep(LOOK_AGAIN);
        }
    }
}

/// Often enough to feel at once, seldom enough to cost nothing.
const LOOK_AGAIN: Duration = Duration::from_millis(300);

/// The files of a design, with a note of every name that was asked for, found or not.
struct Noting<'a> {
    folder: &'a Folder,
    asked: RefCell<BTreeMap<PathBuf, Option<SystemTime>>>,
}

impl Noting<'_> {
    /// Whether one of the files was saved, came or went since it was read.
    fn changed(&self) -> bool {
        let asked = self.asked.borrow();
        asked.iter().any(|(file, time)| saved(file) != *time)
    }
}

impl Sources for Noting<'_> {
    fn read(&self, name: &str) -> Result<String, String> {
        let file = self.folder.root.join(name);
        // The time is taken first, so that a save while the file is read is seen as well.
        let time = saved(&file);
        self.asked.borrow_mut().insert(file, time);
        self.folder.read(name)
    }
}

/// When a file was last saved; `None` for one that is not there, as while an editor puts a new one in its place.
fn saved(file: &Path) -> Option<SystemTime> {
    file.metadata().and_then(|info| info.modified()).ok()
}

/// Name of the report in a design's folder, and what that of a file ends in that is not the first of its folder.
const PAGE: &str = "report.html";

/// Where the report on a design stands: several designs may lie in one folder.
fn page_of(design: &Folder) -> PathBuf {
    let file = Path::new(&design.first);
    let name = match file.file_stem().and_then(|stem| stem.to_str()) {
        Some(stem) if design.first != FIRST_FILE => format!("{stem}-{PAGE}"),
        _ => PAGE.to_owned(),
    };
    design.root.join(name)
}

/// Writes the report page.
pub fn report(path: &Path, to: Option<&Path>, speech: &Speech) -> Result<Ending, String> {
    to.map_or(Ok(()), folder_is_there)?;
    let reading = read_design(path)?;
    let design = match usable(&reading, speech) {
        Ok(design) => design,
        Err(ending) => return Ok(ending),
    };
    let verdict = judged(design);
    let file = match to {
        Some(file) => file.to_owned(),
        None => page_of(&Folder::at(path)?),
    };
    let ending = write_page(&verdict, &reading, &file, speech)?;
    if speech.json {
        show(&verdict, &reading, speech);
    }
    Ok(ending)
}

/// Writes the page; a fault of the worst case stands on it, so it counts as one that the check finds.
fn write_page(
    verdict: &Verdict,
    reading: &Reading,
    file: &Path,
    speech: &Speech,
) -> Result<Ending, String> {
    let margins = margins_of(verdict);
    let alone = alone_of(verdict);
    let yields = Yields::new(verdict, &margins, &SPREAD, &CONTEXT);
    let some = yields.units().next().is_some();
    let worst = worst_cases(&margins, &alone);
    let drawn = some.then(|| {
        let units = worst_cases(&margins, &[]);
        Drawn::new(&yields, HOLLOW, &of_machine(&yields), units)
    });
    let (units, circuits) = mended(verdict, &worst, Whose::All);
    let worst = WorstCases {
        mended: [&units, &circuits],
        ..worst
    };
    let marginal = moved_rails(verdict);
    let page = report::html::design_page(
        verdict,
        Besides {
            loads: &all_loads(verdict),
            worst: Some(worst),
            drawn: drawn.as_ref(),
            marginal: Some(&marginal),
            parts: Some(&parts_list(verdict)),
        },
        &reading.sources,
        &edition(),
        speech.wording(),
    );
    write(file, &page)?;
    remark(&format!(
        "The report stands in {}; open it in a browser, or print it.",
        file.display()
    ));
    let faults = faults(verdict, &worst, Whose::All);
    if faults == 0 {
        return Ok(ending(verdict));
    }
    remark(&format!(
        "It has {} in the worst case, which `margins` lists too.",
        if faults == 1 {
            "a fault".to_owned()
        } else {
            format!("{faults} faults")
        }
    ));
    Ok(Ending::Fault)
}
