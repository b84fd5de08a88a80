//! The marginal check in words: how to do it on the bench, what it tells, and what it cannot.

use super::{listed, percent, shown};
use crate::{decimal, tables};
use design::model::{PartKind, Rail};
use design::wiring::{Point, points_at};
use network::finding::{Amount, Finding};
use network::margins::cases::{piece_name, stands, state_in_words};
use network::margins::marginal::{
    Apart, FURTHEST_SHARE, Failure, HEATERS_SHARE, Heated, MarginalCheck, Moved, PART_OF_THE_WAY,
    Place, Stop, Suspect, WEAKEST, Why,
};
use network::plan::{MemberIndex, NetIndex, Plan};
use network::variation::{Piece, Quantity};
use network::verdict::Verdict;
use text::quantity::Unit;

/// Volts to the hundredth with a true minus sign: what is set on a supply.
pub(crate) fn exact_volts(volts: f64) -> String {
    format!("{} V", decimal::fixed(volts, 2))
}

/// The socket and half of a unit's tube (`V3A`; empty where it has none) and its type.
pub(crate) fn tube_of(verdict: &Verdict, member: MemberIndex, part: usize) -> (String, String) {
    let circuit = verdict.plan.circuit(member);
    let PartKind::Tube(tube) = &circuit.parts[part].kind else {
        return (String::new(), String::new());
    };
    let mut tubes = circuit.tubes();
    let index = tubes.position(|(other, _)| other == part);
    let placed = verdict.plan.design.sockets.iter().find_map(|socket| {
        let halves = socket.halves.iter();
        let half = halves.zip(["A", "B"]).find(|(half, _)| {
            half.is_some_and(|(unit, tube)| unit.0 == member && Some(tube) == index)
        })?;
        Some(match socket.device.sections {
            1 => socket.mark.clone(),
            _ => format!("{}{}", socket.mark, half.1),
        })
    });
    (placed.unwrap_or_default(), tube.device.name.clone())
}

/// Why a rail is moved no further: `no further: plate volts of S1.V1, rating (DM160)`.
pub(crate) fn stopped_by(stop: &Stop) -> String {
    let rating = match stop.rating.as_str() {
        "" => String::new(),
        rating => format!(", {rating}"),
    };
    format!("no further: {} of {}{rating}", stop.what, stop.subject)
}

/// `V9 pin 7 (grid B) of keep.Q2`: the tube that no longer follows, at its grid; `None` where none hangs behind the input.
pub(crate) fn tube_that_gives_way(verdict: &Verdict, first: &Failure) -> Option<String> {
    let (member, part) = first.tube?;
    let plan = &verdict.plan;
    let PartKind::Tube(tube) = &plan.circuit(member).parts[part].kind else {
        return None;
    };
    let node = tube.grid.unwrap_or(tube.cathode);
    let name = &plan.members[member].name;
    let at = point_at(verdict, member, node, Some(part))?;
    Some(format!("{at} of {name}"))
}

/// What is soldered to a node of a unit and can be reached with a meter's clip: a pin of a tube (of a certain one, if that is said), or else
/// the lead of a part.
fn point_at(
    verdict: &Verdict,
    member: MemberIndex,
    node: usize,
    of: Option<usize>,
) -> Option<String> {
    let plan = &verdict.plan;
    let unit = plan.members[member].unit?;
    let all = points_at(plan.design, unit, node);
    let (mark, _) = of.map_or_else(Default::default, |part| tube_of(verdict, member, part));
    let socket = mark.trim_end_matches(['A', 'B']);
    let pin = |point: &&Point| matches!(point, Point::Pin { .. });
    let own = |point: &&Point| matches!(point, Point::Pin { socket: own, .. } if own == socket);
    let found = all.iter().find(own).or_else(|| all.iter().find(pin));
    found.or_else(|| all.first()).map(tables::point)
}

