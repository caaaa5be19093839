//! What the focus area of one photograph holds.

use std::path::Path;

use super::PhotoError;
use super::file::Photograph;
use super::pair::Taken;
use super::thumb::{Placed, Thumb};
use crate::clip::LumaFrame;
use crate::geometry::{Homography, Quad, StoredPx, whole_screen};
use crate::limits;
use crate::sharpness::{BANDS, BandMeter, EVEN_PX, Energies, Grain, MeterError};

/// One photograph, looked at.
pub(super) struct Seen {
    /// Width and height, px, upright.
    pub size: (usize, usize),
    /// The picture made small.
    pub thumb: Thumb,
    /// When it was taken.
    pub taken: Option<Taken>,
}

/// The focus area's energies by band.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Read {
    /// ÷ mean light².
    pub energies: Energies,
    /// Of the bands, cycles per [`EVEN_PX`] px.
    pub frequencies: [f64; BANDS],
    /// Size of what is shown against the picture that frequencies are in.
    pub scale: f64,
    /// Whether it is too dark, or too much of it is white.
    pub no_signal: bool,
}

/// Looks at a file: size, time, the small picture.
///
/// # Errors
/// A file that is no photograph.
pub(super) fn seen(path: &Path) -> Result<(Seen, Photograph), PhotoError> {
    let photograph = Photograph::open(path)?;
    let seen = Seen {
        size: photograph.size,
        thumb: Thumb::of(&photograph.frame()),
        taken: photograph.taken,
    };
    Ok((seen, photograph))
}

/// Reads the focus area (fractions of the picture) where `placed` says that it
/// lies.
///
/// # Errors
/// An area of too few pixels.
pub(super) fn read(
    photograph: &Photograph,
    area: [f64; 4],
    placed: &Placed,
) -> Result<Read, MeterError> {
    let frame = photograph.frame();
    let (w, h) = (frame.size.0 as f64, frame.size.1 as f64);
    let pixels = [area[0] * w, area[1] * h, area[2] * w, area[3] * h];
    let middle = (
        f64::midpoint(pixels[0], pixels[2]),
        f64::midpoint(pixels[1], pixels[3]),
    );
    // A square of EVEN_PX px stands for the screen: blur then means pixels,
    // whatever the picture's size.
    let place =
        |at: f64, middle: f64, shift: f64| middle + shift * h + placed.scale * (at - middle);
    let there = [
        place(pixels[0], middle.0, placed.shift.0),
        place(pixels[1], middle.1, placed.shift.1),
        place(pixels[2], middle.0, placed.shift.0),
        place(pixels[3], middle.1, placed.shift.1),
    ];
    let to_picture = Homography::between(
        &whole_screen(),
        &Quad::<StoredPx>::rect(
            place(0.0, middle.0, placed.shift.0),
            place(0.0, middle.1, placed.shift.1),
            place(EVEN_PX, middle.0, placed.shift.0),
            place(EVEN_PX, middle.1, placed.shift.1),
        ),
    );
    let grain = Grain::photograph(placed.scale);
    let small = MeterError {
        pixels: 0,
        width: 0,
        height: 0,
    };
    let to_picture = to_picture.ok_or(small)?;
    let units = pixels.map(|p| p / EVEN_PX);
    let mut meter = BandMeter::new(units, &[], &to_picture, frame.size, &grain)?;
    Ok(Read {
        energies: meter.read(&frame, (0, 0), false).own,
        frequencies: meter.frequencies(),
        scale: placed.scale,
        no_signal: no_signal(&frame, there),
    })
}

/// Whether there is nothing to see: too dark, or too much of it white.
fn no_signal(frame: &LumaFrame<'_>, [left, top, right, bottom]: [f64; 4]) -> bool {
    let inside = |at: f64, side: usize| at.clamp(0.0, side as f64) as usize;
    let (x0, x1) = (inside(left, frame.size.0), inside(right, frame.size.0));
    let (y0, y1) = (inside(top, frame.size.1), inside(bottom, frame.size.1));
    let mut line = vec![0.0; x1.saturating_sub(x0)];
    let (mut sum, mut white, mut n) = (0.0, 0u64, 0u64);
    for y in y0..y1 {
        frame.row(y, x0, &mut line);
        sum += line.iter().map(|v| f64::from(*v)).sum::<f64>();
        white += line.iter().filter(|v| **v >= 1.0).count() as u64;
        n += line.len() as u64;
    }
    let n = n.max(1) as f64;
    sum / n < limits::DARK.get() || white as f64 / n > limits::GLARE.get()
}
