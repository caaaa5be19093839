//! Lights beside the screen that are on or off: trigger lights, and whatever
//! else blinks.
//!
//! Every reduced pixel's course over the frames that were looked at is split in
//! two where that leaves least spread (Otsu 1979). A pixel blinks if its two
//! levels lie far apart for what is left within them. Pixels that blink
//! together, side by side, are one light. A target that comes and goes has such
//! parts too: as they change much else changes beside the screen, and as a light
//! goes on or off nothing does.

use super::around::{correlation, outside};
use crate::geometry::{Quad, StoredPx};
use crate::ranked::{SIGMA_OF_MAD, middle};
use crate::screen::find::{Looks, Picture};
use crate::trial::median;

/// Least step between off and on, of full scale.
const LEAST_STEP: f32 = 0.08;
/// Least step in standard deviations within the levels. A sine has 2.8, noise
/// 2.7, a ramp 3.5.
const LEAST_CLEAR: f32 = 6.0;
/// Fewest frames of either level.
const FEWEST_FRAMES: usize = 2;
/// Least correlation of pixels of one light.
const ALIKE: f64 = 0.8;
/// Part of a light's step that its own pixels have at least; less is glow.
const CORE: f32 = 0.5;
/// Largest side of a light, share of the frame's shorter side.
const LARGEST: f64 = 0.2;
/// Longest side of a light, of its shorter.
const LONGEST: usize = 3;
/// How far a light's glow reaches, in its own width and height.
const GLOW: usize = 2;
/// Standard deviations by which what stirs beside a light may exceed the usual
/// as it goes on or off (three: common practice, no source).
const UNUSUAL: f64 = 3.0;
/// Most lights that are told.
const MOST: usize = 4;

