//! Onsets of the far side: the target has cleared the autofocus area, wherever
//! it comes to rest.
//!
//! On the screen the area itself tells (see `clear`). Where the target is seen
//! directly too, its place there at which the area comes clear is learnt from
//! all swings of the clip, the screen's lag taken off; when it passes that
//! place is then read directly, swing by swing. The place is counted in cells
//! moved since the target left its stop, so what of it is read short or long is
//! so in every swing and in the place that was learnt.

use crate::limits;
use std::io;

use super::clear::{Area, Clearing};
use super::motion::Shift;
use super::sides::LONGEST_LAG_S;
use super::swing::View;
use super::{Stimulus, median};
use crate::store::schema::{OnsetSeen, Side};

/// A view of the target itself, and how it moves there.
#[derive(Clone, Copy)]
pub struct Direct<'a> {
    /// Its steps.
    pub view: &'a View<'a>,
    /// Shift to each step, see [`super::shifts`].
    pub shifts: &'a [Shift],
    /// How much later the screen first shows a change, seconds, where known.
    pub lag_s: Option<f64>,
}

/// Puts the onsets of far swings, so far those of rest or of a plain look at the
/// area, to where the target has
/// cleared `area` (left, top, right, bottom as fractions of the screen). A
/// swing of which neither view tells keeps what it had.
///
/// # Errors
/// When kept pictures cannot be read back.
pub fn far_onsets(
    swings: &mut [Stimulus],
    screen: &mut View<'_>,
    area: [f64; 4],
    direct: Option<Direct<'_>>,
) -> io::Result<()> {
    let Some(area) = Area::of(screen, area)? else {
        return Ok(());
    };
    let late = match direct {
        None => [0.0; 2],
        Some(d) => d.lag_s.map_or([0.0, LONGEST_LAG_S], |lag| [lag; 2]),
    };
    let mut cleared = Vec::with_capacity(swings.len());
    for (i, s) in swings.iter().enumerate() {
        let next = swings.get(i + 1).and_then(|s| s.move_s);
        let until = next.map_or(f64::MAX, |t| t + late[0]);
        let from = s.move_s.unwrap_or(s.onset_s) + late[0];
        cleared.push(match s.side {
            Some(Side::Far) => area.cleared(screen, [from, until.min(s.onset_s + late[1])])?,
            _ => None,
        });
    }
    let passed = direct
        .and_then(|d| Some((d, d.lag_s?)))
        .map_or_else(Vec::new, |(d, lag)| {
            passings(swings, &cleared, d, lag, screen)
        });
    for (i, s) in swings.iter_mut().enumerate() {
        if let Some(Some((onset_s, onset_u_s))) = passed.get(i) {
            (s.onset_s, s.onset_u_s, s.seen) = (*onset_s, *onset_u_s, OnsetSeen::Direct);
        } else if let Some(c) = cleared[i] {
            (s.onset_s, s.onset_u_s, s.seen) = (c.shown_s, screen.instant_u_s, OnsetSeen::Screen);
        }
    }
    Ok(())
}

/// When the target passed the place in the direct view at which the area comes
/// clear, and with which standard uncertainty, swing by swing.
fn passings(
    swings: &[Stimulus],
    cleared: &[Option<Clearing>],
    direct: Direct<'_>,
    lag_s: f64,
    screen: &View<'_>,
) -> Vec<Option<(f64, f64)>> {
    let far = |s: &Stimulus| s.side == Some(Side::Far);
    let ways: Vec<Option<Way>> = swings
        .iter()
        .map(|s| far(s).then(|| Way::of(s, direct)).flatten())
        .collect();
    let most_apart_s = screen.step_s.max(limits::FAR_MOST_APART_S.get());
    let read = |c: &Option<Clearing>| c.map(|c| c.passed_s - lag_s);
    let both = || ways.iter().zip(cleared);
    let places: Vec<f64> = both()
        .filter_map(|(w, c)| w.as_ref()?.place(read(c)?))
        .collect();
    let Some(place) = middle_half(places) else {
        return Vec::new();
    };
    let apart: Vec<f64> = both()
        .filter_map(|(w, c)| Some(w.as_ref()?.passes(place)? - read(c)?))
        .filter(|d| d.abs() <= most_apart_s)
        .collect();
    // Between two updates the passing is anywhere at worst.
    let n = apart.len().max(1) as f64;
    let spread = apart.iter().map(|d| d * d).sum::<f64>() / n;
    let learnt = spread.max(screen.step_s.powi(2) / 12.0) / n;
    let u_s = (direct.view.instant_u_s.powi(2) + learnt).sqrt();
    both()
        .map(|(w, c)| {
            let at = w.as_ref()?.passes(place)?;
            let off = read(c).map_or(0.0, |r| (r - at).abs());
            (off <= most_apart_s).then_some((at, u_s))
        })
        .collect()
}

