//! How often a value occurs, against a limit that it must not pass.

use super::{Along, Axis, Chart, Reference, Series};
use crate::draw::{Ink, Pattern, Picture, Stroke, Weight};

/// Steps of the outline between the smallest and the largest value: chosen, so that a thousand samples make a smooth one.
const STEPS: usize = 40;
/// Room beside what is shown, as a share of it: chosen.
const ROOM: f64 = 0.06;
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

/// Values counted over equal steps from the smallest to the largest; one step where all are the same.
#[derive(Debug, Clone, PartialEq)]
pub struct Bins {
    /// From the lower end of the first step to the upper end of the last.
    pub edges: Vec<f64>,
    /// How many values fall on each step, and how many of them fail.
    pub counts: Vec<(u32, u32)>,
}

impl Bins {
    /// Counts values, each with whether it works.
    #[must_use]
    pub fn of(values: &[(f64, bool)]) -> Self {
        let volts = || values.iter().map(|value| value.0);
        let lowest = volts().fold(f64::INFINITY, f64::min);
        let highest = volts().fold(f64::NEG_INFINITY, f64::max);
        let wide = ((highest - lowest) / STEPS as f64).max(1e-3);
        let mut counts = vec![(0, 0); STEPS];
        for (value, works) in values {
            let step = ((value - lowest) / wide) as usize;
            let (all, failed) = &mut counts[step.min(STEPS - 1)];
            *all += 1;
            *failed += u32::from(!works);
        }
        let edges = (0..=STEPS).map(|step| lowest + step as f64 * wide);
        Self {
            edges: edges.collect(),
            counts,
        }
    }

    /// The outline from zero to zero of what is counted, of a hundred of all values.
    fn outline(&self, counted: impl Fn(&(u32, u32)) -> u32) -> Vec<(f64, f64)> {
        let all: u32 = self.counts.iter().map(|step| step.0).sum();
        let mut points = vec![(self.edges[0], 0.0)];
        for (ends, step) in self.edges.windows(2).zip(&self.counts) {
            let share = 100.0 * f64::from(counted(step)) / f64::from(all);
            points.extend([(ends[0], share), (ends[1], share)]);
        }
        points.push((self.edges[STEPS], 0.0));
        points
    }
}

/// An outline of how many of a hundred values fall on each step, and one of those that fail.
#[must_use]
pub fn histogram(axis: Axis, bins: &Bins, limit: Limit, width: f64) -> Picture {
    // Room on both sides, so that no upright line lies on the frame.
    let limits = [limit.worst, limit.book].into_iter();
    let limits = limits.filter(|volts| volts.is_finite());
    let ends = [bins.edges[0], bins.edges[STEPS]].into_iter().chain(limits);
    let low = ends.clone().fold(f64::INFINITY, f64::min);
    let high = ends.fold(f64::NEG_INFINITY, f64::max);
    let room = ROOM * (high - low);
    let axis = axis.between(low - room, high + room);
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
    let outline = |points, pattern, ink| Series {
        label: String::new(),
        points,
        stroke: Some(Stroke::new(pattern, Weight::Heavy, ink)),
        marker: None,
    };
    let all = bins.outline(|step| step.0);
    chart.series.push(outline(all, Pattern::Solid, Ink::Accent));
    if bins.counts.iter().any(|(_, failed)| 0 < *failed) {
        let failed = bins.outline(|step| step.1);
        chart
            .series
            .push(outline(failed, Pattern::Dotted, Ink::Black));
    }
    chart.draw()
}
