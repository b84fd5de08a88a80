//! Pictures as SVG 1.1 text, to stand alone or inside an HTML page.

use super::width::text_width;
use super::{Anchor, Area, Fill, Item, Picture, Point, Step, Stroke, Text};
use std::fmt::Write;

/// Fonts with the metrics of [`super::width`] first, then whatever the reader has.
const FONTS: &str = "Helvetica, Arial, Liberation Sans, sans-serif";

/// Writes a picture as one `<svg>` element, black on white, sized in millimetres.
///
/// `prefix` begins every id, so several pictures can stand on one page: letters, digits and hyphens, beginning with
/// a letter (anything else is left out). `title` and `description` are read out in place of the picture.
/// Numbers that are not finite are written as 0, so the result is always well-formed.
#[must_use]
pub fn to_svg(picture: &Picture, prefix: &str, title: &str, description: &str) -> String {
    let mut writer = Writer::new(prefix);
    let whole = Area {
        x: 0.0,
        y: 0.0,
        width: picture.width,
        height: picture.height,
    };
    writer.item(&Item::Rectangle {
        area: whole,
        stroke: None,
        fill: Fill::Paper,
    });
    for item in &picture.items {
        writer.item(item);
    }
    let prefix = &writer.prefix;
    let (width, height) = (number(picture.width), number(picture.height));
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" \
         width=\"{width}mm\" height=\"{height}mm\" role=\"img\" \
         aria-labelledby=\"{prefix}-title {prefix}-description\">\n\
         <title id=\"{prefix}-title\">{}</title>\n\
         <desc id=\"{prefix}-description\">{}</desc>\n\
         <defs>\n{HATCH_BEGIN}{prefix}-hatch{HATCH_END}{}</defs>\n\
         <g font-family=\"{FONTS}\" stroke-linecap=\"butt\" stroke-linejoin=\"round\">\n{}</g>\n</svg>\n",
        escaped(title),
        escaped(description),
        writer.clips,
        writer.body,
    )
}

const HATCH_BEGIN: &str = "<pattern id=\"";
const HATCH_END: &str = "\" patternUnits=\"userSpaceOnUse\" width=\"1.2\" height=\"1.2\" \
     patternTransform=\"rotate(45)\">\
     <line x1=\"0\" y1=\"0\" x2=\"0\" y2=\"1.2\" stroke=\"#000\" stroke-width=\"0.4\"/></pattern>\n";

struct Writer {
    /// Begins every id; not empty.
    prefix: String,
    /// Finished `<clipPath>` elements.
    clips: String,
    n_clips: usize,
    body: String,
}

impl Writer {
    fn new(prefix: &str) -> Writer {
        let kept: String = prefix
            .chars()
            .filter(|c| c.is_ascii_alphanumeric() || *c == '-')
            .collect();
        let begins_well = kept.starts_with(|c: char| c.is_ascii_alphabetic());
        Writer {
            prefix: if begins_well {
                kept
            } else {
                format!("picture-{kept}")
            },
            clips: String::new(),
            n_clips: 0,
            body: String::new(),
        }
    }

    fn item(&mut self, item: &Item) {
        match item {
            Item::Line { from, to, stroke } => {
                let ends = [("x1", from.x), ("y1", from.y), ("x2", to.x), ("y2", to.y)];
                self.element("line", &attributes(&ends), Some(*stroke), Fill::None);
            }
            Item::Polyline { points, stroke } => {
                let list: Vec<String> = points.iter().map(|at| pair(*at)).collect();
                let course = format!(" points=\"{}\"", list.join(" "));
                self.element("polyline", &course, Some(*stroke), Fill::None);
            }
            Item::Rectangle { area, stroke, fill } => {
                self.element("rect", &rectangle(area), *stroke, *fill);
            }
            Item::Circle {
                centre,
                radius,
                stroke,
                fill,
            } => {
                let shape = [("cx", centre.x), ("cy", centre.y), ("r", *radius)];
                self.element("circle", &attributes(&shape), *stroke, *fill);
            }
            Item::Arc {
                centre,
                radius,
                start,
                sweep,
                stroke,
            } => {
                let course = format!(" d=\"{}\"", arc_course(*centre, *radius, *start, *sweep));
                self.element("path", &course, Some(*stroke), Fill::None);
            }
            Item::Text(text) => self.text(text),
            Item::Path {
                steps,
                stroke,
                fill,
            } => {
                let course: Vec<String> = steps.iter().map(step_course).collect();
                self.element(
                    "path",
                    &format!(" d=\"{}\"", course.join(" ")),
                    *stroke,
                    *fill,
                );
            }
            Item::Group {
                offset,
                clip,
                items,
            } => self.group(*offset, *clip, items),
        }
    }

