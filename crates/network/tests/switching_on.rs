//! Switch-on: cold tubes and missing rails against dividers and load lines worked out here, the order of rails, soft starts.

use crate::judging::{CONTEXT, LIMITS, sound};
use design::model::{Design, PartKind, RailId};
use devices::triode::TriodeLaw;
use devices::types::Law;
use network::switch_on::order::{MOST_STATES, find};
use network::switch_on::{Case, MOST_SHARE, Order, SwitchOn, Tubes};
use network::verdict::{Verdict, check};
use text::diagnostic::Severity;

/// A tube with 200 V and 4.7 kilohm at its plate, held back by its bias alone. Invented.
const SWITCH: &str = "valvewright format 1
rail upper 200V 5%
rail bias -15V 5%
rail heat 6.3V 5%

circuit switch
    inputs a, output y
    y = not a
    resistors 5% 5W: R1 2M a to g1, R2 100k g1 to bias, R3 4k7 upper to y
    tube V1 half 6922: plate y, grid g1, cathode ground

unit G1 switch in V1A: a x, y open

string H1: from heat, V1, back to ground

bench
    switches: x upper or ground through 10k
";

/// A gate with a capacitor of these volts between two rails.
fn between(volts: &str) -> String {
    format!(
        "valvewright format 1
rail upper 36V 5%
rail middle 24V 5%
rail lower -24V 5%
rail heat 6.3V 5%

circuit gate
    inputs a, output y
    y = not a
    resistors 5%: R1 680k a to g1, R2 1M2 g1 to lower, R3 82k upper to y
    capacitors 10% {volts}: C1 100n upper to middle
    tube V1 half 6922: plate y, grid g1, cathode ground

unit G1 gate in V1A: a x, y out

string H1: from heat, V1, back to ground

bench
    switches: x upper or ground through 10k
    loads: out 1M5 to ground
"
    )
}

fn near(value: f64, expected: f64, within: f64) {
    assert!(
        (value - expected).abs() <= within,
        "{value}, not {expected}"
    );
}

fn judged(text: &str, asked: impl FnOnce(&Verdict)) {
    let reading = sound(text);
    asked(&check(reading.design.as_ref().unwrap(), &LIMITS, &CONTEXT));
}

fn case<'a>(verdict: &'a Verdict, missing: Option<&str>, cold: bool) -> &'a Case {
    let design = verdict.plan.design;
    let named = |rail: &RailId| design.rails[rail.0].name.as_str();
    let mut cases = verdict.switch_on.cases.iter();
    cases
        .find(|case| {
            case.conditions.cold == cold && case.conditions.missing.first().map(named) == missing
        })
        .unwrap()
}

/// The only tube's law.
fn law(design: &Design) -> TriodeLaw {
    let parts = design.circuits[0].parts.iter();
    let mut laws = parts.filter_map(|part| match &part.kind {
        PartKind::Tube(tube) => match tube.device.law {
            Some(Law::Triode(law)) => Some(law),
            _ => None,
        },
        _ => None,
    });
    laws.next().unwrap()
}

