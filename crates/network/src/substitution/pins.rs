//! Two types on one socket, pin by pin.

use super::Reason;
use devices::types::{Electrode, Pin, Section, TubeType};
use text::diagnostic::Severity;

/// What a pin leads to, of which half.
pub type Lead = (Electrode, Option<Section>);

/// A pin that leads elsewhere in the other type; `None` where the base has no such pin.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PinChange {
    /// Number, seen from below.
    pub pin: u8,
    /// In the type in place.
    pub old: Option<Lead>,
    /// In the type tried.
    pub new: Option<Lead>,
    /// How much it matters.
    pub severity: Severity,
}

/// The pins that differ; `tapped`: the heater is wired by its tap.
#[must_use]
pub fn pin_changes(old: &TubeType, new: &TubeType, tapped: bool) -> Vec<PinChange> {
    let (Some(old), Some(new)) = (&old.base, &new.base) else {
        return Vec::new();
    };
    let lead = |pins: &[Pin], number: u8| {
        let pin = pins.iter().find(|pin| pin.number == number);
        pin.map(|pin| (pin.electrode, pin.section))
    };
    let mut numbers: Vec<u8> = old
        .pins
        .iter()
        .chain(&new.pins)
        .map(|pin| pin.number)
        .collect();
    numbers.sort_unstable();
    numbers.dedup();
    let both = |number: u8| (lead(&old.pins, number), lead(&new.pins, number));
    let exchanged = numbers.iter().all(|&number| {
        let (old, new) = both(number);
        old.map(exchanged) == new
    });
    let change = |number| {
        let (old, new) = both(number);
        (old != new).then(|| PinChange {
            pin: number,
            old,
            new,
            severity: if exchanged {
                Severity::Caution
            } else {
                matters(old, new, tapped)
            },
        })
    };
    numbers
        .iter()
        .filter_map(|&number| change(number))
        .collect()
}

/// The same of the other half.
fn exchanged((electrode, section): Lead) -> Lead {
    let other = section.map(|section| match section {
        Section::A => Section::B,
        Section::B => Section::A,
    });
    (electrode, other)
}

fn matters(old: Option<Lead>, new: Option<Lead>, tapped: bool) -> Severity {
    let electrode = |lead: Option<Lead>| lead.map_or(Electrode::Free, |lead| lead.0);
    match (electrode(old), electrode(new)) {
        (Electrode::Free, Electrode::Free) => Severity::Note,
        // Nothing that the tube needs is on it, so only what the wiring does with it counts.
        (Electrode::Free | Electrode::Shield, _) => Severity::Caution,
        (Electrode::HeaterTap, _) if !tapped => Severity::Caution,
        _ => Severity::Fault,
    }
}

/// What the pins mean, as reasons.
pub(super) fn reasons(old: &TubeType, new: &TubeType, pins: &[PinChange]) -> Vec<Reason> {
    let (Some(old_base), Some(new_base)) = (&old.base, &new.base) else {
        let unknown = if new.base.is_none() { new } else { old };
        return vec![Reason {
            severity: Severity::Caution,
            text: format!(
                "The base of a {} is not known: compare the pins on its sheet.",
                unknown.name
            ),
        }];
    };
    let of = |severity| -> Vec<String> {
        let pins = pins.iter().filter(|pin| pin.severity == severity);
        pins.map(|pin| pin.pin.to_string()).collect()
    };
    let bases = if old_base.name == new_base.name {
        format!("base {}", old_base.name)
    } else {
        format!("bases {} and {}", old_base.name, new_base.name)
    };
    let mut reasons = Vec::new();
    for severity in [Severity::Fault, Severity::Caution] {
        let numbers = of(severity);
        let (pin, lead, differ) = match numbers.len() {
            0 => continue,
            1 => ("pin", "leads", "differs"),
            _ => ("pins", "lead", "differ"),
        };
        let say = match severity {
            Severity::Fault => format!("{lead} elsewhere"),
            _ => format!(
                "{differ}, but the wiring may leave free what differs: look what is soldered there"
            ),
        };
        reasons.push(Reason {
            severity,
            text: format!("Of {bases}, {pin} {} {say}.", numbers.join(", ")),
        });
    }
    if reasons.is_empty() {
        reasons.push(Reason {
            severity: Severity::Note,
            text: format!("The pins are the same ({bases})."),
        });
    }
    reasons
}