/// Where a meter is put: `V9 pin 6 (plate A), borrow`; a net without a pin or part of its driver by those of what it drives.
pub(crate) fn meter_at(verdict: &Verdict, place: Place) -> String {
    let plan = &verdict.plan;
    match place {
        Place::Inner(member, node) => {
            let name = plan.name_of(member, &plan.circuit(member).nodes[node].name);
            match point_at(verdict, member, node, None) {
                Some(point) => format!("{point}, {name}"),
                None => name,
            }
        }
        Place::Net(net) => {
            let name = &plan.nets[net].name;
            let mut pins = plan.drivers[net].iter().chain(&plan.loads[net]);
            match pins.find_map(|&(member, signal)| point_at(verdict, member, signal, None)) {
                Some(point) => format!("{point}, {name}"),
                None => name.clone(),
            }
        }
    }
}

/// `borrow up, even down`
pub(crate) fn state<'v>(
    plan: &Plan,
    values: impl Iterator<Item = (&'v NetIndex, &'v bool)>,
) -> String {
    let words =
        values.map(|(net, up)| format!("{} {}", plan.nets[*net].name, tables::up_or_down(*up)));
    words.collect::<Vec<_>>().join(", ")
}

/// What fails first: `borrow up, too low for keep.Q2.b`, `keep.Q1 and keep.Q2 lose a state`.
pub(crate) fn what_fails(verdict: &Verdict, first: &Failure) -> String {
    let plan = &verdict.plan;
    let names = || {
        first
            .members
            .iter()
            .map(|&member| plan.members[member].name.clone())
    };
    if let Some(finding) = &first.not_done {
        return format!("{} {}", finding.subject, does_otherwise(finding));
    }
    match (first.why, &first.near) {
        (Why::Loses, _) => {
            let verb = if first.members.len() == 1 {
                "loses"
            } else {
                "lose"
            };
            format!("{} {verb} a state", listed(names().collect()))
        }
        (Why::Short, Some(near)) => format!(
            "{} {}, too {} for {}",
            plan.nets[near.net].name,
            tables::up_or_down(near.up),
            if near.up { "low" } else { "high" },
            super::pin_name(plan, near.load)
        ),
        (Why::Short | Why::NotKnown | Why::NotDone, _) => match names().next() {
            Some(name) => format!("{name} no longer amplifies or comes to no rest"),
            None => "a gate no longer amplifies or comes to no rest".to_owned(),
        },
    }
}

/// What a lamp or load does that a sentence does not want.
fn does_otherwise(finding: &Finding) -> &'static str {
    match finding.name {
        "lamp-stays-dark" => "stays dark",
        "lamp-stays-lit" => "stays lit",
        "current-too-small" => "gets too little current",
        "current-too-large" => "gets too much current",
        "current-stays-on" => "keeps a current",
        _ => "does otherwise than its sentence asks",
    }
}

/// What a lamp or load must do where a step ends: `lit`.
pub(crate) fn must_do(finding: &Finding) -> String {
    let limit = finding.needs.as_ref().map(Amount::shown);
    match (finding.name, limit) {
        ("lamp-stays-dark", _) => "lit".to_owned(),
        ("lamp-stays-lit", _) => "dark".to_owned(),
        ("current-too-small", Some(limit)) => format!("at least {limit}"),
        ("current-too-large", Some(limit)) => format!("at most {limit}"),
        ("current-stays-on", Some(limit)) => format!("off, below {limit}"),
        _ => String::new(),
    }
}

/// Which tube gives way first, and how: `V9 pin 7 (grid B) of keep.Q2 is the first to give way: borrow stands at 15.06 V …`.
fn gives_way(verdict: &Verdict, first: &Failure) -> String {
    if let Some(finding) = &first.not_done {
        return finding.cause.clone();
    }
    let plan = &verdict.plan;
    let tube = tube_that_gives_way(verdict, first).map_or_else(String::new, |tube| {
        format!("The first tube to give way is at {tube}. ")
    });
    let level = first.near.as_ref().map_or_else(String::new, |near| {
        format!(
            "{} stands at {} when {} and must stay {} {}. ",
            plan.nets[near.net].name,
            exact_volts(near.level),
            tables::up_or_down(near.up),
            if near.up { "above" } else { "below" },
            exact_volts(near.threshold)
        )
    });
    let state = match first.why {
        Why::Loses => state_in_words(plan, &first.members, &first.state),
        Why::Short | Why::NotKnown | Why::NotDone => state(plan, first.state.iter()),
    };
    let state = if state.is_empty() {
        String::new()
    } else {
        format!("That is with {state}.")
    };
    format!("{tube}{level}{state}").trim_end().to_owned()
}

