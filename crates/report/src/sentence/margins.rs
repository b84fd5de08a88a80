//! Worst cases in words: what moved, what was varied within which bands and by which source, what would mend a margin, and
//! what is not in it.

use super::{shown, volts};
use crate::decimal;
use crate::margins::{
    Standing, Whose, WorstCases, by_driver, duties_alike, free_alike, is_used, short_beyond,
};
use crate::sheet::credit;
use crate::tables::up_or_down;
use design::model::{Design, PartKind, RailId};
use devices::diode::{BOOK_KELVIN, ZERO_CELSIUS_KELVIN};
use devices::types::{Sourced, TubeKind};
use network::margins::alone::AloneCase;
use network::margins::cases::{NAMED_PARTS, part_name, parts_moved};
use network::margins::mending::{CLOSE, Mending, Remedy};
use network::margins::{Case, ConnectionMargin, Margins};
use network::plan::{MemberIndex, NetIndex, Plan};
use network::variation::{current_ends, diode_kelvin};
use network::verdict::Verdict;
use std::collections::{BTreeMap, BTreeSet};
use text::quantity::{Unit, counted, show};

/// Names that help and still fit on a line or two.
const LISTED: usize = 12;

/// Where no connection has a margin.
pub(crate) const NO_MARGIN: &str =
    "Nothing here is driven that has a threshold in the worst case: there is no margin to show.";

/// Where of a circuit that was asked for there is nothing to say alone.
pub(crate) const NO_MARGIN_ALONE: &str = "Alone it drives nothing that has a threshold and no sentence asks anything of its parts, so alone it has no margin.";

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

