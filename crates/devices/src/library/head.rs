//! `type 12AU7 triode, 2 sections, also ECC82`

use super::words::{Problems, Words};
use crate::types::{DiodeKind, TubeKind};
use text::source::Span;
use text::tree::{Statement, TokenKind, Word};

const FORM: &str = "type 12AU7 triode, 2 sections, also ECC82";

/// What a `type` statement is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Tube(TubeKind),
    Diode(DiodeKind),
    Neon,
}

/// Kinds by their words.
const KINDS: [(&str, Kind); 9] = [
    ("triode", Kind::Tube(TubeKind::Triode)),
    ("indicator triode", Kind::Tube(TubeKind::IndicatorTriode)),
    ("tetrode", Kind::Tube(TubeKind::Tetrode)),
    ("pentode", Kind::Tube(TubeKind::Pentode)),
    ("vacuum diode", Kind::Tube(TubeKind::Diode)),
    ("silicon diode", Kind::Diode(DiodeKind::Silicon)),
    ("germanium diode", Kind::Diode(DiodeKind::Germanium)),
    ("zener diode", Kind::Diode(DiodeKind::Zener)),
    ("neon lamp", Kind::Neon),
];

/// The first line of a `type` statement.
pub(super) struct Head<'a> {
    pub(super) name: &'a Word,
    pub(super) kind: Option<(Kind, Span)>,
    /// How many, when said.
    pub(super) sections: Option<usize>,
    pub(super) common_cathode: bool,
    pub(super) also: Vec<String>,
    pub(super) like: Option<&'a Word>,
}

/// Reads the first line; `None` without a name.
pub(super) fn read<'a>(statement: &'a Statement, problems: &mut Problems) -> Option<Head<'a>> {
    let (first, rest) = statement.head.split_first()?;
    let mut words = Words::new(first, FORM);
    words.next();
    let name = words.want("the name of the type", problems)?;
    if name.kind != TokenKind::Word {
        problems.fault(
            "not-a-name",
            name.span,
            format!("`{}` is no name", name.text),
            words.remedy(),
        );
        return None;
    }
    let mut head = Head {
        name,
        kind: kind(&mut words, problems),
        sections: None,
        common_cathode: false,
        also: Vec::new(),
        like: None,
    };
    for phrase in rest {
        let mut words = Words::new(phrase, FORM);
        match phrase.texts().as_slice() {
            [number @ ("1" | "2"), "section" | "sections"] => {
                head.sections = Some(if *number == "2" { 2 } else { 1 })
            }
            ["common", "cathode"] => head.common_cathode = true,
            ["also", _, ..] => {
                words.next();
                while let Some(other) = words.next() {
                    head.also.push(other.text.clone());
                }
            }
            ["like", _] => {
                words.next();
                head.like = words.next();
            }
            _ => {
                let message = format!("`{}` says nothing about a type", phrase.texts().join(" "));
                let remedy = "Here belong `2 sections`, `common cathode`, `also` with other names, or `like` with another type.";
                problems.fault("unknown-phrase", phrase.span, message, remedy);
            }
        }
    }
    if statement.body.is_some() {
        let message = "the first line of a type has nothing after a colon".to_owned();
        problems.fault(
            "words-left-over",
            statement.span,
            message,
            "Write what is known of the type in the lines below.",
        );
    }
    Some(head)
}

/// The words after the name.
fn kind(words: &mut Words, problems: &mut Problems) -> Option<(Kind, Span)> {
    let first = words.next()?;
    let mut text = first.text.clone();
    let mut span = first.span;
    while let Some(word) = words.next() {
        text = format!("{text} {}", word.text);
        span = span.to(word.span);
    }
    let known = KINDS.iter().find(|(name, _)| *name == text);
    if known.is_none() {
        // A kind of which only the last word is known, `diode`, is one of those that end in it.
        let last = text.rsplit(' ').next().unwrap_or_default();
        let ends_so = |name: &str| name.rsplit(' ').next() == Some(last);
        let any = KINDS.iter().any(|(name, _)| ends_so(name));
        let near: Vec<&str> = KINDS
            .iter()
            .map(|(name, _)| *name)
            .filter(|name| !any || ends_so(name))
            .collect();
        let word = Word {
            text,
            kind: TokenKind::Word,
            span,
        };
        problems.unknown(
            "unknown-kind",
            &word,
            "kind of tube, diode or lamp",
            near.into_iter(),
        );
    }
    known.map(|&(_, kind)| (kind, span))
}
