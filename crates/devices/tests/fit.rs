//! Fits against published points, published laws and laws of known parameters.

use devices::curve_csv;
use devices::fit::*;
use devices::library::Library;
use devices::pentode::{PentodeParameters, PentodeVolts};
use devices::triode::{TriodeCurrents, TriodeLaw, TriodeParameters};
use devices::types::{Law, Mark, Point, Sourced, TubeType};
use proptest::prelude::*;

fn sourced(value: f64) -> Option<Sourced<f64>> {
    Some(Sourced {
        value,
        mark: Mark::Measured,
        source: String::new(),
    })
}

/// A point with plate current in mA.
fn point(plate_volts: f64, grid_volts: f64, milliamps: f64) -> Point {
    Point {
        plate_volts,
        grid_volts,
        plate_amps: sourced(milliamps * 1e-3),
        ..Point::default()
    }
}

fn at(parameters: TriodeParameters, plate_volts: f64, grid_volts: f64) -> TriodeCurrents {
    TriodeLaw::Tail(parameters).at(plate_volts, grid_volts)
}

fn near(value: f64, expected: f64, relative: f64) -> bool {
    (value / expected - 1.0).abs() <= relative
}

/// Readings of a law over a grid of volts, exact.
fn readings(law: TriodeParameters, plate_volts: &[f64], grid_volts: &[f64]) -> Vec<Point> {
    let pairs = plate_volts
        .iter()
        .flat_map(|&plate| grid_volts.iter().map(move |&grid| (plate, grid)));
    let reading = |(plate, grid)| {
        let currents = at(law, plate, grid);
        let grid_amps = if grid > 0.0 {
            sourced(currents.grid)
        } else {
            None
        };
        Point {
            grid_amps,
            ..point(plate, grid, currents.plate * 1e3)
        }
    };
    pairs.map(reading).collect()
}

/// A triode unlike the prior in everything.
const KNOWN: TriodeParameters = TriodeParameters {
    perveance: 4e-3,
    mu: 42.0,
    exponent: 1.3,
    knee: 4.0,
    tail_fraction: 0.12,
    tail_mu: 16.0,
    grid_perveance: 0.6e-3,
    grid_exponent: 1.4,
    grid_knee: 8.0,
    grid_floor: 0.0,
    partition_knee: 0.1,
    partition_volts: 1.2,
};

const PLATES: [f64; 8] = [1.0, 3.0, 8.0, 15.0, 30.0, 60.0, 120.0, 200.0];
const GRIDS: [f64; 11] = [-8.0, -5.0, -3.0, -2.0, -1.0, -0.4, 0.0, 0.05, 0.3, 0.7, 1.2];

/// Whether the two laws agree in every parameter.
fn agree(found: &TriodeParameters, known: &TriodeParameters, relative: f64) -> bool {
    let parameters = |law: &TriodeParameters| {
        let own = [
            law.perveance,
            law.mu,
            law.exponent,
            law.knee,
            law.tail_fraction,
            law.tail_mu,
        ];
        let grid = [
            law.grid_perveance,
            law.grid_exponent,
            law.grid_knee,
            law.partition_volts,
        ];
        own.into_iter().chain(grid).collect::<Vec<_>>()
    };
    parameters(found)
        .into_iter()
        .zip(parameters(known))
        .all(|(found, known)| near(found, known, relative))
}

#[test]
fn readings_that_determine_everything_give_back_the_law_they_come_from() {
    let fit = fit_triode(
        &readings(KNOWN, &PLATES, &GRIDS),
        &TriodePrior::SMALL_RECEIVING,
    );
    assert_eq!(fit.outcome, FitOutcome::Settled);
    assert!(agree(&fit.parameters, &KNOWN, 1e-3), "{:?}", fit.parameters);
    let held: Vec<&str> = fit
        .from_prior
        .iter()
        .map(|(name, _)| name.as_str())
        .collect();
    assert_eq!(held, ["partition-knee"]);
    assert!(
        fit.residuals
            .iter()
            .all(|residual| residual.relative.abs() < 1e-3)
    );
    let validity = fit.validity.expect("there are points");
    assert_eq!(validity.plate_volts, (1.0, 200.0));
    assert_eq!(validity.grid_volts, (-8.0, 1.2));
}