/// One pixel that blinks.
#[derive(Clone)]
struct Blink {
    /// On, frame by frame.
    on: Vec<bool>,
    step: f32,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Light {
    /// Left, top, right, bottom, in stored px.
    pub bounds: [f64; 4],
    /// Of its brightest pixel, of full scale.
    pub step: f32,
}

/// The lights outside the screen at `quad`, the plainest first.
pub fn lights(looks: &Looks, quad: &Quad<StoredPx>) -> Vec<Light> {
    let Some(first) = looks.glows.first() else {
        return Vec::new();
    };
    let size = (first.width, first.height);
    let f = looks.factor as f64;
    let outside = outside(looks, quad, size.0);
    let blinks: Vec<Option<Blink>> = (0..size.0 * size.1)
        .map(|i| outside(i).then(|| blink(&looks.glows, i)).flatten())
        .collect();
    let mut order: Vec<usize> = (0..blinks.len()).filter(|i| blinks[*i].is_some()).collect();
    let step = |i: usize| blinks[i].as_ref().map_or(0.0, |b| b.step);
    order.sort_by(|a, b| step(*b).total_cmp(&step(*a)));
    let stir = |w: &[Picture]| {
        let all = 0..blinks.len();
        all.filter(|i| outside(*i) && stirs(w, *i)).count()
    };
    let stir: Vec<usize> = looks.glows.windows(2).map(stir).collect();
    let mut taken = vec![false; blinks.len()];
    let mut out = Vec::new();
    for seed in order {
        if taken[seed] || out.len() == MOST {
            continue;
        }
        let patch = patch(&blinks, size, seed, &mut taken);
        let shorter = size.0.min(size.1) as f64;
        let rect = light(&blinks, size.0, &patch, LARGEST * shorter);
        let alone = |rect: &[usize; 4]| {
            let (own, near) = (&blinks[seed], glow(*rect, size.0, &patch));
            let away = |(w, all): (&[Picture], &usize)| {
                all - near.iter().filter(|i| stirs(w, **i)).count()
            };
            let away: Vec<usize> = looks.glows.windows(2).zip(&stir).map(away).collect();
            own.as_ref().is_some_and(|b| is_alone(b, &away, near.len()))
        };
        if let Some(rect) = rect.filter(alone) {
            out.push(Light {
                bounds: rect.map(|v| v as f64 * f),
                step: step(seed),
            });
        }
    }
    out
}

/// Splits a pixel's course in two; `None` where it is no two levels.
fn blink(glows: &[Picture], i: usize) -> Option<Blink> {
    let course: Vec<f32> = glows.iter().map(|p| p.values[i]).collect();
    let mut sorted = course.clone();
    sorted.sort_by(f32::total_cmp);
    let n = sorted.len();
    if n == 0 || sorted[n - 1] - sorted[0] < LEAST_STEP {
        return None;
    }
    let sum = |v: &[f32]| v.iter().map(|x| f64::from(*x)).sum::<f64>();
    let all = sum(&sorted);
    let mut below = sum(sorted.get(..FEWEST_FRAMES - 1)?);
    let mut best = (0.0, 0);
    for k in FEWEST_FRAMES..=n.saturating_sub(FEWEST_FRAMES) {
        below += f64::from(sorted[k - 1]);
        let (a, b) = (below / k as f64, (all - below) / (n - k) as f64);
        let between = k as f64 * (n - k) as f64 * (b - a).powi(2);
        if between > best.0 {
            best = (between, k);
        }
    }
    let k = best.1;
    let (off, on) = sorted.split_at(k);
    if off.is_empty() || on.is_empty() {
        return None;
    }
    let (a, b) = (off[off.len() / 2], on[on.len() / 2]);
    // A frame in which the light is just going on is of neither level: the
    // middle deviation counts, as a standard deviation.
    let mut apart: Vec<f32> = off.iter().map(|v| (v - a).abs()).collect();
    apart.extend(on.iter().map(|v| (v - b).abs()));
    let spread = SIGMA_OF_MAD as f32 * middle(apart)?;
    let step = b - a;
    let edge = f32::midpoint(a, b);
    (step >= LEAST_STEP && step >= LEAST_CLEAR * spread).then(|| Blink {
        on: course.iter().map(|v| *v > edge).collect(),
        step,
    })
}

/// How far two pixels blink together, −1 (each on while the other is off) to 1
/// (as one): the correlation of two on-off series.
fn together(a: &Blink, b: &Blink) -> f64 {
    let each = a.on.iter().zip(&b.on);
    correlation(each.map(|(a, b)| (f64::from(u8::from(*a)), f64::from(u8::from(*b)))))
}

/// The pixels around `seed` that blink with it, hand in hand.
fn patch(
    blinks: &[Option<Blink>],
    (w, h): (usize, usize),
    seed: usize,
    taken: &mut [bool],
) -> Vec<usize> {
    let Some(first) = &blinks[seed] else {
        return Vec::new();
    };
    let mut out = vec![seed];
    taken[seed] = true;
    let mut next = 0;
    while let Some(i) = out.get(next).copied() {
        next += 1;
        let (x, y) = (i % w, i / w);
        for ny in y.saturating_sub(1)..=(y + 1).min(h - 1) {
            for nx in x.saturating_sub(1)..=(x + 1).min(w - 1) {
                let j = ny * w + nx;
                let with = blinks[j].as_ref().filter(|b| together(first, b) >= ALIKE);
                if !taken[j] && with.is_some() {
                    taken[j] = true;
                    out.push(j);
                }
            }
        }
    }
    out
}

/// Left, top, right, bottom of a patch's core, if it is that of a light.
fn light(blinks: &[Option<Blink>], w: usize, patch: &[usize], largest: f64) -> Option<[usize; 4]> {
    let first = blinks[*patch.first()?].as_ref()?;
    let core = patch.iter().filter(|i| {
        let own = blinks[**i].as_ref();
        own.is_some_and(|b| b.step >= CORE * first.step)
    });
    let mut rect = [usize::MAX, usize::MAX, 0, 0];
    for i in core {
        let (x, y) = (i % w, i / w);
        let [x0, y0, x1, y1] = rect;
        rect = [x0.min(x), y0.min(y), x1.max(x + 1), y1.max(y + 1)];
    }
    let [wide, high] = [rect[2] - rect[0], rect[3] - rect[1]];
    let (long, short) = (wide.max(high), wide.min(high));
    (long as f64 <= largest && long <= LONGEST * short).then_some(rect)
}

/// The pixels of a light's patch as far as its glow reaches.
fn glow([x0, y0, x1, y1]: [usize; 4], w: usize, patch: &[usize]) -> Vec<usize> {
    let (dx, dy) = (GLOW * (x1 - x0), GLOW * (y1 - y0));
    let columns = x0.saturating_sub(dx)..x1 + dx;
    let rows = y0.saturating_sub(dy)..y1 + dy;
    let near = |i: &usize| columns.contains(&(i % w)) && rows.contains(&(i / w));
    patch.iter().copied().filter(near).collect()
}

/// Whether a pixel changes from one frame to the next.
fn stirs(pair: &[Picture], i: usize) -> bool {
    (pair[1].values[i] - pair[0].values[i]).abs() > LEAST_STEP
}

/// Whether nothing else stirs as a light goes on and off: `away`, how many pixels
/// that are not its own or its glow's change from each frame to the next, is then
/// no more than at other times, as many as its `own` allowed.
fn is_alone(light: &Blink, away: &[usize], own: usize) -> bool {
    let turns = |k: usize| light.on[k] != light.on[k + 1];
    let of = |turning: bool| -> Vec<f64> {
        let all = away.iter().enumerate();
        all.filter(|(k, _)| turns(*k) == turning)
            .map(|(_, n)| *n as f64)
            .collect()
    };
    let calm = of(false);
    let usual = median(calm.clone()).unwrap_or(0.0);
    let spread = median(calm.iter().map(|n| (n - usual).abs()).collect()).unwrap_or(0.0);
    median(of(true)).is_some_and(|n| n <= usual + UNUSUAL * SIGMA_OF_MAD * spread + own as f64)
}

#[cfg(test)]
mod tests {
    use super::*;

