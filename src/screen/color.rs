//! How much of a part of the screen has a colour.

use super::Region;
use crate::clip::{Chroma, LumaFrame};

/// A colour that is looked for in a region.
#[derive(Clone, Debug)]
pub struct Paint {
    region: Region,
    /// Red, green, blue, 0..=1.
    rgb: [f32; 3],
    tolerance: f32,
}

/// What a frame shows of a colour.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shown {
    /// Share of the region that has it: as the film shows it, and with the region's
    /// usual tint taken off first.
    pub shares: [f32; 2],
    /// How far what comes nearest to it is off, as a share of the full scale of Cb
    /// and Cr.
    pub off: f32,
    /// Red, green and blue of that, 0..=255.
    pub nearest: [u8; 3],
}

/// Samples that what comes nearest must have: fewer are noise of the compression.
const NEAREST: usize = 6;

/// Length of (Cb, Cr) from which a colour is told by these alone: then how
/// bright the film shows it does not matter.
const COLOURED: f32 = 0.1;
/// A colour must stay nearer to itself than to grey by this share.
const OWN_SHARE: f32 = 0.7;

impl Paint {
    /// Looks for `color` (red, green, blue) in `region`, in stored pixels.
    /// `tolerance` is the largest distance that still counts, as a share of the
    /// full scale of Cb and Cr (of Y too, where the colour is nearly grey).
    pub fn new(region: Region, color: [u8; 3], tolerance: f64) -> Self {
        Self {
            region,
            rgb: color.map(|c| f32::from(c) / 255.0),
            tolerance: tolerance as f32,
        }
    }

    /// Colour samples that the region holds in 4:2:0 film, roughly.
    pub fn pixels(&self) -> usize {
        self.region.count()
    }

    /// What the region (moved by `shift` px) shows of the colour. The tint is taken
    /// off because the filming camera's white balance shifts all colours alike.
    /// `None` where the frame's colours cannot be read.
    pub fn shown(
        &self,
        frame: &LumaFrame<'_>,
        shift: (i16, i16),
        samples: &mut Vec<[f32; 3]>,
    ) -> Option<Shown> {
        let chroma = frame.chroma.as_ref()?;
        self.gather(frame, chroma, shift, samples);
        let (cb, cr) = (usual(samples, 1), usual(samples, 2));
        let want = chroma.matrix().of_rgb(self.rgb);
        let length = want[1].hypot(want[2]);
        let coloured = length >= COLOURED;
        let reach = if coloured {
            self.tolerance.min(OWN_SHARE * length)
        } else {
            self.tolerance
        };
        let off = |s: &[f32; 3], tint: (f32, f32)| {
            (s[1] - tint.0 - want[1]).hypot(s[2] - tint.1 - want[2])
        };
        let near = |s: &&[f32; 3], tint: (f32, f32)| {
            off(s, tint) <= reach && (coloured || (s[0] - want[0]).abs() <= reach)
        };
        let share = |tint| {
            let n = samples.iter().filter(|s| near(s, tint)).count();
            n as f32 / samples.len().max(1) as f32
        };
        let shares = [share((0.0, 0.0)), share((cb, cr))];
        let untinted = (0.0, 0.0);
        if samples.len() > NEAREST {
            let by = |a: &[f32; 3], b: &[f32; 3]| off(a, untinted).total_cmp(&off(b, untinted));
            samples.select_nth_unstable_by(NEAREST, by);
            samples.truncate(NEAREST);
        }
        let n = samples.len().max(1) as f32;
        let mean = [0, 1, 2].map(|k| samples.iter().map(|s| s[k]).sum::<f32>() / n);
        let rgb = chroma.matrix().to_rgb(mean);
        Some(Shown {
            shares,
            off: off(&mean, untinted),
            nearest: rgb.map(|v| (255.0 * v.clamp(0.0, 1.0)).round() as u8),
        })
    }

    /// Y, Cb, Cr of every colour sample of the region.
    fn gather(
        &self,
        frame: &LumaFrame<'_>,
        chroma: &Chroma<'_>,
        shift: (i16, i16),
        samples: &mut Vec<[f32; 3]>,
    ) {
        samples.clear();
        let r = &self.region;
        let ((x0, y0), _) = r.moved(shift, frame.size);
        let (across, down) = chroma.shared();
        let mut luma = [0.0; 1];
        for y in (0..r.height).step_by(down) {
            for x in (0..r.width).step_by(across) {
                if !r.inside[y * r.width + x] {
                    continue;
                }
                if let Some([cb, cr]) = chroma.at(x0 + x, y0 + y) {
                    frame.row(y0 + y, x0 + x, &mut luma);
                    samples.push([luma[0], cb, cr]);
                }
            }
        }
    }
}

/// Median of one component.
fn usual(samples: &mut [[f32; 3]], which: usize) -> f32 {
    if samples.is_empty() {
        return 0.0;
    }
    let middle = samples.len() / 2;
    let by = |a: &[f32; 3], b: &[f32; 3]| a[which].total_cmp(&b[which]);
    samples.select_nth_unstable_by(middle, by).1[which]
}
