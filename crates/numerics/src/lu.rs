//! Sparse LU factorisation for a matrix whose pattern stays and whose values change many times.
//!
//! Left-looking, column by column: J. R. Gilbert and T. Peierls, "Sparse partial pivoting in time proportional to
//! arithmetic operations", SIAM J. Sci. Stat. Comput. 9(5), 1988, pages 862-874 (from memory). Columns are taken in an
//! approximate minimum degree order of the pattern of A + A' (P. Amestoy, T. Davis and I. Duff, SIAM J. Matrix Anal.
//! Appl. 17(4), 1996, pages 886-905; from memory), found once by [`analyse`]. A first factorisation chooses the pivots;
//! later ones keep them and only recompute the values, as long as the growth of the numbers shows that they still fit.
//!
//! With P the choice of rows and Q the order of columns, P A Q = L U, L with a unit diagonal.

use crate::lanes::Lanes;
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

/// Where a triangular factor is nonzero, in compressed columns, without its diagonal; the values stand elsewhere in the
/// same order.
#[derive(Debug, Clone, Default)]
struct Triangle {
    starts: Vec<usize>,
    rows: Vec<usize>,
}

impl Triangle {
    fn with_capacity(size: usize) -> Self {
        let mut starts = Vec::with_capacity(size + 1);
        starts.push(0);
        Self {
            starts,
            rows: Vec::new(),
        }
    }

    fn clear(&mut self) {
        self.starts.truncate(1);
        self.rows.clear();
    }

    fn end_column(&mut self) {
        self.starts.push(self.rows.len());
    }

    fn column(&self, step: usize) -> std::ops::Range<usize> {
        self.starts[step]..self.starts[step + 1]
    }

    /// `work` -= `factor` times the column.
    #[inline(always)]
    fn subtract_column<L: Lanes>(&self, values: &[L], step: usize, factor: L, work: &mut [L]) {
        let factor = -factor;
        let entries = self.column(step);
        for (&row, value) in self.rows[entries.clone()].iter().zip(&values[entries]) {
            work[row] = value.mul_add(factor, work[row]);
        }
    }
}

/// The pivots that were chosen once and where the factors are nonzero with them.
#[derive(Debug, Clone)]
struct Shape {
    /// Column eliminated at each step.
    order: Vec<usize>,
    /// Step at which each row of the matrix is the pivot.
    row_steps: Vec<usize>,
    lower: Triangle,
    /// Each column in an order in which its entries can be eliminated.
    upper: Triangle,
}

/// The values of the factors, for one matrix or for several side by side.
#[derive(Debug, Clone, Default)]
struct Numbers<L> {
    lower: Vec<L>,
    upper: Vec<L>,
    /// Not a number where a pivot was no good.
    inverse_pivots: Vec<L>,
    /// All zero between calls.
    work: Vec<L>,
}

impl<L: Lanes> Numbers<L> {
    /// Eliminates with the pivots of `shape`; nothing is allocated. Returns the growth, infinite where a pivot is within
    /// rounding of zero or not finite.
    #[inline(always)]
    fn refactor(&mut self, shape: &Shape, pattern: &Pattern, values: &[L]) -> L {
        let mut growth = L::splat(1.0);
        for (step, &column) in shape.order.iter().enumerate() {
            growth = growth.larger(self.refactor_column(shape, step, pattern, values, column));
        }
        growth
    }

    /// Eliminates one column; `work` is indexed by steps and left zero.
    #[inline(always)]
    fn refactor_column(
        &mut self,
        shape: &Shape,
        step: usize,
        pattern: &Pattern,
        values: &[L],
        column: usize,
    ) -> L {
        let zero = L::splat(0.0);
        let mut before = zero;
        for entry in pattern.column(column) {
            self.work[shape.row_steps[pattern.rows[entry]]] = values[entry];
            before = before + values[entry].abs();
        }
        let mut during = zero;
        for entry in shape.upper.column(step) {
            let at = shape.upper.rows[entry];
            let value = std::mem::replace(&mut self.work[at], zero);
            self.upper[entry] = value;
            during = during + value.abs();
            shape
                .lower
                .subtract_column(&self.lower, at, value, &mut self.work);
        }
        let pivot = std::mem::replace(&mut self.work[step], zero);
        during = during + pivot.abs();
        let inverse = L::splat(1.0) / pivot;
        for entry in shape.lower.column(step) {
            let value = std::mem::replace(&mut self.work[shape.lower.rows[entry]], zero);
            during = during + value.abs();
            self.lower[entry] = value * inverse;
        }
        self.inverse_pivots[step] = usable_inverse(pivot, before, during);
        // Larger than any growth where there is no inverse: a comparison with what is not a number is false.
        let growth = during / before;
        self.inverse_pivots[step].abs().where_less(
            L::splat(f64::INFINITY),
            growth,
            L::splat(f64::INFINITY),
        )
    }

