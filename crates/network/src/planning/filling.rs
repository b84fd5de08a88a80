//! Which tubes share a string: the fullest string that can be made of what is left, again and again.

use super::{Candidate, Draft, DraftLink, Placed, Supply, window};

/// Currents nearer than this are one: by the running law it moves a heater's volts by a sixtieth (chosen).
const SAME_SHARE: f64 = 0.01;

/// Heaters side by side in one link of a string: chosen, because each that is pulled leaves the others more.
const MOST_BESIDE: usize = 4;

/// Heaters side by side where each has the whole supply: chosen, as a line that can be read.
const MOST_PARALLEL: usize = 8;

/// Steps of a knapsack, V, and the most of them.
const GRAIN: f64 = 0.05;
const MOST_STEPS: usize = 4000;

/// Shares of the supply's watts are compared in steps of this: rounding must not choose.
const EFFICIENCY_STEP: f64 = 1e-4;

/// Tubes of one group with the same heater, in their order.
struct Class {
    rated: (f64, f64),
    tapped: Option<(f64, f64)>,
    direct: bool,
    left: Vec<usize>,
}

/// How a class stands in a string of some current.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Way {
    class: usize,
    tapped: bool,
    volts: f64,
    /// Of one heater, A.
    amps: f64,
    /// Heaters side by side.
    beside: usize,
}

/// One kind of string: how many links of each way, and of how many heaters the last of them.
struct Pattern {
    amps: f64,
    uses: Vec<(Way, usize)>,
    /// Greater is better: the share of the supply's watts that heats, then few shunts, taps and links side by side, then
    /// nearness to the supply's volts.
    merit: (i64, i64, i64),
}

/// Drafts of strings for these tubes, all of which the supply reaches.
pub(super) fn fill(tubes: &[Candidate], fitting: &[usize], supply: Supply) -> Vec<Draft> {
    let mut groups: Vec<usize> = fitting.iter().map(|&tube| tubes[tube].group).collect();
    groups.sort_unstable();
    groups.dedup();
    let mut drafts = Vec::new();
    for group in groups {
        let of_group = fitting.iter().filter(|&&tube| tubes[tube].group == group);
        let mut classes = classes(tubes, of_group.copied());
        let mut own: Vec<Draft> = Vec::new();
        while let Some(pattern) = best(&classes, supply) {
            // The same again as long as there are tubes for all of it.
            own.push(pattern.take(&mut classes, group));
            while pattern.enough(&classes) {
                own.push(pattern.take(&mut classes, group));
            }
        }
        drafts.extend(side_by_side(own, tubes, window(supply).0));
    }
    drafts
}

fn classes(tubes: &[Candidate], of: impl Iterator<Item = usize>) -> Vec<Class> {
    let mut classes: Vec<Class> = Vec::new();
    for tube in of {
        let Candidate {
            rated,
            tapped,
            direct,
            ..
        } = tubes[tube];
        let like = |class: &&mut Class| {
            class.rated == rated && class.tapped == tapped && class.direct == direct
        };
        match classes.iter_mut().find(like) {
            Some(class) => class.left.push(tube),
            None => classes.push(Class {
                rated,
                tapped,
                direct,
                left: vec![tube],
            }),
        }
    }
    classes
}

/// The best string that can be made of what is left; `None` when nothing is.
fn best(classes: &[Class], supply: Supply) -> Option<Pattern> {
    let mut currents: Vec<f64> = classes
        .iter()
        .filter(|class| !class.left.is_empty())
        .flat_map(|class| [Some(class.rated.1), class.tapped.map(|rated| rated.1)])
        .flatten()
        .collect();
    currents.sort_by(f64::total_cmp);
    currents.dedup();
    let mut found: Option<Pattern> = None;
    let alone = classes.iter().enumerate().filter(|(_, class)| class.direct);
    let patterns = currents
        .iter()
        .filter_map(|&amps| knapsack(classes, amps, supply))
        .chain(alone.filter_map(|(index, class)| filament(index, class)));
    for pattern in patterns {
        if found.as_ref().is_none_or(|best| best.merit < pattern.merit) {
            found = Some(pattern);
        }
    }
    found
}

