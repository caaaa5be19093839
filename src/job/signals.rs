//! What is left of a clip once its frames are looked through: everything that
//! judging needs and nothing that depends on how trials are judged.
//!
//! A film's pictures are large. What reads them beyond this point reads one a
//! screen update, so only these stay, and of a view of the target itself only
//! how it moved. Numbers are rounded here, once: judging the first time and
//! judging again see the same.

use std::io;

use serde::{Deserialize, Serialize};

use super::clip::{Ready, WatchError};
use super::cues::{self, CueTimes};
use super::evidence::Sights;
use super::gauge::Film;
use super::hygiene::{SteadyLight, even_direct};
use super::lag::{self, LagSeen};
use super::segments;
use super::shade::light_of_rows;
use super::steady::Footing;
use super::stimuli::{direct_view, screen_view, stimuli};
use super::subject::Energy;
use crate::clip::DecodeReport;
use crate::rig::{Rig, Stimulus, SwingAt};
use crate::screen::steady::Place;
use crate::screen::{Reel, refresh};
use crate::sharpness::Reading;
use crate::sharpness::clean::Flicker;
use crate::trial::cue::Spell;
use crate::trial::energies::energies;
use crate::trial::graphics::{Change, changes};
use crate::trial::motion::Shift;
use crate::trial::{Curve, Stimulus as Started, View, coverage, median, shifts};
use crate::units::{StoredTime, TimeScale};

/// A clip without its pixels.
pub struct Signals {
    /// What is no row of numbers.
    pub facts: Facts,
    /// Stamp of every frame.
    pub times: Vec<StoredTime>,
    /// Numbers of the frames that were coded as key frames, for looking at.
    pub keys: Vec<usize>,
    /// Readings of the autofocus area, flicker taken out.
    pub readings: Vec<Reading>,
    /// The trigger light by its strongest colour, where there is one.
    pub light: Vec<f64>,
    /// Where the screen was, frame by frame, where it is followed. For looking
    /// at: what follows from it is in `facts`.
    pub seen: Vec<Place>,
    /// How the target moved, step by step, in the view that trials are timed
    /// in; empty unless it swings to rest.
    pub shifts: Vec<Shift>,
    /// How much of the area the target covers on the screen, update by update;
    /// empty unless it swings through.
    pub cover: Vec<f64>,
    /// Energies of every update by band.
    pub energy: Energy,
    /// What started each trial: nothing in `[trial]` bears on it.
    pub started: Vec<Started>,
    /// Light of the focus area's rows in every picture, one picture after the other.
    pub row_light: Vec<f32>,
    /// Coarse pictures of every update; empty unless the target swings, and where
    /// signals were read back.
    pub pictures: Reel,
    /// Pictures for evidence, while the film is at hand; not kept.
    pub sights: Option<Sights>,
}

/// What of a clip's signals is no row of numbers.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Facts {
    /// Rate of the stamps, per stored second.
    pub stored_fps: f64,
    /// Capture rate that the clip states.
    pub stated_fps: Option<f64>,
    /// Said of the file and of its decoding.
    pub warnings: Vec<String>,
    /// Period and phase of the screen's updates, seconds as shot.
    pub rhythm: Option<[f64; 2]>,
    /// Refresh stated or found, per second.
    pub refresh_hz: Option<f64>,
    /// The target is seen directly.
    pub direct: bool,
    /// Height of the screen, film pixels.
    pub height_px: f64,
    /// New live-view pictures per second, where slower than the refresh.
    pub live_view_hz: Option<f64>,
    /// How late the screen shows the world.
    pub lag: LagSeen,
    /// How clearly near and far were told apart, 0 (not at all) ..= 1.
    pub side_clarity: f64,
    /// Light that does not stand still.
    pub flicker: Option<Flicker>,
    /// How the filming camera was held.
    pub footing: Footing,
    /// Width of the screen's edges in the film (rise ÷ slope): median and
    /// standard deviation over the frames, px. `None` where they are not seen.
    pub edges_px: Option<[f64; 2]>,
    /// The screen's corners, where they were looked for and found.
    pub found: Option<[[f64; 2]; 4]>,
    /// Graphics that came up, changed or went in the focus area.
    pub graphics: Vec<Change>,
    /// Tones heard, where they were listened for.
    pub tones: Vec<Spell>,
    /// When the rig's cues were on.
    pub cues: CueTimes,
    /// What was said of them.
    pub cue_warnings: Vec<String>,
}

impl Signals {
    /// Frame times as shot, seconds.
    pub fn shot(&self, scale: &TimeScale) -> Vec<f64> {
        self.times.iter().map(|t| scale.shot(*t).0).collect()
    }

    /// The sharpness curve; one sample an update that shows the screen.
    pub fn curve(&self, times: &[f64]) -> Curve {
        let rhythm = self.facts.rhythm.map(|[period, phase]| (period, phase));
        let mut curve = Curve::new(times, &self.readings, rhythm);
        self.facts.footing.thin(&mut curve);
        curve
    }

