//! Numbers with units as the trade writes them: `33k`, `4k7`, `4.7u`, `110V`, `5%`.
//!
//! IEC 60062 letter code (`4k7`, `4R7`, `1M2`, `p33`), SI prefixes (`p n u µ m k M G`) and unit names.

/// The unit that was written, if any.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Unit {
    /// No unit: `680k`, `4k7`, `12`.
    None,
    /// `V`
    Volt,
    /// `A`
    Ampere,
    /// `ohm`, `Ω`, or the letter `R` of IEC 60062
    Ohm,
    /// `F`
    Farad,
    /// `H`
    Henry,
    /// `W`
    Watt,
    /// `s`
    Second,
    /// `Hz`
    Hertz,
    /// `m`, only as `mm` or `um`
    Metre,
    /// `%`
    Percent,
    /// `A/V`, so `mA/V`, `uA/V`; also `S`
    AmperePerVolt,
    /// `J`
    Joule,
    /// `C`, also `°C`: degrees Celsius, without a prefix
    Celsius,
}

/// A number in the coherent SI unit (`5%` is 0.05; `160mm` is 0.16).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Quantity {
    /// Finite.
    pub value: f64,
    /// As written.
    pub unit: Unit,
}

/// Why a word is not a quantity.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum QuantityError {
    /// Does not begin like a number: a name.
    NotANumber,
    /// Begins like a number, but the rest is no unit or prefix (the payload).
    UnknownUnit(String),
    /// Larger than 1e30 or smaller than 1e-30 and not zero, in the SI unit: nothing on a bench.
    OutOfRange,
}

/// Powers of ten by prefix letter. `K` is how resistors are marked; both code points of the micro sign are typed.
const PREFIXES: [(char, i64); 10] = [
    ('p', -12),
    ('n', -9),
    ('u', -6),
    ('µ', -6),
    ('μ', -6),
    ('m', -3),
    ('k', 3),
    ('K', 3),
    ('M', 6),
    ('G', 9),
];

/// Unit names that take any prefix; both code points of the ohm sign are typed.
const UNITS: [(&str, Unit); 13] = [
    ("V", Unit::Volt),
    ("A", Unit::Ampere),
    ("ohm", Unit::Ohm),
    ("Ω", Unit::Ohm),
    ("\u{2126}", Unit::Ohm),
    ("F", Unit::Farad),
    ("H", Unit::Henry),
    ("W", Unit::Watt),
    ("s", Unit::Second),
    ("Hz", Unit::Hertz),
    ("A/V", Unit::AmperePerVolt),
    ("S", Unit::AmperePerVolt),
    ("J", Unit::Joule),
];

/// Suffixes that are read whole: a unit with one fixed factor, or a prefix that is also a unit's letter.
const WHOLE: [(&str, i64, Unit); 10] = [
    ("", 0, Unit::None),
    ("R", 0, Unit::Ohm),
    ("%", -2, Unit::Percent),
    ("mm", -3, Unit::Metre),
    ("cm", -2, Unit::Metre),
    ("um", -6, Unit::Metre),
    ("µm", -6, Unit::Metre),
    ("μm", -6, Unit::Metre),
    ("C", 0, Unit::Celsius),
    ("°C", 0, Unit::Celsius),
];

/// Smallest and largest magnitude read; chosen, because nothing on a bench comes near either.
const SMALLEST: f64 = 1e-30;
const LARGEST: f64 = 1e30;

/// Reads a word such as `4k7`, `-24V`, `600mA`, `1.2k`, `5%`, `3.1mA/V`, `160mm`.
///
/// The value is the double nearest to the decimal number written: `4.7u` is exactly `4.7e-6`.
/// A lone `m` is milli, `M` is mega. The letter code stands in place of the decimal point
/// (IEC 60062; `R p n u µ m k K M G`, and `V` as zener diodes are marked); in front of the digits only
/// `R p n u µ m` and only before two or more digits (`R47`, `p33`), because `R1` is a part.
/// Some names read as quantities all the same (`6922`, `6V6`, `R12`): where a name may stand, ask for names first.
///
/// # Errors
/// See [`QuantityError`].
pub fn parse(word: &str) -> Result<Quantity, QuantityError> {
    let (negative, unsigned) = match word.strip_prefix(['-', '−']) {
        Some(rest) => (true, rest),
        None => (false, word.strip_prefix('+').unwrap_or(word)),
    };
    let (whole, rest) = split_digits(unsigned);
    if whole.is_empty() && !rest.starts_with('.') {
        return leading_letter(rest)
            .ok_or(QuantityError::NotANumber)
            .and_then(|(fraction, exponent, unit)| value(negative, "", fraction, exponent, unit));
    }
    let after_point = rest.strip_prefix('.').map(split_digits);
    let (fraction, rest) = after_point.unwrap_or(("", rest));
    if whole.is_empty() && fraction.is_empty() {
        return Err(QuantityError::NotANumber);
    }
    if after_point.is_none()
        && let Some((fraction, exponent, unit)) = letter_code(rest)
    {
        return value(negative, whole, fraction, exponent, unit);
    }
    let (exponent, rest) = split_exponent(rest);
    let (prefix, unit) = suffix(rest).ok_or_else(|| QuantityError::UnknownUnit(rest.to_owned()))?;
    value(
        negative,
        whole,
        fraction,
        exponent.saturating_add(prefix),
        unit,
    )
}

