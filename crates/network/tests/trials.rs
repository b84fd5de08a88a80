//! What is tried, and how long: preferred values nearest first, as many items as a budget allows.

use network::preferred::{Series, neighbours};
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

/// IEC 60063 as the marks on resistors have it (values from memory): E6 and E12 whole, of E24 how many, and of E48 and E96 a
/// stretch with values in which rounding matters.
#[test]
fn series_hold_the_published_values() {
    let e6 = [10.0, 15.0, 22.0, 33.0, 47.0, 68.0, 100.0];
    assert_eq!(Series::E6.between(10.0, 100.0), e6);
    let e12 = [
        1e3, 1.2e3, 1.5e3, 1.8e3, 2.2e3, 2.7e3, 3.3e3, 3.9e3, 4.7e3, 5.6e3, 6.8e3, 8.2e3,
    ];
    assert_eq!(Series::E12.between(1e3, 9.9e3), e12);
    let e24 = Series::E24.between(0.1, 0.99);
    assert_eq!(e24.len(), 24);
    assert_eq!((e24[1], e24[4], e24[23]), (0.11, 0.15, 0.91));
    let e48 = [1.0, 1.05, 1.1, 1.15, 1.21, 1.27, 1.33, 1.4, 1.47];
    assert_eq!(Series::E48.between(1.0, 1.5), e48);
    let e96 = [
        100e3, 102e3, 105e3, 107e3, 110e3, 113e3, 115e3, 118e3, 121e3, 124e3, 127e3, 130e3, 133e3,
        137e3, 140e3, 143e3, 147e3,
    ];
    assert_eq!(Series::E96.between(100e3, 147e3), e96);
    assert_eq!(Series::E96.between(1.0, 9.99).len(), 96);
    assert_eq!(
        Series::E96.between(909.0, 1000.0),
        [909.0, 931.0, 953.0, 976.0, 1000.0]
    );
    for coarse in Series::ALL.windows(2) {
        let [coarse, fine] = [coarse[0], coarse[1]].map(|series| series.between(1.0, 9.99).len());
        assert!(coarse < fine);
    }
}

/// A range holds both its ends and may lie inside a step; a range that is none holds nothing.
#[test]
fn series_between_odd_ends() {
    assert_eq!(Series::E12.between(47e3, 47e3), [47e3]);
    assert!(Series::E12.between(48e3, 55e3).is_empty());
    for (from, to) in [
        (2.0, 1.0),
        (0.0, 1.0),
        (-1.0, 1.0),
        (f64::NAN, 1.0),
        (1.0, f64::INFINITY),
    ] {
        assert!(Series::E24.between(from, to).is_empty());
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
