//! A unit with its real loads, all that feeds them held by sources, and every part of it free to move.

use super::Moved;
use super::corners::RailCorner;
use super::levels::{FarFeed, FreeFeed, put, standing, turn_all};
use crate::adjoint::Adjoint;
use crate::element::PartValues;
use crate::ensemble::{End, Ensemble, Sample, Solutions, Watch};
use crate::equations::Network;
use crate::judge::{Context, Levels, fed_volts};
use crate::plan::{MemberIndex, NetIndex, Plan};
use crate::probe::Probe;
use crate::rows::Values;
use crate::scene::{Scene, build};
use crate::solve::{OperatingPoint, Solver};
use crate::surroundings::Copies;
use crate::variation::{Factor, Varied, apply, apply_on};
use crate::wiring::{ElementIndex, GROUND, NodeIndex};
use devices::neon::NeonState;
use numerics::corner::{Care, Largest, Response, largest};

/// Volts that move less than this do not count as a worse case: chosen, a thousandth of what a bench meter shows; of other
/// numbers this share of their unit.
const TOLERANCE_VOLTS: f64 = 1e-6;

/// How often feeds are put where they do most harm and the parts sought anew: chosen, one is usual.
pub(super) const FEED_ROUNDS: usize = 4;

/// The scene with its equations at one corner of the rails.
#[derive(Debug)]
pub(super) struct Stand {
    pub scene: Scene,
    pub network: Network,
    pub factors: Vec<Factor>,
    /// For each element the factors that change it.
    of_element: Vec<Vec<usize>>,
    adjoint: Adjoint,
    solver: Solver,
    /// Lamps that begin lit, by element; none where all begin dark.
    pub lit: Option<Vec<NeonState>>,
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
        let scene = build(plan, group.members, group.held, &context.assumptions);
        Self::of(plan, scene, corner, varied, context)
    }

    /// The same of a scene that is built, perhaps with something more hung on it.
    pub(super) fn of(
        plan: &Plan,
        mut scene: Scene,
        corner: &RailCorner,
        varied: Varied,
        context: &Context,
    ) -> Option<Self> {
        if !scene.without_law.is_empty() {
            return None;
        }
        scene.set_rails(plan, |rail| corner.volts[rail.0]);
        let mut factors = varied.factors(plan, &scene);
        for factor in &mut factors {
            factor.follow(plan, &corner.volts);
        }
        let network = Network::new(scene.wiring.clone(), context.assumptions.leak_siemens).ok()?;
        Some(Self {
            solver: Solver::new(&network),
            lit: None,
            adjoint: Adjoint::new(&network),
            of_element: of_element(&factors, network.wiring.elements.len()),
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

    /// Holds each of some feeds at the level where it stands.
    pub(super) fn hold(&mut self, feeds: &[FreeFeed]) {
        for feed in feeds {
            self.network.set_tie(feed.tie, feed.volts());
        }
    }

    /// Holds each of some feeds where it stood when a start was found.
    pub(super) fn put_feeds(&mut self, feeds: &mut [FreeFeed], start: &Start) {
        put(feeds, &start.fed);
        self.hold(feeds);
    }

    /// The rest at book values, from a guess of the volts or from nothing, with lamps that begin lit as [`Stand::lit`] has them.
    pub(super) fn rest(&mut self, start: Option<&[f64]>) -> Option<OperatingPoint> {
        let settings = &self.context.settings;
        let lit = self.lit.as_deref();
        let point = self
            .solver
            .operating_point(&self.network, start, lit, settings);
        self.evaluated += (point.work.evaluations * self.network.wiring.elements.len()) as u64;
        point.outcome.settled().then_some(point)
    }

    /// The node of a signal of a member.
    pub(super) fn node(&self, member: MemberIndex, signal: usize) -> Option<NodeIndex> {
        Some(self.scene.member(member)?.nodes[signal])
    }

    /// A number with the factors at each of some settings and some sources at other volts; infinite where a state that is
    /// watched is lost, not a number where nothing comes to rest.
    pub(super) fn numbers(
        &mut self,
        probe: Probe,
        from: &mut OperatingPoint,
        watches: &[Watch],
        points: &[Point],
    ) -> Vec<f64> {
        let solutions = self.solve(from, watches, points);
        self.read(probe, &from.lamps, points, &solutions)
    }

    /// The number in each solution, as it was asked for with these points.
    fn read(
        &self,
        probe: Probe,
        lamps: &[NeonState],
        points: &[Point],
        solutions: &Solutions,
    ) -> Vec<f64> {
        let (node, element) = match probe {
            Probe::Volts(node) => return read(solutions, node),
            Probe::Part(element, _) => (GROUND, element),
        };
        let network = &self.network;
        let nominal = Sample::nominal(network);
        let mut sample = nominal.clone();
        let changing = &self.of_element[element];
        let mut numbers = read(solutions, node);
        for (number, point) in points.iter().enumerate() {
            let Some(volts) = settled(solutions, number) else {
                continue;
            };
            sample.restore(&nominal, element);
            apply_on(
                &self.factors,
                point.settings,
                changing,
                element,
                &mut sample,
            );
            let values = sample.values_of(Some(element));
            numbers[number] = probe.value(network, values, volts, lamps);
        }
        numbers
    }

    /// Values of an element with the factors at some settings.
    pub(super) fn values_at(&self, element: ElementIndex, settings: &[f64]) -> Option<PartValues> {
        let mut sample = Sample::nominal(&self.network);
        apply(&self.factors, settings, &mut sample);
        sample.values_of(Some(element)).copied()
    }

    /// The same with one element changed, as a lamp that is kept from lighting.
    pub(super) fn changed(mut self, element: ElementIndex, change: fn(&mut PartValues)) -> Self {
        let mut sample = Sample::nominal(&self.network);
        if let Some(values) = sample.part(element) {
            change(values);
        }
        self.network = sample.network();
        self
    }

    /// Every rest with the factors at each of some settings and some sources at other volts. The search for a rest begins at
    /// `from`, which becomes the rest at the first point, so that what is asked next begins nearby.
    pub(super) fn solve(
        &mut self,
        from: &mut OperatingPoint,
        watches: &[Watch],
        points: &[Point],
    ) -> Solutions {
        let settings = &self.context.settings;
        let ensemble = Ensemble::new(&self.network, from, watches, settings);
        let factors = &self.factors;
        let vary = |number: usize, sample: &mut Sample| points[number].put(factors, sample);
        let solutions = ensemble.solve(points.len(), settings.lanes(), &vary);
        self.evaluated += (solutions.evaluations * self.network.wiring.elements.len()) as u64;
        if matches!(solutions.ends.first(), Some(End::Settled)) {
            from.volts.copy_from_slice(solutions.sample(0));
        }
        solutions
    }

    /// How much a number rises with each setting, for each unit of it, at the rest of one point; at a setting of 0 towards the
    /// side where it reaches further. `None` where nothing moves it.
    pub(super) fn rises(
        &mut self,
        probe: Probe,
        point: &Point,
        rest: &[f64],
        lamps: &[NeonState],
    ) -> Option<Vec<f64>> {
        let network = &self.network;
        let nominal = Sample::nominal(network);
        let mut here = nominal.clone();
        point.put(&self.factors, &mut here);
        if !self.adjoint.solve(network, &here, rest, lamps, probe) {
            return None;
        }
        self.evaluated += network.wiring.elements.len() as u64;
        let mut there = here.clone();
        let mut settings = point.settings.to_vec();
        let mut rises = Vec::with_capacity(settings.len());
        for (place, factor) in self.factors.iter().enumerate() {
            let step = factor.step(settings[place]);
            settings[place] += step;
            let mut falls = 0.0;
            for &element in factor.elements() {
                there.restore(&nominal, element);
                let changing = &self.of_element[element];
                apply_on(&self.factors, &settings, changing, element, &mut there);
                let fall = |sample| self.adjoint.fall(network, element, sample, lamps);
                falls += fall(&there) - fall(&here);
                there.restore(&here, element);
            }
            rises.push(-falls / step);
            settings[place] = point.settings[place];
        }
        Some(rises)
    }

    /// Slopes at settings, those taken out that lead from a book value to nowhere.
    pub(super) fn leading(&self, at: &[f64], mut slopes: Vec<f64>) -> Vec<f64> {
        for ((slope, &setting), factor) in slopes.iter_mut().zip(at).zip(&self.factors) {
            if setting == 0.0 && !factor.reaches(*slope < 0.0) {
                *slope = 0.0;
            }
        }
        slopes
    }

    /// The highest number (or with `lowest` the lowest) that any settings give, beginning the search at `start` and looking as
    /// closely as `care` says; the largest value is the number, or its negative, in the unit of the reading.
    pub(super) fn furthest(
        &mut self,
        reading: Reading,
        from: &mut OperatingPoint,
        watches: &[Watch],
        start: &Start,
        care: Care,
    ) -> Largest {
        let response = Readings {
            stand: self,
            reading,
            from,
            watches,
            last: None,
        };
        start.lasting(largest(&start.settings, TOLERANCE_VOLTS, care, response))
    }

    /// The same with each of some feeds at that of its levels where it does more harm, beginning with them as `start` has them.
    pub(super) fn furthest_fed(
        &mut self,
        reading: Reading,
        from: &mut OperatingPoint,
        watches: &[Watch],
        (start, care): (&Start, Care),
        feeds: &mut [FreeFeed],
    ) -> Largest {
        if feeds.is_empty() {
            return self.furthest(reading, from, watches, start, care);
        }
        self.put_feeds(feeds, start);
        let mut largest = self.furthest(reading, from, watches, start, care);
        for _ in 0..FEED_ROUNDS {
            if !self
                .harm(reading, from, watches, &largest.settings, feeds)
                .0
            {
                break;
            }
            let start = Start::from(&largest);
            largest = self.furthest(reading, from, watches, &start, care);
        }
        largest
    }

    /// Puts each of some feeds at the other one of its levels where that alone makes a reading go further with the parts at some
    /// settings, and all of them where they stand. Whether any was, and the value of the reading then.
    pub(super) fn harm(
        &mut self,
        reading: Reading,
        from: &mut OperatingPoint,
        watches: &[Watch],
        settings: &[f64],
        feeds: &mut [FreeFeed],
    ) -> (bool, f64) {
        self.hold(feeds);
        let others = feeds
            .iter()
            .map(|feed| Some((feed.tie, feed.other_volts())));
        let points: Vec<Point> = std::iter::once(None)
            .chain(others)
            .map(|source| Point {
                settings,
                sources: [source, None],
            })
            .collect();
        let numbers = self.numbers(reading.probe, from, watches, &points);
        let values: Vec<f64> = numbers
            .into_iter()
            .map(|number| reading.signed(number))
            .collect();
        let turned = turn_all(feeds, &values, TOLERANCE_VOLTS, |feeds| {
            self.hold(feeds);
            let number = self.numbers(reading.probe, from, watches, &[Point::at(settings)])[0];
            reading.signed(number)
        });
        self.hold(feeds);
        (turned.is_some(), turned.unwrap_or(values[0]))
    }

    /// By how much each of some feeds, brought to other volts alone, makes a reading go further (negative: less far), where it does most
    /// in the one or the other direction of what is tried: with all parts by the book, all at the upper and all at the lower end
    /// of their bands. Not a number where something comes to no rest.
    pub(super) fn moved_by(
        &mut self,
        reading: Reading,
        from: &mut OperatingPoint,
        feeds: &[FarFeed],
        held: Option<(ElementIndex, f64)>,
    ) -> Vec<(NetIndex, f64)> {
        let mut moved = Vec::new();
        let others = feeds.iter().map(|feed| Some((feed.tie, feed.volts)));
        let sources: Vec<_> = std::iter::once(None).chain(others).collect();
        for setting in [0.0, 1.0, -1.0] {
            let settings = vec![setting; self.factors.len()];
            let points: Vec<Point> = sources
                .iter()
                .map(|&other| Point {
                    settings: &settings,
                    sources: [held, other],
                })
                .collect();
            let numbers = self.numbers(reading.probe, from, &[], &points);
            let values = feeds.iter().zip(&numbers[1..]);
            moved.extend(values.map(|(feed, number)| {
                (
                    feed.net,
                    reading.signed(*number) - reading.signed(numbers[0]),
                )
            }));
            if settings.is_empty() {
                break;
            }
        }
        moved
    }

    /// The settings without which a state is not lost: of those that lose it, every one back at its book value that it is lost
    /// without, the later ones first.
    pub(super) fn needed(
        &mut self,
        reading: Reading,
        from: &mut OperatingPoint,
        watches: &[Watch],
        mut settings: Vec<f64>,
    ) -> Vec<f64> {
        for place in (0..settings.len()).rev() {
            let setting = std::mem::take(&mut settings[place]);
            if setting != 0.0 && !self.loses(reading, from, watches, &settings) {
                settings[place] = setting;
            }
        }
        settings
    }

    /// The first of some settings with which a state is lost.
    pub(super) fn lost_among(
        &mut self,
        settings: &[Vec<f64>],
        reading: Reading,
        from: &mut OperatingPoint,
        watches: &[Watch],
    ) -> Option<Vec<f64>> {
        let points: Vec<Point> = settings.iter().map(|at| Point::at(at)).collect();
        let volts = self.numbers(reading.probe, from, watches, &points);
        let lost = volts.iter().position(|volts| *volts == f64::INFINITY)?;
        Some(settings[lost].clone())
    }

    /// Settings that put parts where they stand elsewhere; of those named twice the last counts.
    pub(super) fn settings_of(&self, moved: &[&Moved]) -> Vec<f64> {
        let setting = |factor: &Factor| {
            let same = |moved: &&&Moved| {
                (moved.member, moved.piece, moved.quantity)
                    == (factor.member, factor.piece, factor.quantity)
            };
            let moved = moved.iter().rev().find(same);
            moved.map_or(0.0, |moved| factor.setting_of(moved.value))
        };
        self.factors.iter().map(setting).collect()
    }

    fn loses(
        &mut self,
        reading: Reading,
        from: &mut OperatingPoint,
        watches: &[Watch],
        settings: &[f64],
    ) -> bool {
        let volts = self.numbers(reading.probe, from, watches, &[Point::at(settings)]);
        volts[0] == f64::INFINITY
    }

    /// The rest at some settings, without a search; where nothing is off its book value and no state is watched it is known.
    pub(super) fn there(
        &mut self,
        rest: &mut OperatingPoint,
        watches: &[Watch],
        settings: &[f64],
    ) -> Solutions {
        if self.factors.is_empty() && watches.is_empty() {
            return Solutions {
                nodes: rest.volts.len(),
                volts: rest.volts.clone(),
                ends: vec![End::Settled],
                evaluations: 0,
            };
        }
        self.solve(rest, watches, &[Point::at(settings)])
    }
}

/// Volts of a node in each solution; infinite where a state is lost, not a number where nothing came to rest.
pub(super) fn read(solutions: &Solutions, node: NodeIndex) -> Vec<f64> {
    let ends = solutions.ends.iter().enumerate();
    ends.map(|(number, end)| match end {
        End::Settled | End::SettledAlone(_) => solutions.sample(number)[node],
        End::StateLost => f64::INFINITY,
        End::NotSettled => f64::NAN,
    })
    .collect()
}

/// Volts of every node in one solution; `None` where nothing came to rest in the state that is asked.
pub(super) fn settled(solutions: &Solutions, number: usize) -> Option<&[f64]> {
    matches!(solutions.ends[number], End::Settled | End::SettledAlone(_))
        .then(|| solutions.sample(number))
}

fn of_element(factors: &[Factor], elements: usize) -> Vec<Vec<usize>> {
    let mut by_element: Vec<Vec<usize>> = vec![Vec::new(); elements];
    for (place, factor) in factors.iter().enumerate() {
        for &element in factor.elements() {
            by_element[element].push(place);
        }
    }
    by_element
}

/// Which way a number is to go.
#[derive(Debug, Clone, Copy)]
pub(super) struct Reading {
    pub probe: Probe,
    /// Down; else up.
    pub lowest: bool,
    /// What the search counts it in, so that its tolerance is a millionth of that: 1 V of volts.
    pub unit: f64,
}

impl Reading {
    /// Volts of a node.
    pub(super) fn of_node(node: NodeIndex, lowest: bool) -> Self {
        Self {
            probe: Probe::Volts(node),
            lowest,
            unit: 1.0,
        }
    }

    /// The number that a value of the search stands for.
    pub(super) fn number_of(self, value: f64) -> f64 {
        value / self.sign()
    }

    fn sign(self) -> f64 {
        let sign = if self.lowest { -1.0 } else { 1.0 };
        sign / self.unit
    }

    /// The number in its unit, or with `lowest` its negative; what is lost stays infinite.
    pub(super) fn signed(self, number: f64) -> f64 {
        if number.is_finite() {
            self.sign() * number
        } else {
            number
        }
    }
}

/// A number as a search sees it.
struct Readings<'a> {
    stand: &'a mut Stand,
    reading: Reading,
    from: &'a mut OperatingPoint,
    watches: &'a [Watch],
    /// What was asked last, with its solutions.
    last: Option<(Vec<Vec<f64>>, Solutions)>,
}

impl Response for Readings<'_> {
    fn values(&mut self, settings: &[Vec<f64>]) -> Vec<f64> {
        let points: Vec<Point> = settings.iter().map(|at| Point::at(at)).collect();
        let solutions = self.stand.solve(self.from, self.watches, &points);
        let (probe, lamps) = (self.reading.probe, &self.from.lamps);
        let numbers = self.stand.read(probe, lamps, &points, &solutions);
        self.last = Some((settings.to_vec(), solutions));
        numbers
            .into_iter()
            .map(|number| self.reading.signed(number))
            .collect()
    }

    fn slopes(&mut self, at: &[f64]) -> Option<Vec<f64>> {
        let known = |last: &(Vec<Vec<f64>>, Solutions)| last.0.iter().position(|known| known == at);
        if self.last.as_ref().and_then(known).is_none() {
            self.values(&[at.to_vec()]);
        }
        let last = self.last.as_ref()?;
        let rest = settled(&last.1, known(last)?)?;
        let point = Point::at(at);
        let rises = self
            .stand
            .rises(self.reading.probe, &point, rest, &self.from.lamps)?;
        let slopes = rises.into_iter().map(|rise| self.reading.sign() * rise);
        Some(self.stand.leading(at, slopes.collect()))
    }
}

