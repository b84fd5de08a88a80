//! What the volts of a string mean.

use super::{HeaterReading, StringReading, rating, ways};
use crate::finding::{Amount, Finding};
use crate::plan::Plan;
use crate::planning::nearest_value;
use design::model::{Branch, Design, HeaterString, Link, NetKind, SocketId, Terminal};
use devices::copper;
use devices::types::Heater;
use text::diagnostic::Severity;
use text::quantity::{Unit, show};

/// 10 % off the rating has no serious effect, 7 % is what fluctuation should stay within: Radio Constructor, April 1962.
pub(crate) const LIMIT_SHARE: f64 = 0.10;
pub(crate) const FLUCTUATION_SHARE: f64 = 0.07;
/// The usual aim is 5 % (common practice, no source), with a little room for E24 droppers.
const AIM_SHARE: f64 = 0.055;
/// What a heater may pass its rating by while a string warms up: Mullard Outlook, February 1963.
const PASSING_SHARE: f64 = 0.5;
/// Currents nearer than this are alike: chosen, by the running law it moves a heater's volts by the 5 % aimed at.
const ALIKE_SHARE: f64 = 0.03;
/// Below this share of its rated volts a heater behind a thermistor is called cold: chosen.
const COLD_SHARE: f64 = 0.5;
/// Rounding in a comparison with a limit that the numbers may just reach.
const ROUNDING: f64 = 1e-9;

/// Findings on one string: on its ends, else the cause of heaters off their rating with what follows from it, else what its
/// spread and its warming up can do.
pub(super) fn string(
    plan: &Plan,
    string: &HeaterString,
    reading: &StringReading,
    readings: &[HeaterReading],
) -> Vec<Finding> {
    let subject = format!("string {}", string.name);
    for (terminal, span, last) in [
        (string.from, string.from_span, false),
        (string.to, string.to_span, true),
    ] {
        let wrong = ways::wrong_way(plan, string, readings, &subject, terminal, span, last);
        if let Some(finding) = wrong {
            return vec![finding];
        }
    }
    if let Some(finding) = cold_thermistor(plan, string, reading, readings) {
        return vec![finding];
    }
    if !readings.is_empty() && readings.iter().all(|reading| reading.share() < 0.01) {
        return vec![
            Finding::fault("heater-way-missing", string.span, subject, cold_because(string, reading))
                .attempt("Take one end to the heater rail and the other to its return, with nothing between that takes the volts."),
        ];
    }
    let mut findings = match off(plan, string, reading, readings) {
        Some(finding) => vec![finding],
        None => Vec::from_iter(
            supply(plan, string, readings)
                .into_iter()
                .chain(passing(plan, readings)),
        ),
    };
    findings.extend(resistors(string, reading));
    if findings
        .iter()
        .all(|finding| finding.name != "ballast-current")
    {
        findings.extend(ballasts(string, reading));
    }
    findings
}

/// A thermistor that does not get hot, so that a heater stays below half its rated volts: at rest, when the string has been
/// followed as long as any is, or with the supply at its low end.
fn cold_thermistor(
    plan: &Plan,
    string: &HeaterString,
    reading: &StringReading,
    readings: &[HeaterReading],
) -> Option<Finding> {
    let (mark, law) = string
        .links
        .iter()
        .flat_map(|link| &link.branches)
        .find_map(|branch| match branch {
            Branch::Thermistor { mark, law, .. } => Some((mark, law)),
            _ => None,
        })?;
    let lowest = |volts: &dyn Fn(&HeaterReading) -> Option<f64>| {
        let all = readings
            .iter()
            .filter_map(|reading| Some((volts(reading)?.abs(), reading.rated_volts)));
        all.filter(|(volts, rated)| *volts < COLD_SHARE * rated)
            .min_by(|left, right| (left.0 / left.1).total_cmp(&(right.0 / right.1)))
    };
    let warm = reading.warm_up.as_ref();
    let end = warm.and_then(|warm| warm.seconds.last().copied());
    let in_the_end = |reading: &HeaterReading| warm?.link_volts[reading.link].last().copied();
    let at_low = |reading: &HeaterReading| Some(reading.reach?.supply.0);
    let (found, when) = if let Some(found) = lowest(&|reading| Some(reading.across())) {
        (found, "However long it is on".to_owned())
    } else if let (Some(found), Some(seconds)) = (lowest(&in_the_end), end) {
        (found, format!("After {seconds:.0} s"))
    } else {
        let low = format!(
            "With {} at the low end of its tolerance",
            supply_name(plan, string)
        );
        (lowest(&at_low)?, low)
    };
    let (volts, rated) = found;
    let cause = format!(
        "{mark} stays cold and holds the current back. {when} a heater of string {} stands at {:.1} % of its rating.",
        string.name,
        100.0 * volts / rated,
    );
    Some(
        Finding::fault("thermistor-cold", string.span, format!("string {}", string.name), cause)
            .numbers(
                Amount::new("heater volts then", volts, Unit::Volt),
                Amount::new("rated heater volts", rated, Unit::Volt),
            )
            .attempt(format!(
                "Choose a thermistor with less resistance cold than the {} of {mark}, for the current of this string, or put more of the supply's volts across it.",
                show(law.cold_ohms, Unit::Ohm, 3)
            )),
    )
}

