//! Results as JSON records for other programs, documented in `docs/records.md`.
//!
//! Every record is an object with `format` (1; it grows by adding fields and changes only when a field changes its
//! meaning) and `record` (its kind). Values are in coherent SI units, named by the field: `volts`, `amps`, `ohms`. What is
//! not known is `null`. The project's own words (tube, plate) stand everywhere.

mod choosing;
mod marginal;
mod margins;
mod planned;
mod results;
mod sheet;
mod solved;
mod switch_on;
mod yields;

pub use choosing::{chosen, serves};
pub use marginal::{marginal, suspects};
pub use margins::margins;
pub use planned::{group, swap};
pub use results::{
    change, connections, explain, findings, heaters, loads, parts, rail_power, readings, safety,
    states, verdict, wiring,
};
pub use sheet::type_sheet;
pub use solved::{circuit_levels, levels};
pub use switch_on::switch_on;
pub use yields::yields;

use serde_json::{Map, Value, json};
use text::diagnostic::Diagnostic;
use text::source::{SourceMap, Span};

/// Version of the records.
pub const FORMAT: u32 = 1;

/// A record of a kind with its fields.
fn record(kind: &str, fields: Value) -> Value {
    let mut map = Map::new();
    map.insert("format".to_owned(), json!(FORMAT));
    map.insert("record".to_owned(), json!(kind));
    if let Value::Object(fields) = fields {
        map.extend(fields);
    }
    Value::Object(map)
}

/// Problems with the text.
#[must_use]
pub fn diagnostics(diagnostics: &[Diagnostic], sources: &SourceMap) -> Value {
    let one = |diagnostic: &Diagnostic| {
        json!({
            "name": diagnostic.name,
            "severity": crate::sentence::severity(diagnostic.severity),
            "place": diagnostic.span.map(|span| place(sources, span)),
            "message": diagnostic.message,
            "tries": diagnostic.remedies,
        })
    };
    let problems: Vec<Value> = diagnostics.iter().map(one).collect();
    record("problems", json!({ "problems": problems }))
}

/// Where something is written: file, line and column, both from 1; `null` for a place in no file of the map.
fn place(sources: &SourceMap, span: Span) -> Value {
    match sources.files().nth(span.file.0 as usize) {
        Some((_, file)) if file.text.is_char_boundary(span.start as usize) => {
            let (line, column) = sources.line_and_column(span);
            json!({ "file": file.name, "line": line, "column": column })
        }
        _ => Value::Null,
    }
}
