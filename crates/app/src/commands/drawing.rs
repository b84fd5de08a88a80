//! Drawings as files of their own.

use super::asking::{answer, find};
use super::{judged, remark, tell};
use crate::Ending;
use crate::cli::Speech;
use crate::files::{folder_is_there, write};
use design::model::{CircuitId, Design, UnitId};
use network::verdict::Verdict;
use report::block_drawing::Level;
use report::circuit_drawing::Subject as Wired;
use report::drawing::Drawing;
use report::pinout::Side;
use report::words::Wording;
use serde_json::json;
use std::path::{Path, PathBuf};
use text::source::SourceMap;

/// How a drawing is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    Svg,
    Pdf,
}

/// Draws the machine or one thing of it into a file.
pub fn draw(
    name: Option<&str>,
    up: Option<&str>,
    path: &Path,
    side: Side,
    to: Option<&Path>,
    speech: &Speech,
) -> Result<Ending, String> {
    let form = to.map_or(Ok(Form::Svg), form_of)?;
    answer(path, speech, |design, sources| {
        let subject = subject(design, name)?;
        let verdict = judged(design);
        let drawing = drawn(&verdict, subject, up, side, sources, speech.wording())?;
        let file = to.map_or_else(|| own_file(design, subject), Path::to_owned);
        write_drawing(&drawing, form, &file)?;
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

/// Writes a drawing and says so.
pub fn write_drawing(drawing: &Drawing, form: Form, file: &Path) -> Result<(), String> {
    let bytes = match form {
        Form::Svg => drawing.to_svg().into_bytes(),
        Form::Pdf => drawing.to_pdf(),
    };
    write(file, &bytes)?;
    remark(&format!(
        "Drawn into {}: {}.",
        file.display(),
        drawing.title
    ));
    Ok(())
}

/// What the ending of a file's name asks for, if the file can be written.
pub fn form_of(file: &Path) -> Result<Form, String> {
    folder_is_there(file)?;
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
    Board(usize),
    Block(usize),
    String(usize),
    Wired(Wired),
}

impl Subject {
    /// The word for what it is.
    fn kind(self) -> &'static str {
        match self {
            Subject::Machine => "machine",
            Subject::Board(_) => "board",
            Subject::Block(_) => "block",
            Subject::String(_) => "string",
            Subject::Wired(Wired::Circuit(_)) => "circuit",
            Subject::Wired(Wired::Unit(_)) => "unit",
        }
    }
}

/// Everything that can be drawn, with its name.
fn subjects(design: &Design) -> Vec<(&str, Subject)> {
    let boards = design.boards.iter().enumerate();
    let boards = boards.map(|(index, board)| (board.name.as_str(), Subject::Board(index)));
    let strings = design.strings.iter().enumerate();
    let strings = strings.map(|(index, string)| (string.name.as_str(), Subject::String(index)));
    let blocks = design.placed_blocks.iter().enumerate();
    let blocks = blocks.map(|(index, block)| (block.name.as_str(), Subject::Block(index)));
    let circuits = design.circuits.iter().enumerate().map(|(index, circuit)| {
        let wired = Wired::Circuit(CircuitId(index));
        (circuit.name.as_str(), Subject::Wired(wired))
    });
    let units = design.units.iter().enumerate().map(|(index, unit)| {
        let wired = Wired::Unit(UnitId(index));
        (unit.name.as_str(), Subject::Wired(wired))
    });
    boards
        .chain(strings)
        .chain(blocks)
        .chain(circuits)
        .chain(units)
        .collect()
}

/// What a name means. Where things of several kinds have it, the kind may stand before it: `block bit`.
fn subject(design: &Design, name: Option<&str>) -> Result<Subject, String> {
    let Some(name) = name else {
        return Ok(Subject::Machine);
    };
    let all = subjects(design);
    let qualified = all
        .iter()
        .find(|(own, subject)| name == format!("{} {own}", subject.kind()));
    if let Some((_, subject)) = qualified {
        return Ok(*subject);
    }
    let index = find(
        "board, block, circuit, unit or heater string",
        name,
        all.iter().map(|one| one.0),
    )?;
    let (own, subject) = all[index];
    if let Some((_, other)) = all[index + 1..].iter().find(|one| one.0 == own) {
        remark(&format!(
            "{own} is a {} and a {}; type \"{} {own}\" for the other.",
            subject.kind(),
            other.kind(),
            other.kind()
        ));
    }
    Ok(subject)
}

fn drawn(
    verdict: &Verdict,
    subject: Subject,
    up: Option<&str>,
    side: Side,
    sources: &SourceMap,
    wording: Wording,
) -> Result<Drawing, String> {
    if up.is_some() && !matches!(subject, Subject::Wired(_)) {
        return Err("--up is for a circuit or unit; name one to draw".to_owned());
    }
    Ok(match subject {
        Subject::Machine => blocks(verdict, Level::Machine, wording)?,
        Subject::Block(index) => blocks(verdict, Level::Block(index), wording)?,
        Subject::Board(index) => report::board_drawing::drawing(verdict, index, side, wording),
        Subject::String(index) => report::string_drawing::drawing(verdict, index, wording),
        Subject::Wired(wired) => {
            let row = up.map_or(Ok(0), |up| row(verdict, wired, up))?;
            report::circuit_drawing::drawing(verdict, wired, row, sources, wording)
        }
    })
}

fn blocks(verdict: &Verdict, level: Level, wording: Wording) -> Result<Drawing, String> {
    report::block_drawing::drawing(verdict, level, wording).ok_or_else(|| {
        "it has too many units for one drawing; put units that belong together into blocks, and draw these".to_owned()
    })
}

/// The row in which just the named inputs are up.
fn row(verdict: &Verdict, wired: Wired, up: &str) -> Result<usize, String> {
    let circuit = wired.circuit(verdict);
    let result = wired.result(verdict);
    let names = &circuit.interface.signals[..circuit.interface.inputs];
    let mut wanted = vec![false; names.len()];
    let separate = |letter: char| letter.is_whitespace() || letter == ',';
    let words: Vec<&str> = up.split(separate).filter(|word| !word.is_empty()).collect();
    if words != ["none"] || names.iter().any(|name| name == "none") {
        for word in words {
            wanted[find("input", word, names.iter().map(String::as_str))?] = true;
        }
    }
    report::circuit_drawing::row_with(result, &wanted).ok_or_else(|| {
        let mut rows: Vec<String> = Vec::new();
        for row in &result.rows {
            let shown = report::tables::inputs_up(circuit, &row.row.inputs);
            if !rows.contains(&shown) {
                rows.push(shown);
            }
        }
        let named = report::tables::inputs_up(circuit, &wanted);
        if rows.is_empty() {
            return format!(
                "{} could not be computed, so it has no rows; draw it without --up",
                circuit.name
            );
        }
        format!(
            "what drives it never puts up just {named}; the rows are: {}",
            rows.join("; ")
        )
    })
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
