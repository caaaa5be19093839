//! The cues of one clip: what is read from every frame for them, what is heard,
//! and what each trial says of them.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::JobError;
use super::clip::{Ready, WatchError};
use super::setup::tidy;
use super::steady::Footing;
use crate::clip::{ClipIndex, LumaFrame, sound};
use crate::geometry::{Homography, ScreenFrac, StoredPx};
use crate::rig::{AreaFrac, CueKind, CueSpec, Rig, Stimulus as RigStimulus};
use crate::screen::{Paint, Region};
use crate::store::schema;
use crate::trial::Stimulus;
use crate::trial::cue::{Spell, Tone, claim, fullest, spells, tones};
use crate::units::StoredTime;

/// Fewest pixels of the film that a region must cover.
const FEWEST_PIXELS: usize = 16;
/// Lanes of a colour that hold shares.
const SHARES: usize = 2;
/// Smallest rise of a colour's share of its region, and in pixels: a thin line
/// is a small share, a few pixels are noise of the compression.
const LEAST_SHARE: f64 = 0.003;
const LEAST_PIXELS: f64 = 6.0;
/// Standard uncertainty of the onset of a tone by itself, seconds: bursts in
/// noise were found to within 5 ms (rectangular).
const TONE_U_S: f64 = 0.005 / 1.732_050_8;

/// What is looked at in every frame: per cue on the screen one or two lanes of
/// values.
pub struct CueGauge {
    looks: Vec<Look>,
}

enum Look {
    /// Share of the colour, as filmed and with the usual tint taken off; how far off
    /// what comes nearest is, and its red, green and blue.
    Color(Paint),
    /// Mean luma.
    Light(Region),
}

impl Look {
    fn lanes(&self) -> usize {
        match self {
            Self::Color(_) => SHARES + 4,
            Self::Light(_) => 1,
        }
    }
}

impl CueGauge {
    /// Places the regions of a rig's cues in a clip.
    ///
    /// # Errors
    /// [`JobError::CueRegion`].
    pub fn new(
        rig: &Rig,
        index: &ClipIndex,
        to_picture: &Homography<ScreenFrac, StoredPx>,
    ) -> Result<Self, JobError> {
        let size = index.orientation.stored;
        let place = |cue: &CueSpec, a: &AreaFrac| {
            let area = [a.left, a.top, a.right, a.bottom];
            let region = Region::on_screen(area, &[], to_picture, size);
            match region.count() {
                pixels if pixels < FEWEST_PIXELS => Err(JobError::CueRegion {
                    file: index.path.display().to_string(),
                    cue: cue.name.clone(),
                    pixels,
                }),
                _ => Ok(region),
            }
        };
        let mut looks = Vec::new();
        for cue in &rig.cues {
            match &cue.kind {
                CueKind::Color {
                    region,
                    color,
                    tolerance,
                } => looks.push(Look::Color(Paint::new(
                    place(cue, region)?,
                    *color,
                    *tolerance,
                ))),
                CueKind::Light { region, .. } => looks.push(Look::Light(place(cue, region)?)),
                CueKind::Tone => {}
            }
        }
        Ok(Self { looks })
    }

    /// Empty lanes, one value per frame to come.
    pub fn lanes(&self) -> Vec<Vec<f32>> {
        vec![Vec::new(); self.looks.iter().map(Look::lanes).sum()]
    }

    /// Reads a frame whose screen has moved by `shift` px. A colour that cannot
    /// be read is not a number.
    pub fn read(&self, frame: &LumaFrame<'_>, shift: (i16, i16), lanes: &mut [Vec<f32>]) {
        let mut samples = Vec::new();
        let mut row = Vec::new();
        let mut at = 0;
        for look in &self.looks {
            match look {
                Look::Color(paint) => {
                    let shown = paint.shown(frame, shift, &mut samples);
                    let lane = shown.map_or([f32::NAN; SHARES + 4], |s| {
                        let [r, g, b] = s.nearest.map(f32::from);
                        [s.shares[0], s.shares[1], s.off, r, g, b]
                    });
                    for (lane, value) in lanes[at..].iter_mut().zip(lane) {
                        lane.push(value);
                    }
                }
                Look::Light(region) => {
                    let mean = super::sink::mean_luma(frame, region, shift, &mut row);
                    lanes[at].push(mean as f32);
                }
            }
            at += look.lanes();
        }
    }
}

