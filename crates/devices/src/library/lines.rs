//! Base, heater, limits and capacitances of a tube.

use super::words::{
    AMPERES, Credit, FARADS, Measure, OHMS, Problems, SECONDS, SPREAD, VOLTS, WATTS, Words, body,
};
use crate::types::{
    Base, Capacitances, Electrode, Heater, Pin, RatingSystem, Ratings, Section, Sourced, TubeKind,
};
use text::source::Span;
use text::tree::{Phrase, Statement};

/// `A` or `B`.
fn section(text: &str) -> Option<Section> {
    match text {
        "A" => Some(Section::A),
        "B" => Some(Section::B),
        _ => None,
    }
}

/// What the pins of a base have to lead to.
pub(super) struct Needs {
    pub(super) kind: TubeKind,
    pub(super) twin: bool,
    pub(super) common_cathode: bool,
    /// The filament is the cathode.
    pub(super) direct: bool,
}

/// Reads `base 9A: 1 plate B, 2 grid B, ...`.
pub(super) fn base(line: &Statement, needs: &Needs, problems: &mut Problems) -> Option<Base> {
    const FORM: &str = "base 9A: 1 plate B, 2 grid B, 3 cathode B, 4 heater, 5 heater";
    let mut head = Words::new(line.head.first()?, FORM);
    head.next();
    let name = head.want("the name of the base", problems)?.text.clone();
    head.finish(problems);
    let Credit { mark, source } = Credit::of_line(line);
    let mut pins: Vec<(Pin, Span)> = Vec::new();
    for phrase in body(line, FORM, problems) {
        let Some(pin) = pin(phrase, FORM, needs, problems) else {
            continue;
        };
        if let Some((_, first)) = pins.iter().find(|(other, _)| other.number == pin.number) {
            problems.twice(&format!("pin {}", pin.number), phrase.span, *first);
            continue;
        }
        if let Some((before, _)) = pins.last().filter(|(before, _)| before.number > pin.number) {
            let message = format!("pin {} stands after pin {}", pin.number, before.number);
            problems.fault(
                "pin-order",
                phrase.span,
                message,
                "Write the pins in the order of their numbers.",
            );
        }
        pins.push((pin, phrase.span));
    }
    let mut pins: Vec<Pin> = pins.into_iter().map(|(pin, _)| pin).collect();
    pins.sort_by_key(|pin| pin.number);
    check_pins(&pins, needs, line.span, problems);
    Some(Base {
        name,
        pins,
        mark,
        source,
    })
}

/// `1 plate B`
fn pin(phrase: &Phrase, form: &'static str, needs: &Needs, problems: &mut Problems) -> Option<Pin> {
    let mut words = Words::new(phrase, form);
    let number = words.want("a pin number", problems)?;
    let Some(number) = number
        .text
        .parse::<u8>()
        .ok()
        .filter(|number| (1..=99).contains(number))
    else {
        problems.fault(
            "not-a-pin",
            number.span,
            format!("`{}` is no pin number", number.text),
            words.remedy(),
        );
        return None;
    };
    let word = words.want("an electrode", problems)?;
    let Some(&(_, electrode)) = Electrode::ALL.iter().find(|(name, _)| *name == word.text) else {
        problems.unknown(
            "unknown-electrode",
            word,
            "electrode",
            Electrode::ALL.iter().map(|(name, _)| *name),
        );
        return None;
    };
    let half = words.peek().and_then(|word| section(&word.text));
    if half.is_some() {
        words.next();
    }
    words.finish(problems);
    let shared = match electrode {
        Electrode::Heater | Electrode::HeaterTap | Electrode::Shield | Electrode::Free => true,
        Electrode::Cathode => needs.common_cathode,
        _ => false,
    };
    if half.is_some() && (!needs.twin || shared) {
        let message = format!(
            "pin {number} is given a half, but the {} belongs to no half of this tube",
            word.text
        );
        problems.fault("half-odd", phrase.span, message, "Leave the letter out.");
    }
    if half.is_none() && needs.twin && !shared {
        let message = format!(
            "pin {number} leads to a {}, but of which half is not said",
            word.text
        );
        problems.fault(
            "half-missing",
            phrase.span,
            message,
            format!("Write `{number} {} A` or `B`.", word.text),
        );
    }
    let section = half.filter(|_| needs.twin && !shared);
    Some(Pin {
        number,
        electrode,
        section,
    })
}

