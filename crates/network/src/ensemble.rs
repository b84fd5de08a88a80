//! One network solved for many values of its parts: spread, corners, faults.
//!
//! Samples go side by side through the lanes of the processor (see [`numerics::lanes`]) and in batches over its cores.
//! A sample's numbers depend on nothing but the sample: neither on the lanes, nor on the threads, nor on its neighbours.
//! What does not settle side by side is solved again by itself, with every way that [`Solver`] knows.
//!
//! A circuit that stores has several solutions. An ensemble of one starts from a stated logic state and watches nodes
//! that must be on the same side of a voltage at the end; a sample that left its state is reported as such.

use crate::element::{Behaviour, PartValues};
use crate::equations::{Given, Network};
use crate::solve::{OperatingPoint, Outcome, Settings, Solver, Way};
use crate::stability::{Stability, stability};
use crate::wiring::{ElementIndex, NodeIndex};
use devices::diode::DiodeParameters;
use devices::neon::{NeonParameters, NeonState};
use devices::pentode::PentodeParameters;
use devices::triode::TriodeLaw;
use devices::vacuum_diode::VacuumDiodeParameters;
use numerics::lanes::Lanes;
use numerics::lanes::select::{Choice, Work};
use numerics::lu::{Factors, SideBySide};
use numerics::newton::{self, BuffersSideBySide, Equations, Values};
use rayon::prelude::*;

/// Samples that one core takes at a time: chosen, so many that buffers and pivots cost nothing, so few that all cores
/// have work.
const BATCH: usize = 256;

/// A sample that must stay in its state is let go no further at a step than this share of what others are: a longer one leads
/// across to another state. Chosen.
const STEP_IN_A_STATE: f64 = 0.25;

/// Values of the parts of one sample; nominal until changed.
#[derive(Debug, Clone)]
pub struct Sample<'a> {
    network: &'a Network,
    values: Vec<PartValues>,
    /// Volts of every tie, by element.
    tie_volts: Vec<f64>,
}

impl<'a> Sample<'a> {
    /// The network's own values.
    pub(crate) fn nominal(network: &'a Network) -> Self {
        let mut tie_volts = vec![0.0; network.wiring.elements.len()];
        for tie in network.joining_ties() {
            tie_volts[tie] = network.tie_volts(tie);
        }
        Self {
            network,
            values: network.values.clone(),
            tie_volts,
        }
    }

    /// Values of every element that carries current at rest.
    pub(crate) fn values(&self) -> &[PartValues] {
        &self.values
    }

    /// Values of one element; `None` without one, and of what carries no current at rest.
    pub(crate) fn values_of(&self, element: Option<ElementIndex>) -> Option<&PartValues> {
        Some(&self.values[self.network.place_of(element?)?])
    }

    /// The network with these values.
    pub(crate) fn network(&self) -> Network {
        self.network.with_values(&self.values, &self.tie_volts)
    }

    pub(crate) fn volts_of_tie(&self, tie: ElementIndex) -> f64 {
        self.tie_volts[tie]
    }

    /// Puts an element back to its value in another sample; that value.
    pub(crate) fn restore(&mut self, other: &Self, element: ElementIndex) {
        if let Some(index) = self.network.place_of(element) {
            self.values[index] = other.values[index];
        }
    }

    fn reset(&mut self, nominal: &Self) {
        self.values.copy_from_slice(&nominal.values);
        self.tie_volts.copy_from_slice(&nominal.tie_volts);
    }

    pub(crate) fn part(&mut self, element: ElementIndex) -> Option<&mut PartValues> {
        let index = self.network.place_of(element)?;
        Some(&mut self.values[index])
    }

    /// Conductance of a resistor, S.
    pub fn siemens(&mut self, element: ElementIndex) -> Option<&mut f64> {
        match self.part(element)? {
            PartValues::Resistor(siemens) => Some(siemens),
            _ => None,
        }
    }

    /// Law of a warm triode; the kind of law must stay.
    pub fn triode(&mut self, element: ElementIndex) -> Option<&mut TriodeLaw> {
        match self.part(element)? {
            PartValues::Triode(law, _) => Some(law),
            _ => None,
        }
    }

    /// Volts of a warm tube's cathode over its pin, see [`PartValues::Triode`].
    pub fn cathode_shift(&mut self, element: ElementIndex) -> Option<&mut f64> {
        match self.part(element)? {
            PartValues::Triode(_, shift)
            | PartValues::Pentode(_, shift)
            | PartValues::VacuumDiode(_, shift) => Some(shift),
            _ => None,
        }
    }

