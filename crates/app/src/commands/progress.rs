//! How far a long run is, and about how long it still takes.

use super::remark;
use std::io::{IsTerminal as _, Write as _};
use std::time::{Duration, Instant};

/// Tells it on a terminal in one line that is written over, elsewhere in a line now and then.
pub(super) struct Progress {
    /// Of what: `blocks drawn`.
    what: &'static str,
    /// How many there are; `None` where that is not known before the end.
    all: Option<usize>,
    begun: Instant,
    told: Instant,
    on_terminal: bool,
    width: usize,
}

impl Progress {
    pub(super) fn new(what: &'static str, all: Option<usize>) -> Self {
        let now = Instant::now();
        Self {
            what,
            all,
            begun: now,
            told: now,
            on_terminal: std::io::stderr().is_terminal(),
            width: 0,
        }
    }

    /// So many are done.
    pub(super) fn tell(&mut self, done: usize) {
        if done != 0 && Some(done) != self.all {
            self.write(&self.line(done, self.begun.elapsed()));
        }
    }

    /// Writes a line where the last is long enough ago.
    fn write(&mut self, line: &str) {
        let pause = Duration::from_secs(if self.on_terminal { 1 } else { 10 });
        if self.told.elapsed() < pause {
            return;
        }
        self.told = Instant::now();
        if self.on_terminal {
            self.width = self.width.max(line.len());
            let width = self.width;
            let _ = write!(std::io::stderr(), "\r{line:width$}");
        } else {
            remark(line);
        }
    }

    fn line(&self, done: usize, since: Duration) -> String {
        let what = self.what;
        let far = match self.all {
            Some(all) => {
                let each = since.as_secs_f64() / done as f64;
                let left = duration(each * all.saturating_sub(done) as f64);
                format!("{done} of {all} {what}, about {left} left")
            }
            None => format!("{done} {what} in {}", duration(since.as_secs_f64())),
        };
        format!("{far}; Ctrl-C ends it and keeps what is done")
    }

    /// Clears the line.
    pub(super) fn end(&self) {
        if 0 < self.width {
            let width = self.width;
            let _ = write!(std::io::stderr(), "\r{:width$}\r", "");
        }
    }
}

/// What a long run is at, where it has parts that are not alike; told as [`Progress`] tells how far one is.
pub(super) struct Stages {
    progress: Progress,
}

impl Stages {
    pub(super) fn new(what: &'static str) -> Self {
        Self {
            progress: Progress::new(what, None),
        }
    }

    /// It is at this.
    pub(super) fn tell(&mut self, stage: &str) {
        let line = format!("{}: {stage}", self.progress.what);
        self.progress.write(&line);
    }

    /// Clears the line.
    pub(super) fn end(&self) {
        self.progress.end();
    }
}

/// `40 s`, `3 min`, `2 h`
fn duration(seconds: f64) -> String {
    match seconds {
        _ if seconds < 100.0 => format!("{seconds:.0} s"),
        _ if seconds < 6000.0 => format!("{:.0} min", seconds / 60.0),
        _ => format!("{:.0} h", seconds / 3600.0),
    }
}
