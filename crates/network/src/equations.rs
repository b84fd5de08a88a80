//! From a wiring to its equations: modified nodal equations with ideal sources and closed switches eliminated.
//!
//! Ties (ideal sources, closed switches, windings without resistance) join nodes into *groups* whose members differ by
//! fixed volts. The group of ground is known; every other group is one unknown, the volts of its first node against
//! ground, and one equation, the sum of the currents that leave it (Kirchhoff). A small leak from every unknown to
//! ground keeps the matrix regular where nothing else does.

use crate::element::{Behaviour, PartValues, Stamp, TerminalAmps, TerminalSlopes};
use crate::wiring::{Element, ElementIndex, ElementKind, GROUND, NodeIndex, Wiring};
use devices::neon::NeonState;
use numerics::lanes::Lanes;
use numerics::lanes::select::{Task, fused};
use numerics::lu::{Analysis, analyse};
use numerics::newton::{Equations, Values};
use numerics::sparse::Pattern;
use std::collections::VecDeque;

/// Ties that contradict one another: two sources, or a source and a closed switch, across the same nodes.
#[derive(Debug, Clone, PartialEq)]
pub struct Clash {
    /// The tie that closes the ring.
    pub element: ElementIndex,
    /// Volts it demands.
    pub wanted: f64,
    /// Volts that the others already give.
    pub given: f64,
}

/// A wiring with its equations analysed: pattern, order of elimination, and where each derivative goes.
#[derive(Debug, Clone)]
pub struct Network {
    /// What it was made from; values of parts may be changed in place, the structure may not.
    pub wiring: Wiring,
    /// Sparsity of the Jacobian.
    pub pattern: Pattern,
    /// Order of elimination.
    pub analysis: Analysis,
    leak_siemens: f64,
    /// Unknown of each node; `None` for nodes tied to ground.
    unknown: Vec<Option<usize>>,
    /// Volts of each node over the first node of its group.
    offset: Vec<f64>,
    /// First node of each unknown's group.
    first: Vec<NodeIndex>,
    /// Ties that join, in the order from the first node outwards: (tie, node nearer the first, node further).
    tree: Vec<(ElementIndex, NodeIndex, NodeIndex)>,
    /// For each element, positions of its derivatives in the Jacobian: row-major, `usize::MAX` where there is none.
    slots: Vec<[[usize; 5]; 5]>,
    diagonal: Vec<usize>,
    /// The elements that carry current at rest.
    pub(crate) places: Vec<Place>,
    /// Index in `places` of each element that has one.
    place_by_element: Vec<Option<usize>>,
    /// The values of each of these.
    pub(crate) values: Vec<PartValues>,
    /// What each of these does.
    pub(crate) behaviours: Vec<Behaviour>,
}

/// Where an element that carries current at rest stands in the equations.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Place {
    /// Its element.
    pub element: ElementIndex,
    /// How many terminals.
    terminals: usize,
    nodes: [NodeIndex; 5],
    /// Unknown of each terminal, [`NO_SLOT`] where it is tied to ground.
    unknowns: [usize; 5],
}

const NO_SLOT: usize = usize::MAX;

/// Ties may disagree by this much in a ring before they clash; chosen, far above rounding and far below any level.
const TIE_TOLERANCE_VOLTS: f64 = 1e-9;

