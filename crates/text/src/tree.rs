//! The lossless tree of a file.
//!
//! A file is a list of *statements*. A statement is one line (a line that ends in a comma goes on in the next),
//! and the more deeply indented lines after it are its children. A line is words, split by commas into *phrases*;
//! a colon parts the *head* (what kind of thing, which defaults) from the *body* (the things themselves):
//!
//! ```text
//! diodes 1N4148: CR1 a to join, CR2 b to join     # head: 1 phrase; body: 2 phrases
//! units last 1 to 4, latch, from V11              # head: 3 phrases; no body
//!     each: d gauge, q last                       # a child
//! ```
//!
//! The token list covers every byte, so that joining the token texts gives back the file exactly.

use crate::diagnostic::Diagnostic;
use crate::layout::{self, Line, LineKind, Placement};
use crate::lex::{self, Complaints, is_stray};
use crate::source::{FileId, Span};

/// What a token is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TokenKind {
    /// A run without spaces and marks: a name, a keyword, a quantity.
    Word,
    /// One of `( ) =`, kept as a word of its own in phrases.
    Symbol,
    /// `,`
    Comma,
    /// `:`
    Colon,
    /// `[ ... ]` on one line: where a value comes from.
    Note,
    /// `# ...` to the end of the line.
    Comment,
    /// Spaces, tabs and the byte-order mark.
    Space,
    /// `\n`, with the carriage returns before it if there are any.
    Newline,
    /// Bytes that mean nothing here (control characters, an unclosed bracket); reported.
    Stray,
}

/// One token; tokens follow one another without a gap.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Token {
    /// What it is.
    pub kind: TokenKind,
    /// Where it stands.
    pub span: Span,
}

/// A word of a phrase: a [`TokenKind::Word`], [`TokenKind::Symbol`] or [`TokenKind::Note`]
/// (the text of a note is without its brackets).
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Word {
    /// The characters.
    pub text: String,
    /// What it is.
    pub kind: TokenKind,
    /// Where it stands.
    pub span: Span,
}

/// Words between commas; the reader never makes an empty one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Phrase {
    /// The words.
    pub words: Vec<Word>,
    /// From the first word to the last.
    pub span: Span,
}

impl Phrase {
    /// The first word.
    #[must_use]
    pub fn first(&self) -> &Word {
        self.words.first().expect("a phrase is never empty")
    }

    /// Words and symbols as written, notes left out.
    #[must_use]
    pub fn texts(&self) -> Vec<&str> {
        let spoken = self
            .words
            .iter()
            .filter(|word| word.kind != TokenKind::Note);
        spoken.map(|word| word.text.as_str()).collect()
    }

    /// The first note.
    #[must_use]
    pub fn note(&self) -> Option<&Word> {
        self.words.iter().find(|word| word.kind == TokenKind::Note)
    }
}

/// A line with the lines that belong to it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Statement {
    /// Phrases before the colon, at least one; the first word of the first says what kind of statement it is.
    pub head: Vec<Phrase>,
    /// Phrases after the colon; `None` when there is no colon.
    pub body: Option<Vec<Phrase>>,
    /// More deeply indented lines after it.
    pub children: Vec<Statement>,
    /// The line itself, first word to last.
    pub span: Span,
}

impl Statement {
    /// What kind of statement it is: the first word of the head.
    #[must_use]
    pub fn kind(&self) -> &str {
        self.head
            .first()
            .map_or("", |phrase| phrase.first().text.as_str())
    }
}

/// A file as read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tree {
    /// The file.
    pub file: FileId,
    /// Every byte of it.
    pub tokens: Vec<Token>,
    /// What it says.
    pub statements: Vec<Statement>,
}

/// Deepest nesting of indented lines; chosen, because a design needs four and recursion must be bounded.
pub const MAX_DEPTH: usize = 16;

/// Reads a file. Never fails: returns what was understood and everything that was not.
///
/// Work is linear in the length of the text; nesting deeper than [`MAX_DEPTH`] is reported and flattened.
/// Of one kind of problem at most 50 places are listed, and the rest counted.
#[must_use]
pub fn read(file: FileId, text: &str) -> (Tree, Vec<Diagnostic>) {
    let mut complaints = Complaints::default();
    let tokens = lex::lex(file, text, &mut complaints);
    let lines = layout::lines(&tokens, text);
    let statements = statements(&tokens, text, &lines, &mut complaints);
    (
        Tree {
            file,
            tokens,
            statements,
        },
        complaints.finish(),
    )
}

/// A statement whose children are still being read; `statement` is `None` where no heading could be read.
struct Open {
    statement: Option<Statement>,
    children: Vec<Statement>,
}

