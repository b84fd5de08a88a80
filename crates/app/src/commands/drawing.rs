//! Drawings as files of their own.

use super::asking::{answer, find};
use super::{judged, remark, tell};
use crate::Ending;
use crate::cli::Speech;
use crate::files::write;
use design::model::Design;
use network::verdict::Verdict;
use report::drawing::Drawing;
use report::words::Wording;
use serde_json::json;
use std::path::{Path, PathBuf};

/// How a drawing is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Form {
    Svg,
    Pdf,
}

/// Draws the machine or one thing of it into a file.
pub fn draw(
    name: Option<&str>,
    path: &Path,
    to: Option<&Path>,
    speech: &Speech,
) -> Result<Ending, String> {
    let form = to.map_or(Ok(Form::Svg), form_of)?;
    answer(path, speech, |design, _| {
        let subject = subject(design, name)?;
        let verdict = judged(design);
        let drawing = drawn(&verdict, subject, speech.wording())?;
        let file = to.map_or_else(|| own_file(design, subject), Path::to_owned);
        let bytes = match form {
            Form::Svg => drawing.to_svg().into_bytes(),
            Form::Pdf => drawing.to_pdf(),
        };
        write(&file, &bytes)?;
        remark(&format!("{} stands in {}.", drawing.title, file.display()));
        if speech.json {
            let record = json!({
                "format": report::record::FORMAT, "record": "drawing",
                "title": drawing.title, "file": file.display().to_string(),
            });
            tell(&format!("{record:#}\n"));
        }
        Ok(Ending::Well)
    })
}

/// What the ending of a file's name asks for.
fn form_of(file: &Path) -> Result<Form, String> {
    let ending = file.extension().and_then(|ending| ending.to_str());
    match ending.map(str::to_ascii_lowercase).as_deref() {
        Some("svg") => Ok(Form::Svg),
        Some("pdf") => Ok(Form::Pdf),
        _ => Err(format!(
            "{}: a drawing is written as .svg or .pdf; let the name of the file end in one of them",
            file.display()
        )),
    }
}

/// What is drawn: an index into the design's list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Subject {
    Machine,
    String(usize),
}

/// Everything that can be drawn, with its name.
fn subjects(design: &Design) -> Vec<(&str, Subject)> {
    let strings = design.strings.iter().enumerate();
    strings
        .map(|(index, string)| (string.name.as_str(), Subject::String(index)))
        .collect()
}

fn subject(design: &Design, name: Option<&str>) -> Result<Subject, String> {
    let Some(name) = name else {
        return Ok(Subject::Machine);
    };
    let all = subjects(design);
    let index = find("heater string", name, all.iter().map(|one| one.0))?;
    Ok(all[index].1)
}

fn drawn(verdict: &Verdict, subject: Subject, wording: Wording) -> Result<Drawing, String> {
    match subject {
        Subject::Machine => report::block_drawing::drawing(verdict, wording).ok_or_else(|| {
            format!(
                "{} units are too many for one drawing",
                verdict.plan.members.len()
            )
        }),
        Subject::String(index) => Ok(report::string_drawing::drawing(verdict, index, wording)),
    }
}

/// A file in the current folder with the name of what is drawn.
fn own_file(design: &Design, subject: Subject) -> PathBuf {
    let all = subjects(design);
    let name = all
        .iter()
        .find(|one| one.1 == subject)
        .map_or(design.name.as_str(), |one| one.0);
    let kept: String = name
        .chars()
        .map(|letter| match letter {
            '.' | '-' | '_' => letter,
            _ if letter.is_alphanumeric() => letter,
            _ => '-',
        })
        .collect();
    let stem = kept.trim_matches(['.', '-']);
    PathBuf::from(format!(
        "{}.svg",
        if stem.is_empty() { "drawing" } else { stem }
    ))
}