impl Network {
    /// Builds the equations. `leak_siemens` goes from every unknown to ground.
    ///
    /// # Errors
    /// When ties contradict one another.
    pub fn new(wiring: Wiring, leak_siemens: f64) -> Result<Self, Clash> {
        let (tree, root) = tie_tree(&wiring)?;
        let mut unknown = vec![None; wiring.nodes.len()];
        let mut first = Vec::new();
        for node in 0..wiring.nodes.len() {
            if root[node] == node && node != GROUND {
                unknown[node] = Some(first.len());
                first.push(node);
            }
        }
        for node in 0..wiring.nodes.len() {
            unknown[node] = unknown[root[node]];
        }
        let entries: Vec<(usize, usize)> = wiring
            .elements
            .iter()
            .filter(|element| !matches!(element.kind, ElementKind::Tie { .. }))
            .flat_map(|element| {
                let terminals = element.kind.terminals();
                let unknowns: Vec<usize> = terminals
                    .as_slice()
                    .iter()
                    .filter_map(|&node| unknown[node])
                    .collect();
                unknowns
                    .iter()
                    .flat_map(|&row| unknowns.iter().map(move |&column| (row, column)))
                    .collect::<Vec<_>>()
            })
            .collect();
        let pattern = Pattern::from_entries(first.len(), &entries);
        let slots: Vec<_> = wiring
            .elements
            .iter()
            .map(|element| element_slots(&element.kind, &unknown, &pattern))
            .collect();
        let (places, values): (Vec<Place>, Vec<PartValues>) = wiring
            .elements
            .iter()
            .enumerate()
            .filter_map(|(element, Element { kind, .. })| {
                let place = place(element, kind, &unknown);
                Some((place, PartValues::of(kind)?))
            })
            .unzip();
        let mut place_by_element = vec![None; wiring.elements.len()];
        for (index, place) in places.iter().enumerate() {
            place_by_element[place.element] = Some(index);
        }
        let diagonal = (0..first.len())
            .map(|index| {
                pattern
                    .position(index, index)
                    .expect("the diagonal is always present")
            })
            .collect();
        let analysis = analyse(&pattern);
        let mut network = Self {
            offset: vec![0.0; wiring.nodes.len()],
            wiring,
            pattern,
            analysis,
            leak_siemens,
            unknown,
            first,
            tree,
            slots,
            diagonal,
            places,
            place_by_element,
            behaviours: values.iter().map(Behaviour::new).collect(),
            values,
        };
        network.place_offsets();
        Ok(network)
    }

    /// Number of unknowns.
    #[must_use]
    pub fn size(&self) -> usize {
        self.first.len()
    }

    /// The unknown of a node; `None` when it is tied to ground.
    #[must_use]
    pub fn unknown_of(&self, node: NodeIndex) -> Option<usize> {
        self.unknown[node]
    }

    /// Name of an unknown: the first node of its group.
    #[must_use]
    pub fn unknown_name(&self, unknown: usize) -> &str {
        &self.wiring.nodes[self.first[unknown]].name
    }

    /// Changes the volts of a tie.
    ///
    /// # Panics
    /// When the element is not a tie.
    pub fn set_tie(&mut self, element: ElementIndex, new_volts: f64) {
        self.set_tie_volts(element, new_volts);
        self.place_offsets();
    }

    fn set_tie_volts(&mut self, element: ElementIndex, new_volts: f64) {
        match &mut self.wiring.elements[element].kind {
            ElementKind::Tie { volts, .. } => *volts = new_volts,
            other => panic!("only ties have volts to set, not {other:?}"),
        }
    }

    /// Volts of every node over the first node of its group, from the volts of each tie that joins.
    pub(crate) fn place_offsets_of(
        &self,
        tie_volts: impl Fn(ElementIndex) -> f64,
        offset: &mut [f64],
    ) {
        for &(tie, near, far) in &self.tree {
            let ElementKind::Tie { plus, .. } = self.wiring.elements[tie].kind else {
                unreachable!("the tree is made of ties")
            };
            let volts = tie_volts(tie);
            offset[far] = offset[near] + if far == plus { volts } else { -volts };
        }
    }

    /// The same with every tie's volts multiplied by `share`, for stepping the sources up; 1 is the network itself.
    fn place_scaled_offsets(&self, share: f64, offset: &mut [f64]) {
        self.place_offsets_of(|tie| share * self.tie_volts(tie), offset);
    }

    /// The ties that join nodes into groups; a tie that only repeats what others give is left out.
    pub(crate) fn joining_ties(&self) -> impl Iterator<Item = ElementIndex> {
        self.tree.iter().map(|&(tie, ..)| tie)
    }

