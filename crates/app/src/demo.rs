//! The demo machine, carried in the program.

/// Files of the Tidewatch folder: name and text.
pub const FILES: &[(&str, &str)] = &[
    (
        "machine.valve",
        include_str!("../demo/tidewatch/machine.valve"),
    ),
    (
        "circuits/gates.valve",
        include_str!("../demo/tidewatch/circuits/gates.valve"),
    ),
    (
        "circuits/blocks.valve",
        include_str!("../demo/tidewatch/circuits/blocks.valve"),
    ),
    ("points.csv", include_str!("../demo/tidewatch/points.csv")),
];

/// Name of its folder.
pub const FOLDER: &str = "tidewatch";
