//! Margins in the worst case as every face shows them: by driver, the smallest first, those that stand alike together.

use crate::tables;
use design::model::{CircuitId, Design, UnitId};
use network::finding::Finding;
use network::margins::alone::AloneCase;
use network::margins::cases::{Move, PartMoved, part_name, parts_moved, rails_moved, standing_of};
use network::margins::findings::findings;
use network::margins::mending::Mending;
use network::margins::{
    Beyond, ConnectionMargin, DutyMargin, DutyNotKnown, FreeOutput, Margins, Missing, NotKnown,
    SideMargin,
};
use network::plan::{MemberIndex, NetIndex, Plan};
use network::verdict::Verdict;
use text::quantity::{Unit, show};

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
    /// Of the reverse grid current.
    pub reverse: &'static str,
    /// Of the saturation current of a diode.
    pub saturation: &'static str,
    /// Of the temperature of the diodes.
    pub diode_kelvin: &'static str,
    /// Of what the volts of heaters move.
    pub heater_volts: &'static str,
}

/// What was found, with the sources of what was assumed for it.
#[derive(Debug, Clone, Copy)]
pub struct WorstCases<'a> {
    /// What was found of the units.
    pub margins: &'a Margins,
    /// What was found of the circuits alone that are asked for.
    pub alone: &'a [AloneCase<'a>],
    /// What closer resistors would mend of the smallest margin that is asked for of the units, and of the circuits alone.
    pub mended: [&'a [Mending]; 2],
    /// Of what was assumed.
    pub sources: &'a SpreadSources,
}

impl<'a> WorstCases<'a> {
    /// What falls short of what is asked for: of the units, and of circuits alone that no unit uses. One that units use is
    /// judged where they stand.
    #[must_use]
    pub fn findings(&self, verdict: &Verdict, whose: Whose) -> Vec<Finding> {
        let connections = whose.connections(verdict, self.margins);
        let plan = &verdict.plan;
        let mut all = findings(plan, self.margins, &connections, |member| {
            whose.is_about(verdict, member)
        });
        for case in self.alone.iter().filter(|case| !is_used(plan.design, case)) {
            all.extend(findings_alone(case));
        }
        all
    }

    /// The smallest margin that is asked for of the units, and the circuit alone that spares least where it is shown in detail.
    #[must_use]
    pub fn smallest(
        &self,
        verdict: &Verdict,
        whose: Whose,
    ) -> (Option<&'a ConnectionMargin>, Option<&'a AloneCase<'a>>) {
        let of_units = whose.connections(verdict, self.margins).first().copied();
        // A circuit that was asked for, or stands for itself, is shown in detail.
        let detailed = matches!(whose, Whose::Circuit(_)) || of_units.is_none();
        let mut of_alone = self.alone_in_order().into_iter();
        let of_alone = of_alone.find(|case| !case.margins.connections.is_empty());
        (of_units, of_alone.filter(|_| detailed))
    }

    /// The circuits alone, least to spare first, before them those that are short by an amount that is not known, and last those of
    /// which nothing is known.
    pub(crate) fn alone_in_order(&self) -> Vec<&'a AloneCase<'a>> {
        let mut all: Vec<&AloneCase> = self.alone.iter().collect();
        let spare = |case: &AloneCase| {
            if short_beyond(&case.margins).next().is_some() {
                return f64::NEG_INFINITY;
            }
            let connection = case.margins.connections.first();
            connection.map_or(f64::INFINITY, |one| one.smallest().0.volts)
        };
        all.sort_by(|left, right| spare(left).total_cmp(&spare(right)));
        all
    }

    /// Those of them that drive something with a threshold.
    pub(crate) fn driving_alone(&self) -> Vec<&'a AloneCase<'a>> {
        let mut all = self.alone_in_order();
        all.retain(|case| {
            !(case.margins.connections.is_empty() && case.margins.not_known.is_empty())
        });
        all
    }

