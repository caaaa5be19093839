//! Ctrl-C: once to stop in good order, twice to stop at once.

use std::sync::atomic::{AtomicBool, Ordering};

use super::exit::Exit;

static ASKED: AtomicBool = AtomicBool::new(false);

/// From here on the first Ctrl-C (or a request to end) is noted, and the second
/// ends the process. Where that cannot be had, Ctrl-C ends the process as ever.
pub fn listen() {
    let _ = ctrlc::set_handler(|| {
        if ASKED.swap(true, Ordering::Relaxed) {
            std::process::exit(i32::from(Exit::Failed.code()));
        }
    });
}

/// Whether the person wants no more.
pub fn asked() -> bool {
    ASKED.load(Ordering::Relaxed)
}
