//! Whether a circuit rests at a solution: the poles of the network linearised there.

use crate::equations::Network;
use crate::solve::{OperatingPoint, Solver};
use numerics::eigen;

/// Stability of one solution.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Stability {
    /// Every pole decays; the slowest, 1/s (negative).
    Stable(f64),
    /// At least one grows, 1/s: a real solution of the equations that no circuit rests in.
    Unstable(f64),
    /// A node without any capacitance, or an eigenvalue that did not settle: no poles.
    NotKnown,
}

impl Stability {
    /// Whether the circuit can rest there.
    #[must_use]
    pub fn rests(self) -> bool {
        matches!(self, Stability::Stable(_))
    }
}

/// Stability from the eigenvalues of -C^-1 J at a solution: J the Jacobian of the currents that leave the nodes, C the
/// capacitances (strays included). Cost: the cube of the number of unknowns.
pub fn stability(network: &Network, solver: &mut Solver, point: &OperatingPoint) -> Stability {
    let size = network.size();
    if size == 0 {
        return Stability::Stable(f64::NEG_INFINITY);
    }
    let conductance = dense(network, solver.conductance(network, point));
    let mut values = vec![0.0; network.pattern.rows.len()];
    network.capacitance(&point.volts, &mut values);
    let capacitance = dense(network, &values);
    match eigen::rightmost_of_pencil(size, &conductance, &capacitance) {
        Some((real, _)) if real < 0.0 => Stability::Stable(real),
        Some((real, _)) => Stability::Unstable(real),
        None => Stability::NotKnown,
    }
}

/// Row-major dense matrix from values in the order of the pattern.
fn dense(network: &Network, values: &[f64]) -> Vec<f64> {
    let size = network.size();
    let mut matrix = vec![0.0; size * size];
    for column in 0..size {
        for slot in network.pattern.column_starts[column]..network.pattern.column_starts[column + 1]
        {
            matrix[network.pattern.rows[slot] * size + column] = values[slot];
        }
    }
    matrix
}
