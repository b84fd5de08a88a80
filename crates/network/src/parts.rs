//! The parts list: what to buy, how many, and how much headroom each has over the worst that it meets.

use crate::judge::{Context, MemberResult};
use crate::ratings::cold_volts;
use crate::verdict::Verdict;
use design::model::{Branch, Circuit, Part, PartKind, UnitId};
use std::collections::BTreeMap;

/// A size in which resistors are made.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ResistorSize {
    /// Rated W.
    pub watts: f64,
    /// The most volts across it, whatever its ohms.
    pub volts: f64,
}

/// Resistors that can be bought.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ResistorRange {
    /// Rated watts to buy over the most that a resistor dissipates.
    pub factor: f64,
    /// Sizes, the smallest first.
    pub sizes: &'static [ResistorSize],
}

impl ResistorRange {
    /// The rating to buy, W, for what a resistor takes and the volts across it; `None` where no size is large enough.
    #[must_use]
    pub fn rating(&self, watts: f64, volts: f64) -> Option<f64> {
        let mut sizes = self.sizes.iter();
        let size = sizes.find(|size| self.factor * watts <= size.watts && volts <= size.volts);
        size.map(|size| size.watts)
    }
}

/// How many more are bought than are needed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spares {
    /// Share of what is needed, rounded up.
    pub share: f64,
    /// At least so many.
    pub least: usize,
}

impl Spares {
    /// Spares for so many needed.
    #[must_use]
    pub fn of(self, needed: usize) -> usize {
        // The share of a count is exact to far more than a hundredth of a part.
        let share = (self.share * needed as f64 - 1e-6).ceil().max(0.0) as usize;
        share.max(self.least)
    }
}

/// What is asked of a part, held by the application and printed with the list.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Buying {
    /// Resistors.
    pub resistors: ResistorRange,
    /// Rated volts of a capacitor over the most across it.
    pub capacitor_factor: f64,
    /// Working volts of capacitors, the lowest first.
    pub capacitor_volts: &'static [f64],
    /// Spare tubes of a type.
    pub tubes: Spares,
    /// Spares of everything else.
    pub others: Spares,
}

/// What kind of thing a line is of, in the order of the list.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// Tube, by type.
    Tube,
    /// Socket, by base.
    Socket,
    /// Resistor, by ohms.
    Resistor,
    /// Trimmer, by ohms.
    Trimmer,
    /// Thermistor of a heater string, by cold ohms.
    Thermistor,
    /// Ballast tube of a heater string, by amperes.
    Ballast,
    /// Capacitor, by farads.
    Capacitor,
    /// Inductor, by henries.
    Inductor,
    /// Semiconductor diode, by type.
    Diode,
    /// Neon lamp, by type.
    Lamp,
    /// Switch.
    Switch,
    /// Connector, by pins.
    Connector,
}

/// What a part is chosen by besides its value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Further {
    /// A thermistor: the ohms that it comes to, and the amperes that bring it there.
    Hot {
        /// Ohm.
        ohms: f64,
        /// A.
        amps: f64,
    },
    /// A ballast tube: the volts between which it holds.
    Holds {
        /// V.
        from_volts: f64,
        /// V.
        to_volts: f64,
    },
}

/// One line of the list.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// What it is.
    pub kind: Kind,
    /// Type or base; empty where the value says it all.
    pub name: String,
    /// Ohm, ampere, farad or henry; `None` where a name says it all.
    pub value: Option<f64>,
    /// A share.
    pub tolerance: Option<f64>,
    /// Of a thermistor and a ballast tube.
    pub further: Option<Further>,
    /// The most of what its rating limits: W of a resistor, V of a capacitor; `None` when not known.
    pub worst: Option<f64>,
    /// The most volts across a resistor; `None` when not known.
    pub worst_volts: Option<f64>,
    /// The rating to buy: W or V, the stated one, or the next usual size; `None` when none is large enough or the worst is
    /// not known.
    pub rating: Option<f64>,
    /// The text states the rating.
    pub stated: bool,
    /// The rating that the text states, where the part meets more than that; what is to buy is then the next usual size.
    pub too_small: Option<f64>,
    /// The stated rating has less than the headroom asked for.
    pub little: bool,
    /// How many the machine has.
    pub needed: usize,
    /// How many more to order.
    pub spares: usize,
    /// Where they are: circuit and mark with how often, string, rail, board.
    pub places: Vec<(String, usize)>,
}

