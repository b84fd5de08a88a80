//! Counts of a long run as text, so that it can be gone on with, split over machines and joined (the form is described in
//! `docs/records.md`).

use design::model::{Circuit, Design, PartKind};
use network::margins::tallies::{Block, BySeed, Outcomes};
use network::margins::yields::SCRAMBLES;
use network::plan::Plan;
use std::fmt::Write as _;

/// First line of every such file: these words, and the number of the form.
const HEAD: &str = "valvewright tallies ";
/// The form that is written and read; form 2 told only how many work.
const FORM: &str = "3";
/// Seeds that begin scrambles of their own: one further seed for each scramble has to fit into 32 bits.
pub const MOST_SEED: u32 = u32::MAX / SCRAMBLES as u32;

/// What counts belong to: they can be joined where all of this is the same.
#[derive(Debug, Clone, PartialEq)]
pub struct Whose {
    /// Version of the program.
    pub version: String,
    /// Fingerprint of what of the design a result depends on.
    pub design: u64,
    /// Share of the middle of its band in which no resistor stands.
    pub hollow: f64,
    /// The first of the units that stand alike, in the order of the counts.
    pub units: Vec<String>,
}

impl Whose {
    /// What is not the same in `other`, as a sentence about it; `None` where all is.
    fn clash(&self, other: &Self) -> Option<String> {
        if self.version != other.version {
            return Some(format!(
                "it was drawn by version {} of the program, not {}",
                other.version, self.version
            ));
        }
        if self.design != other.design {
            return Some(
                "it was drawn of another design, or a value, type or wire has changed since"
                    .to_owned(),
            );
        }
        if self.hollow != other.hollow {
            return Some(format!(
                "it was drawn with bands hollow by {}, not {}",
                percent(other.hollow),
                percent(self.hollow)
            ));
        }
        (self.units != other.units).then(|| {
            format!(
                "it was drawn of other units: {}, not {}",
                shortly(&other.units),
                shortly(&self.units)
            )
        })
    }
}

fn percent(share: f64) -> String {
    format!("{}%", 100.0 * share)
}

/// Some names that help.
fn shortly(names: &[String]) -> String {
    let mut some = names.iter().take(3).cloned().collect::<Vec<_>>().join(" ");
    if 3 < names.len() {
        some += " and more";
    }
    some
}

