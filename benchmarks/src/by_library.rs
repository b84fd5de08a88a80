//! The same equations as a capable person would write them down and hand to a general-purpose library: every node's
//! currents from the laws of `devices`, the derivatives in a dense matrix.

use devices::triode::TriodeCurrents;
use levenberg_marquardt::{LeastSquaresProblem, LevenbergMarquardt};
use nalgebra::storage::Owned;
use nalgebra::{DMatrix, DVector, Dyn};
use network::solve::Settings;
use network::wiring::{ElementKind, NodeIndex, Wiring};

/// A wiring of resistors, diodes, triodes and sources against ground.
#[derive(Debug, Clone)]
pub struct System<'a> {
    wiring: &'a Wiring,
    leak_siemens: f64,
    /// Unknown of each node; `None` where a source holds it, or ground.
    unknowns: Vec<Option<usize>>,
    held_volts: Vec<f64>,
    size: usize,
}

/// Currents (A) out of every unknown node, and their derivatives (S).
#[derive(Debug, Clone)]
struct Balance {
    amps: DVector<f64>,
    siemens: DMatrix<f64>,
}

impl<'a> System<'a> {
    /// Numbers the nodes.
    #[must_use]
    pub fn new(wiring: &'a Wiring, leak_siemens: f64) -> Self {
        let mut held = vec![None; wiring.nodes.len()];
        held[0] = Some(0.0);
        for element in &wiring.elements {
            if let ElementKind::Tie { plus, volts, .. } = element.kind {
                held[plus] = Some(volts);
            }
        }
        let mut size = 0;
        let unknowns = held
            .iter()
            .map(|volts| {
                let free = volts.is_none();
                size += usize::from(free);
                free.then(|| size - 1)
            })
            .collect();
        Self {
            wiring,
            leak_siemens,
            unknowns,
            held_volts: held.iter().map(|volts| volts.unwrap_or(0.0)).collect(),
            size,
        }
    }

    /// The unknowns among the volts of all nodes.
    #[must_use]
    pub fn unknowns_of(&self, node_volts: &[f64]) -> DVector<f64> {
        let free = self.unknowns.iter().zip(node_volts);
        DVector::from_iterator(
            self.size,
            free.filter_map(|(unknown, volts)| unknown.map(|_| *volts)),
        )
    }

    fn volts(&self, x: &DVector<f64>, node: NodeIndex) -> f64 {
        self.unknowns[node].map_or(self.held_volts[node], |unknown| x[unknown])
    }

    fn balance(&self, x: &DVector<f64>) -> Balance {
        let mut balance = Balance {
            amps: x * self.leak_siemens,
            siemens: DMatrix::identity(self.size, self.size) * self.leak_siemens,
        };
        for element in &self.wiring.elements {
            match &element.kind {
                ElementKind::Resistor { ends, siemens } => {
                    let amps = siemens * (self.volts(x, ends[0]) - self.volts(x, ends[1]));
                    self.add_two(&mut balance, *ends, amps, *siemens);
                }
                ElementKind::Diode {
                    anode,
                    cathode,
                    law,
                } => {
                    let (amps, siemens) = law.at(self.volts(x, *anode) - self.volts(x, *cathode));
                    self.add_two(&mut balance, [*anode, *cathode], amps, siemens);
                }
                ElementKind::Triode {
                    plate,
                    grid,
                    cathode,
                    law,
                    ..
                } => {
                    let cathode_volts = self.volts(x, *cathode);
                    let currents = law.at(
                        self.volts(x, *plate) - cathode_volts,
                        self.volts(x, *grid) - cathode_volts,
                    );
                    self.add_triode(&mut balance, [*plate, *grid, *cathode], &currents);
                }
                _ => {}
            }
        }
        balance
    }

    fn add_two(&self, balance: &mut Balance, ends: [NodeIndex; 2], amps: f64, siemens: f64) {
        self.add(balance, &ends, &[amps, -amps], |row, column| {
            if row == column { siemens } else { -siemens }
        });
    }