/// Faults for every electrode of every half that no pin leads to.
fn check_pins(pins: &[Pin], needs: &Needs, span: Span, problems: &mut Problems) {
    let halves: &[Option<Section>] = if needs.twin {
        &[Some(Section::A), Some(Section::B)]
    } else {
        &[None]
    };
    let mut wanted = Vec::new();
    for &half in halves {
        wanted.push((Electrode::Plate, half));
        if needs.kind != TubeKind::Diode {
            wanted.push((Electrode::Grid, half));
        }
        if matches!(needs.kind, TubeKind::Tetrode | TubeKind::Pentode) {
            wanted.push((Electrode::Screen, half));
        }
        if !needs.direct {
            wanted.push((Electrode::Cathode, half.filter(|_| !needs.common_cathode)));
        }
    }
    wanted.dedup();
    let mut missing: Vec<String> = Vec::new();
    for (electrode, half) in wanted {
        if !pins
            .iter()
            .any(|pin| pin.electrode == electrode && pin.section == half)
        {
            let word = Electrode::ALL
                .iter()
                .find(|(_, other)| *other == electrode)
                .map_or("", |(word, _)| word);
            let letter = half.map_or("", |half| if half == Section::A { " A" } else { " B" });
            missing.push(format!("{word}{letter}"));
        }
    }
    if pins
        .iter()
        .filter(|pin| pin.electrode == Electrode::Heater)
        .count()
        < 2
    {
        missing.push("both ends of the heater".to_owned());
    }
    if !missing.is_empty() {
        let message = format!("no pin leads to {}", missing.join(", "));
        problems.fault(
            "pin-missing",
            span,
            message,
            "Write every pin of the base, unused ones as `free`.",
        );
    }
}

/// Reads `heater 12.6V 150mA, tapped 6.3V 300mA, spread 8.3%, warm-up 11s` or `filament 1V 30mA`.
pub(super) fn heater(line: &Statement, problems: &mut Problems) -> Option<Heater> {
    const FORM: &str = "heater 12.6V 150mA, tapped 6.3V 300mA, spread 8.3%, warm-up 11s";
    let (first, rest) = line.head.split_first()?;
    let mut words = Words::new(first, FORM);
    words.next();
    let credit = Credit::of_line(line);
    let volts = words.sourced(&VOLTS, &credit, problems)?;
    let amps = words.sourced(&AMPERES, &credit, problems)?;
    words.finish(problems);
    let mut heater = Heater {
        volts,
        amps,
        tapped: None,
        direct: line.kind() == "filament",
        spread: None,
        warm_up: None,
    };
    for phrase in rest {
        let mut words = Words::new(phrase, FORM);
        if words.take("tapped") {
            tapped(&mut heater, phrase, &mut words, problems);
        } else if words.take("spread") {
            heater.spread = words.sourced(&SPREAD, &credit, problems);
        } else if words.take("warm-up") {
            heater.warm_up = words.sourced(&SECONDS, &credit, problems);
        } else {
            problems.fault(
                "word-expected",
                phrase.span,
                "here one of the words `tapped`, `spread`, `warm-up` belongs".to_owned(),
                words.remedy(),
            );
            continue;
        }
        words.finish(problems);
    }
    Some(heater)
}

/// `tapped 6.3V 300mA`
fn tapped(heater: &mut Heater, phrase: &Phrase, words: &mut Words, problems: &mut Problems) {
    let (Some(volts), Some(amps)) = (
        words.value(&VOLTS, problems),
        words.value(&AMPERES, problems),
    ) else {
        return;
    };
    heater.tapped = Some((volts, amps));
    let (whole, halves) = (heater.volts.value * heater.amps.value, volts * amps);
    if (halves / whole - 1.0).abs() > HEATER_TOLERANCE {
        let message = format!(
            "the heater takes {whole:.2} W in series and {halves:.2} W with the halves in parallel"
        );
        problems.caution(
            "heater-mismatch",
            phrase.span,
            message,
            "Look at the sheet again: the two must agree.",
        );
    }
}

/// Largest relative difference between heater watts in series and in parallel; chosen, the rounding of printed currents.
const HEATER_TOLERANCE: f64 = 0.03;

const SYSTEMS: [(&str, RatingSystem); 4] = [
    ("design-centre", RatingSystem::DesignCentre),
    ("design-center", RatingSystem::DesignCentre),
    ("design-maximum", RatingSystem::DesignMaximum),
    ("absolute-maximum", RatingSystem::AbsoluteMaximum),
];

type Limit = (
    &'static str,
    &'static Measure,
    fn(&mut Ratings) -> &mut Option<Sourced<f64>>,
);

static LIMITS: [Limit; 12] = [
    ("plate", &VOLTS, |ratings| &mut ratings.plate_volts),
    ("cold-plate", &VOLTS, |ratings| {
        &mut ratings.cold_plate_volts
    }),
    ("plate-power", &WATTS, |ratings| &mut ratings.plate_watts),
    ("both-plates-power", &WATTS, |ratings| {
        &mut ratings.both_plates_watts
    }),
    ("screen", &VOLTS, |ratings| &mut ratings.screen_volts),
    ("screen-power", &WATTS, |ratings| &mut ratings.screen_watts),
    ("cathode-current", &AMPERES, |ratings| {
        &mut ratings.cathode_amps
    }),
    ("negative-grid", &VOLTS, |ratings| {
        &mut ratings.negative_grid_volts
    }),
    ("heater-positive", &VOLTS, |ratings| {
        &mut ratings.heater_positive_volts
    }),
    ("heater-negative", &VOLTS, |ratings| {
        &mut ratings.heater_negative_volts
    }),
    ("reverse", &VOLTS, |ratings| &mut ratings.reverse_volts),
    ("peak-current", &AMPERES, |ratings| &mut ratings.peak_amps),
];

