//! A pair in plain words, claiming no more than its numbers do.

use super::super::normal::level_words;
use super::group::SetupSample;
use super::pair::{Draft, MIN_JUDGED};
use super::{FocusDifference, Higher, Interval, Pair, Sooner};

pub(super) fn sentence(draft: &Draft, samples: &[SetupSample], confidence: f64) -> String {
    let pair = &draft.pair;
    if draft.too_few {
        return too_few(pair);
    }
    let mut text = time_to_focus(pair, confidence);
    text.push(' ');
    text.push_str(&hit_rate(pair, confidence));
    if let Some(more) = among_hits(pair, confidence) {
        text.push(' ');
        text.push_str(&more);
    }
    if let Some(caveat) = by_clip_caveat(pair) {
        text.push(' ');
        text.push_str(&caveat);
    }
    if let Some(caveat) = missing_side(draft, samples) {
        text.push(' ');
        text.push_str(&caveat);
    }
    text
}

fn place(pair: &Pair) -> String {
    match pair.side.as_str() {
        "all" => String::new(),
        side => format!(" on the {side} side"),
    }
}

fn too_few(pair: &Pair) -> String {
    format!(
        "Too few trials to compare {} with {}{}: a verdict needs at least {MIN_JUDGED} judged \
         trials of each{}; there are {} and {}.",
        pair.a,
        pair.b,
        place(pair),
        if pair.side == "all" {
            " on every side"
        } else {
            ""
        },
        pair.judged[0],
        pair.judged[1]
    )
}

fn time_to_focus(pair: &Pair, confidence: f64) -> String {
    let focus = &pair.time_to_focus;
    let Some(d) = focus.restricted_mean_difference_ms else {
        return format!(
            "No difference in time to focus between {} and {} is shown{}.",
            pair.a,
            pair.b,
            place(pair)
        );
    };
    let limit = focus.restricted_to_ms.unwrap_or(0.0);
    let (low, high) = (
        focus.restricted_mean_difference_low_ms,
        focus.restricted_mean_difference_high_ms,
    );
    let miss = format!("a miss counts as {limit:.0} ms");
    let p = focus
        .holm_p
        .map_or(String::new(), |p| format!(", p {}", p_words(p)));
    let signed_mean = format!(
        "{} − {} {} ms in the mean{}{p}; {miss}",
        pair.a,
        pair.b,
        signed(d),
        span(low, high, confidence)
    );
    match pair.verdict {
        Sooner::ASooner | Sooner::BSooner => {
            let (first, second) = if pair.verdict == Sooner::ASooner {
                (&pair.a, &pair.b)
            } else {
                (&pair.b, &pair.a)
            };
            let lead = format!("{first} reaches focus sooner than {second}{}", place(pair));
            if interval(focus).is_some_and(|i| !i.holds_zero()) {
                let size = size(d, low, high, confidence);
                format!(
                    "{lead}: by {} ms in the mean ({}{p}; {miss}).",
                    size.0, size.1
                )
            } else {
                format!(
                    "{lead} ({signed_mean}). By how much on average is not settled: that \
                     interval reaches past 0."
                )
            }
        }
        _ => format!(
            "No difference in time to focus between {} and {} is shown{} ({signed_mean}); that \
             does not show that they are the same.",
            pair.a,
            pair.b,
            place(pair)
        ),
    }
}

/// A difference that is not 0 without its sign, and its interval.
fn size(d: f64, low: Option<f64>, high: Option<f64>, confidence: f64) -> (String, String) {
    let ends = match (low, high) {
        (Some(low), Some(high)) => {
            let (near, far) = (low.abs().min(high.abs()), low.abs().max(high.abs()));
            format!(
                "{} % interval {near:.0} to {far:.0}",
                level_words(confidence)
            )
        }
        _ => String::new(),
    };
    (format!("{:.0}", d.abs()), ends)
}

fn interval(focus: &FocusDifference) -> Option<Interval> {
    Some(Interval {
        low: focus.restricted_mean_difference_low_ms?,
        high: focus.restricted_mean_difference_high_ms?,
    })
}

