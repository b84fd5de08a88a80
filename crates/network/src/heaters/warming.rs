//! What a heater string goes through after it is switched on.

use super::chain::{Branch, Chain, Divided, Kind};
use devices::ballast::FOLLOWS_SECONDS;

/// A string followed in time.
#[derive(Debug, Clone, PartialEq)]
pub struct WarmUp {
    /// Times, s, from 0 until nothing in it changes any more, or [`LONGEST`] is over.
    pub seconds: Vec<f64>,
    /// Volts across each link at these times, by link.
    pub link_volts: Vec<Vec<f64>>,
    /// Current of the string at these times, A.
    pub amps: Vec<f64>,
}

/// Nothing is followed longer than this, s.
pub const LONGEST: f64 = 300.0;

/// Steps in the shortest time of a string's parts: chosen.
pub(crate) const STEPS: f64 = 200.0;

/// Steps from one kept time to the next.
const KEPT: usize = 10;

/// A heater at rest at more than this many times its rated volts burns out on the way there: chosen.
const BURNS_OUT: f64 = 2.0;

/// A part whose resistance follows its temperature. What stands for the temperature is, of a heater, its share of the hot
/// resistance; of a ballast tube, its resistance, ohm; of a thermistor, the kelvin that it is above the room.
pub(crate) struct Warming {
    pub(crate) link: usize,
    pub(crate) branch: usize,
    pub(crate) kind: Kind,
}

impl Warming {
    fn of(link: usize, branch: usize, part: &Branch) -> Option<Self> {
        let kind = part.kind;
        (!matches!(kind, Kind::Resistor(_))).then_some(Self { link, branch, kind })
    }

    pub(crate) fn cold(&self) -> f64 {
        match self.kind {
            Kind::Heater { law, .. } => law.cold_share,
            Kind::Ballast(law) => law.cold_ohms(),
            Kind::Thermistor { .. } | Kind::Resistor(_) => 0.0,
        }
    }

    pub(crate) fn ohms(&self, state: f64) -> f64 {
        match self.kind {
            Kind::Heater { law, .. } => law.hot_ohms() * state,
            Kind::Thermistor { law, .. } => law.ohms(state),
            Kind::Ballast(_) | Kind::Resistor(_) => state,
        }
    }

    /// The time in which it follows, s.
    pub(crate) fn seconds(&self) -> f64 {
        match self.kind {
            Kind::Heater {
                thermal_seconds, ..
            } => thermal_seconds,
            Kind::Thermistor { law, .. } => law.seconds,
            Kind::Ballast(_) | Kind::Resistor(_) => FOLLOWS_SECONDS,
        }
    }

    /// How fast its state changes with these volts across it, 1/s: h dr/dt = p - q(r) for a heater, see
    /// [`devices::heater`].
    pub(crate) fn slope(&self, state: f64, volts: f64) -> f64 {
        match self.kind {
            Kind::Heater {
                law,
                thermal_seconds,
            } => {
                let share = volts / law.volts;
                (share * share / state - law.given_off(state)) / thermal_seconds
            }
            Kind::Thermistor { law, .. } => {
                law.kelvin_per_second(state, volts * volts / law.ohms(state))
            }
            Kind::Ballast(law) => (law.ohms(volts) - state) / FOLLOWS_SECONDS,
            Kind::Resistor(_) => 0.0,
        }
    }

    /// How far it is from where it goes: 1 where a heater is given a thousandth of its rated watts more than it gives off, a
    /// ballast tube is a thousandth off its resistance, a thermistor a tenth of a kelvin off.
    pub(crate) fn unrest(&self, state: f64, slope: f64) -> f64 {
        let unit = match self.kind {
            Kind::Heater { .. } => 1e-3,
            Kind::Thermistor { .. } => 0.1,
            Kind::Ballast(_) | Kind::Resistor(_) => 1e-3 * state,
        };
        slope.abs() * self.seconds() / unit
    }

    /// Rated volts of a heater.
    pub(crate) fn heater_volts(&self) -> Option<f64> {
        match self.kind {
            Kind::Heater { law, .. } => Some(law.volts),
            _ => None,
        }
    }
}