/// Adds the lanes of the next stretch.
pub fn append(lanes: &mut [Vec<f32>], more: Vec<Vec<f32>>) {
    for (lane, next) in lanes.iter_mut().zip(more) {
        lane.extend(next);
    }
}

/// The beeps of a clip, seconds as shot; `None` where nothing was listened to,
/// or nothing is there to listen to.
pub struct Heard {
    tones: Option<Vec<Spell>>,
    warnings: Vec<String>,
}

impl Heard {
    /// The tones, in order of time.
    pub fn tones(&self) -> &[Spell] {
        self.tones.as_deref().unwrap_or_default()
    }
}

/// Listens to a clip whose rig asks for it.
///
/// # Errors
/// The sound cannot be decoded; or trials start by a tone, and there is none to
/// be had.
pub fn listen(rig: &Rig, ready: &Ready) -> Result<Heard, WatchError> {
    let starts = matches!(rig.stimulus, RigStimulus::Tone);
    let cue = rig.cues.iter().find(|c| c.kind == CueKind::Tone);
    let mut heard = Heard {
        tones: None,
        warnings: Vec::new(),
    };
    if !starts && cue.is_none() {
        return Ok(heard);
    }
    let why = match (ready.clock.scale.factor(), sound(&ready.index)?) {
        (_, None) => "it has no sound track",
        (None, _) => "its parts run at different speeds, and its sound cannot be put to them",
        (Some(factor), Some(track)) => {
            // A second of a slowed clip holds less than a second of the world.
            let rate = f64::from(track.rate) / factor;
            let shot = |t: f64| {
                let stored = StoredTime(track.start.0 + t * factor);
                ready.clock.scale.shot(stored).0
            };
            let found = tones(&track.samples, rate);
            heard.tones = Some(found.iter().map(|t| spell(t, shot)).collect());
            heard.warnings.push(
                "a tone is timed from the file's sound: it travels 3 ms a metre, and sound and \
                 picture of a file may be tens of ms apart; neither is known, nor part of the \
                 uncertainty"
                    .to_owned(),
            );
            return Ok(heard);
        }
    };
    if starts {
        return Err(WatchError::NoTone {
            file: ready.index.path.display().to_string(),
            why,
        });
    }
    if let Some(cue) = cue {
        heard.warnings.push(format!(
            "the cue \"{}\" was not listened for in this clip: {why}; film with sound, or copy the \
             original file",
            cue.name
        ));
    }
    Ok(heard)
}

fn spell(tone: &Tone, shot: impl Fn(f64) -> f64) -> Spell {
    Spell {
        on_s: tone.start_s.map(&shot),
        off_s: Some(shot(tone.end_s)),
    }
}

/// Beeps nearer than this are one press, seconds.
const ONE_PRESS_S: f64 = 0.25;

/// Every tone as a stimulus; those that follow closely belong to the first.
pub fn beeps(tones: &[Spell]) -> Vec<Stimulus> {
    let mut out: Vec<Stimulus> = Vec::new();
    let mut last_off = f64::MIN;
    for s in tones {
        if let Some(onset_s) = s.on_s.filter(|on| on - last_off > ONE_PRESS_S) {
            out.push(Stimulus {
                side: None,
                move_s: None,
                onset_s,
                seen: crate::store::schema::OnsetSeen::Sound,
                onset_u_s: TONE_U_S,
                off_s: None,
            });
        }
        last_off = s.off_s.unwrap_or(last_off);
    }
    out
}

/// When each cue of a clip was on.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct CueTimes {
    /// Name, whether it is heard, and its times.
    seen: Vec<(String, bool, Vec<Spell>)>,
}

impl CueTimes {
    /// From the lanes of a whole clip and what was heard; cues that could not
    /// be looked for are left out, with a warning.
    pub fn of(
        rig: &Rig,
        gauge: &CueGauge,
        lanes: &[Vec<f32>],
        heard: Heard,
        (times, footing): (&[f64], &Footing),
        warnings: &mut Vec<String>,
    ) -> Self {
        warnings.extend(heard.warnings);
        let mut tones = heard.tones;
        let mut looks = gauge.looks.iter();
        let mut at = 0;
        let mut seen = Vec::new();
        for cue in &rig.cues {
            if cue.kind == CueKind::Tone {
                seen.extend(tones.take().map(|t| (cue.name.clone(), true, t)));
                continue;
            }
            let Some(look) = looks.next() else { continue };
            let own = &lanes[at..at + look.lanes()];
            at += look.lanes();
            if own.iter().flatten().any(|v| v.is_nan()) {
                warnings.push(format!(
                    "the cue \"{}\" was not looked for in this clip: its colours are stored in a \
                     way that is not read; copy the original file, or name the cue as a `light`",
                    cue.name
                ));
                continue;
            }
            let spells = look.spells(cue, own, (times, footing));
            if spells.is_empty() {
                warnings.push(look.never(cue, own, (times, footing)));
            }
            seen.push((cue.name.clone(), false, spells));
        }
        Self { seen }
    }

