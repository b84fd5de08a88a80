//! The heaters: does every one get its volts, by the right way, at every end of what may spread, and while it warms up?
//!
//! A string between two supplies is a [`chain`]; one that ends on a net of the machine is solved together with the units on
//! that net (`ways`). A heater follows the law of [`devices::heater`].

use crate::finding::Finding;
use crate::judge::{Context, Levels, MemberResult};
use crate::plan::{MemberIndex, Plan};
use chain::{Chain, Kind};
use design::model::{
    Branch, Design, HeaterString, Link, NetKind, Rail, RailId, SocketId, Terminal,
};
use devices::ballast::BallastLaw;
use devices::copper;
use devices::heater::{HeaterLaw, thermal_seconds};
use devices::types::Heater;
use std::collections::BTreeMap;
use std::sync::Arc;
use text::source::Span;
use warming::{WarmUp, warm_up};

pub mod cathode;
pub mod chain;
mod judged;
pub(crate) mod supplies;
pub mod warming;
mod ways;

pub(crate) use judged::{FLUCTUATION_SHARE, LIMIT_SHARE};

/// What is assumed of heaters where neither type nor text says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeaterAssumptions {
    /// How far the current of one heater may be from its rating: a share, either way.
    pub spread: f64,
    /// Hot resistance over cold: least, usual, most.
    pub hot_over_cold: [f64; 3],
    /// Seconds in the test of controlled warm-up, see [`devices::heater`].
    pub warm_up_seconds: f64,
    /// How much quicker one heater may warm up than it should, and another slower: a share.
    pub warm_up_spread: f64,
}

impl HeaterAssumptions {
    /// 8.3 %: the 550 to 650 mA for 600 that a present-day maker allows the 6SN7, no other figure being known. A cold heater
    /// takes three to ten times its current and usually six (computer tubes 5 to 10: IRE Transactions on Electronic
    /// Computers, March 1958, abstract). 11 s: the controlled warm-up of television tubes (from memory). A fifth quicker or
    /// slower: chosen, no source.
    pub const STANDARD: Self = Self {
        spread: 50.0 / 600.0,
        hot_over_cold: [3.0, 6.0, 10.0],
        warm_up_seconds: 11.0,
        warm_up_spread: 0.2,
    };
}

/// One heater as solved.
#[derive(Debug, Clone, PartialEq)]
pub struct HeaterReading {
    /// Which tube.
    pub socket: SocketId,
    /// Index into [`Design::strings`].
    pub string: usize,
    /// Index into [`HeaterString::links`].
    pub link: usize,
    /// Volts of its first end (towards the string's beginning) against ground; rms where the supply alternates.
    pub first_volts: f64,
    /// Volts of its second end against ground.
    pub second_volts: f64,
    /// The supply alternates, so its peaks are higher by the square root of two and of either sign.
    pub alternates: bool,
    /// Direct volts that an alternating supply stands on; its rms volts are above them.
    pub stands_on_volts: f64,
    /// Current, A.
    pub amps: f64,
    /// Wired for its tapped voltage: both end pins stand at the first volts, the tap at the second.
    pub tapped: bool,
    /// Rated volts as wired.
    pub rated_volts: f64,
    /// Rated current as wired, A.
    pub rated_amps: f64,
    /// What it may meet; `None` where its string does not hang between two supplies.
    pub reach: Option<Reach>,
    /// Where it is written.
    pub span: Span,
}

impl HeaterReading {
    /// Volts across it.
    #[must_use]
    pub fn across(&self) -> f64 {
        (self.first_volts - self.second_volts).abs()
    }

    /// Volts across it over its rating.
    #[must_use]
    pub fn share(&self) -> f64 {
        self.across() / self.rated_volts
    }

    /// Lowest and highest volts of its ends against ground, peaks where the supply alternates.
    #[must_use]
    pub fn end_volts(&self) -> (f64, f64) {
        if self.alternates {
            let peak =
                std::f64::consts::SQRT_2 * self.first_volts.abs().max(self.second_volts.abs());
            return (self.stands_on_volts - peak, self.stands_on_volts + peak);
        }
        (
            self.first_volts.min(self.second_volts),
            self.first_volts.max(self.second_volts),
        )
    }
}

/// The least and the most that a heater may meet, V across it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reach {
    /// With the supply at the ends of its tolerance and every part at its rating.
    pub supply: (f64, f64),
    /// With the supply and every part of the string at the ends of their spread that are worst for it.
    pub spread: (f64, f64),
    /// The most while the string warms up, and when, s; `None` where it is not followed.
    pub passing: Option<(f64, f64)>,
    /// The most when it warms up quicker than it should and the others slower, with the supply at its top.
    pub passing_at_worst: Option<f64>,
}

