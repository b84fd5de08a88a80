//! Readings that tell the suspects of a step apart: where to put the meter, and what it then shows for each of them.

use super::setup::{SetUp, completed, set_up};
use super::suspects::{Suspect, suspects};
use super::{Moved, as_typed};
use crate::judge::{Context, Held};
use crate::margins::stand::{Point, Stand, settled};
use crate::plan::{MemberIndex, NetIndex, Plan};
use crate::rows::{Others, Values, fill_others};
use crate::scene::build;
use crate::surroundings::Surroundings;
use crate::variation::{SpreadAssumptions, Varied};
use crate::verdict::Verdict;
use crate::wiring::{GROUND, NodeIndex};
use design::model::NodeKind;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Suspects are those with which the machine first fails so far on the way from the typed volts to the step's: chosen.
pub const PART_OF_THE_WAY: f64 = 2.0 / 3.0;
/// Places that are read for one step, at most: chosen, as many as one reads before thinking anew.
pub const MOST_PLACES: usize = 4;
/// Suspects of one step that are told apart; the least likely beyond are counted: chosen.
pub const MOST_SUSPECTS: usize = 48;
/// Readings nearer than this are the same, V, or a share of what is read: chosen, what a hand-held meter tells.
pub const SAME_VOLTS: f64 = 0.05;
/// See [`SAME_VOLTS`].
pub const SAME_SHARE: f64 = 0.01;
/// Volts that move less by what is to blame are those of a good machine: chosen, a fiftieth of what a meter tells.
const MOVED_VOLTS: f64 = 1e-3;

/// Where a meter is put.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Place {
    /// On a net.
    Net(NetIndex),
    /// On an inner node of a unit: member, node of its circuit.
    Inner(MemberIndex, usize),
}

/// Suspects that a step's readings do not tell from one another.
#[derive(Debug, Clone, PartialEq)]
pub struct SameReadings {
    /// The least off for its band first.
    pub suspects: Vec<Suspect>,
    /// What is read at each place if the first of them is to blame, V.
    pub volts: Vec<f64>,
}

/// What tells the suspects of one step apart, read with the rails as typed.
#[derive(Debug, Clone, PartialEq)]
pub struct Apart {
    /// Volts of the rail at which each suspect makes the machine fail first.
    pub fails_at: f64,
    /// Nets that stand in a known way while the places are read.
    pub state: Values,
    /// How the machine is brought there; `None` where no way was found.
    pub set_up: Option<SetUp>,
    /// The places to read, the one that tells most apart first.
    pub places: Vec<Place>,
    /// What a good machine reads at each, V.
    pub good: Vec<f64>,
    /// Suspects by what they read.
    pub rows: Vec<SameReadings>,
    /// Suspects that read as a good machine does at each place.
    pub untold: Vec<Suspect>,
    /// Suspects beyond [`MOST_SUSPECTS`].
    pub further: usize,
}

