//! How often a value occurs, against a limit that it must not pass.

use super::{Along, Axis, Band, Chart, Reference, Series};
use crate::draw::{Fill, Ink, Pattern, Picture, Stroke, Weight};

/// Steps of the outline between the smallest and the largest value: chosen, so that a thousand samples make a smooth one.
const STEPS: usize = 40;
/// Height of a histogram, mm.
const HEIGHT: f64 = 46.0;

/// What a value must not pass: a limit that itself lies between two values, the tighter first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Limit {
    /// Values must lie below it.
    Above(f64, f64),
    /// Values must lie above it.
    Below(f64, f64),
}

/// An outline of how many of a hundred values fall on each step.
#[must_use]
pub fn histogram(axis: Axis, values: &[f64], limit: Limit, width: f64) -> Picture {
    let mut chart = Chart::new(width, HEIGHT, axis, Axis::linear("of 100 samples", ""));
    let (tight, wide, from, to) = match limit {
        Limit::Above(tight, wide) => (tight, wide, wide, f64::INFINITY),
        Limit::Below(tight, wide) => (tight, wide, f64::NEG_INFINITY, wide),
    };
    if wide.is_finite() {
        chart.bands.push(Band {
            along: Along::X,
            from,
            to,
            label: "fails".to_owned(),
            fill: Fill::Hatched,
        });
    }
    let line = |at: f64, label: &str, pattern: Pattern| Reference {
        along: Along::X,
        at,
        label: label.to_owned(),
        stroke: Stroke::new(pattern, Weight::Heavy, Ink::Black),
    };
    chart
        .references
        .push(line(tight, "threshold, tightest", Pattern::Dashed));
    if wide != tight {
        chart.references.push(line(wide, "widest", Pattern::Dotted));
    }
    chart.series.push(Series {
        label: String::new(),
        points: outline(values),
        stroke: Some(Stroke::new(Pattern::Solid, Weight::Heavy, Ink::Accent)),
        marker: None,
    });
    chart.draw()
}

/// The outline from zero to zero; one step where all values are the same.
fn outline(values: &[f64]) -> Vec<(f64, f64)> {
    let lowest = values.iter().copied().fold(f64::INFINITY, f64::min);
    let highest = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let wide = ((highest - lowest) / STEPS as f64).max(1e-3);
    let mut counts = [0_u32; STEPS];
    for value in values {
        let step = ((value - lowest) / wide) as usize;
        counts[step.min(STEPS - 1)] += 1;
    }
    let mut points = vec![(lowest, 0.0)];
    for (step, count) in counts.into_iter().enumerate() {
        let share = 100.0 * f64::from(count) / values.len() as f64;
        let from = lowest + step as f64 * wide;
        points.extend([(from, share), (from + wide, share)]);
    }
    points.push((lowest + STEPS as f64 * wide, 0.0));
    points
}
