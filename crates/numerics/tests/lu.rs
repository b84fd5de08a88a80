//! Sparse LU against the dense LU of the library nalgebra 0.34, which shares no code with it.

use crate::random::Random;
use nalgebra::{DMatrix, DVector};
use numerics::lu::{Analysis, Factors, GROWTH_LIMIT, Singular, analyse};
use numerics::sparse::Pattern;

struct Case {
    pattern: Pattern,
    values: Vec<f64>,
}

impl Case {
    fn new(size: usize, entries: &[(usize, usize, f64)]) -> Self {
        let places: Vec<(usize, usize)> = entries
            .iter()
            .map(|&(row, column, _)| (row, column))
            .collect();
        let pattern = Pattern::from_entries(size, &places);
        let mut values = vec![0.0; pattern.rows.len()];
        for &(row, column, value) in entries {
            values[pattern
                .position(row, column)
                .expect("the pattern was made of these")] += value;
        }
        Self { pattern, values }
    }

    fn dense(&self) -> DMatrix<f64> {
        let size = self.pattern.size;
        DMatrix::from_fn(size, size, |row, column| {
            self.pattern
                .position(row, column)
                .map_or(0.0, |at| self.values[at])
        })
    }

    fn factored(&self) -> (Analysis, Result<Factors, Singular>) {
        let analysis = analyse(&self.pattern);
        let mut factors = Factors::new(&analysis);
        let outcome = factors.factor(&analysis, &self.pattern, &self.values);
        (analysis, outcome.map(|()| factors))
    }

    /// Solves for a right side of `random` numbers, with the matrix and with its transposed; panics unless residual and
    /// solution agree with the dense library.
    fn check_solution(&self, factors: &mut Factors, random: &mut Random) {
        let rhs: Vec<f64> = (0..self.pattern.size).map(|_| random.signed()).collect();
        let mut solution = rhs.clone();
        factors.solve(&mut solution);
        check_against_dense(&self.dense(), &rhs, solution);
        let mut solution = rhs.clone();
        factors.solve_transposed(&mut solution);
        check_against_dense(&self.dense().transpose(), &rhs, solution);
    }
}

fn check_against_dense(dense: &DMatrix<f64>, rhs: &[f64], solution: Vec<f64>) {
    let size = rhs.len();
    let rhs = DVector::from_column_slice(rhs);
    let expected = dense.clone().lu().solve(&rhs);
    let expected = expected.expect("dense LU solves it too");
    let solution = DVector::from_vec(solution);
    let residual = (dense * &solution - &rhs).amax();
    let scale = dense.amax() * solution.amax() + 1.0;
    assert!(
        residual <= 1e-11 * scale,
        "size {size}: residual {residual:e} on a scale of {scale:e}"
    );
    // The two answers may differ by the rounding of one times the condition number.
    let inverse = dense.clone().try_inverse().expect("has an inverse");
    let condition = inverse.amax() * dense.amax() * size as f64;
    let difference = (solution - &expected).amax();
    assert!(
        difference <= 1e-12 * condition * expected.amax().max(1.0),
        "size {size}: {difference:e} apart, condition {condition:e}"
    );
}

/// About three entries a column and a diagonal that is weak, or zero in every fifth column (a permuted entry stands in).
fn weak_diagonal(size: usize, random: &mut Random) -> Case {
    let mut entries = Vec::new();
    for column in 0..size {
        if column % 5 == 4 {
            entries.push((column - 1, column, 1.0 + random.unit()));
            entries.push((column, column - 1, 1.0 + random.unit()));
        } else {
            entries.push((column, column, 0.05 * random.signed()));
        }
        entries.push(((column + 1) % size, column, 2.0 + random.unit()));
        entries.push((random.below(size), column, random.signed()));
        entries.push((random.below(size), column, random.signed()));
    }
    Case::new(size, &entries)
}

#[test]
fn random_weak_diagonals_of_every_small_size() {
    let mut random = Random::new(1);
    for size in 1..=60 {
        for _ in 0..5 {
            let mut case = weak_diagonal(size, &mut random);
            let (analysis, factors) = case.factored();
            let mut factors = factors.expect("random matrix has an inverse");
            case.check_solution(&mut factors, &mut random);
            for value in &mut case.values {
                *value *= 1.0 + 0.2 * random.signed();
            }
            factors
                .update(&analysis, &case.pattern, &case.values)
                .expect("still has an inverse");
            case.check_solution(&mut factors, &mut random);
        }
    }
}