    /// Index of an element in [`Network::places`]; `None` for what carries no current at rest.
    pub(crate) fn place_of(&self, element: ElementIndex) -> Option<usize> {
        self.place_by_element.get(element).copied().flatten()
    }

    /// The same structure with other values, as [`Network::places`] has them, and the volts of ties by element.
    pub(crate) fn with_values(&self, values: &[PartValues], tie_volts: &[f64]) -> Self {
        let mut network = self.clone();
        network.values.copy_from_slice(values);
        network.behaviours = values.iter().map(Behaviour::new).collect();
        for (place, values) in network.places.iter().zip(values) {
            values.write_to(&mut network.wiring.elements[place.element].kind);
        }
        let ties: Vec<ElementIndex> = self.joining_ties().collect();
        for tie in ties {
            network.set_tie_volts(tie, tie_volts[tie]);
        }
        network.place_offsets();
        network
    }

    /// Volts of a tie.
    ///
    /// # Panics
    /// When the element is not a tie.
    pub(crate) fn tie_volts(&self, element: ElementIndex) -> f64 {
        match self.wiring.elements[element].kind {
            ElementKind::Tie { volts, .. } => volts,
            ref other => panic!("only ties have volts, not {other:?}"),
        }
    }

    /// The largest magnitude among the volts of all ties.
    #[must_use]
    pub(crate) fn highest_source_volts(&self) -> f64 {
        self.wiring
            .elements
            .iter()
            .filter_map(|element| match element.kind {
                ElementKind::Tie { volts, .. } => Some(volts.abs()),
                _ => None,
            })
            .fold(0.0, f64::max)
    }

    fn place_offsets(&mut self) {
        let mut offset = std::mem::take(&mut self.offset);
        self.place_scaled_offsets(1.0, &mut offset);
        self.offset = offset;
    }

    /// Volts of every node from the unknowns.
    pub fn node_volts(&self, x: &[f64], volts: &mut Vec<f64>) {
        volts.clear();
        volts.extend(
            self.unknown
                .iter()
                .zip(&self.offset)
                .map(|(unknown, offset)| unknown.map_or(0.0, |u| x[u]) + offset),
        );
    }

    /// Unknowns that agree with the given node volts (the first node of each group decides).
    #[must_use]
    pub fn unknowns_from(&self, node_volts: &[f64]) -> Vec<f64> {
        self.first.iter().map(|&node| node_volts[node]).collect()
    }

    /// Indices of the elements that have a state of their own: lit or dark.
    pub fn lamps(&self) -> impl Iterator<Item = ElementIndex> {
        self.wiring
            .elements
            .iter()
            .enumerate()
            .filter(|(_, element)| matches!(element.kind, ElementKind::Neon { .. }))
            .map(|(index, _)| index)
    }

    /// Currents (A) from each terminal into an element, at node volts and lamp states.
    #[must_use]
    pub fn element_amps(
        &self,
        element: ElementIndex,
        volts: &[f64],
        lamps: &[NeonState],
    ) -> TerminalAmps {
        let kind = &self.wiring.elements[element].kind;
        let mut terminal_volts = [0.0; 5];
        for (slot, &node) in terminal_volts.iter_mut().zip(kind.terminals().as_slice()) {
            *slot = volts[node];
        }
        PartValues::of(kind).map_or_else(TerminalAmps::default, |values| {
            let behaviour = Behaviour::new(&values);
            fused(OneElement {
                behaviour: &behaviour,
                volts: &terminal_volts,
                lamp: lamps[element],
                stamp: TerminalAmps::default(),
            })
        })
    }

    /// Currents (A) into one of [`Network::places`] with values of the caller's, with their slopes by the volts of its terminals.
    pub(crate) fn slopes_of(
        &self,
        index: usize,
        values: &PartValues,
        volts: &[f64],
        lamps: &[NeonState],
    ) -> TerminalSlopes {
        let place = &self.places[index];
        fused(OneElement {
            behaviour: &Behaviour::new(values),
            volts: &place.volts(volts),
            lamp: lamps[place.element],
            stamp: TerminalSlopes::default(),
        })
    }

