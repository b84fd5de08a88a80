//! The sheet of a tube type: what is known of it with sources, and what its law says at low plate volts.
//!
//! Values and tables here; the terminal, the page and the record take them from the same place.

mod tables;

pub(crate) use tables::credit;
pub use tables::{data, fit_table, low_volts_table, parameters, pins, points, sources};

use devices::pentode::PentodeVolts;
use devices::types::{Law, Point, TubeType};

/// Plate volts that the low-voltage question is asked at.
pub const ASKED_VOLTS: [f64; 3] = [12.0, 24.0, 40.0];

/// A tube counts as cut off at this share of its current at 0 V grid, or at [`CUT_OFF_AMPS`] where that is more.
pub const CUT_OFF_SHARE: f64 = 0.01;
/// The makers' usual current at cut-off, A (common practice, no source).
pub const CUT_OFF_AMPS: f64 = 10e-6;

/// What a type does at one plate voltage, after its law. A pentode's screen stands at the plate's volts and its suppressor
/// at the cathode.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LowVolts {
    /// Plate to cathode, V.
    pub plate_volts: f64,
    /// Plate current at 0 V grid, A.
    pub amps: f64,
    /// Screen current at 0 V grid, A.
    pub screen_amps: Option<f64>,
    /// Plate current at +0.5 V grid, A; `None` without a grid.
    pub amps_positive: Option<f64>,
    /// Grid current at 0 V, A.
    pub grid_amps: Option<f64>,
    /// Grid current at +0.5 V, A.
    pub grid_amps_positive: Option<f64>,
    /// Grid volts at cut-off, and the plate current there (A).
    pub cut_off: Option<(f64, f64)>,
    /// Plate resistance at 0 V grid, ohm.
    pub plate_ohms: Option<f64>,
    /// Amplification factor at 0 V grid, grid against plate.
    pub mu: Option<f64>,
    /// Outside the plate volts of the points, or no points at all.
    pub extrapolated: bool,
    /// The current or dissipation at 0 V or +0.5 V grid is beyond a known limit: not to be tried.
    pub beyond_limits: bool,
}

/// What a type does at each of [`ASKED_VOLTS`]; empty without a law.
#[must_use]
pub fn low_volts(tube: &TubeType) -> Vec<LowVolts> {
    let Some(law) = &tube.law else {
        return Vec::new();
    };
    let covered = |volts: f64| {
        tube.validity.is_some_and(|validity| {
            validity.plate_volts.0 <= volts && volts <= validity.plate_volts.1
        })
    };
    ASKED_VOLTS
        .into_iter()
        .map(|volts| {
            let low = at_low_volts(law, volts);
            LowVolts {
                extrapolated: !covered(volts),
                beyond_limits: beyond_limits(tube, &low),
                ..low
            }
        })
        .collect()
}

/// Whether the largest current is beyond the type's current or dissipation, as far as they are known.
fn beyond_limits(tube: &TubeType, low: &LowVolts) -> bool {
    let ratings = &tube.ratings;
    let plate = low.amps.max(low.amps_positive.unwrap_or(0.0));
    let cathode = plate + low.screen_amps.unwrap_or(0.0);
    let over = |limit: &Option<devices::types::Sourced<f64>>, value: f64| {
        limit.as_ref().is_some_and(|limit| limit.value < value)
    };
    over(&ratings.cathode_amps, cathode)
        || over(&ratings.peak_amps, plate)
        || over(&ratings.plate_watts, plate * low.plate_volts)
}

fn at_low_volts(law: &Law, volts: f64) -> LowVolts {
    let zero = currents(law, volts, 0.0, volts);
    let has_grid = !matches!(law, Law::Diode(_));
    let positive = has_grid.then(|| currents(law, volts, 0.5, volts));
    let cut_off_amps = (CUT_OFF_SHARE * zero.plate).max(CUT_OFF_AMPS);
    let grid = has_grid
        .then(|| grid_at(law, volts, volts, cut_off_amps))
        .flatten();
    LowVolts {
        plate_volts: volts,
        amps: zero.plate,
        screen_amps: zero.screen,
        amps_positive: positive.map(|currents| currents.plate),
        grid_amps: has_grid.then_some(zero.grid),
        grid_amps_positive: positive.map(|currents| currents.grid),
        cut_off: grid.map(|grid| (grid, cut_off_amps)),
        plate_ohms: zero.plate_ohms,
        mu: zero
            .plate_ohms
            .map(|ohms| ohms * zero.slope)
            .filter(|_| has_grid),
        extrapolated: false,
        beyond_limits: false,
    }
}

