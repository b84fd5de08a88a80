//! What would let a heater stand in a string that is not meant for it; each proposal is solved before it is made.

use super::{beyond, device, law, standing};
use crate::heaters::chain::{Branch, Chain, Kind};
use crate::heaters::{between_supplies, rating};
use crate::parts::ResistorRange;
use crate::planning::{AIM_SHARE, TOLERANCE, nearest_value, usual_rating};
use crate::verdict::Verdict;
use design::model::{HeaterString, SocketId};
use text::quantity::{Unit, show};

/// Currents nearer than this are alike: chosen, as in grouping.
const SAME_SHARE: f64 = 0.01;

/// A string as it would be after the exchange.
struct Place<'a> {
    string: &'a HeaterString,
    chain: Chain,
    volts: f64,
    link: usize,
    branch: usize,
    mark: &'a str,
}

/// Sentences on what would mend the heater in its place, and on places that suit it.
pub(super) fn mends(
    before: &Verdict,
    after: &Verdict,
    socket: SocketId,
    resistors: &ResistorRange,
) -> Vec<String> {
    let Some((index, link, tapped)) = standing(after, socket) else {
        return Vec::new();
    };
    let design = after.plan.design;
    let string = &design.strings[index];
    let assumptions = &after.heaters.assumptions;
    let cold_share = 1.0 / assumptions.hot_over_cold[1];
    let (old, new) = (device(before, socket), device(after, socket));
    let mut mends = Vec::new();
    if let (Some((chain, [_, volts, _])), Some(was), Some(is)) = (
        between_supplies(&after.plan, string, assumptions),
        law(old, tapped, cold_share),
        law(new, tapped, cold_share),
    ) {
        let own = |branch: &design::model::Branch| matches!(branch, design::model::Branch::Heater { socket: other, .. } if *other == socket);
        let place = Place {
            string,
            chain,
            volts,
            link,
            branch: string.links[link]
                .branches
                .iter()
                .position(own)
                .unwrap_or(0),
            mark: &design.sockets[socket.0].mark,
        };
        if is.amps * (1.0 + SAME_SHARE) < was.amps {
            let ohms = is.volts / (was.amps - is.amps);
            mends.extend(place.shunted(ohms, resistors));
        } else if was.amps * (1.0 + SAME_SHARE) < is.amps {
            mends.extend(place.others_shunted(is.amps - was.amps));
        }
    }
    mends.extend(rewired(after, socket, (index, link, tapped)));
    mends.extend(suited(after, socket, index));
    mends
}

/// The other wiring of the new heater, where it brings the string within the aim.
fn rewired(
    after: &Verdict,
    socket: SocketId,
    (index, link, tapped): (usize, usize, bool),
) -> Option<String> {
    let design = after.plan.design;
    let (rated_volts, rated_amps) =
        rating(design.sockets[socket.0].device.heater.as_ref()?, !tapped)?;
    let mut string = design.strings[index].clone();
    for branch in &mut string.links[link].branches {
        if let design::model::Branch::Heater {
            socket: own,
            tapped,
        } = branch
            && *own == socket
        {
            *tapped = !*tapped;
        }
    }
    let (chain, [_, volts, _]) =
        between_supplies(&after.plan, &string, &after.heaters.assumptions)?;
    let (furthest, at) = furthest(&chain, volts, link);
    let mark = &design.sockets[socket.0].mark;
    (furthest <= AIM_SHARE).then(|| {
        let (way, write) = if tapped {
            ("end to end", mark.clone())
        } else {
            ("both ends against its tap", format!("{mark} tapped"))
        };
        format!(
            "Wired {way} ({} at {}; write `{write}`) it stands at {}, and no heater of the string further than {:.1} % from its rating.",
            show(rated_volts, Unit::Volt, 3),
            show(rated_amps, Unit::Ampere, 3),
            show(at, Unit::Volt, 3),
            100.0 * furthest
        )
    })
}

/// The furthest that a heater of a string stands from its rating, a share, and the volts across one link.
fn furthest(chain: &Chain, volts: f64, link: usize) -> (f64, f64) {
    let rest = chain.at_rest(volts);
    let mut furthest: f64 = 0.0;
    for (parts, volts) in chain.links.iter().zip(&rest.link_volts) {
        for part in parts {
            if let Kind::Heater { law, .. } = part.kind {
                furthest = furthest.max((volts.abs() / law.volts - 1.0).abs());
            }
        }
    }
    (furthest, rest.link_volts[link].abs())
}

