//! What happens beside the screen: a trigger light, the target seen directly.

use std::io;

use image::{GrayImage, Luma};
use imageproc::distance_transform::Norm;
use imageproc::morphology::close;
use imageproc::region_labelling::{Connectivity, connected_components};

use super::blink::lights;
use crate::clip::Orientation;
use crate::geometry::{Point, Quad, StoredPx};
use crate::screen::find::{Looks, holds};
use crate::units::TimeScale;

/// Least course of a pixel that is active, luma, and in noise deviations.
const LEAST_RANGE: f32 = 0.06;
const LEAST_SNR: f32 = 6.0;
/// Smallest side of a direct view, px.
const LEAST_VIEW_PX: f64 = 40.0;
/// Least correlation of motion beside the screen with motion on it.
const ALIKE: f64 = 0.5;
/// How late the screen may be, seconds as shot.
const LATEST_S: f64 = 0.4;

/// A place beside the screen, x0 y0 x1 y1 in px of the upright frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// Left, top, right, bottom.
    pub rect: [f64; 4],
}

/// The target seen directly.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Direct {
    /// Where.
    pub place: Place,
    /// How much later the screen shows the same motion, seconds as shot.
    pub lead_s: f64,
    /// How alike the two motions are, 0..=1.
    pub alike: f64,
}

/// What was seen beside the screen.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Around {
    /// What blinks, the plainest first.
    pub lights: Vec<Place>,
    /// A part that moves before the screen shows it.
    pub direct: Option<Direct>,
}

/// Looks beside the screen at `quad` (stored px); `scale` gives the time as
/// shot.
///
/// # Errors
/// When temporary pictures cannot be read back.
pub fn around(
    looks: &mut Looks,
    quad: &Quad<StoredPx>,
    scale: &TimeScale,
    orientation: Orientation,
) -> io::Result<Around> {
    let patches = patches(looks, quad);
    let place = |bounds| Place {
        rect: upright(bounds, orientation),
    };
    let lights = lights(looks, quad).into_iter();
    let mut out = Around {
        lights: lights.map(|l| place(l.bounds)).collect(),
        direct: None,
    };
    let large = |[x0, y0, x1, y1]: &[f64; 4]| x1 - x0 >= LEAST_VIEW_PX && y1 - y0 >= LEAST_VIEW_PX;
    let views: Vec<[f64; 4]> = patches.into_iter().filter(large).collect();
    if views.is_empty() {
        return Ok(out);
    }
    let times: Vec<f64> = looks.times.iter().map(|t| scale.shot(*t).0).collect();
    let screen = quad.bounds();
    let mut areas = vec![kept(screen, 0.9)];
    areas.extend(&views);
    let motion = motion(looks, &times, &areas)?;
    let mut best: Option<Direct> = None;
    for (view, moves) in views.iter().zip(&motion[1..]) {
        let Some((lead_s, alike)) = lead(&times, moves, &motion[0]) else {
            continue;
        };
        if best.is_none_or(|b| alike > b.alike) {
            best = Some(Direct {
                place: place(clear_of(*view, screen)),
                lead_s,
                alike,
            });
        }
    }
    out.direct = best;
    Ok(out)
}

/// Whether a pixel of reduced pictures `width` wide lies beside the screen, its
/// rim included.
pub(super) fn outside(
    looks: &Looks,
    quad: &Quad<StoredPx>,
    width: usize,
) -> impl Fn(usize) -> bool {
    let (f, quad) = (looks.factor as f64, *quad);
    let margin = -(4.0 + f).max(0.012 * quad.height());
    let middle = move |k: usize| (k as f64 + 0.5) * f;
    move |i| {
        let at = Point::new(middle(i % width), middle(i / width));
        !holds(&quad, at, margin)
    }
}

/// Bounds of what is active beside the screen: left, top, right, bottom, in
/// stored px.
fn patches(looks: &Looks, quad: &Quad<StoredPx>) -> Vec<[f64; 4]> {
    let (range, noise) = (looks.range(), looks.noise());
    let f = looks.factor as f64;
    let outside = outside(looks, quad, range.width);
    let active = |i: usize| {
        let least = LEAST_RANGE.max(LEAST_SNR * noise.get(i).copied().unwrap_or(0.0));
        range.values[i] > least && outside(i)
    };
    let (w, h) = (range.width as u32, range.height as u32);
    let image = GrayImage::from_fn(w, h, |x, y| {
        Luma([if active((y * w + x) as usize) { 255 } else { 0 }])
    });
    let joined = close(&image, Norm::LInf, 3);
    let labels = connected_components(&joined, Connectivity::Eight, Luma([0u8]));
    let mut patches: Vec<Vec<usize>> = Vec::new();
    for (i, label) in labels.as_raw().iter().enumerate() {
        let label = *label as usize;
        if label > 0 && active(i) {
            if patches.len() < label {
                patches.resize(label, Vec::new());
            }
            patches[label - 1].push(i);
        }
    }
    patches.retain(|p| p.len() >= 6);
    patches.sort_by_key(|p| std::cmp::Reverse(p.len()));
    patches.truncate(12);
    let bounds = |pixels: Vec<usize>| {
        let (x0, x1) = ends(pixels.iter().map(|i| i % range.width));
        let (y0, y1) = ends(pixels.iter().map(|i| i / range.width));
        [x0, y0, x1 + 1, y1 + 1].map(|n| n as f64 * f)
    };
    patches.into_iter().map(bounds).collect()
}

fn ends(v: impl Iterator<Item = usize>) -> (usize, usize) {
    v.fold((usize::MAX, 0), |(a, b), x| (a.min(x), b.max(x)))
}

