//! Values that spare the most, and which types serve.

use super::asking::find;
use super::drawing::{Form, form_of, write_drawing};
use super::interrupt::stop_when_interrupted;
use super::progress::Progress;
use super::{measure, read_design, remark, say, usable};
use crate::Ending;
use crate::cli::{Limits, Range, Speech};
use crate::defaults::{CONTEXT, LIMITS, SPREAD};
use design::model::{Circuit, CircuitId, Design, PartKind, RailId};
use devices::library::Library;
use devices::types::TubeType;
use network::fan::MOST;
use network::margins::choosing::{Free, Wanted, choose as chosen, serving};
use network::preferred::Series;
use report::choosing::{Choice, Serving};
use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::Ordering;
use text::quantity::Unit;

/// What is asked of `choose`, as typed.
pub struct Asked<'a> {
    /// Circuit.
    pub circuit: &'a str,
    /// Marks of resistors, each perhaps with ends of its own: `R1=330k..1M`.
    pub parts: &'a [String],
    /// Where values are taken from.
    pub range: &'a Range,
    /// What they must keep.
    pub limits: &'a Limits,
    /// Loads from none to so many.
    pub loads: usize,
    /// Types that must all serve.
    pub tubes: &'a [String],
    /// Where to draw what came out.
    pub to: Option<&'a Path>,
}

/// Looks for the values that spare the most. The design is left as it is.
pub fn choose(asked: &Asked, path: &Path, speech: &Speech) -> Result<Ending, String> {
    nothing_left_out(&asked.limits.most)?;
    let form = asked.to.map(file_form).transpose()?;
    let reading = read_design(path)?;
    let design = match usable(&reading, speech) {
        Ok(design) => design,
        Err(ending) => return Ok(ending),
    };
    let wanted = wanted(asked, design, &reading.library)?;
    let stop = stop_when_interrupted()?;
    let mut progress = Progress::new("combinations tried", wanted.enumerated());
    let found = chosen(design, &wanted, &SPREAD, &CONTEXT, &mut |tried| {
        progress.tell(tried);
        !stop.load(Ordering::Relaxed)
    });
    progress.end();
    let choice = Choice {
        design,
        wanted: &wanted,
        chosen: &found,
        stopped: stop.load(Ordering::Relaxed) && !found.every,
        limits: LIMITS,
        path: &path.display().to_string(),
    };
    say(
        speech,
        |terminal| report::terminal::chosen(&choice, terminal),
        || report::record::chosen(&choice),
    );
    if let (Some(file), Some(form)) = (asked.to, form) {
        let drawing = choice.drawing(speech.wording()).ok_or_else(|| {
            format!(
                "{} was not written: there are no best values whose margin is known",
                file.display()
            )
        })?;
        write_drawing(&drawing, form, file)?;
    }
    let margin = found.best.as_ref().and_then(|best| best.margin);
    let serves = margin.is_some_and(|margin| 0.0 <= margin);
    Ok(if choice.stopped {
        Ending::Interrupted
    } else if serves {
        Ending::Well
    } else {
        Ending::Fault
    })
}

/// Looks whether an option stands where the rail or the amperes of a limit belong, before anything else is complained of.
fn nothing_left_out(most: &[String]) -> Result<(), String> {
    let mut pairs = most.chunks(2);
    match pairs.find(|pair| pair.iter().any(|word| word.starts_with("--"))) {
        None => Ok(()),
        Some(pair) => Err(format!(
            "--most {}: a rail and its amperes belong here, one after the other; type it like --most upper 2mA",
            pair.join(" ")
        )),
    }
}

/// The form of a drawing; a resistance is told that it has an option of its own.
fn file_form(file: &Path) -> Result<Form, String> {
    let word = file.to_str();
    match word.filter(|word| measure(word, Unit::Ohm).is_some()) {
        Some(ohms) => Err(format!(
            "--to names the file to draw into, ending in .svg or .pdf; for the largest value type --up-to {ohms}"
        )),
        None => form_of(file),
    }
}

