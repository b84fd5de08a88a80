//! A unit with its real loads, all that feeds them held by sources, and every part of it free to move.

use super::corners::RailCorner;
use crate::ensemble::{End, Ensemble, Sample, Watch};
use crate::equations::Network;
use crate::judge::{Context, Levels, fed_volts};
use crate::plan::{MemberIndex, NetIndex, Plan};
use crate::rows::Values;
use crate::scene::{Scene, build};
use crate::solve::{OperatingPoint, Solver};
use crate::surroundings::Copies;
use crate::variation::{Factor, Varied, apply};
use crate::wiring::{ElementIndex, NodeIndex};
use numerics::corner::{Care, Largest, largest};
use numerics::lanes::select::Choice;

/// Volts that move less than this do not count as a worse case: chosen, a thousandth of what a bench meter shows.
const TOLERANCE_VOLTS: f64 = 1e-6;

/// The scene with its equations at one corner of the rails.
#[derive(Debug)]
pub(super) struct Stand {
    pub scene: Scene,
    pub network: Network,
    pub factors: Vec<Factor>,
    solver: Solver,
    pub context: Context,
    /// Elements evaluated so far.
    pub evaluated: u64,
}

/// The members that stand together, and the nets that sources hold whatever drives them.
pub(super) struct Group<'a> {
    pub members: &'a [Copies],
    pub held: &'a [NetIndex],
}

impl Stand {
    /// `None` where a type has no law or sources clash; both are findings of the check.
    pub(super) fn new(
        plan: &Plan,
        group: &Group,
        corner: &RailCorner,
        varied: Varied,
        context: &Context,
    ) -> Option<Self> {
        let mut scene = build(plan, group.members, group.held, &context.assumptions);
        if !scene.without_law.is_empty() {
            return None;
        }
        scene.set_rails(plan, |rail| corner.volts[rail.0]);
        let factors = varied.factors(plan, &scene);
        let network = Network::new(scene.wiring.clone(), context.assumptions.leak_siemens).ok()?;
        Some(Self {
            solver: Solver::new(&network),
            scene,
            network,
            factors,
            context: *context,
            evaluated: 0,
        })
    }

    /// Puts every feed at the level of its value, a switch at its rail.
    pub(super) fn feed(
        &mut self,
        plan: &Plan,
        corner: &RailCorner,
        values: &Values,
        levels: &Levels,
    ) {
        for (net, feed) in &self.scene.feeds {
            let up = values.get(net).copied().unwrap_or(false);
            let supply = |net| corner.supply_volts(plan, net);
            let volts = fed_volts(plan, *net, feed, up, levels, supply);
            self.network.set_tie(feed.tie, volts);
        }
    }

    /// The rest at book values, from a guess of the volts or from nothing.
    pub(super) fn rest(&mut self, start: Option<&[f64]>) -> Option<OperatingPoint> {
        let settings = &self.context.settings;
        let point = self
            .solver
            .operating_point(&self.network, start, None, settings);
        self.evaluated += (point.work.evaluations * self.network.wiring.elements.len()) as u64;
        point.outcome.settled().then_some(point)
    }

    /// The node of a signal of a member.
    pub(super) fn node(&self, member: MemberIndex, signal: usize) -> Option<NodeIndex> {
        Some(self.scene.member(member)?.nodes[signal])
    }

    /// Volts of a node with the factors at each of some settings and some sources at other volts; infinite where a state that
    /// is watched is lost, not a number where nothing comes to rest. The search for a rest begins at `from`, which becomes the
    /// rest at the first point, so that what is asked next begins nearby.
    pub(super) fn volts(
        &mut self,
        node: NodeIndex,
        from: &mut OperatingPoint,
        watches: &[Watch],
        points: &[Point],
    ) -> Vec<f64> {
        let settings = &self.context.settings;
        let ensemble = Ensemble::new(&self.network, from, watches, settings);
        let factors = &self.factors;
        let vary = |number: usize, sample: &mut Sample| {
            let point = &points[number];
            apply(factors, point.settings, sample);
            if let Some((tie, volts)) = point.source {
                *sample.tie_volts(tie) = volts;
            }
        };
        let solutions = ensemble.solve(points.len(), Choice::widest(), &vary);
        self.evaluated += (solutions.evaluations * self.network.wiring.elements.len()) as u64;
        if matches!(solutions.ends.first(), Some(End::Settled)) {
            from.volts.copy_from_slice(solutions.sample(0));
        }
        (0..points.len())
            .map(|number| match solutions.ends[number] {
                End::Settled | End::SettledAlone(_) => solutions.sample(number)[node],
                End::StateLost => f64::INFINITY,
                End::NotSettled => f64::NAN,
            })
            .collect()
    }

    /// The highest volts of a node (or with `lowest` the lowest) that any settings give, beginning the search at `start`; the
    /// largest value is the volts, or their negative.
    pub(super) fn furthest(
        &mut self,
        node: NodeIndex,
        lowest: bool,
        from: &mut OperatingPoint,
        watches: &[Watch],
        start: &Start,
    ) -> Largest {
        largest(&start.settings, TOLERANCE_VOLTS, start.care(), |settings| {
            self.signed(node, lowest, from, watches, settings)
        })
    }

    /// The same at the settings of the start alone, without a search.
    pub(super) fn once(
        &mut self,
        node: NodeIndex,
        lowest: bool,
        from: &mut OperatingPoint,
        watches: &[Watch],
        start: &Start,
    ) -> Largest {
        let settings = start.settings.clone();
        let value = self.signed(node, lowest, from, watches, std::slice::from_ref(&settings))[0];
        Largest {
            effects: start.effects.clone(),
            settings,
            value,
            confirmed: false,
            evaluated: 1,
        }
    }

    /// Volts, or with `lowest` their negative, at some settings.
    fn signed(
        &mut self,
        node: NodeIndex,
        lowest: bool,
        from: &mut OperatingPoint,
        watches: &[Watch],
        settings: &[Vec<f64>],
    ) -> Vec<f64> {
        let points: Vec<Point> = settings
            .iter()
            .map(|settings| Point::at(settings))
            .collect();
        let volts = self.volts(node, from, watches, &points);
        let sign = |volts: f64| {
            if lowest && volts.is_finite() {
                -volts
            } else {
                volts
            }
        };
        volts.into_iter().map(sign).collect()
    }
}

/// Where a search begins.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Start {
    pub settings: Vec<f64>,
    /// What each did where they were the worst; all 0 where that is not known.
    pub effects: Vec<f64>,
}

impl Start {
    /// At book values.
    pub(super) fn book(count: usize) -> Self {
        Self {
            settings: vec![0.0; count],
            effects: vec![0.0; count],
        }
    }

    /// How closely it is looked at.
    pub(super) fn care(&self) -> Care<'_> {
        if self.effects.iter().all(|effect| *effect == 0.0) {
            Care::Thorough
        } else {
            Care::Nearby(&self.effects)
        }
    }
}

impl From<&Largest> for Start {
    fn from(largest: &Largest) -> Self {
        Self {
            settings: largest.settings.clone(),
            effects: largest.effects.clone(),
        }
    }
}

/// One point: the settings of the factors, and perhaps a source at other volts.
#[derive(Debug, Clone, Copy)]
pub(super) struct Point<'a> {
    pub settings: &'a [f64],
    pub source: Option<(ElementIndex, f64)>,
}

impl<'a> Point<'a> {
    pub(super) fn at(settings: &'a [f64]) -> Self {
        Self {
            settings,
            source: None,
        }
    }
}
