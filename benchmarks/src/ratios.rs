//! What the harness measured, as ratios.

use std::path::Path;

/// One measured thing: where the harness put it, what to call it, how many solutions one round of it makes.
#[derive(Debug, Clone)]
pub struct Row {
    /// Group and name of the benchmark.
    pub place: [String; 2],
    /// Solutions in one round.
    pub solutions: usize,
}

/// Median seconds of one solution, if the harness measured it in this run.
#[must_use]
pub fn seconds(results: &Path, row: &Row) -> Option<f64> {
    let [group, name] = &row.place;
    let path = results.join(group).join(name).join("new/estimates.json");
    let estimates: serde_json::Value =
        serde_json::from_str(&std::fs::read_to_string(path).ok()?).ok()?;
    let nanoseconds = estimates["median"]["point_estimate"].as_f64()?;
    Some(nanoseconds * 1e-9 / row.solutions as f64)
}

/// A table of rows beside the first that was measured, the baseline.
#[must_use]
pub fn table(title: &str, results: &Path, rows: &[Row]) -> String {
    let measured: Vec<(&str, f64)> = rows
        .iter()
        .filter_map(|row| Some((row.place[1].as_str(), seconds(results, row)?)))
        .collect();
    let Some(&(baseline, unit)) = measured.first() else {
        return String::new();
    };
    let mut text = format!("{title}: thread CPU time, beside {baseline}\n");
    for (name, seconds) in &measured {
        let (micros, rate, ratio) = (1e6 * seconds, 1.0 / seconds, unit / seconds);
        text += &format!("{name:<44}{micros:>14.2} us{rate:>12.0} /s{ratio:>10.2} x\n");
    }
    text
}

/// The exponent p of a cost that grows as size^p, between two sizes.
#[must_use]
pub fn growth(sizes: [f64; 2], seconds: [f64; 2]) -> f64 {
    (seconds[1] / seconds[0]).ln() / (sizes[1] / sizes[0]).ln()
}