/// Whether a heater of the chain would end at more than twice its rated volts with these across the chain.
pub(crate) fn burns_out(chain: &Chain, volts: f64) -> bool {
    let rest = chain.at_rest(volts);
    warming(chain).iter().any(|part| {
        let rated = part.heater_volts();
        rated.is_some_and(|rated| BURNS_OUT * rated < rest.link_volts[part.link].abs())
    })
}

/// Follows a string from cold with these volts across it. `None` when no heater in it warms up, or one would end at more
/// than twice its rated volts: what it does until then nobody needs to know, and the steps are not made for it.
///
/// By Heun's rule (second order).
#[must_use]
pub fn warm_up(chain: &Chain, volts: f64) -> Option<WarmUp> {
    let warming = warming(chain);
    warming.iter().find_map(Warming::heater_volts)?;
    (!burns_out(chain, volts)).then(|| followed(chain, &warming, volts))
}

/// Its parts whose resistance follows their temperature.
pub(crate) fn warming(chain: &Chain) -> Vec<Warming> {
    let links = chain.links.iter().enumerate();
    let parts = links.flat_map(|(link, branches)| {
        let branches = branches.iter().enumerate();
        branches.filter_map(move |(branch, part)| Warming::of(link, branch, part))
    });
    parts.collect()
}

fn followed(chain: &Chain, warming: &[Warming], volts: f64) -> WarmUp {
    let times = warming.iter().map(Warming::seconds);
    let step = times.fold(LONGEST, f64::min) / STEPS;
    let mut states: Vec<f64> = warming.iter().map(Warming::cold).collect();
    // Where in `states` each branch stands.
    let mut places: Vec<Vec<usize>> = chain.links.iter().map(|link| vec![0; link.len()]).collect();
    for (place, part) in warming.iter().enumerate() {
        places[part.link][part.branch] = place;
    }
    let divided = |states: &[f64]| {
        chain.divided(volts, |link, branch, part| match part.kind {
            Kind::Resistor(ohms) => ohms,
            _ => {
                let place = places[link][branch];
                warming[place].ohms(states[place])
            }
        })
    };
    let slopes = |states: &[f64], divided: &Divided, slopes: &mut Vec<f64>| {
        slopes.clear();
        let all = warming.iter().zip(states);
        slopes.extend(all.map(|(part, &state)| part.slope(state, divided.link_volts[part.link])));
    };
    let mut warm = WarmUp {
        seconds: Vec::new(),
        link_volts: vec![Vec::new(); chain.links.len()],
        amps: Vec::new(),
    };
    let (mut first, mut second) = (Vec::new(), Vec::new());
    let mut ahead = states.clone();
    let most_steps = (LONGEST / step) as usize;
    for count in 0..=most_steps {
        let now = divided(&states);
        slopes(&states, &now, &mut first);
        let mut all = warming.iter().zip(&states).zip(&first);
        let still = all.all(|((part, &state), &slope)| part.unrest(state, slope) < 1.0);
        if count % KEPT == 0 || still {
            warm.seconds.push(step * count as f64);
            for (kept, volts) in warm.link_volts.iter_mut().zip(&now.link_volts) {
                kept.push(*volts);
            }
            warm.amps.push(now.amps);
        }
        if still {
            break;
        }
        for ((ahead, state), slope) in ahead.iter_mut().zip(&states).zip(&first) {
            *ahead = state + step * slope;
        }
        slopes(&ahead, &divided(&ahead), &mut second);
        for ((state, first), second) in states.iter_mut().zip(&first).zip(&second) {
            *state += 0.5 * step * (first + second);
        }
    }
    warm
}

impl WarmUp {
    /// The highest volts across a link on the way, and when.
    #[must_use]
    pub fn highest(&self, link: usize) -> (f64, f64) {
        let all = self.link_volts[link].iter().zip(&self.seconds);
        all.map(|(volts, seconds)| (volts.abs(), *seconds))
            .max_by(|left, right| left.0.total_cmp(&right.0))
            .unwrap_or((0.0, 0.0))
    }
}