    /// What sentences ask of the parts of circuits alone, smallest share of its limit to spare first.
    pub(crate) fn duties_alone(&self) -> Vec<(&'a AloneCase<'a>, &'a DutyMargin)> {
        let cases = self.alone.iter();
        let all = cases.flat_map(|case| case.margins.duties.iter().map(move |duty| (case, duty)));
        let mut all: Vec<_> = all.collect();
        let share = |duty: &DutyMargin| duty.spare / duty.limit.abs();
        all.sort_by(|left, right| share(left.1).total_cmp(&share(right.1)));
        all
    }

    /// Outputs of circuits alone that nothing asks a level of, the smallest swing first.
    pub(crate) fn free_alone(&self) -> Vec<(&'a AloneCase<'a>, &'a FreeOutput)> {
        let cases = self.alone.iter();
        let all = cases.flat_map(|case| case.margins.free.iter().map(move |one| (case, one)));
        let mut all: Vec<_> = all.collect();
        all.sort_by(|left, right| left.1.swing.total_cmp(&right.1.swing));
        all
    }
}

/// Connections that are short by an amount that is not known: where the search for their thresholds ended.
pub(crate) fn short_beyond(margins: &Margins) -> impl Iterator<Item = (&NotKnown, Beyond)> {
    let all = margins.not_known.iter();
    all.filter_map(|one| match one.missing {
        Missing::Beyond(beyond) if beyond.falls_short() => Some((one, beyond)),
        _ => None,
    })
}

/// What falls short of a circuit alone, or is not known of it.
pub(crate) fn findings_alone(case: &AloneCase) -> Vec<Finding> {
    let connections: Vec<&ConnectionMargin> = case.margins.connections.iter().collect();
    findings(&case.plan, &case.margins, &connections, |_| true)
}

/// Whether a unit of the machine is of a circuit that was judged alone.
pub(crate) fn is_used(design: &Design, case: &AloneCase) -> bool {
    let mut units = design.units.iter();
    units.any(|unit| unit.circuit == case.circuit)
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

    /// It is a unit that is asked for.
    fn is_about(self, verdict: &Verdict, member: MemberIndex) -> bool {
        match self {
            Self::All => true,
            Self::Circuit(circuit) => verdict.plan.members[member].circuit == circuit,
            Self::Block(block) => in_block(verdict, block, member),
            Self::Unit(unit) => member == unit.0,
        }
    }

    /// What sentences ask of parts of the units asked for, smallest share of its limit to spare first.
    pub(crate) fn duties<'a>(self, verdict: &Verdict, margins: &'a Margins) -> Vec<&'a DutyMargin> {
        let all = margins.duties.iter();
        all.filter(|duty| self.is_about(verdict, duty.member))
            .collect()
    }

    /// What sentences ask of their parts of which the worst case is not known.
    pub(crate) fn duties_not_known<'a>(
        self,
        verdict: &Verdict,
        margins: &'a Margins,
    ) -> Vec<&'a DutyNotKnown> {
        let all = margins.duties_not_known.iter();
        all.filter(|one| self.is_about(verdict, one.member))
            .collect()
    }

    /// Outputs of the units asked for that nothing asks a level of, the smallest swing first.
    pub(crate) fn free<'a>(self, verdict: &Verdict, margins: &'a Margins) -> Vec<&'a FreeOutput> {
        let all = margins.free.iter();
        all.filter(|output| self.is_about(verdict, output.driver.0))
            .collect()
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

    /// What two have in common that stand alike: the circuits at both ends, their signals, and the volts to the millivolt.
    fn likeness(&self, plan: &Plan) -> Likeness {
        let circuit_of =
            |(member, signal): (MemberIndex, usize)| (plan.members[member].circuit, signal);
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
fn gathered<'a>(plan: &Plan, all: impl Iterator<Item = Standing<'a>>) -> Vec<Standing<'a>> {
    let mut gathered: Vec<(Likeness, Standing)> = Vec::new();
    for standing in all {
        let likeness = standing.likeness(plan);
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
    gathered(&verdict.plan, firsts.map(Standing::smallest))
}

/// Both sides of every connection, the smaller first.
pub(crate) fn by_side<'a>(plan: &Plan, connections: &[&'a ConnectionMargin]) -> Vec<Standing<'a>> {
    let both = connections.iter().flat_map(|&connection| {
        let smaller = connection.smallest().1;
        [smaller, !smaller].map(|up| Standing {
            connection,
            up,
            alike: 0,
        })
    });
    gathered(plan, both)
}

