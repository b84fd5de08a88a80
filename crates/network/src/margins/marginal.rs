//! Marginal check: how far each rail can be moved before the first connection fails, at the parts' book values; and, given the
//! rail at which a board fails, which part must be how far off that it does.
//!
//! The check moves one supply at a time on the bench: a machine with new parts bears what is computed here, and one that fails
//! earlier has a part that has drifted.

use super::corners::RailCorner;
use crate::finding::Finding;
use crate::judge::Context;
use crate::plan::{MemberIndex, NetIndex, Plan};
use crate::rows::{Others, Values};
use crate::variation::SpreadAssumptions;
use crate::verdict::Verdict;
use design::model::RailId;
use moving::{heated, moved_rails as moved_from};
use standing::{Standing, standings};
use stopping::{stop_at_parts, stop_heaters_at_parts};
use text::diagnostic::Severity;

mod moving;
mod setup;
mod standing;
mod stopping;
mod suspects;
mod telling;
mod tubes;

pub use setup::SetUp;
pub use suspects::{Suspect, Tells, WEAKEST, suspects};
pub use telling::{
    Apart, MOST_PLACES, MOST_SUSPECTS, PART_OF_THE_WAY, Place, SameReadings, told_apart,
};

/// A rail is moved by up to this share of its volts: chosen; no supply of a bench is moved further for a check.
pub const FURTHEST_SHARE: f64 = 0.5;

/// One side of a connection at some volts of the rails, every part at its book value.
#[derive(Debug, Clone, PartialEq)]
pub struct Near {
    /// The net.
    pub net: NetIndex,
    /// Member and signal that drive it; `None` for a switch.
    pub driver: Option<(MemberIndex, usize)>,
    /// Member and signal driven.
    pub load: (MemberIndex, usize),
    /// When up (else when down).
    pub up: bool,
    /// The driver's inputs then; of a switch its value.
    pub inputs: Vec<bool>,
    /// Where its loads' other inputs stand.
    pub others: Others,
    /// Volts of the net.
    pub level: f64,
    /// The threshold of the load, V.
    pub threshold: f64,
}

impl Near {
    /// Volts to spare; negative is short.
    #[must_use]
    pub fn spare(&self) -> f64 {
        if self.up {
            self.level - self.threshold
        } else {
            self.threshold - self.level
        }
    }
}

/// How something fails.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Why {
    /// A connection falls short.
    Short,
    /// A unit, or those of a ring, no longer keep a state that is stored.
    Loses,
    /// A gate no longer amplifies, or comes to no rest.
    NotKnown,
    /// A lamp or load no longer does what a sentence asks of it.
    NotDone,
}

/// What fails first, with the tube that is given too little, and the state in which it is.
#[derive(Debug, Clone, PartialEq)]
pub struct Failure {
    /// How.
    pub why: Why,
    /// The connection that falls short; of a state that is lost the one with the least to spare in it, among those that store it.
    pub near: Option<Near>,
    /// What a check with the rail there says of the lamp or load that does otherwise than a sentence asks.
    pub not_done: Option<Finding>,
    /// The unit that drives the connection; those that lose a state; the gate that no longer amplifies; that of a lamp or load.
    pub members: Vec<MemberIndex>,
    /// The tube that fails to follow: member and part. `None` where none hangs behind the input.
    pub tube: Option<(MemberIndex, usize)>,
    /// Values of the nets around it: the driver's inputs and its output, or all that is stored and what feeds it.
    pub state: Values,
}

/// One rail moved one way.
#[derive(Debug, Clone, PartialEq)]
pub struct Moved {
    /// Which.
    pub rail: RailId,
    /// Moved away from ground (a higher magnitude) or towards it.
    pub larger: bool,
    /// Volts at which everything still stands.
    pub stands: f64,
    /// Volts at which something fails; `None` when nothing does down or up to [`FURTHEST_SHARE`], or before a rating is passed.
    pub fails: Option<f64>,
    /// What fails there first.
    pub first: Option<Failure>,
    /// The rating that would be passed beyond `stands`, before anything fails.
    pub stopped: Option<Stop>,
    /// Both sides of every connection that has a threshold, at the last volts that stand, least to spare first.
    pub next: Vec<Near>,
}

/// A rating that ends the moving of a rail.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stop {
    /// Whose rating: `S1.V1`, or a heater.
    pub subject: String,
    /// What would pass it: `plate volts`; the name of the finding where no number is compared.
    pub what: String,
    /// What it is called: `rating (DM160)`; empty where no number is compared.
    pub rating: String,
}