    /// Values of one element as the network has them; `None` of what carries no current at rest.
    pub(crate) fn values_of(&self, element: ElementIndex) -> Option<&PartValues> {
        Some(&self.values[self.place_of(element)?])
    }

    /// Volts from the first terminal of one of [`Network::places`] to its last.
    pub(crate) fn drop_of(&self, index: usize, volts: &[f64]) -> f64 {
        let place = &self.places[index];
        volts[place.nodes[0]] - volts[place.nodes[place.terminals - 1]]
    }

    /// The unknown of each terminal of one of [`Network::places`]; `None` where it is tied to ground.
    pub(crate) fn terminals_of(&self, index: usize) -> Vec<Option<usize>> {
        let place = &self.places[index];
        let unknowns = place.unknowns[..place.terminals].iter();
        unknowns
            .map(|&unknown| Some(unknown).filter(|unknown| *unknown != NO_SLOT))
            .collect()
    }

    /// The currents (A) out of each node into one of [`Network::places`] with values of the caller's, each times the weight of
    /// that node's unknown, together.
    pub(crate) fn weighted_amps(
        &self,
        index: usize,
        values: &PartValues,
        volts: &[f64],
        lamps: &[NeonState],
        weights: &[f64],
    ) -> f64 {
        let place = &self.places[index];
        let local = fused(OneElement {
            behaviour: &Behaviour::new(values),
            volts: &place.volts(volts),
            lamp: lamps[place.element],
            stamp: TerminalAmps::default(),
        });
        let terminals = place.unknowns.iter().zip(local.amps);
        terminals
            .filter(|(unknown, _)| **unknown != NO_SLOT)
            .map(|(&unknown, amps)| weights[unknown] * amps)
            .sum()
    }

    /// Current (A) delivered out of the plus terminal of every tie; `None` for other elements and for a tie that only
    /// repeats what other ties give (its share of the current is not determined).
    #[must_use]
    pub fn tie_amps(&self, volts: &[f64], lamps: &[NeonState]) -> Vec<Option<f64>> {
        let mut demand = vec![0.0; self.wiring.nodes.len()];
        for (index, element) in self.wiring.elements.iter().enumerate() {
            let local = self.element_amps(index, volts, lamps);
            for (&node, amps) in element.kind.terminals().as_slice().iter().zip(local.amps) {
                demand[node] += amps;
            }
        }
        for &node in &self.first {
            demand[node] += self.leak_siemens * volts[node];
        }
        let mut out = vec![None; self.wiring.elements.len()];
        for &(tie, near, far) in self.tree.iter().rev() {
            let ElementKind::Tie { plus, .. } = self.wiring.elements[tie].kind else {
                unreachable!("the tree is made of ties")
            };
            out[tie] = Some(if far == plus {
                demand[far]
            } else {
                -demand[far]
            });
            demand[near] += demand[far];
        }
        out
    }

    /// Capacitance matrix (F) at node volts, in the order of the pattern, into `values`; and the Jacobian's siblings
    /// share its slots. Junction capacitances are those at these volts.
    pub fn capacitance(&self, volts: &[f64], values: &mut [f64]) {
        values.fill(0.0);
        for (node, info) in self.wiring.nodes.iter().enumerate() {
            if let Some(unknown) = self.unknown[node] {
                values[self.diagonal[unknown]] += info.stray_farads;
            }
        }
        for (element, slots) in self.wiring.elements.iter().zip(&self.slots) {
            let farads = match &element.kind {
                ElementKind::Capacitor { farads, .. } => *farads,
                ElementKind::Diode {
                    law,
                    anode,
                    cathode,
                } => law.farads(volts[*anode] - volts[*cathode]),
                _ => continue,
            };
            for (row, column, sign) in [(0, 0, 1.0), (0, 1, -1.0), (1, 0, -1.0), (1, 1, 1.0)] {
                if slots[row][column] != NO_SLOT {
                    values[slots[row][column]] += sign * farads;
                }
            }
        }
    }