/// What tells the suspects of a step apart; `None` where it is none, or ends at a lamp or load, which shows itself what it does.
#[must_use]
pub fn told_apart(
    verdict: &Verdict,
    step: &Moved,
    meter_ohms: f64,
    spread: &SpreadAssumptions,
    context: &Context,
) -> Option<Apart> {
    let plan = &verdict.plan;
    let failure = step
        .failure(plan)
        .filter(|failure| failure.not_done.is_none())?;
    let typed = plan.design.rails[step.rail.0].volts;
    let fails_at = typed + PART_OF_THE_WAY * (step.stands - typed);
    let mut all = suspects(verdict, step.rail, fails_at, spread, context);
    let further = all.len().saturating_sub(MOST_SUSPECTS);
    all.truncate(MOST_SUSPECTS);
    let mut wanted = failure.state.clone();
    let loads = failure.near.iter().flat_map(|near| {
        let up = near.others == Others::Up;
        let inputs = plan.loads[near.net].iter().flat_map(|load| {
            let inputs = plan.circuit(load.0).interface.inputs;
            plan.members[load.0].nets[..inputs].iter().copied()
        });
        inputs.map(move |net| (net, up))
    });
    for (net, up) in loads.filter(|(net, _)| !plan.is_supply(*net)) {
        wanted.entry(net).or_insert(up);
    }
    // With the loads' other inputs where they are worst, or else wherever they then stand.
    let set_up = set_up(plan, &wanted).or_else(|| set_up(plan, &failure.state));
    let found = set_up
        .as_ref()
        .map_or(&failure.state, |set_up| &set_up.values);
    let values = &completed(plan, found);
    let bench = Bench {
        verdict,
        values,
        meter_ohms,
        context,
    };
    let moves: Vec<BTreeMap<Place, f64>> = all
        .par_iter()
        .map(|suspect| bench.moves(suspect, None))
        .collect();
    let places = chosen(&bench, &moves);
    let good: Vec<f64> = places
        .par_iter()
        .map(|place| bench.good(*place, true))
        .collect();
    let read: Vec<Vec<f64>> = all
        .par_iter()
        .zip(&moves)
        .map(|(suspect, moves)| {
            let each = places.iter().zip(&good).map(|(place, good)| {
                let moved = moves.contains_key(place);
                let metered = moved.then(|| bench.moves(suspect, Some(*place)));
                let by = metered.and_then(|moves| moves.get(place).copied());
                good + by.unwrap_or(0.0)
            });
            each.collect()
        })
        .collect();
    // Of the state only what the places hang on need be brought about.
    let mut needed = failure.state.clone();
    for place in &places {
        let member = home(plan, *place);
        let nets = member.map(|member| plan.members[member].nets.iter());
        let nets = nets.into_iter().flatten();
        needed.extend(nets.filter_map(|net| Some((*net, *values.get(net)?))));
    }
    let needed = set_up.as_ref().and_then(|_| self::set_up(plan, &needed));
    let mut apart = Apart {
        fails_at,
        state: failure.state,
        set_up: needed,
        places,
        good,
        rows: Vec::new(),
        untold: Vec::new(),
        further,
    };
    for (suspect, volts) in all.into_iter().zip(read) {
        apart.add(suspect, volts);
    }
    Some(apart)
}

impl Apart {
    fn add(&mut self, suspect: Suspect, volts: Vec<f64>) {
        let same = |other: &[f64]| {
            let mut pairs = volts.iter().zip(other);
            pairs.all(|(left, right)| same(*left, *right))
        };
        if same(&self.good) {
            self.untold.push(suspect);
            return;
        }
        match self.rows.iter_mut().find(|row| same(&row.volts)) {
            Some(row) => row.suspects.push(suspect),
            None => self.rows.push(SameReadings {
                suspects: vec![suspect],
                volts,
            }),
        }
    }
}

/// A meter does not tell one reading from another.
fn same(left: f64, right: f64) -> bool {
    let most = left.abs().max(right.abs());
    (left - right).abs() < SAME_VOLTS.max(SAME_SHARE * most)
}

/// The places that tell the most pairs of suspects apart, a good machine counted as one, one place after the other.
fn chosen(bench: &Bench, moves: &[BTreeMap<Place, f64>]) -> Vec<Place> {
    let mut candidates: Vec<Place> = moves
        .iter()
        .flat_map(|moves| moves.keys().copied())
        .collect();
    candidates.sort_unstable();
    candidates.dedup();
    let good: Vec<f64> = candidates
        .par_iter()
        .map(|place| bench.good(*place, false))
        .collect();
    // What every suspect makes of each candidate, a good machine last.
    let nothing = BTreeMap::new();
    let read: Vec<Vec<f64>> = moves
        .iter()
        .chain([&nothing])
        .map(|moves| {
            let each = candidates.iter().zip(&good);
            each.map(|(place, good)| good + moves.get(place).copied().unwrap_or(0.0))
                .collect()
        })
        .collect();
    let mut together: Vec<(usize, usize)> = (0..read.len())
        .flat_map(|right| (0..right).map(move |left| (left, right)))
        .collect();
    let mut places = Vec::new();
    while places.len() < MOST_PLACES {
        let tells = |place: usize, (left, right): (usize, usize)| {
            let (left, right) = (read[left][place], read[right][place]);
            (left - right).is_finite() && !same(left, right)
        };
        let counted: Vec<usize> = (0..candidates.len())
            .into_par_iter()
            .map(|place| together.iter().filter(|pair| tells(place, **pair)).count())
            .collect();
        let most = counted.iter().copied().max().unwrap_or(0);
        let best = counted.iter().position(|count| *count == most && 0 < most);
        let Some(best) = best else {
            break;
        };
        together.retain(|&pair| !tells(best, pair));
        places.push(candidates[best]);
    }
    places
}

/// The machine on the bench in one state, with its rails as typed.
struct Bench<'a> {
    verdict: &'a Verdict<'a>,
    values: &'a Values,
    meter_ohms: f64,
    context: &'a Context,
}

