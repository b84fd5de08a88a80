//! What the independent solver worked with, and gates of its tubes.

use devices::diode::BOOK_KELVIN;
use network::variation::SpreadAssumptions;

/// What the independent solver varied: perveance of plate and grid together ±25 %, mu and tail mu together ±10 %, each half by
/// itself, and nothing else of tubes and diodes.
pub const AS_SOLVED: SpreadAssumptions = SpreadAssumptions {
    tube_current: (0.75, 1.25),
    aged: 1.0,
    mu: (0.9, 1.1),
    cut_off_volts: 0.0,
    reverse_amps: 0.0,
    saturation_times: 1.0,
    diode_kelvin: (BOOK_KELVIN, BOOK_KELVIN),
};

/// Parameter sets of the independent solver, fitted to points from memory: perveance, mu, exponent, tail fraction, tail mu, grid
/// perveance; knee 3, grid exponent 1.314, grid knee 9.901, partition 2 V in all.
const SOLVED_WITH: [(&str, [f64; 6]); 9] = [
    ("12AU7", [0.001313, 26.67, 1.386, 0.1671, 10.56, 0.0003617]),
    ("12AT7", [0.005384, 83.16, 1.097, 0.09323, 22.52, 0.001483]),
    ("6SN7GT", [0.0014, 26.09, 1.364, 0.228, 14.22, 0.0003857]),
    ("6J6", [0.003307, 35.2, 1.341, 0.0, 35.2, 0.0009111]),
    ("5963", [0.001706, 21.53, 1.304, 0.05013, 9.777, 0.00047]),
    ("5965", [0.004331, 47.4, 1.364, 0.06335, 25.51, 0.001193]),
    ("6922", [0.008171, 33.16, 1.371, 0.05793, 19.61, 0.002251]),
    ("5718", [0.00273, 31.36, 1.469, 0.04387, 12.67, 0.0007521]),
    (
        "indicator",
        [0.0001418, 19.36, 1.409, 0.03808, 14.36, 3.907e-5],
    ),
];

/// The law of a tube as a text has it.
pub fn law(name: &str) -> String {
    let (_, [perveance, mu, exponent, fraction, tail, grid]) = SOLVED_WITH
        .iter()
        .find(|(known, _)| *known == name)
        .unwrap();
    format!(
        "perveance {}m, mu {mu}, exponent {exponent}, knee 3, tail-fraction {}m, tail-mu {tail}, grid-perveance {}m, grid-exponent 1.314, grid-knee 9.901, partition-volts 2",
        1e3 * perveance,
        1e3 * fraction,
        1e3 * grid
    )
}