impl Moved {
    /// What fails there first, or would if no rating stood in the way; `None` where nothing does.
    #[must_use]
    pub fn failure(&self, plan: &Plan) -> Option<Failure> {
        let next = || self.next.first().filter(|_| self.is_step());
        self.first
            .clone()
            .or_else(|| next().map(|near| Failure::short(plan, near)))
    }

    /// Whether there is something to look for on the bench: it fails, or would if no rating stood in the way.
    #[must_use]
    pub fn is_step(&self) -> bool {
        self.fails.is_some() || self.stopped.is_some() && !self.next.is_empty()
    }
}

/// Every rail moved each way.
#[derive(Debug, Clone, PartialEq)]
pub struct MarginalCheck {
    /// With the rails as typed and every part at its book value nothing fails; nothing is moved otherwise.
    pub stands: bool,
    /// What fails then.
    pub fails_as_typed: Option<Failure>,
    /// Every rail that feeds circuits towards ground and away from it; empty where nothing driven has a threshold and no sentence asks
    /// anything of a part.
    pub moved: Vec<Moved>,
    /// In which order to do so on the bench: indices into `moved`.
    pub order: Vec<usize>,
    /// What tells the suspects of each of `moved` apart; `None` of what is no step, or ends at a lamp or load.
    pub apart: Vec<Option<Apart>>,
    /// The heaters of all tubes by [`HEATERS_SHARE`] down, and up; empty where nothing is moved.
    pub heaters: Vec<Heated>,
    /// Input resistance of the meter, ohm.
    pub meter_ohms: f64,
}

/// By how much heaters are taken down and up, a share of their volts (a marginal check of the 1950s, and the most that leaves
/// oxide cathodes unharmed: common practice, no source).
pub const HEATERS_SHARE: f64 = 0.1;

/// The heaters of all tubes off their volts, one way.
#[derive(Debug, Clone, PartialEq)]
pub struct Heated {
    /// By how much everything stands, a share of their volts; negative is down.
    pub share: f64,
    /// By how much something fails; `None` where nothing does within [`HEATERS_SHARE`].
    pub fails_at: Option<f64>,
    /// What fails there first.
    pub first: Option<Failure>,
    /// Both sides of every connection that has a threshold at `share`, least to spare first.
    pub next: Vec<Near>,
}

/// Findings after which no rail is moved: gates that do not do what they are said to with the rails as typed.
const DOES_NOT_WORK: [&str; 13] = [
    "not-judged",
    "no-curve",
    "sources-clash",
    "floating-net",
    "does-not-settle",
    "wrong-function",
    "not-cut-off",
    "down-level-too-high",
    "up-level-too-low",
    "overloaded",
    "no-restoring",
    "state-lost",
    "stores-nothing",
];

/// The faults of a check that say that gates do not do what they are said to with the rails as typed.
#[must_use]
pub fn faults_as_typed<'v>(verdict: &'v Verdict) -> Vec<&'v Finding> {
    let faults = verdict.findings.iter().filter(|finding| {
        finding.severity == Severity::Fault && DOES_NOT_WORK.contains(&finding.name)
    });
    faults.collect()
}

/// Told now and then what the check is at: `ratings`.
pub type Telling<'a> = &'a mut dyn FnMut(&str);

/// Moves every rail that feeds circuits both ways, one at a time, and puts that in an order for the bench.
#[must_use]
pub fn marginal_check(
    verdict: &Verdict,
    meter_ohms: f64,
    spread: &SpreadAssumptions,
    context: &Context,
    telling: Telling,
) -> MarginalCheck {
    let mut check = MarginalCheck {
        stands: true,
        fails_as_typed: None,
        moved: Vec::new(),
        order: Vec::new(),
        apart: Vec::new(),
        heaters: Vec::new(),
        meter_ohms,
    };
    let has_thresholds = has_thresholds(verdict);
    if !has_thresholds && !asks_of_parts(verdict) {
        check.stands = faults_as_typed(verdict).is_empty();
        return check;
    }
    let book = standing_at(verdict, as_typed(verdict), context);
    if book.fails() || !faults_as_typed(verdict).is_empty() {
        let nearest = book.nearest(verdict);
        check.stands = false;
        check.fails_as_typed = book.fails().then(|| book.failure(verdict, &nearest));
        return check;
    }
    check.moved = moved_from(verdict, &book, telling, context);
    stop_at_parts(verdict, &book, &mut check.moved, telling, context);
    check.order = bench_order(verdict, &check.moved);
    telling("heaters");
    check.heaters = vec![
        heated(verdict, &book, true, context),
        heated(verdict, &book, false, context),
    ];
    if asks_of_parts(verdict) {
        stop_heaters_at_parts(verdict, &book, &mut check.heaters, context);
    }
    for (index, moved) in check.moved.iter().enumerate() {
        telling(&format!(
            "who may be to blame, way {} of {}",
            index + 1,
            check.moved.len()
        ));
        let apart = told_apart(verdict, moved, meter_ohms, spread, context);
        check.apart.push(apart);
    }
    check
}

