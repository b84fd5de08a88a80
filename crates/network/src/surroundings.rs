//! Who is solved together with a member: its drivers, its loads, and what else hangs on the same nets.

use crate::judge::Levels;
use crate::plan::{MemberIndex, NetIndex, Plan};
use petgraph::unionfind::UnionFind;
use std::collections::btree_map::Entry;
use std::collections::{BTreeMap, BTreeSet};

/// A member that stands for so many that are alike in every way, itself among them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Copies {
    /// The member.
    pub member: MemberIndex,
    /// How many it stands for.
    pub count: usize,
}

impl Copies {
    /// A member that stands for itself.
    #[must_use]
    pub fn one(member: MemberIndex) -> Self {
        Self { member, count: 1 }
    }

    /// Members that stand for themselves.
    #[must_use]
    pub fn each(members: &[MemberIndex]) -> Vec<Self> {
        members.iter().copied().map(Self::one).collect()
    }
}

/// The members that are solved together around one of them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Surroundings {
    /// The member judged.
    pub subject: MemberIndex,
    /// Members judged together with it: the rest of a loop.
    pub companions: Vec<MemberIndex>,
    /// What drives its inputs.
    pub drivers: Vec<MemberIndex>,
    /// What its outputs drive, and what else hangs on the nets that its drivers drive.
    pub loads: Vec<Copies>,
    /// The scene contains a loop: it may have several points of rest.
    pub looped: bool,
    /// The subject's inputs are held by sources at their levels, whatever drives them: what a loop that loses its state
    /// is taken apart with.
    pub cut: bool,
    /// Nets whose resistors of the bench are left out.
    pub bare: Vec<NetIndex>,
}

/// Loads of one net that are solved together; more are left out, and said so. Chosen: more than any plate drives, and
/// work grows with the square of what hangs on one net.
pub const LOADS_TOGETHER: usize = 32;

impl Surroundings {
    /// The surroundings of a member: its drivers and its real loads, one gate deep, with everything else that loads
    /// the same nets.
    #[must_use]
    pub fn of(plan: &Plan, subject: MemberIndex) -> Self {
        Self::of_group(plan, &[subject])
    }

    /// The surroundings of every member, in order.
    #[must_use]
    pub fn of_each(plan: &Plan) -> Vec<Self> {
        (0..plan.members.len())
            .map(|member| Self::of(plan, member))
            .collect()
    }

    /// The surroundings of members that are judged together.
    ///
    /// # Panics
    /// When the group is empty.
    #[must_use]
    pub fn of_group(plan: &Plan, group: &[MemberIndex]) -> Self {
        let (inputs, outputs) = group_nets(plan, group);
        let mut drivers: Vec<MemberIndex> = inputs
            .iter()
            .flat_map(|&net| plan.drivers[net].iter().map(|driver| driver.0))
            .filter(|driver| !group.contains(driver))
            .collect();
        drivers.sort_unstable();
        drivers.dedup();
        let (_, driven) = group_nets(plan, &drivers);
        let mut loads: Vec<MemberIndex> = inputs
            .iter()
            .chain(&outputs)
            .chain(&driven)
            .flat_map(|&net| plan.loads[net].iter().take(LOADS_TOGETHER))
            .map(|load| load.0)
            .filter(|load| !group.contains(load))
            .collect();
        loads.extend(passed_on(plan, &loads));
        loads.sort_unstable();
        loads.dedup();
        loads.retain(|load| !drivers.contains(load) && !group.contains(load));
        let loads = loads.into_iter().map(Copies::one).collect();
        let mut around = Self {
            subject: group[0],
            companions: group[1..].to_vec(),
            drivers,
            loads,
            looped: false,
            cut: false,
            bare: Vec::new(),
        };
        let members = around.members();
        around.looped = any_stores(plan, &members) || has_loop(plan, &members);
        around
    }

    /// The same member with its inputs held and its drivers left out.
    #[must_use]
    pub fn cut_open(plan: &Plan, subject: MemberIndex) -> Self {
        let (_, outputs) = group_nets(plan, &[subject]);
        let mut around = Self::driving(plan, &outputs, &[subject]);
        around.looped = any_stores(plan, &around.members());
        around
    }

    /// The members of a ring, or none, and what hangs on the nets that they (or a switch) drive, everything else held.
    ///
    /// # Panics
    /// When there are neither members nor loads.
    #[must_use]
    pub fn driving(plan: &Plan, nets: &[NetIndex], group: &[MemberIndex]) -> Self {
        let mut loads: Vec<MemberIndex> = nets
            .iter()
            .flat_map(|&net| plan.loads[net].iter().take(LOADS_TOGETHER))
            .map(|load| load.0)
            .collect();
        loads.extend(passed_on(plan, &loads));
        loads.sort_unstable();
        loads.dedup();
        loads.retain(|load| !group.contains(load));
        let core = if group.is_empty() {
            vec![loads.remove(0)]
        } else {
            group.to_vec()
        };
        Self {
            subject: core[0],
            companions: core[1..].to_vec(),
            drivers: Vec::new(),
            loads: Copies::each(&loads),
            looped: 1 < group.len(),
            cut: true,
            bare: Vec::new(),
        }
    }

