//! How fast networks are solved and machines are judged, beside a baseline of the same run.

use benchmarks::by_library::System;
use benchmarks::cell::{self, LEAK_SIEMENS, PLAIN, Spreads, WHOLE};
use benchmarks::machine;
use benchmarks::ratios::{Row, growth, seconds, table};
use benchmarks::thread_time::ThreadSeconds;
use criterion::{BenchmarkId, Criterion};
use devices::triode::TriodeParameters;
use network::ensemble::{End, Ensemble, Sample};
use network::judge::Context;
use network::solve::{OperatingPoint, Settings, Solver};
use network::verdict::check;
use network::wiring::Wiring;
use numerics::lanes::select::Choice;
use std::hint::black_box;
use std::path::{Path, PathBuf};
use std::time::Duration;

type Harness = Criterion<ThreadSeconds>;

/// Samples in one round.
const SAMPLES: usize = 256;
/// The same for the general-purpose methods, which take longer.
const FEW_SAMPLES: usize = 16;
/// Tubes of the machines whose cost is compared.
const SIZES: [usize; 3] = [40, 400, 1600];
/// Tubes of the machines whose worst case is sought.
const BOARDS: [usize; 3] = [40, 160, 400];
/// Rounds of what takes a second or more.
const FEW_ROUNDS: usize = 10;
/// Machines drawn in one round.
const DRAWN: u32 = 64;
/// The general-purpose method that ours is compared with: the baseline of both tables of the cell.
const DENSE: &str = "dense LU of a general library, one by one";
const SQUARES: &str = "least squares of a general library";

fn main() {
    let results = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("speed");
    // One thread, so that its clock counts everything.
    let one = rayon::ThreadPoolBuilder::new().num_threads(1).build();
    let tables = one.expect("one thread can be had").install(|| {
        let mut harness = Criterion::default()
            .with_measurement(ThreadSeconds)
            .without_plots()
            .output_directory(&results)
            .warm_up_time(Duration::from_millis(300))
            .measurement_time(Duration::from_secs(3))
            .sample_size(20)
            .configure_from_args();
        let mut tables = Vec::new();
        for (name, law) in [("plain law", PLAIN), ("whole law", WHOLE)] {
            for start in ["warm", "cold"] {
                tables.push(cell_from(&mut harness, &results, [name, start], law));
            }
        }
        tables.push(solving_by_size(&mut harness, &results));
        tables.push(judging_by_size(&mut harness, &results));
        tables.extend(boards(&mut harness, &results));
        harness.final_summary();
        tables
    });
    #[allow(clippy::print_stdout, reason = "this is what the benchmark is for")]
    for table in tables {
        println!("{table}");
    }
}

fn at_rest(wiring: Wiring) -> (network::equations::Network, OperatingPoint) {
    let network = cell::network(wiring);
    let point = Solver::new(&network).operating_point(&network, None, None, &Settings::STANDARD);
    assert!(point.outcome.settled(), "{:?}", point.outcome);
    (network, point)
}

/// Ten triodes and thirty diodes with every value varied, from the nominal point or from zero volts.
fn cell_from(
    harness: &mut Harness,
    results: &Path,
    [law_name, start_name]: [&str; 2],
    law: TriodeParameters,
) -> String {
    let settings = Settings::STANDARD;
    let nominal = cell::cell(law);
    let (network, mut start) = at_rest(nominal.clone());
    if start_name == "cold" {
        start.volts.fill(0.0);
    }
    let ensemble = Ensemble::new(&network, &start, &[], &settings);
    let spreads = Spreads::draw(&nominal, SAMPLES);
    let vary = |number: usize, sample: &mut Sample| spreads.vary(number, sample);
    let ours = ensemble.solve(SAMPLES, Choice::one(), &vary);
    assert!(ours.ends.iter().all(|end| *end == End::Settled));

    let group_name = format!("cell {start_name} {law_name}");
    let mut group = harness.benchmark_group(&group_name);
    let mut rows = Vec::new();
    let mut remarks = String::new();
    let few: Vec<Wiring> = (0..FEW_SAMPLES)
        .map(|number| spreads.wiring(number))
        .collect();
    for (name, method) in [(DENSE, by_newton as Method), (SQUARES, by_least_squares)] {
        let settled = few
            .iter()
            .enumerate()
            .filter(|(number, wiring)| method(wiring, &start.volts, ours.sample(*number)))
            .count();
        if settled < few.len() {
            remarks += &format!("{name}: {settled} of {} settle\n", few.len());
            continue;
        }
        group.bench_function(name, |bencher| {
            bencher.iter(|| {
                for (number, wiring) in few.iter().enumerate() {
                    black_box(method(wiring, &start.volts, ours.sample(number)));
                }
            });
        });
        rows.push(row(&group_name, name, FEW_SAMPLES));
    }
    for &lanes in Choice::all() {
        let name = format!("own, lanes {}", lanes.lanes());
        group.bench_function(&name, |bencher| {
            bencher.iter(|| ensemble.solve(SAMPLES, lanes, &vary));
        });
        rows.push(row(&group_name, &name, SAMPLES));
    }
    group.finish();
    let each = ours.evaluations as f64 / SAMPLES as f64;
    table(&group_name, results, &rows) + &format!("{each:.1} evaluations each\n") + &remarks
}

