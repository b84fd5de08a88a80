//! Opens blocks and arrays: every circuit in its place, on its nets.

use crate::block::Content;
use crate::kinds::Kinds;
use crate::model::{
    BlockId, CircuitId, Net, NetId, NetKind, Place, PlacedBlock, RailId, Unit, UnitId,
};
use crate::places::{self, Cursor, Sockets, Wish};
use crate::placing::{Places, Placing, What, Wire};
use crate::problems::Problems;
use crate::rails::Rails;
use devices::types::Section;
use std::collections::HashMap;
use text::source::Span;

/// Nets by name, in order of first mention; ground and the rails stand first.
#[derive(Debug)]
pub(crate) struct Nets {
    /// All of them.
    pub(crate) list: Vec<Net>,
    by_name: HashMap<String, NetId>,
}

impl Nets {
    fn new(rails: &Rails, start: Span) -> Self {
        let mut nets = Self {
            list: Vec::new(),
            by_name: HashMap::new(),
        };
        nets.add("ground".to_owned(), NetKind::Ground, start);
        for (index, rail) in rails.list.iter().enumerate() {
            nets.add(rail.name.clone(), NetKind::Rail(RailId(index)), rail.span);
        }
        nets
    }

    fn add(&mut self, name: String, kind: NetKind, span: Span) -> NetId {
        let id = NetId(self.list.len());
        self.by_name.insert(name.clone(), id);
        self.list.push(Net {
            name,
            kind,
            span,
            open: false,
        });
        id
    }

    /// The net of a name.
    pub(crate) fn find(&self, name: &str) -> Option<NetId> {
        self.by_name.get(name).copied()
    }

    /// The net of a name, made where it is first mentioned.
    fn mention(&mut self, name: &str, span: Span) -> NetId {
        self.find(name)
            .unwrap_or_else(|| self.add(name.to_owned(), NetKind::Signal, span))
    }
}

/// The machine with everything opened.
#[derive(Debug)]
pub(crate) struct Opened {
    /// Nets.
    pub(crate) nets: Nets,
    /// Units.
    pub(crate) units: Vec<Unit>,
    /// Where the net of each signal of each unit is written.
    pub(crate) wire_spans: Vec<Vec<Span>>,
    /// Placed blocks.
    pub(crate) placed_blocks: Vec<PlacedBlock>,
    /// Sockets.
    pub(crate) sockets: Sockets,
    /// For each net whether something with a fault is on it, so that what drives it is not known in full.
    pub(crate) doubtful: Vec<bool>,
}

/// Opens the placings of the machine. They must not be more than [`crate::placing::MOST_UNITS`] when opened.
pub(crate) fn open(
    placings: &[Placing],
    contents: &[Content],
    kinds: &Kinds,
    rails: &Rails,
    start: Span,
    problems: &mut Problems,
) -> Opened {
    let opened = Opened {
        nets: Nets::new(rails, start),
        units: Vec::new(),
        wire_spans: Vec::new(),
        placed_blocks: Vec::new(),
        sockets: Sockets::default(),
        doubtful: Vec::new(),
    };
    let mut opener = Opener {
        contents,
        kinds,
        opened,
        problems,
    };
    let scope = Scope {
        prefix: String::new(),
        signals: HashMap::new(),
        tubes_before: Some(0),
        within: None,
    };
    for placing in placings {
        opener.placing(placing, &scope);
    }
    opener
        .opened
        .doubtful
        .resize(opener.opened.nets.list.len(), false);
    opener.opened
}

/// Where names are looked up: the machine itself, or a block in its place.
struct Scope<'b> {
    /// Put before the name of everything inside: `borrow.`
    prefix: String,
    /// Nets of the signals of the block.
    signals: HashMap<&'b str, NetId>,
    /// How many tubes stand before tube 1 of the block; `None` when the block was given no tubes.
    tubes_before: Option<u32>,
    /// The placed block.
    within: Option<usize>,
}

struct Opener<'a> {
    contents: &'a [Content],
    kinds: &'a Kinds,
    opened: Opened,
    problems: &'a mut Problems,
}

