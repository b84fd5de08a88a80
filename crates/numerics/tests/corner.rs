//! The largest value over a box against enumeration and closed forms.

use crate::random::Random;
use numerics::corner::{Care, Response, largest};

fn every_corner(count: usize) -> impl Iterator<Item = Vec<f64>> {
    (0..1usize << count).map(move |bits| {
        let side = |place: usize| if bits >> place & 1 == 1 { 1.0 } else { -1.0 };
        (0..count).map(side).collect()
    })
}

/// With a term for every setting and a much smaller one for every pair a function is straight in each setting, so its largest value is
/// at a corner: enumerated for up to twelve settings, 200 times.
#[test]
fn a_function_straight_in_each_setting_is_largest_at_the_corner_that_enumeration_finds() {
    let mut random = Random::new(7);
    for _ in 0..200 {
        let count = 1 + random.below(12);
        let slopes: Vec<f64> = (0..count).map(|_| random.signed()).collect();
        let pairs: Vec<Vec<f64>> = (0..count)
            .map(|_| (0..count).map(|_| 0.03 * random.signed()).collect())
            .collect();
        let value = |settings: &Vec<f64>| -> f64 {
            let mut sum = 0.0;
            for (left, setting) in settings.iter().enumerate() {
                let with = settings[..left].iter().zip(&pairs[left]);
                let slope = slopes[left] + with.map(|(other, pair)| other * pair).sum::<f64>();
                sum += slope * setting;
            }
            sum
        };
        let found = largest(
            &vec![0.0; count],
            1e-9,
            Care::Thorough,
            |points: &[Vec<f64>]| points.iter().map(value).collect(),
        );
        let enumerated = every_corner(count)
            .map(|corner| value(&corner))
            .fold(f64::MIN, f64::max);
        let near = (found.value - enumerated).abs() < 1e-9;
        assert!(found.confirmed && near, "{found:?} {enumerated}");
    }
}

/// A parabola of one setting is largest inside its band, at a place known in closed form; what the others do stands at a corner.
/// The effect of a setting is what is lost with it at 0.
#[test]
fn a_largest_value_inside_a_band_is_found_there() {
    for middle in [-0.7, -0.2, 0.0, 0.35, 0.9] {
        let value =
            |point: &Vec<f64>| 2.0 * point[0] - 3.0 * point[1] - (point[2] - middle).powi(2);
        let found = largest(&[0.0; 3], 1e-9, Care::Thorough, |points: &[Vec<f64>]| {
            points.iter().map(value).collect()
        });
        assert_eq!(found.settings[..2], [1.0, -1.0]);
        assert!(
            (found.settings[2] - middle).abs() < 0.02,
            "{middle}: {:?}",
            found.settings
        );
        assert!((found.effects[0] - 2.0).abs() < 1e-9 && (found.effects[1] - 3.0).abs() < 1e-9);
    }
}

/// From a start that is the largest of a like function fewer points are tried, and the same is found; a start that no longer is
/// the largest is left.
#[test]
fn a_start_that_is_near_costs_less_and_misleads_in_nothing_that_matters() {
    let slopes: Vec<f64> = (0..20)
        .map(|place| if place < 8 { 1.0 + place as f64 } else { 1e-6 })
        .collect();
    let value = |sign: f64| {
        let slopes = slopes.clone();
        move |point: &Vec<f64>| -> f64 {
            let first = sign * slopes[0] * point[0];
            first
                + slopes[1..]
                    .iter()
                    .zip(&point[1..])
                    .map(|(slope, setting)| slope * setting)
                    .sum::<f64>()
        }
    };
    let all = largest(&[0.0; 20], 1e-9, Care::Thorough, |points: &[Vec<f64>]| {
        points.iter().map(value(1.0)).collect()
    });
    let near = |sign: f64| {
        largest(
            &all.settings,
            1e-9,
            Care::Nearby(&all.effects),
            |points: &[Vec<f64>]| points.iter().map(value(sign)).collect(),
        )
    };
    let same = near(1.0);
    assert_eq!(same.settings, all.settings);
    assert!(
        4 * same.evaluated < all.evaluated,
        "{} of {}",
        same.evaluated,
        all.evaluated
    );
    assert_eq!(near(-1.0).settings[0], -1.0);
}