/// Builds the statements from the lines with a stack of the open ones.
fn statements(
    tokens: &[Token],
    text: &str,
    lines: &[Line],
    complaints: &mut Complaints,
) -> Vec<Statement> {
    let mut open = vec![Open {
        statement: None,
        children: Vec::new(),
    }];
    let begins = lines
        .iter()
        .enumerate()
        .filter(|(_, line)| line.kind == LineKind::Begin);
    for (idx, line) in begins {
        let more = lines[idx + 1..]
            .iter()
            .take_while(|later| later.kind != LineKind::Begin);
        let end = more
            .filter(|later| later.kind == LineKind::Continue)
            .last()
            .map_or(line.tokens.end, |later| later.tokens.end);
        let statement = Reader::new(text, complaints).statement(&tokens[line.tokens.start..end]);
        if let Some(statement) = &statement {
            complain_of_placement(line.placement, statement, complaints);
        }
        close(&mut open, line.depth + 1);
        open.push(Open {
            statement,
            children: Vec::new(),
        });
    }
    close(&mut open, 1);
    open.pop().map_or_else(Vec::new, |root| root.children)
}

/// Closes open statements until `keep` are left, each one going to the children of the one around it;
/// where no heading was read its children go there instead.
fn close(open: &mut Vec<Open>, keep: usize) {
    while open.len() > keep {
        let Some(Open {
            statement,
            children,
        }) = open.pop()
        else {
            return;
        };
        let Some(parent) = open.last_mut() else {
            return;
        };
        match statement {
            Some(statement) => parent.children.push(Statement {
                children,
                ..statement
            }),
            None => parent.children.extend(children),
        }
    }
}

fn complain_of_placement(placement: Placement, statement: &Statement, complaints: &mut Complaints) {
    let kind = statement.kind();
    match placement {
        Placement::Even => {}
        Placement::Uneven => complaints.add(
            Diagnostic::caution(
                "uneven-indent",
                statement.span,
                format!("`{kind}` is indented like none of the lines it could belong beside; read as part of the nearest line above that is indented less"),
            )
            .remedy("Indent it exactly like its neighbours; the formatter does it for the whole file."),
        ),
        Placement::TooDeep => complaints.add(
            Diagnostic::fault(
                "too-deep",
                statement.span,
                format!("`{kind}` is nested deeper than {MAX_DEPTH} levels; read as if it stood at level {MAX_DEPTH}"),
            )
            .remedy("Indent it less."),
        ),
    }
}

/// Reads the tokens of one statement.
struct Reader<'a> {
    text: &'a str,
    complaints: &'a mut Complaints,
    head: Vec<Phrase>,
    body: Option<Vec<Phrase>>,
    words: Vec<Word>,
    /// The comma that no word has followed yet.
    comma: Option<Span>,
    /// Whether it was already said that the line has no heading.
    headless: bool,
}

impl<'a> Reader<'a> {
    fn new(text: &'a str, complaints: &'a mut Complaints) -> Self {
        Self {
            text,
            complaints,
            head: Vec::new(),
            body: None,
            words: Vec::new(),
            comma: None,
            headless: false,
        }
    }

    /// The statement without its children, or `None` if it has no heading.
    fn statement(mut self, tokens: &[Token]) -> Option<Statement> {
        for token in tokens {
            match token.kind {
                TokenKind::Word | TokenKind::Symbol | TokenKind::Note => {
                    self.comma = None;
                    self.words.push(self.word(*token));
                }
                TokenKind::Comma => self.comma(token.span),
                TokenKind::Colon => self.colon(token.span),
                TokenKind::Comment | TokenKind::Space | TokenKind::Newline | TokenKind::Stray => {}
            }
        }
        self.end_phrase();
        let span = phrases_span(self.head.iter().chain(self.body.iter().flatten()))?;
        if let Some(comma) = self.comma {
            let message = "the last line ends in a comma, but no line follows to go on with it";
            self.complaints.add(
                Diagnostic::fault("dangling-comma", comma, message)
                    .remedy("Delete the comma, or write what should follow it."),
            );
        }
        let Self { head, body, .. } = self;
        (!head.is_empty()).then_some(Statement {
            head,
            body,
            children: Vec::new(),
            span,
        })
    }

    fn word(&self, token: Token) -> Word {
        let written = layout::slice(self.text, token.span);
        let text = match token.kind {
            TokenKind::Note => {
                let inner = written
                    .strip_prefix('[')
                    .and_then(|inner| inner.strip_suffix(']'))
                    .unwrap_or(written);
                inner.trim().chars().filter(|&c| !is_stray(c)).collect()
            }
            _ => written.to_owned(),
        };
        Word {
            text,
            kind: token.kind,
            span: token.span,
        }
    }