/// A filament that is the cathode stands by itself.
fn filament(index: usize, class: &Class) -> Option<Pattern> {
    class.left.first()?;
    let (volts, amps) = class.rated;
    let way = Way {
        class: index,
        tapped: false,
        volts,
        amps,
        beside: 1,
    };
    Some(Pattern {
        amps,
        uses: vec![(way, 1)],
        merit: (0, 0, 0),
    })
}

/// The way in which a class wastes least in a string of this current; `None` when it takes more.
fn way(index: usize, class: &Class, amps: f64, most_volts: f64) -> Option<Way> {
    let wirings = [(class.rated, false)].into_iter();
    let wirings = wirings.chain(class.tapped.map(|rated| (rated, true)));
    let ways = wirings.filter_map(|((volts, own), tapped)| {
        let room = (amps * (1.0 + SAME_SHARE) / own) as usize;
        let beside = room.min(MOST_BESIDE).min(class.left.len());
        (0 < beside && volts <= most_volts).then_some(Way {
            class: index,
            tapped,
            volts,
            amps: own,
            beside,
        })
    });
    ways.reduce(|best, next| {
        let filled = |way: &Way| way.amps * way.beside as f64;
        let (old, new) = (filled(&best), filled(&next));
        let fuller = old * (1.0 + SAME_SHARE) < new;
        let simpler = old <= new * (1.0 + SAME_SHARE) && next.beside < best.beside;
        if fuller || simpler { next } else { best }
    })
}

/// What a column of the table holds: watts that heat, and links that are not simple, negative.
type Worth = (f64, i64);

/// The fullest string of this current: of all choices of links whose volts the supply reaches, the one with the most watts
/// in heaters, by the usual table over volts (every number of links of a class tried on every sum of the classes before).
fn knapsack(classes: &[Class], amps: f64, supply: Supply) -> Option<Pattern> {
    let (least, most) = window(supply);
    let grain = GRAIN.max(most / MOST_STEPS as f64);
    let steps = (most / grain + 1e-6) as usize;
    let ways: Vec<Way> = classes
        .iter()
        .enumerate()
        .filter(|(_, class)| !class.direct && !class.left.is_empty())
        .filter_map(|(index, class)| way(index, class, amps, most))
        .collect();
    let mut table: Vec<Option<Worth>> = vec![None; steps + 1];
    table[0] = Some((0.0, 0));
    let mut choices: Vec<Vec<u32>> = Vec::new();
    for way in &ways {
        let width = width(way, grain, steps);
        let tubes = classes[way.class].left.len();
        let before = table.clone();
        let mut choice = vec![0; steps + 1];
        for (step, cell) in table.iter_mut().enumerate() {
            for links in 1..=tubes.div_ceil(way.beside).min(step / width) {
                let Some((watts, plain)) = before[step - links * width] else {
                    continue;
                };
                let heaters = tubes.min(links * way.beside);
                let worth = (
                    watts + way.volts * way.amps * heaters as f64,
                    plain - way.cost(links, heaters, amps),
                );
                if cell.is_none_or(|old| better(worth, old)) {
                    *cell = Some(worth);
                    choice[step] = links as u32;
                }
            }
        }
        choices.push(choice);
    }
    let merit = |step: usize, worth: Worth| {
        let volts = step as f64 * grain;
        let drops = volts < least - 0.5 * grain;
        let share = worth.0 / (amps * supply.volts.max(volts));
        let away = ((volts - supply.volts).abs() / grain).round() as i64;
        (
            (share / EFFICIENCY_STEP).round() as i64,
            worth.1 - i64::from(drops),
            -away,
        )
    };
    let all = table.iter().enumerate().skip(1);
    let (mut step, merit) = all
        .filter_map(|(step, worth)| Some((step, merit(step, (*worth)?))))
        .max_by_key(|(_, merit)| *merit)?;
    let mut uses = Vec::new();
    for (way, choice) in ways.iter().zip(&choices).rev() {
        let links = choice[step] as usize;
        step -= links * width(way, grain, steps);
        if 0 < links {
            uses.push((*way, links));
        }
    }
    uses.reverse();
    Some(Pattern { amps, uses, merit })
}

