//! The pictures of the demo machine's report and of every sheet of the library, read back from the finished pages: nothing
//! overlaps, leaves its picture, lies on a curve or is too small for a phone.

use crate::designs::{CONTEXT, Folder, LIMITS};
use design::read::read;
use devices::library::Library;
use network::verdict::check;
use report::draw::{Anchor, Area, Point, Text, point};
use report::html::{Besides, Edition, design_page, type_sheet_page};
use report::words::Wording;
use roxmltree::{Document, Node};

fn edition() -> Edition {
    Edition {
        version: "0".to_owned(),
        date: "today".to_owned(),
    }
}

fn demo_page() -> String {
    let folder = Folder::of_the_program("demo/tidewatch");
    let reading = read("machine.valve", &folder, Library::shipped());
    let verdict = check(reading.design.as_ref().unwrap(), &LIMITS, &CONTEXT);
    design_page(
        &verdict,
        Besides::default(),
        &reading.sources,
        &edition(),
        Wording::default(),
    )
}

fn sheets() -> impl Iterator<Item = (String, String)> {
    let tubes = Library::shipped().tubes.clone();
    tubes.into_iter().map(|tube| {
        let page = type_sheet_page(&tube, &edition(), Wording::default());
        (tube.name.clone(), page)
    })
}

/// A picture as it stands in a page.
pub struct Shown {
    id: String,
    sheet: Area,
    texts: Vec<(Text, Area)>,
    /// Pieces of curves.
    curves: Vec<(Point, Point)>,
}

impl Shown {
    fn of(svg: &str) -> Shown {
        let document = Document::parse(svg).unwrap();
        let root = document.root_element();
        let size: Vec<f64> = root
            .attribute("viewBox")
            .unwrap()
            .split(' ')
            .map(|number| number.parse().unwrap())
            .collect();
        let mut shown = Shown {
            id: root.attribute("aria-labelledby").unwrap().to_owned(),
            sheet: Area {
                x: 0.0,
                y: 0.0,
                width: size[2],
                height: size[3],
            },
            texts: Vec::new(),
            curves: Vec::new(),
        };
        shown.collect(root, point(0.0, 0.0));
        shown
    }

    fn collect(&mut self, node: Node<'_, '_>, offset: Point) {
        for child in node.children().filter(Node::is_element) {
            match child.tag_name().name() {
                "g" => {
                    let moved = child.attribute("transform").map_or(offset, |transform| {
                        let by = numbers(transform);
                        point(offset.x + by[0], offset.y + by[1])
                    });
                    self.collect(child, moved);
                }
                "text" => self.text(child, offset),
                "polyline" => {
                    let places = numbers(child.attribute("points").unwrap());
                    let places: Vec<Point> = places
                        .chunks(2)
                        .map(|pair| point(pair[0] + offset.x, pair[1] + offset.y))
                        .collect();
                    self.curves
                        .extend(places.windows(2).map(|pair| (pair[0], pair[1])));
                }
                _ => {}
            }
        }
    }

    fn text(&mut self, node: Node<'_, '_>, offset: Point) {
        let number = |name: &str| node.attribute(name).unwrap().parse::<f64>().unwrap();
        let at = point(number("x") + offset.x, number("y") + offset.y);
        let mut text = Text::new(at, node.text().unwrap_or_default(), number("font-size"));
        text.bold = node.attribute("font-weight").is_some();
        text.anchor = match node.attribute("text-anchor") {
            Some("middle") => Anchor::Middle,
            Some("end") => Anchor::End,
            _ => Anchor::Start,
        };
        text.rotation = node
            .attribute("transform")
            .map_or(0.0, |transform| numbers(transform)[0]);
        let area = text.area();
        self.texts.push((text, area));
    }

    pub fn faults(&self) -> Vec<String> {
        let mut faults = Vec::new();
        for (idx, (text, area)) in self.texts.iter().enumerate() {
            if !self.sheet.holds(area) {
                faults.push(format!("\"{}\" leaves the picture", text.content));
            }
            for (other, other_area) in &self.texts[idx + 1..] {
                if area.overlaps(other_area) {
                    faults.push(format!(
                        "\"{}\" overlaps \"{}\"",
                        text.content, other.content
                    ));
                }
            }
        }
        faults
    }