    /// What each element of [`Network::places`] remembers of an evaluation at these node volts.
    pub(crate) fn memories(&self, volts: &[f64]) -> impl Iterator<Item = [f64; 2]> {
        let elements = self.places.iter().zip(&self.behaviours);
        elements.map(|(place, behaviour)| behaviour.memory(&place.volts(volts)))
    }

    /// The equations themselves, ready for Newton's method.
    pub(crate) fn equations<'a>(&'a self, state: &'a mut State) -> NetworkEquations<'a> {
        NetworkEquations {
            network: self,
            state,
        }
    }

    /// Offsets with every tie scaled by `share`.
    pub(crate) fn scale_sources(&self, share: f64, state: &mut State) {
        self.place_scaled_offsets(share, &mut state.offset);
    }
}

/// What an evaluation remembers or is told besides the unknowns.
#[derive(Debug)]
pub(crate) struct State {
    /// Offsets in force (scaled while stepping sources).
    offset: Vec<f64>,
    /// What each element of [`Network::places`] remembers of the last evaluation, see [`Behaviour::memory`].
    memory: Vec<[f64; 2]>,
    /// Lit or dark, for each element.
    pub lamps: Vec<NeonState>,
    /// A step in time: capacitance over step, in the order of the pattern, and the unknowns before.
    pub time_step: Option<TimeStep>,
}

/// Implicit Euler: the current C (v - v_before) / h joins every equation.
#[derive(Debug, Clone)]
pub(crate) struct TimeStep {
    /// C / h, S, in the order of the pattern.
    pub siemens: Vec<f64>,
    /// Unknowns before.
    pub before: Vec<f64>,
    /// Buffer: unknowns less those before.
    pub moved: Vec<f64>,
    /// Buffer: the currents they give.
    pub product: Vec<f64>,
}

impl State {
    pub(crate) fn new(network: &Network) -> Self {
        Self {
            offset: network.offset.clone(),
            memory: vec![[0.0; 2]; network.places.len()],
            lamps: vec![NeonState::Dark; network.wiring.elements.len()],
            time_step: None,
        }
    }

    /// Remembers what belongs to these node volts, so that a start near a solution is not held back.
    pub(crate) fn remember(&mut self, network: &Network, volts: &[f64]) {
        for (memory, new) in self.memory.iter_mut().zip(network.memories(volts)) {
            *memory = new;
        }
        self.offset.copy_from_slice(&network.offset);
    }
}

/// A current that follows from a difference of volts is no more exact than the last places of those volts: this share of
/// conductance times volts joins the sum that a balance is measured against. Times the relative balance of 1e-11 it is
/// 1e-15, some five last places; between 36 V rails it is nothing, at a diode that stands at kilovolts it is everything.
const LAST_PLACES: f64 = 1e-4;

/// What an evaluation of networks side by side is told: values of parts, volts of ties, lamps, what is remembered.
pub(crate) struct Given<'a, L> {
    /// What each element of [`Network::places`] does.
    pub behaviours: &'a [Behaviour<L>],
    /// Volts of every node over the first node of its group.
    pub offset: &'a [L],
    /// Lit or dark, for every element of the wiring.
    pub lamps: &'a [NeonState],
    /// What each element of [`Network::places`] remembers of the last evaluation, see [`Behaviour::memory`].
    pub memory: &'a mut [[L; 2]],
}

impl Network {
    /// Residual and Jacobian of networks of this structure, side by side.
    pub(crate) fn evaluate<L: Lanes>(&self, given: &mut Given<L>, x: &[L], values: &mut Values<L>) {
        L::apart(Evaluation {
            network: self,
            given,
            x,
            values,
        });
    }
}

/// One evaluation of networks side by side.
struct Evaluation<'a, 'g, L> {
    network: &'a Network,
    given: &'a mut Given<'g, L>,
    x: &'a [L],
    values: &'a mut Values<L>,
}

