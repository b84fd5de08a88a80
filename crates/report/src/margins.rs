//! Margins in the worst case as every face shows them: by driver, the smallest first, those that stand alike together.

use crate::tables::thin_below;
use design::model::{CircuitId, UnitId};
use network::finding::Finding;
use network::margins::{ConnectionMargin, Margins, SideMargin};
use network::plan::{MemberIndex, NetIndex};
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
    /// Those of what the units of a block drive, by the index of the block in its place.
    Block(usize),
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
            Self::Block(block) => driver.is_some_and(|driver| in_block(verdict, block, driver)),
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

    /// What falls short of what is asked for.
    #[must_use]
    pub fn findings(self, verdict: &Verdict, margins: &Margins) -> Vec<Finding> {
        let connections = self.connections(verdict, margins);
        network::margins::findings::findings(verdict, margins, &connections, |member| match self {
            Self::All => true,
            Self::Circuit(circuit) => verdict.plan.members[member].circuit == circuit,
            Self::Block(block) => in_block(verdict, block, member),
            Self::Unit(unit) => member == unit.0,
        })
    }
}

fn in_block(verdict: &Verdict, block: usize, member: MemberIndex) -> bool {
    let units = &verdict.plan.design.placed_blocks[block].units;
    units.contains(&UnitId(member))
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
