//! Numbers as they stand in tables and pictures: fixed decimals, a true minus sign, never `-0`.

/// Stands for a number that is not known (not finite).
pub const UNKNOWN: &str = "–";

/// Writes a value with a fixed number of decimals (at most 12) and a minus sign (U+2212).
///
/// A million millions and more is written with a power of ten; a value that is not finite as [`UNKNOWN`].
#[must_use]
pub fn fixed(value: f64, decimals: usize) -> String {
    const LARGE: f64 = 1e12;
    if !value.is_finite() {
        return UNKNOWN.to_owned();
    }
    let decimals = decimals.min(12);
    let digits = if value.abs() < LARGE {
        format!("{:.decimals$}", value.abs())
    } else {
        format!("{:.decimals$e}", value.abs())
    };
    let is_zero = digits.bytes().all(|byte| byte == b'0' || byte == b'.');
    if value < 0.0 && !is_zero {
        format!("\u{2212}{digits}")
    } else {
        digits
    }
}

/// Writes a value with `figures` significant figures, but never fewer than its whole part needs.
#[must_use]
pub fn significant(value: f64, figures: usize) -> String {
    if value == 0.0 || !value.is_finite() {
        return fixed(value, figures.saturating_sub(1));
    }
    // The exponent of the rounded value: 9.996 to three figures is 10.0, not 10.00.
    let rounded = format!("{:.*e}", figures.saturating_sub(1), value.abs());
    let exponent: i32 = rounded
        .split_once('e')
        .and_then(|(_, exponent)| exponent.parse().ok())
        .unwrap_or(0);
    let decimals = i32::try_from(figures)
        .unwrap_or(12)
        .saturating_sub(1)
        .saturating_sub(exponent);
    fixed(value, usize::try_from(decimals).unwrap_or(0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fixed_decimals() {
        let cases = [
            (1.25, 1, "1.2"),
            (-5.0, 1, "\u{2212}5.0"),
            (-0.01, 1, "0.0"),
            (f64::NAN, 2, "–"),
            (f64::NEG_INFINITY, 2, "–"),
            (2e15, 1, "2.0e15"),
        ];
        for (value, decimals, expected) in cases {
            assert_eq!(fixed(value, decimals), expected);
        }
    }

    #[test]
    fn significant_figures() {
        let cases = [
            (9.996, 3, "10.0"),
            (0.012_34, 3, "0.0123"),
            (1234.5, 3, "1234"),
            (-24.0, 3, "\u{2212}24.0"),
            (0.0, 3, "0.00"),
        ];
        for (value, figures, expected) in cases {
            assert_eq!(significant(value, figures), expected);
        }
    }
}