impl<L: Lanes> Task for Evaluation<'_, '_, L> {
    type Output = ();

    #[inline(always)]
    fn run(self) {
        let Self {
            network,
            given,
            x,
            values,
        } = self;
        let zero = L::splat(0.0);
        let leak = L::splat(network.leak_siemens);
        values.jacobian.fill(zero);
        for (unknown, &volts) in x.iter().enumerate() {
            values.residual[unknown] = leak * volts;
            values.scale[unknown] = (leak * volts).abs();
            values.jacobian[network.diagonal[unknown]] = leak;
        }
        let mut held_back = zero;
        for (index, place) in network.places.iter().enumerate() {
            let mut volts = [zero; 5];
            let terminals = place.nodes.iter().zip(&place.unknowns);
            for (volts, (&node, &unknown)) in volts.iter_mut().zip(terminals).take(place.terminals)
            {
                let offset = given.offset[node];
                *volts = match unknown {
                    NO_SLOT => offset,
                    unknown => x[unknown] + offset,
                };
            }
            let held = given.behaviours[index].evaluate(
                &volts,
                given.lamps[place.element],
                Some(&mut given.memory[index]),
                &mut Balance {
                    unknowns: &place.unknowns,
                    slots: &network.slots[place.element],
                    volts: &volts,
                    values,
                },
            );
            held_back = held_back + held;
        }
        values.held_back = held_back;
    }
}

/// Adds the currents of one element to the balances of its nodes, its derivatives to the Jacobian.
struct Balance<'a, L> {
    unknowns: &'a [usize; 5],
    slots: &'a [[usize; 5]; 5],
    volts: &'a [L; 5],
    values: &'a mut Values<L>,
}

impl<L: Lanes> Stamp<L> for Balance<'_, L> {
    #[inline(always)]
    fn put<const N: usize>(&mut self, amps: [L; N], by: [[L; N]; N]) {
        let values = &mut *self.values;
        for row in 0..N {
            let unknown = self.unknowns[row];
            if unknown == NO_SLOT {
                continue;
            }
            values.residual[unknown] = values.residual[unknown] + amps[row];
            let mut through = L::splat(0.0);
            let slots = self.slots[row];
            for ((&siemens, &volts), slot) in by[row].iter().zip(self.volts).zip(slots) {
                through = through + (siemens * volts).abs();
                if slot != NO_SLOT {
                    values.jacobian[slot] = values.jacobian[slot] + siemens;
                }
            }
            values.scale[unknown] =
                values.scale[unknown] + through.mul_add(L::splat(LAST_PLACES), amps[row].abs());
        }
    }
}

/// Residual and Jacobian of a network in a [`State`].
pub(crate) struct NetworkEquations<'a> {
    network: &'a Network,
    state: &'a mut State,
}

impl Equations for NetworkEquations<'_> {
    fn evaluate(&mut self, x: &[f64], values: &mut Values) {
        let mut given = Given {
            behaviours: &self.network.behaviours,
            offset: &self.state.offset,
            lamps: &self.state.lamps,
            memory: &mut self.state.memory,
        };
        self.network.evaluate(&mut given, x, values);
        if let Some(step) = &mut self.state.time_step {
            step.add(&self.network.pattern, x, values);
        }
    }
}

impl TimeStep {
    fn add(&mut self, pattern: &Pattern, x: &[f64], values: &mut Values) {
        for ((moved, now), before) in self.moved.iter_mut().zip(x).zip(&self.before) {
            *moved = now - before;
        }
        pattern.multiply(&self.siemens, &self.moved, &mut self.product);
        for (unknown, amps) in self.product.iter().enumerate() {
            values.residual[unknown] += amps;
            values.scale[unknown] += amps.abs();
        }
        for (value, siemens) in values.jacobian.iter_mut().zip(&self.siemens) {
            *value += siemens;
        }
    }
}

