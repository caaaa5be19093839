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
use super::gauge::{Film, Gauge};
use super::hygiene::{SteadyLight, even_direct};
use super::lag::{self, LagSeen};
use super::segments;
use super::steady::Footing;
use super::stimuli::{direct_view, screen_view};
use crate::clip::DecodeReport;
use crate::rig::{AreaFrac, Rig, Stimulus, SwingAt};
use crate::screen::steady::Place;
use crate::screen::{Reel, refresh};
use crate::sharpness::clean::Flicker;
use crate::sharpness::{Places, Power, Reading, Still, UpdateTiles};
use crate::trial::clean::update_tiles;
use crate::trial::cue::Spell;
use crate::trial::motion::Shift;
use crate::trial::{Curve, View, coverage, shifts};
use crate::units::{StoredTime, TimeScale};

/// A clip without its pixels.
pub struct Signals {
    /// What is no row of numbers.
    pub facts: Facts,
    /// Stamp of every frame.
    pub times: Vec<StoredTime>,
    /// Readings of the autofocus area, flicker taken out.
    pub readings: Vec<Reading>,
    /// Mean luma of the trigger light, where there is one.
    pub light: Vec<f64>,
    /// Where the screen was, frame by frame, where it is followed. For looking
    /// at: what follows from it is in `facts`.
    pub seen: Vec<Place>,
    /// How the target moved, step by step, in the view that trials are timed
    /// in; empty unless it swings to rest.
    pub shifts: Vec<Shift>,
    /// How much of the area the target covers, step by step; empty unless it
    /// swings through.
    pub cover: Vec<f64>,
    /// Tiles of every update.
    pub tiles: UpdateTiles,
    /// Coarse pictures of every update; empty unless the target swings to rest.
    pub pictures: Reel,
    /// Stretches of sharp film, and the spectrum of each.
    pub stills: Vec<(Still, Power)>,
    /// Pixels behind the tiles.
    pub places: Places,
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
    /// Film pixels per ‰ of the screen's height.
    pub px_per_permille: f64,
    /// Numbers of the frames that were coded as key frames.
    pub keys: Vec<usize>,
    /// New live-view pictures per second, where slower than the refresh.
    pub live_view_hz: Option<f64>,
    /// How late the screen shows the world.
    pub lag: LagSeen,
    /// Light that does not stand still.
    pub flicker: Option<Flicker>,
    /// Of a screen whose rows go black: share of rows and updates that no frame
    /// shows lit.
    pub hidden: f64,
    /// How the filming camera was held.
    pub footing: Footing,
    /// The screen's corners, where they were looked for and found.
    pub found: Option<[[f64; 2]; 4]>,
    /// Tones heard, where they were listened for.
    pub tones: Vec<Spell>,
    /// When the rig's cues were on.
    pub cues: CueTimes,
    /// What was said of them.
    pub cue_warnings: Vec<String>,
}

impl Signals {
    /// Frame times as shot, seconds.
    #[must_use]
    pub fn shot(&self, scale: &TimeScale) -> Vec<f64> {
        self.times.iter().map(|t| scale.shot(*t).0).collect()
    }

    /// The sharpness curve; one sample an update that shows the screen.
    #[must_use]
    pub fn curve(&self, times: &[f64]) -> Curve {
        let rhythm = self.facts.rhythm.map(|[period, phase]| (period, phase));
        let mut curve = Curve::new(times, &self.readings, rhythm);
        self.facts.footing.thin(&mut curve);
        curve
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
            px_per_permille: gauge.px_per_permille(),
            live_view_hz: measured
                .zip(stated)
                .and_then(|(m, s)| slower(m.period_s, s)),
            lag: LagSeen::default(),
            keys: std::mem::take(&mut film.keys),
            flicker: light.flicker().copied(),
            hidden: 0.0,
            footing,
            found: ready.found.map(|q| q.corners.map(|c| [c.x, c.y])),
            tones,
            cues,
            cue_warnings,
        },
        readings: film.readings.iter().map(plain_reading).collect(),
        light: film.light.iter().map(|v| plain(*v)).collect(),
        seen: std::mem::take(&mut film.places),
        times: std::mem::take(&mut film.times),
        shifts: Vec::new(),
        cover: Vec::new(),
        tiles: UpdateTiles::default(),
        pictures: Reel::new(1, 1),
        stills: stills(gauge, &mut film)?,
        places: gauge.places().clone(),
        sights: None,
    };
    let curve = signals.curve(&times);
    let black = light.flicker().is_some_and(Flicker::goes_black);
    (signals.tiles, signals.facts.hidden) = update_tiles(&curve, &mut film.tiles, black)?;
    even_direct(&mut film, curve.frame_s)?;
    motion(rig, &curve, &times, &mut film, &mut signals)?;
    let rhythm = lag::Rhythm {
        heard: measured.is_some(),
        said: stated.is_some(),
        uneven: measured.is_some_and(|m| m.uneven),
    };
    let footing = &signals.facts.footing;
    signals.facts.lag = lag::measure(rig, ready, &mut film, &curve, &times, footing, rhythm)?;
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
    let mut direct = film
        .direct
        .as_mut()
        .map(|r| direct_view(r, times, curve.frame_s, &signals.facts.footing));
    match at {
        SwingAt::Rest => {
            signals.pictures = coarse(&mut screen)?;
            let view = direct.as_mut().unwrap_or(&mut screen);
            signals.shifts = shifts(view)?.iter().map(plain_shift).collect();
        }
        SwingAt::Cover => {
            let cover = match &mut direct {
                Some(view) => coverage(view, [0.0, 0.0, 1.0, 1.0])?,
                None => coverage(&mut screen, sides(&rig.screen.af_area))?,
            };
            signals.cover = cover.into_iter().map(plain).collect();
        }
    }
    Ok(())
}

/// An area as left, top, right, bottom.
#[must_use]
pub fn sides(a: &AreaFrac) -> [f64; 4] {
    [a.left, a.top, a.right, a.bottom]
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

/// Spectra of the stills, as they are kept; none of areas too small for one.
fn stills(gauge: &Gauge, film: &mut Film) -> io::Result<Vec<(Still, Power)>> {
    let list = film.stills.list().to_vec();
    let mut out = Vec::with_capacity(list.len());
    for (k, still) in list.into_iter().enumerate() {
        let power = gauge.power(&film.stills.picture(k)?);
        let kept = power.and_then(|p| Power::from_codes(&p.codes(), p.tiles()));
        out.extend(kept.map(|p| (still, p)));
    }
    Ok(out)
}

/// What is kept of a number: seven digits, far below what noise leaves.
#[allow(clippy::cast_possible_truncation)]
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
