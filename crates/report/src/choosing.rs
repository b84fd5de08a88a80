//! Values that spare the most, and which types serve, as every face shows them.

use crate::chart::Axis;
use crate::chart::bars::{Bar, Remainder, Whole, bars, remainders};
use crate::drawing::{Drawing, UPRIGHT_WIDTH, stacked};
use crate::sentence;
use crate::words::Wording;
use design::model::{CircuitId, Design, RailId};
use network::margins::Missing;
use network::margins::choosing::{Chosen, Combination, Serves, Takes, Wanted};
use network::verdict::Limits;
use text::quantity::{Unit, show_code};

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
    /// What counts as thin.
    pub limits: Limits,
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

    /// Name of a tube, by its place.
    pub(crate) fn tube(&self, index: usize) -> &str {
        let name = &self.chosen.tubes[index];
        if name.is_empty() { "as typed" } else { name }
    }

    /// Name of each tube, and its smallest margin now and at best; `None` where it has none.
    pub(crate) fn margins(&self) -> impl Iterator<Item = (&str, Option<Spare>, Option<Spare>)> {
        let of = |combination: &Combination, index: usize| {
            Some(Spare {
                volts: combination.by_tube[index]?,
                thin_below: self.limits.thin_below(combination.levels[index]?),
            })
        };
        (0..self.chosen.tubes.len()).map(move |index| {
            let best = self.chosen.best.as_ref();
            let best = best.and_then(|best| of(best, index));
            (self.tube(index), of(&self.chosen.now, index), best)
        })
    }

    /// The best values that stand at an end of what they may be, beyond which one may spare more: the mark, ohm, and whether it is
    /// the smallest.
    pub(crate) fn at_an_end(&self) -> Vec<(&str, f64, bool)> {
        let values = self.values().zip(&self.wanted.free);
        let ends = values.filter_map(|((mark, _, best), free)| {
            let best = best.filter(|_| 1 < free.ohms.len())?;
            let at = |end: Option<&f64>| end == Some(&best);
            let smallest = at(free.ohms.first());
            (smallest || at(free.ohms.last())).then_some((mark, best, smallest))
        });
        ends.collect()
    }

    /// What the circuit takes at book values now and at best, with its name and unit.
    pub(crate) fn takes(&self) -> Vec<Taking> {
        let chosen = self.chosen;
        let best = chosen.best_takes.as_ref();
        let of = |what: String, unit, value: &dyn Fn(&Takes) -> Option<f64>| Taking {
            what,
            unit,
            now: value(&chosen.now_takes),
            best: best.and_then(value),
        };
        let rails = chosen.now_takes.amps.keys().map(|&RailId(rail)| {
            let name = &self.design.rails[rail].name;
            of(format!("from {name}"), Unit::Ampere, &|takes: &Takes| {
                takes.amps.get(&RailId(rail)).copied()
            })
        });
        let mut all: Vec<Taking> = rails.collect();
        let watts = "in its warmest resistor".to_owned();
        all.push(of(watts, Unit::Watt, &|takes| Some(takes.watts)));
        let delay = "rough delay".to_owned();
        all.push(of(delay, Unit::Second, &|takes| takes.delay));
        all
    }

    /// What to type so that the best values stand in the text; empty where there is nothing to change.
    pub(crate) fn lines_to_type(&self) -> Vec<String> {
        if self.chosen.better().is_none() {
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

    /// Margins before and after by tube, and what the circuit takes; `None` where no margin is known of the best values.
    #[must_use]
    pub fn drawing(&self, wording: Wording) -> Option<Drawing> {
        let margins: Vec<Remainder> = self
            .margins()
            .filter_map(|(tube, now, best)| {
                let best = best?;
                Some(Remainder {
                    name: tube.to_owned(),
                    at_first: now.map_or(f64::NAN, |now| now.volts),
                    left: best.volts,
                    little: best.thin_below,
                })
            })
            .collect();
        if margins.is_empty() {
            return None;
        }
        let mut sheets = vec![remainders(
            &Axis::linear("to spare in the worst case", "V"),
            &margins,
            UPRIGHT_WIDTH,
        )];
        for (unit, letter, label) in [
            (Unit::Ampere, "A", "current, of what it is now"),
            (Unit::Watt, "W", "watts, of what they are now"),
            (Unit::Second, "s", "delay, of what it is now"),
        ] {
            let takes = self.takes().into_iter().filter(|one| one.unit == unit);
            let all: Vec<Bar> = takes
                .filter_map(|one| {
                    Some(Bar {
                        name: one.what,
                        value: one.best?,
                        whole: Whole::Other(one.now?, "now".to_owned()),
                    })
                })
                .collect();
            if !all.is_empty() {
                sheets.push(bars(label, letter, &all, UPRIGHT_WIDTH));
            }
        }
        let values = self.values().map(|(mark, now, best)| {
            let best = best.map_or_else(|| "none".to_owned(), show_code);
            format!("{mark} {} to {best}", show_code(now))
        });
        let case = sentence::best_case(self);
        let case = case.map_or_else(String::new, |said| format!(" {said}"));
        let incomplete = if self.stopped {
            " The search was stopped before it was done."
        } else {
            ""
        };
        let legend = format!(
            "{}. A bar is what is to spare with the best values (hatched: short), the ring and the figure in brackets what is with those typed now, the dotted stroke where thin ends; below, what the circuit takes with the best values as shares of what it takes now.{case}{incomplete}",
            values.collect::<Vec<_>>().join(", ")
        );
        Some(Drawing {
            title: format!("Values of {}, before and after", self.circuit()),
            legend: wording.apply(&legend),
            sheets: vec![stacked(&sheets)],
            legend_above: 0,
        })
    }
}

/// What is to spare in the worst case.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Spare {
    /// V.
    pub(crate) volts: f64,
    /// V.
    pub(crate) thin_below: f64,
}

