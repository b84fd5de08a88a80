//! How wide a text will be, without a font at hand.
//!
//! The advance widths are those of Helvetica and Helvetica Bold (Adobe font metrics), from memory;
//! other sans-serif fonts differ by some percent, so back ends fit the text to this width.

/// Width in millimetres of one line of text set in `size` millimetres.
///
/// Characters outside ASCII take the width of a like character of the table, wide scripts a full em;
/// line ends and tabs count as a space, other control characters as nothing.
#[must_use]
pub fn text_width(content: &str, size: f64, bold: bool) -> f64 {
    let thousandths: u32 = content.chars().map(|letter| advance(letter, bold)).sum();
    f64::from(thousandths) / 1000.0 * size
}

/// The text, or its end after an ellipsis: the end of a name tells most.
#[must_use]
pub fn fitted(text: &str, size: f64, bold: bool, room: f64) -> String {
    if text_width(text, size, bold) <= room {
        return text.to_owned();
    }
    let mut rest = text.chars();
    while rest.next().is_some() {
        let shortened = format!("…{}", rest.as_str());
        if text_width(&shortened, size, bold) <= room {
            return shortened;
        }
    }
    String::new()
}

/// Breaks a text into lines no wider than `limit` millimetres, as [`broken`] does.
#[must_use]
pub fn wrapped(content: &str, size: f64, bold: bool, limit: f64) -> Vec<String> {
    broken(content, |line| text_width(line, size, bold) <= limit)
}

/// Breaks a text into lines that fit, at spaces where it can, inside a word where it must.
/// Always gives at least one line, and at least one character a line.
#[must_use]
pub fn broken(content: &str, fits: impl Fn(&str) -> bool) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in content.split_whitespace() {
        let n_before = line.len();
        if !line.is_empty() {
            line.push(' ');
        }
        line.push_str(word);
        if fits(&line) {
            continue;
        }
        line.truncate(n_before);
        if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        for letter in word.chars() {
            let n_before = line.len();
            line.push(letter);
            if n_before > 0 && !fits(&line) {
                line.truncate(n_before);
                lines.push(std::mem::replace(&mut line, letter.to_string()));
            }
        }
    }
    if !line.is_empty() || lines.is_empty() {
        lines.push(line);
    }
    lines
}

/// Advance width in thousandths of the size of type.
fn advance(letter: char, bold: bool) -> u32 {
    let table = if bold { &BOLD } else { &REGULAR };
    let code = letter as u32;
    if (0x20..0x7f).contains(&code) {
        return u32::from(table[code as usize - 0x20]);
    }
    match letter {
        '\t' | '\n' | '\r' => 278,
        _ if letter.is_control() => 0,
        '\u{2212}' | '±' | '×' | '÷' | '≈' | '≤' | '≥' => 584,
        '°' => 400,
        '·' | '\u{a0}' => 278,
        '\u{2007}' | '–' | 'µ' | 'μ' => 556,
        '…' | '—' | '→' | '←' => 1000,
        'Ω' => 768,
        _ if code >= 0x1100 => 1000,
        _ if letter.is_uppercase() => 722,
        _ => 611,
    }
}

/// Helvetica, from space to tilde.
#[rustfmt::skip]
const REGULAR: [u16; 95] = [
    278, 278, 355, 556, 556, 889, 667, 191, 333, 333, 389, 584, 278, 333, 278, 278,
    556, 556, 556, 556, 556, 556, 556, 556, 556, 556, 278, 278, 584, 584, 584, 556,
    1015, 667, 667, 722, 722, 667, 611, 778, 722, 278, 500, 667, 556, 833, 722, 778,
    667, 778, 722, 667, 611, 722, 667, 944, 667, 667, 611, 278, 278, 278, 469, 556,
    333, 556, 556, 500, 556, 556, 278, 556, 556, 222, 222, 500, 222, 833, 556, 556,
    556, 556, 333, 500, 278, 556, 500, 722, 500, 500, 500, 334, 260, 334, 584,
];

/// Helvetica Bold, from space to tilde.
#[rustfmt::skip]
const BOLD: [u16; 95] = [
    278, 333, 474, 556, 556, 889, 722, 238, 333, 333, 389, 584, 278, 333, 278, 278,
    556, 556, 556, 556, 556, 556, 556, 556, 556, 556, 333, 333, 584, 584, 584, 611,
    975, 722, 722, 722, 722, 667, 611, 778, 722, 278, 556, 722, 611, 833, 722, 778,
    667, 778, 722, 667, 611, 722, 667, 944, 667, 667, 611, 333, 278, 333, 584, 556,
    333, 556, 611, 556, 611, 556, 333, 611, 611, 278, 278, 556, 278, 889, 611, 611,
    611, 611, 389, 556, 333, 611, 556, 778, 556, 556, 500, 389, 280, 389, 584,
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn widths_follow_the_printed_metrics() {
        // Adobe font metrics of Helvetica, from memory: V 667, digits and a 556, space 278, minus 584.
        assert!((text_width("V1 a", 10.0, false) - 20.57).abs() < 1e-9);
        assert!((text_width("\u{2212}5", 10.0, false) - 11.4).abs() < 1e-9);
        assert!(text_width("plate", 3.0, true) > text_width("plate", 3.0, false));
        assert_eq!(text_width("\u{1b}\u{0}", 3.0, false), 0.0);
    }

    #[test]
    fn wrapped_lines_fit_and_lose_no_letter() {
        let text = "the carry flip-flop of Donaudampfschifffahrtsgesellschaft";
        let lines = wrapped(text, 3.0, false, 20.0);
        assert!(
            lines
                .iter()
                .all(|line| text_width(line, 3.0, false) <= 20.0),
            "{lines:?}"
        );
        assert_eq!(lines.concat().replace(' ', ""), text.replace(' ', ""));
        assert_eq!(wrapped("", 3.0, false, 20.0), [""]);
        assert_eq!(wrapped("mm", 3.0, false, 0.0), ["m", "m"]);
    }

    #[test]
    fn long_names_keep_their_end() {
        assert_eq!(fitted("G1", 2.6, true, 15.0), "G1");
        let short = fitted("borrow.second.hold", 2.6, true, 15.0);
        assert!(short.starts_with('…') && short.ends_with("hold"), "{short}");
        assert!(text_width(&short, 2.6, true) <= 15.0);
        assert_eq!(fitted("abc", 2.6, true, 0.0), "");
    }
}
