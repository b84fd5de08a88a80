//! How far parts of a type may be from the book: the `spread` line of a type, and the builder's own lot of tubes.

use super::words::{
    Credit, FACTOR, Measure, Problems, SHARE, SIGNED_AMPERES, SIGNED_VOLTS, VOLTS, Words, body,
};
use crate::neon::NeonParameters;
use crate::spread::{DiodeSpread, NeonSpread, TubeSpread};
use crate::types::{Mark, NeonType, Sourced, TubeKind, TubeType};
use text::diagnostic::Diagnostic;
use text::quantity::{Unit, show};
use text::source::Span;
use text::tree::{Statement, Word};

const TUBE_FORM: &str = "spread current 78% to 144%, mu 83% to 108%, cut-off 0.3V, halves 30%, alike 40%, aged to 60%, reverse 200nA";
const LOT_FORM: &str = "lot 6922: current 85% to 112%, mu 95% to 104%, halves 10%, alike 20%, cut-off 0.1V, aged to 60%, reverse 100nA";
const DIODE_LOT_FORM: &str = "lot 1N34A: saturation 2 times, leakage 60uA at 10V";
const NEON_LOT_FORM: &str = "lot NE-2: strike 68V to 84V, maintain 52V to 58V";
const NEON_FORM: &str = "spread strike 65V to 90V, maintain 50V to 60V";
const DIODE_FORM: &str = "spread saturation 3 times, leakage 5uA at 75V";

/// The form of a vacuum diode, which has no grid.
const VACUUM_DIODE_FORM: &str = "spread current 78% to 144%, halves 30%, alike 40%, aged to 60%";

/// Largest share of the book value that makes sense; chosen, ten times is another type.
const LARGEST_SHARE: f64 = 10.0;
/// Least difference of currents that is taken, a share of the book's; chosen, closer than a tester repeats itself.
const LEAST_DIFFERENCE: f64 = 1e-3;
/// Largest shift of cut-off beyond what mu explains, V: contact potentials of one type of tube differ by tenths of a volt, and
/// what the work functions of an oxide cathode and a grid of bare metal can differ by at all is about 3 V (from memory).
const LARGEST_SHIFT: f64 = 3.0;
/// Largest reverse grid current, A; chosen far above what a usable tube has.
const LARGEST_REVERSE: f64 = 1e-3;
/// Most times by which a saturation current differs; chosen far above any.
const MOST_TIMES: f64 = 1e6;
const LARGEST_LEAKAGE: f64 = 1.0;

/// What of a tube decides which words its spread has, and what they may say.
struct Subject<'a> {
    kind: TubeKind,
    twin: bool,
    /// The builder's own, all of which may lie beside the book.
    lot: bool,
    /// What is known where nothing is said.
    known: &'a TubeSpread,
}

/// Reads `spread current 50% to 200% [seen S18], halves 30%, ...`. Each value has a note of its own; what is not said is as
/// `known`.
pub(super) fn tube(
    line: &Statement,
    kind: TubeKind,
    twin: bool,
    known: &TubeSpread,
    problems: &mut Problems,
) -> TubeSpread {
    let form = match kind {
        TubeKind::Diode => VACUUM_DIODE_FORM,
        _ => TUBE_FORM,
    };
    tube_phrases(
        after_the_word(line, form),
        &Subject {
            kind,
            twin,
            lot: false,
            known,
        },
        &Credit::NONE,
        form,
        problems,
    )
    .over(known)
}

/// Reads the values of the builder's own lot of tubes, `lot 6922: current 85% to 112%, halves 10%`, and says what is wrong
/// with them. They are measured where no note says otherwise.
#[must_use]
pub fn lot_spread(lot: &Statement, device: &TubeType) -> (TubeSpread, Vec<Diagnostic>) {
    let mut problems = Problems::default();
    let subject = Subject {
        kind: device.kind,
        twin: device.sections == 2,
        lot: true,
        known: &device.spread,
    };
    let credit = Credit::of_line(lot);
    let phrases = body(lot, LOT_FORM, &mut problems)
        .iter()
        .map(|phrase| Words::new(phrase, LOT_FORM));
    let mut spread = tube_phrases(phrases, &subject, &credit, LOT_FORM, &mut problems);
    let ranges = [&mut spread.current, &mut spread.mu];
    let singles = [
        &mut spread.cut_off,
        &mut spread.halves,
        &mut spread.alike,
        &mut spread.aged,
        &mut spread.reverse,
    ];
    let marks = ranges.into_iter().flatten().map(|one| &mut one.mark);
    let marks = marks.chain(singles.into_iter().flatten().map(|one| &mut one.mark));
    measured(marks);
    (spread, problems.all)
}