    fn element(&mut self, name: &str, shape: &str, stroke: Option<Stroke>, fill: Fill) {
        let fill = match fill {
            Fill::None => "none".to_owned(),
            Fill::Paper => "#fff".to_owned(),
            Fill::Light => "#e8e8e8".to_owned(),
            Fill::Dark => "#6a6a6a".to_owned(),
            Fill::Hatched => format!("url(#{}-hatch)", self.prefix),
            Fill::Ink => "#000".to_owned(),
        };
        let line = stroke.map(|stroke| line_style(&stroke)).unwrap_or_default();
        push(
            &mut self.body,
            format_args!("<{name}{shape} fill=\"{fill}\"{line}/>\n"),
        );
    }

    /// The text is fitted to the estimated width: layouts then hold whatever font the reader has.
    fn text(&mut self, text: &Text) {
        let width = text_width(&text.content, text.size, text.bold);
        if width <= 0.0 {
            return;
        }
        let anchor = match text.anchor {
            Anchor::Start => "",
            Anchor::Middle => " text-anchor=\"middle\"",
            Anchor::End => " text-anchor=\"end\"",
        };
        let weight = if text.bold {
            " font-weight=\"bold\""
        } else {
            ""
        };
        let rim = if text.rimmed {
            " stroke=\"#fff\" stroke-width=\"0.8\" paint-order=\"stroke\""
        } else {
            ""
        };
        let turn = if text.rotation == 0.0 {
            String::new()
        } else {
            let (x, y) = (number(text.at.x), number(text.at.y));
            format!(" transform=\"rotate({} {x} {y})\"", number(text.rotation))
        };
        let place = attributes(&[
            ("x", text.at.x),
            ("y", text.at.y),
            ("font-size", text.size),
            ("textLength", width),
        ]);
        let content = escaped(&text.content);
        push(
            &mut self.body,
            format_args!(
                "<text{place} lengthAdjust=\"spacingAndGlyphs\"{anchor}{weight}{rim}{turn}>{content}</text>\n"
            ),
        );
    }

    fn group(&mut self, offset: Point, clip: Option<Area>, items: &[Item]) {
        let mut attributes = String::new();
        if offset.x != 0.0 || offset.y != 0.0 {
            push(
                &mut attributes,
                format_args!(
                    " transform=\"translate({} {})\"",
                    number(offset.x),
                    number(offset.y)
                ),
            );
        }
        if let Some(area) = clip {
            self.n_clips += 1;
            let id = format!("{}-clip-{}", self.prefix, self.n_clips);
            push(
                &mut self.clips,
                format_args!(
                    "<clipPath id=\"{id}\"><rect{}/></clipPath>\n",
                    rectangle(&area)
                ),
            );
            push(&mut attributes, format_args!(" clip-path=\"url(#{id})\""));
        }
        push(&mut self.body, format_args!("<g{attributes}>\n"));
        for item in items {
            self.item(item);
        }
        self.body.push_str("</g>\n");
    }
}

fn push(into: &mut String, what: std::fmt::Arguments<'_>) {
    into.write_fmt(what)
        .expect("writing to a String cannot fail");
}

fn line_style(stroke: &Stroke) -> String {
    let [red, green, blue] = stroke.colour();
    let mut style = format!(
        " stroke=\"#{red:02x}{green:02x}{blue:02x}\" stroke-width=\"{}\"",
        number(stroke.weight.millimetres())
    );
    let dashes: Vec<String> = stroke
        .dashes()
        .iter()
        .map(|length| number(*length))
        .collect();
    if !dashes.is_empty() {
        push(
            &mut style,
            format_args!(" stroke-dasharray=\"{}\"", dashes.join(" ")),
        );
    }
    style
}