#[test]
fn one_wrong_reading_spoils_nothing_but_itself() {
    let mut points = readings(KNOWN, &PLATES, &GRIDS);
    let wrong = points
        .iter()
        .position(|point| point.plate_volts == 60.0 && point.grid_volts == -1.0)
        .expect("it is there");
    let right = points[wrong]
        .plate_amps
        .clone()
        .expect("it has a current")
        .value;
    points[wrong].plate_amps = sourced(10.0 * right);
    let fit = fit_triode(&points, &TriodePrior::SMALL_RECEIVING);
    let others = fit
        .residuals
        .iter()
        .filter(|residual| residual.point != wrong && residual.measured > 1e-4);
    let worst = others
        .map(|residual| residual.relative.abs())
        .fold(0.0, f64::max);
    assert!(worst < 0.05, "{worst}");
    let blamed = fit
        .residuals
        .iter()
        .max_by(|a, b| a.relative.abs().total_cmp(&b.relative.abs()));
    assert_eq!(blamed.map(|residual| residual.point), Some(wrong));
}

/// "ip = 41 uA (Vp + 7 Vg)^1.41": at 250 V and -20 V rp 2.518 kohm, gm 2.780 mA/V, mu 7.00 (school problem on the 6F6 as a
/// triode, found on several sites; rp and gm derived from it by hand).
#[test]
fn a_published_power_law_is_found_again_from_its_currents() {
    let law = |plate: f64, grid: f64| 41e-3 * (plate + 7.0 * grid).max(0.0).powf(1.41);
    let pairs = [100.0, 150.0, 200.0, 250.0, 300.0]
        .into_iter()
        .flat_map(|plate| [0.0, -5.0, -10.0, -15.0, -20.0].map(|grid| (plate, grid)));
    let points: Vec<Point> = pairs
        .map(|(plate, grid)| point(plate, grid, law(plate, grid)))
        .collect();
    let fit = fit_triode(&points, &TriodePrior::SMALL_RECEIVING);
    let found = at(fit.parameters, 250.0, -20.0);
    assert!(near(found.plate, 30.98e-3, 0.01), "{found:?}");
    assert!(near(found.plate_by_grid, 2.780e-3, 0.01), "{found:?}");
    assert!(
        near(found.plate_ohms().expect("it conducts"), 2518.0, 0.01),
        "{found:?}"
    );
    assert!(
        near(fit.parameters.exponent, 1.41, 0.01),
        "{:?}",
        fit.parameters
    );
}

/// Anonymous triode of "Basic Electronics and Linear Circuits", chapter 6, as coded in an open textbook companion: readings
/// of its plate chart, with rp 6.06 kohm taken from a chord of it (at which point is not said; 150 V and -1 V lies in the
/// middle). The chart was drawn for teaching: from line to line a volt at the grid is worth 38 to 66 V at the plate. A law
/// with one mu runs between; the book's gm 7.1 mA/V and mu 43, taken where the lines lie close, it cannot meet as well.
#[test]
fn a_textbook_chart_is_met_as_well_as_its_lines_agree() {
    let families: [(f64, &[(f64, f64)]); 5] = [
        (0.0, &[(50.0, 3.5), (100.0, 11.2), (150.0, 20.0)]),
        (
            -1.0,
            &[(60.0, 0.0), (100.0, 4.0), (150.0, 12.4), (200.0, 21.5)],
        ),
        (-2.0, &[(100.0, 0.0), (150.0, 5.4), (200.0, 14.1)]),
        (-3.0, &[(160.0, 0.0), (200.0, 3.4), (250.0, 12.4)]),
        (-4.0, &[(220.0, 0.0), (250.0, 2.5), (300.0, 11.3)]),
    ];
    let points: Vec<Point> = families
        .iter()
        .flat_map(|&(grid, family)| {
            family
                .iter()
                .map(move |&(plate, amps)| point(plate, grid, amps))
        })
        .collect();
    let fit = fit_triode(&points, &TriodePrior::SMALL_RECEIVING);
    assert_eq!(fit.outcome, FitOutcome::Settled);
    let found = at(fit.parameters, 150.0, -1.0);
    assert!(
        near(found.plate_ohms().expect("it conducts"), 6060.0, 0.15),
        "{found:?}"
    );
    assert!(
        (38.0..66.0).contains(&fit.parameters.mu),
        "{:?}",
        fit.parameters
    );
    let squares = fit
        .residuals
        .iter()
        .map(|residual| (residual.fitted - residual.measured).powi(2));
    let rms = (squares.sum::<f64>() / fit.residuals.len() as f64).sqrt();
    assert!(rms < 0.06 * 21.5e-3, "{rms}");
}

