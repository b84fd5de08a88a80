//! Tables of values for a spreadsheet: comma-separated, after RFC 4180.

use crate::sentence;
use network::parts::PartsList;

/// The parts list, a line for each thing to order. Values are plain numbers in SI units; what is not known is empty.
#[must_use]
pub fn parts(list: &PartsList) -> String {
    let heading = [
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
    let mut out = record(heading.map(str::to_owned));
    for line in &list.lines {
        let number = |value: Option<f64>| value.map_or_else(String::new, plain);
        let places = line.places.iter();
        let places: Vec<String> = places
            .map(|(place, count)| format!("{place} x{count}"))
            .collect();
        let units = sentence::part_units(line.kind);
        out.push_str(&record([
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
        ]));
    }
    out
}

/// A number with six figures, as spreadsheets read it.
fn plain(value: f64) -> String {
    if value == 0.0 || !value.is_finite() {
        return "0".to_owned();
    }
    let rounded: f64 = format!("{value:.5e}").parse().unwrap_or(value);
    format!("{rounded}")
}

/// One record: fields with a comma, a quotation mark or a break in quotation marks, each mark in them twice (RFC 4180, 2.6
/// and 2.7).
fn record<const FIELDS: usize>(fields: [String; FIELDS]) -> String {
    let quoted = fields.map(|field| {
        if field.contains([',', '"', '\r', '\n']) {
            format!("\"{}\"", field.replace('"', "\"\""))
        } else {
            field
        }
    });
    quoted.join(",") + "\r\n"
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The examples of RFC 4180, section 2, rules 6 and 7.
    #[test]
    fn fields_are_quoted_as_the_standard_has_it() {
        let fields = ["aaa", "b\r\nbb", "b\"bb", "c,c", ""].map(str::to_owned);
        assert_eq!(record(fields), "aaa,\"b\r\nbb\",\"b\"\"bb\",\"c,c\",\r\n");
        assert_eq!(plain(4.7e-11), "0.000000000047");
        assert_eq!(plain(82e3), "82000");
        assert_eq!(plain(1.0 / 3.0), "0.333333");
    }
}
