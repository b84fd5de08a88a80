//! Time that the processor spends on one thread: what else the machine does is not counted.

use cpu_time::ThreadTime;
use criterion::measurement::{Measurement, ValueFormatter, WallTime};
use std::time::Duration;

/// The clock of the calling thread; all that is timed must happen on it.
#[derive(Debug, Clone, Copy, Default)]
pub struct ThreadSeconds;

impl Measurement for ThreadSeconds {
    type Intermediate = ThreadTime;
    type Value = Duration;

    fn start(&self) -> ThreadTime {
        ThreadTime::now()
    }

    fn end(&self, start: ThreadTime) -> Duration {
        start.elapsed()
    }

    fn add(&self, left: &Duration, right: &Duration) -> Duration {
        *left + *right
    }

    fn zero(&self) -> Duration {
        Duration::ZERO
    }

    fn to_f64(&self, value: &Duration) -> f64 {
        value.as_secs_f64() * 1e9
    }

    fn formatter(&self) -> &dyn ValueFormatter {
        // It writes nanoseconds, whatever clock they come from.
        WallTime.formatter()
    }
}
