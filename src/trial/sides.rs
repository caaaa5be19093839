//! Which swings brought the target in and which took it away.

use super::Stimulus;
use super::cover::inside;
use super::motion::{cell_noise, shift, smoothed, value_at};
use super::swing::{SwingError, View};
use crate::limits;
use crate::screen::{Reel, Thumb};
use crate::store::schema::Side;

/// Longest that the screen may trail behind a view of the target itself.
pub(super) const LONGEST_LAG_S: f64 = 0.25;
/// Pictures between these shares of the way are looked at.
const ON_THE_WAY: std::ops::Range<f64> = 0.05..0.95;

/// Fills in the sides of swings, in turns, from the pictures of the screen
/// inside `area` (left, top, right, bottom, fractions); returns how clearly
/// they were told apart, 0 (not at all) ..= 1. `behind`: the swings were
/// timed elsewhere, and the screen follows later.
///
/// # Errors
/// When kept pictures cannot be read back.
pub fn tell_sides(
    swings: &mut [Stimulus],
    screen: &mut View<'_>,
    area: [f64; 4],
    behind: bool,
) -> Result<f64, SwingError> {
    let lag = if behind { LONGEST_LAG_S } else { 0.0 };
    let noise = noise(screen)?;
    let mut evidence = Vec::new();
    for i in 0..swings.len() {
        let next = swings.get(i + 1).and_then(|s| s.move_s);
        let from = swings[i].move_s.unwrap_or(swings[i].onset_s);
        let to = (swings[i].onset_s + lag).min(next.unwrap_or(f64::MAX));
        let way = way(screen, from, to)?;
        evidence.push(coming_in(&way, area, &noise));
    }
    Ok(alternate(swings, &evidence))
}

fn noise(screen: &mut View<'_>) -> Result<Vec<f32>, SwingError> {
    let n = screen.pictures.len();
    let mut pairs = Vec::new();
    for i in (1..n).step_by((n / 200).max(1)) {
        let a = screen.reel.get(screen.pictures[i - 1])?;
        pairs.push((
            smoothed(&a),
            smoothed(&screen.reel.get(screen.pictures[i])?),
        ));
    }
    let mut noise = cell_noise(&pairs);
    // Coarse pictures show no smaller differences than their step.
    noise
        .iter_mut()
        .for_each(|v| *v = v.max(0.25 * Reel::COARSE_STEP));
    Ok(noise)
}

/// The pictures of one swing, the last still one before it first.
fn way(screen: &mut View<'_>, from: f64, to: f64) -> Result<Vec<Thumb>, SwingError> {
    let last = screen.pictures.len().saturating_sub(1);
    let start = screen.shown_s.partition_point(|t| *t < from - 1e-9);
    let end = screen.shown_s.partition_point(|t| *t < to - 1e-9).min(last);
    (start.saturating_sub(1)..=end)
        .map(|k| Ok(smoothed(&screen.reel.get(screen.pictures[k])?)))
        .collect()
}

/// Evidence that the target came in (positive) or went (negative): −1..=1.
///
/// The background stands still and the target moves as a whole. So on the way
/// in every cell shows either the picture from before, or that from after
/// moved back by the way that is left; on the way out either the picture from
/// after, or that from before moved on by the way done. Whichever account
/// leaves less unexplained is right.
fn coming_in(way: &[Thumb], area: [f64; 4], noise: &[f32]) -> f64 {
    let (Some(before), Some(after)) = (way.first(), way.last()) else {
        return 0.0;
    };
    let mut done = vec![(0.0, 0.0)];
    for pair in way.windows(2) {
        let s = shift(&pair[0], &pair[1], noise);
        let (x, y) = done.last().copied().unwrap_or_default();
        let believed = s.explained > 0.2;
        done.push(if believed {
            (x + s.dx, y + s.dy)
        } else {
            (x, y)
        });
    }
    let whole = done.last().copied().unwrap_or_default();
    let length = whole.0.hypot(whole.1);
    let cells = inside(area, before.width, before.height);
    let (mut as_in, mut as_out) = (0.0, 0.0);
    for (now, d) in way.iter().zip(&done) {
        let share = d.0.hypot(d.1) / length.max(1e-9);
        if length < 1.0 || !ON_THE_WAY.contains(&share) {
            continue;
        }
        let left = (whole.0 - d.0, whole.1 - d.1);
        as_in += unexplained(now, before, after, (-left.0, -left.1), &cells);
        as_out += unexplained(now, after, before, *d, &cells);
    }
    let total = as_in + as_out;
    if total > 0.0 {
        (as_out - as_in) / total
    } else {
        0.0
    }
}