/// Where a function that rises crosses 0, by halving.
fn crossing(mut low: f64, mut high: f64, rises: impl Fn(f64) -> f64) -> f64 {
    for _ in 0..80 {
        let middle = 0.5 * (low + high);
        if rises(middle) < 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    low
}

/// Cold, a plate stands where its resistor and its load divide the rail: 37.8 V over 82 k and 1.5 M. Its grid stands where
/// 690 k from the highest switch and 1.2 M to the bias rail divide, or with that missing, to 0 V (Ohm's law).
#[test]
fn cold_plates_and_grids_stand_where_resistors_divide() {
    judged(&between("100V"), |verdict| {
        let [upper, lower] = [36.0 * 1.05, -24.0 * 1.05];
        let cold = case(verdict, None, true);
        assert!(cold.known && cold.overloads.is_empty());
        near(cold.plate_volts.unwrap(), upper * 1.5 / 1.582, 1e-3);
        let grids = cold.grid_volts.unwrap();
        near(grids.0, lower * 0.69 / 1.89, 1e-3);
        near(grids.1, lower + (upper - lower) * 1.2 / 1.89, 1e-3);
        let without_bias = case(verdict, Some("lower"), true).grid_volts.unwrap();
        near(without_bias.0, 0.0, 1e-3);
        near(without_bias.1, upper * 1.2 / 1.89, 1e-3);
        let without_plates = case(verdict, Some("upper"), true);
        near(without_plates.plate_volts.unwrap(), 0.0, 1e-6);
    });
}

/// Without its bias the grid is taken positive until its current is what the divider gives, and the plate stands on its load
/// line: both found here by halving from the tube's law, and the dissipation is the product.
#[test]
fn without_bias_the_plate_is_where_the_load_line_says() {
    judged(SWITCH, |verdict| {
        let law = law(verdict.plan.design);
        let rail = 200.0 * 1.05;
        let plate = |grid: f64| {
            crossing(0.0, rail, |volts| {
                law.at(volts, grid).plate - (rail - volts) / 4700.0
            })
        };
        let grid = |fed: f64| {
            crossing(-1.0, 6.0, |grid| {
                law.at(plate(grid), grid).grid + grid / 100e3 - (fed - grid) / 2.01e6
            })
        };
        // Fed from ground the grid's own current takes it a little below 0 V.
        let grids = [grid(rail), grid(0.0)];
        let warm = case(verdict, Some("bias"), false);
        near(warm.grid_volts.unwrap().1, grids[0], 1e-5);
        near(warm.grid_volts.unwrap().0, grids[1], 1e-5);
        // Whichever of the two is the hotter counts.
        let watts = grids.map(|grid| plate(grid) * law.at(plate(grid), grid).plate);
        let worst = &warm.overloads[0];
        assert_eq!(
            (worst.name, worst.subject.as_str()),
            ("plate-watts", "G1.V1")
        );
        near(worst.has, watts[0].max(watts[1]), 1e-6);
        assert!(worst.limit < worst.has);
        // With the bias there is no such finding, and the missing plate rail does nothing.
        assert!(case(verdict, Some("upper"), false).overloads.is_empty());
        let names: Vec<_> = verdict
            .findings
            .iter()
            .map(|finding| finding.name)
            .collect();
        assert_eq!(names, ["rail-missing"]);
        let order = ["bias", "upper"].map(|name| {
            verdict
                .plan
                .design
                .rails
                .iter()
                .position(|rail| rail.name == name)
                .unwrap()
        });
        assert_eq!(
            verdict.switch_on.order,
            Order::Found {
                rails: order.map(RailId).into(),
                forced: true
            }
        );
    });
}

/// 37.8 V stand across the capacitor without the middle rail, 25.2 V without the upper one (their volts at the top of
/// their tolerance). One of 30 V wants the middle rail first; for one of 25 V there is no order; one of 40 V says nothing.
#[test]
fn the_order_follows_from_what_each_missing_rail_does() {
    judged(&between("30V"), |verdict| {
        let [finding] = &verdict.findings[..] else {
            panic!("{:?}", verdict.findings);
        };
        assert_eq!(
            (finding.name, finding.subject.as_str()),
            ("rail-missing", "rail middle")
        );
        assert_eq!(finding.severity, Severity::Caution);
        near(finding.has.as_ref().unwrap().value, 37.8, 1e-9);
        assert!(
            finding.tries[0].contains("order of the rails: lower, middle, upper"),
            "{}",
            finding.tries[0]
        );
    });
    judged(&between("25V"), |verdict| {
        let [finding] = &verdict.findings[..] else {
            panic!("{:?}", verdict.findings);
        };
        assert_eq!(
            (finding.name, finding.subject.as_str()),
            ("no-rail-order", "rails upper, middle")
        );
        let below: Vec<_> = finding
            .consequences
            .iter()
            .map(|below| below.subject.as_str())
            .collect();
        assert_eq!(below, ["rail upper", "rail middle"]);
        assert_eq!(verdict.switch_on.order, Order::Nowhere);
    });
    judged(&between("40V"), |verdict| {
        assert!(verdict.findings.is_empty(), "{:?}", verdict.findings)
    });
}

/// A holder whose tube always carries current keeps the switch after it cut off. Invented.
fn held(rails: &str, strings: &str) -> String {
    let (head, switch) = SWITCH.split_once("rail heat 6.3V 5%\n").unwrap();
    let (circuit, _) = switch.split_once("unit G1").unwrap();
    let circuit = circuit.replace("R2 100k", "R2 1M");
    format!(
        "{head}{rails}{circuit}
circuit holder
    inputs a, output y
    y = not a
    resistors 5% 1W: R1 2M a to g1, R2 1M g1 to bias, R3 82k upper to y
    tube V1 half 6922: plate y, grid g1, cathode ground

unit H1 holder in V1A: a upper, y m
unit G1 switch in V2A: a m, y open

{strings}
"
    )
}

/// What heats the holder is missing: its plate rises to where 82 k and the switch's 3 M to the bias rail divide, the
/// switch's grid is taken positive, and its plate stands on the load line at a dissipation that neither warm tubes nor cold
/// ones alone show. The rail that heats the switch only leaves it cold, which breaks nothing.
#[test]
fn a_heater_rail_that_is_missing_leaves_its_tubes_cold_and_the_others_warm() {
    let text = held(
        "rail first 6.3V 5%\nrail second 6.3V 5%\n",
        "string S1: from first, V1, back to ground\nstring S2: from second, V2, back to ground",
    );
    judged(&text, |verdict| {
        let law = law(verdict.plan.design);
        let [upper, bias] = [200.0 * 1.05, -15.0 * 1.05];
        let plate = |grid: f64| {
            crossing(0.0, upper, |volts| {
                law.at(volts, grid).plate - (upper - volts) / 4700.0
            })
        };
        // 2.082 M from the rail, through the plate that is cold, to the grid.
        let grid = crossing(-10.0, 6.0, |grid| {
            law.at(plate(grid), grid).grid + (grid - bias) / 1e6 - (upper - grid) / 2.082e6
        });
        let without = case(verdict, Some("first"), false);
        assert_eq!(without.tubes, Tubes::PartlyCold);
        // The holder's grid, which takes no current: 2 M and 1 M between the rails.
        near(
            without.grid_volts.unwrap().1,
            bias + (upper - bias) / 3.0,
            1e-3,
        );
        let worst = &without.overloads[0];
        assert_eq!(
            (worst.name, worst.subject.as_str()),
            ("plate-watts", "G1.V1")
        );
        let watts = plate(grid) * law.at(plate(grid), grid).plate;
        near(worst.has, watts, 1e-6);
        for case in [
            case(verdict, Some("first"), true),
            case(verdict, None, true),
            case(verdict, Some("second"), false),
        ] {
            assert!(case.overloads.is_empty(), "{case:?}");
        }
        let finding = verdict.findings.iter().find(|finding| {
            (finding.name, finding.subject.as_str()) == ("rail-missing", "rail first")
        });
        let cause = &finding.unwrap().cause;
        assert!(
            cause.contains("with the rail first missing and the tubes that it heats cold"),
            "{cause}"
        );
    });
}

/// A rail that heats every tube has one case, with cold tubes; of a winding on a rail so has the winding, and the rail beneath
/// cools nothing. A supply between two rails needs both, one stacked on another only its own.
#[test]
fn a_rail_cools_the_tubes_whose_strings_need_it() {
    let cases = |rails: &str, strings: &str, missing: &str| {
        let mut found = Vec::new();
        judged(&held(rails, strings), |verdict| {
            let rails = &verdict.plan.design.rails;
            let index = rails.iter().position(|rail| rail.name == missing).unwrap();
            let cases = verdict.switch_on.cases.iter();
            let cases = cases.filter(|case| case.conditions.missing == [RailId(index)]);
            found = cases.map(|case| case.tubes).collect();
        });
        found
    };
    let heat = "rail heat 12.6V 5%\n";
    let to_ground = "string S1: from heat, V1, V2, back to ground";
    assert_eq!(cases(heat, to_ground, "heat"), [Tubes::Cold]);
    assert_eq!(cases(heat, to_ground, "bias"), [Tubes::Warm, Tubes::Cold]);
    for lift in ["20V", "-20V"] {
        let raised = format!("rail lift {lift} 5%\nrail heat 12.6V 5% ac, on lift\n");
        let to_lift = "string S1: from heat, V1, V2, back to lift";
        assert_eq!(cases(&raised, to_lift, "heat"), [Tubes::Cold]);
        assert_eq!(cases(&raised, to_lift, "lift"), [Tubes::Warm, Tubes::Cold]);
    }
    let stacked = "rail lift 20V 5%\nrail heat 32.6V 5%\n";
    let to_lift = "string S1: from heat, V1, V2, back to lift";
    assert_eq!(cases(stacked, to_lift, "lift"), [Tubes::Warm, Tubes::Cold]);
    let either_side = "rail lift -6.3V 5%\nrail heat 6.3V 5%\n";
    assert_eq!(cases(either_side, to_lift, "lift"), [Tubes::Cold]);
    assert_eq!(cases(either_side, to_lift, "heat"), [Tubes::Cold]);
}

/// A winding that stands on 60 V swings its heaters round ground when that is missing: at its peaks 17.8 V from a cathode on
/// ground (the root of two times 12.6 V).
#[test]
fn without_its_foot_a_winding_swings_round_ground() {
    let text = held(
        "rail lift 60V 5%\nrail heat 12.6V 5% ac, on lift\n",
        "string S1: from heat, V1, V2, back to lift",
    );
    let text = text.replace("half 6922", "half TENDER").replace(
        "circuit switch",
        "type TENDER triode, 2 sections, like 6922\n    limits: heater-cathode 17V\n\ncircuit switch",
    );
    judged(&text, |verdict| {
        let without = case(verdict, Some("lift"), true);
        let mut heaters = without.overloads.iter().chain(&without.nearest);
        let heater = heaters.find(|overload| overload.name == "heater-cathode-volts");
        near(heater.unwrap().has, 12.6 * std::f64::consts::SQRT_2, 1e-3);
    });
}

fn rails(numbers: &[usize]) -> Vec<RailId> {
    numbers.iter().copied().map(RailId).collect()
}

/// Rail 0 must stand whenever 1 does, and 1 whenever 2 does: of six orders one is left, from any preference.
#[test]
fn the_only_order_is_found() {
    let fine = |missing: &[RailId]| {
        let gone = |rail: usize| missing.contains(&RailId(rail));
        (!gone(0) || gone(1)) && (!gone(1) || gone(2))
    };
    for preferred in [[0, 1, 2], [2, 1, 0], [1, 2, 0]] {
        let expected = Order::Found {
            rails: rails(&[0, 1, 2]),
            forced: true,
        };
        assert_eq!(find(&rails(&preferred), true, fine), expected);
    }
}

/// Each of two must stand before the other, and a third does not mend it; and more states than are tried are said so.
#[test]
fn a_circle_has_no_order_and_the_search_is_bounded() {
    let fine = |missing: &[RailId]| missing.contains(&RailId(0)) == missing.contains(&RailId(1));
    assert_eq!(find(&rails(&[0, 1]), true, fine), Order::Nowhere);
    assert_eq!(find(&rails(&[0, 1, 2]), true, fine), Order::Nowhere);
    let many: Vec<RailId> = (0..40).map(RailId).collect();
    let mut asked = 0;
    let found = find(&many, true, |missing| {
        asked += 1;
        missing.len() < 3
    });
    assert_eq!((found, asked), (Order::NotTried, MOST_STATES));
}

/// Four 6.3 V heaters of 300 mA on 25.2 V have 84 ohm hot and 8.4 at the coldest, so 25.2 V / 0.36 A - 8.4 ohm = 61.6 ohm
/// hold them to 120 %; behind that they rest where x + (R / 84) x^0.6 = 1 (I ~ V^0.6). Two such strings want half of it.
#[test]
fn a_soft_start_holds_every_step_to_its_share() {
    let string = |count: usize| {
        let units: String = (0..2 * count).map(|index| {
            format!("unit G{index} inverter in V{}A: a x, y open\nunit K{index} inverter in V{}A: a x, y open\n", 2 * index + 1, 2 * index + 2)
        }).collect();
        let strings: String = (0..count)
            .map(|index| {
                format!(
                    "string H{index}: from heat, V{} to V{}, back to ground\n",
                    4 * index + 1,
                    4 * index + 4
                )
            })
            .collect();
        format!("valvewright format 1\nrail upper 36V 5%\nrail lower -24V 5%\nrail heat 25.2V 2%\n
circuit inverter\n    inputs a, output y\n    y = not a\n    resistors 5%: R1 680k a to g1, R2 1M2 g1 to lower, R3 82k upper to y
    tube V1 half 6922: plate y, grid g1, cathode ground\n
{units}{strings}
bench\n    switches: x upper or ground through 10k\n")
    };
    let soft = |count: usize| {
        let mut found: Option<SwitchOn> = None;
        judged(&string(count), |verdict| {
            found = Some(verdict.switch_on.clone())
        });
        found.unwrap().soft_starts.remove(0)
    };
    let (one, two) = (soft(1), soft(2));
    near(one.running_amps, 0.3, 1e-9);
    near(one.cold_amps, 6.0 * 0.3, 1e-9);
    let total: f64 = one.steps.iter().map(|step| step.ohms).sum();
    assert!((61.6..61.6 * 1.25).contains(&total), "{total}");
    near(one.steps[0].amps, 25.2 / (total + 8.4), 1e-9);
    let left = |step: usize| one.steps[step..].iter().map(|step| step.ohms).sum::<f64>();
    for (index, step) in one.steps.iter().enumerate() {
        assert!(step.amps <= MOST_SHARE * 0.3 + 1e-12, "{one:?}");
        let x = crossing(0.0, 1.0, |x| x + left(index) / 84.0 * x.powf(0.6) - 1.0);
        near(step.share, x, 0.01);
        let before = if index == 0 {
            0.0
        } else {
            one.steps[index - 1].seconds
        };
        assert!(
            before < step.seconds && step.seconds % 5.0 == 0.0,
            "{one:?}"
        );
    }
    assert!(0.3 <= one.last_amps && one.last_amps <= MOST_SHARE * 0.3);
    // Heaters that are alike never pass their rating.
    near(one.passing[0].share, 1.0, 5e-3);
    assert_eq!(two.passing.len(), 2);
    for (half, whole) in two.steps.iter().zip(&one.steps) {
        near(2.0 * half.ohms / whole.ohms, 1.0, 0.25);
    }
}

/// A string with a thermistor is named beside the resistors and not counted; where all have one, nothing is proposed. A rail
/// that a winding stands on has its place in the order, though no unit is on it.
#[test]
fn thermistors_stand_beside_a_soft_start_and_feet_in_the_order() {
    let machine = |first: &str| {
        format!(
            "valvewright format 1
rail upper 36V 5%
rail lower -24V 5%
rail heat 12.6V 2%
rail lift 30V 5%
rail winding 12.6V 5% ac, on lift
circuit inverter
    inputs a, output y
    y = not a
    resistors 5%: R1 680k a to g1, R2 1M2 g1 to lower, R3 82k upper to y
    tube V1 half 6922: plate y, grid g1, cathode ground
units G 1 to 6, inverter, from V1
    all: a x, y open
string H1: from heat, {first}V1, back to ground
string H2: from heat, RT2 thermistor 110 to 21 at 300mA 20%, V2, back to ground
string H3: from winding, R3 21 5% 5W, V3, back to lift
bench
    switches: x upper or ground through 10k
"
        )
    };
    let soft = |first: &str| {
        let mut found = None;
        judged(&machine(first), |verdict| {
            let heat = &verdict.switch_on.soft_starts[0];
            let Order::Found { rails, .. } = &verdict.switch_on.order else {
                panic!("{:?}", verdict.switch_on.order);
            };
            assert!(rails.contains(&RailId(3)), "{rails:?}");
            let counted = (heat.strings.clone(), heat.with_thermistors.clone());
            found = Some((counted, heat.steps.len()));
        });
        found.unwrap()
    };
    let (counted, steps) = soft("R1 21 5% 5W, ");
    assert_eq!(counted, (vec![0], vec![1]));
    assert!(0 < steps);
    let held = soft("RT1 thermistor 110 to 21 at 300mA 20%, ");
    assert_eq!(held, ((vec![], vec![0, 1]), 0));
}

/// The same to the last bit for one thread and for four.
#[test]
fn switch_on_does_not_depend_on_the_number_of_threads() {
    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap();
        let mut found: Option<SwitchOn> = None;
        pool.install(|| judged(SWITCH, |verdict| found = Some(verdict.switch_on.clone())));
        found.unwrap()
    };
    assert_eq!(on(1), on(4));
}
