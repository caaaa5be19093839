//! Clips gone through side by side, told of as if one came after the other.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::channel;
use std::sync::{Condvar, Mutex, PoisonError, RwLock};

use super::{Events, Line};

/// Clips under way at a time for so many workers: while one is decoded, what no
/// worker can share of others is done. Chosen.
pub fn lanes(workers: usize) -> usize {
    workers.min(2 + workers / 8)
}

/// Does `work` on `lanes` items at a time, begun in their order; `each` gets the
/// results in that order, on the calling thread, and `events` what was said.
pub fn abreast<T: Sync, R: Send>(
    items: &[T],
    lanes: usize,
    events: &dyn Events,
    work: impl Fn(&T, &dyn Events) -> R + Sync,
    mut each: impl FnMut(&T, R),
) {
    let begun = AtomicUsize::new(0);
    let (sender, results) = channel();
    std::thread::scope(|scope| {
        for _ in 0..lanes.min(items.len()) {
            let (sender, begun, work) = (sender.clone(), &begun, &work);
            scope.spawn(move || {
                while let Some((k, item)) = nth(items, begun.fetch_add(1, Ordering::Relaxed)) {
                    let own = InTurn::new(events);
                    let result = work(item, &own);
                    // The other end is only gone while the whole is torn down.
                    let _ = sender.send((k, (result, own)));
                }
            });
        }
        drop(sender);
        let (mut early, mut next) = (BTreeMap::new(), 0);
        for (k, result) in results {
            early.insert(k, result);
            while let Some((result, own)) = early.remove(&next) {
                own.tell();
                each(&items[next], result);
                next += 1;
            }
        }
    });
}

fn nth<T>(items: &[T], k: usize) -> Option<(usize, &T)> {
    items.get(k).map(|item| (k, item))
}

/// Keeps what is said of a clip until it is its turn.
struct InTurn<'a> {
    events: &'a dyn Events,
    said: Mutex<Vec<Said>>,
}

enum Said {
    Warning(String),
    Note(String),
}

impl<'a> InTurn<'a> {
    fn new(events: &'a dyn Events) -> Self {
        Self {
            events,
            said: Mutex::default(),
        }
    }

    fn say(&self, said: Said) {
        let mut all = self.said.lock().unwrap_or_else(PoisonError::into_inner);
        all.push(said);
    }

    fn tell(self) {
        let said = self.said.into_inner();
        for said in said.unwrap_or_else(PoisonError::into_inner) {
            match said {
                Said::Warning(text) => self.events.warning(&text),
                Said::Note(text) => self.events.note(&text),
            }
        }
    }
}

impl Events for InTurn<'_> {
    fn clip(&self, name: &str, frames: u64) -> Line<'_> {
        self.events.clip(name, frames)
    }
    fn warning(&self, text: &str) {
        self.say(Said::Warning(text.to_owned()));
    }
    fn note(&self, text: &str) {
        self.say(Said::Note(text.to_owned()));
    }
    fn stopped(&self) -> bool {
        self.events.stopped()
    }
}

/// Clips that are under way: the same one for another setup waits, and then
/// finds its signals.
#[derive(Default)]
pub struct UnderWay {
    clips: Mutex<BTreeSet<String>>,
    changed: Condvar,
}

impl UnderWay {
    /// Does `work` while nobody else works on that clip.
    pub fn alone<R>(&self, sha256: &str, work: impl FnOnce() -> R) -> R {
        let mut clips = self.clips.lock().unwrap_or_else(PoisonError::into_inner);
        while !clips.insert(sha256.to_owned()) {
            clips = self
                .changed
                .wait(clips)
                .unwrap_or_else(PoisonError::into_inner);
        }
        drop(clips);
        let result = work();
        let mut clips = self.clips.lock().unwrap_or_else(PoisonError::into_inner);
        clips.remove(sha256);
        drop(clips);
        self.changed.notify_all();
        result
    }
}

/// Clips that are gone through together. What one takes of the machine is told
/// from what the whole program takes, so one that seems to take too much is
/// tried again by itself.
#[derive(Default)]
pub struct Together(RwLock<()>);

impl Together {
    /// Does `work`; once more, with nobody beside it, where the first time was
    /// `too_much`.
    pub fn tried<R>(&self, work: impl Fn() -> R, too_much: impl Fn(&R) -> bool) -> R {
        let beside_others = self.0.read().unwrap_or_else(PoisonError::into_inner);
        let first = work();
        drop(beside_others);
        if !too_much(&first) {
            return first;
        }
        let _alone = self.0.write().unwrap_or_else(PoisonError::into_inner);
        work()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::Duration;

    #[derive(Default)]
    struct Heard(Mutex<Vec<String>>);

    impl Events for Heard {
        fn clip(&self, _: &str, _: u64) -> Line<'_> {
            Box::new(|_| {})
        }
        fn warning(&self, text: &str) {
            self.0.lock().unwrap().push(text.to_owned());
        }
    }

    #[test]
    fn what_is_said_and_found_comes_in_the_order_of_the_clips() {
        let (heard, mut found) = (Heard::default(), Vec::new());
        let (under_way, most) = (UnderWay::default(), AtomicUsize::new(0));
        let items: Vec<u64> = (0..12).collect();
        let work = |k: &u64, events: &dyn Events| {
            under_way.alone(&format!("{}", k % 3), || {
                let now = under_way.clips.lock().unwrap().len();
                most.fetch_max(now, Ordering::Relaxed);
                std::thread::sleep(Duration::from_millis(12 - k));
                events.warning(&k.to_string());
                *k
            })
        };
        abreast(&items, 4, &heard, work, |_, k| found.push(k));
        assert_eq!(found, items);
        let told: Vec<String> = items.iter().map(ToString::to_string).collect();
        assert_eq!(*heard.0.lock().unwrap(), told);
        assert!((2..=3).contains(&most.into_inner()));
        assert_eq!([1, 2, 8, 16].map(lanes), [1, 2, 3, 4]);
    }

    #[test]
    fn what_seems_too_much_is_tried_again_by_itself() {
        let (together, at_work) = (Together::default(), AtomicUsize::new(0));
        let most = Mutex::new(Vec::new());
        let items: Vec<usize> = (0..8).collect();
        let work = |k: &usize, _: &dyn Events| {
            let one = || {
                let beside = at_work.fetch_add(1, Ordering::SeqCst);
                std::thread::sleep(Duration::from_millis(5));
                at_work.fetch_sub(1, Ordering::SeqCst);
                most.lock().unwrap().push((*k, beside));
                *k
            };
            together.tried(one, |k| *k == 3)
        };
        abreast(&items, 4, &Heard::default(), work, |_, _| ());
        let of = |wanted| {
            let most = most.lock().unwrap();
            let own = most.iter().filter(|m| m.0 == wanted);
            own.map(|m| m.1).collect::<Vec<_>>()
        };
        assert_eq!((of(2).len(), of(3).len(), of(3)[1]), (1, 2, 0));
    }
}
