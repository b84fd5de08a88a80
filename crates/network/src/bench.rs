//! What a meter reads on the pins of a socket, its own input resistance included.

use crate::heaters::HeaterReading;
use crate::judge::Context;
use crate::judge::{MemberResult, Meter, judge_in};
use crate::surroundings::Surroundings;
use crate::verdict::Verdict;
use design::model::{Design, PartKind, SocketId, TubePart, UnitId};
use devices::types::{Electrode, Pin, Section, TubeKind, TubeType};

/// What stands on a pin.
#[derive(Debug, Clone, PartialEq)]
pub enum OnPin {
    /// A node of a unit: with its readings.
    Node {
        /// The unit.
        unit: UnitId,
        /// Node of its circuit.
        node: usize,
        /// A reading for every row of the unit.
        rows: Vec<RowReading>,
    },
    /// A heater pin, with the volts at its end where a string feeds it.
    Heater(Option<EndVolts>),
    /// The section of this electrode is used by no unit.
    Spare,
    /// No connection.
    Free,
}

/// Volts at an end of a heater.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EndVolts {
    /// To ground; of a string that alternates rms, above what its winding stands on.
    pub volts: f64,
    /// The string alternates.
    pub alternates: bool,
    /// Direct volts that its winding stands on.
    pub stands_on_volts: f64,
}

impl EndVolts {
    fn new(reading: &HeaterReading, volts: f64) -> Self {
        Self {
            volts,
            alternates: reading.alternates,
            stands_on_volts: reading.stands_on_volts,
        }
    }
}

/// One row of one pin.
#[derive(Debug, Clone, PartialEq)]
pub struct RowReading {
    /// The unit's inputs.
    pub inputs: Vec<bool>,
    /// The unit's outputs as its sentence has them.
    pub outputs: Vec<Option<bool>>,
    /// Volts without a meter.
    pub volts: f64,
    /// Volts that the meter reads; `None` when no rest was found with it on.
    pub meter_volts: Option<f64>,
}

/// A pin with what a meter reads there.
#[derive(Debug, Clone, PartialEq)]
pub struct PinReading {
    /// The pin.
    pub pin: Pin,
    /// What stands on it.
    pub on: OnPin,
}

/// Readings on every pin of a socket with a meter of `meter_ohms` to ground; on every electrode, with [`NO_NUMBER`], when
/// the type's base is not known.
#[must_use]
pub fn socket_readings(
    verdict: &Verdict,
    socket: SocketId,
    meter_ohms: f64,
    context: &Context,
) -> Vec<PinReading> {
    let design = verdict.plan.design;
    let device = &design.sockets[socket.0].device;
    let pins = match &device.base {
        Some(base) => base.pins.clone(),
        None => leads(device),
    };
    pins.iter()
        .map(|pin| {
            let on = match pin.electrode {
                Electrode::Heater | Electrode::HeaterTap => {
                    OnPin::Heater(heater_pin_volts(verdict, socket, pin))
                }
                Electrode::Free | Electrode::Shield => OnPin::Free,
                electrode => match node_of(design, socket, electrode, pin.section) {
                    Some((unit, node)) => OnPin::Node {
                        unit,
                        node,
                        rows: node_readings(verdict, unit, node, meter_ohms, context),
                    },
                    None => OnPin::Spare,
                },
            };
            PinReading {
                pin: pin.clone(),
                on,
            }
        })
        .collect()
}

/// The electrodes of a tube whose base is not known, as leads without a number.
fn leads(device: &TubeType) -> Vec<Pin> {
    let electrodes: &[Electrode] = match device.kind {
        TubeKind::Diode => &[Electrode::Plate, Electrode::Cathode],
        TubeKind::Triode | TubeKind::IndicatorTriode => {
            &[Electrode::Plate, Electrode::Grid, Electrode::Cathode]
        }
        TubeKind::Tetrode | TubeKind::Pentode => &[
            Electrode::Plate,
            Electrode::Grid,
            Electrode::Screen,
            Electrode::Cathode,
        ],
    };
    let halves = if device.sections == 2 {
        vec![Some(Section::A), Some(Section::B)]
    } else {
        vec![None]
    };
    halves
        .into_iter()
        .flat_map(|section| {
            electrodes.iter().map(move |&electrode| Pin {
                number: NO_NUMBER,
                electrode,
                section,
            })
        })
        .collect()
}

