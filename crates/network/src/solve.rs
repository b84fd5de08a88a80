//! Operating points: Newton with junction damping, then the sources stepped up, then pseudo-transient.

use crate::equations::{Network, State, TimeStep};
use devices::neon::NeonState;
use numerics::lanes::select::{Choice, Task, fused};
use numerics::newton::{self, Buffers, Equations};

/// Tolerances and bounds of a solution; printed with the results.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// Currents at a node must balance to this (A) ...
    pub balance_amps: f64,
    /// ... plus this times the sum of the currents there.
    pub balance_relative: f64,
    /// Volts must stand still to this (V) ...
    pub still_volts: f64,
    /// ... plus this times the volts.
    pub still_relative: f64,
    /// No node moves further than this in one round, V; a tenth of the highest source where that is more.
    pub largest_step_volts: f64,
    /// Rounds of one Newton run.
    pub rounds: usize,
    /// Steps of the sources, and of pseudo-time, each.
    pub steps: usize,
    /// Lanes in which many points of one network go side by side; as many as the processor has where `None`. They change how
    /// long it takes and nothing else.
    pub lanes: Option<Choice>,
}

impl Settings {
    /// The settings of every reported result. Chosen: the balance is ten times tighter than what is promised
    /// (1e-12 A plus 1e-9 of the largest current); 40 V a round, because a gate's swing is of that order and smaller
    /// bounds only add rounds. 150 rounds, because sound circuits that settle straight do so in some thirty, and larger ones
    /// are left room.
    pub const STANDARD: Settings = Settings {
        balance_amps: 1e-13,
        balance_relative: 1e-11,
        still_volts: 1e-7,
        still_relative: 1e-9,
        largest_step_volts: 40.0,
        rounds: 150,
        steps: 400,
        lanes: None,
    };

    /// The lanes to be used.
    pub(crate) fn lanes(&self) -> Choice {
        self.lanes.unwrap_or_else(Choice::widest)
    }

    /// For one step of a slower way: a step that needs many rounds is better taken smaller.
    fn of_one_step(self) -> Settings {
        Settings {
            rounds: self.rounds.min(ROUNDS_PER_STEP),
            ..self
        }
    }

    pub(crate) fn newton(&self, highest_source_volts: f64) -> newton::Settings {
        newton::Settings {
            residual_absolute: self.balance_amps,
            residual_relative: self.balance_relative,
            step_absolute: self.still_volts,
            step_relative: self.still_relative,
            largest_step: self
                .largest_step_volts
                .max(SOURCE_SHARE_PER_ROUND * highest_source_volts),
            iterations: self.rounds,
        }
    }
}

/// The way that led to a solution.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// Straight from the start.
    Straight,
    /// By stepping the sources up from zero.
    SourcesStepped,
    /// By letting it settle in pseudo-time.
    PseudoTransient,
}

/// How a solution ended.
#[derive(Debug, Clone, PartialEq)]
pub enum Outcome {
    /// Every equation holds.
    Settled(Way),
    /// No way led to a point where they do. The worst nodes with the current (A) that does not balance there, worst
    /// first, at most ten.
    NotSettled(Vec<(String, f64)>),
    /// No set of lit and dark lamps agrees with itself: at least these flicker.
    LampsFlicker(Vec<String>),
}

impl Outcome {
    /// Whether the volts are a solution.
    #[must_use]
    pub fn settled(&self) -> bool {
        matches!(self, Outcome::Settled(_))
    }
}

/// Work done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Counters {
    /// Evaluations of all elements.
    pub evaluations: usize,
    /// Factorisations of any kind.
    pub factorisations: usize,
}

/// A solution of a network at rest.
#[derive(Debug, Clone, PartialEq)]
pub struct OperatingPoint {
    /// Volts of every node of the wiring against ground.
    pub volts: Vec<f64>,
    /// Lit or dark, for every element of the wiring (dark for what is no lamp).
    pub lamps: Vec<NeonState>,
    /// How it ended.
    pub outcome: Outcome,
    /// Work done for it.
    pub work: Counters,
}

/// Buffers for solving one network again and again.
#[derive(Debug)]
pub struct Solver {
    state: State,
    buffers: Buffers,
    node_volts: Vec<f64>,
}

impl Solver {
    /// Buffers for a network.
    #[must_use]
    pub fn new(network: &Network) -> Self {
        Self {
            state: State::new(network),
            buffers: Buffers::new(&network.pattern, &network.analysis),
            node_volts: Vec::new(),
        }
    }

