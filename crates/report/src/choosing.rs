//! Values that spare the most, and which types serve, as every face shows them.

use design::model::{CircuitId, Design};
use network::margins::choosing::{Chosen, Serves, Wanted};
use text::quantity::show_code;

/// What was asked, and what was found.
#[derive(Debug, Clone, Copy)]
pub struct Choice<'a> {
    /// The design.
    pub design: &'a Design,
    /// What was asked.
    pub wanted: &'a Wanted,
    /// What was found.
    pub chosen: &'a Chosen,
    /// It was stopped before it was done.
    pub stopped: bool,
    /// The design as it is to be named on the command line.
    pub path: &'a str,
}

impl Choice<'_> {
    /// Name of the circuit.
    pub(crate) fn circuit(&self) -> &str {
        &self.design.circuits[self.wanted.circuit.0].name
    }

    /// Mark of each free part, its value now, and the best, ohm.
    pub(crate) fn values(&self) -> impl Iterator<Item = (&str, f64, Option<f64>)> {
        let parts = &self.design.circuits[self.wanted.circuit.0].parts;
        let free = self.wanted.free.iter().enumerate();
        free.map(|(index, free)| {
            let best = self.chosen.best.as_ref().map(|best| best.ohms[index]);
            let mark = parts[free.part].mark.as_str();
            (mark, self.chosen.now.ohms[index], best)
        })
    }

    /// Name of each tube, and its smallest margin now and at best, V.
    pub(crate) fn margins(&self) -> impl Iterator<Item = (&str, Option<f64>, Option<f64>)> {
        let tubes = self.chosen.tubes.iter().enumerate();
        tubes.map(|(index, name)| {
            let name = if name.is_empty() { "as typed" } else { name };
            let best = self.chosen.best.as_ref();
            let best = best.and_then(|best| best.by_tube[index]);
            (name, self.chosen.now.by_tube[index], best)
        })
    }

    /// What to type so that the best values stand in the text; empty where there is nothing to change.
    pub(crate) fn lines_to_type(&self) -> Vec<String> {
        if self.chosen.now_is_as_good() {
            return Vec::new();
        }
        let circuit = self.circuit();
        self.values()
            .filter_map(|(mark, now, best)| {
                let best = best.filter(|best| *best != now)?;
                let value = show_code(best);
                Some(format!(
                    "valvewright set {circuit}.{mark} {value} --in {}",
                    self.path
                ))
            })
            .collect()
    }
}

/// Types in the place of every tube of a circuit.
#[derive(Debug, Clone, Copy)]
pub struct Serving<'a> {
    /// The design.
    pub design: &'a Design,
    /// The circuit.
    pub circuit: CircuitId,
    /// Loads from none to so many.
    pub loads: usize,
    /// Those tried, the largest margin first.
    pub all: &'a [Serves],
}

impl Serving<'_> {
    /// Those that serve before those that fall short.
    pub(crate) fn in_order(&self) -> impl Iterator<Item = &Serves> {
        let works = |serves: &&Serves| serves.margin.is_some_and(|margin| 0.0 <= margin);
        let short = self.all.iter().filter(move |serves| !works(serves));
        self.all.iter().filter(works).chain(short)
    }

    /// Whether a type stands in a socket of the design, or has a lot.
    pub(crate) fn in_stock(&self, serves: &Serves) -> bool {
        let name = &serves.tube.name;
        let mut sockets = self.design.sockets.iter();
        let mut lots = self.design.lots.iter();
        sockets.any(|socket| socket.device.name == *name) || lots.any(|lot| lot.device == *name)
    }

    /// Whether one of them serves.
    #[must_use]
    pub fn any(&self) -> bool {
        let mut margins = self.all.iter().filter_map(|serves| serves.margin);
        margins.any(|margin| 0.0 <= margin)
    }
}
