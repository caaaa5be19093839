//! Ctrl-C: once to stop in good order, twice to stop at once.
//!
//! Every command listens, so that no half-made file is left behind. Where a
//! command can stop in good order ([`orderly`]) it is given a moment to do so.

use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use super::exit::Exit;
use super::talk::say;
use crate::beside;

/// How long a good order may take: nobody waits longer for Ctrl-C.
const PATIENCE: Duration = Duration::from_millis(800);

static ASKED: AtomicBool = AtomicBool::new(false);
static ORDERLY: AtomicBool = AtomicBool::new(false);

/// From here on Ctrl-C (or a request to end) is noted. Where that cannot be
/// had, it ends the process as ever.
pub fn listen() {
    let _ = ctrlc::set_handler(|| {
        if ASKED.swap(true, Ordering::Relaxed) || !ORDERLY.load(Ordering::Relaxed) {
            end();
        }
        std::thread::spawn(|| {
            std::thread::sleep(PATIENCE);
            end();
        });
    });
}

/// From here on the work asks whether it is [`asked`] to end.
pub fn orderly() {
    ORDERLY.store(true, Ordering::Relaxed);
}

/// Whether the person wants no more.
pub fn asked() -> bool {
    ASKED.load(Ordering::Relaxed)
}

fn end() {
    beside::clear();
    say("error: stopped at once; what was written before is whole. Run the same command again");
    std::process::exit(Exit::Failed as i32);
}
