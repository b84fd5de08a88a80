//! The parameters of a law: `mu 17, breakdown 5.1V 5mA 50`.

use super::words::{Measure, Problems, Words};
use text::source::Span;
use text::tree::Phrase;

/// Where a parameter is kept in a law.
pub(super) type Place<P> = fn(&mut P) -> &mut f64;

/// A parameter: its word, whether it has to be said, what its value means and where it is kept.
pub(super) struct Term<P: 'static> {
    pub(super) word: &'static str,
    pub(super) needed: bool,
    measure: Measure,
    pub(super) place: Place<P>,
    /// Values that follow the first under the same word.
    further: &'static [(Measure, Place<P>)],
}

/// A parameter that has to be said.
pub(super) const fn needed<P>(word: &'static str, measure: Measure, place: Place<P>) -> Term<P> {
    Term {
        word,
        needed: true,
        measure,
        place,
        further: &[],
    }
}

/// A parameter that keeps its value when nothing is said.
pub(super) const fn optional<P>(word: &'static str, measure: Measure, place: Place<P>) -> Term<P> {
    Term {
        word,
        needed: false,
        measure,
        place,
        further: &[],
    }
}

impl<P> Term<P> {
    /// The same with further values under its word.
    pub(super) const fn and(mut self, further: &'static [(Measure, Place<P>)]) -> Self {
        self.further = further;
        self
    }

    /// Reads the values into the law.
    fn read(&self, words: &mut Words, law: &mut P, problems: &mut Problems) -> Option<()> {
        *(self.place)(law) = words.value(&self.measure, problems)?;
        for (measure, place) in self.further {
            *place(law) = words.value(measure, problems)?;
        }
        words.finish(problems);
        Some(())
    }
}

/// A law to be read: the phrases after the colon, the line they stand in, how such a line is written, and whether nothing
/// is missing anyway because the law is that of another type.
pub(super) struct Wording<'a> {
    pub(super) phrases: &'a [Phrase],
    pub(super) span: Span,
    pub(super) form: &'static str,
    pub(super) complete: bool,
}

/// Reads parameters into `law`, which holds what is not said; `None`, with faults, when one is missing or not understood.
pub(super) fn read<P>(
    terms: &[Term<P>],
    mut law: P,
    wording: &Wording,
    problems: &mut Problems,
) -> Option<P> {
    let mut said: Vec<Option<Span>> = vec![None; terms.len()];
    let mut sound = true;
    for phrase in wording.phrases {
        let mut words = Words::new(phrase, wording.form);
        let Some(word) = words.want("the name of a parameter", problems) else {
            continue;
        };
        let Some(index) = terms.iter().position(|term| term.word == word.text) else {
            let known = terms.iter().map(|term| term.word);
            problems.unknown("unknown-parameter", word, "parameter of this law", known);
            sound = false;
            continue;
        };
        if let Some(first) = said[index] {
            problems.twice(&format!("`{}`", word.text), word.span, first);
            continue;
        }
        said[index] = Some(word.span);
        sound &= terms[index].read(&mut words, &mut law, problems).is_some();
    }
    let unsaid = terms
        .iter()
        .zip(&said)
        .filter(|(term, said)| term.needed && said.is_none() && !wording.complete);
    let missing: Vec<&str> = unsaid.map(|(term, _)| term.word).collect();
    if !missing.is_empty() {
        let message = format!("the law is not complete: {} missing", missing.join(", "));
        problems.fault(
            "parameter-missing",
            wording.span,
            message,
            format!("The form is `{}`.", wording.form),
        );
        sound = false;
    }
    sound.then_some(law)
}