impl Line {
    /// How many to order.
    #[must_use]
    pub fn order(&self) -> usize {
        self.needed + self.spares
    }

    /// The rating over the worst; `None` where one of them is not known or nothing is asked of the part.
    #[must_use]
    pub fn headroom(&self) -> Option<f64> {
        let worst = self.worst.filter(|worst| 0.0 < *worst)?;
        Some(self.rating? / worst)
    }
}

/// The list with what was asked of the parts.
#[derive(Debug, Clone, PartialEq)]
pub struct PartsList {
    /// By kind, name, value and rating.
    pub lines: Vec<Line>,
    /// What it was made by.
    pub buying: Buying,
}

/// A part with what it meets, before parts that are alike are put together.
struct Need {
    line: Line,
    count: usize,
    place: String,
}

/// Everything that the text of a machine asks for, put together by kind, value and rating; the bench is not part of it.
#[must_use]
pub fn parts(verdict: &Verdict, buying: &Buying, context: &Context) -> PartsList {
    let mut needs = of_circuits(verdict, buying, context);
    needs.extend(tubes_and_sockets(verdict));
    needs.extend(of_strings(verdict, buying));
    needs.extend(of_rails(verdict, buying));
    needs.extend(connectors(verdict));
    PartsList {
        lines: gathered(needs, buying),
        buying: *buying,
    }
}

/// Lines that say the same to a shop become one.
fn gathered(needs: Vec<Need>, buying: &Buying) -> Vec<Line> {
    type Key = (Kind, String, [u64; 5], Option<u64>, bool);
    // The bits of a number that is not negative are in its order.
    let bits = |value: Option<f64>| value.unwrap_or(0.0).to_bits();
    let mut lines: BTreeMap<Key, Line> = BTreeMap::new();
    for Need { line, count, place } in needs {
        let [first, second] = match line.further {
            Some(Further::Hot { ohms, amps }) => [ohms, amps],
            Some(Further::Holds {
                from_volts,
                to_volts,
            }) => [from_volts, to_volts],
            None => [0.0; 2],
        }
        .map(f64::to_bits);
        let numbers = [
            bits(line.value),
            bits(line.rating),
            bits(line.tolerance),
            first,
            second,
        ];
        let too_small = line.too_small.map(f64::to_bits);
        let key = (
            line.kind,
            line.name.clone(),
            numbers,
            too_small,
            line.stated,
        );
        let known = lines.entry(key).or_insert_with(|| Line {
            needed: 0,
            places: Vec::new(),
            ..line.clone()
        });
        let both = |left: Option<f64>, right: Option<f64>| Some(left?.max(right?));
        known.worst = both(known.worst, line.worst);
        known.worst_volts = both(known.worst_volts, line.worst_volts);
        known.little |= line.little;
        known.needed += count;
        known.places.push((place, count));
    }
    let lines = lines.into_values().map(|line| {
        let rule = if line.kind == Kind::Tube {
            buying.tubes
        } else {
            buying.others
        };
        Line {
            spares: rule.of(line.needed),
            ..line
        }
    });
    lines.collect()
}

fn plain(kind: Kind, name: &str, value: Option<f64>, tolerance: Option<f64>) -> Line {
    Line {
        kind,
        name: name.to_owned(),
        value,
        tolerance,
        further: None,
        worst: None,
        worst_volts: None,
        rating: None,
        stated: false,
        too_small: None,
        little: false,
        needed: 0,
        spares: 0,
        places: Vec::new(),
    }
}

