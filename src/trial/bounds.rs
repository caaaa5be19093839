//! Where a trial begins, and where it ends at the latest.

use super::Stimulus;
use super::lag::Lag;
use crate::store::schema::OnsetSeen;

/// Where and when one trial took place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bounds {
    /// What started it.
    pub stimulus: Stimulus,
    /// The live-view lag, where the onset was seen directly and it is known.
    pub lag: Option<Lag>,
    /// When the trial is over whatever its window: the next stimulus begins, or
    /// a light that was held went out.
    pub over_s: Option<f64>,
}

impl Bounds {
    /// When the screen shows the onset, seconds as shot.
    pub fn shown_onset_s(&self) -> f64 {
        self.stimulus.onset_s + self.lag.map_or(0.0, |l| l.lag_s)
    }

    /// From there to where the trial is over whatever its window, seconds.
    pub fn room_s(&self) -> Option<f64> {
        self.over_s.map(|t| t - self.shown_onset_s())
    }
    /// The bounds of a clip's trials: each is over as the next stimulus begins,
    /// or as the screen can show that a light went out that was held. One that
    /// only flashed, for less than a hold, ends nothing.
    pub fn of(stimuli: &[Stimulus], lag: Option<Lag>, hold_s: f64) -> Vec<Self> {
        let each = stimuli.iter().enumerate();
        each.map(|(k, stimulus)| {
            let lag = lag.filter(|_| stimulus.seen != OnsetSeen::Screen);
            let next = stimuli.get(k + 1).map(|n| n.move_s.unwrap_or(n.onset_s));
            let held = stimulus.off_s.filter(|t| t - stimulus.onset_s >= hold_s);
            let let_go = held.map(|t| t + lag.map_or(0.0, |l| l.lag_s));
            Self {
                stimulus: *stimulus,
                lag,
                over_s: [next, let_go].into_iter().flatten().reduce(f64::min),
            }
        })
        .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn press(onset_s: f64, off_s: Option<f64>) -> Stimulus {
        Stimulus {
            side: None,
            move_s: None,
            onset_s,
            seen: OnsetSeen::Direct,
            onset_u_s: 0.001,
            off_s,
        }
    }

    #[test]
    fn a_held_light_that_goes_out_ends_its_trial_and_a_flash_does_not() {
        let stimuli = [
            press(1.0, Some(2.5)),
            press(4.0, Some(4.1)),
            press(7.0, Some(9.0)),
            press(8.5, None),
        ];
        let over = |lag| -> Vec<Option<f64>> {
            let all = Bounds::of(&stimuli, lag, 0.2);
            all.iter().map(|b| b.over_s).collect()
        };
        assert_eq!(over(None), [Some(2.5), Some(7.0), Some(8.5), None]);
        let lag = Some(Lag {
            lag_s: 0.25,
            u_s: 0.01,
            pairs: 3,
        });
        assert_eq!(over(lag), [Some(2.75), Some(7.0), Some(8.5), None]);
        let first = Bounds::of(&stimuli, lag, 0.2)[0];
        assert!((first.room_s().unwrap() - 1.5).abs() < 1e-9);
    }
}
