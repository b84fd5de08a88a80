//! Another type in one socket: does its heater stand in the string, do its pins meet the wiring, and what do its units do?

use crate::change::{Change, compare};
use crate::finding::Finding;
use crate::heaters::{HeaterReading, LIMIT_SHARE, rating};
use crate::parts::ResistorRange;
use crate::planning::AIM_SHARE;
use crate::verdict::Verdict;
use design::model::{Branch, SocketId};
use design::substitute::Misfit;
use devices::heater::HeaterLaw;
use devices::types::TubeType;
use std::sync::Arc;
use text::diagnostic::Severity;
use text::quantity::{Unit, counted, show};

mod mending;
mod pins;

pub use pins::{PinChange, pin_changes};

/// One reason for a judgement, in a sentence with its figures.
#[derive(Debug, Clone, PartialEq)]
pub struct Reason {
    /// How much it matters.
    pub severity: Severity,
    /// The sentence.
    pub text: String,
}

/// A heater of the string before and after; in the socket itself the types differ.
#[derive(Debug, Clone, PartialEq)]
pub struct HeaterChange {
    /// Mark of the tube.
    pub mark: String,
    /// Type, before and after.
    pub types: (String, String),
    /// Volts across it.
    pub volts: (f64, f64),
    /// Rated volts as wired.
    pub rated_volts: (f64, f64),
}

impl HeaterChange {
    fn off(&self) -> (f64, f64) {
        (
            self.volts.0 / self.rated_volts.0 - 1.0,
            self.volts.1 / self.rated_volts.1 - 1.0,
        )
    }
}

/// The place of a heater in its string, and what stands there instead.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeaterPlace {
    /// Rated current of the heater that the place is for, as it is wired, A.
    pub amps: f64,
    /// Hot resistance of the old heater and of the new, ohm.
    pub hot_ohms: (f64, f64),
    /// Volts at which the new heater takes the current of the place.
    pub volts_at_amps: f64,
    /// Its rated volts as wired.
    pub rated_volts: f64,
}

/// What another type in a socket does.
#[derive(Debug, Clone, PartialEq)]
pub struct Swap {
    /// Mark of the tube.
    pub mark: String,
    /// Type in place and type tried.
    pub types: (String, String),
    /// A note when it fits, a caution when it fits with caution, a fault when it does not fit.
    pub fit: Severity,
    /// Why, worst first.
    pub reasons: Vec<Reason>,
    /// The place of its heater; `None` where it stands in no string or a heater is not known.
    pub place: Option<HeaterPlace>,
    /// Heaters of its string.
    pub heaters: Vec<HeaterChange>,
    /// What would mend its heater, in sentences.
    pub mends: Vec<String>,
    /// Pins that lead elsewhere.
    pub pins: Vec<PinChange>,
    /// Levels and findings before and after; `None` where its units have no place for it.
    pub change: Option<Change>,
}

/// Judges a type in a socket. `before` is the machine as it is; `after` has the type in that socket, in the circuits too
/// unless there is a `misfit`; `resistors` are those that can be bought to mend it.
#[must_use]
pub fn swap(
    before: &Verdict,
    after: &Verdict,
    misfit: Option<&Misfit>,
    socket: SocketId,
    resistors: &ResistorRange,
) -> Swap {
    let (old, new) = (device(before, socket), device(after, socket));
    let heaters = heaters(before, after, socket);
    let tapped = wired_tapped(after, socket);
    let pins = pin_changes(old, new, tapped);
    let change = misfit.is_none().then(|| compare(before, after));
    let mut reasons = heater_reasons(before, after, socket, &heaters);
    let off = reasons
        .iter()
        .any(|reason| reason.severity != Severity::Note);
    reasons.extend(pins::reasons(old, new, &pins));
    reasons.extend(misfit.map(|misfit| no_place(misfit, new)));
    if let Some(change) = &change {
        reasons.extend(
            change
                .new
                .iter()
                .filter_map(|finding| of_finding(finding, off)),
        );
    }
    reasons.sort_by_key(|reason| std::cmp::Reverse(reason.severity));
    let worst = reasons.iter().map(|reason| reason.severity).max();
    Swap {
        mark: before.plan.design.sockets[socket.0].mark.clone(),
        types: (old.name.clone(), new.name.clone()),
        fit: worst.unwrap_or(Severity::Note),
        reasons,
        place: place(before, after, socket),
        heaters,
        mends: if off {
            mending::mends(before, after, socket, resistors)
        } else {
            Vec::new()
        },
        pins,
        change,
    }
}

fn device<'a>(verdict: &'a Verdict, socket: SocketId) -> &'a Arc<TubeType> {
    &verdict.plan.design.sockets[socket.0].device
}

