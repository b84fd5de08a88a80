//! Gathers everything there is to say about the text, in bounded number.

use std::collections::HashSet;
use text::diagnostic::{Diagnostic, Severity};
use text::nearest::nearest;
use text::source::Span;
use text::tree::Word;

/// Most problems listed of one severity; chosen, because nobody mends more at a sitting and the list must be bounded.
const MOST_LISTED: usize = 500;

/// Most names compared with one that is not known; chosen far above any machine.
const MOST_COMPARED: usize = 10_000;

/// The problems found so far.
#[derive(Debug, Default)]
pub(crate) struct Problems {
    list: Vec<Diagnostic>,
    told: HashSet<(&'static str, Option<Span>)>,
    listed: [usize; 3],
    dropped: usize,
    said: usize,
    faulty: bool,
    /// A file could not be read: names not found elsewhere may be defined in it and are not reported.
    pub(crate) file_missing: bool,
}

impl Problems {
    /// Adds a problem, unless the same was already said of the same place (a block stands in many places).
    pub(crate) fn push(&mut self, problem: Diagnostic) {
        self.said += 1;
        self.faulty |= problem.severity == Severity::Fault;
        if !self.told.insert((problem.name, problem.span)) {
            return;
        }
        let listed = &mut self.listed[problem.severity as usize];
        if *listed == MOST_LISTED {
            self.dropped += 1;
            return;
        }
        *listed += 1;
        self.list.push(problem);
    }

    /// Adds a fault that needs no more than a remedy.
    pub(crate) fn fault(
        &mut self,
        name: &'static str,
        span: Span,
        message: impl Into<String>,
        remedy: impl Into<String>,
    ) {
        self.push(Diagnostic::fault(name, span, message).remedy(remedy));
    }

    /// Adds a caution that needs no more than a remedy.
    pub(crate) fn caution(
        &mut self,
        name: &'static str,
        span: Span,
        message: impl Into<String>,
        remedy: impl Into<String>,
    ) {
        self.push(Diagnostic::caution(name, span, message).remedy(remedy));
    }

    /// Whether anything said so far stands in the way of a design.
    pub(crate) fn faulty(&self) -> bool {
        self.faulty
    }

    /// How often anything was said, to see whether a stretch of text was understood in full.
    pub(crate) fn said(&self) -> usize {
        self.said
    }

    /// A name that is not known, with the nearest that is. Says nothing while a file is missing that may define it.
    pub(crate) fn unknown<'n>(
        &mut self,
        name: &'static str,
        word: &Word,
        what: &str,
        known: impl IntoIterator<Item = &'n str>,
        otherwise: &str,
    ) {
        if self.file_missing {
            return;
        }
        let remedy = match self.nearest(&word.text, known) {
            Some(near) => format!("The nearest name is `{near}`."),
            None => otherwise.to_owned(),
        };
        self.fault(
            name,
            word.span,
            format!("there is no {what} named `{}`", word.text),
            remedy,
        );
    }

    /// A name that is already taken, with the place that took it.
    pub(crate) fn taken(&mut self, word: &Word, what: &str, first: Option<Span>) {
        let message = format!("the name `{}` is given to {what} twice", word.text);
        let problem = Diagnostic::fault("name-taken", word.span, message)
            .remedy("Give one of them another name.");
        self.push(match first {
            Some(span) => problem.related(span, "first given here"),
            None => problem,
        });
    }

    /// Whether this was already said of this place.
    pub(crate) fn told(&self, name: &'static str, span: Span) -> bool {
        self.told.contains(&(name, Some(span)))
    }

    /// The nearest of the known names; none once the list of faults is full, and of very many names only the first are
    /// compared, so that the search stays bounded.
    pub(crate) fn nearest<'n>(
        &self,
        wanted: &str,
        known: impl IntoIterator<Item = &'n str>,
    ) -> Option<&'n str> {
        if self.listed[Severity::Fault as usize] == MOST_LISTED {
            return None;
        }
        let known: Vec<&str> = known.into_iter().take(MOST_COMPARED).collect();
        let same_to_the_eye = |name: &&&str| look(name) == look(wanted);
        nearest(wanted, known.iter().copied())
            .or_else(|| known.iter().find(same_to_the_eye).copied())
    }

    /// Everything, in order of place.
    pub(crate) fn finish(mut self) -> Vec<Diagnostic> {
        self.list
            .sort_by_key(|problem| problem.span.map(|span| (span.file, span.start, span.end)));
        if self.dropped > 0 {
            let message = format!("{} more problems are not listed", self.dropped);
            self.list.push(
                Diagnostic::new("more-problems", Severity::Note, None, message)
                    .remedy("Mend these first; the rest follows then."),
            );
        }
        self.list
    }
}

/// The name with characters that look alike made the same: `gl` is `g1`.
fn look(name: &str) -> String {
    let plain = |character| match character {
        'l' | 'I' => '1',
        'o' | 'O' => '0',
        other => other,
    };
    name.chars().map(plain).collect()
}

/// The items joined for a sentence: `a, b and c`; long lists are cut short.
pub(crate) fn listing(items: &[impl AsRef<str>]) -> String {
    const MOST_NAMED: usize = 6;
    let named: Vec<String> = items
        .iter()
        .take(MOST_NAMED)
        .map(|item| format!("`{}`", item.as_ref()))
        .collect();
    match (named.as_slice(), items.len().saturating_sub(MOST_NAMED)) {
        ([], _) => String::new(),
        ([only], 0) => only.clone(),
        ([first @ .., last], 0) => format!("{} and {last}", first.join(", ")),
        (all, more) => format!("{} and {more} more", all.join(", ")),
    }
}
