//! The live-view lag of one clip: whether it can be told, and what to say
//! where it cannot.

use std::io;

use serde::{Deserialize, Serialize};

use super::clip::Ready;
use super::gauge::Film;
use super::steady::Footing;
use super::stimuli::{direct_view, screen_view};
use crate::geometry::{Point, UprightPx};
use crate::rig::{Rig, Stimulus};
use crate::trial::Curve;
use crate::trial::lag::{FEWEST_SWINGS, Lag, NoLag, Terms, live_view_lag};

/// What a clip says of the lag.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct LagSeen {
    /// First appearance.
    pub lag: Option<Lag>,
    /// The mean lag seen: that and half of the time a picture is held.
    pub mean_s: Option<f64>,
    /// Why there is none, where one was to be expected.
    pub warning: Option<String>,
}

/// Where the rhythm of the screen's updates is from.
#[derive(Clone, Copy, Debug)]
pub struct Rhythm {
    /// Measured in the film.
    pub heard: bool,
    /// Stated by the rig.
    pub said: bool,
    /// Pictures are held now for one refresh, now for more.
    pub uneven: bool,
}

/// Measures the lag where the rig names a direct view of the target.
///
/// # Errors
/// When kept pictures cannot be read back.
pub fn measure(
    rig: &Rig,
    ready: &Ready,
    film: &mut Film,
    curve: &Curve,
    times: &[f64],
    footing: &Footing,
    rhythm: Rhythm,
) -> io::Result<LagSeen> {
    let Some(direct) = film.direct.as_mut().filter(|_| !rig.screen.feed) else {
        return Ok(LagSeen::default());
    };
    // Without the rhythm a held picture counts again and again, and so later.
    let known = rhythm.heard || rhythm.said && curve.every_frame;
    if !known {
        return Ok(unknown(
            "the screen's updates could not be told apart in this clip; film at a higher rate, \
             keep the filming camera still, or state `screen.refresh_hz` where the screen changes with every frame"
                .to_owned(),
        ));
    }
    if rhythm.uneven {
        return Ok(unknown(
            "the live view brings a new picture at many of the screen's refreshes, but not at \
             all of them, so which ones are new is not known; set the camera to another frame \
             rate, if it has one"
                .to_owned(),
        ));
    }
    let mut screen = screen_view(&mut film.screen, curve);
    let mut direct = direct_view(direct, times, curve.frame_s, footing);
    let terms = Terms {
        frame_s: curve.frame_s,
        rows_apart: rows_apart(rig, ready),
    };
    let refresh_s = rig.screen.refresh_hz.map(|h| h.period_s());
    Ok(match live_view_lag(&mut screen, &mut direct, terms)? {
        Ok(seen) => {
            let lag = waits(curve.period_s, refresh_s).map_or(seen, |r| without_waiting(seen, r));
            LagSeen {
                lag: Some(lag),
                mean_s: Some(seen.lag_s + curve.period_s / 2.0),
                warning: None,
            }
        }
        Err(why) => unknown(words(why)),
    })
}

/// The refresh, seconds, that pictures wait for by chance: where the live view
/// runs at no whole fraction of it.
fn waits(period_s: f64, refresh_s: Option<f64>) -> Option<f64> {
    let ratio = period_s / refresh_s?;
    ((ratio - ratio.round()).abs() > 0.03 * ratio).then_some(refresh_s?)
}

/// The wait is up to a refresh, half of one on the average: the lag of a
/// picture that need not wait is shorter by that.
fn without_waiting(lag: Lag, refresh_s: f64) -> Lag {
    Lag {
        lag_s: lag.lag_s - refresh_s / 2.0,
        u_s: (lag.u_s.powi(2) + refresh_s * refresh_s / 12.0).sqrt(),
        ..lag
    }
}

/// What a rig can never tell; said once a setup.
pub fn of_rig(rig: &Rig) -> Option<&'static str> {
    matches!(rig.stimulus, Stimulus::Light { .. } | Stimulus::Tone).then_some(
        "the live-view lag is not known, because a trigger light or a tone does not show it: latencies \
         hold the screen's lag, and corrected ones are null. To learn the lag, film the same \
         camera once with a swinging target in a direct view (`stimulus.region`)",
    )
}

fn unknown(why: String) -> LagSeen {
    LagSeen {
        warning: Some(format!(
            "the live-view lag is not known ({why}); corrected latencies and `early` are null"
        )),
        ..LagSeen::default()
    }
}

fn words(why: NoLag) -> String {
    match why {
        NoLag::FewSwings(n) => format!(
            "{n} swings seen directly, {FEWEST_SWINGS} are needed; let the target swing in and \
             out more often in one clip, and check `stimulus.region`"
        ),
        NoLag::Unlike => "the screen does not change as the view in `stimulus.region` does; \
             check that the region shows the target's whole way"
            .to_owned(),
        NoLag::NoPlaces => "the target's way could not be followed both directly and on the \
             screen; give it a texture that differs from the background, and room in both views"
            .to_owned(),
        NoLag::Spread(u_s) => format!(
            "from swing to swing it varies too much: ± {:.0} ms; film at a higher rate, with more \
             light, or more swings",
            2e3 * u_s
        ),
        NoLag::Apart(s) => format!(
            "two ways of reading it differ by {:.0} ms; film at a higher rate, with more light, and \
             keep the filming camera still",
            1e3 * s
        ),
    }
}

/// How far apart the middles of screen and direct view lie, ÷ rows of the
/// stored picture: its rows are read out one after the other.
fn rows_apart(rig: &Rig, ready: &Ready) -> f64 {
    let Stimulus::Swing {
        region: Some(region),
        ..
    } = &rig.stimulus
    else {
        return 0.0;
    };
    let Some(quad) = ready.found.or(rig.screen.corners) else {
        return 0.0;
    };
    let [left, top, right, bottom] = quad.bounds();
    let row = |x: f64, y: f64| {
        let p: Point<UprightPx> = Point::new(x, y);
        ready.index.orientation.to_stored(p).y
    };
    let screen = row(f64::midpoint(left, right), f64::midpoint(top, bottom));
    let direct = row(
        f64::midpoint(region.x0, region.x1),
        f64::midpoint(region.y0, region.y1),
    );
    let rows = ready.index.orientation.stored.1.max(1) as f64;
    (screen - direct).abs() / rows
}
