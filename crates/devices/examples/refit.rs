//! Prints the `law` lines that the fit gives for the points of every shipped tube, and how far each point is from them.

#![allow(
    clippy::print_stdout,
    reason = "an example that prints is the point of it"
)]

use devices::fit::{PointResidual, TubeFit, fit_tube};
use devices::library::{Library, law_lines};

fn main() {
    // A type without a prior has a published law, which no fit replaces.
    let library = Library::shipped();
    for tube in library
        .tubes
        .iter()
        .filter(|tube| !tube.points.is_empty() && !tube.from_prior.is_empty())
    {
        let TubeFit {
            law,
            from_prior,
            residuals,
            ..
        } = fit_tube(tube.kind, &tube.points);
        println!("type {}", tube.name);
        for line in law_lines(&law, &from_prior) {
            println!("    {line}");
        }
        for PointResidual {
            point,
            quantity,
            measured,
            fitted,
            relative,
        } in residuals
        {
            let point = &tube.points[point];
            let volts = (point.plate_volts, point.grid_volts);
            println!(
                "    # {volts:?} {quantity:?}: {measured:.4e}, fitted {fitted:.4e}, {:+.1} %",
                relative * 100.0
            );
        }
    }
}