    /// Law of a warm tetrode or pentode.
    pub fn pentode(&mut self, element: ElementIndex) -> Option<&mut PentodeParameters> {
        match self.part(element)? {
            PartValues::Pentode(law, _) => Some(law),
            _ => None,
        }
    }

    /// What is added to the grid current of a warm tube, A.
    pub fn grid_floor(&mut self, element: ElementIndex) -> Option<&mut f64> {
        match self.part(element)? {
            PartValues::Triode(TriodeLaw::Tail(law), _) => Some(&mut law.grid_floor),
            PartValues::Triode(TriodeLaw::Koren(law), _) => Some(&mut law.grid_floor),
            PartValues::Pentode(law, _) => Some(&mut law.grid_floor),
            _ => None,
        }
    }

    /// Law of a semiconductor diode.
    pub fn diode(&mut self, element: ElementIndex) -> Option<&mut DiodeParameters> {
        match self.part(element)? {
            PartValues::Diode(law) => Some(law),
            _ => None,
        }
    }

    /// Law of a warm vacuum diode.
    pub fn vacuum_diode(&mut self, element: ElementIndex) -> Option<&mut VacuumDiodeParameters> {
        match self.part(element)? {
            PartValues::VacuumDiode(law, _) => Some(law),
            _ => None,
        }
    }

    /// Law of a neon lamp.
    pub fn neon(&mut self, element: ElementIndex) -> Option<&mut NeonParameters> {
        match self.part(element)? {
            PartValues::Neon(law) => Some(law),
            _ => None,
        }
    }

    /// Volts of plus over minus of a tie: a rail, a switch, a source.
    pub fn tie_volts(&mut self, tie: ElementIndex) -> &mut f64 {
        &mut self.tie_volts[tie]
    }
}

/// Is given the number of a sample and its values, nominal so far, to change. Not generic, so that the lanes are compiled
/// once and not with every caller.
pub type Vary<'a> = dyn Fn(usize, &mut Sample) + Sync + 'a;

/// A node that tells the stated logic state from others.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Watch {
    /// Which.
    pub node: NodeIndex,
    /// V; between the levels of the states.
    pub divide: f64,
    /// Whether the node is above `divide` in the stated state, or below.
    pub above: bool,
}

/// How a sample ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum End {
    /// Settled side by side with others, in the stated state.
    Settled,
    /// Settled in the stated state, when solved by itself.
    SettledAlone(Way),
    /// Settled, but the stated logic state is gone: the volts are those of where it went.
    StateLost,
    /// No way led to a point at rest; the volts mean nothing.
    NotSettled,
}

/// All samples, in their order.
#[derive(Debug, Clone, PartialEq)]
pub struct Solutions {
    /// Nodes of the network: volts of sample s, node n stand at s * `nodes` + n.
    pub nodes: usize,
    /// Volts against ground.
    pub volts: Vec<f64>,
    /// How each ended.
    pub ends: Vec<End>,
    /// Evaluations of the network, all samples together, those solved alone not counted.
    pub evaluations: usize,
}

impl Solutions {
    /// Volts of every node in one sample.
    #[must_use]
    pub fn sample(&self, sample: usize) -> &[f64] {
        &self.volts[sample * self.nodes..(sample + 1) * self.nodes]
    }
}

/// A network, where its samples start, and what they must keep.
#[derive(Debug)]
pub struct Ensemble<'a> {
    network: &'a Network,
    start_volts: &'a [f64],
    lamps: &'a [NeonState],
    watches: &'a [Watch],
    settings: Settings,
    nominal: Sample<'a>,
    newton: newton::Settings,
    /// The pivots for all samples, chosen at the start; none when that has none.
    chosen: Option<Factors>,
    /// Sign of the determinant at the start, with these pivots.
    sign: f64,
}

impl<'a> Ensemble<'a> {
    /// Samples of `network` that start from `start`: the stated logic state at nominal values, or any other volts when
    /// nothing is watched.
    #[must_use]
    pub fn new(
        network: &'a Network,
        start: &'a OperatingPoint,
        watches: &'a [Watch],
        settings: &Settings,
    ) -> Self {
        let mut solver = Solver::new(network);
        let jacobian = solver.conductance(network, start);
        let mut chosen = Factors::new(&network.analysis);
        let factored = chosen.factor(&network.analysis, &network.pattern, jacobian);
        let chosen = factored.ok().map(|()| chosen);
        let sign = chosen.as_ref().map_or(1.0, |chosen| {
            let mut factors = SideBySide::new(chosen);
            factors.refactor(chosen, &network.pattern, jacobian);
            factors.sign()
        });
        let mut newton = settings.newton(network.highest_source_volts());
        if !watches.is_empty() {
            newton.largest_step *= STEP_IN_A_STATE;
        }
        Self {
            network,
            start_volts: &start.volts,
            lamps: &start.lamps,
            watches,
            settings: *settings,
            nominal: Sample::nominal(network),
            newton,
            chosen,
            sign,
        }
    }

