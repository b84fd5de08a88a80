//! How many of a hundred units work: runs that may be long, kept, split and joined.

use super::asking::{Named, answer, design_is_there, margins_of, named, worst_cases};
use super::drawing::{form_of, write_drawing};
use super::interrupt::stop_when_interrupted;
use super::progress::Progress;
use super::{judged, remark, say};
use crate::Ending;
use crate::cli::{Speech, Yield};
use crate::defaults::{CONTEXT, HOLLOW, SAMPLES, SEED, SPREAD};
use crate::files::{folder_is_there, read_text, write};
use crate::kept::{self, MOST_SEED, Whose};
use design::model::Design;
use network::margins::Margins;
use network::margins::tallies::{BySeed, Counts, Share};
use network::margins::yields::{Drawing, MOST_SAMPLES, SCRAMBLES, Yields};
use network::verdict::Verdict;
use report::yields::{Drawn, Spread};
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
    design_is_there(asked.name.as_deref(), &asked.design.path)?;
    let run = asked_for(asked)?;
    let form = asked.to.as_deref().map(form_of).transpose()?;
    if form.is_some() && asked.name.is_none() {
        return Err(
            "--to draws the levels of one unit: name it, as in `yield G1 --to G1.svg`".to_owned(),
        );
    }
    asked.keep.as_deref().map_or(Ok(()), folder_is_there)?;
    answer(&asked.design.path, speech, |design, _| {
        let name = asked.name.as_deref();
        let name = name.map(|name| named(design, name)).transpose()?;
        let verdict = judged(design);
        let margins = margins_of(&verdict);
        let yields = yields_of(&verdict, &margins, name.as_ref());
        let whose = Whose {
            version: env!("CARGO_PKG_VERSION").to_owned(),
            design: kept::fingerprint(design),
            hollow: run.drawing.hollow,
            units: first_names(design, &yields),
        };
        let mut counts = BySeed::new();
        let from = asked
            .join
            .iter()
            .chain(asked.keep.iter().filter(|file| file.exists()));
        for file in from {
            let shown = file.display().to_string();
            let text = read_text(file).map_err(|reason| format!("{shown}: {reason}"))?;
            kept::take(&shown, &text, &whose, &mut counts)?;
        }
        let complete = !asked.join.is_empty()
            || draw(&yields, &run, asked.keep.as_deref(), &whose, &mut counts)?;
        if let Some(file) = &asked.keep {
            write(file, kept::written(&whose, &counts))?;
        }
        counts.retain(|_, counts| counts.blocks().next().is_some());
        if counts.is_empty() && 0 < yields.units().count() {
            return Err(
                "nothing was drawn: let the run go on, or join files that hold something"
                    .to_owned(),
            );
        }
        let drawn = Drawn::new(
            &yields,
            run.drawing.hollow,
            &counts,
            worst_cases(&margins, &[]),
        );
        say(
            speech,
            |terminal| report::terminal::yields(&verdict, &drawn, terminal),
            || report::record::yields(&verdict, &drawn),
        );
        if let (Some(file), Some(form)) = (&asked.to, form) {
            let worst = drawn
                .worst(&verdict, u32::MAX)
                .filter(Spread::shows_something)
                .ok_or_else(|| format!(
                    "{} was not written: no output was drawn that drives something with a threshold",
                    file.display()
                ))?;
            write_drawing(&worst.drawing(&verdict, speech.wording()), form, file)?;
        }
        Ok(if !complete {
            Ending::Interrupted
        } else if drawn.some_failed() {
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
        Some(Named::Block(block)) => {
            let units = &verdict.plan.design.placed_blocks[*block].units;
            yields.only(|member| units.iter().any(|unit| unit.0 == member));
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
pub fn of_machine(yields: &Yields) -> BySeed {
    let drawing = Drawing {
        seed: SEED,
        hollow: HOLLOW,
    };
    let mut counts = Counts::default();
    let blocks = counts.missing(SAMPLES / SCRAMBLES as u32, Share::WHOLE);
    let drawn = yields.draw_blocks(&drawing, &blocks, &AtomicBool::new(false));
    for (block, outcomes) in blocks.into_iter().zip(drawn) {
        // Blocks of one list have no samples in common.
        let _ = outcomes.map(|outcomes| counts.add(block, outcomes));
    }
    BySeed::from([(SEED, counts)])
}

/// Draws what is missing, keeps it as it goes, and stops early where the user wants that; whether everything was drawn.
fn draw(
    yields: &Yields,
    run: &Asked,
    keep: Option<&Path>,
    whose: &Whose,
    all: &mut BySeed,
) -> Result<bool, String> {
    let counts = all.entry(run.drawing.seed).or_default();
    let missing = counts.missing(run.samples, run.share);
    if missing.is_empty() || yields.units().next().is_none() {
        return Ok(true);
    }
    let stop = stop_when_interrupted()?;
    let mut progress = Progress::new("blocks drawn", Some(missing.len()));
    let mut kept: Option<Instant> = None;
    let mut done = 0;
    let at_once = std::thread::available_parallelism().map_or(1, usize::from);
    // As many at a time as are drawn side by side, so that little is lost when the power fails.
    for blocks in missing.chunks(at_once) {
        let drawn = yields.draw_blocks(&run.drawing, blocks, &stop);
        for (block, outcomes) in blocks.iter().zip(drawn) {
            let Some(outcomes) = outcomes else { continue };
            let counts = all.entry(run.drawing.seed).or_default();
            counts
                .add(*block, outcomes)
                .map_err(|known| format!("{block:?} was drawn twice, as {known:?}"))?;
            done += 1;
        }
        let due = kept.is_none_or(|kept| KEEP_EVERY < kept.elapsed());
        if let Some(file) = keep.filter(|_| due) {
            write(file, kept::written(whose, all))?;
            kept = Some(Instant::now());
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
    Ok(done == missing.len())
}

/// What is lost at the most when the power fails, besides the blocks being drawn.
const KEEP_EVERY: Duration = Duration::from_secs(2);

/// Reads what stands behind the options.
fn asked_for(asked: &Yield) -> Result<Asked, String> {
    let seed = asked.seed.as_deref().map_or(Ok(SEED), |word| {
        let seed = word.parse().ok().filter(|seed| *seed <= MOST_SEED);
        seed.ok_or_else(|| format!("{word} is no seed; type a whole number from 0 to {MOST_SEED}"))
    })?;
    let hollow = asked.hollow.as_deref().map_or(Ok(HOLLOW), |word| {
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
