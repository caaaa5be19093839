//! What a video file to be written should be like.

use std::path::{Path, PathBuf};

use ffmpeg_next::encoder;

/// How pictures are compressed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Codec {
    /// H.264 where the FFmpeg at hand can write it, else MPEG-4 part 2.
    Auto,
    /// H.264 (needs an FFmpeg with libx264).
    H264,
    /// H.265 (needs an FFmpeg with libx265).
    Hevc,
    /// MPEG-4 part 2.
    Mpeg4,
    /// FFV1, lossless (Matroska only).
    Ffv1,
}

impl Codec {
    /// The name people use.
    pub fn name(self) -> &'static str {
        match self {
            Self::Auto => "auto",
            Self::H264 => "h264",
            Self::Hevc => "hevc",
            Self::Mpeg4 => "mpeg4",
            Self::Ffv1 => "ffv1",
        }
    }

    /// The codec to use and FFmpeg's name for its encoder.
    pub(super) fn choose(self, path: &Path) -> Result<(Self, &'static str), EncodeError> {
        let candidates: &[(Self, &str)] = match self {
            Self::Auto => &[(Self::H264, "libx264"), (Self::Mpeg4, "mpeg4")],
            Self::H264 => &[(Self::H264, "libx264")],
            Self::Hevc => &[(Self::Hevc, "libx265")],
            Self::Mpeg4 => &[(Self::Mpeg4, "mpeg4")],
            Self::Ffv1 => &[(Self::Ffv1, "ffv1")],
        };
        candidates
            .iter()
            .copied()
            .find(|(_, name)| encoder::find_by_name(name).is_some())
            .ok_or_else(|| EncodeError::NoEncoder {
                path: path.to_path_buf(),
                codec: self.name(),
            })
    }

    /// Ticks per second of the stamps: whole for the usual rates. MPEG-4
    /// part 2 has 16 bits for it (ISO/IEC 14496-2, vop_time_increment_resolution).
    pub(super) fn ticks(self) -> i32 {
        if self == Self::Mpeg4 { 60_000 } else { 240_000 }
    }
}

/// Seconds at its bit rate that an encoder held to one may save up or owe.
const BUFFER_S: f64 = 0.5;

/// What to write.
#[derive(Clone, Debug)]
pub struct EncodeSpec {
    /// Compression.
    pub codec: Codec,
    /// Width and height in pixels as stored, both even.
    pub size: (usize, usize),
    /// Bits per sample: 8 or 10.
    pub depth: u8,
    /// Full range (0..=255) instead of limited (16..=235).
    pub full_range: bool,
    /// Constant rate factor of H.264/H.265 (0 best .. 51), the quantiser of
    /// MPEG-4 (1..=31); FFV1 has none.
    pub quality: f64,
    /// Thousands of bits per stored second that H.264 is held to, as a camera
    /// does that writes while it films: one pass, no look ahead. `None`: constant
    /// quality.
    pub kilobits: Option<f64>,
    /// Speed preset of H.264/H.265.
    pub preset: String,
    /// Frames from one key frame to the next.
    pub keyint: u32,
    /// Frames predicted from both sides in a row, 0..=16.
    pub b_frames: usize,
    /// Rate written into the headers, frames per stored second.
    pub nominal_fps: f64,
    /// Quarter turns clockwise a player has to apply, 0..=3 (`mp4`, `mov`).
    pub quarter_turns: u8,
    /// Samples per second of a sound track; `None`: no sound.
    pub sound_rate: Option<i32>,
    /// Container metadata.
    pub metadata: Vec<(String, String)>,
}

impl Default for EncodeSpec {
    fn default() -> Self {
        Self {
            codec: Codec::Auto,
            size: (960, 540),
            depth: 8,
            full_range: false,
            quality: 18.0,
            kilobits: None,
            preset: "veryfast".into(),
            keyint: 240,
            b_frames: 0,
            nominal_fps: 240.0,
            quarter_turns: 0,
            sound_rate: None,
            metadata: Vec::new(),
        }
    }
}

