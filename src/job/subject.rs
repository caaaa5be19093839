//! The subjects of a clip: what blur does to each side's sharpness.

use std::collections::BTreeMap;

use super::moire::Moire;
use super::signals::Signals;
use crate::rig::Settle;
use crate::sharpness::{Line, Power, Reading, Response, Still};
use crate::store::schema::Side;
use crate::trial::{Curve, Stimulus, Subject, Width};

/// Subjects by side.
pub type Subjects = BTreeMap<Option<Side>, Subject>;

/// The sharpest picture of one side.
pub struct Sharp {
    /// Whose.
    pub side: Option<Side>,
    /// Sharpness of the updates it averages.
    pub level: f64,
    /// The noise's part of its energy.
    pub noise_share: f64,
    /// Its spectrum.
    pub power: Power,
    /// Waves that stand out of it.
    pub lines: Vec<Line>,
}

/// The sharpest still of every side. A side without a still has none.
#[must_use]
pub fn sharpest(
    signals: &Signals,
    response: &Response,
    curve: &Curve,
    stimuli: &[Stimulus],
) -> Vec<Sharp> {
    let mut best: BTreeMap<Option<Side>, (usize, f64)> = BTreeMap::new();
    for (k, (still, _)) in signals.stills.iter().enumerate() {
        let (Some(side), Some(level)) = (side_of(still, curve, stimuli), level(still, curve))
        else {
            continue;
        };
        let entry = best.entry(side).or_insert((k, level));
        if level > entry.1 {
            *entry = (k, level);
        }
    }
    let mut out = Vec::new();
    for (side, (k, level)) in best {
        let (still, power) = &signals.stills[k];
        let noise_share = noise_share(
            &signals.readings[still.first..=still.last],
            level,
            still.frames,
        );
        out.push(Sharp {
            side,
            level,
            noise_share,
            lines: response.lines(power),
            power: power.clone(),
        });
    }
    out
}

/// Every side's sharpest picture turned into a scale of blur, without the
/// screen's own lattice.
#[must_use]
pub fn subjects(
    response: &Response,
    px_per_permille: f64,
    sharp: Vec<Sharp>,
    moire: Option<&Moire>,
    hit_ratio: f64,
) -> Subjects {
    let off = moire.and_then(|m| m.level);
    let of = |s: Sharp| {
        let power = match (moire, off) {
            (Some(m), Some(_)) => s.power.without(&m.lines),
            _ => s.power,
        };
        let subject = Subject {
            scale: response.blur_scale(&power, s.noise_share)?,
            best: (s.level - off.unwrap_or(0.0)).max(f64::MIN_POSITIVE),
            hit_ratio,
            px_per_permille,
        };
        Some((s.side, subject))
    };
    sharp.into_iter().filter_map(of).collect()
}

/// The side whose subject a still shows: that of the trial it lies in. `None`
/// before the first stimulus, and while a target moves.
fn side_of(still: &Still, curve: &Curve, stimuli: &[Stimulus]) -> Option<Option<Side>> {
    let shown = |frame: usize| {
        let k = curve.samples.partition_point(|s| s.end <= frame);
        curve.samples.get(k).map(|s| s.shown_s)
    };
    let (from, to) = (shown(still.first)?, shown(still.last)?);
    let k = stimuli.partition_point(|s| s.onset_s <= from);
    let current = stimuli.get(k.checked_sub(1)?)?;
    let moving = stimuli
        .get(k)
        .is_some_and(|n| n.move_s.unwrap_or(n.onset_s) < to);
    (!moving).then_some(current.side)
}

/// Sharpness of the updates that a still averages, noise taken off.
fn level(still: &Still, curve: &Curve) -> Option<f64> {
    let mut values: Vec<f64> = curve
        .samples
        .iter()
        .filter(|s| s.end > still.first && s.first <= still.last)
        .map(|s| s.value)
        .collect();
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().filter(|v| *v > 0.0)
}

/// The noise's part of the energy of a mean of `frames` such frames.
fn noise_share(readings: &[Reading], level: f64, frames: u32) -> f64 {
    #[allow(clippy::cast_precision_loss)]
    let n = readings.len().max(1) as f64;
    let raw: f64 = readings
        .iter()
        .map(|r| r.energy / r.mean.max(1e-3).powi(2))
        .sum();
    let noise = (raw / n - level).max(0.0) / f64::from(frames.max(1));
    noise / (level + noise)
}

/// How wide the band of a trial is, by side.
pub struct Widths<'a> {
    settle: Settle,
    tolerance: f64,
    subjects: &'a Subjects,
}

impl<'a> Widths<'a> {
    /// As the rig wants it; `tolerance` serves where there is no scale.
    #[must_use]
    pub fn new(settle: Settle, tolerance: f64, subjects: &'a Subjects) -> Self {
        Self {
            settle,
            tolerance,
            subjects,
        }
    }

    /// For trials of a side.
    #[must_use]
    pub fn of(&self, side: Option<Side>) -> Width<'a> {
        match (self.settle, self.subjects.get(&side)) {
            (Settle::Blur { permille }, Some(subject)) => Width::Blur(
                subject,
                permille.map_or(0.0, |p| p * subject.px_per_permille),
            ),
            _ => Width::Share(self.tolerance),
        }
    }

    /// A warning where blur is asked for and a side has no scale.
    #[must_use]
    pub fn missing(&self, stimuli: &[Stimulus]) -> Option<String> {
        let wanted = matches!(self.settle, Settle::Blur { .. });
        let lacks = stimuli.iter().any(|s| !self.subjects.contains_key(&s.side));
        (wanted && lacks).then(|| {
            format!(
                "no still of a sharp picture on one side, so its blur cannot be told; those trials \
                 are judged by a band of {} of the plateau",
                self.tolerance
            )
        })
    }
}