    /// Drivers, then loads: in this order they are made to agree with a row.
    #[must_use]
    pub fn neighbours(&self) -> Vec<MemberIndex> {
        let loads = self.loads.iter().map(|load| load.member);
        self.drivers.iter().copied().chain(loads).collect()
    }

    /// Subject first, then its companions, drivers, loads.
    #[must_use]
    pub fn members(&self) -> Vec<MemberIndex> {
        self.copies().iter().map(|copies| copies.member).collect()
    }

    /// The same, with how many each stands for.
    #[must_use]
    pub fn copies(&self) -> Vec<Copies> {
        let core = self.core().into_iter().map(Copies::one);
        core.chain(self.loads.iter().copied()).collect()
    }

    /// Everything but the loads.
    fn core(&self) -> Vec<MemberIndex> {
        let others = self.companions.iter().chain(&self.drivers);
        std::iter::once(self.subject)
            .chain(others.copied())
            .collect()
    }

    /// The same surroundings with one load in the place of all that are alike.
    ///
    /// Loads that hang on the same nets, and on nothing else but what hangs on them alone, at the same levels, stand at the
    /// same volts: so many of them in parallel are one of them with so many times its currents. Not so where loads keep a
    /// state, in which they could differ. The leak that keeps open nets defined counts once for all of them.
    #[must_use]
    pub fn gathered(mut self, plan: &Plan, levels: &[&Levels]) -> Self {
        if self.loads.len() < 2 {
            return self;
        }
        let core: BTreeSet<NetIndex> = self
            .core()
            .iter()
            .flat_map(|&member| plan.members[member].nets.iter().copied())
            .collect();
        let mut known: BTreeMap<Vec<u64>, usize> = BTreeMap::new();
        let mut gathered: Vec<Vec<Copies>> = Vec::new();
        for cluster in clusters(plan, &self.loads, &core) {
            let members: Vec<MemberIndex> = cluster.iter().map(|load| load.member).collect();
            if any_stores(plan, &members) || has_loop(plan, &members) {
                gathered.push(cluster);
                continue;
            }
            let mut writing = Writing::new(plan, levels, &self.bare);
            writing.named = core.clone();
            for &load in &cluster {
                writing.member(load);
            }
            match known.entry(writing.finish().0) {
                Entry::Vacant(entry) => {
                    entry.insert(gathered.len());
                    gathered.push(cluster);
                }
                Entry::Occupied(entry) => {
                    for (kept, load) in gathered[*entry.get()].iter_mut().zip(cluster) {
                        kept.count += load.count;
                    }
                }
            }
        }
        self.loads = gathered.into_iter().flatten().collect();
        self.loads.sort_unstable();
        self
    }
}

/// What hangs behind members without a tube, and so on the nets before them too.
fn passed_on(plan: &Plan, loads: &[MemberIndex]) -> Vec<MemberIndex> {
    let mut found: Vec<MemberIndex> = Vec::new();
    let mut left: Vec<MemberIndex> = loads.to_vec();
    while let Some(member) = left.pop() {
        if !plan.is_passive(member) {
            continue;
        }
        let (_, outputs) = group_nets(plan, &[member]);
        let further = outputs
            .iter()
            .flat_map(|&net| plan.loads[net].iter().take(LOADS_TOGETHER));
        for &(load, _) in further {
            if !found.contains(&load) && !loads.contains(&load) {
                found.push(load);
                left.push(load);
            }
        }
    }
    found
}

/// Loads that share nets beyond those of `core`, together.
fn clusters(plan: &Plan, loads: &[Copies], core: &BTreeSet<NetIndex>) -> Vec<Vec<Copies>> {
    let mut joined = UnionFind::<usize>::new(loads.len());
    let mut first_on: BTreeMap<NetIndex, usize> = BTreeMap::new();
    for (index, load) in loads.iter().enumerate() {
        for &net in &plan.members[load.member].nets {
            if !plan.is_supply(net) && !core.contains(&net) {
                joined.union(index, *first_on.entry(net).or_insert(index));
            }
        }
    }
    let mut clusters: BTreeMap<usize, Vec<Copies>> = BTreeMap::new();
    for (index, load) in loads.iter().enumerate() {
        clusters.entry(joined.find(index)).or_default().push(*load);
    }
    clusters.into_values().collect()
}

/// Writes members down as numbers that are equal where structure and levels are: a net is called by its place in the
/// order of first mention.
struct Writing<'a> {
    plan: &'a Plan<'a>,
    levels: &'a [&'a Levels],
    bare: &'a [NetIndex],
    /// Nets that are called by themselves, besides rails and ground.
    named: BTreeSet<NetIndex>,
    nets: Vec<NetIndex>,
    places: BTreeMap<NetIndex, usize>,
    words: Vec<u64>,
}

/// Marks a net called by its place, where others are called by themselves.
const BY_PLACE: u64 = u64::MAX;
/// Marks the first tube of a circuit as cold, and less by one each further one.
const COLD: u64 = u64::MAX - 1;

