//! A board as it lies before whoever solders or probes it: its outline at full size with sockets and connectors, then every
//! socket larger with electrode, net and volts of each pin.

mod plan;
mod socket;

use crate::draw::Picture;
use crate::drawing::{Drawing, UPRIGHT_WIDTH};
use crate::pinout::Side;
use crate::sentence;
use crate::words::Wording;
use design::model::SocketId;
use network::verdict::Verdict;

pub use plan::plan;
pub use socket::{SOCKET_WIDTH, socket};

/// A board (index into the design's boards) from one side, as a drawing of its own: the plan at full size, then its sockets.
#[must_use]
pub fn drawing(verdict: &Verdict, board: usize, side: Side, wording: Wording) -> Drawing {
    let design = verdict.plan.design;
    let mut sheets = vec![plan(verdict, board, side, None)];
    let pictures: Vec<Picture> = sockets(verdict, board)
        .into_iter()
        .map(|id| socket(verdict, id, side, wording))
        .collect();
    sheets.extend(socket::sheets(&pictures, UPRIGHT_WIDTH));
    let view = match side {
        Side::Below => "soldering side",
        Side::Above => "tube side",
    };
    Drawing {
        title: wording.apply(&format!(
            "Board {} from the {view}",
            design.boards[board].name
        )),
        legend: legend(verdict, board, side, wording),
        sheets,
        legend_above: 1,
    }
}

/// Sockets of a board, V2 before V10.
#[must_use]
pub fn sockets(verdict: &Verdict, board: usize) -> Vec<SocketId> {
    let design = verdict.plan.design;
    let places = design.boards[board]
        .units
        .iter()
        .flat_map(|unit| &design.units[unit.0].places);
    let mut sockets: Vec<SocketId> = places.map(|place| place.socket).collect();
    let mark = |socket: &SocketId| {
        let mark = &design.sockets[socket.0].mark;
        let digits = mark.trim_start_matches(|letter: char| !letter.is_ascii_digit());
        (digits.parse().unwrap_or(u64::MAX), mark.clone())
    };
    sockets.sort_by_cached_key(mark);
    sockets.dedup();
    sockets
}

/// How the drawing is to be read, what in it is proposed only, and what can hurt.
#[must_use]
pub fn legend(verdict: &Verdict, board: usize, side: Side, wording: Wording) -> String {
    let mut text = match side {
        Side::Below => {
            "Seen from the soldering side, where you probe: pins run clockwise, and the board is turned over like a page. "
        }
        Side::Above => {
            "Seen from the tube side: pins run against the clock. Probe from the other side, which is the mirror image. "
        }
    }
    .to_owned();
    text.push_str(&plan::proposals(verdict, board));
    text.push_str(
        " At every pin its number, its electrode, its net, and the volts to ground that it should have, lowest and highest over all \
         rows, before a meter loads it.",
    );
    if let Some(caution) = sentence::caution(verdict) {
        text.push_str(" Caution. ");
        text.push_str(&caution);
    }
    wording.apply(&text)
}
