//! Margins in the worst case as every face shows them: by driver, the smallest first, those that stand alike together, and
//! what every part does to one of them.

use crate::tables::thin_below;
use design::model::{CircuitId, UnitId};
use network::margins::{ConnectionMargin, Margins, Moved, SideMargin};
use network::plan::{MemberIndex, NetIndex};
use network::variation::Quantity;
use network::verdict::Verdict;

/// Where the numbers come from that were assumed of parts of which no text says how far they may be off, in words.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SpreadSources {
    /// Of the current of a new tube.
    pub tube_current: &'static str,
    /// Of what is left of it at the end of its life.
    pub aged: &'static str,
    /// Of mu.
    pub mu: &'static str,
    /// Of the grid volts of cut-off.
    pub cut_off: &'static str,
    /// Of the saturation current of a diode.
    pub saturation: &'static str,
}

/// What was found, with the sources of what was assumed for it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WorstCases<'a> {
    /// What was found.
    pub margins: &'a Margins,
    /// Of what was assumed.
    pub sources: &'a SpreadSources,
}

/// Whose margins are asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Whose {
    /// Those of every unit and switch.
    All,
    /// Those of what the units of a circuit drive.
    Circuit(CircuitId),
    /// Those of what a unit drives and is driven by.
    Unit(UnitId),
}

impl Whose {
    fn includes(self, verdict: &Verdict, connection: &ConnectionMargin) -> bool {
        let driver = connection.driver.map(|driver| driver.0);
        match self {
            Self::All => true,
            Self::Circuit(circuit) => {
                driver.is_some_and(|driver| verdict.plan.members[driver].circuit == circuit)
            }
            Self::Unit(unit) => connection.load.0 == unit.0 || driver == Some(unit.0),
        }
    }

    /// The connections asked for, the smallest margin first.
    pub(crate) fn connections<'a>(
        self,
        verdict: &Verdict,
        margins: &'a Margins,
    ) -> Vec<&'a ConnectionMargin> {
        let all = margins.connections.iter();
        all.filter(|connection| self.includes(verdict, connection))
            .collect()
    }

    /// Whether one of the margins asked for is negative.
    #[must_use]
    pub fn is_short(self, verdict: &Verdict, margins: &Margins) -> bool {
        let connections = self.connections(verdict, margins);
        connections.iter().any(|one| one.smallest().0.volts < 0.0)
    }
}

/// One side of a connection, and how many others stand just so.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Standing<'a> {
    pub(crate) connection: &'a ConnectionMargin,
    /// When up, else when down.
    pub(crate) up: bool,
    /// How many more are alike.
    pub(crate) alike: usize,
}

impl<'a> Standing<'a> {
    /// The smaller side of a connection.
    pub(crate) fn smallest(connection: &'a ConnectionMargin) -> Self {
        Self {
            connection,
            up: connection.smallest().1,
            alike: 0,
        }
    }

    pub(crate) fn side(&self) -> &'a SideMargin {
        if self.up {
            &self.connection.up
        } else {
            &self.connection.down
        }
    }

    /// Below this margin (V) it is called thin.
    pub(crate) fn thin_below(&self, verdict: &Verdict) -> f64 {
        let (net, load) = (self.connection.net, self.connection.load);
        let mut book = verdict.connections.iter();
        book.find(|book| book.net == net && book.load == load)
            .map_or(0.0, |book| thin_below(verdict, book))
    }

    /// What two have in common that stand alike: the circuits at both ends, their signals, and the volts to the millivolt.
    fn likeness(&self, verdict: &Verdict) -> Likeness {
        let circuit_of =
            |(member, signal): (MemberIndex, usize)| (verdict.plan.members[member].circuit, signal);
        let side = self.side();
        let volts = [side.book_volts, side.volts, side.level, side.threshold];
        (
            self.connection.driver.map(circuit_of),
            circuit_of(self.connection.load),
            self.up,
            volts.map(|volts| (1e3 * volts).round() as i64),
        )
    }
}

type Likeness = (
    Option<(CircuitId, usize)>,
    (CircuitId, usize),
    bool,
    [i64; 4],
);

/// Those that stand alike as one, in the order of the first of each.
fn gathered<'a>(verdict: &Verdict, all: impl Iterator<Item = Standing<'a>>) -> Vec<Standing<'a>> {
    let mut gathered: Vec<(Likeness, Standing)> = Vec::new();
    for standing in all {
        let likeness = standing.likeness(verdict);
        match gathered.iter_mut().find(|(other, _)| *other == likeness) {
            Some((_, first)) => first.alike += 1,
            None => gathered.push((likeness, standing)),
        }
    }
    gathered.into_iter().map(|(_, first)| first).collect()
}

