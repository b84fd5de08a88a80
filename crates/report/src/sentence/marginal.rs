//! The marginal check in words: how to do it on the bench, what it tells, and what it cannot.

use super::{listed, percent, shown};
use crate::decimal;
use design::model::{PartKind, Rail};
use network::margins::marginal::{FURTHEST_SHARE, Heated, MarginalCheck, Stop, Suspect, WEAKEST};
use network::plan::MemberIndex;
use network::variation::Quantity;
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

/// Where nothing that is driven has a threshold.
pub(crate) const NOTHING_TO_MOVE: &str = "Nothing here is driven that has a threshold: there is nothing that a rail could bring to fail.";

/// What to do before and while the rails are moved, in order.
#[must_use]
pub fn before_the_rails_move() -> Vec<String> {
    [
        "The chassis is live all the while. With the power off, and once the bleeders have emptied every rail and the meter says so, clip the meter's leads on; then switch on. One hand, the other away from the chassis; nothing metal on it. Local codes and licensed practice come first.",
        "Let the machine warm up (half an hour; common practice, no source), set every rail as typed by the meter and not by the knob, and let the machine run a task whose result you know.",
        "Move one rail slowly to the volts of the step, and take it back before the next. At these volts a machine with parts as the book has them just stands, or one of its parts is just at its rating.",
    ]
    .map(str::to_owned)
    .into()
}

/// What the check tells, and what it cannot.
#[must_use]
pub fn about_marginal(verdict: &Verdict, check: &MarginalCheck) -> Vec<String> {
    let mut all = Vec::new();
    if !check.stands {
        all.push("With the rails as typed and parts by the book something fails already: `valvewright check` says what. A marginal check means nothing before that is mended.".to_owned());
    }
    all.push("The steps stand in the order in which they separate suspects: rails taken towards ground first, which strains parts least; then the one that has least to go; and what only repeats a net comes after what has a new one.".to_owned());
    all.push("If the machine fails before a step's volts are reached, leave the rail there, set the inputs up as the table says, and read the nets in its order. Where the first stands on the wrong side of its threshold: what is down and too high has a weak tube in its driver, or a driver that is given too little; what is up and too low has too much hanging on it, a tube that is not cut off, or a plate resistor that has risen. Where it stands as the table says, the load that it drives has moved its threshold. Steps that fail early together share what is to blame: look at the unit that they have in common.".to_owned());
    if let Some(&place) = check.order.first() {
        all.push(format!(
            "Write down the volts at which it fails, and ask what may be to blame: `valvewright marginal --rail {} --fails-at VOLTS`.",
            verdict.plan.design.rails[check.moved[place].rail.0].name
        ));
    }
    all.push("No step passes a rating that is kept as typed: plates, grids, watts, currents and heaters were held against theirs in every row, plates and grids with cold tubes as well, the moved rail as the meter shows it and the others at the top of their tolerance. Where a rating comes first the step ends there, and what would fail beyond it is not to be looked for. What its supply may give, and what a missing rail does then, `valvewright try` with the rail's name and those volts says.".to_owned());
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

/// `bit.Q and bit.N lose a state`
pub(crate) fn lose_a_state(verdict: &Verdict, members: &[MemberIndex]) -> String {
    let names = members.iter();
    let names = names.map(|&member| verdict.plan.members[member].name.clone());
    let verb = if members.len() == 1 { "loses" } else { "lose" };
    format!("{} {verb} a state", listed(names.collect()))
}

/// What heaters off their volts do.
fn about_heaters(verdict: &Verdict, heated: &Heated) -> String {
    let way = if heated.share < 0.0 { "down" } else { "up" };
    let later = if heated.share < 0.0 {
        "later"
    } else {
        "earlier"
    };
    let by = percent(heated.share.abs());
    let outcome = if heated.stands {
        "With parts by the book everything stands"
    } else {
        "With parts by the book something fails"
    };
    let least = heated.next.first().map(|near| {
        format!(
            "; least to spare has {} when {}: it reads {} and must stay {} {}",
            verdict.plan.nets[near.net].name,
            if near.up { "up" } else { "down" },
            exact_volts(near.level),
            if near.up { "above" } else { "below" },
            exact_volts(near.threshold),
        )
    });
    format!(
        "Heaters of all tubes {by} {way}: every tube conducts about 0.1 V {later} (common practice, no source). {outcome}{}.",
        least.unwrap_or_default()
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
        all.push("Nor does a tube that draws twice its current or cuts off a volt early or late, nor a resistor of twice or half its ohms, one alone: look for a supply that sags, a bad joint, a diode, or two parts together.".to_owned());
        return all;
    }
    all.push(format!(
        "Each row is one part alone, every other by the book, with which the machine stands as typed and on the way, and first fails with {at}. Once its band or less is what a good part may be; many times its band asks for one that is nearly dead."
    ));
    all.push("To tell them apart set the rails as typed, read the net that a row names with every part warm, and compare: where it reads as a good machine's, that row is not to blame; where it reads as the row says, exchange that part first, power off, and do the step again. Rows that name the same net and the same volts are told apart by exchanging only. Cold, with the plugs out and the bleeders done, the ohmmeter decides on resistors.".to_owned());
    all.push(format!(
        "Tried were tubes from {} to twice their current, with a grid that conducts up to a volt early or late or gives up to 5 µA, and resistors from half to twice their ohms; diodes and whatever else hangs on the board were not.",
        percent(WEAKEST)
    ));
    all
}
