//! Worst cases in words: what moved, what was varied within which bands and by which source, what would mend a margin, and
//! what is not in it.

use super::{shown, volts};
use crate::decimal;
use crate::margins::{Standing, WorstCases, is_used};
use crate::sheet::credit;
use design::model::{Design, PartKind};
use devices::types::Sourced;
use network::margins::alone::AloneCase;
use network::margins::cases::{NAMED_PARTS, part_name, parts_moved};
use network::margins::mending::{CLOSE, Mending};
use network::margins::{ConnectionMargin, Margins};
use network::plan::{MemberIndex, Plan};
use network::variation::current_ends;
use network::verdict::Verdict;
use std::collections::BTreeSet;
use text::quantity::{Unit, counted, show};

/// Names that help and still fit on a line or two.
const LISTED: usize = 12;

/// Where no connection has a margin.
pub(crate) const NO_MARGIN: &str =
    "Nothing here is driven that has a threshold in the worst case: there is no margin to show.";

/// Where a circuit that was asked for drives nothing alone that has a threshold.
pub(crate) const NO_MARGIN_ALONE: &str =
    "Alone it drives nothing that has a threshold, so alone it has no margin.";

/// What drives a connection: unit and output, or a switch of the bench.
pub(crate) fn driver(plan: &Plan, connection: &ConnectionMargin) -> String {
    driven_by(plan, connection.driver)
}

/// The same of what drives a net.
fn driven_by(plan: &Plan, driver: Option<(MemberIndex, usize)>) -> String {
    driver.map_or_else(|| "switch".to_owned(), |pin| pin_name(plan, pin))
}

/// `G14.y`
pub(crate) fn pin_name(plan: &Plan, (member, signal): (MemberIndex, usize)) -> String {
    plan.name_of(member, &plan.circuit(member).interface.signals[signal])
}

/// How a circuit alone is loaded: `none to 2 inverter, 3 nor2 and the resistors of its jig`.
pub(crate) fn loads_alone(case: &AloneCase) -> String {
    let plan = &case.plan;
    let output = plan.members[0].nets[plan.circuit(0).interface.inputs];
    let mut gates: Vec<(&str, usize)> = Vec::new();
    for load in &plan.loads[output] {
        let name = plan.circuit(load.0).name.as_str();
        match gates.iter_mut().find(|(other, _)| *other == name) {
            Some((_, count)) => *count += 1,
            None => gates.push((name, 1)),
        }
    }
    let gates: Vec<String> = gates
        .into_iter()
        .map(|(name, count)| format!("{count} {name}"))
        .collect();
    let jig = if plan.resistors.contains_key(&output) {
        " and the resistors of its jig"
    } else {
        ""
    };
    format!("none to {}{jig}", gates.join(", "))
}

/// A share in per cent.
pub(crate) fn percent(share: f64) -> String {
    show(share, Unit::Percent, 3)
}

/// To a tenth of a per cent, whole ones without decimals.
fn in_hundred(share: f64) -> String {
    let tenths = (1e3 * share).round();
    let decimals = usize::from(tenths % 10.0 != 0.0);
    decimal::fixed(tenths / 10.0, decimals)
}

/// What would mend a margin that is short or thin: the parts that count most. `subject` begins the sentence.
pub(crate) fn what_mends(
    plan: &Plan,
    thin_share: f64,
    standing: &Standing,
    subject: &str,
) -> String {
    const ADVICE: &str = "A resistor is brought there by closer tolerance, by sorting, or by a trimmer, turned with an insulated tool; a tube by choosing it, and by renewing it in time.";
    let side = standing.side();
    let thin = standing.connection.thin_below;
    if thin <= side.volts {
        return format!(
            "{subject} passes with every part anywhere in its band: no trimmer and no chosen part is needed here."
        );
    }
    let parts = parts_moved(side);
    let (missing, mut lacking) = if side.volts < 0.0 {
        (
            -side.volts,
            format!("{subject} is short by {}.", volts(-side.volts)),
        )
    } else {
        let missing = thin - side.volts;
        let share = percent(thin_share);
        (
            missing,
            format!(
                "{subject} is thin, with {} less than {share} of the swing.",
                volts(missing)
            ),
        )
    };
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
        .map(|part| part_name(plan, part))
        .collect();
    if !enough.is_empty() {
        return format!(
            "{lacking} One part brought to its book value mends it: {}. {ADVICE}",
            enough.join(", or ")
        );
    }
    let mut sum = 0.0;
    let together = parts.iter().position(|part| {
        sum += part.volts();
        missing <= sum
    });
    match together {
        Some(last) => format!(
            "{lacking} No part brought to its book value mends it alone; at the rates at which they take, the weightiest {} together do. {ADVICE}",
            last + 1
        ),
        None => format!(
            "{lacking} Not even all of these parts at their book values mend it: the rest comes with the rails and with the levels before. Look at what drives it first, then at its values and its loads."
        ),
    }
}

