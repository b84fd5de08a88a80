//! The sparsity pattern of a square matrix, in compressed columns; values live in a separate slice of the same order.

/// Where a square matrix may be nonzero. Made once; any number of value slices share it.
///
/// Invariant: rows ascend within a column, none repeats, and the diagonal is always present.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pattern {
    /// Rows, and columns.
    pub size: usize,
    /// Where each column begins in `rows`, and the end: `size + 1` numbers.
    pub column_starts: Vec<usize>,
    /// Row of each entry; the length is the number of entries, and of every value slice.
    pub rows: Vec<usize>,
}

impl Pattern {
    /// The pattern of `entries`, each (row, column), in any order; repeated ones become one entry. The diagonal is added.
    ///
    /// # Panics
    ///
    /// When an entry lies outside the matrix.
    #[must_use]
    pub fn from_entries(size: usize, entries: &[(usize, usize)]) -> Self {
        assert!(
            entries
                .iter()
                .all(|&(row, column)| row < size && column < size),
            "an entry lies outside a matrix of size {size}"
        );
        let mut by_column: Vec<(usize, usize)> =
            entries.iter().map(|&(row, column)| (column, row)).collect();
        by_column.extend((0..size).map(|index| (index, index)));
        by_column.sort_unstable();
        by_column.dedup();
        let mut column_starts = vec![0; size + 1];
        for &(column, _) in &by_column {
            column_starts[column + 1] += 1;
        }
        for column in 0..size {
            column_starts[column + 1] += column_starts[column];
        }
        Self {
            size,
            column_starts,
            rows: by_column.into_iter().map(|(_, row)| row).collect(),
        }
    }

    /// Which entries belong to a column: a range of indices into `rows` and into a value slice.
    #[must_use]
    pub fn column(&self, column: usize) -> std::ops::Range<usize> {
        self.column_starts[column]..self.column_starts[column + 1]
    }

    /// Index of the entry at (row, column) in a value slice; None where the matrix is always zero.
    #[must_use]
    pub fn position(&self, row: usize, column: usize) -> Option<usize> {
        if self.size <= column {
            return None;
        }
        let entries = self.column(column);
        let start = entries.start;
        self.rows[entries]
            .binary_search(&row)
            .ok()
            .map(|offset| start + offset)
    }

    /// `out` = A `x`, with the values of A in the order of the pattern; `x` and `out` have length `size`.
    pub fn multiply(&self, values: &[f64], x: &[f64], out: &mut [f64]) {
        out.fill(0.0);
        for (column, factor) in x.iter().enumerate() {
            for entry in self.column(column) {
                out[self.rows[entry]] += values[entry] * factor;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn entries_are_sorted_merged_and_get_a_diagonal() {
        let pattern = Pattern::from_entries(3, &[(2, 0), (1, 0), (2, 0), (0, 2)]);
        assert_eq!(pattern.column_starts, [0, 3, 4, 6]);
        assert_eq!(pattern.rows, [0, 1, 2, 1, 0, 2]);
        assert_eq!(pattern.position(2, 0), Some(2));
        assert_eq!(pattern.position(2, 2), Some(5));
        assert_eq!(pattern.position(0, 1), None);
        assert_eq!(pattern.position(0, 3), None);
    }

    #[test]
    fn an_empty_matrix_has_an_empty_pattern() {
        let pattern = Pattern::from_entries(0, &[]);
        assert_eq!(pattern.column_starts, [0]);
        assert!(pattern.rows.is_empty());
        assert_eq!(pattern.position(0, 0), None);
        pattern.multiply(&[], &[], &mut []);
    }

    #[test]
    fn product_of_matrix_and_vector_by_hand() {
        // [1 0 4; 2 3 0; 0 0 5] (1, 10, 100) = (401, 32, 500)
        let pattern = Pattern::from_entries(3, &[(1, 0), (0, 2)]);
        let mut out = [f64::NAN; 3];
        pattern.multiply(&[1.0, 2.0, 3.0, 4.0, 5.0], &[1.0, 10.0, 100.0], &mut out);
        assert_eq!(out, [401.0, 32.0, 500.0]);
    }
}
