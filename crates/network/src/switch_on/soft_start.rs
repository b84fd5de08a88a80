//! A resistor before the heaters of a supply, shorted when they are warm: so that cold heaters take little more than warm ones.
//!
//! All strings of a supply share the resistor, so they are solved together: side by side, in series with it. What the law
//! of a heater is stands in [`devices::heater`].

use crate::heaters::chain::{Chain, Divided, Kind};
use crate::heaters::supplies::supply_of;
use crate::heaters::warming::{LONGEST, STEPS, Warming, burns_out, warming};
use crate::heaters::{HeaterAssumptions, between_supplies};
use crate::plan::Plan;
use crate::preferred;
use design::model::NetId;

/// The most that the strings may take at switch-on and whenever a resistor is shorted, over what they take when running: of
/// a computer whose heaters were brought up through thermistors (Gano and Sandy, IRE Transactions on Electronic Computers,
/// March 1958, pp. 61-64, abstract).
pub const MOST_SHARE: f64 = 1.2;

/// Rounds in which the resistors are made to fit one another: chosen, each adds one at most; two resistors are enough for
/// plain strings.
const TRIES: usize = 6;
/// A heater is as warm as it gets behind a resistor when what it is given and what it gives off differ by less than a
/// hundredth of its rated watts, ten times the measure of [`Warming::unrest`]: chosen.
const STILL: f64 = 10.0;
/// A time to short a resistor is a whole number of these, s: chosen, a timer is set so.
const WHOLE_SECONDS: f64 = 5.0;
/// Halvings in the search for volts behind a resistor: to rounding.
const HALVINGS: usize = 60;

/// A resistor of the proposal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// E24 value, ohm.
    pub ohms: f64,
    /// The most that it takes, W.
    pub watts: f64,
    /// Current when this step begins, A.
    pub amps: f64,
    /// Volts of the strings at its end, over those of the supply.
    pub share: f64,
    /// When it is shorted, s after switch-on.
    pub seconds: f64,
}

/// What a string goes through.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Passing {
    /// Index into the design's strings.
    pub string: usize,
    /// Index into its links.
    pub link: usize,
    /// The highest volts over the rating that any of its heaters passes, over all.
    pub share: f64,
    /// These volts.
    pub volts: f64,
    /// When, s after switch-on.
    pub seconds: f64,
}

/// The proposal for one heater supply.
#[derive(Debug, Clone, PartialEq)]
pub struct SoftStart {
    /// The supply's two sides, the one nearer to ground first.
    pub between: [NetId; 2],
    /// Indices of the strings behind the resistors.
    pub strings: Vec<usize>,
    /// Indices of the strings beside them that a thermistor of their own holds back, and that are not counted here.
    pub with_thermistors: Vec<usize>,
    /// Current of all of them when running, A.
    pub running_amps: f64,
    /// Current when switched on cold without a resistor, A, with the usual cold resistance.
    pub cold_amps: f64,
    /// Resistors in the order in which they are shorted; none where none is wanted.
    pub steps: Vec<Step>,
    /// Current when the last is shorted, A.
    pub last_amps: f64,
    /// What every string goes through with the resistors; empty where its heaters are not followed.
    pub passing: Vec<Passing>,
}

/// Two sides of a supply, and the strings between them.
struct Supply {
    between: [NetId; 2],
    volts: f64,
    chains: Vec<(usize, Chain)>,
    with_thermistors: Vec<usize>,
}

/// Proposals for every pair of supplies that strings hang between.
#[must_use]
pub fn soft_starts(plan: &Plan, assumptions: &HeaterAssumptions) -> Vec<SoftStart> {
    let design = plan.design;
    let mut supplies: Vec<Supply> = Vec::new();
    for (index, string) in design.strings.iter().enumerate() {
        let Some(between) = supply_of(design, string) else {
            continue;
        };
        let Some((chain, [_, volts, _])) = between_supplies(plan, string, assumptions) else {
            continue;
        };
        let place = supplies.iter().position(|supply| supply.between == between);
        let place = place.unwrap_or_else(|| {
            supplies.push(Supply {
                between,
                volts: volts.abs(),
                chains: Vec::new(),
                with_thermistors: Vec::new(),
            });
            supplies.len() - 1
        });
        // A thermistor is a soft start of its own.
        let mut kinds = chain.links.iter().flatten().map(|branch| branch.kind);
        if kinds.any(|kind| matches!(kind, Kind::Thermistor { .. })) {
            supplies[place].with_thermistors.push(index);
        } else {
            supplies[place].chains.push((index, chain));
        }
    }
    let live = supplies.into_iter().filter(|supply| 0.0 < supply.volts);
    live.map(|supply| proposal(supply, assumptions)).collect()
}