/// Teaching diode of the same book: 1.6, 4, 6.7, 9.4 mA at 0.5, 1, 1.5, 2 V, which 2.7 mA (V + 0.3)^1.5 meets within 17 %
/// (derived). An offset there is, and it is found.
#[test]
fn a_textbook_diode_is_met_with_an_offset() {
    let points = [(0.5, 1.6), (1.0, 4.0), (1.5, 6.7), (2.0, 9.4)]
        .map(|(volts, amps)| point(volts, 0.0, amps));
    let fit = fit_diode(&points, &DiodePrior::SMALL);
    assert_eq!(fit.outcome, FitOutcome::Settled);
    assert!(
        (0.1..0.5).contains(&fit.parameters.offset_volts),
        "{:?}",
        fit.parameters
    );
    assert!(
        fit.residuals
            .iter()
            .all(|residual| residual.relative.abs() < 0.08),
        "{:?}",
        fit.residuals
    );
    assert_eq!(
        fit.from_prior,
        [("knee".to_owned(), "small vacuum diode".to_owned())]
    );
}

/// 6922 at 90 V and -1.3 V: 15 mA, 12.5 mA/V, mu 33 (Philips ECC88, second-hand copy). Three values cannot tell
/// of eleven parameters.
#[test]
fn one_point_leaves_most_parameters_to_the_named_prior() {
    let sheet = Point {
        slope: sourced(12.5e-3),
        mu: sourced(33.0),
        ..point(90.0, -1.3, 15.0)
    };
    let fit = fit_triode(&[sheet], &TriodePrior::SMALL_RECEIVING);
    let held: Vec<&str> = fit
        .from_prior
        .iter()
        .map(|(name, _)| name.as_str())
        .collect();
    for name in [
        "exponent",
        "knee",
        "tail-fraction",
        "tail-mu",
        "grid-perveance",
        "grid-knee",
        "partition-volts",
    ] {
        assert!(held.contains(&name), "{name} in {held:?}");
    }
    assert!(
        !held.contains(&"perveance") && !held.contains(&"mu"),
        "{held:?}"
    );
    assert!(
        fit.from_prior
            .iter()
            .all(|(_, prior)| prior == "small receiving triode")
    );
    assert!(
        fit.residuals
            .iter()
            .all(|residual| residual.relative.abs() < 0.05),
        "{:?}",
        fit.residuals
    );
}

