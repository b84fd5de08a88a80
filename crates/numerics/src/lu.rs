//! Sparse LU factorisation for a matrix whose pattern stays and whose values change many times.
//!
//! Left-looking, column by column: J. R. Gilbert and T. Peierls, "Sparse partial pivoting in time proportional to
//! arithmetic operations", SIAM J. Sci. Stat. Comput. 9(5), 1988, pages 862-874 (from memory). Columns are taken in an
//! approximate minimum degree order of the pattern of A + A' (P. Amestoy, T. Davis and I. Duff, SIAM J. Matrix Anal.
//! Appl. 17(4), 1996, pages 886-905; from memory), found once by [`analyse`]. A first factorisation chooses the pivots;
//! later ones keep them and only recompute the values, as long as the growth of the numbers shows that they still fit.
//!
//! With P the choice of rows and Q the order of columns, P A Q = L U, L with a unit diagonal.

use crate::sparse::Pattern;

/// The diagonal is the pivot when it is at least this fraction of the largest candidate in its column. Low, because the
/// order of elimination has little fill only for pivots on the diagonal, and because what a small pivot really spoils is
/// measured by the growth.
pub const DIAGONAL_THRESHOLD: f64 = 1e-3;

/// Largest growth that is accepted: elimination then loses at most about four of the sixteen digits.
pub const GROWTH_LIMIT: f64 = 1e4;

/// A pivot of at most this times the sum of magnitudes in its column of A is rounding and nothing else.
const ROUNDING: f64 = 16.0 * f64::EPSILON;

/// Marks a row that is not a pivot yet, and one not reached yet.
const NONE: usize = usize::MAX;

/// The order in which columns are eliminated. Made once for a pattern, shared by any number of threads.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Analysis {
    /// Column eliminated at each step.
    order: Vec<usize>,
}

/// Finds an order of elimination with little fill.
#[must_use]
pub fn analyse(pattern: &Pattern) -> Analysis {
    let ordered = amd::order(
        pattern.size,
        &pattern.column_starts,
        &pattern.rows,
        &amd::Control::default(),
    );
    // Only a pattern that breaks its invariant is refused; any order is right, a poor one is slow.
    let order = ordered.map_or_else(|_| (0..pattern.size).collect(), |(order, _, _)| order);
    Analysis { order }
}

/// The matrix has no inverse, as far as the arithmetic can tell, or holds a value that is not finite.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Singular {
    /// Column of the matrix (so the unknown) for which no pivot was left.
    pub column: usize,
}

/// Triangular factor in compressed columns, without its diagonal.
#[derive(Debug, Clone, Default)]
struct Triangle {
    starts: Vec<usize>,
    rows: Vec<usize>,
    values: Vec<f64>,
}

impl Triangle {
    fn with_capacity(size: usize) -> Self {
        let mut starts = Vec::with_capacity(size + 1);
        starts.push(0);
        Self {
            starts,
            rows: Vec::new(),
            values: Vec::new(),
        }
    }

    fn clear(&mut self) {
        self.starts.truncate(1);
        self.rows.clear();
        self.values.clear();
    }

    fn push(&mut self, row: usize, value: f64) {
        self.rows.push(row);
        self.values.push(value);
    }

    fn end_column(&mut self) {
        self.starts.push(self.rows.len());
    }

    fn column(&self, step: usize) -> std::ops::Range<usize> {
        self.starts[step]..self.starts[step + 1]
    }

    /// `work` -= `factor` times the column.
    fn subtract_column(&self, step: usize, factor: f64, work: &mut [f64]) {
        let entries = self.column(step);
        for (&row, value) in self.rows[entries.clone()].iter().zip(&self.values[entries]) {
            work[row] -= value * factor;
        }
    }
}

