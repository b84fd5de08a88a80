//! What lamps and loads are there for, against what they do: lit and out in the right rows, current on and off.
//!
//! A part is judged in every row of a unit where it stands, with its real drivers. A neon lamp remembers: between holding
//! and striking it may be lit or dark. It is therefore solved from dark and from lit, and must end as it should from both.

use crate::equations::Network;
use crate::finding::{Amount, Finding};
use crate::judge::{Context, Levels, MemberResult, RowResult, set_feeds};
use crate::plan::Plan;
use crate::scene::build;
use crate::solve::Solver;
use design::model::{Circuit, Duty, PartKind, Wanted};
use devices::neon::NeonState;
use devices::types::{NeonType, TubeType};
use text::quantity::{Unit, show};

/// An indicator triode is lit when its plate takes at least this share of the power of its brightest published point:
/// chosen, because the glow goes with that power (common practice, no source) and half of it still reads as lit.
const LIT_SHARE: f64 = 0.5;

/// Where no point says when the light goes out, it is out below this share of the current of the brightest point:
/// the usual meaning of cut-off (common practice, no source).
const OUT_SHARE: f64 = 0.01;

/// A current that should be off is off below this share of the smallest that is wanted: chosen, because relay sheets
/// commonly promise release at a tenth of the rated volts (common practice, no source).
pub const OFF_SHARE: f64 = 0.1;

/// When an indicator triode is lit and when it is out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Glow {
    /// Lit from this plate dissipation on, W.
    pub lit_watts: f64,
    /// Out up to this plate current, A.
    pub out_amps: f64,
}

/// From the type's published points: the brightest, and the faintest if it is a point of cut-off. `None` without points.
#[must_use]
pub fn glow(device: &TubeType) -> Option<Glow> {
    let points = || {
        device
            .points
            .iter()
            .filter_map(|point| Some((point.plate_volts, point.plate_amps.as_ref()?.value)))
    };
    let brightest =
        points().max_by(|left, right| (left.0 * left.1).total_cmp(&(right.0 * right.1)))?;
    let faintest = points().map(|point| point.1).fold(f64::INFINITY, f64::min);
    let known = faintest <= brightest.1 * LIT_SHARE;
    Some(Glow {
        lit_watts: LIT_SHARE * brightest.0 * brightest.1,
        out_amps: if known {
            faintest
        } else {
            brightest.1 * OUT_SHARE
        },
    })
}

/// One duty of a unit in one row.
struct Case<'a> {
    subject: &'a str,
    circuit: &'a Circuit,
    duty: &'a Duty,
    wanted: bool,
    row: &'a RowResult,
}

/// Findings on the duties of one member's parts; at most one of each name for each part, of its worst row.
#[must_use]
pub fn check(
    plan: &Plan,
    result: &MemberResult,
    levels: &Levels,
    context: &Context,
) -> Vec<Finding> {
    let member = result.around.subject;
    let circuit = plan.circuit(member);
    let mut findings = Vec::new();
    for duty in &circuit.duties {
        let subject = format!(
            "{}.{}",
            plan.members[member].name, circuit.parts[duty.part].mark
        );
        let mut found: Vec<(f64, Finding)> = Vec::new();
        for row in result.rows.iter().filter(|row| row.counts()) {
            let Some(wanted) = wanted(duty, row) else {
                continue;
            };
            let done = does(circuit, duty, row) == Some(wanted);
            let case = Case {
                subject: &subject,
                circuit,
                duty,
                wanted,
                row,
            };
            let fault = match (duty.wanted, &circuit.parts[duty.part].kind) {
                (Wanted::Amps { least, most }, _) => (!done).then(|| case.current(least, most)),
                (Wanted::Lit, PartKind::Tube(tube)) => glow(&tube.device)
                    .filter(|_| !done)
                    .map(|glow| case.indicator(&glow, &tube.device)),
                (Wanted::Lit, PartKind::Neon { device, .. }) => {
                    let ends = neon_ends(plan, result, row, duty.part, levels, context);
                    case.neon(device, &ends.unwrap_or_else(|| vec![case.solved_end()]))
                }
                (Wanted::Lit, _) => None,
            };
            let Some((how_bad, finding)) = fault else {
                continue;
            };
            match found
                .iter_mut()
                .find(|(_, known)| known.name == finding.name)
            {
                Some(known) if known.0 < how_bad => *known = (how_bad, finding),
                Some(_) => {}
                None => found.push((how_bad, finding)),
            }
        }
        findings.extend(found.into_iter().map(|(_, finding)| finding));
    }
    findings
}

