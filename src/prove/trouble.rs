//! What can disturb a clip, one by one and all together.

use rand::{Rng, RngExt};

use super::bed::Bed;
use crate::render::Scene;
use crate::render::scene::{Overlay, Shape, Since};
use crate::rig::Stimulus;

/// A disturbance.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[allow(missing_docs)] // their names say it
pub enum Trouble {
    None,
    Mains,
    Backlight,
    BlackBands,
    Rolling,
    Overlays,
    Glare,
    Drift,
    Tremor,
    Bump,
    Refocus,
    Moire,
    Compression,
    PhoneRate,
    Breathing,
    SmallLight,
    Gaps,
    Noise,
    All,
}

/// Every one, in the order of the type: its name in tables, and whether it can
/// befall a feed, which has no filming camera.
const TABLE: [(Trouble, &str, bool); 19] = [
    (Trouble::None, "none", true),
    (Trouble::Mains, "mains flicker", true),
    (Trouble::Backlight, "backlight switched", false),
    (Trouble::BlackBands, "black bands", false),
    (Trouble::Rolling, "rolling shutter", false),
    (Trouble::Overlays, "overlays", true),
    (Trouble::Glare, "glare", false),
    (Trouble::Drift, "exposure drift", true),
    (Trouble::Tremor, "tremor", false),
    (Trouble::Bump, "bump", false),
    (Trouble::Refocus, "filmer refocuses", false),
    (Trouble::Moire, "moire", false),
    (Trouble::Compression, "compression", true),
    (Trouble::PhoneRate, "phone's bit rate", true),
    (Trouble::Breathing, "breathing", true),
    (Trouble::SmallLight, "small light", false),
    (Trouble::Gaps, "gaps and jitter", false),
    (Trouble::Noise, "noise", true),
    (Trouble::All, "all together", true),
];

/// What [`Trouble::All`] puts together, as far as it can befall the film.
const TOGETHER: [Trouble; 11] = [
    Trouble::Mains,
    Trouble::Backlight,
    Trouble::Rolling,
    Trouble::Overlays,
    Trouble::Glare,
    Trouble::Drift,
    Trouble::Tremor,
    Trouble::Moire,
    Trouble::Compression,
    Trouble::Breathing,
    Trouble::Gaps,
];

impl Trouble {
    /// Every one.
    pub fn all() -> impl Iterator<Item = Self> {
        TABLE.iter().map(|row| row.0)
    }

    /// Its name in tables.
    pub fn name(self) -> &'static str {
        TABLE[self as usize].1
    }

    fn fits_feed(self) -> bool {
        TABLE[self as usize].2
    }

    /// Whether it can befall a rig: not every rig has a trigger light.
    pub fn fits(self, bed: &Bed) -> bool {
        match self {
            Self::SmallLight => matches!(bed.rig.stimulus, Stimulus::Light { .. }),
            _ => !bed.rig.screen.feed || self.fits_feed(),
        }
    }

    /// Puts it into a scene; its strength is drawn.
    pub(super) fn put(self, s: &mut Scene, rng: &mut impl Rng) {
        let frame_ms = 1000.0 / s.film.fps;
        match self {
            Self::None => {}
            Self::Mains => {
                s.lamp.hz = one_of(rng, [100.0, 120.0]);
                s.lamp.depth = between(rng, 0.1, 0.4);
            }
            Self::Backlight => {
                s.screen.pwm.hz = between(rng, 180.0, 480.0);
                s.screen.pwm.duty = between(rng, 0.5, 0.9);
                s.screen.pwm.depth = between(rng, 0.2, 0.6);
            }
            Self::BlackBands => {
                s.film.readout_ms = 0.8 * frame_ms;
                s.film.exposure_ms = (0.25 * frame_ms).min(1.0);
                s.screen.pwm.hz = between(rng, 220.0, 500.0);
                s.screen.pwm.duty = between(rng, 0.5, 0.8);
            }
            Self::Rolling => s.film.readout_ms = between(rng, 0.4, 0.9) * frame_ms,
            Self::Overlays => s.overlays = graphics(rng),
            Self::Glare => {
                s.glare.level = between(rng, 0.05, 0.2);
                s.glare.area = [0.3, 0.0, 1.0, 0.8];
                s.glare.soft = 0.3;
                s.glare.drift = between(rng, 0.1, 0.5);
                s.glare.wander = 0.05;
            }
            Self::Drift => {
                s.live_view.drift.depth = between(rng, 0.05, 0.15);
                s.live_view.drift.step = between(rng, -0.25, 0.25);
                s.film.drift.depth = between(rng, 0.05, 0.15);
                s.film.drift.step = between(rng, -0.15, 0.15);
            }
            Self::Tremor => {
                s.film.tremor.px = between(rng, 0.2, 0.8);
                s.film.tremor.hz = between(rng, 3.0, 9.0);
                s.film.tremor.roll_mrad = 0.3;
            }
            Self::Bump => {
                s.film.bump.px = [between(rng, -3.0, 3.0), between(rng, -3.0, 3.0)];
                s.film.bump.stay_px = [between(rng, -0.4, 0.4), between(rng, -0.4, 0.4)];
            }
            Self::Refocus => {
                s.film.refocus.blur_px = between(rng, 3.0, 8.0);
                s.film.refocus.at_ms = between(rng, 200.0, 900.0);
                s.film.refocus.trials = vec![1, 4, 7];
            }
            Self::Moire => {
                let wide = s.screen.corners.map(|c| c[1][0] - c[0][0]);
                let wide = wide.unwrap_or(s.film.size[0] as f64);
                let columns = wide * between(rng, 0.7, 0.95);
                s.screen.grid.pixels = [columns as usize, (columns * 0.75) as usize];
            }
            Self::Compression => {
                s.container.quality = between(rng, 28.0, 34.0);
                s.container.keyint = one_of(rng, [15, 60]);
                s.container.b_frames = 2;
            }
            Self::PhoneRate => {
                let [w, h] = s.film.size.map(|n| n as f64);
                let bits = between(rng, PHONE_BITS[0], PHONE_BITS[1]);
                s.container.bit_rate_kbps = Some(bits * w * h * s.film.fps / 1000.0);
                s.container.keyint = s.film.fps.round() as u32;
            }
            Self::Breathing => s.optics.breathing = between(rng, 0.005, 0.05),
            Self::SmallLight => small_light(s, rng),
            Self::Gaps => {
                s.container.drop_share = 0.02;
                s.container.jitter_ms = 0.2 * frame_ms;
            }
            Self::Noise => {
                s.film.read_noise = between(rng, 0.006, 0.012);
                s.film.full_well = between(rng, 500.0, 1000.0);
            }
            Self::All => {
                let feed = s.film.feed;
                let fitting = TOGETHER.into_iter().filter(|t| !feed || t.fits_feed());
                fitting.for_each(|t| t.put(s, rng));
            }
        }
    }
}

