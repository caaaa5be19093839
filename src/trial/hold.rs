//! Levels that are held, and when they were first reached.

use super::blurred::Width;
use super::curve::{Curve, Sample, bends, median};

/// How long and how closely a level must be kept.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HoldRule<'a> {
    /// Seconds; already at least five updates.
    pub hold_s: f64,
    /// How wide the band around a level is.
    pub width: Width<'a>,
    /// Seconds from one update to the next.
    pub period_s: f64,
}

/// The highest level that was held.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plateau {
    /// Median of the samples held at it.
    pub level: f64,
    /// Noise of one sample (standard deviation).
    pub sigma: f64,
    /// Half width of the band around the level.
    pub band: f64,
    /// Index of the first sample of the first hold in the band.
    pub settle: usize,
    /// Index of the first sample inside the band.
    pub entry: usize,
    /// Samples held at it.
    pub held: usize,
}

impl<'s> HoldRule<'s> {
    /// The rule for `hold_ms` on a screen of this period: never shorter than
    /// five updates.
    #[must_use]
    pub fn new(hold_s: f64, width: Width<'s>, period_s: f64) -> Self {
        Self {
            hold_s: hold_s.max(5.0 * period_s),
            width,
            period_s,
        }
    }

    /// Samples of the hold that begins at `i`; `None` where it runs past the
    /// end or has a hole in it.
    fn window<'a>(&self, samples: &'a [Sample], i: usize) -> Option<&'a [Sample]> {
        let until = samples[i].shown_s + self.hold_s - 0.25 * self.period_s;
        let n = samples[i..].partition_point(|s| s.shown_s < until);
        let last = samples[i + n - 1].shown_s + 1.5 * self.period_s;
        let expected = self.hold_s / self.period_s;
        #[allow(clippy::cast_precision_loss)]
        let whole = last >= samples[i].shown_s + self.hold_s && n as f64 >= 0.75 * expected;
        (whole && n >= 5).then_some(&samples[i..i + n])
    }

    /// Whether the hold that begins at `i` keeps to `level ± band`, one stray
    /// update in twenty allowed.
    fn keeps(&self, samples: &[Sample], i: usize, level: f64, band: f64) -> bool {
        let off = |s: &Sample| (s.value - level).abs() / band.max(f64::MIN_POSITIVE);
        off(&samples[i]) <= 1.0
            && self.window(samples, i).is_some_and(|w| {
                let out: Vec<usize> = (0..w.len()).filter(|k| off(&w[*k]) > 1.0).collect();
                out.len() <= (w.len() + 10) / 20 && out.iter().all(|k| is_stray(w, *k, &off))
            })
    }

    /// Half width of the band at a level with this noise.
    #[must_use]
    pub fn band(&self, level: f64, sigma: f64) -> f64 {
        self.width.half(level).max(3.0 * sigma)
    }

    /// Finds the plateau among `samples`; holds may begin at samples before
    /// `starts_end` and are read to the end of `samples`.
    #[must_use]
    pub fn plateau(&self, samples: &[Sample], starts_end: usize) -> Option<Plateau> {
        let held: Vec<(usize, f64, f64)> = (0..starts_end.min(samples.len()))
            .filter_map(|i| {
                let w = self.window(samples, i)?;
                let level = median(w.iter().map(|s| s.value).collect())?;
                let band = self.band(level, local_sigma(samples, i, i + w.len()));
                self.keeps(samples, i, level, band)
                    .then_some((i, level, band))
            })
            .collect();
        let top = held.iter().max_by(|a, b| a.1.total_cmp(&b.1))?;
        let mut mine = vec![false; samples.len()];
        for (i, level, _) in &held {
            if (level - top.1).abs() <= top.2 {
                let n = self.window(samples, *i).map_or(0, <[Sample]>::len);
                mine[*i..*i + n].fill(true);
            }
        }
        self.measure(samples, &mine, starts_end, top.2)
    }

    /// The first samples of the first holds in a band twice as wide as the
    /// plateau's and in one half as wide (never narrower than its noise): how
    /// slowly the level was reached.
    #[must_use]
    pub fn approach(&self, samples: &[Sample], starts_end: usize, p: &Plateau) -> [usize; 2] {
        let first = |band: f64, or: usize| {
            (0..starts_end.min(samples.len()))
                .find(|i| self.keeps(samples, *i, p.level, band))
                .unwrap_or(or)
        };
        let narrow = (0.5 * p.band).max(3.0 * p.sigma).min(p.band);
        [first(2.0 * p.band, p.settle), first(narrow, p.settle)]
    }

    fn measure(
        &self,
        samples: &[Sample],
        mine: &[bool],
        starts_end: usize,
        near: f64,
    ) -> Option<Plateau> {
        let values: Vec<f64> = samples
            .iter()
            .zip(mine)
            .filter(|(_, m)| **m)
            .map(|(s, _)| s.value)
            .collect();
        let held = values.len();
        let level = median(values)?;
        let first = mine.iter().position(|m| *m)?;
        let last = mine.iter().rposition(|m| *m)?;
        let sigma = local_sigma(samples, first, last + 1);
        let band = self.band(level, sigma);
        let first_hold = |band: f64| {
            (0..starts_end.min(samples.len())).find(|i| self.keeps(samples, *i, level, band))
        };
        // The median of all that was held may lie a little off the level of
        // any one hold: then that hold's own band stands.
        let (settle, band) = first_hold(band)
            .map(|i| (i, band))
            .or_else(|| first_hold(near).map(|i| (i, near)))?;
        let entry = samples
            .iter()
            .position(|s| (s.value - level).abs() <= band)?;
        Some(Plateau {
            level,
            sigma,
            band,
            settle,
            entry,
            held,
        })
    }
}

/// Whether an update outside the band stands alone between two that are well
/// inside it: noise, not the tip of a swing.
fn is_stray(window: &[Sample], k: usize, off: &impl Fn(&Sample) -> f64) -> bool {
    let calm = |i: Option<usize>| i.and_then(|i| window.get(i)).is_none_or(|s| off(s) < 0.6);
    calm(k.checked_sub(1)) && calm(Some(k + 1))
}

/// Noise of one sample around `from..to`: what the curve's bends say, at most
/// what the clip's quiet parts allow at this level.
#[must_use]
pub fn local_sigma(samples: &[Sample], from: usize, to: usize) -> f64 {
    let from = from.saturating_sub(2);
    let to = (to + 2).min(samples.len());
    let near = &samples[from..to];
    let most = median(near.iter().map(|s| s.sigma_most).collect()).unwrap_or(0.0);
    bends(near).min(most)
}

impl Curve {
    /// The steady level of a clip that was focused and left alone: the highest
    /// level held anywhere in it.
    #[must_use]
    pub fn steady_level(&self, hold_s: f64, tolerance: f64) -> Option<f64> {
        let rule = HoldRule::new(hold_s, Width::Share(tolerance), self.period_s);
        rule.plateau(&self.samples, self.samples.len())
            .map(|p| p.level)
    }
}
