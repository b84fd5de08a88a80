//! Worst cases in words: what moved, what was varied within which bands and by which source, what would mend a margin, and
//! what is not in it.

use super::{shown, volts};
use crate::decimal;
use crate::margins::{Move, PartMoved, Standing, WorstCases, parts_moved, rails_that_count};
use crate::sheet::credit;
use design::model::PartKind;
use devices::types::Sourced;
use network::margins::{ConnectionMargin, Margins, RailCorner, SideMargin};
use network::plan::MemberIndex;
use network::variation::{Quantity, current_ends};
use network::verdict::Verdict;
use std::collections::BTreeSet;
use text::quantity::{Unit, counted};

/// Parts named of a worst case; the rest is counted.
const NAMED_PARTS: usize = 3;
/// Names that help and still fit on a line or two.
const LISTED: usize = 12;

/// Where no connection has a margin.
pub(crate) const NO_MARGIN: &str =
    "Nothing here is driven that has a threshold in the worst case: there is no margin to show.";

/// What drives a connection: unit and output, or a switch of the bench.
pub(crate) fn driver(verdict: &Verdict, connection: &ConnectionMargin) -> String {
    driven_by(verdict, connection.driver)
}

/// The same of what drives a net.
pub(crate) fn driven_by(verdict: &Verdict, driver: Option<(MemberIndex, usize)>) -> String {
    driver.map_or_else(|| "switch".to_owned(), |pin| pin_name(verdict, pin))
}

/// `G14.y`
pub(crate) fn pin_name(verdict: &Verdict, (member, signal): (MemberIndex, usize)) -> String {
    let plan = &verdict.plan;
    let signals = &plan.circuit(member).interface.signals;
    format!("{}.{}", plan.members[member].name, signals[signal])
}

/// `G1.R2`
pub(crate) fn part_name(verdict: &Verdict, part: &PartMoved) -> String {
    let plan = &verdict.plan;
    let mark = &plan.circuit(part.member).parts[part.part].mark;
    format!("{}.{mark}", plan.members[part.member].name)
}

/// A share in per cent.
pub(crate) fn percent(share: f64) -> String {
    format!("{} %", in_hundred(share))
}

/// To a tenth of a per cent, whole ones without decimals.
fn in_hundred(share: f64) -> String {
    let tenths = (1e3 * share).round();
    let decimals = usize::from(tenths % 10.0 != 0.0);
    decimal::fixed(tenths / 10.0, decimals)
}

/// Where a quantity stands: `high`, `at 50 % of its book current`, `with its cut-off 0.1 V late`.
fn stands(one: &Move) -> String {
    let value = one.value;
    let side = if one.quantity.book() < value {
        "high"
    } else {
        "low"
    };
    match one.quantity {
        Quantity::Ohms if one.at_end => side.to_owned(),
        Quantity::Ohms => format!("{} {side}", percent((value - 1.0).abs())),
        Quantity::Current => format!("at {} of its book current", percent(value)),
        Quantity::Mu => format!("with {} of its mu", percent(value)),
        Quantity::CutOff => {
            let when = if 0.0 < value { "late" } else { "early" };
            format!("cut off {} {when}", shown(value.abs(), Unit::Volt))
        }
        Quantity::Reverse => format!(
            "with {} of reverse grid current",
            shown(value, Unit::Ampere)
        ),
        Quantity::Saturation => format!(
            "with {} times its saturation current",
            decimal::significant(value, 2)
        ),
        Quantity::Leakage => format!("leaking as through {}", shown(1.0 / value, Unit::Ohm)),
    }
}

/// How one quantity of a part stands: where it stands otherwise for the threshold than for the level, for which of them.
pub(crate) fn standing_of(part: &PartMoved, one: &Move) -> String {
    let mut others = part.moves.iter();
    let torn = others.any(|other| other.quantity == one.quantity && other.value != one.value);
    match one.cases {
        [true, false] if torn => format!("{} for the level", stands(one)),
        [false, true] if torn => format!("{} for the threshold", stands(one)),
        _ => stands(one),
    }
}

