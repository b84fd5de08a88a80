//! The order of cause among all findings: what follows from what.

use crate::finding::Finding;
use crate::plan::MemberIndex;
use crate::verdict::Verdict;
use design::model::CircuitId;
use std::collections::{BTreeMap, BTreeSet};
use text::diagnostic::Severity;

/// A finding before it has its place in the order of cause.
#[derive(Debug, Clone)]
pub(crate) struct Raw {
    /// The finding.
    pub finding: Finding,
    /// Members that it is about.
    pub members: Vec<MemberIndex>,
    /// The member that suffers from it: the load of a bad level.
    pub into: Option<MemberIndex>,
    /// 0: before any level; 1: a level; 2: a level against a threshold passed on from further down the chain; 3: a lamp
    /// or load that does not do its duty; 4: a stored state; 5: a rating; 6: stands for itself.
    pub rank: u8,
}

impl Raw {
    /// A rating of one member.
    pub(crate) fn of_member(finding: Finding, member: MemberIndex) -> Self {
        Self {
            finding,
            members: vec![member],
            into: None,
            rank: 5,
        }
    }

    /// What a lamp or load of one member does.
    pub(crate) fn of_duty(finding: Finding, member: MemberIndex) -> Self {
        Self {
            rank: 3,
            ..Self::of_member(finding, member)
        }
    }

    /// Follows from nothing and leads to nothing.
    pub(crate) fn alone(finding: Finding) -> Self {
        Self {
            finding,
            members: Vec::new(),
            into: None,
            rank: 6,
        }
    }
}

/// Puts every finding below its cause; causes in order of severity and place. Work grows with the number of findings.
#[must_use]
pub(crate) fn arrange(verdict: &Verdict, raw: Vec<Raw>) -> Vec<Finding> {
    let order = Order::new(verdict, &raw);
    let parents: Vec<Option<usize>> = (0..raw.len()).map(|index| order.parent(index)).collect();
    let roots = roots(&parents);
    let mut causes: BTreeMap<usize, Finding> = BTreeMap::new();
    // The same of another load of the same unit says nothing more.
    let mut said: BTreeSet<(usize, &str, &str)> = BTreeSet::new();
    for (index, item) in raw.iter().enumerate() {
        if roots[index] == index {
            causes.insert(index, item.finding.clone());
            said.insert((index, item.finding.name, &item.finding.subject));
            for known in &item.finding.consequences {
                said.insert((index, known.name, &known.subject));
            }
        }
    }
    for (index, item) in raw.iter().enumerate() {
        let root = roots[index];
        if root != index
            && said.insert((root, item.finding.name, &item.finding.subject))
            && let Some(cause) = causes.get_mut(&root)
        {
            cause.consequences.push(item.finding.clone());
        }
    }
    let mut findings: Vec<Finding> = Vec::new();
    let mut mistakes: BTreeMap<Mistake, usize> = BTreeMap::new();
    for (index, finding) in causes {
        let mistake = mistake(verdict, &raw[index]);
        match mistake.as_ref().and_then(|mistake| mistakes.get(mistake)) {
            Some(&known) if findings[known].subject == finding.subject => {
                findings[known].consequences.extend(finding.consequences)
            }
            Some(&known) => findings[known].consequences.push(finding),
            None => {
                mistakes.extend(mistake.map(|mistake| (mistake, findings.len())));
                findings.push(finding);
            }
        }
    }
    findings.sort_by(|left, right| {
        right
            .severity
            .cmp(&left.severity)
            .then_with(|| left.span.cmp(&right.span))
    });
    findings
}

