//! What started a clip's trials, read from the views the rig names.

use super::cues;
use super::signals::Signals;
use super::steady::Footing;
use crate::rig::{Rig, Stimulus as RigStimulus, SwingAt};
use crate::screen::Reel;
use crate::store::schema::OnsetSeen;
use crate::trial::{
    Curve, Direct, SwingError, Swings, View, cover_stimuli, far_onsets, light_stimuli,
    swing_stimuli, swing_ways, tell_sides,
};

/// The stimuli of a clip. They depend on nothing in `[trial]`: the window only
/// judges.
///
/// # Errors
/// [`SwingError`].
pub fn stimuli(
    rig: &Rig,
    curve: &Curve,
    times: &[f64],
    signals: &mut Signals,
) -> Result<Swings, SwingError> {
    let direct = |stimuli| Swings {
        stimuli,
        side_clarity: 1.0,
    };
    match &rig.stimulus {
        RigStimulus::Light { .. } => {
            let (times, light) = signals.facts.footing.seen(times, &signals.light);
            Ok(direct(light_stimuli(&times, &light)))
        }
        RigStimulus::Tone => Ok(direct(cues::beeps(&signals.facts.tones))),
        RigStimulus::Swing { at, .. } => swings(rig, *at, curve, times, signals),
    }
}

fn swings(
    rig: &Rig,
    at: SwingAt,
    curve: &Curve,
    times: &[f64],
    signals: &mut Signals,
) -> Result<Swings, SwingError> {
    let Signals {
        facts,
        pictures,
        shifts,
        cover,
        ..
    } = signals;
    let mut screen = screen_view(pictures, curve);
    // One picture a sample is kept.
    screen.pictures = (0..curve.samples.len()).collect();
    let area = rig.screen.af_area.into();
    if at == SwingAt::Cover {
        let mut found = cover_stimuli(cover, &screen);
        // A background that comes into focus is not what the pendulum left.
        far_onsets(&mut found.stimuli, &mut screen, area, None)?;
        return Ok(found);
    }
    // How the target moves in a direct view is kept, its pictures are not.
    let mut none = Reel::new(1, 1);
    let direct = facts
        .direct
        .then(|| direct_view(&mut none, times, curve.frame_s, &facts.footing));
    let mut stimuli = match &direct {
        Some(view) => swing_stimuli(shifts, view, OnsetSeen::Direct),
        None => swing_stimuli(shifts, &screen, OnsetSeen::Screen),
    };
    let side_clarity = tell_sides(&mut stimuli, &mut screen, area, facts.direct)?;
    let direct = direct.as_ref().map(|view| Direct {
        view,
        shifts,
        lag_s: facts.lag.lag.map(|l| l.lag_s),
    });
    far_onsets(&mut stimuli, &mut screen, area, direct)?;
    Ok(Swings {
        stimuli,
        side_clarity,
    })
}

/// How far what moves went since it was last at rest, columns, at each step of the
/// view that swings are timed in; seconds as shot before it.
pub fn ways(curve: &Curve, times: &[f64], signals: &Signals) -> Vec<(f64, f64)> {
    let mut none = Reel::new(1, 1);
    let view = if signals.facts.direct {
        direct_view(&mut none, times, curve.frame_s, &signals.facts.footing)
    } else {
        screen_view(&mut none, curve)
    };
    let ways = swing_ways(&signals.shifts, &view);
    view.shown_s.iter().copied().zip(ways).collect()
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
