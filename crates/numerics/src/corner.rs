//! The largest value of a function over a box: where the slopes point, corners by sign, confirmed by evaluation, and the
//! inside where the function turns round.
//!
//! A setting is a number from −1 to 1 for each dimension. Nothing is known of the function but its values and, where it gives
//! any, its slopes, so the largest that is found is one that no change of a single setting to a bound or to the middle exceeds,
//! and no change of two to bounds where they are few.

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

/// What is to be largest.
pub trait Response {
    /// Values at any number of points, in the same order. One that is not a number never is the largest, infinity ends the
    /// search.
    fn values(&mut self, points: &[Vec<f64>]) -> Vec<f64>;

    /// How much the value rises with each setting at a point, for each unit of it; at a setting of 0 towards the side where it
    /// reaches further. `None` where that is not known.
    fn slopes(&mut self, at: &[f64]) -> Option<Vec<f64>>;
}

/// A function of which only values are known.
impl<F: FnMut(&[Vec<f64>]) -> Vec<f64>> Response for F {
    fn values(&mut self, points: &[Vec<f64>]) -> Vec<f64> {
        self(points)
    }

    fn slopes(&mut self, _: &[f64]) -> Option<Vec<f64>> {
        None
    }
}

/// The largest value found.
#[derive(Debug, Clone, PartialEq)]
pub struct Largest {
    /// Where.
    pub settings: Vec<f64>,
    /// The value there.
    pub value: f64,
    /// By how much each setting makes the value larger than at 0 with all others where they are; with [`Care::Slopes`] in a
    /// straight line, the slope there times the setting.
    pub effects: Vec<f64>,
    /// Nothing that was tried last exceeds it.
    pub confirmed: bool,
    /// Evaluations.
    pub evaluated: usize,
}

/// How closely a search looks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Care<'a> {
    /// Only where the slopes point: for what need not be confirmed.
    Slopes,
    /// Every setting at its other bound and at 0: for a start from which nothing is known.
    Thorough,
    /// For a start that was the largest of a function much like this one, with the effects that its settings had there: those
    /// that mattered are tried at 0. Where that helps, everything is looked at as thoroughly.
    Nearby(&'a [f64]),
}

/// Settings whose effect is less than this share of all effects together do not matter nearby: chosen, what they could hide is
/// that share each.
const LITTLE: f64 = 1e-3;

impl Care<'_> {
    /// The least effect that matters.
    fn least(&self) -> f64 {
        match self {
            Self::Slopes | Self::Thorough => 0.0,
            Self::Nearby(effects) => {
                LITTLE * effects.iter().map(|effect| effect.abs()).sum::<f64>()
            }
        }
    }
}