/// Something that a circuit takes at book values.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Taking {
    pub(crate) what: String,
    pub(crate) unit: Unit,
    pub(crate) now: Option<f64>,
    pub(crate) best: Option<f64>,
}

fn why_short(up: bool) -> &'static str {
    if up { "up too low" } else { "down too high" }
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
    /// How many have a place in it; fewer were tried where the user stopped it.
    pub types: usize,
    /// What counts as thin.
    pub limits: Limits,
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

    /// What is to spare with a type, and below which that is thin; `None` where it has no margin.
    pub(crate) fn spare(&self, serves: &Serves) -> Option<Spare> {
        Some(Spare {
            volts: serves.margin?,
            thin_below: self.limits.thin_below(serves.margin_levels?),
        })
    }

    /// Some type is short because its threshold lies further out than is looked at.
    pub(crate) fn some_beyond(&self) -> bool {
        let mut missing = self.all.iter().map(|serves| serves.missing);
        missing.any(|missing| matches!(missing, Some(Missing::Beyond(_))))
    }

    /// Why a type does not serve; empty for one that does.
    pub(crate) fn why_short(&self, serves: &Serves) -> String {
        match serves.margin {
            None => match serves.missing {
                Some(Missing::Beyond(beyond)) if beyond.falls_short() => {
                    let why = why_short(beyond.up);
                    format!("{why} by more than is known")
                }
                Some(Missing::Beyond(_)) => "threshold beyond what is looked at".to_owned(),
                Some(Missing::Level) => "no level in the worst case".to_owned(),
                Some(Missing::Threshold) => "no threshold in the worst case".to_owned(),
                None if serves.amplifies => "no threshold in the worst case".to_owned(),
                None => "does not amplify".to_owned(),
            },
            Some(margin) if margin < 0.0 => {
                let why = why_short(serves.up);
                format!("{why} by {}", sentence::volts(-margin))
            }
            Some(_) => String::new(),
        }
    }

    /// Whether one of them serves.
    #[must_use]
    pub fn any(&self) -> bool {
        let mut margins = self.all.iter().filter_map(|serves| serves.margin);
        margins.any(|margin| 0.0 <= margin)
    }
}