/// Name of the finding, circuit, and for a rating the mark of the part.
type Mistake = (&'static str, CircuitId, Option<String>);

/// What makes two findings one mistake made twice: the same finding on (the same part of) units of one circuit.
fn mistake(verdict: &Verdict, item: &Raw) -> Option<Mistake> {
    let about = if item.finding.name == "not-cut-off" {
        item.into
    } else {
        item.members.first().copied()
    };
    let part = item.finding.subject.rsplit_once('.');
    let part = part
        .filter(|_| item.rank == 5)
        .map(|pair| pair.1.to_owned());
    about.map(|member| {
        let circuit = verdict.plan.members[member].circuit;
        (item.finding.name, circuit, part)
    })
}

/// Follows parents to the causes; a ring of parents ends at its smallest index. Every finding is passed once.
fn roots(parents: &[Option<usize>]) -> Vec<usize> {
    let mut roots: Vec<Option<usize>> = vec![None; parents.len()];
    // Position in the path that is being followed, counted from one; zero when not on it.
    let mut on_path = vec![0; parents.len()];
    for start in 0..parents.len() {
        let mut path: Vec<usize> = Vec::new();
        let mut at = start;
        let found = loop {
            if let Some(root) = roots[at] {
                break root;
            }
            if on_path[at] != 0 {
                let ring = &path[on_path[at] - 1..];
                break ring.iter().copied().min().unwrap_or(at);
            }
            path.push(at);
            on_path[at] = path.len();
            match parents[at] {
                Some(next) => at = next,
                None => break at,
            }
        };
        for passed in path {
            roots[passed] = Some(found);
            on_path[passed] = 0;
        }
    }
    roots
        .into_iter()
        .enumerate()
        .map(|(index, root)| root.unwrap_or(index))
        .collect()
}

/// The search for what each finding follows from: faults by the members that they are about, in order of index.
struct Order<'a> {
    raw: &'a [Raw],
    /// First fault before any level on each member.
    basic_on: Vec<Option<usize>>,
    /// First fault before any level on what feeds each member, directly or through others.
    basic_before: Vec<Option<usize>>,
    /// Level faults of each driver.
    level_of: Vec<Vec<usize>>,
    /// Level faults that each member suffers from.
    level_into: Vec<Vec<usize>>,
    /// First level fault on what feeds each member, directly or through others.
    level_before: Vec<Option<usize>>,
    /// Overloads by their members.
    overloads: BTreeMap<&'a [MemberIndex], Vec<usize>>,
    /// First rating of each part.
    ratings: BTreeMap<&'a str, usize>,
    /// First duty of each part that is not done.
    duties: BTreeMap<&'a str, usize>,
}

impl<'a> Order<'a> {
    fn new(verdict: &Verdict, raw: &'a [Raw]) -> Self {
        let count = verdict.plan.members.len();
        let mut order = Self {
            raw,
            basic_on: vec![None; count],
            basic_before: vec![None; count],
            level_of: vec![Vec::new(); count],
            level_into: vec![Vec::new(); count],
            level_before: vec![None; count],
            overloads: BTreeMap::new(),
            ratings: BTreeMap::new(),
            duties: BTreeMap::new(),
        };
        for (index, item) in raw.iter().enumerate().filter(|(_, item)| is_fault(item)) {
            match item.rank {
                0 => {
                    for &member in &item.members {
                        order.basic_on[member].get_or_insert(index);
                    }
                    mark_after(verdict, &item.members, index, &mut order.basic_before);
                }
                1 | 2 => {
                    for &member in &item.members {
                        order.level_of[member].push(index);
                    }
                    if let Some(into) = item.into {
                        order.level_into[into].push(index);
                    }
                    let touched: Vec<MemberIndex> =
                        item.members.iter().copied().chain(item.into).collect();
                    mark_after(verdict, &touched, index, &mut order.level_before);
                    if item.rank == 1 && item.finding.name == "overloaded" {
                        let overloads = order.overloads.entry(&item.members).or_default();
                        overloads.push(index);
                    }
                }
                3 => {
                    order.duties.entry(&item.finding.subject).or_insert(index);
                }
                5 => {
                    order.ratings.entry(&item.finding.subject).or_insert(index);
                }
                _ => {}
            }
        }
        order
    }

