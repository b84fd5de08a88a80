//! Small dense symmetric positive definite systems, row-major.

/// A pivot of at most this times its diagonal entry is rounding and nothing else.
const ROUNDING: f64 = 16.0 * f64::EPSILON;

/// Cholesky factor L of a symmetric positive definite matrix, A = L L': replaces the lower triangle, the only part that is
/// read. None when the matrix is not positive definite within rounding, or not finite.
///
/// G. Golub and C. Van Loan, "Matrix Computations", section "Positive definite systems" (from memory).
#[must_use]
pub fn cholesky(size: usize, matrix: &mut [f64]) -> Option<()> {
    for row in 0..size {
        let (above, current) = matrix.split_at_mut(row * size);
        let diagonal = current[row];
        for column in 0..row {
            let other = &above[column * size..];
            current[column] =
                (current[column] - dot(&current[..column], &other[..column])) / other[column];
        }
        let pivot = diagonal - dot(&current[..row], &current[..row]);
        if pivot.is_nan() || pivot <= ROUNDING * diagonal || pivot.is_infinite() {
            return None;
        }
        current[row] = pivot.sqrt();
    }
    Some(())
}

/// Replaces `x` by the solution of L y = `x`, with the lower triangle of `factor` as L.
pub fn solve_lower(size: usize, factor: &[f64], x: &mut [f64]) {
    for row in 0..size {
        let entries = &factor[row * size..];
        x[row] = (x[row] - dot(&entries[..row], &x[..row])) / entries[row];
    }
}

/// Replaces `x` by the solution of L' y = `x`, with the lower triangle of `factor` as L.
pub fn solve_lower_transposed(size: usize, factor: &[f64], x: &mut [f64]) {
    for row in (0..size).rev() {
        let entries = &factor[row * size..];
        x[row] /= entries[row];
        let value = x[row];
        for (earlier, entry) in x[..row].iter_mut().zip(entries) {
            *earlier -= entry * value;
        }
    }
}

/// Sum of products.
#[must_use]
pub fn dot(left: &[f64], right: &[f64]) -> f64 {
    left.iter().zip(right).map(|(a, b)| a * b).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn factor_and_solution_by_hand() {
        // [4 2; 2 10] = [2 0; 1 3] [2 1; 0 3], and it takes (1, 2) to (8, 22).
        let mut matrix = [4.0, f64::NAN, 2.0, 10.0];
        cholesky(2, &mut matrix).unwrap();
        assert_eq!([matrix[0], matrix[2], matrix[3]], [2.0, 1.0, 3.0]);
        let mut x = [8.0, 22.0];
        solve_lower(2, &matrix, &mut x);
        solve_lower_transposed(2, &matrix, &mut x);
        assert_eq!(x, [1.0, 2.0]);
    }

    #[test]
    fn what_is_not_positive_definite_is_refused() {
        for matrix in [
            [1.0, 0.0, 1.0, 1.0],
            [1.0, 0.0, 2.0, 1.0],
            [0.0; 4],
            [1.0, 0.0, 0.0, -1.0],
            [1.0, 0.0, f64::NAN, 1.0],
        ] {
            assert_eq!(cholesky(2, &mut matrix.clone()), None, "{matrix:?}");
        }
        // A third of a third: singular but for rounding.
        assert_eq!(cholesky(2, &mut [1.0, 0.0, 1.0 / 3.0, 1.0 / 9.0]), None);
    }
}