/// What fails as typed, where something does: nothing is moved then.
#[must_use]
pub fn fails_as_typed(verdict: &Verdict, check: &MarginalCheck) -> Vec<String> {
    let mut all = vec!["This machine fails with its rails as typed and every part by the book. A marginal check asks how far a machine that works can be moved, so no rail is moved and there is no sheet for the bench before this is mended.".to_owned()];
    if let Some(first) = &check.fails_as_typed {
        all.push(format!(
            "What fails: {}. {}",
            what_fails(verdict, first),
            gives_way(verdict, first)
        ));
    }
    all
}

/// Of every step that fails which tube gives way first and in which state.
fn who_gives_way(verdict: &Verdict, check: &MarginalCheck) -> Vec<String> {
    let steps = check.order.iter().enumerate();
    steps
        .filter_map(|(index, &place)| {
            let first = check.moved[place].first.as_ref()?;
            Some(
                format!("Step {}: {}.", index + 1, what_fails(verdict, first))
                    + " "
                    + &gives_way(verdict, first),
            )
        })
        .collect()
}

/// How the machine is brought to where a step is read.
#[must_use]
pub fn how_to_bring_about(verdict: &Verdict, step: usize, apart: &Apart) -> String {
    let plan = &verdict.plan;
    let pairs = |all: &[(NetIndex, bool)]| {
        listed(
            all.iter()
                .map(|(net, up)| format!("{} {}", plan.nets[*net].name, tables::up_or_down(*up)))
                .collect(),
        )
    };
    let wanted = state(plan, apart.state.iter());
    let Some(set_up) = &apart.set_up else {
        return format!(
            "Step {step}: bring the machine to where {wanted}; no way there by the sentences of its units was found."
        );
    };
    let mut ways = Vec::new();
    if !set_up.switches.is_empty() {
        ways.push(format!("set the switches {}", pairs(&set_up.switches)));
    }
    if !set_up.held.is_empty() {
        ways.push(format!(
            "hold {}, which nothing drives",
            pairs(&set_up.held)
        ));
    }
    let ways = if ways.is_empty() {
        String::new()
    } else {
        ways.join("; ")
    };
    if set_up.stored.is_empty() {
        return format!("Step {step}, for {wanted}: {ways}. All that is read follows from these.");
    }
    let stored = pairs(&set_up.stored);
    let ways = if ways.is_empty() {
        ways
    } else {
        format!(", then {ways}")
    };
    format!(
        "Step {step}, for {wanted}: run the machine, rails as typed, until it has stored {stored}{ways}; it must still have that stored when you read. All else follows from these."
    )
}

/// Suspects in one cell: `V3 at 12.5 % of its book current (minus.N5.V1); minus.N6.R2 27.7 % low`.
pub(crate) fn suspects_in_words(verdict: &Verdict, suspects: &[Suspect]) -> String {
    let mut words: Vec<String> = suspects
        .iter()
        .take(NAMED_SUSPECTS)
        .map(|suspect| {
            let plan = &verdict.plan;
            let name = piece_name(plan, suspect.member, Piece::Part(suspect.part));
            let stands = stands(suspect.quantity, suspect.value, false, None);
            let (tube, _) = tube_of(verdict, suspect.member, suspect.part);
            if tube.is_empty() {
                format!("{name} {stands}")
            } else {
                format!("{tube} ({name}) {stands}")
            }
        })
        .collect();
    let further = suspects.len().saturating_sub(NAMED_SUSPECTS);
    if 0 < further {
        words.push(format!("{further} more"));
    }
    words.join("; ")
}

/// Suspects named in one cell; the rest is counted.
const NAMED_SUSPECTS: usize = 4;