    /// Texts that a curve runs through.
    fn crossed(&self) -> Vec<&str> {
        /// A curve may touch a letter's edge.
        const TOUCH: f64 = 0.35;
        let crossed = |(_, area): &&(Text, Area)| {
            let inner = area.grown(-TOUCH);
            let passes = |&(from, to): &(Point, Point)| {
                let steps = (4.0 * (to.x - from.x).hypot(to.y - from.y)).ceil().max(1.0);
                (0..=steps as usize).any(|step| {
                    let share = step as f64 / steps;
                    inner.contains(point(
                        from.x + share * (to.x - from.x),
                        from.y + share * (to.y - from.y),
                    ))
                })
            };
            self.curves.iter().any(passes)
        };
        self.texts
            .iter()
            .filter(crossed)
            .map(|(text, _)| text.content.as_str())
            .collect()
    }

    /// Smallest size of type on a phone of 390 points across, whose page shows 93 mm, in millimetres of the screen.
    fn least_type_on_a_phone(&self) -> f64 {
        let stretch = (93.0 / self.sheet.width).min(1.2);
        let sizes = self.texts.iter().map(|(text, _)| text.size * stretch);
        sizes.fold(f64::INFINITY, f64::min)
    }
}

fn numbers(text: &str) -> Vec<f64> {
    text.split(|c: char| !(c.is_ascii_digit() || c == '.' || c == '-'))
        .filter_map(|number| number.parse().ok())
        .collect()
}

pub fn pictures(page: &str) -> Vec<Shown> {
    page.split("<svg ")
        .skip(1)
        .map(|rest| {
            let end = rest.find("</svg>").unwrap();
            Shown::of(&format!("<svg {}</svg>", &rest[..end]))
        })
        .collect()
}

#[test]
fn no_text_of_a_page_overlaps_another_or_leaves_its_picture() {
    let pages = sheets().chain([("demo".to_owned(), demo_page())]);
    for (name, page) in pages {
        for picture in pictures(&page) {
            let faults = picture.faults();
            assert_eq!(faults, Vec::<String>::new(), "{name}: {}", picture.id);
        }
    }
}

/// Curves and load lines are the polylines of a page's charts.
#[test]
fn no_curve_or_load_line_runs_through_a_text_of_a_chart() {
    let pages = sheets().chain([("demo".to_owned(), demo_page())]);
    for (name, page) in pages {
        for picture in pictures(&page) {
            let is_chart = picture.texts.iter().any(|(text, _)| {
                text.content.starts_with("plate current") || text.content.contains("(output)")
            });
            if is_chart {
                let crossed = picture.crossed();
                assert!(crossed.is_empty(), "{name}: {}: {crossed:?}", picture.id);
            }
        }
    }
}

/// 2.3 mm of a screen whose 390 points are 103 mm are 8.7 points: readable without effort (common practice, no source).
#[test]
fn a_phone_shows_every_picture_with_type_that_can_be_read() {
    let page = demo_page();
    let all = pictures(&page);
    let narrow: Vec<String> = all
        .iter()
        .filter_map(|one| Some(one.id.split_once("-narrow-")?.0.to_owned()))
        .collect();
    for picture in &all {
        let figure = picture.id.split_once("-wide-").map(|parts| parts.0);
        let replaced = figure.is_some_and(|figure| narrow.iter().any(|one| one == figure));
        if !replaced {
            let least = picture.least_type_on_a_phone();
            assert!(2.3 <= least, "{}: {least}", picture.id);
        }
    }
}

#[test]
fn charts_stand_side_by_side_and_nothing_follows_the_last_section() {
    let page = demo_page();
    assert!(
        page.contains("</main></body>"),
        "a foot may stand alone on a sheet"
    );
    let header = &page[..page.find("</header>").unwrap()];
    assert!(header.contains("valvewright 0, today"));
    assert!(page.contains("<div class=\"row\"><figure"));
}
