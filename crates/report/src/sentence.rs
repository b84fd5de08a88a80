//! Sentences that terminal and page share, in the project's own words (tube, plate); the caller turns them over to the
//! reader's. Names of units, nets and files are never changed.

mod choosing;
mod marginal;
mod margins;
mod parts;
mod power;
mod switch_on;
mod yields;

pub(crate) use choosing::best_case;
pub use choosing::{about_choice, about_serving};
pub(crate) use marginal::{
    NOTHING_TO_MOVE, exact_volts, meter_at, must_do, state, stopped_by, suspects_in_words, tube_of,
    tube_that_gives_way, what_fails,
};
pub use marginal::{
    about_marginal, about_suspects, before_the_rails_move, fails_as_typed, how_to_bring_about,
    left_open,
};
pub(crate) use margins::worst_outcome;
pub(crate) use margins::{
    Band, NO_MARGIN, NO_MARGIN_ALONE, driver, listed, loads_alone, not_settled_alone, percent,
    pin_name, side_name, solved_anew, varied, what_mends,
};
pub use margins::{about_margins, not_settled};
pub use parts::{
    about_parts, part_amount, part_further, part_kind, part_rating, part_too_small, part_units,
    part_value, times,
};
pub use power::about_power;
pub use switch_on::about_switch_on;
pub(crate) use switch_on::supply;
pub use yields::about_yields;

use crate::decimal;
use crate::planned::Proposal;
use crate::words::Wording;
use design::model::Design;
use network::feeders;
use network::finding::{Amount, Finding};
use network::planning::Proposed;
use network::safety::{self, HARMLESS_JOULES, Safety, spans};
use network::scan::Scan;
use network::substitution::Swap;
use network::verdict::{Extrapolation, SPREAD_NOT_CHECKED, Verdict};
use text::diagnostic::Severity;
use text::quantity::{Unit, counted, show};
use text::source::{SourceMap, Span};

/// The word for a severity.
#[must_use]
pub fn severity(severity: Severity) -> &'static str {
    match severity {
        Severity::Fault => "fault",
        Severity::Caution => "caution",
        Severity::Note => "note",
    }
}

/// `machine.valve:12:5`; empty for a place in no file of the map.
#[must_use]
pub fn place(sources: &SourceMap, span: Span) -> String {
    let known = sources.files().nth(span.file.0 as usize);
    match known {
        Some((_, file)) if file.text.is_char_boundary(span.start as usize) => {
            let (line, column) = sources.line_and_column(span);
            format!("{}:{line}:{column}", file.name)
        }
        _ => String::new(),
    }
}

/// Volts with one decimal, two below 10 V, and the unit.
#[must_use]
pub fn volts(value: f64) -> String {
    let decimals = if value.abs() < 9.995 { 2 } else { 1 };
    format!("{} V", decimal::fixed(value, decimals))
}

/// What alternating volts of a heater string are: "rms", and "rms on 60 V" where the winding stands on a rail. `None` of
/// direct ones.
#[must_use]
pub fn rms(alternates: bool, stands_on_volts: f64) -> Option<String> {
    match (alternates, stands_on_volts) {
        (false, _) => None,
        (true, 0.0) => Some("rms".to_owned()),
        (true, foot) => Some(format!("rms on {}", shown(foot, Unit::Volt))),
    }
}

/// A value with three figures and its unit, with a true minus sign.
#[must_use]
pub fn shown(value: f64, unit: Unit) -> String {
    show(value, unit, 3).replacen('-', "\u{2212}", 1)
}

/// How the two numbers of a finding stand to each other.
enum Clash {
    /// A level that does not reach what is needed.
    Short,
    /// A value beyond its limit; signs do not matter.
    Over,
    /// Two values that contradict each other.
    Apart,
    /// A value close to its limit.
    Near,
    /// A margin, and what is called thin.
    Thin,
}