/// String and link of a socket's heater, and whether it is wired for its tap.
fn standing(verdict: &Verdict, socket: SocketId) -> Option<(usize, usize, bool)> {
    let strings = verdict.plan.design.strings.iter().enumerate();
    strings
        .flat_map(|(index, string)| {
            let links = string.links.iter().enumerate();
            links.flat_map(move |(link, parts)| {
                parts
                    .branches
                    .iter()
                    .map(move |branch| (index, link, branch))
            })
        })
        .find_map(|(string, link, branch)| match branch {
            Branch::Heater {
                socket: own,
                tapped,
            } if *own == socket => Some((string, link, *tapped)),
            _ => None,
        })
}

fn wired_tapped(verdict: &Verdict, socket: SocketId) -> bool {
    standing(verdict, socket).is_some_and(|(_, _, tapped)| tapped)
}

fn law(device: &TubeType, tapped: bool, cold_share: f64) -> Option<HeaterLaw> {
    let (volts, amps) = rating(device.heater.as_ref()?, tapped)?;
    Some(HeaterLaw {
        volts,
        amps,
        cold_share,
    })
}

fn place(before: &Verdict, after: &Verdict, socket: SocketId) -> Option<HeaterPlace> {
    let (_, _, tapped) = standing(after, socket)?;
    let cold_share = 1.0 / after.heaters.assumptions.hot_over_cold[1];
    let old = law(device(before, socket), tapped, cold_share)?;
    let new = law(device(after, socket), tapped, cold_share)?;
    Some(HeaterPlace {
        amps: old.amps,
        hot_ohms: (old.hot_ohms(), new.hot_ohms()),
        volts_at_amps: new.volts_at(old.amps),
        rated_volts: new.volts,
    })
}

/// The heaters of the string that the socket is in.
fn heaters(before: &Verdict, after: &Verdict, socket: SocketId) -> Vec<HeaterChange> {
    let Some((string, ..)) = standing(after, socket) else {
        return Vec::new();
    };
    let design = after.plan.design;
    let of = |verdict: &Verdict, socket: SocketId| -> Option<HeaterReading> {
        let mut readings = verdict.heaters.readings.iter();
        readings.find(|reading| reading.socket == socket).cloned()
    };
    let marks = design.strings[string].heaters();
    marks
        .filter_map(|(socket, ..)| {
            let (old, new) = (of(before, socket)?, of(after, socket)?);
            Some(HeaterChange {
                mark: design.sockets[socket.0].mark.clone(),
                types: (
                    device(before, socket).name.clone(),
                    device(after, socket).name.clone(),
                ),
                volts: (old.across(), new.across()),
                rated_volts: (old.rated_volts, new.rated_volts),
            })
        })
        .collect()
}

/// A heater moves less than this between two like strings: rounding.
const SAME_SHARE: f64 = 1e-6;

/// "12.6 % under"
pub(crate) fn beyond(off: f64) -> String {
    let side = if off < 0.0 { "under" } else { "over" };
    format!("{:.1} % {side}", 100.0 * off.abs())
}

fn heater_reasons(
    before: &Verdict,
    after: &Verdict,
    socket: SocketId,
    heaters: &[HeaterChange],
) -> Vec<Reason> {
    let (old, new) = (device(before, socket), device(after, socket));
    let mark = &after.plan.design.sockets[socket.0].mark;
    let one = |severity, text| vec![Reason { severity, text }];
    let Some((string, _, tapped)) = standing(after, socket) else {
        return one(
            Severity::Caution,
            format!("{mark} stands in no heater string, so nothing is said of its heater."),
        );
    };
    let Some(heater) = &new.heater else {
        return one(
            Severity::Fault,
            format!("The heater of a {} is not known.", new.name),
        );
    };
    if tapped && heater.tapped.is_none() {
        return one(
            Severity::Fault,
            format!(
                "{mark} is wired with both ends of its heater against the tap, and a {} has no tap: it stays cold, and so does all of string {}.",
                new.name, after.plan.design.strings[string].name
            ),
        );
    }
    let mut reasons = Vec::new();
    if let Some(place) = place(before, after, socket) {
        reasons.push(Reason {
            severity: Severity::Note,
            text: of_place(&place, old, new),
        });
    }
    reasons.extend(moved(heaters));
    reasons.extend(at_supply_ends(before, after, string));
    reasons
}

