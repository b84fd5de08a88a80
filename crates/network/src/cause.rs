//! The order of cause among all findings: what follows from what.

use crate::finding::Finding;
use crate::plan::MemberIndex;
use crate::verdict::Verdict;
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

/// Puts every finding below its cause; causes in order of severity and place.
#[must_use]
pub(crate) fn arrange(verdict: &Verdict, raw: Vec<Raw>) -> Vec<Finding> {
    let parents: Vec<Option<usize>> = (0..raw.len())
        .map(|index| parent(verdict, &raw, index))
        .collect();
    let roots: Vec<usize> = (0..raw.len()).map(|index| root(&parents, index)).collect();
    let mut causes: Vec<(usize, Finding)> = Vec::new();
    for (index, item) in raw.iter().enumerate() {
        if roots[index] == index {
            causes.push((index, item.finding.clone()));
        }
    }
    for (index, item) in raw.iter().enumerate() {
        if roots[index] != index
            && let Some((_, cause)) = causes.iter_mut().find(|(cause, _)| *cause == roots[index])
        {
            // The same of another load of the same unit says nothing more.
            let said = cause
                .consequences
                .iter()
                .chain([&*cause])
                .any(|known| same_words(known, &item.finding));
            if !said {
                cause.consequences.push(item.finding.clone());
            }
        }
    }
    let mut findings: Vec<Finding> = Vec::new();
    for (index, finding) in causes {
        let alike = findings
            .iter_mut()
            .find(|known| same_mistake(verdict, &raw, known, &finding, index));
        match alike {
            Some(known) if same_words(known, &finding) => {
                known.consequences.extend(finding.consequences)
            }
            Some(known) => known.consequences.push(finding),
            None => findings.push(finding),
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

/// The same finding on the same subject.
fn same_words(left: &Finding, right: &Finding) -> bool {
    left.name == right.name && left.subject == right.subject
}

/// The same mistake once more: the same finding on the same part of another unit of the same circuit.
fn same_mistake(
    verdict: &Verdict,
    raw: &[Raw],
    known: &Finding,
    finding: &Finding,
    index: usize,
) -> bool {
    let circuit_of = |item: &Raw| {
        let about = if item.finding.name == "not-cut-off" {
            item.into
        } else {
            item.members.first().copied()
        };
        about.map(|member| verdict.plan.members[member].circuit)
    };
    let part = |subject: &str| subject.rsplit_once('.').map(|pair| pair.1.to_owned());
    let known_circuit = raw
        .iter()
        .find(|item| item.finding.subject == known.subject && item.finding.name == known.name)
        .and_then(circuit_of);
    known.name == finding.name
        && known_circuit.is_some()
        && known_circuit == circuit_of(&raw[index])
        && (raw[index].rank != 5 || part(&known.subject) == part(&finding.subject))
}

/// Follows parents to the cause; a ring of parents ends at its smallest index. Bounded by the number of findings.
fn root(parents: &[Option<usize>], start: usize) -> usize {
    let mut path = vec![start];
    let mut at = start;
    while let Some(next) = parents[at] {
        if let Some(position) = path.iter().position(|&seen| seen == next) {
            return path[position..].iter().copied().min().unwrap_or(next);
        }
        path.push(next);
        at = next;
    }
    at
}

/// What a finding follows from, if from anything.
fn parent(verdict: &Verdict, raw: &[Raw], index: usize) -> Option<usize> {
    let order = Order {
        verdict,
        raw,
        index,
    };
    let item = &raw[index];
    match item.rank {
        1 | 2 => order.of_level(item),
        3 => order.of_duty(item),
        4 => order.of_state(item),
        5 => order.of_rating(item),
        _ => None,
    }
}

/// The search for what one finding follows from.
struct Order<'a> {
    verdict: &'a Verdict<'a>,
    raw: &'a [Raw],
    index: usize,
}

impl Order<'_> {
    /// The first other fault that `cause` accepts.
    fn first(&self, cause: impl Fn(usize, &Raw) -> bool) -> Option<usize> {
        (0..self.raw.len()).find(|&other| {
            other != self.index && is_fault(&self.raw[other]) && cause(other, &self.raw[other])
        })
    }

    /// A fault that comes before any level, on these members or on anything that feeds `members`.
    fn basic(&self, touched: &[MemberIndex], members: &[MemberIndex]) -> Option<usize> {
        let on = |members: &[MemberIndex]| {
            self.first(|_, other| {
                other.rank == 0 && other.members.iter().any(|member| members.contains(member))
            })
        };
        on(touched).or_else(|| on(&upstream(self.verdict, members)))
    }

    fn of_level(&self, item: &Raw) -> Option<usize> {
        let touched: Vec<MemberIndex> = item.members.iter().copied().chain(item.into).collect();
        self.basic(&touched, &item.members)
            .or_else(|| self.further_down(item))
            .or_else(|| {
                self.first(|other, raw| {
                    let feeds_driver =
                        raw.rank == 1 && raw.into.is_some_and(|into| item.members.contains(&into));
                    feeds_driver && (other < self.index || raw.members != item.members)
                })
            })
            .or_else(|| {
                // What an overloaded unit gives on is part of its overload.
                let overload = |raw: &Raw| raw.rank == 1 && raw.finding.name == "overloaded";
                self.first(|_, raw| overload(raw) && raw.members == item.members)
                    .filter(|_| item.finding.name != "overloaded")
            })
            .or_else(|| {
                // A margin that is thin beside a fault on the same units says nothing of its own.
                self.level_on(&touched).filter(|_| !is_fault(item))
            })
    }

    /// Where the threshold comes from further down, the gate that fails there is the place to look.
    fn further_down(&self, item: &Raw) -> Option<usize> {
        let into = item.into.filter(|_| item.rank == 2)?;
        self.first(|_, raw| is_level(raw) && raw.members.contains(&into))
    }

    /// A level fault that touches any of these members.
    fn level_on(&self, members: &[MemberIndex]) -> Option<usize> {
        self.first(|_, raw| {
            is_level(raw)
                && raw
                    .members
                    .iter()
                    .chain(&raw.into)
                    .any(|member| members.contains(member))
        })
    }

    fn of_state(&self, item: &Raw) -> Option<usize> {
        self.basic(&item.members, &item.members)
            .or_else(|| self.level_on(&item.members))
    }

    /// From what is wrong before any level on the unit or what feeds it, or from a bad level of what feeds it.
    fn of_duty(&self, item: &Raw) -> Option<usize> {
        self.basic(&item.members, &item.members)
            .or_else(|| self.level_on(&upstream(self.verdict, &item.members)))
            .or_else(|| {
                // A rating exceeded at the same part, or what it does in another row, comes from the same mistake.
                let same_part = |raw: &Raw| raw.finding.subject == item.finding.subject;
                self.first(|other, raw| {
                    same_part(raw) && (raw.rank == 5 || raw.rank == 3 && other < self.index)
                })
            })
    }

    fn of_rating(&self, item: &Raw) -> Option<usize> {
        self.basic(&item.members, &[]).or_else(|| {
            // Several ratings of one part are exceeded by one mistake: the first stands for it.
            let same_part =
                |raw: &Raw| raw.rank == 5 && raw.finding.subject == item.finding.subject;
            self.first(|other, raw| other < self.index && same_part(raw))
        })
    }
}

fn is_level(raw: &Raw) -> bool {
    matches!(raw.rank, 1 | 2)
}

fn is_fault(raw: &Raw) -> bool {
    raw.finding.severity == Severity::Fault
}

/// Every member that feeds these, directly or through others.
fn upstream(verdict: &Verdict, members: &[MemberIndex]) -> Vec<MemberIndex> {
    let plan = &verdict.plan;
    let mut seen: Vec<MemberIndex> = Vec::new();
    let mut next: Vec<MemberIndex> = members.to_vec();
    while let Some(member) = next.pop() {
        let inputs = plan.circuit(member).interface.inputs;
        for &net in &plan.members[member].nets[..inputs] {
            for &(driver, _) in &plan.drivers[net] {
                if !seen.contains(&driver) {
                    seen.push(driver);
                    next.push(driver);
                }
            }
        }
    }
    seen
}
