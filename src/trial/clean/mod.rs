//! What disturbs single trials: graphics over the focus area and light that
//! changes. Found, and taken out of the curve.
//!
//! In: the curve, the tiles of every frame, the stimuli. Out: the curve
//! without the disturbance, where there is one, and what was found. Looked at
//! from onset on, while the subject rests; the curve's instants are not
//! touched.

mod keys;
mod light;
mod overlay;
#[cfg(test)]
mod tests;
mod tiles;

use std::io;
use std::ops::Range;

use super::curve::{Curve, median};
use super::{Settings, Stimulus};
use crate::sharpness::{Places, TILES};
use crate::store::schema::Side;
use keys::Pause;
pub use keys::enters_by_jump;
use light::{Power, TrialLight};
use overlay::Relative;
use tiles::{Chosen, Stretch};
pub use tiles::{Frames, update_tiles};

/// What was found in a clip's trials.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Found {
    /// Share of the area left out, for graphics.
    pub left_out: f64,
    /// When graphics changed, seconds as shot.
    pub changes_s: Vec<f64>,
    /// Too much of the area is drawn over: nothing is left out.
    pub drawn_over: bool,
    /// Per trial with unsteady light: number, largest relative change of the
    /// area's brightness, largest of the tiles'.
    pub unsteady: Vec<(usize, f64, f64)>,
    /// Steps of the sharpness at key frames while it rests: trial, level after
    /// ÷ before.
    pub key_steps: Vec<(usize, f64)>,
    /// The largest of them, as a share of the level, that could be evened out.
    pub most_at_keys: f64,
    /// How the sharpness follows the light: energy grows with this power of
    /// it; `None` where it could not be told.
    pub power: Option<f64>,
}

impl Found {
    /// Whether anything was found.
    #[must_use]
    pub fn nothing(&self) -> bool {
        let most_at_keys = self.most_at_keys;
        *self
            == Self {
                most_at_keys,
                ..Self::default()
            }
    }
}

/// Largest share of the area that may be left out.
const MOST_LEFT_OUT: f64 = 0.6;
/// Longest stretch of the curve whose tiles are held at once, updates.
const AT_ONCE: usize = 600;

/// Looks for disturbances in the trials of a clip and takes them out of its
/// curve. `rests`: the subject stands still from onset on.
///
/// # Errors
/// When the tiles cannot be read back.
pub fn clean(
    curve: &Curve,
    stimuli: &[Stimulus],
    settings: &Settings,
    rests: bool,
    frames: &mut Frames<'_>,
) -> io::Result<(Option<Curve>, Found)> {
    let (mut out, mut found) = clean_area(curve, stimuli, settings, rests, frames)?;
    let base = out.as_ref().unwrap_or(curve);
    let pauses: Vec<Vec<Pause>> = (0..stimuli.len())
        .map(|t| keys::pauses(base, &observed(curve, stimuli, t, settings), frames.keys))
        .collect();
    found.most_at_keys = keys::most(pauses.iter().flatten());
    for (t, mut steps) in pauses.into_iter().enumerate() {
        steps.retain(Pause::steps);
        if !steps.is_empty() {
            let out = out.get_or_insert_with(|| curve.clone());
            keys::level_out(out, curve.at_or_after(begins(&stimuli[t])), &steps);
            found.key_steps.extend(steps.iter().map(|s| (t, s.ratio)));
        }
    }
    Ok((out, found))
}

/// The samples of a trial from onset on.
fn observed(curve: &Curve, stimuli: &[Stimulus], t: usize, settings: &Settings) -> Range<usize> {
    let start = curve.at_or_after(begins(&stimuli[t]));
    let end = stimuli.get(t + 1).map_or(f64::MAX, begins);
    let end = end.min(stimuli[t].onset_s + settings.window_s + settings.hold_s);
    let onset = curve.at_or_after(stimuli[t].onset_s).max(start);
    onset..curve.at_or_after(end).max(onset)
}