/// Currents (A) of a law at one place of its curves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Currents {
    /// Plate current.
    pub plate: f64,
    /// Grid current.
    pub grid: f64,
    /// Screen current.
    pub screen: Option<f64>,
    /// Transconductance, S.
    pub slope: f64,
    /// Plate resistance, ohm; `None` where the plate current does not rise with the plate volts.
    pub plate_ohms: Option<f64>,
}

/// Currents at plate, grid and screen volts against the cathode; a pentode's suppressor at its cathode.
#[must_use]
pub fn currents(law: &Law, plate: f64, grid: f64, screen: f64) -> Currents {
    currents_at(
        law,
        PentodeVolts {
            plate,
            grid,
            screen,
            suppressor: 0.0,
        },
    )
}

fn currents_at(law: &Law, volts: PentodeVolts) -> Currents {
    let ohms =
        |by_plate: f64| (0.0 < by_plate && (1.0 / by_plate).is_finite()).then(|| 1.0 / by_plate);
    match law {
        Law::Triode(law) => {
            let currents = law.at(volts.plate, volts.grid);
            Currents {
                plate: currents.plate,
                grid: currents.grid,
                screen: None,
                slope: currents.plate_by_grid,
                plate_ohms: currents.plate_ohms(),
            }
        }
        Law::Pentode(law) => {
            let currents = law.at(volts);
            Currents {
                plate: currents.amps[0],
                grid: currents.amps[1],
                screen: Some(currents.amps[2]),
                slope: currents.by[0][1],
                plate_ohms: ohms(currents.by[0][0]),
            }
        }
        Law::Diode(law) => {
            let (plate, by_plate) = law.at(volts.plate);
            Currents {
                plate,
                grid: 0.0,
                screen: None,
                slope: 0.0,
                plate_ohms: ohms(by_plate),
            }
        }
    }
}

/// Lowest grid looked at, V: beyond the cut-off of any receiving tube.
const LOWEST_GRID: f64 = -400.0;

/// Grid volts, at most 0, at which the plate current is `amps`; `None` where it is less at 0 V, or more at the lowest grid
/// looked at, -400 V.
#[must_use]
pub fn grid_at(law: &Law, plate: f64, screen: f64, amps: f64) -> Option<f64> {
    const HALVINGS: usize = 60;
    let over = |grid: f64| amps < currents(law, plate, grid, screen).plate;
    if !over(0.0) || over(LOWEST_GRID) {
        return None;
    }
    let (mut low, mut high) = (LOWEST_GRID, 0.0);
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(low, high);
        if over(middle) {
            high = middle
        } else {
            low = middle
        }
    }
    Some(f64::midpoint(low, high))
}