/// `G1.R2 high`, `D1.R1 (and 2 alike) low`: by what counts most in the part.
pub(crate) fn moved(verdict: &Verdict, part: &PartMoved) -> String {
    let alike = match part.count {
        0 | 1 => String::new(),
        count => format!(" (and {} alike)", count - 1),
    };
    let stands = part.moves.first().map(|one| standing_of(part, one));
    format!(
        "{}{alike} {}",
        part_name(verdict, part),
        stands.unwrap_or_default()
    )
}

/// Where some rails stand: `upper 34.2 V, lower −25.2 V`; those at their book values are left out.
pub(crate) fn corner(
    verdict: &Verdict,
    corner: &RailCorner,
    rails: impl Iterator<Item = usize>,
) -> String {
    let off: Vec<String> = rails
        .filter(|&rail| corner.sides[rail] != 0)
        .map(|rail| {
            let volts = shown(corner.volts[rail], Unit::Volt);
            format!("{} {volts}", verdict.plan.design.rails[rail].name)
        })
        .collect();
    if off.is_empty() {
        "rails as typed".to_owned()
    } else {
        off.join(", ")
    }
}

/// How a worst case comes about: the weightiest parts, how many more, and the rails.
pub(crate) fn case(verdict: &Verdict, margins: &Margins, side: &SideMargin) -> String {
    let parts = parts_moved(side);
    let mut words: Vec<String> = parts
        .iter()
        .take(NAMED_PARTS)
        .map(|part| moved(verdict, part))
        .collect();
    let further = parts.len().saturating_sub(NAMED_PARTS);
    if 0 < further {
        words.push(format!("{further} more"));
    }
    let rails = rails_that_count(margins, side).into_iter();
    words.push(corner(verdict, &margins.corners[side.corner], rails));
    words.join("; ")
}

/// What would mend a margin that is short or thin: the parts that count most, and what is gained with one at its book value.
pub(crate) fn what_mends(verdict: &Verdict, standing: &Standing) -> String {
    const ADVICE: &str = "Closer tolerance, a sorted part or a chosen tube does that; so does a trimmer in place of one resistor of the unit, turned with an insulated tool.";
    let side = standing.side();
    let thin = standing.thin_below(verdict);
    if thin <= side.volts {
        return "It passes with every part anywhere in its band: no trimmer and no chosen part is needed here.".to_owned();
    }
    let (missing, word) = if side.volts < 0.0 {
        (-side.volts, "short")
    } else {
        (thin - side.volts, "short of what is called thin")
    };
    let parts = parts_moved(side);
    let mut lacking = format!("It is {word} by {}.", volts(missing));
    // The first corner has the rails as typed.
    if side.volts + missing <= side.by_corner[0] {
        lacking += &format!(
            " With the rails as typed there would be {}: supplies of closer tolerance mend it.",
            volts(side.by_corner[0])
        );
    }
    let enough: Vec<String> = parts
        .iter()
        .filter(|part| missing <= part.volts())
        .take(NAMED_PARTS)
        .map(|part| {
            let left = volts(side.volts + part.volts());
            format!("{} leaves {left}", part_name(verdict, part))
        })
        .collect();
    if !enough.is_empty() {
        return format!(
            "{lacking} One part at its book value mends it: {}. {ADVICE}",
            enough.join(", ")
        );
    }
    let mut sum = 0.0;
    let together = parts.iter().position(|part| {
        sum += part.volts();
        missing <= sum
    });
    match together {
        Some(last) => format!(
            "{lacking} No part at its book value mends it alone; the weightiest {} together do. {ADVICE}",
            last + 1
        ),
        None => format!(
            "{lacking} Not even all of these parts at their book values mend it: the rest comes with the rails and with the levels before. Look at what drives it first, then at its values and its loads."
        ),
    }
}

/// What moves between which ends, and by which source.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Band {
    pub(crate) what: String,
    pub(crate) of: Vec<String>,
    pub(crate) band: String,
    pub(crate) source: String,
}

fn between((low, high): (f64, f64)) -> String {
    format!("{} to {} %", in_hundred(low), in_hundred(high))
}

fn either_way(value: f64, unit: Unit) -> String {
    format!("{} either way", shown(value, unit))
}

