//! What a meter reads on the pins of a socket, and what is wired to what.

use super::levels::inputs_up;
use super::{number, numbers, phrase, text, up_or_down, words};
use crate::sentence;
use crate::table::{Cell, Table};
use design::model::{Design, NodeKind, SocketId};
use design::wiring::{Point, Wire};
use devices::types::{Electrode, Pin, Section};
use network::bench::{NO_NUMBER, OnPin, PinReading};

/// The word for an electrode, with its half: `plate A`.
#[must_use]
pub fn electrode(pin: &Pin) -> String {
    lead((pin.electrode, pin.section))
}

/// The same of an electrode and its half.
#[must_use]
pub fn lead((electrode, section): (Electrode, Option<Section>)) -> String {
    let word = Electrode::ALL
        .iter()
        .find(|(_, known)| *known == electrode)
        .map_or("", |(word, _)| word);
    let word = word.replace('-', " ");
    match section {
        Some(section) => format!("{word} {section:?}"),
        None => word,
    }
}

/// Readings on every pin of a socket.
#[must_use]
pub fn readings(design: &Design, socket: SocketId, pins: &[PinReading]) -> Table {
    let socket = &design.sockets[socket.0];
    Table {
        caption: format!(
            "Pins of {} ({}), numbered as seen from below, volts to ground",
            socket.mark, socket.device.name
        ),
        columns: vec![
            words("pin"),
            words("electrode"),
            words("wired to"),
            words("inputs up"),
            words("should be"),
            numbers("without meter", "V"),
            numbers("meter reads", "V"),
        ],
        rows: pins
            .iter()
            .flat_map(|reading| pin_rows(design, reading))
            .collect(),
    }
}

fn pin_rows(design: &Design, reading: &PinReading) -> Vec<Vec<Cell>> {
    let head = |wired: String| {
        vec![
            text(match reading.pin.number {
                NO_NUMBER => "lead".to_owned(),
                number => number.to_string(),
            }),
            phrase(electrode(&reading.pin)),
            text(wired),
        ]
    };
    let plain = |wired: &str, volts: Option<f64>| {
        let mut cells = head(wired.to_owned());
        cells.extend([text(""), text(""), number(volts, 2), number(volts, 2)]);
        vec![cells]
    };
    match &reading.on {
        OnPin::Heater(None) => plain("heater string", None),
        OnPin::Heater(Some(end)) => match sentence::rms(end.alternates, end.stands_on_volts) {
            Some(rms) => plain(&format!("heater string, {rms}"), Some(end.volts)),
            None => plain("heater string", Some(end.volts)),
        },
        OnPin::Spare => plain("unused half", None),
        OnPin::Free => plain("nothing", None),
        OnPin::Node { unit, node, rows } => {
            let circuit = design.circuit_of(*unit);
            let info = &circuit.nodes[*node];
            let wired = match info.kind {
                NodeKind::Ground | NodeKind::Rail(_) => info.name.clone(),
                NodeKind::Signal(_) | NodeKind::Inner => {
                    format!("{}.{}", design.units[unit.0].name, info.name)
                }
            };
            if let (NodeKind::Ground | NodeKind::Rail(_), Some(row)) = (info.kind, rows.first()) {
                return plain(&wired, Some(row.volts));
            }
            let row_cells = rows.iter().map(|row| {
                let said = circuit.interface.outputs().iter().zip(&row.outputs);
                let said: Vec<String> = said
                    .filter_map(|(name, value)| {
                        value.map(|up| format!("{name} {}", up_or_down(up)))
                    })
                    .collect();
                let mut cells = head(wired.clone());
                cells.extend([
                    text(inputs_up(circuit, &row.inputs)),
                    text(said.join(", ")),
                    number(row.volts, 2),
                    number(row.meter_volts, 2),
                ]);
                cells
            });
            // Rows that differ in the loads' other inputs only, and by less than is printed, say the same.
            let mut cells: Vec<Vec<Cell>> = row_cells.collect();
            cells.dedup();
            if cells.is_empty() {
                plain(&wired, None)
            } else {
                cells
            }
        }
    }
}

/// The pin-to-pin list: a line a net.
#[must_use]
pub fn wiring(wires: &[Wire], caption: &str) -> Table {
    let rows = wires.iter().map(|wire| {
        let points: Vec<String> = wire.points.iter().map(point).collect();
        vec![
            text(wire.net.clone()),
            text(wire.points.len().to_string()),
            phrase(points.join(", ")),
        ]
    });
    Table {
        caption: caption.to_owned(),
        columns: vec![words("net"), words("points"), words("from point to point")],
        rows: rows.collect(),
    }
}

/// `V3 pin 6 (plate A)`, `J1 pin 4`, `G1.R3 first`.
#[must_use]
pub fn point(point: &Point) -> String {
    match point {
        Point::Connector { mark, pin } => format!("{mark} pin {pin}"),
        Point::Pin {
            socket,
            pin: Some(pin),
            electrode,
        } => format!("{socket} pin {pin} ({electrode})"),
        Point::Pin {
            socket,
            pin: None,
            electrode,
        } => format!("{socket} ({electrode})"),
        Point::Lead { unit, part, lead } => format!("{unit}.{part} {lead}"),
    }
}
