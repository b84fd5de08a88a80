//! The verdict on a whole design: everything solved once, then every finding with its cause, consequences below it.

use crate::connections::{
    AllThresholds, Connection, Thresholds, all_transfers, asked_of_output, connections, thresholds,
};
use crate::finding::Finding;
use crate::function::{Function, function};
use crate::heaters::{self, HeaterResult};
use crate::judge::{Context, Level, MemberResult, judge_in};
use crate::levels::{Alone, InPlace, alike, alone_within, boundary_levels, in_place};
use crate::loops::{Ring, rings};
use crate::plan::{FanOut, MemberIndex, Plan};
use crate::proof::{Failure, Proof, proofs};
use crate::rails::RailAmps;
use crate::surroundings::Surroundings;
use crate::switch_on::{self, SwitchOn};
use crate::transfer::{Transfer, transfers};
use crate::work::{Budget, MOST_EVALUATED};
use crate::{basic, cause, duty, level_findings, rails, ratings, storing};
use design::model::{CircuitId, Design};
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use text::diagnostic::Severity;
use text::quantity::counted;

/// What counts as good enough; held by the application and printed with the verdict.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// A tube counts as cut off when it carries at most this share of what it carries when conducting in the same unit.
    pub residual_share: f64,
    /// A margin below this share of the swing is called thin.
    pub thin_share: f64,
    /// Rail-to-rail volts above which the verdict speaks of touching (60 V DC: IEC 61140 and IEC 61010-1, as summarised).
    pub touch_volts: f64,
}

impl Limits {
    /// Below this margin, V, a connection with such levels is called thin.
    #[must_use]
    pub fn thin_below(&self, level: Level) -> f64 {
        self.thin_share * level.swing()
    }
}

/// What a verdict by the book does not check and a search of the worst case does.
pub const SPREAD_NOT_CHECKED: &str = "spread of parts and ageing (`margins` checks it)";

/// Everything about one circuit alone.
#[derive(Debug, Clone)]
pub struct CircuitAlone {
    /// Its function with clean inputs.
    pub function: Function,
    /// Transfer curves of its inputs, as its jig loads it.
    pub transfers: Vec<Transfer>,
    /// What its loads ask of its output.
    pub asked: Option<Thresholds>,
}

/// A tube type used outside the points that its curve was fitted to: for information, not a finding.
#[derive(Debug, Clone, PartialEq)]
pub struct Extrapolation {
    /// Tube type.
    pub device: String,
    /// Where it is worst: unit and tube.
    pub place: String,
    /// Lowest plate volts met while it conducts.
    pub plate_volts: f64,
    /// Lowest plate volts among the points.
    pub fitted_from: f64,
}

/// The verdict with everything it rests on.
#[derive(Debug, Clone)]
pub struct Verdict<'a> {
    /// The machine.
    pub plan: Plan<'a>,
    /// Every circuit alone.
    pub alone: Arc<Alone>,
    /// More on every circuit alone, in the order of the design.
    pub circuits: Arc<Vec<CircuitAlone>>,
    /// Every unit in its place.
    pub place: InPlace,
    /// Members of loops that lose a state, judged once more with their inputs held: what the loop is taken apart with.
    pub cut: BTreeMap<MemberIndex, MemberResult>,
    /// For each member the first of those that stand in like surroundings at the same levels.
    pub alike: Vec<MemberIndex>,
    /// Transfer curves of every unit's inputs.
    pub curves: Vec<BTreeMap<usize, Vec<Transfer>>>,
    /// Thresholds of every unit's inputs.
    pub thresholds: AllThresholds,
    /// Who drives whom.
    pub connections: Vec<Connection>,
    /// What stores.
    pub rings: Vec<Ring>,
    /// Rings too large to open.
    pub large_rings: usize,
    /// Blocks against their sentences.
    pub proofs: Vec<Proof>,
    /// Heaters.
    pub heaters: HeaterResult,
    /// Bounds on the current of each rail, in the order of the design: every unit at its worst together.
    pub rail_amps: Vec<RailAmps>,
    /// What happens at switch-on.
    pub switch_on: SwitchOn,
    /// Findings, worst first, consequences below their cause.
    pub findings: Vec<Finding>,
    /// Curves used outside their points.
    pub extrapolations: Vec<Extrapolation>,
    /// What was checked, one sentence each.
    pub checked: Vec<String>,
    /// What was not checked.
    pub not_checked: Vec<String>,
    /// The limits used.
    pub limits: Limits,
}