    /// The cathode takes what the others give, and only differences of volts matter.
    fn add_triode(&self, balance: &mut Balance, ends: [NodeIndex; 3], currents: &TriodeCurrents) {
        let by = [
            [currents.plate_by_plate, currents.plate_by_grid],
            [currents.grid_by_plate, currents.grid_by_grid],
        ];
        let column_sum = |row: usize| by[row][0] + by[row][1];
        let amps = [
            currents.plate,
            currents.grid,
            -currents.plate - currents.grid,
        ];
        self.add(balance, &ends, &amps, |row, column| match (row, column) {
            (2, 2) => column_sum(0) + column_sum(1),
            (2, column) => -by[0][column] - by[1][column],
            (row, 2) => -column_sum(row),
            (row, column) => by[row][column],
        });
    }

    fn add(
        &self,
        balance: &mut Balance,
        ends: &[NodeIndex],
        amps: &[f64],
        by: impl Fn(usize, usize) -> f64,
    ) {
        for (row, &row_node) in ends.iter().enumerate() {
            let Some(row_unknown) = self.unknowns[row_node] else {
                continue;
            };
            balance.amps[row_unknown] += amps[row];
            for (column, &column_node) in ends.iter().enumerate() {
                if let Some(column_unknown) = self.unknowns[column_node] {
                    balance.siemens[(row_unknown, column_unknown)] += by(row, column);
                }
            }
        }
    }

    /// Newton's method with the library's dense LU factorisation, steps bounded as in our own. `None` when it does not
    /// settle in as many rounds as ours is given.
    #[must_use]
    pub fn newton(&self, start: &DVector<f64>, settings: &Settings) -> Option<DVector<f64>> {
        let mut x = start.clone();
        let mut still = false;
        for _ in 0..settings.rounds {
            let balance = self.balance(&x);
            if still && balance.amps.amax() < settings.balance_amps + SETTLED_AMPS {
                return Some(x);
            }
            let step = balance.siemens.lu().solve(&balance.amps)?;
            let bound = settings.largest_step_volts;
            let step = step.map(|volts| volts.clamp(-bound, bound));
            still = step.amax() < settings.still_volts;
            x -= step;
        }
        None
    }

    /// The library's own method for nonlinear systems, as least squares. `None` when it does not reach the balance.
    #[must_use]
    pub fn least_squares(&self, start: &DVector<f64>) -> Option<DVector<f64>> {
        let problem = Squares {
            system: self,
            balance: self.balance(start),
            x: start.clone(),
        };
        let method = LevenbergMarquardt::new()
            .with_ftol(0.0)
            .with_xtol(1e-12)
            .with_gtol(0.0);
        let (solved, _) = method.minimize(problem);
        (solved.balance.amps.amax() < SETTLED_AMPS).then_some(solved.x)
    }
}

/// Currents that count as balanced, A: a millionth of what flows in the circuits timed here.
const SETTLED_AMPS: f64 = 1e-10;

/// The library's way to be asked.
struct Squares<'a, 'w> {
    system: &'a System<'w>,
    x: DVector<f64>,
    balance: Balance,
}

impl LeastSquaresProblem<f64, Dyn, Dyn> for Squares<'_, '_> {
    type ResidualStorage = Owned<f64, Dyn>;
    type JacobianStorage = Owned<f64, Dyn, Dyn>;
    type ParameterStorage = Owned<f64, Dyn>;

    fn set_params(&mut self, x: &DVector<f64>) {
        self.x.copy_from(x);
        self.balance = self.system.balance(x);
    }

    fn params(&self) -> DVector<f64> {
        self.x.clone()
    }

    fn residuals(&self) -> Option<DVector<f64>> {
        Some(self.balance.amps.clone())
    }

    fn jacobian(&self) -> Option<DMatrix<f64>> {
        Some(self.balance.siemens.clone())
    }
}
