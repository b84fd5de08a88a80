//! Plate curves of a tube in its circuit with the load line and the operating point of every row.

use super::half_figure;
use crate::chart::{Axis, Callout, Chart, Marker, Series};
use crate::decimal;
use crate::draw::{Ink, Pattern, Stroke, Weight};
use crate::page::Block;
use crate::sentence;
use crate::sheet::{currents, grid_at};
use crate::tables;
use crate::words::Wording;
use design::model::{Circuit, Design, NodeKind, PartKind, TubePart};
use devices::types::{Law, TubeType};
use network::judge::{MemberResult, PartReading};
use network::scene::shift_of_type;
use text::quantity::Unit;

/// A tube between two supplies with resistors in the way: `volts` across the whole, `ohms` in series with the tube.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Load {
    volts: f64,
    ohms: f64,
}

/// A figure for every tube of the circuit that has plate curves.
pub(super) fn figures(
    design: &Design,
    circuit: &Circuit,
    result: &MemberResult,
    wording: Wording,
) -> Vec<Block> {
    let tubes = circuit.tubes().filter_map(|(part, tube)| {
        let readings: Vec<(String, PartReading)> = result
            .rows
            .iter()
            .filter(|row| row.outcome.settled())
            .filter_map(|row| {
                Some((
                    tables::inputs_up(circuit, &row.row.inputs),
                    *row.parts.get(part)?,
                ))
            })
            .collect();
        let load = load(design, circuit, tube);
        draw(&circuit.parts[part].mark, tube, load, &readings, wording)
    });
    tubes.collect()
}

/// The load of a tube whose plate and cathode lead to supplies straight or through one resistor each; `None` for any
/// other shape.
fn load(design: &Design, circuit: &Circuit, tube: &TubePart) -> Option<Load> {
    let (top, plate_ohms) = way(design, circuit, tube.plate)?;
    let (bottom, cathode_ohms) = way(design, circuit, tube.cathode)?;
    let load = Load {
        volts: top - bottom,
        ohms: plate_ohms + cathode_ohms,
    };
    (0.0 < load.volts && 0.0 < load.ohms).then_some(load)
}

/// Volts of the supply that a node leads to, and the resistance on the way.
fn way(design: &Design, circuit: &Circuit, node: usize) -> Option<(f64, f64)> {
    let supply = |node: usize| match circuit.nodes[node].kind {
        NodeKind::Ground => Some(0.0),
        NodeKind::Rail(rail) => Some(design.rails[rail.0].volts),
        NodeKind::Signal(_) | NodeKind::Inner => None,
    };
    if let Some(volts) = supply(node) {
        return Some((volts, 0.0));
    }
    let ways = circuit.parts.iter().filter_map(|part| match part.kind {
        PartKind::Resistor {
            ohms, ends: [a, b], ..
        } if a == node => Some((supply(b)?, ohms)),
        PartKind::Resistor {
            ohms, ends: [a, b], ..
        } if b == node => Some((supply(a)?, ohms)),
        _ => None,
    });
    let ways: Vec<(f64, f64)> = ways.collect();
    match ways[..] {
        [only] => Some(only),
        _ => None,
    }
}

/// Curves drawn at most.
const MOST_CURVES: usize = 7;
/// Points of a curve.
const POINTS: u32 = 160;
/// A load line that starts higher than this many times what the tube can carry is drawn from its lower end only.
const MOST_ABOVE_TUBE: f64 = 3.0;

impl Load {
    /// The part of the line at or below a current, from left to right.
    fn line(&self, amps: f64) -> Vec<(f64, f64)> {
        let from = (self.volts - amps * self.ohms).max(0.0);
        vec![(from, (self.volts - from) / self.ohms), (self.volts, 0.0)]
    }
}

