//! The shared smooth functions: against reference values, and at the joints of the rule that keeps laws finite.

use devices::smooth::*;

/// Wright omega function, `scipy.special.wrightomega` of SciPy 1.17.1.
#[test]
fn wright_omega_has_fourteen_digits() {
    let rows = [
        (-700.0, 9.85967654375977e-305),
        (-40.0, 4.248354255291589e-18),
        (-37.0, 8.533047625744066e-17),
        (-36.5, 1.4068617124461467e-16),
        (-20.0, 2.061153618190205e-09),
        (-5.0, 0.0066930004977309955),
        (-2.0, 0.1200282389876412),
        (-1.0, 0.27846454276107374),
        (-0.999, 0.2786824211034313),
        (-0.5, 0.4046738485459385),
        (0.0, 0.5671432904097838),
        (0.5, 0.7662486081617502),
        (1.0, 1.0),
        (2.0, 1.5571455989976113),
        (2.999, 2.207251791539453),
        (3.0, 2.207940031569323),
        (4.0, 2.926271062443501),
        (5.0, 3.6934413589606496),
        (10.0, 7.9294200950196965),
        (33.3, 29.902072217085585),
        (100.0, 95.44148664557584),
        (1e3, 993.0991694723892),
        (1e6, 999986.1845032577),
        (1e12, 999999999972.369),
        (1e100, 1e100),
    ];
    for (y, expected) in rows {
        let z = wright_omega(y);
        assert!(
            (z / expected - 1.0).abs() < 1e-14,
            "omega({y}) = {z}, expected {expected}"
        );
    }
    assert_eq!(wright_omega(-1e100), 0.0);
}

/// The defining equation z + ln z = y on a fine grid, where rounding of the sum itself allows 1e-14 of its terms.
#[test]
fn wright_omega_solves_its_equation_everywhere() {
    for step in -3600..20_000 {
        let y = f64::from(step) * 0.01;
        let z = wright_omega(y);
        let error = (z + z.ln() - y).abs();
        assert!(
            error <= 1e-14 * (z + z.ln().abs() + y.abs()),
            "omega({y}) = {z}, off by {error}"
        );
    }
}

/// ln(1 + e^x): exact at 0, the identity softplus(x) - softplus(-x) = x, slopes adding up to 1, clean underflow.
#[test]
fn softplus_is_stable_at_both_ends() {
    assert_eq!(softplus(0.0), (std::f64::consts::LN_2, 0.5));
    for x in [1e-300, 1e-9, 0.3, 1.0, 20.0, 700.0, 1e5, 1e100] {
        let ((above, up), (below, down)) = (softplus(x), softplus(-x));
        assert!((above - below - x).abs() <= 4e-16 * above, "{x}");
        assert!((up + down - 1.0).abs() < 4e-16, "{x}");
    }
    assert_eq!(softplus(-1e5), (0.0, 0.0));
    assert_eq!(PositivePower::new(3.0, 1.4).at(-1e5), (0.0, 0.0));
}

/// Value and slope run on across each joint: a straight line between points just beside it meets both.
#[test]
fn tangents_join_with_value_and_slope() {
    type Curve = fn(f64) -> (f64, f64);
    let joints: [(Curve, f64); 2] = [
        (|x| power(x, 1.4), HUGE_VOLTS),
        (exponential_less_one, LARGEST_EXPONENT),
    ];
    for (curve, joint) in joints {
        let (below, slope_below) = curve(joint * (1.0 - 1e-9));
        let (above, slope_above) = curve(joint * (1.0 + 1e-9));
        assert!((slope_above / slope_below - 1.0).abs() < 1e-6);
        assert!(((above - below) / (2e-9 * joint) / slope_above - 1.0).abs() < 1e-5);
        let (far, far_slope) = curve(joint * 1e90);
        assert_eq!(far_slope, curve(joint).1);
        assert!(far.is_finite() && far > above);
    }
    assert_eq!(bounded(f64::MAX), LARGEST_VOLTS);
    assert_eq!(bounded(-f64::MAX), -LARGEST_VOLTS);
    assert_eq!(bounded(-12.5), -12.5);
}
