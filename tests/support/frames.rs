//! A sink that keeps what a test wants to know of each frame.

use focuslag::clip::{ClipIndex, Crew, DecodeReport, Depth, FrameSink, LumaFrame, decode_until};

use super::support::hash;

/// One frame as it reached the sink.
#[derive(Clone, Debug, PartialEq)]
pub struct Seen {
    /// Seconds from the first shown frame.
    pub time: f64,
    /// SHA-256 of the visible luma samples.
    pub hash: String,
    /// Visible size.
    pub size: (usize, usize),
    /// Black and white.
    pub levels: (f32, f32),
    /// Luma in the middle of the first and of the last row.
    pub ends: (f32, f32),
    /// Coded as a key frame.
    pub key: bool,
}

/// Keeps every frame.
#[derive(Default)]
pub struct Keep(Vec<Seen>);

impl FrameSink for Keep {
    type Out = Vec<Seen>;

    fn frame(&mut self, frame: &LumaFrame<'_>) {
        let (w, h) = frame.size;
        let mut bytes = Vec::new();
        for y in 0..h {
            let at = y * frame.stride;
            match frame.samples {
                Depth::Eight(s) => bytes.extend_from_slice(&s[at..at + w]),
                Depth::Sixteen(s) => {
                    bytes.extend(s[at..at + w].iter().flat_map(|v| v.to_le_bytes()));
                }
            }
        }
        let mut end = [[0.0; 1]; 2];
        frame.row(0, w / 2, &mut end[0]);
        frame.row(h - 1, w / 2, &mut end[1]);
        self.0.push(Seen {
            time: frame.time.0,
            hash: hash(&bytes),
            size: frame.size,
            levels: frame.levels,
            ends: (end[0][0], end[1][0]),
            key: frame.key,
        });
    }

    fn finish(self) -> Vec<Seen> {
        self.0
    }
}

/// All frames of a clip, the number of stretches, and the report.
pub fn frames(index: &ClipIndex, workers: usize) -> (Vec<Seen>, usize, DecodeReport) {
    threaded(index, workers, 1)
}

/// The same with so many threads of FFmpeg's own for each worker.
pub fn threaded(
    index: &ClipIndex,
    workers: usize,
    threads: usize,
) -> (Vec<Seen>, usize, DecodeReport) {
    let mut all = Vec::new();
    let mut stretches = 0;
    let joined = |part: Vec<Seen>| {
        stretches += 1;
        all.extend(part);
    };
    let crew = Crew::new(workers);
    let turn = (crew.turn(), threads);
    let report = decode_until(index, turn, |_| Keep::default(), joined, |_| {}, || false).unwrap();
    (all, stretches, report)
}
