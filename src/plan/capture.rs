//! What a frame rate can resolve, and which lamps will beat with it.
//!
//! Source: JCGM 100:2008 (GUM) 4.3.7 and 4.3.9 (rectangular and trapezoidal
//! laws), F.2.2.1 (a digital step); sampling of a periodic light by its alias
//! |f − fs·round(f/fs)|.

use serde::Serialize;

use super::{PlanError, within};

/// How the screen is filmed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CaptureQuestion {
    /// Frames per second of the filming camera.
    pub fps: f64,
    /// Refreshes per second of the screen; `None` for a feed.
    pub refresh_hz: Option<f64>,
    /// Mains frequency, where known; both 50 and 60 Hz are told otherwise.
    pub mains_hz: Option<f64>,
    /// Whether the onset is read from the screen as well (else it is seen
    /// directly, on single frames).
    pub onset_on_screen: bool,
}

/// What to expect.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Capture {
    /// Frames per second.
    pub fps: f64,
    /// Refreshes per second of the screen.
    pub refresh_hz: Option<f64>,
    /// Time between frames, ms.
    pub frame_ms: f64,
    /// Time between refreshes, ms.
    pub refresh_ms: Option<f64>,
    /// Frames per refresh.
    pub frames_per_refresh: Option<f64>,
    /// Settle read from the screen.
    pub settle: Event,
    /// Onset as it will be read.
    pub onset: Event,
    /// Standard uncertainty (k = 1) of one latency from stamps alone, ms.
    pub latency_uncertainty_ms: f64,
    /// Lamps on the mains.
    pub flicker: Vec<Beat>,
    /// What stands against this rate.
    pub warnings: Vec<String>,
}

/// One event read from frames.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Event {
    /// Standard uncertainty (k = 1), ms.
    pub uncertainty_ms: f64,
    /// Half-width that holds 95 % of errors, ms.
    pub half_width_95_ms: f64,
    /// Mean delay that is the midpoint rule's to take off, ms.
    pub mean_delay_ms: f64,
}

/// A flickering light as the film will show it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Beat {
    /// Mains frequency, Hz.
    pub mains_hz: f64,
    /// The lamp flickers at twice that, Hz.
    pub lamp_hz: f64,
    /// Frequency seen in the film, Hz.
    pub seen_hz: f64,
}

impl Beat {
    /// Whether it passes for slow focusing.
    pub fn is_slow(&self) -> bool {
        self.seen_hz > 0.05 && self.seen_hz < SLOW_BEAT_HZ
    }
}

/// Slowest beat that is taken out of a trial without touching its edges, Hz:
/// slower, a brightening passes for focusing.
const SLOW_BEAT_HZ: f64 = 8.0;

/// What this way of filming gives.
///
/// # Errors
/// Rates out of range.
pub fn capture(question: &CaptureQuestion) -> Result<Capture, PlanError> {
    let fps = within("fps", question.fps, 1.0, 100_000.0, " frames per second")?;
    let refresh_hz = question
        .refresh_hz
        .map(|hz| within("refresh-hz", hz, 1.0, 10_000.0, " Hz"))
        .transpose()?;
    let mains: Vec<f64> = match question.mains_hz {
        Some(hz) => vec![within("mains-hz", hz, 10.0, 1000.0, " Hz")?],
        None => vec![50.0, 60.0],
    };
    let settle = event(1.0 / fps, refresh_hz.map(f64::recip));
    let onset = if question.onset_on_screen {
        settle
    } else {
        event(1.0 / fps, None)
    };
    let flicker: Vec<Beat> = mains
        .into_iter()
        .map(|mains_hz| Beat {
            mains_hz,
            lamp_hz: 2.0 * mains_hz,
            seen_hz: beat(2.0 * mains_hz, fps),
        })
        .collect();
    Ok(Capture {
        fps,
        refresh_hz,
        frame_ms: 1000.0 / fps,
        refresh_ms: refresh_hz.map(|hz| 1000.0 / hz),
        frames_per_refresh: refresh_hz.map(|hz| fps / hz),
        settle,
        onset,
        latency_uncertainty_ms: settle.uncertainty_ms.hypot(onset.uncertainty_ms),
        warnings: warnings(fps, refresh_hz, question.mains_hz, &flicker),
        flicker,
    })
}

