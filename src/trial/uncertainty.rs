//! Standard uncertainty of a latency, k = 1, by quadrature (JCGM 100:2008).

use super::moments::{Observed, Rules};
use super::trace::{Trace, Update, apart};
use crate::limits;

/// What is known about how well each event was seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Budget {
    /// Frame period around the event of settling, seconds.
    pub frame_s: f64,
    /// Longer of refresh and live-view period, seconds; 0 where every frame
    /// is an update of its own.
    pub update_s: f64,
    /// The onset's own, seconds.
    pub onset_u_s: f64,
    /// What is unsure of the blur around δ, as time, seconds.
    pub fit_s: f64,
    /// Span between the two events, seconds.
    pub span_s: f64,
    /// Relative uncertainty of the capture rate.
    pub rate_u: f64,
}

/// Variance of a value known to a full step only: step² ÷ 12 (GUM F.2.2.1).
pub fn step_variance(step: f64) -> f64 {
    step * step / 12.0
}

impl Budget {
    /// The combined standard uncertainty in seconds.
    pub fn combined_s(&self) -> f64 {
        (step_variance(self.frame_s)
            + step_variance(self.update_s)
            + self.onset_u_s.powi(2)
            + self.fit_s.powi(2)
            + (self.span_s * self.rate_u).powi(2))
        .sqrt()
    }
}

/// Standard uncertainty of `settle` by what is unsure of the blur there, seconds.
///
/// Right after motion a film shows up to its limit too much: the blur may have
/// been within δ since its square came under δ² and the limit's. And a film may
/// show too little of a blur that passes δ once more: twice its standard
/// uncertainty is taken for that, twice the law's, and twice that of the end it is
/// held against, though no blur is below nought. Half of the time between the two
/// counts (JCGM 100:2008, F.2.4.5): a lens that passes by about δ crosses it at
/// either end of that time rather than in between.
pub fn approach_s(all: &[Update], settle: usize, (end, end_u): (f64, f64), rules: &Rules) -> f64 {
    let square = rules.delta * rules.delta;
    let limit = rules.film_limit * rules.film_limit;
    let own_u = all[settle]
        .blur
        .square_u
        .hypot(2.0 * limits::LAW_U.get() * square);
    let wide = (square + own_u.hypot(limit)).sqrt();
    let narrow = square - own_u.hypot(2.0 * limit / limits::SIGMAS_OF_LIMIT.get());
    let narrow = narrow.max(0.0).sqrt();
    let off = |u: &Update| apart(u.permille, end);
    // Back to where it last was outside the wide band, on to where it is last
    // outside the narrow one before it stays in it.
    let from = all[..settle].iter().rposition(|u| off(u) > wide);
    let from = from.map_or(0, |k| k + 1);
    let ends = [(end - 2.0 * end_u).max(0.0), end + 2.0 * end_u];
    let most_off = |blur: f64| apart(blur, ends[0]).max(apart(blur, ends[1]));
    let until = |within: &dyn Fn(&Update) -> bool| {
        let to = all[settle..].iter().position(within);
        to.map_or(all.len() - 1, |k| settle + k)
    };
    // What is at the end is in the band, however unsure the end is.
    let unsure = narrow.max(most_off(end));
    let to = until(&|u| off(u) <= narrow).max(until(&|u| most_off(u.permille) <= unsure));
    (all[to].shown_s - all[from].shown_s) / 2.0
}

/// Standard uncertainty of settle − onset, seconds.
pub fn latency_u(
    trace: &Trace,
    all: &[Update],
    settle: usize,
    approach_s: f64,
    seen: &Observed,
    rules: &Rules,
) -> f64 {
    let at = all[settle].shown_s;
    let step = settle
        .checked_sub(1)
        .map_or(trace.period_s, |k| at - all[k].shown_s);
    // A hole in the frames right before settle makes it that much less sure.
    let hole = if step > 1.5 * trace.period_s {
        step
    } else {
        0.0
    };
    Budget {
        frame_s: trace.frame_s.max(hole),
        update_s: if trace.every_frame {
            0.0
        } else {
            trace.period_s
        },
        onset_u_s: seen.stimulus.onset_u_s,
        fit_s: approach_s,
        span_s: at - seen.stimulus.onset_s,
        rate_u: rules.rate_u,
    }
    .combined_s()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Closed form after GUM F.2.2.1, checked against a Monte Carlo of two
    /// million draws when the table was made: 240 fps film of a 60 Hz screen
    /// gives u = 4.959325 ms for one event.
    #[test]
    fn one_event_through_a_screen_and_a_film() {
        for (frame, refresh, want_ms) in [
            (1.0 / 240.0, 1.0 / 60.0, 4.959325),
            (1.0 / 120.0, 1.0 / 60.0, 5.379144),
            (1.0 / 480.0, 1.0 / 60.0, 4.848694),
            (1.0 / 1000.0, 1.0 / 50.0, 5.780715),
            (1.0 / 240.0, 0.0, 1.202813),
        ] {
            let b = Budget {
                frame_s: frame,
                update_s: refresh,
                onset_u_s: 0.0,
                fit_s: 0.0,
                span_s: 0.3,
                rate_u: 0.0,
            };
            assert!((b.combined_s() * 1e3 - want_ms).abs() < 1e-6);
        }
    }
}
