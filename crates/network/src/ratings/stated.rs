//! The ratings that sheet or text state of a part, each with the reading that stands against it.

use crate::judge::PartReading;
use design::model::{Part, PartKind, TubePart};
use devices::types::{DiodeType, RatingSystem, Sourced};
use text::quantity::Unit;

/// One quantity of a part's readings.
type Reading = fn(&PartReading) -> f64;

/// A rating of a part, and which of its readings stands against it.
pub(crate) struct Rating {
    /// Name of the finding when it is exceeded.
    pub name: &'static str,
    /// What is read.
    pub what: &'static str,
    /// The reading, in `unit`.
    pub reading: Reading,
    /// The most that it may be.
    pub limit: f64,
    /// What the limit is called.
    pub limit_name: String,
    /// Unit of both.
    pub unit: Unit,
}

impl Rating {
    /// `None` where the sheet states no limit.
    fn of_tube(
        (name, what, unit): (&'static str, &'static str, Unit),
        reading: Reading,
        limit: &Option<Sourced<f64>>,
        tube: &TubePart,
    ) -> Option<Self> {
        let system = match tube.device.ratings.system {
            Some(RatingSystem::DesignCentre) => "design-centre rating",
            Some(RatingSystem::DesignMaximum) => "design-maximum rating",
            Some(RatingSystem::AbsoluteMaximum) => "absolute-maximum rating",
            Some(RatingSystem::NotStated) | None => "rating",
        };
        Some(Self {
            name,
            what,
            reading,
            limit: limit.as_ref()?.value,
            limit_name: format!("{system} ({})", tube.device.name),
            unit,
        })
    }
}

/// Every rating of a part that a state of rest can exceed, its tubes cold or not.
pub(crate) fn of_part(part: &Part, cold: bool) -> Vec<Rating> {
    let mut ratings = plain(part);
    if let PartKind::Tube(tube) = &part.kind {
        ratings.extend(plate_volts(tube, cold));
        ratings.extend(negative_grid(tube));
    }
    ratings.extend(capacitor_volts(part));
    ratings
}

/// Ratings that hold for every row alike.
pub(super) fn plain(part: &Part) -> Vec<Rating> {
    match &part.kind {
        PartKind::Tube(tube) => plain_of_tube(tube),
        PartKind::Diode { device, .. } => plain_of_diode(device),
        PartKind::Resistor {
            watts: Some(watts), ..
        }
        | PartKind::Trimmer {
            watts: Some(watts), ..
        } => vec![Rating {
            name: "resistor-watts",
            what: "dissipation",
            reading: |reading| reading.watts,
            limit: *watts,
            limit_name: "rated power".to_owned(),
            unit: Unit::Watt,
        }],
        _ => Vec::new(),
    }
}

fn plain_of_tube(tube: &TubePart) -> Vec<Rating> {
    let ratings = &tube.device.ratings;
    let rating = |called, reading: Reading, limit| Rating::of_tube(called, reading, limit, tube);
    let screen = [
        rating(
            ("screen-rating", "screen volts", Unit::Volt),
            |reading| reading.screen_volts,
            &ratings.screen_volts,
        ),
        rating(
            ("screen-rating", "screen dissipation", Unit::Watt),
            |reading| reading.screen_volts * reading.screen_amps,
            &ratings.screen_watts,
        ),
    ];
    let of_plate = [
        rating(
            ("plate-watts", "plate dissipation", Unit::Watt),
            |reading| reading.watts,
            &ratings.plate_watts,
        ),
        rating(
            ("cathode-amps", "cathode current", Unit::Ampere),
            |reading| reading.cathode_amps,
            &ratings.cathode_amps,
        ),
    ];
    let of_diode = [
        rating(
            ("diode-reverse-volts", "reverse plate volts", Unit::Volt),
            |reading| -reading.volts,
            &ratings.reverse_volts,
        ),
        rating(
            ("cathode-amps", "plate current", Unit::Ampere),
            |reading| reading.amps,
            &ratings.peak_amps,
        ),
    ];
    let screen = screen.into_iter().filter(|_| tube.screen.is_some());
    of_plate
        .into_iter()
        .chain(screen)
        .chain(of_diode)
        .flatten()
        .collect()
}

fn plain_of_diode(device: &DiodeType) -> Vec<Rating> {
    let rating =
        |(name, what, limit_name), reading: Reading, limit: &Option<Sourced<f64>>, unit| {
            Some(Rating {
                name,
                what,
                reading,
                limit: limit.as_ref()?.value,
                limit_name: format!("{limit_name} ({})", device.name),
                unit,
            })
        };
    [
        rating(
            (
                "diode-reverse-volts",
                "reverse volts",
                "rated reverse volts",
            ),
            |reading| -reading.volts,
            &device.reverse_volts,
            Unit::Volt,
        ),
        rating(
            ("diode-current", "forward current", "rated mean current"),
            |reading| reading.amps,
            &device.forward_amps,
            Unit::Ampere,
        ),
        rating(
            ("diode-current", "dissipation", "rated dissipation"),
            |reading| reading.watts,
            &device.watts,
            Unit::Watt,
        ),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// Plate volts, against the rating for cold plates where the tube is cold and the sheet has one.
pub(super) fn plate_volts(tube: &TubePart, cold: bool) -> Option<Rating> {
    let ratings = &tube.device.ratings;
    let limit = if cold && ratings.cold_plate_volts.is_some() {
        &ratings.cold_plate_volts
    } else {
        &ratings.plate_volts
    };
    let called = ("plate-volts", "plate volts", Unit::Volt);
    Rating::of_tube(called, |reading| reading.volts, limit, tube)
}

/// How far the grid is below the cathode.
pub(super) fn negative_grid(tube: &TubePart) -> Option<Rating> {
    tube.grid?;
    let called = ("negative-grid", "negative grid volts", Unit::Volt);
    let limit = &tube.device.ratings.negative_grid_volts;
    Rating::of_tube(called, |reading| -reading.grid_volts, limit, tube)
}

/// Volts across a capacitor, where the text states what it stands.
pub(super) fn capacitor_volts(part: &Part) -> Option<Rating> {
    let PartKind::Capacitor {
        volts: Some(volts), ..
    } = part.kind
    else {
        return None;
    };
    Some(Rating {
        name: "capacitor-volts",
        what: "volts",
        reading: |reading| reading.volts.abs(),
        limit: volts,
        limit_name: "rated volts".to_owned(),
        unit: Unit::Volt,
    })
}