#[test]
fn without_a_usable_value_the_prior_is_returned_and_said() {
    let useless = [
        Point::default(),
        point(100.0, 0.0, f64::NAN),
        point(f64::INFINITY, 0.0, 3.0),
    ];
    for points in [&useless[..], &[]] {
        let fit = fit_triode(points, &TriodePrior::SMALL_RECEIVING);
        assert_eq!(fit.outcome, FitOutcome::NothingToFit);
        assert_eq!(
            fit.parameters.perveance,
            TriodePrior::SMALL_RECEIVING.perveance.value
        );
        assert_eq!(fit.from_prior.len(), 11);
    }
    assert_eq!(
        fit_pentode(&[], &PentodePrior::SMALL_RECEIVING).outcome,
        FitOutcome::NothingToFit
    );
    assert_eq!(
        fit_diode(&[], &DiodePrior::SMALL).outcome,
        FitOutcome::NothingToFit
    );
}

#[test]
fn samples_get_the_factors_they_were_made_with() {
    let factors = [("A", 0.8, 1.0), ("B", 1.0, 0.95), ("C", 1.25, 1.06)];
    let mut text = "plate_volts,grid_volts,plate_milliamps,sample\n".to_owned();
    for (name, perveance, mu) in factors {
        let own = TriodeParameters {
            perveance: KNOWN.perveance * perveance,
            grid_perveance: KNOWN.grid_perveance * perveance,
            mu: KNOWN.mu * mu,
            tail_mu: KNOWN.tail_mu * mu,
            ..KNOWN
        };
        for point in readings(own, &PLATES, &[-3.0, -2.0, -1.0, 0.0]) {
            let milliamps = point.plate_amps.expect("readings have a current").value * 1e3;
            text.push_str(&format!(
                "{},{},{milliamps},{name}\n",
                point.plate_volts, point.grid_volts
            ));
        }
    }
    let (points, problems) = curve_csv::read(&text);
    assert_eq!(problems, []);
    let spread = fit_triode(&points, &TriodePrior::SMALL_RECEIVING)
        .spread
        .expect("three samples");
    assert_eq!(spread.samples.len(), 3);
    for (found, (name, perveance, mu)) in spread.samples.iter().zip(factors) {
        assert_eq!(found.name, name);
        // Against sample B, because the shape is that of all samples together.
        let second = &spread.samples[1];
        assert!(
            near(found.perveance / second.perveance, perveance, 0.03),
            "{found:?}"
        );
        assert!(near(found.mu / second.mu, mu / 0.95, 0.02), "{found:?}");
    }
    assert!(
        spread.perveance.least < spread.perveance.mean
            && spread.perveance.mean < spread.perveance.largest
    );
    assert!(
        near(spread.perveance.mean, 1.0, 0.10),
        "{:?}",
        spread.perveance
    );
}

#[test]
fn points_of_one_sample_have_no_spread() {
    assert_eq!(
        fit_triode(
            &readings(KNOWN, &PLATES, &GRIDS),
            &TriodePrior::SMALL_RECEIVING
        )
        .spread,
        None
    );
}

/// Types whose shipped law is a fit: the published sets have no prior.
fn fitted_types() -> Vec<std::sync::Arc<TubeType>> {
    let tubes = Library::shipped().tubes;
    tubes
        .into_iter()
        .filter(|tube| tube.law.is_some() && !tube.from_prior.is_empty())
        .collect()
}

/// Every parameter of a law, in one order.
fn numbers(law: &Law) -> Vec<f64> {
    match *law {
        Law::Triode(TriodeLaw::Tail(law)) => {
            let cathode = [
                law.perveance,
                law.mu,
                law.exponent,
                law.knee,
                law.tail_fraction,
                law.tail_mu,
            ];
            let grid = [
                law.grid_perveance,
                law.grid_exponent,
                law.grid_knee,
                law.partition_knee,
                law.partition_volts,
            ];
            cathode.into_iter().chain(grid).collect()
        }
        Law::Triode(TriodeLaw::Koren(_)) => panic!("no fit gives this law"),
        Law::Pentode(law) => {
            let cathode = [
                law.perveance,
                law.mu_screen,
                law.mu_plate,
                law.exponent,
                law.knee,
                law.grid_perveance,
                law.plate_ratio,
            ];
            let rest = [
                law.partition_volts,
                law.partition_screen,
                law.suppressor_cut_off,
                law.suppressor_exponent,
            ];
            cathode.into_iter().chain(rest).collect()
        }
        Law::Diode(law) => vec![law.perveance, law.offset_volts, law.knee],
    }
}