/// One element at the volts of its terminals, and what takes its currents.
struct OneElement<'a, S> {
    behaviour: &'a Behaviour,
    volts: &'a [f64; 5],
    lamp: NeonState,
    stamp: S,
}

impl<S: Stamp<f64>> Task for OneElement<'_, S> {
    type Output = S;

    #[inline(always)]
    fn run(mut self) -> S {
        self.behaviour
            .evaluate(self.volts, self.lamp, None, &mut self.stamp);
        self.stamp
    }
}

impl Place {
    /// Volts of the terminals, from those of the nodes.
    pub(crate) fn volts(&self, volts: &[f64]) -> [f64; 5] {
        self.nodes.map(|node| volts[node])
    }

    /// Volts of the first terminal over the second: those of a diode's junction.
    pub(crate) fn first_drop(&self, volts: &[f64]) -> f64 {
        volts[self.nodes[0]] - volts[self.nodes[1]]
    }
}

fn place(element: ElementIndex, kind: &ElementKind, unknown: &[Option<usize>]) -> Place {
    let terminals = kind.terminals();
    let mut place = Place {
        element,
        terminals: terminals.as_slice().len(),
        nodes: [GROUND; 5],
        unknowns: [NO_SLOT; 5],
    };
    for (terminal, &node) in terminals.as_slice().iter().enumerate() {
        place.nodes[terminal] = node;
        place.unknowns[terminal] = unknown[node].unwrap_or(NO_SLOT);
    }
    place
}

fn element_slots(
    kind: &ElementKind,
    unknown: &[Option<usize>],
    pattern: &Pattern,
) -> [[usize; 5]; 5] {
    let mut slots = [[NO_SLOT; 5]; 5];
    if matches!(kind, ElementKind::Tie { .. }) {
        return slots;
    }
    let terminals = kind.terminals();
    for (row, &row_node) in terminals.as_slice().iter().enumerate() {
        for (column, &column_node) in terminals.as_slice().iter().enumerate() {
            if let (Some(row_unknown), Some(column_unknown)) =
                (unknown[row_node], unknown[column_node])
            {
                slots[row][column] = pattern
                    .position(row_unknown, column_unknown)
                    .expect("every element's entries are in the pattern");
            }
        }
    }
    slots
}

type TieTree = Vec<(ElementIndex, NodeIndex, NodeIndex)>;

/// The ties that join nodes, from each group's first node outwards, and the first node of every node's group.
/// A tie that closes a ring is left out when it agrees with the others.
fn tie_tree(wiring: &Wiring) -> Result<(TieTree, Vec<NodeIndex>), Clash> {
    let count = wiring.nodes.len();
    let mut neighbours: Vec<Vec<(ElementIndex, NodeIndex, f64)>> = vec![Vec::new(); count];
    for (index, element) in wiring.elements.iter().enumerate() {
        if let ElementKind::Tie { plus, minus, volts } = element.kind {
            neighbours[minus].push((index, plus, volts));
            neighbours[plus].push((index, minus, -volts));
        }
    }
    let mut root = vec![usize::MAX; count];
    let mut offset = vec![0.0; count];
    let mut used = vec![false; wiring.elements.len()];
    let mut tree = Vec::new();
    for start in 0..count {
        if root[start] != usize::MAX {
            continue;
        }
        root[start] = start;
        let mut queue = VecDeque::from([start]);
        while let Some(node) = queue.pop_front() {
            for &(tie, other, step) in &neighbours[node] {
                if used[tie] {
                    continue;
                }
                used[tie] = true;
                let volts = offset[node] + step;
                if root[other] == usize::MAX {
                    root[other] = start;
                    offset[other] = volts;
                    tree.push((tie, node, other));
                    queue.push_back(other);
                } else if TIE_TOLERANCE_VOLTS < (volts - offset[other]).abs() {
                    return Err(Clash {
                        element: tie,
                        wanted: step.abs(),
                        given: (offset[other] - offset[node]).abs(),
                    });
                }
            }
        }
    }
    Ok((tree, root))
}
