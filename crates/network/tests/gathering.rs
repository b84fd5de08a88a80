//! Loads that are alike are solved as one with so many times the currents: the volts must be those of all of them solved
//! together, because a symmetric network has a symmetric solution (Kirchhoff's current law).

use crate::judging::register::NOR2;
use crate::judging::{CONTEXT, sound};
use design::model::Design;
use network::equations::Network;
use network::judge::set_feeds;
use network::levels::{alone, boundary_levels};
use network::plan::Plan;
use network::rows::rows;
use network::scene::build;
use network::solve::Solver;
use network::surroundings::{Copies, Surroundings};

/// One gate drives: five alike; two that differ from them in the bench's load on their output, alike among themselves; three
/// pairs that hang together by a net of their own; and two latches, each of which may be in either state.
const MANY_LOADS: &str = "
block pair
    inputs d hold, output q
    q = d or hold
    unit D1 nor2: a d, b hold, y reset
    unit D2 nor2: a reset, b hold, y q

block latch
    inputs r s, output q
    q = (q or s) and not r
    unit L1 nor2: a r, b qn, y q
    unit L2 nor2: a s, b q, y qn

unit DRIVER nor2: a take, b other, y many
unit A1 nor2: a many, b a.1, y open
unit A2 nor2: a many, b a.2, y open
unit A3 nor2: a many, b a.3, y open
unit A4 nor2: a many, b a.4, y open
unit A5 nor2: a many, b a.5, y open
unit B1 nor2: a many, b b.1, y by.1
unit B2 nor2: a many, b b.2, y by.2
unit P1 pair: hold many, d p.1, q open
unit P2 pair: hold many, d p.2, q open
unit P3 pair: hold many, d p.3, q open
unit L3 latch: r many, s set3, q open
unit L4 latch: r many, s set4, q open

bench
    switches: take upper or ground through 10k, other upper or ground through 10k, a.1 upper or ground through 10k, a.2 upper or ground through 10k, a.3 upper or ground through 10k, a.4 upper or ground through 10k, a.5 upper or ground through 10k, b.1 upper or ground through 10k, b.2 upper or ground through 10k, p.1 upper or ground through 10k, p.2 upper or ground through 10k, p.3 upper or ground through 10k, set3 upper or ground through 10k, set4 upper or ground through 10k
    loads: by.1 470k to ground, by.2 470k to ground
";

/// Nearer than this, V: ten times what a solution is held to.
const NEAR_VOLTS: f64 = 1e-6;
/// The leak that keeps open nets defined counts once for all that are gathered, so here it is made too small to matter, S:
/// with the program's 1e-12 S the volts differ by 20 uV.
const LEAK_SIEMENS: f64 = 1e-15;

fn surroundings<'a>(plan: &Plan<'a>, name: &str) -> Surroundings {
    let member = plan.members.iter().position(|member| member.name == name);
    Surroundings::of(plan, member.unwrap())
}

fn design() -> Design {
    sound(&format!("{NOR2}{MANY_LOADS}")).design.unwrap()
}

#[test]
fn only_what_is_alike_and_keeps_no_state_is_gathered() {
    let design = design();
    let plan = Plan::machine(&design);
    let levels = boundary_levels(&plan, &alone(&design, &CONTEXT).levels);
    let around = surroundings(&plan, "DRIVER");
    let gathered = around.clone().gathered(&plan, &[&levels]);
    let counts = |around: &Surroundings| -> Vec<(String, usize)> {
        around
            .loads
            .iter()
            .map(|load| (plan.members[load.member].name.clone(), load.count))
            .collect()
    };
    assert_eq!(around.loads.len(), 15);
    let expected = [("A1", 5), ("B1", 2), ("P1.D1", 3), ("P1.D2", 3)];
    let counts = counts(&gathered);
    for (name, count) in expected {
        assert!(counts.contains(&(name.to_owned(), count)), "{counts:?}");
    }
    assert_eq!(
        counts.iter().map(|load| load.1).sum::<usize>(),
        around.loads.len(),
        "none is lost: {counts:?}"
    );
}

#[test]
fn volts_are_those_of_all_loads_solved_together() {
    let design = design();
    let plan = Plan::machine(&design);
    let alone = alone(&design, &CONTEXT);
    let levels = boundary_levels(&plan, &alone.levels);
    for subject in ["DRIVER", "A3", "P2.D1", "P2.D2", "L3.L1"] {
        let around = surroundings(&plan, subject);
        let gathered = around.clone().gathered(&plan, &[&levels]);
        assert!(gathered.loads.len() < around.loads.len(), "{subject}");
        let (rows, _) = rows(&plan, &around, &alone.weak);
        assert!(rows.len() > 3, "{subject}");
        let scenes = [around.copies(), gathered.copies()].map(|members: Vec<Copies>| {
            let scene = build(&plan, &members, &[], &CONTEXT.assumptions);
            let network = Network::new(scene.wiring.clone(), LEAK_SIEMENS).unwrap();
            (scene, network)
        });
        for row in rows {
            let [(all, of_all), (few, of_few)] = scenes.each_ref().map(|(scene, network)| {
                let mut network = network.clone();
                set_feeds(&mut network, scene, &row.values, &levels);
                let point =
                    Solver::new(&network).operating_point(&network, None, None, &CONTEXT.settings);
                assert!(point.outcome.settled(), "{subject}");
                (scene, point.volts)
            });
            for (net, &node) in &few.nets {
                let (one, other) = (of_few[node], of_all[all.nets[net]]);
                assert!(
                    (one - other).abs() < NEAR_VOLTS,
                    "{subject} {net}: {one} {other}"
                );
            }
            let (some, every) = (
                few.member(gathered.subject).unwrap(),
                all.member(around.subject).unwrap(),
            );
            for (&one, &other) in some.nodes.iter().zip(&every.nodes) {
                assert!(
                    (of_few[one] - of_all[other]).abs() < NEAR_VOLTS,
                    "{subject}"
                );
            }
        }
    }
}