/// Whether a row wants the lamp lit or the current on; `None` where the row does not say.
#[must_use]
pub fn wanted(duty: &Duty, row: &RowResult) -> Option<bool> {
    duty.value.value_if_known(&signals(row))
}

/// One thing that a sentence asks of a part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Asked {
    /// At least this current, A.
    Least(f64),
    /// At most this current, A.
    Most(f64),
    /// No more than this of a current that is to be off, A.
    Off(f64),
    /// At least this dissipation of the plate of an indicator triode, W.
    Lit(f64),
    /// At most this current of its plate, A.
    Out(f64),
    /// A dark neon lamp has the volts at which it strikes.
    Strikes,
    /// Once lit it stays lit.
    Holds,
    /// A dark one does not have the volts at which it strikes.
    StaysDark,
    /// Once lit it goes out.
    GoesOut,
}

impl Asked {
    /// The unit of what is asked, in which its margin is.
    #[must_use]
    pub fn unit(self) -> Unit {
        match self {
            Self::Least(_) | Self::Most(_) | Self::Off(_) | Self::Out(_) => Unit::Ampere,
            Self::Lit(_) => Unit::Watt,
            Self::Strikes | Self::Holds | Self::StaysDark | Self::GoesOut => Unit::Volt,
        }
    }

    /// It is asked in the rows in which the lamp is to be lit or the current on; else in those in which out or off.
    #[must_use]
    pub fn on(self) -> bool {
        matches!(
            self,
            Self::Least(_) | Self::Most(_) | Self::Lit(_) | Self::Strikes | Self::Holds
        )
    }

    /// The reading must be above its limit, else below.
    #[must_use]
    pub fn above(self) -> bool {
        matches!(
            self,
            Self::Least(_) | Self::Lit(_) | Self::Strikes | Self::Holds
        )
    }
}

/// What a sentence asks of a part in the rows in which it is to be lit or on, or in those in which it is not; nothing where nothing
/// is known of the type.
#[must_use]
pub fn asked(circuit: &Circuit, duty: &Duty, on: bool) -> Vec<Asked> {
    match (duty.wanted, &circuit.parts[duty.part].kind) {
        (Wanted::Amps { least, most }, _) if on => vec![Asked::Least(least), Asked::Most(most)],
        (Wanted::Amps { least, .. }, _) => vec![Asked::Off(OFF_SHARE * least)],
        (Wanted::Lit, PartKind::Tube(tube)) => {
            let glow = glow(&tube.device).into_iter();
            glow.map(|glow| {
                if on {
                    Asked::Lit(glow.lit_watts)
                } else {
                    Asked::Out(glow.out_amps)
                }
            })
            .collect()
        }
        (Wanted::Lit, PartKind::Neon { .. }) if on => vec![Asked::Strikes, Asked::Holds],
        (Wanted::Lit, PartKind::Neon { .. }) => vec![Asked::StaysDark, Asked::GoesOut],
        (Wanted::Lit, _) => Vec::new(),
    }
}

