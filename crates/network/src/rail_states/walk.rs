//! A state of the machine that is being changed: nets turned over, and what follows from it.

use super::{Machine, SAME_AMPS, Unit, key};
use crate::plan::{MemberIndex, NetIndex};
use std::collections::VecDeque;

/// Nets to set up to which pairs are turned over as well: chosen, their number grows with the square.
const IN_PAIRS: usize = 32;
/// Looks for each unit until the logic must have come to rest: chosen, deeper than any chain of gates in a loop.
const LOOKS_TO_REST: usize = 64;

/// Numbers by lot, the same in every run: the splitmix64 step (Steele, Lea and Flood, OOPSLA 2014).
pub(super) struct Lot(pub(super) u64);

impl Lot {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut bits = self.0;
        bits = (bits ^ (bits >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        bits = (bits ^ (bits >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        bits ^ (bits >> 31)
    }
}

/// A state that is being changed.
pub(super) struct Walk<'a> {
    machine: &'a Machine,
    pub(super) values: Vec<bool>,
    /// Nets whose drivers are not asked.
    held: Vec<bool>,
    queue: VecDeque<MemberIndex>,
    queued: Vec<bool>,
    /// What was changed, with the value before.
    changed: Vec<(NetIndex, bool)>,
    /// Units looked at.
    pub(super) looks: u64,
}

impl<'a> Walk<'a> {
    pub(super) fn new(machine: &'a Machine) -> Self {
        let fixed = machine.fixed.iter();
        Self {
            machine,
            values: fixed.map(|value| value.unwrap_or(false)).collect(),
            held: vec![false; machine.fixed.len()],
            queue: VecDeque::new(),
            queued: vec![false; machine.units.len()],
            changed: Vec::new(),
            looks: 0,
        }
    }

    pub(super) fn total(&self, rail: usize) -> f64 {
        let units = self.machine.units.iter();
        units.map(|unit| self.given(unit, rail)).sum()
    }

    fn given(&self, unit: &Unit, rail: usize) -> f64 {
        let variant = unit.variant(&self.values);
        variant.map_or(unit.least[rail], |variant| variant.given[rail])
    }

    fn ask(&mut self, members: &[MemberIndex]) {
        for &member in members {
            if !std::mem::replace(&mut self.queued[member], true) {
                self.queue.push_back(member);
            }
        }
    }

    fn ask_all(&mut self) {
        let all: Vec<MemberIndex> = (0..self.machine.units.len()).collect();
        self.ask(&all);
    }

    fn set(&mut self, net: NetIndex, up: bool) {
        if self.machine.fixed[net].is_none() && self.values[net] != up {
            self.changed.push((net, self.values[net]));
            self.values[net] = up;
            let machine = self.machine;
            self.ask(&machine.loads[net]);
        }
    }

    /// Lets the logic follow until it rests; false when it does not, or a unit has no output that its sentence allows.
    fn rest(&mut self) -> bool {
        let mut left = LOOKS_TO_REST * (self.queue.len() + self.machine.units.len());
        let mut rests = true;
        while let Some(member) = self.queue.pop_front() {
            self.queued[member] = false;
            self.looks += 1;
            left = left.saturating_sub(1);
            rests = rests && 0 < left && self.follow(member);
            if !rests {
                // What still waits is not asked any more.
                for member in std::mem::take(&mut self.queue) {
                    self.queued[member] = false;
                }
            }
        }
        rests
    }

    /// Brings the outputs of a unit to the allowed ones that are nearest; what is held stays.
    fn follow(&mut self, member: MemberIndex) -> bool {
        let machine = self.machine;
        let unit = &machine.units[member];
        let inputs = key(unit.inputs.iter().map(|&net| self.values[net]));
        let Some(rows) = machine.permitted[unit.circuit].get(&inputs) else {
            return true;
        };
        let differs = |row: &&Vec<Option<bool>>| {
            let pins = row.iter().zip(&unit.outputs);
            let wrong = pins.filter(|(up, net)| up.is_some_and(|up| self.values[**net] != up));
            wrong.fold((0, 0), |(held, all), (_, net)| {
                (held + usize::from(self.held[*net]), all + 1)
            })
        };
        let Some(row) = rows.iter().min_by_key(differs) else {
            return false;
        };
        for (up, &net) in row.iter().zip(&unit.outputs) {
            if let (Some(up), false) = (*up, self.held[net]) {
                self.set(net, up);
            }
        }
        true
    }

    /// Puts what can be set at the bits of a number; whether that is a state that the sentences allow.
    pub(super) fn is_state(&mut self, bits: u64) -> bool {
        let machine = self.machine;
        for (place, &net) in machine.settable.iter().enumerate() {
            self.set(net, bits >> place & 1 == 1);
            self.held[net] = true;
        }
        self.ask_all();
        let rests = self.rest();
        self.held.fill(false);
        self.changed.clear();
        self.ask_all();
        // Whatever still moves shows that what was held is not what its driver says.
        rests && self.rest() && self.changed.is_empty()
    }

    /// Begins at a state: all down, all up, or by lot.
    pub(super) fn begin(&mut self, start: usize, lot: &mut Lot) -> bool {
        for net in 0..self.values.len() {
            let up = match start {
                0 => false,
                1 => true,
                _ => lot.next() & 1 == 1,
            };
            self.set(net, up);
        }
        self.ask_all();
        let rests = self.rest();
        self.changed.clear();
        rests
    }

    /// Turns one net over and lets everything follow: the net held at first, so that a loop takes the new value up.
    fn turn(&mut self, net: NetIndex) -> bool {
        let machine = self.machine;
        self.set(net, !self.values[net]);
        self.held[net] = true;
        self.ask(&machine.drivers[net]);
        let rests = self.rest();
        self.held[net] = false;
        if !rests {
            return false;
        }
        self.ask(&machine.drivers[net]);
        self.rest()
    }

    /// Takes back everything since the last step that was kept.
    fn undo(&mut self) {
        while let Some((net, before)) = self.changed.pop() {
            self.values[net] = before;
        }
    }

    /// Turns over what can be set, one by one and then in pairs, and keeps what gives more.
    pub(super) fn climb(&mut self, rail: usize, sign: f64, most_looks: u64) {
        let settable = &self.machine.settable;
        let mut moves: Vec<Vec<NetIndex>> = settable.iter().map(|&net| vec![net]).collect();
        if settable.len() <= IN_PAIRS {
            for (place, &first) in settable.iter().enumerate() {
                moves.extend(settable[..place].iter().map(|&second| vec![first, second]));
            }
        }
        let units = self.machine.units.iter();
        let mut given: Vec<f64> = units.map(|unit| self.given(unit, rail)).collect();
        let mut improved = true;
        while improved {
            improved = false;
            for nets in &moves {
                if most_looks <= self.looks {
                    return;
                }
                let rests = nets.iter().all(|&net| self.turn(net));
                let now = self.moved(&given, rail);
                let more: f64 = now.iter().map(|&(unit, amps)| amps - given[unit]).sum();
                if rests && SAME_AMPS < sign * more {
                    for (unit, amps) in now {
                        given[unit] = amps;
                    }
                    self.changed.clear();
                    improved = true;
                } else {
                    self.undo();
                }
            }
        }
    }

    /// Units whose current is no longer what it was, with what it is.
    fn moved(&mut self, given: &[f64], rail: usize) -> Vec<(MemberIndex, f64)> {
        let nets = self.changed.iter().map(|change| change.0);
        let mut units: Vec<MemberIndex> = nets
            .flat_map(|net| self.machine.watchers[net].iter().copied())
            .collect();
        units.sort_unstable();
        units.dedup();
        self.looks += units.len() as u64;
        let now = units.into_iter().map(|unit| {
            let amps = self.given(&self.machine.units[unit], rail);
            (unit, amps)
        });
        now.filter(|&(unit, amps)| amps != given[unit]).collect()
    }
}
