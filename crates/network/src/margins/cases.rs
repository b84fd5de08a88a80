//! What brings a worst case about, by part and in words: `G1.R2 high; G1.V1 at 50 % of its book current; 7 more; upper 34.2 V`.

use super::{
    Case, ConnectionMargin, DutyMargin, FreeLevel, FreeOutput, LostState, Margins, Moved,
    RailCorner, SideMargin, for_each_percent,
};
use crate::plan::{MemberIndex, NetIndex, Plan};
use crate::rows::Values;
use crate::variation::{Piece, Quantity};
use devices::diode::ZERO_CELSIUS_KELVIN;
use text::quantity::{Unit, show};

/// Parts named of a worst case; the rest is counted.
pub const NAMED_PARTS: usize = 3;

/// One quantity of a part off its book value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Move {
    /// What of it.
    pub quantity: Quantity,
    /// In the unit of the quantity.
    pub value: f64,
    /// Where its effect is counted from: its book value, or the middle of a band that does not reach that.
    pub rest: f64,
    /// It stands at the end of its band.
    pub at_end: bool,
    /// Of a current where that of the tube's other half stands, if the two are held together; a share.
    pub other_half: Option<f64>,
    /// In the case of the level, in that of the threshold.
    pub cases: [bool; 2],
    /// Volts by which the margin is smaller for it; of what a sentence asks of a part in the unit of that.
    pub volts: f64,
}

impl Move {
    fn of(moved: &Moved, case: usize) -> Self {
        Self {
            quantity: moved.quantity,
            value: moved.value,
            rest: moved.rest,
            at_end: (moved.value - moved.end).abs() <= 1e-9 * moved.end.abs(),
            other_half: moved.other_half,
            cases: [case == 0, case == 1],
            volts: moved.volts,
        }
    }

    /// Volts for each per cent that it is off; `None` for what is not a share.
    #[must_use]
    pub fn volts_per_cent(&self) -> Option<f64> {
        for_each_percent(self.quantity, self.value - self.rest, self.volts)
    }

    fn words(&self) -> String {
        stands(self.quantity, self.value, self.at_end, self.other_half)
    }

    /// What is said of where it stands.
    fn stands(&self) -> (Quantity, f64, Option<f64>) {
        (self.quantity, self.value, self.other_half)
    }
}

/// A part off its book values, with all that it does to one margin.
#[derive(Debug, Clone, PartialEq)]
pub struct PartMoved {
    /// Whose.
    pub member: MemberIndex,
    /// Which of its parts, or which resistor of the bench.
    pub piece: Piece,
    /// How many members that are alike have it.
    pub count: usize,
    /// The weightiest first.
    pub moves: Vec<Move>,
}

impl PartMoved {
    /// Volts by which the margin is smaller for all of it; of what a sentence asks of a part in the unit of that.
    #[must_use]
    pub fn volts(&self) -> f64 {
        self.moves.iter().map(|one| one.volts).sum()
    }
}

/// Parts that do less than this to a margin are not counted among those that bring it about, V: chosen, what tables show of
/// volts.
const COUNTS: f64 = 5e-3;
/// The same of what a sentence asks of a part, as a share of its limit: chosen, what tables show of it.
const COUNTS_SHARE: f64 = 1e-3;

/// The parts that bring a worst case about, the weightiest first: what one does to the level and to the threshold together.
#[must_use]
pub fn parts_moved(side: &SideMargin) -> Vec<PartMoved> {
    parts_of(&[&side.level_case, &side.threshold_case], COUNTS)
}

/// The same of what a sentence asks of a part; what each takes is in the unit of that.
#[must_use]
pub fn duty_parts(duty: &DutyMargin) -> Vec<PartMoved> {
    parts_of(&[&duty.case], duty_counts(duty))
}

fn duty_counts(duty: &DutyMargin) -> f64 {
    COUNTS_SHARE * duty.limit.abs()
}

