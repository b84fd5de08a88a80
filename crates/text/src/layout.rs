//! Tokens to lines: which lines begin a statement, which continue one, and how deep each stands.

use crate::lex::is_space;
use crate::source::Span;
use crate::tree::{MAX_DEPTH, Token, TokenKind};
use std::ops::Range;

/// Columns from one tab stop to the next, and spaces a level in the house layout.
pub(crate) const INDENT: usize = 4;

/// What a line of the file is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum LineKind {
    /// Nothing but space.
    Blank,
    /// Only a comment or stray characters, between statements.
    Comment,
    /// The same, between a line that ends in a comma and its continuation.
    InnerComment,
    /// First line of a statement.
    Begin,
    /// The line before ended in a comma.
    Continue,
}

/// How the indentation of a line that begins a statement was understood.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Placement {
    /// As an enclosing line, or deeper than the line before.
    Even,
    /// As no enclosing line.
    Uneven,
    /// Deeper than [`MAX_DEPTH`] levels.
    TooDeep,
}

/// A line of the file, without its line end.
pub(crate) struct Line {
    pub(crate) kind: LineKind,
    pub(crate) tokens: Range<usize>,
    /// Levels of indentation in the house layout; below [`MAX_DEPTH`] for a line that begins a statement.
    pub(crate) depth: usize,
    pub(crate) placement: Placement,
}

/// Whether a token says something, so that its line is part of a statement.
pub(crate) fn speaks(kind: TokenKind) -> bool {
    use TokenKind::{Colon, Comma, Note, Symbol, Word};
    matches!(kind, Word | Symbol | Note | Comma | Colon)
}

/// Characters under a span of the file's text.
pub(crate) fn slice(text: &str, span: Span) -> &str {
    &text[span.start as usize..span.end as usize]
}

/// The lines of a file in order.
pub(crate) fn lines(tokens: &[Token], text: &str) -> Vec<Line> {
    let mut lines = Vec::new();
    let mut levels: Vec<usize> = Vec::new();
    let mut after_comma = false;
    for range in ranges(tokens) {
        let line = &tokens[range.clone()];
        let last = line.iter().rev().find(|token| speaks(token.kind));
        let silent = last.is_none();
        let (kind, depth, placement) =
            if silent && line.iter().all(|token| token.kind == TokenKind::Space) {
                (LineKind::Blank, 0, Placement::Even)
            } else if silent && after_comma {
                (LineKind::InnerComment, levels.len(), Placement::Even)
            } else if silent {
                let indent = indent(line, text);
                (
                    LineKind::Comment,
                    levels.iter().filter(|&&level| level < indent).count(),
                    Placement::Even,
                )
            } else if after_comma {
                (LineKind::Continue, levels.len(), Placement::Even)
            } else {
                let placement = place(&mut levels, indent(line, text));
                (LineKind::Begin, levels.len() - 1, placement)
            };
        if let Some(token) = last {
            after_comma = token.kind == TokenKind::Comma;
        }
        lines.push(Line {
            kind,
            tokens: range,
            depth,
            placement,
        });
    }
    lift_comments(&mut lines);
    lines
}

/// Puts a line with this indentation on the stack of open levels.
fn place(levels: &mut Vec<usize>, indent: usize) -> Placement {
    let mut even = indent == 0 || levels.last().is_some_and(|&top| indent > top);
    while let Some(&top) = levels.last()
        && top >= indent
    {
        levels.pop();
        even |= top == indent;
    }
    if levels.len() == MAX_DEPTH {
        // Stands beside the deepest level, whose indentation stays, so that what follows is measured by it.
        return Placement::TooDeep;
    }
    levels.push(indent);
    if even {
        Placement::Even
    } else {
        Placement::Uneven
    }
}

/// A comment belongs to the line below it unless it is indented deeper than that.
fn lift_comments(lines: &mut [Line]) {
    let mut depth_below = 0;
    for line in lines.iter_mut().rev() {
        match line.kind {
            LineKind::Begin => depth_below = line.depth,
            LineKind::Comment => line.depth = line.depth.max(depth_below),
            LineKind::Blank | LineKind::InnerComment | LineKind::Continue => {}
        }
    }
}

/// Token ranges of the lines, line ends left out; no line after the last line end.
fn ranges(tokens: &[Token]) -> Vec<Range<usize>> {
    let mut ranges = Vec::new();
    let mut start = 0;
    for (idx, token) in tokens.iter().enumerate() {
        if token.kind == TokenKind::Newline {
            ranges.push(start..idx);
            start = idx + 1;
        }
    }
    if start < tokens.len() {
        ranges.push(start..tokens.len());
    }
    ranges
}

/// Column of the first token that is not space; a tab goes to the next multiple of [`INDENT`].
fn indent(line: &[Token], text: &str) -> usize {
    let Some(first) = line.first().filter(|token| token.kind == TokenKind::Space) else {
        return 0;
    };
    slice(text, first.span)
        .chars()
        .fold(0, |column, c| match c {
            '\t' => (column / INDENT + 1) * INDENT,
            '\u{feff}' => column,
            c => column + usize::from(is_space(c)),
        })
}
