//! The filming camera and its file.

use serde::Deserialize;

use crate::clip::Codec;

use super::checks;
use super::upset::{Bump, Drift, Refocus, Tremor};

/// The filming camera.
///
/// A frame's stamp is the middle of its exposure.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Film {
    /// Frames per second, as shot.
    #[serde(deserialize_with = "checks::rate")]
    pub fps: f64,
    /// Width and height of the upright frame, px.
    #[serde(deserialize_with = "checks::frame_size")]
    pub size: [usize; 2],
    /// Exposure, ms; at most a frame's period.
    #[serde(deserialize_with = "checks::not_negative")]
    pub exposure_ms: f64,
    /// From the middle of the top row's exposure to that of the bottom row's,
    /// ms; a frame's stamp is that of its middle row.
    #[serde(deserialize_with = "checks::not_negative")]
    pub readout_ms: f64,
    /// Signal-independent noise, linear, 1 = white: standard deviation.
    #[serde(deserialize_with = "checks::not_negative")]
    pub read_noise: f64,
    /// Electrons of a white pixel: shot noise is the square root. 0 = none.
    #[serde(deserialize_with = "checks::not_negative")]
    pub full_well: f64,
    /// Linear gain of the exposure.
    #[serde(deserialize_with = "checks::positive")]
    pub gain: f64,
    /// Exponent of the tone curve.
    #[serde(deserialize_with = "checks::positive")]
    pub gamma: f64,
    /// Its exposure is not held.
    pub drift: Drift,
    /// It loses its own focus.
    pub refocus: Refocus,
    /// It is held by hand.
    pub tremor: Tremor,
    /// It is knocked.
    pub bump: Bump,
    /// It is framed differently.
    pub framing: Framing,
    /// Where the target is seen directly: x0 y0 x1 y1 in pixels of the
    /// upright frame.
    pub direct_view: Option<[f64; 4]>,
    /// The whole frame is the feed: one frame per live-view picture, no
    /// screen, no desk; `fps` is not used.
    pub feed: bool,
}

impl Default for Film {
    fn default() -> Self {
        Self {
            fps: 240.0,
            size: [960, 540],
            exposure_ms: 2.0,
            readout_ms: 0.0,
            read_noise: 0.002,
            full_well: 5000.0,
            gain: 1.0,
            gamma: 2.2,
            drift: Drift::default(),
            refocus: Refocus::default(),
            tremor: Tremor::default(),
            bump: Bump::default(),
            framing: Framing::default(),
            direct_view: None,
            feed: false,
        }
    }
}

/// How the frame lies against the places that a scene names: the clips of one
/// setup are seldom framed alike. Screen, direct view and trigger light lie
/// elsewhere in the frame; what the screen shows, and on how many pixels of
/// its own, stays the same.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Framing {
    /// Shift, film px (x right, y down).
    #[serde(deserialize_with = "checks::shift")]
    pub shift_px: [f64; 2],
    /// Turn about the frame's middle, degrees clockwise.
    #[serde(deserialize_with = "checks::turn")]
    pub turn_deg: f64,
    /// Size as filmed ÷ size as the scene has it.
    #[serde(deserialize_with = "checks::zoom")]
    pub zoom: f64,
}

impl Default for Framing {
    fn default() -> Self {
        Self {
            shift_px: [0.0; 2],
            turn_deg: 0.0,
            zoom: 1.0,
        }
    }
}

/// From an instant on the frames are stored at this rate.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Stored {
    /// Seconds as shot.
    #[serde(deserialize_with = "checks::not_negative")]
    pub from_s: f64,
    /// Frames per stored second.
    #[serde(deserialize_with = "checks::rate")]
    pub fps: f64,
}

/// The file.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Container {
    /// Compression.
    pub codec: Codec,
    /// Constant rate factor (H.264, H.265) or quantiser (MPEG-4).
    #[serde(deserialize_with = "checks::quality")]
    pub quality: f64,
    /// Thousands of bits per second as shot that H.264 is held to, instead of
    /// `quality`: what moves is coded coarsely, and its detail comes back after.
    #[serde(deserialize_with = "checks::bit_rate")]
    pub bit_rate_kbps: Option<f64>,
    /// Speed preset (H.264, H.265).
    pub preset: String,
    /// Frames from one key frame to the next.
    pub keyint: u32,
    /// Frames predicted from both sides in a row.
    #[serde(deserialize_with = "checks::b_frames")]
    pub b_frames: usize,
    /// Bits per sample.
    #[serde(deserialize_with = "checks::depth")]
    pub depth: u8,
    /// Full instead of limited range.
    pub full_range: bool,
    /// Rate the clip is stored at (slow motion); else as shot.
    #[serde(deserialize_with = "checks::rate")]
    pub stored_fps: Option<f64>,
    /// Parts stored at rates of their own (clips slowed down in part).
    pub segments: Vec<Stored>,
    /// Whether the container states the rate it was shot at.
    pub capture_tag: bool,
    /// Clockwise turn a player has to apply, degrees.
    #[serde(deserialize_with = "checks::quarter")]
    pub rotation: u32,
    /// Stamp of the first frame, s.
    #[serde(deserialize_with = "checks::not_negative")]
    pub first_stamp_s: f64,
    /// Frames that are missing, counted from 0 (the first cannot be).
    pub dropped: Vec<usize>,
    /// Share of frames that are missing, drawn one by one.
    #[serde(deserialize_with = "checks::share")]
    pub drop_share: f64,
    /// Longer gaps: no frame from the first second to the second of each pair.
    pub gaps_s: Vec<[f64; 2]>,
    /// Frames are taken up to this much early or late, ms; stamps tell the
    /// truth.
    #[serde(deserialize_with = "checks::not_negative")]
    pub jitter_ms: f64,
}

impl Default for Container {
    fn default() -> Self {
        Self {
            codec: Codec::Auto,
            quality: 15.0,
            bit_rate_kbps: None,
            preset: "veryfast".into(),
            keyint: 240,
            b_frames: 0,
            depth: 8,
            full_range: false,
            stored_fps: None,
            segments: Vec::new(),
            capture_tag: false,
            rotation: 0,
            first_stamp_s: 0.0,
            dropped: Vec::new(),
            drop_share: 0.0,
            gaps_s: Vec::new(),
            jitter_ms: 0.0,
        }
    }
}
