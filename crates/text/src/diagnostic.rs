//! What the tool has to say about a place in the text.

use crate::source::{FileId, SourceMap, Span};
use annotate_snippets::{Annotation, AnnotationKind, Group, Level, Renderer, Snippet};
use std::fmt::Write as _;

/// Most diagnostics drawn at once; chosen, because more are not read before the first are mended.
const MOST_DRAWN: usize = 40;

/// How much it matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Severity {
    /// For information; changes no verdict.
    Note,
    /// Works, but look at it.
    Caution,
    /// The text cannot be used, or the machine will not work.
    Fault,
}

/// An entry of a catalogue: what a name means. Each crate that gives names to problems has a `CATALOGUE` of these.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Entry {
    /// Stable kebab-case name.
    pub name: &'static str,
    /// One line.
    pub summary: &'static str,
    /// What is checked, how, and what usually mends it.
    pub text: &'static str,
}

/// Longest message, in characters: a word of a text may be megabytes long, and messages quote words.
const LONGEST_MESSAGE: usize = 600;

/// The two ends of a text that is too long, with an ellipsis between.
fn kept_short(text: String) -> String {
    if text.len() <= LONGEST_MESSAGE {
        return text;
    }
    let half = LONGEST_MESSAGE / 2;
    let start: String = text.chars().take(half).collect();
    let mut end: Vec<char> = text.chars().rev().take(half).collect();
    end.reverse();
    format!("{start} … {}", end.into_iter().collect::<String>())
}

/// A problem with the text, with everything needed to mend it.
#[derive(Debug, Clone, PartialEq)]
pub struct Diagnostic {
    /// Stable kebab-case name, expanded by the `explain` command.
    pub name: &'static str,
    /// How much it matters.
    pub severity: Severity,
    /// Where; `None` only when no text exists (a missing file).
    pub span: Option<Span>,
    /// The thing and the two facts that clash, one sentence.
    pub message: String,
    /// What to do, one sentence each.
    pub remedies: Vec<String>,
    /// Other places that matter, each with a word on why.
    pub related: Vec<(Span, String)>,
}

impl Diagnostic {
    /// A fault at a place.
    #[must_use]
    pub fn fault(name: &'static str, span: Span, message: impl Into<String>) -> Self {
        Self::new(name, Severity::Fault, Some(span), message)
    }

    /// A caution at a place.
    #[must_use]
    pub fn caution(name: &'static str, span: Span, message: impl Into<String>) -> Self {
        Self::new(name, Severity::Caution, Some(span), message)
    }

    /// A diagnostic of any kind.
    #[must_use]
    pub fn new(
        name: &'static str,
        severity: Severity,
        span: Option<Span>,
        message: impl Into<String>,
    ) -> Self {
        Self {
            name,
            severity,
            span,
            message: kept_short(message.into()),
            remedies: Vec::new(),
            related: Vec::new(),
        }
    }

    /// Adds what to do.
    #[must_use]
    pub fn remedy(mut self, text: impl Into<String>) -> Self {
        self.remedies.push(kept_short(text.into()));
        self
    }

    /// Adds another place that matters.
    #[must_use]
    pub fn related(mut self, span: Span, text: impl Into<String>) -> Self {
        self.related.push((span, text.into()));
        self
    }
}

/// Draws diagnostics for a terminal, in order of place, each with the lines it is about, the place underlined,
/// the other places that matter and what to do. At most 40 are drawn and the rest counted; empty when there are none.
#[must_use]
pub fn render(diagnostics: &[Diagnostic], sources: &SourceMap, colour: bool) -> String {
    let mut sorted: Vec<&Diagnostic> = diagnostics.iter().collect();
    sorted.sort_by_key(|diagnostic| diagnostic.span);
    let renderer = if colour {
        Renderer::styled()
    } else {
        Renderer::plain()
    };
    let mut out = String::new();
    for diagnostic in sorted.iter().take(MOST_DRAWN) {
        out.push_str(&renderer.render(&[group(diagnostic, sources)]));
        out.push_str("\n\n");
    }
    if let Some(unseen) = sorted
        .len()
        .checked_sub(MOST_DRAWN)
        .filter(|&unseen| unseen > 0)
    {
        let _ = writeln!(out, "and {unseen} more, not shown: mend these first");
    }
    out
}

/// One diagnostic as a drawing: heading, a snippet for each file it touches, remedies.
fn group<'a>(diagnostic: &'a Diagnostic, sources: &'a SourceMap) -> Group<'a> {
    let level = match diagnostic.severity {
        Severity::Fault => Level::ERROR.with_name("fault"),
        Severity::Caution => Level::WARNING.with_name("caution"),
        Severity::Note => Level::NOTE.with_name("note"),
    };
    let mut group = Group::with_title(
        level
            .primary_title(diagnostic.message.as_str())
            .id(diagnostic.name),
    );
    let mut places: Vec<Place> = diagnostic
        .span
        .map(|span| (span, None))
        .into_iter()
        .collect();
    places.extend(
        diagnostic
            .related
            .iter()
            .map(|(span, why)| (*span, Some(why.as_str()))),
    );
    let mut files: Vec<FileId> = Vec::new();
    for (span, _) in &places {
        if !files.contains(&span.file) {
            files.push(span.file);
        }
    }
    for file in files {
        let places: Vec<Place> = places
            .iter()
            .filter(|(span, _)| span.file == file)
            .copied()
            .collect();
        group = group.element(snippet(file, &places, sources));
    }
    group.elements(
        diagnostic
            .remedies
            .iter()
            .map(|remedy| Level::HELP.with_name("remedy").message(remedy.as_str())),
    )
}