/// The same of semiconductor diodes: `lot 1N34A: saturation 2 times, leakage 60uA at 10V`.
#[must_use]
pub fn diode_lot_spread(lot: &Statement) -> (DiodeSpread, Vec<Diagnostic>) {
    let mut problems = Problems::default();
    let credit = Credit::of_line(lot);
    let phrases = body(lot, DIODE_LOT_FORM, &mut problems)
        .iter()
        .map(|phrase| Words::new(phrase, DIODE_LOT_FORM));
    let mut spread = DiodeSpread::default();
    diode_phrases(phrases, &credit, DIODE_LOT_FORM, &mut spread, &mut problems);
    let saturation = spread.saturation.iter_mut().map(|one| &mut one.mark);
    measured(saturation.chain(spread.leakage.iter_mut().map(|one| &mut one.mark)));
    (spread, problems.all)
}

/// The same of neon lamps: `lot NE-2: strike 68V to 84V, maintain 52V to 58V`; all of them may lie beside the law's volts.
#[must_use]
pub fn neon_lot_spread(lot: &Statement, device: &NeonType) -> (NeonSpread, Vec<Diagnostic>) {
    let mut problems = Problems::default();
    let credit = Credit::of_line(lot);
    let phrases = body(lot, NEON_LOT_FORM, &mut problems)
        .iter()
        .map(|phrase| Words::new(phrase, NEON_LOT_FORM));
    let mut spread = NeonSpread::default();
    neon_phrases(phrases, &credit, None, &mut spread, &mut problems);
    if let Some(message) = too_near(&device.law, &spread.over(&device.spread)) {
        problems.fault("strike-too-low", lot.span, message, STRIKE_ABOVE);
    }
    let all = [&mut spread.strike, &mut spread.maintain];
    measured(all.into_iter().flatten().map(|one| &mut one.mark));
    (spread, problems.all)
}

/// What the builder says of a lot without a mark is measured.
fn measured<'a>(marks: impl Iterator<Item = &'a mut Mark>) {
    for mark in marks.filter(|mark| **mark == Mark::Unmarked) {
        *mark = Mark::Measured;
    }
}

/// The phrases of a line, without the word that begins it.
fn after_the_word<'a>(
    line: &'a Statement,
    form: &'static str,
) -> impl Iterator<Item = Words<'a>> + 'a {
    line.head.iter().enumerate().map(move |(index, phrase)| {
        let mut words = Words::new(phrase, form);
        if index == 0 {
            words.next();
            if let Some(first) = words.peek() {
                words.span.start = first.span.start;
            }
        }
        words
    })
}

/// Goes through phrases that each begin with one of these words, and reads each word once.
fn each<'a>(
    phrases: impl Iterator<Item = Words<'a>>,
    known: &[&str],
    problems: &mut Problems,
    mut read: impl FnMut(&str, &mut Words<'a>, &mut Problems) -> Option<()>,
) {
    let mut said: Vec<(&str, Span)> = Vec::new();
    for mut words in phrases {
        let Some(word) = words.want("what differs", problems) else {
            continue;
        };
        if !known.contains(&word.text.as_str()) {
            let known = known.iter().copied();
            problems.unknown("unknown-value", word, "word of this spread", known);
            continue;
        }
        if let Some((_, first)) = said.iter().find(|(other, _)| *other == word.text) {
            problems.twice(&format!("`{}`", word.text), word.span, *first);
            continue;
        }
        said.push((&word.text, word.span));
        if read(&word.text, &mut words, problems).is_some() {
            words.finish(problems);
        }
    }
}

