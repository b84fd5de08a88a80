//! Ctrl-C as a question whether to stop.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// Set by the first Ctrl-C, so that what is done is kept and said; the second ends the program at once.
pub(super) fn stop_when_interrupted() -> Result<Arc<AtomicBool>, String> {
    let stop = Arc::new(AtomicBool::new(false));
    let set = Arc::clone(&stop);
    ctrlc::set_handler(move || {
        if set.swap(true, Ordering::Relaxed) {
            std::process::exit(i32::from(crate::INTERRUPTED));
        }
    })
    .map_err(|error| format!("an interrupt cannot be waited for: {error}"))?;
    Ok(stop)
}