/// The smallest margin of every driver (a unit, or the switch of a net), the smallest first.
pub(crate) fn by_driver<'a>(
    verdict: &Verdict,
    margins: &'a Margins,
    whose: Whose,
) -> Vec<Standing<'a>> {
    let mut seen: Vec<(Option<MemberIndex>, Option<NetIndex>)> = Vec::new();
    let connections = whose.connections(verdict, margins);
    let firsts = connections.into_iter().filter(|connection| {
        let driver = match connection.driver {
            Some((member, _)) => (Some(member), None),
            None => (None, Some(connection.net)),
        };
        let new = !seen.contains(&driver);
        seen.push(driver);
        new
    });
    gathered(verdict, firsts.map(Standing::smallest))
}

/// Both sides of every connection, the smaller first.
pub(crate) fn by_side<'a>(
    verdict: &Verdict,
    connections: &[&'a ConnectionMargin],
) -> Vec<Standing<'a>> {
    let both = connections.iter().flat_map(|&connection| {
        let smaller = connection.smallest().1;
        [smaller, !smaller].map(|up| Standing {
            connection,
            up,
            alike: 0,
        })
    });
    gathered(verdict, both)
}

/// One quantity of a part off its book value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Move {
    pub(crate) quantity: Quantity,
    /// In the unit of the quantity.
    pub(crate) value: f64,
    /// It stands at the end of its band.
    pub(crate) at_end: bool,
    /// In the case of the level, in that of the threshold.
    pub(crate) cases: [bool; 2],
    /// Volts by which the margin is smaller for it.
    pub(crate) volts: f64,
}

impl Move {
    fn of(moved: &Moved, case: usize) -> Self {
        Self {
            quantity: moved.quantity,
            value: moved.value,
            at_end: (moved.value - moved.end).abs() <= 1e-9 * moved.end.abs(),
            cases: [case == 0, case == 1],
            volts: moved.volts,
        }
    }

    /// Volts for each per cent that it is off; `None` for what is not a share.
    pub(crate) fn volts_per_cent(&self) -> Option<f64> {
        let share = matches!(
            self.quantity,
            Quantity::Ohms | Quantity::Current | Quantity::Mu
        );
        let percent = 100.0 * (self.value - self.quantity.book()).abs();
        (share && 0.0 < percent).then(|| self.volts / percent)
    }
}

/// A part off its book values, with all that it does to one margin.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct PartMoved {
    pub(crate) member: MemberIndex,
    pub(crate) part: usize,
    /// How many members that are alike have it.
    pub(crate) count: usize,
    /// The weightiest first.
    pub(crate) moves: Vec<Move>,
}

impl PartMoved {
    /// Volts by which the margin is smaller for all of it.
    pub(crate) fn volts(&self) -> f64 {
        self.moves.iter().map(|one| one.volts).sum()
    }
}

/// Parts that do less than this to a margin are not counted among those that bring it about, V: chosen, what tables show of
/// volts.
const COUNTS: f64 = 5e-3;

/// The parts that bring a worst case about, the weightiest first: what one does to the level and to the threshold together.
pub(crate) fn parts_moved(side: &SideMargin) -> Vec<PartMoved> {
    let cases = [&side.level_case, &side.threshold_case];
    let mut parts: Vec<PartMoved> = Vec::new();
    for (case, moved) in cases.iter().enumerate() {
        for moved in moved.moved.iter().filter(|moved| moved.volts.is_finite()) {
            let own = Move::of(moved, case);
            let known = parts
                .iter_mut()
                .find(|part| (part.member, part.part) == (moved.member, moved.part));
            let Some(part) = known else {
                parts.push(PartMoved {
                    member: moved.member,
                    part: moved.part,
                    count: moved.count,
                    moves: vec![own],
                });
                continue;
            };
            let same = part
                .moves
                .iter_mut()
                .find(|other| (other.quantity, other.value) == (own.quantity, own.value));
            match same {
                Some(other) => {
                    other.volts += own.volts;
                    other.cases[case] = true;
                }
                None => part.moves.push(own),
            }
        }
    }
    for part in &mut parts {
        part.moves.retain(|one| COUNTS <= one.volts);
        part.moves
            .sort_by(|left, right| right.volts.total_cmp(&left.volts));
    }
    parts.retain(|part| !part.moves.is_empty());
    parts.sort_by(|left, right| right.volts().total_cmp(&left.volts()));
    parts
}

/// Rails of a side's corner that would stand elsewhere to no lesser effect are left out: of each rail it is looked up what
/// the margin is where that rail alone is at its other end.
pub(crate) fn rails_that_count(margins: &Margins, side: &SideMargin) -> Vec<usize> {
    let here = &margins.corners[side.corner].sides;
    let counts = |rail: &usize| {
        let mut turned = here.clone();
        turned[*rail] = -turned[*rail];
        let mut corners = margins.corners.iter();
        corners
            .position(|corner| corner.sides == turned)
            .is_none_or(|other| COUNTS <= (side.by_corner[other] - side.volts).abs())
    };
    (0..here.len())
        .filter(|&rail| here[rail] != 0)
        .filter(counts)
        .collect()
}
