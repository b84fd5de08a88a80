//! What a small change of any part does to one number that a rest gives: one solution of the transposed equations serves for
//! all parts together.
//!
//! At rest the currents F that leave the nodes are zero. Where a part's values change with the volts as they are, F changes by
//! dF, and to first order the volts x by -J^-1 dF; a number with the slopes g by the volts changes by -w dF with J' w = g, J
//! the Jacobian (of the volts of one node g is one there), and by what it changes with the volts as they are (S. W. Director and R. A. Rohrer, "The generalized adjoint network and network sensitivities", IEEE Transactions on
//! Circuit Theory 16(3), 1969, pages 318-323; from memory).

use crate::element::Behaviour;
use crate::ensemble::Sample;
use crate::equations::{Given, Network};
use crate::probe::Probe;
use crate::wiring::{ElementIndex, GROUND};
use devices::neon::NeonState;
use numerics::lu::Factors;
use numerics::newton::Values;

/// Buffers for one network, and what was solved last.
#[derive(Debug)]
pub(crate) struct Adjoint {
    behaviours: Vec<Behaviour>,
    offset: Vec<f64>,
    memory: Vec<[f64; 2]>,
    values: Values<f64>,
    factors: Factors,
    volts: Vec<f64>,
    probe: Probe,
    /// By how much the number falls for each ampere more that flows out of each unknown's nodes.
    weights: Vec<f64>,
}

impl Adjoint {
    pub(crate) fn new(network: &Network) -> Self {
        Self {
            behaviours: network.behaviours.clone(),
            offset: vec![0.0; network.wiring.nodes.len()],
            memory: vec![[0.0; 2]; network.places.len()],
            values: Values::new(&network.pattern),
            factors: Factors::new(&network.analysis),
            volts: Vec::new(),
            probe: Probe::Volts(GROUND),
            weights: vec![0.0; network.size()],
        }
    }

    /// Solves for one number with the parts of a sample at its rest; false where that has no solution, or where it is of a node
    /// that is tied to ground and nothing moves it.
    pub(crate) fn solve(
        &mut self,
        network: &Network,
        sample: &Sample,
        volts: &[f64],
        lamps: &[NeonState],
        probe: Probe,
    ) -> bool {
        self.weights.fill(0.0);
        let values = sample.values_of(probe.element());
        if !probe.weigh(network, values, volts, lamps, &mut self.weights) {
            return false;
        }
        self.probe = probe;
        let places = network.places.iter().zip(sample.values());
        let remembered = self.behaviours.iter_mut().zip(&mut self.memory);
        for ((place, values), (behaviour, memory)) in places.zip(remembered) {
            *behaviour = Behaviour::new(values);
            *memory = behaviour.memory(&place.volts(volts));
        }
        network.place_offsets_of(|tie| sample.volts_of_tie(tie), &mut self.offset);
        let mut given = Given {
            behaviours: &self.behaviours,
            offset: &self.offset,
            lamps,
            memory: &mut self.memory,
        };
        let x = network.unknowns_from(volts);
        network.evaluate(&mut given, &x, &mut self.values);
        let jacobian = &self.values.jacobian;
        let factored = self
            .factors
            .update(&network.analysis, &network.pattern, jacobian);
        self.factors.solve_transposed(&mut self.weights);
        self.volts.clear();
        self.volts.extend_from_slice(volts);
        factored.is_ok()
    }

    /// By how much the number falls for an element as a sample has it, in a straight line: what two samples differ by counts.
    pub(crate) fn fall(
        &self,
        network: &Network,
        element: ElementIndex,
        sample: &Sample,
        lamps: &[NeonState],
    ) -> f64 {
        network.place_of(element).map_or(0.0, |index| {
            let values = &sample.values()[index];
            let fall = network.weighted_amps(index, values, &self.volts, lamps, &self.weights);
            if self.probe.element() != Some(element) {
                return fall;
            }
            fall - self.probe.value(network, Some(values), &self.volts, lamps)
        })
    }
}
