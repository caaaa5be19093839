//! The filming camera and its file.

use serde::Deserialize;

use crate::clip::Codec;

use super::checks;
use super::table::table;
use super::upset::{Bump, Drift, Refocus, Tremor};

table! {
    /// The filming camera.
    ///
    /// A frame's stamp is the middle of its exposure.
    Film {
        /// Frames per second, as shot.
        fps: f64 = 240.0; "checks::rate",
        /// Width and height of the upright frame, px.
        size: [usize; 2] = [960, 540]; "checks::frame_size",
        /// Exposure, ms; at most a frame's period.
        exposure_ms: f64 = 2.0; "checks::not_negative",
        /// From the middle of the top row's exposure to that of the bottom row's,
        /// ms; a frame's stamp is that of its middle row.
        readout_ms: f64 = 0.0; "checks::not_negative",
        /// Signal-independent noise, linear, 1 = white: standard deviation.
        read_noise: f64 = 0.002; "checks::not_negative",
        /// Electrons of a white pixel: shot noise is the square root. 0 = none.
        full_well: f64 = 5000.0; "checks::not_negative",
        /// Linear gain of the exposure.
        gain: f64 = 1.0; "checks::positive",
        /// Exponent of the tone curve.
        gamma: f64 = 2.2; "checks::positive",
        /// Its exposure is not held.
        drift: Drift = Drift::default(),
        /// It loses its own focus.
        refocus: Refocus = Refocus::default(),
        /// It is held by hand.
        tremor: Tremor = Tremor::default(),
        /// It is knocked.
        bump: Bump = Bump::default(),
        /// It is framed differently.
        framing: Framing = Framing::default(),
        /// Where the target is seen directly: x0 y0 x1 y1 in pixels of the
        /// upright frame.
        direct_view: Option<[f64; 4]> = None,
        /// The whole frame is the feed: one frame per live-view picture, no
        /// screen, no desk; `fps` is not used.
        feed: bool = false,
    }

    /// How the frame lies against the places that a scene names: the clips of one
    /// setup are seldom framed alike. Screen, direct view and trigger light lie
    /// elsewhere in the frame; what the screen shows, and on how many pixels of
    /// its own, stays the same.
    Framing {
        /// Shift, film px (x right, y down).
        shift_px: [f64; 2] = [0.0; 2]; "checks::shift",
        /// Turn about the frame's middle, degrees clockwise.
        turn_deg: f64 = 0.0; "checks::turn",
        /// Size as filmed ÷ size as the scene has it.
        zoom: f64 = 1.0; "checks::zoom",
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

table! {
    /// The file.
    Container {
        /// Compression.
        codec: Codec = Codec::Auto,
        /// Constant rate factor (H.264, H.265) or quantiser (MPEG-4).
        quality: f64 = 15.0; "checks::quality",
        /// Thousands of bits per second as shot that H.264 is held to, instead of
        /// `quality`: what moves is coded coarsely, and its detail comes back after.
        bit_rate_kbps: Option<f64> = None; "checks::bit_rate",
        /// Speed preset (H.264, H.265).
        preset: String = "veryfast".into(),
        /// Frames from one key frame to the next.
        keyint: u32 = 240,
        /// Frames predicted from both sides in a row.
        b_frames: usize = 0; "checks::b_frames",
        /// Bits per sample.
        depth: u8 = 8; "checks::depth",
        /// Full instead of limited range.
        full_range: bool = false,
        /// Rate the clip is stored at (slow motion); else as shot.
        stored_fps: Option<f64> = None; "checks::rate",
        /// Parts stored at rates of their own (clips slowed down in part).
        segments: Vec<Stored> = Vec::new(),
        /// Whether the container states the rate it was shot at.
        capture_tag: bool = false,
        /// Clockwise turn a player has to apply, degrees.
        rotation: u32 = 0; "checks::quarter",
        /// Stamp of the first frame, s.
        first_stamp_s: f64 = 0.0; "checks::not_negative",
        /// Frames that are missing, counted from 0 (the first cannot be).
        dropped: Vec<usize> = Vec::new(),
        /// Share of frames that are missing, drawn one by one.
        drop_share: f64 = 0.0; "checks::share",
        /// Longer gaps: no frame from the first second to the second of each pair.
        gaps_s: Vec<[f64; 2]> = Vec::new(),
        /// Frames are taken up to this much early or late, ms; stamps tell the
        /// truth.
        jitter_ms: f64 = 0.0; "checks::not_negative",
    }
}
