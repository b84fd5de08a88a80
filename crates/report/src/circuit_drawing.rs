//! Schematics with the volts of one row of inputs: of a circuit alone, of a unit where it stands, and of a change.

use crate::draw::Picture;
use crate::drawing::{Drawing, UPRIGHT_WIDTH};
use crate::schematic::{Change, Schematic, picture};
use crate::sentence;
use crate::tables::inputs_up;
use crate::words::Wording;
use design::model::{Circuit, CircuitId, UnitId};
use network::judge::{MemberResult, RowResult};
use network::verdict::Verdict;
use text::source::SourceMap;

/// What a schematic is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Subject {
    /// A circuit alone, in its jig.
    Circuit(CircuitId),
    /// A unit where it stands.
    Unit(UnitId),
}

impl Subject {
    /// Its circuit.
    #[must_use]
    pub fn circuit<'a>(self, verdict: &Verdict<'a>) -> &'a Circuit {
        match self {
            Subject::Circuit(circuit) => &verdict.plan.design.circuits[circuit.0],
            Subject::Unit(unit) => verdict.plan.design.circuit_of(unit),
        }
    }

    /// What it was judged to do, row by row.
    #[must_use]
    pub fn result<'v>(self, verdict: &'v Verdict) -> &'v MemberResult {
        match self {
            Subject::Circuit(circuit) => &verdict.alone.results[circuit.0],
            Subject::Unit(unit) => verdict.result(unit.0),
        }
    }

    fn title(self, verdict: &Verdict) -> String {
        let circuit = self.circuit(verdict);
        match self {
            Subject::Circuit(_) => format!("Circuit {}", circuit.name),
            Subject::Unit(unit) => {
                let unit = &verdict.plan.design.units[unit.0];
                format!("Unit {} ({})", unit.name, circuit.name)
            }
        }
    }
}

/// The first row in which just these inputs are up.
#[must_use]
pub fn row_with(result: &MemberResult, inputs: &[bool]) -> Option<usize> {
    result.rows.iter().position(|row| row.row.inputs == inputs)
}

/// Draws a circuit or unit, at most `width` millimetres wide, with the volts of a row of its result where there is one.
#[must_use]
pub fn draw(
    verdict: &Verdict,
    subject: Subject,
    row: usize,
    sources: &SourceMap,
    width: f64,
) -> Picture {
    picture(&schematic(verdict, subject, row, sources), width)
}

fn schematic<'a>(
    verdict: &'a Verdict,
    subject: Subject,
    row: usize,
    sources: &'a SourceMap,
) -> Schematic<'a> {
    let design = verdict.plan.design;
    Schematic {
        design,
        circuit: subject.circuit(verdict),
        unit: match subject {
            Subject::Circuit(_) => None,
            Subject::Unit(unit) => Some(&design.units[unit.0]),
        },
        sources,
        state: settled(subject.result(verdict), row),
        change: None,
    }
}

/// A row with volts that mean something.
fn settled(result: &MemberResult, row: usize) -> Option<&RowResult> {
    result.rows.get(row).filter(|row| row.outcome.settled())
}

/// How the drawing is to be read: which row, and what is written where.
#[must_use]
pub fn legend(verdict: &Verdict, subject: Subject, row: usize, wording: Wording) -> String {
    let name = row_name(verdict, subject, row);
    if settled(subject.result(verdict), row).is_none() {
        return format!("{name}.");
    }
    let text = format!(
        "{name}. Volts to ground at every net; currents at the parts, of a tube that of its plate. \
         A name in two places is one net."
    );
    wording.apply(&text)
}

/// Which inputs are up in a row: `Inputs up: a b`; where there are no volts, that there are none.
#[must_use]
pub fn row_name(verdict: &Verdict, subject: Subject, row: usize) -> String {
    let result = subject.result(verdict);
    let Some(shown) = result.rows.get(row) else {
        return "No volts: nothing could be computed".to_owned();
    };
    let name = match &shown.row.inputs[..] {
        [] => "No inputs".to_owned(),
        inputs => format!("Inputs up: {}", inputs_up(subject.circuit(verdict), inputs)),
    };
    if settled(result, row).is_some() {
        name
    } else {
        format!("{name}. No volts: nothing came to rest")
    }
}

/// A sheet that lies on the bench also says what can hurt.
fn with_caution(verdict: &Verdict, legend: String, wording: Wording) -> String {
    match sentence::caution(verdict) {
        Some(caution) => format!("{legend} Caution. {}", wording.apply(&caution)),
        None => legend,
    }
}

/// A schematic as a drawing of its own.
#[must_use]
pub fn drawing(
    verdict: &Verdict,
    subject: Subject,
    row: usize,
    sources: &SourceMap,
    wording: Wording,
) -> Drawing {
    Drawing {
        title: subject.title(verdict),
        legend: with_caution(verdict, legend(verdict, subject, row, wording), wording),
        sheets: vec![draw(verdict, subject, row, sources, UPRIGHT_WIDTH)],
        legend_above: 0,
    }
}

/// A change of the value of a part, in the row in which its circuit alone moves most: the part is marked, and what moved
/// has its volts before and after. `was` is the value before, as written; `sources` are those after.
///
/// The two verdicts are on designs that differ in that value only.
#[must_use]
pub fn changed(
    before: &Verdict,
    after: &Verdict,
    (circuit, part): (CircuitId, usize),
    was: &str,
    sources: &SourceMap,
    wording: Wording,
) -> Drawing {
    let subject = Subject::Circuit(circuit);
    let (old, new) = (subject.result(before), subject.result(after));
    let moved = |row: usize| match (settled(old, row), settled(new, row)) {
        (Some(old), Some(new)) => {
            let pairs = old.volts.iter().zip(&new.volts);
            pairs
                .map(|(old, new)| (old - new).abs())
                .fold(0.0, f64::max)
        }
        _ => 0.0,
    };
    let row = (0..new.rows.len())
        .rev()
        .max_by(|a, b| moved(*a).total_cmp(&moved(*b)))
        .unwrap_or(0);
    let change = Change {
        part,
        was,
        before: settled(old, row),
    };
    let schematic = Schematic {
        change: Some(change),
        ..schematic(after, subject, row, sources)
    };
    let legend = legend(after, subject, row, wording);
    let mark = &subject.circuit(after).parts[part].mark;
    Drawing {
        title: format!("{}, {mark} changed", subject.title(after)),
        legend: with_caution(
            after,
            format!("{legend} The row in which it moves most."),
            wording,
        ),
        sheets: vec![picture(&schematic, UPRIGHT_WIDTH)],
        legend_above: 0,
    }
}