fn tube_phrases<'a>(
    phrases: impl Iterator<Item = Words<'a>>,
    subject: &Subject,
    credit: &Credit,
    form: &'static str,
    problems: &mut Problems,
) -> TubeSpread {
    let known: &[&str] = match subject.kind {
        TubeKind::Diode => &["current", "halves", "alike", "aged"],
        _ => &[
            "current", "mu", "cut-off", "halves", "alike", "aged", "reverse",
        ],
    };
    let mut spread = TubeSpread::default();
    let mut aged_place = None;
    let (mut halves, mut alike) = (None, None);
    each(phrases, known, problems, |word, words, problems| {
        match word {
            "current" => {
                spread.current = Some(range("current", words, subject.lot, credit, problems)?)
            }
            "mu" => spread.mu = Some(range("mu", words, subject.lot, credit, problems)?),
            "cut-off" => {
                let limits = (0.0, LARGEST_SHIFT);
                let remedy = "It is counted either way, beyond what mu explains: write it without a sign, like `0.3V`, and at most `3V`, for contact potentials differ by no more.";
                spread.cut_off = Some(single(
                    &SIGNED_VOLTS,
                    limits,
                    remedy,
                    words,
                    credit,
                    problems,
                )?);
            }
            "halves" => {
                if !subject.twin {
                    let message = "a single tube has no halves that could differ".to_owned();
                    problems.fault("half-odd", words.span, message, "Leave `halves` out.");
                    return None;
                }
                let remedy = "Two halves differ by between `0.1%` and `100%` of the book current.";
                halves = Some(words.span);
                let limits = (LEAST_DIFFERENCE, 1.0);
                spread.halves = Some(single(&SHARE, limits, remedy, words, credit, problems)?);
            }
            "alike" => {
                let remedy = "Two tubes of a lot differ by between `0.1%` and `100%` of the book current; leave `alike` out where they were not sorted.";
                alike = Some(words.span);
                let limits = (LEAST_DIFFERENCE, 1.0);
                spread.alike = Some(single(&SHARE, limits, remedy, words, credit, problems)?);
            }
            "aged" => {
                if !words.take("to") {
                    let message = "after `aged` the word `to` belongs".to_owned();
                    problems.fault(
                        "word-expected",
                        words.span,
                        message,
                        format!("The form is `{form}`."),
                    );
                    return None;
                }
                let limits = (f64::MIN_POSITIVE, 1.0);
                let remedy = "Say what is left of the book current at the end of life, above `0%` and at most `100%`.";
                let place = words.peek().map(|word| word.span);
                let aged = single(&SHARE, limits, remedy, words, credit, problems)?;
                aged_place = place.map(|place| (aged.value, place));
                spread.aged = Some(aged);
            }
            _ => {
                let limits = (0.0, LARGEST_REVERSE);
                let remedy = "It flows out of the grid: write it without a sign, like `200nA`.";
                spread.reverse = Some(single(
                    &SIGNED_AMPERES,
                    limits,
                    remedy,
                    words,
                    credit,
                    problems,
                )?);
            }
        }
        Some(())
    });
    if let Some((aged, span)) = aged_place
        && let Some(current) = &spread.current
        && current.value.0 < aged
    {
        let message = format!(
            "at the end of life more is left ({:.0} % of the book current) than the worst new tube has ({:.0} %)",
            100.0 * aged,
            100.0 * current.value.0
        );
        let remedy = "What is left counts as a share of the book current, like that of new tubes: write the lowest that a tube may fall to. Until then the worst new tube is the worst case.";
        problems.caution("spread-odd", span, message, remedy);
    }
    if let Some(alike) = alike {
        check_alike(&spread, subject.known, alike, halves, problems);
    }
    spread
}

/// Faults where tubes that are alike would differ by more than their band, or by less than their halves.
fn check_alike(
    said: &TubeSpread,
    known: &TubeSpread,
    alike: Span,
    halves: Option<Span>,
    problems: &mut Problems,
) {
    let Some(most) = said.alike.as_ref().map(|alike| alike.value) else {
        return;
    };
    let percent = |share: f64| show(share, Unit::Percent, 3);
    if let (Some(own), Some(span)) = (&said.halves, halves)
        && most < own.value
    {
        let message = format!(
            "halves of one tube differ by up to {}, any two tubes by no more than {}: halves are nearer to one another than that",
            percent(own.value),
            percent(most)
        );
        let remedy = "Make `halves` smaller, or `alike` larger.";
        problems.fault("spread-odd", span, message, remedy);
    }
    let all = said.over(known);
    // Where no end of life is known the band is not.
    if let (Some(current), Some(aged)) = (&all.current, &all.aged) {
        let (low, high) = (current.value.0.min(aged.value), current.value.1);
        if high - low < most {
            let message = format!(
                "tubes from {} to {} of the book current, worn ones among them, differ by {} at the most, so `alike` of {} says nothing",
                percent(low),
                percent(high),
                percent(high - low),
                percent(most)
            );
            let remedy = "Write how far apart the two most unlike tubes of the lot are, or leave `alike` out.";
            problems.fault("spread-odd", alike, message, remedy);
        }
    }
}