/// A resistor with what it meets; its size is chosen where none is stated.
fn resistor(
    kind: Kind,
    (ohms, tolerance): (f64, Option<f64>),
    stated: Option<f64>,
    worst: Option<Worst>,
    buying: &Buying,
) -> Line {
    let wanted = |worst: Worst| buying.resistors.rating(worst.watts, worst.volts);
    let line = Line {
        worst: worst.map(|worst| worst.watts),
        worst_volts: worst.map(|worst| worst.volts),
        ..plain(kind, "", Some(ohms), tolerance)
    };
    rated(
        line,
        stated,
        worst.and_then(wanted),
        buying.resistors.factor,
    )
}

/// A capacitor with what it meets; its volts are chosen where none are stated.
fn capacitor(
    (farads, tolerance): (f64, Option<f64>),
    stated: Option<f64>,
    worst: Option<f64>,
    buying: &Buying,
) -> Line {
    let wanted = |worst: f64| {
        let mut usual = buying.capacitor_volts.iter().copied();
        usual.find(|volts| buying.capacitor_factor * worst <= *volts)
    };
    let line = Line {
        worst,
        ..plain(Kind::Capacitor, "", Some(farads), tolerance)
    };
    rated(
        line,
        stated,
        worst.and_then(wanted),
        buying.capacitor_factor,
    )
}

/// A line with the rating to buy: the stated one, else or where the part meets more than that the usual one.
fn rated(line: Line, stated: Option<f64>, usual: Option<f64>, factor: f64) -> Line {
    let below = |factor: f64| {
        let pair = stated.zip(line.worst);
        pair.is_some_and(|(stated, worst)| stated < factor * worst)
    };
    let (too_small, little) = (stated.filter(|_| below(1.0)), below(factor));
    let stated = stated.filter(|_| too_small.is_none());
    Line {
        rating: stated.or(usual),
        stated: stated.is_some(),
        too_small,
        little: little && too_small.is_none(),
        ..line
    }
}

/// The most that a part meets.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Worst {
    watts: f64,
    volts: f64,
}

impl Worst {
    /// The larger of each.
    fn with(self, other: Self) -> Self {
        Self {
            watts: self.watts.max(other.watts),
            volts: self.volts.max(other.volts),
        }
    }
}

/// Parts of the circuits that stand in the machine, each as often as its circuit has units; tubes apart, by their sockets.
fn of_circuits(verdict: &Verdict, buying: &Buying, context: &Context) -> Vec<Need> {
    let design = verdict.plan.design;
    let mut units: Vec<Vec<usize>> = vec![Vec::new(); design.circuits.len()];
    for (index, unit) in design.units.iter().enumerate() {
        units[unit.circuit.0].push(index);
    }
    let placed = design.circuits.iter().zip(&units);
    placed
        .filter(|(_, units)| !units.is_empty())
        .flat_map(|(circuit, units)| {
            let worst = worst_of_circuit(verdict, circuit, units, context);
            let parts = circuit.parts.iter().zip(worst);
            let needs = parts.filter_map(|(part, worst)| {
                Some(Need {
                    line: of_part(part, worst, buying)?,
                    count: units.len(),
                    place: format!("{}.{}", circuit.name, part.mark),
                })
            });
            needs.collect::<Vec<Need>>()
        })
        .collect()
}

fn of_part(part: &Part, worst: Option<Worst>, buying: &Buying) -> Option<Line> {
    Some(match &part.kind {
        PartKind::Resistor {
            ohms,
            tolerance,
            watts,
            ..
        } => resistor(
            Kind::Resistor,
            (*ohms, Some(*tolerance)),
            *watts,
            worst,
            buying,
        ),
        PartKind::Trimmer {
            ohms,
            tolerance,
            watts,
            ..
        } => resistor(
            Kind::Trimmer,
            (*ohms, Some(*tolerance)),
            *watts,
            worst,
            buying,
        ),
        PartKind::Capacitor {
            farads,
            tolerance,
            volts,
            ..
        } => {
            let worst = worst.map(|worst| worst.volts);
            capacitor((*farads, Some(*tolerance)), *volts, worst, buying)
        }
        PartKind::Inductor { henries, .. } => plain(Kind::Inductor, "", Some(*henries), None),
        PartKind::Diode { device, .. } => plain(Kind::Diode, &device.name, None, None),
        PartKind::Neon { device, .. } => plain(Kind::Lamp, &device.name, None, None),
        PartKind::Switch { .. } => plain(Kind::Switch, "", None, None),
        PartKind::Source { .. } | PartKind::Tube(_) => return None,
    })
}