/// Why no heater of a string gets anything.
fn cold_because(string: &HeaterString, reading: &StringReading) -> String {
    if reading.across().abs() < 1e-3 {
        return "Both ends of the string stand at the same volts: no current flows.".to_owned();
    }
    let links = string.links.iter().enumerate();
    let taken = links.filter_map(|(index, link)| {
        Some((
            reading.link_volts(index)?.abs(),
            part_name(link.branches.first()?)?,
        ))
    });
    let most = taken.max_by(|left, right| left.0.total_cmp(&right.0));
    format!(
        "{} in the string takes nearly all of the {}: only {} flow.",
        most.map_or("What stands", |(_, name)| name),
        show(reading.across().abs(), Unit::Volt, 3),
        show(reading.amps.unwrap_or(f64::NAN).abs(), Unit::Ampere, 3)
    )
}

/// What a part of a string is called, unless it is a heater.
fn part_name(branch: &Branch) -> Option<&str> {
    match branch {
        Branch::Heater { .. } => None,
        Branch::Resistor { mark, .. }
        | Branch::Thermistor { mark, .. }
        | Branch::Ballast { mark, .. } => Some(mark),
        Branch::Conductor { on_board: true, .. } => Some("The copper"),
        Branch::Conductor { .. } => Some("The wire"),
    }
}

/// The cause of heaters off their rating with the supply at its nominal volts. One mistake moves every heater of a string:
/// they stand below it.
fn off(
    plan: &Plan,
    string: &HeaterString,
    reading: &StringReading,
    readings: &[HeaterReading],
) -> Option<Finding> {
    let design = plan.design;
    let mut all: Vec<(f64, &HeaterReading)> = readings
        .iter()
        .map(|reading| ((reading.share() - 1.0).abs(), reading))
        .filter(|(off, _)| AIM_SHARE < *off)
        .collect();
    // Heaters that are alike stay in their order: rounding must not shuffle them.
    all.sort_by_key(|(off, _)| std::cmp::Reverse((off / ROUNDING).round() as u64));
    let worst = all.first()?.1;
    let cause = tap(design, string, reading, readings)
        .or_else(|| unlike(design, string, reading, readings))
        .or_else(|| other_ballast(design, string, worst))
        .or_else(|| conductors(string, reading, worst));
    let below = all.iter().map(|(_, reading)| off_rating(design, reading));
    Some(match cause {
        Some((socket, cause)) => {
            let by_others = all
                .iter()
                .filter(|(_, reading)| Some(reading.socket) != socket);
            let consequences: Vec<Finding> = by_others
                .map(|(_, reading)| off_rating(design, reading))
                .collect();
            // As severe as the worst that it does.
            let severities = consequences.iter().map(|finding| finding.severity);
            Finding {
                severity: severities.fold(cause.severity, Severity::max),
                consequences,
                ..cause
            }
        }
        None => {
            let finding = off_rating(design, worst);
            let computed = rebalanced(design, string, reading);
            Finding {
                consequences: below.skip(1).collect(),
                tries: computed.map_or(finding.tries, |attempt| vec![attempt]),
                ..finding
            }
        }
    })
}