/// Where a value comes from that a type or a lot states, or what is assumed.
fn source<T>(stated: Option<&Sourced<T>>, assumed: &str) -> String {
    stated.map_or_else(
        || assumed.to_owned(),
        |stated| credit(stated.mark, &stated.source),
    )
}

/// Everything that moves, what stands alike in one line: of all parts of the circuits that stand in the machine.
pub(crate) fn varied(verdict: &Verdict, worst: &WorstCases) -> Vec<Band> {
    let design = verdict.plan.design;
    let margins = worst.margins;
    let assumed = &margins.spread;
    let sources = worst.sources;
    let mut bands: Vec<Band> = Vec::new();
    let mut add = |what: &str, of: &str, band: String, source: String| {
        let alike = bands.iter_mut().find(|known| {
            (known.what.as_str(), &known.band, &known.source) == (what, &band, &source)
        });
        match alike {
            Some(known) => {
                if !known.of.iter().any(|name| name == of) {
                    known.of.push(of.to_owned());
                }
            }
            None => bands.push(Band {
                what: what.to_owned(),
                of: vec![of.to_owned()],
                band,
                source,
            }),
        }
    };
    let circuits: BTreeSet<usize> = verdict
        .plan
        .members
        .iter()
        .map(|member| member.circuit.0)
        .collect();
    let parts = || {
        circuits
            .iter()
            .flat_map(|&circuit| design.circuits[circuit].parts.iter())
    };
    for part in parts() {
        let (kind, tolerance, drift) = match part.kind {
            PartKind::Resistor {
                tolerance, drift, ..
            } => ("resistors", tolerance, drift),
            PartKind::Trimmer { tolerance, .. } => ("trimmers", tolerance, 0.0),
            _ => continue,
        };
        let of = format!("{kind} of {}", percent(tolerance));
        if tolerance == 0.0 && drift == 0.0 {
            add(
                "ohms",
                &format!("{kind} without a tolerance"),
                "exact".to_owned(),
                "none typed".to_owned(),
            );
        } else if drift == 0.0 {
            let ends = (1.0 - tolerance, 1.0 + tolerance);
            add("ohms", &of, between(ends), "tolerance as typed".to_owned());
        } else {
            let ends = (1.0 - tolerance, 1.0 + tolerance + drift);
            add(
                "ohms",
                &of,
                between(ends),
                "tolerance and drift with age as typed".to_owned(),
            );
        }
    }
    for part in parts() {
        let PartKind::Tube(tube) = &part.kind else {
            continue;
        };
        let (device, name) = (&tube.device, tube.device.name.as_str());
        let spread = design.tube_spread(device);
        let new = spread.current.as_ref();
        let aged = spread.aged.as_ref();
        add(
            "plate current",
            name,
            between(current_ends(design, device, assumed)),
            format!(
                "new {}: {}; at the end of its life {}: {}",
                between(new.map_or(assumed.tube_current, |new| new.value)),
                source(new, sources.tube_current),
                percent(aged.map_or(assumed.aged, |aged| aged.value)),
                source(aged, sources.aged),
            ),
        );
        let mu = spread.mu.as_ref();
        add(
            "mu",
            name,
            between(mu.map_or(assumed.mu, |mu| mu.value)),
            source(mu, sources.mu),
        );
        let cut_off = spread.cut_off.as_ref();
        add(
            "grid volts of cut-off",
            name,
            either_way(
                cut_off.map_or(assumed.cut_off_volts, |volts| volts.value),
                Unit::Volt,
            ),
            source(cut_off, sources.cut_off),
        );
        match spread.reverse.as_ref() {
            Some(reverse) => add(
                "reverse grid current",
                name,
                format!("0 to {}", shown(reverse.value, Unit::Ampere)),
                source(Some(reverse), ""),
            ),
            None => add(
                "reverse grid current",
                name,
                "none".to_owned(),
                "not known of the type".to_owned(),
            ),
        }
    }
    for part in parts() {
        let PartKind::Diode { device, .. } = &part.kind else {
            continue;
        };
        let saturation = device.spread.saturation.as_ref();
        let times = saturation.map_or(assumed.saturation_times, |times| times.value);
        add(
            "saturation current",
            &device.name,
            format!(
                "{} to {} times",
                decimal::significant(1.0 / times, 2),
                decimal::significant(times, 2)
            ),
            source(saturation, sources.saturation),
        );
        if let Some(leakage) = &device.spread.leakage {
            let (amps, volts) = leakage.value;
            add(
                "leakage",
                &device.name,
                format!(
                    "up to {} at {}",
                    shown(amps, Unit::Ampere),
                    shown(volts, Unit::Volt)
                ),
                source(Some(leakage), ""),
            );
        }
    }
    let rails = design.rails.iter().enumerate();
    let moving = rails.filter(|(rail, _)| {
        let mut corners = margins.corners.iter();
        corners.any(|corner| corner.sides[*rail] != 0)
    });
    for (_, rail) in moving {
        let ends = [-1.0, 1.0].map(|side| rail.volts * (1.0 + side * rail.tolerance));
        add(
            "volts",
            &rail.name,
            format!(
                "{} or {}",
                shown(ends[0], Unit::Volt),
                shown(ends[1], Unit::Volt)
            ),
            "tolerance as typed".to_owned(),
        );
    }
    bands
}

