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

/// A clip's place in the row: it is served before those that got theirs later.
#[derive(Clone, Copy, Debug)]
pub struct Turn<'a> {
    crew: &'a Crew,
    number: usize,
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

    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The turn of a clip that begins now.
    #[must_use]
    pub fn turn(&self) -> Turn<'_> {
        let mut state = self.state();
        state.begun += 1;
        Turn {
            crew: self,
            number: state.begun,
        }
    }
}

impl<'a> Turn<'a> {
    /// How many workers there are.
    #[must_use]
    pub fn workers(&self) -> usize {
        self.crew.size
    }

    /// Waits until `count` workers are free and no clip of an earlier turn wants
    /// any.
    pub(super) fn take(&self, count: usize) -> Hands<'a> {
        let (crew, turn) = (self.crew, self.number);
        let count = count.min(crew.size);
        let mut state = crew.state();
        *state.waiting.entry(turn).or_default() += 1;
        while state.free < count || state.waiting.keys().next() != Some(&turn) {
            let woken = crew.changed.wait(state);
            state = woken.unwrap_or_else(PoisonError::into_inner);
        }
        state.free -= count;
        if let Some(left) = state.waiting.get_mut(&turn) {
            *left -= 1;
            if *left == 0 {
                state.waiting.remove(&turn);
            }
        }
        crew.changed.notify_all();
        Hands { crew, count }
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

    #[test]
    fn the_clip_that_began_first_is_served_first() {
        let crew = Crew::new(2);
        let (first, second) = (crew.turn(), crew.turn());
        let held = second.take(2);
        let order = Mutex::new(Vec::new());
        std::thread::scope(|scope| {
            for turn in [second, first] {
                let order = &order;
                scope.spawn(move || {
                    let _hands = turn.take(2);
                    order.lock().unwrap().push(turn.number);
                });
                while !crew.state().waiting.contains_key(&turn.number) {
                    std::thread::yield_now();
                }
            }
            drop(held);
        });
        assert_eq!(order.into_inner().unwrap(), [first.number, second.number]);
        assert_eq!(crew.state().free, 2);
    }
}
