//! Runs the built program as its user does: in a folder of its own, with arguments, within bounded time.

use std::path::Path;
use std::process::{Command, Stdio};
use std::thread;
use std::time::{Duration, Instant};

/// What a run gave.
pub struct Run {
    /// Exit code; the run is stopped, and the test fails, when there is none.
    pub code: i32,
    /// Standard output.
    pub out: String,
    /// Standard error.
    pub talk: String,
}

/// Longest time for any command; generous, since the machine may be busy and the build without optimisation.
const PATIENCE: Duration = Duration::from_secs(180);

/// Runs the program in a folder.
///
/// # Panics
/// When it takes longer than three minutes, is ended by a signal, or panics.
pub fn run(folder: &Path, arguments: &[&str]) -> Run {
    let mut child = Command::new(env!("CARGO_BIN_EXE_valvewright"))
        .args(arguments)
        .current_dir(folder)
        .env_remove("COLUMNS")
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let said = all_of(child.stdout.take().unwrap());
    let talked = all_of(child.stderr.take().unwrap());
    let begun = Instant::now();
    let status = loop {
        if let Some(status) = child.try_wait().unwrap() {
            break status;
        }
        if PATIENCE < begun.elapsed() {
            child.kill().unwrap();
            panic!("{arguments:?} takes longer than {PATIENCE:?}");
        }
        thread::sleep(Duration::from_millis(5));
    };
    let run = Run {
        code: status.code().unwrap_or(-1),
        out: said.join().unwrap(),
        talk: talked.join().unwrap(),
    };
    assert!(
        !run.talk.contains("panicked"),
        "{arguments:?}: {}",
        run.talk
    );
    assert!(
        (0..=2).contains(&run.code),
        "{arguments:?} ends with {}: {}",
        run.code,
        run.talk
    );
    run
}

/// Reads a pipe to its end beside the program, so that neither waits for the other.
fn all_of(mut pipe: impl std::io::Read + Send + 'static) -> thread::JoinHandle<String> {
    thread::spawn(move || {
        let mut text = String::new();
        pipe.read_to_string(&mut text).unwrap();
        text
    })
}