    /// What a trial says of every cue.
    pub fn claims(&self, onset_s: f64, end_s: f64) -> BTreeMap<String, schema::Cue> {
        let one = |heard: bool, spells: &[Spell]| {
            let c = claim(spells, onset_s, end_s);
            schema::Cue {
                shown_s: c.shown_s.map(tidy),
                latency_ms: c.shown_s.map(|t| tidy((t - onset_s) * 1e3)),
                on_at_onset: c.on_at_onset,
                heard,
            }
        };
        let all = self.seen.iter();
        all.map(|(name, heard, spells)| (name.clone(), one(*heard, spells)))
            .collect()
    }
}

impl Look {
    fn spells(
        &self,
        cue: &CueSpec,
        lanes: &[Vec<f32>],
        (times, footing): (&[f64], &Footing),
    ) -> Vec<Spell> {
        let wide: Vec<Vec<f64>> = lanes
            .iter()
            .take(SHARES)
            .map(|l| l.iter().map(|v| f64::from(*v)).collect())
            .collect();
        let least = match (self, &cue.kind) {
            (Self::Color(paint), _) => LEAST_SHARE.max(LEAST_PIXELS / paint.pixels().max(1) as f64),
            (Self::Light(_), CueKind::Light { tolerance, .. }) => *tolerance,
            (Self::Light(_), _) => return Vec::new(),
        };
        let Some(best) = fullest(&wide) else {
            return Vec::new();
        };
        // Frames without the screen say nothing.
        let (times, values) = footing.seen(times, &wide[best]);
        spells(&times, &values, least)
    }

    /// That a cue was never on in a clip, and what came nearest.
    fn never(
        &self,
        cue: &CueSpec,
        lanes: &[Vec<f32>],
        (times, footing): (&[f64], &Footing),
    ) -> String {
        let all: Vec<usize> = (0..times.len()).collect();
        let (times, frames) = footing.seen(times, &all);
        let name = &cue.name;
        match (&cue.kind, lanes) {
            (
                CueKind::Color {
                    color, tolerance, ..
                },
                [_, _, off, r, g, b],
            ) => {
                let by_off = |a: &(f64, usize), b: &(f64, usize)| off[a.1].total_cmp(&off[b.1]);
                let each = times.iter().copied().zip(frames);
                let nearest = each.min_by(by_off).map_or_else(String::new, |(at, k)| {
                    format!(
                        " came nearest in its region with {}, {at:.3} s after the start, off by \
                         {:.2} of the scale of Cb and Cr",
                        hex([r, g, b].map(|lane| lane[k] as u8)),
                        off[k]
                    )
                });
                format!(
                    "the cue \"{name}\" was never shown in this clip: its colour \
                     {}{nearest}; {tolerance} counts. A thin line is filmed \
                     as another colour than it is drawn in: write the colour as it is filmed, or \
                     raise `cue.tolerance`",
                    hex(*color)
                )
            }
            (_, lanes) => {
                let values = lanes.first().map_or(&[][..], Vec::as_slice);
                let seen = frames.iter().filter_map(|k| values.get(*k));
                let (low, high) =
                    seen.fold((f32::MAX, f32::MIN), |(a, b), v| (a.min(*v), b.max(*v)));
                format!(
                    "the cue \"{name}\" was never shown in this clip: its region stayed between \
                     {:.1} and {:.1} % of full scale; outline the lamp alone in `cue.region`, or \
                     lower `cue.tolerance`",
                    100.0 * low,
                    100.0 * high
                )
            }
        }
    }
}

/// A colour as a rig has it.
fn hex([r, g, b]: [u8; 3]) -> String {
    format!("#{r:02x}{g:02x}{b:02x}")
}