/// Solves and judges a design.
#[must_use]
pub fn check<'a>(design: &'a Design, limits: &Limits, context: &Context) -> Verdict<'a> {
    let mut budget = Budget::new(MOST_EVALUATED);
    let alone = Arc::new(alone_within(design, &mut budget, context));
    let circuits = Arc::new(circuits_alone(design, &alone, context));
    let filaments = heaters::filaments(design, &context.assumptions.heaters);
    let plan = Plan::machine(design).with_filaments(filaments);
    let mut verdict = solved(plan, alone, circuits, limits, &mut budget, context);
    verdict.proofs = proofs(&verdict.plan);
    let place = &verdict.place;
    verdict.heaters = heaters::check(&verdict.plan, &place.levels, &place.results, context);
    verdict.rail_amps = rails::amps(&verdict.plan, &place.results, &verdict.heaters);
    verdict.extrapolations = all_extrapolations(&verdict);
    (verdict.findings, verdict.switch_on) = findings(&verdict, &mut budget, context);
    (verdict.checked, verdict.not_checked) = coverage(&verdict);
    verdict
}

/// Everything about the levels of a plan; supplies, findings and words are left empty.
fn solved<'a>(
    plan: Plan<'a>,
    alone: Arc<Alone>,
    circuits: Arc<Vec<CircuitAlone>>,
    limits: &Limits,
    budget: &mut Budget,
    context: &Context,
) -> Verdict<'a> {
    let place = in_place(&plan, &alone, budget, context);
    let (rings, large_rings) = rings(&plan, &place.levels, &alone.weak, context);
    let cut = cut_open(&plan, &rings, &place, &alone, context);
    let results: Vec<MemberResult> = place
        .results
        .iter()
        .enumerate()
        .map(|(member, result)| cut.get(&member).unwrap_or(result).clone())
        .collect();
    let alike = alike(&plan, &place.levels);
    let curves = all_transfers(&plan, &alike, &results, &place.levels, context);
    let asked = circuits
        .iter()
        .enumerate()
        .filter_map(|(index, circuit)| Some((CircuitId(index), circuit.asked?)))
        .collect();
    let thresholds = thresholds(&plan, &curves, &asked);
    let connections = connections(&plan, &results, &place.levels, &thresholds);
    Verdict {
        plan,
        alone,
        circuits,
        place,
        cut,
        alike,
        curves,
        thresholds,
        connections,
        rings,
        large_rings,
        proofs: Vec::new(),
        heaters: HeaterResult::none(&context.assumptions.heaters),
        rail_amps: Vec::new(),
        switch_on: SwitchOn::none(),
        findings: Vec::new(),
        extrapolations: Vec::new(),
        checked: Vec::new(),
        not_checked: Vec::new(),
        limits: *limits,
    }
}

/// Circuits that stand nowhere in the machine.
fn unplaced(design: &Design) -> impl Iterator<Item = CircuitId> + '_ {
    (0..design.circuits.len())
        .map(CircuitId)
        .filter(|circuit| design.units.iter().all(|unit| unit.circuit != *circuit))
}

