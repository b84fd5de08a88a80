//! The largest value of a function over a box: corners by sign, confirmed by evaluation, and the inside where the function
//! turns round.
//!
//! A setting is a number from −1 to 1 for each dimension. Nothing is known of the function but its values, so the largest
//! that is found is one that no change of a single setting exceeds, and no change of two where they are few.

/// Rounds of changes: chosen, many times what monotonic functions need.
const ROUNDS: usize = 24;
/// With up to so many dimensions every corner is tried: chosen, 128 of them.
const ALL_UP_TO: usize = 7;
/// With up to so many dimensions all pairs of settings are changed together too: chosen, 264 pairs of changes.
const PAIRS_UP_TO: usize = 12;
/// A step inwards from a bound that shows whether the function is still rising there.
const INWARD: f64 = 0.05;
/// Halvings of the step that looks for a largest value inside: to 1/64 of the half width.
const HALVINGS: usize = 6;

/// The largest value found.
#[derive(Debug, Clone, PartialEq)]
pub struct Largest {
    /// Where.
    pub settings: Vec<f64>,
    /// The value there.
    pub value: f64,
    /// By how much each setting makes the value larger than at 0, in a straight line from a small step inwards: the slope there
    /// times the setting.
    pub effects: Vec<f64>,
    /// Nothing that was tried last exceeds it.
    pub confirmed: bool,
    /// Evaluations.
    pub evaluated: usize,
}

/// How closely a search looks at settings that stand at a bound.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Care<'a> {
    /// The other bound and a step inwards are tried: for a start from which nothing is known.
    Thorough,
    /// For a start that was the largest of a function much like this one, with the effects that its settings had there: a step
    /// inwards is tried for those that mattered. Where that helps, everything is looked at as thoroughly.
    Nearby(&'a [f64]),
}

/// Settings whose effect is less than this share of all effects together do not matter nearby: chosen, what they could hide is
/// that share each.
const LITTLE: f64 = 1e-3;

impl Care<'_> {
    /// Whether a setting at a bound is left as it is.
    fn leaves(&self, dimension: usize, least: f64) -> bool {
        match self {
            Self::Thorough => false,
            Self::Nearby(effects) => effects
                .get(dimension)
                .is_some_and(|effect| effect.abs() < least),
        }
    }

    /// The least effect that matters.
    fn least(&self) -> f64 {
        match self {
            Self::Thorough => 0.0,
            Self::Nearby(effects) => {
                LITTLE * effects.iter().map(|effect| effect.abs()).sum::<f64>()
            }
        }
    }
}

/// Looks for the largest value of a function of `start.len()` settings, beginning at `start`.
///
/// `evaluate` takes any number of points and gives their values in the same order; a value that is not a number never is the
/// largest, infinity ends the search. Changes of less than `tolerance` count as none.
pub fn largest(
    start: &[f64],
    tolerance: f64,
    care: Care<'_>,
    mut evaluate: impl FnMut(&[Vec<f64>]) -> Vec<f64>,
) -> Largest {
    let mut search = Search {
        at: start.to_vec(),
        value: f64::NEG_INFINITY,
        effects: vec![0.0; start.len()],
        care,
        evaluated: 0,
        tolerance,
        evaluate: &mut evaluate,
    };
    let first = search.values(&[start.to_vec()])[0];
    search.value = if first.is_nan() {
        f64::NEG_INFINITY
    } else {
        first
    };
    let confirmed = search.climb();
    Largest {
        settings: search.at,
        value: search.value,
        effects: search.effects,
        confirmed,
        evaluated: search.evaluated,
    }
}

struct Search<'a> {
    at: Vec<f64>,
    value: f64,
    effects: Vec<f64>,
    care: Care<'a>,
    evaluated: usize,
    tolerance: f64,
    evaluate: &'a mut dyn FnMut(&[Vec<f64>]) -> Vec<f64>,
}