/// One value of a point against the law.
#[derive(Debug, Clone, PartialEq)]
pub struct FitRow {
    /// Plate volts of the point.
    pub plate_volts: f64,
    /// Grid volts of the point.
    pub grid_volts: f64,
    /// Which value, in words.
    pub quantity: &'static str,
    /// Its unit as shown, and the factor from the SI unit to it.
    pub unit: (&'static str, f64),
    /// As given.
    pub given: f64,
    /// After the law.
    pub law: f64,
    /// Sample of a measured point.
    pub sample: Option<String>,
}

impl FitRow {
    /// Law over given, less one; `None` when nothing was given to divide by.
    #[must_use]
    pub fn relative(&self) -> Option<f64> {
        (self.given != 0.0).then(|| self.law / self.given - 1.0)
    }
}

/// Every current, slope and plate resistance of the points against the law; mu of triodes as well.
#[must_use]
pub fn fit_rows(tube: &TubeType) -> Vec<FitRow> {
    let Some(law) = &tube.law else {
        return Vec::new();
    };
    tube.points
        .iter()
        .flat_map(|point| point_rows(law, point))
        .collect()
}

fn point_rows(law: &Law, point: &Point) -> Vec<FitRow> {
    let volts = PentodeVolts {
        plate: point.plate_volts,
        grid: point.grid_volts,
        screen: point.screen_volts.unwrap_or(point.plate_volts),
        suppressor: point.suppressor_volts.unwrap_or(0.0),
    };
    let at = currents_at(law, volts);
    let is_triode = matches!(law, Law::Triode(_));
    let mu = at
        .plate_ohms
        .map(|ohms| ohms * at.slope)
        .filter(|_| is_triode);
    let all = [
        (
            "plate current",
            ("mA", 1e3),
            point.plate_amps.as_ref(),
            Some(at.plate),
        ),
        (
            "grid current",
            ("µA", 1e6),
            point.grid_amps.as_ref(),
            Some(at.grid),
        ),
        (
            "screen current",
            ("mA", 1e3),
            point.screen_amps.as_ref(),
            at.screen,
        ),
        ("slope", ("mA/V", 1e3), point.slope.as_ref(), Some(at.slope)),
        (
            "plate resistance",
            ("kΩ", 1e-3),
            point.plate_ohms.as_ref(),
            at.plate_ohms,
        ),
        ("mu", ("", 1.0), point.mu.as_ref(), mu),
    ];
    let rows = all.into_iter().filter_map(|(quantity, unit, given, law)| {
        Some(FitRow {
            plate_volts: point.plate_volts,
            grid_volts: point.grid_volts,
            quantity,
            unit,
            given: given?.value,
            law: law?,
            sample: point.sample.clone(),
        })
    });
    rows.collect()
}

/// Share of 0 V up to the highest plate volts asked that no point covers, 0 to 1.
#[must_use]
pub fn extrapolated_share(tube: &TubeType) -> f64 {
    let asked = ASKED_VOLTS[ASKED_VOLTS.len() - 1];
    tube.validity.map_or(1.0, |validity| {
        let (low, high) = validity.plate_volts;
        1.0 - (high.min(asked) - low.max(0.0)).max(0.0) / asked
    })
}

/// What is extrapolated at the volts asked, in a sentence.
#[must_use]
pub fn extrapolation(tube: &TubeType) -> String {
    let asked = ASKED_VOLTS[ASKED_VOLTS.len() - 1];
    let share = 100.0 * extrapolated_share(tube);
    match tube.validity {
        None => {
            "The parameters come without points: all of this is the law's word, not a measurement."
                .to_owned()
        }
        Some(_) if share <= 0.0 => "The points cover these plate volts.".to_owned(),
        Some(validity) => {
            let (low, high) = validity.plate_volts;
            let reach = if low < high {
                format!(
                    "reach from {} to {} at the plate",
                    crate::sentence::volts(low),
                    crate::sentence::volts(high)
                )
            } else {
                format!("are all at {} at the plate", crate::sentence::volts(low))
            };
            format!(
                "The points {reach}: {share:.0} % of the range from 0 to {asked:.0} V is extrapolated. Makers' samples differ \
                 most just there; measure before you rely on it."
            )
        }
    }
}

/// Which points to measure on the bench to be sure, one sentence each.
#[must_use]
pub fn to_measure(tube: &TubeType) -> Vec<String> {
    let low = low_volts(tube);
    if low.is_empty() {
        return vec!["Plate current at 12, 24 and 40 V with the grid at 0 V, +0.5 V and two or three volts on the way to cut-off, of at least three samples; type them as points of the type.".to_owned()];
    }
    let mut all: Vec<String> = low
        .iter()
        .map(|one| {
            let plate = format!("{:.0} V at the plate", one.plate_volts);
            if one.beyond_limits {
                let most = one.amps_positive.unwrap_or(one.amps).max(one.amps);
                let grid = if one.grid_amps.is_some() { ", a grid at or near 0 V" } else { "" };
                return format!("{plate}{grid}: leave it out; the law gives up to {}, beyond the limits of the type.", milli(most));
            }
            match (one.amps_positive, one.cut_off) {
                (Some(positive), Some((grid, amps))) => format!(
                    "{plate}: current at 0 V grid (expect about {}), at +0.5 V (about {}, with the grid current), and at {} (about {}).",
                    milli(one.amps),
                    milli(positive),
                    crate::sentence::volts(grid),
                    milli(amps)
                ),
                (Some(positive), None) => format!(
                    "{plate}: current at 0 V grid (expect about {}) and at +0.5 V (about {}, with the grid current).",
                    milli(one.amps),
                    milli(positive)
                ),
                (None, _) => format!("{plate}: current (expect about {}).", milli(one.amps)),
            }
        })
        .collect();
    if tube.ratings.cathode_amps.is_none() && tube.ratings.peak_amps.is_none() {
        all.push(
            "No current limit is known here: look one up before, and begin at the lowest volts."
                .to_owned(),
        );
    }
    all.push("At least three samples of each maker, heaters at their rated volts for some minutes; a weak tube shows here first.".to_owned());
    all
}

fn milli(amps: f64) -> String {
    crate::sentence::shown(amps, text::quantity::Unit::Ampere)
}

/// The usual caution of a tube on the bench.
pub const CAUTION: &str = "Plate supplies above 60 V DC (the limit for touching in dry places after IEC 61140 and IEC 61010-1, as \
    summarised) can kill; below that measure all the same before a hand goes in. Hot glass burns. Local codes and licensed \
    practice come first.";

#[cfg(test)]
mod tests {
    use super::*;
    use devices::library::Library;

