//! One circuit: its text, its load line, its transfer curves, its levels, and where it is used.

use super::{block_table, half_figure, load_line};
use crate::chart::{Along, Axis, Band, Chart, Reference, Series};
use crate::circuit_drawing::{self, Subject};
use crate::draw::{Fill, Ink, Pattern, Stroke, Weight};
use crate::page::{Block, Figure, PHONE_AS_IT_IS, PRINT_WIDTH, Section};
use crate::sentence::{self, volts};
use crate::tables;
use crate::words::Wording;
use design::model::CircuitId;
use network::judge::MemberResult;
use network::levels::output_levels;
use network::plan::{FanOut, Plan};
use network::transfer::Transfer;
use network::verdict::Verdict;
use text::source::{SourceMap, Span};

pub(super) fn section(
    verdict: &Verdict,
    index: usize,
    sources: &SourceMap,
    wording: Wording,
) -> Section {
    let design = verdict.plan.design;
    let circuit = &design.circuits[index];
    let mut blocks = Vec::new();
    let excerpt = excerpt(sources, circuit.span);
    if !excerpt.is_empty() {
        blocks.push(Block::Listing(excerpt));
        blocks.push(Block::Paragraph(format!(
            "From {}.",
            sentence::place(sources, circuit.span)
        )));
    }
    blocks.push(Block::Paragraph(users(verdict, index)));
    let result = &verdict.alone.results[index];
    if !result.without_law.is_empty() {
        let text = format!(
            "Nothing can be computed: no curve for {}.",
            result.without_law.join(", ")
        );
        blocks.push(Block::Paragraph(text));
    }
    blocks.extend(schematics(verdict, index, sources, wording));
    blocks.extend(load_line::figures(design, circuit, result, wording));
    let plan = Plan::alone(design, CircuitId(index), FanOut::AsJig);
    blocks.extend(transfer_figures(
        &plan,
        result,
        &verdict.circuits[index].transfers,
    ));
    if !result.rows.is_empty() {
        let jig = design
            .jigs
            .iter()
            .any(|jig| jig.circuit == CircuitId(index));
        let caption = if jig {
            "Alone, in its jig"
        } else {
            "Alone, driven and loaded by its like"
        };
        blocks.push(block_table(
            tables::node_volts(circuit, result, caption),
            wording,
        ));
        let duties = tables::duties(circuit, result);
        if !duties.rows.is_empty() {
            blocks.push(block_table(duties, wording));
        }
        blocks.extend(
            tables::tube_currents(circuit, result)
                .into_iter()
                .map(|table| block_table(table, wording)),
        );
        let levels = output_levels(&plan, 0, result);
        if !levels.is_empty() {
            blocks.push(block_table(
                tables::output_levels(circuit, &levels),
                wording,
            ));
        }
        let transfers = &verdict.circuits[index].transfers;
        if !transfers.is_empty() {
            blocks.push(block_table(tables::thresholds(&plan, transfers), wording));
        }
    }
    Section {
        heading: format!("Circuit {}", circuit.name),
        blocks,
    }
}

/// Widest schematic for a phone, millimetres; shrunk a little to the screen its smallest type is still above 2.2 mm.
const PHONE_SCHEMATIC: f64 = 86.0;

/// The circuit drawn with the volts of its first row and, where there is another, of its last.
fn schematics(
    verdict: &Verdict,
    index: usize,
    sources: &SourceMap,
    wording: Wording,
) -> Vec<Block> {
    let subject = Subject::Circuit(CircuitId(index));
    let last = subject.result(verdict).rows.len().saturating_sub(1);
    let mut rows = vec![0, last];
    rows.dedup();
    let name = &subject.circuit(verdict).name;
    let figure = |row: usize| {
        let draw = |width: f64| circuit_drawing::draw(verdict, subject, row, sources, width);
        let wide = draw(PRINT_WIDTH);
        // One that a phone shows as it is is drawn once.
        let narrow = if wide.width <= PHONE_AS_IT_IS {
            Vec::new()
        } else {
            vec![draw(PHONE_SCHEMATIC)]
        };
        // How to read it is said once.
        let caption = if row == 0 {
            circuit_drawing::legend(verdict, subject, row, wording)
        } else {
            format!("{}.", circuit_drawing::row_name(verdict, subject, row))
        };
        Block::Figure(Figure {
            caption,
            description: format!("Schematic of {name}; the text above lists the same parts."),
            wide: vec![wide],
            narrow,
        })
    };
    rows.into_iter().map(figure).collect()
}

/// The lines of a statement: its first line and the lines set in below it.
fn excerpt(sources: &SourceMap, span: Span) -> String {
    let Some((_, file)) = sources.files().nth(span.file.0 as usize) else {
        return String::new();
    };
    let Some(before) = file.text.get(..span.start as usize) else {
        return String::new();
    };
    let start = before.rfind('\n').map_or(0, |newline| newline + 1);
    let mut lines = file.text[start..].lines();
    let mut kept: Vec<&str> = lines.next().into_iter().collect();
    kept.extend(lines.take_while(|line| line.trim().is_empty() || line.starts_with([' ', '\t'])));
    while kept.last().is_some_and(|line| line.trim().is_empty()) {
        kept.pop();
    }
    kept.join("\n")
}

fn users(verdict: &Verdict, index: usize) -> String {
    let units = verdict
        .plan
        .design
        .units
        .iter()
        .filter(|unit| unit.circuit.0 == index);
    let names: Vec<&str> = units.map(|unit| unit.name.as_str()).collect();
    if names.is_empty() {
        return "No unit uses it.".to_owned();
    }
    format!(
        "Used by {}: {}.",
        text::quantity::counted(names.len(), "unit"),
        names.join(", ")
    )
}