    /// Replaces `rhs` by the solution with the transposed matrix; nothing is allocated.
    ///
    /// With P A Q = L U the transposed is Q U' L' P: U' from its first step on, then L' from its last.
    #[inline(always)]
    fn solve_transposed(&mut self, shape: &Shape, rhs: &mut [L]) {
        for (step, &column) in shape.order.iter().enumerate() {
            let known = dot(&shape.upper, &self.upper, step, &self.work);
            self.work[step] = (rhs[column] - known) * self.inverse_pivots[step];
        }
        for step in (0..shape.order.len()).rev() {
            let known = dot(&shape.lower, &self.lower, step, &self.work);
            self.work[step] = self.work[step] - known;
        }
        for (value, &step) in rhs.iter_mut().zip(&shape.row_steps) {
            *value = self.work[step];
        }
        self.work.fill(L::splat(0.0));
    }

    /// Replaces `rhs` by the solution; nothing is allocated. Not a number where there was no pivot.
    #[inline(always)]
    fn solve(&mut self, shape: &Shape, rhs: &mut [L]) {
        for (value, &step) in rhs.iter().zip(&shape.row_steps) {
            self.work[step] = *value;
        }
        for step in 0..shape.order.len() {
            let value = self.work[step];
            shape
                .lower
                .subtract_column(&self.lower, step, value, &mut self.work);
        }
        for step in (0..shape.order.len()).rev() {
            let value = self.work[step] * self.inverse_pivots[step];
            self.work[step] = L::splat(0.0);
            shape
                .upper
                .subtract_column(&self.upper, step, value, &mut self.work);
            rhs[shape.order[step]] = value;
        }
    }
}

/// A column of a triangle times what stands in its rows.
#[inline(always)]
fn dot<L: Lanes>(triangle: &Triangle, values: &[L], step: usize, work: &[L]) -> L {
    let entries = triangle.column(step);
    let rows = triangle.rows[entries.clone()].iter();
    rows.zip(&values[entries])
        .fold(L::splat(0.0), |sum, (&row, &value)| {
            value.mul_add(work[row], sum)
        })
}

/// The inverse of a pivot, given the sums of magnitudes in its column before and during elimination; not a number when
/// the pivot is within rounding of zero or when any number in the column is not finite.
#[inline(always)]
fn usable_inverse<L: Lanes>(pivot: L, before: L, during: L) -> L {
    let (none, infinite) = (L::splat(f64::NAN), L::splat(f64::INFINITY));
    let inverse = L::splat(1.0) / pivot;
    let inverse = (L::splat(ROUNDING) * before).where_less(pivot.abs(), inverse, none);
    let inverse = during.where_less(infinite, inverse, none);
    inverse.abs().where_less(infinite, inverse, none)
}

/// The factors of several matrices of one pattern, side by side, all with the pivots that one [`Factors`] chose.
#[derive(Debug, Clone)]
pub struct SideBySide<L> {
    numbers: Numbers<L>,
}

impl<L: Lanes> SideBySide<L> {
    /// Buffers for the pivots of `chosen`.
    #[must_use]
    pub fn new(chosen: &Factors) -> Self {
        let zeros = |count| vec![L::splat(0.0); count];
        Self {
            numbers: Numbers {
                lower: zeros(chosen.shape.lower.rows.len()),
                upper: zeros(chosen.shape.upper.rows.len()),
                inverse_pivots: zeros(chosen.shape.order.len()),
                work: zeros(chosen.shape.order.len()),
            },
        }
    }

    /// Factors the matrices with the pivots of `chosen`. Nothing is allocated.
    ///
    /// Returns the growth of each as [`Factors::refactor`] does; infinite where these pivots do not serve.
    #[inline(always)]
    pub fn refactor(&mut self, chosen: &Factors, pattern: &Pattern, values: &[L]) -> L {
        self.numbers.refactor(&chosen.shape, pattern, values)
    }

    /// Replaces `rhs` by the solutions. Nothing is allocated. Not a number where the growth was infinite.
    #[inline(always)]
    pub fn solve(&mut self, chosen: &Factors, rhs: &mut [L]) {
        self.numbers.solve(&chosen.shape, rhs);
    }

