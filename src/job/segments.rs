//! Clips that are slowed down in parts: a table of true rates held against the
//! stamps, and the stamps held against one rate where there is no table.

use super::JobError;
use super::gauge::Film;
use crate::clip::ClipIndex;
use crate::rig::Rig;
use crate::trial::Stimulus;
use crate::units::{CaptureRate, ShotTime, StoredTime, TimeScale};

/// Steps in a row at another rate that are a part of its own: fewer may be
/// lost frames, or a border that is a few frames off.
const FEWEST_STEPS: usize = 24;
/// Rates that differ by less are one.
const SAME_RATE: f64 = 1.5;
/// Steps of one part differ by at most this share and what milliseconds round.
const PLAY: f64 = 0.25;
const ROUNDING_S: f64 = 1.05e-3;
/// A stored rate may exceed the true one by this share.
const CLOCK: f64 = 0.02;
/// Most parts that are listed.
const MOST: usize = 6;

/// A part of a clip whose stamps run at one rate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Run {
    /// Stamp of its first frame, stored seconds.
    pub from_s: f64,
    /// Stored rate.
    pub fps: f64,
}

/// The parts of a row of stamps (stored seconds), in order; neighbours differ
/// by half their rate or more. Empty for few stamps or stamps without a beat.
pub fn runs(stamps: &[f64]) -> Vec<Run> {
    let mut out: Vec<Run> = Vec::new();
    let mut from = 0;
    while from + FEWEST_STEPS < stamps.len() {
        let to = run_end(stamps, from);
        let steps = to - from;
        if steps < FEWEST_STEPS {
            from += 1;
            continue;
        }
        let fps = steps as f64 / (stamps[to] - stamps[from]);
        match out.last_mut() {
            Some(last) if apart(last.fps, fps) < SAME_RATE => {}
            _ => out.push(Run {
                from_s: if out.is_empty() { 0.0 } else { stamps[from] },
                fps,
            }),
        }
        from = to;
    }
    out
}

/// The last stamp of the even row that begins at `from`.
fn run_end(stamps: &[f64], from: usize) -> usize {
    let mut to = from + 1;
    let mut mean = stamps[to] - stamps[from];
    while to + 1 < stamps.len() {
        let step = stamps[to + 1] - stamps[to];
        if (step - mean).abs() > PLAY * mean + ROUNDING_S {
            break;
        }
        to += 1;
        let n = (to - from) as f64;
        mean += (step - mean) / n.min(64.0);
    }
    to
}

fn apart(a: f64, b: f64) -> f64 {
    (a / b).max(b / a)
}

/// Without a table: one rate throughout.
///
/// # Errors
/// [`JobError::Uneven`] where parts run at other rates.
pub fn one_rate(rig: &Rig, index: &ClipIndex) -> Result<(), JobError> {
    let found = runs(&index.stamps);
    let off = |r: &Run| index.stored_fps > 0.0 && apart(r.fps, index.stored_fps) > SAME_RATE;
    if found.len() < 2 && !found.iter().any(off) {
        return Ok(());
    }
    let shown = || found.iter().take(MOST);
    let mut parts: Vec<String> = shown()
        .map(|r| format!("{:.1} a second from {:.2} s on", r.fps, r.from_s))
        .collect();
    if found.len() > MOST {
        parts.push(format!("{} more parts", found.len() - MOST));
    }
    let rows: Vec<String> = shown()
        .map(|r| format!("{{ from_s = {:.3}, fps = … }}", r.from_s))
        .collect();
    Err(JobError::Uneven {
        file: index.path.display().to_string(),
        rig: rig.name.clone(),
        parts: parts.join(", "),
        example: format!("`segments = [{}]`", rows.join(", ")),
    })
}

/// The scale of a clip whose rig lists its parts.
///
/// # Errors
/// [`JobError::Segments`] where the table and the stamps contradict each other.
pub fn scale(rig: &Rig, index: &ClipIndex) -> Result<TimeScale, JobError> {
    let fault = |message: String| JobError::Segments {
        file: index.path.display().to_string(),
        rig: rig.name.clone(),
        message,
    };
    let mut table: Vec<(f64, CaptureRate)> = Vec::new();
    let listed = &rig.capture.segments;
    if listed.first().is_some_and(|s| s.from.0 > 0.0) {
        table.extend(rig.capture.fps.map(|fps| (0.0, fps)));
    }
    table.extend(listed.iter().map(|s| (s.from.0, s.rate)));
    let mut parts = Vec::new();
    let mut main: Option<(usize, CaptureRate)> = None;
    for (i, (from, rate)) in table.iter().enumerate() {
        let to = table.get(i + 1).map_or(f64::INFINITY, |next| next.0);
        let (stored, frames) = part(index, (*from, to), *rate).map_err(&fault)?;
        if main.is_none_or(|(most, _)| frames > most) {
            main = Some((frames, *rate));
        }
        parts.push((StoredTime(*from), stored, *rate));
    }
    let (Some((_, main)), Some(first)) = (main, parts.first()) else {
        return Err(fault("are empty".to_owned()));
    };
    Ok(TimeScale::of_parts(main, (first.1, first.2), &parts[1..]))
}