/// Which types serve in a circuit.
pub fn serves(circuit: &str, loads: usize, path: &Path, speech: &Speech) -> Result<Ending, String> {
    let reading = read_design(path)?;
    let design = match usable(&reading, speech) {
        Ok(design) => design,
        Err(ending) => return Ok(ending),
    };
    let mut problems = Vec::new();
    let circuit = kept(circuit_of(design, circuit), &mut problems);
    let loads = kept(loads_of(loads), &mut problems);
    let (Some(circuit), Some(loads)) = (circuit, loads) else {
        return Err(problems.join("\n"));
    };
    let place = &design.circuits[circuit.0];
    if place.tubes().next().is_none() {
        return Err(format!("{} has no tube", place.name));
    }
    has_output(
        place,
        "one type serves better than another; `valvewright swap` judges one type in a socket, its lamps and loads included",
    )?;
    let library = reading.library.tubes.iter();
    let types: Vec<Arc<TubeType>> = library
        .filter(|tube| tube.law.is_some() && place.has_place_for(tube))
        .cloned()
        .collect();
    remark(&format!("Types that have a place in it: {}.", types.len()));
    let stop = stop_when_interrupted()?;
    let mut progress = Progress::new("types tried", Some(types.len()));
    let assumed = (&SPREAD, &CONTEXT);
    let all = serving(design, circuit, &types, loads, assumed, &mut |tried| {
        progress.tell(tried);
        !stop.load(Ordering::Relaxed)
    });
    progress.end();
    let serving = Serving {
        design,
        circuit,
        loads,
        all: &all,
        types: types.len(),
        limits: LIMITS,
    };
    say(
        speech,
        |terminal| report::terminal::serves(&serving, terminal),
        || report::record::serves(&serving),
    );
    Ok(if serving.all.len() < serving.types {
        Ending::Interrupted
    } else if serving.any() {
        Ending::Well
    } else {
        Ending::Fault
    })
}

/// The value, or nothing and one more problem.
fn kept<T>(found: Result<T, String>, problems: &mut Vec<String>) -> Option<T> {
    found.map_err(|problem| problems.push(problem)).ok()
}

/// Everything asked, or everything that is wrong with it, a line each.
fn wanted(asked: &Asked, design: &Design, library: &Library) -> Result<Wanted, String> {
    let mut problems = Vec::new();
    let circuit = kept(circuit_of(design, asked.circuit), &mut problems);
    let loads = kept(loads_of(asked.loads), &mut problems);
    let series = kept(series_of(&asked.range.series), &mut problems);
    let range = [
        (&asked.range.from, "--from"),
        (&asked.range.up_to, "--up-to"),
    ];
    let ends = range.map(|(word, option)| {
        let word = word.as_deref()?;
        kept(
            above_nothing(word, Unit::Ohm, option, "100k"),
            &mut problems,
        )
    });
    if let [Some(from), Some(to)] = ends
        && to < from
    {
        problems.push("--from is above --up-to: no value lies between".to_owned());
    }
    let most_amps = most_amps(&asked.limits.most, design, &mut problems);
    let watts = asked.limits.watts.as_deref();
    let most_watts = watts.and_then(|word| {
        kept(
            above_nothing(word, Unit::Watt, "--watts", "0.25"),
            &mut problems,
        )
    });
    let delay = asked.limits.delay.as_deref();
    let longest_delay = delay.and_then(|word| {
        kept(
            above_nothing(word, Unit::Second, "--delay", "10us"),
            &mut problems,
        )
    });
    let mut free = Vec::new();
    let mut tubes = Vec::new();
    if let Some(circuit) = circuit {
        let circuit = &design.circuits[circuit.0];
        let output = has_output(
            circuit,
            "one value is better than another; `valvewright try` shows what one does to its lamps and loads",
        );
        kept(output, &mut problems);
        let parts = resistors(circuit, asked.parts, &mut problems);
        if let Some(series) = series {
            free.extend(parts.into_iter().filter_map(|(part, ohms, own)| {
                let mark = &circuit.parts[part].mark;
                let ends = own.unwrap_or(ends);
                kept(values(mark, part, ohms, series, ends), &mut problems)
            }));
        }
        let names = asked.tubes.iter().map(|name| name.trim());
        for name in names.filter(|name| !name.is_empty()) {
            let tube = kept(type_for(name, circuit, library), &mut problems);
            // One named twice is one.
            let known = |tube: &Arc<TubeType>| tubes.iter().any(|other| Arc::ptr_eq(other, tube));
            let new = tube.filter(|tube| !known(tube));
            tubes.extend(new);
        }
    }
    match (circuit, loads) {
        (Some(circuit), Some(loads)) if problems.is_empty() => Ok(Wanted {
            circuit,
            free,
            loads,
            tubes,
            most_amps,
            most_watts,
            longest_delay,
        }),
        _ => Err(problems.join("\n")),
    }
}

fn circuit_of(design: &Design, name: &str) -> Result<CircuitId, String> {
    let names = design.circuits.iter().map(|circuit| circuit.name.as_str());
    find("circuit", name, names).map(CircuitId)
}

/// A circuit whose margins are to be compared drives something; `what` says what would be.
fn has_output(circuit: &Circuit, what: &str) -> Result<(), String> {
    if circuit.interface.outputs().is_empty() {
        Err(format!(
            "{} has no output, so it has no margin by which {what}",
            circuit.name
        ))
    } else {
        Ok(())
    }
}

fn loads_of(loads: usize) -> Result<usize, String> {
    if (1..=MOST).contains(&loads) {
        Ok(loads)
    } else {
        Err(format!(
            "{loads} loads are not tried: name 1 to {MOST} with --loads"
        ))
    }
}