/// How much the picture changes in each area from a sixtieth of a second ago.
fn motion(looks: &mut Looks, times: &[f64], areas: &[[f64; 4]]) -> io::Result<Vec<Vec<f64>>> {
    let n = looks.reel.len();
    let frame = match (times.first(), times.last()) {
        (Some(a), Some(b)) if n > 1 => (b - a) / (n - 1) as f64,
        _ => return Ok(vec![Vec::new(); areas.len()]),
    };
    changes(looks, areas, ((1.0 / 60.0 / frame).round() as usize).max(1))
}

/// How much every frame differs from the one `span` frames before, in each
/// area (left top right bottom, stored px): mean over its cells, luma.
pub(super) fn changes(
    looks: &mut Looks,
    areas: &[[f64; 4]],
    span: usize,
) -> io::Result<Vec<Vec<f64>>> {
    let n = looks.reel.len();
    let mut held = std::collections::VecDeque::new();
    let mut out = vec![Vec::with_capacity(n); areas.len()];
    let (w, h) = (looks.size.0 as f64, looks.size.1 as f64);
    for k in 0..n {
        let now = looks.reel.get(k)?;
        if held.len() >= span
            && let Some(before) = held.pop_front()
        {
            let before: &crate::screen::Thumb = &before;
            for (area, series) in areas.iter().zip(&mut out) {
                let cell = |v: f64, all: f64, cells: usize| {
                    ((v / all * cells as f64) as usize).min(cells - 1)
                };
                let (x0, x1) = (cell(area[0], w, now.width), cell(area[2], w, now.width));
                let (y0, y1) = (cell(area[1], h, now.height), cell(area[3], h, now.height));
                let mut sum = 0.0;
                for y in y0..=y1 {
                    for x in x0..=x1 {
                        let i = y * now.width + x;
                        sum += f64::from((now.cells[i] - before.cells[i]).abs());
                    }
                }
                series.push(sum / ((y1 - y0 + 1) * (x1 - x0 + 1)) as f64);
            }
        } else {
            out.iter_mut().for_each(|s| s.push(0.0));
        }
        held.push_back(now);
    }
    Ok(out)
}

/// How much later `screen` does what `direct` does, and how alike they are;
/// `None` where it is not later, or not alike.
fn lead(times: &[f64], direct: &[f64], screen: &[f64]) -> Option<(f64, f64)> {
    let n = times.len().min(direct.len()).min(screen.len());
    if n < 50 {
        return None;
    }
    let frame = (times[n - 1] - times[0]) / (n - 1) as f64;
    let most = ((LATEST_S / frame) as usize).min(n / 3);
    let at = |lag: i64| {
        let pairs = (0..n).filter_map(|i| {
            let j = i64::try_from(i).ok()? + lag;
            let j = usize::try_from(j).ok().filter(|j| *j < n)?;
            Some((direct[i], screen[j]))
        });
        correlation(pairs)
    };
    let most = i64::try_from(most).ok()?;
    let best = (-most..=most)
        .map(|lag| (lag, at(lag)))
        .max_by(|a, b| a.1.total_cmp(&b.1))?;
    (best.0 > 0 && best.1 >= ALIKE).then_some((best.0 as f64 * frame, best.1))
}

/// Pearson's correlation of pairs; 0 where either stands still.
pub(super) fn correlation(pairs: impl Iterator<Item = (f64, f64)>) -> f64 {
    let (mut n, mut a, mut b, mut aa, mut bb, mut ab) = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0);
    for (x, y) in pairs {
        n += 1.0;
        a += x;
        b += y;
        aa += x * x;
        bb += y * y;
        ab += x * y;
    }
    let (va, vb) = (n * aa - a * a, n * bb - b * b);
    if va <= 0.0 || vb <= 0.0 {
        return 0.0;
    }
    (n * ab - a * b) / (va * vb).sqrt()
}

/// The middle part of a rectangle.
pub(super) fn kept([x0, y0, x1, y1]: [f64; 4], part: f64) -> [f64; 4] {
    let [dx, dy] = [x1 - x0, y1 - y0].map(|side| side * (1.0 - part) / 2.0);
    [x0 + dx, y0 + dy, x1 - dx, y1 - dy]
}

/// A rectangle cut so that it does not reach into another, at the side that
/// costs least.
fn clear_of(a: [f64; 4], b: [f64; 4]) -> [f64; 4] {
    let apart = a[2] <= b[0] || a[0] >= b[2] || a[3] <= b[1] || a[1] >= b[3];
    if apart {
        return a;
    }
    let cuts = [
        [a[0], a[1], b[0].min(a[2]), a[3]],
        [b[2].max(a[0]), a[1], a[2], a[3]],
        [a[0], a[1], a[2], b[1].min(a[3])],
        [a[0], b[3].max(a[1]), a[2], a[3]],
    ];
    let area = |r: &[f64; 4]| (r[2] - r[0]).max(0.0) * (r[3] - r[1]).max(0.0);
    let best = cuts.into_iter().max_by(|p, q| area(p).total_cmp(&area(q)));
    best.unwrap_or(a)
}

/// A rectangle of the stored picture in the upright frame, whole pixels.
fn upright([x0, y0, x1, y1]: [f64; 4], orientation: Orientation) -> [f64; 4] {
    let a = orientation.to_upright(Point::new(x0, y0));
    let b = orientation.to_upright(Point::new(x1, y1));
    [
        a.x.min(b.x).ceil(),
        a.y.min(b.y).ceil(),
        a.x.max(b.x).floor(),
        a.y.max(b.y).floor(),
    ]
}
