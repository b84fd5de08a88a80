//! What rails must give by state, against currents by hand, energy, and every value of every net.

use crate::judging::{CONTEXT, LIMITS, sound};
use crate::random_circuits::Seeded;
use design::model::Design;
use design::read::read;
use devices::library::Library;
use network::judge::{MemberResult, RowResult};
use network::plan::Plan;
use network::power::{Fuse, power};
use network::rail_states::{Effort, RailStates, rail_states};
use network::rows::{Others, Row, input_rows};
use network::solve::{Counters, Outcome, Way};
use network::surroundings::Surroundings;
use network::verdict::{Verdict, check};
use std::collections::{BTreeMap, BTreeSet};
use text::source::Sources;

/// The gate of the method's example, by hand: down it brings (36 - 0.8) V through 82k, up with one load (36 - 32.16) V.
const DOWN_AMPS: f64 = 35.2 / 82e3;
const UP_ON_ONE_GATE_AMPS: f64 = 3.84 / 82e3;
/// Up with 1M to ground: 36 V over 82k and 1M.
const UP_ON_1M_AMPS: f64 = 36.0 / 1082e3;

fn gates(rails: &str, units: &str) -> String {
    format!(
        "valvewright format 1
{rails}
circuit inverter
    inputs a, output y
    y = not a
    diodes 1N4148: CR1 a to join
    resistors 5%: R1 680k join to g1, R2 1M2 g1 to lower, R3 82k upper to y
    tube V1 half 6922: plate y, grid g1, cathode ground
{units}"
    )
}

const RAILS: &str = "rail upper 36V 5%\nrail lower -24V 5%";

fn near(value: f64, expected: f64, share: f64) {
    assert!(
        (value / expected - 1.0).abs() <= share,
        "{value}, not {expected}"
    );
}

/// Gate A drives gate B: one of the two is on, never both, and it is worst when A is up and feeds B's input.
#[test]
fn two_gates_in_a_row_are_never_both_on() {
    let text = gates(
        RAILS,
        "unit A inverter: a take, y one\nunit B inverter: a one, y two
bench
    switches: take upper or ground through 1k
    loads: two 1M to ground\n",
    );
    let reading = sound(&text);
    let verdict = check(reading.design.as_ref().unwrap(), &LIMITS, &CONTEXT);
    let power = power(&verdict);
    assert_eq!(power.states.every_state, Some(2));
    let upper = &power.rails[0];
    let worst = upper.worst.as_ref().unwrap();
    near(worst.amps, UP_ON_ONE_GATE_AMPS + DOWN_AMPS, 0.01);
    assert_eq!((worst.up.len(), worst.nearby, worst.without_row), (0, 0, 0));
    near(upper.most_amps, 2.0 * DOWN_AMPS, 0.01);
    near(
        upper.least_amps.unwrap(),
        UP_ON_ONE_GATE_AMPS + UP_ON_1M_AMPS,
        0.01,
    );
    // The lower rail takes most where both dividers are pulled up; it gives, so its current is positive too.
    assert!(power.rails[1].least_amps.unwrap() > 0.0 && power.rails[1].backwards.is_none());
}

/// Two gates that hold each other: one of them is on in either state.
#[test]
fn a_latch_never_has_both_halves_on() {
    let text = gates(
        RAILS,
        "unit Q inverter: a qn, y q\nunit N inverter: a q, y qn\n",
    );
    let reading = sound(&text);
    let verdict = check(reading.design.as_ref().unwrap(), &LIMITS, &CONTEXT);
    let power = power(&verdict);
    assert_eq!(power.states.every_state, Some(2));
    let upper = &power.rails[0];
    near(
        upper.worst.as_ref().unwrap().amps,
        DOWN_AMPS + UP_ON_ONE_GATE_AMPS,
        0.01,
    );
    near(upper.most_amps, 2.0 * DOWN_AMPS, 0.01);
}

/// What the rails and the switch bring into a gate, less what its load takes away, is what its parts turn into heat: in
/// every row, grid current included.
#[test]
fn what_the_rails_give_is_what_the_parts_turn_into_heat() {
    let text = gates(
        RAILS,
        "unit A inverter: a take, y one
bench
    switches: take upper or ground through 10k
    loads: one 1M to ground\n",
    );
    let reading = sound(&text);
    let verdict = check(reading.design.as_ref().unwrap(), &LIMITS, &CONTEXT);
    let design = verdict.plan.design;
    let rows = &verdict.place.results[0].rows;
    assert_eq!(rows.len(), 2);
    for row in rows {
        let from_rails: f64 = design
            .rails
            .iter()
            .map(|rail| rail.volts * row.rail_amps[&rail.net.0])
            .sum();
        let (input, output) = (row.volts[0], row.volts[1]);
        let switch = if row.row.inputs[0] { 36.0 } else { 0.0 };
        let brought = from_rails + (switch - input) / 10e3 * input - output * output / 1e6;
        let heat: f64 = row.parts.iter().map(|part| part.heat_watts).sum();
        assert!((brought - heat).abs() < 1e-8, "{brought} W, {heat} W");
        assert!(1e-4 < heat);
    }
}