fn clash(name: &str) -> Clash {
    match name {
        "sources-clash" | "wrong-function" | "state-lost" | "heater-volts" | "heater-tap"
        | "heater-unlike" | "heater-supply" | "ballast-current" => Clash::Apart,
        "thin-margin" => Clash::Thin,
        "plate-volts"
        | "plate-watts"
        | "screen-rating"
        | "cathode-amps"
        | "negative-grid"
        | "grid-resistance"
        | "diode-reverse-volts"
        | "diode-current"
        | "resistor-watts"
        | "capacitor-volts"
        | "rail-overloaded"
        | "heater-warm-up"
        | "heater-wire"
        | "heater-cathode-volts" => Clash::Over,
        "heater-positive" => Clash::Near,
        _ => Clash::Short,
    }
}

/// What the numbers on heaters rest on, and what can hurt.
#[must_use]
pub fn about_heaters(verdict: &Verdict) -> Vec<String> {
    let assumed = &verdict.heaters.assumptions;
    let [least, usual, most] = assumed.hot_over_cold;
    let mut all = vec![
        format!(
            "Near its rating a heater takes a current that grows as the 0.6th power of its volts. Where its type says nothing else the current of one may be {} % off its rating either way, and it warms up in {} s in the test of controlled warm-up, one quicker and another slower by {} %.",
            decimal::fixed(100.0 * assumed.spread, 1),
            decimal::fixed(assumed.warm_up_seconds, 0),
            decimal::fixed(100.0 * assumed.warm_up_spread, 0)
        ),
        format!(
            "A cold heater takes {} to {} times its current, usually {}; warming up is worked out with {}.",
            decimal::fixed(least, 0),
            decimal::fixed(most, 0),
            decimal::fixed(usual, 0),
            decimal::fixed(usual, 0)
        ),
        "A fuse carries the warm current for ever and must stand the cold one for some seconds, so it is of the time-lag kind where that is above its rating; it protects the wiring, not people. Never plug a tube into a string under power, and let a tube cool before a hand goes near it.".to_owned(),
    ];
    if !verdict.plan.design.boards.is_empty() && !verdict.heaters.readings.is_empty() {
        all.push(about_feeders());
    }
    if verdict.heaters.readings.iter().any(|one| one.alternates) {
        all.push("Volts on an alternating rail are rms, counted from ground or from the rail that its winding stands on; from heater to cathode the peaks count, of either sign.".to_owned());
    }
    all
}

/// What the widths of feeders rest on.
fn about_feeders() -> String {
    format!(
        "A feeder is asked for {} mm for each ampere and to lose no more than {} V to the furthest tube (common practice), with its whole current over a way of half the board's perimeter out and the same back, in copper {} µm thick at 20 °C; how warm it gets is by the formula of IPC-2221 for outer tracks. A board without a size is asked for the first alone.",
        decimal::fixed(feeders::MM_PER_AMPERE, 0),
        decimal::fixed(feeders::LOST_VOLTS, 1),
        decimal::fixed(1e6 * devices::copper::SHEET_METRES, 0)
    )
}

/// Whether a type fits into a socket.
#[must_use]
pub fn fits(fit: Severity) -> &'static str {
    match fit {
        Severity::Fault => "does not fit",
        Severity::Caution => "fits with caution",
        Severity::Note => "fits",
    }
}

/// The verdict on a type in a socket, in a line.
#[must_use]
pub fn swap_verdict(swap: &Swap) -> String {
    let (old, new) = &swap.types;
    let (mark, fits) = (&swap.mark, fits(swap.fit));
    format!("{mark}: {new} in place of {old} {fits}.")
}