impl<'a> Writing<'a> {
    fn new(plan: &'a Plan, levels: &'a [&'a Levels], bare: &'a [NetIndex]) -> Self {
        Self {
            plan,
            levels,
            bare,
            named: BTreeSet::new(),
            nets: Vec::new(),
            places: BTreeMap::new(),
            words: Vec::new(),
        }
    }

    fn member(&mut self, copies: Copies) {
        let member = &self.plan.members[copies.member];
        self.words
            .extend([member.circuit.0 as u64, copies.count as u64]);
        let filaments = &self.plan.filaments;
        let own = filaments.range((copies.member, 0)..(copies.member + 1, 0));
        for (&(_, tube), volts) in own {
            self.words.extend([tube as u64, volts.to_bits()]);
        }
        let heated = &self.plan.heated;
        let own = heated.range((copies.member, 0)..(copies.member + 1, 0));
        for (&(_, tube), rail) in own {
            self.words.extend([tube as u64, rail.0 as u64]);
        }
        let cold = self
            .plan
            .cold
            .range((copies.member, 0)..(copies.member + 1, 0));
        self.words.extend(cold.map(|&(_, tube)| COLD - tube as u64));
        for &net in &member.nets {
            let place = *self.places.entry(net).or_insert_with(|| {
                self.nets.push(net);
                self.nets.len() - 1
            });
            self.words.push(place as u64);
        }
    }

    /// The numbers, and the nets in order of first mention.
    fn finish(mut self) -> (Vec<u64>, Vec<NetIndex>) {
        let plan = self.plan;
        for &net in &self.nets {
            if plan.is_supply(net) || self.named.contains(&net) {
                self.words.push(net as u64);
                continue;
            }
            self.words.push(BY_PLACE);
            for level in self.levels.iter().filter_map(|levels| levels.get(&net)) {
                self.words
                    .extend([level.down.to_bits(), level.up.to_bits()]);
            }
            if let Some(switch) = plan.switches.get(&net) {
                self.words.extend([
                    switch.down as u64,
                    switch.up as u64,
                    switch.through_ohms.to_bits(),
                    switch.tolerance.to_bits(),
                    hollow_bits(switch.hollow),
                ]);
            }
            if !self.bare.contains(&net) {
                for load in plan.resistors.get(&net).into_iter().flatten() {
                    self.words.extend([
                        load.to as u64,
                        load.ohms.to_bits(),
                        load.tolerance.to_bits(),
                        hollow_bits(load.hollow),
                    ]);
                }
            }
        }
        (self.words, self.nets)
    }
}

/// Structure and levels of surroundings as one list of numbers, equal for those that are alike; and their nets in order of
/// first mention.
pub(crate) fn signature(
    plan: &Plan,
    around: &Surroundings,
    levels: &[&Levels],
) -> (Vec<u64>, Vec<NetIndex>) {
    let mut writing = Writing::new(plan, levels, &around.bare);
    writing.words.extend([
        around.companions.len() as u64,
        around.drivers.len() as u64,
        around.loads.len() as u64,
    ]);
    let copies = around.copies();
    for &copies in &copies {
        writing.member(copies);
    }
    let halves = plan.pairs(&copies).into_iter().flatten();
    let halves = halves.flat_map(|(place, tube)| [place as u64, tube as u64]);
    writing.words.extend(halves);
    writing.finish()
}

/// Signal nets at the inputs and at the outputs of some members, each once, in order of net.
fn group_nets(plan: &Plan, group: &[MemberIndex]) -> (Vec<NetIndex>, Vec<NetIndex>) {
    let (mut inputs, mut outputs) = (Vec::new(), Vec::new());
    for &member in group {
        let count = plan.circuit(member).interface.inputs;
        for (signal, &net) in plan.members[member].nets.iter().enumerate() {
            if !plan.is_supply(net) {
                if signal < count {
                    inputs.push(net)
                } else {
                    outputs.push(net)
                }
            }
        }
    }
    for nets in [&mut inputs, &mut outputs] {
        nets.sort_unstable();
        nets.dedup();
    }
    (inputs, outputs)
}

fn any_stores(plan: &Plan, members: &[MemberIndex]) -> bool {
    members.iter().any(|&member| plan.stores(member))
}

/// Whether some of these members feed one another in a ring: members that wait for no other are taken away until none
/// is left, or only rings and what hangs behind them.
fn has_loop(plan: &Plan, members: &[MemberIndex]) -> bool {
    let mut left = members.to_vec();
    loop {
        let before = left.len();
        let waits = |&member: &MemberIndex| {
            let (inputs, _) = group_nets(plan, &[member]);
            inputs.iter().any(|&net| {
                plan.drivers[net]
                    .iter()
                    .any(|(driver, _)| left.contains(driver))
            })
        };
        let kept: Vec<MemberIndex> = left.iter().copied().filter(waits).collect();
        if kept.len() == before {
            return !kept.is_empty();
        }
        left = kept;
    }
}

/// The hollow of a resistor's band as a number; no share has that of a resistor of which nothing is said.
fn hollow_bits(hollow: Option<f64>) -> u64 {
    hollow.map_or(u64::MAX, f64::to_bits)
}
