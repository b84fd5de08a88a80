//! Running text broken into lines.

use unicode_width::UnicodeWidthStr;

/// Narrowest text column; on a narrower terminal the terminal itself breaks the lines.
const NARROWEST: usize = 20;

/// Breaks a text at spaces into lines of at most `width` columns, every line after `indent` spaces. Words that are longer
/// stay whole. Control characters are left out. Ends with a line end; an empty text gives nothing.
pub(super) fn paragraph(text: &str, indent: usize, width: usize) -> String {
    hanging("", text, indent, width)
}

/// The same with `head` before the first word, and the further lines set in below the text.
pub(super) fn hanging(head: &str, text: &str, indent: usize, width: usize) -> String {
    let inner = indent + head.width();
    let room = width.saturating_sub(inner).max(NARROWEST);
    let mut out = String::new();
    let mut line = String::new();
    let mut before = format!("{}{head}", " ".repeat(indent));
    let mut flush = |line: &mut String| {
        out.push_str(&before);
        out.push_str(line);
        out.push('\n');
        line.clear();
        before = " ".repeat(inner);
    };
    for word in bound(text) {
        if !line.is_empty() && room < line.width() + 1 + word.width() {
            flush(&mut line);
        }
        if !line.is_empty() {
            line.push(' ');
        }
        line.push_str(&word);
    }
    if !line.is_empty() {
        flush(&mut line);
    }
    out
}

/// Words without control characters; a number and the word behind it, most often its unit, count as one.
fn bound(text: &str) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    let mut number_before = false;
    for word in text.split_whitespace() {
        let word: String = word.chars().filter(|letter| !letter.is_control()).collect();
        let number = word.chars().any(|letter| letter.is_ascii_digit())
            && word
                .chars()
                .all(|letter| letter.is_ascii_digit() || "+-−.±".contains(letter));
        match words.last_mut() {
            Some(last) if number_before && !number => {
                last.push(' ');
                last.push_str(&word);
            }
            _ => words.push(word),
        }
        number_before = number;
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_hang_below_their_head_and_keep_long_words() {
        let text = hanging(
            "Try: ",
            "one two three averyveryverylongwordindeed x",
            2,
            27,
        );
        assert_eq!(
            text,
            "  Try: one two three\n       averyveryverylongwordindeed\n       x\n"
        );
        assert_eq!(paragraph("", 4, 80), "");
        assert_eq!(paragraph("a\u{1b}[31mb", 0, 80), "a[31mb\n");
    }
}
