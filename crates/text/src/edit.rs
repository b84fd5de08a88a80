//! Changing one value and leaving every other byte alone.

use crate::source::Span;

/// Replaces the bytes under `span` by `new`; every other byte stays.
#[must_use]
pub fn replace(text: &str, span: Span, new: &str) -> String {
    let mut out = String::with_capacity(text.len() + new.len());
    out.push_str(&text[..span.start as usize]);
    out.push_str(new);
    out.push_str(&text[span.end as usize..]);
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layout;
    use crate::samples;
    use crate::source::FileId;
    use crate::tree::{self, Token, TokenKind};
    use proptest::prelude::*;

    #[test]
    fn every_other_byte_stays() {
        let text = "R1\t 33k ,  # µ\r\n";
        let span = Span {
            file: FileId(0),
            start: 4,
            end: 7,
        };
        assert_eq!(replace(text, span, "4k7"), "R1\t 4k7 ,  # µ\r\n");
        assert_eq!(
            replace(text, Span { end: 4, ..span }, "µ"),
            "R1\t µ33k ,  # µ\r\n"
        );
    }

    proptest! {
        #[test]
        fn another_word_leaves_every_other_token_as_it_was(text in samples::text(), pick: prop::sample::Index, new in "[a-z0-9.µ]{1,6}") {
            let (tree, _) = tree::read(FileId(0), &text);
            let words: Vec<usize> = (0..tree.tokens.len()).filter(|&idx| tree.tokens[idx].kind == TokenKind::Word).collect();
            prop_assume!(!words.is_empty());
            let changed = *pick.get(&words);
            let after = replace(&text, tree.tokens[changed].span, &new);
            let (tree_after, _) = tree::read(FileId(0), &after);
            let texts = |tokens: &[Token], text: &str| -> Vec<String> {
                tokens.iter().map(|token| layout::slice(text, token.span).to_owned()).collect()
            };
            let mut expected = texts(&tree.tokens, &text);
            expected[changed] = new;
            prop_assert_eq!(texts(&tree_after.tokens, &after), expected);
        }
    }
}
