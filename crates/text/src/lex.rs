//! Text to tokens: one pass, no look-back, every byte in exactly one token.

use crate::diagnostic::Diagnostic;
use crate::source::{FileId, Span};
use crate::tree::{Token, TokenKind};

/// Most diagnostics of one name per file; chosen, because nobody reads more before mending the first.
pub(crate) const SHOWN_PER_NAME: usize = 50;

/// Diagnostics of one file, with a bound on how many of one name are kept; the rest is counted.
#[derive(Default)]
pub(crate) struct Complaints {
    kept: Vec<Diagnostic>,
    tallies: Vec<Tally>,
}

struct Tally {
    name: &'static str,
    count: usize,
    first_unlisted: Option<Diagnostic>,
}

impl Complaints {
    /// Keeps or counts a diagnostic.
    pub(crate) fn add(&mut self, diagnostic: Diagnostic) {
        let name = diagnostic.name;
        let idx = self
            .tallies
            .iter()
            .position(|tally| tally.name == name)
            .unwrap_or_else(|| {
                self.tallies.push(Tally {
                    name,
                    count: 0,
                    first_unlisted: None,
                });
                self.tallies.len() - 1
            });
        let tally = &mut self.tallies[idx];
        tally.count += 1;
        if tally.count <= SHOWN_PER_NAME {
            self.kept.push(diagnostic);
        } else if tally.first_unlisted.is_none() {
            tally.first_unlisted = Some(diagnostic);
        }
    }

    /// Everything in order of place, with one diagnostic for each name that was cut short.
    pub(crate) fn finish(mut self) -> Vec<Diagnostic> {
        for tally in self.tallies {
            if let Some(first) = tally.first_unlisted {
                let message = format!(
                    "{} more places like the ones above begin here",
                    tally.count - SHOWN_PER_NAME
                );
                let rest = Diagnostic::new(tally.name, first.severity, first.span, message);
                self.kept
                    .push(rest.remedy("Mend the listed ones first; the others may go with them."));
            }
        }
        self.kept
            .sort_by_key(|diagnostic| diagnostic.span.map(|span| span.start));
        self.kept
    }
}

/// Cuts `text` into tokens that follow one another without a gap.
pub(crate) fn lex(file: FileId, text: &str, complaints: &mut Complaints) -> Vec<Token> {
    let mut lexer = Lexer {
        file,
        text,
        complaints,
        stray_on_line: false,
    };
    let mut tokens = Vec::with_capacity(text.len() / 4);
    let mut start = 0;
    while let Some(first) = text[start..].chars().next() {
        let (kind, len) = lexer.token(start, first);
        tokens.push(Token {
            kind,
            span: lexer.span(start, start + len),
        });
        start += len;
    }
    tokens
}

struct Lexer<'a> {
    file: FileId,
    text: &'a str,
    complaints: &'a mut Complaints,
    stray_on_line: bool,
}

