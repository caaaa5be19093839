//! One side of the screen: its strips, and how far it has moved.

use super::edge::{self, LEAST_RISE, MARGIN};
use super::strip::Strip;
use crate::clip::LumaFrame;
use crate::geometry::{Point, StoredPx};
use crate::ranked::median;

/// Strips along a side.
const STRIPS: usize = 12;
/// Part of a side, at either end, that has none: rounded corners.
const CORNER: f64 = 0.08;
/// How far off the rig's corners the edge may lie in the first frame, px.
const OFF: usize = 10;
/// How far from where it is expected an edge is looked for first, px.
const CLOSE: usize = 8;
/// Samples of a close look.
const CLOSE_LENGTH: usize = 2 * (CLOSE + MARGIN) + 1;
/// Share of a side's strips that must agree, and at least so many.
const AGREE: f64 = 0.5;
const FEWEST: usize = 4;
/// Largest median deviation of strips that agree, px.
const SPREAD: f64 = 0.8;

/// A strip with the place of its edge in the first frame.
struct Known {
    strip: Strip,
    /// Sample of the edge in the first frame.
    at: f64,
    /// Light of the bezel in the first frame.
    dark: f32,
}

/// A side of the screen.
pub(super) struct Side {
    /// Unit vector into the screen, stored px.
    pub inward: (f64, f64),
    strips: Vec<Known>,
    /// How far it is looked for, px.
    reach: usize,
}

/// What a frame shows of a side.
#[derive(Clone, Copy, Debug)]
pub(super) enum Seen {
    /// The edge, moved inwards by so many px since the first frame, and one
    /// end of the side by `turn` px more than the other.
    Edge { moved: f64, turn: f64 },
    /// As dark inside as outside: a dark live picture, or the screen is away.
    Dark,
    /// Not dark where the bezel was: the screen is not there.
    Gone,
    /// None of these.
    Unclear,
}

impl Side {
    /// The side from `a` to `b` of a screen around `middle`, as the first
    /// frame shows it; `None` where too few strips show its edge.
    pub fn new(
        [a, b]: [Point<StoredPx>; 2],
        middle: Point<StoredPx>,
        reach: usize,
        first: &LumaFrame<'_>,
    ) -> Option<Self> {
        let (dx, dy) = (b.x - a.x, b.y - a.y);
        let length = dx.hypot(dy);
        if length < 32.0 {
            return None;
        }
        let mut inward = (-dy / length, dx / length);
        if inward.0 * (middle.x - a.x) + inward.1 * (middle.y - a.y) < 0.0 {
            inward = (-inward.0, -inward.1);
        }
        let half = OFF + reach + CLOSE + MARGIN;
        let strips: Vec<Strip> = (0..STRIPS)
            .map(|i| {
                let share = CORNER + (1.0 - 2.0 * CORNER) * i as f64 / (STRIPS - 1) as f64;
                let centre = (a.x + share * dx, a.y + share * dy);
                Strip::new(centre, inward, half, 2.0 * share - 1.0)
            })
            .collect();
        let strips = known(strips, half, first);
        (strips.len() >= FEWEST.max(STRIPS / 2)).then_some(Self {
            inward,
            strips,
            reach,
        })
    }

    /// What the frame shows, the screen being expected `shift` px from where
    /// it was; widths of the edges go to `widths`.
    pub fn look(&self, frame: &LumaFrame<'_>, shift: (i32, i32), widths: &mut Vec<f64>) -> Seen {
        let mut profile = [0.0f32; CLOSE_LENGTH];
        let (mut moved, mut dark, mut gone) = (Vec::with_capacity(STRIPS), 0, 0);
        let expected = self.along_inward(shift);
        let before = widths.len();
        for known in &self.strips {
            let from = nearest(known.at) - CLOSE - MARGIN;
            known.strip.read(frame, shift, from, &mut profile);
            if let Some(e) = edge::find(&profile) {
                let at = e.at + from as f64;
                moved.push((known.strip.along, at - known.at + expected));
                widths.push(e.width);
            }
            let (outside, inside) = levels(&profile);
            dark += usize::from(inside.max(outside) < known.dark + LEAST_RISE);
            gone += usize::from(outside > known.dark + 2.0 * LEAST_RISE);
        }
        let most = |n: usize| 2 * n > self.strips.len();
        if let Some((moved, turn)) = agreed(&moved, self.strips.len()) {
            return Seen::Edge { moved, turn };
        }
        widths.truncate(before);
        match (most(dark), most(gone)) {
            (true, _) => Seen::Dark,
            (_, true) => Seen::Gone,
            _ => Seen::Unclear,
        }
    }

