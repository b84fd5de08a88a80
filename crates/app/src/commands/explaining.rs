//! What a finding or a message means.

use super::say;
use crate::Ending;
use crate::cli::Speech;
use network::finding::CATALOGUE;

/// Explains one name, or lists all.
pub fn explain(name: Option<&str>, speech: &Speech) -> Result<Ending, String> {
    let Some(name) = name else {
        say(speech, |terminal| report::terminal::explain_all(terminal), report::record::explain_all);
        return Ok(Ending::Well);
    };
    let entry = network::finding::entry(name).or_else(|| design::catalogue::entry(name)).ok_or_else(|| {
        let names = CATALOGUE.iter().chain(design::catalogue::CATALOGUE).map(|entry| entry.name);
        match text::nearest::nearest(name, names) {
            Some(hint) => format!("there is no finding {name}; did you mean {hint}?"),
            None => format!("there is no finding {name}; `valvewright explain` lists them all"),
        }
    })?;
    say(speech, |terminal| report::terminal::explain(entry, terminal), || report::record::explain(entry));
    Ok(Ending::Well)
}