/// Infinity ends the search, what is not a number never is the largest, and nothing to set is a single value.
#[test]
fn odd_values_end_in_something_sensible() {
    let lost = largest(&[0.0; 2], 1e-9, Care::Thorough, |points: &[Vec<f64>]| {
        points
            .iter()
            .map(|point| {
                if 0.5 < point[0] {
                    f64::INFINITY
                } else {
                    point[1]
                }
            })
            .collect()
    });
    assert_eq!(lost.value, f64::INFINITY);
    let holes = largest(&[0.0; 2], 1e-9, Care::Thorough, |points: &[Vec<f64>]| {
        points
            .iter()
            .map(|point| {
                if 0.5 < point[0] {
                    f64::NAN
                } else {
                    point[1] - point[0]
                }
            })
            .collect()
    });
    assert_eq!(holes.settings, [-1.0, 1.0]);
    let nothing = largest(&[], 1e-9, Care::Thorough, |points: &[Vec<f64>]| {
        vec![4.0; points.len()]
    });
    assert!(nothing.confirmed && nothing.value == 4.0);
}

/// A sum of terms that bend but never turn round, with its slopes.
struct Bent {
    slopes: Vec<f64>,
    asked: usize,
}

impl Response for &mut Bent {
    fn values(&mut self, points: &[Vec<f64>]) -> Vec<f64> {
        self.asked += points.len();
        let value = |point: &Vec<f64>| {
            let terms = point.iter().zip(&self.slopes);
            terms
                .map(|(setting, slope)| slope * (0.8 * setting).exp())
                .sum()
        };
        points.iter().map(value).collect()
    }

    fn slopes(&mut self, at: &[f64]) -> Option<Vec<f64>> {
        let terms = at.iter().zip(&self.slopes);
        Some(
            terms
                .map(|(setting, slope)| 0.8 * slope * (0.8 * setting).exp())
                .collect(),
        )
    }
}

/// Where slopes are known the corner is found with a handful of values however many settings there are; where it is to be confirmed
/// as well, with two more for each.
#[test]
fn slopes_lead_to_the_corner_with_a_handful_of_values() {
    for count in [20, 80] {
        let mut random = Random::new(11);
        let slopes: Vec<f64> = (0..count).map(|_| random.signed()).collect();
        let corner: Vec<f64> = slopes.iter().map(|slope| slope.signum()).collect();
        let mut bent = Bent { slopes, asked: 0 };
        let led = largest(&vec![0.0; count], 1e-9, Care::Slopes, &mut bent);
        assert_eq!(led.settings, corner);
        assert!(bent.asked <= 4, "{}", bent.asked);
        bent.asked = 0;
        let confirmed = largest(&vec![0.0; count], 1e-9, Care::Thorough, &mut bent);
        assert_eq!((confirmed.settings, confirmed.confirmed), (corner, true));
        assert!(bent.asked <= 4 + 2 * count, "{}", bent.asked);
    }
}

/// Slopes that lead back from a bound lead inside: the top of a parabola is found where it lies.
#[test]
fn slopes_lead_inside_where_a_function_turns_round() {
    struct Parabola(f64);
    impl Response for Parabola {
        fn values(&mut self, points: &[Vec<f64>]) -> Vec<f64> {
            let value = |point: &Vec<f64>| point[1] - (point[0] - self.0).powi(2);
            points.iter().map(value).collect()
        }
        fn slopes(&mut self, at: &[f64]) -> Option<Vec<f64>> {
            let mut slopes = vec![0.0; at.len()];
            (slopes[0], slopes[1]) = (2.0 * (self.0 - at[0]), 1.0);
            Some(slopes)
        }
    }
    for middle in [-0.8, 0.35, 0.9] {
        let found = largest(&[0.0; 20], 1e-9, Care::Thorough, Parabola(middle));
        assert!((found.settings[0] - middle).abs() < 0.02, "{found:?}");
        assert_eq!(found.settings[1], 1.0);
    }
}

/// Slopes that lead to a low hill do not hide a higher one at the other bound when every setting is tried.
#[test]
fn a_higher_hill_at_the_other_bound_is_found_in_spite_of_the_slopes() {
    struct TwoHills;
    impl Response for TwoHills {
        fn values(&mut self, points: &[Vec<f64>]) -> Vec<f64> {
            let value = |point: &Vec<f64>| {
                let setting = point[0];
                if setting < 0.0 {
                    -3.0 * setting - 1.0
                } else {
                    setting - 1.0
                }
            };
            points.iter().map(value).collect()
        }
        fn slopes(&mut self, at: &[f64]) -> Option<Vec<f64>> {
            let mut slopes = vec![0.0; at.len()];
            slopes[0] = if at[0] < 0.0 { -3.0 } else { 1.0 };
            Some(slopes)
        }
    }
    let led = largest(&[0.0; 20], 1e-9, Care::Slopes, TwoHills);
    assert_eq!((led.settings[0], led.value), (1.0, 0.0));
    let found = largest(&[0.0; 20], 1e-9, Care::Thorough, TwoHills);
    assert_eq!((found.settings[0], found.value), (-1.0, 2.0));
}