fn warnings(
    fps: f64,
    refresh_hz: Option<f64>,
    mains_hz: Option<f64>,
    flicker: &[Beat],
) -> Vec<String> {
    let mut said = Vec::new();
    if let Some(hz) = mains_hz.filter(|hz| ![50.0, 60.0].contains(hz)) {
        said.push(format!(
            "Mains of {hz} Hz: 50 and 60 Hz are usual; check --mains-hz."
        ));
    }
    if let Some(hz) = refresh_hz.filter(|hz| fps < 2.0 * hz) {
        said.push(format!(
            "{fps} frames per second do not show every refresh of a {hz} Hz screen twice: \
             film at {} or more.",
            2.0 * hz
        ));
    }
    for beat in flicker {
        if beat.is_slow() {
            said.push(format!(
                "Lamps on {:.0} Hz mains beat at {:.2} Hz in this film, which looks like slow \
                 focusing: use daylight or flicker-free lamps, or another frame rate.",
                beat.mains_hz, beat.seen_hz
            ));
        }
    }
    said
}

/// One event quantised by frames of `frame_s`, and before that by refreshes.
pub fn event(frame_s: f64, refresh_s: Option<f64>) -> Event {
    let t = frame_s * 1000.0;
    let r = refresh_s.unwrap_or(0.0) * 1000.0;
    Event {
        uncertainty_ms: ((t * t + r * r) / 12.0).sqrt(),
        half_width_95_ms: trapezoid_half_width(t, r, 0.95),
        mean_delay_ms: f64::midpoint(t, r),
    }
}

/// Half-width holding `share` of a centred sum of two rectangular laws of full
/// widths `t` and `r`.
fn trapezoid_half_width(t: f64, r: f64, share: f64) -> f64 {
    let p = 1.0 - share;
    let (short, long) = (t.min(r), t.max(r));
    if short / (2.0 * long) >= p / 2.0 {
        f64::midpoint(t, r) - (p * t * r).sqrt()
    } else {
        long * (1.0 - p) / 2.0
    }
}

/// Frequency at which a light of `lamp_hz` appears when sampled at `fps`.
pub fn beat(lamp_hz: f64, fps: f64) -> f64 {
    (lamp_hz - fps * (lamp_hz / fps).round()).abs()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// JCGM 100:2008 rules; closed form, agreed with 2·10⁶ simulated events to
    /// 0.004 ms.
    #[test]
    fn events_through_refresh_and_frames() {
        let rows = [
            (240.0, Some(60.0), 4.959_325, 10.416_667, 8.553_277),
            (120.0, Some(60.0), 5.379_144, 12.5, 9.864_769),
            (480.0, Some(60.0), 4.848_694, 9.375, 8.057_384),
            (960.0, Some(60.0), 4.820_640, 8.854_167, 7.922_472),
            (240.0, Some(120.0), 2.689_572, 6.25, 4.932_384),
            (1000.0, Some(50.0), 5.780_715, 10.5, 9.5),
            (240.0, None, 1.202_813, 2.083_333, 1.979_167),
        ];
        for (fps, hz, u, mean, half) in rows {
            let got = event(1.0 / fps, hz.map(f64::recip));
            assert!((got.uncertainty_ms - u).abs() < 1e-6, "{got:?}");
            assert!((got.mean_delay_ms - mean).abs() < 1e-6, "{got:?}");
            assert!((got.half_width_95_ms - half).abs() < 1e-6, "{got:?}");
        }
    }

    /// Aliases by closed form; lamps flicker at twice the mains.
    #[test]
    fn lamps_beat_with_the_frame_rate() {
        let rows = [
            (24.0, 4.0, 0.0),
            (25.0, 0.0, 5.0),
            (30.0, 10.0, 0.0),
            (50.0, 0.0, 20.0),
            (59.94, 19.88, 0.12),
            (60.0, 20.0, 0.0),
            (119.88, 19.88, 0.12),
            (239.76, 100.0, 119.76),
            (240.0, 100.0, 120.0),
            (1000.0, 100.0, 120.0),
        ];
        for (fps, at_100, at_120) in rows {
            assert!((beat(100.0, fps) - at_100).abs() < 1e-9, "{fps}");
            assert!((beat(120.0, fps) - at_120).abs() < 1e-9, "{fps}");
        }
    }

    #[test]
    fn doubtful_rates_are_said() {
        let ask = |fps, refresh_hz| {
            capture(&CaptureQuestion {
                fps,
                refresh_hz,
                mains_hz: None,
                onset_on_screen: false,
            })
        };
        assert!(ask(240.0, Some(60.0)).unwrap().warnings.is_empty());
        assert_eq!(ask(59.94, Some(60.0)).unwrap().warnings.len(), 2);
        assert_eq!(ask(0.0, None).unwrap_err().key, "fps");
        let both = ask(240.0, Some(60.0)).unwrap();
        let u = both.settle.uncertainty_ms.hypot(1.202_813);
        assert!((both.latency_uncertainty_ms - u).abs() < 1e-6);
    }
}
