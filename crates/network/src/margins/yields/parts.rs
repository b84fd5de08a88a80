//! What sentences ask of parts in a machine that is drawn.

use super::preparing::{Preparing, feeds};
use super::{Feed, Machines, Standing, Yields};
use crate::ensemble::{Sample, Watch};
use crate::judge::MemberResult;
use crate::margins::duties::trials::{Key, Measure, Standing as Trials};
use crate::margins::duties::units;
use crate::margins::levels::{Middles, Source, surroundings, watches_of};
use crate::margins::stand::settled;
use crate::plan::MemberIndex;
use crate::solve::OperatingPoint;
use crate::wiring::ElementIndex;
use std::collections::BTreeMap;

/// One thing that a sentence asks of a part, ready to be drawn.
#[derive(Debug)]
pub(super) struct PartAsked {
    pub member: MemberIndex,
    place: usize,
    element: ElementIndex,
    measure: Measure,
    rows: Vec<PartRow>,
}

/// One row that asks it.
#[derive(Debug)]
struct PartRow {
    rest: OperatingPoint,
    watches: Vec<Watch>,
    feeds: Vec<(ElementIndex, Feed)>,
}

impl Preparing<'_> {
    /// What sentences ask of parts; a unit of which one of them cannot be tried is not known.
    pub(super) fn parts(&mut self, results: &[&MemberResult]) -> Vec<PartAsked> {
        let mut all = Vec::new();
        for (member, unit) in units(self.search, results) {
            let (search, plan) = (self.search, self.search.plan);
            let around =
                surroundings(search, Source::Member(member)).gathered(plan, &[&self.levels]);
            let mut trials = Trials::new(search, member, &around);
            let mut tried: Vec<(Key, ElementIndex, Measure, &Vec<usize>)> = Vec::new();
            for demand in &unit.demands {
                match trials.of(&unit.rows, demand, self.corner, &self.levels) {
                    Some(one) => tried.push((one.key, one.element, one.measure, &demand.rows)),
                    None => self.unknown.push(member),
                }
            }
            let mut places: BTreeMap<Key, (usize, Vec<Option<OperatingPoint>>, Middles)> =
                BTreeMap::new();
            for (key, ready) in trials.ready {
                places.insert(key, (self.put(ready.stand), ready.rests, ready.middles));
            }
            for (key, element, measure, asking) in tried {
                let (place, rests, middles) = &places[&key];
                let stand = &self.places[*place].stand;
                let mut rows = Vec::new();
                for &row in asking {
                    let Some(rest) = rests[row].clone() else {
                        self.unknown.push(member);
                        continue;
                    };
                    let of_row = &unit.rows[row];
                    rows.push(PartRow {
                        rest,
                        watches: watches_of(stand, of_row, middles),
                        feeds: feeds(plan, stand, &of_row.values),
                    });
                }
                all.push(PartAsked {
                    member,
                    place: *place,
                    element,
                    measure,
                    rows,
                });
            }
        }
        all
    }
}

impl Yields {
    /// In which samples a part of a unit does not do what is asked of it, by unit.
    pub(super) fn parts_wrong(&self, machines: &Machines) -> BTreeMap<MemberIndex, Vec<bool>> {
        let mut all: BTreeMap<MemberIndex, Vec<bool>> = BTreeMap::new();
        for asked in &self.parts {
            let wrong = all
                .entry(asked.member)
                .or_insert_with(|| vec![false; machines.count]);
            for row in &asked.rows {
                self.part_wrong(asked, row, machines, wrong);
            }
        }
        all
    }

    /// Marks the samples in which one row does not give what is asked, or comes to no rest.
    fn part_wrong(
        &self,
        asked: &PartAsked,
        row: &PartRow,
        machines: &Machines,
        wrong: &mut [bool],
    ) {
        let standing = Standing {
            place: asked.place,
            rest: &row.rest,
            watches: &row.watches,
            feeds: &row.feeds,
        };
        let solutions = self.solve(machines, standing, None, &machines.each());
        let stand = &self.places[asked.place].stand;
        let nominal = Sample::nominal(&stand.network);
        let mut sample = nominal.clone();
        for (number, wrong) in wrong.iter_mut().enumerate() {
            let Some(volts) = settled(&solutions, number) else {
                *wrong = true;
                continue;
            };
            sample.restore(&nominal, asked.element);
            let drawn = &machines.own[asked.place][number];
            for (factor, value) in stand.factors.iter().zip(drawn) {
                if let Some(value) = value
                    && factor.elements().contains(&asked.element)
                {
                    factor.put(*value, &mut sample);
                }
            }
            let values = sample.values_of(Some(asked.element));
            let probe = asked.measure.probe;
            let does = probe.value(&stand.network, values, volts, &row.rest.lamps);
            *wrong |= asked.measure.spare(does) < 0.0;
        }
    }
}