/// What a proposal for heater strings takes and wastes, and what it leaves out.
#[must_use]
pub fn about_proposal(proposal: &Proposal) -> Vec<String> {
    let grouping = &proposal.grouping;
    let supply = proposal.supply;
    let mut all = Vec::new();
    if !grouping.strings.is_empty() {
        let [least, usual, most] = grouping.cold_amps().map(|amps| shown(amps, Unit::Ampere));
        all.push(format!(
            "Together {} on {}, {} with cold heaters, from {least} to {most}. Shunts and droppers waste {}; the heaters alone would take {}, which no grouping undercuts.",
            shown(grouping.amps(), Unit::Ampere),
            shown(supply.volts, Unit::Volt),
            usual,
            shown(grouping.wasted_watts(), Unit::Watt),
            shown(grouping.heater_watts / supply.volts, Unit::Ampere),
        ));
        let worst = grouping.strings.iter().map(Proposed::severity).max();
        if worst != Some(Severity::Note) {
            all.push("The aim is 5 % at the nominal supply and 7 % at the ends of its tolerance, the limit 10 %. A string with a dropper moves more than its supply: a supply of closer tolerance, or other tubes in it, mends that.".to_owned());
        }
        all.push("Resistors in heater strings get hot: keep them off boards and wires, and let tubes and resistors cool before a hand goes near. Never plug a tube into a string under power.".to_owned());
    }
    for one in &grouping.left_out {
        let low = supply.volts * (1.0 - supply.tolerance);
        all.push(format!(
            "{} ({}) cannot be heated from here: it wants {}, and at {}, the low end, it would stand {} % under.",
            proposal.tubes[one.tube].mark,
            proposal.types[one.tube],
            shown(one.wants_volts, Unit::Volt),
            shown(low, Unit::Volt),
            decimal::fixed(100.0 * (1.0 - low / one.wants_volts), 1),
        ));
    }
    if !proposal.unknown.is_empty() {
        all.push(format!(
            "No heater is known of {}: give its volts and current in a `type` statement.",
            proposal.unknown.join(", ")
        ));
    }
    all
}

/// The two numbers of a finding in one sentence: what it has, what it needs, short by how much.
#[must_use]
pub fn numbers(finding: &Finding, wording: Wording) -> Option<String> {
    let (has, needs) = (finding.has.as_ref()?, finding.needs.as_ref()?);
    // Beside whole volts a level of microvolts is nothing.
    let beside_volts = 1.0 <= has.value.abs().max(needs.value.abs());
    let amount = |amount: &Amount| {
        let nothing = amount.unit == Unit::Volt && beside_volts && amount.value.abs() < 5e-3;
        let value = if nothing {
            volts(0.0)
        } else {
            shown(amount.value, amount.unit)
        };
        format!("{value} ({})", wording.apply(&amount.what))
    };
    let apart = shown((has.value - needs.value).abs(), has.unit);
    let clash = match clash(finding.name) {
        // A range has two ends.
        Clash::Short if needs.value < has.value && finding.name == "ballast-range" => Clash::Over,
        clash => clash,
    };
    Some(match clash {
        Clash::Short => format!(
            "Has {}, needs {}: short by {apart}.",
            amount(has),
            amount(needs)
        ),
        Clash::Over => {
            let over = shown((has.value.abs() - needs.value.abs()).abs(), has.unit);
            format!(
                "Has {}, may have {}: over by {over}.",
                amount(has),
                amount(needs)
            )
        }
        Clash::Near => format!("Has {}, may have {}.", amount(has), amount(needs)),
        Clash::Apart => format!(
            "Has {} against {}: {apart} apart.",
            amount(has),
            amount(needs)
        ),
        Clash::Thin => {
            format!(
                "{} to spare; below {} it is called thin.",
                shown(has.value, has.unit),
                shown(needs.value, needs.unit)
            )
        }
    })
}

/// Findings of one severity, consequences not counted.
fn count(verdict: &Verdict, severity: Severity) -> usize {
    verdict
        .findings
        .iter()
        .filter(|finding| finding.severity == severity)
        .count()
}

/// What came out, in one or two sentences: never that anything is safe, never without the number of findings.
#[must_use]
pub fn outcome(verdict: &Verdict) -> String {
    let design = verdict.plan.design;
    if design.circuits.is_empty() && design.strings.is_empty() {
        return "Nothing to check yet: no circuit and no heater string is typed.".to_owned();
    }
    let (faults, cautions) = (
        count(verdict, Severity::Fault),
        count(verdict, Severity::Caution),
    );
    let mut parts = Vec::new();
    if 0 < faults {
        parts.push(counted(faults, "fault"));
    }
    if 0 < cautions {
        parts.push(counted(cautions, "caution"));
    }
    let found = if parts.is_empty() {
        "no findings".to_owned()
    } else {
        parts.join(", ")
    };
    let mut text = match (0 < faults, design.circuits.is_empty()) {
        (true, _) => format!("Does not pass: {found}."),
        (false, true) => format!("Heater strings pass, {found}."),
        (false, false) => format!("Levels pass, {found}."),
    };
    if !verdict.place.settled || !verdict.alone.settled {
        text.push_str(
            " The levels still moved when the last round ended: take them as near, not as final.",
        );
    }
    text
}

