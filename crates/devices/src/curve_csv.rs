//! Measured curves as comma-separated text.
//!
//! One line of column names, then one line a point. Columns, in any order:
//!
//! | column | unit | |
//! |---|---|---|
//! | `plate_volts` | V against the cathode | needed |
//! | `grid_volts` | V against the cathode | needed |
//! | `plate_milliamps` | mA | needed |
//! | `grid_microamps` | µA into the grid | |
//! | `screen_volts` | V against the cathode | |
//! | `screen_milliamps` | mA | |
//! | `sample` | name of the tube measured | |
//!
//! Fields are separated by commas, semicolons or tabs, whichever the line of names uses; numbers have a decimal point;
//! `#` begins a comment; empty lines and empty fields of columns that are not needed are passed over.

use crate::types::{Mark, Point, Sourced};
use text::nearest::nearest;

/// Columns, in the order of their index.
const COLUMNS: [&str; 7] = [
    "plate_volts",
    "grid_volts",
    "plate_milliamps",
    "grid_microamps",
    "screen_volts",
    "screen_milliamps",
    "sample",
];
const PLATE_VOLTS: usize = 0;
const GRID_VOLTS: usize = 1;
const PLATE_MILLIAMPS: usize = 2;
const GRID_MICROAMPS: usize = 3;
const SCREEN_VOLTS: usize = 4;
const SCREEN_MILLIAMPS: usize = 5;
const SAMPLE: usize = 6;

/// Columns that every point needs.
const NEEDED: usize = 3;

/// Largest number of either sign in each numeric column: 10 kV, 10 A. Chosen, because no receiving tube comes near.
const LARGEST: [f64; 6] = [1e4, 1e4, 1e4, 1e7, 1e4, 1e4];

/// Most points read; chosen, because a curve tracer gives some hundreds and the work of a fit grows with them.
pub const MOST_POINTS: usize = 2000;

/// Most problems listed; chosen, because nobody reads more before mending the first.
const MOST_PROBLEMS: usize = 50;

/// A problem with one line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CurveProblem {
    /// Line, from 1.
    pub line: usize,
    /// What is wrong, one sentence.
    pub message: String,
    /// What to do, one sentence.
    pub remedy: String,
}

/// Reads measured curves. Never fails: returns the points of every line that was understood and every problem.
///
/// The values are marked as measured, their source is the name of the sample. Currents that come out negative (the
/// meter's zero) are taken as 0.
#[must_use]
pub fn read(text: &str) -> (Vec<Point>, Vec<CurveProblem>) {
    let mut problems = Problems::default();
    let mut lines = (1..).zip(text.trim_start_matches('\u{feff}').lines());
    let mut lines = lines
        .by_ref()
        .map(|(number, line)| (number, line.split('#').next().unwrap_or("").trim()))
        .filter(|(_, line)| !line.is_empty());
    let Some((first, names)) = lines.next() else {
        problems.add(
            1,
            "the file holds no line of column names".to_owned(),
            columns_remedy(),
        );
        return (Vec::new(), problems.kept);
    };
    let separator = [';', '\t']
        .into_iter()
        .find(|&mark| names.contains(mark))
        .unwrap_or(',');
    let Some(columns) = columns(first, names, separator, &mut problems) else {
        return (Vec::new(), problems.kept);
    };
    let mut points = Vec::new();
    for (number, line) in lines {
        if points.len() == MOST_POINTS {
            let message = format!("more than {MOST_POINTS} points; the rest is not read");
            problems.add(
                number,
                message,
                "Leave out points that lie close together.".to_owned(),
            );
            break;
        }
        points.extend(point(number, line, separator, &columns, &mut problems));
    }
    if points.is_empty() && problems.kept.is_empty() {
        let message = "no point follows the line of column names".to_owned();
        problems.add(
            first,
            message,
            "Write one line for each point measured.".to_owned(),
        );
    }
    (points, problems.kept)
}

#[derive(Default)]
struct Problems {
    kept: Vec<CurveProblem>,
}

impl Problems {
    fn add(&mut self, line: usize, message: String, remedy: String) {
        if self.kept.len() < MOST_PROBLEMS {
            self.kept.push(CurveProblem {
                line,
                message,
                remedy,
            });
        }
    }
}

fn columns_remedy() -> String {
    format!(
        "Begin with a line such as `{}`.",
        COLUMNS[..NEEDED].join(", ")
    )
}

