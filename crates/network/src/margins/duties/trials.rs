//! Units made ready for what is asked of their parts: as they are, and with a lamp kept from lighting or held where it just goes
//! out; and how what is asked is read.

use super::Demand;
use crate::duty::Asked;
use crate::judge::Levels;
use crate::margins::Search;
use crate::margins::corners::RailCorner;
use crate::margins::levels::{LevelRow, Middles, Source, held, middles, rests};
use crate::margins::stand::{Group, Reading, Stand};
use crate::plan::{MemberIndex, Plan};
use crate::probe::{PartNumber, Probe, holding, kept_dark};
use crate::solve::OperatingPoint;
use crate::surroundings::Surroundings;
use crate::wiring::ElementIndex;
use design::model::PartKind;
use devices::neon::NeonState;
use std::collections::BTreeMap;

/// A unit ready to be asked, as it is and with each of its lamps kept from lighting or held at going out.
pub(in crate::margins) struct Standing<'a> {
    search: &'a Search<'a>,
    member: MemberIndex,
    around: &'a Surroundings,
    pub ready: BTreeMap<Key, Ready>,
}

/// What is done to a part to try it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(in crate::margins) enum Trial {
    /// It stands as it is.
    AsItIs,
    /// It is a lamp that is kept dark.
    KeptDark,
    /// It is a lamp at its holding current, which flows from its first terminal to its second or the other way.
    Holding { forward: bool },
}

impl Asked {
    /// What is done to a lamp that stands with its first terminal above its second (`forward`) while it is dark.
    pub(in crate::margins) fn trial(self, forward: bool) -> Trial {
        match self {
            Self::Strikes | Self::StaysDark => Trial::KeptDark,
            Self::Holds | Self::GoesOut => Trial::Holding { forward },
            Self::Least(_) | Self::Most(_) | Self::Off(_) | Self::Lit(_) | Self::Out(_) => {
                Trial::AsItIs
            }
        }
    }

    /// The number that is asked for, and whether it is counted from its limit already.
    fn number(self, forward: bool) -> PartNumber {
        match self {
            Self::Least(_) | Self::Most(_) | Self::Off(_) | Self::Out(_) => PartNumber::Amps,
            Self::Lit(_) => PartNumber::Watts,
            Self::Strikes | Self::StaysDark => PartNumber::AboveStrike { forward },
            Self::Holds | Self::GoesOut => PartNumber::AboveHold { forward },
        }
    }
}

/// A scene with its rests by row, and the middles that stored states keep to.
pub(in crate::margins) struct Ready {
    pub stand: Stand,
    pub rests: Vec<Option<OperatingPoint>>,
    pub middles: Middles,
}

/// The element of a part that a sentence is about: of a tube its first, of a trimmer its last, as its readings are.
pub(in crate::margins) fn element_of(
    plan: &Plan,
    stand: &Stand,
    member: MemberIndex,
    part: usize,
) -> Option<ElementIndex> {
    let elements = &stand.scene.member(member)?.elements[part];
    let element = match plan.circuit(member).parts[part].kind {
        PartKind::Tube(_) => elements.first(),
        _ => elements.last(),
    };
    element
        .copied()
        .filter(|&element| stand.network.place_of(element).is_some())
}

/// A scene of a unit in which one of its parts is tried.
pub(in crate::margins) fn trial_stand(
    plan: &Plan,
    stand: Stand,
    (member, part): (MemberIndex, usize),
    trial: Trial,
) -> Option<Stand> {
    let element = element_of(plan, &stand, member, part)?;
    Some(match trial {
        Trial::AsItIs => stand,
        Trial::KeptDark => stand.changed(element, kept_dark),
        Trial::Holding { forward } => {
            let mut lit = vec![NeonState::Dark; stand.network.wiring.elements.len()];
            lit[element] = if forward {
                NeonState::LitForward
            } else {
                NeonState::LitBackward
            };
            let mut stand = stand.changed(element, holding);
            stand.lit = Some(lit);
            stand
        }
    })
}

/// How what is asked is read, with its limit by the book.
#[derive(Debug, Clone, Copy)]
pub(in crate::margins) struct Measure {
    pub probe: Probe,
    /// What the number is counted from where the probe does not do so itself.
    pub from: f64,
    /// 1 where more is to spare when the number is larger, −1 where when smaller.
    pub sign: f64,
    /// The limit by the book.
    pub limit: f64,
}

impl Measure {
    /// `forward` as the current flows, or as the volts stand, by the book.
    pub(in crate::margins) fn of(
        stand: &Stand,
        element: ElementIndex,
        asked: Asked,
        forward: bool,
    ) -> Self {
        let number = asked.number(forward);
        let along = if forward { 1.0 } else { -1.0 };
        let (from, sign, limit) = match asked {
            Asked::Least(amps) => (along * amps, along, amps),
            Asked::Most(amps) | Asked::Off(amps) => (along * amps, -along, amps),
            Asked::Lit(watts) => (watts, 1.0, watts),
            Asked::Out(amps) => (amps, -1.0, amps),
            Asked::Strikes | Asked::Holds | Asked::StaysDark | Asked::GoesOut => {
                let values = stand.network.values_of(element);
                let limit = values.and_then(|values| number.limit(values));
                let above = matches!(asked, Asked::Strikes | Asked::Holds);
                (0.0, if above { 1.0 } else { -1.0 }, limit.unwrap_or(1.0))
            }
        };
        Self {
            probe: Probe::Part(element, number),
            from,
            sign,
            limit,
        }
    }