    /// Telefunken's chart of the ECC82 and the printed 12AU7 row: 11.8 mA at 100 V and 0 V grid (RCA 12AU7A sheet,
    /// second-hand copy).
    #[test]
    fn the_sheet_repeats_the_printed_row() {
        let library = Library::shipped();
        let tube = library.tube("12AU7").expect("shipped");
        let row = fit_rows(tube)
            .into_iter()
            .find(|row| row.plate_volts == 100.0 && row.quantity == "plate current")
            .expect("a point at 100 V");
        assert!(
            (row.given - 11.8e-3).abs() < 1e-9 && row.relative().expect("not zero").abs() < 0.1,
            "{row:?}"
        );
    }

    #[test]
    fn cut_off_is_where_the_current_is_what_was_asked() {
        let library = Library::shipped();
        for tube in library.tubes.iter().filter(|tube| tube.law.is_some()) {
            for low in low_volts(tube) {
                let Some((grid, amps)) = low.cut_off else {
                    continue;
                };
                let law = tube.law.as_ref().expect("filtered");
                let there = currents(law, low.plate_volts, grid, low.plate_volts).plate;
                assert!(
                    (there - amps).abs() < 1e-9 * amps.max(low.amps),
                    "{} at {}: {there} {amps}",
                    tube.name,
                    low.plate_volts
                );
                assert!(CUT_OFF_AMPS <= amps && grid < 0.0, "{}", tube.name);
            }
        }
    }

    /// 6AL5: 9 mA mean and some tens of mA peak per section are its limits (standard tube-manual figures, from memory).
    #[test]
    fn nobody_is_told_to_burn_a_diode() {
        let library = Library::shipped();
        let tube = library.tube("6AL5").expect("shipped");
        let advice = to_measure(tube).join("\n");
        assert!(
            advice.contains("40 V at the plate: leave it out"),
            "{advice}"
        );
    }

    #[test]
    fn types_without_a_law_compute_nothing() {
        let library = Library::shipped();
        let tube = library
            .tubes
            .iter()
            .find(|tube| tube.law.is_none())
            .expect("one type has no law");
        assert!(low_volts(tube).is_empty() && fit_rows(tube).is_empty());
        assert_eq!(to_measure(tube).len(), 1);
    }
}
