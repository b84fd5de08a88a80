//! Triode laws against published parameter sets, the tables they reproduce and their own derivatives.

use devices::triode::*;
use proptest::prelude::*;
use proptest::test_runner::RngSeed;

/// Whether a value equals a figure printed with `digits` decimals.
fn printed(value: f64, figure: f64, digits: i32) -> bool {
    (value - figure).abs() <= 0.500_001 * 10f64.powi(-digits)
}

/// Dempwolf and Zoelzer, "A physically-motivated triode model for circuit simulations", DAFx-11, Paris 2011: equations
/// and Table 1 in second-hand copy; currents evaluated from them in double precision, to 6 decimals of mA
/// (cathode, plate) and uA (grid).
#[test]
fn dafx_11_sets_give_their_currents_to_six_decimals() {
    let rows = [
        (RSD_1, 250.0, -2.0, 0.901402, 0.080250, 0.901322),
        (RSD_1, 100.0, -1.0, 0.274356, 0.080318, 0.274276),
        (RSD_1, 100.0, 0.0, 2.184812, 18.843150, 2.165968),
        (RSD_1, 100.0, 0.5, 3.646023, 248.987104, 3.397036),
        (RSD_2, 250.0, -2.0, 1.019816, 0.045270, 1.019770),
        (RSD_2, 50.0, 0.0, 1.027632, 12.689395, 1.014943),
        (EHX_1, 250.0, -2.0, 1.155352, 0.039170, 1.155313),
        (EHX_1, 100.0, 0.0, 1.659149, 12.131120, 1.647018),
        (EHX_1, 250.0, -4.0, 0.000176, 0.039170, 0.000137),
    ];
    for (set, plate, grid, cathode_ma, grid_ua, plate_ma) in rows {
        let at = TriodeLaw::Tail(set).at(plate, grid);
        assert!(
            printed((at.plate + at.grid) * 1e3, cathode_ma, 6),
            "{plate} {grid}: {at:?}"
        );
        assert!(printed(at.grid * 1e6, grid_ua, 6), "{plate} {grid}: {at:?}");
        assert!(
            printed(at.plate * 1e3, plate_ma, 6),
            "{plate} {grid}: {at:?}"
        );
    }
}

/// Koren, Glass Audio vol. 8 no. 5, 1996: equation and sets in second-hand copy; currents evaluated from them
/// in double precision, mA to 6 decimals.
#[test]
fn koren_sets_give_their_currents_to_six_decimals() {
    let points = [
        (50.0, 0.0),
        (100.0, 0.0),
        (150.0, 0.0),
        (200.0, 0.0),
        (100.0, -1.0),
        (200.0, -2.0),
        (250.0, -8.0),
        (300.0, -4.0),
    ];
    let rows = [
        (
            KOREN_12AX7,
            [
                0.715374, 1.887882, 3.330448, 4.982152, 0.100391, 0.248141, 0.000000, 0.040444,
            ],
        ),
        (
            KOREN_12AU7,
            [
                5.111021, 12.584809, 21.318923, 30.987435, 9.348829, 22.935405, 11.677196,
                34.581718,
            ],
        ),
        (
            KOREN_12AT7,
            [
                3.405371, 8.680703, 15.006454, 22.128164, 2.800540, 7.010144, 0.006996, 6.312694,
            ],
        ),
        (
            KOREN_6DJ8,
            [
                12.878704, 31.711089, 53.719231, 78.081859, 20.843574, 51.040871, 7.276703,
                72.149835,
            ],
        ),
    ];
    for (set, currents) in rows {
        for ((plate, grid), milliamps) in points.into_iter().zip(currents) {
            let at = TriodeLaw::Koren(set).at(plate, grid);
            assert!(
                printed(at.plate * 1e3, milliamps, 6),
                "{set:?} {plate} {grid}: {} for {milliamps}",
                at.plate * 1e3
            );
        }
    }
}

/// A published re-fit of Koren's equation to the 12AX7 table points (a comparison of 12AX7 sheets, July 2026,
/// second-hand): x 1.5, kP 679.8, kVB 25690.8 and kG1 658.0 without the factor of two, so twice that here. Currents, gm
/// and rp evaluated from it in double precision.
#[test]
fn the_koren_refit_meets_the_table_points_of_the_12ax7() {
    let law = TriodeLaw::Koren(KorenParameters {
        mu: 100.0,
        exponent: 1.5,
        kg1: 2.0 * 658.0,
        kp: 679.8,
        kvb: 25690.8,
        sections: 1.0,
        grid_floor: 0.0,
    });
    for (plate, grid, milliamps, slope, kilohms) in [
        (250.0, -2.0, 1.19992, 1.59992, 61.46),
        (100.0, -1.0, 0.49997, 0.80036, 102.6),
    ] {
        let at = law.at(plate, grid);
        assert!(printed(at.plate * 1e3, milliamps, 5), "{at:?}");
        assert!(printed(at.plate_by_grid * 1e3, slope, 5), "{at:?}");
        let rp = at.plate_ohms().expect("conducting") / 1e3;
        assert!((rp / kilohms - 1.0).abs() < 5e-4, "{rp}");
    }
    assert!(printed(law.at(100.0, 0.0).plate * 1e3, 1.52013, 5));
    assert!(printed(law.at(50.0, 0.0).plate * 1e3, 0.53745, 5));
}

