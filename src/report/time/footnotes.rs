//! What stands below a setup's table.

use super::*;

impl Told<'_> {
    pub(super) fn footnotes(&self, others: bool) -> Vec<String> {
        let mut said: Vec<String> = self
            .one_latency(others)
            .into_iter()
            .chain(self.lag())
            .chain(self.gaps())
            .collect();
        let (void, filmed) = (self.unjudged(), self.summary.all.trials);
        if !self.compared && void as f64 > UNJUDGED * filmed as f64 {
            said.push(if void == filmed {
                "No trial could be judged.".to_owned()
            } else {
                format!(
                    "{void} of {filmed} trials could not be judged; those that could may not stand \
                     for them."
                )
            });
        }
        if let Some(b) = self.detail.between_clips.filter(|b| b.p < WORTH_SAYING) {
            said.push(format!(
                "The clips differ: their medians run from {} to {} ms (p {}).",
                fixed(b.medians_ms[0], 0),
                fixed(b.medians_ms[1], 0),
                crate::report::words::p(Some(b.p))
            ));
        }
        if let Some(d) = self.detail.drift.filter(|d| d.p < WORTH_SAYING) {
            let slope = d.ms_per_10_trials.map_or(String::new(), |ms| {
                format!(" by {ms:+.0} ms in 10 trials over its hits")
            });
            said.push(format!(
                "Time to focus drifts{slope} (p {}): battery, warmth or a moved rig?",
                crate::report::words::p(Some(d.p))
            ));
        }
        said
    }

    /// Voids that nobody took out.
    pub(super) fn unjudged(&self) -> u64 {
        let reasons = self.detail.void_reasons.iter();
        reasons
            .filter(|(r, _)| *r != "excluded")
            .map(|(_, n)| n)
            .sum()
    }

    pub(super) fn one_latency(&self, others: bool) -> Option<String> {
        let range = twice(self.detail.uncertainty_ms?);
        Some(match (self.lag_unknown(), others) {
            (false, _) => format!("One latency: ± {range} ms."),
            (true, beside) => format!(
                "One latency: ± {range} ms, plus the screen's lag, which is not known (the onset was \
                 seen directly){}.",
                if beside {
                    "; not to be set beside the others"
                } else {
                    ""
                }
            ),
        })
    }

    /// The screen's lag, where the clips tell it and latencies hold it.
    pub(super) fn lag(&self) -> Option<String> {
        let late = |t: &Trial| Some(t.latency_ms? > t.latency_corrected_ms?);
        if !self.trials().any(|t| late(t) == Some(true)) {
            return None;
        }
        let clips = &self.timing.clips;
        let lags = || clips.iter().filter_map(|c| c.live_view_lag_ms);
        let (low, high) = (lags().reduce(f64::min)?, lags().reduce(f64::max)?);
        let (low, high) = (fixed(low, 0), fixed(high, 0));
        let us = || clips.iter().filter_map(|c| c.live_view_lag_u_ms);
        let range = us().reduce(f64::min).zip(us().reduce(f64::max));
        let twice_u = range.map_or(NONE.to_owned(), |(a, b)| twice([a, b]));
        let span = match low == high {
            true => low,
            false => format!("{low} to {high}"),
        };
        Some(format!(
            "Live-view lag: {span} ms (± {twice_u} ms), part of every latency here; the timing file \
             has them without it."
        ))
    }

    /// Why there is a dash, where a reader may wonder.
    pub(super) fn gaps(&self) -> Option<String> {
        let rows = self.rows();
        let short = |t: &Tally| t.latency_ms.p10.is_none() || t.latency_ms.p90.is_none();
        let mut why = Vec::new();
        if rows.iter().any(|(_, t)| t.hit > 0 && short(t)) {
            why.push("too few hits for that quantile");
        }
        if rows
            .iter()
            .any(|(_, t)| t.judged > 0 && t.time_to_focus_ms.median.is_none())
        {
            why.push("half of the trials did not come into focus in the window");
        }
        let open = |t: &Tally| {
            let f = t.time_to_focus_ms;
            f.median.is_some() && (f.median_low.is_none() || f.median_high.is_none())
        };
        if rows.iter().any(|(_, t)| open(t)) {
            why.push("too few trials for that end of an interval");
        }
        let gone = |t: &Tally| t.in_focus_by.values().any(Option::is_none);
        if rows.iter().any(|(_, t)| t.judged > 0 && gone(t)) {
            why.push("not watched that long");
        }
        (!why.is_empty()).then(|| format!("{NONE}: {}.", why.join("; or ")))
    }
}
