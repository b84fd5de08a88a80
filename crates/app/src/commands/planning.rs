//! Planning heaters: tubes grouped into strings, and another type in a socket.

use super::asking::{answer, find};
use super::{judged, measure, read_design, say, usable};
use crate::Ending;
use crate::cli::Speech;
use crate::defaults::{CONTEXT, RESISTORS, SUPPLY_TOLERANCE};
use design::model::{Design, Rail, SocketId, Terminal};
use devices::library::Library;
use devices::types::TubeType;
use network::finding::Finding;
use network::planning::{Candidate, Grouping, Supply, candidates, group as grouped, with_strings};
use network::verdict::Verdict;
use report::planned::Proposal;
use std::path::Path;
use std::sync::Arc;
use text::diagnostic::Severity;
use text::quantity::{self, Unit};
use text::source::SourceMap;

/// More tubes are no machine built at home: chosen.
const MOST_TUBES: usize = 5000;

/// What is asked of a lot of tubes without a machine.
pub struct Lot<'a> {
    /// Words such as `12AU7 x 8, 6922 x 4`.
    pub words: &'a [String],
    /// Volts of the supply.
    pub supply: Option<&'a str>,
    /// Its tolerance.
    pub within: Option<&'a str>,
}

/// Strings for all tubes of a design from one of its rails.
pub fn group_design(from: Option<&str>, path: &Path, speech: &Speech) -> Result<Ending, String> {
    answer(path, speech, |design, sources| {
        let rail = rail(design, from)?;
        let (tubes, sockets) = candidates(design);
        let supply = Supply {
            volts: rail.volts.abs(),
            tolerance: rail.tolerance,
        };
        let back = rail.stands_on.map(|foot| &design.rails[foot.0]);
        let unknown = design
            .sockets
            .iter()
            .filter(|socket| socket.device.heater.is_none());
        let types = sockets
            .iter()
            .map(|socket| design.sockets[socket.0].device.name.clone());
        let proposal = Proposal {
            grouping: grouped(&tubes, supply, &RESISTORS, &CONTEXT.assumptions.heaters),
            types: types.collect(),
            groups: Proposal::boards(design),
            supply,
            from: rail.name.clone(),
            to: back.map_or("ground", |foot| &foot.name).to_owned(),
            unknown: unknown
                .map(|socket| format!("{} ({})", socket.mark, socket.device.name))
                .collect(),
            tubes,
        };
        within_limit(rail, &proposal.grouping)?;
        let to = back.map_or(Design::GROUND, |foot| foot.net);
        let ends = (Terminal::Net(rail.net), Terminal::Net(to));
        let wired = with_strings(design, &proposal.grouping, &sockets, ends, rail.span);
        let findings = with_new_strings(&judged(design), &judged(&wired), rail);
        Ok(told(&proposal, Some((&findings, sources)), speech))
    })
}

/// What a check finds with new strings: all on heaters and on their rail, and what it did not find before.
fn with_new_strings(before: &Verdict, after: &Verdict, rail: &Rail) -> Vec<Finding> {
    let same =
        |one: &Finding, other: &Finding| one.name == other.name && one.subject == other.subject;
    let among = |list: &[Finding], one: &Finding| list.iter().any(|other| same(one, other));
    let on_heaters = &after.heaters.findings;
    let others = after.findings.iter().filter(|finding| {
        !among(on_heaters, finding)
            && (finding.span == rail.span || !among(&before.findings, finding))
    });
    on_heaters.iter().chain(others).cloned().collect()
}

/// Refuses strings that take more than their rail may give.
fn within_limit(rail: &Rail, grouping: &Grouping) -> Result<(), String> {
    match rail.limit_amps {
        Some(limit) if limit < grouping.amps() => Err(format!(
            "strings for all tubes would take {} warm from {}, and its limit is {}: name another rail with --from, or type the limit of a larger supply",
            quantity::show(grouping.amps(), Unit::Ampere, 3),
            rail.name,
            quantity::show(limit, Unit::Ampere, 3),
        )),
        _ => Ok(()),
    }
}

