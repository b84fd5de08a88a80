//! Pictures as PDF, read back with a small reader of our own (ISO 32000-1, 7.3 to 7.5): scale, texts, structure, sheets.

use crate::samples;
use report::draw::pdf::{POINTS_PER_MILLIMETRE, to_pdf};
use report::draw::{Anchor, Area, Fill, Item, Picture, Stroke, Text, point};

/// A PDF file taken apart.
struct Read {
    /// The objects as written, in the order of their numbers.
    objects: Vec<String>,
}

impl Read {
    /// Follows `startxref` and the cross-reference table; panics where an entry does not point at its object.
    fn of(bytes: &[u8]) -> Read {
        // One character a byte, so that places in the text are places in the file.
        let text: String = bytes.iter().map(|&byte| char::from(byte)).collect();
        let text: Vec<char> = text.chars().collect();
        let whole: String = text.iter().collect();
        assert!(whole.starts_with("%PDF-1.7") && whole.trim_end().ends_with("%%EOF"));
        let start = whole.rfind("startxref").expect("a place of the table");
        let table: usize = whole[start..]
            .lines()
            .nth(1)
            .unwrap()
            .trim()
            .parse()
            .unwrap();
        let from = |at: usize| text[at..].iter().collect::<String>();
        let table = from(table);
        let mut lines = table.lines();
        assert_eq!(lines.next(), Some("xref"));
        let head: Vec<usize> = lines
            .next()
            .unwrap()
            .split_whitespace()
            .map(|number| number.parse().unwrap())
            .collect();
        assert_eq!(head[0], 0);
        let entries: Vec<&str> = lines.take(head[1]).collect();
        let objects = entries.iter().enumerate().skip(1).map(|(number, entry)| {
            let (at, kind) = (&entry[..10], &entry[17..18]);
            assert_eq!(kind, "n", "object {number} is missing");
            let object = from(at.parse().unwrap());
            assert!(object.starts_with(&format!("{number} 0 obj")), "{entry}");
            object[..object.find("endobj").expect("the object ends")].to_owned()
        });
        Read {
            objects: objects.collect(),
        }
    }

    /// Streams of the pages' contents and of the pictures.
    fn streams(&self) -> impl Iterator<Item = &str> {
        self.objects.iter().filter_map(|object| {
            let (head, rest) = object.split_once("stream\n")?;
            let stream = rest.strip_suffix("\nendstream\n")?;
            let length = head.split("/Length ").nth(1)?;
            let digits: String = length.chars().take_while(char::is_ascii_digit).collect();
            assert_eq!(digits.parse::<usize>().unwrap(), stream.chars().count());
            Some(stream)
        })
    }

    fn pages(&self) -> impl Iterator<Item = &String> {
        self.objects
            .iter()
            .filter(|object| object.contains("/Type /Page\n"))
    }

    /// Every string shown, in the bytes of its code.
    fn texts(&self) -> Vec<String> {
        self.streams()
            .flat_map(str::lines)
            .filter_map(|line| line.strip_suffix(" Tj"))
            .map(shown)
            .collect()
    }
}

/// A string object: in brackets with escapes, or in hexadecimal digits.
fn shown(written: &str) -> String {
    if let Some(digits) = written.strip_prefix('<') {
        let digits = digits.trim_end_matches('>');
        let byte = |at: usize| u8::from_str_radix(&digits[at..at + 2], 16).unwrap();
        return (0..digits.len() / 2)
            .map(|pair| char::from(byte(2 * pair)))
            .collect();
    }
    let inner = &written[1..written.len() - 1];
    let mut out = String::new();
    let mut letters = inner.chars();
    while let Some(letter) = letters.next() {
        out.extend(if letter == '\\' {
            letters.next()
        } else {
            Some(letter)
        });
    }
    out
}

fn line(length: f64) -> Picture {
    Picture {
        width: length + 20.0,
        height: 20.0,
        items: vec![Item::Line {
            from: point(10.0, 5.0),
            to: point(10.0 + length, 5.0),
            stroke: Stroke::PLAIN,
        }],
    }
}

fn numbers(line: &str) -> Vec<f64> {
    line.split_whitespace()
        .filter_map(|word| word.parse().ok())
        .collect()
}

/// 100 mm are 100/25.4 inch of 72 points: 283.46 points (ISO 32000-1, 8.3.2.3: one unit is 1/72 inch; inch of 25.4 mm: ISO 31).
#[test]
fn a_line_of_100_mm_is_283_46_points_long() {
    let read = Read::of(&to_pdf(&[line(100.0)], "scale"));
    let scale = read
        .streams()
        .flat_map(str::lines)
        .filter(|line| line.ends_with(" cm"))
        .map(|line| numbers(line)[0])
        .find(|&scale| scale != 1.0)
        .expect("the page is scaled to millimetres");
    let picture = read.streams().find(|stream| stream.contains("10 5 m"));
    let lines: Vec<&str> = picture.expect("the line").lines().collect();
    let at = lines.iter().position(|line| *line == "10 5 m").unwrap();
    let length = numbers(lines[at + 1])[0] - 10.0;
    assert!((length * scale - 283.46).abs() < 0.01, "{length} {scale}");
    assert!((100.0 * POINTS_PER_MILLIMETRE - 283.464_566_929).abs() < 1e-6);
}