    /// How many samples that has.
    pub fn updates(&self, times: &[f64]) -> usize {
        let rhythm = self.facts.rhythm.map(|[period, phase]| (period, phase));
        let every_frame = || (0..=times.len()).collect();
        let starts = Curve::updates(times, rhythm).unwrap_or_else(every_frame);
        let there = |w: &&[usize]| self.facts.footing.is_there(w[0], w[1]);
        starts.windows(2).filter(there).count()
    }

    /// Finds what started each trial, from how the target moves and the pictures.
    ///
    /// # Errors
    /// When temporary files cannot be read back.
    pub fn find_stimuli(
        &mut self,
        rig: &Rig,
        curve: &Curve,
        times: &[f64],
    ) -> Result<(), WatchError> {
        let found = stimuli(rig, curve, times, self)?;
        (self.started, self.facts.side_clarity) = (found.stimuli, found.side_clarity);
        Ok(())
    }
}

/// Looks through a film once and keeps what judging needs.
///
/// # Errors
/// [`WatchError`].
pub fn condense(
    rig: &Rig,
    ready: &Ready,
    mut film: Film,
    report: DecodeReport,
) -> Result<Signals, WatchError> {
    let gauge = &ready.gauge;
    let times: Vec<f64> = film
        .times
        .iter()
        .map(|t| ready.clock.scale.shot(*t).0)
        .collect();
    let footing = Footing::of(gauge.untracked(), &mut film, &times);
    let mut warnings = ready.index.warnings.clone();
    warnings.extend(report.warnings);
    let mut light = SteadyLight::of(&times, &mut film, gauge.places())?;
    let (whole, change) = segments::rhythm_frames(&ready.clock.scale, &times, &film);
    let stated = rig.screen.refresh_hz.map(|h| h.period_s());
    let mut measured = refresh::measure(&whole, &change);
    let beaten = |m: &refresh::Updates, s: f64| light.is_strong() && !whole_fraction(m.period_s, s);
    if let (Some(m), Some(s)) = (measured, stated)
        && beaten(&m, s)
    {
        measured = refresh::near(&whole, &change, 1.0 / s);
    }
    let rhythm = match (measured, stated) {
        (Some(m), _) => Some((m.period_s, m.phase_s)),
        (None, Some(period)) => Some((period, 0.0)),
        (None, None) => None,
    };
    // Pictures held for 2 refreshes and 3 in turn come at no whole fraction of
    // the refresh, but keep its phase.
    let keeps = |m: &refresh::Updates, s: f64| {
        let at_stated = refresh::near(&whole, &change, 1.0 / s);
        m.period_s > s && at_stated.is_some_and(|n| n.coherence >= AS_WELL * m.coherence)
    };
    if let (Some(m), Some(s)) = (measured, stated)
        && !whole_fraction(m.period_s, s)
        && !keeps(&m, s)
    {
        disagreement(m.period_s, s, &mut warnings);
    }
    let updates = Curve::updates(&times, rhythm);
    light.share_updates(&mut film, gauge.places(), updates.as_deref())?;
    let heard = cues::listen(rig, ready)?;
    let tones = heard.tones().to_vec();
    let mut cue_warnings = Vec::new();
    let cues = CueTimes::of(
        rig,
        gauge.cues(),
        &film.cues,
        heard,
        (&times, &footing),
        &mut cue_warnings,
    );
    let mut signals = Signals {
        facts: Facts {
            stored_fps: ready.index.stored_fps,
            stated_fps: ready.index.stated_fps,
            warnings,
            rhythm: rhythm.map(|r| [r.0, r.1]),
            refresh_hz: stated.or(measured.map(|m| m.period_s)).map(|p| 1.0 / p),
            direct: film.direct.is_some(),
            height_px: gauge.height_px(),
            live_view_hz: measured
                .zip(stated)
                .and_then(|(m, s)| slower(m.period_s, s)),
            lag: LagSeen::default(),
            side_clarity: 1.0,
            flicker: light.flicker().copied(),
            edges_px: edges(&film.places),
            footing,
            found: ready.found.map(|q| q.corners.map(|c| [c.x, c.y])),
            graphics: Vec::new(),
            tones,
            cues,
            cue_warnings,
        },
        readings: film.readings.iter().map(plain_reading).collect(),
        light: film.light.iter().map(|v| plain(*v)).collect(),
        seen: std::mem::take(&mut film.places),
        keys: std::mem::take(&mut film.keys),
        times: std::mem::take(&mut film.times),
        shifts: Vec::new(),
        cover: Vec::new(),
        energy: Energy::default(),
        started: Vec::new(),
        row_light: Vec::new(),
        pictures: Reel::new(1, 1),
        sights: None,
    };
    let curve = signals.curve(&times);
    signals.energy = Energy {
        updates: energies(&curve, &film.bands),
        frequencies: gauge.frequencies(),
    };
    let masks: Vec<[f64; 4]> = rig.screen.masks.iter().map(|m| (*m).into()).collect();
    let mut screen = screen_view(&mut film.screen, &curve);
    signals.facts.graphics = changes(&mut screen, rig.screen.af_area.into(), &masks)?;
    even_direct(&mut film, curve.frame_s)?;
    motion(rig, &curve, &times, &mut film, &mut signals)?;
    let rhythm = lag::Rhythm {
        heard: measured.is_some(),
        said: stated.is_some(),
        uneven: measured.is_some_and(|m| m.uneven),
    };
    let footing = &signals.facts.footing;
    signals.facts.lag = lag::measure(rig, ready, &mut film, &curve, &times, footing, rhythm)?;
    signals.row_light = light_of_rows(&mut signals.pictures, rig.screen.af_area.into())?;
    signals.find_stimuli(rig, &curve, &times)?;
    signals.sights = Some(Sights {
        eye: gauge.eye().clone(),
        kept: film.kept,
        screen: film.screen,
    });
    Ok(signals)
}