/// What closer resistors would leave, as it was solved anew; `None` where none were tried.
pub(crate) fn solved_anew(
    design: &Design,
    mended: &[Mending],
    standing: &Standing,
) -> Option<String> {
    let thin = standing.connection.thin_below;
    let tried = mended.iter().map(|one| {
        let what = match one.resistors[..] {
            [(circuit, part)] => {
                let circuit = &design.circuits[circuit.0];
                format!("{}.{}", circuit.name, circuit.parts[part].mark)
            }
            _ => {
                let mut circuits: Vec<&str> = one
                    .resistors
                    .iter()
                    .map(|(circuit, _)| design.circuits[circuit.0].name.as_str())
                    .collect();
                circuits.dedup();
                format!("every resistor of {}", circuits.join(" and "))
            }
        };
        match one.volts {
            None => format!("{what}: not known"),
            Some(spare) if spare < 0.0 => format!("{what}: short by {}", volts(-spare)),
            Some(spare) if spare < thin => format!("{what}: {} to spare, thin", volts(spare)),
            Some(spare) => format!("{what}: {} to spare, enough", volts(spare)),
        }
    });
    let tried: Vec<String> = tried.collect();
    (!tried.is_empty()).then(|| {
        format!(
            "Solved anew with closer resistors ({} and no drift, in every unit of the circuit): {}.",
            percent(CLOSE),
            tried.join("; ")
        )
    })
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
    let plans = std::iter::once(&verdict.plan).chain(worst.alone.iter().map(|case| &case.plan));
    let circuits: BTreeSet<usize> = plans
        .flat_map(|plan| &plan.members)
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
    let switches = verdict.plan.switches.values();
    let switches = switches.filter(|switch| 0.0 < switch.through_ohms);
    let hung = verdict.plan.resistors.values().flatten();
    let tolerances = switches.map(|switch| switch.tolerance);
    for tolerance in tolerances.chain(hung.map(|load| load.tolerance)) {
        if tolerance != 0.0 {
            add(
                "ohms",
                &format!("the bench's resistors of {}", percent(tolerance)),
                between((1.0 - tolerance, 1.0 + tolerance)),
                "tolerance as typed".to_owned(),
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
        let differences = [
            ("current of one half against the other", &spread.halves),
            ("current of any tube against any other", &spread.alike),
        ];
        for (what, most) in differences {
            if let Some(most) = most {
                let share = percent(most.value);
                add(
                    what,
                    name,
                    format!("no further apart than {share} of the book's"),
                    source(Some(most), ""),
                );
            }
        }
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
    for part in parts() {
        let PartKind::Neon { device, .. } = &part.kind else {
            continue;
        };
        let spread = &device.spread;
        for (what, volts) in [
            ("striking volts", &spread.strike),
            ("volts when lit", &spread.maintain),
        ] {
            let (band, source) = match volts {
                Some(volts) => (
                    format!(
                        "{} to {}",
                        shown(volts.value.0, Unit::Volt),
                        shown(volts.value.1, Unit::Volt)
                    ),
                    source(Some(volts), ""),
                ),
                None => ("exact".to_owned(), "not known of the type".to_owned()),
            };
            add(what, &device.name, band, source);
        }
    }
    let rails = design.rails.iter().enumerate();
    let moving = rails.filter(|(rail, _)| {
        let alone = worst.alone.iter().map(|case| &case.margins);
        let mut corners = std::iter::once(margins)
            .chain(alone)
            .flat_map(|margins| &margins.corners);
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
pub fn about_margins(design: &Design, worst: &WorstCases) -> Vec<String> {
    let mut all = Vec::new();
    // Where no unit has a margin, those of the first circuit alone tell how the rails stood.
    let units = worst.margins;
    let first = worst.alone.first().map(|case| &case.margins);
    let margins = match first {
        Some(alone) if units.connections.is_empty() => alone,
        _ => units,
    };
    all.push("Every part stands anywhere in its band by itself, however unlikely that is: tubes, and the halves of one, no further apart than is said of their type, and where nothing is said each by itself; drivers and loads alike, each load's other inputs from none to all up. A resistor's tolerance is a band and no bell: of a sorted lot the middle may be gone.".to_owned());
    let corners = counted(margins.corners.len() - 1, "corner");
    all.push(if margins.corners.len() == 1 {
        "No rail that feeds a circuit has a tolerance: all stand as typed.".to_owned()
    } else if margins.all_corners {
        format!("Every rail that feeds a circuit stands at an end of its tolerance, the same for driver and load: all {corners} and the volts as typed.")
    } else {
        format!("Rails stand at the ends of their tolerance, the same for driver and load. They are too many to try every corner: {corners} were tried, all low, all high, and each alone against all others.")
    });
    if !worst.alone.is_empty() {
        all.push("A circuit alone is driven by its like, or by what its jig names, at the worst levels that it then gives itself, as at the end of a long chain of the worst gates; so it may be short where units that stand behind better ones pass. Its loads are the most that one of its units drives here, or what its jig hangs there; of a circuit without either one of its like.".to_owned());
        if worst.alone.iter().any(|case| is_used(design, case)) {
            all.push("A circuit that units use is judged where they stand: alone, short is no fault of this machine.".to_owned());
        }
    }
    all.push("A part that does something to the level and something to the threshold may stand high for the one and low for the other; the truth is no worse than that.".to_owned());
    all.push("What a part takes is what the level or the threshold gains with that part alone back at its book value and all others where they are, without what it does to the levels before: two parts together may take more or less than their sum. Type what you choose and solve again, as another corner may then be the tightest. What is lost beyond that came with the levels before.".to_owned());
    all.push("Not in it: how likely any of this is, what resistors without a tolerance are off, parts that warm up, noise, timing, and stored states beyond whether they last. Tubes of one type may differ most at low plate volts, where no limit was ever printed: measure yours.".to_owned());
    all
}

/// What did not come to rest in the search of a circuit alone; empty where everything did.
pub(crate) fn not_settled_alone(case: &AloneCase) -> Vec<String> {
    let whose = format!(" of {} alone", case.plan.members[0].name);
    not_settled_of(&case.plan, &case.margins, &whose)
}

/// What did not come to rest in the search; empty where everything did.
#[must_use]
pub fn not_settled(plan: &Plan, margins: &Margins) -> Vec<String> {
    not_settled_of(plan, margins, "")
}

fn not_settled_of(plan: &Plan, margins: &Margins, whose: &str) -> Vec<String> {
    let mut all = Vec::new();
    let members = |members: &[MemberIndex]| {
        let names = members
            .iter()
            .map(|&member| plan.members[member].name.clone());
        listed(names.collect())
    };
    if !margins.unknown.is_empty() {
        all.push(format!(
            "Some row of {} did not come to rest in the worst case; the margins stand without it.",
            members(&margins.unknown)
        ));
    }
    if !margins.settled {
        all.push(format!("The worst levels{whose} did not stand still when the last round ended: they may be worse than shown."));
    }
    all
}

/// The first of some names, and how many more.
pub(crate) fn listed(mut names: Vec<String>) -> String {
    let more = names.len().saturating_sub(LISTED);
    names.truncate(LISTED);
    let names = names.join(", ");
    match more {
        0 => names,
        more => format!("{names} and {more} more"),
    }
}

/// What the worst case makes of a machine, in one sentence.
#[must_use]
pub(crate) fn worst_outcome(verdict: &Verdict, margins: &Margins) -> String {
    let short = margins
        .connections
        .iter()
        .filter(|connection| connection.smallest().0.volts < 0.0)
        .map(|connection| connection.net)
        .collect::<BTreeSet<_>>()
        .len();
    let kinds = [
        (
            margins.lost.len(),
            "stored state is lost",
            "stored states are lost",
        ),
        (short, "net falls short", "nets fall short"),
        (
            margins.not_known.len(),
            "input has no threshold that is known",
            "inputs have no threshold that is known",
        ),
    ];
    let said: Vec<String> = kinds
        .iter()
        .filter(|(count, ..)| 0 < *count)
        .map(|(count, one, several)| format!("{count} {}", if *count == 1 { one } else { several }))
        .collect();
    if !said.is_empty() {
        return format!(
            "In the worst case, with parts anywhere in their bands, {}: see Margins.",
            listed(said)
        );
    }
    if margins.connections.is_empty() && verdict.rings.is_empty() {
        "Nothing that is driven has a threshold, so there is no worst case to look for.".to_owned()
    } else {
        "It passes in the worst case too, with parts anywhere in their bands: see Margins."
            .to_owned()
    }
}