/// A string from one positive rail to another is fed by the first and feeds the second; the two together give what its
/// heaters take, and no more.
#[test]
fn a_string_between_two_rails_counts_once() {
    let rails = format!("{RAILS}\nrail heat 25.2V 2%, limit 400mA\nrail middle 12.6V 2%");
    let text = gates(
        &rails,
        "unit A inverter in V1A: a take, y one\nunit B inverter in V2A: a one, y open
string H1: from heat, V1, V2, back to middle
bench
    switches: take upper or ground through 10k\n",
    );
    let reading = sound(&text);
    let verdict = check(reading.design.as_ref().unwrap(), &LIMITS, &CONTEXT);
    let power = power(&verdict);
    let [_, _, heat, middle] = &power.rails[..] else {
        panic!("four rails")
    };
    near(heat.most_amps, 0.3, 1e-3);
    near(middle.least_amps.unwrap(), -0.3, 1e-3);
    let heaters: f64 = power.heat.iter().map(|heat| heat.heater_watts).sum();
    near(heat.watts + middle.watts, heaters, 1e-9);
    near(heaters, 2.0 * 6.3 * 0.3, 1e-3);
    // Half an ampere would carry it, and the supply cannot blow that; the other one has no limit.
    assert_eq!(heat.fuse, Fuse::AboveLimit(0.5));
    assert_eq!(middle.fuse, Fuse::Rated(0.5));
    // It blows for certain at 2.1 times that (IEC 60127-2, from memory): a supply of 1 A may not blow it, one of 1.1 A does.
    assert!(middle.may_not_blow(Some(1.0)) && !middle.may_not_blow(Some(1.1)));
    assert!(!middle.may_not_blow(None) && !heat.may_not_blow(Some(0.4)));
    // Nothing but the string is on it, so the worst is what it always gives.
    near(heat.worst_amps().unwrap(), 0.3, 1e-3);
}

/// A tube without curve and heater: what its string and the gates around it take is not known, and not nothing.
#[test]
fn what_is_not_known_is_not_nothing() {
    let rails = format!(
        "{RAILS}\nrail heat 12.6V 2%
type DARK triode, 2 sections
    base 9A: 1 plate B, 2 grid B, 3 cathode B, 4 heater, 5 heater, 6 plate A, 7 grid A, 8 cathode A, 9 shield"
    );
    let text = gates(
        &rails,
        "unit A inverter in V1A: a take, y one\nunit B inverter in V2A with DARK: a one, y open
string H1: from heat, V1, V2, back to ground
bench
    switches: take upper or ground through 10k\n",
    );
    let design = any(&text);
    let verdict = check(&design, &LIMITS, &CONTEXT);
    assert_eq!(verdict.heaters.strings[0].amps, None);
    let power = power(&verdict);
    let [upper, _, heat] = &power.rails[..] else {
        panic!("three rails")
    };
    assert_eq!((heat.least_amps, heat.missing), (None, 1));
    // Gate A is solved together with its load, so neither is.
    assert_eq!((upper.least_amps, upper.missing), (None, 2));
    assert_eq!(
        (power.tubes[1].heater_watts, power.tubes[1].watts()),
        (None, None)
    );
}

struct One<'a>(&'a str);

impl Sources for One<'_> {
    fn read(&self, _: &str) -> Result<String, String> {
        Ok(self.0.to_owned())
    }
}

/// The design of a text that may leave something to be desired.
fn any(text: &str) -> Design {
    let reading = read("machine.valve", &One(text), Library::shipped());
    let said = text::diagnostic::render(&reading.diagnostics, &reading.sources, false);
    reading.design.expect(&said)
}

/// Gates of two inputs whose inputs are any of the nets; loops allowed.
fn random_machine(wires: &[(usize, usize)], inputs: usize) -> String {
    let net = |index: usize| match index % (inputs + wires.len()) {
        index if index < inputs => format!("i{index}"),
        index => format!("n{}", index - inputs),
    };
    let units = wires.iter().enumerate().map(|(index, &(a, b))| {
        format!(
            "unit G{index} nor2: a {}, b {}, y n{index}\n",
            net(a),
            net(b)
        )
    });
    let ends = wires.iter().flat_map(|&(a, b)| [net(a), net(b)]);
    let fed: BTreeSet<String> = ends.filter(|net| net.starts_with('i')).collect();
    let switches = fed
        .iter()
        .map(|net| format!("    switches: {net} upper or ground through 10k\n"));
    let bench = if fed.is_empty() { "" } else { "bench\n" };
    format!(
        "valvewright format 1
{RAILS}
circuit nor2
    inputs a b, output y
    y = not (a or b)
    resistors 5%: R1 680k a to g1, R4 680k b to g1, R2 1M2 g1 to lower, R3 82k upper to y
    tube V1 half 6922: plate y, grid g1, cathode ground
{}{bench}{}",
        units.collect::<String>(),
        switches.collect::<String>()
    )
}

