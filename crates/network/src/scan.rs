//! Every solution of a bistable network: break its loop at one net, scan that net's volts, and take every crossing.
//!
//! A source holds the broken net at a voltage; the rest is solved, and the current the source must give is a function
//! of the voltage. Where that current is zero the source could be taken away: a solution of the whole network.

use crate::equations::{Clash, Network};
use crate::solve::{OperatingPoint, Settings, Solver};
use crate::stability::{Stability, stability};
use crate::wiring::{ElementIndex, NodeIndex, Wiring};

/// A solution with its stability.
#[derive(Debug, Clone, PartialEq)]
pub struct Solution {
    /// The point.
    pub point: OperatingPoint,
    /// Whether the circuit rests there.
    pub stability: Stability,
}

/// What a scan found, and what it looked at.
#[derive(Debug, Clone, PartialEq)]
pub struct Scan {
    /// Name of the net that was broken.
    pub net: String,
    /// From and to, V.
    pub range: (f64, f64),
    /// Number of voltages tried, refinement included.
    pub tried: usize,
    /// Voltages at which the rest did not settle.
    pub not_settled: usize,
    /// Solutions, in order of the broken net's volts.
    pub solutions: Vec<Solution>,
}

/// Points of the first, even scan: chosen, half a volt apart on 36 V rails; closer pairs of crossings are sought where
/// the current comes near zero without crossing.
const EVEN_POINTS: usize = 73;
/// Bound on the halvings of one crossing: 1 V to 1e-12 V.
const HALVINGS: usize = 40;
/// The whole network must settle this near to the crossing, V, or it slid off to another solution.
const LANDED_VOLTS: f64 = 1e-2;
/// Solutions nearer than this are one, V.
const SAME_VOLTS: f64 = 1e-4;

/// Scans `net` of a wiring over `range` (V) and returns every solution found with its stability.
///
/// # Errors
/// When ties contradict one another, with or without the scanning source.
pub fn scan(
    wiring: &Wiring,
    leak_siemens: f64,
    net: NodeIndex,
    range: (f64, f64),
    settings: &Settings,
) -> Result<Scan, Clash> {
    let whole = Network::new(wiring.clone(), leak_siemens)?;
    let mut broken_wiring = wiring.clone();
    let source = broken_wiring.hold("scan", net, range.0);
    let mut broken = Broken {
        solver: None,
        network: Network::new(broken_wiring, leak_siemens)?,
        source,
        settings: *settings,
    };
    let mut scan = Scan {
        net: wiring.nodes[net].name.clone(),
        range,
        tried: 0,
        not_settled: 0,
        solutions: Vec::new(),
    };
    let brackets = even_scan(&mut broken, &mut scan);
    let mut solver = Solver::new(&whole);
    for bracket in brackets {
        let Some(start) = broken.close_in(bracket, &mut scan) else {
            continue;
        };
        let point = solver.operating_point(
            &whole,
            Some(&start.volts),
            Some(&start.lamps[..wiring.elements.len()]),
            settings,
        );
        let known = scan
            .solutions
            .iter()
            .any(|solution| same(&solution.point, &point));
        if point.outcome.settled()
            && !known
            && (point.volts[net] - start.volts[net]).abs() < LANDED_VOLTS
        {
            let stability = stability(&whole, &mut solver, &point);
            scan.solutions.push(Solution { point, stability });
        }
    }
    scan.solutions
        .sort_by(|left, right| left.point.volts[net].total_cmp(&right.point.volts[net]));
    Ok(scan)
}

fn same(left: &OperatingPoint, right: &OperatingPoint) -> bool {
    left.volts
        .iter()
        .zip(&right.volts)
        .all(|(left, right)| (left - right).abs() < SAME_VOLTS)
}

/// The network with the scanning source in it.
struct Broken {
    network: Network,
    source: ElementIndex,
    solver: Option<Solver>,
    settings: Settings,
}

/// A voltage of the broken net, the current (A) its source gives there, and the solution of the rest.
#[derive(Clone)]
struct Sample {
    volts: f64,
    amps: f64,
    point: OperatingPoint,
}

