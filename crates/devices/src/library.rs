//! The shipped types, written in the design language, and the reader of `type` statements that serves the user's
//! own types as well.
//!
//! ```text
//! type 12AU7 triode, 2 sections, also ECC82
//!     base 9A [seen S1]: 1 plate B, 2 grid B, 3 cathode B, 4 heater, 5 heater, 6 plate A, 7 grid A, 8 cathode A, 9 heater-tap
//!     heater 12.6V 150mA [seen S1], tapped 6.3V 300mA
//!     limits design-centre [mem-H]: plate 300V [seen S1], cathode-current 20mA, grid-resistance 1M fixed
//!     spread current 78% to 144% [seen S5], halves 30% [seen S5]
//!     capacitance A [mem-H]: grid-plate 1.5p, grid-cathode 1.6p, plate-cathode 0.5p
//!     point plate 100V grid 0V [seen-2 S10]: current 11.8mA, slope 3.1mA/V, mu 19.5 [mem-H]
//!     points from bench/12au7.csv
//!     law tail: perveance 1.6m, mu 27, exponent 1.3, knee 3
//!     remark: what fits nowhere else [seen S1]
//! type V50 triode, like 12AU7
//! type D1 silicon diode
//!     law junction [seen-2 S33]: saturation-current 2.52nA, ideality 1.752, series-resistance 0.568
//!     spread leakage 5uA at 75V [seen S49]
//! ```
//!
//! A note in brackets says where a value comes from: a mark (see [`crate::types::Mark`]) and the document. At the end of
//! the words before the colon it holds for every value of the line that has no note of its own. In a `spread` line every
//! value has its own.

mod head;
mod junction;
mod law;
mod lines;
mod points;
mod sources;
mod spread;
mod terms;
mod tube;
mod words;

pub use law::law_lines;
pub use sources::source_title;
pub use spread::{diode_lot_spread, lot_spread, neon_lot_spread};

use crate::types::{DiodeType, NeonType, TubeType};
use head::{Head, Kind};
use std::sync::{Arc, LazyLock};
use text::diagnostic::Diagnostic;
use text::source::FileId;
use text::tree::{Phrase, Statement};
use words::Problems;

/// Types by name.
#[derive(Debug, Clone, Default)]
pub struct Library {
    /// Tubes.
    pub tubes: Vec<Arc<TubeType>>,
    /// Semiconductor diodes.
    pub diodes: Vec<Arc<DiodeType>>,
    /// Neon lamps.
    pub neons: Vec<Arc<NeonType>>,
}

/// The texts of the shipped library, each with its name.
const SHIPPED: [(&str, &str); 4] = [
    ("triodes.valve", include_str!("../data/triodes.valve")),
    ("published.valve", include_str!("../data/published.valve")),
    ("pentodes.valve", include_str!("../data/pentodes.valve")),
    ("diodes.valve", include_str!("../data/diodes.valve")),
];

static LIBRARY: LazyLock<Library> = LazyLock::new(|| {
    let (library, _) = read_shipped();
    library
});

/// Reads the shipped texts, with whatever there is to say about them.
fn read_shipped() -> (Library, Vec<Diagnostic>) {
    let mut library = Library::default();
    let mut problems = Vec::new();
    let no_files = |_: &str| Err("the shipped library has no curve files".to_owned());
    for (index, (_, text)) in (0..).zip(SHIPPED) {
        let (tree, diagnostics) = text::tree::read(FileId(index), text);
        problems.extend(diagnostics);
        for statement in &tree.statements {
            problems.extend(library.add(statement, &no_files));
        }
    }
    library.forget_places();
    (library, problems)
}

impl Library {
    /// The shipped library. Read once a run; its types have no place in a text (`span` is `None`).
    #[must_use]
    pub fn shipped() -> Self {
        LIBRARY.clone()
    }

    /// A tube type by name or other name, letter case ignored.
    #[must_use]
    pub fn tube(&self, name: &str) -> Option<&Arc<TubeType>> {
        named(&self.tubes, name, |tube| (&tube.name, &tube.also))
    }

    /// A diode type by name or other name, letter case ignored.
    #[must_use]
    pub fn diode(&self, name: &str) -> Option<&Arc<DiodeType>> {
        named(&self.diodes, name, |diode| (&diode.name, &diode.also))
    }

    /// A neon lamp by name or other name, letter case ignored.
    #[must_use]
    pub fn neon(&self, name: &str) -> Option<&Arc<NeonType>> {
        named(&self.neons, name, |neon| (&neon.name, &neon.also))
    }

