//! A heater string between two supplies: links in series, each of one branch or several side by side.
//!
//! No network is needed: the volts across a link are the string's current over the sum of its branches' conductances
//! (Kirchhoff). What takes turns is the resistance of the heaters, which follows their own volts.

use devices::ballast::BallastLaw;
use devices::heater::HeaterLaw;
use devices::thermistor::ThermistorLaw;

/// One part of a string.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Branch {
    /// What it is.
    pub kind: Kind,
    /// How far the current of a heater or ballast tube, or the resistance of anything else, may be from the stated: a share,
    /// either way.
    pub spread: f64,
}

/// What a branch is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Kind {
    /// A heater.
    Heater {
        /// Its law at rest.
        law: HeaterLaw,
        /// h of [`devices::heater`], s.
        thermal_seconds: f64,
    },
    /// A resistor, or a conductor, ohm.
    Resistor(f64),
    /// A thermistor; alone in its link.
    Thermistor {
        /// Its law.
        law: ThermistorLaw,
        /// Resistance with the current that it was chosen for, ohm.
        hot_ohms: f64,
    },
    /// A ballast tube.
    Ballast(BallastLaw),
}

/// The links of a string in order.
#[derive(Debug, Clone, PartialEq)]
pub struct Chain {
    /// Each with its branches.
    pub links: Vec<Vec<Branch>>,
}

/// A string whose resistances are what they are.
#[derive(Debug, Clone, PartialEq)]
pub struct Divided {
    /// Volts across each link.
    pub link_volts: Vec<f64>,
    /// Current, A.
    pub amps: f64,
}

/// Rounds in which the resistances follow the volts. Every round leaves at most 0.4 of the error, because R ~ V^0.4, so
/// some sixty come to rounding from anywhere; a ballast tube, where nearly R ~ V, takes more of them.
const ROUNDS: usize = 500;

/// Currents that are tried between next to none and the most that can flow, for the first at which thermistors stay as they
/// are: chosen, a hundredth of a power of ten apart.
const TRIED: usize = 400;

impl Chain {
    /// How `volts` across the whole string divide when each branch has the resistance that `ohms` gives for it, by link and
    /// branch.
    #[must_use]
    pub fn divided(&self, volts: f64, ohms: impl Fn(usize, usize, &Branch) -> f64) -> Divided {
        let mut link_ohms: Vec<f64> = Vec::with_capacity(self.links.len());
        for (index, link) in self.links.iter().enumerate() {
            let branches = link.iter().enumerate();
            let siemens: f64 = branches
                .map(|(branch, part)| 1.0 / ohms(index, branch, part))
                .sum();
            link_ohms.push(1.0 / siemens);
        }
        let amps = volts / link_ohms.iter().sum::<f64>();
        for ohms in &mut link_ohms {
            *ohms *= amps;
        }
        Divided {
            link_volts: link_ohms,
            amps,
        }
    }