    /// Solves `count` samples in the given lanes, on the threads of the current pool.
    ///
    /// Work is bounded: each sample by the rounds of the settings, then once more by itself.
    pub fn solve(&self, count: usize, lanes: Choice, vary: &Vary) -> Solutions {
        let batches: Vec<Solutions> = (0..count.div_ceil(BATCH))
            .into_par_iter()
            .map(|batch| {
                let first = batch * BATCH;
                lanes.run(Batch {
                    ensemble: self,
                    first,
                    end: count.min(first + BATCH),
                    vary,
                })
            })
            .collect();
        let mut all = self.none_yet(count);
        for batch in batches {
            all.volts.extend(batch.volts);
            all.ends.extend(batch.ends);
            all.evaluations += batch.evaluations;
        }
        all
    }

    fn none_yet(&self, count: usize) -> Solutions {
        let nodes = self.network.wiring.nodes.len();
        Solutions {
            nodes,
            volts: Vec::with_capacity(nodes * count),
            ends: Vec::with_capacity(count),
            evaluations: 0,
        }
    }

    fn keeps_state(&self, volts: &[f64]) -> bool {
        self.watches
            .iter()
            .all(|watch| (watch.divide < volts[watch.node]) == watch.above)
    }

    /// Solves one sample with every way there is; its volts replace `volts`.
    fn alone(&self, sample: &Sample, volts: &mut Vec<f64>) -> End {
        let network = sample.network();
        let mut solver = Solver::new(&network);
        let in_state = |point: &OperatingPoint| {
            self.keeps_state(&point.volts)
                && (self.watches.is_empty()
                    || !matches!(
                        stability(&network, &mut Solver::new(&network), point),
                        Stability::Unstable(_)
                    ))
        };
        let (start, lamps) = (Some(self.start_volts), Some(self.lamps));
        let straight = solver.operating_point(&network, start, lamps, &self.settings);
        if let (Outcome::Settled(way), true) = (&straight.outcome, in_state(&straight)) {
            *volts = straight.volts;
            return End::SettledAlone(*way);
        }
        // Volts that were found without following time may belong to another state although this one lasts.
        let followed =
            solver.settled_in_time(&network, self.start_volts, self.lamps, &self.settings);
        let settled = followed.outcome.settled();
        let kept = settled && in_state(&followed);
        *volts = followed.volts;
        match (settled, kept) {
            (true, true) => End::SettledAlone(Way::PseudoTransient),
            (true, false) => End::StateLost,
            (false, _) => End::NotSettled,
        }
    }
}

/// Samples `first` to before `end`, in groups as wide as the lanes.
struct Batch<'a, 'n> {
    ensemble: &'a Ensemble<'n>,
    first: usize,
    end: usize,
    vary: &'a Vary<'a>,
}

impl Work for Batch<'_, '_> {
    type Output = Solutions;

    #[inline(always)]
    fn run<L: Lanes>(self) -> Solutions {
        let ensemble = self.ensemble;
        let mut solutions = ensemble.none_yet(self.end - self.first);
        let mut samples = vec![ensemble.nominal.clone(); L::COUNT];
        let chosen = ensemble.chosen.as_ref();
        let mut group = chosen.map(|chosen| Group::<L>::new(ensemble, chosen));
        let mut volts = Vec::with_capacity(solutions.nodes);
        for first in (self.first..self.end).step_by(L::COUNT) {
            let filled = L::COUNT.min(self.end - first);
            for (lane, sample) in samples.iter_mut().enumerate() {
                sample.reset(&ensemble.nominal);
                // Lanes without a sample of their own repeat the last one.
                (self.vary)(first + lane.min(filled - 1), sample);
            }
            let mut outcome = None;
            // No closure: what is solved must be inlined here.
            if let Some(group) = &mut group {
                outcome = Some(group.solve(ensemble, &samples));
            }
            for (lane, sample) in samples.iter().enumerate().take(filled) {
                let mut end = None;
                if let (Some(group), Some(outcome)) = (&group, &outcome) {
                    solutions.evaluations += outcome.evaluations.lane(lane) as usize;
                    group.node_volts(ensemble.network, lane, &mut volts);
                    end = group.settled(ensemble, sample, outcome, lane, &volts);
                }
                let end = end.unwrap_or_else(|| ensemble.alone(sample, &mut volts));
                solutions.ends.push(end);
                solutions.volts.extend_from_slice(&volts);
            }
        }
        solutions
    }
}

