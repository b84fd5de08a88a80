//! Whole pictures and pages: nothing overlaps or is cut, the markup is well formed, odd data do no harm.

use report::chart::bars::{Bar, Whole, bars};
use report::chart::levels::{LevelColumn, levels};
use report::chart::{Along, Axis, Band, Callout, Chart, Marker, Reference, Series};
use report::draw::svg::to_svg;
use report::draw::{Fill, Item, Picture, Point, Step, Stroke, Text, point};

/// No text overlaps another or leaves the sheet, and the SVG is well-formed XML with ids used once.
fn check(name: &str, picture: &Picture) {
    assert_eq!(picture.text_faults(), Vec::<String>::new(), "{name}");
    let svg = to_svg(picture, "p", name, "described");
    let document =
        roxmltree::Document::parse(&svg).unwrap_or_else(|error| panic!("{name}: {error}\n{svg}"));
    let mut ids: Vec<&str> = document
        .descendants()
        .filter_map(|node| node.attribute("id"))
        .collect();
    let n_ids = ids.len();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), n_ids, "{name}: an id is used twice");
}

#[test]
fn sample_pictures_are_clean_at_phone_and_page_width() {
    for (name, draw) in crate::samples::PICTURES {
        for width in [80.0, 90.0, 120.0, 170.0] {
            let picture = draw(width);
            assert!(picture.width <= width + 1e-9, "{name}");
            check(name, &picture);
        }
    }
    for width in [60.0, 90.0, 170.0] {
        for picture in crate::samples::chain(width) {
            assert!(picture.width <= width, "{} at {width}", picture.width);
            check("levels", &picture);
        }
    }
}

/// Numbers from 0 to 1 in an order without pattern (a linear congruential generator, constants from memory).
struct Numbers(u64);