/// The parts of some cases that take as much as this or more.
fn parts_of(cases: &[&Case], least: f64) -> Vec<PartMoved> {
    let mut parts: Vec<PartMoved> = Vec::new();
    for (case, moved) in cases.iter().enumerate() {
        for moved in moved.moved.iter().filter(|moved| moved.volts.is_finite()) {
            let own = Move::of(moved, case);
            let known = parts
                .iter_mut()
                .find(|part| (part.member, part.piece) == (moved.member, moved.piece));
            let Some(part) = known else {
                parts.push(PartMoved {
                    member: moved.member,
                    piece: moved.piece,
                    count: moved.count,
                    moves: vec![own],
                });
                continue;
            };
            let same = part
                .moves
                .iter_mut()
                .find(|other| other.stands() == own.stands());
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
        part.moves.retain(|one| least <= one.volts);
        part.moves
            .sort_by(|left, right| right.volts.total_cmp(&left.volts));
    }
    parts.retain(|part| !part.moves.is_empty());
    parts.sort_by(|left, right| right.volts().total_cmp(&left.volts()));
    parts
}

/// By how much a number that is known at every corner is larger at the one that has a rail at its other end; `None` where that was
/// not tried.
fn turned(margins: &Margins, by_corner: &[f64], corner: usize, rail: usize) -> Option<f64> {
    let mut sides = margins.corners[corner].sides.clone();
    sides[rail] = -sides[rail];
    let other = margins.corners.iter().position(|one| one.sides == sides)?;
    let by = by_corner[other] - by_corner[corner];
    by.is_finite().then_some(by)
}

/// Rails of a side's corner that would stand elsewhere to no lesser effect are left out: of each rail it is looked up what
/// the margin is where that rail alone is at its other end.
#[must_use]
pub fn rails_that_count(margins: &Margins, side: &SideMargin) -> Vec<usize> {
    rails_of(margins, side.corner, &side.by_corner, COUNTS)
}

/// The same of a number that is known at every corner, for what changes it by as much as this.
fn rails_of(margins: &Margins, corner: usize, by_corner: &[f64], least: f64) -> Vec<usize> {
    let here = &margins.corners[corner].sides;
    (0..here.len())
        .filter(|&rail| here[rail] != 0)
        .filter(|&rail| turned(margins, by_corner, corner, rail).is_none_or(|by| least <= by.abs()))
        .collect()
}

/// Rails that change what is to spare of some connections where they alone go from one end to the other, at any corner where
/// that was tried.
#[must_use]
pub fn rails_that_matter(margins: &Margins, connections: &[&ConnectionMargin]) -> Vec<usize> {
    let changes = |rail: usize, side: &SideMargin| {
        let corners = 0..margins.corners.len();
        let moved = corners.filter(|&corner| margins.corners[corner].sides[rail] != 0);
        let by = |corner| turned(margins, &side.by_corner, corner, rail);
        moved.filter_map(by).any(|volts| COUNTS <= volts.abs())
    };
    let rails = margins
        .corners
        .first()
        .map_or(0, |corner| corner.sides.len());
    (0..rails)
        .filter(|&rail| {
            let mut sides = connections.iter().flat_map(|one| [&one.down, &one.up]);
            sides.any(|side| changes(rail, side))
        })
        .collect()
}

/// A rail off its volts as typed, with what that alone does to a margin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RailMoved {
    /// Its place in the design.
    pub rail: usize,
    /// Where it stands, V.
    pub stands: f64,
    /// Volts by which the margin is smaller than with it as typed: half of what lies between its ends, in a straight line.
    pub volts: f64,
    /// The same for each per cent of its volts.
    pub volts_per_cent: f64,
}

/// Every rail that takes something from a margin by itself, the others and the worst parts of either corner where they are; none
/// of which the other end was not tried.
#[must_use]
pub fn rails_moved(plan: &Plan, margins: &Margins, side: &SideMargin) -> Vec<RailMoved> {
    let corner = &margins.corners[side.corner];
    let moved = rails_that_count(margins, side).into_iter();
    moved
        .filter_map(|rail| {
            let volts = turned(margins, &side.by_corner, side.corner, rail)? / 2.0;
            Some(RailMoved {
                rail,
                stands: corner.volts[rail],
                volts,
                volts_per_cent: volts / (100.0 * plan.design.rails[rail].tolerance),
            })
        })
        .collect()
}

/// `G1.R2`, round a circuit alone `R2 of load 1 of y`, `the bench's resistor of the switch of take`
#[must_use]
pub fn part_name(plan: &Plan, part: &PartMoved) -> String {
    piece_name(plan, part.member, part.piece)
}