/// The most that every part of a circuit meets in any of its units: in its rows at nominal volts, and with cold tubes and
/// rails at their highest; `None` when a unit has no solved row.
fn worst_of_circuit(
    verdict: &Verdict,
    circuit: &Circuit,
    units: &[usize],
    context: &Context,
) -> Vec<Option<Worst>> {
    let mut worst: Option<Vec<Worst>> = None;
    for &unit in units {
        // Units in like surroundings meet the same.
        if verdict.alike[unit] != unit && units.contains(&verdict.alike[unit]) {
            continue;
        }
        let Some(here) = worst_of_unit(verdict, circuit, unit, context) else {
            return vec![None; circuit.parts.len()];
        };
        worst = Some(match worst {
            None => here,
            Some(known) => {
                let pairs = known.into_iter().zip(here);
                pairs.map(|(known, here)| known.with(here)).collect()
            }
        });
    }
    worst.into_iter().flatten().map(Some).collect()
}

fn worst_of_unit(
    verdict: &Verdict,
    circuit: &Circuit,
    unit: usize,
    context: &Context,
) -> Option<Vec<Worst>> {
    let result: &MemberResult = &verdict.place.results[unit];
    let rows = result.rows.iter().filter(|row| row.counts());
    let in_rows = rows.map(|row| -> Vec<Worst> {
        let readings = row.parts.iter();
        readings
            .map(|reading| Worst {
                watts: reading.watts,
                volts: reading.volts.abs(),
            })
            .collect()
    });
    let most = in_rows.reduce(|known, here| {
        let pairs = known.into_iter().zip(here);
        pairs.map(|(known, here)| known.with(here)).collect()
    })?;
    let cold = cold_volts(&verdict.plan, result, &verdict.place.levels, context);
    let parts = circuit.parts.iter().zip(most);
    let with_cold = parts.map(|(part, worst)| {
        let (Some(volts), Some(ends)) = (&cold, ends(&part.kind)) else {
            return worst;
        };
        let volts = (volts[ends[0]] - volts[ends[1]]).abs();
        let watts = match part.kind {
            PartKind::Resistor { ohms, .. } => volts * volts / ohms,
            _ => 0.0,
        };
        worst.with(Worst { watts, volts })
    });
    Some(with_cold.collect())
}

fn ends(kind: &PartKind) -> Option<[usize; 2]> {
    match kind {
        PartKind::Resistor { ends, .. } | PartKind::Capacitor { ends, .. } => Some(*ends),
        _ => None,
    }
}

/// Tubes by type and sockets by base. Tubes of units without places are counted as if every bottle were full.
fn tubes_and_sockets(verdict: &Verdict) -> Vec<Need> {
    let design = verdict.plan.design;
    let mut needs = Vec::new();
    let mut bottles = |device: &devices::types::TubeType, count: usize, place: &str| {
        needs.push(Need {
            line: plain(Kind::Tube, &device.name, None, None),
            count,
            place: place.to_owned(),
        });
        let Some(base) = &device.base else { return };
        needs.push(Need {
            line: plain(Kind::Socket, &base.name, None, None),
            count,
            place: place.to_owned(),
        });
    };
    for socket in &design.sockets {
        bottles(&socket.device, 1, &socket.mark);
    }
    let mut free: BTreeMap<&str, (&devices::types::TubeType, usize)> = BTreeMap::new();
    let unplaced = design.units.iter().enumerate();
    for (unit, _) in unplaced.filter(|(_, unit)| unit.places.is_empty()) {
        for (_, tube) in design.circuit_of(UnitId(unit)).tubes() {
            free.entry(&tube.device.name).or_insert((&tube.device, 0)).1 += 1;
        }
    }
    for (device, halves) in free.into_values() {
        bottles(
            device,
            halves.div_ceil(device.sections.max(1)),
            "no place yet",
        );
    }
    needs
}