#[test]
fn refactoring_keeps_the_pivots_and_gives_the_right_answer() {
    let mut random = Random::new(2);
    let mut case = weak_diagonal(40, &mut random);
    let (analysis, factors) = case.factored();
    let mut factors = factors.unwrap();
    let (passes, entries) = (factors.factorisations, factors.entries());
    for _ in 0..20 {
        for value in &mut case.values {
            *value *= 1.0 + 0.01 * random.signed();
        }
        let growth = factors
            .refactor(&analysis, &case.pattern, &case.values)
            .unwrap();
        assert!((1.0..GROWTH_LIMIT).contains(&growth), "{growth}");
        case.check_solution(&mut factors, &mut random);
    }
    assert_eq!(
        (factors.factorisations, factors.entries()),
        (passes, entries)
    );
    assert_eq!((factors.refactorisations, factors.repivots), (20, 0));
    assert_eq!(factors.work(), passes + 20);
}

#[test]
fn pivots_that_no_longer_fit_are_chosen_again() {
    // A dense block whose diagonal is strong at first and then next to nothing.
    let size = 12;
    let mut random = Random::new(3);
    let mut entries = Vec::new();
    for row in 0..size {
        for column in 0..size {
            entries.push((
                row,
                column,
                if row == column { 10.0 } else { random.signed() },
            ));
        }
    }
    let mut case = Case::new(size, &entries);
    let (analysis, factors) = case.factored();
    let mut factors = factors.unwrap();
    assert_eq!(factors.factorisations, 1);
    for index in 0..size {
        let at = case.pattern.position(index, index).unwrap();
        case.values[at] = 1e-9;
    }
    let growth = factors
        .clone()
        .refactor(&analysis, &case.pattern, &case.values)
        .unwrap();
    assert!(
        GROWTH_LIMIT < growth,
        "the case is meant to make the old pivots useless, growth {growth}"
    );
    factors
        .update(&analysis, &case.pattern, &case.values)
        .unwrap();
    assert_eq!(
        (
            factors.repivots,
            factors.refactorisations,
            factors.factorisations
        ),
        (1, 1, 2)
    );
    case.check_solution(&mut factors, &mut random);
    factors
        .update(&analysis, &case.pattern, &case.values)
        .unwrap();
    assert_eq!(
        (factors.repivots, factors.factorisations),
        (1, 2),
        "the new pivots last"
    );
    case.check_solution(&mut factors, &mut random);
}

#[test]
fn a_pivot_that_becomes_zero_is_replaced() {
    let mut case = Case::new(2, &[(0, 0, 4.0), (0, 1, 1.0), (1, 0, 1.0), (1, 1, 3.0)]);
    let (analysis, factors) = case.factored();
    let mut factors = factors.unwrap();
    case.values.copy_from_slice(&[0.0, 2.0, 5.0, 0.0]);
    assert!(
        factors
            .refactor(&analysis, &case.pattern, &case.values)
            .is_err()
    );
    let mut rhs = [10.0, 6.0];
    factors.solve(&mut rhs);
    assert!(
        rhs.iter().all(|value| value.is_nan()),
        "no answer from a failed factorisation: {rhs:?}"
    );
    factors
        .update(&analysis, &case.pattern, &case.values)
        .unwrap();
    assert_eq!(factors.repivots, 1);
    // 5 x1 = 10, 2 x0 = 6.
    let mut rhs = [10.0, 6.0];
    factors.solve(&mut rhs);
    assert_eq!(rhs, [3.0, 2.0]);
}

#[test]
fn weak_pivots_throughout_are_given_up_for_the_largest() {
    // Each diagonal passes the threshold, and each step multiplies the last column by 500.
    let size = 9;
    let mut random = Random::new(4);
    // Zeros keep the order of elimination as it is.
    let mut entries: Vec<_> = (0..size * size)
        .map(|at| (at / size, at % size, 0.0))
        .collect();
    entries.push((size - 1, size - 1, 1.0));
    for index in 0..size - 1 {
        entries.extend([
            (index, index, 2e-3),
            (index + 1, index, 1.0),
            (index, size - 1, 1.0),
        ]);
    }
    let case = Case::new(size, &entries);
    let mut factors = case.factored().1.unwrap();
    assert_eq!(factors.factorisations, 2);
    case.check_solution(&mut factors, &mut random);
}

#[test]
fn sizes_nought_and_one() {
    let empty = Case::new(0, &[]);
    let (analysis, factors) = empty.factored();
    let mut factors = factors.unwrap();
    assert_eq!(factors.refactor(&analysis, &empty.pattern, &[]), Ok(1.0));
    factors.solve(&mut []);

    let one = Case::new(1, &[(0, 0, -4.0)]);
    let mut factors = one.factored().1.unwrap();
    let mut rhs = [2.0];
    factors.solve(&mut rhs);
    assert_eq!(rhs, [-0.5]);
    assert_eq!(
        Case::new(1, &[(0, 0, 0.0)]).factored().1.unwrap_err(),
        Singular { column: 0 }
    );
}