/// A4 is 210 mm by 297 mm (ISO 216), which is 595.276 by 841.890 points.
#[test]
fn a_small_picture_lies_on_one_sheet_of_a4_with_a_bar_of_100_mm() {
    let read = Read::of(&to_pdf(&[line(100.0)], "one sheet"));
    let pages: Vec<&String> = read.pages().collect();
    assert_eq!(pages.len(), 1);
    let size = pages[0].split("/MediaBox [").nth(1).unwrap();
    let size = numbers(&size[..size.find(']').unwrap()]);
    assert!((size[2] - 595.276).abs() < 0.01 && (size[3] - 841.89).abs() < 0.01);
    let bar = "10 285.5 m\n110 285.5 l\nS";
    assert!(read.streams().any(|stream| stream.contains(bar)));
    let said = |what: &str| read.texts().iter().any(|text| text == what);
    assert!(said("This bar is 100 mm when printed at full size.") && said("one sheet"));
}

#[test]
fn a_large_picture_is_spread_over_sheets_that_overlap_and_cover_it() {
    let picture = Picture {
        width: 500.0,
        height: 300.0,
        items: Vec::new(),
    };
    let read = Read::of(&to_pdf(&[picture], "board"));
    // Lying sheets have room for 277 mm by 178 mm, of which 10 are shared: 2 by 2 of them cover 544 mm by 346 mm.
    assert_eq!(read.pages().count(), 4);
    let sheets: Vec<Vec<f64>> = read
        .streams()
        .filter(|stream| stream.contains("/P1 Do"))
        .map(|stream| {
            let moved = stream.lines().filter(|line| line.ends_with(" cm")).nth(1);
            numbers(moved.unwrap())[4..].to_vec()
        })
        .collect();
    let across = 277.0 - 10.0;
    let down = 178.0 - 10.0;
    assert_eq!(
        sheets,
        [
            [10.0, 10.0],
            [10.0 - across, 10.0],
            [10.0, 10.0 - down],
            [10.0 - across, 10.0 - down]
        ]
    );
    assert!(
        read.texts()
            .iter()
            .any(|text| text.contains("sheet 4 of 4"))
    );
}

#[test]
fn texts_survive_in_letters_every_reader_has() {
    let text = |y: f64, content: &str| Item::Text(Text::new(point(5.0, y), content, 3.0));
    let picture = Picture {
        width: 100.0,
        height: 60.0,
        items: vec![
            text(5.0, "plate (V1) \\ 5 %"),
            text(10.0, "\u{2212}24 V ± 5 %, 82 kΩ, 15 µF, 40 °"),
            Item::Text(
                Text::new(point(50.0, 20.0), "G1 · y", 3.0)
                    .anchored(Anchor::End)
                    .with_rim(),
            ),
        ],
    };
    let read = Read::of(&to_pdf(&[picture], "letters"));
    let texts = read.texts();
    let shown = |what: &str| texts.iter().filter(|text| *text == what).count();
    assert_eq!(shown("plate (V1) \\ 5 %"), 1);
    // The ohm is a letter of the font Symbol between two pieces of the plain one.
    assert_eq!(shown("\u{96}24 V ± 5 %, 82 k"), 1, "{texts:?}");
    assert_eq!(shown("W"), 1, "{texts:?}");
    assert_eq!(shown(", 15 µF, 40 °"), 1, "{texts:?}");
    let fonts = read
        .streams()
        .flat_map(str::lines)
        .filter(|line| line.starts_with("/F3 "));
    assert_eq!(fonts.count(), 1);
    let symbol = read
        .objects
        .iter()
        .filter(|object| object.contains("/BaseFont /Symbol"));
    assert!(
        symbol.clone().count() == 1 && symbol.clone().all(|object| !object.contains("/Encoding"))
    );
    // The rim is a second text below the first.
    assert_eq!(shown("G1 · y"), 2);
}

/// Every chart of the samples, with hatching, clips, arcs, dashes and turned texts: all texts are there, states are put back,
/// the same bytes come twice.
#[test]
fn charts_go_to_pdf_whole_and_always_the_same() {
    for (name, draw) in samples::PICTURES {
        let picture = draw(120.0);
        let bytes = to_pdf(std::slice::from_ref(&picture), name);
        assert_eq!(bytes, to_pdf(std::slice::from_ref(&picture), name));
        let read = Read::of(&bytes);
        for stream in read.streams() {
            let all = |what: &str| stream.lines().filter(|line| *line == what).count();
            assert_eq!(all("q"), all("Q"), "{name}");
            assert_eq!(all("BT"), all("ET"), "{name}");
        }
        let texts = read.texts();
        for (content, _) in picture.text_areas() {
            if content.is_ascii() {
                assert!(
                    texts.iter().any(|text| text == content),
                    "{name}: {content}"
                );
            }
        }
    }
}

#[test]
fn numbers_that_are_none_do_no_harm() {
    let odd = [f64::NAN, f64::INFINITY, -1e300];
    for value in odd {
        let area = Area {
            x: value,
            y: 0.0,
            width: value,
            height: 5.0,
        };
        let items = vec![
            Item::Rectangle {
                area,
                stroke: Some(Stroke::HEAVY),
                fill: Fill::Hatched,
            },
            Item::Arc {
                centre: point(value, 1.0),
                radius: value,
                start: value,
                sweep: value,
                stroke: Stroke::PLAIN,
            },
            Item::Text(Text::new(point(value, 1.0), "grid", value)),
        ];
        let picture = Picture {
            width: value,
            height: value,
            items,
        };
        let read = Read::of(&to_pdf(&[picture], ""));
        assert_eq!(read.pages().count(), 1);
        assert!(
            read.streams()
                .all(|stream| !stream.contains("NaN") && !stream.contains("inf"))
        );
    }
    assert_eq!(Read::of(&to_pdf(&[], "nothing")).pages().count(), 0);
}