/// One string as solved; the default is one that cannot be: a heater's rating is not known, or no rest was found.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct StringReading {
    /// Current with warm heaters, A, positive from its beginning to its end; `None` when it is not known.
    pub amps: Option<f64>,
    /// Current when it is switched on cold, A: least, usual, most; `None` where it does not hang between two supplies.
    pub cold_amps: Option<[f64; 3]>,
    /// Volts of every joint, both ends included, the same way as those of its heaters; empty when they are not known.
    pub joint_volts: Vec<f64>,
    /// What it goes through from cold; the same for all strings that are alike.
    pub warm_up: Option<Arc<WarmUp>>,
}

impl StringReading {
    /// Volts across a link, of the string's sign; `None` where the string is not solved.
    #[must_use]
    pub fn link_volts(&self, link: usize) -> Option<f64> {
        Some(self.joint_volts.get(link)? - self.joint_volts.get(link + 1)?)
    }

    /// Volts across the whole string; 0 where it is not solved.
    #[must_use]
    pub fn across(&self) -> f64 {
        match self.joint_volts[..] {
            [first, .., last] => first - last,
            _ => 0.0,
        }
    }
}

/// All strings.
#[derive(Debug, Clone, PartialEq)]
pub struct HeaterResult {
    /// What was assumed.
    pub assumptions: HeaterAssumptions,
    /// Every heater in every string.
    pub readings: Vec<HeaterReading>,
    /// Every string, in the order of the design.
    pub strings: Vec<StringReading>,
    /// Findings on the ways of the strings, their volts, and volts between heater and cathode.
    pub findings: Vec<Finding>,
}

impl HeaterResult {
    /// Of no strings.
    #[must_use]
    pub fn none(assumptions: &HeaterAssumptions) -> Self {
        Self {
            assumptions: *assumptions,
            readings: Vec::new(),
            strings: Vec::new(),
            findings: Vec::new(),
        }
    }
}

/// Solves every string and judges it.
#[must_use]
pub fn check(
    plan: &Plan,
    levels: &Levels,
    results: &[MemberResult],
    context: &Context,
) -> HeaterResult {
    let design = plan.design;
    let mut out = HeaterResult::none(&context.assumptions.heaters);
    let mut solved_before = Vec::new();
    for (index, string) in design.strings.iter().enumerate() {
        let wired = Wired::new(design, string, &context.assumptions.heaters);
        let (readings, reading) = wired
            .and_then(|wired| read(plan, index, &wired, &mut solved_before, levels, context))
            .unwrap_or_default();
        out.findings
            .extend(judged::string(plan, string, &reading, &readings));
        out.strings.push(reading);
        out.readings.extend(readings);
    }
    if !design.strings.is_empty() {
        out.findings.extend(judged::unfed(design));
    }
    out.findings
        .extend(cathode::findings(plan, &out.readings, results));
    out
}

/// Mean volts against ground of the filaments of tubes that are heated directly, in strings between two supplies: by unit
/// and by its number among the tubes of the unit's circuit. An alternating filament swings round the volts that its supply
/// stands on.
#[must_use]
pub fn filaments(
    design: &Design,
    assumptions: &HeaterAssumptions,
) -> BTreeMap<(MemberIndex, usize), f64> {
    let mut filaments = BTreeMap::new();
    for string in &design.strings {
        let is_direct = |socket: SocketId| {
            let heater = design.sockets[socket.0].device.heater.as_ref();
            heater.is_some_and(|heater| heater.direct)
        };
        if !string.heaters().any(|(socket, ..)| is_direct(socket)) {
            continue;
        }
        let (Some(wired), Some(supply)) = (
            Wired::new(design, string, assumptions),
            Supply::of(design, string),
        ) else {
            continue;
        };
        let rest = wired.chain.at_rest(supply.across[1]);
        let mut first = supply.from_volts;
        for (link, volts) in string.links.iter().zip(&rest.link_volts) {
            let mean = if supply.alternates {
                supply.stands_on_volts
            } else {
                first - volts / 2.0
            };
            first -= volts;
            for branch in &link.branches {
                let &Branch::Heater { socket, .. } = branch else {
                    continue;
                };
                if !is_direct(socket) {
                    continue;
                }
                for (unit, tube) in design.sockets[socket.0].halves.iter().flatten() {
                    filaments.insert((unit.0, *tube), mean);
                }
            }
        }
    }
    filaments
}

/// A string with the values of its parts.
pub(crate) struct Wired<'a> {
    string: &'a HeaterString,
    pub(crate) chain: Chain,
}

