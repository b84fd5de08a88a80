//! What a finding or a message means.

use super::{listing, say};
use crate::Ending;
use crate::cli::Speech;
use text::diagnostic::Entry;

/// Every name that the program gives to a problem, with its meaning.
fn entries() -> impl Iterator<Item = &'static Entry> + Clone {
    network::finding::CATALOGUE
        .iter()
        .chain(design::catalogue::CATALOGUE)
        .chain(devices::catalogue::CATALOGUE)
        .chain(text::catalogue::CATALOGUE)
}

/// Explains one name, or lists all.
pub fn explain(name: Option<&str>, speech: &Speech) -> Result<Ending, String> {
    let Some(name) = name else {
        say(
            speech,
            |_| {
                entries()
                    .map(|entry| format!("{:28} {}\n", entry.name, entry.summary))
                    .collect()
            },
            || {
                let all = entries()
                    .map(|entry| report::record::explain(entry.name, entry.summary, entry.text));
                listing("explanations", all.collect())
            },
        );
        return Ok(Ending::Well);
    };
    let entry = entries().find(|entry| entry.name == name).ok_or_else(|| {
        match text::nearest::nearest(name, entries().map(|entry| entry.name)) {
            Some(hint) => format!("there is no finding {name}; did you mean {hint}?"),
            None => format!("there is no finding {name}; `valvewright explain` lists them all"),
        }
    })?;
    say(
        speech,
        |terminal| report::terminal::explain(entry.name, entry.summary, entry.text, terminal),
        || report::record::explain(entry.name, entry.summary, entry.text),
    );
    Ok(Ending::Well)
}
