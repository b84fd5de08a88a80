//! The builder's own lots of tubes, diodes and lamps: `lot 6922: current 85% to 112%, mu 95% to 104%, halves 10%`.

use crate::include::no_lines_below;
use crate::kinds::Kinds;
use crate::model::{Lot, PartKind, Socket};
use crate::problems::Problems;
use crate::tube::find_type;
use crate::words::Words;
use devices::library::{diode_lot_spread, lot_spread, neon_lot_spread};
use devices::spread::{DiodeSpread, NeonSpread};
use text::diagnostic::Diagnostic;
use text::source::Span;
use text::tree::{Statement, Word};

const FORM: &str = "lot 6922: current 85% to 112%, mu 95% to 104%, halves 10%, alike 20%, cut-off 0.1V, aged to 60%, reverse 100nA";

/// The lots so far, each with its type and the place of that.
#[derive(Debug, Default)]
pub(crate) struct Lots {
    /// Of tubes.
    pub(crate) list: Vec<Lot>,
    /// Of semiconductor diodes.
    pub(crate) diodes: Vec<Lot<DiodeSpread>>,
    /// Of neon lamps.
    pub(crate) lamps: Vec<Lot<NeonSpread>>,
    names: Vec<(String, Span)>,
}

impl Lots {
    /// Reads a `lot` statement.
    pub(crate) fn add(&mut self, statement: &Statement, kinds: &Kinds, problems: &mut Problems) {
        no_lines_below(statement, problems);
        let mut words = Words::of(&statement.head, FORM);
        words.next();
        let Some(name) = words.want("the type of the tubes, diodes or lamps", problems) else {
            return;
        };
        let library = &kinds.library;
        // A tube's name comes first, as everywhere.
        let tube = library.tube(&name.text);
        let diode = library.diode(&name.text).filter(|_| tube.is_none());
        let lamp = library.neon(&name.text).filter(|_| tube.is_none());
        let device = match (diode, lamp) {
            (Some(diode), _) => diode.name.clone(),
            (None, Some(lamp)) => lamp.name.clone(),
            (None, None) => match find_type(name, library, problems) {
                Some(tube) => tube.name.clone(),
                None => return,
            },
        };
        let known = self.names.iter().find(|(known, _)| *known == device);
        if let Some((_, first)) = known {
            let message = format!("the lot of {device} is given twice");
            let problem = Diagnostic::fault("said-twice", name.span, message)
                .remedy("Keep one of them, or put what both say into one.");
            problems.push(problem.related(*first, "first given here"));
            return;
        }
        if !says_something(statement, name, &words, problems) {
            return;
        }
        words.finish(problems);
        self.names.push((device.clone(), name.span));
        let span = statement.span;
        let complaints = if diode.is_some() {
            let (spread, complaints) = diode_lot_spread(statement);
            self.diodes.push(Lot {
                device,
                spread,
                span,
            });
            complaints
        } else if let Some(lamp) = lamp {
            let (spread, complaints) = neon_lot_spread(statement, lamp);
            self.lamps.push(Lot {
                device,
                spread,
                span,
            });
            complaints
        } else if let Some(tube) = tube {
            let (spread, complaints) = lot_spread(statement, tube);
            self.list.push(Lot {
                device,
                spread,
                span,
            });
            complaints
        } else {
            Vec::new()
        };
        complaints
            .into_iter()
            .for_each(|complaint| problems.push(complaint));
    }

    /// Cautions where no part of the design is of the type of a lot.
    pub(crate) fn check_used(&self, kinds: &Kinds, sockets: &[Socket], problems: &mut Problems) {
        for (device, name) in &self.names {
            let in_circuits = kinds.circuits.iter().flat_map(|circuit| &circuit.parts);
            let mut in_circuits = in_circuits.map(|part| match &part.kind {
                PartKind::Tube(tube) => &tube.device.name[..],
                PartKind::Diode { device, .. } => &device.name,
                PartKind::Neon { device, .. } => &device.name,
                _ => "",
            });
            let used = sockets.iter().any(|socket| socket.device.name == *device)
                || in_circuits.any(|name| name == device);
            if !used {
                let message = format!("no part of the design is a {device}");
                let remedy = "Look at the type's name; a lot counts for parts of just this type. Leave it if such tubes are only to be tried in a socket.";
                problems.caution("lot-unused", *name, message, remedy);
            }
        }
    }
}

/// Faults when no value follows, or no colon stands before the values.
fn says_something(
    statement: &Statement,
    name: &Word,
    words: &Words,
    problems: &mut Problems,
) -> bool {
    let remedy = format!("The form is `{FORM}`.");
    match (&statement.body, words.peek()) {
        (None, Some(first)) => {
            let message = format!("before `{}` a colon is missing", first.text);
            problems.fault("colon-missing", first.span, message, remedy);
            false
        }
        (Some(body), _) if !body.is_empty() => true,
        _ => {
            let message = format!(
                "a lot of nothing: what the {} are like is not said",
                name.text
            );
            problems.fault("lot-empty", name.span, message, remedy);
            false
        }
    }
}
