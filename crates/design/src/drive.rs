//! What drives each net and what it drives, over the whole machine.

use crate::board::Boards;
use crate::flatten::Opened;
use crate::kinds::Kinds;
use crate::model::{Bench, BenchSwitch, NetId, NetKind};
use crate::problems::Problems;
use std::collections::HashMap;
use text::diagnostic::Diagnostic;
use text::source::Span;

/// A signal of a unit on a net.
#[derive(Debug, Clone, Copy)]
struct Pin {
    unit: usize,
    signal: usize,
    span: Span,
}

/// Faults at nets without a driver or with two, and cautions at outputs that drive nothing.
pub(crate) fn check(
    opened: &Opened,
    kinds: &Kinds,
    boards: &Boards,
    bench: &Bench,
    problems: &mut Problems,
) {
    let nets = &opened.nets.list;
    let mut drivers: Vec<Vec<Pin>> = vec![Vec::new(); nets.len()];
    let mut loads: Vec<Vec<Pin>> = vec![Vec::new(); nets.len()];
    for (index, unit) in opened.units.iter().enumerate() {
        let inputs = kinds.circuits[unit.circuit.0].interface.inputs;
        for (signal, (net, span)) in unit.nets.iter().zip(&opened.wire_spans[index]).enumerate() {
            let side = if signal < inputs {
                &mut loads
            } else {
                &mut drivers
            };
            side[net.0].push(Pin {
                unit: index,
                signal,
                span: *span,
            });
        }
    }
    let outside = Outside::new(boards, bench, nets.len());
    let checker = Checker {
        opened,
        kinds,
        switches: bench
            .switches
            .iter()
            .map(|switch| (switch.net, switch))
            .collect(),
        drivers: &drivers,
    };
    for id in (0..nets.len()).filter(|id| !opened.doubtful[*id]) {
        checker.two_drivers(id, problems);
        checker.undriven(id, &loads[id], &outside.fed, problems);
        checker.idle(id, &loads[id], outside.used[id], problems);
    }
}

/// Nets that the world outside the units touches.
struct Outside {
    /// Something on the bench is on the net.
    fed: Vec<bool>,
    /// Something on the bench or a connector pin is on the net.
    used: Vec<bool>,
}

impl Outside {
    fn new(boards: &Boards, bench: &Bench, nets: usize) -> Self {
        let mut fed = vec![false; nets];
        for NetId(net) in bench
            .switches
            .iter()
            .map(|switch| switch.net)
            .chain(bench.loads.iter().map(|load| load.net))
        {
            fed[net] = true;
        }
        let mut used = fed.clone();
        let connectors = boards.list.iter().flat_map(|board| &board.connectors);
        for (_, NetId(net)) in connectors.flat_map(|connector| &connector.pins) {
            used[*net] = true;
        }
        Self { fed, used }
    }
}

struct Checker<'a> {
    opened: &'a Opened,
    kinds: &'a Kinds,
    switches: HashMap<NetId, &'a BenchSwitch>,
    drivers: &'a [Vec<Pin>],
}

impl Checker<'_> {
    fn name(&self, pin: &Pin) -> String {
        let unit = &self.opened.units[pin.unit];
        format!(
            "{}.{}",
            unit.name, self.kinds.circuits[unit.circuit.0].interface.signals[pin.signal]
        )
    }

    fn two_drivers(&self, id: usize, problems: &mut Problems) {
        let net = &self.opened.nets.list[id];
        let Some(first) = self.drivers[id].first() else {
            return;
        };
        let name = self.name(first);
        let mut clash = |span: Span, other: String, related: Span| {
            let message = format!("`{name}` and {other} both drive `{}`", net.name);
            let problem = Diagnostic::fault("two-drivers", span, message)
                .remedy("Join them through a gate, or give one of them another net.");
            problems.push(problem.related(related, "the other"));
        };
        match net.kind {
            NetKind::Ground => clash(first.span, "the ground".to_owned(), net.span),
            NetKind::Rail(_) => clash(first.span, "the rail".to_owned(), net.span),
            NetKind::Signal => {
                for second in &self.drivers[id][1..] {
                    clash(second.span, format!("`{}`", self.name(second)), first.span);
                }
                if let Some(switch) = self.switches.get(&NetId(id)) {
                    clash(switch.span, "a switch of the bench".to_owned(), first.span);
                }
            }
        }
    }

    fn undriven(&self, id: usize, loads: &[Pin], fed: &[bool], problems: &mut Problems) {
        let net = &self.opened.nets.list[id];
        let Some(pin) = loads.first() else { return };
        if net.kind != NetKind::Signal || net.open || fed[id] || !self.drivers[id].is_empty() {
            return;
        }
        if problems.told("input-undriven", pin.span) {
            return;
        }
        let nets = self.opened.nets.list.iter().enumerate();
        let driven = nets.filter(|(other, net)| {
            net.kind != NetKind::Signal || fed[*other] || !self.drivers[*other].is_empty()
        });
        let near = problems.nearest(&net.name, driven.map(|(_, other)| other.name.as_str()));
        let message = format!(
            "nothing drives `{}`, and `{}` waits for it",
            net.name,
            self.name(pin)
        );
        let remedy = match near {
            Some(near) => format!("Is `{near}` meant?"),
            None => format!(
                "Let an output drive it, or put a switch under `bench`, such as `switches: {} upper or ground through 10k`.",
                net.name
            ),
        };
        problems.fault("input-undriven", pin.span, message, remedy);
    }

    fn idle(&self, id: usize, loads: &[Pin], used: bool, problems: &mut Problems) {
        let net = &self.opened.nets.list[id];
        let Some(pin) = self.drivers[id].first() else {
            return;
        };
        if net.kind != NetKind::Signal || net.open || used || !loads.is_empty() {
            return;
        }
        let message = format!(
            "`{}` drives `{}`, and nothing listens to it",
            self.name(pin),
            net.name
        );
        problems.caution(
            "drives-nothing",
            pin.span,
            message,
            "Write `open` in place of the net if that is meant.",
        );
    }
}
