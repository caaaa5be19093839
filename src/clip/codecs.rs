//! The codecs that are decoded: those that cameras and editors write.
//!
//! FFmpeg knows some five hundred more, most of them little used and little
//! looked after; a stranger's file must not choose among them.

/// Codecs of pictures, by FFmpeg's names.
const PICTURE: [&str; 22] = [
    "h264",
    "hevc",
    "av1",
    "vp8",
    "vp9",
    "mpeg4",
    "mpeg1video",
    "mpeg2video",
    "h263",
    "mjpeg",
    "dvvideo",
    "prores",
    "dnxhd",
    "cfhd",
    "ffv1",
    "ffvhuff",
    "huffyuv",
    "utvideo",
    "rawvideo",
    "v210",
    "qtrle",
    "png",
];

/// Codecs of sound.
const SOUND: [&str; 26] = [
    "aac",
    "mp3",
    "mp2",
    "ac3",
    "eac3",
    "alac",
    "flac",
    "opus",
    "vorbis",
    "amr_nb",
    "amr_wb",
    "adpcm_ima_wav",
    "pcm_u8",
    "pcm_s8",
    "pcm_s16le",
    "pcm_s16be",
    "pcm_s24le",
    "pcm_s24be",
    "pcm_s32le",
    "pcm_s32be",
    "pcm_f32le",
    "pcm_f32be",
    "pcm_f64le",
    "pcm_f64be",
    "pcm_alaw",
    "pcm_mulaw",
];

/// Decoders that are called otherwise than their codec.
const OTHERS: [&str; 10] = [
    "libdav1d",
    "libaom-av1",
    "libvpx",
    "libvpx-vp9",
    "mp3float",
    "mp2float",
    "amrnb",
    "amrwb",
    "libopus",
    "libvorbis",
];

/// Whether a track of pictures coded so is decoded.
pub(super) fn is_picture(name: &str) -> bool {
    PICTURE.contains(&name)
}

/// Whether a track of sound coded so is decoded.
pub(super) fn is_sound(name: &str) -> bool {
    SOUND.contains(&name)
}

/// Every decoder that FFmpeg may open, as its option wants them.
pub(super) fn decoders() -> String {
    [&PICTURE[..], &SOUND[..], &OTHERS[..]].concat().join(",")
}