/// How the target moves in the view that trials are timed in.
fn motion(
    rig: &Rig,
    curve: &Curve,
    times: &[f64],
    film: &mut Film,
    signals: &mut Signals,
) -> Result<(), WatchError> {
    let Stimulus::Swing { at, .. } = rig.stimulus else {
        return Ok(());
    };
    let mut screen = screen_view(&mut film.screen, curve);
    signals.pictures = coarse(&mut screen)?;
    if at == SwingAt::Cover {
        // What the target covers of the area, only the screen shows.
        let cover = coverage(&mut screen, rig.screen.af_area.into())?;
        signals.cover = cover.into_iter().map(plain).collect();
        return Ok(());
    }
    let mut direct = film
        .direct
        .as_mut()
        .map(|r| direct_view(r, times, curve.frame_s, &signals.facts.footing));
    let view = direct.as_mut().unwrap_or(&mut screen);
    signals.shifts = shifts(view)?.iter().map(plain_shift).collect();
    Ok(())
}

/// The pictures of a view, a byte a cell.
fn coarse(view: &mut View<'_>) -> io::Result<Reel> {
    let mut out: Option<Reel> = None;
    for k in &view.pictures {
        let picture = view.reel.get(*k)?;
        out.get_or_insert_with(|| Reel::new(picture.width, picture.height))
            .push_coarse(&picture)?;
    }
    Ok(out.unwrap_or_else(|| Reel::new(1, 1)))
}

/// Median and standard deviation of the edges' widths, px.
fn edges(places: &[Place]) -> Option<[f64; 2]> {
    let widths: Vec<f64> = places
        .iter()
        .map(|p| f64::from(p.edge_px))
        .filter(|w| *w > 0.0)
        .collect();
    let centre = median(widths.clone())?;
    let n = widths.len() as f64;
    let square = widths.iter().map(|w| (w - centre).powi(2)).sum::<f64>() / n;
    Some([plain(centre), plain(square.sqrt())])
}

/// What is kept of a number: seven digits, far below what noise leaves.
fn plain(v: f64) -> f64 {
    f64::from(v as f32)
}

fn plain_reading(r: &Reading) -> Reading {
    Reading {
        mean: plain(r.mean),
        energy: plain(r.energy),
        change: r.change.map(plain),
        white: plain(r.white),
    }
}

fn plain_shift(s: &Shift) -> Shift {
    Shift {
        dx: plain(s.dx),
        dy: plain(s.dy),
        moved: plain(s.moved),
        strength: plain(s.strength),
        explained: plain(s.explained),
    }
}

/// The live view's rate where it is held over several refreshes.
fn slower(period_s: f64, refresh_s: f64) -> Option<f64> {
    (period_s > 1.5 * refresh_s).then(|| 1.0 / period_s)
}

/// Bursts keep the stated refresh's phase too if as well as this share of how
/// well they keep that of the rate seen.
const AS_WELL: f64 = 0.95;

fn disagreement(measured_s: f64, stated_s: f64, warnings: &mut Vec<String>) {
    warnings.push(format!(
        "the screen was seen to change {:.2} times a second, but `screen.refresh_hz` says {}; \
         what was seen is used: correct the rig",
        1.0 / measured_s,
        1.0 / stated_s
    ));
}

/// Whether a period is the stated one or a whole multiple of it: a live view
/// slower than the screen shows as a whole fraction of its rate.
fn whole_fraction(measured_s: f64, stated_s: f64) -> bool {
    let times = measured_s / stated_s;
    (times - times.round()).abs() < 0.03 * times && times.round() >= 1.0
}