/// Depth-first search through the columns of L: which rows of a column become nonzero, and in which order to work.
#[derive(Debug, Clone)]
struct Search {
    /// Step at which a row was last reached.
    reached_at: Vec<usize>,
    /// Rows on the current path, each with the next entry of its column of L to look at.
    path: Vec<(usize, usize)>,
    /// Rows reached, each after all that depend on it: reversed, an order in which to eliminate.
    reached: Vec<usize>,
}

impl Search {
    fn visit(&mut self, row: usize, step: usize, lower: &Triangle, row_steps: &[usize]) {
        if self.reached_at[row] == step {
            return;
        }
        self.enter(row, step, lower, row_steps);
        while let Some(&(row, next)) = self.path.last() {
            let end = row_steps
                .get(row)
                .filter(|&&at| at != NONE)
                .map_or(next, |&at| lower.starts[at + 1]);
            if next == end {
                self.path.pop();
                self.reached.push(row);
                continue;
            }
            let top = self.path.len() - 1;
            self.path[top].1 += 1;
            let child = lower.rows[next];
            if self.reached_at[child] != step {
                self.enter(child, step, lower, row_steps);
            }
        }
    }

    fn enter(&mut self, row: usize, step: usize, lower: &Triangle, row_steps: &[usize]) {
        self.reached_at[row] = step;
        let at = row_steps[row];
        self.path
            .push((row, if at == NONE { 0 } else { lower.starts[at] }));
    }
}

/// The factors of one matrix, with all buffers.
#[derive(Debug, Clone)]
pub struct Factors {
    order: Vec<usize>,
    /// Step at which each row of the matrix is the pivot.
    row_steps: Vec<usize>,
    lower: Triangle,
    /// Each column in an order in which its entries can be eliminated.
    upper: Triangle,
    inverse_pivots: Vec<f64>,
    /// All zero between calls.
    work: Vec<f64>,
    search: Search,
    has_pivots: bool,
    is_solvable: bool,
    /// Full factorisations begun, choosing pivots.
    pub factorisations: usize,
    /// Factorisations begun with the pivots of an earlier one.
    pub refactorisations: usize,
    /// How often [`Factors::update`] found that the pivots no longer fit.
    pub repivots: usize,
}

impl Factors {
    /// Buffers for matrices of one analysed pattern.
    #[must_use]
    pub fn new(analysis: &Analysis) -> Self {
        let size = analysis.order.len();
        Self {
            order: analysis.order.clone(),
            row_steps: vec![NONE; size],
            lower: Triangle::with_capacity(size),
            upper: Triangle::with_capacity(size),
            inverse_pivots: Vec::with_capacity(size),
            work: vec![0.0; size],
            search: Search {
                reached_at: vec![NONE; size],
                path: Vec::with_capacity(size),
                reached: Vec::with_capacity(size),
            },
            has_pivots: false,
            is_solvable: false,
            factorisations: 0,
            refactorisations: 0,
            repivots: 0,
        }
    }

    /// Factorisations of either kind so far.
    #[must_use]
    pub fn work(&self) -> usize {
        self.factorisations + self.refactorisations
    }

    /// Entries of L and U together, the diagonal counted once.
    #[must_use]
    pub fn entries(&self) -> usize {
        self.lower.rows.len() + self.upper.rows.len() + self.inverse_pivots.len()
    }

    /// Factors the matrix and chooses the pivots: the diagonal where [`DIAGONAL_THRESHOLD`] allows, else the largest in
    /// the column. Should the growth then pass [`GROWTH_LIMIT`], once more with the largest everywhere.
    ///
    /// `pattern` is the one that was analysed, `values` are in its order. May allocate.
    ///
    /// # Errors
    ///
    /// [`Singular`] when no pivot is left for a column: every candidate is within rounding of zero, or not finite.
    pub fn factor(
        &mut self,
        analysis: &Analysis,
        pattern: &Pattern,
        values: &[f64],
    ) -> Result<(), Singular> {
        let growth = self.factor_with(analysis, pattern, values, DIAGONAL_THRESHOLD)?;
        if GROWTH_LIMIT < growth {
            self.factor_with(analysis, pattern, values, 1.0)?;
        }
        Ok(())
    }

