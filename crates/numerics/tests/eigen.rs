//! Eigenvalues against closed forms and recorded values of general libraries.

use crate::random::Random;
use nalgebra::DMatrix;
use numerics::eigen::{eigenvalues, rightmost, rightmost_of_pencil};

#[track_caller]
fn check(found: Option<(f64, f64)>, expected: (f64, f64), relative: f64) {
    let found = found.expect("settles");
    let scale = expected.0.hypot(expected.1);
    let error = (found.0 - expected.0).hypot(found.1 - expected.1);
    assert!(
        error <= relative * scale,
        "found {found:?}, expected {expected:?}"
    );
}

/// Row-major matrix whose characteristic polynomial has the given roots: the companion matrix of their product.
fn companion(roots: &[f64]) -> Vec<f64> {
    let size = roots.len();
    let mut coefficients = vec![1.0];
    for root in roots {
        let mut longer = coefficients.clone();
        longer.push(0.0);
        for (at, coefficient) in coefficients.iter().enumerate() {
            longer[at + 1] -= root * coefficient;
        }
        coefficients = longer;
    }
    let mut matrix = vec![0.0; size * size];
    for at in 0..size {
        matrix[at] = -coefficients[at + 1];
        if at + 1 < size {
            matrix[(at + 1) * size + at] = 1.0;
        }
    }
    matrix
}

/// A ring of elements each driving the next, in the strength given: the eigenvalues are on a circle about -1.
fn ring(size: usize, strength: f64) -> Vec<f64> {
    let mut matrix = vec![0.0; size * size];
    for at in 0..size {
        matrix[at * size + at] = -1.0;
        matrix[(at + 1) % size * size + at] += strength;
    }
    matrix
}

#[test]
fn two_by_two_in_closed_form() {
    // Trace 4, determinant 3; then 1 +- 2i; then a double 3 on a single vector; then (5 +- sqrt 33) / 2.
    check(rightmost(2, &[2.0, 1.0, 1.0, 2.0]), (3.0, 0.0), 1e-15);
    check(rightmost(2, &[1.0, -4.0, 1.0, 1.0]), (1.0, 2.0), 1e-15);
    check(rightmost(2, &[3.0, 1.0, 0.0, 3.0]), (3.0, 0.0), 1e-15);
    check(
        rightmost(2, &[1.0, 2.0, 3.0, 4.0]),
        (0.5 * (5.0 + 33.0_f64.sqrt()), 0.0),
        1e-15,
    );
    check(rightmost(1, &[-7.0]), (-7.0, 0.0), 0.0);
}

#[test]
fn the_small_eigenvalue_beside_a_large_one_keeps_its_digits() {
    // Triangular, so the diagonal.
    check(
        rightmost(2, &[-1e-6, 1e12, 0.0, -1e12]),
        (-1e-6, 0.0),
        1e-12,
    );
}

#[test]
fn companion_matrices_give_back_their_roots() {
    check(
        rightmost(3, &companion(&[1.0, 2.0, 3.0])),
        (3.0, 0.0),
        1e-13,
    );
    check(
        rightmost(5, &companion(&[-1.0, -2.0, -3.0, -4.0, -0.5])),
        (-0.5, 0.0),
        1e-12,
    );
    // x^4 + 1 = 0: the fourth roots of -1.
    let mut circle = companion(&[0.0; 4]);
    circle[3] = -1.0;
    let half = 0.5_f64.sqrt();
    check(rightmost(4, &circle), (half, half), 1e-14);
}

#[test]
fn rings_of_every_length() {
    // Eigenvalues -1 + strength times the roots of unity. Needs the exceptional shift when the length is even.
    for size in 3..40 {
        check(rightmost(size, &ring(size, 2.0)), (1.0, 0.0), 1e-12);
        let mut inverting = ring(size, 2.0);
        inverting[size - 1] *= -1.0;
        let angle = std::f64::consts::PI / size as f64;
        check(
            rightmost(size, &inverting),
            (2.0 * angle.cos() - 1.0, 2.0 * angle.sin()),
            1e-11,
        );
        let mut orthogonal = ring(size, 1.0);
        for at in 0..size {
            orthogonal[at * size + at] = 0.0;
        }
        check(rightmost(size, &orthogonal), (1.0, 0.0), 1e-12);
    }
}

#[test]
fn a_random_matrix_as_scipy_has_it() {
    // Computed with SciPy 1.17.1, NumPy 2.4.6, numpy.linalg.eigvals.
    #[rustfmt::skip]
    let matrix = [
        1.25, 3.97, 2.76, -2.75, -2.0, 3.74, -4.95, 3.21, 2.97, -0.32, -1.97, -2.22,
        -2.45, -0.55, 0.05, 0.53, 4.96, 2.93, 1.22, 4.89, -2.85, -3.4, 1.13, -4.56,
        -4.64, 0.15, -0.34, 4.17, 1.29, 0.14, -0.03, -2.52, -4.88, -3.08, 1.92, -2.99,
    ];
    let expected = [
        (-7.6652585340320405, 0.0),
        (-0.9801852771968791, -3.6895756637119885),
        (-0.9801852771968791, 3.6895756637119885),
        (1.7033828554454002, -5.951680721431202),
        (1.7033828554454002, 5.951680721431202),
        (5.628863377534989, 0.0),
    ];
    let mut found = eigenvalues(6, &matrix).unwrap();
    found.sort_by(|left, right| (left.0 + 1e-6 * left.1).total_cmp(&(right.0 + 1e-6 * right.1)));
    for (&found, expected) in found.iter().zip(expected) {
        check(Some(found), expected, 1e-13);
    }
    assert_eq!(rightmost(6, &matrix), Some(found[5]));
}

