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

/// Values are written as they are marked: the number nearest to their decimals, from milliohms to megohms.
#[test]
fn a_preferred_value_is_its_decimals() {
    for power in -3..=6 {
        for (digits, before) in [("6.8", 6.5), ("1.1", 1.05), ("8.2", 7.8), ("3.6", 3.4)] {
            let next = neighbours(before * 10f64.powi(power), true, 1)[0];
            let decimal: f64 = format!("{digits}e{power}").parse().unwrap();
            assert_eq!(next, decimal);
        }
    }
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
