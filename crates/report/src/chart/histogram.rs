//! How often a value occurs, against a limit that it must not pass.

use super::{Along, Axis, Chart, Reference, Series};
use crate::draw::{Ink, Pattern, Picture, Stroke, Weight};

/// Steps of the outline between the smallest and the largest value: chosen, so that a thousand samples make a smooth one.
const STEPS: usize = 40;
/// Height of a histogram, mm.
const HEIGHT: f64 = 46.0;

/// What a value must not pass, as it is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limit {
    /// By the book.
    pub book: f64,
    /// In the worst case.
    pub worst: f64,
}

/// An outline of how many of a hundred values fall on each step, and one of those that fail.
#[must_use]
pub fn histogram(axis: Axis, values: &[(f64, bool)], limit: Limit, width: f64) -> Picture {
    let mut chart = Chart::new(width, HEIGHT, axis, Axis::linear("of 100 samples", ""));
    for (at, label, pattern) in [
        (limit.worst, "threshold at worst", Pattern::Dashed),
        (limit.book, "by the book", Pattern::Solid),
    ] {
        if at.is_finite() {
            chart.references.push(Reference {
                along: Along::X,
                at,
                label: label.to_owned(),
                stroke: Stroke::new(pattern, Weight::Normal, Ink::Black),
            });
        }
    }
    let outline_of = |counts: &dyn Fn(bool) -> bool, pattern, ink| Series {
        label: String::new(),
        points: outline(values, counts),
        stroke: Some(Stroke::new(pattern, Weight::Heavy, ink)),
        marker: None,
    };
    chart
        .series
        .push(outline_of(&|_| true, Pattern::Solid, Ink::Accent));
    if values.iter().any(|(_, works)| !works) {
        chart
            .series
            .push(outline_of(&|works| !works, Pattern::Dotted, Ink::Black));
    }
    chart.draw()
}

/// The outline from zero to zero of the values that count; one step where all values are the same.
fn outline(values: &[(f64, bool)], counts_in: &dyn Fn(bool) -> bool) -> Vec<(f64, f64)> {
    let volts = || values.iter().map(|value| value.0);
    let lowest = volts().fold(f64::INFINITY, f64::min);
    let highest = volts().fold(f64::NEG_INFINITY, f64::max);
    let wide = ((highest - lowest) / STEPS as f64).max(1e-3);
    let mut counts = [0_u32; STEPS];
    for (value, _) in values.iter().filter(|(_, works)| counts_in(*works)) {
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