#[test]
fn the_shipped_laws_are_what_the_fit_gives_for_the_shipped_points() {
    let types = fitted_types();
    assert!(types.len() >= 25, "{}", types.len());
    for tube in types {
        let TubeFit {
            law,
            from_prior,
            outcome,
            ..
        } = fit_tube(tube.kind, &tube.points);
        assert_eq!(outcome, FitOutcome::Settled, "{}", tube.name);
        assert_eq!(from_prior, tube.from_prior, "{}", tube.name);
        for (found, stored) in numbers(&law)
            .into_iter()
            .zip(numbers(&tube.law.expect("only types with a law")))
        {
            assert!(
                (found - stored).abs() <= 1e-3 * stored.abs(),
                "{}: {law:?} {:?}",
                tube.name,
                tube.law
            );
        }
    }
}

/// The points are makers' figures; their sources stand beside them in the library. Currents near cut-off are judged in
/// grid volts by the next test.
#[test]
fn shipped_laws_meet_their_points() {
    for tube in fitted_types() {
        let residuals = fit_tube(tube.kind, &tube.points).residuals;
        let largest = residuals
            .iter()
            .filter(|residual| residual.quantity == Quantity::PlateCurrent)
            .map(|residual| residual.measured);
        let largest = largest.fold(0.0, f64::max);
        for residual in residuals {
            let bound = match residual.quantity {
                Quantity::PlateCurrent if residual.measured < 0.02 * largest => continue,
                Quantity::PlateCurrent | Quantity::ScreenCurrent | Quantity::GridCurrent => 0.10,
                Quantity::Slope => 0.20,
                Quantity::Mu | Quantity::PlateResistance => 0.16,
            };
            assert!(
                residual.relative.abs() <= bound,
                "{}: {residual:?}",
                tube.name
            );
        }
    }
}

#[test]
fn shipped_triodes_cut_off_where_their_sheets_say() {
    let mut met = 0;
    for tube in fitted_types() {
        let Some(Law::Triode(law)) = tube.law else {
            continue;
        };
        for point in &tube.points {
            let Some(amps) = point.plate_amps.as_ref().filter(|amps| amps.value <= 50e-6) else {
                continue;
            };
            let found = law
                .cut_off(point.plate_volts, amps.value)
                .expect("within the range searched");
            assert!(
                (found / point.grid_volts - 1.0).abs() < 0.05,
                "{} at {} V: {found} for {}",
                tube.name,
                point.plate_volts,
                point.grid_volts
            );
            met += 1;
        }
    }
    assert!(met >= 8, "{met}");
}

/// Plate and screen current of a stage with plate, screen and cathode resistors from one supply, grid at ground: damped
/// rounds of substitution.
fn coupled_stage(
    law: &PentodeParameters,
    supply: f64,
    plate_ohms: f64,
    screen_ohms: f64,
    cathode_ohms: f64,
) -> [f64; 2] {
    let (mut plate, mut screen) = (1e-5, 1e-5);
    for _ in 0..20_000 {
        let cathode = (plate + screen) * cathode_ohms;
        let volts = PentodeVolts {
            plate: supply - plate * plate_ohms - cathode,
            grid: -cathode,
            screen: supply - screen * screen_ohms - cathode,
            suppressor: 0.0,
        };
        let [found_plate, _, found_screen, _] = law.at(volts).amps;
        plate += 0.005 * (found_plate - plate);
        screen += 0.005 * (found_screen - screen);
    }
    [plate, screen]
}