/// Transfer figures drawn at most.
const MOST_FIGURES: usize = 4;

/// A figure for every input (and output) whose curves differ from those drawn before.
fn transfer_figures(plan: &Plan, result: &MemberResult, transfers: &[Transfer]) -> Vec<Block> {
    let mut drawn: Vec<Vec<&Transfer>> = Vec::new();
    for transfer in transfers {
        let place = drawn
            .iter()
            .position(|all| all[0].output == transfer.output && alike(all[0], transfer));
        match place {
            Some(place) => drawn[place].push(transfer),
            None => drawn.push(vec![transfer]),
        }
    }
    drawn
        .iter()
        .take(MOST_FIGURES)
        .map(|all| transfer_figure(plan, result, all))
        .collect()
}

/// Whether two curves are nearly the same: thresholds and ends within a twentieth of the first one's swing.
fn alike(left: &Transfer, right: &Transfer) -> bool {
    const SHARE: f64 = 0.05;
    let heights = || left.curve.iter().map(|point| point.1);
    let swing =
        heights().fold(f64::NEG_INFINITY, f64::max) - heights().fold(f64::INFINITY, f64::min);
    let near = |left: f64, right: f64| (left - right).abs() <= SHARE * swing;
    let ends = |transfer: &Transfer| Some((transfer.curve.first()?.1, transfer.curve.last()?.1));
    let same_thresholds = match (left.thresholds, right.thresholds) {
        (Some(one), Some(other)) => near(one.0, other.0) && near(one.1, other.1),
        (one, other) => one.is_none() && other.is_none(),
    };
    let ends = match (ends(left), ends(right)) {
        (Some(one), Some(other)) => near(one.0, other.0) && near(one.1, other.1),
        _ => false,
    };
    same_thresholds && ends
}

/// One figure of curves that are nearly the same; thresholds are the strictest of them.
fn transfer_figure(plan: &Plan, result: &MemberResult, all: &[&Transfer]) -> Block {
    let transfer = all[0];
    let pairs = || all.iter().filter_map(|one| one.thresholds);
    let low = pairs().map(|pair| pair.0).reduce(f64::min);
    let thresholds = low.zip(pairs().map(|pair| pair.1).reduce(f64::max));
    let circuit = plan.circuit(transfer.member);
    let signals = &circuit.interface.signals;
    let mut inputs: Vec<&str> = all.iter().map(|one| signals[one.input].as_str()).collect();
    inputs.dedup();
    let (inputs, output) = (inputs.join(", "), &signals[transfer.output]);
    let driven = driven_levels(result, transfer.input);
    let mut caption = format!("Transfer from {inputs} to {output}.");
    match thresholds {
        Some((low, high)) => caption.push_str(&format!(
            " Hatched: neither down nor up ({} to {}).",
            volts(low),
            volts(high)
        )),
        None => caption.push_str(" It never amplifies, so it has no thresholds of its own."),
    }
    if let (Some((down, up)), Some((low, high))) = (driven, thresholds) {
        caption.push_str(&format!(
            " To spare: {} when down, {} when up.",
            volts(low - down),
            volts(up - high)
        ));
    }
    let description = format!(
        "Output {output} against input {inputs}, with thresholds and the levels that drive it."
    );
    let x_label = format!("{inputs} (input)");
    let y_label = format!("{output} (output)");
    half_figure(caption, description, |width| {
        let mut chart = Chart::new(
            width,
            62.0,
            Axis::linear(&x_label, "V"),
            Axis::linear(&y_label, "V"),
        );
        chart.series = all
            .iter()
            .map(|one| Series {
                label: String::new(),
                points: one.curve.clone(),
                stroke: Some(Stroke::PLAIN),
                marker: None,
            })
            .collect();
        if let Some((low, high)) = thresholds {
            chart.bands.push(Band {
                along: Along::X,
                from: low,
                to: high,
                label: String::new(),
                fill: Fill::Hatched,
            });
        }
        if let Some((down, up)) = driven {
            let stroke = Stroke::new(Pattern::Dashed, Weight::Normal, Ink::Black);
            let line = |at: f64, word: &str| Reference {
                along: Along::X,
                at,
                label: format!("{word} {}", volts(at)),
                stroke,
            };
            chart.references = vec![line(down, "down"), line(up, "up")];
        }
        chart.draw()
    })
}

/// The highest volts of an input when down and the lowest when up, as driven when the circuit stands alone.
fn driven_levels(result: &MemberResult, input: usize) -> Option<(f64, f64)> {
    let rows = || result.rows.iter().filter(|row| row.outcome.settled());
    let at = |wanted: bool| {
        rows()
            .filter(move |row| row.row.inputs.get(input) == Some(&wanted))
            .map(|row| row.volts[input])
    };
    Some((at(false).reduce(f64::max)?, at(true).reduce(f64::min)?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_excerpt_ends_where_the_next_statement_begins() {
        let mut sources = SourceMap::default();
        let text = "rail a 1V\ncircuit g\n    input a\n\n    # remark\n    output y\n\n# next\ncircuit h\n";
        let file = sources.add("m", text);
        let span = Span {
            file,
            start: 18,
            end: 19,
        };
        assert_eq!(
            excerpt(&sources, span),
            "circuit g\n    input a\n\n    # remark\n    output y"
        );
        let elsewhere = Span {
            file: text::source::FileId(9),
            start: 0,
            end: 1,
        };
        assert_eq!(excerpt(&sources, elsewhere), "");
    }
}