/// 64 bits that another design is most unlikely to give: FNV-1a (G. Fowler, L. C. Noll, K.-P. Vo; constants from memory) over the
/// checked values on which a result depends. Comments, layout, places in the text, boards and ratings are not among them, and of
/// heater strings only which rail heats which tube.
pub fn fingerprint(design: &Design) -> u64 {
    let rails: Vec<_> = design
        .rails
        .iter()
        .map(|rail| (&rail.name, rail.volts, rail.tolerance, rail.alternates))
        .collect();
    let circuits: Vec<Circuit> = design.circuits.iter().map(unrated).collect();
    let lots: Vec<_> = design
        .lots
        .iter()
        .map(|lot| (&lot.device, &lot.spread))
        .collect();
    let diode_lots = design.diode_lots.iter();
    let diode_lots: Vec<_> = diode_lots.map(|lot| (&lot.device, &lot.spread)).collect();
    let neon_lots = design.neon_lots.iter();
    let neon_lots: Vec<_> = neon_lots.map(|lot| (&lot.device, &lot.spread)).collect();
    let heated = Plan::machine(design).heated;
    let values = format!(
        "{rails:?}{circuits:?}{:?}{:?}{:?}{:?}{lots:?}{diode_lots:?}{neon_lots:?}{:?}{heated:?}",
        design.nets, design.units, design.bench, design.jigs, design.diode_kelvin
    );
    let mut sum = 0xcbf2_9ce4_8422_2325_u64;
    for byte in without_places(&values).bytes() {
        sum = (sum ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
    }
    sum
}

/// A circuit without the ratings of its parts.
fn unrated(circuit: &Circuit) -> Circuit {
    let mut circuit = circuit.clone();
    for part in &mut circuit.parts {
        match &mut part.kind {
            PartKind::Resistor { watts, .. } | PartKind::Trimmer { watts, .. } => *watts = None,
            PartKind::Capacitor { volts, .. } => *volts = None,
            _ => {}
        }
    }
    circuit
}

/// What a design says of itself, without where it stands in the text.
fn without_places(values: &str) -> String {
    let mut pieces = values.split("Span {");
    let mut kept = pieces.next().unwrap_or_default().to_owned();
    for piece in pieces {
        kept += piece.split_once('}').map_or(piece, |(_, behind)| behind);
    }
    kept
}

/// Counts as text.
pub fn written(whose: &Whose, counts: &BySeed) -> String {
    let mut text = format!(
        "{HEAD}{FORM}\nprogram {}\ndesign {:016x}\nhollow {}\nunits {}\n",
        whose.version,
        whose.design,
        whose.hollow,
        whose.units.join(" ")
    );
    for (seed, counts) in counts {
        let _ = writeln!(text, "seed {seed}");
        for (block, outcomes) in counts.blocks() {
            let outcomes: Vec<String> = outcomes.iter().map(in_words).collect();
            let Block { scramble, from, to } = block;
            let _ = writeln!(
                text,
                "scramble {scramble} samples {from} to {to}: {}",
                outcomes.join(" ")
            );
        }
    }
    text
}

/// Those that work, have a level short, lose a state, do not come to rest, have a part wrong: `60/2/1/1/0`.
fn in_words(outcomes: &Outcomes) -> String {
    let Outcomes {
        works,
        short,
        state_lost,
        no_rest,
        part_wrong,
    } = outcomes;
    format!("{works}/{short}/{state_lost}/{no_rest}/{part_wrong}")
}

/// Takes the counts of a text into `counts`.
///
/// # Errors
/// Names file and line, says what clashes and what to do.
pub fn take(name: &str, text: &str, whose: &Whose, counts: &mut BySeed) -> Result<(), String> {
    if !text.starts_with(HEAD) {
        return Err(format!(
            "{name} holds no kept counts, whose first line begins with `{}`: name another file",
            HEAD.trim_end()
        ));
    }
    let mut lines = (1..).zip(text.lines());
    let mut next = |begins: &str| match lines.next() {
        Some((line, words)) => words
            .strip_prefix(begins)
            .map(|rest| (line, rest.trim()))
            .ok_or_else(|| broken(name, line, &format!("it should begin with `{begins}`"))),
        None => Err(format!(
            "{name} ends before its line `{begins}`: it holds no tallies"
        )),
    };
    let (_, form) = next(HEAD)?;
    if form != FORM {
        return Err(format!(
            "{name} is of form {form} of kept counts, and this program reads form {FORM}, which tells apart how units fail: keep this run in another file, and draw what is in that one anew"
        ));
    }
    let (_, version) = next("program ")?;
    let (line, design) = next("design ")?;
    let design = u64::from_str_radix(design, 16)
        .map_err(|_| broken(name, line, "16 figures and letters a to f are missing"))?;
    let (line, hollow) = next("hollow ")?;
    let hollow = hollow
        .parse()
        .map_err(|_| broken(name, line, "a number is missing"))?;
    let (_, units) = next("units ")?;
    let other = Whose {
        version: version.to_owned(),
        design,
        hollow,
        units: units.split_whitespace().map(str::to_owned).collect(),
    };
    if let Some(clash) = whose.clash(&other) {
        return Err(format!(
            "{name} does not belong to this run: {clash}; keep this run in another file, or ask for the same"
        ));
    }
    let mut seed = None;
    for (line, words) in lines {
        if let Some(word) = words.strip_prefix("seed ") {
            let number = word.trim().parse().ok().filter(|seed| *seed <= MOST_SEED);
            let number = number.ok_or_else(|| {
                let what = format!("the seed is no whole number from 0 to {MOST_SEED}");
                broken(name, line, &what)
            })?;
            seed = Some(number);
            continue;
        }
        let seed = seed.ok_or_else(|| broken(name, line, "a line like `seed 1` is missing"))?;
        let (block, outcomes) = row(words, whose.units.len()).ok_or_else(|| {
            broken(
                name,
                line,
                "it should read like `scramble 0 samples 0 to 64:` and counts like 60/2/1/1/0 of each unit",
            )
        })?;
        let counts = counts.entry(seed).or_default();
        counts.add(block, outcomes).map_err(|known| {
            format!(
                "{name}:{line}: samples {} to {} of scramble {} with seed {seed} are counted already, as {} to {}; leave out one of the two files",
                block.from, block.to, block.scramble, known.from, known.to
            )
        })?;
    }
    Ok(())
}

fn broken(name: &str, line: usize, what: &str) -> String {
    format!(
        "{name}:{line}: {what}; keep this run in another file, or remove the line if it was cut short"
    )
}

/// `scramble 0 samples 0 to 64: 64/0/0/0/0 60/2/1/1/0`
fn row(words: &str, units: usize) -> Option<(Block, Vec<Outcomes>)> {
    let (head, counts) = words.split_once(':')?;
    let head: Vec<&str> = head.split_whitespace().collect();
    let ["scramble", scramble, "samples", from, "to", to] = head[..] else {
        return None;
    };
    let block = Block {
        scramble: scramble.parse().ok()?,
        from: from.parse().ok()?,
        to: to.parse().ok()?,
    };
    if block.to <= block.from || SCRAMBLES <= block.scramble {
        return None;
    }
    let outcomes: Option<Vec<Outcomes>> = counts
        .split_whitespace()
        .map(|counts| outcomes(counts, block.to - block.from))
        .collect();
    let outcomes = outcomes.filter(|outcomes| outcomes.len() == units)?;
    Some((block, outcomes))
}

/// `60/2/1/1/0`, of so many samples.
fn outcomes(word: &str, samples: u32) -> Option<Outcomes> {
    let counts: Option<Vec<u32>> = word.split('/').map(|count| count.parse().ok()).collect();
    let [works, short, state_lost, no_rest, part_wrong] = counts?[..] else {
        return None;
    };
    let sum = [works, short, state_lost, no_rest, part_wrong]
        .into_iter()
        .try_fold(0, u32::checked_add);
    (sum? == samples).then_some(Outcomes {
        works,
        short,
        state_lost,
        no_rest,
        part_wrong,
    })
}