fn split_digits(text: &str) -> (&str, &str) {
    text.split_at(
        text.find(|c: char| !c.is_ascii_digit())
            .unwrap_or(text.len()),
    )
}

fn prefix_exponent(letter: char) -> Option<i64> {
    PREFIXES
        .iter()
        .find(|&&(prefix, _)| prefix == letter)
        .map(|&(_, exponent)| exponent)
}

/// `R47`, `p33`: letter in front of at least two digits, and nothing after them.
fn leading_letter(text: &str) -> Option<(&str, i64, Unit)> {
    let (fraction, exponent, unit) = letter_code(text)?;
    let small = exponent < 0 || unit == Unit::Ohm;
    let bare = text.ends_with(|c: char| c.is_ascii_digit());
    (small && bare && fraction.len() >= 2).then_some((fraction, exponent, unit))
}

/// `k7`, `R7`, `n7F`: the letter that replaces the decimal point, the digits after it, perhaps a unit.
fn letter_code(text: &str) -> Option<(&str, i64, Unit)> {
    let letter = text.chars().next()?;
    let (fraction, rest) = split_digits(&text[letter.len_utf8()..]);
    if fraction.is_empty() {
        return None;
    }
    match (letter, rest) {
        ('R', "") => Some((fraction, 0, Unit::Ohm)),
        ('V', "") => Some((fraction, 0, Unit::Volt)),
        (_, "") => Some((fraction, prefix_exponent(letter)?, Unit::None)),
        // Only units whose letter is no tolerance letter after resistors; `4k7J` is no energy.
        (_, "F" | "H" | "ohm" | "Ω" | "\u{2126}") => {
            let unit = UNITS.iter().find(|(name, _)| *name == rest)?.1;
            Some((fraction, prefix_exponent(letter)?, unit))
        }
        _ => None,
    }
}

/// `e-6` with at least one digit, and what follows it.
fn split_exponent(text: &str) -> (i64, &str) {
    let Some(after) = text.strip_prefix(['e', 'E']) else {
        return (0, text);
    };
    let (sign, unsigned) = match after.strip_prefix('-') {
        Some(rest) => (-1, rest),
        None => (1, after.strip_prefix('+').unwrap_or(after)),
    };
    let (digits, rest) = split_digits(unsigned);
    if digits.is_empty() {
        return (0, text);
    }
    // An exponent too long for an integer is out of range all the same.
    (
        sign * digits.parse::<i64>().unwrap_or(i64::from(i32::MAX)),
        rest,
    )
}

/// Power of ten and unit of what follows the number.
fn suffix(text: &str) -> Option<(i64, Unit)> {
    if let Some(&(_, exponent, unit)) = WHOLE.iter().find(|(name, ..)| *name == text) {
        return Some((exponent, unit));
    }
    let unit_named = |name: &str| {
        UNITS
            .iter()
            .find(|(unit, _)| *unit == name)
            .map(|&(_, unit)| unit)
    };
    if let Some(unit) = unit_named(text) {
        return Some((0, unit));
    }
    let letter = text.chars().next()?;
    let exponent = prefix_exponent(letter)?;
    let name = &text[letter.len_utf8()..];
    if name.is_empty() {
        return Some((exponent, Unit::None));
    }
    unit_named(name).map(|unit| (exponent, unit))
}