/// The same of a piece of a member.
#[must_use]
pub fn piece_name(plan: &Plan, member: MemberIndex, piece: Piece) -> String {
    let nets = &plan.members[member].nets;
    let net = |signal: usize| &plan.nets[nets[signal]].name;
    match piece {
        Piece::Part(part) => plan.name_of(member, &plan.circuit(member).parts[part].mark),
        Piece::Switch { signal } => {
            format!("the bench's resistor of the switch of {}", net(signal))
        }
        Piece::Diodes => "diodes".to_owned(),
        Piece::Heaters(rail) => format!("heater rail {}", plan.design.rails[rail.0].name),
        Piece::Load { signal, number } => {
            let several = plan.resistors.get(&nets[signal]);
            let which = match several.map_or(0, Vec::len) {
                0 | 1 => String::new(),
                _ => format!(" {}", number + 1),
            };
            format!("the bench's load{which} on {}", net(signal))
        }
    }
}

fn percent(share: f64) -> String {
    show(share, Unit::Percent, 3)
}

/// Where a quantity stands: `high` at the end of its band, `12 % high`, `at 50 % of its book current`, `cut off 100 mV late`.
#[must_use]
pub fn stands(quantity: Quantity, value: f64, at_end: bool, other_half: Option<f64>) -> String {
    let side = if quantity.book() < value {
        "high"
    } else {
        "low"
    };
    match quantity {
        Quantity::Ohms if at_end => side.to_owned(),
        Quantity::Ohms => format!("{} {side}", percent((value - 1.0).abs())),
        Quantity::Current => {
            let other = other_half.map(|share| {
                let share = percent(share);
                format!(", the other half at {share}")
            });
            format!(
                "at {} of its book current{}",
                percent(value),
                other.unwrap_or_default()
            )
        }
        Quantity::Mu => format!("with {} of its mu", percent(value)),
        Quantity::CutOff => {
            let when = if 0.0 < value { "late" } else { "early" };
            format!("cut off {} {when}", show(value.abs(), Unit::Volt, 3))
        }
        Quantity::Reverse => format!(
            "with {} of reverse grid current",
            show(value, Unit::Ampere, 3)
        ),
        Quantity::Saturation => format!(
            "with {} times its saturation current",
            show(value, Unit::None, 2)
        ),
        Quantity::Strike => format!("striking {} {side}", show(value.abs(), Unit::Volt, 3)),
        Quantity::Maintain => format!("lit at volts {} {side}", show(value.abs(), Unit::Volt, 3)),
        Quantity::Temperature => {
            let celsius = show(value - ZERO_CELSIUS_KELVIN, Unit::Celsius, 3);
            format!("at {celsius}")
        }
        Quantity::HeaterVolts => format!("{} {side}", percent(value.abs())),
        Quantity::Leakage => format!("leaking as through {}", show(1.0 / value, Unit::Ohm, 3)),
    }
}

/// How one quantity of a part stands: where it stands otherwise for the threshold than for the level, for which of them.
#[must_use]
pub fn standing_of(part: &PartMoved, one: &Move) -> String {
    let mut others = part.moves.iter();
    let torn = others.any(|other| other.quantity == one.quantity && other.stands() != one.stands());
    match one.cases {
        [true, false] if torn => format!("{} for the level", one.words()),
        [false, true] if torn => format!("{} for the threshold", one.words()),
        _ => one.words(),
    }
}

/// `G1.R2 high`, `D1.R1 (and 2 alike) low`, `G1.V1 at 50 % of its book current, with 90 % of its mu`: all that counts of the
/// part, what counts most first.
#[must_use]
pub fn moved_in_words(plan: &Plan, part: &PartMoved) -> String {
    let alike = match part.count {
        0 | 1 => String::new(),
        count => format!(" (and {} alike)", count - 1),
    };
    let stands: Vec<String> = part
        .moves
        .iter()
        .map(|one| standing_of(part, one))
        .collect();
    format!("{}{alike} {}", part_name(plan, part), stands.join(", "))
}

/// Where some rails stand: `upper 34.2 V, lower −25.2 V`; those at their book values are left out.
#[must_use]
pub fn corner_in_words(
    plan: &Plan,
    corner: &RailCorner,
    rails: impl Iterator<Item = usize>,
) -> String {
    let off: Vec<String> = rails
        .filter(|&rail| corner.sides[rail] != 0)
        .map(|rail| {
            let volts = show(corner.volts[rail], Unit::Volt, 3);
            format!("{} {volts}", plan.design.rails[rail].name)
        })
        .collect();
    if off.is_empty() {
        "rails as typed".to_owned()
    } else {
        off.join(", ")
    }
}