/// What would bring the heaters of a string to their rating where they want one current: a resistor in it, or fewer of them.
fn rebalanced(design: &Design, string: &HeaterString, reading: &StringReading) -> Option<String> {
    let wanted = wanted(design, string);
    let amps = usual(&wanted)?;
    let mut all = wanted.iter().flatten();
    if !all.all(|(own, _)| (own / amps - 1.0).abs() <= ALIKE_SHARE) {
        return None;
    }
    let rated: f64 = wanted.iter().flatten().map(|(_, volts)| volts).sum();
    let mut marks = Vec::new();
    let mut left = reading.across().abs() - rated;
    for branch in string
        .links
        .iter()
        .filter_map(|link| match &link.branches[..] {
            [branch] => Some(branch),
            _ => None,
        })
    {
        match branch {
            Branch::Heater { .. } => {}
            Branch::Resistor { mark, .. } => marks.push(mark.as_str()),
            Branch::Thermistor { hot_ohms, .. } => left -= amps * hot_ohms,
            Branch::Ballast { .. } => return None,
            Branch::Conductor { .. } => left -= amps * own_ohms(branch)?,
        }
    }
    if left <= 0.0 {
        return Some(format!(
            "The heaters want {} and the string gets {}: put fewer of them in it, or feed it from more volts.",
            show(rated, Unit::Volt, 3),
            show(reading.across().abs(), Unit::Volt, 3)
        ));
    }
    let (ohms, watts) = (
        show(nearest_value(left / amps), Unit::Ohm, 3),
        show(left * amps, Unit::Watt, 3),
    );
    Some(match marks[..] {
        [] => format!(
            "Put a resistor of {ohms} in the string; it takes {watts}, so buy one for twice that."
        ),
        [mark] => format!("Make {mark} {ohms}; it then takes {watts}, so buy one for twice that."),
        _ => format!(
            "Make {} {ohms} together; they then take {watts}.",
            marks.join(" and ")
        ),
    })
}

/// A ballast tube that holds another current than the heaters of its string want.
fn other_ballast(
    design: &Design,
    string: &HeaterString,
    worst: &HeaterReading,
) -> Option<(Option<SocketId>, Finding)> {
    let usual = usual(&wanted(design, string))?;
    let (span, mark, amps) = string
        .links
        .iter()
        .find_map(|link| match &link.branches[..] {
            [Branch::Ballast { mark, amps, .. }] => Some((link.span, mark, *amps)),
            _ => None,
        })?;
    if (amps / usual - 1.0).abs() <= ALIKE_SHARE {
        return None;
    }
    let (holds, wants) = (show(amps, Unit::Ampere, 3), show(usual, Unit::Ampere, 3));
    let cause = format!(
        "The ballast tube {mark} holds {holds}, and the heaters of string {} want {wants}: they stand {} their rating.",
        string.name,
        beyond(worst.share() - 1.0),
    );
    let finding = Finding::new(
        "ballast-current",
        severity(LIMIT_SHARE < (worst.share() - 1.0).abs()),
        span,
        format!("string {}", string.name),
        cause,
    )
    .numbers(
        Amount::new(format!("current that {mark} holds"), amps, Unit::Ampere),
        Amount::new("current that the heaters want", usual, Unit::Ampere),
    )
    .attempt(format!("Choose a ballast tube for {wants}."));
    Some((None, finding))
}

/// How far a heater gets from its rating, with the supply at its nominal volts or at an end of its tolerance: a share.
fn furthest(reading: &HeaterReading) -> f64 {
    let ends = reading.reach.map(|reach| [reach.supply.0, reach.supply.1]);
    let ends = ends.into_iter().flatten();
    ends.map(|volts| (volts / reading.rated_volts - 1.0).abs())
        .fold((reading.share() - 1.0).abs(), f64::max)
}

fn off_rating(design: &Design, reading: &HeaterReading) -> Finding {
    let off = reading.share() - 1.0;
    let mark = &design.sockets[reading.socket.0].mark;
    let cause = format!(
        "The heater of {mark} stands {} its rating: {}.",
        beyond(off),
        if off < 0.0 {
            "emission falls and the tube reads weak"
        } else {
            "its life shortens quickly"
        }
    );
    let severity = severity(LIMIT_SHARE + ROUNDING < furthest(reading));
    Finding::new("heater-volts", severity, reading.span, mark.clone(), cause)
        .numbers(
            Amount::new("heater volts", reading.across(), Unit::Volt),
            Amount::new("rated heater volts", reading.rated_volts, Unit::Volt),
        )
        .attempt("Put tubes of one heater current in a string, and as many as their volts add up to the supply; shunt or drop the rest.")
}

