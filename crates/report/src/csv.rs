//! Tables of values for a spreadsheet: comma-separated, after RFC 4180.

use crate::sentence;
use ::csv::{Terminator, WriterBuilder};
use network::parts::{Line, PartsList};

/// Names of the columns of the parts list.
const PARTS: [&str; 14] = [
    "kind",
    "name",
    "value",
    "unit",
    "tolerance_percent",
    "rating",
    "rating_unit",
    "rating_too_small",
    "worst",
    "headroom",
    "needed",
    "spare",
    "order",
    "places",
];

/// The parts list, a line for each thing to order. Values are plain numbers in SI units; what is not known is empty.
#[must_use]
pub fn parts(list: &PartsList) -> String {
    let heading = PARTS.map(str::to_owned);
    written(std::iter::once(heading).chain(list.lines.iter().map(fields)))
}

fn fields(line: &Line) -> [String; PARTS.len()] {
    let number = |value: Option<f64>| value.map_or_else(String::new, plain);
    let places = line.places.iter();
    let places: Vec<String> = places
        .map(|(place, count)| format!("{place} x{count}"))
        .collect();
    let units = sentence::part_units(line.kind);
    [
        sentence::part_kind(line.kind).to_owned(),
        line.further
            .map_or_else(|| line.name.clone(), sentence::part_further),
        number(line.value),
        units.0.to_owned(),
        number(line.tolerance.map(|share| 100.0 * share)),
        number(line.rating),
        units.1.to_owned(),
        number(line.too_small),
        number(line.worst),
        number(line.headroom()),
        line.needed.to_string(),
        line.spares.to_string(),
        line.order().to_string(),
        places.join("; "),
    ]
}

/// A number with six figures, as spreadsheets read it.
fn plain(value: f64) -> String {
    if value == 0.0 || !value.is_finite() {
        return "0".to_owned();
    }
    let rounded: f64 = format!("{value:.5e}").parse().unwrap_or(value);
    format!("{rounded}")
}

/// Records of one length, each ended as the standard has it.
fn written<const FIELDS: usize>(records: impl Iterator<Item = [String; FIELDS]>) -> String {
    let mut writer = WriterBuilder::new()
        .terminator(Terminator::CRLF)
        .from_writer(Vec::new());
    for record in records {
        writer
            .write_record(&record)
            .expect("records are of one length and memory takes every byte");
    }
    let bytes = writer.into_inner().expect("memory takes every byte");
    String::from_utf8(bytes).expect("fields and what stands between them are text")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The examples of RFC 4180, section 2, rules 6 and 7.
    #[test]
    fn fields_are_quoted_as_the_standard_has_it() {
        let fields = ["aaa", "b\r\nbb", "b\"bb", "c,c", ""].map(str::to_owned);
        let expected = "aaa,\"b\r\nbb\",\"b\"\"bb\",\"c,c\",\r\n";
        assert_eq!(written([fields].into_iter()), expected);
        assert_eq!(plain(4.7e-11), "0.000000000047");
        assert_eq!(plain(82e3), "82000");
        assert_eq!(plain(1.0 / 3.0), "0.333333");
    }
}