impl Search<'_> {
    fn values(&mut self, points: &[Vec<f64>]) -> Vec<f64> {
        if points.is_empty() {
            return Vec::new();
        }
        self.evaluated += points.len();
        (self.evaluate)(points)
    }

    /// Changes settings as long as that helps; whether nothing more helps.
    fn climb(&mut self) -> bool {
        for _ in 0..ROUNDS {
            if self.value == f64::INFINITY {
                return false;
            }
            if !(self.change_singly() || self.change_in_pairs() || self.go_inside()) {
                return true;
            }
        }
        false
    }

    fn with(&self, changes: &[(usize, f64)]) -> Vec<f64> {
        let mut settings = self.at.clone();
        for &(dimension, setting) in changes {
            settings[dimension] = setting;
        }
        settings
    }

    fn exceeds(&self, value: f64) -> bool {
        self.value + self.tolerance < value
    }

    /// Takes the best of some sets of changes when it exceeds the value so far.
    fn take_best(&mut self, changes: &[Vec<(usize, f64)>]) -> bool {
        let points: Vec<Vec<f64>> = changes.iter().map(|changes| self.with(changes)).collect();
        let values = self.values(&points);
        let best = (0..points.len())
            .filter(|&index| self.exceeds(values[index]))
            .max_by(|&left, &right| values[left].total_cmp(&values[right]));
        let Some(best) = best else {
            return false;
        };
        self.at = points[best].clone();
        self.value = values[best];
        true
    }

    /// Every setting at its other bounds and a step inwards, one at a time; then all that help together, or the half of them
    /// that helps most, or the best alone.
    fn change_singly(&mut self) -> bool {
        let mut changes: Vec<(usize, f64)> = Vec::new();
        let least = self.care.least();
        for (dimension, &setting) in self.at.iter().enumerate() {
            let inward = setting * (1.0 - INWARD);
            if setting.abs() == 1.0 && self.care.leaves(dimension, least) {
                continue;
            }
            let nearby = self.care != Care::Thorough && setting.abs() == 1.0;
            let bounds = if nearby { &[][..] } else { &[-1.0, 1.0][..] };
            for &other in bounds.iter().chain(&[inward]) {
                if other != setting && !changes.contains(&(dimension, other)) {
                    changes.push((dimension, other));
                }
            }
        }
        let points: Vec<Vec<f64>> = changes.iter().map(|&change| self.with(&[change])).collect();
        let values = self.values(&points);
        match self.care {
            Care::Thorough => self.effects.fill(0.0),
            Care::Nearby(effects) => self.effects.copy_from_slice(effects),
        }
        for (&value, &(dimension, other)) in values.iter().zip(&changes) {
            let setting = self.at[dimension];
            if other == setting * (1.0 - INWARD) && value.is_finite() && self.value.is_finite() {
                self.effects[dimension] = (self.value - value) / INWARD;
            }
        }
        let mut helping: Vec<(f64, (usize, f64))> = Vec::new();
        for (&value, &change) in values.iter().zip(&changes) {
            if !self.exceeds(value) {
                continue;
            }
            match helping.last_mut() {
                Some(last) if last.1.0 == change.0 => {
                    if last.0 < value {
                        *last = (value, change);
                    }
                }
                _ => helping.push((value, change)),
            }
        }
        helping.sort_by(|left, right| right.0.total_cmp(&left.0));
        let helping: Vec<(usize, f64)> = helping.into_iter().map(|(_, change)| change).collect();
        if helping.is_empty() {
            return false;
        }
        // What was near is not: from here on everything is looked at.
        self.care = Care::Thorough;
        let half = helping[..helping.len().div_ceil(2)].to_vec();
        let alone = vec![helping[0]];
        self.take_best(&[helping, half, alone])
    }

    /// Every pair of settings at its other bounds, where they are few; every corner, where they are very few.
    fn change_in_pairs(&mut self) -> bool {
        let count = self.at.len();
        if PAIRS_UP_TO < count {
            return false;
        }
        if count <= ALL_UP_TO {
            let corners = (0..1usize << count).map(|bits| {
                let side = |place: usize| if bits >> place & 1 == 1 { 1.0 } else { -1.0 };
                (0..count).map(|place| (place, side(place))).collect()
            });
            let corners: Vec<Vec<(usize, f64)>> = corners.collect();
            return self.take_best(&corners);
        }
        let mut changes = Vec::new();
        for left in 0..self.at.len() {
            for right in left + 1..self.at.len() {
                for (one, other) in [(-1.0, -1.0), (-1.0, 1.0), (1.0, -1.0), (1.0, 1.0)] {
                    if one != self.at[left] && other != self.at[right] {
                        changes.push(vec![(left, one), (right, other)]);
                    }
                }
            }
        }
        self.take_best(&changes)
    }

    /// Settings that are not at a bound, by halved steps.
    fn go_inside(&mut self) -> bool {
        let inside: Vec<usize> = (0..self.at.len())
            .filter(|&dimension| self.at[dimension].abs() < 1.0)
            .collect();
        let mut moved = false;
        for dimension in inside {
            let mut step = 0.5;
            for _ in 0..HALVINGS {
                let here = self.at[dimension];
                let tried = [here - step, here + step].map(|setting| setting.clamp(-1.0, 1.0));
                if !self.take_best(&tried.map(|setting| vec![(dimension, setting)])) {
                    step /= 2.0;
                } else {
                    moved = true;
                }
            }
        }
        moved
    }
}
