//! Packets on their way from the one demuxer to the workers, bounded in bytes.

use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};

use ffmpeg_next::Packet;

/// What a queued packet costs beside its payload, bytes.
const OVERHEAD: usize = 512;

/// Bytes that may wait in all queues together.
pub(super) struct Budget {
    limit: usize,
    state: Mutex<State>,
    changed: Condvar,
}

#[derive(Default)]
struct State {
    waiting: usize,
    cancelled: bool,
}

/// A queued packet; its bytes are given back when it is dropped.
pub(super) struct Parcel {
    /// The packet.
    pub packet: Packet,
    /// Whether it is the stretch's own, not one it borrows from the next.
    pub own: bool,
    bytes: usize,
    budget: Arc<Budget>,
}

impl Budget {
    pub(super) fn new(limit: usize) -> Arc<Self> {
        Arc::new(Self {
            limit,
            state: Mutex::default(),
            changed: Condvar::new(),
        })
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Waits until there is room for more; `false` once cancelled.
    pub(super) fn wait(&self) -> bool {
        let mut state = self.state();
        while state.waiting >= self.limit && !state.cancelled {
            state = self
                .changed
                .wait(state)
                .unwrap_or_else(PoisonError::into_inner);
        }
        !state.cancelled
    }

    /// Wraps a packet, room or not.
    pub(super) fn parcel(self: &Arc<Self>, packet: Packet, own: bool) -> Parcel {
        let bytes = packet.size() + OVERHEAD;
        self.state().waiting += bytes;
        Parcel {
            packet,
            own,
            bytes,
            budget: Arc::clone(self),
        }
    }

    /// Ends all waiting: nothing more is wanted.
    pub(super) fn cancel(&self) {
        self.state().cancelled = true;
        self.changed.notify_all();
    }

    /// Whether nothing more is wanted.
    pub(super) fn is_cancelled(&self) -> bool {
        self.state().cancelled
    }
}

impl Drop for Parcel {
    fn drop(&mut self) {
        self.budget.state().waiting -= self.bytes;
        self.budget.changed.notify_all();
    }
}

/// Cancels if the thread that holds it panics, lest the others wait for ever.
pub(super) struct CancelOnPanic<'a>(pub &'a Budget);

impl Drop for CancelOnPanic<'_> {
    fn drop(&mut self) {
        if std::thread::panicking() {
            self.0.cancel();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_full_queue_waits_until_a_packet_is_taken() {
        let budget = Budget::new(1);
        let parcel = budget.parcel(Packet::new(100), true);
        let waiter = Arc::clone(&budget);
        let thread = std::thread::spawn(move || waiter.wait());
        drop(parcel);
        assert!(thread.join().unwrap());
        let _parcel = budget.parcel(Packet::new(100), true);
        budget.cancel();
        assert!(!budget.wait() && budget.is_cancelled());
    }
}
