//! The page of a tube type.

use super::load_line::{curve, grid_label, grid_steps};
use super::{Edition, block_table, figure, half_figure};
use crate::chart::{Along, Axis, Band, Chart, Marker, Series};
use crate::draw::{Fill, Item, Picture, Stroke, point};
use crate::page::{Block, Figure, Page, Section};
use crate::pinout::{self, Side};
use crate::sheet::{self, currents};
use crate::words::Wording;
use devices::types::{Law, TubeType};

/// The sheet of a type: data with sources, base from both sides, plate curves, what it does at low plate volts, and the
/// fit against its points.
#[must_use]
pub fn type_sheet_page(tube: &TubeType, edition: &Edition, wording: Wording) -> String {
    let mut sections = vec![low(tube, wording)];
    if let Some(law) = &tube.law {
        sections.push(curves(tube, law, wording));
    }
    sections.push(data(tube, wording));
    if let Some(base) = &tube.base {
        const WIDTH: f64 = 78.0;
        let sides = [Side::Below, Side::Above].map(|side| pinout::draw(base, side, WIDTH, wording));
        let beside = side_by_side(&sides);
        let figure = Block::Figure(Figure {
            caption: wording.apply("The base from both sides, numbered clockwise as seen from below. Seen from above the same pins run the other way."),
            description: "Pins on a circle with their electrodes.".to_owned(),
            wide: vec![beside],
            narrow: sides.to_vec(),
        });
        sections.push(Section {
            heading: "Base".to_owned(),
            blocks: vec![figure, block_table(sheet::pins(base), wording)],
        });
    }
    if tube.law.is_some() {
        sections.push(fit(tube, wording));
    }
    let sources = sheet::sources(tube);
    if !sources.is_empty() {
        sections.push(Section {
            heading: "Documents".to_owned(),
            blocks: vec![Block::List(sources)],
        });
    }
    let page = Page {
        one_sheet: false,
        title: format!("{}: type sheet", tube.name),
        lead: String::new(),
        sections,
        edition: vec![edition.line()],
    };
    page.to_html()
}

/// Pictures in one row.
fn side_by_side(pictures: &[Picture]) -> Picture {
    let mut all = Picture {
        width: 0.0,
        height: 0.0,
        items: Vec::new(),
    };
    for picture in pictures {
        all.items.push(Item::Group {
            offset: point(all.width, 0.0),
            clip: None,
            items: picture.items.clone(),
        });
        all.width += picture.width;
        all.height = all.height.max(picture.height);
    }
    all
}

fn low(tube: &TubeType, wording: Wording) -> Section {
    let say = |text: &str| wording.apply(text);
    let mut blocks = Vec::new();
    if tube.law.is_none() {
        blocks.push(Block::Paragraph("No curve is known for this type: nothing can be computed with it. What is known stands below.".to_owned()));
    } else {
        blocks.push(block_table(sheet::low_volts_table(tube), wording));
        blocks.push(Block::Paragraph(say(&sheet::extrapolation(tube))));
    }
    blocks.push(Block::Subheading(
        "To measure on the bench, to be sure".to_owned(),
    ));
    blocks.push(Block::List(
        sheet::to_measure(tube)
            .iter()
            .map(|text| say(text))
            .collect(),
    ));
    blocks.push(Block::Caution(say(sheet::CAUTION)));
    Section {
        heading: "What it does at 12, 24 and 40 V".to_owned(),
        blocks,
    }
}

fn data(tube: &TubeType, wording: Wording) -> Section {
    let mut blocks = vec![block_table(sheet::data(tube), wording)];
    if !tube.points.is_empty() {
        blocks.push(block_table(sheet::points(tube), wording));
    }
    if !tube.remarks.is_empty() {
        blocks.push(Block::Subheading("Remarks".to_owned()));
        blocks.push(Block::List(tube.remarks.clone()));
    }
    Section {
        heading: "Data".to_owned(),
        blocks,
    }
}

fn fit(tube: &TubeType, wording: Wording) -> Section {
    let mut blocks = vec![Block::Listing(sheet::parameters(tube))];
    blocks.push(Block::Paragraph(if tube.from_prior.is_empty() {
        "No parameter comes from a prior.".to_owned()
    } else {
        from_prior(tube)
    }));
    let table = sheet::fit_table(tube);
    if table.rows.is_empty() {
        blocks.push(Block::Paragraph(
            "There are no points to compare the law with.".to_owned(),
        ));
    } else {
        blocks.push(errors(tube, wording));
        blocks.push(block_table(table, wording));
    }
    Section {
        heading: "The law and its points".to_owned(),
        blocks,
    }
}

