//! The time stamps of the packets, as far as they belong to shown frames.

use super::report::frames;
use super::scan::Scan;
use super::stretch::PacketNote;

/// Stamps of the shown packets in ticks, strictly ascending, from the first
/// frame that decodes.
pub(super) fn shown_stamps(scan: &Scan, warnings: &mut Vec<String>) -> Vec<i64> {
    let mut stamps: Vec<i64> = shown(&scan.notes).filter_map(stamp).collect();
    stamps.sort_unstable();
    let all = stamps.len();
    stamps.dedup();
    if stamps.len() < all {
        warnings.push(format!(
            "{} with the time stamp of another; only the first of each counts",
            frames(all - stamps.len())
        ));
    }
    if constant_step(&scan.notes, &stamps).is_some() {
        return stamps;
    }
    let early = stamps.partition_point(|s| *s < scan.first.stamp);
    if early > 0 {
        stamps.drain(..early);
        warnings.push(format!(
            "{} left out, before the first that decodes",
            frames(early)
        ));
    }
    stamps
}

/// Packets whose frames are shown.
pub(super) fn shown(notes: &[PacketNote]) -> impl Iterator<Item = &PacketNote> {
    notes.iter().filter(|n| !n.hidden)
}

/// Presentation stamp, or the decoding stamp where the container has no other.
fn stamp(note: &PacketNote) -> Option<i64> {
    note.pts.or(note.dts)
}

/// The one step of a track that keeps decoding stamps only.
pub(super) fn constant_step(notes: &[PacketNote], stamps: &[i64]) -> Option<i64> {
    let [first, second, ..] = stamps else {
        return None;
    };
    let step = second.saturating_sub(*first);
    let even = stamps.windows(2).all(|w| w[1].saturating_sub(w[0]) == step);
    (even && notes.iter().any(|n| n.pts.is_none())).then_some(step)
}

/// Seconds the last frame lasts: its own duration where that is plausible.
pub(super) fn last_frame(notes: &[PacketNote], stamps: &[i64], tick: f64, period: f64) -> f64 {
    let last = stamps.last().copied();
    let own = shown(notes)
        .find(|n| stamp(n) == last)
        .map_or(0.0, |n| n.duration as f64 * tick);
    if own > 0.0 && (period == 0.0 || own <= 1.5 * period) {
        own
    } else {
        period
    }
}
