//! The tubes of a design as candidates, and a design with the strings of a proposal in it.

use super::{Candidate, Grouping, resistors::TOLERANCE};
use design::model::{Branch, Design, HeaterString, Link, SocketId, Terminal};
use devices::types::{TubeKind, TubeType};
use text::source::Span;

impl Candidate {
    /// A tube of a type; `None` when its heater is not known.
    #[must_use]
    pub fn new(mark: &str, device: &TubeType, group: usize) -> Option<Self> {
        let heater = device.heater.as_ref()?;
        Some(Self {
            mark: mark.to_owned(),
            rated: (heater.volts.value, heater.amps.value),
            tapped: heater.tapped,
            direct: heater.direct || device.kind == TubeKind::IndicatorTriode,
            spread: heater.spread.as_ref().map(|spread| spread.value),
            warm_up_seconds: heater.warm_up.as_ref().map(|seconds| seconds.value),
            group,
        })
    }
}

/// The tubes of a design that a heater is known of, with their sockets; the group of each is its board, or one more than
/// the last for those on none.
#[must_use]
pub fn candidates(design: &Design) -> (Vec<Candidate>, Vec<SocketId>) {
    let boards = crate::feeders::boards_of_sockets(design);
    let all = design.sockets.iter().zip(&boards).enumerate();
    all.filter_map(|(index, (socket, board))| {
        let group = board.unwrap_or(design.boards.len());
        let candidate = Candidate::new(&socket.mark, &socket.device, group)?;
        Some((candidate, SocketId(index)))
    })
    .unzip()
}

/// The name of a proposed string: `H1` is the first.
#[must_use]
pub fn string_name(index: usize) -> String {
    format!("H{}", index + 1)
}

/// The design with the proposed strings instead of its own, from a supply to its return. `sockets` are those of the
/// candidates; `span` is the place that the strings are about.
#[must_use]
pub fn with_strings(
    design: &Design,
    grouping: &Grouping,
    sockets: &[SocketId],
    ends: (Terminal, Terminal),
    span: Span,
) -> Design {
    let strings = grouping.strings.iter().enumerate().map(|(index, string)| {
        let links = string.links.iter().map(|link| {
            let heaters = link.heaters.iter().map(|placed| Branch::Heater {
                socket: sockets[placed.tube],
                tapped: placed.tapped,
            });
            let resistor = link.resistor.as_ref().map(|resistor| Branch::Resistor {
                mark: resistor.mark.clone(),
                ohms: resistor.ohms,
                tolerance: TOLERANCE,
                watts: Some(resistor.rated_watts),
            });
            Link {
                branches: heaters.chain(resistor).collect(),
                span,
            }
        });
        HeaterString {
            name: string_name(index),
            from: ends.0,
            from_span: span,
            links: links.collect(),
            to: ends.1,
            to_span: span,
            span,
        }
    });
    Design {
        strings: strings.collect(),
        ..design.clone()
    }
}