/// The double nearest to `whole.fraction × 10^exponent`.
fn value(
    negative: bool,
    whole: &str,
    fraction: &str,
    exponent: i64,
    unit: Unit,
) -> Result<Quantity, QuantityError> {
    let zero = whole
        .bytes()
        .chain(fraction.bytes())
        .all(|digit| digit == b'0');
    if zero {
        return Ok(Quantity { value: 0.0, unit });
    }
    // One correctly rounded conversion; multiplying by a power of ten would round twice.
    let magnitude: f64 = format!("{whole}.{fraction}e{exponent}")
        .parse()
        .map_err(|_| QuantityError::OutOfRange)?;
    if !(SMALLEST..=LARGEST).contains(&magnitude) {
        return Err(QuantityError::OutOfRange);
    }
    Ok(Quantity {
        value: if negative { -magnitude } else { magnitude },
        unit,
    })
}

/// Writes a value with at most `digits` significant figures, SI prefix and unit symbol, a space between:
/// `show(0.00138, Unit::Ampere, 3)` is `1.38 mA`; percent is written `5 %`; a number without unit takes no prefix.
///
/// Zeros at the end after the point are dropped. What is not finite is written `–`. Beyond 1e-15 and 1e15, and for
/// plain numbers beyond 1e-6 and 1e9, the power of ten is written out.
#[must_use]
pub fn show(value: f64, unit: Unit, digits: usize) -> String {
    let symbol = symbol(unit);
    let Some(Decimal {
        sign,
        digits,
        exponent,
    }) = Decimal::new(value, digits)
    else {
        return "–".to_owned();
    };
    let sign = if sign.is_empty() { "" } else { "−" };
    // Whole thousands that have a prefix and are used with this unit.
    let prefixes = match unit {
        Unit::None | Unit::Percent | Unit::Celsius => 0..=0,
        Unit::Metre => -6..=0,
        Unit::Ohm => 0..=9,
        Unit::Farad => -12..=-6,
        _ => -12..=9,
    };
    let exponent = if unit == Unit::Percent && value != 0.0 {
        exponent + 2
    } else {
        exponent
    };
    let plain = if unit == Unit::None { -6..9 } else { -15..15 };
    if !plain.contains(&exponent) {
        return format!("{sign}{}e{exponent} {symbol}", place_point(&digits, 0))
            .trim_end()
            .to_owned();
    }
    let thousands = (exponent.div_euclid(3) * 3).clamp(*prefixes.start(), *prefixes.end());
    let thousands = if value == 0.0 { 0 } else { thousands };
    let prefix = prefix_letter(thousands, 'µ').map_or_else(String::new, String::from);
    format!(
        "{sign}{} {prefix}{symbol}",
        place_point(&digits, exponent - thousands)
    )
    .trim_end()
    .to_owned()
}

/// Writes a value the way a builder types it into a design: `82k`, `1.2M`, `4.7u`, with no unit and no space.
///
/// Six significant figures; values that have no more read back through [`parse`] as the same double.
#[must_use]
pub fn show_code(value: f64) -> String {
    let Some(Decimal {
        sign,
        digits,
        exponent,
    }) = Decimal::new(value, 6)
    else {
        return "–".to_owned();
    };
    let thousands = exponent.div_euclid(3) * 3;
    match prefix_letter(thousands, 'u') {
        Some(prefix) => format!(
            "{sign}{}{prefix}",
            place_point(&digits, exponent - thousands)
        ),
        None if thousands == 0 => format!("{sign}{}", place_point(&digits, exponent)),
        None => format!("{sign}{}e{exponent}", place_point(&digits, 0)),
    }
}

/// `sign d.ddd × 10^exponent`, the digits without the point.
struct Decimal {
    sign: &'static str,
    digits: String,
    exponent: i32,
}

impl Decimal {
    /// Rounds to so many significant figures; `None` when there is no number to round.
    fn new(value: f64, digits: usize) -> Option<Self> {
        // 17 figures tell any two doubles apart.
        let written = format!("{:.*e}", digits.clamp(1, 17) - 1, value.abs());
        let (mantissa, exponent) = written.split_once('e')?;
        let digits = mantissa.replace('.', "");
        Some(Self {
            sign: if value < 0.0 { "-" } else { "" },
            digits,
            exponent: exponent.parse().ok()?,
        })
    }
}

/// Puts the point after the digit worth `10^0`, when the first digit is worth `10^exponent`.
fn place_point(digits: &str, exponent: i32) -> String {
    let zeros = |count: i32| "0".repeat(usize::try_from(count).unwrap_or(0));
    let whole_len = usize::try_from(exponent + 1).unwrap_or(0);
    let (whole, fraction) = match digits.split_at_checked(whole_len) {
        Some(("", fraction)) => (
            "0".to_owned(),
            format!("{}{fraction}", zeros(-exponent - 1)),
        ),
        Some((whole, fraction)) => (whole.to_owned(), fraction.to_owned()),
        None => (format!("{digits:0<whole_len$}"), String::new()),
    };
    match fraction.trim_end_matches('0') {
        "" => whole,
        fraction => format!("{whole}.{fraction}"),
    }
}