/// Findings on the ratings and levels of circuits that stand nowhere: each alone, between what its jig names or copies of itself.
/// Circuits that already have a fault of their own are left out.
fn unplaced_findings(
    verdict: &Verdict,
    faulty: &BTreeSet<String>,
    budget: &mut Budget,
    context: &Context,
) -> Vec<Finding> {
    let design = verdict.plan.design;
    let judged = unplaced(design).flat_map(|id| {
        let circuit = &design.circuits[id.0];
        let subject = format!("circuit {}", circuit.name);
        if faulty.contains(&subject) {
            return Vec::new();
        }
        let plan = Plan::alone(design, id, FanOut::AsJig);
        let levels = boundary_levels(&plan, &verdict.alone.levels);
        let result = &verdict.alone.results[id.0];
        let mut all = ratings::check(&plan, result, &levels, context);
        all.extend(duty::check(&plan, result, &levels, context));
        if circuit.says.is_empty() {
            return all;
        }
        let (alone, circuits) = (verdict.alone.clone(), verdict.circuits.clone());
        let small = solved(plan, alone, circuits, &verdict.limits, budget, context);
        let raw = level_findings::findings(&small, context);
        // The neighbours are stand-ins: what happens to them is the circuit's own doing.
        let first = cause::arrange(&small, raw).into_iter().next();
        let (span, consequences) = (circuit.span, Vec::new());
        all.extend(first.map(|found| Finding {
            subject,
            span,
            consequences,
            ..found
        }));
        all
    });
    judged.collect()
}

/// Members of rings that lose a state, each with its inputs held at their levels.
fn cut_open(
    plan: &Plan,
    rings: &[Ring],
    place: &InPlace,
    alone: &Alone,
    context: &Context,
) -> BTreeMap<MemberIndex, MemberResult> {
    rings
        .iter()
        .filter(|ring| ring.loses_a_state())
        .flat_map(|ring| ring.members.iter().chain(ring.alike.iter().flatten()))
        .map(|&member| {
            let around = Surroundings::cut_open(plan, member);
            (
                member,
                judge_in(plan, around, None, &place.levels, &alone.weak, context),
            )
        })
        .collect()
}

impl Verdict<'_> {
    /// A member's result where it stands, or with its loop cut open where the loop loses a state.
    #[must_use]
    pub fn result(&self, member: MemberIndex) -> &MemberResult {
        self.cut.get(&member).unwrap_or(&self.place.results[member])
    }

    /// The surroundings that [`Verdict::result`] belongs to, with every load by itself.
    #[must_use]
    pub fn around(&self, member: MemberIndex) -> Surroundings {
        if self.cut.contains_key(&member) {
            Surroundings::cut_open(&self.plan, member)
        } else {
            Surroundings::of(&self.plan, member)
        }
    }

    /// The findings on switching on.
    #[must_use]
    pub fn switch_on_findings(&self) -> Vec<Finding> {
        let findings = self.findings.iter();
        findings
            .filter(|finding| switch_on::FINDINGS.contains(&finding.name))
            .cloned()
            .collect()
    }

    /// No fault among the findings.
    #[must_use]
    pub fn passes(&self) -> bool {
        self.findings
            .iter()
            .all(|finding| finding.severity != Severity::Fault)
    }
}

fn circuits_alone(design: &Design, alone: &Alone, context: &Context) -> Vec<CircuitAlone> {
    (0..design.circuits.len())
        .into_par_iter()
        .map(|index| {
            let id = CircuitId(index);
            let plan = Plan::alone(design, id, FanOut::AsJig);
            let levels = boundary_levels(&plan, &alone.levels);
            let inputs = design.circuits[index].interface.inputs;
            let settles = alone.results[index].settles();
            let curves = (0..inputs)
                .filter(|_| settles)
                .flat_map(|input| transfers(&plan, 0, input, &levels, context))
                .collect();
            CircuitAlone {
                function: function(design, id, context),
                transfers: curves,
                asked: asked_of_output(&plan, &levels, context).filter(|_| settles),
            }
        })
        .collect()
}

/// All findings with their order of cause, and what happens at switch-on.
fn findings(verdict: &Verdict, budget: &mut Budget, context: &Context) -> (Vec<Finding>, SwitchOn) {
    let mut raw = basic::findings(verdict, context);
    raw.extend(level_findings::findings(verdict, context));
    raw.extend(storing::findings(verdict));
    let ratings = ratings_in_place(&verdict.plan, &verdict.place, context);
    for (member, findings) in ratings.into_iter().enumerate() {
        raw.extend(
            findings
                .into_iter()
                .map(|finding| cause::Raw::of_member(finding, member)),
        );
    }
    raw.extend(duties(verdict, context));
    let both = ratings::both_plates(&verdict.plan, &verdict.place.results);
    raw.extend(both.into_iter().map(cause::Raw::alone));
    raw.extend(
        verdict
            .heaters
            .findings
            .iter()
            .cloned()
            .map(cause::Raw::alone),
    );
    raw.extend(rails::findings(verdict).into_iter().map(cause::Raw::alone));
    let (switch_on, found) = switch_on::check(verdict, &raw, budget, context);
    raw.extend(found.into_iter().map(cause::Raw::alone));
    let faulty: BTreeSet<String> = raw.iter().map(|raw| raw.finding.subject.clone()).collect();
    let alone = unplaced_findings(verdict, &faulty, budget, context);
    raw.extend(alone.into_iter().map(cause::Raw::alone));
    (cause::arrange(verdict, raw), switch_on)
}