/// Whether the lamp is lit or the current on in a row as it was solved: `None` between, or where nothing is known of the
/// type.
#[must_use]
pub fn does(circuit: &Circuit, duty: &Duty, row: &RowResult) -> Option<bool> {
    let reading = row.parts[duty.part];
    let amps = reading.amps.abs();
    let (on, off) = match (duty.wanted, &circuit.parts[duty.part].kind) {
        (Wanted::Amps { least, most }, _) => {
            ((least..=most).contains(&amps), amps <= OFF_SHARE * least)
        }
        (Wanted::Lit, PartKind::Tube(tube)) => {
            let glow = glow(&tube.device)?;
            (
                glow.lit_watts <= reading.watts,
                reading.amps <= glow.out_amps,
            )
        }
        (Wanted::Lit, PartKind::Neon { device, .. }) => {
            let lit = device.law.hold_amps <= amps;
            (lit, !lit)
        }
        (Wanted::Lit, _) => return None,
    };
    (on || off).then_some(on)
}

/// Values of the member's signals in a row, outputs only as far as they are said.
fn signals(row: &RowResult) -> Vec<Option<bool>> {
    let inputs = row.row.inputs.iter().copied().map(Some);
    inputs.chain(row.row.outputs.iter().copied()).collect()
}

/// How bad a fault is beside others of the same name, and the fault.
type Fault = (f64, Finding);

impl Case<'_> {
    /// The fault of a current that is not what is wanted.
    fn current(&self, least: f64, most: f64) -> Fault {
        let amps = self.row.parts[self.duty.part].amps.abs();
        let shown = show(amps, Unit::Ampere, 3);
        let (subject, row) = (self.subject, self.row_words());
        let (name, how_bad, cause, limit, remedy) = if !self.wanted {
            (
                "current-stays-on",
                amps,
                format!(
                    "With {row} the current of {subject} should be off, and {shown} still flow."
                ),
                ("off: a tenth of the smallest wanted", OFF_SHARE * least),
                "Take the grid of the tube that switches it further down, or use a tube of higher mu.",
            )
        } else if amps < least {
            (
                "current-too-small",
                -amps,
                format!("With {row} {shown} flow through {subject}, less than it wants."),
                ("smallest wanted", least),
                "Use a smaller resistor in the loop, more sections side by side, or a higher supply: what the tube drops is missing at the load.",
            )
        } else {
            (
                "current-too-large",
                amps,
                format!("With {row} {shown} flow through {subject}, more than it wants."),
                ("largest wanted", most),
                "Use a larger resistor in the loop.",
            )
        };
        let finding = self
            .fault(name, cause)
            .numbers(
                Amount::new(format!("current of {subject}"), amps, Unit::Ampere),
                Amount::new(limit.0, limit.1, Unit::Ampere),
            )
            .attempt(remedy);
        (how_bad, finding)
    }

    /// The fault of an indicator triode that is not lit, or not out, as wanted.
    fn indicator(&self, glow: &Glow, device: &TubeType) -> Fault {
        let reading = self.row.parts[self.duty.part];
        let (subject, row) = (self.subject, self.row_words());
        let shown = show(reading.amps, Unit::Ampere, 3);
        if self.wanted {
            let cause = format!(
                "With {row} {subject} should be lit, and its plate takes {shown} at {}: less than half the power of the brightest point on the sheet of {}.",
                show(reading.volts, Unit::Volt, 3),
                device.name
            );
            let finding = self
                .fault("lamp-stays-dark", cause)
                .numbers(
                    Amount::new("power of the plate", reading.watts, Unit::Watt),
                    Amount::new("lit from", glow.lit_watts, Unit::Watt),
                )
                .attempt("Give the plate more volts, or the grid a higher up level.");
            return (-reading.watts, finding);
        }
        let cause =
            format!("With {row} {subject} should be out, and its plate takes {shown}: it glows.");
        let finding = self
            .fault("lamp-stays-lit", cause)
            .numbers(
                Amount::new("current of the plate", reading.amps, Unit::Ampere),
                Amount::new("out up to", glow.out_amps, Unit::Ampere),
            )
            .attempt("Take its grid further down: a smaller resistor to the negative rail, or a lower down level before it.");
        (reading.amps, finding)
    }

    /// The fault of a neon lamp that ends otherwise than wanted from one of its starts.
    fn neon(&self, device: &NeonType, ends: &[NeonEnd]) -> Option<Fault> {
        let (subject, row) = (self.subject, self.row_words());
        if self.wanted {
            let dark = ends.iter().find(|end| !end.lit)?;
            let cause = format!(
                "With {row} {subject} should be lit, and has {} when dark: it does not strike.",
                show(dark.volts.abs(), Unit::Volt, 3)
            );
            let finding = self
                .fault("lamp-stays-dark", cause)
                .numbers(
                    Amount::new("volts across the dark lamp", dark.volts.abs(), Unit::Volt),
                    Amount::new("strikes from", device.law.strike_volts, Unit::Volt),
                )
                .attempt("Put it on a higher rail, or pull its other end further down.");
            return Some((-dark.volts.abs(), finding));
        }
        let lit = ends.iter().find(|end| end.lit)?;
        let cause = format!(
            "With {row} {subject} should be out, and once lit it keeps {}: it does not go out.",
            show(lit.amps.abs(), Unit::Ampere, 3)
        );
        let finding = self.fault("lamp-stays-lit", cause)
            .numbers(
                Amount::new("current that the lit lamp keeps", lit.amps.abs(), Unit::Ampere),
                Amount::new("goes out below", device.law.hold_amps, Unit::Ampere),
            )
            .attempt("Let the volts across it fall below its maintaining volts: a resistor across the lamp, or a plate that rises further.");
        Some((lit.amps.abs(), finding))
    }

    /// The end of the row as it was solved.
    fn solved_end(&self) -> NeonEnd {
        let reading = self.row.parts[self.duty.part];
        NeonEnd {
            lit: does(self.circuit, self.duty, self.row) == Some(true),
            volts: reading.volts,
            amps: reading.amps,
        }
    }

    fn fault(&self, name: &'static str, cause: String) -> Finding {
        let span = self.circuit.parts[self.duty.part].span;
        Finding::fault(name, span, self.subject, cause)
    }

    /// `a up, b down`.
    fn row_words(&self) -> String {
        let interface = &self.circuit.interface;
        let words = interface.signals.iter().zip(signals(self.row));
        let known = words.filter_map(|(name, value)| {
            Some(format!("{name} {}", if value? { "up" } else { "down" }))
        });
        known.collect::<Vec<_>>().join(", ")
    }
}

