//! Frames in order, decoded by one or more workers with one result.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Mutex, PoisonError};

use super::crew::{Crew, Turn};
use super::demux::{self, Job};
use super::queue::{Budget, CancelOnPanic};
use super::report::{DecodeReport, Summary, Tally};
use super::watch::{self, Watch};
use super::{ClipError, ClipIndex, LumaFrame, cage, open, worker};

/// Packets that may wait between reading and decoding, bytes: enough for the
/// stretches in work and the next ones, whatever the length of the clip.
const QUEUED: std::ops::RangeInclusive<usize> = (8 << 20)..=(128 << 20);
/// Stretches of the longest kind that should fit.
const STRETCHES_QUEUED: usize = 3;

/// Takes the frames of one stretch, in presentation order.
pub trait FrameSink: Send {
    /// What it makes of them.
    type Out: Send;
    /// Takes the next frame.
    fn frame(&mut self, frame: &LumaFrame<'_>);
    /// The stretch is over.
    fn finish(self) -> Self::Out;
}

/// Three of the longest stretches, if the bounds let them.
fn queue_limit(index: &ClipIndex) -> usize {
    let packets = index.stamps.len().max(1);
    let each = usize::try_from(index.plan.length).unwrap_or(usize::MAX) / packets;
    let longest = index.plan.stretches.iter().map(|s| s.end - s.first).max();
    let wanted = STRETCHES_QUEUED
        .saturating_mul(longest.unwrap_or(1))
        .saturating_mul(each);
    wanted.clamp(*QUEUED.start(), *QUEUED.end())
}

type Done<Out> = (usize, Result<(Out, Tally), ClipError>);

/// Decodes the clip, stretch by stretch, on `workers` threads (at least one).
///
/// Every stretch gets a sink from `new_sink` (called with the stretch's
/// number) and a decoder of its own; `joined` receives what the sinks made of
/// them in the clip's order, on the calling thread. `progress` is called with
/// the number of frames done, from any thread. Cuts, frames and report do not
/// depend on `workers`.
///
/// Damaged frames, and frames predicted from them, reach no sink: the report
/// names them.
///
/// # Errors
/// The file changed or cannot be read, the decoder breaks down, it costs far
/// more than a clip may, or a frame is interlaced. What was joined before
/// stands.
pub fn decode<S: FrameSink>(
    index: &ClipIndex,
    workers: usize,
    new_sink: impl Fn(usize) -> S + Sync,
    joined: impl FnMut(S::Out),
    progress: impl Fn(u64) + Sync,
) -> Result<DecodeReport, ClipError> {
    let crew = Crew::new(workers);
    decode_until(index, (crew.turn(), 1), new_sink, joined, progress, || {
        false
    })
}

/// The same by workers that other clips may share, each with so many `threads` of
/// FFmpeg's own, given up as soon as `stopped` says so; it is asked after every
/// frame, from any thread. With more than one such thread only a report that
/// [`DecodeReport::is_whole`] vouches for the pixels.
///
/// # Errors
/// As [`decode`], and [`ClipError::Stopped`].
pub fn decode_until<S: FrameSink>(
    index: &ClipIndex,
    (turn, threads): (Turn<'_>, usize),
    new_sink: impl Fn(usize) -> S + Sync,
    joined: impl FnMut(S::Out),
    progress: impl Fn(u64) + Sync,
    stopped: impl Fn() -> bool + Sync,
) -> Result<DecodeReport, ClipError> {
    let (input, length) = open::open(&index.path, index.plan.options)?;
    if length != index.plan.length {
        return Err(ClipError::Changed {
            path: index.path.clone(),
        });
    }
    let size = index.orientation.stored;
    let watch = Watch::decoding(index.stamps.len(), size);
    let budget = Budget::new(queue_limit(index));
    let (job_sender, jobs) = channel::<Job>();
    let (done_sender, done) = channel::<Done<S::Out>>();
    let jobs = Mutex::new(jobs);
    let frames = AtomicU64::new(0);
    let workers = watch::workers(turn.workers(), size);
    // Stretches under way share the workers, however many threads each has: else
    // several clips would have far more of them than there are workers. Where frames
    // are so large that not all may work, none of another clip may.
    let under_way = index.plan.stretches.len().clamp(1, workers);
    let hands = (turn.workers() / under_way).max(threads.min(2));
    let given_up = AtomicBool::new(false);
    let count = || {
        progress(frames.fetch_add(1, Ordering::Relaxed) + 1);
        if stopped() {
            given_up.store(true, Ordering::Relaxed);
            budget.cancel();
        }
    };
    std::thread::scope(|scope| {
        let reader = scope.spawn(|| {
            let job_sender = job_sender;
            let _guard = CancelOnPanic(&budget);
            cage::enter();
            demux::run(input, index, &job_sender, &budget)
        });
        for _ in 0..workers {
            let done = done_sender.clone();
            let (jobs, budget, count, new_sink) = (&jobs, &budget, &count, &new_sink);
            let watch = &watch;
            scope.spawn(move || {
                let _guard = CancelOnPanic(budget);
                cage::enter();
                work(jobs, &done, |job| {
                    let _hands = turn.take(hands);
                    let _working = watch.at_work();
                    worker::run(
                        index,
                        job,
                        (budget, watch, threads),
                        new_sink(job.number),
                        count,
                    )
                });
            });
        }
        drop(done_sender);
        let summary = join(index, &done, &budget, joined);
        let unread = reader
            .join()
            .unwrap_or_else(|panic| std::panic::resume_unwind(panic));
        if given_up.load(Ordering::Relaxed) {
            return Err(ClipError::Stopped {
                path: index.path.clone(),
            });
        }
        Ok(summary?.finish(index, unread?))
    })
}

/// Takes stretches until there are no more.
fn work<Out>(
    jobs: &Mutex<Receiver<Job>>,
    done: &Sender<Done<Out>>,
    decode: impl Fn(&Job) -> Result<(Out, Tally), ClipError>,
) {
    loop {
        let job = jobs.lock().unwrap_or_else(PoisonError::into_inner).recv();
        let Ok(job) = job else {
            return;
        };
        // The other end is only gone while the whole is being torn down.
        let _ = done.send((job.number, decode(&job)));
    }
}

/// Puts the stretches' results back into order.
fn join<Out>(
    index: &ClipIndex,
    done: &Receiver<Done<Out>>,
    budget: &Budget,
    mut joined: impl FnMut(Out),
) -> Result<Summary, ClipError> {
    let mut summary = Summary::default();
    let mut early = BTreeMap::new();
    let mut next = 0;
    let mut failed = None;
    for (number, result) in done {
        early.insert(number, result);
        while let Some(result) = early.remove(&next).filter(|_| !budget.is_cancelled()) {
            next += 1;
            match result {
                Ok((out, tally)) => {
                    let goes_on = summary.add(&index.plan, tally);
                    joined(out);
                    if !goes_on {
                        budget.cancel();
                    }
                }
                Err(error) => {
                    failed = Some(error);
                    budget.cancel();
                }
            }
        }
    }
    failed.map_or(Ok(summary), Err)
}