impl Lexer<'_> {
    /// Kind and length in bytes of the token that starts at `start` with the character `first`.
    fn token(&mut self, start: usize, first: char) -> (TokenKind, usize) {
        let rest = &self.text[start..];
        if let Some(len) = newline_len(rest) {
            self.stray_on_line = false;
            return (TokenKind::Newline, len);
        }
        match first {
            ',' => (TokenKind::Comma, 1),
            ':' => (TokenKind::Colon, 1),
            '(' | ')' | '=' => (TokenKind::Symbol, 1),
            '#' => (TokenKind::Comment, line_len(rest)),
            '[' => self.note(start),
            ']' => {
                let message = "`]` closes a note that was never opened";
                let diagnostic =
                    Diagnostic::fault("unclosed-note", self.span(start, start + 1), message);
                self.complaints
                    .add(diagnostic.remedy("Delete it, or put `[` where the note begins."));
                (TokenKind::Stray, 1)
            }
            _ if is_space(first) => (TokenKind::Space, run_len(rest, is_space)),
            _ if is_stray(first) => self.stray(start, first),
            _ => (TokenKind::Word, run_len(rest, is_word)),
        }
    }

    /// A note up to its `]`; without one on this line, the rest of the line is stray.
    fn note(&mut self, start: usize) -> (TokenKind, usize) {
        let line = &self.text[start..start + line_len(&self.text[start..])];
        if let Some(end) = line.find(']') {
            return (TokenKind::Note, end + 1);
        }
        let len = line.trim_end().len();
        let message = "the note that begins with `[` is not closed on its line";
        let diagnostic = Diagnostic::fault("unclosed-note", self.span(start, start + len), message);
        self.complaints.add(diagnostic.remedy(
            "Close it with `]` on the same line; a long note goes on in a second `[...]`.",
        ));
        (TokenKind::Stray, len)
    }

    /// A run of characters that mean nothing; reported once a line.
    fn stray(&mut self, start: usize, first: char) -> (TokenKind, usize) {
        let rest = &self.text[start..];
        // A carriage return that belongs to the line end is no part of the run.
        let len = rest
            .char_indices()
            .find(|&(at, c)| !is_stray(c) || (c == '\r' && newline_len(&rest[at..]).is_some()))
            .map_or(rest.len(), |(at, _)| at);
        if !self.stray_on_line {
            self.stray_on_line = true;
            let message = if first == char::REPLACEMENT_CHARACTER {
                "a character was lost here (U+FFFD): some program saved the file in another encoding".to_owned()
            } else {
                format!(
                    "the invisible character U+{:04X} means nothing in a design",
                    u32::from(first)
                )
            };
            let diagnostic =
                Diagnostic::fault("stray-character", self.span(start, start + len), message);
            self.complaints
                .add(diagnostic.remedy("Delete it and type what was meant."));
        }
        (TokenKind::Stray, len)
    }

    fn span(&self, start: usize, end: usize) -> Span {
        span(self.file, start, end)
    }
}

/// A span from byte counts.
fn span(file: FileId, start: usize, end: usize) -> Span {
    let byte = |at: usize| u32::try_from(at).expect("a file is shorter than 4 GB");
    Span {
        file,
        start: byte(start),
        end: byte(end),
    }
}

/// Length of the line end at the front: `\n` with any carriage returns before it.
fn newline_len(rest: &str) -> Option<usize> {
    // Two are enough: some editors write `\r\r\n`, and a bound keeps the work linear.
    (0..=2)
        .find(|&returns| {
            rest.as_bytes().get(returns) == Some(&b'\n')
                && rest.as_bytes()[..returns].iter().all(|&b| b == b'\r')
        })
        .map(|returns| returns + 1)
}

/// Bytes before the line end.
fn line_len(rest: &str) -> usize {
    let line = rest.split_once('\n').map_or(rest, |(line, _)| line);
    if line.len() == rest.len() {
        return line.len();
    }
    let returns = line
        .bytes()
        .rev()
        .take(2)
        .take_while(|&b| b == b'\r')
        .count();
    line.len() - returns
}

fn run_len(rest: &str, belongs: fn(char) -> bool) -> usize {
    rest.find(|c| !belongs(c)).unwrap_or(rest.len())
}

/// Spaces, tabs and the byte-order mark, whose name in Unicode is "zero width no-break space".
pub(crate) fn is_space(c: char) -> bool {
    c == '\t' || c == '\u{feff}' || (c.is_whitespace() && !c.is_control())
}

/// Control characters, lost characters, and format characters that would make two names look alike.
pub(crate) fn is_stray(c: char) -> bool {
    let invisible = matches!(c, '\u{ad}' | '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{206f}');
    !matches!(c, '\t' | '\n') && (c.is_control() || c == char::REPLACEMENT_CHARACTER || invisible)
}

fn is_word(c: char) -> bool {
    !matches!(c, '\n' | ',' | ':' | '(' | ')' | '=' | '#' | '[' | ']')
        && !is_space(c)
        && !is_stray(c)
}
