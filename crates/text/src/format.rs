//! The formatter: the same words in the house layout.

use crate::layout::{self, INDENT, Line, LineKind};
use crate::tree::{Token, TokenKind, Tree};

/// Widest line whose comment is aligned with its neighbours'; chosen, because a wider one would push them off the page.
const ALIGNED_WIDTH: usize = 100;

/// Lays the file out: four spaces a level, one space between words, `, ` and `: `, comments kept
/// (two spaces before a comment that ends a line, neighbouring ones aligned), at most one blank line together.
/// A line that goes on after a comma stays a line of its own, one level deeper. Line ends are those of the first line.
/// Formatting twice changes nothing more, and the statements read the same before and after.
#[must_use]
pub fn format(tree: &Tree, text: &str) -> String {
    let lines = layout::lines(&tree.tokens, text);
    let mut rows: Vec<Row> = lines
        .iter()
        .map(|line| Row::new(line, &tree.tokens[line.tokens.clone()], text))
        .collect();
    rows.dedup_by(|row, before| row.is_blank() && before.is_blank());
    align(&mut rows);
    let first_newline = tree
        .tokens
        .iter()
        .find(|token| token.kind == TokenKind::Newline);
    let newline = if first_newline.is_some_and(|token| layout::slice(text, token.span).len() > 1) {
        "\r\n"
    } else {
        "\n"
    };
    let start = usize::from(rows.first().is_some_and(Row::is_blank));
    let end =
        rows.len() - usize::from(rows.len() > start && rows.last().is_some_and(Row::is_blank));
    let mut out = String::with_capacity(text.len());
    for row in &rows[start..end] {
        row.write(&mut out);
        out.push_str(newline);
    }
    out
}

/// One line of the house layout.
struct Row<'a> {
    indent: usize,
    code: String,
    comment: &'a str,
    /// Column of a comment after code.
    comment_column: usize,
}

impl<'a> Row<'a> {
    fn new(line: &Line, tokens: &[Token], text: &'a str) -> Self {
        let indent = if line.kind == LineKind::Blank {
            0
        } else {
            line.depth * INDENT
        };
        let comment = tokens.iter().find(|token| token.kind == TokenKind::Comment);
        let comment = comment.map_or("", |token| layout::slice(text, token.span).trim_end());
        Self {
            indent,
            code: code(tokens, text),
            comment,
            comment_column: 0,
        }
    }

    fn is_blank(&self) -> bool {
        self.code.is_empty() && self.comment.is_empty()
    }

    fn width(&self) -> usize {
        self.indent + self.code.chars().count()
    }

    /// Whether its comment stands under or above those of its neighbours.
    fn aligns(&self) -> bool {
        !self.code.is_empty() && !self.comment.is_empty() && self.width() <= ALIGNED_WIDTH
    }

    fn write(&self, out: &mut String) {
        if self.is_blank() {
            return;
        }
        pad(out, self.indent);
        out.push_str(&self.code);
        if !self.comment.is_empty() {
            if !self.code.is_empty() {
                pad(out, self.comment_column.saturating_sub(self.width()).max(2));
            }
            out.push_str(self.comment);
        }
    }
}

fn pad(out: &mut String, count: usize) {
    out.extend(std::iter::repeat_n(' ', count));
}

/// Gives neighbouring lines with comments one comment column.
fn align(rows: &mut [Row]) {
    for run in rows.chunk_by_mut(|row, next| row.aligns() && next.aligns()) {
        let widest = run.iter().map(Row::width).max().unwrap_or(0);
        for row in run {
            row.comment_column = widest + 2;
        }
    }
}

/// The words and marks of a line in house spacing, comment left out.
fn code(tokens: &[Token], text: &str) -> String {
    let mut out = String::new();
    let mut before: Option<&Token> = None;
    let mut spaced = false;
    for token in tokens {
        if token.kind == TokenKind::Comment {
            break;
        }
        if token.kind == TokenKind::Space {
            spaced = true;
            continue;
        }
        if before.is_some_and(|before| space_between(before, token, spaced, text)) {
            out.push(' ');
        }
        out.push_str(layout::slice(text, token.span));
        (before, spaced) = (Some(token), false);
    }
    // A stray carriage return at the end must not become part of the line end.
    out.truncate(out.trim_end().len());
    out
}