/// How a worst case comes about: the weightiest parts, how many more, and the rails.
#[must_use]
pub fn case_in_words(plan: &Plan, margins: &Margins, side: &SideMargin) -> String {
    let rails = rails_that_count(margins, side);
    in_words(plan, margins, &parts_moved(side), (side.corner, rails))
}

/// The same of what a sentence asks of a part.
#[must_use]
pub fn duty_in_words(plan: &Plan, margins: &Margins, duty: &DutyMargin) -> String {
    let rails = rails_of(margins, duty.corner, &duty.by_corner, duty_counts(duty));
    in_words(plan, margins, &duty_parts(duty), (duty.corner, rails))
}

/// The same of a level that nothing asks for.
#[must_use]
pub fn free_in_words(plan: &Plan, margins: &Margins, level: &FreeLevel) -> String {
    let rails = rails_of(margins, level.corner, &level.by_corner, COUNTS);
    let parts = parts_of(&[&level.case], COUNTS);
    in_words(plan, margins, &parts, (level.corner, rails))
}

/// How it comes about that so little is left between both levels of an output: the weightiest parts of each, and the rails.
#[must_use]
pub fn swing_in_words(plan: &Plan, margins: &Margins, output: &FreeOutput) -> String {
    let of = |value: &str, case: &Case| {
        let parts = parts_of(&[case], COUNTS);
        let parts = parts.iter().take(NAMED_PARTS);
        let words: Vec<String> = parts.map(|part| moved_in_words(plan, part)).collect();
        format!("when {value} {}", words.join("; "))
    };
    let corner = &margins.corners[output.corner];
    let [down, up] = &output.cases;
    format!(
        "{}; {}; {}",
        of("down", down),
        of("up", up),
        corner_in_words(plan, corner, 0..corner.sides.len())
    )
}

fn in_words(
    plan: &Plan,
    margins: &Margins,
    parts: &[PartMoved],
    (corner, rails): (usize, Vec<usize>),
) -> String {
    let mut words: Vec<String> = parts
        .iter()
        .take(NAMED_PARTS)
        .map(|part| moved_in_words(plan, part))
        .collect();
    let further = parts.len().saturating_sub(NAMED_PARTS);
    if 0 < further {
        words.push(format!("{further} more"));
    }
    words.push(corner_in_words(
        plan,
        &margins.corners[corner],
        rails.into_iter(),
    ));
    words.join("; ")
}

/// The state that is lost: `q up and qn down, while set is down and reset is down`.
#[must_use]
pub fn state_in_words(plan: &Plan, members: &[MemberIndex], values: &Values) -> String {
    let of = |outputs: bool| {
        let mut nets: Vec<NetIndex> = Vec::new();
        for &member in members {
            let inputs = plan.circuit(member).interface.inputs;
            let (before, behind) = plan.members[member].nets.split_at(inputs);
            nets.extend(if outputs { behind } else { before });
        }
        nets.retain(|net| !plan.is_supply(*net));
        nets.sort_unstable();
        nets.dedup();
        nets
    };
    let own = of(true);
    let said = |nets: &[NetIndex], verb: &str| {
        let words = nets.iter().filter_map(|net| {
            let value = if *values.get(net)? { "up" } else { "down" };
            Some(format!("{}{verb} {value}", plan.nets[*net].name))
        });
        words.collect::<Vec<_>>().join(" and ")
    };
    let mut outer = of(false);
    outer.retain(|net| !own.contains(net));
    let stored = said(&own, "");
    if outer.is_empty() {
        stored
    } else {
        format!("{stored}, while {}", said(&outer, " is"))
    }
}

/// All that it takes for a state to be lost: parts off their book values, and where the rails stand.
#[must_use]
pub fn lost_in_words(plan: &Plan, margins: &Margins, state: &LostState) -> String {
    let moved = state.case.moved.iter();
    let mut words: Vec<String> = moved
        .map(|moved| {
            let part = PartMoved {
                member: moved.member,
                piece: moved.piece,
                count: moved.count,
                moves: vec![Move::of(moved, 0)],
            };
            moved_in_words(plan, &part)
        })
        .collect();
    let corner = &margins.corners[state.corner];
    words.push(corner_in_words(plan, corner, 0..corner.sides.len()));
    words.join("; ")
}