#[test]
fn a_column_without_a_pivot_is_named() {
    // Nothing in column 3.
    let entries = [
        (0, 0, 1.0),
        (1, 1, 1.0),
        (2, 2, 1.0),
        (3, 2, 1.0),
        (2, 0, 1.0),
        (4, 4, 1.0),
    ];
    assert_eq!(
        Case::new(5, &entries).factored().1.unwrap_err(),
        Singular { column: 3 }
    );
}

#[test]
fn a_piece_tied_to_nothing_is_singular_though_rounding_leaves_a_remainder() {
    // A chain of conductances between nodes 1 to 4, none of them to node 0 or to ground: row sums are zero.
    let conductances = [0.1, 0.7, 1.0 / 3.0];
    let mut entries = vec![(0, 0, 1.0)];
    for (index, &conductance) in conductances.iter().enumerate() {
        let (left, right) = (index + 1, index + 2);
        entries.extend([(left, left, conductance), (right, right, conductance)]);
        entries.extend([(left, right, -conductance), (right, left, -conductance)]);
    }
    let singular = Case::new(5, &entries).factored().1.unwrap_err();
    assert!((1..5).contains(&singular.column), "{singular:?}");
    // The same with a leak of 1e-12 is hard but has an answer.
    entries.push((4, 4, 1e-12));
    let case = Case::new(5, &entries);
    let mut factors = case.factored().1.unwrap();
    let mut rhs = [1.0, 1e-12, 0.0, 0.0, 0.0];
    factors.solve(&mut rhs);
    assert!((rhs[1] - 1.0).abs() < 1e-3, "{rhs:?}");
}

#[test]
fn values_that_are_not_finite_are_refused_and_forgotten() {
    // A five by five grid, which fills in.
    let size = 25;
    let mut random = Random::new(5);
    let mut entries: Vec<_> = (0..size).map(|at| (at, at, 4.0)).collect();
    for at in 0..size {
        let right = (at % 5 < 4).then_some(at + 1);
        let below = (at < 20).then_some(at + 5);
        for other in right.into_iter().chain(below) {
            entries.extend([(at, other, -random.unit()), (other, at, -random.unit())]);
        }
    }
    let good = Case::new(size, &entries);
    let (analysis, factors) = good.factored();
    let mut factors = factors.unwrap();
    for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        for at in 0..good.values.len() {
            let mut values = good.values.clone();
            values[at] = bad;
            assert!(factors.update(&analysis, &good.pattern, &values).is_err());
            factors
                .update(&analysis, &good.pattern, &good.values)
                .unwrap();
            good.check_solution(&mut factors, &mut random);
            // Also with nothing but earlier pivots to fail.
            assert!(factors.refactor(&analysis, &good.pattern, &values).is_err());
            factors
                .refactor(&analysis, &good.pattern, &good.values)
                .unwrap();
            good.check_solution(&mut factors, &mut random);
        }
    }
}

/// A machine-like matrix: `gates` groups of three nodes, each a plate, a grid and a joining node, with an entry from grid
/// to plate much larger than the grid's own diagonal, joined to one another as a tree with a few extra branches.
fn gates(gates: usize, random: &mut Random) -> Case {
    let mut entries = Vec::new();
    let mut branch = |a: usize, b: usize, value: f64| {
        entries.extend([(a, a, value), (b, b, value), (a, b, -value), (b, a, -value)]);
    };
    let mut decade = |low: f64| low * 10.0_f64.powf(random.unit());
    for gate in 0..gates {
        let (plate, grid, join) = (3 * gate, 3 * gate + 1, 3 * gate + 2);
        branch(plate, grid, decade(1e-12));
        branch(join, grid, decade(1e-6));
        if gate > 0 {
            branch(join, 3 * (gate - 1), decade(1e-8));
        }
    }
    for gate in 0..gates {
        let (plate, grid, join) = (3 * gate, 3 * gate + 1, 3 * gate + 2);
        entries.extend([
            (plate, plate, decade(3e-5)),
            (join, join, decade(1e-6)),
            (grid, grid, decade(1e-7)),
        ]);
        entries.push((plate, grid, decade(1e-4)));
    }
    Case::new(3 * gates, &entries)
}

#[test]
fn a_large_tree_like_matrix_fills_in_hardly_at_all() {
    let mut random = Random::new(6);
    let case = gates(400, &mut random);
    let (analysis, factors) = case.factored();
    let mut factors = factors.unwrap();
    let (before, after) = (case.values.len(), factors.entries());
    assert!(
        after <= before + before * 6 / 10,
        "{before} entries became {after}"
    );
    assert_eq!(factors.factorisations, 1);
    let growth = factors
        .refactor(&analysis, &case.pattern, &case.values)
        .unwrap();
    assert!(growth < 100.0, "{growth}");
    case.check_solution(&mut factors, &mut random);
}
