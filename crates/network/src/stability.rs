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
    /// A node without any capacitance, an eigenvalue that did not settle, or more than [`MOST_POLES`]: no poles.
    NotKnown,
}

impl Stability {
    /// Whether the circuit can rest there.
    #[must_use]
    pub fn rests(self) -> bool {
        matches!(self, Stability::Stable(_))
    }
}

/// Unknowns of the largest network whose poles are looked for: chosen, ten times what a latch with its neighbours has;
/// the work grows with the cube.
pub const MOST_POLES: usize = 400;

/// Stability from the eigenvalues of -C^-1 J at a solution: J the Jacobian of the currents that leave the nodes, C the
/// capacitances (strays included). Cost: the cube of the number of unknowns.
pub fn stability(network: &Network, solver: &mut Solver, point: &OperatingPoint) -> Stability {
    let size = network.size();
    if size == 0 {
        return Stability::Stable(f64::NEG_INFINITY);
    }
    if MOST_POLES < size {
        return Stability::NotKnown;
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

/// Work of [`stability`] in evaluated elements: chosen, some twenty-five multiplications for each of size cubed (Golub and Van Loan,
/// from memory), a hundred for an element.
pub(crate) fn poles_work(size: usize) -> u64 {
    if MOST_POLES < size {
        return 0;
    }
    (size * size * size / 4) as u64
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
