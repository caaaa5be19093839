//! Whether a shape with set sides is a screen.

use super::Picture;
use super::look::Looks;
use super::refine::{Fit, once};
use super::side::inward;
use crate::geometry::{Point, Quad, StoredPx, distance};
use crate::ranked::middle;

/// Least step of light from rim to screen, luma.
pub const LEAST_CONTRAST: f64 = 0.02;
/// Share of the frames in which the rim must be darker than the screen.
const LEAST_STAYS: f64 = 0.75;
/// Largest scatter of a side's edge, px.
pub const MOST_RMS: f64 = 1.0;
/// Changes below this are no change, luma.
const LEAST_CHANGE: f32 = 0.012;
/// How deep the light inside is looked at, share of the shape's height. Its
/// median counts: a line drawn along the side (a focus box) is no lit screen.
const DEPTH: f64 = 0.12;
/// What edges that look straight are still off by, px: lens, panel, texture.
const FLOOR_U_PX: f64 = 0.15;

/// What all shapes of a clip are judged on.
pub struct Ground<'a> {
    looks: &'a Looks,
    /// The mean in full.
    pub mean: Picture,
    noise: Vec<f32>,
    course: Vec<f32>,
}

impl<'a> Ground<'a> {
    pub fn new(looks: &'a Looks) -> Self {
        Self {
            looks,
            mean: looks.mean(),
            noise: looks.noise(),
            course: looks.course(),
        }
    }
}

/// Frames in which it is looked whether the filming camera moves, how far the
/// screen is followed there, reduced px, and how well a corner is read there.
const SWAY_FRAMES: usize = 12;
const SWAY_PX: f64 = 4.0;
const SWAY_READ_PX: f64 = 0.25;
/// A hand moves slowly: the mean of the frames holds about so many places of
/// it that do not depend on each other.
const SWAYS: f64 = 6.0;

/// A shape that may be a screen.
#[derive(Clone, Debug)]
pub struct Seen {
    /// Clockwise, stored px.
    pub quad: Quad<StoredPx>,
    /// See [`super::Found`].
    pub corner_u_px: f64,
    /// See [`super::Found`].
    pub sway_px: f64,
    /// See [`super::Found`].
    pub support: f64,
    /// See [`super::Found`].
    pub contrast: f64,
    /// See [`super::Found`].
    pub changing: f64,
    /// Share of the frames in which it stays where it is.
    stays: f64,
}

impl Seen {
    /// How much speaks for it, 0..=1.
    pub fn score(&self) -> f64 {
        let plain = (self.contrast / 0.08).min(1.0);
        let alive = (self.changing / 0.15).min(1.0);
        self.support * self.stays * (0.4 + 0.6 * plain) * (0.3 + 0.7 * alive)
    }
}

/// Largest distance between corners of two shapes, px, whichever comes first.
pub fn apart(a: &Seen, b: &Seen) -> f64 {
    let far = |k: usize| {
        let pairs = (0..4).map(|i| distance(a.quad.corners[i], b.quad.corners[(i + k) % 4]));
        pairs.fold(0.0, f64::max)
    };
    (0..4).map(far).fold(f64::MAX, f64::min)
}

/// What a shape lacks to be a screen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Lack {
    /// It reaches to the frame's edge.
    Edge,
    /// Its sides are not straight: so far off a line, px.
    Straight(f64),
    /// Its rim is not darker on every side: least step of light, luma.
    Contrast(f64),
    /// It is not there all the time: share of the frames.
    Stays(f64),
}

impl Lack {
    /// How far it falls short, in words.
    pub fn words(self) -> String {
        match self {
            Self::Edge => "it reaches to the edge of the frame".to_owned(),
            Self::Straight(rms) => format!(
                "its sides are not straight: up to {rms:.1} px off a line, at most {MOST_RMS:.1}"
            ),
            Self::Contrast(step) => format!(
                "its rim is not darker on all four sides: a step of {:.1} % of full scale at                  one, at least {:.0}",
                100.0 * step,
                100.0 * LEAST_CONTRAST
            ),
            Self::Stays(share) => format!(
                "its rim is there in {:.0} % of the frames, at least {:.0}",
                100.0 * share,
                100.0 * LEAST_STAYS
            ),
        }
    }
}

/// Judges a shape.
///
/// # Errors
/// What it lacks to be a screen.
pub fn judge(ground: &Ground<'_>, fit: &Fit) -> Result<Seen, Lack> {
    let looks = ground.looks;
    if !inside(&fit.quad, looks.size) {
        return Err(Lack::Edge);
    }
    let rms = fit.sides.iter().map(|s| s.rms).fold(0.0, f64::max);
    if rms > MOST_RMS {
        return Err(Lack::Straight(rms));
    }
    let contrast = (0..4)
        .map(|i| step(&ground.mean, &fit.quad, i, 1.0))
        .fold(f64::MAX, f64::min);
    if contrast < LEAST_CONTRAST {
        return Err(Lack::Contrast(contrast));
    }
    let stays = stays(looks, &fit.quad, contrast);
    if stays < LEAST_STAYS {
        return Err(Lack::Stays(stays));
    }
    let sway_px = sway(looks, &fit.quad);
    Ok(Seen {
        quad: fit.quad,
        sway_px,
        corner_u_px: uncertainty(fit).hypot(sway_px / SWAYS.sqrt()),
        support: fit.sides.iter().map(|s| s.support).fold(1.0, f64::min),
        contrast,
        changing: changing(ground, &fit.quad),
        stays,
    })
}

