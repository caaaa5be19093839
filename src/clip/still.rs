//! One frame kept whole.

use super::frame::{Depth, LumaFrame};
use crate::units::StoredTime;

/// A luma picture with its own memory.
#[derive(Clone, PartialEq)]
pub struct Still {
    size: (usize, usize),
    samples: Samples,
    levels: (f32, f32),
}

#[derive(Clone, PartialEq)]
enum Samples {
    Eight(Vec<u8>),
    Sixteen(Vec<u16>),
}

impl Still {
    /// Copies a frame.
    pub fn of(frame: &LumaFrame<'_>) -> Self {
        let samples = match frame.samples {
            Depth::Eight(s) => Samples::Eight(rows(s, frame)),
            Depth::Sixteen(s) => Samples::Sixteen(rows(s, frame)),
        };
        Self {
            size: frame.size,
            samples,
            levels: frame.levels,
        }
    }

    /// The picture as a frame at time 0.
    pub fn frame(&self) -> LumaFrame<'_> {
        LumaFrame {
            time: StoredTime(0.0),
            size: self.size,
            samples: match &self.samples {
                Samples::Eight(s) => Depth::Eight(s),
                Samples::Sixteen(s) => Depth::Sixteen(s),
            },
            stride: self.size.0,
            levels: self.levels,
            key: true,
            chroma: None,
        }
    }
}

impl std::fmt::Debug for Still {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Still({}x{})", self.size.0, self.size.1)
    }
}

fn rows<T: Copy>(samples: &[T], frame: &LumaFrame<'_>) -> Vec<T> {
    let mut out = Vec::with_capacity(frame.size.0 * frame.size.1);
    for row in samples.chunks(frame.stride.max(1)).take(frame.size.1) {
        out.extend_from_slice(&row[..frame.size.0.min(row.len())]);
    }
    out
}
