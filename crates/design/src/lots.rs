//! The builder's own lots of tubes: `lot 6922: current 85% to 112%, mu 95% to 104%, halves 10%`.

use crate::include::no_lines_below;
use crate::kinds::Kinds;
use crate::model::{Lot, Socket};
use crate::problems::Problems;
use crate::tube::find_type;
use crate::words::Words;
use devices::library::lot_spread;
use text::diagnostic::Diagnostic;
use text::source::Span;
use text::tree::{Statement, Word};

const FORM: &str = "lot 6922: current 85% to 112%, mu 95% to 104%, halves 10%, alike 20%, cut-off 0.1V, aged to 60%, reverse 100nA";

/// The lots so far, each with the place of its type's name.
#[derive(Debug, Default)]
pub(crate) struct Lots {
    pub(crate) list: Vec<Lot>,
    names: Vec<Span>,
}

impl Lots {
    /// Reads a `lot` statement.
    pub(crate) fn add(&mut self, statement: &Statement, kinds: &Kinds, problems: &mut Problems) {
        no_lines_below(statement, problems);
        let mut words = Words::of(&statement.head, FORM);
        words.next();
        let Some(name) = words.want("the type of the tubes", problems) else {
            return;
        };
        if kinds.library.tube(&name.text).is_none() && no_tube(name, kinds, problems) {
            return;
        }
        let Some(device) = find_type(name, &kinds.library, problems) else {
            return;
        };
        let place = self.list.iter().position(|lot| lot.device == device.name);
        if let Some(first) = place {
            let message = format!("the lot of {} is given twice", device.name);
            let problem = Diagnostic::fault("said-twice", name.span, message)
                .remedy("Keep one of them, or put what both say into one.");
            problems.push(problem.related(self.names[first], "first given here"));
            return;
        }
        if !says_something(statement, name, &words, problems) {
            return;
        }
        words.finish(problems);
        let (spread, complaints) = lot_spread(statement, &device);
        complaints
            .into_iter()
            .for_each(|complaint| problems.push(complaint));
        self.names.push(name.span);
        self.list.push(Lot {
            device: device.name.clone(),
            spread,
            span: statement.span,
        });
    }

    /// Cautions where no tube of the design is of the type of a lot.
    pub(crate) fn check_used(&self, kinds: &Kinds, sockets: &[Socket], problems: &mut Problems) {
        for (lot, name) in self.list.iter().zip(&self.names) {
            let mut in_circuits = kinds.circuits.iter().flat_map(|circuit| circuit.tubes());
            let used = sockets
                .iter()
                .any(|socket| socket.device.name == lot.device)
                || in_circuits.any(|(_, tube)| tube.device.name == lot.device);
            if !used {
                let message = format!("no tube of the design is a {}", lot.device);
                let remedy = "Look at the type's name; a lot counts for tubes of just this type. Leave it if such tubes are only to be tried in a socket.";
                problems.caution("lot-unused", *name, message, remedy);
            }
        }
    }
}

/// Faults when the name is that of a diode or a neon lamp.
fn no_tube(name: &Word, kinds: &Kinds, problems: &mut Problems) -> bool {
    let (what, remedy) = if kinds.library.diode(&name.text).is_some() {
        (
            "a semiconductor diode",
            "Leave the lot out; how far such diodes may be off stands in a type: write one of your own with `like` this one and a line `spread saturation 3 times, leakage 5uA at 75V`.",
        )
    } else if kinds.library.neon(&name.text).is_some() {
        ("a neon lamp", "Leave the lot out.")
    } else {
        return false;
    };
    let message = format!("`{}` is {what}, and a lot is one of tubes", name.text);
    problems.fault("lot-of-others", name.span, message, remedy);
    true
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