/// Solves one wiring from node volts and says whether it found the given volts.
type Method = fn(&Wiring, &[f64], &[f64]) -> bool;

fn by_newton(wiring: &Wiring, start: &[f64], solution: &[f64]) -> bool {
    let system = System::new(wiring, LEAK_SIEMENS);
    let found = system.newton(&system.unknowns_of(start), &Settings::STANDARD);
    found.is_some_and(|x| (x - system.unknowns_of(solution)).amax() < SAME_VOLTS)
}

fn by_least_squares(wiring: &Wiring, start: &[f64], solution: &[f64]) -> bool {
    let system = System::new(wiring, LEAK_SIEMENS);
    let found = system.least_squares(&system.unknowns_of(start));
    found.is_some_and(|x| (x - system.unknowns_of(solution)).amax() < SAME_VOLTS)
}

/// Far below any level, far above what a balance to 1e-10 A leaves open at a megohm.
const SAME_VOLTS: f64 = 1e-2;

fn row(group: &str, name: &str, solutions: usize) -> Row {
    Row {
        place: [group.to_owned(), name.to_owned()],
        solutions,
    }
}

/// One network of a whole register, from zero volts.
fn solving_by_size(harness: &mut Harness, results: &Path) -> String {
    by_size(harness, results, "one network", &SIZES, |tubes| {
        let (network, _) = at_rest(cell::register(tubes));
        let mut solver = Solver::new(&network);
        move || {
            solver
                .operating_point(&network, None, None, &Settings::STANDARD)
                .work
                .evaluations
        }
    })
}

/// The register as a machine, from its text to its findings.
fn judging_by_size(harness: &mut Harness, results: &Path) -> String {
    by_size(harness, results, "check from text", &SIZES, |tubes| {
        let text = machine::register(tubes);
        move || machine::judged(&text)
    })
}

/// The worst case of a register, and machines drawn from its bands: a board of 40 tubes in every number of lanes beside one lane,
/// and the cost by tubes.
fn boards(harness: &mut Harness, results: &Path) -> Vec<String> {
    let mut tables = Vec::new();
    let designs = BOARDS.map(|tubes| machine::design_of(&machine::register(tubes)));
    let verdicts = designs.each_ref().map(|design| {
        check(
            design,
            &machine::defaults::LIMITS,
            &machine::defaults::CONTEXT,
        )
    });
    let in_lanes: Vec<(String, Context)> = Choice::all()
        .iter()
        .map(|&lanes| {
            (
                format!("{} lanes", lanes.lanes()),
                machine::context_in(lanes),
            )
        })
        .collect();
    for (title, machines) in [
        ("worst case of a board", None),
        ("machines drawn", Some(DRAWN)),
    ] {
        let mut group = harness.benchmark_group(title);
        group.sample_size(FEW_ROUNDS);
        let mut rows = Vec::new();
        for (name, context) in &in_lanes {
            let yields = machines.map(|_| machine::ready(&verdicts[0], context));
            group.bench_function(BenchmarkId::from_parameter(name), |bencher| {
                bencher.iter(|| match (&yields, machines) {
                    (Some(yields), Some(machines)) => machine::drawn(yields, machines),
                    _ => machine::worst_case(&verdicts[0], context),
                });
            });
            rows.push(row(title, name, machines.unwrap_or(1) as usize));
        }
        group.finish();
        tables.push(table(
            &format!("{title}, {} tubes", BOARDS[0]),
            results,
            &rows,
        ));
    }
    let context = machine::defaults::CONTEXT;
    let verdict = |tubes: usize| {
        let place = BOARDS.iter().position(|board| *board == tubes);
        &verdicts[place.unwrap_or(0)]
    };
    tables.push(by_size(harness, results, "worst case", &BOARDS, |tubes| {
        let verdict = verdict(tubes);
        move || machine::worst_case(verdict, &context)
    }));
    tables.push(by_size(
        harness,
        results,
        "eight machines drawn",
        &BOARDS,
        |tubes| {
            let yields = machine::ready(verdict(tubes), &context);
            move || machine::drawn(&yields, 8)
        },
    ));
    tables
}

fn by_size<W: FnMut() -> usize>(
    harness: &mut Harness,
    results: &Path,
    title: &str,
    sizes: &[usize],
    of_size: impl Fn(usize) -> W,
) -> String {
    let mut group = harness.benchmark_group(title);
    group.sample_size(FEW_ROUNDS);
    let mut rows = Vec::new();
    for &tubes in sizes {
        let mut work = of_size(tubes);
        let name = format!("{tubes}");
        group.bench_function(BenchmarkId::from_parameter(&name), |bencher| {
            bencher.iter(&mut work);
        });
        rows.push(row(title, &name, 1));
    }
    group.finish();
    let mut text = table(&format!("{title} by tubes"), results, &rows);
    let ends = [&rows[0], &rows[sizes.len() - 1]].map(|row| seconds(results, row));
    if let [Some(small), Some(large)] = ends {
        let sizes = [sizes[0] as f64, sizes[sizes.len() - 1] as f64];
        let exponent = growth(sizes, [small, large]);
        text += &format!("cost grows as tubes to the power {exponent:.2}\n");
    }
    text
}