/// "7.6 % under", "33.3 % over".
fn beyond(share: f64) -> String {
    let side = if share < 0.0 { "under" } else { "over" };
    format!("{:.1} % {side}", 100.0 * share.abs())
}

fn severity(fault: bool) -> Severity {
    if fault {
        Severity::Fault
    } else {
        Severity::Caution
    }
}

/// The current that the links of a string want at their rated volts, and the rated volts of each; `None` for a link of
/// resistors alone.
fn wanted(design: &Design, string: &HeaterString) -> Vec<Option<(f64, f64)>> {
    let rated = |socket: SocketId, tapped| {
        let heater = design.sockets[socket.0].device.heater.as_ref()?;
        rating(heater, tapped)
    };
    let links = string.links.iter().map(|link| {
        let volts = link.branches.iter().find_map(|branch| match branch {
            Branch::Heater { socket, tapped } => Some(rated(*socket, *tapped)?.0),
            _ => None,
        })?;
        let amps = link.branches.iter().map(|branch| match branch {
            Branch::Heater { socket, tapped } => {
                rated(*socket, *tapped).map_or(0.0, |rated| rated.1)
            }
            other => own_ohms(other).map_or(0.0, |ohms| volts / ohms),
        });
        Some((amps.sum(), volts))
    });
    links.collect()
}

/// What most links of a string want, A: the middle one of all.
fn usual(wanted: &[Option<(f64, f64)>]) -> Option<f64> {
    let mut amps: Vec<f64> = wanted.iter().flatten().map(|link| link.0).collect();
    amps.sort_by(f64::total_cmp);
    amps.get((amps.len().max(1) - 1) / 2).copied()
}

/// A tapped heater wired the other way than its place asks for: by current in a row with others that want another, by
/// volts where it is alone or beside others.
fn tap(
    design: &Design,
    string: &HeaterString,
    reading: &StringReading,
    readings: &[HeaterReading],
) -> Option<(Option<SocketId>, Finding)> {
    let wanted = wanted(design, string);
    let usual = usual(&wanted)?;
    let mut all = wanted.iter().flatten();
    let alike = all.all(|(amps, _)| (amps / usual - 1.0).abs() <= ALIKE_SHARE);
    let off_supply =
        |change: f64| (asked_volts(string, &wanted, usual) + change - reading.across().abs()).abs();
    readings.iter().find_map(|reading| {
        let socket = &design.sockets[reading.socket.0];
        let heater: &Heater = socket.device.heater.as_ref()?;
        heater.tapped?;
        let (volts, amps) = rating(heater, !reading.tapped)?;
        let by_volts = string.links.len() == 1
            && (reading.across() / volts - 1.0).abs() < LIMIT_SHARE;
        // The other wiring must also bring the volts of the string nearer to its supply.
        let by_amps = !alike
            && (usual / amps - 1.0).abs() < LIMIT_SHARE
            && off_supply(volts - reading.rated_volts) < off_supply(0.0);
        if !by_volts && !by_amps || (reading.share() - 1.0).abs() < AIM_SHARE {
            return None;
        }
        let (wired, meant) = if reading.tapped {
            ("both ends together against the tap", "end to end")
        } else {
            ("end to end", "both ends together against the tap")
        };
        let cause = format!(
            "{} is wired {wired}, where its heater wants {} at {}; here it gets {}. Wired {meant} it wants {} at {}.",
            socket.mark,
            show(reading.rated_volts, Unit::Volt, 3),
            show(reading.rated_amps, Unit::Ampere, 3),
            show(reading.across(), Unit::Volt, 3),
            show(volts, Unit::Volt, 3),
            show(amps, Unit::Ampere, 3),
        );
        let attempt = if reading.tapped {
            format!("Take its two end pins apart and leave the tap free: write `{}`.", socket.mark)
        } else {
            format!("Join its two end pins and take the tap to the other side: write `{} tapped`.", socket.mark)
        };
        let finding = Finding::fault("heater-tap", reading.span, socket.mark.clone(), cause)
            .numbers(
                Amount::new("heater volts", reading.across(), Unit::Volt),
                Amount::new("rated heater volts", reading.rated_volts, Unit::Volt),
            )
            .attempt(attempt);
        Some((Some(reading.socket), finding))
    })
}