/// Moves every rail that feeds circuits both ways, one at a time, as far as levels allow; nothing where something fails as typed.
#[must_use]
pub fn moved_rails(verdict: &Verdict, context: &Context) -> Vec<Moved> {
    let book = standing_at(verdict, as_typed(verdict), context);
    if book.fails() {
        return Vec::new();
    }
    moved_from(verdict, &book, &mut |_| (), context)
}

/// Something that is driven has a threshold.
fn has_thresholds(verdict: &Verdict) -> bool {
    let mut connections = verdict.connections.iter();
    connections.any(|connection| connection.thresholds.is_some())
}

/// A sentence of a unit asks something of a lamp or load.
fn asks_of_parts(verdict: &Verdict) -> bool {
    let plan = &verdict.plan;
    (0..plan.members.len()).any(|member| !plan.circuit(member).duties.is_empty())
}

fn standing_at(verdict: &Verdict, corner: RailCorner, context: &Context) -> Standing {
    let mut found = standings(verdict, &[corner], &[], context);
    found.pop().expect("one for one state of the rails")
}

/// Whether nothing fails with every part at its book value and one rail at some volts, or all as typed.
#[must_use]
pub fn stands_at(verdict: &Verdict, rail: RailId, volts: Option<f64>, context: &Context) -> bool {
    let mut corner = as_typed(verdict);
    if let (Some(volts), Some(place)) = (volts, corner.volts.get_mut(rail.0)) {
        *place = volts;
    }
    !standing_at(verdict, corner, context).fails()
}

/// Whether a rail feeds circuits and can be moved.
#[must_use]
pub fn can_be_moved(verdict: &Verdict, rail: RailId) -> bool {
    let plan = &verdict.plan;
    plan.feeding_rails()[rail.0] && plan.design.rails[rail.0].volts != 0.0
}

/// Towards ground before away from it, which strains parts least; the smallest share of the volts first; and after what has a new
/// connection that fails first whatever only repeats one. What nothing fails in comes last.
fn bench_order(verdict: &Verdict, moved: &[Moved]) -> Vec<usize> {
    let rails = &verdict.plan.design.rails;
    let share = |index: usize| (moved[index].stands / rails[moved[index].rail.0].volts - 1.0).abs();
    let mut order = Vec::new();
    let mut repeats = Vec::new();
    let mut seen: Vec<First> = Vec::new();
    for larger in [false, true] {
        let mut own: Vec<usize> = (0..moved.len())
            .filter(|&index| moved[index].larger == larger && moved[index].is_step())
            .collect();
        own.sort_by(|left, right| share(*left).total_cmp(&share(*right)));
        for index in own {
            match First::of(&moved[index]).filter(|first| !seen.contains(first)) {
                Some(first) => {
                    seen.push(first);
                    order.push(index);
                }
                None => repeats.push(index),
            }
        }
        order.append(&mut repeats);
    }
    order.extend((0..moved.len()).filter(|&index| !moved[index].is_step()));
    order
}

/// What fails first, as the order of the bench tells failures apart.
#[derive(PartialEq)]
enum First<'a> {
    Level(NetIndex, bool),
    Part(&'a str),
}

impl<'a> First<'a> {
    fn of(moved: &'a Moved) -> Option<Self> {
        let first = moved.first.as_ref();
        match first.and_then(|first| first.not_done.as_ref()) {
            Some(finding) => Some(Self::Part(&finding.subject)),
            None => moved
                .next
                .first()
                .map(|near| Self::Level(near.net, near.up)),
        }
    }
}

/// The rails as typed.
fn as_typed(verdict: &Verdict) -> RailCorner {
    let rails = &verdict.plan.design.rails;
    RailCorner {
        volts: rails.iter().map(|rail| rail.volts).collect(),
        sides: vec![0; rails.len()],
    }
}