impl<'a> Wired<'a> {
    /// `None` when a heater's rating is not known, or nothing is in the string.
    pub(crate) fn new(
        design: &Design,
        string: &'a HeaterString,
        assumptions: &HeaterAssumptions,
    ) -> Option<Self> {
        let link = |link: &Link| {
            let branches = link.branches.iter();
            branches
                .map(|branch| part(design, branch, assumptions))
                .collect::<Option<Vec<chain::Branch>>>()
        };
        let links = string.links.iter().map(link).collect::<Option<_>>()?;
        Some(Self {
            string,
            chain: Chain { links },
        })
    }
}

fn part(
    design: &Design,
    branch: &Branch,
    assumptions: &HeaterAssumptions,
) -> Option<chain::Branch> {
    match *branch {
        Branch::Heater { socket, tapped } => {
            let heater = design.sockets[socket.0].device.heater.as_ref()?;
            let spread = heater.spread.as_ref().map(|spread| spread.value);
            let seconds = heater.warm_up.as_ref().map(|seconds| seconds.value);
            let rated = rating(heater, tapped)?;
            Some(heater_branch(rated, spread, seconds, assumptions))
        }
        Branch::Resistor {
            ohms, tolerance, ..
        } => Some(chain::Branch {
            kind: Kind::Resistor(ohms),
            spread: tolerance,
        }),
        Branch::Thermistor {
            law,
            hot_ohms,
            tolerance,
            ..
        } => Some(chain::Branch {
            kind: Kind::Thermistor { law, hot_ohms },
            spread: tolerance,
        }),
        Branch::Ballast {
            amps,
            volts,
            tolerance,
            ..
        } => Some(chain::Branch {
            kind: Kind::Ballast(BallastLaw {
                amps,
                from_volts: volts.0,
                to_volts: volts.1,
                cold_share: 1.0 / assumptions.hot_over_cold[1],
            }),
            spread: tolerance,
        }),
        Branch::Conductor {
            metres,
            square_metres,
            ..
        } => Some(chain::Branch {
            kind: Kind::Resistor(copper::ohms(metres, square_metres)),
            spread: 0.0,
        }),
    }
}

/// A heater of these rated volts and amperes in a string; its spread and seconds of warm-up are assumed where not known.
pub(crate) fn heater_branch(
    (volts, amps): (f64, f64),
    spread: Option<f64>,
    warm_up_seconds: Option<f64>,
    assumptions: &HeaterAssumptions,
) -> chain::Branch {
    let law = HeaterLaw {
        volts,
        amps,
        cold_share: 1.0 / assumptions.hot_over_cold[1],
    };
    let seconds = warm_up_seconds.unwrap_or(assumptions.warm_up_seconds);
    chain::Branch {
        kind: Kind::Heater {
            law,
            thermal_seconds: thermal_seconds(&law, seconds),
        },
        spread: spread.unwrap_or(assumptions.spread),
    }
}

/// Rated volts and current of a heater as it is wired.
#[must_use]
pub fn rating(heater: &Heater, tapped: bool) -> Option<(f64, f64)> {
    if tapped {
        heater.tapped
    } else {
        Some((heater.volts.value, heater.amps.value))
    }
}

/// The supply of a string.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Supply {
    /// Nominal volts of the beginning against ground.
    from_volts: f64,
    /// Volts across the string: lowest, nominal, highest, all of the nominal's sign.
    across: [f64; 3],
    alternates: bool,
    /// See [`HeaterReading::stands_on_volts`].
    stands_on_volts: f64,
}

impl Supply {
    /// `None` unless both ends of the string are on rails or ground.
    fn of(design: &Design, string: &HeaterString) -> Option<Self> {
        let rail = |terminal: Terminal| match terminal {
            Terminal::Net(net) => match design.nets[net.0].kind {
                NetKind::Ground => Some(None),
                NetKind::Rail(RailId(rail)) => Some(Some(&design.rails[rail])),
                NetKind::Signal => None,
            },
            Terminal::Inner(..) => None,
        };
        let (from, to) = (rail(string.from)?, rail(string.to)?);
        let alternating = [from, to]
            .into_iter()
            .flatten()
            .find(|rail| rail.alternates);
        // The volts of a string on a winding are counted from where the winding stands.
        let volts = |rail: Option<&Rail>| {
            let counts = |rail: &&Rail| alternating.is_none() || rail.alternates;
            rail.filter(counts).map_or(0.0, |rail| rail.volts)
        };
        let nominal = volts(from) - volts(to);
        // A heater supply that stands on another rail keeps its own volts to within its tolerance.
        let further = if volts(from).abs() < volts(to).abs() {
            to
        } else {
            from
        };
        let tolerance = further.map_or(0.0, |rail| rail.tolerance);
        let foot = alternating.and_then(|rail| rail.stands_on);
        Some(Self {
            from_volts: volts(from),
            across: [
                nominal * (1.0 - tolerance),
                nominal,
                nominal * (1.0 + tolerance),
            ],
            alternates: alternating.is_some(),
            stands_on_volts: foot.map_or(0.0, |foot| design.rails[foot.0].volts),
        })
    }
}

