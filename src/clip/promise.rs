//! How many frames the container promises, to notice what is missing.

use ffmpeg_next::ffi::AV_TIME_BASE;
use ffmpeg_next::format::context::Input;

use super::stretch::PacketNote;
use super::track::{self, Track};

/// What the headers promise.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Promise {
    /// Frames that should be shown; `None` if the container does not say.
    pub shown: Option<usize>,
    /// Frames that an edit list hides.
    pub hidden: usize,
}

/// Reads the promise after all packets went by.
pub(super) fn read(input: &Input, track: &Track, notes: &[PacketNote], period: f64) -> Promise {
    let hidden = notes.iter().filter(|n| n.hidden).count();
    let shown = notes.len() - hidden;
    let Some(stream) = input.stream(track.index) else {
        return Promise {
            shown: None,
            hidden,
        };
    };
    let stored = usize::try_from(stream.frames()).unwrap_or(0);
    let listed = track::listed_frames(&stream).filter(|_| track::is_mov(input));
    if let Some((listed_shown, all)) = listed {
        return Promise {
            shown: Some(listed_shown),
            hidden: stored.max(all) - listed_shown,
        };
    }
    if stored > 0 {
        return Promise {
            shown: Some(stored.saturating_sub(hidden)),
            hidden,
        };
    }
    let tick = f64::from(track.time_base);
    let end = notes
        .iter()
        .filter(|n| !n.hidden)
        .filter_map(|n| n.pts)
        .max();
    let missing = stated_end(input, track)
        .zip(end)
        .map_or(0.0, |(stated, end)| stated - (end as f64 * tick + period));
    // A container rounds its duration; two frames and 50 ms are no rounding.
    let short = period > 0.0 && missing > (2.5 * period).max(0.05);
    Promise {
        shown: short.then(|| shown + (missing / period).round() as usize),
        hidden,
    }
}

/// End of the track on its own time line in seconds, as the header states it.
fn stated_end(input: &Input, track: &Track) -> Option<f64> {
    let stream = input.stream(track.index)?;
    let tag = stream.metadata().get("DURATION").and_then(clock);
    let stated_by_header = ["matroska", "flv"]
        .iter()
        .any(|name| input.format().name().contains(name));
    let of_file = (input.nb_streams() == 1 && stated_by_header && input.duration() > 0)
        .then(|| input.duration() as f64 / f64::from(AV_TIME_BASE));
    tag.or(of_file)
}

/// Seconds of `01:02:03.500000000`.
fn clock(text: &str) -> Option<f64> {
    let mut parts = text.trim().splitn(3, ':').map(|p| p.parse::<f64>().ok());
    let (h, m, s) = (parts.next()??, parts.next()??, parts.next()??);
    let seconds = h * 3600.0 + m * 60.0 + s;
    (seconds.is_finite() && seconds > 0.0).then_some(seconds)
}

#[cfg(test)]
mod tests {
    use super::clock;

    #[test]
    fn duration_tags_are_read_as_a_clock() {
        assert_eq!(clock("00:01:02.500000000"), Some(62.5));
        for bad in ["", "12.5", "00:00:00.000", "a:b:c", "1:2"] {
            assert_eq!(clock(bad), None, "{bad}");
        }
    }
}