/// Where a search begins.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Start {
    pub settings: Vec<f64>,
    /// What each did where they were the worst.
    pub effects: Vec<f64>,
    /// They were the worst of all that was tried there.
    pub confirmed: bool,
    /// Feeds that were free then, and whether each stood at the level furthest the other way.
    pub fed: Vec<(ElementIndex, bool)>,
}

impl Start {
    /// What was found with some feeds as they stand.
    pub(super) fn fed(largest: &Largest, feeds: &[FreeFeed]) -> Self {
        Self {
            fed: standing(feeds),
            ..Self::from(largest)
        }
    }

    /// All these feeds were free then.
    pub(super) fn knows(&self, feeds: &[FreeFeed]) -> bool {
        feeds
            .iter()
            .all(|feed| self.fed.iter().any(|(tie, _)| *tie == feed.tie))
    }

    /// At book values.
    pub(super) fn book(count: usize) -> Self {
        Self::all_at(0.0, count)
    }

    /// A value here, without a search.
    pub(super) fn at(&self, value: f64) -> Largest {
        Largest {
            settings: self.settings.clone(),
            value,
            effects: self.effects.clone(),
            confirmed: self.confirmed,
            evaluated: 1,
        }
    }

    /// With every part at one setting.
    pub(super) fn all_at(setting: f64, count: usize) -> Self {
        Self {
            settings: vec![setting; count],
            effects: vec![0.0; count],
            confirmed: false,
            fed: Vec::new(),
        }
    }

