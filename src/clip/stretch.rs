//! Cuts a clip into stretches that decode on their own.
//!
//! The cuts depend on the file alone, never on the number of workers, so that
//! damage does the same harm whatever the machine.

/// A stretch is at least this many packets long, so that a clip of key frames
/// does not open a decoder for each.
pub(super) const SHORTEST: usize = 48;

/// One packet of the video track, in decoding order.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct PacketNote {
    /// Presentation stamp, ticks.
    pub pts: Option<i64>,
    /// Decoding stamp, ticks.
    pub dts: Option<i64>,
    /// Duration in ticks, 0 if unknown.
    pub duration: i64,
    /// Hidden by an edit list.
    pub hidden: bool,
    /// A fresh decoder may begin here.
    pub entry: bool,
}

/// Packets `first..end` with the frames stamped `from..to`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Stretch {
    /// First packet.
    pub first: usize,
    /// One past the last packet of its own.
    pub end: usize,
    /// One past the last packet it needs: the next entry and its leading
    /// pictures, which are shown before that entry and lean on this stretch.
    pub tail_end: usize,
    /// Stamp of the first frame that is this stretch's to show.
    pub from: i64,
    /// One past the stamp of the last.
    pub to: i64,
}

/// The cuts for these packets.
pub(super) fn plan(notes: &[PacketNote]) -> Vec<Stretch> {
    let cuts = cuts(notes);
    let mut stretches = Vec::with_capacity(cuts.len() + 1);
    let mut open = Stretch {
        first: 0,
        end: notes.len(),
        tail_end: notes.len(),
        from: i64::MIN,
        to: i64::MAX,
    };
    for cut in cuts {
        stretches.push(Stretch {
            end: cut.at,
            tail_end: cut.tail_end,
            to: cut.pts,
            ..open
        });
        open.first = cut.at;
        open.from = cut.pts;
    }
    stretches.push(open);
    stretches
}

struct Cut {
    at: usize,
    tail_end: usize,
    pts: i64,
}

/// Cuts only where presentation order is beyond doubt: everything decoded
/// before the entry is shown before it, everything after its leading pictures
/// is shown after it.
fn cuts(notes: &[PacketNote]) -> Vec<Cut> {
    let Some(stamps) = notes.iter().map(|n| n.pts).collect::<Option<Vec<i64>>>() else {
        return Vec::new();
    };
    let mut lowest_from = stamps.clone();
    for i in (1..stamps.len()).rev() {
        lowest_from[i - 1] = lowest_from[i - 1].min(lowest_from[i]);
    }
    let mut cuts = Vec::new();
    let mut last = 0;
    let mut highest = i64::MIN;
    for (at, pts) in stamps.iter().copied().enumerate() {
        let long_enough = at - last >= SHORTEST && stamps.len() - at >= SHORTEST;
        if notes[at].entry && long_enough && highest < pts {
            let leading = stamps[at + 1..].iter().take_while(|s| **s < pts).count();
            let after = at + 1 + leading;
            let clean = lowest_from.get(after).is_none_or(|low| *low > pts);
            if clean && leading < SHORTEST {
                let tail_end = if leading == 0 { at } else { after };
                cuts.push(Cut { at, tail_end, pts });
                last = at;
            }
        }
        highest = highest.max(pts);
    }
    cuts
}

#[cfg(test)]
mod tests {
    use super::*;

    fn notes(stamps: &[i64], entries: &[usize]) -> Vec<PacketNote> {
        let note = |(i, pts): (usize, &i64)| PacketNote {
            pts: Some(*pts),
            entry: entries.contains(&i),
            ..PacketNote::default()
        };
        stamps.iter().enumerate().map(note).collect()
    }

    #[test]
    fn leading_pictures_stay_with_the_stretch_before() {
        // An entry shown as 52 whose two leading pictures are 50 and 51.
        let stamps: Vec<i64> = (0..50).chain([52, 50, 51]).chain(53..120).collect();
        let plan = plan(&notes(&stamps, &[0, 50]));
        assert_eq!(plan.len(), 2);
        assert_eq!((plan[0].end, plan[0].tail_end, plan[0].to), (50, 53, 52));
        assert_eq!(
            (plan[1].first, plan[1].from, plan[1].to),
            (50, 52, i64::MAX)
        );
    }

    #[test]
    fn short_stretches_and_doubtful_order_are_not_cut() {
        let even: Vec<i64> = (0..200).collect();
        let every: Vec<usize> = (0..200).collect();
        assert_eq!(plan(&notes(&even, &every)).len(), 4);
        let mut late = even.clone();
        late[150] = 60;
        assert_eq!(plan(&notes(&late, &[100])).len(), 1);
        let mut missing = notes(&even, &[100]);
        missing[7].pts = None;
        assert_eq!(plan(&missing).len(), 1);
        assert_eq!(plan(&[]).len(), 1);
    }
}