#[test]
fn scaling_rows_against_columns_changes_nothing() {
    // D A D^-1 has the eigenvalues of A; D spans sixteen decades in powers of two, so it rounds nothing.
    let size = 9;
    let mut random = Random::new(12);
    let plain: Vec<f64> = (0..size * size).map(|_| random.signed()).collect();
    let mut scaled = plain.clone();
    for (at, value) in scaled.iter_mut().enumerate() {
        let (row, column) = ((at / size) as i32, (at % size) as i32);
        *value *= 2.0_f64.powi(7 * (row * 5 % 9 - column * 5 % 9));
    }
    check(
        rightmost(size, &scaled),
        rightmost(size, &plain).unwrap(),
        1e-12,
    );
}

#[test]
fn random_matrices_of_every_size_against_another_library() {
    let mut random = Random::new(11);
    for size in 1..40 {
        let matrix: Vec<f64> = (0..size * size)
            .map(|_| random.signed() * 10.0_f64.powf(2.0 * random.signed()))
            .collect();
        let dense = DMatrix::from_row_slice(size, size, &matrix);
        let oracle = nalgebra::linalg::Schur::try_new(dense, f64::EPSILON, 10_000)
            .expect("settles")
            .complex_eigenvalues();
        let expected = oracle
            .iter()
            .max_by(|left, right| left.re.total_cmp(&right.re))
            .unwrap();
        check(
            rightmost(size, &matrix),
            (expected.re, expected.im.abs()),
            1e-9,
        );
    }
}

#[test]
fn two_coupled_nodes_in_closed_form() {
    // C = c, G = [g m; m g]: -(g +- m) / c, one growing when m exceeds g.
    let (c, g, m) = (20e-12, 1e-5, 3e-4);
    let found = rightmost_of_pencil(2, &[g, m, m, g], &[c, 0.0, 0.0, c]);
    check(found, ((m - g) / c, 0.0), 1e-14);
}

/// Five nodes of a cross-coupled pair with its stray capacitances, a few 1e-12, and a supply of 1e-6; 1e-6 to 1e-3 in G.
const COUPLED_CAPACITANCE: [f64; 25] = [
    22e-12, -1.5e-12, 0.0, -15e-12, 0.0, //
    -1.5e-12, 22e-12, -15e-12, 0.0, 0.0, //
    0.0, -15e-12, 21e-12, -1.5e-12, 0.0, //
    -15e-12, 0.0, -1.5e-12, 22e-12, 0.0, //
    0.0, 0.0, 0.0, 0.0, 1e-6,
];

const COUPLED_CONDUCTANCE: [f64; 25] = [
    2.5e-4, 1.2e-3, 0.0, -1e-6, 0.0, //
    0.0, 3e-6, -1e-6, 0.0, -1e-6, //
    0.0, -1e-6, 1.5e-4, 8e-4, 0.0, //
    -1e-6, 0.0, 0.0, 2.5e-6, 0.0, //
    0.0, -1e-6, 0.0, 0.0, 1e-3,
];

#[test]
fn a_badly_scaled_pair_of_matrices() {
    // Computed with mpmath 1.3.0 at 50 digits, mpmath.eig of -C^-1 G.
    let found = rightmost_of_pencil(5, &COUPLED_CONDUCTANCE, &COUPLED_CAPACITANCE);
    check(found, (30_475_549.423_263_63, 0.0), 1e-12);
}

#[test]
fn without_capacitance_somewhere_there_is_no_answer() {
    let mut capacitance = COUPLED_CAPACITANCE;
    capacitance[24] = 0.0;
    assert_eq!(
        rightmost_of_pencil(5, &COUPLED_CONDUCTANCE, &capacitance),
        None
    );
    // Two nodes with a capacitor between them and none to anywhere else.
    assert_eq!(
        rightmost_of_pencil(2, &[1.0, 0.0, 0.0, 1.0], &[3e-12, -3e-12, -3e-12, 3e-12]),
        None
    );
    assert_eq!(rightmost_of_pencil(0, &[], &[]), None);
}

#[test]
fn odd_values_neither_panic_nor_hang() {
    assert_eq!(rightmost(0, &[]), None);
    assert_eq!(rightmost(3, &[0.0; 9]), Some((0.0, 0.0)));
    for bad in [f64::NAN, f64::INFINITY] {
        let mut matrix = ring(4, 1.0);
        matrix[5] = bad;
        assert_eq!(rightmost(4, &matrix), None);
    }
    for size in [2, 3, 5] {
        for extreme in [1e307, f64::MIN_POSITIVE, 5e-324] {
            let mut matrix = ring(size, 2.0);
            matrix[0] = extreme;
            matrix[size * size - 1] = -extreme;
            assert!(
                rightmost(size, &matrix).is_some_and(|(real, _)| real.is_finite()),
                "{size} {extreme}"
            );
        }
        let nilpotent: Vec<f64> = (0..size * size)
            .map(|at| {
                if at % size == at / size + 1 {
                    1e300
                } else {
                    0.0
                }
            })
            .collect();
        assert_eq!(rightmost(size, &nilpotent), Some((0.0, 0.0)));
    }
}