/// A string as it is solved, and the lowest, nominal and highest volts across it; `None` unless it hangs between two
/// supplies and every heater in it is known.
pub(crate) fn between_supplies(
    plan: &Plan,
    string: &HeaterString,
    assumptions: &HeaterAssumptions,
) -> Option<(Chain, [f64; 3])> {
    let chain = Wired::new(plan.design, string, assumptions)?.chain;
    Some((chain, Supply::of(plan.design, string)?.across))
}

/// What was found of a chain under a supply, for the strings that are like it.
struct Solved {
    chain: Chain,
    across: [f64; 3],
    reaches: Vec<Reach>,
    warm_up: Option<Arc<WarmUp>>,
}

/// The readings of one string; `None` when it cannot be solved.
fn read(
    plan: &Plan,
    index: usize,
    wired: &Wired,
    solved_before: &mut Vec<Solved>,
    levels: &Levels,
    context: &Context,
) -> Option<(Vec<HeaterReading>, StringReading)> {
    let supply = Supply::of(plan.design, wired.string);
    let mut reading = StringReading::default();
    let (joints, reaches) = match &supply {
        Some(supply) => {
            let [_, nominal, _] = supply.across;
            let rest = wired.chain.at_rest(nominal);
            reading.amps = Some(rest.amps);
            let cold = context.assumptions.heaters.hot_over_cold;
            reading.cold_amps = Some(cold.map(|ratio| wired.chain.cold_amps(nominal, ratio).abs()));
            let mut joints = vec![supply.from_volts];
            for volts in &rest.link_volts {
                joints.push(joints[joints.len() - 1] - volts);
            }
            let solved = reach(wired, supply, solved_before, &context.assumptions.heaters);
            reading.warm_up.clone_from(&solved.warm_up);
            (joints, Some(&solved.reaches))
        }
        None => {
            let (joints, amps) = ways::solve(plan, wired, levels, context)?;
            reading.amps = Some(amps);
            (joints, None)
        }
    };
    let mut readings = Vec::new();
    for (link, parts) in wired.string.links.iter().enumerate() {
        let volts = joints[link] - joints[link + 1];
        for (branch, part) in parts.branches.iter().zip(&wired.chain.links[link]) {
            let (&Branch::Heater { socket, tapped }, Kind::Heater { law, .. }) =
                (branch, part.kind)
            else {
                continue;
            };
            readings.push(HeaterReading {
                socket,
                string: index,
                link,
                first_volts: joints[link],
                second_volts: joints[link + 1],
                alternates: supply.is_some_and(|supply| supply.alternates),
                stands_on_volts: supply.map_or(0.0, |supply| supply.stands_on_volts),
                amps: volts / law.ohms(volts),
                tapped,
                rated_volts: law.volts,
                rated_amps: law.amps,
                reach: reaches.map(|reaches| reaches[link]),
                span: parts.span,
            });
        }
    }
    reading.joint_volts = joints;
    Some((readings, reading))
}

/// What the links of a string may meet; found once for all strings that are alike.
fn reach<'a>(
    wired: &Wired,
    supply: &Supply,
    solved_before: &'a mut Vec<Solved>,
    assumptions: &HeaterAssumptions,
) -> &'a Solved {
    let chain = &wired.chain;
    let like = solved_before
        .iter()
        .position(|solved| solved.chain == *chain && solved.across == supply.across);
    let place = like.unwrap_or_else(|| {
        let [low, nominal, high] = supply.across;
        let (at_low, at_high) = (chain.at_rest(low), chain.at_rest(high));
        let warm = warm_up(chain, nominal);
        let mut reaches: Vec<Reach> = Vec::new();
        for (link, branches) in chain.links.iter().enumerate() {
            // Links that are alike meet the same.
            if let Some(same) = chain.links[..link]
                .iter()
                .position(|other| other == branches)
            {
                reaches.push(reaches[same]);
                continue;
            }
            let extreme = |most: bool, volts: f64| {
                chain.extreme(link, most).at_rest(volts).link_volts[link].abs()
            };
            let uneven = warm_up(&chain.uneven(link, assumptions.warm_up_spread), high);
            reaches.push(Reach {
                supply: (
                    at_low.link_volts[link].abs(),
                    at_high.link_volts[link].abs(),
                ),
                spread: (extreme(false, low), extreme(true, high)),
                passing: warm.as_ref().map(|warm| warm.highest(link)),
                passing_at_worst: uneven.map(|warm| warm.highest(link).0),
            });
        }
        solved_before.push(Solved {
            chain: chain.clone(),
            across: supply.across,
            reaches,
            warm_up: warm.map(Arc::new),
        });
        solved_before.len() - 1
    });
    &solved_before[place]
}