    /// Ends the phrase, if it has any words.
    fn end_phrase(&mut self) {
        let words = std::mem::take(&mut self.words);
        let (Some(first), Some(last)) = (words.first(), words.last()) else {
            return;
        };
        let span = first.span.to(last.span);
        self.body
            .as_mut()
            .unwrap_or(&mut self.head)
            .push(Phrase { words, span });
    }

    fn comma(&mut self, span: Span) {
        let empty = self.words.is_empty();
        if empty {
            if self.head.is_empty() && self.body.is_none() {
                self.no_heading(span, "a comma");
            } else {
                self.empty_place(span);
            }
        }
        self.end_phrase();
        // A comma that was complained of is not complained of again.
        self.comma = (!empty).then_some(span);
    }

    fn colon(&mut self, span: Span) {
        if self.body.is_some() {
            let message = "a second colon on one line: only the first parts the heading from what belongs to it";
            self.complaints.add(
                Diagnostic::fault("second-colon", span, message)
                    .remedy("Put what follows on a line of its own, or separate it by a comma."),
            );
            return;
        }
        self.end_phrase();
        if self.head.is_empty() {
            self.no_heading(span, "a colon");
        } else if let Some(comma) = self.comma.take() {
            self.empty_place(comma);
        }
        self.body = Some(Vec::new());
    }

    fn empty_place(&mut self, comma: Span) {
        let before = self
            .body
            .as_ref()
            .and_then(|body| body.last())
            .or(self.head.last());
        let after = before
            .and_then(|phrase| phrase.words.last())
            .map_or_else(String::new, |word| format!(" after `{}`", word.text));
        let message = format!("nothing stands beside this comma{after}");
        self.complaints.add(
            Diagnostic::fault("empty-place", comma, message)
                .remedy("Delete the comma, or write what is missing."),
        );
    }

    fn no_heading(&mut self, span: Span, mark: &str) {
        if std::mem::replace(&mut self.headless, true) {
            return;
        }
        let message =
            format!("the line begins with {mark}: it does not say what kind of thing it is about");
        self.complaints.add(
            Diagnostic::fault("no-heading", span, message)
                .remedy("Write the kind of thing first, as in `resistors: R1 33k a to b`."),
        );
    }
}