    /// Reads one `type` statement and adds it; a type of the same name is replaced. `like NAME` takes what is not
    /// said from a type already known. A type with points and no `law` line is fitted (`crate::fit`).
    /// `csv` gives the text of a curve file named in the statement.
    ///
    /// Never fails: whatever was understood is added, and everything else is said. Only a statement without a name or
    /// kind, and a diode or lamp without a complete law, add nothing.
    pub fn add(
        &mut self,
        statement: &Statement,
        csv: &dyn Fn(&str) -> Result<String, String>,
    ) -> Vec<Diagnostic> {
        let mut problems = Problems::default();
        if statement.kind() != "type" {
            let message = format!("`{}` is no type", statement.kind());
            problems.fault(
                "word-expected",
                statement.span,
                message,
                "Begin with `type`.",
            );
            return problems.all;
        }
        let Some(head) = head::read(statement, &mut problems) else {
            return problems.all;
        };
        let Some(kind) = self.kind(&head, &mut problems) else {
            return problems.all;
        };
        match kind {
            Kind::Tube(kind) => {
                let like = head.like.and_then(|name| self.tube(&name.text)).cloned();
                let tube = tube::read(&head, kind, like.as_deref(), statement, csv, &mut problems);
                put(&mut self.tubes, tube, |tube| &tube.name);
            }
            Kind::Diode(kind) => {
                let like = head.like.and_then(|name| self.diode(&name.text)).cloned();
                if let Some(diode) =
                    junction::diode(&head, kind, like.as_deref(), statement, &mut problems)
                {
                    put(&mut self.diodes, diode, |diode| &diode.name);
                }
            }
            Kind::Neon => {
                let like = head.like.and_then(|name| self.neon(&name.text)).cloned();
                if let Some(neon) = junction::neon(&head, like.as_deref(), statement, &mut problems)
                {
                    put(&mut self.neons, neon, |neon| &neon.name);
                }
            }
        }
        problems.all
    }

    /// The kind that a head says, or else that of the type it is like.
    fn kind(&self, head: &Head, problems: &mut Problems) -> Option<Kind> {
        let like = head.like.map(|name| (name, self.kind_of(&name.text)));
        if let Some((name, None)) = like {
            problems.unknown("unknown-type", name, "type known so far", self.names());
        }
        match (head.kind, like) {
            (Some((kind, span)), Some((name, Some(model)))) if !alike(kind, model) => {
                let message = format!(
                    "the type is to be like `{}`, which is of another kind",
                    name.text
                );
                problems.fault(
                    "kind-clash",
                    span,
                    message,
                    "Leave the kind out, or take another type to be like.",
                );
                None
            }
            (Some((kind, _)), _) => Some(kind),
            (None, Some((_, model))) => model,
            (None, None) => {
                // A kind that was not understood has been told of already.
                if problems
                    .all
                    .iter()
                    .all(|problem| problem.name != "unknown-kind")
                {
                    let message = format!("of what kind `{}` is is not said", head.name.text);
                    let remedy = format!(
                        "Write `type {} triode`, or `like` with a type it resembles.",
                        head.name.text
                    );
                    problems.fault("kind-missing", head.name.span, message, remedy);
                }
                None
            }
        }
    }

    fn kind_of(&self, name: &str) -> Option<Kind> {
        let tube = self.tube(name).map(|tube| Kind::Tube(tube.kind));
        tube.or_else(|| self.diode(name).map(|diode| Kind::Diode(diode.kind)))
            .or_else(|| self.neon(name).map(|_| Kind::Neon))
    }

    fn names(&self) -> impl Iterator<Item = &str> + Clone {
        let tubes = self
            .tubes
            .iter()
            .flat_map(|tube| std::iter::once(&tube.name).chain(&tube.also));
        let diodes = self.diodes.iter().map(|diode| &diode.name);
        tubes
            .chain(diodes)
            .chain(self.neons.iter().map(|neon| &neon.name))
            .map(String::as_str)
    }

    /// The shipped types stand in no file of the user's.
    fn forget_places(&mut self) {
        for tube in &mut self.tubes {
            let tube = Arc::make_mut(tube);
            tube.span = None;
            tube.points.iter_mut().for_each(|point| point.span = None);
        }
        self.diodes
            .iter_mut()
            .for_each(|diode| Arc::make_mut(diode).span = None);
        self.neons
            .iter_mut()
            .for_each(|neon| Arc::make_mut(neon).span = None);
    }
}

/// Whether one may be made like the other: tubes of the same kind, any two semiconductor diodes, any two lamps.
fn alike(kind: Kind, model: Kind) -> bool {
    kind == model || matches!((kind, model), (Kind::Diode(_), Kind::Diode(_)))
}

/// By name, or else by other name.
fn named<'a, T>(
    all: &'a [Arc<T>],
    name: &str,
    names: fn(&T) -> (&String, &Vec<String>),
) -> Option<&'a Arc<T>> {
    let by_name = all
        .iter()
        .find(|known| names(known).0.eq_ignore_ascii_case(name));
    by_name.or_else(|| {
        all.iter().find(|known| {
            names(known)
                .1
                .iter()
                .any(|also| also.eq_ignore_ascii_case(name))
        })
    })
}

/// Adds a type, or puts it in the place of the one with its name.
fn put<T>(all: &mut Vec<Arc<T>>, own: T, name: fn(&T) -> &String) {
    match all
        .iter_mut()
        .find(|known| name(known).eq_ignore_ascii_case(name(&own)))
    {
        Some(known) => *known = Arc::new(own),
        None => all.push(Arc::new(own)),
    }
}

/// The words of a `remark` line, with its note.
fn remark(line: &Statement, problems: &mut Problems) -> String {
    let phrases = words::body(line, "remark: what fits nowhere else", problems);
    let phrase = |phrase: &Phrase| {
        let note = phrase
            .note()
            .map(|note| format!(" [{}]", note.text))
            .unwrap_or_default();
        format!("{}{note}", phrase.texts().join(" "))
    };
    phrases.iter().map(phrase).collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_shipped_texts_are_read_without_a_word() {
        let (_, problems) = read_shipped();
        let said: Vec<_> = problems
            .iter()
            .map(|problem| (problem.name, &problem.message))
            .collect();
        assert_eq!(said, []);
    }
}
