//! Prints the findings of a design file: `cargo run -p network --example verdict -- machine.valve`.
#![allow(clippy::print_stdout, reason = "an example speaks to the terminal")]

use network::judge::Context;
use network::scene::Assumptions;
use network::solve::Settings;
use network::verdict::{Limits, check};
use text::source::Sources;

struct Folder(std::path::PathBuf);

impl Sources for Folder {
    fn read(&self, name: &str) -> Result<String, String> {
        std::fs::read_to_string(self.0.join(name)).map_err(|error| error.to_string())
    }
}

fn main() {
    let path = std::path::PathBuf::from(std::env::args().nth(1).expect("a file"));
    let folder = Folder(path.parent().expect("a folder").to_owned());
    let name = path
        .file_name()
        .and_then(|name| name.to_str())
        .expect("a name");
    let reading = design::read::read(name, &folder, devices::library::Library::shipped());
    println!(
        "{}",
        text::diagnostic::render(&reading.diagnostics, &reading.sources, false)
    );
    let Some(design) = reading.design else { return };
    let context = Context {
        settings: Settings::STANDARD,
        assumptions: Assumptions::STANDARD,
    };
    let start = std::time::Instant::now();
    let verdict = check(
        &design,
        &Limits {
            residual_share: 0.01,
            thin_share: 0.05,
            touch_volts: 60.0,
        },
        &context,
    );
    println!(
        "{:?} scenes {} settled {}",
        start.elapsed(),
        verdict.place.scenes,
        verdict.place.settled
    );
    for finding in &verdict.findings {
        println!(
            "{} {}: {}\n   {:?} {:?}\n   {:?}",
            finding.name, finding.subject, finding.cause, finding.has, finding.needs, finding.tries
        );
        for consequence in &finding.consequences {
            println!(
                "      {} {}: {}",
                consequence.name, consequence.subject, consequence.cause
            );
        }
    }
    for connection in &verdict.connections {
        let net = &verdict.plan.nets[connection.net].name;
        let load = &verdict.plan.members[connection.load.0].name;
        println!(
            "{net} -> {load}: {:.2}/{:.2} {:?} spare {:.2?} {:.2?}",
            connection.level.down,
            connection.level.up,
            connection.thresholds,
            connection.spare_down(),
            connection.spare_up()
        );
    }
    for ring in &verdict.rings {
        for row in &ring.rows {
            println!(
                "ring row {:?} states {:?}",
                row.inputs,
                row.states
                    .iter()
                    .map(|state| (state.lasts(), &state.values))
                    .collect::<Vec<_>>()
            );
        }
        for scan in &ring.scans {
            println!(
                "scan {} tried {} solutions {:?}",
                scan.net,
                scan.tried,
                scan.solutions
                    .iter()
                    .map(|s| s.stability)
                    .collect::<Vec<_>>()
            );
        }
    }
    println!(
        "{:?}\n{:?}\n{:?}",
        verdict.checked, verdict.not_checked, verdict.extrapolations
    );
}