/// Prefix of a power of ten; `micro` is how that one is written.
fn prefix_letter(thousands: i32, micro: char) -> Option<char> {
    let letter = PREFIXES
        .iter()
        .find(|&&(_, exponent)| exponent == i64::from(thousands))
        .map(|&(letter, _)| letter);
    letter.map(|letter| if letter == 'u' { micro } else { letter })
}

/// How a unit is written after a number.
fn symbol(unit: Unit) -> &'static str {
    match unit {
        Unit::None => "",
        Unit::Volt => "V",
        Unit::Ampere => "A",
        Unit::Ohm => "Ω",
        Unit::Farad => "F",
        Unit::Henry => "H",
        Unit::Watt => "W",
        Unit::Second => "s",
        Unit::Hertz => "Hz",
        Unit::Metre => "m",
        Unit::Percent => "%",
        Unit::AmperePerVolt => "A/V",
        Unit::Joule => "J",
        Unit::Celsius => "°C",
    }
}

/// `1 fault`, `2 faults`.
#[must_use]
pub fn counted(count: usize, one: &str) -> String {
    if count == 1 {
        format!("1 {one}")
    } else {
        format!("{count} {one}s")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn check(word: &str, value: f64, unit: Unit) {
        assert_eq!(parse(word), Ok(Quantity { value, unit }), "{word}");
    }

    /// Letter code: IEC 60062:2016, clause 4, from memory.
    #[test]
    fn letter_code_is_exact() {
        check("4k7", 4700.0, Unit::None);
        check("1M2", 1_200_000.0, Unit::None);
        check("4R7", 4.7, Unit::Ohm);
        check("R47", 0.47, Unit::Ohm);
        check("p33", 0.33e-12, Unit::None);
        check("4n7", 4.7e-9, Unit::None);
        check("2u2", 2.2e-6, Unit::None);
        check("2µ2", 2.2e-6, Unit::None);
        check("47K3", 47_300.0, Unit::None);
        check("2n2F", 2.2e-9, Unit::Farad);
        check("5V1", 5.1, Unit::Volt);
    }

    #[test]
    fn decimal_numbers_prefixes_and_units_are_exact() {
        check("12", 12.0, Unit::None);
        check("6922", 6922.0, Unit::None);
        check("1e-6", 1e-6, Unit::None);
        check("2E3V", 2000.0, Unit::Volt);
        check("4.7u", 4.7e-6, Unit::None);
        check(".5W", 0.5, Unit::Watt);
        check("-24V", -24.0, Unit::Volt);
        check("−24V", -24.0, Unit::Volt);
        check("+36V", 36.0, Unit::Volt);
        check("600mA", 0.6, Unit::Ampere);
        check("15pF", 15e-12, Unit::Farad);
        check("3.1mA/V", 3.1e-3, Unit::AmperePerVolt);
        check("2500uS", 2.5e-3, Unit::AmperePerVolt);
        check("10us", 10e-6, Unit::Second);
        check("50kHz", 50e3, Unit::Hertz);
        check("33kohm", 33e3, Unit::Ohm);
        check("33kΩ", 33e3, Unit::Ohm);
        check("33k\u{2126}", 33e3, Unit::Ohm);
        check("100R", 100.0, Unit::Ohm);
        check("5%", 0.05, Unit::Percent);
        check("160mm", 0.16, Unit::Metre);
        check("35µm", 35e-6, Unit::Metre);
        check("3m", 3e-3, Unit::None);
        check("3M", 3e6, Unit::None);
        check("0V", 0.0, Unit::Volt);
        assert!(parse("-0").is_ok_and(|zero| zero.value.is_sign_positive()));
    }

    #[test]
    fn names_are_not_quantities() {
        for (name, rest) in [
            ("12AU7", "AU7"),
            ("1N4148", "N4148"),
            ("6SN7GT", "SN7GT"),
            ("2N2", "N2"),
            ("6922x", "x"),
            ("1.2k3", "k3"),
            ("4k7J", "k7J"),
            ("3km", "km"),
            ("1e", "e"),
        ] {
            assert_eq!(
                parse(name),
                Err(QuantityError::UnknownUnit(rest.to_owned())),
                "{name}"
            );
        }
        for name in [
            "", "-", ".", "-.", "R1", "V11", "M47", "k33", "p33F", "plate", "e5", "inf", "NaN",
            "Ω", "٣",
        ] {
            assert_eq!(parse(name), Err(QuantityError::NotANumber), "{name}");
        }
    }

    #[test]
    fn absurd_numbers_are_out_of_range() {
        for word in [
            "1e31",
            "1e-31",
            "9e99999999999999999999",
            "1e-9223372036854775808p",
            "1e400V",
            "-1e31",
        ] {
            assert_eq!(parse(word), Err(QuantityError::OutOfRange), "{word}");
        }
        check("1e30", 1e30, Unit::None);
        check("0e99999999999999999999", 0.0, Unit::None);
    }

    #[test]
    fn values_are_shown_with_prefix_and_unit() {
        for (value, unit, digits, expected) in [
            (0.00138, Unit::Ampere, 3, "1.38 mA"),
            (4700.0, Unit::Ohm, 3, "4.7 kΩ"),
            (0.0, Unit::Volt, 3, "0 V"),
            (-0.0, Unit::None, 3, "0"),
            (0.0, Unit::Percent, 3, "0 %"),
            (-24.0, Unit::Volt, 3, "−24 V"),
            (36.04, Unit::Volt, 3, "36 V"),
            (999.96e-6, Unit::Ampere, 3, "1 mA"),
            (999.4e-6, Unit::Ampere, 3, "999 µA"),
            (123_456.0, Unit::Ohm, 2, "120 kΩ"),
            (15e-12, Unit::Farad, 3, "15 pF"),
            (2e-14, Unit::Ampere, 3, "0.02 pA"),
            (3e-20, Unit::Ampere, 3, "3e-20 A"),
            (0.05, Unit::Percent, 3, "5 %"),
            (0.1234, Unit::Percent, 3, "12.3 %"),
            (12.0, Unit::Percent, 3, "1200 %"),
            (0.0031, Unit::AmperePerVolt, 3, "3.1 mA/V"),
            (0.16, Unit::Metre, 3, "160 mm"),
            (2500.0, Unit::Metre, 2, "2500 m"),
            (17_000.0, Unit::None, 3, "17000"),
            (0.00138, Unit::None, 2, "0.0014"),
            (1.5e-9, Unit::None, 2, "1.5e-9"),
            (f64::NAN, Unit::Volt, 3, "–"),
            (f64::NEG_INFINITY, Unit::Volt, 3, "–"),
            (5e-324, Unit::Volt, 0, "5e-324 V"),
        ] {
            assert_eq!(show(value, unit, digits), expected);
        }
    }

    #[test]
    fn values_are_typed_back_as_the_trade_types_them() {
        for (value, expected) in [
            (82e3, "82k"),
            (1.2e6, "1.2M"),
            (4.7e-6, "4.7u"),
            (33.0, "33"),
            (0.0, "0"),
            (-24.5, "-24.5"),
            (0.47, "470m"),
            (15e-12, "15p"),
            (123_456.0, "123.456k"),
            (1e-20, "1e-20"),
        ] {
            assert_eq!(show_code(value), expected);
        }
    }

    proptest! {
        #[test]
        fn any_word_is_read_or_refused_and_never_gives_nonsense(word in "\\PC*|[-+]?[0-9.]{0,9}[RpnuµmkKMGVe]?[-0-9]{0,5}[a-zA-ZΩ%/]{0,4}") {
            if let Ok(quantity) = parse(&word) {
                prop_assert!(quantity.value.is_finite());
            }
        }

        #[test]
        fn what_is_typed_back_reads_as_the_same_value(mantissa in 1u32..1_000_000, exponent in -28i32..20, negative: bool) {
            let value: f64 = format!("{}{mantissa}e{exponent}", if negative { "-" } else { "" }).parse().expect("a number");
            prop_assert_eq!(parse(&show_code(value)), Ok(Quantity { value, unit: Unit::None }));
        }

        #[test]
        fn what_is_shown_reads_as_nearly_the_same_value(value in -1e12f64..1e12, scale in -20i32..1) {
            let value = value * 10f64.powi(scale);
            let read = parse(&show(value, Unit::Volt, 6).replace(' ', "")).expect("reads back");
            prop_assert!((read.value - value).abs() <= 5.1e-6 * value.abs(), "{} {}", read.value, value);
        }
    }
}