/// Reads `spread saturation 3 times, leakage 5uA at 75V [seen S49]`; what is not said stays.
pub(super) fn diode(line: &Statement, spread: &mut DiodeSpread, problems: &mut Problems) {
    let phrases = after_the_word(line, DIODE_FORM);
    diode_phrases(phrases, &Credit::NONE, DIODE_FORM, spread, problems);
}

fn diode_phrases<'a>(
    phrases: impl Iterator<Item = Words<'a>>,
    credit: &Credit,
    form: &'static str,
    spread: &mut DiodeSpread,
    problems: &mut Problems,
) {
    let known = ["saturation", "leakage"];
    each(phrases, &known, problems, |word, words, problems| {
        if word == "saturation" {
            let remedy = "It is counted either way: write a number from 1 up, like `3 times`.";
            let times = single(&FACTOR, (1.0, MOST_TIMES), remedy, words, credit, problems)?;
            if !words.take("times") {
                let message = "after the number the word `times` belongs".to_owned();
                let remedy = format!("The form is `{form}`.");
                problems.fault("word-expected", words.span, message, remedy);
                return None;
            }
            spread.saturation = Some(times);
            return Some(());
        }
        let limits = (f64::MIN_POSITIVE, LARGEST_LEAKAGE);
        let remedy = "Write the largest reverse current without a sign, like `5uA at 75V`.";
        let amps = single(&SIGNED_AMPERES, limits, remedy, words, credit, problems)?;
        if !words.take("at") {
            let message = "at which reverse volts the leakage flows is not said".to_owned();
            let remedy = format!("The form is `{form}`.");
            problems.fault("word-expected", words.span, message, remedy);
            return None;
        }
        let volts = words.value(&VOLTS, problems)?;
        spread.leakage = Some(Sourced {
            value: (amps.value, volts),
            mark: amps.mark,
            source: amps.source,
        });
        Some(())
    });
}

/// Reads `spread strike 65V to 90V [measured], maintain 50V to 60V` of a lamp of this law; what is not said stays.
pub(super) fn neon(
    line: &Statement,
    law: &NeonParameters,
    spread: &mut NeonSpread,
    problems: &mut Problems,
) {
    let phrases = after_the_word(line, NEON_FORM);
    neon_phrases(phrases, &Credit::NONE, Some(law), spread, problems);
    if let Some(message) = too_near(law, spread) {
        problems.fault("strike-too-low", line.span, message, STRIKE_ABOVE);
        *spread = NeonSpread::default();
    }
}

/// Reads the volts of lamps; with a law its volts must lie between.
fn neon_phrases<'a>(
    phrases: impl Iterator<Item = Words<'a>>,
    credit: &Credit,
    law: Option<&NeonParameters>,
    spread: &mut NeonSpread,
    problems: &mut Problems,
) {
    each(
        phrases,
        &["strike", "maintain"],
        problems,
        |word, words, problems| {
            if word == "strike" {
                let book = law.map(|law| ("strikes at", law.strike_volts));
                spread.strike = Some(around(book, words, credit, problems)?);
            } else {
                let book = law.map(|law| ("holds", law.maintain_volts));
                spread.maintain = Some(around(book, words, credit, problems)?);
            }
            Some(())
        },
    );
}

const STRIKE_ABOVE: &str = "Write lowest striking volts above the highest that a lit lamp holds.";

/// What is wrong where the lowest striking volts are no higher than the highest that a lit lamp holds.
fn too_near(law: &NeonParameters, spread: &NeonSpread) -> Option<String> {
    let strike = spread.strike.as_ref();
    let strike = strike.map_or(law.strike_volts, |volts| volts.value.0);
    let maintain = spread.maintain.as_ref();
    let maintain = maintain.map_or(law.maintain_volts, |volts| volts.value.1);
    (strike <= maintain).then(|| {
        format!(
            "a lamp that strikes at {} does not go out where one holds {}",
            show(strike, Unit::Volt, 3),
            show(maintain, Unit::Volt, 3)
        )
    })
}