    /// How many strips see bezel outside and light inside of an edge moved
    /// inwards by −reach ..= reach px, added to `votes`, in reverse for the
    /// side across.
    pub fn vote(&self, frame: &LumaFrame<'_>, across: bool, votes: &mut [u32]) {
        let mut profile = vec![0.0f32; 2 * (self.reach + MARGIN) + 1];
        for known in &self.strips {
            let from = nearest(known.at) - self.reach - MARGIN;
            known.strip.read(frame, (0, 0), from, &mut profile);
            for s in 0..=2 * self.reach {
                let at = s + MARGIN;
                let outside = profile[at - 4..=at - 3].iter().sum::<f32>() / 2.0;
                let inside = profile[at + 3..=at + 4].iter().sum::<f32>() / 2.0;
                let edge = inside - outside > LEAST_RISE && outside < known.dark + LEAST_RISE;
                let place = if across { 2 * self.reach - s } else { s };
                votes[place] += u32::from(edge);
            }
        }
    }

    /// The part of a shift that runs along `inward`.
    fn along_inward(&self, shift: (i32, i32)) -> f64 {
        f64::from(shift.0) * self.inward.0 + f64::from(shift.1) * self.inward.1
    }

    /// Number of its strips.
    pub fn strips(&self) -> usize {
        self.strips.len()
    }
}

/// Strips with their edges in the first frame.
fn known(strips: Vec<Strip>, half: usize, first: &LumaFrame<'_>) -> Vec<Known> {
    let from = half - OFF - MARGIN;
    let mut profile = vec![0.0f32; 2 * (OFF + MARGIN) + 1];
    let mut found: Vec<Known> = strips
        .into_iter()
        .filter_map(|strip| {
            strip.read(first, (0, 0), from, &mut profile);
            let e = edge::find(&profile)?;
            let at = e.at + from as f64;
            let dark = e.dark;
            Some(Known { strip, at, dark })
        })
        .collect();
    // Strips whose edge is off the others' line met something else.
    let lines: Vec<(f64, f64)> = found.iter().map(|k| (k.strip.along, k.at)).collect();
    if let Some((middle, turn)) = line(&lines) {
        found.retain(|k| (k.at - middle - 0.5 * turn * k.strip.along).abs() < 2.5);
    }
    found
}

/// Where most strips agree the edge has gone: median, and how much more one
/// end moved than the other.
fn agreed(moved: &[(f64, f64)], strips: usize) -> Option<(f64, f64)> {
    let enough = moved.len() >= FEWEST && moved.len() as f64 >= AGREE * strips as f64;
    if !enough {
        return None;
    }
    let (middle, turn) = line(moved)?;
    let off = moved
        .iter()
        .map(|(along, m)| (m - middle - 0.5 * turn * along).abs())
        .collect();
    (median(off).unwrap_or(0.0) <= SPREAD).then_some((middle, turn))
}

/// Middle and turn (rise from −1 to 1) of values along a side: medians of the
/// slopes between strips half a side apart, then of what is left (after
/// Theil 1950).
fn line(values: &[(f64, f64)]) -> Option<(f64, f64)> {
    let half = values.len() / 2;
    let slopes: Vec<f64> = values
        .iter()
        .zip(values.get(half..)?)
        .filter(|(a, b)| b.0 - a.0 > 0.3)
        .map(|(a, b)| (b.1 - a.1) / (b.0 - a.0))
        .collect();
    let slope = if slopes.len() < 2 {
        0.0
    } else {
        median(slopes).unwrap_or(0.0)
    };
    let rest: Vec<f64> = values.iter().map(|(x, v)| v - slope * x).collect();
    if rest.is_empty() {
        return None;
    }
    Some((median(rest)?, 2.0 * slope))
}

/// Light in the outermost and in the innermost quarter of a profile.
fn levels(profile: &[f32]) -> (f32, f32) {
    let n = profile.len() / 4;
    let mean = |v: &[f32]| {
        let n = v.len().max(1) as f32;
        v.iter().sum::<f32>() / n
    };
    (mean(&profile[..n]), mean(&profile[profile.len() - n..]))
}

fn nearest(at: f64) -> usize {
    at.round().max(0.0) as usize
}