/// The proposal for one supply; without resistors where every string has a thermistor.
fn proposal(supply: Supply, assumptions: &HeaterAssumptions) -> SoftStart {
    let soft = SoftStart {
        between: supply.between,
        strings: supply.chains.iter().map(|chain| chain.0).collect(),
        with_thermistors: supply.with_thermistors,
        running_amps: 0.0,
        cold_amps: 0.0,
        steps: Vec::new(),
        last_amps: 0.0,
        passing: Vec::new(),
    };
    if supply.chains.is_empty() {
        return soft;
    }
    Heated::new(supply.chains, supply.volts).proposal(soft, assumptions)
}

/// Strings side by side on one supply; those that are alike once.
struct Heated {
    chains: Vec<Chain>,
    /// Which strings each of them is.
    strings: Vec<Vec<usize>>,
    volts: f64,
}

impl Heated {
    fn new(all: Vec<(usize, Chain)>, volts: f64) -> Self {
        let mut heated = Self {
            chains: Vec::new(),
            strings: Vec::new(),
            volts,
        };
        for (string, chain) in all {
            match heated.chains.iter().position(|known| *known == chain) {
                Some(known) => heated.strings[known].push(string),
                None => {
                    heated.chains.push(chain);
                    heated.strings.push(vec![string]);
                }
            }
        }
        heated
    }

    /// The sum over all strings of what each takes.
    fn sum(&self, amps: impl Fn(&Chain) -> f64) -> f64 {
        let each = self.chains.iter().zip(&self.strings);
        each.map(|(chain, strings)| strings.len() as f64 * amps(chain))
            .sum()
    }

    fn cold_ohms(&self, hot_over_cold: f64) -> f64 {
        1.0 / self.sum(|chain| chain.cold_amps(1.0, hot_over_cold))
    }

    /// Volts of the strings at rest behind a resistor.
    fn rest_volts(&self, ohms: f64) -> f64 {
        let (mut low, mut high) = (0.0, self.volts);
        for _ in 0..HALVINGS {
            let middle = 0.5 * (low + high);
            let amps = self.sum(|chain| chain.at_rest(middle).amps);
            if middle + ohms * amps < self.volts {
                low = middle;
            } else {
                high = middle;
            }
        }
        high
    }

    /// Resistance of the strings as they are at rest behind a resistor, before they have had time to change.
    fn warm_ohms(&self, ohms: f64) -> f64 {
        let volts = self.rest_volts(ohms);
        volts / self.sum(|chain| chain.at_rest(volts).amps)
    }

    /// The resistors in the order in which they are shorted.
    fn resistors(&self, most_amps: f64, hot_over_cold: f64) -> Vec<f64> {
        let wanted = |strings_ohms: f64| self.volts / most_amps - strings_ohms;
        let mut totals = vec![wanted(self.cold_ohms(hot_over_cold))];
        let mut resistors = in_steps(&totals);
        for _ in 0..TRIES {
            let left = |from: usize| resistors[from..].iter().sum::<f64>();
            let mut enough = true;
            // What must stay in when each is shorted follows from what was in before, with rounded values.
            for shorted in 0..resistors.len() {
                let needed = wanted(self.warm_ohms(left(shorted)));
                if left(shorted + 1) < needed {
                    enough = false;
                    match totals.get_mut(shorted + 1) {
                        Some(total) => *total = needed,
                        None => totals.push(needed),
                    }
                }
            }
            if enough {
                break;
            }
            resistors = in_steps(&totals);
        }
        resistors
    }