/// What the machine is, in one sentence.
#[must_use]
pub fn machine(verdict: &Verdict) -> String {
    let design = verdict.plan.design;
    let rails: Vec<String> = design
        .rails
        .iter()
        .map(|rail| {
            format!(
                "{} {} ± {}",
                rail.name,
                shown(rail.volts, Unit::Volt),
                shown(rail.tolerance, Unit::Percent)
            )
        })
        .collect();
    let rails = if rails.is_empty() {
        "no rails".to_owned()
    } else {
        format!("rails {}", rails.join(", "))
    };
    format!(
        "{} of {}, {}, {}; {rails}.",
        counted(design.units.len(), "unit"),
        counted(design.circuits.len(), "circuit"),
        counted(design.sockets.len(), "tube"),
        counted(design.strings.len(), "heater string"),
    )
}

/// `Not checked: spread of parts and ageing (`margins` checks it), ...`; empty when nothing is left out.
#[must_use]
pub fn not_checked(verdict: &Verdict) -> String {
    nothing_of(verdict.not_checked.iter())
}

/// The same where the worst case was looked for as well.
pub(crate) fn not_checked_with_worst_case(verdict: &Verdict) -> String {
    let all = verdict.not_checked.iter();
    nothing_of(all.filter(|one| *one != SPREAD_NOT_CHECKED))
}

fn nothing_of<'a>(not_checked: impl Iterator<Item = &'a String>) -> String {
    let all: Vec<&str> = not_checked.map(String::as_str).collect();
    if all.is_empty() {
        return String::new();
    }
    format!("Not checked: {}.", all.join(", "))
}

/// A note on a curve used outside its points: for information, not a finding.
#[must_use]
pub fn extrapolation(extrapolation: &Extrapolation) -> String {
    format!(
        "Curve of {} extrapolated below {} (lowest {} at {}).",
        extrapolation.device,
        shown(extrapolation.fitted_from, Unit::Volt),
        volts(extrapolation.plate_volts),
        extrapolation.place
    )
}

/// What can hurt, and the usual caution. Touch limit: 60 V DC in dry places after IEC 61140 and IEC 61010-1, as
/// summarised; what it means is for local codes to say. `None` without rails.
#[must_use]
pub fn caution(verdict: &Verdict) -> Option<String> {
    let spans = spans(verdict.plan.design, verdict.limits.touch_volts);
    let span = spans
        .iter()
        .find(|span| span.is_above())
        .or(spans.first())?;
    let between = span.between.join(" and ");
    let reach = shown(span.volts, Unit::Volt);
    Some(if span.is_above() {
        format!(
            "Between the rails {between} stand up to {reach} at the ends of their tolerance, above the {} that \
             IEC 61140 and IEC 61010-1 (as summarised) take as the limit for touching in dry places. The plate of a cold or \
             cut-off tube stands at its rail, and capacitors keep their charge when the supply is off. Hot glass burns. \
             Local codes and licensed practice come first.",
            touch_limit(span)
        )
    } else {
        format!(
            "Between the rails {between} stand up to {reach} at the ends of their tolerance: measure before a hand goes in. \
             Hot glass burns. Local codes and licensed practice come first."
        )
    })
}

/// "60 V DC", "42.4 V peak".
fn touch_limit(span: &safety::Span) -> String {
    let kind = if span.alternates { "peak" } else { "DC" };
    format!("{} {kind}", shown(span.limit_volts, Unit::Volt))
}

