//! What became of the frames.

use super::ClipIndex;
use super::index::DecodePlan;
use crate::units::StoredTime;

/// What a pass over the clip found.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct DecodeReport {
    /// Frames that reached a sink.
    pub frames: u64,
    /// Frames that were damaged, or leaned on damaged ones, and were dropped.
    pub damaged_frames: u64,
    /// Packets the demuxer or the decoder refused.
    pub packet_errors: u64,
    /// Where frames were dropped, in order.
    pub gaps: Vec<Gap>,
    /// Oddities worth a person's attention, in plain words.
    pub warnings: Vec<String>,
}

impl DecodeReport {
    /// Whether every frame of the clip came out, and nothing was refused.
    #[must_use]
    pub fn is_whole(&self, index: &ClipIndex) -> bool {
        self.packet_errors == 0 && self.frames == index.stamps.len() as u64
    }
}

/// A row of dropped frames.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gap {
    /// Time of the first dropped frame.
    pub from: StoredTime,
    /// Time of the last.
    pub to: StoredTime,
    /// How many.
    pub frames: u64,
}

/// What one stretch counted, stamps in ticks.
#[derive(Default)]
pub(super) struct Tally {
    /// Stamps of the frames that reached the sink, ascending.
    pub good: Vec<i64>,
    /// Stamps of the frames that were dropped as damaged.
    pub lost: Vec<i64>,
    /// Frames whose stamp is not after the one before.
    pub unordered: u64,
    /// Frames without a stamp.
    pub unstamped: u64,
    /// Packets the decoder refused.
    pub packet_errors: u64,
    /// Why the clip is not read on.
    pub stopped: Option<String>,
}

/// Sums up the stretches, in order.
#[derive(Default)]
pub(super) struct Summary {
    report: DecodeReport,
    unordered: u64,
    unstamped: u64,
    stopped: Option<String>,
}

impl Summary {
    /// Adds a stretch; `false` if the clip ends with it.
    pub(super) fn add(&mut self, plan: &DecodePlan, mut tally: Tally) -> bool {
        tally.lost.sort_unstable();
        tally.lost.dedup();
        tally
            .lost
            .retain(|pts| tally.good.binary_search(pts).is_err());
        self.report.frames += tally.good.len() as u64;
        self.report.damaged_frames += tally.lost.len() as u64;
        self.report.packet_errors += tally.packet_errors;
        self.report.gaps.extend(gaps(plan, &tally));
        self.unordered += tally.unordered;
        self.unstamped += tally.unstamped;
        self.stopped = tally.stopped;
        self.stopped.is_none()
    }

    /// The whole, `unread` places of the file not counted yet.
    pub(super) fn finish(mut self, index: &ClipIndex, unread: usize) -> DecodeReport {
        let report = &mut self.report;
        report.packet_errors += unread as u64;
        let out = report.frames + report.damaged_frames + self.unordered + self.unstamped;
        let expected = index.stamps.len() as u64;
        let present = index.plan.present;
        let mut warn = |text: String| report.warnings.push(text);
        if let Some(promised) = index.plan.promised.filter(|p| *p > present) {
            warn(format!("clip ends early: {present} of {promised} frames"));
        }
        if let Some(text) = self.stopped {
            warn(text);
        } else if out < expected {
            warn(format!(
                "{} of {expected} did not come out of the decoder",
                frames(expected - out)
            ));
        }
        if self.unordered > 0 {
            warn(format!(
                "{} dropped: the time stamp is not after the one before",
                frames(self.unordered)
            ));
        }
        if self.unstamped > 0 {
            warn(format!("{} dropped: no time stamp", frames(self.unstamped)));
        }
        let (lost, places) = (report.damaged_frames, report.gaps.len());
        if lost > 0 {
            report.warnings.push(format!(
                "{} dropped as damaged; gaps: {places}",
                frames(lost)
            ));
        }
        self.report
    }
}

/// A number of frames in words.
pub(super) fn frames(count: impl TryInto<u64>) -> String {
    let count = count.try_into().unwrap_or(u64::MAX);
    if count == 1 {
        "1 frame".to_owned()
    } else {
        format!("{count} frames")
    }
}

/// Rows of lost frames with no good one between.
fn gaps(plan: &DecodePlan, tally: &Tally) -> Vec<Gap> {
    let good_before = |pts: i64| tally.good.partition_point(|g| *g < pts);
    tally
        .lost
        .chunk_by(|a, b| good_before(*a) == good_before(*b))
        .filter_map(|row| {
            Some(Gap {
                from: plan.time(*row.first()?),
                to: plan.time(*row.last()?),
                frames: row.len() as u64,
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lost_frames_form_gaps_between_good_ones() {
        let plan = DecodePlan {
            time_base: ffmpeg_next::Rational(1, 8),
            origin: 100,
            ..DecodePlan::default()
        };
        let tally = Tally {
            good: vec![100, 101, 104, 107],
            lost: vec![103, 102, 106, 105, 104, 102],
            ..Tally::default()
        };
        let mut summary = Summary::default();
        assert!(summary.add(&plan, tally));
        let report = summary.finish(&ClipIndex::default(), 0);
        assert_eq!((report.frames, report.damaged_frames), (4, 4));
        let spans: Vec<_> = report
            .gaps
            .iter()
            .map(|g| (g.from.0, g.to.0, g.frames))
            .collect();
        assert_eq!(spans, [(0.25, 0.375, 2), (0.625, 0.75, 2)]);
    }
}