/// The volts that a string asks for: the rated ones of its heaters, and what its resistors and conductors take of the
/// current that most of it wants.
fn asked_volts(string: &HeaterString, wanted: &[Option<(f64, f64)>], usual: f64) -> f64 {
    let links = string.links.iter().zip(wanted);
    links
        .map(|(link, wanted)| wanted.map_or(usual * in_series_ohms(link), |(_, volts)| volts))
        .sum()
}

/// The resistance of a link without heaters, ohm; 0 for a thermistor and a ballast tube, which find their own.
fn in_series_ohms(link: &Link) -> f64 {
    let siemens: f64 = link
        .branches
        .iter()
        .filter_map(own_ohms)
        .map(|ohms| 1.0 / ohms)
        .sum();
    if siemens > 0.0 { 1.0 / siemens } else { 0.0 }
}

fn own_ohms(branch: &Branch) -> Option<f64> {
    match branch {
        Branch::Resistor { ohms, .. } => Some(*ohms),
        Branch::Conductor {
            metres,
            square_metres,
            ..
        } => Some(copper::ohms(*metres, *square_metres)),
        _ => None,
    }
}

/// The heater whose link wants another current than most of its string, where the volts of the string fit its supply: else
/// the count is wrong, whatever is unlike.
fn unlike(
    design: &Design,
    string: &HeaterString,
    reading: &StringReading,
    readings: &[HeaterReading],
) -> Option<(Option<SocketId>, Finding)> {
    let wanted = wanted(design, string);
    let usual = usual(&wanted)?;
    if AIM_SHARE < (asked_volts(string, &wanted, usual) / reading.across().abs() - 1.0).abs() {
        return None;
    }
    let off = |amps: f64| (amps / usual - 1.0).abs();
    let (link, (amps, volts)) = wanted
        .iter()
        .enumerate()
        .filter_map(|(link, wanted)| Some((link, (*wanted)?)))
        .filter(|(_, (amps, _))| ALIKE_SHARE < off(*amps))
        .max_by(|left, right| off(left.1.0).total_cmp(&off(right.1.0)))?;
    let reading = readings.iter().find(|reading| reading.link == link)?;
    let socket = &design.sockets[reading.socket.0];
    let shunt = string.links[link]
        .branches
        .iter()
        .find_map(|branch| match branch {
            Branch::Resistor { mark, ohms, .. } => Some((mark, volts / ohms)),
            _ => None,
        });
    let with = shunt.map_or_else(String::new, |(mark, _)| format!(" with {mark} beside it"));
    let heater_of = |reading: &HeaterReading| {
        let socket = &design.sockets[reading.socket.0];
        format!("{} ({})", socket.mark, socket.device.name)
    };
    let mut others = readings.iter().filter(|other| other.link != link);
    let others = match (others.next(), others.next()) {
        (Some(other), None) => format!("{} in string {} wants", heater_of(other), string.name),
        _ => format!("the others of string {} want", string.name),
    };
    let cause = format!(
        "{}{with} wants {} where {others} {}: one current flows through all, and it stands {} its rated volts.",
        heater_of(reading),
        show(amps, Unit::Ampere, 3),
        show(usual, Unit::Ampere, 3),
        beyond(reading.share() - 1.0),
    );
    // What a shunt must pass, the one that is there taken out.
    let missing = usual - amps + shunt.map_or(0.0, |(_, passed)| passed);
    let attempt = if 0.0 < missing {
        let (ohms, watts) = (
            show(volts / missing, Unit::Ohm, 3),
            show(volts * missing, Unit::Watt, 3),
        );
        match shunt {
            Some((mark, _)) => format!("Make {mark} {ohms}; it then takes {watts}."),
            None => format!(
                "Put a type of the others' current in its place, or a shunt of {ohms} beside it, which takes {watts}."
            ),
        }
    } else {
        "Put a type of the others' current in its place, or a shunt beside each of the others."
            .to_owned()
    };
    let finding = Finding::new(
        "heater-unlike",
        severity(LIMIT_SHARE < (reading.share() - 1.0).abs()),
        reading.span,
        socket.mark.clone(),
        cause,
    )
    .numbers(
        Amount::new("heater volts", reading.across(), Unit::Volt),
        Amount::new("rated heater volts", reading.rated_volts, Unit::Volt),
    )
    .attempt(attempt);
    Some((Some(reading.socket), finding))
}

