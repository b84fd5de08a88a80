//! The networks that are timed: a cell of ten gates, and registers of any length.

use devices::diode::{DiodeParameters, SILICON_1N4148_A};
use devices::triode::{RSD_1, TriodeLaw, TriodeParameters};
use network::ensemble::Sample;
use network::equations::Network;
use network::wiring::{ElementKind, GROUND, NodeIndex, Wiring};

/// Leak from every unknown to ground, S; that of the program's solutions.
pub const LEAK_SIEMENS: f64 = 1e-12;

/// A triode of moderate mu: invented for the benchmark, of the order of the small double triodes of the library.
pub const PLAIN: TriodeParameters = TriodeParameters {
    perveance: 8e-3,
    mu: 33.0,
    tail_mu: 33.0,
    ..RSD_1
};

/// The same with every term of the law: a tail near cut-off and the partition of current at low plate volts.
pub const WHOLE: TriodeParameters = TriodeParameters {
    tail_fraction: 0.03,
    tail_mu: 16.0,
    partition_volts: 1.5,
    ..PLAIN
};

struct Rails {
    upper: NodeIndex,
    lower: NodeIndex,
    law: TriodeParameters,
}

impl Rails {
    fn new(wiring: &mut Wiring, law: TriodeParameters) -> Self {
        let [upper, lower] = ["upper", "lower"].map(|name| wiring.node(name, 0.0));
        wiring.hold("upper", upper, 36.0);
        wiring.hold("lower", lower, -24.0);
        Self { upper, lower, law }
    }

    /// One gate with the output node `plate`: a diode for each input, a divider to the lower rail, a plate resistor.
    fn gate(&self, wiring: &mut Wiring, inputs: [NodeIndex; 3], plate: NodeIndex) {
        let [joint, grid] = ["joint", "grid"].map(|name| wiring.node(name, 5e-12));
        for anode in inputs {
            wiring.element(
                "CR",
                ElementKind::Diode {
                    anode,
                    cathode: joint,
                    law: SILICON_1N4148_A,
                },
            );
        }
        wiring.resistor("R1", joint, grid, 680e3);
        wiring.resistor("R2", grid, self.lower, 1.2e6);
        wiring.resistor("R3", self.upper, plate, 82e3);
        wiring.triode("V", [plate, grid, GROUND], TriodeLaw::Tail(self.law));
    }
}

/// Ten gates in a row, ten triodes and thirty diodes with thirty unknowns: each gate takes the gate before, the third
/// before, and a switch that is down.
#[must_use]
pub fn cell(law: TriodeParameters) -> Wiring {
    let mut wiring = Wiring::default();
    let rails = Rails::new(&mut wiring, law);
    let mut nets = ["first", "second", "switch"].map(|name| {
        let net = wiring.node(name, 0.0);
        wiring.hold(name, net, 0.0);
        net
    });
    let switch = nets[2];
    for _ in 0..10 {
        let plate = wiring.node("plate", 5e-12);
        rails.gate(&mut wiring, [nets[2], nets[0], switch], plate);
        nets = [nets[1], nets[2], plate];
    }
    wiring
}

/// A shift register of this many tubes, four gates a stage: every second stage holds, the others follow the stage before.
#[must_use]
pub fn register(tubes: usize) -> Wiring {
    let mut wiring = Wiring::default();
    let rails = Rails::new(&mut wiring, PLAIN);
    let [down, up] = [("down", 0.0), ("up", 33.0)].map(|(name, volts)| {
        let net = wiring.node(name, 0.0);
        wiring.hold(name, net, volts);
        net
    });
    let mut data = up;
    for stage in 0..tubes / 4 {
        let hold = if stage % 2 == 0 { down } else { up };
        let [reset, set, q, not_q] =
            ["reset", "set", "q", "not q"].map(|name| wiring.node(name, 5e-12));
        rails.gate(&mut wiring, [data, hold, down], reset);
        rails.gate(&mut wiring, [reset, hold, down], set);
        rails.gate(&mut wiring, [reset, not_q, down], q);
        rails.gate(&mut wiring, [set, q, down], not_q);
        data = q;
    }
    wiring
}