/// `65V to 90V`: the lowest and the highest volts, those of the book (what the lamp does, at how many) between them where they must.
fn around(
    book: Option<(&str, f64)>,
    words: &mut Words,
    credit: &Credit,
    problems: &mut Problems,
) -> Option<Sourced<(f64, f64)>> {
    let span = words.span;
    let low = words.value(&VOLTS, problems)?;
    if !words.take("to") {
        let message = "up to how many volts is not said".to_owned();
        let remedy = format!("The form is `{NEON_FORM}`.");
        problems.fault("word-expected", span, message, remedy);
        return None;
    }
    let high = words.value(&VOLTS, problems)?;
    if let Some((what, volts)) = book.filter(|(_, volts)| !(low..=high).contains(volts)) {
        let message = format!(
            "by its law the lamp {what} {}, and that is not between these volts",
            show(volts, Unit::Volt, 3)
        );
        let remedy = "Write the lower volts first, and those of the law between the two.";
        problems.fault("spread-odd", span, message, remedy);
        return None;
    }
    if high < low {
        let message = "the lowest volts lie above the highest".to_owned();
        problems.fault("spread-odd", span, message, "Write the lower volts first.");
        return None;
    }
    Some(words.credit(credit).source((low, high)))
}

/// One value within its limits.
fn single(
    measure: &Measure,
    (least, most): (f64, f64),
    remedy: &str,
    words: &mut Words,
    credit: &Credit,
    problems: &mut Problems,
) -> Option<Sourced<f64>> {
    let word = words.peek();
    let value = words.sourced(measure, credit, problems)?;
    let word = word?;
    if !(least..=most).contains(&value.value) {
        let message = format!("`{}` cannot be the spread of such a part", word.text);
        problems.fault("spread-odd", word.span, message, remedy);
        return None;
    }
    Some(value)
}

/// `78% to 144%`: the lowest and the highest share of the book value.
fn range(
    what: &str,
    words: &mut Words,
    lot: bool,
    credit: &Credit,
    problems: &mut Problems,
) -> Option<Sourced<(f64, f64)>> {
    let first = words.peek();
    let low = words.value(&SHARE, problems)?;
    let first = first?;
    if !words.take("to") {
        let message = format!("up to which share of the book {what} is not said");
        let remedy = format!("The form is `{what} 85% to 112%`.");
        problems.fault("word-expected", words.span, message, remedy);
        return None;
    }
    let last = words.peek();
    let high = words.value(&SHARE, problems)?;
    let last = last?;
    if let Some((span, message, remedy)) = oddity(what, (first, low), (last, high), lot) {
        problems.fault("spread-odd", span, message, remedy);
        return None;
    }
    Some(words.credit(credit).source((low, high)))
}

/// Where a lowest and a highest share contradict each other or the book, what is wrong and what to do.
fn oddity(
    what: &str,
    (first, low): (&Word, f64),
    (last, high): (&Word, f64),
    lot: bool,
) -> Option<(Span, String, &'static str)> {
    if high < low {
        let message = format!(
            "the lowest {what}, `{}`, lies above the highest, `{}`",
            first.text, last.text
        );
        let span = first.span.to(last.span);
        return Some((span, message, "Write the lower one first."));
    }
    if low <= 0.0 {
        let message = format!(
            "the lowest {what} is `{}` of the book's, and a tube with none is no spread but a dead one",
            first.text
        );
        return Some((first.span, message, "Write a share above `0%`."));
    }
    let not_as_the_book = |end: &str, word: &Word| {
        format!(
            "the {end} {what} is `{}`, so no tube would be as the book has it",
            word.text
        )
    };
    if low > 1.0 && !lot {
        let remedy = "Write at most `100%` for the lowest; if all your tubes lie above the book, say so in a `lot`.";
        return Some((first.span, not_as_the_book("lowest", first), remedy));
    }
    if high < 1.0 && !lot {
        let remedy = "Write at least `100%` for the highest; if all your tubes lie below the book, say so in a `lot`.";
        return Some((last.span, not_as_the_book("highest", last), remedy));
    }
    let message = format!("a {what} of `{}` of the book's is another type", last.text);
    let remedy = "Look at the number of zeros; it is written like `112%`.";
    (high > LARGEST_SHARE).then_some((last.span, message, remedy))
}
