//! What capacitors keep, and the resistors that empty them.

use network::safety::Store;

/// Energy, charge, the bleeder for 60 V in 5 s and its watts, by the formulas above (worked out independently).
#[test]
fn the_table_of_bleeders() {
    let rows = [
        (100e-6, 250.0, 3.1, 25e-3, 35e3, 1.8),
        (220e-6, 250.0, 6.9, 55e-3, 16e3, 3.9),
        (47e-6, 350.0, 2.9, 16e-3, 60e3, 2.0),
        (470e-6, 150.0, 5.3, 70e-3, 11.6e3, 1.9),
    ];
    for (farads, volts, joules, coulombs, ohms, watts) in rows {
        let store = Store { farads, volts };
        let needed = store.ohms_for(60.0, 5.0);
        // The table has two figures.
        for (value, expected) in [
            (store.joules(), joules),
            (store.coulombs(), coulombs),
            (needed, ohms),
            (store.watts_in(needed), watts),
        ] {
            assert!(
                (value / expected - 1.0).abs() < 0.035,
                "{value}, not {expected}"
            );
        }
        assert!((store.seconds_to(60.0, needed) - 5.0).abs() < 1e-12);
    }
    // 220 uF through 100 kilohm from 250 V to 60 V: 31 s.
    let store = Store {
        farads: 220e-6,
        volts: 250.0,
    };
    assert!((store.seconds_to(60.0, 100e3) - 31.0).abs() < 0.5);
    // 0.35 J are left at 56.4 V (2 E / C under the root), and at 60 V where the capacitor is small.
    assert!((store.dead_volts(60.0) - 56.4).abs() < 0.05);
    assert_eq!(
        Store {
            farads: 1e-6,
            ..store
        }
        .dead_volts(60.0),
        60.0
    );
    assert_eq!(store.seconds_to(300.0, 100e3), 0.0);
    assert_eq!(store.ohms_for(300.0, 5.0), f64::INFINITY);
}
