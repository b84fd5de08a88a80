//! Several devices side by side carry as many times the current of one (Kirchhoff's current law).

use devices::diode::{DiodeParameters, SILICON_1N4148_A, SILICON_1N4148_B};
use devices::neon::{NeonParameters, NeonState};
use devices::pentode::{EF804S, PentodeVolts};
use devices::triode::{KOREN_12AX7, RSD_1, TriodeLaw, TriodeParameters};
use devices::vacuum_diode::TUBE_6AL5;
use proptest::prelude::*;

/// Seven times, to the rounding of a current that is a difference of larger ones.
fn sevenfold(one: f64, seven: f64) -> bool {
    (7.0 * one - seven).abs() <= 1e-9 * seven.abs() + 1e-18
}

const LEAKY: DiodeParameters = DiodeParameters {
    leakage_siemens: 2e-6,
    ..SILICON_1N4148_A
};

const LAMP: NeonParameters = NeonParameters {
    strike_volts: 90.0,
    maintain_volts: 60.0,
    lit_ohms: 2e3,
    hold_amps: 1e-4,
    dark_siemens: 1e-9,
};

proptest! {
    #[test]
    fn seven_devices_carry_seven_times_the_current(plate in -50.0..300.0, grid in -20.0..3.0, screen in 0.0..200.0) {
        let whole = TriodeParameters { partition_knee: 0.3, partition_volts: 2.0, tail_fraction: 0.2, tail_mu: 20.0, ..RSD_1 };
        for law in [TriodeLaw::Tail(RSD_1), TriodeLaw::Tail(whole), TriodeLaw::Koren(KOREN_12AX7)] {
            let (one, seven) = (law.at(plate, grid), law.times(7.0).at(plate, grid));
            prop_assert!(sevenfold(one.plate, seven.plate) && sevenfold(one.grid, seven.grid), "{one:?} {seven:?}");
            prop_assert!(sevenfold(one.plate_by_grid, seven.plate_by_grid));
            prop_assert!(sevenfold(one.grid_by_grid, seven.grid_by_grid));
        }
        let volts = PentodeVolts { plate, grid, screen, suppressor: grid };
        let (one, seven) = (EF804S.at(volts), EF804S.times(7.0).at(volts));
        for (one, seven) in one.amps.into_iter().zip(seven.amps) {
            prop_assert!(sevenfold(one, seven), "{one} {seven}");
        }
        prop_assert!(sevenfold(TUBE_6AL5.at(plate).0, TUBE_6AL5.times(7.0).at(plate).0));
    }

    #[test]
    fn seven_diodes_and_lamps_carry_seven_times_the_current(volts in prop_oneof![-100.0..100.0, -2.0..2.0]) {
        for law in [SILICON_1N4148_A, SILICON_1N4148_B, LEAKY] {
            let seven: DiodeParameters = law.times(7.0);
            prop_assert!(sevenfold(law.at(volts).0, seven.at(volts).0), "{} {}", law.at(volts).0, seven.at(volts).0);
            prop_assert!(sevenfold(law.farads(volts), seven.farads(volts)));
        }
        for state in [NeonState::Dark, NeonState::LitForward, NeonState::LitBackward] {
            prop_assert!(sevenfold(LAMP.at(state, volts).0, LAMP.times(7.0).at(state, volts).0));
            prop_assert_eq!(LAMP.consistent(state, volts), LAMP.times(7.0).consistent(state, volts));
        }
    }
}