/// Findings on the ratings of every member's parts, by member.
fn ratings_in_place(plan: &Plan, place: &InPlace, context: &Context) -> Vec<Vec<Finding>> {
    let judged = place.results.par_iter().map(|result| {
        if result.rows.is_empty() {
            Vec::new()
        } else {
            ratings::check(plan, result, &place.levels, context)
        }
    });
    judged.collect()
}

/// A fault of a part where its unit stands.
#[derive(Debug, Clone, PartialEq)]
pub struct PartFault {
    /// Which.
    pub finding: Finding,
    /// It does not do what a sentence asks of a part of this member; `None` of a rating that is exceeded.
    pub asked_of: Option<MemberIndex>,
}

/// Every rating that a design exceeds where its units stand (of parts, of bottles, and of heaters), then what lamps and loads do
/// otherwise than sentences ask, with every tube conducting so much later as `less_heat_volts` says, V. Cautions are left out, and so is what a missing rail does, what circuits do that stand nowhere,
/// and what the supplies may give.
#[must_use]
pub fn part_faults(design: &Design, less_heat_volts: f64, context: &Context) -> Vec<PartFault> {
    let mut budget = Budget::new(MOST_EVALUATED);
    let alone = alone_within(design, &mut budget, context);
    let filaments = heaters::filaments(design, &context.assumptions.heaters);
    let plan = Plan::machine(design)
        .with_filaments(filaments)
        .with_less_heat(less_heat_volts);
    let place = in_place(&plan, &alone, &mut budget, context);
    let mut exceeded: Vec<Finding> = ratings_in_place(&plan, &place, context)
        .into_iter()
        .flatten()
        .collect();
    exceeded.extend(ratings::both_plates(&plan, &place.results));
    exceeded.extend(heaters::check(&plan, &place.levels, &place.results, context).findings);
    let exceeded = exceeded.into_iter().map(|finding| PartFault {
        finding,
        asked_of: None,
    });
    let mut all: Vec<PartFault> = exceeded.collect();
    for (member, result) in place.results.iter().enumerate() {
        let found = duty::check(&plan, result, &place.levels, context);
        all.extend(found.into_iter().map(|finding| PartFault {
            finding,
            asked_of: Some(member),
        }));
    }
    all.retain(|fault| fault.finding.severity == Severity::Fault);
    all
}

/// Of every unit whose circuit says what its lamps or loads are there for.
fn duties(verdict: &Verdict, context: &Context) -> Vec<cause::Raw> {
    let place = &verdict.place;
    place
        .results
        .iter()
        .enumerate()
        .flat_map(|(member, result)| {
            duty::check(&verdict.plan, result, &place.levels, context)
                .into_iter()
                .map(move |finding| cause::Raw::of_duty(finding, member))
        })
        .collect()
}

/// Of the units where they stand, and of circuits that stand nowhere.
fn all_extrapolations(verdict: &Verdict) -> Vec<Extrapolation> {
    let mut all = extrapolations(&verdict.plan, &verdict.place.results);
    for id in unplaced(verdict.plan.design) {
        let plan = Plan::alone(verdict.plan.design, id, FanOut::AsJig);
        for one in extrapolations(&plan, std::slice::from_ref(&verdict.alone.results[id.0])) {
            if !all.iter().any(|known| known.device == one.device) {
                all.push(one);
            }
        }
    }
    all
}

