//! Texts in the letters that the fonts of every PDF reader have.

use crate::draw::width::text_width;

/// A text in the code of `WinAnsiEncoding` (ISO 32000-1, annex D.2), with the share by which it is set wider than the
/// fonts have it, so that it takes the width that [`text_width`] gives for the text as it was.
#[derive(Debug, Clone, PartialEq)]
pub struct Letters {
    /// One byte a letter.
    pub bytes: Vec<u8>,
    /// 1 for a text of which every letter is known.
    pub stretch: f64,
}

/// Sets a text. Letters that the code does not have are written out (`Ω` as `ohm`), never left out; control characters are
/// no letters, and line ends count as spaces.
#[must_use]
pub fn set(content: &str) -> Letters {
    let mut plain = String::with_capacity(content.len());
    for letter in content.chars() {
        match letter {
            '\t' | '\n' | '\r' => plain.push(' '),
            _ if letter.is_control() => {}
            _ if code(letter).is_some() => plain.push(letter),
            _ => plain.push_str(&written_out(letter)),
        }
    }
    let (wanted, natural) = (
        text_width(content, 1.0, false),
        text_width(&plain, 1.0, false),
    );
    Letters {
        bytes: plain.chars().filter_map(code).collect(),
        stretch: if 0.0 < natural { wanted / natural } else { 1.0 },
    }
}

/// What stands for a letter that the code does not have.
fn written_out(letter: char) -> String {
    let known = match letter {
        // Longer than a hyphen, as a minus sign is.
        '\u{2212}' => "–",
        'Ω' | '\u{2126}' => "ohm",
        'μ' => "µ",
        '\u{2007}' | '\u{2009}' | '\u{202f}' => " ",
        '→' => "->",
        '←' => "<-",
        '↑' => "up",
        '↓' => "down",
        '≈' => "~",
        '≤' => "<=",
        '≥' => ">=",
        '≠' => "/=",
        '∞' => "infinite",
        '∆' | 'Δ' => "delta ",
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

    /// Codes of ISO 32000-1, table D.2 (from memory): degree 0xB0, plus-minus 0xB1, micro 0xB5, middle dot 0xB7, ellipsis 0x85,
    /// en dash 0x96, Euro 0x80, Y with dots 0x9F.
    #[test]
    fn letters_have_their_published_codes() {
        assert_eq!(
            set("°±µ·…–€Ÿ").bytes,
            [0xb0, 0xb1, 0xb5, 0xb7, 0x85, 0x96, 0x80, 0x9f]
        );
        assert_eq!(set("plate (V1)").bytes, b"plate (V1)");
    }

    #[test]
    fn what_the_code_lacks_is_written_out_in_the_same_width() {
        let resistor = set("82 kΩ");
        assert_eq!(resistor.bytes, b"82 kohm");
        assert!(
            (resistor.stretch * text_width("82 kohm", 1.0, false)
                - text_width("82 kΩ", 1.0, false))
            .abs()
                < 1e-9
        );
        assert_eq!(set("\u{2212}5 → ł").bytes, b"\x965 -> <U+0142>");
        assert_eq!(set("a\u{7}\nb").bytes, b"a b");
        assert_eq!(set("").stretch, 1.0);
    }
}
