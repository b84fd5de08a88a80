//! Spread of whole networks: how far resistors may be off before a machine fails, and what share of machines works.

mod latches;
mod summing;
mod toggle;

use crate::judging::{CONTEXT, sound};
use crate::random_circuits::Seeded;
use design::model::NetKind;
use network::equations::Network;
use network::plan::Plan;
use network::scene::build;
use network::solve::Settings;
use network::surroundings::Copies;
use network::variation::{Factor, Quantity, SpreadAssumptions, factors};
use network::wiring::{ElementIndex, NodeIndex};
use std::collections::BTreeMap;

const SETTINGS: Settings = Settings::STANDARD;

/// All units of a machine as one network.
struct Whole {
    network: Network,
    factors: Vec<Factor>,
    nodes: BTreeMap<String, NodeIndex>,
    /// Tie, volts and tolerance of each rail.
    rails: Vec<(ElementIndex, f64, f64)>,
    /// Tie of each switch with its volts down and up.
    switches: BTreeMap<String, (ElementIndex, f64, f64)>,
}

impl Whole {
    fn new(text: &str, spread: &SpreadAssumptions) -> Self {
        let design = sound(text).design.unwrap();
        let plan = Plan::machine(&design);
        let members: Vec<usize> = (0..plan.members.len()).collect();
        let scene = build(&plan, &Copies::each(&members), &[], &CONTEXT.assumptions);
        let mut factors = factors(&plan, &scene, spread);
        // The diodes of the independent solver had none.
        factors.retain(|factor| factor.quantity != Quantity::Leakage);
        let name = |net: usize| plan.nets[net].name.clone();
        let rails = scene.rails.iter().filter_map(|(net, tie)| {
            let NetKind::Rail(rail) = plan.nets[*net].kind else {
                return None;
            };
            let rail = &design.rails[rail.0];
            Some((*tie, rail.volts, rail.tolerance))
        });
        let switches = scene.feeds.iter().map(|(net, feed)| {
            let (down, up) = feed.switch.unwrap();
            (name(*net), (feed.tie, down, up))
        });
        let nodes = scene.wiring.nodes.iter().enumerate();
        Self {
            factors,
            rails: rails.collect(),
            switches: switches.collect(),
            nodes: nodes.map(|(node, own)| (own.name.clone(), node)).collect(),
            network: Network::new(scene.wiring, CONTEXT.assumptions.leak_siemens).unwrap(),
        }
    }

    fn set(&mut self, switch: &str, up: bool) {
        let (tie, down_volts, up_volts) = self.switches[switch];
        self.network
            .set_tie(tie, if up { up_volts } else { down_volts });
    }

    fn with_tolerance(&mut self, tolerance: f64) {
        for factor in &mut self.factors {
            if factor.quantity == Quantity::Ohms {
                factor.ends = (1.0 - tolerance, 1.0 + tolerance);
            }
        }
    }
}

/// The largest value up to which something holds, to 1e-6 of `high`; `None` where it does not hold at nothing.
fn last_that_holds(high: f64, mut holds: impl FnMut(f64) -> bool) -> Option<f64> {
    if !holds(0.0) {
        return None;
    }
    let (mut low, mut high) = (0.0, high);
    for _ in 0..20 {
        let middle = f64::midpoint(low, high);
        if holds(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(low)
}

/// Settings drawn evenly.
fn drawn(seeded: &mut Seeded, count: usize, dimensions: usize) -> Vec<Vec<f64>> {
    let mut one = || {
        (0..dimensions)
            .map(|_| 2.0 * seeded.share() - 1.0)
            .collect()
    };
    (0..count).map(|_| one()).collect()
}