/// A place and why it matters; the place of the diagnostic itself needs no why.
type Place<'a> = (Span, Option<&'a str>);

/// The lines of one file from the first of the places to the last.
fn snippet<'a>(
    file: FileId,
    places: &[Place<'a>],
    sources: &'a SourceMap,
) -> Snippet<'a, Annotation<'a>> {
    let source = sources.file(file);
    let text = source.text.as_str();
    let first = places
        .iter()
        .map(|(span, _)| span.start as usize)
        .min()
        .unwrap_or(0);
    let last = places
        .iter()
        .map(|(span, _)| span.end as usize)
        .max()
        .unwrap_or(0);
    // Only these lines are handed on: the work is not that of the whole file for every diagnostic.
    let start = text[..first].rfind('\n').map_or(0, |newline| newline + 1);
    let end = text[last..]
        .find('\n')
        .map_or(text.len(), |newline| last + newline + 1);
    let line = text[..start].bytes().filter(|&byte| byte == b'\n').count() + 1;
    let annotations = places.iter().map(|&(span, why)| {
        let kind = if why.is_none() {
            AnnotationKind::Primary
        } else {
            AnnotationKind::Context
        };
        kind.span(span.start as usize - start..span.end as usize - start)
            .label(why)
    });
    Snippet::source(&text[start..end])
        .line_start(line)
        .path(source.name.as_str())
        .annotations(annotations)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::samples;
    use crate::tree;
    use proptest::prelude::*;

    #[test]
    fn a_diagnostic_is_drawn_with_its_place_and_remedy() {
        let mut sources = SourceMap::default();
        let file = sources.add("machine.valve", "rail upper 36V\n  rail upper 24V, µ\n");
        let other = sources.add("circuits/nor.valve", "circuit nor3\n");
        let twice = Diagnostic::fault(
            "named-twice",
            Span {
                file,
                start: 22,
                end: 27,
            },
            "two rails are called `upper`",
        )
        .remedy("Rename one of them.")
        .related(
            Span {
                file,
                start: 5,
                end: 10,
            },
            "the first one",
        )
        .related(
            Span {
                file: other,
                start: 8,
                end: 12,
            },
            "used here",
        );
        let drawn = render(&[twice], &sources, false);
        let expected = "\
fault[named-twice]: two rails are called `upper`
 --> machine.valve:2:8
  |
1 | rail upper 36V
  |      ----- the first one
2 |   rail upper 24V, µ
  |        ^^^^^
  |
 ::: circuits/nor.valve:1:9
  |
1 | circuit nor3
  |         ---- used here
  |
  = remedy: Rename one of them.

";
        assert_eq!(drawn, expected);
    }

    #[test]
    fn order_is_that_of_places_and_the_rest_is_counted() {
        let mut sources = SourceMap::default();
        let file = sources.add("m.valve", "w\n".repeat(60));
        let at = |line: u32| {
            Diagnostic::caution(
                "odd",
                Span {
                    file,
                    start: 2 * line,
                    end: 2 * line + 1,
                },
                format!("line {line}"),
            )
        };
        let mut diagnostics: Vec<_> = (0..45).rev().map(at).collect();
        diagnostics.push(Diagnostic::new(
            "no-file",
            Severity::Note,
            None,
            "no such file",
        ));
        let drawn = render(&diagnostics, &sources, false);
        assert!(
            drawn.starts_with("note[no-file]: no such file\n\ncaution[odd]: line 0\n"),
            "{drawn}"
        );
        assert!(
            drawn.contains("m.valve:39:1") && !drawn.contains("m.valve:40:1"),
            "{drawn}"
        );
        assert!(
            drawn.ends_with("and 6 more, not shown: mend these first\n"),
            "{drawn}"
        );
        assert_eq!(render(&[], &sources, true), "");
    }

    #[test]
    fn a_place_in_an_endless_line_is_drawn_briefly() {
        let mut sources = SourceMap::default();
        let file = sources.add("m.valve", "µ ".repeat(1_000_000));
        let found = Diagnostic::fault(
            "odd",
            Span {
                file,
                start: 1_500_000,
                end: 1_500_002,
            },
            "here",
        );
        let drawn = render(&[found], &sources, false);
        assert!(drawn.len() < 2000, "{}", drawn.len());
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2000))]

        #[test]
        fn any_place_can_be_drawn(text in samples::text(), ends: [prop::sample::Index; 4], colour: bool) {
            let mut sources = SourceMap::default();
            let bounds: Vec<u32> = (0..=text.len()).filter(|&at| text.is_char_boundary(at)).map(|at| at as u32).collect();
            let file = sources.add("m.valve", text.as_str());
            let [a, b, c, d] = ends.map(|end| *end.get(&bounds));
            let span = |a: u32, b: u32| Span { file, start: a.min(b), end: a.max(b) };
            let (_, mut found) = tree::read(file, &text);
            found.push(Diagnostic::fault("odd", span(a, b), "here").related(span(c, d), "and here").remedy("Mend it."));
            let drawn = render(&found, &sources, colour);
            prop_assert!(drawn.contains("m.valve:"));
        }
    }
}
