//! How many of a hundred units work: runs that may be long, kept, split and joined.

use super::asking::{Named, answer, margins_of, named};
use super::drawing::{form_of, write_drawing};
use super::interrupt::stop_when_interrupted;
use super::{judged, remark, say};
use crate::Ending;
use crate::cli::{Speech, Yield};
use crate::defaults::{CONTEXT, SAMPLES, SEED, SPREAD};
use crate::files::{read_text, write};
use crate::kept::{self, Whose};
use design::model::Design;
use network::margins::Margins;
use network::margins::tallies::{Counts, Share};
use network::margins::yields::{Drawing, MOST_SAMPLES, SCRAMBLES, Yields};
use network::verdict::Verdict;
use report::yields::Drawn;
use std::io::{IsTerminal as _, Write as _};
use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};
use text::quantity::{self, Unit};

/// What was asked for, read.
struct Asked {
    drawing: Drawing,
    /// Of each scramble.
    samples: u32,
    share: Share,
}

/// How many of a hundred work.
pub fn yields(asked: &Yield, speech: &Speech) -> Result<Ending, String> {
    let run = asked_for(asked)?;
    let form = asked.to.as_deref().map(form_of).transpose()?;
    if form.is_some() && asked.name.is_none() {
        return Err(
            "--to draws the levels of one unit: name it, as in `yield G1 --to G1.svg`".to_owned(),
        );
    }
    answer(&asked.design.path, speech, |design, sources| {
        let name = asked.name.as_deref();
        let name = name.map(|name| named(design, name)).transpose()?;
        let verdict = judged(design);
        let margins = margins_of(&verdict);
        let yields = yields_of(&verdict, &margins, name.as_ref());
        let whose = Whose {
            version: env!("CARGO_PKG_VERSION").to_owned(),
            design: kept::fingerprint(sources),
            drawing: run.drawing,
            units: first_names(design, &yields),
        };
        let mut counts = Counts::default();
        let from = asked
            .join
            .iter()
            .chain(asked.keep.iter().filter(|file| file.exists()));
        for file in from {
            let shown = file.display().to_string();
            let text = read_text(file).map_err(|reason| format!("{shown}: {reason}"))?;
            kept::take(&shown, &text, &whose, &mut counts)?;
        }
        if asked.join.is_empty() {
            draw(&yields, &run, asked.keep.as_deref(), &whose, &mut counts)?;
        }
        if let Some(file) = &asked.keep {
            write(file, kept::written(&whose, &counts))?;
        }
        let classes = yields.units().count();
        if 0 < classes && counts.samples() == 0 {
            return match &asked.keep {
                Some(file) => {
                    remark(&format!("What was drawn is kept in {}; it is no answer before every scramble has its first samples. `yield --join` with the files of the other shares gives one.", file.display()));
                    Ok(Ending::Well)
                }
                None => Err("not every scramble has its first samples: join the files of the other shares as well, or let the run go on".to_owned()),
            };
        }
        let drawn = Drawn::new(&yields, run.drawing, &counts, &margins);
        say(
            speech,
            |terminal| report::terminal::yields(&verdict, &drawn, terminal),
            || report::record::yields(&verdict, &drawn),
        );
        if let (Some(file), Some(form)) = (&asked.to, form) {
            let worst = drawn
                .worst(&verdict)
                .ok_or("no unit was drawn: there is nothing to draw a picture of")?;
            write_drawing(&worst.drawing(&verdict, speech.wording()), form, file)?;
        }
        Ok(if drawn.some_failed() {
            Ending::Fault
        } else {
            Ending::Well
        })
    })
}

/// The units to be drawn, ready.
fn yields_of(verdict: &Verdict, margins: &Margins, name: Option<&Named>) -> Yields {
    let mut yields = Yields::new(verdict, margins, &SPREAD, &CONTEXT);
    match name {
        None => {}
        Some(Named::Unit(unit)) => yields.only(|member| member == unit.0),
        Some(Named::Circuit(circuit)) => {
            yields.only(|member| verdict.plan.members[member].circuit == *circuit);
        }
    }
    yields
}

/// Stands among the units of kept counts for all of them together.
const WHOLE_MACHINE: &str = "machine";

/// The names that stand for the counts, in their order.
fn first_names(design: &Design, yields: &Yields) -> Vec<String> {
    let firsts = yields.units().filter_map(|members| members.first());
    let names = firsts.map(|&member| design.units[member].name.clone());
    names.chain([WHOLE_MACHINE.to_owned()]).collect()
}

/// Counts of the whole machine at the program's defaults, for the report.
pub fn of_machine(yields: &Yields) -> (Drawing, Counts) {
    let drawing = Drawing {
        seed: SEED,
        hollow: 0.0,
    };
    let mut counts = Counts::default();
    let blocks = counts.missing(SAMPLES / SCRAMBLES as u32, Share::WHOLE);
    let passed = yields.draw_blocks(&drawing, &blocks, &AtomicBool::new(false));
    for (block, passed) in blocks.into_iter().zip(passed) {
        // Blocks of one list have no samples in common.
        let _ = passed.map(|passed| counts.add(block, passed));
    }
    (drawing, counts)
}