/// The lowest plate volts at which each type conducts, where that is below its points.
fn extrapolations(plan: &Plan, results: &[MemberResult]) -> Vec<Extrapolation> {
    let mut worst: BTreeMap<String, Extrapolation> = BTreeMap::new();
    for (member, result) in results.iter().enumerate() {
        for (part, tube) in plan.circuit(member).tubes() {
            let Some(validity) = tube.device.validity else {
                continue;
            };
            for row in result.rows.iter().filter(|row| row.counts()) {
                let reading = row.parts[part];
                let conducts = NOTICEABLE_AMPS < reading.amps;
                if !conducts || validity.plate_volts.0 <= reading.volts {
                    continue;
                }
                let known = worst
                    .get(&tube.device.name)
                    .map_or(f64::INFINITY, |known| known.plate_volts);
                if reading.volts < known {
                    let place = format!(
                        "{}.{}",
                        plan.members[member].name,
                        plan.circuit(member).parts[part].mark
                    );
                    let device = tube.device.name.clone();
                    let entry = Extrapolation {
                        device: device.clone(),
                        place,
                        plate_volts: reading.volts,
                        fitted_from: validity.plate_volts.0,
                    };
                    worst.insert(device, entry);
                }
            }
        }
    }
    worst.into_values().collect()
}

/// A tube that carries less says nothing about its curve, A.
const NOTICEABLE_AMPS: f64 = 1e-6;

/// What was checked and what was not, in sentences.
fn coverage(verdict: &Verdict) -> (Vec<String>, Vec<String>) {
    let design = verdict.plan.design;
    let mut checked = Vec::new();
    let mut not_checked = Vec::new();
    let rows: usize = verdict
        .place
        .results
        .iter()
        .map(|result| result.rows.len())
        .sum();
    if !design.units.is_empty() {
        checked.push(format!("Levels of {} in {} of inputs, with their drivers and real loads, at book values and nominal rails.", counted(design.units.len(), "unit"), counted(rows, "row")));
        let judged = verdict
            .connections
            .iter()
            .filter(|connection| connection.thresholds.is_some())
            .count();
        checked.push(format!(
            "{} against the thresholds of the gates driven.",
            counted(judged, "connection")
        ));
        checked.push("Ratings of tubes, diodes, and of resistors and capacitors whose rating is stated, at rest; plates and grids also with cold tubes and rails at the top of their tolerance.".to_owned());
    }
    checked.extend(at_switch_on(verdict));
    checked.extend(duties_checked(design));
    let alone = unplaced(design).count();
    if 0 < alone {
        checked.push(format!(
            "{} that no unit uses: alone, driven and loaded as the jig says or by its like, levels, thresholds and ratings.",
            counted(alone, "circuit")
        ));
    }
    let states: usize = verdict
        .rings
        .iter()
        .map(|ring| {
            ring.rows.iter().map(|row| row.states.len()).sum::<usize>() * (1 + ring.alike.len())
        })
        .sum();
    if 0 < states {
        checked.push(format!("{}, each solved from itself and at rest; one net per loop scanned in the row with most states.", counted(states, "stored state")));
    }
    if !verdict.proofs.is_empty() {
        let cases: usize = verdict.proofs.iter().map(|proof| proof.cases).sum();
        checked.push(format!(
            "{} against what is said of them, in {cases} rows and states.",
            counted(verdict.proofs.len(), "block")
        ));
    }
    if design.strings.is_empty() {
        if !design.sockets.is_empty() {
            not_checked.push("heaters (no string is typed)".to_owned());
        }
    } else {
        checked.push(format!("Heater strings ({}): the way home by solved current, volts with their spread and the supply's, warming up, and volts to the cathodes in every row.", design.strings.len()));
    }
    not_checked.extend(
        [
            SPREAD_NOT_CHECKED,
            "timing beyond a rough delay",
            "noise and crosstalk",
            "copper and spacing",
            "safety",
        ]
        .map(str::to_owned),
    );
    not_checked.extend(not_known_at_switch_on(verdict));
    not_checked.extend(storing_circuits(verdict));
    not_checked.extend(states_not_known(verdict));
    if 0 < verdict.large_rings {
        not_checked.push(format!(
            "{} of more than {} gates, or of very many states, as a whole (each gate in them is)",
            counted(verdict.large_rings, "ring"),
            crate::loops::LARGEST_RING
        ));
    }
    let unproven: Vec<&str> = verdict
        .proofs
        .iter()
        .filter(|proof| proof.failures.contains(&Failure::TooLarge))
        .map(|proof| {
            let block = design.placed_blocks[proof.placed].block.0;
            design.blocks[block].name.as_str()
        })
        .collect();
    if !unproven.is_empty() {
        not_checked.push(format!(
            "the sentences of blocks too large to go through ({})",
            unproven.join(", ")
        ));
    }
    let silent = verdict
        .connections
        .iter()
        .filter(|connection| {
            let load = verdict.plan.circuit(connection.load.0);
            connection.thresholds.is_none() && load.duties.is_empty()
        })
        .count();
    if 0 < silent {
        not_checked.push(format!(
            "{} behind which no gate sets a threshold (lamp stages and what feeds them; the level there is solved, not judged)",
            counted(silent, "connection")
        ));
    }
    (checked, not_checked)
}

