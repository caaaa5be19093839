//! Two threads make live-view pictures, one makes frames, the caller encodes.

use std::collections::HashMap;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};

use super::film::{Clock, Frame, FrameMaker, Picture, Warp};
use super::layer::{Print, State};
use super::marks::Mark;
use super::scene::Overlay;
use super::source::Source;

/// Threads that make pictures.
const WORKERS: usize = 2;
/// Pairs of pictures, and frames, that may wait.
const WAITING: usize = 3;

/// What a picture on the screen shows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Look {
    pub state: State,
    /// Linear gain.
    pub gain: f32,
    /// Larger by this share than the lens shows it at its smallest.
    pub breath: f32,
    /// Which of [`Reel::marks`] is drawn over it.
    pub marks: usize,
}

/// Which distinct picture every update shows.
pub(crate) struct Reel<'a> {
    distinct: Vec<Look>,
    of_update: Vec<usize>,
    /// Everything that is drawn together at some time.
    marks: Vec<Vec<Mark>>,
    overlays: &'a [Overlay],
}

impl<'a> Reel<'a> {
    /// Neighbouring updates with the same look share a picture.
    pub(crate) fn new(looks: &[Look], marks: Vec<Vec<Mark>>, overlays: &'a [Overlay]) -> Self {
        let (mut distinct, mut of_update): (Vec<Look>, Vec<usize>) = (Vec::new(), Vec::new());
        for look in looks {
            if distinct.last() != Some(look) {
                distinct.push(*look);
            }
            of_update.push(distinct.len() - 1);
        }
        Self {
            distinct,
            of_update,
            marks,
            overlays,
        }
    }

    /// A bare picture as it stands on the screen.
    fn finish(&self, bare: &[f32], look: &Look, size: (usize, usize)) -> Print {
        let mut print = Print {
            luma: bare.iter().map(|v| v * look.gain).collect(),
            chroma: None,
            breath: look.breath,
        };
        for mark in self.marks.get(look.marks).into_iter().flatten() {
            let overlay = &self.overlays[mark.overlay];
            print.draw(size, overlay, mark.color, mark.reading);
        }
        print
    }
}

/// Runs the clip: `push` gets every frame in order and ends it by an error.
pub(crate) fn run<E>(
    reel: &Reel<'_>,
    source: &Source,
    warp: &Warp,
    maker: FrameMaker<'_>,
    clock: &Clock,
    mut push: impl FnMut(f64, Frame) -> Result<(), E>,
) -> Result<(), E> {
    std::thread::scope(|scope| {
        let sources = [0; WORKERS].map(|_| sync_channel::<[Picture; 2]>(WAITING));
        let (senders, pairs): (Vec<_>, Vec<_>) = sources.into_iter().unzip();
        for (worker, out) in senders.into_iter().enumerate() {
            scope.spawn(move || make_pictures(reel, source, warp, worker, &out));
        }
        let (frames_in, frames) = sync_channel(WAITING);
        scope.spawn(move || make_frames(reel, maker, clock, &pairs, &frames_in));
        for (stamp_s, frame) in frames {
            push(stamp_s, frame)?;
        }
        Ok(())
    })
}

fn make_pictures(
    reel: &Reel<'_>,
    source: &Source,
    warp: &Warp,
    worker: usize,
    out: &SyncSender<[Picture; 2]>,
) {
    let mut held = Vec::new();
    for pair in reel.distinct.chunks(2).skip(worker).step_by(WORKERS) {
        let looks = [&pair[0], pair.last().unwrap_or(&pair[0])];
        let pictures = bare(&mut held, source, looks.map(|l| &l.state));
        let made = [0, 1].map(|i| {
            let print = reel.finish(&pictures[i], looks[i], warp.picture);
            Arc::new(warp.project(print))
        });
        // Nobody listens any more once the encoder has failed.
        if out.send(made).is_err() {
            return;
        }
    }
}

/// Pictures without gain. The last two are `held`: a still scene is composed once.
fn bare(
    held: &mut Vec<(State, Arc<Vec<f32>>)>,
    source: &Source,
    states: [&State; 2],
) -> [Arc<Vec<f32>>; 2] {
    let find = |s: &State| held.iter().find(|(h, _)| h == s);
    let found = states.map(|s| find(s).map(|(_, p)| Arc::clone(p)));
    let pair = match found {
        [Some(a), Some(b)] => [a, b],
        _ => source.pair(states).map(Arc::new),
    };
    *held = states.into_iter().copied().zip(pair.clone()).collect();
    pair
}

fn make_frames(
    reel: &Reel<'_>,
    mut maker: FrameMaker<'_>,
    clock: &Clock,
    pairs: &[Receiver<[Picture; 2]>],
    out: &SyncSender<(f64, Frame)>,
) {
    let mut store = Store::default();
    for stamp in &clock.frames {
        let (low, high) = maker.needs(stamp.1);
        if !store.hold(reel.of_update[low], reel.of_update[high], pairs) {
            return;
        }
        let frame = maker.frame(*stamp, |u| store.get(reel.of_update[u]));
        if out.send((stamp.1, frame)).is_err() {
            return;
        }
    }
}

/// The pictures that a frame may still need.
#[derive(Default)]
struct Store {
    held: HashMap<usize, Picture>,
    pairs: usize,
    empty: Picture,
}

impl Store {
    /// Fetches up to `high` from the workers by turns, forgets what lies before
    /// `low`.
    fn hold(&mut self, low: usize, high: usize, pairs: &[Receiver<[Picture; 2]>]) -> bool {
        while 2 * self.pairs <= high {
            let Ok([a, b]) = pairs[self.pairs % WORKERS].recv() else {
                return false;
            };
            self.held.insert(2 * self.pairs, a);
            self.held.insert(2 * self.pairs + 1, b);
            self.pairs += 1;
        }
        self.held.retain(|i, _| *i >= low);
        true
    }

    fn get(&self, i: usize) -> Picture {
        Arc::clone(self.held.get(&i).unwrap_or(&self.empty))
    }
}