/// Parameters by the prior that they come from.
fn from_prior(tube: &TubeType) -> String {
    let mut priors: Vec<&str> = tube
        .from_prior
        .iter()
        .map(|(_, prior)| prior.as_str())
        .collect();
    priors.sort_unstable();
    priors.dedup();
    let sentences: Vec<String> = priors
        .into_iter()
        .map(|prior| {
            let own = tube.from_prior.iter().filter(|(_, name)| name == prior);
            let names: Vec<&str> = own.map(|(parameter, _)| parameter.as_str()).collect();
            format!(
                "Not determined by the points, taken from the prior \u{201c}{prior}\u{201d}: {}.",
                names.join(", ")
            )
        })
        .collect();
    sentences.join(" ")
}

/// Relative errors of all values, one mark each, by quantity.
fn errors(tube: &TubeType, wording: Wording) -> Block {
    const MARKERS: [Marker; 4] = [Marker::Dot, Marker::Cross, Marker::Ring, Marker::Square];
    let rows = sheet::fit_rows(tube);
    let mut quantities: Vec<&str> = rows.iter().map(|row| row.quantity).collect();
    quantities.sort_unstable();
    quantities.dedup();
    let series: Vec<(String, Vec<(f64, f64)>)> = quantities
        .into_iter()
        .map(|quantity| {
            let own = rows.iter().filter(|row| row.quantity == quantity);
            let points = own
                .filter_map(|row| Some((row.plate_volts, 100.0 * row.relative()?)))
                .collect();
            (wording.apply(quantity), points)
        })
        .collect();
    let highest = rows.iter().map(|row| row.plate_volts).fold(1.0, f64::max);
    let worst = rows
        .iter()
        .filter_map(sheet::FitRow::relative)
        .map(|relative| 100.0 * relative.abs())
        .fold(5.0, f64::max);
    half_figure(
        "How far the law is from each value of its points.".to_owned(),
        "Relative errors over plate volts.".to_owned(),
        |width| {
            let x = Axis::linear(&wording.apply("plate volts"), "V").between(0.0, 1.1 * highest);
            let y =
                Axis::linear("law over given, less one", "%").between(-1.2 * worst, 1.2 * worst);
            let mut chart = Chart::new(width, 60.0, x, y);
            chart.references.push(crate::chart::Reference {
                along: Along::Y,
                at: 0.0,
                label: String::new(),
                stroke: Stroke::PLAIN,
            });
            chart.series = series
                .iter()
                .enumerate()
                .map(|(idx, (label, points))| Series {
                    label: label.clone(),
                    points: points.clone(),
                    stroke: None,
                    marker: Some(MARKERS[idx % MARKERS.len()]),
                })
                .collect();
            chart.draw()
        },
    )
}

/// Plate volts of the low corner, drawn large.
const LOW_CORNER: f64 = 50.0;

/// The low corner large, and the full range.
fn curves(tube: &TubeType, law: &Law, wording: Wording) -> Section {
    let highest = tube
        .validity
        .map_or(250.0, |validity| validity.plate_volts.1)
        .max(LOW_CORNER);
    let screen = tube
        .points
        .iter()
        .filter_map(|point| point.screen_volts)
        .reduce(f64::max)
        .unwrap_or(highest);
    let mut blocks = vec![family(
        tube,
        law,
        (LOW_CORNER, LOW_CORNER),
        "The corner from 0 to 50 V",
        wording,
    )];
    if LOW_CORNER < highest {
        blocks.push(family(
            tube,
            law,
            (highest, screen),
            "The full range of the points",
            wording,
        ));
    }
    if !matches!(law, Law::Diode(_)) {
        blocks.push(grid_side(tube, law, wording));
    }
    Section {
        heading: "Plate curves".to_owned(),
        blocks,
    }
}

