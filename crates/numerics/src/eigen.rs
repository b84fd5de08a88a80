//! Eigenvalues of small dense real matrices, for the question whether an equilibrium lasts.
//!
//! Balancing, reduction to Hessenberg form, then implicitly shifted double QR steps: G. Golub and C. Van Loan, "Matrix
//! Computations", chapter "Unsymmetric eigenvalue problems", algorithms "Householder reduction to Hessenberg form",
//! "Francis QR step" and "QR algorithm" (from memory). The step is bounded, and every tenth that does not settle takes
//! another shift: without it the plain ring of an even number of elements never settles.

use crate::dense;
use std::ops::Range;

/// QR steps allowed for each eigenvalue or pair; three are usual.
const STEPS: usize = 60;

/// Beside a norm of about 1 nothing; below it, numbers have no full precision that could settle.
const SMALLEST: f64 = f64::MIN_POSITIVE / f64::EPSILON;

/// Sweeps of balancing allowed; three are usual.
const SWEEPS: usize = 30;

/// The eigenvalue with the largest real part, as (real, imaginary not negative), of a row-major matrix.
///
/// Its error is about the rounding of a number times the norm of the matrix after balancing. None for size 0, for values
/// that are not finite, and when the work allowed does not suffice.
#[must_use]
pub fn rightmost(size: usize, matrix: &[f64]) -> Option<(f64, f64)> {
    let rightmost = eigenvalues(size, matrix)?
        .into_iter()
        .max_by(|left, right| left.0.total_cmp(&right.0))?;
    Some((rightmost.0, rightmost.1.abs()))
}

/// The eigenvalue with the largest real part of -C^-1 G, so the fastest growth (or slowest decay) of C x' = -G x.
///
/// Both matrices are row-major; C (`capacitance`) is symmetric positive definite, and only its lower triangle is read.
/// With C = L L' the matrix -L^-1 G L'^-1 is taken, which has the same eigenvalues and suits badly scaled C. None as in
/// [`rightmost`], and when C is not positive definite within rounding.
#[must_use]
pub fn rightmost_of_pencil(
    size: usize,
    conductance: &[f64],
    capacitance: &[f64],
) -> Option<(f64, f64)> {
    let mut factor = capacitance.to_vec();
    dense::cholesky(size, &mut factor)?;
    let mut half = conductance.to_vec();
    for row in half.chunks_mut(size.max(1)) {
        dense::solve_lower(size, &factor, row);
    }
    // Transposed, as its transpose has the same eigenvalues.
    let mut whole: Vec<f64> = (0..size * size)
        .map(|at| -half[at % size * size + at / size])
        .collect();
    for row in whole.chunks_mut(size.max(1)) {
        dense::solve_lower(size, &factor, row);
    }
    rightmost(size, &whole)
}

/// All eigenvalues of a row-major matrix as (real, imaginary), in no order; conjugates stand next to one another.
///
/// None for values that are not finite, and when the work allowed does not suffice.
#[must_use]
pub fn eigenvalues(size: usize, matrix: &[f64]) -> Option<Vec<(f64, f64)>> {
    let largest = matrix
        .iter()
        .fold(0.0_f64, |largest, value| largest.max(value.abs()));
    if matrix.iter().any(|value| !value.is_finite()) {
        return None;
    }
    if largest == 0.0 {
        return Some(vec![(0.0, 0.0); size]);
    }
    // A power of two, so exact; squares can then neither overflow nor vanish.
    let scale = largest.log2().floor().exp2();
    let mut work = Square {
        size,
        values: matrix.iter().map(|value| value / scale).collect(),
    };
    work.balance();
    work.reduce_to_hessenberg();
    let scaled = work.hessenberg_eigenvalues()?;
    Some(
        scaled
            .into_iter()
            .map(|(real, imaginary)| (scale * real, scale * imaginary))
            .collect(),
    )
}

/// Row-major square matrix.
struct Square {
    size: usize,
    values: Vec<f64>,
}

impl std::ops::Index<(usize, usize)> for Square {
    type Output = f64;

    fn index(&self, (row, column): (usize, usize)) -> &f64 {
        &self.values[row * self.size + column]
    }
}

impl std::ops::IndexMut<(usize, usize)> for Square {
    fn index_mut(&mut self, (row, column): (usize, usize)) -> &mut f64 {
        &mut self.values[row * self.size + column]
    }
}

impl Square {
    /// Scales rows and columns by powers of two, keeping the eigenvalues, until each row is about as large as its column.
    ///
    /// B. Parlett and C. Reinsch, Numerische Mathematik 13, 1969, pages 293-304 (from memory).
    fn balance(&mut self) {
        for _ in 0..SWEEPS {
            let mut is_balanced = true;
            for index in 0..self.size {
                let others = || (0..self.size).filter(move |&other| other != index);
                let row: f64 = others().map(|other| self[(index, other)].abs()).sum();
                let column: f64 = others().map(|other| self[(other, index)].abs()).sum();
                if row == 0.0 || column == 0.0 {
                    continue;
                }
                let factor = (0.5 * (row.log2() - column.log2())).round().exp2();
                if column * factor + row / factor < 0.95 * (column + row) {
                    is_balanced = false;
                    for other in 0..self.size {
                        self[(other, index)] *= factor;
                        self[(index, other)] /= factor;
                    }
                }
            }
            if is_balanced {
                break;
            }
        }
    }

