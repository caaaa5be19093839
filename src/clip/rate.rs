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
/// The median step is right for uneven stamps, but only to half a tick: 240 fps
/// in milliseconds steps 4, 4, 5, and jitter spreads the steps over many ticks
/// without telling the median more. Within that half tick the mean of all steps
/// that are one frame's says where, since stamps that are rounded, late or early
/// make up for each other from step to step.
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
    // A frame's own step, evenly to both sides; the half is a tick's rounding.
    let own = steps
        .iter()
        .filter(|s| (**s as f64 - median).abs() <= 0.5 * median + 0.5);
    let (count, sum) = own.fold((0_u64, 0.0), |(n, sum), s| (n + 1, sum + *s as f64));
    let step = if count > 0 {
        (sum / count as f64).clamp(median - 0.5, median + 0.5)
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
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;

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
        // To half a tick.
        let half = 0.5 / 33_350.0;
        assert!(
            (found.fps * 33_350e-6 - 1.0).abs() < 1.01 * half,
            "{found:?}"
        );
    }

    /// Frames up to 0.2 of a frame early or late, three in a hundred lost, in
    /// milliseconds: the median alone is up to 4 % off.
    #[test]
    fn jitter_in_coarse_ticks_does_not_hide_the_rate() {
        for fps in [30.0, 60.0, 120.0, 240.0, 480.0] {
            for seed in 0..20 {
                let mut rng = ChaCha8Rng::seed_from_u64(seed);
                let mut stamps: Vec<i64> = (0..1200)
                    .filter_map(|i| {
                        let late = rng.random_range(-0.2..0.2);
                        let kept = rng.random::<f64>() >= 0.03;
                        kept.then(|| ((f64::from(i) + late) * 1000.0 / fps).round() as i64)
                    })
                    .collect();
                stamps.dedup();
                let found = beat(&stamps, 0.001).unwrap();
                assert!((found.fps / fps - 1.0).abs() < 7e-3, "{fps}: {found:?}");
            }
        }
    }

    #[test]
    fn one_stamp_has_no_rate() {
        assert!(beat(&[7], 1.0).is_none());
        assert!(beat(&[], 1.0).is_none());
    }
}