    /// The operating point reached from `start` (volts of every node; zero where `None`).
    ///
    /// Where a network has several, the start decides which is found; ask [`crate::scan`] for all of them.
    /// Lamps start dark unless `lamps` says otherwise; a lamp whose state cannot last is switched over and the network
    /// solved again, at most twice per lamp and round.
    pub fn operating_point(
        &mut self,
        network: &Network,
        start: Option<&[f64]>,
        lamps: Option<&[NeonState]>,
        settings: &Settings,
    ) -> OperatingPoint {
        let evaluations = self.buffers.evaluations;
        let factorisations = self.buffers.factors.work();
        match lamps {
            Some(lamps) => self.state.lamps.copy_from_slice(lamps),
            None => self.state.lamps.fill(NeonState::Dark),
        }
        let zero = vec![0.0; network.wiring.nodes.len()];
        let start = start.unwrap_or(&zero);
        let mut x = network.unknowns_from(start);
        let mut outcome = self.settle(network, start, &mut x, settings);
        let lamp_elements: Vec<usize> = network.lamps().collect();
        let mut switches_left = 2 * lamp_elements.len() + 2;
        while outcome.settled() {
            network.node_volts(&x, &mut self.node_volts);
            let wrong: Vec<usize> = lamp_elements
                .iter()
                .copied()
                .filter(|&lamp| !self.lamp_lasts(network, lamp))
                .collect();
            let Some(&lamp) = wrong.first() else { break };
            if switches_left == 0 {
                let names = wrong
                    .iter()
                    .map(|&lamp| network.wiring.elements[lamp].name.clone())
                    .collect();
                outcome = Outcome::LampsFlicker(names);
                break;
            }
            switches_left -= 1;
            self.switch_lamp(network, lamp);
            let from = self.node_volts.clone();
            outcome = self.settle(network, &from, &mut x, settings);
        }
        let mut volts = Vec::new();
        network.node_volts(&x, &mut volts);
        OperatingPoint {
            volts,
            lamps: self.state.lamps.clone(),
            outcome,
            work: Counters {
                evaluations: self.buffers.evaluations - evaluations,
                factorisations: self.buffers.factors.work() - factorisations,
            },
        }
    }

    /// The point where the network comes to rest when it is let go at `start`, its volts followed in time, the lamps as
    /// given throughout: what a circuit that stores does with the state it stands in.
    pub fn settled_in_time(
        &mut self,
        network: &Network,
        start: &[f64],
        lamps: &[NeonState],
        settings: &Settings,
    ) -> OperatingPoint {
        self.state.lamps.copy_from_slice(lamps);
        self.state.time_step = None;
        let mut x = network.unknowns_from(start);
        let (evaluations, factorisations) = (self.buffers.evaluations, self.buffers.factors.work());
        let at_rest = self.pseudo_transient(network, start, &mut x, settings);
        let mut volts = Vec::new();
        network.node_volts(&x, &mut volts);
        let settled = at_rest
            && network.lamps().all(|lamp| {
                let (law, drop) = lamp_law(network, lamp, &volts);
                law.consistent(lamps[lamp], drop)
            });
        OperatingPoint {
            volts,
            lamps: lamps.to_vec(),
            outcome: if settled {
                Outcome::Settled(Way::PseudoTransient)
            } else {
                Outcome::NotSettled(self.worst(network))
            },
            work: Counters {
                evaluations: self.buffers.evaluations - evaluations,
                factorisations: self.buffers.factors.work() - factorisations,
            },
        }
    }

    fn lamp_lasts(&self, network: &Network, lamp: usize) -> bool {
        let (law, volts) = lamp_law(network, lamp, &self.node_volts);
        law.consistent(self.state.lamps[lamp], volts)
    }

    fn switch_lamp(&mut self, network: &Network, lamp: usize) {
        let (_, volts) = lamp_law(network, lamp, &self.node_volts);
        self.state.lamps[lamp] = match self.state.lamps[lamp] {
            NeonState::Dark if volts < 0.0 => NeonState::LitBackward,
            NeonState::Dark => NeonState::LitForward,
            NeonState::LitForward | NeonState::LitBackward => NeonState::Dark,
        };
    }

