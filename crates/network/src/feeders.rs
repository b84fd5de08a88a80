//! The copper that heaters ask of a board: amperes that come onto it, and how wide the track that carries them must be.

use crate::verdict::Verdict;
use design::model::{Design, SocketId};
use devices::copper;

/// Width for each ampere, mm (common practice, no source).
pub const MM_PER_AMPERE: f64 = 1.0;

/// Volts that the way to the furthest tube and back may lose (common practice, no source).
pub const LOST_VOLTS: f64 = 0.1;

/// One feeder of a board, out and back.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Feeder {
    /// Index into [`Design::boards`].
    pub board: usize,
    /// Index into [`Design::strings`]; `None` for one that carries all strings of the board.
    pub string: Option<usize>,
    /// Current when warm, A.
    pub amps: f64,
    /// Way out and back, mm: twice half the board's perimeter; `None` for a board without a size.
    pub way_mm: Option<f64>,
    /// Width asked for, mm: the greater of what the current and what the volts lost ask for.
    pub width_mm: f64,
    /// Volts lost over the way with this width.
    pub lost_volts: Option<f64>,
    /// How much warmer than the air the track gets, degrees C.
    pub rise: f64,
}

/// Resistance of a track at 20 degrees C, ohm.
#[must_use]
pub fn track_ohms(way_mm: f64, width_mm: f64) -> f64 {
    copper::ohms(1e-3 * way_mm, copper::SHEET_METRES * 1e-3 * width_mm)
}

/// How much warmer than the air an outer track of this width gets with this current, degrees C: IPC-2221,
/// I = k dT^0.44 A^0.725 with k = 0.048 and A in square mil.
#[must_use]
pub fn temperature_rise(amps: f64, width_mm: f64) -> f64 {
    const MIL_MM: f64 = 0.0254;
    let square_mils = width_mm * 1e3 * copper::SHEET_METRES / (MIL_MM * MIL_MM);
    (amps / (0.048 * square_mils.powf(0.725))).powf(1.0 / 0.44)
}

/// The board of every socket: that of the unit in one of its halves.
#[must_use]
pub fn boards_of_sockets(design: &Design) -> Vec<Option<usize>> {
    let boards = design.boards_of_units();
    let sockets = design.sockets.iter();
    sockets
        .map(|socket| {
            let mut units = socket.halves.iter().flatten();
            units.find_map(|(unit, _)| boards[unit.0])
        })
        .collect()
}

/// The feeders of every board that carries tubes of heater strings: one for all, then one for each string.
#[must_use]
pub fn feeders(verdict: &Verdict) -> Vec<Feeder> {
    let design = verdict.plan.design;
    let boards = boards_of_sockets(design);
    let mut all = Vec::new();
    for (board, described) in design.boards.iter().enumerate() {
        let on_board = |socket: SocketId| boards[socket.0] == Some(board);
        let strings: Vec<(usize, f64)> = design
            .strings
            .iter()
            .enumerate()
            .filter(|(_, string)| string.heaters().any(|heater| on_board(heater.0)))
            .filter_map(|(index, _)| Some((index, verdict.heaters.strings[index].amps?.abs())))
            .collect();
        if strings.is_empty() {
            continue;
        }
        let way_mm = described
            .size_mm
            .map(|(width, height)| 2.0 * (width + height));
        let together = strings.iter().map(|string| string.1).sum();
        all.push(feeder(board, None, together, way_mm));
        let each = strings.into_iter();
        all.extend(each.map(|(index, amps)| feeder(board, Some(index), amps, way_mm)));
    }
    all
}

fn feeder(board: usize, string: Option<usize>, amps: f64, way_mm: Option<f64>) -> Feeder {
    let by_volts = way_mm.map_or(0.0, |way| amps * track_ohms(way, 1.0) / LOST_VOLTS);
    let width_mm = by_volts.max(MM_PER_AMPERE * amps);
    let lost = |way| amps * track_ohms(way, width_mm);
    Feeder {
        board,
        string,
        amps,
        way_mm,
        width_mm,
        lost_volts: way_mm.filter(|_| 0.0 < amps).map(lost),
        rise: if 0.0 < amps {
            temperature_rise(amps, width_mm)
        } else {
            0.0
        },
    }
}