    /// To spare where the number is this.
    pub(in crate::margins) fn spare(&self, number: f64) -> f64 {
        self.sign * (number - self.from)
    }

    pub(in crate::margins) fn reading(&self) -> Reading {
        Reading {
            probe: self.probe,
            lowest: 0.0 < self.sign,
            unit: if self.limit == 0.0 {
                1.0
            } else {
                self.limit.abs()
            },
        }
    }
}

impl<'a> Standing<'a> {
    pub(in crate::margins) fn new(
        search: &'a Search<'a>,
        member: MemberIndex,
        around: &'a Surroundings,
    ) -> Self {
        Self {
            search,
            member,
            around,
            ready: BTreeMap::new(),
        }
    }

    pub(in crate::margins) fn evaluated(&self) -> u64 {
        self.ready.values().map(|ready| ready.stand.evaluated).sum()
    }

    fn part(&self, demand: &Demand) -> usize {
        self.search.plan.circuit(self.member).duties[demand.duty].part
    }

    /// The scene in which a demand is tried, with what is read there.
    pub(in crate::margins) fn of(
        &mut self,
        rows: &[LevelRow],
        demand: &Demand,
        corner: &RailCorner,
        levels: &Levels,
    ) -> Option<Tried<'_>> {
        let (part, member, plan) = (self.part(demand), self.member, self.search.plan);
        // Which way round it stands is seen where it is not lit by the trial.
        let first = match demand.asked.trial(true) {
            Trial::AsItIs => Trial::AsItIs,
            Trial::KeptDark | Trial::Holding { .. } => Trial::KeptDark,
        };
        let ready = self.ready(rows, part, first, corner, levels)?;
        let element = element_of(plan, &ready.stand, member, part)?;
        let forward = forward(ready, element, demand);
        let trial = demand.asked.trial(forward);
        let ready = self.ready(rows, part, trial, corner, levels)?;
        let measure = Measure::of(&ready.stand, element, demand.asked, forward);
        Some(Tried {
            key: key_of(part, trial),
            ready,
            element,
            measure,
        })
    }

    fn ready(
        &mut self,
        rows: &[LevelRow],
        part: usize,
        trial: Trial,
        corner: &RailCorner,
        levels: &Levels,
    ) -> Option<&mut Ready> {
        let search = self.search;
        let plan = search.plan;
        let key = key_of(part, trial);
        if !self.ready.contains_key(&key) {
            let source = Source::Member(self.member);
            let group = Group {
                members: &self.around.copies(),
                held: &held(search, source, self.around),
            };
            let stand = Stand::new(plan, &group, corner, search.varied, search.context)?;
            let mut stand = trial_stand(plan, stand, (self.member, part), trial)?;
            let rests = rests(search, &mut stand, source, rows, corner, levels);
            let middles = middles(&stand, rows, &rests, search.levels);
            let ready = Ready {
                stand,
                rests,
                middles,
            };
            self.ready.insert(key, ready);
        }
        self.ready.get_mut(&key)
    }
}

/// Which part is tried, and how.
pub(in crate::margins) type Key = (Option<usize>, Trial);

/// As it is, a unit serves for all of its parts.
fn key_of(part: usize, trial: Trial) -> Key {
    match trial {
        Trial::AsItIs => (None, trial),
        Trial::KeptDark | Trial::Holding { .. } => (Some(part), trial),
    }
}

/// Whether the current of a part flows from its first terminal to its second, or a dark lamp stands so, in the row of those that
/// ask where it is largest.
fn forward(ready: &Ready, element: ElementIndex, demand: &Demand) -> bool {
    let network = &ready.stand.network;
    let values = network.values_of(element);
    let amps = |point: &OperatingPoint| {
        let probe = Probe::Part(element, PartNumber::Amps);
        probe.value(network, values, &point.volts, &point.lamps)
    };
    let rests = demand
        .rows
        .iter()
        .filter_map(|&row| ready.rests[row].as_ref());
    let largest = rests
        .map(amps)
        .max_by(|left, right| left.abs().total_cmp(&right.abs()));
    largest.is_none_or(|amps| 0.0 <= amps)
}

/// A scene in which one demand is tried.
pub(in crate::margins) struct Tried<'a> {
    pub key: Key,
    pub ready: &'a mut Ready,
    pub element: ElementIndex,
    pub measure: Measure,
}

impl Measure {
    /// A current counted the way that it flows by the book.
    pub(in crate::margins) fn upright(&self, number: f64) -> f64 {
        if self.from < 0.0 { -number } else { number }
    }
}
