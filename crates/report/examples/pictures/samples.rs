//! Sample pictures, a table and a page that exercise the layout; the curves are made up and are no tube's data.

use report::chart::bars::{Bar, Remainder, Whole, bars, remainders};
use report::chart::levels::{LevelColumn, levels};
use report::chart::{Along, Axis, Band, Callout, Chart, Marker, Reference, Series};
use report::draw::{Fill, Ink, Pattern, Picture, Stroke, Weight};
use report::page::{Block, Figure, Page, Section};
use report::table::{Align, Cell, Column, Mark, Table};

/// Name of a sample and the function that draws it to a width in millimetres.
pub type Sample = (&'static str, fn(f64) -> Picture);

/// All single pictures.
pub const PICTURES: [Sample; 6] = [
    ("plates", plate_curves),
    ("transfer", transfer),
    ("decades", decades),
    ("fit", fit_against_points),
    ("bars", dissipation),
    ("remainders", left_to_spare),
];

/// Margins that are enough, little, short, and more than there was at first.
pub fn left_to_spare(width: f64) -> Picture {
    let one = |name: &str, at_first: f64, left: f64| Remainder {
        name: name.to_owned(),
        at_first,
        left,
        little: 1.1,
    };
    let all = [
        one("G1, down", 4.6, -2.82),
        one("minus.N10 and 3 alike, up", 4.68, 0.4),
        one("G7, up", 10.06, 6.4),
        one("switch of take, down", -1.5, -3.25),
        one("a driver with a name that takes two lines", 3.0, 3.2),
    ];
    remainders(&Axis::linear("to spare", "V"), &all, width)
}

/// A family of curves with a load line and two operating points.
pub fn plate_curves(width: f64) -> Picture {
    let mut chart = Chart::new(
        width,
        80.0,
        Axis::linear("plate volts", "V").between(0.0, 50.0),
        Axis::linear("plate current", "A").between(0.0, 1.2e-3),
    );
    for (idx, grid) in [0.0, -0.5, -1.0, -1.5, -2.0, -3.0].into_iter().enumerate() {
        let points = (0..=100)
            .map(|step| f64::from(step) * 0.5)
            .map(|plate| (plate, 4.5e-6 * (plate + 22.0 * grid).max(0.0).powf(1.5)))
            .collect();
        let label = if idx == 0 {
            "grid 0 V".to_owned()
        } else {
            format!("\u{2212}{} V", -grid)
        };
        chart.series.push(Series {
            label,
            points,
            stroke: Some(Stroke::PLAIN),
            marker: None,
        });
    }
    chart.series.push(Series {
        label: "load line 82 kΩ".to_owned(),
        points: vec![(0.0, 36.0 / 82e3), (36.0, 0.0)],
        stroke: Some(Stroke::new(Pattern::Solid, Weight::Heavy, Ink::Accent)),
        marker: None,
    });
    chart.callouts = vec![
        Callout {
            at: (14.5, 2.6e-4),
            label: "down, 14.5 V".to_owned(),
            marker: Marker::Dot,
        },
        Callout {
            at: (36.0, 0.0),
            label: "up, 36.0 V".to_owned(),
            marker: Marker::Ring,
        },
    ];
    chart.draw()
}

/// A transfer curve with its thresholds and forbidden regions.
pub fn transfer(width: f64) -> Picture {
    let mut chart = Chart::new(
        width,
        80.0,
        Axis::linear("input", "V"),
        Axis::linear("output", "V"),
    );
    let points = (0..=160)
        .map(|step| -24.0 + 0.25 * f64::from(step))
        .map(|input| (input, 2.0 + 22.0 / (1.0 + ((input + 3.0) / 1.2).exp())))
        .collect();
    chart.series.push(Series {
        label: "output".to_owned(),
        points,
        stroke: Some(Stroke::HEAVY),
        marker: None,
    });
    chart.bands = vec![
        Band {
            along: Along::Y,
            from: f64::NEG_INFINITY,
            to: 4.0,
            label: "down must be below 4.0 V".to_owned(),
            fill: Fill::Light,
        },
        Band {
            along: Along::Y,
            from: 18.0,
            to: f64::INFINITY,
            label: "up must be above 18.0 V".to_owned(),
            fill: Fill::Light,
        },
        Band {
            along: Along::X,
            from: -7.2,
            to: 1.3,
            label: "neither".to_owned(),
            fill: Fill::Hatched,
        },
    ];
    let stroke = Stroke::new(Pattern::Dashed, Weight::Normal, Ink::Black);
    let upright = |at: f64, label: &str| Reference {
        along: Along::X,
        at,
        label: label.to_owned(),
        stroke,
    };
    chart.references = vec![
        upright(-7.2, "still up below \u{2212}7.2 V"),
        upright(1.3, "still down above 1.3 V"),
    ];
    chart.draw()
}

/// Current over five decades.
pub fn decades(width: f64) -> Picture {
    let mut chart = Chart::new(
        width,
        80.0,
        Axis::linear("grid volts", "V").between(-4.0, 0.5),
        Axis::logarithmic("plate current", "A").between(1e-7, 0.1),
    );
    for (idx, plate) in [12.0, 24.0, 40.0, 90.0].into_iter().enumerate() {
        let points = (0..=90)
            .map(|step| -4.0 + 0.05 * f64::from(step))
            .map(|grid| {
                let drive = (1.0 + ((plate / 25.0 + grid) * 4.0).exp()).ln() / 4.0;
                (grid, 1.2e-3 * drive.powf(1.5))
            })
            .collect();
        chart.series.push(Series {
            label: format!("plate {plate} V"),
            points,
            stroke: Some(Stroke::numbered(idx)),
            marker: None,
        });
    }
    chart.references.push(Reference {
        along: Along::Y,
        at: 1e-5,
        label: "cut off: 10 µA".to_owned(),
        stroke: Stroke::new(Pattern::Dotted, Weight::Heavy, Ink::Black),
    });
    chart.draw()
}

/// Measured points against a fitted curve.
pub fn fit_against_points(width: f64) -> Picture {
    let mut chart = Chart::new(
        width,
        70.0,
        Axis::linear("plate volts", "V"),
        Axis::linear("plate current", "A"),
    );
    let law = |plate: f64| 0.8e-5 * plate.powf(1.5);
    let markers = [Marker::Dot, Marker::Cross, Marker::Ring, Marker::Square];
    for (idx, marker) in markers.into_iter().enumerate() {
        let scale = 0.7 + 0.2 * idx as f64;
        chart.series.push(Series {
            label: format!("sample {}", idx + 1),
            points: (1..=8)
                .map(|step| f64::from(step) * 30.0)
                .map(|plate| {
                    (
                        plate,
                        law(plate) * scale * (1.0 + 0.04 * (plate * 1.7).sin()),
                    )
                })
                .collect(),
            stroke: None,
            marker: Some(marker),
        });
    }
    chart.series.push(Series {
        label: "fit to all four samples".to_owned(),
        points: (0..=125)
            .map(|step| f64::from(step) * 2.0)
            .map(|v| (v, law(v)))
            .collect(),
        stroke: Some(Stroke::HEAVY),
        marker: None,
    });
    chart.bands.push(Band {
        along: Along::X,
        from: f64::NEG_INFINITY,
        to: 30.0,
        label: "no points: extrapolated".to_owned(),
        fill: Fill::Hatched,
    });
    chart.draw()
}

/// Values against their limits.
pub fn dissipation(width: f64) -> Picture {
    let bar = |name: &str, value, whole| Bar {
        name: name.to_owned(),
        value,
        whole,
    };
    bars(
        "share of the rated dissipation",
        "W",
        &[
            bar("V1 half 1", 0.45, Whole::Limit(1.5)),
            bar("V1 half 2", 1.49, Whole::Limit(1.5)),
            bar(
                "V7 lamp stage of the borrow flip-flop",
                1.83,
                Whole::Limit(1.5),
            ),
            bar("R3", 0.0038, Whole::Limit(0.25)),
            bar("V9, cold", f64::NAN, Whole::Other(1.5, "half".to_owned())),
        ],
        width,
    )
}

/// The level picture of several nets.
pub fn chain(width: f64) -> Vec<Picture> {
    let column = |name: &str, down, up, below, above| LevelColumn {
        name: name.to_owned(),
        down,
        up,
        must_be_below: below,
        must_be_above: above,
    };
    levels(
        &[
            column("differ", (-12.4, -9.6), (1.2, 3.4), Some(-4.6), Some(0.2)),
            column("borrow", (-6.1, -3.9), (1.2, 3.4), Some(-4.6), Some(0.2)),
            column("take", (-12.0, -12.0), (0.0, 0.0), Some(-4.6), Some(-0.1)),
            column(
                "last.1 of the second shift register",
                (-12.4, -9.6),
                (-0.3, 0.1),
                Some(-4.6),
                Some(0.2),
            ),
            column("clock", (-20.0, -18.0), (24.0, 36.0), None, Some(0.2)),
            column("lamp", (2.0, 2.4), (24.0, 36.0), None, None),
            column("clear", (f64::NAN, 0.0), (1.0, 2.0), Some(-4.6), Some(0.2)),
        ],
        width,
    )
}

/// A table with every kind of cell.
pub fn levels_table() -> Table {
    let column = |heading: &str, unit: &str, align| Column {
        heading: heading.to_owned(),
        unit: unit.to_owned(),
        align,
    };
    let row = |net: &str, down, up, mark, words: &str| {
        vec![
            Cell::Text(net.to_owned()),
            Cell::Number {
                value: down,
                digits: 1,
            },
            Cell::Number {
                value: up,
                digits: 2,
            },
            Cell::Mark(mark, words.to_owned()),
        ]
    };
    Table {
        caption: "Levels of the subtractor, worst case".to_owned(),
        columns: vec![
            column("net", "", Align::Left),
            column("down", "V", Align::Right),
            column("up", "V", Align::Right),
            column("verdict", "", Align::Left),
        ],
        rows: vec![
            row("differ", -9.6, 1.2, Mark::Pass, "5.0 V to spare"),
            row(
                "borrow",
                -3.9,
                1.25,
                Mark::Fault,
                "0.7 V short: V4 half 2 still draws current",
            ),
            row("take", -12.0, 0.0, Mark::Caution, "0.1 V to spare"),
            row("spare <input> & \"b\"", f64::NAN, 124.5, Mark::None, ""),
        ],
    }
}

/// A page with every kind of block.
pub fn page() -> Page {
    let figure = |caption: &str, draw: fn(f64) -> Picture| {
        Block::Figure(Figure {
            caption: caption.to_owned(),
            description: "A sample picture.".to_owned(),
            wide: vec![draw(120.0)],
            narrow: vec![draw(90.0)],
        })
    };
    Page {
        one_sheet: false,
        title: "Serial subtractor, board 1".to_owned(),
        lead: "What the circuit does at volts, gate by gate, with its neighbours in place.".to_owned(),
        sections: vec![
            Section {
                heading: "Verdict".to_owned(),
                blocks: vec![
                    Block::Caution("The rails of this board lie 60 V apart. Discharge the capacitors before touching anything; follow your local codes and leave mains work to licensed hands.".to_owned()),
                    Block::Paragraph("Levels fail at one net. Not checked: ageing, spacing, safety.".to_owned()),
                    Block::Terms(vec![
                        ("upper rail".to_owned(), "36 V ± 5 %, 110 mA of 600 mA".to_owned()),
                        ("lower rail".to_owned(), "\u{2212}24 V ± 5 %, 41 mA".to_owned()),
                        ("tubes".to_owned(), "8 double triodes, 3 of them half used".to_owned()),
                    ]),
                    Block::Table(levels_table()),
                ],
            },
            Section {
                heading: "Levels".to_owned(),
                blocks: vec![Block::Figure(Figure {
                    caption: "Down and up levels, worst case; dashed: what the driven gates ask for.".to_owned(),
                    description: "Volt scale with a column per net.".to_owned(),
                    wide: chain(170.0),
                    narrow: chain(90.0),
                })],
            },
            Section {
                heading: "Working".to_owned(),
                blocks: vec![
                    Block::Subheading("The one gate".to_owned()),
                    figure("Plate curves with the load line.", plate_curves),
                    figure("Transfer curve.", transfer),
                    figure("Plate current over the grid volts.", decades),
                    figure("The fit against its points.", fit_against_points),
                    figure("Dissipation against the ratings.", dissipation),
                    Block::List(vec!["One gate deep.".to_owned(), "Rails at both ends.".to_owned()]),
                    Block::Listing("unit G14 nor3 in V7A: a take, b borrow, c clear, y differ".to_owned()),
                ],
            },
        ],
        edition: vec![
            "valvewright 0.1.0".to_owned(),
            "Curves: made up for this sample.".to_owned(),
        ],
    }
}
