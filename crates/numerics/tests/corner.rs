//! The largest value over a box against enumeration and closed forms.

use crate::random::Random;
use numerics::corner::{Care, largest};

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
        let found = largest(&vec![0.0; count], 1e-9, Care::Thorough, |points| {
            points.iter().map(value).collect()
        });
        let enumerated = every_corner(count)
            .map(|corner| value(&corner))
            .fold(f64::MIN, f64::max);
        let near = (found.value - enumerated).abs() < 1e-9;
        assert!(found.confirmed && near, "{found:?} {enumerated}");
    }
}

/// A parabola of one setting is largest inside its band, at a place known in closed form; what the others do stands at a corner.
/// The effect of a setting is the slope there times the setting.
#[test]
fn a_largest_value_inside_a_band_is_found_there() {
    for middle in [-0.7, -0.2, 0.0, 0.35, 0.9] {
        let value =
            |point: &Vec<f64>| 2.0 * point[0] - 3.0 * point[1] - (point[2] - middle).powi(2);
        let found = largest(&[0.0; 3], 1e-9, Care::Thorough, |points| {
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
    let all = largest(&[0.0; 20], 1e-9, Care::Thorough, |points| {
        points.iter().map(value(1.0)).collect()
    });
    let near = |sign: f64| {
        largest(&all.settings, 1e-9, Care::Nearby(&all.effects), |points| {
            points.iter().map(value(sign)).collect()
        })
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
    let lost = largest(&[0.0; 2], 1e-9, Care::Thorough, |points| {
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
    let holes = largest(&[0.0; 2], 1e-9, Care::Thorough, |points| {
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
    let nothing = largest(&[], 1e-9, Care::Thorough, |points| vec![4.0; points.len()]);
    assert!(nothing.confirmed && nothing.value == 4.0);
}
