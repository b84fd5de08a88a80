//! Axes: the range to show, round tick values, and where a value falls.

use crate::decimal;
use crate::draw::width::text_width;

/// How values are spread along an axis.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scale {
    /// Equal steps, equal lengths.
    Linear,
    /// Equal ratios, equal lengths; values of zero and below are left out.
    Logarithmic,
}

/// What an axis shows.
#[derive(Debug, Clone, PartialEq)]
pub struct Axis {
    /// What is measured, as `plate current`.
    pub label: String,
    /// Symbol of the unit the values are in, as `A`; may be empty. SI units get their prefix here.
    pub unit: String,
    /// Linear or logarithmic.
    pub scale: Scale,
    /// First and last value to show; without it the data decide.
    pub range: Option<(f64, f64)>,
}

impl Axis {
    /// A linear axis whose range follows the data.
    #[must_use]
    pub fn linear(label: &str, unit: &str) -> Axis {
        Axis {
            label: label.to_owned(),
            unit: unit.to_owned(),
            scale: Scale::Linear,
            range: None,
        }
    }

    /// A logarithmic axis whose range follows the data.
    #[must_use]
    pub fn logarithmic(label: &str, unit: &str) -> Axis {
        Axis {
            scale: Scale::Logarithmic,
            ..Axis::linear(label, unit)
        }
    }

    /// The same axis from `low` to `high`.
    #[must_use]
    pub fn between(mut self, low: f64, high: f64) -> Axis {
        self.range = Some((low, high));
        self
    }
}

/// A labelled value on an axis.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Tick {
    pub(crate) value: f64,
    pub(crate) text: String,
}

/// An axis with its range and ticks settled.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Ruler {
    pub(crate) scale: Scale,
    pub(crate) low: f64,
    /// Greater than `low`.
    pub(crate) high: f64,
    pub(crate) ticks: Vec<Tick>,
    /// Values of the fine grid between the ticks.
    pub(crate) minor: Vec<f64>,
    /// Label and unit.
    pub(crate) title: String,
}

/// How much room the ticks of an axis have.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Room {
    /// Length of the axis in millimetres.
    pub(crate) length: f64,
    /// Size of type of the tick texts in millimetres.
    pub(crate) size: f64,
    /// Texts stand side by side along the axis, not above one another.
    pub(crate) side_by_side: bool,
}

impl Room {
    /// Millimetres from tick to tick that look well with the shortest texts.
    fn least_pitch(&self) -> f64 {
        if self.side_by_side {
            4.0 * self.size
        } else {
            2.2 * self.size
        }
    }

    /// Millimetres from tick to tick that keep these texts apart.
    fn pitch(&self, ticks: &[Tick]) -> f64 {
        if !self.side_by_side {
            return self.least_pitch();
        }
        let widths = ticks
            .iter()
            .map(|tick| text_width(&tick.text, self.size, false));
        self.least_pitch()
            .max(widths.fold(0.0, f64::max) + 1.2 * self.size)
    }
}

/// Units that take an SI prefix.
const PREFIXED: [&str; 10] = ["V", "A", "W", "Ω", "F", "H", "s", "Hz", "J", "S"];

/// SI prefixes from pico to giga.
const PREFIXES: [(i32, &str); 8] = [
    (-12, "p"),
    (-9, "n"),
    (-6, "µ"),
    (-3, "m"),
    (0, ""),
    (3, "k"),
    (6, "M"),
    (9, "G"),
];

/// Whether a value can be drawn on such an axis. Beyond 1e30 there is nothing on a bench,
/// and differences of larger numbers could overflow.
pub(crate) fn drawable(value: f64, scale: Scale) -> bool {
    const LARGEST: f64 = 1e30;
    match scale {
        Scale::Linear => value.is_finite() && value.abs() < LARGEST,
        Scale::Logarithmic => value.is_finite() && 1.0 / LARGEST < value && value < LARGEST,
    }
}

impl Ruler {
    /// Settles range and ticks from the axis and the values to be shown on it.
    pub(crate) fn new(axis: &Axis, values: impl Iterator<Item = f64>, room: Room) -> Ruler {
        match axis.scale {
            Scale::Linear => linear_ruler(axis, values, room),
            Scale::Logarithmic => logarithmic_ruler(axis, values, room),
        }
    }

    /// Where a drawable value falls: 0 at the low end, 1 at the high end, beyond for values outside.
    pub(crate) fn share(&self, value: f64) -> f64 {
        match self.scale {
            Scale::Linear => (value - self.low) / (self.high - self.low),
            Scale::Logarithmic => (value / self.low).ln() / (self.high / self.low).ln(),
        }
    }
}

/// The axis's own range if it is usable, else that of the drawable values.
/// `true` beside a range that must be kept as it is.
fn wanted_range(axis: &Axis, values: impl Iterator<Item = f64>) -> (Option<(f64, f64)>, bool) {
    let fits = |value: f64| drawable(value, axis.scale);
    if let Some((first, last)) = axis.range
        && fits(first)
        && fits(last)
        && !too_close(first, last)
    {
        return (Some((first.min(last), first.max(last))), true);
    }
    let span = values
        .filter(|value| fits(*value))
        .fold(None, |span, value| match span {
            None => Some((value, value)),
            Some((low, high)) => Some((value.min(low), value.max(high))),
        });
    (span, false)
}