/// Strings for a lot of tubes by type and count; types of a design count as well.
pub fn group_lot(lot: &Lot, path: Option<&Path>, speech: &Speech) -> Result<Ending, String> {
    let library = match path {
        Some(path) => read_design(path)?.library,
        None => Library::shipped(),
    };
    let volts = lot
        .supply
        .filter(|volts| !volts.is_empty())
        .ok_or("say what the supply gives, such as --supply 25.2V")?;
    let supply = Supply {
        volts: measure(volts, Unit::Volt)
            .filter(|volts| 0.0 < *volts)
            .ok_or_else(|| format!("{volts} is not the volts of a supply; type it like 25.2V"))?,
        tolerance: match lot.within {
            Some("") => {
                return Err("say how closely the supply holds, such as --within 5%".to_owned());
            }
            Some(word) => measure(word, Unit::Percent)
                .filter(|share| (0.0..1.0).contains(share))
                .ok_or_else(|| {
                    format!("{word} is not the tolerance of a supply; type it like 5%")
                })?,
            None => SUPPLY_TOLERANCE,
        },
    };
    let mut proposal = Proposal {
        grouping: Grouping::default(),
        tubes: Vec::new(),
        types: Vec::new(),
        groups: Vec::new(),
        supply,
        from: "heat".to_owned(),
        to: "ground".to_owned(),
        unknown: Vec::new(),
    };
    for part in lot
        .words
        .join(" ")
        .split(',')
        .filter(|part| !part.trim().is_empty())
    {
        let (device, count) = tubes_of(part, &library)?;
        if MOST_TUBES < proposal.tubes.len() + count {
            return Err(format!(
                "{part}: more than {MOST_TUBES} tubes are not planned at once"
            ));
        }
        for _ in 0..count {
            let mark = format!("V{}", proposal.tubes.len() + 1);
            let Some(candidate) = Candidate::new(&mark, device, 0) else {
                proposal.unknown.push(device.name.clone());
                break;
            };
            proposal.tubes.push(candidate);
            proposal.types.push(device.name.clone());
        }
    }
    proposal.grouping = grouped(
        &proposal.tubes,
        supply,
        &RESISTORS,
        &CONTEXT.assumptions.heaters,
    );
    Ok(told(&proposal, None, speech))
}

/// `12AU7 x 8`, or `12AU7` for one.
fn tubes_of<'a>(part: &str, library: &'a Library) -> Result<(&'a TubeType, usize), String> {
    let words: Vec<&str> = part.split_whitespace().collect();
    let (name, count) = match words[..] {
        [name] => (name, 1),
        [name, "x", count] => match count.parse() {
            Ok(count) if 0 < count => (name, count),
            _ => {
                return Err(format!(
                    "{count} is no number of tubes, in `{}`; type one from 1 on, such as 6922 x 4",
                    part.trim()
                ));
            }
        },
        _ => {
            return Err(format!(
                "`{}` is not understood; type tubes like `12AU7 x 8, 6922 x 4`",
                part.trim()
            ));
        }
    };
    Ok((tube_type(name, library)?, count))
}

/// A tube type by its name, or a message with the nearest.
fn tube_type<'a>(name: &str, library: &'a Library) -> Result<&'a Arc<TubeType>, String> {
    let known = library.tube(name);
    known.ok_or_else(|| super::types::no_sheet(name, library))
}

/// The rail that is named, or the only one that strings begin on.
fn rail<'a>(design: &'a Design, from: Option<&str>) -> Result<&'a Rail, String> {
    let names = design.rails.iter().map(|rail| rail.name.as_str());
    if let Some(name) = from {
        return Ok(&design.rails[find("rail", name, names)?]);
    }
    let begun: Vec<&Rail> = design
        .rails
        .iter()
        .filter(|rail| {
            design
                .strings
                .iter()
                .any(|string| string.from == Terminal::Net(rail.net))
        })
        .collect();
    match begun[..] {
        [rail] => Ok(rail),
        _ => Err(format!(
            "say which rail heats, such as --from heat; rails: {}",
            names.collect::<Vec<_>>().join(", ")
        )),
    }
}

/// Says the proposal, and how the command ends.
fn told(
    proposal: &Proposal,
    findings: Option<(&[Finding], &SourceMap)>,
    speech: &Speech,
) -> Ending {
    say(
        speech,
        |terminal| report::terminal::group(proposal, findings, terminal),
        || report::record::group(proposal, findings),
    );
    let grouping = &proposal.grouping;
    let beyond = grouping
        .strings
        .iter()
        .any(|string| string.severity() == Severity::Fault);
    let cold = !grouping.left_out.is_empty() || !proposal.unknown.is_empty();
    let faults = findings.is_some_and(|(list, _)| {
        list.iter()
            .any(|finding| finding.severity == Severity::Fault)
    });
    if beyond || cold || faults {
        Ending::Fault
    } else {
        Ending::Well
    }
}

/// What another type in one socket of a design does; nothing is written.
pub fn swap(tube: &str, name: &str, path: &Path, speech: &Speech) -> Result<Ending, String> {
    let reading = read_design(path)?;
    let design = match usable(&reading, speech) {
        Ok(design) => design,
        Err(ending) => return Ok(ending),
    };
    let marks = design.sockets.iter().map(|socket| socket.mark.as_str());
    let socket = SocketId(find("tube", tube, marks)?);
    let device = tube_type(name, &reading.library)?;
    let placed = design.with_type_in_socket(socket, device);
    let misfit = placed.as_ref().err().cloned();
    let other = placed.unwrap_or_else(|_| {
        let mut only_heated = design.clone();
        only_heated.sockets[socket.0].device = device.clone();
        only_heated
    });
    let (before, after) = (judged(design), judged(&other));
    let swap = network::substitution::swap(&before, &after, misfit.as_ref(), socket, &RESISTORS);
    say(
        speech,
        |terminal| report::terminal::swap(&swap, &reading.sources, terminal),
        || report::record::swap(&swap, &reading.sources),
    );
    Ok(if swap.fit == Severity::Fault {
        Ending::Fault
    } else {
        Ending::Well
    })
}
