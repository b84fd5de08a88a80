//! Texts in the letters that the fonts of every PDF reader have.

use crate::draw::width::text_width;

/// Which of the fonts that every reader has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Face {
    /// Helvetica, plain or bold, in the code of `WinAnsiEncoding` (ISO 32000-1, annex D.2).
    Latin,
    /// Symbol, in its own code (ISO 32000-1, annex D.5): ohms, arrows and comparisons.
    Symbol,
}

/// A text as the fonts have it, with the share by which it is set wider than they do, so that it takes the width that
/// [`text_width`] gives for the text as it was.
#[derive(Debug, Clone, PartialEq)]
pub struct Letters {
    /// Pieces of one font each, in order, one byte a letter.
    pub runs: Vec<(Face, Vec<u8>)>,
    /// Near 1 where no letter had to be written out.
    pub stretch: f64,
}

/// Sets a text. Letters that neither code has are written out (`✓` as `ok`), never left out; control characters are no
/// letters, and line ends count as spaces.
#[must_use]
pub fn set(content: &str, bold: bool) -> Letters {
    let mut runs: Vec<(Face, Vec<u8>)> = Vec::new();
    let mut natural = 0.0;
    let mut push = |face: Face, byte: u8| match runs.last_mut() {
        Some((last, bytes)) if *last == face => bytes.push(byte),
        _ => runs.push((face, vec![byte])),
    };
    for letter in content.chars() {
        if let Some((byte, thousandths)) = symbol(letter) {
            push(Face::Symbol, byte);
            natural += f64::from(thousandths) / 1000.0;
            continue;
        }
        let plain = match letter {
            '\t' | '\n' | '\r' => " ".to_owned(),
            _ if letter.is_control() => continue,
            _ if code(letter).is_some() => letter.to_string(),
            _ => written_out(letter),
        };
        natural += text_width(&plain, 1.0, bold);
        plain
            .chars()
            .filter_map(code)
            .for_each(|byte| push(Face::Latin, byte));
    }
    let wanted = text_width(content, 1.0, bold);
    Letters {
        runs,
        stretch: if 0.0 < natural { wanted / natural } else { 1.0 },
    }
}

/// The byte in the font Symbol and the advance width in thousandths of the size of type (Adobe font metrics), both from
/// memory.
fn symbol(letter: char) -> Option<(u8, u16)> {
    Some(match letter {
        'Ω' | '\u{2126}' => (0x57, 768),
        'Δ' | '∆' => (0x44, 612),
        '≤' => (0xa3, 549),
        '∞' => (0xa5, 713),
        '←' => (0xac, 987),
        '↑' => (0xad, 603),
        '→' => (0xae, 987),
        '↓' => (0xaf, 603),
        '≥' => (0xb3, 549),
        '≠' => (0xb9, 549),
        '≈' => (0xbb, 549),
        _ => return None,
    })
}

/// What stands for a letter that neither code has.
fn written_out(letter: char) -> String {
    let known = match letter {
        // Longer than a hyphen, as a minus sign is.
        '\u{2212}' => "–",
        'μ' => "µ",
        '\u{2007}' | '\u{2009}' | '\u{202f}' => " ",
        '✓' => "ok",
        '✗' | '✕' => "x",
        _ => return format!("<U+{:04X}>", letter as u32),
    };
    known.to_owned()
}

/// The letter's byte: ASCII and the upper half of Latin 1 stand for themselves, between them are punctuation and some letters.
fn code(letter: char) -> Option<u8> {
    const BETWEEN: &str = "€\u{81}‚ƒ„…†‡ˆ‰Š‹Œ\u{8d}Ž\u{8f}\u{90}‘’“”•–—˜™š›œ\u{9d}žŸ";
    match letter as u32 {
        own @ (0x20..0x7f | 0xa0..0x100) => u8::try_from(own).ok(),
        _ => {
            let place = BETWEEN.chars().position(|other| other == letter)?;
            u8::try_from(0x80 + place).ok()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn latin(content: &str) -> Vec<u8> {
        let runs = set(content, false).runs;
        assert!(
            runs.iter().all(|(face, _)| *face == Face::Latin),
            "{content}"
        );
        runs.into_iter().flat_map(|(_, bytes)| bytes).collect()
    }

    /// Codes of ISO 32000-1, table D.2 (from memory): degree 0xB0, plus-minus 0xB1, micro 0xB5, middle dot 0xB7, ellipsis 0x85,
    /// en dash 0x96, Euro 0x80, Y with dots 0x9F.
    #[test]
    fn letters_have_their_published_codes() {
        assert_eq!(
            latin("°±µ·…–€Ÿ"),
            [0xb0, 0xb1, 0xb5, 0xb7, 0x85, 0x96, 0x80, 0x9f]
        );
        assert_eq!(latin("plate (V1)"), b"plate (V1)");
    }

    /// Omega is 0x57 in the code of Symbol, the arrow to the right 0xAE (ISO 32000-1, annex D.5, from memory).
    #[test]
    fn ohms_and_arrows_are_single_letters_of_their_natural_width() {
        let resistor = set("82 kΩ, 1 %", true);
        let expected = [
            (Face::Latin, b"82 k".to_vec()),
            (Face::Symbol, vec![0x57]),
            (Face::Latin, b", 1 %".to_vec()),
        ];
        assert_eq!(resistor.runs, expected);
        assert!((resistor.stretch - 1.0).abs() < 1e-9, "{resistor:?}");
        assert_eq!(set("a→b", false).runs[1], (Face::Symbol, vec![0xae]));
    }

    #[test]
    fn what_both_codes_lack_is_written_out_in_the_same_width() {
        let checked = set("✓ V1", false);
        assert_eq!(checked.runs, [(Face::Latin, b"ok V1".to_vec())]);
        let natural = text_width("ok V1", 1.0, false);
        assert!((checked.stretch * natural - text_width("✓ V1", 1.0, false)).abs() < 1e-9);
        assert_eq!(latin("\u{2212}5 ł"), b"\x965 <U+0142>");
        assert_eq!(latin("a\u{7}\nb"), b"a b");
        assert_eq!(set("", false).stretch, 1.0);
    }
}