/// Stored rate and frames of one part.
fn part(
    index: &ClipIndex,
    (from, to): (f64, f64),
    rate: CaptureRate,
) -> Result<(f64, usize), String> {
    // Half a millisecond of grace: tables are written with three decimals.
    const GRACE_S: f64 = 5e-4;
    let stamps = &index.stamps;
    let a = stamps.partition_point(|t| *t < from - GRACE_S);
    let b = stamps.partition_point(|t| *t < to - GRACE_S);
    let own = &stamps[a..b];
    let end = index.duration_s;
    if own.len() < 2 {
        return Err(if from >= end {
            format!("start a part at {from} s, but the clip ends at {end:.3} s; correct `from_s`")
        } else {
            format!(
                "leave fewer than two frames to the part from {from} s on; correct `from_s`, or \
                 take it out"
            )
        });
    }
    let found = runs(own);
    if let [_, second, ..] = found.as_slice() {
        return Err(format!(
            "give one rate from {from} s on, but there the stamps run at {:.1} a second, and from \
             {:.3} s on at {:.1}; start a part where the stamps change",
            found[0].fps, second.from_s, second.fps
        ));
    }
    let stored = index.stored_rate(a..b).unwrap_or(0.0);
    if stored > rate.fps() * (1.0 + CLOCK) {
        return Err(format!(
            "say {} frames a second from {from} s on, but there the file holds {stored:.1} a \
             second of its own time: more than were filmed; correct `fps` or `from_s`",
            rate.fps()
        ));
    }
    Ok((stored, own.len()))
}

/// Frames before and after a key frame whose change can be the codec's.
const BEFORE_KEY: usize = 2;
const AFTER_KEY: usize = 0;
/// Frames to a key frame from which enough others are left.
const SPARSE_KEYS: usize = 10;

/// Times and changes of the frames that tell the screen's rhythm: those filmed
/// at the clip's main rate. A frame after another rate has nothing to be
/// compared with, and what changes around a key frame is the codec's doing: it
/// would pass for a screen that changes as often as key frames come.
pub fn rhythm_frames(
    scale: &TimeScale,
    times: &[f64],
    film: &Film,
) -> (Vec<f64>, Vec<Option<f64>>) {
    let main = |t: f64| scale.rate_at(ShotTime(t)) == scale.rate();
    let sparse = film.keys.len() * SPARSE_KEYS <= times.len();
    let by_key = |k: usize| {
        let next = film.keys.partition_point(|key| *key + AFTER_KEY < k);
        let near = film
            .keys
            .get(next)
            .is_some_and(|key| *key <= k + BEFORE_KEY);
        sparse && near
    };
    let frames = (0..times.len()).filter(|k| main(times[*k]));
    let change = |k: usize| {
        let follows = k.checked_sub(1).is_some_and(|b| main(times[b]));
        film.readings[k].change.filter(|_| follows && !by_key(k))
    };
    frames.map(|k| (times[k], change(k))).unzip()
}

/// Onsets in parts of another rate are known to that rate's frame only.
pub fn widen(scale: &TimeScale, frame_s: f64, stimuli: &mut [Stimulus]) -> Option<String> {
    let mut coarse = Vec::new();
    for (i, s) in stimuli.iter_mut().enumerate() {
        let rate = scale.rate_at(ShotTime(s.onset_s));
        if rate != scale.rate() && rate.period_s() > 1.5 * frame_s {
            s.onset_u_s = s.onset_u_s.hypot(rate.period_s() / 12f64.sqrt());
            coarse.push(i.to_string());
        }
    }
    (!coarse.is_empty()).then(|| {
        format!(
            "trials {} begin in a part filmed at fewer frames a second; their times are as coarse \
             as those frames",
            coarse.join(", ")
        )
    })
}

#[cfg(test)]
#[path = "segments_tests.rs"]
mod tests;
