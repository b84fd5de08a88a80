//! A number that a rest gives and a worst case is looked for of: the volts of a node, or what one part does there. With it
//! comes how it follows from the volts of the nodes, which is what the transposed solution begins from.

use crate::element::{PartValues, TerminalSlopes};
use crate::equations::Network;
use crate::wiring::{ElementIndex, NodeIndex};
use devices::neon::NeonState;

/// Which number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Probe {
    /// Volts of a node against ground, V.
    Volts(NodeIndex),
    /// A number of one element.
    Part(ElementIndex, PartNumber),
}

/// What of an element.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum PartNumber {
    /// Current into its first terminal, A.
    Amps,
    /// The same times the volts from its first terminal to its last: of a tube the dissipation of its plate, W.
    Watts,
    /// By how much the volts across a lamp that is kept dark ([`kept_dark`]) are above those at which it strikes, V.
    AboveStrike {
        /// Counted from its first terminal to its second, else from the second to the first.
        forward: bool,
    },
    /// By how much the volts across a lamp that passes its holding current where it just holds ([`holding`]) are above those
    /// that it then holds, V.
    AboveHold {
        /// The same.
        forward: bool,
    },
}

impl Probe {
    /// The element whose values it depends on.
    pub(crate) fn element(self) -> Option<ElementIndex> {
        match self {
            Self::Volts(_) => None,
            Self::Part(element, _) => Some(element),
        }
    }

    /// The number at the volts of every node, the element as `values` has it.
    pub(crate) fn value(
        self,
        network: &Network,
        values: Option<&PartValues>,
        volts: &[f64],
        lamps: &[NeonState],
    ) -> f64 {
        let (element, number) = match self {
            Self::Volts(node) => return volts[node],
            Self::Part(element, number) => (element, number),
        };
        let (Some(index), Some(values)) = (network.place_of(element), values) else {
            return f64::NAN;
        };
        let drop = network.drop_of(index, volts);
        let amps = || network.slopes_of(index, values, volts, lamps).amps[0];
        let above = |forward: bool| along(forward, drop) - number.limit(values).unwrap_or(f64::NAN);
        match number {
            PartNumber::Amps => amps(),
            PartNumber::Watts => drop * amps(),
            PartNumber::AboveStrike { forward } | PartNumber::AboveHold { forward } => {
                above(forward)
            }
        }
    }

    /// Adds to `weights`, by unknown, by how much the number rises for each volt; false where the volts of no unknown move it.
    pub(crate) fn weigh(
        self,
        network: &Network,
        values: Option<&PartValues>,
        volts: &[f64],
        lamps: &[NeonState],
        weights: &mut [f64],
    ) -> bool {
        let (element, number) = match self {
            Self::Volts(node) => {
                let unknown = network.unknown_of(node);
                if let Some(unknown) = unknown {
                    weights[unknown] += 1.0;
                }
                return unknown.is_some();
            }
            Self::Part(element, number) => (element, number),
        };
        let (Some(index), Some(values)) = (network.place_of(element), values) else {
            return false;
        };
        let slopes = || network.slopes_of(index, values, volts, lamps);
        let last = network.terminals_of(index).len() - 1;
        let by_drop = |share: f64, terminal: usize| match terminal {
            0 => share,
            terminal if terminal == last => -share,
            _ => 0.0,
        };
        let by: [f64; 5] = match number {
            PartNumber::Amps => slopes().by[0],
            PartNumber::Watts => {
                let drop = network.drop_of(index, volts);
                let TerminalSlopes { amps, by } = slopes();
                std::array::from_fn(|terminal| drop * by[0][terminal] + by_drop(amps[0], terminal))
            }
            PartNumber::AboveStrike { forward } | PartNumber::AboveHold { forward } => {
                std::array::from_fn(|terminal| by_drop(along(forward, 1.0), terminal))
            }
        };
        for (unknown, by) in network.terminals_of(index).iter().zip(by) {
            if let Some(unknown) = unknown {
                weights[*unknown] += by;
            }
        }
        true
    }
}

fn along(forward: bool, volts: f64) -> f64 {
    if forward { volts } else { -volts }
}

impl PartNumber {
    /// Of a lamp the volts that it is counted from, V; `None` of anything else.
    pub(crate) fn limit(self, values: &PartValues) -> Option<f64> {
        match (self, values) {
            (Self::AboveStrike { .. }, PartValues::Neon(law)) => {
                Some(law.strike_volts - OUT_OF_REACH_VOLTS)
            }
            (Self::AboveHold { .. }, PartValues::Neon(law)) => {
                Some(law.maintain_volts - law.hold_amps * law.lit_ohms)
            }
            _ => None,
        }
    }
}

/// Added to the striking volts of a lamp that is not to strike, V: chosen, far above any rail, and so little that a
/// microvolt of striking volts is still told from it.
const OUT_OF_REACH_VOLTS: f64 = 1e6;
/// A lamp of which no holding current is known holds at this, A: chosen, next to none.
const LEAST_HOLDING_AMPS: f64 = 1e-9;

/// A lamp that does not strike, whatever its volts.
pub(crate) fn kept_dark(values: &mut PartValues) {
    if let PartValues::Neon(law) = values {
        law.strike_volts += OUT_OF_REACH_VOLTS;
    }
}

/// A lit lamp as a resistance through which just the holding current flows at the volts that the lamp then holds.
///
/// A lit lamp stays lit where its line and what the circuit gives meet above the holding current. That is where the circuit,
/// loaded with that current, has more than the lamp then holds, and so where more than these volts stand across the resistance.
/// It neither strikes nor goes out: its holding current is entered as negative.
pub(crate) fn holding(values: &mut PartValues) {
    if let PartValues::Neon(law) = values {
        let hold = law.hold_amps.max(LEAST_HOLDING_AMPS);
        let held = law.maintain_volts + hold * law.lit_ohms;
        law.lit_ohms = held / hold;
        law.dark_siemens = hold / held;
        law.maintain_volts = 0.0;
        law.hold_amps = -hold;
        law.strike_volts += OUT_OF_REACH_VOLTS;
    }
}