/// Koren's grid: an ideal junction of 1 nA and n 1 behind 2001 ohm. At 1 V, v = Vt ln(1 + i/Is) + 2001 i is met.
#[test]
fn koren_grid_is_a_junction_behind_2001_ohms() {
    for grid in [-5.0, 0.0, 0.5, 1.0, 20.0] {
        let amps = TriodeLaw::Koren(KOREN_12AU7).at(100.0, grid).grid;
        if grid < 0.0 {
            assert!((amps + 1e-9).abs() < 1e-15, "{amps}");
        } else {
            let volts: f64 = 0.025_852 * (amps / 1e-9).ln_1p() + 2001.0 * amps;
            assert!((volts - grid).abs() < 1e-12, "{grid}: {volts}");
        }
    }
}

/// A grid that gives a current back stands, open, where it conducts just that: within a volt of its cathode, whatever the law. The
/// plate does not notice.
#[test]
fn an_open_grid_with_reverse_current_stands_where_it_conducts() {
    for law in [
        TriodeLaw::Tail(TriodeParameters {
            grid_floor: -0.2e-6,
            ..RSD_1
        }),
        TriodeLaw::Koren(KorenParameters {
            grid_floor: -0.2e-6,
            ..KOREN_12AU7
        }),
    ] {
        assert_eq!(law.at(100.0, -20.0).grid.signum(), -1.0);
        assert!(law.at(100.0, -1.0).grid < 0.0 && 0.0 < law.at(100.0, 1.0).grid);
        let three = law.times(3.0).at(100.0, -20.0).grid;
        assert!((three / law.at(100.0, -20.0).grid - 3.0).abs() < 1e-9);
    }
    let plain = TriodeLaw::Koren(KOREN_12AU7).at(100.0, -3.0).plate;
    let leaking = TriodeLaw::Koren(KorenParameters {
        grid_floor: -0.2e-6,
        ..KOREN_12AU7
    });
    assert_eq!(leaking.at(100.0, -3.0).plate, plain);
}

/// A school problem on the triode-connected 6F6, ip = 41 uA (Vp + 7 Vg)^1.41 at 250 V and -20 V (several sites): the law
/// with a hard knee and no tail. ip 30.98 mA, rp 2.518 kohm, gm 2.780 mA/V, mu 7.00 follow by hand.
#[test]
fn a_plain_power_law_is_the_limit_of_a_hard_knee() {
    let law = TriodeLaw::Tail(TriodeParameters {
        perveance: 41e-6 * 7f64.powf(1.41),
        mu: 7.0,
        exponent: 1.41,
        knee: 1e4,
        grid_floor: 0.0,
        ..RSD_1
    });
    let at = law.at(250.0, -20.0);
    assert!(printed(at.plate * 1e3, 30.98, 2), "{at:?}");
    assert!(
        printed(at.plate_ohms().expect("conducting") / 1e3, 2.518, 3),
        "{at:?}"
    );
    assert!(printed(at.plate_by_grid * 1e3, 2.780, 3), "{at:?}");
    assert!(
        printed(at.amplification().expect("conducting"), 7.00, 2),
        "{at:?}"
    );
    assert!(law.at(250.0, -40.0).plate.abs() < 1e-200);
}

/// A 12AU7 with every term of the law in use; an own parameter set, near the sheet's 10.5 mA at 250 V, -8.5 V (RCA
/// 12AU7A, second-hand copy).
const WITH_TAIL: TriodeParameters = TriodeParameters {
    perveance: 1.313e-3,
    mu: 26.67,
    exponent: 1.386,
    knee: 3.0,
    tail_fraction: 0.1671,
    tail_mu: 10.56,
    grid_perveance: 3.617e-4,
    grid_floor: 1e-8,
    partition_volts: 2.0,
    ..RSD_1
};

