//! `tube V1 half 6922: plate y, grid g1, cathode ground`

use crate::circuit::Builder;
use crate::model::{Circuit, Part, PartKind, TubePart};
use crate::problems::{Problems, listing};
use crate::values::check_letters;
use crate::words::{self, Words};
use devices::library::Library;
use devices::types::{Electrode, TubeKind, TubeType};
use std::sync::Arc;
use text::diagnostic::Diagnostic;
use text::source::Span;
use text::tree::{Phrase, Statement, Word};

const FORM: &str = "tube V1 half 6922: plate y, grid g1, cathode ground";

/// Electrodes a part can be connected by.
const ELECTRODES: [&str; 6] = [
    "plate",
    "grid",
    "screen",
    "suppressor",
    "cathode",
    "filament",
];

/// Whether the filament is the cathode.
fn directly_heated(device: &TubeType) -> bool {
    device.kind == TubeKind::IndicatorTriode
        || device.heater.as_ref().is_some_and(|heater| heater.direct)
}

/// What an electrode is to a type.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Standing {
    /// The tube has none, or it is tied inside.
    Absent,
    /// Needs a net.
    Needed,
    /// May be given a net: the type does not say whether it is tied inside.
    Optional,
}

fn standing(device: &TubeType, word: &str) -> Standing {
    let needed = |needed| {
        if needed {
            Standing::Needed
        } else {
            Standing::Absent
        }
    };
    match word {
        "plate" => Standing::Needed,
        "grid" => needed(device.kind != TubeKind::Diode),
        "screen" => needed(matches!(device.kind, TubeKind::Tetrode | TubeKind::Pentode)),
        "suppressor" if device.kind == TubeKind::Pentode => match &device.base {
            Some(base) => needed(
                base.pins
                    .iter()
                    .any(|pin| pin.electrode == Electrode::Suppressor),
            ),
            None => Standing::Optional,
        },
        "cathode" => needed(!directly_heated(device)),
        "filament" => needed(directly_heated(device)),
        _ => Standing::Absent,
    }
}

/// The electrodes that need a net, as the language names them.
pub(crate) fn needed(device: &TubeType) -> Vec<&'static str> {
    ELECTRODES
        .into_iter()
        .filter(|word| standing(device, word) == Standing::Needed)
        .collect()
}

/// Reads a `tube` line. False when something in it was not understood.
pub(crate) fn read(
    line: &Statement,
    library: &Library,
    builder: &mut Builder,
    problems: &mut Problems,
) -> bool {
    let (head, phrases) = match (&line.body, line.head.split_first()) {
        (Some(body), _) => (line.head.as_slice(), body.as_slice()),
        (None, Some((first, rest))) => (std::slice::from_ref(first), rest),
        (None, None) => return false,
    };
    let mut words = Words::of(head, FORM);
    words.next();
    let Some(mark) = words.want("the mark of the tube", problems) else {
        return false;
    };
    let named = words::check_name(mark, problems);
    if named {
        check_letters(mark, &["V"], "tube", problems);
    }
    let half = words.take("half");
    let Some(type_name) = words.want("a tube type", problems) else {
        return false;
    };
    words.finish(problems);
    let device = find_type(type_name, library, problems);
    let halved = device
        .as_ref()
        .is_none_or(|device| check_half(half, type_name, device, problems));
    let nets = electrodes(phrases, device.as_deref(), builder, problems);
    let (Some(device), Some(nets), true) = (device, nets, named && halved) else {
        return false;
    };
    let Some(kind) = assemble(&device, &nets, type_name, problems) else {
        return false;
    };
    let part = Part {
        mark: mark.text.clone(),
        kind,
        span: line.span,
        value_span: type_name.span,
    };
    builder.part(mark, part, problems);
    true
}

/// The tube type of a name, or a fault.
pub(crate) fn find_type(
    word: &Word,
    library: &Library,
    problems: &mut Problems,
) -> Option<Arc<TubeType>> {
    let device = library.tube(&word.text);
    if device.is_none() {
        let also = library
            .tubes
            .iter()
            .flat_map(|known| known.also.iter().map(String::as_str));
        let names = library
            .tubes
            .iter()
            .map(|known| known.name.as_str())
            .chain(also);
        problems.unknown(
            "unknown-type",
            word,
            "tube type",
            names,
            "Write a `type` statement for it.",
        );
    }
    device.cloned()
}