/// Which side of which connection: `G1.y to G2.a when up`.
pub(crate) fn side_name(plan: &Plan, standing: &Standing) -> String {
    format!(
        "{} to {} when {}",
        driver(plan, standing.connection),
        pin_name(plan, standing.connection.load),
        up_or_down(standing.up)
    )
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
            "{subject} passes with every part anywhere in its band: no trimmer and no chosen part is needed for it."
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

/// What closer resistors and a trimmer would leave, as it was solved anew, and what follows from that; nothing where none were tried.
pub(crate) fn solved_anew(plan: &Plan, mended: &[Mending], standing: &Standing) -> Vec<String> {
    let design = plan.design;
    let thin = standing.connection.thin_below;
    let leaves = |one: &Mending| match one.volts {
        None => "not known".to_owned(),
        Some(spare) if spare < 0.0 => format!("short by {}", volts(-spare)),
        Some(spare) if spare < thin => format!("{} to spare, thin", volts(spare)),
        Some(spare) => format!("{} to spare, enough", volts(spare)),
    };
    let is_enough = |one: &&Mending| one.volts.is_some_and(|spare| thin <= spare);
    let mut closer = Vec::new();
    let mut trimmer = None;
    for one in mended {
        let what = match &one.remedy {
            Remedy::Trimmer(unit) => {
                let name = &plan.members[*unit].name;
                trimmer = Some((name, one));
                continue;
            }
            Remedy::Closer(resistors) => match resistors[..] {
                [(circuit, part)] => {
                    let circuit = &design.circuits[circuit.0];
                    format!("{}.{}", circuit.name, circuit.parts[part].mark)
                }
                _ => {
                    let mut circuits: Vec<&str> = resistors
                        .iter()
                        .map(|(circuit, _)| design.circuits[circuit.0].name.as_str())
                        .collect();
                    circuits.dedup();
                    format!("every resistor of {}", circuits.join(" and "))
                }
            },
        };
        closer.push(format!("{what}: {}", leaves(one)));
    }
    let mut said = Vec::new();
    if !closer.is_empty() {
        said.push(format!(
            "Solved anew with closer resistors ({} and no drift, in every unit of the circuit): {}.",
            percent(CLOSE),
            closer.join("; ")
        ));
    }
    if let Some((unit, one)) = trimmer {
        let enough: Vec<&Mending> = mended.iter().filter(is_enough).collect();
        let closer = |one: &&Mending| matches!(one.remedy, Remedy::Closer(_));
        let so = if enough.iter().any(closer) {
            "Closer resistors leave enough: no trimmer is needed."
        } else if enough.is_empty() {
            "Neither leaves enough: other values (`choose`), another type (`serves`), chosen tubes or closer supplies must."
        } else {
            "A trimmer leaves enough, closer resistors do not."
        };
        said.push(format!(
            "Solved anew with a trimmer in {unit}, turned in the machine until its thresholds are the book's, which takes out what its resistors, mu and cut-off are off, and not what ages later: {}. {so}",
            leaves(one)
        ));
    }
    said
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

/// The band of ohms that reach from `low` below the book value to `high` above it, but for what is nearer than each `hollow`:
/// shares.
fn ohms((low, high): (f64, f64), hollow: [f64; 2]) -> String {
    if hollow == [0.0; 2] {
        between((1.0 - low, 1.0 + high))
    } else {
        let [below, above] = hollow;
        let sides = [(1.0 - low, 1.0 - below), (1.0 + above, 1.0 + high)];
        let [below, above] = sides.map(between);
        format!("{below} and {above}")
    }
}

/// How far either way no resistor of a band stands where it was drawn, and how that came to be; `typed` is the hollow of which
/// the text says, `drawn` the share of the band where it says nothing.
fn picked_out(
    reach: (f64, f64),
    typed: Option<f64>,
    drawn: Option<f64>,
) -> ([f64; 2], &'static str) {
    let (empty, picked) = match (drawn, typed) {
        (Some(_), Some(near)) => ([near; 2], ", and hollow as typed"),
        (Some(share), None) => (
            [share * reach.0, share * reach.1],
            ", and hollow as asked for",
        ),
        (None, _) => ([0.0; 2], ""),
    };
    (empty, if empty == [0.0; 2] { "" } else { picked })
}

/// Everything that moves, what stands alike in one line: of all parts of the circuits that stand in the machine. Where it was
/// drawn, `drawn` is the share of the band in which no resistor stands of which the text does not say.
pub(crate) fn varied(verdict: &Verdict, worst: &WorstCases, drawn: Option<f64>) -> Vec<Band> {
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
        let (kind, tolerance, drift, hollow) = match part.kind {
            PartKind::Resistor {
                tolerance,
                drift,
                hollow,
                ..
            } => ("resistors", tolerance, drift, hollow),
            PartKind::Trimmer { tolerance, .. } => ("trimmers", tolerance, 0.0, None),
            _ => continue,
        };
        let reach = (tolerance, tolerance + drift);
        let (empty, picked) = picked_out(reach, hollow, drawn);
        let of = format!("{kind} of {}", percent(tolerance));
        if tolerance == 0.0 && drift == 0.0 {
            add(
                "ohms",
                &format!("{kind} without a tolerance"),
                "exact".to_owned(),
                "none typed".to_owned(),
            );
        } else {
            let typed = if drift == 0.0 {
                "tolerance as typed"
            } else {
                "tolerance and drift with age as typed"
            };
            add("ohms", &of, ohms(reach, empty), format!("{typed}{picked}"));
        }
    }
    let switches = verdict.plan.switches.values();
    let switches = switches.filter(|switch| 0.0 < switch.through_ohms);
    let hung = verdict.plan.resistors.values().flatten();
    let typed = switches.map(|switch| (switch.tolerance, switch.hollow));
    for (tolerance, hollow) in typed.chain(hung.map(|load| (load.tolerance, load.hollow))) {
        if tolerance != 0.0 {
            let reach = (tolerance, tolerance);
            let (empty, picked) = picked_out(reach, hollow, drawn);
            add(
                "ohms",
                &format!("the bench's resistors of {}", percent(tolerance)),
                ohms(reach, empty),
                format!("tolerance as typed{picked}"),
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
        if device.kind == TubeKind::Diode {
            continue;
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
        let reverse = spread.reverse.as_ref();
        let most = reverse.map_or(assumed.reverse_amps, |reverse| reverse.value);
        let band = if most <= 0.0 {
            "none".to_owned()
        } else {
            format!("0 to {}", shown(most, Unit::Ampere))
        };
        add(
            "reverse grid current",
            name,
            band,
            source(reverse, sources.reverse),
        );
    }
    let heated: BTreeSet<RailId> = verdict.plan.heated.values().copied().collect();
    for rail in heated {
        let rail = &design.rails[rail.0];
        add(
            "heater volts",
            &format!("all tubes on {}", rail.name),
            between((1.0 - rail.tolerance, 1.0 + rail.tolerance)),
            format!("tolerance as typed; {}", sources.heater_volts),
        );
    }
    for part in parts() {
        let PartKind::Diode { device, .. } = &part.kind else {
            continue;
        };
        let spread = design.diode_spread(device);
        let saturation = spread.saturation.as_ref();
        let times = saturation.map_or(assumed.saturation_times, |times| times.value);
        add(
            "saturation current",
            &device.name,
            if times == 1.0 {
                "exact".to_owned()
            } else {
                format!(
                    "{} to {} times",
                    decimal::significant(1.0 / times, 2),
                    decimal::significant(times, 2)
                )
            },
            source(saturation, sources.saturation),
        );
        if let Some(leakage) = &spread.leakage {
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
    let (low, high) = diode_kelvin(design, assumed);
    let moves = (low, high) != (BOOK_KELVIN, BOOK_KELVIN);
    if moves && parts().any(|part| matches!(part.kind, PartKind::Diode { .. })) {
        let celsius = |kelvin: f64| shown(kelvin - ZERO_CELSIUS_KELVIN, Unit::Celsius);
        add(
            "temperature",
            "all semiconductor diodes together",
            format!("{} to {}", celsius(low), celsius(high)),
            match design.diode_kelvin {
                Some(_) => "as typed".to_owned(),
                None => sources.diode_kelvin.to_owned(),
            },
        );
    }
    for part in parts() {
        let PartKind::Neon { device, .. } = &part.kind else {
            continue;
        };
        let spread = design.neon_spread(device);
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
                "{} {} {}",
                shown(ends[0], Unit::Volt),
                if drawn.is_some() { "to" } else { "or" },
                shown(ends[1], Unit::Volt)
            ),
            "tolerance as typed".to_owned(),
        );
    }
    bands
}

/// How the worst cases are to be read, and what is not in them.
#[must_use]
pub fn about_margins(verdict: &Verdict, worst: &WorstCases) -> Vec<String> {
    let design = verdict.plan.design;
    let mut all = Vec::new();
    // Where no unit has a margin, those of the first circuit alone tell how the rails stood.
    let units = worst.margins;
    let first = worst.alone.first().map(|case| &case.margins);
    let margins = match first {
        Some(alone) if units.connections.is_empty() => alone,
        _ => units,
    };
    all.push("Every part of every unit stands anywhere in its band by itself, tubes and their halves no further apart than is said of them, each load's other inputs from none to all up. A net that feeds it stands as high or as low as it can when up, and when down, whichever does more harm. Cut off 100 mV late: it takes a grid 100 mV lower to cut that tube off; early: 100 mV less.".to_owned());
    if stands_for_others(verdict, worst) {
        all.push("Where one stands for others that are alike, all have the same circuits and, to a millivolt, the same volts; a part of loads that are alike is off in each of them.".to_owned());
    }
    if names_alike(design) {
        all.push("Tubes of a lot with `alike` differ by no more than that among themselves, new or worn, in the whole machine: fit and renew them together, or leave the word out of the lot.".to_owned());
    }
    let corners = counted(margins.corners.len() - 1, "corner");
    all.push(if margins.corners.len() == 1 {
        "No rail that feeds a circuit has a tolerance: all stand as typed.".to_owned()
    } else if margins.all_corners {
        format!("Every rail that feeds a circuit stands at an end of its tolerance, the same for driver and load: all {corners}, and the volts as typed.")
    } else {
        format!("Rails stand at the ends of their tolerance, the same for driver and load. They are too many to try every corner: {corners} were tried, all low, all high, and each alone against all others.")
    });
    if !worst.alone.is_empty() {
        let used = if worst.alone.iter().any(|case| is_used(design, case)) {
            " Units are judged where they stand: that their circuit is short alone is no fault of this machine."
        } else {
            ""
        };
        all.push(format!("A circuit alone stands at the end of a long chain of its like, or of what its jig names, at their worst (that with its own inputs as by the book), with the most loads that one of its units drives here or its jig hangs there: it may be short where units behind better ones pass.{used}"));
    }
    all.push("What a part takes would be gained with that part alone at its book value, what a rail takes with it halfway between its ends. Two together may take more or less than their sum, and one may stand high for the level and low for the threshold, so solve again with what you choose. What is lost beyond that came with the levels before.".to_owned());
    all.push("Not in it: how likely any of this is, what resistors without a tolerance are off, resistors that warm up, noise, timing, and stored states beyond whether they last. Tubes of one type may differ most at low plate volts, where no limit was ever printed: measure yours.".to_owned());
    all
}

/// Something in the tables stands for others that are alike, or a part in a case does.
fn stands_for_others(verdict: &Verdict, worst: &WorstCases) -> bool {
    let (all, margins) = (Whose::All, worst.margins);
    let rows = by_driver(verdict, margins, all).into_iter();
    let outputs = free_alike(verdict, margins, all).into_iter();
    let parts = duties_alike(verdict, margins, all).into_iter();
    let several = |alike: usize| 0 < alike;
    let in_case = |case: &Case| case.moved.iter().any(|moved| 1 < moved.count);
    let alone = worst.alone.iter().map(|case| &case.margins);
    let mut connections = std::iter::once(margins)
        .chain(alone)
        .flat_map(|margins| &margins.connections)
        .flat_map(|connection| [&connection.down, &connection.up]);
    rows.map(|standing| standing.alike).any(several)
        || outputs.map(|standing| standing.alike).any(several)
        || parts.map(|(_, alike)| alike).any(several)
        || connections.any(|side| in_case(&side.level_case) || in_case(&side.threshold_case))
}

/// A tube of the design is said to be no further from others of its lot than so much.
fn names_alike(design: &Design) -> bool {
    let mut parts = design.circuits.iter().flat_map(|circuit| &circuit.parts);
    parts.any(|part| match &part.kind {
        PartKind::Tube(tube) => design.tube_spread(&tube.device).alike.is_some(),
        _ => false,
    })
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
    // Of a net or a part what spares least counts.
    let mut nets: BTreeMap<NetIndex, bool> = BTreeMap::new();
    for connection in &margins.connections {
        let volts = connection.smallest().0.volts;
        if volts < connection.thin_below {
            *nets.entry(connection.net).or_default() |= volts < 0.0;
        }
    }
    nets.extend(short_beyond(margins).map(|(one, _)| (one.net, true)));
    let mut duties: BTreeMap<(MemberIndex, usize), bool> = BTreeMap::new();
    for duty in &margins.duties {
        if duty.spare < duty.thin_below {
            *duties.entry((duty.member, duty.duty)).or_default() |= duty.spare < 0.0;
        }
    }
    let short = nets.values().filter(|short| **short).count();
    let parts = duties.values().filter(|short| **short).count();
    let alike = margins.free.iter().filter(|output| output.swing <= 0.0);
    let kinds = [
        (
            margins.lost.len(),
            "stored state is lost",
            "stored states are lost",
        ),
        (short, "net falls short", "nets fall short"),
        (
            margins.not_known.len() - short_beyond(margins).count(),
            "input has no threshold that is known",
            "inputs have no threshold that is known",
        ),
        (
            parts,
            "lamp or load does not do what is asked of it",
            "lamps or loads do not do what is asked of them",
        ),
        (
            margins.duties_not_known.len(),
            "lamp or load is not known",
            "lamps or loads are not known",
        ),
        (
            alike.count(),
            "output has no swing left",
            "outputs have no swing left",
        ),
    ];
    let said: Vec<String> = kinds
        .iter()
        .filter(|(count, ..)| 0 < *count)
        .map(|(count, one, several)| format!("{count} {}", if *count == 1 { one } else { several }))
        .collect();
    let thin: Vec<String> = [
        (nets.len() - short, "net is thin", "nets are thin"),
        (
            duties.len() - parts,
            "lamp or load is thin",
            "lamps or loads are thin",
        ),
    ]
    .iter()
    .filter(|(count, ..)| 0 < *count)
    .map(|(count, one, several)| format!("{count} {}", if *count == 1 { one } else { several }))
    .collect();
    if !said.is_empty() {
        return format!(
            "In the worst case, with parts anywhere in their bands, {}: see Margins.",
            listed(said.into_iter().chain(thin).collect())
        );
    }
    if !thin.is_empty() {
        return format!(
            "It passes in the worst case too, with parts anywhere in their bands, but {}: see Margins.",
            listed(thin)
        );
    }
    if margins.connections.is_empty() && verdict.rings.is_empty() && margins.duties.is_empty() {
        "Nothing that is driven has a threshold, so there is no worst case to look for.".to_owned()
    } else {
        "It passes in the worst case too, with parts anywhere in their bands: see Margins."
            .to_owned()
    }
}