fn attributes(list: &[(&str, f64)]) -> String {
    list.iter()
        .map(|(name, value)| format!(" {name}=\"{}\"", number(*value)))
        .collect()
}

fn rectangle(area: &Area) -> String {
    attributes(&[
        ("x", area.x),
        ("y", area.y),
        ("width", area.width.max(0.0)),
        ("height", area.height.max(0.0)),
    ])
}

fn step_course(step: &Step) -> String {
    match step {
        Step::Move(to) => format!("M{}", pair(*to)),
        Step::Line(to) => format!("L{}", pair(*to)),
        Step::Curve(first, second, to) => {
            format!("C{} {} {}", pair(*first), pair(*second), pair(*to))
        }
        Step::Close => "Z".to_owned(),
    }
}

fn arc_course(centre: Point, radius: f64, start: f64, sweep: f64) -> String {
    let on_circle = |degrees: f64| {
        let (sin, cos) = degrees.to_radians().sin_cos();
        Point {
            x: centre.x + radius * cos,
            y: centre.y + radius * sin,
        }
    };
    let large = u8::from(sweep.abs() > 180.0);
    let clockwise = u8::from(sweep > 0.0);
    let radius = number(radius);
    format!(
        "M{} A{radius} {radius} 0 {large} {clockwise} {}",
        pair(on_circle(start)),
        pair(on_circle(start + sweep))
    )
}

fn pair(at: Point) -> String {
    format!("{},{}", number(at.x), number(at.y))
}

/// To a thousandth of a millimetre, without trailing zeros.
fn number(value: f64) -> String {
    if !value.is_finite() {
        return "0".to_owned();
    }
    let text = format!("{value:.3}");
    let short = text.trim_end_matches('0').trim_end_matches('.');
    if short == "-0" {
        "0".to_owned()
    } else {
        short.to_owned()
    }
}

/// Text as XML content or attribute value; line ends become spaces, characters XML 1.0 forbids (section 2.2)
/// are left out.
fn escaped(content: &str) -> String {
    let mut out = String::with_capacity(content.len());
    for letter in content.chars() {
        match letter {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\u{fffe}' | '\u{ffff}' => {}
            '\t' | '\n' | '\r' => out.push(' '),
            _ if letter.is_control() => {}
            _ => out.push(letter),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::draw::point;

    fn svg_of(items: Vec<Item>) -> String {
        to_svg(
            &Picture {
                width: 50.0,
                height: 20.0,
                items,
            },
            "p1",
            "title",
            "description",
        )
    }

    #[test]
    fn numbers_are_short_and_never_break_the_markup() {
        let written = [1.0, -0.0, 0.1234, 1234.5, f64::NAN, f64::INFINITY, -2.50].map(number);
        assert_eq!(written, ["1", "0", "0.123", "1234.5", "0", "0", "-2.5"]);
    }

    #[test]
    fn sizes_are_in_millimetres() {
        let svg = svg_of(Vec::new());
        assert!(
            svg.contains("viewBox=\"0 0 50 20\" width=\"50mm\" height=\"20mm\""),
            "{svg}"
        );
    }

    #[test]
    fn a_quarter_arc_ends_where_it_should() {
        assert_eq!(
            arc_course(point(10.0, 10.0), 5.0, 0.0, 90.0),
            "M15,10 A5 5 0 0 1 10,15"
        );
        assert_eq!(
            arc_course(point(0.0, 0.0), 2.0, 0.0, -270.0),
            "M2,0 A2 2 0 1 0 0,2"
        );
    }

    #[test]
    fn ids_begin_with_the_prefix_and_with_a_letter() {
        assert_eq!(Writer::new("s1-f2").prefix, "s1-f2");
        assert_eq!(Writer::new("1 \"<x").prefix, "picture-1x");
        assert_eq!(Writer::new("").prefix, "picture-");
    }

    #[test]
    fn escaping_leaves_no_markup_and_no_forbidden_character() {
        assert_eq!(
            escaped("a<b & \"c\"\u{0}\u{1b}'"),
            "a&lt;b &amp; &quot;c&quot;&#39;"
        );
    }
}