/// What a scan looked at and found.
#[must_use]
pub fn scanned(scan: &Scan) -> String {
    let rests = scan
        .solutions
        .iter()
        .filter(|solution| solution.stability.rests());
    format!(
        "Broken at {} and scanned from {} to {} ({} volts tried): {} where the currents balance, {} of them at rest.",
        scan.net,
        volts(scan.range.0),
        volts(scan.range.1),
        scan.tried,
        counted(scan.solutions.len(), "point"),
        rests.count(),
    )
}

/// An electrolytic may have half as much capacitance again as is printed on it (common practice, no source).
const SLACK: f64 = 1.5;

/// What to do before a hand goes in, in the order in which it is done, and what can hurt besides.
#[must_use]
pub fn before_a_hand_goes_in(design: &Design, safety: &Safety, touch_volts: f64) -> Vec<String> {
    let mut all = Vec::new();
    let rails = safety.stores.iter().filter_map(|rail| rail.seconds);
    let pairs = safety.spans.iter().filter_map(|span| span.seconds);
    let longest = SLACK * rails.chain(pairs).fold(0.0, f64::max);
    let wait = if 0.0 < longest {
        format!(
            "wait {} s (the slowest rail or two rails together, with half as much capacitance again), ",
            decimal::fixed(longest.ceil(), 0)
        )
    } else {
        String::new()
    };
    all.push(format!(
        "Switch off, take the plugs out, {wait}then measure every rail to ground and to every other rail: a bleeder may be open, and a capacitor that was emptied can charge itself again. Call a rail dead only when the meter shows less than {} and what it stores is below {}.",
        shown(touch_volts, Unit::Volt),
        shown(HARMLESS_JOULES, Unit::Joule),
    ));
    let unknown: Vec<&str> = safety
        .stores
        .iter()
        .filter(|rail| rail.store.is_none())
        .map(|rail| design.rails[rail.rail].name.as_str())
        .collect();
    if !unknown.is_empty() {
        all.push(format!(
            "What {} store is not known: type it, as in `capacitor 220u, bleeder 100k`, and take them for charged until then.",
            unknown.join(", ")
        ));
    }
    let without: Vec<&str> = safety
        .stores
        .iter()
        .filter(|rail| rail.bleeder_ohms.is_none() && rail.wanted_ohms.is_some())
        .map(|rail| design.rails[rail.rail].name.as_str())
        .collect();
    if !without.is_empty() {
        all.push(format!(
            "No bleeder is typed for {}: only what hangs on it empties it.",
            without.join(", ")
        ));
    }
    all.push("With cold or unplugged tubes every plate stands at its rail, whatever the table of levels says; a missing rail can put every grid up.".to_owned());
    if !safety.raised.is_empty() {
        all.push(format!(
            "{} on a rail and not on ground: {} pins carry that rail's volts.",
            if let [string] = &safety.raised[..] {
                format!("The heater string {string} stands")
            } else {
                format!("The heater strings {} stand", safety.raised.join(", "))
            },
            if safety.raised.len() == 1 {
                "its"
            } else {
                "their"
            },
        ));
    }
    if !safety.coils.is_empty() {
        all.push(format!(
            "Opening the circuit of {} drives its volts far above its rail for a moment.",
            safety.coils.join(", ")
        ));
    }
    all.push("A ring across a large capacitor or a heater supply of some amperes burns to the bone: take rings, watches and bracelets off. Keep one hand in the pocket, and never work alone.".to_owned());
    all.push("Bulbs burn a hand for minutes after switching off, and break when knocked. Lead solder: wash hands, do not eat at the bench. Glass-fibre dust: mask, damp cloth, no blowing. Spinning cutters: glasses on, hands and sleeves away.".to_owned());
    all.push("The gaps of a board keep the circuit working; they protect nobody. Whatever touches the mains is for those who are licensed for it.".to_owned());
    all
}

/// Which standards served as a measure.
pub const MEASURES: &str = "Measures used, which promise nothing: 60 V direct for touching in dry places (IEC 61140 and IEC 61010-1, as summarised), 42.4 V peak alternating (IEC 60335-1, as quoted, and IEC 61010-1, from memory), 5 s for a rail to fall (IEC 61010-1, as quoted), 0.35 J (IEC 60335-1, as quoted for above 15 kV). These standards are for products and not for a bench. Local codes and licensed practice come first.";