fn series_of(name: &str) -> Result<Series, String> {
    let mut all = Series::ALL.into_iter();
    all.find(|series| series.name().eq_ignore_ascii_case(name))
        .ok_or_else(|| {
            let names = Series::ALL.map(Series::name).join(", ");
            format!("{name} is no series of values; name one of {names}")
        })
}

/// A quantity above zero; the unit may be left out.
fn above_nothing(word: &str, unit: Unit, option: &str, like: &str) -> Result<f64, String> {
    measure(word, unit)
        .filter(|value| 0.0 < *value)
        .ok_or_else(|| format!("{word} is nothing for {option}: type it like {like}, above zero"))
}

/// Pairs of a rail and the most that one unit may take from it.
fn most_amps(
    words: &[String],
    design: &Design,
    problems: &mut Vec<String>,
) -> BTreeMap<RailId, f64> {
    let pairs = words.chunks_exact(2);
    pairs
        .filter_map(|pair| {
            let names = design.rails.iter().map(|rail| rail.name.as_str());
            let rail = kept(find("rail", &pair[0], names), problems);
            let amps = kept(
                above_nothing(&pair[1], Unit::Ampere, "--most", "2mA"),
                problems,
            );
            Some((RailId(rail?), amps?))
        })
        .collect()
}

/// The smallest and the largest value; `None` where none is named.
type ValueEnds = [Option<f64>; 2];

/// The resistors named, with their values, and their ends where they have ends of their own.
fn resistors(
    circuit: &Circuit,
    words: &[String],
    problems: &mut Vec<String>,
) -> Vec<(usize, f64, Option<ValueEnds>)> {
    let mut found: Vec<(usize, f64, Option<ValueEnds>)> = Vec::new();
    for word in words {
        let (mark, range) = match word.split_once('=') {
            Some((mark, range)) => (mark, Some(range)),
            None => (word.as_str(), None),
        };
        let own = mark
            .strip_prefix(&format!("{}.", circuit.name))
            .unwrap_or(mark);
        let names = circuit.parts.iter().map(|part| part.mark.as_str());
        let what = format!("part of {} called", circuit.name);
        let part = kept(find(&what, own, names), problems);
        let range = range.map(|range| kept(own_ends(mark, range), problems));
        let Some(part) = part else {
            continue;
        };
        match circuit.parts[part].kind {
            _ if found.iter().any(|(other, _, _)| *other == part) => {
                problems.push(format!("{mark} is named twice"));
            }
            PartKind::Resistor { ohms, .. } => found.push((part, ohms, range.flatten())),
            _ => problems.push(format!(
                "{mark} is no resistor: only their values are chosen"
            )),
        }
    }
    found
}

/// `330k..1M`; an end that is left out is a decade away.
fn own_ends(mark: &str, range: &str) -> Result<ValueEnds, String> {
    let like = format!("{mark}={range} names no ends: type it like {mark}=330k..1M, above zero");
    let (from, to) = range.split_once("..").ok_or_else(|| like.clone())?;
    let end = |word: &str| match word {
        "" => Ok(None),
        word => match measure(word, Unit::Ohm).filter(|ohms| 0.0 < *ohms) {
            Some(ohms) => Ok(Some(ohms)),
            None => Err(like.clone()),
        },
    };
    let ends = [end(from)?, end(to)?];
    if let [Some(from), Some(to)] = ends
        && to < from
    {
        return Err(format!(
            "{mark}={range}: the first end is above the second, so no value lies between"
        ));
    }
    Ok(ends)
}

/// What a resistor may be: a decade either side of its value where no end is named.
fn values(
    mark: &str,
    part: usize,
    now: f64,
    series: Series,
    [from, to]: ValueEnds,
) -> Result<Free, String> {
    let (from, to) = (from.unwrap_or(now / 10.0), to.unwrap_or(10.0 * now));
    let ohms = series.between(from, to);
    if ohms.is_empty() {
        let show = |ohms| text::quantity::show(ohms, Unit::Ohm, 3);
        return Err(format!(
            "no value of {} for {mark} lies between {} and {}",
            series.name(),
            show(from),
            show(to)
        ));
    }
    Ok(Free { part, ohms })
}

/// A type that has a curve and a place in the circuit.
fn type_for(name: &str, circuit: &Circuit, library: &Library) -> Result<Arc<TubeType>, String> {
    let known = library.tube(name);
    let tube = known.ok_or_else(|| super::types::no_sheet(name, library))?;
    if tube.law.is_none() {
        return Err(format!(
            "{name} has no curve, so nothing can be computed with it"
        ));
    }
    if !circuit.has_place_for(tube) {
        return Err(if circuit.tubes().next().is_some() {
            format!(
                "{name} has no place in {}: other electrodes or heating",
                circuit.name
            )
        } else {
            format!("{} has no tube, so {name} has no place in it", circuit.name)
        });
    }
    Ok(tube.clone())
}