/// What a step's readings leave open.
#[must_use]
pub fn left_open(verdict: &Verdict, step: usize, rail: &str, apart: &Apart) -> Vec<String> {
    let mut all = Vec::new();
    let found = !apart.rows.is_empty() || !apart.untold.is_empty();
    if !found {
        all.push(format!("Step {step}: no part alone explains a machine that stands as typed and first fails with {rail} near {}: look for a supply that sags, a bad joint, or two parts together.", exact_volts(apart.fails_at)));
    }
    if !apart.untold.is_empty() {
        all.push(format!(
            "Step {step}: not told apart by these readings, because they read as a good machine: {}.",
            suspects_in_words(verdict, &apart.untold)
        ));
    }
    if apart.rows.iter().any(|row| 1 < row.suspects.len()) {
        all.push(format!("Step {step}: suspects in one row read alike; they are told apart by exchanging only, tubes first, power off, or cold by the ohmmeter."));
    }
    if 0 < apart.further {
        all.push(format!("Step {step}: {} further suspects would have to be further off for their bands and are not in the table; `valvewright marginal --rail {rail} --fails-at VOLTS` names all.", apart.further));
    }
    all
}

/// Where nothing that is driven has a threshold.
pub(crate) const NOTHING_TO_MOVE: &str = "Nothing here is driven that has a threshold, and no sentence asks anything of a lamp or load: there is nothing that a rail could bring to fail.";

/// What to do before and while the rails are moved, in order.
#[must_use]
pub fn before_the_rails_move() -> Vec<String> {
    [
        "The chassis is live all the while. With the power off, and once the bleeders have emptied every rail and the meter says so, clip the meter's leads on; then switch on. One hand, the other away from the chassis; nothing metal on it. Local codes and licensed practice come first.",
        "Let the machine warm up (half an hour; common practice, no source), set every rail as typed by the meter and not by the knob, and let the machine run a task whose result you know.",
        "Move one rail slowly to the volts of the step, and take it back before the next. Where a step's state is more than you can bring about while the rail moves, let the machine run its task. At these volts a machine with parts as the book has them just stands, or one of its parts is just at its rating.",
    ]
    .map(str::to_owned)
    .into()
}

/// What the check tells, and what it cannot.
#[must_use]
pub fn about_marginal(verdict: &Verdict, check: &MarginalCheck) -> Vec<String> {
    let mut all = who_gives_way(verdict, check);
    all.push("The steps stand in the order in which they separate suspects: rails taken towards ground first, which strains parts least; then the one that has least to go; and what only repeats a net comes after what has a new one.".to_owned());
    let told = |place: &&usize| check.apart[**place].is_some();
    let told = check.order.iter().find(told);
    if let Some(&place) = told {
        all.push(format!(
            "If the machine fails before a step's volts are reached, write those volts down and take the rail back to as typed, where the machine works. Bring it to the step's state, read the places of its table, and compare: the row that your readings are nearest to names what to exchange first. The table is for a machine that fails {} of the way to the step's volts; one that fails sooner reads further from a good one. A meter of {} is in every reading, and readings nearer than 50 mV or 1 % count as the same. Parts within their tolerances move plates that are up by more than that: hold such a reading against that of a like gate.",
            sentence_of_share(PART_OF_THE_WAY),
            shown(check.meter_ohms, Unit::Ohm),
        ));
        all.push(format!(
            "For the volts at which it fails ask what may be to blame: `valvewright marginal --rail {} --fails-at VOLTS`.",
            verdict.plan.design.rails[check.moved[place].rail.0].name
        ));
    }
    all.push("No step passes a rating that is kept as typed: plates, grids, watts, currents and heaters were held against theirs in every row, plates and grids with cold tubes as well, the moved rail as the meter shows it and the others at the top of their tolerance. Where a rating comes first the step ends there, and what would fail beyond it is not to be looked for. What its supply may give, and what a missing rail does then, `valvewright try` with the rail's name and those volts says.".to_owned());
    if check.moved.iter().any(ends_at_a_part) {
        all.push("Lamps and loads were held against the sentences of their circuits in every row, as `check` does, with the moved rail as the meter shows it. A step that ends at one has no table of suspects: watch the lamp, or the load and its current; where it fails before the step's volts it is the first to blame, then the tube that switches it. So it is with heaters off their volts.".to_owned());
    }
    all.extend(
        check
            .heaters
            .iter()
            .map(|heated| about_heaters(verdict, heated)),
    );
    if !check.heaters.is_empty() {
        all.push("Leave the heaters there for some minutes before you read. A good tube hardly changes; one that has little emission left falls far below what is said here, for emission that runs out is not computed.".to_owned());
    }
    all.push(format!(
        "A rail is moved by {} at the most, the others stand as typed, and everything is at rest: noise, timing and what other units' currents do to a soft supply are not in it. Where what fails first still has volts to spare, no level fails there: a stored state is lost, or a gate no longer amplifies.",
        percent(FURTHEST_SHARE)
    ));
    all
}