    fn proposal(self, soft: SoftStart, assumptions: &HeaterAssumptions) -> SoftStart {
        let [_, usual, most] = assumptions.hot_over_cold;
        let running_amps = self.sum(|chain| chain.at_rest(self.volts).amps);
        let resistors = self.resistors(MOST_SHARE * running_amps, most);
        let mut soft = SoftStart {
            running_amps,
            cold_amps: self.volts / self.cold_ohms(usual),
            ..soft
        };
        let mut strings_ohms = self.cold_ohms(most);
        for (index, &ohms) in resistors.iter().enumerate() {
            let total: f64 = resistors[index..].iter().sum();
            let amps = self.volts / (total + strings_ohms);
            soft.steps.push(Step {
                ohms,
                watts: 0.0,
                amps,
                share: self.rest_volts(total) / self.volts,
                seconds: 0.0,
            });
            strings_ohms = self.warm_ohms(total);
        }
        soft.last_amps = self.volts / strings_ohms;
        // A resistor is in the way from the beginning until it is shorted, and takes most when a step begins.
        let mut highest: f64 = 0.0;
        for step in &mut soft.steps {
            highest = highest.max(step.amps);
            step.watts = highest * highest * step.ohms;
        }
        self.follow(&mut soft);
        soft
    }

    /// Follows the strings from cold through all steps: times to short, and the highest volts.
    fn follow(&self, soft: &mut SoftStart) {
        if self.chains.iter().any(|chain| burns_out(chain, self.volts)) {
            return;
        }
        let Some(mut warming) = SideBySide::new(&self.chains) else {
            return;
        };
        let counts: Vec<f64> = self
            .strings
            .iter()
            .map(|strings| strings.len() as f64)
            .collect();
        let mut highest = vec![
            Passing {
                string: 0,
                link: 0,
                share: 0.0,
                volts: 0.0,
                seconds: 0.0
            };
            self.chains.len()
        ];
        for index in 0..=soft.steps.len() {
            let ohms: f64 = soft.steps[index..].iter().map(|step| step.ohms).sum();
            warming.until_still(self, ohms, &counts, index < soft.steps.len(), &mut highest);
            if let Some(step) = soft.steps.get_mut(index) {
                step.seconds = warming.seconds;
            }
        }
        for (strings, highest) in self.strings.iter().zip(highest) {
            let each = strings.iter().map(|&string| Passing { string, ..highest });
            soft.passing.extend(each);
        }
        soft.passing.sort_by_key(|passing| passing.string);
    }
}

/// E24 resistors of which those from each on have at least that total together.
fn in_steps(totals: &[f64]) -> Vec<f64> {
    let (mut resistors, mut left) = (Vec::new(), 0.0);
    for total in totals.iter().rev() {
        let own = rounded_up(total - left);
        if 0.0 < own {
            resistors.push(own);
            left += own;
        }
    }
    resistors.reverse();
    resistors
}

/// The next E24 value; 0 for nothing.
fn rounded_up(ohms: f64) -> f64 {
    // A value of the series itself is kept: `neighbours` leaves out what lies within a thousandth.
    let next = preferred::neighbours(ohms * (1.0 - 2e-3), true, 1);
    next.first().copied().unwrap_or(0.0)
}

/// Chains that warm up side by side.
struct SideBySide {
    parts: Vec<Vec<Warming>>,
    /// What stands for the temperature of every part.
    states: Vec<Vec<f64>>,
    step: f64,
    seconds: f64,
}

impl SideBySide {
    /// Cold; `None` when no heater warms up.
    fn new(chains: &[Chain]) -> Option<Self> {
        let parts: Vec<Vec<Warming>> = chains.iter().map(warming).collect();
        let all = || parts.iter().flatten();
        all().find_map(Warming::heater_volts)?;
        let shortest = all().map(Warming::seconds).min_by(f64::total_cmp)?;
        let cold = |parts: &Vec<Warming>| parts.iter().map(Warming::cold).collect();
        Some(Self {
            states: parts.iter().map(cold).collect(),
            parts,
            step: shortest / STEPS,
            seconds: 0.0,
        })
    }