/// Which column each field is; `None` when the points could not be understood.
fn columns(
    line: usize,
    names: &str,
    separator: char,
    problems: &mut Problems,
) -> Option<Vec<usize>> {
    let mut columns = Vec::new();
    let mut sound = true;
    for name in names.split(separator).map(bare) {
        let known = COLUMNS
            .iter()
            .position(|column| column.eq_ignore_ascii_case(name));
        match known {
            Some(column) if columns.contains(&column) => {
                let message = format!("the column `{}` is there twice", COLUMNS[column]);
                problems.add(line, message, "Take one of them out.".to_owned());
                sound = false;
            }
            Some(column) => columns.push(column),
            None => {
                let remedy = match nearest(name, COLUMNS) {
                    Some(near) => format!("Is `{near}` meant?"),
                    None => format!("The columns are {}.", COLUMNS.join(", ")),
                };
                problems.add(line, format!("`{}` is no column", brief(name)), remedy);
                sound = false;
            }
        }
    }
    for (column, name) in COLUMNS.iter().enumerate().take(NEEDED) {
        if sound && !columns.contains(&column) {
            problems.add(
                line,
                format!("the column `{name}` is missing"),
                columns_remedy(),
            );
            sound = false;
        }
    }
    sound.then_some(columns)
}

/// A field without the quotes that spreadsheets put round it.
fn bare(field: &str) -> &str {
    let field = field.trim();
    field
        .strip_prefix('"')
        .and_then(|inner| inner.strip_suffix('"'))
        .unwrap_or(field)
        .trim()
}

/// So much of a field as is worth repeating in a message.
fn brief(field: &str) -> String {
    const SHOWN: usize = 30;
    if field.chars().count() <= SHOWN {
        return field.to_owned();
    }
    field.chars().take(SHOWN).chain(['…']).collect()
}

fn point(
    line: usize,
    text: &str,
    separator: char,
    columns: &[usize],
    problems: &mut Problems,
) -> Option<Point> {
    let fields: Vec<&str> = text.split(separator).map(bare).collect();
    if fields.len() != columns.len() {
        let message = format!(
            "{} fields, but {} columns are named",
            fields.len(),
            columns.len()
        );
        let remedy = if separator == ',' && fields.len() > columns.len() {
            "Separate fields by semicolons if the numbers are written with a decimal comma, and write them with a point."
        } else {
            "Write one field for each column; leave unknown ones empty."
        };
        problems.add(line, message, remedy.to_owned());
        return None;
    }
    let mut values = [None; LARGEST.len()];
    let mut sample = None;
    let mut sound = true;
    for (&column, field) in columns.iter().zip(fields) {
        if column == SAMPLE {
            sample = (!field.is_empty()).then(|| field.to_owned());
            continue;
        }
        if field.is_empty() && column >= NEEDED {
            continue;
        }
        values[column] = number(line, column, field, problems);
        sound &= values[column].is_some();
    }
    if !sound {
        return None;
    }
    let measured = |amps: f64| Sourced {
        value: amps.max(0.0),
        mark: Mark::Measured,
        source: sample.clone().unwrap_or_default(),
    };
    Some(Point {
        plate_volts: values[PLATE_VOLTS]?,
        grid_volts: values[GRID_VOLTS]?,
        screen_volts: values[SCREEN_VOLTS],
        plate_amps: values[PLATE_MILLIAMPS].map(|milliamps| measured(milliamps * 1e-3)),
        grid_amps: values[GRID_MICROAMPS].map(|microamps| measured(microamps * 1e-6)),
        screen_amps: values[SCREEN_MILLIAMPS].map(|milliamps| measured(milliamps * 1e-3)),
        sample,
        ..Point::default()
    })
}