/// A unit that draws made-up currents from the first rail in each row of its inputs.
fn made_up(plan: &Plan, member: usize, amps: &[f64]) -> MemberResult {
    let rail = plan.design.rails[0].net.0;
    let nets = &plan.members[member].nets;
    let rows = input_rows(2).into_iter().zip(amps).map(|(inputs, &amps)| {
        let output = !(inputs[0] || inputs[1]);
        let values = nets
            .iter()
            .copied()
            .zip(inputs.iter().copied().chain([output]));
        RowResult {
            row: Row {
                outputs: vec![Some(output)],
                values: values.collect(),
                others: Others::Down,
                inputs,
            },
            outcome: Outcome::Settled(Way::Straight),
            stability: None,
            kept: true,
            volts: Vec::new(),
            parts: Vec::new(),
            rail_amps: BTreeMap::from([(rail, amps)]),
            nets: BTreeMap::new(),
            work: Counters::default(),
        }
    });
    MemberResult {
        around: Surroundings::of(plan, member),
        rows: rows.collect(),
        impossible: 0,
        clash: None,
        clash_name: None,
        without_law: Vec::new(),
        floating: Vec::new(),
        refused: None,
        evaluated: 0,
    }
}

/// The most and the least of the first rail over every value of every net with which all gates agree.
fn by_every_value(plan: &Plan, results: &[MemberResult]) -> Option<(f64, f64)> {
    let rail = plan.design.rails[0].net.0;
    let first = 1 + plan.design.rails.len();
    let mut extremes: Option<(f64, f64)> = None;
    for bits in 0..1u32 << (plan.nets.len() - first) {
        let up = |net: usize| bits >> (net - first) & 1 == 1;
        let agrees = plan.members.iter().all(|member| {
            let [a, b, y] = member.nets[..] else {
                panic!("three signals")
            };
            up(y) != (up(a) || up(b))
        });
        if !agrees {
            continue;
        }
        let rows = plan.members.iter().zip(results).map(|(member, result)| {
            let row = usize::from(up(member.nets[0])) + 2 * usize::from(up(member.nets[1]));
            result.rows[row].rail_amps[&rail]
        });
        let amps: f64 = rows.sum();
        let known = extremes.unwrap_or((amps, amps));
        extremes = Some((known.0.max(amps), known.1.min(amps)));
    }
    extremes
}

fn extremes(states: &RailStates) -> (Option<f64>, Option<f64>) {
    let rail = &states.rails[0];
    let amps =
        |state: &Option<network::rail_states::RailState>| state.as_ref().map(|state| state.amps);
    (amps(&rail.most), amps(&rail.least))
}

fn alike(found: Option<f64>, expected: f64) -> bool {
    found.is_some_and(|found| (found - expected).abs() < 1e-12)
}

/// On 200 machines of six gates with loops, drawing currents of either sign, trying every setting and climbing both find
/// what trying every value of every net finds.
#[test]
fn trying_all_and_climbing_find_what_every_value_of_every_net_finds() {
    const INPUTS: usize = 3;
    const GATES: usize = 6;
    let mut lot = Seeded(1946);
    let mut with_states = 0;
    for _ in 0..200 {
        let wires = [(); GATES].map(|()| (lot.below(INPUTS + GATES), lot.below(INPUTS + GATES)));
        let design = any(&random_machine(&wires, INPUTS));
        let plan = Plan::machine(&design);
        let results: Vec<MemberResult> = (0..plan.members.len())
            .map(|member| {
                let amps = [(); 4].map(|()| 1e-3 * (lot.share() - 0.5));
                made_up(&plan, member, &amps)
            })
            .collect();
        let expected = by_every_value(&plan, &results);
        with_states += usize::from(expected.is_some());
        for effort in [Effort::BySize, Effort::Climb] {
            let states = rail_states(&plan, &results, effort);
            assert_eq!(states.every_state.is_some(), effort == Effort::BySize);
            let (most, least) = extremes(&states);
            match expected {
                Some((highest, lowest)) => {
                    assert!(
                        alike(most, highest),
                        "{effort:?} {most:?} {highest} {wires:?}"
                    );
                    assert!(
                        alike(least, lowest),
                        "{effort:?} {least:?} {lowest} {wires:?}"
                    );
                }
                None => assert_eq!((most, least), (None, None)),
            }
        }
    }
    assert!(100 < with_states);
}

/// A limit between what a latch can take and what both halves would take together is no finding; a lower one is a fault.
#[test]
fn a_limit_is_judged_by_what_the_logic_permits() {
    let judged = |limit: &str| {
        let rails = format!("rail upper 36V 5%, limit {limit}\nrail lower -24V 5%");
        let text = gates(
            &rails,
            "unit Q inverter: a qn, y q\nunit N inverter: a q, y qn\n",
        );
        let reading = sound(&text);
        let verdict: Verdict = check(reading.design.as_ref().unwrap(), &LIMITS, &CONTEXT);
        let findings = verdict.findings.iter();
        let names = findings.map(|finding| format!("{} {:?}", finding.name, finding.severity));
        names.collect::<Vec<String>>()
    };
    assert_eq!(judged("600uA"), Vec::<String>::new());
    assert_eq!(judged("400uA"), ["rail-overloaded Fault"]);
}