/// The number of a lead that has none.
pub const NO_NUMBER: u8 = 0;

/// Readings of one node of a unit in every row, with a meter on it.
#[must_use]
pub fn node_readings(
    verdict: &Verdict,
    unit: UnitId,
    node: usize,
    meter_ohms: f64,
    context: &Context,
) -> Vec<RowReading> {
    let plain = &verdict.place.results[unit.0];
    let around = Surroundings::of(&verdict.plan, unit.0);
    let meter = Some(Meter {
        node,
        ohms: meter_ohms,
    });
    let metered: MemberResult = judge_in(
        &verdict.plan,
        around,
        meter,
        &verdict.place.levels,
        &verdict.alone.weak,
        context,
    );
    plain
        .rows
        .iter()
        .zip(&metered.rows)
        .filter(|(plain, _)| plain.outcome.settled())
        .map(|(plain, metered)| RowReading {
            inputs: plain.row.inputs.clone(),
            outputs: plain.row.outputs.clone(),
            volts: plain.volts[node],
            meter_volts: metered.outcome.settled().then(|| metered.volts[node]),
        })
        .collect()
}

/// The unit and node of its circuit that an electrode of a socket is wired to; `None` where no unit uses its half. An
/// electrode without a section belongs to whichever half is used.
#[must_use]
pub fn node_of(
    design: &Design,
    socket: SocketId,
    electrode: Electrode,
    section: Option<Section>,
) -> Option<(UnitId, usize)> {
    let halves = design.sockets[socket.0].halves;
    let (unit, tube) = match section {
        Some(section) => halves[section as usize]?,
        None => halves[0].or(halves[1])?,
    };
    let circuit = design.circuit_of(unit);
    let (part, _) = circuit.tubes().nth(tube)?;
    let PartKind::Tube(tube) = &circuit.parts[part].kind else {
        return None;
    };
    electrode_node(tube, electrode).map(|node| (unit, node))
}

/// The node of a tube part's electrode.
#[must_use]
pub fn electrode_node(tube: &TubePart, electrode: Electrode) -> Option<usize> {
    match electrode {
        Electrode::Plate => Some(tube.plate),
        Electrode::Grid => tube.grid,
        Electrode::Screen => tube.screen,
        Electrode::Suppressor => tube.suppressor.or(Some(tube.cathode)),
        Electrode::Cathode => Some(tube.cathode),
        Electrode::Heater | Electrode::HeaterTap | Electrode::Shield | Electrode::Free => None,
    }
}

/// Volts at a heater pin of a socket; `None` where no string feeds it. The string's beginning is taken to be at the
/// end pin of the lower number; wired for the tapped voltage, both end pins stand together.
#[must_use]
pub fn heater_pin_volts(verdict: &Verdict, socket: SocketId, pin: &Pin) -> Option<EndVolts> {
    let reading = heater_reading(verdict, socket)?;
    let volts = if pin.electrode == Electrode::HeaterTap {
        tap_volts(reading)
    } else {
        pin_volts(verdict, reading, pin)
    };
    Some(EndVolts::new(reading, volts))
}

fn pin_volts(verdict: &Verdict, reading: &HeaterReading, pin: &Pin) -> f64 {
    let socket = reading.socket;
    let base = verdict.plan.design.sockets[socket.0].device.base.as_ref();
    let mut ends = base
        .into_iter()
        .flat_map(|base| &base.pins)
        .filter(|pin| pin.electrode == Electrode::Heater);
    let first = ends.next().is_some_and(|end| end.number == pin.number);
    if first || reading.tapped {
        reading.first_volts
    } else {
        reading.second_volts
    }
}

/// Volts at the tap: the other side of the string where it is used, else half way between the ends.
fn tap_volts(reading: &HeaterReading) -> f64 {
    if reading.tapped {
        reading.second_volts
    } else {
        f64::midpoint(reading.first_volts, reading.second_volts)
    }
}

fn heater_reading<'a>(verdict: &'a Verdict, socket: SocketId) -> Option<&'a HeaterReading> {
    verdict
        .heaters
        .readings
        .iter()
        .find(|reading| reading.socket == socket)
}