/// Mean of the middle half of some values.
fn middle_half(mut values: Vec<f64>) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let cut = values.len() / 4;
    let kept = &values[cut..values.len() - cut];
    let n = kept.len() as f64;
    (!kept.is_empty()).then(|| kept.iter().sum::<f64>() / n)
}

/// How far the target has moved since a swing began, while it is in sight.
struct Way {
    /// Instants, seconds as shot, and cells moved by then.
    at: Vec<(f64, f64)>,
}

impl Way {
    /// The way of one swing; `None` where it is not seen to move.
    fn of(swing: &Stimulus, direct: Direct<'_>) -> Option<Self> {
        let Direct { view, shifts, .. } = direct;
        let step = |t: f64| view.shown_s.partition_point(|s| *s < t - 1e-9);
        let from = step(swing.move_s?).max(view.span);
        let end = (step(swing.onset_s) + 2 * view.span).min(shifts.len());
        let steps: Vec<Step> = (from..end).map(|i| Step::of(view, shifts, i)).collect();
        let sum =
            |of: fn(&[f64; 2]) -> f64| steps.iter().filter_map(|s| s.speed.as_ref()).map(of).sum();
        let along: [f64; 2] = [sum(|v| v[0]), sum(|v| v[1])];
        let length = along[0].hypot(along[1]);
        let speeds: Vec<Option<f64>> = steps
            .iter()
            .map(|s| {
                s.speed
                    .map(|v| (v[0] * along[0] + v[1] * along[1]) / length)
            })
            .collect();
        // A wrong match touches a span of steps; a median moves no ramp.
        let steadied = |i: usize| {
            speeds[i]?;
            let near = &speeds[i.saturating_sub(view.span)..(i + view.span + 1).min(speeds.len())];
            median(near.iter().filter_map(|v| *v).collect())
        };
        // Between steps that were not told the speed changes evenly.
        let told = (0..steps.len()).filter_map(|i| Some((steps[i].middle_s, steadied(i)?)));
        let mut at: Vec<(f64, f64)> = Vec::new();
        let mut before: Option<(f64, f64)> = None;
        for (t, v) in told {
            let place = at.last().map_or(0.0, |p| p.1);
            let moved = before.map_or(0.0, |(s, u)| (t - s) * f64::midpoint(u, v));
            at.push((t, place + moved));
            before = Some((t, v));
        }
        (at.len() > view.span && length > 0.0).then_some(Self { at })
    }

    /// Where the target was at an instant; `None` while it is out of sight.
    fn place(&self, t: f64) -> Option<f64> {
        let w = self.at.windows(2).find(|w| w[0].0 <= t && t <= w[1].0)?;
        let share = (t - w[0].0) / (w[1].0 - w[0].0).max(1e-9);
        Some(w[0].1 + share * (w[1].1 - w[0].1))
    }

    /// When it was first there; `None` where it was out of sight by then.
    fn passes(&self, place: f64) -> Option<f64> {
        let w = self
            .at
            .windows(2)
            .find(|w| w[0].1 < place && place <= w[1].1)?;
        let share = (place - w[0].1) / (w[1].1 - w[0].1);
        Some(w[0].0 + share * (w[1].0 - w[0].0))
    }
}

/// One step of a view.
struct Step {
    /// Middle between the two pictures, seconds as shot.
    middle_s: f64,
    /// Cells per second, right and down; none where no shift tells.
    speed: Option<[f64; 2]>,
}

impl Step {
    fn of(view: &View<'_>, shifts: &[Shift], i: usize) -> Self {
        let [s, t] = [view.shown_s[i - view.span], view.shown_s[i]];
        let shift = shifts[i];
        let told = shift.explained >= limits::FAR_LEAST_EXPLAINED.get();
        Self {
            middle_s: f64::midpoint(s, t),
            speed: told.then(|| [shift.dx, shift.dy].map(|d| d / (t - s).max(1e-9))),
        }
    }
}