/// A corner is where two lines meet; each is extrapolated a little beyond the
/// places it was seen at, which doubles its standard error there.
fn uncertainty(fit: &Fit) -> f64 {
    let line = |i: usize| {
        let s = &fit.sides[i % 4];
        2.0 * s.rms / (s.places.max(1) as f64).sqrt()
    };
    let corner = |i: usize| line(i).hypot(line(i + 3)).hypot(FLOOR_U_PX);
    (0..4).map(corner).fold(0.0, f64::max)
}

/// How far the corners move about in the film, px: root mean square of one
/// direction, what single reduced frames are read to taken off.
fn sway(looks: &Looks, quad: &Quad<StoredPx>) -> f64 {
    let f = looks.factor as f64;
    let small = Quad::new(quad.corners.map(|p| Point::new(p.x / f, p.y / f)));
    let every = looks.pictures.len().div_ceil(SWAY_FRAMES).max(1);
    let (mut sum, mut n) = (0.0, 0.0);
    for picture in looks.pictures.iter().step_by(every) {
        let Some(fit) = once(picture, &small, SWAY_PX) else {
            continue;
        };
        for (a, b) in fit.quad.corners.iter().zip(&small.corners) {
            sum += (f * distance(*a, *b)).powi(2) / 2.0;
            n += 1.0;
        }
    }
    let read_to = SWAY_READ_PX * f;
    (sum / f64::max(n, 1.0) - read_to * read_to).max(0.0).sqrt()
}

fn inside(quad: &Quad<StoredPx>, (w, h): (usize, usize)) -> bool {
    let [x0, y0, x1, y1] = quad.bounds();
    x0 >= 1.0 && y0 >= 1.0 && x1 <= w as f64 - 1.0 && y1 <= h as f64 - 1.0
}

/// Median step of light from the rim to the screen along side `i`; the shape
/// is in pixels `scale` times those of the picture.
pub fn step(picture: &Picture, quad: &Quad<StoredPx>, i: usize, scale: f64) -> f64 {
    let (a, b) = (quad.corners[i], quad.corners[(i + 1) % 4]);
    let n = inward(a, b);
    let deep = (DEPTH * quad.height() / scale).max(3.0);
    let steps: Vec<f64> = (0..40)
        .map(|k| {
            let s = 0.08 + 0.84 * (f64::from(k) + 0.5) / 40.0;
            let at = |o: f64| {
                let x = (a.x + s * (b.x - a.x)) / scale + o * n.0;
                let y = (a.y + s * (b.y - a.y)) / scale + o * n.1;
                picture.at(x, y)
            };
            let outside = (at(-2.5) + at(-3.5)) / 2.0;
            let within = (0..9).map(|j| at(2.0 + (deep - 2.0) * f64::from(j) / 8.0));
            middle(within.collect()).unwrap_or(0.0) - outside
        })
        .collect();
    middle(steps).unwrap_or(0.0)
}

/// Share of the frames in which every side is a step from dark to light, of
/// those frames in which the screen shows anything.
fn stays(looks: &Looks, quad: &Quad<StoredPx>, contrast: f64) -> f64 {
    let scale = looks.factor as f64;
    let least = 0.3 * contrast;
    let mut seen = 0.0;
    let mut all = 0.0;
    for picture in &looks.pictures {
        let steps: Vec<f64> = (0..4).map(|i| step(picture, quad, i, scale)).collect();
        // A black live picture says neither yes nor no.
        if steps.iter().all(|s| s.abs() < least) {
            continue;
        }
        all += 1.0;
        if steps.iter().all(|s| *s > least) {
            seen += 1.0;
        }
    }
    if all > 0.0 { seen / all } else { 0.0 }
}

/// Share of the shape in which the picture changes by more than noise.
pub fn changing(ground: &Ground<'_>, quad: &Quad<StoredPx>) -> f64 {
    let (looks, noise, course) = (ground.looks, &ground.noise, &ground.course);
    let Some(first) = looks.pictures.first() else {
        return 0.0;
    };
    let f = looks.factor as f64;
    let (mut all, mut changed) = (0.0, 0.0);
    for (i, c) in course.iter().enumerate() {
        let x = (i % first.width) as f64 + 0.5;
        let y = (i / first.width) as f64 + 0.5;
        if !holds(quad, Point::new(x * f, y * f), 3.0 + f) {
            continue;
        }
        all += 1.0;
        let n = noise.get(i).copied().unwrap_or(0.0);
        if *c > (9.0 * n * n + LEAST_CHANGE * LEAST_CHANGE).sqrt() {
            changed += 1.0;
        }
    }
    if all > 0.0 { changed / all } else { 0.0 }
}

/// Whether a place lies in a clockwise shape, at least `margin` px from its
/// sides (less than 0: at most so much outside).
pub fn holds(quad: &Quad<StoredPx>, p: Point<StoredPx>, margin: f64) -> bool {
    (0..4).all(|i| {
        let (a, b) = (quad.corners[i], quad.corners[(i + 1) % 4]);
        let n = inward(a, b);
        (p.x - a.x) * n.0 + (p.y - a.y) * n.1 >= margin
    })
}

/// Of shapes that lie within each other the outermost, unless far less of it
/// changes than of what it holds.
pub fn outermost(mut all: Vec<Seen>, least: f64) -> Vec<Seen> {
    all.sort_by(|a, b| b.quad.area().total_cmp(&a.quad.area()));
    let most = all.iter().map(|s| s.changing).fold(0.0, f64::max);
    let mut out: Vec<Seen> = Vec::new();
    for one in all {
        if one.changing < least * most && one.changing < 0.15 {
            continue;
        }
        let corners = &one.quad.corners;
        let middle = Point::new(
            corners.iter().map(|p| p.x).sum::<f64>() / 4.0,
            corners.iter().map(|p| p.y).sum::<f64>() / 4.0,
        );
        if !out.iter().any(|o| holds(&o.quad, middle, 0.0)) {
            out.push(one);
        }
    }
    out
}
