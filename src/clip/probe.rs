//! Looks at a clip without decoding it (but for its first frame).

use std::path::Path;

use ffmpeg_next::format::context::Input;

use super::decoder::{MAX_AREA, MAX_REFERENCES, MAX_SIDE};
use super::first::FirstFrame;
use super::index::{DecodePlan, Orientation};
use super::open::{self, ProbeOptions};
use super::rate::{self, Beat};
use super::scan::{self, Scan};
use super::stamps;
use super::stretch;
use super::track::{self, Track};
use super::watch::Watch;
use super::{ClipError, ClipIndex, Still, cage, hash, orientation, promise, report};

/// Reads headers and all packet stamps of one local file.
///
/// # Errors
/// The file cannot be read, is no film, holds no frame that decodes, is
/// interlaced, is coded as no camera does, or goes beyond the limits of size,
/// number and cost.
pub fn probe(path: &Path, options: &ProbeOptions) -> Result<ClipIndex, ClipError> {
    let (mut input, length) = open::open(path, *options)?;
    // Made before the cage shuts.
    let watch = Watch::reading(length);
    let (index, sha256) = std::thread::scope(|scope| {
        let hash = scope.spawn(|| hash::sha256(path));
        let index = cage::shut_in(|| look(&mut input, path, *options, &watch));
        let hash = hash.join();
        (
            index,
            hash.unwrap_or_else(|panic| std::panic::resume_unwind(panic)),
        )
    });
    let mut index = index?;
    index.sha256 = sha256?;
    index.plan.length = length;
    Ok(index)
}

/// The first frame of a clip that was probed, once more.
///
/// # Errors
/// The file changed or cannot be read.
pub fn first_picture(index: &ClipIndex) -> Result<Option<Still>, ClipError> {
    let path = &index.path;
    let (mut input, length) = open::open(path, index.plan.options)?;
    let track = track::choose(&input).filter(|_| length == index.plan.length);
    let track = track.ok_or_else(|| ClipError::Changed { path: path.clone() })?;
    cage::shut_in(|| scan::first(&mut input, &track, path))
}

fn look(
    input: &mut Input,
    path: &Path,
    options: ProbeOptions,
    watch: &Watch,
) -> Result<ClipIndex, ClipError> {
    let mut track = track::choose(input).ok_or_else(|| ClipError::NoVideo { path: path.into() })?;
    track.check(path)?;
    check_size(path, track.size)?;
    let mut scan = scan::scan(input, &track, path, watch)?;
    let first = scan.first;
    check_size(path, (i64::from(first.size.0), i64::from(first.size.1)))?;
    check_references(path, &first)?;
    if first.interlaced {
        return Err(ClipError::Interlaced { path: path.into() });
    }
    let mut warnings = std::mem::take(&mut track.warnings);
    let stored = (first.size.0 as usize, first.size.1 as usize);
    let orientation = upright(&track, stored, &mut warnings);
    warn_of_headers(&track, stored, &mut warnings);

    let stamps = stamps::shown_stamps(&scan, &mut warnings);
    let step = stamps::constant_step(&scan.notes, &stamps);
    let begin = step.and(stamps.first().copied()).unwrap_or(first.stamp);
    let tick = f64::from(track.time_base);
    let beat = rate::beat(&stamps, tick);
    let beat = beat.unwrap_or(Beat {
        fps: track.mean_fps.unwrap_or(0.0),
        gaps: 0,
    });
    let period = if beat.fps > 0.0 { 1.0 / beat.fps } else { 0.0 };
    let promise = promise::read(input, &track, &scan.notes, period);
    let gaps = if options.slow_parts { 0 } else { beat.gaps };
    warn_of_packets(&scan, gaps, promise.hidden, &mut warnings);
    let seconds: Vec<f64> = stamps
        .iter()
        .map(|s| s.saturating_sub(begin) as f64 * tick)
        .collect();
    let last = seconds.last().copied().unwrap_or(0.0);
    Ok(ClipIndex {
        path: path.to_path_buf(),
        sha256: String::new(),
        orientation,
        duration_s: last + stamps::last_frame(&scan.notes, &stamps, tick, period),
        stamps: seconds,
        stored_fps: beat.fps,
        stated_fps: track.stated_fps,
        hidden_frames: promise.hidden,
        gaps: beat.gaps,
        transfer: track.transfer,
        warnings,
        first: scan.still.take(),
        plan: DecodePlan {
            track: track.index,
            time_base: track.time_base,
            origin: first.stamp,
            step,
            pixel: first.pixel,
            stretches: stretch::plan(&scan.notes),
            promised: promise.shown,
            present: stamps::shown(&scan.notes).count(),
            only: None,
            strict: scan.strict,
            options,
            length: 0,
        },
    })
}

fn check_size(path: &Path, (width, height): (i64, i64)) -> Result<(), ClipError> {
    if width.max(height) > MAX_SIDE || width * height > MAX_AREA {
        return Err(ClipError::TooLarge {
            path: path.to_path_buf(),
            width,
            height,
            side: MAX_SIDE,
            area: MAX_AREA / 1_000_000,
        });
    }
    Ok(())
}

fn check_references(path: &Path, first: &FirstFrame) -> Result<(), ClipError> {
    let (width, height) = first.size;
    if first.references * i64::from(width) * i64::from(height) > MAX_REFERENCES {
        return Err(ClipError::TooCostly {
            path: path.to_path_buf(),
            what: format!(
                "frames of {width}x{height} with {} kept for reference are beyond the limit ({} \
                 megapixels together)",
                first.references,
                MAX_REFERENCES / 1_000_000
            ),
        });
    }
    Ok(())
}

fn upright(track: &Track, stored: (usize, usize), warnings: &mut Vec<String>) -> Orientation {
    let Some(matrix) = &track.matrix else {
        return Orientation {
            quarter_turns: 0,
            mirrored: false,
            stored,
        };
    };
    let (found, exact) = orientation::orientation(matrix, stored);
    if !exact {
        warnings.push("the display matrix is no quarter turn; the nearest one is used".to_owned());
    }
    found
}

fn warn_of_headers(track: &Track, stored: (usize, usize), warnings: &mut Vec<String>) {
    if !track.square_pixels {
        warnings.push(
            "pixels are not square (sample aspect ratio); regions are in stored pixels".to_owned(),
        );
    }
    if track.size != (stored.0 as i64, stored.1 as i64) {
        warnings.push(format!(
            "the header says {}x{}, the frames are {}x{}; the frames are believed",
            track.size.0, track.size.1, stored.0, stored.1
        ));
    }
    if track.interlaced {
        warnings.push("the header says interlaced, the first frame is not".to_owned());
    }
    if matches!(track.transfer.as_str(), "arib-std-b67" | "smpte2084") {
        warnings.push(format!(
            "high dynamic range ({}); compare only with clips filmed the same way",
            track.transfer
        ));
    }
}

fn warn_of_packets(scan: &Scan, gaps: usize, hidden: usize, warnings: &mut Vec<String>) {
    if hidden > 0 {
        warnings.push(format!("{} hidden by an edit list", report::frames(hidden)));
    }
    if gaps > 0 {
        warnings.push(format!(
            "steps between frames longer than 1.5 frames: {}",
            gaps
        ));
    }
    if scan.damaged_packets > 0 {
        warnings.push(format!(
            "places in the file that cannot be read as packets: {}",
            scan.damaged_packets
        ));
    }
}