fn number(line: usize, column: usize, field: &str, problems: &mut Problems) -> Option<f64> {
    let name = COLUMNS[column];
    match field.replace('\u{2212}', "-").parse::<f64>() {
        Ok(value) if value.abs() <= LARGEST[column] => Some(value),
        Ok(value) if value.is_finite() => {
            let message = format!("{name} {} is no value of a receiving tube", brief(field));
            problems.add(
                line,
                message,
                "Mind the unit in the name of the column.".to_owned(),
            );
            None
        }
        _ => {
            let message = format!("`{}` in column {name} is no number", brief(field));
            let remedy =
                "Write a plain number with a decimal point and without a unit, such as 0.85.";
            problems.add(line, message, remedy.to_owned());
            None
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Lines of the problems and their messages.
    fn complaints(text: &str) -> Vec<(usize, String)> {
        let (_, problems) = read(text);
        problems
            .into_iter()
            .map(|problem| (problem.line, problem.message))
            .collect()
    }

    #[test]
    fn points_are_read_in_si_units_whatever_the_separator_and_order() {
        for text in [
            "plate_volts, grid_volts, plate_milliamps, grid_microamps, sample\n24, 0, 1.5, 20, A\n",
            "# bench, 12 March\n\nsample;plate_milliamps;plate_volts;grid_volts;grid_microamps\r\nA;1.5;24;0;20 # warm\r\n",
            "\u{feff}\"Plate_Volts\"\tgrid_volts\tplate_milliamps\tgrid_microamps\tsample\n24\t0\t1.5\t20\tA",
        ] {
            let (points, problems) = read(text);
            assert_eq!(problems, [], "{text}");
            let [point] = points.as_slice() else {
                panic!("one point in {text}")
            };
            assert_eq!((point.plate_volts, point.grid_volts), (24.0, 0.0));
            assert_eq!(
                point.plate_amps.as_ref().map(|amps| amps.value),
                Some(1.5e-3)
            );
            assert!(
                point
                    .grid_amps
                    .as_ref()
                    .is_some_and(|amps| (amps.value - 20e-6).abs() < 1e-18)
            );
            assert_eq!(point.sample.as_deref(), Some("A"));
        }
    }

    #[test]
    fn empty_fields_are_allowed_where_a_column_is_not_needed() {
        let (points, problems) =
            read("plate_volts,grid_volts,plate_milliamps,grid_microamps\n24,-1,0.2,\n24,0,,3\n");
        assert_eq!(points.len(), 1);
        assert_eq!(points[0].grid_amps, None);
        assert_eq!(problems.len(), 1);
        assert_eq!(problems[0].line, 3);
    }

    #[test]
    fn every_problem_is_told_with_its_line() {
        assert_eq!(
            complaints(
                "plate_volts,grid_volts,plate_milliamps\n1,2\nx,0,1\nNaN,0,1\ninf,0,1\n1e9,0,1\n12,0,0.5\n"
            ),
            [
                (2, "2 fields, but 3 columns are named".to_owned()),
                (3, "`x` in column plate_volts is no number".to_owned()),
                (4, "`NaN` in column plate_volts is no number".to_owned()),
                (5, "`inf` in column plate_volts is no number".to_owned()),
                (
                    6,
                    "plate_volts 1e9 is no value of a receiving tube".to_owned()
                ),
            ]
        );
        assert_eq!(
            complaints("plate_volts,grid_volts\n"),
            [(1, "the column `plate_milliamps` is missing".to_owned())]
        );
        assert_eq!(
            complaints(""),
            [(1, "the file holds no line of column names".to_owned())]
        );
        let (_, problems) = read("plate_volt,grid_volts,plate_milliamps\n");
        assert_eq!(problems[0].remedy, "Is `plate_volts` meant?");
        assert_eq!(
            complaints("plate_volts,grid_volts,plate_milliamps").len(),
            1
        );
    }

    #[test]
    fn a_meter_that_shows_less_than_nothing_counts_as_nothing() {
        let (points, _) = read("plate_volts,grid_volts,plate_milliamps\n24,-5,-0.001\n");
        assert_eq!(
            points[0].plate_amps.as_ref().map(|amps| amps.value),
            Some(0.0)
        );
    }

    proptest! {
        #[test]
        fn any_bytes_are_read_or_refused(bytes in proptest::collection::vec(any::<u8>(), 0..300)) {
            let (points, _) = read(&String::from_utf8_lossy(&bytes));
            prop_assert!(points.iter().all(|point| point.plate_volts.is_finite()));
        }

        #[test]
        fn any_fields_below_good_names_are_read_or_refused(rest in "([-+0-9.eENaif,;\t \n\"#]{0,80}\n?){0,5}") {
            let (points, problems) = read(&format!("plate_volts,grid_volts,plate_milliamps\n{rest}"));
            let is_sound = |amps: &Sourced<f64>| amps.value.is_finite() && amps.value >= 0.0;
            let sound = points.iter().all(|point| point.plate_volts.is_finite() && point.plate_amps.as_ref().is_some_and(is_sound));
            prop_assert!(sound);
            prop_assert!(problems.len() <= MOST_PROBLEMS);
        }
    }
}