impl EncodeSpec {
    pub(super) fn check(&self, path: &Path, container: &str) -> Result<(), EncodeError> {
        let (w, h) = self.size;
        let fault = if w % 2 + h % 2 > 0 || w.min(h) < 16 || w.max(h) > 16_000 {
            Some(format!(
                "{w}x{h}: width and height must be even, 16..=16000"
            ))
        } else if !matches!(self.depth, 8 | 10) {
            Some(format!("{} bits: only 8 and 10 can be written", self.depth))
        } else if self.depth == 10 && self.codec == Codec::Mpeg4 {
            Some("mpeg4 has 8 bits only".to_owned())
        } else if self.full_range && matches!(self.codec, Codec::Mpeg4) {
            Some("mpeg4 is limited range only".to_owned())
        } else if self.codec == Codec::Ffv1 && container != "matroska" {
            Some("ffv1 goes into .mkv only".to_owned())
        } else if !self.quarter_turns.is_multiple_of(4) && container == "matroska" {
            Some("a rotation goes into .mp4 or .mov only".to_owned())
        } else {
            None
        };
        match fault {
            Some(what) => Err(EncodeError::Unfit {
                path: path.to_path_buf(),
                what,
            }),
            None => Ok(()),
        }
    }

    pub(super) fn options(&self, codec: Codec) -> Vec<(String, String)> {
        let own = |k: &str, v: String| (k.to_owned(), v);
        match codec {
            Codec::H264 => {
                let mut options = vec![
                    own("preset", self.preset.clone()),
                    own("sc_threshold", "0".into()),
                ];
                options.extend(match self.kilobits {
                    None => vec![own("crf", self.quality.to_string())],
                    Some(rate) => vec![
                        own("b", format!("{:.0}", 1000.0 * rate)),
                        own("maxrate", format!("{:.0}", 1000.0 * rate)),
                        own("bufsize", format!("{:.0}", BUFFER_S * 1000.0 * rate)),
                        own("rc-lookahead", "0".into()),
                        own("mbtree", "0".into()),
                    ],
                });
                options
            }
            Codec::Hevc => vec![
                own("preset", self.preset.clone()),
                own("crf", self.quality.to_string()),
                own(
                    "x265-params",
                    format!(
                        "pools=none:frame-threads=1:log-level=none:bframes={}",
                        self.b_frames
                    ),
                ),
            ],
            Codec::Ffv1 => vec![own("level", "3".into()), own("slices", "4".into())],
            Codec::Mpeg4 | Codec::Auto => Vec::new(),
        }
    }

    /// FFmpeg counts a quantiser in units of 1/118 (FF_QP2LAMBDA).
    pub(super) fn mpeg4_lambda(&self) -> i32 {
        (self.quality.clamp(1.0, 31.0) * 118.0) as i32
    }
}

/// The planes of one 4:2:0 picture without padding; chroma is half the size
/// in both directions.
#[derive(Clone, Copy, Debug)]
#[allow(missing_docs)] // the names say it
pub enum Planes<'a> {
    /// One byte a sample.
    Eight {
        luma: &'a [u8],
        cb: &'a [u8],
        cr: &'a [u8],
    },
    /// Two bytes a sample, low-aligned (10 bits).
    Sixteen {
        luma: &'a [u16],
        cb: &'a [u16],
        cr: &'a [u16],
    },
}

/// Why a video could not be written.
#[derive(Debug, thiserror::Error)]
pub enum EncodeError {
    /// The file or its folder cannot be written.
    #[error("{path}: cannot be written: {source}", path = path.display())]
    Io {
        /// The file.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
    /// The extension names no container that can be written.
    #[error("{path}: a clip is written as .mp4, .mov or .mkv", path = path.display())]
    Container {
        /// The file.
        path: PathBuf,
    },
    /// The FFmpeg at hand was built without this encoder.
    #[error("{path}: the FFmpeg at hand cannot write {codec}: choose another codec", path = path.display())]
    NoEncoder {
        /// The file.
        path: PathBuf,
        /// What was asked for.
        codec: &'static str,
    },
    /// What was asked for does not go together.
    #[error("{path}: {what}", path = path.display())]
    Unfit {
        /// The file.
        path: PathBuf,
        /// What.
        what: String,
    },
    /// FFmpeg failed.
    #[error("{path}: {step} failed: {why}", path = path.display())]
    Ffmpeg {
        /// The file.
        path: PathBuf,
        /// While doing what.
        step: &'static str,
        /// FFmpeg's word for it.
        why: String,
    },
}