    /// Factors the matrix with the rows and the pattern of the last [`Factors::factor`]. Nothing is allocated.
    ///
    /// Returns the growth: the largest ratio, over the columns, of the sum of magnitudes during elimination to the same
    /// sum in A. Rounding in the factors is about that many times the rounding of a number. Without an earlier
    /// factorisation the pivots are chosen first.
    ///
    /// # Errors
    ///
    /// [`Singular`] when a pivot is within rounding of zero or not finite; other pivots may still do.
    pub fn refactor(
        &mut self,
        analysis: &Analysis,
        pattern: &Pattern,
        values: &[f64],
    ) -> Result<f64, Singular> {
        if !self.has_pivots {
            self.factor(analysis, pattern, values)?;
        }
        self.refactorisations += 1;
        self.is_solvable = false;
        let mut growth = 1.0_f64;
        for (step, &column) in analysis.order.iter().enumerate() {
            let column_growth = self
                .refactor_column(step, pattern, values, column)
                .ok_or(Singular { column })?;
            growth = growth.max(column_growth);
        }
        self.is_solvable = true;
        Ok(growth)
    }

    /// Factors the matrix the cheapest way that holds: with the earlier pivots while they exist and their growth stays
    /// within [`GROWTH_LIMIT`], else with new ones.
    ///
    /// # Errors
    ///
    /// As [`Factors::factor`].
    pub fn update(
        &mut self,
        analysis: &Analysis,
        pattern: &Pattern,
        values: &[f64],
    ) -> Result<(), Singular> {
        if !self.has_pivots {
            return self.factor(analysis, pattern, values);
        }
        match self.refactor(analysis, pattern, values) {
            Ok(growth) if growth <= GROWTH_LIMIT => Ok(()),
            _ => {
                self.repivots += 1;
                self.factor(analysis, pattern, values)
            }
        }
    }

    /// Replaces `rhs` by the solution x of A x = `rhs`. Nothing is allocated. Not a number everywhere when the last
    /// factorisation failed or there was none.
    pub fn solve(&mut self, rhs: &mut [f64]) {
        if !self.is_solvable {
            rhs.fill(f64::NAN);
            return;
        }
        for (value, &step) in rhs.iter().zip(&self.row_steps) {
            self.work[step] = *value;
        }
        for step in 0..self.order.len() {
            let value = self.work[step];
            self.lower.subtract_column(step, value, &mut self.work);
        }
        for step in (0..self.order.len()).rev() {
            let value = self.work[step] * self.inverse_pivots[step];
            self.work[step] = 0.0;
            self.upper.subtract_column(step, value, &mut self.work);
            rhs[self.order[step]] = value;
        }
    }

    /// One pass with a given threshold; returns the growth.
    fn factor_with(
        &mut self,
        analysis: &Analysis,
        pattern: &Pattern,
        values: &[f64],
        threshold: f64,
    ) -> Result<f64, Singular> {
        self.factorisations += 1;
        self.has_pivots = false;
        self.is_solvable = false;
        self.lower.clear();
        self.upper.clear();
        self.inverse_pivots.clear();
        self.row_steps.fill(NONE);
        self.search.reached_at.fill(NONE);
        let mut growth = 1.0_f64;
        for (step, &column) in analysis.order.iter().enumerate() {
            let Some(column_growth) = self.factor_column(step, pattern, values, column, threshold)
            else {
                self.work.fill(0.0);
                return Err(Singular { column });
            };
            growth = growth.max(column_growth);
        }
        // Rows of the matrix were the names while the pivots were not known; from here on it is steps.
        for row in &mut self.lower.rows {
            *row = self.row_steps[*row];
        }
        self.has_pivots = true;
        self.is_solvable = true;
        Ok(growth)
    }