/// Which cases of switching on were judged.
fn at_switch_on(verdict: &Verdict) -> Option<String> {
    let rails = verdict.plan.design.rails.len();
    (!verdict.switch_on.cases.is_empty() && 0 < rails).then(|| {
        format!(
            "The same ratings at switch-on: cold tubes, and {} missing in turn, with warm and with cold tubes.",
            if rails == 1 { "the rail".to_owned() } else { format!("each of {rails} rails") }
        )
    })
}

/// What could not be judged of switching on.
fn not_known_at_switch_on(verdict: &Verdict) -> Option<String> {
    let switch_on = &verdict.switch_on;
    let cases = switch_on.cases.iter().filter(|case| !case.known).count();
    if 0 < switch_on.left_out && !switch_on.cases.is_empty() {
        return Some(format!(
            "switching on, of what has a fault already ({})",
            counted(switch_on.left_out, "unit")
        ));
    }
    (0 < cases).then(|| {
        format!(
            "switching on, where not every unit came to rest or the volts still moved ({})",
            counted(cases, "case")
        )
    })
}

/// How many lamps and loads with a sentence were judged.
fn duties_checked(design: &Design) -> Option<String> {
    let units = design.units.iter().map(|unit| unit.circuit);
    let duties: usize = units
        .chain(unplaced(design))
        .map(|circuit| design.circuits[circuit.0].duties.len())
        .sum();
    (0 < duties).then(|| {
        if duties == 1 {
            "1 lamp or load: lit, or carrying current, when its sentence says so and only then."
                .to_owned()
        } else {
            format!("{duties} lamps and loads: lit, or carrying current, when their sentences say so and only then.")
        }
    })
}

/// How many states have volts, but no poles that say whether a circuit rests there.
fn states_not_known(verdict: &Verdict) -> Option<String> {
    let states = verdict.rings.iter().flat_map(|ring| &ring.rows);
    let count = states
        .flat_map(|row| &row.states)
        .filter(|state| !state.lasts() && !state.is_lost())
        .count();
    (0 < count).then(|| {
        format!(
            "whether a circuit rests in a state whose volts were found ({})",
            counted(count, "state")
        )
    })
}

/// What is not checked of circuits that store within themselves.
fn storing_circuits(verdict: &Verdict) -> Vec<String> {
    let plan = &verdict.plan;
    let stores = |edges: bool| {
        let circuits = plan.design.circuits.iter().zip(&plan.stores);
        circuits
            .filter(|(circuit, stores)| {
                **stores && circuit.says.iter().any(|says| says.edge.is_some()) == edges
            })
            .count()
    };
    let (levels, edges) = (stores(false), stores(true));
    let mut sentences = Vec::new();
    if 0 < levels {
        sentences.push(format!(
            "how its inputs bring a circuit that stores within itself from one state into the other ({})",
            counted(levels, "circuit")
        ));
    }
    if 0 < edges {
        sentences.push(format!(
            "what a circuit that takes a value over at an edge stores, and when it takes it over ({})",
            counted(edges, "circuit")
        ));
    }
    sentences
}