/// The equations of a wiring of this module.
///
/// # Panics
/// Never: its sources hold different nodes.
#[must_use]
pub fn network(wiring: Wiring) -> Network {
    Network::new(wiring, LEAK_SIEMENS).expect("sources at different nodes do not clash")
}

/// The splitmix64 step (Steele, Lea and Flood, OOPSLA 2014): a number from -1 to 1 for each sample and part.
fn spread(sample: usize, part: usize) -> f64 {
    let mut bits = (sample as u64)
        .wrapping_mul(0x9e37_79b9_7f4a_7c15)
        .wrapping_add((part as u64).wrapping_mul(0xd1b5_4a32_d192_ed03));
    bits = (bits ^ (bits >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    bits = (bits ^ (bits >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    ((bits ^ (bits >> 31)) >> 11) as f64 / (1_u64 << 52) as f64 - 1.0
}

/// Where every value of some samples stands in its band. Drawn beforehand: what is timed is the solving.
pub struct Spreads<'a> {
    nominal: &'a Wiring,
    /// Two for each element of each sample, -1 to 1.
    shares: Vec<[f64; 2]>,
}

impl<'a> Spreads<'a> {
    /// Draws them for so many samples.
    #[must_use]
    pub fn draw(nominal: &'a Wiring, samples: usize) -> Self {
        let elements = nominal.elements.len();
        let of_sample = |sample: usize| {
            (0..elements)
                .map(move |element| [element, element + elements].map(|part| spread(sample, part)))
        };
        Self {
            nominal,
            shares: (0..samples).flat_map(of_sample).collect(),
        }
    }

    fn of(&self, sample: usize) -> &[[f64; 2]] {
        let elements = self.nominal.elements.len();
        &self.shares[sample * elements..(sample + 1) * elements]
    }

    /// Puts every value of a sample into an ensemble's.
    pub fn vary(&self, number: usize, sample: &mut Sample) {
        let elements = self.nominal.elements.iter().zip(self.of(number));
        for (index, (element, share)) in elements.enumerate() {
            match element.kind {
                ElementKind::Resistor { .. } => {
                    if let Some(siemens) = sample.siemens(index) {
                        vary_siemens(siemens, *share);
                    }
                }
                ElementKind::Triode { .. } => {
                    if let Some(TriodeLaw::Tail(law)) = sample.triode(index) {
                        vary_triode(law, *share);
                    }
                }
                ElementKind::Diode { .. } => {
                    if let Some(law) = sample.diode(index) {
                        vary_diode(law, *share);
                    }
                }
                ElementKind::Tie { .. } => vary_volts(sample.tie_volts(index), *share),
                _ => {}
            }
        }
    }

    /// The wiring with the values of a sample.
    #[must_use]
    pub fn wiring(&self, number: usize) -> Wiring {
        let mut wiring = self.nominal.clone();
        for (element, share) in wiring.elements.iter_mut().zip(self.of(number)) {
            match &mut element.kind {
                ElementKind::Resistor { siemens, .. } => vary_siemens(siemens, *share),
                ElementKind::Diode { law, .. } => vary_diode(law, *share),
                ElementKind::Triode {
                    law: TriodeLaw::Tail(law),
                    ..
                } => vary_triode(law, *share),
                ElementKind::Tie { volts, .. } => vary_volts(volts, *share),
                _ => {}
            }
        }
        wiring
    }
}

/// Resistors 5 %; all bands are invented for the benchmark.
fn vary_siemens(siemens: &mut f64, share: [f64; 2]) {
    *siemens /= 1.0 + 0.05 * share[0];
}

/// Perveances 30 %, mu 5 %.
fn vary_triode(law: &mut TriodeParameters, share: [f64; 2]) {
    law.perveance *= 1.0 + 0.3 * share[0];
    law.grid_perveance *= 1.0 + 0.3 * share[0];
    law.mu *= 1.0 + 0.05 * share[1];
}

/// Saturation currents 50 %.
fn vary_diode(law: &mut DiodeParameters, share: [f64; 2]) {
    law.saturation_current *= 1.0 + 0.5 * share[0];
}

/// Rails 5 %.
fn vary_volts(volts: &mut f64, share: [f64; 2]) {
    *volts *= 1.0 + 0.05 * share[0];
}