fn of_strings(verdict: &Verdict, buying: &Buying) -> Vec<Need> {
    let design = verdict.plan.design;
    let mut needs = Vec::new();
    for (string, reading) in design.strings.iter().zip(&verdict.heaters.strings) {
        for (index, link) in string.links.iter().enumerate() {
            let volts = reading.link_volts(index).map(f64::abs);
            for branch in &link.branches {
                let Some((mark, line)) = of_string(branch, volts, buying) else {
                    continue;
                };
                needs.push(Need {
                    line,
                    count: 1,
                    place: format!("{mark} of string {}", string.name),
                });
            }
        }
    }
    needs
}

/// What is bought for a string besides its tubes; wire and copper are not.
fn of_string<'a>(
    branch: &'a Branch,
    volts: Option<f64>,
    buying: &Buying,
) -> Option<(&'a str, Line)> {
    match branch {
        Branch::Heater { .. } | Branch::Conductor { .. } => None,
        Branch::Resistor {
            mark,
            ohms,
            tolerance,
            watts,
        } => {
            let worst = volts.map(|volts| Worst {
                watts: volts * volts / ohms,
                volts,
            });
            let value = (*ohms, Some(*tolerance));
            let line = resistor(Kind::Resistor, value, *watts, worst, buying);
            Some((mark, line))
        }
        Branch::Thermistor {
            mark,
            law,
            hot_ohms,
            amps,
            tolerance,
        } => {
            let further = Some(Further::Hot {
                ohms: *hot_ohms,
                amps: *amps,
            });
            let line = plain(Kind::Thermistor, "", Some(law.cold_ohms), Some(*tolerance));
            Some((mark, Line { further, ..line }))
        }
        Branch::Ballast {
            mark,
            amps,
            volts: (from_volts, to_volts),
            tolerance,
        } => {
            let further = Some(Further::Holds {
                from_volts: *from_volts,
                to_volts: *to_volts,
            });
            let line = plain(Kind::Ballast, "", Some(*amps), Some(*tolerance));
            Some((mark, Line { further, ..line }))
        }
    }
}

/// Capacitors and bleeders of the rails, at the top of their tolerance.
fn of_rails(verdict: &Verdict, buying: &Buying) -> Vec<Need> {
    let rails = verdict.plan.design.rails.iter();
    rails
        .flat_map(|rail| {
            let volts = rail.volts.abs() * (1.0 + rail.tolerance);
            let place = format!("rail {}", rail.name);
            let capacitor = rail
                .capacitor_farads
                .map(|farads| capacitor((farads, None), None, Some(volts), buying));
            let bleeder = rail.bleeder_ohms.map(|ohms| {
                let watts = volts * volts / ohms;
                let worst = Some(Worst { watts, volts });
                resistor(Kind::Resistor, (ohms, None), None, worst, buying)
            });
            let lines = capacitor.into_iter().chain(bleeder);
            lines
                .map(|line| Need {
                    line,
                    count: 1,
                    place: place.clone(),
                })
                .collect::<Vec<Need>>()
        })
        .collect()
}

fn connectors(verdict: &Verdict) -> Vec<Need> {
    let boards = verdict.plan.design.boards.iter();
    boards
        .flat_map(|board| {
            board.connectors.iter().map(|connector| {
                let pins = connector.pins.iter().map(|pin| pin.0).max().unwrap_or(0);
                Need {
                    line: plain(Kind::Connector, &format!("{pins} pins"), None, None),
                    count: 1,
                    place: format!("{} of board {}", connector.mark, board.name),
                }
            })
        })
        .collect()
}
