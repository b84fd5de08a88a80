//! What the tool has to say about a place in the text.

use crate::source::Span;

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
            message: message.into(),
            remedies: Vec::new(),
            related: Vec::new(),
        }
    }

    /// Adds what to do.
    #[must_use]
    pub fn remedy(mut self, text: impl Into<String>) -> Self {
        self.remedies.push(text.into());
        self
    }

    /// Adds another place that matters.
    #[must_use]
    pub fn related(mut self, span: Span, text: impl Into<String>) -> Self {
        self.related.push((span, text.into()));
        self
    }
}
