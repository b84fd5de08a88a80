//! Heater strings, heaters and rails.

use super::{block_table, figure, half_figure};
use crate::chart::bars::{Bar, Whole};
use crate::chart::{self, Along, Axis, Chart, Reference, Series};
use crate::draw::{Picture, Stroke};
use crate::page::{Block, Section};
use crate::string_drawing;
use crate::tables;
use crate::words::Wording;
use design::model::{Design, Rail};
use network::feeders::feeders;
use network::heaters::warming::WarmUp;
use network::power::{Power, RailPower, power};
use network::verdict::Verdict;
use std::sync::Arc;

pub(super) fn section(verdict: &Verdict, wording: Wording) -> Section {
    let design = verdict.plan.design;
    let mut blocks = Vec::new();
    for (index, string) in design.strings.iter().enumerate() {
        let mut caption = format!(
            "String {}: {}",
            string.name,
            string_drawing::current(verdict, index)
        );
        if index == 0 {
            caption = format!("{caption} {}", string_drawing::LEGEND);
        }
        let description = format!(
            "Heaters of string {} in order with the volts at every joint.",
            string.name
        );
        blocks.push(figure(
            wording.apply(&caption),
            wording.apply(&description),
            |width| vec![string_drawing::draw(verdict, index, width)],
        ));
    }
    blocks.extend(warm_ups(verdict, wording));
    if !verdict.heaters.readings.is_empty() {
        blocks.push(block_table(tables::strings(verdict), wording));
        blocks.push(block_table(tables::heaters(verdict), wording));
        blocks.push(block_table(tables::heater_reach(verdict), wording));
        let feeders = feeders(verdict);
        if !feeders.is_empty() {
            blocks.push(block_table(tables::feeders(design, &feeders), wording));
        }
        let sentences = crate::sentence::about_heaters(verdict);
        blocks.extend(
            sentences
                .into_iter()
                .map(|said| Block::Paragraph(wording.apply(&said))),
        );
    }
    if !design.rails.is_empty() {
        let power = power(verdict);
        blocks.push(budget(design, &power, wording));
        blocks.push(block_table(tables::rails(design, &power), wording));
        blocks.push(block_table(tables::tubes(design, &power), wording));
        blocks.push(block_table(tables::heat(design, &power), wording));
        let sentences = crate::sentence::about_power(verdict, &power);
        blocks.extend(
            sentences
                .into_iter()
                .map(|said| Block::Paragraph(wording.apply(&said))),
        );
    }
    if design.strings.is_empty() {
        blocks.push(Block::Paragraph("No heater string is typed.".to_owned()));
    }
    Section {
        heading: "Heaters and rails".to_owned(),
        blocks,
    }
}

/// How the strings warm up, one chart for all that are alike.
fn warm_ups(verdict: &Verdict, wording: Wording) -> Vec<Block> {
    let mut drawn: Vec<&Arc<WarmUp>> = Vec::new();
    let mut blocks = Vec::new();
    for (index, reading) in verdict.heaters.strings.iter().enumerate() {
        let Some(warm) = &reading.warm_up else {
            continue;
        };
        if drawn.iter().any(|other| Arc::ptr_eq(other, warm)) {
            continue;
        }
        drawn.push(warm);
        let all = verdict
            .plan
            .design
            .strings
            .iter()
            .zip(&verdict.heaters.strings);
        let alike: Vec<&str> = all
            .filter(|(_, other)| {
                let other = other.warm_up.as_ref();
                other.is_some_and(|other| Arc::ptr_eq(other, warm))
            })
            .map(|(string, _)| string.name.as_str())
            .collect();
        let names = list(&alike);
        let plural = if alike.len() == 1 { "" } else { "s" };
        let caption = format!(
            "How string{plural} {names} warm{} up: volts of the heaters after the supply is switched on.",
            if alike.len() == 1 { "s" } else { "" }
        );
        let description = format!("Volts of every heater of string{plural} {names} over time.");
        blocks.push(half_figure(
            wording.apply(&caption),
            wording.apply(&description),
            |width| curves(verdict, index, warm, width),
        ));
    }
    blocks
}

/// The curves of one string; links that go the same way share one.
fn curves(verdict: &Verdict, string: usize, warm: &WarmUp, width: f64) -> Picture {
    let design = verdict.plan.design;
    let mut series: Vec<Series> = Vec::new();
    for reading in verdict
        .heaters
        .readings
        .iter()
        .filter(|one| one.string == string)
    {
        let volts = warm.link_volts[reading.link].iter();
        let share = |volts: &f64| 100.0 * volts.abs() / reading.rated_volts;
        let points: Vec<(f64, f64)> = warm.seconds.iter().copied().zip(volts.map(share)).collect();
        let mark = design.sockets[reading.socket.0].mark.as_str();
        match series.iter_mut().find(|curve| curve.points == points) {
            Some(curve) => curve.label = format!("{}, {mark}", curve.label),
            None => series.push(Series {
                label: mark.to_owned(),
                points,
                stroke: Some(Stroke::numbered(series.len())),
                marker: None,
            }),
        }
    }
    let points = series.iter().flat_map(|curve| &curve.points);
    let most = points.map(|point| point.1).fold(100.0, f64::max);
    let last = warm.seconds.last().copied().unwrap_or(0.0);
    let x = Axis::linear("time", "s").between(0.0, last.max(1.0));
    let y = Axis::linear("of rated volts", "%").between(0.0, 1.15 * most);
    let mut chart = Chart::new(width, 0.62 * width, x, y);
    chart.references.push(Reference {
        along: Along::Y,
        at: 100.0,
        label: String::new(),
        stroke: Stroke::FAINT,
    });
    chart.series = series;
    chart.draw()
}

/// Names in a row: all of a few, else the first and the last with how many there are.
fn list(names: &[&str]) -> String {
    match names {
        [] => String::new(),
        [first, .., last] if 4 < names.len() => format!("{first} ... {last} ({})", names.len()),
        _ => names.join(", "),
    }
}

/// Every rail by state against its limit.
fn budget(design: &Design, power: &Power, wording: Wording) -> Block {
    let bars: Vec<Bar> = design
        .rails
        .iter()
        .zip(&power.rails)
        .flat_map(|(rail, power)| {
            let whole = whole(rail, power);
            let states = [
                ("all off", power.least_amps),
                ("worst found", power.worst_amps()),
                ("all on", Some(power.most_amps)),
            ];
            states.map(|(state, amps)| Bar {
                name: format!("{}, {state}", rail.name),
                value: amps.map_or(f64::NAN, f64::abs),
                whole: whole.clone(),
            })
        })
        .collect();
    let caption = "What every rail must give by state. Each has a scale of its own, in shares of its limit (the heavy \
        stroke); of the fuse proposed where no limit is typed, and of the most where there is neither.";
    figure(
        wording.apply(caption),
        "Three bars for every rail, all off, worst state found and all on, against its limit."
            .to_owned(),
        |width| vec![chart::bars::bars("share of the limit", "A", &bars, width)],
    )
}

/// What the bars of a rail are measured by.
fn whole(rail: &Rail, power: &RailPower) -> Whole {
    match (rail.limit_amps, power.fuse.amps()) {
        (Some(limit), _) => Whole::Limit(limit),
        (None, Some(fuse)) => Whole::Other(fuse, "fuse".to_owned()),
        (None, None) => Whole::Other(power.largest_amps(), "the most".to_owned()),
    }
}