    /// Goes on behind a resistor until nothing warms up any more, and then to a whole time if `whole`; notes the highest
    /// volts of each chain.
    fn until_still(
        &mut self,
        heated: &Heated,
        ohms: f64,
        counts: &[f64],
        whole: bool,
        highest: &mut [Passing],
    ) {
        let begun = self.seconds;
        let mut still_at: Option<f64> = None;
        loop {
            let now = self.divided(heated, &self.states, ohms, counts);
            self.note(&now, highest);
            let first = self.slopes(&self.states, &now);
            let states = self.states.iter().flatten();
            let moving = self
                .parts
                .iter()
                .flatten()
                .zip(states)
                .zip(first.iter().flatten());
            let still = moving
                .map(|((part, &state), &slope)| part.unrest(state, slope))
                .all(|unrest| unrest < STILL);
            if still && still_at.is_none() {
                let from = self.seconds;
                still_at = Some(if whole {
                    (from / WHOLE_SECONDS).ceil() * WHOLE_SECONDS
                } else {
                    from
                });
            }
            if still_at.is_some_and(|end| end <= self.seconds) || LONGEST < self.seconds - begun {
                break;
            }
            let step = still_at.map_or(self.step, |end| self.step.min(end - self.seconds));
            let ahead = moved(&self.states, &first, step);
            let second = self.slopes(&ahead, &self.divided(heated, &ahead, ohms, counts));
            let half = moved(&self.states, &first, 0.5 * step);
            self.states = moved(&half, &second, 0.5 * step);
            self.seconds += step;
        }
        if let Some(end) = still_at.filter(|_| whole) {
            self.seconds = end;
        }
    }

    /// How the volts divide: in all strings, and in the resistor.
    fn divided(
        &self,
        heated: &Heated,
        states: &[Vec<f64>],
        ohms: f64,
        counts: &[f64],
    ) -> Vec<Divided> {
        let at = |chain: usize, volts: f64| {
            heated.chains[chain].divided(volts, |link, branch, part| match part.kind {
                Kind::Resistor(ohms) => ohms,
                _ => {
                    let mut parts = self.parts[chain].iter().zip(&states[chain]);
                    let own = parts.find(|(part, _)| (part.link, part.branch) == (link, branch));
                    own.map_or(part.hot_ohms(), |(part, &state)| part.ohms(state))
                }
            })
        };
        let one_volt: Vec<Divided> = (0..heated.chains.len())
            .map(|chain| at(chain, 1.0))
            .collect();
        let siemens: f64 = one_volt
            .iter()
            .zip(counts)
            .map(|(divided, count)| count * divided.amps)
            .sum();
        let volts = heated.volts / (1.0 + ohms * siemens);
        let scaled = |divided: Divided| Divided {
            link_volts: divided
                .link_volts
                .iter()
                .map(|share| volts * share)
                .collect(),
            amps: volts * divided.amps,
        };
        one_volt.into_iter().map(scaled).collect()
    }

    /// How fast the state of every part changes.
    fn slopes(&self, states: &[Vec<f64>], divided: &[Divided]) -> Vec<Vec<f64>> {
        let chains = self.parts.iter().zip(states).zip(divided);
        chains
            .map(|((parts, states), divided)| {
                let all = parts.iter().zip(states);
                all.map(|(part, &state)| part.slope(state, divided.link_volts[part.link]))
                    .collect()
            })
            .collect()
    }

    fn note(&self, now: &[Divided], highest: &mut [Passing]) {
        for ((parts, divided), highest) in self.parts.iter().zip(now).zip(highest) {
            for part in parts {
                let Some(rated) = part.heater_volts() else {
                    continue;
                };
                let volts = divided.link_volts[part.link];
                if highest.share < volts / rated {
                    *highest = Passing {
                        share: volts / rated,
                        link: part.link,
                        volts,
                        seconds: self.seconds,
                        ..*highest
                    };
                }
            }
        }
    }
}

fn moved(states: &[Vec<f64>], slopes: &[Vec<f64>], step: f64) -> Vec<Vec<f64>> {
    let chains = states.iter().zip(slopes);
    chains
        .map(|(states, slopes)| {
            let all = states.iter().zip(slopes);
            all.map(|(state, slope)| slope.mul_add(step, *state))
                .collect()
        })
        .collect()
}
