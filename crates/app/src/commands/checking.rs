//! Demo, check and report.

use super::{edition, ending, judged, read_design, say, usable};
use crate::cli::Speech;
use crate::files::{Folder, write};
use crate::{Ending, demo};
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

/// Writes the demo folder, checks it, and writes its report.
pub fn demo(folder: &Path, speech: &Speech) -> Result<Ending, String> {
    for (name, text) in demo::FILES {
        let file = folder.join(name);
        if file.exists() && std::fs::read_to_string(&file).ok().as_deref() != Some(text) {
            eprintln!("{} is kept as you changed it.", file.display());
            continue;
        }
        write(&file, text)?;
    }
    eprintln!("The demo machine stands in {}.", folder.display());
    let ending = check(folder, speech)?;
    report(folder, None, speech)?;
    Ok(ending)
}

/// Judges a design once.
pub fn check(path: &Path, speech: &Speech) -> Result<Ending, String> {
    let reading = read_design(path)?;
    let design = match usable(&reading, speech) {
        Ok(design) => design,
        Err(ending) => return Ok(ending),
    };
    let verdict = judged(design);
    say(
        speech,
        |terminal| report::terminal::verdict(&verdict, &reading.sources, terminal),
        || report::record::verdict(&verdict, &reading.sources),
    );
    Ok(ending(&verdict))
}

/// Judges a design, and again whenever one of its files is saved, until interrupted.
pub fn check_on_save(path: &Path, speech: &Speech) -> Result<Ending, String> {
    let mut seen: Vec<(PathBuf, Option<SystemTime>)> = Vec::new();
    loop {
        let now = saved(path)?;
        if now != seen {
            seen = now;
            check(path, speech)?;
            eprintln!("Waiting for the next save (interrupt to stop).");
        }
        std::thread::sleep(LOOK_AGAIN);
    }
}

/// Often enough to feel at once, seldom enough to cost nothing.
const LOOK_AGAIN: Duration = Duration::from_millis(300);

/// Every file of the design's folder that a check reads, with the time it was last saved.
fn saved(path: &Path) -> Result<Vec<(PathBuf, Option<SystemTime>)>, String> {
    let folder = Folder::at(path)?;
    let mut files = Vec::new();
    let mut folders = vec![(folder.root, 0)];
    while let Some((folder, depth)) = folders.pop() {
        let entries =
            std::fs::read_dir(&folder).map_err(|error| format!("{}: {error}", folder.display()))?;
        for entry in entries.flatten() {
            let path = entry.path();
            let kind = path.extension().and_then(|kind| kind.to_str());
            if matches!(kind, Some("valve" | "csv")) {
                files.push((
                    path.clone(),
                    entry.metadata().ok().and_then(|info| info.modified().ok()),
                ));
            } else if path.is_dir() && depth < DEEPEST_FOLDER {
                folders.push((path, depth + 1));
            }
        }
    }
    files.sort();
    Ok(files)
}

/// Folders below a design that are looked at for saved files.
const DEEPEST_FOLDER: usize = 4;

/// Writes the report page.
pub fn report(path: &Path, to: Option<&Path>, speech: &Speech) -> Result<Ending, String> {
    let reading = read_design(path)?;
    let design = match usable(&reading, speech) {
        Ok(design) => design,
        Err(ending) => return Ok(ending),
    };
    let verdict = judged(design);
    let page = report::html::design_page(&verdict, &reading.sources, &edition(), speech.wording());
    let file = match to {
        Some(file) => file.to_owned(),
        None => Folder::at(path)?.root.join("report.html"),
    };
    write(&file, &page)?;
    eprintln!(
        "The report stands in {}; open it in a browser, or print it.",
        file.display()
    );
    Ok(ending(&verdict))
}