/// Graphics and light.
fn clean_area(
    curve: &Curve,
    stimuli: &[Stimulus],
    settings: &Settings,
    rests: bool,
    frames: &mut Frames<'_>,
) -> io::Result<(Option<Curve>, Found)> {
    let mut found = Found::default();
    if !rests || stimuli.is_empty() {
        return Ok((None, found));
    }
    let hold = hold(curve, settings);
    let mut left_out = [false; TILES];
    let mut range = overlay::Range::default();
    for trial in trials(curve, stimuli, settings) {
        let stretch = Stretch::load(curve, trial.clone(), frames)?;
        if let Some(relative) = Relative::of(&stretch, frames.places, hold) {
            let at = overlay::jumps(&relative, &mut left_out);
            let shown = |k: &usize| curve.samples[trial.start + k].shown_s;
            found.changes_s.extend(at.iter().map(shown));
            range.add(&relative);
        }
    }
    range.always_sharp(frames.places, &mut left_out);
    let mut chosen = Chosen::without(&left_out, frames.places);
    if 1.0 - chosen.share() > MOST_LEFT_OUT {
        found.drawn_over = true;
        chosen = Chosen::without(&[false; TILES], frames.places);
    } else {
        found.left_out = 1.0 - chosen.share();
    }
    let lights = lights(curve, stimuli, settings, &chosen, frames, &mut found)?;
    if found.left_out == 0.0 && found.power.is_none() {
        return Ok((None, found));
    }
    let sides = usual_light(stimuli, &lights);
    let first = before_the_first(stimuli, &sides);
    let mut out = curve.clone();
    for (trial, part) in parts(curve, stimuli) {
        let light = trial
            .and_then(|t| lights.get(t)?.as_ref().zip(sides.get(t).copied()))
            .zip(found.power);
        let stretch = Stretch::load(curve, part.clone(), frames)?;
        let onset = trial.map_or(f64::MAX, |t| stimuli[t].onset_s);
        for (n, k) in part.enumerate() {
            let rests = curve.samples[k].shown_s >= onset - 1e-9;
            let value = value(&stretch, n, &chosen, frames.places, light, rests);
            if let Some(mut value) = value {
                if let (None, Some(usual), Some(power)) = (trial, first, found.power) {
                    // What is seen before the first stimulus is the other side.
                    let own = chosen.light(&stretch.mean[n], frames.places);
                    value *= (own / usual).powf(2.0 - power);
                }
                out.samples[k].value = value * frames_scale(curve, k, &stretch, n, frames.places);
            }
        }
    }
    out.set_noise();
    Ok((Some(out), found))
}

/// The curve's own value of an update ÷ that of all its tiles: 1 but for
/// measures whose tiles do not add up to the whole.
fn frames_scale(curve: &Curve, k: usize, stretch: &Stretch, n: usize, places: &Places) -> f64 {
    let all = Chosen::without(&[false; TILES], places);
    match value(stretch, n, &all, places, None, false) {
        Some(v) if v > 0.0 => curve.samples[k].value / v,
        _ => 1.0,
    }
}

/// Sharpness of one update from its tiles.
fn value(
    stretch: &Stretch,
    n: usize,
    chosen: &Chosen,
    places: &Places,
    light: Option<((&TrialLight, f64), f64)>,
    rests: bool,
) -> Option<f64> {
    let (energy, mean) = (&stretch.energy[n], &stretch.mean[n]);
    let own = chosen.light(mean, places);
    let value = match light {
        Some(((light, usual), power)) => {
            // Between trials of one side the light differs too.
            let level = (light.whole / usual).powf(2.0 - power);
            if rests {
                chosen.energy(|i| light.relit(energy[i], mean[i], i, power)) * level
                    / light.whole.powi(2)
            } else {
                chosen.energy(|i| energy[i]) * level / own.powi(2)
            }
        }
        None => chosen.energy(|i| energy[i]) / own.powi(2),
    };
    (own > 1e-3 && value.is_finite()).then_some(value)
}

