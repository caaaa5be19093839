//! The rate of a row of time stamps, whatever their tick rounds away.

/// What the stamps tell of the clip's beat.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Beat {
    /// Frames per stored second.
    pub fps: f64,
    /// Steps longer than 1.5 frames.
    pub gaps: usize,
}

/// The beat of strictly ascending stamps, in ticks of `tick` seconds; `None`
/// for fewer than two stamps.
///
/// The median step is right for uneven stamps but is itself rounded to the
/// tick (240 fps in milliseconds steps 4, 4, 5). Where at least half of the
/// steps lie within one tick of the median the clip is even and only rounded,
/// and the mean of those steps has the rounding averaged out.
pub(super) fn beat(stamps: &[i64], tick: f64) -> Option<Beat> {
    let mut steps: Vec<i64> = stamps
        .windows(2)
        .map(|w| w[1].saturating_sub(w[0]))
        .collect();
    if steps.is_empty() {
        return None;
    }
    steps.sort_unstable();
    let upper = steps[steps.len() / 2];
    let lower = steps[(steps.len() - 1) / 2];
    let median = f64::midpoint(lower as f64, upper as f64);
    let near = steps.iter().filter(|s| (**s as f64 - median).abs() <= 1.0);
    let (count, sum) = near.fold((0_u64, 0.0), |(n, sum), s| (n + 1, sum + *s as f64));
    let step = if 2 * count >= steps.len() as u64 {
        sum / count as f64
    } else {
        median
    };
    // Half a tick of grace: a rounded step is not a gap.
    let limit = 1.5 * step + 0.5;
    let gaps = steps.iter().filter(|s| **s as f64 > limit).count();
    Some(Beat {
        fps: 1.0 / (step * tick),
        gaps,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rounded(fps: f64, ticks_per_second: f64, frames: u32) -> Vec<i64> {
        (0..frames)
            .map(|i| (f64::from(i) / fps * ticks_per_second).round() as i64)
            .collect()
    }

    fn check(fps: f64, ticks: f64, within: f64) {
        let found = beat(&rounded(fps, ticks, 480), 1.0 / ticks).unwrap();
        assert!(
            (found.fps / fps - 1.0).abs() < within,
            "{fps} in 1/{ticks}: {found:?}"
        );
        assert_eq!(found.gaps, 0, "{fps} in 1/{ticks}");
    }

    #[test]
    fn coarse_ticks_are_averaged_out() {
        for fps in [23.976, 29.97, 60.0, 119.88, 240.0, 480.0] {
            check(fps, 1000.0, 2e-3);
            check(fps, 600.0, 2e-3);
            check(fps, 90_000.0, 1e-4);
        }
        check(960.0, 1000.0, 2e-3);
    }

    #[test]
    fn lost_frames_and_a_slow_part_do_not_move_it() {
        let mut stamps = rounded(240.0, 1000.0, 480);
        stamps.drain(100..103);
        stamps.remove(300);
        let found = beat(&stamps, 0.001).unwrap();
        assert!((found.fps - 240.0).abs() < 0.5, "{found:?}");
        assert_eq!(found.gaps, 2);
    }

    #[test]
    fn uneven_stamps_give_their_median() {
        // Steps as a phone writes them in poor light: 33.1 to 41.6 ms.
        let steps = [33_100, 33_400, 41_600, 33_300, 33_350, 37_000, 33_200];
        let stamps: Vec<i64> = steps
            .iter()
            .cycle()
            .take(70)
            .scan(0, |t, s| {
                *t += s;
                Some(*t)
            })
            .collect();
        let found = beat(&stamps, 1e-6).unwrap();
        assert!((found.fps - 1e6 / 33_350.0).abs() < 1e-6, "{found:?}");
    }

    #[test]
    fn one_stamp_has_no_rate() {
        assert!(beat(&[7], 1.0).is_none());
        assert!(beat(&[], 1.0).is_none());
    }
}