    /// The product of the signs of the pivots, 1 or -1: with the same pivots a change of it is a change of the
    /// determinant's sign.
    #[inline(always)]
    #[must_use]
    pub fn sign(&self) -> L {
        let (one, zero) = (L::splat(1.0), L::splat(0.0));
        self.numbers
            .inverse_pivots
            .iter()
            .fold(one, |sign, inverse| inverse.where_less(zero, -sign, sign))
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
    shape: Shape,
    numbers: Numbers<f64>,
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
            shape: Shape {
                order: analysis.order.clone(),
                row_steps: vec![NONE; size],
                lower: Triangle::with_capacity(size),
                upper: Triangle::with_capacity(size),
            },
            numbers: Numbers {
                inverse_pivots: Vec::with_capacity(size),
                work: vec![0.0; size],
                ..Numbers::default()
            },
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
        self.numbers.lower.len() + self.numbers.upper.len() + self.numbers.inverse_pivots.len()
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
    #[inline(always)]
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
        let growth = self.numbers.refactor(&self.shape, pattern, values);
        self.is_solvable = growth < f64::INFINITY;
        if !self.is_solvable {
            let without = |inverse: &f64| inverse.is_nan();
            let step = self.numbers.inverse_pivots.iter().position(without);
            return Err(Singular {
                column: self.shape.order[step.unwrap_or(0)],
            });
        }
        Ok(growth)
    }

    /// Factors the matrix the cheapest way that holds: with the earlier pivots while they exist and their growth stays
    /// within [`GROWTH_LIMIT`], else with new ones.
    ///
    /// # Errors
    ///
    /// As [`Factors::factor`].
    #[inline(always)]
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
    #[inline(always)]
    pub fn solve(&mut self, rhs: &mut [f64]) {
        if !self.is_solvable {
            rhs.fill(f64::NAN);
            return;
        }
        self.numbers.solve(&self.shape, rhs);
    }

    /// Replaces `rhs` by the solution x of A' x = `rhs`, A' the transposed of the matrix factored last; otherwise as
    /// [`Factors::solve`].
    pub fn solve_transposed(&mut self, rhs: &mut [f64]) {
        if !self.is_solvable {
            rhs.fill(f64::NAN);
            return;
        }
        self.numbers.solve_transposed(&self.shape, rhs);
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
        self.shape.lower.clear();
        self.numbers.lower.clear();
        self.shape.upper.clear();
        self.numbers.upper.clear();
        self.numbers.inverse_pivots.clear();
        self.shape.row_steps.fill(NONE);
        self.search.reached_at.fill(NONE);
        let mut growth = 1.0_f64;
        for (step, &column) in analysis.order.iter().enumerate() {
            let Some(column_growth) = self.factor_column(step, pattern, values, column, threshold)
            else {
                self.numbers.work.fill(0.0);
                return Err(Singular { column });
            };
            growth = growth.max(column_growth);
        }
        // Rows of the matrix were the names while the pivots were not known; from here on it is steps.
        for row in &mut self.shape.lower.rows {
            *row = self.shape.row_steps[*row];
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
            self.search
                .visit(row, step, &self.shape.lower, &self.shape.row_steps);
            self.numbers.work[row] = values[entry];
            before += values[entry].abs();
        }
        let mut during = 0.0;
        for &row in self.search.reached.iter().rev() {
            let at = self.shape.row_steps[row];
            let value = self.numbers.work[row];
            during += value.abs();
            if at != NONE {
                self.numbers.work[row] = 0.0;
                self.shape.upper.rows.push(at);
                self.numbers.upper.push(value);
                self.shape.lower.subtract_column(
                    &self.numbers.lower,
                    at,
                    value,
                    &mut self.numbers.work,
                );
            }
        }
        self.shape.upper.end_column();
        let pivot_row = self.choose_pivot(column, threshold)?;
        let inverse = usable_inverse(self.numbers.work[pivot_row], before, during);
        if inverse.is_nan() {
            return None;
        }
        for &row in &self.search.reached {
            if self.shape.row_steps[row] == NONE {
                if row != pivot_row {
                    self.shape.lower.rows.push(row);
                    self.numbers.lower.push(self.numbers.work[row] * inverse);
                }
                self.numbers.work[row] = 0.0;
            }
        }
        self.shape.lower.end_column();
        self.shape.row_steps[pivot_row] = step;
        self.numbers.inverse_pivots.push(inverse);
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
                .filter(|&row| self.shape.row_steps[row] == NONE)
        };
        let mut largest = None;
        let mut magnitude = 0.0;
        for row in candidates() {
            if magnitude < self.numbers.work[row].abs() {
                magnitude = self.numbers.work[row].abs();
                largest = Some(row);
            }
        }
        let diagonal_is_free = self.shape.row_steps[diagonal] == NONE;
        if diagonal_is_free
            && 0.0 < magnitude
            && threshold * magnitude <= self.numbers.work[diagonal].abs()
        {
            return Some(diagonal);
        }
        largest
    }
}