fn draw(
    mark: &str,
    tube: &TubePart,
    load: Option<Load>,
    readings: &[(String, PartReading)],
    wording: Wording,
) -> Option<Block> {
    let law = tube.device.law?;
    if matches!(law, Law::Diode(_)) || readings.is_empty() {
        return None;
    }
    let most = |value: fn(&PartReading) -> f64| {
        readings
            .iter()
            .map(|reading| value(&reading.1))
            .fold(0.0, f64::max)
    };
    let screen = most(|reading| reading.screen_volts);
    let largest_volts = load
        .map_or(1.1 * most(|reading| reading.volts), |load| load.volts)
        .max(1.0);
    let most_amps = most(|reading| reading.amps);
    // The law of an indicator counts from its filament's mean, plate and grid are measured from the pin.
    let shift = shift_of_type(&tube.device);
    let at = |plate: f64, grid: f64| currents(&law, plate - shift, grid - shift, screen).plate;
    let highest_grid = most(|reading| reading.grid_volts);
    // A small plate resistor's line starts far above anything the tube can carry: only its lower end is of interest.
    let of_tube = most_amps.max(at(largest_volts, highest_grid.max(0.0)));
    let of_line = load.map_or(0.0, |load| load.volts / load.ohms);
    let largest_amps = 1.2
        * if MOST_ABOVE_TUBE * of_tube < of_line {
            1.25 * of_tube
        } else {
            of_line.max(most_amps)
        };
    if !largest_amps.is_finite() || largest_amps <= 0.0 {
        return None;
    }
    let grids = grid_steps(
        &law,
        (largest_volts, screen),
        largest_amps / 1.2,
        highest_grid,
    );
    let points = grouped(readings, largest_volts);
    // Curves go on to the edge, so that their names stand outside the plot.
    let to = 1.05 * largest_volts;
    let caption = caption(mark, tube, load, screen, largest_volts);
    let description = "Plate current against plate volts with the load line and the operating point of every row.";
    Some(half_figure(
        wording.apply(&caption),
        wording.apply(description),
        |width| {
            let x = Axis::linear(&wording.apply("plate to cathode"), "V").between(0.0, to);
            let y = Axis::linear(&wording.apply("plate current"), "A").between(0.0, largest_amps);
            let mut chart = Chart::new(width, 72.0, x, y);
            chart.series = grids
                .iter()
                .map(|&grid| curve(&at, grid, to, grid_label(grid)))
                .collect();
            if let Some(load) = load {
                chart.series.push(Series {
                    label: String::new(),
                    points: load.line(largest_amps),
                    stroke: Some(Stroke::new(Pattern::Solid, Weight::Heavy, Ink::Accent)),
                    marker: None,
                });
            }
            chart.callouts = points.clone();
            chart.draw()
        },
    ))
}

fn caption(mark: &str, tube: &TubePart, load: Option<Load>, screen: f64, drawn_to: f64) -> String {
    let line = load.map_or_else(String::new, |load| {
        format!(" Load line: {}.", sentence::shown(load.ohms, Unit::Ohm))
    });
    let on_screen = match tube.screen {
        Some(_) => format!(" Screen at {}.", sentence::volts(screen)),
        None => String::new(),
    };
    format!(
        "Plate curves of {mark} ({}), grid volts at the curves.{line}{on_screen} Points: where the circuit stands, by the \
         inputs that are up; a point off the line gives or takes current through its output.{}",
        tube.device.name,
        fitted(&tube.device, drawn_to)
    )
}

/// Where the points of the curve begin, if that is above what is drawn.
fn fitted(device: &TubeType, drawn_to: f64) -> String {
    match device.validity {
        Some(validity) if drawn_to < validity.plate_volts.0 => {
            format!(
                " All of it is extrapolated: the points of this type begin at {}.",
                sentence::shown(validity.plate_volts.0, Unit::Volt)
            )
        }
        Some(validity) if 0.0 < validity.plate_volts.0 => {
            format!(
                " Below {} it is extrapolated.",
                sentence::shown(validity.plate_volts.0, Unit::Volt)
            )
        }
        _ => String::new(),
    }
}

/// One plate curve from 0 V.
pub(super) fn curve(at: &impl Fn(f64, f64) -> f64, grid: f64, to: f64, label: String) -> Series {
    // Closer near 0 V, where the curves bend.
    let points = (0..=POINTS).map(|step| {
        let share = f64::from(step) / f64::from(POINTS);
        let plate = to * share * share;
        (plate, at(plate, grid))
    });
    Series {
        label,
        points: points.collect(),
        stroke: Some(Stroke::PLAIN),
        marker: None,
    }
}