/// Whether two ends are too close for ticks between them to differ in print.
fn too_close(low: f64, high: f64) -> bool {
    (high - low).abs() <= 1e-27 + 1e-7 * low.abs().max(high.abs())
}

fn linear_ruler(axis: &Axis, values: impl Iterator<Item = f64>, room: Room) -> Ruler {
    let (span, keep) = wanted_range(axis, values);
    let (mut low, mut high) = span.unwrap_or((0.0, 1.0));
    if too_close(low, high) {
        let half = if low == 0.0 { 0.5 } else { 0.1 * low.abs() };
        (low, high) = (low - half, high + half);
    }
    // Texts may be wider than guessed: then the step grows, a few times at most.
    let mut step = round_step((high - low) * room.least_pitch() / room.length.max(1.0));
    let mut ruler = linear_ticks(axis, (low, high), step, keep);
    for _ in 0..12 {
        let pitch = step / (ruler.high - ruler.low) * room.length;
        if ruler.ticks.len() < 2 || room.pitch(&ruler.ticks) <= pitch {
            break;
        }
        step = round_step(step * 1.5);
        ruler = linear_ticks(axis, (low, high), step, keep);
    }
    ruler
}

/// The smallest of 1, 2, 5 times a power of ten that is not below `least`.
fn round_step(least: f64) -> f64 {
    let power = 10f64.powf(least.log10().floor());
    let ratio = least / power;
    // The tolerance keeps a step that is round already.
    let factor = [1.0, 2.0, 5.0]
        .into_iter()
        .find(|factor| ratio <= factor * (1.0 + 1e-9));
    factor.unwrap_or(10.0) * power
}

fn linear_ticks(axis: &Axis, (mut low, mut high): (f64, f64), step: f64, keep: bool) -> Ruler {
    const SLACK: f64 = 1e-6;
    if !keep {
        low = (low / step + SLACK).floor() * step;
        high = (high / step - SLACK).ceil() * step;
    }
    let (factor, unit) = prefix_for(low.abs().max(high.abs()), &axis.unit);
    let decimals = (-(step / factor).log10() - SLACK).ceil().clamp(0.0, 12.0) as usize;
    let multiples = |step: f64| {
        let first = (low / step - SLACK).ceil();
        let n_steps = ((high - low) / step + 1.0).clamp(0.0, 400.0) as usize;
        (0..=n_steps)
            .map(move |idx| (first + idx as f64) * step)
            .filter(move |value| *value <= high + SLACK * step)
    };
    let ticks = multiples(step)
        .map(|value| Tick {
            value,
            text: decimal::fixed(value / factor, decimals),
        })
        .collect();
    let leading = step / 10f64.powf((step.log10() + SLACK).floor());
    let minor_step = if (leading - 2.0).abs() < 0.1 {
        step / 4.0
    } else {
        step / 5.0
    };
    Ruler {
        scale: Scale::Linear,
        low,
        high,
        ticks,
        minor: multiples(minor_step).collect(),
        title: titled(&axis.label, &unit),
    }
}

/// The factor and the unit with prefix that bring `largest` between 1 and 1000.
pub(crate) fn prefix_for(largest: f64, unit: &str) -> (f64, String) {
    if !PREFIXED.contains(&unit) || largest <= 0.0 || !largest.is_finite() {
        return (1.0, unit.to_owned());
    }
    let exponent = (largest.log10() + 1e-9).floor();
    let (power, prefix) = PREFIXES
        .into_iter()
        .rfind(|(power, _)| f64::from(*power) <= exponent)
        .unwrap_or(PREFIXES[0]);
    (10f64.powi(power), format!("{prefix}{unit}"))
}

fn titled(label: &str, unit: &str) -> String {
    match (label.is_empty(), unit.is_empty()) {
        (_, true) => label.to_owned(),
        (true, false) => unit.to_owned(),
        (false, false) => format!("{label}, {unit}"),
    }
}