impl Numbers {
    fn next(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn words(&mut self) -> String {
        let n_words = (self.next() * 5.0) as usize;
        let words: Vec<String> = (0..n_words)
            .map(|_| {
                "plateWM."
                    .chars()
                    .cycle()
                    .take(1 + (self.next() * 9.0) as usize)
                    .collect()
            })
            .collect();
        words.join(" ")
    }

    /// Mostly ordinary values, now and then one that cannot be drawn.
    fn value(&mut self) -> f64 {
        match (self.next() * 20.0) as usize {
            0 => f64::NAN,
            1 => f64::INFINITY,
            2 => 0.0,
            3 => f64::MAX,
            _ => 100.0 * (self.next() - 0.4),
        }
    }
}

fn crowded_chart(numbers: &mut Numbers) -> Chart {
    let axis = |numbers: &mut Numbers, label: &str| {
        if numbers.next() < 0.3 {
            Axis::logarithmic(label, "A")
        } else {
            Axis::linear(label, "V")
        }
    };
    let x = axis(numbers, "input");
    let y = axis(numbers, "output");
    let mut chart = Chart::new(90.0 + 80.0 * numbers.next(), 60.0, x, y);
    for idx in 0..(numbers.next() * 12.0) as usize {
        chart.series.push(Series {
            label: numbers.words(),
            points: (0..6).map(|_| (numbers.value(), numbers.value())).collect(),
            stroke: (numbers.next() < 0.7).then(|| Stroke::numbered(idx)),
            marker: (numbers.next() < 0.4).then_some(Marker::Ring),
        });
    }
    for idx in 0..(numbers.next() * 4.0) as usize {
        let along = if idx % 2 == 0 { Along::X } else { Along::Y };
        let (at, label) = (numbers.value(), numbers.words());
        chart.references.push(Reference {
            along,
            at,
            label,
            stroke: Stroke::PLAIN,
        });
        let (from, to, label) = (numbers.value(), numbers.value(), numbers.words());
        chart.bands.push(Band {
            along,
            from,
            to,
            label,
            fill: Fill::Hatched,
        });
        let (at, label) = ((numbers.value(), numbers.value()), numbers.words());
        chart.callouts.push(Callout {
            at,
            label,
            marker: Marker::Cross,
        });
    }
    chart
}

#[test]
fn crowded_charts_with_odd_values_are_clean() {
    let mut numbers = Numbers(7);
    for idx in 0..300 {
        check(&format!("chart {idx}"), &crowded_chart(&mut numbers).draw());
    }
}

#[test]
fn crowded_level_pictures_and_bars_are_clean() {
    let mut numbers = Numbers(11);
    for idx in 0..100 {
        let columns: Vec<LevelColumn> = (0..8)
            .map(|_| LevelColumn {
                name: numbers.words(),
                down: (numbers.value(), numbers.value()),
                up: (numbers.value(), numbers.value()),
                must_be_below: (numbers.next() < 0.7).then(|| numbers.value()),
                must_be_above: (numbers.next() < 0.7).then(|| numbers.value()),
            })
            .collect();
        for picture in levels(&columns, 170.0) {
            check(&format!("levels {idx}"), &picture);
        }
        let values: Vec<Bar> = (0..6)
            .map(|_| Bar {
                name: numbers.words(),
                value: numbers.value(),
                whole: match numbers.next() < 0.7 {
                    true => Whole::Limit(numbers.value()),
                    false => Whole::Other(numbers.value(), numbers.words()),
                },
            })
            .collect();
        check(
            &format!("bars {idx}"),
            &bars("dissipation", "W", &values, 120.0),
        );
    }
}

#[test]
fn without_drawable_data_a_chart_says_so() {
    for points in [
        vec![],
        vec![(f64::NAN, 1.0), (1.0, f64::INFINITY), (f64::MAX, 0.0)],
    ] {
        let mut chart = Chart::new(
            120.0,
            60.0,
            Axis::linear("a", "V"),
            Axis::logarithmic("b", "A"),
        );
        let stroke = Some(Stroke::PLAIN);
        chart.series.push(Series {
            label: "curve".to_owned(),
            points,
            stroke,
            marker: None,
        });
        let picture = chart.draw();
        check("nothing", &picture);
        assert!(
            picture
                .text_areas()
                .iter()
                .any(|(text, _)| *text == "nothing to draw")
        );
    }
    check("no bars", &bars("", "", &[], 120.0));
}

#[test]
fn a_constant_curve_is_drawn_inside_the_frame() {
    for value in [0.0, -24.0, 1e-12, 1e12] {
        let mut chart = Chart::new(120.0, 60.0, Axis::linear("a", "V"), Axis::linear("b", "V"));
        chart.series.push(Series {
            label: "constant".to_owned(),
            points: vec![(value, value), (value, value)],
            stroke: Some(Stroke::PLAIN),
            marker: Some(Marker::Dot),
        });
        let picture = chart.draw();
        check("constant", &picture);
        let dots = picture
            .items
            .iter()
            .filter(|item| matches!(item, Item::Circle { .. }));
        assert_eq!(dots.count(), 2, "{value}");
    }
}

#[test]
fn the_labels_of_curves_at_the_right_edge_keep_the_order_of_the_curves() {
    let axis = |label| Axis::linear(label, "V").between(0.0, 10.0);
    let mut chart = Chart::new(120.0, 60.0, axis("a"), axis("b"));
    for end in [5.1, 5.3, 5.2, 5.0] {
        let points = vec![(0.0, 0.0), (10.0, end)];
        let stroke = Some(Stroke::PLAIN);
        chart.series.push(Series {
            label: format!("ends at {end}"),
            points,
            stroke,
            marker: None,
        });
    }
    let picture = chart.draw();
    let mut labels: Vec<(f64, &str)> = picture
        .text_areas()
        .into_iter()
        .filter(|(text, _)| text.starts_with("ends"))
        .map(|(text, area)| (area.y, text))
        .collect();
    labels.sort_by(|one, other| one.0.total_cmp(&other.0));
    let from_above: Vec<&str> = labels.into_iter().map(|(_, text)| text).collect();
    assert_eq!(
        from_above,
        ["ends at 5.3", "ends at 5.2", "ends at 5.1", "ends at 5"]
    );
}

#[test]
fn every_shape_is_written_and_hostile_text_stays_text() {
    let here = point(1.0, 1.0);
    let far = Point {
        x: f64::NAN,
        y: f64::INFINITY,
    };
    let hostile = "</text><script>alert(1)</script> & \"'\u{0}\u{1b}\u{ffff}\n]]>";
    let stroke = Stroke::PLAIN;
    let items = vec![
        Item::Line {
            from: here,
            to: far,
            stroke,
        },
        Item::Polyline {
            points: vec![here, far],
            stroke,
        },
        Item::Arc {
            centre: here,
            radius: 1.0,
            start: 0.0,
            sweep: 90.0,
            stroke,
        },
        Item::Text(Text::new(here, hostile, 3.0).turned(-90.0)),
        Item::Path {
            steps: vec![
                Step::Move(here),
                Step::Line(far),
                Step::Curve(here, far, here),
                Step::Close,
            ],
            stroke: Some(stroke),
            fill: Fill::Hatched,
        },
        Item::Group {
            offset: here,
            clip: Some(report::draw::Area {
                x: 0.0,
                y: 0.0,
                width: -1.0,
                height: 5.0,
            }),
            items: vec![Item::Circle {
                centre: here,
                radius: 1.0,
                stroke: None,
                fill: Fill::Dark,
            }],
        },
    ];
    let picture = Picture {
        width: 20.0,
        height: 10.0,
        items,
    };
    let svg = to_svg(&picture, "1<&", hostile, hostile);
    let document = roxmltree::Document::parse(&svg).expect("well-formed");
    assert!(
        document
            .descendants()
            .all(|node| !node.has_tag_name("script"))
    );
    let names = [
        "line", "polyline", "path", "text", "circle", "clipPath", "title", "desc",
    ];
    for name in names {
        assert!(
            document
                .descendants()
                .any(|node| node.tag_name().name() == name),
            "{name}"
        );
    }
    let clip = document
        .descendants()
        .find(|node| node.tag_name().name() == "clipPath")
        .expect("one");
    let reference = format!("url(#{})", clip.attribute("id").expect("an id"));
    assert!(
        document
            .descendants()
            .any(|node| node.attribute("clip-path") == Some(&reference))
    );
}

#[test]
fn a_page_fetches_nothing_runs_nothing_and_uses_each_id_once() {
    let mut page = crate::samples::page();
    page.title = "<b>bold</b> & \"quoted\"".to_owned();
    let html = page.to_html();
    assert!(html.contains("<h1>&lt;b&gt;bold&lt;/b&gt; &amp; &quot;quoted&quot;</h1>"));
    for forbidden in ["<script", "<link", "<img", "src=", "@import", "https://"] {
        assert!(!html.contains(forbidden), "{forbidden}");
    }
    // The one address is the name space of SVG, which is a name and is not fetched.
    assert_eq!(
        html.matches("http://").count(),
        html.matches("xmlns=\"http://www.w3.org/2000/svg\"").count()
    );
    assert!(html.matches("url(").count() == html.matches("url(#").count());
    let ids: Vec<&str> = html
        .split(" id=\"")
        .skip(1)
        .filter_map(|rest| rest.split('"').next())
        .collect();
    let mut unique = ids.clone();
    unique.sort_unstable();
    unique.dedup();
    assert_eq!(unique.len(), ids.len());
    for target in html
        .split("url(#")
        .skip(1)
        .filter_map(|rest| rest.split(')').next())
    {
        assert!(unique.contains(&target), "{target}");
    }
    for (idx, section) in page.sections.iter().enumerate() {
        let link = format!("<a href=\"#section-{}\">{}</a>", idx + 1, section.heading);
        assert!(html.contains(&link), "{link}");
    }
}