/// With partition: no plate current to speak of at or below 0 V at the plate, the floor in the grid alone, and the tail
/// keeping a current where a law without it is cut off (RCA 12AU7A: 10 uA at -24 V, from memory).
#[test]
fn partition_and_tail_do_what_they_are_for() {
    let law = TriodeLaw::Tail(WITH_TAIL);
    assert!((law.at(250.0, -8.5).plate / 10.5e-3 - 1.0).abs() < 0.1);
    assert_eq!(law.at(-100.0, 0.5).plate, 0.0);
    assert_eq!(law.at(250.0, -1000.0).plate, 0.0);
    assert!((law.at(250.0, -1000.0).grid - 1e-8).abs() < 1e-20);
    let without_tail = TriodeLaw::Tail(TriodeParameters {
        tail_fraction: 0.0,
        ..WITH_TAIL
    });
    assert!(law.at(250.0, -15.0).plate > 50.0 * without_tail.at(250.0, -15.0).plate);
    // Far above the partition the plate takes all that the grid leaves.
    let at = law.at(100.0, 1.0);
    let all = TriodeLaw::Tail(TriodeParameters {
        partition_volts: 0.0,
        grid_floor: 0.0,
        ..WITH_TAIL
    })
    .at(100.0, 1.0);
    assert!((at.plate - all.plate).abs() < 1e-15);
}

/// What `cut_off` finds gives the current asked for; what it cannot find it says.
#[test]
fn cut_off_finds_the_grid_volts_of_a_current() {
    let laws = [
        TriodeLaw::Tail(WITH_TAIL),
        TriodeLaw::Tail(EHX_1),
        TriodeLaw::Koren(KOREN_12AU7),
    ];
    for law in laws {
        for (plate, amps) in [
            (250.0, 10e-6),
            (50.0, 10e-6),
            (100.0, 1e-9),
            (150.0, 4e-3),
            (1e4, 1e-6),
        ] {
            let Some(grid) = law.cut_off(plate, amps) else {
                panic!("{law:?} reaches {amps} A at {plate} V");
            };
            let found = law.at(plate, grid).plate;
            assert!(
                (found / amps - 1.0).abs() < 1e-9,
                "{plate} V, {amps} A: {grid} V gives {found}"
            );
        }
        assert_eq!(law.cut_off(100.0, 1e3), None);
        assert_eq!(law.cut_off(f64::NAN, 1e-3), None);
        for amps in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert_eq!(law.cut_off(100.0, amps), None);
        }
    }
    assert_eq!(laws[0].cut_off(-10.0, 1e-3), None);
    assert_eq!(laws[2].cut_off(-10.0, 1e-3), None);
    // RCA 12AU7A, from memory: 10 uA at 250 V with -24 V at the grid. Within the spread of a tail.
    let grid = laws[0].cut_off(250.0, 10e-6).expect("reached");
    assert!((-28.0..-20.0).contains(&grid), "{grid}");
}

const TAIL_LAWS: [TriodeLaw; 3] = [
    TriodeLaw::Tail(WITH_TAIL),
    TriodeLaw::Tail(RSD_1),
    TriodeLaw::Tail(EHX_1),
];
const KOREN_LAWS: [TriodeLaw; 3] = [
    TriodeLaw::Koren(KOREN_12AX7),
    TriodeLaw::Koren(KOREN_12AU7),
    TriodeLaw::Koren(KOREN_6DJ8),
];

/// The four derivatives beside their central differences with steps `by_plate` and `by_grid`.
fn slopes_and_quotients(
    law: &TriodeLaw,
    plate: f64,
    grid: f64,
    by_plate: f64,
    by_grid: f64,
) -> [(f64, f64); 4] {
    let at = law.at(plate, grid);
    let (right, left) = (
        law.at(plate + by_plate, grid),
        law.at(plate - by_plate, grid),
    );
    let (up, down) = (law.at(plate, grid + by_grid), law.at(plate, grid - by_grid));
    [
        (
            at.plate_by_plate,
            (right.plate - left.plate) / (2.0 * by_plate),
        ),
        (at.plate_by_grid, (up.plate - down.plate) / (2.0 * by_grid)),
        (
            at.grid_by_plate,
            (right.grid - left.grid) / (2.0 * by_plate),
        ),
        (at.grid_by_grid, (up.grid - down.grid) / (2.0 * by_grid)),
    ]
}

fn plate_volts() -> impl Strategy<Value = f64> {
    prop_oneof![-500.0..500.0, -1.0..1.0, -1e-9..1e-9, Just(0.0), 500.0..1e4]
}

fn grid_volts() -> impl Strategy<Value = f64> {
    prop_oneof![-50.0..5.0, -1.0..1.0, -1e-9..1e-9, Just(0.0), 5.0..100.0]
}

fn any_finite() -> impl Strategy<Value = f64> {
    any::<f64>().prop_filter("finite", |x| x.is_finite())
}