/// Grid volts as short as they can be.
pub(super) fn grid_label(grid: f64) -> String {
    let decimals = (0..3).find(|&decimals| {
        let scale = 10f64.powi(decimals);
        ((grid * scale).round() - grid * scale).abs() < 1e-6
    });
    format!("{} V", decimal::fixed(grid, decimals.unwrap_or(3) as usize))
}

/// Grid volts from 0 downwards in even round steps, down to where half the current in view flows at the right edge
/// (plate and screen volts there); above 0 one more where the circuit drives the grid there.
pub(super) fn grid_steps(
    law: &Law,
    (plate, screen): (f64, f64),
    amps: f64,
    highest_grid: f64,
) -> Vec<f64> {
    const ABOVE_ZERO: f64 = 0.05;
    const LEAST_STEP: f64 = 0.1;
    let lowest =
        grid_at(law, plate, screen, amps / 4.0).unwrap_or(-LEAST_STEP * MOST_CURVES as f64);
    let step = round_up(-lowest / (MOST_CURVES as f64 - 1.0));
    let mut grids: Vec<f64> = Vec::new();
    if ABOVE_ZERO < highest_grid {
        grids.push(round_up(highest_grid));
    }
    grids.extend(
        (0..MOST_CURVES as u32)
            .map(|count| -step * f64::from(count))
            .take_while(|&grid| lowest - step < grid),
    );
    grids
}

/// The next of 1, 2, 2.5, 5 times a power of ten.
fn round_up(value: f64) -> f64 {
    let value = value.max(1e-3);
    let scale = 10f64.powf(value.log10().floor());
    [1.0, 2.0, 2.5, 5.0, 10.0]
        .into_iter()
        .map(|digit| digit * scale)
        .find(|&round| value <= round * (1.0 + 1e-9))
        .unwrap_or(10.0 * scale)
}

/// Operating points; those that lie together have one callout.
fn grouped(readings: &[(String, PartReading)], largest_volts: f64) -> Vec<Callout> {
    const TOGETHER: f64 = 0.03;
    const MOST_NAMES: usize = 3;
    let mut groups: Vec<((f64, f64), Vec<&str>)> = Vec::new();
    for (name, reading) in readings {
        let near = groups
            .iter_mut()
            .find(|group| (group.0.0 - reading.volts).abs() < TOGETHER * largest_volts);
        match near {
            Some(group) if group.1.contains(&name.as_str()) => {}
            Some(group) => group.1.push(name),
            None => groups.push(((reading.volts, reading.amps), vec![name])),
        }
    }
    groups
        .into_iter()
        .map(|(at, names)| {
            let more = if MOST_NAMES < names.len() {
                ", ..."
            } else {
                ""
            };
            let shown: Vec<&str> = names.iter().take(MOST_NAMES).copied().collect();
            Callout {
                at,
                label: format!("{}{more}: {}", shown.join(", "), sentence::volts(at.0)),
                marker: Marker::Dot,
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use devices::triode::{RSD_1, TriodeLaw};

    #[test]
    fn grid_steps_are_round_and_end_near_cut_off() {
        let law = Law::Triode(TriodeLaw::Tail(RSD_1));
        let grids = grid_steps(&law, (250.0, 0.0), 2e-3, 0.0);
        assert_eq!(grids[0], 0.0);
        assert!(grids.len() <= MOST_CURVES && 3 <= grids.len(), "{grids:?}");
        assert!(grids.windows(2).all(|pair| pair[1] < pair[0]), "{grids:?}");
        // The lowest curve still passes some current at the right edge.
        assert!(
            1e-4 < currents(&law, 250.0, grids[grids.len() - 1], 0.0).plate,
            "{grids:?}"
        );
        assert_eq!(
            (round_up(0.13), round_up(0.2), round_up(3.0), round_up(7.0)),
            (0.2, 0.2, 5.0, 10.0)
        );
        assert_eq!(
            (grid_label(-0.25), grid_label(-2.0), grid_label(0.0)),
            ("−0.25 V".to_owned(), "−2 V".to_owned(), "0 V".to_owned())
        );
    }
}