    /// Makes everything below the first subdiagonal zero by reflections, keeping the eigenvalues.
    fn reduce_to_hessenberg(&mut self) {
        for column in 0..self.size.saturating_sub(2) {
            let mut vector: Vec<f64> = (column + 1..self.size)
                .map(|row| self[(row, column)])
                .collect();
            let weight = reflector(&mut vector);
            self.reflect_rows(column + 1, &vector, weight, column..self.size);
            self.reflect_columns(column + 1, &vector, weight, 0..self.size);
            for row in column + 2..self.size {
                self[(row, column)] = 0.0;
            }
        }
    }

    /// Rows from `first` on, within the given columns, times the reflection.
    fn reflect_rows(&mut self, first: usize, vector: &[f64], weight: f64, columns: Range<usize>) {
        for column in columns {
            let product: f64 = vector
                .iter()
                .enumerate()
                .map(|(at, v)| v * self[(first + at, column)])
                .sum();
            for (at, v) in vector.iter().enumerate() {
                self[(first + at, column)] -= weight * product * v;
            }
        }
    }

    /// Columns from `first` on, within the given rows, times the reflection.
    fn reflect_columns(&mut self, first: usize, vector: &[f64], weight: f64, rows: Range<usize>) {
        for row in rows {
            let product: f64 = vector
                .iter()
                .enumerate()
                .map(|(at, v)| v * self[(row, first + at)])
                .sum();
            for (at, v) in vector.iter().enumerate() {
                self[(row, first + at)] -= weight * product * v;
            }
        }
    }

    /// Splits off eigenvalues at the lower end until none is left.
    fn hessenberg_eigenvalues(mut self) -> Option<Vec<(f64, f64)>> {
        let norm = self.values.iter().map(|value| value.abs()).sum();
        let mut found = Vec::with_capacity(self.size);
        let mut end = self.size;
        let mut steps = 0;
        while 0 < end {
            let start = self.block_start(end, norm);
            match end - start {
                1 => found.push((self[(start, start)], 0.0)),
                2 => found.extend(self.pair(start)),
                _ if steps == STEPS => return None,
                _ => {
                    steps += 1;
                    self.francis_step(start, end, steps % 10 == 0);
                    continue;
                }
            }
            end = start;
            steps = 0;
        }
        Some(found)
    }

    /// First row of the block that ends before `end`: where the subdiagonal entry is nothing beside its neighbours.
    fn block_start(&mut self, end: usize, norm: f64) -> usize {
        for row in (1..end).rev() {
            let neighbours = self[(row - 1, row - 1)].abs() + self[(row, row)].abs();
            let measure = if neighbours == 0.0 { norm } else { neighbours };
            if self[(row, row - 1)].abs() <= (f64::EPSILON * measure).max(SMALLEST) {
                self[(row, row - 1)] = 0.0;
                return row;
            }
        }
        0
    }

    /// Eigenvalues of the two-by-two block at `start`.
    fn pair(&self, start: usize) -> [(f64, f64); 2] {
        let end = start + 1;
        let (first, last) = (self[(start, start)], self[(end, end)]);
        let product = self[(start, end)] * self[(end, start)];
        let half = 0.5 * (first - last);
        let discriminant = half * half + product;
        if discriminant < 0.0 {
            let imaginary = (-discriminant).sqrt();
            return [(last + half, imaginary), (last + half, -imaginary)];
        }
        // The root of larger magnitude first, so that nothing cancels.
        let larger = half + discriminant.sqrt().copysign(half);
        let smaller = if larger == 0.0 {
            0.0
        } else {
            -product / larger
        };
        [(last + larger, 0.0), (last + smaller, 0.0)]
    }

    /// One double QR step on the block of rows and columns `start..end`, at least three, with the two eigenvalues of its
    /// lower corner as shifts. `is_stuck` takes the exceptional shifts of J. H. Wilkinson instead (from memory).
    fn francis_step(&mut self, start: usize, end: usize, is_stuck: bool) {
        let (m, n) = (end - 2, end - 1);
        let (sum, product) = if is_stuck {
            let size = self[(n, m)].abs() + self[(m, m - 1)].abs();
            (1.5 * size, size * size)
        } else {
            let sum = self[(m, m)] + self[(n, n)];
            (
                sum,
                self[(m, m)] * self[(n, n)] - self[(m, n)] * self[(n, m)],
            )
        };
        let (first, below) = (self[(start, start)], self[(start + 1, start)]);
        let mut vector = [
            first * (first - sum) + product + self[(start, start + 1)] * below,
            below * (first + self[(start + 1, start + 1)] - sum),
            below * self[(start + 2, start + 1)],
        ];
        for row in start..n {
            let length = 3.min(end - row);
            let vector = &mut vector[..length];
            if start < row {
                for (at, v) in vector.iter_mut().enumerate() {
                    *v = self[(row + at, row - 1)];
                }
            }
            let weight = reflector(vector);
            let left = if start < row { row - 1 } else { row };
            self.reflect_rows(row, vector, weight, left..end);
            self.reflect_columns(row, vector, weight, start..end.min(row + 4));
            for below in row + 1..row + length {
                if start < row {
                    self[(below, row - 1)] = 0.0;
                }
            }
        }
    }
}

/// Turns x into the v for which (1 - w v v') x has only its first component; returns w, zero when x is zero already.
fn reflector(vector: &mut [f64]) -> f64 {
    let largest = vector
        .iter()
        .fold(0.0_f64, |largest, value| largest.max(value.abs()));
    if largest == 0.0 {
        return 0.0;
    }
    for value in vector.iter_mut() {
        *value /= largest;
    }
    let length = dense::dot(vector, vector).sqrt();
    vector[0] += length.copysign(vector[0]);
    2.0 / dense::dot(vector, vector)
}
