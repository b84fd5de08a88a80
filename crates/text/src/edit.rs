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
