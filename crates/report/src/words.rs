//! The reader's choice of words: tube or valve, plate or anode.

/// Which words the reader uses. The project writes tube and plate; text is turned over where it is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Wording {
    /// Say valve for tube.
    pub valve: bool,
    /// Say anode for plate.
    pub anode: bool,
}

impl Wording {
    /// The text in the reader's words, article and capitals included.
    ///
    /// Only whole words change. What stands in backquotes is someone's text and stays, as does a word that a dot, an
    /// underscore or a digit joins to a name (`tube.2`). Not to be used on excerpts of files and names of parts.
    #[must_use]
    pub fn apply(&self, text: &str) -> String {
        if !self.valve && !self.anode {
            return text.to_owned();
        }
        let mut out = String::with_capacity(text.len());
        let mut quoted = false;
        let mut rest = text;
        while let Some(first) = rest.chars().next() {
            let length = word_length(rest);
            if length == 0 {
                quoted ^= first == '`';
                out.push(first);
                rest = &rest[first.len_utf8()..];
                continue;
            }
            let (word, after) = rest.split_at(length);
            match self.other(word) {
                Some(other) if !quoted => {
                    if starts_with_vowel(other) && !starts_with_vowel(word) {
                        mend_article(&mut out);
                    }
                    out.push_str(&in_capitals_of(word, other));
                }
                _ => out.push_str(word),
            }
            rest = after;
        }
        out
    }

    /// The other word for one that the reader does not use.
    fn other(self, word: &str) -> Option<&'static str> {
        let word = word.to_lowercase();
        match word.as_str() {
            "tube" if self.valve => Some("valve"),
            "tubes" if self.valve => Some("valves"),
            "plate" if self.anode => Some("anode"),
            "plates" if self.anode => Some("anodes"),
            _ => None,
        }
    }
}

/// Bytes of the word at the beginning of the text: letters, digits and underscores, with dots that join them.
fn word_length(text: &str) -> usize {
    let joins = |letter: char| letter.is_alphanumeric() || letter == '_';
    let mut length = 0;
    let mut letters = text.char_indices().peekable();
    while let Some((at, letter)) = letters.next() {
        let inside = letter == '.' && 0 < at && letters.peek().is_some_and(|next| joins(next.1));
        if !joins(letter) && !inside {
            break;
        }
        length = at + letter.len_utf8();
    }
    length
}

fn starts_with_vowel(word: &str) -> bool {
    word.starts_with(['a', 'e', 'i', 'o', 'u', 'A', 'E', 'I', 'O', 'U'])
}

/// Turns an `a` at the end of the text into `an`.
fn mend_article(out: &mut String) {
    let trimmed = out.trim_end();
    let spaces = out.len() - trimmed.len();
    let is_article = trimmed.ends_with(['a', 'A'])
        && !trimmed[..trimmed.len() - 1]
            .ends_with(|before: char| before.is_alphanumeric() || before == '.');
    if 0 < spaces && is_article {
        out.insert(trimmed.len(), 'n');
    }
}

/// `other` with the capitals of `word`: none, the first, or all.
fn in_capitals_of(word: &str, other: &str) -> String {
    let mut letters = word.chars().map(char::is_uppercase);
    let first = letters.next().unwrap_or(false);
    if first && letters.all(|upper| upper) {
        return other.to_uppercase();
    }
    if first {
        let (head, tail) = other.split_at(1);
        return head.to_uppercase() + tail;
    }
    other.to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    const BOTH: Wording = Wording {
        valve: true,
        anode: true,
    };

    #[test]
    fn the_default_changes_nothing() {
        let text = "A plate, a TUBE and tubes";
        assert_eq!(Wording::default().apply(text), text);
    }

    #[test]
    fn plurals_capitals_and_articles_follow() {
        let valve = Wording {
            valve: true,
            anode: false,
        };
        assert_eq!(
            valve.apply("Tubes: the tube's plate. TUBE"),
            "Valves: the valve's plate. VALVE"
        );
        let anode = Wording {
            valve: false,
            anode: true,
        };
        assert_eq!(
            anode.apply("A plate, a plate; plates of a tube"),
            "An anode, an anode; anodes of a tube"
        );
        assert_eq!(
            BOTH.apply("plate-to-cathode, cold-plate"),
            "anode-to-cathode, cold-anode"
        );
        assert_eq!(
            BOTH.apply("the gamma plate of G1a plate"),
            "the gamma anode of G1a anode"
        );
    }

    #[test]
    fn names_and_quoted_text_stay() {
        let text = "net plate.2 and tube_1 of template, `plate 100V`, V1.plate";
        assert_eq!(BOTH.apply(text), text);
        assert_eq!(BOTH.apply("Ω of the plate. Tube"), "Ω of the anode. Valve");
        assert_eq!(BOTH.apply(""), "");
    }
}