/// Steps that a link takes up: rounded up, so that no row passes the volts that the supply reaches.
fn width(way: &Way, grain: f64, steps: usize) -> usize {
    ((way.volts / grain - 1e-6).ceil() as usize).clamp(1, steps.max(1))
}

fn better(new: Worth, old: Worth) -> bool {
    let step = |watts: f64| (watts / 1e-9).round() as i64;
    (step(new.0), new.1) > (step(old.0), old.1)
}

impl Way {
    /// Shunts, taps and heaters side by side in so many links of so many heaters.
    fn cost(&self, links: usize, heaters: usize, amps: f64) -> i64 {
        let shunted = self.amps * self.beside as f64 * (1.0 + SAME_SHARE) < amps;
        let last_shunted = !shunted && heaters < links * self.beside;
        let shunts = if shunted {
            links
        } else {
            usize::from(last_shunted)
        };
        let taps = if self.tapped { heaters } else { 0 };
        (2 * shunts + taps + heaters - links) as i64
    }
}

impl Pattern {
    /// Whether a further string of this kind can be made, no link short of heaters.
    fn enough(&self, classes: &[Class]) -> bool {
        let mut uses = self.uses.iter();
        uses.all(|(way, links)| links * way.beside <= classes[way.class].left.len())
    }

    /// A string of this kind from what is left; the last link of a way gets what there is.
    fn take(&self, classes: &mut [Class], group: usize) -> Draft {
        let mut links = Vec::new();
        for (way, count) in &self.uses {
            for _ in 0..*count {
                let left = &mut classes[way.class].left;
                let heaters: Vec<Placed> = left
                    .drain(..way.beside.min(left.len()))
                    .map(|tube| Placed {
                        tube,
                        tapped: way.tapped,
                    })
                    .collect();
                links.push(DraftLink {
                    volts: way.volts,
                    amps: way.amps * heaters.len() as f64,
                    heaters,
                });
            }
        }
        links.sort_by_key(|link| link.heaters.first().map(|first| first.tube));
        Draft {
            group,
            amps: self.amps,
            links,
        }
    }
}

/// Strings of a single link without resistors become one, their heaters side by side; below `least` volts a dropper is needed.
fn side_by_side(drafts: Vec<Draft>, tubes: &[Candidate], least: f64) -> Vec<Draft> {
    let mut merged: Vec<Draft> = Vec::new();
    for draft in drafts {
        let single = |draft: &Draft| {
            let [link] = &draft.links[..] else {
                return None;
            };
            let direct = link.heaters.iter().any(|one| tubes[one.tube].direct);
            let full = draft.amps <= link.amps * (1.0 + SAME_SHARE) && least <= link.volts;
            let room = link.heaters.len() < MOST_PARALLEL;
            (!direct && full && room).then_some(link.volts)
        };
        let volts = single(&draft);
        let place = merged
            .iter()
            .position(|other| volts.is_some() && single(other) == volts);
        match place {
            Some(place) if draft.links[0].heaters.len() == 1 => {
                let other = &mut merged[place];
                other.amps += draft.amps;
                other.links[0].amps += draft.links[0].amps;
                other.links[0].heaters.extend(&draft.links[0].heaters);
            }
            _ => merged.push(draft),
        }
    }
    merged
}

/// Amperes that a link lacks of its string's; `None` where they are alike.
pub(super) fn lacking(link: &DraftLink, amps: f64) -> Option<f64> {
    (link.amps * (1.0 + SAME_SHARE) < amps).then_some(amps - link.amps)
}