/// How the two heaters differ.
fn of_place(place: &HeaterPlace, old: &TubeType, new: &TubeType) -> String {
    let (was, is) = place.hot_ohms;
    let share = is / was - 1.0;
    if share.abs() < SAME_SHARE
        && (place.volts_at_amps / place.rated_volts - 1.0).abs() < SAME_SHARE
    {
        return format!(
            "The heaters of {} and {} are alike as wired.",
            old.name, new.name
        );
    }
    let less = if share < 0.0 { "less" } else { "more" };
    format!(
        "Hot, the heater of {} has {}, that of {} {}: {:.0} % {less}. At the {} of its place it would stand at {}, {}.",
        new.name,
        show(is, Unit::Ohm, 3),
        old.name,
        show(was, Unit::Ohm, 3),
        100.0 * share.abs(),
        show(place.amps, Unit::Ampere, 3),
        show(place.volts_at_amps, Unit::Volt, 3),
        beyond(place.volts_at_amps / place.rated_volts - 1.0),
    )
}

/// The heaters of the string that the exchange takes beyond the aim or the limit.
fn moved(heaters: &[HeaterChange]) -> Option<Reason> {
    let worse = |heater: &&HeaterChange| {
        let (was, is) = heater.off();
        AIM_SHARE + SAME_SHARE < is.abs() && was.abs() + SAME_SHARE < is.abs()
    };
    let off: Vec<&HeaterChange> = heaters.iter().filter(worse).collect();
    let furthest = off
        .iter()
        .map(|heater| heater.off().1.abs())
        .reduce(f64::max)?;
    let listed: Vec<String> = off
        .iter()
        .take(MOST_NAMED)
        .map(|heater| {
            format!(
                "{} at {} ({})",
                heater.mark,
                show(heater.volts.1, Unit::Volt, 3),
                beyond(heater.off().1)
            )
        })
        .collect();
    let more = match off.len() - listed.len() {
        0 => String::new(),
        more => format!(" and {} more", counted(more, "heater")),
    };
    let limit = LIMIT_SHARE + SAME_SHARE < furthest;
    Some(Reason {
        severity: if limit {
            Severity::Fault
        } else {
            Severity::Caution
        },
        text: format!(
            "In its string the volts divide anew: {}{more}; {}.",
            listed.join(", "),
            if limit {
                "10 % is the limit"
            } else {
                "5 % is the aim"
            }
        ),
    })
}

/// Heaters named in a sentence: chosen, a line or two.
const MOST_NAMED: usize = 4;

/// A string whose heaters stay within the limit at the nominal supply and pass it at an end of its tolerance.
fn at_supply_ends(before: &Verdict, after: &Verdict, string: usize) -> Option<Reason> {
    let furthest = |verdict: &Verdict, ends: bool| {
        let readings = verdict.heaters.readings.iter();
        let own = readings.filter(|reading| reading.string == string);
        own.filter_map(|reading| {
            let (low, high) = reading.reach?.supply;
            let off = |volts: f64| (volts / reading.rated_volts - 1.0).abs();
            Some(if ends {
                off(low).max(off(high))
            } else {
                off(reading.across())
            })
        })
        .fold(0.0, f64::max)
    };
    let limit = LIMIT_SHARE + SAME_SHARE;
    let passes = furthest(after, false) <= limit && furthest(before, true) <= limit;
    let ends = furthest(after, true);
    (passes && limit < ends).then(|| Reason {
        severity: Severity::Fault,
        text: format!(
            "At an end of the supply's tolerance a heater of its string stands {:.1} % off its rating; 10 % is the limit.",
            100.0 * ends
        ),
    })
}

fn no_place(misfit: &Misfit, new: &TubeType) -> Reason {
    let text = match misfit {
        Misfit::Halves => format!(
            "Both halves of the tube are used, and a {} is a single tube.",
            new.name
        ),
        Misfit::Electrodes(has, wants) => format!(
            "Its circuits have nets for {}, and a {} wants {}.",
            has.join(", "),
            new.name,
            wants.join(", ")
        ),
    };
    Reason {
        severity: Severity::Fault,
        text: format!("{text} Levels are not worked out."),
    }
}

/// A new finding as a reason; those on the volts of the string are said already where its heaters are off.
fn of_finding(finding: &Finding, heaters_off: bool) -> Option<Reason> {
    const SAID: [&str; 4] = [
        "heater-volts",
        "heater-unlike",
        "heater-tap",
        "heater-supply",
    ];
    if heaters_off && SAID.contains(&finding.name) || finding.severity == Severity::Note {
        return None;
    }
    let numbers = match (&finding.has, &finding.needs) {
        (Some(has), Some(needs)) => format!(
            " ({} {}, {} {})",
            has.what,
            has.shown(),
            needs.what,
            needs.shown()
        ),
        _ => String::new(),
    };
    Some(Reason {
        severity: finding.severity,
        text: format!("New: {}, {}{numbers}.", finding.name, finding.subject),
    })
}