/// Whether a space stands between two tokens; beside stray characters only where there was one.
fn space_between(before: &Token, after: &Token, spaced: bool, text: &str) -> bool {
    if before.kind == TokenKind::Stray || after.kind == TokenKind::Stray {
        return spaced;
    }
    let opens = layout::slice(text, before.span) == "(";
    let closes = layout::slice(text, after.span) == ")";
    !opens && !closes && !matches!(after.kind, TokenKind::Comma | TokenKind::Colon)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::samples;
    use crate::source::FileId;
    use crate::tree::{self, Phrase, Statement};
    use proptest::prelude::*;

    fn formatted(text: &str) -> String {
        format(&tree::read(FileId(0), text).0, text)
    }

    #[test]
    fn the_house_layout() {
        for (text, expected) in [
            ("", ""),
            ("\n\n", ""),
            ("a", "a\n"),
            ("\n\na\n\n\n\nb\n\n", "a\n\nb\n"),
            ("y=not(a  or b) ,c:d\n", "y = not (a or b), c: d\n"),
            ("a\n\tb\n\t  c\n d\n", "a\n    b\n        c\n    d\n"),
            (
                "a b,\nc,  # why\n# more\nd\n",
                "a b,\n    c,  # why\n    # more\n    d\n",
            ),
            (
                "a # x\nlong words   # y\n\nb# z\n",
                "a           # x\nlong words  # y\n\nb  # z\n",
            ),
            (
                "a\n# of b\n    b\n    # last of a\nc\n",
                "a\n    # of b\n    b\n    # last of a\nc\n",
            ),
            ("mu 17[ sheet:  2 ]", "mu 17 [ sheet:  2 ]\n"),
            ("\u{feff}a\r\n  b\r\n", "a\r\n    b\r\n"),
            (": a\n  b [c  d\n", ": a\n    b [c  d\n"),
        ] {
            assert_eq!(formatted(text), expected, "{text:?}");
        }
    }

    #[test]
    fn a_very_long_line_does_not_push_its_neighbours_comments_away() {
        let long = "w".repeat(ALIGNED_WIDTH + 1);
        assert_eq!(
            formatted(&format!("a # x\n{long} # y\n")),
            format!("a  # x\n{long}  # y\n")
        );
    }

    /// What statements say, without where.
    fn said(statements: &[Statement]) -> String {
        let phrases = |phrases: &[Phrase]| -> Vec<Vec<(String, TokenKind)>> {
            let words = |phrase: &Phrase| {
                phrase
                    .words
                    .iter()
                    .map(|word| (word.text.clone(), word.kind))
                    .collect()
            };
            phrases.iter().map(words).collect()
        };
        let one = |s: &Statement| {
            format!(
                "{:?}:{:?}{{{}}}",
                phrases(&s.head),
                s.body.as_deref().map(phrases),
                said(&s.children)
            )
        };
        statements.iter().map(one).collect()
    }

    fn texts(text: &str, kind: TokenKind) -> Vec<String> {
        let (tree, _) = tree::read(FileId(0), text);
        let tokens = tree.tokens.iter().filter(|token| token.kind == kind);
        tokens
            .map(|token| layout::slice(text, token.span).trim_end().to_owned())
            .collect()
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2000))]

        #[test]
        fn formatting_keeps_what_is_said_and_settles_at_once(text in samples::text()) {
            let once = formatted(&text);
            prop_assert_eq!(&formatted(&once), &once);
            prop_assert_eq!(said(&tree::read(FileId(0), &text).0.statements), said(&tree::read(FileId(0), &once).0.statements));
            for kind in [TokenKind::Comment, TokenKind::Note] {
                prop_assert_eq!(texts(&text, kind), texts(&once, kind));
            }
            prop_assert!(once.is_empty() || (once.ends_with('\n') && !once.ends_with("\n\n")));
        }
    }
}