    const SIZE: (usize, usize) = (64, 48);

    /// Sixty frames of a textured desk in which `lit` says how much is added
    /// where; the screen lies at the right.
    fn seen(lit: impl Fn(usize, usize, usize) -> f32) -> Vec<Light> {
        let mut looks = Looks::new(SIZE);
        looks.glows = (0..60)
            .map(|k| {
                let mut p = Picture::new(SIZE.0, SIZE.1, 0.2);
                for (i, v) in p.values.iter_mut().enumerate() {
                    let noise = ((i * 7919 + k * 104_729) % 1013) as f32 / 1013.0 - 0.5;
                    *v += 0.03 * noise + lit(k, i % SIZE.0, i / SIZE.0);
                }
                p
            })
            .collect();
        lights(&looks, &Quad::rect(40.0, 10.0, 60.0, 40.0))
    }

    fn on(k: usize) -> bool {
        k % 7 >= 3
    }

    #[test]
    fn a_light_is_found_where_it_is_with_its_glow_left_out() {
        let found = seen(|k, x, y| match (on(k), x, y) {
            (true, 10..=12, 20..=22) => 0.4,
            (true, 8..=14, 18..=24) => 0.1,
            _ => 0.0,
        });
        assert_eq!(found.len(), 1, "{found:?}");
        assert_eq!(found[0].bounds, [10.0, 20.0, 13.0, 23.0]);
        assert!((found[0].step - 0.4).abs() < 0.05);
    }

    #[test]
    fn none_is_found_on_the_screen_in_noise_or_in_a_slow_change() {
        assert!(seen(|_, _, _| 0.0).is_empty());
        let ramp = |k: usize, x, y| if x < 6 && y < 6 { 0.01 * k as f32 } else { 0.0 };
        assert!(seen(ramp).is_empty());
        let shown = |k, x, y| match (on(k), x, y) {
            (true, 50..=52, 20..=22) => 0.4,
            _ => 0.0,
        };
        assert!(seen(shown).is_empty());
    }

    /// A card that comes and goes: parts of it darker than what it hides, or
    /// bright far and wide.
    #[test]
    fn a_target_is_no_light() {
        let checks = |k, x: usize, y: usize| match (on(k), x) {
            (true, 5..=30) if (x / 4 + y / 4).is_multiple_of(2) => 0.3,
            (true, 5..=30) => -0.15,
            _ => 0.0,
        };
        assert!(seen(checks).is_empty());
        let dots = |k, x: usize, y: usize| match (on(k), x % 9, y % 9) {
            (true, 4..=5, 4..=5) if x < 34 => 0.4,
            _ => 0.0,
        };
        assert!(seen(dots).is_empty());
    }
}