/// Resistance-coupled rows of Telefunken's EF804S sheet 331-332 (second-hand copy); the law knows only the one
/// operating point of the sheet.
#[test]
fn the_fitted_ef804s_meets_the_coupled_stages_of_its_sheet() {
    let library = Library::shipped();
    let tube = library.tube("EF804S").expect("it is shipped");
    let Some(Law::Pentode(law)) = tube.law else {
        panic!("a pentode")
    };
    let rows = [
        (250.0, 0.3e6, 1.5e6, 2e3, 0.61, 0.11),
        (250.0, 0.2e6, 1.0e6, 1.5e3, 0.87, 0.16),
        (100.0, 0.3e6, 1.2e6, 5e3, 0.21, 0.045),
        (100.0, 0.2e6, 1.0e6, 3e3, 0.29, 0.055),
    ];
    for (supply, plate_ohms, screen_ohms, cathode_ohms, plate, screen) in rows {
        let found = coupled_stage(&law, supply, plate_ohms, screen_ohms, cathode_ohms);
        assert!(
            near(found[0] * 1e3, plate, 0.10),
            "{supply} V, {plate_ohms}: {found:?}"
        );
        assert!(
            near(found[1] * 1e3, screen, 0.20),
            "{supply} V, {plate_ohms}: {found:?}"
        );
    }
}

#[test]
fn a_pentode_is_found_again_from_its_currents() {
    let known = PentodeParameters {
        perveance: 3e-3,
        mu_screen: 24.0,
        mu_plate: 1500.0,
        exponent: 1.45,
        knee: 2.0,
        plate_ratio: 3.0,
        partition_volts: 1.5,
        partition_screen: 0.15,
        ..devices::pentode::EF804S
    };
    let mut points = Vec::new();
    for plate in [5.0, 10.0, 20.0, 40.0, 80.0, 150.0, 250.0] {
        for (grid, screen) in [
            (-5.0, 120.0),
            (-3.0, 120.0),
            (-2.0, 120.0),
            (-1.0, 120.0),
            (-1.0, 60.0),
            (0.0, 60.0),
        ] {
            let [plate_amps, _, screen_amps, _] = known
                .at(PentodeVolts {
                    plate,
                    grid,
                    screen,
                    suppressor: 0.0,
                })
                .amps;
            let own = point(plate, grid, plate_amps * 1e3);
            points.push(Point {
                screen_volts: Some(screen),
                screen_amps: sourced(screen_amps),
                ..own
            });
        }
    }
    let fit = fit_pentode(&points, &PentodePrior::SMALL_RECEIVING);
    let found = fit.parameters;
    for (found, known) in [
        (found.perveance, known.perveance),
        (found.mu_screen, known.mu_screen),
        (found.mu_plate, known.mu_plate),
        (found.exponent, known.exponent),
        (found.knee, known.knee),
        (found.plate_ratio, known.plate_ratio),
    ] {
        assert!(near(found, known, 0.02), "{fit:?}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    #[test]
    fn any_points_are_fitted_without_panic_and_finite(
        rows in proptest::collection::vec((-1e4..1e4_f64, -1e4..1e4_f64, 0.0..1e4_f64, proptest::option::of(1e-12..1e3_f64), proptest::option::of(1e-6..1e9_f64)), 0..6)
    ) {
        let points: Vec<Point> = rows
            .into_iter()
            .map(|(plate, grid, amps, slope, mu)| Point { slope: slope.and_then(sourced), mu: mu.and_then(sourced), ..point(plate, grid, amps) })
            .collect();
        let triode = fit_triode(&points, &TriodePrior::SMALL_RECEIVING);
        prop_assert!(numbers(&Law::Triode(TriodeLaw::Tail(triode.parameters))).into_iter().all(f64::is_finite));
        let pentode = fit_pentode(&points, &PentodePrior::SMALL_RECEIVING);
        prop_assert!(numbers(&Law::Pentode(pentode.parameters)).into_iter().all(f64::is_finite));
        let diode = fit_diode(&points, &DiodePrior::SMALL);
        prop_assert!(numbers(&Law::Diode(diode.parameters)).into_iter().all(f64::is_finite));
    }
}