    /// Newton from the start; on failure the two slower ways.
    fn settle(
        &mut self,
        network: &Network,
        start: &[f64],
        x: &mut [f64],
        settings: &Settings,
    ) -> Outcome {
        x.copy_from_slice(&network.unknowns_from(start));
        self.state.time_step = None;
        self.state.remember(network, start);
        if self.newton(network, x, settings) == newton::Outcome::Settled {
            return Outcome::Settled(Way::Straight);
        }
        if self.step_sources(network, x, settings) {
            return Outcome::Settled(Way::SourcesStepped);
        }
        x.copy_from_slice(&network.unknowns_from(start));
        if self.pseudo_transient(network, start, x, settings) {
            return Outcome::Settled(Way::PseudoTransient);
        }
        Outcome::NotSettled(self.worst(network))
    }

    fn newton(&mut self, network: &Network, x: &mut [f64], settings: &Settings) -> newton::Outcome {
        let settings = settings.newton(network.highest_source_volts());
        fused(Rounds {
            solver: self,
            network,
            x,
            settings: &settings,
        })
    }

    /// All sources from zero to full in growing steps, each solved from the one before.
    fn step_sources(&mut self, network: &Network, x: &mut [f64], settings: &Settings) -> bool {
        x.fill(0.0);
        let zero = vec![0.0; network.wiring.nodes.len()];
        self.state.remember(network, &zero);
        let settings = &settings.of_one_step();
        let (mut share, mut step) = (0.0, FIRST_SOURCE_STEP);
        let mut last_good = x.to_vec();
        for _ in 0..settings.steps {
            let next = (share + step).min(1.0);
            network.scale_sources(next, &mut self.state);
            if self.newton(network, x, settings) == newton::Outcome::Settled {
                share = next;
                last_good.copy_from_slice(x);
                if share >= 1.0 {
                    return true;
                }
                step *= SOURCE_STEP_GROWTH;
            } else {
                x.copy_from_slice(&last_good);
                step /= SOURCE_STEP_CUT;
                if step < SMALLEST_SOURCE_STEP {
                    break;
                }
            }
        }
        network.scale_sources(1.0, &mut self.state);
        false
    }

    /// Implicit Euler from the start with the network's own capacitances. The step grows only while the volts hardly
    /// move: a carelessly growing step damps growing modes and would park a latch on its saddle.
    fn pseudo_transient(
        &mut self,
        network: &Network,
        start: &[f64],
        x: &mut [f64],
        settings: &Settings,
    ) -> bool {
        self.state.remember(network, start);
        let mut capacitance = vec![0.0; network.pattern.rows.len()];
        network.capacitance(start, &mut capacitance);
        let mut seconds = FIRST_TIME_STEP;
        let step_settings = settings.of_one_step();
        for _ in 0..settings.steps {
            let before = x.to_vec();
            self.set_time_step(&capacitance, seconds, &before);
            let outcome = self.newton(network, x, &step_settings);
            if outcome != newton::Outcome::Settled {
                x.copy_from_slice(&before);
                seconds /= TIME_STEP_CUT;
                continue;
            }
            let moved = x
                .iter()
                .zip(&before)
                .map(|(now, was)| (now - was).abs())
                .fold(0.0, f64::max);
            let largest = x.iter().map(|volts| volts.abs()).fold(0.0, f64::max);
            if moved < STILL_VOLTS + STILL_SHARE * largest {
                seconds *= TIME_STEP_GROWTH;
            }
            if LONGEST_TIME_STEP < seconds {
                self.state.time_step = None;
                if self.newton(network, x, settings) == newton::Outcome::Settled {
                    return true;
                }
                break;
            }
        }
        self.state.time_step = None;
        // One more evaluation without the step, so that the worst nodes are named by what really does not balance.
        let one_round = Settings {
            rounds: 1,
            ..*settings
        };
        self.newton(network, x, &one_round) == newton::Outcome::Settled
    }

    fn set_time_step(&mut self, capacitance: &[f64], seconds: f64, before: &[f64]) {
        self.state.time_step = Some(TimeStep {
            siemens: capacitance.iter().map(|farads| farads / seconds).collect(),
            before: before.to_vec(),
            moved: vec![0.0; before.len()],
            product: vec![0.0; before.len()],
        });
    }

    fn worst(&self, network: &Network) -> Vec<(String, f64)> {
        let mut worst: Vec<(String, f64)> = self
            .buffers
            .values
            .residual
            .iter()
            .enumerate()
            .map(|(unknown, amps)| (network.unknown_name(unknown).to_owned(), *amps))
            .collect();
        worst.sort_by(|left, right| right.1.abs().total_cmp(&left.1.abs()));
        worst.truncate(LISTED_NODES);
        worst
    }