proptest! {
    #![proptest_config(
        ProptestConfig { failure_persistence: None, rng_seed: RngSeed::Fixed(2), ..ProptestConfig::with_cases(4000) }
    )]

    /// A step of 1e-5 V is small against every knee; 1e-6 relative covers its third-order error, the rest is rounding.
    #[test]
    fn derivatives_of_the_own_law_are_exact(kind in 0..3_usize, plate in plate_volts(), grid in grid_volts()) {
        let law = TAIL_LAWS[kind];
        let at = law.at(plate, grid);
        let rounding = 1e-10 * (at.plate.abs() + at.grid.abs()) + 1e-16;
        for (slope, quotient) in slopes_and_quotients(&law, plate, grid, 1e-5, 1e-5) {
            prop_assert!((slope - quotient).abs() <= 1e-6 * slope.abs() + rounding, "{slope} {quotient}");
        }
    }

    /// Koren's current starts as a power of the plate volts: the step shrinks with them.
    #[test]
    fn derivatives_of_korens_law_are_exact(
        kind in 0..3_usize, plate in prop_oneof![1e-3..1e4_f64, 1e-9..1e-3, -500.0..-1e-3], grid in grid_volts(),
    ) {
        let law = KOREN_LAWS[kind];
        let step = (1e-4_f64 * plate.abs()).min(1e-3);
        let at = law.at(plate, grid);
        for (slope, quotient) in slopes_and_quotients(&law, plate, grid, step, 1e-5) {
            let rounding = (at.plate.abs() + at.grid.abs()) * 1e-15 / step.min(1e-5) + 1e-16;
            prop_assert!((slope - quotient).abs() <= 1e-6 * slope.abs() + rounding, "{slope} {quotient}");
        }
    }

    /// Where one step spans every knee, the change of current still lies between the slopes at its ends.
    #[test]
    fn huge_voltages_keep_current_and_slope_together(
        kind in 0..3_usize, scale in 4.0..40.0, plate in -1.0..1.0_f64, grid in -1.0..1.0_f64,
    ) {
        let (plate, grid) = (plate * 10f64.powf(scale), grid * 10f64.powf(scale));
        for law in [TAIL_LAWS[kind], KOREN_LAWS[kind]] {
            for (by_plate, by_grid) in [(plate.abs() * 1e-6, 0.0), (0.0, grid.abs() * 1e-6)] {
                let (from, to) = (law.at(plate, grid), law.at(plate + by_plate, grid + by_grid));
                let change = |at: TriodeCurrents| at.plate_by_plate * by_plate + at.plate_by_grid * by_grid;
                let allowed = (change(to) - change(from)).abs()
                    + 1e-6 * change(to).abs().max(change(from).abs())
                    + 1e-12 * (from.plate.abs() + to.plate.abs() + from.grid.abs());
                let missed = (to.plate - from.plate - 0.5 * (change(to) + change(from))).abs();
                prop_assert!(missed <= allowed, "{plate} {grid}: {missed} over {allowed}");
            }
        }
    }

    #[test]
    fn triodes_are_finite_everywhere(kind in 0..3_usize, plate in any_finite(), grid in any_finite()) {
        for law in [TAIL_LAWS[kind], KOREN_LAWS[kind]] {
            prop_assert!(all_finite(law.at(plate, grid)), "{law:?}");
        }
    }

    /// Plate and grid current rise with their own electrode, the plate current with the grid while that draws little.
    #[test]
    fn currents_rise_with_their_electrodes(kind in 0..3_usize, plate in 0.0..500.0, grid in -50.0..0.0) {
        for law in [TAIL_LAWS[kind], KOREN_LAWS[kind]] {
            let at = law.at(plate, grid);
            prop_assert!(at.plate_by_plate >= 0.0 && at.grid_by_grid >= 0.0, "{at:?}");
            prop_assert!(at.plate_by_grid >= -at.grid_by_grid, "{at:?}");
        }
    }
}

fn all_finite(at: TriodeCurrents) -> bool {
    [
        at.plate,
        at.grid,
        at.plate_by_plate,
        at.plate_by_grid,
        at.grid_by_plate,
        at.grid_by_grid,
    ]
    .iter()
    .all(|value| value.is_finite())
}

#[test]
fn the_ends_of_the_number_range_are_finite() {
    let ends = [
        1e300,
        -1e300,
        f64::MAX,
        -f64::MAX,
        f64::MIN_POSITIVE,
        5e-324,
        0.0,
        -0.0,
        1e-99,
        1e-101,
    ];
    for law in TAIL_LAWS.iter().chain(&KOREN_LAWS) {
        for plate in ends {
            for grid in ends {
                assert!(
                    all_finite(law.at(plate, grid)),
                    "{law:?} at {plate}, {grid}: {:?}",
                    law.at(plate, grid)
                );
            }
        }
    }
}