    /// What a finding follows from, if from anything.
    fn parent(&self, index: usize) -> Option<usize> {
        let item = &self.raw[index];
        match item.rank {
            1 | 2 => self.of_level(index, item),
            4 => self
                .basic(&item.members, &item.members)
                .or_else(|| self.level_on(index, &item.members)),
            3 => self.of_duty(index, item),
            5 => self.basic(&item.members, &[]).or_else(|| {
                // Several ratings of one part are exceeded by one mistake: the first stands for it.
                let first = self.ratings.get(item.finding.subject.as_str()).copied();
                first.filter(|&first| first < index)
            }),
            _ => None,
        }
    }

    /// A fault that comes before any level, on these members or on anything that feeds `members`.
    fn basic(&self, touched: &[MemberIndex], members: &[MemberIndex]) -> Option<usize> {
        let on = touched.iter().filter_map(|&member| self.basic_on[member]);
        let before = members
            .iter()
            .filter_map(|&member| self.basic_before[member]);
        on.min().or_else(|| before.min())
    }

    fn of_level(&self, index: usize, item: &Raw) -> Option<usize> {
        let touched: Vec<MemberIndex> = item.members.iter().copied().chain(item.into).collect();
        self.basic(&touched, &item.members)
            .or_else(|| {
                // Where the threshold comes from further down, the gate that fails there is the place to look.
                let into = item.into.filter(|_| item.rank == 2)?;
                other_than(index, &self.level_of[into])
            })
            .or_else(|| {
                let feeds_driver = |&other: &usize| {
                    let raw = &self.raw[other];
                    raw.rank == 1
                        && other != index
                        && (other < index || raw.members != item.members)
                };
                let drivers = item.members.iter();
                drivers
                    .filter_map(|&member| {
                        self.level_into[member].iter().copied().find(feeds_driver)
                    })
                    .min()
            })
            .or_else(|| {
                // What an overloaded unit gives on is part of its overload.
                let overloads = self.overloads.get(item.members.as_slice())?;
                other_than(index, overloads).filter(|_| item.finding.name != "overloaded")
            })
            .or_else(|| {
                // A margin that is thin beside a fault on the same units says nothing of its own.
                self.level_on(index, &touched).filter(|_| !is_fault(item))
            })
    }

    /// From what is wrong before any level on the unit or what feeds it, or from a bad level of what feeds it.
    fn of_duty(&self, index: usize, item: &Raw) -> Option<usize> {
        let before = item
            .members
            .iter()
            .filter_map(|&member| self.level_before[member]);
        self.basic(&item.members, &item.members)
            .or_else(|| before.min())
            .or_else(|| {
                // A rating exceeded at the same part, or what it does in another row, comes from the same mistake.
                let subject = item.finding.subject.as_str();
                let earlier = self.duties.get(subject).filter(|&&other| other < index);
                self.ratings
                    .get(subject)
                    .into_iter()
                    .chain(earlier)
                    .min()
                    .copied()
            })
    }

    /// A level fault that touches any of these members.
    fn level_on(&self, index: usize, members: &[MemberIndex]) -> Option<usize> {
        let lists = members
            .iter()
            .flat_map(|&member| [&self.level_of[member], &self.level_into[member]]);
        lists.filter_map(|list| other_than(index, list)).min()
    }
}

/// Notes a fault at everything that its members feed. What an earlier fault marked, with all behind it, stays as it is.
fn mark_after(
    verdict: &Verdict,
    members: &[MemberIndex],
    index: usize,
    marks: &mut [Option<usize>],
) {
    let plan = &verdict.plan;
    let mut next = members.to_vec();
    while let Some(member) = next.pop() {
        let inputs = plan.circuit(member).interface.inputs;
        for &net in &plan.members[member].nets[inputs..] {
            for &(load, _) in &plan.loads[net] {
                if marks[load].is_none() {
                    marks[load] = Some(index);
                    next.push(load);
                }
            }
        }
    }
}

/// The first of a list that is not the finding itself.
fn other_than(index: usize, list: &[usize]) -> Option<usize> {
    list.iter().copied().find(|&other| other != index)
}

fn is_fault(raw: &Raw) -> bool {
    raw.finding.severity == Severity::Fault
}