/// Looks for the largest value of a function of `start.len()` settings, beginning at `start`. Changes of less than `tolerance`
/// count as none.
pub fn largest(
    start: &[f64],
    tolerance: f64,
    care: Care<'_>,
    mut response: impl Response,
) -> Largest {
    let mut search = Search {
        at: start.to_vec(),
        value: f64::NEG_INFINITY,
        effects: vec![0.0; start.len()],
        care,
        evaluated: 0,
        tolerance,
        response: &mut response,
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
    response: &'a mut dyn Response,
}

impl Search<'_> {
    fn values(&mut self, points: &[Vec<f64>]) -> Vec<f64> {
        if points.is_empty() {
            return Vec::new();
        }
        self.evaluated += points.len();
        self.response.values(points)
    }

    /// Changes settings as long as that helps; whether nothing more helps.
    fn climb(&mut self) -> bool {
        for _ in 0..ROUNDS {
            if self.value == f64::INFINITY {
                return false;
            }
            let slopes = self.follow_slopes();
            if self.care == Care::Slopes {
                if let Some(slopes) = slopes {
                    let effects = self.at.iter().zip(slopes);
                    self.effects = effects.map(|(setting, slope)| setting * slope).collect();
                }
                return false;
            }
            let changed = self.change_singly(slopes.is_some())
                || self.change_in_pairs()
                || self.go_inside(slopes.as_deref());
            if !changed {
                return true;
            }
        }
        false
    }

    /// Puts settings at the bounds to which the slopes point, all that do not stand there, or the half of them whose slopes are
    /// steepest, or the steepest alone, as long as that helps; the slopes at the end.
    fn follow_slopes(&mut self) -> Option<Vec<f64>> {
        let mut slopes = self.response.slopes(&self.at)?;
        for _ in 0..ROUNDS {
            let mut changes: Vec<(usize, f64)> = (0..slopes.len())
                .filter(|&dimension| self.tolerance < slopes[dimension].abs())
                .map(|dimension| (dimension, slopes[dimension].signum()))
                .filter(|&(dimension, bound)| self.at[dimension] != bound)
                .collect();
            changes.sort_by(|left, right| slopes[right.0].abs().total_cmp(&slopes[left.0].abs()));
            if !self.take_some(&changes) || self.value == f64::INFINITY {
                break;
            }
            slopes = self.response.slopes(&self.at)?;
        }
        Some(slopes)
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

    /// Of changes, the most promising first: all together, or the first half of them, or the first alone.
    fn take_some(&mut self, changes: &[(usize, f64)]) -> bool {
        if changes.is_empty() {
            return false;
        }
        let half = changes.len().div_ceil(2);
        self.take_best(&[changes.to_vec(), changes[..half].to_vec(), vec![changes[0]]])
    }

    /// Every setting at its other bounds and at 0, one at a time, and where no slopes are known a step inwards; then those that
    /// help together, or the half of them that helps most, or the best alone.
    fn change_singly(&mut self, sloped: bool) -> bool {
        let mut changes: Vec<(usize, f64)> = Vec::new();
        let least = self.care.least();
        for (dimension, &setting) in self.at.iter().enumerate() {
            let nearby = match self.care {
                Care::Nearby(effects) if setting.abs() == 1.0 => {
                    effects.get(dimension).map(|effect| effect.abs())
                }
                _ => None,
            };
            if nearby.is_some_and(|effect| effect < least) {
                continue;
            }
            let bounds: &[f64] = if nearby.is_some() { &[] } else { &[-1.0, 1.0] };
            let inward = if sloped {
                None
            } else {
                Some(setting * (1.0 - INWARD))
            };
            for &other in bounds.iter().chain(&[0.0]).chain(&inward) {
                if other != setting && !changes.contains(&(dimension, other)) {
                    changes.push((dimension, other));
                }
            }
        }
        let points: Vec<Vec<f64>> = changes.iter().map(|&change| self.with(&[change])).collect();
        let values = self.values(&points);
        match self.care {
            Care::Nearby(effects) => self.effects.copy_from_slice(effects),
            Care::Slopes | Care::Thorough => self.effects.fill(0.0),
        }
        let mut helping: Vec<(f64, (usize, f64))> = Vec::new();
        for (&value, &change) in values.iter().zip(&changes) {
            let (dimension, other) = change;
            if other == 0.0 && value.is_finite() && self.value.is_finite() {
                self.effects[dimension] = self.value - value;
            }
            if !self.exceeds(value) {
                continue;
            }
            match helping.last_mut() {
                Some(last) if last.1.0 == dimension => {
                    if last.0 < value {
                        *last = (value, change);
                    }
                }
                _ => helping.push((value, change)),
            }
        }
        if helping.is_empty() {
            return false;
        }
        // What was near is not: from here on everything is looked at.
        self.care = Care::Thorough;
        helping.sort_by(|left, right| right.0.total_cmp(&left.0));
        let helping: Vec<(usize, f64)> = helping.into_iter().map(|(_, change)| change).collect();
        self.take_some(&helping)
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

    /// Settings that are not at a bound, or from which the slope leads inside, by halved steps; where the slope says that one does
    /// nothing it stays.
    fn go_inside(&mut self, slopes: Option<&[f64]>) -> bool {
        let inside: Vec<usize> = (0..self.at.len())
            .filter(|&dimension| {
                let setting = self.at[dimension];
                match slopes {
                    None => setting.abs() < 1.0,
                    Some(slopes) if setting.abs() < 1.0 => self.tolerance < slopes[dimension].abs(),
                    Some(slopes) => slopes[dimension] * setting < -self.tolerance,
                }
            })
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
