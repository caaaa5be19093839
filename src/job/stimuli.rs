//! What started a clip's trials, read from the views the rig names.

use super::cues;
use super::signals::{Signals, sides};
use super::steady::Footing;
use crate::rig::{Rig, Stimulus as RigStimulus, SwingAt};
use crate::screen::Reel;
use crate::trial::{
    Curve, Settings, SwingError, Swings, View, cover_stimuli, light_stimuli, swing_stimuli,
    tell_sides,
};

/// The stimuli of a clip, and whether they were seen directly.
///
/// # Errors
/// [`SwingError`].
pub fn stimuli(
    rig: &Rig,
    curve: &Curve,
    times: &[f64],
    signals: &mut Signals,
    settings: &Settings,
) -> Result<(Swings, bool), SwingError> {
    let direct = |stimuli| Swings {
        stimuli,
        side_clarity: 1.0,
    };
    match &rig.stimulus {
        RigStimulus::Light { .. } => {
            let (times, light) = signals.facts.footing.seen(times, &signals.light);
            let stimuli = light_stimuli(&times, &light, settings.hold_s);
            Ok((direct(stimuli), true))
        }
        RigStimulus::Tone => Ok((direct(cues::beeps(&signals.facts.tones)), true)),
        RigStimulus::Swing { at, .. } => swings(rig, *at, curve, times, signals, settings),
    }
}

fn swings(
    rig: &Rig,
    at: SwingAt,
    curve: &Curve,
    times: &[f64],
    signals: &mut Signals,
    settings: &Settings,
) -> Result<(Swings, bool), SwingError> {
    let is_direct = signals.facts.direct;
    let mut screen = screen_view(&mut signals.pictures, curve);
    // One picture a sample is kept.
    screen.pictures = (0..curve.samples.len()).collect();
    // How the target moves in a direct view is kept, its pictures are not.
    let mut none = Reel::new(1, 1);
    let direct =
        is_direct.then(|| direct_view(&mut none, times, curve.frame_s, &signals.facts.footing));
    let view = direct.as_ref().unwrap_or(&screen);
    let found = match at {
        SwingAt::Rest => {
            let mut stimuli = swing_stimuli(&signals.shifts, view, settings.hold_s);
            let area = sides(&rig.screen.af_area);
            let side_clarity = tell_sides(&mut stimuli, &mut screen, area, is_direct)?;
            Swings {
                stimuli,
                side_clarity,
            }
        }
        SwingAt::Cover => cover_stimuli(&signals.cover, view, settings.hold_s),
    };
    Ok((found, is_direct))
}

/// Uncertainty of the instant of rest read from the screen beyond its step, in
/// updates: on rendered scenes one in seven is an update off.
const SCREEN_FIT: f64 = 0.37;

/// The target on the camera's screen: one picture per update.
pub fn screen_view<'a>(reel: &'a mut Reel, curve: &Curve) -> View<'a> {
    let period = if curve.every_frame {
        0.0
    } else {
        curve.period_s
    };
    View {
        reel,
        pictures: curve
            .samples
            .iter()
            .map(|s| usize::midpoint(s.first, s.end - 1))
            .collect(),
        shown_s: curve.samples.iter().map(|s| s.shown_s).collect(),
        step_s: curve.period_s,
        span: 1,
        instant_u_s: ((curve.frame_s.powi(2) + period.powi(2)) / 12.0
            + (SCREEN_FIT * curve.period_s).powi(2))
        .sqrt(),
    }
}

/// Seconds over which a shift is taken in a direct view.
const DIRECT_SPAN_S: f64 = 1.0 / 60.0;

/// The target seen directly: one picture per frame.
pub fn direct_view<'a>(
    reel: &'a mut Reel,
    times: &[f64],
    frame_s: f64,
    footing: &Footing,
) -> View<'a> {
    let pictures: Vec<usize> = (0..times.len()).collect();
    let (shown_s, pictures) = footing.seen(times, &pictures);
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let span = (DIRECT_SPAN_S / frame_s).round().max(2.0) as usize;
    View {
        reel,
        // A frame's stamp is the middle of what it shows.
        shown_s,
        pictures,
        step_s: frame_s,
        span,
        instant_u_s: ((frame_s * frame_s + DIRECT_SPAN_S * DIRECT_SPAN_S) / 12.0).sqrt(),
    }
}