/// Reads `limits design-centre: plate 300V, plate-power 2.75W, grid-resistance 1M fixed, heater-cathode 90V` into the
/// ratings; what is not said stays.
pub(super) fn limits(line: &Statement, ratings: &mut Ratings, problems: &mut Problems) {
    const FORM: &str =
        "limits design-centre: plate 300V, plate-power 2.75W, grid-resistance 1M fixed";
    let Some(first) = line.head.first() else {
        return;
    };
    let mut head = Words::new(first, FORM);
    head.next();
    if let Some(word) = head.next() {
        match SYSTEMS.iter().find(|(name, _)| *name == word.text) {
            Some(&(_, system)) => ratings.system = Some(system),
            None => problems.unknown(
                "unknown-system",
                word,
                "rating system",
                SYSTEMS.iter().map(|(name, _)| *name),
            ),
        }
    }
    head.finish(problems);
    ratings.system = ratings.system.or(Some(RatingSystem::NotStated));
    let credit = Credit::of_line(line);
    let mut said: Vec<(String, Span)> = Vec::new();
    for phrase in body(line, FORM, problems) {
        let text = phrase.texts();
        let key = if text.first() == Some(&"grid-resistance") {
            text.last()
        } else {
            text.first()
        };
        let key = key.copied().unwrap_or_default().to_owned();
        if let Some((_, first)) = said.iter().find(|(other, _)| *other == key) {
            problems.twice(&format!("`{key}`"), phrase.span, *first);
            continue;
        }
        said.push((key, phrase.span));
        limit(Words::new(phrase, FORM), &credit, ratings, problems);
    }
}

fn limit(mut words: Words, credit: &Credit, ratings: &mut Ratings, problems: &mut Problems) {
    let Some(word) = words.want("the name of a limit", problems) else {
        return;
    };
    match word.text.as_str() {
        "heater-cathode" => {
            let value = words.sourced(&VOLTS, credit, problems);
            ratings.heater_positive_volts.clone_from(&value);
            ratings.heater_negative_volts = value;
        }
        "grid-resistance" => {
            let Some(value) = words.sourced(&OHMS, credit, problems) else {
                return;
            };
            if words.take("fixed") {
                ratings.grid_ohms_fixed = Some(value);
            } else if words.take("cathode-bias") {
                ratings.grid_ohms_self = Some(value);
            } else {
                let message = "whether with fixed bias or with cathode bias is not said".to_owned();
                problems.fault(
                    "word-missing",
                    words.span,
                    message,
                    "Write `grid-resistance 1M fixed` or `cathode-bias`.",
                );
            }
        }
        name => match LIMITS.iter().find(|(known, ..)| *known == name) {
            Some((_, measure, place)) => *place(ratings) = words.sourced(measure, credit, problems),
            None => {
                let known = LIMITS
                    .iter()
                    .map(|(name, ..)| *name)
                    .chain(["heater-cathode", "grid-resistance"]);
                problems.unknown("unknown-limit", word, "limit", known);
                return;
            }
        },
    }
    words.finish(problems);
}

/// Reads `capacitance A: grid-plate 1.5p, grid-cathode 1.6p, plate-cathode 0.5p`, without a letter for both halves.
pub(super) fn capacitance(
    line: &Statement,
    twin: bool,
    all: &mut Vec<Capacitances>,
    problems: &mut Problems,
) {
    const FORM: &str = "capacitance A: grid-plate 1.5p, grid-cathode 1.6p, plate-cathode 0.5p";
    const NAMES: [&str; 3] = ["grid-plate", "grid-cathode", "plate-cathode"];
    let Some(first) = line.head.first() else {
        return;
    };
    let mut head = Words::new(first, FORM);
    head.next();
    let half = head.peek().and_then(|word| section(&word.text));
    if half.is_some() {
        head.next();
    }
    head.finish(problems);
    if half.is_some() && !twin {
        problems.fault(
            "half-odd",
            line.span,
            "a single tube has no halves".to_owned(),
            "Leave the letter out.",
        );
    }
    all.resize(if twin { 2 } else { 1 }, Capacitances::default());
    let credit = Credit::of_line(line);
    for phrase in body(line, FORM, problems) {
        let mut words = Words::new(phrase, FORM);
        let Some(word) = words.want("the name of a capacitance", problems) else {
            continue;
        };
        if !NAMES.contains(&word.text.as_str()) {
            problems.unknown("unknown-value", word, "capacitance", NAMES.into_iter());
            continue;
        }
        let value = words.sourced(&FARADS, &credit, problems);
        words.finish(problems);
        for (index, own) in all.iter_mut().enumerate() {
            if half.is_some_and(|half| half != [Section::A, Section::B][index]) {
                continue;
            }
            let place = match word.text.as_str() {
                "grid-plate" => &mut own.grid_plate,
                "grid-cathode" => &mut own.grid_cathode,
                _ => &mut own.plate_cathode,
            };
            place.clone_from(&value);
        }
    }
}