/// Draws what is missing, keeps it as it goes, and stops early where the user wants that.
fn draw(
    yields: &Yields,
    run: &Asked,
    keep: Option<&Path>,
    whose: &Whose,
    counts: &mut Counts,
) -> Result<(), String> {
    let missing = counts.missing(run.samples, run.share);
    if missing.is_empty() || yields.units().next().is_none() {
        return Ok(());
    }
    let stop = stop_when_interrupted()?;
    let mut progress = Progress::new(missing.len());
    let mut kept = Instant::now();
    let mut done = 0;
    for blocks in missing.chunks(SCRAMBLES) {
        let passed = yields.draw_blocks(&run.drawing, blocks, &stop);
        for (block, passed) in blocks.iter().zip(passed) {
            let Some(passed) = passed else { continue };
            counts
                .add(*block, passed)
                .map_err(|known| format!("{block:?} was drawn twice, as {known:?}"))?;
            done += 1;
        }
        if let Some(file) = keep.filter(|_| KEEP_EVERY < kept.elapsed()) {
            write(file, kept::written(whose, counts))?;
            kept = Instant::now();
        }
        progress.tell(done);
        if stop.load(Ordering::Relaxed) {
            break;
        }
    }
    progress.end();
    if done < missing.len() {
        remark(&format!(
            "Interrupted: {done} of {} blocks were drawn.{}",
            missing.len(),
            match keep {
                Some(_) => " The same command goes on from here.",
                None => " With --keep FILE the same command would go on from here.",
            }
        ));
    }
    Ok(())
}

/// What is lost at the most when the power fails.
const KEEP_EVERY: Duration = Duration::from_secs(5);

/// Tells how far a run is and about how long it still takes: on a terminal in one line that is written over, elsewhere in a
/// line now and then.
struct Progress {
    all: usize,
    begun: Instant,
    told: Instant,
    on_terminal: bool,
    width: usize,
}

impl Progress {
    fn new(all: usize) -> Self {
        let now = Instant::now();
        Self {
            all,
            begun: now,
            told: now,
            on_terminal: std::io::stderr().is_terminal(),
            width: 0,
        }
    }

    fn tell(&mut self, done: usize) {
        let pause = Duration::from_secs(if self.on_terminal { 1 } else { 10 });
        if done == 0 || done == self.all || self.told.elapsed() < pause {
            return;
        }
        self.told = Instant::now();
        let each = self.begun.elapsed().as_secs_f64() / done as f64;
        let left = duration(each * (self.all - done) as f64);
        let line = format!("{done} of {} blocks drawn, about {left} left", self.all);
        if self.on_terminal {
            self.width = self.width.max(line.len());
            let width = self.width;
            let _ = write!(std::io::stderr(), "\r{line:width$}");
        } else {
            remark(&line);
        }
    }

    fn end(&self) {
        if 0 < self.width {
            let width = self.width;
            let _ = write!(std::io::stderr(), "\r{:width$}\r", "");
        }
    }
}

/// `40 s`, `3 min`, `2 h`
fn duration(seconds: f64) -> String {
    match seconds {
        _ if seconds < 100.0 => format!("{seconds:.0} s"),
        _ if seconds < 6000.0 => format!("{:.0} min", seconds / 60.0),
        _ => format!("{:.0} h", seconds / 3600.0),
    }
}

/// Reads what stands behind the options.
fn asked_for(asked: &Yield) -> Result<Asked, String> {
    let seed = asked.seed.as_deref().map_or(Ok(SEED), |word| {
        word.parse().map_err(|_| {
            format!(
                "{word} is no seed; type a whole number from 0 to {}",
                u32::MAX
            )
        })
    })?;
    let hollow = asked.hollow.as_deref().map_or(Ok(0.0), |word| {
        match quantity::parse(word) {
            Ok(share) if share.unit == Unit::Percent && (0.0..1.0).contains(&share.value) => {
                Ok(share.value)
            }
            _ => Err(format!(
                "{word} is no share of a band that is hollow; type it like 50%, from 0% to less than 100%: at 100% no resistor would be left"
            )),
        }
    })?;
    Ok(Asked {
        drawing: Drawing { seed, hollow },
        samples: asked
            .samples
            .as_deref()
            .map_or(Ok(SAMPLES / SCRAMBLES as u32), samples)?,
        share: asked.share.as_deref().map_or(Ok(Share::WHOLE), share)?,
    })
}

/// Samples of each scramble: a power of two, so that every sequence is even.
fn samples(word: &str) -> Result<u32, String> {
    let scrambles = SCRAMBLES as u32;
    let most = MOST_SAMPLES * scrambles;
    let wanted: u32 = word
        .parse()
        .ok()
        .filter(|wanted| (1..=most).contains(wanted))
        .ok_or_else(|| {
            format!("{word} is no number of samples; type a whole number from 1 to {most}")
        })?;
    let each = wanted.div_ceil(scrambles).next_power_of_two();
    if each * scrambles != wanted {
        remark(&format!(
            "{wanted} samples are rounded up to {}: {scrambles} scrambles of {each}, a power of two.",
            each * scrambles
        ));
    }
    Ok(each)
}

/// `2/4`: the second of four.
fn share(word: &str) -> Result<Share, String> {
    let parts = word.split_once('/');
    let numbers = parts
        .and_then(|(which, of)| Some((which.parse::<usize>().ok()?, of.parse::<usize>().ok()?)));
    match numbers {
        Some((which, of)) if 1 <= which && which <= of && of <= MOST_SHARES => Ok(Share {
            index: which - 1,
            of,
        }),
        _ => Err(format!(
            "{word} is no share of a run; type it like 2/4, the second of four (at most {MOST_SHARES})"
        )),
    }
}

/// More machines than anybody has.
const MOST_SHARES: usize = 1024;