/// A step ends where a lamp or load does otherwise than its sentence asks.
fn ends_at_a_part(moved: &Moved) -> bool {
    let first = moved.first.as_ref();
    first.is_some_and(|first| first.not_done.is_some())
}

/// `two thirds`, or per cents.
fn sentence_of_share(share: f64) -> String {
    if (share - 2.0 / 3.0).abs() < 1e-9 {
        "two thirds".to_owned()
    } else {
        percent(share)
    }
}

/// What heaters off their volts do.
fn about_heaters(verdict: &Verdict, heated: &Heated) -> String {
    let down = heated.fails_at.unwrap_or(heated.share) < 0.0;
    let (way, later) = if down {
        ("down", "later")
    } else {
        ("up", "earlier")
    };
    let said = match (&heated.first, heated.fails_at) {
        (Some(first), Some(at)) => format!(
            "With parts by the book everything stands to {} {way} and at {} {way} something fails: {}. {}",
            percent(heated.share.abs()),
            percent(at.abs()),
            what_fails(verdict, first),
            gives_way(verdict, first)
        ),
        _ => {
            let least = heated.next.first().map(|near| {
                format!(
                    "; least to spare has {} when {}: it reads {} and must stay {} {}",
                    verdict.plan.nets[near.net].name,
                    tables::up_or_down(near.up),
                    exact_volts(near.level),
                    if near.up { "above" } else { "below" },
                    exact_volts(near.threshold),
                )
            });
            format!(
                "With parts by the book everything stands{}.",
                least.unwrap_or_default()
            )
        }
    };
    format!(
        "Heaters of all tubes up to {} {way}: a tenth of their volts makes every tube conduct about 0.1 V {later} (common practice, no source). {said}",
        percent(HEATERS_SHARE)
    )
}

/// What suspects mean.
#[must_use]
pub fn about_suspects(rail: &Rail, volts: f64, suspects: &[Suspect]) -> Vec<String> {
    let mut all = Vec::new();
    let at = format!("{} at {}", rail.name, shown(volts, Unit::Volt));
    let weak = |suspect: &Suspect| suspect.quantity == Quantity::Current && suspect.value < 1.0;
    if !suspects.iter().any(weak) {
        all.push(format!(
            "No weak tube, down to {} of its book current, explains a machine that stands as typed and first fails with {at}.",
            percent(WEAKEST),
        ));
    }
    if suspects.is_empty() {
        all.push("Nor does a tube that draws twice its current or cuts off a volt early or late, nor a resistor of twice or half its ohms, one alone: look for a supply that sags, a bad joint, a diode, or two parts together. What sentences ask of lamps and loads was not looked at.".to_owned());
        return all;
    }
    all.push(format!(
        "Each row is one part alone, every other by the book, with which the machine stands as typed and on the way, and first fails with {at}. Once its band or less is what a good part may be; many times its band asks for one that is nearly dead."
    ));
    all.push("To tell them apart set the rails as typed, read the net that a row names with every part warm, and compare: where it reads as a good machine's, that row is not to blame; where it reads as the row says, exchange that part first, power off, and do the step again. Rows that name the same net and the same volts are told apart by exchanging only. Cold, with the plugs out and the bleeders done, the ohmmeter decides on resistors.".to_owned());
    all.push(format!(
        "Tried were tubes from {} to twice their current, with a grid that conducts up to a volt early or late or gives up to 5 µA, and resistors from half to twice their ohms; diodes and whatever else hangs on the board were not, and what sentences ask of lamps and loads was not looked at.",
        percent(WEAKEST)
    ));
    all
}