/// A unit of an array or a single unit.
struct Member<'p> {
    placing: &'p Placing,
    name: String,
    /// Its number in the array, and counted from 0.
    number: Option<u32>,
    index: u32,
}

impl Opener<'_> {
    fn placing(&mut self, placing: &Placing, scope: &Scope) {
        for wire in &placing.strays {
            self.stray(wire, placing, scope);
        }
        let mut cursor = match placing.places {
            Places::From(mark, _) => Some(Cursor::new(mark)),
            _ => None,
        };
        for index in 0..placing.count() {
            let number = placing.numbers.map(|(first, _)| first + index);
            let name = match number {
                Some(number) => format!("{}{}.{number}", scope.prefix, placing.name),
                None => format!("{}{}", scope.prefix, placing.name),
            };
            let member = Member {
                placing,
                name,
                number,
                index,
            };
            match placing.what {
                Some(What::Circuit(circuit)) => self.unit(&member, circuit, &mut cursor, scope),
                Some(What::Block(block)) => self.block(&member, block, scope),
                None => {
                    for wire in placing.wires.iter().flatten() {
                        self.stray(wire, placing, scope);
                    }
                }
            }
        }
    }

    fn stray(&mut self, wire: &Wire, placing: &Placing, scope: &Scope) {
        let (first, last) = placing.numbers.unwrap_or((0, 0));
        for number in first..=last {
            let member = Member {
                placing,
                name: String::new(),
                number: Some(number),
                index: 0,
            };
            if let Some(net) = self.net(wire, &member, "", scope) {
                self.doubt(net);
            }
        }
    }

    fn doubt(&mut self, net: NetId) {
        let doubtful = &mut self.opened.doubtful;
        if doubtful.len() <= net.0 {
            doubtful.resize(net.0 + 1, false);
        }
        doubtful[net.0] = true;
    }

    /// The net that a wire names; `None` only where a fault is reported.
    fn net(&mut self, wire: &Wire, member: &Member, signal: &str, scope: &Scope) -> Option<NetId> {
        match wire {
            Wire::Net { name, span } => Some(self.named(name, *span, scope)),
            Wire::Numbered { name, step, span } => {
                let number = i64::from(member.number.unwrap_or(0)) + step;
                if number < 0 {
                    let message = format!("`{name} before` of unit 0 would be number -1");
                    self.problems.fault(
                        "no-number-before",
                        *span,
                        message,
                        "Let the array begin with 1.",
                    );
                    return None;
                }
                Some(self.named(&format!("{name}.{number}"), *span, scope))
            }
            Wire::Open { span } if !member.name.is_empty() => {
                let net = self
                    .opened
                    .nets
                    .mention(&format!("{}.{signal}", member.name), *span);
                self.opened.nets.list[net.0].open = true;
                Some(net)
            }
            Wire::Open { .. } => None,
        }
    }

    fn named(&mut self, name: &str, span: Span, scope: &Scope) -> NetId {
        if let Some(net) = scope.signals.get(name) {
            return *net;
        }
        match self
            .opened
            .nets
            .find(name)
            .filter(|net| self.opened.nets.list[net.0].kind != NetKind::Signal)
        {
            Some(supply) => supply,
            None => self
                .opened
                .nets
                .mention(&format!("{}{name}", scope.prefix), span),
        }
    }

    /// The net of every signal, and where it is written; one that was not said is a net of its own, and doubtful.
    fn nets(
        &mut self,
        member: &Member,
        signals: &[String],
        scope: &Scope,
    ) -> (Vec<NetId>, Vec<Span>) {
        let mut nets = Vec::with_capacity(signals.len());
        let mut spans = Vec::with_capacity(signals.len());
        for (index, signal) in signals.iter().enumerate() {
            let wire = member.placing.wires.get(index).and_then(Option::as_ref);
            let net = wire.and_then(|wire| self.net(wire, member, signal, scope));
            let span = wire.map_or(member.placing.name_span, Wire::span);
            spans.push(span);
            nets.push(net.unwrap_or_else(|| {
                let net = self
                    .opened
                    .nets
                    .mention(&format!("{}.{signal}", member.name), span);
                self.doubt(net);
                net
            }));
        }
        (nets, spans)
    }

    fn unit(
        &mut self,
        member: &Member,
        circuit: CircuitId,
        cursor: &mut Option<Cursor>,
        scope: &Scope,
    ) {
        let kinds = self.kinds;
        let (nets, spans) = self.nets(member, &kinds.circuits[circuit.0].interface.signals, scope);
        let id = UnitId(self.opened.units.len());
        let places = self.places(member, circuit, id, cursor, scope);
        self.opened.units.push(Unit {
            name: member.name.clone(),
            circuit,
            nets,
            places,
            within: scope.within,
            span: member.placing.span,
        });
        self.opened.wire_spans.push(spans);
    }

    /// The places of the unit's tubes; none when neither it nor, inside a block, the block is given any.
    fn places(
        &mut self,
        member: &Member,
        id: CircuitId,
        unit: UnitId,
        cursor: &mut Option<Cursor>,
        scope: &Scope,
    ) -> Vec<Place> {
        let circuit = &self.kinds.circuits[id.0];
        let wanted: Vec<((u32, Section), Span)> = match (&member.placing.places, cursor) {
            (Places::In(list), _) => {
                let tubes = circuit.tubes().count();
                let own = list.iter().skip(member.index as usize * tubes).take(tubes);
                own.map(|(mark, span)| ((mark.number, mark.section.unwrap_or(Section::A)), *span))
                    .collect()
            }
            (Places::From(_, span), Some(cursor)) => places::next_places(circuit, cursor)
                .into_iter()
                .map(|place| (place, *span))
                .collect(),
            _ => return Vec::new(),
        };
        let Some(before) = scope.tubes_before else {
            return Vec::new();
        };
        let mut taken = Vec::with_capacity(wanted.len());
        for (index, ((_, tube), ((number, section), span))) in
            circuit.tubes().zip(wanted).enumerate()
        {
            let place = (number.saturating_add(before), section);
            let wish = Wish {
                device: &tube.device,
                place,
                part: (unit, index),
                span,
            };
            taken.push(self.opened.sockets.take(&wish, self.problems));
        }
        taken
    }

    fn block(&mut self, member: &Member, block: BlockId, scope: &Scope) {
        let (kinds, contents) = (self.kinds, self.contents);
        let content = &contents[block.0];
        let interface = &kinds.blocks[block.0].interface;
        let (nets, _) = self.nets(member, &interface.signals, scope);
        if !content.can_open() {
            nets.iter().for_each(|net| self.doubt(*net));
            return;
        }
        let first_unit = self.opened.units.len();
        let within = self.opened.placed_blocks.len();
        self.opened.placed_blocks.push(PlacedBlock {
            name: member.name.clone(),
            block,
            nets: nets.clone(),
            units: Vec::new(),
            span: member.placing.span,
        });
        let inner = Scope {
            prefix: format!("{}.", member.name),
            signals: interface
                .signals
                .iter()
                .map(String::as_str)
                .zip(nets)
                .collect(),
            tubes_before: self.tubes_before(member, content, scope),
            within: Some(within),
        };
        for placing in &content.placings {
            self.placing(placing, &inner);
        }
        self.opened.placed_blocks[within].units =
            (first_unit..self.opened.units.len()).map(UnitId).collect();
    }

    fn tubes_before(&mut self, member: &Member, content: &Content, scope: &Scope) -> Option<u32> {
        let Places::From(mark, span) = member.placing.places else {
            return None;
        };
        if content.tubes == 0 {
            let message =
                "the units inside this block name no tubes, so nothing is placed from here on";
            self.problems.caution(
                "nothing-to-place",
                span,
                message,
                "Write `in V1A` and so on at the units inside the block.",
            );
        }
        if mark.section.is_some() {
            let message = "a block begins with a whole tube";
            self.problems.fault(
                "place-of-half",
                span,
                message,
                "Leave the letter of the half out.",
            );
        }
        let before = scope.tubes_before?.saturating_add(mark.number - 1);
        Some(before.saturating_add(member.index.saturating_mul(content.tubes)))
    }
}