    /// The Jacobian (S, in the order of the pattern) at node volts and lamp states.
    pub(crate) fn conductance(&mut self, network: &Network, point: &OperatingPoint) -> &[f64] {
        self.state.lamps.copy_from_slice(&point.lamps);
        self.state.time_step = None;
        self.state.remember(network, &point.volts);
        let x = network.unknowns_from(&point.volts);
        network
            .equations(&mut self.state)
            .evaluate(&x, &mut self.buffers.values);
        &self.buffers.values.jacobian
    }

    /// One step in time by implicit Euler from node volts `from`; capacitances are those at `from`. `None` when it does
    /// not settle.
    pub fn step(
        &mut self,
        network: &Network,
        from: &[f64],
        seconds: f64,
        settings: &Settings,
    ) -> Option<Vec<f64>> {
        let mut capacitance = vec![0.0; network.pattern.rows.len()];
        network.capacitance(from, &mut capacitance);
        let before = network.unknowns_from(from);
        let mut x = before.clone();
        self.state.remember(network, from);
        self.set_time_step(&capacitance, seconds, &before);
        let outcome = self.newton(network, &mut x, settings);
        self.state.time_step = None;
        let mut volts = Vec::new();
        network.node_volts(&x, &mut volts);
        (outcome == newton::Outcome::Settled).then_some(volts)
    }

    /// Resistance (ohm) seen from an unknown to ground, linearised at a solution; `None` when the matrix has no inverse.
    pub fn resistance_at(
        &mut self,
        network: &Network,
        point: &OperatingPoint,
        unknown: usize,
    ) -> Option<f64> {
        self.conductance(network, point);
        let values = &self.buffers.values.jacobian;
        self.buffers
            .factors
            .update(&network.analysis, &network.pattern, values)
            .ok()?;
        let mut one_ampere = vec![0.0; network.size()];
        one_ampere[unknown] = 1.0;
        self.buffers.factors.solve(&mut one_ampere);
        Some(one_ampere[unknown])
    }
}

/// Newton's method in one lane.
struct Rounds<'a> {
    solver: &'a mut Solver,
    network: &'a Network,
    x: &'a mut [f64],
    settings: &'a newton::Settings,
}

impl Task for Rounds<'_> {
    type Output = newton::Outcome;

    #[inline(always)]
    fn run(self) -> newton::Outcome {
        newton::solve(
            &mut self.network.equations(&mut self.solver.state),
            &self.network.analysis,
            &self.network.pattern,
            self.x,
            &mut self.solver.buffers,
            self.settings,
        )
    }
}

fn lamp_law<'a>(
    network: &'a Network,
    lamp: usize,
    volts: &[f64],
) -> (&'a devices::neon::NeonParameters, f64) {
    match &network.wiring.elements[lamp].kind {
        crate::wiring::ElementKind::Neon { ends, law } => (law, volts[ends[0]] - volts[ends[1]]),
        other => unreachable!("only lamps are asked for, not {other:?}"),
    }
}

/// Ten rounds at the least from rail to rail, however high a rail stands: chosen.
const SOURCE_SHARE_PER_ROUND: f64 = 0.1;
/// Rounds of one step of a slower way: chosen; steps that are small enough need ten.
const ROUNDS_PER_STEP: usize = 40;
/// First share of the sources, and its growth and cut: chosen, ten steps when all goes well.
const FIRST_SOURCE_STEP: f64 = 0.05;
const SOURCE_STEP_GROWTH: f64 = 1.5;
const SOURCE_STEP_CUT: f64 = 4.0;
const SMALLEST_SOURCE_STEP: f64 = 1e-6;
/// Pseudo-time, s: from a tenth of the fastest time constant of a gate (some 10 kohm and 10 pF) to far beyond the slowest.
const FIRST_TIME_STEP: f64 = 1e-8;
const TIME_STEP_GROWTH: f64 = 2.0;
const TIME_STEP_CUT: f64 = 4.0;
const LONGEST_TIME_STEP: f64 = 1.0;
/// The step may grow when no node moved further than this, V, plus this share of the highest volts: chosen, a small part
/// of any gate's swing, and of a start far away.
const STILL_VOLTS: f64 = 0.5;
const STILL_SHARE: f64 = 0.05;
/// As many as a person will read.
const LISTED_NODES: usize = 10;