/// What every trial says of its light; fills in what was found.
fn lights(
    curve: &Curve,
    stimuli: &[Stimulus],
    settings: &Settings,
    chosen: &Chosen,
    frames: &mut Frames<'_>,
    found: &mut Found,
) -> io::Result<Vec<Option<TrialLight>>> {
    let hold = hold(curve, settings);
    let mut power = Power::default();
    let mut out = Vec::new();
    for (t, trial) in trials(curve, stimuli, settings).enumerate() {
        let stretch = Stretch::load(curve, trial, frames)?;
        let relative = Relative::of(&stretch, frames.places, hold);
        let light = relative
            .as_ref()
            .and_then(|r| TrialLight::of(&stretch, r, chosen, frames.places, hold));
        if let (Some(l), Some(r)) = (&light, &relative) {
            if l.unsteady() {
                found
                    .unsteady
                    .push((t, l.change.exp() - 1.0, l.uneven.exp() - 1.0));
            }
            power.add(&stretch, r, chosen);
        }
        out.push(light);
    }
    if !found.unsteady.is_empty() {
        found.power = power.told();
    }
    Ok(out)
}

/// Per trial: the middle of the light of its side's trials.
fn usual_light(stimuli: &[Stimulus], lights: &[Option<TrialLight>]) -> Vec<f64> {
    let of = |side: Option<Side>| {
        let same = stimuli.iter().zip(lights).filter(|(s, _)| s.side == side);
        median(same.filter_map(|(_, l)| Some(l.as_ref()?.whole)).collect()).unwrap_or(1.0)
    };
    stimuli.iter().map(|s| of(s.side)).collect()
}

/// The usual light of the side that is seen before the first stimulus.
fn before_the_first(stimuli: &[Stimulus], sides: &[f64]) -> Option<f64> {
    let first = stimuli.first()?.side?;
    let other = stimuli.iter().zip(sides);
    let mut other = other.filter(|(s, _)| s.side.is_some_and(|s| s != first));
    other.next().map(|(_, usual)| *usual)
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
fn hold(curve: &Curve, settings: &Settings) -> usize {
    (settings.hold_s / curve.period_s).round().max(5.0) as usize
}

/// The samples of each trial from onset to the end of its last hold, or to
/// the next stimulus.
fn trials<'a>(
    curve: &'a Curve,
    stimuli: &'a [Stimulus],
    settings: &'a Settings,
) -> impl Iterator<Item = Range<usize>> + 'a {
    stimuli.iter().enumerate().map(|(i, s)| {
        let next = stimuli.get(i + 1).map_or(f64::MAX, begins);
        let end = (s.onset_s + settings.window_s + settings.hold_s).min(next);
        let from = curve.at_or_after(s.onset_s);
        from..curve.at_or_after(end).max(from)
    })
}

fn begins(s: &Stimulus) -> f64 {
    s.move_s.unwrap_or(s.onset_s)
}

/// The whole curve in parts: before the first trial, and every trial from its
/// move to the next one's, long ones cut.
fn parts(
    curve: &Curve,
    stimuli: &[Stimulus],
) -> impl Iterator<Item = (Option<usize>, Range<usize>)> {
    let mut bounds: Vec<usize> = vec![0];
    bounds.extend(stimuli.iter().map(|s| curve.at_or_after(begins(s))));
    bounds.push(curve.samples.len());
    let whole: Vec<(Option<usize>, Range<usize>)> = bounds
        .windows(2)
        .enumerate()
        .map(|(i, w)| (i.checked_sub(1), w[0]..w[1].max(w[0])))
        .collect();
    whole.into_iter().flat_map(|(trial, part)| {
        let (start, end) = (part.start, part.end);
        part.step_by(AT_ONCE)
            .map(move |from| (trial, from..(from + AT_ONCE).min(end)))
            .filter(move |(_, r)| r.start >= start)
    })
}