fn hit_rate(pair: &Pair, confidence: f64) -> String {
    let rate = &pair.hit_rate_difference;
    let Some(d) = rate.value else {
        return String::new();
    };
    let (low, high) = (rate.low.map(|v| v * 100.0), rate.high.map(|v| v * 100.0));
    let p = rate
        .holm_p
        .map_or(String::new(), |p| format!(", p {}", p_words(p)));
    let apart = low.zip(high).is_some_and(|(low, high)| low * high > 0.0);
    let seen = if apart && pair.hit_rate_verdict != Higher::NoDifferenceShown {
        let size = size(d * 100.0, low, high, confidence);
        format!("by {} points; {}{p}", size.0, size.1)
    } else {
        let band = span(low, high, confidence);
        format!(
            "{} − {} {} points{band}{p}",
            pair.a,
            pair.b,
            signed(d * 100.0)
        )
    };
    match pair.hit_rate_verdict {
        Higher::AHigher => format!("{} hits more often than {} ({seen}).", pair.a, pair.b),
        Higher::BHigher => format!("{} hits more often than {} ({seen}).", pair.b, pair.a),
        _ => format!("No difference in hit rate is shown ({seen})."),
    }
}

/// The rank test over hits often sees a shift that the log-rank test, which
/// also weighs the misses, does not show.
fn among_hits(pair: &Pair, confidence: f64) -> Option<String> {
    let shift = &pair.hit_latency_shift_ms;
    let open = pair.verdict == Sooner::NoDifferenceShown;
    let value = shift.value?;
    let p = shift.holm_p.filter(|&p| open && p < 1.0 - confidence)?;
    let band = span(shift.low, shift.high, confidence);
    Some(format!(
        "Among hits alone latencies do differ ({} − {} {} ms{band}, p {}).",
        pair.a,
        pair.b,
        signed(value),
        p_words(p)
    ))
}

/// Where clips taken as wholes no longer show what single trials show.
fn by_clip_caveat(pair: &Pair) -> Option<String> {
    let by_clip = pair.by_clip.as_ref()?;
    let open = |decided: bool, interval: Option<Interval>| {
        decided && interval.is_none_or(Interval::holds_zero)
    };
    let sooner = matches!(pair.verdict, Sooner::ASooner | Sooner::BSooner);
    let higher = matches!(pair.hit_rate_verdict, Higher::AHigher | Higher::BHigher);
    let what = match (
        open(sooner, by_clip.restricted_mean_difference_ms),
        open(higher, by_clip.hit_rate_difference),
    ) {
        (true, true) => "neither difference is",
        (true, false) => "the difference in time to focus is not",
        (false, true) => "the difference in hit rate is not",
        (false, false) => return None,
    };
    Some(format!(
        "Resampled by clip, {what} shown: the clips differ among themselves too much to rely on it."
    ))
}

fn missing_side(draft: &Draft, samples: &[SetupSample]) -> Option<String> {
    let (a, b) = (&samples[draft.who.0], &samples[draft.who.1]);
    let judged = |s: &SetupSample| s.judged.iter().filter_map(|o| o.side).collect::<Vec<_>>();
    let (x, y) = (judged(a), judged(b));
    let uneven = x.iter().any(|side| !y.contains(side)) || y.iter().any(|side| !x.contains(side));
    (draft.pair.side == "all" && uneven)
        .then(|| "Only the side on which both have judged trials is compared.".to_owned())
}

fn span(low: Option<f64>, high: Option<f64>, confidence: f64) -> String {
    match (low, high) {
        (Some(low), Some(high)) => {
            let (low, high) = (signed(low), signed(high));
            format!(", {} % interval {low} to {high}", level_words(confidence))
        }
        _ => String::new(),
    }
}

/// `+12`, `−84`, never a negative nought.
fn signed(x: f64) -> String {
    let x = if x.abs() < 0.5 { 0.0 } else { x };
    format!("{x:+.0}").replace('-', "−")
}

/// `= 0.012` or `< 0.001`.
pub(in crate::stats) fn p_words(p: f64) -> String {
    if p < 0.001 {
        "< 0.001".to_owned()
    } else {
        format!("= {p:.3}")
    }
}
