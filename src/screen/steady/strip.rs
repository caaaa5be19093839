//! A short strip across one side of the screen, read as a profile.

use crate::clip::{Depth, LumaFrame, light};

/// Film pixels along the side that are averaged.
const ACROSS: usize = 6;

/// Where a strip's samples lie.
///
/// Sample 0 lies outside the screen; a step inwards is one film pixel.
pub(super) struct Strip {
    /// Pixels relative to the picture's origin, `ACROSS` for each step.
    cells: Vec<(i32, i32)>,
    /// How far along its side the strip lies, −1 ..= 1.
    pub along: f64,
}

impl Strip {
    /// A strip around `centre` that reaches `reach` px outwards and inwards
    /// along `inward`, both in stored px.
    pub fn new(centre: (f64, f64), inward: (f64, f64), reach: usize, along: f64) -> Self {
        // On whole pixels across the edge, so that an upright one is read
        // without rounding.
        let (mut cx, mut cy) = centre;
        if inward.0.abs() > inward.1.abs() {
            cx = cx.floor() + 0.5;
        } else {
            cy = cy.floor() + 0.5;
        }
        let side = (-inward.1, inward.0);
        let mut cells = Vec::with_capacity((2 * reach + 1) * ACROSS);
        for k in 0..=2 * reach {
            let k = step(k) - step(reach);
            for w in 0..ACROSS {
                let w = step(w) - 0.5 * step(ACROSS - 1);
                let x = cx + k * inward.0 + w * side.0;
                let y = cy + k * inward.1 + w * side.1;
                cells.push((x.floor() as i32, y.floor() as i32));
            }
        }
        Self { cells, along }
    }

    /// Reads samples `from..from + out.len()`, moved by `shift` px, as light, so
    /// that a brighter screen does not seem to have moved. What lies off the
    /// picture repeats its rim.
    pub fn read(&self, frame: &LumaFrame<'_>, shift: (i32, i32), from: usize, out: &mut [f32]) {
        let cells = &self.cells[from * ACROSS..(from + out.len()) * ACROSS];
        match frame.samples {
            Depth::Eight(s) => gather(cells, frame, s, shift, out),
            Depth::Sixteen(s) => gather(cells, frame, s, shift, out),
        }
        let scale = 1.0 / (frame.levels.1 - frame.levels.0);
        for v in out {
            *v = light((*v / ACROSS_F - frame.levels.0) * scale);
        }
    }
}

const ACROSS_F: f32 = ACROSS as f32;

fn step(k: usize) -> f64 {
    k as f64
}

/// Sums of the raw samples of every step.
fn gather<T: Copy + Into<f32>>(
    cells: &[(i32, i32)],
    frame: &LumaFrame<'_>,
    samples: &[T],
    shift: (i32, i32),
    out: &mut [f32],
) {
    let (w, h) = (whole(frame.size.0), whole(frame.size.1));
    // Strips are straight, so their four corners bound them.
    let corners = [0, ACROSS - 1, cells.len() - ACROSS, cells.len() - 1];
    let inside = corners.iter().all(|c| {
        let (x, y) = (cells[*c].0 + shift.0, cells[*c].1 + shift.1);
        x >= 1 && y >= 1 && x < w - 1 && y < h - 1
    });
    let stride = whole(frame.stride);
    let origin = shift.1 * stride + shift.0;
    let sample = |at: i32| {
        let v = usize::try_from(at).ok().and_then(|at| samples.get(at));
        v.map_or(0.0, |v| (*v).into())
    };
    for (o, cells) in out.iter_mut().zip(cells.chunks_exact(ACROSS)) {
        *o = if inside {
            cells
                .iter()
                .map(|(x, y)| sample(origin + y * stride + x))
                .sum()
        } else {
            let rim = |v: i32, n: i32| v.clamp(0, n - 1);
            cells
                .iter()
                .map(|(x, y)| sample(rim(y + shift.1, h) * stride + rim(x + shift.0, w)))
                .sum()
        };
    }
}

fn whole(n: usize) -> i32 {
    i32::try_from(n).unwrap_or(i32::MAX)
}
