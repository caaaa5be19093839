//! Which frames lean on a damaged one.
//!
//! A picture may be shown before the one it was predicted from. So a frame is
//! kept back until everything decoded before it has come out, and is judged
//! then.

use std::collections::VecDeque;

/// Packets after which a missing frame is waited for no longer: the deepest
/// reordering of H.264 and HEVC (16) and one.
const REORDER: u64 = 17;

/// The order of decoding, and what in it is damaged.
#[derive(Default)]
pub(super) struct Lineage {
    sent: u64,
    /// Packets whose frame may still come, oldest first.
    open: VecDeque<(u64, i64)>,
    damaged: Vec<u64>,
    keys: Vec<(u64, i64)>,
}

impl Lineage {
    /// A packet goes to the decoder.
    pub(super) fn packet(&mut self, pts: Option<i64>, key: bool, hidden: bool) {
        if let Some(pts) = pts {
            if !hidden {
                self.open.push_back((self.sent, pts));
            }
            if key {
                self.keys.push((self.sent, pts));
            }
        }
        self.sent += 1;
        while self
            .open
            .front()
            .is_some_and(|(at, _)| at + REORDER < self.sent)
        {
            self.open.pop_front();
        }
    }

    /// The packet that went last is not whole; a frame may still come of it.
    pub(super) fn packet_suspect(&mut self) {
        self.mark(self.sent.saturating_sub(1));
    }

    /// The packet that went last was refused; no frame will come of it.
    pub(super) fn packet_refused(&mut self) {
        let last = self.sent.saturating_sub(1);
        self.open.retain(|(at, _)| *at != last);
        self.mark(last);
    }

    /// A frame came out; returns its place in decoding order.
    pub(super) fn frame(&mut self, pts: i64, damaged: bool) -> u64 {
        let found = self.open.iter().position(|(_, p)| *p == pts);
        let place = match found.and_then(|i| self.open.remove(i)) {
            Some((place, _)) => place,
            // Stamps the container did not give: as late as it can be.
            None => self.sent.saturating_sub(1),
        };
        if damaged {
            self.mark(place);
        }
        place
    }

    fn mark(&mut self, place: u64) {
        let at = self.damaged.partition_point(|p| *p < place);
        if self.damaged.get(at) != Some(&place) {
            self.damaged.insert(at, place);
        }
    }

    /// Whether everything decoded before `place` has come out.
    pub(super) fn is_settled(&self, place: u64) -> bool {
        self.open.front().is_none_or(|(at, _)| *at > place)
    }

    /// Whether the frame, or one it may lean on, is damaged: damage lasts until
    /// the next key picture, whose leading pictures still suffer from it.
    pub(super) fn is_tainted(&self, place: u64, pts: i64) -> bool {
        let upto = self.damaged.partition_point(|p| *p <= place);
        let Some(damage) = upto.checked_sub(1).map(|i| self.damaged[i]) else {
            return false;
        };
        let after = self.keys.partition_point(|(at, _)| *at <= damage);
        !self.keys[after..]
            .iter()
            .take_while(|(at, _)| *at <= place)
            .any(|(_, key)| *key <= pts)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_picture_shown_before_its_damaged_reference_is_kept_back_and_tainted() {
        let mut lineage = Lineage::default();
        // Decoding order I0 P4 B2 I8 B6, B6 leading the second key picture.
        for (pts, key) in [(0, true), (4, false), (2, false), (8, true), (6, false)] {
            lineage.packet(Some(pts), key, false);
        }
        let first = lineage.frame(0, false);
        assert!(lineage.is_settled(first) && !lineage.is_tainted(first, 0));
        let b2 = lineage.frame(2, false);
        assert!(!lineage.is_settled(b2), "its reference has not come out");
        let p4 = lineage.frame(4, true);
        assert!(lineage.is_settled(b2) && lineage.is_tainted(b2, 2));
        assert!(lineage.is_tainted(p4, 4));
        let b6 = lineage.frame(6, false);
        let i8 = lineage.frame(8, false);
        assert!(lineage.is_tainted(b6, 6), "leading pictures lean back");
        assert!(!lineage.is_tainted(i8, 8));
    }

    #[test]
    fn a_frame_that_never_comes_is_not_waited_for_for_ever() {
        let mut lineage = Lineage::default();
        lineage.packet(Some(0), true, false);
        for pts in 1..=20 {
            lineage.packet(Some(pts), false, false);
        }
        let place = lineage.frame(5, false);
        assert!(lineage.is_settled(place) || place > 3);
        for pts in 21..=40 {
            lineage.packet(Some(pts), false, false);
        }
        assert!(lineage.is_settled(place));
    }

    #[test]
    fn a_refused_packet_taints_until_the_next_key() {
        let mut lineage = Lineage::default();
        lineage.packet(Some(0), true, false);
        lineage.packet(Some(1), false, false);
        lineage.packet_refused();
        lineage.packet(Some(2), false, false);
        lineage.packet(Some(3), true, false);
        let [a, c, d] = [0, 2, 3].map(|pts| (lineage.frame(pts, false), pts));
        assert!(!lineage.is_tainted(a.0, a.1));
        assert!(lineage.is_tainted(c.0, c.1));
        assert!(!lineage.is_tainted(d.0, d.1));
    }
}