    /// What was found from here: where the slopes lead nowhere else, what was confirmed remains so, with its effects; where they
    /// lead to something nearby, that is as good as confirmed for the next search to begin with.
    pub(super) fn lasting(&self, mut found: Largest) -> Largest {
        if self.confirmed && !found.confirmed {
            found.confirmed = true;
            if found.settings == self.settings {
                found.effects.copy_from_slice(&self.effects);
            }
        }
        found
    }

    /// How closely it is looked at.
    pub(super) fn care(&self) -> Care<'_> {
        if self.confirmed {
            Care::Nearby(&self.effects)
        } else {
            Care::Thorough
        }
    }
}

impl From<&Largest> for Start {
    fn from(largest: &Largest) -> Self {
        Self {
            settings: largest.settings.clone(),
            effects: largest.effects.clone(),
            confirmed: largest.confirmed,
            fed: Vec::new(),
        }
    }
}

/// One point: the settings of the factors, and perhaps some sources at other volts.
#[derive(Debug, Clone, Copy)]
pub(super) struct Point<'a> {
    pub settings: &'a [f64],
    pub sources: [Option<(ElementIndex, f64)>; 2],
}

impl<'a> Point<'a> {
    pub(super) fn at(settings: &'a [f64]) -> Self {
        Self {
            settings,
            sources: [None; 2],
        }
    }

    /// Puts a sample of book values there.
    fn put(&self, factors: &[Factor], sample: &mut Sample) {
        apply(factors, self.settings, sample);
        for (tie, volts) in self.sources.into_iter().flatten() {
            *sample.tie_volts(tie) = volts;
        }
    }
}