impl Bench<'_> {
    /// By how much the volts at each place around a suspect move when it is to blame, perhaps with the meter on one of them; what
    /// does not move is left out.
    fn moves(&self, suspect: &Suspect, meter: Option<Place>) -> BTreeMap<Place, f64> {
        let one = Varied::One {
            member: suspect.member,
            part: suspect.part,
            quantity: suspect.quantity,
            value: suspect.value,
        };
        let around = self.around(suspect.member, one, meter).unwrap_or_default();
        let moves = around
            .into_iter()
            .map(|(place, (from, to))| (place, to - from));
        moves.filter(|(_, by)| MOVED_VOLTS < by.abs()).collect()
    }

    /// What stands at a place in a good machine, V; perhaps with the meter on it. Not a number where nothing comes to rest.
    fn good(&self, place: Place, metered: bool) -> f64 {
        let member = home(&self.verdict.plan, place);
        let meter = metered.then_some(place);
        let read = member.and_then(|member| self.around(member, Varied::Nothing, meter));
        let at = read.and_then(|read| read.get(&place).copied());
        at.map_or(f64::NAN, |(volts, _)| volts)
    }

    /// Every place around a member, first by the book and then with what is varied; `None` where nothing comes to rest.
    fn around(
        &self,
        member: MemberIndex,
        varied: Varied,
        meter: Option<Place>,
    ) -> Option<BTreeMap<Place, (f64, f64)>> {
        let plan = &self.verdict.plan;
        let levels = &self.verdict.place.levels;
        let around = Surroundings::of(plan, member);
        let values = fill_others(plan, &around, self.values.clone(), Others::Down);
        let mut scene = build(plan, &around.copies(), &[], &self.context.assumptions);
        let nodes: Vec<(Place, NodeIndex)> = scene
            .members
            .iter()
            .flat_map(|placed| {
                let own = places(plan, placed.member).into_iter();
                own.map(|(place, node)| (place, placed.nodes[node]))
            })
            .collect();
        if let Some(&(_, node)) = meter.and_then(|meter| nodes.iter().find(|own| own.0 == meter)) {
            scene
                .wiring
                .resistor("meter", node, GROUND, self.meter_ohms);
        }
        let corner = as_typed(self.verdict);
        let mut stand = Stand::of(plan, scene, &corner, varied, self.context)?;
        stand.feed(plan, &corner, &values, levels);
        let mut held = Held::new(&stand.scene, self.context);
        let start = held
            .as_mut()
            .and_then(|held| held.start(&stand.scene, &values, levels, self.context));
        let mut rest = stand.rest(start.as_deref())?;
        let book = rest.volts.clone();
        let settings = vec![1.0; stand.factors.len()];
        let solutions = stand.solve(&mut rest, &[], &[Point::at(&settings)]);
        let moved = settled(&solutions, 0)?;
        let read = nodes
            .iter()
            .map(|&(place, node)| (place, (book[node], moved[node])));
        Some(read.collect())
    }
}

/// The unit that a place belongs to: what drives a net, or else what hangs on it.
fn home(plan: &Plan, place: Place) -> Option<MemberIndex> {
    match place {
        Place::Inner(member, _) => Some(member),
        Place::Net(net) => {
            let mut pins = plan.drivers[net].iter().chain(&plan.loads[net]);
            pins.next().map(|pin| pin.0)
        }
    }
}

/// Where a meter can be put on a unit: its nets, and its inner nodes that come out on a pin of a tube; with the node of its circuit.
fn places(plan: &Plan, member: MemberIndex) -> Vec<(Place, usize)> {
    let circuit = plan.circuit(member);
    let on_pin = |node: usize| {
        circuit.tubes().any(|(_, tube)| {
            let others = [tube.grid, tube.screen].into_iter().flatten();
            let mut all = [tube.plate, tube.cathode].into_iter().chain(others);
            all.any(|pin| pin == node)
        })
    };
    let place = |(node, of): (usize, &design::model::Node)| match of.kind {
        NodeKind::Signal(signal) => {
            let net = plan.members[member].nets[signal];
            (!plan.is_supply(net)).then_some((Place::Net(net), node))
        }
        NodeKind::Inner if on_pin(node) => Some((Place::Inner(member, node), node)),
        NodeKind::Inner | NodeKind::Ground | NodeKind::Rail(_) => None,
    };
    circuit.nodes.iter().enumerate().filter_map(place).collect()
}