/// Where a neon lamp ends up from one state at the start.
struct NeonEnd {
    lit: bool,
    volts: f64,
    amps: f64,
}

/// Ends of a row from all lamps dark, and from all lit in each direction. `None` in a loop, which only its own start brings
/// into the state that is meant.
fn neon_ends(
    plan: &Plan,
    result: &MemberResult,
    row: &RowResult,
    part: usize,
    levels: &Levels,
    context: &Context,
) -> Option<Vec<NeonEnd>> {
    if result.around.looped {
        return None;
    }
    let scene = build(plan, &result.around.copies(), &[], &context.assumptions);
    let element = *scene.member(result.around.subject)?.elements[part].first()?;
    let mut network = Network::new(scene.wiring.clone(), context.assumptions.leak_siemens).ok()?;
    set_feeds(&mut network, &scene, &row.row.values, levels);
    let mut solver = Solver::new(&network);
    let ends = scene.wiring.elements[element].kind.terminals();
    let (first, second) = (ends.as_slice()[0], ends.as_slice()[1]);
    let starts = [
        NeonState::Dark,
        NeonState::LitForward,
        NeonState::LitBackward,
    ];
    let found = starts.iter().filter_map(|&state| {
        let lamps = vec![state; scene.wiring.elements.len()];
        let point = solver.operating_point(&network, None, Some(&lamps), &context.settings);
        point.outcome.settled().then(|| NeonEnd {
            lit: point.lamps[element] != NeonState::Dark,
            volts: point.volts[first] - point.volts[second],
            amps: network
                .element_amps(element, &point.volts, &point.lamps)
                .amps[0],
        })
    });
    Some(found.collect::<Vec<_>>()).filter(|ends| !ends.is_empty())
}
