//! What is written beside parts and nets.

use super::Schematic;
use super::sketch::{Line, Way};
use crate::sentence::{shown, volts};
use design::model::{NodeKind, PartKind, TubePart};
use devices::types::{Electrode, Section};
use text::quantity::Unit;

/// Currents below are written as none, A: less than the meter on a bench shows (chosen).
const NOTHING: f64 = 10e-9;

/// Grid currents below are left out, A.
const GRID_CURRENT: f64 = 0.1e-6;

/// Volts that moved less are written once, V: what a bench meter shows.
const NOTICED: f64 = 0.01;

/// The value of a part as the user wrote it.
pub(super) fn value(subject: &Schematic, part: usize) -> String {
    let part = &subject.circuit.parts[part];
    let written = || {
        let known = subject.sources.files().nth(part.value_span.file.0 as usize);
        let range = part.value_span.start as usize..part.value_span.end as usize;
        known
            .and_then(|(_, file)| file.text.get(range))
            .unwrap_or_default()
            .to_owned()
    };
    match &part.kind {
        PartKind::Trimmer { setting, .. } => {
            format!("{} at {}", written(), shown(*setting, Unit::Percent))
        }
        PartKind::Switch { closed, .. } => if *closed { "closed" } else { "open" }.to_owned(),
        PartKind::Tube(tube) => tube.device.name.clone(),
        PartKind::Diode { device, .. } => device.name.clone(),
        PartKind::Neon { device, .. } => device.name.clone(),
        _ => written(),
    }
}

/// Mark and value of a part, of a changed part with the value that it had.
pub(super) fn mark_and_value(subject: &Schematic, part: usize) -> Vec<Line> {
    let mark = Line::bold(subject.circuit.parts[part].mark.clone());
    std::iter::once(mark)
        .chain(was_and_is(subject, part))
        .collect()
}

fn was_and_is(subject: &Schematic, part: usize) -> Vec<Line> {
    let value = value(subject, part);
    match &subject.change {
        Some(change) if change.part == part => {
            vec![
                Line::plain(format!("was {}", change.was)),
                Line::plain(format!("now {value}")),
            ]
        }
        _ => vec![Line::plain(value)],
    }
}

/// The current of a part with two ends, with an arrow from first to second terminal or against it; none of a capacitor.
pub(super) fn current(
    subject: &Schematic,
    part: usize,
    forward: Way,
    backward: Way,
) -> Option<Line> {
    let reading = subject.state?.parts.get(part)?;
    if matches!(subject.circuit.parts[part].kind, PartKind::Capacitor { .. }) {
        return None;
    }
    if reading.amps.abs() < NOTHING {
        return Some(Line::plain("0 mA"));
    }
    let way = if 0.0 < reading.amps {
        forward
    } else {
        backward
    };
    Some(Line {
        arrow: Some(way),
        ..Line::plain(shown(reading.amps.abs(), Unit::Ampere))
    })
}

/// Mark, type and currents of a tube.
pub(super) fn tube(subject: &Schematic, part: usize, tube: &TubePart) -> Vec<Line> {
    let mark = match place(subject, part) {
        Some((socket, section)) => match (section, tube.device.sections) {
            (_, ..2) => socket.mark.clone(),
            (Section::A, _) => format!("{}A", socket.mark),
            (Section::B, _) => format!("{}B", socket.mark),
        },
        None => subject.circuit.parts[part].mark.clone(),
    };
    let mut lines = vec![Line::bold(mark)];
    lines.extend(was_and_is(subject, part));
    if let Some(reading) = subject.state.and_then(|state| state.parts.get(part)) {
        let amps = |amps: f64| {
            if amps.abs() < NOTHING {
                "0 mA".to_owned()
            } else {
                shown(amps, Unit::Ampere)
            }
        };
        lines.push(Line::plain(amps(reading.amps)));
        if GRID_CURRENT <= reading.grid_amps.abs() {
            lines.push(Line::plain(format!("grid {}", amps(reading.grid_amps))));
        }
        if tube.screen.is_some() && NOTHING <= reading.screen_amps.abs() {
            lines.push(Line::plain(format!("screen {}", amps(reading.screen_amps))));
        }
    }
    lines
}

/// Socket and half that a tube part of the unit stands in.
fn place<'a>(subject: &Schematic<'a>, part: usize) -> Option<(&'a design::model::Socket, Section)> {
    let unit = subject.unit?;
    let index = subject
        .circuit
        .tubes()
        .position(|(other, _)| other == part)?;
    let place = unit.places.get(index)?;
    Some((&subject.design.sockets[place.socket.0], place.section))
}

/// The number of a tube's pin where the unit stands; of several the first.
pub(super) fn pin(subject: &Schematic, part: usize, electrode: Electrode) -> Option<String> {
    let (socket, section) = place(subject, part)?;
    let base = socket.device.base.as_ref()?;
    let mine = base.pins.iter().filter(|pin| {
        pin.electrode == electrode && pin.section.is_none_or(|other| other == section)
    });
    let numbers: Vec<String> = mine.map(|pin| pin.number.to_string()).collect();
    (!numbers.is_empty()).then(|| numbers.join(", "))
}

/// Name and volts of a net: of a unit also the machine's net; of a rail its nominal volts.
pub(super) fn net(subject: &Schematic, node: usize) -> Vec<Line> {
    let info = &subject.circuit.nodes[node];
    let mut lines = vec![Line::bold(info.name.clone())];
    match info.kind {
        NodeKind::Ground => return lines,
        NodeKind::Rail(rail) => {
            lines.push(Line::plain(shown(
                subject.design.rails[rail.0].volts,
                Unit::Volt,
            )));
            return lines;
        }
        NodeKind::Signal(signal) => {
            let net = subject.unit.and_then(|unit| unit.nets.get(signal));
            lines.extend(net.map(|net| Line::plain(subject.design.nets[net.0].name.clone())));
        }
        NodeKind::Inner => {}
    }
    let now = subject.state.and_then(|state| state.volts.get(node));
    let before = subject
        .change
        .as_ref()
        .and_then(|change| change.before?.volts.get(node));
    match (before, now) {
        (Some(before), Some(now)) if NOTICED < (before - now).abs() => {
            lines.push(Line::plain(format!("was {}", volts(*before))));
            lines.push(Line::plain(format!("now {}", volts(*now))));
        }
        (_, Some(now)) => lines.push(Line::plain(volts(*now))),
        _ => {}
    }
    lines
}