/// Wire and copper that take what the heaters lack: without them the one that is furthest off would stand at its rating.
fn conductors(
    string: &HeaterString,
    reading: &StringReading,
    worst: &HeaterReading,
) -> Option<(Option<SocketId>, Finding)> {
    let links = string.links.iter().enumerate();
    let lost = links.filter_map(|(index, link)| match link.branches[..] {
        [Branch::Conductor { .. }] => Some((link, reading.link_volts(index)?.abs())),
        _ => None,
    });
    let lost: Vec<(&Link, f64)> = lost.collect();
    let volts: f64 = lost.iter().map(|(_, volts)| volts).sum();
    let left = reading.across().abs() - volts;
    let without = worst.share() * reading.across().abs() / left;
    if volts <= 0.0 || AIM_SHARE < (without - 1.0).abs() {
        return None;
    }
    let (longest, _) = lost.iter().max_by(|one, other| one.1.total_cmp(&other.1))?;
    let cause = format!(
        "Its wires and copper take {} of the {} that the string gets, so its heaters stand {} their rating.",
        show(volts, Unit::Volt, 3),
        show(reading.across().abs(), Unit::Volt, 3),
        beyond(worst.share() - 1.0),
    );
    let finding = Finding::new(
        "heater-wire",
        severity(LIMIT_SHARE < (worst.share() - 1.0).abs()),
        longest.span,
        format!("string {}", string.name),
        cause,
    )
    .numbers(
        Amount::new("volts that its wires take", volts, Unit::Volt),
        Amount::new("where heaters stay within 5.5 %", AIM_SHARE * reading.across().abs(), Unit::Volt),
    )
    .attempt("Use thicker wire or wider copper, or go a shorter way: a tenth of a volt to the furthest tube is enough to lose.");
    Some((None, finding))
}

/// What the tolerance of the supply alone does, to the heater that it takes furthest off.
fn supply(plan: &Plan, string: &HeaterString, readings: &[HeaterReading]) -> Option<Finding> {
    let ends = readings.iter().filter_map(|reading| {
        let (low, high) = reading.reach?.supply;
        let off = |volts: f64| (volts / reading.rated_volts - 1.0).abs();
        let volts = if off(high) < off(low) { low } else { high };
        Some((off(volts), volts, reading))
    });
    let (off, volts, reading) = ends.max_by(|left, right| left.0.total_cmp(&right.0))?;
    if off <= FLUCTUATION_SHARE + ROUNDING {
        return None;
    }
    let mark = &plan.design.sockets[reading.socket.0].mark;
    let low = volts < reading.rated_volts;
    let cause = format!(
        "With {} at the {} end of its tolerance the heater of {mark} stands {} its rating; it should fluctuate by no more than 7 %, and beyond 10 % other ratings shrink.",
        supply_name(plan, string),
        if low { "low" } else { "high" },
        beyond(volts / reading.rated_volts - 1.0),
    );
    Some(
        Finding::new(
            "heater-supply",
            severity(LIMIT_SHARE + ROUNDING < off),
            reading.span,
            format!("string {}", string.name),
            cause,
        )
        .numbers(
            Amount::new("heater volts then", volts, Unit::Volt),
            Amount::new("rated heater volts", reading.rated_volts, Unit::Volt),
        )
        .attempt("Set the supply so that the heaters stand at their rating, or use one with a closer tolerance."),
    )
}

/// The rail that a string begins on, or ends on.
fn supply_name(plan: &Plan, string: &HeaterString) -> String {
    let rail = [string.from, string.to].into_iter().find_map(|terminal| {
        let Terminal::Net(net) = terminal else {
            return None;
        };
        let net = &plan.nets[net.0];
        matches!(net.kind, NetKind::Rail(_)).then(|| format!("the rail {}", net.name))
    });
    rail.unwrap_or_else(|| "the supply".to_owned())
}