impl Place<'_> {
    /// The string with a resistor beside these links.
    fn with_shunts(&self, links: &[usize], ohms: impl Fn(usize) -> f64) -> Chain {
        let mut chain = self.chain.clone();
        for &link in links {
            chain.links[link].push(Branch {
                kind: Kind::Resistor(ohms(link)),
                spread: TOLERANCE,
            });
        }
        chain
    }

    /// A shunt beside the new heater, which takes less than its place.
    fn shunted(&self, ohms: f64, resistors: &ResistorRange) -> Option<String> {
        let bought = nearest_value(ohms);
        let (furthest, at) = furthest(
            &self.with_shunts(&[self.link], |_| bought),
            self.volts,
            self.link,
        );
        let rated = self.heater_volts()?;
        (furthest <= AIM_SHARE).then(|| {
            format!(
                "A shunt beside {} of {}, which takes {}, makes up the current; with {} rated {}, as can be bought, it stands at {} ({}), and no heater of the string further than {:.1} % from its rating.",
                self.mark,
                show(ohms, Unit::Ohm, 3),
                show(rated * rated / ohms, Unit::Watt, 3),
                show(bought, Unit::Ohm, 3),
                show(usual_rating(bought, rated, resistors), Unit::Watt, 3),
                show(at, Unit::Volt, 3),
                beyond(at / rated - 1.0),
                100.0 * furthest
            )
        })
    }

    fn heater_volts(&self) -> Option<f64> {
        match self.chain.links[self.link][self.branch].kind {
            Kind::Heater { law, .. } => Some(law.volts),
            _ => None,
        }
    }

    /// Shunts beside all other heaters, because the new one takes more than its place.
    fn others_shunted(&self, lacking: f64) -> Option<String> {
        let rated = |link: usize| {
            self.chain.links[link]
                .iter()
                .find_map(|part| match part.kind {
                    Kind::Heater { law, .. } => Some(law.volts),
                    _ => None,
                })
        };
        let links: Vec<usize> = (0..self.chain.links.len())
            .filter(|&link| link != self.link && rated(link).is_some())
            .collect();
        let volts = rated(*links.first()?)?;
        let ohms = |link: usize| nearest_value(rated(link).unwrap_or(volts) / lacking);
        let (furthest, at) = furthest(&self.with_shunts(&links, ohms), self.volts, self.link);
        let watts: f64 = links
            .iter()
            .filter_map(|&link| Some(rated(link)?.powi(2) / ohms(link)))
            .sum();
        (furthest <= AIM_SHARE).then(|| {
            format!(
                "A shunt beside each other heater of string {}, {} beside one of {}, lets its current through: they take {} together, it stands at {}, and no heater further than {:.1} % from its rating.",
                self.string.name,
                show(ohms(links[0]), Unit::Ohm, 3),
                show(volts, Unit::Volt, 3),
                show(watts, Unit::Watt, 3),
                show(at, Unit::Volt, 3),
                100.0 * furthest
            )
        })
    }
}

/// Other strings with a heater of the same volts and current as the new one has end to end.
fn suited(after: &Verdict, socket: SocketId, own: usize) -> Option<String> {
    let design = after.plan.design;
    let heater = device(after, socket).heater.as_ref()?;
    let (volts, amps) = (heater.volts.value, heater.amps.value);
    let like = |one: &&crate::heaters::HeaterReading| {
        one.string != own
            && (one.rated_volts / volts - 1.0).abs() < SAME_SHARE
            && (one.rated_amps / amps - 1.0).abs() < SAME_SHARE
    };
    let mut names: Vec<&str> = after
        .heaters
        .readings
        .iter()
        .filter(like)
        .map(|one| design.strings[one.string].name.as_str())
        .collect();
    names.dedup();
    (!names.is_empty()).then(|| {
        format!(
            "Places of {} and {} are in {}.",
            show(volts, Unit::Volt, 3),
            show(amps, Unit::Ampere, 3),
            names.join(", ")
        )
    })
}
