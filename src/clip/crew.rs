//! Workers shared by the clips that are decoded at a time.

use std::collections::BTreeMap;
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};

/// So many stretches are decoded at a time, of however many clips. The clip
/// that began first is served first; the others take what it leaves.
#[derive(Debug)]
pub struct Crew {
    size: usize,
    state: Mutex<State>,
    changed: Condvar,
}

#[derive(Debug)]
struct State {
    free: usize,
    begun: usize,
    /// Stretches that wait, by their clip's turn.
    waiting: BTreeMap<usize, usize>,
}

/// Workers at work, given back when it is dropped.
pub(super) struct Hands<'a> {
    crew: &'a Crew,
    count: usize,
}

impl Crew {
    /// At least one worker.
    #[must_use]
    pub fn new(size: usize) -> Self {
        let size = size.max(1);
        Self {
            size,
            state: Mutex::new(State {
                free: size,
                begun: 0,
                waiting: BTreeMap::new(),
            }),
            changed: Condvar::new(),
        }
    }

    /// How many there are.
    #[must_use]
    pub fn size(&self) -> usize {
        self.size
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The turn of a clip that begins now.
    pub(super) fn turn(&self) -> usize {
        let mut state = self.state();
        state.begun += 1;
        state.begun
    }

    /// Waits until `count` workers are free and no clip of an earlier turn wants
    /// any.
    pub(super) fn take(&self, turn: usize, count: usize) -> Hands<'_> {
        let count = count.min(self.size);
        let mut state = self.state();
        *state.waiting.entry(turn).or_default() += 1;
        while state.free < count || state.waiting.keys().next() != Some(&turn) {
            state = self
                .changed
                .wait(state)
                .unwrap_or_else(PoisonError::into_inner);
        }
        state.free -= count;
        if let Some(left) = state.waiting.get_mut(&turn) {
            *left -= 1;
            if *left == 0 {
                state.waiting.remove(&turn);
            }
        }
        self.changed.notify_all();
        Hands { crew: self, count }
    }
}

impl Drop for Hands<'_> {
    fn drop(&mut self) {
        self.crew.state().free += self.count;
        self.crew.changed.notify_all();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Arc;

    #[test]
    fn the_clip_that_began_first_is_served_first() {
        let crew = Arc::new(Crew::new(2));
        let (first, second) = (crew.turn(), crew.turn());
        let held = crew.take(second, 2);
        let order = Arc::new(Mutex::new(Vec::new()));
        let threads: Vec<_> = [second, first]
            .into_iter()
            .map(|turn| {
                let (mine, order) = (Arc::clone(&crew), Arc::clone(&order));
                let thread = std::thread::spawn(move || {
                    let _hands = mine.take(turn, 2);
                    order.lock().unwrap().push(turn);
                });
                while !crew.state().waiting.contains_key(&turn) {
                    std::thread::yield_now();
                }
                thread
            })
            .collect();
        drop(held);
        threads.into_iter().for_each(|t| t.join().unwrap());
        assert_eq!(*order.lock().unwrap(), [first, second]);
        assert_eq!(crew.state().free, 2);
    }
}
