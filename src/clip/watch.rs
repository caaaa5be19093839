//! What a clip may cost: memory and time beyond which it is given up, alone.
//!
//! Both are far above what a camera's clip takes. A decoder at work cannot be
//! interrupted; it is asked between packets.

use std::path::Path;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use super::ClipError;

/// Most memory that decoding one clip may take, bytes.
const MOST_BYTES: u64 = 4 << 30;
/// What decoders may take together by a rough count, bytes: workers are fewer
/// where frames are large.
const FOR_WORKERS: usize = 2 << 30;
/// Frames that a decoder holds on the whole, references and those on their way.
const HELD: usize = 8;

/// Time that any clip may take.
const AT_LEAST: Duration = Duration::from_secs(120);
/// No clip takes longer.
const AT_MOST: Duration = Duration::from_secs(6 * 3600);
/// Seconds a pixel may take: a slow machine decodes and measures ten times as
/// fast.
const PIXEL_S: f64 = 2e-7;
/// Seconds a byte of the file may take to be read.
const BYTE_S: f64 = 1e-6;

/// Watches over one pass through a clip.
#[derive(Debug)]
pub(super) struct Watch {
    clock: Mutex<Clock>,
    time: Duration,
    memory: Memory,
    before: u64,
    most: u64,
}

/// How long a clip was worked at, by however many at a time. What it waits while
/// other clips have the workers does not count.
#[derive(Debug)]
struct Clock {
    at_work: usize,
    since: Instant,
    before: Duration,
}

impl Clock {
    fn told(&self) -> Duration {
        let now = match self.at_work {
            0 => Duration::ZERO,
            _ => self.since.elapsed(),
        };
        self.before + now
    }
}

/// Somebody at work; until it is dropped.
pub(super) struct AtWork<'a>(&'a Watch);

impl Drop for AtWork<'_> {
    fn drop(&mut self) {
        let mut clock = self.0.clock();
        clock.before = clock.told();
        clock.since = Instant::now();
        clock.at_work -= 1;
    }
}

impl Watch {
    /// For a pass that only reads a file of so many bytes, from now on.
    pub(super) fn reading(length: u64) -> Self {
        let watch = Self::new(length as f64 * BYTE_S);
        watch.clock().at_work = 1;
        watch
    }

    /// One more works at it.
    pub(super) fn at_work(&self) -> AtWork<'_> {
        let mut clock = self.clock();
        if clock.at_work == 0 {
            clock.since = Instant::now();
        }
        clock.at_work += 1;
        drop(clock);
        AtWork(self)
    }

    fn clock(&self) -> MutexGuard<'_, Clock> {
        self.clock.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// For a pass that decodes and measures so many frames of this size.
    pub(super) fn decoding(frames: usize, (w, h): (usize, usize)) -> Self {
        Self::new((frames * w * h) as f64 * PIXEL_S)
    }

    fn new(seconds: f64) -> Self {
        let time = Duration::from_secs_f64(seconds.min(AT_MOST.as_secs_f64()));
        let memory = Memory::open();
        Self {
            clock: Mutex::new(Clock {
                at_work: 0,
                since: Instant::now(),
                before: Duration::ZERO,
            }),
            time: (AT_LEAST + time).min(AT_MOST),
            before: memory.resident().unwrap_or(0),
            memory,
            most: MOST_BYTES,
        }
    }

    /// With limits of one's own.
    #[cfg(test)]
    pub(super) fn strict(time: Duration, most: u64) -> Self {
        Self {
            time,
            most,
            ..Self::new(0.0)
        }
    }

    /// Whether the clip has cost more than it may.
    pub(super) fn check(&self, path: &Path) -> Result<(), ClipError> {
        let given_up = |what: String| ClipError::TooCostly {
            path: path.to_path_buf(),
            what,
        };
        let spent = self.clock().told();
        if spent > self.time {
            let minutes = self.time.as_secs_f64() / 60.0;
            return Err(given_up(format!(
                "it was not through after {minutes:.0} minutes, many times what a clip of its \
                 size takes"
            )));
        }
        let now = self.memory.resident();
        let grown = now.map_or(0, |now| now.saturating_sub(self.before));
        if grown > self.most {
            let most = self.most as f64 / f64::from(1 << 30);
            return Err(given_up(format!(
                "decoding it takes more than {most:.1} GiB of memory"
            )));
        }
        Ok(())
    }
}

/// Decoders that may work at a time on frames of so many px, up to 6 bytes
/// each, of those that are wanted.
pub(super) fn workers(wanted: usize, (w, h): (usize, usize)) -> usize {
    let each = (w * h).saturating_mul(2 * HELD).max(1);
    wanted.clamp(1, (FOR_WORKERS / each).max(1))
}

/// What this process holds, where that can be told; opened beforehand, since
/// who decodes may open nothing.
#[derive(Clone, Debug)]
struct Memory {
    #[cfg(target_os = "linux")]
    statm: Option<std::sync::Arc<std::fs::File>>,
}

#[cfg(target_os = "linux")]
impl Memory {
    fn open() -> Self {
        let statm = std::fs::File::open("/proc/self/statm").ok();
        Self {
            statm: statm.map(std::sync::Arc::new),
        }
    }

    /// Bytes.
    fn resident(&self) -> Option<u64> {
        use std::os::unix::fs::FileExt;
        /// Of x86-64 and most others; where pages are larger, less is seen than
        /// there is.
        const PAGE: u64 = 4096;
        let mut text = [0; 128];
        let n = self.statm.as_ref()?.read_at(&mut text, 0).ok()?;
        let text = std::str::from_utf8(&text[..n]).ok()?;
        let pages: u64 = text.split_whitespace().nth(1)?.parse().ok()?;
        Some(pages * PAGE)
    }
}

#[cfg(not(target_os = "linux"))]
impl Memory {
    fn open() -> Self {
        Self {}
    }

    fn resident(&self) -> Option<u64> {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn time_and_memory_run_out() {
        let path = Path::new("a.mp4");
        assert!(Watch::decoding(4800, (1920, 1080)).check(path).is_ok());
        let late = Watch::strict(Duration::ZERO, u64::MAX);
        assert!(late.check(path).is_ok(), "waiting costs nothing");
        let working = late.at_work();
        let said = late.check(path).unwrap_err().to_string();
        assert!(
            said.starts_with("a.mp4: is given up: it was not through"),
            "{said}"
        );
        drop(working);
        let spent = late.clock().told();
        std::thread::sleep(Duration::from_millis(3));
        assert_eq!(late.clock().told(), spent);
        if Memory::open().resident().is_some() {
            let watch = Watch::strict(Duration::MAX, 32 << 20);
            assert!(watch.check(path).is_ok());
            let taken = vec![1_u8; 64 << 20];
            let said = watch.check(path).unwrap_err().to_string();
            assert!(said.contains("GiB of memory"), "{said} {}", taken.len());
        }
    }

    #[test]
    fn large_frames_are_decoded_by_fewer() {
        assert_eq!(workers(16, (1920, 1080)), 16);
        assert_eq!(workers(16, (7680, 4320)), 4);
        assert_eq!(workers(0, (16_384, 16_384)), 1);
    }
}