/// An output that nothing asks a level of, and how many others stand just so.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct FreeStanding<'a> {
    pub(crate) output: &'a FreeOutput,
    pub(crate) alike: usize,
}

/// The outputs of [`Whose::free`], those of one circuit that stand alike to the millivolt as one.
pub(crate) fn free_alike<'a>(
    verdict: &Verdict,
    margins: &'a Margins,
    whose: Whose,
) -> Vec<FreeStanding<'a>> {
    let all = whose.free(verdict, margins).into_iter();
    let keyed = all.map(|output| {
        let (member, signal) = output.driver;
        let volts = [output.down.volts, output.up.volts, output.swing];
        let volts = volts.map(|volts| (1e3 * volts).round() as i64);
        (
            (verdict.plan.members[member].circuit, signal, volts),
            output,
        )
    });
    let alike = counted_alike(keyed).into_iter();
    alike
        .map(|(output, alike)| FreeStanding { output, alike })
        .collect()
}

/// What sentences ask of parts, of the units asked for, those of one circuit that stand alike to a millionth of their limit as one,
/// with how many more they are.
pub(crate) fn duties_alike<'a>(
    verdict: &Verdict,
    margins: &'a Margins,
    whose: Whose,
) -> Vec<(&'a DutyMargin, usize)> {
    let all = whose.duties(verdict, margins).into_iter();
    counted_alike(all.map(|duty| {
        let circuit = verdict.plan.members[duty.member].circuit;
        let share = (1e6 * duty.spare / duty.limit.abs()).round() as i64;
        ((circuit, duty.duty, tables::must(duty.asked), share), duty)
    }))
}

/// The first of each key, with how many more have it.
fn counted_alike<K: PartialEq, T>(all: impl Iterator<Item = (K, T)>) -> Vec<(T, usize)> {
    let mut alike: Vec<(K, T, usize)> = Vec::new();
    for (key, one) in all {
        match alike.iter_mut().find(|(other, ..)| *other == key) {
            Some((.., count)) => *count += 1,
            None => alike.push((key, one, 0)),
        }
    }
    let alike = alike.into_iter();
    alike.map(|(_, one, count)| (one, count)).collect()
}

/// What one setting of a part, or one rail, takes from a margin.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Taken {
    pub(crate) part: String,
    /// Where it stands, in words.
    pub(crate) stands: String,
    /// V for each per cent; `None` for what is no share of a book value.
    pub(crate) per_cent: Option<f64>,
    /// In all, V.
    pub(crate) volts: f64,
}

/// What every setting and every rail takes from a margin: most for each per cent first, then what has none, most in all first.
pub(crate) fn taken(plan: &Plan, margins: &Margins, standing: &Standing) -> Vec<Taken> {
    let side = standing.side();
    let of_part = |part: &PartMoved, one: &Move| {
        let alike = match part.count {
            0 | 1 => String::new(),
            count => format!(", and {} alike", count - 1),
        };
        Taken {
            part: format!("{}{alike}", part_name(plan, part)),
            stands: standing_of(part, one),
            per_cent: one.volts_per_cent(),
            volts: one.volts,
        }
    };
    let mut all: Vec<Taken> = Vec::new();
    for part in &parts_moved(side) {
        all.extend(part.moves.iter().map(|one| of_part(part, one)));
    }
    all.extend(rails_moved(plan, margins, side).iter().map(|moved| Taken {
        part: format!("rail {}", plan.design.rails[moved.rail].name),
        stands: format!("at {}", show(moved.stands, Unit::Volt, 3)),
        per_cent: Some(moved.volts_per_cent),
        volts: moved.volts,
    }));
    all.sort_by(|left, right| {
        let per_cent = |one: &Taken| one.per_cent.unwrap_or(f64::NEG_INFINITY);
        per_cent(right)
            .total_cmp(&per_cent(left))
            .then(right.volts.total_cmp(&left.volts))
    });
    all
}
