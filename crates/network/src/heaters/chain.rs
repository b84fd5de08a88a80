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

#[cfg(test)]
mod tests {
    use super::*;
    use devices::heater::thermal_seconds;

    fn heater(volts: f64, amps: f64) -> Branch {
        let law = HeaterLaw {
            volts,
            amps,
            cold_share: 1.0 / 6.0,
        };
        let kind = Kind::Heater {
            law,
            thermal_seconds: thermal_seconds(&law, 11.0),
        };
        Branch {
            kind,
            spread: 0.083,
        }
    }

    fn resistor(ohms: f64) -> Branch {
        Branch {
            kind: Kind::Resistor(ohms),
            spread: 0.05,
        }
    }

    fn row(branches: &[Branch]) -> Chain {
        Chain {
            links: branches.iter().map(|branch| vec![*branch]).collect(),
        }
    }

    fn near(value: f64, expected: f64, within: f64) {
        assert!(
            (value - expected).abs() <= within,
            "{value}, not {expected}"
        );
    }

    /// Four 6.3 V heaters on 24 V: 6.00 V, -4.8 %; with the supply 5 % low 5.70 V, -9.5 % (worked out; that fluctuation
    /// should stay within 7 % and within 10 % has no serious effect: Radio Constructor, April 1962).
    #[test]
    fn four_heaters_on_24_volts() {
        let chain = row(&[heater(6.3, 0.3); 4]);
        for (supply, volts, percent) in [(24.0, 6.00, -4.8), (22.8, 5.70, -9.5)] {
            let rest = chain.at_rest(supply);
            near(rest.link_volts[2], volts, 1e-12);
            near(100.0 * (rest.link_volts[2] / 6.3 - 1.0), percent, 0.05);
        }
    }

    /// A 175 mA heater in a 150 mA place of 12.6 V has 14 % less resistance, gets 9.75 V at 150 mA, and the unlike pair on
    /// 25.2 V divides 11.0 to 14.2 V (worked out from the running law; heater families as in a hobby text on television
    /// strings).
    #[test]
    fn a_175_milliampere_heater_in_a_150_milliampere_place() {
        let (heavy, light) = (heater(12.6, 0.175), heater(12.6, 0.15));
        near(heavy.hot_ohms() / light.hot_ohms(), 0.86, 0.005);
        // Enough ohms and volts that the current is 150 mA whatever the heater does.
        let driven = row(&[heavy, resistor(1e9)]).at_rest(0.15e9);
        near(driven.link_volts[0], 9.75, 0.01);
        let pair = row(&[heavy, light]).at_rest(25.2);
        near(pair.link_volts[0], 11.0, 0.05);
        near(pair.link_volts[1], 14.2, 0.05);
        near(pair.link_volts.iter().sum(), 25.2, 1e-12);
    }

    /// Nine heaters of 12SN7 in series across the 115 V line stand at 12.8 V each (IBM, Customer Engineering Manual of
    /// Instruction, Electronic Multiplier Type 603, form 22-3838-0, 1948, p. 97; read by machine, so the 115 is not beyond
    /// doubt). One that takes 8 % less current than the others stands at 1/0.92^(1/0.6) = 1.149 times their volts.
    #[test]
    fn nine_heaters_across_the_line_and_one_outlier() {
        let mut branches = [heater(12.6, 0.3); 9];
        near(row(&branches).at_rest(115.0).link_volts[4], 12.8, 0.05);
        branches[4] = heater(12.6, 0.92 * 0.3);
        let rest = row(&branches).at_rest(115.0);
        near(rest.link_volts[4] / rest.link_volts[0], 1.149, 0.001);
        near(rest.link_volts[4], 14.44, 0.02);
        near(rest.link_volts[0], 12.57, 0.01);
    }

    /// A shunt of 42 ohm passes another 150 mA past a 6.3 V heater and takes 0.95 W (worked out), so a 150 mA heater
    /// stands among 300 mA ones at its volts.
    #[test]
    fn a_shunt_makes_up_the_current() {
        let mut chain = row(&[heater(6.3, 0.3); 4]);
        chain.links[1] = vec![heater(6.3, 0.15), resistor(42.0)];
        let rest = chain.at_rest(25.2);
        for volts in &rest.link_volts {
            near(*volts, 6.3, 1e-9);
        }
        near(rest.amps, 0.3, 1e-12);
        near(6.3 * 6.3 / 42.0, 0.95, 0.005);
    }

    /// Of two ends of spread the one that the sign says is the worse: tried against every corner of four heaters.
    #[test]
    fn the_extreme_is_the_worst_of_all_corners() {
        let mut chain = row(&[heater(6.3, 0.3); 3]);
        chain.links.push(vec![heater(6.3, 0.15), resistor(42.0)]);
        let extreme = |most| chain.extreme(1, most).at_rest(25.2).link_volts[1];
        let mut corners = Vec::new();
        for corner in 0..32_u32 {
            let mut moved = chain.clone();
            let parts = moved.links.iter_mut().flatten();
            for (index, branch) in parts.enumerate() {
                let share = if corner >> index & 1 == 1 { 1.0 } else { -1.0 } * branch.spread;
                match &mut branch.kind {
                    Kind::Heater { law, .. } => law.amps *= 1.0 + share,
                    Kind::Resistor(ohms) => *ohms *= 1.0 + share,
                    _ => unreachable!("the string has heaters and resistors"),
                }
            }
            corners.push(moved.at_rest(25.2).link_volts[1]);
        }
        near(
            extreme(true),
            corners.iter().copied().fold(0.0, f64::max),
            1e-12,
        );
        near(
            extreme(false),
            corners.iter().copied().fold(f64::INFINITY, f64::min),
            1e-12,
        );
    }
}