fn phrases_span<'a>(mut phrases: impl Iterator<Item = &'a Phrase>) -> Option<Span> {
    let first = phrases.next()?.span;
    Some(phrases.fold(first, |span, phrase| span.to(phrase.span)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::samples;
    use proptest::prelude::*;

    /// The statements in brief: phrases by commas, body after a colon, children in braces.
    fn brief(statements: &[Statement]) -> String {
        let phrases = |phrases: &[Phrase]| {
            phrases
                .iter()
                .map(|phrase| phrase.texts().join(" "))
                .collect::<Vec<_>>()
                .join(",")
        };
        let one = |statement: &Statement| {
            let body = statement
                .body
                .as_ref()
                .map_or_else(String::new, |body| format!(":{}", phrases(body)));
            let children = if statement.children.is_empty() {
                String::new()
            } else {
                format!("{{{}}}", brief(&statement.children))
            };
            format!("{}{body}{children}", phrases(&statement.head))
        };
        statements.iter().map(one).collect::<Vec<_>>().join(";")
    }

    fn check(text: &str, expected: &str, diagnostics: &[(&str, &str)]) {
        let (tree, found) = read(FileId(0), text);
        let joined: String = tree
            .tokens
            .iter()
            .map(|token| layout::slice(text, token.span))
            .collect();
        assert_eq!(joined, text);
        assert_eq!(brief(&tree.statements), expected, "{text:?}");
        let found: Vec<_> = found
            .iter()
            .map(|d| (d.name, d.span.map_or("", |span| layout::slice(text, span))))
            .collect();
        assert_eq!(found, diagnostics, "{text:?}");
    }

    #[test]
    fn lines_words_and_children() {
        check("", "", &[]);
        check(
            "diodes 1N4148: CR1 a to join, CR2 b to join # anode first\n",
            "diodes 1N4148:CR1 a to join,CR2 b to join",
            &[],
        );
        check(
            "units last 1 to 4, latch\n    each: d gauge\n\n    all: open\nrail",
            "units last 1 to 4,latch{each:d gauge;all:open};rail",
            &[],
        );
        check("y=not(a or b)", "y = not ( a or b )", &[]);
        check("R1 4.7µ Ω °", "R1 4.7µ Ω °", &[]);
        check("a:\n  b", "a:{b}", &[]);
    }

    #[test]
    fn a_comma_goes_on_in_the_next_line_that_speaks() {
        check("a b,\n# why\n\nc,\n      d\n  e", "a b,c,d{e}", &[]);
        check("a: b, # why\nc", "a:b,c", &[]);
        check("a: b,\n# end", "a:b", &[("dangling-comma", ",")]);
    }

    #[test]
    fn line_ends_tabs_and_byte_order_marks_pass_in_silence() {
        check(
            "\u{feff}a\r\n\tb\r\n    c\r\n  \td\r\n\r\ne",
            "a{b;c;d};e",
            &[],
        );
    }

    #[test]
    fn errors_are_named_and_the_rest_is_read() {
        check("a, , b", "a,b", &[("empty-place", ",")]);
        check("a:, b", "a:b", &[("empty-place", ",")]);
        check("a, : b", "a:b", &[("empty-place", ",")]);
        check("a,,", "a", &[("empty-place", ",")]);
        check("a: b: c", "a:b c", &[("second-colon", ":")]);
        check(", a", "a", &[("no-heading", ",")]);
        check("x\n  : a\n    b\n  c", "x{b;c}", &[("no-heading", ":")]);
        check("a [b\nc", "a;c", &[("unclosed-note", "[b")]);
        check("a ] b", "a b", &[("unclosed-note", "]")]);
        check(
            "a\0\0b \u{7}c\nd\u{fffd}",
            "a b c;d",
            &[("stray-character", "\0\0"), ("stray-character", "\u{fffd}")],
        );
        check(
            "a\n    b\n  c\n  d\ne",
            "a{b;c;d};e",
            &[("uneven-indent", "c")],
        );
        check("  a\n  b", "a;b", &[("uneven-indent", "a")]);
    }

    #[test]
    fn notes_are_words_without_brackets() {
        let (tree, _) = read(FileId(0), "mu 17 [ sheet, page 2: # 3 ] x");
        let phrase = &tree.statements[0].head[0];
        assert_eq!(phrase.texts(), ["mu", "17", "x"]);
        assert_eq!(
            phrase.note().map(|note| note.text.as_str()),
            Some("sheet, page 2: # 3")
        );
        assert_eq!(
            (phrase.first().text.as_str(), tree.statements[0].kind()),
            ("mu", "mu")
        );
    }

    #[test]
    fn a_statement_spans_its_words_over_continuation_lines() {
        let text = "  a b, # c\n  d  \ne";
        let (tree, _) = read(FileId(0), text);
        assert_eq!(
            layout::slice(text, tree.statements[0].span),
            "a b, # c\n  d"
        );
    }

    #[test]
    fn nesting_is_bounded() {
        let text: String = (0..40)
            .map(|level| format!("{}w\n", " ".repeat(level)))
            .collect();
        let (tree, diagnostics) = read(FileId(0), &text);
        let mut deepest = 0;
        let mut here = &tree.statements;
        while let Some(last) = here.last() {
            deepest += 1;
            here = &last.children;
        }
        assert_eq!(deepest, MAX_DEPTH);
        assert_eq!(
            diagnostics.iter().filter(|d| d.name == "too-deep").count(),
            40 - MAX_DEPTH
        );
    }

    #[test]
    fn of_one_problem_fifty_are_listed_and_the_rest_counted() {
        let (_, diagnostics) = read(FileId(0), &"a\u{1}\n".repeat(70));
        assert_eq!(diagnostics.len(), 51);
        assert!(
            diagnostics[50].message.starts_with("20 more"),
            "{}",
            diagnostics[50].message
        );
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2000))]

        #[test]
        fn the_tokens_cover_every_byte_and_every_place_is_real(text in samples::text()) {
            let (tree, diagnostics) = read(FileId(0), &text);
            let joined: String = tree.tokens.iter().map(|token| layout::slice(&text, token.span)).collect();
            prop_assert_eq!(&joined, &text);
            for span in diagnostics.iter().filter_map(|diagnostic| diagnostic.span) {
                prop_assert!(!layout::slice(&text, span).is_empty());
            }
        }

        #[test]
        fn no_word_is_lost_except_under_a_missing_heading(text in samples::text()) {
            fn words(statements: &[Statement]) -> usize {
                let phrases = |s: &Statement| s.head.iter().chain(s.body.iter().flatten()).map(|p| p.words.len()).sum::<usize>();
                statements.iter().map(|s| phrases(s) + words(&s.children)).sum()
            }
            let (tree, diagnostics) = read(FileId(0), &text);
            let kinds = [TokenKind::Word, TokenKind::Symbol, TokenKind::Note];
            let written = tree.tokens.iter().filter(|token| kinds.contains(&token.kind)).count();
            let read = words(&tree.statements);
            let headless = diagnostics.iter().any(|diagnostic| diagnostic.name == "no-heading");
            prop_assert!(read == written || (headless && read < written), "{} of {}", read, written);
        }
    }
}