/// The heater that passes its rating furthest while its string warms up.
fn passing(plan: &Plan, readings: &[HeaterReading]) -> Option<Finding> {
    let all = readings.iter().filter_map(|reading| {
        let (volts, seconds) = reading.reach?.passing?;
        Some((volts / reading.rated_volts - 1.0, volts, seconds, reading))
    });
    let (over, volts, seconds, reading) = all.max_by(|left, right| left.0.total_cmp(&right.0))?;
    if over <= PASSING_SHARE {
        return None;
    }
    let mark = &plan.design.sockets[reading.socket.0].mark;
    let cause = format!(
        "The heater of {mark} warms up before the others of its string and passes its rating by {:.0} % after {seconds:.0} s; television practice accepted 50 %.",
        100.0 * over
    );
    Some(
        Finding::caution("heater-warm-up", reading.span, mark.clone(), cause)
            .numbers(
                Amount::new("highest heater volts", volts, Unit::Volt),
                Amount::new("accepted in passing", (1.0 + PASSING_SHARE) * reading.rated_volts, Unit::Volt),
            )
            .attempt("Put tubes that warm up alike in one string, or bring the supply up over some twenty seconds."),
    )
}

/// Resistors of a string that take more than their rating, with the supply at its nominal volts.
fn resistors(string: &HeaterString, reading: &StringReading) -> Vec<Finding> {
    let mut findings = Vec::new();
    for (index, link) in string.links.iter().enumerate() {
        for branch in &link.branches {
            let Branch::Resistor {
                mark,
                ohms,
                watts: Some(rated),
                ..
            } = branch
            else {
                continue;
            };
            let volts = reading.link_volts(index).unwrap_or(0.0);
            let watts = volts * volts / ohms;
            if watts <= *rated {
                continue;
            }
            let cause = format!(
                "{mark} of string {} takes more than its rated power.",
                string.name
            );
            findings.push(
                Finding::fault(
                    "resistor-watts",
                    link.span,
                    format!("string {}", string.name),
                    cause,
                )
                .numbers(
                    Amount::new("dissipation", watts, Unit::Watt),
                    Amount::new("rated power", *rated, Unit::Watt),
                )
                .attempt("Use a larger one, rated for twice what it takes."),
            );
        }
    }
    findings
}

/// Ballast tubes that get other volts than those between which they hold.
fn ballasts(string: &HeaterString, reading: &StringReading) -> Vec<Finding> {
    let links = string.links.iter().enumerate();
    let all = links.filter_map(|(index, link)| {
        let [Branch::Ballast { mark, volts, .. }] = &link.branches[..] else {
            return None;
        };
        let across = reading.link_volts(index)?.abs();
        let (limit, what, side) = if across < volts.0 {
            (volts.0, "lowest volts that it holds at", "below")
        } else if volts.1 < across {
            (volts.1, "highest volts that it holds at", "above")
        } else {
            return None;
        };
        let cause = format!(
            "The ballast tube {mark} gets volts {side} those between which it holds the current of string {}: it lets the supply through.",
            string.name
        );
        let finding = Finding::caution(
            "ballast-range",
            link.span,
            format!("string {}", string.name),
            cause,
        )
        .numbers(
            Amount::new("volts across it", across, Unit::Volt),
            Amount::new(what, limit, Unit::Volt),
        )
        .attempt("Choose a ballast tube whose volts, with those of the heaters, make up the supply, or put a resistor in the string.");
        Some(finding)
    });
    all.collect()
}

/// Tubes with a heater that no string feeds.
pub(super) fn unfed(design: &Design) -> Vec<Finding> {
    let fed: Vec<SocketId> = design
        .strings
        .iter()
        .flat_map(HeaterString::heaters)
        .map(|heater| heater.0)
        .collect();
    (0..design.sockets.len())
        .map(SocketId)
        .filter(|socket| !fed.contains(socket) && design.sockets[socket.0].device.heater.is_some())
        .map(|socket| {
            let socket = &design.sockets[socket.0];
            Finding::fault(
                "heater-unfed",
                socket.span,
                socket.mark.clone(),
                format!("{} is in no heater string: it stays cold.", socket.mark),
            )
            .attempt("Add it to a string, or type a string for it.")
        })
        .collect()
}