    /// Eliminates one column and chooses its pivot; `work` is indexed by rows of the matrix. None when there is no pivot.
    fn factor_column(
        &mut self,
        step: usize,
        pattern: &Pattern,
        values: &[f64],
        column: usize,
        threshold: f64,
    ) -> Option<f64> {
        self.search.reached.clear();
        let mut before = 0.0;
        for entry in pattern.column(column) {
            let row = pattern.rows[entry];
            self.search.visit(row, step, &self.lower, &self.row_steps);
            self.work[row] = values[entry];
            before += values[entry].abs();
        }
        let mut during = 0.0;
        for &row in self.search.reached.iter().rev() {
            let at = self.row_steps[row];
            let value = self.work[row];
            during += value.abs();
            if at != NONE {
                self.work[row] = 0.0;
                self.upper.push(at, value);
                self.lower.subtract_column(at, value, &mut self.work);
            }
        }
        self.upper.end_column();
        let pivot_row = self.choose_pivot(column, threshold)?;
        let inverse = inverse_pivot(self.work[pivot_row], before, during)?;
        for &row in &self.search.reached {
            if self.row_steps[row] == NONE {
                if row != pivot_row {
                    self.lower.push(row, self.work[row] * inverse);
                }
                self.work[row] = 0.0;
            }
        }
        self.lower.end_column();
        self.row_steps[pivot_row] = step;
        self.inverse_pivots.push(inverse);
        Some(during / before)
    }

    /// The row to eliminate with, among those reached that are no pivots yet: the diagonal if large enough, else the
    /// largest, the first of equals. None when there is none.
    fn choose_pivot(&self, diagonal: usize, threshold: f64) -> Option<usize> {
        let candidates = || {
            self.search
                .reached
                .iter()
                .copied()
                .filter(|&row| self.row_steps[row] == NONE)
        };
        let mut largest = None;
        let mut magnitude = 0.0;
        for row in candidates() {
            if magnitude < self.work[row].abs() {
                magnitude = self.work[row].abs();
                largest = Some(row);
            }
        }
        let diagonal_is_free = self.row_steps[diagonal] == NONE;
        if diagonal_is_free && 0.0 < magnitude && threshold * magnitude <= self.work[diagonal].abs()
        {
            return Some(diagonal);
        }
        largest
    }

    /// Eliminates one column with the known pivot; `work` is indexed by steps and left zero. None when the pivot is no good.
    fn refactor_column(
        &mut self,
        step: usize,
        pattern: &Pattern,
        values: &[f64],
        column: usize,
    ) -> Option<f64> {
        let mut before = 0.0;
        for entry in pattern.column(column) {
            self.work[self.row_steps[pattern.rows[entry]]] = values[entry];
            before += values[entry].abs();
        }
        let mut during = 0.0;
        for entry in self.upper.column(step) {
            let at = self.upper.rows[entry];
            let value = self.work[at];
            self.work[at] = 0.0;
            self.upper.values[entry] = value;
            during += value.abs();
            self.lower.subtract_column(at, value, &mut self.work);
        }
        let pivot = self.work[step];
        self.work[step] = 0.0;
        during += pivot.abs();
        let inverse = 1.0 / pivot;
        for entry in self.lower.column(step) {
            let row = self.lower.rows[entry];
            let value = self.work[row];
            self.work[row] = 0.0;
            during += value.abs();
            self.lower.values[entry] = value * inverse;
        }
        self.inverse_pivots[step] = inverse_pivot(pivot, before, during)?;
        Some(during / before)
    }
}

/// The inverse of a pivot, given the sums of magnitudes in its column before and during elimination; None when the pivot
/// is within rounding of zero or when any number in the column is not finite.
fn inverse_pivot(pivot: f64, before: f64, during: f64) -> Option<f64> {
    let inverse = 1.0 / pivot;
    (ROUNDING * before < pivot.abs() && during.is_finite() && inverse.is_finite())
        .then_some(inverse)
}