/// Bits per pixel that phones spend on high-frame-rate film: 18 to 30 Mbit/s at
/// 1280 × 720 × 240, 40 to 70 at 1920 × 1080 × 240. Fitted: at 0.10 the band at
/// 0.44 cycles per pixel comes back from 0.81 to 0.95 of its energy in 0.2 s, at
/// 0.05 not before the next key frame.
const PHONE_BITS: [f64; 2] = [0.08, 0.14];

/// A coloured light of 6 to 30 px somewhere in its region, on a textured
/// surface under a lamp on the mains.
fn small_light(s: &mut Scene, rng: &mut impl Rng) {
    let reach = s.light.radius;
    let radius = (3.0 + 12.0 * rng.random::<f64>()).min(reach);
    let mut off = || (reach / 1.2 - radius).max(0.0) * (2.0 * rng.random::<f64>() - 1.0);
    s.light.center = s.light.center.map(|c| c + off());
    s.light.radius = radius;
    let colours = [
        [1.0, 0.1, 0.05],
        [0.1, 1.0, 0.2],
        [1.0, 0.7, 0.1],
        [0.2, 0.4, 1.0],
    ];
    s.light.color = colours[rng.random_range(0..colours.len())];
    s.light.surround_px = 2.5 * reach;
    s.light.surround.mean = 0.15 + 0.25 * rng.random::<f64>();
    s.light.surround.contrast = 0.2 + 0.3 * rng.random::<f64>();
    s.lamp.hz = one_of(rng, [100.0, 120.0]);
    s.lamp.depth = 0.1 + 0.3 * rng.random::<f64>();
}

fn between(rng: &mut impl Rng, low: f64, high: f64) -> f64 {
    low + (high - low) * rng.random::<f64>()
}

/// The first or the second, as often.
fn one_of<T>(rng: &mut impl Rng, [first, second]: [T; 2]) -> T {
    if rng.random::<f64>() < 0.5 {
        first
    } else {
        second
    }
}

/// A focus box that turns green when the lens has settled, a battery, a clock.
fn graphics(rng: &mut impl Rng) -> Vec<Overlay> {
    let late = 60.0 + 120.0 * rng.random::<f64>();
    let focus = |since, at_ms, color| Overlay {
        area: [0.42, 0.38, 0.58, 0.62],
        line_permille: 5.0,
        since,
        at_ms,
        color,
        ..Overlay::default()
    };
    vec![
        focus(Since::Onset, late, [0.95, 0.95, 0.95]),
        focus(Since::Settle, late / 2.0, [0.1, 0.9, 0.2]),
        Overlay {
            shape: Shape::Icon,
            area: [0.86, 0.05, 0.95, 0.10],
            line_permille: 5.0,
            ..Overlay::default()
        },
        Overlay {
            shape: Shape::Clock,
            area: [0.05, 0.05, 0.20, 0.12],
            line_permille: 6.0,
            step_ms: 100.0,
            ..Overlay::default()
        },
    ]
}