impl Broken {
    /// Solves the rest with the net held at `volts`, from a neighbouring solution; `None` when it does not settle.
    fn at(&mut self, volts: f64, near: Option<&OperatingPoint>, scan: &mut Scan) -> Option<Sample> {
        self.network.set_tie(self.source, volts);
        scan.tried += 1;
        let solver = self
            .solver
            .get_or_insert_with(|| Solver::new(&self.network));
        let start = near.map(|point| point.volts.as_slice());
        let point = solver.operating_point(
            &self.network,
            start,
            near.map(|point| point.lamps.as_slice()),
            &self.settings,
        );
        if !point.outcome.settled() {
            scan.not_settled += 1;
            return None;
        }
        let amps =
            self.network.tie_amps(&point.volts, &point.lamps)[self.source].unwrap_or(f64::NAN);
        Some(Sample { volts, amps, point })
    }

    /// Narrows a bracket of a crossing down by halving, and returns the solution of the rest there.
    fn close_in(&mut self, bracket: (Sample, Sample), scan: &mut Scan) -> Option<OperatingPoint> {
        let (mut low, mut high) = bracket;
        for _ in 0..HALVINGS {
            if high.volts - low.volts < SAME_VOLTS / 10.0 {
                break;
            }
            let middle = self.at((low.volts + high.volts) / 2.0, Some(&low.point), scan)?;
            if (middle.amps > 0.0) == (low.amps > 0.0) {
                low = middle
            } else {
                high = middle
            }
        }
        Some(low.point)
    }
}

/// The even scan; returns the brackets of every crossing, also of pairs hidden between two points.
fn even_scan(broken: &mut Broken, scan: &mut Scan) -> Vec<(Sample, Sample)> {
    let (low, high) = scan.range;
    let mut samples: Vec<Sample> = Vec::new();
    for index in 0..EVEN_POINTS {
        let share = index as f64 / (EVEN_POINTS - 1) as f64;
        let near = samples.last().map(|sample| sample.point.clone());
        samples.extend(broken.at(low + share * (high - low), near.as_ref(), scan));
    }
    let mut brackets = Vec::new();
    for index in 1..samples.len() {
        let (left, right) = (&samples[index - 1], &samples[index]);
        if (left.amps > 0.0) != (right.amps > 0.0) {
            brackets.push((left.clone(), right.clone()));
            continue;
        }
        let nearest_here = index + 1 < samples.len()
            && right.amps.abs() < left.amps.abs()
            && right.amps.abs() <= samples[index + 1].amps.abs();
        if nearest_here && (right.amps > 0.0) == (samples[index + 1].amps > 0.0) {
            hidden_pair(
                broken,
                scan,
                left,
                right,
                &samples[index + 1],
                &mut brackets,
            );
        }
    }
    brackets
}

/// Between `left` and `right` the current comes near zero at `middle` without crossing: halve towards the smallest
/// current and see whether it crosses after all.
fn hidden_pair(
    broken: &mut Broken,
    scan: &mut Scan,
    left: &Sample,
    middle: &Sample,
    right: &Sample,
    brackets: &mut Vec<(Sample, Sample)>,
) {
    let (mut left, mut middle, mut right) = (left.clone(), middle.clone(), right.clone());
    for _ in 0..HALVINGS / 4 {
        let between_left = broken.at((left.volts + middle.volts) / 2.0, Some(&left.point), scan);
        let between_right = broken.at(
            (middle.volts + right.volts) / 2.0,
            Some(&middle.point),
            scan,
        );
        let (Some(between_left), Some(between_right)) = (between_left, between_right) else {
            return;
        };
        for between in [&between_left, &between_right] {
            if (between.amps > 0.0) != (middle.amps > 0.0) {
                brackets.push((left.clone(), between.clone()));
                brackets.push((between.clone(), right.clone()));
                return;
            }
        }
        if between_left.amps.abs() < middle.amps.abs() {
            right = middle;
            middle = between_left;
        } else if between_right.amps.abs() < middle.amps.abs() {
            left = middle;
            middle = between_right;
        } else {
            left = between_left;
            right = between_right;
        }
    }
}