/// Sum over cells of the smaller difference: to the still picture, or to the
/// other one moved by `moved` cells.
fn unexplained(
    now: &Thumb,
    still: &Thumb,
    other: &Thumb,
    moved: (f64, f64),
    cells: &[usize],
) -> f64 {
    cells
        .iter()
        .map(|i| {
            let value = f64::from(now.cells[*i]);
            let stays = (value - f64::from(still.cells[*i])).abs();
            let (x, y) = ((i % now.width) as f64, (i / now.width) as f64);
            match value_at(other, x - moved.0, y - moved.1) {
                Some(v) => stays.min((value - v).abs()),
                None => stays,
            }
        })
        .sum()
}

/// Sides take turns, so the evidence of all swings decides together; where a
/// run of them speaks clearly against the turns, a swing was missed.
fn alternate(swings: &mut [Stimulus], evidence: &[f64]) -> f64 {
    let total: f64 = evidence.iter().map(|e| e.abs()).sum();
    let price = limits::OUT_OF_TURN.get() * total / evidence.len().max(1) as f64;
    let (sides, sum) = likeliest(evidence, price);
    for (s, near) in swings.iter_mut().zip(&sides) {
        s.side = Some(if *near { Side::Near } else { Side::Far });
    }
    // What two alike in a row cost makes them less clear too.
    if total > 0.0 {
        (sum / total).max(0.0)
    } else {
        0.0
    }
}

/// The sides (near: true) with the largest sum of evidence, less `price` for
/// every two alike in a row (Viterbi 1967), and that sum.
fn likeliest(evidence: &[f64], price: f64) -> (Vec<bool>, f64) {
    let own = |e: f64, near: bool| if near { e } else { -e };
    // Best sum that ends on far, on near; and from which side it came.
    let mut sums = [0.0, 0.0];
    let mut from = Vec::with_capacity(evidence.len());
    for (i, e) in evidence.iter().enumerate() {
        let step = [false, true].map(|near| {
            let turn = sums[usize::from(!near)];
            let stay = if i == 0 {
                turn
            } else {
                sums[usize::from(near)] - price
            };
            let came = if stay > turn { near } else { !near };
            (stay.max(turn) + own(*e, near), came)
        });
        sums = step.map(|s| s.0);
        from.push(step.map(|s| s.1));
    }
    let mut near = sums[1] >= sums[0];
    let sum = sums[usize::from(near)];
    let mut out: Vec<bool> = from
        .iter()
        .rev()
        .map(|came| {
            let this = near;
            near = came[usize::from(this)];
            this
        })
        .collect();
    out.reverse();
    (out, sum)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sides(evidence: &[f64]) -> (String, f64) {
        let swing = Stimulus {
            side: None,
            move_s: None,
            onset_s: 0.0,
            seen: crate::store::schema::OnsetSeen::Screen,
            onset_u_s: 0.0,
            off_s: None,
        };
        let mut swings = vec![swing; evidence.len()];
        let clarity = alternate(&mut swings, evidence);
        let letter = |s: &Stimulus| if s.side == Some(Side::Near) { 'n' } else { 'f' };
        (swings.iter().map(letter).collect(), clarity)
    }

    #[test]
    fn sides_take_turns_whatever_a_single_swing_says() {
        assert_eq!(sides(&[0.3, -0.3, 0.3, -0.3]).0, "nfnf");
        assert_eq!(sides(&[-0.3, 0.3, -0.3, 0.3]).0, "fnfn");
        // The third speaks against, the first and last say nothing.
        let (told, clarity) = sides(&[0.0, -0.3, -0.2, -0.3, 0.3, 0.0]);
        assert_eq!(told, "nfnfnf");
        assert!((clarity - 0.7 / 1.1).abs() < 1e-9, "{clarity}");
    }

    #[test]
    fn a_swing_that_was_not_found_does_not_turn_the_others_round() {
        let (told, clarity) = sides(&[0.3, -0.3, 0.3, 0.3, -0.3, 0.3, -0.3]);
        assert_eq!(told, "nfnnfnf");
        // All seven speak for it; the one out of turn costs as much as three.
        assert!((clarity - 4.0 / 7.0).abs() < 1e-9, "{clarity}");
    }

    #[test]
    fn without_evidence_nothing_is_clear() {
        assert_eq!(sides(&[0.0; 4]).1, 0.0);
        assert_eq!(sides(&[]).1, 0.0);
    }
}