fn check_half(
    half: Option<&Word>,
    type_name: &Word,
    device: &TubeType,
    problems: &mut Problems,
) -> bool {
    match (half, device.sections) {
        (None, 2) => {
            let message = format!("`{}` is a twin, and a part is one half of it", device.name);
            let remedy = format!(
                "Write `half {}`, and a second part for the other half.",
                type_name.text
            );
            problems.fault("whole-of-twin", type_name.span, message, remedy);
            false
        }
        (Some(word), 1) => {
            let message = format!("`{}` is a single tube and has no halves", device.name);
            problems.fault(
                "half-of-single",
                word.span.to(type_name.span),
                message,
                "Leave `half` out.",
            );
            false
        }
        _ => true,
    }
}

/// The node of each electrode, in the order of [`ELECTRODES`].
type Nets = [Option<usize>; ELECTRODES.len()];

/// Reads `plate y, grid g1, cathode ground`; `None` when a phrase was not understood.
fn electrodes(
    phrases: &[Phrase],
    device: Option<&TubeType>,
    builder: &mut Builder,
    problems: &mut Problems,
) -> Option<Nets> {
    let mut nets = Nets::default();
    let mut places: [Option<Span>; ELECTRODES.len()] = [None; ELECTRODES.len()];
    let mut sound = true;
    for phrase in phrases {
        let mut words = Words::phrase(phrase, FORM);
        let Some(electrode) = words.next() else {
            continue;
        };
        let net = words
            .want("a net", problems)
            .and_then(|word| builder.node(word, problems));
        words.finish(problems);
        let index = electrode_index(electrode, device, problems);
        let (Some(index), Some(net)) = (index, net) else {
            sound = false;
            continue;
        };
        if let Some(first) = places[index] {
            let message = format!("`{}` is given two nets", electrode.text);
            let problem = Diagnostic::fault("electrode-twice", electrode.span, message)
                .remedy("Keep one of them.");
            problems.push(problem.related(first, "first given here"));
            sound = false;
            continue;
        }
        places[index] = Some(electrode.span);
        nets[index] = Some(net);
    }
    sound.then_some(nets)
}

fn electrode_index(
    word: &Word,
    device: Option<&TubeType>,
    problems: &mut Problems,
) -> Option<usize> {
    let name = if word.text == "anode" {
        "plate"
    } else {
        word.text.as_str()
    };
    let Some(index) = ELECTRODES.iter().position(|known| *known == name) else {
        problems.unknown(
            "unknown-electrode",
            word,
            "electrode",
            ELECTRODES,
            &format!("The form is `{FORM}`."),
        );
        return None;
    };
    let Some(device) = device.filter(|device| standing(device, name) == Standing::Absent) else {
        return Some(index);
    };
    let message = format!("a {} has no {name} on a pin", device.name);
    problems.fault(
        "electrode-absent",
        word.span,
        message,
        format!("Connect its {}.", listing(&needed(device))),
    );
    None
}

/// The part, or a fault that names the electrodes without a net.
fn assemble(
    device: &Arc<TubeType>,
    nets: &Nets,
    type_name: &Word,
    problems: &mut Problems,
) -> Option<PartKind> {
    let given = |word: &str| {
        ELECTRODES
            .iter()
            .position(|known| *known == word)
            .and_then(|index| nets[index])
    };
    let missing: Vec<&str> = needed(device)
        .into_iter()
        .filter(|word| given(word).is_none())
        .collect();
    if !missing.is_empty() {
        let message = format!(
            "this {} has no net for its {}",
            device.name,
            listing(&missing)
        );
        problems.fault(
            "electrode-missing",
            type_name.span,
            message,
            "Add the electrode and its net after the colon.",
        );
        return None;
    }
    Some(PartKind::Tube(TubePart {
        device: device.clone(),
        plate: given("plate")?,
        grid: given("grid"),
        screen: given("screen"),
        suppressor: given("suppressor"),
        cathode: given("cathode").or_else(|| given("filament"))?,
    }))
}

/// The circuit with another tube type in its places; `None`, with a fault, when the type does not fit them.
pub(crate) fn with_type(
    circuit: &Circuit,
    device: &Arc<TubeType>,
    word: &Word,
    problems: &mut Problems,
) -> Option<Circuit> {
    let mut variant = circuit.clone();
    variant.name = format!("{} with {}", circuit.name, device.name);
    for part in &mut variant.parts {
        let PartKind::Tube(tube) = &mut part.kind else {
            continue;
        };
        let same =
            needed(&tube.device) == needed(device) && tube.device.sections == device.sections;
        if !same {
            let message = format!(
                "a {} does not fit where `{}` has a {}: its electrodes or halves differ",
                device.name, circuit.name, tube.device.name
            );
            problems.push(
                Diagnostic::fault("type-does-not-fit", word.span, message)
                    .remedy("Choose a type with the same electrodes, or write a circuit for it.")
                    .related(part.span, "the tube of the circuit"),
            );
            return None;
        }
        tube.device = device.clone();
    }
    Some(variant)
}