/// Plate curves from 0 V to `to`, a pentode's screen at `screen`; the low corner is drawn large.
fn family(
    tube: &TubeType,
    law: &Law,
    (to, screen): (f64, f64),
    name: &str,
    wording: Wording,
) -> Block {
    let at = |plate: f64, grid: f64| currents(law, plate, grid, screen).plate;
    let is_diode = matches!(law, Law::Diode(_));
    let given = given_points(tube, to);
    let top = highest_amps(&given, at(to, 0.0), to);
    let grids = if is_diode {
        vec![0.0]
    } else {
        grid_steps(law, (to, screen), top, 0.0)
    };
    let label = |grid| {
        if is_diode {
            String::new()
        } else {
            grid_label(grid)
        }
    };
    let from = tube
        .validity
        .map(|validity| validity.plate_volts.0)
        .filter(|from| 0.0 < *from);
    let caption = family_caption(law, name, screen, from.is_some());
    let description = "Plate current over plate volts for several grid volts.";
    let draw = |width: f64, height: f64| {
        let x = Axis::linear(&wording.apply("plate volts"), "V").between(0.0, to);
        let y = Axis::linear(&wording.apply("plate current"), "A").between(0.0, top);
        let mut chart = Chart::new(width, height, x, y);
        let band = |from: f64| Band {
            along: Along::X,
            from: 0.0,
            to: from.min(to),
            label: String::new(),
            fill: Fill::Light,
        };
        chart.bands = from.map(band).into_iter().collect();
        let curves = grids.iter().map(|&grid| curve(&at, grid, to, label(grid)));
        chart.series = curves.collect();
        chart.series.push(Series {
            label: String::new(),
            points: given.clone(),
            stroke: None,
            marker: Some(Marker::Ring),
        });
        chart.draw()
    };
    let (caption, description) = (wording.apply(&caption), wording.apply(description));
    if to <= LOW_CORNER {
        figure(caption, description, |width| {
            vec![draw(width.min(135.0), 100.0)]
        })
    } else {
        half_figure(caption, description, |width| draw(width, 75.0))
    }
}

fn family_caption(law: &Law, name: &str, screen: f64, has_grey: bool) -> String {
    let on_screen = match law {
        Law::Pentode(_) => format!(", screen at {}", crate::sentence::volts(screen)),
        _ => String::new(),
    };
    let at_curves = match law {
        Law::Diode(_) => "",
        _ => " Grid volts at the curves.",
    };
    let grey = if has_grey {
        " Grey: no point reaches so low, the curves are extrapolated."
    } else {
        ""
    };
    format!("{name}{on_screen}.{at_curves} Rings: points of the type.{grey}")
}

/// Plate volts and current (A) of the points in view.
fn given_points(tube: &TubeType, to: f64) -> Vec<(f64, f64)> {
    let in_view = tube.points.iter().filter(|point| point.plate_volts <= to);
    in_view
        .filter_map(|point| Some((point.plate_volts, point.plate_amps.as_ref()?.value)))
        .collect()
}

/// Top of the current axis (A): at high plate volts no tube runs at 0 V grid, so there the picture ends above the points.
fn highest_amps(given: &[(f64, f64)], at_zero_grid: f64, to: f64) -> f64 {
    let whole = 1.05 * at_zero_grid.max(1e-9);
    match given.iter().map(|point| point.1).reduce(f64::max) {
        Some(amps) if LOW_CORNER < to && 0.0 < amps => whole.min(1.6 * amps),
        _ => whole,
    }
}

/// Plate and grid current over the grid volts at low plate volts.
fn grid_side(tube: &TubeType, law: &Law, wording: Wording) -> Block {
    let low = sheet::low_volts(tube);
    let lowest = low
        .iter()
        .filter_map(|one| one.cut_off)
        .map(|cut_off| cut_off.0)
        .fold(-0.5, f64::min);
    let from = 1.3 * lowest;
    let most = low
        .iter()
        .filter_map(|one| one.amps_positive)
        .fold(1e-4, f64::max);
    let steps = 120;
    let over = |value: &dyn Fn(f64) -> f64| -> Vec<(f64, f64)> {
        (0..=steps)
            .map(|step| from + (0.5 - from) * f64::from(step) / f64::from(steps))
            .map(|grid| (grid, value(grid)))
            .collect()
    };
    let mut series: Vec<(String, Vec<(f64, f64)>)> = low
        .iter()
        .map(|one| {
            (
                format!("plate {:.0} V", one.plate_volts),
                over(&|grid| currents(law, one.plate_volts, grid, one.plate_volts).plate),
            )
        })
        .collect();
    series.push((
        "grid current".to_owned(),
        over(&|grid| currents(law, 24.0, grid, 24.0).grid),
    ));
    let caption =
        "Plate current over the grid volts at low plate volts, and the grid's own current at 24 V.";
    half_figure(
        wording.apply(caption),
        wording.apply("Plate and grid current over grid volts, in decades."),
        |width| {
            let x = Axis::linear("grid volts", "V").between(from, 0.5);
            let y = Axis::logarithmic("current", "A").between(1e-6, 2.0 * most);
            let mut chart = Chart::new(width, 75.0, x, y);
            chart.series = series
                .iter()
                .enumerate()
                .map(|(idx, (label, points))| Series {
                    label: wording.apply(label),
                    points: points.clone(),
                    stroke: Some(Stroke::numbered(idx)),
                    marker: None,
                })
                .collect();
            chart.draw()
        },
    )
}