    /// The string at rest with these volts across it.
    ///
    /// With thermistors there may be several points of rest; it comes from cold to the one of the smallest current.
    #[must_use]
    pub fn at_rest(&self, volts: f64) -> Divided {
        let mut kinds = self.links.iter().flatten().map(|branch| branch.kind);
        if !kinds.any(|kind| matches!(kind, Kind::Thermistor { .. })) {
            return self.settled(volts, 0.0);
        }
        let most = self.settled(volts, f64::INFINITY).amps.abs();
        // How much more would flow than keeps the thermistors as they are.
        let more = |amps: f64| self.settled(volts, amps).amps.abs() - amps;
        let tried = |step: usize| most * 10_f64.powf(0.01 * (step as f64 - TRIED as f64));
        let Some(first) = (0..=TRIED).find(|&step| more(tried(step)) <= 0.0) else {
            return self.settled(volts, most);
        };
        let (mut low, mut high) = (tried(first.max(1) - 1), tried(first));
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if more(middle) > 0.0 {
                low = middle;
            } else {
                high = middle;
            }
        }
        self.settled(volts, low)
    }

    /// The string at rest with its thermistors as a current of `through` A keeps them.
    fn settled(&self, volts: f64, through: f64) -> Divided {
        let held = |law: &ThermistorLaw| law.ohms_with(through.min(1e3));
        let of_links = self.links.iter().map(|link| match link[..] {
            [
                Branch {
                    kind: Kind::Thermistor { law, .. },
                    ..
                },
            ] => held(&law),
            _ => 0.0,
        });
        let thermistors: Vec<f64> = of_links.collect();
        let mut rest = self.divided(volts, |_, _, branch| branch.hot_ohms());
        for _ in 0..ROUNDS {
            let next = self.divided(volts, |link, _, branch| match branch.kind {
                Kind::Heater { law, .. } => law.ohms(rest.link_volts[link]),
                Kind::Ballast(law) => law.ohms(rest.link_volts[link]),
                Kind::Resistor(ohms) => ohms,
                Kind::Thermistor { .. } => thermistors[link],
            });
            let still = next
                .link_volts
                .iter()
                .zip(&rest.link_volts)
                .all(|(now, before)| (now - before).abs() <= 4.0 * f64::EPSILON * volts.abs());
            rest = next;
            if still {
                break;
            }
        }
        rest
    }

    /// The current when it is switched on with every heater at this many times less than its hot resistance, A.
    #[must_use]
    pub fn cold_amps(&self, volts: f64, hot_over_cold: f64) -> f64 {
        let cold = self.divided(volts, |_, _, branch| match branch.kind {
            Kind::Heater { law, .. } => law.hot_ohms() / hot_over_cold,
            Kind::Ballast(law) => BallastLaw {
                cold_share: 1.0 / hot_over_cold,
                ..law
            }
            .cold_ohms(),
            Kind::Resistor(ohms) => ohms,
            Kind::Thermistor { law, .. } => law.cold_ohms,
        });
        cold.amps
    }

    /// The string with all its parts at the end of their spread that gives the most volts to a link, or the least: the
    /// resistances of that link at one end and those of all others at the other.
    #[must_use]
    pub fn extreme(&self, link: usize, most: bool) -> Self {
        self.changed(|index, branch| {
            let up = (index == link) == most;
            let share = if up { branch.spread } else { -branch.spread };
            match &mut branch.kind {
                // More resistance is less current.
                Kind::Heater { law, .. } => law.amps *= 1.0 - share,
                Kind::Ballast(law) => law.amps *= 1.0 - share,
                Kind::Resistor(ohms) => *ohms *= 1.0 + share,
                Kind::Thermistor { law, .. } => law.cold_ohms *= 1.0 + share,
            }
        })
    }

    /// The string with one link's heaters quicker by a share and all others slower by it.
    #[must_use]
    pub fn uneven(&self, link: usize, share: f64) -> Self {
        self.changed(|index, branch| {
            let factor = if index == link {
                1.0 - share
            } else {
                1.0 + share
            };
            if let Kind::Heater {
                thermal_seconds, ..
            } = &mut branch.kind
            {
                *thermal_seconds *= factor;
            }
        })
    }

    /// The string with every part changed, given the link that it is in.
    fn changed(&self, change: impl Fn(usize, &mut Branch)) -> Self {
        let mut changed = self.clone();
        for (index, link) in changed.links.iter_mut().enumerate() {
            for branch in link {
                change(index, branch);
            }
        }
        changed
    }
}

impl Branch {
    /// Resistance at its rating, ohm.
    #[must_use]
    pub fn hot_ohms(&self) -> f64 {
        match self.kind {
            Kind::Heater { law, .. } => law.hot_ohms(),
            Kind::Ballast(law) => law.hot_ohms(),
            Kind::Resistor(ohms) => ohms,
            Kind::Thermistor { hot_ohms, .. } => hot_ohms,
        }
    }
}
