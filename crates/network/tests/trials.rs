//! What is tried, and how long: preferred values nearest first, as many items as a budget allows.

use network::preferred::neighbours;
use network::work::{Budget, TOGETHER};

/// IEC 60063, E24: around 82 come 75 and 91, and the series goes on into the next decade.
#[test]
fn neighbours_of_82_kilohm() {
    let up = neighbours(82e3, true, 3);
    let down = neighbours(82e3, false, 2);
    for (got, expected) in up.iter().chain(&down).zip([91e3, 100e3, 110e3, 75e3, 68e3]) {
        assert!(
            (got / expected - 1.0).abs() < 1e-9,
            "{got} is not {expected}"
        );
    }
    assert!(neighbours(0.0, true, 3).is_empty());
}

/// What is refused depends on the items only, and everything that was begun counts.
#[test]
fn a_budget_ends_after_whole_chunks() {
    let items: Vec<usize> = (0..10 * TOGETHER).collect();
    let mut budget = Budget::new(3 * TOGETHER as u64 / 2);
    let mut solved = || -> Vec<Option<usize>> { budget.over(&items, |&item| (item, 1)) };
    let results = solved();
    let reached: Vec<usize> = results.iter().flatten().copied().collect();
    assert_eq!(reached, items[..2 * TOGETHER]);
    assert_eq!(results.len(), items.len());
    assert_eq!(solved().iter().flatten().count(), 0);
}