/// How the worst cases are to be read, and what is not in them.
#[must_use]
pub fn about_margins(margins: &Margins) -> Vec<String> {
    let mut all = Vec::new();
    all.push("Every part stands anywhere in its band by itself, however unlikely that is: both halves of a tube apart, drivers and loads alike, each load's other inputs from none to all up. A resistor's tolerance is a band and no bell: of a sorted lot the middle may be gone.".to_owned());
    let corners = counted(margins.corners.len() - 1, "corner");
    all.push(if margins.corners.len() == 1 {
        "No rail that feeds a circuit has a tolerance: all stand as typed.".to_owned()
    } else if margins.all_corners {
        format!("Every rail that feeds a circuit stands at an end of its tolerance, the same for driver and load: all {corners} and the volts as typed.")
    } else {
        format!("Rails stand at the ends of their tolerance, the same for driver and load. They are too many to try every corner: {corners} were tried, all low, all high, and each alone against all others.")
    });
    all.push("A part that does something to the level and something to the threshold may stand high for the one and low for the other; the truth is no worse than that.".to_owned());
    all.push("What a part gives back at its book value is counted with all others where they are, at that corner of the rails, and without what it does to the levels before: solve again with what you choose. Another corner may then be the tightest. What is lost beyond the sum came with the levels before.".to_owned());
    all.push("Not in it: how likely any of this is, what the bench's resistors are off, parts that warm up, noise, timing, and stored states beyond whether they last. Tubes of one type may differ most at low plate volts, where no limit was ever printed: measure yours.".to_owned());
    all
}

/// What is lost or not known in the worst case; empty where nothing is.
#[must_use]
pub fn not_known(verdict: &Verdict, margins: &Margins) -> Vec<String> {
    let mut all = Vec::new();
    let members = |members: &[MemberIndex]| {
        let names = members
            .iter()
            .map(|&member| verdict.plan.members[member].name.clone());
        listed(names.collect())
    };
    if !margins.lost.is_empty() {
        all.push(format!(
            "In the worst case a stored state is lost in {}.",
            members(&margins.lost)
        ));
    }
    if !margins.not_known.is_empty() {
        let names = margins.not_known.iter().map(|&(net, load)| {
            let net = &verdict.plan.nets[net].name;
            format!("{net} to {}", pin_name(verdict, load))
        });
        all.push(format!(
            "Not known in the worst case, because the load no longer amplifies there or what it does is not known: {}.",
            listed(names.collect())
        ));
    }
    if !margins.unknown.is_empty() {
        all.push(format!(
            "Some row of {} did not come to rest in the worst case; the margins stand without it.",
            members(&margins.unknown)
        ));
    }
    if !margins.settled {
        all.push("The worst levels did not stand still when the last round ended: they may be worse than shown.".to_owned());
    }
    all
}

fn listed(mut names: Vec<String>) -> String {
    let more = names.len().saturating_sub(LISTED);
    names.truncate(LISTED);
    let names = names.join(", ");
    match more {
        0 => names,
        more => format!("{names} and {more} more"),
    }
}