fn logarithmic_ruler(axis: &Axis, values: impl Iterator<Item = f64>, room: Room) -> Ruler {
    let (span, keep) = wanted_range(axis, values);
    let (mut low, mut high) = span.unwrap_or((1.0, 10.0));
    if !keep {
        low = 10f64.powf((low.log10() + 1e-9).floor());
        high = 10f64.powf((high.log10() - 1e-9).ceil());
        if high < 2.0 * low {
            high = 10.0 * low;
        }
    }
    let first = (low.log10() + 1e-9).floor() as i32;
    let last = (high.log10() - 1e-9).ceil() as i32;
    let inside = |value: &f64| low * (1.0 - 1e-9) <= *value && *value <= high * (1.0 + 1e-9);
    let decades = |every: usize, factors: &'static [f64]| -> Vec<f64> {
        (first..=last)
            .step_by(every)
            .flat_map(|power| factors.iter().map(move |factor| factor * 10f64.powi(power)))
            .filter(inside)
            .collect()
    };
    let text = |value: f64| {
        let (factor, unit) = prefix_for(value, &axis.unit);
        let number =
            decimal::significant(value / factor, if value_is_round(value) { 1 } else { 2 });
        if unit.is_empty() {
            number
        } else {
            format!("{number} {unit}")
        }
    };
    let labelled = |values: Vec<f64>| -> Vec<Tick> {
        values
            .into_iter()
            .map(|value| Tick {
                value,
                text: text(value),
            })
            .collect()
    };
    let decade_length = room.length / (high / low).log10();
    let mut ticks = labelled(decades(1, &[1.0]));
    let pitch = room.pitch(&ticks);
    if decade_length * 0.3 > pitch {
        ticks = labelled(decades(1, &[1.0, 2.0, 5.0]));
    } else if decade_length < pitch {
        let every = (pitch / decade_length).ceil().clamp(1.0, 60.0) as usize;
        ticks = labelled(decades(every, &[1.0]));
    }
    if ticks.len() < 2 {
        ticks = labelled(vec![low, high]);
    }
    Ruler {
        scale: Scale::Logarithmic,
        low,
        high,
        ticks,
        minor: decades(1, &[1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0]),
        title: axis.label.clone(),
    }
}

/// Whether one significant figure says it all.
fn value_is_round(value: f64) -> bool {
    let leading = value / 10f64.powf((value.log10() + 1e-9).floor());
    (leading - leading.round()).abs() < 1e-6
}

#[cfg(test)]
mod tests {
    use super::*;

    const ROOM: Room = Room {
        length: 100.0,
        size: 3.0,
        side_by_side: true,
    };

    fn texts(axis: &Axis, values: &[f64]) -> Vec<String> {
        let ruler = Ruler::new(axis, values.iter().copied(), ROOM);
        assert!(ruler.low < ruler.high, "{ruler:?}");
        ruler.ticks.into_iter().map(|tick| tick.text).collect()
    }

    #[test]
    fn ticks_are_round_and_carry_the_prefix_in_the_title() {
        let axis = Axis::linear("plate current", "A");
        assert_eq!(
            texts(&axis, &[0.0, 0.0123]),
            ["0", "2", "4", "6", "8", "10", "12", "14"]
        );
        let ruler = Ruler::new(&axis, [0.0, 0.0123].into_iter(), ROOM);
        assert_eq!(ruler.title, "plate current, mA");
        assert!((ruler.high - 0.014).abs() < 1e-12);
    }

    #[test]
    fn a_decade_axis_from_a_tenth_of_a_microampere() {
        let axis = Axis::logarithmic("plate current", "A").between(1e-7, 0.1);
        let expected = [
            "100 nA", "1 µA", "10 µA", "100 µA", "1 mA", "10 mA", "100 mA",
        ];
        let upright = Room {
            side_by_side: false,
            ..ROOM
        };
        let ruler = Ruler::new(&axis, std::iter::empty(), upright);
        assert_eq!(
            ruler
                .ticks
                .iter()
                .map(|tick| tick.text.as_str())
                .collect::<Vec<_>>(),
            expected
        );
        assert!((ruler.share(1e-4) - 0.5).abs() < 1e-9);
    }

    #[test]
    fn nothing_one_value_and_nonsense_still_give_an_axis() {
        let axis = Axis::linear("", "V");
        for values in [
            &[][..],
            &[0.0],
            &[-24.0],
            &[f64::NAN, f64::INFINITY],
            &[1e9, 1e9 + 1e-6],
            &[-f64::MAX, f64::MAX],
            &[5e-324, 0.0],
            &[-9e29, 9e29],
        ] {
            assert!(texts(&axis, values).len() >= 2, "{values:?}");
            let decades = Axis::logarithmic("", "V");
            assert!(!texts(&decades, values).is_empty(), "{values:?}");
        }
        let degenerate = axis.clone().between(5.0, 5.0);
        assert!(texts(&degenerate, &[1.0, 2.0]).len() >= 2);
        assert!(texts(&axis.between(f64::NAN, 1.0), &[1.0, 2.0]).len() >= 2);
    }

    #[test]
    fn a_descending_range_is_put_in_order() {
        let ruler = Ruler::new(
            &Axis::linear("", "V").between(2.0, -3.0),
            std::iter::empty(),
            ROOM,
        );
        assert_eq!((ruler.low, ruler.high), (-3.0, 2.0));
    }

    #[test]
    fn side_by_side_texts_keep_their_distance() {
        for values in [
            [0.0, 1e6],
            [1e5, 1.000_01e5],
            [-0.003, 0.004],
            [123.4, 987.6],
        ] {
            let ruler = Ruler::new(&Axis::linear("", ""), values.into_iter(), ROOM);
            let width = |tick: &Tick| text_width(&tick.text, ROOM.size, false);
            for pair in ruler.ticks.windows(2) {
                let apart = (ruler.share(pair[1].value) - ruler.share(pair[0].value)) * ROOM.length;
                assert!(
                    apart > (width(&pair[0]) + width(&pair[1])) / 2.0,
                    "{values:?}"
                );
            }
        }
    }
}