/// Buffers for as many samples as there are lanes.
struct Group<'a, L> {
    chosen: &'a Factors,
    behaviours: Vec<Behaviour<L>>,
    offset: Vec<L>,
    memory: Vec<[L; 2]>,
    x: Vec<L>,
    buffers: BuffersSideBySide<L>,
    scalar_offset: Vec<f64>,
    start_memory: Vec<[f64; 2]>,
    start_x: Vec<f64>,
}

impl<'a, L: Lanes> Group<'a, L> {
    fn new(ensemble: &Ensemble, chosen: &'a Factors) -> Self {
        let network = ensemble.network;
        let start = ensemble.start_volts;
        Self {
            chosen,
            behaviours: vec![Behaviour::Cold; network.places.len()],
            offset: vec![L::splat(0.0); network.wiring.nodes.len()],
            memory: vec![[L::splat(0.0); 2]; network.places.len()],
            x: vec![L::splat(0.0); network.size()],
            buffers: BuffersSideBySide::new(&network.pattern, chosen),
            scalar_offset: vec![0.0; network.wiring.nodes.len()],
            start_memory: network.memories(start).collect(),
            start_x: network.unknowns_from(start),
        }
    }

    #[inline(always)]
    fn solve(&mut self, ensemble: &Ensemble, samples: &[Sample]) -> newton::SideBySideOutcome<L> {
        let network = ensemble.network;
        for (index, behaviour) in self.behaviours.iter_mut().enumerate() {
            *behaviour = Behaviour::new(&gathered(samples, index));
        }
        for (lane, sample) in samples.iter().enumerate() {
            network.place_offsets_of(|tie| sample.tie_volts[tie], &mut self.scalar_offset);
            for (offset, volts) in self.offset.iter_mut().zip(&self.scalar_offset) {
                offset.set_lane(lane, *volts);
            }
        }
        for (memory, volts) in self.memory.iter_mut().zip(&self.start_memory) {
            *memory = volts.map(L::splat);
        }
        for (unknown, volts) in self.x.iter_mut().zip(&self.start_x) {
            *unknown = L::splat(*volts);
        }
        let mut equations = SampleEquations {
            network,
            given: Given {
                behaviours: &self.behaviours,
                offset: &self.offset,
                lamps: ensemble.lamps,
                memory: &mut self.memory,
            },
        };
        newton::solve_side_by_side(
            &mut equations,
            self.chosen,
            &network.pattern,
            &mut self.x,
            &mut self.buffers,
            &ensemble.newton,
        )
    }

    fn node_volts(&self, network: &Network, lane: usize, volts: &mut Vec<f64>) {
        volts.clear();
        volts.extend(self.offset.iter().enumerate().map(|(node, offset)| {
            let unknown = network.unknown_of(node);
            unknown.map_or(0.0, |unknown| self.x[unknown].lane(lane)) + offset.lane(lane)
        }));
    }

    /// Whether a lane's volts are a solution at rest in the stated state; `None` when it must be solved by itself.
    ///
    /// Between a state and the point where it is lost there is a solution that nothing rests in; there the determinant
    /// of the conductances has the other sign.
    fn settled(
        &self,
        ensemble: &Ensemble,
        sample: &Sample,
        outcome: &newton::SideBySideOutcome<L>,
        lane: usize,
        volts: &[f64],
    ) -> Option<End> {
        let at_rest = ensemble.watches.is_empty()
            || (outcome.sign.lane(lane) == ensemble.sign && ensemble.keeps_state(volts));
        let lamps_last = ensemble.network.lamps().all(|lamp| {
            let Some(index) = ensemble.network.place_of(lamp) else {
                return true;
            };
            let drop = ensemble.network.places[index].first_drop(volts);
            match sample.values[index] {
                PartValues::Neon(law) => law.consistent(ensemble.lamps[lamp], drop),
                _ => true,
            }
        });
        (outcome.settled.lane(lane) == 1.0 && at_rest && lamps_last).then_some(End::Settled)
    }
}

/// The values of one part in all samples. Not inlined: see [`PartValues::side_by_side`].
#[inline(never)]
fn gathered<L: Lanes>(samples: &[Sample], index: usize) -> PartValues<L> {
    PartValues::side_by_side(|lane| &samples[lane].values[index])
}

struct SampleEquations<'a, L> {
    network: &'a Network,
    given: Given<'a, L>,
}

impl<L: Lanes> Equations<L> for SampleEquations<'_, L> {
    #[inline(always)]
    fn evaluate(&mut self, x: &[L], values: &mut Values<L>) {
        self.network.evaluate(&mut self.given, x, values);
    }
}
