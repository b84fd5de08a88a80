//! The program `valvewright`: command line, files, clock and defaults; everything else is done by the other crates.
//!
//! What a command finds goes to standard output, talk goes to standard error. Exit codes: 0 all is well, 1 there is a
//! fault in the machine, 2 the text or the command cannot be used, 130 it was interrupted before it was done.

mod cli;
mod commands;
mod defaults;
mod demo;
mod files;
mod kept;
mod shelf;

use clap::Parser as _;
use std::process::ExitCode;

/// How a command ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Ending {
    /// All is well.
    Well,
    /// The machine has a fault.
    Fault,
    /// The text cannot be used.
    Unusable,
    /// It was interrupted: what was found so far is said, and is not complete.
    Interrupted,
}

/// What shells say of a program that an interrupt ends: 128 and the number of the signal.
const INTERRUPTED: u8 = 130;

fn main() -> ExitCode {
    let arguments = cli::Arguments::parse();
    match commands::run(&arguments) {
        Ok(Ending::Well) => ExitCode::SUCCESS,
        Ok(Ending::Fault) => ExitCode::from(1),
        Ok(Ending::Unusable) => ExitCode::from(2),
        Ok(Ending::Interrupted) => ExitCode::from(INTERRUPTED),
        Err(problem) => {
            commands::remark(&format!("valvewright: {problem}"));
            ExitCode::from(2)
        }
    }
}
